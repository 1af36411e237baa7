"""Who answers: a person at a terminal, key by key, or a file of answers where nobody sits there."""

import shutil
import sys
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from consolecheck.cli.shared import USAGE, Stop, near, say, screen_of

if TYPE_CHECKING:
    from consolecheck.job.cautions import Caution
    from consolecheck.job.questions import Question
    from consolecheck.judging.clearance import Clearance


class AtTerminal:
    """A person in front of it. A question with choices takes one key, without Enter."""

    def __init__(self, name: str, override: str | None = None) -> None:
        self.name = name
        self._override = override

    def answer(self, question: "Question") -> str:
        from consolecheck.job.questions import answer_of
        from consolecheck.reporting.clearing import hanging
        from consolecheck.reporting.safe import safe

        screen = screen_of()
        _forget_what_was_typed()
        screen.line()
        hanging(screen, "", safe(question.text), "bold")
        for choice in question.choices:
            hanging(screen, f"  {choice.key or 'Enter':>5}  ", safe(choice.label))
        while True:
            entered = self._typed() if question.typed else self._key()
            try:
                value = answer_of(question, entered)
            except ValueError as reason:  # which keys there are stands above
                told = (
                    str(reason) if question.typed else f"{str(reason).partition(';')[0]}: press one of the keys above"
                )
                hanging(screen, "  ", safe(told))
                continue
            if not question.typed or not entered:
                screen.line((f"  {safe(value)}", "dim"))
            return value

    def _typed(self) -> str:
        sys.stdout.write("  > ")
        sys.stdout.flush()
        with echo(True):
            line = sys.stdin.readline()
        if not line:
            raise KeyboardInterrupt
        return line.strip()

    def _key(self) -> str:
        import click

        try:
            key = click.getchar()
        except EOFError:
            key = ""
        if key in ("\x03", "\x04", ""):
            raise KeyboardInterrupt
        return "" if key in ("\r", "\n") else key

    def acknowledge(self, cautions: "Sequence[Caution]") -> None:
        from consolecheck.reporting.clearing import show_cautions

        screen = screen_of()

        def entered(told: str) -> None:
            _forget_what_was_typed()
            screen.line((told, "bold"))
            while self._key() != "":
                pass

        rows = shutil.get_terminal_size().lines - 3  # the heading, and what asks for Enter
        show_cautions(screen, cautions, rows, lambda: entered("Press Enter when you have read these; there are more."))
        entered("Press Enter when you have read them and will keep to them.")

    def reason(self, told: "Clearance") -> str | None:
        if self._override:
            return self._override
        screen = screen_of()
        _forget_what_was_typed()
        screen.line()
        screen.line(("To go on all the same, type the reason; it is kept in the job. Enter alone stops.", "bold"))
        return self._typed() or None


@contextmanager
def echo(on: bool) -> Iterator[None]:
    """Whether keys show as they are pressed: not while nothing is asked, where they would deface what is shown."""
    if sys.platform == "win32" or not sys.stdin.isatty():  # Windows shows no key before it is read
        yield
        return
    import termios

    kept = termios.tcgetattr(sys.stdin)
    mode = list(kept)
    mode[3] = mode[3] | termios.ECHO if on else mode[3] & ~termios.ECHO
    termios.tcsetattr(sys.stdin, termios.TCSANOW, mode)
    try:
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSANOW, kept)


def _forget_what_was_typed() -> None:
    """A key that was pressed while nothing was asked answers nothing: least of all that cautions were read."""
    if sys.platform == "win32":
        import msvcrt

        while msvcrt.kbhit():
            msvcrt.getwch()
    else:
        import termios

        termios.tcflush(sys.stdin, termios.TCIFLUSH)


class FromFile:
    """Answers in a TOML file, for work that nobody watches. What it does not answer could not be seen."""

    def __init__(self, text: str, source: str, name: str | None, override: str | None) -> None:
        import tomllib

        from consolecheck.judging.view import NOT_SEEN, OBSERVABLE

        try:
            data: dict[str, Any] = tomllib.loads(text)
        except tomllib.TOMLDecodeError as reason:
            raise Stop(f"{source} is not TOML: {reason}", USAGE) from None
        known = ["answers", "by", "cautions", "override"]
        for key in data:
            if key not in known:
                raise Stop(f"{source}: `{key}` is not known{near(key, known)}", USAGE)
        answers = data.get("answers", {})
        if not isinstance(answers, dict):
            raise Stop(f'{source}: answers must be a table, such as [answers] with "psu-2.serial" = "AB12"', USAGE)
        for key, value in answers.items():
            unit, dot, fact = str(key).rpartition(".")
            if not (dot and unit and fact in OBSERVABLE):
                raise Stop(
                    f"{source}: answers: `{key}` is not UNIT.FACT{near(fact or str(key), list(OBSERVABLE))}", USAGE
                )
            if not isinstance(value, str) or not value.strip():
                raise Stop(f"{source}: answers: `{key}` must be a text in quotes", USAGE)
            allowed = OBSERVABLE[fact]
            if allowed and value not in (*allowed, NOT_SEEN):
                raise Stop(
                    f"{source}: answers: `{value}` is no answer for `{key}`{near(value, [*allowed, NOT_SEEN])}", USAGE
                )
        for key in ("by", "cautions", "override"):
            if key in data and not isinstance(data[key], str):
                raise Stop(f"{source}: `{key}` must be a text in quotes", USAGE)
        if data.get("cautions", "acknowledged") != "acknowledged":
            raise Stop(f'{source}: cautions can only be "acknowledged"', USAGE)
        self.name = name or data.get("by") or "a file of answers"
        self._source, self._answers = source, {str(k).lower(): str(v) for k, v in answers.items()}
        self._acknowledged = "cautions" in data
        self._override: str | None = override or data.get("override")

    def answer(self, question: "Question") -> str:
        from consolecheck.job.questions import answer_of
        from consolecheck.judging.view import NOT_SEEN
        from consolecheck.reporting.safe import safe

        given = self._answers.get(question.id.lower(), NOT_SEEN)
        try:
            value = answer_of(question, given)
        except ValueError as reason:
            raise Stop(f"{self._source}: answers: {question.id}: {reason}", USAGE) from None
        screen_of().line((f"  {safe(question.id)}: {safe(value)}", ""))
        return value

    def acknowledge(self, cautions: "Sequence[Caution]") -> None:
        if not self._acknowledged:
            raise Stop(
                f'{self._source}: the cautions are not acknowledged, so the job stops here; write cautions = "acknowledged" '
                "once the person who does the work has read them (`consolecheck swap` in a terminal shows them)",
                USAGE,
            )
        from consolecheck.reporting.clearing import show_cautions

        show_cautions(screen_of(), cautions)

    def reason(self, told: "Clearance") -> str | None:
        return self._override

    def unused(self, answered: Collection[str]) -> None:
        """Tells which answers were asked for neither now nor earlier: a name that is not in this switch, perhaps."""
        if left := sorted(self._answers.keys() - {name.lower() for name in answered}):
            say(f"{self._source}: nobody asked for {', '.join(left)}")
