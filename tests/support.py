"""Builders for the tests: readings with a place in a text, snapshots, cases, and a rule's findings."""

import csv
from dataclasses import dataclass
from pathlib import Path

from consolecheck.files.shelf import dialects
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.judging.view import Case, Observed, View
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.template import Template
from consolecheck.records.findings import Finding, Outcome
from consolecheck.records.readings import AnyReading, Sighting, Snapshot, TableSeen
from consolecheck.records.text import Line
from consolecheck.records.units import Quantity, parse_quantity

DATA = Path(__file__).parent / "data"

# Rows are made by reading a text and not by calling their class: its constructor is the template's own affair.
_ONE_WORD = Template("Value NAME (\\w+)\n\nStart\n  ^${NAME}$$ -> Record\n  ^. -> Error\n")


def sighted(reading: AnyReading, table: str = "t", ended: bool = True, line: int = 1) -> Sighting:
    """A reading as if it had stood on a line of its own."""
    return Sighting(reading, _ONE_WORD.rows([Line(line, "x")])[0][0], table, ended)


def snapshot(*readings: AnyReading | Sighting) -> Snapshot:
    """A wholly read text with one table a kind, or with the tables that the sightings name."""
    sightings = tuple(
        r if isinstance(r, Sighting) else sighted(r, r.kind, line=number) for number, r in enumerate(readings, 1)
    )
    tables = []
    for name in dict.fromkeys(s.table for s in sightings):
        inside = [s for s in sightings if s.table == name]
        lines = [n for s in inside for n in s.lines]
        kinds = tuple(dict.fromkeys(s.reading.kind for s in inside))
        ended = all(s.ended for s in inside)
        tables.append(TableSeen(name, kinds, min(lines), max(lines), ended, "", len(inside), counted=ended))
    return Snapshot(
        source="made.txt",
        dialect="made",
        basis="template",
        sightings=sightings,
        tables=tuple(tables),
        unread=(),
        passed_over=(),
        last_line=len(sightings),
    )


def case(
    before: Snapshot,
    after: Snapshot,
    unit: str,
    acceptance: Acceptance | None = None,
    observed: tuple[Observed, ...] = (),
) -> Case:
    """Two snapshots and the unit in question."""
    return Case(View(before, "before"), View(after, "after"), unit, acceptance or Acceptance(), observed)


def still(*readings: AnyReading | Sighting, unit: str = "psu-1", acceptance: Acceptance | None = None) -> Case:
    """A case in which nothing changed, for rules that look at one text."""
    seen = snapshot(*readings)
    return case(seen, seen, unit, acceptance)


def findings(rule_id: str, judged: Case) -> list[Finding]:
    """What the judge found by one rule."""
    judgement = judge(
        judged.before.snapshot, judged.after.snapshot, judged.unit, judged.acceptance, judged.observed, judged.reseat
    )
    return [f for f in judgement.findings if f.rule == rule_id]


def outcomes(rule_id: str, judged: Case) -> dict[str, Outcome]:
    """Subject -> outcome by one rule."""
    return {f.subject: f.outcome for f in findings(rule_id, judged)}


def outcome(rule_id: str, judged: Case) -> Outcome:
    """The outcome of a rule that has exactly one finding."""
    (only,) = findings(rule_id, judged)
    return only.outcome


def q(text: str) -> Quantity:
    """`12.05 V` as a quantity."""
    return parse_quantity(text)


def dialect(name: str) -> Dialect:
    """A shipped dialect."""
    return next(d for d in dialects() if d.name == name)


def table_rows(name: str) -> list[dict[str, str]]:
    """A data file's rows; lines that start with `#` say where it comes from."""
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@dataclass(frozen=True)
class Limits:
    """The four limits of a reading, in the order in which they must stand."""

    low_critical: float
    low_warning: float
    high_warning: float
    high_critical: float

    def of(self, unit: str) -> dict[str, Quantity]:
        """As fields of a reading."""
        return {name: parse_quantity(str(value), unit) for name, value in vars(self).items()}
