"""What a rule is, and the few words that all rules share."""

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import Condition, Kind, Limited, Sighting
from consolecheck.records.units import Quantity

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED


class Rule(NamedTuple):
    """One law. Exactly one of `state` and `change` is set.

    A `state` rule looks at one snapshot, so the baseline can be asked whether a fault stood before; a
    `change` rule compares the two. `needs` are the kinds of reading it rests on: where the text of
    one was not wholly read, `met` becomes `undetermined`.
    """

    id: str
    title: str
    needs: tuple[Kind, ...]
    state: Callable[[View, Case], Iterable[Draft]] | None = None
    change: Callable[[Case], Iterable[Draft]] | None = None
    required: bool = True
    standing: bool = True
    """Whether a fault that the baseline already showed may be set aside."""

    @property
    def why(self) -> str:
        return ((self.state or self.change).__doc__ or "").strip()


_LIMIT_WORDS = {
    "low_critical": ("at or below", "its low critical limit"),
    "low_warning": ("at or below", "its low warning limit"),
    "high_warning": ("at or above", "its warning limit"),
    "high_critical": ("at or above", "its critical limit"),
}
OWN_LIMITS = "the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading)"


def value_of(reading: Limited, unit: str) -> tuple[str, Quantity] | None:
    """The value that a reading's own limits are about: its only quantity in their unit."""
    found = None
    for name in reading.QUANTITIES[:-4]:
        value = reading.given(name)
        if value is not None and value.unit == unit:
            if found is not None:
                return None
            found = (name, value)
    return found


class _Room(NamedTuple):
    """How a reading stands to its own limits: the nearest or tripped limit, and the room to it."""

    field: str
    value: Quantity
    limit: Quantity
    tripped: str
    room: float


def _room(field: str, value: Quantity, reading: Limited) -> _Room:
    number = value.value
    low_critical, low_warning = reading.low_critical, reading.low_warning
    high_warning, high_critical = reading.high_warning, reading.high_critical
    if low_critical is not None and number <= low_critical.value:
        return _Room(field, value, low_critical, "low_critical", number - low_critical.value)
    if high_critical is not None and number >= high_critical.value:
        return _Room(field, value, high_critical, "high_critical", high_critical.value - number)
    if low_warning is not None and number <= low_warning.value:
        return _Room(field, value, low_warning, "low_warning", number - low_warning.value)
    if high_warning is not None and number >= high_warning.value:
        return _Room(field, value, high_warning, "high_warning", high_warning.value - number)
    upper, lower = high_warning or high_critical, low_warning or low_critical
    if upper is None or (lower is not None and number - lower.value < upper.value - number):
        assert lower is not None, "some limit was given"
        return _Room(field, value, lower, "", number - lower.value)
    return _Room(field, value, upper, "", upper.value - number)


def limits_of(view: View, kind: Kind, least_margin: float = 0.0, each: bool = False) -> Iterator[Draft]:
    """Every reading of a kind against the limits printed beside it, equality tripping.

    What is within its limits is told in one finding, with the one that has the least room (or one by
    one, with `each`); what is not, one by one. Limits must stand in order (lower critical, lower
    warning, upper warning, upper critical); where they do not the row was not rightly read.
    """
    told: set[tuple[str | None, str | None]] = set()
    within: list[tuple[float, _Room, Sighting]] = []
    for sighting in view.of(kind):  # not `keyed`: of two tables that show a sensor one may print no limits
        reading = sighting.reading
        assert isinstance(reading, Limited)
        bounds = [
            q
            for q in (reading.low_critical, reading.low_warning, reading.high_warning, reading.high_critical)
            if q is not None
        ]
        if not bounds or (key := (reading.unit, reading.name)) in told:
            continue
        found = value_of(reading, bounds[0].unit)
        if found is None:
            if reading.condition is Condition.OK:  # else the status rules speak of it
                told.add(key)
                yield Draft(
                    reading.subject,
                    UNDETERMINED,
                    f"{reading.subject} has limits but no reading",
                    (view.at(sighting),),
                    unit=reading.unit,
                    source=OWN_LIMITS,
                )
            continue
        told.add(key)
        field, value = found
        if any(a.value > b.value for a, b in pairwise(bounds)):
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"the limits of {reading.subject} are not in order, so its row was not rightly read",
                (view.at(sighting),),
                value,
                unit=reading.unit,
                source=OWN_LIMITS,
            )
            continue
        room = _room(field, value, reading)
        if room.tripped:
            how, which = _LIMIT_WORDS[room.tripped]
            yield Draft(
                reading.subject,
                UNMET,
                f"{reading.subject} reads {value}, {how} {which} of {room.limit}",
                (view.at(sighting, field),),
                value,
                room.limit,
                OWN_LIMITS,
                _in(room.room, value),
                unit=reading.unit,
                at_low_end=room.tripped.startswith("low"),
            )
        elif room.room < least_margin:
            yield Draft(
                reading.subject,
                UNMET,
                f"{reading.subject} reads {value}, {_in(room.room, value)} from its limit of {room.limit}; {least_margin:g} is asked for",
                (view.at(sighting, field),),
                value,
                room.limit,
                "acceptance",
                _in(room.room, value),
                unit=reading.unit,
            )
        else:
            # Least room in its own scale: 5 K of 100 K is closer than 500 rpm of 3000 rpm.
            within.append((room.room / (abs(room.limit.value) or 1.0), room, sighting))
    if within and not each:
        others = len(within) - 1
        within = [min(within, key=lambda item: item[0])]
    else:
        others = 0
    for _, room, sighting in within:
        reading = sighting.reading
        beside = f"; {counted(others, 'other')} with more room" if others > 0 else ""
        yield Draft(
            reading.subject,
            MET,
            f"{reading.subject} reads {room.value}, {_in(room.room, room.value)} from its limit of {room.limit}{beside}",
            (view.at(sighting, room.field),),
            room.value,
            room.limit,
            OWN_LIMITS,
            _in(room.room, room.value),
        )


def _in(number: float, like: Quantity) -> Quantity:
    return Quantity(value=round(number, 6), unit=like.unit)


def listed(names: Iterable[str], most: int = 4) -> str:
    """`a, b and c`, cut to a few."""
    names = list(names)
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def counted(number: int, noun: str) -> str:
    """`1 link`, `3 links`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
