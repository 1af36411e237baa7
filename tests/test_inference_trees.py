"""JSON of the open models in texts of a device that no dialect knows: a case per fault."""

import json

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading, Condition
from consolecheck.records.readings import Snapshot as Read

PROMPT = "keeper@auk-02:~$ "


def read(told: object, indent: int | None = 1, end: str = "\n" + PROMPT) -> Read:
    said = told if isinstance(told, str) else json.dumps(told, indent=indent)
    return read_unknown(f"{PROMPT}cat hardware.json\n{said}{end}".encode(), "text")


def by_name(told: object, **how: object) -> dict[tuple[str, str | None, str | None], AnyReading]:
    return {(s.reading.kind, s.reading.unit, s.reading.name): s.reading for s in read(told, **how).sightings}  # type: ignore[arg-type]


def figures(reading: AnyReading) -> dict[str, str]:
    return {name: str(q) for name, q in reading.quantities().items()}


# RFC 8348


def component(name: str, sort: str, parent: str = "chassis", **more: object) -> dict[str, object]:
    return {"name": name, "class": f"iana-hardware:{sort}", "parent": parent, **more}


def data(value: int, sort: str, **more: object) -> dict[str, object]:
    return {
        "value": value,
        "value-type": sort,
        "value-scale": "units",
        "value-precision": 0,
        "oper-status": "ok",
        **more,
    }


def hardware(*components: dict[str, object]) -> dict[str, object]:
    chassis = {"name": "chassis", "class": "iana-hardware:chassis", "is-fru": False}
    return {"ietf-hardware:hardware": {"last-change": "2026-11-30T02:10:00Z", "component": [chassis, *components]}}


WELL = {"oper-state": "enabled", "alarm-state": ""}
SUPPLIES = hardware(
    component("psu-1", "power-supply", **{"serial-num": "TPS-1", "state": WELL}),
    component("vin", "sensor", "psu-1", **{"sensor-data": data(231, "volts-AC")}),
    component("psu-2", "power-supply", state={"oper-state": "disabled", "alarm-state": "critical"}),
    component("vin-2", "sensor", "psu-2", **{"sensor-data": data(0, "volts-AC")}),
)


@pytest.mark.parametrize("indent", [1, None])
def test_a_meter_without_a_supply_in_its_name_is_of_the_one_it_stands_in(indent: int | None) -> None:
    found = by_name(SUPPLIES, indent=indent)
    assert figures(found["power_supply", "psu-1", "vin"]) == {"input_voltage": "231 V"}
    assert figures(found["power_supply", "psu-2", "vin-2"]) == {"input_voltage": "0 V"}
    assert found["power_supply", "psu-1", None].condition is Condition.OK
    assert found["power_supply", "psu-2", None].condition is Condition.FAILED
    assert not read(SUPPLIES, indent=indent).unread


def test_json_on_one_long_line_is_read_and_the_prompt_behind_its_end_ends_it() -> None:
    many = hardware(
        component("psu-1", "power-supply", state=WELL),
        *(component(f"spare-{n}", "container", description="An empty place of the rack") for n in range(60)),
    )
    snapshot = read(many, indent=None, end=PROMPT)
    assert max(len(json.dumps(many)), 0) > 4096
    assert [s.reading.unit for s in snapshot.sightings if s.reading.kind == "power_supply"] == ["psu-1"]
    assert not snapshot.unread
    assert all(table.ended for table in snapshot.tables)


def test_one_line_on_which_something_was_not_read_is_an_unread_line() -> None:
    told = hardware(
        component("psu-1", "power-supply", state=WELL),
        component("heat", "sensor", "psu-1", **{"sensor-data": data(34, "celsius", **{"value-scale": "exa"})}),
    )
    snapshot = read(told, indent=None)
    assert [s.reading.unit for s in snapshot.sightings if s.reading.kind == "power_supply"] == ["psu-1"]
    assert [line.number for line in snapshot.unread] == [2]


def test_a_long_line_that_is_no_json_stays_unread() -> None:
    assert [u.number for u in read("{" + '"psu-1": {"status": "ok"}, ' * 400).unread] == [2]


