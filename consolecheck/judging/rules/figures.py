"""Figures that no swap moves so far: a digit was lost, before or after, or they come from another time or device.

Like `plausible`, these rules doubt the text and not the device: `undetermined`, or nothing.
"""

from collections.abc import Iterator
from statistics import median

from consolecheck.judging.rules.cooling import against_baseline, groups_of_peers
from consolecheck.judging.rules.load import adds_up, load_of, rated_alike
from consolecheck.judging.rules.plausible import AGAIN, SETTINGS, doubted_of, ill_before, ill_now, pairs
from consolecheck.judging.rules.rule import UNDETERMINED, UNMET, Rule, limits_of
from consolecheck.judging.rules.service import LONGEST_JOB, clock_of
from consolecheck.judging.rules.temperature import inlet
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.readings import AnyReading, Condition, Device, Fan, Kind, PowerSupply
from consolecheck.records.units import Quantity

VOLTS_WITHIN = 0.15
"""Share by which a voltage of a thing that was well changes over a swap at most. A mains input keeps within 10 % of
nominal (IEC 60038); a -48 V plant goes from float to discharge within this. Common practice, no source."""
FIGURE_FACTOR = 2.0
"""Factor within which the chassis' own watts and amps stay over a swap, as its load does. Common practice."""
SUPPLY_FACTOR, SUPPLY_FACTOR_WHEN_ILL = 2.5, 5.0
"""Factor within which one supply's watts and amps stay, and where one of them was not well before and left its share
to the others. Common practice, no source."""


def figures_steady(case: Case) -> Iterator[Draft]:
    """Volts stay within 15 %, the chassis' own watts and amps within a factor of two while all supplies are well.

    A supply's watts and amps stay within a factor of two and a half, and of five where one was not well before.
    A swap moves load from one supply to another, within reason; a lost digit is out of it. Common practice, no source.
    """
    conditions = [
        {u: c for u in v.supplies if (c := v.condition(u)) is not Condition.ABSENT} for v in (case.before, case.after)
    ]
    every = [c for side in conditions for c in side.values()]
    well = conditions[0].keys() == conditions[1].keys() and all(c in (None, Condition.OK) for c in every)
    stands = Condition.STANDBY in every
    for earlier, later in pairs(case):
        was, now = earlier.reading, later.reading
        if was is now or not isinstance(was, PowerSupply | Device):
            continue
        if ill_before(case, was.unit) or ill_now(case, now.unit) or was.given("input_type") != now.given("input_type"):
            continue
        if was.condition not in (None, Condition.OK) or now.condition not in (None, Condition.OK):
            continue
        for name, old in was.quantities().items():
            new = now.given(name)
            if name in SETTINGS or new is None or new.unit != old.unit or new == old:
                continue
            if old.unit in ("V", "Hz"):
                if abs(new.value - old.value) > VOLTS_WITHIN * min(abs(new.value), abs(old.value)):
                    message = f"{now.subject} shows {new} of {name.replace('_', ' ')} and showed {old} before"
                    yield doubted_of(case, earlier, later, name, message, f"within {VOLTS_WITHIN:.0%}, common practice")
            elif old.unit in ("W", "A", "%") and (well or isinstance(was, PowerSupply)) and not stands:
                factor = FIGURE_FACTOR if isinstance(was, Device) else SUPPLY_FACTOR if well else SUPPLY_FACTOR_WHEN_ILL
                low, high = sorted((abs(old.value), abs(new.value)))
                if high > low * factor:
                    message = f"{now.subject} shows {new} of {name.replace('_', ' ')} and showed {old} before"
                    yield doubted_of(
                        case, earlier, later, name, message, f"within a factor of {factor:g}, common practice"
                    )


SUMS_WITHIN, SUMS_BESIDE = 0.03, 1.5
"""Share and watts by which a sum may miss its parts: each is rounded, and read a moment later. Common practice."""


