"""The job as such: how old the capture before the swap is, and what can be said where there is none."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from math import isfinite

from consolecheck.judging.rules.identity import serial_of
from consolecheck.judging.rules.load import redundancy
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, counted
from consolecheck.judging.rules.seen import by_whom, observation
from consolecheck.judging.rules.service import clock_of
from consolecheck.judging.rules.text import complete, unread
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import KINDS, Condition, Snapshot, TableSeen
from consolecheck.records.units import Quantity

CLOCKS_APART, CLOCKS_APART_SHARE = 120.0, 0.05
"""Seconds, and share of the time between the captures, by which two clocks may disagree about it. Common practice."""


def age(case: Case) -> Iterator[Draft]:
    """The capture before the swap is not older than the acceptance allows, by the laptop's clock.

    A clock that went backwards says that it was set, or that the texts are swapped. Where the device prints
    its own clock both times, the two agree about the time between. Common practice.
    """
    before, after = case.taken
    if before is None or after is None or not isfinite(before) or not isfinite(after):
        return
    went, limit = after - before, case.acceptance.job.baseline_hours
    clocks = case.before.device("clock"), case.after.device("clock")
    evidence = tuple(
        view.at(clock, "text") if clock else view.whole
        for view, clock in ((case.after, clocks[1]), (case.before, clocks[0]))
    )
    measured, bound = Quantity(value=round(went, 3), unit="s"), Quantity(value=limit * 3600, unit="s")
    if went < 0:
        yield Draft(
            "baseline",
            UNDETERMINED,
            "the laptop's clock was set back between the captures, or the texts are swapped",
            evidence,
            measured,
            bound,
            "the laptop's clock",
            hint="check which text is which, and the laptop's clock",
        )
        return
    fits = went <= limit * 3600
    yield Draft(
        "baseline",
        MET if fits else UNDETERMINED,
        f"the capture before the swap is {_told(went)} older than the one after it"
        + ("" if fits else f"; {limit:g} h are allowed"),
        evidence,
        measured,
        bound,
        "acceptance, by the laptop's clock",
        Quantity(value=round(limit * 3600 - went, 3), unit="s"),
        None
        if fits
        else "what changed since then cannot be told from this swap: capture just before pulling next time",
    )
    device = clock_of(case.before), clock_of(case.after)
    if device[0] is None or device[1] is None:
        return
    passed = (device[1] - device[0]).total_seconds()
    if abs(passed - went) > max(CLOCKS_APART, CLOCKS_APART_SHARE * went):
        yield Draft(
            "clocks",
            UNDETERMINED,
            f"the device's clock went on by {_told(passed)} between the captures, the laptop's by {_told(went)}",
            evidence,
            Quantity(value=passed, unit="s"),
            measured,
            "common practice",
            hint="check both clocks, and that both texts belong to this swap",
            advisory=True,
        )


def _told(seconds: float) -> str:
    """A time as people say it: `42 s`, `39 min`, `26.4 h`."""
    if abs(seconds) < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if abs(seconds) < 7200 else f"{seconds / 3600:.1f} h"


RULES = (Rule("job.age", "The baseline is recent", (), change=age),)


# ---- without a capture before the swap
#
# Nothing can be compared, and nothing that is wrong can be excused. So each rule here asks more of the one
# text than its namesake asks of the second of two.


def baseline(case: Case) -> Iterator[Draft]:
    """There is a capture before the swap; without one a swap is inconclusive, unless the acceptance allows it."""
    yield Draft(
        "baseline",
        UNDETERMINED,
        "there is no capture before the swap: whether another unit or a link changed, a sensor vanished or "
        "the switch reloaded cannot be told",
        (case.after.whole,),
        hint="capture before pulling next time; a site may allow it in its acceptance: [job] without_baseline",
        advisory=case.acceptance.job.without_baseline,
    )


def _dialect(case: Case) -> Iterator[Draft]:
    """The text comes from a known device family."""
    family = case.after.snapshot.dialect
    yield Draft(
        "text",
        MET if family else UNDETERMINED,
        f"the text is {family}" if family else "the device family of the text is not known",
        (case.after.whole,),
        family,
        hint=None if family else "name the family with --dialect",
    )


def _unread(case: Case) -> Iterator[Draft]:
    """Every line of the text was understood, or is known not to matter."""
    yield from (d for d in unread(case) if d.outcome is not MET)
    if not case.after.snapshot.unread:
        said = f"nothing unread: {counted(len(case.after.snapshot.sightings), 'reading')}"
        yield Draft("text", MET, said, (case.after.whole,))


_MEANS: Mapping[str, str] = {
    "power_supply": "the supplies",
    "fan": "the fans",
    "temperature": "the temperatures",
    "inventory": "the parts",
    "link": "the links",
    "alarm": "the alarms",
    "device": "the facts of the device",
}


def _complete(case: Case) -> Iterator[Draft]:
    """Every table was captured to its end, each kind that the family shows is there, and none misses what others show.

    What was lost a baseline would show; here it can only be seen by the gap that it left: a unit that one
    table shows and the table of its kind does not, rows that a like unit has, a number left out of a count.
    A line lost without a gap is not seen, so of supplies, fans, temperatures and parts the device must state
    the number of rows, or samples taken before must show the same ones.
    """
    view = case.after
    faults = [d for d in complete(case) if d.outcome is not MET]
    for table in view.snapshot.tables:
        if not table.ended and not table.cut:
            faults.append(
                Draft(
                    f"{view.snapshot.source} {table.table}",
                    UNDETERMINED,
                    f"the end of the {table.table} table was not captured, and no baseline tells what it should hold",
                    (Evidence("after", table.last_line),),
                    hint="capture again, to the prompt",
                )
            )
    for table in view.snapshot.tables:
        if not table.counted and _COUNTED & set(table.kinds) and not _in_samples(case, table):
            faults.append(
                Draft(
                    f"{view.snapshot.source} {table.table}",
                    UNDETERMINED,
                    f"whether a line of the {table.table} table was lost cannot be told: nothing states its number of rows",
                    (Evidence("after", table.last_line),),
                    hint="verify live, where samples show the same rows again",
                )
            )
    shown = {kind for table in view.snapshot.tables for kind in table.kinds if table.rows or kind == "alarm"}
    for kind in KINDS:
        if view.snapshot.commands.get(kind) and kind not in shown:
            message = f"no table shows {_MEANS[kind]}, although a command of this family does"
            faults.append(Draft(kind, UNDETERMINED, message, (view.whole,), hint=view.capture(kind)))
    for unit, message in (*_without_own_row(view), *_fewer_rows(view)):
        faults.append(Draft(unit, UNDETERMINED, message, view.first_of(unit), hint="capture again", unit=unit))
    for unit in _left_out(view.units):
        message = f"{unit} is left out of the count of units"
        faults.append(Draft(unit, UNDETERMINED, message, (view.whole,), hint="capture again", unit=unit))
    yield from faults
    if not faults:
        said = f"{counted(len(view.snapshot.tables), 'table')} captured to the end"
        yield Draft("text", MET, said, (view.whole,))


_COUNTED = frozenset(("power_supply", "fan", "temperature", "inventory"))
_LEAST_SAMPLES = 3


def _in_samples(case: Case, table: TableSeen) -> bool:
    """Whether the last three samples that show the table show the same things in it, each wholly read."""

    def things(snapshot: Snapshot) -> set[tuple[str, str | None, str | None]]:
        return {(s.reading.kind, s.reading.unit, s.reading.name) for s in snapshot.sightings if s.table == table.table}

    now = things(case.after.snapshot)
    alike = 0
    for sample in reversed(case.samples):
        snapshot = sample.snapshot
        if snapshot.unread or not any(t.table == table.table and t.ended and not t.cut for t in snapshot.tables):
            continue
        if things(snapshot) != now:
            return False
        alike += 1
        if alike == _LEAST_SAMPLES:
            return True
    return False


def _without_own_row(view: View) -> Iterator[tuple[str, str]]:
    for unit in view.units:
        own = view.supplies if unit.startswith("psu-") else view.fans
        if unit not in own and view.condition(unit) is not Condition.ABSENT:
            yield unit, f"the text shows {unit}, but no row of its own kind"


def _fewer_rows(view: View) -> Iterator[tuple[str, str]]:
    """Units that a table gives fewer rows than it gives another unit of their kind."""
    present = [unit for unit in view.units if view.condition(unit) is not Condition.ABSENT]
    rows: dict[tuple[str, str], Counter[str]] = {}
    for unit in present:
        for sighting in view.by_unit[unit]:
            if sighting.reading.kind != "alarm":
                rows.setdefault((sighting.table, unit[:4]), Counter())[unit] += 1
    for (table, kind), number in rows.items():
        fullest, most = number.most_common(1)[0]
        for unit in present:
            if unit.startswith(kind) and number[unit] < most:
                shown = counted(number[unit], "row") if number[unit] else "no row"
                yield unit, f"the {table} table shows {shown} of {unit} and {most} of {fullest}"


_NUMBERED = re.compile(r"(.*?)(\d+)\Z")


def _left_out(units: Iterable[str]) -> list[str]:
    """Units missing between the lowest and the highest number of a row of units: psu-2 of psu-1 and psu-3."""
    rows: dict[str, set[int]] = {}
    for unit in units:
        if found := _NUMBERED.match(unit):
            rows.setdefault(found.group(1), set()).add(int(found.group(2)))
    return [
        f"{row}{number}"
        for row, numbers in rows.items()
        if max(numbers) - min(numbers) < _LONGEST_ROW
        for number in range(min(numbers), max(numbers))
        if number not in numbers
    ]


_LONGEST_ROW = 64
"""Numbers further apart than this do not count the units of one chassis."""


def _replaced(case: Case) -> Iterator[Draft]:
    """The serial that the device prints of the unit is the one that was read off the new part's label.

    Without a baseline this is all that ties the text to the part in hand. An empty serial proves nothing
    (RFC 6933, entPhysicalSerialNum).
    """
    unit, view = case.unit, case.after
    printed, label = serial_of(view, unit), observation(case, unit, "serial")
    removed = case.seen(unit, "removed_serial")
    evidence = (view.at(printed[1], "serial"),) if printed else view.first_of(unit) or (view.whole,)
    serial = printed[0] if printed else None
    outcome, hint, source = UNDETERMINED, None, "the label as read"
    twin = next((u for u, (s, _) in view.serials.items() if s == serial and u != unit), None)
    if view.condition(unit) is Condition.ABSENT:
        outcome, message = UNMET, f"no unit sits in {unit}"
    elif removed and any(other and _same(removed, other) for other in (serial, label.value if label else None)):
        outcome, message = UNMET, f"{unit} has serial {removed}, which is the removed part's: it was put back"
        hint = "fit the replacement"
    elif label is None:
        message = f"whether {unit} was replaced is not known: the label of the new part was not stated"
        hint = f"read the label and state it: --seen {unit}.serial=SERIAL"
    elif serial is None:
        message = f"the text prints no serial of {unit} to compare with the label's {label.value}{by_whom(label)}"
        hint = view.capture("inventory")
    elif not _same(serial, label.value):
        outcome, message = UNMET, f"the label says {label.value}{by_whom(label)} but {unit} reports {serial}"
        hint = "check that the labelled part sits in this slot"
    elif twin is not None:
        message = f"{unit} and {twin} both show serial {serial}, which cannot be"
        hint = "capture again; if it stays so, read the labels of both"
    else:
        outcome, message = MET, f"{unit} reports {serial}, as the label of the new part says{by_whom(label)}"
    yield Draft(unit, outcome, message, evidence, serial, label.value if label else None, source, hint=hint, unit=unit)


def _same(one: str, two: str) -> bool:
    """Whether two serials are the same, whatever the case of their letters: one of them a person typed."""
    return one.casefold() == two.casefold()


def _part(case: Case) -> Iterator[Draft]:
    """The part number is the one of the unit's peers, or listed as a substitute for it."""
    unit, view = case.unit, case.after
    found = view.fact(unit, "part_number")
    kind = unit.partition("-")[0]
    peers = {
        peer: other
        for peer in view.units
        if peer.partition("-")[0] == kind and peer != unit and (other := view.fact(peer, "part_number"))
    }
    if found is None or not peers:
        yield Draft(
            unit,
            UNDETERMINED,
            f"the part number of {unit} {'has no peer to compare it with' if found else 'was not printed'}",
            view.first_of(unit) or (view.whole,),
            found[0] if found else None,
            unit=unit,
            advisory=not peers,
            hint="compare the labels of both parts",
        )
        return
    substitutes = case.acceptance.identity.substitutes
    like = next((p for p, (part, _) in peers.items() if found[0] in (part, *substitutes.get(part, []))), None)
    peer = like or next(iter(peers))
    part = peers[peer]
    yield Draft(
        unit,
        MET if like else UNDETERMINED,
        f"{unit} is part {found[0]}, {f'like {like}' if like else f'and {peer} is {part[0]}'}",
        (view.at(found[1], "part_number"), view.at(part[1], "part_number")),
        found[0],
        part[0],
        "its peers",
        hint=None if like else "find out which part belongs here, and list it under [identity.substitutes]",
        unit=unit,
    )


