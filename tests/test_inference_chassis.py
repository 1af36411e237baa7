"""Whole chassis as their consoles tell them: sentences, numbers in a place of their own, labels closer than their columns.

A law of the reader without a dialect, and its near miss each.
"""

from pathlib import Path

import pytest
from test_inference_outline import figures, read, snapshot

from consolecheck.reading.inference import text as by_layout
from consolecheck.reading.inference.grids import ReadGrid, read_grid
from consolecheck.reading.reader import read_unknown
from consolecheck.reading.table import Grid
from consolecheck.records.readings import Condition

LABELS = Path(__file__).parent / "labels"


def told(text: str, kind: str | None = None) -> list[tuple[str | None, Condition | None]]:
    return [(r.unit or r.name, r.condition) for r in read(text) if kind in (None, r.kind)]


# Lists


def test_a_number_in_a_place_of_its_own_is_the_slot() -> None:
    text = " Slot 1:\n Power    1 State: Normal\n Power    2 State: Absent\n Slot 2:\n Power    1 State: Fault\n"
    assert [("psu-1/1", Condition.OK), ("psu-1/2", Condition.ABSENT), ("psu-2/1", Condition.FAILED)] == told(text)
    assert [] == told(" Port     1 State: Normal\n Port     2 State: Fault\n")


def test_one_word_on_all_fans_and_on_the_power_names_no_unit() -> None:
    text = "FAN is OK\nTEMPERATURE is OK\nTemperature Value: 43 Degree Celsius\nTemperature State: GREEN\n"
    text += "Yellow Threshold : 60 Degree Celsius\nRed Threshold    : 70 Degree Celsius\nPOWER is FAULTY\n"
    assert [("FAN", Condition.OK), ("POWER", Condition.FAILED)] == [t for t in told(text) if t[0] in ("FAN", "POWER")]
    assert all(r.unit is None for r in read(text))
    heat = next(r for r in read(text) if figures(r))
    assert {"value": "43 Cel", "high_warning": "60 Cel", "high_critical": "70 Cel"} == figures(heat)
    assert [] == told("Uplink is OK\nLine is FAULTY\n")


def test_sentences_above_a_table_are_no_labels_of_it() -> None:
    table = "Switch   FAN     Speed   State   Airflow direction\n---------------------------------------------------\n"
    text = f"FAN PS-1 is OK\nFAN PS-2 is NOT PRESENT\n{table}  2       1     14240     OK     Front to Back\n"
    assert [Condition.OK, Condition.ABSENT, Condition.OK] == [c for _, c in told(text, "fan")]
    assert not snapshot(text).unread


def test_a_temperature_among_the_numbers_of_a_card_is_told_alone() -> None:
    text = "Hardware Data\n    Part number                   : 3KN03619AB\n    Serial number                 : KN1234F0567\n"
    text += "    Temperature                   : 41C\n    Temperature threshold         : 75C\n    Current alarm state           : none\n"
    (heat,) = read(text)
    assert ("temperature", "Temperature", {"value": "41 Cel", "high_warning": "75 Cel"}) == (
        heat.kind,
        heat.name,
        figures(heat),
    )
    assert {3, 4, 7} <= {u.number for u in snapshot(text).unread}
    assert [] == read(text.replace("41C", "41")), "without its unit it may be anything"


def test_a_fan_and_a_sensor_of_a_supply_that_is_named_by_its_place() -> None:
    text = "Cooling:\n--------\nLeft Slot (PS0): 7168 RPM - OK\nRight Slot (PS1): 0 RPM - FAILED\nHeat:\n-----\nLeft Slot (PS0): 26 C - OK\n"
    assert [
        ("fan", "psu-0", Condition.OK, {"speed": "7168 rpm"}),
        ("fan", "psu-1", Condition.FAILED, {"speed": "0 rpm"}),
        ("temperature", "psu-0", Condition.OK, {"value": "26 Cel"}),
    ] == [(r.kind, r.unit, r.condition, figures(r)) for r in read(text)]