def _sums(view: View) -> dict[str, float]:
    """What the supplies' watts add up to, by figure; nothing where not all of them are well and give it."""
    rows = [rows for unit, rows in view.supplies.items() if view.condition(unit) is not Condition.ABSENT]
    if len(rows) < 2 or any(view.condition(u) not in (Condition.OK, Condition.ABSENT) for u in view.supplies):
        return {}
    sums = {}
    for name in ("output_power", "input_power", "capacity"):
        values = [next((q for s in own if (q := s.reading.given(name)) is not None), None) for own in rows]
        if all(value is not None and value.unit == "W" for value in values):
            sums[name] = sum(value.value for value in values if value is not None)
    return sums


UPTIMES_WITHIN = 120.0
"""Seconds by which two uptimes of one text may have gone on otherwise. Common practice, no source."""


def clock_forward(case: Case) -> Iterator[Draft]:
    """The device's clock went on between the captures, and by no more than a swap takes.

    Thirty days, common practice, no source, as for the uptime, whose rule asks for both where both are printed. Where a
    text gives several uptimes, they went on together, to within two minutes.
    """
    went_on = {
        row: (later.reading.value.value - earlier.reading.value.value, earlier, later)
        for row, (earlier, later) in enumerate(pairs(case))
        if isinstance(later.reading, Device)
        and isinstance(earlier.reading, Device)
        and (later.reading.name or "").lower().endswith("uptime")
        and later.reading.value is not None
        and earlier.reading.value is not None
    }
    if len(went_on) > 1:
        first, *rest = went_on.values()
        for by, earlier, later in rest:
            if abs(by - first[0]) > UPTIMES_WITHIN:
                message = (
                    f"one uptime is {later.reading.given('value')} and was {earlier.reading.given('value')}, "
                    "and another one went on otherwise"
                )
                yield doubted_of(case, earlier, later, "value", message, "the baseline")
    if case.before.device("uptime") and case.after.device("uptime"):
        return
    clocks = clock_of(case.before), clock_of(case.after)
    if clocks[0] is None or clocks[1] is None:
        return
    went = (clocks[1] - clocks[0]).total_seconds()
    was, now = case.before.device("clock"), case.after.device("clock")
    if not 0 < went <= LONGEST_JOB and was is not None and now is not None:
        message = f"the device's clock said {was.reading.status_text} before and says {now.reading.status_text}"
        yield doubted_of(case, was, now, "text", message, "the baseline", "check which text is which, and the clock")


def sums_hold(case: Case) -> Iterator[Draft]:
    """A figure of the chassis that is the sum of its supplies' in one capture is so in the other.

    Within 3 % and a watt and a half, for rounding and the moment between two tables; common practice.
    """
    sums = _sums(case.before), _sums(case.after)
    for earlier, later in pairs(case):
        was, now = earlier.reading.given("value"), later.reading.given("value")
        if not isinstance(later.reading, Device) or was is None or now is None or was.unit != "W" or now.unit != "W":
            continue
        for name in sums[0].keys() & sums[1].keys():
            off = [
                abs(q.value - total[name]) > SUMS_BESIDE + SUMS_WITHIN * total[name]
                for q, total in ((was, sums[0]), (now, sums[1]))
            ]
            if off[0] != off[1]:
                side = "after" if off[1] else "before"
                value, total = (now, sums[1][name]) if off[1] else (was, sums[0][name])
                message = (
                    f"{later.reading.subject} is {value} {side} the swap, and the supplies' {name.replace('_', ' ')} "
                    f"adds up to {total:g} W, although the two agree in the other capture"
                )
                yield doubted_of(case, earlier, later, "value", message, "the sum of its parts")


