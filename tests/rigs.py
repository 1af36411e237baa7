"""Real parts for tests of the line: pseudo-terminals, console servers and ssh servers, on loopback only.

Each is a context manager that ends what it started. A program that is not installed skips the test.
"""

import contextlib
import getpass
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Self

import pytest

HERE = "127.0.0.1"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind((HERE, 0))
        return int(probe.getsockname()[1])


def program(name: str) -> str:
    if not Path("/proc/net/tcp").exists():
        pytest.skip("the servers of these tests are watched through /proc")
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    if found is None:
        pytest.skip(f"{name} is not installed")
    return found


@contextlib.contextmanager
def running(arguments: list[str], *, ready: Callable[[], bool], log: Path) -> Iterator[subprocess.Popen[bytes]]:
    with log.open("wb") as output:
        process = subprocess.Popen(arguments, stdin=subprocess.DEVNULL, stdout=output, stderr=subprocess.STDOUT)
    try:
        until = time.monotonic() + 10
        while not ready():
            if process.poll() is not None or time.monotonic() > until:
                pytest.skip(f"{arguments[0]} did not start: {log.read_text(errors='replace')[-300:]}")
            time.sleep(0.02)
        yield process
    finally:
        process.terminate()
        process.wait(10)


class PtyPair:
    """A pseudo-terminal: `device` is opened by the tool, the test plays the console at the other end."""

    def __init__(self) -> None:
        pty, tty = pytest.importorskip("pty"), pytest.importorskip("tty")
        self.master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.device = os.ttyname(self._slave)

    def say(self, data: bytes) -> None:
        os.write(self.master, data)

    def heard(self, count: int) -> bytes:
        data = b""
        while len(data) < count:
            data += os.read(self.master, count - len(data))
        return data

    def cut(self) -> None:
        """The line is gone, as when an adapter is pulled."""
        for end in (self.master, self._slave):
            with contextlib.suppress(OSError):
                os.close(end)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.cut()


