"""Puts one fault at a time into judging and screen cleaning, and counts the faults that no test notices.

    python benchmarks/mutants.py --out DIR                  # every mutant; hours
    python benchmarks/mutants.py --out DIR --sample 800     # so many, drawn with --seed
    python benchmarks/mutants.py --out DIR --report         # docs/mutants.md from what DIR holds

Mutants are made by cosmic-ray's operators (pip install cosmic-ray coverage). First every test is run once under
coverage, so that a mutant is put before only those tests that reach its line, the quickest first; each in a fork
of a process that has imported everything but this program. A mutant that no test notices within its tests is a
survivor; one that runs ten times as long as its tests did is noticed by that. A run that is stopped goes on where
it was; a changed source file is tried anew. Reasons for survivors stand in mutants.toml beside this file.
"""

import argparse
import ast
import contextlib
import difflib
import hashlib
import importlib
import importlib.abc
import importlib.util
import io
import json
import os
import random
import signal
import subprocess
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
TARGETS = (
    *sorted((ROOT / "consolecheck" / "judging").rglob("*.py")),
    ROOT / "consolecheck" / "reading" / "screen.py",
)
REASONS = Path(__file__).with_suffix(".toml")
PUT_BEFORE = tuple(
    f"tests/test_{name}.py"
    for name in (
        *("air", "cases", "clearance", "curve", "fixed_point", "gainsaid", "limits", "logic", "outside_facts"),
        *("parts_fitted", "plausible", "screen", "seen", "settling", "told", "whole_line", "without_baseline"),
        *(
            f"boundaries_{of}"
            for of in ("clearance", "cooling", "power", "temperature", "unit", "text", "curve", "screen")
        ),
    )
)
"""The tests that are about judging and cleaning; what servers, browsers and terminals prove takes long, and is other."""
OPERATORS = tuple(
    f"core/{name}"
    for name in (
        *(
            f"ReplaceComparisonOperator_{a}_{b}"
            for a, b in (("Eq", "NotEq"), ("NotEq", "Eq"), ("Is", "IsNot"), ("IsNot", "Is"))
        ),
        *(
            f"ReplaceComparisonOperator_{a}_{b}"
            for a, b in (("Lt", "LtE"), ("Lt", "GtE"), ("LtE", "Lt"), ("LtE", "Gt"))
        ),
        *(
            f"ReplaceComparisonOperator_{a}_{b}"
            for a, b in (("Gt", "GtE"), ("Gt", "LtE"), ("GtE", "Gt"), ("GtE", "Lt"))
        ),
        *(
            f"ReplaceBinaryOperator_{a}_{b}"
            for a, b in (("Add", "Sub"), ("Sub", "Add"), ("Mul", "Div"), ("Div", "Mul"))
        ),
        *(f"ReplaceBinaryOperator_{a}_{b}" for a, b in (("FloorDiv", "Mul"), ("Mod", "Mul"), ("Pow", "Mul"))),
        "ReplaceUnaryOperator_USub_UAdd",
        "ReplaceUnaryOperator_Delete_Not",
        "AddNot",
        "ReplaceTrueWithFalse",
        "ReplaceFalseWithTrue",
        "ReplaceAndWithOr",
        "ReplaceOrWithAnd",
        "ReplaceBreakWithContinue",
        "ReplaceContinueWithBreak",
        "NumberReplacer",
        "ZeroIterationForLoop",
    )
)
SLOWEST_SECONDS = 4.0
"""A test that takes longer is not put before a mutant."""
MOST_OF_A_FILE = 120
"""So many tests of one file are put before a mutant, the quickest."""
MOST_OF_A_TEST = 60
"""And so many cases of one test, which would else leave no room for the others of its file."""


class Mutant(NamedTuple):
    file: str
    operator: str
    occurrence: int
    line: int

    @property
    def key(self) -> str:
        return f"{self.file}|{self.operator}|{self.occurrence}"


def mutants() -> list[Mutant]:
    """Every mutant of the targets."""
    from cosmic_ray.ast import ast_nodes, get_ast_from_path
    from cosmic_ray.plugins import get_operator

    found = []
    for file in TARGETS:
        tree = list(ast_nodes(get_ast_from_path(file)))
        for name in OPERATORS:
            operator, count = get_operator(name)(), 0
            for node in tree:
                for position in operator.mutation_positions(node):
                    found.append(Mutant(str(file.relative_to(ROOT).as_posix()), name, count, position[0][0]))
                    count += 1
    return found


