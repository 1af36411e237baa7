"""A good word that the same text gainsays: a case for each way, in whole texts, and what must not be doubted."""

import pytest
from support import case, findings, q, snapshot
from test_plausible import SUPPLY, doubted
from test_plausible import findings as of_texts
from wholly_told import printed

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, judged
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.rules import gainsaid
from consolecheck.records.findings import Outcome, Verdict
from consolecheck.records.readings import (
    Alarm,
    AnyReading,
    Condition,
    Fan,
    Inventory,
    PowerSupply,
    Sighting,
    Temperature,
)

OK, FAILED, ABSENT, STANDBY = Condition.OK, Condition.FAILED, Condition.ABSENT, Condition.STANDBY
RULES = [rule.id for rule in gainsaid.RULES]
ALARMS, TABLES, FIGURES, SIGN, LIMIT, DUTY, PEERS = RULES
ELSEWHERE, PLAIN = "wexcombe/standing-fan-fault-elsewhere", "openconfig_platform/psu-2-replaced-plain-numbers"
NO_ALARM = "END ALARMS, 0 rows"
STANDS = "  2026-11-18T06:12:02Z  grave   psu-2    no input\nEND ALARMS, 1 row"
FED = "  2    serving   B     AC    230.9  0.90  207.0  12.05  15.80  190.4  600      f>b"
WAS_FED = "  2    serving   B     AC    230.6  0.90  208.5  12.06  15.90  191.8  600      f>b"
NOT_FED = "  2    dark      B     AC    0.0    0.00  0.0    0.00   0.00   0.0    600      f>b"
EMPTY = "  2    empty     -     -     -      -     -      -      -      -      -        -"


def doubts(rule: str, before: list[AnyReading], after: list[AnyReading], unit: str = "psu-2") -> list[str]:
    """Subjects that a rule doubts: and it says nothing worse, and always what to do next."""
    found = findings(rule, case(snapshot(*before), snapshot(*after), unit))
    assert all(f.outcome is Outcome.UNDETERMINED and f.hint for f in found)
    return [f.subject for f in found]


def supply(unit: str, condition: Condition = OK, **figures: str) -> PowerSupply:
    return PowerSupply(unit=unit, condition=condition, **{name: q(figure) for name, figure in figures.items()})


def alarm(unit: str | None, name: str, condition: Condition = FAILED) -> Alarm:
    return Alarm(unit=unit, name=name, condition=condition)


# ---- whole texts


def test_a_good_word_beside_the_alarm_of_the_part_that_came_out() -> None:
    edits = [
        ("before", NO_ALARM, STANDS),
        ("after", NO_ALARM, STANDS),
        ("before", WAS_FED, NOT_FED),
    ]
    verdict, found = of_texts(SUPPLY, edits)
    assert (verdict, doubted(ALARMS, found)) == (Verdict.INCONCLUSIVE, ["psu-2"])
    assert of_texts(SUPPLY, [edits[0], edits[2]])[0] is Verdict.VERIFIED


def test_a_baseline_that_calls_the_slot_empty_and_lists_the_part_in_it() -> None:
    verdict, found = of_texts(SUPPLY, [("before", WAS_FED, EMPTY)])
    assert (verdict, doubted(TABLES, found)) == (Verdict.INCONCLUSIVE, ["psu-2"])


@pytest.mark.parametrize(
    ("now", "rule"),
    [
        ("12.05  15.80  0.0  ", FIGURES),
        ("12.05  0.00   190.4", FIGURES),
        ("0.00   15.80  190.4", FIGURES),
        ("0.00   0.00   0.0  ", FIGURES),
        ("12.05  15.80  90.4 ", "power.adds-up"),
    ],
)
def test_a_supply_that_serves_and_gives_nothing(now: str, rule: str) -> None:
    edits = [("after", "12.05  15.80  190.4", now), ("before", WAS_FED, NOT_FED)]
    verdict, found = of_texts(SUPPLY, edits)
    assert set(doubted(rule, found)) == {"psu-2"}
    assert verdict is not Verdict.VERIFIED


@pytest.mark.parametrize("now", ["0.0    0.90  207.0", "230.9  0.00  207.0", "230.9  0.90  0.0  "])
def test_a_supply_that_serves_on_no_input(now: str) -> None:
    edits = [("after", "230.9  0.90  207.0", now), ("before", WAS_FED, NOT_FED)]
    verdict, found = of_texts(SUPPLY, edits)
    assert doubted(FIGURES, found) == ["psu-2"]
    assert verdict is not Verdict.VERIFIED


