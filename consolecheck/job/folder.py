"""The folder of one swap: plain files that an engineer can read without the tool.

    job.json            what the job is: unit, ticket, technician, dialect, line, when, by which version
    acceptance.toml     the site's limits by which it is judged
    dialect/            the device family's manifest and templates, where it is not a shipped one
    before.txt          the session before the swap, from its first command to its last prompt
    before-line.txt     everything that the line brought, as received
    before-line.cast    the same with times (asciicast v2)
    samples/0001.txt    the sessions while the unit is out and while it settles, numbered through the whole job
    after.txt, after-line.txt, after-line.cast
    journal.jsonl       what was done when: one JSON object a line, only ever appended to
    findings.json       the last verdict, with its findings and digests
    seal.json           what every file was when the job was done (`seal.py`), and seal.json.sig

Every write is durable: a temporary file beside it, flushed to the disk, then renamed, and the folder flushed;
recordings grow as bytes arrive, and the journal line by line. What was captured is never overwritten: it is
moved aside as `earlier-N-...`. One process at a time works on a folder: it holds `.lock`.
"""

import errno
import json
import os
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final, Literal, NamedTuple

import pydantic_core
from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, ValidationError

from consolecheck.records.text import BREAK_MARK

Side = Literal["before", "after"]
Phase = Literal["out", "settling"]

DIALECT: Final = "dialect"
_MARK = f"\r\n{BREAK_MARK}".encode("ascii")
_JOB, _JOURNAL, _SAMPLES, _ACCEPTANCE = "job.json", "journal.jsonl", "samples", "acceptance.toml"
_MAP: Final = "reading-map-{}.toml"
_TORN: Final = "journal-torn.txt"
_LOCK: Final = ".lock"
SEAL, SIGNATURE = "seal.json", "seal.json.sig"
_PIECE: Final = 65536
"""Bytes that are read at a time."""
_BINARY: Final = getattr(os, "O_BINARY", 0)  # else Windows writes newlines of its own
_FULL: Final = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_READ_ONLY: Final = {errno.EROFS, errno.EACCES, errno.EPERM}
_NOTHING_TO_FLUSH: Final = {errno.EINVAL, getattr(errno, "ENOTSUP", errno.EINVAL)}


class FolderFault(Exception):
    """The folder cannot be used: a sentence that says what happened and what to do next."""


class Job(BaseModel):
    """What a job is, as kept in `job.json`. None: not told."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_version: Literal[1] = 1
    unit: str
    dialect: str
    dialect_digest: str | None = None
    """SHA-256 over the files of a dialect that is not a shipped one; the job keeps those files."""
    line: str
    speed: int | None = None
    framing: str | None = None
    """Data bits, parity and stop bits of the line, such as `8N1`."""
    user: str | None = None
    """The login name at the console. A password is never kept."""
    started: str
    version: str
    ticket: str | None = None
    technician: str | None = None
    chassis: str | None = None
    """The serial that the chassis must have."""
    reseat: str | None = None
    """Why the same part is put back on purpose."""


class Entry(NamedTuple):
    """One line of the journal."""

    what: str
    at: str
    facts: dict[str, Any]


class KeptSample(NamedTuple):
    """A capture between the two sides, as kept."""

    number: int
    """Counted through the whole job; never used twice."""
    run: int
    seconds: float
    at: str
    phase: Phase
    name: str
    """Within the folder: `samples/0001.txt`."""
    text: bytes


class _Noted(BaseModel):
    """The facts of a journal line about a sample."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    number: int = Field(ge=1)
    run: int
    seconds: FiniteFloat
    phase: Phase


def break_mark(why: str) -> bytes:
    """A line of our own in a kept text, where it is not what the device would say on a good line.

    No template reads it, so the text is not fully read and no verdict but `inconclusive` follows from
    it, today or when it is replayed from a ticket: a refusal on the screen does not outlive the session.
    """
    return _MARK + f"{why} --\r\n".encode("ascii", "replace")


