"""What is doubted of a text, and of the switch's work: each limit at, just below and just above it, sentences whole."""

from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from support import case, q, sighted, snapshot
from wholly_told import ABSENT, FAILED, NO_INPUT, OK, STANDBY, UNTOLD, WARNING, printed, same_text

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.rules import figures, plausible, service, text
from consolecheck.judging.view import Case, Draft, Sample
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
    TableSeen,
    Temperature,
)
from consolecheck.records.text import UnreadLine

SHORT = {"vin": "input_voltage", "iin": "input_current", "pin": "input_power", "vout": "output_voltage",
         "iout": "output_current", "pout": "output_power", "rated": "capacity"}  # fmt: skip


def supply(number: int, condition: Condition | None = OK, **more: Any) -> PowerSupply:
    more = {SHORT.get(k, k): q(v) if k in SHORT else v for k, v in more.items()}
    return PowerSupply(unit=f"psu-{number}", condition=condition, **more)


def fan(number: int | str, rpm: float | None = 8000, duty: float | None = None, **more: Any) -> Fan:
    return Fan(
        unit=f"fan-{number}",
        speed=None if rpm is None else q(f"{rpm} rpm"),
        speed_percent=None if duty is None else q(f"{duty} %"),
        **{"condition": OK, **more},
    )


def fact(name: str, value: str | None = None, said: str | None = None, condition: Condition | None = None) -> Device:
    return Device(name=name, value=None if value is None else q(value), status_text=said, condition=condition)


def swapped(
    before: Sequence[AnyReading | Sighting] | Snapshot,
    after: Sequence[AnyReading | Sighting] | Snapshot,
    unit: str = "psu-1",
) -> Case:
    texts = [t if isinstance(t, Snapshot) else snapshot(*t) for t in (before, after)]
    return case(texts[0], texts[1], unit, Acceptance())


def doubted(found: Iterable[Draft]) -> bool:
    return list(found) != []


# ---- figures that stay


@pytest.mark.parametrize(
    ("was", "now", "fits"),
    [
        (supply(2, vin="200 V"), supply(2, vin="230 V"), True),
        (supply(2, vin="200 V"), supply(2, vin="230.1 V"), False),
        (supply(2, vin="230 V"), supply(2, vin="200 V"), True),
        (supply(2, vin="-54 V"), supply(2, vin="-48 V"), True),
        (supply(2, pout="100 W"), supply(2, pout="250 W"), True),
        (supply(2, pout="100 W"), supply(2, pout="250.1 W"), False),
        (supply(2, pout="250.1 W"), supply(2, pout="100 W"), False),
        (supply(2, iout="4 A"), supply(2, iout="10 A"), True),
        (supply(2, iout="4 A"), supply(2, iout="10.1 A"), False),
        (fact("load", "100 W"), fact("load", "200 W"), True),
        (fact("load", "100 W"), fact("load", "200.1 W"), False),
        (fact("mains", "50 Hz"), fact("mains", "57.5 Hz"), True),
        (fact("mains", "50 Hz"), fact("mains", "57.6 Hz"), False),
        # Settings are other rules', and a part that takes another input shows other volts.
        (supply(2, rated="600 W"), supply(2, rated="60 W"), True),
        (supply(2, vin="48 V", input_type="DC"), supply(2, vin="230 V", input_type="AC"), True),
        (supply(2, WARNING, vin="20 V"), supply(2, vin="230 V"), True),
        (supply(2, vin="230 V"), supply(2, FAILED, vin="20 V"), True),
        (fact("up", "10 s"), fact("up", "100 s"), True),
    ],
)
def test_what_a_swap_does_not_move(was: AnyReading, now: AnyReading, fits: bool) -> None:
    """Volts within 15 %, the chassis' watts within two, one supply's within two and a half."""
    assert doubted(figures.figures_steady(swapped([was], [now]))) is not fits


def test_load_that_moved_from_an_ill_supply() -> None:
    """A factor of five where one was not well; a chassis' own figure says nothing then, nor any with standby."""
    ill, well = supply(1, FAILED), supply(1)

    def fits(first: AnyReading, was: AnyReading, now: AnyReading) -> bool:
        return not doubted(figures.figures_steady(swapped([first, was], [well, now])))

    assert fits(ill, supply(2, pout="100 W"), supply(2, pout="500 W"))
    assert not fits(ill, supply(2, pout="100 W"), supply(2, pout="500.1 W"))
    assert not fits(well, supply(2, pout="100 W"), supply(2, pout="251 W"))
    assert fits(ill, fact("load", "100 W"), fact("load", "900 W"))
    assert fits(supply(1, STANDBY), supply(2, pout="100 W"), supply(2, pout="900 W"))
    # Another supply is there now: not as it was, either.
    assert fits(Inventory(unit="psu-1"), supply(2, pout="100 W"), supply(2, pout="500 W"))
    assert fits(supply(1, ABSENT), supply(2, pout="100 W"), supply(2, pout="500 W"))
    # Of the replaced one, if it was ill, nothing is asked.
    assert not doubted(figures.figures_steady(swapped([supply(1, FAILED, pout="1 W")], [supply(1, pout="200 W")])))


def test_what_is_said_of_figures_that_moved() -> None:
    told = figures.figures_steady
    same_text(
        told(swapped([supply(2, vin="230 V", pout="100 W")], [supply(2, vin="23 V", pout="10 W")])),
        """
        undetermined psu-2: psu-2 shows 23 V of input voltage and showed 230 V before
          measured 23 V; limit 230 V; source within 15%, common practice
          do: capture again
          at after:1 before:1; of psu-2
        undetermined psu-2: psu-2 shows 10 W of output power and showed 100 W before
          measured 10 W; limit 100 W; source within a factor of 2.5, common practice
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(
        told(swapped([fact("load", "100 W"), supply(2)], [fact("load", "10 W"), supply(2)])),
        """
        undetermined load: load shows 10 W of value and showed 100 W before
          measured 10 W; limit 100 W; source within a factor of 2, common practice
          do: capture again
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([supply(1, FAILED), supply(2, pout="10 W")], [supply(1), supply(2, pout="100 W")])),
        """
        undetermined psu-2: psu-2 shows 100 W of output power and showed 10 W before
          measured 100 W; limit 10 W; source within a factor of 5, common practice
          do: capture again
          at after:2 before:2; of psu-2
        """,
    )
    at = printed(supply(2, vin="23 V"), 4, unit="psu-2", input_voltage="23")
    same_text(
        told(swapped([sighted(supply(2, vin="230 V"), "power_supply")], [at])),
        """
        undetermined psu-2: psu-2 shows 23 V of input voltage and showed 230 V before
          measured 23 V; limit 230 V; source within 15%, common practice
          do: capture again
          at after:4[6-8] before:1; of psu-2
        """,
    )
    own = fan(2), supply(2, vin="230 V"), supply(3, vin="230 V")
    same_text(
        told(swapped(own, [fan(2, 1), supply(2, vin="230 V"), supply(3, vin="23 V")])),
        """
        undetermined psu-3: psu-3 shows 23 V of input voltage and showed 230 V before
          measured 23 V; limit 230 V; source within 15%, common practice
          do: capture again
          at after:3 before:3; of psu-3
        """,
    )


def test_what_is_not_asked_of_figures_keeps_nothing_else_from_being_told() -> None:
    told = figures.figures_steady
    before = [
        supply(1, FAILED, vin="230 V"),
        supply(2, vin="230 V"),
        fact("fan tray", "230 V", condition=WARNING),
        supply(3, vin="230 V", input_type="AC"),
        fact("shelf", "230 V", condition=OK),
        supply(4, vin="230 V", pin="80 W", pout="70 W"),
    ]
    after = [
        supply(1, vin="23 V"),
        supply(2, WARNING, vin="23 V"),
        fact("fan tray", "23 V"),
        supply(3, vin="48 V", input_type="DC"),
        fact("shelf", "23 V", condition=WARNING),
        supply(4, vin="230 V", pin="80 A", pout="7 W"),
    ]
    same_text(
        told(swapped(before, after)),
        """
        undetermined psu-4: psu-4 shows 7 W of output power and showed 70 W before
          measured 7 W; limit 70 W; source within a factor of 5, common practice
          do: capture again
          at after:6 before:6; of psu-4
        """,
    )
    limits = [Device(name="rail", value=q("12 V"), high_warning=q(f"{h} V")) for h in (13, 20)]
    same_text(told(swapped(limits[:1], limits[1:])), "")
    same_text(told(swapped([fan(2, None, 10)], [fan(2, None, 90)])), "")
    same_text(told(swapped([fact("load", "100 W")], [fact("load")])), "")


# ---- sums


@pytest.mark.parametrize(
    ("now", "fits"), [("413.5 W", True), ("413.6 W", False), ("386.5 W", True), ("386.4 W", False)]
)
def test_a_sum_of_supplies_stays_one(now: str, fits: bool) -> None:
    """400 W within 3 % and a watt and a half."""
    both = supply(1, pout="200 W"), supply(2, pout="200 W")
    assert doubted(figures.sums_hold(swapped([*both, fact("load", "400 W")], [*both, fact("load", now)]))) is not fits


def test_what_is_said_of_a_sum() -> None:
    both = supply(1, pout="200 W"), supply(2, pout="200 W")
    told = figures.sums_hold
    same_text(
        told(swapped([*both, fact("load", "400 W")], [*both, fact("load", "40 W")])),
        """
        undetermined load: load is 40 W after the swap, and the supplies' output power adds up to 400 W, although the two agree in the other capture
          measured 40 W; limit 400 W; source the sum of its parts
          do: capture again
          at after:3 before:3
        """,
    )
    same_text(
        told(swapped([*both, fact("load", "40 W")], [*both, fact("load", "400 W")])),
        """
        undetermined load: load is 40 W before the swap, and the supplies' output power adds up to 400 W, although the two agree in the other capture
          measured 400 W; limit 40 W; source the sum of its parts
          do: capture again
          at after:3 before:3
        """,
    )
    half = supply(1, pout="100 W"), supply(2, pout="100 W")
    said = """
        undetermined load: load is 40 W after the swap, and the supplies' output power adds up to 200 W, although the two agree in the other capture
          measured 40 W; limit 400 W; source the sum of its parts
          do: capture again
          at after:3 before:3
        """
    same_text(told(swapped([*both, fact("load", "400 W")], [*half, fact("load", "40 W")])), said)
    same_text(
        told(swapped([*half, fact("load", "40 W")], [*both, fact("load", "400 W")])),
        said.replace("after the", "before the").replace("measured 40 W; limit 400 W", "measured 400 W; limit 40 W"),
    )
    same_text(told(swapped([*both, fact("load", "40 W")], [*both, fact("load", "30 W")])), "")
    same_text(told(swapped([both[0], fact("load", "200 W")], [both[0], fact("load", "20 W")])), "")
    same_text(told(swapped([*both, fact("rail", "400 V")], [*both, fact("rail", "40 V")])), "")
    same_text(told(swapped([*both, fact("rail", "400 W")], [*both, fact("rail", "40 V")])), "")
    same_text(told(swapped([*both, fact("rail", "400 V")], [*both, fact("rail", "40 W")])), "")
    same_text(told(swapped([*both, fact("load")], [*both, fact("load", "40 W")])), "")
    same_text(told(swapped([*both, fact("load", "400 W")], [*both, fact("load")])), "")
    ill = both[0], supply(2, FAILED, pout="200 W")
    same_text(told(swapped([*ill, fact("load", "400 W")], [*both, fact("load", "40 W")])), "")
    same_text(told(swapped([*both, fact("load", "400 W")], [*ill, fact("load", "40 W")])), "")
    gone = *both, supply(3, ABSENT)
    same_text(
        told(swapped([*gone, fact("load", "400 W")], [*gone, fact("load", "40 W")])),
        """
        undetermined load: load is 40 W after the swap, and the supplies' output power adds up to 400 W, although the two agree in the other capture
          measured 40 W; limit 400 W; source the sum of its parts
          do: capture again
          at after:4 before:4
        """,
    )
    silent = both[0], supply(2)
    same_text(told(swapped([*silent, fact("load", "400 W")], [*silent, fact("load", "40 W")])), "")
    rated = supply(1, rated="600 W", pin="1 W"), supply(2, rated="600 W", pin="2 W")
    same_text(
        told(swapped([*rated, fact("rated", "1200 W")], [*rated, fact("rated", "120 W")])),
        """
        undetermined rated: rated is 120 W after the swap, and the supplies' capacity adds up to 1200 W, although the two agree in the other capture
          measured 120 W; limit 1200 W; source the sum of its parts
          do: capture again
          at after:3 before:3
        """,
    )


