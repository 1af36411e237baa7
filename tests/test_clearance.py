"""Go, hold or unknown before a unit is pulled: a case per fault with its good twin, and laws that hold for all."""

import re
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from support import dialect, q, sighted, snapshot

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import (
    Acceptance,
    ClearanceLimits,
    CoolingLimits,
    IdentityLimits,
    PowerLimits,
)
from consolecheck.judging.clearance import QUESTIONS, Answer, Clearance, clearance
from consolecheck.judging.clearance.air import RISE_FAN, RISE_SUPPLY
from consolecheck.judging.judge import NoSuchUnit
from consolecheck.judging.view import NOT_SEEN, Observed, Sample
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Finding, Outcome
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
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.shell import Options, Shell

GO, HOLD, UNKNOWN = Answer.GO, Answer.HOLD, Answer.UNKNOWN
MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
OK, WARNING, FAILED, ABSENT, NO_INPUT, STANDBY = (
    Condition.OK, Condition.WARNING, Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT, Condition.STANDBY,
)  # fmt: skip
UNTOLD = Condition.UNKNOWN
WEXCOMBE = dialect("wexcombe")
PAPERS = WEXCOMBE.manifest.chassis
NO_HEADROOM = Acceptance(power=PowerLimits(headroom_percent=0))


def supply(
    number: int, watts: float | None = 200, rated: float | None = 600, condition: Condition | None = OK, **more: object
) -> PowerSupply:
    """A supply with its output and its rated power."""
    return PowerSupply(
        unit=f"psu-{number}",
        condition=condition,
        output_power=None if watts is None else q(f"{watts} W"),
        capacity=None if rated is None else q(f"{rated} W"),
        **more,  # type: ignore[arg-type]
    )


def dead(number: int, condition: Condition = FAILED, **more: object) -> PowerSupply:
    return supply(number, 0, condition=condition, **more)


def fan(number: int, condition: Condition | None = OK, **more: object) -> Fan:
    return Fan(unit=f"fan-{number}", name=f"{number}a", condition=condition, speed=q("8400 rpm"), **more)  # type: ignore[arg-type]


def sensor(value: float, warning: float | None = 60, name: str = "asic", unit: str | None = None) -> Temperature:
    return Temperature(
        unit=unit,
        name=name,
        condition=OK,
        value=q(f"{value} C"),
        high_warning=None if warning is None else q(f"{warning} C"),
    )


FANS = (fan(1), fan(2), fan(3))
COOL = sensor(30)


def asked(
    *readings: AnyReading | Sighting,
    unit: str = "psu-2",
    acceptance: Acceptance = NO_HEADROOM,
    seen: dict[str, str] | None = None,
    chassis: str | None = None,
    open_seconds: float = 120,
    needed: int | None = 2,
    samples: tuple[Sample, ...] = (),
) -> Clearance:
    """The clearance for readings, beside three good fans and a cool sensor where none are given."""
    kinds = {(r.reading if isinstance(r, Sighting) else r).kind for r in readings}
    beside = (*(FANS if "fan" not in kinds else ()), *((COOL,) if "temperature" not in kinds else ()))
    return clearance(
        snapshot(*readings, *beside),
        unit,
        acceptance,
        tuple(Observed(unit, fact, value) for fact, value in (seen or {}).items()),
        chassis,
        open_seconds,
        needed,
        samples,
    )


def found(result: Clearance, rule: str, subject: str | None = None) -> list[Finding]:
    return [f for f in result.findings if f.rule == f"clearance.{rule}" and subject in (None, f.subject)]


def the(result: Clearance, rule: str, subject: str | None = None) -> Finding:
    (only,) = found(result, rule, subject)
    return only


def stops(result: Clearance) -> set[str]:
    """The questions that speak against it, or are open and count."""
    return {f.rule.removeprefix("clearance.") for f in result.findings if f.required and f.outcome is not MET}


# The answer as such.


def test_a_switch_at_rest_is_go_and_every_finding_has_a_line() -> None:
    result = asked(supply(1), supply(2))
    assert (GO, "psu-2", set()) == (result.answer, result.unit, stops(result))
    assert all(f.evidence and f.message and "\n" not in f.message for f in result.findings)
    assert {f.rule for f in result.findings} == {q.id for q in QUESTIONS}


def test_every_question_has_its_manual() -> None:
    assert all(question.why and question.id.startswith("clearance.") for question in QUESTIONS)


def test_a_unit_that_the_text_does_not_show_is_refused() -> None:
    with pytest.raises(NoSuchUnit) as refused:
        asked(supply(1), supply(2), unit="psu-7")
    assert refused.value.known == ("psu-1", "psu-2", "fan-1", "fan-2", "fan-3")


def test_of_nothing_nothing_is_known() -> None:
    result = clearance(snapshot()._replace(last_line=0), "psu-2", Acceptance())
    assert result.answer is UNKNOWN
    assert the(result, "unit").outcome is UNDETERMINED


def test_readings_that_were_only_inferred_are_never_go() -> None:
    seen = snapshot(supply(1), supply(2), *FANS, COOL)
    assert clearance(seen, "psu-2", Acceptance(), modules_needed=2).answer is GO
    assert clearance(seen._replace(basis="inferred"), "psu-2", Acceptance(), modules_needed=2).answer is UNKNOWN
    hot = snapshot(supply(1), supply(2), *FANS, sensor(60))._replace(basis="inferred")
    assert clearance(hot, "psu-2", Acceptance(), modules_needed=2).answer is HOLD


def test_an_empty_slot_is_told_and_does_not_count() -> None:
    result = asked(supply(1), PowerSupply(unit="psu-2", condition=ABSENT))
    assert (GO, UNMET, False) == (result.answer, the(result, "unit").outcome, the(result, "unit").required)
    assert "nothing to pull" in the(result, "unit").message


# Load. 4 supplies of 1100 W, 2800 W of load: N = 3 (trade definition of N and N+1).


def bank(total: float, number: int, feeds: str = "", rated: float | None = 1100) -> list[PowerSupply]:
    """Supplies that share a load evenly."""
    return [
        supply(n, total / number, rated, feed=feeds[n - 1] if feeds else None, part_number="WXP-1100")
        for n in range(1, number + 1)
    ]