class Folder:
    """A job's folder on the disk. Everything here may raise FolderFault."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def create(self, job: Job, dialect: Mapping[str, str] | None = None) -> None:
        """Makes the folder for a new job, or begins one anew whose capture before the swap broke off.

        `dialect` are the files of one that is not shipped. Raises FolderFault where a job with such a capture
        is there already.
        """
        if os.path.exists(self.path / _JOB):
            if not self._has_baseline():
                self.keep(job, dialect)
                return
            raise FolderFault(
                f"{self.path} holds a job already; name a new folder, or go on with `consolecheck verify {self.path}`"
            )
        self._make()
        try:
            # A dialect without a job is what a crash left between the two.
            if any(not _passing(name) and name != DIALECT for name in os.listdir(self.path)):
                raise FolderFault(f"{self.path} is not empty and holds no job; name a new folder")
            if os.name == "posix":
                self.path.chmod(0o700)  # a capture may hold what is nobody else's business
        except OSError as reason:
            raise self._not_made(reason) from None
        self.keep(job, dialect)

    def _make(self) -> None:
        missing = [path for path in (self.path, *self.path.parents) if not os.path.exists(path)]
        try:
            self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
            for path in reversed(missing):
                _flush_folder(path.parent)
        except OSError as reason:
            raise self._not_made(reason) from None

    def _not_made(self, reason: OSError) -> FolderFault:
        return FolderFault(f"{self.path} cannot be made ({_why(reason)}); name a folder that you may write to")

    def _has_baseline(self) -> bool:
        before = self._bytes("before.txt")
        return before is not None and _MARK not in before

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Keeps every other consolecheck from working on the folder; makes it first where it is not there.

        The operating system holds the lock, so it ends with this process, however that ends. Raises
        FolderFault at once where another process holds it, or where the folder is read-only.
        """
        from filelock import FileLock, Timeout

        self._make()
        lock = FileLock(self.path / _LOCK, timeout=0, mode=0o600)
        try:
            lock.acquire()
        except Timeout:
            raise FolderFault(
                f"another consolecheck is at work on {self.path}, and nothing was changed; wait until it is done "
                "or end it, then start the same command again"
            ) from None
        except OSError as reason:
            raise self._refused(f"{self.path} cannot be worked in", reason) from None
        except NotImplementedError:
            raise FolderFault(
                f"{self.path} is on a disk that knows no locks, and nothing was changed; copy it to a disk of this machine"
            ) from None
        try:
            yield
        finally:
            lock.release()

    def content(self, name: str) -> bytes:
        """The bytes of a file that is there. Raises OSError."""
        handle = _itself(os.path.join(self.path, name), os.O_RDONLY | _BINARY)
        try:
            pieces = []
            while piece := os.read(handle, _PIECE):
                pieces.append(piece)
            return b"".join(pieces)
        finally:
            os.close(handle)

    def job(self) -> Job:
        """The job of this folder. Raises FolderFault."""
        try:
            return Job.model_validate_json(self.content(_JOB).decode("utf-8"))
        except FileNotFoundError:
            raise FolderFault(f"{self.path} holds no job; begin with `consolecheck baseline {self.path}`") from None
        except (OSError, UnicodeDecodeError, ValidationError) as reason:
            raise FolderFault(
                f"{self.path / _JOB} cannot be read ({type(reason).__name__}); the captures beside it are untouched"
            ) from None

    def keep(self, job: Job, dialect: Mapping[str, str] | None = None) -> None:
        """Writes the job's facts durably, and before them the files of a dialect that is not shipped."""
        if dialect is not None:
            if os.path.exists(self.path / _JOB):
                self.set_aside(DIALECT)
            try:
                (self.path / DIALECT).mkdir(mode=0o700, exist_ok=True)
                _flush_folder(self.path)
            except OSError as reason:
                raise self._refused(f"{self.path / DIALECT} cannot be made", reason) from None
            for name, text in dialect.items():
                self.write(f"{DIALECT}/{name}", text.encode())
        self.write(_JOB, json.dumps(job.model_dump(mode="json"), indent=1).encode() + b"\n")

    def write(self, name: str, data: bytes) -> Path:
        """Writes a file so that after a crash it is there whole, or as it was before."""
        target = self.path / name
        temporary = target.with_name(f".{target.name}.new")
        try:
            with _opened(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC) as handle:
                _put(handle, data)
            os.replace(temporary, target)
            _flush_folder(target.parent)
        except OSError as reason:
            with suppress(OSError):
                temporary.unlink()
            raise self._refused(f"{target} cannot be written", reason) from None
        return target

    def _refused(self, what: str, reason: OSError) -> FolderFault:
        if not os.path.isdir(self.path):
            return FolderFault(
                f"{what}: the folder is not there any more ({_why(reason)}); bring it or its disk back with what it "
                "held, then start the same command again"
            )
        if reason.errno in _FULL:
            act = "free space on its disk"
        elif reason.errno in _READ_ONLY:
            act = "it is read-only for you, so make it writable or copy it to where you may write"
        else:
            act = "see to its disk, or copy the folder to another"
        return FolderFault(
            f"{what} ({_why(reason)}); what was captured before is kept in {self.path}: {act}, "
            "then start the same command again"
        )

    def _bytes(self, name: str) -> bytes | None:
        """A file of the folder, or None where there is none."""
        try:
            return self.content(name)
        except FileNotFoundError:
            if not os.path.isdir(self.path):
                raise FolderFault(
                    f"{self.path} is not there, and nothing was changed; bring the folder or its disk back, "
                    f"or begin with `consolecheck baseline {self.path}`"
                ) from None
            return None
        except OSError as reason:
            raise FolderFault(
                f"{self.path / name} cannot be read ({_why(reason)}); nothing was changed: see that you may read it, "
                "then start the same command again"
            ) from None

    def text(self, side: Side) -> bytes:
        """The session of one side. Raises FolderFault where it was not captured."""
        text = self._bytes(f"{side}.txt")
        if text is None:
            step = "baseline" if side == "before" else "verify"
            raise FolderFault(
                f"{self.path} has no capture {side} the swap; run `consolecheck {step} {self.path}` with its options again"
            )
        return text

    def make_room(self, side: Side) -> Path:
        """A free name for a recording of one side; what an earlier capture left is moved aside, never lost.

        Samples belong to the baseline that they follow, and go with it.
        """
        # The findings go with the captures they judge, and first: an old verdict beside a new capture would lie.
        names = ["findings.json", f"{side}.txt", f"{side}-line.txt", f"{side}-line.cast"]
        if side == "before":
            names.append(_SAMPLES)
        self.set_aside(*names)
        return self.path / f"{side}-line.cast"

    def set_aside(self, *names: str) -> None:
        """Moves those of the files that are there aside, all as `earlier-N-...` with the next free number."""
        there: list[str] = []
        try:
            inside = set(os.listdir(self.path))
            there = [name for name in names if name in inside]
            number = self._free_number(*names)
            for name in there:
                os.replace(self.path / name, self.path / f"earlier-{number}-{name}")
            if there:
                _flush_folder(self.path)
        except OSError as reason:
            raise self._refused(f"{', '.join(there) or self.path} cannot be moved aside", reason) from None

    def _free_number(self, *names: str) -> int:
        number = 1
        while any(os.path.lexists(self.path / f"earlier-{number}-{name}") for name in names):
            number += 1
        return number

    def note(self, what: str, at: str, **facts: Any) -> None:
        """Appends a line to the journal, durably. `facts` are JSON values; NaN is none (ValueError).

        A torn last line, which a crash in the middle of an append leaves, is first kept aside in a file of
        its own, and the journal says so.
        """
        line = _line(what, at, facts)
        kept = self._bytes(_JOURNAL) or b""
        end = kept.rfind(b"\n") + 1
        tail = kept[end:]
        if tail and _entry(tail) is None:
            aside = f"earlier-{self._free_number(_TORN)}-{_TORN}"
            self.write(aside, tail)
            line = _line("torn line kept aside", at, {"name": aside}) + line
        elif tail:
            line, end = b"\n" + line, len(kept)
        try:
            with _opened(self.path / _JOURNAL, os.O_WRONLY | os.O_CREAT | os.O_APPEND) as handle:
                if end < len(kept):
                    os.ftruncate(handle, end)
                if not kept:
                    _flush_folder(self.path)  # before the first line, so that a journal with lines is always named
                try:
                    _put(handle, line)
                except OSError:
                    with suppress(OSError):
                        os.ftruncate(handle, end)
                    raise
        except OSError as reason:
            raise self._refused(f"{self.path / _JOURNAL} cannot be written", reason) from None

    def journal(self) -> list[Entry]:
        """What was done so far. A torn last line is passed over; any other bad line is a FolderFault."""
        *lines, last = (self._bytes(_JOURNAL) or b"").split(b"\n")
        entries = []
        for number, line in enumerate(lines, 1):
            entry = _entry(line)
            if entry is None:
                raise FolderFault(
                    f"{self.path / _JOURNAL} line {number} cannot be read; the captures beside it are untouched: "
                    "bring back an untouched copy of that file"
                )
            entries.append(entry)
        if (entry := _entry(last)) is not None:  # only its newline is missing: no part of an object is an object
            entries.append(entry)
        return entries

    def keep_sample(self, number: int, run: int, seconds: float, at: str, phase: Phase, text: bytes) -> None:
        """Writes a sample durably, and only then notes it. `seconds` count from the beginning of its run."""
        name = _sample_name(number)
        facts = {"number": number, "run": run, "seconds": seconds, "phase": phase}
        _Noted.model_validate(facts)
        if not text:
            raise FolderFault(f"sample {number} is empty and was not kept; capture it again")
        if os.path.lexists(self.path / name):
            raise FolderFault(
                f"{self.path / name} is there already and is not overwritten; capture it as the next number"
            )
        try:
            (self.path / _SAMPLES).mkdir(mode=0o700, exist_ok=True)
            _flush_folder(self.path)
        except OSError as reason:
            raise self._refused(f"{self.path / name} cannot be written", reason) from None
        self.write(name, text)
        self.note("sample", at, **facts)

    def _noted(self) -> list[tuple[str, _Noted]]:
        """When, and the facts, of every sample in the journal."""
        noted: list[tuple[str, _Noted]] = []
        for entry in self.journal():
            if entry.what != "sample":
                continue
            try:
                noted.append((entry.at, _Noted.model_validate(entry.facts)))
            except ValidationError:
                raise FolderFault(
                    f"{self.path / _JOURNAL} tells of a sample at {entry.at} what cannot be understood; the captures "
                    "beside it are untouched: bring back an untouched copy of that file"
                ) from None
        return noted

    def samples(self) -> list[KeptSample]:
        """The samples that the journal tells of, in its order, without those moved aside with their baseline."""
        samples = []
        for at, noted in self._noted():
            name = _sample_name(noted.number)
            text = self._bytes(name)
            if not text:
                if text is None and any(self.path.glob(f"earlier-*-{name}")):
                    continue
                raise FolderFault(
                    f"{self.path / name} is {'missing' if text is None else 'empty'} although the journal tells of it; "
                    "the other captures are untouched: bring back an untouched copy of that file"
                )
            samples.append(KeptSample(noted.number, noted.run, noted.seconds, at, noted.phase, name, text))
        return samples

    def next_sample_number(self) -> int:
        """The number after all that were ever used, be it only for a file that a crash kept from being noted."""
        used = [noted.number for _, noted in self._noted()]
        for pattern in (f"{_SAMPLES}/*.txt", f"earlier-*-{_SAMPLES}/*.txt"):
            used += [int(path.stem) for path in self.path.glob(pattern) if path.stem.isdecimal()]
        return max(used, default=0) + 1

    def keep_acceptance(self, text: str) -> None:
        """Writes the site's limits; a copy of other ones that were there is kept aside."""
        data, old = text.encode("utf-8"), self._bytes(_ACCEPTANCE)
        if old not in (None, data):  # a copy: at no moment may a job be without the limits that it had
            self.write(f"earlier-{self._free_number(_ACCEPTANCE)}-{_ACCEPTANCE}", old or b"")
        self.write(_ACCEPTANCE, data)

    def keep_findings(self, document: str) -> None:
        """Writes what the job was judged by (JSON)."""
        self.write("findings.json", document.encode("utf-8") + b"\n")

    def keep_map(self, text: str, digest: str) -> None:
        """Writes a reading map that a person confirmed, under a name that its digest (hex) gives."""
        self.write(_MAP.format(digest[:16]), text.encode("utf-8"))

    def map_text(self, digest: str) -> str:
        """The reading map of that digest. Raises FolderFault where the job does not hold it."""
        name = _MAP.format(digest[:16])
        data = self._bytes(name)
        try:
            if data is not None:
                return data.decode("utf-8")
        except UnicodeDecodeError:
            pass
        raise FolderFault(
            f"{self.path / name}, the reading map that was confirmed, is not there or is no text; nothing was judged: "
            "bring back an untouched copy"
        )

    def acceptance_text(self) -> str | None:
        """The site's limits, or None where the job has none of its own."""
        data = self._bytes(_ACCEPTANCE)
        try:
            return None if data is None else data.decode("utf-8")
        except UnicodeDecodeError:
            raise FolderFault(
                f"{self.path / _ACCEPTANCE} is not UTF-8 text; the captures beside it are untouched: "
                "bring back an untouched copy of that file"
            ) from None

    def findings(self) -> bytes | None:
        """The last verdict as it was kept, or None where the job was not judged."""
        return self._bytes("findings.json")

    def files(self) -> list[str]:
        """Every file of the job by its name within the folder, with `/` between parts, sorted.

        Not the lock, not what a crash left half written, and not the seal. A link to a folder is named and
        not followed.
        """
        found: list[str] = []
        try:
            _listed(str(self.path), "", found)
        except OSError as reason:
            raise FolderFault(
                f"{self.path} cannot be looked through ({_why(reason)}); nothing was changed: see that it is there and "
                "that you may read it"
            ) from None
        return sorted(found)


