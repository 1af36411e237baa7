"""A whole run: what was done before is counted, what is left is planned, judged and kept."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import NamedTuple

from consolecheck.archive import spread
from consolecheck.archive.find import jobs
from consolecheck.archive.plan import Plan
from consolecheck.archive.results import Results, ResultsFault
from consolecheck.archive.row import digest_of
from consolecheck.archive.summary import Summary
from consolecheck.judging.acceptance import Acceptance

Told = Callable[[int, int], AbstractContextManager[Callable[[int], None]]]
"""Given how many jobs there are and how many are done: what is told of each further one."""


class Done(NamedTuple):
    """What a run came to."""

    summary: Summary
    before: int
    """Jobs that had their row already."""
    asked: int
    """Texts that were to be read in this run, and how many of them were read anew."""
    parsed: int


def run(root: Path, limits: Acceptance, results: Results, workers: int, scheduler: str | None, told: Told) -> Done:
    """Judges every job below `root` that has no row yet. Raises ResultsFault, OtherProgram, OSError."""
    summary, plan, digest = Summary(), Plan(), digest_of(limits)
    try:
        results.repair()
        for row in results.rows():
            if row["limits"] != digest:
                raise ResultsFault(
                    f"{results.path} holds results under other limits, and nothing was changed; "
                    "name another file for the results, or move that one away"
                )
            if plan.add_done(row["job"], row["digests"]):
                summary.add(row)
        before, asked, parsed = summary.jobs, 0, 0
        for name, fault in jobs(root):
            plan.add(root, name, fault)
        left = plan.left()
        # A process takes half a second to start, which a few jobs do not.
        workers = max(1, min(workers, left // spread.WORTH_A_PROCESS))
        with told(before + left, before) as step, _crew(workers, scheduler) as crew:
            for part in (
                spread.judged(_tasks(root, limits, plan), crew) if crew else spread.here(_tasks(root, limits, plan))
            ):
                results.add(part.lines)
                for row in part.rows:
                    summary.add(row)
                asked, parsed = asked + part.asked, parsed + part.parsed
                step(len(part.rows))
        results.secure()
        return Done(summary, before, asked, parsed)
    finally:
        plan.close()


def _crew(workers: int, scheduler: str | None) -> AbstractContextManager[spread.Crew | None]:
    if scheduler is not None:
        return spread.cluster(scheduler)
    return spread.processes(workers) if workers > 1 else nullcontext()


def _tasks(root: Path, limits: Acceptance, plan: Plan) -> Iterator[spread.Task]:
    said, place, program = limits.model_dump_json(), str(root.absolute()), spread.program()
    for part in plan.parts():
        yield spread.Task(place, said, program, tuple(part))
