"""Attending: every event is told by the very poll that shows it, and nothing is told that no poll shows."""

import re
from collections.abc import Callable, Iterable
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from support import q, sighted, snapshot

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.heat import LEAST_SPAN, rate_per_minute
from consolecheck.job.watch import Watch
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.readings import (
    AnyReading,
    Condition,
    Device,
    Fan,
    Inventory,
    Link,
    PowerSupply,
    Sighting,
    Snapshot,
    Temperature,
)
from consolecheck.records.text import UnreadLine
from consolecheck.records.watching import Notice, Picture
from consolecheck.rehearsal.faults import CORDLESS, DEAD, GOOD
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.shell import Options, Shell
from consolecheck.rehearsal.site import Configuration, Part

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
ALL = [c.send for c in WEXCOMBE.manifest.commands]
WATCHED = [c.send for c in WEXCOMBE.manifest.commands if c.watch]
EACH = 5.0
FAN = Part("WXF-20871", "WXF-40F", "f>b", 18800)
CASES = cases_of(shipped("fixtures"))


def told(chassis: Chassis, commands: Iterable[str] = WATCHED) -> bytes:
    """What the switch answers to a poll."""
    shell = Shell(chassis, Options(start="user", paused=False))
    out = b""
    for line in ("", *commands):
        shell.feed(line.encode() + b"\r")
        out += shell.output(chassis.seconds)
    return out


def read(raw: bytes) -> Snapshot:
    return read_text(raw, "poll", [WEXCOMBE], WEXCOMBE)


class Attended:
    """A simulated switch, polled each five seconds from its baseline on."""

    def __init__(
        self,
        unit: str = "psu-2",
        seed: int = 0,
        commands: list[str] = WATCHED,
        configuration: Configuration | None = None,
    ) -> None:
        self.chassis = Chassis(seed, configuration)
        self.commands = commands
        self.watch = Watch(read(told(self.chassis, ALL)), unit)

    def poll(self) -> list[Notice]:
        self.chassis.advance(EACH)
        return list(self.watch.see(read(told(self.chassis, self.commands)), self.chassis.seconds))

    def polls(self, seconds: float) -> list[Notice]:
        return [notice for _ in range(round(seconds / EACH)) for notice in self.poll()]

    @property
    def picture(self) -> Picture:
        return self.watch.picture(self.chassis.seconds)


def whats(notices: Iterable[Notice]) -> list[tuple[str, str | None, bool]]:
    return [(n.what, n.unit, n.urgent) for n in notices]


# The job's own unit.


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("unit", ["psu-1", "psu-2", "fan-1", "fan-3"])
def test_a_pulled_unit_is_told_by_the_first_poll_that_shows_it(unit: str, seed: int) -> None:
    attended = Attended(unit, seed)
    assert attended.polls(15) == []
    assert attended.picture.phase == "in place"
    assert attended.picture.open_seconds is None
    attended.chassis.advance(seed)  # anywhere between two polls
    attended.chassis.pull(unit)
    assert [("removed", unit, False)] == whats(attended.poll())
    assert attended.picture.phase == "out"
    assert attended.picture.condition is Condition.ABSENT
    assert attended.picture.word == "empty"
    assert attended.picture.open_seconds == 0
    assert attended.polls(20) == []
    assert attended.picture.open_seconds == 20


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (GOOD, "it is in standby (`resting`)"),
        (DEAD, "it has failed (`faulted`)"),
        (CORDLESS, "it has no input power (`dark`): plug in its cord"),
    ],
)
def test_an_inserted_supply_is_told_in_whatever_condition_it_is(part: Part, said: str) -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.polls(60)
    attended.chassis.advance(3)
    attended.chassis.insert("psu-2", part)
    (notice,) = attended.watch.see(read(told(attended.chassis)), attended.chassis.seconds)
    assert notice.what == "inserted"
    assert not notice.urgent
    expected = f"psu-2 was inserted after 58 s, serial {part.serial}; WXS-20433 was there before; {said}"
    assert expected == notice.message
    assert attended.picture.phase == "fitted"
    assert attended.picture.open_seconds == 58


def test_a_good_supply_serves_and_nothing_rings() -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.polls(60)
    attended.chassis.insert("psu-2", GOOD)
    notices = attended.polls(600)
    assert [("inserted", "psu-2", False)] == whats(notices)
    assert notices[0].message.endswith("it is ok (`serving`)")


@pytest.mark.parametrize(("part", "word"), [(DEAD, "faulted"), (CORDLESS, "dark")])
def test_a_part_that_stays_ill_rings_once(part: Part, word: str) -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.polls(30)
    attended.chassis.insert("psu-2", part)
    notices = attended.polls(300)
    assert [("inserted", "psu-2", False), ("unit", "psu-2", True)] == whats(notices)
    assert f"(`{word}`), 20 s after it came in" in notices[1].message
    assert notices[1].seconds - notices[0].seconds == 20


def test_the_same_part_put_back_rings() -> None:
    attended = Attended()
    old = attended.chassis.pull("psu-2")
    attended.polls(10)
    attended.chassis.insert("psu-2", old)
    (notice,) = attended.poll()
    assert ("inserted", True) == (notice.what, notice.urgent)
    assert "the same part, WXS-20433, was put back" in notice.message


