"""Walks of the standards' hardware tables, and JSON of RFC 8348, in texts of a device that no dialect knows."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading, Condition, Fan, PowerSupply, Temperature
from consolecheck.records.readings import Snapshot as Read

# Index: description, what it stands in, class, name, serial. Of a rack switch at a tidal observatory.
ENTITIES = {
    1: ("Rack switch", 0, "chassis(3)", "Chassis", "TOR-1"),
    10: ("Bay", 1, "container(5)", "PSU bay 1", ""),
    11: ("AC supply", 10, "powerSupply(6)", "PSU 1", "TPS-1"),
    12: ("Meter", 11, "sensor(8)", "Voltage in", ""),
    13: ("Heat", 11, "sensor(8)", "Temperature", ""),
    14: ("Current", 11, "sensor(8)", "Output current", ""),
    20: ("Bay", 1, "container(5)", "PSU bay 2", ""),
    21: ("AC supply", 20, "powerSupply(6)", "Power supply", "TPS-2"),
    22: ("Meter", 21, "sensor(8)", "Voltage in", ""),
    23: ("Heat", 21, "sensor(8)", "Temperature", ""),
    30: ("Tray", 1, "module(9)", "Fan tray 1", "TFT-1"),
    31: ("Rotor", 30, "sensor(8)", "Rotor 2", ""),
    40: ("Air", 1, "sensor(8)", "Inlet", ""),
}
# Index: type, scale, precision, value, status.
SENSORS = {
    12: ("voltsAC(3)", "units(9)", 0, 231, "ok(1)"),
    13: ("celsius(8)", "units(9)", 1, 345, "ok(1)"),
    14: ("amperes(5)", "milli(8)", 0, 15700, "ok(1)"),
    22: ("voltsAC(3)", "milli(8)", 0, 229500, "ok(1)"),
    23: ("celsius(8)", "units(9)", 0, 33, "ok(1)"),
    31: ("rpm(10)", "units(9)", 0, 8490, "ok(1)"),
    40: ("celsius(8)", "milli(8)", 0, 22600, "ok(1)"),
}
STATES = {
    11: ("enabled(3)", "00 "),
    21: ("disabled(2)", "20 critical(2)"),
    30: ("enabled(3)", "04 warning(5)"),
}
OIDS = {
    "ENTITY-MIB::entPhysicalDescr": "47.1.1.1.1.2",
    "ENTITY-MIB::entPhysicalContainedIn": "47.1.1.1.1.4",
    "ENTITY-MIB::entPhysicalClass": "47.1.1.1.1.5",
    "ENTITY-MIB::entPhysicalName": "47.1.1.1.1.7",
    "ENTITY-MIB::entPhysicalSerialNum": "47.1.1.1.1.11",
    "ENTITY-SENSOR-MIB::entPhySensorType": "99.1.1.1.1",
    "ENTITY-SENSOR-MIB::entPhySensorScale": "99.1.1.1.2",
    "ENTITY-SENSOR-MIB::entPhySensorPrecision": "99.1.1.1.3",
    "ENTITY-SENSOR-MIB::entPhySensorValue": "99.1.1.1.4",
    "ENTITY-SENSOR-MIB::entPhySensorOperStatus": "99.1.1.1.5",
    "ENTITY-STATE-MIB::entStateOper": "131.1.1.1.3",
    "ENTITY-STATE-MIB::entStateAlarm": "131.1.1.1.5",
}
PROMPT = "keeper@auk-02:~$ "


def walk(entities: dict = ENTITIES, sensors: dict = SENSORS, states: dict = STATES) -> str:  # type: ignore[type-arg]
    """What three walks print, with prompts between."""
    told: list[str] = []

    def column(name: str, sort: str, rows: dict, at: int, quote: str = "") -> None:  # type: ignore[type-arg]
        told.extend(f"{name}.{i} = {sort}: {quote}{cells[at]}{quote}".rstrip() for i, cells in rows.items())

    told.append(f"{PROMPT}snmpwalk -v2c -c tidal tern-04 ENTITY-MIB::entPhysicalTable")
    column("ENTITY-MIB::entPhysicalDescr", "STRING", entities, 0)
    column("ENTITY-MIB::entPhysicalContainedIn", "INTEGER", entities, 1)
    column("ENTITY-MIB::entPhysicalClass", "INTEGER", entities, 2)
    column("ENTITY-MIB::entPhysicalName", "STRING", entities, 3, '"')
    column("ENTITY-MIB::entPhysicalSerialNum", "STRING", entities, 4, '"')
    told.append(f"{PROMPT}snmpwalk -v2c -c tidal tern-04 ENTITY-SENSOR-MIB::entPhySensorTable")
    for at, name in enumerate(("Type", "Scale", "Precision", "Value", "OperStatus")):
        column(f"ENTITY-SENSOR-MIB::entPhySensor{name}", "INTEGER", sensors, at)
    told.append(f"{PROMPT}snmpwalk -v2c -c tidal tern-04 ENTITY-STATE-MIB::entStateTable")
    column("ENTITY-STATE-MIB::entStateOper", "INTEGER", states, 0)
    column("ENTITY-STATE-MIB::entStateAlarm", "BITS", states, 1)
    return "\n".join((*told, PROMPT, ""))


def read(text: str) -> Read:
    return read_unknown(text.encode(), "text")


def readings(text: str) -> dict[tuple[str, str | None, str | None], AnyReading]:
    return {(s.reading.kind, s.reading.unit, s.reading.name): s.reading for s in read(text).sightings}


def figures(text: str) -> dict[tuple[str, str | None, str | None], dict[str, str]]:
    return {
        key: {name: str(q) for name, q in r.quantities().items()} for key, r in readings(text).items() if r.quantities()
    }


RIGHT = {
    ("power_supply", "psu-1", "Voltage in"): {"input_voltage": "231 V"},
    ("temperature", "psu-1", "Temperature"): {"value": "34.5 °C"},
    ("power_supply", "psu-1", "Output current"): {"output_current": "15.7 A"},
    ("power_supply", "psu-2", "Voltage in"): {"input_voltage": "229.5 V"},
    ("temperature", "psu-2", "Temperature"): {"value": "33 °C"},
    ("fan", "fan-1", "Rotor 2"): {"speed": "8490 rpm"},
    ("temperature", None, "Inlet"): {"value": "22.6 °C"},
}


def numeric(text: str) -> str:
    """The same walk without the modules' files: numbers for names."""
    for name, oid in OIDS.items():
        text = text.replace(f"{name}.", f".1.3.6.1.2.1.{oid}.")
    text = re.sub(r"INTEGER: [a-zA-Z]+\((\d+)\)", r"INTEGER: \1", text)
    return re.sub(r"BITS: ((?:[0-9A-F]{2} )+).*", r"Hex-STRING: \1", text)


