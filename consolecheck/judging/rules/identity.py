"""Was the right unit pulled and a right one fitted?"""

from collections.abc import Iterator
from itertools import islice

from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, counted, listed
from consolecheck.judging.view import Case, Draft, View, is_serial
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import AnyReading, Condition, Sighting


def serial_of(view: View, unit: str) -> tuple[str, Sighting] | None:
    """The serial of a unit, where the device printed a real one."""
    return view.serials.get(unit)


def _chassis(view: View) -> tuple[str, Evidence] | None:
    for sighting in (*view.by_unit.get("chassis", ()), *view.of("device")):
        serial = sighting.reading.given("serial")
        if serial and is_serial(serial):
            return serial, view.at(sighting, "serial")
    return None


_NEW_CHASSIS = "a chassis that was replaced whole is a new installation: take a new baseline on it"


def chassis(case: Case) -> Iterator[Draft]:
    """Both texts come from one chassis: by its serial, else by its prompt, else by the serials of other units."""
    before, after = _chassis(case.before), _chassis(case.after)
    if before and after:
        same = before[0] == after[0]
        yield Draft(
            "chassis",
            MET if same else UNMET,
            f"the chassis is {after[0]} in both texts"
            if same
            else f"the texts come from two chassis: {before[0]} before, {after[0]} after",
            (after[1], before[1]),
            after[0],
            before[0],
            "the baseline",
            hint=None if same else f"find the two captures of one chassis and judge those; {_NEW_CHASSIS}",
        )
        return
    macs = case.before.device("mac"), case.after.device("mac")
    if macs[0] and macs[1] and macs[0].reading.status_text and macs[1].reading.status_text:
        old, new = macs[0].reading.status_text, macs[1].reading.status_text
        hosts = case.before.snapshot.hosts, case.after.snapshot.hosts
        other = bool(hosts[0] and hosts[1] and set(hosts[0]) != set(hosts[1]))
        yield Draft(
            "chassis",
            MET if old == new else UNMET if other else UNDETERMINED,
            f"the chassis has the address {new} in both texts"
            if old == new
            else f"the address was {old} and is {new}: another chassis{'' if other else ', or a stack with a new leader'}",
            (case.after.at(macs[1], "text"), case.before.at(macs[0], "text")),
            new,
            old,
            "the baseline",
            hint=None if old == new else "find the two captures of one chassis, or capture the inventory both times",
        )
        return
    hosts_before, hosts_after = case.before.snapshot.hosts, case.after.snapshot.hosts
    if hosts_before and hosts_after:
        same = set(hosts_before) == set(hosts_after)
        yield Draft(
            "chassis",
            MET if same else UNMET,
            f"the prompt names {listed(hosts_after)} in both texts"
            if same
            else f"the prompts name {listed(hosts_before)} before and {listed(hosts_after)} after",
            (
                *(Evidence("after", line) for line in hosts_after.values()),
                *(Evidence("before", line) for line in hosts_before.values()),
            ),
            listed(hosts_after),
            listed(hosts_before),
            "the baseline",
            hint=None if same else "find the two captures of one device and judge those",
        )
        return
    others = [u for u in case.before.by_unit if u != case.unit]
    both = [(u, b, a) for u in others if (b := serial_of(case.before, u)) and (a := serial_of(case.after, u))]
    kept = [(u, b, a) for u, b, a in both if b[0] == a[0]]
    if kept:
        unit, was, now = kept[0]
        yield Draft(
            "chassis",
            MET,
            f"{unit} is {now[0]} in both texts, so they come from one chassis",
            (case.after.at(now[1], "serial"), case.before.at(was[1], "serial")),
            now[0],
            was[0],
            "the baseline",
        )
    elif both:
        yield Draft(
            "chassis",
            UNMET,
            "no unit has the same serial in both texts: they come from two chassis",
            tuple(
                e for _, was, now in both for e in (case.after.at(now[1], "serial"), case.before.at(was[1], "serial"))
            ),
            hint="find the two captures of one chassis and judge those",
        )
    else:
        yield Draft(
            "chassis",
            UNDETERMINED,
            "neither text says which chassis it comes from",
            (case.after.whole, case.before.whole),
            hint="capture with the prompt, or with the inventory, both times",
        )


