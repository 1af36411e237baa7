"""The simulated switch on a loopback port, a pseudo terminal, or standard input and output."""

import argparse
import contextlib
import os
import queue
import selectors
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from typing import NoReturn

from consolecheck.rehearsal.faults import GOOD_ONES, SCENARIOS, Schedule, scenario
from consolecheck.rehearsal.noise import Line
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.shell import Options, Shell

TICK = 0.01
"""Seconds between two looks at the simulated switch."""
STOP_SECONDS = 5.0

ShellFactory = Callable[[], Shell]


class Console:
    """A shell at the far end of a line."""

    def __init__(self, shell: Shell, line: Line) -> None:
        self.shell = shell
        self._inward, self._outward = line.another(1), line.another(2)

    def exchange(self, received: bytes) -> bytes:
        """Sends what came in towards the switch, and gives what has arrived from it by now."""
        now = self.shell.chassis.seconds
        self._inward.send(received, now)
        self.shell.feed(self._inward.arrived(now))
        self._outward.send(self.shell.output(now), now)
        return self._outward.arrived(now)

    @property
    def busy(self) -> bool:
        return self.shell.busy or self._inward.busy or self._outward.busy


class _Pace:
    """Simulated time after the clock's, faster by a factor."""

    def __init__(self, chassis: Chassis, factor: float, schedule: Schedule | None) -> None:
        self._chassis, self._factor, self._schedule = chassis, factor, schedule
        self._last = time.monotonic()

    def tick(self) -> None:
        now = time.monotonic()
        with self._chassis.lock:
            self._chassis.advance((now - self._last) * self._factor)
            if self._schedule is not None:
                self._schedule.run_due(self._chassis)
        self._last = now


class _Client:
    """One connection and the bytes that it has not taken yet."""

    def __init__(self, sock: socket.socket, console: Console) -> None:
        self.sock, self.console = sock, console
        self.waiting = bytearray()

    def turn(self, readable: bool) -> bool:
        """Moves bytes both ways; whether the connection still stands."""
        received = b""
        try:
            if readable:
                received = self.sock.recv(4096)
                if not received:
                    return False
            self.waiting += self.console.exchange(received)
            if self.waiting:
                del self.waiting[: self.sock.send(self.waiting)]
        except BlockingIOError:
            return True
        except OSError:
            return False
        return bool(self.waiting) or self.console.busy or not self.console.shell.hung_up


def _serve_listener(
    listener: socket.socket,
    factory: ShellFactory,
    line: Line,
    factor: float,
    stop: threading.Event,
    plan: Schedule | None,
) -> None:
    spare = [factory()]  # made now for its chassis, whose time runs from now on; the first caller gets it
    pace = _Pace(spare[0].chassis, factor, plan)
    clients: dict[socket.socket, _Client] = {}
    with selectors.DefaultSelector() as selector, contextlib.ExitStack() as open_sockets:
        open_sockets.enter_context(listener)
        selector.register(listener, selectors.EVENT_READ)
        while not stop.is_set():
            ready = {key.fileobj for key, _ in selector.select(TICK)}
            pace.tick()
            if listener in ready:
                with contextlib.suppress(OSError):
                    sock, _ = listener.accept()
                    open_sockets.enter_context(sock)
                    sock.setblocking(False)
                    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                    clients[sock] = _Client(sock, Console(spare.pop() if spare else factory(), line))
                    selector.register(sock, selectors.EVENT_READ)
            for sock, client in list(clients.items()):
                if not client.turn(sock in ready):
                    selector.unregister(sock)
                    sock.close()
                    del clients[sock]


def _joined(thread: threading.Thread, stop: threading.Event) -> None:
    stop.set()
    thread.join(STOP_SECONDS)
    if thread.is_alive():
        raise RuntimeError("the simulated switch did not stop")


@contextlib.contextmanager
def served_tcp(
    factory: ShellFactory,
    line: Line | None = None,
    time_factor: float = 1.0,
    port: int = 0,
    schedule: Schedule | None = None,
) -> Iterator[tuple[str, int]]:
    """A console on a loopback port, one shell a connection, for as long as the block runs; gives its address.

    A factory that gives the same shell each time is a serial console, where a session outlives its caller.
    """
    listener = socket.create_server(("127.0.0.1", port))
    listener.setblocking(False)
    host, bound = listener.getsockname()[:2]
    stop = threading.Event()
    thread = threading.Thread(
        target=_serve_listener,
        args=(listener, factory, line or Line(), time_factor, stop, schedule),
        name="rehearsal-tcp",
        daemon=True,
    )
    thread.start()
    try:
        yield host, bound
    finally:
        _joined(thread, stop)


