"""Curves and rest to the last figure: what is computed, how soon the search is done, and where each limit lies."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from support import q, snapshot
from wholly_told import same_text

from consolecheck.judging import curve, settling
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.settling import Course, largest_change, settling_of, since_seated
from consolecheck.judging.view import Sample
from consolecheck.records.readings import AnyReading, Condition, Fan, Inventory, PowerSupply, Temperature

OK, ABSENT = Condition.OK, Condition.ABSENT


def heating(start: float, end: float, tau: float) -> Callable[[float], float]:
    return lambda t: end + (start - end) * math.exp(-t / tau)


# ---- the curve


@pytest.mark.parametrize("tau", [30.0, 100.0, 400.0])
@pytest.mark.parametrize("begin", [0.3, 1.0])
def test_the_search_over_the_rate_is_soon_done(tau: float, begin: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Secants come to rest within a dozen steps from a third of the rate."""
    asked = 0
    plain = np.expm1

    def counted(x: object) -> object:
        nonlocal asked
        asked += 1
        return plain(x)  # type: ignore[call-overload]

    monkeypatch.setattr(np, "expm1", counted)
    times = [15.0 * n for n in range(41)]
    values = [round(heating(30, 55, tau)(t) * 2) / 2 for t in times]
    x = np.asarray(times)
    found = curve._projected(x, np.asarray(values), begin / tau)
    assert found is not None
    assert asked <= 12
    (end, rate, start), off = found
    assert float(np.sum(off**2)) < 41 * 0.05
    assert [end, start] == pytest.approx([55, 30], abs=1.5 if tau < 400 else 3)
    assert 1 / rate == pytest.approx(tau, rel=0.1)


def test_a_rate_without_any_sense_is_not_searched_from() -> None:
    x, y = np.asarray([15.0 * n for n in range(20)]), np.asarray([float(n) for n in range(20)])
    span = 285.0
    assert curve._projected(x, y, 200 / span) is None
    assert curve._projected(x, y, math.nan) is None
    assert curve._projected(x, y, 1e-10 / span) is None
    assert curve._projected(x, np.full(20, 40.0), 1 / span) is None


def test_a_fit_to_its_last_figure() -> None:
    """A curve of half kelvins from 30 to 55 degrees at 100 s, whole; and where it begins at another time."""
    times = [15.0 * n for n in range(25)]
    values = [round(heating(30, 55, 100)(t) * 2) / 2 for t in times]
    for later in (0.0, 500.0):
        fit = curve.fit_first_order([t + later for t in times], values)
        off = [v - heating(fit.start, fit.end, fit.tau)(t) for t, v in zip(times, values, strict=True)]
        assert list(fit.leftover) == pytest.approx(off, abs=1e-9)
        assert fit.rss == pytest.approx(sum(o * o for o in off))
        assert fit.rms == pytest.approx(math.sqrt(fit.rss / 22))
        assert fit.span == 360
        # At the bottom no neighbour is better.
        for end, tau, start in ((0.01, 0, 0), (-0.01, 0, 0), (0, 0.1, 0), (0, -0.1, 0), (0, 0, 0.01), (0, 0, -0.01)):
            beside = heating(fit.start + start, fit.end + end, fit.tau + tau)
            assert sum((v - beside(t)) ** 2 for t, v in zip(times, values, strict=True)) > fit.rss
        assert fit.seen == pytest.approx(1 - math.exp(-360 / fit.tau))
        assert fit.to_come == pytest.approx(fit.end - heating(fit.start, fit.end, fit.tau)(360))


@pytest.mark.parametrize("fixed", [None, 30.0])
def test_deviations_are_those_of_the_linearised_curve(fixed: float | None) -> None:
    times = [15.0 * n for n in range(25)]
    values = [round(heating(30, 55, 100)(t) * 2) / 2 for t in times]
    fit = curve.fit_first_order(times, values, fixed_start=fixed)
    x, left = np.asarray(times), np.exp(-fit.rate * np.asarray(times))
    columns = [1 - left, (fit.end - fit.start) * x * left, left][: 3 if fixed is None else 2]
    jacobian = np.stack(columns, axis=1)
    variance = fit.rss / (25 - len(columns))
    expected = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian) * variance))
    assert list(fit.sd[: len(columns)]) == pytest.approx(list(expected), rel=1e-6)
    if fixed is not None:
        assert (fit.start, fit.sd[2]) == (30.0, 0.0)
        assert fit.end == pytest.approx(55, abs=0.5)


