"""Help, manual and completion: one example a command that works as written, and documents that say what the program says."""

import importlib.util
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[1]
GOOD = ROOT / "fixtures" / "wexcombe" / "psu-2-replaced"


def generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


MANUAL = generator()
COMMANDS = {command.name.removeprefix("consolecheck "): command for command in MANUAL.commands()}
AT_THE_RACK = {"ports", "swap", "baseline", "attend", "verify"}
"""Their examples need a switch on a line, or a serial port."""
ENDS = {"demo": 1}
"""Exit codes of examples that show something that went wrong."""


def run(*arguments: str, cwd: Path = ROOT, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "consolecheck", *arguments],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=cwd,
        env={**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "CI": "", **environment},
        check=False,
        stdin=subprocess.DEVNULL,
    )


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what the examples name: the two texts, one of a device that nobody described, a finished job."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copy(ROOT / "fixtures" / "sonic" / "psu-2-replaced" / "after.txt", folder / "unknown.txt")
    for name in ("before.txt", "after.txt"):
        shutil.copy(GOOD / name, folder)
    assert run("demo", "--keep", "swap-0412", cwd=folder).returncode == 0
    return folder


# --- examples -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_one_example_of_itself(name: str) -> None:
    told = run(*name.split(), "--help").stdout
    assert 1 == told.count("Example: "), told
    assert f"Example: consolecheck {name}" in " ".join(told.split())
    assert COMMANDS[name].example in " ".join(told.split())


@pytest.mark.parametrize("name", sorted(COMMANDS.keys() - AT_THE_RACK))
def test_each_example_works_as_written(name: str, desk: Path) -> None:
    program, *arguments = shlex.split(COMMANDS[name].example)
    assert "consolecheck" == program
    done = run(*arguments, cwd=desk)
    assert (ENDS.get(name, 0), True) == (done.returncode, bool(done.stdout.strip())), done.stderr


@pytest.mark.parametrize("name", ["read", "replay", "schema", "dialect list", "dialect check"])
def test_an_example_stands_on_one_line_so_that_it_can_be_copied(name: str) -> None:
    lines = [line.strip() for line in run(*name.split(), "--help").stdout.splitlines()]
    assert f"Example: {COMMANDS[name].example}" in lines


@pytest.mark.parametrize("name", sorted(AT_THE_RACK))
def test_the_options_of_an_example_at_the_rack_are_there(name: str) -> None:
    _, *arguments = shlex.split(COMMANDS[name].example)
    known = {option for row, _ in COMMANDS[name].rows for option in row.replace(",", "").split()}
    assert {a for a in arguments if a.startswith("-")} <= known


def test_the_first_example_at_the_rack_says_what_it_would_send() -> None:
    _, *arguments = shlex.split(COMMANDS["baseline"].example)
    done = run(*arguments, "--dry-run")
    assert (0, True) == (done.returncode, "nothing but this can be sent" in done.stdout)


# --- documents ----------------------------------------------------------------------------------


@pytest.mark.parametrize("page", MANUAL.PAGES)
def test_the_documents_are_up_to_date(page: str) -> None:
    written = (ROOT / "docs" / page).read_text(encoding="utf-8")
    assert MANUAL.PAGES[page]() == written, "run: python docs/generate.py"


def test_the_documents_tell_of_every_command_and_option() -> None:
    text = {page: (ROOT / "docs" / page).read_text(encoding="utf-8") for page in ("commands.md", "consolecheck.1")}
    for name, command in COMMANDS.items():
        options = set(re.findall(r"^  (--[a-z-]+)", run(*name.split(), "--help").stdout, re.MULTILINE))
        assert options == {word for row, _ in command.rows for word in row.split() if word.startswith("--")}
        for option in options:
            assert f"`{option}" in text["commands.md"]
            assert f".B {option}".replace("-", "\\-") in text["consolecheck.1"]


@pytest.mark.skipif(shutil.which("groff") is None, reason="groff is not on this machine")
def test_the_man_page_is_one_by_groff_with_all_warnings() -> None:
    done = subprocess.run(
        ["groff", "-man", "-ww", "-Tascii", str(ROOT / "docs" / "consolecheck.1")],
        capture_output=True, text=True, check=False, timeout=60,
        env={**os.environ, "GROFF_NO_SGR": "1"},
    )  # fmt: skip
    assert (0, "") == (done.returncode, done.stderr)
    shown = re.sub(r".\x08", "", done.stdout)
    for section in ("NAME", "SYNOPSIS", "COMMANDS", "EXIT STATUS", "ENVIRONMENT", "FILES"):
        assert f"\n{section}\n" in shown
    assert "consolecheck replay --before before.txt --after after.txt --unit psu-2" in shown


def test_the_exit_codes_are_those_of_the_program() -> None:
    from consolecheck.cli.shared import INCONCLUSIVE, NOT_VERIFIED, STOPPED, USAGE, VERIFIED

    codes = (VERIFIED, NOT_VERIFIED, USAGE, INCONCLUSIVE, STOPPED)
    assert [str(code) for code in codes] == [code for code, _ in MANUAL.EXIT_CODES]


def test_the_environment_that_is_told_is_that_of_the_program() -> None:
    source = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "consolecheck").rglob("*.py"))
    own = set(re.findall(r"CONSOLECHECK_[A-Z]+", source))
    assert own == {name for name, _ in MANUAL.ENVIRONMENT if name.startswith("CONSOLECHECK_")}


# --- completion ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("consolecheck re", {"read", "replay", "report"}),
        ("consolecheck dialect ch", {"check"}),
        ("consolecheck replay --q", {"--quiet"}),
    ],
)
def test_the_shell_completes_commands_and_options(words: str, offered: set[str]) -> None:
    """As bash asks for it, by what `--show-completion` prints."""
    code = "import sys; sys.argv = ['consolecheck']; from consolecheck.cli.main import run; run()"
    asked = {"COMP_WORDS": words, "COMP_CWORD": str(len(words.split()) - 1)}
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, "_CONSOLECHECK_COMPLETE": "complete_bash", **asked},
    )
    assert offered == set(done.stdout.split())


def test_completion_loads_nothing_that_judges() -> None:
    """Starting up does not pay for it: what completes is known without the rules, rich or scipy."""
    code = (
        "import sys; from consolecheck.cli.main import app; "
        "print([m for m in ('rich', 'scipy', 'numpy', 'consolecheck.judging.judge') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert "[]" == done.stdout.strip()
