"""First-order curves against published figures: the numbers decide, not the shape of the code."""

import math
import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from support import DATA, table_rows

from consolecheck.judging.curve import (
    _by_trust_region,
    fit_first_order,
    seconds_until,
    slope_of,
    step_of,
    time_constant,
)
from consolecheck.judging.settling import unsound


class Nist:
    """A data set of NIST/ITL's Statistical Reference Datasets, nonlinear regression, y = b1 (1 - exp(-b2 x))."""

    def __init__(self, name: str) -> None:
        file = f"nist_strd_{name}.csv"
        self.points = [(float(r["x"]), float(r["y"])) for r in table_rows(file)]
        stated = dict(
            line.removeprefix("# ").split(",", 1)
            for line in Path(DATA / file).read_text(encoding="utf-8").splitlines()
            if line.startswith("# ") and "," in line
        )
        self.starts = [tuple(map(float, stated[f"start_{n} (b1"].split("),")[1].split(","))) for n in (1, 2)]
        certified = [stated[f"certified b{n} (value"].split("),")[1].split(",") for n in (1, 2)]
        self.values = [float(value) for value, _ in certified]
        self.deviations = [float(sd) for _, sd in certified]
        self.rss = float(stated["certified residual_sum_of_squares"])
        self.residual_sd = float(stated["certified residual_standard_deviation"])


SETS = {name: Nist(name) for name in ("misra1a", "boxbod")}


@pytest.mark.parametrize("start", [0, 1], ids=["start 1", "start 2"])
@pytest.mark.parametrize("name", SETS)
def test_the_fit_reaches_the_certified_values_of_nist_from_both_starts(name: str, start: int) -> None:
    """Parameters to six significant digits, standard deviations to four. From start 1 of BoxBOD the older
    MINPACK method ends at (172.5, 110.9) with infinite covariance; the trust region must not."""
    nist = SETS[name]
    x, y = zip(*nist.points, strict=True)
    fit = fit_first_order(x, y, begin=nist.starts[start], fixed_start=0.0)
    assert [fit.end, fit.rate] == pytest.approx(nist.values, rel=5e-7)
    assert list(fit.sd[:2]) == pytest.approx(nist.deviations, rel=5e-5)
    assert fit.rss == pytest.approx(nist.rss, rel=1e-6)
    assert fit.rms == pytest.approx(nist.residual_sd, rel=1e-6)
    assert fit.finite


def test_misra1a_has_not_settled_although_its_curve_runs_through_the_points() -> None:
    """NIST StRD: tau 1817.7, last x 760: a third of the fitted rise. R squared is near one all the same."""
    nist = SETS["misra1a"]
    x, y = zip(*nist.points, strict=True)
    fit = fit_first_order(x, y, fixed_start=0.0)
    assert fit.tau == pytest.approx(1817.7, rel=1e-4)
    assert 1 - math.exp(-x[-1] / fit.tau) == pytest.approx(0.342, abs=5e-4)
    mean = sum(y) / len(y)
    assert 1 - fit.rss / sum((v - mean) ** 2 for v in y) > 0.9999
    assert unsound(fit, 0.85, nist.residual_sd * 1.01) == "34% of its change seen"


def test_boxbod_has_settled() -> None:
    """NIST StRD: tau 1.827 days, last x 10 days: 99.58 % of the rise."""
    nist = SETS["boxbod"]
    x, y = zip(*nist.points, strict=True)
    fit = fit_first_order(x, y, fixed_start=0.0)
    assert fit.tau == pytest.approx(1.827, abs=5e-4)
    assert fit.seen == pytest.approx(0.9958, abs=5e-5)
    assert unsound(fit, 0.85, nist.residual_sd * 1.01) == ""
    assert unsound(fit, 0.85, nist.residual_sd * 0.99).startswith("its course is no single curve")


def test_a_line_without_any_bend_has_no_end() -> None:
    """A constant course determines neither rate nor start: infinite covariance, and so no answer."""
    flat = fit_first_order(range(12), [40.0] * 12)
    assert not flat.finite
    assert unsound(flat, 0.85, 1.0) == "no end can be told from its course"


