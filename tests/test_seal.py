"""The seal of a job folder: whatever was changed, taken away or added since is found and named."""

import hashlib
import json
import os
import shutil
import string
import struct
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import table_rows

from consolecheck.job import seal as seal_module
from consolecheck.job.folder import Folder, FolderFault, Job
from consolecheck.job.seal import Seal, SealBroken, canonical, examine, seal, sign, unseal

AT = "2026-11-18T06:52:10Z"
JOB = Job(unit="psu-2", dialect="wexcombe", line="COM3", started="2026-11-18T06:12:40Z", version="0.1.0")


def job(path: Path) -> Folder:
    """A small folder with a file of every sort."""
    folder = Folder(path)
    folder.create(JOB)
    folder.write("before.txt", b"tern-04 ~> tell self\r\n")
    folder.keep_sample(1, 1, 0.0, AT, "out", b"one")
    folder.keep_sample(2, 1, 9.0, AT, "out", b"two")
    folder.write("after.txt", b"tern-04 ~> \xff\r\n")
    folder.write("empty.txt", b"")
    folder.write("after.txt", b"again")
    folder.keep_acceptance("# limits\n")
    folder.keep_acceptance("# others\n")
    return folder


def broken(folder: Folder) -> SealBroken:
    with pytest.raises(SealBroken) as told:
        examine(folder)
    assert "\n" not in str(told.value)
    return told.value


# RFC 8785


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        # Shortened from the six files of test data of the scheme's author; RFC 8785, 3.2.2 (forms) and 3.2.3 (sorting).
        ('[56, {"d": true, "10": null, "1": [ ]}]', '[56,{"1":[],"10":null,"d":true}]'),
        (
            '{"numbers": [1E30, 4.50, 333333333.33333329, 2e-3, 0.000000000000000000000000001]}',
            '{"numbers":[1e+30,4.5,333333333.3333333,0.002,1e-27]}',
        ),
        (
            r"""{"escaping": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}""",
            r"""{"escaping":"€$\u000f\nA'B\"\\\\\"/","literals":[null,true,false]}""",
        ),
        (
            '{"1": {"f": {"f": 1, "F": 5}, "\\n": 56.0}, "10": {}, "": 0}',
            '{"":0,"1":{"\\n":56,"f":{"F":5,"f":1}},"10":{}}',
        ),
        # By code points and not by what a language thinks of accents.
        ('{"sin": 4, "pêche": 3, "péché": 2, "peach": 1}', '{"peach":1,"péché":2,"pêche":3,"sin":4}'),
        # By UTF-16 units: a surrogate pair (U+1F602) before U+FB33, other than by code points.
        (
            r'{"\ufb33": 6, "\ud83d\ude02": 5, "\u20ac": 4, "\u00f6": 3, "\u0080": 2, "1": 1}',
            '{"1":1,"\x80":2,"ö":3,"€":4,"\U0001f602":5,"\ufb33":6}',
        ),
        # No Unicode normalisation: a letter and its dot stay two.
        (
            r'{"\u1e0d\u0307": "\u1e0d\u0307", "e\u0301": "\u00e9"}',
            '{"e\u0301":"\u00e9","\u1e0d\u0307":"\u1e0d\u0307"}',
        ),
    ],
)
def test_the_seal_is_written_in_the_form_of_rfc_8785(given: str, expected: str) -> None:
    assert expected.encode() == canonical(json.loads(given))


@pytest.mark.parametrize("row", table_rows("rfc8785_numbers.csv"), ids=lambda row: row["bits"])
def test_numbers_are_written_as_appendix_b_tells(row: dict[str, str]) -> None:
    (value,) = struct.unpack(">d", bytes.fromhex(row["bits"]))
    assert row["json"].encode() == canonical(value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), "\ud800", {"\udfff": 1}, {1: 2}, 2**53])
def test_what_has_no_canonical_form_is_refused(value: object) -> None:
    """RFC 8785, 3.2.2.3 for NaN and infinity, 3.2.2.2 for lone surrogates; integers beyond a double, I-JSON 2.2."""
    with pytest.raises(ValueError, match=r"JCS|UTF-8|surrogates|keys|safe integer"):
        canonical(value)


