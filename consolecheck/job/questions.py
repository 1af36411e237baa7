"""What a person is asked for, and when: only what eyes can tell and the text does not. Pure.

Facts and values are those of `judging/view.py`. Colours are never built in: what a lamp can show comes from
the dialect's chart, and what it means is not told, so that nobody is led to an answer. Words in a question
may come from a device: show them through `reporting/safe.py`.
"""

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Literal, NamedTuple

from consolecheck.judging.view import NOT_SEEN, OBSERVABLE, View, is_serial
from consolecheck.reading.dialect import Manifest
from consolecheck.records.readings import Condition, PowerSupply, Sighting, Snapshot

Moment = Literal["in-hand", "fitted", "settled"]
"""With the replacement in hand and before anything is pulled; just seated; at the end."""


class Choice(NamedTuple):
    """One answer that can be given. An empty key is Enter alone."""

    key: str
    label: str
    value: str


class Question(NamedTuple):
    """One question. `typed`: any text may be typed besides the choices; `id` is UNIT.FACT."""

    id: str
    unit: str
    fact: str
    text: str
    choices: tuple[Choice, ...]
    typed: bool


COULD_NOT_SEE = Choice("n", "could not see", NOT_SEEN)
LAMP_KEYS = "123456789abcdefghijklmopqrstuvwxyz"
"""Keys for what a lamp can show, without the one that says that it could not be seen."""
LONGEST_ANSWER = 64
_LONGEST_NAME = 24
_LONGEST_LABEL = 60
MOST_AFFECTED = 4
"""Ports asked for because their link is gone; the text tells the others. Common practice, no source."""
SAMPLE = 2
"""Ports asked for beside them. Common practice, no source."""
_WITHOUT_LAMPS = re.compile(
    r"(?:po|port-?channel|lag|bond|vl|vlan|lo|loopback|tu|tunnel|irb|bvi|null)[-/. ]?\d.*", re.IGNORECASE
)
"""Names of ports that are no jack. Common practice, no source."""


def questions(
    moment: Moment,
    unit: str,
    manifest: Manifest,
    before: Snapshot,
    now: Snapshot | None,
    answered: Collection[str],
) -> tuple[Question, ...]:
    """What to ask at a moment of the swap of `unit`, in order, without what is `answered` by id.

    `before` is the baseline, `now` the newest capture where there is one. In a job with two units give for the
    second only what stays true: `chassis.cold_aisle` does, the chassis' lamp and earth are looked at again.
    """
    case = _Case(unit, manifest, View(before, "before"), View(now, "after") if now is not None else None)
    return tuple(question for question in _ASKED[moment](case) if question.id not in answered)


def answer_of(question: Question, entered: str) -> str:
    """The value that an entry stands for: a key, the value itself, or a text where one may be typed.

    Raises ValueError with what is accepted.
    """
    word = " ".join(entered.split())
    by_key = {choice.key: choice.value for choice in question.choices}
    by_value = {choice.value.lower(): choice.value for choice in question.choices}
    found = by_key.get(word.lower()) or by_value.get(word.lower())
    if found is not None:
        return found
    if question.typed and word and len(word) <= LONGEST_ANSWER and word.isprintable():
        serial = question.fact in ("serial", "removed_serial")
        allowed = OBSERVABLE[question.fact]
        if serial and is_serial(word) and not any(c.isdigit() for c in word):
            # A stray `yes` would be held against the device as a serial. That serials hold digits: common practice, no source.
            raise ValueError(
                f"`{_short(word, _LONGEST_NAME)}` holds no digit and is not taken for a serial number; "
                f"type it as the label shows it, or {COULD_NOT_SEE.key} for {COULD_NOT_SEE.label}"
            )
        if (not serial or is_serial(word)) and (not allowed or word in allowed):
            return word
    told = [f"{c.key or 'Enter'} for {_short(c.label, _LONGEST_LABEL)}" for c in question.choices]
    if question.typed:
        told.insert(0, f"the text itself, up to {LONGEST_ANSWER} characters")
    shown = f"`{_short(word, _LONGEST_NAME)}` is no answer here" if word else "an answer is needed"
    raise ValueError(f"{shown}; accepted: {', '.join(told)}")


