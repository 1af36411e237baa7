"""The talk with a console as a pure state machine: bytes and ticks in, things to do and events out.

It wakes the console, finds out what sits there, logs in where it was given the means, learns the prompt
by seeing it twice, turns the pager off for this session, and asks one listed command at a time. It types
nothing at a boot loader, in a configuration mode or into somebody else's work, and says so. What may be
typed at all is the guard's; when to type it is decided here. Nothing in here waits or knows the time:
`tick` says how many seconds went by without a byte.

An end of output is believed only if the echo of the command was seen, the last line is the learned
prompt and nothing else, and the line then stayed quiet. A prompt that only occurs in the output does not
end it, and a stale prompt from before does not either. Where a log message hides the prompt a carriage
return brings it back.
"""

import re
from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

from consolecheck.console.guard import Guard, Outgoing
from consolecheck.reading.screen import clean

SETTLE = 0.25
"""Seconds of quiet after which a last line is taken for finished. Common practice."""
LISTEN = 0.12
"""Seconds of listening before the first key, in which a device that is starting gives itself away."""
QUIET_CHARACTERS, LEAST_QUIET, QUIET_OFF_LINE = 16, 0.004, 0.03
"""A reply whose last line is the learned prompt and nothing else has ended after a quiet of so many
characters of line time, at least so many seconds; the last is for a link without a line speed."""
LONGEST_WAIT = 0.05
"""Seconds between two looks at a line that is quiet in the middle of something."""
WAIT_FOR_ANSWER = 3.0
"""Seconds that a console may take to answer a carriage return; a login may take as long to refuse."""
WAIT_AFTER_SECRET = 6.0
"""Seconds: a wrong login is answered after 2.5 to 3.6 s (measured with a real login program)."""
NO_ECHO_KNOWN = 1.5
"""Seconds of quiet that end a reply on a console that was found not to echo."""
NUDGE_AFTER = 8.0
"""Seconds of quiet within a reply after which a carriage return asks where the prompt is."""
MOST_NUDGES, MOST_WAKES, MOST_PAGES, MOST_LEARNING = 3, 4, 2000, 6
LARGEST_REPLY = 300_000
"""Bytes, and so line time: five minutes at 9600 baud. A reply that has no end is given up."""
GARBAGE = 0.30
USUAL_SPEEDS = (9600, 115200, 38400, 19200, 57600)


class Send(NamedTuple):
    """Write this."""

    outgoing: Outgoing


class SetSpeed(NamedTuple):
    """Set the line to this speed; what came before was noise."""

    bits_per_second: int


class Ready(NamedTuple):
    """The prompt is learned and the console answers: ask something."""

    prompt: str
    """As it shows, without trailing blanks."""
    raw_prompt: bytes
    """With the blank behind it, if there is one."""
    privileged: bool
    speed: int | None
    logged_in: bool


class Reply(NamedTuple):
    """What came back for a command, from its echo to the prompt, as received."""

    command: str
    raw: bytes
    complete: bool
    note: str


class Refusal(NamedTuple):
    """The talk ends here: what was found, and what to do next, in sentences."""

    kind: str
    message: str


class Left(NamedTuple):
    """The session was left as it was found."""


Action = Send | SetSpeed | Ready | Reply | Refusal | Left


class _Phase(Enum):
    LISTENING = "listening before the first key"
    WAKING = "waiting for any answer"
    NAMED = "login name sent"
    SECRET = "password sent"
    LEARNING = "seeing the prompt a second time"
    SETTING = "turning the pager off"
    IDLE = "at the prompt"
    ASKING = "waiting for a reply"
    OVER = "over"


