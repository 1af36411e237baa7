"""The damage campaign: each kind does what it says, and the campaign can find a fault."""

import importlib.util
import json
import random
import sys
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging import judge as judging
from consolecheck.records.findings import Verdict
from consolecheck.rehearsal.damage import BY_NAME, KINDS, Place
from consolecheck.rehearsal.truth import (
    GONE_FROM_BOTH,
    ILL_IN_BASELINE,
    NO_PROMPT,
    SPLICED,
    Swap,
    Truth,
    apart,
    form,
    told_of,
)

GOOD = [c for c in cases_of(shipped("fixtures")) if c.file.claims.verdict is Verdict.VERIFIED]


def swap_of(case: Case) -> Swap:
    dialect = next(d for d in dialects() if d.name == case.dialect_name)
    file = case.file
    texts = case.text("before"), case.text("after")
    return Swap(
        case.place, dialect, file.unit, *texts, file.claims.verdict, case.acceptance(), case.observed(), file.reseat
    )


@cache
def truth_of(name: str) -> Truth:
    return Truth(swap_of(Case(shipped("fixtures") / name)))


def place_of(truth: Truth, side: str = "after") -> Place:
    other = "before" if side == "after" else "after"
    swap = truth.swap
    texts = {s: swap.text(s).decode() for s in ("before", "after")}
    return Place(texts[side], truth.snapshots[side], swap.dialect, swap.unit, texts[other], (texts[other],))


@pytest.fixture(scope="module")
def campaign() -> ModuleType:
    """`benchmarks/damage.py`, which is no part of the package."""
    path = Path(__file__).resolve().parent.parent / "benchmarks" / "damage.py"
    spec = importlib.util.spec_from_file_location("damage_campaign", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["damage_campaign"] = module  # its workers look for it there
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.name)
def test_each_kind_damages_some_text_and_the_same_for_the_same_seed(kind) -> None:
    truths = [truth_of("wexcombe/psu-2-replaced"), truth_of("cisco_nxos/psu-2-replaced")]
    places = [place_of(t, side) for t in truths for side in ("before", "after")]
    made = [[kind.damage(place, random.Random(seed)) for place in places for seed in range(6)] for _ in range(2)]
    assert made[0] == made[1]
    changed = [text for text, place in zip(made[0], [p for p in places for _ in range(6)], strict=True) if text]
    assert any(text != place.text for text, place in zip(changed, [p for p in places for _ in range(6)], strict=False))


@pytest.mark.parametrize("case", GOOD, ids=lambda c: c.place)
def test_harmless_kinds_keep_the_verdict_and_change_nothing_that_is_said(case: Case) -> None:
    truth = Truth(swap_of(case))
    place = place_of(truth)
    for kind in (k for k in KINDS if k.group == "harmless"):
        made = kind.damage(place, random.Random(1))
        if made is None:
            continue
        told = told_of(truth, "after", made.encode())
        assert (told.verdict, told.false, told.hidden) == (Verdict.VERIFIED, False, ""), kind.name


def damaged(truth: Truth, was: str, now: str, side: str = "after") -> bytes:
    text = truth.swap.text(side).decode()
    assert was in text
    return text.replace(was, now, 1).encode()


def test_a_verdict_on_a_text_that_says_the_same_is_true() -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    told = told_of(truth, "after", damaged(truth, "tell heat", "tell  heat"))
    assert (told.verdict, told.false, told.hidden) == (Verdict.VERIFIED, False, "")


def test_another_figure_within_reason_is_counted_apart_and_not_as_true() -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    told = told_of(truth, "after", damaged(truth, "57.5", "58.5"))
    assert (told.verdict, told.false) == (Verdict.VERIFIED, False)
    assert told.hidden == "another figure that the device could have printed"


def test_a_verified_text_whose_swap_is_truly_bad_is_false_whatever_it_says() -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    bad = Truth(truth.swap._replace(verdict=Verdict.NOT_VERIFIED))
    assert told_of(bad, "after", truth.swap.after).false


def test_a_figure_that_hid_a_bad_swap_is_counted_apart_and_not_as_good() -> None:
    """As if only that figure had made the swap a bad one: then no text could show it, and that is said."""
    truth = truth_of("wexcombe/psu-2-replaced")
    bad = Truth(truth.swap._replace(verdict=Verdict.NOT_VERIFIED))
    made = damaged(truth, "57.5   0.0", "58.0   0.0")
    told = told_of(bad, "after", made, spliced=True)
    assert (told.verdict, told.false) == (Verdict.VERIFIED, False)
    assert told.hidden == "another figure that the device could have printed"
    assert told_of(bad, "after", damaged(truth, "57.5   0.0", "57.5   0.0"), spliced=True).false


