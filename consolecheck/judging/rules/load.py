"""What the supplies carry together: the new one's share, what is left after a loss, and whether figures add up."""

from collections.abc import Iterator
from math import ceil
from statistics import fmean
from typing import NamedTuple

from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, listed
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.readings import Condition, Device, PowerSupply, Sighting
from consolecheck.records.units import Quantity


class _Load(NamedTuple):
    """What the supplies deliver, by the best figure that all of them print."""

    by_unit: dict[str, tuple[float, Sighting]]
    field: str
    total: float


def load_of(view: View) -> _Load | None:
    """Output watts of every supply that is fed, else volts times amps, else input watts.

    Input watts overstate the load by the losses, which errs on the safe side. Where no figure is printed
    for every one of them (a sum with a hole in it is not a load) the chassis' own figure counts, a device
    fact named `load`. None where there is neither.
    """
    off = (Condition.ABSENT, Condition.NO_INPUT)
    conditions = {unit: view.condition(unit) for unit in view.supplies}
    for field in ("output_power", "", "input_power"):
        by_unit: dict[str, tuple[float, Sighting]] = {}
        for unit in view.supplies:
            if field:
                found = view.quantity(unit, field)
                value = None if found is None else (abs(found[0].value), found[1])
            else:
                volts, amps = view.quantity(unit, "output_voltage"), view.quantity(unit, "output_current")
                value = (abs(volts[0].value * amps[0].value), amps[1]) if volts and amps else None
            if value is not None:
                by_unit[unit] = value
            elif conditions[unit] not in off:
                break
        else:
            if by_unit:
                return _Load(by_unit, field or "output_current", sum(watts for watts, _ in by_unit.values()))
    stated = [s.reading.value for s in view.of("device") if s.reading.name == "load" and isinstance(s.reading, Device)]
    # Of a stack's several chassis the loads and the supplies would have to be told apart.
    if len(stated) == 1 and stated[0] is not None and stated[0].unit == "W":
        return _Load({}, "value", stated[0].value)
    return None


def rating_of(view: View, case: Case, unit: str) -> tuple[float, str] | None:
    """What one supply can deliver in watts, and its source: printed, stated by part number, or its input-power limit.

    None where nothing tells.
    """
    if (found := view.quantity(unit, "capacity")) is not None and found[0].value > 0:
        return found[0].value, "rated power as printed"
    part = view.fact(unit, "part_number")
    if part is not None and (stated := case.acceptance.power.capacity.get(part[0])) is not None:
        return stated, f"acceptance, capacity of {part[0]}"
    for sighting in view.supplies.get(unit, ()):
        reading = sighting.reading
        if isinstance(reading, PowerSupply) and reading.input_power is not None:
            limit = reading.high_warning or reading.high_critical
            if limit is not None and limit.unit == "W" and limit.value > 0:
                return limit.value, "the device's warning limit of input power"
    return None


