"""The simulated switch: its physics, its command line, its line, and what the tool makes of what it prints."""

import os
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.judging.rules.load import fits_after_loss, load_of
from consolecheck.judging.view import View
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Judgement, Outcome, Verdict
from consolecheck.records.readings import Condition, PowerSupply, Snapshot
from consolecheck.rehearsal.faults import (
    GOOD,
    GOOD_ONES,
    SCENARIOS,
    NoSuchScenario,
    Schedule,
    busier,
    returned,
    scenario,
)
from consolecheck.rehearsal.noise import Line
from consolecheck.rehearsal.physics import (
    Chassis,
    NoSuchPlace,
    fan_power,
    losses,
    settled,
    shared,
)
from consolecheck.rehearsal.serve import served_pty, served_tcp
from consolecheck.rehearsal.shell import MORE, Options, Shell
from consolecheck.rehearsal.site import Configuration, Part, on_direct_current, varied
from consolecheck.rehearsal.tables import TABLES

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
TELL = [c.send for c in WEXCOMBE.manifest.commands]
STILL = Configuration(load_wander=0, inlet_wander=0, feed_wander=0, spread=0)
PROMPT = b"tern-04 ~> "
ROOT = Path(__file__).resolve().parents[1]


def typed(shell: Shell, *lines: str) -> bytes:
    """What the shell answers to whole lines, without time passing; a pager is given a blank."""
    out = b""
    for line in lines:
        shell.feed(line.encode() + b"\r")
        out += shell.output(shell.chassis.seconds)
        while out.endswith(MORE.encode()):
            shell.feed(b" ")
            out += shell.output(shell.chassis.seconds)
    return out


def captured(chassis: Chassis, pager: bool = False, page_lines: int = 10, log_every: float | None = None) -> bytes:
    """One session with all that the dialect asks for."""
    options = Options(start="user", page_lines=page_lines, log_every=log_every, line_seconds=1.0 if log_every else 0.0)
    shell = Shell(chassis, options)
    session = [] if pager else WEXCOMBE.manifest.console.session
    if log_every is None:
        return typed(shell, "", *session, *TELL)
    out = b""
    for line in ("", *session, *TELL):
        shell.feed(line.encode() + b"\r")
        for _ in range(30):
            chassis.advance(1)
            out += shell.output(chassis.seconds)
    return out


def read(raw: bytes) -> Snapshot:
    return read_text(raw, "rehearsal", [WEXCOMBE])


def rehearsed(
    name: str, seed: int = 0, minutes: float = 30, site: Configuration | None = None
) -> tuple[Judgement, Snapshot]:
    chassis = Chassis(seed, site)
    before = read(captured(chassis))
    scenario(name).perform(chassis)
    chassis.advance(minutes * 60)
    after = read(captured(chassis))
    return judge(before, after, scenario(name).unit, Acceptance()), after


def broken(judgement: Judgement, outcome: Outcome = Outcome.UNMET) -> set[str]:
    return {f.rule for f in judgement.findings if f.outcome is outcome and f.required}


# Physics.


def test_first_order_step() -> None:
    # Mathematics: 63.2, 86.5, 95.0 % are done after one, two, three time constants.
    for times, done in ((1, 63.2), (2, 86.5), (3, 95.0), (4, 98.2), (5, 99.3), (6, 99.75)):
        assert settled(20.0, 120.0, times * 300.0, 300.0) - 20.0 == pytest.approx(done, abs=0.05)


def test_a_new_supply_warms_by_its_time_constant() -> None:
    chassis = Chassis(configuration=STILL)
    old = chassis.pull("psu-2")
    chassis.insert("psu-2", replace(old, serial="WXS-31902"))
    assert chassis.temperatures["psu-2"] == STILL.inlet
    chassis.advance(4)  # it serves from then on
    start = chassis.temperatures["psu-2"]
    tau = next(s.tau for s in STILL.sensors if s.name == "psu-2")
    chassis.advance(tau)
    after_one = chassis.temperatures["psu-2"]
    chassis.advance(20 * tau)
    end = chassis.temperatures["psu-2"]
    assert (after_one - start) / (end - start) == pytest.approx(1 - 1 / 2.718281828, abs=0.01)


def test_time_may_be_cut_anyhow() -> None:
    whole, cut = Chassis(3), Chassis(3)
    whole.advance(90)
    for _ in range(360):
        cut.advance(0.25)
    assert [t(whole) for t in TABLES.values()] == [t(cut) for t in TABLES.values()]
    assert whole.temperatures == cut.temperatures


def test_fan_laws() -> None:
    # Published example: 1200 to 1500 rpm takes the flow from 10,000 to 12,500 and the power from 5 to 9.77.
    assert fan_power(1500, 2000) / fan_power(1200, 2000) == pytest.approx(9.766 / 5, rel=1e-3)
    assert 1 - fan_power(90, 100) / fan_power(100, 100) == pytest.approx(0.271)
    chassis = Chassis(configuration=STILL)
    for fan in chassis.fans.values():
        for rotor in fan.rotors.values():
            rotor.speed *= 1.25
    assert chassis.flow == pytest.approx(1.25)