def test_a_part_from_another_slot_rings() -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.poll()
    moved = attended.chassis.fans["fan-1"].part
    assert moved is not None
    attended.chassis.insert("psu-2", replace(GOOD, serial=moved.serial))
    (notice,) = attended.poll()
    assert notice.urgent
    assert f"serial {moved.serial}, which sat in fan-1 before" in notice.message


def test_a_swap_between_two_polls_is_told_by_the_serial() -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.chassis.insert("psu-2", GOOD)
    (notice,) = attended.poll()
    assert notice.what == "inserted"
    assert "psu-2 was replaced between two polls, serial WXS-31902" in notice.message
    assert attended.picture.phase == "fitted"
    assert attended.picture.open_seconds is None


def test_a_unit_that_is_taken_out_again_is_told_again() -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.polls(60)
    attended.chassis.insert("psu-2", DEAD)
    attended.polls(10)
    attended.chassis.pull("psu-2")
    (notice,) = attended.poll()
    assert notice.message.startswith("psu-2 was taken out again")
    assert attended.picture.open_seconds == 0


def test_a_cord_that_is_drawn_before_the_unit_does_not_ring() -> None:
    attended = Attended()
    attended.chassis.cord("psu-2", False)
    assert [("unit", "psu-2", False)] == whats(attended.poll())
    assert attended.picture.phase == "in place"


def test_a_serial_that_comes_later_is_told_when_it_comes() -> None:
    slot = PowerSupply(unit="psu-2", condition=Condition.OK)
    other = PowerSupply(unit="psu-1", condition=Condition.OK)
    empty = slot.model_copy(update={"condition": Condition.ABSENT})
    part = Inventory(unit="psu-2", serial="WXS-20433")
    watch = Watch(snapshot(other, slot, part), "psu-2")
    assert ["removed"] == [n.what for n in watch.see(snapshot(other, empty), 5)]
    (came,) = watch.see(snapshot(other, slot), 10)
    assert "its serial is not shown" in came.message
    (shown,) = watch.see(snapshot(other, slot, part.model_copy(update={"serial": "WXS-31902"})), 15)
    assert shown.message.startswith("psu-2 shows its serial now, serial WXS-31902; WXS-20433 was there before")


def test_a_slot_that_was_empty_in_the_baseline_has_no_timer() -> None:
    attended = Attended()
    chassis = Chassis()
    chassis.pull("psu-2")
    attended.chassis, attended.watch = chassis, Watch(read(told(chassis, ALL)), "psu-2")
    assert attended.polls(300) == []
    assert attended.picture.phase == "out"
    assert attended.picture.open_seconds is None
    chassis.insert("psu-2", GOOD)
    (notice,) = attended.poll()
    assert notice.message == "psu-2 was inserted, serial WXS-31902; it is ok (`serving`)"


def test_a_device_that_lists_only_what_is_fitted_had_the_other_slots_empty() -> None:
    one, own, third = (PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2", "psu-3"))
    watch = Watch(snapshot(one), "psu-2")
    assert watch.picture(0).phase == "out"
    assert [("inserted", "psu-2", False)] == whats(watch.see(snapshot(one, own), 5))
    assert [("wrong-slot", "psu-3", True)] == whats(watch.see(snapshot(one, own, third), 10))


def test_an_inventory_row_alone_shows_a_part_only_if_it_names_one() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]
    watch = Watch(snapshot(*both), "psu-2")
    watch.see(snapshot(both[0]), 5)
    assert watch.see(snapshot(Inventory(unit="psu-2")), 10) == ()
    assert watch.picture(10).phase == "out"
    (came,) = watch.see(snapshot(Inventory(unit="psu-2", serial="WXS-31902")), 15)
    assert came.message == "psu-2 was inserted after 10 s, serial WXS-31902; it shows no status"


# A fan module and its rotors.


def test_one_stalled_rotor_is_a_failed_module_and_no_absent_one() -> None:
    attended = Attended("psu-2")
    attended.chassis.fail_fan("fan-1", "b")
    notices = attended.polls(15)
    assert {("unit", "fan-1", True)} == set(whats(notices))
    assert notices[-1].message == "fan-1 has failed (`stalled`)"
    (fan,) = [u for u in attended.picture.units if u.unit == "fan-1"]
    assert (Condition.FAILED, "stalled", Condition.OK) == (fan.condition, fan.word, fan.was)
    attended.chassis.fail_fan("fan-1", "b", health=1.0)
    back = attended.polls(15)
    assert back[-1].message == "fan-1 is ok (`turning`) again"
    assert not any(n.urgent for n in back)


def test_a_fan_module_that_spins_up_does_not_ring() -> None:
    attended = Attended("fan-2")
    attended.chassis.pull("fan-2")
    attended.polls(60)
    attended.chassis.insert("fan-2", FAN)
    first = attended.watch.see(read(told(attended.chassis)), attended.chassis.seconds)
    assert [("inserted", "fan-2", False)] == whats(first)
    assert "serial WXF-20871" in first[0].message
    assert "has failed (`stalled`)" in first[0].message  # it has only just been let go
    assert [("unit", "fan-2", False)] == whats(attended.polls(600))