@pytest.mark.parametrize("missing", ["value-scale", "value-precision", "oper-status", "value-type"])
def test_a_value_without_what_tells_its_size_is_not_read(missing: str) -> None:
    told = data(345, "celsius")
    del told[missing]
    found = by_name(
        hardware(component("psu-1", "power-supply", state=WELL), component("inlet", "sensor", **{"sensor-data": told}))
    )
    assert ("temperature", None, "inlet") not in found


def test_a_negative_precision_moves_no_point() -> None:
    told = hardware(component("inlet", "sensor", **{"sensor-data": data(30, "celsius", **{"value-precision": -1})}))
    assert figures(by_name(told)["temperature", None, "inlet"]) == {"value": "30 °C"}


# OpenConfig platform


def part(name: str, sort: str, *, more: dict[str, object] | None = None, **state: object) -> dict[str, object]:
    told = {
        "name": name,
        "type": f"openconfig-platform-types:{sort}",
        **{k.replace("_", "-"): v for k, v in state.items()},
    }
    return {"name": name, "config": {"name": name}, "state": told, **(more or {})}


def platform(*parts: dict[str, object]) -> dict[str, object]:
    return {"openconfig-platform:components": {"component": list(parts)}}


ACTIVE = "openconfig-platform-types:ACTIVE"


def test_bounds_of_a_fan_in_a_list_by_severity() -> None:
    bounds = [
        {
            "severity": f"openconfig-alarm-types:{s}",
            "state": {"severity": f"openconfig-alarm-types:{s}", "lower": low, "upper": up},
        }
        for s, low, up in (("CRITICAL", 2000, 16500), ("WARNING", 3000, 15500))
    ]
    more = {
        "fan": {
            "state": {"openconfig-platform-fan:speed": 8490},
            "openconfig-platform-fan:thresholds": {"threshold": bounds},
        }
    }
    told = platform(part("Fan 1", "FAN", oper_status=ACTIVE, more=more))
    (found,) = by_name(told).values()
    assert figures(found) == {
        "speed": "8490 rpm",
        "low_critical": "2000 rpm",
        "low_warning": "3000 rpm",
        "high_warning": "15500 rpm",
        "high_critical": "16500 rpm",
    }
    assert not read(told).unread


def supply(volts: str, **state: object) -> dict[str, object]:
    return part(
        "PSU 1",
        "POWER_SUPPLY",
        more={"power-supply": {"state": {"openconfig-platform-psu:input-voltage": volts}}},
        **state,
    )


def test_four_bytes_of_a_float_are_read_and_what_is_not_four_bytes_is_not() -> None:
    found = by_name(platform(supply("Q2cAAA==", oper_status=ACTIVE)))
    assert figures(found["power_supply", "psu-1", None]) == {"input_voltage": "231 V"}
    assert not by_name(platform(supply("Q2cAAA=", oper_status=ACTIVE)))
    assert not by_name(platform(supply("f8AAAA==", oper_status=ACTIVE)))  # no number


def heat(**more: object) -> dict[str, object]:
    told = {"instant": "46.2", "avg": "45.8", "min": "44.7", "max": "47.1", "interval": "60000000000", **more}
    return part("Inlet", "SENSOR", oper_status=ACTIVE, temperature=told)


def test_what_a_temperature_was_over_time_is_no_bound_of_it() -> None:
    found = by_name(platform(heat(**{"alarm-status": False})))["temperature", None, "Inlet"]
    assert figures(found) == {"value": "46.2 °C"}
    assert found.condition is Condition.OK


def test_an_alarm_that_stands_is_told_with_its_severity() -> None:
    alarm = {"alarm-status": True, "alarm-threshold": 45, "alarm-severity": "openconfig-alarm-types:CRITICAL"}
    assert by_name(platform(heat(**alarm)))["temperature", None, "Inlet"].condition is Condition.FAILED
    assert by_name(platform(heat(**{"alarm-status": True})))["temperature", None, "Inlet"].condition not in (
        None,
        Condition.OK,
    )


def test_a_temperature_without_alarm_is_no_word_on_its_supply() -> None:
    found = by_name(platform(supply("Q2cAAA==", temperature={"instant": "34.5", "alarm-status": False})))
    assert found["power_supply", "psu-1", None].condition is None


