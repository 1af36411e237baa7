"""How large the page is, and what it costs beside its plots. Run: `python benchmarks/page.py`.

A job as long as they come: 200 samples of a switch with 30 sensors, each of which warms up on a curve of its own. The
page, made and written to a file, is held against drawing the same plots and nothing else; rounds alternate.

Prints size, medians and ratio; exits 1 where the page is not below 1.5 MB, or takes 3 times as long as its plots or more.
"""

import contextlib
import gc
import hashlib
import math
import re
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from unittest import mock

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.judging.settling import settling_of
from consolecheck.judging.view import Sample, View
from consolecheck.reading.reader import read_text
from consolecheck.reporting.page import heat, page, work
from consolecheck.reporting.page.plots import drawing
from consolecheck.reporting.proof import Proof

SENSORS, SAMPLES, EVERY = 30, 200, 13.5
LARGEST, TIMES, ROUNDS = 1_500_000, 3.0, 9


def with_sensors(text: str, seconds: float | None) -> str:
    """The text with so many heat points, each as it stands after so many seconds; without any, as it ends."""
    rows = []
    for n in range(SENSORS):
        end, tau = 40.0 + n, 120.0 + 10 * n
        now = end if seconds is None else end - (4 + n / 3) * math.exp(-seconds / tau)
        name = ("inlet", "outlet", "psu-1", "psu-2")[n] if n < 4 else f"asic-{n - 3}"
        now = 21.5 if n == 0 else now
        rows.append(f"  {name:<7} {round(now * 2) / 2:<6.1f} 0.0     90.0    99.0   easy\n")
    return re.sub(
        r"(?s)(  point   now/C.*?\n).*?END HEAT POINTS, \d+ rows",
        lambda m: f"{m[1]}{''.join(rows)}END HEAT POINTS, {SENSORS} rows",
        text,
    )


def long_job() -> Proof:
    case = next(c for c in cases_of(shipped("fixtures"), "wexcombe") if c.name == "psu-2-replaced")
    read = next(d for d in dialects() if d.name == "wexcombe")
    before, after = (with_sensors(case.text(side).decode(), None).encode() for side in ("before", "after"))
    samples = []
    for n in range(SAMPLES):
        text = with_sensors(case.text("after").decode(), n * EVERY).encode()
        samples.append(Sample(n * EVERY, read_text(text, f"samples/{n:04}.txt", (read,), read)))
    texts = [read_text(raw, f"{side}.txt", (read,), read) for side, raw in (("before", before), ("after", after))]
    unread = [line for snapshot in (*texts, *(s.snapshot for s in samples)) for line in snapshot.unread]
    assert not unread, unread[:2]
    assert len(View(texts[1], "after").of("temperature")) == SENSORS
    judgement = judge(*texts, case.file.unit, Acceptance(), samples=tuple(samples))
    digests = {f"{side}.txt": hashlib.sha256(raw).hexdigest() for side, raw in (("before", before), ("after", after))}
    raw = {"before": before, "after": after}
    proof = Proof(judgement, texts[0], texts[1], raw, digests, Acceptance(), "1.0", samples=tuple(samples))  # type: ignore[arg-type]
    return proof._replace(settling=settling_of(samples, Acceptance()), family=read.manifest.title)


def plots_of(proof: Proof) -> list[Callable[[], object]]:
    """Every plot of the page as a call that draws it alone: noted down while a page is made."""
    noted: list[Callable[[], object]] = []
    with contextlib.ExitStack() as undone:
        for module, name in ((heat, "_course"), (heat, "_rooms"), (work, "_load_plot"), (work, "_fan_plot")):
            draw = getattr(module, name)

            def noting(*given: object, draw: Callable[..., object] = draw) -> object:
                noted.append(lambda: draw(*given))
                return draw(*given)

            undone.enter_context(mock.patch.object(module, name, noting))
        page(proof)
    return noted


def main() -> int:
    proof = long_job()
    plots = plots_of(proof)
    assert len(plots) == 12 + 3, "12 courses, the room to the limits, load and fans"

    def alone() -> None:
        with drawing():
            for plot in plots:
                plot()

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "report.html"

        def whole() -> None:
            file.write_text(page(proof), encoding="utf-8")

        first, second, ratios = [], [], []
        whole(), alone()
        gc.collect()
        gc.disable()  # whose turn it is to collect is chance
        for _ in range(ROUNDS):
            start = time.perf_counter()
            whole()
            middle = time.perf_counter()
            alone()
            first.append(middle - start)
            second.append(time.perf_counter() - middle)
            ratios.append(first[-1] / second[-1])
        gc.enable()
        size = file.stat().st_size
    ratio = statistics.median(ratios)
    print(f"{SAMPLES} samples of {SENSORS} sensors: {size / 1e6:.2f} MB, goal below {LARGEST / 1e6:.1f} MB")
    print(
        f"page {statistics.median(first) * 1000:.0f} ms, its {len(plots)} plots alone {statistics.median(second) * 1000:.0f} ms"
    )
    print(f"ratio {ratio:.2f}, goal below {TIMES:g}")
    return 0 if size < LARGEST and ratio < TIMES else 1


if __name__ == "__main__":
    raise SystemExit(main())
