"""Heat after a swap: each limit at, just below and just above it, and every sentence whole."""

from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from support import case, q, snapshot
from wholly_told import same_text

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.rules import figures, settled, temperature
from consolecheck.judging.view import Case, Draft, Sample
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import AnyReading, Condition, Fan, PowerSupply, Sighting, Temperature

OK, WARNING, FAILED, ABSENT, UNTOLD = (
    Condition.OK, Condition.WARNING, Condition.FAILED, Condition.ABSENT, Condition.UNKNOWN,
)  # fmt: skip
MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED


def sensor(name: str, value: float | None = 40, **more: Any) -> Temperature:
    """A sensor; `high_warning=60` and the like are its limits."""
    more = {k: q(f"{v} C") if k.startswith(("low", "high")) else v for k, v in more.items()}
    return Temperature(name=name, value=None if value is None else q(f"{value} C"), **{"condition": OK, **more})


def swapped(
    before: Sequence[AnyReading | Sighting], after: Sequence[AnyReading | Sighting], unit: str = "psu-1", **limits: Any
) -> Case:
    return case(snapshot(*before), snapshot(*after), unit, Acceptance.model_validate({"temperature": limits}))


def now(*rows: AnyReading | Sighting, unit: str = "psu-1", **limits: Any) -> Case:
    return swapped(rows, rows, unit, **limits)


WELL = PowerSupply(unit="psu-1", condition=OK)
ILL = PowerSupply(unit="psu-1", condition=FAILED)


# ---- the device's limits


@pytest.mark.parametrize(("value", "outcome"), [(55, MET), (55.1, UNMET), (54.9, MET)])
def test_the_room_that_a_site_asks_for(value: float, outcome: Outcome) -> None:
    judged = now(sensor("asic", value, high_warning=60), least_margin=5)
    (only,) = temperature.limits(judged.after, judged)
    assert only.outcome is outcome


def test_what_is_said_of_limits() -> None:
    def told(*rows: AnyReading, unit: str = "psu-1", **more: Any) -> Iterable[Draft]:
        judged = now(*rows, unit=unit, **more)
        return temperature.limits(judged.after, judged)

    both: dict[str, Any] = {"low_warning": 5, "high_warning": 60}
    same_text(
        told(sensor("asic", 40, **both), sensor("cpu", 59.1234567, **both)),
        """
        met asic: asic reads 40 °C, 20 °C from its limit of 60 °C
          measured 40 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 20 Cel
          at after:1
        met cpu: cpu reads 59.1235 °C, 0.876543 °C from its limit of 60 °C
          measured 59.1234567 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 0.876543 Cel
          at after:2
        """,
    )
    same_text(
        told(sensor("asic", 58, **both), least_margin=5),
        """
        unmet asic: asic reads 58 °C, 2 °C from its limit of 60 °C; 5 is asked for
          measured 58 Cel; limit 60 Cel; source acceptance; margin 2 Cel
          at after:1
        """,
    )
    same_text(
        told(sensor("asic", 5, unit="psu-1", **both)),
        """
        undetermined psu-1 asic: psu-1 asic reads 5 °C, at or below its low warning limit of 5 °C
          measured 5 Cel; limit 5 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 0 Cel
          do: let the new part warm up, then capture again
          at after:1; of psu-1; at the low end
        """,
    )
    same_text(
        told(sensor("asic", 60, unit="psu-1", **both)),
        """
        unmet psu-1 asic: psu-1 asic reads 60 °C, at or above its warning limit of 60 °C
          measured 60 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 0 Cel
          at after:1; of psu-1
        """,
    )
    same_text(
        told(sensor("asic", 5, unit="psu-2", **both)),
        """
        unmet psu-2 asic: psu-2 asic reads 5 °C, at or below its low warning limit of 5 °C
          measured 5 Cel; limit 5 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 0 Cel
          at after:1; of psu-2; at the low end
        """,
    )
    judged = now(sensor("asic", 5, unit="psu-1", **both))
    same_text(
        temperature.limits(judged.before, judged),
        """
        unmet psu-1 asic: psu-1 asic reads 5 °C, at or below its low warning limit of 5 °C
          measured 5 Cel; limit 5 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 0 Cel
          at before:1; of psu-1; at the low end
        """,
    )


# ---- its own status


