"""The line to a device: a serial port, a serial port behind the network, or the system's own ssh client.

A link carries bytes and nothing else. It writes only what a `Guard` made, never sends a break, and tells what
went wrong in words for the person at the rack (`LinkFault`).
"""

from collections.abc import Callable, Sequence

from consolecheck.console.serial_line import SerialLink, list_ports, open_serial
from consolecheck.console.ssh_line import SshLink, open_ssh
from consolecheck.console.wire import Link, LinkFault, LinkSpec, line_seconds, parse_link

__all__ = ["Link", "LinkFault", "LinkSpec", "line_seconds", "list_ports", "open_link", "parse_link"]


def open_link(
    spec: LinkSpec,
    *,
    ssh_options: Sequence[str] = (),
    password: Callable[[str], str | None] | None = None,
) -> SerialLink | SshLink:
    """The open line. `password` is asked at most once, with the ssh client's own prompt. Raises LinkFault."""
    if spec.kind == "ssh":
        return open_ssh(spec, ssh_options, password)
    return open_serial(spec)
