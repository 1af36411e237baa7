"""All that judging tells of many courses and swaps is on record, so that no change of it goes unseen.

The other tests say what is right; this one says what is told today. After a change that is meant, record anew
(`python tests/test_told.py`) and read the difference before it is committed.
"""

import json
import math
import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, finding_line
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import Acceptance, load_acceptance
from consolecheck.judging.clearance import clearance
from consolecheck.judging.curve import fit_first_order, seconds_until, slope_of, step_of, time_constant
from consolecheck.judging.judge import NoSuchUnit, judge, judge_alone
from consolecheck.judging.rules import ESSENTIAL, IDS
from consolecheck.judging.settling import largest_change, settling_of
from consolecheck.judging.view import Sample
from consolecheck.reading.reader import read_text
from consolecheck.records.readings import AnyReading, Condition, Fan, Temperature
from consolecheck.records.units import Quantity

RECORDS = Path(__file__).parent / "data" / "told"

Course = Callable[[float], float | None]


def heating(start: float, end: float, tau: float) -> Course:
    return lambda t: end + (start - end) * math.exp(-t / tau)


def _noise(size: float, seed: int) -> Callable[[float], float]:
    return lambda t: random.Random(f"{seed} {t}").gauss(0, size)


def sensor(name: str, value: float | None, warning: float = 95.0) -> Temperature:
    return Temperature(
        name=name,
        condition=Condition.OK,
        value=None if value is None else Quantity(value=value, unit="Cel"),
        high_warning=Quantity(value=warning, unit="Cel"),
    )


def taken(seconds: float, every: float, step: float, courses: dict[str, Course], speed: Course | None) -> list[Sample]:
    """Captures from the seating on, with values as a device prints them: in steps."""
    from support import snapshot

    out = []
    for number in range(1, int(seconds / every) + 1):
        at = number * every
        readings: list[AnyReading] = []
        for name, course in courses.items():
            value = course(at)
            readings.append(sensor(name, None if value is None else round(round(value / step) * step, 6)))
        if speed is not None:
            readings.append(
                Fan(unit="fan-1", condition=Condition.OK, speed=Quantity(value=round(speed(at) or 0), unit="rpm"))
            )
        out.append(Sample(at, snapshot(*readings)))
    return out


def _wander(size: float, seed: int, base: Course) -> Course:
    noise = _noise(size, seed)
    return lambda t: (base(t) or 0.0) + noise(t)


COURSES: dict[str, tuple[float, float, float, dict[str, Course], Course | None]] = {
    # name: seconds, seconds between samples, step of the printed values, sensors, speed of the fan
    "rest": (600, 15, 0.5, {"asic": lambda t: 57.0}, lambda t: 6000),
    "rest in whole kelvins": (600, 15, 1.0, {"asic": lambda t: 57.0}, lambda t: 6000),
    "rest without a fan": (600, 15, 0.5, {"asic": lambda t: 57.0}, None),
    "one warms": (900, 15, 0.5, {"psu": heating(22, 42, 270)}, lambda t: 6000),
    "one warms finely": (900, 15, 0.1, {"psu": heating(22, 42, 270)}, lambda t: 6000),
    "one warms coarsely": (1500, 15, 1.0, {"psu": heating(22, 42, 270)}, lambda t: 6000),
    "one cools": (900, 15, 0.5, {"asic": heating(70, 52, 200)}, lambda t: 6000),
    "slowly": (1800, 15, 0.5, {"psu": heating(22, 60, 900)}, lambda t: 6000),
    "quickly": (300, 10, 0.5, {"psu": heating(22, 30, 40)}, lambda t: 6000),
    "with noise": (900, 15, 0.1, {"psu": _wander(0.3, 1, heating(22, 42, 270))}, lambda t: 6000),
    "with much noise": (900, 15, 0.1, {"psu": _wander(1.5, 2, heating(22, 42, 270))}, lambda t: 6000),
    "creeps": (1200, 15, 0.5, {"asic": lambda t: 50 + t / 120}, lambda t: 6000),
    "creeps little": (1200, 15, 0.1, {"asic": lambda t: 50 + t / 1200}, lambda t: 6000),
    "jumps": (900, 15, 0.5, {"asic": lambda t: 50 if t < 450 else 58}, lambda t: 6000),
    "swings": (900, 15, 0.1, {"asic": lambda t: 50 + 2 * math.sin(t / 60)}, lambda t: 6000),
    "too few": (90, 15, 0.5, {"asic": lambda t: 57.0}, lambda t: 6000),
    "rare": (1800, 120, 0.5, {"asic": heating(40, 60, 300)}, lambda t: 6000),
    "fan turns up": (900, 15, 0.5, {"asic": heating(60, 50, 150)}, lambda t: 6000 if t < 600 else 7000),
    "fan hunts": (900, 15, 0.5, {"asic": lambda t: 57.0}, lambda t: 6000 + 400 * math.sin(t / 45)),
    "inlet warms": (1200, 15, 0.1, {"inlet": lambda t: 22 + t / 400, "asic": lambda t: 55 + t / 400}, lambda t: 6000),
    "inlet steps": (
        1200,
        15,
        0.1,
        {"inlet": lambda t: 22 if t < 500 else 25, "asic": lambda t: 55 if t < 500 else 58 - 3 * math.exp(-(t - 500) / 120)},
        lambda t: 6000,
    ),
    "inlet falls": (900, 15, 0.5, {"inlet": lambda t: 26 - t / 300, "psu": heating(24, 44, 240)}, lambda t: 6000),
    "sensor goes": (600, 15, 0.5, {"asic": lambda t: 57.0 if t < 400 else None}, lambda t: 6000),
    "sensor comes": (600, 15, 0.5, {"asic": lambda t: None if t < 300 else 57.0}, lambda t: 6000),
    "several": (900, 15, 0.5, {"asic": heating(58, 61, 200), "psu": heating(22, 42, 270), "cpu": lambda t: 44.0}, lambda t: 6000),
    "two curves in one": (
        1500,
        15,
        0.1,
        {"psu": lambda t: 40 - 10 * math.exp(-t / 90) - 8 * math.exp(-t / 700)},
        lambda t: 6000,
    ),
    "up and then down": (1200, 15, 0.1, {"asic": lambda t: 50 + 6 * (math.exp(-t / 500) - math.exp(-t / 100))}, lambda t: 6000),
}  # fmt: skip


