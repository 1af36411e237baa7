"""Have the temperatures settled, and where do they end? Pure.

A part that heats or cools moves on a first-order curve, T(t) = end + (start - end) exp(-t / tau). The curve is
fitted to the samples since the part was seated (least squares, see curve.py), and believed only
where it is sound: its covariance is finite, enough of the change has been seen, and what is left over looks
like the sensor's own steps. A sensor that hardly moves has no curve to fit; for it the drift is bounded.

Readings come in steps of half a kelvin or one, fans overshoot, and the inlet air wanders: so the inlet's own
line is taken out first, and the curve may begin at a later sample than the first.
"""

import math
from collections import deque
from collections.abc import Collection, Mapping, Sequence
from functools import cache, lru_cache
from statistics import median
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.curve import Fit, fit_first_order, slope_of, step_of
from consolecheck.judging.view import Key, Sample, View
from consolecheck.records.readings import Condition

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

LONGEST_TAU = 450.0
"""Seconds. Time constant assumed for what a steady sensor may still hide. Common practice, no source."""
SIGMAS = 2.0
"""Standard deviations that count as the doubt of a fitted value."""
SLIGHT = 0.5
"""Kelvin within the longest time constant that a drift beside a curve may come to. Common practice, no source."""
FEWEST_POINTS = 8
LEAST_SECONDS, SHORTEST_WINDOW = 120.0, 90.0
"""Seconds that must be covered before anything is said, and by a later part of it. Common practice, no source."""
LEAST_WITHOUT_FANS = 300.0
"""The same where no fan speed is printed, so that a turn of the fans' control cannot be seen. As above."""
LOOKS = 3
"""Samples in a row in which a sensor must count as settled."""
SMOOTHED_OVER = 90.0
"""Seconds over which the inlet's readings are averaged. Common practice, no source."""
NOISE = 0.1
"""Kelvin by which a reading is off besides its step, at least. Common practice, no source."""
OWN_WANDER = 0.35
"""Kelvin by which a healthy sensor wanders with load and air, beside its steps. Common practice, no source."""


State = Literal["settled", "moving", "unclear"]


class Course(NamedTuple):
    """One sensor's way since the part was seated. Degrees Celsius, kelvin and seconds.

    `end` is where it will stand, None where that cannot be told; `doubt` how far off that may be;
    `to_come` the largest change that may still come; `wait` about how long until it counts as settled.
    """

    unit: str | None
    name: str | None
    state: State
    now: float | None
    end: float | None
    doubt: float
    to_come: float
    tau: float | None
    points: int
    span: float
    why: str
    wait: float | None = None

    @property
    def key(self) -> Key:
        return "temperature", self.unit, self.name


class Settling(NamedTuple):
    """All sensors' courses, and why the chassis as a whole is not at rest, if it is not."""

    courses: tuple[Course, ...]
    unrest: str = ""

    @property
    def settled(self) -> bool:
        return bool(self.courses) and not self.unrest and all(c.state == "settled" for c in self.courses)

    @property
    def wait(self) -> float:
        """About how many seconds until all count as settled; 0 where they do."""
        return max((c.wait or 0.0 for c in self.courses if c.state != "settled"), default=0.0)

    def of(self, key: Key) -> Course | None:
        return next((c for c in self.courses if c.key == key), None)


class _Teller(Protocol):
    """Makes a course of what was found; what is not given is not known."""

    def __call__(
        self, state: State, why: str, now: float | None = None, end: float | None = None, **more: float
    ) -> Course: ...