@pytest.mark.parametrize(
    ("total", "number", "headroom", "capacity", "expected"),
    [
        (2800, 4, 0, 3300, GO), (2800, 3, 0, 2200, HOLD), (2800, 2, 0, 1100, HOLD),
        (3300, 4, 0, 3300, GO), (3301, 4, 0, 3300, HOLD),
        (2970, 4, 10, 2970, GO), (2971, 4, 10, 2970, HOLD),
    ],
)  # fmt: skip
def test_the_rest_carries_the_load_exactly_full_included(
    total: float, number: int, headroom: float, capacity: float, expected: Answer
) -> None:
    """Load 2800 W, unit 1100 W: N = 3; four good are N+1, three have no spare. At 3300 W N is 3 still, not 4."""
    result = asked(*bank(total, number), acceptance=Acceptance(power=PowerLimits(headroom_percent=headroom)))
    told = the(result, "load", "psu-2")
    assert (expected, q(f"{capacity} W")) == (result.answer, told.limit)
    assert told.margin is not None
    assert capacity - total == pytest.approx(told.margin.value)
    assert ("N = 3" in (told.limit_source or "")) == (2800 <= total <= 3300)
    assert stops(result) == (set() if expected is GO else {"load"})


def test_load_or_rating_not_printed_leaves_it_open_with_the_next_act() -> None:
    for readings, acts in (
        ([supply(1, None), supply(2, None)], "meter it"),
        ([supply(1, rated=None), supply(2)], "[power.capacity]"),
        ([supply(1, 0), supply(2, 0)], "meter it"),
    ):
        result = asked(*readings)
        assert (UNKNOWN, {"load"}) == (result.answer, stops(result))
        assert acts in (the(result, "load").hint or "")


def test_rated_power_may_come_from_the_acceptance() -> None:
    known = Acceptance(power=PowerLimits(capacity={"WXP-1100": 1100}))
    assert asked(*bank(2800, 4, rated=None)).answer is UNKNOWN
    assert asked(*bank(2800, 4, rated=None), acceptance=known).answer is GO


def test_what_is_known_may_suffice() -> None:
    """A rating that is missing can only add to what the others can deliver."""
    assert asked(supply(1), supply(2), supply(3, rated=None)).answer is GO
    assert asked(supply(1, 400), supply(2, 400), supply(3, 400, rated=None)).answer is UNKNOWN


def test_standby_counts_while_the_acceptance_says_so() -> None:
    pair = supply(1, 0, condition=STANDBY), supply(2, 400)
    never = Acceptance(power=PowerLimits(standby_is_good=False))
    assert asked(*pair).answer is GO
    assert (HOLD, {"load", "last-leg", "others"}) == (
        asked(*pair, acceptance=never).answer,
        stops(asked(*pair, acceptance=never)),
    )


def test_a_supply_that_says_ok_and_carries_nothing_leaves_it_open() -> None:
    """It may stand by to take over, or be dead: nobody finds out by pulling the other one."""
    result = asked(supply(1, 0), supply(2, 400))
    assert (UNKNOWN, {"load", "last-leg", "others"}) == (result.answer, stops(result))
    assert "next to nothing" in the(result, "others").message
    spared = asked(supply(1, 0), supply(2, 200), supply(3, 200))
    assert (GO, False) == (spared.answer, the(spared, "others").required)


def test_a_supply_that_only_the_parts_list_shows_makes_a_hole_in_the_load() -> None:
    shown = [supply(1, 500), supply(2, 50)], [Inventory(unit=f"psu-{n}", condition=OK) for n in (1, 2, 3)]
    assert asked(*shown[0], *shown[1][:2]).answer is GO
    result = asked(*shown[0], *shown[1])
    assert (UNKNOWN, {"load", "others"}) == (result.answer, stops(result))
    empty = Inventory(unit="psu-3", condition=ABSENT)
    assert asked(*shown[0], *shown[1][:2], empty).answer is GO


def test_load_plays_no_part_in_a_job_on_a_fan_module() -> None:
    result = asked(supply(1, 700), supply(2, 700), unit="fan-2")
    assert (GO, [], []) == (result.answer, found(result, "load"), found(result, "last-leg"))


# Feeds.


@pytest.mark.parametrize("redundancy", ["N+1", "N+N"])
@pytest.mark.parametrize(
    ("feeds", "unit", "alone"),
    [
        ("AAAB", "psu-4", "A"), ("AAAB", "psu-1", None), ("AABB", "psu-2", None), ("ABCD", "psu-3", None),
        ("AAAA", "psu-2", "A"),
    ],
)  # fmt: skip
def test_one_feed_for_all_that_stay_is_told_and_never_counts(
    redundancy: str, feeds: str, unit: str, alone: str | None
) -> None:
    """3+1 over two feeds is N+1 but not N+N: the pull costs the redundancy either way, so it is only said."""
    power = PowerLimits(headroom_percent=0, redundancy=redundancy)  # type: ignore[arg-type]
    result = asked(*bank(2800, 4, feeds), unit=unit, acceptance=Acceptance(power=power))
    told = the(result, "load", "feeds")
    assert (GO, UNMET if alone else MET, False) == (result.answer, told.outcome, told.required)
    if alone:
        lost = ", and N+N is lost for as long" if redundancy == "N+N" else ""
        assert told.message == f"while {unit} is out, feed {alone} alone carries the switch{lost}"
    else:
        left = sorted({f for n, f in enumerate(feeds, 1) if f"psu-{n}" != unit})
        assert told.measured == f"{', '.join(left[:-1])} and {left[-1]}"


def test_a_cord_that_nobody_followed_may_hang_anywhere() -> None:
    assert found(asked(*bank(2100, 3, "AAA"), supply(4, 700, 1100), unit="psu-1"), "load", "feeds") == []
    stated = Acceptance(power=PowerLimits(feeds={"A": ["psu-1"], "B": ["psu-2"]}))
    assert "feed A alone" in the(asked(supply(1), supply(2), acceptance=stated), "load", "feeds").message


# The last leg, and failed units.


