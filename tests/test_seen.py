"""What eyes saw against the text: lamps by the maker's chart, port lamps, cords, earth, aisle, inspection."""

from collections.abc import Mapping

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from support import case, findings, outcomes, q, snapshot

from consolecheck.judging.acceptance import Acceptance, PowerLimits
from consolecheck.judging.judge import judge
from consolecheck.judging.rules import ALL, seen
from consolecheck.judging.view import NOT_SEEN, OBSERVABLE, Case, Observed, observed
from consolecheck.records.findings import Finding, Outcome, Verdict
from consolecheck.records.readings import (
    Alarm,
    AnyReading,
    Condition,
    Fan,
    Link,
    PowerSupply,
    Snapshot,
)

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
OK, WARNING, FAILED, ABSENT, NO_INPUT, STANDBY, UNKNOWN = (
    Condition.OK, Condition.WARNING, Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT, Condition.STANDBY, Condition.UNKNOWN,
)  # fmt: skip
F2B, B2F = "front-to-back", "back-to-front"
N_PLUS_N = Acceptance(power=PowerLimits(redundancy="N+N"))

# The chart of a family that does not exist: green is a fault there, so no colour is taken for what it usually is.
CHART = {
    "unit": {"steady violet": OK, "slow violet": STANDBY, "green": FAILED, "dark": NO_INPUT, "striped": WARNING},
    "chassis": {"steady violet": OK, "green": FAILED},
}


def text(*readings: AnyReading, chart: Mapping[str, Mapping[str, Condition]] = CHART) -> Snapshot:
    return snapshot(*readings)._replace(lamps=chart)


def supply(unit: str, condition: Condition | None = OK, feed: str | None = None) -> PowerSupply:
    return PowerSupply(unit=unit, condition=condition, status_text=condition and condition.value, feed=feed)


def looked(*stated: str, by: str = "") -> tuple[Observed, ...]:
    """`psu-2.lamp=green` as a person states it."""
    found = []
    for one in stated:
        subject, _, value = one.partition("=")
        unit, _, fact = subject.rpartition(".")
        found.append(observed(unit, fact, value, by))
    return tuple(found)


def only(rule: str, judged: Case) -> Finding:
    (found,) = findings(rule, judged)
    return found


# ---- lamps: only by the maker's chart


def lamp(shows: str, says: Condition | None = OK, unit: str = "psu-2", job: str = "psu-2") -> Finding:
    now = text(supply("psu-1"), supply("psu-2", says), Fan(unit="fan-1", condition=OK))
    was = text(supply("psu-1"), supply("psu-2"), Fan(unit="fan-1", condition=OK))
    return only("seen.lamp", case(was, now, job, observed=looked(f"{unit}.lamp={shows}")))


@pytest.mark.parametrize(
    ("shows", "says", "expected"),
    [
        ("steady violet", OK, MET),
        ("Steady  VIOLET", OK, MET),
        ("steady violet", None, MET),  # the text does not say
        ("steady violet", UNKNOWN, MET),  # nor is it known what it says: the status rule leaves that open
        ("steady violet", FAILED, UNDETERMINED),
        ("steady violet", ABSENT, UNDETERMINED),
        ("green", OK, UNMET),
        ("green", FAILED, UNMET),
        ("dark", OK, UNMET),
        ("dark", NO_INPUT, UNMET),
        ("striped", OK, UNMET),
        ("slow violet", STANDBY, MET),  # RFC 4268: hot standby is a healthy state
        ("slow violet", OK, UNDETERMINED),
    ],
)
def test_a_lamp_means_what_the_chart_says(shows: str, says: Condition | None, expected: Outcome) -> None:
    found = lamp(shows, says)
    assert (expected, True) == (found.outcome, found.required)


@pytest.mark.parametrize(
    ("shows", "says", "told"),
    [
        ("green", OK, "but the text says ok"),
        ("steady violet", FAILED, "but the text says failed"),
        ("dark", FAILED, "and the text says failed"),
    ],
)
def test_lamp_and_text_that_disagree_are_both_told(shows: str, says: Condition, told: str) -> None:
    assert told in lamp(shows, says).message


def test_who_saw_it_is_told() -> None:
    judged = case(text(supply("psu-2")), text(supply("psu-2")), "psu-2", observed=looked("psu-2.lamp=green", by="Ada"))
    assert "(seen by Ada)" in only("seen.lamp", judged).message
    assert "seen by" not in lamp("green").message


@pytest.mark.parametrize("shows", ["red", "fast green", "steady", "amber"])
def test_a_colour_that_the_chart_does_not_list_says_nothing(shows: str) -> None:
    found = lamp(shows)
    assert (UNDETERMINED, False) == (found.outcome, found.required)
    assert "does not list it" in found.message