def test_hotter_air_makes_the_fans_turn_faster_and_slowly() -> None:
    chassis = Chassis(configuration=STILL)
    assert chassis.commanded == 45
    chassis.creep("outlet", 3)
    chassis.advance(60)
    a_minute = chassis.duty
    chassis.advance(600)
    assert 45 < a_minute < chassis.duty <= 100
    speeds = {n: r.speed for n, r in chassis.fans["fan-1"].rotors.items()}
    assert speeds["a"] == pytest.approx(18800 * chassis.commanded / 100, rel=0.01)


def test_shares_sum_to_the_load_and_follow_the_droop() -> None:
    for seed in range(10):
        chassis = Chassis(seed)
        delivered = sum(s.output_power for s in chassis.supplies.values())
        assert delivered == pytest.approx(chassis.load, rel=0.002)
        assert chassis.load == pytest.approx(390, rel=0.03)
    volts, amps = shared(390, [(12.16, 0.0074), (12.16, 0.0074)])
    assert amps[0] == pytest.approx(amps[1])
    assert volts * sum(amps) == pytest.approx(390)
    # A source that is set too low takes nothing in, and nothing out.
    volts, amps = shared(100, [(12.16, 0.0074), (11.0, 0.0074)])
    assert amps[1] == 0
    assert volts * amps[0] == pytest.approx(100)


def test_efficiency_lies_between_80_plus_gold_and_one() -> None:
    # 80 PLUS Gold, 230 V internal redundant: 88, 92, 88 % at 20, 50, 100 % of the load.
    for share, floor in ((0.2, 0.88), (0.5, 0.92), (1.0, 0.88)):
        assert floor <= share * 600 / (share * 600 + losses(share * 600, 600)) < 1
    for share in range(1, 120):
        assert losses(share * 6.0, 600) > 0


def test_a_module_that_blows_backwards_takes_flow_away() -> None:
    chassis = Chassis(configuration=STILL)
    old = chassis.pull("fan-2")
    chassis.insert("fan-2", replace(old, airflow="b>f"))
    chassis.advance(5)
    assert chassis.flow == pytest.approx(1 / 3, rel=0.1)


def test_without_any_supply_the_switch_is_dark_and_wakes_anew() -> None:
    chassis = Chassis(configuration=STILL)
    shell = Shell(chassis, Options(start="user"))
    chassis.cord("psu-1", False)
    chassis.cord("psu-2", False)
    assert not chassis.powered
    assert typed(shell, "tell self") == b""
    chassis.advance(60)
    chassis.cord("psu-1", True)
    chassis.advance(100)
    assert chassis.powered
    assert chassis.awake == pytest.approx(96, abs=1.5)  # serving four seconds after the cord
    assert b"waking stage 1" in shell.output(chassis.seconds)


def test_alarms_are_raised_and_cleared() -> None:
    chassis = Chassis(configuration=STILL)
    chassis.advance(10)
    chassis.cord("psu-2", False)
    assert [(a.weight, a.place, a.what) for a in chassis.alarms()] == [("grave", "psu-2", "no input")]
    assert f"{chassis.alarms()[0].since:%H:%M:%S}" == "06:12:50"
    chassis.cord("psu-2", True)
    assert chassis.alarms() == []
    chassis.fail_fan("fan-1", "b")
    chassis.advance(20)
    assert [a.what for a in chassis.alarms()] == ["rotor b stalled"]
    chassis.advance(600)
    assert chassis.commanded >= 70


def test_lamps_speak_the_words_of_the_chart() -> None:
    chart = WEXCOMBE.manifest.lamps
    chassis = Chassis()
    seen = [chassis.lamps()]
    for name in ("dead-replacement", "no-input", "left-empty"):
        other = Chassis()
        scenario(name).perform(other)
        seen.append(other.lamps())
    chassis.pull("psu-2")
    chassis.insert("psu-2", Part("WXS-1", "WXP-600F", "f>b", 600))
    seen.append(chassis.lamps())
    assert {lamps[unit] for lamps in seen for unit in lamps if unit != "chassis"} == set(chart["unit"])
    assert all(set(lamps) == {"chassis", *chassis.bays} for lamps in seen)


def test_the_lamp_of_the_chassis_tells_the_gravest_alarm() -> None:
    chart = WEXCOMBE.manifest.lamps["chassis"]
    chassis = Chassis(configuration=STILL)
    assert chart[chassis.lamps()["chassis"]].condition is Condition.OK
    chassis.creep("cpu", 30)
    while not chassis.alarms():
        chassis.advance(1)
    assert [a.weight for a in chassis.alarms()] == ["note"]
    assert chart[chassis.lamps()["chassis"]].condition is Condition.WARNING
    chassis.cord("psu-2", False)
    assert chart[chassis.lamps()["chassis"]].condition is Condition.FAILED
    chassis.cord("psu-1", False)
    assert chart[chassis.lamps()["chassis"]].condition is Condition.NO_INPUT
    assert {chassis.lamps()[unit] for unit in chassis.fans} == {"dark"}
    assert set(chassis.port_lamps().values()) == {"dark"}