class TcpServer:
    """A loopback server that gives each caller to `serve` and hangs up when that returns."""

    def __init__(self, serve: Callable[[socket.socket], None]) -> None:
        self._serve = serve
        self._listener = socket.create_server((HERE, 0))
        self.port = int(self._listener.getsockname()[1])
        self._threads = [threading.Thread(target=self._run)]
        self._threads[0].start()

    def _run(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                caller, _ = self._listener.accept()
                self._threads.append(threading.Thread(target=self._one, args=(caller,)))
                self._threads[-1].start()

    def _one(self, caller: socket.socket) -> None:
        caller.settimeout(10)
        with caller, contextlib.suppress(OSError):
            self._serve(caller)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        for thread in self._threads:
            thread.join(12)
            assert not thread.is_alive()


def stubborn_rfc2217(speed: int, asked: list[bytes]) -> Callable[[socket.socket], None]:
    """A console server that agrees to all but reports one and the same speed. RFC 2217: answers are code + 100."""

    def serve(caller: socket.socket) -> None:
        data = b""
        while piece := caller.recv(1024):
            data += piece
            while len(data) >= 3:
                if data[1] == 0xFA:  # SB ... IAC SE
                    end = data.find(b"\xff\xf0")
                    if end < 0:
                        break
                    body, data = data[2:end], data[end + 2 :]
                    asked.append(body)
                    value = speed.to_bytes(4, "big") if body[1] == 1 else body[2:]
                    caller.sendall(b"\xff\xfa\x2c" + bytes([body[1] + 100]) + value + b"\xff\xf0")
                else:
                    verb, option, data = data[1], data[2], data[3:]
                    # WILL -> DO, DO -> WILL
                    caller.sendall(bytes([0xFF, {0xFB: 0xFD, 0xFD: 0xFB}.get(verb, 0xFC), option]))

    return serve


@contextlib.contextmanager
def ser2net(device: str, folder: Path) -> Iterator[int]:
    """ser2net with RFC 2217 in front of a pseudo-terminal; yields its port."""
    port = free_port()
    config = folder / "ser2net.yaml"
    config.write_text(
        "connection: &tide\n"
        f"  accepter: telnet(rfc2217),tcp,{HERE},{port}\n"
        f"  connector: serialdev,{device},9600n81,local\n"
    )
    with running(
        [program("ser2net"), "-n", "-d", "-c", str(config)],
        ready=lambda: _listens(port),
        log=folder / "ser2net.log",
    ):
        yield port


def _listens(port: int) -> bool:
    # Looked up and not tried out: a trial caller would hold the one place there is.
    wanted = f":{port:04X}"
    lines = Path("/proc/net/tcp").read_text().splitlines()[1:]
    return any(line.split()[1].endswith(wanted) and line.split()[3] == "0A" for line in lines)


class Sshd:
    """An ssh server of this user's own, with one key that may log in and one forced command."""

    def __init__(self, folder: Path, command: str, passphrase: str = "") -> None:
        self.folder = folder
        self.port = free_port()
        self.user = getpass.getuser()
        self.known = folder / "known_hosts"
        self.log = folder / "sshd.log"
        self._server = program("sshd")
        program("ssh")
        keygen = program("ssh-keygen")
        for name, secret in (("host", ""), ("other", ""), ("user", passphrase), ("stranger", "")):
            subprocess.run([keygen, "-q", "-t", "ed25519", "-N", secret, "-f", folder / name], check=True)
        self.know("host")
        script = folder / "console.sh"
        script.write_text(command)
        (folder / "sshd_config").write_text(
            f"ListenAddress {HERE}\nPort {self.port}\nHostKey {folder}/host\nAuthorizedKeysFile {folder}/user.pub\n"
            "UsePAM no\nStrictModes no\nPidFile none\nPermitRootLogin yes\nPasswordAuthentication yes\n"
            f"ForceCommand /bin/sh {script}\n"
        )

    def know(self, name: str) -> None:
        kind, key = (self.folder / f"{name}.pub").read_text().split()[:2]
        self.known.write_text(f"[{HERE}]:{self.port} {kind} {key}\n")

    @property
    def link(self) -> str:
        return f"ssh://{self.user}@{HERE}:{self.port}"

    def options(self, key: str = "user") -> list[str]:
        return [
            *("-F", "none", "-i", str(self.folder / key), "-o", "IdentitiesOnly=yes", "-o", "IdentityAgent=none"),
            *("-o", f"UserKnownHostsFile={self.known}", "-o", "GlobalKnownHostsFile=none"),
        ]

    @contextlib.contextmanager
    def up(self) -> Iterator[Self]:
        with (
            _room_for_privileges(),
            running(
                [self._server, "-D", "-e", "-f", str(self.folder / "sshd_config")],
                ready=lambda: _listens(self.port),
                log=self.log,
            ) as process,
        ):
            self.pid = process.pid
            try:
                yield self
            finally:
                for pid in self.sessions():
                    os.kill(pid, signal.SIGCONT)
                    os.kill(pid, signal.SIGTERM)

    def sessions(self) -> list[int]:
        """The processes that the server has started, by their numbers."""
        found, waiting = [], [self.pid]
        while waiting:
            children = Path(f"/proc/{(pid := waiting.pop())}/task/{pid}/children")
            with contextlib.suppress(OSError):
                below = [int(word) for word in children.read_text().split()]
                found += below
                waiting += below
        return found


@contextlib.contextmanager
def _room_for_privileges() -> Iterator[None]:
    """The empty folder that an sshd run by root wants, which the system makes at its start."""
    room = Path("/run/sshd")
    made = os.geteuid() == 0 and not room.exists()
    if made:
        room.mkdir(mode=0o755)
    try:
        yield
    finally:
        if made:
            with contextlib.suppress(OSError):
                room.rmdir()


def fake_ssh(folder: Path, script: str) -> None:
    """A script named ssh, which plays the client where no real server can be had; `$mark` is what the login prints."""
    path = folder / "ssh"
    path.write_text(
        f"#!{sys.executable}\nimport sys, time, termios, tty, os\n"
        "mark = next(a.partition('=')[2].split()[1] for a in sys.argv if a.startswith('LocalCommand='))\n"
        "def say(text): sys.stdout.write(text); sys.stdout.flush()\n"
        "def echo(on):\n"
        "    mode = termios.tcgetattr(0)\n"
        "    mode[3] = mode[3] | termios.ECHO if on else mode[3] & ~termios.ECHO\n"
        "    termios.tcsetattr(0, termios.TCSAFLUSH, mode)\n"
        "def ask(prompt):\n"
        "    echo(False); say(prompt); answer = sys.stdin.readline(); echo(True); say('\\n'); return answer.rstrip('\\n')\n"
        f"{script}\n"
    )
    path.chmod(0o755)