def test_a_sensor_that_is_named_by_its_member_and_slot() -> None:
    one = "Mbr/Slot-Sensor           : {}\nStatus                    : normal\nCurrent temperature       : {} C\n----------------\n"
    text = one.format("1/1-CPU", "48.25") + one.format("1/1-Inlet-Air", "24.19")
    assert [("1/1-CPU", "48.25 Cel"), ("1/1-Inlet-Air", "24.19 Cel")] == [
        (r.name, figures(r)["value"]) for r in read(text)
    ]


def test_a_tray_with_its_state_and_its_fans_below() -> None:
    text = "FanTray information:\n  State:      {}\n  NumFan:     2\n  Fan-1:      Operational at 6720 RPM\n  Fan-2:      Operational at 6660 RPM\n"
    assert [("FanTray", Condition.OK), ("fan-1", Condition.OK), ("fan-2", Condition.OK)] == told(
        text.format("Operational")
    )
    assert ("FanTray", Condition.FAILED) in told(text.format("Failed"))
    assert "FanTray" not in dict(told(text.format("Settling"))), "what that means is not known"
    twice = text.format("Operational") + text.format("Failed")
    assert "FanTray" not in dict(told(twice)), "which of them it is does not stand there"


def test_two_supplies_on_the_left_are_an_upper_and_a_lower_one() -> None:
    text = "Upper Left Power Unit(Rear View) State:     OK\nLower Left Power Unit(Rear View) State:     Failed\n"
    assert [("psu-upper-left", Condition.OK), ("psu-lower-left", Condition.FAILED)] == told(text)


@pytest.mark.parametrize(
    ("said", "condition"), [("OK-low/med", Condition.OK), ("Failed", Condition.FAILED), ("OK", None), ("low/med", None)]
)
def test_how_fast_a_fan_turns_beside_that_it_is_well(said: str, condition: Condition | None) -> None:
    text = (
        f"Fan1A Speed                 :               {said}\nFan1B Speed                 :               OK-low/med\n"
    )
    assert condition == dict(told(text)).get("fan-1a")


def test_the_number_behind_the_status_is_the_things() -> None:
    text = "FanStatus (1)                    Good\nFanStatus (2)                    Bad\nPowerSupplyStatus (1)            Good\n"
    assert [("fan-1", Condition.OK), ("fan-2", Condition.FAILED), ("psu-1", Condition.OK)] == told(text)


def test_limits_and_figures_below_a_thing_with_its_description() -> None:
    text = "Fan1      (Fan Tray 1, Fan 1       ):  OK\n fan:12120 RPM (max = 19500 RPM, min = 2500 RPM)\n\n"
    text += "PSU1      (PSU1                    ):  OK\n power:74.0 W (voltages = ['12.0'] V, currents = ['6.1'] A)\n"
    fan, supply = read(text)
    assert "12120 rpm" == figures(fan)["speed"]
    assert {"output_power": "74 W", "output_voltage": "12 V", "output_current": "6.1 A"} == figures(supply)
    assert ["psu-1"] != [r.unit for r in read(text.replace("['6.1']", "['61']")) if figures(r)], "it does not add up"


# Tables


def test_labels_closer_together_than_their_columns_are_told_by_their_order() -> None:
    head = (
        "Location  TEMPERATURE                 Value   Crit Major Minor Minor Major  Crit\n"
        "          Sensor                    (deg C)   (Lo) (Lo)  (Lo)  (Hi)  (Hi)   (Hi)\n"
        "--------------------------------------------------------------------------------\n"
    )
    rows = "0/RP0\n          CPU                            41    -10     0     5    85    90   100\n"
    rows += "          PEX Temp                       48    -10     0     5    90    95   105\n"
    one, two = read(f"Mon Mar  4 10:22:13.045 UTC\n{'=' * 80}\n{head}{rows}")
    assert {
        "value": "41 Cel", "low_critical": "-10 Cel", "low_warning": "5 Cel", "high_warning": "85 Cel", "high_critical": "100 Cel",
    } == figures(one)  # fmt: skip
    assert "PEX Temp" == two.name
    short = head + rows.replace("   0     5    90", "         5    90")
    assert "PEX Temp" not in [r.name for r in read(short)], "a figure too few"


