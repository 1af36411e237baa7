"""Sentences, lists behind one key, words of control, and things that only look like a supply or a sensor."""

from textwrap import dedent

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.reading.screen import clean
from consolecheck.reading.table import prompts_of
from consolecheck.records.readings import AnyReading, Condition
from consolecheck.records.units import Quantity


def read(text: str) -> list[AnyReading]:
    return read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").readings


def told(text: str) -> list[tuple[str | None, Condition | None]]:
    return [(r.unit or r.name, r.condition) for r in read(text)]


def celsius(value: float) -> Quantity:
    return Quantity(value=value, unit="Cel")


SENTENCES = """
    The internal temperature is 48 degrees C, the permitted range is 0 to 65 degrees C.
    Fan 1 is operational and turns at 4480 rpm.
    Fan 3 is not operational.
    Power supply 1 is present and operational.
    Power supply 2 is present but not operational.
    """


def test_sentences_of_fans_supplies_and_a_range() -> None:
    heat, fan, *_ = read(SENTENCES)
    assert ("internal temperature", celsius(48), celsius(0), celsius(65)) == (
        heat.name, heat.given("value"), heat.given("low_warning"), heat.given("high_warning"),
    )  # fmt: skip
    assert Quantity(value=4480, unit="rpm") == fan.given("speed")
    assert told(SENTENCES)[1:] == [
        ("fan-1", Condition.OK),
        ("fan-3", Condition.FAILED),
        ("psu-1", Condition.OK),
        ("psu-2", Condition.FAILED),
    ]


@pytest.mark.parametrize(
    "said", ["operated and turns at 4480 rpm", "operational and costs 4480 rpm", "present and red"]
)
def test_a_sentence_that_says_something_else_is_not_read(said: str) -> None:
    assert not read(f"Fan 1 is {said}.\nPower supply 1 is a good one and cheap.\n")


def test_several_supplies_behind_one_key() -> None:
    assert [("psu-a", Condition.OK), ("psu-b", Condition.FAILED)] == told("Power .......... PS-A OK, PS-B FAIL\n")
    assert not read("Power .......... PS-A OK, PS-B maybe\n")
    assert not read("Users .......... BOB-A OK, BOB-B FAIL\n")


def test_a_share_of_full_speed() -> None:
    found = read("Fan 1: OK       41 % of 18000 RPM\nFan 2: Degraded 97 % of 18000 RPM\n")
    assert [(Condition.OK, 41.0), (Condition.WARNING, 97.0)] == [
        (r.condition, r.quantities()["speed_percent"].value) for r in found
    ]
    assert not [r for r in found if r.given("speed")]


def test_the_step_of_a_control_beside_a_speed() -> None:
    text = "Cooling module 0 (left)\n  Status   : ok\n  Speed    : 4920 rpm ({})\n"
    (one,) = read(text.format("low"))
    assert ("fan-0", Quantity(value=4920, unit="rpm")) == (one.unit, one.given("speed"))
    assert not read(text.format("of 9000"))


def test_a_supply_of_two_sides() -> None:
    one, two = read(
        """
        Power 1 : AC   Installed   Input good   Output good
        Power 2 : DC   Installed   Input fail   Output fail
        """
    )
    assert (Condition.OK, Condition.NO_INPUT) == (
        one.condition,
        two.condition,
    )  # an input that fails explains its output
    (into,) = read("Power 1 : AC   Installed   Input good\n")
    assert Condition.UNKNOWN is into.condition  # what comes in is well


def test_main_and_redundant_supply() -> None:
    text = "Unit 1 (master)\n  Main power supply  : OK\n  Redundant supply   : Not present\n"
    assert [Condition.OK, Condition.ABSENT] == [r.condition for r in read(text)]
    assert len({(r.unit, r.name) for r in read(text)}) == 2
    assert not [
        r for r in read(text.replace("Redundant supply ", "Redundant storage")) if r.condition is Condition.ABSENT
    ]


def test_the_temperature_of_a_supply_is_none_of_its_own_lines() -> None:
    supply, heat = read(
        """
        Power
          Power supply 1 ................. present, off (no AC)

        Temperatures
          Power supply 1 ................. 34.0 C
        """
    )
    assert ("power_supply", "psu-1", Condition.NO_INPUT) == (supply.kind, supply.unit, supply.condition)
    assert ("temperature", "psu-1", None, celsius(34)) == (heat.kind, heat.unit, heat.condition, heat.given("value"))


