"""Open models of hardware as JSON: what the published definitions say of each value, and forms that must not be misread."""

import base64
import json
import random
import struct
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.reader import read_text
from consolecheck.records.readings import Condition, Snapshot


def seen(document: Any) -> Snapshot:
    return read_text(json.dumps(document, indent=1).encode(), "model.json", dialects())


def printed(dialect: str, case: str) -> Any:
    """The largest document within a fixture."""
    text = (shipped("fixtures") / dialect / case / "after.txt").read_text(encoding="utf-8")
    starts = [at for at in range(len(text)) if text.startswith("{", at) and text[at - 1] == "\n"]
    documents = [json.JSONDecoder().raw_decode(text, at) for at in starts]
    return max(documents, key=lambda found: len(json.dumps(found[0])))[0]


def shuffled(value: Any, chance: random.Random) -> Any:
    """The same document with the members of every object in another order."""
    if isinstance(value, dict):
        items = list(value.items())
        chance.shuffle(items)
        return {key: shuffled(member, chance) for key, member in items}
    return [shuffled(member, chance) for member in value] if isinstance(value, list) else value


OPEN = ("entity_mib", "ietf_hardware", "openconfig_platform", "redfish", "ipmitool")


def test_no_other_dialect_has_any_evidence_for_these_texts_nor_they_for_others() -> None:
    for case in cases_of(shipped("fixtures")):
        for side in ("before", "after"):
            text = case.text(side).decode("utf-8")
            for known in dialects():
                if (known.name in OPEN or case.dialect_name in OPEN) and known.name != case.dialect_name:
                    assert 0 == known.weight(text), (known.name, case.place)


WHOLE = [("ietf_hardware", "psu-2-replaced"), ("openconfig_platform", "psu-2-replaced"), ("redfish", "psu-2-replaced")]


@pytest.mark.parametrize(("dialect", "case"), WHOLE)
@given(chance=st.randoms(use_true_random=False))
def test_the_order_of_members_does_not_matter(dialect: str, case: str, chance: random.Random) -> None:
    document = printed(dialect, case)
    whole, other = seen(document), seen(shuffled(document, chance))
    assert dialect == other.dialect
    assert [] == list(other.unread)
    assert whole.readings == other.readings


@pytest.mark.parametrize(("dialect", "case"), WHOLE)
def test_every_value_is_on_its_line(dialect: str, case: str) -> None:
    raw = json.dumps(printed(dialect, case), indent=1).split("\n")
    for sighting in seen(printed(dialect, case)).sightings:
        for field in ("name", "serial", "value", "speed"):
            span = sighting.span(field)
            cell = dict(zip(sighting.row.fields, sighting.row.cells, strict=True)).get(field)
            if span is not None:
                assert cell == raw[span.line - 1][span.start : span.end]


def component(**members: Any) -> Any:
    return {
        "ietf-hardware:hardware": {"component": [{"name": "psu-2", "class": "iana-hardware:power-supply", **members}]}
    }


def sensor(**members: Any) -> Any:
    data = {"value": 234, "value-type": "celsius", "value-scale": "units", "value-precision": 1, "oper-status": "ok"}
    made = {"name": "inlet", "class": "iana-hardware:sensor", "sensor-data": {**data, **members}}
    return {"ietf-hardware:hardware": {"component": [made]}}


@pytest.mark.parametrize(
    ("oper", "alarm", "standby", "condition"),
    [
        ("enabled", "", "providing-service", "ok"),
        ("enabled", "", "hot-standby", "standby"),
        ("enabled", "warning", "providing-service", "warning"),
        ("enabled", "minor warning", "providing-service", "warning"),
        ("enabled", "major", "providing-service", "failed"),
        ("enabled", "critical minor", "providing-service", "failed"),
        ("enabled", "indeterminate", "providing-service", "unknown"),
        ("enabled", "unknown", "providing-service", "unknown"),
        ("enabled", "under-repair critical", "providing-service", "unknown"),
        ("testing", "", "providing-service", "unknown"),
        ("unknown", "", "unknown", "unknown"),
        ("disabled", "", "cold-standby", "failed"),
        ("disabled", "warning", "providing-service", "failed"),
    ],
)
def test_conditions_of_the_hardware_model(oper: str, alarm: str, standby: str, condition: str) -> None:
    """RFC 8348: oper-state and alarm-state; no bit set means no active alarm and no repair."""
    state = {"oper-state": oper, "alarm-state": alarm, "standby-state": standby}
    (reading,) = seen(component(state=state)).readings
    assert ("psu-2", Condition(condition)) == (reading.unit, reading.condition)


