"""How much a replay costs, as ratios. Run: `python benchmarks/replay.py`.

1. One replay as a whole process against a Python process that only imports pydantic, textfsm and rich.
2. In process: recognising, reading and judging a before/after pair against plain TextFSM parsing the
   same table texts with the same compiled templates. Whatever one replay remembers for the next
   (rows already read, sort decisions) is dropped before every round, so each is a first one;
   templates and patterns are compiled beforehand on both sides.

3. The same cold, as the first replay of a process does it: dialects read, patterns and templates compiled
   on both sides. No goal; it is what a person waits for besides the imports.

Prints the medians and the ratios; exits 1 if one is above its goal of 2.0.
"""

import gc
import io
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import textfsm

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, read_dialect, shipped
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
        reader.forget(dialect)


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


def cold(name: str) -> float:
    """The first replay of a process: dialects, patterns and templates compiled anew, on both sides."""
    case = next(c for c in cases_of(shipped("fixtures")) if c.place.endswith(name))
    before, after = case.text("before"), case.text("after")
    acceptance, observed = case.acceptance(), case.observed()
    folders = [f for f in sorted(shipped("parsers").iterdir()) if (f / "dialect.toml").is_file()]
    dialect = next(d for d in dialects() if d.name == case.dialect_name)
    texts = [
        ((shipped("parsers") / dialect.name / dialect.manifest.tables[s.table].template).read_text("utf-8"), s)
        for raw in (before, after)
        for s in split(clean(raw), dialect).sections
        if s.table
    ]

    def ours() -> None:
        re.purge()
        parse_quantity.cache_clear()
        fresh = tuple(read_dialect(folder) for folder in folders)
        judge(
            read_text(before, "before", fresh), read_text(after, "after", fresh), case.file.unit, acceptance, observed
        )

    def plain() -> None:
        re.purge()
        machines: dict[str, textfsm.TextFSM] = {}
        for template, section in texts:
            machine = machines.get(template) or machines.setdefault(template, textfsm.TextFSM(io.StringIO(template)))
            machine.Reset()
            machine.ParseText("\n".join(line.text for line in section.lines))

    ours(), plain()
    a, b, ratio = alternating(ours, plain, ROUNDS // 3)
    print(f"cold            {case.place:<44} {a * 1000:6.2f} ms   plain TextFSM {b * 1000:6.2f} ms   ratio {ratio:.2f}")
    return ratio


def main() -> int:
    assert Acceptance()
    pairs = [
        f"{case.dialect_name}/{case.name}"
        for case in cases_of(shipped("fixtures"))
        if case.file.claims.verdict == "verified"
    ]
    ratios = [in_process(name) for name in pairs if "log-lines" not in name and "pager" not in name]
    first = max(cold(f"{name}/psu-2-replaced") for name in ("wexcombe", "ipmitool", "cisco_nxos", "sonic"))
    whole = whole_process()
    worst = max(ratios)
    print(f"worst cold ratio {first:.2f} (no goal)")
    print(f"worst in-process ratio {worst:.2f}, whole-process ratio {whole:.2f}, goal {GOAL}")
    return 0 if worst <= GOAL and whole <= GOAL else 1


if __name__ == "__main__":
    raise SystemExit(main())
