"""Whether a verdict on a damaged text is true: what is read of it is held against the untouched text. Pure.

The truth of a swap is its untouched texts and the verdict on them that a careful engineer claims. A verdict
`verified` on a damaged text is false where the true one is another, and also where any reading that the required
rules rest on is gone, is invented, or says something else than in the untouched text: then text was trusted that
was not rightly read, although the verdict may still be right.

One sort of damage no judge of texts can see: it leaves a text that the device could have printed of a good swap.
`undetectable` says when that is so, and asks for much: only measured values (or the new part's serial) differ,
printed in the form of their column, within what such a value does over a swap, and in agreement with everything
else that the text says. These bounds stand here and are not taken from the rules that are tried with them.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import cached_property
from statistics import fmean, median
from typing import NamedTuple

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import NoSuchUnit, judge
from consolecheck.judging.view import Observed, is_serial
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Judgement, Verdict
from consolecheck.records.readings import AnyReading, Condition, Device, Sighting, Snapshot
from consolecheck.records.units import Quantity

_TELLING = (Condition.WARNING, Condition.FAILED, Condition.NO_INPUT, Condition.ABSENT)
Key = tuple[str, str | None, str | None]
Said = Mapping[Key, Mapping[str, frozenset[object]]]
"""(kind, unit, name) -> fact -> everything that is said of it."""

_FACTS = ("condition", "serial", "part_number", "airflow", "airflow_word", "input_type")
_STATED_TEXTS = frozenset(("clock", "mac"))
"""Facts of the device whose text counts; of others the condition and the value do."""
_SETTINGS = frozenset(("low_critical", "low_warning", "high_warning", "high_critical", "capacity"))


class Swap(NamedTuple):
    """A swap as two texts, with what else was known of it, and the verdict that is right."""

    name: str
    dialect: Dialect
    unit: str
    before: bytes
    after: bytes
    verdict: Verdict
    acceptance: Acceptance = Acceptance()
    observed: tuple[Observed, ...] = ()
    reseat: str | None = None

    def text(self, side: str) -> bytes:
        return self.before if side == "before" else self.after

    def read(self, raw: bytes, side: str) -> Snapshot:
        """Raises NotRecognised."""
        return read_text(raw, f"{side}.txt", (self.dialect,), self.dialect)

    def judged(self, before: Snapshot, after: Snapshot) -> Judgement | None:
        """None where the texts do not show the unit."""
        try:
            return judge(before, after, self.unit, self.acceptance, self.observed, self.reseat)
        except NoSuchUnit:
            return None


class Difference(NamedTuple):
    """What a damaged text says otherwise than the untouched one."""

    key: Key
    fact: str
    was: frozenset[object]
    now: frozenset[object]

    def __str__(self) -> str:
        kind, unit, name = self.key
        told = (" and ".join(sorted(map(str, values))) or "nothing" for values in (self.was, self.now))
        return f"{kind} {unit or ''} {name or ''} {self.fact}: {' became '.join(told)}".replace("  ", " ")


def said(snapshot: Snapshot, feeds_count: bool = False) -> Said:
    """What a text says of each thing, whichever of its tables says it."""
    found: dict[Key, dict[str, set[object]]] = {}
    for sighting in snapshot.sightings:
        reading = sighting.reading
        facts = found.setdefault((reading.kind, reading.unit, reading.name), {})
        for name in (*_FACTS, "feed") if feeds_count else _FACTS:
            if (value := reading.given(name)) is not None and (name != "serial" or is_serial(value)):
                facts.setdefault(name, set()).add(value)
        for name, quantity in reading.quantities().items():
            facts.setdefault(name, set()).add(quantity)
        if isinstance(reading, Device) and reading.name in _STATED_TEXTS and reading.status_text:
            facts.setdefault("text", set()).add(reading.status_text)
    frozen: dict[Key, dict[str, frozenset[object]]] = {
        key: {name: frozenset(values) for name, values in facts.items()} for key, facts in found.items()
    }
    if snapshot.hosts:
        frozen["prompt", None, None] = {"host": frozenset(snapshot.hosts)}
    for table in snapshot.tables:
        frozen["table", None, table.table] = {}
    return frozen


def differences(true: Said, damaged: Said) -> list[Difference]:
    """Where a damaged text says something else, less or more. Saying the same once instead of twice is no difference."""
    if true == damaged:
        return []
    found = []
    nothing: frozenset[object] = frozenset()
    for key, facts in true.items():
        now = damaged.get(key)
        if now is None and not facts and key[0] == "device":
            continue  # a name or a place, which no rule asks for
        if now is None:
            found.append(Difference(key, "all", frozenset(("there",)), nothing))
            continue
        for name in dict.fromkeys((*facts, *now)):
            was, told = facts.get(name, nothing), now.get(name, nothing)
            if not told <= was or (was and not told):
                found.append(Difference(key, name, was, told))
    found.extend(Difference(key, "all", nothing, frozenset(("there",))) for key in damaged if key not in true)
    return found


class Truth:
    """The untouched texts of a swap, read; what damage to them is held against."""

    def __init__(self, swap: Swap) -> None:
        self.swap = swap
        self.snapshots = {"before": swap.read(swap.before, "before"), "after": swap.read(swap.after, "after")}
        self.feeds_count = swap.acceptance.power.redundancy == "N+N"
        self.said = {side: said(snapshot, self.feeds_count) for side, snapshot in self.snapshots.items()}

    def verdict(self) -> Verdict | None:
        """The verdict on the untouched texts."""
        told = self.swap.judged(self.snapshots["before"], self.snapshots["after"])
        return told.verdict if told else None

    def changed(self, side: str, damaged: Snapshot) -> list[Difference]:
        """What the damaged text of one side says otherwise, of that which the verdict rests on."""
        found = differences(self.said[side], said(damaged, self.feeds_count))
        if self.swap.verdict is not Verdict.VERIFIED:
            return found  # whatever it was that turned the verdict
        return [d for d in found if self._counts(side, d)]

    def _counts(self, side: str, difference: Difference) -> bool:
        """Whether the verdict of this swap rests on what differs."""
        kind, unit, _ = difference.key
        other = self.said["after" if side == "before" else "before"].get(difference.key)
        if kind == "link":
            # Links that were up must be up. A baseline that lost one hides nothing, since it is up now or the true
            # verdict is another; and what a link is now that was down then nobody asks.
            return side == "after" and other is not None and Condition.OK in other.get("condition", ())
        if kind == "alarm" and (side == "before" or difference.fact == "all"):
            # One that the baseline lost hides nothing, since one that stands now would be taken for new; one more of
            # them would be judged, and one that is gone stood before too, where the verdict is truly `verified`.
            return False
        if side == "before" and unit == self.swap.unit:
            if difference.fact in ("airflow", "airflow_word"):
                return False  # a part that blew the wrong way may be what was to be replaced
            if self.was_ill and all(isinstance(v, Quantity) for v in (*difference.was, *difference.now)):
                return False  # what an ill part measured is no measure for the one that is in
            if self.was_ill and not difference.now:
                return False  # a dead part may not have told it; who it was its label or its peers say
        if side == "before" and difference.fact == "condition" and other is not None:
            # What is well now need not have been; nor does it count how ill the part was that came out.
            return unit != self.swap.unit and other.get("condition") != frozenset((Condition.OK,))
        return True

    @cached_property
    def was_ill(self) -> bool:
        """Whether the part that came out was not well, by any row of its own."""
        return self._ill(self.snapshots["before"], self.swap.unit)

    def _ill(self, baseline: Snapshot, unit: str | None) -> bool:
        return unit is not None and any(
            r.unit == unit and r.condition not in (None, Condition.OK, Condition.STANDBY) for r in baseline.readings
        )

    def _needs_no_baseline(self, unit: str | None) -> bool:
        """Whether nothing rests on what a unit measured before: it is the replaced one, or it is well afterwards.

        What is well now need not have been: its figures of now are held against its peers and limits, and a baseline
        that shows it ill excuses nothing that is not there any more.
        """
        said = [r.condition for r in self.snapshots["after"].readings if r.unit == unit and r.condition is not None]
        return unit == self.swap.unit or (bool(said) and all(c is Condition.OK for c in said))

    # ---- what no judge can see

    def undetectable(self, side: str, damaged: Snapshot, found: Sequence[Difference], spliced: bool = False) -> str:
        """Why the damage could not be seen in any text; empty where it could.

        `spliced` says that whole rows, tables or status words were put in as a device of the family prints them: such
        a row may also say ok where the right one does not, if it names no device, or that a port had no link before.
        """
        if self._replayed(side, damaged):
            return ""
        reasons = {self.hidden(side, damaged, difference, spliced) for difference in found}
        return "" if "" in reasons else " and ".join(sorted(reasons))

    def healed(self, side: str, damaged: Snapshot) -> bool:
        """Whether what could not be read, and made the true verdict open, is gone with the table that was put in.

        That table says of every thing what the right text says too: it is whole, and nobody can tell that it was not.
        """
        true = self.snapshots[side]
        return (
            self.swap.verdict is Verdict.INCONCLUSIVE
            and bool(true.unread or any(t.cut for t in true.tables))
            and not damaged.unread
            and not any(t.cut for t in damaged.tables)
        )

    def _same_chassis(self, damaged: Snapshot) -> bool:
        """Whether a damaged baseline tells serial numbers of what nobody touched as the other text does."""
        told = [
            {r.given("serial") for r in text.readings if r.unit not in (None, self.swap.unit) and r.given("serial")}
            for text in (damaged, self.snapshots["after"])
        ]
        return bool(told[0] & told[1])

    def hidden(self, side: str, damaged: Snapshot, difference: Difference, spliced: bool = False) -> str:
        """Why one difference could not be seen in any text; empty where it could."""
        other = self.said["after" if side == "before" else "before"]
        kind, _, name = difference.key
        then = other.get(difference.key)
        told_before = then is not None and difference.now == then.get(difference.fact, frozenset())
        if kind == "prompt" and side == "before" and not difference.now and self._same_chassis(damaged):
            return NO_PROMPT
        good_word = difference.fact == "condition" and difference.now <= frozenset((Condition.OK,))
        if spliced and (good_word or difference.fact == "all") and self._gainsaid(difference.key, damaged):
            return ""
        if spliced and told_before and difference.key[1] != self.swap.unit and difference.fact in _FACTS:
            return SPLICED
        if spliced and told_before and difference.now and difference.fact in ("airflow", "airflow_word"):
            # The replaced unit's direction, as it is at the other time: a table without serials tells not whose it is.
            rows = [r for r in damaged.readings if _key(r) == difference.key]
            return "" if any(r.given("serial") for r in rows) else SPLICED
        # A row is there, or is not, as in the other capture.
        as_there = bool(difference.now) == (difference.key in other)
        if spliced and difference.fact == "all" and kind == "temperature" and as_there:
            # A sensor that had vanished is there again, in a table of before; or was never there, in one of afterwards.
            # Where that is printed finely its figures, which all stood still, must tell; whole and half degrees stand
            # still by themselves: three of ten good swaps that were rehearsed showed at rest the very table of before.
            there = difference.key if difference.now else None
            tables = {s.table for s in damaged.sightings if s.reading.kind == kind and there in (None, _key(s.reading))}
            heats = [q for s in damaged.sightings if s.table in tables and (q := s.reading.given("value")) is not None]
            return SPLICED if all(q.value * 2 == int(q.value * 2) for q in heats) else ""
        if side == "before" and difference.fact == "all" and not difference.now and then is None:
            # It stands in no text any more, and no other row of the baseline speaks of the same thing.
            unit = difference.key[1]
            same = [r for r in damaged.readings if (unit and r.unit == unit) or (name and r.name == name)]
            return "" if same else GONE_FROM_BOTH
        if kind == "alarm" and difference.fact == "all" and not difference.now:
            return "an alarm that a list without it does not tell of"
        if difference.fact == "serial":
            return self._serial(difference, other)
        measured = all(isinstance(v, Quantity) for v in (*difference.was, *difference.now))
        if spliced and difference.fact == "all" and difference.now and self._filled(side, damaged, difference.key):
            return SPLICED
        of_ill_part = spliced and side == "before" and self._ill(damaged, difference.key[1])
        if of_ill_part and (measured or not difference.now) and self._needs_no_baseline(difference.key[1]):
            return ILL_IN_BASELINE
        if kind == "device" and name in ("uptime", "clock"):
            return self._time(side, damaged)
        if kind == "device" and str(name).lower().endswith("uptime"):
            return self._other_uptime(side, difference, other, damaged)
        if spliced and difference.fact == "all" and kind in ("inventory", "link") and as_there:
            return SPLICED
        if spliced and difference.fact == "condition":
            if good_word:
                return SPLICED
            if side == "before" and kind == "link":
                return "a port that had no link in the baseline, as a port without one is printed"
        if all(isinstance(v, Quantity) for v in (*difference.was, *difference.now)):
            return self._measured(side, difference, other, damaged, spliced)
        return ""

    def _filled(self, side: str, damaged: Snapshot, key: Key) -> bool:
        """Whether a table that was put in shows a thing whose own row could not be read, and all of it fits the swap.

        Nothing in such a text is unread any more. Each fact is as the other capture tells it, or may be so by itself.
        """
        tables = {s.table for s in damaged.sightings if _key(s.reading) == key}
        if not self.healed(side, damaged) or not any(
            t.table in tables and t.first_line <= line.number <= t.last_line
            for t in self.snapshots[side].tables
            for line in self.snapshots[side].unread
        ):
            return False
        then = self.said["after" if side == "before" else "before"].get(key, {})
        nothing: frozenset[object] = frozenset()
        return all(
            now == then.get(fact) or self.hidden(side, damaged, Difference(key, fact, nothing, now), True)
            for fact, now in said(damaged, self.feeds_count)[key].items()
        )

    def _gainsaid(self, key: Key, damaged: Snapshot) -> bool:
        """Whether something else in the text is against a good word, or a row, that was put in for a unit.

        An alarm that stands for it, another row by which it is not there or not well, or figures of its own that no
        unit has that is well: then a judge of texts can see it.
        """
        kind, unit, name = key
        own = [r for r in damaged.readings if unit is not None and r.unit == unit]
        last = {_key(r): r for r in damaged.readings if r.kind == "alarm"}  # the last word of an event list counts
        if any(r.unit == unit and r.condition is not Condition.OK for r in last.values() if unit is not None):
            return True
        for r in own:
            of_unit = r.kind == "inventory" or (r.kind in ("power_supply", "fan") and r.name is None)
            if of_unit and _key(r) != key and r.condition in (Condition.ABSENT, Condition.FAILED, Condition.NO_INPUT):
                return True
        for r in damaged.readings:
            if _key(r) != key or r.condition is not Condition.OK:
                continue
            if kind == "fan" and (speed := r.given("speed")) is not None and speed.value <= 0:
                return True
            if not _adds_up(r) or any(not _within_limits(r, q) for q in _values(r)):
                return True
            if kind == "power_supply" and name is None and self._delivers_nothing(r, damaged):
                return True
        return False

    def _delivers_nothing(self, reading: AnyReading, damaged: Snapshot) -> bool:
        """Whether a supply shows nought of what another one beside it does show, in whole figures."""
        for fact in ("output_voltage", "output_current", "output_power", "input_voltage", "input_power"):
            own = reading.given(fact)
            others = [
                abs(q.value)
                for r in damaged.readings
                if r.kind == "power_supply" and r.unit != reading.unit and r.condition is Condition.OK
                if (q := r.given(fact)) is not None
            ]
            if own is not None and not own.value and others and min(others) > LEAST_SHOWN:
                return True
        return False

    def _replayed(self, side: str, damaged: Snapshot) -> bool:
        """Whether the damaged text shows every measured value of the other capture again, to the digit."""
        now = list(_measured_values(damaged.readings))
        then = list(_measured_values(self.snapshots["after" if side == "before" else "before"].readings))
        return len(now) >= LEAST_VALUES and now == then

    def _serial(self, difference: Difference, other: Said) -> str:
        if difference.key[1] != self.swap.unit or len(difference.was) != 1 or len(difference.now) != 1:
            return ""
        (was,), (now,) = map(tuple, (difference.was, difference.now))
        old = {str(v) for v in other.get(difference.key, {}).get("serial", ())}
        like = len(str(was)) == len(str(now)) and shape(str(was)) == shape(str(now))
        label = any(o.fact in ("serial", "removed_serial") and o.unit == self.swap.unit for o in self.swap.observed)
        if like and not label and all(apart(str(now), o) > RESEMBLES for o in old):
            return "another character of the same sort in a serial that stands once"
        return ""

    def _time(self, side: str, damaged: Snapshot) -> str:
        snapshots = {**self.snapshots, side: damaged}
        up = [_uptime(snapshots[s]) for s in ("before", "after")]
        clock = [_clock(snapshots[s]) for s in ("before", "after")]
        went = None if up[0] is None or up[1] is None else up[1] - up[0]
        passed = None if clock[0] is None or clock[1] is None else (clock[1] - clock[0]).total_seconds()
        if went is not None and not 0 < went <= LONGEST:
            return ""
        if went is not None and passed is not None and abs(went - passed) > max(120.0, 0.05 * abs(passed)):
            return ""
        if went is None and (passed is None or not 0 < passed <= LONGEST):
            return ""
        return "a time that such a job may take"

    def _other_uptime(self, side: str, difference: Difference, other: Said, damaged: Snapshot) -> str:
        """Another uptime (of the kernel, of a module) goes on as the device's does."""
        there = [*difference.now, *other.get(difference.key, {}).get(difference.fact, ())]
        seconds = [q.value for q in there if isinstance(q, Quantity) and q.unit == "s"]
        own, others = _uptime(damaged), _uptime(self.snapshots["after" if side == "before" else "before"])
        if len(there) != 2 or len(seconds) != 2 or own is None or others is None:
            return ""
        alike = abs((seconds[0] - seconds[1]) - (own - others)) <= 120.0
        return "a time that such a job may take" if alike else ""

    def _measured(self, side: str, difference: Difference, other: Said, damaged: Snapshot, spliced: bool) -> str:
        """Spliced rows may also give a figure that the right ones do not."""
        if difference.fact in _SETTINGS or not difference.now or not (difference.was or spliced):
            return ""
        sightings = [s for s in damaged.sightings if _key(s.reading) == difference.key]
        if len(difference.now) > 1 and not _in_several_tables(sightings, damaged):
            return ""
        for sighting in sightings:
            field, cell = _cell(sighting, difference.fact)
            if cell is not None and not _printed_so(form(cell), self.forms.get((sighting.table, field), set())):
                return ""
        quantities = [q for q in (*difference.was, *difference.now) if isinstance(q, Quantity)]
        then = other.get(difference.key, {}).get(difference.fact, ())
        references = [q for q in then or difference.was if isinstance(q, Quantity) and q.value]
        if not references:  # what stood still before, for being ill
            references = [q for q in difference.was or (difference.now if spliced else ()) if isinstance(q, Quantity)]
        if len({q.unit for q in (*quantities, *references)}) != 1:
            return ""
        for now in difference.now:
            assert isinstance(now, Quantity)
            shown_ill = damaged if spliced and side == "before" else None
            ran_up = self.others_ran_up(now.unit, shown_ill) or (
                now.unit == "Cel" and difference.key[1] == self.swap.unit
            )
            moves = [(now, q) if side == "after" else (q, now) for q in references]
            air = 0.0 if self._is_inlet(difference.key) else self.air_moved
            if not any(_plausible(later, earlier, ran_up, air) for later, earlier in moves):
                return ""
            # A row that says itself that its value is beyond a limit is no contradiction.
            if not all(_within_limits(s.reading, now) or s.reading.condition in _TELLING for s in sightings):
                return ""
            if now.unit == "rpm" and not self._beside_peers(difference.key, now, other, damaged):
                return ""
            if now.unit in ("rpm", "%") and not self._as_driven(difference.key, damaged, side):
                return ""
        return (
            "another figure that the device could have printed" if all(_adds_up(s.reading) for s in sightings) else ""
        )

    def _is_inlet(self, key: Key) -> bool:
        return any(word in (key[2] or "").lower() for word in self.swap.acceptance.temperature.inlet_names)

    @cached_property
    def air_moved(self) -> float:
        """Kelvin by which the air at the inlet truly warmed between the captures; nought where no sensor tells."""
        moved = []
        for key, facts in self.said["before"].items():
            for was in facts.get("value", ()) if key[0] == "temperature" and self._is_inlet(key) else ():
                then = self.said["after"].get(key, {}).get("value", ())
                moved += [q.value - was.value for q in then if isinstance(q, Quantity) and isinstance(was, Quantity)]
        return fmean(moved) if moved else 0.0

    @cached_property
    def forms(self) -> Mapping[tuple[str, str], set[str]]:
        """Table and field -> the forms in which the untouched texts print it."""
        return _forms(self.snapshots["before"], self.snapshots["after"])

    def others_ran_up(self, unit: str, baseline: Snapshot | None = None) -> bool:
        """Whether what is measured in this unit may do much more or less over this swap, since one was ill.

        `baseline`: one that was put in, whole, and counts besides the true one: where it shows a supply that failed,
        the one beside it carries all.
        """
        kind = "power_supply" if unit in ("W", "A") else "fan"
        if unit in ("rpm", "%") and not self.swap.unit.startswith("psu-"):
            return True
        return any(
            r.kind == kind and r.condition not in (None, Condition.OK)
            for shown in (self.snapshots["before"], *((baseline,) if baseline else ()))
            for r in shown.readings
        )

    def _as_driven(self, key: Key, damaged: Snapshot, side: str) -> bool:
        """Whether a fan turns as it does in the other capture, where both tell one duty, to within two percent of it."""
        other = self.snapshots["after" if side == "before" else "before"]
        told = []
        for snapshot in (damaged, other):
            of = [r for r in snapshot.readings if _key(r) == key and r.condition in (None, Condition.OK)]
            told.append([(s.value, d.value) for r in of if (s := r.given("speed")) and (d := r.given("speed_percent"))])
        return all(
            abs(d - duty) > SAME_DUTY or max(s, speed) <= min(s, speed) * (1 + BESIDE_PEERS)
            for s, d in told[0]
            for speed, duty in told[1]
        )

    def _beside_peers(self, key: Key, now: Quantity, other: Said, damaged: Snapshot) -> bool:
        """Whether a fan changed as the fans beside it did, where there are two more."""
        ratios: dict[Key, float] = {}
        for reading in damaged.readings:
            speed = reading.given("speed")
            then = next(iter(other.get(_key(reading), {}).get("speed", ())), None)
            ill = reading.condition not in (None, Condition.OK) or (reading.unit == self.swap.unit and self.was_ill)
            if _key(reading) != key and ill:
                continue  # one that stands, or stood, is no measure
            if reading.kind == "fan" and speed is not None and isinstance(then, Quantity) and then.value > 0:
                ratios[_key(reading)] = speed.value / then.value
        own = ratios.pop(key, None)
        beside = [r for k, r in ratios.items() if str(k[1])[:3] == str(key[1])[:3]]
        if own is None or len(beside) < 2:
            return True
        middle = median(beside)
        return abs(own - middle) <= BESIDE_PEERS * middle