def _redundancy(view: View, case: Case) -> Iterator[Draft]:
    """As with a baseline; but as many good supplies as before can only be counted with one."""
    counts = case.acceptance.power.redundancy == "count"
    for draft in redundancy(view, case):
        if counts and draft.outcome is MET:
            hint = "state N+1 or N+N in the acceptance, with the rated power of the parts"
            said = f"{draft.message} at least; how many were good before is not known"
            yield draft._replace(outcome=UNDETERMINED, message=said, hint=hint)
        else:
            yield draft


def _known_facts(case: Case) -> Iterator[Draft]:
    """No fact or part of the device has a status that nobody knows: no baseline shows that it had it before."""
    for key, sighting in case.after.keyed.items():
        reading = sighting.reading
        if key[0] in ("device", "inventory") and reading.condition is Condition.UNKNOWN:
            yield Draft(
                reading.subject,
                UNDETERMINED,
                f"{reading.subject} has a status that is not known (`{reading.status_text}`)",
                (case.after.at(sighting, "status"),),
                reading.status_text,
                unit=reading.unit,
                hint="look at the device itself",
            )


BASELINE = Rule("job.baseline", "There is a baseline", (), change=baseline)
_INSTEAD = {
    "text.dialect": Rule("text.dialect", "A known device family", (), change=_dialect),
    "text.unread": Rule("text.unread", "Every line understood", (), change=_unread),
    "text.complete": Rule("text.complete", "Every table whole", (), change=_complete),
    "identity.replaced": Rule(
        "identity.replaced", "The labelled part is fitted", ("inventory", "power_supply", "fan"), change=_replaced
    ),
    "identity.part": Rule("identity.part", "A part like its peers", ("inventory",), change=_part),
    "power.redundancy": Rule("power.redundancy", "The load fits after a loss", ("power_supply",), state=_redundancy),
    "service.facts-known": Rule(
        "service.facts-known", "No chassis fact unknown", ("device", "inventory"), change=_known_facts
    ),
}
_AS_THEY_ARE = frozenset(
    (
        "text.agreement",
        "text.no-table-against",
        "power.no-figure-against",
        "power.sign",
        "power.carries-load",
        "power.input-type",
        "power.mixed",
        "cooling.spare",
        "temperature.plausible",
        "temperature.settled",
        "temperature.inlet-rate",
        "service.alarms",
    )
)
"""Rules over both texts that judge one text rightly when the other is empty."""


def alone(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """What is asked of one text: rules that look at one anyway, those above, and whether there was a baseline."""
    kept = (_INSTEAD.get(r.id, r) for r in rules if r.state or r.id in _INSTEAD or r.id in _AS_THEY_ARE)
    return (*kept, BASELINE)


def essential_alone(case: Case) -> tuple[tuple[str, str | None], ...]:
    """Rule and subject, or rule and any subject, that must be met for `verified` without a baseline.

    Beside status and identity of the unit: the text wholly read, limits, airflow, and what is left after a
    loss: of a supply the redundancy, unless the acceptance asks for none; of a fan module enough others.
    """
    asked: list[tuple[str, str | None]] = [
        ("power.status" if case.is_supply else "cooling.status", case.unit),
        ("identity.replaced", case.unit),
        ("text.dialect", None),
        ("text.unread", None),
        ("text.complete", None),
        ("temperature.status", None),
        ("temperature.limits", None),
        ("cooling.airflow", None),
    ]
    if not case.is_supply:
        asked.append(("cooling.spare", None))
    elif case.acceptance.power.redundancy != "none":
        asked.append(("power.redundancy", None))
    return tuple(asked)