def test_the_first_guess_is_the_best_of_a_few_curves() -> None:
    x = np.asarray([15.0 * n for n in range(25)])
    y = np.asarray([heating(30, 55, 100)(t) for t in x])
    for fixed in (None, 30.0):
        end, rate = curve._guess(x, y, fixed)
        assert end == pytest.approx(55, abs=1.5)
        assert rate == pytest.approx(0.01, rel=0.2)


def test_points_that_determine_nothing() -> None:
    """Columns without a slope, or that are one another, leave everything open."""
    nothing = (math.inf, math.inf, math.inf)
    one = np.linspace(0, 1, 9)
    assert curve._deviations(np.stack([one, 0 * one, one**2], axis=1), 1.0) == nothing
    assert curve._deviations(np.stack([one, one, one**2], axis=1), 1.0) == nothing
    assert curve._deviations(np.stack([one, one * math.nan, one**2], axis=1), 1.0) == nothing
    assert all(map(math.isfinite, curve._deviations(np.stack([1 - one, one**3, one**2], axis=1), 1.0)))


@pytest.mark.parametrize(("rate", "finite"), [(0.01, True), (0.0, False), (-0.01, False), (math.inf, False)])
def test_a_rate_that_is_none_has_no_end(rate: float, finite: bool) -> None:
    fit = curve.Fit(55, rate, 30, (0.1, 0.1, 0.1), 0.1, 0.1, 360, ())
    assert fit.finite is finite
    if rate <= 0:
        assert (fit.tau, fit.seen) == (math.inf, 0.0)
    assert not fit._replace(end=math.nan).finite
    assert not fit._replace(sd=(0.1, math.inf, 0.1)).finite


def test_too_few_points_for_what_is_asked() -> None:
    curve.fit_first_order([0, 15, 30, 45], [30, 40, 45, 47])
    curve.fit_first_order([0, 15, 30], [30, 40, 45], fixed_start=30)
    for times, values, fixed in (
        ([0, 15, 30], [30, 40, 45], None),
        ([0, 15], [30, 40], 30.0),
        ([0, 1, 2, 3, 4], [1, 2], None),
    ):
        with pytest.raises(ValueError, match="needs more than"):
            curve.fit_first_order(times, values, fixed_start=fixed)


@pytest.mark.parametrize(
    ("start", "end", "value", "seconds"),
    [(30, 50, 30, 0.0), (30, 50, 25, 0.0), (30, 50, 50, math.inf), (30, 50, 51, math.inf), (30, 30, 40, 0.0),
     (50, 30, 40, 69.3147), (30, 50, 40, 69.3147)],
)  # fmt: skip
def test_when_a_curve_passes_a_value(start: float, end: float, value: float, seconds: float) -> None:
    assert curve.seconds_until(start, end, 100, value) == pytest.approx(seconds, abs=1e-3)


@pytest.mark.parametrize("value", [20.0, 60.0, 61.0, 19.0])
def test_a_time_constant_needs_a_value_in_between(value: float) -> None:
    with pytest.raises(ValueError, match="between"):
        curve.time_constant(20, 60, value, 10)
    assert curve.time_constant(20, 60, 40, 10) == pytest.approx(10 / math.log(2))


def test_slopes_and_steps() -> None:
    slope, doubt = curve.slope_of([0, 1, 2, 3], [0, 2, 2, 5], 0.1)
    assert slope == pytest.approx(1.5)
    assert doubt == pytest.approx(math.sqrt(1.5 / 2 / 5))
    assert list(curve.slope_of([0, 1], [0, 3], 0.1)) == pytest.approx([3, math.sqrt(0.01 / 12 / 0.5)])
    assert curve.step_of([40.0, 40.0]) == 1.0
    assert curve.step_of([40.0], otherwise=0.5) == 0.5
    assert curve.step_of([40.0, 40.04]) == 1.0
    assert curve.step_of([40.0, 40.5, 42.0, 42.5]) == pytest.approx(0.5)
    assert curve.step_of([40.0, 43.0, 49.0]) == pytest.approx(3.0)