def test_enabled_without_an_alarm_state_is_not_good() -> None:
    assert Condition.UNKNOWN is seen(component(state={"oper-state": "enabled"})).readings[0].condition


def test_a_component_without_a_state_states_none() -> None:
    assert seen(component()).readings[0].condition is None


@pytest.mark.parametrize(
    ("members", "value"),
    [
        ({}, 23.4),  # the example in the description of sensor-value-precision
        ({"value": 1000}, 100.0),
        ({"value": 12034, "value-type": "volts-DC", "value-scale": "milli", "value-precision": 0}, 12.034),
        ({"oper-status": "unavailable"}, None),
        ({"oper-status": "nonoperational"}, None),
    ],
)
def test_sensor_values_of_the_hardware_model(members: dict[str, Any], value: float | None) -> None:
    (reading,) = seen(sensor(**members)).readings
    assert value == (reading.given("value").value if value is not None else reading.given("value"))
    if "oper-status" in members:
        assert reading.condition in (Condition.UNKNOWN, Condition.FAILED)


@pytest.mark.parametrize(
    "members",
    [
        {"value": 1000000000},  # overflow
        {"value": "234"},  # an int32 is a number in RFC 7951, not a string
        {"value": 23.4},
        {"value-scale": "exa"},
        {"value-precision": 10},
        {"value-type": "furlong"},
    ],
)
def test_sensor_values_that_are_none_are_not_read(members: dict[str, Any]) -> None:
    snapshot = seen(sensor(**members))
    assert snapshot.unread
    assert not any(r.given("value") for r in snapshot.readings)


@pytest.mark.parametrize("missing", ["value-type", "value-scale", "value-precision", "oper-status"])
def test_a_value_without_what_it_means_is_not_read(missing: str) -> None:
    document = sensor()
    del document["ietf-hardware:hardware"]["component"][0]["sensor-data"][missing]
    snapshot = seen(document)
    assert snapshot.unread
    assert not any(r.given("value") for r in snapshot.readings)


def test_two_supplies_of_a_stack_are_not_taken_for_one() -> None:
    names = ["switch-1-psu-1", "switch-2-psu-1"]
    document = {
        "ietf-hardware:hardware": {"component": [{"name": n, "class": "iana-hardware:power-supply"} for n in names]}
    }
    assert [(None, n) for n in names] == [(r.unit, r.name) for r in seen(document).readings]


def supply(**values: Any) -> Any:
    state = {f"openconfig-platform-psu:{name.replace('_', '-')}": value for name, value in values.items()}
    made = {
        "name": "PSU 2",
        "state": {"type": "openconfig-platform-types:POWER_SUPPLY"},
        "power-supply": {"state": state},
    }
    return {"openconfig-platform:components": {"component": [made]}}


def floated(number: float) -> str:
    return base64.b64encode(struct.pack(">f", number)).decode()


@pytest.mark.parametrize("printed", [floated(12.06), 12.06, "12.06"])
def test_a_float_in_its_encodings(printed: Any) -> None:
    """`ieeefloat32` is four octets, in base64 by RFC 7951; devices are also known to write the number itself."""
    (reading,) = seen(supply(output_voltage=printed)).readings
    assert 12.06 == reading.given("output_voltage").value


@pytest.mark.parametrize(
    "printed",
    [
        floated(float("nan")),
        floated(float("inf")),
        base64.b64encode(struct.pack(">d", 12.06)).decode(),  # eight octets
        floated(12.06)[:-1],
        floated(12.06)[:-2],
        "0x4140f5c3",
        "12.06 V!",
        True,
    ],
)
def test_an_encoding_that_is_no_number_is_not_read(printed: Any) -> None:
    snapshot = seen(supply(output_voltage=printed))
    assert snapshot.unread
    assert not any(r.given("output_voltage") for r in snapshot.readings)


@given(st.floats(0, 4000, width=32))
def test_a_decoded_value_is_the_device_s_own(number: float) -> None:
    (reading,) = seen(supply(output_power=floated(number))).readings
    assert struct.pack(">f", number) == struct.pack(">f", reading.given("output_power").value)


@pytest.mark.parametrize(
    ("state", "condition"),
    [
        ({"oper-status": "openconfig-platform-types:ACTIVE"}, "ok"),
        ({"oper-status": "ACTIVE"}, "ok"),
        ({"oper-status": "openconfig-platform-types:INACTIVE"}, "failed"),
        ({"oper-status": "openconfig-platform-types:DISABLED"}, "unknown"),
        ({"oper-status": "openconfig-platform-types:ACTIVE", "empty": True}, "absent"),
    ],
)
def test_conditions_of_a_component(state: dict[str, Any], condition: str) -> None:
    document = supply()
    document["openconfig-platform:components"]["component"][0]["state"].update(state)
    assert Condition(condition) is seen(document).readings[0].condition


