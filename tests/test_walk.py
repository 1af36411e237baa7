"""A walk of SNMP tables: rows out of columns, with and without names, and no row of which a cell is in doubt."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.reader import read_text
from consolecheck.reading.screen import clean
from consolecheck.reading.walk import Columns, in_rows
from consolecheck.records.readings import Condition, Snapshot

ENTITY = next(d for d in dialects() if d.name == "entity_mib")
TABLE = ENTITY.manifest.tables["entities"]
COLUMNS = Columns(TABLE.columns, TABLE.enumerations, TABLE.bits_of, TABLE.inside)
NAMED = (shipped("fixtures") / "entity_mib" / "psu-2-replaced" / "after.txt").read_text(encoding="utf-8")
NUMBERED = (shipped("fixtures") / "entity_mib" / "psu-2-replaced-numeric" / "after.txt").read_text(encoding="utf-8")


def told(*lines: str) -> list[str]:
    flat = in_rows(clean("\n".join(lines).encode()).lines, COLUMNS)
    assert [] == flat.unread
    return [line.text for line in flat.lines]


def seen(text: str) -> Snapshot:
    return read_text(text.encode(), "walk.txt", dialects())


def walked(*, alarm: str = "BITS: 00", oper: str = "enabled(3)", standby: str = "providingService(4)") -> str:
    return f"""ENTITY-MIB::entPhysicalClass.7 = INTEGER: powerSupply(6)
ENTITY-MIB::entPhysicalName.7 = STRING: PSU 2
ENTITY-STATE-MIB::entStateOper.7 = INTEGER: {oper}
ENTITY-STATE-MIB::entStateAlarm.7 = {alarm}
ENTITY-STATE-MIB::entStateStandby.7 = INTEGER: {standby}
"""


def test_columns_become_rows_and_the_row_around_is_told() -> None:
    assert [
        "/6/entPhysicalName: Bay 2",
        "/6/entPhysicalContainedIn: 1",
        "/6 end",
        "/7/entPhysicalName: PSU 2",
        "/7/entPhysicalContainedIn: 6",
        "/7/in/entPhysicalName: Bay 2",
        "/7/in/entPhysicalContainedIn: 1",
        "/7 end",
    ] == told(
        "ENTITY-MIB::entPhysicalName.6 = STRING: Bay 2",
        "ENTITY-MIB::entPhysicalName.7 = STRING: PSU 2",
        "ENTITY-MIB::entPhysicalContainedIn.6 = INTEGER: 1",
        "ENTITY-MIB::entPhysicalContainedIn.7 = INTEGER: 6",
    )


@pytest.mark.parametrize(
    "line",
    [
        "ENTITY-MIB::entPhysicalClass.7 = INTEGER: powerSupply(6)",
        "ENTITY-MIB::entPhysicalClass.7 = INTEGER: 6",
        "entPhysicalClass.7 = INTEGER: powerSupply(6)",
        "ENTITY-MIB::entPhysicalClass.7 = powerSupply",
        ".1.3.6.1.2.1.47.1.1.1.1.5.7 = INTEGER: 6",
        "iso.3.6.1.2.1.47.1.1.1.1.5.7 = INTEGER: 6",
        "1.3.6.1.2.1.47.1.1.1.1.5.7 = 6",
        "SNMPv2-SMI::mib-2.47.1.1.1.1.5.7 = INTEGER: 6",
    ],
)
def test_one_cell_in_its_printed_forms(line: str) -> None:
    assert ["/7/entPhysicalClass: powerSupply", "/7 end"] == told(line)


@pytest.mark.parametrize(
    ("printed", "names"),
    [
        ("BITS: 00", "none"),
        ("BITS: 20 critical(2)", "critical"),
        ("BITS: 14 major(3) warning(5)", "major warning"),
        ("Hex-STRING: 00", "none"),
        ("Hex-STRING: 04", "warning"),
        ('STRING: " "', "critical"),  # as snmpwalk 5.9.3 prints the octet 20h without MIB files
        ('STRING: "@"', "underRepair"),
        ('""', "none"),
    ],
)
def test_alarm_bits_in_their_printed_forms(printed: str, names: str) -> None:
    """Bits count from the first octet's high end: RFC 4268, RFC 2578 section 7.1.4."""
    assert [f"/7/entStateAlarm: {names}", "/7 end"] == told(f"ENTITY-STATE-MIB::entStateAlarm.7 = {printed}")


@pytest.mark.parametrize(
    "line",
    [
        "ENTITY-MIB::entPhysicalClass.7 = INTEGER: fan(6)",
        "ENTITY-MIB::entPhysicalClass.7 = INTEGER: 99",
        "ENTITY-MIB::entPhysicalClass.7 = INTEGER: ventilator",
        "ENTITY-STATE-MIB::entStateAlarm.7 = BITS: 20 major(3)",
        "ENTITY-STATE-MIB::entStateAlarm.7 = BITS: 01",
        'ENTITY-STATE-MIB::entStateAlarm.7 = "04 "',
        "ENTITY-STATE-MIB::entStateAlarm.7 = INTEGER: 4",
    ],
)
def test_a_value_that_its_column_cannot_have_spoils_its_row_and_no_other(line: str) -> None:
    flat = in_rows(
        clean(
            f"ENTITY-MIB::entPhysicalName.7 = STRING: PSU 2\nENTITY-MIB::entPhysicalName.8 = STRING: x\n{line}".encode()
        ).lines,
        COLUMNS,
    )
    assert ["/8/entPhysicalName: x", "/8 end"] == [told.text for told in flat.lines]
    assert [1, 3] == [unread.number for unread in flat.unread]


