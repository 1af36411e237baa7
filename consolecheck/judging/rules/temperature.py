"""Sensors: within limits, none gone, and no hotter than the inlet explains."""

from collections.abc import Iterator
from statistics import fmean

from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, counted, limits_of
from consolecheck.judging.view import Case, Draft, Key, View
from consolecheck.records.readings import Condition, Sighting, Temperature
from consolecheck.records.units import Quantity


def limits(view: View, case: Case) -> Iterator[Draft]:
    """Each sensor lies within the device's warning and critical limits, upper and lower; equality trips.

    The part that was just fitted may have come in cold: at its lower limits the answer is open.
    """
    for draft in limits_of(view, "temperature", case.acceptance.temperature.least_margin, each=True):
        if draft.at_low_end and draft.unit == case.unit and view.side == "after":
            yield draft._replace(outcome=UNDETERMINED, hint="let the new part warm up, then capture again")
        else:
            yield draft


def status(view: View, case: Case) -> Iterator[Draft]:
    """Each sensor's own status is ok. A sensor of an absent unit is excused; without a status its limits speak."""
    sensors = [s for key, s in view.keyed.items() if key[0] == "temperature"]
    if not sensors:
        yield Draft(
            "temperatures",
            UNDETERMINED,
            "no temperature stands in the text",
            hint=view.capture("temperature"),
        )
    well = []
    for sighting in sensors:
        reading = sighting.reading
        assert isinstance(reading, Temperature)
        condition = reading.condition
        if condition is Condition.OK and reading.value is not None:
            well.append(sighting)
            continue
        if reading.unit and view.condition(reading.unit) is Condition.ABSENT:
            continue
        evidence = (view.at(sighting, "status"),)
        said = reading.status_text or (condition.value if condition else None)
        if condition is Condition.OK:
            yield Draft(
                reading.subject, UNDETERMINED, f"{reading.subject} shows no value", evidence, said, unit=reading.unit
            )
        elif condition is None:
            if reading.value is None or (reading.high_warning or reading.high_critical) is None:
                yield Draft(
                    reading.subject,
                    UNDETERMINED,
                    f"{reading.subject} has neither a status nor a limit",
                    evidence,
                    reading.value,
                    unit=reading.unit,
                )
        elif condition in (Condition.WARNING, Condition.FAILED):
            yield Draft(
                reading.subject, UNMET, f"{reading.subject} reports `{said}`", evidence, said, unit=reading.unit
            )
        else:
            word = f" (`{said}`)" if reading.status_text else ""
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"{reading.subject} gives no reading{word}",
                evidence,
                said,
                unit=reading.unit,
            )
    if well:
        verb = "reports" if len(well) == 1 else "report"
        yield Draft(
            "temperatures", MET, f"{counted(len(well), 'sensor')} {verb} ok", (view.at(well[0], "status"),), "ok"
        )


def none_vanished(case: Case) -> Iterator[Draft]:
    """No sensor of the baseline vanished: one that is silent now may be the one that would complain."""
    was = [(k, s) for k, s in case.before.keyed.items() if k[0] == "temperature"]
    if not was:
        yield Draft(
            "temperatures",
            UNDETERMINED,
            "the baseline shows no temperature",
            (case.before.whole,),
            hint=case.before.capture("temperature"),
        )
        return
    gone = 0
    for key, earlier in was:
        now = case.after.keyed.get(key)
        reading = earlier.reading
        assert isinstance(reading, Temperature)
        silent = (
            now is not None
            and isinstance(now.reading, Temperature)
            and now.reading.value is None
            and reading.value is not None
        )
        if now is None or silent:
            gone += 1
            yield Draft(
                reading.subject,
                UNMET,
                f"{reading.subject} {'gives no reading any more' if silent else 'vanished'}",
                ((case.after.at(now),) if now else ()) + (case.before.at(earlier),),
                unit=reading.unit,
                hint="reseat the unit that the sensor sits in, then capture again",
                by_absence="temperature" if now is None else None,
            )
    if not gone:
        yield Draft(
            "temperatures",
            MET,
            f"all {len(was)} sensors of the baseline are there",
            (case.after.at(case.after.of("temperature")[0]),),
            str(len(was)),
            str(len(was)),
            "the baseline",
        )


def is_named(name: str | None, names: list[str]) -> bool:
    """Whether a sensor has one of the words in its name."""
    name = (name or "").lower()
    return any(n in name for n in names)


def named(view: View, names: list[str]) -> list[tuple[Sighting, Quantity]]:
    """The sensors that give a value and have one of the words in their name."""
    return [
        (sighting, reading.value)
        for sighting in view.sensors.values()
        if isinstance(reading := sighting.reading, Temperature)
        and reading.value is not None
        and is_named(reading.name, names)
    ]


