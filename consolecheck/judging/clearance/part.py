"""Is the part in the technician's hand the right one?"""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from consolecheck.judging.clearance.asked import Asked
from consolecheck.judging.clearance.place import same
from consolecheck.judging.clearance.power import IDLE, carried
from consolecheck.judging.rules.load import feeds_of, fits_after_loss
from consolecheck.judging.rules.power import DC_BELOW
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, listed
from consolecheck.judging.view import Draft, airflow_of, is_serial
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import Condition
from consolecheck.records.units import Quantity, UnreadableQuantity, parse_quantity


def replacement(asked: Asked) -> Iterator[Draft]:
    """The new part, as its label was read, fits the slot and the chassis.

    Its part number is the fitted one's, or a substitute that the acceptance lists; a supply has the same kind
    of input and no less rated output, enough for the load after a loss; its air goes the way of the chassis
    and the rack; its serial is new to the chassis, for one that is fitted already is the label of another
    part; it is sound and complete. Where the fitted unit does not answer its peers are asked. Common practice,
    but for the acceptance. With nothing stated one finding says so, and does not count.
    """
    unit = asked.unit
    questions: dict[str, Callable[[Asked, str], Draft | None]] = {
        "part": _part,
        "airflow": _airflow,
        "serial": _serial,
        "damage": _damage,
        "contents": _contents,
    }
    if asked.is_supply:
        questions |= {"input": _input, "capacity": _capacity, "capacity after a loss": _after_a_loss}
    stated = {what: value for what in questions if (value := asked.case.seen(unit, what.split()[0]))}
    for what, value in stated.items():
        if (draft := questions[what](asked, value)) is not None:
            evidence = draft.evidence or asked.view.first_of(unit) or (asked.view.whole,)
            yield draft._replace(subject=f"{unit} {what}", evidence=evidence)
    if not stated:
        yield Draft(
            f"{unit} replacement",
            UNDETERMINED,
            f"nothing is stated of the part that shall go into {unit}",
            asked.view.first_of(unit) or (asked.view.whole,),
            hint=f"read its label and state it: --seen {unit}.part=NUMBER",
            advisory=True,
        )


class _Told(NamedTuple):
    """What a unit prints of itself."""

    unit: str
    value: str
    at: Evidence


def _fitted(asked: Asked, of: Callable[[Asked, str], _Told | None]) -> tuple[list[_Told], bool]:
    """What the fitted unit tells, or its peers where it is too ill to tell anything.

    The second says that it ought to have told: it answers, and its peers tell it.
    """
    if own := of(asked, asked.unit):
        return [own], False
    peers = [told for peer in asked.others if (told := of(asked, peer))]
    return (peers, False) if asked.view.condition(asked.unit) in IDLE else ([], bool(peers))


def _open(stated: str, what: str, counts: bool) -> Draft:
    message = f"the new part is {stated}, and {what} is not printed"
    return Draft("", UNDETERMINED, message, (), stated, hint="compare the labels of both parts", advisory=not counts)


def _whose(asked: Asked, told: list[_Told]) -> str:
    return listed(t.unit for t in told) if told[0].unit == asked.unit else f"its peer {listed(t.unit for t in told)}"


def _part_of(asked: Asked, unit: str) -> _Told | None:
    found = asked.view.fact(unit, "part_number")
    return _Told(unit, found[0], asked.view.at(found[1], "part_number")) if found else None


def _part(asked: Asked, stated: str) -> Draft:
    told, counts = _fitted(asked, _part_of)
    if not told:
        return _open(stated, "the part number of the fitted one", counts)
    parts = list(dict.fromkeys(t.value for t in told))
    allowed = [other for part in parts for other in asked.acceptance.identity.substitutes.get(part, [])]
    evidence, limit = tuple(t.at for t in told), listed([*parts, *allowed])
    if any(same(stated, part) for part in parts):
        return Draft("", MET, f"the new part is {stated}, like {_whose(asked, told)}", evidence, stated, limit)
    if any(same(stated, other) for other in allowed):
        message = f"the new part is {stated}, listed as a substitute for {listed(parts)}"
        return Draft("", MET, message, evidence, stated, limit, "acceptance")
    message = f"the new part is {stated}, but {_whose(asked, told)} is {listed(parts)}"
    hint = "get the right part, or list it in the acceptance under [identity.substitutes]"
    return Draft("", UNMET, message, evidence, stated, limit, hint=hint)