@pytest.mark.parametrize(
    ("dialect", "word", "other"),
    [
        ("ietf_hardware", '"enabled"', '"enab"'),
        ("ietf_hardware", '"providing-service"', '"splendid"'),
        ("ietf_hardware", '"ok"', '"OK"'),
        ("ietf_hardware", '"alarm-state": ""', '"alarm-state": "warn"'),
        ("ietf_hardware", "iana-hardware:power-supply", "iana-hardware:power"),
        ("openconfig_platform", "openconfig-platform-types:ACTIVE", "openconfig-platform-types:ACT"),
        ("redfish", '"Enabled"', '"Splendid"'),
        ("redfish", '"OK"', '"Ok"'),
    ],
)
def test_a_word_that_the_model_does_not_have_is_not_passed_over(dialect: str, word: str, other: str) -> None:
    """The models close their lists of words: another one was not rightly read, or is of a model that is not known."""
    text = json.dumps(printed(dialect, "psu-2-replaced"), indent=1)
    places = [at for at in range(len(text)) if text.startswith(word, at)]
    for at in (places[0], places[-1]):
        changed = text[:at] + other + text[at + len(word) :]
        assert read_text(changed.encode(), "model.json", dialects()).unread


def test_a_supply_that_was_switched_off_is_not_good() -> None:
    document = supply(enabled=False)
    document["openconfig-platform:components"]["component"][0]["state"]["oper-status"] = "ACTIVE"
    assert Condition.UNKNOWN is seen(document).readings[0].condition


@pytest.mark.parametrize("severity", ["MAJOR", "SPLENDID"])
def test_a_limit_of_a_severity_that_has_no_place_is_not_passed_over(severity: str) -> None:
    document = printed("openconfig_platform", "psu-2-replaced")
    fan = next(c for c in document["openconfig-platform:components"]["component"] if "fan" in c)
    fan["fan"]["openconfig-platform-fan:thresholds"]["threshold"][0]["severity"] = severity
    snapshot = seen(document)
    assert any("threshold" in u.reason for u in snapshot.unread)


def test_a_component_s_temperature_is_a_reading_of_its_own() -> None:
    document = supply(output_power=186)
    document["openconfig-platform:components"]["component"][0]["state"]["temperature"] = {"instant": "34.5"}
    temperature, unit = seen(document).readings
    assert ("temperature", "psu-2", 34.5) == (temperature.kind, temperature.unit, temperature.given("value").value)
    assert ("power_supply", "psu-2", 186) == (unit.kind, unit.unit, unit.given("output_power").value)


def power(status: dict[str, Any] | None, **more: Any) -> Any:
    made = {"Name": "PSU 2", **({"Status": status} if status is not None else {}), **more}
    return {"@odata.type": "#Power.v1_7_1.Power", "Name": "Power", "PowerSupplies": [made]}


@pytest.mark.parametrize(
    ("status", "condition"),
    [
        ({"State": "Enabled", "Health": "OK"}, "ok"),
        ({"State": "Enabled", "Health": "Warning"}, "warning"),
        ({"State": "Enabled", "Health": "Critical"}, "failed"),
        ({"State": "Enabled"}, "unknown"),
        ({"State": "Enabled", "Health": None}, "unknown"),
        ({"State": "Absent"}, "absent"),
        ({"State": "Absent", "Health": "OK"}, "absent"),
        ({"State": "StandbySpare", "Health": "OK"}, "standby"),
        ({"State": "StandbyOffline", "Health": "OK"}, "standby"),
        ({"State": "InTest", "Health": "OK"}, "unknown"),
        ({"State": "Starting", "Health": "OK"}, "unknown"),
        ({"State": "Disabled", "Health": "OK"}, "unknown"),
        ({"State": "UnavailableOffline", "Health": "OK"}, "unknown"),
        ({"State": "UnavailableOffline", "Health": "Critical"}, "failed"),
        ({"Health": "OK"}, "unknown"),
        ({"State": "Enabled", "HealthRollup": "OK"}, "unknown"),
    ],
)
def test_conditions_of_state_and_health(status: dict[str, Any], condition: str) -> None:
    """DSP0268: Status with State and Health; a rollup is of what is below and says nothing of the thing itself."""
    (reading,) = seen(power(status)).readings
    assert ("psu-2", Condition(condition)) == (reading.unit, reading.condition)