SILENCE = (
    "the console is silent. Check in this order: the cable sits in the console port, not in the management port; "
    "the cable is the maker's kind (rollover or null-modem); the device has power; flow control is off on both sides; "
    "then try another speed with --speed"
)
_PROMPT_LIKE = re.compile(r"\S.{0,78}[>#$%\]~)] ?\Z")  # a colon asks for something, and is answered by nobody here
_BOOT_LIKE = re.compile(
    r"(?i)(?:.*hit any key to stop autoboot|.*\bboot(?:ing|loader| loader)\b|(?:u-boot|loader|rommon|grub)\b.*> ?$|=> ?$|.*memory test)"
)
_LAST_LOGIN = re.compile(
    r"(?i)last login|login incorrect|login failed|access denied|authentication failed|permission denied"
)


class Dialogue:
    """One talk over one line. Feed it what was read, tick it when nothing was, do what it says."""

    def __init__(self, guard: Guard, speed: int | None = None, speeds: Sequence[int] = ()) -> None:
        self.guard = guard
        self.dialect = guard.dialect
        console = guard.dialect.manifest.console
        self._login, self._password = re.compile(console.login), re.compile(console.password)
        self._privileged = re.compile(console.privileged) if console.privileged else None
        self._configuring = re.compile(console.configuring) if console.configuring else None
        self._booting = [re.compile(p) for p in console.booting]
        self._session = list(console.session)
        self.speed = speed
        self._speeds = [s for s in speeds if s != speed] if speed else []
        self.phase = _Phase.LISTENING
        self.prompt = ""
        self._buffer = bytearray()
        self._quiet = 0.0
        self._wakes = self._nudges = self._pages = self._learned = 0
        self._names = self._secrets = 0
        self._asked = ""
        self._logged_in = False
        self._paged_to = 0
        self._echoes: bool | None = None

    @property
    def _settle_at_prompt(self) -> float:
        if self.speed is None:
            return QUIET_OFF_LINE
        return max(LEAST_QUIET, QUIET_CHARACTERS * 10 / self.speed)

    @property
    def wait(self) -> float:
        """How many seconds to wait for bytes, at most, before the next tick."""
        if self.phase is _Phase.LISTENING:
            return max(min(LISTEN - self._quiet, LONGEST_WAIT), LEAST_QUIET)
        at_prompt = self._at_known_prompt() if self.phase is _Phase.WAKING else self._tail() == self.prompt
        return min(self._settle_at_prompt, LONGEST_WAIT) if at_prompt else LONGEST_WAIT

    # --- what comes in -----------------------------------------------------------------------------

    def start(self) -> list[Action]:
        """Listens for a moment first: typing into a boot loader or somebody's line cannot be taken back."""
        return []

    def feed(self, data: bytes) -> list[Action]:
        """Bytes that arrived."""
        if self.phase is _Phase.OVER or not data:
            return []
        self._buffer += data
        self._quiet = 0.0
        if len(self._buffer) > LARGEST_REPLY:
            return self._give_up("no-end", "the output does not end; what came is kept. Capture with another command")
        if self._boots(data):
            return self._boot_refusal()
        if self.phase is _Phase.ASKING and self._at_pager():
            return self._page()
        return []

    def tick(self, seconds: float) -> list[Action]:
        """Time that went by without a byte."""
        if self.phase is _Phase.OVER:
            return []
        self._quiet += seconds + 1e-9  # a wait that was cut to the right length must not fall short by a rounding
        if self.phase is _Phase.LISTENING:
            return self._listened()
        if self.phase in (_Phase.WAKING, _Phase.NAMED, _Phase.SECRET):
            return self._woken()
        if self.phase is _Phase.LEARNING:
            return self._learning()
        if self.phase in (_Phase.ASKING, _Phase.SETTING):
            return self._asking()
        return []

    def ask(self, command: str) -> list[Action]:
        """Asks a listed command; raises NotAllowed for any other, and RuntimeError while not at the prompt."""
        if self.phase is not _Phase.IDLE:
            raise RuntimeError(f"asked while {self.phase.value}")
        if typed := self._typed_by_another():
            return self._give_up(
                "somebody-else",
                f"somebody else is typing on this console (`{typed}`); nothing was sent. Agree who uses it, then start again",
            )
        outgoing = self.guard.command(command)
        return self._send_and_wait(outgoing, _Phase.ASKING, command)

    def leave(self) -> list[Action]:
        """Ends the session if this talk opened it; a session that was found open is left open."""
        self.phase = _Phase.OVER
        word = self.guard.leave()
        return [*([Send(word)] if word is not None and self._logged_in else []), Left()]

    # --- waking ------------------------------------------------------------------------------------

    def _listened(self) -> list[Action]:
        if self._quiet < LISTEN:
            return []
        if self._buffer and (refusal := self._must_not_type()):
            return refusal
        if self._login.search(self._tail()):
            # Some logins take a carriage return for an empty name, and count what follows as a failure.
            return self._give_name()
        return self._wake()

    def _wake(self) -> list[Action]:
        self._wakes += 1
        self._quiet = 0.0
        self._buffer.clear()
        self.phase = _Phase.WAKING
        return [Send(self.guard.carriage_return())]

    def _woken(self) -> list[Action]:
        if not self._buffer:
            wait = WAIT_AFTER_SECRET if self.phase is _Phase.SECRET else WAIT_FOR_ANSWER
            if self._quiet < wait:
                return []
            if self._wakes < MOST_WAKES:
                return self._wake()
            return self._next_speed() or self._give_up("silence", SILENCE)
        if self._quiet < (self._settle_at_prompt if self._at_known_prompt() else SETTLE):
            return []
        if self._is_garbage():
            tried = ", ".join(str(s) for s in (self.speed, *self._speeds) if s)
            return self._next_speed() or self._give_up(
                "garbage",
                "what comes back is no text at any usual speed; check speed, parity and stop bits of the console, "
                f"and the cable{f' (speed now {tried})' if tried else ''}",
            )
        if refusal := self._must_not_type():
            return refusal
        tail = self._tail()
        if self._at_pager():
            return self._give_up(
                "somebody-else",
                "a pager is waiting on this console: somebody left in the middle of reading. Finish or leave that "
                "session yourself, then start again",
            )
        if self._password.search(tail):
            return self._give_secret()
        if self._login.search(tail):
            return self._give_name()
        if self.phase is _Phase.SECRET and self._quiet < WAIT_AFTER_SECRET and not self._looks_like_prompt(tail):
            return []
        if self._looks_like_prompt(tail):
            self.prompt = tail
            self._learned = 0
            return self._look_again()
        if self._quiet < WAIT_FOR_ANSWER:
            return []
        if self._wakes < MOST_WAKES:
            return self._wake()
        return self._give_up(
            "no-prompt",
            f"the console answers, but not with a prompt that is known (`{tail[-60:]}`); look at it with a terminal",
        )

    def _next_speed(self) -> list[Action]:
        if not self._speeds:
            return []
        self.speed = self._speeds.pop(0)
        self._wakes = 0
        self._buffer.clear()
        return [SetSpeed(self.speed), *self._wake()]

    def _give_name(self) -> list[Action]:
        name = self.guard.login_name()
        if self._names >= 2 or (self._secrets and _LAST_LOGIN.search(self._text())) or self._secrets >= 2:
            return self._give_up(
                "password",
                "the login was refused; it was not tried again, since lockouts are real. Check name and password",
            )
        if name is None:
            return self._give_up(
                "login", "the console asks for a login and no name was given: use --user, and the password is asked for"
            )
        self._names += 1
        self._quiet = 0.0
        self._buffer.clear()
        self.phase = _Phase.NAMED
        return [Send(name)]

    def _give_secret(self) -> list[Action]:
        secret = self.guard.login_password()
        if not self._names and self.guard.login_name() is not None and self._wakes < MOST_WAKES:
            return self._wake()  # the name that it asks the password of is not ours: back to the beginning
        if self._secrets >= 1:
            return self._give_up(
                "password",
                "the password was refused; it was not tried again, since lockouts are real. Check name and password",
            )
        if secret is None:
            return self._give_up("login", "the console asks for a password and none was given")
        self._secrets += 1
        self._quiet = 0.0
        self._buffer.clear()
        self.phase = _Phase.SECRET
        self._logged_in = True
        return [Send(secret)]

    # --- learning the prompt -----------------------------------------------------------------------

    def _look_again(self) -> list[Action]:
        self._learned += 1
        self._quiet = 0.0
        self._buffer.clear()
        self.phase = _Phase.LEARNING
        return [Send(self.guard.carriage_return())]

    def _learning(self) -> list[Action]:
        wait = self._settle_at_prompt if self._tail() == self.prompt else SETTLE if self._buffer else WAIT_FOR_ANSWER
        if self._quiet < wait:
            return []
        if refusal := self._must_not_type():
            return refusal
        tail = self._tail()
        if tail == self.prompt and self._buffer:
            return self._at_prompt()
        if self._learned >= MOST_LEARNING:
            return self._give_up(
                "no-prompt",
                f"the prompt is never the same twice (`{self.prompt}`, then `{tail[-60:]}`); look at the console with a terminal",
            )
        if self._looks_like_prompt(tail):
            self.prompt = tail
        return self._look_again()

    def _at_prompt(self) -> list[Action]:
        if self._session:
            word = self._session.pop(0)
            return self._send_and_wait(self.guard.session(word), _Phase.SETTING, word)
        self.phase = _Phase.IDLE
        blank = b" " if self._buffer.endswith(b" ") else b""
        self._buffer.clear()
        privileged = bool(self._privileged and self._privileged.match(self.prompt))
        return [Ready(self.prompt, self.prompt.encode() + blank, privileged, self.speed, self._logged_in)]

    # --- asking ------------------------------------------------------------------------------------

    def _send_and_wait(self, outgoing: Outgoing, phase: _Phase, asked: str) -> list[Action]:
        self._buffer.clear()
        self._quiet = 0.0
        self._nudges = self._pages = self._paged_to = 0
        self._asked = asked
        self.phase = phase
        return [Send(outgoing)]

    def _asking(self) -> list[Action]:
        if self._quiet < self._settle_at_prompt:
            return []
        if self._at_pager():
            return self._page()
        tail = self._tail()
        if tail == self.prompt:
            if self._echo_seen() and self._beyond_prompts(self._asked):
                self._echoes = True
                return self._replied(complete=True, note="")
            wait = NO_ECHO_KNOWN if self._echoes is False else WAIT_FOR_ANSWER
            silent_word = self.phase is _Phase.SETTING  # it answers nothing, so the prompt is all there is
            if self._echoes is not True and self._quiet >= wait and (silent_word or self._beyond_prompts("")):
                self._echoes = False
                return self._replied(complete=True, note="the console does not echo")
        if self._quiet < SETTLE:
            return []
        if self._login.search(tail) and tail != self.prompt:
            return self._give_up(
                "logged-out",
                "the console logged out in the middle; what came until then is kept. Log in and start again",
            )
        if self._quiet < NUDGE_AFTER:
            return []
        if refusal := self._must_not_type():
            return refusal
        if self._nudges < MOST_NUDGES:
            self._nudges += 1
            self._quiet = 0.0
            return [Send(self.guard.carriage_return())]
        return self._give_up(
            "no-end", f"the reply to `{self._asked}` has no end; what came is kept. Look at the console with a terminal"
        )

    def _replied(self, complete: bool, note: str) -> list[Action]:
        raw = bytes(self._buffer)
        if self.phase is _Phase.SETTING:  # whether the word was understood shows in the pager's absence
            return self._at_prompt()
        self.phase = _Phase.IDLE
        self._buffer.clear()
        return [Reply(self._asked, raw, complete, note)]

    def _page(self) -> list[Action]:
        self._pages += 1
        if self._pages > MOST_PAGES:
            return self._give_up("no-end", "the pager never comes to an end; what came is kept")
        self._quiet = 0.0
        self._paged_to = len(self._buffer)
        return [Send(self.guard.pager_key())]

    def _give_up(self, kind: str, message: str) -> list[Action]:
        kept: list[Action] = []
        if self.phase is _Phase.ASKING and self._buffer:
            kept.append(Reply(self._asked, bytes(self._buffer), False, message))
        self.phase = _Phase.OVER
        return [*kept, Refusal(kind, message)]

    # --- what is on the line -----------------------------------------------------------------------

    def _text(self) -> str:
        return "\n".join(line.text for line in clean(bytes(self._buffer)).lines)

    def _tail(self) -> str:
        """The last line as it stands on the screen, without its trailing blanks."""
        raw = bytes(self._buffer)
        start = max(raw.rfind(b"\n"), 0)
        lines = clean(raw[start:].lstrip(b"\n")).lines
        return lines[-1].text.rstrip() if lines else ""

    def _at_pager(self) -> bool:
        raw = bytes(self._buffer)
        last = raw[max(raw.rfind(b"\n") + 1, self._paged_to) :]
        pager = self.dialect.pager
        if pager is not None:
            shown = last.decode("latin-1").rstrip()
            if found := pager.search(shown):
                return found.end() == len(shown)
        return clean(last).ends_at_pager

    def _echo_seen(self) -> bool:
        """Whether the command stands at the start of what came, however the line was folded or redrawn."""
        wanted = "".join(self._asked.split())
        head = clean(bytes(self._buffer[: len(self._asked) * 4 + 400])).lines
        return wanted in "".join("".join(line.text.split()) for line in head)

    def _beyond_prompts(self, asked: str) -> bool:
        """Whether the prompt stands on a line of its own behind the echo, or behind any text at all."""
        lines = [line for line in self._text().split("\n") if line.strip()]
        others = [line for line in lines if line.rstrip() != self.prompt]
        return len(lines) > 1 and (bool(asked) or bool(others))

    def _typed_by_another(self) -> str:
        shown = self._tail()
        if shown.startswith(self.prompt) and shown != self.prompt:
            return shown[len(self.prompt) :].strip()
        return ""

    def _is_garbage(self) -> bool:
        raw = bytes(self._buffer)
        odd = sum(1 for byte in raw if not (0x20 <= byte < 0x7F or byte in b"\r\n\t\b\x1b\x00\x07"))
        return len(raw) >= 3 and odd / len(raw) > GARBAGE

    def _looks_like_prompt(self, tail: str) -> bool:
        known = self.dialect.prompt
        if self._login.search(tail) or self._password.search(tail):
            return False
        return bool(tail) and bool((known and known.fullmatch(tail + " ")) or _PROMPT_LIKE.fullmatch(tail))

    def _at_known_prompt(self) -> bool:
        known = self.dialect.prompt
        return known is not None and known.fullmatch(self._tail() + " ") is not None

    def _boots(self, data: bytes) -> bool:
        if not self._booting or self.phase is _Phase.OVER:
            return False
        recent = bytes(self._buffer[-(len(data) + 200) :]).split(b"\n")
        return any(p.match(line.decode("latin-1").strip("\r")) for line in recent for p in self._booting)

    def _boot_refusal(self) -> list[Action]:
        return self._give_up(
            "boot",
            "the device is starting, or stands in its boot loader; nothing was typed at it. Wait until it runs, then start again",
        )

    def _must_not_type(self) -> list[Action]:
        """A refusal, where the last line is one at which nothing may be typed."""
        tail = self._tail()
        if self._configuring and self._configuring.match(tail):
            return self._give_up(
                "configuring",
                f"the console stands in a configuration mode (`{tail}`); nothing was typed there. Leave it yourself, then start again",
            )
        if any(p.match(tail) for p in self._booting) or _BOOT_LIKE.match(tail):
            return self._boot_refusal()
        return []
