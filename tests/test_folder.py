"""The job folder: nothing that was captured is lost, and what is written is whole.

Run as a program, this file is the child that its tests kill, starve or lock out.
"""

import errno
import hashlib
import json
import os
import re
import signal
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.job import folder as folder_module
from consolecheck.job.folder import Entry, Folder, FolderFault, Job, KeptSample, break_mark
from consolecheck.job.seal import examine, seal, unseal

AT = "2026-11-18T06:12:40Z"
JOB = Job(unit="psu-2", dialect="wexcombe", line="socket://127.0.0.1:1", started=AT, version="0.1.0")
TEXT = b"tern-04 ~> tell self\r\n"
posix = pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals and limits")


def test_a_job_comes_back_as_it_was_kept(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "swap")
    folder.create(JOB)
    assert JOB == folder.job()
    if os.name == "posix":
        assert 0o700 == stat.S_IMODE((tmp_path / "swap").stat().st_mode)


def test_a_folder_of_the_first_release_is_still_read(tmp_path: Path) -> None:
    kept = {"unit": "psu-2", "dialect": "wexcombe", "line": "COM3", "speed": 9600, "started": AT, "version": "0.1.0"}
    (tmp_path / "job.json").write_text(json.dumps({"schema_version": 1, **kept}), encoding="utf-8")
    job = Folder(tmp_path).job()
    assert kept == {name: getattr(job, name) for name in kept}
    assert {None} == {job.framing, job.user, job.ticket, job.technician, job.chassis, job.reseat}


def test_all_facts_of_a_job_come_back(tmp_path: Path) -> None:
    told = {"ticket": "MW-412", "technician": "R. Aldous", "chassis": "WX4-00217", "framing": "7E1", "user": "keeper"}
    job = JOB.model_copy(update={**told, "reseat": "the latch was not closed"})
    Folder(tmp_path).keep(job)
    assert job == Folder(tmp_path).job()
    assert "password" not in Job.model_fields