def mutated(mutant: Mutant) -> str:
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    code = mutate_code(
        (ROOT / mutant.file).read_text(encoding="utf-8"), get_operator(mutant.operator)(), mutant.occurrence
    )
    assert code is not None, mutant
    return str(code)


# ---- which tests reach which line


class _Contexts:
    """Tells coverage which test runs, and times it."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    def pytest_runtest_protocol(self, item: Any) -> None:
        import coverage

        if (now := coverage.Coverage.current()) is not None:
            now.switch_context(item.nodeid)

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.passed:
            self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        else:
            self.seconds[report.nodeid] = float("inf")


def reach(out: Path) -> None:
    """Runs the tests under coverage, in this process, and writes which of them reach which line."""
    import coverage
    import pytest

    watch = coverage.Coverage(data_file=None, include=[str(file) for file in TARGETS], branch=False)
    plugin = _Contexts()
    watch.start()
    pytest.main(["-q", "-p", "no:cacheprovider", *(t for t in PUT_BEFORE if (ROOT / t).is_file())], plugins=[plugin])
    watch.stop()
    data = watch.get_data()
    quick = sorted((s, test) for test, s in plugin.seconds.items() if s <= SLOWEST_SECONDS)
    place = {test: number for number, (_, test) in enumerate(quick)}
    lines = {
        str(Path(file).relative_to(ROOT).as_posix()): {
            str(line): sorted(place[context] for context in contexts if context in place)
            for line, contexts in data.contexts_by_lineno(file).items()
        }
        for file in data.measured_files()
    }
    (out / "reach.json").write_text(json.dumps({"lines": lines, "tests": quick, "sources": digest_of_all()}))


def digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()[:16]


def digest_of_all() -> str:
    every = sorted([*(ROOT / "consolecheck").rglob("*.py"), *(ROOT / "tests").glob("*.py")])
    return hashlib.sha256("".join(digest(file) for file in every).encode()).hexdigest()[:16]


class Reached(NamedTuple):
    """Which tests reach which line: numbers into `quick`, the tests with their seconds, quickest first."""

    lines: dict[str, dict[str, list[int]]]
    quick: list[tuple[float, str]]

    def tests(self, mutant: Mutant) -> list[tuple[float, str]]:
        """The tests that reach a mutant, quickest first; for a line that runs at import, of all tests."""
        lines = self.lines.get(mutant.file, {})
        found = set(lines.get(str(mutant.line), ()))
        if not found:
            first, last = _statement(mutant.file, mutant.line)
            found = {test for line in range(first, last + 1) for test in lines.get(str(line), ())}
        if not found and (str(mutant.line) in lines or _at_import(mutant.file, mutant.line)):
            found = set(range(len(self.quick)))  # a default or a constant is used where no line of its file runs
        # Of one test file some hundred tests may reach a line, and only the slow ones of another say what it is for.
        chosen, of_file, of_test = [], Counter[str](), Counter[str]()
        for number in sorted(found):
            test = self.quick[number][1].partition("[")[0]
            file = test.partition("::")[0]
            if of_file[file] < MOST_OF_A_FILE and of_test[test] < MOST_OF_A_TEST:
                of_file[file] += 1
                of_test[test] += 1
                chosen.append(self.quick[number])
        return chosen


_TREES: dict[str, ast.Module] = {}


def _tree(file: str) -> ast.Module:
    if file not in _TREES:
        _TREES[file] = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    return _TREES[file]


def _statement(file: str, line: int) -> tuple[int, int]:
    """First and last line of the smallest statement that holds a line; coverage counts its first."""
    best = (line, line)
    size = 10**9
    for node in ast.walk(_tree(file)):
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or node.lineno):
            span = (node.end_lineno or node.lineno) - node.lineno
            if span < size:
                best, size = (node.lineno, node.end_lineno or node.lineno), span
    return best


def _at_import(file: str, line: int) -> bool:
    """Whether a line stands outside every function."""
    return not any(
        isinstance(node, ast.FunctionDef) and node.body[0].lineno <= line <= (node.end_lineno or 0)
        for node in ast.walk(_tree(file))
    )


# ---- one mutant before its tests


class _Instead(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads the mutated source in place of one module."""

    def __init__(self, name: str, file: Path, source: str) -> None:
        self.name, self.file, self.source = name, file, source

    def find_spec(self, fullname: str, path: Any = None, target: Any = None) -> Any:
        if fullname != self.name:
            return None
        package = [str(self.file.parent)] if self.file.name == "__init__.py" else None
        spec = importlib.util.spec_from_loader(fullname, self, origin=str(self.file), is_package=package is not None)
        assert spec is not None
        if package:
            spec.submodule_search_locations = package
        return spec

    def exec_module(self, module: ModuleType) -> None:
        module.__file__ = str(self.file)
        exec(compile(self.source, str(self.file), "exec"), module.__dict__)


