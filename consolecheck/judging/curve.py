"""First-order curves through points, and what can be said of them: pure arithmetic, no switch in sight.

T(t) = end + (start - end) exp(-t / tau), by least squares. For a given rate the curve is linear in the rest, so only
the rate is searched (variable projection: Golub and Pereyra, SIAM J. Numer. Anal. 10, 1973; the first step is
Kaufman's, BIT 15, 1975, the others are secants); where that does not come to rest, or the start is known, by scipy's
trust region reflective method. MINPACK's older method can stop at a point with infinite covariance and call it success (seen on the
NIST set BoxBOD, first start); a curve is therefore only as good as its covariance, which is given with it.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

UNKNOWN_STEP = 1.0
"""Kelvin that a sensor's step is taken for while it has shown one value only."""


class Fit(NamedTuple):
    """A first-order curve through points: values in the unit of the points, times in theirs.

    `sd` are the standard deviations of end, rate (1 / tau) and start; infinite where the points do not
    determine them. `rms` is the residual standard deviation over the degrees of freedom.
    """

    end: float
    rate: float
    start: float
    sd: tuple[float, float, float]
    rms: float
    rss: float
    span: float
    """From the first point to the last."""
    leftover: tuple[float, ...]

    @property
    def tau(self) -> float:
        return 1 / self.rate if self.rate > 0 else math.inf

    @property
    def seen(self) -> float:
        """Share of the whole change that the points cover, 0 to 1: 1 - exp(-span / tau)."""
        return 1 - math.exp(-self.span * self.rate) if self.rate > 0 else 0.0

    @property
    def to_come(self) -> float:
        """What the curve still has before it after the last point, with its sign."""
        return (self.end - self.start) * (1 - self.seen)

    @property
    def finite(self) -> bool:
        return all(map(math.isfinite, (self.end, self.rate, self.start, *self.sd))) and self.rate > 0


def fit_first_order(
    times: Sequence[float],
    values: Sequence[float],
    begin: tuple[float, float] | None = None,
    fixed_start: float | None = None,
) -> Fit:
    """The least-squares curve through points; `begin` is a first guess of end and rate.

    With `fixed_start` the value at time zero is known and only end and rate are fitted, as in the model
    y = b1 (1 - exp(-b2 x)) of the NIST data sets (start 0). Raises ValueError for too few points.
    """
    import numpy as np

    x, y = np.asarray(times, float), np.asarray(values, float)
    free = 2 if fixed_start is not None else 3
    if len(x) != len(y) or len(x) <= free:
        raise ValueError(f"a first-order curve needs more than {free} points")
    zero = 0.0 if fixed_start is not None else float(x[0])
    x = x - zero
    if begin is None:
        begin = _guess(x, y, fixed_start)

    found = None if fixed_start is not None else _projected(x, y, begin[1])
    if found is None:
        found = _by_trust_region(x, y, begin, fixed_start)
    (end, rate, start), off = found
    rss = float(off @ off)
    variance = rss / (len(x) - free)
    bounded = abs(rate) * float(x[-1]) < 200
    left = np.exp(-rate * x if bounded else np.clip(-rate * x, -200, 200))
    columns = [1 - left, (end - start) * x * left, left][:free]
    sd = _deviations(np.array(columns).T, variance)
    return Fit(end, rate, start, sd, math.sqrt(variance), rss, float(x[-1]), tuple((-off).tolist()))


_MOST_STEPS = 60
_AT_REST = 1e-11
"""Share of the rate below which a step counts as none."""
_NONE_LEFT = 1e-16
"""Share of all squares below which nothing is left over. A change that was over by the second point fits ever faster
curves ever better, so no rate would come to rest."""


def _projected(x: "Numbers", y: "Numbers", rate: float) -> "tuple[tuple[float, float, float], Numbers] | None":
    """End, rate and start of the nearest best curve, and how far it is off each point; None where it is not found."""
    import numpy as np

    number, ones = len(x), np.ones_like(x)  # a product with ones is a sum, and quicker
    level = float(ones @ y) / number
    above = y - level
    span, nothing = float(x[-1]), _NONE_LEFT * float(above @ above)
    last = math.inf
    step = 0.0
    before: tuple[float, float] | None = None
    for _ in range(_MOST_STEPS):
        if not abs(rate) * span < 200 or abs(rate) * span < 1e-9:
            return None
        fallen = np.expm1(-rate * x)
        middle = float(ones @ fallen) / number
        bent = fallen - middle
        across = float(bent @ bent)
        height = float(bent @ above) / across
        leftover = above - height * bent
        rss = float(leftover @ leftover)
        if rss > last * (1 + 1e-12) and abs(step) >= _AT_REST * abs(rate):  # gone too far: half of that step
            step /= 2
            rate -= step
            continue
        if rss < nothing or (abs(step) < _AT_REST * abs(rate) and last < math.inf):
            start = level - height * middle
            return (start - height, rate, start), -leftover
        slope = (-height * x) * (1 + fallen)
        slope = slope - float(ones @ slope) / number
        slope = slope - (float(bent @ slope) / across) * bent
        steep, pull = float(slope @ slope), float(slope @ leftover)
        if steep <= 0:
            return None
        # Once two slopes of the sum of squares are known, its bend is: that counts what the points lie off, too.
        if before is not None and rate != before[0]:
            bend = (before[1] - pull) / (rate - before[0])
            steep = bend if bend > steep / 10 else steep
        last, before = rss, (rate, pull)
        farthest = max(abs(rate), 1 / span)
        step = max(min(pull / steep, farthest), -farthest)
        rate += step
    return None


