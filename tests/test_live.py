"""`baseline` and `verify` against the simulated switch, as processes on a loopback port."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from contextlib import contextmanager
from pathlib import Path

import pytest

from consolecheck.console.guard import Guard
from consolecheck.files.shelf import dialects
from consolecheck.rehearsal.faults import scenario
from consolecheck.rehearsal.noise import Line
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.serve import served_tcp
from consolecheck.rehearsal.shell import Options, Shell
from consolecheck.rehearsal.tables import TABLES

LISTED = next(d for d in dialects() if d.name == "wexcombe")
SECRETS = {b"keeper", b"high-water-7", b"low-water-7"}
ALLOWED = SECRETS | {w for o in Guard(LISTED).everything() for w in o.data.replace(b" ", b"\r").split(b"\r")}


def run(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    done = subprocess.run(
        [sys.executable, "-m", "consolecheck", *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=120,
        check=False,
        env={**os.environ, "NO_COLOR": "1", **environment},
    )
    assert b"Traceback" not in done.stderr
    return done


@contextmanager
def switch(
    options: Options | None = None, line: Line | None = None, allowed: AbstractSet[str] = frozenset()
) -> Iterator[tuple[str, Chassis, Shell]]:
    chassis = Chassis(seed=7)
    shell = Shell(chassis, options or Options(start="user"))
    with served_tcp(lambda: shell, line) as (host, port):
        yield f"socket://{host}:{port}", chassis, shell
    # The other end of the promise: what reached the switch, in whatever mode it stood.
    words = {word for typed in shell.typed.values() for word in bytes(typed).replace(b" ", b"\r").split(b"\r")}
    assert words <= ALLOWED | {word.encode() for word in allowed}, words - ALLOWED


def baseline(job: Path, line: str, *more: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return run("baseline", job, "--console", line, "--dialect", "wexcombe", "--unit", "psu-2", *more, **environment)


def verify(job: Path, *more: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Without waiting until the temperatures have settled: the switch's time runs ahead of the laptop's here."""
    limits = job.parent / "at-once.toml"
    limits.write_text("[settling]\nrequired = false\n", encoding="utf-8")
    return run("verify", job, "--acceptance", limits, *more, **environment)


def play(name: str, chassis: Chassis, shell: Shell) -> None:
    scenario(name).perform(chassis)
    chassis.advance(2400)
    with chassis.lock:
        shell.output(chassis.seconds)


def test_the_job_from_baseline_to_verdict(tmp_path: Path) -> None:
    job = tmp_path / "swap-0412"
    with switch() as (line, chassis, shell):
        done = baseline(job, line)
        assert (0, True) == (done.returncode, b"consolecheck verify" in done.stderr)
        play("none", chassis, shell)
        done = verify(job)
        assert (0, True) == (done.returncode, done.stdout.startswith(b"VERIFIED: psu-2"))
        assert b"Judged at one moment" in done.stdout
        assert {"alter"} & set(shell.typed) == set() or not shell.typed["alter"]
    assert json.loads((job / "findings.json").read_text(encoding="utf-8"))["verdict"] == "verified"
    done = run("replay", job)
    assert (0, True) == (done.returncode, done.stdout.startswith(b"VERIFIED: psu-2"))


@pytest.mark.parametrize("fault", ["wrong-slot", "dead-replacement", "left-empty"])
def test_a_swap_that_went_wrong_is_noticed_live(tmp_path: Path, fault: str) -> None:
    with switch() as (line, chassis, shell):
        baseline(tmp_path / "job", line)
        play(fault, chassis, shell)
        assert verify(tmp_path / "job").returncode == 1


def test_log_messages_and_a_pager_that_stays_on_do_no_harm(tmp_path: Path) -> None:
    with switch(Options(start="user", log_every=1.0), Line(57600)) as (line, chassis, shell):
        baseline(tmp_path / "job", line)
        play("none", chassis, shell)
        assert verify(tmp_path / "job").returncode == 0


