"""A snapshot arranged the way rules ask for it, and the case that rules judge.

Several rows may speak of one unit, and one text may hold two tables that print the same sensor. Here
they are brought together: per unit, per kind, and per (kind, unit, name). Where two rows of one text
contradict each other both are kept, and the reading rules say so.
"""

from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Literal, NamedTuple

from consolecheck.judging.acceptance import Acceptance
from consolecheck.records.findings import Evidence, Outcome
from consolecheck.records.readings import (
    Airflow,
    AnyReading,
    Condition,
    Device,
    Fan,
    Inventory,
    Kind,
    PowerSupply,
    Sighting,
    Snapshot,
    Temperature,
    worst,
)
from consolecheck.records.units import Quantity

Side = Literal["before", "after"]
Key = tuple[str, str | None, str | None]


class Observed(NamedTuple):
    """What eyes saw: a fact of a unit, stated by a person, with who and when (RFC 3339) where that is known."""

    unit: str
    fact: str
    value: str
    by: str = ""
    at: str = ""

    @property
    def seen(self) -> bool:
        """Whether the person could see at all."""
        return self.value != NOT_SEEN


NOT_SEEN = "not-seen"
"""The answer of a person who could not see: kept, and no evidence for anything."""

OBSERVABLE: Mapping[str, tuple[str, ...]] = {
    "serial": (),
    "removed_serial": (),
    "part": (),
    "capacity": (),
    "input": ("AC", "DC"),
    "airflow": ("front-to-back", "back-to-front"),
    "feed": (),
    "lamp": (),
    "lamps": ("lit", "dark"),
    "earth": ("connected", "loose"),
    "cold_aisle": ("port-side", "power-side"),
    "damage": ("none", "found"),
    "contents": ("complete", "missing"),
}
"""Fact -> the values that can be stated for it, none meaning any text; `not-seen` is always one more.

Of a replaceable unit: `serial`, `part`, `capacity` (watts), `input` and `airflow` as the label of the new part
says, `removed_serial` of the part that came out, `feed` of its cord, `lamp` in the words of the maker's chart,
`damage` and `contents` of the new part. Of `chassis`: `lamp` (the front status lamp), `earth`, and which side
faces the `cold_aisle`. Of `port-NAME`: its link `lamps`.
"""


def parse_observed(text: str) -> Observed:
    """`psu-2.serial=AB123` as an observation; raises ValueError with what was wrong."""
    subject, equals, value = text.partition("=")
    unit, dot, fact = subject.rpartition(".")
    if not (equals and dot and unit and value.strip()):
        raise ValueError(f"`{text}` is not UNIT.FACT=VALUE, such as psu-2.serial=AB123")
    return observed(unit, fact, value)


def observed(unit: str, fact: str, value: str, by: str = "", at: str = "") -> Observed:
    """An observation, checked; raises ValueError with what was wrong."""
    if fact not in OBSERVABLE:
        raise ValueError(f"`{fact}` cannot be observed; facts are {', '.join(OBSERVABLE)}")
    value = value.strip()
    allowed = OBSERVABLE[fact]
    if not value or (allowed and value not in (*allowed, NOT_SEEN)):
        raise ValueError(f"{fact} is {' or '.join(allowed)}, or {NOT_SEEN}, not `{value}`")
    return Observed(unit.strip().lower(), fact, value, by, at)


class Draft(NamedTuple):
    """A finding as a rule states it; the judge adds the rule, the requirement and standing."""

    subject: str
    outcome: Outcome
    message: str
    evidence: tuple[Evidence, ...] = ()
    measured: Quantity | str | None = None
    limit: Quantity | str | None = None
    source: str | None = None
    margin: Quantity | None = None
    hint: str | None = None
    unit: str | None = None
    advisory: bool = False
    """Whether this one does not count although its rule does (what the device never printed)."""
    by_absence: Kind | None = None
    """The kind that it rests on not being there, which only a wholly read text can show."""
    at_low_end: bool = False
    """Whether it is a lower limit that was tripped."""


