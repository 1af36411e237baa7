"""How long the tool takes to begin, as a ratio. Run: `python benchmarks/startup.py`.

`consolecheck --version` as a whole process against a Python process that only imports typer, in turns; the medians of
the time that the processes themselves used, which another program on the machine disturbs less than the clock on the wall.
Beside it, without a goal, what other words cost that load no more than they need. Exits 1 above the goal.
"""

import os
import statistics
import subprocess
import sys

GOAL = 1.5
ROUNDS = 41
BARE = [sys.executable, "-c", "import typer"]
OURS = [sys.executable, "-m", "consolecheck"]


def spent(command: list[str]) -> float:
    """Seconds of processor time of a process."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, command
    return used.ru_utime + used.ru_stime


def against_bare(command: list[str], rounds: int = ROUNDS) -> tuple[float, float, float]:
    """Median seconds of the command and of the bare import, and the median of their ratios taken pair by pair."""
    spent(command), spent(BARE)  # compiled files and file caches
    pairs = [(spent(command), spent(BARE)) for _ in range(rounds)]
    ours, bare = zip(*pairs, strict=True)
    return statistics.median(ours), statistics.median(bare), statistics.median(a / b for a, b in pairs)


def main() -> int:
    """Prints the table; 1 above the goal."""
    failed = False
    for words, goal in ((["--version"], GOAL), (["--help"], None), (["dialect", "list"], None)):
        ours, bare, ratio = against_bare([*OURS, *words], ROUNDS if goal else 11)
        failed |= goal is not None and ratio > goal
        aim = f"goal {goal}" if goal else "no goal"
        print(
            f"consolecheck {' '.join(words):14} {ours * 1000:6.0f} ms   import typer {bare * 1000:5.0f} ms   "
            f"ratio {ratio:.2f}   ({aim})"
        )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
