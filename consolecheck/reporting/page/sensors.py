"""What is known of each temperature sensor, brought together: both texts, the samples, and how it settled."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from consolecheck.judging.settling import Course
from consolecheck.judging.view import Key, View
from consolecheck.records.readings import Condition, Temperature
from consolecheck.reporting.proof import Proof

MOST_PLOTS = 12


class Sensor(NamedTuple):
    """One sensor. Degrees Celsius and kelvin; None where it was not printed or cannot be told."""

    key: Key
    name: str
    before: float | None
    after: float | None
    warning: float | None
    critical: float | None
    course: Course | None
    points: tuple[tuple[float, float], ...]
    """Seconds since the part was seated (since the first sample where that was not seen), and the reading."""

    @property
    def limit(self) -> float | None:
        """The first limit on the way up."""
        return self.warning if self.warning is not None else self.critical

    @property
    def end(self) -> float | None:
        return self.course.end if self.course else None

    @property
    def room(self) -> float | None:
        """To the limit, of the reading after the swap or where it will stand, whichever is higher."""
        stands = [v for v in (self.after, self.end) if v is not None]
        return None if self.limit is None or not stands else self.limit - max(stands)


def sensors(proof: Proof) -> tuple[Sensor, ...]:
    """Every sensor of both texts, in the order of the text."""
    after = View(proof.after, "after")
    before = View(proof.before, "before") if proof.before is not None else None
    zero = seated(proof)
    points: dict[Key, list[tuple[float, float]]] = {}
    for sample in proof.samples:
        for key, sighting in View(sample.snapshot, "after").keyed.items():
            reading = sighting.reading
            if isinstance(reading, Temperature) and reading.value is not None:
                points.setdefault(key, []).append((sample.seconds - zero, reading.value.value))
    keys = [k for view in (after, before) if view for k in view.keyed if k[0] == "temperature"]
    found = []
    for key in dict.fromkeys((*keys, *points)):
        now, was = _reading(after, key), _reading(before, key) if before else None
        known = now or was
        found.append(
            Sensor(
                key,
                known.subject if known else key[2] or key[1] or "sensor",
                _value(was),
                _value(now),
                _limit((now, was), "high_warning"),
                _limit((now, was), "high_critical"),
                proof.settling.of(key) if proof.settling else None,
                tuple(points.get(key, ())),
            )
        )
    return tuple(found)


def _reading(view: View, key: Key) -> Temperature | None:
    """A sensor's reading; of two tables that print it the one with limits."""
    same = (key[1], key[2])
    found = [
        s.reading
        for s in view.of("temperature")
        if (s.reading.unit, s.reading.name) == same and isinstance(s.reading, Temperature)
    ]
    return next((r for r in found if r.high_warning or r.high_critical), found[0] if found else None)


def _value(reading: Temperature | None) -> float | None:
    return reading.value.value if reading is not None and reading.value is not None else None


def _limit(readings: Sequence[Temperature | None], name: str) -> float | None:
    for reading in readings:
        if reading is not None and (limit := reading.given(name)) is not None:
            return float(limit.value)
    return None


def seated(proof: Proof) -> float:
    """The second at which the part was first seen in its slot after it had been out, else that of the first sample."""
    zero, out = (proof.samples[0].seconds if proof.samples else 0.0), False
    for sample in proof.samples:
        absent = View(sample.snapshot, "after").condition(proof.judgement.unit) is Condition.ABSENT
        if out and not absent:
            zero = sample.seconds
        out = absent
    return zero


def out_of_slot(proof: Proof) -> tuple[tuple[float, float], ...]:
    """When the slot was open, in seconds on the scale of the points."""
    zero = seated(proof)
    spans: list[tuple[float, float]] = []
    began: float | None = None
    last = 0.0
    for sample in proof.samples:
        last = sample.seconds - zero
        if View(sample.snapshot, "after").condition(proof.judgement.unit) is Condition.ABSENT:
            began = last if began is None else began
        elif began is not None:
            spans.append((began, last))
            began = None
    return (*spans, *([(began, last)] if began is not None else ()))


def plotted(found: Sequence[Sensor], unit: str) -> tuple[Sensor, ...]:
    """The sensors whose course is drawn: those of the unit, those that have not settled, then those with least room."""

    def weight(sensor: Sensor) -> tuple[bool, bool, float]:
        moving = sensor.course is not None and sensor.course.state != "settled"
        return sensor.key[1] != unit, not moving, math.inf if sensor.room is None else sensor.room

    drawn = sorted((s for s in found if len(s.points) > 1), key=weight)[:MOST_PLOTS]
    return tuple(sorted(drawn, key=found.index))


def curve(sensor: Sensor) -> tuple[list[float], list[float]]:
    """The course that was judged, to be drawn: from its end and time constant, through the points it runs along.

    Nothing where no end was told, or where the sensor stays steady and no curve was fitted.
    """
    course, points = sensor.course, [p for p in sensor.points if p[0] >= 0]
    if course is None or course.end is None or course.tau is None or len(points) < 2:
        return [], []
    last = points[-1][0]
    begin = max(points[0][0], last - course.span)
    inside = [p for p in points if p[0] >= begin]
    times = [begin + (last - begin) * n / 40 for n in range(41)]
    best: tuple[float, float, float] | None = None  # squares a point, from when, height
    for part in (0.0, 0.25, 0.5):  # the parts of a course that are looked at while it is judged
        some = inside[int(len(inside) * part) :]
        left = [math.exp(-(t - begin) / course.tau) for t, _ in some]
        weight = sum(e * e for e in left)
        if len(some) < 2 or weight == 0:
            continue
        height = sum(e * (v - course.end) for e, (_, v) in zip(left, some, strict=True)) / weight
        off = sum((course.end + height * e - v) ** 2 for e, (_, v) in zip(left, some, strict=True)) / len(some)
        if best is None or off + 0.02 < 0.7 * best[0]:  # the longer part, unless the shorter clearly is the course
            best = off, some[0][0], height
    if best is None:
        return [], []
    _, since, height = best
    times = [t for t in times if t >= since] or [since, last]
    return times, [course.end + height * math.exp(-(t - begin) / course.tau) for t in times]
