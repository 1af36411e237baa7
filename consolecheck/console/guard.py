"""What may leave towards a device: by construction, and through one door.

A link writes nothing but `Outgoing`, and only a `Guard` makes one. A guard knows a dialect's read-only
commands, its session-only words, the keys of its pager, a carriage return, and what a person gave it to
log in with. There is no way to hand it a text of one's own.
"""

import re
from typing import Final, Literal, NoReturn

from consolecheck.reading.dialect import Dialect

Purpose = Literal["wake", "command", "session", "pager", "name", "password", "leave"]

_MADE_HERE: Final = object()


class Outgoing:
    """Bytes that may leave. Made by a guard; `shown` is what a recording or a person may see of them."""

    __slots__ = ("data", "purpose", "shown")

    def __init__(self, key: object, data: bytes, purpose: Purpose, shown: str) -> None:
        if key is not _MADE_HERE:
            raise TypeError("only a guard makes what may leave")
        object.__setattr__(self, "data", data)
        object.__setattr__(self, "purpose", purpose)
        object.__setattr__(self, "shown", shown)

    data: bytes
    purpose: Purpose
    shown: str

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError("what may leave cannot be changed")

    def __repr__(self) -> str:
        return f"Outgoing({self.purpose}, {self.shown!r})"


class NotAllowed(Exception):
    """The text is not on the dialect's list. `text` is what was asked for."""

    def __init__(self, text: str, dialect: str) -> None:
        self.text = text
        super().__init__(f"`{text}` is not a read-only command that `{dialect}` lists; it was not sent")


_WORDS = r"(?: [\w./:,@=+-]+)*(?: \| no-more)?"
_READS = re.compile(
    r"(?:show|display|get|sensors|(?:chassis|module|system|port|alarm) show"
    r"|ipmitool (?:sensor|sdr|fru|sel e?list|chassis status|dcmi power reading))" + _WORDS
)
_SESSION = re.compile(
    r"terminal (?:length|width|pager) \d+|no (?:page|paging)|(?:pager|paging) off"
    r"|screen-length (?:0|disable)(?: temporary)?|set cli (?:screen-length|pager) (?:0|off)"
)
_LEAVES = re.compile(r"exit|quit|logout")


def not_known_to_only_read(dialect: Dialect, shipped: tuple[Dialect, ...]) -> str | None:
    """The first text of a dialect that is not shipped which might do more than read, or None.

    Nobody but its author has looked at such a dialect, and a folder may come from anywhere. So its commands must
    begin as commands begin that only read (common practice, no source), or be a shipped dialect's.
    """
    consoles = [d.manifest.console for d in shipped]
    known = {
        *(command.send for d in shipped for command in d.manifest.commands),
        *(word for console in consoles for word in (*console.session, console.leave)),
    }
    console = dialect.manifest.console
    asked = (
        *((command.send, _READS) for command in dialect.manifest.commands),
        *((word, _SESSION) for word in console.session),
        *((word, _LEAVES) for word in (console.leave,) if word is not None),
    )
    return next((text for text, form in asked if text not in known and not form.fullmatch(text)), None)


class Guard:
    """The one maker of what may leave, for one dialect and one login."""

    def __init__(self, dialect: Dialect, name: str | None = None, password: str | None = None) -> None:
        self.dialect = dialect
        console = dialect.manifest.console
        self._commands = {command.send for command in dialect.manifest.commands}
        self._session = set(console.session)
        self._keys = {console.pager_key} if console.pager_key else set()
        self._name = name
        self._password = password
        for text in (*self._commands, *self._session, *self._keys, name or "", password or ""):
            if not text.isprintable():
                raise NotAllowed(text, dialect.name)

    def carriage_return(self) -> Outgoing:
        """Wakes a console, and answers nothing."""
        return Outgoing(_MADE_HERE, b"\r", "wake", "<return>")

    def command(self, text: str) -> Outgoing:
        """A listed read-only command; raises NotAllowed for anything else, however alike."""
        if text not in self._commands:
            raise NotAllowed(text, self.dialect.name)
        return Outgoing(_MADE_HERE, text.encode() + b"\r", "command", text)

    def session(self, text: str) -> Outgoing:
        """A listed word that changes nothing but this session, such as turning the pager off."""
        if text not in self._session:
            raise NotAllowed(text, self.dialect.name)
        return Outgoing(_MADE_HERE, text.encode() + b"\r", "session", text)

    def pager_key(self) -> Outgoing:
        """The key that makes the pager go on: the dialect's, else a blank."""
        key = self.dialect.manifest.console.pager_key or " "
        return Outgoing(_MADE_HERE, key.encode(), "pager", "<more>")

    def login_name(self) -> Outgoing | None:
        """The login name, if one was given."""
        return None if self._name is None else Outgoing(_MADE_HERE, self._name.encode() + b"\r", "name", self._name)

    def login_password(self) -> Outgoing | None:
        """The password, if one was given. It is never shown."""
        if self._password is None:
            return None
        return Outgoing(_MADE_HERE, self._password.encode() + b"\r", "password", "<password>")

    def leave(self) -> Outgoing | None:
        """The dialect's word that ends the session, if it has one."""
        word = self.dialect.manifest.console.leave
        return None if word is None else Outgoing(_MADE_HERE, word.encode() + b"\r", "leave", word)

    def everything(self) -> list[Outgoing]:
        """All that could ever leave, for `--dry-run` and for tests; without the secrets."""
        return [
            self.carriage_return(),
            *(self.session(word) for word in sorted(self._session)),
            *(self.command(text) for text in sorted(self._commands)),
            self.pager_key(),
            *filter(None, (self.leave(),)),
        ]
