"""How old a baseline may be, and what a swap is worth without one."""

import re
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support import case, dialect, findings, q, snapshot

from consolecheck.cases.case import Case as Fixture
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import (
    Acceptance,
    AcceptanceFault,
    CoolingLimits,
    IdentityLimits,
    JobLimits,
    PowerLimits,
    SettlingLimits,
    load_acceptance,
)
from consolecheck.judging.judge import NoSuchUnit, judge, judge_alone
from consolecheck.judging.rules import ALL, ALONE, ESSENTIAL, IDS
from consolecheck.judging.rules.job import CLOCKS_APART, CLOCKS_APART_SHARE
from consolecheck.judging.view import Observed, Sample, Taken, View
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Device, PowerSupply, Snapshot

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
VERIFIED, NOT_VERIFIED, INCONCLUSIVE = Verdict.VERIFIED, Verdict.NOT_VERIFIED, Verdict.INCONCLUSIVE

# ---- the age of the baseline (limits: common practice)


def aged(taken: Taken, hours: float = 24, clocks: tuple[str, str] | None = None) -> list[Finding]:
    """job.age of two captures, with the device's own clock where `clocks` gives it."""
    texts = [
        snapshot(PowerSupply(unit="psu-1"), *((Device(name="clock", status_text=clocks[side]),) if clocks else ()))
        for side in (0, 1)
    ]
    judged = judge(*texts, "psu-1", Acceptance(job=JobLimits(baseline_hours=hours)), taken=taken)
    return [f for f in judged.findings if f.rule == "job.age"]


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (1000, 1000 + 24 * 3600, MET),
        (1000, 1001 + 24 * 3600, UNDETERMINED),
        (1000, 3400, MET),
        (1000, 999, UNDETERMINED),
        (1000, -1e9, UNDETERMINED),
    ],
)
def test_a_baseline_counts_for_as_long_as_the_acceptance_says(before: float, after: float, expected: Outcome) -> None:
    (found,) = aged(Taken(before, after))
    assert (expected, True) == (found.outcome, found.required)
    assert (found.hint is not None) is (expected is UNDETERMINED)


def test_a_clock_that_went_back_is_told() -> None:
    (found,) = aged(Taken(1000, 400))
    assert "set back" in found.message
    assert "swapped" in found.message


@pytest.mark.parametrize(
    "taken",
    [Taken(), Taken(1000, None), Taken(None, 1000), Taken(float("nan"), 1000), Taken(1000, float("inf"))],
)
def test_times_that_are_not_known_say_nothing(taken: Taken) -> None:
    assert [] == aged(taken)


SIX = "2026-11-18T06:00:00Z"


@pytest.mark.parametrize(
    ("passed", "device", "apart"),
    [
        (600, "2026-11-18T06:10:00Z", False),
        (600, "2026-11-18T06:12:00Z", False),  # 120 s is let pass
        (600, "2026-11-18T06:12:01Z", True),
        (600, "2026-11-18T06:07:59Z", True),
        (36000, "2026-11-18T16:30:00Z", False),  # 5 % of ten hours
        (36000, "2026-11-18T16:30:01Z", True),
        (600, "2026-11-18T05:59:00Z", True),  # the device's clock was set back
        (600, "2026-11-18T08:10:00+02:00", False),
    ],
)
def test_laptop_and_device_agree_about_the_time_between(passed: float, device: str, apart: bool) -> None:
    """120 s or 5 %, common practice."""
    assert (120, 0.05) == (CLOCKS_APART, CLOCKS_APART_SHARE)
    found = {f.subject: f for f in aged(Taken(5e8, 5e8 + passed), clocks=(SIX, device))}
    assert MET is found.pop("baseline").outcome
    assert [(UNDETERMINED, False)] * apart == [(f.outcome, f.required) for f in found.values()]


