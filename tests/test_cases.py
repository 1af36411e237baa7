"""Every fixture: claims written by hand first, then the recorded readings."""

import pytest

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, check_case, judged
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.dialect import Dialect
from consolecheck.records.findings import Outcome, Verdict

CASES = cases_of(shipped("fixtures"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.dialect_name}/{case.name}")
def test_case_holds(case: Case) -> None:
    faults = list(check_case(case, dialects()))
    assert [] == [(fault.message, *fault.shown) for fault in faults]


@pytest.mark.parametrize("dialect", dialects(), ids=lambda dialect: dialect.name)
def test_every_dialect_has_a_good_a_bad_and_an_open_case(dialect: Dialect) -> None:
    """A dialect that was only ever shown good swaps has not been shown to notice a bad one.

    One that reads no supplies or no fans, or nothing of how the supplies are, can tell of no swap that it was
    good: it must never say so.
    """
    tables = dialect.manifest.tables.values()
    kinds = {rule.kind or table.kind for table in tables for rule in (table, *dialect.manifest.sorts_of(table))}
    verdicts = {case.file.claims.verdict for case in CASES if case.dialect_name == dialect.name}
    no_health = dialect.name in {"ciena_saos10", "lm_sensors"}  # that supplies are there; points of supplies
    tells = {"power_supply", "fan"} <= kinds and not no_health
    possible = set(Verdict) if tells else set(Verdict) - {Verdict.VERIFIED}
    assert possible == verdicts


@pytest.mark.parametrize("dialect", [d.name for d in dialects()])
def test_every_table_is_read_in_some_case(dialect: str) -> None:
    """A template without a case is a promise without proof; tables read only in recordings elsewhere are listed."""
    elsewhere = {
        "ipmitool": {"sdr", "sdr-verbose", "sel", "dcmi-power"},
    }.get(dialect, set())
    known = next(d for d in dialects() if d.name == dialect)
    seen = {
        table.table
        for case in CASES
        if case.dialect_name == dialect
        for snapshot in judged(case, dialects())[:2]
        for table in snapshot.tables
        if table.rows
    }
    assert set() == set(known.manifest.tables) - seen - elsewhere


def test_demo_has_a_good_swap_and_at_least_six_faults() -> None:
    demos = [case.file.demo for case in CASES if case.file.demo]
    assert len(set(demos)) == len(demos)
    assert "none" in demos
    assert {
        "dead-replacement",
        "no-input",
        "reversed-airflow",
        "wrong-slot",
        "sensor-over-warning",
        "same-serial",
    } <= set(demos)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.dialect_name}/{case.name}")
def test_every_finding_points_at_a_line_or_names_the_command_that_showed_nothing(case: Case) -> None:
    result = judged(case, dialects())
    last = {"before": result.before.last_line, "after": result.after.last_line}
    commands = {f"`{c}`" for shown in result.after.commands.values() for c in shown}
    for finding in result.judgement.findings:
        hint = finding.hint or ""
        assert finding.evidence or "no command" in hint or any(c in hint for c in commands), finding
        for evidence in finding.evidence:
            assert 1 <= evidence.line <= last[evidence.capture], finding


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.dialect_name}/{case.name}")
def test_every_finding_says_one_plain_sentence(case: Case) -> None:
    for finding in judged(case, dialects()).judgement.findings:
        assert finding.message[-1] not in ".!"
        assert "None" not in finding.message
        assert (
            not (finding.outcome is Outcome.UNMET and finding.required)
            or finding.measured is not None
            or finding.evidence
        )