def test_a_row_walked_twice_with_unlike_values_is_not_read() -> None:
    again = NAMED.replace("PSU 2\n", "PSU 3\n")
    snapshot = seen(NAMED + again)
    assert "psu-2" not in {r.unit for r in snapshot.readings if r.name is None}
    assert any("unlike" in u.reason for u in snapshot.unread)
    assert [] == list(seen(NAMED + NAMED).unread)


@pytest.mark.parametrize(
    ("alarm", "oper", "condition"),
    [
        ("BITS: 00", "enabled(3)", "ok"),
        ("BITS: 04 warning(5)", "enabled(3)", "warning"),
        ("BITS: 08 minor(4)", "enabled(3)", "warning"),
        ("BITS: 10 major(3)", "enabled(3)", "failed"),
        ("BITS: 20 critical(2)", "enabled(3)", "failed"),
        ("BITS: 02 indeterminate(6)", "enabled(3)", "unknown"),
        ("BITS: 80 unknown(0)", "enabled(3)", "unknown"),
        ("BITS: 40 underRepair(1)", "enabled(3)", "unknown"),
        ("BITS: 60 underRepair(1) critical(2)", "enabled(3)", "unknown"),
        ("BITS: 00", "testing(4)", "unknown"),
        ("BITS: 00", "unknown(1)", "unknown"),
        ("BITS: 00", "disabled(2)", "failed"),
        ("BITS: 04 warning(5)", "disabled(2)", "failed"),
    ],
)
def test_conditions_of_the_state_table(alarm: str, oper: str, condition: str) -> None:
    """RFC 4268: EntityOperState and EntityAlarmStatus."""
    (reading,) = seen(walked(alarm=alarm, oper=oper)).readings
    assert ("psu-2", Condition(condition)) == (reading.unit, reading.condition)


def test_enabled_without_an_alarm_status_is_not_good() -> None:
    (reading,) = seen(re.sub("ENTITY-STATE-MIB::entStateAlarm.*\n", "", walked())).readings
    assert Condition.UNKNOWN is reading.condition


@pytest.mark.parametrize("standby", ["hotStandby(2)", "coldStandby(3)"])
def test_a_supply_that_stands_by(standby: str) -> None:
    assert Condition.STANDBY is seen(walked(standby=standby)).readings[0].condition


def test_names_and_numbers_read_the_same() -> None:
    assert seen(NAMED).readings == seen(NUMBERED).readings


def test_values_are_cited_on_their_own_lines() -> None:
    raw = NUMBERED.split("\n")
    sighting = next(s for s in seen(NUMBERED).sightings if s.reading.name == "PSU 2 Output Voltage")
    span = sighting.span("value")
    assert span is not None
    assert ".99.1.1.1.4.122 = INTEGER: 12060" in raw[span.line - 1]
    assert "12060" == raw[span.line - 1][span.start : span.end]
    assert 12.06 == sighting.reading.given("output_voltage").value


@given(st.randoms(use_true_random=False))
def test_the_order_of_the_columns_does_not_matter(chance: random.Random) -> None:
    lines = [line for line in NAMED.split("\n") if "::" in line and "$" not in line]
    chance.shuffle(lines)
    key = repr
    assert sorted(map(key, seen(NAMED).readings)) == sorted(map(key, seen("\n".join(lines) + "\n").readings))


LINES = [
    n
    for n, line in enumerate(NAMED.split("\n"), 1)
    if re.search(r"entPhySensor(?:Type|Scale|Precision|Value|OperS)", line)
]


@pytest.mark.parametrize("number", LINES[::7])
def test_a_sensor_without_one_of_its_lines_has_no_value(number: int) -> None:
    raw = NAMED.split("\n")
    index = raw[number - 1].split(" ")[0].rpartition(".")[2]
    name = next(line.partition("STRING: ")[2] for line in raw if f"entPhysicalName.{index} " in line)
    del raw[number - 1]
    snapshot = seen("\n".join(raw))
    found = [r for r in snapshot.readings if r.name == name]
    assert not any(r.quantities() for r in found)


def test_a_line_in_doubt_spoils_its_row() -> None:
    raw = NAMED.split("\n")
    at = next(n for n, line in enumerate(raw) if "entPhySensorValue.122 " in line)
    raw[at] = raw[at] + "\r" + raw[at].replace("12060", "11060")
    snapshot = seen("\n".join(raw))
    assert at + 1 in {u.number for u in snapshot.unread}
    assert "PSU 2 Output Voltage" not in {r.name for r in snapshot.readings}


def test_what_does_not_answer_is_said() -> None:
    snapshot = seen(
        "keeper@auk-02:~$ snmpwalk -v2c -c tidal tern-04 ENTITY-MIB::entPhysicalTable\n"
        + walked()
        + "Timeout: No Response from tern-04\nkeeper@auk-02:~$ \n"
    )
    assert "error reply" in snapshot.tables[0].cut
