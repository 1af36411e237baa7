"""An archive of many swaps judged again: how fast, in how much memory, and how often the same text is read.

Run: `python benchmarks/archive.py` (`--jobs 2000`, `--many 100000`, `--few 1000`, `--keep DIR`). The archive is made
first. Half of its jobs are recorded cases of every dialect, as a job that was judged from two captures; half are
whole swaps on the simulated switch, done by the program's own loop, with every sample that it took. Of each job the
numbers are other ones (serials, voltages, currents, speeds, times), the same before and after where they were the
same, so that nearly no text is like another; one job in fifty is a copy.

1. One worker and two, each a process of its own: the rate, and how much faster two are. Goal 1.8.
2. One worker in this process against plain TextFSM, which parses the same texts (both captures and all samples) by the
   same compiled templates and does nothing else. Processor time, in turns. Goal 0.8 of its rate. What is printed as
   JSON or as a walk TextFSM cannot read as it stands; beside, the rate is told where it is given these unfolded.
3. Peak memory (largest resident size of any process) over `--many` jobs against `--few`, both without samples so that
   they fit on a disk. Goal 1.2 times.
4. Texts that were parsed although the same text had been before. Goal none.

Exits 1 where a goal is not reached.
"""

import argparse
import contextlib
import hashlib
import json
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Literal, NamedTuple

import campaign
import textfsm

from consolecheck.archive import spread
from consolecheck.archive.again import judge_again
from consolecheck.archive.plan import Planned
from consolecheck.cases.check import cases_of, judged
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.folder import Folder, Job
from consolecheck.job.seal import canonical
from consolecheck.judging.acceptance import Acceptance
from consolecheck.reading import reader
from consolecheck.reading.captured import split
from consolecheck.reading.screen import clean
from consolecheck.rehearsal.faults import GOOD_ONES, scenario
from consolecheck.reporting.exchange import as_json, replay_document

GOALS = {"faster": 1.8, "textfsm": 0.8, "memory": 1.2, "twice": 0}
LIMITS = "[power]\nheadroom_percent = 20\n[temperature]\nleast_margin = 4\n[job]\nbaseline_hours = 100000\n"
AT = "2026-11-18T06:51:23Z"
COPIES = 50
"""One job of so many is a copy of an earlier one."""
WHOLE_SWAPS = 12

_NUMBER = re.compile(
    rb"(?<![\w.:/-])(?P<reading>\d+\.\d+|[1-9]\d{3,4})(?![\w.:/-])|(?<![A-Za-z0-9])(?P<serial>[A-Z]{2,4}[A-Z0-9]*-?\d{4,})(?![\w])"
)
_HEAT = re.compile(rb"(?m)^(  [a-z]+(?:-\d)? +)(\d+\.[05])( +0\.0 )")


class Made(NamedTuple):
    """A job to make others of: its files as pieces, every second of which is a number to be changed."""

    files: dict[str, list[bytes]]
    rest: dict[str, bytes]


def main() -> int:
    parser = argparse.ArgumentParser(description="An archive judged again: rate, memory, texts read twice.")
    parser.add_argument("--jobs", type=int, default=2000, help="jobs for rate and speed-up")
    parser.add_argument("--many", type=int, default=100_000, help="jobs for the peak of memory")
    parser.add_argument("--few", type=int, default=1000, help="jobs that it is held against")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of each rate")
    parser.add_argument("--keep", type=Path, help="folder for the archives, which are used again where they are there")
    given = parser.parse_args()
    with contextlib.ExitStack() as stack:
        place = given.keep or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="consolecheck-archive-")))
        place.mkdir(parents=True, exist_ok=True)
        (place / "limits.toml").write_text(LIMITS, encoding="utf-8")
        good = rates(place, given.jobs, given.rounds)
        if given.many:
            good &= memory(place, given.few, given.many)
    return 0 if good else 1


# The archive.