def carries_load(case: Case) -> Iterator[Draft]:
    """The new supply really carries load and does not only report itself well.

    At least a fifth of an equal share by default (common practice); a supply in standby is excused.
    """
    if not case.is_supply:
        return
    view, unit = case.after, case.unit
    load = load_of(view)
    if load is None or unit not in load.by_unit:
        earlier = load_of(case.before)
        printed = earlier is not None and bool(earlier.by_unit)
        if view.condition(unit) in (Condition.ABSENT, Condition.NO_INPUT):
            yield Draft(unit, UNMET, f"{unit} delivers nothing", view.telling(unit, view.condition(unit)), unit=unit)
        else:
            yield Draft(
                unit,
                UNDETERMINED,
                f"the load of {unit} was not printed",
                view.first_of(unit) or (view.whole,),
                unit=unit,
                advisory=not printed,
                hint="compare the load lamps or meter the output" if not printed else "capture the power table again",
            )
        return
    watts, sighting = load.by_unit[unit]
    carrying = sum(1 for u in load.by_unit if view.condition(u) in (Condition.OK, Condition.WARNING))
    least = load.total / max(carrying, 1) * case.acceptance.power.least_share_percent / 100
    measured, limit = Quantity(value=round(watts, 3), unit="W"), Quantity(value=round(least, 3), unit="W")
    evidence = (view.at(sighting, sighting.field_of(load.field)),)
    if view.condition(unit) is Condition.STANDBY and case.acceptance.power.standby_is_good:
        yield Draft(unit, MET, f"{unit} is in standby and needs to carry nothing", evidence, measured, unit=unit)
    elif load.total <= 0:
        yield Draft(unit, UNDETERMINED, "no supply shows any load", evidence, measured, limit, unit=unit)
    else:
        fits = watts >= least and watts > 0
        yield Draft(
            unit,
            MET if fits else UNMET,
            f"{unit} carries {measured} of {load.total:g} W" + ("" if fits else f", less than {limit}"),
            evidence,
            measured,
            limit,
            "share of an equal load, common practice",
            Quantity(value=round(watts - least, 3), unit="W"),
            None if fits else "reseat the unit, wait a minute and capture again",
            unit,
        )


def sharing(view: View, case: Case) -> Iterator[Draft]:
    """Supplies share the load within 10 % of their mean (common practice; droop sharing is loose at light load).

    Judged from a fifth of the capacity on; below it the answer is undetermined. Supplies in standby are left out.
    """
    load = load_of(view)
    if load is None:
        return
    sharing_units = {u: w for u, w in load.by_unit.items() if view.condition(u) is Condition.OK}
    if len(sharing_units) < 2:
        return
    average = fmean(w for w, _ in sharing_units.values())
    rated = [r[0] for u in sharing_units if (r := rating_of(view, case, u))]
    limit = case.acceptance.power.sharing_tolerance_percent
    worst_unit, (watts, sighting) = max(sharing_units.items(), key=lambda item: abs(item[1][0] - average))
    departure = 0.0 if average == 0 else (watts - average) / average * 100
    evidence = (view.at(sighting, sighting.field_of(load.field)),)
    measured = Quantity(value=round(departure, 2), unit="%")
    bound = Quantity(value=limit, unit="%")
    if not rated or sum(rated) <= 0:
        yield Draft(
            "supplies",
            UNDETERMINED,
            "how the load is shared cannot be judged without the rated power",
            evidence,
            measured,
            bound,
        )
    elif load.total / sum(rated) * 100 < case.acceptance.power.sharing_from_load_percent:
        yield Draft(
            "supplies",
            UNDETERMINED,
            f"at {load.total / sum(rated):.0%} of the rated power sharing says nothing",
            evidence,
            measured,
            bound,
            "common practice",
        )
    else:
        fits = abs(departure) <= limit
        yield Draft(
            "supplies",
            MET if fits else UNMET,
            f"{worst_unit} carries {watts:g} W where the mean is {average:g} W ({departure:+.1f} %)",
            evidence,
            measured,
            bound,
            "common practice",
            Quantity(value=round(limit - abs(departure), 2), unit="%"),
        )


def needed_units(load: float, capacity: float) -> int:
    """N = ceil(load / capacity of one unit), at least one. Both in watts; trade definition."""
    return max(1, ceil(round(load / capacity, 9)))


def fits_after_loss(load: float, rated: dict[str, float], lost: set[str], headroom_percent: float) -> bool:
    """Whether the rest carries the load with the headroom kept free. Watts."""
    rest = sum(watts for unit, watts in rated.items() if unit not in lost)
    return load <= rest * (1 - headroom_percent / 100) + 1e-9


def feeds_of(view: View, case: Case) -> dict[str, set[str]]:
    """Feed, in capitals -> the supplies on it: as eyes saw, else as the acceptance states, else as printed.

    A supply of which none of them tells is on no feed here.
    """
    feeds: dict[str, set[str]] = {}
    stated = {u: f for f, units in case.acceptance.power.feeds.items() for u in units}
    for unit in view.supplies:
        printed = view.fact(unit, "feed")
        feed = case.seen(unit, "feed") or stated.get(unit) or (printed[0] if printed else None)
        if feed:
            feeds.setdefault(feed.upper(), set()).add(unit)
    return feeds


