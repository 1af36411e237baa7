"""Text that still knows where it stood in the untouched file.

A line number counts newlines in the raw bytes plus one, so `sed -n 14p` shows line 14. These are
plain tuples and slotted values, not pydantic models: they are made by the thousand from bytes we
split ourselves, and nothing in them comes from outside unchecked.
"""

import re
from collections.abc import Mapping
from typing import Literal, NamedTuple

Ending = Literal["prompt", "next", "text-end", "pager", "mid-line"]
"""What ended a table's output: a prompt, the next table, the end of the text (which may be a cut), an
unanswered pager prompt, or the middle of a line. The last two are cuts for certain."""


BREAK_MARK = "-- consolecheck: "
"""How the line begins that a live capture leaves where it broke off: nobody reads it as a device's."""


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


Mark = tuple[int, re.Match[str], int]
"""Line number, the match there, and the field's group in it."""


class Row:
    """One template record: its fields, their cells, the lines they came from, and where each stood.

    A cell is None where the template gave the field no value. Almost every row comes from one match
    on one line; for those nothing is copied out of the match. `shape` is the same for all rows whose
    fields are the same.
    """

    __slots__ = ("_marks", "_match", "cells", "fields", "lines", "shape")

    def __init__(
        self,
        fields: tuple[str, ...],
        cells: tuple[str | None, ...],
        lines: tuple[int, ...],
        match: re.Match[str] | None,
        marks: Mapping[str, Mark] | None = None,
        shape: object = None,
    ) -> None:
        self.fields = fields
        self.cells = cells
        self.lines = lines
        self.shape = shape
        self._match = match
        self._marks = marks

    @property
    def values(self) -> dict[str, str | None]:
        """Field -> cell."""
        return dict(zip(self.fields, self.cells, strict=True))

    @property
    def marks(self) -> Mapping[str, Mark]:
        """Field -> where it stood."""
        if self._marks is not None:
            return self._marks
        match = self._match
        if match is None:
            return {}
        return {f: (self.lines[0], match, match.re.groupindex[f.upper()]) for f in self.fields}

    def printed(self, field: str) -> str | None:
        """The cell that holds a field as the device printed it, if the row has it."""
        return self.cells[self.fields.index(field)] if field in self.fields else None

    def span(self, field: str) -> Span | None:
        """Where a field stood, if the row has it."""
        if self._marks is not None:
            mark = self._marks.get(field)
            if mark is None:
                return None
            number, match, group = mark
        elif self._match is not None and field in self.fields:
            number, match = self.lines[0], self._match
            group = match.re.groupindex[field.upper()]
        else:
            return None
        start, end = match.span(group)
        return Span(number, start, end) if start >= 0 else None


class Section(NamedTuple):
    """The lines of one table's output within a captured text; `table` is the dialect's name for it."""

    table: str | None
    lines: tuple[Line, ...]
    ending: Ending
    command: str | None = None
