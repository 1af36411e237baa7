"""What is loaded before the tool does anything: the time until a prompt is back is mostly the time of imports."""

import json
import subprocess
import sys

LOADED = """
import json, sys
import typer
before = set(sys.modules)
sys.argv = ["consolecheck", {word!r}]
from consolecheck.cli.main import run
try:
    run()
except SystemExit as ended:
    assert ended.code == 0, ended.code
print(json.dumps(sorted(set(sys.modules) - before)), file=sys.stderr)
"""


def loaded(word: str) -> set[str]:
    """Modules that the tool loads for this one word, beside those of typer."""
    script = LOADED.format(word=word)
    ended = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    return set(json.loads(ended.stderr.splitlines()[-1]))


def test_the_version_needs_nothing_but_the_command_line() -> None:
    """`benchmarks/startup.py` measures what that costs."""
    found = loaded("--version")
    assert "consolecheck.cli.main" in found
    ours = {name for name in found if name.partition(".")[0] == "consolecheck"}
    assert {name for name in ours if not name.startswith("consolecheck.cli")} <= {"consolecheck"}
    heavy = {"pydantic", "textfsm", "rich", "scipy", "numpy", "matplotlib", "serial", "pexpect", "filelock"}
    assert not {name.partition(".")[0] for name in found} & heavy
