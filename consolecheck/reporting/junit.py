"""A verdict as JUnit XML, for CI and trackers that read test results.

One swap is one `testsuite`, one finding one `testcase`: its class is the rule, its name the subject.

- A finding that counts (required) and is `unmet` has a `failure`, whose type is the rule.
- A finding that counts and is `undetermined` has an `error` of type `undetermined`.
- Everything else has neither: what is met, and what does not count (advisory, or a fault that stood before). Of the
  latter the name says `(does not count)`, and `system-out` tells it.
- Where the swap is not verified although no finding alone says so (too little was read), one more testcase of the
  class `verdict` has an `error` of the verdict's name.

So failures and errors together are zero exactly where the verdict is `verified`. There is no `skipped`: not every
version of the schema knows it, and nothing is skipped. `time` is 0, since rules are not timed.

Form: the XSD that follows Apache Ant's task (public repository windyroad/JUnit-Schema, JUnit.xsd), which wants
`properties`, `system-out` and `system-err`, a host name, and a time without a zone (UTC here).
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple
from xml.etree import ElementTree as Xml

from consolecheck.records.findings import Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Snapshot
from consolecheck.reporting.safe import safe

_UTC = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)
_NONCHARACTERS = re.compile("[\ufffe\uffff]")
NO_HOST = "localhost"
"""What the schema wants where the host is not known."""


def junit(
    judgement: Judgement,
    before: Snapshot | None,
    after: Snapshot,
    at: str,
    facts: Mapping[str, str] = {},
) -> bytes:
    """The test results as UTF-8. `at` is a time in UTC as RFC 3339 gives it; `facts` become properties.

    The host is the switch, by its prompt. Raises ValueError for an `at` that is no such time.
    """
    if not is_time(at):
        raise ValueError(f"`{at}` is not a time such as 2026-11-18T06:51:23Z")
    names = {"before": before.source if before else "", "after": after.source}
    cases = [_case(finding, names) for finding in judgement.findings]
    counts = {kind: sum(case.find(kind) is not None for case in cases) for kind in ("failure", "error")}
    if judgement.verdict is not Verdict.VERIFIED and not any(counts.values()):
        cases.append(_unsaid(judgement))
        counts["error"] = 1
    suite = Xml.Element(
        "testsuite",
        name=_token(judgement.unit, "unit"),
        timestamp=at.removesuffix("Z"),
        hostname=_token(next(iter(after.hosts), ""), NO_HOST),
        tests=str(len(cases)),
        failures=str(counts["failure"]),
        errors=str(counts["error"]),
        time="0",
    )
    properties = Xml.SubElement(suite, "properties")
    for name, value in {"verdict": judgement.verdict.value, **facts}.items():
        Xml.SubElement(properties, "property", name=_token(name, "fact"), value=_text(value))
    suite.extend(cases)
    beside = [f for f in judgement.findings if not f.required and f.outcome is not Outcome.MET]
    Xml.SubElement(suite, "system-out").text = _lines(f"{f.rule}: {f.message}" for f in beside)
    sides = (("before", before), ("after", after))
    Xml.SubElement(suite, "system-err").text = _lines(
        f"{snapshot.source}:{line.number} was not read: {line.text}   <- {line.reason}"
        for _, snapshot in sides
        if snapshot is not None
        for line in snapshot.unread
    )
    Xml.indent(suite)
    return bytes(Xml.tostring(suite, encoding="utf-8", xml_declaration=True)) + b"\n"


class Checked(NamedTuple):
    """One thing that was checked for a dialect: `faults` are what was wrong, each with lines that show it."""

    suite: str
    name: str
    faults: tuple[tuple[str, tuple[str, ...]], ...]


def junit_of_checks(checked: Sequence[Checked], at: str) -> bytes:
    """The results of `dialect check`: a `testsuite` for each dialect, a `testcase` for each case and for its templates.

    `at` is a time in UTC as RFC 3339 gives it.
    """
    root = Xml.Element("testsuites")
    for number, name in enumerate(dict.fromkeys(c.suite for c in checked)):
        mine = [c for c in checked if c.suite == name]
        suite = Xml.SubElement(
            root,
            "testsuite",
            package="dialects",
            id=str(number),
            name=_token(name, "dialect"),
            timestamp=at.removesuffix("Z"),
            hostname=NO_HOST,
            tests=str(len(mine)),
            failures=str(sum(bool(c.faults) for c in mine)),
            errors="0",
            time="0",
        )
        Xml.SubElement(suite, "properties")
        for one in mine:
            case = Xml.SubElement(
                suite, "testcase", name=_token(one.name, "case"), classname=_token(name, "dialect"), time="0"
            )
            if one.faults:
                first = one.faults[0][0]
                failure = Xml.SubElement(case, "failure", type="dialect", message=_text(first))
                failure.text = _lines(line for message, shown in one.faults for line in (message, *shown))
        Xml.SubElement(suite, "system-out")
        Xml.SubElement(suite, "system-err")
    Xml.indent(root)
    return bytes(Xml.tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


def is_time(at: str) -> bool:
    """Whether a text is a time in UTC to the second that exists, such as 2026-11-18T06:51:23Z."""
    try:
        return _UTC.fullmatch(at) is not None and datetime.fromisoformat(at) is not None
    except ValueError:
        return False


def _case(finding: Finding, names: Mapping[str, str]) -> Xml.Element:
    met = finding.outcome is Outcome.MET
    beside = "" if met or finding.required else " (does not count)"
    case = Xml.Element(
        "testcase",
        name=_token(finding.subject, "subject") + beside,
        classname=_token(finding.rule, "rule"),
        time="0",
    )
    if finding.required and not met:
        unmet = finding.outcome is Outcome.UNMET
        kind, sort = ("failure", finding.rule) if unmet else ("error", finding.outcome.value)
        told = Xml.SubElement(case, kind, type=_text(sort), message=_text(finding.message))
        told.text = _lines(_details(finding, names))
    return case


def _details(finding: Finding, names: Mapping[str, str]) -> list[str]:
    """Everything that a person needs to look into it, a line each."""
    lines = [finding.message]
    for label, value in (("measured", finding.measured), ("limit", finding.limit), ("margin", finding.margin)):
        if value is not None:
            lines.append(f"{label}: {value}")
    if finding.limit_source:
        lines.append(f"limit from: {finding.limit_source}")
    if finding.evidence:
        lines.append("seen at: " + ", ".join(f"{names[e.capture]}:{e.line}" for e in finding.evidence))
    if finding.hint:
        lines.append(f"do: {finding.hint}")
    return lines


def _unsaid(judgement: Judgement) -> Xml.Element:
    case = Xml.Element("testcase", name=_token(judgement.unit, "unit"), classname="verdict", time="0")
    message = "not enough was read to decide"
    Xml.SubElement(case, "error", type=judgement.verdict.value, message=message).text = message
    return case


def _text(text: str) -> str:
    """Text that XML 1.0 can hold: what it cannot, and what could do harm, is shown by its number."""
    return _NONCHARACTERS.sub(lambda m: f"\\u{ord(m[0]):04x}", safe(text))


def _token(text: str, otherwise: str) -> str:
    """The same without blanks at its ends or in a row, and never empty: the schema's names."""
    return " ".join(_text(text).split()) or otherwise


def _lines(lines: Iterable[str]) -> str:
    return "\n".join(_text(line) for line in lines)
