"""Puts a walk of SNMP tables in order: `snmpwalk` prints column by column, and a thing is a row.

    ENTITY-MIB::entPhysicalName.7 = STRING: PSU 2        /7/entPhysicalName: PSU 2
    ENTITY-MIB::entPhysicalName.8 = STRING: Fan 1        /7/entPhysicalClass: powerSupply
    ENTITY-MIB::entPhysicalClass.7 = INTEGER: 6          /7 end
    ...                                                  /8/entPhysicalName: Fan 1  ...

A manifest names the columns by their object identifiers, and the names behind their numbers, so that a walk
with and without the MIB files at hand reads the same: `ENTITY-MIB::entPhysicalClass.7 = INTEGER: powerSupply(6)`
and `.1.3.6.1.2.1.47.1.1.1.1.5.7 = INTEGER: 6`. Where one column says in which other row a thing is (`inside`),
the row it is in is told with it: `/7/in/entPhysicalName: Slot 2`.

A row that holds one cell twice with different values, a name that is not the number's, or a line in doubt gives
no reading: all its lines are unread. Lines of columns that the manifest does not name are told as they stand.

Sources: output of the command as its manual page describes it; object identifiers from the MIB modules.
"""

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from consolecheck.reading.flat import Flat
from consolecheck.records.text import Line

_LINE = re.compile(
    r"(?:(?P<module>[A-Za-z][\w-]*)::)?(?P<object>[A-Za-z][\w-]*(?:\.[0-9]+)*|\.?[0-9]+(?:\.[0-9]+)+)"
    r"(?:\.(?P<index>[0-9]+)|\[(?P<bracketed>[0-9]+)\])(?: ?= ?| )(?P<told>.*)"
)
"""With the index behind a point or in brackets, and in the short form without `=` and type."""
_OID = re.compile(r"(?:(?:iso|\.?1)\.|(?P<mib2>mib-2\.))(?P<rest>[0-9]+(?:\.[0-9]+)*)")
TYPES = (
    "STRING|INTEGER|Hex-STRING|BITS|OID|Gauge32|Counter32|Counter64|Unsigned32|Integer32|UInteger32"
    "|Timeticks|IpAddress|OCTET STRING|Network Address"
)
"""What stands before a value, as alternatives of an expression."""
_TYPED = re.compile(rf"(?:(?P<type>{TYPES}):(?: |\Z))?(?P<value>.*)")
_OCTETS = re.compile(r"(?P<hex>[0-9A-Fa-f]{2}(?: [0-9A-Fa-f]{2})*)(?: +[A-Za-z][\w-]*\([0-9]+\))*")
NAMED = re.compile(r"(?P<name>[A-Za-z][\w-]*)\((?P<number>-?[0-9]+)\)")
"""A number with the name that the module's file gives it: `normal(1)`."""
_NOTHING = re.compile(r"No (?:Such (?:Object|Instance)|more variables)\b.*")


class Columns(NamedTuple):
    """What a manifest says of the tables that are walked."""

    names: Mapping[str, str]
    """Object identifier of a column, from `1.` on -> its name."""
    enumerations: Mapping[str, Mapping[str, str]]
    """Name of a column -> number -> name."""
    bits: Mapping[str, Mapping[str, str]]
    """Name of a column of bits -> number of a bit -> name."""
    inside: str | None
    """The column that holds the index of the row that a row is in."""


class WalkedCell(NamedTuple):
    """One cell of a walked table: its value with the name behind its number, and the column where it begins."""

    line: Line
    column: str
    value: str
    start: int
    length: int
    """Of the value as printed."""


class Walked(NamedTuple):
    """The cells of a walk by row and column, and what is not among them."""

    rows: Mapping[int, Mapping[str, WalkedCell]]
    of_row: Mapping[int, Sequence[Line]]
    """Index -> all its lines."""
    spoiled: Mapping[int, str]
    """Index -> why the row cannot be read."""
    others: Sequence[Line]
    """Lines of no column that is known."""


