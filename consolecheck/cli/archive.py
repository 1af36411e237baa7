"""`replay --archive`: every job of an archive judged again under another acceptance."""

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import typer

from consolecheck.cli.shared import INCONCLUSIVE, STOPPED, USAGE, VERIFIED, Stop, limits_of_site, say, screen_of

if TYPE_CHECKING:
    from consolecheck.archive.run import Done
    from consolecheck.reporting.progress import Step

_WORDS = {"not-verified": "not verified"}


def replay_archive(
    archive: str,
    acceptance: str | None,
    results: str | None,
    workers: int | None,
    scheduler: str | None,
    quiet: bool,
    json: bool,
) -> NoReturn:
    """Judges, tells what would change, and ends with the exit code. Raises Stop."""
    from consolecheck.archive.results import PARQUET, ResultsFault, as_parquet, opened
    from consolecheck.archive.run import run
    from consolecheck.archive.spread import OtherProgram

    root = Path(archive)
    if acceptance is None:
        raise Stop("say under which limits: --acceptance FILE", USAGE)
    limits = limits_of_site(acceptance)
    if not root.is_dir():
        raise Stop(f"{root} is no folder that is there; name the folder that holds the jobs", STOPPED)
    whole = root.resolve()
    target = whole.with_name(f"{whole.name}-replay.jsonl") if results is None else Path(results)
    if target.resolve().is_relative_to(whole):
        raise Stop(f"{target} lies in the archive itself, where a job's seal may break by it; name another", USAGE)
    if target.suffix not in (".jsonl", PARQUET):
        raise Stop(f"{target} is neither .jsonl nor .parquet; name the results so", USAGE)
    lines = target
    if target.suffix == PARQUET:
        _needs("pyarrow", "archive", "results in Parquet")
        if target.exists():
            raise Stop(f"{target} is there already and is not overwritten; name another", USAGE)
        lines = target.with_name(f"{target.name}.jsonl")
    if scheduler is not None:
        if workers is not None:
            raise Stop("give --workers or --scheduler, not both: a cluster has the workers that it has", USAGE)
        if not _SCHEDULER.fullmatch(scheduler):
            raise Stop(f"{scheduler} is no scheduler's address; give tcp://HOST:PORT as the scheduler tells it", USAGE)
        _needs("distributed", "cluster", "a cluster")
    try:
        with opened(lines) as kept:
            done = run(root, limits, kept, workers or os.cpu_count() or 1, scheduler, _counted)
        if not done.summary.jobs:
            lines.unlink()
            raise Stop(f"no job was found below {root}; name the folder that holds the jobs", STOPPED)
        if target is not lines:
            as_parquet(lines, target)
        _tell(done, root, lines, target, limits.name, quiet, json)
        if target is not lines:
            lines.unlink()
    except (ResultsFault, OtherProgram) as fault:
        raise Stop(str(fault), STOPPED) from None
    except OSError as reason:
        where = f"the scheduler {scheduler}" if scheduler else "the archive or a worker"
        raise Stop(
            f"{where} cannot be reached ({reason}); the results so far are kept in {lines}: "
            "start the same command again to go on",
            STOPPED,
        ) from None
    except KeyboardInterrupt:
        raise Stop(
            f"interrupted; the results so far are kept in {lines}: start the same command again to go on", STOPPED
        ) from None
    raise typer.Exit(INCONCLUSIVE if done.summary.faults else VERIFIED)


def _needs(module: str, extra: str, what: str) -> None:
    if find_spec(module) is None:
        raise Stop(
            f"{what} needs {module}, which is not installed here, and nothing was judged: "
            f"pip install 'consolecheck[{extra}]'",
            STOPPED,
        )


@contextmanager
def _counted(jobs: int, done: int) -> "Iterator[Step]":
    from consolecheck.reporting.progress import busy

    with busy(sys.stderr, "judging jobs", jobs) as step:
        step(done)
        yield step


def _tell(done: "Done", root: Path, lines: Path, target: Path, limits: str, quiet: bool, json: bool) -> None:
    from consolecheck.archive.results import rows_in
    from consolecheck.judging.rules.rule import counted
    from consolecheck.reporting.safe import safe

    told = done.summary.document()
    if done.before:
        say(f"an earlier run judged {counted(done.before, 'job')} already")
    if json:
        import json as form

        texts = {"read": done.asked, "parsed": done.parsed}
        print(form.dumps({**told, "texts": texts, "results": str(target)}, indent=1, ensure_ascii=True))
    elif quiet:
        print(
            f"jobs={told['jobs']} judged={told['judged']} changed={told['changed']} not_judged={told['not_judged']} "
            f"results={safe(str(target))}"
        )
    else:
        screen = screen_of()
        jobs, left = counted(told["jobs"], "job"), counted(told["not_judged"], "job")
        screen.line((f"{jobs} below {safe(str(root))}, judged again by {safe(limits)}", "bold"))
        screen.line((f"{counted(told['changed'], 'verdict')} would change, {left} could not be judged", ""))
        for change in told["verdicts"]:
            was, now = (_WORDS.get(word, word) for word in (change["was"], change["verdict"]))
            same = was == now
            screen.line()
            screen.line((f"{change['jobs']:>7}  {f'{now}, as before' if same else f'{was} -> {now}'}", "bold"))
            for rule, count in list(change["why"].items())[:_MOST_RULES]:
                screen.line((f"         {count:>7}  {safe(rule)}", ""))
            if not same:
                screen.line((f"         such as {safe(', '.join(change['examples']))}", ""))
        screen.line()
        screen.line((f"a row for each job: {safe(str(target))}", ""))
    if done.summary.faults:
        for row in rows_in(lines):
            if row["fault"] is not None:
                say(f"{row['job']}: {row['fault']}")


_MOST_RULES = 12
_SCHEDULER = re.compile(r"(?:tcp|tls|wss?)://[^\s/]+:\d{1,5}/?")