def _in_several_tables(sightings: Sequence[Sighting], snapshot: Snapshot) -> bool:
    """Whether each sighting of a thing stands in another printed table: then they are of two moments."""
    places = [
        next(
            (
                i
                for i, t in enumerate(snapshot.tables)
                if t.table == s.table and t.first_line <= s.lines[0] <= t.last_line
            ),
            -1,
        )
        for s in sightings
    ]
    return len(set(places)) == len(places)


GONE_FROM_BOTH = "a row of a thing that is gone afterwards, in a baseline that is whole without it"
NO_PROMPT = "a baseline that is whole without its last prompt, and tells serial numbers of what nobody touched"
ILL_IN_BASELINE = "what a part measured or told, in a baseline that shows it ill"
LEAST_SHOWN = 2.0
"""Volts, amps or watts that are no rounding of nought. Common practice, no source."""
SPLICED = "a row, table or status word as another device, or this one at another time, prints it"
LEAST_VALUES = 8
"""So many measured values do not all stand still, to the digit, over a swap. Common practice, no source."""
RESEMBLES = 1
"""Characters by which a serial may differ from the old one and still be a misread old one. Common practice, no source."""
LONGEST = 30 * 86400.0
"""Seconds that lie between two captures of one swap at most. Common practice, no source."""
RISES, FALLS = 10.0, 20.0
"""Kelvin by which a temperature may rise and fall over a swap. Common practice, no source."""
FACTORS: Mapping[str, float] = {"V": 1.15, "A": 2.5, "W": 2.5, "rpm": 2.0, "%": 2.0, "Hz": 1.15}
"""Factor by which a measured value may change over a swap. Common practice, no source."""
WHEN_ONE_WAS_ILL = 2.0
"""So many times as much where a fan, or a supply, was ill before or is what was replaced: the others run up, and down
again. So may what is measured within the replaced part itself fall: a new one comes in cold. Common practice, no source."""
MOST_PERCENT = 110.0
"""Percent of its full speed that a fan is driven to at most, with some tolerance. Common practice, no source."""
SAME_DUTY = 2.0
"""Points of percent within which two duties are one. Common practice, no source."""
BESIDE_PEERS = 0.25
"""Share by which one fan's change may differ from that of the others in its table. Common practice, no source."""


