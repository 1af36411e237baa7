"""The loop between a line and a dialogue: the only module that waits.

It reads what arrives, records it before anything else looks at it, lets the dialogue say what to do, and
does it. On a line that can err every command is asked until two readings agree.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from consolecheck.console.agree import disagreement, usable
from consolecheck.console.dialogue import (
    LONGEST_WAIT,
    USUAL_SPEEDS,
    Action,
    Dialogue,
    Left,
    Ready,
    Refusal,
    Reply,
    Send,
    SetSpeed,
)
from consolecheck.console.guard import Guard, Outgoing
from consolecheck.job.folder import break_mark
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.readings import Snapshot

IDLE_LOOK = 0.2
"""Seconds between two looks at a line while nothing is asked."""
MOST_READINGS = 4
"""How often a command is asked before its readings are given up to disagree."""


class Line(Protocol):
    """What the loop needs of a link."""

    error_free: bool
    bits_per_second: int | None

    def read(self, timeout: float) -> bytes: ...

    def write(self, outgoing: Outgoing) -> None: ...

    def set_speed(self, bits_per_second: int) -> None: ...


class Listener(Protocol):
    """What is told of everything that passes: the recorder, and a test."""

    def received(self, data: bytes) -> None: ...

    def sent(self, outgoing: Outgoing) -> None: ...


class Progress(NamedTuple):
    """How far a capture is, for the person who waits."""

    command: str
    number: int
    of: int
    reading: int
    bytes: int


class Captured(NamedTuple):
    """What a session gave: the text to read, and why it is not whole, if it is not."""

    text: bytes
    refusal: Refusal | None
    notes: tuple[str, ...]
    speed: int | None


class Stopped(Exception):
    """The talk ended before the first reply. `refusal` says why and what to do."""

    def __init__(self, refusal: Refusal) -> None:
        self.refusal = refusal
        super().__init__(refusal.message)


class Conversation:
    """An open talk with a console, in which sets of commands can be asked as often as wanted.

    Raises Stopped where the console could not be talked to at all; a line that fails raises what the
    link raises. After a refusal in the middle it is over: `open` says so.
    """

    def __init__(
        self,
        line: Line,
        dialect: Dialect,
        guard: Guard,
        clock: Callable[[], float],
        listener: Listener | None = None,
        speeds: Sequence[int] = (),
        most_readings: int = MOST_READINGS,
    ) -> None:
        self.line, self.dialect, self.most_readings = line, dialect, most_readings
        self.talk = Dialogue(guard, line.bits_per_second, speeds)
        self._session = _Session(line, self.talk, clock, listener)
        self.prompt = self._session.until_ready().raw_prompt
        self.open = True
        self._asking = False
        self.over = self.over_by = ""
        """Why it is not open any more, where the console ended it, and the kind of that refusal."""

    def capture(self, commands: Sequence[str], progress: Callable[[Progress], None] | None = None) -> Captured:
        """Asks every command and gives the text, from a prompt to the last one.

        What was captured before a refusal is in the result, closed by a `break_mark`, and everything is
        recorded.
        """
        text = bytearray(self.prompt)
        notes: list[str] = []
        for number, command in enumerate(commands, 1):
            kept: list[tuple[bytes, Snapshot | None]] = []
            for reading in range(1, self.most_readings + 1):
                self._session.tell = _teller(progress, command, number, len(commands), reading)
                self._asking = True
                reply, refusal = self._session.ask(command)
                self._asking = False
                if reply.note and reply.note not in notes:
                    notes.append(reply.note)
                if refusal is not None:
                    self._end(refusal)
                    text += reply.raw + break_mark(f"the capture broke off in `{command}`: {refusal.kind}")
                    return Captured(bytes(text), refusal, tuple(notes), self.talk.speed)
                if self.line.error_free:
                    kept = [(reply.raw, None)]
                    break
                kept.append((reply.raw, _snapshot(self.prompt + reply.raw, self.dialect)))
                if agreed := _two_that_agree(kept):
                    kept = [agreed]
                    break
            else:
                notes.append(f"`{command}` was read {self.most_readings} times and no two readings agree")
                kept = kept[-2:]  # both are kept, for people; the mark keeps any verdict from them
            for raw, _ in kept:
                text += raw
            if len(kept) > 1:
                text += break_mark(f"no two readings of `{command}` agree")
        return Captured(bytes(text), None, tuple(notes), self.talk.speed)

    def idle(self, seconds: float) -> None:
        """Lets time pass at the prompt, while what the console says unasked is recorded."""
        refusal = self._session.idle(seconds)
        if refusal is not None:  # such as a device that starts anew
            self._end(refusal)

    def _end(self, refusal: Refusal) -> None:
        self.open, self.over, self.over_by = False, refusal.message, refusal.kind

    def leave(self) -> None:
        """Ends the session, if this talk opened it and stands at the prompt: within an answer nothing is typed."""
        if self.open and not self._asking:
            self._session.leave()
        self.open = False


def capture(
    line: Line,
    dialect: Dialect,
    guard: Guard,
    commands: Sequence[str],
    clock: Callable[[], float],
    listener: Listener | None = None,
    speeds: Sequence[int] = (),
    progress: Callable[[Progress], None] | None = None,
    most_readings: int = MOST_READINGS,
) -> Captured:
    """One conversation with one set of commands: the session as text. Raises as Conversation does."""
    talk = Conversation(line, dialect, guard, clock, listener, speeds, most_readings)
    result = talk.capture(commands, progress)
    talk.leave()
    return result


def _snapshot(text: bytes, dialect: Dialect) -> Snapshot | None:
    try:
        return read_text(text, "reading", (dialect,), dialect)
    except NotRecognised:
        return None


def _two_that_agree(kept: list[tuple[bytes, Snapshot | None]]) -> tuple[bytes, Snapshot | None] | None:
    """The newest reading, if an earlier one says the same and both were wholly read."""
    raw, newest = kept[-1]
    if newest is None or not usable(newest):
        return None
    for _, earlier in kept[:-1]:
        if earlier is not None and usable(earlier) and not disagreement(earlier, newest):
            return raw, newest
    return None


def _teller(
    progress: Callable[[Progress], None] | None, command: str, number: int, of: int, reading: int
) -> Callable[[int], None]:
    def tell(received: int) -> None:
        if progress is not None:
            progress(Progress(command, number, of, reading, received))

    return tell


class _Session:
    """A dialogue on a line, step by step."""

    def __init__(self, line: Line, talk: Dialogue, clock: Callable[[], float], listener: Listener | None) -> None:
        self.line, self.talk, self.clock, self.listener = line, talk, clock, listener
        self.tell: Callable[[int], None] = lambda received: None

    def until_ready(self) -> Ready:
        for action in self._run(self.talk.start()):
            if isinstance(action, Ready):
                return action
            if isinstance(action, Refusal):
                raise Stopped(action)
        raise AssertionError("a dialogue ends with Ready or a Refusal")

    def ask(self, command: str) -> tuple[Reply, Refusal | None]:
        reply = Reply(command, b"", False, "")
        for action in self._run(self.talk.ask(command)):
            if isinstance(action, Reply):
                reply = action
                if action.complete:
                    return action, None
            elif isinstance(action, Refusal):
                return reply, action
        raise AssertionError("a command ends with a Reply or a Refusal")

    def idle(self, seconds: float) -> Refusal | None:
        until = self.clock() + seconds
        while (left := until - self.clock()) > 0:
            data = self.line.read(min(left, IDLE_LOOK))
            if data:
                if self.listener is not None:
                    self.listener.received(data)
                for action in self.talk.feed(data):
                    if isinstance(action, Refusal):
                        return action
        return None

    def leave(self) -> None:
        for action in self._run(self.talk.leave()):
            if isinstance(action, Left):
                return

    def _run(self, actions: list[Action]) -> "list[Action]":
        """Does what the dialogue says until it has something to tell."""
        received = 0
        while True:
            told: list[Action] = []
            for action in actions:
                if isinstance(action, Send):
                    if self.listener is not None:
                        self.listener.sent(action.outgoing)
                    self.line.write(action.outgoing)
                elif isinstance(action, SetSpeed):
                    self.line.set_speed(action.bits_per_second)
                else:
                    told.append(action)
            if told:
                return told
            before = self.clock()
            data = self.line.read(self.talk.wait)
            if data:
                if self.listener is not None:
                    self.listener.received(data)
                received += len(data)
                self.tell(received)
                actions = self.talk.feed(data)
            else:
                actions = self.talk.tick(max(self.clock() - before, 0.0))


def answering(line: Line, guard: Guard, clock: Callable[[], float], speeds: Sequence[int] = USUAL_SPEEDS) -> str:
    """At which speed a console answers a carriage return, in words; sends nothing else."""
    for speed in speeds:
        line.set_speed(speed)
        line.write(guard.carriage_return())
        heard = bytearray()
        until = clock() + ANSWER_WITHIN
        while clock() < until:
            heard += line.read(LONGEST_WAIT)
        if heard and sum(byte in _TEXT for byte in heard) >= 0.7 * len(heard):
            shown = heard.decode("ascii", "replace").split()
            return f"answers at {speed} baud" + (f" (`{' '.join(shown)[-40:]}`)" if shown else "")
    return "nothing answers; check cable and power"


ANSWER_WITHIN = 1.5
"""Seconds that a console may take to answer a carriage return. Common practice."""
_TEXT = frozenset((*range(0x20, 0x7F), 0x07, 0x08, 0x09, 0x0A, 0x0D, 0x1B))