def baseline_adds_up(case: Case) -> Iterator[Draft]:
    """The figures of the baseline agree with each other as those after the swap must.

    And no row of it says ok of a value that lies beyond the limits beside it. Of the part that came out nothing is
    asked if it was not well.
    """
    said_ok = {
        (s.reading.kind, s.reading.subject)
        for s in case.before.snapshot.sightings
        if s.reading.condition is Condition.OK and not ill_before(case, s.reading.unit)
    }
    kinds: tuple[Kind, ...] = ("power_supply", "fan", "temperature", "device")
    for kind in kinds:
        for draft in limits_of(case.before, kind):
            if draft.outcome is UNMET and (kind, draft.subject) in said_ok:
                yield draft._replace(
                    outcome=UNDETERMINED, message=f"before the swap, and said to be ok: {draft.message}"
                )
    for rule in (adds_up, rated_alike):
        for draft in rule(case.before, case):
            if not ill_before(case, draft.unit or draft.subject):
                yield draft._replace(message=f"before the swap: {draft.message}")


STANDBY_GIVES = 0.2
"""Share of an equal part of the load from which a supply does not stand by but serves. Common practice."""


def stands_by(case: Case) -> Iterator[Draft]:
    """A supply that stands by did so before, or the one in its bay was not well, and it does not carry load.

    Hot standby is a healthy state (RFC 4268) that a chassis is set up for. One that appears over a swap, or beside
    full load, may be a word misread.
    """
    load = load_of(case.after)
    for unit in case.after.supplies:
        if case.after.condition(unit) is not Condition.STANDBY:
            continue
        speaker = case.after.speaker(unit, Condition.STANDBY)
        evidence = case.after.telling(unit, Condition.STANDBY)
        said = speaker.reading.status_text if speaker else None
        carries = load.by_unit[unit][0] if load and unit in load.by_unit else 0.0
        if load and carries > STANDBY_GIVES * load.total / max(len(load.by_unit), 1):
            message = f"{unit} is in standby (`{said}`) and carries {carries:g} W"
        elif not any(case.before.condition(u) is Condition.STANDBY for u in case.before.supplies):
            message = f"{unit} is in standby (`{said}`), and no supply was before"
        else:
            continue
        yield Draft(
            unit,
            UNDETERMINED,
            message,
            evidence,
            said,
            None,
            "the baseline",
            hint="look at the unit, and at how redundancy is set up; then capture again",
            unit=unit,
        )


# ---- fans and heat


TOGETHER_WITHIN = 0.25
"""Share by which one fan may change beside those like it. Common practice, as for a fan beside its peers."""
PAIR_FACTOR = 1.5
"""Factor by which the changes of two fans that are alike may differ. Common practice, no source."""
MOST_PERCENT = 110.0
"""Percent of its full speed that a fan is driven to at most, with some tolerance. Common practice, no source."""
NEW_FAN_FACTOR = 1.5
"""Factor above the others' speed at which a new fan is doubted. Common practice, no source."""
FAN_FACTOR, FAN_FACTOR_WHEN_ILL = 2.0, 4.0
"""Factor within which a fan's speed or duty stays over a swap; the larger one where fans were ill, or are what was
replaced, since the others run up for one that is out. Common practice, no source."""


