"""Could the device have printed this? What no swap does, a lost digit or a spliced text does.

Text that reads well may still be wrong: a digit is gone, a table comes from another time, a line was lost. These rules
hold a text against itself and against the other capture. They say `undetermined` and nothing worse, since it is the
text that they doubt, and nothing at all where there is no doubt. `figures` does the same with what is measured. Limits
that are called common practice have no source; they leave room for what a swap does.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import zip_longest
from typing import NamedTuple

from consolecheck.judging.rules.identity import chassis
from consolecheck.judging.rules.rule import MET, UNDETERMINED, Rule, counted, listed
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import AnyReading, Condition, Limited, PowerSupply, Sighting
from consolecheck.records.units import Quantity

AGAIN = "capture again"
SETTINGS = frozenset(("low_critical", "low_warning", "high_warning", "high_critical", "capacity"))


def ill_before(case: Case, unit: str | None) -> bool:
    """Whether a reading belongs to the part that came out and was not well: it is no measure for the new one."""
    if unit != case.unit:
        return False
    return case.before.condition(unit) not in (None, Condition.OK)


def pairs(case: Case) -> Iterator[tuple[Sighting, Sighting]]:
    """Each row of the baseline with the same row afterwards."""
    now = case.after.by_row
    for row, earlier in case.before.by_row.items():
        later = now.get(row)
        if later is not None:
            yield earlier, later


def doubted_of(
    case: Case, was: Sighting, now: Sighting, field: str, message: str, source: str, hint: str = AGAIN
) -> Draft:
    """A doubt about one field of a row, with what stood there before and where."""
    return Draft(
        now.reading.subject,
        UNDETERMINED,
        message,
        (case.after.at(now, now.field_of(field)), case.before.at(was, was.field_of(field))),
        now.reading.given(field),
        was.reading.given(field),
        source,
        hint=hint,
        unit=now.reading.unit,
    )


# ---- one device


def one_host(case: Case) -> Iterator[Draft]:
    """The prompts name one device, in each text and in both.

    A prompt with another name in it brings the output of another device, whatever serials stand elsewhere. Where the
    baseline ends with a prompt and the text now shows none, it may have been cut. Where only the text now shows one,
    something else must tell that the baseline is of the same chassis: its serial number or address, or other units.
    """
    named = case.before.snapshot.hosts, case.after.snapshot.hosts
    for view, hosts in ((case.before, named[0]), (case.after, named[1])):
        if len(hosts) > 1:
            yield Draft(
                view.snapshot.source,
                UNDETERMINED,
                f"the prompts of {view.snapshot.source} name {listed(hosts)}",
                tuple(Evidence(view.side, line) for line in hosts.values()),
                listed(hosts),
                None,
                "one text, one device",
                hint="capture again, on one device",
            )
    tied = [draft.outcome for draft in chassis(case)]
    judged_otherwise = any(outcome is not MET for outcome in tied)
    if len(named[0]) == 1 and not named[1]:
        yield Draft(
            "chassis",
            UNDETERMINED,
            f"the prompt named {listed(named[0])} before, and no prompt names a device now",
            tuple(Evidence("before", line) for line in named[0].values()),
            None,
            listed(named[0]),
            "the baseline",
            hint="capture again, with the prompt at the end",
        )
    if len(named[1]) == 1 and not named[0] and MET not in tied:
        yield Draft(
            "chassis",
            UNDETERMINED,
            f"the prompt names {listed(named[1])}, and in the baseline no prompt names a device",
            tuple(Evidence("after", line) for line in named[1].values()),
            listed(named[1]),
            None,
            "the other capture",
            hint="find the baseline with its prompts, or take two captures in one manner",
        )
    if len(named[0]) == 1 and len(named[1]) == 1 and set(named[0]) != set(named[1]) and not judged_otherwise:
        yield Draft(
            "chassis",
            UNDETERMINED,
            f"the prompt names {listed(named[1])} and named {listed(named[0])} before",
            (
                *(Evidence("after", line) for line in named[1].values()),
                *(Evidence("before", line) for line in named[0].values()),
            ),
            listed(named[1]),
            listed(named[0]),
            "the baseline",
            hint="find the two captures of one device, or find out who renamed it",
        )


# ---- what the baseline did not show


def same_rows(case: Case) -> Iterator[Draft]:
    """What is printed after the swap was printed before it: tables, rows, and values of a row.

    What is missing in the baseline may have been lost from it, and nothing could then be compared. Alarms come and
    go, and so do lists of faults; a part that was not well, or is another part now, may not have told what the new one
    tells. What says itself that something is wrong is left to other rules, but for a port: one that is down is judged
    only by what it was before.
    """
    shown = {t.table: t for t in case.before.snapshot.tables}
    told_of_all = set()
    for table in case.after.snapshot.tables:
        if table.table not in shown and table.table not in told_of_all:
            told_of_all.add(table.table)
            yield Draft(
                table.table,
                UNDETERMINED,
                f"the {table.table} table was captured after the swap and not before it",
                (Evidence("after", table.first_line),),
                hint="capture the same before and after; what changed in it cannot be told now",
            )
    old, new = case.before.fact(case.unit, "part_number"), case.after.fact(case.unit, "part_number")
    other_part = old is not None and new is not None and old[0] != new[0]
    before = case.before.by_row
    ports = {(s.reading.unit, s.reading.name) for s in case.before.of("link")}
    for row, sighting in case.after.by_row.items():
        reading = sighting.reading
        new_port = reading.kind == "link" and (reading.unit, reading.name) not in ports
        told_by_others = reading.condition in _TELLING and not new_port
        if row[1] == "alarm" or sighting.table not in shown or told_by_others:
            continue
        own = ill_before(case, reading.unit) or (other_part and reading.unit == case.unit)
        earlier = before.get(row)
        if earlier is None:
            if not own:
                yield Draft(
                    reading.subject,
                    UNDETERMINED,
                    f"the {sighting.table} table did not show {reading.subject} before",
                    (case.after.at(sighting),),
                    unit=reading.unit,
                    source="the baseline",
                    hint="find out whether it is new; a line of the baseline may have been lost",
                )
            continue
        was = earlier.reading
        if was is reading or own or was.condition not in (None, Condition.OK):
            continue
        if reading.model_fields_set <= was.model_fields_set and (was.condition is reading.condition):
            continue
        if was.unit and case.before.condition(was.unit) not in (None, Condition.OK):
            continue
        names = [n for n in (*was.QUANTITIES, *_FACTS) if was.given(n) is None and reading.given(n) is not None]
        if was.condition is None and was.status_text is None and reading.condition is not None:
            names.append("status")
        if names:
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"{reading.subject} did not show its {listed(n.replace('_', ' ') for n in names)} before",
                (case.after.at(sighting), case.before.at(earlier)),
                unit=reading.unit,
                source="the baseline",
                hint="a value of the baseline may have been lost: what changed in it cannot be told now",
            )


_FACTS = ("serial", "part_number", "airflow", "airflow_word", "feed", "input_type", "description")
_TELLING = (Condition.WARNING, Condition.FAILED, Condition.NO_INPUT, Condition.ABSENT)


def ill_now(case: Case, unit: str | None) -> bool:
    """Whether a unit is not well, so that what its rows say is left to the rules that say so."""
    return unit is not None and case.after.condition(unit) in _TELLING


def _nobody_asks(reading: AnyReading) -> bool:
    """Whether no status rule asks for a reading's own word: that of a measuring point of a supply, or of the chassis."""
    return (isinstance(reading, PowerSupply) and reading.name is not None) or reading.kind == "inventory"


