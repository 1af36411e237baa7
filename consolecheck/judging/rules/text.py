"""Was the text fully and rightly read? These rules carry the promise."""

from collections.abc import Iterable, Iterator

from consolecheck.judging.rules.rule import MET, UNDETERMINED, Rule, counted, listed
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import AnyReading, Condition, Limited, Sighting, TableSeen

_SHOWN = 60
_MOST_TOLD = 20


def _ends(case: Case) -> tuple[Evidence, ...]:
    return case.after.whole, case.before.whole


def unread(case: Case) -> Iterator[Draft]:
    """Every line of both texts was understood, or is known not to matter."""
    for view in (case.before, case.after):
        for line in view.snapshot.unread[:_MOST_TOLD]:
            text = line.text if len(line.text) <= _SHOWN else line.text[: _SHOWN - 1] + "…"
            yield Draft(
                f"{view.snapshot.source}:{line.number}",
                UNDETERMINED,
                f"line {line.number} was not read (`{text.strip()}`): {line.reason}",
                (Evidence(view.side, line.number),),
                hint="capture again; if the line comes back, the dialect needs to learn it",
            )
        if (more := len(view.snapshot.unread) - _MOST_TOLD) > 0:
            yield Draft(
                f"{view.snapshot.source}: the rest",
                UNDETERMINED,
                f"{more} more lines were not read",
                (Evidence(view.side, view.snapshot.unread[_MOST_TOLD].number),),
            )
    if not case.before.snapshot.unread and not case.after.snapshot.unread:
        rows = len(case.before.snapshot.sightings), len(case.after.snapshot.sightings)
        yield Draft("text", MET, f"nothing unread: {rows[0]} readings before, {rows[1]} after", _ends(case))


def complete(case: Case) -> Iterator[Draft]:
    """No table was cut, and no table of the baseline is missing afterwards."""
    faults = 0
    for view in (case.before, case.after):
        for table in view.snapshot.tables:
            if table.cut:
                faults += 1
                yield Draft(
                    f"{view.snapshot.source} {table.table}",
                    UNDETERMINED,
                    f"the {table.table} table is not whole: {table.cut}",
                    (Evidence(view.side, table.last_line),),
                    hint=_mend(table.cut),
                )
    shown_before = {t.table: t for t in case.before.snapshot.tables}
    shown_after = {t.table for t in case.after.snapshot.tables}
    for name, table in shown_before.items():
        if name not in shown_after:
            faults += 1
            yield Draft(
                name,
                UNDETERMINED,
                f"the {name} table of the baseline was not captured afterwards",
                (Evidence("before", table.first_line),),
                hint=case.before.capture(table.kinds[0]),
            )
    # What is gone for good other rules speak of; here are the rows that none of them would miss: a fact of
    # the device, a port that was down, an empty slot, and a thing that another table still shows.
    now = case.after.by_row
    for row, sighting in case.before.by_row.items():
        reading = sighting.reading
        if row in now or sighting.table not in shown_after or reading.kind == "alarm":
            continue
        elsewhere = row[1:] in case.after.keyed
        unmissed = reading.kind == "device" or reading.condition is Condition.ABSENT
        if elsewhere or unmissed or (reading.kind == "link" and reading.condition is not Condition.OK):
            faults += 1
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"the {sighting.table} table does not show {reading.subject} any more"
                + (", although another table does" if elsewhere else ""),
                (case.before.at(sighting),),
                hint="capture again",
                unit=reading.unit,
            )
    if not faults:
        yield Draft("text", MET, f"{counted(len(shown_after), 'table')} whole, the same as before", _ends(case))


def _mend(cut: str) -> str:
    if "middle of a line" in cut:
        return "if nothing is missing, end the file with a line end; else capture again"
    return "capture again, to the prompt"


_FACTS = ("serial", "part_number", "airflow", "airflow_word", "feed", "input_type", "description")


def same_fields(case: Case) -> Iterator[Draft]:
    """What was printed of a thing before the swap is printed of it afterwards, in the same table.

    A value that is gone may be a column or a line that was lost. Things that are not well any more are
    left to the rules that say so.
    """
    faults = 0
    now = case.after.by_row
    for row, earlier in case.before.by_row.items():
        was = earlier.reading
        later = now.get(row)
        if later is None or (reading := later.reading) is was:
            continue
        if (
            was.condition is Condition.OK
            and reading.condition is Condition.UNKNOWN
            and reading.status_text == was.status_text
            and reading.kind in ("inventory", "device")  # of the others their own rules say so
        ):
            faults += 1
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"{reading.subject} was well before and does not tell its whole state any more",
                (case.after.at(later), case.before.at(earlier)),
                hint="capture again",
                unit=reading.unit,
            )
            continue
        if was.model_fields_set <= reading.model_fields_set or reading.condition not in (None, Condition.OK):
            continue
        if reading.unit and case.after.condition(reading.unit) not in (None, Condition.OK):
            continue
        names = [n for n in (*was.QUANTITIES, *_FACTS) if was.given(n) is not None and reading.given(n) is None]
        if names:
            faults += 1
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"{reading.subject} does not show its {listed(n.replace('_', ' ') for n in names)} any more",
                (case.after.at(later), case.before.at(earlier)),
                hint="capture again",
                unit=reading.unit,
            )
    if not faults:
        yield Draft("text", MET, "every thing shows the same fields as before", _ends(case))


