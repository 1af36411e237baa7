"""The one door from two snapshots to a verdict, and the side door for one."""

from collections.abc import Iterator

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.logic import verdict_of
from consolecheck.judging.rules import ALL, ALONE
from consolecheck.judging.rules.job import essential_alone
from consolecheck.judging.rules.rule import Rule
from consolecheck.judging.view import Case, Draft, Observed, Sample, Side, Taken, View, impaired, may_be_cut
from consolecheck.records.findings import Evidence, Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Snapshot


class NoSuchUnit(ValueError):
    """Neither text shows the unit. `known` are the units that they do show."""

    def __init__(self, unit: str, known: tuple[str, ...]) -> None:
        self.unit, self.known = unit, known
        super().__init__(f"no unit `{unit}` in either text")


def judge(
    before: Snapshot,
    after: Snapshot,
    unit: str,
    acceptance: Acceptance,
    observed: tuple[Observed, ...] = (),
    reseat: str | None = None,
    samples: tuple[Sample, ...] = (),
    taken: Taken = Taken(),  # noqa: B008 -- an immutable value
) -> Judgement:
    """Every rule's findings on the swap of `unit`, and the verdict over those that are required.

    Raises NoSuchUnit where neither text shows the unit, although something was read.
    """
    case = Case(View(before, "before"), View(after, "after"), unit, acceptance, observed, reseat, samples, taken)
    findings = _judged(ALL, case)
    status = "power.status" if case.is_supply else "cooling.status"
    verdict = verdict_of(findings, ((status, unit), ("identity.replaced", unit)))
    if after.unconfirmed or before.unconfirmed:
        verdict = verdict if verdict is Verdict.NOT_VERIFIED else Verdict.INCONCLUSIVE
    return Judgement(verdict, unit, tuple(findings))


def judge_alone(
    after: Snapshot,
    unit: str,
    acceptance: Acceptance,
    observed: tuple[Observed, ...] = (),
    samples: tuple[Sample, ...] = (),
    taken: Taken = Taken(),  # noqa: B008 -- an immutable value
) -> Judgement:
    """The findings on a swap that nothing was captured before, on limits and the label of the new part.

    At best `inconclusive`, unless the acceptance allows it; then `verified` only where every essential rule was
    met on this text, none of which an acceptance can waive here. No fault is excused: whether it stood before
    is not known. Raises NoSuchUnit where the text does not show the unit, although something was read.
    """
    nothing = after._replace(
        source="no baseline", sightings=(), tables=(), unread=(), passed_over=(), hosts={}, last_line=0
    )
    case = Case(View(nothing, "before"), View(after, "after"), unit, acceptance, observed, None, samples, taken)
    findings = [_of_one_text(f) for f in _judged(ALONE, case, excused=False)]
    essential = essential_alone(case)
    findings.extend(_unshown(findings, essential, case))
    verdict = verdict_of(findings, [(rule, subject) for rule, subject in essential if subject])
    if after.unconfirmed or not acceptance.job.without_baseline:
        verdict = verdict if verdict is Verdict.NOT_VERIFIED else Verdict.INCONCLUSIVE
    return Judgement(verdict, unit, tuple(findings))


def _of_one_text(finding: Finding) -> Finding:
    """A finding without what points at a baseline."""
    evidence = tuple(e for e in finding.evidence if e.capture == "after")
    source = None if finding.limit_source == "the baseline" else finding.limit_source
    return finding.model_copy(update={"evidence": evidence, "limit_source": source})


def _unshown(findings: list[Finding], essential: tuple[tuple[str, str | None], ...], case: Case) -> Iterator[Finding]:
    """One finding for each essential rule that says nothing required: silence is not `met`."""
    for rule, subject in essential:
        if not any(f.rule == rule and f.required and subject in (None, f.subject) for f in findings):
            yield Finding(
                rule=rule,
                subject=subject or case.unit,
                outcome=Outcome.UNDETERMINED,
                message=f"without a capture before the swap {rule} must be met, and nothing that counts was found of it",
                hint="capture all tables, and leave this rule required in the acceptance",
                evidence=(case.after.whole,),
            )


def _judged(rules: tuple[Rule, ...], case: Case, excused: bool = True) -> list[Finding]:
    """What each rule found. `excused`: whether a fault may be set aside that the baseline showed already."""
    known = tuple(dict.fromkeys((*case.before.units, *case.after.units)))
    if case.unit not in known and known:
        raise NoSuchUnit(case.unit, known)
    broken = {"before": impaired(case.before), "after": impaired(case.after)}
    findings: list[Finding] = []
    for rule in rules:
        findings.extend(_findings(rule, case, broken, excused))
    return findings


def _findings(
    rule: Rule, case: Case, broken: dict[str, dict[str, tuple[str, Evidence]]], excused: bool
) -> list[Finding]:
    acceptance = case.acceptance
    if rule.state is not None:
        drafts = list(rule.state(case.after, case))
        sides: tuple[Side, ...] = ("after",)
    else:
        assert rule.change is not None, "a rule has one of the two"
        drafts = list(rule.change(case))
        sides = ("after", "before")
    required = (rule.required or rule.id in acceptance.required) and rule.id not in acceptance.advisory
    why = None
    if rule.needs:
        for side in sides:
            if impairments := broken[side]:
                why = why or next((impairments[k] for k in (*rule.needs, "*") if k in impairments), None)
    stood: dict[str, Draft] | None = None
    findings = []
    for draft in drafts:
        outcome, message, evidence, doubt = draft.outcome, draft.message, draft.evidence, None
        if outcome is Outcome.MET and why is not None:
            outcome, doubt = Outcome.UNDETERMINED, why[0]
            message, evidence = f"{message}, but {doubt}", (*evidence, why[1])
        elif (
            outcome is Outcome.UNMET
            and draft.by_absence
            and (doubt := may_be_cut(draft.by_absence, case.after, broken["after"]))
        ):
            outcome, message = Outcome.UNDETERMINED, f"{message}, or {doubt}"
        standing = False
        may_stand = excused and rule.state is not None and rule.standing and draft.unit != case.unit
        if outcome is not Outcome.MET and may_stand:
            if stood is None:
                stood = _stood_before(rule, case)
            standing = outcome is Outcome.UNMET and _no_worse(draft, stood.get(draft.subject))
        findings.append(
            Finding(
                rule=rule.id,
                subject=draft.subject,
                outcome=outcome,
                required=required and not draft.advisory and not (standing and not acceptance.standing_faults_count),
                measured=draft.measured,
                limit=draft.limit,
                limit_source=draft.source,
                margin=draft.margin,
                message=message,
                hint=draft.hint,
                evidence=evidence,
                standing=standing,
                doubt=doubt,
            )
        )
    return findings


def _stood_before(rule: Rule, case: Case) -> dict[str, Draft]:
    """What already broke the rule in the baseline alone, by subject."""
    assert rule.state is not None
    return {d.subject: d for d in rule.state(case.before, case) if d.outcome is Outcome.UNMET}


def _no_worse(now: Draft, before: Draft | None) -> bool:
    """Whether a fault is the one that stood before: the same status, or the same limit tripped."""
    if before is None:
        return False
    if isinstance(now.measured, str) or now.measured is None:
        return now.measured == before.measured
    return now.limit == before.limit