def inlet(view: View, case: Case) -> list[tuple[Sighting, Quantity]]:
    """The sensors that read the inlet air, by the names that the acceptance gives."""
    return named(view, case.acceptance.temperature.inlet_names)


def _inlet_change(case: Case) -> float:
    """Kelvin by which the inlet air warmed since the baseline; 0.0 where either side has no inlet sensor."""
    before, after = inlet(case.before, case), inlet(case.after, case)
    return fmean(q.value for _, q in after) - fmean(q.value for _, q in before) if before and after else 0.0


def rise(case: Case) -> Iterator[Draft]:
    """No sensor rose more over the baseline than the limit, after taking out the inlet's own change.

    Limit 10 K, common practice. Without an inlet sensor nothing is taken out. The sensors inside the
    replaced unit count only if the part that came out was well.
    """
    own, inlets = _inlet_change(case), {id(s) for s, _ in inlet(case.after, case)}
    limit = Quantity(value=case.acceptance.temperature.rise_limit, unit="Cel")
    beside = f" beside the inlet's {own:+.1f} K" if own else ""
    compared = 0
    hottest: tuple[float, Sighting, Sighting] | None = None
    for key, sighting in case.after.keyed.items():
        if key[0] != "temperature" or (earlier := case.before.keyed.get(key)) is None or id(sighting) in inlets:
            continue
        now, was = sighting.reading, earlier.reading
        if now.unit == case.unit and case.before.condition(case.unit) is not Condition.OK:
            continue  # the part that came out was ill, and perhaps cold: it is no measure for the new one
        if (
            not isinstance(now, Temperature)
            or not isinstance(was, Temperature)
            or now.value is None
            or was.value is None
        ):
            continue
        rose = round(now.value.value - was.value.value - own, 3)
        compared += 1
        if rose <= limit.value:
            if hottest is None or rose > hottest[0]:
                hottest = rose, sighting, earlier
            continue
        yield Draft(
            now.subject,
            UNMET,
            f"{now.subject} rose by {rose:g} K over the baseline{beside}",
            (case.after.at(sighting, "value"), case.before.at(earlier, "value")),
            Quantity(value=rose, unit="Cel"),
            limit,
            "common practice",
            Quantity(value=round(limit.value - rose, 3), unit="Cel"),
            unit=now.unit,
        )
    if hottest is not None:
        rose, sighting, earlier = hottest
        yield Draft(
            sighting.reading.subject,
            MET,
            f"of {compared} sensors {sighting.reading.subject} changed most, by {rose:+g} K over the baseline{beside}",
            (case.after.at(sighting, "value"), case.before.at(earlier, "value")),
            Quantity(value=rose, unit="Cel"),
            limit,
            "common practice",
            Quantity(value=round(limit.value - rose, 3), unit="Cel"),
        )


COLDER_THAN_INLET = 5.0
"""Kelvin that a sensor may read below the inlet air: tolerance of two sensors, common practice."""


def colder_than_inlet(view: View, case: Case) -> dict[Key, tuple[Sighting, Quantity, float]]:
    """Sensors that read colder than the coldest inlet and the tolerance allow: sighting, value, that inlet's in Celsius.

    Empty where no inlet is shown.
    """
    inlets = inlet(view, case)
    if not inlets:
        return {}
    coldest = min(value.value for _, value in inlets)
    return {
        key: (sighting, sighting.reading.value, coldest)
        for key, sighting in view.keyed.items()
        if isinstance(sighting.reading, Temperature)
        and sighting.reading.value is not None
        and sighting.reading.value.value < coldest - COLDER_THAN_INLET
    }


def no_colder_than_inlet(case: Case) -> Iterator[Draft]:
    """Nothing in the chassis reads colder than the air that enters it: else a digit was lost in reading.

    Air cools to its own temperature at best. The replaced unit may have come in cold, and must warm up first. Left out
    are sensors that were colder in the baseline too: then the inlet's sensor sits in a warm place.
    """
    before = colder_than_inlet(case.before, case)
    for key, (sighting, value, coldest) in colder_than_inlet(case.after, case).items():
        reading = sighting.reading
        if key not in before:
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"{reading.subject} reads {value}, colder than the inlet's {coldest:g} °C, which cannot be",
                (case.after.at(sighting, "value"),),
                value,
                Quantity(value=coldest, unit="Cel"),
                "heat flows from warm to cold",
                hint="let the new part warm up, then capture again" if reading.unit == case.unit else "capture again",
                unit=reading.unit,
            )


FALL_LIMIT = 20.0
"""Kelvin that a sensor may fall over a swap beyond the inlet's change. Common practice."""
FALL_LIMIT_WHEN_ILL = 40.0
"""The same where a fan was ill in the baseline, and within the new part. Common practice, no source."""


