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


def heats(text: str) -> list[tuple[str | None, Quantity | None]]:
    return [(r.name, r.given("value")) for r in read(text) if r.kind == "temperature"]


CARDS = """
    Slot 0 (Route Processor, active)
      Inlet            :  27 C   [minor  50, major  60]
      CPU              :  58 C   [minor  90, major 100]

    Slot 1 (Line Card 20x10GE)
      Inlet            :  28 C   [minor  50, major  60]
    """


def test_degrees_below_a_card_are_sensors_of_the_card() -> None:
    assert heats(CARDS) == [("Slot 0 Inlet", celsius(27)), ("Slot 0 CPU", celsius(58)), ("Slot 1 Inlet", celsius(28))]
    assert {(r.given("high_warning"), r.given("high_critical")) for r in read(CARDS)} == {
        (celsius(50), celsius(60)),
        (celsius(90), celsius(100)),
    }
    assert not read(CARDS.replace("Slot 0 (Route", "Port 0 (optic, Route").replace("Slot 1 (", "Port 1 (optic "))[2:]


def test_degrees_of_a_laser_on_a_card_are_none_of_the_chassis() -> None:
    assert not read(CARDS.replace("Inlet", "Laser").replace("CPU", "Optic"))


@pytest.mark.parametrize("said", ["(limits -40 / 85)", "(limits: -40 / 85 C)", "(range -40 / 85)"])
def test_two_limits_apart_by_a_stroke(said: str) -> None:
    (one,) = read(f"Temperature          52 C  {said}\n")
    assert (celsius(-40), celsius(85)) == (one.given("low_warning"), one.given("high_warning"))
    assert not [r for r in read(f"Temperature          52 C  {said[0]}seen {said[-9:]}\n") if r.given("high_warning")]


SEEN = """
    Sensor              Now    Min    Max    Warning  Shutdown
                        degC   degC   degC   degC     degC
    ------------------  -----  -----  -----  -------  --------
    Air inlet              25     19     31       45        55
    Air outlet             38     30     44       65        75
    """


def test_the_least_and_the_most_that_were_seen_are_no_limits() -> None:
    assert [(None, celsius(45), celsius(55)), (None, celsius(65), celsius(75))] == [
        (r.given("low_warning"), r.given("high_warning"), r.given("high_critical")) for r in read(SEEN)
    ]
    alone = """
        Sensor              Now    Min    Max
                            degC   degC   degC
        ------------------  -----  -----  -----
        Air inlet              25     19     31
        Air outlet             38     30     44
        """
    assert not read(alone)  # without the others it is not told what they are


SENSORS = """
      No  Sensor Name        Type          Reading        State     LNC      UNC      UCR
       1  P0_CORE_TEMP       Temperature   49.0 C         Normal    n/a      88.0     95.0
       2  FAN1_TACH          Fan           6720 RPM       Normal    1800     n/a      n/a
       3  P12V               Voltage       12.06 V        Normal    11.40    12.60    12.96
       4  PSU1_INPUT_PWR     Power         148 W          Normal    n/a      750      800
       5  PSU1_STATUS        Discrete      0x0001         Present   {}
       6  WATCHDOG           Discrete      0x0000         Normal
    """


def test_a_list_of_sensors_whose_type_is_what_they_measure() -> None:
    heat, fan, power, state = read(SENSORS.format(""))
    assert ("P0_CORE_TEMP", celsius(49), celsius(88), celsius(95)) == (
        heat.name, heat.given("value"), heat.given("high_warning"), heat.given("high_critical"),
    )  # fmt: skip
    assert ("fan-1", rpm(6720)) == (fan.unit, fan.given("speed"))
    assert ("psu-1", Quantity(value=148, unit="W")) == (power.unit, power.given("input_power"))
    assert ("psu-1", Condition.UNKNOWN, {}) == (state.unit, state.condition, state.quantities())
    well = (
        SENSORS.format("").replace("Present", "Normal ").replace("0x0001", "0x0003")
    )  # present, and failed (IPMI v2.0, table 42-3)
    assert [Condition.UNKNOWN] == [r.condition for r in read(well) if r.unit == "psu-1" and not r.quantities()]


