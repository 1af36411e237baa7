"""What another acceptance would change in an archive, and why: counted as the rows come by, never holding them."""

from collections import Counter
from typing import Any, Final

from consolecheck.archive.row import Row

_EXAMPLES: Final = 3


class Summary:
    """Counts by old and new verdict and by the rules that decide."""

    def __init__(self) -> None:
        self.jobs = 0
        self.faults = 0
        self.changes: Counter[tuple[str, str]] = Counter()
        self.why: dict[tuple[str, str], Counter[str]] = {}
        self.examples: dict[tuple[str, str], list[str]] = {}

    def add(self, row: Row) -> None:
        """One job's row."""
        self.jobs += 1
        if row["fault"] is not None:
            self.faults += 1
            return
        change: tuple[str, str] = (row["was"] or "never judged", str(row["verdict"]))
        self.changes[change] += 1
        why = self.why.setdefault(change, Counter())
        if row["was"] == row["verdict"]:  # only what decides now and did not before is worth telling
            why.update(rule for rule in row["decided_by"] if rule not in row["was_decided_by"])
        else:
            why.update(row["decided_by"] or (f"no longer {rule}" for rule in row["was_decided_by"]))
        shown = self.examples.setdefault(change, [])
        if len(shown) < _EXAMPLES:
            shown.append(row["job"])

    def document(self) -> dict[str, Any]:
        """As JSON values; a change with most jobs first."""
        ordered = sorted(self.changes.items(), key=lambda item: (item[0][0] == item[0][1], -item[1], item[0]))
        return {
            "schema": 1,
            "jobs": self.jobs,
            "judged": self.jobs - self.faults,
            "not_judged": self.faults,
            "changed": sum(count for (was, now), count in self.changes.items() if was != now),
            "verdicts": [
                {
                    "was": was,
                    "verdict": now,
                    "jobs": count,
                    "why": dict(sorted(self.why[was, now].items(), key=lambda item: (-item[1], item[0]))),
                    "examples": self.examples[was, now],
                }
                for (was, now), count in ordered
            ],
        }
