"""What a person reads in a terminal: the verdict first, then what stands against it, then the rest.

Readable at 80 columns, without colour and in a pipe. Every text of a device goes through `safe` and
is never markup. A report is made as lines of plain pieces with a style each; rich writes them on a
terminal, and elsewhere they are written as they are, one line a sentence, without loading it.
"""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import TextIO

from consolecheck.records.findings import Evidence, Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Reading, Sighting, Snapshot
from consolecheck.records.text import UnreadLine
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
_PIPE_WIDTH = 80
Piece = tuple[str, str]
"""A text that is safe to show, and its style."""


class Screen:
    """Where a report goes: a terminal, or a file or pipe."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.is_terminal = stream.isatty()
        self.width = _PIPE_WIDTH
        if self.is_terminal:
            from rich.console import Console

            self._console = Console(file=stream, markup=False, emoji=False, highlight=False)
            self.width = self._console.width

    def line(self, *pieces: Piece) -> None:
        """Writes one line; a terminal folds it at its width."""
        if not self.is_terminal:
            self._stream.write("".join(text for text, _ in pieces) + "\n")
            return
        from rich.text import Text

        self._console.print(Text.assemble(*[(text, style) for text, style in pieces]))


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
    screen: Screen,
    judgement: Judgement,
    before: Snapshot | None,
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
    names = {"before": safe(before.source if before else "no baseline"), "after": safe(after.source)}

    screen.line(
        (judgement.verdict.value.replace("-", " ").upper(), _STYLES[judgement.verdict]),
        (f": {safe(judgement.unit)}", "bold"),
        (f" {safe(_summary(judgement.verdict, against, open_, before is not None))}", ""),
    )
    screen.line((f"{names['before']} -> {names['after']}, {_dialect(after)}, limits: {safe(acceptance)}", "dim"))

    if against:
        heading(screen, "Against it")
        _told(screen, against, names, texts, everything)
    if open_:
        heading(screen, "Left open")
        plain = [f for f in open_ if f.doubt is None]
        doubted = [f for f in open_ if f.doubt is not None]
        _told(screen, plain, names, texts, everything)
        if doubted and everything:
            _told(screen, doubted, names, texts, everything)
        elif doubted:
            rules = len({f.rule for f in doubted})
            screen.line((f"  {rules} more rules would be met, but rest on text that was not wholly read", ""))
    if standing:
        heading(screen, "Stood before the swap already, not held against it")
        for finding in standing:
            _line(screen, finding, names)
    if judgement.verdict is Verdict.VERIFIED or everything:
        heading(screen, "Met" if everything else "What decided")
        for finding in met:
            if everything or (finding.required and decides(finding, judgement.unit)):
                _line(screen, finding, names)
    if advisory:
        heading(screen, "Beside the verdict")
        for finding in advisory:
            _line(screen, finding, names)
    if judgement.verdict is Verdict.VERIFIED and not any(f.rule == "temperature.settled" for f in findings):
        screen.line()
        screen.line(("Judged at one moment: that the temperatures have settled is not shown by it", ""))
    if not everything:
        screen.line()
        screen.line((f"{len(met)} findings are met in all; --all shows every one", "dim"))


def quiet_line(judgement: Judgement, after: Snapshot) -> str:
    """One line of a fixed form: `verified psu-2 tern-04 0 against 0 open`; the switch is `-` where no prompt names it.

    Words are parted by one blank, and no word has one in it.
    """
    required = [f.outcome for f in judgement.findings if f.required]
    against, open_ = required.count(Outcome.UNMET), required.count(Outcome.UNDETERMINED)
    host = next(iter(after.hosts), "")
    return f"{judgement.verdict.value} {_word(judgement.unit)} {_word(host)} {against} against {open_} open"


def quiet_snapshot(snapshot: Snapshot) -> str:
    """The same for one text: `whole wexcombe tern-04 41 readings 0 unread 0 cut`, or `partial ...`."""
    cut = sum(1 for t in snapshot.tables if t.cut)
    word = "inferred" if snapshot.dialect is None else "whole" if is_whole(snapshot) else "partial"
    host = next(iter(snapshot.hosts), "")
    told = f"{len(snapshot.sightings)} readings {len(snapshot.unread)} unread {cut} cut"
    return f"{word} {_word(snapshot.dialect or '')} {_word(host)} {told}"


def is_whole(snapshot: Snapshot) -> bool:
    """Whether something was read of a text, and nothing of it was not."""
    return (
        bool(snapshot.sightings)
        and not snapshot.unconfirmed
        and not snapshot.unread
        and not any(t.cut for t in snapshot.tables)
    )


def _word(text: str) -> str:
    return "_".join(safe(text).split()) or "-"


def _summary(verdict: Verdict, against: list[Finding], open_: list[Finding], compared: bool) -> str:
    if verdict is Verdict.VERIFIED:
        if not compared:
            return "is the labelled part and the chassis keeps its limits; there was no capture before to compare with"
        return "was replaced and the chassis is as well as before"
    if verdict is Verdict.NOT_VERIFIED:
        return f"- {against[0].message}" if len(against) == 1 else f"- {len(against)} findings against it"
    if not open_:
        return "- not enough was read to decide"
    rules = len({f.rule for f in open_})
    return f"- {rules} rules could not be decided" if rules > 1 else f"- {open_[0].message}"


_DECIDING = frozenset(
    (
        "identity.replaced",
        "identity.part",
        "identity.others",
        "power.status",
        "power.carries-load",
        "power.redundancy",
        "cooling.status",
        "cooling.airflow",
        "cooling.spare",
        "seen.lamp",
        "service.uptime",
        "temperature.settled",
        "text.unread",
    )
)


def decides(finding: Finding, unit: str) -> bool:
    """Whether a finding is one of the few that a verdict of `verified` rests on, to be told with it."""
    return finding.rule in _DECIDING and (finding.subject == unit or not finding.rule.endswith(".status"))


def heading(screen: Screen, text: str) -> None:
    """A heading with a blank line before it."""
    screen.line()
    screen.line((text, "bold"))


def _told(
    screen: Screen,
    findings: list[Finding],
    names: Mapping[str, str],
    texts: Mapping[str, Sequence[str]],
    everything: bool,
) -> None:
    shown = findings if everything else findings[:_MOST_SHOWN]
    for finding in shown:
        told_one(screen, finding, names, texts)
    if len(shown) < len(findings):
        screen.line((f"  and {len(findings) - len(shown)} more; --all shows every one", ""))


def told_one(screen: Screen, finding: Finding, names: Mapping[str, str], texts: Mapping[str, Sequence[str]]) -> None:
    """A finding with its rule, the line it points at, and the next act."""
    screen.line((f"  {safe(finding.message)}", ""), (f"  [{finding.rule}]", "dim"))
    if finding.evidence:
        _excerpt(screen, finding.evidence[0], names, texts)
    if finding.hint:
        screen.line((f"    do: {safe(finding.hint)}", "italic"))


def _excerpt(screen: Screen, evidence: Evidence, names: Mapping[str, str], texts: Mapping[str, Sequence[str]]) -> None:
    """The raw line, and a mark under the columns that decided where they are the same in the cleaned line."""
    lines = texts[evidence.capture]
    if not 0 < evidence.line <= len(lines):
        return
    raw = lines[evidence.line - 1].rstrip("\r\n")
    place = f"    {names[evidence.capture]}:{evidence.line} | "
    room = max(screen.width - len(place), 20)
    start, end = evidence.start, evidence.end
    if start is None or end is None or not raw.isprintable():
        screen.line((place + shortened(raw, room), "dim"))
        return
    offset = max(0, end - room + 2) if end > room else 0  # the marked columns must be in view
    screen.line((place + shortened(raw[offset:], room), "dim"))
    width = max(1, min(end - offset, room) - (start - offset))
    screen.line((" " * (len(place) + start - offset) + "^" * width, "dim"))


def _line(screen: Screen, finding: Finding, names: Mapping[str, str]) -> None:
    where = f"  ({names[finding.evidence[0].capture]}:{finding.evidence[0].line})" if finding.evidence else ""
    screen.line((f"  {safe(finding.message)}", ""), (where, "dim"))


def _dialect(snapshot: Snapshot) -> str:
    own = f" (not a shipped one; SHA-256 {snapshot.dialect_digest})" if snapshot.dialect_digest else ""
    if snapshot.dialect is None:
        return "INFERRED: no dialect knows this text"
    draft = ", a draft: what is read with it counts as inferred and verifies nothing"
    return f"dialect {snapshot.dialect}{own}{draft if snapshot.basis == 'inferred' else ''}"


def show_snapshot(screen: Screen, snapshot: Snapshot) -> None:
    """What was read of one text, kind by kind, and what was not."""
    unread = len(snapshot.unread)
    screen.line(
        (f"{safe(snapshot.source)}: {len(snapshot.sightings)} readings, ", "bold"),
        ("nothing unread", "bold") if not unread else (f"{unread} lines NOT READ", "bold red"),
        (f", {_dialect(snapshot)}", "bold"),
    )
    order = list(_HEADINGS)
    by_kind = sorted(snapshot.sightings, key=lambda s: order.index(s.reading.kind))
    for kind, sightings in groupby(by_kind, key=lambda s: s.reading.kind):
        heading(screen, _HEADINGS[kind])
        rows = [_row(s) for s in sightings]
        widths = [max(len(row[i]) for row in rows) for i in (0, 1)]
        for subject, condition, rest, lines in rows:
            screen.line((f"  {subject:<{widths[0]}}  {condition:<{widths[1]}}  {rest}".rstrip() + f"  ({lines})", ""))
    if snapshot.taken_as:
        heading(screen, "Inferred from")
        for taken in snapshot.taken_as:
            where = f"lines {taken.first_line}-{taken.last_line}"
            screen.line(
                (f"  {where}, {'sure' if taken.sure == 'high' else 'less sure'}: {shortened(taken.layout, 100)}", "")
            )
            told = "; ".join(f"{label} = {field}" for label, field in dict(taken.columns).items())
            screen.line((f"    {shortened(told, 400)}", "dim"))
    _odd_lines(screen, "Not read", snapshot.source, snapshot.unread)
    cut = [t for t in snapshot.tables if t.cut]
    if cut:
        heading(screen, "Not whole")
        for table in cut:
            screen.line((f"  {table.table}: {safe(table.cut)}", ""))
    _odd_lines(screen, "Passed over", snapshot.source, snapshot.passed_over)


_MOST_ODD_LINES = 40


def _odd_lines(screen: Screen, title: str, source: str, lines: Sequence[UnreadLine]) -> None:
    if not lines:
        return
    heading(screen, title)
    for line in lines[:_MOST_ODD_LINES]:
        screen.line((f"  {safe(source)}:{line.number} | {shortened(line.text, 60)}", ""))
        screen.line((f"    {safe(line.reason)}", "dim"))
    if len(lines) > _MOST_ODD_LINES:
        screen.line((f"  and {len(lines) - _MOST_ODD_LINES} more", ""))


def _row(sighting: Sighting) -> tuple[str, str, str, str]:
    reading: Reading = sighting.reading
    word = f" `{shortened(reading.status_text, 24)}`" if reading.status_text else ""
    condition = (reading.condition.value if reading.condition else "") + word
    parts = [f"{_SHORT[n]} {q}".strip() for n, q in reading.quantities().items()]
    for fact in ("serial", "part_number", "airflow", "airflow_word", "feed", "description"):
        value = reading.given(fact)
        if value:
            label = "" if fact.startswith("airflow") else fact.removesuffix("_number") + " "
            parts.append(label + shortened(value, 40))
    lines = sighting.lines
    where = f"line {lines[0]}" if lines[0] == lines[-1] else f"lines {lines[0]}-{lines[-1]}"
    return safe(reading.subject), condition.strip(), ", ".join(parts), where