# ---- at rest


def sensor(value: float | None, name: str = "asic", **more: object) -> Temperature:
    return Temperature(name=name, condition=OK, value=None if value is None else q(f"{value:.4f} C"), **more)


FAN = Fan(unit="fan-1", condition=OK, speed=q("8000 rpm"))


def watched(
    course: Callable[[float], float],
    seconds: float,
    every: float = 15,
    step: float = 0.5,
    beside: Callable[[float], Sequence[AnyReading]] = lambda t: (FAN,),
) -> list[Sample]:
    count = int(seconds / every) + 1
    return [
        Sample(n * every, snapshot(sensor(round(course(n * every) / step) * step), *beside(n * every)))
        for n in range(count)
    ]


def told(samples: Sequence[Sample], acceptance: Acceptance | None = None) -> str:
    """Every course, to a thousandth and five figures."""
    found = settling_of(samples, acceptance or Acceptance())
    return "\n".join([*map(line, found.courses), *([found.unrest] if found.unrest else [])])


def line(c: Course) -> str:
    def n(value: float | None) -> str:
        return "-" if value is None else f"{round(value, 3):.5g}"

    return (
        f"{c.name} {c.state}: now {n(c.now)} end {n(c.end)} doubt {n(c.doubt)} to come {n(c.to_come)} "
        f"tau {n(c.tau)} points {c.points} span {n(c.span)} wait {n(c.wait)}: {c.why}"
    )


@pytest.mark.parametrize(("seconds", "state"), [(119, "unclear"), (120, "moving")])
def test_two_minutes_must_be_seen(seconds: float, state: str) -> None:
    (found,) = settling_of(watched(heating(30, 55, 100), seconds, every=seconds / 10), Acceptance()).courses
    assert found.state == state


@pytest.mark.parametrize(("seconds", "told"), [(299, "seen for too short a time"), (300, "")])
def test_and_five_where_no_fan_speed_is_printed(seconds: float, told: str) -> None:
    samples = watched(lambda t: 40, seconds, every=seconds / 20, beside=lambda t: ())
    (found,) = settling_of(samples, Acceptance()).courses
    assert (found.why == "seen for too short a time") is bool(told)


@pytest.mark.parametrize(("points", "enough"), [(7, False), (8, True)])
def test_eight_points_must_be_seen(points: int, enough: bool) -> None:
    samples = watched(lambda t: 40, 240, every=240 / (points - 1))
    (found,) = settling_of(samples, Acceptance()).courses
    assert (found.why != "seen for too short a time") is enough


def test_what_is_said_of_courses() -> None:
    same_text(
        told(watched(lambda t: 40, 105)),
        """
        asic unclear: now 40 end - doubt inf to come inf tau - points 8 span 105 wait 120: seen for too short a time
        """,
    )
    same_text(
        told(watched(lambda t: 40, 300)),
        """
        asic settled: now 40 end 40 doubt 1 to come 0.624 tau - points 21 span 300 wait -: steady over 300 s
        """,
    )
    same_text(
        told(watched(lambda t: 40, 900)),
        """
        asic settled: now 40 end 40 doubt 1 to come 0.126 tau - points 61 span 900 wait -: steady over 900 s
        """,
    )
    same_text(
        told(watched(lambda t: 40 + t / 600, 600)),
        """
        asic settled: now 41 end 41.862 doubt 0.977 to come 0.977 tau - points 41 span 600 wait -: steady over 600 s
        """,
    )
    same_text(
        told(watched(lambda t: 40 + t / 60, 600)),
        """
        asic moving: now 50 end 67.76 doubt 12.299 to come 17.828 tau 1200 points 41 span 600 wait 2138.6: 22% of its change seen (time constant about 1200 s)
        """,
    )
    same_text(
        told(watched(heating(30, 55, 100), 150)),
        """
        asic moving: now 49.5 end 55.385 doubt 1.147 to come 6.838 tau 102.23 points 11 span 150 wait 84.231: 77% of its change seen (time constant about 102 s)
        """,
    )
    same_text(
        told(watched(heating(30, 55, 100), 240)),
        """
        asic moving: now 52.5 end 54.89 doubt 0.734 to come 2.4 tau 98.473 points 17 span 240 wait 15: seems settled; looked at again
        """,
    )
    same_text(
        told(watched(heating(30, 55, 100), 600)),
        """
        asic settled: now 55 end 55.047 doubt 0.5 to come 0.07 tau 100.1 points 41 span 600 wait -: 100% of its change seen
        """,
    )
    same_text(
        told(watched(heating(55, 30, 100), 600, step=1.0)),
        """
        asic settled: now 30 end 29.88 doubt 1 to come 0.072 tau 102.13 points 41 span 600 wait -: 100% of its change seen
        """,
    )
    same_text(
        told(watched(heating(40, 42, 100), 600, step=0.1)),
        """
        asic settled: now 42 end 42.009 doubt 0.1 to come 0.014 tau 99.979 points 41 span 600 wait -: 100% of its change seen
        """,
    )
    same_text(
        told(watched(lambda t: 50 + 8 * math.sin(t / 60), 600)),
        """
        asic moving: now 45.5 end 68.452 doubt 18.71 to come 15.149 tau 1200 points 41 span 600 wait 1943.2: 31% of its change seen (time constant about 1200 s)
        """,
    )
    same_text(
        told(watched(lambda t: heating(30, 60, 60)(t) - 5 * (t > 200) * (1 - math.exp((200 - t) / 40)), 900)),
        """
        asic settled: now 55 end 54.989 doubt 0.5 to come 0 tau 34.416 points 61 span 900 wait -: 100% of its change seen
        """,
    )


