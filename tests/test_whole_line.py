"""The whole way over real parts: a capture of the simulated switch over a pty, ser2net and sshd, and a real login."""

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("termios", reason="pseudo-terminals are POSIX")

from rigs import Sshd, ser2net

from consolecheck.console.dialogue import USUAL_SPEEDS
from consolecheck.console.guard import Guard, Outgoing
from consolecheck.console.link import Link, open_link, parse_link
from consolecheck.files.shelf import dialects
from consolecheck.job.drive import Captured, Stopped, capture
from consolecheck.reading.reader import read_text
from consolecheck.rehearsal.noise import Line
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.serve import served_pty
from consolecheck.rehearsal.shell import Options, Shell

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
COMMANDS = [c.send for c in WEXCOMBE.manifest.commands]


def captured(link: Link, guard: Guard | None = None) -> Captured:
    try:
        return capture(link, WEXCOMBE, guard or Guard(WEXCOMBE), COMMANDS, time.monotonic)
    finally:
        link.close()


def whole(result: Captured) -> bool:
    snapshot = read_text(result.text, "session", dialects(), WEXCOMBE)
    tables = {t.table for t in snapshot.tables}
    assert () == snapshot.unread
    assert result.refusal is None
    return tables == set(WEXCOMBE.manifest.tables) and len(snapshot.sightings) == 35


def test_over_a_pty_with_a_login_and_a_slow_console() -> None:
    shell = Shell(Chassis(seed=3), Options(keeper="keeper", word="high-water-7", line_seconds=0.02, log_every=3))
    with served_pty(lambda: shell, Line(57600)) as path:
        result = captured(open_link(parse_link(path, speed=57600)), Guard(WEXCOMBE, "keeper", "high-water-7"))
    assert whole(result)
    assert b"high-water-7" not in result.text


def test_over_rfc_2217_to_a_real_ser2net(tmp_path: Path) -> None:
    shell = Shell(Chassis(seed=3), Options(start="user"))
    with served_pty(lambda: shell) as path, ser2net(path, tmp_path) as port:
        assert whole(captured(open_link(parse_link(f"rfc2217://127.0.0.1:{port}"))))


def test_over_ssh_behind_a_real_sshd(tmp_path: Path) -> None:
    command = f"{sys.executable} -m consolecheck.rehearsal --stdio --start user"
    with Sshd(tmp_path, command).up() as server:
        link = open_link(parse_link(server.link), ssh_options=server.options())
        assert link.error_free
        result = captured(link)
    assert whole(result)
    # Read once: the transport guards each byte.
    assert 1 == result.text.count(b"tell power")


class _Program:
    """A program in a pty, as a line."""

    error_free = True
    bits_per_second: int | None = None

    def __init__(self, *command: str) -> None:
        import pexpect

        self._errors = (pexpect.TIMEOUT, pexpect.EOF)
        self.child = pexpect.spawn(command[0], list(command[1:]), encoding=None, timeout=30)
        self.child.delaybeforesend = None

    def read(self, timeout: float) -> bytes:
        try:
            return bytes(self.child.read_nonblocking(4096, max(timeout, 0.01)))
        except self._errors:
            return b""

    def write(self, outgoing: Outgoing) -> None:
        self.child.send(outgoing.data)

    def set_speed(self, bits_per_second: int) -> None:
        raise AssertionError("a program has no speed")


USER, WORD = "ternkeeper", "high-water-7"


@pytest.fixture
def linux_user() -> Iterator[str]:
    """A throw-away user on a throw-away machine: only in CI, and only as root."""
    if not os.environ.get("CI") or os.geteuid() != 0 or not shutil.which("login") or not shutil.which("useradd"):
        pytest.skip("makes a user for the real login program: only in CI, as root")
    subprocess.run(["useradd", "-m", "-s", "/bin/bash", USER], check=True)
    try:
        subprocess.run(["chpasswd"], input=f"{USER}:{WORD}\n", text=True, check=True)
        yield USER
    finally:
        subprocess.run(["userdel", "-r", "-f", USER], check=False, stderr=subprocess.DEVNULL)


def logged_in(word: str) -> Captured:
    """What the login program of the system lets through, as agetty runs it: name, hidden password, prompt."""
    ipmitool = next(d for d in dialects() if d.name == "ipmitool")
    line = _Program("login", "-p")
    try:
        return capture(line, ipmitool, Guard(ipmitool, USER, word), [], time.monotonic, speeds=USUAL_SPEEDS)
    finally:
        line.child.close(force=True)


@pytest.mark.usefixtures("linux_user")
def test_the_real_linux_login() -> None:
    result = logged_in(WORD)
    assert result.refusal is None
    assert USER.encode() in result.text


@pytest.mark.usefixtures("linux_user")
def test_the_real_linux_login_refuses_a_wrong_password_once() -> None:
    with pytest.raises(Stopped) as stopped:
        logged_in("low-water-7")
    assert stopped.value.refusal.kind == "password"
    assert "low-water-7" not in str(stopped.value)
