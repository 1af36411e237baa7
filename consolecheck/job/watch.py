"""What happens while a unit is out, told poll by poll. Pure: the time comes in as an argument.

A poll that was not wholly read, or that another chassis answered, changes nothing that is known of the
switch; it is told once and the next poll is waited for. A row that is missing counts as an absence only
where its table was read to its end, and a table that a poll does not hold says nothing.
"""

from collections.abc import Iterator

from consolecheck.job.heat import Heat
from consolecheck.judging.rules.rule import listed
from consolecheck.judging.view import Key, View, is_serial
from consolecheck.records.readings import WORST_FIRST, AnyReading, Condition, Kind, Snapshot
from consolecheck.records.units import Quantity
from consolecheck.records.watching import Notice, Phase, Picture, UnitNow, What

_Told = tuple[What, str | None, str, bool]

STARTS = 20.0
"""Seconds that a part is given to start, or its cord to be plugged in. Common practice, no source."""

_IS = {
    Condition.OK: "is ok",
    Condition.STANDBY: "is in standby",
    Condition.WARNING: "reports a warning",
    Condition.FAILED: "has failed",
    Condition.NO_INPUT: "has no input power",
    Condition.ABSENT: "is absent",
    Condition.UNKNOWN: "shows a status that is not known",
}
_ILL = (Condition.FAILED, Condition.WARNING, Condition.UNKNOWN, Condition.NO_INPUT)
_QUIET = (Condition.OK, Condition.STANDBY, Condition.ABSENT)
"""What is no news of a unit of which nothing was known."""


class _Slot:
    """What is known of one unit."""

    def __init__(self, present: bool | None, condition: Condition | None, word: str | None, serial: str | None) -> None:
        self.was, self.was_present, self.old_serial = condition, present, serial
        self.present, self.condition, self.word, self.serial = present, condition, word, serial
        self.came: float | None = None
        """When a part came in that was not well at once; None where that is settled."""


