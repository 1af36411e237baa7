"""Settled or not: never too soon, and never for a course that only looks like rest."""

import math
import random
from collections.abc import Callable, Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support import case, findings, q, snapshot

from consolecheck.judging.acceptance import Acceptance, SettlingLimits
from consolecheck.judging.settling import Settling, largest_change, settling_of, since_seated
from consolecheck.judging.view import Case, Sample
from consolecheck.records.findings import Finding, Outcome
from consolecheck.records.readings import AnyReading, Condition, Fan, Inventory, PowerSupply, Temperature
from consolecheck.records.text import UnreadLine
from consolecheck.records.units import Quantity

Course = Callable[[float], float]
WITHIN = Acceptance().settling.within
EVERY = 15.0


def heating(start: float, end: float, tau: float) -> Course:
    return lambda t: end + (start - end) * math.exp(-t / tau)


def sensor(name: str, value: float | None, warning: float = 95.0, unit: str | None = None) -> Temperature:
    return Temperature(
        name=name,
        unit=unit,
        condition=Condition.OK,
        value=None if value is None else Quantity(value=value, unit="Cel"),
        high_warning=Quantity(value=warning, unit="Cel"),
    )


def stepped(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def samples(
    seconds: float,
    step: float = 0.5,
    every: float = EVERY,
    extra: Callable[[float], list[AnyReading]] = lambda t: [],
    **courses: Course,
) -> list[Sample]:
    """Captures from the seating on, as the device prints them: in steps."""
    count = int(seconds / every)
    return [
        Sample(
            i * every,
            snapshot(*(sensor(n, stepped(c(i * every), step)) for n, c in courses.items()), *extra(i * every)),
        )
        for i in range(1, count + 1)
    ]


def decided(taken: list[Sample]) -> Iterator[tuple[float, Settling]]:
    """The answer after each sample."""
    for count in range(1, len(taken) + 1):
        yield taken[count - 1].seconds, settling_of(taken[:count], Acceptance())


def first_settled(taken: list[Sample]) -> float | None:
    return next((seconds for seconds, found in decided(taken) if found.settled), None)


def course(found: Settling, name: str = "asic"):  # type: ignore[no-untyped-def]
    return found.of(("temperature", None, name))


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0])
def test_a_supply_that_warms_up_is_settled_when_little_is_to_come(step: float) -> None:
    """20 K with a time constant of 270 s, in steps of a tenth, a half and a whole kelvin."""
    warm = heating(22, 42, 270)
    at = first_settled(samples(1800, step, psu=warm))
    assert at is not None
    assert 42 - warm(at) < WITHIN
    assert at < 720


def test_the_end_is_foretold_within_its_doubt() -> None:
    for seconds, found in decided(samples(1800, psu=heating(22, 42, 270))):
        told = course(found, "psu")
        if told.end is not None and told.state == "settled":
            assert abs(told.end - 42) <= told.doubt, seconds


def test_a_third_of_the_rise_is_not_enough_although_the_curve_fits() -> None:
    """As Misra1a of the NIST sets: tau 1818, 760 seen."""
    found = settling_of(samples(760, 0.1, asic=heating(20, 80, 1818)), Acceptance())
    assert course(found).state != "settled"


def test_the_same_reading_thrice_is_not_rest() -> None:
    """Steps of one kelvin and a slow course: the reading stands for a minute while it goes on to climb."""
    slow = heating(30, 50, 500)
    taken = samples(1200, 1.0, asic=slow)
    values = [s.snapshot.readings[0].value.value for s in taken]  # type: ignore[union-attr]
    thrice = next(i for i in range(2, len(values)) if values[i] == values[i - 1] == values[i - 2])
    assert 50 - slow(taken[thrice].seconds) > 4 * WITHIN
    assert not settling_of(taken[: thrice + 1], Acceptance()).settled


