"""An archive on a real Dask cluster: the same results, also where a worker dies in the middle."""

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from archives import SOME, archive_of

from consolecheck.archive import spread
from consolecheck.archive.results import opened
from consolecheck.archive.run import Done, run
from consolecheck.judging.acceptance import Acceptance

distributed = pytest.importorskip(
    "distributed", reason="distributed is not installed: pip install 'consolecheck[cluster]'"
)

LIMITS = Acceptance.model_validate({"name": "tight", "power": {"headroom_percent": 60}})


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """A scheduler and two workers, each a process of its own, on this machine."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as made:
        yield made


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return archive_of(SOME, tmp_path_factory.mktemp("archive") / "jobs", copies=40)


def judged(archive: Path, results: Path, scheduler: str | None, seen: list[int] | None = None) -> Done:
    @contextmanager
    def told(jobs: int, done: int) -> Iterator[Any]:
        yield lambda parts=1: (seen if seen is not None else []).append(parts)

    with opened(results) as kept:
        return run(archive, LIMITS, kept, 1, scheduler, told)


@pytest.fixture(scope="module")
def by_one(archive: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The results of one process."""
    results = tmp_path_factory.mktemp("one") / "r.jsonl"
    judged(archive, results, None)
    return results.read_bytes()


def test_a_cluster_gives_what_one_process_gives(cluster: Any, archive: Path, by_one: bytes, tmp_path: Path) -> None:
    done = judged(archive, tmp_path / "r.jsonl", cluster.scheduler_address)
    assert by_one == (tmp_path / "r.jsonl").read_bytes()
    assert (4 * 40, 0) == (done.summary.jobs, done.summary.faults)


def test_a_worker_that_is_killed_in_the_middle_costs_nothing(
    cluster: Any, archive: Path, by_one: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed once the first results are there and others are under way; its work is done by who is left."""
    seen: list[int] = []
    killed: list[int] = []
    submit = spread._Cluster.submit

    def submitted(crew: Any, task: spread.Task) -> Any:
        if seen and not killed:
            (pid, *_) = (worker.pid for worker in cluster.workers.values())
            os.kill(pid, getattr(signal, "SIGKILL", signal.SIGTERM))
            killed.append(pid)
        return submit(crew, task)

    monkeypatch.setattr(spread._Cluster, "submit", submitted)
    monkeypatch.setattr(spread._Cluster, "most", 2)
    done = judged(archive, tmp_path / "r.jsonl", cluster.scheduler_address, seen)
    assert 1 == len(killed)
    assert by_one == (tmp_path / "r.jsonl").read_bytes()
    assert (4 * 40, 0) == (done.summary.jobs, done.summary.faults)


def test_a_scheduler_that_is_not_there_is_told(archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spread, "PATIENCE", 1.0)
    with pytest.raises(OSError, match=r"127\.0\.0\.1:9"):
        judged(archive, tmp_path / "r.jsonl", "tcp://127.0.0.1:9")
