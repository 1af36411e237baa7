"""Before a unit is pulled: each limit at, just below and just above it, and every sentence whole."""

from collections.abc import Iterable

import pytest
from support import q, sighted, snapshot
from wholly_told import ABSENT, FAILED, NO_INPUT, OK, STANDBY, UNTOLD, WARNING, printed, same_text

from consolecheck.judging.acceptance import (
    Acceptance,
    ClearanceLimits,
    CoolingLimits,
    IdentityLimits,
    PowerLimits,
)
from consolecheck.judging.clearance import air, part, place, power
from consolecheck.judging.clearance.asked import Asked, own_chassis
from consolecheck.judging.view import Case, Draft, Observed, Sample, View
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import (
    Alarm,
    AnyReading,
    Condition,
    Device,
    Fan,
    Inventory,
    Link,
    PowerSupply,
    Sighting,
    Snapshot,
    Temperature,
)
from consolecheck.records.text import UnreadLine

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
NO_HEADROOM = Acceptance(power=PowerLimits(headroom_percent=0))
SHOWN_BY = {"fan": ("show fans",), "temperature": ("show heat",), "power_supply": ("show power",)}


def supply(
    number: int | str,
    watts: float | None = 200,
    rated: float | None = 600,
    condition: Condition | None = OK,
    **more: object,
) -> PowerSupply:
    return PowerSupply(
        unit=f"psu-{number}",
        condition=condition,
        output_power=None if watts is None else q(f"{watts} W"),
        capacity=None if rated is None else q(f"{rated} W"),
        **more,
    )


def fan(number: int | str, condition: Condition | None = OK, **more: object) -> Fan:
    return Fan(unit=f"fan-{number}", condition=condition, **more)


def sensor(
    value: float | None, warning: float | None = 60, critical: float | None = None, name: str = "asic", **more: object
) -> Temperature:
    return Temperature(
        name=name,
        value=None if value is None else q(f"{value} C"),
        high_warning=None if warning is None else q(f"{warning} C"),
        high_critical=None if critical is None else q(f"{critical} C"),
        **({"condition": OK} | more),
    )


def asked(
    *readings: AnyReading | Sighting,
    unit: str = "psu-2",
    acceptance: Acceptance = NO_HEADROOM,
    seen: dict[str, str] | None = None,
    chassis: str | None = None,
    open_seconds: float = 120,
    needed: int | None = None,
    samples: tuple[Sample, ...] = (),
    text: Snapshot | None = None,
) -> Asked:
    whole = View((text or snapshot(*readings))._replace(commands=SHOWN_BY), "before")
    view = View(own_chassis(whole.snapshot, unit), "before")
    observed = tuple(Observed(u, f, v) for key, v in (seen or {}).items() for u, _, f in [key.rpartition(".")])
    case = Case(view, view, unit, acceptance, observed, samples=samples)
    return Asked(view, whole, case, chassis, open_seconds, needed)


def outcomes(drafts: Iterable[Draft]) -> list[tuple[str, Outcome, bool]]:
    return [(d.subject, d.outcome, not d.advisory) for d in drafts]


# ---- fan modules


@pytest.mark.parametrize(
    ("good", "untold", "needed", "outcome"),
    [
        (2, 0, 2, MET),
        (3, 0, 2, MET),
        (1, 0, 2, UNMET),
        (1, 1, 2, UNDETERMINED),
        (0, 1, 2, UNMET),
        (0, 2, 2, UNDETERMINED),
        (1, 0, 1, MET),
        (1, 0, None, UNDETERMINED),
        (0, 1, None, UNDETERMINED),
        (0, 0, None, UNMET),
    ],
)
def test_so_many_modules_suffice(good: int, untold: int, needed: int | None, outcome: Outcome) -> None:
    modules = [fan(n) for n in range(good)] + [fan(n + 10, UNTOLD) for n in range(untold)]
    assert air.cooled(asked(*modules, supply(1), supply(2), needed=needed)) is outcome


@pytest.mark.parametrize(
    ("module", "column"),
    [
        (fan(2), "good"),
        (fan(2, WARNING), "ill"),
        (fan(2, FAILED), "ill"),
        (fan(2, UNTOLD), "untold"),
        (fan(2, None), "untold"),
        (fan(2, STANDBY), "untold"),
        (fan(2, ABSENT), None),
        (fan(2, speed=q("0 rpm")), "ill"),
        (fan(2, UNTOLD, speed=q("0 rpm")), "ill"),
        (fan(2, speed=q("8000 rpm"), low_critical=q("2000 rpm"), low_warning=q("1000 rpm")), "untold"),
        (fan(2, speed=q("1000 rpm"), low_critical=q("1000 rpm")), "ill"),
        (fan(2, speed=q("1001 rpm"), low_critical=q("1000 rpm")), "good"),
    ],
)
def test_a_module_that_stands_or_is_not_understood_is_not_good(module: Fan, column: str | None) -> None:
    rest = air.modules_left(asked(fan(1), module, unit="fan-1"))
    assert {n: v for n, v in rest._asdict().items() if v} == ({column: ("fan-2",)} if column else {})


def test_what_is_said_of_the_modules() -> None:
    same_text(
        air.fans(asked(fan(1), fan(2), fan(3, FAILED), supply(1), needed=2, unit="fan-1")),
        """
        unmet fan modules: 1 good fan module turns while fan-1 is out, 2 are needed; fan-3 not good
          measured 1; limit 2; source the family's papers
          do: look at the fans that are not good first
          at before:2 before:3
        """,
    )
    same_text(
        air.fans(asked(fan(1), fan(2), fan(3), supply(1), needed=2, unit="fan-1")),
        """
        met fan modules: 2 good fan modules turn while fan-1 is out, 2 are needed
          measured 2; limit 2; source the family's papers
          at before:2 before:3; by absence of fan
        """,
    )
    same_text(
        air.fans(asked(fan(1), fan(2), supply(1), supply(2), needed=1)),
        """
        met fan modules: 2 good fan modules turn, 1 is needed
          measured 2; limit 1; source the family's papers
          at before:1 before:2; by absence of fan
        """,
    )
    same_text(
        air.fans(asked(fan(1), fan(2), fan(3, UNTOLD), supply(1), needed=3)),
        """
        undetermined fan modules: 2 good fan modules turn, 3 are needed; fan-3 not known
          measured 2; limit 3; source the family's papers
          do: look at the fans that are not good first
          at before:1 before:2 before:3; by absence of fan
        """,
    )
    same_text(
        air.fans(asked(fan(1, FAILED), supply(1))),
        """
        unmet fan modules: 0 good fan modules turn, 1 is needed; fan-1 not good
          measured 0; limit 1; source common practice
          do: look at the fans that are not good first
          at before:1
        """,
    )
    same_text(
        air.fans(asked(fan(1), fan(2, WARNING), supply(1))),
        """
        undetermined fan modules: 1 good fan module turns; how many suffice is not known; fan-2 not good
          measured 1
          do: state it in the acceptance as modules_needed under [cooling]
          at before:1 before:2; advisory
        """,
    )


def test_what_is_said_where_no_module_stands_in_the_text() -> None:
    same_text(
        air.fans(asked(supply(1), supply(2))),
        """
        undetermined fan modules: no fan module stands in the text
          do: capture `show fans`
          at before:2; advisory
        """,
    )
    same_text(
        air.fans(asked(supply(1), supply(2), needed=2)),
        """
        undetermined fan modules: no fan module stands in the text
          limit 2
          do: capture `show fans`
          at before:2
        """,
    )
    same_text(
        air.fans(asked(fan(1), unit="fan-1", needed=2)),
        """
        unmet fan modules: 0 good fan modules turn while fan-1 is out, 2 are needed
          measured 0; limit 2; source the family's papers
          do: look at the fans that are not good first
          at before:1; by absence of fan
        """,
    )
    stated = Acceptance(cooling=CoolingLimits(modules_needed=1))
    same_text(
        air.fans(asked(fan(1), fan(2), supply(1), needed=1, acceptance=stated)),
        """
        met fan modules: 2 good fan modules turn, 1 is needed
          measured 2; limit 1; source acceptance
          at before:1 before:2; by absence of fan
        """,
    )


# ---- heat


def test_how_warm_a_sensor_may_be_when_a_slot_is_opened() -> None:
    """1 K/min for a supply and 3 K/min for a fan module, over two minutes: 2 K and 6 K."""
    for unit, room in (("psu-2", 2.0), ("fan-1", 6.0)):
        for value, outcome in ((60 - room - 0.001, MET), (60 - room, UNMET), (60, UNMET), (60.001, UNMET)):
            (only,) = air.heat(asked(supply(2), fan(1), sensor(value), unit=unit))
            assert only.outcome is outcome, (unit, value)


