"""What a person reads in a terminal: the verdict first, then what stands against it, then the rest.

Readable at 80 columns, without colour and in a pipe. Every text of a device goes through `safe` and
is never markup.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from rich.console import Console
from rich.text import Text

from consolecheck.records.findings import Evidence, Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Reading, Sighting, Snapshot
from consolecheck.reporting.safe import safe, shortened

_STYLES = {
    Verdict.VERIFIED: "bold green",
    Verdict.NOT_VERIFIED: "bold red",
    Verdict.INCONCLUSIVE: "bold yellow",
}
_HEADINGS = {
    "power_supply": "Power supplies",
    "fan": "Fans",
    "temperature": "Temperatures",
    "inventory": "Parts",
    "link": "Links",
    "alarm": "Alarms",
    "device": "Device",
}
_MOST_SHOWN = 8
_SHORT = {
    "input_voltage": "in",
    "input_current": "in",
    "input_power": "in",
    "output_voltage": "out",
    "output_current": "out",
    "output_power": "out",
    "capacity": "rated",
    "speed": "",
    "speed_percent": "duty",
    "value": "",
    "low_critical": "low crit",
    "low_warning": "low warn",
    "high_warning": "warn",
    "high_critical": "crit",
}


def show_judgement(
    console: Console,
    judgement: Judgement,
    before: Snapshot,
    after: Snapshot,
    texts: Mapping[str, Sequence[str]],
    acceptance: str,
    everything: bool = False,
) -> None:
    """The verdict on a swap with its reasons; `texts` are the raw lines of both captures, for excerpts."""
    findings = judgement.findings
    against = [f for f in findings if f.required and f.outcome is Outcome.UNMET]
    open_ = [f for f in findings if f.required and f.outcome is Outcome.UNDETERMINED]
    standing = [f for f in findings if f.standing]
    advisory = [f for f in findings if not f.required and not f.standing and f.outcome is not Outcome.MET]
    met = [f for f in findings if f.outcome is Outcome.MET]
    names = {"before": safe(before.source), "after": safe(after.source)}

    head = Text(judgement.verdict.value.replace("-", " ").upper(), style=_STYLES[judgement.verdict])
    head.append(f": {safe(judgement.unit)}", style="bold")
    head.append(f" {_summary(judgement.verdict, against, open_)}", style="not bold")
    _print(console, head)
    _print(
        console,
        Text(
            f"{names['before']} -> {names['after']}, dialect {after.dialect}, limits: {safe(acceptance)}", style="dim"
        ),
    )

    if against:
        _heading(console, "Against it")
        _told(console, against, names, texts, everything)
    if open_:
        _heading(console, "Left open")
        plain = [f for f in open_ if f.doubt is None]
        doubted = [f for f in open_ if f.doubt is not None]
        _told(console, plain, names, texts, everything)
        if doubted and everything:
            _told(console, doubted, names, texts, everything)
        elif doubted:
            rules = len({f.rule for f in doubted})
            _print(console, Text(f"  {rules} more rules would be met, but rest on text that was not wholly read"))
    if standing:
        _heading(console, "Stood before the swap already, not held against it")
        for finding in standing:
            _line(console, finding, names)
    if judgement.verdict is Verdict.VERIFIED or everything:
        _heading(console, "What decided" if not everything else "Met")
        shown = met if everything else [f for f in met if f.required and _decides(f, judgement.unit)]
        for finding in shown:
            _line(console, finding, names)
    if advisory:
        _heading(console, "Beside the verdict")
        for finding in advisory:
            _line(console, finding, names)
    if not everything:
        rest = len(met)
        _print(console, Text(f"\n{rest} findings are met in all; --all shows every one", style="dim"))


def _summary(verdict: Verdict, against: list[Finding], open_: list[Finding]) -> str:
    if verdict is Verdict.VERIFIED:
        return "was replaced and the chassis is as well as before"
    if verdict is Verdict.NOT_VERIFIED:
        return f"- {against[0].message}" if len(against) == 1 else f"- {len(against)} findings against it"
    return (
        "- not enough was read to decide"
        if not open_
        else f"- {len({f.rule for f in open_})} rules could not be decided"
    )


_DECIDING = (
    "identity.replaced",
    "identity.part",
    "identity.others",
    "power.status",
    "power.carries-load",
    "power.redundancy",
    "cooling.status",
    "cooling.airflow",
    "cooling.spare",
    "service.uptime",
    "text.unread",
)


def _decides(finding: Finding, unit: str) -> bool:
    if finding.rule not in _DECIDING:
        return False
    return finding.subject == unit or not finding.rule.endswith(".status")


def _heading(console: Console, text: str) -> None:
    _print(console, Text(f"\n{text}", style="bold"))


def _told(
    console: Console,
    findings: list[Finding],
    names: Mapping[str, str],
    texts: Mapping[str, Sequence[str]],
    everything: bool,
) -> None:
    shown = findings if everything else findings[:_MOST_SHOWN]
    for finding in shown:
        text = Text(f"  {safe(finding.message)}")
        text.append(f"  [{finding.rule}]", style="dim")
        _print(console, text)
        if finding.evidence:
            _excerpt(console, finding.evidence[0], names, texts)
        if finding.hint:
            _print(console, Text(f"    do: {safe(finding.hint)}", style="italic"))
    if len(shown) < len(findings):
        _print(console, Text(f"  and {len(findings) - len(shown)} more; --all shows every one"))


def _excerpt(
    console: Console, evidence: Evidence, names: Mapping[str, str], texts: Mapping[str, Sequence[str]]
) -> None:
    place = f"    {names[evidence.capture]}:{evidence.line} | "
    lines = texts[evidence.capture]
    if not 0 < evidence.line <= len(lines):
        return
    raw = lines[evidence.line - 1].rstrip("\r\n")
    room = max(console.width - len(place), 20)
    start, end = evidence.start, evidence.end
    marked = start is not None and end is not None and "\r" not in raw and "\x1b" not in raw and "\b" not in raw
    offset = 0
    if marked and end is not None and end > room:  # the marked columns must be in view
        offset = max(0, end - room + 2)
    _print(console, Text(place + shortened(raw[offset:], room), style="dim"))
    if marked and start is not None and end is not None and start - offset < room:
        width = max(1, min(end - offset, room) - (start - offset))
        _print(console, Text(" " * (len(place) + start - offset) + "^" * width, style="dim"))


def _line(console: Console, finding: Finding, names: Mapping[str, str]) -> None:
    text = Text(f"  {safe(finding.message)}")
    if finding.evidence:
        first = finding.evidence[0]
        text.append(f"  ({names[first.capture]}:{first.line})", style="dim")
    _print(console, text)


def _print(console: Console, text: Text) -> None:
    console.print(text, soft_wrap=not console.is_terminal, highlight=False)


def show_snapshot(console: Console, snapshot: Snapshot) -> None:
    """What was read of one text, kind by kind, and what was not."""
    unread = len(snapshot.unread)
    head = Text(f"{safe(snapshot.source)}: {len(snapshot.sightings)} readings, ", style="bold")
    head.append(
        "nothing unread" if not unread else f"{unread} lines NOT READ", style="bold" if not unread else "bold red"
    )
    head.append(f", dialect {snapshot.dialect}", style="bold")
    _print(console, head)
    order = list(_HEADINGS)
    by_kind = sorted(snapshot.sightings, key=lambda s: order.index(s.reading.kind))
    for kind, sightings in groupby(by_kind, key=lambda s: s.reading.kind):
        _heading(console, _HEADINGS[kind])
        rows = [_row(s) for s in sightings]
        widths = [max(len(row[i]) for row in rows) for i in (0, 1)]
        for subject, condition, rest, lines in rows:
            _print(
                console, Text(f"  {subject:<{widths[0]}}  {condition:<{widths[1]}}  {rest}".rstrip() + f"  ({lines})")
            )
    if snapshot.unread:
        _heading(console, "Not read")
        _odd_lines(console, snapshot, ((u.number, u.text, u.reason) for u in snapshot.unread))
    cut = [t for t in snapshot.tables if t.cut]
    if cut:
        _heading(console, "Not whole")
        for table in cut:
            _print(console, Text(f"  {table.table}: {safe(table.cut)}"))
    if snapshot.passed_over:
        _heading(console, "Passed over")
        _odd_lines(console, snapshot, ((u.number, u.text, u.reason) for u in snapshot.passed_over))


def _odd_lines(console: Console, snapshot: Snapshot, lines: Iterable[tuple[int, str, str]]) -> None:
    for number, text, reason in list(lines)[:40]:
        _print(console, Text(f"  {safe(snapshot.source)}:{number} | {shortened(text, 60)}"))
        _print(console, Text(f"    {safe(reason)}", style="dim"))


def _row(sighting: Sighting) -> tuple[str, str, str, str]:
    reading: Reading = sighting.reading
    word = f" `{shortened(reading.status_text, 24)}`" if reading.status_text else ""
    condition = (reading.condition.value if reading.condition else "") + word
    parts = [f"{_SHORT[n]} {q}".strip() for n, q in reading.quantities().items()]
    for fact in ("serial", "part_number", "airflow", "feed", "description"):
        value = getattr(reading, fact, None)
        if value:
            parts.append(f"{fact.replace('_number', '')} {shortened(value, 40)}" if fact != "airflow" else value)
    lines = sighting.lines
    where = f"line {lines[0]}" if lines[0] == lines[-1] else f"lines {lines[0]}-{lines[-1]}"
    return safe(reading.subject), condition.strip(), ", ".join(parts), where
