"""Have the temperatures settled, and how did the air behave meanwhile? Over the samples since the part was seated."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import inf

from consolecheck.judging.rules.plausible import values_alike
from consolecheck.judging.rules.rule import MET, UNDETERMINED, UNMET, Rule, counted, listed
from consolecheck.judging.rules.temperature import is_named
from consolecheck.judging.settling import Course, largest_change, settling_of, since_seated
from consolecheck.judging.view import Case, Draft, Key, Sample
from consolecheck.records.findings import Evidence, Outcome
from consolecheck.records.readings import Temperature
from consolecheck.records.units import Quantity


def settled(case: Case) -> Iterator[Draft]:
    """Temperatures have settled since the part was seated, and none will stand at or over its limit.

    First-order fit over the samples (see judging/settling.py); what is still to come must be below the
    acceptance's limit. The fitted end counts, not only the reading of the moment. Samples that all are one text
    tell nothing. Required where samples
    were taken; a verdict on two texts alone says that it was judged at one moment.
    """
    needed = case.acceptance.settling.required
    if needed is False:
        return
    if not case.samples:
        if needed:
            yield Draft(
                "temperatures",
                UNDETERMINED,
                "whether the temperatures have settled is not known: no samples were taken",
                hint="let `consolecheck verify` watch the switch after the swap",
            )
        return
    serial = case.after.serials.get(case.unit)
    samples = since_seated(case.samples, case.unit, serial[0] if serial else None)
    if not samples:
        yield Draft(
            case.unit,
            UNDETERMINED,
            f"no sample shows {case.unit} as it is fitted now",
            case.after.first_of(case.unit),
            unit=case.unit,
            hint="watch the switch again with the part in its slot",
        )
        return
    own = set(case.after.snapshot.hosts)
    foreign = [s for s in samples if own and s.snapshot.hosts and set(s.snapshot.hosts) != own]
    if len(foreign) * 2 > len(samples):
        yield Draft(
            "samples",
            UNDETERMINED,
            f"the samples come from {listed(sorted({h for s in foreign for h in s.snapshot.hosts}))}, "
            f"the capture after the swap from {listed(sorted(own))}",
            tuple(Evidence("after", line) for line in case.after.snapshot.hosts.values()),
            hint="watch the switch that was captured",
        )
        return
    if foreign:  # a prompt with a character lost on the line: that sample says nothing
        samples = tuple(s for s in samples if s not in foreign)
    if (alike := _alike_in_a_row(samples)) >= MOST_ALIKE:
        yield Draft(
            "samples",
            UNDETERMINED,
            f"{alike} samples in a row show the same in every measured value: one of them was taken again and again",
            (case.after.whole,),
            str(alike),
            str(MOST_ALIKE - 1),
            "common practice",
            hint="watch the switch again",
        )
        return
    found = settling_of(samples, case.acceptance)
    if not found.courses:
        yield Draft(
            "temperatures", UNDETERMINED, "no sample shows a temperature that could settle", (case.after.whole,)
        )
    if found.unrest:
        yield Draft("fans", UNDETERMINED, found.unrest, (case.after.whole,), source="common practice", hint="wait")
    within: list[Draft] = []
    for course in found.courses:
        draft = _end_of(case, course)
        if draft.outcome is MET:
            within.append(draft)
        else:
            yield draft
    if within:
        closest = min(within, key=lambda draft: draft.margin.value if draft.margin else inf)
        beside = f"; {counted(len(within) - 1, 'other')} with more room" if len(within) > 1 else ""
        yield closest._replace(message=closest.message + beside)


MOST_ALIKE = 4
"""So many samples in a row are not alike to the last digit of every value. Common practice, no source."""


def _alike_in_a_row(samples: Sequence[Sample]) -> int:
    """The longest run of samples that show the same in all of at least eight measured values."""
    longest = run = 1
    for earlier, sample in pairwise(samples):
        run = run + 1 if values_alike(earlier.view, sample.view) else 1
        longest = max(longest, run)
    return longest


def _end_of(case: Case, course: Course) -> Draft:
    """Where one sensor will stand, against its limit; the margin is the room that it keeps."""
    sighting = case.after.keyed.get(course.key)
    reading = sighting.reading if sighting else None
    subject = reading.subject if reading else course.name or course.unit or "sensor"
    evidence = (case.after.at(sighting, "value"),) if sighting else (case.after.whole,)
    limit = (reading.high_warning or reading.high_critical) if isinstance(reading, Temperature) else None
    now = reading.value if isinstance(reading, Temperature) else None
    end = None if course.end is None else Quantity(value=round(course.end, 1), unit="Cel")
    source = "first-order fit over the samples"

    def draft(outcome: Outcome, message: str, margin: float | None = None, hint: str | None = None) -> Draft:
        room = None if margin is None else Quantity(value=round(margin, 1), unit="Cel")
        return Draft(subject, outcome, message, evidence, end, limit, source, room, hint, unit=course.unit)

    will = f"{subject} will stand at {end}" if end else f"where {subject} will stand is not known"
    if now is None or (course.now is not None and abs(now.value - course.now) > CONTINUES_WITHIN + course.doubt):
        return draft(
            UNDETERMINED, f"the capture after the swap does not continue the samples of {subject}", hint="capture again"
        )
    room = limit.value - course.end if limit is not None and course.end is not None else inf
    if limit is not None and course.state != "unclear" and room + course.doubt <= 0:
        return draft(
            UNMET, f"{will}, at or above its warning limit of {limit}", room, "find out what heats it before you leave"
        )
    if course.state != "settled":
        return draft(
            UNDETERMINED,
            f"{subject} has not settled: {course.why}" + (f"; {will}" if end else ""),
            None,
            "wait, then verify again",
        )
    if limit is not None and room - course.doubt <= 0:
        return draft(
            UNDETERMINED,
            f"{will} within {course.doubt:.1f} K, too close to its warning limit of {limit} to tell",
            room,
            "watch it longer",
        )
    beside = "" if limit is None else f", {room:.1f} K below its limit of {limit}"
    return draft(MET, f"{will}{beside} ({course.why})", room if limit is not None else None)


CONTINUES_WITHIN = 3.0
"""Kelvin between the last sample and the capture that follows it. Common practice, no source."""


SAFE_RATES = ((900.0, 5.0), (3600.0, 20.0))
"""Seconds, and kelvin that the inlet air may change within them: ASHRAE TC 9.9, Thermal Guidelines, 5th ed.
(2021), without tape: 5 K in any 15 minutes, 20 K in any hour."""


def inlet_rate(case: Case) -> Iterator[Draft]:
    """The inlet air changed no faster than its class allows while the switch was watched.

    ASHRAE TC 9.9, Thermal Guidelines, 5th ed. (2021): 5 K in any 15 minutes and 20 K in any hour.
    """
    names = case.acceptance.temperature.inlet_names
    points: dict[Key, list[tuple[float, float]]] = {}
    others: set[Key] = set()
    for sample in case.samples:
        for key, value in sample.view.temperatures.items():
            if value is None or key in others:
                continue
            if key in points or is_named(key[2], names):
                points.setdefault(key, []).append((sample.seconds, value))
            else:
                others.add(key)
    for key, course in points.items():
        now = case.after.keyed.get(key)
        for seconds, most in SAFE_RATES:
            change = round(largest_change(course, seconds), 3)
            if change > most:
                yield Draft(
                    key[2] or "inlet",
                    UNMET,
                    f"{key[2]} changed by {change:g} K within {seconds / 60:.0f} minutes",
                    (case.after.at(now, "value"),) if now else (case.after.whole,),
                    Quantity(value=change, unit="Cel"),
                    Quantity(value=most, unit="Cel"),
                    "ASHRAE TC 9.9, 5th ed. (2021)",
                    Quantity(value=round(most - change, 3), unit="Cel"),
                    "look at the room's cooling",
                )


RULES = (
    Rule("temperature.settled", "Temperatures have settled", ("temperature",), change=settled),
    Rule("temperature.inlet-rate", "Inlet air steady enough", ("temperature",), change=inlet_rate, required=False),
)