@pytest.mark.parametrize(
    ("was", "now", "rule"),
    [
        ("8520", "0   ", "cooling.own-limits"),
        ("57.5   0.0     95.0    105.0  easy", "57.5   0.0     45.0    55.0   easy", "temperature.limits"),
        ("psu-2    fitted ", "psu-2    empty  ", "power.status"),
        ("  2    serving ", "  2    faulted ", "power.status"),
    ],
)
def test_what_other_rules_find_against_a_good_word(was: str, now: str, rule: str) -> None:
    """A fan that turns at nought, a sensor beyond its own limit, a part that one of two tables does not show."""
    verdict, found = of_texts(SUPPLY, [("after", was, now)])
    assert verdict is not Verdict.VERIFIED
    assert doubted(rule, found)


@pytest.mark.parametrize("case", cases_of(shipped("fixtures")), ids=lambda c: c.place)
def test_no_text_that_was_rightly_read_gainsays_itself(case: Case) -> None:
    if case.file.claims.verdict is Verdict.VERIFIED:
        found = judged(case, dialects()).judgement.findings
        assert [f.message for f in found if f.rule in RULES] == []


# ---- alarms


def test_an_alarm_of_the_replaced_unit_that_stood_before_and_still_stands() -> None:
    before: list[AnyReading] = [supply("psu-1"), supply("psu-2", FAILED), alarm("psu-2", "output lost")]
    after: list[AnyReading] = [supply("psu-1"), supply("psu-2"), alarm("psu-2", "output lost")]
    assert doubts(ALARMS, before, after) == ["psu-2"]
    assert doubts(ALARMS, before, [*after, alarm("psu-2", "output lost", OK)]) == []  # the last word of a list counts
    assert doubts(ALARMS, before, after[:2]) == []
    assert doubts(ALARMS, before, [supply("psu-1"), supply("psu-2", FAILED), after[2]]) == []  # it says so itself


def test_an_alarm_of_another_unit_counts_where_that_was_ill_before() -> None:
    stands = alarm("fan-1", "too slow")
    ill, well = Fan(unit="fan-1", condition=FAILED), Fan(unit="fan-1", condition=OK)
    assert doubts(ALARMS, [supply("psu-2"), ill, stands], [supply("psu-2"), well, stands]) == ["fan-1"]
    assert doubts(ALARMS, [supply("psu-2"), well, stands], [supply("psu-2"), well, stands]) == []


@pytest.mark.parametrize(
    ("name", "speaks"), [("PSU 2 failed", True), ("psu-2: no input", True), ("PSU 21 failed", False), ("fan 2", False)]
)
def test_an_alarm_that_names_the_unit_in_its_text(name: str, speaks: bool) -> None:
    before: list[AnyReading] = [supply("psu-1"), supply("psu-2", FAILED), alarm(None, name)]
    after: list[AnyReading] = [supply("psu-1"), supply("psu-2"), alarm(None, name)]
    assert (doubts(ALARMS, before, after) == ["psu-2"]) is speaks


# ---- tables


@pytest.mark.parametrize(
    "there",
    [
        Inventory(unit="psu-1", serial="TERN-0417"),
        Inventory(unit="psu-1", condition=OK),
        Fan(unit="psu-1", name="f", speed=q("8000 rpm")),
    ],
)
def test_a_slot_that_one_table_calls_empty_and_another_one_fills(there: AnyReading) -> None:
    new = supply("psu-2")
    assert doubts(TABLES, [supply("psu-1"), new], [supply("psu-1", ABSENT), there, new]) == ["psu-1"]
    assert doubts(TABLES, [supply("psu-1", ABSENT), there, new], [supply("psu-1"), there, new]) == ["psu-1"]
    both: list[AnyReading] = [supply("psu-1", ABSENT), there, new]
    assert doubts(TABLES, both, both) == []  # so this device prints


@pytest.mark.parametrize(
    "there",
    [
        Inventory(unit="psu-1", serial="N/A"),
        Inventory(unit="psu-1", condition=ABSENT, serial="TERN-0417"),
        Fan(unit="psu-1", name="f", speed=q("0 rpm")),
    ],
)
def test_an_empty_slot_that_every_table_calls_so(there: AnyReading) -> None:
    new = supply("psu-2")
    assert doubts(TABLES, [supply("psu-1"), new], [supply("psu-1", ABSENT), there, new]) == []