# ---- the device's clock


def clocks(before: str, after: str) -> Iterable[Draft]:
    return figures.clock_forward(swapped([fact("clock", said=before)], [fact("clock", said=after)]))


def test_the_clock_went_on_and_by_no_more_than_thirty_days() -> None:
    noon = "2026-03-01T12:00:00+00:00"
    assert not doubted(clocks(noon, "2026-03-01T12:00:01+00:00"))
    assert not doubted(clocks(noon, "2026-03-31T12:00:00+00:00"))
    assert doubted(clocks(noon, "2026-03-31T12:00:01+00:00"))
    assert doubted(clocks(noon, noon))
    same_text(
        clocks(noon, "2026-03-01T11:59:59+00:00"),
        """
        undetermined clock: the device's clock said 2026-03-01T12:00:00+00:00 before and says 2026-03-01T11:59:59+00:00
          source the baseline
          do: check which text is which, and the clock
          at after:1 before:1
        """,
    )
    assert not doubted(clocks(noon, "noon"))
    assert not doubted(clocks(noon, "2026-03-01T11:00:00"))  # no offset: no instant
    up = fact("uptime", "10 s")
    wrong = swapped([fact("clock", said=noon), up], [fact("clock", said=noon), up])
    assert not doubted(figures.clock_forward(wrong))  # the uptime's rule asks for both
    half = swapped([fact("clock", said=noon), up], [fact("clock", said=noon)])
    assert doubted(figures.clock_forward(half))


def test_several_uptimes_go_on_together() -> None:
    """Within two minutes; each is held against the first."""
    names = "uptime", "card 1 uptime", "card 2 Uptime"

    def told(*went: float, names: Sequence[str] = names) -> Iterable[Draft]:
        before = [fact(n, f"{1000 * i} s") for i, n in enumerate(names, 1)]
        after = [fact(n, f"{1000 * i + by} s") for i, (n, by) in enumerate(zip(names, went, strict=True), 1)]
        return figures.clock_forward(swapped([supply(1), *before], [supply(1), *after]))

    assert not doubted(told(500, 620, 380))
    assert doubted(told(500, 620.1, 500))
    assert doubted(told(500, 500, 379.9))
    assert not doubted(told(500, 620.1, 900, names=["uptime", "idle time", "uptime of the last fault"]))
    same_text(
        told(500, 500, 700),
        """
        undetermined card 2 Uptime: one uptime is 01:01:40 and was 00:50:00, and another one went on otherwise
          measured 3700 s; limit 3000 s; source the baseline
          do: capture again
          at after:4 before:4
        """,
    )
    lost = swapped([fact(n, "1000 s") for n in names[:2]], [fact(names[0], "1500 s"), fact(names[1])])
    assert not doubted(figures.clock_forward(lost))
    lost = swapped([fact(names[0], "1000 s"), fact(names[1])], [fact(n, "1500 s") for n in names[:2]])
    assert not doubted(figures.clock_forward(lost))


# ---- the baseline agrees with itself


def test_what_is_said_of_a_baseline_that_contradicts_itself() -> None:
    told = figures.baseline_adds_up
    hot = Temperature(name="asic", condition=OK, value=q("90 C"), high_warning=q("60 C"))
    warned = Temperature(name="cpu", condition=WARNING, value=q("90 C"), high_warning=q("60 C"))
    rail = Device(name="rail", condition=OK, value=q("13 V"), high_warning=q("12.6 V"))
    slow = fan(2, 100, low_critical=q("1000 rpm"))
    same_text(
        told(swapped([hot, warned, rail, slow], [])),
        """
        undetermined fan-2: before the swap, and said to be ok: fan-2 reads 100 rpm, at or below its low critical limit of 1000 rpm
          measured 100 rpm; limit 1000 rpm; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin -900 rpm
          at before:4; of fan-2; at the low end
        undetermined asic: before the swap, and said to be ok: asic reads 90 °C, at or above its warning limit of 60 °C
          measured 90 Cel; limit 60 Cel; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin -30 Cel
          at before:1
        undetermined rail: before the swap, and said to be ok: rail reads 13 V, at or above its warning limit of 12.6 V
          measured 13 V; limit 12.6 V; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin -0.4 V
          at before:3
        """,
    )
    wrong: dict[str, Any] = {"vout": "12 V", "iout": "10 A", "pout": "12 W"}
    same_text(
        told(swapped([supply(2, **wrong)], [])),
        """
        undetermined psu-2: before the swap: psu-2 output does not add up: 12 V times 10 A is not 12 W
          measured 12 W; limit 120 W; source P = U I
          do: capture again
          at before:1; of psu-2
        """,
    )
    same_text(told(swapped([supply(1, FAILED, **wrong)], [])), "")
    same_part = supply(2, rated="600 W", part_number="HX"), supply(1, FAILED, rated="60 W", part_number="HX")
    same_text(told(swapped(same_part, [])), "")
    same_text(
        told(swapped([supply(1, rated="600 W", part_number="HX"), supply(2, rated="60 W", part_number="HX")], [])),
        """
        undetermined psu-2: before the swap: psu-2 and psu-1 are both part HX, but rated 60 W and 600 W
          measured 60 W; limit 600 W; source one part, one rating
          do: capture again
          at before:2 before:1
        """,
    )


# ---- standby


def test_what_is_said_of_standby() -> None:
    told = figures.stands_by
    rests = supply(2, STANDBY, pout="0 W", status_text="Hot-Standby")
    busy = supply(1, pout="400 W")
    same_text(told(swapped([busy, rests], [busy, rests])), "")
    same_text(
        told(swapped([busy, supply(2)], [busy, rests])),
        """
        undetermined psu-2: psu-2 is in standby (`Hot-Standby`), and no supply was before
          measured Hot-Standby; source the baseline
          do: look at the unit, and at how redundancy is set up; then capture again
          at after:2; of psu-2
        """,
    )
    same_text(told(swapped([busy, rests], [supply(1, pout="450 W"), supply(2, STANDBY, pout="50 W")])), "")
    same_text(
        told(swapped([busy, rests], [supply(1, pout="450 W"), supply(2, STANDBY, pout="50.1 W", status_text="SB")])),
        """
        undetermined psu-2: psu-2 is in standby (`SB`) and carries 50.1 W
          measured SB; source the baseline
          do: look at the unit, and at how redundancy is set up; then capture again
          at after:2; of psu-2
        """,
    )
    same_text(told(swapped([supply(3, STANDBY)], [supply(1), supply(3, STANDBY)])), "")
    light = supply(1, pout="4 W"), supply(2, STANDBY)
    same_text(told(swapped(light, light)), "")
    # The first stands by as it did; the second carries load.
    two = supply(2, STANDBY, pout="0 W"), supply(3, STANDBY, pout="100 W", status_text="SB")
    same_text(
        told(swapped([busy, rests], [busy, *two])),
        """
        undetermined psu-3: psu-3 is in standby (`SB`) and carries 100 W
          measured SB; source the baseline
          do: look at the unit, and at how redundancy is set up; then capture again
          at after:3; of psu-3
        """,
    )


# ---- fans


@pytest.mark.parametrize(("rpm", "fits"), [(10000, True), (10001, False), (6400, True), (6399, False), (8000, True)])
def test_fans_change_together(rpm: float, fits: bool) -> None:
    """Of three that are alike one stays within a quarter of what the others did, in either direction of time."""
    was = [fan(n) for n in (2, 3, 4)]
    assert doubted(figures.fans_together(swapped(was, [fan(2), fan(3), fan(4, rpm)]))) is not fits


@pytest.mark.parametrize(("rpm", "fits"), [(12000, True), (12001, False), (5334, True), (5333, False)])
def test_two_fans_that_are_alike_change_together(rpm: float, fits: bool) -> None:
    """Within a factor of one and a half, in either direction; the one that changed most is told."""
    for was, now in (([fan(2), fan(3)], [fan(2), fan(3, rpm)]), ([fan(2), fan(3)], [fan(3, rpm), fan(2)])):
        found = list(figures.fans_together(swapped(was, now)))
        assert [d.subject for d in found] == ([] if fits else ["fan-3"])


def test_each_sort_of_fan_is_held_against_its_own() -> None:
    """Two in supplies, and three in trays of which one changed otherwise."""
    inside = [Fan(unit=f"psu-{n}", name="fan", condition=OK, speed=q("13000 rpm")) for n in (1, 2)]
    was, now = [fan(n) for n in (2, 3, 4)], [fan(2), fan(3), fan(4, 11000)]
    found = list(figures.fans_together(swapped([*inside, *was], [*inside, *now])))
    assert [d.subject for d in found] == ["fan-4"]


@pytest.mark.parametrize(
    ("unit", "ill", "was", "now", "fits"),
    [
        ("psu-1", False, 4000, 8000, True),
        ("psu-1", False, 4000, 8001, False),
        ("psu-1", False, 8001, 4000, False),
        ("psu-1", True, 2000, 8000, True),
        ("psu-1", True, 2000, 8001, False),
        ("fan-1", False, 2000, 8000, True),
        ("fan-1", False, 2000, 8001, False),
        ("psu-1", False, 0, 8000, False),
        ("psu-1", False, 8000, 0, True),
    ],
)
def test_a_fans_speed_stays_within_a_factor(unit: str, ill: bool, was: float, now: float, fits: bool) -> None:
    """Two; four where a fan was ill or is what was replaced. One that stands other rules speak of."""
    beside = [fan(9, None, condition=FAILED if ill else OK)]
    assert doubted(figures.fans_together(swapped([fan(2, was), *beside], [fan(2, now), *beside], unit))) is not fits


@pytest.mark.parametrize(
    ("was", "now", "fits"),
    [(100, 110, True), (100, 110.1, False), (110, 111, False), (110.1, 111, True), (40, 81, False), (40, 80, True)],
)
def test_a_share_of_full_speed(was: float, now: float, fits: bool) -> None:
    assert doubted(figures.fans_together(swapped([fan(2, None, was)], [fan(2, None, now)]))) is not fits


@pytest.mark.parametrize(
    ("was", "now", "fits"),
    [
        # At one duty, to within two points of percent, a fifth.
        ((5000, 50), (6000, 50), True),
        ((5000, 50), (6001, 50), False),
        ((6001, 50), (5000, 50), False),
        ((5000, 50), (6240, 52), True),
        ((5000, 50), (6241, 52), False),
        ((6241, 52), (5000, 50), False),
        # Between two duties three fifths: a fan does not turn as its duty says to the letter.
        ((3000, 30), (8000, 60), True),
        ((3000, 30), (5280, 33), True),
        ((3000, 30), (5281, 33), False),
        # Where one of both was not printed, or the fan was not driven, there is nothing to hold it against.
        ((5000, None), (6001, 50), True),
        ((5000, 50), (6001, None), True),
        ((0, 50), (5000, 50), True),
        ((5000, 0), (5000, 50), True),
        ((5000, 50), (5000, 0), True),
    ],
)
def test_a_fan_turns_as_its_duty_says(
    was: tuple[float, float | None], now: tuple[float, float | None], fits: bool
) -> None:
    """Without a status of its own only this is asked of a fan that has none like it."""
    one, two = (fan(2, rpm, duty, condition=None) for rpm, duty in (was, now))
    assert doubted(figures.fans_together(swapped([one], [two]))) is not fits