def test_what_is_said_of_the_heat() -> None:
    same_text(
        air.heat(asked(supply(2), sensor(57.9), sensor(20, 90, name="air"), sensor(20, 91, name="cpu"))),
        """
        met asic: asic reads 57.9 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source); 2 others with more room
          measured 57.9 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 0.1 Cel
          at before:2
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(57.9), sensor(20, 90, name="air"))),
        """
        met asic: asic reads 57.9 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source); 1 other with more room
          measured 57.9 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 0.1 Cel
          at before:2
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(58), sensor(57.9876543, name="air"))),
        """
        unmet asic: asic reads 58 °C and may reach its warning limit of 60 °C within 120 s at 1 K/min (assumed, common practice, no source)
          measured 58 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 0 Cel
          do: let it cool, or see that the slot is shut sooner
          at before:2
        met air: air reads 57.9877 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 57.9876543 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 0.012346 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(60))),
        """
        unmet asic: asic reads 60 °C, at or above its warning limit of 60 °C
          measured 60 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin -2 Cel
          do: find out why it is hot before anything is pulled
          at before:2
        """,
    )
    same_text(
        air.heat(asked(fan(2), sensor(50, None, 80), unit="fan-2", open_seconds=100)),
        """
        met asic: asic reads 50 °C and stays below its critical limit of 80 °C for 100 s at 3 K/min (assumed, common practice, no source)
          measured 50 Cel; limit 80 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 3 K/min (assumed, common practice, no source); margin 25 Cel
          at before:2
        """,
    )
    asks = Acceptance(clearance=ClearanceLimits(least_minutes_to_warning=5))
    same_text(
        air.heat(asked(supply(2), sensor(50), acceptance=asks)),
        """
        met asic: asic reads 50 °C and stays below its warning limit of 60 °C for 420 s at 1 K/min (assumed, common practice, no source)
          measured 50 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 3 Cel
          at before:2
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(20, 90, name="air"), sensor(52.5), acceptance=asks)),
        """
        met asic: asic reads 52.5 °C and stays below its warning limit of 60 °C for 420 s at 1 K/min (assumed, common practice, no source); 1 other with more room
          measured 52.5 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 0.5 Cel
          at before:3
        """,
    )


def test_what_is_said_without_limits_or_sensors() -> None:
    same_text(
        air.heat(asked(supply(2))),
        """
        undetermined temperatures: no temperature stands in the text
          do: capture `show heat`
          at before:1; advisory
        """,
    )
    same_text(
        air.heat(asked(fan(1), unit="fan-1")),
        """
        undetermined temperatures: no temperature stands in the text
          do: capture `show heat`
          at before:1
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, None), sensor(31, None, name="air"))),
        """
        undetermined temperatures: no sensor prints a limit: how far it may still warm is not known
          do: hold the temperatures against the maker's limits
          at before:2; advisory
        """,
    )
    same_text(
        air.heat(asked(fan(1), sensor(30, None), unit="fan-1")),
        """
        undetermined temperatures: no sensor prints a limit: how far it may still warm is not known
          do: hold the temperatures against the maker's limits
          at before:2
        """,
    )


def test_sensors_that_speak_for_themselves() -> None:
    same_text(
        air.heat(asked(supply(2), sensor(30, condition=WARNING, status_text="warm"), sensor(31, name="air"))),
        """
        unmet asic: asic reports `warm`
          measured 30 Cel
          do: find out why before anything is pulled
          at before:2
        met air: air reads 31 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source); 1 other with more room
          measured 31 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 27 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(60, condition=FAILED))),
        """
        unmet asic: asic reports `failed`
          measured 60 Cel
          do: find out why before anything is pulled
          at before:2
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, 60, 50))),
        """
        undetermined asic: the limits of asic are not in order, so its row was not rightly read
          measured 30 Cel
          do: capture again
          at before:2
        met asic: asic reads 30 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:2
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, 60, 60))),
        """
        met asic: asic reads 30 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:2
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(None, status_text="n/c"), sensor(31, name="air"))),
        """
        undetermined asic: asic gives no reading (`n/c`)
          measured n/c
          do: capture again
          at before:2
        met air: air reads 31 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 31 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 27 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(None, condition=None), sensor(31, name="air"))),
        """
        undetermined asic: asic gives no reading
          do: capture again
          at before:2
        met air: air reads 31 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 31 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 27 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, condition=UNTOLD, status_text="hm"), sensor(31, name="air"))),
        """
        undetermined asic: the status `hm` of asic is not known
          measured 30 Cel
          do: capture again
          at before:2
        met air: air reads 31 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source); 1 other with more room
          measured 31 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 27 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, None, condition=None), sensor(31, name="air"))),
        """
        undetermined asic: asic has neither a status nor a limit
          measured 30 Cel
          do: capture again
          at before:2
        met air: air reads 31 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 31 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 27 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, condition=ABSENT), sensor(31, name="air"))),
        """
        met air: air reads 31 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source); 1 other with more room
          measured 31 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 27 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), sensor(30, condition=None))),
        """
        met asic: asic reads 30 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:2
        """,
    )


def test_a_sensor_of_the_unit_or_of_an_empty_slot_goes_for_nothing() -> None:
    hot = sensor(70, unit="psu-2")
    same_text(
        air.heat(asked(supply(2), hot, sensor(30, name="air"))),
        """
        met air: air reads 30 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:3
        """,
    )
    same_text(
        air.heat(asked(supply(2), supply(1), sensor(70, unit="psu-1"), sensor(30, name="air"))),
        """
        unmet psu-1 asic: psu-1 asic reads 70 °C, at or above its warning limit of 60 °C
          measured 70 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin -12 Cel
          do: find out why it is hot before anything is pulled
          at before:3
        met air: air reads 30 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:4
        """,
    )
    same_text(
        air.heat(asked(supply(2), supply(1, condition=ABSENT), sensor(70, unit="psu-1"), sensor(30))),
        """
        met asic: asic reads 30 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:4
        """,
    )


def test_of_two_tables_that_show_a_sensor_the_nearer_limit_counts() -> None:
    near, far = sensor(50, 55), sensor(50, 60)
    for rows in ((near, far), (far, near)):
        (only,) = air.heat(asked(supply(2), *(sighted(r, f"t{n}", line=n) for n, r in enumerate(rows, 1))))
        assert only.limit == q("55 C"), rows
    (only,) = air.heat(asked(supply(2), sighted(sensor(50, 55), "one", line=7), sighted(sensor(50, 55), "two", line=9)))
    assert [e.line for e in only.evidence] == [7]  # told twice alike: the first
    (only,) = air.heat(
        asked(supply(2), sighted(sensor(50, None), "one", line=7), sighted(sensor(50, 55), "two", line=9))
    )
    assert [e.line for e in only.evidence] == [9]


def watched(
    *points: tuple[float, float], out: str | None = None, name: str = "asic", warning: float = 60
) -> tuple[Sample, ...]:
    gone = (supply(2, condition=ABSENT),) if out else (supply(2),)
    return tuple(Sample(t, snapshot(*gone, sensor(v, warning, name=name))) for t, v in points)


def rate_of(*points: tuple[float, float], out: str | None = None) -> str:
    (only,) = air.heat(asked(supply(2), sensor(20), samples=watched(*points, out=out)))
    assert only.source
    return only.source.rpartition("; ")[2]


@pytest.mark.parametrize(
    ("points", "pace"),
    [
        # Two samples are too few, three tell a rate, whatever they cover.
        (((0, 20), (60, 26)), "1 K/min (assumed"),
        (((0, 20), (30, 23), (60, 26)), "6 K/min (measured"),
        # Slower than assumed while the unit is in its slot: the assumption stays.
        (((0, 20), (30, 20), (60, 21)), "1 K/min (assumed"),
        (((0, 20), (30, 20), (60, 21.1)), "1.1 K/min (measured"),
        # A minute back, exactly, counts; a shorter way back is one step of a sensor.
        (((0, 20), (60, 20), (119.9, 20), (120, 22)), "2 K/min (measured"),
        (((0, 20), (61, 20), (119.9, 20), (120, 22)), "1 K/min (assumed"),
        (((0, 20), (10, 20), (20, 22)), "6 K/min (measured"),
        # No time has gone by: nothing can be told.
        (((0, 20), (0, 21), (0, 25)), "1 K/min (assumed"),
        (((5, 20), (5, 21), (4, 25)), "1 K/min (assumed"),
    ],
)
def test_how_fast_a_sensor_rose(points: tuple[tuple[float, float], ...], pace: str) -> None:
    assert rate_of(*points).startswith(pace)