@pytest.mark.parametrize("condition", [FAILED, WARNING, NO_INPUT])
def test_the_last_good_supply_is_never_pulled(condition: Condition) -> None:
    result = asked(supply(1, 0, condition=condition), supply(2, 100))
    assert (HOLD, UNMET) == (result.answer, the(result, "last-leg").outcome)
    assert "last leg" in the(result, "last-leg").message


def test_the_only_supply_is_never_pulled() -> None:
    result = asked(supply(2))
    assert (HOLD, UNMET) == (result.answer, the(result, "last-leg").outcome)
    cut_off = asked(sighted(supply(2), "power", ended=False))
    assert (UNKNOWN, UNDETERMINED) == (cut_off.answer, the(cut_off, "last-leg").outcome)


def test_a_supply_of_unknown_state_leaves_the_last_leg_open() -> None:
    for condition in (UNTOLD, None):
        result = asked(supply(1, condition=condition), supply(2))
        assert (UNKNOWN, UNDETERMINED) == (result.answer, the(result, "last-leg").outcome)


@pytest.mark.parametrize("condition", [FAILED, NO_INPUT, ABSENT])
def test_a_dead_unit_may_be_pulled_for_it_takes_nothing_away(condition: Condition) -> None:
    """560 W on a supply of 600 W is beyond 10 % of headroom; it carries them already, and pulling adds nothing."""
    result = asked(supply(1, 560), dead(2, condition), acceptance=Acceptance())
    told = the(result, "load")
    assert (GO, MET) == (result.answer, told.outcome)
    assert "delivers nothing: the rest carries the load of 560 W already" in told.message
    without_figures = asked(supply(1, 560), PowerSupply(unit="psu-2", condition=condition))
    assert without_figures.answer is GO


def test_a_unit_that_reports_a_failure_and_still_delivers_is_no_dead_one() -> None:
    assert asked(supply(1, 300), supply(2, 260, condition=FAILED)).answer is GO
    result = asked(supply(1, 400), supply(2, 260, condition=FAILED))
    assert (HOLD, {"load"}) == (result.answer, stops(result))


def test_beside_a_dead_unit_the_rest_must_be_good() -> None:
    assert asked(supply(1, condition=WARNING), dead(2)).answer is HOLD
    assert asked(supply(1, condition=UNTOLD), dead(2)).answer is UNKNOWN
    assert asked(dead(1), dead(2)).answer is HOLD


def test_the_supplies_of_another_member_of_a_stack_carry_nothing_here() -> None:
    def stack(mate: Condition, member: str = "2") -> list[PowerSupply]:
        units = {"1/1": OK, "1/2": OK, f"{member}/1": OK, f"{member}/2": mate}
        return [
            PowerSupply(unit=f"psu-{u}", condition=c, output_power=q("100 W"), capacity=q("600 W"))
            for u, c in units.items()
        ]

    assert asked(*stack(OK), unit="psu-2/1").answer is GO
    result = asked(*stack(FAILED), unit="psu-2/1")
    assert (HOLD, UNMET) == (result.answer, the(result, "last-leg").outcome)
    assert asked(*stack(FAILED), unit="psu-1/1").answer is GO
    loads = [Device(unit=f"member-{m}", name="load", value=q(f"{w} W")) for m, w in ((1, 200), (2, 700))]
    bare = [s.model_copy(update={"output_power": None}) for s in stack(OK)]
    assert asked(*bare, *loads, unit="psu-1/1").answer is GO
    assert asked(*bare, *loads, unit="psu-2/1").answer is HOLD


# The other units.


@pytest.mark.parametrize("condition", [FAILED, WARNING, NO_INPUT, UNTOLD, None])
def test_an_ill_neighbour_counts_only_where_it_is_needed(condition: Condition | None) -> None:
    spare = asked(supply(1, 300), supply(2, 300), supply(3, 0, condition=condition))
    assert (GO, False) == (spare.answer, the(spare, "others").required)
    assert "psu-3" in the(spare, "others").message
    needed = asked(supply(1, 400), supply(2, 400), supply(3, 0, condition=condition))
    known = condition not in (UNTOLD, None)
    assert (HOLD if known else UNKNOWN, True) == (needed.answer, the(needed, "others").required)
    assert (UNMET if known else UNDETERMINED) is the(needed, "others").outcome


def test_whether_an_ill_neighbour_is_needed_may_not_be_known() -> None:
    result = asked(supply(1, None), supply(2, None), dead(3))
    assert (UNKNOWN, UNDETERMINED, True) == (
        result.answer, the(result, "others").outcome, the(result, "others").required,
    )  # fmt: skip
    idle = asked(supply(1, None), dead(2), dead(3))
    assert (GO, False) == (idle.answer, the(idle, "others").required)


def test_an_empty_bay_is_no_ill_neighbour() -> None:
    result = asked(supply(1), supply(2), PowerSupply(unit="psu-3", condition=ABSENT))
    assert (GO, MET) == (result.answer, the(result, "others").outcome)


# Fans.


@pytest.mark.parametrize(
    ("conditions", "unit", "expected"),
    [
        ((OK, OK, OK), "fan-2", GO), ((OK, FAILED, OK), "fan-2", GO),
        ((OK, OK, FAILED), "fan-2", HOLD), ((OK, OK, WARNING), "fan-2", HOLD), ((OK, OK, UNTOLD), "fan-2", UNKNOWN),
        ((OK, OK, STANDBY), "fan-2", UNKNOWN), ((OK, OK, None), "fan-2", UNKNOWN), ((OK, OK, ABSENT), "fan-2", HOLD),
        ((OK, OK, OK), "psu-2", GO), ((OK, WARNING, OK), "psu-2", GO), ((OK, FAILED, FAILED), "psu-2", HOLD),
        ((OK, FAILED, UNTOLD), "psu-2", UNKNOWN), ((OK, OK, ABSENT), "psu-2", GO),
    ],
)  # fmt: skip
def test_enough_fan_modules_turn(conditions: tuple[Condition, ...], unit: str, expected: Answer) -> None:
    """Guides want two of three, or three of four, to run meanwhile: common practice, no standard. Two here."""
    fans = [fan(n, c) for n, c in enumerate(conditions, 1)]
    result = asked(supply(1), supply(2), *fans, unit=unit)
    assert (expected, set() if expected is GO else {"fans"}) == (result.answer, stops(result) - {"others"})


