"""The line to a device: a serial port, a serial port behind the network, or the system's own ssh client.

A link carries bytes and nothing else. It writes only what a `Guard` made, never sends a break, and tells what
went wrong in words for the person at the rack (`LinkFault`).

ssh:// is the OpenSSH client of the system in a pseudo-terminal, so the user's configuration, agent, jump hosts,
hardware keys and known hosts work because it is their client; only strict host keys, one password prompt and the
keepalive are held, before any option of the user. A local command that prints a random mark once the login is done
divides what ssh itself says from what the device says: no text of a device is taken for ssh's, and no password of
ssh's is typed at a device's prompt. A shared connection of another session (ControlMaster) is not used: neither
mark nor keepalive would be ours.

On Windows ssh:// is refused and the serial and network ways are named. There is no pseudo-terminal to hold the
client's password prompt, and with plain pipes (-T) most devices give neither prompt nor echo, by which alone a
command and its reply are told apart. Serial ports, socket:// and rfc2217:// work there.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import socket
import sys
import threading
import time
import warnings
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, Literal, NamedTuple, Protocol, cast
from urllib.parse import urlsplit

from consolecheck.console.guard import Outgoing

if TYPE_CHECKING:
    import pexpect
    from serial import Serial

FaultKind = Literal[
    "absent",  # no such port or host, or it does not answer
    "busy",  # somebody else holds the line
    "permission",  # this user may not open the device file
    "lost",  # it was open and is gone
    "refused",  # the far end turned the connection down before a login
    "unknown-key",
    "changed-key",
    "password",  # the login was refused, or a secret was asked for and not given
    "settings",  # the two ends share no speed, framing or algorithm
    "unsupported",
]


class LinkFault(Exception):
    """The line cannot be used. The message says what happened and what to do next."""

    def __init__(self, kind: FaultKind, message: str) -> None:
        self.kind: FaultKind = kind
        super().__init__(message)


class Link(Protocol):
    """A line of bytes. `error_free` where the transport guards each byte up to the device itself."""

    name: str
    error_free: bool
    bits_per_second: int | None

    def read(self, timeout: float) -> bytes:
        """Whatever is there, waiting at most so many seconds; b"" if nothing came. Raises LinkFault("lost")."""

    def write(self, outgoing: Outgoing) -> None:
        """Sends what a guard made; TypeError for anything else."""

    def set_speed(self, bits_per_second: int) -> None:
        """Changes the speed of the line; LinkFault("unsupported") where this link cannot."""

    def close(self) -> None:
        """Ends the link; a second time does nothing."""


class LinkSpec(NamedTuple):
    """What a link's text says. `shown` holds no secret."""

    kind: Literal["serial", "socket", "rfc2217", "ssh"]
    shown: str
    device: str = ""
    host: str = ""
    port: int | None = None
    user: str | None = None
    speed: int = 9600
    framing: str = "8N1"


_FORMS: Final = "/dev/ttyUSB0, COM3, rfc2217://host:port, socket://host:port or ssh://user@host"
_FRAMING: Final = re.compile(r"([5-8])([NEO])([12])")
_WINDOWS_PORT: Final = re.compile(r"COM[1-9][0-9]{0,2}", re.IGNORECASE)
_HOST: Final = re.compile(r"(?!-)[A-Za-z0-9._-]+|[0-9A-Fa-f:]*:[0-9A-Fa-f:.]*(%[A-Za-z0-9._-]+)?")
_USER: Final = re.compile(r"(?!-)[A-Za-z0-9._+\\-]+")

_SLOWEST: Final = 50  # zero is "hang up" to a serial port
_FASTEST: Final = 10_000_000


def _no_speed(speed: int) -> str:
    return f"{speed} is no speed of a serial line; give bits per second, such as 9600 or 115200"