def test_with_the_unit_out_the_measured_rate_replaces_the_assumption() -> None:
    assert rate_of((0, 20), (60, 20), (120, 20.5), out="psu-2") == "0.5 K/min (measured)"
    assert rate_of((0, 20), (60, 19), (120, 18), out="psu-2") == "0 K/min (measured)"


def test_the_newest_sample_counts_where_it_is_warmer() -> None:
    def heat_with(now: float) -> Iterable[Draft]:
        return air.heat(asked(supply(2), sensor(40), samples=watched((0, now), (60, now), (120, now))))

    same_text(
        heat_with(40),
        """
        met asic: asic reads 40 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 40 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 18 Cel
          at before:2
        """,
    )
    same_text(
        heat_with(40.5),
        """
        met asic: asic reads 40.5 °C in the newest sample and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 40.5 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 17.5 Cel
          at before:2
        """,
    )
    same_text(
        heat_with(39),
        """
        met asic: asic reads 40 °C and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source)
          measured 40 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 18 Cel
          at before:2
        """,
    )
    # It was warmer for a while: how warm it is now counts.
    (only,) = air.heat(asked(supply(2), sensor(40), samples=watched((0, 52), (60, 48), (120, 40.5))))
    assert only.measured == q("40.5 C")
    another = watched((0, 30), (60, 30), (120, 30), name="cpu")
    same_text(
        air.heat(asked(supply(2), sensor(40, 90), samples=another)),
        """
        met cpu: cpu reads 30 °C in the newest sample and stays below its warning limit of 60 °C for 120 s at 1 K/min (assumed, common practice, no source); 1 other with more room
          measured 30 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); 1 K/min (assumed, common practice, no source); margin 28 Cel
          at before:2
        """,
    )


def test_a_sample_that_was_not_wholly_read_tells_no_rate() -> None:
    samples = watched((0, 20), (30, 23), (60, 26))
    unread = UnreadLine(3, "asic 2#", "not understood")
    spoilt = (*samples[:2], Sample(60, samples[2].snapshot._replace(unread=(unread,))))
    (only,) = air.heat(asked(supply(2), sensor(20), samples=spoilt))
    assert "assumed" in (only.source or "")
    cut = tuple(t._replace(cut="it ends in a line") for t in samples[2].snapshot.tables)
    spoilt = (*samples[:2], Sample(60, samples[2].snapshot._replace(tables=cut)))
    (only,) = air.heat(asked(supply(2), sensor(20), samples=spoilt))
    assert "assumed" in (only.source or "")


# ---- the load without the unit


@pytest.mark.parametrize(
    ("watts", "headroom", "outcome"),
    [(600, 0, MET), (600.01, 0, UNMET), (540, 10, MET), (540.01, 10, UNMET), (599.99, 0, MET)],
)
def test_the_rest_may_be_just_full(watts: float, headroom: float, outcome: Outcome) -> None:
    acceptance = Acceptance(power=PowerLimits(headroom_percent=headroom))
    assert power.carried(asked(supply(1, watts / 2), supply(2, watts / 2), acceptance=acceptance)).outcome is outcome


def test_what_is_said_of_the_load() -> None:
    same_text(
        power.load(asked(supply(1, 200.12345), supply(2, 200.56789))),
        """
        met psu-2: without psu-2 the load of 400.691 W fits the 600 W of psu-1
          measured 400.691 W; limit 600 W; source N = 1, 0 % headroom; rated power as printed; margin 199.309 W
          at before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1, 400.12345), supply(2, 400))),
        """
        unmet psu-2: without psu-2 the load of 800.123 W does not fit the 600 W of psu-1
          measured 800.123 W; limit 600 W; source N = 2, 0 % headroom; rated power as printed; margin -200.123 W
          do: leave psu-2 in its slot; lower the load or add a supply first
          at before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1, 0, condition=FAILED), supply(2, 400))),
        """
        unmet psu-2: without psu-2 the load of 400 W does not fit 0 W: no other one is good
          measured 400 W; limit 0 W; source 0 % headroom; rated power; margin -400 W
          do: leave psu-2 in its slot; lower the load or add a supply first
          at before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1), supply(2), supply(3), unit="psu-3", acceptance=Acceptance())),
        """
        met psu-3: without psu-3 the load of 600 W fits the 1080 W of psu-1 and psu-2
          measured 600 W; limit 1080 W; source N = 1, 10 % headroom; rated power as printed; margin 480 W
          at before:1 before:2 before:3
        """,
    )
    same_text(power.load(asked(supply(1), supply(2), fan(1), unit="fan-1")), "")
    same_text(power.load(asked(supply(2))), "")
    same_text(
        power.load(asked(supply(1, 300, 250), supply(2, 300, 600), supply(3, 100, 400))),
        """
        unmet psu-2: without psu-2 the load of 700 W does not fit the 650 W of psu-1 and psu-3
          measured 700 W; limit 650 W; source N = 3, 0 % headroom; rated power as printed; margin -50 W
          do: leave psu-2 in its slot; lower the load or add a supply first
          at before:1 before:2 before:3
        """,
    )


@pytest.mark.parametrize(
    ("condition", "watts", "idle"),
    [(FAILED, 0, True), (ABSENT, 0, True), (NO_INPUT, 0, True), (FAILED, 0.1, False), (WARNING, 0, False)],
)
def test_a_unit_that_delivers_nothing_takes_nothing_away(condition: Condition, watts: float, idle: bool) -> None:
    judged = asked(supply(1, 900), supply(2, watts, condition=condition))
    assert power.delivers_nothing(judged) is idle
    assert (MET in {d.outcome for d in power.load(judged) if d.subject == "psu-2"}) is idle


def test_amperes_say_too_that_a_unit_delivers() -> None:
    failed = supply(2, None, condition=FAILED, output_current=q("0.1 A"))
    assert not power.delivers_nothing(asked(supply(1), failed))
    assert power.delivers_nothing(asked(supply(1), supply(2, None, condition=FAILED, output_current=q("0 A"))))
    assert power.delivers_nothing(asked(supply(1), supply(2, None, condition=FAILED)))


def test_what_is_said_of_a_unit_that_delivers_nothing() -> None:
    for condition in (FAILED, NO_INPUT):
        (only,) = power.load(asked(supply(1, 300), supply(2, 0, condition=condition)))
        assert only.message.startswith(
            "psu-2 has failed and" if condition is FAILED else "psu-2 has no input power and"
        )
    same_text(
        power.load(asked(supply(1, 300), supply(2, 0, condition=ABSENT))),
        """
        met psu-2: psu-2 is not in its slot and delivers nothing: the rest carries the load of 300 W already
          measured 300 W
          at before:2 before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1, None), supply(2, None, condition=NO_INPUT))),
        """
        met psu-2: psu-2 has no input power and delivers nothing: the rest carries the load already
          at before:2 before:1 before:2
        """,
    )


def test_what_is_said_where_the_load_is_not_known() -> None:
    same_text(
        power.load(asked(supply(1, None), supply(2, None))),
        """
        undetermined psu-2: whether the rest carries the load without psu-2 is not known: the load was not printed
          do: meter it, and hold it against the rated power of the supplies that stay
          at before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1, rated=None), supply(2))),
        """
        undetermined psu-2: whether the rest carries the load without psu-2 is not known: the rated power of psu-1 is not known
          measured 400 W
          do: state it by part number in the acceptance under [power.capacity]
          at before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1, 300, condition=UNTOLD), supply(2, 300))),
        """
        undetermined psu-2: whether the rest carries the load without psu-2 is not known: whether psu-1 is good is not known
          measured 600 W
          do: look at its lamp and capture again
          at before:1 before:2
        """,
    )
    same_text(
        power.load(asked(supply(1, 0), supply(2, 0))),
        """
        undetermined psu-2: whether the rest carries the load without psu-2 is not known: the load was not printed
          do: meter it, and hold it against the rated power of the supplies that stay
          at before:1 before:2
        """,
    )


