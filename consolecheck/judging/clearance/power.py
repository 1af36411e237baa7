"""Can the other supplies do without the one that is to be pulled?"""

from collections.abc import Iterator
from typing import NamedTuple

from consolecheck.judging.clearance.asked import Asked, Rest
from consolecheck.judging.rules.load import feeds_of, fits_after_loss, load_of, needed_units, rating_of
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, listed
from consolecheck.judging.view import Draft
from consolecheck.records.findings import Evidence, Outcome
from consolecheck.records.readings import Condition, Sighting
from consolecheck.records.units import Quantity

IDLE = (Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT)
_IS = {
    Condition.FAILED: "has failed",
    Condition.ABSENT: "is not in its slot",
    Condition.NO_INPUT: "has no input power",
}


class Load(NamedTuple):
    """What the supplies of the chassis deliver, W, and the supply's own part of it where each prints one."""

    total: float
    by_unit: dict[str, tuple[float, Sighting]]


def load_here(asked: Asked) -> Load | None:
    """The load of the chassis; None where it is not printed, or where the sum would have a hole in it."""
    view = asked.view
    load = load_of(view)
    if load is None or load.total <= 0:
        return None
    silent = [u for u in view.units if u.startswith("psu-") and u not in view.supplies]
    if load.by_unit and any(view.condition(u) is not Condition.ABSENT for u in silent):
        return None
    return Load(load.total, load.by_unit)


def delivers_nothing(asked: Asked) -> bool:
    """Whether the unit is absent, failed or without input, and no figure of it says otherwise."""
    view, unit = asked.view, asked.unit
    told = (view.quantity(unit, "output_power"), view.quantity(unit, "output_current"))
    return view.condition(unit) in IDLE and not any(t is not None and t[0].value > 0 for t in told)


def idle_others(asked: Asked) -> tuple[str, ...]:
    """Other supplies that report ok while they carry next to nothing of the load.

    Less than the share that a new supply must carry (acceptance, a fifth of an equal one): such a supply may
    stand by to take over, or it may not be able to.
    """
    load, view = load_here(asked), asked.view
    if load is None:
        return ()
    carrying = sum(view.condition(u) in (Condition.OK, Condition.WARNING) for u in load.by_unit)
    least = load.total / max(carrying, 1) * asked.acceptance.power.least_share_percent / 100
    return tuple(
        u
        for u in asked.others
        if view.condition(u) is Condition.OK and u in load.by_unit and load.by_unit[u][0] < least
    )


def supplies_left(asked: Asked) -> Rest:
    """The other supplies. Only ok counts as good, and standby where the acceptance says so (RFC 4268)."""
    view, idle = asked.view, idle_others(asked)
    good = [Condition.OK, *([Condition.STANDBY] if asked.acceptance.power.standby_is_good else [])]
    unknown = (None, Condition.UNKNOWN)
    return Rest(
        tuple(u for u in asked.others if view.condition(u) in good and u not in idle),
        tuple(u for u in asked.others if view.condition(u) not in (*good, *unknown)),
        tuple(u for u in asked.others if view.condition(u) in unknown or u in idle),
    )


class Carried(NamedTuple):
    """Whether the good ones of the other supplies carry the load; `capacity` in watts, headroom taken off."""

    outcome: Outcome
    rest: Rest
    load: float | None
    rated: dict[str, float]
    capacity: float
    source: str


def carried(asked: Asked) -> Carried:
    """The load against what the good other supplies can deliver. What is not known can only add to it."""
    rest, load, headroom = supplies_left(asked), load_here(asked), asked.acceptance.power.headroom_percent
    found = {u: r for u in rest.good if (r := rating_of(asked.view, asked.case, u))}
    rated = {u: watts for u, (watts, _) in found.items()}
    if load is None:
        outcome = UNDETERMINED
    elif fits_after_loss(load.total, rated, {asked.unit}, headroom):
        outcome = MET
    else:
        outcome = UNDETERMINED if rest.untold or len(rated) < len(rest.good) else UNMET
    return Carried(
        outcome,
        rest,
        load.total if load else None,
        rated,
        sum(rated.values()) * (1 - headroom / 100),
        next((told for _, told in found.values()), "rated power"),
    )