# Other units.


def test_the_wrong_slot_is_told_by_the_first_poll_and_its_own_part_put_back_does_not_ring() -> None:
    attended = Attended()
    attended.poll()
    own = attended.chassis.pull("psu-1")
    (wrong,) = attended.poll()
    assert ("wrong-slot", "psu-1", True) == (wrong.what, wrong.unit, wrong.urgent)
    assert wrong.message == "psu-1 went absent, the job is for psu-2: put it back"
    assert attended.picture.phase == "in place"
    attended.polls(20)
    attended.chassis.insert("psu-1", own)
    (back,) = attended.poll()
    assert ("put-back", False) == (back.what, back.urgent)
    assert back.message.startswith("psu-1 is back, the same part, WXS-20417")


@pytest.mark.parametrize("unit", ["psu-1", "fan-1", "fan-2", "fan-3"])
def test_any_other_unit_is_the_wrong_slot(unit: str) -> None:
    attended = Attended()
    attended.chassis.pull(unit)
    assert [("wrong-slot", unit, True)] == whats(attended.poll())


def test_another_part_in_the_wrong_slot_rings() -> None:
    attended = Attended()
    attended.chassis.pull("psu-1")
    attended.poll()
    attended.chassis.insert("psu-1", GOOD)
    (back,) = attended.poll()
    assert ("put-back", True) == (back.what, back.urgent)
    assert "with WXS-31902, where WXS-20417 was: put its own part back" in back.message


def test_a_wrong_unit_swapped_between_two_polls_is_told_by_its_serial() -> None:
    attended = Attended()
    attended.chassis.pull("psu-1")
    attended.chassis.insert("psu-1", GOOD)
    notices = attended.poll()
    assert ("wrong-slot", "psu-1", True) in whats(notices)
    assert "psu-1 changed from WXS-20417 to WXS-31902; the job is for psu-2" in [n.message for n in notices]


