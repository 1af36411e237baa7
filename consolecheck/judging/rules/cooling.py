"""Fans: turning, as fast as they should, all one way, and enough of them."""

import re
from collections.abc import Iterator
from statistics import median

from consolecheck.judging.rules.power import unit_status
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, counted, limits_of, listed
from consolecheck.judging.rules.seen import CHASSIS, by_whom, observation
from consolecheck.judging.view import Case, Draft, View, airflow_of
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import Condition, Fan, Sighting
from consolecheck.records.units import Quantity


def status(view: View, case: Case) -> Iterator[Draft]:
    """Every fan module and every rotor is present and ok; an unknown word is not ok."""
    units = list(view.fans)
    if not case.is_supply and case.unit not in units:
        units.insert(0, case.unit)
    if not units:
        yield Draft("fans", UNDETERMINED, "no fan stands in the text", hint=view.capture("fan"))
    yield from unit_status(view, case, [u for u in units if u.startswith("fan-")])
    # Fans inside supplies and loose rotors are judged one by one; the supply's own status is power's.
    for unit in units:
        if not unit.startswith("fan-"):
            yield from _rotors(view, view.fans[unit])
    yield from _rotors(view, [s for s in view.of("fan") if s.reading.unit is None])


def _rotors(view: View, sightings: list[Sighting]) -> Iterator[Draft]:
    for sighting in sightings:
        reading = sighting.reading
        subject, evidence = reading.subject, (view.at(sighting, "status"),)
        said = reading.status_text or (reading.condition.value if reading.condition else None)
        if reading.condition is Condition.OK:
            yield Draft(subject, MET, f"{subject} is ok", evidence, said, unit=reading.unit)
        elif reading.condition in (None, Condition.UNKNOWN, Condition.STANDBY):
            what = f"the status `{said}` of {subject} is not known" if said else f"no status of {subject} was printed"
            if reading.condition is Condition.STANDBY:
                what = f"{subject} stands by (`{said}`): whether it turns is not told"
            yield Draft(subject, UNDETERMINED, what, evidence, said, unit=reading.unit)
        else:
            yield Draft(
                subject, UNMET, f"{subject} is {reading.condition.value} (`{said}`)", evidence, said, unit=reading.unit
            )


def limits(view: View, case: Case) -> Iterator[Draft]:
    """Every fan's speed lies within the limits that the device prints beside it, and none stands still."""
    yield from limits_of(view, "fan")
    for key, sighting in view.keyed.items():
        reading = sighting.reading
        if (
            key[0] == "fan"
            and isinstance(reading, Fan)
            and reading.low_critical is None
            and reading.low_warning is None
        ):
            turning = reading.speed or reading.speed_percent
            if turning is not None and turning.value <= 0 and reading.condition is not Condition.ABSENT:
                field = "speed" if reading.speed else "speed_percent"
                yield Draft(
                    reading.subject,
                    UNMET,
                    f"{reading.subject} stands still",
                    (view.at(sighting, field),),
                    turning,
                    unit=reading.unit,
                )


_DIGITS = re.compile(r"\d+")


def _alike(reading: Fan) -> str:
    """Fans of one make and place turn alike: front rotors with front rotors, supply fans apart."""
    return _DIGITS.sub("#", f"{(reading.unit or '')[:3]} {reading.name or ''}")


def groups_of_peers(view: View) -> dict[str, list[tuple[Sighting, Fan]]]:
    """The fans that turn, those of one make and place together."""
    groups: dict[str, list[tuple[Sighting, Fan]]] = {}
    for sighting in view.of("fan"):
        reading = sighting.reading
        if isinstance(reading, Fan) and reading.speed is not None and reading.speed.value > 0:
            groups.setdefault(_alike(reading), []).append((sighting, reading))
    return groups


def _off(value: float, reference: float) -> float:
    return (value - reference) / reference * 100