def words_known(case: Case) -> Iterator[Draft]:
    """A status word of the baseline that nobody knows stands there afterwards too, or the baseline was misread.

    And a status that was printed before is printed afterwards. The part that came out may have said anything.
    """
    silent: dict[str, list[tuple[Sighting, Sighting]]] = {}
    for earlier, later in pairs(case):
        was, now = earlier.reading, later.reading
        if was is now or was.kind == "alarm" or ill_before(case, was.unit):
            continue
        if was.condition is Condition.UNKNOWN and now.status_text != was.status_text:
            said = now.status_text or "nothing"
            message = f"{now.subject} said `{was.status_text}` before, which is not known, and says `{said}` now"
            yield doubted_of(case, earlier, later, "status_text", message, "the baseline")
        elif (
            was.condition is Condition.OK
            and now.condition is Condition.UNKNOWN
            and _nobody_asks(now)
            and not ill_now(case, now.unit)
        ):
            message = (
                f"{now.subject} said `{was.status_text}` before and says `{now.status_text}` now, which is not known"
            )
            yield doubted_of(case, earlier, later, "status_text", message, "the baseline")
        elif (
            was.condition in (Condition.OK, Condition.ABSENT) and now.condition is None and not ill_now(case, now.unit)
        ):
            silent.setdefault(later.table, []).append((earlier, later))
    for table, rows in silent.items():
        earlier, later = rows[0]
        others = f", and {counted(len(rows) - 1, 'other')} of the {table} table" if len(rows) > 1 else ""
        said = earlier.reading.status_text or str(earlier.reading.condition)
        message = (
            f"{later.reading.subject}{others} said `{said}` before and {'show' if others else 'shows'} no status now"
        )
        yield doubted_of(case, earlier, later, "status_text", message, "the baseline")