def test_a_steady_sensor_settles_without_a_curve() -> None:
    assert first_settled(samples(600, asic=lambda t: 57.0)) is not None
    assert first_settled(samples(600, 1.0, asic=lambda t: 57.0)) is not None


def test_a_sensor_that_creeps_does_not_settle() -> None:
    """Half a kelvin a minute for ever, as under a heat sink that comes loose."""
    assert first_settled(samples(1800, asic=lambda t: 50 + t * 0.5 / 60)) is None


def speed(rpm: float) -> list[AnyReading]:
    return [Fan(unit="fan-1", name="1a", condition=Condition.OK, speed=Quantity(value=rpm, unit="rpm"))]


def turning_back(t: float) -> float:
    """Up by 8 K with the fans slow, down again as they catch up."""
    return 50 + 8 * (t / 120) * math.exp(1 - t / 120)


def test_fans_that_overshoot_delay_the_answer_but_do_not_spoil_it() -> None:
    """At the turn the course alone looks settled; the fans, which still gain speed, say that it is not."""
    at = first_settled(samples(1800, asic=turning_back, extra=lambda t: speed(8000 + 4000 * (1 - math.exp(-t / 200)))))
    assert at is not None
    assert abs(turning_back(at) - 50) < WITHIN


def test_where_no_fan_speed_is_printed_the_answer_takes_longer() -> None:
    """Then a turn of the fans' control cannot be seen."""
    at = first_settled(samples(1800, asic=turning_back))
    assert at is not None
    assert abs(turning_back(at) - 50) < WITHIN
    steady = [
        first_settled(samples(900, asic=lambda t: 57.0, extra=extra)) for extra in (lambda t: speed(8000), lambda t: [])
    ]
    assert steady[0] is not None
    assert steady[1] is not None
    assert steady[0] < 300 <= steady[1]


def test_nothing_is_settled_while_the_fans_still_change() -> None:
    def fans(t: float) -> list[AnyReading]:
        return speed(max(8000.0, 13000 - 12 * t))

    taken = samples(900, asic=lambda t: 57.0, extra=fans)
    at = first_settled(taken)
    assert at is not None
    assert at >= 5000 / 12
    early = settling_of([s for s in taken if s.seconds <= 300], Acceptance())
    assert early.unrest.startswith("the fans still change")
    assert not early.settled


def test_a_drifting_inlet_is_taken_out() -> None:
    """The room warms by 4 K an hour: the part settles above it, and its end is told for the air of now."""
    air = lambda t: 22 + 4 * t / 3600  # noqa: E731
    warm = heating(22, 42, 200)
    taken = samples(1800, inlet=air, psu=lambda t: warm(t) + air(t) - 22)
    at = first_settled(taken)
    assert at is not None
    assert 42 - warm(at) < WITHIN
    found = settling_of([s for s in taken if s.seconds <= at], Acceptance())
    told = course(found, "psu")
    assert abs(told.end - (42 + air(at) - 22)) <= told.doubt + 0.5


def test_an_inlet_that_warms_and_stops_delays_little() -> None:
    """4 K in five minutes, then steady: the part follows with its own time constant."""

    def air(t: float) -> float:
        return 22 + 4 * min(t / 300, 1.0)

    def psu(t: float) -> float:
        # A part of 200 s that is driven by a ramp which ends lags it by so much.
        lag = (4 / 300) * 200
        behind = lag * (1 - math.exp(-t / 200)) if t < 300 else lag * (1 - math.exp(-1.5)) * math.exp(-(t - 300) / 200)
        return heating(22, 42, 200)(t) + air(t) - 22 - behind

    at = first_settled(samples(1800, inlet=air, psu=psu))
    assert at is not None
    assert at < 900
    assert abs(46 - psu(at)) < WITHIN


def test_the_inlet_itself_is_not_waited_for() -> None:
    found = settling_of(samples(600, inlet=lambda t: 22 + t / 60, asic=lambda t: 57.0), Acceptance())
    assert [c.name for c in found.courses] == ["asic"]


