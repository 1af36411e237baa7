"""Did the switch keep doing its work?"""

from collections.abc import Iterator
from datetime import datetime

from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, counted, limits_of
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import Condition, Device, Sighting
from consolecheck.records.units import Quantity


def _uptime(view: View) -> tuple[Quantity, Sighting] | None:
    found = view.device("uptime")
    if found is None or not isinstance(found.reading, Device) or found.reading.value is None:
        return None
    return found.reading.value, found


def _span(seconds: float) -> Quantity:
    return Quantity(value=seconds, unit="s")


def clock_of(view: View) -> datetime | None:
    """The device's own clock with its offset from UTC (RFC 3339), where it prints one."""
    found = view.device("clock")
    if found is None or not found.reading.status_text:
        return None
    try:
        stamp = datetime.fromisoformat(found.reading.status_text)
    except ValueError:
        return None
    return stamp if stamp.tzinfo else None


LONGEST_JOB = 30 * 86400.0
"""Seconds between two captures of one swap, at most. Common practice."""


def uptime(case: Case) -> Iterator[Draft]:
    """The device did not reload: its uptime went on, and by as much as its clock did.

    Required once the baseline shows an uptime.
    """
    before, after = _uptime(case.before), _uptime(case.after)
    if before is None or after is None:
        yield Draft(
            "uptime",
            UNDETERMINED,
            "the uptime was not printed" + (" after the swap" if before else ""),
            (case.before.at(before[1], "value"),) if before else (),
            advisory=before is None,
            hint=case.before.capture("uptime"),
        )
        return
    went = after[0].value - before[0].value
    evidence = (case.after.at(after[1]), case.before.at(before[1]))
    clocks = clock_of(case.before), clock_of(case.after)
    elapsed = (clocks[1] - clocks[0]).total_seconds() if clocks[0] and clocks[1] else None
    if went < 0 and elapsed is not None and elapsed < 0:
        yield Draft(
            "uptime",
            UNDETERMINED,
            "the text after the swap is older than the one before: they are swapped",
            evidence,
            after[0],
            before[0],
            "the baseline",
            hint="give the two files the other way round",
        )
    elif went < 0:
        yield Draft(
            "uptime",
            UNMET,
            f"the uptime fell from {before[0]} to {after[0]}: the device reloaded, or the texts are swapped",
            evidence,
            after[0],
            before[0],
            "the baseline",
            hint="check the order of the files, then the reason of the reload",
        )
    elif elapsed is not None and abs(elapsed - went) > max(120.0, 0.05 * abs(elapsed)):
        yield Draft(
            "uptime",
            UNDETERMINED,
            f"the uptime went on by {_span(went)} while the clock went on by {_span(elapsed)}",
            evidence,
            after[0],
            before[0],
            "common practice",
            hint="check the device's clock, then capture again",
        )
    elif went > LONGEST_JOB:
        yield Draft(
            "uptime",
            UNDETERMINED,
            f"the uptime went on by {_span(went)}, longer than any swap takes",
            evidence,
            after[0],
            before[0],
            "common practice",
            hint="check that both texts belong to this swap",
        )
    elif went == 0:
        yield Draft(
            "uptime",
            UNDETERMINED,
            "the uptime did not move: both texts may be one capture",
            evidence,
            after[0],
            before[0],
            "the baseline",
            hint="capture again after the swap",
        )
    else:
        yield Draft(
            "uptime", MET, f"the uptime went on by {_span(went)}", evidence, after[0], before[0], "the baseline"
        )


_BROKEN = (Condition.FAILED, Condition.WARNING)