def test_what_is_said_of_a_sensors_status() -> None:
    def told(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return temperature.status(judged.after, judged)

    same_text(
        told(sensor("asic")),
        """
        met temperatures: 1 sensor reports ok
          measured ok
          at after:1
        """,
    )
    same_text(
        told(sensor("asic"), sensor("cpu")),
        """
        met temperatures: 2 sensors report ok
          measured ok
          at after:1
        """,
    )
    same_text(
        told(WELL),
        """
        undetermined temperatures: no temperature stands in the text
          do: no command that is read of this device family shows it: look at the device
          at no line
        """,
    )
    same_text(
        told(sensor("asic", None, status_text="Good"), sensor("cpu")),
        """
        undetermined asic: asic shows no value
          measured Good
          at after:1
        met temperatures: 1 sensor reports ok
          measured ok
          at after:2
        """,
    )
    same_text(
        told(sensor("asic", None, condition=None)),
        """
        undetermined asic: asic has neither a status nor a limit
          at after:1
        """,
    )
    same_text(
        told(sensor("asic", 40, condition=None)),
        """
        undetermined asic: asic has neither a status nor a limit
          measured 40 Cel
          at after:1
        """,
    )
    same_text(told(sensor("asic", 40, condition=None, high_warning=60)), "")
    same_text(told(sensor("asic", 40, condition=None, high_critical=60)), "")
    same_text(
        told(sensor("asic", None, condition=None, high_critical=60)),
        """
        undetermined asic: asic has neither a status nor a limit
          at after:1
        """,
    )
    same_text(
        told(sensor("asic", 70, condition=WARNING, status_text="warm"), sensor("cpu", condition=FAILED)),
        """
        unmet asic: asic reports `warm`
          measured warm
          at after:1
        unmet cpu: cpu reports `failed`
          measured failed
          at after:2
        """,
    )
    same_text(
        told(sensor("asic", None, condition=UNTOLD, status_text="n/c"), sensor("cpu", None, condition=ABSENT)),
        """
        undetermined asic: asic gives no reading (`n/c`)
          measured n/c
          at after:1
        undetermined cpu: cpu gives no reading
          measured absent
          at after:2
        """,
    )
    gone = PowerSupply(unit="psu-2", condition=ABSENT)
    same_text(
        told(gone, sensor("t1", 70, unit="psu-2", condition=FAILED), sensor("asic")),
        """
        met temperatures: 1 sensor reports ok
          measured ok
          at after:3
        """,
    )


# ---- what vanished


def test_what_is_said_of_sensors_that_vanished() -> None:
    told = temperature.none_vanished
    one, two = sensor("asic"), sensor("cpu")
    same_text(
        told(swapped([one, two], [one, two])),
        """
        met temperatures: all 2 sensors of the baseline are there
          measured 2; limit 2; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([one, two], [two])),
        """
        unmet asic: asic vanished
          do: reseat the unit that the sensor sits in, then capture again
          at before:1; by absence of temperature
        """,
    )
    same_text(
        told(swapped([one, two], [sensor("asic", None), two])),
        """
        unmet asic: asic gives no reading any more
          do: reseat the unit that the sensor sits in, then capture again
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([sensor("asic", None), two], [sensor("asic", None), two])),
        """
        met temperatures: all 2 sensors of the baseline are there
          measured 2; limit 2; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([WELL], [one])),
        """
        undetermined temperatures: the baseline shows no temperature
          do: no command that is read of this device family shows it: look at the device
          at before:1
        """,
    )


# ---- what rose


@pytest.mark.parametrize(("value", "outcome"), [(50, MET), (50.001, UNMET), (49.999, MET), (50.0004, MET)])
def test_ten_kelvin_over_the_baseline(value: float, outcome: Outcome) -> None:
    (only,) = temperature.rise(swapped([sensor("asic", 40)], [sensor("asic", value)]))
    assert only.outcome is outcome


def test_what_is_said_of_a_rise() -> None:
    told = temperature.rise
    room = sensor("inlet", 20), sensor("intake rear", 22)
    warmer = sensor("inlet", 24), sensor("intake rear", 25)
    same_text(
        told(swapped([*room, sensor("asic", 40)], [*warmer, sensor("asic", 53.5)])),
        """
        met asic: of 1 sensors asic changed most, by +10 K over the baseline beside the inlet's +3.5 K
          measured 10 Cel; limit 10 Cel; source common practice; margin 0 Cel
          at after:3 before:3
        """,
    )
    same_text(
        told(swapped([*room, sensor("asic", 40)], [*warmer, sensor("asic", 53.5012)])),
        """
        unmet asic: asic rose by 10.001 K over the baseline beside the inlet's +3.5 K
          measured 10.001 Cel; limit 10 Cel; source common practice; margin -0.001 Cel
          at after:3 before:3
        """,
    )
    same_text(
        told(swapped([room[0], sensor("asic", 40)], [sensor("asic", 51)])),
        """
        unmet asic: asic rose by 11 K over the baseline
          measured 11 Cel; limit 10 Cel; source common practice; margin -1 Cel
          at after:1 before:2
        """,
    )
    same_text(
        told(swapped([sensor("asic", 40)], [sensor("asic", 41.2345)])),
        """
        met asic: of 1 sensors asic changed most, by +1.234 K over the baseline
          measured 1.234 Cel; limit 10 Cel; source common practice; margin 8.766 Cel
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([sensor("asic", 40), sensor("cpu", 40)], [sensor("asic", 41), sensor("cpu", 42)])),
        """
        met cpu: of 2 sensors cpu changed most, by +2 K over the baseline
          measured 2 Cel; limit 10 Cel; source common practice; margin 8 Cel
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([sensor("asic", 40), sensor("cpu", 40)], [sensor("asic", 42), sensor("cpu", 41)])),
        """
        met asic: of 2 sensors asic changed most, by +2 K over the baseline
          measured 2 Cel; limit 10 Cel; source common practice; margin 8 Cel
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([sensor("asic", 40), sensor("cpu", 40)], [sensor("asic", 60), sensor("cpu", 41)])),
        """
        unmet asic: asic rose by 20 K over the baseline
          measured 20 Cel; limit 10 Cel; source common practice; margin -10 Cel
          at after:1 before:1
        met cpu: of 2 sensors cpu changed most, by +1 K over the baseline
          measured 1 Cel; limit 10 Cel; source common practice; margin 9 Cel
          at after:2 before:2
        """,
    )
    same_text(told(swapped([sensor("asic", None), sensor("cpu", 40)], [sensor("asic", 60), sensor("cpu", None)])), "")
    same_text(
        told(swapped([sensor("asic", None), sensor("cpu", 40)], [sensor("asic", 60), sensor("cpu", 41)])),
        """
        met cpu: of 1 sensors cpu changed most, by +1 K over the baseline
          measured 1 Cel; limit 10 Cel; source common practice; margin 9 Cel
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([room[0], sensor("asic", 40)], [sensor("inlet", 60), sensor("asic", 41)])),
        """
        met asic: of 1 sensors asic changed most, by -39 K over the baseline beside the inlet's +40.0 K
          measured -39 Cel; limit 10 Cel; source common practice; margin 49 Cel
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([sensor("x", 1), sensor("asic", 40)], [sensor("y", 60), sensor("asic", 41)])),
        """
        met asic: of 1 sensors asic changed most, by +1 K over the baseline
          measured 1 Cel; limit 10 Cel; source common practice; margin 9 Cel
          at after:2 before:2
        """,
    )
    own = [sensor("t1", 20, unit="psu-1")], [sensor("t1", 40, unit="psu-1")]
    same_text(
        told(swapped([WELL, *own[0]], [WELL, *own[1]])),
        """
        unmet psu-1 t1: psu-1 t1 rose by 20 K over the baseline
          measured 20 Cel; limit 10 Cel; source common practice; margin -10 Cel
          at after:2 before:2; of psu-1
        """,
    )
    same_text(told(swapped([ILL, *own[0]], [WELL, *own[1]])), "")
    same_text(
        told(swapped([ILL, *own[0], sensor("asic")], [WELL, *own[1], sensor("asic")])),
        """
        met asic: of 1 sensors asic changed most, by +0 K over the baseline
          measured 0 Cel; limit 10 Cel; source common practice; margin 10 Cel
          at after:3 before:3
        """,
    )