def test_a_part_that_went_into_an_empty_slot_nearby_rings() -> None:
    empty = PowerSupply(unit="psu-3", condition=Condition.ABSENT)
    own, other = (PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-2", "psu-1"))
    watch = Watch(snapshot(other, own, empty), "psu-2")
    out = own.model_copy(update={"condition": Condition.ABSENT})
    filled = PowerSupply(unit="psu-3", condition=Condition.OK, serial="WXS-31902")
    notices = watch.see(snapshot(other, out, filled), 5)
    assert [("removed", "psu-2", False), ("wrong-slot", "psu-3", True)] == whats(notices)
    assert notices[1].message == "psu-3 was filled, serial WXS-31902; it was empty before and the job is for psu-2"
    assert [("unit", "psu-3", False)] == whats(watch.see(snapshot(other, out, empty), 10))


def test_a_condition_that_is_worse_rings_and_the_way_back_does_not() -> None:
    attended = Attended("fan-2")
    attended.chassis.cord("psu-1", False)
    (lost,) = attended.poll()
    assert (True, "psu-1 has no input power (`dark`)") == (lost.urgent, lost.message)
    attended.chassis.cord("psu-1", True)
    back = attended.polls(10)
    assert [False] * len(back) == [n.urgent for n in back]
    assert back[-1].message == "psu-1 is ok (`serving`) again"


def test_a_fault_that_stood_in_the_baseline_is_no_news() -> None:
    attended = Attended()
    attended.chassis.fail_fan("fan-3")
    attended.chassis.advance(60)
    attended.watch = Watch(read(told(attended.chassis, ALL)), "psu-2")
    assert attended.polls(60) == []


@pytest.mark.parametrize(
    ("condition", "rings"), [(Condition.OK, False), (Condition.STANDBY, False), (Condition.FAILED, True)]
)
def test_a_status_that_the_baseline_did_not_print_is_news_if_it_is_bad(condition: Condition, rings: bool) -> None:
    own, bare = PowerSupply(unit="psu-2", condition=Condition.OK), PowerSupply(unit="psu-1")
    watch = Watch(snapshot(own, bare), "psu-2")
    notices = watch.see(snapshot(own, bare.model_copy(update={"condition": condition})), 5)
    assert [True] * rings == [n.urgent for n in notices]


def test_a_word_that_nobody_knows_is_neither_an_absence_nor_a_part() -> None:
    other = PowerSupply(unit="psu-1", condition=Condition.OK)
    own = PowerSupply(unit="psu-2", condition=Condition.OK)
    odd = own.model_copy(update={"condition": Condition.UNKNOWN, "status_text": "parted"})
    watch = Watch(snapshot(other, own), "psu-2")
    (notice,) = watch.see(snapshot(other, odd), 5)
    assert ("unit", "psu-2 shows a status that is not known (`parted`)") == (notice.what, notice.message)
    out = own.model_copy(update={"condition": Condition.ABSENT})
    assert ["removed"] == [n.what for n in watch.see(snapshot(other, out), 10)]
    assert ["unit"] == [n.what for n in watch.see(snapshot(other, odd), 15)]
    assert watch.picture(15).phase == "out"


# Links, sensors, time, the switch itself.


def test_a_link_that_falls_rings_and_its_return_does_not() -> None:
    attended = Attended()
    attended.chassis.link_down(8)
    (fell,) = attended.poll()
    assert ("link", "8", True) == (fell.what, fell.unit, fell.urgent)
    assert "link 8 was up and shows `down`" in fell.message
    assert attended.picture.links_down == ("8",)
    assert attended.poll() == []
    attended.chassis.link_down(8, down=False)
    (back,) = attended.poll()
    assert (False, "link 8 is up again") == (back.urgent, back.message)
    assert attended.picture.links_down == ()


def test_a_link_that_was_down_before_is_no_news() -> None:
    attended = Attended()
    attended.chassis.link_down(8)
    attended.watch = Watch(read(told(attended.chassis, ALL)), "psu-2")
    assert attended.polls(15) == []


def test_a_reload_is_told_by_the_uptime_and_its_links_in_one_line() -> None:
    attended = Attended(commands=ALL)
    attended.chassis.advance(60)
    attended.chassis.reload()
    attended.chassis.advance(10)
    notices = attended.poll()
    assert [("reload", None, True), ("link", None, True)] == whats(notices)
    assert "its uptime fell from 183 d 20:53:01 to 15 s" in notices[0].message
    assert "links 1, 2, 3, 5 and 3 more were up and are down" == notices[1].message
    assert [("link", None, False)] == whats(attended.polls(90))


def heat(value: str, unit: str | None = None, **limits: str) -> Temperature:
    named = {name: q(text) for name, text in limits.items()}
    return Temperature(name="asic-1", unit=unit, value=q(value), **named)


def test_a_limit_is_reached_at_equality_and_told_once() -> None:
    # IPMI v2.0, Get Sensor Reading: an upper threshold is crossed at or above it.
    limits = {"high_warning": "95 C", "high_critical": "105 C"}
    watch = Watch(snapshot(heat("94 C", **limits)), "psu-2")
    said = []
    for number, value in enumerate(("94.5", "95", "94.5", "95", "96", "104.5", "105", "104.5", "103.5", "93.5")):
        # Polls far apart, so that nothing is foreseen.
        said += [
            (value, n.urgent, n.message) for n in watch.see(snapshot(heat(f"{value} C", **limits)), number * 600.0)
        ]
    assert [
        ("95", True, "asic-1 reads 95 °C, at or above its warning limit of 95 °C"),
        ("105", True, "asic-1 reads 105 °C, at or above its critical limit of 105 °C"),
        ("103.5", False, "asic-1 reads 103.5 °C, below its critical limit again"),
        ("93.5", False, "asic-1 reads 93.5 °C, below its limits again"),
    ] == said


def test_a_sensor_without_limits_speaks_by_its_word() -> None:
    fine = Temperature(name="2", value=q("47 C"), condition=Condition.OK, status_text="OK")
    hot = fine.model_copy(update={"condition": Condition.FAILED, "status_text": "FAILURE"})
    watch = Watch(snapshot(fine), "psu-1")
    assert ["2 reads 47 °C and reports `FAILURE`"] == [n.message for n in watch.see(snapshot(hot), 5)]
    assert [False] == [n.urgent for n in watch.see(snapshot(fine), 10)]


def test_a_sensor_over_its_limit_in_the_baseline_is_no_news() -> None:
    limits = {"high_warning": "95 C", "high_critical": "105 C"}
    watch = Watch(snapshot(heat("96 C", **limits)), "psu-2")
    assert watch.see(snapshot(heat("97 C", **limits)), 5) == ()


@pytest.mark.parametrize("seed", range(3))
def test_a_limit_ahead_is_foreseen_before_it_is_reached_and_each_is_told_once(seed: int) -> None:
    attended = Attended(seed=seed)
    attended.chassis.pull("psu-2")
    attended.poll()
    attended.chassis.creep("asic-1", 12)
    notices = [n for n in attended.polls(400) if n.what == "sensor"]
    foreseen = [n for n in notices if "asic-1" in n.message and "rises by" in n.message]
    reached = [n for n in notices if "asic-1" in n.message and "at or above" in n.message]
    assert ["warning", "critical"] == [m[1] for n in reached if (m := re.search(r"its (\w+) limit", n.message))]
    assert foreseen
    assert "reaches its warning limit of 95 °C in " in foreseen[0].message
    assert foreseen[0].seconds < reached[0].seconds <= foreseen[0].seconds + 240
    assert len(foreseen) <= 2
    assert all(n.urgent for n in (*foreseen, *reached))


def test_what_was_foreseen_is_told_anew_only_after_it_receded() -> None:
    values = [80, 82, 84, 86, 88, 90, 92, 93, 93, 93, 90, 86, 84, 84, 86, 88, 90, 92, 93, 94]
    limits = {"high_warning": "95 C"}
    watch = Watch(snapshot(heat("80 C", **limits)), "psu-2")
    said = [
        number
        for number, value in enumerate(values)
        for _ in watch.see(snapshot(heat(f"{value} C", **limits)), number * 10.0)
    ]
    assert len(said) == 2
    assert said[0] <= 4
    assert said[1] > 12


def test_a_limit_is_foreseen_for_as_long_as_the_slot_may_stay_open() -> None:
    # 1 K in 10 s from 80 °C on: 95 °C lies 150 s less what has passed ahead.
    def first(open_limit: float, out: bool) -> float:
        limits = {"high_warning": "95 C"}
        other = PowerSupply(unit="psu-1", condition=Condition.OK)
        own = PowerSupply(unit="psu-2", condition=Condition.OK)
        watch = Watch(snapshot(heat("80 C", **limits), own, other), "psu-2", open_limit)
        if out:
            own = own.model_copy(update={"condition": Condition.ABSENT})
        for number in range(15):
            for n in watch.see(snapshot(heat(f"{80 + number} C", **limits), own, other), number * 10.0):
                if n.what == "sensor":
                    return n.seconds
        return -1.0

    assert first(600, out=True) == LEAST_SPAN
    assert first(120, out=True) == first(600, out=False) == 30


def test_an_open_slot_is_a_breach_at_each_limit_and_no_fault() -> None:
    # Hardware guides of network equipment give one to three minutes for an open fan slot; 120 s by default,
    # common practice, and by itself never a fault of the hardware.
    attended = Attended()
    attended.chassis.pull("psu-2")
    notices = attended.polls(5 + 370)
    late = [n for n in notices if n.what == "open-long"]
    removed = notices[0].seconds
    assert [120, 240, 360] == [n.seconds - removed for n in late]
    assert all(n.urgent and "no fault of the hardware" in n.message for n in late)
    attended.chassis.insert("psu-2", GOOD)
    assert not [n for n in attended.polls(300) if n.what == "open-long"]


@pytest.mark.parametrize(("seconds", "breach"), [(119.0, False), (120.0, True), (121.0, True), (359.0, True)])
def test_the_limit_of_an_open_slot(seconds: float, breach: bool) -> None:
    own, other = (PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-2", "psu-1"))
    out = snapshot(other, own.model_copy(update={"condition": Condition.ABSENT}))
    watch = Watch(snapshot(other, own), "psu-2")
    watch.see(out, 10.0)
    assert breach is ("open-long" in [n.what for n in watch.see(out, 10.0 + seconds)])


def test_the_slot_timer_goes_on_while_no_poll_can_be_read() -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.poll()
    cut = read(told(attended.chassis)[:-200])
    notices = attended.watch.see(cut, attended.chassis.seconds + 130)
    assert ["unclear", "open-long"] == [n.what for n in notices]
    assert "psu-2 was not seen back for 130 s" in notices[1].message


@pytest.mark.parametrize("limit", [0.0, -1.0, float("nan")])
def test_a_limit_that_says_nothing_is_refused(limit: float) -> None:
    with pytest.raises(ValueError, match="open"):
        Watch(snapshot(PowerSupply(unit="psu-1")), "psu-1", limit)


# Polls that count for nothing.


def test_an_unclear_poll_changes_nothing_and_is_told_once_a_run() -> None:
    attended = Attended()
    attended.poll()
    before = attended.picture
    attended.chassis.pull("psu-2")
    raw = told(attended.chassis)
    cut = read(raw[: raw.index(b"END POWER")])
    first = attended.watch.see(cut, 10.0)
    assert [("unclear", None, False)] == whats(first)
    assert attended.watch.see(cut, 15.0) == ()
    now = attended.watch.picture(15.0)
    assert "the power table is not whole" in now.unclear
    assert now._replace(unclear="", seconds=0) == before._replace(seconds=0)
    assert [("removed", "psu-2", False)] == whats(attended.poll())
    assert attended.picture.unclear == ""
    assert ["unclear"] == [n.what for n in attended.watch.see(cut, 40.0)]


def test_what_makes_a_poll_unclear() -> None:
    own, other = (PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-2", "psu-1"))
    out = own.model_copy(update={"condition": Condition.ABSENT})
    good = snapshot(other, out)
    table = good.tables[0]
    unclear = {
        "line 3 was not read": good._replace(unread=(UnreadLine(3, "x", "no rule fits"),)),
        "the power_supply table is not whole": good._replace(tables=(table._replace(cut="it was cut"),)),
        "it reads as other": good._replace(dialect="other"),
        "no table stands in it": good._replace(tables=(), sightings=()),
        "the power_supply table lists nothing": good._replace(sightings=()),
        "its prompts name tern-04 and tern-05": good._replace(hosts={"tern-04": 1, "tern-05": 2}),
    }
    for why, poll in unclear.items():
        watch = Watch(snapshot(other, own)._replace(hosts={"tern-04": 1}), "psu-2")
        (notice,) = watch.see(poll, 5)
        assert notice.what == "unclear"
        assert why in notice.message
        assert watch.picture(5).phase == "in place"


def test_a_missing_row_is_an_absence_only_in_a_table_read_to_its_end() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]

    def poll(ended: bool) -> Snapshot:
        return snapshot(sighted(both[0], "power_supply", ended=ended))

    watch = Watch(snapshot(*both), "psu-2")
    assert watch.see(poll(ended=False), 5) == ()
    assert watch.picture(5).phase == "in place"
    assert [("removed", "psu-2", False)] == whats(watch.see(poll(ended=True), 10))
    assert watch.picture(10).condition is Condition.ABSENT
    assert ["inserted"] == [n.what for n in watch.see(snapshot(*both), 15)]


def test_rows_below_no_prompt_are_a_text_without_its_head() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]
    whole = snapshot(*both)._replace(hosts={"tern-04": 0})
    watch = Watch(whole, "psu-1")
    headless = snapshot(sighted(both[1], "power_supply", line=1))._replace(hosts={"tern-04": 9})
    assert watch.see(headless, 5) == ()
    assert watch.picture(5).phase == "in place"


@pytest.mark.parametrize("ended", [False, True])
def test_a_link_without_its_row_is_down_only_in_a_table_read_to_its_end(ended: bool) -> None:
    links = [Link(name=n, condition=Condition.OK) for n in ("7", "8")]
    watch = Watch(snapshot(*links), "psu-2")
    notices = watch.see(snapshot(sighted(links[0], "link", ended=ended)), 5)
    assert (["link 8 was up and is gone: check the cable that was moved"] if ended else []) == [
        n.message for n in notices
    ]


@pytest.mark.parametrize("command", ALL)
def test_what_a_poll_does_not_show_is_not_known_to_be_absent(command: str) -> None:
    attended = Attended(commands=[command])
    assert attended.polls(30) == []
    assert attended.picture.phase == "in place"
    attended.commands = ALL
    assert attended.polls(30) == []


def test_an_inventory_that_comes_late_does_not_hold_a_removal_up() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]
    parts = [Inventory(unit=u, serial=s) for u, s in (("psu-1", "WXS-20417"), ("psu-2", "WXS-20433"))]
    watch = Watch(snapshot(*both, *parts), "psu-2")
    assert ["removed"] == [n.what for n in watch.see(snapshot(both[0], *parts), 5)]