_LIMITS = ("low_critical", "low_warning", "high_warning", "high_critical", "capacity")


_LIMIT_NAMES = {n: "rated power" if n == "capacity" else f"{n.replace('_', ' ')} limit" for n in _LIMITS}


def limits_steady(case: Case) -> Iterator[Draft]:
    """The limits printed beside a value are the ones of the baseline, and so is a supply's rated power.

    They belong to the device, not to the day. Of a thing that is ill alike in both captures none is missing in one, by
    which alone a fault can be told to be the one that stood before.

    Another part in the slot may bring limits of its own, so a unit whose part number changed is left out.
    """
    faults = 0
    old, new = case.before.fact(case.unit, "part_number"), case.after.fact(case.unit, "part_number")
    other_part = old is not None and new is not None and old[0] != new[0]
    now = case.after.by_row
    for row, earlier in case.before.by_row.items():
        was, later = earlier.reading, now.get(row)
        if later is None or later.reading is was or not isinstance(was, Limited):
            continue
        reading = later.reading
        absent = reading.condition is Condition.ABSENT
        if (other_part and reading.unit == case.unit) or (absent and was.condition is not Condition.ABSENT):
            continue
        for name in _LIMITS:
            before, after = was.given(name), reading.given(name)
            if before != after and ((before is not None and after is not None) or _stands_ill(was, reading)):
                faults += 1
                yield Draft(
                    reading.subject,
                    UNDETERMINED,
                    f"the {_LIMIT_NAMES[name]} of {reading.subject} was {before or 'not printed'} and is "
                    f"{after or 'not printed'}",
                    (case.after.at(later, name), case.before.at(earlier, name)),
                    after,
                    before,
                    "the baseline",
                    hint="capture again; if it stays so, find out who changed the limit",
                    unit=reading.unit,
                )
    if not faults:
        yield Draft("text", MET, "all limits are those of the baseline", _ends(case))


def _stands_ill(was: AnyReading, now: AnyReading) -> bool:
    """Whether a thing is in one and the same ill state in both captures."""
    return was.condition is now.condition and now.condition in (Condition.WARNING, Condition.FAILED)


def agreement(case: Case) -> Iterator[Draft]:
    """Where one text prints a thing twice, both agree: in condition, in serial, and in value.

    Two moments lie between two tables, so values may differ by a twentieth or one unit (0.15 V of volts); more means
    that one of them was not rightly read. Within one table a thing stands once, or twice to the letter. A unit has
    one serial, one part number and one kind of input in all tables, where it has in the other text.
    """
    faults = 0
    for view in (case.before, case.after):
        for sightings in view.repeated.values():
            first = sightings[0]
            if first.reading.kind == "alarm":
                continue
            for other in sightings[1:]:
                if told := _contradiction(first, other) or _twice_in_one_table(view, first, other):
                    faults += 1
                    yield Draft(
                        first.reading.subject,
                        UNDETERMINED,
                        f"{first.reading.subject} is told twice in one text, and not alike: {told}",
                        (view.at(first), view.at(other)),
                        hint="capture again",
                        unit=first.reading.unit,
                    )
        opposite = case.after if view is case.before else case.before
        for unit, fact, told_by in _two_of_one(view, opposite):
            faults += 1
            yield Draft(
                unit,
                UNDETERMINED,
                f"{view.snapshot.source} gives {unit} more than one {fact.replace('_', ' ')}: {listed(told_by)}",
                tuple(view.at(s, fact) for s in told_by.values()),
                hint="capture again",
                unit=unit,
            )
        for table, message in _unlike_repeats(view):
            faults += 1
            yield Draft(
                f"{view.snapshot.source} {table.table}",
                UNDETERMINED,
                message,
                (Evidence(view.side, table.first_line),),
                hint="capture again",
            )
    if not faults:
        repeated = sum(len(v.repeated) for v in (case.before, case.after))
        yield Draft(
            "text", MET, f"no contradiction{f' among {repeated} things told twice' if repeated else ''}", _ends(case)
        )


