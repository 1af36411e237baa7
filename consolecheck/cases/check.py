"""Checks a dialect against its cases: the laws of templates, then claims, then recorded readings.

Claims are checked before goldens, so a golden that was recorded from a wrong reading cannot pass.
"""

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal, NamedTuple

from consolecheck.cases.case import Case, CaseFault
from consolecheck.cases.claims import RECORD, differences, record_of, recorded
from consolecheck.judging.acceptance import AcceptanceFault
from consolecheck.judging.clearance import Clearance, clearance
from consolecheck.judging.judge import NoSuchUnit, judge
from consolecheck.judging.view import View
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Finding, Judgement, Outcome
from consolecheck.records.readings import Snapshot
from consolecheck.reporting.exchange import reading_out


class Fault(NamedTuple):
    """One thing that a check found wrong: where, what, and lines that show it."""

    place: str
    message: str
    shown: tuple[str, ...] = ()
    golden: bool = False
    """Whether recording anew would settle it."""


class Judged(NamedTuple):
    before: Snapshot
    after: Snapshot
    judgement: Judgement
    clearance: Clearance | None
    """Whether the unit might have been pulled, from the text before alone; None where that text shows no such unit."""


def cases_of(folder: Path, dialect: str | None = None) -> list[Case]:
    """Every case below `fixtures`, or those of one dialect, by name. Raises CaseFault."""
    return [
        Case(path)
        for family in sorted(folder.iterdir())
        if family.is_dir() and dialect in (None, family.name)
        for path in sorted(family.iterdir())
        if path.is_dir()
    ]


def cases_in(folder: Path, dialect: str) -> list[Case]:
    """The cases of a dialect that is not shipped, by name. Raises CaseFault."""
    return [Case(path, dialect) for path in sorted(folder.iterdir()) if path.is_dir()] if folder.is_dir() else []


def judged(case: Case, dialects: Sequence[Dialect]) -> Judged:
    """The case as `replay` would judge it, its dialect recognised from the text unless it names one."""
    chosen = next((d for d in dialects if d.name == case.file.dialect), None)
    before = read_text(case.text("before"), "before.txt", dialects, chosen)
    after = read_text(case.text("after"), "after.txt", dialects, chosen)
    unit, limits, observed = case.file.unit, case.acceptance(), case.observed()
    try:
        papers = next(d for d in dialects if d.name == before.dialect).manifest.chassis
        pulling = clearance(before, unit, limits, observed, None, papers.open_seconds, papers.modules_needed)
    except NoSuchUnit:
        pulling = None
    return Judged(before, after, judge(before, after, unit, limits, observed, case.file.reseat), pulling)


def check_case(case: Case, dialects: Sequence[Dialect]) -> Iterator[Fault]:
    """Everything that is wrong with a case."""
    try:
        result = judged(case, dialects)
    except (NotRecognised, NoSuchUnit, AcceptanceFault, CaseFault, OSError) as reason:
        yield Fault(case.place, str(reason))
        return
    claims = list(_against_claims(case, result))
    yield from claims
    if not claims:
        yield from _against_golden(case, result)