def replaced(case: Case) -> Iterator[Draft]:
    """The unit's serial changed, is the one on the label where that was stated, and sat in no other slot before.

    A serial that is almost the old one, or is built otherwise, may be misread: the label settles it; common practice.
    A reseat must be stated, with its reason. Where the device prints no serial the labels of both parts
    decide, if a person read them. An empty serial proves nothing (RFC 6933, entPhysicalSerialNum).
    """
    unit = case.unit
    before, after = serial_of(case.before, unit), serial_of(case.after, unit)
    label, removed = case.seen(unit, "serial"), case.seen(unit, "removed_serial")
    printed = tuple(
        view.at(found[1], "serial") for view, found in ((case.after, after), (case.before, before)) if found
    )
    evidence = printed or case.after.first_of(unit) or (case.after.whole,)
    if case.after.condition(unit) is Condition.ABSENT:
        yield Draft(unit, UNMET, f"no unit sits in {unit}", case.after.telling(unit, Condition.ABSENT), unit=unit)
        return
    new = after[0] if after else label
    old = before[0] if before else removed
    if new and new != old and (whence := _sat_in(case, new)):
        yield _moved(case, whence, new, old, evidence)
    elif after and label and after[0].casefold() != label.casefold():  # typed by a person
        yield Draft(
            unit,
            UNMET,
            f"the label says {label} but {unit} reports {after[0]}",
            evidence,
            after[0],
            label,
            "the label as read",
            hint="check that the labelled part sits in this slot",
            unit=unit,
        )
    elif before and removed and before[0].casefold() != removed.casefold():
        yield Draft(
            unit,
            UNMET,
            f"the removed part is {removed} but the baseline had {before[0]} in {unit}",
            evidence,
            removed,
            before[0],
            "the label as read",
            hint="the part in your hand came from another slot: put it back",
            unit=unit,
        )
    elif new is None or old is None:
        which = "the serial of the new part" if old else "the serial of the removed part" if new else "either serial"
        fact = f"{unit}.serial" if new is None else f"{unit}.removed_serial"
        yield Draft(
            unit,
            UNDETERMINED,
            f"whether {unit} was replaced is not known: {which} was not printed",
            evidence,
            new,
            old,
            hint=f"read the label and state it: --seen {fact}=SERIAL",
            unit=unit,
        )
    elif new == old and case.reseat is not None:
        yield Draft(
            unit,
            MET,
            f"{unit} is still {new}, as stated: {case.reseat}",
            evidence,
            new,
            old,
            "stated reseat",
            unit=unit,
        )
    elif new == old:
        yield Draft(
            unit,
            UNMET,
            f"{unit} still has serial {new}: the same part was put back",
            evidence,
            new,
            old,
            "the baseline",
            hint="fit the replacement, or state why the same part is right: --reseat REASON",
            unit=unit,
        )
    elif case.reseat is not None:
        yield Draft(
            unit,
            UNMET,
            f"{unit} was to be reseated but its serial changed from {old} to {new}",
            evidence,
            new,
            old,
            "stated reseat",
            hint="judge it as a replacement, without --reseat",
            unit=unit,
        )
    elif before and after and (doubt := _no_proof(case, old, new)):
        yield Draft(
            unit,
            UNDETERMINED,
            f"the serial of {unit} was {old} and is {new}, which {doubt}",
            evidence,
            new,
            old,
            "common practice",
            hint=f"read the label of the new part and state it: --seen {unit}.serial=SERIAL",
            unit=unit,
        )
    else:
        yield Draft(unit, MET, f"{unit} changed from {old} to {new}", evidence, new, old, "the baseline", unit=unit)


_SAMPLES_AGREE = 2