def test_a_supply_without_a_status_states_none() -> None:
    assert seen(power(None)).readings[0].condition is None


@pytest.mark.parametrize(
    ("line", "condition"), [("Normal", "ok"), ("LossOfInput", "no-input"), ("OutOfRange", "warning")]
)
def test_the_line_s_own_status(line: str, condition: str) -> None:
    """PowerSupply 1.x: LineInputStatus."""
    made = {"Name": "PSU 2", "LineInputStatus": line, "Status": {"State": "Enabled", "Health": "OK"}}
    (reading,) = seen({"@odata.type": "#PowerSupply.v1_6_0.PowerSupply", **made}).readings
    assert ("psu-2", Condition(condition)) == (reading.unit, reading.condition)


@pytest.mark.parametrize(
    ("units", "speed", "percent"), [("RPM", 9400, None), ("Percent", None, 52), (None, None, None), ("Hz", None, None)]
)
def test_a_fan_s_reading_is_in_the_unit_it_names(units: str | None, speed: float | None, percent: float | None) -> None:
    fan = {"Name": "Fan 3", "Reading": speed or percent or 52, "Status": {"State": "Enabled", "Health": "OK"}}
    snapshot = seen(
        {
            "@odata.type": "#Thermal.v1_7_1.Thermal",
            "Name": "Thermal",
            "Fans": [{**fan, **({"ReadingUnits": units} if units else {})}],
        }
    )
    if units in ("RPM", "Percent"):
        (reading,) = snapshot.readings
        found = [q.value if (q := reading.given(name)) else None for name in ("speed", "speed_percent")]
        assert [speed, percent] == found
    else:
        assert snapshot.unread
        assert not any(reading.quantities() for reading in snapshot.readings)


def test_a_reading_in_quotes_is_no_reading() -> None:
    snapshot = seen(power({"State": "Enabled", "Health": "OK"}, LineInputVoltage="230"))
    assert any("LineInputVoltage" in u.reason for u in snapshot.unread)
    assert not any(r.given("input_voltage") for r in snapshot.readings)


def test_a_maker_s_own_part_is_left_to_the_maker() -> None:
    own = {"Oem": {"Tidal": {"Mood": "calm", "Deep": [{"er": 1}]}}}
    assert [] == list(seen(power({"State": "Enabled", "Health": "OK"}, **own)).unread)


def test_a_property_that_no_schema_has_is_unread() -> None:
    assert any("Mood" in u.reason for u in seen(power({"State": "Enabled", "Health": "OK"}, Mood="calm")).unread)


def test_the_type_of_a_resource_is_not_guessed() -> None:
    document = power({"State": "Enabled", "Health": "OK"})
    del document["@odata.type"]
    document["@odata.id"] = "/redfish/v1/Chassis/1/Power"
    snapshot = seen(document)
    assert snapshot.unread
    assert [] == snapshot.readings


def test_members_that_count_from_zero_are_no_slots() -> None:
    made = {"Name": "Left supply", "MemberId": "0", "@odata.id": "/redfish/v1/Chassis/1/Power#/PowerSupplies/0"}
    document = {"@odata.type": "#Power.v1_7_1.Power", "PowerSupplies": [made]}
    assert [(None, "Left supply")] == [(r.unit, r.name) for r in seen(document).readings]


def test_a_sensor_s_thresholds() -> None:
    """Sensor 1.x: Thresholds with a Reading each."""
    limits = ("LowerCritical", "LowerCaution", "UpperCaution", "UpperCritical")
    document = {
        "@odata.type": "#Sensor.v1_10_0.Sensor",
        "Name": "Inlet",
        "Reading": 22.6,
        "ReadingType": "Temperature",
        "ReadingUnits": "Cel",
        "Status": {"State": "Enabled", "Health": "OK"},
        "Thresholds": {name: {"Reading": value} for name, value in zip(limits, (-5, 0, 40, 45.5), strict=True)},
    }
    (reading,) = seen(document).readings
    assert {"value": 22.6, "low_critical": -5, "low_warning": 0, "high_warning": 40, "high_critical": 45.5} == {
        name: quantity.value for name, quantity in reading.quantities().items()
    }


@pytest.mark.parametrize("units", ["K", "Fahrenheit", "V"])
def test_a_temperature_in_another_unit_is_not_taken_for_celsius(units: str) -> None:
    document = {
        "@odata.type": "#Sensor.v1_10_0.Sensor",
        "Name": "Inlet",
        "Reading": 72,
        "ReadingType": "Temperature",
        "ReadingUnits": units,
    }
    snapshot = seen(document)
    assert snapshot.unread
    assert [] == snapshot.readings