def _input_of(asked: Asked, unit: str) -> _Told | None:
    """As printed, else by the volts: above 75 V an input is mains, common practice."""
    view = asked.view
    if printed := view.fact(unit, "input_type"):
        return _Told(unit, printed[0], view.at(printed[1], "input_type"))
    volts = view.quantity(unit, "input_voltage")
    if volts is None or volts[0].value == 0:
        return None
    return _Told(unit, "DC" if abs(volts[0].value) < DC_BELOW else "AC", view.at(volts[1], "input_voltage"))


def _input(asked: Asked, stated: str) -> Draft:
    told, counts = _fitted(asked, _input_of)
    kinds = sorted({t.value for t in told})
    if not told:
        return _open(stated, "the input of the fitted one", counts)
    evidence, limit = tuple(t.at for t in told), listed(kinds)
    if stated not in kinds:
        message = f"the new part takes {stated}, but {_whose(asked, told)} takes {limit}"
        return Draft("", UNMET, message, evidence, stated, limit, hint="get a part for this input; never fit it")
    if len(kinds) > 1:
        message = f"the new part takes {stated}, and whether the fitted one did is not known: its peers take {limit}"
        return Draft("", UNDETERMINED, message, evidence, stated, limit, hint="compare the labels of both parts")
    return Draft("", MET, f"the new part takes {stated}, like {_whose(asked, told)}", evidence, stated, limit)


def _capacity_of(asked: Asked, unit: str) -> _Told | None:
    """Rated output in watts: as printed, or as the acceptance states it by part number."""
    view = asked.view
    if (found := view.quantity(unit, "capacity")) is not None and found[0].value > 0:
        return _Told(unit, f"{found[0].value!r}", view.at(found[1], "capacity"))
    part = _part_of(asked, unit)
    watts = asked.acceptance.power.capacity.get(part.value) if part else None
    return _Told(unit, f"{watts!r}", part.at) if part and watts else None


def _capacity(asked: Asked, stated: str) -> Draft:
    try:
        new = parse_quantity(stated, "W")
    except UnreadableQuantity as reason:
        message = f"the capacity of the new part cannot be understood: {reason}"
        return Draft("", UNDETERMINED, message, (), stated, hint=f"state it in watts: {asked.unit}.capacity=600")
    told, counts = _fitted(asked, _capacity_of)
    if not told:
        return _open(str(new), "the rated power of the fitted one", counts)
    watts = [float(t.value) for t in told]
    least, most = min(watts), max(watts)
    outcome = MET if new.value >= most else UNMET if new.value < least else UNDETERMINED
    return Draft(
        "",
        outcome,
        f"the new part is rated {new}, {_whose(asked, told)} {f'{least:g}' if least == most else f'{least:g} to {most:g}'} W",
        tuple(t.at for t in told),
        new,
        Quantity(value=most, unit="W"),
        "no less than what is fitted, common practice",
        Quantity(value=round(new.value - most, 3), unit="W"),
        None if outcome is MET else "get a part of at least the same rating",
    )


def _after_a_loss(asked: Asked, stated: str) -> Draft | None:
    """With the new part in, the load fits after the loss of any other supply (N+1), or of the other feed (N+N)."""
    limits, unit, found = asked.acceptance.power, asked.unit, carried(asked)
    try:
        new = parse_quantity(stated, "W")
    except UnreadableQuantity:
        return None
    if limits.redundancy not in ("N+1", "N+N") or not found.rest.good:
        return None
    if found.load is None or len(found.rated) < len(found.rest.good):
        message = f"whether the load fits a part of {new} after a loss is not known: a load or a rated power is missing"
        return Draft("", UNDETERMINED, message, (), new, advisory=True)
    rated, feeds = {**found.rated, unit: new.value}, feeds_of(asked.view, asked.case)
    # The loss of the new part itself says nothing of its size: the question of the load is about that.
    losses: list[set[str]] = [{u} for u in found.rated]
    if limits.redundancy == "N+N" and all(any(u in units for units in feeds.values()) for u in rated):
        losses = [units for units in feeds.values() if unit not in units]
    if not losses:  # all hang on one feed, and no other can be lost
        return None
    hardest = max(losses, key=lambda lost: sum(rated.get(u, 0.0) for u in lost))
    rest = sum(w for u, w in rated.items() if u not in hardest) * (1 - limits.headroom_percent / 100)
    fits = fits_after_loss(found.load, rated, hardest, limits.headroom_percent)
    how = f"{'fits' if fits else 'does not fit'} the {rest:g} W left after the loss of {listed(sorted(hardest))}"
    return Draft(
        "",
        MET if fits else UNMET,
        f"with a part of {new} the load of {found.load:g} W {how}",
        tuple(e for u in asked.view.supplies for e in asked.view.first_of(u)),
        Quantity(value=round(found.load, 3), unit="W"),
        Quantity(value=round(rest, 3), unit="W"),
        f"{limits.redundancy}, {limits.headroom_percent:g} % headroom",
        Quantity(value=round(rest - found.load, 3), unit="W"),
        None if fits else "get a part of more rated power",
    )