def _plausible(now: Quantity, reference: Quantity, ran_up: bool, air: float = 0.0) -> bool:
    """Whether a value may become another over a swap in which the air at the inlet warmed by so many kelvin.

    What the air did is no part of what a sensor does by itself: any judge takes it out, and untouched texts tell it.
    """
    if now.unit == "Cel":
        change = round(now.value - reference.value - air, 6)
        return -FALLS * (WHEN_ONE_WAS_ILL if ran_up else 1) <= change <= RISES
    factor = FACTORS.get(now.unit, 1.0)
    if ran_up and now.unit != "V":
        factor *= WHEN_ONE_WAS_ILL
    low, high = sorted((abs(now.value), abs(reference.value)))
    in_scale = now.unit != "%" or now.value <= MOST_PERCENT
    return now.value * reference.value >= 0 and high <= low * factor and in_scale


def _values(reading: AnyReading) -> list[Quantity]:
    """The values that a reading's own limits are about."""
    limits = {q.unit for n in _SETTINGS - {"capacity"} if (q := reading.given(n)) is not None}
    return [q for name, q in reading.quantities().items() if name not in _SETTINGS and q.unit in limits]


def _within_limits(reading: AnyReading, value: Quantity) -> bool:
    low = [q for n in ("low_critical", "low_warning") if (q := reading.given(n)) is not None and q.unit == value.unit]
    high = [
        q for n in ("high_warning", "high_critical") if (q := reading.given(n)) is not None and q.unit == value.unit
    ]
    return all(value.value > q.value for q in low) and all(value.value < q.value for q in high)