def test_a_supply_that_stands_in_the_inventory_alone_leaves_a_hole_in_the_sum() -> None:
    there = Inventory(unit="psu-3", condition=OK)
    assert power.load_here(asked(supply(1), supply(2), there)) is None
    gone = Inventory(unit="psu-3", condition=ABSENT)
    found = power.load_here(asked(supply(1), supply(2), gone))
    assert found is not None
    assert found.total == 400
    # The chassis' own figure has no holes.
    stated = Device(name="load", value=q("300 W"))
    found = power.load_here(asked(supply(1, None), supply(2, None), there, stated))
    assert found is not None
    assert found.total == 300


@pytest.mark.parametrize(("watts", "idle"), [(40, False), (39.99, True), (40.01, False), (0, True)])
def test_a_supply_that_carries_less_than_a_fifth_of_its_share_may_be_idle(watts: float, idle: bool) -> None:
    """Two supplies and 400 W: a fifth of an equal share is 40 W."""
    assert power.idle_others(asked(supply(1, watts), supply(2, 400 - watts))) == (("psu-1",) if idle else ())


def test_the_share_is_of_those_that_carry() -> None:
    # Three good ones: a fifth of 100 W; the fourth has failed and carries no share.
    rows = (supply(1, 20), supply(2, 140), supply(3, 140, condition=WARNING), supply(4, 0, condition=FAILED))
    assert power.idle_others(asked(*rows)) == ()
    assert power.idle_others(asked(supply(1, 19.9), supply(2, 140.1), *rows[2:])) == ("psu-1",)
    # One that reports no ok is not called idle but ill.
    assert power.idle_others(asked(supply(1, 0, condition=WARNING), supply(2, 400))) == ()
    # None of them reports itself well: the share is of one.
    unsure = (supply(1, 100, condition=UNTOLD), supply(2, 100, condition=UNTOLD))
    assert power.idle_others(asked(*unsure)) == ()


@pytest.mark.parametrize(
    ("condition", "standby_is_good", "column"),
    [
        (OK, True, "good"),
        (STANDBY, True, "good"),
        (STANDBY, False, "ill"),
        (WARNING, True, "ill"),
        (FAILED, True, "ill"),
        (NO_INPUT, True, "ill"),
        (UNTOLD, True, "untold"),
        (None, True, "untold"),
        (ABSENT, True, None),
    ],
)
def test_which_of_the_other_supplies_count(
    condition: Condition | None, standby_is_good: bool, column: str | None
) -> None:
    limits = Acceptance(power=PowerLimits(standby_is_good=standby_is_good))
    rest = power.supplies_left(asked(supply(1, condition=condition), supply(2), acceptance=limits))
    assert {n: v for n, v in rest._asdict().items() if v} == ({column: ("psu-1",)} if column else {})


def test_what_is_said_of_the_feeds() -> None:
    fed = [supply(n, feed=f) for n, f in ((1, "a"), (2, "b"), (3, "a"), (4, "b"))]
    n_plus_n = Acceptance(power=PowerLimits(redundancy="N+N", headroom_percent=0))
    same_text(
        power._on_feeds(asked(*fed), power.supplies_left(asked(*fed))),
        """
        met feeds: while psu-2 is out, feeds A and B carry the switch
          measured A and B; source trade definition
          at before:1 before:3 before:4; advisory
        """,
    )
    same_text(
        power._on_feeds(asked(*fed[:2]), power.supplies_left(asked(*fed[:2]))),
        """
        unmet feeds: while psu-2 is out, feed A alone carries the switch
          measured A; source trade definition
          do: have the replacement at hand, and leave feed A alone meanwhile
          at before:1; advisory
        """,
    )
    two = asked(*fed[:2], acceptance=n_plus_n)
    same_text(
        power._on_feeds(two, power.supplies_left(two)),
        """
        unmet feeds: while psu-2 is out, feed A alone carries the switch, and N+N is lost for as long
          measured A; source trade definition
          do: have the replacement at hand, and leave feed A alone meanwhile
          at before:1; advisory
        """,
    )
    untold = asked(*fed[1:3], supply(4))
    same_text(power._on_feeds(untold, power.supplies_left(untold)), "")
    followed = asked(supply(1), supply(2), supply(3), seen={"psu-1.feed": "a", "psu-3.feed": "b"})
    same_text(
        power._on_feeds(followed, power.supplies_left(followed)),
        """
        met feeds: while psu-2 is out, feeds A and B carry the switch
          measured A and B; source trade definition
          at before:1; advisory
        """,
    )
    shown = asked(printed(supply(1, feed="A"), 5, feed="A"), supply(2))
    same_text(
        power._on_feeds(shown, power.supplies_left(shown)),
        """
        unmet feeds: while psu-2 is out, feed A alone carries the switch
          measured A; source trade definition
          do: have the replacement at hand, and leave feed A alone meanwhile
          at before:5[0-1]; advisory
        """,
    )


def test_what_is_said_of_the_last_leg() -> None:
    same_text(
        power.last_leg(asked(supply(1), supply(2))),
        """
        met psu-2: psu-1 stays when psu-2 is out
          measured 1; limit 1; source common practice
          at before:1
        """,
    )
    same_text(
        power.last_leg(asked(supply(1), supply(2), supply(3))),
        """
        met psu-2: psu-1 and psu-3 stay when psu-2 is out
          measured 2; limit 1; source common practice
          at before:1 before:3
        """,
    )
    same_text(
        power.last_leg(asked(supply(1, condition=UNTOLD), supply(2))),
        """
        undetermined psu-2: whether psu-1 can carry the switch without psu-2 is not known
          measured 0; limit 1; source common practice
          do: look at its lamp and capture again
          at before:1
        """,
    )
    same_text(
        power.last_leg(asked(supply(1, condition=FAILED), supply(2))),
        """
        unmet psu-2: psu-2 is the last leg: psu-1 is not good
          measured 0; limit 1; source common practice
          do: get another supply to serve first
          at before:1
        """,
    )
    same_text(
        power.last_leg(asked(supply(1, condition=FAILED), supply(2), supply(3, condition=WARNING))),
        """
        unmet psu-2: psu-2 is the last leg: psu-1 and psu-3 are not good
          measured 0; limit 1; source common practice
          do: get another supply to serve first
          at before:1 before:3
        """,
    )
    same_text(
        power.last_leg(asked(supply(1, condition=FAILED), supply(2, 0, condition=FAILED))),
        """
        unmet psu-2: psu-2 delivers nothing, and psu-1 is not good
          measured 0; limit 1; source common practice
          do: get another supply to serve first
          at before:1
        """,
    )
    same_text(
        power.last_leg(asked(supply(2))),
        """
        unmet psu-2: psu-2 is the last leg: no other supply is there
          measured 0; limit 1; source common practice
          do: get another supply to serve first
          at before:1; by absence of power_supply
        """,
    )
    same_text(power.last_leg(asked(supply(2), fan(1), unit="fan-1")), "")


# ---- the place


def test_what_is_said_of_the_unit() -> None:
    same_text(
        place.unit(asked(supply(1))),
        """
        undetermined psu-2: nothing about psu-2 stands in the text
          do: capture `show power`
          at before:1
        """,
    )
    same_text(
        place.unit(asked(supply(1), unit="fan-1")),
        """
        undetermined fan-1: nothing about fan-1 stands in the text
          do: capture `show fans`
          at before:1
        """,
    )
    same_text(
        place.unit(asked(supply(2, condition=ABSENT))),
        """
        unmet psu-2: no unit sits in psu-2: there is nothing to pull, only to insert
          measured absent
          at before:1; advisory
        """,
    )
    same_text(
        place.unit(asked(supply(2))),
        """
        met psu-2: psu-2 is present and ok
          measured ok
          at before:1
        """,
    )
    same_text(
        place.unit(asked(supply(2, condition=FAILED, part_number="HX-600", serial="SB2201"))),
        """
        met psu-2: psu-2 has failed, part HX-600, serial SB2201
          measured failed
          at before:1
        """,
    )