def test_a_login_by_environment_leaves_no_trace_of_the_secret(tmp_path: Path) -> None:
    job = tmp_path / "job"
    with switch(Options(keeper="keeper", word="high-water-7")) as (line, *_):
        done = baseline(job, line, "--user", "keeper", CONSOLECHECK_PASSWORD="high-water-7")
        assert done.returncode == 0, done.stderr
    for path in job.iterdir():
        assert b"high-water-7" not in path.read_bytes(), path
    assert b"high-water-7" not in done.stdout + done.stderr


def test_a_wrong_password_is_tried_once(tmp_path: Path) -> None:
    with switch(Options(keeper="keeper", word="high-water-7")) as (line, _, shell):
        done = baseline(tmp_path / "job", line, "--user", "keeper", CONSOLECHECK_PASSWORD="low-water-7")
        assert (4, True) == (done.returncode, b"lockouts are real" in done.stderr)
        assert sum(bytes(t).count(b"low-water-7") for t in shell.typed.values()) == 1


def test_a_configuration_mode_is_left_alone(tmp_path: Path) -> None:
    with switch(Options(start="alter")) as (line, _, shell):
        done = baseline(tmp_path / "job", line)
        assert (4, True) == (done.returncode, b"configuration mode" in done.stderr)
        assert bytes(shell.typed["alter"]).strip(b"\r") == b""


def test_a_dry_run_sends_nothing(tmp_path: Path) -> None:
    with switch() as (line, _, shell):
        done = baseline(tmp_path / "job", line, "--dry-run")
        assert (0, True) == (done.returncode, b"tell power" in done.stdout)
        assert not any(shell.typed.values())
    assert not (tmp_path / "job").exists()


def test_a_line_that_is_not_there(tmp_path: Path) -> None:
    done = baseline(tmp_path / "job", "socket://127.0.0.1:9")
    assert done.returncode == 4
    assert baseline(tmp_path / "job2", "carrier-pigeon").returncode == 2
    assert baseline(tmp_path / "job3", str(tmp_path / "ttyNONE")).returncode == 4


def test_a_silent_console_gives_the_checklist(tmp_path: Path) -> None:
    import socket

    with socket.create_server(("127.0.0.1", 0)) as silent:
        done = baseline(tmp_path / "job", f"socket://127.0.0.1:{silent.getsockname()[1]}")
    assert (4, True) == (done.returncode, b"rollover or null-modem" in done.stderr)


def test_a_unit_that_the_switch_does_not_show(tmp_path: Path) -> None:
    with switch() as (line, *_):
        done = run("baseline", tmp_path / "job", "--console", line, "--dialect", "wexcombe", "--unit", "psu-9")
    assert (2, True) == (done.returncode, b"it shows fan-1, fan-2, fan-3, psu-1, psu-2" in done.stderr)


@pytest.mark.skipif(sys.platform == "win32", reason="sends POSIX signals")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_what_was_captured_before_an_interruption_is_kept(tmp_path: Path, how: signal.Signals) -> None:
    job = tmp_path / "job"
    recording = job / "before-line.txt"
    with switch(line=Line(2400)) as (line, *_):
        process = begun(job, line)
        process.send_signal(how)
        _, errors = process.communicate(timeout=30)
    assert b"POWER BAYS" in recording.read_bytes()
    assert b"Traceback" not in errors
    if how == signal.SIGINT:
        assert process.returncode == 4
        assert b"is kept in" in errors


def begun(job: Path, line: str) -> subprocess.Popen[bytes]:
    """A baseline that has come as far as the power table."""
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "consolecheck",
            "baseline",
            str(job),
            "--console",
            line,
            "--dialect",
            "wexcombe",
            "--unit",
            "psu-2",
        ],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    recording = job / "before-line.txt"
    until = time.monotonic() + 30
    while time.monotonic() < until and (not recording.exists() or b"POWER BAYS" not in recording.read_bytes()):
        time.sleep(0.05)
    return process