def test_what_is_said_of_a_fan_that_does_not_turn_as_its_duty_says() -> None:
    told = figures.fans_together
    said = """
        undetermined fan-2: fan-2 turns at 9000 rpm at 50 %, and turned at 4000 rpm at 50 %
          measured 9000 rpm; limit 4000 rpm; source its speed follows its duty, common practice
          do: capture again
          at after:1 before:1; of fan-2
        """
    same_text(told(swapped([fan(2, 4000, 50)], [fan(2, 9000, 50)])), said)  # told once, by whichever rule tells more
    # One that is slower than its duty says another rule speaks of.
    same_text(told(swapped([fan(2, 8000, 50)], [fan(2, 5000, 50)])), "")
    same_text(told(swapped([fan(2, 4000, 50, condition=WARNING)], [fan(2, 7000, 50)])), "")
    same_text(told(swapped([fan(2, 4000, 50)], [fan(2, 7000, 50, condition=WARNING)])), "")
    for condition in (FAILED, UNTOLD):
        same_text(told(swapped([fan(1, 1000, 50, condition=condition)], [fan(1, 8000, 50)], "fan-1")), "")
    pair = [fan(2, 8000, 50), fan(3, 5000, 50)], [fan(2, 8000, 50), fan(3, 8000, 50)]
    same_text(
        told(swapped(*pair)),
        """
        undetermined fan-3: fan-3 turned at 5000 rpm and turns at 8000 rpm, and the one like it changed otherwise
          measured 8000 rpm; limit 5000 rpm; source within a factor of 1.5, common practice
          do: capture again
          at after:2 before:2; of fan-3
        """,
    )
    same_text(
        told(swapped([fan(2, 4000, 50), fan("x", None, 10)], [fan(2, 9000, 50), fan("x", None, 30)])),
        said.rstrip()
        + """
        undetermined fan-x: fan-x shows 30 % and showed 10 % before
          measured 30 %; limit 10 %; source within a factor of 2, common practice
          do: capture again
          at after:2 before:2; of fan-x
        """,
    )


def test_what_is_said_of_fans_that_do_not_change_together() -> None:
    told = figures.fans_together
    was = [fan(n) for n in (2, 3, 4)]
    same_text(
        told(swapped(was, [fan(2, 8800), fan(3, 8800), fan(4, 20000)])),
        """
        undetermined fan-4: fan-4 turned at 8000 rpm and turns at 20000 rpm, and those like it changed by +10%
          measured 20000 rpm; limit 8000 rpm; source within 25%, common practice
          do: capture again
          at after:3 before:3; of fan-4
        """,
    )
    same_text(
        told(swapped(was, [fan(2, 8000), fan(3, 8000), fan(4, 2000)])),
        """
        undetermined fan-4: fan-4 shows 2000 rpm and showed 8000 rpm before
          measured 2000 rpm; limit 8000 rpm; source within a factor of 2, common practice
          do: capture again
          at after:3 before:3; of fan-4
        """,
    )  # another rule tells more
    same_text(
        told(swapped(was[:2], [fan(2, 8000), fan(3, 80)])),
        """
        undetermined fan-3: fan-3 turned at 8000 rpm and turns at 80 rpm, and the one like it changed otherwise
          measured 80 rpm; limit 8000 rpm; source within a factor of 1.5, common practice
          do: capture again
          at after:2 before:2; of fan-3
        """,
    )
    same_text(
        told(swapped([fan(2, None, 100)], [fan(2, None, 120)])),
        """
        undetermined fan-2: fan-2 shows 120 %, and showed 100 % before
          measured 120 %; limit 100 %; source a share of its full speed, common practice
          do: capture again
          at after:1 before:1; of fan-2
        """,
    )
    share = """
        undetermined fan-2: fan-2 shows 120 %, and showed 50 % before
          measured 120 %; limit 50 %; source a share of its full speed, common practice
          do: capture again
          at after:1 before:1; of fan-2
        """
    same_text(told(swapped([fan(2, 8000, 50)], [fan(2, 0, 120)])), share)  # that it stands other rules say
    low = """
        undetermined fan-3: fan-3 shows 8000 rpm and showed 80 rpm before
          measured 8000 rpm; limit 80 rpm; source within a factor of 2, common practice
          do: capture again
          at after:2 before:2; of fan-3
        """
    untold = fan(2, None, condition=None), fan(2, 8000, condition=None)
    same_text(told(swapped([untold[0], fan(3, 80)], [untold[1], fan(3)])), low)
    same_text(told(swapped([fan(2, 80, condition=None), fan(3, 80)], [fan(2, None), fan(3)])), low)
    same_text(
        told(swapped([fan(2, 80, condition=None)], [fan(2, 8000)])), low.replace("fan-3", "fan-2").replace(":2", ":1")
    )
    same_text(told(swapped([fan(2, None, condition=None)], [fan(2, 8000, condition=None)])), "")
    # A fault that stood before is the same fault while it turns about as fast; one that stood may start again.
    same_text(
        told(swapped([fan(2, 80, condition=WARNING)], [fan(2, 8000, condition=FAILED)])),
        """
        undetermined fan-2: fan-2 shows 8000 rpm and showed 80 rpm before
          measured 8000 rpm; limit 80 rpm; source within a factor of 4, common practice
          do: capture again
          at after:1 before:1; of fan-2
        """,
    )
    same_text(told(swapped([fan(2, 2000, condition=WARNING)], [fan(2, 8000, condition=WARNING)])), "")
    same_text(told(swapped([fan(2, 0, condition=FAILED)], [fan(2, 8000, condition=FAILED)])), "")
    same_text(told(swapped([fan(2, 80, condition=ABSENT)], [fan(2, 8000, condition=WARNING)])), "")
    same_text(told(swapped([fan(1, 8, condition=FAILED), *was], [fan(1, 8000), *was], "fan-1")), "")


@pytest.mark.parametrize(
    ("duties", "fits"),
    [((50, 50, 60), False), ((50, 50, 59.9), True), ((50, 40), False), ((50, 50, 40), False), ((40,), True)],
)
def test_fans_of_one_control(duties: tuple[float, ...], fits: bool) -> None:
    """All alike within two points before; from ten points on one is not."""
    was = [fan(n, None, 50) for n in (2, 3, 4)]
    after = [fan(n, None, d) for n, d in enumerate(duties, 2)]
    assert doubted(figures._driven_alike(swapped(was, after))) is not fits
    # The same the other way round: it was misread before.
    if len(duties) == 3:
        assert doubted(figures._driven_alike(swapped(after, was))) is not fits


def test_what_is_said_of_a_fan_that_is_driven_alone() -> None:
    told = figures._driven_alike
    alike = [fan(2, None, 50), fan(3, None, 52), fan(4, None, 51)]
    same_text(
        told(swapped(alike, [fan(2, None, 50), fan(3, None, 5), fan(4, None, 51)])),
        """
        undetermined fan-3: fan-3 is driven at 5 % after the swap, unlike the others; in the other capture all are driven alike
          measured 5 %; limit 50 %; source common practice
          do: capture again
          at after:2; of fan-3
        """,
    )
    same_text(
        told(swapped([fan(2, None, 90), fan(3, None, 50), fan(4, None, 51)], alike)),
        """
        undetermined fan-2: fan-2 is driven at 90 % before the swap, unlike the others; in the other capture all are driven alike
          measured 90 %; limit 51 %; source common practice
          do: capture again
          at before:1; of fan-2
        """,
    )
    same_text(
        told(swapped([fan(2, None, 50), fan(3, None, 5)], alike)),  # two before, and three that are alike now
        """
        undetermined fan-2: fan-2 is driven at 50 % before the swap, unlike the others; in the other capture all are driven alike
          measured 50 %; limit 27.5 %; source common practice
          do: capture again
          at before:1; of fan-2
        """,
    )
    # Of the module that came out with one rotor dead nothing is asked; of the new one it is.
    rotors = [Fan(unit="fan-1", name=n, condition=c, speed_percent=q("90 %")) for n, c in (("b", OK), ("a", FAILED))]
    same_text(told(swapped([*rotors, *alike], alike, "fan-1")), "")
    assert doubted(told(swapped([*rotors, *alike], [rotors[0], *alike], "fan-1")))
    apart = [fan(2, None, 50), fan(3, None, 52.1), fan(4, None, 51)]
    same_text(told(swapped(apart, [fan(2, None, 50), fan(3, None, 5), fan(4, None, 51)])), "")
    same_text(told(swapped(alike[:2], [fan(2, None, 50), fan(3, None, 5)])), "")
    in_supply = Fan(unit="psu-2", name="fan", condition=OK, speed_percent=q("5 %"))
    same_text(told(swapped(alike, [*alike, in_supply])), "")
    same_text(told(swapped(alike, [*alike[:2], fan(4, None, 5, condition=WARNING)])), "")


@pytest.mark.parametrize(("rpm", "fits"), [(4000, True), (3999, False), (12000, True), (12001, False)])
def test_a_new_fan_beside_its_peers(rpm: float, fits: bool) -> None:
    """From half to half as fast again as the others' 8000 rpm."""
    assert doubted(figures._new_fan_beside_peers(swapped([], [fan(1, rpm), fan(2), fan(3)], "fan-1"))) is not fits


def test_what_is_said_of_a_new_fan() -> None:
    told = figures._new_fan_beside_peers
    same_text(
        told(swapped([], [fan(1, 800), fan(2, 8000), fan(3, 8100)], "fan-1")),
        """
        undetermined fan-1: fan-1 turns at 800 rpm, and those like it at about 8050 rpm
          measured 800 rpm; limit 8050 rpm; source common practice
          do: capture again, and hear whether it turns like the others
          at after:1; of fan-1
        """,
    )
    same_text(told(swapped([], [fan(1, 800), fan(2)], "fan-1")), "")
    same_text(told(swapped([], [fan(1, 800, condition=FAILED), fan(2), fan(3)], "fan-1")), "")
    said = """
        undetermined fan-1: fan-1 turns at 800 rpm, and those like it at about 8000 rpm
          measured 800 rpm; limit 8000 rpm; source common practice
          do: capture again, and hear whether it turns like the others
          at after:2; of fan-1
        """
    alone = Fan(unit="psu-2", name="fan", condition=OK, speed=q("3000 rpm"))
    same_text(told(swapped([], [alone, fan(1, 800), fan(2), fan(3)], "fan-1")), said)
    same_text(told(swapped([], [fan(2), fan(1, 800), fan(3), fan(4, 80)], "fan-1")), said)
    loose = [Fan(name=f"tray {n}", condition=OK, speed=q("3000 rpm")) for n in (1, 2)]
    same_text(
        told(swapped([], [loose[0], fan(1, 800), fan(2), fan(3)], "fan-1")),
        """
        undetermined fan-1: fan-1 turns at 800 rpm, and those like it at about 8000 rpm
          measured 800 rpm; limit 8000 rpm; source common practice
          do: capture again, and hear whether it turns like the others
          at after:2; of fan-1
        """,
    )


def test_what_is_said_of_a_fan_that_stood_and_was_said_to_be_well() -> None:
    told = figures.fans_of_baseline
    same_text(
        told(swapped([fan(2, 0, status_text="Good")], [fan(2)])),
        """
        undetermined fan-2: fan-2 said `Good` before, and stood still
          measured 8000 rpm; limit 0 rpm; source the baseline
          do: capture again
          at after:1 before:1; of fan-2
        """,
    )
    same_text(
        told(swapped([fan(2, None, 0)], [fan(2)])),
        """
        undetermined fan-2: fan-2 said `ok` before, and stood still
          limit 0 %; source the baseline
          do: capture again
          at after:1 before:1; of fan-2
        """,
    )
    same_text(told(swapped([fan(2, 1), fan(3, 0, condition=FAILED)], [fan(2), fan(3)])), "")
    same_text(
        told(swapped([supply(2), fan(2, 0)], [supply(2, WARNING), fan(2)])),
        """
        undetermined fan-2: fan-2 said `ok` before, and stood still
          measured 8000 rpm; limit 0 rpm; source the baseline
          do: capture again
          at after:2 before:2; of fan-2
        """,
    )


# ---- whether a device could have printed it


def test_what_is_said_of_prompts() -> None:
    told = plausible.one_host

    def hosts(before: dict[str, int], after: dict[str, int], *rows: AnyReading) -> Case:
        return swapped(snapshot(*rows)._replace(hosts=before), snapshot(*rows)._replace(hosts=after))

    same_text(told(hosts({"tern-04": 1}, {"tern-04": 1})), "")
    same_text(
        told(hosts({"tern-04": 1, "gull-02": 9}, {"tern-04": 1})),
        """
        undetermined made.txt: the prompts of made.txt name tern-04 and gull-02
          measured tern-04 and gull-02; source one text, one device
          do: capture again, on one device
          at before:1 before:9
        """,
    )
    ours = Inventory(unit="chassis", serial="TOB0404")
    same_text(
        told(hosts({"tern-04": 1}, {"gull-02": 3}, ours)),
        """
        undetermined chassis: the prompt names gull-02 and named tern-04 before
          measured gull-02; limit tern-04; source the baseline
          do: find the two captures of one device, or find out who renamed it
          at after:3 before:1
        """,
    )
    same_text(
        told(hosts({"tern-04": 1}, {"gull-02": 3, "tern-04": 8}, ours)),
        """
        undetermined made.txt: the prompts of made.txt name gull-02 and tern-04
          measured gull-02 and tern-04; source one text, one device
          do: capture again, on one device
          at after:3 after:8
        """,
    )
    same_text(
        told(hosts({"tern-04": 7}, {})),
        """
        undetermined chassis: the prompt named tern-04 before, and no prompt names a device now
          limit tern-04; source the baseline
          do: capture again, with the prompt at the end
          at before:7
        """,
    )
    same_text(told(hosts({}, {})), "")
    same_text(told(hosts({"tern-04": 1}, {"gull-02": 3})), "")  # said by the chassis' own rule
    same_text(told(hosts({}, {"gull-02": 3}, ours)), "")
    same_text(
        told(hosts({}, {"gull-02": 3})),
        """
        undetermined chassis: the prompt names gull-02, and in the baseline no prompt names a device
          measured gull-02; source the other capture
          do: find the baseline with its prompts, or take two captures in one manner
          at after:3
        """,
    )


