"""A good word that the same text gainsays: by its alarms, by another of its tables, or by the unit's own figures.

A status word is one word; a misread one, or a row that another device printed, may say ok of a part that is not. What
else the text says of the part must not be against it. These rules doubt the text: `undetermined`, or nothing.
"""

import re
from collections.abc import Iterator
from statistics import median

from consolecheck.judging.rules.plausible import as_printed, ill_before, pairs
from consolecheck.judging.rules.rule import UNDETERMINED, Rule, listed
from consolecheck.judging.view import Case, Draft, View, is_serial
from consolecheck.records.readings import AnyReading, Condition, Sighting
from consolecheck.records.units import Quantity

_GOOD = (Condition.OK, Condition.STANDBY)


def by_alarm(case: Case) -> Iterator[Draft]:
    """No alarm stands for a unit that says it is well.

    A new alarm is a fault and told as one. Here are those that stood before: one of the replaced unit was to go with the
    part that came out, and one of a unit that was ill before and says ok now. What the device says alike in both
    captures, an alarm beside a good word of a unit that nobody touched, is let be.
    """
    stood = {k for k, s in case.before.keyed.items() if k[0] == "alarm" and s.reading.condition is not Condition.OK}
    for key, sighting in case.after.keyed.items():
        if key not in stood or sighting.reading.condition is Condition.OK:
            continue
        for unit in case.after.units:
            if case.after.condition(unit) not in _GOOD or not _speaks_of(sighting.reading, unit):
                continue
            if unit != case.unit and case.before.condition(unit) in (None, *_GOOD):
                continue
            yield Draft(
                unit,
                UNDETERMINED,
                f"{unit} says that it is well, and its alarm still stands: {sighting.reading.subject}",
                (case.after.at(sighting), *case.after.telling(unit, case.after.condition(unit))),
                sighting.reading.status_text,
                None,
                "the alarms of the same text",
                hint="wait until the alarm has gone, or find out why it stands; then capture again",
                unit=unit,
            )


def _speaks_of(alarm: AnyReading, unit: str) -> bool:
    """Whether an alarm is about a unit: by its place, or because its text names it."""
    if alarm.unit is not None:
        return alarm.unit == unit
    name = re.sub(r"[\W_]+", "", (alarm.name or "").lower())
    return re.search(rf"{re.escape(re.sub(r'[^a-z0-9]', '', unit))}(?!\d)", name) is not None


_DELIVERED = ("output_voltage", "output_current", "output_power", "speed")


def by_table(case: Case) -> Iterator[Draft]:
    """No table of a text shows what another one says is not there.

    A slot that one table calls empty has no part in another that is ok, has a serial, gives current or turns. Where both
    captures are alike in this it is how the device prints; where only one is, one of its tables is of another time or
    device. The slot of the new part is asked in the baseline only, and always there: which part came out could not be
    told otherwise, and if it is empty now that is a fault and told as one.
    """
    shown = {view.side: dict(_shown_though_absent(view)) for view in (case.before, case.after)}
    for view, other in ((case.before, case.after), (case.after, case.before)):
        for unit, (absent, there) in shown[view.side].items():
            if view is case.after if unit == case.unit else unit in shown[other.side]:
                continue
            yield Draft(
                unit,
                UNDETERMINED,
                f"{view.snapshot.source} says in its {absent.table} table that {unit} is absent, and shows it in its "
                f"{there.table} table",
                (view.at(absent, "status"), view.at(there)),
                absent.reading.status_text,
                None,
                "the other tables of the same text",
                hint="capture again, all tables at one time and on one device",
                unit=unit,
            )


def _shown_though_absent(view: View) -> Iterator[tuple[str, tuple[Sighting, Sighting]]]:
    for unit in view.units:
        if view.condition(unit) is not Condition.ABSENT:
            continue
        rows = [s for s in view.by_unit[unit] if s.reading.kind in ("power_supply", "fan", "inventory")]
        absent = next(s for s in rows if s.reading.condition is Condition.ABSENT)
        there = next((s for s in rows if s.table != absent.table and _is_there(s.reading)), None)
        if there is not None:
            yield unit, (absent, there)


def _is_there(reading: AnyReading) -> bool:
    if reading.condition is Condition.ABSENT:
        return False
    serial = reading.given("serial")
    delivers = any((q := reading.given(name)) is not None and q.value for name in _DELIVERED)
    return reading.condition is Condition.OK or delivers or bool(serial and is_serial(serial))


_MEASURED = ("input_voltage", "input_current", "input_power", "output_voltage", "output_current", "output_power")
STEPS = 2.0
"""Last digits of a figure that its peers must show before a nought beside them is no rounding. Common practice."""


