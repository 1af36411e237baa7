"""The job folder: nothing that was captured is lost, what is written is whole, and one process works on it at a time.

Run as a program, this file is the child that holds the lock.
"""

import json
import os
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

from consolecheck.job.folder import Entry, Folder, FolderFault, Job, KeptSample, break_mark

AT = "2026-11-18T06:12:40Z"
JOB = Job(unit="psu-2", dialect="wexcombe", line="socket://127.0.0.1:1", started=AT, version="0.1.0")
TEXT = b"tern-04 ~> tell self\r\n"
posix = pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals")


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


# One process at a time


@contextmanager
def holding(path: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A child at work on a folder, and the number of a process that it has started itself."""
    command = [sys.executable, __file__, str(path)]
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
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


def hold(path: Path) -> None:
    """The child: at work on a folder until it is killed."""
    with Folder(path).locked():
        # What a command starts, such as ssh, must not go on holding the lock.
        lasting = subprocess.Popen(
            [sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=sys.stdin, stdout=subprocess.DEVNULL
        )
        print("held", lasting.pid, flush=True)
        time.sleep(60)


if __name__ == "__main__":
    hold(Path(sys.argv[1]))
