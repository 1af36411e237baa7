"""Three values: the laws of strong Kleene logic, and what they make of a verdict."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.judging.logic import all_of, verdict_of
from consolecheck.records.findings import Finding, Outcome, Verdict

MET, UNMET, OPEN = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
VALUES = (MET, OPEN, UNMET)
OUTCOMES = st.lists(st.sampled_from(VALUES), min_size=1, max_size=8)

# S. C. Kleene, Introduction to Metamathematics (1952), section 64: the strong table of "and".
AND = {
    (MET, MET): MET,
    (MET, OPEN): OPEN,
    (MET, UNMET): UNMET,
    (OPEN, OPEN): OPEN,
    (OPEN, UNMET): UNMET,
    (UNMET, UNMET): UNMET,
}


@pytest.mark.parametrize("pair", list(product(VALUES, repeat=2)))
def test_the_table_of_and(pair: tuple[Outcome, Outcome]) -> None:
    assert all_of(pair) is AND.get(pair, AND.get(pair[::-1]))


def test_nothing_is_no_evidence() -> None:
    assert all_of([]) is OPEN


@given(OUTCOMES, OUTCOMES, st.randoms(use_true_random=False))
def test_neither_order_nor_grouping_matters(one: list[Outcome], two: list[Outcome], dice) -> None:  # type: ignore[no-untyped-def]
    mixed = [*one, *two]
    whole = all_of(mixed)
    dice.shuffle(mixed)
    assert all_of(mixed) is whole
    assert all_of([all_of(one), all_of(two)]) is whole
    assert all_of([*mixed, whole]) is whole


@given(OUTCOMES, st.data())
def test_what_becomes_known_never_turns_one_answer_into_the_other(outcomes: list[Outcome], data: st.DataObject) -> None:
    """Kleene's regularity: an answer that stood with some things unknown stands whatever they turn out to be."""
    before = all_of(outcomes)
    known = [data.draw(st.sampled_from((MET, UNMET))) if o is OPEN else o for o in outcomes]
    if before is not OPEN:
        assert all_of(known) is before
    assert all_of(known) is not OPEN


@given(OUTCOMES)
def test_one_more_open_question_never_makes_all_met(outcomes: list[Outcome]) -> None:
    assert all_of([*outcomes, OPEN]) is not MET
    assert all_of([*outcomes, UNMET]) is UNMET


# ---- the verdict

RULES = ("power.status", "identity.replaced", "temperature.limits")
SUBJECTS = ("psu-2", "psu-1")
ESSENTIAL = (("power.status", "psu-2"), ("identity.replaced", "psu-2"))
FINDINGS = st.lists(
    st.builds(
        Finding,
        rule=st.sampled_from(RULES),
        subject=st.sampled_from(SUBJECTS),
        outcome=st.sampled_from(VALUES),
        required=st.booleans(),
        message=st.just("told"),
    ),
    max_size=8,
)
RANK = {Verdict.NOT_VERIFIED: 0, Verdict.INCONCLUSIVE: 1, Verdict.VERIFIED: 2}


def met(rule: str, subject: str = "psu-2") -> Finding:
    return Finding(rule=rule, subject=subject, outcome=MET, message="told")


@given(FINDINGS, st.sampled_from((OPEN, UNMET)))
def test_a_required_finding_that_is_not_met_never_makes_a_verdict_better(
    findings: list[Finding], outcome: Outcome
) -> None:
    more = met("temperature.limits").model_copy(update={"outcome": outcome})
    with_it = verdict_of([*findings, more], ESSENTIAL)
    assert with_it is not Verdict.VERIFIED
    assert RANK[with_it] <= RANK[verdict_of(findings, ESSENTIAL)]


@given(FINDINGS, st.sampled_from(VALUES))
def test_an_advisory_finding_changes_no_verdict(findings: list[Finding], outcome: Outcome) -> None:
    more = met("power.status").model_copy(update={"outcome": outcome, "required": False})
    assert verdict_of([*findings, more], ESSENTIAL) is verdict_of(findings, ESSENTIAL)


@given(FINDINGS, st.randoms(use_true_random=False))
def test_the_order_of_findings_does_not_matter(findings: list[Finding], dice) -> None:  # type: ignore[no-untyped-def]
    whole = verdict_of(findings, ESSENTIAL)
    dice.shuffle(findings)
    assert verdict_of(findings, ESSENTIAL) is whole


@given(FINDINGS)
def test_verified_needs_each_essential_finding_met_and_required(findings: list[Finding]) -> None:
    verified = verdict_of(findings, ESSENTIAL) is Verdict.VERIFIED
    required = [f for f in findings if f.required]
    told = {(f.rule, f.subject) for f in required if f.outcome is MET}
    assert verified == (bool(required) and all(f.outcome is MET for f in required) and told.issuperset(ESSENTIAL))
    for essential in ESSENTIAL:
        without = [f for f in findings if (f.rule, f.subject) != essential]
        assert verdict_of(without, ESSENTIAL) is not Verdict.VERIFIED


def test_a_whole_swap_can_be_verified() -> None:
    assert verdict_of([met(rule) for rule in RULES], ESSENTIAL) is Verdict.VERIFIED