def _in_order(names: Sequence[str]) -> Any:
    place = {name: number for number, name in enumerate(names)}

    class Order:
        def pytest_collection_modifyitems(self, items: list[Any]) -> None:
            items.sort(key=lambda item: place.get(item.nodeid, len(place)))

    return Order()


def tried(mutant: Mutant, reached: Reached) -> str:
    """`noticed`, `slow` (noticed by its time), `survived` or `not reached`."""
    tests = reached.tests(mutant)
    if not tests:
        return "not reached"
    # Collecting takes longer than running, so the files that state limits and sentences come first, alone.
    near = [test for test in tests if _BOUNDARIES in test[1]]
    far = [test for test in tests if _BOUNDARIES not in test[1]]
    outcomes = (_put_before(mutant, some) for some in (near, far) if some)
    return next((outcome for outcome in outcomes if outcome != "survived"), "survived")


_BOUNDARIES = "test_boundaries_"


def _put_before(mutant: Mutant, tests: Sequence[tuple[float, str]]) -> str:
    expected = sum(seconds for seconds, _ in tests)
    child = os.fork()
    if child == 0:
        os.setsid()
        with contextlib.suppress(BaseException):
            os._exit(_child(mutant, tests))
        os._exit(1)
    patience = time.monotonic() + 10 * expected + 30
    while time.monotonic() < patience:
        pid, status = os.waitpid(child, os.WNOHANG)
        if pid:
            return "survived" if os.WIFEXITED(status) and os.WEXITSTATUS(status) == 0 else "noticed"
        time.sleep(0.01)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "slow"


def _child(mutant: Mutant, tests: Sequence[tuple[float, str]]) -> int:
    import pytest

    sys.meta_path.insert(0, _Instead(_module(mutant.file), ROOT / mutant.file, mutated(mutant)))
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    with contextlib.redirect_stdout(io.StringIO()):
        names = [name for _, name in tests]
        without = [word for plugin in ("cacheprovider", "unraisableexception") for word in ("-p", f"no:{plugin}")]
        return int(pytest.main(["-x", "-q", *without, *names], plugins=[_in_order(names)]))


def _module(file: str) -> str:
    return file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def preload() -> None:
    """What the tests import beside the mutated modules, so that a fork need not."""
    sys.path.insert(0, str(ROOT))
    for name in (
        "consolecheck.files.shelf",
        "cosmic_ray.mutating",
        "hypothesis.strategies",
        "numpy",
        "pydantic",
        "pytest",
        "rich.console",
        "rich.table",
        "scipy.optimize",
        "textfsm",
        "typer.testing",
    ):
        importlib.import_module(name)
    loaded = {_module(file.relative_to(ROOT).as_posix()) for file in TARGETS} & sys.modules.keys()
    assert not loaded, f"imported before they are mutated: {loaded}"


# ---- runs and report


def run(out: Path, chosen: Sequence[Mutant], workers: int) -> None:
    raw = json.loads((out / "reach.json").read_text())
    reached = Reached(raw["lines"], [(seconds, name) for seconds, name in raw["tests"]])
    done = results(out)
    left = [m for m in chosen if done.get(m.key, {}).get("source") != digest(ROOT / m.file)]
    print(f"{len(chosen) - len(left)} of {len(chosen)} mutants were tried before", flush=True)
    preload()
    os.chdir(ROOT)
    for number in range(1, workers):
        if os.fork() == 0:
            _work(out, left[number::workers], reached, number)
            os._exit(0)
    _work(out, left[0::workers], reached, 0)
    with contextlib.suppress(ChildProcessError):
        while True:
            os.wait()


def _work(out: Path, mutants: Sequence[Mutant], reached: Reached, number: int) -> None:
    with (out / f"results-{number}.jsonl").open("a", encoding="utf-8") as file:
        for mutant in mutants:
            outcome = tried(mutant, reached)
            line = {
                **mutant._asdict(),
                "outcome": outcome,
                "source": digest(ROOT / mutant.file),
                "change": _change(mutant),
            }
            file.write(json.dumps(line) + "\n")
            file.flush()