def test_the_form_of_a_seal(tmp_path: Path) -> None:
    """Byte for byte, with digests of FIPS 180-4: of the empty message, and of `abc`."""
    folder = Folder(tmp_path)
    folder.write("b.txt", b"")
    folder.write("a.txt", b"abc")
    digest = seal(folder, AT, "0.1.0")
    expected = (
        b'{"files":{"a.txt":"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",'
        b'"b.txt":"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},'
        b'"schema":1,"sealed_at":"2026-11-18T06:52:10Z","version":"0.1.0"}'
    )
    assert expected == (tmp_path / "seal.json").read_bytes()
    assert hashlib.sha256(expected).hexdigest() == digest
    assert Seal("whole", digest, AT, "0.1.0", "none", None) == examine(folder)


# What a seal finds


def test_a_folder_without_a_seal_is_unsealed(tmp_path: Path) -> None:
    assert Seal("unsealed") == examine(job(tmp_path / "swap"))
    with pytest.raises(FolderFault, match="cannot be looked through"):
        examine(Folder(tmp_path / "nowhere"))


def test_every_byte_of_every_file_counts_and_names_its_file(tmp_path: Path) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    tried = 0
    for name in folder.files():
        path = folder.path / name
        whole = path.read_bytes()
        others = [whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] for at in range(len(whole))]
        for other in (*others, whole + b"\n", *([whole[:-1]] if whole else [])):
            path.write_bytes(other)
            told = broken(folder)
            assert ((name,), (), ()) == (told.changed, told.missing, told.added)
            assert f"{name} changed" in str(told)
            tried += 1
        path.write_bytes(whole)
    assert "whole" == examine(folder).state
    assert tried > 500


@pytest.mark.parametrize(
    "name", ["job.json", "journal.jsonl", "samples/0002.txt", "empty.txt", "earlier-1-acceptance.toml"]
)
def test_what_is_missing_added_or_renamed_is_named(tmp_path: Path, name: str) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    path = folder.path / name
    data = path.read_bytes()
    path.unlink()
    assert ((), (name,), ()) == ((told := broken(folder)).changed, told.missing, told.added)
    assert f"{name} missing" in str(told)
    (folder.path / "samples" / "other").write_bytes(data)
    assert ((), (name,), ("samples/other",)) == ((told := broken(folder)).changed, told.missing, told.added)
    assert f"({name} missing; samples/other added)" in str(told)
    path.write_bytes(data)
    assert ((), (), ("samples/other",)) == ((told := broken(folder)).changed, told.missing, told.added)
    (folder.path / "samples" / "other").unlink()
    assert "whole" == examine(folder).state


