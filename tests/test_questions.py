"""What a person is asked for: the right things at the right moment, few, and each with one key."""

import contextlib
import textwrap
from functools import cache
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support import dialect, snapshot

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.questions import (
    LONGEST_ANSWER,
    MOST_AFFECTED,
    SAMPLE,
    Choice,
    Moment,
    Question,
    answer_of,
    questions,
)
from consolecheck.judging.judge import judge
from consolecheck.judging.view import NOT_SEEN, OBSERVABLE, Observed, View, observed
from consolecheck.reading.dialect import Lamp, Manifest
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Outcome, Verdict
from consolecheck.records.readings import Condition, Inventory, Link, PowerSupply, Snapshot

MOMENTS: tuple[Moment, ...] = get_args(Moment)
WEXCOMBE = dialect("wexcombe")
CASES = sorted(path.parent for path in shipped("fixtures").glob("*/*/before.txt"))
SUPPLIES = (PowerSupply(unit="psu-1", condition=Condition.OK), PowerSupply(unit="psu-2", condition=Condition.OK))


@cache
def text_of(path: Path) -> Snapshot:
    return read_text(path.read_bytes(), path.name, dialects())


def wexcombe(case: str, side: str = "before") -> Snapshot:
    return text_of(shipped("fixtures") / "wexcombe" / case / f"{side}.txt")


def asked(
    moment: Moment,
    unit: str,
    before: Snapshot,
    now: Snapshot | None = None,
    manifest: Manifest = WEXCOMBE.manifest,
    answered: tuple[str, ...] = (),
) -> dict[str, Question]:
    return {q.id: q for q in questions(moment, unit, manifest, before, now, answered)}


def wexcombe_with(**changed: object) -> Manifest:
    return WEXCOMBE.manifest.model_copy(update=changed)


def sound(question: Question) -> None:
    """The laws of any question."""
    assert question.id == f"{question.unit}.{question.fact}"
    assert question.fact in OBSERVABLE
    assert len(textwrap.wrap(question.text, 76)) <= 2
    assert "\n" not in question.text
    keys = [c.key for c in question.choices]
    assert len(set(keys)) == len(keys)
    assert all(len(key) <= 1 and key == key.lower() for key in keys)
    assert question.choices[-1] == Choice("n", "could not see", NOT_SEEN)
    assert len(question.choices) > 1 or question.typed
    for choice in question.choices:
        assert answer_of(question, choice.key) == answer_of(question, choice.value) == choice.value
        assert observed(question.unit, question.fact, choice.value).value == choice.value


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.parent.name}/{c.name}")
def test_every_question_of_every_recorded_device_is_sound(case: Path) -> None:
    before, after = text_of(case / "before.txt"), text_of(case / "after.txt")
    manifest = dialect(case.parent.name).manifest
    for unit in View(before, "before").units:
        for now in (None, before, after):
            for moment in MOMENTS:
                told = questions(moment, unit, manifest, before, now, ())
                for question in told:
                    sound(question)
                assert len({q.id for q in told}) == len(told)
                assert told == questions(moment, unit, manifest, before, now, ())


@settings(max_examples=100, deadline=None)
@given(st.text(min_size=1, max_size=200), st.text(min_size=1, max_size=200), st.text(min_size=1, max_size=200))
def test_words_of_a_device_do_not_burst_a_question(slot: str, port: str, part: str) -> None:
    unit = f"psu-{slot}"
    before = snapshot(
        PowerSupply(unit=unit, condition=Condition.OK, part_number=part, input_type="AC"),
        PowerSupply(unit=f"psu-{slot}b", condition=Condition.OK),
        Link(name=port, condition=Condition.OK),
    )
    for moment in MOMENTS:
        for question in questions(moment, unit, WEXCOMBE.manifest, before, None, ()):
            assert len(textwrap.wrap(question.text, 76)) <= 2
            assert all(len(choice.label) <= 76 for choice in question.choices)
            assert question.id == f"{question.unit}.{question.fact}"


# In hand.


def test_in_hand_the_label_of_a_supply_is_read_before_anything_is_pulled() -> None:
    told = asked("in-hand", "psu-2", wexcombe("psu-2-replaced"))
    assert list(told) == [f"psu-2.{fact}" for fact in ("serial", "part", "input", "airflow", "damage", "contents")]
    assert told["psu-2.part"].choices[0] == Choice("", "same as fitted: WXP-600F", "WXP-600F")
    assert answer_of(told["psu-2.part"], "") == "WXP-600F"
    assert answer_of(told["psu-2.part"], " WXP-600R ") == "WXP-600R"
    assert [q for q in told if told[q].typed] == ["psu-2.serial", "psu-2.part"]


