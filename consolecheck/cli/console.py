"""How commands reach a console: options, the secret, the guard, and a session that is recorded as it happens."""

import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck.cli.shared import STOPPED, UNKNOWN, USAGE, Stop, known_dialects, screen_of

if TYPE_CHECKING:
    from pathlib import Path

    from consolecheck.console.guard import Guard
    from consolecheck.job.conduct import Talk
    from consolecheck.job.drive import Captured, Conversation, Progress
    from consolecheck.job.folder import Folder, Job
    from consolecheck.reading.dialect import Dialect

ConsoleOption = Annotated[
    str | None,
    typer.Option(
        "--console",
        metavar="LINK",
        help="/dev/ttyUSB0, COM3, rfc2217://host:port, socket://host:port or ssh://user@host[:port].",
    ),
]
SpeedOption = Annotated[
    int | None,
    typer.Option(
        "--speed", metavar="BAUD", help="Line speed, else 9600 or the job's; others are tried where it gives no text."
    ),
]
FramingOption = Annotated[
    str | None, typer.Option("--framing", metavar="8N1", help="Data bits, parity, stop bits, if not 8N1.")
]
UserOption = Annotated[
    str | None,
    typer.Option(
        "--user",
        metavar="NAME",
        help="Login name at the console; the password is asked for, or taken from CONSOLECHECK_PASSWORD.",
    ),
]
USUAL_SPEED, USUAL_FRAMING = 9600, "8N1"


class LaptopClock:
    """The time of this machine."""

    def seconds(self) -> float:
        """Of a clock that only goes forward."""
        return time.monotonic()

    def epoch(self) -> float:
        """Since 1970."""
        return time.time()

    def wait(self, seconds: float) -> None:
        time.sleep(seconds)


def chosen_dialect(name: str | None, folder: str | None = None) -> "Dialect":
    if name == UNKNOWN:
        raise Stop(
            f"--dialect {UNKNOWN} is for captured text: only a dialect knows which commands are safe to type", USAGE
        )
    known, chosen = known_dialects(name, folder)
    if chosen is None:
        raise Stop(
            f"name the device family with --dialect ({', '.join(d.name for d in known)}): only its listed commands are sent",
            USAGE,
        )
    guard_of(chosen, None, None)  # refused before anything is made
    return chosen


def guard_of(dialect: "Dialect", user: str | None, password: str | None) -> "Guard":
    from consolecheck.console.guard import Guard, NotAllowed

    if dialect.origin is not None:
        _refuse_doubtful_commands(dialect)
    try:
        return Guard(dialect, user, password)
    except NotAllowed:
        raise Stop("the login name or password has characters that cannot be typed at a console", USAGE) from None


def _refuse_doubtful_commands(dialect: "Dialect") -> None:
    from consolecheck.console.guard import not_known_to_only_read
    from consolecheck.files.shelf import dialects
    from consolecheck.reading.dialect import DialectFault

    try:
        doubtful = not_known_to_only_read(dialect.check(), dialects())
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None
    if doubtful is not None:
        raise Stop(
            f"`{doubtful}` of {dialect.file} is not known to only read, and a dialect that lists such a thing and is not "
            "shipped sends nothing: capture by hand, then judge with `replay`",
            USAGE,
        )


def show_what_would_be_sent(dialect: "Dialect") -> None:
    screen = screen_of()
    screen.line((f"to a `{dialect.name}` console nothing but this can be sent:", ""))
    for outgoing in guard_of(dialect, None, None).everything():
        screen.line((f"  {outgoing.purpose:<8} {outgoing.shown}", ""))
    screen.line(("  and, where the console asks for them, the login name and password that you give", ""))


def secret_of(prompt: str, user: str | None, line: str) -> str | None:
    """A password from the environment, the system's keyring if it is installed, or the person. Never an argument."""
    if (given := os.environ.get("CONSOLECHECK_PASSWORD")) is not None:
        return given
    try:
        import keyring

        if user and (kept := keyring.get_password("consolecheck", f"{user}@{line}")):
            return str(kept)
    except Exception:  # no keyring, a locked one, or none that works: the person is asked
        pass
    if not sys.stdin.isatty():
        return None
    import getpass

    try:
        return getpass.getpass(prompt)
    except EOFError:
        return None


