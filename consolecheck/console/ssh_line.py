"""The system's own ssh client as a line.

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
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from consolecheck.console import wire
from consolecheck.console.guard import Outgoing
from consolecheck.console.wire import (
    QUOTED_AT_MOST,
    LinkFault,
    LinkSpec,
    connection_refused,
    name_not_known,
    no_answer,
    quoted,
)

if TYPE_CHECKING:
    import pexpect

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


class SshLink:
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
        self._heard = (self._heard + data)[-QUOTED_AT_MOST * 2 :]
        return data

    def write(self, outgoing: Outgoing) -> None:
        data = wire.writable(outgoing).data
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
        said = quoted(self._heard)
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


def open_ssh(spec: LinkSpec, options: Sequence[str], password: Callable[[str], str | None] | None) -> SshLink:
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
        return SshLink(child, spec, _logged_in(child, spec, mark, password))
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
            prompt = quoted(re.split(rb"[\r\n]", said)[-1])
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
            waits = f" (its last line: `{quoted(said)}`)" if quoted(said) else ""
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
        last = quoted(said)
        return _login_refused(spec, f"`{last}`" if answered else f"`{last}`, no password was asked for")
    if "connection refused" in low:
        return connection_refused(spec)
    if "could not resolve hostname" in low:
        return name_not_known(spec)
    if "no matching" in low and "found" in low:
        return LinkFault(
            "settings",
            f"ssh and {spec.host} share no algorithm (`{quoted(said)}`), as with old devices; allow the old one "
            "for this host in your ssh configuration, or use the console port",
        )
    if "timed out" in low or "no route to host" in low or "network is unreachable" in low:
        return no_answer(spec)
    return LinkFault(
        "refused",
        f"ssh ended before {spec.shown} was reached (`{quoted(said) or 'no reason given'}`); "
        f"see what `{_by_hand(spec)}` does in a terminal",
    )