@given(st.text(st.characters(codec="ascii", min_codepoint=33), min_size=1, max_size=12))
def test_without_a_chart_no_colour_is_judged(shows: str) -> None:
    now = text(supply("psu-2"), chart={})
    assume(shows != NOT_SEEN)
    found = only("seen.lamp", case(now, now, "psu-2", observed=(Observed("psu-2", "lamp", shows),)))
    assert (UNDETERMINED, False) == (found.outcome, found.required)
    assert "the chart of this family is not known" in found.message


def test_a_supply_may_rest_only_where_the_site_lets_it() -> None:
    strict = Acceptance(power=PowerLimits(standby_is_good=False))
    now = text(supply("psu-2", STANDBY))
    assert UNMET is only("seen.lamp", case(now, now, "psu-2", strict, looked("psu-2.lamp=slow violet"))).outcome


def test_a_fan_module_that_rests_leaves_it_open() -> None:
    now = text(Fan(unit="fan-1", condition=STANDBY))
    judged = case(now, now, "fan-1", observed=looked("fan-1.lamp=slow violet"))
    assert UNDETERMINED is only("seen.lamp", judged).outcome


def test_the_chassis_lamp_goes_by_its_own_chart() -> None:
    assert MET is lamp("steady violet", unit="chassis").outcome
    found = lamp("green", unit="chassis")
    assert (UNMET, True) == (found.outcome, found.required)
    assert UNDETERMINED is lamp("dark", unit="chassis").outcome  # listed for units only


STANDING = Alarm(unit="fan-9", name="slow", condition=WARNING, status_text="note")


@pytest.mark.parametrize(
    ("before", "after", "counts"),
    [
        ((supply("psu-1", FAILED),), (supply("psu-1", FAILED),), False),
        ((STANDING,), (STANDING,), False),
        ((supply("psu-1"),), (supply("psu-1", FAILED),), True),  # new
        ((supply("psu-1", FAILED),), (supply("psu-1"),), True),  # over, so it explains nothing
        ((), (STANDING,), True),
        ((STANDING,), (), True),
    ],
)
def test_a_chassis_lamp_that_a_standing_fault_explains_is_not_held_against_the_swap(
    before: tuple[AnyReading, ...], after: tuple[AnyReading, ...], counts: bool
) -> None:
    was, now = text(supply("psu-2"), *before), text(supply("psu-2"), *after)
    seen_green = looked("chassis.lamp=green")
    assert only("seen.lamp", case(was, now, "psu-2", observed=seen_green)).required is counts
    strict = Acceptance(standing_faults_count=True)
    assert only("seen.lamp", case(was, now, "psu-2", strict, seen_green)).required


def test_the_replaced_units_own_fault_explains_no_chassis_lamp() -> None:
    ill = text(supply("psu-1"), supply("psu-2", FAILED))
    assert only("seen.lamp", case(ill, ill, "psu-2", observed=looked("chassis.lamp=green"))).required


# ---- lamps of ports


def port(name: str, condition: Condition) -> Link:
    return Link(name=name, condition=condition, status_text=condition.value)


@pytest.mark.parametrize(
    ("was", "now", "lamps", "expected"),
    [
        (OK, OK, "lit", MET),
        (OK, OK, "dark", UNDETERMINED),
        (OK, NO_INPUT, "dark", UNMET),
        (OK, NO_INPUT, "lit", UNDETERMINED),
        (NO_INPUT, NO_INPUT, "dark", MET),
        (STANDBY, STANDBY, "dark", MET),
        (STANDBY, STANDBY, "lit", UNDETERMINED),
        (NO_INPUT, OK, "lit", MET),
        (OK, UNKNOWN, "dark", UNMET),  # the text does not say; the link was up
    ],
)
def test_port_lamps_are_held_against_the_link(was: Condition, now: Condition, lamps: str, expected: Outcome) -> None:
    before, after = text(supply("psu-2"), port("Eth1/7", was)), text(supply("psu-2"), port("Eth1/7", now))
    judged = case(before, after, "psu-2", observed=looked(f"port-Eth1/7.lamps={lamps}"))
    found = only("seen.ports", judged)
    assert (expected, True) == (found.outcome, found.required)
    if found.outcome is UNMET and now is NO_INPUT:
        assert outcomes("service.links", judged)["Eth1/7"] is UNMET


def test_a_port_that_no_text_shows_is_told_and_does_not_count() -> None:
    now = text(supply("psu-2"), port("7", OK))
    found = only("seen.ports", case(now, now, "psu-2", observed=looked("port-77.lamps=dark")))
    assert (UNDETERMINED, False) == (found.outcome, found.required)


