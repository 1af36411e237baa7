"""What `docs/SECURITY.md` promises: secrets, files and names of a live job, and of a job that came from somebody else.

Injection into the terminal, the page, CSV, test results and comments is tested beside what writes them (`test_quiet`,
`test_page`, `test_exchange_files`), host keys in `test_link`, foreign dialects in `test_own_dialects` and `test_bounded`.
"""

import json
import os
import re
import shutil
import socket
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from conftest import STAND_INS, holding_a_secret
from rigs import TcpServer
from test_live import baseline, play, run, switch, verify

from consolecheck.rehearsal.shell import Options

ROOT = Path(__file__).resolve().parent.parent
SECRET = "spring-tide-7"
posix = pytest.mark.skipif(os.name != "posix", reason="needs POSIX modes")
linux = pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="processes are watched through /proc")


@contextmanager
def arguments_watched() -> Iterator[list[bytes]]:
    """Command lines of all processes in which the secret stood, seen again and again meanwhile."""
    seen: list[bytes] = []
    over = threading.Event()

    def watch() -> None:
        while not over.wait(0.02):
            for line in Path("/proc").glob("[0-9]*/cmdline"):
                with suppress(OSError):
                    if SECRET.encode() in (told := line.read_bytes()):
                        seen.append(told)

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield seen
    finally:
        over.set()
        watcher.join()


# ---- secrets


@linux
def test_a_whole_job_with_a_login_leaves_its_secret_nowhere(tmp_path: Path) -> None:
    job, said = tmp_path / "job", b""
    login = {"CONSOLECHECK_PASSWORD": SECRET}
    with (
        arguments_watched() as in_arguments,
        switch(Options(keeper="keeper", word=SECRET), allowed={SECRET}) as (
            line,
            chassis,
            shell,
        ),
    ):
        done = baseline(job, line, "--user", "keeper", **login)
        assert done.returncode == 0, done.stderr
        said += done.stdout + done.stderr
        play("none", chassis, shell)
        done = verify(job, **login)
        assert done.returncode == 0, done.stderr
        said += done.stdout + done.stderr
        assert sum(bytes(typed).count(SECRET.encode()) for typed in shell.typed.values()) >= 2  # it was typed indeed
    for command in (("report", job), ("replay", job, "--json"), ("replay", job, "--all")):
        done = run(*command, **login)
        assert done.returncode == 0, done.stderr
        said += done.stdout + done.stderr
    assert (tmp_path / "job-report" / "report.html").exists()
    assert holding_a_secret(tmp_path) == []
    assert SECRET.encode() not in said
    assert in_arguments == []


def chatty(secret_seen: list[bytes]) -> Callable[[socket.socket], None]:
    """A console that shows the password as it is typed, repeats it in a message and in its prompt."""

    def serve(caller: socket.socket) -> None:
        caller.sendall(b"\r\ntern-04 keeper: ")
        typed = b""
        while data := caller.recv(256):
            caller.sendall(data)  # echoes everything
            typed += data
            while b"\r" in typed:
                line, _, typed = typed.partition(b"\r")
                if not secret_seen and not line:
                    caller.sendall(b"\r\ntern-04 keeper: ")
                elif line == b"keeper":
                    caller.sendall(b"\r\nword: ")
                elif line == SECRET.encode():
                    secret_seen.append(line)
                    caller.sendall(b"\r\n% audit: keeper logged in with " + line + b"\r\ntern-04 ~> ")
                else:
                    half = SECRET.encode()
                    caller.sendall(b"\r\nlast password " + half[:4])
                    time.sleep(0.05)
                    caller.sendall(half[4:] + b"\r\ntern-04 ~> ")

    return serve