def test_port_lamps_follow_the_links() -> None:
    chassis = Chassis()
    assert set(chassis.port_lamps().values()) == set(WEXCOMBE.manifest.lamps["port"])
    assert [n for n, shown in chassis.port_lamps().items() if shown == "dark"] == ["4"]
    chassis.link_down(8)
    assert [n for n, shown in chassis.port_lamps().items() if shown == "dark"] == ["4", "8"]


def test_direct_current_has_no_power_factor_and_its_sign() -> None:
    chassis = Chassis(configuration=on_direct_current(STILL))
    snapshot = read(captured(chassis))
    assert snapshot.unread == ()
    for sighting in snapshot.sightings:
        if isinstance(supply := sighting.reading, PowerSupply):
            assert supply.input_type == "DC"
            assert supply.input_voltage is not None
            assert supply.input_current is not None
            assert supply.input_power is not None
            # ETSI EN 300 132-2: -40.5 to -57.0 V in normal service; float of a lead-acid plant is -51 to -54 V.
            assert -57.0 <= supply.input_voltage.value <= -51
            watts = abs(supply.input_voltage.value) * supply.input_current.value
            assert watts == pytest.approx(supply.input_power.value, abs=0.5)
    supply_ac = Chassis(configuration=STILL).supplies["psu-1"]
    assert supply_ac.input_power / (supply_ac.input_voltage * supply_ac.input_current) == pytest.approx(0.99)


def test_a_swap_on_direct_current_is_judged_like_any_other() -> None:
    for part, verdict in ((replace(GOOD, line="DC", part_number="WXP-600D"), Verdict.VERIFIED), (GOOD, None)):
        chassis = Chassis(3, on_direct_current(Configuration()))
        before = read(captured(chassis))
        chassis.pull("psu-2")
        chassis.advance(60)
        chassis.insert("psu-2", part)
        chassis.advance(1800)
        judgement = judge(before, read(captured(chassis)), "psu-2", Acceptance())
        assert judgement.verdict is (verdict or Verdict.NOT_VERIFIED)
        assert chassis.supplies["psu-2"].state == ("serving" if verdict else "dark")


def test_a_cord_fits_its_own_kind_of_current() -> None:
    chassis = Chassis()
    chassis.pull("psu-2")
    chassis.insert("psu-2", replace(GOOD, line="DC"))
    assert chassis.supplies["psu-2"].state == "dark"
    with pytest.raises(NoSuchPlace, match="does not fit"):
        chassis.cord("psu-2", True)


def test_a_moved_cord_feeds_from_the_other_feed_after_a_moment_without() -> None:
    chassis = Chassis(configuration=STILL)
    chassis.move_cord("psu-2", "A")
    supply = chassis.supplies["psu-2"]
    assert (supply.state, supply.output_power) == ("resting", 0.0)
    chassis.advance(10)
    assert (supply.state, supply.feed) == ("serving", "A")
    assert supply.input_voltage == chassis.supplies["psu-1"].input_voltage == 231.2
    assert chassis.powered
    chassis.cord("psu-2", False)
    chassis.move_cord("psu-2", "B")
    assert (supply.state, supply.feed) == ("dark", "B")


def test_the_inlet_warms_evenly_and_what_the_fans_do_not_cool_follows_it() -> None:
    chassis = Chassis(configuration=STILL)
    rest = dict(chassis.temperatures)
    chassis.warm_inlet(4, seconds=100)
    chassis.advance(50)
    assert chassis.inlet_air == pytest.approx(23.5)
    chassis.advance(50)
    assert chassis.inlet_air == pytest.approx(25.5)
    chassis.advance(3600)
    assert chassis.inlet_air == pytest.approx(25.5)
    for name in ("inlet", "psu-1", "psu-2"):
        assert chassis.temperatures[name] - rest[name] == pytest.approx(4, abs=0.1)
    assert 0 < chassis.temperatures["asic-1"] - rest["asic-1"] < 4  # the fans turn faster
    chassis.warm_inlet(-4)
    chassis.advance(3600)
    assert chassis.inlet_air == pytest.approx(21.5)