def test_what_is_said_of_the_other_supplies() -> None:
    same_text(
        place.others(asked(supply(1), supply(2))),
        """
        met other supply: the other supply is good
          at before:1
        """,
    )
    same_text(
        place.others(asked(supply(1), supply(2), supply(3))),
        """
        met other supplies: psu-1 and psu-3 are good
          at before:1 before:3
        """,
    )
    same_text(
        place.others(asked(supply(1, condition=WARNING), supply(2), supply(3))),
        """
        unmet psu-1: psu-1 reports a warning; the rest carries the load without it
          measured warning
          at before:1; advisory
        """,
    )
    same_text(
        place.others(asked(supply(1, 500, condition=WARNING), supply(2, 500), supply(3, 500))),
        """
        unmet psu-1: psu-1 reports a warning
          measured warning
          do: see to psu-1 before psu-2 is pulled
          at before:1
        """,
    )
    same_text(
        place.others(asked(supply(1, None, condition=WARNING), supply(2, None), supply(3, None))),
        """
        undetermined psu-1: psu-1 reports a warning, and whether the rest carries the load without it is not known
          measured warning
          do: see to psu-1 before psu-2 is pulled
          at before:1
        """,
    )
    same_text(
        place.others(asked(supply(1, condition=UNTOLD), supply(2), supply(3))),
        """
        undetermined psu-1: no status of psu-1 was printed; the rest carries the load without it
          at before:1; advisory
        """,
    )
    same_text(
        place.others(asked(supply(1, condition=UNTOLD), supply(2))),
        """
        undetermined psu-1: no status of psu-1 was printed
          do: see to psu-1 before psu-2 is pulled
          at before:1
        """,
    )
    same_text(
        place.others(asked(supply(1, 1), supply(2), supply(3))),
        """
        undetermined psu-1: psu-1 reports ok and delivers next to nothing; the rest carries the load without it
          measured ok
          at before:1; advisory
        """,
    )
    same_text(
        place.others(asked(supply(1, 900, condition=WARNING), supply(2, 0, condition=FAILED), supply(3))),
        """
        unmet psu-1: psu-1 reports a warning; the rest carries the load without it
          measured warning
          at before:1; advisory
        """,
    )
    same_text(
        place.others(asked(supply(1, 400, condition=WARNING), supply(2, 0, condition=FAILED))),
        """
        unmet psu-1: psu-1 reports a warning
          measured warning
          do: see to psu-1 before psu-2 is pulled
          at before:1
        """,
    )
    same_text(
        place.others(asked(Inventory(unit="psu-1"), supply(2), supply(3))),
        """
        undetermined psu-1: no status of psu-1 was printed
          do: see to psu-1 before psu-2 is pulled
          at before:1
        """,
    )


def test_what_is_said_of_the_other_fan_modules() -> None:
    same_text(
        place.others(asked(fan(1), fan(2), unit="fan-1", needed=1)),
        """
        met other fan module: the other fan module is good
          at before:2
        """,
    )
    same_text(
        place.others(asked(fan(1), fan(2), fan(3), unit="fan-1", needed=1)),
        """
        met other fan modules: fan-2 and fan-3 are good
          at before:2 before:3
        """,
    )
    same_text(
        place.others(asked(fan(1), fan(2), fan(3, FAILED), unit="fan-1", needed=1)),
        """
        unmet fan-3: fan-3 has failed; the rest cools the chassis without it
          measured failed
          at before:3; advisory
        """,
    )
    same_text(
        place.others(asked(fan(1), fan(2), fan(3, FAILED), unit="fan-1", needed=2)),
        """
        unmet fan-3: fan-3 has failed
          measured failed
          do: see to fan-3 before fan-1 is pulled
          at before:3
        """,
    )
    same_text(
        place.others(asked(fan(1), fan(2), fan(3, FAILED), unit="fan-1")),
        """
        undetermined fan-3: fan-3 has failed, and whether the rest cools the chassis without it is not known
          measured failed
          do: see to fan-3 before fan-1 is pulled
          at before:3
        """,
    )
    same_text(
        place.others(asked(fan(1), fan(2), fan(3, speed=q("0 rpm")), unit="fan-1", needed=1)),
        """
        unmet fan-3: fan-3 reports ok, and what its rotors read does not bear that out; the rest cools the chassis without it
          measured ok
          at before:3; advisory
        """,
    )


def test_what_is_said_of_the_chassis() -> None:
    ours = Inventory(unit="chassis", serial="TOB0404")
    same_text(
        place.chassis(asked(supply(2), ours)),
        """
        undetermined chassis: which chassis the ticket means is not stated; this one is TOB0404
          measured TOB0404
          do: compare the serial on the chassis with the ticket
          at before:2; advisory
        """,
    )
    same_text(
        place.chassis(asked(supply(2))),
        """
        undetermined chassis: which chassis the ticket means is not stated, and this one does not say which it is
          do: compare the serial on the chassis with the ticket
          at before:1; advisory
        """,
    )
    same_text(
        place.chassis(asked(supply(2), chassis="  ")),
        """
        undetermined chassis: which chassis the ticket means is not stated, and this one does not say which it is
          do: compare the serial on the chassis with the ticket
          at before:1; advisory
        """,
    )
    same_text(
        place.chassis(asked(supply(2), chassis="TOB0404")),
        """
        undetermined chassis: the ticket is for chassis TOB0404, and the text does not show which one this is
          limit TOB0404; source the ticket
          do: read the serial on the chassis; no command that is read of this device family shows it: look at the device
          at before:1
        """,
    )
    same_text(
        place.chassis(asked(supply(2), ours, chassis=" tob0404 ")),
        """
        met chassis: this is chassis tob0404
          measured TOB0404; limit tob0404; source the ticket
          at before:2
        """,
    )
    same_text(
        place.chassis(asked(supply(2), ours, chassis="TOB0405")),
        """
        unmet chassis: this is another chassis: TOB0404, and the ticket is for TOB0405
          measured TOB0404; limit TOB0405; source the ticket
          do: find the right chassis, or the right console, before anything is touched
          at before:2
        """,
    )
    same_text(
        place.chassis(asked(supply(2), Inventory(unit="chassis", serial="n/a"), chassis="TOB0405")),
        """
        undetermined chassis: the ticket is for chassis TOB0405, and the text does not show which one this is
          limit TOB0405; source the ticket
          do: read the serial on the chassis; no command that is read of this device family shows it: look at the device
          at before:2
        """,
    )
    members = (Device(name="member-1", serial="TOB0404"), Device(name="member-2", serial="TOB0405"))
    same_text(
        place.chassis(asked(supply(2), *members, chassis="TOB0405")),
        """
        met chassis: this is chassis TOB0405
          measured TOB0404 and TOB0405; limit TOB0405; source the ticket
          at before:2 before:3
        """,
    )
    same_text(
        place.chassis(asked(supply(2), ours, Device(serial="TOB0404"), chassis="TOB0404")),
        """
        met chassis: this is chassis TOB0404
          measured TOB0404; limit TOB0404; source the ticket
          at before:2
        """,
    )


def unread(*numbers: int) -> tuple[UnreadLine, ...]:
    return tuple(UnreadLine(n, "??", "not understood") for n in numbers)


def test_what_is_said_of_the_text() -> None:
    sound = snapshot(supply(1), supply(2))
    same_text(
        place.text(asked(text=sound)),
        """
        undetermined fan: the text has no table of the kind fan, although the family prints one
          do: capture `show fans`
          at before:2
        undetermined temperature: the text has no table of the kind temperature, although the family prints one
          do: capture `show heat`
          at before:2
        """,
    )
    same_text(
        place.text(asked(text=snapshot())),
        """
        undetermined power supply: the text has no table of the kind power supply, although the family prints one
          do: capture `show power`
          at before:1
        undetermined fan: the text has no table of the kind fan, although the family prints one
          do: capture `show fans`
          at before:1
        undetermined temperature: the text has no table of the kind temperature, although the family prints one
          do: capture `show heat`
          at before:1
        """,
    )
    same_text(
        place.text(asked(text=sound._replace(unread=unread(7)))),
        """
        undetermined text: 1 line of the text was not read, the first is line 7
          do: capture again; if the line comes back, the dialect needs to learn it
          at before:7
        undetermined fan: the text has no table of the kind fan, although the family prints one
          do: capture `show fans`
          at before:2
        undetermined temperature: the text has no table of the kind temperature, although the family prints one
          do: capture `show heat`
          at before:2
        """,
    )
    same_text(
        place.text(asked(text=sound._replace(unread=unread(*range(7, 37))))),
        """
        undetermined text: 30 lines of the text were not read, the first is line 7
          do: capture again; if the line comes back, the dialect needs to learn it
          at before:7 before:8 before:9 before:10 before:11 before:12 before:13 before:14 before:15 before:16 before:17 before:18 before:19 before:20 before:21 before:22 before:23 before:24 before:25 before:26
        undetermined fan: the text has no table of the kind fan, although the family prints one
          do: capture `show fans`
          at before:2
        undetermined temperature: the text has no table of the kind temperature, although the family prints one
          do: capture `show heat`
          at before:2
        """,
    )
    cut = sound._replace(tables=tuple(t._replace(cut="it ends in a line") for t in sound.tables))
    same_text(
        place.text(asked(text=cut)),
        """
        undetermined power_supply: the power_supply table is not whole: it ends in a line
          do: capture again, to the prompt
          at before:2
        undetermined fan: the text has no table of the kind fan, although the family prints one
          do: capture `show fans`
          at before:2
        undetermined temperature: the text has no table of the kind temperature, although the family prints one
          do: capture `show heat`
          at before:2
        """,
    )


