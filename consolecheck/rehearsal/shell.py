"""The command line of the simulated switch, byte by byte, as parsers/wexcombe reads it. Pure.

What is typed waits until the switch is free, and is echoed when it is taken: so it makes no difference how
the bytes were cut. `now` is simulated seconds, as the chassis counts them.
"""

import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from consolecheck.rehearsal.physics import BOOT_SECONDS, Chassis
from consolecheck.rehearsal.tables import TABLES

Mode = Literal["closed", "name", "word", "user", "rise-word", "rise", "alter", "boot", "valve"]

MORE = "(more below, any key)"
WRONG_WORD_SECONDS = 2.5
TRIES = 3
LOCKED_SECONDS = 30.0
VALVE_SECONDS = 5.0
"""After a reload a key stops the boot for so long."""
VALVE_OPENS = 0.5
"""Seconds after a reload at which keys are looked at."""
LONGEST_TYPED = 200

_BOOT = (
    (0.0, ""),
    (0.0, "waking stage 1"),
    (VALVE_OPENS, f"stage 1: any key within {VALVE_SECONDS:g} s stops here"),
    (8.0, "stage 1: memory 8192 MB, well"),
    (10.0, "waking stage 2"),
    (20.0, "stage 2: picture 7.2.1 loaded, sum well"),
    (35.0, "waking stage 3"),
    (60.0, "stage 3: ports come up"),
    (BOOT_SECONDS, "stage 3: done"),
)
_IDLE_TALK = (
    "port 4 asked for and not answered",
    "clock set right by 0.02 s",
    "operator came in on the console",
)


@dataclass(frozen=True)
class Options:
    """How this console is set up. Times in simulated seconds."""

    keeper: str | None = None
    """Login name; without one nobody is asked."""
    word: str = ""
    secret: str = "lantern"
    """What `rise` asks for."""
    paused: bool = True
    """Whether the pager is on at the start of a session."""
    page_lines: int = 10
    banner: str = ""
    line_seconds: float = 0.0
    """Time that the switch takes for each line it prints."""
    log_every: float | None = None
    """A log message each so many seconds, wherever the output stands."""
    journal: bool = False
    """Whether what happens to the chassis is logged on the console."""
    idle: float | None = None
    """A session without typing ends after so long."""
    start: Literal["closed", "user", "rise", "alter"] = "closed"
    """What the last user left behind."""
    hang_up: bool = False
    """Whether the end of a session ends the connection too."""