def parse_link(text: str, *, speed: int = 9600, framing: str = "8N1") -> LinkSpec:
    """What a link's text says. Raises ValueError with a sentence."""
    framing = framing.upper()
    _bits(framing)
    if not _SLOWEST <= speed <= _FASTEST:
        raise ValueError(_no_speed(speed))
    # A password may stand before an @; it never gets into a message.
    shown = re.sub(r"(?s)(^|://).*@", r"\1...@", text)
    if not text or not text.isprintable() or " " in text:
        raise ValueError(f"{shown!r} is no link: give {_FORMS}")
    if "://" not in text:
        if not (text.startswith("/") or _WINDOWS_PORT.fullmatch(text)):
            raise ValueError(f"`{shown}` is no link: give {_FORMS}")
        return LinkSpec("serial", text, device=text, speed=speed, framing=framing)
    scheme = text.partition("://")[0].lower()
    try:
        parts = urlsplit(text)
        host, port, user, password = parts.hostname or "", parts.port, parts.username, parts.password
        host = parts.netloc.rpartition("@")[2].partition(":")[0] if ":" not in host else host  # as it was spelt
    except ValueError:
        raise ValueError(f"`{shown}` is no link: its host or port cannot be read; give {_FORMS}") from None
    if password is not None:
        raise ValueError("a password does not belong into a link's text: leave it away, it is asked for when needed")
    if scheme not in ("socket", "rfc2217", "ssh"):
        raise ValueError(f"`{scheme}://` is no kind of link that is known here; give {_FORMS}")
    if not _HOST.fullmatch(host) or parts.path not in ("", "/") or parts.query or parts.fragment:
        raise ValueError(f"`{shown}` is no link: after {scheme}:// stands a host and a port and nothing else")
    if port == 0 or (port is None and scheme != "ssh"):
        raise ValueError(f"`{shown}` lacks the port: give {scheme}://host:port, as the console server lists it")
    at = f"[{host}]" if ":" in host else host
    if scheme == "ssh":
        if user is not None and not _USER.fullmatch(user):
            raise ValueError("the login name of this ssh:// link cannot be read; give ssh://user@host")
        shown = f"ssh://{user + '@' if user else ''}{at}{f':{port}' if port else ''}"
        return LinkSpec("ssh", shown, host=host, port=port, user=user, speed=speed, framing=framing)
    if user is not None:
        raise ValueError(f"{scheme}:// takes no login name; give {scheme}://host:port")
    kind: Literal["socket", "rfc2217"] = "socket" if scheme == "socket" else "rfc2217"
    return LinkSpec(kind, f"{scheme}://{at}:{port}", host=host, port=port, speed=speed, framing=framing)


def _bits(framing: str) -> tuple[int, str, int]:
    match = _FRAMING.fullmatch(framing)
    if match is None:
        raise ValueError(f"{framing!r} is no framing: give data bits, parity and stop bits, such as 8N1 or 7E1")
    return int(match[1]), match[2], int(match[3])


def line_seconds(count: int, bits_per_second: int, framing: str) -> float:
    """The least time so many characters need: start bit, data, parity and stop bits of each."""
    data, parity, stop = _bits(framing)
    if count < 0 or bits_per_second <= 0:
        raise ValueError("a count of characters and a speed above zero are needed")
    return count * (1 + data + (parity != "N") + stop) / bits_per_second


def list_ports() -> list[tuple[str, str]]:
    """The serial ports of this machine: device and description."""
    from serial.tools.list_ports import comports

    return sorted((port.device, "" if port.description == "n/a" else port.description) for port in comports())


def open_link(
    spec: LinkSpec,
    *,
    ssh_options: Sequence[str] = (),
    password: Callable[[str], str | None] | None = None,
) -> _SerialLink | _SshLink:
    """The open line. `password` is asked at most once, with the ssh client's own prompt. Raises LinkFault."""
    if spec.kind == "ssh":
        return _open_ssh(spec, ssh_options, password)
    return _open_serial(spec)


def _writable(outgoing: object) -> Outgoing:
    if type(outgoing) is not Outgoing:
        raise TypeError("a link writes nothing but what a guard made")
    return outgoing


_QUOTED_AT_MOST: Final = 160


def _quoted(said: bytes) -> str:
    """The last line that the far end said, fit for a message; empty if there is none."""
    lines = [line.strip() for line in re.split(r"[\r\n]+", said.decode("ascii", "replace")) if line.strip()]
    return "".join(char for char in lines[-1] if " " <= char <= "~")[:_QUOTED_AT_MOST].strip() if lines else ""