class _Case(NamedTuple):
    """What questions are made from."""

    unit: str
    manifest: Manifest
    before: View
    now: View | None

    @property
    def is_supply(self) -> bool:
        return self.unit.startswith("psu-")

    @property
    def here(self) -> str:
        """The unit's name, short enough for a question."""
        return _short(self.unit, _LONGEST_NAME)


def _short(text: str, longest: int) -> str:
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def _asked(unit: str, fact: str, text: str, *choices: Choice, typed: bool = False) -> Question:
    return Question(f"{unit}.{fact}", unit, fact, text, (*choices, COULD_NOT_SEE), typed)


# With the replacement in hand.


def _in_hand(case: _Case) -> Iterator[Question]:
    unit, here, before = case.unit, case.here, case.before
    yield _asked(
        unit,
        "serial",
        f"Read the label of the new part for {here} before it goes in. Which serial number does it show?",
        typed=True,
    )
    peers = (unit, *(u for u in before.units if u != unit and u[:4] == unit[:4]))
    fitted = next(((u, found[0]) for u in peers if (found := before.fact(u, "part_number"))), None)
    if fitted is not None:
        whose, part = fitted
        same = "same as fitted" if whose == unit else f"same as in {_short(whose, _LONGEST_NAME)}"
        yield _asked(
            unit,
            "part",
            f"Which part number does the label of the new part for {here} show?",
            Choice("", _short(f"{same}: {part}", _LONGEST_LABEL), part),
            typed=True,
        )
    if case.is_supply and any(r.input_type for r in _supplies(before)):
        yield _asked(
            unit,
            "input",
            f"Which input does the label of the new supply for {here} name?",
            Choice("a", "AC, alternating current", "AC"),
            Choice("d", "DC, direct current", "DC"),
        )
    yield _airflow(unit, f"new part for {here}")
    yield _asked(
        unit,
        "damage",
        f"Look over the new part for {here}: casing, latch, connector, pins. Is it damaged?",
        Choice("o", "no damage", "none"),
        Choice("d", "damage found", "found"),
    )
    yield _asked(
        unit,
        "contents",
        f"Is all there that belongs to the new part for {here}: cord, clip, screws, papers?",
        Choice("c", "complete", "complete"),
        Choice("m", "something is missing", "missing"),
    )


def _airflow(unit: str, part: str) -> Question:
    return _asked(
        unit,
        "airflow",
        f"Which airflow does the mark on the {part} name? Where only a colour tells, answer {COULD_NOT_SEE.key}.",
        Choice("f", "front to back", "front-to-back"),
        Choice("b", "back to front", "back-to-front"),
    )


# Just seated.


def _fitted(case: _Case) -> Iterator[Question]:
    unit, here, before = case.unit, case.here, case.before
    latest = case.now or before
    if unit not in before.serials:
        yield _asked(
            unit,
            "removed_serial",
            f"Read the label of the part that came out of {here}. Which serial number does it show?",
            typed=True,
        )
    if case.is_supply:
        if not any(r.feed for r in _supplies(before)):
            for supply in dict.fromkeys((*latest.supplies, unit)):
                if supply == unit or latest.condition(supply) is not Condition.ABSENT:
                    yield _asked(
                        supply,
                        "feed",
                        f"Follow the cord of {_short(supply, _LONGEST_NAME)} to its outlet. On which feed is it?",
                        Choice("a", "feed A", "A"),
                        Choice("b", "feed B", "B"),
                    )
        yield _asked(
            "chassis",
            "earth",
            "Look at the earth lead of the chassis and leave it as it is. Is it connected?",
            Choice("c", "connected", "connected"),
            Choice("l", "loose or not there", "loose"),
        )
    for other in latest.units:
        # One direction is asked for in the whole chassis: where the text does not tell, the marks have to.
        if other != unit and latest.condition(other) is not Condition.ABSENT and latest.fact(other, "airflow") is None:
            yield _airflow(other, f"part in {_short(other, _LONGEST_NAME)}")
    yield _asked(
        "chassis",
        "cold_aisle",
        "Which side of the chassis faces the cold aisle?",
        Choice("p", "the side of the ports", "port-side"),
        Choice("s", "the side of the supplies", "power-side"),
    )