class Shell:
    """One console session. `typed` keeps what reached each mode, so that a test can say what never did."""

    def __init__(self, chassis: Chassis, options: Options | None = None) -> None:
        self.chassis = chassis
        self.options = options or Options()
        self.mode: Mode = self.options.start
        self.typed: dict[Mode, bytearray] = {}
        self.hung_up = False
        self._input: deque[int] = deque()
        self._out = bytearray()
        self._line = ""
        self._after_return = False
        self._name = ""
        self._tries = 0
        self._paused = self.options.paused
        self._rows: deque[str] = deque()
        self._row_at = 0.0
        self._on_page = 0
        self._at_pager = False
        self._then: Callable[[], None] | None = None
        self._then_at = 0.0
        self._boots = chassis.boots
        self._boot_line = 0
        self._talk = 0
        self._next_log = chassis.seconds + self.options.log_every if self.options.log_every else math.inf
        self._told = len(chassis.journal)
        self._last_typed = chassis.seconds

    def feed(self, data: bytes) -> None:
        """Bytes that came in; they are taken when the switch gets to them."""
        self._input.extend(data)

    def output(self, now: float) -> bytes:
        """All that the switch has sent since the last call, up to a time."""
        with self.chassis.lock:
            if not self.chassis.powered:
                self._input.clear()
                self._rows.clear()
            else:
                self._notice_reload()
                while self._one_thing(now):
                    pass
        out = bytes(self._out)
        self._out.clear()
        return out

    @property
    def busy(self) -> bool:
        """Whether something typed still waits, or something is still to be printed without another key."""
        if not self.chassis.powered or self._at_pager:
            return bool(self._input)
        return bool(self._input or self._rows) or self._then is not None or self.mode == "boot"

    # One thing after the other, each at its time.

    def _one_thing(self, now: float) -> bool:
        """Does the next thing that is due; whether there was one."""
        if self.mode == "boot":
            return self._boot(now)
        if self._then is not None and not self._rows:
            return self._do_then(now)
        if self._rows and not self._at_pager:
            if self._log(min(now, self._row_at)):
                return True
            if self._row_at > now:
                return False
            self._print_row()
            return True
        if not self._at_pager and self._log(now):
            return True
        if self._input:
            self._last_typed = now
            self._take(self._input.popleft(), now)
            return True
        idle = self.options.idle
        if idle is not None and now - self._last_typed >= idle and self.mode in ("user", "rise", "alter"):
            self._say("\r\n")
            self._rows.clear()
            self._at_pager, self._then = False, None
            self._say(f"** {self.chassis.clock:%H:%M:%S} nobody typed, session ended\r\n")
            self._end_session()
            return True
        return False

    def _do_then(self, now: float) -> bool:
        if now < self._then_at:
            return False
        deed, self._then = self._then, None
        if deed is not None:
            deed()
        return True

    def _later(self, at: float, deed: Callable[[], None]) -> None:
        self._then, self._then_at = deed, at

    def _print_row(self) -> None:
        if self._paused and self._on_page >= self.options.page_lines:
            self._at_pager = True
            self._say(MORE)
            return
        self._say(self._rows.popleft() + "\r\n")
        self._on_page += 1
        self._row_at += self.options.line_seconds

    def _log(self, at: float) -> bool:
        """A log message on a line of its own, if one is due; what stood on the line is shown again below it."""
        if self.options.journal and self._told < len(self.chassis.journal):
            text = self.chassis.journal[self._told]
            self._told += 1
        elif at >= self._next_log:
            text = f"{self.chassis.clock:%H:%M:%S} {_IDLE_TALK[self._talk % len(_IDLE_TALK)]}"
            self._talk += 1
            self._next_log = at + (self.options.log_every or math.inf)
        else:
            return False
        if self._rows:  # between two rows the cursor stands at the start of a line
            self._say(f"** {text}\r\n")
        elif self.mode == "closed":
            self._say(f"\r\n** {text}\r\n")
        else:
            self._say(f"\r\n** {text}\r\n{self._asking()}")
            if self.mode not in ("word", "rise-word"):
                self._say(self._line)
        return True

    # Waking.

    def _notice_reload(self) -> None:
        if self._boots == self.chassis.boots:
            return
        self._boots = self.chassis.boots
        self._boot_line, self._told = 0, 0
        self._rows.clear()
        self._input.clear()
        self._line, self._then, self._at_pager = "", None, False
        self.mode = "boot"

    def _boot(self, now: float) -> bool:
        while self._input and self.chassis.awake < VALVE_OPENS:  # a key that was under way when it went down
            self._keep(self._input.popleft())
        if self._input and self.chassis.awake < VALVE_SECONDS:
            self._keep(self._input.popleft())
            self.chassis.held = True
            self.mode = "valve"
            self._say(self._asking())
            return True
        while self._input:
            self._keep(self._input.popleft())
        if self._boot_line < len(_BOOT):
            at, text = _BOOT[self._boot_line]
            if self.chassis.awake < at:
                return False
            self._boot_line += 1
            self._say(text + "\r\n")
            return True
        self._last_typed = now
        self._end_session()
        return True

    # What is typed.

    def _keep(self, byte: int) -> None:
        self.typed.setdefault(self.mode, bytearray()).append(byte)

    def _take(self, byte: int, now: float) -> None:
        self._keep(byte)
        follows, self._after_return = self._after_return, byte == 0x0D
        if byte == 0x00 or (byte == 0x0A and follows):
            return
        if self._at_pager:
            self._at_pager = False
            self._on_page = 0
            self._row_at = now
            self._say(f"\r{' ' * len(MORE)}\r")
            return
        hidden = self.mode in ("word", "rise-word")
        if byte in (0x0D, 0x0A):
            line, self._line = self._line, ""
            self._say("\r\n")
            self._entered(line, now)
        elif self.mode == "closed":
            return
        elif byte in (0x08, 0x7F):
            if self._line:
                self._line = self._line[:-1]
                self._say("" if hidden else "\b \b")
        elif 0x20 <= byte < 0x7F and len(self._line) < LONGEST_TYPED:
            self._line += chr(byte)
            self._say("" if hidden else chr(byte))

    def _entered(self, line: str, now: float) -> None:
        mode = self.mode
        if mode == "closed":
            self._open("name" if self.options.keeper is not None else "user")
        elif mode == "name":
            self._name = line
            self._to("word" if line else "name")
        elif mode == "word":
            if self._name == self.options.keeper and line == self.options.word:
                self._open("user")
            else:
                self._later(now + WRONG_WORD_SECONDS, lambda: self._refuse_login(now))
        elif mode == "rise-word":
            if line == self.options.secret:
                self._to("rise")
            else:
                self._later(now + WRONG_WORD_SECONDS, lambda: self._answer("?? not the word", "user"))
        elif mode == "valve":
            if line.strip() == "wake":
                self.chassis.reload()
                self._notice_reload()
            else:
                self._to("valve")
        else:
            self._command(line.strip(), now)

    def _command(self, line: str, now: float) -> None:
        words = line.split()
        rows: list[str] = []
        if not words:
            pass
        elif self.mode == "alter":
            if words == ["done"]:
                self.mode = "rise"
            elif words[0] == "tell":
                rows = ["?? not while altering"]
        elif words[0] == "tell":
            table = TABLES.get(words[1]) if len(words) == 2 else None
            rows = table(self.chassis) if table else [f"?? tell what: {', '.join(TABLES)}"]
        elif words in (["pause", "off"], ["pause", "on"]):
            self._paused = words[1] == "on"
        elif words == ["farewell"]:
            self._end_session()
            return
        elif words == ["rise"]:
            self.mode = "rise-word"
        elif words == ["alter"] and self.mode == "rise":
            self.mode = "alter"
        else:
            rows = [f"?? not a word I know: {line}"]
        self._rows.extend(rows)
        self._on_page = 0
        self._row_at = now + self.options.line_seconds
        self._later(now, self._prompt)

    # Between modes.

    def _asking(self) -> str:
        host = self.chassis.configuration.host
        return {
            "closed": "",
            "boot": "",
            "name": f"{host} keeper: ",
            "word": "word: ",
            "rise-word": "word: ",
            "user": f"{host} ~> ",
            "rise": f"{host} ~# ",
            "alter": f"{host} {{alter}} ~# ",
            "valve": "ROOT VALVE> ",
        }[self.mode]

    def _say(self, text: str) -> None:
        self._out += text.encode("ascii", "replace")

    def _prompt(self) -> None:
        self._say(self._asking())

    def _to(self, mode: Mode) -> None:
        self.mode = mode
        self._prompt()

    def _answer(self, text: str, mode: Mode) -> None:
        self._say(text + "\r\n")
        self._to(mode)

    def _open(self, mode: Mode) -> None:
        if mode == "user":
            self._tries = 0
            self._paused = self.options.paused
            if self.options.banner:
                self._say(self.options.banner.replace("\n", "\r\n") + "\r\n")
        self._to(mode)

    def _refuse_login(self, asked: float) -> None:
        self._tries += 1
        if self._tries < TRIES:
            self._answer("?? wrong keeper or word", "name")
            return
        self._say("?? too many tries\r\n")
        self._tries = 0
        self.mode = "closed"
        # Nothing is answered for a while.
        self._later(asked + WRONG_WORD_SECONDS + LOCKED_SECONDS, self._end_session)

    def _end_session(self) -> None:
        self._line = ""
        self.mode = "closed"
        if self.options.hang_up:
            self.hung_up = True
            self._input.clear()
        elif self.options.keeper is not None:
            self._say("\r\n")
            self._to("name")
        else:
            self._say("\r\npress return\r\n")
