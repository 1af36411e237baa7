"""What a capture costs over a serial line, and what noise does to it. Run: `python benchmarks/console.py`.

1. A baseline of seven commands over a simulated line against its pure line time (bytes x 10 / baud), for
   two readings of each command. Goals: 1.10 at 9600 baud, 1.5 at 115200.
2. 200 captures with one byte in 10,000 flipped and a log line every two seconds: how many end right, how
   many leave the answer open, and how many are wrong (goal: none).

The clock is simulated: it moves by ten bits for each byte and by the time that the loop waits.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from test_drive import CASE, WEXCOMBE, FakeLine, captured, reading

from consolecheck.console.agree import disagreement
from consolecheck.job.drive import Stopped
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.records.findings import Verdict

GOALS = {9600: 1.10, 115200: 1.5}


def line_time(speed: int) -> float:
    line = FakeLine("before", speed=speed)
    captured(line)
    pure = (line.received + sum(map(len, line.sent))) * 10 / speed
    ratio = line.now / pure
    print(
        f"{speed:>6} baud  {line.received} bytes  {line.now:6.2f} s  pure line time {pure:6.2f} s  ratio {ratio:.2f}  goal {GOALS[speed]}"
    )
    return ratio


def noise(runs: int) -> tuple[int, int, int]:
    right = open_ = wrong = 0
    for seed in range(runs):
        line = FakeLine("after", flip=1e-4, chatter=2.0, seed=seed)
        try:
            result = captured(line)
        except Stopped:
            open_ += 1
            continue
        if result.refusal is not None:  # nothing is judged of a capture that broke off
            open_ += 1
            continue
        after = reading(result.text, "after")
        told = judge(reading(CASE.text("before"), "before"), after, "psu-2", Acceptance())
        same = not disagreement(reading(CASE.text("after"), "after"), after)
        if told.verdict is Verdict.VERIFIED:
            right, wrong = right + same, wrong + (not same)
        elif told.verdict is Verdict.INCONCLUSIVE:
            open_ += 1
        else:
            wrong += 1
    return right, open_, wrong


def main() -> int:
    assert WEXCOMBE
    ratios = {speed: line_time(speed) for speed in GOALS}
    right, open_, wrong = noise(200)
    print(f"noise: 200 captures, {right} right, {open_} left open, {wrong} wrong")
    return 1 if wrong or any(ratio > GOALS[speed] for speed, ratio in ratios.items()) else 0


if __name__ == "__main__":
    raise SystemExit(main())