# ---- figures


def test_a_new_supply_that_shows_no_current_beside_one_that_does() -> None:
    before = [supply("psu-1", input_current="0.90 A"), supply("psu-2", FAILED, input_current="0.00 A")]
    after = [supply("psu-1", input_current="3.10 A"), supply("psu-2", input_current="0.00 A")]
    assert doubts(FIGURES, [*before], [*after]) == ["psu-2"]
    assert doubts(FIGURES, [*before], [after[0], supply("psu-2", STANDBY, input_current="0.00 A")]) == []
    assert doubts(FIGURES, [*before], [after[0], supply("psu-2", input_current="0.01 A")]) == []


def test_nought_that_may_be_rounding_or_is_not_measured() -> None:
    before: list[AnyReading] = [supply("psu-1"), supply("psu-2", FAILED)]
    rounded: list[AnyReading] = [supply("psu-1", input_current="2 A"), supply("psu-2", input_current="0 A")]
    assert doubts(FIGURES, before, rounded) == []
    nowhere: list[AnyReading] = [supply("psu-1", input_power="0 W"), supply("psu-2", input_power="0 W")]
    assert doubts(FIGURES, before, nowhere) == []
    so_before: list[AnyReading] = [supply("psu-1", input_power="90 W"), supply("psu-2", input_power="0 W")]
    assert doubts(FIGURES, so_before, so_before) == []


@pytest.mark.parametrize(
    ("shown", "unit", "outcome"),
    [
        ("0.03", "A", ["psu-2"]),
        ("0.02", "A", []),
        ("3", "A", ["psu-2"]),
        ("2", "A", []),
        ("20.1", "A", ["psu-2"]),
        ("1500", "mA", ["psu-2"]),
        ("3", "mA", ["psu-2"]),
        ("2", "mA", []),
    ],
)
def test_nought_beside_so_many_last_digits_is_no_rounding(shown: str, unit: str, outcome: list[str]) -> None:
    """More than two steps of the last digit that is printed, in whatever unit."""

    def row(of: str, amps: str, line: int) -> Sighting:
        return printed(supply(of, input_current=f"{amps} {unit}"), line, unit=of, input_current=amps)

    texts = [snapshot(supply("psu-1"), supply("psu-2", FAILED)), snapshot(row("psu-1", shown, 1), row("psu-2", "0", 2))]
    assert [d.subject for d in gainsaid.by_figures(case(*texts, "psu-2"))] == outcome


def test_nought_in_although_something_comes_out() -> None:
    before: list[AnyReading] = [supply("psu-2", FAILED)]
    assert doubts(FIGURES, before, [supply("psu-2", input_power="0 W", output_power="5.1 W")]) == ["psu-2"]
    assert doubts(FIGURES, before, [supply("psu-2", input_power="0 W", output_power="5.0 W")]) == []
    volts = supply("psu-2", input_voltage="0 V", output_voltage="12.0 V", output_current="4.0 A")
    assert doubts(FIGURES, before, [volts]) == ["psu-2"]


def test_nought_in_the_baseline_of_a_supply_that_was_well() -> None:
    well = [supply("psu-1", output_power="90 W"), supply("psu-2", output_power="80 W")]
    dead = [supply("psu-1", output_power="0 W"), supply("psu-2", output_power="170 W")]
    assert doubts(FIGURES, [*dead], [*well]) == ["psu-1"]


# ---- a fault behind another one


STANDING = "wexcombe/standing-fan-fault-elsewhere"


@pytest.mark.parametrize(
    ("word", "verdict"),
    [("turning", Verdict.NOT_VERIFIED), ("standby", Verdict.INCONCLUSIVE), ("stalled", Verdict.NOT_VERIFIED)],
)
def test_a_rotor_that_fails_behind_a_rotor_of_its_module_that_had_failed(word: str, verdict: Verdict) -> None:
    """The module is told by its worst rotor, before and after alike."""
    was = "  2    b      slow     45      7380"
    told, found = of_texts(STANDING, [("before", was, was.replace("slow   ", word.ljust(7)))])
    assert told is verdict
    assert doubted("service.behind-another", found) == ["fan-2 2b"]
    assert doubted("service.behind-another", of_texts(STANDING, [])[1]) == []