def test_an_empty_place_is_absent_and_one_that_is_not_empty_is_not_therefore_well() -> None:
    assert (
        by_name(platform(part("PSU 2", "POWER_SUPPLY", empty=True)))["power_supply", "psu-2", None].condition
        is Condition.ABSENT
    )
    found = by_name(platform(part("PSU 2", "POWER_SUPPLY", empty=False, serial_no="TPS-9")))
    assert all(r.condition in (None, Condition.UNKNOWN) for r in found.values())


# Redfish


def test_redundancy_is_no_fan() -> None:
    status = {"State": "Enabled", "Health": "OK"}
    told = {
        "Fans": [{"MemberId": "0", "Name": "Fan 1", "Reading": 8490, "ReadingUnits": "RPM", "Status": status}],
        "Redundancy": [{"MemberId": "0", "Name": "Fan redundancy", "Mode": "N+m", "Status": status}],
    }
    assert list(by_name(told)) == [("fan", "fan-1", None)]


def test_a_link_to_a_sensor_is_no_figure() -> None:
    told = {
        "Name": "Metrics of PSU 1",
        "InputVoltage": {"DataSourceUri": "/redfish/v1/Chassis/1/Sensors/PSU1Vin", "Reading": 231},
    }
    assert [figures(r) for r in by_name(told).values()] == [{"input_voltage": "231 V"}]


def test_a_supply_that_lost_its_input_is_told_so_and_never_well() -> None:
    told = {
        "Name": "PSU 2",
        "Status": {"State": "Enabled", "Health": "Critical"},
        "LineInputStatus": "LossOfInput",
        "SerialNumber": "TPS-9",
    }
    assert by_name(told)["power_supply", "psu-2", None].condition is Condition.NO_INPUT
    told["Status"] = {"State": "Enabled", "Health": "OK"}
    assert by_name(told)["power_supply", "psu-2", None].condition is Condition.NO_INPUT


def test_the_side_of_a_reading_of_nought_is_told_by_its_name() -> None:
    told = {"Name": "PSU 2 Output Voltage", "ReadingType": "Voltage", "ReadingUnits": "V", "Reading": 0.0}
    assert [figures(r) for r in by_name(told).values()] == [{"output_voltage": "0 V"}]


def test_a_sensor_whose_reading_is_a_temperature() -> None:
    told = {"Name": "Inlet", "ReadingType": "Temperature", "ReadingUnits": "Cel", "Reading": 22.6}
    assert figures(by_name(told)["temperature", None, "Inlet"]) == {"value": "22.6 °C"}


# Chips of the kernel


def chip(**more: float) -> dict[str, object]:
    return {"tdfan-isa-0000": {"Adapter": "ISA adapter", "Fan 1": {"fan1_input": 8490.0, "fan1_min": 3000.0, **more}}}


def test_sensors_of_one_chip_are_things_of_their_own() -> None:
    told = {
        "tlm75-i2c-4-48": {
            "Adapter": "i2c-4-mux (chan_id 3)",
            "Core 0": {"temp1_input": 43.5},
            "Core 1": {"temp2_input": 41.5},
        }
    }
    found = by_name(told)
    assert {name: figures(r)["value"] for (_, _, name), r in found.items()} == {
        "tlm75-i2c-4-48 Core 0": "43.5 °C",
        "tlm75-i2c-4-48 Core 1": "41.5 °C",
    }
    assert not read(told).unread


@pytest.mark.parametrize(
    ("flag", "value", "condition"),
    [
        ("fan1_fault", 1.0, Condition.FAILED),
        ("fan1_alarm", 1.0, Condition.WARNING),
        ("fan1_fault", 0.0, None),
        ("fan1_alarm", 0.0, None),
        ("fan1_alarm", 0.5, Condition.UNKNOWN),
    ],
)
def test_a_flag_that_is_set_is_never_lost(flag: str, value: float, condition: Condition | None) -> None:
    (found,) = by_name(chip(**{flag: value})).values()
    assert found.condition is condition


def test_a_chip_whose_name_holds_a_number_is_no_supply() -> None:
    told = {
        "tdps650-i2c-10-58": {"Adapter": "i2c", "Board": {"temp1_input": 30.0}, "PSU-1 Temp": {"temp2_input": 31.0}}
    }
    assert set(by_name(told)) == {
        ("temperature", None, "tdps650-i2c-10-58 Board"),
        ("temperature", "psu-1", "PSU-1 Temp"),
    }


# JSON that is not whole