# Serial ports, near and behind a network


class _SerialLink:
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
        data = _writable(outgoing).data
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
        if not _SLOWEST <= bits_per_second <= _FASTEST:
            raise LinkFault("settings", _no_speed(bits_per_second))
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
        said = "" if self._spoken or len(self._heard) > _FEW_WORDS else _quoted(self._heard)
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
    return str(reason).partition("\n")[0][:_QUOTED_AT_MOST]


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


def _open_serial(spec: LinkSpec) -> _SerialLink:
    import serial

    errors = _port_errors()
    data, parity, stop = _bits(spec.framing)
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
    return _SerialLink(port, spec, errors)


def _in_force(port: Serial, spec: LinkSpec) -> None:
    """Raises ValueError where the system took a setting and did not keep it, as a driver may without a word."""
    if spec.kind != "serial" or sys.platform == "win32":
        return
    import termios

    data, parity, stop = _bits(spec.framing)
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
    said = _quoted(port.left_over()) if hasattr(port, "left_over") else ""
    context = reason.__context__
    if isinstance(context, socket.gaierror):
        return _name_not_known(spec)
    if isinstance(context, ConnectionRefusedError):
        return _connection_refused(spec)
    if isinstance(context, OSError) and "open port" in str(reason):
        return _no_answer(spec)
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


def _name_not_known(spec: LinkSpec) -> LinkFault:
    return LinkFault("absent", f"the name {spec.host} is not known here; check the spelling, or give the address")


def _connection_refused(spec: LinkSpec) -> LinkFault:
    port = f"port {spec.port}" if spec.port else "the ssh port"
    return LinkFault(
        "refused",
        f"{spec.host} answers, but nothing listens on {port}; check the port number and that the service is on",
    )


def _no_answer(spec: LinkSpec) -> LinkFault:
    return LinkFault(
        "absent", f"{spec.host} does not answer; check the address, the cable and the network between, then try again"
    )


# ssh

_HELD: Final = (
    *("-tt", "-e", "none"),
    *("-o", "StrictHostKeyChecking=yes"),
    *("-o", "NumberOfPasswordPrompts=1"),
    *("-o", "ServerAliveInterval=5", "-o", "ServerAliveCountMax=2"),
    *("-o", "ConnectTimeout=10"),
    *("-o", "ControlMaster=no", "-o", "ControlPath=none"),
    *("-o", "PermitLocalCommand=yes"),
    *("-o", "RemoteCommand=none"),  # nothing is sent but what a guard made
)
"""ssh takes the first value it finds: these stand before the user's own."""
_WITH_VALUE: Final = frozenset(("-o", "-F", "-i", "-J", "-I", "-b", "-B", "-c", "-m"))
_ALONE: Final = frozenset(("-4", "-6", "-A", "-a", "-C", "-K", "-k"))
_LOGIN_SECONDS: Final = 60.0
_ROWS_AND_COLUMNS: Final = (500, 250)
"""High, so that a device that asks pages little; wide, so that it does not break a command's echo."""


class _SshLink:
    error_free = True
    bits_per_second: int | None = None
    note = ""

    def __init__(self, child: pexpect.spawn[bytes], spec: LinkSpec, pending: bytes) -> None:
        self.name = spec.shown
        self._child = child
        self._pending = pending
        self._heard = pending
        self._gone: LinkFault | None = None

    def read(self, timeout: float) -> bytes:
        import pexpect

        if self._pending:
            data, self._pending = self._pending, b""
            return data
        if self._gone is not None:
            raise self._gone
        try:
            data = self._child.read_nonblocking(65536, max(timeout, 0))
        except pexpect.TIMEOUT:
            return b""
        except (pexpect.EOF, OSError, ValueError):
            raise self._lost() from None
        self._heard = (self._heard + data)[-_QUOTED_AT_MOST * 2 :]
        return data

    def write(self, outgoing: Outgoing) -> None:
        data = _writable(outgoing).data
        if self._gone is not None:
            raise self._gone
        try:
            while data:
                data = data[os.write(self._child.child_fd, data) :]
        except OSError:
            raise self._lost() from None

    def set_speed(self, bits_per_second: int) -> None:
        raise LinkFault("unsupported", f"{self.name} has no line speed; leave the speed away with ssh://")

    def close(self) -> None:
        if self._gone is None:
            self._gone = LinkFault("lost", f"{self.name} was closed here; open it anew")
        self._pending = b""
        _end(self._child)

    def _lost(self) -> LinkFault:
        said = _quoted(self._heard)
        why = f" (the last line was `{said}`)" if said else ""
        self._gone = LinkFault(
            "lost",
            f"the connection to {self.name} ended{why}; what was read so far is kept: "
            "see whether the device or the network went down, then start again",
        )
        self.close()
        return self._gone


