"""Fans and air after a swap: each limit at, just below and just above it, and every sentence whole."""

from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from support import case, q, snapshot, still
from wholly_told import ABSENT, FAILED, OK, STANDBY, UNTOLD, WARNING, printed, same_text

from consolecheck.judging.acceptance import Acceptance, CoolingLimits
from consolecheck.judging.rules import air, cooling
from consolecheck.judging.view import Case, Draft, Observed
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import (
    AnyReading,
    Condition,
    Fan,
    Inventory,
    PowerSupply,
    Sighting,
    Temperature,
)

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED


def fan(number: int | str, rpm: float | None = 8000, duty: float | None = None, **more: object) -> Fan:
    return Fan(
        unit=f"fan-{number}",
        speed=None if rpm is None else q(f"{rpm} rpm"),
        speed_percent=None if duty is None else q(f"{duty} %"),
        **({"condition": OK} | more),
    )


def rotor(name: str, condition: Condition | None = OK, unit: str | None = None, **more: object) -> Fan:
    return Fan(unit=unit, name=name, condition=condition, **more)


def now(*readings: AnyReading | Sighting, unit: str = "fan-1", acceptance: Acceptance | None = None) -> Case:
    return still(*readings, unit=unit, acceptance=acceptance)


def swapped(
    before: Sequence[AnyReading],
    after: Sequence[AnyReading | Sighting],
    unit: str = "fan-1",
    acceptance: Acceptance | None = None,
) -> Case:
    return case(snapshot(*before), snapshot(*after), unit, acceptance)


# ---- present and ok


def test_what_is_said_of_modules_and_rotors() -> None:
    def status(*rows: AnyReading, unit: str = "fan-1") -> Iterable[Draft]:
        judged = now(*rows, unit=unit)
        return cooling.status(judged.after, judged)

    same_text(
        status(fan(1), fan(2)),
        """
        met fan-1: fan-1 is present and ok
          measured ok
          at after:1; of fan-1
        met fan-2: fan-2 is present and ok
          measured ok
          at after:2; of fan-2
        """,
    )
    same_text(
        status(fan(2)),
        """
        undetermined fan-1: nothing about fan-1 stands in the text
          do: capture the table that shows fan-1
          at after:1; of fan-1
        met fan-2: fan-2 is present and ok
          measured ok
          at after:1; of fan-2
        """,
    )
    same_text(
        status(fan(2), fan(3)),
        """
        undetermined fan-1: nothing about fan-1 stands in the text
          do: capture the table that shows fan-1
          at after:2; of fan-1
        met fan-2: fan-2 is present and ok
          measured ok
          at after:1; of fan-2
        met fan-3: fan-3 is present and ok
          measured ok
          at after:2; of fan-3
        """,
    )
    same_text(
        status(unit="fan-1"),
        """
        undetermined fan-1: nothing about fan-1 stands in the text
          do: capture the table that shows fan-1
          at after:1; of fan-1
        """,
    )
    same_text(
        status(PowerSupply(unit="psu-1"), unit="psu-1"),
        """
        undetermined fans: no fan stands in the text
          do: no command that is read of this device family shows it: look at the device
          at no line
        """,
    )
    same_text(
        status(fan(1, condition=STANDBY), fan(2, condition=UNTOLD, status_text="hm"), fan(3, condition=None)),
        """
        undetermined fan-1: fan-1 is in standby
          measured standby; source RFC 4268: hot standby is a healthy state
          at after:1; of fan-1
        undetermined fan-2: the status `hm` of fan-2 is not known
          measured hm
          do: look at the unit itself
          at after:2; of fan-2
        undetermined fan-3: no status of fan-3 was printed
          do: look at the unit itself
          at after:3; of fan-3
        """,
    )
    same_text(
        status(fan(1, condition=FAILED, status_text="dead"), fan(2, condition=ABSENT), fan(3, condition=WARNING)),
        """
        unmet fan-1: fan-1 has failed (`dead`)
          measured dead
          do: replace the unit and judge again
          at after:1; of fan-1
        unmet fan-2: fan-2 is absent
          measured absent
          do: seat the unit in its slot until it latches, then capture again
          at after:2; of fan-2
        unmet fan-3: fan-3 reports a warning
          measured warning
          at after:3; of fan-3
        """,
    )
    loose = (rotor("tray a"), rotor("tray b", FAILED), rotor("tray c", None), rotor("tray d", STANDBY))
    same_text(
        status(*loose, rotor("tray e", UNTOLD, status_text="hm"), unit="psu-1"),
        """
        undetermined fans: no fan stands in the text
          do: no command that is read of this device family shows it: look at the device
          at no line
        met tray a: tray a is ok
          measured ok
          at after:1
        unmet tray b: tray b is failed (`failed`)
          measured failed
          at after:2
        undetermined tray c: no status of tray c was printed
          at after:3
        undetermined tray d: tray d stands by (`standby`): whether it turns is not told
          measured standby
          at after:4
        undetermined tray e: the status `hm` of tray e is not known
          measured hm
          at after:5
        """,
    )
    inside = rotor("fan", WARNING, "psu-1", status_text="slow"), rotor("fan", OK, "psu-2")
    same_text(
        status(*inside, unit="psu-1"),
        """
        unmet psu-1 fan: psu-1 fan is warning (`slow`)
          measured slow
          at after:1; of psu-1
        met psu-2 fan: psu-2 fan is ok
          measured ok
          at after:2; of psu-2
        """,
    )


