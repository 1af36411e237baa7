"""Turns JSON into lines of `path: value`, so that a template claims them like the lines of any other table.

    {"Fans": [{"Name": "Fan 3", "Reading": 9400}]}      /Fans[0]/Name: "Fan 3"
                                                        /Fans[0]/Reading: 9400
                                                        /Fans[0] end
                                                        / end

Each line carries the number of the raw line where its value stood. A value is the JSON token: a number as
it was written, digit for digit; a text in quotes with no escapes left but those it needs. What stands
directly in an object comes before the objects within it, and these before lists of objects, each by name:
members of a JSON object have no order (RFC 8259 section 4), so a reading must not depend on one. Behind the
members of every object stands its `end`, which is where a template records.

A text may hold several documents, one below the other or one a line. A document is read whole or not at
all: one that is cut, broken, nested too deeply or too large, or that holds a key twice, leaves its lines
unread, and so every line behind it, since nobody can say where it would have ended.
"""

import json
import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache, partial
from typing import NamedTuple

from consolecheck.reading.screen import TOO_LONG
from consolecheck.records.text import Line, Mark, Row, Span

DEEPEST = 32
"""Levels of nesting; published models of hardware need fewer than ten."""
MOST_VALUES = 100_000
LONGEST_VALUE = 1024
"""Characters of a path or a value; a longer one is not worth a template's time."""
MOST_TEXT = 16_000_000
"""Characters of all lines together."""
LONGEST_RAW_LINE = 2_000_000
"""Characters of one raw line: whole documents are often printed without a line end."""


class Flat(NamedTuple):
    """What a template reads in place of the raw lines, and the way back."""

    lines: list[Line]
    places: Mapping[tuple[int, str], tuple[int, int] | None]
    """(line number, line) -> the columns of its value in the raw line; None where two such lines stand there."""
    unread: list[Line]
    """Raw lines that belong to no whole document; `doubt` says why."""
    documents: int

    def placed(self, row: Row) -> Row:
        """A row of a template, with the lines in order and spans that point to the raw lines."""
        return _FlatRow(row, self.places)


class _FlatRow(Row):
    __slots__ = ("_places",)

    def __init__(self, row: Row, places: Mapping[tuple[int, str], tuple[int, int] | None]) -> None:
        marks: Mapping[str, Mark] = row.marks
        lines = tuple(sorted({mark[0] for mark in marks.values()}))  # of the cells as they are, not as they once were
        super().__init__(row.fields, row.cells, lines, None, marks, row.shape)
        self._places = places

    def span(self, field: str) -> Span | None:
        mark = self.marks.get(field)
        if mark is None or mark[1].start(mark[2]) < 0:
            return None
        place = self._places.get((mark[0], mark[1].string))
        return Span(mark[0], *place) if place is not None else None


class _Broken(ValueError):
    """Why a document cannot be read, and the offset where that shows."""

    def __init__(self, reason: str, at: int) -> None:
        self.reason, self.at = reason, at
        super().__init__(reason)


class _Value(NamedTuple):
    """A scalar as its token, or a container; offsets of its first and last character."""

    token: str
    members: "dict[str, _Value] | list[_Value] | None"
    start: int
    end: int


_value = partial(tuple.__new__, _Value)
_TOKEN = re.compile(
    r"[ \t\r\n]*(?:(?P<mark>[{}\[\],:])"
    r'|(?P<text>"(?:[^"\\\x00-\x1f]+|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*+")'
    r"|(?P<number>-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?)(?![\w.+-])"
    r"|(?P<word>true|false|null)(?!\w))"
)
_BLANK = re.compile(r"[ \t\r\n]*")
_PLAIN_KEY = re.compile(r"(?!.*: )[^\s/\[\]\"\\](?:[^/\[\]\"\\]*[^\s/\[\]\"\\:])?")


def flattened(lines: Sequence[Line]) -> Flat:
    """The lines of a table that is printed as JSON."""
    text = "\n".join([line.text for line in lines])
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line.text) + 1)
    flat: list[Line] = []
    places: dict[tuple[int, str], tuple[int, int] | None] = {}
    hidden = [line for line in lines if line.doubt and not line.text]
    documents = size = where = 0
    at = _BLANK.match(text).end()  # type: ignore[union-attr]  # it also matches nothing
    while at < len(text):
        kept = len(flat)
        try:
            document = _document(text, at)
            first, last = (bisect_right(starts, offset) - 1 for offset in (document.start, document.end))
            for line in lines[first : last + 1]:
                if line.doubt and not (line.doubt == TOO_LONG and len(line.text) <= LONGEST_RAW_LINE):
                    raise _Broken(line.doubt, starts[first])
            for path, token, start, end in _told(document, ""):
                if not starts[where] <= start < starts[where + 1]:  # most stand on the line of the one before
                    where = bisect_right(starts, start) - 1
                number = lines[where].number
                told = f"{path or '/'}: {token}" if token else f"{path or '/'} end"
                size += len(told)
                if len(told) > LONGEST_VALUE:
                    raise _Broken(f"a value or its path is longer than {LONGEST_VALUE} characters", start)
                if size > MOST_TEXT:
                    raise _Broken(f"it unfolds to more than {MOST_TEXT} characters", start)
                flat.append(Line(number, told))
                place = (start - starts[where], end - starts[where])
                places[number, told] = place if (number, told) not in places else None
        except _Broken as broken:
            first = bisect_right(starts, at) - 1
            showing = lines[min(bisect_right(starts, broken.at), len(lines)) - 1].number
            begun = lines[first].number
            del flat[kept:]
            reason = f"the JSON that begins on line {begun} cannot be read: line {showing}: {broken.reason}"
            return Flat(flat, places, hidden + [Line(n, t, reason) for n, t, _ in lines[first:] if t], documents)
        documents += 1
        at = _BLANK.match(text, document.end + 1).end()  # type: ignore[union-attr]
    return Flat(flat, places, hidden, documents)


