"""A serial port of this machine, or one behind a console server, by pyserial.

Port errors arrive as SerialException, OSError or termios.error, also from a port that was open: all three become
a `LinkFault`. No break is ever sent, and modem lines are left alone.
"""

from __future__ import annotations

import contextlib
import os
import re
import socket
import sys
import threading
import time
import warnings
from typing import TYPE_CHECKING, Final, cast

from consolecheck.console import wire
from consolecheck.console.guard import Outgoing
from consolecheck.console.wire import (
    FASTEST,
    QUOTED_AT_MOST,
    SLOWEST,
    LinkFault,
    LinkSpec,
    bits,
    connection_refused,
    name_not_known,
    no_answer,
    no_speed,
    quoted,
)

if TYPE_CHECKING:
    from serial import Serial


def list_ports() -> list[tuple[str, str]]:
    """The serial ports of this machine: device and description."""
    from serial.tools.list_ports import comports

    return sorted((port.device, "" if port.description == "n/a" else port.description) for port in comports())


class SerialLink:
    error_free = False

    def __init__(self, port: Serial, spec: LinkSpec, errors: tuple[type[Exception], ...]) -> None:
        self._port = port
        self._spec = spec
        self._errors = errors
        self._gone: LinkFault | None = None
        self._heard = b""
        self._spoken = False
        self.bits_per_second: int | None = None
        self.name = spec.shown
        if spec.kind != "socket":
            self._runs_at(spec.speed)

    def _runs_at(self, speed: int | None) -> None:
        self.bits_per_second = speed
        self.name = f"{self._spec.shown} at {speed or 'an unknown speed'} {self._spec.framing}"

    @property
    def note(self) -> str:
        """What a person should know of this link; empty if nothing."""
        return str(getattr(self._port, "note", ""))

    def read(self, timeout: float) -> bytes:
        until = time.monotonic() + timeout
        while True:
            if self._gone is not None:
                raise self._gone
            try:
                if self._port.in_waiting and (data := self._port.read(65536)):
                    self._heard = (self._heard + data)[: _FEW_WORDS + 1]
                    return data
            except self._errors as reason:
                raise self._lost(reason) from None
            left = until - time.monotonic()
            if left <= 0:
                return b""
            # A look every few milliseconds serves ports, sockets and Windows alike; a character takes about one.
            time.sleep(min(left, 0.004))

    def write(self, outgoing: Outgoing) -> None:
        data = wire.writable(outgoing).data
        if self._gone is not None:
            raise self._gone
        self._spoken = True
        try:
            self._port.write(data)
        except self._errors as reason:
            raise self._lost(reason) from None

    def set_speed(self, bits_per_second: int) -> None:
        if self._gone is not None:
            raise self._gone
        if self._spec.kind == "socket":
            raise LinkFault(
                "unsupported",
                f"{self._spec.shown} gives no hold on the speed of the serial line behind it; "
                "set it at the console server, or use its RFC 2217 port as rfc2217://host:port",
            )
        if not SLOWEST <= bits_per_second <= FASTEST:
            raise LinkFault("settings", no_speed(bits_per_second))
        try:
            self._port.baudrate = bits_per_second
            _in_force(self._port, self._spec._replace(speed=bits_per_second))
        except self._errors as reason:
            fault = _open_fault(reason, self._spec._replace(speed=bits_per_second), self._port)
            if fault.kind != "settings":
                raise self._lost(reason) from None
            # The line has the speed that the far end reported, else nobody knows.
            self._runs_at(getattr(self._port, "reported", None))
            raise fault from None
        self._runs_at(bits_per_second)

    def close(self) -> None:
        if self._gone is None:
            self._gone = LinkFault("lost", f"{self._spec.shown} was closed here; open it anew")
        with contextlib.suppress(*self._errors):
            self._port.close()

    def _lost(self, reason: Exception) -> LinkFault:
        # A few words to somebody who said nothing yet, and then the end, are the console server's and no device's.
        said = "" if self._spoken or len(self._heard) > _FEW_WORDS else quoted(self._heard)
        if self._spec.kind != "serial" and _IN_USE.search(said):
            self._gone = _turned_down(self._spec, said)
        elif self._spec.kind == "serial":
            self._gone = LinkFault(
                "lost",
                f"{self._spec.shown} is gone ({_first_line(reason)}); "
                "look at the adapter and its cable, or for a second program on the port, then start again",
            )
        else:
            self._gone = LinkFault(
                "lost",
                f"the connection to {self._spec.shown} ended ({_first_line(reason)}); "
                "see whether the console server is up and nobody took the line over, then start again",
            )
        self.close()
        return self._gone