def test_of_a_fan_module_no_input_is_asked() -> None:
    told = asked("in-hand", "fan-2", wexcombe("psu-2-replaced"))
    assert list(told) == [f"fan-2.{fact}" for fact in ("serial", "part", "airflow", "damage", "contents")]
    assert told["fan-2.part"].choices[0].value == "WXF-40F"


def test_part_and_input_are_asked_only_where_the_text_shows_them() -> None:
    told = asked("in-hand", "psu-2", snapshot(*SUPPLIES))
    assert list(told) == ["psu-2.serial", "psu-2.airflow", "psu-2.damage", "psu-2.contents"]


def test_a_dead_part_that_did_not_tell_its_number_is_compared_with_its_peer() -> None:
    before = snapshot(
        *SUPPLIES,
        Inventory(unit="psu-1", part_number="WXP-600F"),
        Inventory(unit="fan-1", part_number="WXF-40F"),
    )
    (part,) = [q for q in asked("in-hand", "psu-2", before).values() if q.fact == "part"]
    assert part.choices[0] == Choice("", "same as in psu-1: WXP-600F", "WXP-600F")


# Just seated.


def test_just_seated_only_what_the_text_does_not_tell_is_asked() -> None:
    told = asked("fitted", "psu-2", wexcombe("psu-2-replaced"))
    assert list(told) == ["chassis.earth", "chassis.cold_aisle"]
    told = asked("fitted", "psu-2", wexcombe("psu-2-replaced"), answered=("chassis.cold_aisle",))
    assert list(told) == ["chassis.earth"]
    assert list(asked("fitted", "fan-2", wexcombe("psu-2-replaced"))) == ["chassis.cold_aisle"]


def test_a_device_without_serials_and_feeds_needs_the_label_and_the_cords() -> None:
    told = asked("fitted", "psu-2", snapshot(*SUPPLIES))
    assert list(told) == [
        "psu-2.removed_serial",
        "psu-1.feed",
        "psu-2.feed",
        "chassis.earth",
        "psu-1.airflow",
        "chassis.cold_aisle",
    ]
    assert [(c.key, c.value) for c in told["psu-1.feed"].choices] == [("a", "A"), ("b", "B"), ("n", NOT_SEEN)]
    assert not told["psu-1.feed"].typed


def test_an_empty_bay_has_no_cord_to_follow_and_no_mark_to_read() -> None:
    third = PowerSupply(unit="psu-3", condition=Condition.ABSENT)
    told = asked("fitted", "psu-2", snapshot(*SUPPLIES, third))
    assert {"psu-3.feed", "psu-3.airflow"}.isdisjoint(told)
    now = snapshot(PowerSupply(unit="psu-1", condition=Condition.OK))
    assert "psu-2.feed" in asked("fitted", "psu-2", snapshot(*SUPPLIES, third), now)


def test_marks_of_the_other_parts_are_read_where_the_device_does_not_print_them() -> None:
    with_airflow = snapshot(
        PowerSupply(unit="psu-1", condition=Condition.OK, airflow="front-to-back"),
        PowerSupply(unit="psu-2", condition=Condition.OK),
    )
    assert [q for q in asked("fitted", "psu-2", with_airflow) if q.endswith("airflow")] == []
    assert [q for q in asked("fitted", "psu-1", with_airflow) if q.endswith("airflow")] == ["psu-2.airflow"]


def test_a_lamp_is_asked_in_the_words_of_the_chart_and_not_by_what_they_mean() -> None:
    lamp = asked("settled", "psu-2", wexcombe("psu-2-replaced"))["psu-2.lamp"]
    chart = WEXCOMBE.manifest.lamps["unit"]
    assert [c.label for c in lamp.choices[:-1]] == list(chart)
    assert [c.key for c in lamp.choices] == ["1", "2", "3", "4", "n"]
    assert answer_of(lamp, "2") == "slow blue"
    shown = " ".join([lamp.text, *(c.label for c in lamp.choices)])
    assert not [state.means for state in chart.values() if state.means in shown]


def test_without_a_chart_no_colour_is_named() -> None:
    plain = wexcombe_with(lamps={})
    for moment, wanted in (("settled", "psu-2.lamp"), ("settled", "chassis.lamp")):
        lamp = asked(moment, "psu-2", wexcombe("psu-2-replaced"), manifest=plain)[wanted]
        assert lamp.typed
        assert [c.value for c in lamp.choices] == [NOT_SEEN]
        assert not {"green", "amber", "red", "blue", "white", "yellow", "orange"} & set(lamp.text.lower().split())
        assert answer_of(lamp, "two flashes, then a pause") == "two flashes, then a pause"


