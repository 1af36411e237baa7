"""Do the fans suffice meanwhile, and is there heat to spare while the slot is open?"""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from consolecheck.judging.clearance.asked import Asked, Rest
from consolecheck.judging.rules.cooling import limits as turning_limits
from consolecheck.judging.rules.rule import MET, OWN_LIMITS, UNDETERMINED, UNMET, counted, listed
from consolecheck.judging.view import Draft, Key, View, impaired
from consolecheck.records.findings import Evidence, Outcome
from consolecheck.records.readings import Condition, Sighting, Temperature
from consolecheck.records.units import Quantity


def modules_left(asked: Asked) -> Rest:
    """The fan modules without the unit itself. One whose rotor stands, or turns outside its limits, is not good."""
    view = asked.view
    modules = [
        u for u in view.units if u.startswith("fan-") and u != asked.unit and view.condition(u) is not Condition.ABSENT
    ]
    off = [d for d in turning_limits(view, asked.case) if d.outcome is not MET]
    stands = {d.unit for d in off if d.outcome is UNMET}
    unsure = {d.unit for d in off if d.outcome is UNDETERMINED}
    unknown = (None, Condition.UNKNOWN, Condition.STANDBY)  # of one that stands by it is not told whether it turns
    ill = tuple(u for u in modules if u in stands or view.condition(u) not in (Condition.OK, *unknown))
    untold = tuple(u for u in modules if u not in ill and (u in unsure or view.condition(u) in unknown))
    return Rest(tuple(u for u in modules if u not in ill and u not in untold), ill, untold)


def cooled(asked: Asked) -> Outcome:
    """Whether the good fan modules without the unit suffice; undetermined where nobody says how many must be."""
    rest, needed = modules_left(asked), asked.modules_needed
    if len(rest.good) >= (needed or 1):
        return MET if needed else UNDETERMINED
    return UNDETERMINED if len(rest.good) + len(rest.untold) >= (needed or 1) else UNMET


def fans(asked: Asked) -> Iterator[Draft]:
    """Enough good fan modules turn while the unit is out.

    How many suffice says the acceptance, else the family's papers; guides ask for two of three or three of
    four (common practice, no standard). Where neither says it, one that turns leaves the answer open and does
    not count; with none the switch is not touched. For a supply the modules are counted as they stand.
    """
    view, needed, rest = asked.view, asked.modules_needed, modules_left(asked)
    outcome = cooled(asked)
    modules = (*rest.good, *rest.ill, *rest.untold)
    evidence = tuple(view.first_of(u)[0] for u in modules) or (view.whole,)
    out = "" if asked.is_supply else f" while {asked.unit} is out"
    said = f"{counted(len(rest.good), 'good fan module')}{' turns' if len(rest.good) == 1 else ' turn'}{out}"
    beside = "".join(
        f"; {listed(units)} {what}" for units, what in ((rest.ill, "not good"), (rest.untold, "not known")) if units
    )
    if not modules and asked.is_supply:
        yield Draft(
            "fan modules",
            UNDETERMINED,
            "no fan module stands in the text",
            evidence,
            limit=str(needed) if needed else None,
            hint=view.capture("fan"),
            advisory=not needed,
        )
    elif needed is None and rest.good:
        yield Draft(
            "fan modules",
            UNDETERMINED,
            f"{said}; how many suffice is not known{beside}",
            evidence,
            str(len(rest.good)),
            hint="state it in the acceptance as modules_needed under [cooling]",
            advisory=True,
        )
    else:
        least = needed or 1
        yield Draft(
            "fan modules",
            outcome,
            f"{said}, {least} {'is' if least == 1 else 'are'} needed{beside}",
            evidence,
            str(len(rest.good)),
            str(least),
            ("acceptance" if asked.acceptance.cooling.modules_needed else "the family's papers")
            if needed
            else "common practice",
            hint=None if outcome is MET else "look at the fans that are not good first",
            by_absence=None if rest.ill else "fan",
        )