def _change(mutant: Mutant) -> list[str]:
    before = (ROOT / mutant.file).read_text(encoding="utf-8").splitlines()
    after = mutated(mutant).splitlines()
    shown = [x for x in difflib.ndiff(before, after) if x[:2] in ("- ", "+ ")]
    return [" ".join(x[2:].split()) for x in shown[:2]]


def results(out: Path) -> dict[str, dict[str, Any]]:
    """What was tried, by the mutant's key; the last time counts."""
    found: dict[str, dict[str, Any]] = {}
    for file in sorted(out.glob("results-*.jsonl")):
        for line in file.read_text(encoding="utf-8").splitlines():
            with contextlib.suppress(ValueError):
                entry = json.loads(line)
                key = f"{entry['file']}|{entry['operator']}|{entry['occurrence']}"
                found[key] = entry
    return found


def table(out: Path, chosen: Sequence[Mutant], total: int) -> str:
    """The report as Markdown: figures by file, and each survivor with its reason."""
    reasons: dict[str, str] = tomllib.loads(REASONS.read_text(encoding="utf-8")) if REASONS.is_file() else {}
    done = results(out)
    entries = [e for m in chosen if (e := done.get(m.key)) is not None and e["source"] == digest(ROOT / m.file)]
    noticed = sum(e["outcome"] in ("noticed", "slow") for e in entries)
    lines = [
        "# Faults put into judging and cleaning",
        "",
        "Made by `python benchmarks/mutants.py --out DIR --report`; how it is done stands at the top of that file.",
        "",
        "A survivor that shows a missing test is tried again once the test is there, so a new sample starts lower.",
        "",
        f"{total} mutants can be made; {len(entries)} were tried"
        + (" (drawn at random)" if len(entries) < total else "")
        + f", {noticed} of them noticed: **{noticed / max(1, len(entries)):.1%}**.",
        "",
        "| file | tried | noticed | share |",
        "|---|---:|---:|---:|",
    ]
    for file in sorted({e["file"] for e in entries}):
        own = Counter(e["outcome"] in ("noticed", "slow") for e in entries if e["file"] == file)
        lines.append(f"| `{file}` | {own.total()} | {own[True]} | {own[True] / own.total():.0%} |")
    lines += ["", "## Survivors", "", "| where | becomes | why it may stay |", "|---|---|---|"]
    for e in sorted(entries, key=lambda e: (e["file"], e["line"])):
        if e["outcome"] in ("noticed", "slow"):
            continue
        was, now = (*e["change"], "", "")[:2]
        reason = reasons.get(f"{e['file']}: {was} -> {now}") or reasons.get(
            f"{e['file']}: {was}", "open: a test is missing"
        )
        if e["outcome"] == "not reached":
            reason = "open: no quick test reaches the line"
        cells = (f"`{e['file'].removeprefix('consolecheck/')}:{e['line']}` `{was}`", f"`{now}`", reason)
        lines.append("| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |")
    return "\n".join(lines) + "\n"


def drawn(every: Sequence[Mutant], sample: int | None, seed: int) -> list[Mutant]:
    if sample is None or sample >= len(every):
        return list(every)
    return sorted(random.Random(seed).sample(list(every), sample))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="where results are kept")
    parser.add_argument("--sample", type=int, help="try so many, drawn at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--file", help="only mutants of files whose path holds this text")
    parser.add_argument("--report", action="store_true", help="write docs/mutants.md from what was tried")
    parser.add_argument("--reach", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    if given.reach:
        reach(given.out.resolve())
        return
    every = mutants()
    chosen = [m for m in drawn(every, given.sample, given.seed) if given.file is None or given.file in m.file]
    if given.report:
        text = table(given.out, chosen, len(every))
        (ROOT / "docs" / "mutants.md").write_text(text, encoding="utf-8", newline="\n")
        print(text.split("## Survivors")[0])
        return
    known = given.out / "reach.json"
    if not known.is_file() or json.loads(known.read_text())["sources"] != digest_of_all():
        print("running the tests once, to see which lines each reaches", flush=True)
        subprocess.run([sys.executable, __file__, "--out", str(given.out.resolve()), "--reach"], cwd=ROOT, check=False)
    run(given.out.resolve(), chosen, given.workers)
    print(table(given.out, chosen, len(every)).split("## Survivors")[0])


if __name__ == "__main__":
    main()