def test_a_kind_that_the_family_prints_is_missed() -> None:
    seen = asked(supply(1), supply(2), fan(1))
    same_text(
        place.text(seen._replace(whole=View(seen.whole.snapshot._replace(commands=SHOWN_BY), "before"))),
        """
        undetermined temperature: the text has no table of the kind temperature, although the family prints one
          do: capture `show heat`
          at before:3
        """,
    )


def test_figures_that_contradict_each_other_stop_it() -> None:
    lying = supply(1, 200, output_voltage=q("12 V"), output_current=q("50 A"))
    same_text(
        place.text(asked(lying, supply(2), fan(1), sensor(30))),
        """
        undetermined psu-1: psu-1 output does not add up: 12 V times 50 A is not 200 W
          measured 200 W; limit 600 W; source P = U I
          do: capture again
          at before:1; of psu-1
        """,
    )
    # ... but not those of a unit that delivers nothing.
    dead = supply(2, 0, condition=FAILED, output_voltage=q("12 V"), output_current=q("0 A"), input_power=q("90 W"))
    assert outcomes(place.text(asked(supply(1), dead, fan(1), sensor(30)))) == [("text", MET, True)]
    rated = (supply(1, part_number="HX-600"), supply(2, rated=60, part_number="HX-600"))
    same_text(
        place.text(asked(*rated, fan(1), sensor(30))),
        """
        undetermined psu-2: psu-2 and psu-1 are both part HX-600, but rated 60 W and 600 W
          measured 60 W; limit 600 W; source one part, one rating
          do: capture again
          at before:2 before:1
        """,
    )
    assert outcomes(place.text(asked(*rated, fan(1), sensor(30), unit="fan-1"))) == [("text", MET, True)]
    same_text(
        place.text(asked(supply(1), supply(2), fan(1), sensor(30, name="inlet"), sensor(3))),
        """
        undetermined asic: asic reads 3 °C, colder than the inlet's 30 °C, which cannot be
          measured 3 Cel
          do: capture again
          at before:5
        """,
    )
    cold_itself = sensor(3, unit="psu-2")
    judged = asked(supply(1), supply(2), fan(1), sensor(30, name="inlet"), cold_itself)
    assert outcomes(place.text(judged)) == [("text", MET, True)]


def test_what_stands_already() -> None:
    same_text(
        place.service(asked(supply(2))),
        """
        undetermined alarms: the alarms were not printed
          do: no command that is read of this device family shows it: look at the device
          at before:1
        undetermined links: the links were not printed
          do: no command that is read of this device family shows it: look at the device
          at before:1
        """,
    )
    alarm = Alarm(name="psu-1", condition=FAILED, status_text="input lost")
    same_text(
        place.service(asked(supply(2), alarm, Link(name="Po1", condition=OK))),
        """
        unmet psu-1: an alarm stands already: psu-1 (input lost)
          measured input lost
          at before:2
        met links: no link is down among 1
          at before:3
        """,
    )
    quiet = (Alarm(name="psu-1", condition=OK), Link(name="Po1", condition=OK), Link(name="Po2", condition=OK))
    same_text(
        place.service(asked(supply(2), *quiet)),
        """
        met alarms: no alarm stands
          at before:2
        met links: no link is down among 2
          at before:3
        """,
    )
    links = [Link(name=f"Po{n}", condition=NO_INPUT) for n in range(1, 11)]
    same_text(
        place.service(asked(supply(2), *links[:1], Link(name="Po11", condition=OK))),
        """
        undetermined alarms: the alarms were not printed
          do: no command that is read of this device family shows it: look at the device
          at before:3
        unmet links: 1 of 2 links is down already: Po1
          measured Po1
          at before:2
        """,
    )
    same_text(
        place.service(asked(supply(2), Alarm(name="x", condition=WARNING), *links)),
        """
        unmet x: an alarm stands already: x
          at before:2
        unmet links: 10 of 10 links are down already: Po1, Po2, Po3, Po4, Po5, Po6, Po7, Po8 and 2 more
          measured Po1, Po2, Po3, Po4, Po5, Po6, Po7, Po8 and 2 more
          at before:3 before:4 before:5 before:6 before:7 before:8 before:9 before:10 before:11 before:12
        """,
    )


# ---- the part in hand


def replaced(
    *readings: AnyReading | Sighting, unit: str = "psu-2", acceptance: Acceptance = NO_HEADROOM, **seen: str
) -> Iterable[Draft]:
    stated = {f"{unit}.{fact}": value for fact, value in seen.items()}
    return part.replacement(asked(*readings, unit=unit, acceptance=acceptance, seen=stated))


def test_nothing_is_stated_of_the_part() -> None:
    same_text(
        replaced(supply(1), supply(2)),
        """
        undetermined psu-2 replacement: nothing is stated of the part that shall go into psu-2
          do: read its label and state it: --seen psu-2.part=NUMBER
          at before:2; advisory
        """,
    )
    same_text(
        replaced(supply(1)),
        """
        undetermined psu-2 replacement: nothing is stated of the part that shall go into psu-2
          do: read its label and state it: --seen psu-2.part=NUMBER
          at before:1; advisory
        """,
    )
    same_text(
        replaced(fan(1), unit="fan-1", input="AC", capacity="600"),
        """
        undetermined fan-1 replacement: nothing is stated of the part that shall go into fan-1
          do: read its label and state it: --seen fan-1.part=NUMBER
          at before:1; advisory
        """,
    )


def test_what_is_said_of_the_part_number() -> None:
    fitted = supply(2, part_number="HX-600")
    same_text(
        replaced(supply(1), fitted, part="hx-600"),
        """
        met psu-2 part: the new part is hx-600, like psu-2
          measured hx-600; limit HX-600
          at before:2
        """,
    )
    same_text(
        replaced(supply(1), fitted, part="HX-900"),
        """
        unmet psu-2 part: the new part is HX-900, but psu-2 is HX-600
          measured HX-900; limit HX-600
          do: get the right part, or list it in the acceptance under [identity.substitutes]
          at before:2
        """,
    )
    allowed = Acceptance(identity=IdentityLimits(substitutes={"HX-600": ["HX-900"]}))
    same_text(
        replaced(supply(1), fitted, part="HX-900", acceptance=allowed),
        """
        met psu-2 part: the new part is HX-900, listed as a substitute for HX-600
          measured HX-900; limit HX-600 and HX-900; source acceptance
          at before:2
        """,
    )
    same_text(
        replaced(supply(1), supply(2), part="HX-600"),
        """
        undetermined psu-2 part: the new part is HX-600, and the part number of the fitted one is not printed
          measured HX-600
          do: compare the labels of both parts
          at before:2; advisory
        """,
    )
    same_text(
        replaced(supply(1, part_number="HX-600"), supply(2), part="HX-600"),
        """
        undetermined psu-2 part: the new part is HX-600, and the part number of the fitted one is not printed
          measured HX-600
          do: compare the labels of both parts
          at before:2
        """,
    )
    dead = supply(2, 0, condition=FAILED)
    same_text(
        replaced(supply(1, part_number="HX-600"), dead, part="HX-600"),
        """
        met psu-2 part: the new part is HX-600, like its peer psu-1
          measured HX-600; limit HX-600
          at before:1
        """,
    )
    same_text(
        replaced(supply(1, part_number="HX-600"), supply(3, part_number="HX-601"), dead, part="HX-7"),
        """
        unmet psu-2 part: the new part is HX-7, but its peer psu-1 and psu-3 is HX-600 and HX-601
          measured HX-7; limit HX-600 and HX-601
          do: get the right part, or list it in the acceptance under [identity.substitutes]
          at before:1 before:2
        """,
    )


@pytest.mark.parametrize(("volts", "kind"), [(74.9, "DC"), (75, "AC"), (230, "AC"), (-53.5, "DC"), (-75, "AC")])
def test_the_input_is_told_by_its_volts(volts: float, kind: str) -> None:
    (only,) = replaced(supply(1), supply(2, input_voltage=q(f"{volts} V")), input=kind)
    assert only.outcome is MET


