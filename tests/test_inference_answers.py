"""Answers in TL1 (Telcordia GR-831-CORE) of a device that no dialect knows: a case per fault."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import Condition, Snapshot

STOCK = r"""< RTRV-INV::ALL:104;

IP 104
<

   TERN-OT3 26-11-30 09:58:21
M  104 COMPLD
   "SHELF-1::CTYPE=\"6 slot shelf\",PEC=WXC503AA,REL=0014,SER=WX0123"
   "PWR-1-15::CTYPE=\"Power card, 25 A: rear\",PEC=WXC505LA,REL=0006,SER=WX0191"
   "FAN-1-1::CTYPE=\"Cooling fan\",PEC=WXC507BA,REL=0003,SER=WX0177"
;
"""
STANDING = r"""
< RTRV-COND-EQPT:TERN-OT3:ALL:105;

   TERN-OT3 26-11-30 09:58:40
M  105 COMPLD
   "FAN-1-1,EQPT:{},{},SA,11-30,05-58-02,NEND,RCV:\"{}\",NONE"
;
<
"""


def read(text: str) -> Snapshot:
    return read_unknown(text.encode(), "text")


def standing(code: str, condition: str, said: str = "Cooling fan failed") -> Snapshot:
    return read(STOCK + STANDING.format(code, condition, said))


def test_the_inventory_of_an_answer_names_each_part_by_its_address() -> None:
    found = read(STOCK)
    shelf, supply, fan = found.readings
    assert {"inventory"} == {r.kind for r in found.readings}
    assert ("SHELF-1", "WX0123", "WXC503AA") == (shelf.name, shelf.given("serial"), shelf.given("part_number"))
    assert ("psu-1/15", "Power card, 25 A: rear") == (supply.unit, supply.given("description"))
    assert "fan-1/1" == fan.unit
    assert not found.unread
    assert ["TERN-OT3"] == list(found.hosts)
    assert all(table.ended for table in found.tables)


@pytest.mark.parametrize(
    ("code", "condition", "is_"),
    [
        ("MJ", "FANFAIL", Condition.FAILED),
        ("CR", "EQPT", Condition.FAILED),
        ("MJ", "SPEEDLOW", Condition.WARNING),
        ("MN", "FANFAIL", Condition.WARNING),
    ],
)
def test_a_condition_that_stands_is_told_of_its_fan(code: str, condition: str, is_: Condition) -> None:
    (fan,) = [r for r in standing(code, condition).readings if r.kind == "fan"]
    assert ("fan-1/1", is_, "Cooling fan failed") == (fan.unit, fan.condition, fan.status_text)


@pytest.mark.parametrize(("code", "condition"), [("CL", "FANFAIL"), ("NA", "FANFAIL"), ("", "FANFAIL"), ("MJ", "")])
def test_a_condition_whose_weight_is_not_known_stays_unread(code: str, condition: str) -> None:
    found = standing(code, condition)
    assert not [r for r in found.readings if r.kind == "fan"]
    assert [17] == [x.number for x in found.unread]


def test_two_conditions_of_one_fan_are_one_reading_with_the_worst() -> None:
    line = next(x for x in STANDING.splitlines() if "FAN-1-1" in x)
    twice = STANDING.replace(line, line.format("MN", "SPEEDLOW", "Slow") + "\n" + line).format(
        "MJ", "FANFAIL", "Dead fan"
    )
    (fan,) = [s for s in read(STOCK + twice).sightings if s.reading.kind == "fan"]
    assert (Condition.FAILED, (17, 18)) == (fan.reading.condition, fan.lines)


def test_no_condition_makes_nothing_well() -> None:
    none = "\n".join(x for x in STANDING.splitlines() if "FAN-1-1" not in x) + "\n"
    assert {None} == {r.condition for r in read(STOCK + none).readings}


def test_an_answer_without_its_end_is_no_whole_table() -> None:
    (cut,) = read(STOCK.replace("\n;\n", "\n")).tables
    assert not cut.ended
    (more,) = read(STOCK.replace("\n;\n", "\n>\n")).tables
    assert not more.ended, "another answer follows"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("COMPLD", "DENY"),
        ("M  104", "A  104"),
        (r"\"Cooling fan\"", r"\"Cooling fan"),
        ('SER=WX0177"', "SER=WX0177"),
        ("PEC=WXC507BA,", "PEC WXC507BA,"),
        ("FAN-1-1::", "FAN-1-1:"),
    ],
)
def test_what_is_not_as_the_language_has_it_is_unread(old: str, new: str) -> None:
    found = read(STOCK.replace(old, new))
    assert "fan-1/1" not in {r.unit for r in found.readings}
    assert 10 in {x.number for x in found.unread}


def test_a_word_of_the_language_in_another_text_is_no_answer() -> None:
    assert not read('The job says\n   M  104 COMPLD\n   "FAN-1-1::SER=WX0177"\n').readings
    assert not read('upgrade COMPLD\n   "FAN-1-1::SER=WX0177"\n').readings


@given(st.integers(0, len(STOCK + STANDING)), st.integers(0, 40))
def test_no_hole_in_an_answer_makes_anything_well(at: int, width: int) -> None:
    whole = STOCK + STANDING.format("MJ", "FANFAIL", "Cooling fan failed")
    found = read(whole[:at] + whole[at + width :])
    assert Condition.OK not in {r.condition for r in found.readings}
