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


def tell(message: str) -> None:
    """What is said beside the report: on standard error, folded where that is a terminal."""
    from consolecheck.reporting.safe import safe

    lines = [safe(line) for line in message.split("\n")]
    if sys.stderr.isatty():
        import shutil
        import textwrap

        width = shutil.get_terminal_size().columns
        lines = [part for line in lines for part in textwrap.wrap(line, width, break_on_hyphens=False) or [""]]
    print("\n".join(lines), file=sys.stderr)


class OnScreen:
    """The one that a person looks at."""

    def __init__(self) -> None:
        self._command = ""
        self._open = 0
        """How many columns of a line that renews itself stand on the screen."""
        self._watching: Watching | None = None
        self._settling: SettlingShown | None = None

    def progress(self, progress: "Progress") -> None:
        """One line that renews itself and goes when it is done, or a line a command in a pipe."""
        again = f", reading {progress.reading}" if progress.reading > 1 else ""
        line = f"  {progress.number}/{progress.of} {progress.command}{again}: {progress.bytes} bytes"[:79]
        if sys.stderr.isatty():
            print(f"\r{line:<{self._open}}", end="", file=sys.stderr, flush=True)
            self._open = len(line)
        elif self._command != progress.command:
            self._command = progress.command
            print(f"{progress.number}/{progress.of} {progress.command}", file=sys.stderr)

    def clearance(self, told: "Clearance", text: bytes) -> None:
        from consolecheck.reporting.clearing import show_clearance

        self.end()
        show_clearance(screen_of(), told, raw_lines(text))

    def watching(self, picture: "Picture", notices: "Sequence[Notice]", at: str) -> None:
        if self._watching is None:
            from consolecheck.reporting.watching import Watching

            self.end()
            self._watching = Watching(sys.stdout, sys.stdout.isatty())
            self._watching.begin()
        self._watching.show(picture, notices, at[11:19])

    def settling(
        self, found: "Settling", elapsed: float, longest: float, notices: "Sequence[Notice]", at: str, ill: str
    ) -> None:
        from consolecheck.reporting.settling import SettlingShown

        if self._settling is None:
            import shutil

            self.end()
            self._settling = SettlingShown(sys.stderr, sys.stderr.isatty(), shutil.get_terminal_size().columns)
        self._settling.show(found, elapsed, longest, notices, at[11:19], ill)

    def note(self, text: str) -> None:
        self.end()
        tell(f"note: {text}")

    def end(self) -> None:
        """Gives the terminal back, however the work ends."""
        if self._open:
            print(f"\r{'':<{self._open}}\r", end="", file=sys.stderr, flush=True)
            self._open = 0
        if self._watching is not None:
            self._watching.end()
            self._watching = None
        if self._settling is not None:
            self._settling.end()
            self._settling = None