def test_what_is_said_of_the_input() -> None:
    same_text(
        replaced(supply(1), printed(supply(2, input_voltage=q("230 V")), 3, input_voltage="230"), input="DC"),
        """
        unmet psu-2 input: the new part takes DC, but psu-2 takes AC
          measured DC; limit AC
          do: get a part for this input; never fit it
          at before:3[0-3]
        """,
    )
    same_text(
        replaced(supply(1), supply(2, input_type="AC", input_voltage=q("48 V")), input="AC"),
        """
        met psu-2 input: the new part takes AC, like psu-2
          measured AC; limit AC
          at before:2
        """,
    )
    same_text(
        replaced(supply(1), supply(2, input_voltage=q("0 V")), input="AC"),
        """
        undetermined psu-2 input: the new part is AC, and the input of the fitted one is not printed
          measured AC
          do: compare the labels of both parts
          at before:2; advisory
        """,
    )
    dead = supply(2, 0, condition=FAILED)
    mixed = (supply(1, input_type="AC"), supply(3, input_type="DC"))
    same_text(
        replaced(*mixed, dead, input="AC"),
        """
        undetermined psu-2 input: the new part takes AC, and whether the fitted one did is not known: its peers take AC and DC
          measured AC; limit AC and DC
          do: compare the labels of both parts
          at before:1 before:2
        """,
    )


@pytest.mark.parametrize(("watts", "outcome"), [(600, MET), (600.5, MET), (599.9, UNMET)])
def test_no_less_rated_power_than_what_is_fitted(watts: float, outcome: Outcome) -> None:
    found = {d.subject: d.outcome for d in replaced(supply(1), supply(2), capacity=f"{watts}")}
    assert found["psu-2 capacity"] is outcome


def test_what_is_said_of_the_capacity() -> None:
    same_text(
        replaced(supply(1), supply(2, rated=600.12345), capacity="650"),
        """
        met psu-2 capacity: the new part is rated 650 W, psu-2 600.123 W
          measured 650 W; limit 600.12345 W; source no less than what is fitted, common practice; margin 49.877 W
          at before:2
        met psu-2 capacity after a loss: with a part of 650 W the load of 400 W fits the 650 W left after the loss of psu-1
          measured 400 W; limit 650 W; source N+1, 0 % headroom; margin 250 W
          at before:1 before:2
        """,
    )
    same_text(
        replaced(supply(1, rated=300), supply(2), capacity="kettle"),
        """
        undetermined psu-2 capacity: the capacity of the new part cannot be understood: `kettle` is not a number
          measured kettle
          do: state it in watts: psu-2.capacity=600
          at before:2
        """,
    )
    dead = supply(2, 0, None, FAILED)
    same_text(
        replaced(supply(1, rated=600), supply(3, rated=900), dead, capacity="600"),
        """
        undetermined psu-2 capacity: the new part is rated 600 W, its peer psu-1 and psu-3 600 to 900 W
          measured 600 W; limit 900 W; source no less than what is fitted, common practice; margin -300 W
          do: get a part of at least the same rating
          at before:1 before:2
        met psu-2 capacity after a loss: with a part of 600 W the load of 400 W fits the 1200 W left after the loss of psu-3
          measured 400 W; limit 1200 W; source N+1, 0 % headroom; margin 800 W
          at before:1 before:2 before:3
        """,
    )
    same_text(
        replaced(supply(1, rated=600), supply(3, rated=900), dead, capacity="599"),
        """
        unmet psu-2 capacity: the new part is rated 599 W, its peer psu-1 and psu-3 600 to 900 W
          measured 599 W; limit 900 W; source no less than what is fitted, common practice; margin -301 W
          do: get a part of at least the same rating
          at before:1 before:2
        met psu-2 capacity after a loss: with a part of 599 W the load of 400 W fits the 1199 W left after the loss of psu-3
          measured 400 W; limit 1199 W; source N+1, 0 % headroom; margin 799 W
          at before:1 before:2 before:3
        """,
    )
    same_text(
        replaced(supply(1, rated=600), supply(3, rated=900), dead, capacity="900"),
        """
        met psu-2 capacity: the new part is rated 900 W, its peer psu-1 and psu-3 600 to 900 W
          measured 900 W; limit 900 W; source no less than what is fitted, common practice; margin 0 W
          at before:1 before:2
        met psu-2 capacity after a loss: with a part of 900 W the load of 400 W fits the 1500 W left after the loss of psu-3
          measured 400 W; limit 1500 W; source N+1, 0 % headroom; margin 1100 W
          at before:1 before:2 before:3
        """,
    )
    same_text(
        replaced(supply(1), supply(2, rated=None), capacity="600"),
        """
        undetermined psu-2 capacity: the new part is 600 W, and the rated power of the fitted one is not printed
          measured 600 W
          do: compare the labels of both parts
          at before:2
        met psu-2 capacity after a loss: with a part of 600 W the load of 400 W fits the 600 W left after the loss of psu-1
          measured 400 W; limit 600 W; source N+1, 0 % headroom; margin 200 W
          at before:1 before:2
        """,
    )
    listed = Acceptance(power=PowerLimits(capacity={"HX-600": 600}, redundancy="none"))
    same_text(
        replaced(supply(1), supply(2, rated=None, part_number="HX-900"), capacity="600", acceptance=listed),
        """
        undetermined psu-2 capacity: the new part is 600 W, and the rated power of the fitted one is not printed
          measured 600 W
          do: compare the labels of both parts
          at before:2
        """,
    )
    same_text(
        replaced(supply(1), supply(2, rated=0, part_number="HX-600"), capacity="600", acceptance=listed),
        """
        met psu-2 capacity: the new part is rated 600 W, psu-2 600 W
          measured 600 W; limit 600 W; source no less than what is fitted, common practice; margin 0 W
          at before:2
        """,
    )


def after_a_loss(*rows: AnyReading, capacity: str, redundancy: str = "N+1", headroom: float = 0) -> list[Draft]:
    limits = Acceptance(power=PowerLimits(redundancy=redundancy, headroom_percent=headroom))
    found = replaced(*rows, acceptance=limits, capacity=capacity)
    return [d for d in found if d.subject == "psu-2 capacity after a loss"]


@pytest.mark.parametrize(("watts", "outcome"), [(500, MET), (499.9, UNMET), (500.1, MET)])
def test_the_load_fits_the_new_part_after_a_loss(watts: float, outcome: Outcome) -> None:
    (only,) = after_a_loss(supply(1, 250), supply(2, 250), capacity=f"{watts}")
    assert only.outcome is outcome


def test_what_is_said_of_a_loss() -> None:
    same_text(
        after_a_loss(supply(1, 250.12345), supply(2, 250), capacity="600.56789"),
        """
        met psu-2 capacity after a loss: with a part of 600.568 W the load of 500.123 W fits the 600.568 W left after the loss of psu-1
          measured 500.123 W; limit 600.568 W; source N+1, 0 % headroom; margin 100.444 W
          at before:1 before:2
        """,
    )
    same_text(
        after_a_loss(supply(1, 250), supply(2, 250), capacity="450", headroom=10),
        """
        unmet psu-2 capacity after a loss: with a part of 450 W the load of 500 W does not fit the 405 W left after the loss of psu-1
          measured 500 W; limit 405 W; source N+1, 10 % headroom; margin -95 W
          do: get a part of more rated power
          at before:1 before:2
        """,
    )
    same_text(
        after_a_loss(supply(1, 250, 900), supply(2, 250), supply(3, 100, 300), capacity="600"),
        """
        met psu-2 capacity after a loss: with a part of 600 W the load of 600 W fits the 900 W left after the loss of psu-1
          measured 600 W; limit 900 W; source N+1, 0 % headroom; margin 300 W
          at before:1 before:2 before:3
        """,
    )
    same_text(
        after_a_loss(supply(1, 250, None), supply(2, 250), capacity="600"),
        """
        undetermined psu-2 capacity after a loss: whether the load fits a part of 600 W after a loss is not known: a load or a rated power is missing
          measured 600 W
          at before:2; advisory
        """,
    )
    same_text(
        after_a_loss(supply(1, None), supply(2, None), capacity="600"),
        """
        undetermined psu-2 capacity after a loss: whether the load fits a part of 600 W after a loss is not known: a load or a rated power is missing
          measured 600 W
          at before:2; advisory
        """,
    )
    assert after_a_loss(supply(1), supply(2), capacity="600", redundancy="count") == []
    assert after_a_loss(supply(1), supply(2), capacity="600", redundancy="none") == []
    assert after_a_loss(supply(1, condition=FAILED), supply(2), capacity="600") == []
    assert after_a_loss(supply(2), capacity="600") == []


