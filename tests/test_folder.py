"""The job folder: nothing that was captured is lost, and what is written is whole."""

import os
import stat
from pathlib import Path

import pytest

from consolecheck.job import folder as folder_module
from consolecheck.job.folder import Folder, FolderFault, Job, break_mark

JOB = Job(
    unit="psu-2", dialect="wexcombe", line="socket://127.0.0.1:1", started="2026-11-18T06:12:40Z", version="0.1.0"
)


def test_a_job_comes_back_as_it_was_kept(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "swap")
    folder.create(JOB)
    assert JOB == folder.job()
    if os.name == "posix":
        assert 0o700 == stat.S_IMODE((tmp_path / "swap").stat().st_mode)


def test_a_folder_in_use_is_refused(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "swap")
    folder.create(JOB)
    folder.write("before.txt", b"tern-04 ~> tell self\r\n")
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


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Folder(tmp_path)
    folder.write("before.txt", b"whole")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(folder_module.os, "fsync", full)
    with pytest.raises(FolderFault, match="No space left on device"):
        folder.write("before.txt", b"half")
    assert b"whole" == folder.text("before")
