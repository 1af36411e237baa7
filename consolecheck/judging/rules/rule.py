"""What a rule is, and the few words that all rules share."""

from collections.abc import Callable, Iterable, Iterator
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
        value = getattr(reading, name)
        if value is not None and value.unit == unit:
            if found is not None:
                return None
            found = (name, value)
    return found


def against_own_limits(view: View, sighting: Sighting, least_margin: float = 0.0) -> Draft | None:
    """A reading against the limits printed beside it; None where it prints none or no value.

    The limits must stand in order (FACTS: lower critical <= lower warning <= upper warning <= upper
    critical); where they do not the row was not rightly read.
    """
    reading = sighting.reading
    if not isinstance(reading, Limited):
        return None
    low_critical, low_warning = reading.low_critical, reading.low_warning
    high_warning, high_critical = reading.high_warning, reading.high_critical
    if low_critical is low_warning is high_warning is high_critical is None:
        return None
    bounds = [q for q in (low_critical, low_warning, high_warning, high_critical) if q is not None]
    found = value_of(reading, bounds[0].unit)
    subject, unit = reading.subject, reading.unit
    if found is None and reading.condition is not Condition.OK:
        return None  # no reading, and it does not claim to be well: the status rules speak of it
    if found is None:
        return Draft(
            subject, UNDETERMINED, f"{subject} has limits but no reading", (view.at(sighting),), unit=unit, source=OWN_LIMITS
        )
    field, value = found
    given = [q.value for q in bounds]
    if any(a > b for a, b in zip(given, given[1:], strict=False)):
        return Draft(
            subject, UNDETERMINED, f"the limits of {subject} are not in order, so its row was not rightly read",
            (view.at(sighting),), value, unit=unit, source=OWN_LIMITS,
        )  # fmt: skip
    number = value.value
    if low_critical is not None and number <= low_critical.value:
        tripped, limit = "low_critical", low_critical
    elif high_critical is not None and number >= high_critical.value:
        tripped, limit = "high_critical", high_critical
    elif low_warning is not None and number <= low_warning.value:
        tripped, limit = "low_warning", low_warning
    elif high_warning is not None and number >= high_warning.value:
        tripped, limit = "high_warning", high_warning
    else:
        tripped = ""
    if tripped:
        how, which = _LIMIT_WORDS[tripped]
        return Draft(
            subject, UNMET, f"{subject} reads {value}, {how} {which} of {limit}", (view.at(sighting, field),), value, limit,
            OWN_LIMITS, Quantity(value=-abs(number - limit.value), unit=value.unit), unit=unit,
        )  # fmt: skip
    upper = high_warning or high_critical
    lower = low_warning or low_critical
    nearest = upper
    if upper is None or (lower is not None and number - lower.value < upper.value - number):
        nearest = lower
    assert nearest is not None, "some limit was given"
    room = Quantity(value=round(abs(nearest.value - number), 6), unit=value.unit)
    if room.value < least_margin:
        return Draft(
            subject, UNMET, f"{subject} reads {value}, {room} from its limit of {nearest}; {least_margin:g} is asked for",
            (view.at(sighting, field),), value, nearest, "acceptance", room, unit=unit,
        )  # fmt: skip
    return Draft(
        subject, MET, f"{subject} reads {value}, {room} from its limit of {nearest}", (view.at(sighting, field),),
        value, nearest, OWN_LIMITS, room, unit=unit,
    )  # fmt: skip


def limits_of(view: View, kind: Kind, least_margin: float = 0.0) -> Iterator[Draft]:
    """Every reading of a kind against its own limits, each sensor once."""
    told: set[str] = set()
    for sighting in view.of(kind):  # not `keyed`: of two tables that show a sensor one may print no limits
        draft = against_own_limits(view, sighting, least_margin)
        if draft is not None and draft.subject not in told:
            told.add(draft.subject)
            yield draft


def listed(names: Iterable[str], most: int = 4) -> str:
    """`a, b and c`, cut to a few."""
    names = list(names)
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def counted(number: int, noun: str) -> str:
    """`1 link`, `3 links`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