def test_what_the_baseline_did_not_show() -> None:
    told = plausible.same_rows
    same_text(
        told(swapped([supply(1)], [supply(1), fan(2), fan(3)])),
        """
        undetermined fan: the fan table was captured after the swap and not before it
          do: capture the same before and after; what changed in it cannot be told now
          at after:2
        """,
    )
    same_text(
        told(swapped([supply(1)], [supply(1), supply(2)])),
        """
        undetermined psu-2: the power_supply table did not show psu-2 before
          source the baseline
          do: find out whether it is new; a line of the baseline may have been lost
          at after:2; of psu-2
        """,
    )
    same_text(told(swapped([supply(1)], [supply(1), supply(2, FAILED)])), "")
    same_text(
        told(swapped([supply(2)], [supply(2, serial="SB1101", pout="10 W")])),
        """
        undetermined psu-2: psu-2 did not show its output power and serial before
          source the baseline
          do: a value of the baseline may have been lost: what changed in it cannot be told now
          at after:1 before:1; of psu-2
        """,
    )
    bare = PowerSupply(unit="psu-2", name="Vin")
    same_text(
        told(swapped([bare], [PowerSupply(unit="psu-2", name="Vin", condition=OK)])),
        """
        undetermined psu-2 Vin: psu-2 Vin did not show its status before
          source the baseline
          do: a value of the baseline may have been lost: what changed in it cannot be told now
          at after:1 before:1; of psu-2
        """,
    )
    same_text(
        told(swapped([supply(2, None)], [supply(2)])),
        """
        undetermined psu-2: psu-2 did not show its status before
          source the baseline
          do: a value of the baseline may have been lost: what changed in it cannot be told now
          at after:1 before:1; of psu-2
        """,
    )
    same_text(told(swapped([supply(2, None, status_text="hm")], [supply(2)])), "")  # of words another rule speaks
    same_text(told(swapped([supply(2, FAILED)], [supply(2, serial="SB1101")])), "")
    same_text(told(swapped([supply(1, FAILED)], [supply(1, serial="SB1101")])), "")
    other = [supply(1, part_number="HX-600")], [supply(1, part_number="HX-900", serial="SB1101")]
    same_text(told(swapped(*other)), "")
    same_text(
        told(swapped([supply(1, part_number="HX-600")], [supply(1, part_number="HX-600", serial="SB1101")])),
        """
        undetermined psu-1: psu-1 did not show its serial before
          source the baseline
          do: a value of the baseline may have been lost: what changed in it cannot be told now
          at after:1 before:1; of psu-1
        """,
    )
    same_text(told(swapped([supply(1, part_number="HX-600"), fan(2)],
                           [supply(1, part_number="HX-900"), supply(1, name="Vin"), fan(2)])), "")  # fmt: skip
    same_text(told(swapped([Alarm(name="a")], [Alarm(name="a"), Alarm(name="b")])), "")
    # A thing that other rules speak of keeps nothing else from being told.
    spoken_of = [Alarm(name="a"), fan(3), supply(1), supply(2, FAILED), supply(3)]
    same_text(
        told(
            swapped(
                spoken_of,
                [Alarm(name="b"), fan(2, condition=FAILED), *spoken_of[1:4], supply(3, pout="10 W"), supply(4)],
            )
        ),
        """
        undetermined psu-3: psu-3 did not show its output power before
          source the baseline
          do: a value of the baseline may have been lost: what changed in it cannot be told now
          at after:6 before:5; of psu-3
        undetermined psu-4: the power_supply table did not show psu-4 before
          source the baseline
          do: find out whether it is new; a line of the baseline may have been lost
          at after:7; of psu-4
        """,
    )
    same_text(
        told(
            swapped([supply(2, WARNING), Inventory(unit="psu-2")], [supply(2), Inventory(unit="psu-2", serial="SB1")])
        ),
        "",
    )
    same_text(told(swapped([supply(2, pout="1 W", vin="1 V")], [supply(2, pout="1 W")])), "")
    same_text(told(swapped([Device(name="load", condition=WARNING)], [Device(name="load", value=q("1 W"))])), "")
    # The word for its condition is another one: that the rule of words says.
    same_text(told(swapped([supply(2)], [supply(2, UNTOLD)])), "")
    twice = snapshot(supply(1), fan(2))
    same_text(
        told(swapped([supply(1)], twice._replace(tables=(*twice.tables, twice.tables[1]._replace(first_line=9))))),
        """
        undetermined fan: the fan table was captured after the swap and not before it
          do: capture the same before and after; what changed in it cannot be told now
          at after:2
        """,
    )


def test_a_port_that_the_baseline_did_not_show() -> None:
    """Of a port only what it was before tells whether it may be down."""
    told = plausible.same_rows
    down, up = (Link(name="Po2", condition=c) for c in (NO_INPUT, OK))
    said = """
        undetermined Po2: the link table did not show Po2 before
          source the baseline
          do: find out whether it is new; a line of the baseline may have been lost
          at after:2
        """
    same_text(told(swapped([Link(name="Po1")], [Link(name="Po1"), down])), said)
    same_text(told(swapped([Link(name="Po1")], [Link(name="Po1"), up])), said)
    same_text(told(swapped([Link(name="Po1"), up], [Link(name="Po1"), down])), "")
    # Another table of the baseline showed it.
    brief = [sighted(Link(name="Po1"), "brief", line=1), sighted(up, "full", line=2)]
    full = [sighted(Link(name="Po1"), "brief", line=1), sighted(down, "brief", line=2)]
    same_text(told(swapped(brief, full)), "")