def made(path: Path, jobs: int, kind: Literal["mixed", "pairs", "swaps"] = "mixed") -> Path:
    """An archive of so many jobs, where it is not there already."""
    if (path.parent / f"{path.name}.made").exists():
        return path
    shutil.rmtree(path, ignore_errors=True)
    began = time.perf_counter()
    kinds = []
    if kind != "swaps":
        kinds.append(list(recorded()))
    if kind != "pairs":
        kinds.append(rehearsed(path.parent))
    for number in range(jobs):
        of = kinds[number % len(kinds)]
        copied = number % COPIES == COPIES - 1
        seed = number - COPIES // 2 // len(kinds) * len(kinds) if copied else number
        write(of[seed // len(kinds) % len(of)], path / f"{number // 1000:04}" / f"job-{number:06}", seed)
        if sys.stderr.isatty():
            print(f"\r{number + 1}/{jobs} jobs made", end="", file=sys.stderr)
    (path.parent / f"{path.name}.made").touch()
    print(f"{jobs} jobs made in {time.perf_counter() - began:.0f} s", file=sys.stderr)
    return path


def recorded() -> Iterator[Made]:
    """Every recorded case, as a job."""
    known = dialects()
    for case in cases_of(shipped("fixtures")):
        found = judged(case, known)
        document = replay_document(found.judgement, found.before, found.after, {}, "defaults", [], case.file.reseat)
        facts = {"unit": case.file.unit, "dialect": case.dialect_name, "line": "none", "started": AT, "version": "made"}
        job = Job.model_validate({**facts, "reseat": case.file.reseat}).model_dump(mode="json")
        notes = [{"at": AT, "what": "captured", "side": side, "epoch": 1793947883.0} for side in ("before", "after")]
        notes += [
            {"at": AT, "what": "observation", "unit": o.unit, "fact": o.fact, "value": o.value} for o in case.observed()
        ]
        yield Made(
            {side + ".txt": _NUMBER.split(case.text(side)) for side in ("before", "after")},
            {
                "job.json": json.dumps(job).encode(),
                "journal.jsonl": b"".join(json.dumps(note).encode() + b"\n" for note in notes),
                "findings.json": as_json(document).encode(),
            },
        )


@cache
def rehearsed(place: Path) -> list[Made]:
    """Whole swaps on the simulated switch, as the live job keeps them."""
    names = sorted(GOOD_ONES)
    found = []
    for seed in range(WHOLE_SWAPS):
        path = place / f"swap-{seed}"
        shutil.rmtree(path, ignore_errors=True)
        campaign.one_job(seed, scenario(names[seed % len(names)]), path)
        folder = Folder(path)
        if (path / "after.txt").exists():
            again = judge_again(folder, Acceptance(), campaign.WEXCOMBE)
            document = replay_document(again.judgement, again.before, again.after, {}, "defaults", [], None)
            files = {name: folder.content(name) for name in folder.files()}
            files["findings.json"] = as_json(document).encode()
            texts = {n: _NUMBER.split(data) for n, data in files.items() if n.endswith(".txt") and "line" not in n}
            found.append(Made(texts, {name: data for name, data in files.items() if name not in texts}))
        shutil.rmtree(path)
    return found


def write(of: Made, path: Path, seed: int) -> None:
    """A job with numbers of its own, sealed."""
    told = random.Random(seed)
    other: dict[bytes, bytes] = {}
    sealed: dict[str, str] = {}
    shift = told.choice((-1.0, -0.5, 0.0, 0.5, 1.0))
    path.mkdir(parents=True, exist_ok=True)
    if any(name.startswith("samples/") for name in of.files):
        (path / "samples").mkdir(exist_ok=True)
    for name, data in of.rest.items():
        _write(path, name, data, sealed)
    for name, pieces in of.files.items():
        text = b"".join(
            _varied(piece, other, told) if number % 3 else piece for number, piece in enumerate(pieces) if piece
        )
        text = _HEAT.sub(lambda m: m[1] + f"{float(m[2]) + shift:<{len(m[2])}.1f}".encode() + m[3], text)
        _write(path, name, text, sealed)
    (path / "seal.json").write_bytes(canonical({"schema": 1, "sealed_at": AT, "version": "made", "files": sealed}))


def _write(path: Path, name: str, data: bytes, sealed: dict[str, str]) -> None:
    (path / name).write_bytes(data)
    sealed[name] = hashlib.sha256(data).hexdigest()


def _varied(number: bytes, other: dict[bytes, bytes], told: random.Random) -> bytes:
    """Another number of the same length, the same for the same within a job."""
    found = other.get(number)
    if found is None:
        keep = 2 if number[:1].isalpha() else 1
        tail = b"".join(b"%d" % told.randrange(10) for _ in range(2 if keep == 2 else 1))
        found = other[number] = number[: len(number) - len(tail)] + tail
    return found


# What is measured.


def rates(place: Path, jobs: int, rounds: int) -> bool:
    """One worker and two, texts parsed twice, and one worker against plain TextFSM; whether the goals are met."""
    mix = made(place / "mixed", jobs)
    ratio = against_textfsm(mix, rounds)
    for kind in ("pairs", "swaps"):  # what the two halves come to by themselves; no goal
        against_textfsm(made(place / kind, min(jobs, 200), kind), rounds)
    texts, copies = count_texts(mix)
    faster = []
    for _ in range(max(1, rounds // 2)):
        one, two = (whole_run(mix, place, workers) for workers in (1, 2))
        faster.append(one.seconds / two.seconds)
        print(
            f"{jobs} jobs   one worker {jobs / one.seconds:6.1f} jobs a second   two {jobs / two.seconds:6.1f}   "
            f"{faster[-1]:.2f} times as fast"
        )
    twice = max(one.parsed, two.parsed) - texts
    print(f"{texts} different texts and {copies} copies: {one.parsed} parsed by one worker, {two.parsed} by two")
    best = statistics.median(faster)
    print(
        f"goals: two workers {best:.2f} (at least {GOALS['faster']}), rate of plain TextFSM {ratio:.2f} "
        f"(at least {GOALS['textfsm']}), texts parsed twice {twice} ({GOALS['twice']})"
    )
    return best >= GOALS["faster"] and ratio >= GOALS["textfsm"] and twice <= GOALS["twice"]


def memory(place: Path, few: int, many: int) -> bool:
    """Peak memory over many jobs and over few, by one worker and by two; whether the goal is met."""
    small, large = (whole_run(made(place / f"pairs-{n}", n, "pairs"), place, 2) for n in (few, many))
    for what, a, b in (("largest process", small.peak, large.peak), ("all together", small.total, large.total)):
        print(
            f"two workers   {what}: {a:.0f} MB over {few} jobs, {b:.0f} MB over {many}   {b / a:.2f} times", flush=True
        )
    good = large.peak <= GOALS["memory"] * small.peak and large.total <= GOALS["memory"] * small.total
    print(f"goal: at most {GOALS['memory']} times")
    return good


class Ran(NamedTuple):
    """A run of the program itself."""

    seconds: float
    parsed: int
    peak: float
    """Megabytes of the process that took most."""
    total: float
    """Megabytes of all its processes at once, at most; looked at ten times a second."""


def whole_run(root: Path, place: Path, workers: int) -> Ran:
    """`consolecheck replay --archive` as a process of its own."""
    results = place / "results.jsonl"
    results.unlink(missing_ok=True)
    command = [
        sys.executable,
        "-m",
        "consolecheck",
        "replay",
        "--archive",
        str(root),
        "--json",
        "--results",
        str(results),
    ]
    command += ["--acceptance", str(place / "limits.toml"), "--workers", str(workers)]
    began = time.perf_counter()
    peak = total = 0.0
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        while process.poll() is None:
            sizes = list(resident(process.pid))
            peak, total = max([peak, *sizes]), max(total, sum(sizes))
            time.sleep(0.1)
        seconds = time.perf_counter() - began
        assert process.stdout is not None
        told = json.load(process.stdout)
    assert (0, 0) == (told["not_judged"], process.returncode), told
    return Ran(seconds, told["texts"]["parsed"], peak, total)


def resident(pid: int) -> Iterator[float]:
    """Megabytes of a process and of all below it (Linux)."""
    try:
        status = Path(f"/proc/{pid}/status").read_text()
        below = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return
    yield from (int(found[1]) / 1024 for found in re.finditer(r"VmRSS:\s+(\d+) kB", status))
    for child in below:
        yield from resident(int(child))


def count_texts(root: Path) -> tuple[int, int]:
    """How many different texts the verdicts on all jobs read, and how many more there are that are copies."""
    seen: set[bytes] = set()
    number = 0
    for path in root.glob("*/*"):
        for name in texts_of(path):
            seen.add(hashlib.sha256((path / name).read_bytes()).digest())
            number += 1
    return len(seen), number - len(seen)


def against_textfsm(root: Path, rounds: int) -> float:
    """Our rate over that of plain TextFSM on the same texts, in processor time; the median over the rounds."""
    tasks = list(tasks_of(root))
    ratios, unfolded_too, ours_all, plain_all = [], [], [], []
    spread.collect_less()
    jobs = sum(len(task.jobs) for task in tasks)
    for round_ in range(rounds + 1):  # the first one only warms up
        spread._READ = spread.Remembered()
        ours = plain = beside = 0.0
        for task in tasks:
            tables = [table for job in task.jobs for table in tables_of(root / job.name)]
            unfolded = [table for job in task.jobs for table in tables_of(root / job.name, unfolded=True)]
            start = time.process_time()
            part = spread.judge_part(task)
            middle = time.process_time()
            for machine, text in tables:
                machine.Reset()
                machine.ParseText(text)
            end = time.process_time()
            for machine, text in unfolded:
                machine.Reset()
                machine.ParseText(text)
            beside += time.process_time() - end
            plain += end - middle
            ours += middle - start
            assert all(row["fault"] is None for row in part.rows), [row["fault"] for row in part.rows]
        if round_:
            ratios.append(plain / ours)
            unfolded_too.append((plain + beside) / ours)
            ours_all.append(ours)
            plain_all.append(plain)
    print(
        f"{root.name:<8}{jobs} jobs   one worker {statistics.median(ours_all) / jobs * 1000:6.2f} ms a job   "
        f"plain TextFSM {statistics.median(plain_all) / jobs * 1000:6.2f} ms   rate {statistics.median(ratios):.2f} of it, "
        f"{statistics.median(unfolded_too):.2f} where TextFSM is given JSON and walks unfolded"
    )
    return statistics.median(ratios)


def tasks_of(root: Path) -> Iterator[spread.Task]:
    limits = Acceptance.model_validate({"power": {"headroom_percent": 20}})
    names = sorted(str(path.relative_to(root).parent.as_posix()) for path in root.glob("*/*/job.json"))
    for begin in range(0, len(names), 16):
        part = tuple(Planned(name, "") for name in names[begin : begin + 16])
        yield spread.Task(str(root), limits.model_dump_json(), spread.program(), part)


def texts_of(path: Path) -> list[str]:
    """The texts that a verdict on a job reads: both captures, and the samples of the last run."""
    noted = [json.loads(line) for line in (path / "journal.jsonl").read_bytes().splitlines()]
    samples = [note for note in noted if note["what"] == "sample"]
    names = [f"samples/{note['number']:04}.txt" for note in samples if note["run"] == samples[-1]["run"]]
    return ["before.txt", *names, "after.txt"]


def tables_of(path: Path, unfolded: bool = False) -> Iterator[tuple[textfsm.TextFSM, str]]:
    """The tables of every text that a verdict on a job reads, and their compiled templates.

    `unfolded`: those that are printed as JSON or walked column by column and no others, as the lines that their
    templates are written for; as printed plain TextFSM ends at their first line.
    """
    known = {d.name: d for d in dialects()}
    dialect = known[json.loads((path / "job.json").read_bytes())["dialect"]]
    for name in texts_of(path):
        for section in split(clean((path / name).read_bytes()), dialect).sections:
            if section.table and unfolded is not (dialect.manifest.tables[section.table].layout == "rows"):
                lines = section.lines
                if unfolded:
                    lines = reader._reader(dialect)._flat(lines, section.table, [], [])[0].lines
                try:
                    machine = dialect.template(section.table).machine
                    machine.Reset()
                    machine.ParseText(text := "\n".join(line.text for line in lines))
                except textfsm.TextFSMError:  # a line that no rule fits ends it there, before the work is done
                    continue
                yield machine, text


if __name__ == "__main__":
    raise SystemExit(main())