def links(case: Case) -> Iterator[Draft]:
    """Links that were up are up, and none that was down has failed. Required once the baseline shows links."""
    was = [(k, s) for k, s in case.before.keyed.items() if k[0] == "link"]
    if not was or not case.after.of("link"):
        yield Draft(
            "links",
            UNDETERMINED,
            "the links were not printed" + (" after the swap" if was else ""),
            advisory=not was,
            hint=case.before.capture("link"),
        )
        return
    up = [(k, s) for k, s in was if s.reading.condition is Condition.OK]
    down = 0
    for key, earlier in up:
        now = case.after.keyed.get(key)
        name = earlier.reading.name or earlier.reading.subject
        if now is None or now.reading.condition is not Condition.OK:
            down += 1
            unknown = now is not None and now.reading.condition in (None, Condition.UNKNOWN)
            said = now.reading.status_text if now else None
            yield Draft(
                name,
                UNDETERMINED if unknown else UNMET,
                f"link {name} was up and is {f'`{said}`' if said else 'gone'} now",
                ((case.after.at(now, "status"),) if now else ()) + (case.before.at(earlier, "status"),),
                said,
                earlier.reading.status_text,
                "the baseline",
                hint="check the cable that was moved",
                by_absence="link" if now is None else None,
            )
    for key, earlier in was:
        now = case.after.keyed.get(key)
        if now is None or earlier.reading.condition is Condition.OK or now.reading.condition not in _BROKEN:
            continue
        if earlier.reading.condition in _BROKEN:
            continue
        down += 1
        name = earlier.reading.name or earlier.reading.subject
        yield Draft(
            name,
            UNDETERMINED,
            f"link {name} was `{earlier.reading.status_text}` and is `{now.reading.status_text}` now",
            (case.after.at(now, "status"), case.before.at(earlier, "status")),
            now.reading.status_text,
            earlier.reading.status_text,
            "the baseline",
            hint="find out when it failed: a port without a link does not fail by itself",
        )
    if not down:
        yield Draft(
            "links",
            MET,
            f"{counted(len(up), 'link')} that {'was' if len(up) == 1 else 'were'} up still {'is' if len(up) == 1 else 'are'}",
            (case.after.at(case.after.of("link")[0]),),
            str(len(up)),
            None,
            "the baseline",
        )


def alarms(case: Case) -> Iterator[Draft]:
    """No alarm stands that did not stand before. Required once either text shows an alarm list.

    An alarm list must have been captured to its end: the entry that was cut off is the new one.
    """
    listed_before = any("alarm" in t.kinds for t in case.before.snapshot.tables)
    tables = [t for t in case.after.snapshot.tables if "alarm" in t.kinds]
    if not tables:
        yield Draft(
            "alarms",
            UNDETERMINED,
            "the alarms were not printed" + (" after the swap" if listed_before else ""),
            advisory=not listed_before,
            hint=case.before.capture("alarm"),
        )
        return
    standing = {
        k: s for k, s in case.after.keyed.items() if k[0] == "alarm" and s.reading.condition is not Condition.OK
    }
    old = {k for k, s in case.before.keyed.items() if k[0] == "alarm" and s.reading.condition is not Condition.OK}
    new = [(k, s) for k, s in standing.items() if k not in old]
    for _, sighting in new:
        said = sighting.reading.status_text
        yield Draft(
            sighting.reading.subject,
            UNMET if listed_before else UNDETERMINED,
            f"{'new alarm' if listed_before else 'an alarm that may be new'}: {sighting.reading.subject}"
            + (f" ({said})" if said else ""),
            (case.after.at(sighting),),
            said,
            None,
            "the baseline",
            unit=sighting.reading.unit,
            hint="clear its cause, then capture again",
        )
    silent = [
        (k, s)
        for k, s in case.before.keyed.items()
        if k[0] == "alarm" and s.reading.condition is Condition.OK and k not in case.after.keyed
    ]
    for _, sighting in silent:  # a flag that was down is printed as down; not printed, it may be up
        yield Draft(
            sighting.reading.subject,
            UNDETERMINED,
            f"{sighting.reading.subject} was not printed any more",
            (case.before.at(sighting),),
            hint="capture the alarms again",
            unit=sighting.reading.unit,
        )
    if new or silent:
        return
    unended = [t for t in tables if not t.ended]
    if unended:
        yield Draft(
            "alarms",
            UNDETERMINED,
            "the alarm list may go on behind the end of the text",
            tuple(Evidence("after", t.last_line) for t in unended),
            advisory=not listed_before,
            hint="capture it with the prompt that follows",
        )
    else:
        stood = f"; {counted(len(standing), 'alarm')} stood before too" if standing else ""
        yield Draft(
            "alarms",
            MET,
            f"no new alarm{stood}",
            tuple(case.after.at(s) for s in standing.values()) or tuple(Evidence("after", t.last_line) for t in tables),
            str(len(standing)),
            None,
            "the baseline",
        )


_FACTS = ("device", "inventory")
_ILL = (Condition.WARNING, Condition.FAILED, Condition.NO_INPUT, Condition.ABSENT)


