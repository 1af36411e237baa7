"""A walk of a maker's own objects in a text of an unknown device: columns to rows, and rows to things.

    GENV-MIB::genvPsuDescr.1 = STRING: "Power Supply 1"     Psu 1: name `Power Supply 1`, state `normal`
    GENV-MIB::genvPsuState.1 = INTEGER: normal(1)

What such an object means no standard says; it is read by the words of its name, as a printed label is. So only a
walk with the modules' files at hand can be read: a state that is a bare number says nothing, and spoils its row. So
does a figure without a unit, but for turns of a fan and for degrees that could not be tenths of them.

Source of the lines' form: the manual page of the command, as for `reading/walk.py`.
"""

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from consolecheck.reading.inference.trees import ReadTree, read_tree
from consolecheck.reading.inference.values import condition_of
from consolecheck.reading.inference.words import label_of, words_of
from consolecheck.reading.table import Arr, Leaf, Obj, Tree
from consolecheck.reading.walk import NAMED, TYPES
from consolecheck.records.readings import Condition
from consolecheck.records.text import Line

_CELL = re.compile(
    r"(?:(?P<module>[A-Za-z][\w-]*)::)?(?P<object>[a-z][A-Za-z][\w-]*?)\.(?P<index>\d+(?:\.\d+)*) = "
    rf"(?P<type>{TYPES}): ?(?P<value>.*)"
)
_WORD = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
_NUMBERS = frozenset(("INTEGER", "Gauge32", "Unsigned32", "Integer32", "UInteger32"))
_BARE = re.compile(r"-?\d+")
_LEAST = 3
"""Lines that make a walk. Common practice, no source."""
_CALLED = ("name", "descr", "description", "label")
_STATES = frozenset(("state", "status", "alarm", "fault", "health", "condition", "presence", "present"))
_OF_NO_MOMENT = frozenset(("last", "previous", "count", "counter", "changes", "index"))
"""Words of columns that tell what was, how often, or the row itself."""
_FILLED = frozenset(("status", "table", "entry", "info", "oper", "operating"))
"""Words between a table's name and a column's, which say nothing: `...SupplyStatusDescr`."""
_DEGREES = (5, 110)
"""Whole degrees in which a column of bare figures lies that are no tenths. Common practice, no source."""
_SLOTS = 64
"""Indices up to this may be the slots of a chassis. Common practice, no source."""
_BAD = frozenset((Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT))


class _Walked(NamedTuple):
    line: int
    type: str
    value: str


_Rows = dict[str, dict[str, _Walked]]
"""Index -> words of the column -> cell."""


def read_objects(lines: Sequence[Line]) -> tuple[ReadTree, frozenset[int]]:
    """What a walk of a maker's own objects tells, and its lines, read or not."""
    found = [(line, match) for line in lines if " = " in line.text and (match := _CELL.fullmatch(line.text.strip()))]
    if len(found) < _LEAST:
        return ReadTree((), frozenset(), {}), frozenset()
    own = frozenset(line.number for line, _ in found)
    if (doubt := next((line for line, _ in found if line.doubt), None)) is not None:
        return ReadTree((), frozenset(), dict.fromkeys(own, f"line {doubt.number}: {doubt.doubt}")), own
    cells: dict[tuple[str, ...], dict[str, _Walked]] = {}
    for line, match in found:
        column = cells.setdefault((match["module"] or "", *_WORD.findall(match["object"])), {})
        cell = _Walked(line.number, match["type"], match["value"].strip())
        before = column.setdefault(match["index"], cell)
        if before.value != cell.value:
            why = f"lines {before.line} and {cell.line} give {match['object']} twice, unlike"
            return ReadTree((), frozenset(), dict.fromkeys(own, why)), own
    unread: dict[int, str] = {}
    told = ReadTree((), frozenset(), {})
    for (shown, table), columns in _tables(cells).items():
        rows: _Rows = {}
        for name, by_index in columns.items():
            for index, cell in by_index.items():
                rows.setdefault(index, {})[name] = cell
        members = Arr()
        numbered = all(index.isdecimal() and int(index) <= _SLOTS for index in rows)
        for index, row in rows.items():
            try:
                members.append(_thing(index if numbered else None, row, _in_degrees(columns)))
            except ValueError as reason:
                unread.update((cell.line, str(reason)) for cell in row.values())
        read = read_tree(Tree(Obj([(table, members)]), min(own), max(own)))
        # Whoever confirms how they were taken looks the objects up by their whole names.
        made = tuple(
            m._replace(columns=tuple((f"{shown} {head}", field) for head, field in m.columns)) for m in read.made
        )
        told = ReadTree((*told.made, *made), told.used | read.used, {**told.unread, **read.unread})
    for number in own - told.used:
        unread.setdefault(number, told.unread.get(number, "what the object measures is not told"))
    return told._replace(unread={n: why for n, why in unread.items() if n not in told.used}), own