def _no_proof(case: Case, old: str, new: str) -> str:
    """Why a serial that changed does not prove that the part did: it may be a misread old one, or half a new one.

    A label that was read settles it, and so do two samples beside the capture: noise does not repeat itself.
    """
    if case.seen(case.unit, "serial") or case.seen(case.unit, "removed_serial"):
        return ""
    agreeing = (sample for sample in reversed(case.samples) if sample.view.serial_of(case.unit) == new)
    if len(tuple(islice(agreeing, _SAMPLES_AGREE))) == _SAMPLES_AGREE:
        return ""
    if resembles(old, new):
        return "is so much like the old one that it may be the old one misread"
    parts = case.before.fact(case.unit, "part_number"), case.after.fact(case.unit, "part_number")
    alike = parts[0] is None or parts[1] is None or parts[0][0] == parts[1][0]
    if alike and serial_shape(old) != serial_shape(new):
        return "is built otherwise, as if characters were lost"
    return ""


def serial_shape(serial: str) -> str:
    """How a serial is built: letters and digits by their case, all else as it stands."""
    return "".join("x" if c.islower() else "X" if c.isalnum() else c for c in serial)


def resembles(one: str, two: str) -> bool:
    """Whether one serial may be the other misread.

    A character is missing, too many, or another; two neighbours changed places; or up to three characters differ in a
    single bit each, as noise on a line leaves them. Parts of one batch may differ by as little: common practice.
    """
    if len(one) == len(two):
        differ = [(a, b) for a, b in zip(one, two, strict=True) if a != b]
        if len(differ) == 2 and differ[0] == differ[1][::-1]:
            return True
        return len(differ) <= 1 or (len(differ) <= 3 and all((ord(a) ^ ord(b)).bit_count() == 1 for a, b in differ))
    shorter, longer = sorted((one, two), key=len)
    return len(longer) - len(shorter) == 1 and any(longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer)))


def _sat_in(case: Case, serial: str) -> str | None:
    """The other slot in which the baseline showed a serial."""
    return next(
        (u for u, (s, _) in case.before.serials.items() if s == serial and u not in (case.unit, "chassis")), None
    )


def _exchanged(case: Case, other: str) -> bool:
    """Whether the replaced unit and another one sit in each other's slots now."""
    serials = case.before.serials, case.after.serials
    return all(u in side for side in serials for u in (case.unit, other)) and (
        serials[0][case.unit][0] == serials[1][other][0] and serials[0][other][0] == serials[1][case.unit][0]
    )


def _moved(case: Case, whence: str, serial: str, old: str | None, evidence: tuple[Evidence, ...]) -> Draft:
    """What to say of a part that came from another slot of the chassis."""
    unit = case.unit
    evidence = (*evidence, case.before.at(case.before.serials[whence][1], "serial"))
    still = case.after.serials.get(whence)
    if still is not None and still[0] == serial:
        return Draft(
            unit,
            UNDETERMINED,
            f"{unit} and {whence} both show serial {serial}, which cannot be",
            (*evidence, case.after.at(still[1], "serial")),
            serial,
            old,
            "one serial, one part",
            hint="capture again; if it stays so, read the labels of both",
            unit=unit,
        )
    swapped = _exchanged(case, whence)
    return Draft(
        unit,
        UNMET,
        f"{unit} and {whence} exchanged their parts: nothing was replaced"
        if swapped
        else f"the part in {unit} is {serial}, which sat in {whence} before: it was moved, not replaced",
        evidence,
        serial,
        old,
        "the baseline",
        hint=f"put the part back into {whence} and fit the replacement in {unit}",
        unit=unit,
    )