def rounded(value: float | None) -> str:
    """To three figures, so that the last bits of a solver decide nothing."""
    return "-" if value is None else f"{value:.3g}"


def of_course(name: str) -> list[str]:
    samples = taken(*COURSES[name])
    told = []
    for share in (0.25, 0.5, 0.75, 1.0):
        part = samples[: max(1, int(len(samples) * share))]
        found = settling_of(part, Acceptance())
        told.append(f"{share:.0%}: settled {found.settled}, wait {rounded(found.wait)}, {found.unrest or 'at rest'}")
        for c in found.courses:
            figures = ", ".join(
                f"{n} {rounded(getattr(c, n))}" for n in ("now", "end", "doubt", "to_come", "tau", "span", "wait")
            )
            told.append(f"  {c.name}: {c.state}, {c.points} points, {figures}; {c.why}")
    return told


def of_curves() -> list[str]:
    """First-order curves through made points, and the small sums beside them."""
    told = []
    for start, end, tau, seconds, noise in (
        (20, 60, 200, 900, 0.02),
        (20, 60, 200, 900, 0.4),
        (60, 40, 120, 400, 0.2),
        (30, 31, 300, 600, 0.3),
        (20, 80, 1800, 760, 0.05),
        (45, 45, 100, 600, 0.1),
    ):
        wobble = _noise(noise, 7)
        x = [15.0 * i for i in range(int(seconds / 15))]
        y = [end + (start - end) * math.exp(-t / tau) + wobble(t) for t in x]
        for fixed in (None, float(start)):
            fit = fit_first_order(x, y, fixed_start=fixed)
            shown = ", ".join(
                f"{n} {rounded(v)}"
                for n in ("end", "tau", "start", "span", "seen", "rate", "rms", "rss")
                if (v := getattr(fit, n)) is not None
            )
            shown += ", sd " + ", ".join(rounded(v) for v in fit.sd)
            told.append(f"{start} {end} {tau} {fixed}: {shown}")
        told.append(f"  slope {', '.join(rounded(v) for v in slope_of(x, y, 0.5))}; step {rounded(step_of(y))}")
    told.extend(
        f"until {rounded(seconds_until(20, end, 200, value))}, constant {rounded(time_constant(20, end, value, 100))}"
        for end, value in ((60, 40), (60, 59), (40, 30), (30, 21))
    )
    points = [(float(t), 20 + t / 60 + (3 if t > 600 else 0)) for t in range(0, 1200, 30)]
    told.extend(f"change in {s}: {rounded(largest_change(points, s))}" for s in (60, 300, 900, 3600))
    return told


