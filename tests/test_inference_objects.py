"""Walks of a maker's own SNMP objects, of a device that no dialect knows: a case per fault.

The layout of the lines is that of the command as its manual page has it; the module is invented.
"""

import re

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import Condition, Snapshot

SUPPLIES = (("1", "Power Supply 1", "normal(1)"), ("2", "Power Supply 2", "notPresent(5)"))
FANS = (("1", "Chassis Fan 1", "normal(1)", "5160"), ("2", "Chassis Fan 2", "failed(2)", "0"))
HEAT = (("1", "Mainboard inlet", "31", "normal(1)"), ("2", "Switch core", "58", "warning(2)"))


def column(name: str, told: list[tuple[str, str]], sort: str = "INTEGER") -> list[str]:
    return [f"TERN-ENV-MIB::ternEnv{name}.{index} = {sort}: {value}" for index, value in told]


def walk(heat: tuple[tuple[str, ...], ...] = HEAT, supplies: tuple[tuple[str, ...], ...] = SUPPLIES) -> str:
    lines = [
        *column("PsuDescr", [(i, f'"{name}"') for i, name, _ in supplies], "STRING"),
        *column("PsuState", [(i, state) for i, _, state in supplies]),
        *column("FanDescr", [(f[0], f'"{f[1]}"') for f in FANS], "STRING"),
        *column("FanState", [(f[0], f[2]) for f in FANS]),
        *column("FanRpm", [(f[0], f[3]) for f in FANS], "Gauge32"),
        *column("TempDescr", [(h[0], f'"{h[1]}"') for h in heat], "STRING"),
        *column("TempValue", [(h[0], h[2]) for h in heat]),
        *column("TempState", [(h[0], h[3]) for h in heat]),
    ]
    return "keeper@auk-02:~$ snmpwalk -v2c tern-04 ternEnv\n" + "\n".join(lines) + "\nkeeper@auk-02:~$ \n"


def read(text: str) -> Snapshot:
    return read_unknown(text.encode("utf-8", "surrogateescape"), "text")


def told(text: str) -> dict[str, tuple[Condition | None, dict[str, str]]]:
    return {
        (r.name if r.kind == "temperature" else r.unit or r.name) or "": (
            r.condition,
            {n: f"{q.value:g} {q.unit}" for n, q in r.quantities().items()},
        )
        for r in read(text).readings
    }


RIGHT = {
    "psu-1": (Condition.OK, {}),
    "psu-2": (Condition.ABSENT, {}),
    "fan-1": (Condition.OK, {"speed": "5160 rpm"}),
    "fan-2": (Condition.FAILED, {"speed": "0 rpm"}),
    "Mainboard inlet": (Condition.OK, {"value": "31 Cel"}),
    "Switch core": (Condition.WARNING, {"value": "58 Cel"}),
}


def test_the_columns_of_a_walk_are_put_in_rows() -> None:
    assert told(walk()) == RIGHT
    assert not read(walk()).unread


def test_the_map_names_the_objects_wholly() -> None:
    (table,) = read(walk()).taken_as
    heads = dict(table.columns)
    assert heads["TERN-ENV-MIB::ternEnvPsu State"] == "status"
    assert heads["TERN-ENV-MIB::ternEnvFan Rpm"] == "speed"


def test_without_the_module_before_its_objects_it_reads_the_same() -> None:
    assert told(walk().replace("TERN-ENV-MIB::", "")) == RIGHT


def test_a_unit_that_is_printed_counts() -> None:
    assert told(re.sub(r"(?<=TempValue)(.*)", r"\1 degrees C", walk())) == RIGHT


@pytest.mark.parametrize(
    ("was", "now", "lost"),
    [
        ("PsuState.1 = INTEGER: normal(1)", "PsuState.1 = INTEGER: 1", "psu-1"),
        ("FanState.1 = INTEGER: normal(1)", "FanState.1 = INTEGER: 1", "fan-1"),
        ('"Power Supply 1"', '"Power Supply 1', "psu-1"),
        ('"Power Supply 1"', '"Power Supply 1 faulty"', "psu-1"),
    ],
    ids=["a state that is a number", "that of a fan", "a text that goes on", "a name that says it is bad"],
)
def test_a_row_with_a_cell_that_cannot_be_told_is_unread(was: str, now: str, lost: str) -> None:
    assert was in walk()
    text = walk().replace(was, now)
    assert told(text) == {name: row for name, row in RIGHT.items() if name != lost}
    assert read(text).unread


def test_figures_that_may_be_tenths_of_degrees_are_not_read() -> None:
    tenths = tuple((i, name, f"{value}0", state) for i, name, value, state in HEAT)
    assert set(told(walk(heat=tenths))) == set(RIGHT) - {"Mainboard inlet", "Switch core"}
    assert any("in which unit" in line.reason for line in read(walk(heat=tenths)).unread)


def test_two_walks_that_differ_are_not_put_together() -> None:
    again = walk(supplies=(("1", "Power Supply 1", "failed(2)"), SUPPLIES[1]))
    assert told(walk() + again) == {}
    assert any("twice, unlike" in line.reason for line in read(walk() + again).unread)
    assert told(walk() + walk()) == RIGHT


def test_objects_about_other_things_give_no_reading() -> None:
    lines = [
        f"TERN-IF-MIB::ternIf{name}.{i} = {value}"
        for name, value in (("Descr", 'STRING: "port 1"'), ("State", "INTEGER: up(1)"), ("Speed", "Gauge32: 10000"))
        for i in (1, 2, 3)
    ]
    assert told("\n".join(lines) + "\n") == {}


def test_a_line_in_doubt_leaves_the_walk_unread() -> None:
    assert told(walk().replace("normal(1)\n", "nor\x1b]mal(1)\n", 1)) == {}


def test_a_walk_that_ends_within_a_line_is_unread() -> None:
    text = walk()
    assert told(text[: text.index("warning(2)") + 4]) == {}
    whole = text[: text.index("\nkeeper@auk-02:~$ \n") + 1]
    assert told(whole) == RIGHT
    assert not read(whole).tables[0].ended
