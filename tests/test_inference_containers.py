"""Things of one name in different slots: told apart by the headings above them, and never joined."""

from textwrap import dedent

from hypothesis import given
from hypothesis import strategies as st

from consolecheck.reading.inference.containers import containers
from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading


def read(text: str) -> list[AnyReading]:
    return read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").readings


FANS = """
 Slot 1:
 Fan 1:
 State    : Normal
 Fan 2:
 State    : Normal

 Slot 2:
 Fan 1:
 State    : Fault
 Fan 2:
 State    : Normal
"""

SUPPLIES = """
 Slot 1:
 PowerID State    Mode   Current(A)  Voltage(V)  Power(W)
 1       Normal   AC     3.40        12.10       41
 2       Absent   --     --          --          --

 Slot 2:
 PowerID State    Mode   Current(A)  Voltage(V)  Power(W)
 1       Normal   AC     3.31        12.08       40
 2       Absent   --     --          --          --
"""


def test_fans_of_one_number_in_two_slots_bear_the_number_of_their_slot() -> None:
    assert [("fan-1/1", "Normal"), ("fan-1/2", "Normal"), ("fan-2/1", "Fault"), ("fan-2/2", "Normal")] == [
        (r.unit, r.status_text) for r in read(FANS)
    ]


def test_so_do_supplies_in_a_table_for_each_slot() -> None:
    assert ["psu-1/1", "psu-1/2", "psu-2/1", "psu-2/2"] == [r.unit for r in read(SUPPLIES)]


def test_sensors_bear_the_words_of_the_heading() -> None:
    found = read(
        """
        Board A
        Sensor        Temperature (C)   State
        ------------  ----------------  ------
        Inlet         24                OK
        Board B
        Sensor        Temperature (C)   State
        ------------  ----------------  ------
        Inlet         26                OK
        """
    )
    assert ["Board A Inlet", "Board B Inlet"] == [r.name for r in found]


def test_things_whose_numbers_differ_anyhow_keep_their_own_names() -> None:
    text = FANS.replace("Slot 2:\n Fan 1", "Slot 2:\n Fan 3")
    once = text[: text.rindex(" Fan 2:")]
    assert ["fan-1", "fan-2", "fan-3"] == [r.unit for r in read(once)]


def test_the_same_thing_in_two_tables_below_one_slot_is_one_thing() -> None:
    one = SUPPLIES[: SUPPLIES.index(" Slot 2:")]
    again = one[one.index(" PowerID") :].replace("Mode", "Feed")
    assert ["psu-1", "psu-2", "psu-1", "psu-2"] == [r.unit for r in read(one + "\n" + again)]


def test_a_lost_heading_leaves_none_of_the_things_told_twice() -> None:
    """Both slots' fans would stand below the first heading: which is which is not told."""
    lost = FANS.replace(" Slot 2:\n", "")
    assert not [r for r in read(lost) if r.kind == "fan"]


@given(st.text(alphabet="SlotPuFan 12:-=\n", max_size=200))
def test_headings_are_of_a_sort_with_more_than_one_number(text: str) -> None:
    found = containers(dict(enumerate(text.split("\n"))))
    for one in found:
        assert {o.number for o in found if o.sort == one.sort} - {one.number}