@pytest.mark.parametrize("number", [2, 7])
def test_the_number_of_a_row_is_no_supply(number: int) -> None:
    text = "ID,Name,Type,Reading,Unit,State\n1,Inlet Temp,temperature,22.0,C,ok\n{},System Power,power,196,W,ok\n"
    found = read(text.format(number))
    assert [("Inlet Temp", None)] == [(r.name, r.unit) for r in found]


RECTIFIERS = """
    Plant voltage 53.52 V   Plant load 84.1 A   Mode FLOAT

     Rect  Serial      Status     Vac    Vdc     Idc    Temp
                                  (V)    (V)     (A)    (C)
     ----  ----------  ---------  ----   -----   ----   ----
      G01  GR1830021   OK         231    53.5    21.2    38
      G02  GR1911007   AC FAIL      0     0.0     0.0    24
    """


def test_a_rectifier_takes_alternating_and_gives_direct_current() -> None:
    supplies = [r for r in read(RECTIFIERS) if r.kind == "power_supply"]
    assert [(231.0, 53.5, 21.2), (0.0, 0.0, 0.0)] == [
        tuple(r.quantities()[n].value for n in ("input_voltage", "output_voltage", "output_current")) for r in supplies
    ]
    assert [Condition.OK, Condition.NO_INPUT] == [r.condition for r in supplies]
    unlike = [r for r in read(RECTIFIERS.replace("Vac", "Vxx")) if r.kind == "power_supply"]
    assert not [r for r in unlike if r.given("input_voltage")]


def test_elements_by_category() -> None:
    heat, supply, fan = read(
        """
        Category     Element             State      Reading
        -----------  ------------------  ---------  --------------
        temperature  front-exhaust       ok         36 C
        power        supply-0            ok         391 W out
        fan          tray0-fan0          degraded   2010 rpm
        clock        module-a            ok
        """
    )
    assert ("front-exhaust", celsius(36)) == (heat.name, heat.given("value"))
    assert ("psu-0", Quantity(value=391, unit="W")) == (supply.unit, supply.given("output_power"))
    assert (Condition.WARNING, rpm(2010)) == (fan.condition, fan.given("speed"))


def test_a_table_of_two_columns_within_a_list() -> None:
    text = """
        Temperature          52 C  (limits -40 / 85)

        Power supply         State
        P1                   good
        P2                   fault

        Signal contact 1     open (alarm)
        """
    _, one, two = read(text)
    assert [("P1", Condition.OK), ("P2", Condition.FAILED)] == [(r.name, r.condition) for r in (one, two)]
    assert not [r for r in read(text.replace("Power supply ", "Relay        ")) if r.kind == "power_supply"]


def test_rails_of_a_supply_head_columns() -> None:
    supply, heat = read(
        """
        Power Supplies
          ID  Status       Model             Serial        12V (V)  12V (A)  Temp (C)
          0   OK           TNW-764A          TNW7641A0931  12.02    18.40    36
        """
    )
    assert (12.02, 18.4) == tuple(supply.quantities()[n].value for n in ("output_voltage", "output_current"))
    assert ("psu-0", celsius(36)) == (heat.unit, heat.given("value"))


def test_an_input_that_is_lost() -> None:
    one, two = read(
        """
        Power supplies
        Bay  Status     Input   Capacity  Serial Number
        ---  ---------  ------  --------  -------------
          1  OK         OK      2650 W    TNC5R09AK31
          2  OK         Lost    2650 W    TNC5R09AL1B
        """
    )
    assert [Condition.OK, Condition.NO_INPUT] == [one.condition, two.condition]


TRAYS = """
    {}Tray {}1: present, registered, auto mode, 35%
      rotor 1    ok    8320 rpm
      rotor 2    ok    8350 rpm
    {}Tray {}2: present, registered, auto mode, 35%
      rotor 1    ok    8290 rpm
      rotor 2    ok    8320 rpm
    """