def test_links_that_are_not_printed_any_more_are_seen_by_their_lamps() -> None:
    was, now = text(supply("psu-2"), port("7", OK)), text(supply("psu-2"))
    assert UNMET is only("seen.ports", case(was, now, "psu-2", observed=looked("port-7.lamps=dark"))).outcome


# ---- feeds; trade definition of N+N: N on each of two independent feeds


def fed(printed: str, *stated: str, acceptance: Acceptance | None = None, watts: str = "") -> list[Finding]:
    """Two good supplies; `printed` names a feed or `-` for each. Without `watts` their load is not printed."""
    rows = [
        supply(f"psu-{n}", OK, None if feed == "-" else feed).model_copy(
            update={"output_power": q(watts), "capacity": q("600 W")} if watts else {}
        )
        for n, feed in enumerate(printed, 1)
    ]
    now = text(*rows)
    return findings("seen.feed", case(now, now, "psu-2", acceptance, looked(*stated)))


@pytest.mark.parametrize(
    ("printed", "stated", "expected"),
    [
        ("AA", (), UNMET),
        ("--", ("psu-1.feed=A", "psu-2.feed=a"), UNMET),
        ("A-", ("psu-2.feed=A",), UNMET),
        ("AB", ("psu-2.feed=B",), MET),
        ("--", ("psu-1.feed=A", "psu-2.feed=B"), MET),
    ],
)
def test_two_cords_on_one_feed(printed: str, stated: tuple[str, ...], expected: Outcome) -> None:
    """Beside the verdict for N+1; for N+N required."""
    for acceptance, required in ((None, False), (N_PLUS_N, True)):
        (found,) = fed(printed, *stated, acceptance=acceptance)
        assert (expected, required) == (found.outcome, found.required)


@pytest.mark.parametrize(("printed", "stated"), [("AB", ()), ("--", ()), ("--", ("psu-1.feed=A",)), ("A-", ())])
def test_feeds_that_nobody_looked_at_or_not_all_are_not_judged(printed: str, stated: tuple[str, ...]) -> None:
    assert [] == fed(printed, *stated)


def test_what_the_redundancy_rule_says_is_not_said_twice() -> None:
    now = text(*(supply(u, OK, "A").model_copy(update={"output_power": q("190 W"), "capacity": q("600 W")}) for u in ("psu-1", "psu-2")))  # fmt: skip
    judged = case(now, now, "psu-2", N_PLUS_N, looked("psu-1.feed=A", "psu-2.feed=A"))
    assert {"supplies": UNMET} == outcomes("power.redundancy", judged)
    assert [] == findings("seen.feed", judged)


@pytest.mark.parametrize("acceptance", [None, N_PLUS_N])
def test_a_cord_seen_on_another_feed_than_the_printed_one_leaves_it_open(acceptance: Acceptance | None) -> None:
    (found,) = fed("AB", "psu-2.feed=A", acceptance=acceptance)
    assert (UNDETERMINED, True, "psu-2") == (found.outcome, found.required, found.subject)


def test_a_cord_seen_on_another_feed_than_planned_leaves_it_open() -> None:
    plan = Acceptance(power=PowerLimits(feeds={"A": ["psu-1"], "B": ["psu-2"]}))
    (found,) = fed("--", "psu-2.feed=A", acceptance=plan)
    assert (UNDETERMINED, True) == (found.outcome, found.required)
    assert "the acceptance says B" in found.message


def test_the_plan_of_the_site_names_feeds_too() -> None:
    plan = Acceptance(power=PowerLimits(feeds={"A": ["psu-1", "psu-2"]}))
    (found,) = fed("--", acceptance=plan)
    assert (UNMET, False) == (found.outcome, found.required)


def test_a_dead_supply_hangs_on_no_feed() -> None:
    now = text(supply("psu-1", OK, "A"), supply("psu-2", FAILED, "A"))
    assert [] == findings("seen.feed", case(now, now, "psu-2", observed=looked("psu-2.feed=A")))


# ---- the chassis and the part


@pytest.mark.parametrize(
    ("rule", "stated", "expected", "required"),
    [
        # Earth is connected before any supply lead and removed after all of them: guides of two makers.
        ("seen.earth", "chassis.earth=connected", MET, True),
        ("seen.earth", "chassis.earth=loose", UNMET, True),
        ("seen.damage", "psu-2.damage=none", MET, True),
        ("seen.damage", "psu-2.damage=found", UNMET, True),
        ("seen.contents", "psu-2.contents=complete", MET, False),
        ("seen.contents", "psu-2.contents=missing", UNMET, False),
    ],
)
def test_what_was_looked_at_counts(rule: str, stated: str, expected: Outcome, required: bool) -> None:
    now = text(supply("psu-1"), supply("psu-2"))
    found = only(rule, case(now, now, "psu-2", observed=looked(stated, by="Ada")))
    assert (expected, required) == (found.outcome, found.required)
    assert "seen by Ada" in found.message
    assert (found.hint is not None) is (expected is UNMET)