def settling_of(samples: Sequence[Sample], acceptance: Acceptance) -> Settling:
    """The course of every sensor but the inlet's, over samples of one clock, oldest first.

    A sample whose temperatures were not wholly read is left out. A sensor that is missing in the last
    sample that was read is unclear, and so is everything while there are too few. A sensor counts as
    settled when it did so in the last three samples, each time judged without those that came later: one
    lucky look is not enough.
    """
    views = [(s.seconds, s.view) for s in samples]
    views = [(t, v) for t, v in views if not {"temperature", "*"} & v.impaired.keys() and v.of("temperature")]
    if not views:
        return Settling(())
    points = _points(views)
    now = _courses(views, points, acceptance)
    unrest = _fans_moving(views)
    for left_out in range(1, LOOKS):
        asked = {c.key for c in now if c.state == "settled"}
        if not asked:
            break
        earlier: set[Key] = set()
        if len(views) > left_out:
            last = views[-left_out][1].temperatures
            points = {key: known[:-1] if last.get(key) is not None else known for key, known in points.items()}
            looked = _courses(views[:-left_out], points, acceptance, asked)
            earlier = {c.key for c in looked if c.state == "settled"}
        now = [
            c
            if c.state != "settled" or c.key in earlier
            else c._replace(state="moving", why="seems settled; looked at again", wait=15.0)
            for c in now
        ]
    return Settling(tuple(now), unrest)


def _points(views: list[tuple[float, View]]) -> dict[Key, list[tuple[float, float]]]:
    """Each sensor's times and values; none where it never gave one."""
    points: dict[Key, list[tuple[float, float]]] = {}
    for seconds, view in views:
        for key, value in view.temperatures.items():
            known = points.get(key)
            if known is None:
                known = points[key] = []
            if value is not None:
                known.append((seconds, value))
    return points


def _courses(
    views: list[tuple[float, View]],
    points: dict[Key, list[tuple[float, float]]],
    acceptance: Acceptance,
    asked: Collection[Key] | None = None,
) -> list[Course]:
    """The courses of all sensors, or of those that are asked for."""
    names = acceptance.temperature.inlet_names
    inlets = {k for k in points if any(n in (k[2] or "").lower() for n in names)}
    air = sorted(point for key in inlets for point in points[key])
    step = step_of(v for known in points.values() for _, v in known)
    last = views[-1][0]
    turning = any(s.reading.given("speed") for s in views[-1][1].of("fan"))
    least = LEAST_SECONDS if turning else LEAST_WITHOUT_FANS
    # A bay that is empty by now has no sensor to settle; whether it should be empty other rules say.
    absent = {
        key
        for key in points
        if key[1]
        and views[-1][1].condition(key[1]) is Condition.ABSENT
        and (not points[key] or points[key][-1][0] < last)
    }
    smooth = _smoothed(air)
    return [
        _course(key, known, smooth, last, step_of((v for _, v in known), otherwise=step), least, acceptance)
        for key, known in points.items()
        if key not in inlets and key not in absent and (asked is None or key in asked)
    ]


FANS_STEADY_WITHIN = 0.05
"""Share by which the fans' speed may change while they count as steady: control steps. Common practice, no source."""


def _fans_moving(views: list[tuple[float, View]]) -> str:
    """Why the fans are not at rest: while their control still works, the heat has not found its level."""
    speeds: list[float] = []
    for seconds, view in views:
        if seconds < views[-1][0] - SHORTEST_WINDOW:
            continue
        turning = [s.reading.given("speed") for s in view.of("fan") if (s.reading.unit or "").startswith("fan-")]
        known = [q.value for q in turning if q is not None]
        if known:
            speeds.append(median(known))
    if len(speeds) < 2 or max(speeds) - min(speeds) <= FANS_STEADY_WITHIN * max(speeds):
        return ""
    return f"the fans still change, from {min(speeds):.0f} to {max(speeds):.0f} rpm within {SHORTEST_WINDOW:.0f} s"