class View:
    """One snapshot by kind, unit and key."""

    def __init__(self, snapshot: Snapshot, side: Side) -> None:
        self.snapshot = snapshot
        self.side: Side = side
        self._kinds: dict[Kind, list[Sighting]] = {}
        self._conditions: dict[str, Condition | None] = {}
        self._own: dict[str, list[Sighting]] = {}
        self._serials: dict[str, str | None] = {}

    @cached_property
    def _arranged(self) -> tuple[dict[Key, Sighting], dict[Key, list[Sighting]]]:
        keyed: dict[Key, Sighting] = {}
        repeated: dict[Key, list[Sighting]] = {}
        for sighting in self.snapshot.sightings:
            reading = sighting.reading
            key = (reading.kind, reading.unit, reading.name)
            if key in keyed:
                repeated.setdefault(key, [keyed[key]]).append(sighting)
                if reading.kind == "alarm":  # an event list: the last word on a thing counts
                    keyed[key] = sighting
            else:
                keyed[key] = sighting
        return keyed, repeated

    @cached_property
    def keyed(self) -> Mapping[Key, Sighting]:
        """(kind, unit, name) -> the first such sighting; of alarms the last."""
        return self._arranged[0]

    @cached_property
    def repeated(self) -> Mapping[Key, list[Sighting]]:
        """(kind, unit, name) -> its sightings, where there is more than one."""
        return self._arranged[1]

    def of(self, kind: Kind) -> list[Sighting]:
        """The sightings of a kind, in the order of the text."""
        found = self._kinds.get(kind)
        if found is None:
            found = self._kinds[kind] = [s for s in self.snapshot.sightings if s.reading.kind == kind]
        return found

    def shows(self, kind: Kind) -> bool:
        """Whether the text holds a table of a kind to its end."""
        return any(kind in t.kinds and t.ended and not t.cut for t in self.snapshot.tables)

    def capture(self, what: str) -> str:
        """What to do to have a kind, or a fact of the device, in the text: a hint that names the command."""
        commands = self.snapshot.commands.get(what, ())
        if commands:
            return f"capture `{commands[0]}`"
        return "no command that is read of this device family shows it: look at the device"

    @property
    def whole(self) -> Evidence:
        """The end of the text, as evidence for what was found nowhere in it."""
        return Evidence(self.side, max(self.snapshot.last_line, 1))

    def first_of(self, unit: str) -> tuple[Evidence, ...]:
        """Where a unit was first seen."""
        return tuple(self.at(s) for s in self.by_unit.get(unit, ())[:1])

    def at(self, sighting: Sighting, field: str | None = None) -> Evidence:
        """Where a sighting stood: the field's columns if known, else the first of its lines."""
        span = sighting.span(field) if field else None
        if span is not None:
            return Evidence(self.side, span.line, span.start, span.end)
        return Evidence(self.side, sighting.row.lines[0])

    @cached_property
    def sensors(self) -> Mapping[Key, Sighting]:
        """What `keyed` has of temperature sensors."""
        found: dict[Key, Sighting] = {}
        for sighting in self.of("temperature"):
            reading = sighting.reading
            found.setdefault((reading.kind, reading.unit, reading.name), sighting)
        return found

    @cached_property
    def temperatures(self) -> Mapping[Key, float | None]:
        """Each sensor's reading, degrees Celsius, in the order of the text; None where it gave none."""
        found: dict[Key, float | None] = {}
        for sighting in self.of("temperature"):
            reading = sighting.reading
            key = (reading.kind, reading.unit, reading.name)
            if key not in found:
                value = reading.given("value")
                found[key] = None if value is None else value.value
        return found

    @cached_property
    def impaired(self) -> Mapping[str, tuple[str, Evidence]]:
        """Kind -> why its text was not wholly read. `*` stands for every kind."""
        return impaired(self)

    @cached_property
    def supplies(self) -> Mapping[str, list[Sighting]]:
        """Unit -> its power-supply sightings."""
        return _by_unit(self.of("power_supply"))

    @cached_property
    def fans(self) -> Mapping[str, list[Sighting]]:
        """Unit -> its fan sightings; a fan inside a supply belongs to the supply's unit."""
        return _by_unit(self.of("fan"))

    @cached_property
    def by_unit(self) -> Mapping[str, list[Sighting]]:
        """Unit -> every sighting that belongs to it."""
        return _by_unit(self.snapshot.sightings)

    def of_unit(self, unit: str) -> list[Sighting]:
        """What `by_unit` has of one unit. Of a sample only one or two are ever asked for, so not all are arranged."""
        if "by_unit" in self.__dict__:
            return self.by_unit.get(unit, [])
        found = self._own.get(unit)
        if found is None:
            found = self._own[unit] = [s for s in self.snapshot.sightings if s.reading.unit == unit]
        return found

    @cached_property
    def by_row(self) -> Mapping[tuple[str, str, str | None, str | None], Sighting]:
        """(table, kind, unit, name) -> the first such sighting."""
        rows: dict[tuple[str, str, str | None, str | None], Sighting] = {}
        for sighting in self.snapshot.sightings:
            reading = sighting.reading
            rows.setdefault((sighting.table, reading.kind, reading.unit, reading.name), sighting)
        return rows

    @cached_property
    def serials(self) -> Mapping[str, tuple[str, Sighting]]:
        """Unit -> its serial, where the device printed a real one.

        An empty serial is unknown, not equal to another empty one (RFC 6933, entPhysicalSerialNum).
        """
        found: dict[str, tuple[str, Sighting]] = {}
        for sighting in self.snapshot.sightings:
            unit, serial = sighting.reading.unit, sighting.reading.given("serial")
            if unit is not None and serial and unit not in found and is_serial(serial):
                found[unit] = serial, sighting
        return found

    def serial_of(self, unit: str) -> str | None:
        """The serial that `serials` has for a unit."""
        if unit not in self._serials:
            told = (sighting.reading.given("serial") for sighting in self.of_unit(unit))
            self._serials[unit] = next((str(serial) for serial in told if serial and is_serial(serial)), None)
        return self._serials[unit]

    @cached_property
    def units(self) -> tuple[str, ...]:
        """Replaceable units: supplies and fan modules, in the order of the text."""
        return tuple(u for u in self.by_unit if u.startswith(("psu-", "fan-")))

    def condition(self, unit: str) -> Condition | None:
        """The unit's own condition; None where nothing stated one.

        A measuring point of a supply (a row with a name) that is within its limits, or a fan inside it
        that turns, proves nothing about the supply; one that is out of them, or stands, does.
        """
        if unit not in self._conditions:
            self._conditions[unit] = self._told(unit)
        return self._conditions[unit]

    def _told(self, unit: str) -> Condition | None:
        stated: list[Condition] = []
        hinted: list[Condition] = []
        for sighting in self.of_unit(unit):
            reading = sighting.reading
            if reading.condition is None or isinstance(reading, Temperature | Device):
                continue
            if isinstance(reading, PowerSupply) and reading.name is not None:
                hinted.append(reading.condition)
            elif isinstance(reading, Fan) and not unit.startswith("fan-"):
                hinted.append(reading.condition)  # a fan inside a supply is not the supply
            elif isinstance(reading, PowerSupply | Fan):
                stated.append(reading.condition)
            elif isinstance(reading, Inventory):
                (stated if reading.condition is Condition.ABSENT else hinted).append(reading.condition)
        if not stated:
            bad = [c for c in hinted if c in (Condition.ABSENT, Condition.NO_INPUT, Condition.FAILED)]
            return worst(bad) if bad else None
        return worst((*stated, *(c for c in hinted if c not in (Condition.OK, Condition.UNKNOWN))))

    def speaker(self, unit: str, condition: Condition | None) -> Sighting | None:
        """The row that says so: the unit's own before others, and a word before a bit mask."""
        own = "power_supply" if unit.startswith("psu-") else "fan"
        saying = [
            s
            for s in self.by_unit.get(unit, ())
            if s.reading.condition == condition and s.reading.kind in (own, "fan", "inventory")
        ]
        return max(saying, key=lambda s: (s.reading.kind == own, len(s.reading.status_text or "")), default=None)

    def telling(self, unit: str, condition: Condition | None) -> tuple[Evidence, ...]:
        """The lines that say so."""
        speaker = self.speaker(unit, condition)
        if speaker is None:
            return self.first_of(unit)
        return (self.at(speaker, "said" if speaker.span("said") else "status"),)

    def quantity(self, unit: str, name: str) -> tuple[Quantity, Sighting] | None:
        """The first value of that name that a supply's rows give."""
        for sighting in self.supplies.get(unit, ()):
            value = sighting.reading.given(name)
            if value is not None:
                return value, sighting
        return None

    def fact(self, unit: str, name: str) -> tuple[str, Sighting] | None:
        """A text fact of a unit (serial, part_number, airflow, feed), wherever it was printed."""
        for sighting in self.by_unit.get(unit, ()):
            value = sighting.reading.given(name)
            if value is not None:
                return value, sighting
        return None

    def device(self, name: str) -> Sighting | None:
        """The device fact of that name."""
        return next((s for s in self.of("device") if s.reading.name == name), None)