def peers(view: View, case: Case) -> Iterator[Draft]:
    """A fan turns as fast as its peers, within 25 % of their median (common practice)."""
    limit = case.acceptance.cooling.speed_tolerance_percent
    for members in groups_of_peers(view).values():
        if len(members) < 3:
            continue
        middle = median(r.speed.value for _, r in members if r.speed)
        for sighting, reading in members:
            assert reading.speed is not None
            off = _off(reading.speed.value, middle)
            if abs(off) > limit:
                yield Draft(
                    reading.subject,
                    UNMET,
                    f"{reading.subject} turns at {reading.speed}, {off:+.0f} % from its peers' {middle:g}",
                    (view.at(sighting, "speed"),),
                    reading.speed,
                    Quantity(value=round(middle, 1), unit="rpm"),
                    f"{limit:g} % of the peers' median, common practice",
                    unit=reading.unit,
                )


def duty(view: View, case: Case) -> Iterator[Draft]:
    """A fan turns as fast as its commanded duty asks: speed over duty agrees with its peers'.

    For one fan in the same air, speed is proportional to drive (fan laws: flow ~ n); the tolerance
    of 20 % is common practice.
    """
    limit = case.acceptance.cooling.duty_tolerance_percent
    compared = 0
    furthest: tuple[float, Sighting, Fan, Quantity] | None = None
    for members in groups_of_peers(view).values():
        driven = [
            (s, r, r.speed.value / r.speed_percent.value)
            for s, r in members
            if r.speed is not None and r.speed_percent is not None and r.speed_percent.value > 0
        ]
        if len(driven) < 2:
            continue
        middle = median([ratio for *_, ratio in driven])
        for sighting, reading, ratio in driven:
            assert reading.speed is not None
            assert reading.speed_percent is not None
            off = _off(ratio, middle)
            compared += 1
            if furthest is None or abs(off) > abs(furthest[0]):
                furthest = (
                    off,
                    sighting,
                    reading,
                    Quantity(value=round(middle * reading.speed_percent.value, 1), unit="rpm"),
                )
            if abs(off) > limit:
                asked = Quantity(value=round(middle * reading.speed_percent.value, 1), unit="rpm")
                draft = _off_duty(view, sighting, reading, off, asked, limit, UNMET, "")
                yield _counted_otherwise(draft, off) if reading.unit == case.unit else draft
    if furthest is not None and abs(furthest[0]) <= limit:
        off, sighting, reading, asked = furthest
        beside = f"; {counted(compared - 1, 'other')} closer"
        yield _off_duty(view, sighting, reading, off, asked, limit, MET, beside)


HALF_OR_DOUBLE_WITHIN = 4.0
"""Percent within which a speed is half or double of another."""


def _counted_otherwise(draft: Draft, off: float) -> Draft:
    """Open where a new part reads half or double: rpm = 60 x pulses per second / pulses per revolution.

    Two pulses are assumed unless told, 1 to 4 are usual (Linux kernel, sysfs interface of hwmon): a part with
    another number of them reads like that, and a fan that is merely slow seldom does.
    """
    if abs(off + 50) > HALF_OR_DOUBLE_WITHIN and abs(off - 100) > HALF_OR_DOUBLE_WITHIN:
        return draft
    return draft._replace(
        outcome=UNDETERMINED,
        message=f"{draft.message}: half or double, as a tachometer with another number of pulses reads",
        hint="look at the part number, and hear whether it turns like the others",
    )


def _off_duty(
    view: View,
    sighting: Sighting,
    reading: Fan,
    off: float,
    asked: Quantity,
    limit: float,
    outcome: Outcome,
    beside: str,
) -> Draft:
    return Draft(
        reading.subject,
        outcome,
        f"{reading.subject} turns at {reading.speed} for a duty of {reading.speed_percent} ({off:+.0f} % of what it asks{beside})",
        (view.at(sighting, "speed"),),
        reading.speed,
        asked,
        f"{limit:g} %, common practice",
        Quantity(value=round(limit - abs(off), 2), unit="%"),
        unit=reading.unit,
    )


