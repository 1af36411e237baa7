"""Three-valued logic: strong Kleene over met, unmet and undetermined.

`unmet` wins over everything, `undetermined` over `met`; nothing at all is `undetermined` and not
`met`, since a conclusion drawn from no evidence is the mistake this program exists to prevent.
"""

from collections.abc import Iterable

from consolecheck.records.findings import Finding, Outcome, Verdict


def all_of(outcomes: Iterable[Outcome]) -> Outcome:
    """Strong Kleene conjunction; `undetermined` for no outcomes."""
    seen = list(outcomes)
    if Outcome.UNMET in seen:
        return Outcome.UNMET
    if Outcome.UNDETERMINED in seen or not seen:
        return Outcome.UNDETERMINED
    return Outcome.MET


def verdict_of(findings: Iterable[Finding], essential: Iterable[tuple[str, str]]) -> Verdict:
    """The verdict over the required findings.

    `essential` are the (rule, subject) pairs that must have been judged for any `verified`: presence
    and status of the replaced unit, and its identity.
    """
    required = [f for f in findings if f.required]
    outcome = all_of(f.outcome for f in required)
    if outcome is Outcome.UNMET:
        return Verdict.NOT_VERIFIED
    judged = {(f.rule, f.subject) for f in required if f.outcome is Outcome.MET}
    if outcome is Outcome.UNDETERMINED or not judged.issuperset(essential):
        return Verdict.INCONCLUSIVE
    return Verdict.VERIFIED