def redundancy(view: View, case: Case) -> Iterator[Draft]:
    """The load still fits after the loss of any one supply (N+1), or of either feed (N+N).

    N is the load over what one unit can deliver, rounded up; trade definitions. Only supplies that
    are ok or in standby count.
    """
    limits = case.acceptance.power
    if limits.redundancy == "none":
        return
    good = [u for u in view.supplies if view.condition(u) in (Condition.OK, Condition.STANDBY)]
    evidence = tuple(view.at(sightings[0]) for sightings in view.supplies.values()) or (view.whole,)
    excused = not case.is_supply
    untold = [u for u in view.supplies if view.condition(u) in (None, Condition.UNKNOWN)]
    if limits.redundancy == "count":
        needed = max(
            2, sum(case.before.condition(u) in (Condition.OK, Condition.STANDBY) for u in case.before.supplies)
        )
        fits = len(good) >= needed
        # A supply of which nothing stands there any more may be good; that it is gone another rule says.
        unseen = [] if fits else [*untold, *(u for u in case.before.supplies if u not in view.by_unit)]
        may_fit = len(good) + len(unseen) >= needed
        yield Draft(
            "supplies",
            MET if fits else UNDETERMINED if may_fit else UNMET,
            f"{len(good)} good supplies, {needed} needed"
            + (f"; whether {listed(unseen)} is good is not known" if unseen else ""),
            evidence,
            str(len(good)),
            str(needed),
            "acceptance: count",
        )
        return
    load = load_of(view)
    rated = {u: r for u in good if (r := rating_of(view, case, u))}
    if untold:
        yield Draft(
            "supplies",
            UNDETERMINED,
            f"redundancy cannot be judged: whether {listed(untold)} is good is not known",
            evidence,
            source=limits.redundancy,
            advisory=excused,
        )
        return
    if len(good) < 2 and view.supplies:
        yield Draft(
            "supplies",
            UNMET,
            f"{f'only {good[0]}' if good else 'no supply'} is good: nothing is left to take over",
            evidence,
            str(len(good)),
            "2",
            limits.redundancy,
            by_absence="power_supply" if len(view.supplies) < 2 else None,
        )
        return
    if load is None or len(rated) < len(good) or not good:
        missing = "load" if load is None else f"rated power of {listed(u for u in good if u not in rated)}"
        yield Draft(
            "supplies",
            UNDETERMINED,
            f"redundancy cannot be judged: the {missing} is not known",
            evidence,
            advisory=excused,
            source=limits.redundancy,
            hint="state the rated power by part number in the acceptance under [power.capacity]",
        )
        return
    watts = {u: r[0] for u, r in rated.items()}
    source = next(iter(rated.values()))[1]
    if limits.redundancy == "N+1":
        groups = [{u} for u in good]
    else:
        feeds = feeds_of(view, case)
        unknown = [u for u in good if not any(u in units for units in feeds.values())]
        if unknown or not feeds:
            yield Draft(
                "supplies",
                UNDETERMINED,
                f"which feed {listed(unknown) or 'the supplies'} hang on is not known",
                evidence,
                source="N+N",
                advisory=excused,
                hint="follow the cords and state them: --seen psu-1.feed=A",
            )
            return
        groups = list(feeds.values())
        if len(feeds) < 2:
            yield Draft(
                "supplies",
                UNMET,
                f"all supplies hang on feed {next(iter(feeds))}",
                evidence,
                "1 feed",
                "2 feeds",
                "N+N",
                hint="move the cords so that each feed has its own supplies",
            )
            return
    hardest = max(groups, key=lambda lost: sum(watts.get(u, 0) for u in lost))
    rest = sum(w for u, w in watts.items() if u not in hardest) * (1 - limits.headroom_percent / 100)
    fits = all(fits_after_loss(load.total, watts, lost, limits.headroom_percent) for lost in groups)
    yield Draft(
        "supplies",
        MET if fits else UNMET,
        f"the load of {load.total:g} W {'fits' if fits else 'does not fit'} the {rest:g} W left after the loss of {listed(sorted(hardest))}",
        evidence,
        Quantity(value=round(load.total, 3), unit="W"),
        Quantity(value=round(rest, 3), unit="W"),
        f"{limits.redundancy} with N = {needed_units(load.total, min(watts.values()))}, {limits.headroom_percent:g} % headroom; {source}",
        Quantity(value=round(rest - load.total, 3), unit="W"),
    )