def _end(child: pexpect.spawn[bytes]) -> None:
    import pexpect

    with contextlib.suppress(pexpect.ExceptionPexpect, OSError):
        child.close(force=True)


def _fitting(options: Sequence[str]) -> list[str]:
    """The options, if each is one that cannot change where to, or send something. A bare word would be the host, and
    the host then a command for it."""
    rest = list(options)
    while rest:
        option = rest.pop(0)
        if option in _ALONE or (option[:2] in _WITH_VALUE and len(option) > 2):
            continue
        if option not in _WITH_VALUE or not rest:
            raise LinkFault(
                "unsupported",
                f"the ssh option `{option}` cannot be used here; give -o NAME=VALUE, or -F, -i or -J with a value",
            )
        rest.pop(0)
    return list(options)


def _open_ssh(spec: LinkSpec, options: Sequence[str], password: Callable[[str], str | None] | None) -> _SshLink:
    import pexpect

    if not hasattr(pexpect, "spawn"):
        raise LinkFault(
            "unsupported",
            "ssh:// does not work on Windows; use the console port (COM3), socket://host:port or rfc2217://host:port, "
            "or capture the session with your own ssh program and have the file judged",
        )
    mark = secrets.token_hex(16)
    arguments = [*_HELD, "-o", f"LocalCommand=echo {mark}", *_fitting(options)]
    if spec.port is not None:
        arguments += ["-p", str(spec.port)]
    arguments += ["--", f"{spec.user}@{spec.host}" if spec.user else spec.host]
    try:
        child: pexpect.spawn[bytes] = pexpect.spawn(
            "ssh",
            arguments,
            timeout=None,
            maxread=65536,
            env={**os.environ, "TERM": "vt100"},
            dimensions=_ROWS_AND_COLUMNS,
        )
    except (pexpect.ExceptionPexpect, OSError):
        raise LinkFault(
            "unsupported", "the ssh client was not found on this machine; install OpenSSH's client, then try again"
        ) from None
    child.delaybeforesend = None
    try:
        return _SshLink(child, spec, _logged_in(child, spec, mark, password))
    except BaseException:
        _end(child)
        raise


def _logged_in(
    child: pexpect.spawn[bytes], spec: LinkSpec, mark: str, password: Callable[[str], str | None] | None
) -> bytes:
    """Waits for the mark, answering one prompt; what the device said right after it. Raises LinkFault."""
    import pexpect

    marked = re.compile(rb"(?:^|\n)" + mark.encode() + rb"\r?\n")
    said, answered = b"", False
    until = time.monotonic() + _LOGIN_SECONDS
    while True:
        try:
            said += child.read_nonblocking(65536, 0.1)
        except pexpect.EOF:
            raise _ssh_fault(said, spec, answered) from None
        except pexpect.TIMEOUT:
            # A prompt is a line that stays open while the terminal does not echo: a banner that looks like one is
            # not answered.
            prompt = _quoted(re.split(rb"[\r\n]", said)[-1])
            if prompt and not _echoes(child):
                if answered:
                    raise _login_refused(spec, f"ssh asked again (`{prompt}`)") from None
                secret = password(prompt) if password is not None else None
                if secret is None:
                    raise LinkFault(
                        "password",
                        f"ssh asks `{prompt}` for {spec.shown} and was given no answer; "
                        "give the password when asked, or set up a key or an agent",
                    ) from None
                if not secret.isprintable():
                    raise LinkFault(
                        "password", "the password holds characters that cannot be typed; it was not sent"
                    ) from None
                _typed(child, secret, spec)
                said, answered = b"", True
                until = time.monotonic() + _LOGIN_SECONDS
        if found := marked.search(said):
            _until_raw(child)
            return said[found.end() :]
        if time.monotonic() > until:
            waits = f" (its last line: `{_quoted(said)}`)" if _quoted(said) else ""
            raise LinkFault(
                "absent",
                f"ssh did not get through to {spec.shown} within {_LOGIN_SECONDS:.0f} seconds{waits}; "
                f"see what `{_by_hand(spec)}` does in a terminal",
            )
        said = said[-65536:]