def _document(text: str, at: int) -> _Value:
    """The object or list that begins at `at`; raises _Broken. Nothing here recurses."""
    stack: list[tuple[dict[str, _Value] | list[_Value], str, int]] = []
    """Open containers, each with the key it will stand under and its offset."""
    key: str | None = None
    expected = "{["
    values = 0
    while True:
        found = _TOKEN.match(text, at)
        if found is None:
            rest = _BLANK.match(text, at).end()  # type: ignore[union-attr]
            if rest >= len(text):
                raise _Broken("the text ends within it", max(len(text) - 1, 0))
            raise _Broken("what stands there is not JSON", rest)
        kind = found.lastgroup or ""
        start, at = found.start(kind), found.end()
        token = found.group(kind)
        role = token if kind == "mark" else '"' if kind == "text" else "0"
        if role not in expected:
            raise _Broken("what stands there is not JSON", start)
        done: _Value | None = None
        if role in "{[":
            if len(stack) >= DEEPEST:
                raise _Broken(f"it is nested deeper than {DEEPEST} levels", start)
            stack.append(({} if role == "{" else [], key or "", start))
            key, expected = None, '"}' if role == "{" else '{["0]'
        elif role == ",":
            expected = '"' if isinstance(stack[-1][0], dict) else '{["0'
        elif role == ":":
            expected = '{["0'
        elif role in "}]":
            members, key, begun = stack.pop()
            done = _Value("" if members else _empty(role), members, begun, start)
        elif role == '"' and isinstance(stack[-1][0], dict) and key is None:
            key = token[1:-1] if "\\" not in token else json.loads(token)
            if key in stack[-1][0]:
                raise _Broken(f"the key {_written(key)} stands twice in one object", start)
            expected = ":"
        else:
            done = _value((_token(token) if kind == "text" else token, None, start, at - 1))
        if done is not None:
            values += 1
            if values > MOST_VALUES:
                raise _Broken(f"it holds more than {MOST_VALUES} values", start)
            if not stack:
                return done
            around = stack[-1][0]
            if isinstance(around, dict):
                around[key or ""] = done
                key, expected = None, ",}"
            else:
                around.append(done)
                expected = ",]"


def _empty(closing: str) -> str:
    """An empty container as a token."""
    return "{}" if closing == "}" else "[]"


def _written(text: str) -> str:
    """A text as a JSON token with no needless escapes; what cannot be printed stays escaped."""
    plain = json.dumps(text, ensure_ascii=False)
    return plain if plain.isprintable() else json.dumps(text).replace("\x7f", "\\u007f")


def _token(text: str) -> str:
    """A text as it was written, without needless escapes; most have none."""
    return text if "\\" not in text and text.isprintable() else _written(json.loads(text))


def _told(value: _Value, path: str) -> Iterator[tuple[str, str, int, int]]:
    """Path, token and columns of every value, in the order in which a template shall see them; an `end` has no token."""
    if not value.members:
        quoted = value.token.startswith('"')
        yield path, value.token, value.start + quoted, value.end + (not quoted)
        return
    if isinstance(value.members, list):
        for index, member in enumerate(value.members):
            yield from _told(member, f"{path}[{index}]")
        return
    for key, member in sorted(value.members.items(), key=_rank):
        below = f"{path}/{_step(key) if len(key) <= _LONGEST_STEP else _step.__wrapped__(key)}"
        if member.members:
            yield from _told(member, below)
        else:
            quoted = member.token.startswith('"')
            yield below, member.token, member.start + quoted, member.end + (not quoted)
    yield path, "", value.end, value.end + 1


_LONGEST_STEP = 64


@lru_cache(maxsize=512)
def _step(key: str) -> str:
    """A key as it stands in a path."""
    return key if _PLAIN_KEY.fullmatch(key) and key.isprintable() else _written(key)


def _rank(item: tuple[str, _Value]) -> tuple[int, str]:
    members = item[1].members
    if isinstance(members, dict):
        return (1 if members else 0), item[0]
    return (2 if members and any(m.members is not None for m in members) else 0), item[0]
