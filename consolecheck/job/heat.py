"""Where the sensors of a switch are heading while a unit is out: rates, limits ahead, and what of it is news. Pure."""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, pairwise
from statistics import median
from typing import Literal

from consolecheck.judging.view import Key, View
from consolecheck.records.readings import Condition, Temperature
from consolecheck.records.units import Quantity
from consolecheck.records.watching import SensorNow

LEAST_SAMPLES, LEAST_SPAN = 3, 20.0
"""A rate needs so many samples over so many seconds. Common practice, no source."""
MOST_SAMPLES, WINDOW = 6, 60.0
"""A rate is taken over the last so many samples, and over more where they lie within so many seconds."""
FORESEEN = 120.0
"""Seconds for which a limit is foreseen while no slot is open for longer. Common practice, no source."""
RECEDED = 1.0
"""Kelvin by which a sensor falls back before it is told anew: quantised readings dither. Common practice."""
_STEPS = (1.0, 0.5, 0.25, 0.2, 0.1)


class _Sensor:
    """One sensor: what it read, its upper limits, and what was told of it."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.samples: list[tuple[float, float]] = []
        self.value: float | None = None
        self.limits: tuple[float | None, float | None] = (None, None)
        self.condition: Condition | None = None
        self.word: str | None = None
        self.level = 0
        self.foreseen: float | None = None
        """The highest reading since its limit was foreseen; None where nothing was."""

    def level_now(self) -> int:
        """0 well, 1 at warning, 2 critical, by its own word and its limits; equality trips (IPMI v2.0).

        A level that was reached is left only when the reading has fallen back by `RECEDED`.
        """
        level = {Condition.WARNING: 1, Condition.FAILED: 2}.get(self.condition or Condition.OK, 0)
        for number, limit in enumerate(self.limits, 1):
            if limit is not None and self.value is not None:
                bound = limit - RECEDED if self.level >= number else limit
                if self.value > bound or self.value >= limit:
                    level = max(level, number)
        return level

    def now(self) -> SensorNow:
        assert self.value is not None, "only sensors that read something are shown"
        warning, critical = self.limits
        rate = rate_per_minute(self.samples)
        name: Literal["warning", "critical"] = "warning"
        limit = warning
        if warning is None or (critical is not None and self.value >= warning):
            name, limit = "critical", critical
        minutes = None
        if limit is not None and rate is not None and rate > 0 and limit > self.value:
            minutes = (limit - self.value) / rate
        return SensorNow(self.name, self.value, rate, limit, minutes, name)

    def news(self, horizon: float) -> tuple[str, bool] | None:
        """A limit that was reached, left, or that will be reached within so many seconds; and whether it rings."""
        level, last, now = self.level_now(), self.level, self.now()
        self.level = level
        reads = f"{self.name} reads {_celsius(now.value)}"
        if level != last:
            self.foreseen = None
        if level > last:
            name, limit = ("warning", "critical")[level - 1], self.limits[level - 1]
            if limit is None or now.value < limit:
                return f"{reads} and reports `{self.word or name}`", True
            return f"{reads}, at or above its {name} limit of {_celsius(limit)}", True
        if level < last:
            return f"{reads}, below its {'critical limit' if level else 'limits'} again", False
        if self.foreseen is not None:
            receded = now.value <= self.foreseen - RECEDED
            self.foreseen = None if receded else max(self.foreseen, now.value)
        elif now.limit is not None and now.minutes_to_limit is not None and now.minutes_to_limit * 60 <= horizon:
            self.foreseen = now.value
            when = f"its {now.limit_name} limit of {_celsius(now.limit)} in {now.minutes_to_limit:.1f} min"
            return f"{reads}, rises by {now.per_minute:.1f} K/min and so reaches {when}", True
        return None

    def room(self) -> tuple[bool, float]:
        """For sorting: those with a limit by the room to the first of them, then the rest, hottest first."""
        first = self.limits[0] if self.limits[0] is not None else self.limits[1]
        value = self.value or 0.0
        return (True, -value) if first is None else (False, first - value)


def rate_per_minute(samples: Sequence[tuple[float, float]]) -> float | None:
    """The median of all slopes between two samples (Theil and Sen), per minute of seconds; None before 3 over 20 s.

    A reading that only moved by one step of its own resolution may just as well stand still: the rate is
    then 0. The resolution is judged from the samples: the coarsest usual step that all of them fit.
    """
    if len(samples) < LEAST_SAMPLES or samples[-1][0] - samples[0][0] < LEAST_SPAN:
        return None
    values = [value for _, value in samples]
    if max(values) - min(values) <= _step(values) + 1e-6:
        return 0.0
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(samples, 2) if b[0] > a[0]]
    return median(slopes) * 60


def _step(values: Sequence[float]) -> float:
    for grid in _STEPS:
        if all(abs(value / grid - round(value / grid)) < 1e-6 for value in values):
            return grid
    # Degrees that were Fahrenheit fit none of them: there the smallest change is the step.
    return min((abs(b - a) for a, b in pairwise(values) if abs(b - a) > 1e-6), default=0.0)


class Heat:
    """Follows the sensors of a switch from its baseline on."""

    def __init__(self, before: View, empty: Callable[[str], bool]) -> None:
        """`empty` tells whether the slot of a unit is empty now: what a sensor in it still reads is no part's."""
        self._empty = empty
        self._sensors: dict[Key, _Sensor] = {}
        self._shown: list[Key] = []
        self._read(before)
        for sensor in self._sensors.values():
            sensor.level = sensor.level_now()

    def news(
        self, view: View, seconds: float, afresh: bool, open_left: float
    ) -> Iterator[tuple[str | None, str, bool]]:
        """What a poll shows of sensors that is news: of which unit, in one sentence, and whether it rings.

        `afresh`: a part went or came, after which an old rate says nothing. `open_left`: seconds for which the
        slot may stay open still; a limit is foreseen for so long, and for `FORESEEN` at least.
        """
        self._read(view, seconds, afresh)
        for key in self._shown:
            if news := self._sensors[key].news(max(open_left, FORESEEN)):
                yield key[1], *news

    def now(self) -> tuple[SensorNow, ...]:
        """The sensors that were shown last, the one with the least room to its first limit first."""
        return tuple(s.now() for s in sorted((self._sensors[key] for key in self._shown), key=_Sensor.room))

    def _read(self, view: View, seconds: float | None = None, afresh: bool = False) -> None:
        """Takes over the sensors of a text, unless it does not hold their table to the end."""
        if not view.shows("temperature"):
            return
        self._shown = []
        # Of two tables that show a sensor one may print no limits.
        by_key: dict[Key, list[Temperature]] = {}
        for sighting in view.of("temperature"):
            reading = sighting.reading
            if isinstance(reading, Temperature):
                by_key.setdefault((reading.kind, reading.unit, reading.name), []).append(reading)
        for key, readings in by_key.items():
            value = next((r.value for r in readings if r.value is not None), None)
            if value is None or value.unit != "Cel" or (key[1] and self._empty(key[1])):
                self._sensors.pop(key, None)  # what answers in this place later is another part's
                continue
            sensor = self._sensors.setdefault(key, _Sensor(readings[0].subject))
            if afresh:
                sensor.samples.clear()
            sensor.value = value.value
            sensor.limits = _number(readings, "high_warning"), _number(readings, "high_critical")
            sensor.condition = next((r.condition for r in readings if r.condition is not None), None)
            sensor.word = next((r.status_text for r in readings if r.status_text), None)
            if seconds is not None:
                sensor.samples.append((seconds, value.value))
                while len(sensor.samples) > MOST_SAMPLES and seconds - sensor.samples[0][0] > WINDOW:
                    sensor.samples.pop(0)
            self._shown.append(key)


def _number(readings: Sequence[Temperature], field: str) -> float | None:
    return next((q.value for r in readings if (q := r.given(field)) is not None and q.unit == "Cel"), None)


def _celsius(value: float) -> str:
    return str(Quantity(value=round(value, 2), unit="Cel"))