def test_more_load_is_more_heat_and_never_more_than_one_supply_carries_with_a_tenth_to_spare() -> None:
    chassis = Chassis(configuration=STILL)
    load = chassis.load

    def rise_by_watt() -> float:
        return (chassis.temperatures["asic-1"] - chassis.inlet_air) * chassis.flow / chassis.load

    at_rest = rise_by_watt()
    busier(0.15)(chassis)
    assert chassis.load - load == pytest.approx(0.15 * STILL.load)
    chassis.advance(3600)
    assert chassis.flow > 1
    assert rise_by_watt() == pytest.approx(at_rest, rel=0.01)  # sensible heat: q = rho cp V dT
    for watts in (505.0, 519.0, 530.0):
        full = Chassis(configuration=replace(STILL, load=watts))
        before = full.load
        busier(0.15)(full)
        assert before <= full.load <= max(before, 0.9 * 600)


def test_a_supply_that_gives_up_leaves_the_load_to_the_other() -> None:
    chassis = Chassis(configuration=STILL)
    chassis.fail_supply("psu-2")
    assert chassis.supplies["psu-2"].state == "faulted"
    assert chassis.supplies["psu-1"].output_power == pytest.approx(chassis.load)
    assert [(a.place, a.what) for a in chassis.alarms()] == [("psu-2", "output lost")]


def test_what_was_taken_out_can_go_in_again_or_elsewhere() -> None:
    chassis = Chassis()
    first, second = (chassis.fans[unit].part for unit in ("fan-1", "fan-2"))
    chassis.pull("fan-1")
    chassis.pull("fan-2")
    returned("fan-2", out_of="fan-1")(chassis)
    returned("fan-1", out_of="fan-2")(chassis)
    assert (second, first) == (chassis.fans["fan-1"].part, chassis.fans["fan-2"].part)


@pytest.mark.parametrize(
    "deed",
    [
        lambda c: c.pull("psu-3"),
        lambda c: c.insert("psu-1", Part("WXS-1", "WXP-600F", "f>b", 600)),
        lambda c: c.cord("fan-1", False),
        lambda c: c.move_cord("psu-1", "C"),
        lambda c: c.move_cord("fan-1", "A"),
        lambda c: (c.pull("psu-1"), c.fail_supply("psu-1")),
        lambda c: c.fail_fan("fan-1", "c"),
        lambda c: c.link_down(99),
        lambda c: c.creep("nose", 1),
        lambda c: c.vanish_sensor("nose"),
        lambda c: (c.pull("fan-1"), c.pull("fan-1")),
    ],
)
def test_what_is_not_there_cannot_be_handled(deed: Callable[[Chassis], object]) -> None:
    with pytest.raises(NoSuchPlace):
        deed(Chassis())


# What it prints, and what is read of it.


def test_the_layout_is_the_one_of_the_fixtures() -> None:
    def shape(raw: bytes) -> list[str]:
        return re.sub(r"\d", "9", raw.decode()).replace("\r", "").rstrip().splitlines()

    fixture = (shipped("fixtures") / "wexcombe" / "psu-2-replaced" / "before.txt").read_bytes()
    raw = captured(Chassis(configuration=STILL))
    assert [line.rstrip() for line in shape(raw)[2:]] == shape(fixture)
    assert raw.count(b"\r\n") == raw.count(b"\n") == raw.count(b"\r")


@pytest.mark.parametrize("pager", [False, True])
@pytest.mark.parametrize("name", sorted({**SCENARIOS, **GOOD_ONES}))
def test_all_that_is_told_is_read(name: str, pager: bool) -> None:
    chassis = Chassis(1)
    for performed in (False, True):
        if performed:
            scenario(name).perform(chassis)
            chassis.advance(120)
        snapshot = read(captured(chassis, pager, page_lines=4))
        assert snapshot.unread == ()
        assert snapshot.passed_over == ()
        assert [t.cut for t in snapshot.tables] == [""] * len(TELL)
        assert all(t.ended for t in snapshot.tables)
    ill = {
        "dead-replacement": {"psu-2": "failed"},
        "direct-current": {"psu-2": "no-input"},
        "fan-dead-replacement": {"fan-2": "failed"},
        "fan-fails-later": {"fan-1": "failed"},
        "fan-fails-meanwhile": {"fan-3": "failed"},
        "left-empty": {"psu-2": "absent"},
        "no-input": {"psu-2": "no-input"},
        "supply-fails-later": {"psu-2": "failed"},
    }.get(name, {})
    view = View(snapshot, "after")
    well = dict.fromkeys(("psu-1", "psu-2", "fan-1", "fan-2", "fan-3"), "ok")
    assert {u: str(view.condition(u)) for u in view.units} == {**well, **ill}


def test_every_state_that_it_prints_is_a_word_of_the_dialect() -> None:
    chassis = Chassis(1)
    chassis.pull("psu-2")
    chassis.insert("psu-2", Part("WXS-40002", "WXP-300F", "f>b", 300))
    chassis.fail_fan("fan-1", "a")
    chassis.fail_fan("fan-2", health=0.15)
    chassis.pull("fan-3")
    chassis.creep("cpu", 60)
    states = set()
    for _ in range(5):
        chassis.advance(40)
        snapshot = read(captured(chassis, pager=True))
        assert snapshot.unread == ()
        assert "unknown" not in {str(s.reading.condition) for s in snapshot.sightings}
        states |= {s.reading.status_text for s in snapshot.sightings}
    assert {"stalled", "slow", "empty", "hot", "grave"} <= states


