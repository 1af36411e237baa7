"""The reading map: which label of an unknown device's text was taken as what, for a person to confirm.

A verdict on inferred readings is inconclusive until somebody has looked over this map and put a name to it.
The confirmation is of one layout: a text whose tables, labels or their meanings differ from the map by
anything is not covered by it, nor one with a status word that the map does not hold, unless it is a word for
a fault. The map states what was inferred; changing it does not change the reading. One thing a person may add: what
a status word means that nobody knows here, such as a maker's `Powered`. The text is then read with it.
"""

import hashlib
import json
import tomllib
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from consolecheck.reading.inference.values import may_be_stated
from consolecheck.records.readings import Condition, Confirmation, Snapshot, TakenAs

_FORM = 1


class MapFault(ValueError):
    """The file is no reading map. The message says what is wrong with it."""


Table = tuple[str, str, tuple[tuple[str, str], ...]]
"""Its kinds, its layout, and what its labels were taken as."""
Word = tuple[str, str, str, str]
"""Kinds and layout of a table, a status word in it, and the condition that it was read as."""


class ReadingMap(NamedTuple):
    """The tables of a text and the status words in them, as they were understood."""

    tables: frozenset[Table]
    words: frozenset[Word]
    digest: str
    stated: Mapping[str, Condition] = {}
    """What the person who looks it over states of words that are read as unknown."""


_MAY_MEAN = tuple(c.value for c in Condition if c is not Condition.UNKNOWN)
_LISTED = ", ".join(_MAY_MEAN[:-1]) + f" or {_MAY_MEAN[-1]}"
_NEED_NO_CONFIRMING = frozenset((Condition.WARNING, Condition.FAILED))
"""Words that can only make a verdict worse. One that is not known may be another that was not rightly read."""


def _plain(table: str) -> str:
    return table.rsplit(" no. ", 1)[0]


def _told(taken: TakenAs) -> Table:
    return _plain(taken.table), taken.layout, tuple(sorted(dict(taken.columns).items()))


def _digest(tables: frozenset[Table], words: frozenset[Word], stated: Mapping[str, Condition]) -> str:
    told: list[object] = [sorted(tables), sorted(words)]
    if stated:
        told.append(sorted(stated.items()))
    return hashlib.sha256(json.dumps(told, ensure_ascii=True).encode()).hexdigest()


def _made(
    tables: frozenset[Table], words: frozenset[Word], stated: Mapping[str, Condition] = MappingProxyType({})
) -> ReadingMap:
    return ReadingMap(tables, words, _digest(tables, words, stated), stated)


def _words(snapshot: Snapshot, table: str, layout: str) -> Iterator[tuple[Word, int]]:
    """Each status word of a table that was understood, with the line where it stands."""
    for sighting in snapshot.sightings:
        reading = sighting.reading
        if sighting.table == table and reading.condition is not None:
            yield (_plain(table), layout, reading.status_text or "", reading.condition.value), sighting.lines[0]


def map_of(snapshot: Snapshot) -> ReadingMap:
    """The map of one text's inferred readings."""
    words = (word for t in snapshot.taken_as for word, _ in _words(snapshot, t.table, t.layout))
    return _made(frozenset(map(_told, snapshot.taken_as)), frozenset(words))


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
        words: dict[str, dict[str, None]] = {}
        for (_, _, word, condition), _ in _words(snapshot, taken.table, taken.layout):
            words.setdefault(word, {})[condition] = None
        if words:
            lines.append("[tables.status_words]")
            lines += [f"{_text(word)} = [{', '.join(map(_text, read_as))}]" for word, read_as in words.items()]
    open_ = dict.fromkeys(
        word
        for taken in snapshot.taken_as
        for (_, _, word, condition), _ in _words(snapshot, taken.table, taken.layout)
        if condition == Condition.UNKNOWN and may_be_stated(word)
    )
    if open_:
        lines += [
            "",
            "# What these words mean is not known here. Where the device's manual tells it, state it: take the # away, also that",
            f"# before [stated], and write {_LISTED}. It holds for every table of the text.",
            "# [stated]",
            *(f'# {_text(word)} = ""' for word in open_),
        ]
    return "\n".join(lines) + "\n"