def test_a_row_of_words_alone_ends_no_table_whose_columns_a_ruler_shows() -> None:
    text = (
        "Node Sensor                State Value/Units Crit-Low Warn-Low\n---- --------------------- ------ ----------- -------- --------\n"
        "     In Flow Temp          normal       24 C        0       10\n     Bat Present           PRESENT\n"
        "     CPU0 Temp Margin      normal      -64 C       --       --\n     SysFan1 F1            failed     450 RPM    2010     2090\n"
    )
    assert [Condition.OK, Condition.OK, Condition.FAILED] == [c for _, c in told(text)]
    assert {5} == {u.number for u in snapshot(text).unread}
    assert "-64 Cel" not in str([figures(r) for r in read(text.replace("CPU0 Temp Margin", "CPU0 Temperature"))])


def test_a_supply_that_is_switched_on_is_well_where_its_sensor_is() -> None:
    head = "Sensor                 State      Value/Units\n---------------------- ---------- -----------\n"
    rows = head + "PSU1                   {}     POWERON\nPSU1 Temp              normal            31 C\n"
    assert ("psu-1", Condition.OK) == told(rows.format("normal"))[0]
    assert ("psu-1", Condition.FAILED) == told(rows.format("failed"))[0]


def test_one_word_for_each_fan_of_a_supply() -> None:
    text = (
        "Power                                                    Fan States\n"
        "Supply  Model No              Type  Capacity  Status     1     2\n"
        "------  --------------------  ----  --------  ---------  -----------\n"
        "PS1     KN9400-PWR-3200       AC    3200 W    ok         good  good\n"
        "PS2     KN9400-PWR-3200       AC    3200 W    ok         good  bad\n"
    )
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == told(text)
    assert {"capacity": "3200 W"} == figures(read(text)[0])


def test_noughts_are_of_the_side_that_the_other_rows_of_the_table_are_of() -> None:
    head = "PSU    Voltage (V)    Current (A)    Power (W)    Status\n-----  -------------  -------------  -----------  ------\n"
    one = "PSU 1  12.03          11.45          137.50       OK\n"
    none = "PSU 2  0.00           0.00           0.00         NOT OK\n"
    assert {"output_voltage": "0 V", "output_current": "0 A", "output_power": "0 W"} == figures(
        read(head + one + none)[1]
    )
    alone = [r for r in read(head + none) if r.kind == "power_supply"]
    assert [{}] == [figures(r) for r in alone], "of neither side that anything tells"
    wrong = [r for r in read(head + one.replace("137.50", "317.50") + none) if r.unit == "psu-2"]
    assert [{}] == [figures(r) for r in wrong], "the other row does not add up"


@pytest.mark.parametrize("watts", ["1500", "450"])
def test_the_same_round_figure_for_supplies_that_are_down_is_what_they_can_give(watts: str) -> None:
    head = "Power Supply Status:\n\nPS#   State         Wattage\n----  ------------  -------\n"
    table = head + "1     OK            {0}\n2     Failed        {0}\n3     Not Present   0\n"
    assert [{"capacity": f"{watts} W"}] * 2 + [{}] == [
        figures(r) for r in read(table.format(watts)) if r.kind == "power_supply"
    ]


def test_figures_that_are_not_round_are_measured() -> None:
    table = (
        "PS#   State         Wattage\n----  ------------  -------\n1     OK            318\n2     OK            302\n"
    )
    assert "capacity" not in str([figures(r) for r in read(table)])


def test_the_column_that_names_no_unit_beside_the_least_and_the_most_seen() -> None:
    head = "| Fan    | State | Min RPM | Max RPM | Avg RPM | Current |\n+--------+-------+---------+---------+---------+---------+\n"
    (fan,) = read(f"{head}| FAN1-1 | Up    | 6540    | 9120    | 7010    | 6990    |\n")
    assert {"speed": "6990 rpm"} == figures(fan)
    limited = head.replace("Avg RPM", "Warning")
    (fan,) = read(f"{limited}| FAN1-1 | Up    | 6540    | 9120    | No      | 6990    |\n") or [None]
    assert fan is None or "low_warning" in figures(fan) or not figures(fan)