def test_log_messages_within_tables_are_passed_over() -> None:
    snapshot = read(captured(Chassis(2), log_every=4))
    assert snapshot.unread == ()
    within = [p for p in snapshot.passed_over if p.table is not None]
    assert len(within) > 4
    assert all(p.reason == "console log message" for p in snapshot.passed_over if p.text.startswith("**"))
    assert len({s.reading.unit for s in snapshot.sightings if s.reading.kind == "fan"}) == 3


# Judged from end to end.

STALLED = {"cooling.baseline", "cooling.own-limits", "cooling.spare", "cooling.status", "service.alarms"}
EXPECTED = {
    "dead-replacement": {
        "power.carries-load",
        "power.output-range",
        "power.redundancy",
        "power.status",
        "service.alarms",
    },
    "direct-current": {
        "identity.part",
        "power.carries-load",
        "power.input-range",
        "power.input-type",
        "power.output-range",
        "power.redundancy",
        "power.status",
        "service.alarms",
    },
    "exchanged": {"identity.replaced"},
    "fan-dead-replacement": {*STALLED},
    "fan-fails-later": {*STALLED},
    "fan-fails-meanwhile": {*STALLED},
    "fan-reversed-airflow": {"cooling.airflow", "identity.part", "temperature.rise"},
    "fan-weak-rotor": {"cooling.baseline", "cooling.duty"},
    "left-empty": {
        "identity.replaced",
        "power.carries-load",
        "power.redundancy",
        "power.status",
        "temperature.vanished",
    },
    "link-down": {"service.links"},
    "no-input": {
        "power.carries-load",
        "power.input-range",
        "power.output-range",
        "power.redundancy",
        "power.status",
        "service.alarms",
    },
    "reload": {"service.uptime"},
    # The supply breathes what the chassis has warmed: that shows as well.
    "reversed-airflow": {"cooling.airflow", "identity.part", "temperature.rise"},
    "same-serial": {"identity.replaced"},
    "sensor-over-warning": {"service.alarms", "temperature.limits", "temperature.rise", "temperature.status"},
    "sensor-vanished": {"temperature.vanished"},
    "slow-creep": {"temperature.rise"},
    "supply-fails-later": {
        "power.carries-load",
        "power.output-range",
        "power.redundancy",
        "power.status",
        "service.alarms",
    },
    "too-small": {"identity.part", "power.redundancy"},
    "wrong-slot": {"identity.others", "identity.replaced"},
}


def test_scenarios_of_the_demonstration_have_a_case_each() -> None:
    cases = (shipped("fixtures") / "wexcombe").glob("*/case.toml")
    named = {m.group(1) for c in cases if (m := re.search(r'(?m)^demo = "(.+)"$', c.read_text(encoding="utf-8")))}
    assert named <= set(SCENARIOS)
    with pytest.raises(NoSuchScenario, match="fan-replaced"):
        scenario("flood")


def test_good_and_bad_ones_are_told_apart() -> None:
    assert set(SCENARIOS) & set(GOOD_ONES) == {"none"}
    assert set(SCENARIOS) == {"none", *EXPECTED}
    assert {s.verdict for s in GOOD_ONES.values()} == {"verified"}
    assert {s.verdict for name, s in SCENARIOS.items() if name != "none"} == {"not-verified"}
    for name, played in {**SCENARIOS, **GOOD_ONES}.items():
        assert (name, played) == (played.name, scenario(name))
        assert played.title.startswith("A good swap") is (played.verdict == "verified")


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", sorted({**SCENARIOS, **GOOD_ONES}))
def test_each_ends_in_what_a_careful_engineer_must_answer(name: str, seed: int) -> None:
    judgement, _ = rehearsed(name, seed, minutes=40, site=varied(seed) if seed else None)
    assert str(judgement.verdict) == scenario(name).verdict


def test_both_cords_on_one_feed_are_not_enough_where_the_loss_of_a_feed_must_be_borne() -> None:
    # Trade definition: N+N has N on each of two independent feeds.
    chassis = Chassis(1)
    before = read(captured(chassis))
    scenario("one-feed").perform(chassis)
    chassis.advance(1800)
    two_feeds = Acceptance.model_validate({"power": {"redundancy": "N+N"}})
    judgement = judge(before, read(captured(chassis)), "psu-2", two_feeds)
    assert judgement.verdict is Verdict.NOT_VERIFIED
    assert "power.redundancy" in broken(judgement)


# Sites.