@pytest.mark.parametrize(("constants", "percent"), [(1, 63.2), (2, 86.5), (3, 95.0), (4, 98.2), (5, 99.3), (6, 99.75)])
def test_shares_of_a_first_order_step(constants: int, percent: float) -> None:
    """Done at 1 to 6 time constants: mathematics, 1 - exp(-n)."""
    times = [constants * 100 * i / 40 for i in range(41)]
    fit = fit_first_order(times, [60 - 20 * math.exp(-t / 100) for t in times])
    assert fit.tau == pytest.approx(100, rel=1e-6)
    assert fit.seen * 100 == pytest.approx(percent, abs=0.06)
    assert fit.to_come == pytest.approx(20 * math.exp(-constants), rel=1e-5)


def test_the_roast_of_the_textbook() -> None:
    """OpenStax Precalculus 2e, section 4.7 (section number from memory), Newton's law of cooling: a body of
    165 °F in air of 35 °F is at 150 °F after 10 minutes; 70 °F after about 107 minutes. Unrounded 107.03."""
    tau = time_constant(165, 35, 150, 10)
    assert -1 / tau == pytest.approx(-0.0123, abs=5e-5)
    assert tau == pytest.approx(81.56, abs=0.01)
    assert seconds_until(165, 35, tau, 70) == pytest.approx(107, rel=0.005)
    assert seconds_until(165, 35, tau, 70) == pytest.approx(107.03, abs=0.01)


def test_the_pitcher_of_the_textbook() -> None:
    """The same section: water of 40 °F in a room of 70 °F is at 45 °F after an hour, at 60 °F after 6.026 h."""
    assert seconds_until(40, 70, time_constant(40, 70, 45, 1), 60) == pytest.approx(6.026, abs=5e-4)


def test_a_value_beyond_the_end_is_never_reached() -> None:
    assert seconds_until(20, 60, 100, 61) == math.inf
    assert seconds_until(20, 60, 100, 60) == math.inf
    assert seconds_until(20, 60, 100, 15) == 0.0
    assert seconds_until(20, 60, 100, 40) == pytest.approx(69.3, abs=0.05)  # half-way at 0.693 tau
    with pytest.raises(ValueError, match="between start and end"):
        time_constant(20, 60, 61, 10)


def test_too_few_points_are_refused() -> None:
    with pytest.raises(ValueError, match="more than 3 points"):
        fit_first_order([0, 1, 2], [1, 2, 3])


@pytest.mark.parametrize(
    ("values", "step"),
    [([57.5, 58.0, 59.5], 0.5), ([41, 42, 45], 1.0), ([41.0, 43.0], 2.0), ([20.1, 20.2, 23.4], 0.1), ([40.0], 1.0)],
)
def test_the_step_of_a_sensor_is_told_by_its_readings(values: list[float], step: float) -> None:
    assert step_of(values) == pytest.approx(step)


def test_the_slope_of_a_coarse_sensor_is_never_surer_than_its_step() -> None:
    """Ten equal readings of a sensor in whole kelvin leave room for a drift within the step."""
    slope, doubt = slope_of([15.0 * i for i in range(10)], [40.0] * 10, 1.0)
    assert slope == 0
    assert doubt == pytest.approx(1 / math.sqrt(12) / math.sqrt(sum((15 * i - 67.5) ** 2 for i in range(10))))


@given(
    constant=st.floats(20, 900),
    height=st.floats(-25, 25),
    every=st.floats(5, 20),
    number=st.integers(12, 90),
    step=st.sampled_from([0.1, 0.5, 1.0]),
    seed=st.integers(0, 1000),
)
def test_the_search_over_the_rate_finds_what_the_trust_region_finds(
    constant: float, height: float, every: float, number: int, step: float, seed: int
) -> None:
    """Two methods, one least-squares curve, wherever the points determine one."""
    noise = random.Random(seed)
    times = [every * n for n in range(number)]
    values = [
        round((40 + height * math.exp(-t / constant) + noise.gauss(0, 0.1)) / step) * step for t in times
    ]  # fmt: skip
    assume(abs(height) > 4 * step and times[-1] > constant)
    x, y = np.asarray(times), np.asarray(values)
    fit = fit_first_order(times, values)
    (end, rate, start), off = _by_trust_region(x, y, (fit.end, fit.rate), None)
    assert fit.rss <= float(np.sum(off**2)) * (1 + 1e-9)
    assert [fit.end, fit.rate, fit.start] == pytest.approx([end, rate, start], rel=2e-6)