def test_the_acceptance_says_how_many_before_the_papers_do() -> None:
    strict = Acceptance(cooling=CoolingLimits(modules_needed=3))
    assert asked(supply(1), supply(2), unit="fan-2").answer is GO
    assert asked(supply(1), supply(2), unit="fan-2", acceptance=strict).answer is HOLD
    assert asked(supply(1), supply(2), acceptance=strict).answer is GO


def test_where_nobody_says_how_many_one_must_turn() -> None:
    result = asked(supply(1), supply(2), unit="fan-2", needed=None)
    assert (GO, UNDETERMINED, False) == (result.answer, the(result, "fans").outcome, the(result, "fans").required)
    for unit in ("fan-2", "psu-2"):
        none_left = asked(supply(1), supply(2), fan(1, FAILED), fan(2, FAILED), unit=unit, needed=None)
        assert (HOLD, UNMET) == (none_left.answer, the(none_left, "fans").outcome)
    alone = asked(supply(1), supply(2), fan(2), unit="fan-2", needed=None)
    assert (HOLD, UNMET) == (alone.answer, the(alone, "fans").outcome)
    ill = asked(supply(1), supply(2), fan(1), fan(2), fan(3, FAILED), unit="fan-2", needed=None)
    assert (UNKNOWN, {"others"}) == (ill.answer, stops(ill))


def test_a_rotor_that_stands_belies_the_word_ok() -> None:
    still = Fan(unit="fan-3", name="3a", condition=OK, speed=q("0 rpm"))
    slow = Fan(unit="fan-3", name="3a", condition=OK, speed=q("2000 rpm"), low_critical=q("2400 rpm"))
    for ill in (still, slow):
        result = asked(supply(1), supply(2), fan(1), fan(2), ill, unit="fan-2")
        assert (HOLD, {"fans", "others"}) == (result.answer, stops(result))


# Heat. A fan module is taken to cost 3 K/min, a supply 1 K/min: common practice, no source.


def test_the_assumed_rises_are_those_of_the_manual() -> None:
    assert (3, 1) == (RISE_FAN, RISE_SUPPLY)


@pytest.mark.parametrize(
    ("value", "unit", "seconds", "expected"),
    [
        (57.9, "psu-2", 120, GO), (58, "psu-2", 120, HOLD), (53.9, "fan-2", 120, GO), (54, "fan-2", 120, HOLD),
        (56.9, "fan-2", 60, GO), (57, "fan-2", 60, HOLD), (60, "psu-2", 1, HOLD), (61, "fan-2", 1, HOLD),
    ],
)  # fmt: skip
def test_no_sensor_reaches_its_limit_while_the_slot_is_open(
    value: float, unit: str, seconds: float, expected: Answer
) -> None:
    """Warning at 60: 2 K in two minutes for a supply, 6 K for a fan module; equality trips (IPMI v2.0)."""
    result = asked(supply(1), supply(2), sensor(value), unit=unit, open_seconds=seconds)
    assert (expected, set() if expected is GO else {"heat"}) == (result.answer, stops(result))
    if value < 60:
        assert "assumed, common practice, no source" in the(result, "heat").message


def test_the_acceptance_sets_the_open_time_and_asks_for_more() -> None:
    short = Acceptance(clearance=ClearanceLimits(open_seconds=30))
    ahead = Acceptance(clearance=ClearanceLimits(least_minutes_to_warning=3))
    at = (supply(1), supply(2), sensor(56))
    assert (HOLD, GO) == (asked(*at, unit="fan-2").answer, asked(*at, unit="fan-2", acceptance=short).answer)
    assert (GO, HOLD) == (asked(*at).answer, asked(*at, acceptance=ahead).answer)


def test_without_a_warning_limit_the_critical_one_counts() -> None:
    hot = Temperature(name="asic", condition=OK, value=q("58 C"), high_critical=q("60 C"))
    assert "critical limit" in the(asked(supply(1), supply(2), hot), "heat").message
    assert asked(supply(1), supply(2), hot).answer is HOLD


def test_the_nearest_sensor_is_told_and_those_inside_the_unit_are_not() -> None:
    result = asked(supply(1), supply(2), sensor(30), sensor(95, 100, "cpu"), sensor(59, name="own", unit="psu-2"))
    told = the(result, "heat")
    assert (GO, "cpu") == (result.answer, told.subject)
    assert "1 other with more room" in told.message
    assert asked(supply(1), supply(2), sensor(59, name="own", unit="psu-1")).answer is HOLD


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (Temperature(name="asic", condition=WARNING, status_text="warm"), HOLD),
        (Temperature(name="asic", condition=UNTOLD, status_text="glorious", value=q("30 C"), high_warning=q("60 C")), UNKNOWN),
        (Temperature(name="asic", condition=OK, high_warning=q("60 C")), UNKNOWN),
        (Temperature(name="asic", value=q("30 C")), UNKNOWN),
        (Temperature(name="asic", condition=OK, value=q("30 C"), high_warning=q("60 C"), high_critical=q("50 C")), UNKNOWN),
        (Temperature(name="asic", unit="psu-3", condition=UNTOLD), GO),
    ],
)  # fmt: skip
def test_a_sensor_that_complains_or_is_silent(reading: Temperature, expected: Answer) -> None:
    """The last one sits in an empty bay, where nothing can answer."""
    empty = PowerSupply(unit="psu-3", condition=ABSENT)
    assert asked(supply(1), supply(2), empty, COOL.model_copy(update={"name": "cpu"}), reading).answer is expected


def test_without_any_limit_a_fan_module_stays_and_a_supply_may_go() -> None:
    for unit, expected in (("psu-2", GO), ("fan-2", UNKNOWN)):
        result = asked(supply(1), supply(2), sensor(30, None), unit=unit)
        assert (expected, UNDETERMINED) == (result.answer, the(result, "heat").outcome)


def samples(*values: float, every: float = 30, out: bool = False, name: str = "asic") -> tuple[Sample, ...]:
    """Captures in which one sensor moves, with the fan module in its slot or out."""
    module = fan(2, ABSENT if out else OK)
    return tuple(
        Sample(every * n, snapshot(supply(1), supply(2), fan(1), module, fan(3), sensor(v, name=name)))
        for n, v in enumerate(values)
    )