def _course(
    key: Key,
    known: list[tuple[float, float]],
    air: Mapping[float, float],
    last: float,
    step: float,
    least: float,
    acceptance: Acceptance,
) -> Course:
    _, unit, name = key

    def told(state: State, why: str, now: float | None = None, end: float | None = None, **more: float) -> Course:
        tau, wait = more.get("tau"), more.get("wait")
        doubt, to_come = more.get("doubt", math.inf), more.get("to_come", math.inf)
        span = known[-1][0] - known[0][0] if known else 0.0
        return Course(unit, name, state, now, end, doubt, to_come, tau, len(known), span, why, wait)

    if not known or known[-1][0] < last:
        return told("unclear", "no reading")
    now = known[-1][1]
    if len(known) < FEWEST_POINTS or known[-1][0] - known[0][0] < least:
        return told("unclear", "seen for too short a time", now, wait=least)
    limits = acceptance.settling
    times, values = [t - known[-1][0] for t, _ in known], _without_air(known, air, step)
    best: Course | None = None
    # The whole course first; where it is no single curve (fans that overshoot), its later parts.
    for part in (0.0, 0.25, 0.5):
        begin = int(len(times) * part)
        if len(times) - begin < FEWEST_POINTS or -times[begin] < SHORTEST_WINDOW:
            break
        x, y = times[begin:], values[begin:]
        if max(y) - min(y) <= 2 * step + 1e-9:
            course = _steady(x, y, step, limits.within, told, now)
        else:
            course = _curve(x, y, step, limits.within, limits.least_seen_percent / 100, told, now)
        if course.state == "settled":
            return course
        if best is None or (best.state == "unclear" and course.state == "moving"):
            best = course
    assert best is not None, "the whole course was looked at"
    return best


def _smoothed(air: list[tuple[float, float]]) -> dict[float, float]:
    """The inlet air at each of its times, averaged over a minute and a half; `air` is in order of time."""
    found: dict[float, float] = {}
    begin = end = 0
    for time in dict.fromkeys(t for t, _ in air):
        while air[begin][0] < time and abs(air[begin][0] - time) > SMOOTHED_OVER / 2:
            begin += 1
        while end < len(air) and (air[end][0] <= time or abs(air[end][0] - time) <= SMOOTHED_OVER / 2):
            end += 1
        near = [v for _, v in air[begin:end]]
        found[time] = sum(near) / len(near)
    return found


def _without_air(known: list[tuple[float, float]], air: Mapping[float, float], step: float) -> list[float]:
    """The values as they would be had the inlet air stayed as it is now.

    The air is smoothed (see above), since its readings come in steps of their own; where it hardly moved nothing
    is taken out.
    """
    values = [v for _, v in known]
    smooth = {t: v for t, v in air.items() if t >= known[0][0]}
    if len(smooth) < FEWEST_POINTS or max(smooth.values()) - min(smooth.values()) <= step:
        return values
    now = smooth[max(smooth)]
    return [v + now - smooth.get(t, now) for t, v in known]


def _steady(x: list[float], y: list[float], step: float, within: float, told: "_Teller", now: float) -> Course:
    """A sensor that stays within two steps: what it may still hide is its drift over the longest time constant."""
    slope, doubt = slope_of(x, y, step)
    to_come = (abs(slope) + SIGMAS * doubt) * LONGEST_TAU
    level = sum(y[-4:]) / 4
    end = level + slope * LONGEST_TAU if abs(slope) > SIGMAS * doubt else level
    if to_come < within:
        return told("settled", f"steady over {-x[0]:.0f} s", now, end, doubt=max(to_come, step), to_come=to_come)
    return told("moving", "not yet shown to be steady", now, end, doubt=to_come, to_come=to_come, wait=60.0)


class _Rough(NamedTuple):
    """What a grid of rates says: the best curve, the most that may come, and a drift beside the curve."""

    end: float
    rate: float
    to_come: float
    lowest: float
    highest: float
    whole: float
    drift: float


