"""The case of a drafted dialect: the capture it was drafted from, before and after the same."""

from consolecheck.drafting.draft import Draft
from consolecheck.drafting.manifest import toml_of
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.judging.view import View
from consolecheck.records.findings import Verdict

CASE = "as-captured"


def case_text(draft: Draft) -> str:
    """Its `case.toml`. What it claims is what was read; a person who has looked at it writes other cases."""
    snapshot = draft.snapshot
    view = View(snapshot, "after")
    units = {unit: told for unit in view.by_unit if (told := view.condition(unit)) is not None}
    replaced = next((u for u in view.by_unit if u.startswith("psu-")), None) or next(
        (u for u in view.by_unit if u.startswith("fan-")), next(iter(view.by_unit), "psu-1")
    )
    verdict = judge(snapshot, snapshot, replaced, Acceptance()).verdict
    assert verdict is not Verdict.VERIFIED, "what is read with a draft counts as inferred"
    unread = sorted({u.number for u in snapshot.unread})
    lines = [
        'title = "The capture that the dialect was drafted from, as before and as after: what it reads, not what a swap shows"',
        f"unit = {toml_of(replaced)}",
        'made = "drafted from a capture"',
        f"dialect = {toml_of(draft.name)}",
        "",
        "[claims]",
        f"verdict = {toml_of(verdict.value)}",
        f"unread_before = {unread}",
        f"unread_after = {unread}",
    ]
    if units:
        lines += ["", "[claims.units]", *(f"{toml_of(unit)} = {toml_of(told.value)}" for unit, told in units.items())]
    return "\n".join(lines) + "\n"