def test_of_many_files_a_few_are_named_in_the_sentence(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    names = [f"{n}.txt" for n in range(1, 8)]
    for name in names:
        folder.write(name, b"x")
    seal(folder, AT, "0.1.0")
    for name in names:
        folder.write(name, b"y")
    told = broken(folder)
    assert tuple(names) == told.changed
    assert "(1.txt, 2.txt, 3.txt, 4.txt and 3 more changed), and nothing was judged: bring back" in str(told)


def test_what_passes_does_not_break_a_seal(tmp_path: Path) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    with folder.locked():
        (folder.path / ".before.txt.new").write_bytes(b"half")
        assert "whole" == examine(folder).state


@pytest.mark.parametrize(
    "damage",
    [
        lambda raw: raw + b"\n",
        lambda raw: b" " + raw,
        lambda raw: raw.replace(b":1,", b":1.0,", 1),
        lambda raw: raw.replace(b'"schema":1', b'"schema":2'),
        lambda raw: raw.replace(b'{"files":{', b'{"files":{"../job.json":"' + b"0" * 64 + b'",', 1),
        lambda raw: raw.replace(b'{"files":{', b'{"files":{"/etc/hosts":"' + b"0" * 64 + b'",', 1),
        lambda raw: raw.replace(b'"version"', b'"vversion"'),
        lambda raw: raw.replace(b'"sealed_at":', b'"sealed_at":"x","sealed_at":'),
        lambda raw: json.dumps(json.loads(raw)).encode(),
        lambda raw: raw[:-1],
        lambda raw: b"",
        lambda raw: b"[]",
        lambda raw: b"\xff" + raw,
        lambda raw: b"[" * 100_000,
        lambda raw: raw.decode().encode("utf-16"),
    ],
)
def test_a_seal_that_is_not_as_it_was_written_does_not_hold(tmp_path: Path, damage: Callable[[bytes], bytes]) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    path = folder.path / "seal.json"
    raw = path.read_bytes()
    path.write_bytes(damage(raw))
    assert raw != path.read_bytes()
    told = broken(folder)
    assert (("seal.json",), True) == (told.changed, "is no seal as this tool writes it" in str(told))


def test_no_byte_of_the_seal_changes_without_a_trace(tmp_path: Path) -> None:
    """A seal that nobody signed can be made anew; its digest, kept elsewhere, tells."""
    folder = job(tmp_path / "swap")
    digest = seal(folder, AT, "0.1.0")
    path = folder.path / "seal.json"
    raw = path.read_bytes()
    held = 0
    for at in range(len(raw)):
        path.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        try:
            seen = examine(folder)
        except SealBroken:
            continue
        held += 1
        assert digest != seen.digest
    assert held <= len(AT) + len("0.1.0")  # only the time and the version can be others


@pytest.mark.skipif(os.name != "posix", reason="links need rights on other systems")
def test_links_and_what_is_no_file_are_neither_sealed_nor_followed(tmp_path: Path) -> None:
    folder = job(tmp_path / "swap")
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "same.txt").write_bytes(b"again")
    makers: list[Callable[[Path], None]] = [
        lambda path: path.symlink_to(tmp_path / "outside"),
        lambda path: path.symlink_to(tmp_path / "outside" / "same.txt"),
        lambda path: path.symlink_to(folder.path / "after.txt"),
        lambda path: path.symlink_to(tmp_path / "nothing"),
        os.mkfifo,
    ]
    for make in makers:
        odd = folder.path / "odd"
        make(odd)
        with pytest.raises(FolderFault, match="was not sealed: 'odd' is a link or no plain file"):
            seal(folder, AT, "0.1.0")
        odd.unlink()
        seal(folder, AT, "0.1.0")
        make(odd)
        assert ("odd",) == broken(folder).added
        odd.unlink()
        unseal(folder)
    seal(folder, AT, "0.1.0")
    (folder.path / "after.txt").unlink()
    (folder.path / "after.txt").symlink_to(tmp_path / "outside" / "same.txt")  # the same bytes
    assert ("after.txt",) == broken(folder).changed
    (folder.path / "after.txt").unlink()
    folder.write("after.txt", b"again")
    assert "whole" == examine(folder).state
    (folder.path / "seal.json").rename(tmp_path / "outside" / "seal.json")
    (folder.path / "seal.json").symlink_to(tmp_path / "outside" / "seal.json")
    assert "is a link" in str(broken(folder))


