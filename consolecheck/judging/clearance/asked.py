"""What is asked before a unit is pulled: the question's form, and the text of the unit's own chassis."""

from collections.abc import Callable, Iterable
from typing import NamedTuple

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.readings import Condition, Kind, Snapshot


class Asked(NamedTuple):
    """All that a question may look at. `view` is the unit's own chassis, `whole` the text with all of a stack."""

    view: View
    whole: View
    case: Case
    chassis: str | None
    """The chassis serial that the ticket states."""
    open_seconds: float
    """How long the slot may stay open."""
    modules_needed: int | None
    """Fan modules that suffice to cool the chassis, as the acceptance says, else as its papers say."""

    @property
    def unit(self) -> str:
        return self.case.unit

    @property
    def is_supply(self) -> bool:
        return self.case.is_supply

    @property
    def acceptance(self) -> Acceptance:
        return self.case.acceptance

    @property
    def prefix(self) -> str:
        """`psu-` or `fan-`."""
        return self.unit[:4]

    @property
    def others(self) -> tuple[str, ...]:
        """The other units of the kind in the same chassis, whatever table shows them; empty bays are left out."""
        return tuple(
            u
            for u in self.view.units
            if u.startswith(self.prefix) and u != self.unit and self.view.condition(u) is not Condition.ABSENT
        )


class Question(NamedTuple):
    """One law of the clearance. `needs` are the kinds of reading that it rests on, `own` adds the unit's own kind."""

    id: str
    title: str
    ask: Callable[[Asked], Iterable[Draft]]
    needs: tuple[Kind, ...] = ()
    own: bool = False
    required: bool = True

    @property
    def why(self) -> str:
        return (self.ask.__doc__ or "").strip()


class Rest(NamedTuple):
    """How a number of units stand: good ones, ones that are not, and ones of which it is not known."""

    good: tuple[str, ...]
    ill: tuple[str, ...]
    untold: tuple[str, ...]


def own_chassis(snapshot: Snapshot, unit: str) -> Snapshot:
    """Of a stack only what belongs to the unit's member: what another chassis carries or cools is no help.

    A unit of a stack is named with its member (`psu-2/1`), and so are a member's own facts (`member-2`).
    """
    if "/" not in unit:
        return snapshot
    member = _member(unit)

    def elsewhere(label: str | None) -> bool:
        if label is None or (label.startswith(("psu-", "fan-")) and "/" not in label):
            return False
        other = _member(label)
        return other.isdigit() and other != member

    return snapshot._replace(sightings=tuple(s for s in snapshot.sightings if not elsewhere(s.reading.unit)))


def _member(label: str) -> str:
    return label.partition("/")[0].rpartition("-")[2]