_SHORTEST_SERIAL = 2
"""Shorter texts in a serial's place (`0`, `-`) are no serial numbers."""
_NO_SERIALS = frozenset(("n/a", "na", "none", "unknown", "default", "unspecified", "not available", "null"))


def is_serial(text: str) -> bool:
    """Whether a text in a serial's place can be one."""
    return len(text) >= _SHORTEST_SERIAL and text.lower() not in _NO_SERIALS and bool(text.strip("0.-* "))


def _by_unit(sightings: Iterable[Sighting]) -> dict[str, list[Sighting]]:
    found: dict[str, list[Sighting]] = {}
    for sighting in sightings:
        if (unit := sighting.reading.unit) is not None:
            found.setdefault(unit, []).append(sighting)
    return found


def impaired(view: View) -> dict[str, tuple[str, Evidence]]:
    """Kind -> why its text was not wholly read. `*` stands for every kind."""
    found: dict[str, tuple[str, Evidence]] = {}
    kinds_of = {t.table: t.kinds for t in view.snapshot.tables}
    for line in view.snapshot.unread:
        why = f"line {line.number} of the text {view.side} the swap was not read"
        for kind in kinds_of.get(line.table, ()) if line.table else ("*",):
            found.setdefault(kind, (why, Evidence(view.side, line.number)))
    for table in view.snapshot.tables:
        if table.cut:
            for kind in table.kinds:
                found.setdefault(
                    kind,
                    (
                        f"the {table.table} table {view.side} the swap is not whole",
                        Evidence(view.side, table.last_line),
                    ),
                )
    return found


