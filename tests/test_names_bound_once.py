"""A name that a module binds a second time silently replaces the first: no module does so."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(path for folder in ("consolecheck", "benchmarks", "tests") for path in (ROOT / folder).rglob("*.py"))


def bound_twice(source: str) -> list[str]:
    """The names that the top level of a module gives a value, a function or a class more than once, with the line."""
    seen: set[str] = set()
    found = []
    for name, line in _bound(ast.parse(source)):
        if name in seen:
            found.append(f"{name}, line {line}")
        seen.add(name)
    return found


def _bound(tree: ast.Module) -> Iterator[tuple[str, int]]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name, node.lineno
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            yield from ((target.id, node.lineno) for target in targets if isinstance(target, ast.Name))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_name_of_a_module_is_bound_twice(path: Path) -> None:
    assert bound_twice(path.read_text(encoding="utf-8")) == []


def test_a_name_that_is_bound_again_is_found() -> None:
    assert bound_twice("_A = 1\n\n\ndef b() -> None: ...\n\n\n_A: int = 2\n") == ["_A, line 7"]