def _first_line(reason: Exception) -> str:
    return str(reason).partition("\n")[0][:QUOTED_AT_MOST]


_FEW_WORDS: Final = 200
_IN_USE: Final = re.compile(r"\bin use\b|\bbusy\b|\balready\b", re.IGNORECASE)


def _turned_down(spec: LinkSpec, said: str) -> LinkFault:
    if _IN_USE.search(said):
        return LinkFault(
            "busy",
            f"the console server at {spec.shown} says `{said}` and hung up: somebody else has this line; "
            "find out who, and try again when it is free",
        )
    return LinkFault(
        "refused",
        f"the console server at {spec.shown} says `{said}` and hung up; see to its access rules and the port number",
    )


def _port_errors() -> tuple[type[Exception], ...]:
    """What a port raises when it is not well: the system's errors, pyserial's, and termios's, which is neither.

    ValueError is a setting that it does not take, OverflowError one beyond all bounds, TypeError a descriptor that
    another thread closed.
    """
    import serial

    errors: tuple[type[Exception], ...] = (serial.SerialException, OSError, ValueError, OverflowError, TypeError)
    if sys.platform != "win32":
        import termios

        errors = (*errors, termios.error)
    return errors


def open_serial(spec: LinkSpec) -> SerialLink:
    import serial

    errors = _port_errors()
    data, parity, stop = bits(spec.framing)
    port: Serial
    if spec.kind == "rfc2217":
        port = _rfc2217_port()
    elif spec.kind == "socket":
        port = _socket_port()
    else:
        # Advisory: it keeps out those who ask. Modem lines are left to pyserial, which does without where there are
        # none (a pseudo-terminal).
        port = serial.serial_for_url(spec.device, do_not_open=True, exclusive=True)
    port.baudrate, port.bytesize, port.parity, port.stopbits = spec.speed, data, parity, stop
    port.timeout = 0  # fixed: setting it on an open port sets up the whole port again
    if spec.kind != "rfc2217":
        port.write_timeout = 10
    if spec.kind != "serial":
        port.port = spec.shown
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # pyserial's way to start a thread
            port.open()
        _in_force(port, spec)
    except errors as reason:
        port.close()
        raise _open_fault(reason, spec, port) from None
    if spec.kind != "serial":
        _keep_alive(getattr(port, "_socket", None))
    return SerialLink(port, spec, errors)


def _in_force(port: Serial, spec: LinkSpec) -> None:
    """Raises ValueError where the system took a setting and did not keep it, as a driver may without a word."""
    if spec.kind != "serial" or sys.platform == "win32":
        return
    import termios

    data, parity, stop = bits(spec.framing)
    _, _, flags, _, speed, _, _ = termios.tcgetattr(port.fileno())
    kept = (
        flags & termios.CSIZE == getattr(termios, f"CS{data}"),
        bool(flags & termios.PARENB) == (parity != "N"),
        parity == "N" or bool(flags & termios.PARODD) == (parity == "O"),
        bool(flags & termios.CSTOPB) == (stop == 2),
        speed == getattr(termios, f"B{spec.speed}", speed),
    )
    if not all(kept):
        raise ValueError("the settings were not kept")


def _keep_alive(line: socket.socket | None) -> None:
    """Lets the system notice a far end that vanished without a word, within about 15 s."""
    if line is None:
        return
    wanted = (("TCP_KEEPIDLE", 5), ("TCP_KEEPINTVL", 5), ("TCP_KEEPCNT", 2), ("TCP_USER_TIMEOUT", 15000))
    with contextlib.suppress(OSError):
        line.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in wanted:
            if hasattr(socket, name):
                line.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)