def test_a_steeper_rise_than_assumed_counts() -> None:
    """5 K/min is 10 K in two minutes: too much at 51, fine at 49."""
    for end, expected in ((51, HOLD), (49, GO)):
        rising = samples(end - 5, end - 2.5, end)
        result = asked(supply(1), supply(2), sensor(end), unit="fan-2", samples=rising)
        assert expected is result.answer
        assert "5 K/min (measured)" in the(result, "heat").message


def test_a_calm_sensor_says_nothing_of_an_open_slot_before_it_is_open() -> None:
    calm = asked(supply(1), supply(2), sensor(55), unit="fan-2", samples=samples(55, 55, 55))
    assert (HOLD, True) == (calm.answer, "assumed" in the(calm, "heat").message)
    is_out = asked(supply(1), supply(2), sensor(55), unit="fan-2", samples=samples(55, 55, 55, out=True))
    assert "0 K/min (measured)" in the(is_out, "heat").message
    assert is_out.answer is GO


def test_two_samples_tell_no_rate_and_one_step_of_a_sensor_none_either() -> None:
    assert "assumed" in the(asked(supply(1), supply(2), samples=samples(20, 30)), "heat").message
    step = samples(30, 30, 30, 30, 30, 31, every=15)
    assert "1 K/min (assumed" in the(asked(supply(1), supply(2), samples=step), "heat").message


def test_the_newest_sample_counts_and_so_does_a_sensor_that_only_it_shows() -> None:
    warmer = asked(supply(1), supply(2), sensor(30), samples=samples(30, 44, 59))
    assert (HOLD, True) == (warmer.answer, "in the newest sample" in the(warmer, "heat").message)
    other = asked(supply(1), supply(2), sensor(30, name="cpu"), samples=samples(59, 59, 59))
    assert other.answer is HOLD


def test_a_sample_that_was_not_wholly_read_tells_no_rate() -> None:
    first, second, third = samples(30, 31, 32)
    torn = third._replace(snapshot=third.snapshot._replace(unread=(UnreadLine(9, "?", "noise"),)))
    assert "assumed" in the(asked(supply(1), supply(2), samples=(first, second, torn)), "heat").message


# The place.

CHASSIS = Inventory(unit="chassis", condition=OK, serial="WXC-0041877")


@pytest.mark.parametrize(
    ("stated", "readings", "outcome", "expected"),
    [
        ("WXC-0041877", [CHASSIS], MET, GO), (" wxc-0041877", [CHASSIS], MET, GO),
        ("WXC-0041900", [CHASSIS], UNMET, HOLD), ("WXC-0041877", [], UNDETERMINED, UNKNOWN),
        (None, [CHASSIS], UNDETERMINED, GO), ("  ", [CHASSIS], UNDETERMINED, GO), (None, [], UNDETERMINED, GO),
        ("WXC-2", [CHASSIS, Device(name="chassis", serial="WXC-2")], MET, GO),
    ],
)  # fmt: skip
def test_the_chassis_is_the_one_of_the_ticket(
    stated: str | None, readings: list[AnyReading], outcome: Outcome, expected: Answer
) -> None:
    result = asked(supply(1), supply(2), *readings, chassis=stated)
    assert (expected, outcome) == (result.answer, the(result, "chassis").outcome)
    assert ("this is another chassis" in the(result, "chassis").message) == (outcome is UNMET)


def test_alarms_and_links_are_told_and_do_not_count() -> None:
    result = asked(
        supply(1),
        supply(2),
        Alarm(unit="psu-1", name="load over rating", condition=WARNING, status_text="note"),
        Alarm(unit="fan-1", name="rotor 1a stalled", condition=OK),
        Link(name="4", condition=NO_INPUT),
        Link(name="7", condition=OK),
    )
    assert result.answer is GO
    assert [("psu-1 load over rating", UNMET, False), ("links", UNMET, False)] == [
        (f.subject, f.outcome, f.required) for f in found(result, "service")
    ]
    assert the(result, "service", "links").message == "1 of 2 links is down already: 4"
    well = asked(supply(1), supply(2), Link(name="7", condition=OK), Alarm(name="any", condition=OK))
    assert [MET, MET] == [f.outcome for f in found(well, "service")]


# The replacement.

FITTED = (
    supply(1, part_number="WXP-600F", serial="WXS-20417", input_type="AC", airflow="front-to-back"),
    supply(2, part_number="WXP-600F", serial="WXS-20433", input_type="AC", airflow="front-to-back"),
)


@pytest.mark.parametrize(
    ("fact", "value", "expected"),
    [
        ("part", "WXP-600F", GO), ("part", "wxp-600f", GO), ("part", "WXP-600R", HOLD), ("part", "WXP-650F", GO),
        ("input", "AC", GO), ("input", "DC", HOLD),
        ("capacity", "600", GO), ("capacity", "600 W", GO), ("capacity", "0.65 kW", GO), ("capacity", "599 W", HOLD),
        ("capacity", "many", UNKNOWN), ("capacity", "12 V", UNKNOWN),
        ("airflow", "front-to-back", GO), ("airflow", "back-to-front", HOLD),
        ("serial", "WXS-31902", GO), ("serial", "WXS-20417", HOLD), ("serial", "wxs-20433", HOLD), ("serial", "-", UNKNOWN),
        ("damage", "none", GO), ("damage", "found", HOLD), ("contents", "missing", GO), ("contents", "complete", GO),
    ],
)  # fmt: skip
def test_the_part_in_hand_is_a_right_one(fact: str, value: str, expected: Answer) -> None:
    """WXP-650F is listed as a substitute."""
    listed = Acceptance(identity=IdentityLimits(substitutes={"WXP-600F": ["WXP-650F"]}))
    result = asked(*FITTED, seen={fact: value}, acceptance=listed)
    assert (expected, set() if expected is GO else {"replacement"}) == (result.answer, stops(result))
    assert the(result, "replacement", f"psu-2 {fact}").measured is not None


