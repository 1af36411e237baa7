"""A verdict as a comment in a ticket: Markdown of a dozen lines.

Everything that is not our own word stands in a code span, where no Markdown, HTML, link, mention or reference to
another ticket becomes active, in CommonMark and in what trackers add to it. A backslash would not do: trackers look
for mentions in the text as it is shown.
"""

import re
from collections.abc import Mapping

from consolecheck.judging.view import View
from consolecheck.records.findings import Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Snapshot
from consolecheck.reporting.safe import shortened
from consolecheck.reporting.terminal import decides

MOST_REASONS = 3
_LONGEST = 200
"""Characters of one reason or name; the JSON beside it has all of them."""
_LONGEST_NAME = 60


def reasons(judgement: Judgement) -> list[Finding]:
    """The findings that decided, those that count most first, one a rule.

    Of a swap that is not verified: what is against it, then what is left open, each with the replaced unit's own
    first and doubts about the text last. Of one that is verified: what it rests on.
    """
    if judgement.verdict is Verdict.VERIFIED:
        found = [
            f for f in judgement.findings if f.required and f.outcome is Outcome.MET and decides(f, judgement.unit)
        ]
    else:
        found = [f for f in judgement.findings if f.required and f.outcome is not Outcome.MET]
    found.sort(key=lambda f: (f.outcome is not Outcome.UNMET, f.doubt is not None, f.subject != judgement.unit))
    once: dict[str, Finding] = {}
    for finding in found:
        once.setdefault(finding.rule, finding)
    return list(once.values())


def ticket(
    judgement: Judgement,
    before: Snapshot | None,
    after: Snapshot,
    acceptance: str,
    digests: Mapping[str, str],
    seal: str | None = None,
    labels: Mapping[str, str] = {},
) -> str:
    """The comment. `digests` are SHA-256 of the texts by side, `seal` that of a job's seal.

    `labels` are the serials that a person read off the new part (`serial`) and the old one (`removed_serial`), for
    switches that print none.
    """
    host = next(iter(after.hosts), None)
    lines = [
        f"**{judgement.verdict.value.replace('-', ' ').upper()}**: {_name(judgement.unit)}"
        + (f" on {_name(host)}" if host else ""),
        "",
    ]
    told = reasons(judgement)
    lines += [f"- {_code(f.message, _LONGEST)} ({_code(f.rule, _LONGEST)}{_at(f)})" for f in told[:MOST_REASONS]]
    if not told:
        lines.append("- not enough was read to decide")
    if judgement.verdict is not Verdict.VERIFIED and (more := len(told) - MOST_REASONS) > 0:
        lines.append(f"- {more} more {'rules' if more > 1 else 'rule'} not met or left open")
    views = [View(before, "before") if before else None, View(after, "after")]
    lines += ["", f"Serial: {_changed(judgement.unit, 'serial', views, labels)}"]
    lines.append(f"Part: {_changed(judgement.unit, 'part_number', views, {})}")
    if chassis := _chassis(views[1]) or _chassis(views[0]):
        lines.append(f"Chassis: {_name(chassis)}")
    lines += [f"Limits: {_name(acceptance)}", ""]
    lines += [f"SHA-256 of {side}.txt: {_code(digest, 64)}" for side, digest in digests.items()]
    if seal is not None:
        lines.append(f"SHA-256 of the seal: {_code(seal, 64)}")
    return "\n".join(_broken(lines)) + "\n"


def _changed(unit: str, fact: str, views: list[View | None], labels: Mapping[str, str]) -> str:
    """`old -> new` as the switch prints it, else as the label says."""
    told = []
    for view, label in zip(views, ("removed_serial", "serial"), strict=True):
        printed = (view.serials if fact == "serial" else {}).get(unit) if view else None
        if view and fact != "serial":
            printed = view.fact(unit, fact)
        if printed:
            told.append(_name(printed[0]))
        else:
            told.append(f"{_name(labels[label])} (label)" if label in labels else "not known")
    return f"{told[0]} -> {told[1]}"


def _chassis(view: View | None) -> str | None:
    """The chassis' serial, where the switch prints one."""
    if view is None:
        return None
    sightings = (*view.by_unit.get("chassis", ()), *view.of("device"))
    return next((serial for s in sightings if (serial := s.reading.given("serial"))), None)


def _at(finding: Finding) -> str:
    return f", {finding.evidence[0].capture}.txt line {finding.evidence[0].line}" if finding.evidence else ""


def _name(text: str) -> str:
    return _code(text, _LONGEST_NAME)


def _code(text: str, longest: int) -> str:
    """A code span that shows the text; its fence is longer than any run of backticks in it."""
    text = shortened(" ".join(text.split()), longest) or " "
    fence = "`" * (max(map(len, re.findall("`+", text)), default=0) + 1)
    pad = " " if "`" in (text[0], text[-1]) or text.isspace() else ""
    return f"{fence}{pad}{text}{pad}{fence}"


def _broken(lines: list[str]) -> list[str]:
    """Two lines in a row of one paragraph are kept apart by two blanks at the end, as Markdown wants it."""
    return [
        line + "  " if line and not line.startswith("- ") and following else line
        for line, following in zip(lines, [*lines[1:], ""], strict=True)
    ]