def test_one_part_that_is_there_and_not_taken_in_is_neither_absent_nor_well() -> None:
    text = (
        "FanId    FanNum   Present   Register   Speed    Mode\nFAN1     [1-2]    YES       YES        40%      AUTO\n"
    )
    text += "FAN2     [1-2]    YES       NO         N/A      N/A\nFAN3     [1-2]    NO        NO         N/A      N/A\n"
    assert [Condition.UNKNOWN, Condition.UNKNOWN, Condition.ABSENT] == [c for _, c in told(text)]


def test_sensors_of_one_name_are_told_apart_by_the_part_that_they_are_in() -> None:
    text = "Temp             | 0Eh | ok  |  3.1 | 46 degrees C\nTemp             | 0Fh | cr  |  3.2 | 99 degrees C\n"
    text += "Inlet Temp       | 04h | ok  |  7.1 | 22 degrees C\n"
    assert [("Temp 3.1", Condition.OK), ("Temp 3.2", Condition.FAILED), ("Inlet Temp", Condition.OK)] == told(text)
    assert [("Inlet Temp", Condition.OK)] == told(text.replace("3.2", "3.1"))


@pytest.mark.parametrize(("cell", "value"), [("26/79", "26 Cel"), ("26/97", None)])
def test_the_same_degrees_in_two_scales(cell: str, value: str | None) -> None:
    text = (
        f"Description        C/F       Status\n----------------   -------   ------\nMainboard Ambient  {cell}     OK\n"
    )
    assert value == next((figures(r)["value"] for r in read(text) if figures(r)), None)


def test_how_fast_the_fans_turn_for_a_sensor_is_no_state_of_it() -> None:
    text = "Slot    Sensor          Current State       Reading\n----    ------          -------------       -------\n"
    text += (
        "P0      Temp: FC        Fan Speed 60%       25 Celsius\nP0      Temp: PEM       {}              30 Celsius\n"
    )
    assert [None, Condition.OK] == [c for _, c in told(text.format("Normal"))]
    assert Condition.FAILED == told(text.format("Failed"))[1][1]


def test_power_that_a_fan_is_allotted_is_no_word_of_the_fan() -> None:
    text = "Location     Card Type      Power       Power     Status\n                            Allocated   Used\n"
    text += (
        "                            Watts       Watts\n"
        + "=" * 60
        + "\n0/FT0        KN-04-FAN      330         34        ON\n"
    )
    assert [] == told(text)


def test_labels_over_ruled_columns_are_parted_where_the_columns_begin() -> None:
    text = (
        "                        Power-Capacity PS-Fan Output Oper\nPS   Type               Watts   A @42V Status Status State\n"
        "---- ------------------ ------- ------ ------ ------ -----\n1    KN-CAC-6000W       2671.20 63.60  {}   OK     on\n2    none\n"
    )
    rows = read(text.format("OK  "))
    assert [("psu-1", Condition.OK), ("psu-1", Condition.OK), ("psu-2", Condition.ABSENT)] == [
        (r.unit, r.condition) for r in rows
    ]
    assert ({"capacity": "2671.2 W"}, "fan") == (figures(rows[0]), rows[1].kind)
    assert Condition.FAILED is read(text.format("FAIL"))[1].condition


def test_a_name_that_begins_with_what_it_measures() -> None:
    text = "Sensor           Location          State             Reading\nPEM Vin          P0                Normal            229 V AC\n"
    text += "Temp: FC FANS    P0                Fan Speed 35%     25 Celsius\nTemp: Inlet      R0                Normal            24 Celsius\n"
    assert ["25 Cel", "24 Cel"] == [figures(r)["value"] for r in read(text) if r.kind == "temperature"]


