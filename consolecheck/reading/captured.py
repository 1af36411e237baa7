"""Splits one session's or ticket's text into the output of each table, in order.

A text may carry prompts and echoes, echoes alone, or bare tables pasted one after the other. A
prompt ends a table; an echoed command or a table's own first line begins one. Lines that belong to
no table are kept apart with the reason, so that nothing drops out unseen.
"""

import re
from typing import NamedTuple

from consolecheck.reading.dialect import Command, Dialect
from consolecheck.reading.memory import LINES
from consolecheck.reading.screen import LONGEST_LINE, CleanText
from consolecheck.reading.template import LONGEST_REMEMBERED
from consolecheck.records.text import Ending, Line, Section

_RULER = re.compile(r"[-=+~_.|\s]+\Z")
_PROMPT_REACH = 512
"""Characters from the end of a line in which a closing bracket and the prompt behind it are looked for."""
_TITLE_IN_RULER = re.compile(r"[-=+]{2}")


class Split(NamedTuple):
    """The sections of a text, lines that no table owns, and the names that prompts gave."""

    sections: list[Section]
    stray: list[Line]
    foreign: list[Line]
    """Output of commands that the dialect does not know, as their prompt and echo show."""
    hosts: dict[str, int]
    commands: list[str]


class _Splitter:
    def __init__(self, dialect: Dialect) -> None:
        self.dialect = dialect
        self.split = Split([], [], [], {}, [])
        self.table: str | None = None
        self.lines: list[Line] = []
        self.command: Command | None = None
        self.foreign = False

    def close(self, ending: Ending) -> None:
        if self.table is not None:
            self.split.sections.append(
                Section(self.table, tuple(self.lines), ending, self.command.send if self.command else None)
            )
        elif self.lines:
            kept = self.split.foreign if self.foreign else self.split.stray
            kept.extend(line for line in self.lines if line.text and not _RULER.match(line.text))
        self.table, self.lines = None, []

    def after_command(self, echoed: str) -> None:
        key = " ".join(echoed.lower().split())
        self.command = self.dialect.echoes.get(key)
        self.foreign = bool(key) and self.command is None
        if self.command is not None:
            self.split.commands.append(self.command.send)
            if len(self.command.tables) == 1:
                self.table = self.command.tables[0]


_PROMPT, _PAGER, _TURN = 1, 2, 4


def kinds_of(text: CleanText, dialect: Dialect) -> list[int]:
    """What each line of a text is: 0 where it can only go on with what it stands in, else anything of `begins_with_prompt`,
    `begins_with_pager`, and an echo or the beginning of a table."""
    seen = dialect.seen_lines
    kinds = list(map(seen.get, text.contents))
    if None in kinds:
        for at, kind in enumerate(kinds):
            if kind is None:
                kinds[at] = _kind_of(text.contents[at], dialect)
    return kinds  # type: ignore[return-value]


def begins_with_prompt(kind: int) -> bool:
    """Whether a line of that kind begins with a prompt."""
    return bool(kind & _PROMPT)


def begins_with_pager(kinds: list[int]) -> bool:
    """Whether any line begins with what the dialect's pager prompts with."""
    return any(kind & _PAGER for kind in kinds if kind)


def _kind_of(content: str, dialect: Dialect) -> int:
    remembered = len(content) <= LONGEST_REMEMBERED
    turn = _turn_of(content, dialect)
    found, echoed = turn
    kind = 0
    if found is not None or echoed or dialect.documents:  # within a document any line may close it
        kind = _TURN
        if found is not None and dialect.turns[1][found.lastindex or 0] is None:
            kind |= _PROMPT
        if remembered:
            LINES.one_more(dialect.known_lines)
            dialect.known_lines[content] = turn
    if dialect.pager is not None:
        found = dialect.pager.match(content, 0, LONGEST_LINE)
        if found is not None and found.end():
            kind |= _PAGER
    if remembered:
        LINES.one_more(dialect.seen_lines)
        dialect.seen_lines[content] = kind
    return kind


def _turn_of(content: str, dialect: Dialect) -> tuple[re.Match[str] | None, bool]:
    """Where a turn of the text is in a line, and whether it is an echoed command."""
    echoed = 0 < len(content) <= dialect.longest_echo and " ".join(content.lower().split()) in dialect.echoes
    return dialect.turns[0].match(content, 0, LONGEST_LINE), echoed


def split(text: CleanText, dialect: Dialect, kinds: list[int] | None = None, prompt_follows: bool = False) -> Split:
    """The parts of a cleaned text, by this dialect's prompts, echoes and table beginnings; `kinds` of its lines, where
    they are known.

    A line that begins with a prompt leaves nothing of what stood before it, so a text may also be split in parts that
    begin there; all but the last are then followed by a prompt.
    """
    tables = dialect.turns[1]
    documents = dialect.documents
    known = dialect.known_lines
    if kinds is None:
        kinds = kinds_of(text, dialect)

    s = _Splitter(dialect)
    at_prompt = False
    lines = text.lines
    contents = text.contents
    done = 0
    for at in [at for at, kind in enumerate(kinds) if kind]:
        if at > done:
            s.lines += lines[done:at]
            at_prompt = at_prompt and not any(contents[done:at])
        done = at + 1
        line, content = lines[at], contents[at]
        found, echoed = known.get(content) or _turn_of(content, dialect)
        begins = tables[found.lastindex or 0] if found is not None else s.table
        closing = None
        if begins is not None and begins in documents:
            closing = documents[begins].match(content, max(0, len(content) - _PROMPT_REACH))
        if begins is not None and closing is not None:
            if s.table not in documents:
                s.close("next")
                s.table = begins
            s.lines.append(Line(line.number, content[: closing.end("closing")], line.doubt))
            content = content[closing.end() :]
            line = Line(line.number, content, line.doubt)
            found, echoed = known.get(content) or _turn_of(content, dialect)
        if found is not None:
            table = tables[found.lastindex or 0]
            if table is None:
                s.close("prompt")
                host = found["host"] if "host" in found.re.groupindex else None
                if host:
                    s.split.hosts.setdefault(host, line.number)
                typed = content[found.end() :].strip()
                s.after_command(typed)
                at_prompt = not typed  # a command whose reply is not there has not ended
                continue
            if table != s.table and not (s.table in documents and table in documents):  # every JSON begins alike
                # A title that is set into its table's own ruler has none above it: that one closes the table before.
                above = _rulers_above(s.lines) if s.lines and not _TITLE_IN_RULER.match(content) else []
                s.close("next")
                s.table, s.lines = table, above
        elif echoed:
            s.close("next")
            s.after_command(content)
            at_prompt = False
            continue
        if content:
            at_prompt = False
        s.lines.append(line)
    s.lines += lines[done:]
    at_prompt = at_prompt and not any(contents[done:])
    if prompt_follows:
        s.close("prompt")
    elif text.ends_at_pager:
        s.close("pager")
    elif text.ends_mid_line and not at_prompt:
        s.close("mid-line")
    else:
        s.close("prompt" if at_prompt else "text-end")
    return s.split


def _rulers_above(lines: list[Line]) -> list[Line]:
    """Takes the rulers that stand directly above a header from the end of the lines before it."""
    at = len(lines)
    while at and lines[at - 1].text and _RULER.match(lines[at - 1].text):
        at -= 1
    above = lines[at:]
    del lines[at:]
    return above