def test_a_name_that_leads_out_of_the_folder_is_not_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As through a junction, which other systems do not tell as a link."""
    folder = job(tmp_path / "swap")
    (tmp_path / "outside.txt").write_bytes(b"mine")
    seal(folder, AT, "0.1.0")
    monkeypatch.setattr(folder, "files", lambda: ["../outside.txt"])
    assert ("../outside.txt",) == broken(folder).added
    with pytest.raises(FolderFault, match="was not sealed"):
        seal(folder, AT, "0.1.0")


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not take such names")
def test_a_name_that_is_no_text_is_refused_with_its_reason(tmp_path: Path) -> None:
    folder = job(tmp_path / "swap")
    odd = os.fsencode(folder.path) + b"/\xff.txt"
    with open(odd, "wb"):
        pass
    with pytest.raises(FolderFault, match="a file's name is not Unicode text; rename it"):
        seal(folder, AT, "0.1.0")
    os.unlink(odd)
    seal(folder, AT, "0.1.0")
    with open(odd, "wb"):
        pass
    assert ("\udcff.txt",) == broken(folder).added


def test_a_file_that_cannot_be_read_is_no_broken_seal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")

    def refused(name: str) -> bytes:
        raise PermissionError(13, "Permission denied")

    whole = folder.content
    monkeypatch.setattr(folder, "content", lambda name: refused(name) if name == "after.txt" else whole(name))
    with pytest.raises(FolderFault, match=r"cannot be read \(Permission denied\)") as told:
        examine(folder)
    assert not isinstance(told.value, SealBroken)


def test_a_large_recording_is_read_in_pieces(tmp_path: Path) -> None:
    import tracemalloc

    folder = Folder(tmp_path)
    with open(tmp_path / "before-line.cast", "wb") as file:
        file.truncate(64 * 1024 * 1024)
    seal(folder, AT, "0.1.0")
    tracemalloc.start()
    assert "whole" == examine(folder).state
    assert tracemalloc.get_traced_memory()[1] < 4 * 1024 * 1024
    tracemalloc.stop()


def test_work_that_goes_on_moves_the_seal_aside(tmp_path: Path) -> None:
    folder = job(tmp_path / "swap")
    unseal(folder)  # where there is none
    seal(folder, AT, "0.1.0")
    first = (folder.path / "seal.json").read_bytes()
    (folder.path / "seal.json.sig").write_bytes(b"sig")
    unseal(folder)
    assert Seal("unsealed") == examine(folder)
    assert first == (folder.path / "earlier-1-seal.json").read_bytes()
    assert b"sig" == (folder.path / "earlier-1-seal.json.sig").read_bytes()
    folder.note("taken up again", AT)
    seal(folder, AT, "0.1.0")
    seal(folder, "2026-11-18T07:00:00Z", "0.1.0")  # also where nobody unsealed it
    assert AT == json.loads((folder.path / "earlier-2-seal.json").read_bytes())["sealed_at"]
    (folder.path / "earlier-1-seal.json").unlink()
    assert ("earlier-1-seal.json",) == broken(folder).missing


def test_a_signature_without_its_seal_is_no_unsealed_folder(tmp_path: Path) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    (folder.path / "seal.json.sig").write_bytes(b"sig")
    (folder.path / "seal.json").unlink()
    assert ("seal.json",) == broken(folder).missing
    seal(folder, AT, "0.1.0")
    assert "none" == examine(folder).signature


_NAME = st.text(string.ascii_lowercase + string.digits + "-é潮😂", min_size=1, max_size=6)
_PATHS = st.lists(_NAME, min_size=1, max_size=3).map(
    lambda parts: "/".join(["d" + part for part in parts[:-1]] + ["f" + parts[-1]])
)
_TREES = st.dictionaries(_PATHS, st.binary(max_size=40), max_size=6)


@given(_TREES, st.data())
def test_any_tree_is_whole_and_any_one_change_of_it_is_found(tree: dict[str, bytes], data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as made:
        root = Path(made)
        for name, content in tree.items():
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            (root / name).write_bytes(content)
        folder = Folder(root)
        digest = seal(folder, AT, "0.1.0")
        assert Seal("whole", digest, AT, "0.1.0", "none", None) == examine(folder)
        new = data.draw(_PATHS.filter(lambda name: name not in tree and not (root / name).exists()))
        acts = ["add", *(["change", "remove", "rename"] if tree else [])]
        act = data.draw(st.sampled_from(acts))
        if act != "add":
            name = data.draw(st.sampled_from(sorted(tree)))
        (root / new).parent.mkdir(parents=True, exist_ok=True)
        if act == "add":
            (root / new).write_bytes(data.draw(st.binary(max_size=4)))
            expected = (), (), (new,)
        elif act == "change":
            (root / name).write_bytes(data.draw(st.binary(max_size=40).filter(lambda other: other != tree[name])))
            expected = (name,), (), ()
        elif act == "remove":
            (root / name).unlink()
            expected = (), (name,), ()
        else:
            (root / name).rename(root / new)
            expected = (), (name,), (new,)
        told = broken(folder)
        assert expected == (told.changed, told.missing, told.added)


# Signatures (SSHSIG: OpenSSH, PROTOCOL.sshsig; outcomes as the manual of ssh-keygen tells and as OpenSSH 9.2 shows)

needs_keygen = pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="ssh-keygen is not on this machine")


class Keys(NamedTuple):
    path: Path
    keeper: Path
    stranger: Path
    closed: Path
    """A key with a passphrase."""
    signers: Path


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Keys:
    path = tmp_path_factory.mktemp("keys")
    for name, word in {"keeper": "", "stranger": "", "closed": "high-water-7"}.items():
        keygen = ["ssh-keygen", "-q", "-t", "ed25519", "-N", word, "-C", "", "-f", str(path / name)]
        subprocess.run(keygen, check=True, timeout=60)
    keeper = (path / "keeper.pub").read_text(encoding="ascii")
    signers = listed(path / "signers", f'keeper@tern namespaces="file" {keeper}')
    return Keys(path, path / "keeper", path / "stranger", path / "closed", signers)


def listed(path: Path, text: str) -> Path:
    path.write_text(text, encoding="ascii")
    return path


def keygen(act: str, *arguments: str | Path, data: bytes) -> int:
    """The system's own answer, without our code."""
    command = ["ssh-keygen", "-Y", act, *map(str, arguments)]
    return subprocess.run(command, input=data, capture_output=True, timeout=60, check=False).returncode