FORMS = {
    "names": walk(),
    "numbers": numeric(walk()),
    "iso": numeric(walk()).replace(".1.3.6.1", "iso.3.6.1"),
    "without modules": re.sub(r"ENTITY-\w*-?MIB::", "", walk()),
    "without types": re.sub(r"= (?:STRING|INTEGER): ", "= ", walk()),
    "short": re.sub(r" = (?:STRING|INTEGER): ", " ", walk()),
    "index in brackets": re.sub(r"\.(\d+) = ", r"[\1] = ", walk()),
}


@pytest.mark.parametrize("form", FORMS)
def test_a_walk_is_put_in_rows_and_each_meter_placed_by_what_it_stands_in(form: str) -> None:
    assert figures(FORMS[form]) == RIGHT
    assert not read(FORMS[form]).unread
    assert all(table.ended for table in read(FORMS[form]).tables)


def test_conditions_follow_the_states_of_rfc_4268_and_a_meter_gives_none_to_its_supply() -> None:
    found = readings(walk())
    assert found["power_supply", "psu-1", None].condition is Condition.OK
    assert found["power_supply", "psu-2", None].condition is Condition.FAILED
    assert found["fan", "fan-1", None].condition is Condition.WARNING
    assert found["power_supply", "psu-1", "Voltage in"].condition is None
    assert found["power_supply", "psu-2", None].given("serial") == "TPS-2"


def test_enabled_without_its_alarms_is_not_told_ok() -> None:
    text = "\n".join(line for line in walk().splitlines() if "entStateAlarm" not in line)
    assert readings(text)["power_supply", "psu-1", None].condition is Condition.UNKNOWN


@pytest.mark.parametrize(
    "alarm", ["40 underRepair(1)", "80 unknown(0)", "02 indeterminate(6)", "60 underRepair(1) critical(2)"]
)
def test_alarms_that_leave_it_open_leave_it_unknown(alarm: str) -> None:
    text = walk(states={**STATES, 11: ("enabled(3)", alarm)})
    assert readings(text)["power_supply", "psu-1", None].condition is Condition.UNKNOWN