def others(case: Case) -> Iterator[Draft]:
    """No other unit's serial changed: one that did was pulled by mistake, or by someone else.

    A part number that changed although the serial did not, or that stands without a serial, was misread, before or
    after; and so was the serial of a part that is no unit, such as a board or an optic, unless that was changed too.
    """
    before, after = case.before.serials, case.after.serials
    compared = changed = 0
    for unit, (old, earlier) in before.items():
        if unit in (case.unit, "chassis") or unit not in after:
            continue
        compared += 1
        new, now = after[unit]
        if new == old:
            parts = case.before.fact(unit, "part_number"), case.after.fact(unit, "part_number")
            if parts[0] and parts[1] and parts[0][0] != parts[1][0]:
                changed += 1
                yield Draft(
                    unit,
                    UNDETERMINED,
                    f"{unit} has serial {old} still, but part {parts[0][0]} became {parts[1][0]}",
                    (case.after.at(parts[1][1], "part_number"), case.before.at(parts[0][1], "part_number")),
                    parts[1][0],
                    parts[0][0],
                    "the baseline",
                    hint="capture again",
                    unit=unit,
                )
            continue
        if _exchanged(case, unit):  # said of the replaced unit already
            changed += 1
            continue
        whence = next((u for u, (s, _) in before.items() if s == new), None)
        moved = f", which sat in {whence} before" if whence else ""
        yield Draft(
            unit,
            UNMET,
            f"{unit} changed too, from {old} to {new}{moved}; the job is for {case.unit}",
            (case.after.at(now, "serial"), case.before.at(earlier, "serial")),
            new,
            old,
            "the baseline",
            hint=f"find out who changed {unit}; put its own part back if it was pulled by mistake",
            unit=unit,
        )
        changed += 1
    for draft in _other_parts(case):
        changed += 1
        yield draft
    if compared and not changed:
        yield Draft(
            "other units",
            MET,
            f"{counted(compared, 'other serial')} unchanged",
            tuple(
                case.after.at(after[u][1], "serial") for u in before if u in after and u not in (case.unit, "chassis")
            ),
            str(compared),
            None,
            "the baseline",
        )


def _other_parts(case: Case) -> Iterator[Draft]:
    """Serials, part numbers and directions, other than the replaced unit's, that changed in any row.

    Where the texts come from two chassis all of them differ, and that is said.
    """
    if any(draft.outcome is not MET for draft in chassis(case)):
        return
    serials = case.before.serials, case.after.serials
    now = case.after.by_row
    for row, earlier in case.before.by_row.items():
        later = now.get(row)
        was = earlier.reading
        if later is None or later.reading is was or was.unit == case.unit or was.kind == "alarm":
            continue
        unit = was.unit or ""
        told = unit in serials[0] and unit in serials[1] and unit != "chassis"
        if told and serials[0][unit][0] != serials[1][unit][0]:
            continue  # the unit was changed, and that is said
        for fact in ("serial", "part_number", "airflow", "airflow_word", "input_type", *_address(was)):
            old, new = was.given(fact), later.reading.given(fact)
            if not old or not new or old == new:
                continue
            if fact == "serial" and not (is_serial(old) or is_serial(new)):
                continue
            if fact == "part_number" and told and _other_part(case, unit):
                continue  # said with its serial
            yield Draft(
                later.reading.subject,
                UNDETERMINED,
                f"the {fact.replace('_', ' ')} of {later.reading.subject} was {old} and is {new}; the job is for {case.unit}",
                (case.after.at(later, fact), case.before.at(earlier, fact)),
                new,
                old,
                "the baseline",
                hint="capture again; if it stays so, find out who changed it",
                unit=was.unit,
            )


def _address(reading: AnyReading) -> tuple[str, ...]:
    """The field that holds the chassis' own address, where a reading is that."""
    return ("status_text",) if reading.kind == "device" and reading.name == "mac" else ()


def _other_part(case: Case, unit: str) -> bool:
    before, after = case.before.fact(unit, "part_number"), case.after.fact(unit, "part_number")
    return before is not None and after is not None and before[0] != after[0]