def _turning(reading: Fan) -> Quantity | None:
    """The speed, or what share of it a device prints that gives no rpm."""
    return reading.speed or reading.speed_percent


def against_baseline(case: Case) -> Iterator[Draft]:
    """No fan turns more than 25 % slower than in the baseline, after taking out a change of duty.

    Where no duty is printed a slower fan may only follow cooler air: then it counts only if it also
    falls behind its peers, which follow the same air.
    """
    limit = case.acceptance.cooling.speed_tolerance_percent
    alike: dict[str, list[float]] = {}
    for sighting in case.after.of("fan"):
        if isinstance(fan := sighting.reading, Fan) and (turning := _turning(fan)):
            alike.setdefault(_alike(fan), []).append(turning.value)
    compared = 0
    slowest: tuple[float, Sighting, Sighting, bool, Quantity, bool] | None = None
    for key, sighting in case.after.keyed.items():
        if key[0] != "fan" or (earlier := case.before.keyed.get(key)) is None:
            continue
        now, was = sighting.reading, earlier.reading
        if not isinstance(now, Fan) or not isinstance(was, Fan):
            continue
        turns, turned = _turning(now), _turning(was)
        if turns is None or turned is None or turned.value <= 0 or turns.unit != turned.unit:
            continue
        expected, at_duty = turned.value, False
        if now.speed and now.speed_percent and was.speed_percent and was.speed_percent.value > 0:
            expected, at_duty = expected * now.speed_percent.value / was.speed_percent.value, True
        off = _off(turns.value, expected) if expected else 0.0
        compared += 1
        if off >= -limit and slowest is not None and off >= slowest[0]:
            continue
        peers = alike[_alike(now)]
        behind = len(peers) > 2 and _off(turns.value, median(peers) or 1.0) < -limit
        told = off, sighting, earlier, at_duty, Quantity(value=round(expected, 1), unit=turns.unit), at_duty or behind
        if off < -limit:
            draft = _slower(case, *told, limit, UNMET, "")
            yield _counted_otherwise(draft, off) if now.unit == case.unit else draft
        else:
            slowest = told
    if slowest is not None:
        yield _slower(case, *slowest, limit, MET, f"; of {compared} it lost most")


def _slower(
    case: Case,
    off: float,
    now: Sighting,
    was: Sighting,
    at_duty: bool,
    expected: Quantity,
    counts: bool,
    limit: float,
    outcome: Outcome,
    beside: str,
) -> Draft:
    reading = now.reading
    assert isinstance(reading, Fan)
    field = "speed" if reading.speed else "speed_percent"
    return Draft(
        reading.subject,
        outcome,
        f"{reading.subject} turns at {_turning(reading)}, {off:+.0f} % from {'its baseline at this duty' if at_duty else 'its baseline'}{beside}",
        (case.after.at(now, field), case.before.at(was, field)),
        _turning(reading),
        expected,
        f"{limit:g} % below, common practice",
        Quantity(value=round(off + limit, 2), unit="%"),
        unit=reading.unit,
        advisory=not counts,
    )


def _known_airflow(view: View, case: Case) -> Iterator[tuple[str, dict[str, Sighting]]]:
    """Each unit that is there, with every direction that is printed of it or was read off it."""
    for unit in view.units:
        if view.condition(unit) is Condition.ABSENT:
            continue
        known: dict[str, Sighting] = {a: s for s in view.by_unit[unit] if (a := airflow_of(s.reading))}
        if seen := case.seen(unit, "airflow"):
            known.setdefault(seen, view.by_unit[unit][0])
        yield unit, known


