"""What the commands of a live job show while they work: progress to standard error, what counts to standard output."""

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from consolecheck.cli.shared import raw_lines, screen_of

if TYPE_CHECKING:
    from consolecheck.job.drive import Progress
    from consolecheck.judging.clearance import Clearance
    from consolecheck.judging.settling import Settling
    from consolecheck.records.watching import Notice, Picture
    from consolecheck.reporting.settling import SettlingShown
    from consolecheck.reporting.watching import Watching


class OnScreen:
    """The one that a person looks at."""

    def __init__(self, bits_per_second: int | None = None) -> None:
        self._bits = bits_per_second
        self._command = ""
        self._watching: Watching | None = None
        self._settling: SettlingShown | None = None

    def progress(self, progress: "Progress") -> None:
        """One line that renews itself, or a line a command in a pipe."""
        seconds = f", {progress.bytes * 10 / self._bits:.0f} s of line time" if self._bits else ""
        again = f", reading {progress.reading}" if progress.reading > 1 else ""
        line = f"{progress.number}/{progress.of} {progress.command}{again}: {progress.bytes} bytes{seconds}"
        if sys.stderr.isatty():
            end = "" if progress.number < progress.of else "\r"
            print(f"\r{line:<79.79}", end=end, file=sys.stderr, flush=True)
        elif self._command != progress.command:
            self._command = progress.command
            print(f"{progress.number}/{progress.of} {progress.command}", file=sys.stderr)

    def clearance(self, told: "Clearance", text: bytes) -> None:
        from consolecheck.reporting.clearing import show_clearance

        show_clearance(screen_of(), told, raw_lines(text))

    def watching(self, picture: "Picture", notices: "Sequence[Notice]", at: str) -> None:
        if self._watching is None:
            from consolecheck.reporting.watching import Watching

            self._watching = Watching(sys.stdout, sys.stdout.isatty())
            self._watching.begin()
        self._watching.show(picture, notices, at[11:19])

    def settling(self, found: "Settling", elapsed: float, longest: float, notices: "Sequence[Notice]", at: str) -> None:
        from consolecheck.reporting.settling import SettlingShown
        from consolecheck.reporting.watching import notice_line

        self.end_watching()
        if self._settling is None:
            self._settling = SettlingShown(sys.stderr, sys.stderr.isatty(), 80)
        if notices:
            self._settling.notices([notice_line(n, at[11:19]) for n in notices], any(n.urgent for n in notices))
        self._settling.show(found, elapsed, longest)

    def note(self, text: str) -> None:
        from consolecheck.reporting.safe import safe

        self.end()
        print(f"note: {safe(text)}", file=sys.stderr)

    def end_watching(self) -> None:
        if self._watching is not None:
            self._watching.end()
            self._watching = None

    def end(self) -> None:
        """Gives the terminal back, however the work ends."""
        self.end_watching()
        if self._settling is not None:
            self._settling.end()
            self._settling = None