@pytest.mark.parametrize(("before", "number"), [("", ""), ("Fan ", ""), ("Fan ", "FAN")])
def test_rotors_below_their_tray(before: str, number: str) -> None:
    found = read(TRAYS.format(before, number, before, number))
    assert [("fan-1", None), ("fan-1", 8320), ("fan-1", 8350), ("fan-2", None), ("fan-2", 8290), ("fan-2", 8320)] == [
        (r.unit, speed.value if (speed := r.given("speed")) else None) for r in found
    ]
    assert Quantity(value=35, unit="%") == found[0].given("speed_percent")


def test_what_stands_below_a_tray_of_something_else_is_no_fan() -> None:
    assert not read(TRAYS.format("Disk ", "", "Disk ", "").replace("rotor", "disk").replace("rpm", "GB"))


def test_part_and_serial_behind_one_key() -> None:
    text = "Power supply 0 (left)\n  Status           : OK\n  Part / serial    : TN-PS-580 / {}\n"
    (one,) = read(text.format("TNP20480117"))
    assert ("TN-PS-580", "TNP20480117") == (one.given("part_number"), one.given("serial"))
    (other,) = read(text.format("TNP20480117 / spare"))
    assert other.given("serial") != "TNP20480117"


def test_amperes_behind_a_side_are_of_that_side() -> None:
    (one,) = [r for r in read("PEM A: present, on, input -53.8 V, 14.7 A\n") if r.kind == "power_supply"]
    assert (-53.8, 14.7) == tuple(one.quantities()[n].value for n in ("input_voltage", "input_current"))
    (rated,) = [r for r in read("PEM A: present, on, input -53.8 V, 650 W\n") if r.kind == "power_supply"]
    assert not rated.given("input_power")  # it may be what the supply is made for


def test_which_feed_a_supply_hangs_on_is_no_figure() -> None:
    text = """
        POWER SUPPLIES
        Bay  Status    Output  Capacity  Input
        ---  --------  ------  --------  -----
        1    OK        612 W   2450 W    {}
        2    OK        605 W   2450 W    {}
        3    Absent
        """
    assert [Condition.OK, Condition.OK, Condition.ABSENT] == [r.condition for r in read(text.format("A", "B"))]
    for one, two in (("A", "A"), ("F", "F"), ("G", "F"), ("A", "F"), ("Amber", "B")):  # such a letter may say how it is
        assert Condition.OK not in {r.condition for r in read(text.format(one, two))}


def test_each_card_has_an_inlet_and_an_outlet() -> None:
    text = """
        Slot  Module   Inlet     Outlet
        ----  -------  --------  --------
        0     RF-DS    27C/ 81F  44C/111F
        6     MAIN-A   25C/ 77F  48C/118F
        """
    assert heats(text) == [
        ("slot 0 Inlet", celsius(27)),
        ("slot 0 Outlet", celsius(44)),
        ("slot 6 Inlet", celsius(25)),
        ("slot 6 Outlet", celsius(48)),
    ]
    assert not read(text.replace("Inlet ", "Lanes ").replace("Outlet", "Errors"))


def test_the_only_fan_has_a_name_and_no_number() -> None:
    (fan,) = [r for r in read("Power 1         : OK\nCooling fan     : OK (2890 rpm)\n") if r.kind == "fan"]
    assert ("Cooling fan", Condition.OK, rpm(2890)) == (fan.name, fan.condition, fan.given("speed"))
    assert not [r for r in read("Power 1         : OK\nCooling plan    : OK (2890 rpm)\n") if r.kind == "fan"]


def test_sensors_below_locations_bear_their_place() -> None:
    table = "  Sensor        Value    Unit   State\n  ------------  -------  -----  --------\n  Inlet0             24  C      Normal\n"
    found = read(f"Location: 0/RSP0\n{table}\nLocation: 0/1\n{table}")
    assert ["Location 0/RSP0 Inlet0", "Location 0/1 Inlet0"] == [r.name for r in found]