def fans_together(case: Case) -> Iterator[Draft]:
    """Fans change their speed together, and not out of reason: else a digit was lost, before or after.

    One of at least three that are alike stays within 25 % of what the others' speed did. Any stays within a factor
    of two, or of four where a fan was ill or replaced; one that is ill in both captures too, unless it stood: a fault
    that grew so much is not the one that stood before. Common practice, no source.
    """
    ill = not case.is_supply or any(case.before.condition(u) not in (Condition.OK, None) for u in case.before.fans)
    factor = FAN_FACTOR_WHEN_ILL if ill else FAN_FACTOR
    both = {id(later): (earlier, later) for earlier, later in pairs(case) if isinstance(later.reading, Fan)}
    doubted = set()
    slower: set[str] | None = None  # those of which another rule tells more
    for members in groups_of_peers(case.after).values():
        changed = [
            (speed.value / old.value, *both[id(s)])
            for s, _ in members
            if id(s) in both
            and s.reading.condition in (None, Condition.OK)
            and not ill_before(case, s.reading.unit)
            and (old := both[id(s)][0].reading.given("speed")) is not None
            and (speed := s.reading.given("speed")) is not None
            and old.value > 0
        ]
        if len(changed) == 2:
            (one, *_), (two, *_) = changed
            if max(one, two) > PAIR_FACTOR * min(one, two):
                _, earlier, later = max(changed, key=lambda c: max(c[0], 1 / c[0]))
                doubted.add(id(later))
                message = (
                    f"{later.reading.subject} turned at {earlier.reading.given('speed')} and turns at "
                    f"{later.reading.given('speed')}, and the one like it changed otherwise"
                )
                yield doubted_of(
                    case, earlier, later, "speed", message, f"within a factor of {PAIR_FACTOR:g}, common practice"
                )
        if len(changed) < 3:
            continue
        middle = median(ratio for ratio, *_ in changed)
        for ratio, earlier, later in changed:
            if abs(ratio - middle) <= TOGETHER_WITHIN * min(ratio, middle):  # in either direction of time alike
                continue
            if slower is None:
                slower = {d.subject for d in against_baseline(case) if d.outcome is UNMET and not d.advisory}
            if later.reading.subject not in slower:
                doubted.add(id(later))
                now, was = later.reading.given("speed"), earlier.reading.given("speed")
                message = f"{later.reading.subject} turned at {was} and turns at {now}, and those like it changed by {middle - 1:+.0%}"
                yield doubted_of(
                    case, earlier, later, "speed", message, f"within {TOGETHER_WITHIN:.0%}, common practice"
                )
    for earlier, later in both.values():
        if id(later) in doubted or ill_before(case, later.reading.unit):
            continue
        gives = _per_duty(earlier.reading), _per_duty(later.reading)
        if gives[0] is None or gives[1] is None:
            continue
        low, high = sorted((gives[0][0], gives[1][0]))
        steady = abs(gives[0][1] - gives[1][1]) <= ALIKE_WITHIN
        if high <= low * (1 + (STEADY_WITHIN if steady else FAR_FROM_DUTY)):
            continue
        if slower is None:
            slower = {d.subject for d in against_baseline(case) if d.outcome is UNMET and not d.advisory}
        if later.reading.subject not in slower:
            doubted.add(id(later))
            now, was = (f"{r.given('speed')} at {r.given('speed_percent')}" for r in (later.reading, earlier.reading))
            message = f"{later.reading.subject} turns at {now}, and turned at {was}"
            yield doubted_of(case, earlier, later, "speed", message, "its speed follows its duty, common practice")
    yield from _new_fan_beside_peers(case)
    yield from _driven_alike(case)
    for earlier, later in both.values():
        if id(later) in doubted or ill_before(case, later.reading.unit):
            continue
        said = earlier.reading.condition, later.reading.condition
        well = Condition.OK in said
        if not well and not all(c in (Condition.WARNING, Condition.FAILED) for c in said):
            continue
        for name in ("speed", "speed_percent"):
            was, now = earlier.reading.given(name), later.reading.given(name)
            if was is None or now is None or was.unit != now.unit:
                continue
            low, high = sorted((was.value, now.value))
            if now.value <= 0 and name == "speed":
                continue  # one that stands now is spoken of by other rules
            if not well and low <= 0:
                continue  # one that is ill in both may stand and start again
            if now.unit == "%" and now.value > MOST_PERCENT >= was.value:
                message = f"{later.reading.subject} shows {now}, and showed {was} before"
                yield doubted_of(case, earlier, later, name, message, "a share of its full speed, common practice")
                continue
            if high > max(low, 0.0) * factor and high > 0:
                message = f"{later.reading.subject} shows {now} and showed {was} before"
                yield doubted_of(case, earlier, later, name, message, f"within a factor of {factor:g}, common practice")