def test_an_old_baseline_makes_a_good_swap_inconclusive() -> None:
    good = fixture("psu-2-replaced")
    texts = (read(good.text("before"), "before"), read(good.text("after"), "after"))
    for went, expected in ((3600.0, VERIFIED), (25 * 3600.0, INCONCLUSIVE), (-1.0, INCONCLUSIVE)):
        assert expected is judge(*texts, "psu-2", Acceptance(), taken=Taken(1e9, 1e9 + went)).verdict


# ---- no baseline at all

LABEL = "WXS-31902"
ALLOWED = Acceptance(job=JobLimits(without_baseline=True), cooling=CoolingLimits(modules_needed=2))
STATED = (Observed("psu-2", "serial", LABEL),)


def fixture(name: str, family: str = "wexcombe") -> Fixture:
    return next(c for c in cases_of(shipped("fixtures"), family) if c.name == name)


def read(text: bytes, side: str = "after") -> Snapshot:
    return read_text(text, f"{side}.txt", dialects(), dialect("wexcombe"))


GOOD = fixture("psu-2-replaced").text("after")


def alone(
    text: bytes = GOOD,
    acceptance: Acceptance = ALLOWED,
    observed: tuple[Observed, ...] = STATED,
    unit: str = "psu-2",
) -> Judgement:
    return judge_alone(read(text), unit, acceptance, observed)


def counts(judgement: Judgement, outcome: Outcome) -> set[str]:
    return {f.rule for f in judgement.findings if f.required and f.outcome is outcome}


def edited(*changes: tuple[str, str], text: bytes = GOOD) -> bytes:
    shown = text.decode()
    for old, new in changes:
        assert shown.count(old) == 1, old
        shown = shown.replace(old, new)
    return shown.encode()


def test_without_a_baseline_a_swap_is_at_best_inconclusive() -> None:
    told = alone(acceptance=ALLOWED.model_copy(update={"job": JobLimits()}))
    assert INCONCLUSIVE is told.verdict
    assert {"job.baseline"} == counts(told, UNDETERMINED)
    assert set() == counts(told, UNMET)


def test_a_site_may_allow_it_on_limits_and_the_label() -> None:
    told = alone()
    assert VERIFIED is told.verdict
    (baseline,) = [f for f in told.findings if f.rule == "job.baseline"]
    assert (UNDETERMINED, False) == (baseline.outcome, baseline.required)


def test_nothing_but_the_setting_allows_it() -> None:
    with pytest.raises(AcceptanceFault, match="essential"):
        load_acceptance('advisory = ["job.baseline"]', "site.toml", IDS, ESSENTIAL)


@pytest.mark.parametrize(
    ("stated", "expected", "verdict"),
    [
        ({"serial": LABEL}, MET, VERIFIED),
        ({"serial": LABEL, "removed_serial": "WXS-20433"}, MET, VERIFIED),
        ({"serial": "WXS-31903"}, UNMET, NOT_VERIFIED),
        ({}, UNDETERMINED, INCONCLUSIVE),
        ({"serial": "not-seen"}, UNDETERMINED, INCONCLUSIVE),
        ({"removed_serial": "WXS-20433"}, UNDETERMINED, INCONCLUSIVE),
        ({"removed_serial": LABEL}, UNMET, NOT_VERIFIED),
        ({"serial": LABEL, "removed_serial": LABEL}, UNMET, NOT_VERIFIED),
    ],
)
def test_the_label_decides_whether_the_part_is_the_new_one(
    stated: dict[str, str], expected: Outcome, verdict: Verdict
) -> None:
    told = alone(observed=tuple(Observed("psu-2", fact, value, "Ada") for fact, value in stated.items()))
    (found,) = [f for f in told.findings if f.rule == "identity.replaced"]
    assert (expected, True, verdict) == (found.outcome, found.required, told.verdict)


