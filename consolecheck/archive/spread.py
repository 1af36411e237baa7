"""Parts of an archive judged in this process, in several, or on a cluster; always given back in the order asked.

Workers are started afresh (`spawn`), as on every system. Each gets names and limits, reads the folders itself and
gives lines back. Where a worker dies, its jobs are judged again one by one, and one that brings a worker down a
second time is told as what it is.
"""

import gc
import hashlib
import multiprocessing
import multiprocessing.connection
import os
import platform
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from consolecheck import __version__
from consolecheck.archive.again import Remembered
from consolecheck.archive.plan import Planned
from consolecheck.archive.row import Row, blank, digest_of, line_of, row_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import Acceptance

PATIENCE = 20.0
"""Seconds for a scheduler to answer."""
WORTH_A_PROCESS = 100
"""Jobs for which it is worth to start one more process, which takes about as long."""
_READ = Remembered()


class Task(NamedTuple):
    """What a worker is asked."""

    root: str
    limits: str
    """The acceptance as JSON."""
    program: str
    jobs: tuple[Planned, ...]


class Part(NamedTuple):
    """What it gives back."""

    rows: tuple[Row, ...]
    lines: bytes
    """The rows as JSON lines."""
    asked: int
    """Texts that were to be read, and how many of them were read anew."""
    parsed: int


class OtherProgram(Exception):
    """A worker of the cluster runs another version or has other dialects: its answers would not be ours."""


@lru_cache(maxsize=1)
def program() -> str:
    """What decides how a text is judged: the version and the dialects of this installation."""
    found = hashlib.sha256(__version__.encode())
    for path in sorted(p for p in shipped("parsers").rglob("*") if p.suffix in (".toml", ".textfsm")):
        found.update(path.name.encode() + path.read_bytes())
    return found.hexdigest()


@lru_cache(maxsize=4)
def _limits(text: str) -> tuple[Acceptance, str]:
    limits = Acceptance.model_validate_json(text)
    return limits, digest_of(limits)


def judge_part(task: Task) -> Part:
    """Judges some jobs. Raises OtherProgram."""
    if task.program != program():
        raise OtherProgram(
            f"the worker on {platform.node()} runs another version of consolecheck or has other dialects, and nothing "
            "of its work was kept; install the same on all machines, then start the same command again"
        )
    limits, digest = _limits(task.limits)
    asked, parsed = _READ.asked, _READ.parsed
    rows = tuple(
        blank(job.name, limits, digest, job.fault)
        if job.fault
        else row_of(Path(task.root), job.name, limits, digest, dialects(), _READ)
        for job in task.jobs
    )
    return Part(rows, b"".join(map(line_of, rows)), _READ.asked - asked, _READ.parsed - parsed)


class _Answer(Protocol):
    def result(self) -> Part: ...


class Crew(Protocol):
    """Those who judge."""

    died: tuple[type[BaseException], ...]
    """What is raised where a worker ended with its work undone."""

    @property
    def most(self) -> int:
        """Parts that may be under way at once."""

    def submit(self, task: Task) -> _Answer: ...

    def renew(self) -> None:
        """Makes ready again after a death."""


def judged(tasks: Iterable[Task], crew: Crew) -> Iterator[Part]:
    """The parts in the order of the tasks, with no more of them held than are under way."""
    waiting: deque[tuple[Task, _Answer]] = deque()

    def first() -> Iterator[Part]:
        task, answer = waiting.popleft()
        try:
            yield answer.result()
        except crew.died:
            crew.renew()
            for job in task.jobs:
                yield _alone(task._replace(jobs=(job,)), crew)
            again = [task for task, _ in waiting]
            waiting.clear()
            waiting.extend((task, crew.submit(task)) for task in again)

    for task in tasks:
        waiting.append((task, crew.submit(task)))
        if len(waiting) >= crew.most:
            yield from first()
    while waiting:
        yield from first()


def _alone(task: Task, crew: Crew) -> Part:
    try:
        return crew.submit(task).result()
    except crew.died:
        crew.renew()
    limits, digest = _limits(task.limits)
    why = "the worker that judged it ended twice (out of memory, or killed); judge this one with `replay`"
    row = blank(task.jobs[0].name, limits, digest, why)
    return Part((row,), line_of(row), 0, 0)


def here(tasks: Iterable[Task]) -> Iterator[Part]:
    """In this process."""
    collect_less()
    return map(judge_part, tasks)


def collect_less() -> None:
    """Looks for circles of garbage less often: readings come by the thousand, live long and are never in circles."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


class _Processes:
    def __init__(self, workers: int) -> None:
        from concurrent.futures.process import BrokenProcessPool

        self.died: tuple[type[BaseException], ...] = (BrokenProcessPool,)
        self.most = 2 * workers + 1
        self._workers = workers
        self.renew()

    def renew(self) -> None:
        from concurrent.futures import ProcessPoolExecutor

        self.pool = ProcessPoolExecutor(self._workers, multiprocessing.get_context("spawn"), _begin)

    def submit(self, task: Task) -> _Answer:
        try:
            return self.pool.submit(judge_part, task)
        except self.died as broken:  # found broken before its answers were asked for
            return _Broken(broken)


class _Broken:
    def __init__(self, reason: BaseException) -> None:
        self._reason = reason

    def result(self) -> Part:
        raise self._reason


def _begin() -> None:
    """A worker leaves an interrupt to who started it, and ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    collect_less()
    parent = multiprocessing.parent_process()
    assert parent is not None, "this is a worker"

    def watch() -> None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextmanager
def processes(workers: int) -> Iterator[Crew]:
    """So many processes of this machine."""
    crew = _Processes(workers)
    try:
        for _ in range(workers):
            crew.pool.submit(program)  # so that each is started before there is work for it
        yield crew
    finally:
        crew.pool.shutdown(wait=True, cancel_futures=True)


class _Cluster:
    def __init__(self, client: Any) -> None:
        from distributed import KilledWorker

        self.died: tuple[type[BaseException], ...] = (KilledWorker,)
        self._client = client
        self._number = 0

    @property
    def most(self) -> int:
        threads: dict[str, int] = self._client.nthreads()
        return 2 * max(1, sum(threads.values())) + 1

    def renew(self) -> None:
        """The scheduler does it."""

    def submit(self, task: Task) -> _Answer:
        # Never `pure`: a result that the scheduler remembers of an earlier run may be of other files.
        answer: _Answer = self._client.submit(judge_part, task, pure=False)
        return answer


@contextmanager
def cluster(scheduler: str) -> Iterator[Crew]:
    """The workers of a Dask scheduler, which must see the archive under the same name. Raises OSError."""
    import distributed

    client: Any = distributed.Client  # untyped
    with client(scheduler, timeout=PATIENCE, set_as_default=False) as client:
        yield _Cluster(client)