@pytest.fixture
def signed(tmp_path: Path, keys: Keys) -> Folder:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    sign(folder, keys.keeper)
    return folder


@needs_keygen
def test_a_signature_tells_who_sealed(signed: Folder, keys: Keys) -> None:
    digest = hashlib.sha256((signed.path / "seal.json").read_bytes()).hexdigest()
    assert Seal("whole", digest, AT, "0.1.0", "unchecked", None) == examine(signed)
    assert Seal("whole", digest, AT, "0.1.0", "good", "keeper@tern") == examine(signed, keys.signers)
    assert "keeper@tern" == examine(signed, keys.signers, "keeper@tern").signed_by
    lines = (signed.path / "seal.json.sig").read_text(encoding="ascii").splitlines()
    assert ("-----BEGIN SSH SIGNATURE-----", "-----END SSH SIGNATURE-----") == (lines[0], lines[-1])
    assert lines[1].startswith("U1NIU0lH")  # `SSHSIG` in base64
    assert max(map(len, lines)) <= 76
    assert [] == list(signed.path.rglob("*.new"))


@needs_keygen
def test_what_the_system_itself_says_of_our_signature(signed: Folder, keys: Keys) -> None:
    """The four outcomes, without our code in between: whoever has OpenSSH can check a seal."""
    raw, made = (signed.path / "seal.json").read_bytes(), signed.path / "seal.json.sig"
    who = ("-f", keys.signers, "-I", "keeper@tern")
    assert 0 == keygen("verify", *who, "-n", "file", "-s", made, data=raw)
    assert 255 == keygen("verify", *who, "-n", "file", "-s", made, data=raw[:-1] + b" ")
    assert 255 == keygen("verify", *who, "-n", "mail", "-s", made, data=raw)
    # The mathematics alone: it holds, and for a stranger's signature as well.
    assert 0 == keygen("check-novalidate", "-n", "file", "-s", made, data=raw)
    unseal(signed)
    seal(signed, AT, "0.1.0")
    sign(signed, keys.stranger)
    raw = (signed.path / "seal.json").read_bytes()
    assert 0 == keygen("check-novalidate", "-n", "file", "-s", made, data=raw)
    assert 255 == keygen("verify", *who, "-n", "file", "-s", made, data=raw)


@needs_keygen
def test_a_seal_made_anew_does_not_pass_under_the_old_signature(signed: Folder, keys: Keys) -> None:
    """The files are as sealed, the seal is canonical, and the signature is of the seal before."""
    made = (signed.path / "seal.json.sig").read_bytes()
    signed.write("after.txt", b"better")
    seal(signed, AT, "0.1.0")
    (signed.path / "seal.json.sig").write_bytes(made)
    assert "unchecked" == examine(signed).signature
    with pytest.raises(SealBroken, match=r"does not hold for keeper@tern .*incorrect signature"):
        examine(signed, keys.signers)