def test_a_serial_that_is_not_printed_is_not_the_labels() -> None:
    told = alone(edited((f"WXP-600F      {LABEL}", "WXP-600F      0")))
    assert INCONCLUSIVE is told.verdict
    assert {"identity.replaced"} == counts(told, UNDETERMINED)


def test_one_serial_in_two_slots_is_no_identity() -> None:
    told = alone(edited(("WXS-20417", LABEL)))
    assert {"identity.replaced"} == counts(told, UNDETERMINED)


def test_an_empty_slot_was_not_replaced() -> None:
    told = alone(fixture("psu-2-left-empty").text("after"))
    assert {"identity.replaced", "power.status"} <= counts(told, UNMET)


# ---- what could lie without a baseline


@pytest.mark.parametrize(
    ("name", "unit", "rules"),
    [
        ("psu-2-dead-replacement", "psu-2", {"power.status", "power.redundancy"}),
        ("psu-2-inserted-cord-out", "psu-2", {"power.status", "power.redundancy"}),
        ("psu-2-reversed-airflow", "psu-2", {"cooling.airflow"}),
        ("psu-2-smaller-than-load-needs", "psu-2", {"power.redundancy"}),
        ("asic-at-warning-after-swap", "psu-2", {"temperature.limits", "temperature.status"}),
        ("fan-3-too-slow-for-its-duty", "fan-3", {"cooling.duty"}),
        # With a baseline it stood before; here nobody knows, so it counts.
        ("standing-fan-fault-elsewhere", "psu-2", {"cooling.status", "cooling.own-limits"}),
    ],
)
def test_a_bad_text_is_not_verified_without_a_baseline_either(name: str, unit: str, rules: set[str]) -> None:
    text = fixture(name).text("after")
    told = alone(text, unit=unit)
    assert NOT_VERIFIED is told.verdict
    assert rules <= counts(told, UNMET)
    assert not any(f.standing for f in told.findings)


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("unknown-status-word", "power.status"),
        ("garbled-digit-in-power-row", "text.unread"),
        ("after-cut-within-heat-table", "text.unread"),
        ("alarms-not-captured-after", "text.complete"),
        ("sensor-vanished-after-swap", "text.complete"),
    ],
)
def test_an_open_text_stays_open(name: str, rule: str) -> None:
    told = alone(fixture(name).text("after"))
    assert INCONCLUSIVE is told.verdict
    assert rule in counts(told, UNDETERMINED)


@pytest.mark.parametrize("word", ["self", "power", "fans", "heat", "parts", "ports", "alarms"])
def test_no_table_may_be_missing(word: str) -> None:
    """With a baseline the second text must show the tables of the first; here, all that the family shows."""
    text = re.sub(rb"tern-04 ~> tell " + word.encode() + rb"\r\n.*?END [^\n]*\n", b"", GOOD, flags=re.DOTALL)
    assert text != GOOD
    told = alone(text)
    assert INCONCLUSIVE is told.verdict
    assert {"text.complete"} <= counts(told, UNDETERMINED)


@pytest.mark.parametrize("table", ["temperature.limits", "temperature.status", "cooling.airflow", "power.redundancy"])
def test_no_acceptance_can_waive_what_stands_in_for_the_baseline(table: str) -> None:
    waived = ALLOWED.model_copy(update={"advisory": [table]})
    told = alone(acceptance=waived)
    assert INCONCLUSIVE is told.verdict
    assert {table} == counts(told, UNDETERMINED)


def test_sensors_without_limits_are_no_proof() -> None:
    text = re.sub(rb"(\d+\.\d)( +)0\.0 ( +)\d+\.\d( +)\d+\.\d( +easy)", rb"\1\2-   \3-   \4-   \5", GOOD)
    told = alone(text)
    assert INCONCLUSIVE is told.verdict
    assert {"temperature.limits"} == counts(told, UNDETERMINED)