def test_a_state_that_bears_no_unit_stands_in_a_table_with_units() -> None:
    text = "Name                    Value    unit     type         status\n"
    text += (
        "CPU Temperature         43.00    Celsius  Temperature  OK\nPower Supply #1         Up       Dummy    Power\n"
    )
    text += "Power Supply #2         Down     Dummy    Power\n"
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == [
        t for t in told(text) if str(t[0]).startswith("psu")
    ]


def test_the_overall_state_of_a_supply_below_its_name() -> None:
    text = "Resource ID: 1  Name: PSU Bay A (KN250)\nID  Sensor (Units)                 Reading    Low Limit  High Limit  Status\n"
    text += "1   Device Present                     Yes            -           -      Ok\n"
    text += "2   PSU Overall Status              {:>6}            -           -      {}\n"
    assert [("psu-a", Condition.OK)] == told(text.format("Ok", "Ok"))
    assert [("psu-a", Condition.FAILED)] == told(text.format("Ok", "FAULT"))
    assert [("psu-a", Condition.FAILED)] == told(text.format("Fault", "Ok"))
    assert [] == told(text.replace("Overall Status", "Lid State     ").format("Ok", "Ok")), "no state of it as a whole"


def test_limits_that_a_chip_sets_to_none_are_none() -> None:
    sensor = '{{"nvme-pci-0100": {{"Composite": {{"temp1_input": 38.85, "temp1_max": {}, "temp1_min": -273.15}}}}}}\n'
    assert [{"value": "38.85 Cel", "high_warning": "81.85 Cel"}] == [figures(r) for r in read(sensor.format("81.85"))]
    assert [{"value": "38.85 Cel"}] == [figures(r) for r in read(sensor.format("65261.85"))]
    assert [] == read(sensor.format("652.85")), "that is no such mark, and not plausible"


def test_fans_of_one_name_on_two_chips() -> None:
    text = "dps460-i2c-4-58\nAdapter: i2c-1-mux\nfan1:        8512 RPM\n\nemc2305-i2c-7-2c\nAdapter: i2c-1-mux\n"
    text += "fan1:        6204 RPM  (div = 4)\nfan2:           0 RPM  (div = 4)  FAULT\n"
    assert [
        ("dps460-i2c-4-58 fan1", "8512 rpm", None),
        ("emc2305-i2c-7-2c fan1", "6204 rpm", None),
        ("fan2", "0 rpm", Condition.FAILED),
    ] == [(r.name, figures(r)["speed"], r.condition) for r in read(text)]


def test_a_sensor_with_the_short_names_of_its_limits_behind_its_state() -> None:
    line = "SMB_FAN1_TACH                (0x2B) : 5550.00 RPM   | ({}) | UCR: 15000.00 | UNC: NA | UNR: NA | LCR: {} | LNC: NA | LNR: NA\n"
    (fan,) = read(line.format("ok", "1000.00"))
    assert ("fan-1", Condition.OK) == (fan.unit, fan.condition)
    assert {"speed": "5550 rpm", "high_critical": "15000 rpm", "low_critical": "1000 rpm"} == figures(fan)
    assert Condition.FAILED is read(line.format("lcr", "6000.00"))[0].condition
    assert [] == read(line.format("ok", "1000.00").replace("LCR: 1000.00", "LCR: 1000.00 LNC")), (
        "a limit that is not whole"
    )


@pytest.mark.parametrize(("word", "condition"), [("HIGH", Condition.WARNING), ("OK", Condition.OK), ("HUGE", None)])
def test_too_high_as_the_state_of_a_sensor(word: str, condition: Condition) -> None:
    text = f"Temp1     (Board Sensor near CPU                   ):  OK\nTemp3     (Networking ASIC Die Temp Sensor         ):  {word}\n"
    assert condition is dict(told(text)).get("Temp3 (Networking ASIC Die Temp Sensor)", dict(told(text)).get("Temp3"))


def test_limits_of_the_fans_are_none_of_the_sensor() -> None:
    text = "PSU1Temp1(PSU1 Temp Sensor):  OK\ntemp:26.5 C (fan_max = 65.0 C, fan_min = 35.0 C, max = 70.0 C, crit = 85.0 C)\n"
    assert [{"value": "26.5 Cel", "high_warning": "70 Cel", "high_critical": "85 Cel"}] == [
        figures(r) for r in read(text)
    ]