def _unlike_repeats(view: View) -> Iterator[tuple[TableSeen, str]]:
    """Tables that one text shows twice with other rows: one of the two lost some."""
    shown: dict[str, list[TableSeen]] = {}
    for table in view.snapshot.tables:
        shown.setdefault(table.table, []).append(table)
    for name, tables in shown.items():
        if len(tables) < 2 or "alarm" in tables[0].kinds:
            continue
        rows = [
            {
                (s.reading.kind, s.reading.unit, s.reading.name)
                for s in view.snapshot.sightings
                if s.table == name and table.first_line <= s.lines[0] <= table.last_line
            }
            for table in tables
        ]
        for table, found in zip(tables[1:], rows[1:], strict=True):
            if found != rows[0]:
                yield table, f"the {name} table stands there twice, with {len(rows[0])} and {len(found)} different rows"


def _two_of_one(view: View, other: View) -> Iterator[tuple[str, str, dict[str, Sighting]]]:
    """Units to which the rows of a text give two serials, say, although the other text gives one."""
    for unit, sightings in view.by_unit.items():
        if len(sightings) < 2:
            continue
        for fact in ("serial", "part_number", "input_type"):
            found = _told_by(sightings, fact)
            if len(found) > 1 and len(_told_by(other.by_unit.get(unit, ()), fact)) == 1:
                yield unit, fact, found


def _told_by(sightings: Iterable[Sighting], fact: str) -> dict[str, Sighting]:
    return {value: s for s in sightings if s.reading.kind != "alarm" and (value := s.reading.given(fact))}


def _twice_in_one_table(view: View, one: Sighting, two: Sighting) -> str:
    """What differs between two rows of the same thing that stand in one table, printed at one moment."""
    if one.table != two.table or one.reading is two.reading or one.reading.quantities() == two.reading.quantities():
        return ""
    if any(
        t.table == one.table and t.first_line <= one.lines[0] and two.lines[0] <= t.last_line
        for t in view.snapshot.tables
    ):
        return f"two rows of the {one.table} table give it other figures"
    return ""


def _contradiction(one: Sighting, two: Sighting) -> str:
    a, b = one.reading, two.reading
    if a is b:  # the same row, read once and remembered
        return ""
    if a.condition is not None and b.condition is not None and a.condition is not b.condition:
        return f"{a.condition} and {b.condition}"
    for fact in ("serial", "part_number", "airflow", "feed", "input_type"):
        x, y = a.given(fact), b.given(fact)
        if x and y and x != y:
            return f"{fact.replace('_', ' ')} {x} and {y}"
    if isinstance(a, Limited):
        others = b.quantities()
        for name, quantity in a.quantities().items():
            other = others.get(name)
            if other is None:
                continue
            apart = abs(quantity.value - other.value)
            step = 0.15 if quantity.unit == "V" else 1.0
            if quantity.unit != other.unit or apart > max(step, 0.05 * abs(quantity.value)):
                return f"{name.replace('_', ' ')} {quantity} and {other}"
    return ""


def one_dialect(case: Case) -> Iterator[Draft]:
    """Both texts come from one device family, or have the layout of one reading map that a person confirmed."""
    before, after = case.before.snapshot.dialect, case.after.snapshot.dialect
    if before is None and after is None:
        yield _one_map(case)
        return
    same = before == after and before is not None
    if same and case.after.snapshot.basis == "inferred":
        yield _one_map(case)
        return
    yield Draft(
        "text",
        MET if same else UNDETERMINED,
        f"both texts are {after}" if same else f"the texts are {before} before and {after} after",
        _ends(case),
        measured=after,
        limit=before,
        hint=None if same else "find the two captures of one device, or name the family with --dialect",
    )


def _one_map(case: Case) -> Draft:
    first, second = case.before.snapshot.confirmed, case.after.snapshot.confirmed
    if first is None or second is None:
        dialect = case.after.snapshot.dialect
        by = (
            f"dialect {dialect} is a draft; what was read with it"
            if dialect
            else "no dialect knows these texts; what was read of them"
        )
        return Draft(
            "text",
            UNDETERMINED,
            f"{by} is inferred, and nobody has confirmed how",
            _ends(case),
            hint="write the reading map with read --map, look it over, and give it with --confirm-map",
        )
    same = first.digest == second.digest
    words = listed(f"`{word}` means {condition}" for word, condition in second.stated)
    return Draft(
        "text",
        MET if same else UNDETERMINED,
        f"both texts have the layout of the reading map that {second.by} confirmed"
        + (f", who states that {words}" if words else "")
        if same
        else "the texts were confirmed by two reading maps",
        _ends(case),
    )


RULES = (
    Rule("text.dialect", "One device family", (), change=one_dialect),
    Rule("text.unread", "Every line understood", (), change=unread),
    Rule("text.complete", "Every table whole", (), change=complete),
    Rule("text.same-fields", "The same fields as before", (), change=same_fields),
    Rule("text.limits-steady", "The same limits as before", (), change=limits_steady),
    Rule("text.agreement", "No contradiction within a text", (), change=agreement),
)
