"""Readings and samples as CSV for a spreadsheet (RFC 4180: comma, double quotes, CR LF, a header).

Text of a device is shown as in a report, every control and invisible character by its number. A text cell that a
spreadsheet could take for a formula (it begins with `=`, `+`, `-` or `@`, also in their wide forms) gets an
apostrophe in front. Numbers are never changed: they are numbers of ours, with a point, in the unit named beside.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from consolecheck.judging.view import Sample
from consolecheck.records.readings import Snapshot, Temperature
from consolecheck.reporting.safe import safe

READINGS = ("side", "kind", "unit", "name", "condition", "word", "quantity", "value", "measured_in", "line")
SAMPLES = ("seconds", "sensor", "value")
_FORMULA = tuple("=+-@\t\r＝＋－＠")
Cell = str | float | None


def readings_csv(before: Snapshot | None, after: Snapshot) -> bytes:
    """A row for each reading and quantity of both texts; one with no quantity where a reading has none.

    `word` is the device's own for the condition, `line` the first line of the text that the reading stands on.
    """
    return _csv(READINGS, (*(_rows("before", before) if before else ()), *_rows("after", after)))


def samples_csv(samples: Sequence[Sample]) -> bytes:
    """A row for each temperature of each sample: seconds of the samples' clock, sensor, degrees Celsius."""
    return _csv(
        SAMPLES,
        (
            (sample.seconds, reading.subject, reading.value.value)
            for sample in samples
            for reading in sample.snapshot.readings
            if isinstance(reading, Temperature) and reading.value is not None
        ),
    )


def _rows(side: str, snapshot: Snapshot) -> Iterator[Sequence[Cell]]:
    for sighting in snapshot.sightings:
        reading = sighting.reading
        told = (side, reading.kind, reading.unit, reading.name, reading.condition, reading.status_text)
        quantities = reading.quantities()
        for name, quantity in quantities.items():
            yield (*told, name, quantity.value, quantity.unit, float(sighting.lines[0]))
        if not quantities:
            yield (*told, None, None, None, float(sighting.lines[0]))


def _csv(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8")


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return repr(cell).removesuffix(".0")
    return ("'" if cell.startswith(_FORMULA) else "") + safe(cell)