def _by_trust_region(
    x: "Numbers", y: "Numbers", begin: tuple[float, float], fixed_start: float | None
) -> "tuple[tuple[float, float, float], Numbers]":
    import numpy as np
    from scipy.optimize import least_squares

    def curve(p: "Numbers") -> "Numbers":
        start = fixed_start if fixed_start is not None else p[2]
        left: Numbers = np.exp(np.clip(-p[1] * x, -200, 200))
        off: Numbers = p[0] + (start - p[0]) * left - y
        return off

    def slopes(p: "Numbers") -> "Numbers":
        start = fixed_start if fixed_start is not None else p[2]
        left = np.exp(np.clip(-p[1] * x, -200, 200))
        columns = [1 - left, -(start - p[0]) * x * left]
        if fixed_start is None:
            columns.append(left)
        return np.stack(columns, axis=1)

    first = [*begin] if fixed_start is not None else [*begin, float(y[0])]
    found = least_squares(
        curve, first, jac=slopes, method="trf", x_scale="jac", ftol=1e-14, xtol=1e-14, gtol=1e-14, max_nfev=400
    )
    end, rate = float(found.x[0]), float(found.x[1])
    return (end, rate, fixed_start if fixed_start is not None else float(found.x[2])), found.fun


def _deviations(jacobian: "Numbers", variance: float) -> tuple[float, float, float]:
    import numpy as np

    # A curve that the points do not determine has directions without any slope: then nothing is known.
    scale = np.sqrt(np.einsum("tc,tc->c", jacobian, jacobian))
    if not all(0 < s < math.inf for s in scale.tolist()):
        return math.inf, math.inf, math.inf
    _, singular, turned = np.linalg.svd(jacobian / scale, full_matrices=False)
    if not singular[-1] >= 1e-10 * singular[0]:
        return math.inf, math.inf, math.inf
    spread = (turned.T / singular) / scale[:, None]
    found = np.sqrt(np.einsum("cs,cs->c", spread, spread) * variance).tolist()
    return found[0], found[1], found[2] if len(found) > 2 else 0.0


def _guess(x: "Numbers", y: "Numbers", fixed_start: float | None) -> tuple[float, float]:
    """End and rate of the best of a few curves: for a given rate the rest is linear."""
    import numpy as np

    span = float(x[-1] - x[0]) or 1.0
    best = (math.inf, float(y[-1]), 1 / span)
    for rate in np.geomspace(0.1 / span, 30 / span, 16):
        left = np.exp(-rate * x)
        if fixed_start is None:
            columns = np.stack([1 - left, left], axis=1)
            (end, _), *_ = np.linalg.lstsq(columns, y, rcond=None)
            leftover = y - columns @ np.linalg.lstsq(columns, y, rcond=None)[0]
        else:
            rise = 1 - left
            end = float(np.dot(rise, y - fixed_start * left) / np.dot(rise, rise))
            leftover = y - (end * rise + fixed_start * left)
        rss = float(np.dot(leftover, leftover))
        if rss < best[0]:
            best = rss, float(end), float(rate)
    return best[1], best[2]


def time_constant(start: float, end: float, value: float, seconds: float) -> float:
    """Tau of the curve from `start` towards `end` that passes `value` after `seconds` (Newton's law of cooling)."""
    share = (value - end) / (start - end)
    if not 0 < share < 1:
        raise ValueError("the value does not lie between start and end")
    return -seconds / math.log(share)


def seconds_until(start: float, end: float, tau: float, value: float) -> float:
    """When the curve passes `value`; infinite where it never does, 0 where it is past it already."""
    if (value - start) * (end - start) <= 0:
        return 0.0
    share = (value - end) / (start - end)
    return math.inf if share <= 0 else -tau * math.log(share)


def slope_of(x: Sequence[float], y: Sequence[float], step: float) -> tuple[float, float]:
    """The straight line's slope and its standard deviation; a step's own (step / sqrt 12) at least."""
    middle, level = sum(x) / len(x), sum(y) / len(y)
    spread = sum((a - middle) ** 2 for a in x)
    slope = sum((a - middle) * (b - level) for a, b in zip(x, y, strict=True)) / spread
    left = sum((b - level - slope * (a - middle)) ** 2 for a, b in zip(x, y, strict=True)) / max(len(x) - 2, 1)
    return slope, math.sqrt(max(left, step * step / 12) / spread)


def step_of(values: Iterable[float], otherwise: float = UNKNOWN_STEP, least: float = 0.1) -> float:
    """The step in which values come: the largest that all differences are multiples of; `least` at least.

    `otherwise` where there is one value only.
    """
    units = sorted({round(value / least) for value in set(values)})
    step = 0
    for one, other in pairwise(units):
        step = math.gcd(step, other - one)
    return step * least if step else otherwise
