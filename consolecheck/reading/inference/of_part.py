"""A table of sensors below a heading that names the supply they stand in.

    Resource ID: 1  Name: PSU Bay 1
    ID  Sensor (Units)          Reading  Low Limit  High Limit  Status
    1   Device Present          Yes      -          -           Ok
    2   PSU Power Good          Yes      -          -           Ok
    3   Fan: Fan 1 (Rpm)        4140     2500       -           Ok

What is answered by yes or no are states of the supply and make one reading of it; what is measured is of a sensor
within it. That it is there, and that nothing in it is too hot, is no word on the whole: only an output that is good is.
"""

from collections.abc import Sequence

from consolecheck.reading.inference.grids import ReadGrid, Taken, sensor_reading, text_at, unit_apart
from consolecheck.reading.inference.record import Entry
from consolecheck.reading.inference.values import Unplaced, condition_of, is_blank, plain
from consolecheck.reading.inference.words import PSU, Label, label_of, thing_of, words_of
from consolecheck.reading.table import Grid, GridRow
from consolecheck.records.readings import Condition, Fan, PowerSupply, Temperature, worst

_YES, _NO = frozenset(("yes", "true")), frozenset(("no", "false"))
_THERE = frozenset(("present", "presence", "installed", "inserted", "detected"))
_IN_ALL = frozenset(("overall", "health"))
_GIVES = frozenset(("output", "good", "ok", "dc"))
_WRONG = frozenset(
    (
        "fail",
        "failed",
        "failure",
        "fault",
        "faulty",
        "error",
        "overtemp",
        "overtemperature",
        "over",
        "alarm",
        "lost",
        "loss",
        "bad",
    )
)


def read_of_part(grid: Grid, heading: str) -> ReadGrid | None:
    """What such a table tells; None where the heading names no supply with its slot, or no state is answered by yes or no."""
    part = thing_of(heading)
    if part is None or part.kind != PSU or part.slot is None or part.inside is not None:
        return None
    labels = [label_of(h) for h in grid.headers]
    at = {
        field: next((c for c, label in enumerate(labels) if label.field == field), None)
        for field in ("name", "value", "status")
    }
    name_at, value_at, status_at = at["name"], at["value"], at["status"]
    if name_at is None or value_at is None or status_at is None:
        return None
    limits_at = [c for c, label in enumerate(labels) if label.field == "limit"]
    unit = f"psu-{part.slot}"
    states = [row for row in grid.rows if plain(text_at(row, value_at)) in _YES | _NO]
    if not states:
        return None
    states += [row for row in grid.rows if condition_of(text_at(row, value_at)) is not None]
    states.sort(key=lambda row: row.lines)
    rows = [_of_states(states, unit, name_at, value_at, status_at)]
    for row in grid.rows:
        if row in states:
            continue
        if row.odd:
            rows.append(Taken(row, (), row.odd))
            continue
        name, own = unit_apart(text_at(row, name_at))
        status = [Entry(Label("status"), text_at(row, status_at), grid.headers[status_at])]
        limits = [Entry(labels[c], text_at(row, c), grid.headers[c]) for c in limits_at]
        try:
            found = sensor_reading(name, text_at(row, value_at), own, status, limits)
            if not isinstance(found, Fan | Temperature):
                raise Unplaced("of which side it is does not stand there")
            rows.append(Taken(row, (found.model_copy(update={"unit": unit, "name": name}),), ""))
        except Unplaced as reason:
            rows.append(Taken(row, (), str(reason)))
    taken = {name_at: "name", value_at: "value", status_at: "status", **dict.fromkeys(limits_at, "limit")}
    columns = tuple((h, taken.get(c, "set aside")) for c, h in enumerate(grid.headers))
    return ReadGrid("power_supply", columns, tuple(rows), "fair")


def _of_states(rows: Sequence[GridRow], unit: str, name_at: int, value_at: int, status_at: int) -> Taken:
    """The one reading of a supply that its states make; unread where one of them is not understood."""
    whole = GridRow(rows[0].cells, tuple(n for row in rows for n in row.lines), rows[0].heading)
    told: list[Condition] = []
    words: list[str] = []
    for row in rows:
        name, answer, status = (text_at(row, c) for c in (name_at, value_at, status_at))
        if row.odd or is_blank(name) or not status:
            return Taken(whole, (), row.odd or "a state of it is not understood")
        said = frozenset(w.lower() for w in words_of(name))
        if (word := condition_of(answer)) is None:
            found = _state(said, plain(answer) in _YES, condition_of(status))
        else:  # `PSU Overall Status   Ok   Ok`
            found = worst(c for c in (word, condition_of(status)) if c is not None) if said & _IN_ALL else None
        if found is None:
            return Taken(whole, (), f"what `{name}   {answer}   {status}` says is not told")
        told.append(found)
        words.append(f"{name} {answer} {status}")
    bad = [c for c in told if c not in (Condition.OK, Condition.UNKNOWN)]
    if Condition.ABSENT in bad:
        condition = Condition.ABSENT
    elif bad:
        condition = worst(bad)
    else:
        condition = Condition.OK if Condition.OK in told else Condition.UNKNOWN
    worded = next((w for c, w in zip(told, words, strict=True) if c is condition), words[0])
    return Taken(whole, (PowerSupply(unit=unit, condition=condition, status_text=worded),), "")


def _state(name: frozenset[str], yes: bool, status: Condition | None) -> Condition | None:
    """What one state says of the supply; None where its answer and its status do not go together."""
    if name & _THERE:
        return Condition.ABSENT if not yes else _as_bad(status)
    if name & _WRONG:
        if yes and status is Condition.OK:
            return None
        return Condition.FAILED if yes else _as_bad(status)
    if name & _GIVES:
        if not yes:
            return None if status is Condition.OK else Condition.FAILED
        return status
    return _as_bad(status)


def _as_bad(status: Condition | None) -> Condition | None:
    """A status that says no more than that nothing is wrong with one state is no word on the whole."""
    return Condition.UNKNOWN if status is Condition.OK else status