def test_a_rotor_that_says_what_nobody_knows_behind_one_of_its_module_that_had_failed() -> None:
    failed = ("  2    a      slow ", "  2    a      stalled ")
    row = "  2    b      slow     45      7380"
    well, now = (row.replace("slow   ", w.ljust(7)) for w in ("turning", "braking"))
    edits = [("before", *failed), ("after", *failed), ("before", row, well)]
    told, found = of_texts(STANDING, [*edits, ("after", row, now)])
    assert (told, doubted("service.behind-another", found)) == (Verdict.INCONCLUSIVE, ["fan-2 2b"])
    assert of_texts(STANDING, [*edits, ("after", row, well)])[0] is Verdict.VERIFIED


def test_which_fault_of_a_unit_stood_before() -> None:
    rule = "service.behind-another"
    slow, failed, well = (Fan(unit="fan-1", name="b", condition=c) for c in (Condition.WARNING, FAILED, OK))
    one, new = Fan(unit="fan-1", name="a", condition=FAILED), supply("psu-2")

    def told(before: list[AnyReading], after: list[AnyReading], unit: str = "psu-2") -> list[Outcome]:
        return [f.outcome for f in findings(rule, case(snapshot(new, *before), snapshot(new, *after), unit))]

    assert told([one, well], [one, slow]) == [Outcome.UNMET]
    assert told([one, slow], [one, failed]) == [Outcome.UNDETERMINED]
    assert told([one], [one, slow]) == [Outcome.UNDETERMINED]
    assert told([one, slow], [one, slow]) == []
    assert told([one, slow], [one, well]) == []
    untold, idle = (Fan(unit="fan-1", name="b", condition=c) for c in (Condition.UNKNOWN, STANDBY))
    assert told([one, well], [one, untold]) == told([one, well], [one, idle]) == [Outcome.UNDETERMINED]
    assert told([one, untold], [one, untold]) == []
    assert told([well], [slow]) == []  # the unit itself tells of it
    assert told([one, well], [one, slow], "fan-1") == []


# ---- a sign, a limit, a drive


@pytest.mark.parametrize(("side", "watts"), [("after", "186.0"), ("after", "190.0"), ("before", "190.0")])
def test_a_supply_that_gives_less_than_nought(side: str, watts: str) -> None:
    edit = (side, f'output-power": {watts}', f'output-power": -{watts}')
    verdict, found = of_texts(PLAIN, [edit])
    assert doubted(SIGN, found)
    assert verdict is not Verdict.VERIFIED


def test_a_figure_below_one_that_turned_round_is_no_offset() -> None:
    edit = ("before", 'input-current": 0.92', 'input-current": -0.92')
    verdict, found = of_texts(PLAIN, [edit])
    assert (verdict, doubted(SIGN, found)) == (Verdict.INCONCLUSIVE, ["psu-1"])
    well = [supply("psu-1", input_current="0.92 A"), supply("psu-2", input_current="0.9 A")]

    def told(current: str) -> list[str]:
        return doubts(SIGN, well, [supply("psu-1", input_current=current), supply("psu-2", input_current="0.9 A")])

    assert ["psu-1"] == told("-0.92 A") == told("-0.3 A")
    assert [] == told("-0.1 A"), "an offset of a sensor that measures nothing"
    faint = [supply("psu-1", input_current="0.05 A"), supply("psu-2", input_current="0.9 A")]
    assert [] == doubts(SIGN, faint, [supply("psu-1", input_current="-0.5 A"), supply("psu-2", input_current="0.9 A")])


def test_feeds_that_all_print_below_nought_are_how_the_device_prints() -> None:
    feeds = [supply(u, input_current="-3.1 A", output_power="120 W") for u in ("psu-1", "psu-2")]
    assert [] == doubts(SIGN, feeds, feeds)
    offset = [supply("psu-1", output_power="-0.5 W"), supply("psu-2", output_power="120 W")]
    assert [] == doubts(SIGN, offset, offset)
    lone = [supply("psu-1", output_power="-80 W"), supply("psu-2", output_power="120 W")]
    assert ["psu-1"] == doubts(SIGN, [supply("psu-1"), supply("psu-2")], lone)
    assert [] == doubts(SIGN, lone, lone)