# ---- colder than the air


@pytest.mark.parametrize(("value", "fits"), [(15, True), (14.99, False)])
def test_five_kelvin_below_the_inlet(value: float, fits: bool) -> None:
    told = temperature.no_colder_than_inlet(swapped([], [sensor("inlet", 20), sensor("asic", value)]))
    assert (list(told) == []) is fits


def test_what_is_said_of_a_sensor_that_is_colder_than_the_air() -> None:
    told = temperature.no_colder_than_inlet
    air, warm = sensor("inlet", 20), sensor("inlet rear", 22)
    same_text(
        told(swapped([], [warm, air, sensor("asic", 3), sensor("t1", 4, unit="psu-1")])),
        """
        undetermined asic: asic reads 3 °C, colder than the inlet's 20 °C, which cannot be
          measured 3 Cel; limit 20 Cel; source heat flows from warm to cold
          do: capture again
          at after:3
        undetermined psu-1 t1: psu-1 t1 reads 4 °C, colder than the inlet's 20 °C, which cannot be
          measured 4 Cel; limit 20 Cel; source heat flows from warm to cold
          do: let the new part warm up, then capture again
          at after:4; of psu-1
        """,
    )
    same_text(told(swapped([air, sensor("asic", 3)], [air, sensor("asic", 3)])), "")
    same_text(told(swapped([], [sensor("asic", 3)])), "")
    same_text(told(swapped([], [air, sensor("asic", None)])), "")