def _socket_port() -> Serial:
    from serial.urlhandler import protocol_socket

    class Port(protocol_socket.Serial):
        _socket: socket.socket | None  # held by pyserial, not in its stubs

        def reset_input_buffer(self) -> None:
            """Nothing: what a server says first may be why it hangs up."""

        def close(self) -> None:
            line = self._socket if self.is_open else None
            super().close()
            if line is not None:
                line.close()  # pyserial leaves it open where the far end was first

    return cast("Serial", Port(None))


def _rfc2217_port() -> Serial:
    """pyserial's client, with its reader thread kept quiet, and the server's own report of the speed kept."""
    import queue

    from serial import SerialException, rfc2217

    class Port(rfc2217.Serial):
        note = ""
        reported: int | None = None

        # Held by pyserial, not in its stubs.
        _read_buffer: queue.Queue[bytes | None] | None
        _ignore_set_control_answer: bool
        _thread: threading.Thread | None
        _socket: socket.socket | None

        def close(self) -> None:
            line = self._socket
            super().close()
            if line is not None:
                line.close()  # pyserial leaves it open where the far end was first

        def _telnet_read_loop(self) -> None:
            # Whatever ends the reader, a refused second user above all, is told by read or open, not by a traceback.
            with contextlib.suppress(Exception):
                super()._telnet_read_loop()  # type: ignore[misc]

        def _internal_raw_write(self, data: bytes) -> None:
            try:
                super()._internal_raw_write(data)  # type: ignore[misc]
            except OSError:
                reader = self._thread
                if reader is None or reader is threading.current_thread():
                    return  # the reader goes on to what the server said before it hung up
                reader.join(0.5)
                raise

        def _telnet_process_subnegotiation(self, suboption: bytes) -> None:
            if suboption[:2] == rfc2217.COM_PORT_OPTION + rfc2217.SERVER_SET_BAUDRATE and len(suboption) >= 6:
                self.reported = int.from_bytes(suboption[2:6], "big")
            super()._telnet_process_subnegotiation(suboption)  # type: ignore[misc]

        def rfc2217_set_control(self, value: bytes) -> None:
            if value == rfc2217.SET_CONTROL_BREAK_ON:
                raise ValueError("a break is never sent")  # some devices stop and drop to a monitor
            try:
                super().rfc2217_set_control(value)
            except (SerialException, ValueError):
                if self._ignore_set_control_answer or self._hung_up():
                    raise
                # What ?ign_set_control does: ser2net in front of a pseudo-terminal has no modem lines to answer for.
                self._ignore_set_control_answer = True
                self.note = "the console server does not answer for flow control and modem lines; they are left alone"

        def _hung_up(self) -> bool:
            return self._thread is None or not self._thread.is_alive()

        def read(self, size: int = 1) -> bytes:
            """What is there; what came before the line went is delivered first."""
            data = bytearray()
            with contextlib.suppress(queue.Empty):
                while self._read_buffer is not None and len(data) < size:
                    data += self._read_buffer.get_nowait() or b""
            if not data and self._hung_up():
                raise SerialException("the server hung up")
            return bytes(data)

        @property
        def in_waiting(self) -> int:
            # One where the server hung up, so that read is called and tells it.
            return max(0 if self._read_buffer is None else self._read_buffer.qsize(), self._hung_up())

        def left_over(self) -> bytes:
            """What the server said before it was given up."""
            with contextlib.suppress(SerialException):
                return self.read(4096)
            return b""

    return cast("Serial", Port(None))


def _errno_of(reason: BaseException) -> int | None:
    """The system's error number, which pyserial often leaves in the context only."""
    seen: BaseException | None = reason
    while seen is not None:
        first = seen.args[0] if seen.args else None
        number = getattr(seen, "errno", None)
        number = number if isinstance(number, int) else first
        if isinstance(number, int) and not isinstance(seen, socket.gaierror):
            return number
        seen = seen.__context__
    return None


