"""What is told while the temperatures settle: one line that says how far they are and what they wait for."""

from collections.abc import Sequence
from typing import TextIO

from consolecheck.judging.settling import Course, Settling
from consolecheck.reporting.safe import safe


def settling_line(found: Settling, elapsed: float, longest: float) -> str:
    """`settling 312 s of at most 2700 s: 5 of 6 sensors settled; psu-2 83% of its change seen, ends at 41.9 °C`."""
    settled = [c for c in found.courses if c.state == "settled"]
    line = f"settling {elapsed:.0f} s of at most {longest:.0f} s: "
    if not found.courses:
        return line + "no temperature was read yet"
    line += f"{len(settled)} of {len(found.courses)} sensors settled"
    if found.unrest:
        return f"{line}; {found.unrest}"
    waiting = [c for c in found.courses if c.state != "settled"]
    if waiting:
        last = max(waiting, key=lambda c: c.wait or 0.0)
        line += f"; {_name(last)}: {last.why}"
        if last.end is not None and last.state == "moving":
            line += f", ends at about {last.end:.1f} °C"
        if last.wait and last.wait > 20:
            line += f"; about {max(round(last.wait / 60), 1)} min more"
    return line


def _name(course: Course) -> str:
    return safe(course.name or course.unit or "sensor")


class SettlingShown:
    """Renews one line in a terminal; elsewhere writes a line each minute."""

    def __init__(self, stream: TextIO, is_terminal: bool, width: int, every: float = 60.0) -> None:
        self._stream, self._is_terminal, self._width, self._every = stream, is_terminal, width, every
        self._due = 0.0
        self._open = False

    def show(self, found: Settling, elapsed: float, longest: float) -> None:
        """One look."""
        line = settling_line(found, elapsed, longest)
        if self._is_terminal:
            room = self._width - 1
            self._stream.write("\r" + (line if len(line) <= room else line[: room - 1] + "…").ljust(room))
            self._open = True
        elif elapsed >= self._due or found.settled:
            self._due = elapsed + self._every
            self._stream.write(line + "\n")
        self._stream.flush()

    def notices(self, lines: Sequence[str], urgent: bool) -> None:
        """What happened meanwhile, above the line."""
        self.end()
        for line in lines:
            self._stream.write(line + "\n")
        if urgent and self._is_terminal:
            self._stream.write("\a")
        self._stream.flush()

    def end(self) -> None:
        """Leaves the line standing."""
        if self._open:
            self._stream.write("\n")
            self._open = False