SITES = {
    "both feeds": '[power]\nredundancy = "N+N"\nfeeds = { A = ["psu-1"], B = ["psu-2"] }\n',
    "by count": '[power]\nredundancy = "count"\n[cooling]\nmodules_needed = 2\n',
    "not judged": '[power]\nredundancy = "none"\nstandby_is_good = false\n[job]\nwithout_baseline = true\n',
    "strict": "standing_faults_count = true\n"
    '[power]\nac_nominal = 208\noutput_nominal = 12\nheadroom_percent = 60\noutput_tolerance_percent = 0.5\n'
    "sharing_tolerance_percent = 1\nsharing_from_load_percent = 5\nleast_share_percent = 95\nac_tolerance_percent = 2\n"
    '[cooling]\nairflow = "back-to-front"\nspeed_tolerance_percent = 1\nduty_tolerance_percent = 1\nfull_flow = 90\n'
    '[temperature]\nleast_margin = 40\nrise_limit = 0.5\ninlet_class = "A1"\naltitude = 2600\n'
    "[settling]\nrequired = true\n[clearance]\nopen_seconds = 900\nleast_minutes_to_warning = 30\n[job]\nbaseline_hours = 0.01\n",
}  # fmt: skip

CASES = [
    case
    for case in cases_of(shipped("fixtures"))
    if case.dialect_name in ("wexcombe", "cisco_nxos", "aruba_aoscx", "eltex", "ipmitool", "sonic")
]


def of_case(case: Case) -> list[str]:
    """What is told of a swap under other limits and without its baseline, where that differs from what its record holds."""
    chosen = next((d for d in dialects() if d.name == case.file.dialect), None)
    before = read_text(case.text("before"), "before.txt", dialects(), chosen)
    after = read_text(case.text("after"), "after.txt", dialects(), chosen)
    unit, observed = case.file.unit, case.observed()
    papers = next(d for d in dialects() if d.name == before.dialect).manifest.chassis
    usual = {
        finding_line(f) for f in judge(before, after, unit, case.acceptance(), observed, case.file.reseat).findings
    }
    told = []
    for site, text in SITES.items():
        limits = load_acceptance(text, "site.toml", IDS, ESSENTIAL)
        judgement = judge(before, after, unit, limits, observed, case.file.reseat)
        told.append(f"{site}: {judgement.verdict.value}")
        told.extend(f"  {line}" for f in judgement.findings if (line := finding_line(f)) not in usual)
        try:
            pulling = clearance(before, unit, limits, observed, None, papers.open_seconds, papers.modules_needed)
        except NoSuchUnit:
            continue
        told.append(f"  before pulling: {pulling.answer.value}")
        told.extend(f"    {finding_line(f)}" for f in pulling.findings if f.required)
    alone = judge_alone(after, unit, load_acceptance(SITES["not judged"], "site.toml", IDS, ESSENTIAL), observed)
    told.append(f"without a baseline: {alone.verdict.value}")
    told.extend(f"  {line}" for f in alone.findings if (line := finding_line(f)) not in usual)
    return told


def records() -> Iterator[tuple[str, Callable[[], list[str]]]]:
    yield from ((f"course {name}", lambda name=name: of_course(name)) for name in COURSES)  # type: ignore[misc]
    yield "curves", of_curves
    yield from ((f"{c.dialect_name} {c.name}", lambda c=c: of_case(c)) for c in CASES)  # type: ignore[misc]


EVERY = dict(records())


def file_of(name: str) -> Path:
    return RECORDS / (name.replace(" ", "_") + ".json")


@pytest.mark.parametrize("name", EVERY)
def test_what_is_told_is_what_is_on_record(name: str) -> None:
    assert EVERY[name]() == json.loads(file_of(name).read_text(encoding="utf-8"))


def test_nothing_is_on_record_that_is_not_told() -> None:
    assert {file.name for file in RECORDS.glob("*.json")} == {file_of(name).name for name in EVERY}


def record() -> None:
    """Writes all records anew."""
    RECORDS.mkdir(parents=True, exist_ok=True)
    for old in RECORDS.glob("*.json"):
        old.unlink()
    for name, told in EVERY.items():
        text = json.dumps(told(), indent=0, ensure_ascii=True) + "\n"
        file_of(name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    record()