def _adds_up(reading: AnyReading) -> bool:
    """Watts are volts times amps within a tenth; no more comes out than goes in."""
    for side in ("input", "output"):
        volts, amps, watts = (reading.given(f"{side}_{what}") for what in ("voltage", "current", "power"))
        if volts and amps and watts:
            product = abs(volts.value * amps.value)
            if watts.value > product * 1.1 + 2 or (side == "output" and watts.value < product * 0.9 - 2):
                return False
    taken, given = reading.given("input_power"), reading.given("output_power")
    return taken is None or given is None or given.value <= taken.value * 1.05 + 2


def _key(reading: AnyReading) -> Key:
    return reading.kind, reading.unit, reading.name


def _cell(sighting: Sighting, fact: str) -> tuple[str, str | None]:
    """The field of a row that gives a quantity, and its text."""
    values = sighting.row.values
    field = fact if fact in values else "value"
    return field, values.get(field)


def form(cell: str) -> str:
    """How a number is printed: its sign, whether it begins with a needless zero, its decimals, what follows.

    Empty where it is not printed in digits, but coded.
    """
    if not re.match(r"\s*[+-]?\d", cell):
        return ""
    found = re.match(r"\s*([+-]?)(\d*)(?:(\.)(\d*))?(.*)\Z", cell)
    assert found is not None, "anything fits"
    sign, whole, point, decimals, rest = found.groups(default="")
    zero = "0" if len(whole) > 1 and whole.startswith("0") else ""
    return f"{sign}{zero}#{point}{'#' * len(decimals)}{re.sub('[0-9]+', '#', rest)}"