def test_pairs_between_commas() -> None:
    left, right = read("Fan=Left, Speed=2880rpm, Status=Normal\nFan=Right, Speed=1310rpm, Status=Slow\n")
    assert [("fan-left", Condition.OK), ("fan-right", Condition.UNKNOWN)] == [
        (r.unit, r.condition) for r in (left, right)
    ]


def test_the_state_of_a_drive_is_not_that_of_its_sensor() -> None:
    text = "{0} 1   state: loaded   temp: 39 C\n{0} 2   state: empty    temp: 33 C\n"
    assert [(celsius(39), None), (celsius(33), None)] == [
        (r.given("value"), r.condition) for r in read(text.format("drive"))
    ]


OUTLETS = """
    Outlet  Name            State  Current
    1       tern-04 psu-1   on     0.61 A
    2       tern-05 psu-1   on     0.58 A
    """


def test_an_outlet_is_no_supply_though_it_bears_the_name_of_one() -> None:
    assert not read(OUTLETS)
    assert not read(OUTLETS.replace("Outlet", "Socket"))


def test_an_alarm_that_says_high_is_a_warning() -> None:
    text = """
        Probe  Name             Type         Value    Low    High   Alarm
        T1     Cold aisle       Temperature  19.5 C   10.0   30.0   none
        T3     Hot aisle        Temperature  34.5 C   10.0   32.0   high
        """
    cold, hot = read(text)
    assert Condition.WARNING is hot.condition
    assert cold.condition is not Condition.WARNING


BOXED = """
    tern-04 [admin]> shelf 1 equipment
    +---------+---------------+------------+---------------------+
    | Slot    | Unit          | State      | Reading             |
    +---------+---------------+------------+---------------------+
    | 1-PWR-A | DC feed 48V   | IS-NR      | -53.1 V  6.20 A     |
    | 1-FAN-1 | Fan unit      | IS-NR      | 3450 rpm            |
    +---------+---------------+------------+---------------------+

    tern-04 [admin]> shelf 1 temperature
    +---------+------------------+---------+---------------------+
    | Slot    | Card             | Temp    | Limits (low..high)  |
    +---------+------------------+---------+---------------------+
    | 1-1     | Controller       | 36.2 C  | [-5.0 .. 70.0]      |
    +---------+------------------+---------+---------------------+
    """


def test_units_in_boxes_below_a_prompt_of_a_form_of_its_own() -> None:
    found = read(BOXED)
    supply, fan, heat = (next(r for r in found if r.kind == k) for k in ("power_supply", "fan", "temperature"))
    assert ("psu-a", "fan-1") == (supply.unit, fan.unit)  # no figure of `48V` is its place
    assert (celsius(36.2), celsius(-5), celsius(70)) == (
        heat.given("value"), heat.given("low_warning"), heat.given("high_warning"),
    )  # fmt: skip


@pytest.mark.parametrize(("first", "second", "turns"), [("list fans", "list probes", 2), ("list fans", "list fans", 0)])
def test_a_prompt_is_known_by_what_is_typed_behind_it(first: str, second: str, turns: int) -> None:
    text = f"tern-pdu3 >> {first}\nFan 1: ok\ntern-pdu3 >> {second}\nFan 1: ok\nend of it\n"
    assert turns == len(prompts_of(clean(text.encode()).lines))


def test_settings_of_sensors_and_tables_of_a_document_are_no_readings() -> None:
    assert not read(
        'label temp3 "SIO Temp"\n\n    set temp3_min    0\n    set temp3_max   70\n    set temp3_crit  85\n'
    )
    document = """
        | dialect         | power supplies               | fans   | temperatures  | links | alarms |
        |-----------------|------------------------------|--------|---------------|-------|--------|
        | [`tern`](#tern) | status                       | status |               |       | status |
        | [`skua`](#skua) | status, capacity, input type | status | value, limits |       |        |
        """
    plain = document.replace("[`tern`](#tern)", "tern           ").replace("[`skua`](#skua)", "skua           ")
    assert read(plain)  # it would be taken for one
    assert not read(document)