def test_what_is_said_of_words_that_nobody_knows() -> None:
    told = plausible.words_known
    same_text(
        told(swapped([supply(2, UNTOLD, status_text="G0od")], [supply(2, status_text="Good")])),
        """
        undetermined psu-2: psu-2 said `G0od` before, which is not known, and says `Good` now
          measured Good; limit G0od; source the baseline
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(
        told(swapped([supply(2, UNTOLD, status_text="G0od")], [supply(2, None)])),
        """
        undetermined psu-2: psu-2 said `G0od` before, which is not known, and says `nothing` now
          limit G0od; source the baseline
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(told(swapped([supply(2, UNTOLD, status_text="hm")], [supply(2, UNTOLD, status_text="hm")])), "")
    same_text(told(swapped([supply(1, UNTOLD, status_text="hm")], [supply(1, status_text="Good")])), "")
    point: dict[str, Any] = {"name": "Vin", "status_text": "ok"}
    same_text(
        told(swapped([supply(2, **point)], [supply(2, UNTOLD, name="Vin", status_text="hm")])),
        """
        undetermined psu-2 Vin: psu-2 Vin said `ok` before and says `hm` now, which is not known
          measured hm; limit ok; source the baseline
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(told(swapped([supply(2, status_text="ok")], [supply(2, UNTOLD, status_text="hm")])), "")
    label = [Inventory(unit="psu-2", condition=c, status_text=s) for c, s in ((OK, "present"), (UNTOLD, "hm"))]
    same_text(
        told(swapped([supply(2), label[0]], [supply(2), label[1]])),
        """
        undetermined psu-2: psu-2 said `present` before and says `hm` now, which is not known
          measured hm; limit present; source the baseline
          do: capture again
          at after:2 before:2; of psu-2
        """,
    )
    # Of a unit that is not well its own rules speak, of a fault before that of the part that came out nobody.
    same_text(told(swapped([supply(2), label[0]], [supply(2, FAILED), label[1]])), "")
    same_text(told(swapped([supply(2), label[0]], [supply(2, FAILED), Inventory(unit="psu-2")])), "")
    same_text(told(swapped([supply(1, FAILED), Inventory(unit="psu-1", condition=UNTOLD, status_text="hm")],
                           [supply(1), Inventory(unit="psu-1", status_text="present")])), "")  # fmt: skip
    rows = [supply(n, status_text="Good") for n in (2, 3, 4)]
    same_text(
        told(swapped(rows, [supply(n, None) for n in (2, 3, 4)])),
        """
        undetermined psu-2: psu-2, and 2 others of the power_supply table said `Good` before and show no status now
          limit Good; source the baseline
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(
        told(swapped(rows[:2], [supply(n, None) for n in (2, 3)])),
        """
        undetermined psu-2: psu-2, and 1 other of the power_supply table said `Good` before and show no status now
          limit Good; source the baseline
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    # What needs no word, or is spoken of elsewhere, keeps nothing else from being told.
    alarms, same = [Alarm(name="a", condition=c) for c in (OK, None)], supply(3, status_text="Good")
    same_text(
        told(
            swapped(
                [alarms[0], same, fan(1), supply(2, ABSENT)],
                [alarms[1], same, fan(1, condition=None), supply(2, None)],
                "fan-1",
            )
        ),
        """
        undetermined fan-1: fan-1 said `ok` before and shows no status now
          source the baseline
          do: capture again
          at after:3 before:3; of fan-1
        undetermined psu-2: psu-2 said `absent` before and shows no status now
          source the baseline
          do: capture again
          at after:4 before:4; of psu-2
        """,
    )
    same_text(
        told(swapped([fan(2)], [fan(2, condition=None)])),
        """
        undetermined fan-2: fan-2 said `ok` before and shows no status now
          source the baseline
          do: capture again
          at after:1 before:1; of fan-2
        """,
    )


def column(*cells: str, line: int = 1) -> list[Sighting]:
    """A column of temperatures as printed."""
    return [
        printed(Temperature(name=f"t{n}", value=q(f"{cell} C")), line + n, name=f"t{n}", value=cell)
        for n, cell in enumerate(cells)
    ]


def test_what_is_said_of_a_figure_that_is_printed_otherwise() -> None:
    told = plausible.same_form
    same_text(
        told(swapped(column("41.5", "42.0", "43.5"), column("41.5", "42.0", "4"))),
        """
        undetermined t2: `4` of t2 has 0 decimals and not 1, unlike the others in its column
          measured 4; source the rest of its column
          do: capture again
          at after:3[3-4]
        """,
    )
    same_text(
        told(swapped(column("104", "98"), column("04", "98"))),
        """
        undetermined t0: `04` of t0 begins with a zero, unlike the others in its column
          measured 04; source the rest of its column
          do: capture again
          at after:1[3-5]
        """,
    )
    same_text(told(swapped(column("0", "98"), column("0", "98"))), "")
    same_text(told(swapped(column("41.5", "42.25"), column("41.5", "42.25"))), "")
    same_text(
        told(swapped(column("41", "42"), column("41", "4.2"))),
        """
        undetermined t1: `4.2` of t1 has 1 decimal and not 0, unlike the others in its column
          measured 4.2; source the rest of its column
          do: capture again
          at after:2[3-6]
        """,
    )
    same_text(told(swapped(column("41"), column("4.2"))), "")
    same_text(
        told(swapped(column("41.0"), column("42"))),
        """
        undetermined t0: `42` of t0 has 0 decimals and not 1, unlike the others in its column
          measured 42; source the rest of its column
          do: capture again
          at after:1[3-5]
        """,
    )
    same_text(told(swapped(column("01", "02", "03"), column("01", "02", "03"))), "")
    same_text(told(swapped(column("01", "20"), column("02", "30")))
              , "\n".join(f"""undetermined t0: `0{n}` of t0 begins with a zero, unlike the others in its column
  measured 0{n}; source the rest of its column
  do: capture again
  at {side}:1[3-5]""" for n, side in ((1, "before"), (2, "after"))))  # fmt: skip
    same_text(told(swapped(column("01", "02"), column("02", "30"))), "")  # more than half are: so it prints them
    # Three of a form tell how the column is printed, two do not, unless one ends in a zero behind its point.
    odd = """
        undetermined t1: `4.25` of t1 has 2 decimals and not 1, unlike the others in its column
          measured 4.25; source the rest of its column
          do: capture again
          at after:2[3-7]
        """
    same_text(told(swapped(column("41.5", "42.5"), column("41.5", "4.25"))), odd)
    same_text(told(swapped(column("41.5"), column("41.5", "4.25"))), "")
    same_text(told(swapped(column("41.0"), column("41.5", "4.25"))), odd)
    same_text(told(swapped(column("41.5"), column("41.5", "4.20"))), "")
    # Where both print figures in more than one way, so does the device.
    same_text(told(swapped(column("41.5", "42.5", "4"), column("41.5", "42.5", "4.25"))), "")
    same_text(told(swapped([], column("41.5", "42.5", "43.5", "4.25"))), "")
    times = [printed(fact("up", f"{t} s"), n, name="up", value=t) for n, t in enumerate(("1.5", "2.5", "3.5", "4"), 1)]
    same_text(told(swapped(times[:3], [*times[:2], times[3]])), "")  # a span of time is no figure of a column
    # One that is no number, and no measured thing at all, keeps nothing else from being told.
    words = [printed(Link(name="Po1"), 8, name="Po1", value="up"),
             printed(Temperature(name="t9", value=q("4 C")), 9, name="t9", value="high"),
             printed(Temperature(name="t8", value=q("4 C")), 9, name="t8", value="-4")]  # fmt: skip
    same_text(
        told(swapped(column("41", "42", "43"), [*words, *column("41", "4.2", "43", line=20)])),
        """
        undetermined t1: `4.2` of t1 has 1 decimal and not 0, unlike the others in its column
          measured 4.2; source the rest of its column
          do: capture again
          at after:21[3-6]
        """,
    )
    same_text(
        told(swapped(column("41.5", "42.5", "43.5"), column("41.25", "4", "43.5"))),
        """
        undetermined t0: `41.25` of t0 has 2 decimals and not 1, unlike the others in its column
          measured 41.25; source the rest of its column
          do: capture again
          at after:1[3-8]
        undetermined t1: `4` of t1 has 0 decimals and not 1, unlike the others in its column
          measured 4; source the rest of its column
          do: capture again
          at after:2[3-4]
        """,
    )


def still(number: int) -> list[AnyReading]:
    return [Temperature(name=f"t{n}", condition=OK, value=q(f"{40 + n} C")) for n in range(number)]


def test_eight_values_do_not_all_stand_still() -> None:
    told = plausible.moved
    same_text(
        told(swapped(still(8), still(8))),
        """
        undetermined text: all 8 measured values are what they were before, to the last digit: one capture may be the other
          measured 8; source common practice
          do: capture again after the swap
          at after:8 before:8
        """,
    )
    same_text(told(swapped(still(7), still(7))), "")
    same_text(told(swapped(still(8), [*still(7), Temperature(name="t7", condition=OK, value=q("47.1 C"))])), "")
    same_text(
        told(swapped([*still(8), supply(1, serial="SB1101")], [*still(8), supply(1, serial="SB3301")])),
        """
        undetermined text: all 8 measured values are what they were before, to the last digit: one capture may be the other
          measured 8; source common practice
          do: capture again after the swap
          at after:9 before:9
        """,
    )
    same_text(told(swapped([*still(8), supply(2, serial="SB1101")], [*still(8), supply(2, serial="SB3301")])), "")
    same_text(told(swapped([*still(8), supply(1)], [*still(8), supply(1, WARNING)])), "")
    # What a row with a serial measures does not count: it is another part's.
    loads = [supply(1, serial="SB1", pout=f"{w} W") for w in (10, 11)]
    assert not doubted(told(swapped([*still(7), loads[0]], [*still(7), loads[0]])))
    assert doubted(told(swapped([*still(8), loads[0]], [*still(8), loads[1]])))
    # Another part or another way of the air is another moment; of the replaced unit only the serial is left out.
    for field, one, two in (("part_number", "HX", "HY"), ("airflow_word", "AFI", "AFO")):
        texts = [[*still(8), PowerSupply(unit="psu-1", condition=OK, **{field: x})] for x in (one, two)]
        assert not doubted(told(swapped(*texts)))
    # Nor are limits and spans of time measured values.
    rail = [Device(name="rail", value=q("12 V"), high_warning=q(f"{h} V")) for h in (13, 14)]
    up = fact("up", "10 s"), fact("up", "20 s")
    assert not doubted(told(swapped([*still(6), rail[0], up[0]], [*still(6), rail[0], up[0]])))
    assert doubted(told(swapped([*still(7), rail[0], up[0]], [*still(7), rail[1], up[1]])))


def test_rows_that_were_read_once_and_remembered_stand_still_too() -> None:
    told = plausible.moved
    rows, ends = still(8), [Temperature(name="asic", condition=OK, value=q(f"{t} C")) for t in (50, 51)]
    assert doubted(told(swapped(rows, rows)))
    assert not doubted(told(swapped(rows[:7], rows[:7])))
    for at in (0, 4, 8):
        before, after = [*rows[:at], ends[0], *rows[at:]], [*rows[:at], ends[1], *rows[at:]]
        assert not doubted(told(swapped(before, after)))
        assert doubted(told(swapped(before, [*rows[:at], ends[0].model_copy(), *rows[at:]])))
    assert not doubted(told(swapped(rows, [*rows, ends[0]])))
    assert not doubted(told(swapped([*rows, ends[0]], rows)))


def test_two_texts_that_are_one_to_the_letter() -> None:
    """Also where too few values are shown; a part that was watched in between may come to rest so."""
    told = plausible.moved

    def texts(before: str, after: str) -> Case:
        return swapped(snapshot(supply(1))._replace(printed=before), snapshot(supply(1))._replace(printed=after))

    same_text(
        told(texts("a1", "a1")),
        """
        undetermined text: the text after the swap is the text before it, to the letter: one capture may be the other
          source the baseline
          do: capture again after the swap
          at after:1 before:1
        """,
    )
    same_text(told(texts("a1", "b2")), "")
    same_text(told(texts("", "")), "")  # not known
    same_text(told(texts("a1", "a1")._replace(samples=(Sample(0.0, snapshot(supply(1))),))), "")


SPEEDS = 8461, 8521, 8431, 8511, 8451, 8491


def turning(*speeds: float, unit_of: str = "fan-{}") -> list[AnyReading]:
    return [Fan(unit=unit_of.format(n), condition=OK, speed=q(f"{rpm} rpm")) for n, rpm in enumerate(speeds, 1)]


def test_what_is_said_of_a_table_that_stood_still_with_the_new_part_in_it() -> None:
    """Six finely printed values or more; the rest of the text moved, so it is no capture given twice."""
    told = plausible.moved

    def table(*rows: AnyReading, heat: float = 41.5, unit: str = "fan-3") -> Case:
        asic = [Temperature(name="asic", value=q(f"{t} C")) for t in (40.5, heat)]
        return swapped([asic[0], *rows], [asic[1], *rows], unit)

    said = """
        undetermined fan: the fan table shows fan-3 and all others with the very figures of the other capture: it may be that capture's
          measured 6; source common practice
          do: capture again after the swap
          at after:4
        """
    same_text(told(table(*turning(*SPEEDS))), said)
    same_text(told(table(*turning(*SPEEDS[:5]))), "")
    same_text(told(table(*turning(*SPEEDS), unit="fan-7")), "")  # the part stands in another table
    same_text(told(table(*turning(*SPEEDS[:5], 8400))), "")  # a figure in hundreds is rounded
    same_text(told(table(*turning(*SPEEDS[:5], 999))), "")
    same_text(told(table(*turning(*SPEEDS[:5], 1001))), said)
    same_text(told(table(*turning(*SPEEDS[:5], 1000))), "")
    asic, *rows = Temperature(name="asic", value=q("40.5 C")), *turning(*SPEEDS)
    moved = [*rows[:5], Fan(unit="fan-6", condition=OK, speed=q("8492 rpm"))]
    same_text(told(swapped([asic, *rows], [asic, *moved], "fan-3")), "")
    # Two tables; the first of them moved.
    loads = [PowerSupply(unit=f"psu-{n}", condition=OK, output_power=q(f"{100 + n}.1 W")) for n in (1, 2)]
    other = [PowerSupply(unit="psu-1", condition=OK, output_power=q("99 W")), loads[1]]
    same_text(told(swapped([*loads, asic, *rows], [*other, asic, *rows], "fan-3")), said.replace("after:4", "after:6"))


@pytest.mark.parametrize(
    ("heats", "stands"),
    [
        (("40", "41.5", "42", "43", "44.5", "45"), False),  # at rest whole and half degrees come again
        (("40", "41.5", "42", "43", "44.5", "45.1"), True),
        (("40", "41.5", "42", "43", "0", "45.1"), False),  # five that are over nothing
        (("40", "41.5", "42", "43", "0.1", "45"), True),
    ],
)
def test_temperatures_that_stand_still(heats: Sequence[str], stands: bool) -> None:
    bays = [Temperature(unit=f"psu-{n}", name="t", value=q(f"{heat} C")) for n, heat in enumerate(heats, 1)]
    moves = fan(9, 8001), fan(9, 8002)
    found = list(plausible.moved(swapped([*bays, moves[0]], [*bays, moves[1]], "psu-2")))
    assert [d.subject for d in found] == (["temperature"] if stands else [])


def test_a_table_is_the_new_parts_where_a_sample_saw_it_at_other_figures() -> None:
    told = plausible.moved
    asic = [Temperature(name="asic", value=q(f"{t} C")) for t in (40.5, 41.5)]
    rows = turning(*SPEEDS)

    def seen(*readings: AnyReading | Sighting) -> Case:
        made = swapped([asic[0], *rows], [asic[1], *rows], "fan-3")
        return made._replace(samples=(Sample(0.0, snapshot(*rows)), Sample(15.0, snapshot(*readings))))

    on_its_way = Fan(unit="fan-3", condition=OK, speed=q("4001 rpm"))
    assert not doubted(told(seen(*rows[:2], on_its_way, *rows[3:])))
    assert doubted(told(seen(*rows)))
    assert doubted(told(seen(*rows[:3], Fan(unit="fan-4", condition=OK, speed=q("4001 rpm")), *rows[4:])))
    assert doubted(told(seen(sighted(on_its_way, "another"))))
    # A figure that the table does not give now tells nothing.
    assert doubted(told(seen(*rows[:2], fan(3, 8431, 50), *rows[3:])))


# ---- the text as such


def unread(*numbers: int, of: str = "??") -> tuple[UnreadLine, ...]:
    return tuple(UnreadLine(n, of, "not understood") for n in numbers)


def test_what_is_said_of_lines_that_were_not_read() -> None:
    told = text.unread
    sound = snapshot(supply(1))
    same_text(
        told(swapped(sound, sound)),
        """
        met text: nothing unread: 1 readings before, 1 after
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(snapshot(supply(1), supply(2)), sound)),
        """
        met text: nothing unread: 2 readings before, 1 after
          at after:1 before:2
        """,
    )
    same_text(
        told(swapped(sound, sound._replace(unread=unread(7, of=" " + "x" * 59)))),
        """
        undetermined made.txt:7: line 7 was not read (`xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx`): not understood
          do: capture again; if the line comes back, the dialect needs to learn it
          at after:7
        """,
    )
    same_text(
        told(swapped(sound._replace(unread=unread(7, of="x" * 61)), sound)),
        """
        undetermined made.txt:7: line 7 was not read (`xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…`): not understood
          do: capture again; if the line comes back, the dialect needs to learn it
          at before:7
        """,
    )
    assert len(list(told(swapped(sound, sound._replace(unread=unread(*range(20))))))) == 20
    same_text(
        list(told(swapped(sound, sound._replace(unread=unread(*range(1, 22))))))[-1:],
        """
        undetermined made.txt: the rest: 1 more lines were not read
          at after:21
        """,
    )


def test_what_is_said_of_tables() -> None:
    told = text.complete
    both = snapshot(supply(1), fan(2))
    same_text(
        told(swapped(both, both)),
        """
        met text: 2 tables whole, the same as before
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([supply(1)], [supply(1)])),
        """
        met text: 1 table whole, the same as before
          at after:1 before:1
        """,
    )
    cut = both._replace(tables=tuple(t._replace(cut="it ends in the middle of a line") for t in both.tables[:1]))
    same_text(
        told(swapped(both, cut)),
        """
        undetermined made.txt power_supply: the power_supply table is not whole: it ends in the middle of a line
          do: if nothing is missing, end the file with a line end; else capture again
          at after:1
        undetermined fan: the fan table of the baseline was not captured afterwards
          do: no command that is read of this device family shows it: look at the device
          at before:2
        """,
    )
    asked = {"power_supply": ("tell power",), "fan": ("tell turning",)}
    bays = snapshot(sighted(supply(2), "bays"), sighted(fan(2), "bays", line=2), sighted(supply(1), "power", line=3))
    same_text(
        told(swapped(bays._replace(commands=asked), [sighted(supply(1), "power")])),
        """
        undetermined bays: the bays table of the baseline was not captured afterwards
          do: capture `tell power`
          at before:1
        """,
    )
    cut = both._replace(tables=tuple(t._replace(cut="a pager waits") for t in both.tables))
    same_text(
        told(swapped(cut, both)),
        """
        undetermined made.txt power_supply: the power_supply table is not whole: a pager waits
          do: capture again, to the prompt
          at before:1
        undetermined made.txt fan: the fan table is not whole: a pager waits
          do: capture again, to the prompt
          at before:2
        """,
    )
    same_text(
        told(swapped([fact("load", "1 W"), supply(1)], [fact("rail", "1 V"), supply(1)])),
        """
        undetermined load: the device table does not show load any more
          do: capture again
          at before:1
        """,
    )
    links = [Link(name="Po1", condition=NO_INPUT), Link(name="Po2", condition=OK), Link(name="Po3", condition=OK)]
    same_text(
        told(swapped(links, links[2:])),
        """
        undetermined Po1: the link table does not show Po1 any more
          do: capture again
          at before:1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, ABSENT), supply(3)], [supply(1)])),
        """
        undetermined psu-2: the power_supply table does not show psu-2 any more
          do: capture again
          at before:2; of psu-2
        """,
    )
    there = sighted(supply(2), "one", line=1), sighted(supply(2), "two", line=2), sighted(supply(1), "one", line=3)
    same_text(
        told(swapped(there, there[1:])),
        """
        undetermined psu-2: the one table does not show psu-2 any more, although another table does
          do: capture again
          at before:1; of psu-2
        """,
    )
    # Of a table that was not captured it is said once, and alarms come and go in each list.
    same_text(
        told(swapped([fact("load", "1 W"), supply(2, ABSENT)], [fact("load", "1 W")])),
        """
        undetermined power_supply: the power_supply table of the baseline was not captured afterwards
          do: no command that is read of this device family shows it: look at the device
          at before:2
        """,
    )
    lists = [sighted(Alarm(name=said[0]), said[1], line=n) for n, said in enumerate(("a1", "b1", "a2", "b2"), 1)]
    same_text(
        told(swapped(lists, lists[1:])),
        """
        met text: 2 tables whole, the same as before
          at after:3 before:4
        """,
    )
    same_text(
        told(swapped([Alarm(name="a"), Alarm(name="b")], [Alarm(name="b")])),
        """
        met text: 1 table whole, the same as before
          at after:1 before:2
        """,
    )