def facts(view: View, case: Case) -> Iterator[Draft]:
    """No fact or part of the device that carries a status is in warning, failed or absent.

    Redundancy, for one: only full redundancy is well, `sufficient` runs without a spare (IPMI v2.0
    table 42-2). Supplies and fans have rules of their own.
    """
    for key, sighting in view.keyed.items():
        reading = sighting.reading
        if key[0] in _FACTS and reading.condition in _ILL and reading.unit not in view.units:
            yield Draft(
                reading.subject,
                UNMET,
                f"{reading.subject} is `{reading.status_text}`",
                (view.at(sighting, "status"),),
                reading.status_text,
                unit=reading.unit,
            )


def behind_another(case: Case) -> Iterator[Draft]:
    """No row of a unit is other than well behind a fault of the same unit that stood before, but as that row was then.

    A unit is told by its worst row: a second rotor that fails in a module of which one had failed changes nothing in
    that. One that was well is a new fault; one that said something else or did not stand there, or says now what nobody
    knows or that it stands by, leaves it open.
    """
    before = case.before.by_row
    for row, sighting in case.after.by_row.items():
        reading = sighting.reading
        unit, now = reading.unit, reading.condition
        told_by_unit = reading.kind == "inventory" or (unit or "").startswith(_MODULES.get(reading.kind, "-"))
        if unit is None or unit == case.unit or now in (None, Condition.OK) or not told_by_unit:
            continue
        if case.before.condition(unit) not in _ILL:
            continue  # then the unit itself tells of a new fault
        earlier = before.get(row)
        was = earlier.reading.condition if earlier else None
        if was is now:
            continue
        said = f"said `{earlier.reading.status_text}` before" if earlier and was else "told no status before"
        yield Draft(
            reading.subject,
            UNMET if was is Condition.OK and now in _ILL else UNDETERMINED,
            f"{reading.subject} says `{reading.status_text}` and {said}: it is not the fault of {unit} that stood",
            (case.after.at(sighting, "status"), *([case.before.at(earlier, "status")] if earlier else [])),
            reading.status_text,
            earlier.reading.status_text if earlier else None,
            "the baseline",
            hint="look at the unit, then capture again",
            unit=unit,
        )


_MODULES = {"power_supply": "psu-", "fan": "fan-"}


def facts_unknown(case: Case) -> Iterator[Draft]:
    """No fact or part that was ok changed to a status that nobody knows, or to standby.

    An unknown word is never ok, and a module that went to standby was relieved by another one.
    """
    for key, sighting in case.after.keyed.items():
        reading = sighting.reading
        condition = reading.condition
        if key[0] not in _FACTS or condition not in (Condition.UNKNOWN, Condition.STANDBY):
            continue
        earlier = case.before.keyed.get(key)
        if earlier is not None and earlier.reading.status_text == reading.status_text:
            continue
        if condition is Condition.STANDBY and (earlier is None or earlier.reading.condition is not Condition.OK):
            continue
        was = f"; it was `{earlier.reading.status_text}` before" if earlier else ""
        what = "went to standby" if condition is Condition.STANDBY else "has a status that is not known"
        yield Draft(
            reading.subject,
            UNDETERMINED,
            f"{reading.subject} {what} (`{reading.status_text}`){was}",
            (case.after.at(sighting, "status"),),
            reading.status_text,
            earlier.reading.status_text if earlier else None,
            "the baseline",
            unit=reading.unit,
            advisory=earlier is None,
        )


def limits(view: View, case: Case) -> Iterator[Draft]:
    """Every chassis-wide value (a voltage rail, a current) lies within the device's own limits."""
    yield from limits_of(view, "device")


RULES = (
    Rule("service.uptime", "The device did not reload", ("device",), change=uptime),
    Rule("service.links", "Links that were up are up", ("link",), change=links),
    Rule("service.alarms", "No new alarm", ("alarm",), change=alarms),
    Rule("service.facts", "Chassis facts and parts are well", ("device", "inventory"), state=facts),
    Rule("service.behind-another", "No fault behind one that stood", (), change=behind_another),
    Rule("service.facts-known", "No chassis fact became unknown", ("device", "inventory"), change=facts_unknown),
    Rule("service.own-limits", "Chassis values within the device's limits", ("device",), state=limits),
)