# ---- how figures are printed


_NUMBER = re.compile(r"\s*[+-]?(\d+)(?:\.(\d+))?")
_SURE_OF_FORM = 3
"""So many other figures of a column, of both captures, tell how it prints them; fewer do where one ends in a zero
behind its point. Common practice."""


class _Figure(NamedTuple):
    column: tuple[str, str]
    view: View
    sighting: Sighting
    text: str
    whole: str
    decimals: str


def _figures(view: View) -> Iterator[_Figure]:
    """Each printed figure, apart into what stands before and behind its point."""
    for sighting in view.snapshot.sightings:
        reading = sighting.reading
        if not isinstance(reading, Limited):
            continue
        for name, quantity in reading.quantities().items():
            field = sighting.field_of(name)
            text = sighting.row.printed(field)
            if text and quantity.unit != "s" and (printed := as_printed(text)):
                yield _Figure((sighting.table, field), view, sighting, *printed)


@lru_cache(maxsize=4096)
def as_printed(text: str) -> tuple[str, str, str] | None:
    """A figure, and what stands before and behind its point; None where it is no number."""
    number = _NUMBER.match(text)
    return (text.strip(), number[1], number[2] or "") if number else None


def same_form(case: Case) -> Iterator[Draft]:
    """A figure is printed as the others of its column are: as many decimals, and no zero in front.

    A device prints 104 and never 04, 46.0 and never 46: where it seems to, a digit was lost.
    """
    columns: dict[tuple[str, str], list[_Figure]] = {}
    for view in (case.before, case.after):
        for figure in _figures(view):
            columns.setdefault(figure.column, []).append(figure)
    for (_, field), figures in columns.items():
        zeros = [f for f in figures if len(f.whole) > 1 and f.whole.startswith("0")]
        places = Counter(len(f.decimals) for f in figures)
        usual, number = places.most_common(1)[0]
        odd = [f for f in figures if len(f.decimals) != usual] if len(places) > 1 else []
        sure = number >= _SURE_OF_FORM or any(f.decimals.endswith("0") for f in figures if len(f.decimals) == usual)
        doubted = [(f, "begins with a zero") for f in zeros if len(zeros) * 2 <= len(figures)]
        # One figure that is printed otherwise is a misreading; several are how the device prints.
        if sure and odd and all(f.view is odd[0].view for f in odd) and not _also_in_other(odd, figures, usual):
            doubted += [(f, f"has {counted(len(f.decimals), 'decimal')} and not {usual}") for f in odd]
        for figure, what in doubted:
            yield Draft(
                figure.sighting.reading.subject,
                UNDETERMINED,
                f"`{figure.text}` of {figure.sighting.reading.subject} {what}, unlike the others in its column",
                (figure.view.at(figure.sighting, field),),
                figure.text,
                None,
                "the rest of its column",
                hint=AGAIN,
                unit=figure.sighting.reading.unit,
            )


def _also_in_other(odd: list[_Figure], figures: list[_Figure], usual: int) -> bool:
    """Whether the other capture prints its figures of the column in more than one way too, or has none."""
    others = [f for f in figures if f.view is not odd[0].view]
    return not others or any(len(f.decimals) != usual for f in others)


LEAST_VALUES = 8
"""So many measured values do not all stand still to the last digit. Common practice, no source."""


Measured = tuple[object, str, Quantity]


def _measured(sightings: Sequence[Sighting]) -> Iterator[Measured]:
    """Every measured value of a text, but in a row with a serial."""
    for sighting in sightings:
        reading = sighting.reading
        if isinstance(reading, Limited) and not reading.given("serial"):
            thing = (reading.kind, reading.unit, reading.name)
            for name, quantity in reading.quantities().items():
                if name not in SETTINGS and quantity.unit != "s":
                    yield thing, name, quantity


def values_alike(one: View, other: View) -> int:
    """How many measured values two texts show, where all are the same; 0 where one differs or they are too few.

    Seldom is more looked at than the first of them.
    """
    readings, others = one.snapshot.sightings, other.snapshot.sightings
    same = 0  # so many rows begin both texts that were read once and remembered
    for was, now in zip(readings, others, strict=False):
        if was.reading is not now.reading:
            break
        same += 1
    if any(was != now for was, now in zip_longest(_measured(readings[same:]), _measured(others[same:]))):
        return 0
    number = sum(1 for _ in _measured(readings))
    return number if number >= LEAST_VALUES else 0