def test_a_lost_serial_of_the_other_unit_is_false_where_no_rule_sees_it(monkeypatch: pytest.MonkeyPatch) -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    made = damaged(truth, "WXS-20417", "-        ")
    assert told_of(truth, "after", made).verdict is not Verdict.VERIFIED
    without_rules(monkeypatch, "text.same-fields")
    assert told_of(truth, "after", made).false


def without_rules(monkeypatch: pytest.MonkeyPatch, *ids: str) -> None:
    """The judge with some rules taken out: a fault that the campaign must find."""
    kept = tuple(rule for rule in judging.ALL if rule.id not in ids)
    assert len(kept) == len(judging.ALL) - len(ids)
    monkeypatch.setattr(judging, "ALL", kept)


@pytest.mark.parametrize(
    ("was", "now", "rules"),
    [
        ("105.0  easy", "-      easy", ["text.same-fields"]),
        ("95.0    105.0", "9.0     105.0", ["text.limits-steady", "temperature.limits"]),
        ("57.5   0.0", "7.5    0.0", ["temperature.fell", "temperature.plausible"]),
        ("WXS-20417", "WXS-20418", ["identity.others"]),
        ("6     up    1G ", "6     down  -  ", ["service.links"]),
    ],
)
def test_without_a_rule_that_carries_the_promise_the_campaign_counts_a_false_verdict(
    was: str, now: str, rules: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    made = damaged(truth, was, now)
    assert told_of(truth, "after", made).verdict is not Verdict.VERIFIED
    without_rules(monkeypatch, *rules)
    told = told_of(truth, "after", made)
    assert told.verdict is Verdict.VERIFIED
    assert told.false, told


FED = "  2    serving   B     AC    230.9  0.90  207.0  12.05  15.80  190.4  600      f>b"
NO_ALARM = "  2026-11-18T06:49:02Z  grave   psu-2    no input\r\n", ""


@pytest.mark.parametrize(
    ("name", "edits", "hidden"),
    [
        ("psu-2-inserted-cord-out", [NO_ALARM, ("row", FED)], True),
        ("psu-2-inserted-cord-out", [("row", FED)], False),  # its alarm stands in the same text
        ("psu-2-inserted-cord-out", [NO_ALARM, ("row", FED.replace("190.4", "90.4 "))], False),
        ("psu-2-inserted-cord-out", [NO_ALARM, ("row", FED), ("psu-2    fitted", "psu-2    empty ")], False),
        ("psu-2-inserted-cord-out", [NO_ALARM, ("row", FED.replace("15.80  190.4", "0.00   0.0  "))], False),
        ("psu-2-inserted-cord-out", [NO_ALARM, ("row", FED.replace("0.90  207.0", "0.00  0.0  "))], False),
    ],
)
def test_a_good_word_that_was_put_in_is_unseen_only_where_nothing_in_the_text_is_against_it(
    name: str, edits: list[tuple[str, str]], hidden: bool
) -> None:
    truth = truth_of(f"wexcombe/{name}")
    text = truth.swap.after.decode()
    row = next(line for line in text.splitlines() if line.startswith("  2 ") and " AC " in line)
    for was, now in edits:
        was = row if was == "row" else was
        assert was in text
        text = text.replace(was, now)
    read = truth.swap.read(text.encode(), "after")
    (word,) = [
        d for d in truth.changed("after", read) if d.key[:2] == ("power_supply", "psu-2") and d.fact == "condition"
    ]
    assert bool(truth.hidden("after", read, word, spliced=True)) is hidden
    assert not truth.hidden("after", read, word)


def test_a_table_of_before_brings_a_sensor_back_unseen_where_degrees_are_whole_or_half() -> None:
    """At rest a switch shows the very table of before; printed to a tenth it does not."""
    truth = truth_of("wexcombe/sensor-vanished-after-swap")
    text = {side: truth.swap.text(side).decode() for side in ("before", "after")}
    heat = {s: t[t.index("tell heat") : t.index("tern-04 ~> tell parts")] for s, t in text.items()}
    made = text["after"].replace(heat["after"], heat["before"])
    told = told_of(truth, "after", made.encode(), spliced=True)
    assert (told.verdict, told.false) == (Verdict.VERIFIED, False)
    never = told_of(truth, "before", text["before"].replace(heat["before"], heat["after"]).encode(), spliced=True)
    assert never.false is False
    finely = text["before"].replace(heat["before"], heat["after"].replace("57.5 ", "57.4 "))
    assert (
        told_of(truth, "before", finely.encode(), spliced=True).verdict is not Verdict.VERIFIED
        or told_of(truth, "before", finely.encode(), spliced=True).false
    )
    fine = truth.swap.read(made.replace("46.5 ", "46.3 ").encode(), "after")
    (there,) = [d for d in truth.changed("after", fine) if d.fact == "all"]
    assert not truth.hidden("after", fine, there, spliced=True)


def test_a_row_that_only_the_baseline_showed_is_gone_unseen_where_no_other_row_speaks_of_the_thing() -> None:
    truth = truth_of("aruba_aoscx/transceiver-gone-after-swap")
    text = truth.swap.before
    (row,) = [line for line in text.splitlines(keepends=True) if line.startswith(b"1/1/50 ")]
    (kept,) = [line for line in text.splitlines(keepends=True) if line.startswith(b"1/1/51 ")]
    told = told_of(truth, "before", text.replace(row, b""))
    assert (told.verdict, told.false, told.hidden) == (Verdict.VERIFIED, False, GONE_FROM_BOTH)
    lost = truth.swap.read(text.replace(kept, b""), "before")  # that one is there afterwards
    assert not truth.undetectable("before", lost, truth.changed("before", lost))
    there = truth.swap.read(
        text.replace(row, row.replace(b"1/1/50", b"1/1/54") + row.replace(b"1/1/50", b"1/1/53")), "before"
    )
    assert not truth.undetectable("before", there, truth.changed("before", there))


def test_a_line_that_was_not_read_is_gone_with_a_table_that_another_time_printed() -> None:
    truth = truth_of("wexcombe/garbled-digit-in-power-row")
    assert truth.snapshots["after"].unread
    whole = truth.swap.read(truth.swap.before, "after")
    assert truth.healed("after", whole)
    assert not truth.healed("after", truth.snapshots["after"])
    assert not truth_of("wexcombe/psu-2-replaced").healed("after", whole)


def test_a_baseline_that_shows_another_supply_ill_excuses_nothing_that_is_well_now() -> None:
    truth = truth_of("wexcombe/fan-3-dead-then-replaced")
    was = next(line for line in truth.swap.before.decode().splitlines() if line.startswith("  2    serving"))
    dead = "  2    faulted   B     AC    230.9  0.04  9.0    0.00   0.00   0.0    600      f>b"
    read = truth.swap.read(truth.swap.before.replace(was.encode(), dead.encode()), "before")
    changed = truth.changed("before", read)
    assert truth.undetectable("before", read, changed, spliced=True) == ILL_IN_BASELINE
    assert not truth.undetectable("before", read, changed)
    ill = Truth(truth.swap._replace(after=truth.swap.after.replace(b"  2    serving", b"  2    faulted")))
    assert not ill.undetectable("before", read, changed, spliced=True)


def test_a_row_that_was_not_read_is_told_by_a_table_that_was_put_in_and_all_of_it_must_fit() -> None:
    """Another device's table shows the row whole: no judge can tell, unless what it shows does not fit the swap."""
    truth = truth_of("wexcombe/garbled-digit-in-power-row")
    for row, hidden in (
        (b"15.80", True),
        (b"15.90", True),
        (b"25.80", False),  # does not add up with its volts and watts
    ):
        whole = truth.swap.read(truth.swap.after.replace(b"l5.80", row), "after")
        assert not whole.unread
        changed = truth.changed("after", whole)
        assert [(d.key[1], d.fact) for d in changed] == [("psu-2", "all")]
        assert (truth.undetectable("after", whole, changed, spliced=True) == SPLICED) is hidden
        assert not truth.undetectable("after", whole, changed)
    ill = truth.swap.read(
        truth.swap.after.replace(b"l5.80", b"15.80").replace(b"2    serving", b"2    faulted"), "after"
    )
    assert not truth.undetectable("after", ill, truth.changed("after", ill), spliced=True)


def test_a_baseline_that_was_put_in_and_shows_a_supply_ill_lets_the_other_carry_all() -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    rows = [line for line in truth.swap.before.decode().splitlines() if line.startswith(("  1    serv", "  2    serv"))]
    carries = "  1    serving   A     AC    231.2  2.45  560.0  12.04  43.19  520.0  600      f>b"
    dead = "  2    faulted   B     AC    230.9  0.04  9.0    0.00   0.00   0.0    600      f>b"
    good = rows[1]
    for second, hidden in ((dead, True), (good, False)):
        text = truth.swap.before.decode().replace(rows[0], carries).replace(rows[1], second)
        read = truth.swap.read(text.encode(), "before")
        changed = truth.changed("before", read)
        assert changed
        assert bool(truth.undetectable("before", read, changed, spliced=True)) is hidden
        assert not truth.undetectable("before", read, changed)


def test_a_part_that_is_told_as_at_the_other_time_is_unseen_only_in_rows_of_that_time() -> None:
    """A cable that came out over the swap, and a baseline whose list of optics is the later one."""
    truth = truth_of("sonic/optic-pulled-during-swap")
    text = {side: truth.swap.text(side).decode() for side in ("before", "after")}
    first = [t.index("Ethernet116: SFP EEPROM") for t in text.values()]
    made = text["before"][: first[0]] + text["after"][first[1] :]
    read = truth.swap.read(made.encode(), "before")
    gone = [d for d in truth.changed("before", read) if d.key[2] == "Ethernet116 transceiver"]
    assert {d.fact for d in gone} >= {"serial", "condition"}
    assert all(truth.hidden("before", read, d, spliced=True) for d in gone)
    assert not any(truth.hidden("before", read, d) for d in gone)


def test_what_the_air_did_is_no_part_of_what_a_sensor_does() -> None:
    truth = truth_of("wexcombe/psu-2-replaced")
    warmed = Truth(truth.swap._replace(after=damaged(truth, "inlet   21.5", "inlet   24.5")))
    assert warmed.air_moved - truth.air_moved == 3.0
    for given, value, hidden in (
        (truth, "68.0", True),
        (truth, "68.5", False),
        (warmed, "71.0", True),
        (warmed, "71.5", False),
    ):
        made = damaged(given, "57.5   0.0", f"{value}   0.0")
        read = given.swap.read(made, "after")
        assert bool(given.undetectable("after", read, given.changed("after", read))) is hidden, value


def test_a_campaign_finds_a_rule_that_was_taken_out(campaign: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    given = campaign.material(1)
    kinds = [BY_NAME["limit-lost"], BY_NAME["limit-changed"]]

    def false(pairs: int) -> int:
        dice = random.Random(5)
        return sum(campaign.one(dice, given, kinds)[0][3] == "false" for _ in range(pairs))

    without_rules(monkeypatch, "text.same-fields", "text.limits-steady")
    assert false(60) > 5


def test_a_campaign_that_was_killed_goes_on_and_comes_to_the_same(
    campaign: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(campaign, "CHUNK", 20)
    monkeypatch.setattr(campaign, "SITES", 1)
    whole, broken = (campaign.Ledger(tmp_path / name, 7, 50) for name in ("whole", "broken"))
    for task in whole.left():
        whole.add(*campaign.chunk(task))
    broken.add(*campaign.chunk(broken.left()[1]))
    with open(broken.file, "ab") as file:
        file.write(b'[0, [["cut-any')  # what a kill leaves
    again = campaign.Ledger(tmp_path / "broken", 7, 50)
    assert [number for _, number, _ in again.left()] == [0, 2]
    for task in reversed(again.left()):
        again.add(*campaign.chunk(task))
    again = campaign.Ledger(tmp_path / "broken", 7, 50)
    assert again.left() == []
    assert again.sum() == whole.sum()
    assert sum(again.sum().counts.values()) == 50
    assert json.loads((tmp_path / "broken" / "campaign.json").read_text())["seed"] == 7
    with pytest.raises(ValueError, match="another seed"):
        campaign.Ledger(tmp_path / "broken", 8, 50)


@pytest.mark.parametrize(
    ("one", "two", "number"), [("WXS-20433", "WXS-20433", 0), ("104", "04", 1), ("AB12", "BA12", 1), ("A1", "B22", 3)]
)
def test_how_far_two_serials_are_apart(one: str, two: str, number: int) -> None:
    assert apart(one, two) == apart(two, one) == number


@pytest.mark.parametrize(
    ("cell", "how"), [("57.5", "#.#"), ("04", "0#"), ("-53.50 V", "-#.## V"), ("46.", "#."), ("12", "#"), ("0", "#")]
)
def test_the_form_of_a_number(cell: str, how: str) -> None:
    assert form(cell) == how


def test_a_baseline_that_lost_its_only_prompt_is_counted_apart_where_the_chassis_is_told_and_not_in_the_other_text() -> (
    None
):
    truth = truth_of("aruba_aoscx/psu-1-2-replaced-echoes-only")
    without = {side: truth.swap.text(side).replace(b"tern-05# ", b"") for side in ("before", "after")}
    told = told_of(truth, "before", without["before"])
    assert (told.verdict, told.false, told.hidden) == (Verdict.VERIFIED, False, NO_PROMPT)
    assert told_of(truth, "after", without["after"]).verdict is not Verdict.VERIFIED


def test_what_is_measured_within_the_new_part_may_be_colder_by_more_than_elsewhere() -> None:
    truth = truth_of("entity_mib/psu-2-replaced-numeric")
    for now, false in (("664", False), ("951", True)):
        made = truth.swap.before.replace(b".1.1.1.4.124 = INTEGER: 351", f".1.1.1.4.124 = INTEGER: {now}".encode())
        assert made != truth.swap.before
        told = told_of(truth, "before", made)
        assert told.false is False
        assert (told.verdict is Verdict.VERIFIED) is not false
