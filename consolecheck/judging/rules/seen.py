"""What eyes saw, held against the text and the maker's chart.

An observation stands on no line: the evidence points at where the text speaks of the same thing, or at its
end. What nobody looked at, or could not see, is judged by nobody.
"""

from collections.abc import Iterator

from consolecheck.judging.rules.load import redundancy
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, listed
from consolecheck.judging.view import Case, Draft, Observed, View
from consolecheck.records.findings import Evidence
from consolecheck.records.readings import Condition, Sighting

CHASSIS = "chassis"
PORT = "port-"
ONE_FEED = "1 feed"
"""What the redundancy rule measures, too, where it knows the load."""


def observation(case: Case, unit: str, fact: str) -> Observed | None:
    """The last word on a fact, with who said it; None where nobody looked or could see."""
    return next((o for o in reversed(case.observed) if o.unit == unit and o.fact == fact and o.seen), None)


def observations(case: Case, fact: str) -> list[Observed]:
    """The last word on a fact of every unit that it was stated of."""
    units = dict.fromkeys(o.unit for o in case.observed if o.fact == fact)
    return [seen for unit in units if (seen := observation(case, unit, fact))]


def by_whom(seen: Observed) -> str:
    """` (seen by NAME)`, or nothing where the name is not known."""
    return f" (seen by {seen.by})" if seen.by else ""


def _beside(view: View, unit: str) -> tuple[Evidence, ...]:
    return view.first_of(unit) or (view.whole,)


_WELL = (Condition.OK, Condition.STANDBY)


def lamp(view: View, case: Case) -> Iterator[Draft]:
    """A lamp shows what the maker's chart calls well, and the text says the same of the unit.

    The chart is data of the dialect. Colours mean different things at different makers (common practice, as
    hardware guides of several show), so without it no colour is judged. A fault elsewhere that the baseline
    showed already is told and not held against this swap.
    """
    for seen in observations(case, "lamp"):
        unit = seen.unit
        which = CHASSIS if unit == CHASSIS else "unit"
        shows = f"the lamp of {'the chassis' if unit == CHASSIS else unit} shows `{seen.value}`{by_whom(seen)}"
        chart = view.snapshot.lamps.get(which, {})
        means = chart.get(" ".join(seen.value.lower().split()))
        evidence = _beside(view, unit) if unit == CHASSIS else view.telling(unit, view.condition(unit)) or (view.whole,)
        if means is None or means is Condition.UNKNOWN:
            reason = (
                f"the chart of this family does not list it ({listed(chart, 8)})"
                if chart
                else "the chart of this family is not known"
            )
            yield Draft(
                unit,
                UNDETERMINED,
                f"{shows}: {reason}",
                evidence,
                seen.value,
                hint="look it up in the maker's guide",
                unit=unit,
                advisory=True,
            )
            continue
        told = None if unit == CHASSIS else view.condition(unit)
        apart = ""
        if told not in (None, Condition.UNKNOWN, means):
            apart = f", {'but' if (told in _WELL) is not (means in _WELL) else 'and'} the text says {told.value}"
        if means is Condition.OK or (means is Condition.STANDBY and _may_rest(unit, case)):
            outcome = UNDETERMINED if apart else MET
        else:
            outcome = UNDETERMINED if means is Condition.STANDBY and unit.startswith("fan-") else UNMET
        yield Draft(
            unit,
            outcome,
            f"{shows}, {means.value} by the maker's chart{apart}",
            evidence,
            seen.value,
            means.value,
            "the maker's chart",
            hint=None if outcome is MET else "look again; if the lamp stays so, go by the maker's guide",
            unit=unit,
            advisory=outcome is UNMET and unit != case.unit and _stood(case, unit),
        )


def _may_rest(unit: str, case: Case) -> bool:
    return unit.startswith("psu-") and case.acceptance.power.standby_is_good


