"""Supplies: present and well, fed, delivering, sharing, and enough of them."""

from collections.abc import Iterator
from statistics import median

from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, limits_of, listed
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.readings import Condition, PowerSupply, Sighting
from consolecheck.records.units import Quantity

_SAYS = {
    Condition.ABSENT: "is absent",
    Condition.NO_INPUT: "has no input power",
    Condition.FAILED: "has failed",
    Condition.WARNING: "reports a warning",
}
_DO = {
    Condition.ABSENT: "seat the unit in its slot until it latches, then capture again",
    Condition.NO_INPUT: "check the cord and the feed behind it, then capture again",
    Condition.FAILED: "replace the unit and judge again",
}


def unit_status(view: View, case: Case, units: list[str]) -> Iterator[Draft]:
    """Each unit of a list: present and well?"""
    for unit in units:
        condition = view.condition(unit)
        evidence = view.telling(unit, condition)
        speaker = view.speaker(unit, condition)
        said = speaker.reading.status_text if speaker else None
        word = f" (`{said}`)" if said else ""
        if condition is Condition.OK:
            yield Draft(unit, MET, f"{unit} is present and ok{word}", evidence, said or "ok", unit=unit)
        elif condition is Condition.STANDBY:
            good = case.acceptance.power.standby_is_good
            yield Draft(
                unit,
                UNDETERMINED if unit.startswith("fan-") else MET if good else UNMET,
                f"{unit} is in standby{word}",
                evidence,
                said or "standby",
                source="RFC 4268: hot standby is a healthy state",
                unit=unit,
            )
        elif condition in _SAYS:
            yield Draft(
                unit,
                UNMET,
                f"{unit} {_SAYS[condition]}{word}",
                evidence,
                said or condition.value,
                hint=_DO.get(condition),
                unit=unit,
            )
        elif unit not in view.by_unit:
            yield Draft(
                unit,
                UNDETERMINED,
                f"nothing about {unit} stands in the text",
                (view.whole,),
                unit=unit,
                hint=f"capture the table that shows {unit}",
            )
        else:
            what = f"the status `{said}` of {unit} is not known" if said else f"no status of {unit} was printed"
            yield Draft(unit, UNDETERMINED, what, evidence, said, unit=unit, hint="look at the unit itself")


def status(view: View, case: Case) -> Iterator[Draft]:
    """Every supply is present and ok; an unknown word is not ok.

    A supply in standby counts as good while the acceptance says so.
    """
    units = list(view.supplies)
    if case.is_supply and case.unit not in units:
        units.insert(0, case.unit)
    if not units:
        yield Draft(
            "supplies",
            UNDETERMINED,
            "no supply stands in the text",
            hint=view.capture("power_supply"),
        )
    yield from unit_status(view, case, units)


def _usual(value: float, usual: tuple[float, ...]) -> float:
    return min(usual, key=lambda nominal: abs(nominal - value) / nominal)


AC_NOMINALS = (120.0, 208.0, 230.0, 240.0, 277.0)
"""ANSI C84.1 service voltages and IEC 60038's 230 V."""
DC_BELOW = 75.0
"""V. Above it an input is mains; 48 V and 60 V plant stays below. Common practice."""


def _reference(case: Case, name: str, above: float = 0.0) -> float | None:
    """What a voltage is held against: the median of the baseline, else of the other supplies now.

    Without a baseline a new supply that sags is seen beside its peers.
    """
    baseline, peers = (
        [
            magnitude
            for unit in view.supplies
            if (view is case.before or unit != case.unit)
            and (found := view.quantity(unit, name))
            and (magnitude := abs(found[0].value)) > above
        ]
        for view in (case.before, case.after)
    )
    known = baseline or peers
    return median(known) if known else None


def _ac_nominal(case: Case, value: float) -> float:
    """The site's nominal: stated, else the usual one nearest to the reference, so that a sag is seen."""
    if case.acceptance.power.ac_nominal is not None:
        return case.acceptance.power.ac_nominal
    return _usual(_reference(case, "input_voltage", DC_BELOW) or value, AC_NOMINALS)