@contextlib.contextmanager
def served_pty(
    factory: ShellFactory, line: Line | None = None, time_factor: float = 1.0, schedule: Schedule | None = None
) -> Iterator[str]:
    """A console on a pseudo terminal (POSIX), for as long as the block runs; gives the path to open."""
    if sys.platform == "win32":
        raise OSError("this system has no pseudo terminals; serve over TCP")
    import tty

    controller, terminal = os.openpty()
    tty.setraw(terminal)  # kept open here: else the controller fails whenever nobody has it open
    stop = threading.Event()
    shell = factory()
    console = Console(shell, line or Line())

    def run() -> None:
        pace = _Pace(shell.chassis, time_factor, schedule)
        os.set_blocking(controller, False)
        waiting = bytearray()
        with selectors.SelectSelector() as selector:  # the one that knows pseudo terminals everywhere
            selector.register(controller, selectors.EVENT_READ)
            while not stop.is_set():
                ready = selector.select(TICK)
                pace.tick()
                waiting += console.exchange(os.read(controller, 4096) if ready else b"")
                if waiting:
                    with contextlib.suppress(BlockingIOError):
                        del waiting[: os.write(controller, waiting)]

    thread = threading.Thread(target=run, name="rehearsal-pty", daemon=True)
    thread.start()
    try:
        yield os.ttyname(terminal)
    finally:
        try:
            _joined(thread, stop)
        finally:
            os.close(terminal)
            os.close(controller)


@contextlib.contextmanager
def _raw_terminal() -> Iterator[None]:
    """No echo and no line editing of the terminal's own, where standard input is one."""
    if sys.platform == "win32" or not sys.stdin.isatty():
        yield
        return
    import termios
    import tty

    fd = sys.stdin.fileno()
    kept = termios.tcgetattr(fd)
    tty.setraw(fd)
    try:
        yield
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, kept)


def serve_stdio(
    shell: Shell, line: Line | None = None, time_factor: float = 1.0, schedule: Schedule | None = None
) -> None:
    """A console on standard input and output, until input ends and all of it is answered, or the switch hangs up."""
    incoming: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def read() -> None:
        # Not through the buffered file: a thread that waits in it would hold up the interpreter's end.
        with contextlib.suppress(OSError):
            while data := os.read(sys.stdin.fileno(), 4096):
                incoming.put(data)
        incoming.put(b"")

    threading.Thread(target=read, name="rehearsal-stdin", daemon=True).start()
    console = Console(shell, line or Line())
    pace = _Pace(shell.chassis, time_factor, schedule)
    ended = False
    with _raw_terminal(), contextlib.suppress(BrokenPipeError):
        while True:
            received = b""
            if not ended:
                with contextlib.suppress(queue.Empty):
                    received = incoming.get(timeout=TICK)
                    ended = not received
            else:
                time.sleep(TICK)
            pace.tick()
            out = console.exchange(received)
            if out:
                sys.stdout.buffer.write(out)
                sys.stdout.buffer.flush()
            if not console.busy and (ended or shell.hung_up):
                return


def _parsed(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m consolecheck.rehearsal", description="A simulated switch.")
    way = parser.add_mutually_exclusive_group(required=True)
    way.add_argument("--stdio", action="store_true", help="talk on standard input and output")
    way.add_argument("--tcp", type=int, metavar="PORT", help="listen on a loopback port; 0 takes a free one")
    way.add_argument("--pty", action="store_true", help="open a pseudo terminal and print its path")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--time-factor", type=float, default=1.0, help="simulated seconds in a second")
    parser.add_argument("--fault", choices=sorted({**SCENARIOS, **GOOD_ONES}), help="a scenario that runs by itself")
    parser.add_argument("--after", type=float, default=30.0, help="simulated seconds until it starts")
    parser.add_argument("--bits-per-second", type=float)
    parser.add_argument("--flip", type=float, default=0.0, help="chance of a byte to have a bit flipped")
    parser.add_argument("--drop", type=float, default=0.0, help="chance of a byte to be lost")
    parser.add_argument("--keeper", help="login name that is asked for")
    parser.add_argument("--word", default="", help="the password of this simulated login")
    parser.add_argument("--no-pager", action="store_true")
    parser.add_argument("--page-lines", type=int, default=10)
    parser.add_argument("--banner", default="")
    parser.add_argument("--line-seconds", type=float, default=0.0)
    parser.add_argument("--log-every", type=float)
    parser.add_argument("--journal", action="store_true", help="log what happens to the chassis")
    parser.add_argument("--idle", type=float)
    parser.add_argument("--start", choices=("closed", "user", "rise", "alter"), default="closed")
    parser.add_argument("--hang-up", action="store_true", help="the end of a session ends the connection")
    return parser.parse_args(arguments)


def _wait() -> NoReturn:
    while True:
        time.sleep(3600)


def main(arguments: Sequence[str] | None = None) -> int:
    """Serves as the arguments say, until the other side or the keyboard ends it."""
    given = _parsed(arguments)
    chassis = Chassis(given.seed)
    options = Options(
        keeper=given.keeper,
        word=given.word,
        paused=not given.no_pager,
        page_lines=given.page_lines,
        banner=given.banner,
        line_seconds=given.line_seconds,
        log_every=given.log_every,
        journal=given.journal,
        idle=given.idle,
        start=given.start,
        hang_up=given.hang_up,
    )
    line = Line(given.bits_per_second, given.flip, given.drop, given.seed)
    schedule = Schedule(scenario(given.fault), given.after) if given.fault else None

    def factory() -> Shell:
        return Shell(chassis, options)

    with contextlib.suppress(KeyboardInterrupt):
        if given.stdio:
            serve_stdio(factory(), line, given.time_factor, schedule)
        elif given.pty:
            with served_pty(factory, line, given.time_factor, schedule) as path:
                print(path, flush=True)
                _wait()
        else:
            with served_tcp(factory, line, given.time_factor, given.tcp, schedule) as address:
                print(f"{address[0]}:{address[1]}", flush=True)
                _wait()
    return 0
