"""The seal of a job folder: what every file was when the job was done.

`seal.json` is canonical JSON (RFC 8785) with the SHA-256 of every file by its name. It tells that a folder is as
it was sealed. Who may write to the folder can also seal it anew, so keep the seal's own SHA-256 in the ticket,
or sign it: `seal.json.sig` is an SSH signature (SSHSIG, namespace `file`) that the system's ssh-keygen makes and
checks, and that anybody can check without this tool.
"""

import hashlib
import json
import os
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any, Final, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from consolecheck.job.folder import SEAL, SIGNATURE, Folder, FolderFault

NAMESPACE: Final = "file"
"""What an SSH signature of a file is made for, by the manual of ssh-keygen."""
LONGEST_WAIT: Final = 120.0
"""Seconds for ssh-keygen, in which a person may have to type a passphrase or touch a key."""
_LARGEST: Final = 16 * 1024 * 1024
_AT_ONCE: Final = 256 * 1024
"""Bytes up to which a file is read at once, and in pieces beyond."""
_NAMED: Final = 4


class SealBroken(FolderFault):
    """The folder is not as it was sealed. The message names a few files, the fields all of them."""

    def __init__(
        self,
        message: str,
        changed: tuple[str, ...] = (),
        missing: tuple[str, ...] = (),
        added: tuple[str, ...] = (),
    ) -> None:
        self.changed, self.missing, self.added = changed, missing, added
        super().__init__(message)


class Seal(NamedTuple):
    """What examining a folder gave: there is no seal, or it holds."""

    state: Literal["unsealed", "whole"]
    digest: str | None = None
    """SHA-256 of `seal.json` in hex, to be compared with the ticket's."""
    sealed_at: str | None = None
    version: str | None = None
    signature: Literal["none", "unchecked", "good"] = "none"
    signed_by: str | None = None
    """Whose signature it is by the list of signers; None where it was not checked against one."""