class Watch:
    """Follows one swap from its baseline on."""

    def __init__(self, baseline: Snapshot, unit: str, open_limit: float = 120.0) -> None:
        """`open_limit`: seconds for which the slot may stay open; 120 s is common practice.

        Raises ValueError where that is not above zero.
        """
        if not open_limit > 0:
            raise ValueError("a slot may stay open for more than 0 s, or the limit says nothing")
        self._before = before = View(baseline, "before")
        self._unit, self._open_limit = unit, open_limit
        self._stood: dict[tuple[str, Kind], set[str]] = {}
        """Table and kind -> the units whose rows were ever seen there."""
        self._note_rows(before)
        self._things: dict[str, set[str]] = {}
        """Table -> what the baseline lists there, but for alarms, of which there may well be none."""
        for sighting in before.snapshot.sightings:
            if sighting.reading.kind != "alarm":
                thing = sighting.reading.unit or sighting.reading.subject
                self._things.setdefault(sighting.table, set()).add(thing)
        self._slots: dict[str, _Slot] = {}
        for known in dict.fromkeys((unit, *before.units)):
            self._slot(known)
        self._phase: Phase = "out" if self._slots[unit].present is False else "in place"
        self._since: float | None = None
        self._open_for: float | None = None
        self._limits_passed = 0
        self._links = {
            key: (s.reading.name or s.reading.subject, s.table)
            for key, s in before.keyed.items()
            if key[0] == "link" and s.reading.condition is Condition.OK
        }
        self._down: dict[Key, str] = {}
        self._heat = Heat(before, self._empty)
        self._uptime = _uptime(before)
        self._unclear = ""
        self._unclear_told: What | None = None

    def see(self, snapshot: Snapshot, seconds: float) -> tuple[Notice, ...]:
        """What this poll shows that the one before did not; `seconds` of a clock that only goes forward."""
        view = View(snapshot, "after")
        what: What = "unclear"
        why = self._not_read(view)
        if not why and (why := self._other_chassis(view)):
            what = "other-chassis"
        told: list[_Told] = []
        self._unclear = why
        if why:
            if self._unclear_told != what:
                told.append((what, None, _UNCLEAR[what].format(why=why), what == "other-chassis"))
            self._unclear_told = what
        else:
            self._unclear_told = None
            told.extend(self._changes(view, seconds))
        told.extend(self._open_too_long(seconds))
        return tuple(Notice(seconds, *one) for one in told)

    def picture(self, seconds: float) -> Picture:
        """What is known at a second; with the same clock as `see`."""
        slot = self._slots[self._unit]
        return Picture(
            unit=self._unit,
            phase=self._phase,
            condition=slot.condition,
            word=slot.word,
            open_seconds=seconds - self._since if self._since is not None else self._open_for,
            open_limit=self._open_limit,
            sensors=self._heat.now(),
            units=tuple(UnitNow(u, s.condition, s.word, s.was) for u, s in self._slots.items() if u != self._unit),
            links_down=tuple(self._down.values()),
            unclear=self._unclear,
            seconds=seconds,
        )

    # Whether a poll counts.

    def _not_read(self, view: View) -> str:
        """Why a poll was not wholly and rightly read, or empty."""
        snapshot = view.snapshot
        if snapshot.dialect != self._before.snapshot.dialect:
            return (
                f"it reads as {snapshot.dialect or 'no known family'}, the baseline as {self._before.snapshot.dialect}"
            )
        if snapshot.unread:
            return f"line {snapshot.unread[0].number} was not read"
        if cut := next((t for t in snapshot.tables if t.cut), None):
            return f"the {cut.table} table is not whole: {cut.cut}"
        if not snapshot.tables:
            return "no table stands in it"
        filled = {sighting.table for sighting in snapshot.sightings}
        for table in snapshot.tables:
            # A switch that just woke may list nothing yet; nobody pulls everything at once.
            if len(self._things.get(table.table, ())) > 1 and table.table not in filled:
                return f"the {table.table} table lists nothing"
        names, known = set(snapshot.hosts), set(self._before.snapshot.hosts)
        if names & known and names - known:
            return f"its prompts name {listed(sorted(names))}"
        return ""

    def _other_chassis(self, view: View) -> str:
        """What says that another chassis answered, or empty."""
        before = _chassis_serials(self._before)
        serials = [(old, now) for key, now in _chassis_serials(view).items() if (old := before.get(key))]
        if serials and all(old != now for old, now in serials):
            return f"chassis {serials[0][1]} answers, the job is for {serials[0][0]}"
        names, known = view.snapshot.hosts, self._before.snapshot.hosts
        if names and known and not set(names) & set(known):
            return f"{listed(names)} answers, the job is for {listed(known)}"
        return ""

    def _slot(self, unit: str) -> _Slot:
        """What is known of a unit, to begin with by the baseline."""
        if unit not in self._slots:
            before = self._before
            condition, present = before.condition(unit), self._presence(before, unit)
            if unit not in before.by_unit and before.shows(_own_kind(unit)):
                present = False
            self._slots[unit] = _Slot(present, condition, _word(before, unit, condition), _serial(before, unit))
        return self._slots[unit]

    # What changed.

    def _changes(self, view: View, seconds: float) -> Iterator[_Told]:
        uptime = _uptime(view)
        if uptime is not None:
            if self._uptime is not None and uptime.value < self._uptime.value:
                yield "reload", None, f"the switch reloaded: its uptime fell from {self._uptime} to {uptime}", True
            self._uptime = uptime
        self._note_rows(view)
        afresh = False
        for unit in dict.fromkeys((self._unit, *self._slots, *view.units)):
            slot = self._slot(unit)
            told = list(self._own(view, slot, seconds) if unit == self._unit else self._other(view, unit, slot))
            yield from told
            moved = any(what != "unit" for what, *_ in told)
            afresh = afresh or moved
            if slot.condition not in _ILL:
                slot.came = None
            elif moved:
                slot.came = seconds
            elif slot.came is not None and seconds - slot.came >= STARTS:
                yield "unit", unit, f"{unit} {_state(slot)}, {seconds - slot.came:.0f} s after it came in", True
                slot.came = None
        yield from self._link_changes(view)
        left = self._open_limit - (seconds - self._since) if self._since is not None else 0.0
        for news in self._heat.news(view, seconds, afresh, left):
            yield "sensor", *news

    def _own(self, view: View, slot: _Slot, seconds: float) -> Iterator[_Told]:
        unit, last, last_serial = self._unit, slot.condition, slot.serial
        present = self._learn(view, unit, slot)
        if present is False and self._phase != "out":
            again = " again" if self._phase == "fitted" else ""
            self._phase, self._since, self._limits_passed, self._open_for = "out", seconds, 0, None
            told = f"{unit} was taken out{again}; the slot may stay open for {self._open_limit:g} s"
            yield "removed", unit, told, False
        elif present and self._phase == "out":
            self._open_for = None if self._since is None else seconds - self._since
            self._phase, self._since = "fitted", None
            after = "" if self._open_for is None else f" after {self._open_for:.0f} s"
            yield self._inserted(slot, f"was inserted{after}")
        elif present and last_serial and slot.serial != last_serial:
            quick = self._phase == "in place"
            self._phase = "fitted"
            yield self._inserted(slot, "was replaced between two polls" if quick else f"showed {last_serial} at first")
        elif present and self._phase == "fitted" and slot.serial and not last_serial:
            yield self._inserted(slot, "shows its serial now")
        elif slot.condition is not last and slot.condition is not None and present is not False:
            # The cord comes out before the unit does: until then nothing of it is an alarm.
            yield "unit", unit, f"{unit} {_state(slot)}", self._phase != "in place" and _worse(slot.condition, last)

    def _inserted(self, slot: _Slot, how: str) -> _Told:
        serial, old = slot.serial, slot.old_serial
        whence = self._whence(serial, self._unit)
        if serial is None:
            who = ", its serial is not shown"
        elif serial == old:
            who = f": the same part, {serial}, was put back"
        else:
            who = f", serial {serial}{whence}" + (f"; {old} was there before" if old else "")
        do = ": plug in its cord" if slot.condition is Condition.NO_INPUT else ""
        urgent = bool(whence) or (serial is not None and serial == old)
        return "inserted", self._unit, f"{self._unit} {how}{who}; it {_state(slot)}{do}", urgent

    def _other(self, view: View, unit: str, slot: _Slot) -> Iterator[_Told]:
        was, last, last_serial = slot.present, slot.condition, slot.serial
        present = self._learn(view, unit, slot)
        serial, old = slot.serial, slot.old_serial
        job, whence = f"the job is for {self._unit}", self._whence(serial, unit)
        if present is False and was:
            if slot.was_present:
                yield "wrong-slot", unit, f"{unit} went absent, {job}: put it back", True
            else:
                yield "unit", unit, f"{unit} is absent again, as before", False
        elif present and was is False and not slot.was_present:
            who = f", serial {serial}{whence}" if serial else ""
            yield "wrong-slot", unit, f"{unit} was filled{who}; it was empty before and {job}", True
        elif present and was is False:
            other_part = serial is not None and old is not None and serial != old
            if other_part:
                who = f" with {serial}{whence}, where {old} was: put its own part back"
            elif serial:
                who = f", the same part, {serial}" if old else f", serial {serial}"
            else:
                who = ", its serial is not shown"
            yield "put-back", unit, f"{unit} is back{who}; it {_state(slot)}", other_part
        elif present and last_serial and serial != last_serial:
            what: What = "put-back" if serial == old else "wrong-slot"
            yield what, unit, f"{unit} changed from {last_serial} to {serial}{whence}; {job}", serial != old
        elif slot.condition is not None and slot.condition is not last:
            if last is None and slot.condition in _QUIET:
                return
            as_before = slot.condition is slot.was
            again = " again" if as_before else ""
            yield "unit", unit, f"{unit} {_state(slot)}{again}", not as_before and _worse(slot.condition, last)

    def _whence(self, serial: str | None, unit: str) -> str:
        """Where a part sat in the baseline, if that was another slot."""
        place = next((u for u, (s, _) in self._before.serials.items() if s == serial and u != unit), None)
        return f", which sat in {place} before" if place else ""

    def _learn(self, view: View, unit: str, slot: _Slot) -> bool | None:
        """Takes over what a poll says of a unit; what it does not say stays as it was. Presence, if it says that."""
        present = self._presence(view, unit)
        condition = Condition.ABSENT if present is False else view.condition(unit)
        if present and condition is None and slot.condition is Condition.ABSENT:
            slot.condition = slot.word = None
        if condition is not None:
            slot.condition, slot.word = condition, _word(view, unit, condition)
        if present is False:
            slot.serial = None
        elif serial := _serial(view, unit):
            slot.serial = serial
        if present is not None:
            slot.present = present
        return present

    def _presence(self, view: View, unit: str) -> bool | None:
        """Whether a part sits in a slot; None where a poll does not say.

        Its own row that is missing from a table that was read to its end says no, whatever the inventory,
        which some devices bring up to date later, still lists. A word that nobody knows says neither.
        """
        condition = view.condition(unit)
        if condition is Condition.ABSENT:
            return False
        kinds: tuple[Kind, ...] = (_own_kind(unit), "inventory")
        for kind in kinds:
            if rows := _rows(view, unit, kind):
                if condition is Condition.UNKNOWN and unit not in view.serials:
                    return None
                if kind != "inventory" or any(_fitted(r) for r in rows):
                    return True
                return None
            tables = [table for (table, k), units in self._stood.items() if k == kind and unit in units]
            if any(_ended(view, table) for table in tables):
                return False
        return None

    def _note_rows(self, view: View) -> None:
        for sighting in view.snapshot.sightings:
            reading = sighting.reading
            if reading.unit is not None and _speaks(reading):
                self._stood.setdefault((sighting.table, reading.kind), set()).add(reading.unit)

    def _link_changes(self, view: View) -> Iterator[_Told]:
        fell, back = [], []
        for key, (name, table) in self._links.items():
            now = view.keyed.get(key)
            if now is None and not _ended(view, table):
                continue
            condition = Condition.ABSENT if now is None else now.reading.condition
            if condition is None:
                continue
            if condition is not Condition.OK and key not in self._down:
                self._down[key] = name
                said = now.reading.status_text if now else None
                fell.append((name, f"shows `{said}`" if said else "is gone"))
            elif condition is Condition.OK and key in self._down:
                back.append(self._down.pop(key))
        if len(fell) == 1:
            yield "link", fell[0][0], f"link {fell[0][0]} was up and {fell[0][1]}: check the cable that was moved", True
        elif fell:
            yield "link", None, f"links {listed(n for n, _ in fell)} were up and are down", True
        if back:
            one = len(back) == 1
            names = f"link {back[0]} is" if one else f"links {listed(back)} are"
            yield "link", back[0] if one else None, f"{names} up again", False

    def _empty(self, unit: str) -> bool:
        slot = self._slots.get(unit)
        return slot is not None and slot.present is False

    def _open_too_long(self, seconds: float) -> Iterator[_Told]:
        if self._since is None:
            return
        open_for = seconds - self._since
        passed = int(open_for // self._open_limit)
        if passed > self._limits_passed:
            self._limits_passed = passed
            seen = "was not seen back for" if self._unclear else "has been out for"
            told = f"{self._unit} {seen} {open_for:.0f} s, the limit is {self._open_limit:g} s: fit the unit or a blank"
            yield "open-long", self._unit, f"{told}. A breach of procedure, no fault of the hardware", True


_UNCLEAR = {
    "unclear": "the last poll is not counted: {why}",
    "other-chassis": "another chassis is on the line: {why}; go back to the right console",
}


def _own_kind(unit: str) -> Kind:
    return "power_supply" if unit.startswith("psu-") else "fan"


def _speaks(reading: AnyReading) -> bool:
    """Whether a row stands for its unit as a whole, or is one of a fan module's rotors."""
    unit = reading.unit or ""
    if reading.kind == "fan":
        return unit.startswith("fan-")
    return reading.kind in ("power_supply", "inventory") and reading.name is None


def _rows(view: View, unit: str, kind: Kind) -> list[AnyReading]:
    return [s.reading for s in view.by_unit.get(unit, ()) if s.reading.kind == kind and _speaks(s.reading)]


def _fitted(reading: AnyReading) -> bool:
    return bool(reading.given("serial") or reading.given("part_number")) or reading.condition is Condition.OK


def _ended(view: View, table: str) -> bool:
    """Whether a text holds a table from its first line to its last: with a line below its echo, and below a prompt."""
    seen = [t for t in view.snapshot.tables if t.table == table]
    prompt = min(view.snapshot.hosts.values(), default=0)
    return bool(seen) and all(t.ended and not t.cut and t.first_line > prompt for t in seen)


def _serial(view: View, unit: str) -> str | None:
    found = view.serials.get(unit)
    return found[0] if found else None


def _word(view: View, unit: str, condition: Condition | None) -> str | None:
    speaker = view.speaker(unit, condition)
    return speaker.reading.status_text if speaker else None


def _chassis_serials(view: View) -> dict[Key, str]:
    """What is printed as a serial of the chassis: in a row of its own, or as a fact of the device."""
    return {
        key: serial
        for key, sighting in view.keyed.items()
        if (key[0] == "device" or key[1] == "chassis")
        and (serial := sighting.reading.given("serial"))
        and is_serial(serial)
    }


def _uptime(view: View) -> Quantity | None:
    found = view.device("uptime")
    value = found.reading.given("value") if found else None
    return value if isinstance(value, Quantity) else None


def _worse(now: Condition, last: Condition | None) -> bool:
    return WORST_FIRST.index(now) < WORST_FIRST.index(last or Condition.OK)


def _state(slot: _Slot) -> str:
    if slot.condition is None:
        return "shows no status"
    return _IS[slot.condition] + (f" (`{slot.word}`)" if slot.word else "")