def test_a_line_that_is_unplugged_in_the_middle(tmp_path: Path) -> None:
    job = tmp_path / "job"
    with switch(line=Line(2400)) as (line, *_):
        process = begun(job, line)
    _, errors = process.communicate(timeout=30)
    assert (4, True) == (process.returncode, b"is kept in" in errors)
    assert b"Traceback" not in errors
    assert b"POWER BAYS" in (job / "before-line.txt").read_bytes()


def test_a_switch_that_reloads_in_the_middle(tmp_path: Path) -> None:
    job = tmp_path / "job"
    with switch(line=Line(2400)) as (line, chassis, _):
        process = begun(job, line)
        chassis.reload()
        _, errors = process.communicate(timeout=60)
    assert (4, True) == (process.returncode, b"the device is starting" in errors)
    assert b"POWER BAYS" in (job / "before.txt").read_bytes()
    assert b"the capture broke off in `tell " in (job / "before.txt").read_bytes()


def test_a_baseline_that_broke_off_never_verifies_a_later_swap(tmp_path: Path) -> None:
    """The refusal is on a screen that nobody looks at any more; the job folder is still there."""
    job = tmp_path / "job"
    with switch(line=Line(2400)) as (line, chassis, _):
        process = begun(job, line)
        chassis.reload()
        process.communicate(timeout=60)
    with switch() as (line, chassis, shell):
        play("none", chassis, shell)
        assert verify(job, "--console", line, "--speed", "9600").returncode == 3


def test_a_baseline_that_was_not_wholly_read_tells_to_leave_the_unit_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    newer = dict(TABLES)
    newer["power"] = lambda chassis: [*(rows := TABLES["power"](chassis))[:-1], "  a line of another release", rows[-1]]
    monkeypatch.setattr("consolecheck.rehearsal.shell.TABLES", newer)
    with switch() as (line, *_):
        done = baseline(tmp_path / "job", line)
    assert (3, True) == (done.returncode, b"leave psu-2 in place" in done.stderr)
    assert b"Replace psu-2" not in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="sends POSIX signals")
def test_a_baseline_that_was_interrupted_is_begun_anew_in_the_same_folder(tmp_path: Path) -> None:
    """The advice that the interruption gave, followed to the word."""
    job = tmp_path / "job"
    with switch(line=Line(2400)) as (line, *_):
        process = begun(job, line)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=30)
    assert b"start the same command again" in errors
    with switch() as (line, chassis, shell):
        assert baseline(job, line).returncode == 0
        play("none", chassis, shell)
        assert verify(job).returncode == 0


def test_a_second_capture_moves_the_first_aside(tmp_path: Path) -> None:
    job = tmp_path / "job"
    with switch() as (line, chassis, shell):
        baseline(job, line)
        play("left-empty", chassis, shell)
        assert verify(job).returncode == 1
        first = (job / "after.txt").read_bytes()
        assert verify(job).returncode == 1
    assert first == (job / "earlier-1-after.txt").read_bytes()
    assert (job / "earlier-1-findings.json").exists()


def test_an_old_verdict_does_not_stand_beside_a_capture_that_failed(tmp_path: Path) -> None:
    job = tmp_path / "job"
    with switch() as (line, chassis, shell):
        baseline(job, line)
        play("none", chassis, shell)
        assert verify(job).returncode == 0
    assert verify(job).returncode == 4
    assert not (job / "findings.json").exists()
    assert b'"verified"' in (job / "earlier-1-findings.json").read_bytes()


def test_a_password_from_the_keyring(monkeypatch: pytest.MonkeyPatch) -> None:
    import types

    from consolecheck.cli.console import secret_of

    kept = types.SimpleNamespace(get_password=lambda service, name: "high-water-7" if name == "keeper@COM3" else None)
    monkeypatch.setitem(sys.modules, "keyring", kept)
    monkeypatch.delenv("CONSOLECHECK_PASSWORD", raising=False)
    monkeypatch.setattr(sys, "stdin", open(os.devnull))  # noqa: SIM115
    assert secret_of("?", "keeper", "COM3") == "high-water-7"
    assert secret_of("?", "keeper", "COM4") is None