def input_range(view: View, case: Case) -> Iterator[Draft]:
    """The input voltage lies in the service range.

    AC: nominal plus and minus 10 % (IEC 60038, EN 50160). DC: 40.5 to 57.0 V of magnitude (ETSI
    EN 300 132-2, normal service). Both can be set by the acceptance.
    """
    limits = case.acceptance.power
    for unit in view.supplies:
        found = view.quantity(unit, "input_voltage")
        if found is None:
            continue
        value, sighting = found
        number = abs(value.value)
        reading = sighting.reading
        assert isinstance(reading, PowerSupply)
        kind = reading.input_type or case.seen(unit, "input")
        if kind == "DC" or (kind is None and 0 < number < DC_BELOW):
            low, high, source = limits.dc_low, limits.dc_high, "ETSI EN 300 132-2, normal service range"
        else:
            nominal = _ac_nominal(case, number)
            low = nominal * (1 - limits.ac_tolerance_percent / 100)
            high = nominal * (1 + limits.ac_tolerance_percent / 100)
            source = f"IEC 60038 / EN 50160, {nominal:g} V ± {limits.ac_tolerance_percent:g} %"
        yield _between(view, unit, "input", value, number, low, high, source, sighting, "input_voltage")


def _between(
    view: View,
    unit: str,
    what: str,
    value: Quantity,
    number: float,
    low: float,
    high: float,
    source: str,
    sighting: Sighting,
    field: str,
) -> Draft:
    low, high = round(low, 6), round(high, 6)
    fits = low <= number <= high
    nearest = low if number - low < high - number else high
    margin = min(number - low, high - number)
    return Draft(
        unit,
        MET if fits else UNMET,
        f"{unit} {what} is {value}, {'within' if fits else 'outside'} {low:g} to {high:g} {value.unit}",
        (view.at(sighting, sighting.field_of(field)),),
        value,
        Quantity(value=nearest, unit=value.unit),
        source,
        Quantity(value=round(margin, 6), unit=value.unit),
        None if fits else "measure the feed; a supply does not set its own input" if what == "input" else None,
        unit,
    )


OUTPUT_NOMINALS = (3.3, 5.0, 12.0, 24.0, 48.0, 54.0, 56.0)
"""Usual rails of rack equipment. Common practice, no source."""


def output_range(view: View, case: Case) -> Iterator[Draft]:
    """The output voltage lies within 5 % of nominal (common practice; the acceptance may state both)."""
    limits = case.acceptance.power
    for unit in view.supplies:
        found = view.quantity(unit, "output_voltage")
        if found is None or view.condition(unit) is Condition.STANDBY:
            continue  # a supply in standby need not deliver
        value, sighting = found
        number = abs(value.value)
        nominal = limits.output_nominal or _usual(_reference(case, "output_voltage") or number, OUTPUT_NOMINALS)
        share = limits.output_tolerance_percent / 100
        source = f"{nominal:g} V ± {limits.output_tolerance_percent:g} %, common practice"
        yield _between(
            view,
            unit,
            "output",
            value,
            number,
            nominal * (1 - share),
            nominal * (1 + share),
            source,
            sighting,
            "output_voltage",
        )


def limits(view: View, case: Case) -> Iterator[Draft]:
    """Every measuring point of a supply lies within the limits that the device prints beside it."""
    yield from limits_of(view, "power_supply")


def _input_types(view: View) -> dict[str, tuple[str, Sighting]]:
    """Supply that is there -> AC or DC as printed, and where."""
    return {
        unit: found
        for unit in view.supplies
        if view.condition(unit) is not Condition.ABSENT and (found := view.fact(unit, "input_type"))
    }