@pytest.mark.parametrize("seed", range(100))
def test_a_varied_site_is_well_at_rest(seed: int) -> None:
    site = varied(seed)
    assert site == varied(seed) != varied(seed + 1)
    assert 200 <= site.load <= 520
    assert 18 <= site.inlet <= 29
    for sensor, usual in zip(site.sensors, Configuration().sensors, strict=True):
        assert 0.6 <= sensor.tau / usual.tau <= 1.4
    chassis = Chassis(seed, site)
    for _ in range(2):
        snapshot = read(captured(chassis))
        view = View(snapshot, "before")
        assert snapshot.unread == ()
        assert view.of("alarm") == []
        assert {view.condition(unit) for unit in view.units} == {Condition.OK}
        assert {s.reading.condition for s in view.of("temperature")} == {Condition.OK}
        load = load_of(view)
        assert load is not None
        assert fits_after_loss(load.total, {"psu-1": 600, "psu-2": 600}, {"psu-1"}, headroom_percent=10)
        chassis.advance(900)


@pytest.mark.parametrize("seed", range(10))
def test_a_good_swap_is_verified(seed: int) -> None:
    judgement, _ = rehearsed("none", seed)
    assert judgement.verdict is Verdict.VERIFIED


# The hot sensor drives all fans to twice their speed, which no other text of this swap bears out.
OPEN = {"sensor-over-warning": {"cooling.together"}, "sensor-vanished": {"power.peers-tell-alike"}}


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_a_fault_is_not_verified(name: str, seed: int) -> None:
    judgement, _ = rehearsed(name, seed)
    assert judgement.verdict is Verdict.NOT_VERIFIED
    assert broken(judgement) == EXPECTED[name]
    assert broken(judgement, Outcome.UNDETERMINED) == OPEN.get(name, set())


def test_a_good_fan_swap_is_verified() -> None:
    chassis = Chassis(4)
    before = read(captured(chassis))
    chassis.pull("fan-2")
    chassis.advance(60)
    assert chassis.commanded > 60
    chassis.insert("fan-2", Part("WXF-20871", "WXF-40F", "f>b", 18800))
    chassis.advance(1800)
    assert judge(before, read(captured(chassis)), "fan-2", Acceptance()).verdict is Verdict.VERIFIED


def test_a_noisy_line_never_makes_a_fault_verified() -> None:
    for seed in range(25):
        chassis = Chassis(seed)
        line = Line(None, flip=0.002, drop=0.001, seed=seed)
        captures = []
        for _ in range(2):
            line.send(captured(chassis), chassis.seconds)
            captures.append(read(line.arrived(chassis.seconds)))
            if len(captures) == 1:
                scenario("dead-replacement").perform(chassis)
                chassis.advance(600)
        assert judge(captures[0], captures[1], "psu-2", Acceptance()).verdict is not Verdict.VERIFIED


# The command line.


def test_login_answers_a_wrong_word_late_and_closes_after_three() -> None:
    chassis = Chassis()
    shell = Shell(chassis, Options(keeper="warden", word="ebb"))
    assert typed(shell, "") == b"\r\ntern-04 keeper: "
    assert typed(shell, "warden") == b"warden\r\nword: "
    assert typed(shell, "flood") == b"\r\n"  # never echoed
    assert shell.output(2.4) == b""
    assert shell.output(2.5) == b"?? wrong keeper or word\r\ntern-04 keeper: "
    assert typed(shell, "warden", "ebb") == b"warden\r\nword: \r\n" + PROMPT
    assert typed(shell, "farewell") == b"farewell\r\n\r\ntern-04 keeper: "
    for attempt in range(3):
        typed(shell, "warden", "flood")
        chassis.advance(3)
        answer = shell.output(chassis.seconds)
        assert answer == (b"?? too many tries\r\n" if attempt == 2 else b"?? wrong keeper or word\r\ntern-04 keeper: ")
    assert typed(shell, "warden") == b""
    chassis.advance(40)
    assert b"keeper: " in shell.output(chassis.seconds)


def test_modes_and_their_prompts() -> None:
    shell = Shell(Chassis())
    assert typed(shell, "") == b"\r\n" + PROMPT
    assert typed(shell, "alter") == b"alter\r\n?? not a word I know: alter\r\n" + PROMPT
    assert typed(shell, "rise", "lantern") == b"rise\r\nword: \r\ntern-04 ~# "
    assert typed(shell, "alter") == b"alter\r\ntern-04 {alter} ~# "
    assert typed(shell, "tell self", "ports off") == (
        b"tell self\r\n?? not while altering\r\ntern-04 {alter} ~# ports off\r\ntern-04 {alter} ~# "
    )
    assert typed(shell, "done", "farewell") == b"done\r\ntern-04 ~# farewell\r\n\r\npress return\r\n"
    assert shell.typed["alter"] == b"tell self\rports off\rdone\r"