def test_one_lucky_look_is_not_enough() -> None:
    taken = samples(1800, psu=heating(22, 42, 270))
    at = next(i for i, (_, found) in enumerate(decided(taken)) if found.settled)
    looks = [course(settling_of(taken[: at + 1 - n], Acceptance()), "psu").why for n in (1, 2)]
    assert looks == ["seems settled; looked at again"] * 2


def test_a_sample_that_was_not_wholly_read_is_left_out() -> None:
    taken = samples(600, asic=lambda t: 57.0)
    hurt = [
        s._replace(snapshot=s.snapshot._replace(unread=(UnreadLine(1, "asic  57.O", "no rule fits", "temperature"),)))
        if i % 2
        else s
        for i, s in enumerate(taken)
    ]
    assert course(settling_of(hurt, Acceptance())).points == len(taken) / 2
    assert settling_of([s for i, s in enumerate(hurt) if i % 2], Acceptance()) == Settling(())


def test_a_sensor_that_fell_silent_is_unclear() -> None:
    taken = samples(600, asic=lambda t: 57.0, cpu=lambda t: 46.0)
    silent = [*taken[:-1], Sample(taken[-1].seconds, snapshot(sensor("asic", None), sensor("cpu", 46.0)))]
    gone = [*taken[:-1], Sample(taken[-1].seconds, snapshot(sensor("cpu", 46.0)))]
    for made in (silent, gone):
        found = settling_of(made, Acceptance())
        assert (course(found).state, course(found).why) == ("unclear", "no reading")
        assert not found.settled


def test_no_samples_are_not_settled() -> None:
    assert not settling_of([], Acceptance()).settled


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    tau=st.floats(20, 500),
    rise=st.floats(-40, 40),
    step=st.sampled_from([0.5, 1.0]),
    noise=st.floats(0, 0.2),
    seed=st.integers(0, 10**6),
)
def test_it_is_never_called_settled_while_more_than_the_limit_is_to_come(
    tau: float, rise: float, step: float, noise: float, seed: int
) -> None:
    """Any first-order course with noise, in steps of half a kelvin or one, asked after every sample."""
    dice = random.Random(seed)
    true = heating(45 - rise, 45, tau)
    taken = samples(1500, step, asic=lambda t: true(t) + dice.gauss(0, noise))
    at = first_settled(taken)
    if at is not None:
        assert abs(45 - true(at)) <= WITHIN


# The rule over a whole case.


def judged(taken: list[Sample], after: list[AnyReading], acceptance: Acceptance | None = None) -> list[Finding]:
    shown = snapshot(*after)
    made = case(shown, shown, "psu-2", acceptance)._replace(samples=tuple(taken))
    return findings_of("temperature.settled", made)


def findings_of(rule: str, made: Case) -> list[Finding]:
    from consolecheck.judging.judge import judge

    told = judge(made.before.snapshot, made.after.snapshot, made.unit, made.acceptance, samples=made.samples)
    return [f for f in told.findings if f.rule == rule]


def supply(serial: str = "WXS-31902", condition: Condition = Condition.OK) -> list[AnyReading]:
    return [
        PowerSupply(unit="psu-2", condition=condition),
        Inventory(unit="psu-2", condition=Condition.OK, serial=serial),
    ]


def test_settled_temperatures_are_told_once_with_the_one_that_has_least_room() -> None:
    taken = samples(900, asic=lambda t: 57.0, cpu=lambda t: 46.0, extra=lambda t: supply())
    (told,) = judged(taken, [sensor("asic", 57.0), sensor("cpu", 46.0), *supply()])
    assert (told.outcome, told.subject, told.required) == (Outcome.MET, "asic", True)
    assert told.measured == q("57 C")
    assert told.margin == Quantity(value=38.0, unit="Cel")
    assert told.message.endswith("1 other with more room")


