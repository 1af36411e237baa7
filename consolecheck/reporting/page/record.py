"""What persons did and saw, which parts were fitted, and what the journal tells."""

from collections.abc import Mapping, Sequence
from typing import Any

from consolecheck.judging.clearance import Answer
from consolecheck.judging.view import NOT_SEEN, Observed, View
from consolecheck.records.findings import Finding, Outcome
from consolecheck.reporting.page.evidence import Lines
from consolecheck.reporting.page.markup import Html, joined, said, section, table, tag
from consolecheck.reporting.page.signs import outcome, shape
from consolecheck.reporting.page.work import case_of
from consolecheck.reporting.proof import Event, Proof

NONE = "–"


def identity(proof: Proof, lines: Lines) -> Html:
    """Part and serial of every unit, before and after."""
    case = case_of(proof)
    units = [u for view in (case.before, case.after) for u in (*view.serials, *view.units)]
    rows = []
    for unit in dict.fromkeys(units):
        was, now = case.before.serials.get(unit), case.after.serials.get(unit)
        parts = [fact[0] if (fact := view.fact(unit, "part_number")) else None for view in (case.before, case.after)]
        changed = _changed(was[0] if was else None, now[0] if now else None, case.before, unit, proof)
        places = [lines.link(view.at(s[1], "serial")) for view, s in ((case.before, was), (case.after, now)) if s]
        rows.append(
            [
                tag("b", said(unit)) if unit == proof.judgement.unit else said(unit),
                *(said(part) if part else NONE for part in parts),
                said(was[0]) if was else NONE,
                said(now[0]) if now else NONE,
                changed,
                joined([p for p in places if p], ", "),
            ]
        )
    if not rows:
        return Html()
    heads = ["Unit", "Part before", "Part after", "Serial before", "Serial after", "Change", "Read from"]
    return section("identity", "Parts and serials", table("Which part sits where", heads, rows))


def _changed(was: str | None, now: str | None, before: View, unit: str, proof: Proof) -> Html:
    if proof.before is None:
        return joined(["no capture before"])
    if was is None or now is None:
        return joined(["not known" if was or now else "not printed"])
    if was == now:
        return joined(
            ["same part, put back on purpose" if unit == proof.judgement.unit and proof.reseat else "same part"]
        )
    came_from = next((u for u, (serial, _) in before.serials.items() if serial == now), None)
    return tag("b", "moved here from ", said(came_from)) if came_from else tag("b", "another part")


_FACTS = {
    "serial": "serial on the new part's label",
    "removed_serial": "serial of the part that came out",
    "part": "part number on the label",
    "capacity": "rated watts on the label",
    "input": "input on the label",
    "airflow": "airflow mark on the part",
    "feed": "feed of its cord",
    "lamp": "its lamp",
    "lamps": "its link lamps",
    "earth": "earth connection",
    "cold_aisle": "side to the cold aisle",
    "damage": "damage",
    "contents": "contents of the box",
}


def seen(proof: Proof) -> Html:
    """What eyes saw, and which cautions were acknowledged, each with name and time."""
    parts: list[str] = []
    if proof.observed:
        rows = [
            [said(o.unit), _FACTS.get(o.fact, o.fact), _answer(o, proof), said(o.by) if o.by else NONE, _time(o.at)]
            for o in proof.observed
        ]
        parts.append(table("What was seen", ["Of", "What", "Answer", "By", "When"], rows))
    else:
        parts.append(tag("p", "Nothing was stated that only eyes can see.", class_="plain"))
    for event in proof.journal:
        if event.what == "cautions acknowledged":
            named = event.facts.get("ids")
            ids = [str(i) for i in named] if isinstance(named, list) else []
            told = [tag("li", said(proof.cautions.get(i, i))) for i in ids]
            head = tag(
                "p",
                "Cautions acknowledged by ",
                said(str(event.facts.get("by") or "nobody named")),
                ", ",
                _time(event.at),
                ":",
            )
            parts.append(tag("div", tag("h3", "Cautions"), head, tag("ul", *told) if told else "", class_="cautions"))
    return section("seen", "Seen by a person", *parts)


def _answer(o: Observed, proof: Proof) -> Html:
    if o.value == NOT_SEEN:
        return joined(["could not see"])
    chart = proof.lamps.get("chassis" if o.unit == "chassis" else "port" if o.unit.startswith("port-") else "unit", {})
    means = next((lamp.means for word, lamp in chart.items() if word.lower() == o.value.lower()), None)
    if o.fact not in ("lamp", "lamps") or means is None:
        return said(o.value)
    return joined((said(o.value), f" (by the maker's chart: {means})"))


_CLEARED = {
    Answer.GO: ("good", "Go: it may be pulled"),
    Answer.HOLD: ("bad", "Hold: something speaks against pulling it"),
    Answer.UNKNOWN: ("open", "Unknown: something that must be known is not"),
}


def clearance(proof: Proof, lines: Lines) -> Html:
    """What was answered before the unit was pulled, and why somebody went on all the same."""
    told = proof.clearance
    if told is None:
        return Html()
    name, words = _CLEARED[told.answer]
    parts: list[str] = [tag("p", tag("span", shape(name), words, class_=f"word {name}"), class_="answer")]
    for event in proof.journal:
        if event.what == "overridden":
            parts.append(
                tag(
                    "p",
                    tag("b", "Gone on all the same"),
                    " by ",
                    said(str(event.facts.get("by") or "nobody named")),
                    ", ",
                    _time(event.at),
                    ". Reason: ",
                    said(str(event.facts.get("reason", ""))),
                    class_="override",
                )
            )
    rows = [[said(f.message), outcome(f.outcome), "yes" if f.required else "no", lines.links(f)] for f in told.findings]
    parts.append(table("What the answer rests on", ["Finding", "Outcome", "Counts", "Line"], rows))
    return section("clearance", "Clearance before it was pulled", *parts)