class _Manifest(BaseModel):
    """`seal.json`."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    schema_version: Literal[1] = Field(alias="schema")
    sealed_at: str
    version: str
    files: dict[str, Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]]


def canonical(value: Any) -> bytes:
    """JSON in the one form that RFC 8785 gives it. Raises ValueError for NaN and for what is not Unicode text."""
    import rfc8785

    return rfc8785.dumps(value)


def seal(folder: Folder, at: str, version: str) -> str:
    """Writes `seal.json` over every file of the folder, durably; gives its SHA-256 in hex.

    An earlier seal is moved aside. Raises FolderFault where a file cannot be read, is a link or is no plain file.
    """
    unseal(folder)
    files = {}
    for name, digest in _digests(folder, folder.files()).items():
        if digest is None:
            raise FolderFault(
                f"{folder.path} was not sealed: {name!r} is a link or no plain file; put the file itself in its place, "
                "then seal again"
            )
        files[name] = digest
    try:
        data = canonical({"schema": 1, "sealed_at": at, "version": version, "files": files})
    except ValueError:
        raise FolderFault(
            f"{folder.path} was not sealed: a file's name is not Unicode text; rename it, then seal again"
        ) from None
    folder.write(SEAL, data)
    return hashlib.sha256(data).hexdigest()


def unseal(folder: Folder) -> None:
    """Moves the seal and its signature aside, where there are any: the work on the job goes on."""
    folder.set_aside(SEAL, SIGNATURE)


def sign(folder: Folder, key: Path) -> None:
    """Signs the seal with an SSH key, or with its public half where an agent holds the other.

    ssh-keygen asks for a passphrase at the terminal. Raises FolderFault; SealBroken where there is nothing whole
    to sign.
    """
    if _plain(folder, SIGNATURE) is not None:
        raise FolderFault(
            f"{folder.path} is signed already, and nothing was changed; check that signature, or seal the job anew first"
        )
    if examine(folder).state == "unsealed":
        raise FolderFault(f"{folder.path} is not sealed, so there is nothing to sign; seal it first")
    data = _plain(folder, SEAL) or b""
    try:
        with tempfile.TemporaryDirectory() as aside:  # it writes in place: a crash must leave no half signature
            copy = Path(aside) / SEAL
            copy.write_bytes(data)
            done = _ssh_keygen("sign", "-n", NAMESPACE, "-f", key, copy)
            signature = (Path(aside) / SIGNATURE).read_bytes() if done.returncode == 0 else b""
    except OSError as reason:
        raise FolderFault(
            f"{folder.path} is sealed but was not signed ({reason.strerror or reason}: {tempfile.gettempdir()}); "
            "free space there, then sign again"
        ) from None
    if not signature:
        alone = sys.stdin is None or not sys.stdin.isatty()
        hint = "; a passphrase needs a terminal, or an ssh-agent that holds the key" if alone else ""
        raise FolderFault(
            f"{folder.path} is sealed but was not signed ({_told(done)}); name a private key of yours{hint}"
        )
    folder.write(SIGNATURE, signature)


def examine(folder: Folder, signers: Path | None = None, identity: str | None = None) -> Seal:
    """Whether the folder is as it was sealed, and with `signers` (an allowed_signers file) by whom.

    `identity` is who must have signed; without it, whoever the file lists for the key. Raises SealBroken where the
    seal or its signature does not hold, or where it is not signed although signers were given; FolderFault where
    that cannot be found out. Without `signers` a signature is not looked at.
    """
    names = folder.files()
    raw, signature = _plain(folder, SEAL), _plain(folder, SIGNATURE)
    if raw is None:
        if signature is not None:
            raise SealBroken(
                f"{folder.path / SEAL} is missing although its signature is there; bring back an untouched copy, "
                "or seal the job anew",
                missing=(SEAL,),
            )
        return Seal("unsealed")
    manifest = _manifest(folder, raw)
    _compare(folder, manifest, _digests(folder, names))
    digest = hashlib.sha256(raw).hexdigest()
    signed_by = None if signers is None else _signer(folder, raw, signature, signers, identity)
    state: Literal["none", "unchecked", "good"] = "none" if signature is None else "good" if signed_by else "unchecked"
    return Seal("whole", digest, manifest.sealed_at, manifest.version, state, signed_by)


def _manifest(folder: Folder, raw: bytes) -> _Manifest:
    try:
        said = json.loads(raw.decode("utf-8"))
        manifest = _Manifest.model_validate(said)
        if _plainly(said) != raw and canonical(said) != raw:  # also where a name stands twice
            raise ValueError
        for name in manifest.files:
            parts = name.split("/")
            if "" in parts or "." in parts or ".." in parts:
                raise ValueError
    except (ValueError, RecursionError):  # ValidationError is a ValueError
        raise SealBroken(
            f"{folder.path / SEAL} is no seal as this tool writes it (canonical JSON, names within the folder); nothing "
            "was judged: bring back an untouched copy, or seal the job anew",
            changed=(SEAL,),
        ) from None
    return manifest


def _plainly(manifest: dict[str, Any]) -> bytes | None:
    """The canonical form of a manifest by the library's own JSON, which is it for names in ASCII; None for others."""
    if type(manifest["schema"]) is not int:  # 1.0 is 1 to Python and to no canonical form
        return None
    try:
        return json.dumps(manifest, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode("ascii")
    except UnicodeEncodeError:
        return None


def _compare(folder: Folder, manifest: _Manifest, now: Mapping[str, str | None]) -> None:
    then = manifest.files
    changed = tuple(name for name in then if name in now and now[name] != then[name])
    missing = tuple(name for name in then if name not in now)
    added = tuple(name for name in now if name not in then)
    told = [
        f"{_some(names)} {word}"
        for names, word in ((changed, "changed"), (missing, "missing"), (added, "added"))
        if names
    ]
    if told:
        raise SealBroken(
            f"{folder.path} is not as it was sealed at {manifest.sealed_at} ({'; '.join(told)}), and nothing was judged: "
            "bring back an untouched copy, or seal the job anew if that was meant",
            changed,
            missing,
            added,
        )


def _some(names: tuple[str, ...]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _digests(folder: Folder, names: Iterable[str]) -> dict[str, str | None]:
    """SHA-256 of files in hex; None for a link, for what leads out of the folder and for what is no file."""
    base = str(folder.path)
    whole = Path(os.path.realpath(base))
    within: dict[str, bool] = {}
    found: dict[str, str | None] = {}
    for name in names:
        path = os.path.join(base, name)
        inside = name.rpartition("/")[0]
        try:
            state = os.lstat(path)
            if inside not in within:
                within[inside] = Path(os.path.realpath(os.path.join(base, inside))).is_relative_to(whole)
            plain = stat.S_ISREG(state.st_mode) and within[inside]
            found[name] = _sha256(folder, name, path, state.st_size) if plain else None
        except OSError as reason:
            raise FolderFault(
                f"{path} cannot be read ({reason.strerror or reason}), so the seal cannot be made or checked; "
                "see that you may read it, then start the same command again"
            ) from None
    return found


def _sha256(folder: Folder, name: str, path: str, size: int) -> str:
    if size <= _AT_ONCE:
        return hashlib.sha256(folder.content(name)).hexdigest()
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _plain(folder: Folder, name: str) -> bytes | None:
    """The seal or its signature, or None where there is none."""
    path = folder.path / name
    try:
        state = path.lstat()
        if stat.S_ISREG(state.st_mode) and state.st_size <= _LARGEST:
            return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as reason:
        raise FolderFault(
            f"{path} cannot be read ({reason.strerror or reason}); see that you may read it, then start the same "
            "command again"
        ) from None
    raise SealBroken(
        f"{path} is a link, no plain file, or of more than {_LARGEST // 1048576} MB; bring back an untouched copy, "
        "or seal the job anew",
        changed=(name,),
    )


def _signer(folder: Folder, raw: bytes, signature: bytes | None, signers: Path, identity: str | None) -> str:
    if signature is None:
        raise SealBroken(
            f"{folder.path} is sealed but not signed, so {signers} can tell nothing; ask for the signature"
        )
    if not signers.is_file():
        raise FolderFault(f"{signers} is not there, so the signature was not checked; name your list of signers")
    made = folder.path / SIGNATURE
    if identity is not None:
        candidates = [identity]
    else:
        found = _ssh_keygen("find-principals", "-s", made, "-f", signers)
        if found.returncode != 0:
            raise SealBroken(
                f"the signature of {folder.path / SEAL} is of nobody whom {signers} lists ({_told(found)}); "
                "nothing was judged: ask who sealed the job"
            )
        # A list of signers may hold patterns, which name nobody.
        candidates = [
            who for who in found.stdout.decode("utf-8", "replace").splitlines() if who and not set(who) & set("*?!")
        ]
        if not candidates:
            raise FolderFault(f"{signers} lists the key under patterns only; say whose signature it must be")
    for who in candidates:
        done = _ssh_keygen("verify", "-f", signers, "-I", who, "-n", NAMESPACE, "-s", made, data=raw)
        if done.returncode == 0:
            return who
    raise SealBroken(
        f"the signature of {folder.path / SEAL} does not hold for {_some(tuple(candidates))} ({_told(done)}); "
        "nothing was judged: bring back an untouched copy, or say whose signature it must be",
        changed=(SIGNATURE,),
    )


def _ssh_keygen(act: str, *arguments: str | Path, data: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    program = shutil.which("ssh-keygen")
    if program is None:
        raise FolderFault(
            "ssh-keygen is not on this machine, so signatures can be neither made nor checked; nothing was changed: "
            "install OpenSSH, or go on without a signature"
        )
    try:
        return subprocess.run(
            [program, "-Y", act, *map(str, arguments)],
            input=data,
            capture_output=True,
            timeout=LONGEST_WAIT,
            check=False,
            env={**os.environ, "SSH_ASKPASS_REQUIRE": "never"},  # no window that nobody sees
        )
    except subprocess.TimeoutExpired:
        raise FolderFault(
            f"ssh-keygen gave no answer in {LONGEST_WAIT:g} s, and nothing was changed; see whether the key waits for a "
            "touch or a passphrase, then start the same command again"
        ) from None
    except OSError as reason:
        raise FolderFault(
            f"ssh-keygen cannot be run ({reason.strerror or reason}), and nothing was changed; see to OpenSSH, or go on "
            "without a signature"
        ) from None


def _told(done: subprocess.CompletedProcess[bytes]) -> str:
    """What ssh-keygen says first, behind its banners."""
    lines = (done.stderr or done.stdout).decode("utf-8", "replace").splitlines()
    said = [line.strip() for line in lines if line.strip() and not line.startswith("@")]
    return f"ssh-keygen: {said[0]}" if said else f"ssh-keygen ended with {done.returncode}"