def test_an_inventory_that_is_late_does_not_take_out_what_reports_itself() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]
    parts = [Inventory(unit=u, serial=s) for u, s in (("psu-1", "WXS-20417"), ("psu-2", "WXS-20433"))]
    watch = Watch(snapshot(*both, *parts), "psu-2")
    assert watch.see(snapshot(*both, parts[0]), 5) == ()


def test_a_sensor_inside_the_unit_does_not_stand_for_it() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]
    sensors = [Temperature(name=u, unit=u, value=q("37 C")) for u in ("psu-1", "psu-2")]
    watch = Watch(snapshot(*both, *sensors), "psu-2")
    assert watch.see(snapshot(*both, sensors[0]), 5) == ()
    assert [s.name for s in watch.picture(5).sensors] == ["psu-1"]


def test_another_chassis_rings_changes_nothing_and_is_told_once() -> None:
    attended = Attended()
    other = Chassis(0, Configuration(serial="WXC-0041902"))
    other.pull("psu-2")
    poll = read(told(other))
    assert [("other-chassis", None, True)] == whats(attended.watch.see(poll, 5.0))
    assert attended.watch.see(poll, 10.0) == ()
    assert "chassis WXC-0041902 answers, the job is for WXC-0041877" in attended.watch.picture(10).unclear
    assert attended.picture.phase == "in place"
    assert attended.polls(15) == []


