"""Go, hold or unknown: may this unit be pulled now? Pure.

`hold` is an answer to act on: something is known that speaks against it. `unknown` asks for a look or another
capture. `go` needs every required question answered, from a text that was wholly read.
"""

from enum import StrEnum
from typing import NamedTuple

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import air, part, place, power
from consolecheck.judging.clearance.asked import Asked, Question, own_chassis
from consolecheck.judging.judge import NoSuchUnit
from consolecheck.judging.logic import all_of
from consolecheck.judging.view import Case, Observed, Sample, View, impaired, may_be_cut
from consolecheck.records.findings import Evidence, Finding, Outcome
from consolecheck.records.readings import Kind, Snapshot


class Answer(StrEnum):
    """Whether the unit may be pulled."""

    GO = "go"
    HOLD = "hold"
    UNKNOWN = "unknown"


class Clearance(NamedTuple):
    """The answer for one unit, with everything that was found on the way."""

    answer: Answer
    unit: str
    findings: tuple[Finding, ...]


QUESTIONS: tuple[Question, ...] = (
    Question("clearance.chassis", "The right chassis", place.chassis),
    Question("clearance.unit", "The right slot", place.unit),
    Question("clearance.text", "The text wholly and rightly read", place.text),
    Question("clearance.last-leg", "Not the last leg", power.last_leg, ("power_supply", "inventory")),
    Question("clearance.load", "The rest carries the load", power.load, ("power_supply", "inventory")),
    Question("clearance.others", "The other units are well", place.others, ("inventory",), own=True),
    Question("clearance.fans", "The fans suffice", air.fans, ("fan",)),
    Question("clearance.heat", "Heat to spare while the slot is open", air.heat, ("temperature",)),
    Question("clearance.replacement", "The right part in hand", part.replacement, ("inventory",), own=True),
    Question("clearance.service", "What stands already", place.service, ("alarm", "link"), required=False),
)
"""All questions, in the order in which they are told."""

_ANSWERS = {Outcome.MET: Answer.GO, Outcome.UNMET: Answer.HOLD, Outcome.UNDETERMINED: Answer.UNKNOWN}


def clearance(
    before: Snapshot,
    unit: str,
    acceptance: Acceptance,
    observed: tuple[Observed, ...] = (),
    chassis: str | None = None,
    open_seconds: float = 120.0,
    modules_needed: int | None = None,
    samples: tuple[Sample, ...] = (),
) -> Clearance:
    """Whether `unit` may be pulled, from the capture before the swap: strong Kleene over what is required.

    `chassis` is the serial that the ticket states. `open_seconds` and `modules_needed` are what the family's
    papers say; the acceptance's own figures go before them. `samples` are captures up to now, oldest first.
    Raises NoSuchUnit where the text shows units, but not this one.
    """
    whole = View(before, "before")
    if unit not in whole.units and whole.units:
        raise NoSuchUnit(unit, whole.units)
    view = View(own_chassis(before, unit), "before")
    asked = Asked(
        view,
        whole,
        Case(view, view, unit, acceptance, observed, samples=samples),
        chassis,
        acceptance.clearance.open_seconds or open_seconds,
        acceptance.cooling.modules_needed or modules_needed,
    )
    broken = impaired(whole)
    findings = tuple(f for question in QUESTIONS for f in _findings(question, asked, broken))
    outcome = all_of(f.outcome for f in findings if f.required)
    if outcome is Outcome.MET and before.basis == "inferred":
        outcome = Outcome.UNDETERMINED
    return Clearance(_ANSWERS[outcome], unit, findings)


def _findings(question: Question, asked: Asked, broken: dict[str, tuple[str, Evidence]]) -> list[Finding]:
    needs: tuple[Kind, ...] = question.needs
    if question.own:
        needs = (*needs, "power_supply" if asked.is_supply else "fan")
    why = next((broken[k] for k in (*needs, "*") if k in broken), None) if needs else None
    findings = []
    for draft in question.ask(asked):
        outcome, message, evidence, doubt = draft.outcome, draft.message, draft.evidence, None
        if outcome is Outcome.MET and why is not None:
            outcome, doubt = Outcome.UNDETERMINED, why[0]
            message, evidence = f"{message}, but {doubt}", (*evidence, why[1])
        elif (
            outcome is Outcome.UNMET
            and draft.by_absence
            and (doubt := may_be_cut(draft.by_absence, asked.whole, broken))
        ):
            outcome, message = Outcome.UNDETERMINED, f"{message}, or {doubt}"
        findings.append(
            Finding(
                rule=question.id,
                subject=draft.subject,
                outcome=outcome,
                required=question.required and not draft.advisory,
                measured=draft.measured,
                limit=draft.limit,
                limit_source=draft.source,
                margin=draft.margin,
                message=message,
                hint=draft.hint,
                evidence=evidence,
                doubt=doubt or None,
            )
        )
    return findings