def _against_claims(case: Case, result: Judged) -> Iterator[Fault]:
    claims = case.file.claims
    for side, snapshot, allowed in (
        ("before", result.before, claims.unread_before),
        ("after", result.after, claims.unread_after),
    ):
        if snapshot.dialect != case.dialect_name:
            yield Fault(case.place, f"{side}.txt was taken for {snapshot.dialect}")
        found = [u for u in snapshot.unread if u.number not in allowed]
        if found:
            yield Fault(
                case.place,
                f"{side}.txt: {len(found)} lines were not read",
                tuple(f"{side}.txt:{u.number} | {u.text}   <- {u.reason}" for u in found[:10]),
            )
        if missing := set(allowed) - {u.number for u in snapshot.unread}:
            yield Fault(case.place, f"{side}.txt: lines {sorted(missing)} are claimed to be unreadable and were read")
    judgement = result.judgement
    if judgement.verdict is not claims.verdict:
        yield Fault(
            case.place,
            f"claimed {claims.verdict.value}, judged {judgement.verdict.value}",
            tuple(f"{f.rule}: {f.message}" for f in judgement.findings if f.outcome is not Outcome.MET and f.required),
        )
    for outcome, claimed in ((Outcome.UNMET, claims.unmet), (Outcome.UNDETERMINED, claims.undetermined)):
        rules = sorted({f.rule for f in judgement.findings if f.required and f.outcome is outcome})
        if claimed is not None and rules != sorted(claimed):
            yield Fault(
                case.place,
                f"claimed {outcome.value}: {', '.join(sorted(claimed)) or 'none'}; judged: {', '.join(rules) or 'none'}",
            )
    view = View(result.after, "after")
    for unit, condition in claims.units.items():
        told = view.condition(unit)
        if told is not condition:
            yield Fault(
                case.place,
                f"claimed that {unit} is {condition.value}, read {told.value if told else 'nothing'}",
                tuple(
                    f"after.txt:{n} | {_raw_line(case, n)}" for s in view.by_unit.get(unit, ())[:3] for n in s.lines[:2]
                ),
            )


def _raw_line(case: Case, number: int, side: Literal["before", "after"] = "after") -> str:
    lines = case.text(side).decode("utf-8", "replace").split("\n")
    return lines[number - 1].rstrip("\r") if number <= len(lines) else ""


def golden_text(result: Judged) -> str:
    """What is recorded of a case: each reading on a line of its own, so that a difference reads well."""

    def readings(snapshot: Snapshot) -> list[str]:
        out: list[str] = []
        for sighting in snapshot.sightings:
            data: dict[str, Any] = reading_out(sighting).model_dump(mode="json", exclude_none=True)
            out.append(json.dumps(data, ensure_ascii=True, sort_keys=True))
        return out

    blocks = [
        ("before", readings(result.before)),
        ("after", readings(result.after)),
        ("clearance", [finding_line(f) for f in result.clearance.findings] if result.clearance else []),
        ("findings", [finding_line(f) for f in result.judgement.findings]),
    ]
    body = ",\n".join(f'"{name}": [\n' + ",\n".join(lines) + "\n]" for name, lines in blocks)
    before_pulling = result.clearance.answer.value if result.clearance else "not asked"
    return f'{{"verdict": "{result.judgement.verdict.value}",\n"before pulling": "{before_pulling}",\n{body}}}\n'


def finding_line(finding: Finding) -> str:
    """Everything that a finding tells, each part as a person would read it, as one JSON list."""
    told = [
        finding.rule,
        finding.subject,
        finding.outcome.value,
        "required" if finding.required else "advisory",
        *(f"{name} {said}" for name in ("measured", "limit", "margin") if (said := getattr(finding, name)) is not None),
        *(f"{name}: {said}" for name in ("limit_source", "hint", "doubt") if (said := getattr(finding, name))),
        *(["standing"] if finding.standing else []),
        " ".join(
            f"{e.capture}:{e.line}" + (f":{e.start}-{e.end}" if e.start is not None else "") for e in finding.evidence
        ),
        finding.message,
    ]
    return json.dumps(told, ensure_ascii=True)


def _against_golden(case: Case, result: Judged) -> Iterator[Fault]:
    path = case.folder / "expected.json"
    found = golden_text(result)
    if not path.is_file():
        yield Fault(case.place, "expected.json was not recorded yet", golden=True)
        return
    expected = path.read_text(encoding="utf-8")
    if expected == found:
        return
    shown = told_differences(case, expected, found)
    yield Fault(case.place, "readings or findings differ from expected.json", shown, golden=True)