LEAST_EFFICIENCY = 0.80
"""80 PLUS Standard asks for 80 % at 20, 50 and 100 % of load; no certified supply does worse there."""


ADDS_UP_WITHIN = 0.05
"""Share by which watts and volts times amps may differ: meters of one supply, common practice."""


LOST_WITHIN, LOST_ALWAYS = 0.35, 25.0
"""Share of the input and watts besides that may be lost in a supply. 80 PLUS leaves a fifth at its lowest
level; the rest is for light load and meters, common practice."""


def adds_up(view: View, case: Case) -> Iterator[Draft]:
    """A supply's figures agree with each other: else a digit was lost in reading.

    Direct current: P = U I. On an alternating input the power factor makes watts less than volts times
    amps, never more. What comes out is no more than what goes in, and not much less. Two watts or one
    step of the printed current are let pass.
    """
    for unit, sightings in view.supplies.items():
        for sighting in sightings:
            reading = sighting.reading
            if not isinstance(reading, PowerSupply):
                continue
            for side, volts, amps, watts in (
                ("output", reading.output_voltage, reading.output_current, reading.output_power),
                ("input", reading.input_voltage, reading.input_current, reading.input_power),
            ):
                if volts is None or amps is None or watts is None:
                    continue
                product, told = abs(volts.value * amps.value), abs(watts.value)
                slack = max(2.0, ADDS_UP_WITHIN * max(product, told), 0.05 * abs(volts.value))
                if told > product + slack or (side == "output" and told < product - slack):
                    message = f"{unit} {side} does not add up: {volts} times {amps} is not {watts}"
                    limit = Quantity(value=round(product, 2), unit="W")
                    yield _not_so(view, sighting, unit, message, watts, limit, "P = U I", f"{side}_power")
            power_in, power_out = reading.input_power, reading.output_power
            if power_in is None or power_out is None:
                continue
            given, taken = power_out.value, power_in.value
            if given > taken * (1 + ADDS_UP_WITHIN) + 2:
                message = f"{unit} shows {power_out} out of {power_in} in, which cannot be"
                yield _not_so(
                    view, sighting, unit, message, power_out, power_in, "conservation of energy", "output_power"
                )
            elif taken - given > taken * LOST_WITHIN + LOST_ALWAYS:
                message = f"{unit} takes {power_in} and gives only {power_out}"
                yield _not_so(view, sighting, unit, message, power_out, power_in, "common practice", "output_power")


def _not_so(
    view: View,
    sighting: Sighting,
    unit: str,
    message: str,
    measured: Quantity,
    limit: Quantity,
    source: str,
    field: str,
) -> Draft:
    return Draft(
        unit,
        UNDETERMINED,
        message,
        (view.at(sighting, field),),
        measured,
        limit,
        source,
        hint="capture again",
        unit=unit,
    )


LOAD_FACTOR = 2.0
"""Factor within which the load of a switch stays over a swap. Common practice."""