def test_the_loss_of_a_feed() -> None:
    fed = [supply(n, 100, 300, feed=f) for n, f in ((1, "A"), (2, "A"), (3, "B"), (4, "B"))]
    same_text(
        after_a_loss(*fed, capacity="100", redundancy="N+N"),
        """
        met psu-2 capacity after a loss: with a part of 100 W the load of 400 W fits the 400 W left after the loss of psu-3 and psu-4
          measured 400 W; limit 400 W; source N+N, 0 % headroom; margin 0 W
          at before:1 before:2 before:3 before:4
        """,
    )
    same_text(
        after_a_loss(*fed, capacity="99", redundancy="N+N"),
        """
        unmet psu-2 capacity after a loss: with a part of 99 W the load of 400 W does not fit the 399 W left after the loss of psu-3 and psu-4
          measured 400 W; limit 399 W; source N+N, 0 % headroom; margin -1 W
          do: get a part of more rated power
          at before:1 before:2 before:3 before:4
        """,
    )
    # Where a cord was not followed, the loss of one supply is asked instead.
    same_text(
        after_a_loss(*fed[:3], supply(4, 100, 300), capacity="99", redundancy="N+N"),
        """
        met psu-2 capacity after a loss: with a part of 99 W the load of 400 W fits the 699 W left after the loss of psu-1
          measured 400 W; limit 699 W; source N+N, 0 % headroom; margin 299 W
          at before:1 before:2 before:3 before:4
        """,
    )
    # All on the new part's own feed: no other feed can be lost.
    assert after_a_loss(*fed[:2], capacity="300", redundancy="N+N") == []
    # Under N+1 the feeds say nothing.
    same_text(
        after_a_loss(*fed, capacity="100"),
        """
        met psu-2 capacity after a loss: with a part of 100 W the load of 400 W fits the 700 W left after the loss of psu-1
          measured 400 W; limit 700 W; source N+1, 0 % headroom; margin 300 W
          at before:1 before:2 before:3 before:4
        """,
    )


def test_what_is_said_of_the_airflow() -> None:
    fits = [fan(n, airflow="front-to-back") for n in (1, 2)]
    same_text(
        replaced(*fits, unit="fan-1", airflow="front-to-back"),
        """
        met fan-1 airflow: the new part moves air front-to-back, as it must
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at before:1 before:2
        """,
    )
    same_text(
        replaced(*fits, unit="fan-1", airflow="back-to-front"),
        """
        unmet fan-1 airflow: the new part moves air back-to-front, and the chassis front-to-back
          measured back-to-front; limit front-to-back; source one direction in a chassis, common practice
          do: get a part with the right airflow mark
          at before:1 before:2
        """,
    )
    same_text(
        replaced(fits[0], fan(2, airflow="back-to-front"), unit="fan-1", airflow="front-to-back"),
        """
        undetermined fan-1 airflow: the units move air back-to-front and front-to-back: which way the new part must is not known
          measured front-to-back; limit back-to-front and front-to-back; source one direction in a chassis, common practice
          do: read the marks on the units
          at before:1 before:2
        """,
    )
    same_text(
        replaced(fan(1), fan(2), unit="fan-1", airflow="front-to-back"),
        """
        undetermined fan-1 airflow: the new part is front-to-back, and the airflow of the other units is not printed
          measured front-to-back
          do: compare the labels of both parts
          at before:1; advisory
        """,
    )
    rack = Acceptance(cooling=CoolingLimits(airflow="front-to-back"))
    same_text(
        replaced(fan(1), fan(2), unit="fan-1", airflow="front-to-back", acceptance=rack),
        """
        met fan-1 airflow: the new part moves air front-to-back, as it must
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at before:1
        """,
    )
    same_text(
        replaced(*fits, unit="fan-1", airflow="back-to-front", acceptance=rack),
        """
        unmet fan-1 airflow: the new part moves air back-to-front, and the rack needs front-to-back
          measured back-to-front; limit front-to-back; source acceptance
          do: get a part with the right airflow mark
          at before:1 before:2
        """,
    )
    gone = fan(2, ABSENT, airflow="back-to-front")
    same_text(
        replaced(fits[0], gone, unit="fan-1", airflow="front-to-back"),
        """
        met fan-1 airflow: the new part moves air front-to-back, as it must
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at before:1
        """,
    )
    peer_seen = {"fan-1.airflow": "front-to-back", "fan-2.airflow": "front-to-back"}
    same_text(
        part.replacement(asked(fan(1), fan(2), unit="fan-1", seen=peer_seen)),
        """
        met fan-1 airflow: the new part moves air front-to-back, as it must
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at before:2
        """,
    )


def test_what_is_said_of_the_serial() -> None:
    one, two = supply(1, serial="SB1101"), supply(2, serial="SB2201")
    same_text(
        replaced(one, two, serial="SB3301"),
        """
        met psu-2 serial: the new part is SB3301, which is fitted nowhere in this chassis
          measured SB3301
          at before:1 before:2
        """,
    )
    same_text(
        replaced(one, two, serial="sb1101"),
        """
        unmet psu-2 serial: the label says sb1101, but that is the part that sits in psu-1
          measured sb1101
          do: see which part is in your hand, and read its own label
          at before:1
        """,
    )
    same_text(
        replaced(one, two, serial="SB2201"),
        """
        unmet psu-2 serial: the label says SB2201, but that is the part that is to come out
          measured SB2201
          do: see which part is in your hand, and read its own label
          at before:2
        """,
    )
    same_text(
        replaced(one, two, serial="n/a"),
        """
        undetermined psu-2 serial: `n/a` is no serial
          measured n/a
          do: read the label again
          at before:2
        """,
    )
    same_text(
        replaced(one, supply(2), serial="SB3301"),
        """
        undetermined psu-2 serial: the new part is SB3301, and the serial of psu-2 is not printed
          measured SB3301
          do: compare the labels of both parts
          at before:2
        """,
    )
    same_text(
        replaced(supply(1), supply(2), serial="SB3301"),
        """
        undetermined psu-2 serial: the new part is SB3301, and the serial of psu-2 is not printed
          measured SB3301
          do: compare the labels of both parts
          at before:2; advisory
        """,
    )
    same_text(
        replaced(one, supply(2, 0, condition=FAILED), serial="SB3301"),
        """
        met psu-2 serial: the new part is SB3301, which is fitted nowhere in this chassis
          measured SB3301
          at before:1
        """,
    )
    same_text(
        replaced(one, two, supply(3, condition=ABSENT), serial="SB3301"),
        """
        met psu-2 serial: the new part is SB3301, which is fitted nowhere in this chassis
          measured SB3301
          at before:1 before:2
        """,
    )
    same_text(
        replaced(two, one, fan(1), serial="SB3301"),
        """
        met psu-2 serial: the new part is SB3301, which is fitted nowhere in this chassis
          measured SB3301
          at before:1 before:2
        """,
    )


def test_what_is_said_of_the_part_itself() -> None:
    same_text(
        replaced(supply(1), supply(2), damage="none", contents="complete"),
        """
        met psu-2 damage: the new part shows no damage
          measured none
          at before:2
        met psu-2 contents: all that belongs to the new part is there
          measured complete
          at before:2; advisory
        """,
    )
    same_text(
        replaced(supply(1), supply(2), damage="found", contents="missing"),
        """
        unmet psu-2 damage: the new part is damaged
          measured found
          do: get a sound part before anything is pulled
          at before:2
        unmet psu-2 contents: something that belongs to the new part is missing
          measured missing
          do: see whether the swap can be done without it
          at before:2; advisory
        """,
    )


# ---- a stack


@pytest.mark.parametrize(
    ("label", "kept"),
    [
        ("psu-2/1", True),
        ("psu-1/1", False),
        ("psu-1", True),
        ("fan-1", True),
        ("fan-1/2", False),
        ("member-2", True),
        ("member-1", False),
        ("chassis", True),
        (None, True),
    ],
)
def test_of_a_stack_only_the_own_member_counts(label: str | None, kept: bool) -> None:
    stack = snapshot(Temperature(unit=label, name="x"))
    assert bool(own_chassis(stack, "psu-2/1").sightings) is kept
    assert own_chassis(stack, "psu-2") is stack
