"""The job folder when a write fails, the disk is full, power goes or the process is killed: what was kept stays.

Run as a program, this file is the child that its tests kill or starve.
"""

import errno
import hashlib
import os
import re
import signal
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from consolecheck.job import folder as folder_module
from consolecheck.job.folder import Folder, FolderFault, Job
from consolecheck.job.seal import examine, seal, unseal

AT = "2026-11-18T06:12:40Z"
JOB = Job(unit="psu-2", dialect="wexcombe", line="socket://127.0.0.1:1", started=AT, version="0.1.0")
TEXT = b"tern-04 ~> tell self\r\n"
posix = pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals and limits")


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


def child(*arguments: str | Path) -> subprocess.Popen[str]:
    command = [sys.executable, __file__, *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


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
    if act == "kill":
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
