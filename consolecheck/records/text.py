"""Text that still knows where it stood in the untouched file.

A line number counts newlines in the raw bytes plus one, so `sed -n 14p` shows line 14. These are
plain named tuples and not pydantic models: they are made by the thousand from bytes we split
ourselves, and nothing in them comes from outside unchecked.
"""

import re
from collections.abc import Mapping
from typing import Literal, NamedTuple

Ending = Literal["prompt", "next", "footer", "text-end", "pager", "mid-line"]
"""What ended a capture: a prompt, the next table, its own footer, the end of the text (which may be
a cut), an unanswered pager prompt, or the middle of a line. The last two are cuts for certain."""


class Line(NamedTuple):
    """One cleaned line. `doubt` says why the cleaning cannot be trusted, or is empty."""

    number: int
    text: str
    doubt: str = ""


class UnreadLine(NamedTuple):
    """A line that stood there and was not understood, with the reason."""

    number: int
    text: str
    reason: str
    table: str | None = None


class Span(NamedTuple):
    """Where a field stood: line number, first column and one past the last, columns from zero."""

    line: int
    start: int
    end: int


class Row(NamedTuple):
    """One template record: field -> text, the lines it came from, and where each field stood."""

    values: Mapping[str, str]
    lines: tuple[int, ...]
    marks: Mapping[str, tuple[int, re.Match[str]]]

    def span(self, field: str) -> Span | None:
        mark = self.marks.get(field)
        if mark is None:
            return None
        start, end = mark[1].span(field.upper())
        return Span(mark[0], start, end) if start >= 0 else None


class Section(NamedTuple):
    """The lines of one table's output within a captured text; `table` is the dialect's name for it."""

    table: str | None
    lines: tuple[Line, ...]
    ending: Ending
    command: str | None = None