def blowing(*ways: str | None) -> list[AnyReading]:
    kinds = {"fan-1": Fan, "fan-2": Fan, "psu-1": PowerSupply, "psu-2": PowerSupply}
    return [
        kind.model_validate({"unit": unit, "condition": OK, "airflow": way})
        for (unit, kind), way in zip(kinds.items(), ways, strict=True)
    ]


@pytest.mark.parametrize(
    ("aisle", "ways", "expected"),
    [
        # Front-to-back is intake at the port side where ports face front: guides of two makers.
        ("port-side", (F2B,) * 4, MET),
        ("power-side", (F2B,) * 4, UNMET),
        ("power-side", (B2F,) * 4, MET),
        ("port-side", (B2F,) * 4, UNMET),
        ("port-side", (F2B, F2B, F2B, B2F), UNMET),
        ("port-side", (F2B, F2B, F2B, None), UNDETERMINED),
        ("port-side", (None,) * 4, UNDETERMINED),
    ],
)
def test_air_comes_from_the_cold_aisle(aisle: str, ways: tuple[str | None, ...], expected: Outcome) -> None:
    now = text(*blowing(*ways))
    found = only("cooling.cold-aisle", case(now, now, "psu-2", observed=looked(f"chassis.cold_aisle={aisle}")))
    assert (expected, True, aisle) == (
        found.outcome,
        found.required,
        "port-side" if found.limit == F2B else "power-side",
    )


def test_an_airflow_mark_that_was_read_counts_against_the_cold_aisle() -> None:
    now = text(*blowing(F2B, F2B, F2B, None))
    stated = looked("chassis.cold_aisle=port-side", "psu-2.airflow=back-to-front")
    found = only("cooling.cold-aisle", case(now, now, "psu-2", observed=stated))
    assert (UNMET, "psu-2") == (found.outcome, found.message.split(": ")[1].split()[0])


# ---- what nobody saw

FACTS = [
    ("seen.lamp", "psu-2", "lamp"),
    ("seen.lamp", "chassis", "lamp"),
    ("seen.ports", "port-7", "lamps"),
    ("seen.feed", "psu-2", "feed"),
    ("seen.earth", "chassis", "earth"),
    ("seen.damage", "psu-2", "damage"),
    ("seen.contents", "psu-2", "contents"),
    ("cooling.cold-aisle", "chassis", "cold_aisle"),
]


def test_every_rule_over_observations_is_asked_here() -> None:
    assert {r.id for r in seen.RULES} | {"cooling.cold-aisle"} == {rule for rule, _, _ in FACTS}
    assert {r.id for r in seen.RULES} <= {r.id for r in ALL}


@pytest.mark.parametrize(("rule", "unit", "fact"), FACTS)
@pytest.mark.parametrize("stated", [False, True])
def test_what_nobody_could_see_is_no_evidence(rule: str, unit: str, fact: str, stated: bool) -> None:
    now = text(supply("psu-1", OK, "A"), supply("psu-2", OK, "B"), port("7", OK))
    stated_so = (observed(unit, fact, NOT_SEEN, "Ada"),) if stated else ()
    assert [] == findings(rule, case(now, now, "psu-2", observed=stated_so))


@given(st.data())
def test_no_observation_turns_a_bad_text_good(data: st.DataObject) -> None:
    """Whatever a person states of a dead supply, the swap is not verified."""
    fact = data.draw(st.sampled_from(sorted(OBSERVABLE)))
    value = data.draw(st.sampled_from([*OBSERVABLE[fact], NOT_SEEN] if OBSERVABLE[fact] else ["A", "steady violet"]))
    was = text(supply("psu-1", OK, "A"), supply("psu-2", OK, "B"))
    now = text(supply("psu-1", OK, "A"), supply("psu-2", FAILED, "B"))
    judged = case(was, now, "psu-2", observed=(observed("psu-2", fact, value),))
    assert Verdict.NOT_VERIFIED is judge(was, now, "psu-2", Acceptance(), judged.observed).verdict
    assert MET not in outcomes("seen.lamp", judged).values()


def test_who_could_not_see_later_takes_nothing_back() -> None:
    """Damage that was found stays found, until somebody looks again and finds none."""
    now = text(supply("psu-1", OK, "A"), supply("psu-2", OK, "B"))
    words = [observed("psu-2", "damage", value) for value in ("found", NOT_SEEN, "none")]
    told = [outcomes("seen.damage", case(now, now, "psu-2", observed=tuple(words[:n]))) for n in (1, 2, 3)]
    assert [{"psu-2": UNMET}, {"psu-2": UNMET}, {"psu-2": MET}] == told