def test_what_is_said_of_fields_that_are_gone() -> None:
    told = text.same_fields
    full = supply(2, serial="SB1101", vin="230 V", pout="10 W")
    same_text(
        told(swapped([full], [full])),
        """
        met text: every thing shows the same fields as before
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([full], [supply(2)])),
        """
        undetermined psu-2: psu-2 does not show its input voltage, output power and serial any more
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(
        told(swapped([full], [supply(2, FAILED)])),
        """
        met text: every thing shows the same fields as before
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([full, Inventory(unit="psu-2", serial="SB1101")], [supply(2, FAILED), Inventory(unit="psu-2")])),
        """
        met text: every thing shows the same fields as before
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([full], [supply(3)])),
        """
        met text: every thing shows the same fields as before
          at after:1 before:1
        """,
    )


def test_what_is_said_of_a_part_that_told_more_of_its_state() -> None:
    """The same word, beside which something that made it sure is not printed any more."""
    told = text.same_fields

    def board(condition: Condition | None, said: str = "present", **more: Any) -> Inventory:
        return Inventory(unit="board-1", condition=condition, status_text=said, **more)

    fits = """
        met text: every thing shows the same fields as before
          at after:1 before:1
        """
    same_text(
        told(swapped([board(OK, serial="SB1")], [board(UNTOLD)])),
        """
        undetermined board-1: board-1 was well before and does not tell its whole state any more
          do: capture again
          at after:1 before:1; of board-1
        """,
    )
    same_text(
        told(swapped([fact("mode", said="full", condition=OK)], [fact("mode", said="full", condition=UNTOLD)])),
        """
        undetermined mode: mode was well before and does not tell its whole state any more
          do: capture again
          at after:1 before:1
        """,
    )
    same_text(told(swapped([board(OK)], [board(OK)])), fits)
    same_text(told(swapped([board(FAILED)], [board(UNTOLD)])), fits)
    same_text(told(swapped([board(OK)], [board(FAILED)])), fits)
    same_text(told(swapped([board(OK)], [board(UNTOLD, "hm")])), fits)  # that a rule of words says
    same_text(told(swapped([supply(2, status_text="Good")], [supply(2, UNTOLD, status_text="Good")])), fits)
    same_text(told(swapped([Device(name="load", value=q("1 W"))], [Device(name="load", condition=WARNING)])), fits)
    # What fits, is gone or is not well keeps nothing else from being told.
    lost = supply(4, vin="230 V")
    before = (
        supply(1),
        supply(2),
        supply(3, pout="1 W"),
        Inventory(unit="psu-5", serial="SB5"),
        supply(5),
        board(OK),
        lost,
    )
    after = supply(1), supply(3, FAILED), Inventory(unit="psu-5"), supply(5, FAILED), board(UNTOLD), supply(4)
    same_text(
        told(swapped(before, after)),
        """
        undetermined board-1: board-1 was well before and does not tell its whole state any more
          do: capture again
          at after:5 before:6; of board-1
        undetermined psu-4: psu-4 does not show its input voltage any more
          do: capture again
          at after:6 before:7; of psu-4
        """,
    )
    # A field that is new makes up for none that is gone.
    same_text(
        told(swapped([supply(2, vin="230 V")], [supply(2, pout="10 W")])),
        """
        undetermined psu-2: psu-2 does not show its input voltage any more
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )
    same_text(
        told(swapped([supply(2, None, vin="230 V")], [supply(2, None)])),
        """
        undetermined psu-2: psu-2 does not show its input voltage any more
          do: capture again
          at after:1 before:1; of psu-2
        """,
    )


@pytest.mark.parametrize(
    ("conditions", "doubts"),
    [
        ((WARNING, WARNING), True),
        ((FAILED, FAILED), True),
        ((WARNING, FAILED), False),  # another fault, which is told as one
        ((OK, OK), False),  # of what is well other rules ask for every field
        ((ABSENT, ABSENT), False),
    ],
)
def test_a_limit_that_only_one_capture_prints_of_a_thing_that_is_ill(
    conditions: tuple[Condition, Condition], doubts: bool
) -> None:
    told = text.limits_steady
    with_limit, without = (
        [supply(1, c, vin="200 V", low_warning=q("207 V") if n == 0 else None) for c in conditions] for n in (0, 1)
    )
    lost, found = swapped([with_limit[0]], [without[1]]), swapped([without[0]], [with_limit[1]])
    said = [
        "the low warning limit of psu-1 was 207 V and is not printed",
        "the low warning limit of psu-1 was not printed and is 207 V",
    ]
    fits = ["all limits are those of the baseline"] * 2
    assert [d.message for made in (lost, found) for d in told(made)] == (said if doubts else fits)


def test_what_is_said_of_limits_that_changed() -> None:
    told = text.limits_steady
    was = supply(1, vin="230 V", high_warning=q("250 V"), rated="600 W", part_number="HX-600")
    now = supply(1, vin="230 V", high_warning=q("260 V"), rated="900 W", part_number="HX-600")
    same_text(
        told(swapped([was], [now])),
        """
        undetermined psu-1: the high warning limit of psu-1 was 250 V and is 260 V
          measured 260 V; limit 250 V; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:1 before:1; of psu-1
        undetermined psu-1: the rated power of psu-1 was 600 W and is 900 W
          measured 900 W; limit 600 W; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([was], [supply(1, high_warning=q("260 V"), part_number="HX-900")])),
        """
        met text: all limits are those of the baseline
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([was], [supply(1, ABSENT, high_warning=q("260 V"))])),
        """
        met text: all limits are those of the baseline
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([was], [was])),
        """
        met text: all limits are those of the baseline
          at after:1 before:1
        """,
    )
    # Another part brings its own limits; what stands elsewhere keeps its own, and is told behind what need not be.
    rail = {n: Device(name="rail", value=q("12 V"), high_warning=q(f"{n} V")) for n in (13, 14)}
    said = """
        undetermined rail: the high warning limit of rail was 13 V and is 14 V
          measured 14 V; limit 13 V; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:LINE before:LINE
        """
    same_text(
        told(swapped([was, rail[13]], [supply(1, high_warning=q("260 V"), part_number="HX-900"), rail[14]])),
        said.replace("LINE", "2"),
    )
    same_text(told(swapped([was, rail[13]], [supply(1, ABSENT), rail[14]])), said.replace("LINE", "2"))
    same_text(
        told(swapped([supply(1, ABSENT, high_warning=q("250 V"))], [supply(1, ABSENT, high_warning=q("260 V"))])),
        """
        undetermined psu-1: the high warning limit of psu-1 was 250 V and is 260 V
          measured 260 V; limit 250 V; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:1 before:1; of psu-1
        """,
    )
    same_text(told(swapped([supply(2), fan(2), rail[13]], [supply(3), fan(2), rail[14]])), said.replace("LINE", "3"))
    same_text(
        told(swapped([Link(name="Po1"), rail[13]], [Link(name="Po1", condition=OK), rail[14]])),
        said.replace("LINE", "2"),
    )
    same_text(told(swapped([rail[13]], [Device(name="rail", value=q("12 V"))])),
              "met text: all limits are those of the baseline\n  at after:1 before:1")  # fmt: skip
    same_text(
        told(swapped([supply(1, high_warning=q("250 V"), part_number="HX")], [supply(1, high_warning=q("260 V"))])),
        """
        undetermined psu-1: the high warning limit of psu-1 was 250 V and is 260 V
          measured 260 V; limit 250 V; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([was, Link(name="Po1")], [now, Link(name="Po1")], unit="psu-2")),
        """
        undetermined psu-1: the high warning limit of psu-1 was 250 V and is 260 V
          measured 260 V; limit 250 V; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:1 before:1; of psu-1
        undetermined psu-1: the rated power of psu-1 was 600 W and is 900 W
          measured 900 W; limit 600 W; source the baseline
          do: capture again; if it stays so, find out who changed the limit
          at after:1 before:1; of psu-1
        """,
    )


def test_what_is_said_of_a_thing_that_is_told_twice() -> None:
    told = text.agreement

    def twice(one: AnyReading, two: AnyReading) -> list[Sighting]:
        return [sighted(one, "one", line=1), sighted(two, "two", line=2)]

    same_text(
        told(swapped([supply(1)], [supply(1)])),
        """
        met text: no contradiction
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([], twice(supply(1), supply(1)))),
        """
        met text: no contradiction among 1 things told twice
          at after:2 before:1
        """,
    )
    same_text(
        told(swapped([], twice(supply(1), supply(1, FAILED)))),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: ok and failed
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )
    same_text(
        told(swapped([], twice(supply(1, serial="SB1"), supply(1, serial="SB2")))),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: serial SB1 and SB2
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )
    # What one of the two tables does not give contradicts nothing.
    for one, two in (
        (supply(1, serial="SB1"), supply(1)),
        (supply(1), supply(1, serial="SB1")),
        (supply(1, serial="SB1", vin="230 V"), supply(1, serial="SB1", pout="10 W")),
        (supply(1), supply(1, None)),
        (supply(1, None), supply(1)),
        (Link(name="Po1", condition=OK), Link(name="Po1")),
    ):
        same_text(
            told(swapped([], twice(one, two))),
            """
            met text: no contradiction among 1 things told twice
              at after:2 before:1
            """,
        )
    same_text(
        told(swapped([], twice(supply(1, vin="230 V", pout="10 W"), supply(1, iout="1 A", pout="20 W")))),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: output power 10 W and 20 W
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )
    same_text(
        told(swapped([], twice(fact("load", "10 W"), fact("load", "10 A")))),
        """
        undetermined load: load is told twice in one text, and not alike: value 10 W and 10 A
          do: capture again
          at after:1 after:2
        """,
    )
    cleared = [sighted(Alarm(name="a", condition=c), "alarm", line=n) for n, c in ((3, FAILED), (4, OK))]
    same_text(
        told(swapped([], [*cleared, *twice(supply(1), supply(1, FAILED))])),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: ok and failed
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )
    serials = twice(supply(1, serial="SB1"), supply(1, serial="SB2"))
    same_text(
        told(
            swapped(
                [supply(1, serial="SB1")], [serials[0], sighted(Inventory(unit="psu-1", serial="SB2"), "two", line=2)]
            )
        ),
        """
        undetermined psu-1: made.txt gives psu-1 more than one serial: SB1 and SB2
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )
    in_one = [sighted(supply(1, vin="230 V"), "one", line=1), sighted(supply(1, vin="231 V"), "one", line=2)]
    same_text(
        told(swapped([], in_one)),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: two rows of the one table give it other figures
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )


def shown_twice(first: Sequence[AnyReading], second: Sequence[AnyReading], at: int = 11) -> Snapshot:
    """A text that prints one table, and prints it again from another line on."""
    tables, sightings = [], []
    for start, rows in ((1, first), (at, second)):
        sightings += [sighted(r, "bays", line=start + n) for n, r in enumerate(rows)]
        tables.append(TableSeen("bays", (rows[0].kind,), start, start + len(rows) - 1, True, "", len(rows)))
    return snapshot()._replace(sightings=tuple(sightings), tables=tuple(tables), last_line=20)


def test_a_table_that_stands_there_twice_shows_the_same_rows() -> None:
    told = text.agreement
    all_three = supply(1), supply(2), supply(3)
    same_text(
        told(swapped([], shown_twice(all_three, all_three))),
        """
        met text: no contradiction among 3 things told twice
          at after:20 before:1
        """,
    )
    same_text(
        told(swapped([], shown_twice(all_three, [supply(1), supply(3)]))),
        """
        undetermined made.txt bays: the bays table stands there twice, with 3 and 2 different rows
          do: capture again
          at after:11
        """,
    )
    same_text(
        told(swapped(shown_twice([supply(1)], [supply(2)]), [])),
        """
        undetermined made.txt bays: the bays table stands there twice, with 1 and 1 different rows
          do: capture again
          at before:11
        """,
    )
    # Between two times that an alarm list is shown, alarms come and go.
    same_text(
        told(swapped([], shown_twice([Alarm(name="a"), Alarm(name="b")], [Alarm(name="b"), Alarm(name="c")]))),
        """
        met text: no contradiction among 1 things told twice
          at after:20 before:1
        """,
    )
    beside = shown_twice([Alarm(name="a")], [Alarm(name="b")])
    fans = snapshot(fan(2), sighted(fan(3), "fan", line=2))
    lost = fans.tables[0]._replace(first_line=31, last_line=31)
    same_text(
        told(
            swapped(
                [],
                beside._replace(
                    sightings=(*beside.sightings, *(s._replace(table="fan") for s in fans.sightings)),
                    tables=(*beside.tables, *fans.tables, lost),
                ),
            )
        ),
        """
        undetermined made.txt fan: the fan table stands there twice, with 2 and 0 different rows
          do: capture again
          at after:31
        """,
    )


def twice_at(one: str, two: str) -> list[Sighting]:
    return [sighted(supply(1, vin=v), table, line=n) for n, v, table in ((1, "230 V", one), (2, "231 V", two))]


def test_two_tables_may_give_a_value_of_two_moments_and_one_table_may_not() -> None:
    told = text.agreement
    same_text(
        told(swapped([], shown_twice([supply(1, vin="230 V")], [supply(1, vin="231 V")]))),
        """
        met text: no contradiction among 1 things told twice
          at after:20 before:1
        """,
    )
    twice = supply(1, vin="230 V"), supply(1, vin="231 V")
    once = shown_twice([fan(2)], twice)
    same_text(
        told(swapped([], once._replace(tables=once.tables[1:]))),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: two rows of the bays table give it other figures
          do: capture again
          at after:11 after:12; of psu-1
        """,
    )
    # Two tables of one document may stand one in the other.
    same_text(
        told(swapped([], [*twice_at("one", "two"), sighted(fan(2), "one", line=3)])),
        """
        met text: no contradiction among 1 things told twice
          at after:3 before:1
        """,
    )
    # To the letter the same is the same row shown twice.
    same_text(
        told(swapped([], [sighted(supply(1, vin="230 V"), "bays", line=n) for n in (1, 2)])),
        """
        met text: no contradiction among 1 things told twice
          at after:2 before:1
        """,
    )
    thrice = [sighted(supply(1, c), "bays", line=n) for n, c in enumerate((OK, OK, FAILED), 1)]
    same_text(
        told(swapped([], thrice)),
        """
        undetermined psu-1: psu-1 is told twice in one text, and not alike: ok and failed
          do: capture again
          at after:1 after:3; of psu-1
        """,
    )


