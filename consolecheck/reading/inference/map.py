"""The reading map: which label of an unknown device's text was taken as what, for a person to confirm.

A verdict on inferred readings is inconclusive until somebody has looked over this map and put a name to it.
The confirmation is of one layout: a text whose tables, labels or their meanings differ from the map by
anything is not covered by it. The map states what was inferred; changing it does not change the reading.
"""

import hashlib
import json
import tomllib
from typing import Any, NamedTuple

from consolecheck.records.readings import Confirmation, Snapshot, TakenAs

_FORM = 1


class MapFault(ValueError):
    """The file is no reading map. The message says what is wrong with it."""


class ReadingMap(NamedTuple):
    """For each table its kinds, its layout, and what its labels were taken as."""

    tables: frozenset[tuple[str, str, tuple[tuple[str, str], ...]]]
    digest: str


def _told(taken: TakenAs) -> tuple[str, str, tuple[tuple[str, str], ...]]:
    return taken.table.rsplit(" no. ", 1)[0], taken.layout, tuple(sorted(dict(taken.columns).items()))


def _digest(tables: frozenset[tuple[str, str, tuple[tuple[str, str], ...]]]) -> str:
    return hashlib.sha256(json.dumps(sorted(tables), ensure_ascii=True).encode()).hexdigest()


def map_of(snapshot: Snapshot) -> ReadingMap:
    """The map of one text's inferred readings."""
    tables = frozenset(_told(t) for t in snapshot.taken_as)
    return ReadingMap(tables, _digest(tables))


def _text(value: str) -> str:
    """A string as TOML writes it; control and other odd characters are escaped."""
    return json.dumps(value, ensure_ascii=True).replace("\x7f", "\\u007f")


def map_text(snapshot: Snapshot) -> str:
    """The map as TOML, with lines and sureness for the person who looks it over."""
    lines = [
        "# How the labels of this text were taken. Compare each with the device's manual, or with the device.",
        "# Right in everything? Then give this file to replay: --confirm-map FILE --confirmed-by NAME.",
        "# What is wrong here cannot be mended here: describe the device in a dialect instead.",
        f"form = {_FORM}",
        f"text = {_text(snapshot.source)}",
    ]
    of = {t.table: t for t in snapshot.tables}
    for taken in snapshot.taken_as:
        seen = of[taken.table]
        lines += [
            "",
            "[[tables]]",
            f"table = {_text(taken.table)}",
            f"kinds = [{', '.join(_text(k) for k in seen.kinds)}]",
            f"layout = {_text(taken.layout)}",
            f"lines = [{taken.first_line}, {taken.last_line}]",
            f"header_lines = [{', '.join(map(str, taken.header_lines))}]",
            f"readings = {seen.rows}",
            f"sure = {_text(taken.sure)}",
            "[tables.taken_as]",
            *(f"{_text(label)} = {_text(field)}" for label, field in dict(taken.columns).items()),
        ]
        words = {
            s.reading.status_text: s.reading.condition.value
            for s in snapshot.sightings
            if s.table == taken.table and s.reading.status_text and s.reading.condition
        }
        if words:
            lines.append("[tables.status_words]")
            lines += [f"{_text(word)} = {_text(condition)}" for word, condition in words.items()]
    return "\n".join(lines) + "\n"


def load_map(text: str, source: str) -> ReadingMap:
    """A map that was written by `map_text`; raises MapFault."""
    try:
        data: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as reason:
        raise MapFault(f"{source} is not TOML: {reason}") from None
    if data.get("form") != _FORM or not isinstance(data.get("tables"), list) or not data["tables"]:
        raise MapFault(f"{source} is no reading map; write one with `read FILE --map MAP`")
    tables = set()
    for table in data["tables"]:
        try:
            taken = table["taken_as"]
            name, layout = table["table"], table["layout"]
        except (TypeError, KeyError):
            raise MapFault(f"{source}: a table lacks `table`, `layout` or `taken_as`") from None
        if not isinstance(taken, dict) or not all(isinstance(x, str) for x in (name, layout, *taken.values())):
            raise MapFault(f"{source}: `table`, `layout` and what a label was taken as are texts")
        tables.add((name.rsplit(" no. ", 1)[0], layout, tuple(sorted(taken.items()))))
    found = frozenset(tables)
    return ReadingMap(found, _digest(found))


def confirmed(snapshot: Snapshot, by: ReadingMap, name: str, at: str) -> tuple[Snapshot, str]:
    """The snapshot with the confirmation on it, or as it was and why the map does not cover it."""
    if snapshot.basis != "inferred" or snapshot.dialect is not None:
        return snapshot, f"{snapshot.source} is not read by inference, and a reading map has nothing to say of it"
    own = map_of(snapshot)
    if not own.tables:
        return snapshot, f"nothing was read of {snapshot.source}"
    if unknown := own.tables - by.tables:
        layout = sorted(unknown)[0][1]
        return snapshot, f"{snapshot.source} holds a table that the map does not cover as it was read (`{layout}`)"
    if missing := by.tables - own.tables:
        layout = sorted(missing)[0][1]
        return snapshot, f"{snapshot.source} lacks a table of the map, or it was read otherwise (`{layout}`)"
    return snapshot._replace(confirmed=Confirmation(name, at, by.digest)), ""