def test_a_folder_in_use_is_refused(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "swap")
    folder.create(JOB)
    folder.write("before.txt", TEXT)
    with pytest.raises(FolderFault, match="holds a job already"):
        folder.create(JOB)
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(FolderFault, match="not empty"):
        Folder(tmp_path / "other").create(JOB)
    assert "mine" == (tmp_path / "other" / "notes.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("left", [None, b"tern-04 ~> tell po" + break_mark("the capture broke off")])
def test_a_job_whose_baseline_broke_off_is_begun_anew(tmp_path: Path, left: bytes | None) -> None:
    folder = Folder(tmp_path / "swap")
    folder.create(JOB)
    if left is not None:
        folder.write("before.txt", left)
    folder.create(JOB.model_copy(update={"unit": "psu-1"}))
    assert "psu-1" == folder.job().unit
    folder.make_room("before")
    assert left is None or left == (tmp_path / "swap" / "earlier-1-before.txt").read_bytes()


def test_no_job_and_no_capture_are_told_with_the_next_step(tmp_path: Path) -> None:
    with pytest.raises(FolderFault, match="begin with `consolecheck baseline"):
        Folder(tmp_path).job()
    with pytest.raises(FolderFault, match="run `consolecheck verify"):
        Folder(tmp_path).text("after")


@pytest.mark.parametrize("content", ["", "{", "[]", '{"unit": 3}', "\x00\xff"])
def test_a_damaged_job_file_is_told(tmp_path: Path, content: str) -> None:
    (tmp_path / "job.json").write_text(content, encoding="utf-8")
    with pytest.raises(FolderFault, match="captures beside it are untouched"):
        Folder(tmp_path).job()


def test_an_earlier_capture_is_moved_aside_and_never_lost(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    for turn in ("first", "second", "third"):
        cast = folder.make_room("after")
        assert not cast.exists()
        cast.write_text(turn, encoding="utf-8")
        folder.write("after.txt", turn.encode())
    kept = {p.name: p.read_text(encoding="utf-8") for p in tmp_path.iterdir()}
    assert {
        "after.txt": "third",
        "after-line.cast": "third",
        "earlier-1-after.txt": "first",
        "earlier-1-after-line.cast": "first",
        "earlier-2-after.txt": "second",
        "earlier-2-after-line.cast": "second",
    } == kept


# The journal


def test_the_journal_gives_what_was_noted_in_order(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    assert [] == folder.journal()
    folder.note("removed", AT, unit="psu-2", seconds=12.5)
    folder.note(
        "told",
        "2026-11-18T06:13:02Z",
        text="a line\n\x1b[2J \u2028 of the d\u00e9vice \ud800",
        nothing=None,
        few=[1, {"a": True}],
    )
    assert [
        Entry("removed", AT, {"unit": "psu-2", "seconds": 12.5}),
        Entry(
            "told",
            "2026-11-18T06:13:02Z",
            {"text": "a line\n\x1b[2J \u2028 of the d\u00e9vice \ud800", "nothing": None, "few": [1, {"a": True}]},
        ),
    ] == folder.journal()
    raw = (tmp_path / "journal.jsonl").read_bytes()
    assert (2, True, True) == (raw.count(b"\n"), raw.endswith(b"\n"), raw.isascii())


def test_what_is_no_json_number_is_never_noted(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="JSON"):
        Folder(tmp_path).note("sample", AT, value=float("nan"))
    assert [] == Folder(tmp_path).journal()


@pytest.mark.parametrize(
    "bad",
    [b"", b"{", b"[]", b"{}", b'{"what": 3, "at": "x"}', b'{"at": "x"}', b"\xff", b"\x00\x00", b"[" * 100_000],
)
def test_a_bad_line_that_is_not_a_torn_last_one_is_told_by_its_number(tmp_path: Path, bad: bytes) -> None:
    folder = Folder(tmp_path)
    folder.note("begun", AT)
    with open(tmp_path / "journal.jsonl", "ab") as file:
        file.write(bad + b"\n")
    with pytest.raises(
        FolderFault, match=r"journal\.jsonl line 2 cannot be read; the captures beside it are untouched"
    ):
        folder.journal()
    folder.note("ended", AT)
    with pytest.raises(FolderFault, match="line 2"):
        folder.journal()


_WORDS = st.text(max_size=8)
_FACTS = st.dictionaries(
    _WORDS.filter(lambda name: name not in ("what", "at", "self")),
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | _WORDS,
    max_size=3,
)


@given(st.lists(st.tuples(_WORDS, _WORDS, _FACTS), min_size=1, max_size=4), st.data())
def test_a_journal_that_a_crash_cut_anywhere_reads_and_goes_on(
    noted: list[tuple[str, str, dict]], data: st.DataObject
) -> None:
    """At whatever byte an append ended: whole lines stay, nothing is joined, and the torn bytes are kept aside."""
    with tempfile.TemporaryDirectory() as made:
        folder, path = Folder(Path(made)), Path(made) / "journal.jsonl"
        ends = []
        for what, at, facts in noted:
            folder.note(what, at, **facts)
            ends.append(path.stat().st_size - 1)  # without its newline a line is whole all the same
        cut = data.draw(st.integers(0, ends[-1] + 1))
        raw = path.read_bytes()[:cut]
        path.write_bytes(raw)
        whole = [Entry(*entry) for entry, end in zip(noted, ends, strict=True) if end <= cut]
        assert whole == folder.journal()
        folder.note("next", AT, n=1)
        torn = raw[raw.rfind(b"\n") + 1 :] if len(raw) not in ends else b""
        told = [Entry("torn line kept aside", AT, {"name": "earlier-1-journal-torn.txt"})] if torn else []
        assert [*whole, *told, Entry("next", AT, {"n": 1})] == folder.journal()
        aside = [path.read_bytes() for path in Path(made).glob("earlier-*-journal-torn.txt")]
        assert ([torn] if torn else []) == aside


def test_torn_bytes_of_two_crashes_are_both_kept(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    for torn in (b'{"at": "2026-', b"\x00" * 4096):  # the second as a disk leaves it that lost power
        with open(tmp_path / "journal.jsonl", "ab") as file:
            file.write(torn)
        folder.note("begun", AT)
    assert b'{"at": "2026-' == (tmp_path / "earlier-1-journal-torn.txt").read_bytes()
    assert b"\x00" * 4096 == (tmp_path / "earlier-2-journal-torn.txt").read_bytes()
    assert ["torn line kept aside", "begun"] * 2 == [entry.what for entry in folder.journal()]


# Samples


def test_samples_come_back_in_order(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    assert ([], 1) == (folder.samples(), folder.next_sample_number())
    folder.keep_sample(1, 1, 0.0, AT, "out", b"one")
    folder.note("inserted", AT)
    folder.keep_sample(2, 2, 30.5, "2026-11-18T06:14:00Z", "settling", b"two \xff")
    assert [
        KeptSample(1, 1, 0.0, AT, "out", "samples/0001.txt", b"one"),
        KeptSample(2, 2, 30.5, "2026-11-18T06:14:00Z", "settling", "samples/0002.txt", b"two \xff"),
    ] == folder.samples()
    assert 3 == folder.next_sample_number()
    assert b"two \xff" == (tmp_path / "samples" / "0002.txt").read_bytes()


@pytest.mark.parametrize(("damage", "word"), [(Path.unlink, "missing"), (lambda path: path.write_bytes(b""), "empty")])
def test_a_sample_that_the_journal_tells_of_must_be_there(
    tmp_path: Path, damage: Callable[[Path], object], word: str
) -> None:
    folder = Folder(tmp_path)
    for number in (1, 2, 3):
        folder.keep_sample(number, 1, number * 20.0, AT, "settling", b"text")
    damage(tmp_path / "samples" / "0002.txt")
    with pytest.raises(FolderFault, match=rf"samples.0002\.txt is {word} although the journal tells of it"):
        folder.samples()
    assert 4 == folder.next_sample_number()


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"number": 0, "run": 1, "seconds": 0.0, "phase": "out"},
        {"number": "../job", "run": 1, "seconds": 0.0, "phase": "out"},
        {"number": 1, "run": 1, "seconds": 0.0, "phase": "before"},
        {"number": 1, "run": 1, "seconds": "0", "phase": "out"},
    ],
)
def test_a_sample_of_which_the_journal_tells_nonsense_is_refused(tmp_path: Path, facts: dict[str, object]) -> None:
    Folder(tmp_path).note("sample", AT, **facts)
    with pytest.raises(FolderFault, match="cannot be understood"):
        Folder(tmp_path).samples()


def test_a_time_that_is_no_number_is_not_kept(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="finite"):
        Folder(tmp_path).keep_sample(1, 1, float("nan"), AT, "out", b"text")
    (tmp_path / "journal.jsonl").write_text(
        f'{{"at": "{AT}", "what": "sample", "number": 1, "run": 1, "seconds": 1e999, "phase": "out"}}\n',
        encoding="utf-8",
    )
    with pytest.raises(FolderFault, match="cannot be understood"):
        Folder(tmp_path).samples()


def test_a_sample_is_never_overwritten_and_never_empty(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    folder.keep_sample(1, 1, 0.0, AT, "out", b"one")
    with pytest.raises(FolderFault, match="is not overwritten"):
        folder.keep_sample(1, 1, 5.0, AT, "out", b"another")
    with pytest.raises(FolderFault, match="sample 2 is empty"):
        folder.keep_sample(2, 1, 5.0, AT, "out", b"")
    assert [b"one"] == [sample.text for sample in folder.samples()]


def test_a_sample_that_was_written_but_not_noted_keeps_its_number(tmp_path: Path) -> None:
    """As a crash between the two leaves it: it is no sample, its bytes stay, and the next one stands beside it."""
    folder = Folder(tmp_path)
    folder.keep_sample(1, 1, 0.0, AT, "out", b"one")
    (tmp_path / "samples" / "0002.txt").write_bytes(b"two")
    assert ([1], 3) == ([sample.number for sample in folder.samples()], folder.next_sample_number())
    folder.make_room("before")
    assert 3 == folder.next_sample_number()


def test_samples_go_aside_with_their_baseline_and_only_with_it(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    folder.write("before.txt", TEXT)
    folder.keep_sample(1, 1, 0.0, AT, "out", b"one")
    folder.write("after.txt", TEXT)
    folder.make_room("after")
    assert [1] == [sample.number for sample in folder.samples()]
    folder.make_room("before")
    assert [] == folder.samples()
    folder.write("before.txt", TEXT)
    folder.keep_sample(folder.next_sample_number(), 2, 0.0, AT, "out", b"two")
    assert [(2, b"two")] == [(sample.number, sample.text) for sample in folder.samples()]
    folder.make_room("before")
    assert [] == folder.samples()
    assert ["sample", "sample"] == [entry.what for entry in folder.journal()]
    assert b"one" == (tmp_path / "earlier-1-samples" / "0001.txt").read_bytes()
    assert b"two" == (tmp_path / "earlier-2-samples" / "0002.txt").read_bytes()


# Acceptance and the list of files


def test_acceptance_comes_back_and_other_limits_leave_a_copy(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    assert folder.acceptance_text() is None
    for text in ("# 25 °C\n", "# 25 °C\n", "# 27 °C\r\n"):
        folder.keep_acceptance(text)
        assert text == folder.acceptance_text()
    assert ["acceptance.toml", "earlier-1-acceptance.toml"] == folder.files()
    (tmp_path / "acceptance.toml").write_bytes(b"\xff")
    with pytest.raises(FolderFault, match="not UTF-8"):
        folder.acceptance_text()


def test_files_are_all_that_belongs_to_the_job(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    (tmp_path / "samples" / "deep").mkdir(parents=True)
    belongs = [
        "before-line.cast",
        "earlier-1-seal.json",
        "job.json",
        "samples/.lock",
        "samples/0001.txt",
        "samples/deep/x",
    ]
    passing = [".job.json.new", ".lock", "samples/.0002.txt.new", "seal.json", "seal.json.sig"]
    for name in (*belongs, *passing):
        (tmp_path / name).write_bytes(b"x")
    assert belongs == folder.files()


# Writes that fail


def fails(
    monkeypatch: pytest.MonkeyPatch, call: str, number: int, reason: int, half: bool = False
) -> Callable[[], None]:
    """Lets a call of the system fail from its `number`-th time on; the write before that takes half of its bytes."""
    real = getattr(os, call)
    seen = {"n": 0}

    def failing(*arguments: object) -> object:
        seen["n"] += 1
        if seen["n"] >= number:
            raise OSError(reason, os.strerror(reason))
        if half and seen["n"] == number - 1:
            handle, data = arguments
            return real(handle, data[: len(data) // 2])
        return real(*arguments)

    monkeypatch.setattr(folder_module.os, call, failing)
    return lambda: monkeypatch.setattr(folder_module.os, call, real)


ACTS: dict[str, Callable[[Folder], object]] = {
    "capture": lambda folder: folder.write("after.txt", b"after" * 400),
    "note": lambda folder: folder.note("removed", AT),
    "sample": lambda folder: folder.keep_sample(folder.next_sample_number(), 1, 9.0, AT, "out", b"sample"),
    "limits": lambda folder: folder.keep_acceptance("# other limits\n"),
    "room": lambda folder: folder.make_room("before"),
}
DONE: dict[str, Callable[[Folder], bool]] = {
    "capture": lambda folder: b"after" * 400 == folder.text("after"),
    "note": lambda folder: "removed" == folder.journal()[-1].what,
    "sample": lambda folder: b"sample" == folder.samples()[-1].text,
    "limits": lambda folder: "# other limits\n" == folder.acceptance_text(),
    "room": lambda folder: not {"before.txt", "samples/0001.txt"} & set(folder.files()),
}
CALLS = {
    "capture": {"write": 1, "fsync": 2, "replace": 1},
    "note": {"write": 1, "fsync": 1, "replace": 0},
    "sample": {"write": 2, "fsync": 4, "replace": 1},
    "limits": {"write": 2, "fsync": 4, "replace": 2},  # the copy of the old ones, and the new ones
    "room": {"write": 0, "fsync": 1, "replace": 2},
}
"""How often each act calls the system, so that each of its calls can fail."""


def begun(path: Path) -> Folder:
    folder = Folder(path)
    folder.create(JOB)
    folder.write("before.txt", TEXT)
    folder.note("begun", AT)
    folder.keep_sample(1, 1, 0.0, AT, "out", b"one")
    folder.keep_acceptance("# limits\n")
    return folder


def contents(folder: Folder) -> dict[str, bytes]:
    return {name: (folder.path / name).read_bytes() for name in folder.files()}


@pytest.mark.parametrize("reason", [errno.ENOSPC, errno.EROFS, errno.EIO])
@pytest.mark.parametrize(
    ("act", "call", "number", "half"),
    [
        (act, call, number + half, half)
        for act, calls in CALLS.items()
        for call, times in calls.items()
        for number in range(1, times + 1)
        for half in ((False, True) if call == "write" else (False,))
    ],
)
def test_a_write_that_fails_is_told_and_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, act: str, call: str, number: int, half: bool, reason: int
) -> None:
    folder = begun(tmp_path / "swap")
    before = contents(folder)
    mended = fails(monkeypatch, call, number, reason, half)
    with pytest.raises(FolderFault) as refused:
        ACTS[act](folder)
    mended()
    message = str(refused.value)
    assert os.strerror(reason) in message
    assert f"what was captured before is kept in {folder.path}" in message
    act_told = {errno.ENOSPC: "free space", errno.EROFS: "make it writable", errno.EIO: "copy the folder"}[reason]
    assert act_told in message
    assert "then start the same command again" in message
    assert "\n" not in message

    kept = contents(folder)
    for name, data in before.items():  # under its name or moved aside, byte for byte
        assert any(data == kept[n] for n in kept if re.fullmatch(rf"(earlier-\d+-)?{re.escape(name)}", n)), name
    assert ["begun", "sample"] == [entry.what for entry in folder.journal()]
    assert [] == list(folder.path.rglob("*.new"))
    ACTS[act](folder)
    assert DONE[act](folder)


def test_each_act_calls_the_system_as_often_as_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for act, calls in CALLS.items():
        for call, times in calls.items():
            folder = begun(tmp_path / f"{act}-{call}")
            mended = fails(monkeypatch, call, times + 1, errno.EIO)
            ACTS[act](folder)
            mended()
            assert DONE[act](folder)


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Folder(tmp_path)
    folder.write("before.txt", b"whole")
    fails(monkeypatch, "fsync", 1, errno.ENOSPC)
    with pytest.raises(FolderFault, match="No space left on device"):
        folder.write("before.txt", b"half")
    assert b"whole" == folder.text("before")


def test_a_note_on_a_full_disk_leaves_no_torn_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = begun(tmp_path / "swap")
    before = (folder.path / "journal.jsonl").read_bytes()
    fails(monkeypatch, "write", 2, errno.ENOSPC, half=True)
    with pytest.raises(FolderFault, match="free space"):
        folder.note("removed", AT)
    assert before == (folder.path / "journal.jsonl").read_bytes()


@pytest.mark.parametrize("act", ACTS)
def test_a_folder_that_vanished_is_told_and_not_made_anew(tmp_path: Path, act: str) -> None:
    folder = begun(tmp_path / "swap")
    folder.path.rename(tmp_path / "elsewhere")
    with pytest.raises(FolderFault, match=r"is not there.*bring (it|the folder) or its disk back"):
        ACTS[act](folder)
    assert ["elsewhere"] == os.listdir(tmp_path)
    for read in (folder.journal, folder.samples, folder.files, folder.acceptance_text):
        with pytest.raises(FolderFault, match=r"is not there|cannot be looked through"):
            read()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"x")
    for path in (tmp_path / "file", tmp_path / "file" / "swap"):
        with pytest.raises(FolderFault, match="name a folder that you may write to"):
            Folder(path).create(JOB)
        with pytest.raises(FolderFault), Folder(path).locked():
            pass


def child(*arguments: str | Path, **more: object) -> subprocess.Popen[str]:
    command = [sys.executable, __file__, *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more)


def told(*arguments: str | Path) -> str:
    process = child(*arguments)
    out, errors = process.communicate(timeout=60)
    assert (0, "") == (process.returncode, errors)
    return out


@posix
def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    """A child whose files may have 4096 bytes: the system itself cuts its writes and refuses more."""
    folder = Folder(tmp_path / "swap")
    lines = told("starved", folder.path).splitlines()
    assert 3 == len(lines)
    assert all("File too large" in line and "free space on its disk" in line for line in lines), lines
    assert TEXT == folder.text("before")
    assert [] == folder.samples()
    assert [] == [name for name in folder.files() if name.startswith("samples/")]
    assert [] == list(folder.path.rglob("*.new"))
    notes = [entry for entry in folder.journal() if entry.what == "note"]
    assert list(range(len(notes))) == [entry.facts["n"] for entry in notes]
    assert 4096 - 200 < (folder.path / "journal.jsonl").stat().st_size <= 4096
    folder.note("went on", AT)
    assert "went on" == folder.journal()[-1].what


@posix
def test_a_folder_that_is_really_read_only(tmp_path: Path) -> None:
    """The child gives up the rights of a superuser, whom no mode of a folder stops."""
    with tempfile.TemporaryDirectory() as made:
        os.chmod(made, 0o755)
        folder = begun(Path(made) / "swap")
        before = contents(folder)
        for root, _, names in os.walk(folder.path):
            for name in names:
                os.chmod(os.path.join(root, name), 0o444)
            os.chmod(root, 0o555)
        lines = told("read-only", folder.path).splitlines()
        assert before == contents(folder)
        assert ["lock", *ACTS] == [line.split(":", 1)[0] for line in lines]
        for line in lines:
            assert "Permission denied" in line, line
            assert "it is read-only for you, so make it writable" in line, line
        os.chmod(folder.path, 0o755)


# One process at a time


@contextmanager
def holding(path: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A child at work on a folder, and the number of a process that it has started itself."""
    process = child("hold", path, stdin=subprocess.PIPE)
    try:
        assert process.stdout is not None
        word, started = process.stdout.readline().split()
        assert "held" == word
        yield process, int(started)
    finally:
        process.kill()
        process.communicate(timeout=30)


def test_a_second_process_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "new" / "swap"  # which is not there yet
    with holding(path):
        began = time.monotonic()
        with pytest.raises(FolderFault) as refused, Folder(path).locked():
            pytest.fail("two at work")
        assert time.monotonic() - began < 2
        assert f"another consolecheck is at work on {path}" in str(refused.value)
        assert "wait until it is done" in str(refused.value)
    with Folder(path).locked():
        Folder(path).create(JOB)
    assert JOB == Folder(path).job()


def test_a_lock_is_given_back_and_can_be_taken_again(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "swap")
    for _ in range(3):
        with pytest.raises(KeyError), folder.locked():
            raise KeyError
    with folder.locked(), pytest.raises(FolderFault, match="another consolecheck"), Folder(folder.path).locked():
        pytest.fail("two at work")


@posix
def test_a_lock_ends_with_its_process_even_where_what_it_started_lives_on(tmp_path: Path) -> None:
    with holding(tmp_path / "swap") as (process, started):
        os.kill(process.pid, signal.SIGKILL)
        process.wait(timeout=30)
        os.kill(started, 0)  # it is alive
        with Folder(tmp_path / "swap").locked():
            Folder(tmp_path / "swap").create(JOB)


# Killed at every step

BEFORE, AFTER, AGAIN = (
    b"tern-04 ~> tell power\r\n" + f"{turn} {'x' * 3000}".encode() for turn in ("one", "two", "three")
)
LIMITS = "# the observatory's limits\n", "# other limits\n"


def work(path: Path, taken: Callable[[str, bytes], None]) -> None:
    """A job with all that may happen to a folder; `taken` is what a person is shown as kept."""
    folder = Folder(path)
    with folder.locked():
        folder.create(JOB)
        taken("job.json", b"")
        folder.note("begun", AT, unit="psu-2")
        taken("journal.jsonl", b"begun")
        folder.keep_acceptance(LIMITS[0])
        taken("acceptance.toml", LIMITS[0].encode())
        folder.make_room("before")
        folder.write("before.txt", BEFORE)
        taken("before.txt", BEFORE)
        for number in (1, 2):
            folder.keep_sample(number, 1, number * 15.0, AT, "out", b"sample %d" % number)
            taken(f"samples/{number:04d}.txt", b"sample %d" % number)
        folder.write("after.txt", AFTER)
        taken("after.txt", AFTER)
        folder.write("findings.json", b"{}\n")
        taken("findings.json", b"{}\n")
        seal(folder, AT, "0.1.0")
        taken("seal.json", (path / "seal.json").read_bytes())
        unseal(folder)
        folder.keep_acceptance(LIMITS[1])
        taken("acceptance.toml", LIMITS[1].encode())
        folder.make_room("after")
        folder.write("after.txt", AGAIN)
        taken("after.txt", AGAIN)
        folder.make_room("before")
        folder.write("before.txt", AGAIN)
        taken("before.txt", AGAIN)
        folder.keep_sample(3, 2, 15.0, AT, "settling", b"sample 3")
        taken("samples/0003.txt", b"sample 3")
        folder.note("ended", AT)
        taken("journal.jsonl", b"ended")


STEPS = ("open", "write", "fsync", "replace", "mkdir", "ftruncate")
"""Every call of the system by which a folder changes."""


def killed_at(step: int, half: bool) -> None:
    """Kills this process before its `step`-th change of the folder, or in the middle of it where it is a write."""
    count = {"n": 0}

    def wrapped(name: str, real: Callable[..., object]) -> Callable[..., object]:
        def call(*arguments: object, **named: object) -> object:
            count["n"] += 1
            if count["n"] == step:
                if half and name == "write":
                    handle, data = arguments
                    real(handle, data[: len(data) // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            if name == "fsync":  # what a kill leaves does not hang on it; what a lost disk leaves is another test
                return None
            return real(*arguments, **named)

        return call

    for name in STEPS:
        setattr(os, name, wrapped(name, getattr(os, name)))


def the_one_killed(root: Path) -> None:
    """For each step a child that is killed there, until one comes to its end. Each writes beside its folder what it was told."""
    for half in (False, True):
        for step in range(1, 1000):
            place = root / f"{step:03d}{'-half' if half else ''}"
            place.mkdir()
            if (pid := os.fork()) == 0:
                shown = open(place / "taken", "w", encoding="ascii")  # noqa: SIM115
                killed_at(step, half)

                def taken(name: str, data: bytes, shown=shown) -> None:  # type: ignore[no-untyped-def]
                    print(name, hashlib.sha256(data).hexdigest(), file=shown, flush=True)

                work(place / "swap", taken)
                os._exit(0)
            if os.waitpid(pid, 0)[1] == 0:
                break


def assert_kept(folder: Folder, name: str, digest: str) -> None:
    """What was shown as taken is there, under its name or moved aside, or stands in the journal."""
    if name == "job.json":
        assert JOB == folder.job()
    elif name == "journal.jsonl":
        assert digest in {hashlib.sha256(entry.what.encode()).hexdigest() for entry in folder.journal()}
    else:
        there = [*folder.files(), "seal.json"]
        same = [
            n for n in there if re.fullmatch(rf"(earlier-\d+-)?{re.escape(name)}", n) and (folder.path / n).exists()
        ]
        assert digest in {hashlib.sha256((folder.path / n).read_bytes()).hexdigest() for n in same}, name


@posix
def test_a_kill_at_any_step_loses_nothing_that_was_shown_as_taken(tmp_path: Path) -> None:
    process = child("kill", tmp_path)
    assert ("", "") == process.communicate(timeout=120)
    places = sorted(tmp_path.iterdir())
    shown = {place: [line.split() for line in (place / "taken").read_text().splitlines()] for place in places}
    whole = max(len(lines) for lines in shown.values())
    assert [whole, whole] == [len(lines) for lines in shown.values() if len(lines) == whole][-2:]
    assert len(places) > 150
    for place, lines in shown.items():
        folder = Folder(place / "swap")
        names = [name for name, _ in lines]
        for name, digest in lines:
            assert_kept(folder, name, digest)
        if names.count("acceptance.toml"):
            assert folder.acceptance_text() in LIMITS
        numbers = [int(name[8:12]) for name in names if name.startswith("samples/")]
        if folder.path.exists():
            there = [number for number in numbers if (folder.path / f"samples/{number:04d}.txt").exists()]
            kept = [sample.number for sample in folder.samples()]
            assert there == kept[: len(there)]
            assert len(kept) <= len(there) + 1  # one may be noted and not yet shown
            assert [] == [name for name in folder.files() if name.endswith(".new")]

        with folder.locked():  # and the next run goes on
            if "job.json" not in folder.files():
                folder.create(JOB)
            noted = folder.journal()
            folder.note("taken up again", AT)
            number = folder.next_sample_number()
            folder.keep_sample(number, 3, 0.0, AT, "settling", b"next")
        assert noted == [entry for entry in folder.journal() if entry.what != "torn line kept aside"][: len(noted)]
        assert ["taken up again", "sample"] == [entry.what for entry in folder.journal()][-2:]
        assert (number, b"next") == (folder.samples()[-1].number, folder.samples()[-1].text)
        for name, digest in lines:
            assert_kept(folder, name, digest)
        seal(folder, AT, "0.1.0")
        assert "whole" == examine(folder).state


class Platter:
    """What a disk is sure to hold when power goes: of a file the bytes, of a folder the names, at its last flush."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.files: dict[int, bytes] = {}
        self.folders: dict[int, dict[str, int]] = {}

    def fsync(self, handle: int) -> None:
        state = os.fstat(handle)
        if stat.S_ISDIR(state.st_mode):
            names = {name: os.stat(name, dir_fd=handle).st_ino for name in os.listdir(handle)}
            self.folders[state.st_ino] = names
        else:
            path = next(path for path in self.root.rglob("*") if path.lstat().st_ino == state.st_ino)
            self.files[state.st_ino] = path.read_bytes()

    def restore(self, inode: int, path: Path) -> None:
        """Writes what is sure to be in a folder to another place."""
        path.mkdir()
        for name, inside in self.folders.get(inode, {}).items():
            if inside in self.folders:
                self.restore(inside, path / name)
            elif inside in self.files:
                (path / name).write_bytes(self.files[inside])


@posix
def test_power_that_goes_loses_nothing_that_was_shown_as_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same job on a disk that forgets whatever was not flushed: a file without its folder is gone."""
    root = tmp_path / "disk"
    root.mkdir()
    platter = Platter(root)
    monkeypatch.setattr(folder_module.os, "fsync", platter.fsync)
    shown: list[tuple[str, str]] = []

    def taken(name: str, data: bytes) -> None:
        shown.append((name, hashlib.sha256(data).hexdigest()))
        again = tmp_path / f"after {len(shown)}"
        platter.restore(root.stat().st_ino, again)
        folder = Folder(again / "at" / "swap")
        for each in shown:
            assert_kept(folder, *each)
        noted = [int(name[8:12]) for name, _ in shown if name.startswith("samples/")]
        assert [sample.number for sample in folder.samples()] in (noted, noted[2:])

    work(root / "at" / "swap", taken)
    assert 14 == len(shown)


def main(act: str, path: Path) -> None:
    """The child."""
    import filelock
    import rfc8785

    assert filelock
    assert rfc8785
    folder = Folder(path)
    if act == "hold":
        with folder.locked():
            # What a command starts, such as ssh, must not go on holding the lock.
            lasting = subprocess.Popen(
                [sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=sys.stdin, stdout=subprocess.DEVNULL
            )
            print("held", lasting.pid, flush=True)
            time.sleep(60)
    elif act == "kill":
        the_one_killed(path)
    elif act == "starved":
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
        folder.create(JOB)
        folder.write("before.txt", TEXT)
        number = 0
        for attempt in (
            lambda: folder.write("after.txt", b"x" * 10_000),
            lambda: folder.keep_sample(1, 1, 0.0, AT, "out", b"x" * 10_000),
        ):
            try:
                attempt()
            except FolderFault as fault:
                print(fault)
        try:
            for number in range(1000):
                folder.note("note", AT, n=number)
        except FolderFault as fault:
            print(fault)
    elif act == "read-only":
        if os.geteuid() == 0:
            os.setgid(65534)
            os.setuid(65534)

        def lock(folder: Folder) -> None:
            with folder.locked():
                pass

        for name, attempt in {"lock": lock, **ACTS}.items():
            try:
                attempt(folder)
            except FolderFault as fault:
                print(f"{name}: {fault}")


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