def load(asked: Asked) -> Iterator[Draft]:
    """The good supplies that stay carry the load alone, with the acceptance's headroom kept free.

    The load is what all supplies deliver now; what stays must have N = ceil(load / rated power of one) good
    supplies, or their like. Trade definition of redundancy; exactly full is full and not over. Headroom:
    common practice. A unit that delivers nothing takes nothing away, so the rest carries the load already.
    With the feeds known, it is told on what the switch hangs while the unit is out; under N+1 and N+N alike
    that spare is gone for as long, so it never counts.
    """
    if not asked.is_supply:
        return
    view, unit, found = asked.view, asked.unit, carried(asked)
    watts = None if found.load is None else Quantity(value=round(found.load, 3), unit="W")
    evidence = tuple(view.at(sightings[0]) for sightings in view.supplies.values()) or (view.whole,)
    if delivers_nothing(asked):
        condition = view.condition(unit)
        assert condition is not None
        already = f"the load of {found.load:g} W" if found.load is not None else "the load"
        yield Draft(
            unit,
            MET,
            f"{unit} {_IS[condition]} and delivers nothing: the rest carries {already} already",
            (*view.telling(unit, condition), *evidence),
            watts,
        )
    elif found.outcome is UNDETERMINED:
        yield _open(asked, found, evidence, watts)
    elif asked.others and found.load is not None:
        fits = found.outcome is MET
        room = f"the {found.capacity:g} W of {listed(found.rated)}" if found.rated else "0 W: no other one is good"
        least = f"N = {needed_units(found.load, min(found.rated.values()))}, " if found.rated else ""
        yield Draft(
            unit,
            found.outcome,
            f"without {unit} the load of {found.load:g} W {'fits' if fits else 'does not fit'} {room}",
            evidence,
            watts,
            Quantity(value=round(found.capacity, 3), unit="W"),
            f"{least}{asked.acceptance.power.headroom_percent:g} % headroom; {found.source}",
            Quantity(value=round(found.capacity - found.load, 3), unit="W"),
            None if fits else f"leave {unit} in its slot; lower the load or add a supply first",
        )
    yield from _on_feeds(asked, found.rest)


def _open(asked: Asked, found: Carried, evidence: tuple[Evidence, ...], watts: Quantity | None) -> Draft:
    unrated = [u for u in found.rest.good if u not in found.rated]
    if found.load is None:
        why, hint = (
            "the load was not printed",
            "meter it, and hold it against the rated power of the supplies that stay",
        )
    elif unrated:
        why = f"the rated power of {listed(unrated)} is not known"
        hint = "state it by part number in the acceptance under [power.capacity]"
    else:
        why, hint = f"whether {listed(found.rest.untold)} is good is not known", "look at its lamp and capture again"
    message = f"whether the rest carries the load without {asked.unit} is not known: {why}"
    return Draft(asked.unit, UNDETERMINED, message, evidence, watts, hint=hint)


def _on_feeds(asked: Asked, rest: Rest) -> Iterator[Draft]:
    feeds = feeds_of(asked.view, asked.case)
    hung = {feed: [u for u in rest.good if u in units] for feed, units in feeds.items()}
    hung = {feed: units for feed, units in hung.items() if units}
    if not rest.good or sum(len(units) for units in hung.values()) < len(rest.good):
        return  # a cord that nobody followed may hang anywhere
    evidence = tuple(
        asked.view.at(printed[1], "feed") for u in rest.good if (printed := asked.view.fact(u, "feed"))
    ) or asked.view.first_of(rest.good[0])
    alone = len(hung) == 1
    if alone:
        message = f"while {asked.unit} is out, feed {next(iter(hung))} alone carries the switch"
        if asked.acceptance.power.redundancy == "N+N":
            message += ", and N+N is lost for as long"
    else:
        message = f"while {asked.unit} is out, feeds {listed(sorted(hung))} carry the switch"
    yield Draft(
        "feeds",
        UNMET if alone else MET,
        message,
        evidence,
        listed(sorted(hung)),
        source="trade definition",
        hint=f"have the replacement at hand, and leave feed {next(iter(hung))} alone meanwhile" if alone else None,
        advisory=True,
    )


def last_leg(asked: Asked) -> Iterator[Draft]:
    """At least one other supply is good: the last one is never pulled, whatever the load.

    A unit that delivers nothing may be pulled although it has failed; what stays must be good all the same.
    Common practice.
    """
    if not asked.is_supply:
        return
    view, unit, rest = asked.view, asked.unit, supplies_left(asked)
    idle = delivers_nothing(asked)
    evidence = tuple(e for u in asked.others for e in view.telling(u, view.condition(u))) or (view.whole,)
    if rest.good:
        yield Draft(
            unit,
            MET,
            f"{listed(rest.good)} {'stays' if len(rest.good) == 1 else 'stay'} when {unit} is out",
            evidence,
            str(len(rest.good)),
            "1",
            "common practice",
        )
    elif rest.untold:
        yield Draft(
            unit,
            UNDETERMINED,
            f"whether {listed(rest.untold)} can carry the switch without {unit} is not known",
            evidence,
            "0",
            "1",
            "common practice",
            hint="look at its lamp and capture again",
        )
    else:
        others = (
            f"{listed(rest.ill)} {'is' if len(rest.ill) == 1 else 'are'} not good"
            if rest.ill
            else "no other supply is there"
        )
        yield Draft(
            unit,
            UNMET,
            f"{unit} delivers nothing, and {others}" if idle else f"{unit} is the last leg: {others}",
            evidence,
            "0",
            "1",
            "common practice",
            hint="get another supply to serve first",
            by_absence=None if rest.ill else "power_supply",
        )