def test_as_many_supplies_as_before_cannot_be_counted() -> None:
    told = alone(acceptance=ALLOWED.model_copy(update={"power": PowerLimits(redundancy="count")}))
    assert {"power.redundancy"} == counts(told, UNDETERMINED)
    (found,) = [f for f in told.findings if f.rule == "power.redundancy"]
    assert "not known" in found.message


def test_a_site_that_asks_for_no_redundancy_gets_none_judged() -> None:
    assert VERIFIED is alone(acceptance=ALLOWED.model_copy(update={"power": PowerLimits(redundancy="none")})).verdict


@pytest.mark.parametrize(("needed", "expected"), [(None, INCONCLUSIVE), (2, VERIFIED), (3, NOT_VERIFIED)])
def test_how_many_fan_modules_there_should_be_must_be_stated(needed: int | None, expected: Verdict) -> None:
    text = fixture("fan-3-dead-then-replaced").text("after")
    serial = read(text).readings
    label = next(r.given("serial") for r in serial if r.kind == "inventory" and r.unit == "fan-3")
    acceptance = ALLOWED.model_copy(update={"cooling": CoolingLimits(modules_needed=needed)})
    told = alone(text, acceptance, (Observed("fan-3", "serial", label),), "fan-3")
    assert expected is told.verdict
    assert counts(told, UNDETERMINED) == ({"cooling.spare"} if needed is None else set())


def test_an_alarm_that_stands_may_be_new() -> None:
    text = edited(
        ("END ALARMS, 0 rows", "  2026-11-18T05:58:40Z  note    psu-1    fan hums\nEND ALARMS, 1 row"),
    )
    assert {"service.alarms"} == counts(alone(text), UNDETERMINED)


def test_a_part_unlike_its_peers_leaves_it_open_unless_it_is_listed() -> None:
    text = edited((f"WXP-600F      {LABEL}", f"WXP-600G      {LABEL}"))
    assert {"identity.part"} == counts(alone(text), UNDETERMINED)
    listed = ALLOWED.model_copy(update={"identity": IdentityLimits(substitutes={"WXP-600F": ["WXP-600G"]})})
    assert VERIFIED is alone(text, listed).verdict


def test_supplies_for_ac_and_dc_leave_it_open() -> None:
    text = edited(("AC    231.2  0.91  210.7", "DC    -52.1  4.04  210.7"))
    assert {"power.input-type"} == counts(alone(text), UNDETERMINED)


def test_a_sag_is_seen_beside_the_other_supplies() -> None:
    """205 V is fine for 208 V and outside 230 V ± 10 % (IEC 60038); the other supply says which it is."""
    told = alone(edited(("230.9  0.90  207.0", "205.0  1.01  207.0")))
    assert {"power.input-range"} == counts(told, UNMET)
    told = alone(edited(("12.05  15.80  190.4", "5.00   38.08  190.4")))
    assert {"power.output-range"} == counts(told, UNMET)


def test_a_unit_that_only_another_table_shows_leaves_it_open() -> None:
    text = edited(
        ("  fan-3    fitted", "  fan-4    fitted  WXF-40F       WXF-11069\n  fan-3    fitted"),
        ("END PARTS, 6", "END PARTS, 7"),
    )
    told = alone(text)
    assert INCONCLUSIVE is told.verdict
    assert {"text.complete", "cooling.airflow"} == counts(told, UNDETERMINED)