def test_another_name_in_the_prompt_is_another_chassis() -> None:
    attended = Attended(commands=["tell power"])
    other = Chassis(0, Configuration(host="tern-05"))
    notices = attended.watch.see(read(told(other, ["tell power"])), 5.0)
    assert [("other-chassis", None, True)] == whats(notices)
    assert "tern-05 answers, the job is for tern-04" in notices[0].message


def test_serials_of_different_things_are_not_compared() -> None:
    supply = PowerSupply(unit="psu-1", condition=Condition.OK)
    chassis = Inventory(unit="chassis", serial="WXC-0041877")
    board = Device(name="board", serial="WXB-77")
    watch = Watch(snapshot(supply, chassis), "psu-1")
    assert watch.see(snapshot(supply, board), 5) == ()


# Nothing is told that is not so.


@pytest.mark.parametrize("seed", range(5))
def test_a_quiet_chassis_stays_quiet_for_half_an_hour(seed: int) -> None:
    attended = Attended(seed=seed)
    assert attended.polls(1800) == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.dialect_name}/{case.name}")
def test_the_baseline_seen_again_is_no_news_and_what_went_is_told(case: Case) -> None:
    """Of every device family: the claims say by hand which unit was left out of its slot."""
    family = [d for d in dialects() if d.name == case.dialect_name]
    before, after = (read_text(case.text(side), side, family, family[0]) for side in ("before", "after"))
    watch = Watch(before, case.file.unit)
    assert watch.see(before, 1.0) == ()
    whole = not after.unread and not any(t.cut for t in after.tables)
    notices = watch.see(after, 10.0)
    gone = {n.unit for n in notices if n.what == "removed" or "went absent" in n.message}
    if whole:
        stood = {u for u, c in case.file.claims.units.items() if c is Condition.ABSENT}
        empty_before = {u.unit for u in Watch(before, case.file.unit).picture(0).units if u.was is Condition.ABSENT}
        shown = {sighting.reading.unit for sighting in after.sightings}
        assert stood - empty_before == gone & shown  # of a unit that is not shown any more nothing can be claimed
    else:
        assert ["unclear"] == [n.what for n in notices]


