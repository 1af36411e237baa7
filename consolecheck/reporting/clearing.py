"""What a person reads before anything is pulled: the clearance, and the cautions."""

import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from consolecheck.judging.clearance import Answer, Clearance
from consolecheck.records.findings import Outcome
from consolecheck.reporting.safe import safe
from consolecheck.reporting.terminal import Screen, heading, told_one

_STYLES = {Answer.GO: "bold green", Answer.HOLD: "bold red", Answer.UNKNOWN: "bold yellow"}
_SAYS = {
    Answer.GO: "may be pulled",
    Answer.HOLD: "must stay in: something speaks against pulling it",
    Answer.UNKNOWN: "is not cleared: something that must be known is not",
}


class CautionShown(Protocol):
    """A caution as it is shown."""

    @property
    def text(self) -> str: ...
    @property
    def source(self) -> str: ...


def folded(screen: Screen, lead: str, text: str) -> list[str]:
    """A line behind a lead as a terminal's width folds it: what follows stands under the text, not under the lead."""
    room = screen.width - len(lead) if screen.is_terminal else 0
    parts = textwrap.wrap(text, room, break_on_hyphens=False) if room > 0 else [text]
    return [(" " * len(lead) if number else lead) + part for number, part in enumerate(parts)]


def hanging(screen: Screen, lead: str, text: str, style: str = "") -> None:
    """Writes it so."""
    for line in folded(screen, lead, text):
        screen.line((line, style))


def show_clearance(screen: Screen, told: Clearance, lines: Sequence[str], everything: bool = False) -> None:
    """The answer first, then what stands against it, then what it rests on; `lines` are the baseline's raw ones."""
    texts: Mapping[str, Sequence[str]] = {"before": lines}
    names = {"before": "before.txt"}
    screen.line(
        (f"CLEARANCE {told.answer.value.upper()}", _STYLES[told.answer]),
        (f": {safe(told.unit)}", "bold"),
        (f" {_SAYS[told.answer]}", ""),
    )
    for outcome, name in ((Outcome.UNMET, "Against it"), (Outcome.UNDETERMINED, "Not known")):
        if found := [f for f in told.findings if f.required and f.outcome is outcome]:
            heading(screen, name)
            for finding in found:
                told_one(screen, finding, names, texts)
    met = [f for f in told.findings if f.outcome is Outcome.MET]
    if met and (everything or told.answer is Answer.GO):
        heading(screen, "It rests on")
        for finding in met:
            hanging(screen, "  ", safe(finding.message))
    if beside := [f for f in told.findings if not f.required and f.outcome is not Outcome.MET]:
        heading(screen, "Know this too")
        for finding in beside:
            hanging(screen, "  ", safe(finding.message))


def show_cautions(
    screen: Screen, cautions: Sequence[CautionShown], room: int | None = None, go_on: Callable[[], None] = lambda: None
) -> None:
    """Each caution with its source. `go_on` is called before so many lines are full: the first ones matter most."""
    used = 0
    for caution in cautions:
        lines = folded(screen, "  - ", f"{safe(caution.text)} ({safe(caution.source)})")
        if room is not None and used and used + len(lines) > room:
            go_on()
            used = 0
        used += len(lines)
        for line in lines:
            screen.line((line, ""))