def walked(lines: Sequence[Line], columns: Columns) -> Walked:
    """The cells of the columns that are known. A cell given twice, unlike, or not understood spoils its row."""
    known = set(columns.names.values())
    rows: dict[int, dict[str, WalkedCell]] = {}
    of_row: dict[int, list[Line]] = {}
    spoiled: dict[int, str] = {}
    others: list[Line] = []
    for line in lines:
        if not line.text and not line.doubt:
            continue
        found = _LINE.fullmatch(line.text)
        column = _column(found["object"], columns.names, known) if found is not None else None
        number = (found["index"] or found["bracketed"]) if found is not None else ""
        if found is None or column is None or len(number) > 10:
            others.append(line)
            continue
        index = int(number)
        of_row.setdefault(index, []).append(line)
        if line.doubt:
            spoiled.setdefault(index, f"line {line.number}: {line.doubt}")
            continue
        told = found["told"].strip()
        if _NOTHING.fullmatch(told):
            continue
        typed = _TYPED.fullmatch(told)
        value = typed["value"].strip() if typed is not None else told
        quoted = len(value) >= 2 and value[0] == value[-1] == '"'
        try:
            if column in columns.bits:
                named = _bits(value, typed["type"] if typed is not None else None, columns.bits[column])
            else:
                if not quoted and value[:1] == '"':
                    raise ValueError("its text goes on in another line")
                value = value[1:-1] if quoted else value
                named = _name(value, columns.enumerations.get(column))
        except ValueError as reason:
            spoiled.setdefault(index, f"line {line.number}: {reason}")
            continue
        before = rows.setdefault(index, {}).get(column)
        if before is not None and before.value != named:
            spoiled.setdefault(index, f"lines {before.line.number} and {line.number} give {column} twice, unlike")
        start = line.text.rfind(value) if value else len(line.text)
        rows[index][column] = WalkedCell(line, column, named, start, len(value))
    return Walked(rows, of_row, spoiled, others)


def in_rows(lines: Sequence[Line], columns: Columns) -> Flat:
    """The walked lines, row by row."""
    found = walked(lines, columns)
    flat = [line for line in found.others if not line.doubt]
    unread = [line for line in found.others if line.doubt]
    places: dict[tuple[int, str], tuple[int, int] | None] = {}

    def tell(cell: WalkedCell, text: str) -> None:
        flat.append(Line(cell.line.number, text))
        places[cell.line.number, text] = (cell.start, cell.start + cell.length)

    for index, cells in found.rows.items():
        if index in found.spoiled:
            continue
        for cell in cells.values():
            tell(cell, f"/{index}/{cell.column}: {cell.value}")
        around = cells.get(columns.inside) if columns.inside else None
        if around is not None and around.value.isdecimal() and (parent := int(around.value)) not in found.spoiled:
            for cell in found.rows.get(parent, {}).values() if parent != index else ():
                tell(cell, f"/{index}/in/{cell.column}: {cell.value}")
        last = max(cell.line.number for cell in cells.values()) if cells else 0
        flat.append(Line(last, f"/{index} end"))
    for index, why in found.spoiled.items():
        unread.extend(Line(n, t, f"row {index} cannot be read: {why}") for n, t, _ in found.of_row[index])
    return Flat(flat, places, unread, 0)


def _column(walked: str, names: Mapping[str, str], known: set[str]) -> str | None:
    """The name of a column by its name or its object identifier; None where the manifest does not name it."""
    if walked in known:
        return walked
    oid = _OID.fullmatch(walked)
    if oid is None:
        return None
    return names.get(f"1.3.6.1.2.1.{oid['rest']}" if oid["mib2"] else f"1.{oid['rest']}")


def _name(value: str, names: Mapping[str, str] | None) -> str:
    """The name behind a number; raises ValueError where there is none, or where a name and its number differ."""
    if names is None:
        return value
    named = NAMED.fullmatch(value)
    if named is not None:
        if names.get(named["number"]) != named["name"]:
            raise ValueError(f"`{value}` is not a value of this column")
        return named["name"]
    if value in names.values():
        return value
    if value not in names:
        raise ValueError(f"`{value}` is not a value of this column")
    return names[value]


def _bits(value: str, form: str | None, names: Mapping[str, str]) -> str:
    """The names of the bits that are set, `none` where none is; raises ValueError where that cannot be told.

    Without the MIB files the octets are printed as what they look like: 20h, a blank, as `STRING: " "`.
    """
    if value == '""':
        octets = b""
    elif form == "STRING" and len(value) >= 3 and value[0] == value[-1] == '"' and value.isascii():
        octets = value[1:-1].encode()
    elif form in ("BITS", "Hex-STRING") and (found := _OCTETS.fullmatch(value)) is not None:
        octets = bytes.fromhex(found["hex"])
    else:
        raise ValueError(f"`{value}` does not tell which bits are set")
    numbers = [8 * at + bit for at, octet in enumerate(octets) for bit in range(8) if octet << bit & 0x80]
    if any(str(number) not in names for number in numbers):
        raise ValueError(f"`{value}` sets a bit that this column does not have")
    named = [names[str(number)] for number in numbers]
    said = [(name, int(number)) for name, number in NAMED.findall(value)] if form == "BITS" else []
    if said and said != list(zip(named, numbers, strict=True)):
        raise ValueError(f"in `{value}` the names are not those of the bits")
    return " ".join(named) or "none"
