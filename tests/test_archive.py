"""An archive judged again: the same verdicts as one by one, nothing skipped, nothing twice."""

import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from archives import CASES, SOME, archive_of, digest_of, job_of

from consolecheck.archive import spread
from consolecheck.archive.find import jobs
from consolecheck.archive.plan import Planned
from consolecheck.archive.results import opened
from consolecheck.archive.row import Row
from consolecheck.archive.run import run
from consolecheck.cli.shared import limits_of_site
from consolecheck.files.shelf import read_dialect, shipped
from consolecheck.judging.acceptance import Acceptance

RULES = "[power]\nheadroom_percent = 60\n[settling]\nrequired = false\n[job]\nbaseline_hours = 99999\n"


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return archive_of(tuple(CASES), tmp_path_factory.mktemp("archive") / "jobs")


@pytest.fixture
def limits(tmp_path: Path) -> Path:
    path = tmp_path / "tight.toml"
    path.write_text(RULES, encoding="utf-8")
    return path


def consolecheck(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "consolecheck", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def replayed(archive: Path, limits: Path, results: Path, *more: object) -> subprocess.CompletedProcess[str]:
    return consolecheck("replay", "--archive", archive, "--acceptance", limits, "--results", results, *more)


def rows(results: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in results.read_text(encoding="utf-8").splitlines()]


def test_every_job_has_the_row_that_replay_gives_it(archive: Path, limits: Path, tmp_path: Path) -> None:
    """The one engine: what an archive tells of a job is what `replay JOB --json` says, field by field."""
    before = digest_of(archive)
    done = replayed(archive, limits, tmp_path / "all.jsonl", "--workers", 1)
    assert (0, "") == (done.returncode, done.stderr)
    assert before == digest_of(archive), "nothing is written into an archive"
    found = rows(tmp_path / "all.jsonl")
    assert sorted(f"2000/{name.replace('/', '-')}" for name in CASES) == sorted(row["job"] for row in found)
    for row in found[:: max(1, len(found) // 12)]:
        alone = consolecheck("replay", archive / row["job"], "--acceptance", limits, "--json")
        said = json.loads(alone.stdout)
        for field in ("verdict", "unit", "dialect", "acceptance", "digests"):
            assert said[field] == row[field]
        assert [f for f in said["findings"] if f["outcome"] != "met"] == row["findings"]
        assert len(said["findings"]) == row["met"] + len(row["findings"])
        assert len(said["unread"]) == row["unread"]
        assert row["fault"] is None
        assert set(Row.__annotations__) == set(row)


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Jobs that share texts, and what goes wrong with folders over the years."""
    root = archive_of(SOME, tmp_path_factory.mktemp("mixed") / "jobs", copies=5)
    case = CASES["wexcombe/psu-2-replaced"]
    (job_of(case, root / "tampered").path / "after.txt").write_bytes(case.text("after").replace(b"serving", b"faulty "))
    (job_of(case, root / "no-job", sealed=False).path / "job.json").unlink()
    (job_of(case, root / "no-after", sealed=False).path / "after.txt").unlink()
    (job_of(case, root / "torn", sealed=False).path / "job.json").write_bytes(b'{"unit": "psu-')
    (job_of(case, root / "verdict-torn", sealed=False).path / "findings.json").write_bytes(b'{"verdict": "verif')
    job_of(case, root / "never-judged", old=False, sealed=False)
    unknown = job_of(case, root / "unknown-dialect", sealed=False).path / "job.json"
    unknown.write_bytes(unknown.read_bytes().replace(b"wexcombe", b"nowhere"))
    (root / "several").mkdir()
    (root / "several" / "units.json").write_text('{"schema": 1, "units": ["psu-2", "fan-3"]}', encoding="utf-8")
    job_of(case, root / "several" / "psu-2")
    (root / "notes").mkdir()
    (root / "notes" / "readme.txt").write_text("no job", encoding="utf-8")
    return root


BROKEN = {
    "tampered": "is not as it was sealed at 2026-11-18T06:51:23Z (after.txt changed)",
    "no-job": "holds no job",
    "no-after": "has no capture after the swap",
    "torn": "job.json cannot be read",
    "verdict-torn": "what the verdict was is not known",
    "unknown-dialect": "dialect `nowhere`, which is not known here",
    "several/fan-3": "is not there although its units.json tells of it",
}


def test_what_cannot_be_judged_is_one_line_with_its_reason(mixed: Path, limits: Path, tmp_path: Path) -> None:
    done = replayed(mixed, limits, tmp_path / "r.jsonl", "--workers", 1, "--json")
    assert 3 == done.returncode
    found = {row["job"]: row for row in rows(tmp_path / "r.jsonl")}
    assert set(BROKEN) == {name for name, row in found.items() if row["fault"] is not None}
    told = done.stderr.splitlines()
    for name, why in BROKEN.items():
        assert why in found[name]["fault"]
        assert found[name]["verdict"] is None
        assert 1 == sum(line.startswith(f"consolecheck: {name}: ") and why in line for line in told)
    assert found["never-judged"]["was"] is None
    assert found["never-judged"]["verdict"] is not None
    summary = json.loads(done.stdout)
    assert (len(found), len(BROKEN)) == (summary["jobs"], summary["not_judged"])
    assert summary["judged"] == sum(change["jobs"] for change in summary["verdicts"])


@pytest.fixture(scope="module")
def whole(mixed: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The results of one process in one go."""
    place = tmp_path_factory.mktemp("whole")
    (place / "tight.toml").write_text(RULES, encoding="utf-8")
    done = replayed(mixed, place / "tight.toml", place / "r.jsonl", "--workers", 1)
    assert 3 == done.returncode
    return without_name((place / "r.jsonl").read_bytes())


def without_name(results: bytes) -> bytes:
    """Without the acceptance's name, which is its path and differs from test to test."""
    return re.sub(rb'"acceptance":"[^"]*"', b"", results)


def test_two_processes_give_the_same_results_in_the_same_order(
    mixed: Path, limits: Path, whole: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spread, "WORTH_A_PROCESS", 1)
    with opened(tmp_path / "r.jsonl") as results:
        done = run(mixed, limits_of_site(str(limits)), results, 2, None, quietly)
    assert whole == without_name((tmp_path / "r.jsonl").read_bytes())
    assert len(BROKEN) == done.summary.faults


@contextmanager
def quietly(jobs: int, done: int) -> Iterator[Any]:
    yield lambda parts=1: None


@pytest.mark.parametrize("share", [0.0, 0.13, 0.5, 0.77, 1.0])
def test_a_run_that_was_ended_anywhere_goes_on_and_doubles_nothing(
    mixed: Path, limits: Path, whole: bytes, tmp_path: Path, share: float
) -> None:
    """Whatever a crash left of the file, also within a line, the end is the same to the byte."""
    results = tmp_path / "r.jsonl"
    replayed(mixed, limits, results, "--workers", 1)
    left = results.read_bytes()
    results.write_bytes(left[: round(share * len(left))])
    again = replayed(mixed, limits, results, "--workers", 1, "--quiet")
    assert 3 == again.returncode
    assert left == results.read_bytes()
    assert f"not_judged={len(BROKEN)} " in again.stdout


def test_results_under_other_limits_are_not_gone_on_with(mixed: Path, limits: Path, tmp_path: Path) -> None:
    replayed(mixed, limits, tmp_path / "r.jsonl")
    kept = (tmp_path / "r.jsonl").read_bytes()
    limits.write_text("[power]\nheadroom_percent = 5\n", encoding="utf-8")
    done = replayed(mixed, limits, tmp_path / "r.jsonl")
    assert (4, "") == (done.returncode, done.stdout)
    assert "holds results under other limits, and nothing was changed" in done.stderr
    assert kept == (tmp_path / "r.jsonl").read_bytes()


def test_a_text_that_many_jobs_hold_is_read_once(mixed: Path, limits: Path, tmp_path: Path) -> None:
    spread._READ.__init__()  # type: ignore[misc]
    with opened(tmp_path / "r.jsonl") as results:
        done = run(mixed, limits_of_site(str(limits)), results, 1, None, quietly)
    judged = [row for row in rows(tmp_path / "r.jsonl") if row["fault"] is None]
    texts = {digest for row in judged for digest in row["digests"].values()}
    assert 2 * len(judged) == done.asked
    assert len(texts) == done.parsed


def test_parquet_holds_the_same(mixed: Path, limits: Path, whole: bytes, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed")
    assert 3 == replayed(mixed, limits, tmp_path / "r.parquet").returncode
    found = parquet.read_table(tmp_path / "r.parquet").to_pylist()
    for row in found:
        row.update({name: json.loads(row[name]) for name in ("findings", "digests")}, acceptance="")
    assert [json.loads(line.replace(b",,", b',"acceptance":"",')) for line in whole.splitlines()] == found
    assert ["r.parquet", "tight.toml"] == sorted(p.name for p in tmp_path.iterdir() if not p.name.startswith("."))


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """As many jobs as two processes are worth."""
    return archive_of(SOME, tmp_path_factory.mktemp("many") / "jobs", copies=52)


def test_a_run_that_is_killed_goes_on(many: Path, limits: Path, tmp_path: Path) -> None:
    """Killed outright in the middle, with its workers at work: they end with it, and the next run ends the work."""
    command = [sys.executable, "-m", "consolecheck", "replay", "--archive", many, "--acceptance", limits]
    with subprocess.Popen(
        [*map(str, command), "--workers", "2", "--results", str(tmp_path / "r.jsonl")],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    ) as process:
        while process.poll() is None and not (
            (tmp_path / "r.jsonl").exists() and (tmp_path / "r.jsonl").stat().st_size
        ):
            time.sleep(0.01)
        process.kill()
        assert process.stderr is not None
        process.stderr.read()  # ends only when the workers, who hold it too, have ended
    left = rows(tmp_path / "r.jsonl") if (tmp_path / "r.jsonl").read_bytes().endswith(b"\n") else []
    assert len(left) < 52 * len(SOME)
    again = replayed(many, limits, tmp_path / "r.jsonl", "--workers", 2, "--json")
    assert (0, 52 * len(SOME)) == (again.returncode, json.loads(again.stdout)["jobs"])
    assert 0 == replayed(many, limits, tmp_path / "one.jsonl", "--workers", 1).returncode
    assert (tmp_path / "one.jsonl").read_bytes() == (tmp_path / "r.jsonl").read_bytes()


@pytest.mark.skipif(os.name != "posix", reason="a process is killed by its number")
def test_a_job_that_brings_its_worker_down_is_told_and_the_others_are_judged(many: Path, tmp_path: Path) -> None:
    """Every job of the part is judged by itself then; who kills a worker twice is one line with its reason."""

    class Answer:
        def __init__(self, task: spread.Task) -> None:
            self.task = task

        def result(self) -> spread.Part:
            if any(job.name == bad for job in self.task.jobs):
                deaths.append(len(self.task.jobs))
                raise BrokenPipeError
            return spread.judge_part(self.task)

    class Crew:
        died: tuple[type[BaseException], ...] = (BrokenPipeError,)
        most = 3

        def submit(self, task: spread.Task) -> Answer:
            return Answer(task)

        def renew(self) -> None: ...

    deaths: list[int] = []
    names = sorted(path.parent.relative_to(many).as_posix() for path in many.glob("*/*/job.json"))[:40]
    bad = names[20]
    tasks = [
        spread.Task(str(many), Acceptance().model_dump_json(), spread.program(), tuple(Planned(n, "") for n in part))
        for part in (names[:16], names[16:32], names[32:])
    ]
    found = [row for part in spread.judged(tasks, Crew()) for row in part.rows]
    assert names == [row["job"] for row in found]
    assert [bad] == [row["job"] for row in found if row["fault"] is not None]
    assert [16, 1] == deaths
    assert "the worker that judged it ended twice" in str(found[20]["fault"])


def test_a_worker_of_another_program_judges_nothing(many: Path) -> None:
    task = spread.Task(
        str(many), Acceptance().model_dump_json(), "another", (Planned("2000/wexcombe-psu-2-replaced", ""),)
    )
    with pytest.raises(spread.OtherProgram, match="install the same on all machines"):
        spread.judge_part(task)


@pytest.mark.skipif(os.name != "posix", reason="links need rights on other systems")
def test_a_link_is_never_passed_over_in_silence(tmp_path: Path) -> None:
    """A link to a job is that job; a link to another folder is told, and never followed in a circle."""
    root = tmp_path / "jobs"
    job_of(CASES["wexcombe/psu-2-replaced"], tmp_path / "elsewhere")
    root.mkdir()
    (root / "linked-job").symlink_to(tmp_path / "elsewhere")
    (root / "round").symlink_to(root)
    found = dict(jobs(root))
    assert {"linked-job", "round"} == set(found)
    assert "" == found["linked-job"]
    assert "was not followed" in found["round"]


def test_a_job_is_read_by_the_dialect_that_it_keeps(limits: Path, tmp_path: Path) -> None:
    """Two jobs of one dialect of a site's own: the same word says something else there, and only there."""
    root = tmp_path / "jobs"
    case = CASES["wexcombe/psu-2-replaced"]
    job_of(case, root / "shipped")
    for name in ("own-1", "own-2"):
        folder = job_of(case, root / name, old=False, sealed=False)
        for file in (shipped("parsers") / "wexcombe").iterdir():
            text = file.read_bytes()
            (folder.path / "dialect").mkdir(exist_ok=True)
            folder.write(f"dialect/{file.name}", re.sub(rb"(?m)^serving = .*", b'serving = "failed"', text))
        digest = read_dialect(folder.path / "dialect", "wexcombe", "the job").digest
        folder.keep(folder.job().model_copy(update={"dialect_digest": digest}))
    done = replayed(root, limits, tmp_path / "r.jsonl", "--workers", 1)
    assert (0, "") == (done.returncode, done.stderr)
    found = {row["job"]: row for row in rows(tmp_path / "r.jsonl")}
    assert "power.status" not in found["shipped"]["decided_by"]
    assert ["power.status"] * 2 == [found[n]["decided_by"][0] for n in ("own-1", "own-2")]


def test_a_row_fits_its_schema(mixed: Path, limits: Path, tmp_path: Path) -> None:
    schema = json.loads(consolecheck("schema", "archive").stdout)
    replayed(mixed, limits, tmp_path / "r.jsonl", "--workers", 1)
    for row in rows(tmp_path / "r.jsonl"):
        jsonschema.validate(row, schema)