def _tables(
    cells: Mapping[tuple[str, ...], dict[str, _Walked]],
) -> dict[tuple[str, str], dict[str, dict[str, _Walked]]]:
    """How a table's objects begin, and the word that tells it -> words of a column -> index -> cell.

    A table is told by the first word in which the names of a module's objects differ; where each object differs in
    it, all are columns of one.
    """
    modules: dict[str, list[tuple[str, ...]]] = {}
    for name in cells:
        modules.setdefault(name[0], []).append(name)
    made: dict[tuple[str, str], dict[str, dict[str, _Walked]]] = {}
    for names in modules.values():
        common = 0
        while all(len(name) > common + 1 for name in names) and len({name[common] for name in names}) == 1:
            common += 1
        heads = [name[: common + 1] for name in names]
        if len(set(heads)) == len(names):
            heads = [name[:common] for name in names]
        for head, name in zip(heads, names, strict=True):
            rest = list(name[len(head) :])
            while len(rest) > 1 and rest[0].lower() in _FILLED:
                del rest[0]
            column = " ".join(rest) or head[-1]
            shown = "::".join(filter(None, (head[0], "".join(head[1:]))))
            made.setdefault((shown, " ".join(head[-1:])), {}).setdefault(column, {}).update(cells[name])
    return made


def _in_degrees(columns: Mapping[str, Mapping[str, _Walked]]) -> frozenset[str]:
    """The columns of temperatures whose bare figures can only be whole degrees."""
    low, high = _DEGREES
    return frozenset(
        column
        for column, cells in columns.items()
        if all(_BARE.fullmatch(cell.value) is not None and low <= int(cell.value) <= high for cell in cells.values())
    )


def _thing(index: str | None, row: Mapping[str, _Walked], in_degrees: frozenset[str]) -> Obj:
    """The members of one row. Raises ValueError where a cell of it cannot be told."""
    named = next((c for word in _CALLED for c in row if c.lower().split()[-1] == word), None)
    made = Obj()
    first = next(iter(row.values())).line
    if named is None and index is not None:
        made.append(("slot", Leaf(index, first, True)))
    for column, cell in row.items():
        words = set(words_of(column))
        value = cell.value
        if cell.type == "STRING":
            if value[:1] == '"' and (len(value) < 2 or value[-1] != '"'):
                raise ValueError(f"line {cell.line}: its text goes on in another line")
            value = value.strip('"')
        elif (found := NAMED.fullmatch(value)) is not None:
            value = found["name"]
        elif cell.type in _NUMBERS and _BARE.fullmatch(value):
            label = label_of(column)
            if words & _OF_NO_MOMENT:
                value = ""
            elif words & _STATES:
                raise ValueError(f"what {value} means as `{column}` no walk tells")
            elif not (label.field == "speed" or column in in_degrees):
                raise ValueError(f"in which unit `{column}` is no walk tells")
        elif cell.type not in _NUMBERS:
            value = ""  # bits, addresses, times and counts are none of a part
        if column == named and (bad := next((w for w in value.split() if condition_of(w.strip(",;:")) in _BAD), None)):
            raise ValueError(f"line {cell.line}: its name says `{bad}`, whatever its state is")
        made.append(("name" if column == named else column, Leaf(value, cell.line, cell.type == "STRING")))
    return made
