"""Readings of a JSON text by its objects: which one each is of, and the rules that claim all of its lines.

A template of such a table sees the lines that `reading/flat.py` makes. What says how a thing is may stand in
several members (`State`, `Health`): a condition drafted of them holds for just the words that were seen together.
"""

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from consolecheck.drafting.places import KEY, Cell, NotPlaced, Placed, Places, Put
from consolecheck.drafting.rules import TELLING, Rule, exactly, literal, row, tells_of_state
from consolecheck.reading.flat import flattened
from consolecheck.reading.inference.values import condition_of, plain
from consolecheck.records.readings import Sighting
from consolecheck.records.text import Line

STATE = "state"
"""How fields begin that hold words beside the status."""
_END = " end"
_NAMES = ("name", "id", "memberid", "label", "slot", "location", "component", "psu", "fan", "sensor")
_PART = re.compile(r"/([^/\[\]\"]+)")
_FIGURE = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?\Z")
_TRIED = 8
"""Objects that are tried for one reading, the smallest first."""


class _Object(NamedTuple):
    end: int
    path: str
    members: tuple[int, ...]


class Documents:
    """The documents of one table, as flat lines with numbers of their own."""

    def __init__(self, stretches: Sequence[Sequence[Line]]) -> None:
        self.texts: dict[int, str] = {}
        self.raw: dict[int, int] = {}
        """Number of a flat line -> the line of the capture on which its value stands."""
        self.objects: list[_Object] = []
        for lines in stretches:
            first = len(self.texts)
            for line in flattened(lines).lines:
                self.raw[len(self.texts)] = line.number
                self.texts[len(self.texts)] = line.text
            numbers = range(first, len(self.texts))
            for number in numbers:
                if (text := self.texts[number]).endswith(_END):
                    path = text.removesuffix(_END)
                    inside = tuple(n for n in numbers if n < number and _within(self.texts[n], path))
                    self.objects.append(_Object(number, path, inside))
        self.used: dict[int, _Object] = {}

    def placed(self, sighting: Sighting, by_name: bool) -> Placed:
        """The reading with places among the flat lines of its object, whose lines they are. Raises NotPlaced."""
        told = set(sighting.lines)
        there = told & set(self.raw.values())
        found = sorted(
            (o for o in self.objects if o.end not in self.used and there <= {self.raw[n] for n in (*o.members, o.end)}),
            key=lambda o: (len(o.members), o.end),
        )
        why = NotPlaced("the object that it is")
        for each in found[:_TRIED]:
            mine = [n for n in each.members if self.raw[n] in told]
            cells = [cell for n in mine for cell in _cells(n, self.texts[n], each.path)]
            try:
                made = Places([sighting], self.texts, {}, {id(sighting): cells}).placed(sighting, by_name)
            except NotPlaced as missing:
                why = missing
                continue
            self.used[each.end] = each
            states = tuple(self._states(mine, made)) if made.reading.condition is not None else ()
            puts = tuple(sorted((*made.puts, *states), key=lambda p: (p.line, p.start)))
            plan = made.plan
            if states:
                plan = plan._replace(no_status=None, states=True)
            return made._replace(puts=puts, plan=plan, end=each.end)
        raise why

    def _states(self, numbers: Sequence[int], placed: Placed) -> Iterator[Put]:
        """Members that say how the thing is, besides the one that its status is taken from."""
        taken = {put.line for put in placed.puts}
        names: dict[str, int] = {}
        for number in numbers:
            start, text, _ = _token(self.texts[number])
            if number in taken or not _tells(text):
                continue
            key = _PART.findall(self.texts[number][:start])[-1:]
            name = f"{STATE}_{re.sub(r'[^a-z0-9]+', '_', key[0].lower()).strip('_')[:30] if key else 'of'}"
            names[name] = names.get(name, 0) + 1
            field = name if names[name] == 1 else f"{name}_{names[name]}"
            yield Put(field, number, start, start + len(text), text)

    def rules(self, placed: Sequence[Placed], unread: set[int]) -> list[Rule]:
        """Rules for the lines of these readings, and behind them for all other lines that were understood."""
        mine: dict[int, list[Put]] = {}
        for one in placed:
            for put in one.puts:
                mine.setdefault(put.line, []).append(put)
        rules = [
            Rule(row(self.texts[number], sorted(puts, key=lambda p: p.start), [], False), "")
            for number, puts in mine.items()
        ]
        rules += [Rule((literal(self.texts[one.end]),), " -> Record") for one in placed if one.end is not None]
        ends = {one.end for one in placed}
        told = {n for one in placed for n in one.lines}
        for number, text in self.texts.items():
            if number in mine or number in ends or (self.raw[number] in unread and self.raw[number] not in told):
                continue
            rules.append(Rule((_frame(text),), ""))
        return rules

    def key_of(self, placed: Placed) -> str:
        """The longest key of a reading's lines, as the text has it."""
        keys = [key for put in placed.puts for key in _PART.findall(self.texts[put.line].partition(": ")[0])]
        return f'"{max(keys, key=len)}"' if keys else ""


def states_of(placed: Sequence[Placed]) -> list[tuple[dict[str, str], str, bool]]:
    """Words that were seen together, the condition that inference took them for, and whether a status is among them."""
    found: dict[str, tuple[dict[str, str], str, bool]] = {}
    for one in placed:
        if not one.plan.states or one.reading.condition is None:
            continue
        words = {p.field: p.text for p in one.puts if p.field == "status" or p.field.startswith(STATE + "_")}
        found.setdefault(repr(words), (words, one.reading.condition.value, "status" in words))
    return sorted(found.values(), key=lambda state: -len(state[0]))


def _within(text: str, path: str) -> bool:
    return text.startswith((f"{path}/", f"{path}[")) or path == "/"


def _token(text: str) -> tuple[int, str, bool]:
    """Where the value of a flat line begins, the value, and whether it is a text."""
    path, _, token = text.partition(": ")
    start = len(path) + 2
    if len(token) > 1 and token[0] == '"':
        return start + 1, token[1:-1], True
    return start, token, False


def _cells(number: int, text: str, inside: str) -> Iterator[Cell]:
    if text.endswith(_END):
        return
    start, token, _ = _token(text)
    path = text[: text.index(": ")]
    parts = list(_PART.finditer(path))
    label = parts[-1][1].lower() if parts else ""
    if token:
        yield Cell("name" if label in _NAMES else label or "value", number, start, start + len(token), token)
    keys = parts[:-1] if parts and path.endswith(parts[-1][1]) else parts
    for depth, part in enumerate(reversed(keys)):
        yield Cell("" if depth else KEY, number, part.start(1), part.end(1), part[1])


def _tells(text: str) -> bool:
    """Whether a value may say how a thing is: a word that does, or a truth."""
    return condition_of(text) is not None or plain(text) in TELLING or text in ("true", "false")


def _frame(text: str) -> str:
    """A line from which nothing is taken. A word that tells how a thing is stays as it is."""
    if text.endswith(_END):
        return literal(text)
    _, token, quoted = _token(text)
    path = literal(text[: text.index(": ") + 1]) + " "
    if tells_of_state(text):
        return path + exactly(text[text.index(": ") + 2 :])
    if not quoted and _FIGURE.match(token):
        return path + r"-?\d[\d.eE+-]*"
    if quoted and not _tells(token):
        return path + '".*"'
    return path + (f'"{literal(token)}"' if quoted else literal(token))