def test_a_text_whose_last_table_has_no_end_may_have_lost_rows() -> None:
    """nxos closes no table: rows behind the end of the text would be missed by nothing else."""
    case_ = fixture("psu-2-replaced", "cisco_nxos")
    lines = case_.text("after").decode().rstrip("\n").split("\n")
    whole = read_text("\n".join([*lines, ""]).encode(), "after.txt", dialects(), dialect("cisco_nxos"))
    cut = read_text("\n".join([*lines[:-1], ""]).encode(), "after.txt", dialects(), dialect("cisco_nxos"))
    assert whole.readings == cut.readings
    label = (Observed("psu-2", "serial", next(r.given("serial") for r in whole.readings if r.unit == "psu-2" and r.given("serial"))),)  # fmt: skip
    seen = (*(o for o in case_.observed() if o.fact == "airflow"), *label)
    at_once = {"job": JobLimits(without_baseline=True), "settling": SettlingLimits(required=False)}
    limits = case_.acceptance().model_copy(update=at_once)
    samples = tuple(Sample(15.0 * n, whole) for n in range(3))
    assert VERIFIED is judge_alone(whole, "psu-2", limits, seen, samples).verdict
    told = judge_alone(cut, "psu-2", limits, seen, samples)
    assert INCONCLUSIVE is told.verdict
    assert {"text.complete"} == counts(told, UNDETERMINED)


def test_a_row_lost_from_a_table_without_a_count_is_seen_beside_the_samples_and_else_feared() -> None:
    """nxos states no number of rows: a sensor whose line was lost leaves no gap."""
    case_ = fixture("psu-2-replaced", "cisco_nxos")
    text = case_.text("after").decode()
    (row,) = [line for line in text.split("\n") if "BACK" in line][:1]
    whole, lost = (
        read_text(t.encode(), "after.txt", dialects(), dialect("cisco_nxos"))
        for t in (text, text.replace(row + "\n", ""))
    )
    assert len(lost.sightings) == len(whole.sightings) - 1
    label = Observed("psu-2", "serial", next(r.given("serial") for r in whole.readings if r.unit == "psu-2" and r.given("serial")))  # fmt: skip
    seen = (*(o for o in case_.observed() if o.fact == "airflow"), label)
    at_once = {"job": JobLimits(without_baseline=True), "settling": SettlingLimits(required=False)}
    limits = case_.acceptance().model_copy(update=at_once)
    samples = tuple(Sample(15.0 * n, whole) for n in range(3))
    verdicts = [
        judge_alone(text_, "psu-2", limits, seen, given).verdict
        for text_, given in ((whole, samples), (lost, samples), (whole, samples[:2]), (whole, ()))
    ]
    assert [VERIFIED, INCONCLUSIVE, INCONCLUSIVE, INCONCLUSIVE] == verdicts


def test_a_unit_that_the_text_does_not_show_is_refused() -> None:
    with pytest.raises(NoSuchUnit):
        alone(unit="psu-3")


def test_a_text_with_nothing_in_it_is_inconclusive() -> None:
    assert INCONCLUSIVE is judge_alone(snapshot(), "psu-2", ALLOWED, STATED).verdict


def test_an_inferred_text_is_never_verified() -> None:
    inferred = read(GOOD)._replace(basis="inferred")
    assert INCONCLUSIVE is judge_alone(inferred, "psu-2", ALLOWED, STATED).verdict


# ---- over all texts


def told_of(text: Snapshot) -> Counter[str]:
    return Counter(r.model_dump_json() for r in text.readings if r.kind != "device")


def passes(text: bytes) -> Snapshot | None:
    try:
        after = read(text)
        return after if judge_alone(after, "psu-2", ALLOWED, STATED).verdict is VERIFIED else None
    except (NotRecognised, NoSuchUnit):
        return None


def test_a_cut_text_passes_only_if_nothing_was_cut_off() -> None:
    whole = passes(GOOD)
    assert whole is not None
    for end in range(0, len(GOOD), 3):
        after = passes(GOOD[:end])
        assert after is None or after.readings == whole.readings, GOOD[max(0, end - 60) : end]


def test_a_lost_line_passes_only_if_it_was_a_fact_that_nothing_rests_on() -> None:
    """Tables that state their rows lose none; of the facts of the device none is judged without a baseline."""
    whole, lines = passes(GOOD), GOOD.split(b"\n")
    assert whole is not None
    for lost in range(len(lines)):
        after = passes(b"\n".join(lines[:lost] + lines[lost + 1 :]))
        assert after is None or told_of(after) == told_of(whole), lines[lost]