def by_figures(case: Case) -> Iterator[Draft]:
    """No supply says ok and shows nought of what the others beside it show, or of what its own output asks for.

    Nought volts, amps or watts out while others carry load, nought at the input while something comes out. A supply
    that stands by need not give anything. Where all supplies show nought, or this one was well and showed it before,
    the device does not measure it.
    """
    for view, other in ((case.before, case.after), (case.after, case.before)):
        well = [u for u in view.supplies if view.condition(u) is Condition.OK]
        for unit in well:
            if view is case.before and ill_before(case, unit):
                continue
            noughts = [
                (name, *found)
                for name in _MEASURED
                if (found := view.quantity(unit, name)) is not None
                and not found[0].value
                and not _nought_there_too(other, unit, name)
                and (_gives(view, unit) or _others_show(view, unit, well, name))
            ]
            if not noughts:
                continue
            name, value, sighting = noughts[0]
            told = listed(f"{q} of {name.replace('_', ' ')}" for name, q, _ in noughts)
            said = next((s for s in view.supplies[unit] if s.reading.condition is Condition.OK), sighting)
            yield Draft(
                unit,
                UNDETERMINED,
                f"{unit} says `{said.reading.status_text or 'ok'}`{_before(view)} and shows {told}",
                (view.at(sighting, sighting.field_of(name)), view.at(said, "status")),
                value,
                None,
                "its own figures",
                hint="look at the lamps of the unit, then capture again",
                unit=unit,
            )


def _before(view: View) -> str:
    return " before the swap" if view.side == "before" else ""


def _nought_there_too(view: View, unit: str, name: str) -> bool:
    """Whether the unit was well in the other capture and showed nought there: then that is how it prints."""
    found = view.quantity(unit, name)
    return found is not None and not found[0].value and view.condition(unit) is Condition.OK


def _others_show(view: View, unit: str, well: list[str], name: str) -> bool:
    """Whether the other supplies that are well show more of it than rounding takes away."""
    others = [_steps(*q, name) for u in well if u != unit and (q := view.quantity(u, name)) is not None]
    return bool(others) and median(others) > STEPS


def _steps(quantity: Quantity, sighting: Sighting, name: str) -> float:
    """How many of its last digits a figure shows, in whatever unit it is printed; or how many whole units, if more."""
    figure = as_printed(sighting.row.printed(sighting.field_of(name)) or "")
    _, whole, decimals = figure or ("", "0", "")
    return max(abs(quantity.value), float(whole + decimals))


LEAST_WATTS = 5.0
"""Watts that come out of a supply and are no rounding of nought. Common practice, no source."""


def _gives(view: View, unit: str) -> bool:
    """Whether something comes out of a supply, by its watts or by its volts and amps."""
    watts = view.quantity(unit, "output_power")
    volts, amps = view.quantity(unit, "output_voltage"), view.quantity(unit, "output_current")
    product = abs(volts[0].value * amps[0].value) if volts and amps else 0.0
    return max(product, abs(watts[0].value) if watts else 0.0) > LEAST_WATTS


_POWERS = ("input_power", "output_power", "output_current", "input_current")


def by_sign(case: Case) -> Iterator[Draft]:
    """No supply gives or takes less than nought, where it did not before and the others do not.

    Some devices print the current of a DC feed below nought; they do so for all supplies, and every time. What is
    little below nought is an offset of a sensor, unless the other capture shows about as much above it.
    """
    for view, other in ((case.before, case.after), (case.after, case.before)):
        for unit in view.supplies:
            for name in _POWERS:
                found = view.quantity(unit, name)
                if found is None or found[0].value >= 0 or _below_nought(other, unit, name):
                    continue
                if found[0].value >= -SIGN_FROM and not _turned_round(found[0], other, unit, name):
                    continue
                if any(_below_nought(view, u, name) for u in view.supplies if u != unit):
                    continue
                value, sighting = found
                yield Draft(
                    unit,
                    UNDETERMINED,
                    f"{unit} shows {value} of {name.replace('_', ' ')}{_before(view)}, which no supply does",
                    (view.at(sighting, sighting.field_of(name)),),
                    value,
                    None,
                    "its own figures",
                    hint="capture again",
                    unit=unit,
                )


SIGN_FROM = 1.0
"""Watts or amps below nought from which it is no offset of a sensor that measures nothing. Common practice, no source."""


TURNED_FROM = 0.2
"""Watts or amps from which a figure that was about as much above nought turned round. Common practice, no source."""


def _turned_round(now: Quantity, other: View, unit: str, name: str) -> bool:
    found = other.quantity(unit, name)
    return now.value <= -TURNED_FROM and found is not None and found[0].value >= -now.value / 2


def _below_nought(view: View, unit: str, name: str) -> bool:
    found = view.quantity(unit, name)
    return found is not None and found[0].value < -SIGN_FROM


def by_limit(case: Case) -> Iterator[Draft]:
    """No word turns good while the figure beside it stays beyond the device's own limit.

    A fan or a sensor that was told ill and whose word is good now, or was good before, is held against its own limits in
    that capture. Where both captures print a good word beside such a figure, that is how the device prints. So is a fan
    held that is called slow in both, and turns well above its least in one.
    """
    for was, now in pairs(case):
        if was.reading.kind not in ("fan", "temperature") or was.reading.unit == case.unit:
            continue
        for view, told, other in ((case.after, now, was), (case.before, was, now)):
            word, ill = told.reading.condition, other.reading.condition
            if word is None or ill in (None, *_GOOD):
                continue
            if word is Condition.OK:
                found, shows, against = _beyond(told.reading), "shows", "beyond its limit of"
            elif word is ill:
                found, shows, against = _recovered(told.reading, other.reading), "turns at", "well above its least of"
            else:
                continue
            if found is not None:
                value, limit = found
                says = f"says `{told.reading.status_text or word.value}`{_before(view)}"
                shown = "speed" if told.reading.kind == "fan" else "value"
                yield _against_itself(
                    view, told, f"{says} and {shows} {value}, {against} {limit}", ("status", shown), value, limit
                )