def test_the_air_is_taken_out() -> None:
    def room(warms: Callable[[float], float]) -> Callable[[float], Sequence[AnyReading]]:
        return lambda t: (FAN, sensor(round(warms(t) * 2) / 2, "inlet"))

    same_text(
        told(watched(lambda t: 40 + t / 120, 600, beside=room(lambda t: 20 + t / 120))),
        """
        asic settled: now 45 end 44.983 doubt 0.5 to come 0.204 tau - points 41 span 600 wait -: steady over 600 s
        """,
    )
    same_text(
        told(watched(lambda t: 40, 600, beside=room(lambda t: 20 + t / 120))),
        """
        asic moving: now 40 end 31.834 doubt 4.444 to come 8.176 tau 1200 points 41 span 600 wait 1826.5: 31% of its change seen (time constant about 1200 s)
        """,
    )
    same_text(
        told(watched(lambda t: 40, 600, beside=room(lambda t: 20.5 if t > 300 else 20))),
        """
        asic settled: now 40 end 40 doubt 0.5 to come 0.114 tau - points 41 span 600 wait -: steady over 600 s
        """,
    )


def test_a_sensor_of_a_bay_that_is_empty_by_now() -> None:
    """It has nowhere to settle, unless it still gives a reading: then the bay is not what the row says."""
    bay = PowerSupply(unit="psu-2", condition=ABSENT)

    def seen(until: float) -> list[str | None]:
        inside = watched(lambda t: 40, 600, beside=lambda t: (FAN, bay, *warm(t, until)))
        return [c.name for c in settling_of(inside, Acceptance()).courses]

    def warm(t: float, until: float, name: str | None = "outlet") -> list[AnyReading]:
        value = q("40 C") if t <= until else None
        return [Temperature(name=name, unit="psu-2", condition=OK, value=value)]

    def nameless(t: float) -> Sequence[AnyReading]:
        return FAN, bay, *warm(t, 300, None)

    def loose(t: float) -> Sequence[AnyReading]:
        return FAN, Inventory(name="blank panel", condition=ABSENT), sensor(40 if t < 300 else None, "rim")

    def emptied(at: float) -> list[str | None]:
        shown = watched(
            lambda t: 40, 600, beside=lambda t: (FAN, bay if t >= at else fitted, *(warm(t, 600) if t < at else ()))
        )
        return [c.name for c in settling_of(shown, Acceptance()).courses]

    fitted = PowerSupply(unit="psu-2", condition=OK)
    assert emptied(300) == emptied(600) == ["asic"]
    assert emptied(615) == ["asic", "outlet"]
    assert seen(600) == ["asic", "outlet"]
    assert seen(585) == ["asic"]
    assert seen(-1) == ["asic"]
    assert [c.key for c in settling_of(watched(lambda t: 40, 600, beside=nameless), Acceptance()).courses] == [
        ("temperature", None, "asic")
    ]
    # A sensor in no bay stays, whatever else is absent.
    assert settling_of(watched(lambda t: 40, 600, beside=loose), Acceptance()).courses[1].name == "rim"