def test_a_chart_with_more_states_than_digits_has_a_key_for_each() -> None:
    chart = {f"pattern {number}": Lamp(means="m", condition=Condition.OK) for number in range(14)}
    lamp = asked("settled", "psu-2", snapshot(*SUPPLIES), manifest=wexcombe_with(lamps={"unit": chart}))["psu-2.lamp"]
    sound(lamp)
    assert len(lamp.choices) == 15


# At the end.


def test_at_the_end_the_chassis_lamp_and_a_sample_of_ports() -> None:
    good = wexcombe("psu-2-replaced"), wexcombe("psu-2-replaced", "after")
    told = asked("settled", "psu-2", *good)
    # The two of 100G have a lamp for each of four lanes: they show most.
    assert list(told) == ["psu-2.lamp", "chassis.lamp", "port-7.lamps", "port-8.lamps"]
    assert (
        told["port-7.lamps"].text
        == "Port 7 has 4 link lamps, one a lane. Are all of them lit? A lamp that blinks is lit."
    )
    assert [c.value for c in told["port-7.lamps"].choices] == ["lit", "dark", NOT_SEEN]
    assert [c.label for c in told["chassis.lamp"].choices[:-1]] == list(WEXCOMBE.manifest.lamps["chassis"])


def test_a_link_that_was_up_and_is_not_is_looked_at_and_one_that_was_down_is_not() -> None:
    told = asked("settled", "psu-2", wexcombe("uplink-down-after-swap"), wexcombe("uplink-down-after-swap", "after"))
    assert list(told) == ["psu-2.lamp", "chassis.lamp", "port-8.lamps", "port-1.lamps", "port-7.lamps"]
    assert "port-4.lamps" not in told
    assert told["port-1.lamps"].text.startswith("Look at the link lamp of port 1.")


def test_what_was_answered_does_not_move_the_sample() -> None:
    good = wexcombe("psu-2-replaced"), wexcombe("psu-2-replaced", "after")
    assert list(asked("settled", "psu-2", *good, answered=("psu-2.lamp", "chassis.lamp", "port-7.lamps"))) == [
        "port-8.lamps"
    ]


def ports(*conditions: Condition, prefix: str = "") -> Snapshot:
    return snapshot(*(Link(name=f"{prefix}{number}", condition=c) for number, c in enumerate(conditions, 1)))


def test_many_dead_links_are_a_few_questions() -> None:
    told = asked(
        "settled", "psu-2", ports(*[Condition.OK] * 48), ports(*[Condition.NO_INPUT] * 40, *[Condition.OK] * 8)
    )
    assert list(told) == ["psu-2.lamp", "chassis.lamp", *(f"port-{n}.lamps" for n in (1, 2, 3, 4, 41, 42))]
    assert len(told) == 2 + MOST_AFFECTED + SAMPLE


def test_a_link_that_is_gone_from_the_text_is_looked_at() -> None:
    told = asked("settled", "psu-2", ports(Condition.OK, Condition.OK, Condition.OK), ports(Condition.OK))
    assert list(told) == ["psu-2.lamp", "chassis.lamp", "port-2.lamps", "port-3.lamps", "port-1.lamps"]


def test_without_a_speed_all_lamps_of_the_port_are_meant() -> None:
    told = asked("settled", "psu-2", ports(Condition.OK))
    assert told["port-1.lamps"].text.startswith("Look at all link lamps of port 1.")


def test_a_port_channel_has_no_lamp() -> None:
    names = ("Po10", "Vlan4", "port-channel7", "lo0", "Eth1/1", "mgmt0", "Ethernet12", "loft9")
    told = asked("settled", "psu-2", snapshot(*(Link(name=n, condition=Condition.OK) for n in names)), ports())
    asked_for = {q.unit for q in told.values()} - {"chassis", "psu-2"}
    assert asked_for == {"port-eth1/1", "port-mgmt0", "port-ethernet12", "port-loft9"}


# Answers.


def question(fact: str, *choices: Choice, typed: bool = False) -> Question:
    return Question(f"psu-2.{fact}", "psu-2", fact, "?", (*choices, Choice("n", "could not see", NOT_SEEN)), typed)


EARTH = question("earth", Choice("c", "connected", "connected"), Choice("l", "loose or not there", "loose"))
SERIAL = question("serial", typed=True)


@pytest.mark.parametrize(
    ("entered", "value"), [("c", "connected"), (" L ", "loose"), ("Connected", "connected"), ("N", NOT_SEEN)]
)
def test_one_key_or_the_word_itself_answers(entered: str, value: str) -> None:
    assert answer_of(EARTH, entered) == value