def test_an_object_that_has_a_key_twice_has_lost_lines_and_is_not_read() -> None:
    whole = json.dumps(
        {"PowerSupplies": [{"Name": f"PSU {n}", "SerialNumber": f"TPS-{n}", "State": "OK"} for n in (1, 2)]}, indent=1
    )
    assert len(read(whole).sightings) == 2
    lines = whole.splitlines()
    end = next(at for at, line in enumerate(lines) if line.strip() == "},")
    for lost in (
        lines[end : end + 2],
        lines[end - 1 : end + 2],
        lines[end : end + 3],
    ):  # the end of one object, and the next's beginning
        assert not read("\n".join(line for at, line in enumerate(lines) if not any(line is x for x in lost))).sightings


def test_a_temperature_without_a_name_is_not_read() -> None:
    assert not read({"ReadingType": "Temperature", "ReadingUnits": "Cel", "Reading": 22.6}).sightings


def test_json_that_is_cut_is_no_list_of_keys() -> None:
    told = json.dumps([{"name": f"PSU {n}", "status": "OK", "serial": f"TPS-{n}"} for n in (1, 2)], indent=1)
    for end in range(len(told) - 1):
        assert not read(told[:end], end="\n" + PROMPT).sightings


# XML


def xml(text: str) -> dict[tuple[str, str | None, str | None], AnyReading]:
    return by_name(text)


BAYS = """<response status="success">
 <fan><Slot1>
  <entry><slot>1</slot><description>Fan #1 RPM</description><min>5000</min><alarm>False</alarm><RPMs>7120</RPMs></entry>
  <entry><slot>1</slot><description>Fan #2 RPM</description><min>5000</min><alarm>{0}</alarm><RPMs>7080</RPMs></entry>
 </Slot1></fan>
 <thermal><Slot1>
  <entry><slot>1</slot><description>Temperature near CPU</description><alarm>False</alarm><DegreesC>36.5</DegreesC><max>85.0</max></entry>
  <entry><slot>1</slot><description>Temperature at rear</description><alarm>False</alarm><DegreesC>25.5</DegreesC><max>60.0</max></entry>
 </Slot1></thermal>
 <power-supply><Slot1>
  <entry><slot>1</slot><description>Power Supply #1 (left)</description><alarm>False</alarm><Inserted>True</Inserted><min>True</min></entry>
  <entry><slot>1</slot><description>Power Supply #2 (right)</description><alarm>True</alarm><Inserted>{1}</Inserted><min>True</min></entry>
 </Slot1></power-supply>
</response>
"""


def test_a_unit_is_the_element_and_the_description_names_what_the_slot_of_its_card_does_not() -> None:
    found = xml(BAYS.format("True", "False"))
    assert {"speed": "7120 rpm", "low_warning": "5000 rpm"} == figures(found["fan", "fan-1", "Fan #1 RPM"])
    assert {"value": "36.5 °C", "high_warning": "85 °C"} == figures(found["temperature", None, "Temperature near CPU"])
    assert Condition.OK is found["power_supply", "psu-1", None].condition
    assert Condition.OK is not found["fan", "fan-2", "Fan #2 RPM"].condition
    assert Condition.ABSENT is found["power_supply", "psu-2", None].condition
    assert Condition.OK is not xml(BAYS.format("False", "True"))["power_supply", "psu-2", None].condition
    assert not read(BAYS.format("True", "False")).unread


def test_a_description_that_is_of_another_kind_names_nothing() -> None:
    odd = BAYS.replace("Fan #1 RPM", "Power Supply #1").replace("Fan #2 RPM", "tray with 2 rotors")
    assert not [key for key in xml(odd.format("False", "True")) if key[0] == "fan"]


PROPERTIES = """<answer>
 <object basetype="supplies" name="power-supplies" oid="1">
  <property name="name" type="string" display-name="Name">PSU 1, Left</property>
  <property name="dctemp" type="uint32" units="C" display-name="Temp">31</property>
  <property name="serial-number" type="string" display-name="Serial Number">WX01A17</property>
  <property name="health" type="string" display-name="Health">{0}</property>
  <object basetype="fan" name="fan-details" oid="2">
   <property name="name" type="string" display-name="Name">Fan of PSU 1</property>
   <property name="speed" type="uint32" units="{1}" display-name="Speed">3660</property>
   <property name="health" type="string" display-name="Health">OK</property>
  </object>
 </object>
 <object basetype="status" name="status" oid="3">
  <property name="response-type" type="string">Success</property>
 </object>
</answer>
"""