STEADY_WITHIN, FAR_FROM_DUTY = 0.2, 0.6
"""Share by which one fan's speed for each percent of its duty may change, at one duty and between two. Common practice,
no source."""
_NOT_TURNING = (Condition.WARNING, Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT)


def _per_duty(reading: AnyReading) -> tuple[float, float] | None:
    """Rotations a minute for each percent of duty, and the duty."""
    speed, duty = reading.given("speed"), reading.given("speed_percent")
    if speed is None or duty is None or speed.value <= 0 or duty.value <= 0 or reading.condition in _NOT_TURNING:
        return None
    return speed.value / duty.value, duty.value


ALIKE_WITHIN, UNLIKE_FROM = 2.0, 10.0
"""Points of percent within which duties are one duty, and from which they are not. Common practice, no source."""


def _driven_alike(case: Case) -> Iterator[Draft]:
    """Fans that one control drives in one capture are driven by it in the other: three duties or more, all alike."""
    driven = [
        {
            s.reading.subject: (q.value, s)
            for s in view.of("fan")
            if (q := s.reading.given("speed_percent")) is not None
            and not (s.reading.unit or "").startswith("psu-")
            and s.reading.condition is Condition.OK
            and not (view is case.before and ill_before(case, s.reading.unit))
        }
        for view in (case.before, case.after)
    ]
    for view, told, other in ((case.after, driven[1], driven[0]), (case.before, driven[0], driven[1])):
        if len(told) < 2 or len(other) < 3:
            continue
        spread = max(d for d, _ in other.values()) - min(d for d, _ in other.values())
        middle = median(d for d, _ in told.values())
        duty, sighting = max(told.values(), key=lambda found: abs(found[0] - middle))
        if (
            spread <= ALIKE_WITHIN
            and max(d for d, _ in told.values()) - min(d for d, _ in told.values()) >= UNLIKE_FROM
        ):
            yield Draft(
                sighting.reading.subject,
                UNDETERMINED,
                f"{sighting.reading.subject} is driven at {duty:g} % {view.side} the swap, unlike the others; in the other "
                "capture all are driven alike",
                (view.at(sighting, "speed_percent"),),
                Quantity(value=duty, unit="%"),
                Quantity(value=middle, unit="%"),
                "common practice",
                hint=AGAIN,
                unit=sighting.reading.unit,
            )


def _new_fan_beside_peers(case: Case) -> Iterator[Draft]:
    """A fan of the new part, which has no baseline where the old one was ill, beside those like it.

    Not half as fast again, and not below half: what lies between is left to the rules of duty and baseline.
    """
    if ill_now(case, case.unit):
        return
    for members in groups_of_peers(case.after).values():
        others = [q.value for s, _ in members if s.reading.unit != case.unit and (q := s.reading.given("speed"))]
        if len(others) < 2:
            continue
        middle = median(others)
        for sighting, _ in members:
            speed = sighting.reading.given("speed")
            if sighting.reading.unit == case.unit and not middle / FAN_FACTOR <= speed.value <= middle * NEW_FAN_FACTOR:
                yield Draft(
                    sighting.reading.subject,
                    UNDETERMINED,
                    f"{sighting.reading.subject} turns at {speed}, and those like it at about {middle:g} rpm",
                    (case.after.at(sighting, "speed"),),
                    speed,
                    Quantity(value=middle, unit="rpm"),
                    "common practice",
                    hint="capture again, and hear whether it turns like the others",
                    unit=case.unit,
                )


def fans_of_baseline(case: Case) -> Iterator[Draft]:
    """A fan's limits and its speed stand in the baseline as they do afterwards: one that says ok does not stand."""
    for earlier, later in pairs(case):
        was = earlier.reading
        if not isinstance(was, Fan) or was.condition is not Condition.OK or ill_before(case, was.unit):
            continue
        turning = was.speed or was.speed_percent
        if turning is not None and turning.value <= 0:
            message = f"{was.subject} said `{was.status_text or 'ok'}` before, and stood still"
            yield doubted_of(case, earlier, later, "speed" if was.speed else "speed_percent", message, "the baseline")


