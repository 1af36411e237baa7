"""Is it the right place, are the units beside it well, and can the text be believed?"""

from collections.abc import Iterator

from consolecheck.judging.clearance.air import cooled, modules_left
from consolecheck.judging.clearance.asked import Asked
from consolecheck.judging.clearance.power import carried, delivers_nothing, idle_others
from consolecheck.judging.rules.load import adds_up, rated_alike
from consolecheck.judging.rules.power import unit_status
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, counted, listed
from consolecheck.judging.rules.temperature import colder_than_inlet
from consolecheck.judging.rules.text import agreement
from consolecheck.judging.view import Case, Draft, View, is_serial
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import Condition, Kind


def same(one: str, two: str) -> bool:
    """Whether two labels are the same, whatever the case of their letters: one of them a person typed."""
    return one.strip().upper() == two.strip().upper()


def unit(asked: Asked) -> Iterator[Draft]:
    """The unit stands in the text. An empty slot is told: there is nothing to pull, only to insert."""
    view, name = asked.view, asked.unit
    condition = view.condition(name)
    if name not in view.by_unit:
        yield Draft(
            name,
            UNDETERMINED,
            f"nothing about {name} stands in the text",
            (view.whole,),
            hint=view.capture("power_supply" if asked.is_supply else "fan"),
        )
    elif condition is Condition.ABSENT:
        message = f"no unit sits in {name}: there is nothing to pull, only to insert"
        yield Draft(name, UNMET, message, view.telling(name, condition), condition.value, advisory=True)
    else:
        (draft,) = unit_status(view, asked.case, [name])
        part, serial = view.fact(name, "part_number"), view.serials.get(name)
        told = (f", part {part[0]}" if part else "") + (f", serial {serial[0]}" if serial else "")
        yield Draft(name, MET, f"{draft.message}{told}", draft.evidence or view.first_of(name), draft.measured)


def others(asked: Asked) -> Iterator[Draft]:
    """The other units of the kind are well; of those that are not it is told.

    An ill one counts where the good ones do not carry the load, or do not suffice to cool, without it; where
    that is not known the answer is open. Where they do, or where the unit delivers nothing and so takes
    nothing away, it is only told. So with a unit whose status is not known, and with a supply that reports ok
    but carries next to nothing (it may stand by, or be dead).
    """
    view = asked.view
    if asked.is_supply:
        found = carried(asked)
        enough, rest, idle = found.outcome, found.rest, idle_others(asked)
        if delivers_nothing(asked) and rest.good:
            enough = MET  # it takes nothing away
    else:
        enough, rest, idle = cooled(asked), modules_left(asked), ()
    work = "carries the load" if asked.is_supply else "cools the chassis"
    for name in (*rest.ill, *rest.untold):
        (draft,) = unit_status(view, asked.case, [name])
        what = draft.message
        if name in idle:
            what = f"{name} reports ok and delivers next to nothing"
        elif draft.outcome is MET:
            what = f"{name} reports ok, and what its rotors read does not bear that out"
        outcome = UNMET if name in rest.ill and enough is not UNDETERMINED else UNDETERMINED
        if enough is MET:
            what, hint = f"{what}; the rest {work} without it", None
        else:
            hint = f"see to {name} before {asked.unit} is pulled"
            if enough is UNDETERMINED and name in rest.ill:
                what = f"{what}, and whether the rest {work} without it is not known"
        evidence = draft.evidence or view.first_of(name)
        yield Draft(name, outcome, what, evidence, draft.measured, hint=hint, advisory=enough is MET)
    if rest.good and not (rest.ill or rest.untold):
        noun = "supply" if asked.is_supply else "fan module"
        number = len(rest.good)
        message = f"the other {noun} is good" if number == 1 else f"{listed(rest.good)} are good"
        evidence = tuple(e for u in rest.good for e in view.telling(u, view.condition(u)))
        yield Draft(f"other {noun}{'' if number == 1 else 's'}".replace("supplys", "supplies"), MET, message, evidence)


def chassis(asked: Asked) -> Iterator[Draft]:
    """The chassis whose console this is has the serial that the ticket states. Of a stack any member may have it."""
    view, stated = asked.whole, (asked.chassis or "").strip()
    serials: dict[str, Evidence] = {}
    for sighting in (*view.by_unit.get("chassis", ()), *view.of("device")):
        serial = sighting.reading.given("serial")
        if serial and is_serial(serial):
            serials.setdefault(serial, view.at(sighting, "serial"))
    shown, evidence = listed(serials), tuple(serials.values())
    if not stated:
        yield Draft(
            "chassis",
            UNDETERMINED,
            f"which chassis the ticket means is not stated; this one is {shown}"
            if serials
            else "which chassis the ticket means is not stated, and this one does not say which it is",
            evidence or (view.whole,),
            shown or None,
            hint="compare the serial on the chassis with the ticket",
            advisory=True,
        )
    elif not serials:
        yield Draft(
            "chassis",
            UNDETERMINED,
            f"the ticket is for chassis {stated}, and the text does not show which one this is",
            (view.whole,),
            None,
            stated,
            "the ticket",
            hint=f"read the serial on the chassis; {view.capture('inventory')}",
        )
    elif any(same(serial, stated) for serial in serials):
        yield Draft("chassis", MET, f"this is chassis {stated}", evidence, shown, stated, "the ticket")
    else:
        yield Draft(
            "chassis",
            UNMET,
            f"this is another chassis: {shown}, and the ticket is for {stated}",
            evidence,
            shown,
            stated,
            "the ticket",
            hint="find the right chassis, or the right console, before anything is touched",
        )