def _stood(case: Case, unit: str) -> bool:
    """Whether the baseline and the text after it show a fault that is not the replaced unit's, and so explains a lamp.

    Of the chassis' lamp that is any unit or alarm; of a unit's lamp the unit.
    """
    if case.acceptance.standing_faults_count:
        return False
    units = [u for u in case.before.units if u != case.unit] if unit == CHASSIS else [unit]
    if any((was := case.before.condition(u)) not in (None, *_WELL) and was is case.after.condition(u) for u in units):
        return True
    alarms = [
        (s, case.after.keyed.get(key))
        for key, s in case.before.keyed.items()
        if unit == CHASSIS and key[0] == "alarm" and s.reading.unit != case.unit
    ]
    return any(
        now is not None and was.reading.condition is not Condition.OK and now.reading.condition is not Condition.OK
        for was, now in alarms
    )


def _links(view: View) -> dict[str, Sighting]:
    """`port-NAME` in lower case -> the first row of that link."""
    found: dict[str, Sighting] = {}
    for sighting in view.of("link"):
        if sighting.reading.name:
            found.setdefault(f"{PORT}{sighting.reading.name.lower()}", sighting)
    return found


def _up(link: Sighting) -> bool | None:
    condition = link.reading.condition
    return None if condition in (None, Condition.UNKNOWN) else condition is Condition.OK


def ports(view: View, case: Case) -> Iterator[Draft]:
    """The lamps of a port say what the text says of its link, and a link that was up is lit."""
    now, before = _links(view), _links(case.before)
    for seen in observations(case, "lamps"):
        lit, link, earlier = seen.value == "lit", now.get(seen.unit), before.get(seen.unit)
        name = seen.unit.removeprefix(PORT)
        shows = f"the lamps of port {name} are {seen.value}{by_whom(seen)}"
        said = link.reading.status_text if link else None
        up = _up(link) if link else None
        was_up = earlier is not None and earlier.reading.condition is Condition.OK
        evidence = (
            *((view.at(link, "status"),) if link else ()),
            *((case.before.at(earlier, "status"),) if earlier and was_up and not lit else ()),
        ) or (view.whole,)
        outcome, advisory, hint = MET, False, None
        if link is None and earlier is None:
            outcome, advisory = UNDETERMINED, True
            message = f"{shows}, but no text shows such a port"
            hint = view.capture("link")
        elif up is not None and up is not lit:
            outcome = UNDETERMINED
            message = f"{shows}, but the text says `{said}`"
            hint = "look again at the lamps of this port, then capture the links again"
        elif was_up and not lit:
            outcome = UNMET
            message = f"{shows}, and the link was up before the swap"
            hint = "check the cable that was moved"
        else:
            message = f"{shows}, as the text says (`{said}`)" if up is not None else shows
        yield Draft(seen.unit, outcome, message, evidence, seen.value, said, hint=hint, advisory=advisory)


