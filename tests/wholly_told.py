"""Everything that a rule says, as text: what the tests of boundaries hold against what it ought to say."""

from collections.abc import Iterable
from textwrap import dedent

from consolecheck.judging.view import Draft
from consolecheck.reading.template import Template
from consolecheck.records.findings import Evidence, Finding
from consolecheck.records.readings import AnyReading, Condition, Sighting
from consolecheck.records.text import Line
from consolecheck.records.units import Quantity

OK, WARNING, FAILED, ABSENT, NO_INPUT, STANDBY, UNTOLD = (
    Condition.OK, Condition.WARNING, Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT, Condition.STANDBY,
    Condition.UNKNOWN,
)  # fmt: skip


def wholly(found: Iterable[Draft | Finding]) -> str:
    """One block a finding: outcome and sentence, figures to the last digit, what to do, where it stood."""
    return "\n".join(_block(f) for f in found)


def same_text(found: Iterable[Draft | Finding] | str, expected: str) -> None:
    """Fails where a rule says anything else, more or less."""
    said = found if isinstance(found, str) else wholly(found)
    assert said == dedent(expected).strip("\n"), said


def _block(found: Draft | Finding) -> str:
    figures = [
        f"{what} {_shown(value)}"
        for what, value in (
            ("measured", found.measured),
            ("limit", found.limit),
            ("source", found.source if isinstance(found, Draft) else found.limit_source),
            ("margin", found.margin),
        )
        if value is not None
    ]
    if isinstance(found, Draft):
        notes = [
            *([f"of {found.unit}"] if found.unit else []),
            *(["advisory"] if found.advisory else []),
            *([f"by absence of {found.by_absence}"] if found.by_absence else []),
            *(["at the low end"] if found.at_low_end else []),
        ]
    else:
        notes = [*([] if found.required else ["advisory"]), *(["stood before"] if found.standing else [])]
    lines = [
        f"{found.outcome} {found.subject}: {found.message}",
        *(["  " + "; ".join(figures)] if figures else []),
        *([f"  do: {found.hint}"] if found.hint else []),
        "  " + "; ".join([f"at {' '.join(map(_place, found.evidence)) or 'no line'}", *notes]),
    ]
    return "\n".join(lines)


def _shown(value: Quantity | str) -> str:
    return f"{value.value:.12g} {value.unit}" if isinstance(value, Quantity) else value


def _place(at: Evidence) -> str:
    return f"{at.capture}:{at.line}" + ("" if at.start is None else f"[{at.start}-{at.end}]")


def printed(reading: AnyReading, line: int, **cells: str) -> Sighting:
    """A reading on a line that holds such cells, with a blank between them; so their columns are known."""
    values = "".join(f"Value {name.upper()} (\\S+)\n" for name in cells)
    rule = " ".join(f"${{{name.upper()}}}" for name in cells)
    template = Template(f"{values}\nStart\n  ^{rule}$$ -> Record\n  ^. -> Error\n")
    row = template.rows([Line(line, " ".join(cells.values()))])[0][0]
    return Sighting(reading, row, reading.kind, True)