def distinct_texts() -> list[tuple[str, str, bytes]]:
    """Of the families that are polled while a unit is out; a walk or a model in several documents never is."""
    polled = {d.name for d in dialects() if any(command.watch for command in d.manifest.commands)}
    texts = {case.text("before"): case for case in CASES if case.dialect_name in polled}
    return [(case.dialect_name, case.file.unit, text) for text, case in texts.items()]


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(distinct_texts()), st.floats(0, 1), st.booleans())
def test_a_text_that_lost_its_end_or_its_head_never_takes_anything_out(
    text: tuple[str, str, bytes], share: float, end: bool
) -> None:
    name, unit, raw = text
    family = [d for d in dialects() if d.name == name]
    at = int(share * len(raw))
    try:
        poll = read_text(raw[:at] if end else raw[at:], "poll", family, family[0])
    except NotRecognised:
        assume(False)
    watch = Watch(read_text(raw, "before", family, family[0]), unit)
    assert set() == {n.what for n in watch.see(poll, 5.0)} - {"unclear"}
    assert watch.picture(5.0).phase == Watch(read_text(raw, "before", family, family[0]), unit).picture(0).phase


def states() -> tuple[Snapshot, dict[str, Snapshot], list[Snapshot]]:
    """A baseline, what polls may show, and polls of an empty slot that were not wholly read."""
    chassis = Chassis()
    baseline = read(told(chassis, ALL))
    polls: dict[str, Snapshot] = {"old": read(told(chassis))}
    old = chassis.pull("psu-2")
    raw = told(chassis)
    polls["out"] = read(raw)
    for name, part in (("new", GOOD), ("cordless", replace(CORDLESS, serial="WXS-31903")), ("back", old)):
        chassis.insert("psu-2", part)
        polls[name] = read(told(chassis))
        chassis.advance(10)
        polls[f"{name}-later"] = read(told(chassis))
        chassis.pull("psu-2")
    garbled = raw.replace(b"f>b", b"f?b", 1)
    unclear = [read(raw[: raw.index(b"END " + t)]) for t in (b"POWER", b"FAN", b"HEAT", b"PARTS", b"PORTS")] + [
        read(garbled)
    ]
    assert all(p.unread or any(t.cut for t in p.tables) for p in unclear)
    assert not any(p.unread or any(t.cut for t in p.tables) for p in polls.values())
    return baseline, polls, unclear


BASELINE, POLLS, UNCLEAR = states()


def comings_and_goings(polls: Iterable[Snapshot]) -> list[tuple[str, str]]:
    watch = Watch(BASELINE, "psu-2")
    notices = [n for number, poll in enumerate(polls) for n in watch.see(poll, number * EACH)]
    return [(n.what, re.sub(r" after \d+ s", "", n.message)) for n in notices if n.what in ("removed", "inserted")]


@given(st.lists(st.one_of(st.sampled_from(sorted(POLLS)), st.integers(0, len(UNCLEAR) - 1)), max_size=25))
def test_unclear_polls_in_between_change_nothing_that_comes_or_goes(drawn: list[str | int]) -> None:
    clear = [POLLS[d] for d in drawn if isinstance(d, str)]
    mixed = [POLLS[d] if isinstance(d, str) else UNCLEAR[d] for d in drawn]
    assert comings_and_goings(clear) == comings_and_goings(mixed)


@given(st.lists(st.sampled_from(sorted(POLLS)), max_size=25))
def test_the_phase_is_what_the_last_poll_shows(drawn: list[str]) -> None:
    watch = Watch(BASELINE, "psu-2")
    for number, name in enumerate(drawn):
        notices = watch.see(POLLS[name], number * EACH)
        assert (name == "out") is (watch.picture(number * EACH).phase == "out")
        left = name == "out" and (number == 0 or drawn[number - 1] != "out")
        assert left is ("removed" in [n.what for n in notices])
        came = number > 0 and name != "out" and drawn[number - 1] == "out"
        assert not came or "inserted" in [n.what for n in notices]


# Rates.


def test_no_rate_before_three_samples_over_twenty_seconds() -> None:
    assert rate_per_minute([]) is None
    assert rate_per_minute([(0, 20), (30, 40)]) is None
    assert rate_per_minute([(0, 20), (5, 24), (10, 28), (19.9, 40)]) is None
    assert rate_per_minute([(0, 20), (10, 24), (20, 28)]) == pytest.approx(24)


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0])
def test_a_reading_that_dithers_between_two_steps_stands_still(step: float) -> None:
    for pattern in ([0, 1, 0, 1, 0, 1], [0, 0, 0, 1, 1, 1], [1, 0, 0, 0, 0, 0], [0, 0, 0, 0, 0, 1]):
        assert rate_per_minute([(5.0 * n, 58.0 + step * p) for n, p in enumerate(pattern)]) == 0


def test_degrees_that_were_fahrenheit_dither_too() -> None:
    low, high = ((f - 32) * 5 / 9 for f in (136, 137))
    assert rate_per_minute([(0, low), (10, high), (20, low), (30, high)]) == 0


def test_one_misread_sample_does_not_make_a_rate() -> None:
    samples = [(5.0 * n, 58.0) for n in range(7)]
    samples[3] = (15.0, 85.0)
    assert rate_per_minute(samples) == 0