@settings(max_examples=150, deadline=None)
@given(at=st.integers(0, len(GOOD)), noise=st.binary(min_size=1, max_size=40))
def test_noise_never_hides_a_reading(at: int, noise: bytes) -> None:
    whole, after = passes(GOOD), passes(GOOD[:at] + noise + GOOD[at:])
    assert whole is not None
    if after is not None:
        assert len(told_of(whole) - told_of(after)) <= 1  # the noise fell into one cell of free text


def refuses(after: Snapshot, unit: str) -> bool:
    """Whether one text shows units and not this one: then it cannot be judged alone, and says so."""
    units = View(after, "after").units
    if unit in units or not units:
        return False
    with pytest.raises(NoSuchUnit, match=unit):
        judge_alone(after, unit, Acceptance())
    return True


@pytest.mark.parametrize("case_", cases_of(shipped("fixtures")), ids=lambda c: f"{c.dialect_name}/{c.name}")
def test_what_one_text_shows_counts_with_and_without_a_baseline(case_: Fixture) -> None:
    """Without the setting nothing is verified; with it, no more than state rules and text rules would let pass."""
    known = dialect(case_.dialect_name)
    after = read_text(case_.text("after"), "after.txt", dialects(), known)
    before = read_text(case_.text("before"), "before.txt", dialects(), known)
    if refuses(after, case_.file.unit):
        return
    assert VERIFIED is not judge_alone(after, case_.file.unit, case_.acceptance(), case_.observed()).verdict
    allowed = case_.acceptance().model_copy(update={"job": JobLimits(without_baseline=True)})
    told = judge_alone(after, case_.file.unit, allowed, case_.observed())
    states = {rule.id for rule in ALL if rule.state} | {"text.unread"}
    with_baseline = judge(before, after, case_.file.unit, case_.acceptance(), case_.observed(), case_.file.reseat)
    held = [f for f in with_baseline.findings if f.required and f.outcome is not MET and f.rule in states]
    if any(f.rule != "text.unread" or f.evidence[0].capture == "after" for f in held):
        assert VERIFIED is not told.verdict


@pytest.mark.parametrize("case_", cases_of(shipped("fixtures")), ids=lambda c: f"{c.dialect_name}/{c.name}")
def test_every_finding_points_into_the_one_text_or_names_a_command(case_: Fixture) -> None:
    after = read_text(case_.text("after"), "after.txt", dialects(), dialect(case_.dialect_name))
    if refuses(after, case_.file.unit):
        return
    commands = {f"`{c}`" for shown in after.commands.values() for c in shown}
    for finding in judge_alone(after, case_.file.unit, ALLOWED, case_.observed()).findings:
        hint = finding.hint or ""
        assert finding.evidence or "no command" in hint or any(c in hint for c in commands), finding
        assert all(e.capture == "after" and 1 <= e.line <= after.last_line for e in finding.evidence), finding
        assert "None" not in finding.message
        assert finding.message[-1] not in ".!"
        assert not finding.standing


def test_every_state_rule_is_asked_and_every_rule_has_one_form() -> None:
    ids = [rule.id for rule in ALONE]
    assert len(ids) == len(set(ids))
    assert {rule.id for rule in ALL if rule.state} <= set(ids)
    assert ESSENTIAL <= set(ids)


def test_the_same_text_twice_is_no_baseline() -> None:
    """What a person in a hurry might try instead: it shows that nothing was replaced."""
    judged = case(read(GOOD, "before"), read(GOOD), "psu-2")
    assert [UNMET] == [f.outcome for f in findings("identity.replaced", judged)]


def test_watts_are_compared_in_their_unit() -> None:
    """The load and the rated power that redundancy rests on come from the one text."""
    (found,) = [f for f in alone().findings if f.rule == "power.redundancy"]
    assert (q("384.2 W"), q("540 W")) == (found.measured, found.limit)