def _lamp(case: _Case, unit: str, which: Literal["unit", "chassis"], text: str) -> Question:
    """What a lamp shows: out of the maker's chart, or in the person's own words where there is none."""
    chart = list(case.manifest.lamps.get(which, ()))[: len(LAMP_KEYS)]
    if not chart:
        return _asked(unit, "lamp", f"{text} Describe it as you see it.", typed=True)
    shown = [Choice(key, _short(word, _LONGEST_LABEL), word) for key, word in zip(LAMP_KEYS, chart, strict=False)]
    return _asked(unit, "lamp", text, *shown)


# At the end.


def _settled(case: _Case) -> Iterator[Question]:
    # Not just after seating: a cord that goes in late, or a part that starts, would be held to what it showed then.
    yield _lamp(case, case.unit, "unit", f"What does the lamp of {case.here} show?")
    yield _lamp(case, "chassis", "chassis", "What does the status lamp at the front of the chassis show?")
    lost: list[tuple[int, str, int | None]] = []
    kept: list[tuple[int, str, int | None]] = []
    known = {s.reading.name: s for s in reversed(case.now.of("link"))} if case.now is not None else None
    for order, (name, sighting) in enumerate(_ports(case.before).items()):
        if sighting.reading.condition is Condition.OK and not _WITHOUT_LAMPS.fullmatch(name):
            now = known.get(name) if known is not None else sighting
            is_up = now is not None and now.reading.condition is Condition.OK
            (kept if is_up else lost).append((order, name, _lamps_of(sighting, case.manifest)))
    # Ports with a lamp for each lane show most, so they are the sample.
    sample = sorted(kept, key=lambda port: (-(port[2] or 0), port[0]))[:SAMPLE]
    for _, name, lamps in (*lost[:MOST_AFFECTED], *sorted(sample)):
        yield _port(name, lamps)


def _ports(view: View) -> Mapping[str, Sighting]:
    """Name -> the first row of that link."""
    found: dict[str, Sighting] = {}
    for sighting in view.of("link"):
        if sighting.reading.name:
            found.setdefault(sighting.reading.name, sighting)
    return found


def _lamps_of(link: Sighting, manifest: Manifest) -> int | None:
    """How many lamps a port has by its speed as printed; None where the family's papers or the text do not tell."""
    chart = manifest.chassis.port_lamps
    speed = link.row.values.get("speed")
    if not chart or not speed or speed in manifest.blank_cells:
        return None
    return chart.get(speed, 1)


def _port(name: str, lamps: int | None) -> Question:
    unit, here = f"port-{name.lower()}", _short(name, _LONGEST_NAME)
    if lamps is None:
        text, lit, dark = f"Look at all link lamps of port {here}. Are they lit?", "all lit", "at least one dark"
    elif lamps == 1:
        text, lit, dark = f"Look at the link lamp of port {here}. Is it lit?", "lit", "dark"
    else:
        text = f"Port {here} has {lamps} link lamps, one a lane. Are all of them lit?"
        lit, dark = f"all {lamps} lit", "at least one dark"
    return _asked(
        unit, "lamps", f"{text} A lamp that blinks is lit.", Choice("l", lit, "lit"), Choice("d", dark, "dark")
    )


def _supplies(view: View) -> list[PowerSupply]:
    return [r for s in view.of("power_supply") if isinstance(r := s.reading, PowerSupply)]


_ASKED: Mapping[Moment, Callable[[_Case], Iterator[Question]]] = {
    "in-hand": _in_hand,
    "fitted": _fitted,
    "settled": _settled,
}