@pytest.mark.parametrize(
    ("fans", "value", "fits"),
    [(OK, 40, True), (OK, 39.99, False), (FAILED, 20, True), (FAILED, 19.99, False), (None, 39.99, False)],
)
def test_so_far_a_sensor_may_fall(fans: Condition | None, value: float, fits: bool) -> None:
    """Twenty kelvin, or forty where a fan was ill before."""
    judged = swapped([sensor("asic", 60), Fan(unit="fan-1", condition=fans)], [sensor("asic", value)])
    assert (list(temperature.fell(judged)) == []) is fits


def test_what_is_said_of_a_sensor_that_fell() -> None:
    told = temperature.fell
    same_text(
        told(swapped([sensor("asic", 60)], [sensor("asic", 6)])),
        """
        undetermined asic: asic fell from 60 °C to 6 °C, which a swap does not do
          measured 6 Cel; limit 60 Cel; source common practice
          do: capture again
          at after:1 before:1
        """,
    )
    same_text(told(swapped([sensor("inlet", 40), sensor("asic", 60)], [sensor("inlet", 20), sensor("asic", 39)])), "")
    same_text(
        told(swapped([sensor("inlet", 20), sensor("asic", 60)], [sensor("inlet", 30), sensor("asic", 49)])),
        """
        undetermined asic: asic fell from 60 °C to 49 °C, which a swap does not do
          measured 49 Cel; limit 60 Cel; source common practice
          do: capture again
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([sensor("inlet", 40), sensor("asic", 60)], [sensor("inlet", 2), sensor("asic", 60)])),
        """
        undetermined inlet: inlet fell from 40 °C to 2 °C, which a swap does not do
          measured 2 Cel; limit 40 Cel; source common practice
          do: capture again
          at after:1 before:1
        """,
    )
    same_text(
        told(
            swapped(
                [sensor("t1", 60, unit="psu-2"), sensor("x", None)], [sensor("x", 1), sensor("t1", 6, unit="psu-2")]
            )
        ),
        """
        undetermined psu-2 t1: psu-2 t1 fell from 60 °C to 6 °C, which a swap does not do
          measured 6 Cel; limit 60 Cel; source common practice
          do: capture again
          at after:2 before:1; of psu-2
        """,
    )


# ---- the class of the air


@pytest.mark.parametrize(
    ("name", "low", "high"), [("A1", 15, 32), ("A2", 10, 35), ("A3", 5, 40), ("A4", 5, 45), ("H1", 5, 25)]
)
def test_the_classes_of_air(name: str, low: float, high: float) -> None:
    """ASHRAE TC 9.9, Thermal Guidelines, 5th ed. (2021): allowable dry bulb at sea level."""
    for value, outcome in ((low, MET), (low - 0.1, UNMET), (high, MET), (high + 0.1, UNMET)):
        judged = now(sensor("inlet", value), inlet_class=name)
        (only,) = temperature.inlet_class(judged.after, judged)
        assert only.outcome is outcome, (name, value)


@pytest.mark.parametrize(
    ("name", "metres", "highest"),
    [
        # One kelvin for so many metres above 900: A1 and A2 300, A3 175, A4 125.
        ("A2", 0, 35), ("A2", 900, 35), ("A2", 901, 35 - 1 / 300), ("A2", 1200, 34), ("A2", -500, 35),
        ("A1", 1500, 30), ("A3", 1250, 38), ("A4", 1150, 43), ("H1", 1400, 24),
        ("A2", 3050, 35 - 2150 / 300), ("A2", 3051, None),
    ],
)  # fmt: skip
def test_thin_air_cools_less(name: str, metres: float, highest: float | None) -> None:
    found = temperature.AIR_CLASSES[name].highest(metres)
    assert found == (None if highest is None else pytest.approx(highest))


@pytest.mark.parametrize(
    ("name", "value", "noted"),
    [("A2", 18, False), ("A2", 17.9, True), ("A2", 27, False), ("A2", 27.1, True), ("H1", 22, False), ("H1", 22.1, True),
     ("A1", 27, False), ("A3", 18, False), ("A4", 27.1, True)],
)  # fmt: skip
def test_the_recommended_range_is_noted(name: str, value: float, noted: bool) -> None:
    """18 to 27 degrees, and to 22 for class H1."""
    judged = now(sensor("inlet", value), inlet_class=name)
    (only,) = temperature.inlet_class(judged.after, judged)
    assert ("beyond the recommended range" in only.message) is noted


def test_what_is_said_of_the_air() -> None:
    def told(value: float, **more: Any) -> Iterable[Draft]:
        judged = now(sensor("inlet", value), sensor("asic"), **more)
        return temperature.inlet_class(judged.after, judged)

    same_text(
        told(22.5),
        """
        met inlet: inlet is 22.5 °C, inside 10 to 35 °C
          measured 22.5 Cel; limit 10 Cel; source ASHRAE TC 9.9 class A2 at 0 m; margin 12.5 Cel
          at after:1
        """,
    )
    same_text(
        told(22.4),
        """
        met inlet: inlet is 22.4 °C, inside 10 to 35 °C
          measured 22.4 Cel; limit 10 Cel; source ASHRAE TC 9.9 class A2 at 0 m; margin 12.4 Cel
          at after:1
        """,
    )
    same_text(
        told(22.1234567, altitude=1000),
        """
        met inlet: inlet is 22.1235 °C, inside 10 to 34.67 °C
          measured 22.1234567 Cel; limit 10 Cel; source ASHRAE TC 9.9 class A2 at 1000 m; margin 12.123457 Cel
          at after:1
        """,
    )
    same_text(
        told(34.9, altitude=1000),
        """
        unmet inlet: inlet is 34.9 °C, outside 10 to 34.67 °C
          measured 34.9 Cel; limit 34.67 Cel; source ASHRAE TC 9.9 class A2 at 1000 m; margin -0.233333 Cel
          at after:1
        """,
    )
    same_text(
        told(9),
        """
        unmet inlet: inlet is 9 °C, outside 10 to 35 °C
          measured 9 Cel; limit 10 Cel; source ASHRAE TC 9.9 class A2 at 0 m; margin -1 Cel
          at after:1
        """,
    )
    same_text(
        told(22, altitude=4000),
        """
        undetermined inlet: 4000 m lies outside every air class
          measured 22 Cel; source ASHRAE TC 9.9 class A2 at 4000 m
          at after:1
        """,
    )


# ---- how fast the air changed


def changes(*points: tuple[float, float], after: Sequence[AnyReading] = ()) -> Iterable[Draft]:
    samples = tuple(Sample(t, snapshot(sensor("inlet", v))) for t, v in points)
    judged = swapped([], after or [sensor("inlet", points[-1][1])])
    return settled.inlet_rate(judged._replace(samples=samples))


@pytest.mark.parametrize(
    ("points", "fits"),
    [
        (((0, 20), (900, 25)), True),
        (((0, 20), (900, 25.01)), False),
        (((0, 20), (901, 25.01)), True),
        (((0, 25.01), (900, 20)), False),
        (((0, 20), (900, 25), (1800, 30), (2700, 35), (3600, 40)), True),
        (((0, 20), (900, 25), (1800, 30), (2700, 35), (3600, 40.01)), False),
        (((0, 20), (900, 25), (1800, 30), (2700, 35), (3601, 40)), True),
    ],
)
def test_five_kelvin_in_a_quarter_of_an_hour_and_twenty_in_one(
    points: tuple[tuple[float, float], ...], fits: bool
) -> None:
    """ASHRAE TC 9.9, Thermal Guidelines, 5th ed. (2021)."""
    assert (list(changes(*points)) == []) is fits


def test_what_is_said_of_air_that_changed_too_fast() -> None:
    same_text(
        changes((0, 20), (60, 46.12345)),
        """
        unmet inlet: inlet changed by 26.123 K within 15 minutes
          measured 26.123 Cel; limit 5 Cel; source ASHRAE TC 9.9, 5th ed. (2021); margin -21.123 Cel
          do: look at the room's cooling
          at after:1
        unmet inlet: inlet changed by 26.123 K within 60 minutes
          measured 26.123 Cel; limit 20 Cel; source ASHRAE TC 9.9, 5th ed. (2021); margin -6.123 Cel
          do: look at the room's cooling
          at after:1
        """,
    )
    same_text(
        changes((0, 20), (60, 26), after=[sensor("asic")]),
        """
        unmet inlet: inlet changed by 6 K within 15 minutes
          measured 6 Cel; limit 5 Cel; source ASHRAE TC 9.9, 5th ed. (2021); margin -1 Cel
          do: look at the room's cooling
          at after:1
        """,
    )


# ---- too cold by the baseline


@pytest.mark.parametrize(("value", "fits"), [(15, True), (14.9, False)])
def test_fifteen_kelvin_below_the_coldest_of_the_baseline(value: float, fits: bool) -> None:
    judged = swapped([sensor("asic", 30), sensor("cpu", 40)], [sensor("asic", value)])
    assert (list(figures.none_too_cold(judged)) == []) is fits


def test_what_is_said_of_a_sensor_that_is_too_cold() -> None:
    told = figures.none_too_cold
    was = [sensor("asic", 30), sensor("cpu", 40)]
    own = sensor("t1", 2, unit="psu-1")
    same_text(
        told(swapped(was, [sensor("cpu", None), sensor("asic", 3), own])),
        """
        undetermined asic: asic reads 3 °C, where the coldest sensor of the baseline read 30 °C
          measured 3 Cel; limit 30 Cel; source heat flows from warm to cold
          do: capture again
          at after:2
        undetermined psu-1 t1: psu-1 t1 reads 2 °C, where the coldest sensor of the baseline read 30 °C
          measured 2 Cel; limit 30 Cel; source heat flows from warm to cold
          do: let the new part warm up, then capture again
          at after:3; of psu-1
        """,
    )
    same_text(told(swapped(was[:1], [sensor("asic", 3)])), "")
    same_text(told(swapped([*was, own], [sensor("asic", 16)])), "")
    # What the part that came out read, and what gave nothing, is no measure.
    same_text(
        told(swapped([own, sensor("rim", None), *was], [sensor("asic", 3)])),
        """
        undetermined asic: asic reads 3 °C, where the coldest sensor of the baseline read 30 °C
          measured 3 Cel; limit 30 Cel; source heat flows from warm to cold
          do: capture again
          at after:1
        """,
    )


# ---- what follows the inlet


@pytest.mark.parametrize(
    ("inlet", "asic", "fits"),
    [
        (25, 40, True),  # it moved by five
        (25, 36, True),
        (25.1, 36, False),
        (25.1, 40, True),  # by more, and the others are within eight of it
        (28, 40, True),
        (28.1, 40, False),
        (30, 42, True),
        (30, 41.9, False),
        (12, 40, True),
        (11.9, 40, False),
    ],
)
def test_the_others_follow_an_inlet_that_moved(inlet: float, asic: float, fits: bool) -> None:
    judged = swapped([sensor("inlet", 20), sensor("asic", 40)], [sensor("inlet", inlet), sensor("asic", asic)])
    assert (list(figures.inlet_followed(judged)) == []) is fits


def test_what_is_said_of_an_inlet_that_moved_alone() -> None:
    told = figures.inlet_followed
    was = [sensor("inlet", 20), sensor("asic", 40), sensor("cpu", 50), sensor("t1", 20, unit="psu-1")]
    same_text(
        told(swapped(was, [sensor("inlet", 2), sensor("asic", 41), sensor("cpu", 52), sensor("t1", 2, unit="psu-1")])),
        """
        undetermined inlet: inlet changed by -18.0 K and the others by +1.5 K
          measured 2 Cel; limit 20 Cel; source common practice
          do: capture again
          at after:1 before:1
        """,
    )
    same_text(told(swapped(was, [sensor("inlet", 2)])), "")
    same_text(told(swapped(was, [sensor("asic", 41)])), "")
    same_text(told(swapped(was[1:], [sensor("inlet", 2), sensor("asic", 41)])), "")
    two = [sensor("inlet left", 20), sensor("inlet", 20)]
    same_text(
        told(swapped([two[1], was[1]], [sensor("inlet left", 20), sensor("inlet", 2), was[1]])),
        """
        undetermined inlet: inlet changed by -18.0 K and the others by +0.0 K
          measured 2 Cel; limit 20 Cel; source common practice
          do: capture again
          at after:2 before:1
        """,
    )


# ---- whether it has settled


def watched(
    *rows: AnyReading,
    count: int = 41,
    after: Sequence[AnyReading] | None = None,
    hosts: Sequence[str] = (),
    own: str = "",
    required: bool | None = None,
) -> Case:
    """Samples every 15 s that all show such rows; `hosts` are the first samples' prompts, `own` that of the capture."""
    samples = tuple(
        Sample(15.0 * n, snapshot(*rows)._replace(hosts={hosts[n]: 1} if n < len(hosts) else {})) for n in range(count)
    )
    text = snapshot(*(rows if after is None else after))._replace(hosts={own: 3} if own else {})
    limits = Acceptance.model_validate({} if required is None else {"settling": {"required": required}})
    return case(text, text, "psu-1", limits)._replace(samples=samples)


HEAT, TURNS = sensor("asic", 40, high_warning=60), Fan(unit="fan-1", condition=OK, speed=q("8000 rpm"))
RESTS = """
    met asic: asic will stand at 40 °C, 20.0 K below its limit of 60 °C (steady over 600 s)
      measured 40 Cel; limit 60 Cel; source first-order fit over the samples; margin 20 Cel
      at after:1
    """


def test_what_is_said_of_temperatures_that_settled_or_did_not() -> None:
    told = settled.settled
    same_text(told(watched(HEAT, TURNS)), RESTS)
    same_text(told(watched(HEAT, TURNS, required=False)), "")
    same_text(told(watched(HEAT, TURNS, count=0)), "")
    same_text(told(watched(HEAT, TURNS, count=0, required=False)), "")
    same_text(
        told(watched(HEAT, TURNS, count=0, required=True)),
        """
        undetermined temperatures: whether the temperatures have settled is not known: no samples were taken
          do: let `consolecheck verify` watch the switch after the swap
          at no line
        """,
    )
    fitted, other = PowerSupply(unit="psu-1", serial="TX7702"), PowerSupply(unit="psu-1", serial="SB1101")
    same_text(told(watched(HEAT, TURNS, fitted)), RESTS)
    same_text(
        told(watched(HEAT, TURNS, other, after=[HEAT, TURNS, fitted])),
        """
        undetermined psu-1: no sample shows psu-1 as it is fitted now
          do: watch the switch again with the part in its slot
          at after:3; of psu-1
        """,
    )
    same_text(
        told(watched(TURNS)),
        """
        undetermined temperatures: no sample shows a temperature that could settle
          at after:1
        """,
    )


def test_samples_of_another_device_count_for_nothing() -> None:
    """One or two prompts may have lost a character on the line; more than half are another device's."""
    told = settled.settled

    def seen(*hosts: str, own: str = "tern-04") -> Case:
        return watched(HEAT, TURNS, count=len(hosts), hosts=hosts, own=own)

    same_text(
        told(seen(*["gull-02"] * 21, *["dunlin-07"], *["tern-04"] * 20)),
        """
        undetermined samples: the samples come from dunlin-07 and gull-02, the capture after the swap from tern-04
          do: watch the switch that was captured
          at after:3
        """,
    )
    half = seen(*["gull-02"] * 21, *["tern-04"] * 21)
    same_text(told(half), RESTS.replace("600", "300"))
    # The samples of the other one are left out, whatever heat they show.
    hot = [Sample(s.seconds, snapshot(sensor("asic", 40 + n % 7), TURNS)._replace(hosts={"gull-02": 1})) if n < 21
           else s for n, s in enumerate(half.samples)]  # fmt: skip
    same_text(told(half._replace(samples=tuple(hot))), RESTS.replace("600", "300"))
    same_text(told(seen(*["gull-02"] * 41, own="")), RESTS)
    same_text(told(seen(*[""] * 41)._replace(samples=watched(HEAT, TURNS).samples)), RESTS)


def test_samples_that_show_one_text_again() -> None:
    """Four in a row that are alike in eight values or more."""
    told = settled.settled
    many = [sensor(f"t{n}", 40 + n, high_warning=90) for n in range(7)]

    def seen(*speeds: int) -> Case:
        rows = [[*many, Fan(unit="fan-1", condition=OK, speed=q(f"{rpm} rpm"))] for rpm in speeds]
        samples = tuple(Sample(15.0 * n, snapshot(*row)) for n, row in enumerate(rows))
        return watched(*rows[-1])._replace(samples=samples)

    said = "4 samples in a row show the same in every measured value: one of them was taken again and again"
    one_text = f"""
        undetermined samples: {said}
          measured 4; limit 3; source common practice
          do: watch the switch again
          at after:8
        """
    same_text(told(seen(8000, 8010, 8010, 8010, 8010, 8020, 8020)), one_text)
    same_text(told(seen(8000, 8000, 8000, 8000)), one_text)
    assert [d.subject for d in told(seen(8000, 8000, 8000, 8010, 8010, 8010))] == [t.name for t in many]
    assert [d.subject for d in told(seen(8000))] == [t.name for t in many]


def test_the_one_with_least_room_is_told() -> None:
    told = settled.settled
    rows = sensor("asic", 40, high_warning=60), sensor("cpu", 40.5, high_warning=50), sensor("rim", 41, high_warning=65)
    closest = """
        met cpu: cpu will stand at 40.5 °C, 9.5 K below its limit of 50 °C (steady over 600 s)BESIDE
          measured 40.5 Cel; limit 50 Cel; source first-order fit over the samples; margin 9.5 Cel
          at after:2
        """
    same_text(told(watched(*rows, TURNS)), closest.replace("BESIDE", "; 2 others with more room"))
    same_text(told(watched(*rows[:2], TURNS)), closest.replace("BESIDE", "; 1 other with more room"))
    unlimited = sensor("asic", 40)
    same_text(told(watched(unlimited, rows[1], TURNS)), closest.replace("BESIDE", "; 1 other with more room"))
    hot = sensor("rim", 41, high_warning=40)
    same_text(
        told(watched(*rows[:2], hot, TURNS)),
        """
        unmet rim: rim will stand at 41 °C, at or above its warning limit of 40 °C
          measured 41 Cel; limit 40 Cel; source first-order fit over the samples; margin -1 Cel
          do: find out what heats it before you leave
          at after:3
        """.rstrip(" ")
        + closest.replace("BESIDE", "; 1 other with more room").lstrip("\n"),
    )


def test_fans_that_have_not_come_to_rest_are_told_beside_the_heat() -> None:
    restless = watched(HEAT, TURNS)
    last = Sample(615.0, snapshot(HEAT, Fan(unit="fan-1", condition=OK, speed=q("9000 rpm"))))
    same_text(
        settled.settled(restless._replace(samples=(*restless.samples, last))),
        """
        undetermined fans: the fans still change, from 8000 to 9000 rpm within 90 s
          source common practice
          do: wait
          at after:2
        met asic: asic will stand at 40 °C, 20.0 K below its limit of 60 °C (steady over 615 s)
          measured 40 Cel; limit 60 Cel; source first-order fit over the samples; margin 20 Cel
          at after:1
        """,
    )


def test_the_inlet_is_found_among_the_others() -> None:
    def rows(inlet: float | None, asic: float | None) -> list[AnyReading]:
        return [sensor("asic", asic), sensor("left inlet", None), sensor("right inlet", inlet)]

    points = [(0, 20, 40), (30, None, None), (60, 26, 80)]
    samples = tuple(Sample(t, snapshot(*rows(inlet, asic))) for t, inlet, asic in points)
    judged = swapped([], rows(26, 80))._replace(samples=samples)
    same_text(
        settled.inlet_rate(judged),
        """
        unmet right inlet: right inlet changed by 6 K within 15 minutes
          measured 6 Cel; limit 5 Cel; source ASHRAE TC 9.9, 5th ed. (2021); margin -1 Cel
          do: look at the room's cooling
          at after:3
        """,
    )