def told_differences(case: Case, expected: str, found: str) -> tuple[str, ...]:
    """What differs between two records of a case, thing by thing, with the lines where it stands today."""
    try:
        then, now = json.loads(expected), json.loads(found)
        told = [] if then["verdict"] == now["verdict"] else [f"verdict: {then['verdict']} -> {now['verdict']}"]
        for side in ("before", "after"):
            told.extend(_readings_changed(case, side, then[side], now[side]))
        if then["before pulling"] != now["before pulling"]:
            told.append(f"before pulling: {then['before pulling']} -> {now['before pulling']}")
        for part in ("clearance", "findings"):
            old, new = ([tuple(f) for f in record[part]] for record in (then, now))
            told.extend(f"finding gone: {' | '.join(f)}" for f in old if f not in new)
            told.extend(f"finding new: {' | '.join(f)}" for f in new if f not in old)
    except (ValueError, KeyError, TypeError):
        return ("expected.json is no record of a case",)
    if not told:
        told.append("the same readings and findings, in another order or with other lines")
    return (*told[:MOST_SHOWN], *((f"... and {len(told) - MOST_SHOWN} more",) if len(told) > MOST_SHOWN else ()))


MOST_SHOWN = 24


def _readings_changed(
    case: Case, side: Literal["before", "after"], then: list[dict[str, Any]], now: list[dict[str, Any]]
) -> Iterator[str]:
    old, new = _by_subject(then), _by_subject(now)
    for subject in (*old, *(s for s in new if s not in old)):
        if subject not in new:
            yield f"{side}: {subject} is not read any more"
            continue
        there = _shown_lines(case, side, new[subject].get("lines", []))
        if subject not in old:
            yield f"{side}: {subject} is new"
            yield from there
            continue
        one, other = _plain(old[subject]), _plain(new[subject])
        changes = [
            f"{k}: {one.get(k, 'none')} -> {other.get(k, 'none')}"
            for k in {**one, **other}
            if one.get(k) != other.get(k)
        ]
        if changes:
            yield f"{side}: {subject}: {'; '.join(changes)}"
            yield from there


def _by_subject(readings: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Readings by what they are of; of several of one thing each has its number."""
    found: dict[str, dict[str, Any]] = {}
    for reading in readings:
        subject = " ".join(str(reading[key]) for key in ("kind", "unit", "name") if reading.get(key))
        number = 1
        while (known := subject if number == 1 else f"{subject} ({number})") in found:
            number += 1
        found[known] = reading
    return found


def _plain(reading: dict[str, Any]) -> dict[str, str]:
    quantities = {name: f"{q['value']} {q['unit']}" for name, q in reading.get("quantities", {}).items()}
    return {k: str(v) for k, v in reading.items() if k not in ("quantities", "lines")} | quantities


def _shown_lines(case: Case, side: Literal["before", "after"], numbers: list[int]) -> list[str]:
    return [f"    {side}.txt:{n} | {_raw_line(case, n, side)}" for n in numbers[:2]]


def accept(case: Case, dialects: Sequence[Dialect]) -> Fault | None:
    """Records a case anew, if its claims hold; returns the claim that does not."""
    try:
        result = judged(case, dialects)
    except (NotRecognised, NoSuchUnit, AcceptanceFault, OSError) as reason:
        return Fault(case.place, str(reason))
    for fault in _against_claims(case, result):
        return fault
    (case.folder / "expected.json").write_text(golden_text(result), encoding="utf-8", newline="\n")
    return None


def check_claims(dialect: Dialect, cases: Sequence[Case], folder: Path) -> Iterator[Fault]:
    """Where a dialect's templates claim other lines than is recorded in the folder of its cases."""
    for difference in differences(dialect, cases, recorded(folder)):
        place = f"fixtures/{dialect.name}" if dialect.origin is None else str(folder)
        where = f"{place}/{RECORD}" if difference.file == RECORD else f"{dialect.place}/{difference.file}"
        more = len(difference.shown) - MOST_SHOWN
        shown = (*difference.shown[:MOST_SHOWN], *((f"... and {more} more",) if more > 0 else ()))
        yield Fault(where, difference.message, shown, golden=True)


def accept_claims(dialect: Dialect, cases: Sequence[Case], folder: Path) -> None:
    """Records anew what the templates claim."""
    (folder / RECORD).write_text(record_of(dialect, cases), encoding="utf-8", newline="\n")