def test_one_unit_has_one_serial_in_all_tables() -> None:
    told = text.agreement

    def both(**of_inventory: str) -> list[AnyReading]:
        return [supply(1, serial="SB1", part_number="HX", input_type="AC"), Inventory(unit="psu-1", **of_inventory)]

    once = [supply(1, serial="SB1", part_number="HX", input_type="AC")]
    said = """
        undetermined psu-1: made.txt gives psu-1 more than one serial: SB1 and SB2
          do: capture again
          at before:1 before:2; of psu-1
        """
    same_text(told(swapped(both(serial="SB2"), once)), said)
    same_text(told(swapped(both(serial="SB2"), both(serial="SB1"))), said)
    beside = said.replace("before:2", "before:3").replace("before:1", "before:2")
    same_text(told(swapped([fan(2), *both(serial="SB2")], once)), beside)
    same_text(
        told(swapped(once, both(part_number="HY"))),
        """
        undetermined psu-1: made.txt gives psu-1 more than one part number: HX and HY
          do: capture again
          at after:1 after:2; of psu-1
        """,
    )
    fits = """
        met text: no contradiction
          at after:2 before:2
        """
    same_text(told(swapped(both(serial="SB2"), both(serial="SB2"))), fits)  # so it is with that device
    same_text(told(swapped(both(serial="SB2"), [supply(1), fan(2)])), fits)  # nothing to hold it against
    alarm = Alarm(name="input", unit="psu-1", condition=FAILED)
    same_text(told(swapped([*once, alarm], [*once, alarm])), fits)


@pytest.mark.parametrize(
    ("one", "two", "fits"),
    [
        ({"vin": "1 V"}, {"vin": "1.15 V"}, True),
        ({"vin": "1 V"}, {"vin": "1.16 V"}, False),
        ({"vin": "3 V"}, {"vin": "3.15 V"}, True),
        ({"vin": "3 V"}, {"vin": "3.2 V"}, False),
        ({"vin": "230 V"}, {"vin": "241.5 V"}, True),
        ({"vin": "230 V"}, {"vin": "241.6 V"}, False),
        ({"iout": "3 A"}, {"iout": "4 A"}, True),
        ({"iout": "3 A"}, {"iout": "4.1 A"}, False),
        ({"pout": "100 W"}, {"pout": "105 W"}, True),
        ({"pout": "100 W"}, {"pout": "105.1 W"}, False),
    ],
)
def test_between_two_tables_lie_two_moments(one: dict[str, Any], two: dict[str, Any], fits: bool) -> None:
    """A twentieth, or one unit, or 0.15 V."""
    rows = [sighted(supply(1, **one), "one", line=1), sighted(supply(1, **two), "two", line=2)]
    found = [d.outcome.value for d in text.agreement(swapped([], rows))]
    assert found == (["met"] if fits else ["undetermined"])


# ---- the switch's work


def worked(before: float, after: float, went: float | None = None) -> Iterable[Draft]:
    """Uptimes in seconds, and how far the clock went meanwhile."""
    from datetime import UTC, datetime, timedelta

    noon = datetime(2026, 3, 1, 12, tzinfo=UTC)
    rows = [[fact("uptime", f"{t} s")] for t in (before, after)]
    if went is not None:
        rows[0].append(fact("clock", said=noon.isoformat()))
        rows[1].append(fact("clock", said=(noon + timedelta(seconds=went)).isoformat()))
    return service.uptime(swapped(rows[0], rows[1]))


def test_what_is_said_of_the_uptime() -> None:
    same_text(
        worked(1000, 1001),
        """
        met uptime: the uptime went on by 1 s
          measured 1001 s; limit 1000 s; source the baseline
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 1000),
        """
        undetermined uptime: the uptime did not move: both texts may be one capture
          measured 1000 s; limit 1000 s; source the baseline
          do: capture again after the swap
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 999),
        """
        unmet uptime: the uptime fell from 00:16:40 to 00:16:39: the device reloaded, or the texts are swapped
          measured 999 s; limit 1000 s; source the baseline
          do: check the order of the files, then the reason of the reload
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 999, -1),
        """
        undetermined uptime: the text after the swap is older than the one before: they are swapped
          measured 999 s; limit 1000 s; source the baseline
          do: give the two files the other way round
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 999, 0),
        """
        unmet uptime: the uptime fell from 00:16:40 to 00:16:39: the device reloaded, or the texts are swapped
          measured 999 s; limit 1000 s; source the baseline
          do: check the order of the files, then the reason of the reload
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 1000 + 30 * 86400),
        """
        met uptime: the uptime went on by 30 d 00:00:00
          measured 2593000 s; limit 1000 s; source the baseline
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 1001 + 30 * 86400),
        """
        undetermined uptime: the uptime went on by 30 d 00:00:01, longer than any swap takes
          measured 2593001 s; limit 1000 s; source common practice
          do: check that both texts belong to this swap
          at after:1 before:1
        """,
    )
    same_text(
        service.uptime(swapped([fact("uptime", "1 s")], [fact("load", "1 W")])),
        """
        undetermined uptime: the uptime was not printed after the swap
          do: no command that is read of this device family shows it: look at the device
          at before:1
        """,
    )
    noon = fact("clock", said="2026-03-01T12:00:00+00:00")
    alone = """
        met uptime: the uptime went on by 1 s
          measured 2 s; limit 1 s; source the baseline
          at after:1 before:1
        """
    same_text(service.uptime(swapped([fact("uptime", "1 s")], [fact("uptime", "2 s"), noon])), alone)
    same_text(service.uptime(swapped([fact("uptime", "1 s"), noon], [fact("uptime", "2 s")])), alone)
    said = "the uptime was not printed after the swap"
    named = snapshot(fact("uptime", "1 s"))._replace(commands={"uptime": ("tell age",)})
    for silent in (fact("uptime"), fact("uptime", said="long")):
        (draft,) = service.uptime(swapped(named, [silent]))
        assert (draft.message, draft.hint) == (said, "capture `tell age`")
    same_text(
        service.uptime(swapped([], [fact("uptime", "1 s")])),
        """
        undetermined uptime: the uptime was not printed
          do: no command that is read of this device family shows it: look at the device
          at no line; advisory
        """,
    )


@pytest.mark.parametrize(("went", "fits"), [(720, True), (720.1, False), (480, True), (479.9, False), (600, True)])
def test_uptime_and_clock_go_on_alike(went: float, fits: bool) -> None:
    """Within two minutes."""
    (only,) = worked(1000, 1600, went)
    assert (only.outcome.value == "met") is fits


@pytest.mark.parametrize(("went", "fits"), [(10000, True), (10001, False), (9047, False), (9048, True)])
def test_over_hours_uptime_and_clock_go_on_alike_to_a_twentieth(went: float, fits: bool) -> None:
    """Of what the clock went on by."""
    (only,) = worked(1000, 10500, went)
    assert (only.outcome.value == "met") is fits