RISE_FAN, RISE_SUPPLY = 3.0, 1.0
"""K/min that a sensor is taken to rise with a fan module, or a supply, out. Common practice, no source."""
FEWEST_SAMPLES = 3
SHORTEST_RISE = 60.0
"""Seconds over which a rise is taken, so that one step of a sensor does not pass for a rate. Common practice."""


class _Point(NamedTuple):
    """A sensor with its nearest upper limit; `when` is said of a value that only a sample shows."""

    subject: str
    value: Quantity
    limit: Quantity
    which: str
    evidence: tuple[Evidence, ...]
    when: str = ""


def heat(asked: Asked) -> Iterator[Draft]:
    """No sensor reaches its warning limit, or its critical one where it has no other, before the slot is shut.

    The slot may be open for 120 s (common practice: guides say one to three minutes), or as acceptance or
    papers say; to it comes the time to warning that the acceptance asks for. A sensor is taken to rise by
    3 K/min for a fan module and 1 K/min for a supply: common practice, no source, and told as assumed. Three
    samples or more tell how it really rises: with the unit out that replaces the assumption, with the unit in
    its slot a steeper rise does. Equality trips (IPMI v2.0, Get Sensor Reading). Sensors inside the unit go
    out with it and do not count.
    """
    view = asked.view
    sensors = [s for s in view.of("temperature") if _counts(asked, s)]
    watched = _watched(asked)
    points = _points(view, sensors)
    ill = list(_ill(view, sensors, points))
    yield from ill
    for _, newest in watched[-1:]:
        for key, point in _points(newest, [s for s in newest.of("temperature") if _counts(asked, s)]).items():
            known = points.get(key)
            if known is None or point.value.value > known.value.value:
                evidence = known.evidence if known else (view.whole,)
                points[key] = point._replace(evidence=evidence, when=" in the newest sample")
    if not points:
        yield Draft(
            "temperatures",
            UNDETERMINED,
            "no sensor prints a limit: how far it may still warm is not known"
            if sensors
            else "no temperature stands in the text",
            tuple(view.at(s) for s in sensors[:1]) or (view.whole,),
            hint="hold the temperatures against the maker's limits" if sensors else view.capture("temperature"),
            advisory=asked.is_supply,
        )
        return
    horizon = asked.open_seconds + 60 * asked.acceptance.clearance.least_minutes_to_warning
    drafts = [_far_enough(asked, key, point, watched, horizon) for key, point in points.items()]
    complain = {d.subject for d in ill if d.outcome is UNMET}
    yield from (d for d in drafts if d.outcome is not MET and d.subject not in complain)
    within = [d for d in drafts if d.outcome is MET]
    if within:
        nearest = min(within, key=lambda d: d.margin.value if d.margin else 0.0)
        others = f"; {counted(len(within) - 1, 'other')} with more room" if len(within) > 1 else ""
        yield nearest._replace(message=nearest.message + others)


def _counts(asked: Asked, sighting: Sighting) -> bool:
    """Whether it is no sensor of the unit itself, nor of an empty slot."""
    unit = sighting.reading.unit
    return unit != asked.unit and (unit is None or asked.view.condition(unit) is not Condition.ABSENT)


def _ill(view: View, sensors: list[Sighting], points: Mapping[Key, _Point]) -> Iterator[Draft]:
    speaking = {_key(s) for s in sensors if s.reading.given("value") is not None}
    for sighting in sensors:
        reading, key = sighting.reading, _key(sighting)
        assert isinstance(reading, Temperature)
        condition = reading.condition
        said = reading.status_text or (condition.value if condition else None)
        bounds = [
            q for q in (reading.low_critical, reading.low_warning, reading.high_warning, reading.high_critical) if q
        ]
        outcome, hint = UNDETERMINED, "capture again"
        if condition in (Condition.WARNING, Condition.FAILED):
            outcome, message = UNMET, f"{reading.subject} reports `{said}`"
            hint = "find out why before anything is pulled"
        elif any(a.value > b.value for a, b in pairwise(bounds)):
            message = f"the limits of {reading.subject} are not in order, so its row was not rightly read"
        elif condition is Condition.ABSENT:
            continue
        elif key not in speaking:
            message = f"{reading.subject} gives no reading" + (f" (`{said}`)" if said else "")
        elif condition is Condition.UNKNOWN:
            message = f"the status `{said}` of {reading.subject} is not known"
        elif condition is None and key not in points:
            message = f"{reading.subject} has neither a status nor a limit"
        else:
            continue
        evidence = (view.at(sighting, "status"),)
        yield Draft(reading.subject, outcome, message, evidence, reading.value or said, hint=hint)