def standing(proof: Proof, lines: Lines) -> Html:
    """Faults that the capture before the swap already showed."""
    found = [f for f in proof.judgement.findings if f.standing]
    if not found:
        return Html()
    held = (
        "They count against this swap."
        if proof.limits.standing_faults_count
        else "They are not held against this swap."
    )
    items = [tag("li", said(f.message), " (", lines.links(f), ")") for f in found]
    return section("standing", "Faults that stood before", tag("p", held, class_="plain"), tag("ul", *items))


_STEPS = {
    "in-hand": "The replacement was looked at",
    "attend": "A part sits in the slot",
    "fitted": "What was fitted was looked at",
    "settle": "The wait for the temperatures is over",
    "look": "The last look is done",
    "judge": "Judged",
}
_TOLD_OTHERWISE = frozenset(f"done: {step}" for step in ("baseline", "clearance", "cautions", "capture"))
"""Ends of steps that leave a line of their own: the capture, the answer, who acknowledged."""


def timeline(proof: Proof) -> Html:
    """The journal in words; samples are counted and not listed."""
    rows: list[Sequence[str]] = []
    samples = 0
    for event in proof.journal:
        if event.what == "sample":
            samples += 1
            continue
        if event.what in _TOLD_OTHERWISE:
            continue
        if samples:
            rows.append([Html(), f"{samples} {'sample' if samples == 1 else 'samples'} taken"])
            samples = 0
        rows.append([_time(event.at), _happened(event)])
    if samples:
        rows.append([Html(), f"{samples} {'sample' if samples == 1 else 'samples'} taken"])
    if not rows:
        return Html()
    return section(
        "timeline", "What happened when", table("From the journal, by the laptop's clock", ["Time (UTC)", "What"], rows)
    )


def _happened(event: Event) -> Html:
    what, facts = event.what, event.facts
    if what == "seen":
        return tag("b", said(str(facts.get("message", ""))))
    if what == "captured":
        return joined((f"Captured {facts.get('side')} the swap",))
    if what == "observation":
        return joined(
            (
                said(str(facts.get("unit"))),
                ", ",
                _FACTS.get(str(facts.get("fact")), str(facts.get("fact"))),
                ": ",
                said(str(facts.get("value"))),
                *_by(facts),
            )
        )
    if what == "clearance":
        return joined((f"Clearance: {facts.get('answer')}",))
    if what == "overridden":
        return joined(
            (
                tag("b", f"Gone on although the clearance was {facts.get('answer')}: "),
                said(str(facts.get("reason", ""))),
                *_by(facts),
            )
        )
    if what == "cautions acknowledged":
        return joined(("Cautions acknowledged", *_by(facts)))
    if what == "console lost":
        return joined(("The console was lost: ", said(str(facts.get("why", "")))))
    if what.startswith("done: "):
        step, why = what.removeprefix("done: "), facts.get("why")
        return joined((said(_STEPS.get(step, step)), ": " if why else "", said(str(why)) if why else ""))
    told = ", ".join(f"{name} {value}" for name, value in facts.items())
    return joined((said(what), ": " if told else "", said(told) if told else ""))


def _by(facts: Mapping[str, Any]) -> tuple[str, ...]:
    return (" (", said(str(facts["by"])), ")") if facts.get("by") else ()


def _time(at: str) -> Html:
    """A time as it was kept, a little easier to read."""
    if not at:
        return joined([NONE])
    if len(at) == len("2026-11-18T06:12:41Z") and at[10] == "T" and at.endswith("Z"):
        return tag("time", f"{at[:10]} {at[11:19]}", datetime=at)
    return said(at)


def findings(proof: Proof, lines: Lines) -> Html:
    """Every finding, what counts against the swap first."""
    order = (Outcome.UNMET, Outcome.UNDETERMINED, Outcome.MET)
    found = sorted(proof.judgement.findings, key=lambda f: (not f.required, order.index(f.outcome)))
    rows = [
        [
            joined((said(f.message), _hint(f))),
            outcome(f.outcome),
            lines.links(f),
            "yes" if f.required else "stood before" if f.standing else "advice only",
            _figure(f.measured),
            _figure(f.limit),
            _margin(f),
            joined(
                (tag("code", f.rule), tag("br"), said(f.limit_source)) if f.limit_source else (tag("code", f.rule),)
            ),
        ]
        for f in found
    ]
    heads = ["Finding", "Outcome", "Line", "Counts", "Measured", "Limit", "Margin", "Rule and source"]
    caption = f"All {len(rows)} findings; each leads to its line in the texts below"
    return section("findings", "Every finding", table(caption, heads, rows, "findings"))


def _hint(finding: Finding) -> Html:
    if finding.hint is None or finding.outcome is Outcome.MET:
        return Html()
    return tag("span", " Do: ", said(finding.hint), class_="do")


def _figure(value: object) -> Html:
    return joined([NONE]) if value is None else said(str(value))


def _margin(finding: Finding) -> Html:
    margin = finding.margin
    if margin is None:
        return joined([NONE])
    if margin.unit == "Cel":
        return joined([f"{margin.value:+g} K"])
    return joined([f"+{margin}" if margin.value > 0 else str(margin)])