def _against_itself(
    view: View, row: Sighting, message: str, fields: tuple[str, str], measured: Quantity, limit: Quantity
) -> Draft:
    """A doubt about a row of which two fields do not go together."""
    return Draft(
        row.reading.subject,
        UNDETERMINED,
        f"{row.reading.subject} {message}",
        tuple(view.at(row, row.field_of(field)) for field in fields),
        measured,
        limit,
        "its own figures",
        hint="capture again",
        unit=row.reading.unit,
    )


WELL_ABOVE = 1.25
"""Times its least speed from which a slow fan is none any more. Common practice, no source."""


def _recovered(now: AnyReading, other: AnyReading) -> tuple[Quantity, Quantity] | None:
    """The speed of a fan that is well above its least in one capture and was below it in the other, and its least."""
    speed, least = now.given("speed"), now.given("low_critical") or now.given("low_warning")
    slow = other.given("speed")
    if speed is None or least is None or slow is None or not least.value > slow.value > 0:
        return None
    return (speed, least) if speed.value > least.value * WELL_ABOVE else None


def _beyond(reading: AnyReading) -> tuple[Quantity, Quantity] | None:
    """A value that is beyond one of the reading's own limits, and that limit."""
    for name in ("value", "speed"):
        value = reading.given(name)
        if value is None:
            continue
        for limit_name in ("low_critical", "low_warning", "high_warning", "high_critical"):
            limit = reading.given(limit_name)
            if limit is None or limit.unit != value.unit:
                continue
            if value.value < limit.value if limit_name.startswith("low") else value.value > limit.value:
                return value, limit
    return None


TURNS_FROM = 500.0
"""Turns a minute from which a fan is driven. Common practice, no source."""


def by_duty(case: Case) -> Iterator[Draft]:
    """No fan turns as before while it is said to be driven at nought.

    Where both captures print nought beside its turns, the device does not tell the drive.
    """
    for was, now in pairs(case):
        for view, stands, other in ((case.after, now, was), (case.before, was, now)):
            duty, before = (r.reading.given("speed_percent") for r in (stands, other))
            speed = stands.reading.given("speed")
            if duty is None or before is None or speed is None or duty.value or not before.value:
                continue
            if speed.value < TURNS_FROM or stands.reading.kind != "fan":
                continue
            message = f"turns at {speed}{_before(view)} and is driven at {duty}"
            yield _against_itself(view, stands, message, ("speed_percent", "speed"), duty, before)


def by_peer(case: Case) -> Iterator[Draft]:
    """Of supplies of one part, all well, none is without the sensors and fans that another one shows in the same table.

    A row that is gone from both captures leaves no trace but this one.
    """
    for view in (case.after, case.before):
        by_part: dict[str, list[str]] = {}
        for unit in view.supplies:
            part = view.fact(unit, "part_number")
            if part is not None and view.condition(unit) is Condition.OK:
                by_part.setdefault(part[0], []).append(unit)
        shown: dict[tuple[str, str], set[str]] = {}
        for sighting in view.snapshot.sightings:
            reading = sighting.reading
            if reading.kind in ("temperature", "fan") and reading.unit in view.supplies:
                shown.setdefault((sighting.table, reading.kind), set()).add(reading.unit or "")
        for (table, kind), units in shown.items():
            for part_number, peers in by_part.items():
                telling = [u for u in peers if u in units]
                for unit in (u for u in peers if u not in units) if telling else ():
                    yield Draft(
                        unit,
                        UNDETERMINED,
                        f"{unit} shows no {kind} in the {table} table{_before(view)}, and {listed(telling)} of the same part "
                        f"{part_number} does",
                        tuple(view.at(s) for s in view.supplies[unit][:1]),
                        None,
                        None,
                        "the other supplies of the same part",
                        hint="a row may have been lost: capture again, and find out why it is missing if it stays so",
                        unit=unit,
                    )


RULES = (
    Rule("text.no-alarm-against", "No alarm against a good word", (), change=by_alarm),
    Rule("text.no-table-against", "No table against another", (), change=by_table),
    Rule("power.no-figure-against", "No figure against a good word", (), change=by_figures),
    Rule("power.sign", "No supply below nought", (), change=by_sign),
    Rule("text.no-limit-against", "No limit against a good word", (), change=by_limit),
    Rule("cooling.drive", "No fan turns undriven", (), change=by_duty),
    Rule("power.peers-tell-alike", "Supplies of one part show the same sensors", (), change=by_peer),
)