def _rough(x: Sequence[float], y: Sequence[float], step: float) -> _Rough:
    """For a given rate the curve is linear in the rest, so a grid of rates shows all curves that fit.

    Those whose squares are within nine variances of the best (three standard deviations) may be true; the
    one among them with most to come counts. A straight drift beside the curve counts where it explains
    more than chance would (F test; 10 is the 0.3 % point for 30 samples): a slow second course looks like that, and so does a fan that follows.
    """
    import numpy as np

    grid = _grid(tuple(x))
    t, v = grid.times, np.asarray(y, float)
    rates = grid.rates
    sums = v @ grid.ones, grid.left @ v, v @ grid.share
    squares = float(v @ v)
    end, height, rss = _curves(grid, squares, sums)
    best = int(rss.argmin())
    free = max(len(t) - 3, 1)
    variance = max(float(rss[best]) / free, step * step / 12, NOISE * NOISE)
    true = rss - rss[best] <= 9 * variance
    coming = np.abs(height * grid.left[:, -1])
    rate_of_drift, rss_bent = _bent_curves(grid, squares, sums)
    other = int(rss_bent.argmin())
    variance_bent = max(float(rss_bent[other]) / max(free - 1, 1), step * step / 12 / 2, NOISE * NOISE)
    drift = 0.0
    if (float(rss[best]) - float(rss_bent[other])) / variance_bent > 10.0:
        drift = float(rate_of_drift[other]) / float(t[-1])
    return _Rough(
        float(end[best]),
        float(rates[best]),
        float(coming[true].max()),
        float(end[true].min()),
        float(end[true].max()),
        float(np.abs(height[true]).max()),
        drift,
    )


class _Grid(NamedTuple):
    """Everything that depends on the times only; all sensors of a switch share them.

    `plain` are the normal equations of a curve (ones, and what is left of the change), `bent` those of one with a
    drift (its share, 0 to 1, of the whole time), each for every rate: what was added to the diagonal, then L D L'.
    """

    times: "Numbers"
    rates: "Numbers"
    ones: "Numbers"
    left: "Numbers"
    share: "Numbers"
    plain: "tuple[Numbers, ...]"
    bent: "tuple[Numbers, ...]"


_RIDGE = 1e-9
"""Share of the trace that is added to the diagonal, so that columns that are nearly alike have an answer."""


@cache
def _rates() -> "Numbers":
    import numpy as np

    return 1 / np.geomspace(8.0, 1200.0, 60)


@lru_cache(maxsize=16)
def _grid(x: tuple[float, ...]) -> _Grid:
    import numpy as np

    t = np.asarray(x, float) - x[0]
    rates = _rates()
    left = np.exp(-rates[:, None] * t)
    ones, share = np.ones_like(t), t / t[-1]
    number, lefts, shares = float(len(t)), left @ ones, float(share @ ones)
    lefts_square, across, shares_square = np.einsum("rt,rt->r", left, left), left @ share, float(share @ share)

    ridge = _RIDGE * (number + lefts_square)
    first = number + ridge
    two = lefts / first
    plain = (ridge, first, two, lefts_square + ridge - two * lefts)

    ridge = _RIDGE * (number + lefts_square + shares_square)
    first = number + ridge
    two, three = lefts / first, shares / first
    second = lefts_square + ridge - two * lefts
    rest = across - two * shares
    third = shares_square + ridge - three * shares - rest * rest / second
    bent = (ridge, first, two, three, second, rest / second, third)
    return _Grid(t, rates, ones, left, share, plain, bent)


def _curves(grid: _Grid, squares: float, sums: "tuple[Numbers, ...]") -> "tuple[Numbers, Numbers, Numbers]":
    """Least squares for each rate: end, height, and the sum of squares left over. `sums`: each column times the values,
    whose own squares come to `squares`.

    With A the normal equations, r the ridge and s the sums, b = (A + r)^-1 s leaves v'v - s'b - r b'b over: no curve
    need be drawn through all points to know how far they lie off it.
    """
    ridge, first, two, second = grid.plain
    above = sums[1] - two * sums[0]
    height, level = above / second, sums[0] / first
    end = level - two * height
    return end, height, squares - sums[0] * level - above * height - ridge * (end * end + height * height)


def _bent_curves(grid: _Grid, squares: float, sums: "tuple[Numbers, ...]") -> "tuple[Numbers, Numbers]":
    """The same with a drift beside the curve: the drift over the whole time, and the sum of squares left over."""
    ridge, first, two, three, second, rest, third = grid.bent
    above = sums[1] - two * sums[0]
    beside = sums[2] - three * sums[0] - rest * above
    drift, rise, level = beside / third, above / second, sums[0] / first
    height = rise - rest * drift
    end = level - two * height - three * drift
    left = squares - sums[0] * level - above * rise - beside * drift
    return drift, left - ridge * (end * end + height * height + drift * drift)