def _printed_so(one: str, known: set[str]) -> bool:
    """Whether a column prints a figure in this form; where its decimals vary they may be as many as they will."""
    if one in known:
        return True
    return len(known) > 1 and re.sub(r"\.#*", "", one) in {re.sub(r"\.#*", "", k) for k in known}


def _forms(*snapshots: Snapshot) -> dict[tuple[str, str], set[str]]:
    """Table and field -> the forms in which the untouched texts print it."""
    found: dict[tuple[str, str], set[str]] = {}
    for snapshot in snapshots:
        for sighting in snapshot.sightings:
            for field, cell in sighting.row.values.items():
                if cell:
                    found.setdefault((sighting.table, field), set()).add(form(cell))
    return found


def _measured_values(readings: Iterable[AnyReading]) -> Iterable[tuple[Key, str, Quantity]]:
    for reading in readings:
        for name, quantity in reading.quantities().items():
            if name not in _SETTINGS and quantity.unit != "s":
                yield _key(reading), name, quantity


def _uptime(snapshot: Snapshot) -> float | None:
    found = next((r for r in snapshot.readings if isinstance(r, Device) and r.name == "uptime"), None)
    return found.value.value if found and found.value else None


def _clock(snapshot: Snapshot) -> datetime | None:
    found = next((r for r in snapshot.readings if isinstance(r, Device) and r.name == "clock"), None)
    try:
        stamp = datetime.fromisoformat(found.status_text or "") if found else None
    except ValueError:
        return None
    return stamp if stamp and stamp.tzinfo else None