@pytest.mark.parametrize("entered", ["", " ", "x", "cc", "yes", "\x1b[A"])
def test_what_is_no_answer_is_refused_with_what_is_accepted(entered: str) -> None:
    with pytest.raises(ValueError, match="accepted: c for connected, l for loose or not there, n for could not see"):
        answer_of(EARTH, entered)


def test_a_serial_is_typed_as_it_stands_on_the_label() -> None:
    assert answer_of(SERIAL, " WXS-31902\r\n") == "WXS-31902"
    assert answer_of(SERIAL, "n") == NOT_SEEN


@pytest.mark.parametrize("entered", ["", "0", "-", "N/A", "unknown", "0000", "WXS\x1b[2J", "W" * (LONGEST_ANSWER + 1)])
def test_what_cannot_be_a_serial_is_refused(entered: str) -> None:
    with pytest.raises(ValueError, match="accepted: the text itself"):
        answer_of(SERIAL, entered)


@pytest.mark.parametrize("entered", ["yes", "ok", "done", "same as before"])
def test_a_word_without_a_digit_is_not_taken_for_a_serial(entered: str) -> None:
    with pytest.raises(ValueError, match=r"holds no digit .* type it as the label shows it, or n for could not see"):
        answer_of(SERIAL, entered)


def test_enter_alone_answers_only_where_it_is_a_choice() -> None:
    part = question("part", Choice("", "same as fitted: WXP-600F", "WXP-600F"), typed=True)
    assert answer_of(part, "") == "WXP-600F"
    with pytest.raises(ValueError, match="an answer is needed"):
        answer_of(SERIAL, "")


@given(st.text(max_size=80))
def test_any_entry_is_an_observation_or_refused(entered: str) -> None:
    for each in (EARTH, SERIAL, question("lamp", typed=True)):
        value = None
        with contextlib.suppress(ValueError):
            value = answer_of(each, entered)
        assert value is None or observed(each.unit, each.fact, value).value == value


# All of them together.

GOOD_SWAPS = [
    case
    for case in cases_of(shipped("fixtures"))
    if case.file.claims.verdict is Verdict.VERIFIED and case.file.reseat is None
]
WELL = {"damage": "none", "contents": "complete", "earth": "connected", "lamps": "lit"}


def by_eye(question: Question, case: Case, before: View, after: View) -> str:
    """What someone sees of a good swap: labels as the device will print them, marks as the case states them."""
    unit, fact = question.unit, question.fact
    stated = {(o.unit, o.fact): o.value for o in case.observed()}
    printed = after.serials.get(unit)
    if fact == "serial" and printed:
        return printed[0]
    if fact == "airflow":
        ways = [r.airflow for v in (after, before) for s in v.snapshot.sightings if (r := s.reading).given("airflow")]  # type: ignore[union-attr]
        return stated.get((unit, fact)) or str(next(iter(ways), "front-to-back"))
    if fact == "lamp" and not question.typed:
        states = dialect(case.dialect_name).manifest.lamps["chassis" if unit == "chassis" else "unit"]
        return next(shown for shown, state in states.items() if state.condition is Condition.OK)
    if fact == "feed":
        return "a" if unit.endswith(("1", "main")) else "b"
    if fact == "input":
        return (
            next(r.input_type for r in (s.reading for s in after.supplies[unit]) if isinstance(r, PowerSupply)) or "n"
        )
    if fact == "part" and (found := after.fact(unit, "part_number")):
        return str(found[0])
    return stated.get((unit, fact)) or WELL.get(fact, "n")


@pytest.mark.parametrize("case", GOOD_SWAPS, ids=lambda c: f"{c.dialect_name}/{c.name}")
def test_who_answers_what_is_asked_of_a_good_swap_needs_to_state_no_more(case: Case) -> None:
    before, after = text_of(case.folder / "before.txt"), text_of(case.folder / "after.txt")
    views = View(before, "before"), View(after, "after")
    manifest = dialect(case.dialect_name).manifest
    seen: list[Observed] = []
    for moment in MOMENTS:
        for each in questions(moment, case.file.unit, manifest, before, after, [f"{o.unit}.{o.fact}" for o in seen]):
            seen.append(observed(each.unit, each.fact, answer_of(each, by_eye(each, case, *views))))
    judgement = judge(before, after, case.file.unit, case.acceptance(), tuple(seen))
    assert judgement.verdict is Verdict.VERIFIED, [
        (f.rule, f.message) for f in judgement.findings if f.required and f.outcome is not Outcome.MET
    ]