@pytest.mark.parametrize(
    ("status", "condition"), [("unavailable(2)", Condition.UNKNOWN), ("nonoperational(3)", Condition.FAILED)]
)
def test_a_value_that_was_not_obtained_is_none(status: str, condition: Condition) -> None:
    text = walk(sensors={**SENSORS, 31: ("rpm(10)", "units(9)", 0, 8490, status)})
    rotor = readings(text)["fan", "fan-1", "Rotor 2"]
    assert isinstance(rotor, Fan)
    assert rotor.speed is None
    assert rotor.condition is condition


@pytest.mark.parametrize("column", ["Type", "Scale", "Precision", "Value", "OperStatus"])
def test_a_sensor_of_which_a_column_was_not_walked_gives_no_figure(column: str) -> None:
    text = "\n".join(line for line in walk().splitlines() if f"entPhySensor{column}.13 " not in line)
    heat = readings(text).get(("temperature", "psu-1", "Temperature"))
    assert heat is None or (heat.condition is Condition.UNKNOWN and not heat.quantities())
    assert any(".13 " in line.text for line in read(text).unread) or column == "OperStatus"


@pytest.mark.parametrize(
    "row",
    [
        ("celsius(8)", "kilo(10)", 0, 345, "ok(1)"),  # 345,000 degrees
        ("celsius(8)", "units(9)", 0, 1000000000, "ok(1)"),  # out of range, as RFC 3433 says it
        ("celsius(8)", "peta(15)", 0, 34, "ok(1)"),  # RFC 3433 gives two powers for it
        ("celsius(7)", "units(9)", 0, 34, "ok(1)"),  # name and number differ
    ],
)
def test_a_figure_that_cannot_be_is_not_read(row: tuple[object, ...]) -> None:
    text = walk(sensors={**SENSORS, 13: row})
    assert ("temperature", "psu-1", "Temperature") not in readings(text)
    assert any(".13 " in line.text for line in read(text).unread)


def test_two_walks_that_differ_are_not_put_together() -> None:
    text = walk() + walk(sensors={**SENSORS, 40: ("celsius(8)", "milli(8)", 0, 24100, "ok(1)")})
    assert not read(text).sightings
    assert any("two walks" in line.reason for line in read(text).unread)
    assert figures(walk() + walk()) == RIGHT


def test_a_meter_whose_name_and_place_name_different_supplies_is_not_read() -> None:
    text = walk({**ENTITIES, 13: ("Heat", 11, "sensor(8)", "PSU 2 Temperature", "")})
    assert not [k for k in readings(text) if k[0] == "temperature" and k[2] == "PSU 2 Temperature"]


def test_a_meter_that_stands_in_what_was_not_walked_is_not_read_unless_it_names_its_supply() -> None:
    cut = {index: row for index, row in ENTITIES.items() if index not in (11, 21)}
    text = walk({**cut, 23: ("Heat", 21, "sensor(8)", "PSU 2 Temperature", "")})
    heat = {k for k in readings(text) if k[0] == "temperature"}
    assert heat == {("temperature", None, "Inlet"), ("temperature", "psu-2", "PSU 2 Temperature")}


def test_supplies_of_two_switches_of_a_stack_are_not_one() -> None:
    named = {11: "Switch 1 - Power Supply 1", 21: "Switch 2 - Power Supply 1"}
    text = walk({i: (*row[:3], named.get(i, row[3]), row[4]) for i, row in ENTITIES.items()})
    supplies = {k[1:] for k in readings(text) if k[0] == "power_supply" and not readings(text)[k].quantities()}
    assert supplies == {(None, named[11]), (None, named[21])}


def test_meters_of_an_optic_are_none_of_the_chassis() -> None:
    text = walk(
        {**ENTITIES, 50: ("Port", 1, "port(10)", "Ethernet 1", ""), 51: ("Heat", 50, "sensor(8)", "Temperature", "")},
        {**SENSORS, 51: ("celsius(8)", "units(9)", 0, 41, "ok(1)")},
    )
    assert figures(text) == RIGHT