def test_an_element_named_by_its_attribute_is_a_key_with_its_value() -> None:
    found = xml(PROPERTIES.format("Fault", "rpm"))
    supply = found["power_supply", "psu-1", None]
    assert (Condition.FAILED, "WX01A17") == (supply.condition, supply.given("serial"))
    assert {"value": "31 °C"} == figures(found["temperature", "psu-1", "Temp"])
    assert {"speed": "3660 rpm"} == figures(found["fan", "psu-1", "Fan of PSU 1"])
    assert not read(PROPERTIES.format("OK", "")).unread


def test_what_an_attribute_names_is_read_as_strictly_as_any_key() -> None:
    assert not [key for key in xml(PROPERTIES.format("OK", "furlongs")) if key[0] == "fan"]
    quiet = xml(PROPERTIES.format("", "rpm"))
    assert ["fan", "inventory", "temperature"] == sorted(kind for kind, _, _ in quiet)
    assert {"value": "31 °C"} == figures(quiet["temperature", "psu-1", "Temp"])
    wells = xml('<answer><property name="psu-1" state="failed">OK</property></answer>\n')
    assert Condition.OK not in {r.condition for r in wells.values()}


ONE_FAN = {
    "powerSupplies": {
        "1": {
            "state": "ok",
            "outputVoltage": 12.02,
            "tempSensors": {"TempSensorP1/1": {"status": "ok", "temperature": 28}},
            "fans": {"FanP1/1": {"status": "ok", "speed": 43}},
        }
    }
}


def with_fan(**told: object) -> object:
    said = json.loads(json.dumps(ONE_FAN))
    said["powerSupplies"]["1"]["fans"]["FanP1/1"] = told
    return said


def test_a_speed_that_may_be_a_share_is_left_unread_and_the_fan_keeps_its_status() -> None:
    found = read(ONE_FAN)
    (fan,) = [s.reading for s in found.sightings if s.reading.kind == "fan"]
    assert (Condition.OK, {}) == (fan.condition, figures(fan))
    (left,) = found.unread
    assert '"speed": 43' in left.text
    assert "could be a speed or a share" in left.reason


@pytest.mark.parametrize("told", [{"speed": 43}, {"status": "ok", "speed": 0}, {"status": "ok", "speed": "43 tps"}])
def test_a_fan_with_no_status_or_no_turns_is_not_read_by_the_rest(told: dict[str, object]) -> None:
    found = read(with_fan(**told))
    assert not [s for s in found.sightings if s.reading.kind == "fan"]
    assert [x for x in found.unread if "speed" in x.text]


def test_the_only_sensor_of_a_supply_is_a_sensor_of_its_own() -> None:
    found = by_name(ONE_FAN)
    assert {"value": "28 °C"} == figures(found["temperature", None, "TempSensorP1/1"])
    assert {"output_voltage": "12.02 V"} == figures(found["power_supply", "psu-1", None])


def test_a_temperature_without_place_or_name_is_unread() -> None:
    found = read({"powerSupplies": [{"temperature": 31}]})
    assert not found.sightings
    assert found.unread


@pytest.mark.parametrize("odd", ["", "<description>rear</description>"])
def test_a_fan_without_its_description_is_not_named_by_the_slot_of_its_card(odd: str) -> None:
    """Two fans of the card in slot 1, of which one lost its name: it is not fan 1."""
    text = BAYS.format("False", "False").replace("<description>Fan #2 RPM</description>", odd)
    assert ["Fan #1 RPM"] == [name for kind, _, name in xml(text) if kind == "fan"]
    assert [x for x in read(text).unread if "7080" in x.text]


def test_a_bay_with_a_slot_alone_stands_beside_supplies_that_are_described() -> None:
    bays = [{"slot": 1, "description": "PSU 1", "status": "ok"}, {"slot": 2, "status": "absent"}]
    found = by_name({"psus": bays})
    assert {"psu-1": Condition.OK, "psu-2": Condition.ABSENT} == {
        unit: r.condition for (_, unit, _), r in found.items()
    }
