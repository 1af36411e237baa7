"""A list of parts whose type codes alone tell what they are: `WXC-4148-PWR-1-AC-R` is the supply in slot 1.

Read only where several codes of one table have one beginning, as the parts of one chassis do. Common practice, no source.
"""

import re
from itertools import takewhile

from consolecheck.reading.inference.grids import ReadGrid, Taken, text_at
from consolecheck.reading.inference.values import is_blank
from consolecheck.reading.inference.words import FAN, PSU, label_of
from consolecheck.reading.table import Grid
from consolecheck.records.readings import Inventory

_CODE = re.compile(
    r"[A-Z\d]+(?:-[A-Z\d]+){0,3}?-(?P<what>PWR|PSU|PEM|FAN|FANTRAY|FT)-?(?P<slot>\d{1,2})(?:-[A-Z\d]+){0,4}\Z"
)
_KINDS = {"PWR": PSU, "PSU": PSU, "PEM": PSU, "FAN": FAN, "FANTRAY": FAN, "FT": FAN}
_IDENTITY = {"part": "part_number", "serial": "serial"}


def read_stock(grid: Grid) -> ReadGrid | None:
    """The parts of such a table; None where it is none."""
    labels = [label_of(h) for h in grid.headers]
    told: dict[int, str] = {}
    for c, label in enumerate(labels):
        if (field := _IDENTITY.get(label.field)) is not None and field not in told.values():
            told[c] = field  # the first: `Piece Part ID` behind `Part Number` is not the part's
    if not told:
        return None
    at = max(range(len(labels)), key=lambda c: sum(_CODE.match(text_at(r, c)) is not None for r in grid.rows))
    codes = [text_at(r, at) for r in grid.rows]
    found = [_CODE.match(code) for code in codes]
    begun = sum(1 for _ in takewhile(lambda chars: len(set(chars)) == 1, zip(*filter(None, codes), strict=False)))
    if at in told or sum(m is not None for m in found) < 2 or begun < 3:
        return None
    units = next((c for c, lab in enumerate(labels) if lab.field in ("slot", "thing") and c < at), None)
    members = {text_at(r, units).strip("* ") for r in grid.rows} if units is not None else set()
    rows = []
    for row, code, part in zip(grid.rows, codes, found, strict=True):
        facts = {field: text_at(row, c) for c, field in told.items() if not is_blank(text_at(row, c))}
        if row.odd or not code or not facts or " " in "".join(facts.values()):
            rows.append(Taken(row, (), row.odd or "which part it is does not stand there"))
            continue
        of = f"{text_at(row, units).strip('* ')}/" if units is not None and len(members) > 1 else ""
        unit = f"{_KINDS[part['what']]}-{of}{part['slot']}" if part is not None else None
        rows.append(Taken(row, (Inventory(unit=unit, name=None if unit else f"{of}{code}", **facts),), ""))
    columns = tuple(
        (h, "name" if c == at else labels[c].field if c in told else "slot" if c == units else "set aside")
        for c, h in enumerate(grid.headers)
    )
    return ReadGrid("inventory", columns, tuple(rows), "fair")