def _airflow(asked: Asked, stated: str) -> Draft:
    view, rack = asked.whole, asked.acceptance.cooling.airflow
    ways: dict[str, tuple[Evidence, ...]] = {}
    for unit in view.units:
        if view.condition(unit) is Condition.ABSENT:
            continue
        told: dict[str, Evidence] = {
            way: view.at(s, "airflow") for s in view.by_unit[unit] if (way := airflow_of(s.reading))
        }
        if unit != asked.unit and (seen := asked.case.seen(unit, "airflow")):
            told.setdefault(seen, view.at(view.by_unit[unit][0]))
        for moved, where in told.items():
            ways[moved] = (*ways.get(moved, ()), where)
    evidence, usual = tuple(e for where in ways.values() for e in where), listed(sorted(ways))
    source, hint = "one direction in a chassis, common practice", "get a part with the right airflow mark"
    if rack is not None and stated != rack:
        message = f"the new part moves air {stated}, and the rack needs {rack}"
        return Draft("", UNMET, message, evidence, stated, rack, "acceptance", hint=hint)
    if ways and stated not in ways:
        message = f"the new part moves air {stated}, and the chassis {usual}"
        return Draft("", UNMET, message, evidence, stated, usual, source, hint=hint)
    if len(ways) > 1:
        message = f"the units move air {usual}: which way the new part must is not known"
        return Draft("", UNDETERMINED, message, evidence, stated, usual, source, hint="read the marks on the units")
    if not ways and rack is None:
        return _open(stated, "the airflow of the other units", counts=False)
    return Draft("", MET, f"the new part moves air {stated}, as it must", evidence, stated, rack or usual, source)


def _serial(asked: Asked, stated: str) -> Draft:
    view = asked.whole
    for unit, (serial, sighting) in view.serials.items():
        if same(serial, stated):
            place = f"the part that sits in {unit}" if unit != asked.unit else "the part that is to come out"
            message = f"the label says {stated}, but that is {place}"
            hint = "see which part is in your hand, and read its own label"
            return Draft("", UNMET, message, (view.at(sighting, "serial"),), stated, hint=hint)
    if not is_serial(stated):
        return Draft("", UNDETERMINED, f"`{stated}` is no serial", (), stated, hint="read the label again")
    # A unit whose neighbours tell a serial has one too. A dead one need not answer, and is not in the hand yet.
    telling = {unit[:4] for unit in view.serials}
    dead = (asked.unit,) if view.condition(asked.unit) in IDLE else ()
    silent = [u for u in view.units if u[:4] in telling and u not in (*view.serials, *dead)]
    silent = [u for u in silent if view.condition(u) is not Condition.ABSENT]
    if silent or asked.prefix not in telling:
        return _open(stated, f"the serial of {listed(silent or [asked.unit])}", counts=bool(silent))
    evidence = tuple(view.at(s, "serial") for _, s in view.serials.values())
    return Draft("", MET, f"the new part is {stated}, which is fitted nowhere in this chassis", evidence, stated)


def _damage(asked: Asked, stated: str) -> Draft:
    if stated != "found":
        return Draft("", MET, "the new part shows no damage", (), stated)
    hint = "get a sound part before anything is pulled"
    return Draft("", UNMET, "the new part is damaged", (), stated, hint=hint)


def _contents(asked: Asked, stated: str) -> Draft:
    if stated != "missing":
        return Draft("", MET, "all that belongs to the new part is there", (), stated, advisory=True)
    hint = "see whether the swap can be done without it"
    return Draft("", UNMET, "something that belongs to the new part is missing", (), stated, hint=hint, advisory=True)