def test_the_only_tray_of_a_card_bears_its_description() -> None:
    text = "----Fan Tray----\nSlot Description                        Alarm     Inserted\nS1   Fan Tray                           {}     True\n"
    assert ["Fan Tray"] == [r.name for r in read(text.format("False"))]
    assert Condition.WARNING is read(text.format("True "))[0].condition


def test_a_sensor_that_stands_below_each_heading_that_it_belongs_to() -> None:
    line = "   Left Slot (PS0): {} C - OK{}\n"
    about = " (Power Supply Temperature)"
    text = "Power Supplies:\n   Temperature:\n" + line.format(26, about) + "Temperature:\n   Power Supplies:\n"
    assert [("psu-0", "26 Cel")] * 2 == [(r.unit, figures(r)["value"]) for r in read(text + line.format(26, about))]
    assert [] == read(text + line.format(27, about)), "one of two that say different things"


# Fans within what holds them


def test_the_fans_of_a_tray_that_stand_no_further_right_than_it() -> None:
    text = " Slot 1 Fan-tray 1:\n Status    : Normal\n Fan number: 2\n Fan 1   Status : Normal   Speed: 9000 rpm\n"
    text += " Fan 2   Status : Fault    Speed: 0 rpm\n"
    assert [("fan-1", None, Condition.OK), ("fan-1", "Fan 1", Condition.OK), ("fan-1", "Fan 2", Condition.FAILED)] == [
        (r.unit, r.name, r.condition) for r in read(text)
    ]


def test_a_fan_below_a_heading_within_a_supply_is_the_supplys() -> None:
    text = "PEM 0 status:\n  State                      OK\n  Fan:\n    Fan 0                   5280 RPM\nFans:\n  Fan 0      4100 RPM\n"
    assert [("psu-0", "5280 rpm"), ("fan-0", "4100 rpm")] == [
        (r.unit, figures(r)["speed"]) for r in read(text) if r.kind == "fan"
    ]


def test_limits_that_begin_with_the_word_of_their_sensor() -> None:
    text = "SYSTEM TEMPERATURE is OK\nSYSTEM Temperature Value: 41 Degree Celsius\nSYSTEM Temperature State: GREEN\n"
    text += "SYSTEM Low Alert Threshold: 0 Degree Celsius\nSYSTEM High Shutdown Threshold: 80 Degree Celsius\n"
    whole, heat = read(text)
    assert (Condition.OK, {}) == (whole.condition, figures(whole))
    assert {"value": "41 Cel", "low_warning": "0 Cel", "high_critical": "80 Cel"} == figures(heat)
    other = read(text.replace("SYSTEM High", "RPS High"))[-1]
    assert "high_critical" not in figures(other)


def test_slots_below_a_command_that_says_of_what() -> None:
    told_of = " Slotid           : 8\n Present          : YES\n Registered       : YES\n State            : {}\n Output Voltage(V): 53.1\n"
    session = (
        "<knot-03>display {}\n"
        + told_of.format("Normal")
        + " Slotid           : 9\n Present          : NO\n<knot-03>\n"
    )
    rows = read_unknown(session.format("power").encode(), "text").readings
    assert [("psu-8", Condition.OK), ("psu-9", Condition.ABSENT)] == [(r.unit, r.condition) for r in rows]
    assert not read_unknown(session.format("elabel").encode(), "text").readings


def test_sensors_by_commas_without_labels() -> None:
    text = "Inlet Temp,26,degrees C,ok\nCPU1 Temp,94,degrees C,cr\nFan1A RPM,0,RPM,cr\nPS1 Input Power,136,Watts,ok\n"
    rows = read_unknown(text.encode(), "text").readings
    assert [Condition.OK, Condition.FAILED, Condition.FAILED, Condition.OK] == [r.condition for r in rows]
    assert ["26 Cel", "94 Cel", "0 rpm", "136 W"] == [next(iter(figures(r).values())) for r in rows]
    assert not read_unknown(b"Ada,26,years,ok\nBea,94,years,no\nCleo,31,years,ok\n", "text").readings


