"""The rear of the chassis, bay by bay: what stood in each before, and what stands there now."""

from consolecheck.judging.view import View, airflow_of
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import Condition
from consolecheck.reporting.page.markup import Html, joined, said, section, tag
from consolecheck.reporting.page.signs import condition, shape, tone_of
from consolecheck.reporting.page.work import case_of
from consolecheck.reporting.proof import Proof

_KINDS = {"psu": "power supply", "fan": "fan module"}
_PICTURES = {
    "psu": '<path d="M3 6h26v12H3z"/><path d="M8 10v4M12 10v4M16 10v4"/><circle cx="24" cy="12" r="2"/>',
    "fan": '<circle cx="16" cy="12" r="10"/><circle cx="16" cy="12" r="2"/>'
    '<path d="M16 10c-1-5 3-7 4-6 1 2-1 5-3 7M18 12c5-1 7 3 6 4-2 1-5-1-7-3"/>'
    '<path d="M16 14c1 5-3 7-4 6-1-2 1-5 3-7M14 12c-5 1-7-3-6-4 2-1 5 1 7 3"/>',
}
_AIR = {"front-to-back": "air comes out here", "back-to-front": "air goes in here"}


def rear(proof: Proof) -> Html:
    """The section with the drawing: slots as the family's papers place them, else in a plain row."""
    case = case_of(proof)
    units = dict.fromkeys((*case.before.units, *case.after.units, proof.judgement.unit))
    placed = [[unit for unit in row if unit in units] for row in proof.rear]
    known = {unit for row in placed for unit in row}
    rest = sorted((u for u in units if u not in known), key=lambda unit: not unit.startswith("psu-"))
    rows = [[_bay(unit, proof, case.before, case.after) for unit in row] for row in (*placed, rest) if row]
    host = next(iter(proof.after.hosts), "")
    chassis = case.after.serials.get("chassis")
    plate = joined(
        (
            tag("b", said(host)) if host else "",
            " " if host else "",
            tag("span", "chassis serial ", said(chassis[0])) if chassis else "",
        )
    )
    # On a wide screen a row that the data place stays one row.
    sides = [f"bays of-{len(bays)}" if known and 1 < len(bays) < 7 else "bays" for bays in rows]
    drawn = joined(tag("ol", *bays, class_=side) for bays, side in zip(rows, sides, strict=True))
    if not known:
        note = "In a plain row: neither the text nor the family's data tell where each slot is."
    elif rest:
        note = "As the family's data place the slots; below, those that they do not name."
    else:
        note = "As the family's data place the slots."
    frame = tag("div", tag("p", plate, class_="plate") if plate else "", drawn, class_="rear")
    return section(
        "rear",
        "The chassis from behind",
        frame,
        note=f"{note} Dashed frames are empty.",
    )


def _bay(unit: str, proof: Proof, before: View, after: View) -> Html:
    kind, _, label = unit.partition("-")
    was = before.condition(unit) if proof.before is not None else None
    now = after.condition(unit)
    picture = _PICTURES.get(kind, _PICTURES["psu"])
    told = [tag("dt", "before"), tag("dd", condition(was) if proof.before is not None else "not captured")]
    told += [tag("dt", "after"), tag("dd", condition(now)), _word(after, unit, now)]
    air = next((a for s in after.by_unit.get(unit, ()) if (a := airflow_of(s.reading))), None)
    mark = _mark(unit, proof, before, after)
    of_unit = [f for f in proof.judgement.findings if f.subject == unit and f.required]
    against = sum(f.outcome is Outcome.UNMET for f in of_unit)
    left = sum(f.outcome is Outcome.UNDETERMINED for f in of_unit)
    classes = ["bay", "bad" if against else "open" if left else tone_of(now)]
    classes += ["ours"] if unit == proof.judgement.unit else []
    classes += ["marked"] if mark else []
    classes += ["vacant"] if now is Condition.ABSENT else []
    return tag(
        "li",
        tag("p", mark, class_="ribbon") if mark else "",
        tag(
            "p",
            Html(f'<svg class="part" viewBox="0 0 32 24" aria-hidden="true">{picture}</svg>'),
            tag("b", said(label)),
            tag("span", _KINDS.get(kind, kind)),
            class_="slot",
        ),
        tag("dl", *told),
        tag("p", _AIR[air], class_="air") if air else "",
        tag("p", shape("bad"), f"{against} against it", class_="word bad") if against else "",
        tag("p", shape("open"), f"{left} left open", class_="word open") if left else "",
        class_=" ".join(classes),
    )


def _mark(unit: str, proof: Proof, before: View, after: View) -> str:
    """What became of the part in a slot, for the slot of the job and for every other whose part changed."""
    was, now = before.serials.get(unit), after.serials.get(unit)
    changed = was is not None and now is not None and was[0] != now[0]
    if unit != proof.judgement.unit:
        return "another part, too" if changed else ""
    if proof.reseat:
        return "put back on purpose"
    return "replaced" if changed else "this job"


def _word(view: View, unit: str, now: Condition | None) -> Html:
    """The device's own word for it."""
    speaker = view.speaker(unit, now)
    word = speaker.reading.status_text if speaker else None
    return tag("dd", "“", said(word), "”", class_="own") if word else Html()
