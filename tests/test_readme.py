"""What the README says is what happens."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_ci_runs_exactly_the_test_command() -> None:
    command = next(line for line in README.splitlines() if line.endswith("python -m pytest"))
    assert command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_the_shown_example_is_what_is_printed() -> None:
    shown = re.search(r"```\n(NOT VERIFIED.*?)```", README, re.DOTALL)
    assert shown is not None
    command = next(line for line in README.splitlines() if line.startswith("consolecheck replay --before"))
    done = subprocess.run(
        [sys.executable, "-m", *command.split()],
        cwd=ROOT / "fixtures" / "wexcombe" / "psu-2-reversed-airflow",
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "COLUMNS": "80", "NO_COLOR": "1"},
    )
    assert shown.group(1).rstrip() in done.stdout


def test_the_shown_acceptance_is_accepted(tmp_path: Path) -> None:
    from consolecheck.judging.acceptance import load_acceptance
    from consolecheck.judging.rules import ESSENTIAL, IDS

    (shown,) = [block for block in re.findall(r"```toml\n(.*?)```", README, re.DOTALL) if "[power]" in block]
    assert "tidal observatory, room 2" == load_acceptance(shown, "README", IDS, ESSENTIAL).name


def test_the_shown_answers_are_accepted() -> None:
    from consolecheck.cli.person import FromFile

    (shown,) = [block for block in re.findall(r"```toml\n(.*?)```", README, re.DOTALL) if "[answers]" in block]
    assert "R. Petrel" == FromFile(shown, "README", None, None).name


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", ".ci/run"])
def test_top_level_files_are_there(name: str) -> None:
    assert (ROOT / name).stat().st_size > 200
