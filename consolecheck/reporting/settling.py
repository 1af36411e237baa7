"""What is told while the temperatures settle: one line that says how far they are and what they wait for."""

import textwrap
from collections.abc import Sequence
from typing import TextIO

from consolecheck.judging.settling import Course, Settling
from consolecheck.records.watching import Notice
from consolecheck.reporting.safe import safe
from consolecheck.reporting.watching import notice_line


def settling_line(found: Settling, elapsed: float, longest: float, ill: str = "") -> str:
    """What matters most first, for a line may be cut: how long, how long still, then which sensor is waited for.

    `settling 312 s, about 3 min more: 5 of 6 sensors settled; psu-2 ends at about 41.9 °C (...); 2700 s at most`
    """
    line = f"settling {elapsed:.0f} s"
    if ill:
        return f"{line}: {safe(ill)}; see to it, or the wait ends soon"
    if not found.courses:
        return f"{line}: no sample counts yet"
    if (wait := found.wait) > 20:
        line += f", about {max(round(wait / 60), 1)} min more"
    line += f": {sum(c.state == 'settled' for c in found.courses)} of {len(found.courses)} sensors settled"
    if found.unrest:
        line += f"; {found.unrest}"
    elif waiting := [c for c in found.courses if c.state != "settled"]:
        last = max(waiting, key=lambda c: c.wait or 0.0)
        ends = f" ends at about {last.end:.1f} °C" if last.end is not None and last.state == "moving" else ""
        line += f"; {_name(last)}{ends} ({last.why})"
    return f"{line}; {longest:.0f} s at most"


def _name(course: Course) -> str:
    return safe(course.name or course.unit or "sensor")


class SettlingShown:
    """Renews one line in a terminal; elsewhere writes a line each minute."""

    def __init__(self, stream: TextIO, is_terminal: bool, width: int, every: float = 60.0) -> None:
        self._stream, self._is_terminal, self._width, self._every = stream, is_terminal, width, every
        self._due = 0.0

    def show(
        self,
        found: Settling,
        elapsed: float,
        longest: float,
        notices: Sequence[Notice] = (),
        clock_text: str = "",
        ill: str = "",
    ) -> None:
        """One look, below what happened since the last one; rings where somebody has to act."""
        line, room = settling_line(found, elapsed, longest, ill), self._width - 1
        if self._is_terminal:
            self.end()
            for notice in notices:
                head = f"{clock_text} {'!' if notice.urgent else ' '} "
                folded = textwrap.wrap(head + safe(notice.message), room, subsequent_indent=" " * len(head))
                self._stream.write("\n".join(folded) + ("\a\n" if notice.urgent else "\n"))
            self._stream.write(line if len(line) <= room else line[: room - 1] + "…")
        else:
            self._stream.writelines(notice_line(notice, clock_text) + "\n" for notice in notices)
            if elapsed >= self._due or found.settled:
                self._due = elapsed + self._every
                self._stream.write(line + "\n")
        self._stream.flush()

    def end(self) -> None:
        """Takes the line away: what comes next says how it ended."""
        if self._is_terminal:
            self._stream.write(f"\r{'':<{self._width - 1}}\r")
            self._stream.flush()