def test_a_word_turned_good_beside_turns_that_stay_below_the_least() -> None:
    edit = ("after", "  2    a      slow     45      2380", "  2    a      normal   45      2380")
    verdict, found = of_texts(ELSEWHERE, [edit])
    assert (verdict, doubted(LIMIT, found)) == (Verdict.INCONCLUSIVE, ["fan-2 2a"])
    told, _ = of_texts(
        ELSEWHERE, [("after", "  2    a      slow     45      2380", "  2    a      turning  45      8380")]
    )
    assert told is not Verdict.NOT_VERIFIED


def test_a_word_beyond_a_limit_in_both_captures_is_how_the_device_prints() -> None:
    def fan(condition: Condition, speed: str) -> Fan:
        return Fan(unit="fan-2", condition=condition, speed=q(speed), low_critical=q("2400 rpm"))

    def told(was: Fan, now: Fan) -> list[str]:
        return doubts(LIMIT, [supply("psu-2"), was], [supply("psu-2"), now])

    slow, good, fast = fan(FAILED, "2380 rpm"), fan(OK, "2380 rpm"), fan(OK, "8380 rpm")
    assert ["fan-2"] == told(slow, good) == told(good, slow)
    assert [] == told(good, good) == told(slow, fast) == told(slow, slow)
    back = fan(FAILED, "4316 rpm")
    assert ["fan-2"] == told(slow, back) == told(back, slow)
    assert [] == told(back, back) == told(slow, fan(FAILED, "2450 rpm")) == told(fan(FAILED, "0 rpm"), back)


@pytest.mark.parametrize("side", ["before", "after"])
def test_a_fan_that_turns_as_before_and_is_driven_at_nought(side: str) -> None:
    verdict, found = of_texts(ELSEWHERE, [(side, "  2    b      slow     45 ", "  2    b      slow     0  ")])
    assert (verdict, doubted(DUTY, found)) == (Verdict.INCONCLUSIVE, ["fan-2 2b"])


def test_a_drive_that_is_never_told_and_a_fan_that_stands_still_are_not_doubted() -> None:
    def fan(speed: str, duty: str) -> Fan:
        return Fan(unit="fan-2", condition=OK, speed=q(speed), speed_percent=q(duty))

    def told(was: Fan, now: Fan) -> list[str]:
        return doubts(DUTY, [supply("psu-2"), was], [supply("psu-2"), now])

    assert [] == told(fan("7380 rpm", "0 %"), fan("7400 rpm", "0 %"))
    assert [] == told(fan("7380 rpm", "45 %"), fan("0 rpm", "0 %"))
    assert ["fan-2"] == told(fan("7380 rpm", "45 %"), fan("7400 rpm", "0 %"))


# ---- supplies of one part


HEAT_OF_IT = "  psu-2   {}   0.0     60.0    70.0   easy\n"


def test_a_sensor_that_is_gone_from_both_captures_is_missed_beside_the_other_supply_of_its_part() -> None:
    def without(side: str, degrees: str) -> list[tuple[str, str, str]]:
        return [(side, HEAT_OF_IT.format(degrees), ""), (side, "END HEAT POINTS, 6 rows", "END HEAT POINTS, 5 rows")]

    verdict, found = of_texts(SUPPLY, [*without("before", "36.5"), *without("after", "34.5")])
    assert (verdict, set(doubted(PEERS, found))) == (Verdict.INCONCLUSIVE, {"psu-2"})
    assert [] == doubted(PEERS, of_texts(SUPPLY, [])[1])


@pytest.mark.parametrize(
    ("part", "condition", "shown", "missed"),
    [
        ("WXP-600F", OK, "psu-1", ["psu-2", "psu-2"]),
        ("WXP-750F", OK, "psu-1", []),  # another part may have no sensor
        ("WXP-600F", FAILED, "psu-1", []),  # a dead one need not answer
        ("WXP-600F", OK, "", []),  # no supply of the chassis shows any
    ],
)
def test_which_supplies_are_held_against_each_other(
    part: str, condition: Condition, shown: str, missed: list[str]
) -> None:
    rows: list[AnyReading] = [
        PowerSupply(unit="psu-1", condition=OK, part_number="WXP-600F"),
        PowerSupply(unit="psu-2", condition=condition, part_number=part),
        *([Temperature(unit=shown, name="psu-1", value=q("36 Cel"))] if shown else []),
    ]
    assert missed == doubts(PEERS, rows, rows)
