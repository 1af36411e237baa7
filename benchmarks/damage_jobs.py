"""Live jobs whose samples are damaged: none may become verified that was not, or for another reason than it was.

Run: `python benchmarks/damage_jobs.py --pairs 400 --seed 33`.

Some whole jobs are done in simulated time as `benchmarks/campaign.py` does them, good ones, bad ones, and good ones
of which only the first minutes were kept, so that nothing can have settled. Then the texts of some of their samples,
or of all, are damaged in the folder, or replaced by an earlier one, and the folder is judged as `replay` judges it.

False is a verdict `verified` where the untouched folder has another one, and where a sensor is missing from what was
judged or is told to end further from where the untouched samples say than the acceptance's limit.
"""

import argparse
import json
import random
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parent))

from campaign import LIMITS, WEXCOMBE, one_job

from consolecheck.job.folder import Folder
from consolecheck.job.held import as_live, held
from consolecheck.judging.judge import NoSuchUnit, judge
from consolecheck.judging.settling import settling_of, since_seated
from consolecheck.judging.view import Key
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Verdict
from consolecheck.rehearsal.damage import KINDS, Place
from consolecheck.rehearsal.faults import scenario

JOBS = (
    "none",
    "fan-replaced",
    "inlet-warms",
    "sensor-over-warning",
    "slow-creep",
    "none",
    "load-grows",
    "fan-weak-rotor",
)
"""Scenarios, each at a site of its own."""
KEPT = 6
"""Samples that are left of a job of which only the beginning is kept."""


class Told(NamedTuple):
    verdict: str
    ends: dict[Key, float]
    """Where the samples say that each sensor will stand."""


def judged(place: Path) -> Told:
    """The verdict on a folder, as `replay` comes to it."""
    folder = Folder(place)
    found = held(folder, WEXCOMBE)
    assert found.before is not None
    try:
        before, after = (
            read_text(text, f"{side}.txt", (WEXCOMBE,), WEXCOMBE)
            for side, text in (("before", found.before), ("after", found.after))
        )
        told = judge(
            before, after, found.job.unit, as_live(LIMITS), found.observed, found.reseat, found.samples, found.taken
        )
    except (NotRecognised, NoSuchUnit):
        return Told("refused", {})
    courses = settling_of(since_seated(found.samples, found.job.unit), LIMITS).courses
    return Told(told.verdict.value, {c.key: c.end for c in courses if c.end is not None})


def make_jobs(place: Path) -> list[tuple[str, Path, Told]]:
    """Whole jobs in folders below `place`, and the beginnings of the good ones."""
    made = []
    for seed, name in enumerate(JOBS):
        folder = place / f"{seed}-{name}"
        one_job(seed, scenario(name), folder)
        if not (folder / "after.txt").exists():
            continue
        told = judged(folder)
        made.append((f"{name}/{seed}", folder, told))
        if told.verdict == Verdict.VERIFIED.value:
            short = place / f"{seed}-{name}-short"
            shutil.copytree(folder, short)
            samples = held(Folder(folder), WEXCOMBE).samples
            left = len(samples) - len(since_seated(samples, scenario(name).unit)) + KEPT
            journal = []
            for line in (short / "journal.jsonl").read_bytes().splitlines(keepends=True):
                left -= json.loads(line)["what"] == "sample"
                if left >= 0 or json.loads(line)["what"] != "sample":
                    journal.append(line)
            (short / "journal.jsonl").write_bytes(b"".join(journal))
            made.append((f"{name}/{seed}, first {KEPT} samples", short, judged(short)))
    return made


def damage(place: Path, dice: random.Random) -> str:
    """Damages samples of a job in place; what was done."""
    paths = sorted((place / "samples").glob("*.txt"))
    share = dice.choice((0.02, 0.1, 0.5, 1.0))
    first = dice.randrange(len(paths))
    if dice.random() < 0.2:
        for path in paths[first + 1 :]:
            path.write_bytes(paths[first].read_bytes())
        return "samples-replayed"
    kind = dice.choice([k for k in KINDS if k.group != "harmless"])
    for path in paths:
        if dice.random() >= share and path != paths[first]:
            continue
        text = path.read_bytes().decode("utf-8", "surrogateescape")
        snapshot = read_text(path.read_bytes(), path.name, (WEXCOMBE,), WEXCOMBE)
        other = dice.choice(paths).read_bytes().decode("utf-8", "surrogateescape")
        made = kind.damage(Place(text, snapshot, WEXCOMBE, "psu-2", other, (other,)), dice) if text else None
        if made is not None:
            path.write_bytes(made.encode("utf-8", "surrogateescape"))
    return kind.name


def false(true: Told, now: Told) -> str:
    """Why a verdict on damaged samples is false; empty where it is not."""
    if now.verdict != Verdict.VERIFIED.value:
        return ""
    if true.verdict != now.verdict:
        return f"truly {true.verdict}"
    for key, end in true.ends.items():
        if key not in now.ends:
            return f"{key[2]} is not among what was judged"
        if abs(now.ends[key] - end) > LIMITS.settling.within:
            return f"{key[2]} is told to end at {now.ends[key]:.1f}, truly at {end:.1f} °C"
    return ""


def main() -> int:
    parser = argparse.ArgumentParser(description="Live jobs with damaged samples, judged.")
    parser.add_argument("--pairs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=33)
    given = parser.parse_args()
    dice = random.Random(f"damaged jobs {given.seed}")
    counts: Counter[tuple[str, str, str]] = Counter()
    wrong = []
    with tempfile.TemporaryDirectory(prefix="consolecheck-damage-") as place:
        jobs = make_jobs(Path(place))
        for name, _, told in jobs:
            print(f"{name}: {told.verdict}")
        for number in range(given.pairs):
            name, folder, true = dice.choice(jobs)
            copy = Path(place) / f"damaged-{number}"
            shutil.copytree(folder, copy)
            done = damage(copy, dice)
            now = judged(copy)
            shutil.rmtree(copy)
            why = false(true, now)
            counts[true.verdict, now.verdict, "false" if why else ""] += 1
            if why:
                wrong.append(f"{name}, {done}: {why}")
    print(f"\n{'true verdict':<16}{'with damaged samples':<24}{'':<8}{'jobs':>6}")
    for (true_verdict, now_verdict, mark), n in sorted(counts.items()):
        print(f"{true_verdict:<16}{now_verdict:<24}{mark:<8}{n:>6}")
    print(f"\nfalsely verified: {len(wrong)} of {given.pairs}  (goal 0)")
    for line in wrong[:40]:
        print(f"  {line}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
