"""Open models of hardware as JSON: what the published definitions say of each value, and forms that must not be misread."""

import json
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.reader import read_text
from consolecheck.records.readings import Condition, Snapshot


def seen(document: Any) -> Snapshot:
    return read_text(json.dumps(document, indent=1).encode(), "model.json", dialects())


def printed(dialect: str, case: str) -> Any:
    """The document within a fixture."""
    text = (shipped("fixtures") / dialect / case / "after.txt").read_text(encoding="utf-8")
    return json.JSONDecoder().raw_decode(text, text.index("{"))[0]


def shuffled(value: Any, chance: random.Random) -> Any:
    """The same document with the members of every object in another order."""
    if isinstance(value, dict):
        items = list(value.items())
        chance.shuffle(items)
        return {key: shuffled(member, chance) for key, member in items}
    return [shuffled(member, chance) for member in value] if isinstance(value, list) else value


WHOLE = [("ietf_hardware", "psu-2-replaced")]


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