def _typed(child: pexpect.spawn[bytes], secret: str, spec: LinkSpec) -> None:
    try:
        child.send(secret.encode() + b"\n")
    except OSError:
        raise LinkFault("refused", f"ssh ended while {spec.shown} was waiting for the password; try again") from None


def _echoes(child: pexpect.spawn[bytes]) -> bool:
    try:
        return child.getecho()
    except Exception:  # termios.error, where the client has just ended
        return True


def _until_raw(child: pexpect.spawn[bytes]) -> None:
    """Waits till ssh has taken the terminal over; before, a carriage return would be changed and echoed here."""
    until = time.monotonic() + 2
    while _echoes(child) and child.isalive() and time.monotonic() < until:
        time.sleep(0.002)


def _by_hand(spec: LinkSpec) -> str:
    return f"ssh {f'-p {spec.port} ' if spec.port else ''}{f'{spec.user}@' if spec.user else ''}{spec.host}"


def _login_refused(spec: LinkSpec, why: str) -> LinkFault:
    return LinkFault(
        "password",
        f"{spec.shown} refused the login: {why}; it was not tried again, since some devices lock a login after "
        "a few attempts: check name, password and key",
    )


def _ssh_fault(said: bytes, spec: LinkSpec, answered: bool) -> LinkFault:
    """What ssh gave as its reason; it ends with 255 whatever it was, so its words decide."""
    text = said.decode("utf-8", "replace")
    low = text.lower()
    print_ = re.search(r"SHA256:[A-Za-z0-9+/]{20,64}", text)
    now = f" (now {print_[0]})" if print_ else ""
    if "remote host identification has changed" in low or "revoked host key" in low:
        return LinkFault(
            "changed-key",
            f"the host key of {spec.host} is not the one known for it{now}: the device was replaced or set up anew, "
            "or somebody stands in between; nothing was sent. Compare the fingerprint with the one the device shows "
            "at its own console, and only if they agree remove the old key with ssh-keygen -R",
        )
    if "host key is known for" in low or "host key verification failed" in low or "(yes/no" in low:
        return LinkFault(
            "unknown-key",
            f"the host key of {spec.host} is not known to ssh here; nothing was sent. Run `{_by_hand(spec)}` yourself, "
            "compare the fingerprint it shows with the one the device shows at its own console, and answer yes "
            "only if they agree; then try again",
        )
    if "permission denied" in low or "too many authentication failures" in low:
        last = _quoted(said)
        return _login_refused(spec, f"`{last}`" if answered else f"`{last}`, no password was asked for")
    if "connection refused" in low:
        return _connection_refused(spec)
    if "could not resolve hostname" in low:
        return _name_not_known(spec)
    if "no matching" in low and "found" in low:
        return LinkFault(
            "settings",
            f"ssh and {spec.host} share no algorithm (`{_quoted(said)}`), as with old devices; allow the old one "
            "for this host in your ssh configuration, or use the console port",
        )
    if "timed out" in low or "no route to host" in low or "network is unreachable" in low:
        return _no_answer(spec)
    return LinkFault(
        "refused",
        f"ssh ended before {spec.shown} was reached (`{_quoted(said) or 'no reason given'}`); "
        f"see what `{_by_hand(spec)}` does in a terminal",
    )