def test_what_is_said_of_an_uptime_that_went_on_otherwise() -> None:
    same_text(
        worked(1000, 1600, 3600),
        """
        undetermined uptime: the uptime went on by 00:10:00 while the clock went on by 01:00:00
          measured 1600 s; limit 1000 s; source common practice
          do: check the device's clock, then capture again
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 1000, -600),
        """
        undetermined uptime: the uptime went on by 0 s while the clock went on by -600 s
          measured 1000 s; limit 1000 s; source common practice
          do: check the device's clock, then capture again
          at after:1 before:1
        """,
    )
    same_text(
        worked(1000, 1600, -600),
        """
        undetermined uptime: the uptime went on by 00:10:00 while the clock went on by -600 s
          measured 1600 s; limit 1000 s; source common practice
          do: check the device's clock, then capture again
          at after:1 before:1
        """,
    )


@pytest.mark.parametrize(("went", "fits"), [(100000, True), (100001, False)])
def test_or_within_a_twentieth(went: float, fits: bool) -> None:
    (only,) = worked(1000, 96000, went)
    assert (only.outcome.value == "met") is fits


def test_what_is_said_of_links() -> None:
    told = service.links

    def link(name: str, condition: Condition | None = OK, said: str | None = None) -> Link:
        return Link(name=name, condition=condition, status_text=said)

    up, also = link("Po1", said="up"), link("Po2", said="up")
    same_text(
        told(swapped([up, also], [up, also])),
        """
        met links: 2 links that were up still are
          measured 2; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([up], [up])),
        """
        met links: 1 link that was up still is
          measured 1; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([up, also], [link("Po1", NO_INPUT, "down"), also])),
        """
        unmet Po1: link Po1 was up and is `down` now
          measured down; limit up; source the baseline
          do: check the cable that was moved
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([up, also], [also])),
        """
        unmet Po1: link Po1 was up and is gone now
          limit up; source the baseline
          do: check the cable that was moved
          at before:1; by absence of link
        """,
    )
    same_text(
        told(swapped([up, also], [link("Po1", UNTOLD, "odd"), link("Po2", None, "x")])),
        """
        undetermined Po1: link Po1 was up and is `odd` now
          measured odd; limit up; source the baseline
          do: check the cable that was moved
          at after:1 before:1
        undetermined Po2: link Po2 was up and is `x` now
          measured x; limit up; source the baseline
          do: check the cable that was moved
          at after:2 before:2
        """,
    )
    same_text(
        told(swapped([link("Po1", NO_INPUT, "down"), also], [link("Po1", FAILED, "err"), also])),
        """
        undetermined Po1: link Po1 was `down` and is `err` now
          measured err; limit down; source the baseline
          do: find out when it failed: a port without a link does not fail by itself
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([link("Po1", WARNING, "w"), also], [link("Po1", FAILED, "err"), also])),
        """
        met links: 1 link that was up still is
          measured 1; source the baseline
          at after:1
        """,
    )
    # A port is told by its own name, and what has none by its card.
    for name, called in (("Po1", "Po1"), (None, "card-1")):
        ports = [Link(unit="card-1", name=name, condition=c, status_text=s)
                 for c, s in ((OK, "up"), (NO_INPUT, "down"), (FAILED, "err"))]  # fmt: skip
        said = [
            d.message for was, now in ((0, 1), (1, 2)) for d in told(swapped([ports[was], also], [ports[now], also]))
        ]
        assert said == [f"link {called} was up and is `down` now", f"link {called} was `down` and is `err` now"]
    # One that is well, is gone or was broken before keeps nothing else from being told.
    same_text(
        told(
            swapped(
                [also, link("Po3", NO_INPUT, "down"), link("Po4", WARNING, "w"), link("Po1", NO_INPUT, "down")],
                [also, link("Po4", FAILED, "err"), link("Po1", FAILED, "err")],
            )
        ),
        """
        undetermined Po1: link Po1 was `down` and is `err` now
          measured err; limit down; source the baseline
          do: find out when it failed: a port without a link does not fail by itself
          at after:3 before:4
        """,
    )
    same_text(
        told(swapped([link("Po1", NO_INPUT, "down")], [link("Po1", OK, "up")])),
        """
        met links: 0 links that were up still are
          measured 0; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([up], [supply(1)])),
        """
        undetermined links: the links were not printed after the swap
          do: no command that is read of this device family shows it: look at the device
          at no line
        """,
    )
    same_text(
        told(swapped([supply(1)], [up])),
        """
        undetermined links: the links were not printed
          do: no command that is read of this device family shows it: look at the device
          at no line; advisory
        """,
    )


def test_what_is_said_of_alarms() -> None:
    told = service.alarms

    def alarm(name: str, condition: Condition | None = FAILED, said: str | None = None) -> Alarm:
        return Alarm(name=name, unit="psu-2", condition=condition, status_text=said)

    quiet = alarm("temp", OK)
    same_text(
        told(swapped([alarm("input")], [alarm("input")])),
        """
        met alarms: no new alarm; 1 alarm stood before too
          measured 1; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([alarm("input"), alarm("x")], [alarm("input"), alarm("x")])),
        """
        met alarms: no new alarm; 2 alarms stood before too
          measured 2; source the baseline
          at after:1 after:2
        """,
    )
    same_text(
        told(swapped([quiet], [quiet])),
        """
        met alarms: no new alarm
          measured 0; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([quiet], [alarm("temp", WARNING, "hot"), alarm("new")])),
        """
        unmet psu-2 temp: new alarm: psu-2 temp (hot)
          measured hot; source the baseline
          do: clear its cause, then capture again
          at after:1; of psu-2
        unmet psu-2 new: new alarm: psu-2 new
          source the baseline
          do: clear its cause, then capture again
          at after:2; of psu-2
        """,
    )
    same_text(
        told(swapped([], [alarm("temp", WARNING, "hot")])),
        """
        undetermined psu-2 temp: an alarm that may be new: psu-2 temp (hot)
          measured hot; source the baseline
          do: clear its cause, then capture again
          at after:1; of psu-2
        """,
    )
    same_text(
        told(swapped([quiet, alarm("x", OK)], [quiet])),
        """
        undetermined psu-2 x: psu-2 x was not printed any more
          do: capture the alarms again
          at before:2; of psu-2
        """,
    )
    same_text(
        told(swapped([quiet], [])),
        """
        undetermined alarms: the alarms were not printed after the swap
          do: no command that is read of this device family shows it: look at the device
          at no line
        """,
    )
    same_text(
        told(swapped([alarm("input"), quiet], [alarm("input", OK), quiet])),  # one that was cleared
        """
        met alarms: no new alarm
          measured 0; source the baseline
          at after:2
        """,
    )
    same_text(
        told(swapped([alarm("input"), quiet], [quiet])),
        """
        met alarms: no new alarm
          measured 0; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped([], [])),
        """
        undetermined alarms: the alarms were not printed
          do: no command that is read of this device family shows it: look at the device
          at no line; advisory
        """,
    )
    open_ended = [sighted(quiet, "alarm", ended=False)]
    same_text(
        told(swapped([quiet], open_ended)),
        """
        undetermined alarms: the alarm list may go on behind the end of the text
          do: capture it with the prompt that follows
          at after:1
        """,
    )
    same_text(
        told(swapped([], open_ended)),
        """
        undetermined alarms: the alarm list may go on behind the end of the text
          do: capture it with the prompt that follows
          at after:1; advisory
        """,
    )


def test_what_is_said_of_facts() -> None:
    def told(*rows: AnyReading) -> Iterable[Draft]:
        judged = swapped(rows, rows)
        return service.facts(judged.after, judged)

    same_text(
        told(fact("mode", said="sufficient", condition=WARNING), fact("rail", condition=OK)),
        """
        unmet mode: mode is `sufficient`
          measured sufficient
          at after:1
        """,
    )
    same_text(
        told(Inventory(unit="board-1", condition=ABSENT, status_text="empty"), supply(2, FAILED)),
        """
        unmet board-1: board-1 is `empty`
          measured empty
          at after:1; of board-1
        """,
    )
    same_text(told(supply(2), Inventory(unit="psu-2", condition=FAILED)), "")
    known = service.facts_unknown
    same_text(
        known(swapped([fact("mode", said="full", condition=OK)], [fact("mode", said="hm", condition=UNTOLD)])),
        """
        undetermined mode: mode has a status that is not known (`hm`); it was `full` before
          measured hm; limit full; source the baseline
          at after:1
        """,
    )
    same_text(
        known(swapped([fact("mode", said="hm", condition=UNTOLD)], [fact("mode", said="hm", condition=UNTOLD)])), ""
    )
    same_text(
        known(
            swapped(
                [fact("mode", said="hm", condition=UNTOLD), fact("m", said="rest", condition=STANDBY)],
                [fact(n, said="hm", condition=UNTOLD) for n in ("mode", "n")]
                + [fact("m", said="rest", condition=STANDBY)],
            )
        ),
        """
        undetermined n: n has a status that is not known (`hm`)
          measured hm; source the baseline
          at after:2; advisory
        """,
    )
    same_text(
        known(swapped([], [fact("mode", said="hm", condition=UNTOLD)])),
        """
        undetermined mode: mode has a status that is not known (`hm`)
          measured hm; source the baseline
          at after:1; advisory
        """,
    )
    same_text(
        known(swapped([fact("m", said="on", condition=OK)], [fact("m", said="rest", condition=STANDBY)])),
        """
        undetermined m: m went to standby (`rest`); it was `on` before
          measured rest; limit on; source the baseline
          at after:1
        """,
    )
    same_text(known(swapped([fact("m", said="x", condition=UNTOLD)], [fact("m", said="rest", condition=STANDBY)])), "")
    same_text(
        known(swapped([], [fact("m", said="rest", condition=STANDBY), fact("n", said="hm", condition=UNTOLD)])),
        """
        undetermined n: n has a status that is not known (`hm`)
          measured hm; source the baseline
          at after:2; advisory
        """,
    )
    same_text(
        known(swapped([supply(2)], [supply(2, UNTOLD, status_text="hm"), fact("n", said="hm", condition=UNTOLD)])),
        """
        undetermined n: n has a status that is not known (`hm`)
          measured hm; source the baseline
          at after:2; advisory
        """,
    )


def test_what_is_said_of_the_device_family() -> None:
    from consolecheck.records.readings import Confirmation

    told = text.one_dialect
    sound = snapshot(supply(1))
    same_text(
        told(swapped(sound, sound)),
        """
        met text: both texts are made
          measured made; limit made
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(sound, sound._replace(dialect="other"))),
        """
        undetermined text: the texts are made before and other after
          measured other; limit made
          do: find the two captures of one device, or name the family with --dialect
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(sound._replace(dialect=None), sound)),
        """
        undetermined text: the texts are None before and made after
          measured made
          do: find the two captures of one device, or name the family with --dialect
          at after:1 before:1
        """,
    )
    unknown = sound._replace(dialect=None, basis="inferred")
    same_text(
        told(swapped(unknown, unknown)),
        """
        undetermined text: no dialect knows these texts; what was read of them is inferred, and nobody has confirmed how
          do: write the reading map with read --map, look it over, and give it with --confirm-map
          at after:1 before:1
        """,
    )
    one, two = (unknown._replace(confirmed=Confirmation("Petrel", "2026-03-01T12:00:00Z", d)) for d in ("d1", "d2"))
    same_text(
        told(swapped(one, one)),
        """
        met text: both texts have the layout of the reading map that Petrel confirmed
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(one, two)),
        """
        undetermined text: the texts were confirmed by two reading maps
          at after:1 before:1
        """,
    )
    drafted = sound._replace(basis="inferred")
    same_text(
        told(swapped(drafted, drafted)),
        """
        undetermined text: dialect made is a draft; what was read with it is inferred, and nobody has confirmed how
          do: write the reading map with read --map, look it over, and give it with --confirm-map
          at after:1 before:1
        """,
    )
    seen = drafted._replace(confirmed=Confirmation("Petrel", "2026-03-01T12:00:00Z", "d1"))
    same_text(
        told(swapped(seen, seen)),
        """
        met text: both texts have the layout of the reading map that Petrel confirmed
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(drafted._replace(dialect="other"), drafted)),
        """
        undetermined text: the texts are other before and made after
          measured made; limit other
          do: find the two captures of one device, or name the family with --dialect
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(one, unknown)),
        """
        undetermined text: no dialect knows these texts; what was read of them is inferred, and nobody has confirmed how
          do: write the reading map with read --map, look it over, and give it with --confirm-map
          at after:1 before:1
        """,
    )