def part(case: Case) -> Iterator[Draft]:
    """The part number is the one that was there, or one that the acceptance lists as its substitute."""
    unit = case.unit
    before, after = case.before.fact(unit, "part_number"), case.after.fact(unit, "part_number")
    if before is None and after is not None:  # a dead part may not have answered: its peers were of the same make
        for peer in case.before.units:
            if peer[:3] != unit[:3] or peer == unit or (found := case.before.fact(peer, "part_number")) is None:
                continue
            if after[0] in (found[0], *case.acceptance.identity.substitutes.get(found[0], [])):
                yield Draft(
                    unit,
                    MET,
                    f"{unit} is part {after[0]}, like {peer}; what was in it before was not printed",
                    (case.after.at(after[1], "part_number"), case.before.at(found[1], "part_number")),
                    after[0],
                    found[0],
                    f"its peer {peer}",
                    unit=unit,
                )
                return
    if before is None or after is None:
        if case.after.condition(unit) is Condition.ABSENT:
            return
        printed = before is not None or any(
            case.before.fact(u, "part_number") for u in case.before.units if u[:3] == unit[:3]
        )
        yield Draft(
            unit,
            UNDETERMINED,
            f"the part number of {unit} was not printed {'after' if before else 'before'} the swap",
            case.after.first_of(unit) or (case.after.whole,),
            unit=unit,
            advisory=not printed,
            hint="compare the labels of both parts",
        )
        return
    old, new = before[0], after[0]
    evidence = (case.after.at(after[1], "part_number"), case.before.at(before[1], "part_number"))
    allowed = case.acceptance.identity.substitutes.get(old, [])
    if new == old:
        yield Draft(unit, MET, f"{unit} is part {new}, as before", evidence, new, old, "the baseline", unit=unit)
    elif new in allowed:
        yield Draft(
            unit,
            MET,
            f"{unit} is part {new}, listed as a substitute for {old}",
            evidence,
            new,
            old,
            "acceptance",
            unit=unit,
        )
    else:
        yield Draft(
            unit,
            UNMET,
            f"{unit} is part {new}, the part before was {old}",
            evidence,
            new,
            listed([old, *allowed]),
            "the baseline",
            hint="fit the right part, or list it in the acceptance under [identity.substitutes]",
            unit=unit,
        )


def nothing_missing(case: Case) -> Iterator[Draft]:
    """Every unit, rotor and part of the baseline is still there."""
    kinds = ("power_supply", "fan", "inventory")
    keys = [(k, s) for k, s in case.before.keyed.items() if k[0] in kinds]
    missing = 0
    for key, earlier in keys:
        if earlier.reading.condition is Condition.ABSENT:
            continue  # an empty slot can lose nothing
        if earlier.reading.unit == case.unit and case.after.condition(case.unit) is Condition.ABSENT:
            continue  # the status rules say so
        now = case.after.keyed.get(key)
        if now is None:
            missing += 1
            yield Draft(
                earlier.reading.subject,
                UNMET,
                f"{earlier.reading.subject} of the baseline is gone ({key[0].replace('_', ' ')})",
                (case.before.at(earlier),),
                unit=earlier.reading.unit,
                by_absence=earlier.reading.kind,
                hint="capture again; if it stays away, look at the unit",
            )
        elif now.reading.condition is Condition.ABSENT:
            missing += 1
            yield Draft(
                earlier.reading.subject,
                UNMET,
                f"{earlier.reading.subject} was there before and is absent now",
                (case.after.at(now, "status"), case.before.at(earlier)),
                unit=earlier.reading.unit,
            )
    if keys and not missing:
        yield Draft(
            "units",
            MET,
            f"all of the baseline's {counted(len(keys), 'unit row')} are there",
            (case.after.at(case.after.snapshot.sightings[0]),) if case.after.snapshot.sightings else (),
            str(len(keys)),
            None,
            "the baseline",
        )


RULES = (
    Rule("identity.chassis", "Both texts from one chassis", (), change=chassis),
    Rule("identity.replaced", "The unit was replaced", ("inventory", "power_supply", "fan"), change=replaced),
    Rule("identity.others", "No other unit changed", ("inventory",), change=others),
    Rule("identity.part", "The right part", ("inventory",), change=part),
    Rule(
        "identity.missing",
        "Nothing of the baseline missing",
        ("inventory", "power_supply", "fan"),
        change=nothing_missing,
    ),
)