def test_a_sensor_that_will_stand_over_its_warning_is_unmet_although_it_is_below_now() -> None:
    """On its way to 70 °C with a warning at 60: at 55 °C it is plain where it ends."""
    hot = heating(25, 70, 150)
    seconds = 165.0
    assert hot(seconds) < 57
    taken = samples(seconds, 0.1, psu=hot, extra=lambda t: [*supply(), *speed(8000)])
    (told,) = judged(taken, [sensor("psu", stepped(hot(seconds), 0.1), warning=60.0), *supply()])
    assert told.outcome is Outcome.UNMET
    assert "at or above its warning limit of 60 °C" in told.message


def test_an_end_too_close_to_the_warning_is_open() -> None:
    taken = samples(600, asic=lambda t: 59.5, extra=lambda t: supply())
    (told,) = judged(taken, [sensor("asic", 59.5, warning=60.0), *supply()])
    assert told.outcome is Outcome.UNDETERMINED
    assert "too close" in told.message


def test_what_still_moves_is_open_and_says_where_it_will_end() -> None:
    warm = heating(22, 42, 270)
    taken = samples(300, psu=warm, extra=lambda t: [*supply(), *speed(8000)])
    (told,) = judged(taken, [sensor("psu", stepped(warm(300), 0.5)), *supply()])
    assert told.outcome is Outcome.UNDETERMINED
    assert "has not settled" in told.message
    assert told.measured is not None


def test_without_samples_nothing_is_said_unless_the_acceptance_asks() -> None:
    shown = [sensor("asic", 57.0), *supply()]
    assert judged([], shown) == []
    asked = Acceptance(settling=SettlingLimits(required=True))
    (told,) = judged([], shown, asked)
    assert told.outcome is Outcome.UNDETERMINED
    excused = Acceptance(settling=SettlingLimits(required=False))
    assert judged(samples(60, asic=lambda t: t), shown, excused) == []


def test_a_capture_that_does_not_continue_the_samples_is_open() -> None:
    """Samples of one moment and a capture of another prove nothing about each other."""
    taken = samples(600, asic=lambda t: 57.0, extra=lambda t: supply())
    (told,) = judged(taken, [sensor("asic", 71.0), *supply()])
    assert told.outcome is Outcome.UNDETERMINED
    assert "does not continue" in told.message


def test_samples_of_another_console_are_refused() -> None:
    taken = [
        s._replace(snapshot=s.snapshot._replace(hosts={"tern-05": 1}))
        for s in samples(600, asic=lambda t: 57.0, extra=lambda t: supply())
    ]
    shown = snapshot(sensor("asic", 57.0), *supply())._replace(hosts={"tern-04": 1})
    made = case(shown, shown, "psu-2")._replace(samples=tuple(taken))
    (told,) = findings_of("temperature.settled", made)
    assert told.outcome is Outcome.UNDETERMINED
    assert "tern-05" in told.message


def test_only_samples_of_the_part_that_is_fitted_count() -> None:
    """The first part came out again: what it showed says nothing about the one that is in."""
    first = samples(600, asic=lambda t: 57.0, extra=lambda t: supply("WXS-1"))
    out = [Sample(615.0, snapshot(sensor("asic", 57.0), PowerSupply(unit="psu-2", condition=Condition.ABSENT)))]
    second = [s._replace(seconds=s.seconds + 630) for s in samples(60, asic=lambda t: 57.0, extra=lambda t: supply())]
    assert since_seated([*first, *out, *second], "psu-2") == tuple(second)
    assert since_seated([*first, *second], "psu-2", "WXS-31902") == tuple(second)
    assert since_seated([*first, *out], "psu-2") == ()
    (told,) = judged([*first, *out, *second], [sensor("asic", 57.0), *supply()])
    assert told.outcome is Outcome.UNDETERMINED


# Rate of change of the inlet air.