def input_type(case: Case) -> Iterator[Draft]:
    """The new supply takes the input (AC or DC) that the old one took, or its peers where that one was silent.

    A chassis whose supplies take both was laid out so before the swap, or it is a mistake; common practice.
    What the label says counts where the device prints no input type.
    """
    was, now = _input_types(case.before), _input_types(case.after)
    replaced = list(_replaced_input(case, was, now)) if case.is_supply else []
    yield from replaced
    types, earlier = sorted({t for t, _ in now.values()}), sorted({t for t, _ in was.values()})
    if len(types) > 1 and not any(d.outcome is UNMET for d in replaced):
        before = {0: "what it was before is not known", 1: f"before the swap all took {listed(earlier)}"}
        yield Draft(
            "supplies",
            UNMET if earlier else UNDETERMINED,
            f"the supplies take both {listed(types)}: {before.get(len(earlier), 'they did before, too')}",
            tuple(case.after.at(s, "input_type") for _, s in now.values()),
            listed(types),
            listed(earlier) or None,
            "one kind of input in a chassis, common practice",
            hint="find out which input this chassis is laid out for",
            advisory=len(earlier) > 1,
        )


def _replaced_input(
    case: Case, was: dict[str, tuple[str, Sighting]], now: dict[str, tuple[str, Sighting]]
) -> Iterator[Draft]:
    unit = case.unit
    printed, label = now.get(unit), case.seen(unit, "input")
    evidence = (case.after.at(printed[1], "input_type"),) if printed else case.after.first_of(unit)
    if printed and label and printed[0] != label:
        yield Draft(
            unit,
            UNDETERMINED,
            f"the label of {unit} says {label}, but the text says {printed[0]}",
            evidence,
            printed[0],
            label,
            "the label as read",
            hint="look at the label again, then capture again",
            unit=unit,
        )
    peers = {kind: (peer, sighting) for peer, (kind, sighting) in was.items() if peer != unit}
    if unit in was:
        old, whose, where = was[unit][0], "the part before", was[unit][1]
    elif len(peers) == 1:
        old, (whose, where) = next(iter(peers.items()))
    else:
        return
    new = printed[0] if printed else label
    if new is None or case.after.condition(unit) is Condition.ABSENT:
        return
    fits = new == old
    yield Draft(
        unit,
        MET if fits else UNMET,
        f"{unit} takes {new}, like {whose}" if fits else f"{unit} takes {new}, but {whose} took {old}",
        (*evidence, case.before.at(where, "input_type")),
        new,
        old,
        "the baseline",
        hint=None if fits else "take it out, and fit a part for the input that this slot is wired for",
        unit=unit,
    )


def mixed(case: Case) -> Iterator[Draft]:
    """All supplies are of one part number and one rating, unless they were not before. Common practice.

    Unlike supplies may share the load badly. Parts that the acceptance lists as substitutes count as alike.
    """
    substitutes = case.acceptance.identity.substitutes

    def parts(view: View) -> set[str]:
        found = {p[0] for u in _present(view) if (p := view.fact(u, "part_number"))}
        return found - {s for part in found for s in substitutes.get(part, ()) if s != part}

    def ratings(view: View) -> set[str]:
        return {str(q[0]) for u in _present(view) if (q := view.quantity(u, "capacity"))}

    apart = [
        f"{what} ({listed(sorted(now))})"
        for what, of in (("part number", parts), ("rated power", ratings))
        if len(now := of(case.after)) > 1 >= len(of(case.before))
    ]
    if apart:
        yield Draft(
            "supplies",
            UNMET,
            f"the supplies differ in {listed(apart)}",
            tuple(case.after.at(case.after.supplies[u][0]) for u in _present(case.after)),
            source="supplies of one kind, common practice",
            hint="check in the maker's guide that these may run side by side",
        )


def _present(view: View) -> list[str]:
    return [unit for unit in view.supplies if view.condition(unit) is not Condition.ABSENT]


RULES = (
    Rule("power.status", "Every supply is present and ok", ("power_supply", "inventory"), state=status),
    Rule("power.input-range", "Input voltage in the service range", ("power_supply",), state=input_range),
    Rule("power.output-range", "Output voltage near nominal", ("power_supply",), state=output_range),
    Rule("power.own-limits", "Supplies within the device's limits", ("power_supply",), state=limits),
    Rule("power.input-type", "The right kind of input", ("power_supply",), change=input_type),
    Rule("power.mixed", "Supplies of one kind", ("power_supply", "inventory"), change=mixed, required=False),
)