def _open_fault(reason: Exception, spec: LinkSpec, port: Serial) -> LinkFault:
    if spec.kind == "serial":
        return _device_fault(reason, spec)
    said = quoted(port.left_over()) if hasattr(port, "left_over") else ""
    context = reason.__context__
    if isinstance(context, socket.gaierror):
        return name_not_known(spec)
    if isinstance(context, ConnectionRefusedError):
        return connection_refused(spec)
    if isinstance(context, OSError) and "open port" in str(reason):
        return no_answer(spec)
    reported = getattr(port, "reported", None)
    if reported is not None and reported != spec.speed:
        return LinkFault(
            "settings",
            f"the console server at {spec.shown} was asked for {spec.speed} bits per second and reports {reported}; "
            "set the port's speed there, or ask for the one it has",
        )
    rejected = re.search(r"(?:remote rejected value for|timeout while waiting for) option '(\w+)'", str(reason))
    if rejected or "parameter change" in str(reason):
        what = {"datasize": "data bits", "stopsize": "stop bits"}.get(rejected[1], rejected[1]) if rejected else "them"
        return LinkFault(
            "settings",
            f"the console server at {spec.shown} did not take {spec.speed} {spec.framing} (it refuses {what}); "
            "set the port up there and ask for what it has",
        )
    if said:
        return _turned_down(spec, said)
    if "does not seem to support" in str(reason):
        return LinkFault(
            "unsupported",
            f"{spec.shown} does not answer as an RFC 2217 server; "
            f"if it is a plain TCP port, use socket://{spec.shown.partition('://')[2]}",
        )
    return LinkFault(
        "refused",
        f"the console server at {spec.shown} ended the connection at once ({_first_line(reason)}); "
        "see whether somebody else has the line, and to its access rules",
    )


def _device_fault(reason: Exception, spec: LinkSpec) -> LinkFault:
    import errno

    number, text, device = _errno_of(reason), str(reason), spec.shown
    if sys.platform == "win32" or number is None:
        # pyserial on Windows hands on the text only; what is denied there is a port that somebody has open.
        if "FileNotFoundError" in text:
            number = errno.ENOENT
        elif "PermissionError" in text:
            number = errno.EBUSY
    if number in (errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.EIO):
        return LinkFault("absent", f"there is no port {device}; {_ports_here()}")
    if number in (errno.ENOTTY, errno.EISDIR, errno.ENOTDIR):
        return LinkFault("absent", f"{device} is no serial port; {_ports_here()}")
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK):
        look = "" if sys.platform == "win32" else f" (`fuser {device}` names it)"
        return LinkFault("busy", f"{device} is in use by another program{look}; end that one and try again")
    if number in (errno.EACCES, errno.EPERM):
        return LinkFault("permission", _who_may(device))
    if isinstance(reason, ValueError) or number in (errno.EINVAL, errno.ERANGE):
        return LinkFault(
            "settings",
            f"{device} does not take {spec.speed} {spec.framing}; "
            "see what the device's console is set to, 9600 8N1 or 115200 8N1 as a rule",
        )
    return LinkFault("absent", f"{device} cannot be opened ({_first_line(reason)}); {_ports_here()}")


def _ports_here() -> str:
    try:
        ports = [device for device, _ in list_ports()]
    except Exception:  # whatever a driver does to the search, the fault itself is what counts
        ports = []
    if ports:
        return f"the ports of this machine are {', '.join(ports)}"
    return "this machine shows no serial port: plug the adapter in and look again"


def _who_may(device: str) -> str:
    group, mode = "", 0
    if sys.platform != "win32":
        import grp

        with contextlib.suppress(OSError, KeyError):
            status = os.stat(device)
            mode = status.st_mode
            group = grp.getgrgid(status.st_gid).gr_name
    if group and group != "root" and mode & 0o060 == 0o060:
        return (
            f"you may not open {device}: it belongs to group `{group}`; get yourself into it "
            f"(sudo usermod -aG {group} YOU), log out and in again, then try again"
        )
    owner = f" (group `{group}`)" if group else ""
    return f"you may not open {device}{owner}; ask whoever runs this machine for access to it"