def test_a_text_that_is_cut_within_the_walk_tells_so() -> None:
    whole = walk()
    text = whole[: whole.index("ENTITY-STATE-MIB::entStateAlarm.21") + 20]
    assert [table.ended for table in read(text).tables] == [False]
    assert read(text).tables[0].cut


def test_a_figure_that_the_end_of_the_text_cuts_is_not_read() -> None:
    whole = walk()
    text = whole[: whole.index("entPhySensorValue.40 = INTEGER: 22600") + len("entPhySensorValue.40 = INTEGER: 226")]
    assert not [k for k in figures(text) if k[2] == "Inlet"]


def test_a_text_that_goes_on_in_another_line_spoils_its_row() -> None:
    text = walk().replace('entPhysicalName.40 = STRING: "Inlet"', 'entPhysicalName.40 = STRING: "Inlet\nand more"')
    assert ("temperature", None, "Inlet") not in readings(text)
    assert {line.text for line in read(text).unread} >= {'and more"'}


def test_a_name_that_runs_on_into_another_line_is_none() -> None:
    text = walk().replace(
        'Name.40 = STRING: "Inlet"', 'Name.40 = STRING: "InletMIB::entPhysicalName.41 = STRING: "Outlet"'
    )
    assert not [k for k in readings(text) if k[2] and "Inlet" in k[2]]


OTHERS = """\
IF-MIB::ifDescr.1 = STRING: fan 1
IF-MIB::ifOperStatus.1 = INTEGER: up(1)
IF-MIB::ifSpeed.1 = Gauge32: 4294967295
SNMPv2-MIB::sysDescr.0 = STRING: rack switch, fan 1 ok, 31 C
SNMPv2-MIB::sysName.0 = STRING: tern-04
SNMPv2-MIB::sysUpTime.0 = Timeticks: (51200) 0:08:32.00
IP-FORWARD-MIB::inetCidrRouteIfIndex.ipv4."10.0.0.0".8 = INTEGER: 3
.1.3.6.1.2.1.2.2.1.2.1 = STRING: "PSU 1"
.1.3.6.1.2.1.2.2.1.8.1 = INTEGER: 1
ENTITY-MIB::entPhysicalClass.5 = INTEGER: port(10)
ENTITY-MIB::entPhysicalName.5 = STRING: Ethernet 5
ENTITY-MIB::entLastChangeTime.0 = Timeticks: (1) 0:00:00.01
PETREL-ENV-MIB::petrelFanSpeed.1 = INTEGER: 5400
PETREL-ENV-MIB::petrelFanStatus.1 = INTEGER: 1
PETREL-ENV-MIB::petrelTemperature.1 = INTEGER: 341
"""


def test_other_objects_of_a_walk_give_no_reading() -> None:
    assert not read(OTHERS).sightings
    assert len(read(OTHERS).unread) == len(OTHERS.splitlines())


def test_other_objects_beside_the_hardware_stay_unread() -> None:
    text = OTHERS + walk()
    assert figures(text) == RIGHT
    assert {line.number for line in read(text).unread} >= {1, 2, 3, 4, 5, 6, 13, 14, 15}


LINES = walk().splitlines()


@settings(deadline=None, max_examples=150)
@given(st.integers(0, len(LINES)), st.integers(0, len(LINES)))
def test_lines_that_are_not_there_never_give_a_figure_to_another_thing(first: int, last: int) -> None:
    first, last = sorted((first, last))
    text = "\n".join((*LINES[:first], *LINES[last:], ""))
    for (kind, unit, name), told in figures(text).items():
        if kind == "device":
            continue
        alike = {u: f for (k, u, n), f in RIGHT.items() if (k, n) == (kind, name)}
        assert told in alike.values()
        assert unit is None or alike[unit] == told


@settings(deadline=None, max_examples=150)
@given(st.sets(st.integers(0, len(LINES) - 1), max_size=12))
def test_nor_do_lines_that_are_missing_here_and_there(missing: set[int]) -> None:
    text = "\n".join((*(line for at, line in enumerate(LINES) if at not in missing), ""))
    for (kind, unit, name), told in figures(text).items():
        if kind == "device":
            continue
        alike = {u: f for (k, u, n), f in RIGHT.items() if (k, n) == (kind, name)}
        assert told in alike.values()
        assert unit is None or alike[unit] == told


def test_kinds_of_what_is_read() -> None:
    kinds = {type(r) for r in readings(walk()).values()}
    assert kinds >= {PowerSupply, Fan, Temperature}