# ---- the device's own limits


@pytest.mark.parametrize(
    ("rpm", "said"),
    [
        (1000, "at or below its low critical limit"),
        (1000.1, "at or below its low warning limit"),
        (2000, "at or below its low warning limit"),
        (2000.1, ""),
        (18999.9, ""),
        (19000, "at or above its warning limit"),
        (19999.9, "at or above its warning limit"),
        (20000, "at or above its critical limit"),
    ],
)
def test_equality_trips(rpm: float, said: str) -> None:
    limits = {"low_critical": 1000, "low_warning": 2000, "high_warning": 19000, "high_critical": 20000}
    bounds: dict[str, Any] = {k: q(f"{v} rpm") for k, v in limits.items()}
    judged = now(fan(1, rpm, **bounds))
    (only,) = cooling.limits(judged.after, judged)
    assert (only.outcome, said in only.message) == (UNMET if said else MET, True)
    assert only.at_low_end is said.startswith("at or below")


def test_what_is_said_of_own_limits() -> None:
    def limits(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return cooling.limits(judged.after, judged)

    low: dict[str, Any] = {"low_critical": q("1000 rpm")}
    same_text(
        limits(fan(1, 8000.1234567, **low), fan(2, 9000, **low), fan(3, 9000, **low)),
        """
        met fan-1: fan-1 reads 8000.12 rpm, 7000.12 rpm from its limit of 1000 rpm; 2 others with more room
          measured 8000.1234567 rpm; limit 1000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 7000.123457 rpm
          at after:1
        """,
    )
    same_text(
        limits(fan(1, 8000, **low), fan(2, 7000, **low)),
        """
        met fan-2: fan-2 reads 7000 rpm, 6000 rpm from its limit of 1000 rpm; 1 other with more room
          measured 7000 rpm; limit 1000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 6000 rpm
          at after:2
        """,
    )
    both: dict[str, Any] = {"low_warning": q("2000 rpm"), "high_warning": q("10000 rpm")}
    same_text(
        limits(fan(1, 6000, **both)),
        """
        met fan-1: fan-1 reads 6000 rpm, 4000 rpm from its limit of 10000 rpm
          measured 6000 rpm; limit 10000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 4000 rpm
          at after:1
        """,
    )
    same_text(
        limits(fan(1, 5999, **both)),
        """
        met fan-1: fan-1 reads 5999 rpm, 3999 rpm from its limit of 2000 rpm
          measured 5999 rpm; limit 2000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 3999 rpm
          at after:1
        """,
    )
    same_text(
        limits(fan(1, 6001, **both)),
        """
        met fan-1: fan-1 reads 6001 rpm, 3999 rpm from its limit of 10000 rpm
          measured 6001 rpm; limit 10000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 3999 rpm
          at after:1
        """,
    )
    # Least room in its own scale: 500 of 10000 rpm is closer than 400 of 1000.
    wide, near = fan(1, 9500, high_warning=q("10000 rpm")), fan(2, 1400, low_warning=q("1000 rpm"))
    same_text(
        limits(wide, near),
        """
        met fan-1: fan-1 reads 9500 rpm, 500 rpm from its limit of 10000 rpm; 1 other with more room
          measured 9500 rpm; limit 10000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 500 rpm
          at after:1
        """,
    )
    same_text(
        limits(fan(1, 100, low_critical=q("0 rpm")), fan(2, 1400, **low)),
        """
        met fan-2: fan-2 reads 1400 rpm, 400 rpm from its limit of 1000 rpm; 1 other with more room
          measured 1400 rpm; limit 1000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 400 rpm
          at after:2
        """,
    )
    crossed: dict[str, Any] = {"low_critical": q("2000 rpm"), "low_warning": q("1000 rpm")}
    same_text(
        limits(fan(1, 8000, **crossed)),
        """
        undetermined fan-1: the limits of fan-1 are not in order, so its row was not rightly read
          measured 8000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading)
          at after:1; of fan-1
        """,
    )
    same_text(
        limits(fan(1, 8000, low_critical=q("1000 rpm"), low_warning=q("1000 rpm"))),
        """
        met fan-1: fan-1 reads 8000 rpm, 7000 rpm from its limit of 1000 rpm
          measured 8000 rpm; limit 1000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 7000 rpm
          at after:1
        """,
    )
    same_text(
        limits(fan(1, None, **low)),
        """
        undetermined fan-1: fan-1 has limits but no reading
          source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading)
          at after:1; of fan-1
        """,
    )
    same_text(limits(fan(1, None, condition=FAILED, **low)), "")
    at = printed(fan(1, 900, **low), 4, unit="fan-1", speed="900")
    same_text(
        limits(at),
        """
        unmet fan-1: fan-1 reads 900 rpm, at or below its low critical limit of 1000 rpm
          measured 900 rpm; limit 1000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin -100 rpm
          at after:4[6-9]; of fan-1; at the low end
        """,
    )


def test_a_fan_that_stands_still() -> None:
    def limits(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return cooling.limits(judged.after, judged)

    same_text(
        limits(fan(1, 0)),
        """
        unmet fan-1: fan-1 stands still
          measured 0 rpm
          at after:1; of fan-1
        """,
    )
    same_text(limits(fan(1, 0.1), fan(2, 1)), "")
    same_text(
        limits(printed(fan(1, None, 0), 4, unit="fan-1", speed_percent="0")),
        """
        unmet fan-1: fan-1 stands still
          measured 0 %
          at after:4[6-7]; of fan-1
        """,
    )
    same_text(
        limits(printed(fan(1, 0, 50), 4, unit="fan-1", speed="0", speed_percent="50")),
        """
        unmet fan-1: fan-1 stands still
          measured 0 rpm
          at after:4[6-7]; of fan-1
        """,
    )
    same_text(limits(fan(1, 0, condition=ABSENT)), "")
    same_text(
        limits(fan(1, 0, low_warning=q("2000 rpm"))),
        """
        unmet fan-1: fan-1 reads 0 rpm, at or below its low warning limit of 2000 rpm
          measured 0 rpm; limit 2000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin -2000 rpm
          at after:1; of fan-1; at the low end
        """,
    )
    same_text(
        limits(fan(1, 0, high_warning=q("2000 rpm"))),
        """
        met fan-1: fan-1 reads 0 rpm, 2000 rpm from its limit of 2000 rpm
          measured 0 rpm; limit 2000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 2000 rpm
          at after:1
        unmet fan-1: fan-1 stands still
          measured 0 rpm
          at after:1; of fan-1
        """,
    )
    same_text(
        limits(fan(1, 0), Temperature(name="asic", value=q("0 C"))),
        """
        unmet fan-1: fan-1 stands still
          measured 0 rpm
          at after:1; of fan-1
        """,
    )


# ---- beside its peers


@pytest.mark.parametrize(("rpm", "fits"), [(6000, True), (5999, False), (10000, True), (10001, False)])
def test_a_quarter_beside_the_peers(rpm: float, fits: bool) -> None:
    """Their median is 8000 rpm."""
    judged = now(fan(1), fan(2), fan(3, rpm), fan(4))
    assert [d.subject for d in cooling.peers(judged.after, judged)] == ([] if fits else ["fan-3"])


def test_what_is_said_of_a_fan_beside_its_peers() -> None:
    judged = now(fan(1, 8000.16), fan(2, 8000.16), fan(3, 12000))
    same_text(
        cooling.peers(judged.after, judged),
        """
        unmet fan-3: fan-3 turns at 12000 rpm, +50 % from its peers' 8000.16
          measured 12000 rpm; limit 8000.2 rpm; source 25 % of the peers' median, common practice
          at after:3; of fan-3
        """,
    )
    # Two have no majority, fans that stand are no measure, and those of another make are not compared.
    for rows in (
        (fan(1), fan(2, 2000)),
        (fan(1), fan(2), fan(3, 0)),
        (fan(1), fan(2, 2000), rotor("front", speed=q("3000 rpm"))),
    ):
        judged = now(*rows)
        assert list(cooling.peers(judged.after, judged)) == []


# ---- the duty


@pytest.mark.parametrize(("rpm", "outcome"), [(6400, MET), (6399, UNMET), (9600, MET), (9601, UNMET)])
def test_a_fifth_of_what_the_duty_asks(rpm: float, outcome: Outcome) -> None:
    judged = now(fan(1, 8000, 50), fan(2, 8000, 50), fan(3, rpm, 50))
    assert [d.outcome for d in cooling.duty(judged.after, judged) if d.subject == "fan-3"] == [outcome]


def test_what_is_said_of_the_duty() -> None:
    def duty(*rows: AnyReading | Sighting, unit: str = "fan-1") -> Iterable[Draft]:
        judged = now(*rows, unit=unit)
        return cooling.duty(judged.after, judged)

    same_text(
        duty(fan(1, 8000, 50), fan(2, 8100.123, 50), fan(3, 4000, 25)),
        """
        met fan-2: fan-2 turns at 8100.12 rpm for a duty of 50 % (+1 % of what it asks; 2 others closer)
          measured 8100.123 rpm; limit 8000 rpm; source 20 %, common practice; margin 18.75 %
          at after:2; of fan-2
        """,
    )
    same_text(
        duty(fan(1, 8000, 50), fan(2, 8000, 50)),
        """
        met fan-1: fan-1 turns at 8000 rpm for a duty of 50 % (+0 % of what it asks; 1 other closer)
          measured 8000 rpm; limit 8000 rpm; source 20 %, common practice; margin 20 %
          at after:1; of fan-1
        """,
    )
    same_text(
        duty(fan(2, 8000, 50), fan(1, 4000.16, 50), fan(3, 8000.3, 50)),
        """
        undetermined fan-1: fan-1 turns at 4000.16 rpm for a duty of 50 % (-50 % of what it asks): half or double, as a tachometer with another number of pulses reads
          measured 4000.16 rpm; limit 8000 rpm; source 20 %, common practice; margin -30 %
          do: look at the part number, and hear whether it turns like the others
          at after:2; of fan-1
        """,
    )
    same_text(
        duty(fan(2, 8000, 50), fan(1, 4000, 50), fan(3, 8000, 50), unit="fan-2"),
        """
        unmet fan-1: fan-1 turns at 4000 rpm for a duty of 50 % (-50 % of what it asks)
          measured 4000 rpm; limit 8000 rpm; source 20 %, common practice; margin -30 %
          at after:2; of fan-1
        """,
    )
    same_text(duty(fan(1, 8000, 50)), "")
    (only,) = duty(*(fan(n, 8100.12, 50) for n in (1, 2, 3)))
    assert only.limit == q("8100.1 rpm")
    same_text(duty(fan(1, 8000, 50), fan(2, 8000)), "")
    same_text(duty(fan(1, 8000, 50), fan(2, 8000, 0)), "")
    same_text(
        duty(fan(1, 8000, 50), fan(2, 8000, 0.5), fan(3, 8000, 50)),
        """
        unmet fan-2: fan-2 turns at 8000 rpm for a duty of 0.5 % (+9900 % of what it asks)
          measured 8000 rpm; limit 80 rpm; source 20 %, common practice; margin -9880 %
          at after:2; of fan-2
        """,
    )
    at = printed(fan(2, 8001, 50), 9, unit="fan-2", speed="8001")
    same_text(
        duty(fan(1, 8000, 50), at, fan(3, 8000, 50)),
        """
        met fan-2: fan-2 turns at 8001 rpm for a duty of 50 % (+0 % of what it asks; 2 others closer)
          measured 8001 rpm; limit 8000 rpm; source 20 %, common practice; margin 19.99 %
          at after:9[6-10]; of fan-2
        """,
    )
    # Fans of another make do not stop it: each group is judged.
    loose = rotor("front", speed=q("3000 rpm"), speed_percent=q("50 %"))
    same_text(
        duty(loose, fan(1, 8000, 50), fan(2, 8000, 50), fan(3, 2000, 50), unit="psu-1"),
        """
        unmet fan-3: fan-3 turns at 2000 rpm for a duty of 50 % (-75 % of what it asks)
          measured 2000 rpm; limit 8000 rpm; source 20 %, common practice; margin -55 %
          at after:4; of fan-3
        """,
    )


@pytest.mark.parametrize(
    ("rpm", "outcome"),
    [
        (3679, UNMET),
        (3680, UNDETERMINED),
        (4000, UNDETERMINED),
        (4320, UNDETERMINED),
        (4321, UNMET),
        (15679, UNMET),
        (15680, UNDETERMINED),
        (16000, UNDETERMINED),
        (16320, UNDETERMINED),
        (16321, UNMET),
    ],
)
def test_half_and_double_are_another_tachometer(rpm: float, outcome: Outcome) -> None:
    """Within four percent of 8000: half is 3680 to 4320, double 15680 to 16320."""
    judged = now(fan(1, rpm, 50), fan(2, 8000, 50), fan(3, 8000, 50))
    assert [d.outcome for d in cooling.duty(judged.after, judged) if d.subject == "fan-1"] == [outcome]


# ---- the baseline


@pytest.mark.parametrize(
    ("before", "after", "outcome"),
    [
        # Without a duty: against what it turned, a quarter.
        ((8000, None), (6000, None), MET),
        ((8000, None), (5999, None), UNMET),
        ((8000, None), (16000, None), MET),
        # With a duty: against what it turned, in proportion.
        ((8000, 50), (12000, 100), MET),
        ((8000, 50), (11999, 100), UNMET),
        ((8000, 50), (3000, 25), MET),
        ((8000, 50), (2999, 25), UNMET),
        # A duty of nothing, or on one side only, is no measure.
        ((8000, 0), (6000, 50), MET),
        ((8000, None), (6000, 50), MET),
        ((8000, 50), (6000, None), MET),
    ],
)
def test_a_quarter_slower_than_it_was(
    before: tuple[float, float | None], after: tuple[float, float | None], outcome: Outcome
) -> None:
    (only,) = cooling.against_baseline(swapped([fan(2, *before)], [fan(2, *after)]))
    assert only.outcome is outcome


def test_what_is_said_against_the_baseline() -> None:
    base = cooling.against_baseline
    same_text(
        base(swapped([fan(1, 8000), fan(2, 8000)], [fan(1, 7900), fan(2, 7899.123)])),
        """
        met fan-2: fan-2 turns at 7899.12 rpm, -1 % from its baseline; of 2 it lost most
          measured 7899.123 rpm; limit 8000 rpm; source 25 % below, common practice; margin 23.74 %
          at after:2 before:2; of fan-2; advisory
        """,
    )
    same_text(
        base(swapped([fan(1, 8000), fan(2, 8000)], [fan(1, 7899.123), fan(2, 7900)])),
        """
        met fan-1: fan-1 turns at 7899.12 rpm, -1 % from its baseline; of 2 it lost most
          measured 7899.123 rpm; limit 8000 rpm; source 25 % below, common practice; margin 23.74 %
          at after:1 before:1; of fan-1; advisory
        """,
    )
    same_text(
        base(swapped([fan(2, 8000.16)], [fan(2, 4000.123)])),
        """
        unmet fan-2: fan-2 turns at 4000.12 rpm, -50 % from its baseline
          measured 4000.123 rpm; limit 8000.2 rpm; source 25 % below, common practice; margin -25 %
          at after:1 before:1; of fan-2; advisory
        """,
    )
    same_text(
        base(swapped([fan(2, 8000, 50)], [fan(2, 4000, 50)])),
        """
        unmet fan-2: fan-2 turns at 4000 rpm, -50 % from its baseline at this duty
          measured 4000 rpm; limit 8000 rpm; source 25 % below, common practice; margin -25 %
          at after:1 before:1; of fan-2
        """,
    )
    same_text(
        base(swapped([fan(1, 8000)], [fan(1, 4000)])),
        """
        undetermined fan-1: fan-1 turns at 4000 rpm, -50 % from its baseline: half or double, as a tachometer with another number of pulses reads
          measured 4000 rpm; limit 8000 rpm; source 25 % below, common practice; margin -25 %
          do: look at the part number, and hear whether it turns like the others
          at after:1 before:1; of fan-1; advisory
        """,
    )
    same_text(
        base(swapped([fan(1, None, 40)], [printed(fan(1, None, 39), 3, unit="fan-1", speed_percent="39")])),
        """
        met fan-1: fan-1 turns at 39 %, -2 % from its baseline; of 1 it lost most
          measured 39 %; limit 40 %; source 25 % below, common practice; margin 22.5 %
          at after:3[6-8] before:1; of fan-1; advisory
        """,
    )
    same_text(
        base(swapped([fan(1, 8000, 40)], [printed(fan(1, 8000, 39), 3, speed="8000", speed_percent="39")])),
        """
        met fan-1: fan-1 turns at 8000 rpm, +3 % from its baseline at this duty; of 1 it lost most
          measured 8000 rpm; limit 7800 rpm; source 25 % below, common practice; margin 27.56 %
          at after:3[0-4] before:1; of fan-1
        """,
    )
    # What cannot be compared is not: no speed, another unit of it, a fan that stood.
    same_text(
        base(swapped([fan(1, None), fan(2, 8000), fan(3, 0)], [fan(1, 8000), fan(2, None, 50), fan(3, 8000)])), ""
    )
    same_text(
        base(swapped([fan(3, 0), fan(2, 8000)], [fan(3, 8000), fan(2, 8000)])),
        """
        met fan-2: fan-2 turns at 8000 rpm, +0 % from its baseline; of 1 it lost most
          measured 8000 rpm; limit 8000 rpm; source 25 % below, common practice; margin 25 %
          at after:2 before:2; of fan-2; advisory
        """,
    )
    same_text(
        base(swapped([fan(1, 1), fan(2, 8000)], [fan(4, 1), fan(1, 1)])),
        """
        met fan-1: fan-1 turns at 1 rpm, +0 % from its baseline; of 1 it lost most
          measured 1 rpm; limit 1 rpm; source 25 % below, common practice; margin 25 %
          at after:2 before:1; of fan-1; advisory
        """,
    )


def test_a_fan_that_follows_cooler_air_is_only_told() -> None:
    """Without a duty a slower fan counts only where it falls behind at least two peers by more than a quarter."""
    was = [fan(n, 8000) for n in (2, 3, 4)]

    def told(*rpm: float) -> list[tuple[str, Outcome, bool]]:
        after = [fan(n, value) for n, value in zip((2, 3, 4), rpm, strict=False)]
        return [
            (d.subject, d.outcome, not d.advisory)
            for d in cooling.against_baseline(swapped(was, [*after]))
            if d.outcome is not MET
        ]

    assert told(4000, 4000, 4000) == [(f"fan-{n}", UNMET, False) for n in (2, 3, 4)]
    assert told(4000, 8000, 8000) == [("fan-2", UNMET, True)]
    assert told(5999, 7998, 8000) == [("fan-2", UNMET, False)]  # 25.0 % behind the median of 7998
    assert told(5998, 7998, 8000) == [("fan-2", UNMET, True)]
    assert told(4000, 8000) == [("fan-2", UNMET, False)]  # of two none is the measure


# ---- the air's way


FRONT, BACK = "front-to-back", "back-to-front"


def air_of(
    *rows: AnyReading | Sighting, unit: str = "fan-1", rack: str | None = None, seen: dict[str, str] | None = None
) -> Iterable[Draft]:
    limits = Acceptance(cooling=CoolingLimits(airflow=rack))
    text = snapshot(*rows)
    observed = tuple(Observed(u, "airflow", v) for u, v in (seen or {}).items())
    judged = case(text, text, unit, limits, observed)
    return cooling.airflow(judged.after, judged)


def test_what_is_said_of_the_airs_way() -> None:
    front: dict[str, Any] = {"airflow": FRONT}
    back: dict[str, Any] = {"airflow": BACK}
    same_text(
        air_of(fan(1, **front), printed(fan(2, **front), 8, unit="fan-2", airflow="F-B")),
        """
        met airflow: 2 units move air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:1 after:8[6-9]
        """,
    )
    same_text(
        air_of(fan(1, **front)),
        """
        met airflow: 1 unit moves air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:1
        """,
    )
    same_text(
        air_of(fan(1, **front), fan(2, **front), fan(3, **back)),
        """
        unmet fan-3: fan-3 moves air back-to-front, the others move it front-to-back
          measured back-to-front; limit front-to-back; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:3; of fan-3
        """,
    )
    same_text(
        air_of(fan(1, **back), fan(2, **front)),
        """
        unmet fan-1: fan-1 moves air back-to-front, the others move it front-to-back
          measured back-to-front; limit front-to-back; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:1; of fan-1
        """,
    )
    same_text(
        air_of(fan(2, **front), fan(1, **back)),
        """
        unmet fan-1: fan-1 moves air back-to-front, the others move it front-to-back
          measured back-to-front; limit front-to-back; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:2; of fan-1
        """,
    )
    same_text(
        air_of(fan(1, **front), fan(2, **back), fan(3, **front), fan(4, **back), unit="psu-1"),
        """
        unmet fan-2: fan-2 moves air back-to-front, the others move it front-to-back
          measured back-to-front; limit front-to-back; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:2; of fan-2
        unmet fan-4: fan-4 moves air back-to-front, the others move it front-to-back
          measured back-to-front; limit front-to-back; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:4; of fan-4
        """,
    )
    same_text(
        air_of(fan(1, **back), fan(2, **front), fan(3, **back)),
        """
        unmet fan-2: fan-2 moves air front-to-back, the others move it back-to-front
          measured front-to-back; limit back-to-front; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:2; of fan-2
        """,
    )
    same_text(
        air_of(fan(1, **back), fan(2, **front), rack=BACK),
        """
        unmet fan-2: fan-2 moves air front-to-back, the rack needs back-to-front
          measured front-to-back; limit back-to-front; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:2; of fan-2
        """,
    )
    same_text(
        air_of(fan(1, **front), fan(2, **front), rack=BACK),
        """
        unmet fan-1: fan-1 moves air front-to-back, the rack needs back-to-front
          measured front-to-back; limit back-to-front; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:1; of fan-1
        unmet fan-2: fan-2 moves air front-to-back, the rack needs back-to-front
          measured front-to-back; limit back-to-front; source one direction in a chassis, common practice
          do: fit a part with the right airflow mark
          at after:2; of fan-2
        """,
    )
    same_text(
        air_of(fan(1, **front), rack=FRONT),
        """
        met airflow: 1 unit moves air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:1
        """,
    )
    same_text(
        air_of(fan(1), fan(2, **front)),
        """
        undetermined airflow: the airflow of fan-1 is not known
          limit front-to-back
          do: read the mark on the part and state it: --seen fan-1.airflow=front-to-back
          at after:1
        """,
    )
    same_text(
        air_of(fan(1), fan(2)),
        """
        undetermined airflow: the airflow of fan-1 and fan-2 is not known
          do: read the mark on the part and state it: --seen fan-1.airflow=front-to-back
          at after:1 after:2
        """,
    )
    same_text(
        air_of(),
        """
        undetermined airflow: the airflow of the units is not known
          do: read the mark on the part and state it: --seen fan-1.airflow=front-to-back
          at after:1
        """,
    )
    same_text(
        air_of(fan(1, **front), Inventory(unit="fan-1", **back), fan(2, **front)),
        """
        unmet fan-1: fan-1 says both back-to-front and front-to-back
          do: read the airflow mark on the part
          at after:1 after:2; of fan-1
        met airflow: 1 unit moves air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:3
        """,
    )
    same_text(
        air_of(fan(1, **front), fan(2, condition=ABSENT, **back)),
        """
        met airflow: 1 unit moves air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:1
        """,
    )
    same_text(
        air_of(fan(1), fan(2, **front), seen={"fan-1": FRONT}),
        """
        met airflow: 2 units move air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:1 after:2
        """,
    )
    same_text(
        air_of(fan(1, **front), fan(2, **front), seen={"fan-1": BACK}),
        """
        unmet fan-1: fan-1 says both back-to-front and front-to-back
          do: read the airflow mark on the part
          at after:1 after:1; of fan-1
        met airflow: 1 unit moves air front-to-back
          measured front-to-back; limit front-to-back; source one direction in a chassis, common practice
          at after:2
        """,
    )


def test_words_that_can_only_be_compared() -> None:
    same_text(
        air_of(fan(1, airflow_word="red"), fan(2, airflow_word="blue")),
        """
        unmet fan-1: the units name different airflows: blue and red
          measured red; source one direction in a chassis, common practice
          do: read the airflow marks on the parts
          at after:1 after:2
        """,
    )
    same_text(
        air_of(fan(3, airflow_word="red"), fan(2, airflow_word="blue")),
        """
        unmet airflow: the units name different airflows: blue and red
          source one direction in a chassis, common practice
          do: read the airflow marks on the parts
          at after:1 after:2
        """,
    )
    same_text(
        air_of(fan(1, airflow_word="red"), fan(2, airflow_word="red")),
        """
        undetermined airflow: the airflow of fan-1 and fan-2 is not known
          do: read the mark on the part and state it: --seen fan-1.airflow=front-to-back
          at after:1 after:2
        """,
    )


# ---- the cold aisle


def aisle(*rows: AnyReading | Sighting, side: str | None = "port-side", by: str = "") -> Iterable[Draft]:
    text = snapshot(*rows)
    observed = () if side is None else (Observed("chassis", "cold_aisle", side, by),)
    judged = case(text, text, "fan-1", None, observed)
    return cooling.cold_aisle(judged.after, judged)


def test_what_is_said_of_the_cold_aisle() -> None:
    front: dict[str, Any] = {"airflow": FRONT}
    back: dict[str, Any] = {"airflow": BACK}
    same_text(aisle(fan(1, **front), side=None), "")
    same_text(
        aisle(fan(1, **front), printed(fan(2, **front), 6, unit="fan-2", airflow="F-B")),
        """
        met airflow: the port side faces the cold aisle: 2 units draw from there
          measured front-to-back; limit front-to-back; source common practice
          at after:1 after:6[6-9]
        """,
    )
    same_text(
        aisle(fan(1, **back), side="power-side", by="Petrel"),
        """
        met airflow: the power side faces the cold aisle (seen by Petrel): 1 unit draws from there
          measured back-to-front; limit back-to-front; source common practice
          at after:1
        """,
    )
    same_text(
        aisle(fan(1, **back), fan(2, **front)),
        """
        unmet airflow: the port side faces the cold aisle: fan-1 does not draw from there
          measured back-to-front and front-to-back; limit front-to-back; source common practice
          do: fit parts with the airflow mark that this rack needs, or turn the chassis round
          at after:1
        """,
    )
    same_text(
        aisle(fan(1, **back), fan(2, **back)),
        """
        unmet airflow: the port side faces the cold aisle: fan-1 and fan-2 do not draw from there
          measured back-to-front; limit front-to-back; source common practice
          do: fit parts with the airflow mark that this rack needs, or turn the chassis round
          at after:1 after:2
        """,
    )
    same_text(
        aisle(fan(1, **front), fan(2)),
        """
        undetermined airflow: the port side faces the cold aisle: the airflow of fan-2 is not known
          measured front-to-back; limit front-to-back; source common practice
          do: read the airflow mark on the part and state it
          at after:2
        """,
    )
    same_text(
        aisle(),
        """
        undetermined airflow: the port side faces the cold aisle: the airflow of the units is not known
          limit front-to-back; source common practice
          do: read the airflow mark on the part and state it
          at after:1
        """,
    )
    same_text(
        aisle(fan(1, **front), Inventory(unit="fan-1", **back)),
        """
        unmet airflow: the port side faces the cold aisle: fan-1 does not draw from there
          measured back-to-front and front-to-back; limit front-to-back; source common practice
          do: fit parts with the airflow mark that this rack needs, or turn the chassis round
          at after:1
        """,
    )


# ---- enough modules


@pytest.mark.parametrize(
    ("good", "untold", "needed", "outcome"),
    [
        (3, 0, None, MET),
        (4, 0, None, MET),
        (2, 0, None, UNMET),
        (2, 1, None, UNDETERMINED),
        (1, 1, None, UNMET),
        (3, 0, 2, MET),
        (3, 0, 3, UNMET),
        (3, 1, 3, UNDETERMINED),
        (4, 0, 3, MET),
    ],
)
def test_no_fewer_modules_than_three_before(good: int, untold: int, needed: int | None, outcome: Outcome) -> None:
    after = [fan(n) for n in range(good)] + [fan(n + 10, condition=UNTOLD) for n in range(untold)]
    limits = Acceptance(cooling=CoolingLimits(modules_needed=needed))
    (only,) = cooling.spare(swapped([fan(0), fan(1), fan(2)], [*after], acceptance=limits))
    assert only.outcome is outcome


def test_what_is_said_of_the_modules() -> None:
    three = [fan(1), fan(2), fan(3)]
    needed = Acceptance(cooling=CoolingLimits(modules_needed=1))
    same_text(
        cooling.spare(swapped([*three], [*three])),
        """
        met fan modules: 3 fan modules good, 3 expected
          measured 3; limit 3; source the baseline
          at after:1 after:2 after:3
        """,
    )
    same_text(
        cooling.spare(swapped([*three], [*three[:1]])),
        """
        unmet fan modules: 1 fan module good, 3 expected
          measured 1; limit 3; source the baseline
          at after:1; by absence of fan
        """,
    )
    same_text(
        cooling.spare(swapped([*three], [*three[:2], fan(3, condition=FAILED)])),
        """
        unmet fan modules: 2 fan modules good, 3 expected
          measured 2; limit 3; source the baseline
          at after:1 after:2 after:3
        """,
    )
    same_text(
        cooling.spare(swapped([*three], [*three[:2], fan(3, condition=STANDBY)])),
        """
        undetermined fan modules: 2 fan modules good, 3 expected, fan-3 not known
          measured 2; limit 3; source the baseline
          at after:1 after:2 after:3
        """,
    )
    same_text(
        cooling.spare(swapped([*three], [*three[:2], fan(3, condition=None)])),
        """
        undetermined fan modules: 2 fan modules good, 3 expected, fan-3 not known
          measured 2; limit 3; source the baseline
          at after:1 after:2 after:3
        """,
    )
    same_text(
        cooling.spare(swapped([fan(1, condition=FAILED), *three[1:]], [*three])),
        """
        met fan modules: 3 fan modules good, 3 expected
          measured 3; limit 3; source the baseline
          at after:1 after:2 after:3
        """,
    )
    same_text(
        cooling.spare(swapped([fan(1, condition=FAILED), *three[1:]], [*three[1:], fan(1, condition=FAILED)])),
        """
        unmet fan modules: 2 fan modules good, 3 expected
          measured 2; limit 3; source the baseline
          at after:1 after:2 after:3
        """,
    )
    same_text(
        cooling.spare(swapped([fan(1, condition=FAILED), *three[1:]], [*three[1:]], unit="psu-1")),
        """
        met fan modules: 2 fan modules good, 2 expected
          measured 2; limit 2; source the baseline
          at after:1 after:2; by absence of fan
        """,
    )
    same_text(
        cooling.spare(swapped([*three[:1]], [*three[:1]], acceptance=needed)),
        """
        unmet fan modules: 1 fan module good, 2 expected
          measured 1; limit 2; source acceptance
          at after:1
        """,
    )
    same_text(
        cooling.spare(swapped([], [*three[:1]])),
        """
        undetermined fan modules: 1 fan module good, and how many there should be is not known
          measured 1
          do: state how many suffice in the acceptance: [cooling] modules_needed
          at after:1
        """,
    )
    same_text(
        cooling.spare(swapped([], [*three], unit="psu-1")),
        """
        undetermined fan modules: 3 fan modules good, and how many there should be is not known
          measured 3
          do: state how many suffice in the acceptance: [cooling] modules_needed
          at after:1 after:2 after:3; advisory
        """,
    )
    same_text(
        cooling.spare(swapped([], [fan(1, condition=FAILED)])),
        """
        undetermined fan modules: 0 fan modules good, and how many there should be is not known
          measured 0
          do: state how many suffice in the acceptance: [cooling] modules_needed
          at after:1
        """,
    )
    same_text(
        cooling.spare(swapped([], [*three[:1]], acceptance=needed)),
        """
        unmet fan modules: 1 fan module good, 2 expected
          measured 1; limit 2; source acceptance
          at after:1
        """,
    )
    same_text(cooling.spare(swapped([], [rotor("fan", unit="psu-1")])), "")
    same_text(
        cooling.spare(swapped([rotor("fan", unit="psu-1")], [*three[:1]])),
        """
        undetermined fan modules: 1 fan module good, and how many there should be is not known
          measured 1
          do: state how many suffice in the acceptance: [cooling] modules_needed
          at after:1
        """,
    )
    same_text(
        cooling.spare(swapped([*three[:1]], [rotor("fan", unit="psu-1")])),
        """
        unmet fan modules: 0 fan modules good, 1 expected
          measured 0; limit 1; source the baseline
          at after:1; by absence of fan
        """,
    )


# ---- the heat that the air takes away


def balance(*rows: AnyReading | Sighting, full_flow: float | None = 298, altitude: float = 0) -> Iterable[Draft]:
    limits = Acceptance.model_validate({"cooling": {"full_flow": full_flow}, "temperature": {"altitude": altitude}})
    judged = now(*rows, acceptance=limits)
    return air.heat_balance(judged.after, judged)


def heated(outlet: float, *more: AnyReading, inlet: float = 20) -> list[AnyReading]:
    return [
        PowerSupply(unit="psu-1", condition=OK, output_power=q("500 W")),
        fan(1, 8000, 50),
        Temperature(name="inlet", value=q(f"{inlet} C")),
        Temperature(name="outlet", value=q(f"{outlet} C")),
        *more,
    ]


def test_what_air_takes_away() -> None:
    """2.98 m3/h for a watt and a kelvin, at sea level; standard atmosphere, ISO 2533: 0.864 at 1500 m."""
    assert air.air_rise(500, 149) == pytest.approx(10)
    assert air.density_ratio(0) == 1
    assert air.density_ratio(1500) == pytest.approx(0.864, abs=5e-4)
    assert air.density_ratio(3000) == pytest.approx(0.742, abs=5e-4)
    assert air.air_rise(500, 149, 1500) == pytest.approx(10 / 0.864, rel=1e-3)


@pytest.mark.parametrize(
    ("outlet", "outcome"), [(25, MET), (24.99, UNDETERMINED), (40, MET), (40.01, UNDETERMINED), (30, MET)]
)
def test_within_a_factor_of_two(outlet: float, outcome: Outcome) -> None:
    """500 W at half of 298 m3/h make 10 K."""
    (only,) = balance(*heated(outlet))
    assert only.outcome is outcome


def test_what_is_said_of_the_heat_balance() -> None:
    same_text(
        balance(*heated(30.12345)),
        """
        met outlet: the air warms by 10.1 K; 500 W at this flow make about 10.0 K
          measured 10.12 Cel; limit 10 Cel; source sensible heat, within a factor of 2 (common practice)
          at after:4
        """,
    )
    same_text(
        balance(*heated(50)),
        """
        undetermined outlet: the air warms by 30.0 K; 500 W at this flow make about 10.0 K
          measured 30 Cel; limit 10 Cel; source sensible heat, within a factor of 2 (common practice)
          do: capture again; then look for a blank that is missing and for fans that blow the other way
          at after:4
        """,
    )
    same_text(
        balance(*heated(30), altitude=1500),
        """
        met outlet: the air warms by 10.0 K; 500 W at this flow make about 11.6 K
          measured 10 Cel; limit 11.58 Cel; source sensible heat, within a factor of 2 (common practice)
          at after:4
        """,
    )
    more = (
        Temperature(name="inlet rear", value=q("22 C")),
        Temperature(name="exhaust", unit="fan-2", value=q("31 C")),
        fan(2, 8000, 50),
        fan(3, 8000, 100),
        fan(4, 0, 0),
    )
    same_text(
        balance(*heated(30, *more)),
        """
        met fan-2 exhaust: the air warms by 10.0 K; 500 W at this flow make about 10.0 K
          measured 10 Cel; limit 10 Cel; source sensible heat, within a factor of 2 (common practice)
          at after:6; of fan-2
        """,
    )
    for missing in range(4):
        rows = heated(30)
        del rows[missing]
        assert list(balance(*rows)) == [], missing
    assert list(balance(*heated(30), full_flow=None)) == []