def test_json_in_a_session_makes_no_program_of_what_stands_beside_it() -> None:
    told_of = "lm75-i2c-5-4b\nAdapter: i2c-1-mux (chan_id 3)\nPort Temp:  +29.5 C  (high = +80.0 C, hyst = +75.0 C)\n"
    tree = '{\n   "lm75-i2c-5-4b":{\n      "Port Temp":{\n         "temp1_input": 29.500,\n         "temp1_max": 80.000\n      }\n   }\n}\n'
    found = [figures(r) for r in read(f"{told_of}keeper@auk-02> sensors -j\n{tree}")]
    assert [{"value": "29.5 Cel", "high_warning": "80 Cel"}] * 2 == found


def test_two_lines_of_labels_between_bars_above_a_ruler() -> None:
    head = (
        "       | Current | Max    | Min    |           |\nTemp   | Temp    | Temp   | Temp   | Threshold | OverTemp\n"
    )
    row = "-------+---------+--------+--------+-----------+---------\nChassis|     27C |    34C |    19C |      57C  |       {}\n"
    (heat,) = read(f"System Air Temperature\n{head}{row.format('NO ')}")
    assert ({"value": "27 Cel", "high_warning": "57 Cel"}, Condition.OK) == (figures(heat), heat.condition)
    assert Condition.OK is not read(f"System Air Temperature\n{head}{row.format('YES')}")[0].condition


def test_the_limit_that_is_called_critical_is_it() -> None:
    text = "Slot        Sensor       Current State   Reading        Threshold(Minor,Major,Critical,Shutdown)\n"
    text += "----------  ----------   --------------- ------------   ---------------------------------------\n"
    text += "R0         Temp: Inlet  Normal           26   Celsius  (56 ,66 ,70 ,75 )(Celsius)\n"
    text += "R0         Temp: CPU    Normal           51   Celsius  (85 ,95 ,105,110)(Celsius)\n"
    assert [("56 Cel", "70 Cel"), ("85 Cel", "105 Cel")] == [
        (figures(r)["high_warning"], figures(r)["high_critical"]) for r in read(text)
    ]


def test_a_sensor_that_is_not_well_need_tell_no_figure() -> None:
    text = "Class Item                           Status     Measurement\n"
    text += "Temp  PEM 0                          OK         35 degrees C / 95 degrees F\n"
    text += "      PEM 3                          {}\nFans  Top Rear Fan                   OK         Spinning at normal speed\n"
    assert ("temperature", Condition.WARNING) in [(r.kind, r.condition) for r in read(text.format("Check"))]
    assert 2 == len(read(text.format("OK"))), "a supply that is well, or its sensor"


@pytest.mark.parametrize(
    ("word", "condition"),
    [
        ("PASS", Condition.OK),
        ("MAJOR", Condition.FAILED),
        ("minoralarm", Condition.WARNING),
        ("PASSIVE", Condition.UNKNOWN),
    ],
)
def test_words_of_a_check_and_of_an_alarm(word: str, condition: Condition) -> None:
    text = f"Fan Name      Status       RPM\n------------  -----------  ------\nFAN-1         {word:<11}  7950\n"
    assert [("fan-1", condition)] == told(text)


# Whatever stands there


def test_what_nobody_thought_of_leaves_its_own_part_unread_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "Fan   State    Speed (rpm)\n----  -------  -----------\n1     OK              8460\nkeeper@auk-02> show power\n"
    text += "PSU   State    Vin (V)\n----  -------  -------\n1     OK         230.1\n"
    assert ["fan-1", "psu-1"] == [r.unit for r in read(text)]

    def broken(grid: Grid, heading: str = "") -> ReadGrid:
        if "Vin" in " ".join(grid.headers):
            raise IndexError("not thought of")
        return read_grid(grid, heading)

    monkeypatch.setattr(by_layout, "read_grid", broken)
    by_layout.forget()
    try:
        found = snapshot(text)
        assert ["fan-1"] == [r.unit for r in found.readings]
        assert {6, 8} == {u.number for u in found.unread if u.reason == by_layout.OUR_FAULT}
    finally:
        by_layout.forget()