def load_steady(case: Case) -> Iterator[Draft]:
    """The load of the chassis is about what it was: a swap does not halve or double it, a lost digit does."""
    before, after = load_of(case.before), load_of(case.after)
    if before is None or after is None or before.total <= 0:
        return
    factor = after.total / before.total
    steady = 1 / LOAD_FACTOR <= factor <= LOAD_FACTOR
    yield Draft(
        "supplies",
        MET if steady else UNDETERMINED,
        f"the load is {after.total:g} W and was {before.total:g} W",
        tuple(case.after.at(s) for _, s in after.by_unit.values()) or (case.after.whole,),
        Quantity(value=round(after.total, 3), unit="W"),
        Quantity(value=round(before.total, 3), unit="W"),
        f"within a factor of {LOAD_FACTOR:g}, common practice",
        hint=None if steady else "capture again, and find out what changed if it stays so",
    )


RATED_ALIKE = 1.5
"""One part number has one rated power; where it depends on the input voltage it stays within this factor
(supplies rated lower at 100 to 127 V: common practice)."""


def rated_alike(view: View, case: Case) -> Iterator[Draft]:
    """Supplies of one part number show one rated power: where they do not, a digit was lost in reading."""
    by_part: dict[str, list[tuple[float, str, Sighting]]] = {}
    for unit in view.supplies:
        printed, found = view.fact(unit, "part_number"), view.quantity(unit, "capacity")
        if printed and found and view.condition(unit) is not Condition.ABSENT:
            by_part.setdefault(printed[0], []).append((found[0].value, unit, found[1]))
    for part, rated in by_part.items():
        least, most = min(rated, key=lambda r: r[0]), max(rated, key=lambda r: r[0])
        if most[0] > least[0] * RATED_ALIKE:
            yield Draft(
                least[1],
                UNDETERMINED,
                f"{least[1]} and {most[1]} are both part {part}, but rated {least[0]:g} W and {most[0]:g} W",
                (view.at(least[2], "capacity"), view.at(most[2], "capacity")),
                f"{least[0]:g} W",
                f"{most[0]:g} W",
                "one part, one rating",
                hint="capture again",
            )


def efficiency(view: View, case: Case) -> Iterator[Draft]:
    """Output over input power is plausible: never above one, and at least 80 % from a fifth of the load on.

    80 PLUS programme, lowest level. More out than in is a fault of the meter or of the reading.
    """
    for unit in view.supplies:
        power_in, power_out = view.quantity(unit, "input_power"), view.quantity(unit, "output_power")
        if power_in is None or power_out is None or power_in[0].value <= 0:
            continue
        ratio = power_out[0].value / power_in[0].value
        rated = rating_of(view, case, unit)
        share = power_out[0].value / rated[0] if rated else None
        evidence = (view.at(power_out[1], "output_power"),)
        measured = Quantity(value=round(ratio * 100, 2), unit="%")
        if ratio > 1:
            yield Draft(
                unit,
                UNDETERMINED,
                f"{unit} shows {power_out[0]} out of {power_in[0]} in, which cannot be",
                evidence,
                measured,
                Quantity(value=100, unit="%"),
                "conservation of energy",
                unit=unit,
            )
        elif share is not None and 0.2 <= share <= 1 and ratio < LEAST_EFFICIENCY:
            yield Draft(
                unit,
                UNDETERMINED,
                f"{unit} turns only {measured} of its input into output at {share:.0%} load",
                evidence,
                measured,
                Quantity(value=80, unit="%"),
                "80 PLUS, lowest level",
                unit=unit,
            )


RULES = (
    Rule("power.carries-load", "The new supply carries load", ("power_supply",), change=carries_load),
    Rule("power.sharing", "Supplies share the load", ("power_supply",), state=sharing, required=False),
    Rule("power.redundancy", "The load fits after a loss", ("power_supply",), state=redundancy, standing=False),
    Rule("power.adds-up", "Watts are volts times amps", ("power_supply",), state=adds_up, standing=False),
    Rule("power.load-steady", "The load is about what it was", ("power_supply",), change=load_steady),
    Rule("power.rated-alike", "One part, one rating", ("power_supply",), state=rated_alike, standing=False),
    Rule("power.efficiency", "Output against input is plausible", ("power_supply",), state=efficiency, required=False),
)