@needs_keygen
def test_a_changed_file_is_found_before_its_signature_is_asked_for(signed: Folder, keys: Keys) -> None:
    signed.write("after.txt", b"better")
    with pytest.raises(SealBroken, match=r"after\.txt changed"):
        examine(signed, keys.signers)


@needs_keygen
def test_a_signature_of_a_stranger_or_for_something_else_is_refused(signed: Folder, keys: Keys, tmp_path: Path) -> None:
    raw, made = signed.path / "seal.json", signed.path / "seal.json.sig"
    for key, namespace, told in [
        (keys.stranger, "file", r"is of nobody whom .* lists .*No principal matched"),
        (keys.keeper, "mail", r"does not hold for keeper@tern .*namespace"),
    ]:
        made.unlink()
        assert 0 == keygen("sign", "-n", namespace, "-f", key, raw, data=b"")
        with pytest.raises(SealBroken, match=told):
            examine(signed, keys.signers)
    with pytest.raises(SealBroken, match="does not hold for harbour@tern"):
        examine(signed, keys.signers, "harbour@tern")


@needs_keygen
@pytest.mark.parametrize(
    "text", [b"", b"junk\n", b"-----BEGIN SSH SIGNATURE-----\nU1NIU0lH\n-----END SSH SIGNATURE-----\n"]
)
def test_a_damaged_signature_is_no_missing_one(signed: Folder, keys: Keys, text: bytes) -> None:
    (signed.path / "seal.json.sig").write_bytes(text)
    assert "unchecked" == examine(signed).signature
    with pytest.raises(SealBroken, match="signature"):
        examine(signed, keys.signers)
    with pytest.raises(SealBroken, match="signature"):
        examine(signed, keys.signers, "keeper@tern")


@needs_keygen
def test_a_signature_that_was_taken_away_is_missed_where_a_signer_is_asked_for(signed: Folder, keys: Keys) -> None:
    (signed.path / "seal.json.sig").unlink()
    assert "none" == examine(signed).signature
    with pytest.raises(SealBroken, match="sealed but not signed"):
        examine(signed, keys.signers)


@needs_keygen
def test_lists_of_signers(signed: Folder, keys: Keys, tmp_path: Path) -> None:
    keeper = (keys.path / "keeper.pub").read_text(encoding="ascii")
    two = listed(tmp_path / "two", f"first,second {keeper}")
    assert examine(signed, two).signed_by in ("first", "second")
    assert "second" == examine(signed, two, "second").signed_by
    # ssh-keygen finds the first line of a key only; if that one is for other uses, the signer must be told.
    other = listed(tmp_path / "other", f'mailer namespaces="mail" {keeper}keeper@tern {keeper}')
    with pytest.raises(SealBroken, match=r"does not hold for mailer .* say whose signature it must be"):
        examine(signed, other)
    assert "keeper@tern" == examine(signed, other, "keeper@tern").signed_by
    pattern = listed(tmp_path / "pattern", f"*@tern {keeper}")
    with pytest.raises(FolderFault, match="under patterns only; say whose") as told:
        examine(signed, pattern)
    assert not isinstance(told.value, SealBroken)
    assert "anna@tern" == examine(signed, pattern, "anna@tern").signed_by
    with pytest.raises(SealBroken):
        examine(signed, listed(tmp_path / "none", "# nobody\n"))
    with pytest.raises(SealBroken):
        examine(signed, listed(tmp_path / "late", f'keeper valid-before="20200101" {keeper}'))
    with pytest.raises(FolderFault, match="so the signature was not checked") as told:
        examine(signed, tmp_path / "nowhere")
    assert not isinstance(told.value, SealBroken)