_RESTS_ON: tuple[Kind, ...] = ("power_supply", "fan", "temperature")


def text(asked: Asked) -> Iterator[Draft]:
    """The text was wholly read, and its figures agree with each other: else a line or a digit was lost.

    Nothing is pulled on a text with an unread line or a cut table, wherever it stands, nor on one without the
    supplies, fans or sensors that the family shows. What is told twice is told alike, and nothing is colder
    than the inlet air. For a supply, watts are volts times amps, and one part has one rating; the figures of a
    unit that delivers nothing are left out, for a dead one prints what it likes.
    """
    view, faults = asked.whole, 0
    snapshot = view.snapshot
    if snapshot.unread:
        faults += 1
        number, first = len(snapshot.unread), snapshot.unread[0].number
        yield Draft(
            "text",
            UNDETERMINED,
            f"{counted(number, 'line')} of the text {'was' if number == 1 else 'were'} not read, the first is line {first}",
            tuple(Evidence(view.side, line.number) for line in snapshot.unread[:20]),
            hint="capture again; if the line comes back, the dialect needs to learn it",
        )
    for table in snapshot.tables:
        if table.cut:
            faults += 1
            yield Draft(
                table.table,
                UNDETERMINED,
                f"the {table.table} table is not whole: {table.cut}",
                (Evidence(view.side, table.last_line),),
                hint="capture again, to the prompt",
            )
    for kind in _RESTS_ON:
        if kind in snapshot.commands and not any(kind in t.kinds for t in snapshot.tables):
            faults += 1
            yield Draft(
                kind.replace("_", " "),
                UNDETERMINED,
                f"the text has no table of the kind {kind.replace('_', ' ')}, although the family prints one",
                (view.whole,),
                hint=view.capture(kind),
            )
    empty = View(snapshot._replace(sightings=(), tables=()), view.side)
    told = list(agreement(Case(view, empty, asked.unit, asked.acceptance)))
    if asked.is_supply:
        dead = asked.unit if delivers_nothing(asked) else None
        told += (d for d in adds_up(view, asked.case) if d.unit != dead)
        told += rated_alike(view, asked.case)
    for draft in told:
        if draft.outcome is not MET:
            faults += 1
            yield draft._replace(hint="capture again")
    for sighting, value, coldest in colder_than_inlet(asked.view, asked.case).values():
        if sighting.reading.unit != asked.unit:
            faults += 1
            yield Draft(
                sighting.reading.subject,
                UNDETERMINED,
                f"{sighting.reading.subject} reads {value}, colder than the inlet's {coldest:g} °C, which cannot be",
                (view.at(sighting, "value"),),
                value,
                hint="capture again",
            )
    if not faults and snapshot.sightings:
        message = f"nothing unread among {counted(len(snapshot.sightings), 'reading')}, and no contradiction"
        yield Draft("text", MET, message, (view.whole,))


def service(asked: Asked) -> Iterator[Draft]:
    """Alarms that stand and links that are down are told before anything is touched, and count for nothing."""
    view = asked.whole
    standing = [s for k, s in view.keyed.items() if k[0] == "alarm" and s.reading.condition is not Condition.OK]
    for sighting in standing:
        said = sighting.reading.status_text
        message = f"an alarm stands already: {sighting.reading.subject}" + (f" ({said})" if said else "")
        yield Draft(sighting.reading.subject, UNMET, message, (view.at(sighting),), said)
    if not standing:
        shown = [t for t in view.snapshot.tables if "alarm" in t.kinds]
        yield Draft(
            "alarms",
            MET if shown else UNDETERMINED,
            "no alarm stands" if shown else "the alarms were not printed",
            tuple(Evidence(view.side, t.last_line) for t in shown) or (view.whole,),
            hint=None if shown else view.capture("alarm"),
        )
    links = [s for k, s in view.keyed.items() if k[0] == "link"]
    down = [s for s in links if s.reading.condition is not Condition.OK]
    names = listed((s.reading.name or s.reading.subject for s in down), most=8)
    if not links:
        message, outcome = "the links were not printed", UNDETERMINED
    elif down:
        verb = "is" if len(down) == 1 else "are"
        message, outcome = f"{len(down)} of {counted(len(links), 'link')} {verb} down already: {names}", UNMET
    else:
        message, outcome = f"no link is down among {len(links)}", MET
    evidence = tuple(view.at(s, "status") for s in (down or links[:1])) or (view.whole,)
    yield Draft("links", outcome, message, evidence, names or None, hint=None if links else view.capture("link"))