@given(
    st.floats(-30, 30),
    st.sampled_from([0.5, 1.0]),
    st.floats(20, 90),
    st.sampled_from([5.0, 10.0, 15.0]),
)
def test_the_rate_of_a_steady_rise_is_right_to_one_step_over_the_window(
    per_minute: float, step: float, start: float, each: float
) -> None:
    times = [each * n for n in range(max(round(60 / each) + 1, 6))]
    samples = [(t, round((start + per_minute * t / 60) / step) * step) for t in times]
    rate = rate_per_minute(samples)
    assert rate is not None
    assert abs(rate - per_minute) <= 2 * step / times[-1] * 60


def test_a_rate_begins_anew_when_a_part_comes_or_goes() -> None:
    attended = Attended()
    attended.polls(60)
    assert all(s.per_minute is not None for s in attended.picture.sensors)
    attended.chassis.pull("psu-2")
    attended.poll()
    assert all(s.per_minute is None for s in attended.picture.sensors)
    attended.polls(20)
    assert all(s.per_minute is not None for s in attended.picture.sensors)


# The picture.


def test_the_sensor_with_the_least_room_stands_first_and_one_in_an_empty_bay_is_not_shown() -> None:
    attended = Attended()
    attended.chassis.pull("psu-2")
    attended.polls(30)
    sensors = attended.picture.sensors
    rooms = [s.limit - s.value for s in sensors if s.limit is not None]
    assert sorted(rooms) == rooms
    assert {"inlet", "outlet", "asic-1", "cpu", "psu-1"} == {s.name for s in sensors}


def test_a_value_left_behind_by_a_part_that_is_out_is_not_shown() -> None:
    both = [PowerSupply(unit=u, condition=Condition.OK) for u in ("psu-1", "psu-2")]
    sensors = [Temperature(name=u, unit=u, value=q("37 C")) for u in ("psu-1", "psu-2")]
    watch = Watch(snapshot(*both, *sensors), "psu-2")
    watch.see(snapshot(both[0], *sensors), 5)
    assert ["psu-1"] == [s.name for s in watch.picture(5).sensors]


def test_a_temperature_that_is_none_is_not_shown() -> None:
    humidity = Temperature(name="humidity", value=q("45 %"), high_warning=q("80 %"))
    watch = Watch(snapshot(humidity, heat("58 C")), "psu-2")
    assert ["asic-1"] == [s.name for s in watch.picture(0).sensors]


def test_over_its_warning_a_sensor_shows_the_way_to_its_critical_limit() -> None:
    limits = {"high_warning": "95 C", "high_critical": "105 C"}
    watch = Watch(snapshot(heat("80 C", **limits)), "psu-2")
    for number in range(4):
        watch.see(snapshot(heat(f"{90 + 2 * number} C", **limits)), number * 10.0)
    (now,) = watch.picture(30).sensors
    assert (96, 105, "critical") == (now.value, now.limit, now.limit_name)
    assert now.per_minute == pytest.approx(12)
    assert now.minutes_to_limit == pytest.approx(9 / 12)


def test_limits_are_taken_from_the_table_that_prints_them() -> None:
    bare: AnyReading = Temperature(name="asic-1", value=q("58 C"))
    with_limits = heat("58 C", high_warning="95 C")
    seen: list[AnyReading | Sighting] = [sighted(bare, "short"), sighted(with_limits, "long")]
    watch = Watch(snapshot(*seen), "psu-2")
    assert 95 == watch.picture(0).sensors[0].limit


def test_every_notice_is_one_plain_sentence() -> None:
    deeds: list[Callable[[Chassis], object]] = [
        lambda c: c.pull("psu-2"),
        lambda c: c.link_down(7),
        lambda c: c.pull("fan-3"),
        lambda c: c.fail_fan("fan-1"),
        lambda c: c.creep("asic-1", 30),
        lambda c: c.insert("fan-3", FAN),
        lambda c: c.insert("psu-2", DEAD),
        lambda c: c.reload(),
    ]
    attended = Attended(commands=ALL)
    notices = []
    for deed in deeds:
        deed(attended.chassis)
        notices += attended.polls(40)
    assert {"removed", "inserted", "wrong-slot", "put-back", "unit", "link", "sensor", "reload"} <= {
        n.what for n in notices
    }
    for notice in notices:
        assert notice.message[-1] not in ".!"
        assert "None" not in notice.message
        assert "\n" not in notice.message


def test_fans_that_report_only_their_rotors_are_units_too() -> None:
    def module(unit: str, condition: Condition) -> list[AnyReading]:
        return [Fan(unit=unit, name=f"{unit} {rotor}", condition=condition) for rotor in "ab"]

    whole = snapshot(*module("fan-1", Condition.OK), *module("fan-2", Condition.OK))
    watch = Watch(whole, "fan-2")
    assert ["removed"] == [n.what for n in watch.see(snapshot(*module("fan-1", Condition.OK)), 5)]
    assert ["inserted"] == [n.what for n in watch.see(whole, 10)]
    ill = snapshot(*module("fan-1", Condition.OK), *module("fan-2", Condition.OK)[:1])
    assert watch.see(ill, 15) == ()  # one rotor's row is missing: no absence of the module