class Still(Folder):
    """A folder at which nobody works: each file is read once, so what is judged is what its seal was checked by."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self._contents: dict[str, bytes] = {}
        self._job: Job | None = None
        self._journal: list[Entry] | None = None

    def content(self, name: str) -> bytes:
        found = self._contents.get(name)
        if found is None:
            found = self._contents[name] = super().content(name)
        return found

    def job(self) -> Job:
        self._job = self._job or super().job()
        return self._job

    def journal(self) -> list[Entry]:
        if self._journal is None:
            self._journal = super().journal()
        return self._journal


def _listed(path: str, inside: str, found: list[str]) -> None:
    with os.scandir(path) as entries:
        for entry in entries:
            name = inside + entry.name
            if entry.is_dir() and not entry.is_symlink():
                _listed(entry.path, name + "/", found)
            elif not _passing(entry.name, not inside) and (inside or name not in (SEAL, SIGNATURE)):
                found.append(name)


def _sample_name(number: int) -> str:
    return f"{_SAMPLES}/{number:04d}.txt"


def _passing(name: str, top: bool = True) -> bool:
    """Whether a file is of this moment only: the lock, or a write that did not come to its end."""
    return (top and name == _LOCK) or (name.startswith(".") and name.endswith(".new"))


def _line(what: str, at: str, facts: dict[str, Any]) -> bytes:
    return json.dumps({"at": at, "what": what, **facts}, allow_nan=False).encode("ascii") + b"\n"


def _entry(line: bytes) -> Entry | None:
    """A journal line, or None where it is not whole."""
    try:
        said = pydantic_core.from_json(line)
    except ValueError:  # what it refuses and the library's own reader does not, such as half of a surrogate pair
        try:
            said = json.loads(line.decode("utf-8"))
        except (ValueError, RecursionError):
            return None
    if not isinstance(said, dict) or not isinstance(said.get("what"), str) or not isinstance(said.get("at"), str):
        return None
    return Entry(said.pop("what"), said.pop("at"), said)


def _itself(path: str, flags: int) -> int:
    """Opens a file of a folder that may come from anybody: no link to elsewhere, and no waiting at a pipe."""
    handle = os.open(path, flags | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise OSError(errno.EINVAL, "it is no plain file")
    return handle


@contextmanager
def _opened(path: Path, flags: int) -> Iterator[int]:
    handle = os.open(path, flags | _BINARY, 0o600)  # nobody else's business, also where the folder is moved
    try:
        yield handle
    finally:
        os.close(handle)


def _put(handle: int, data: bytes) -> None:
    left = memoryview(data)
    while left:
        left = left[os.write(handle, left) :]
    os.fsync(handle)


def _flush_folder(path: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as reason:
        if reason.errno not in _NOTHING_TO_FLUSH:  # some network disks have no such notion
            raise
    finally:
        os.close(handle)


def _why(reason: OSError) -> str:
    return reason.strerror or str(reason)