def feed(view: View, case: Case) -> Iterator[Draft]:
    """The cords of the good supplies go to more than one feed, and to the feeds that the papers name.

    Two cords on one feed go out together. Required where the acceptance asks for N+N, where the redundancy
    rule says so already if it can; elsewhere beside the verdict. Trade definition of N+N: N on each of two
    independent feeds.
    """
    good = [u for u in view.supplies if view.condition(u) in _WELL]
    planned = {u: name for name, units in case.acceptance.power.feeds.items() for u in units}
    looked = {u: seen for u in good if (seen := observation(case, u, "feed"))}
    feeds: dict[str, str] = {}
    contradicted = False
    for unit in good:
        seen, printed = looked.get(unit), view.fact(unit, "feed")
        told = [
            *([("the text", printed[0])] if printed else []),
            *([("the acceptance", planned[unit])] if unit in planned else []),
        ]
        if seen is None:
            if told:
                feeds[unit] = told[-1][1].upper()
            continue
        feeds[unit] = seen.value.upper()
        for source, name in told:
            if name.upper() != seen.value.upper():
                contradicted = True
                yield Draft(
                    unit,
                    UNDETERMINED,
                    f"the cord of {unit} goes to feed {seen.value}{by_whom(seen)}, but {source} says {name}",
                    (view.at(printed[1], "feed"),) if printed else _beside(view, unit),
                    seen.value,
                    name,
                    source,
                    hint="follow the cord again; move it, or correct what names the other feed",
                    unit=unit,
                )
                break
    n_plus_n = case.acceptance.power.redundancy == "N+N"
    names = sorted(set(feeds.values()))
    if len(good) < 2 or contradicted:
        return
    evidence = tuple(_beside(view, unit)[0] for unit in good)
    whom = next(map(by_whom, looked.values()), "")
    if len(names) > 1:
        if looked:
            yield Draft(
                "supplies",
                MET,
                f"the supplies hang on feeds {listed(names)}{whom}",
                evidence,
                f"{len(names)} feeds",
                "2 feeds",
                advisory=not n_plus_n,
            )
        return
    if len(feeds) < len(good) or (n_plus_n and any(d.measured == ONE_FEED for d in redundancy(view, case))):
        return
    yield Draft(
        "supplies",
        UNMET,
        f"all supplies hang on feed {names[0]}{whom}",
        evidence,
        ONE_FEED,
        "2 feeds",
        "trade definition of N+N",
        hint="move a cord to the other feed, so that the loss of one takes only its own supplies",
        advisory=not n_plus_n,
    )


def earth(view: View, case: Case) -> Iterator[Draft]:
    """The chassis is earthed: connected before any supply lead and taken off after all of them.

    Common practice, as hardware guides of two makers ask.
    """
    seen = observation(case, CHASSIS, "earth")
    if seen is None:
        return
    fits = seen.value == "connected"
    yield Draft(
        CHASSIS,
        MET if fits else UNMET,
        f"the earth lead of the chassis is {seen.value}{by_whom(seen)}",
        _beside(view, CHASSIS),
        seen.value,
        "connected",
        "common practice: earth first on and last off",
        hint=None if fits else "fasten the earth lead before anything else is plugged or pulled",
        unit=CHASSIS,
    )


def damage(view: View, case: Case) -> Iterator[Draft]:
    """The new part was looked over and is not damaged. Common practice."""
    for seen in observations(case, "damage"):
        fits = seen.value == "none"
        yield Draft(
            seen.unit,
            MET if fits else UNMET,
            f"{'no ' if fits else ''}damage was found on the part for {seen.unit}{by_whom(seen)}",
            _beside(view, seen.unit),
            seen.value,
            "none",
            "inspection, common practice",
            hint=None if fits else "do not fit it; if it is in, take it out and have it inspected",
            unit=seen.unit,
        )


def contents(view: View, case: Case) -> Iterator[Draft]:
    """What belongs to the new part came with it. Common practice."""
    for seen in observations(case, "contents"):
        fits = seen.value == "complete"
        yield Draft(
            seen.unit,
            MET if fits else UNMET,
            f"what came with the part for {seen.unit} is {'complete' if fits else 'not complete'}{by_whom(seen)}",
            _beside(view, seen.unit),
            seen.value,
            "complete",
            "inspection, common practice",
            hint=None if fits else "note what is missing and ask for it",
            unit=seen.unit,
        )


RULES = (
    Rule("seen.lamp", "Lamps show what the chart calls well", (), state=lamp, standing=False),
    Rule("seen.ports", "Port lamps agree with the links", ("link",), state=ports, standing=False),
    Rule("seen.feed", "Cords on more than one feed", ("power_supply",), state=feed, standing=False),
    Rule("seen.earth", "Chassis earthed", (), state=earth, standing=False),
    Rule("seen.damage", "No damage on the part", (), state=damage, standing=False),
    Rule("seen.contents", "Nothing missing with the part", (), state=contents, standing=False, required=False),
)