def shape(serial: str) -> str:
    """What stands where: a digit or capital (tails of serials mix them), a small letter, or the sign itself."""
    return "".join("a" if c.islower() else "X" if c.isalnum() else c for c in serial)


def apart(one: str, two: str) -> int:
    """How many characters must be put in, taken out or exchanged, or neighbours turned round, to make one the other."""
    rows = [list(range(len(two) + 1))]
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(two, 1):
            cost = min(rows[-1][j] + 1, row[j - 1] + 1, rows[-1][j - 1] + (a != b))
            if i > 1 and j > 1 and a == two[j - 2] and one[i - 2] == b:
                cost = min(cost, rows[-2][j - 2] + 1)
            row.append(cost)
        rows.append(row)
    return rows[-1][-1]


# ---- one damaged swap


class Told(NamedTuple):
    """How a damaged swap was judged, and whether that is true."""

    verdict: Verdict | None
    """None where the text was refused: not recognised, or it does not show the unit."""
    false: bool = False
    hidden: str = ""
    """Why damage that was passed could not be seen, where that is so."""
    differs: tuple[Difference, ...] = ()


def told_of(truth: Truth, side: str, damaged: bytes, spliced: bool = False) -> Told:
    """The verdict on a swap of which one text is damaged, held against the truth.

    `spliced`: whether the damage is made of rows or tables of other texts, or a status word of the family for another.
    """
    swap = truth.swap
    try:
        snapshot = swap.read(damaged, side)
    except NotRecognised:
        return Told(None)
    before, after = (snapshot if side == s else truth.snapshots[s] for s in ("before", "after"))
    judgement = swap.judged(before, after)
    if judgement is None or judgement.verdict is not Verdict.VERIFIED:
        return Told(judgement.verdict if judgement else None)
    changed = truth.changed(side, snapshot)
    if swap.verdict is Verdict.VERIFIED and not changed:
        return Told(Verdict.VERIFIED)
    replayed = damaged == swap.text("after" if side == "before" else "before")  # it is the other text, to the letter
    hidden = truth.undetectable(side, snapshot, changed, spliced) if changed and not replayed else ""
    if not changed and spliced and truth.healed(side, snapshot):
        hidden = SPLICED
    changed.sort(key=lambda d: bool(truth.hidden(side, snapshot, d, spliced)))  # what could be seen comes first
    return Told(Verdict.VERIFIED, not hidden, hidden, tuple(changed))