def test_fans_that_still_change() -> None:
    def turning(now: float, before: float = 8000, since: float = 540) -> Callable[[float], Sequence[AnyReading]]:
        return lambda t: (Fan(unit="fan-1", condition=OK, speed=q(f"{now if t >= since else before} rpm")),)

    def unrest(beside: Callable[[float], Sequence[AnyReading]]) -> str:
        return settling_of(watched(lambda t: 40, 600, beside=beside), Acceptance()).unrest

    assert unrest(turning(8421)) == ""
    assert unrest(turning(8422)) == "the fans still change, from 8000 to 8422 rpm within 90 s"
    assert unrest(turning(7600)) == ""
    assert unrest(turning(7599)) != ""

    # Two samples within ninety seconds tell it, one does not.
    def seldom(every: float) -> str:
        last = watched(lambda t: 40, 10 * every, every, beside=turning(9000, since=10 * every))
        return settling_of(last, Acceptance()).unrest

    assert seldom(60) == seldom(90) == "the fans still change, from 8000 to 9000 rpm within 90 s"
    assert seldom(100) == ""
    # What they did more than ninety seconds before the end says nothing any more.
    assert unrest(turning(4000, since=525)) != ""
    assert unrest(turning(4000, since=510)) == ""


@pytest.mark.parametrize(
    ("fit", "why"),
    [
        ({}, ""),
        ({"rms": 0.5}, ""),
        ({"rms": 0.51}, "its course is no single curve (0.51 K off)"),
        ({"span": 188.0}, "85% of its change seen"),
        ({"span": 190.0}, ""),
        ({"end": math.inf}, "no end can be told from its course"),
    ],
)
def test_what_makes_a_curve_unsound(fit: dict[str, float], why: str) -> None:
    sound = curve.Fit(55, 0.01, 30, (0.1, 0.1, 0.1), 0.1, 0.1, 360, ())
    assert settling.unsound(sound._replace(**fit), 0.85, 0.5) == why  # type: ignore[arg-type]


def test_the_samples_since_the_part_was_seated() -> None:
    def sample(t: float, *rows: AnyReading) -> Sample:
        return Sample(t, snapshot(*rows))

    def seated(*samples: Sample, serial: str | None = None) -> list[float]:
        return [s.seconds for s in since_seated(samples, "psu-1", serial)]

    new, old = PowerSupply(unit="psu-1", serial="TX7702"), PowerSupply(unit="psu-1", serial="SB1101")
    gone, other = PowerSupply(unit="psu-1", condition=ABSENT), Inventory(unit="psu-2", serial="SB2201")
    assert seated(sample(0, old), sample(1, gone), sample(2, new), sample(3, new)) == [2, 3]
    assert seated(sample(0, old), sample(2, new)) == [2]
    assert seated(sample(0, new), sample(1, other), sample(2, new)) == [0, 1, 2]
    assert seated(sample(0, new), sample(1, new), serial="SB1101") == []
    assert seated(sample(0, new), sample(1, gone)) == []
    assert seated(sample(0, PowerSupply(unit="psu-1")), sample(1, new)) == [0, 1]


@pytest.mark.parametrize(
    ("points", "change"),
    [
        ([], 0.0),
        ([(0, 20)], 0.0),
        ([(0, 20), (10, 25)], 5.0),
        ([(0, 25), (10, 20)], 5.0),
        ([(0, 20), (60, 25)], 5.0),
        ([(0, 20), (61, 25)], 0.0),
        ([(0, 20), (30, 22), (61, 25)], 3.0),
        ([(0, 30), (30, 22), (61, 25), (70, 20)], 8.0),
        ([(0, 20), (10, 20), (65, 26)], 6.0),
        ([(0, 26), (10, 26), (65, 20)], 6.0),
        ([(0, 20), (1, 30), (2, 10), (3, 20)], 20.0),
    ],
)
def test_the_largest_change_within_a_minute(points: list[tuple[float, float]], change: float) -> None:
    assert largest_change(points, 60) == change