def check_line(line: str, speed: int | None, framing: str | None) -> None:
    """Refuses a line that cannot be opened at all, before anything is made. Raises Stop."""
    from consolecheck.console.link import parse_link

    try:
        parse_link(line, speed=speed or USUAL_SPEED, framing=framing or USUAL_FRAMING)
    except ValueError as reason:
        raise Stop(str(reason), USAGE) from None


class Scrubbed:
    """A conversation whose text does not hold the password, which a console that is out of step echoes."""

    def __init__(self, talk: "Conversation", secret: str | None) -> None:
        self._talk = talk
        self._secret = secret.encode() if secret else b""

    @property
    def open(self) -> bool:
        return self._talk.open

    @property
    def over(self) -> str:
        return self._talk.over

    @property
    def over_by(self) -> str:
        return self._talk.over_by

    def capture(self, commands: Sequence[str], progress: "Callable[[Progress], None] | None" = None) -> "Captured":
        result = self._talk.capture(commands, progress)
        if self._secret:
            result = result._replace(text=result.text.replace(self._secret, b"*" * len(self._secret)))
        return result

    def idle(self, seconds: float) -> None:
        self._talk.idle(seconds)


def opener(folder: "Folder", dialect: "Dialect", job: "Job") -> "Callable[[str], AbstractContextManager[Talk]]":
    """Opens the job's console, recorded into its folder; asks for the password once. Raises LineLost, Stopped."""
    asked: list[str | None] = []
    over_ssh = job.line.startswith("ssh://")

    def secret() -> str | None:
        if not asked:
            wanted = job.user is not None and not over_ssh
            asked.append(secret_of(f"password of {job.user} at the console: ", job.user, job.line) if wanted else None)
        return asked[0]

    @contextmanager
    def opened(name: str) -> "Iterator[Talk]":
        from consolecheck.console.dialogue import USUAL_SPEEDS
        from consolecheck.console.link import LinkFault, open_link, parse_link
        from consolecheck.console.recorder import CannotRecord, Recorder
        from consolecheck.job.conduct import Halt, LineLost
        from consolecheck.job.drive import Conversation

        known = folder.job()  # the speed may have been found meanwhile
        spec = parse_link(known.line, speed=known.speed or USUAL_SPEED, framing=known.framing or USUAL_FRAMING)
        word = secret()
        guard = guard_of(dialect, known.user if not over_ssh else None, word)
        cast = recording(folder, name)
        try:
            secrets = [word] if word else []
            with Recorder(cast, f"{known.unit} {name}", time.monotonic, int(time.time()), secrets=secrets) as recorder:
                link = open_link(spec, password=lambda prompt: secret_of(prompt, None, known.line))
                try:
                    if note := getattr(link, "note", ""):
                        print(f"note: {note}", file=sys.stderr)
                    speeds = () if link.error_free or link.bits_per_second is None else USUAL_SPEEDS
                    talk = Conversation(link, dialect, guard, time.monotonic, recorder, speeds)
                    try:
                        yield Scrubbed(talk, word)
                    finally:
                        with suppress(LinkFault):  # what was asked for is here already
                            talk.leave()
                finally:
                    link.close()
        except LinkFault as fault:
            raise LineLost(str(fault)) from None
        except CannotRecord as fault:
            raise Halt("stopped", str(fault)) from None

    return opened


def recording(folder: "Folder", name: str) -> "Path":
    """Where a session is recorded; what an earlier one left is moved aside or stays, never lost."""
    if name == "before":
        return folder.make_room("before")
    if name == "after":
        return folder.make_room("after")
    number = 1
    while any((folder.path / f"{name}-{number}-line.{kind}").exists() for kind in ("cast", "txt")):
        number += 1
    return folder.path / f"{name}-{number}-line.cast"
