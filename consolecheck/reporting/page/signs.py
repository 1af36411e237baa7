"""Conditions and outcomes as a shape with a word: no colour is needed to tell them apart."""

from consolecheck.records.findings import Outcome, Verdict
from consolecheck.records.readings import Condition
from consolecheck.reporting.page.markup import Html, tag

# Drawn in a field of 16 by 16; `hole` is cut out in the colour of the paper.
_ROUND = '<circle cx="8" cy="8" r="7"/>'
_TICK = '<path class="hole" d="M4.2 8.4l2.6 2.7 5-5.6"/>'
_CROSS = '<path class="hole" d="M5 5l6 6M11 5l-6 6"/>'
_ASK = '<path class="line" d="M6 6.2a2.1 2.1 0 1 1 3 1.9c-.7.4-1 .8-1 1.6"/><circle cx="8" cy="12" r="1"/>'
_SHAPES = {
    "good": _ROUND + _TICK,
    "bad": '<path d="M5 1h6l4 4v6l-4 4H5l-4-4V5z"/>' + _CROSS,
    "open": '<path class="line" d="M8 .8L15.2 8 8 15.2.8 8z"/>' + _ASK,
    "warned": '<path d="M8 1l7.4 13.6H.6z"/><path class="hole" d="M8 6v4M8 12v.6"/>',
    "empty": '<path class="line dashed" d="M1.5 1.5h13v13h-13z"/>',
    "dead": '<circle class="line" cx="8" cy="8" r="6.6"/><path class="line" d="M3.4 12.6l9.2-9.2"/>',
    "resting": '<circle class="line" cx="8" cy="8" r="6.6"/><path d="M8 1.4a6.6 6.6 0 0 1 0 13.2z"/>',
}
_CONDITIONS = {
    Condition.OK: ("good", "good"),
    Condition.WARNING: ("warned", "open"),
    Condition.FAILED: ("bad", "bad"),
    Condition.ABSENT: ("empty", "bad"),
    Condition.NO_INPUT: ("dead", "bad"),
    Condition.STANDBY: ("resting", "good"),
    Condition.UNKNOWN: ("open", "open"),
}
OF_OUTCOME = {Outcome.MET: "good", Outcome.UNMET: "bad", Outcome.UNDETERMINED: "open"}
OF_VERDICT = {Verdict.VERIFIED: "good", Verdict.NOT_VERIFIED: "bad", Verdict.INCONCLUSIVE: "open"}


def shape(name: str, tone: str | None = None) -> Html:
    """A sign for the eye alone; the word stands beside it."""
    return Html(f'<svg class="sign {tone or name}" viewBox="0 0 16 16" aria-hidden="true">{_SHAPES[name]}</svg>')


def outcome(value: Outcome) -> Html:
    name = OF_OUTCOME[value]
    return tag("span", shape(name), value.value, class_=f"word {name}")


def condition(value: Condition | None) -> Html:
    """A condition; None is one that nothing stated."""
    name, tone = _CONDITIONS[value or Condition.UNKNOWN]
    return tag("span", shape(name, tone), value.value.replace("-", " ") if value else "not told", class_=f"word {tone}")


def tone_of(value: Condition | None) -> str:
    return _CONDITIONS[value or Condition.UNKNOWN][1]