def airflow(view: View, case: Case) -> Iterator[Draft]:
    """All fans and supplies move air the same way, and the way that the rack needs.

    Mixed directions can overheat the chassis whatever the temperatures say now; common practice, as
    hardware guides of several makers ask. A direction that is known for no part of a unit leaves the
    answer open: it can be read off the part and stated.
    """
    directions: dict[str, tuple[str, Sighting | None]] = {}
    missing: list[str] = []
    for unit, known in _known_airflow(view, case):
        if len(known) > 1:
            yield Draft(
                unit,
                UNMET,
                f"{unit} says both {listed(sorted(known))}",
                tuple(view.at(s, "airflow") for s in known.values()),
                unit=unit,
                hint="read the airflow mark on the part",
            )
        elif known:
            directions[unit] = next(iter(known.items()))
        else:
            missing.append(unit)
    words = {w: s for u in view.units for s in view.by_unit[u] if (w := s.reading.given("airflow_word"))}
    if len(words) > 1:
        own = next((w for s in view.by_unit.get(case.unit, ()) if (w := s.reading.given("airflow_word"))), None)
        yield Draft(
            case.unit if own else "airflow",
            UNMET,
            f"the units name different airflows: {listed(sorted(words))}",
            tuple(view.at(s, "airflow") for s in words.values()),
            own,
            None,
            "one direction in a chassis, common practice",
            hint="read the airflow marks on the parts",
        )
    expected: str | None = case.acceptance.cooling.airflow
    ways = dict.fromkeys(
        way for way, _ in directions.values()
    )  # in the order of the text, so that a tie has one answer
    usual = expected or (max(ways, key=lambda w: sum(way == w for way, _ in directions.values())) if ways else None)
    against = [u for u, (way, _) in directions.items() if way != usual]
    if len(ways) > 1 and not expected and case.unit in directions:
        # With two units a majority says nothing: the unit that was just fitted is the one in question.
        others = {way for u, (way, _) in directions.items() if u != case.unit}
        if len(others) == 1:
            usual, against = next(iter(others)), [case.unit]
    evidence = {u: view.at(s, "airflow") for u, (_, s) in directions.items() if s is not None}
    for unit in against:
        yield Draft(
            unit,
            UNMET,
            f"{unit} moves air {directions[unit][0]}, the {'rack needs' if expected else 'others move it'} {usual}",
            (evidence[unit],) if unit in evidence else (),
            directions[unit][0],
            usual,
            "one direction in a chassis, common practice",
            hint="fit a part with the right airflow mark",
            unit=unit,
        )
    if len(words) > 1:
        return
    if missing or not directions:
        yield Draft(
            "airflow",
            UNDETERMINED,
            f"the airflow of {listed(missing) or 'the units'} is not known",
            tuple(view.at(view.by_unit[u][0]) for u in missing) or (view.whole,),
            None,
            usual,
            hint=f"read the mark on the part and state it: --seen {(missing or [case.unit])[0]}.airflow=front-to-back",
        )
    elif directions and not against:
        yield Draft(
            "airflow",
            MET,
            f"{counted(len(directions), 'unit')} {'moves' if len(directions) == 1 else 'move'} air {usual}",
            tuple(evidence.values()),
            usual,
            expected or usual,
            "one direction in a chassis, common practice",
        )


COLD_AISLE = {"port-side": "front-to-back", "power-side": "back-to-front"}
"""Which side faces the cold aisle -> the direction that takes its air from there."""