def fell(case: Case) -> Iterator[Draft]:
    """No sensor fell by more than 20 K over a swap, or 40 K where a fan was ill: a lost digit looks like that.

    With a fan that turns again temperatures may well fall. So may those within the new part, which comes in cold: by
    40 K at most, unless the old part was not well. Common practice, no source.
    """
    ill = any(case.before.condition(u) not in (Condition.OK, None) for u in case.before.fans)
    limit = FALL_LIMIT_WHEN_ILL if ill else FALL_LIMIT
    own, inlets = _inlet_change(case), {id(s) for s, _ in inlet(case.after, case)}
    for key, sighting in case.after.keyed.items():
        if key[0] != "temperature" or (earlier := case.before.keyed.get(key)) is None:
            continue
        now, was = sighting.reading.given("value"), earlier.reading.given("value")
        replaced = sighting.reading.unit == case.unit
        if now is None or was is None or (replaced and case.before.condition(case.unit) not in (None, Condition.OK)):
            continue
        change = round(now.value - was.value - (own if id(sighting) not in inlets else 0.0), 3)
        if change < -(FALL_LIMIT_WHEN_ILL if replaced else limit):
            yield Draft(
                sighting.reading.subject,
                UNDETERMINED,
                f"{sighting.reading.subject} fell from {was} to {now}, which a swap does not do",
                (case.after.at(sighting, "value"), case.before.at(earlier, "value")),
                now,
                was,
                "common practice",
                hint="capture again",
                unit=sighting.reading.unit,
            )


class _AirClass:
    """Allowable inlet dry bulb of a class, with its derating by altitude. ASHRAE TC 9.9, 5th ed. (2021)."""

    def __init__(self, low: float, high: float, metres_per_kelvin: float) -> None:
        self.low, self.high, self.metres_per_kelvin = low, high, metres_per_kelvin

    def highest(self, altitude: float) -> float | None:
        """Degrees Celsius at an altitude in metres; None above 3050 m, outside every class."""
        if altitude > 3050:
            return None
        return self.high - max(0.0, altitude - 900) / self.metres_per_kelvin


AIR_CLASSES = {
    "A1": _AirClass(15, 32, 300),
    "A2": _AirClass(10, 35, 300),
    "A3": _AirClass(5, 40, 175),
    "A4": _AirClass(5, 45, 125),
    "H1": _AirClass(5, 25, 500),  # temperatures checked; its derating is from memory
}
RECOMMENDED = {"A1": (18, 27), "A2": (18, 27), "A3": (18, 27), "A4": (18, 27), "H1": (18, 22)}


def inlet_class(view: View, case: Case) -> Iterator[Draft]:
    """The inlet air lies in the equipment's class: ASHRAE TC 9.9, Thermal Guidelines, 5th ed. (2021).

    Allowable range, upper end lowered with altitude above 900 m; above 3050 m outside every class.
    """
    limits = case.acceptance.temperature
    chosen = AIR_CLASSES[limits.inlet_class]
    highest = chosen.highest(limits.altitude)
    for sighting, value in inlet(view, case):
        subject, evidence = sighting.reading.subject, (view.at(sighting, "value"),)
        source = f"ASHRAE TC 9.9 class {limits.inlet_class} at {limits.altitude:g} m"
        if highest is None:
            yield Draft(
                subject,
                UNDETERMINED,
                f"{limits.altitude:g} m lies outside every air class",
                evidence,
                value,
                source=source,
            )
            continue
        bound = highest if highest - value.value < value.value - chosen.low else chosen.low
        margin = round(min(highest - value.value, value.value - chosen.low), 6)
        fits = margin >= 0
        low, high = RECOMMENDED[limits.inlet_class]
        note = "" if low <= value.value <= high else ", beyond the recommended range" if fits else ""
        yield Draft(
            subject,
            MET if fits else UNMET,
            f"{subject} is {value}, {'inside' if fits else 'outside'} {chosen.low:g} to {highest:.4g} °C{note}",
            evidence,
            value,
            Quantity(value=round(bound, 2), unit="Cel"),
            source,
            Quantity(value=margin, unit="Cel"),
        )


RULES = (
    Rule("temperature.limits", "Sensors within the device's limits", ("temperature",), state=limits),
    Rule("temperature.status", "Sensors report ok", ("temperature",), state=status),
    Rule("temperature.vanished", "No sensor vanished", ("temperature",), change=none_vanished),
    Rule("temperature.rise", "No sensor rose beyond the inlet's change", ("temperature",), change=rise),
    Rule(
        "temperature.plausible",
        "No sensor colder than the inlet",
        ("temperature",),
        change=no_colder_than_inlet,
    ),
    Rule("temperature.fell", "No sensor fell out of reason", ("temperature",), change=fell),
    Rule("temperature.inlet-class", "Inlet air in its class", ("temperature",), state=inlet_class, required=False),
)