def may_be_cut(kind: Kind, view: View, broken: dict[str, tuple[str, Evidence]]) -> str:
    """Why something of a kind that is not there may only have been cut off; empty where it cannot have been.

    `broken` is what `impaired` says of the same text.
    """
    if why := broken.get(kind) or broken.get("*"):
        return why[0]
    tables = [t for t in view.snapshot.tables if kind in t.kinds]
    if not tables:
        return "its table was not captured"
    if any(not t.ended for t in tables):
        return "the end of its table was not captured"
    return ""


class _Sample(NamedTuple):
    seconds: float
    snapshot: Snapshot


class Sample(_Sample):
    """One of many captures while a swap is watched; `seconds` of a clock that only goes forward."""

    @cached_property
    def view(self) -> View:
        """The snapshot as what came after, arranged once however many rules ask."""
        return View(self.snapshot, "after")


class Taken(NamedTuple):
    """When the two captures were taken by the laptop's clock, in seconds since 1970; None where not known."""

    before: float | None = None
    after: float | None = None


class Case(NamedTuple):
    """All that a rule may look at."""

    before: View
    after: View
    unit: str
    acceptance: Acceptance
    observed: tuple[Observed, ...] = ()
    reseat: str | None = None
    """Why the same part was put back, where that was the job."""
    samples: tuple[Sample, ...] = ()
    """Captures since the part was seated, oldest first, without a gap in their clock."""
    taken: Taken = Taken()

    @property
    def is_supply(self) -> bool:
        return self.unit.startswith("psu-")

    def seen(self, unit: str, fact: str) -> str | None:
        """What a person stated of a unit, the last word counting; None where nobody looked or could see.

        Who could not see later takes nothing back: damage that was found stays found.
        """
        return next((o.value for o in reversed(self.observed) if (o.unit, o.fact) == (unit, fact) and o.seen), None)


def airflow_of(reading: AnyReading) -> Airflow | None:
    return reading.airflow if isinstance(reading, PowerSupply | Fan | Inventory) else None