def load_map(text: str, source: str) -> ReadingMap:
    """A map that was written by `map_text`; raises MapFault."""
    try:
        data: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as reason:
        raise MapFault(f"{source} is not TOML: {reason}") from None
    if data.get("form") != _FORM or not isinstance(data.get("tables"), list) or not data["tables"]:
        raise MapFault(f"{source} is no reading map; write one with `read FILE --map MAP`")
    tables: set[Table] = set()
    words: set[Word] = set()
    for table in data["tables"]:
        try:
            taken = table["taken_as"]
            name, layout = table["table"], table["layout"]
            said = table.get("status_words", {})
        except (TypeError, KeyError, AttributeError):
            raise MapFault(f"{source}: a table lacks `table`, `layout` or `taken_as`") from None
        if not isinstance(taken, dict) or not all(isinstance(x, str) for x in (name, layout, *taken.values())):
            raise MapFault(f"{source}: `table`, `layout` and what a label was taken as are texts")
        if not isinstance(said, dict) or not all(isinstance(x, list) for x in said.values()):
            raise MapFault(f"{source}: `status_words` gives for each word a list of conditions")
        tables.add((_plain(name), layout, tuple(sorted(taken.items()))))
        words.update(
            (_plain(name), layout, word, str(condition)) for word, read_as in said.items() for condition in read_as
        )
    return _made(frozenset(tables), frozenset(words), _stated(data.get("stated", {}), words, source))


def _stated(said: object, words: set[Word], source: str) -> dict[str, Condition]:
    """What a person states of words. Raises MapFault."""
    if not isinstance(said, dict):
        raise MapFault(f'{source}: `stated` gives for each word what it means, as "Powered" = "ok"')
    found: dict[str, Condition] = {}
    for word, means in said.items():
        if means not in _MAY_MEAN:
            raise MapFault(f"{source}: `{word}` is stated to mean `{means}`; a word means {_LISTED}")
        if not any(told == word and condition == Condition.UNKNOWN for _, _, told, condition in words):
            raise MapFault(
                f"{source}: no table of the map holds `{word}` as a word that is not known; nothing else can be stated"
            )
        if not may_be_stated(word):
            raise MapFault(
                f"{source}: `{word}` says that a part is there or not, and no more; describe the device in a dialect instead"
            )
        found[word] = Condition(means)
    return found


def confirmed(snapshot: Snapshot, by: ReadingMap, name: str, at: str) -> tuple[Snapshot, str]:
    """The snapshot with the confirmation on it, or as it was and why the map does not cover it."""
    if snapshot.basis != "inferred":
        return (
            snapshot,
            f"{snapshot.source} is read by dialect {snapshot.dialect}, and a reading map has nothing to say of it",
        )
    if by.stated and snapshot.dialect is not None:
        return snapshot, f"{snapshot.source} is read by the draft {snapshot.dialect}: say there what a word means"
    own = map_of(snapshot)
    words = by.words | {
        (table, layout, word, by.stated[word].value)
        for table, layout, word, condition in by.words
        if condition == Condition.UNKNOWN and word in by.stated
    }
    if not own.tables:
        return snapshot, f"nothing was read of {snapshot.source}"
    if unknown := own.tables - by.tables:
        layout = sorted(unknown)[0][1]
        return snapshot, f"{snapshot.source} holds a table that the map does not cover as it was read (`{layout}`)"
    if missing := by.tables - own.tables:
        layout = sorted(missing)[0][1]
        return snapshot, f"{snapshot.source} lacks a table of the map, or it was read otherwise (`{layout}`)"
    for taken in snapshot.taken_as:
        for word, line in _words(snapshot, taken.table, taken.layout):
            if word not in words and Condition(word[3]) not in _NEED_NO_CONFIRMING:
                what = f"was read as {word[3]}, and the map does not hold that word there"
                return snapshot, f"`{word[2]}` in line {line} of {snapshot.source} {what}"
    return snapshot._replace(confirmed=Confirmation(name, at, by.digest, tuple(sorted(by.stated.items())))), ""