@pytest.mark.parametrize("fact", ["part", "input", "capacity", "airflow", "serial"])
def test_what_could_not_be_seen_is_no_evidence(fact: str) -> None:
    for seen in ({}, {fact: NOT_SEEN}):
        result = asked(*FITTED, seen=seen)
        told = the(result, "replacement")
        assert (GO, UNDETERMINED, False) == (result.answer, told.outcome, told.required)
        assert "--seen psu-2.part" in (told.hint or "")


@pytest.mark.parametrize(
    ("fact", "good", "bad"),
    [("part", "WXP-600F", "WXP-600R"), ("input", "AC", "DC"), ("capacity", "600", "550")],
)
def test_of_a_unit_that_does_not_answer_the_peers_tell(fact: str, good: str, bad: str) -> None:
    silent = PowerSupply(unit="psu-2", condition=FAILED)
    assert asked(FITTED[0], silent, seen={fact: good}).answer is GO
    assert asked(FITTED[0], silent, seen={fact: bad}).answer is HOLD
    # One that is well would have told: something of it is missing in the text.
    well = supply(2, rated=None)
    assert asked(FITTED[0], well, seen={fact: good}).answer is UNKNOWN
    untold = the(asked(supply(1, rated=None), silent, seen={fact: good}), "replacement", f"psu-2 {fact}")
    assert (UNDETERMINED, False) == (untold.outcome, untold.required)


def test_peers_of_two_ratings_leave_a_rating_between_them_open() -> None:
    mixed = (supply(1, rated=600), supply(3, rated=1100), PowerSupply(unit="psu-2", condition=FAILED))
    for watts, expected in (("1100", GO), ("800", UNKNOWN), ("500", HOLD)):
        assert asked(*mixed, seen={"capacity": watts}).answer is expected


def test_the_load_fits_the_new_part_after_a_loss() -> None:
    """Two of 600 W at 500 W of load: the new one must carry it alone when the other one fails."""
    peer = supply(1, 500, rated=400)
    for watts, outcome in (("500", MET), ("499", UNMET)):
        told = the(
            asked(peer, dead(2, rated=None), seen={"capacity": watts}), "replacement", "psu-2 capacity after a loss"
        )
        assert outcome is told.outcome
    four = bank(2000, 4, "AABB")
    both = Acceptance(power=PowerLimits(headroom_percent=0, redundancy="N+N"))
    told = the(asked(*four, seen={"capacity": "1100"}, acceptance=both), "replacement", "psu-2 capacity after a loss")
    assert (MET, q("2200 W")) == (told.outcome, told.limit)
    assert "loss of psu-3 and psu-4" in told.message


def test_airflow_is_that_of_the_rack_and_of_the_chassis() -> None:
    rack = Acceptance(cooling=CoolingLimits(airflow="back-to-front"))
    assert asked(*FITTED, seen={"airflow": "front-to-back"}, acceptance=rack).answer is HOLD
    assert asked(*FITTED, seen={"airflow": "back-to-front"}, acceptance=rack).answer is HOLD
    assert asked(supply(1), supply(2), seen={"airflow": "back-to-front"}, acceptance=rack).answer is GO
    mixed = (FITTED[0], supply(2, airflow="back-to-front"))
    assert asked(*mixed, seen={"airflow": "front-to-back"}).answer is UNKNOWN
    untold = the(asked(supply(1), supply(2), seen={"airflow": "front-to-back"}), "replacement")
    assert (UNDETERMINED, False) == (untold.outcome, untold.required)


def test_a_neighbour_without_a_serial_may_be_the_part_in_hand() -> None:
    assert asked(FITTED[1], supply(1), seen={"serial": "WXS-31902"}).answer is UNKNOWN
    assert asked(FITTED[0], dead(2), seen={"serial": "WXS-31902"}).answer is GO
    none_told = asked(supply(1), supply(2), seen={"serial": "WXS-31902"})
    assert (GO, False) == (none_told.answer, the(none_told, "replacement").required)


def test_a_fan_module_is_asked_for_what_fan_modules_have() -> None:
    fans = [fan(n, part_number="WXF-40F", serial=f"WXF-1105{n}") for n in (1, 2, 3)]
    seen = {"part": "WXF-40F", "serial": "WXF-20871", "capacity": "1 W", "input": "DC"}
    result = asked(supply(1), supply(2), *fans, unit="fan-2", seen=seen)
    assert (GO, ["fan-2 part", "fan-2 serial"]) == (result.answer, [f.subject for f in found(result, "replacement")])
    assert asked(supply(1), supply(2), *fans, unit="fan-2", seen={"part": "WXF-40R"}).answer is HOLD


# The text.


def test_figures_that_contradict_each_other_leave_it_open() -> None:
    """195 W that lost its first digit make 95 W, and a load that fits: volts times amps know better."""
    right = supply(1, 430, output_voltage=q("12 V"), output_current=q("36 A"))
    wrong = right.model_copy(update={"output_power": q("30 W")})
    other = supply(2, 430)
    assert asked(right, other).answer is HOLD
    result = asked(wrong, other, acceptance=Acceptance(power=PowerLimits(least_share_percent=0)))
    assert (UNKNOWN, {"text"}) == (result.answer, stops(result))
    cold = asked(supply(1), supply(2), sensor(24, name="inlet"), sensor(9, name="asic"))
    assert (UNKNOWN, {"text"}) == (cold.answer, stops(cold))
    unlike = [supply(n, rated=watts, part_number="WXP-600F") for n, watts in ((1, 600), (2, 60))]
    assert (UNKNOWN, {"text"}) == (asked(*unlike).answer, stops(asked(*unlike)))
    assert asked(*unlike, unit="fan-2").answer is GO  # what the supplies say is no matter there
    twice = asked(supply(1), sighted(supply(1, condition=WARNING), "other", line=40), supply(2), supply(3, 1))
    assert "text" in stops(twice)


def test_the_figures_of_a_dead_unit_may_be_anything() -> None:
    mad = PowerSupply(unit="psu-2", condition=FAILED, input_power=q("400 W"), output_power=q("0 W"))
    assert asked(supply(1), mad).answer is GO
    assert asked(supply(1), mad.model_copy(update={"condition": OK})).answer is UNKNOWN