def _told(view: View, case: Case) -> list[tuple[object, ...]]:
    """What a text says beside figures, but for the serial of the replaced unit."""
    return [
        (
            r.kind,
            r.unit,
            r.name,
            r.condition,
            *(r.given(f) for f in ("part_number", "airflow", "airflow_word")),
            r.given("serial") if r.unit != case.unit else None,
        )
        for r in view.snapshot.readings
    ]


STILL_IN_TABLE = 6
"""So many finely printed values of one table, the new part's among them, do not all stand still. Common practice, no
source."""
_FINE = 1000.0


def _fine(quantity: Quantity) -> bool:
    """Whether a figure is printed finely enough that it moves from one moment to the next."""
    if quantity.unit == "rpm":
        return quantity.value >= _FINE and quantity.value % 100 != 0
    return quantity.unit in ("Cel", "V", "A", "W") and quantity.value > 0


def _fine_values(view: View) -> dict[str, dict[tuple[object, ...], Quantity]]:
    """Of each table what it measures."""
    found: dict[str, dict[tuple[object, ...], Quantity]] = {}
    for sighting in view.snapshot.sightings:
        reading = sighting.reading
        for name, quantity in reading.quantities().items():
            if name not in SETTINGS and _fine(quantity):
                key = (reading.kind, reading.unit, reading.name, name)
                found.setdefault(sighting.table, {})[key] = quantity
    return found


def _telling(values: Mapping[tuple[object, ...], Quantity]) -> list[tuple[object, ...]]:
    """The values that do not stand still by themselves: without temperatures where all are whole or half degrees.

    At rest a switch prints the same half degrees again: of ten good swaps that were rehearsed three did.
    """
    coarse = all(q.value * 2 == int(q.value * 2) for q in values.values() if q.unit == "Cel")
    return [key for key, q in values.items() if not (coarse and q.unit == "Cel")]


def _tables_moved(case: Case) -> Iterator[Draft]:
    """No table shows the new part with the very figures of the old one while all others in it stand still too.

    Where samples saw the new part at other figures on its way there, it came back to them: that is rest.
    """
    before = _fine_values(case.before)
    for table, now in _fine_values(case.after).items():
        telling = _telling(now)
        own = [key for key in telling if key[1] == case.unit]
        if len(telling) < STILL_IN_TABLE or not own or now != before.get(table) or _watched(case, table, now):
            continue
        sighting = next(s for s in case.after.snapshot.sightings if s.table == table and s.reading.unit == case.unit)
        yield Draft(
            table,
            UNDETERMINED,
            f"the {table} table shows {case.unit} and all others with the very figures of the other capture: "
            "it may be that capture's",
            (case.after.at(sighting),),
            str(len(now)),
            None,
            "common practice",
            hint="capture again after the swap",
        )


def _watched(case: Case, table: str, now: Mapping[tuple[object, ...], Quantity]) -> bool:
    """Whether a sample saw the replaced unit at another figure in this table."""
    return any(
        now.get((s.reading.kind, s.reading.unit, s.reading.name, name), quantity) != quantity
        for sample in case.samples
        for s in sample.snapshot.sightings
        if s.table == table and s.reading.unit == case.unit
        for name, quantity in s.reading.quantities().items()
    )


def moved(case: Case) -> Iterator[Draft]:
    """Something moved between the two captures: else one of them is the other once more.

    Eight measured values or more, beside a serial's own row, that all are what they were to the last digit; common
    practice, no source. A text that tells another condition or another part than the other capture, but for the
    replaced unit's serial, is not it. Nor are two texts two captures that agree in every character, unless the
    part was watched in between; and a table shows the old part where that and all others still stand as they did.
    """
    number = values_alike(case.before, case.after)
    if number and _told(case.before, case) == _told(case.after, case):
        yield Draft(
            "text",
            UNDETERMINED,
            f"all {number} measured values are what they were before, to the last digit: one capture may be the other",
            (case.after.whole, case.before.whole),
            str(number),
            None,
            "common practice",
            hint="capture again after the swap",
        )
        return
    printed = case.after.snapshot.printed
    if not case.samples and printed and printed == case.before.snapshot.printed:
        yield Draft(
            "text",
            UNDETERMINED,
            "the text after the swap is the text before it, to the letter: one capture may be the other",
            (case.after.whole, case.before.whole),
            None,
            None,
            "the baseline",
            hint="capture again after the swap",
        )
        return
    yield from _tables_moved(case)


RULES = (
    Rule("text.one-host", "One device by its prompt", (), change=one_host),
    Rule("text.same-rows", "The baseline shows what is shown now", (), change=same_rows),
    Rule("text.words-known", "No status of the baseline lost or unknown", (), change=words_known),
    Rule("text.same-form", "Figures printed as before", (), change=same_form),
    Rule("text.moved", "Two captures, not one", (), change=moved),
)