def test_a_device_that_repeats_the_secret_does_not_get_it_into_a_file(tmp_path: Path) -> None:
    seen: list[bytes] = []
    with TcpServer(chatty(seen)) as server:
        done = baseline(
            tmp_path / "job", f"socket://127.0.0.1:{server.port}", "--user", "keeper", CONSOLECHECK_PASSWORD=SECRET
        )
    assert seen == [SECRET.encode()]
    written = [path for path in (tmp_path / "job").rglob("*") if path.is_file()]
    assert any(b"audit: keeper logged in with" in path.read_bytes() for path in written)
    assert holding_a_secret(tmp_path) == []
    assert SECRET.encode() not in done.stdout + done.stderr


def test_a_traceback_holds_no_secret(tmp_path: Path) -> None:
    """Asked for by the variable for reports, with a fault of ours right behind the login."""
    (tmp_path / "sitecustomize.py").write_text(
        "import consolecheck.job.conduct as conduct\n"
        "def broken(self, *told, **more):\n    with self.console('before') as talk:\n"
        "        talk.capture(['tell self'])\n        raise RuntimeError('a fault of ours')\n"
        "conduct.Conduct.baseline = broken\n",
        encoding="utf-8",
    )
    with switch(Options(keeper="keeper", word=SECRET), allowed={SECRET}) as (line, *_):
        done = subprocess.run(
            [
                *(sys.executable, "-m", "consolecheck", "baseline", str(tmp_path / "job"), "--console", line),
                *("--dialect", "wexcombe", "--unit", "psu-2", "--user", "keeper"),
            ],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=120,
            check=False,
            env={
                **os.environ,
                "CONSOLECHECK_PASSWORD": SECRET,
                "CONSOLECHECK_TRACEBACK": "1",
                "PYTHONPATH": os.pathsep.join((str(tmp_path), str(ROOT))),
            },
        )
    assert b"RuntimeError: a fault of ours" in done.stderr
    assert SECRET.encode() not in done.stdout + done.stderr
    assert holding_a_secret(tmp_path) == []


def test_the_search_finds_a_secret_that_is_there(tmp_path: Path) -> None:
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "note.txt").write_bytes(b"\xff typed: " + SECRET.encode())
    (tmp_path / min(STAND_INS)).write_bytes(SECRET.encode())
    found = holding_a_secret(tmp_path)
    (tmp_path / "deep" / "note.txt").unlink()
    assert found == [f"{tmp_path / 'deep' / 'note.txt'}: {SECRET}"]


# ---- files of a job


@posix
def test_nobody_else_may_read_a_job(tmp_path: Path) -> None:
    """Whatever the person's umask says."""
    old = os.umask(0)
    try:
        with switch() as (line, chassis, shell):
            assert baseline(tmp_path / "job", line).returncode == 0
            play("none", chassis, shell)
            assert verify(tmp_path / "job").returncode == 0
    finally:
        os.umask(old)
    paths = [tmp_path / "job", *(tmp_path / "job").rglob("*")]
    assert len(paths) > 8
    modes = {path.relative_to(tmp_path).as_posix(): stat.S_IMODE(path.stat().st_mode) for path in paths}
    assert {name: oct(mode) for name, mode in modes.items() if mode & 0o077} == {}


# ---- a job from somebody else


@pytest.fixture(scope="module")
def good_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("good")
    with switch() as (line, chassis, shell):
        assert baseline(place / "job", line).returncode == 0
        play("none", chassis, shell)
        assert verify(place / "job").returncode == 0
    return place / "job"


def files_of(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("named", ["../outside", "/tmp/outside", "psu-1/../../outside", "..", ".", "", "a\\b", "a\nb"])
def test_names_of_units_in_a_foreign_job_lead_nowhere_else(tmp_path: Path, good_job: Path, named: str) -> None:
    shutil.copytree(good_job, tmp_path / "outside")
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "units.json").write_text(json.dumps({"schema": 1, "units": [named]}), encoding="utf-8")
    (tmp_path / "answers.toml").write_text('by = "R. Petrel"\n', encoding="utf-8")
    before = files_of(tmp_path)
    swap = ("swap", tmp_path / "job", "--answers", tmp_path / "answers.toml")
    for command in (("report", tmp_path / "job"), ("replay", tmp_path / "job"), swap):
        done = run(*command)
        assert (done.returncode, b"units.json cannot be read" in done.stderr) == (4, True), (command, done.stderr)
    assert files_of(tmp_path) == before