@pytest.mark.parametrize("kind", ["fan", "temperature", "link"])
def test_what_the_family_prints_and_nobody_captured_leaves_it_open(kind: str) -> None:
    """But for what the answer does not rest on."""
    seen = snapshot(supply(1), supply(2))
    assert clearance(seen, "psu-2", Acceptance()).answer is GO
    result = clearance(seen._replace(commands={kind: (f"tell {kind}",)}), "psu-2", Acceptance())
    assert ((GO, set()) if kind == "link" else (UNKNOWN, {"text"})) == (result.answer, stops(result))
    assert f"capture `tell {kind}`" in {f.hint for f in result.findings}


@pytest.mark.parametrize("kind", ["power_supply", "fan", "temperature", "link"])
def test_a_table_that_was_cut_is_never_go(kind: str) -> None:
    seen = snapshot(supply(1), supply(2), *FANS, COOL, Link(name="7", condition=OK))
    assert clearance(seen, "psu-2", Acceptance(), modules_needed=2).answer is GO
    tables = tuple(t._replace(cut="its end is missing") if t.table == kind else t for t in seen.tables)
    result = clearance(seen._replace(tables=tables), "psu-2", Acceptance(), modules_needed=2)
    assert result.answer is UNKNOWN
    assert "text" in stops(result)
    if kind != "link":
        doubted = {f.rule for f in result.findings if f.doubt}
        assert doubted & {"clearance.load", "clearance.fans", "clearance.heat"}


def test_a_line_in_no_table_casts_doubt_on_all_that_was_found_well() -> None:
    seen = snapshot(supply(1), supply(2), *FANS, COOL)._replace(unread=(UnreadLine(4, "~?", "noise"),))
    result = clearance(seen, "psu-2", Acceptance(), modules_needed=2)
    assert (UNKNOWN, {"text", "load", "last-leg", "others", "fans", "heat"}) == (result.answer, stops(result))
    assert "line 4 of the text before the swap was not read" in the(result, "heat").message


# Laws for all.

HELD = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
CONDITIONS = st.sampled_from([OK, OK, OK, WARNING, FAILED, NO_INPUT, STANDBY, UNTOLD, None])
WATTS = st.sampled_from([0.0, 5.0, 150.0, 300.0, 560.0, 600.0])


@st.composite
def banks(draw: st.DrawFn) -> list[PowerSupply]:
    return [
        supply(n, draw(WATTS), draw(st.sampled_from([300.0, 600.0, 1100.0, None])), draw(CONDITIONS))
        for n in range(1, draw(st.integers(1, 4)) + 1)
    ]


@HELD
@given(readings=banks(), data=st.data(), headroom=st.sampled_from([0.0, 10.0]))
def test_less_capacity_never_turns_hold_into_go(
    readings: list[PowerSupply], data: st.DataObject, headroom: float
) -> None:
    acceptance = Acceptance(power=PowerLimits(headroom_percent=headroom))
    before = asked(*readings, unit="psu-1", acceptance=acceptance).answer
    assume(before is HOLD and len(readings) > 1)
    at = data.draw(st.integers(1, len(readings) - 1))
    less: dict[str, object] = data.draw(
        st.sampled_from(
            [{"capacity": q("100 W")}, {"capacity": None}, {"condition": FAILED}, {"condition": UNTOLD}, {"condition": ABSENT}]
        )
    )  # fmt: skip
    fewer = [r.model_copy(update=less) if n == at else r for n, r in enumerate(readings)]
    assert asked(*fewer, unit="psu-1", acceptance=acceptance).answer is not GO


@HELD
@given(readings=banks(), more=st.lists(WATTS, min_size=4, max_size=4))
def test_more_load_never_turns_hold_into_go(readings: list[PowerSupply], more: list[float]) -> None:
    before = asked(*readings, unit="psu-1").answer
    assume(before is HOLD)
    heavier = [
        r.model_copy(update={"output_power": q(f"{r.output_power.value + w} W")}) if r.output_power else r
        for r, w in zip(readings, more, strict=False)
    ]
    assert asked(*heavier, unit="psu-1").answer is not GO


@st.composite
def chassis_readings(draw: st.DrawFn) -> list[AnyReading]:
    """Supplies and fan modules with their parts list: each unit stands in two tables."""
    one = {"airflow": "front-to-back", "capacity": draw(st.sampled_from([q("600 W"), q("1100 W"), None]))}
    supplies = [s.model_copy(update=one) for s in draw(banks())]
    fans = [fan(n, draw(CONDITIONS)) for n in (1, 2, 3)]
    parts = [
        Inventory(unit=r.unit, condition=OK, serial=f"WX-{r.unit}", part_number=f"WX-{str(r.unit)[:3]}")
        for r in (*supplies, *fans)
    ]
    return [*supplies, *fans, *parts, CHASSIS, COOL]


@HELD
@given(readings=chassis_readings(), unit=st.sampled_from(["psu-1", "fan-2"]), data=st.data())
def test_damage_never_makes_a_text_say_go(readings: list[AnyReading], unit: str, data: st.DataObject) -> None:
    """A row lost without a trace, a line not read, a table cut. Of the unit itself no row is lost here: dead, it may be mute."""
    seen = snapshot(*readings)
    labels = st.sampled_from([f"WX-{unit[:3]}-{n}" for n in (1, 2, 3, "new")])
    observed = (Observed(unit, "serial", data.draw(labels)), Observed(unit, "part", f"WX-{unit[:3]}"))
    stated = data.draw(st.sampled_from([None, "WXC-0041877", "WXC-2"]))

    def answer(text: Snapshot) -> Answer:
        return clearance(text, unit, NO_HEADROOM, observed, stated, modules_needed=2).answer

    assume(answer(seen) is not GO)
    units = [s for s in seen.sightings if s.reading.kind != "temperature" and s.reading.unit != unit]
    lost = data.draw(st.sampled_from(units))
    without = seen._replace(sightings=tuple(s for s in seen.sightings if s is not lost))
    assert answer(without) is not GO, lost.reading
    table = data.draw(st.sampled_from([*(t.table for t in seen.tables), None]))
    assert answer(seen._replace(unread=(UnreadLine(3, "x", "noise", table),))) is not GO
    cut = tuple(t._replace(cut="its end is missing") if t.table == table else t for t in seen.tables)
    assert answer(seen._replace(tables=cut)) is not GO


