"""What stands beside a figure: limits and serials in brackets, a state behind it, a further line of one key."""

from textwrap import dedent

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading, Condition
from consolecheck.records.units import Quantity


def read(text: str) -> list[AnyReading]:
    return read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").readings


def celsius(value: float) -> Quantity:
    return Quantity(value=value, unit="Cel")


def rpm(value: float) -> Quantity:
    return Quantity(value=value, unit="rpm")


@pytest.mark.parametrize("word", ["shutdown is", "alarm at", "critical:", "max"])
def test_a_limit_in_brackets_is_told_by_its_word(word: str) -> None:
    (one,) = read(f"Main Board Temperatures :\n     U24 - Local Temp     : 29 C ({word} 80 C)\n")
    limits = {one.given("high_warning"), one.given("high_critical")}
    assert one.given("value") == celsius(29)
    assert celsius(80) in limits


@pytest.mark.parametrize("word", ["was", "average", "seen"])
def test_another_figure_in_brackets_is_no_limit(word: str) -> None:
    found = read(f"Main Board Temperatures :\n     U24 - Local Temp     : 29 C ({word} 80 C)\n")
    assert not [q for r in found for n, q in r.quantities().items() if n != "value"]


def test_a_serial_in_brackets_is_that_of_the_supply() -> None:
    one, two = read("Power Supply 0   : OK (Serial# TN0011830)\nPower Supply 1   : ABSENT\n")
    assert ("psu-0", Condition.OK, "TN0011830") == (one.unit, one.condition, one.given("serial"))
    assert (Condition.ABSENT, None) == (two.condition, two.given("serial"))


FURTHER = """
    Power Supply 0                   : Present
                                     : Serial# TN3129K01
                                     : Fan {}
    Power Supply 1                   : Absent
    Main Board Temperatures          :
                                     : Local Temp 33 C (board inlet)
                                     : Remote 1 Temp 41 C (CPU heatsink)
    """


def test_further_lines_of_one_key_are_told_of_the_same_thing() -> None:
    one, fan, two, local, remote = read(FURTHER.format("OK"))
    assert ("psu-0", Condition.UNKNOWN, "TN3129K01") == (one.unit, one.condition, one.given("serial"))
    assert ("fan", "psu-0", Condition.OK) == (fan.kind, fan.unit, fan.condition)
    assert Condition.ABSENT is two.condition
    assert [celsius(33), celsius(41)] == [local.given("value"), remote.given("value")]
    assert ["Local Temp", "Remote 1 Temp"] == [local.name, remote.name]


def test_the_word_of_its_fan_makes_no_supply_well() -> None:
    assert not [r for r in read(FURTHER.format("OK")) if r.kind == "power_supply" and r.condition is Condition.OK]
    assert not [r for r in read(FURTHER.format("assembly")) if r.condition is Condition.OK]


PLACES = """
    Power Supplies:
    -----------------------------------
       Power Supplies:
       --------------------------------
       Left Slot (PS0): Present
       Right Slot (PS1): {}

       Power Input:
       --------------------------------
       Left Slot (PS0): OK
       Right Slot (PS1): {}

       Temperature:
       --------------------------------
       Left Slot (PS0): 26 C - OK (Power Supply Temperature)
    """


def test_what_comes_in_is_well_and_the_supply_is_not_told_to_be() -> None:
    one, two, heat = read(PLACES.format("Present", "OK"))
    assert [("psu-0", Condition.UNKNOWN), ("psu-1", Condition.UNKNOWN)] == [(r.unit, r.condition) for r in (one, two)]
    assert ("temperature", "psu-0", celsius(26), Condition.OK) == (
        heat.kind, heat.unit, heat.given("value"), heat.condition,
    )  # fmt: skip


def test_what_comes_in_is_lost_and_the_supply_has_no_input() -> None:
    two = read(PLACES.format("Present", "failed"))[1]
    assert ("psu-1", Condition.NO_INPUT) == (two.unit, two.condition)


def test_a_figure_with_what_it_is_of_behind_it() -> None:
    text = """
        Cooling Fans:
           Power Supplies:
           Left Slot (PS0): 6800 RPM - OK (Power Supply Fan)
           Chassis Fans:
           Cooling Fan 1: 5504 RPM - OK
        Temperature:
           Chassis:
           Ambient 1: 26.0 C - OK (Chassis Front Temperature)
        """
    within, fan, heat = read(text)
    assert ("psu-0", rpm(6800), Condition.OK) == (within.unit, within.given("speed"), within.condition)
    assert ("fan-1", rpm(5504)) == (fan.unit, fan.given("speed"))
    assert ("Ambient 1", celsius(26)) == (heat.name, heat.given("value"))
    mixed = read(text.replace("26.0 C - OK (Chassis Front Temperature)", "26.0 C - OK (Chassis Front Fan)"))
    assert not [r for r in mixed if r.kind == "temperature" or r.name == "Ambient 1"]


def test_a_fan_without_a_number_is_told_by_the_unit_of_its_key() -> None:
    heat, fan = read("Temp (C)......................... 36\nFan Speed, RPM................... 4320\n")
    assert (celsius(36), "fan", rpm(4320)) == (heat.given("value"), fan.kind, fan.given("speed"))
    assert not [r for r in read("Temp (C)........ 36\nFan Speed....... 4320\n") if r.kind == "fan"]
    assert not [r for r in read("Temp (C)........ 36\nFan Level, %.... 43\n") if r.kind == "fan"]


def test_a_sensor_of_a_supply_has_its_figure_on_the_next_line() -> None:
    supply, heat, board = read(
        """
        PSU1:  OK

        PSU1Temp1(PSU1 Temp Sensor):  OK
        temp:33.0 C   (max = 75.0 C, min = 5.0 C)

        Temp1(Board Sensor near CPU):  OK
        temp:38.5 C   (max = 80.0 C, min = 5.0 C)
        """
    )
    assert ("power_supply", "psu-1", {}) == (supply.kind, supply.unit, supply.quantities())
    assert [("psu-1", celsius(33)), (None, celsius(38.5))] == [(r.unit, r.given("value")) for r in (heat, board)]
    assert heat.name != "temp"


def test_a_bare_temperature_behind_a_named_one_is_another_sensor() -> None:
    text = "CPU temperature......... 46 C\nTemperature............. 38 C\nTemperature limits...... 0 / 70 C\nFan 1.... ok\n"
    heats = [r for r in read(text) if r.kind == "temperature"]
    assert [celsius(46), celsius(38)] == [r.given("value") for r in heats]
    assert [None, None] == [r.given("high_warning") for r in heats]