def _curve(
    x: list[float], y: list[float], step: float, within: float, least_seen: float, told: "_Teller", now: float
) -> Course:
    rough = _rough(x, y, step)
    span, tau = -x[0], 1 / rough.rate
    seen = 1 - math.exp(-span / tau)
    hidden = abs(rough.drift) * LONGEST_TAU
    doubt = max(rough.highest - rough.end, rough.end - rough.lowest) + hidden
    to_come = rough.to_come + hidden
    figures = {"doubt": doubt, "to_come": to_come, "tau": tau}
    wait = max(
        tau * math.log(1 / (1 - min(least_seen, 0.99))) - span,
        tau * math.log(max(to_come, within) / within),
        15.0,
    )
    if hidden > SLIGHT:
        return told("unclear", f"it drifts by {rough.drift * 60:+.1f} K/min beside its curve", now, wait=60.0)
    if rough.whole < within:
        least_seen = 0.0  # a change that is smaller than the limit need not be seen to its end
    if seen < least_seen:
        why = f"{seen:.0%} of its change seen (time constant about {tau:.0f} s)"
        return told("moving", why, now, rough.end, wait=wait, **figures)
    if to_come >= within:
        return told("moving", f"up to {to_come:.1f} K still to come", now, rough.end, wait=wait, **figures)
    fit = fit_first_order(x, y, begin=(rough.end, rough.rate))
    if not rough.lowest - within <= fit.end <= rough.highest + within:
        return told("unclear", "no end can be told from its course", now, wait=60.0)
    if why := unsound(fit, least_seen, max(0.6 * step, OWN_WANDER)):
        return told("unclear", why, now, wait=60.0)
    figures = {"doubt": max(doubt, SIGMAS * fit.sd[0], step), "to_come": to_come, "tau": fit.tau}
    return told("settled", f"{fit.seen:.0%} of its change seen", now, fit.end, **figures)


def unsound(fit: Fit, least_seen: float, most_off: float) -> str:
    """Why a curve cannot be believed; empty where it can. `most_off`: what its points may lie off it.

    A fit that "succeeds" with infinite covariance has found nothing, and one that has seen a third of the
    change foretells the rest, however well it runs through its points.
    """
    if not fit.finite:
        return "no end can be told from its course"
    if fit.seen < least_seen:
        return f"{fit.seen:.0%} of its change seen"
    if fit.rms > most_off:
        return f"its course is no single curve ({fit.rms:.2g} K off)"
    return ""


def since_seated(samples: Sequence[Sample], unit: str, serial: str | None = None) -> tuple[Sample, ...]:
    """The samples in which the unit has sat in its slot without a break until the last, as the same part.

    `serial` is the part's, where it is known. A sample that does not speak of the unit ends nothing.
    """
    kept: list[Sample] = []
    for sample in reversed(samples):
        view = sample.view
        printed = view.serial_of(unit)
        if view.condition(unit) is Condition.ABSENT or (printed and serial and printed != serial):
            break
        serial = serial or printed
        kept.append(sample)
    return tuple(reversed(kept))


def largest_change(points: Sequence[tuple[float, float]], seconds: float) -> float:
    """The largest change, up or down, between two points that lie at most so many seconds apart."""
    worst = 0.0
    begin = 0
    # Those that were lowest and highest when they came and may still be so, each with its place.
    low: deque[tuple[int, float]] = deque()
    high: deque[tuple[int, float]] = deque()
    for index, (time, value) in enumerate(points):
        while points[begin][0] < time - seconds:
            begin += 1
        while low and low[0][0] < begin:
            low.popleft()
        while high and high[0][0] < begin:
            high.popleft()
        while low and low[-1][1] >= value:
            low.pop()
        while high and high[-1][1] <= value:
            high.pop()
        low.append((index, value))
        high.append((index, value))
        worst = max(worst, value - low[0][1], high[0][1] - value)
    return worst