MATRIX = """
    Module temperatures (degrees Celsius)
    Slot  Type    Sensor 1   Sensor 2   Sensor 3   High alarm
    ----  ------  ---------  ---------  ---------  ----------
     0    DS-32          41         46         44          75
     4    US-16          38         42          -          75
    """


def test_sensors_of_each_card_beside_each_other_with_one_limit() -> None:
    found = read(MATRIX)
    assert [(f"slot {s} Sensor {n}", celsius(v), celsius(75)) for s, n, v in (
        (0, 1, 41), (0, 2, 46), (0, 3, 44), (4, 1, 38), (4, 2, 42),
    )] == [(r.name, r.given("value"), r.given("high_critical")) for r in found]  # fmt: skip


def test_a_figure_under_a_sensor_is_never_its_name() -> None:
    untold = MATRIX.replace(" (degrees Celsius)", "")
    assert not [r for r in read(untold) if r.name and any(n in r.name for n in ("41", "46", "44", "38", "42"))]


PATHS = """
     /SYS/PS0
        Properties:
            type = Power Supply
            fru_serial_number = TN08KN-1401
            fault_state = OK

     /SYS/FM0/F1
        Properties:
            type = Fan
            fault_state = OK
            value = 5760.000 RPM

     /SYS/T_AMB
        Properties:
            type = Temperature
            value = 23.000 degree C
            upper_critical_threshold = 50.00 degree C
    """


def test_a_path_over_its_properties_names_the_thing() -> None:
    supply, fan, heat = read(PATHS)
    assert ("psu-0", "TN08KN-1401", Condition.OK) == (supply.unit, supply.given("serial"), supply.condition)
    assert ("FM0/F1", Quantity(value=5760, unit="rpm")) == (fan.name, fan.given("speed"))
    assert ("T_AMB", celsius(23), celsius(50)) == (heat.name, heat.given("value"), heat.given("high_critical"))
    lost = PATHS.replace(" /SYS/PS0\n", "")
    assert "Properties" not in {r.name for r in read(lost)}


def test_a_letter_that_counts_is_no_unit() -> None:
    text = """
        Encl Sensor Name                         Value       Status
        ------------------------------------------------------------
        0    On-Board Temperature 1-Ctlr A       53 C        OK
        0    Capacitor Pack Voltage-Ctlr A       8.09        OK
        """
    assert not [r for r in read(text) if any(q.unit == "A" for q in r.quantities().values())]


def test_bare_figures_of_places_are_degrees_and_of_anything_else_nothing() -> None:
    text = " 4 CPU Die           alarm=0  value=54  threshold_status=0\n 5 Board {:<11} alarm=0  value=27  threshold_status=0\n"
    assert [celsius(54), celsius(27)] == [r.given("value") for r in read(text.format("Inlet"))]
    assert [celsius(54)] == [r.given("value") for r in read(text.format("Level"))]


def test_below_power_input_the_volts_come_in() -> None:
    text = """
        {}   Status     Voltage
        -----------   --------   -------
        P1            Good       24.1 V
        P2            Fail        0.0 V
        """
    one, two = read(text.format("Power Input"))
    assert (24.1, 0.0) == tuple(r.quantities()["input_voltage"].value for r in (one, two))
    assert not [r for r in read(text.format("Power Bank ")) if r.given("input_voltage")]


def test_places_mapped_to_degrees() -> None:
    found = read('{"temperatures": {\n "asic": 58.5,\n "inlet": 23.5}}\n')
    assert [("asic", celsius(58.5)), ("inlet", celsius(23.5))] == [(r.name, r.given("value")) for r in found]
    assert [("asic", celsius(58.5)), ("cpu", celsius(47))] == [
        (r.name, r.given("value")) for r in read("psu.1.status=ok\npsu.1.vin=229.7\nfan.1.rpm=9000\ntemp.asic=58.5\ntemp.cpu=47.0\n")
        if r.kind == "temperature"
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        '{"temperatures": {"value": 58.5, "high": 80}}',
        '{"temps": {"1": 58, "2": 23}}',
        '{"levels": {"asic": 58.5, "inlet": 23.5}}',
    ],
)
def test_figures_that_are_not_of_places_are_no_sensors(text: str) -> None:
    assert not [r for r in read(text) if r.kind == "temperature"]