@needs_keygen
def test_signing_writes_over_nothing_and_signs_only_what_is_whole(signed: Folder, keys: Keys, tmp_path: Path) -> None:
    made = (signed.path / "seal.json.sig").read_bytes()
    with pytest.raises(FolderFault, match="is signed already"):
        sign(signed, keys.stranger)
    assert made == (signed.path / "seal.json.sig").read_bytes()
    unseal(signed)
    with pytest.raises(FolderFault, match="is not sealed"):
        sign(signed, keys.keeper)
    seal(signed, AT, "0.1.0")
    signed.write("after.txt", b"better")
    with pytest.raises(SealBroken, match=r"after\.txt changed"):
        sign(signed, keys.keeper)
    assert not (signed.path / "seal.json.sig").exists()


@needs_keygen
def test_a_key_that_cannot_sign_is_told(tmp_path: Path, keys: Keys) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    for key in (tmp_path / "no-key", keys.signers):
        with pytest.raises(FolderFault, match=r"is sealed but was not signed \(ssh-keygen: .*; name a private key"):
            sign(folder, key)
    assert not (folder.path / "seal.json.sig").exists()
    assert "whole" == examine(folder).state


@needs_keygen
@pytest.mark.skipif(os.name != "posix", reason="a child without a terminal needs POSIX sessions")
def test_a_key_with_a_passphrase_and_no_terminal_is_told_and_does_not_wait(tmp_path: Path, keys: Keys) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    program = (
        "import sys; from pathlib import Path\n"
        "from consolecheck.job.folder import Folder, FolderFault; from consolecheck.job.seal import sign\n"
        "try: sign(Folder(Path(sys.argv[1])), Path(sys.argv[2]))\n"
        "except FolderFault as fault: print(fault)"
    )
    environment = {name: value for name, value in os.environ.items() if name not in ("SSH_AUTH_SOCK", "DISPLAY")}
    done = subprocess.run(
        [sys.executable, "-c", program, folder.path, keys.closed],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        start_new_session=True,
        env=environment,
    )
    assert (0, "") == (done.returncode, done.stderr)
    assert "is sealed but was not signed (ssh-keygen: " in done.stdout
    assert "passphrase" in done.stdout.split(";")[0]
    assert "a passphrase needs a terminal, or an ssh-agent that holds the key" in done.stdout
    assert not (folder.path / "seal.json.sig").exists()


def test_without_ssh_keygen_the_seal_itself_still_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(FolderFault, match=r"ssh-keygen is not on this machine.*install OpenSSH"):
        sign(folder, tmp_path / "key")
    (folder.path / "seal.json.sig").write_bytes(b"sig")
    assert "unchecked" == examine(folder).signature
    with pytest.raises(FolderFault, match="ssh-keygen is not on this machine") as told:
        examine(folder, listed(tmp_path / "signers", "keeper"))
    assert not isinstance(told.value, SealBroken)


@pytest.mark.skipif(os.name != "posix", reason="stands in with a shell script")
def test_an_ssh_keygen_that_hangs_or_cannot_be_run_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = job(tmp_path / "swap")
    seal(folder, AT, "0.1.0")
    stand_in = tmp_path / "ssh-keygen"
    stand_in.write_text("#!/bin/sh\nexec sleep 30\n", encoding="ascii")
    stand_in.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setattr(seal_module, "LONGEST_WAIT", 0.3)
    with pytest.raises(FolderFault, match=r"gave no answer in 0\.3 s"):
        sign(folder, tmp_path / "key")
    stand_in.write_text("#!/nowhere/at/all\n", encoding="ascii")
    with pytest.raises(FolderFault, match="ssh-keygen cannot be run"):
        sign(folder, tmp_path / "key")
    assert "none" == examine(folder).signature


@given(
    files=st.dictionaries(st.text(st.characters(max_codepoint=0x2FF), min_size=1, max_size=12), st.just("0" * 64)),
    version=st.text(st.characters(max_codepoint=0xFF), max_size=8),
)
def test_the_short_way_to_the_canonical_form_is_the_form(files: dict[str, str], version: str) -> None:
    """For any names: the same bytes, or none."""
    manifest = {"schema": 1, "sealed_at": AT, "version": version, "files": files}
    assert seal_module._plainly(manifest) in (canonical(manifest), None)
    assert seal_module._plainly({**manifest, "schema": 1.0}) is None
