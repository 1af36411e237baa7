"""What every line has in common: what it carries, how it is named, and how it says that it cannot be used.

A link writes nothing but what a guard made; `writable` is the one door of all of them.
"""

from __future__ import annotations

import re
from typing import Final, Literal, NamedTuple, Protocol
from urllib.parse import urlsplit

from consolecheck.console.guard import Outgoing

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

SLOWEST: Final = 50  # zero is "hang up" to a serial port
FASTEST: Final = 10_000_000


def no_speed(speed: int) -> str:
    return f"{speed} is no speed of a serial line; give bits per second, such as 9600 or 115200"


def parse_link(text: str, *, speed: int = 9600, framing: str = "8N1") -> LinkSpec:
    """What a link's text says. Raises ValueError with a sentence."""
    framing = framing.upper()
    bits(framing)
    if not SLOWEST <= speed <= FASTEST:
        raise ValueError(no_speed(speed))
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


def bits(framing: str) -> tuple[int, str, int]:
    match = _FRAMING.fullmatch(framing)
    if match is None:
        raise ValueError(f"{framing!r} is no framing: give data bits, parity and stop bits, such as 8N1 or 7E1")
    return int(match[1]), match[2], int(match[3])


def line_seconds(count: int, bits_per_second: int, framing: str) -> float:
    """The least time so many characters need: start bit, data, parity and stop bits of each."""
    data, parity, stop = bits(framing)
    if count < 0 or bits_per_second <= 0:
        raise ValueError("a count of characters and a speed above zero are needed")
    return count * (1 + data + (parity != "N") + stop) / bits_per_second


def writable(outgoing: object) -> Outgoing:
    if type(outgoing) is not Outgoing:
        raise TypeError("a link writes nothing but what a guard made")
    return outgoing


QUOTED_AT_MOST: Final = 160


def quoted(said: bytes) -> str:
    """The last line that the far end said, fit for a message; empty if there is none."""
    lines = [line.strip() for line in re.split(r"[\r\n]+", said.decode("ascii", "replace")) if line.strip()]
    return "".join(char for char in lines[-1] if " " <= char <= "~")[:QUOTED_AT_MOST].strip() if lines else ""


def name_not_known(spec: LinkSpec) -> LinkFault:
    return LinkFault("absent", f"the name {spec.host} is not known here; check the spelling, or give the address")


def connection_refused(spec: LinkSpec) -> LinkFault:
    port = f"port {spec.port}" if spec.port else "the ssh port"
    return LinkFault(
        "refused",
        f"{spec.host} answers, but nothing listens on {port}; check the port number and that the service is on",
    )


def no_answer(spec: LinkSpec) -> LinkFault:
    return LinkFault(
        "absent", f"{spec.host} does not answer; check the address, the cable and the network between, then try again"
    )
