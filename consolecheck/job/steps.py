"""The steps of a swap as a pure machine: what the journal tells goes in, the step to carry out comes out.

Nothing else remembers where a job stands. A step is noted when what it gives is on the disk, so after a crash
the journal leads to the step that was not finished, and never past it.
"""

from collections.abc import Sequence
from typing import Literal

from consolecheck.job.folder import Entry

Step = Literal[
    "baseline", "in-hand", "clearance", "cautions", "attend", "fitted", "settle", "look", "capture", "judge", "done"
]
ORDER: tuple[Step, ...] = (
    "baseline",
    "in-hand",
    "clearance",
    "cautions",
    "attend",
    "fitted",
    "settle",
    "look",
    "capture",
    "judge",
)
TOLD: dict[Step, str] = {
    "baseline": "capture the switch as it is",
    "in-hand": "look at the replacement",
    "clearance": "may the unit be pulled?",
    "cautions": "cautions",
    "attend": "watch while the unit is out",
    "fitted": "look at what was fitted",
    "settle": "wait until the temperatures have settled",
    "look": "a last look",
    "capture": "capture the switch after the swap",
    "judge": "judge",
    "done": "done",
}
DONE, AGAIN = "done: ", "taken up again"
"""How the journal begins the line of a finished step, and of one that is done once more on purpose."""


def _named(word: object) -> Step | None:
    return next((step for step in ORDER if step == word), None)


def next_step(journal: Sequence[Entry]) -> Step:
    """The step after the last one that was finished; a baseline taken again begins anew.

    Steps that were left out on purpose (a person who replaced the unit and only then verified) are not gone
    back to.
    """
    furthest = -1
    for entry in journal:
        if entry.what == f"{DONE}baseline":
            furthest = 0
        elif (step := _named(entry.what.removeprefix(DONE))) and entry.what.startswith(DONE):
            furthest = max(furthest, ORDER.index(step))
        elif entry.what == AGAIN and (step := _named(entry.facts.get("step"))):
            furthest = min(furthest, ORDER.index(step) - 1)
    return ORDER[furthest + 1] if furthest + 1 < len(ORDER) else "done"


def reached(journal: Sequence[Entry], step: Step) -> bool:
    """Whether a step was finished, or one that comes after it."""
    now = next_step(journal)
    return now == "done" or ORDER.index(now) > ORDER.index(step)


def number_of(step: Step) -> str:
    """`3/10`, for a heading."""
    return f"{ORDER.index(step) + 1}/{len(ORDER)}" if step in ORDER else f"{len(ORDER)}/{len(ORDER)}"