@pytest.mark.parametrize(
    ("points", "seconds", "change"),
    [
        ([(0, 20.0), (900, 25.0)], 900, 5.0),
        ([(0, 20.0), (900, 25.1)], 900, 5.1),
        ([(0, 20.0), (901, 25.1)], 900, 0.0),
        ([(i * 900.0, 20.0 + 5 * i) for i in range(5)], 3600, 20.0),
        # Half before and half after the quarter: only a sliding window sees it.
        ([(0, 20.0), (600, 20.0), (840, 23.0), (960, 26.0)], 900, 6.0),
        ([(0, 26.0), (960, 20.0), (1000, 20.5)], 900, 0.5),
    ],
)
def test_the_rate_of_change_is_taken_over_sliding_windows(
    points: list[tuple[float, float]], seconds: float, change: float
) -> None:
    assert largest_change(points, seconds) == pytest.approx(change)


@pytest.mark.parametrize(("rise", "faults"), [(5.0, 0), (5.5, 1)])
def test_inlet_air_may_change_by_five_kelvin_in_a_quarter_of_an_hour(rise: float, faults: int) -> None:
    """ASHRAE TC 9.9, Thermal Guidelines, 5th ed. (2021), reference card: 20 K an hour, and 5 K in any 15 minutes."""
    air = lambda t: 20 + rise * t / 900  # noqa: E731
    taken = samples(900, 0.1, every=60, inlet=air)
    shown = snapshot(sensor("inlet", 20 + rise), *supply())
    made = case(shown, shown, "psu-2")._replace(samples=(Sample(0.0, snapshot(sensor("inlet", 20.0))), *taken))
    told = findings_of("temperature.inlet-rate", made)
    assert len(told) == faults
    assert not any(f.required for f in told)


def test_findings_of_the_rule_are_what_the_judge_gives() -> None:
    shown = snapshot(sensor("asic", 57.0), *supply())
    assert findings("temperature.settled", case(shown, shown, "psu-2")) == []


# ---- laws


@settings(max_examples=25, deadline=None)
@given(
    later=st.sampled_from([-3600.0, 7.5, 900.0, 86_400.0]),
    tau=st.floats(30, 400),
    rise=st.floats(-20, 20),
    seconds=st.integers(4, 60).map(lambda n: n * EVERY),
)
def test_when_the_clock_began_does_not_matter(later: float, tau: float, rise: float, seconds: float) -> None:
    taken = samples(seconds, asic=heating(45 - rise, 45, tau))
    moved = [sample._replace(seconds=sample.seconds + later) for sample in taken]
    one, two = settling_of(taken, Acceptance()), settling_of(moved, Acceptance())
    assert (one.settled, course(one).state) == (two.settled, course(two).state)


@settings(max_examples=25, deadline=None)
@given(tau=st.floats(30, 400), rise=st.floats(-20, 20), count=st.integers(4, 60), data=st.data())
def test_a_second_sensor_never_makes_it_settled(tau: float, rise: float, count: int, data: st.DataObject) -> None:
    """More to look at can only leave more to wait for."""
    one = samples(count * EVERY, asic=heating(45 - rise, 45, tau))
    slope = data.draw(st.sampled_from([0.0, 0.01, -0.02]))
    two = samples(count * EVERY, asic=heating(45 - rise, 45, tau), cpu=lambda t: 50 + slope * t)
    assert settling_of(one, Acceptance()).settled >= settling_of(two, Acceptance()).settled


@settings(max_examples=25, deadline=None)
@given(end=st.floats(20, 80), tau=st.floats(30, 400), rise=st.floats(1, 20), count=st.integers(4, 60))
def test_a_course_that_falls_is_judged_as_one_that_rises(end: float, tau: float, rise: float, count: int) -> None:
    """Mirrored at its end, in steps so fine that rounding has no side."""
    up, down = (samples(count * EVERY, 0.001, asic=heating(end + sign * rise, end, tau)) for sign in (-1, 1))
    assert settling_of(up, Acceptance()).settled is settling_of(down, Acceptance()).settled
