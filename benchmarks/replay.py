"""How much a replay costs, as two ratios. Run: `python benchmarks/replay.py`.

1. One replay as a whole process against a Python process that only imports pydantic, textfsm and rich.
2. In process: recognising, reading and judging a before/after pair against plain TextFSM parsing the
   same table texts with the same compiled templates. Whatever one replay remembers for the next
   (rows already read, sort decisions) is dropped before every round, so each is a first one;
   templates and patterns are compiled beforehand on both sides.

Prints the medians and both ratios; exits 1 if one is above its goal of 2.0.
"""

import gc
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.reading import reader
from consolecheck.reading.captured import split
from consolecheck.reading.reader import read_text
from consolecheck.reading.screen import clean
from consolecheck.records.units import parse_quantity

GOAL = 2.0
PROCESSES, ROUNDS = 21, 60


def alternating(one: Callable[[], None], two: Callable[[], None], rounds: int) -> tuple[float, float, float]:
    """Median seconds of both, and the median of the ratios taken pair by pair, since machines drift."""
    first, second = [], []
    gc.collect()
    gc.disable()  # as timeit does: whose turn it is to collect is chance
    for _ in range(rounds):
        start = time.perf_counter()
        one()
        middle = time.perf_counter()
        two()
        first.append(middle - start)
        second.append(time.perf_counter() - middle)
    gc.enable()
    ratios = [a / b for a, b in zip(first, second, strict=True)]
    return statistics.median(first), statistics.median(second), statistics.median(ratios)


def whole_process() -> float:
    case = next(c for c in cases_of(shipped("fixtures"), "wexcombe") if c.name == "psu-2-replaced")
    ours = [sys.executable, "-m", "consolecheck", "replay", "--unit", case.file.unit]
    ours += ["--before", str(case.folder / "before.txt"), "--after", str(case.folder / "after.txt")]
    bare = [sys.executable, "-c", "import pydantic, textfsm, rich"]

    def run(command: list[str]) -> Callable[[], None]:
        return lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL) and None

    run(ours)(), run(bare)()  # file caches
    a, b, ratio = alternating(run(ours), run(bare), PROCESSES)
    print(f"whole process   replay {a * 1000:7.1f} ms   imports only {b * 1000:7.1f} ms   ratio {ratio:.2f}")
    # `import pydantic` loads next to nothing by itself; this is what using the same libraries costs.
    used = "import os; os.environ['PYDANTIC_DISABLE_PLUGINS'] = '1'\nimport typer, textfsm\nfrom pydantic import BaseModel\n"
    used += "class Used(BaseModel):\n    a: int = 1\nUsed()"
    a, b, floor = alternating(run(ours), run([sys.executable, "-c", used]), PROCESSES)
    print(
        f"whole process   replay {a * 1000:7.1f} ms   libraries in use {b * 1000:3.1f} ms   ratio {floor:.2f}  (no goal)"
    )
    return ratio


def forget() -> None:
    """Drops what an earlier replay left behind; compiled patterns stay."""
    parse_quantity.cache_clear()
    for dialect in dialects():
        for rows in reader._reader(dialect).rows.values():
            rows.known.clear()
            rows.chosen.clear()


def in_process(name: str) -> float:
    known = dialects()
    case = next(c for c in cases_of(shipped("fixtures")) if c.place.endswith(name))
    before, after = case.text("before"), case.text("after")
    dialect = next(d for d in known if d.name == case.dialect_name)
    tables = [
        (dialect.template(section.table).machine, "\n".join(line.text for line in section.lines))
        for raw in (before, after)
        for section in split(clean(raw), dialect).sections
        if section.table
    ]
    acceptance = case.acceptance()
    observed = case.observed()

    def ours() -> None:
        forget()
        judge(
            read_text(before, "before", known), read_text(after, "after", known), case.file.unit, acceptance, observed
        )

    def plain() -> None:
        for machine, text in tables:
            machine.Reset()
            machine.ParseText(text)

    ours(), plain()
    a, b, ratio = alternating(ours, plain, ROUNDS)
    print(f"in process      {case.place:<44} {a * 1000:6.2f} ms   plain TextFSM {b * 1000:6.2f} ms   ratio {ratio:.2f}")
    return ratio


def main() -> int:
    assert Acceptance()
    pairs = [
        f"{case.dialect_name}/{case.name}"
        for case in cases_of(shipped("fixtures"))
        if case.file.claims.verdict == "verified"
    ]
    ratios = [in_process(name) for name in pairs if "log-lines" not in name and "pager" not in name]
    whole = whole_process()
    worst = max(ratios)
    print(f"worst in-process ratio {worst:.2f}, whole-process ratio {whole:.2f}, goal {GOAL}")
    return 0 if worst <= GOAL and whole <= GOAL else 1


if __name__ == "__main__":
    raise SystemExit(main())