COLDEST_FALLS = 15.0
"""Kelvin by which the coldest thing of the baseline lies above the air of the room at most. Common practice."""


def none_too_cold(case: Case) -> Iterator[Draft]:
    """Nothing reads far colder than the coldest sensor of the baseline: air cools to its own temperature at best.

    15 K, common practice, no source. The replaced unit may have come in cold: then it must warm up first.
    """
    known = [
        q.value
        for s in case.before.of("temperature")
        if (q := s.reading.given("value")) is not None and s.reading.unit != case.unit
    ]
    if len(known) < 2:
        return
    coldest = min(known)
    for sighting in case.after.of("temperature"):
        value = sighting.reading.given("value")
        if value is None or value.value >= coldest - COLDEST_FALLS:
            continue
        own = sighting.reading.unit == case.unit
        yield Draft(
            sighting.reading.subject,
            UNDETERMINED,
            f"{sighting.reading.subject} reads {value}, where the coldest sensor of the baseline read {coldest:g} °C",
            (case.after.at(sighting, "value"),),
            value,
            Quantity(value=coldest, unit="Cel"),
            "heat flows from warm to cold",
            hint="let the new part warm up, then capture again" if own else AGAIN,
            unit=sighting.reading.unit,
        )


INLET_MOVES, INLET_ALONE = 5.0, 8.0
"""Kelvin: an inlet that moved by more is followed by the rest to within so much. Common practice, no source."""


def inlet_followed(case: Case) -> Iterator[Draft]:
    """Where the inlet air moved by more than 5 K, the other sensors moved with it, to within 8 K of their middle.

    What the inlet did is taken out of what the others did, so a digit lost at the inlet would hide theirs.
    Common practice, no source.
    """
    before, after = inlet(case.before, case), inlet(case.after, case)
    if not before or not after:
        return
    ids = {id(s) for s, _ in (*before, *after)}
    changes = [
        new.value - old.value
        for earlier, later in pairs(case)
        if later.reading.kind == "temperature"
        and id(later) not in ids
        and later.reading.unit != case.unit
        and (old := earlier.reading.given("value")) is not None
        and (new := later.reading.given("value")) is not None
    ]
    if not changes:
        return
    others = median(changes)
    was = {s.reading.name: (s, q) for s, q in before}
    for sighting, now in after:
        if sighting.reading.name not in was:
            continue
        earlier, old = was[sighting.reading.name]
        moved_by = now.value - old.value
        if abs(moved_by) > INLET_MOVES and abs(moved_by - others) > INLET_ALONE:
            message = f"{sighting.reading.subject} changed by {moved_by:+.1f} K and the others by {others:+.1f} K"
            yield doubted_of(case, earlier, sighting, "value", message, "common practice")


RULES = (
    Rule("power.figures-steady", "Volts and sums about what they were", (), change=figures_steady),
    Rule("service.clock", "The clock went on", (), change=clock_forward),
    Rule("power.sums-hold", "Sums are the sum of their parts", (), change=sums_hold),
    Rule("power.baseline-adds-up", "The baseline's figures agree", (), change=baseline_adds_up),
    Rule("power.stands-by", "Standby is what it was set up for", (), change=stands_by),
    Rule("cooling.together", "Fans change together", (), change=fans_together),
    Rule("cooling.baseline-turns", "No fan of the baseline said ok and stood", (), change=fans_of_baseline),
    Rule("temperature.too-cold", "Nothing far colder than before", (), change=none_too_cold),
    Rule("temperature.inlet-followed", "The rest follows the inlet", (), change=inlet_followed),
)