@pytest.mark.parametrize("start", ["user", "rise", "alter"])
def test_prompts_are_told_apart_by_the_dialect(start: str) -> None:
    console = WEXCOMBE.manifest.console
    shell = Shell(Chassis(), Options(start=start))  # type: ignore[arg-type]
    prompt = typed(shell, "").decode().splitlines()[-1]
    assert bool(console.prompt and re.match(console.prompt, prompt)) is (start != "alter")
    assert bool(console.privileged and re.match(console.privileged, prompt)) is (start == "rise")
    assert bool(console.configuring and re.match(console.configuring, prompt)) is (start == "alter")


def test_backspace_and_unknown_words() -> None:
    shell = Shell(Chassis(), Options(start="user"))
    shell.feed(b"tallx\x7f\b\b\x08ell\r")
    answer = shell.output(0)
    assert answer.count(b"\b \b") == 4
    assert b"?? tell what: self, power" in answer
    assert typed(shell, "erase all") == b"erase all\r\n?? not a word I know: erase all\r\n" + PROMPT
    assert b"?? tell what: " in typed(shell, "tell heap")


def test_pager_stops_every_ten_lines_and_is_rubbed_out() -> None:
    shell = Shell(Chassis(), Options(start="user"))
    shell.feed(b"tell ports\r")
    first = shell.output(0)
    assert first.endswith(MORE.encode())
    assert first.count(b"\r\n") == 1 + 10
    shell.feed(b"q")
    blanks = b" " * len(MORE)
    assert shell.output(0) == b"\r" + blanks + b"\rEND PORTS, 8 rows\r\n" + PROMPT
    assert MORE.encode() not in typed(shell, "pause off", "tell ports")
    assert MORE.encode() in typed(shell, "pause on", "tell ports")


def test_a_log_message_leaves_what_was_typed_on_the_line() -> None:
    chassis = Chassis()
    shell = Shell(chassis, Options(start="user", log_every=10, journal=True))
    shell.feed(b"tell po")
    assert shell.output(0) == b"tell po"
    chassis.advance(10)
    assert re.fullmatch(rb"\r\n\*\* 06:12:50 [a-z0-9 .]+\r\n" + PROMPT + b"tell po", shell.output(10))
    chassis.cord("psu-2", False)
    assert b"** 06:12:50 psu-2 no input\r\n" in shell.output(10)


def test_an_idle_session_ends() -> None:
    chassis = Chassis()
    shell = Shell(chassis, Options(start="user", idle=60))
    assert typed(shell, "") == b"\r\n" + PROMPT
    chassis.advance(59)
    assert shell.output(chassis.seconds) == b""
    chassis.advance(1)
    assert shell.output(chassis.seconds) == b"\r\n** 06:13:40 nobody typed, session ended\r\n\r\npress return\r\n"


def test_reload_speaks_and_a_key_too_early_lands_in_the_boot_loader() -> None:
    chassis = Chassis()
    shell = Shell(chassis, Options(start="user"))
    chassis.reload()
    console = WEXCOMBE.manifest.console
    out = b""
    for _ in range(90):
        chassis.advance(1)
        shell.feed(b"" if chassis.awake < 6 else b"\r")
        out += shell.output(chassis.seconds)
    lines = out.decode().splitlines()
    assert all(any(re.match(b, line) for b in console.booting) for line in lines if "stage" in line)
    assert "press return" in lines
    assert all(up for port, up in chassis.links() if port.up)
    chassis.reload()
    chassis.advance(2)
    shell.output(chassis.seconds)
    shell.feed(b"\r")
    assert re.search(console.booting[-1], shell.output(chassis.seconds).decode())
    chassis.advance(600)
    assert not any(up for _, up in chassis.links())
    assert b"waking stage 1" in typed(shell, "wake")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            b"\r|\r\n|tell po|tell ports\r|tell heat\r|wer|\b| |\x00|\xff|pause off\r|farewell\r|rise\r|lantern\r|alter\r"
            b"|done\r|warden\r|ebb\r".split(b"|")
        ),
        max_size=25,
    ).map(b"".join),
    st.lists(st.integers(0, 200), max_size=12),
    st.booleans(),
)
def test_it_makes_no_difference_how_typing_is_cut(keys: bytes, cuts: list[int], login: bool) -> None:
    options = Options(keeper="warden" if login else None, word="ebb", page_lines=4)
    chassis = Chassis(configuration=STILL)
    whole, pieces = Shell(chassis, options), Shell(chassis, options)
    whole.feed(keys)
    out = b""
    edges = [0, *sorted(c for c in cuts if c < len(keys)), len(keys)]
    for start, end in pairwise(edges):
        pieces.feed(keys[start:end])
        out += pieces.output(0)
    assert whole.output(0) + whole.output(5) == out + pieces.output(5)
    assert whole.typed == pieces.typed


# The line.