def _key(sighting: Sighting) -> Key:
    reading = sighting.reading
    return reading.kind, reading.unit, reading.name


def _points(view: View, sensors: list[Sighting]) -> dict[Key, _Point]:
    """Key -> the sensor with value and limit; of two tables that show it one may print no limits."""
    found: dict[Key, _Point] = {}
    for sighting in sensors:
        reading = sighting.reading
        assert isinstance(reading, Temperature)
        limit = reading.high_warning or reading.high_critical
        if reading.value is None or limit is None:
            continue
        which = "warning" if reading.high_warning else "critical"
        point = _Point(reading.subject, reading.value, limit, which, (view.at(sighting, "value"),))
        key = _key(sighting)
        if key not in found or limit.value - reading.value.value < found[key].limit.value - found[key].value.value:
            found[key] = point
    return found


def _watched(asked: Asked) -> list[tuple[float, View]]:
    """The samples whose temperatures were wholly read; none where there are too few to tell a rate."""
    views = [(s.seconds, View(s.snapshot, "before")) for s in asked.case.samples]
    whole = [(t, v) for t, v in views if not {"temperature", "*"} & impaired(v).keys()]
    return whole if len(whole) >= FEWEST_SAMPLES else []


def _rate(key: Key, watched: list[tuple[float, View]]) -> float | None:
    """K/s by which a sensor rose to its newest sample at the steepest, over a minute or more where they last as long."""
    series = [
        (t, q.value) for t, v in watched if (s := v.keyed.get(key)) and (q := s.reading.given("value")) is not None
    ]
    if len(series) < FEWEST_SAMPLES or series[-1][0] <= series[0][0]:
        return None
    now, value = series[-1]
    since = [(t, v) for t, v in series[:-1] if now - t >= SHORTEST_RISE] or series[:1]
    return float(max((value - v) / (now - t) for t, v in since))


def _far_enough(asked: Asked, key: Key, point: _Point, watched: list[tuple[float, View]], horizon: float) -> Draft:
    assumed = (RISE_SUPPLY if asked.is_supply else RISE_FAN) / 60
    measured = _rate(key, watched)
    is_out = bool(watched) and all(v.condition(asked.unit) is Condition.ABSENT for _, v in watched)
    rate, how = assumed, "assumed, common practice, no source"
    if measured is not None and (is_out or measured > assumed):
        rate, how = max(measured, 0.0), "measured"
    room = point.limit.value - point.value.value
    rise = rate * horizon
    margin = Quantity(value=round(room - rise, 6), unit="Cel")
    name, limit = f"{point.subject} reads {point.value}{point.when}", f"its {point.which} limit of {point.limit}"
    pace = f"{rate * 60:.3g} K/min ({how})"
    source = f"{OWN_LIMITS}; {pace}"
    if room <= 0:
        message, hint = f"{name}, at or above {limit}", "find out why it is hot before anything is pulled"
    elif margin.value <= 0:
        message = f"{name} and may reach {limit} within {horizon:g} s at {pace}"
        hint = "let it cool, or see that the slot is shut sooner"
    else:
        message, hint = f"{name} and stays below {limit} for {horizon:g} s at {pace}", ""
    outcome = MET if margin.value > 0 else UNMET
    return Draft(
        point.subject, outcome, message, point.evidence, point.value, point.limit, source, margin, hint or None
    )