def cold_aisle(view: View, case: Case) -> Iterator[Draft]:
    """The units take their air from the cold aisle, where a person saw which side faces it.

    Front-to-back means intake at the port side, where ports face front, and back-to-front exhaust there;
    common practice, as hardware guides of two makers ask.
    """
    seen = observation(case, CHASSIS, "cold_aisle")
    if seen is None:
        return
    known = dict(_known_airflow(view, case))
    needed = COLD_AISLE[seen.value]
    faces = f"the {seen.value.removesuffix('-side')} side faces the cold aisle{by_whom(seen)}"
    against = [unit for unit, ways in known.items() if ways and set(ways) != {needed}]
    untold = [unit for unit, ways in known.items() if not ways]
    if against:
        outcome, message = UNMET, f"{listed(against)} {'does' if len(against) == 1 else 'do'} not draw from there"
        hint = "fit parts with the airflow mark that this rack needs, or turn the chassis round"
    elif untold or not known:
        outcome, message = UNDETERMINED, f"the airflow of {listed(untold) or 'the units'} is not known"
        hint = "read the airflow mark on the part and state it"
    else:
        outcome, message, hint = (
            MET,
            f"{counted(len(known), 'unit')} {'draws' if len(known) == 1 else 'draw'} from there",
            "",
        )
    yield Draft(
        "airflow",
        outcome,
        f"{faces}: {message}",
        tuple(view.at(next(iter(known[u].values()), view.by_unit[u][0]), "airflow") for u in against or untold or known)
        or (view.whole,),
        listed(sorted({way for ways in known.values() for way in ways})) or None,
        needed,
        "common practice",
        hint=hint or None,
    )


def spare(case: Case) -> Iterator[Draft]:
    """No fewer good fan modules than before, and one more than suffices where the acceptance says how many do.

    A module whose status is not known may be good: then the answer is open, as it is where neither the
    baseline nor the acceptance tells how many there should be.
    """

    def modules(view: View, *conditions: Condition | None) -> list[str]:
        return [u for u in view.fans if u.startswith("fan-") and view.condition(u) in conditions]

    if not any(u.startswith("fan-") for u in (*case.before.fans, *case.after.fans)):
        return
    before, after = modules(case.before, Condition.OK), modules(case.after, Condition.OK)
    unknown = modules(case.after, None, Condition.UNKNOWN, Condition.STANDBY)
    needed = case.acceptance.cooling.modules_needed
    if needed is None and not any(u.startswith("fan-") for u in case.before.fans):
        yield Draft(
            "fan modules",
            UNDETERMINED,
            f"{counted(len(after), 'fan module')} good, and how many there should be is not known",
            tuple(case.after.at(case.after.fans[u][0]) for u in after) or (case.after.whole,),
            str(len(after)),
            hint="state how many suffice in the acceptance: [cooling] modules_needed",
            advisory=case.is_supply,
        )
        return
    least = max(len(before), needed + 1 if needed else 0)
    if not case.is_supply and case.unit not in before:
        least = max(least, len(before) + 1)
    evidence = tuple(case.after.at(case.after.fans[u][0]) for u in case.after.fans if u.startswith("fan-"))
    outcome = MET if len(after) >= least else UNDETERMINED if len(after) + len(unknown) >= least else UNMET
    beside = f", {listed(unknown)} not known" if unknown else ""
    yield Draft(
        "fan modules",
        outcome,
        f"{counted(len(after), 'fan module')} good, {least} expected{beside}",
        evidence or (case.after.whole,),
        str(len(after)),
        str(least),
        "acceptance" if needed else "the baseline",
        by_absence="fan" if len(evidence) < sum(u.startswith("fan-") for u in case.before.fans) else None,
    )


RULES = (
    Rule("cooling.status", "Every fan is present and ok", ("fan", "inventory"), state=status),
    Rule("cooling.own-limits", "Fans within the device's limits", ("fan",), state=limits),
    Rule("cooling.duty", "Fans follow their commanded duty", ("fan",), state=duty),
    Rule("cooling.peers", "Fans turn like their peers", ("fan",), state=peers, required=False),
    Rule("cooling.baseline", "Fans turn as in the baseline", ("fan",), change=against_baseline),
    Rule(
        "cooling.airflow", "One airflow direction", ("fan", "power_supply", "inventory"), state=airflow, standing=False
    ),
    Rule(
        "cooling.cold-aisle",
        "Air from the cold aisle",
        ("fan", "power_supply", "inventory"),
        state=cold_aisle,
        standing=False,
    ),
    Rule("cooling.spare", "Enough fan modules", ("fan",), change=spare),
)