# The simulated switch.


def captured(chassis: Chassis) -> bytes:
    """One session with all that the dialect asks for."""
    shell = Shell(chassis, Options(start="user", paused=False))
    out = b""
    for line in ("", *(c.send for c in WEXCOMBE.manifest.commands)):
        shell.feed(line.encode() + b"\r")
        out += shell.output(chassis.seconds)
    return out


def answered(raw: bytes, unit: str, acceptance: Acceptance | None = None) -> Clearance | None:
    """None where the text was refused."""
    try:
        seen = read_text(raw, "before.txt", dialects(), WEXCOMBE)
        return clearance(
            seen, unit, acceptance or Acceptance(), (), "WXC-0041877", PAPERS.open_seconds, PAPERS.modules_needed
        )
    except (NoSuchUnit, NotRecognised):
        return None


def stopped_fan(chassis: Chassis) -> None:
    chassis.fail_fan("fan-3")
    chassis.advance(60)


def hot(chassis: Chassis) -> None:
    chassis.creep("asic-1", 60)
    chassis.advance(90)


FAULTS: dict[str, tuple[Callable[[Chassis], object], str, Answer, set[str]]] = {
    "psu-2 at rest": (lambda c: None, "psu-2", GO, set()),
    "fan-2 at rest": (lambda c: None, "fan-2", GO, set()),
    "psu-2, psu-1 without cord": (lambda c: c.cord("psu-1", False), "psu-2", HOLD, {"last-leg", "load", "others"}),
    "psu-1 without cord": (lambda c: c.cord("psu-1", False), "psu-1", GO, set()),
    "psu-2, psu-1 out": (lambda c: c.pull("psu-1"), "psu-2", HOLD, {"last-leg"}),
    "fan-2, fan-3 stopped": (stopped_fan, "fan-2", HOLD, {"fans", "others"}),
    "fan-3 stopped": (stopped_fan, "fan-3", GO, set()),
    "psu-2, fan-3 stopped": (stopped_fan, "psu-2", GO, set()),
    "psu-2, asic hot": (hot, "psu-2", HOLD, {"heat"}),
    "psu-2, a link down": (lambda c: c.link_down(8), "psu-2", GO, set()),
}


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", FAULTS)
def test_the_simulated_switch(name: str, seed: int) -> None:
    deed, unit, expected, speaking = FAULTS[name]
    chassis = Chassis(seed)
    deed(chassis)
    result = answered(captured(chassis), unit)
    assert result is not None
    assert (expected, speaking) == (result.answer, stops(result))


def cuts(raw: bytes) -> Iterator[bytes]:
    """The text without one of its lines, and cut off at many places."""
    lines = raw.split(b"\r\n")
    for lost in range(len(lines)):
        yield b"\r\n".join([*lines[:lost], *lines[lost + 1 :]])
    for end in range(0, len(raw), 17):
        yield raw[:end]


def misread(raw: bytes) -> Iterator[bytes]:
    """The text with the first digit of a number lost."""
    for match in re.finditer(rb"(?<![\w.-])\d(?=\d)", raw):
        yield raw[: match.start()] + b" " + raw[match.end() :]


@pytest.mark.parametrize("name", [n for n, (*_, expected, _) in FAULTS.items() if expected is not GO])
def test_a_damaged_text_of_a_held_job_never_says_go(name: str) -> None:
    deed, unit, _, _ = FAULTS[name]
    chassis = Chassis(1)
    deed(chassis)
    raw = captured(chassis)
    answers = [answered(damaged, unit) for damage in (cuts, misread) for damaged in damage(raw)]
    assert len(answers) > 200
    assert GO not in {a.answer for a in answers if a is not None}


@pytest.mark.parametrize("unit", ["psu-2", "fan-2"])
def test_a_shortened_text_says_go_only_where_all_units_and_sensors_are_told(unit: str) -> None:
    def told(text: bytes) -> Counter[str]:
        kinds = ("power_supply", "fan", "temperature")
        readings = read_text(text, "before.txt", dialects(), WEXCOMBE).readings
        return Counter(r.model_dump_json() for r in readings if r.kind in kinds)

    raw = captured(Chassis(1))
    went = [damaged for damaged in cuts(raw) if (a := answered(damaged, unit)) and a.answer is GO]
    assert went
    assert [told(raw)] * len(went) == [told(damaged) for damaged in went]


# Shipped cases.

CASES = cases_of(shipped("fixtures"))
EXPECTED = {
    "wexcombe/psu-2-replaced": GO,
    "wexcombe/fan-3-dead-then-replaced": GO,
    "wexcombe/standing-fan-fault-elsewhere": GO,
    "wexcombe/pager-within-tables": GO,
    "wexcombe/log-lines-within-tables": GO,
    "wexcombe/psu-2-smaller-than-load-needs": HOLD,
    "aruba_aoscx/small-switch-tells-too-little": HOLD,
    "aruba_aoscx/fan-1-3-replaced": UNKNOWN,
    "eltex/psu-redundant-replaced": UNKNOWN,
    "sonic/psu-2-airflow-not-read": UNKNOWN,
}


@pytest.mark.parametrize("case", CASES, ids=[f"{c.dialect_name}/{c.name}" for c in CASES])
def test_every_shipped_baseline_gets_an_answer(case: Case) -> None:
    known = dialect(case.dialect_name)
    seen = read_text(case.text("before"), "before.txt", dialects(), known)
    papers = known.manifest.chassis
    result = clearance(
        seen,
        case.file.unit,
        case.acceptance(),
        open_seconds=papers.open_seconds,
        modules_needed=papers.modules_needed,
    )
    assert result.answer is EXPECTED.get(f"{case.dialect_name}/{case.name}", result.answer)
    assert {"clearance.unit", "clearance.heat"} <= {f.rule for f in result.findings}
    for finding in result.findings:
        assert finding.evidence, finding
        assert all(e.capture == "before" and 1 <= e.line <= seen.last_line for e in finding.evidence), finding
        if finding.required and finding.outcome is not MET:
            assert finding.hint, finding


def test_the_expected_answers_are_of_cases_that_exist() -> None:
    assert {f"{c.dialect_name}/{c.name}" for c in CASES} >= set(EXPECTED)
