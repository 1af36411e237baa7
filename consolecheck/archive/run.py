"""A whole run: what was done before is counted, what is left is planned, judged and kept."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
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
    with ExitStack() as stack:
        stack.callback(plan.close)
        results.repair()
        for row in results.rows():
            if row["limits"] != digest:
                raise ResultsFault(
                    f"{results.path} holds results under other limits, and nothing was changed; "
                    "name another file for the results, or move that one away"
                )
            if plan.add_done(row["job"], row["digests"]):
                summary.add(row)
        before, asked, parsed, left = summary.jobs, 0, 0, 0
        crew: spread.Crew | None = None
        most = workers if scheduler is None else 1
        for name, fault in jobs(root):
            left += plan.add(root, name, fault)
            # A process takes half a second to start, which a few jobs do not. They start while the rest is looked for.
            if crew is None and most > 1 and left >= most * spread.WORTH_A_PROCESS:
                crew = stack.enter_context(spread.processes(most))
        if scheduler is not None:
            crew = stack.enter_context(spread.cluster(scheduler))
        elif crew is None and most > 1 and (fewer := left // spread.WORTH_A_PROCESS) > 1:
            crew = stack.enter_context(spread.processes(fewer))
        with told(before + left, before) as step:
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


def _tasks(root: Path, limits: Acceptance, plan: Plan) -> Iterator[spread.Task]:
    said, place, program = limits.model_dump_json(), str(root.absolute()), spread.program()
    for part in plan.parts():
        yield spread.Task(place, said, program, tuple(part))