@pytest.mark.parametrize(
    "odd", [":", "::", " : ", "- :", "= =", "|", "||", "[]", "()", "#", "-", "_:_", ": :", ".. ..", ",,,", "(:"]
)
@pytest.mark.parametrize(
    "beside", ["/a/b: c\n", "Fan 1: OK\nFan 2: OK\n", "PSU   State\n----  -----\n1     OK\n", '{"a": 1}\n']
)
def test_odd_lines_bring_no_part_of_the_reader_down(odd: str, beside: str) -> None:
    for text in (f"{odd}\n{beside}", f"{beside}{odd}\n", f"{odd}\n{odd}\n{beside}{odd}\n{beside}"):
        assert not [u for u in snapshot(text).unread if u.reason == by_layout.OUR_FAULT], text


def test_no_labelled_text_brings_the_reader_down() -> None:
    folders = (LABELS / group for group in ("invented", "left_open", "kept_apart"))
    texts = [text for folder in folders for text in sorted(folder.glob("*.txt"))]
    assert len(texts) > 600
    failed = {
        text.name
        for text in texts
        if any(u.reason == by_layout.OUR_FAULT for u in read_unknown(text.read_bytes(), text.name).unread)
    }
    assert not failed


# Trees and answers


def test_the_texts_of_a_markup_that_json_wraps() -> None:
    item = '{{"name": [{{"data": "{}"}}], "status": [{{"data": "{}"}}]{}}}'
    heat = ', "temperature": [{"data": "42 degrees C / 107 degrees F", "attributes": {"celsius": "42"}}]'
    body = f"{item.format('FPC 0 Power Supply 1', 'Absent', '')}, {item.format('FPC 0 CPU Sensor', 'OK', heat)}"
    found = snapshot(f'{{"environment": [{{"item": [{body}]}}]}}\n')
    assert [("power_supply", Condition.ABSENT), ("temperature", Condition.OK)] == [
        (r.kind, r.condition) for r in found.readings
    ]
    assert {"value": "42 Cel"} == figures(found.readings[1])


def test_supplies_that_are_numbered_beside_their_capacity() -> None:
    one = '{{"psnum": "{}", "actual_out": "{} W", "actual_input": "{} W", "tot_capa": "1100 W", "ps_status": "{}"}}'
    found = read(
        f'{{"powersup": {{"ROW_psinfo": [{one.format(1, 134, 151, "Ok")}, {one.format(2, 0, 0, "Failed")}]}}}}\n'
    )
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == [(r.unit, r.condition) for r in found]
    assert {"output_power": "134 W", "input_power": "151 W", "capacity": "1100 W"} == figures(found[0])


def test_equipment_with_its_state_in_an_answer() -> None:
    text = "   KNOT-03 26-11-30 04:17:52\nM  71 COMPLD\n"
    text += '   "PWR-1-A::PROVTYPE=DCPSU,PN=KN9682PWA1,SN=04411:IS-NR"\n   "PWR-1-B::PROVTYPE=DCPSU,PN=KN9682PWA1,SN=04417:IS-ANR"\n'
    text += '   "FAN-1-1::PROVTYPE=FANU,PN=KN9682FAN1,SN=02873:OOS-AU,UEQ"\n   "FAN-1-2::PROVTYPE=FANU,PN=KN9682FAN1,SN=02875:OOS-MA"\n;\n'
    rows = read_unknown(text.encode(), "text").readings
    assert [
        ("psu-1/a", Condition.OK), ("psu-1/b", Condition.WARNING), ("fan-1/1", Condition.ABSENT), ("fan-1/2", Condition.UNKNOWN),
    ] == [(r.unit, r.condition) for r in rows]  # fmt: skip
    assert "04411" == rows[0].given("serial")