def test_the_state_beside_a_temperature_in_brackets() -> None:
    (one,) = read("CPU temperature: 48.0 C (status: ok)\n")
    assert (celsius(48), Condition.OK) == (one.given("value"), one.condition)
    assert not read("CPU temperature: 48.0 C (status: ok for now)\n")


def test_what_an_output_can_give_at_most_is_no_figure_of_it() -> None:
    text = "PowerSupply 1 information:\n State     : Powered On\n Input     : 229.50 V AC\n Output 1  : 12.11 V,  9.87 A  ({} Max)\n"
    (one,) = [r for r in read(text.format("12V/300W")) if r.kind == "power_supply"]
    assert (12.11, 9.87) == tuple(one.quantities()[n].value for n in ("output_voltage", "output_current"))
    assert not [r for r in read(text.format("12V/300W by design")) if r.kind == "power_supply"]


def test_a_supply_with_its_form_and_its_state() -> None:
    text = "Power supply\n  PWR1  AC   Good\n  PWR2  DC   No Voltage\n"
    assert [("psu-1", Condition.OK), ("psu-2", Condition.NO_INPUT)] == told(text)
    assert not [r for r in read(text.replace("AC  ", "IP  ")) if r.condition is Condition.OK]


def test_three_ranks_on_each_side() -> None:
    (one,) = read(
        """
        Sensor          Status      Temp   LowHard LowSoft LowWarn HighWarn HighSoft HighHard
        -------------------------------------------------------------------------------------
        T_AMB           OK            25      -10      -5       0       45       50       55
        """
    )
    assert (celsius(-5), celsius(0), celsius(45), celsius(50)) == (
        one.given("low_critical"), one.given("low_warning"), one.given("high_warning"), one.given("high_critical"),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("said", "condition"),
    [("UNDER THRESHOLD", Condition.OK), ("OVER THRESHOLD", Condition.WARNING), ("NEAR THRESHOLD", Condition.UNKNOWN)],
)
def test_on_which_side_of_its_limit(said: str, condition: Condition) -> None:
    one, _ = read(
        f"""
        tern-04> show temperature
        Chassis/Device | Current |   Range  | Danger | Thresh |   Status
        ---------------+---------+----------+--------+--------+----------------
          1/CTLA           44      15 to 80     85       80     {said}
          2/CTLA           45      15 to 80     85       80     UNDER THRESHOLD
        """
    )
    assert condition is one.condition


def test_an_alarm_flag_of_a_sensor_is_a_warning() -> None:
    text = """
        Slot   Description                         Alarm     Degrees C     Min       Max
        S1     Temperature @ Dataplane             False     44.8          0.0       75.0
        S1     Temperature @ CPU                   True      91.0          0.0       90.0
        """
    assert [Condition.OK, Condition.WARNING] == [r.condition for r in read(text)]


def test_the_step_of_a_fan_is_no_figure_of_it() -> None:
    text = "FanId  State      {:<6} Speed(%)\n-----------------------------------\n1      online     2      40\n2      online     2      40\n"
    assert [40.0, 40.0] == [r.quantities()["speed_percent"].value for r in read(text.format("Level"))]
    assert not read(text.format("Xyzzy"))


def test_lines_below_a_heading_that_begin_with_a_colon() -> None:
    text = "Fan 0    : OK, 7920 rpm\n\nMain Board {}\n : U25 - Local Temp 37 C (normal)\n : Q1 - Remote 1 Temp 41 C (hot)\n"
    heats = [r for r in read(text.format("Temperatures")) if r.kind == "temperature"]
    assert [("U25 - Local Temp", celsius(37), Condition.OK), ("Q1 - Remote 1 Temp", celsius(41), None)] == [
        (r.name, r.given("value"), r.condition) for r in heats
    ]
    assert not [r for r in read(text.format("Slots")) if r.kind == "temperature"]


def test_a_prompt_with_its_context_before_it() -> None:
    found = read_unknown(b"[local]tern-04#show environment\nFan 1 : OK\nFan 2 : OK\n[local]tern-04#\n", "x")
    assert ({"tern-04": 1}, []) == (found.hosts, list(found.unread))
