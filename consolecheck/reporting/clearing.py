"""What a person reads before anything is pulled: the clearance, and the cautions."""

import textwrap
from collections.abc import Mapping, Sequence
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


def hanging(screen: Screen, lead: str, text: str, style: str = "") -> None:
    """A line behind a lead, folded in a terminal so that what follows stands under the text and not under the lead."""
    room = screen.width - len(lead) if screen.is_terminal else 0
    for part in textwrap.wrap(text, room, break_on_hyphens=False) if room > 0 else [text]:
        screen.line((lead + part, style))
        lead = " " * len(lead)


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


def show_cautions(screen: Screen, cautions: Sequence[CautionShown]) -> None:
    """Each caution with its source."""
    for caution in cautions:
        hanging(screen, "  - ", f"{safe(caution.text)} ({safe(caution.source)})")