@pytest.mark.parametrize("unit", ["../../outside", "psu-2/../../x", "psu-2\x1b[2J"])
def test_a_units_name_is_no_path(tmp_path: Path, unit: str) -> None:
    (tmp_path / "deep" / "deeper").mkdir(parents=True)
    job = tmp_path / "deep" / "deeper" / "job"
    with switch() as (line, *_):
        done = run(
            *("swap", job, "--console", line, "--dialect", "wexcombe", "--unit", "psu-1", "--unit", unit),
        )
    assert done.returncode != 0
    assert b"\x1b" not in done.stdout + done.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"deep"}
    assert {path.name for path in (tmp_path / "deep").iterdir()} == {"deeper"}


@pytest.mark.parametrize("host", ["../../etc", "/etc/passwd", "..\\..\\x", "a;rm -rf ~", "$(id)", "con:"])
def test_a_hostname_names_no_file(tmp_path: Path, host: str) -> None:
    """What the device calls itself is text in a file and never the name of one."""
    good = ROOT / "fixtures" / "wexcombe" / "psu-2-replaced"
    work = tmp_path / "work"
    work.mkdir()
    for side in ("before", "after"):
        text = (good / f"{side}.txt").read_bytes()
        assert b"tern-04" in text
        (work / f"{side}.txt").write_bytes(text.replace(b"tern-04", host.encode()))
    done = run(
        *("replay", "--before", work / "before.txt", "--after", work / "after.txt", "--unit", "psu-2"),
        *("--dialect", "wexcombe", "--report", work / "out"),
    )
    assert done.returncode in (0, 1, 3), done.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"work"}
    assert {path.name for path in work.iterdir()} == {"before.txt", "after.txt", "out"}
    usual = {"report.html", "report.pdf", "result.json", "junit.xml", "ticket.md", "readings.csv", "samples.csv"}
    assert {path.name for path in (work / "out").iterdir()} <= usual


@posix
@pytest.mark.parametrize("name", ["before.txt", "after.txt", "job.json", "journal.jsonl"])
def test_links_and_pipes_in_a_foreign_job_are_not_followed(tmp_path: Path, good_job: Path, name: str) -> None:
    outside = tmp_path / "outside"
    outside.write_bytes((good_job / name).read_bytes() + b"\nsecret of this laptop\n")
    for made in (lambda path: path.symlink_to(outside), os.mkfifo):
        job = tmp_path / "job"
        shutil.copytree(good_job, job)
        (job / "seal.json").unlink(missing_ok=True)
        (job / name).unlink()
        made(job / name)
        done = run("report", job)
        assert done.returncode != 0
        assert b"secret of this laptop" not in done.stdout + done.stderr
        assert not any(b"secret of this laptop" in p.read_bytes() for p in tmp_path.glob("job-report/*"))
        shutil.rmtree(job)


# ---- nothing typed on the way may come from the device


def test_no_shell_is_ever_asked() -> None:
    """No text becomes a command line: programs are started with lists of words."""
    for path in sorted((ROOT / "consolecheck").rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        assert not re.search(r"shell\s*=\s*True|os\.system|os\.popen|\beval\(|\bexec\(|pickle\.load", source), path


def test_the_threat_model_is_linked_and_names_tests_that_are_there() -> None:
    told = (ROOT / "docs" / "SECURITY.md").read_text(encoding="utf-8")
    assert "docs/SECURITY.md" in (ROOT / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"`(tests/\w+\.py|benchmarks/\w+\.py)`", told)
    assert len(named) >= 8
    assert [name for name in named if not (ROOT / name).is_file()] == []
    assert len(told.split()) < 900  # one page