def test_a_line_delivers_at_most_its_rate() -> None:
    line = Line(9600)
    line.send(bytes(5000), 0.0)
    assert line.arrived(0.0) == b""
    arrived = 0
    for tenth in range(1, 60):
        arrived += len(line.arrived(tenth / 10))
        assert arrived <= 960 * tenth / 10
        assert arrived >= min(5000, 960 * tenth / 10 - 1)
    assert arrived == 5000
    assert not line.busy


def test_a_line_is_the_same_for_the_same_seed() -> None:
    data = bytes(range(256)) * 40
    first, second, other = (Line(None, 0.02, 0.02, seed) for seed in (1, 1, 2))
    for line in (first, second, other):
        line.send(data, 0)
    received = first.arrived(0)
    assert received == second.arrived(0) != other.arrived(0)
    assert 0.96 * len(data) < len(received) < len(data)
    quiet = Line()
    quiet.send(data, 0)
    assert quiet.arrived(0) == data
    with pytest.raises(ValueError, match="chances"):
        Line(9600, flip=2)


# Served.


def until(receive: Callable[[], bytes], end: bytes, seconds: float = 20) -> bytes:
    got, limit = b"", time.monotonic() + seconds
    while not got.endswith(end):
        assert time.monotonic() < limit, got
        got += receive()
    return got


def talk(sock: socket.socket, *lines: str) -> bytes:
    out = b""
    for line in lines:
        sock.sendall(line.encode() + b"\r")
        out += until(lambda: sock.recv(4096), PROMPT)
    return out


def test_tcp_serving_and_acting_meanwhile() -> None:
    chassis = Chassis(5)
    with (
        served_tcp(lambda: Shell(chassis, Options(start="user")), time_factor=100) as address,
        socket.create_connection(address, timeout=20) as sock,
    ):
        before = read(talk(sock, "", "pause off", *TELL))
        scenario("none").perform(chassis)
        chassis.advance(1800)
        after = read(talk(sock, *TELL))
        with socket.create_connection(address, timeout=20) as second:
            assert b"SELF" in talk(second, "", "tell self")
    assert judge(before, after, "psu-2", Acceptance()).verdict is Verdict.VERIFIED
    assert not [t for t in threading.enumerate() if t.name.startswith("rehearsal")]


def test_tcp_is_as_slow_as_its_line_and_hangs_up() -> None:
    chassis = Chassis()
    options = Options(start="user", paused=False, hang_up=True)
    with (
        served_tcp(lambda: Shell(chassis, options), line=Line(19200)) as address,
        socket.create_connection(address, timeout=20) as sock,
    ):
        started = time.monotonic()
        got = talk(sock, "tell power")
        assert time.monotonic() - started >= (len(got) + len("tell power\r")) / 1920 * 0.9
        sock.sendall(b"farewell\r")
        assert until(lambda: sock.recv(4096) or b"<end>", b"<end>") == b"farewell\r\n<end>"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo terminals")
def test_pty_serving() -> None:
    with served_pty(lambda: Shell(Chassis(), Options(paused=False))) as path:
        fd = os.open(path, os.O_RDWR | os.O_NOCTTY)
        try:
            os.write(fd, b"\r")
            until(lambda: os.read(fd, 4096), PROMPT)
            os.write(fd, b"tell fans\r")
            assert read(until(lambda: os.read(fd, 4096), PROMPT)).tables[0].rows == 6
        finally:
            os.close(fd)
    assert not [t for t in threading.enumerate() if t.name.startswith("rehearsal")]


def test_stdio_serving_ends_with_its_input() -> None:
    options = ["--seed=7", "--start=user", "--time-factor=10", "--bits-per-second=9600", "--page-lines=50"]
    done = subprocess.run(
        [sys.executable, "-m", "consolecheck.rehearsal", "--stdio", *options],
        input="".join(f"{line}\r" for line in TELL).encode(),
        capture_output=True,
        check=True,
        timeout=60,
        cwd=ROOT,
    )
    assert done.stderr == b""
    snapshot = read(PROMPT + done.stdout)
    assert snapshot.unread == ()
    assert [t.table for t in snapshot.tables] == ["self", "power", "fans", "heat", "parts", "ports", "alarms"]


def test_stdio_serving_hangs_up_at_farewell_with_its_input_open() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "consolecheck.rehearsal", "--stdio", "--start", "user", "--hang-up"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=ROOT,
    ) as running:
        assert running.stdin is not None
        assert running.stdout is not None
        running.stdin.write(b"farewell\r")
        running.stdin.flush()
        assert running.stdout.read() == b"farewell\r\n"
        assert running.wait(20) == 0


def test_a_schedule_runs_its_steps_in_time() -> None:
    chassis = Chassis()
    schedule = Schedule(scenario("none"), 30)
    serials = []
    for _ in range(120):
        chassis.advance(1)
        schedule.run_due(chassis)
        part = chassis.supplies["psu-2"].part
        serials.append(part.serial if part else None)
    assert serials[48] == "WXS-20433"
    assert serials[49:109] == [None] * 60
    assert serials[109] == "WXS-31902"
