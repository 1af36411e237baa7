"""Lists whose things are parted by a key that comes again, and words of more than one meaning: a law and its near miss each."""

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading, Condition, Snapshot


def snapshot(text: str) -> Snapshot:
    return read_unknown(f"keeper@auk-02> show environment detail\n{text}keeper@auk-02> \n".encode(), "text")


def read(text: str) -> list[AnyReading]:
    return list(snapshot(text).readings)


def figures(reading: AnyReading) -> dict[str, str]:
    return {name: f"{q.value:g} {q.unit}" for name, q in reading.quantities().items()}


def sensor(name: str, now: str, least: str, most: str, status: str = "normal", fans: str = "slow") -> str:
    return (
        f"Name                 : {name}\nModule               : board\nStatus               : {status}\n"
        f"Fan-state            : {fans}\nCurrent temperature  : {now}\nMinimum temperature  : {least}\n"
        f"Maximum temperature  : {most}\n\n"
    )


TITLE = "Detailed temperature information\n"


def test_the_key_that_comes_first_begins_each_thing() -> None:
    text = TITLE + sensor("1/1-CPU", "47.5", "31.25", "55.0") + sensor("1/1-Inlet", "26.0", "19.0", "28.0", "critical")
    one, two = read(text)
    assert ("1/1-CPU", Condition.OK, {"value": "47.5 Cel"}) == (one.name, one.condition, figures(one))
    assert ("1/1-Inlet", Condition.FAILED, {"value": "26 Cel"}) == (two.name, two.condition, figures(two))
    assert [tuple(range(3, 10)), tuple(range(11, 18))] == [s.lines for s in snapshot(text).sightings]


def test_what_stands_below_the_next_name_is_not_of_the_one_before() -> None:
    # Of the first record the figure is lost: the state of the second one must not become its own.
    text = TITLE + sensor("cpu", "47.5", "31.25", "55.0").replace("Current temperature  : 47.5\n", "")
    text += sensor("inlet", "26.0", "19.0", "28.0", "warning")
    told = {r.name: (r.condition, r.given("value")) for r in read(text)}
    assert told.get("cpu", (None, None))[1] is None
    assert told["inlet"][0] is Condition.WARNING


def test_a_speed_that_a_sensor_asks_for_is_not_its_state() -> None:
    (one, _) = read(TITLE + sensor("cpu", "47.5", "31.25", "55.0", fans="max") + sensor("phy", "40.0", "31.0", "55.0"))
    assert one.condition is Condition.OK
    text = TITLE + sensor("cpu", "47.5", "31.25", "55.0", fans="failed") + sensor("phy", "40.0", "31.0", "55.0")
    assert 6 in [line.number for line in snapshot(text).unread]


def test_least_and_most_that_may_be_seen_or_allowed_are_left_where_a_state_is_told() -> None:
    table = "Sensor   Temp   Min   Max  {}\nasic     41.0   30.0  44.0 {}\nphy      40.0   31.0  43.0 {}\n"
    assert [{"value": "41 Cel"}, {"value": "40 Cel"}] == [figures(r) for r in read(table.format("State", "ok", "ok"))]
    assert [] == read(table.format("", "", ""))


def test_least_and_most_that_no_part_is_seen_at_are_limits() -> None:
    (one, _) = read("Sensor   Temp   Min   Max  State\nasic     41.0   -10   95   ok\nphy      40.0   -10   90   ok\n")
    assert {"value": "41 Cel", "low_warning": "-10 Cel", "high_warning": "95 Cel"} == figures(one)


def test_a_value_of_two_words_between_commas_is_whole() -> None:
    text = "Sensor=Main board, Temp=38.5C, Status=Normal\nSensor=Front panel, Temp=29.0C, Status=Normal\n"
    assert ["Main board", "Front panel"] == [r.name for r in read(text)]


@pytest.mark.parametrize(
    ("status", "condition"),
    [
        ("FanDirectionFault", Condition.FAILED),
        ("Over current fault", Condition.FAILED),
        ("FAILED or NO PRES", Condition.FAILED),
        ("absent or no power", Condition.ABSENT),
        ("Check", Condition.WARNING),
        ("NotSupply", Condition.NO_INPUT),
        ("NoFault", Condition.UNKNOWN),
        ("last failure", Condition.UNKNOWN),
        ("cleared fault", Condition.UNKNOWN),
        ("0 failed", Condition.UNKNOWN),
        ("ok or standby", Condition.UNKNOWN),
        ("OK or faulty", Condition.UNKNOWN),
    ],
)
def test_a_state_in_several_words(status: str, condition: Condition) -> None:
    rows = read(f"PSU  Status\n1    OK\n2    {status}\n")
    told = {r.unit: r.condition for r in rows}
    if status == "absent or no power":
        assert told["psu-2"] in (Condition.ABSENT, Condition.NO_INPUT)
    else:
        assert told["psu-2"] is condition


@pytest.mark.parametrize(
    ("bits", "condition"),
    [("0", Condition.OK), ("0x0", Condition.OK), ("4", Condition.WARNING), ("0x4", Condition.WARNING)],
)
def test_bits_of_crossed_limits(bits: str, condition: Condition) -> None:
    rows = read(
        f" 1 Fan 1   alarm=0  value=6300  threshold_status=0\n 2 Fan 2   alarm=0  value=6400  threshold_status={bits}\n"
    )
    assert {"fan-1": Condition.OK, "fan-2": condition} == {r.unit: r.condition for r in rows}


def test_no_crossed_limit_alone_is_no_word_that_all_is_well() -> None:
    rows = read(" 1 Fan 1   value=6300  threshold_status=0\n 2 Fan 2   value=6400  threshold_status=0\n")
    assert all(r.condition is not Condition.OK for r in rows)


# Whose a line is


def test_a_rotor_is_of_its_own_tray() -> None:
    rows = read(
        "Tray#1 Fan#1 Status : up\nTray#1 Fan#2 Status : up\nTray#2 Fan#1 Status : down\nTray#2 Fan#2 Status : up\n"
    )
    assert {"fan-1/1": Condition.OK, "fan-1/2": Condition.OK, "fan-2/1": Condition.FAILED, "fan-2/2": Condition.OK} == {
        r.unit: r.condition for r in rows
    }


def test_rotors_in_brackets_are_not_one_fan() -> None:
    row = "Right fan tray (fan {}): Status = {}, Speed = LOW (50%)\n"
    rows = read("--- FANS ---\n" + row.format(1, "OK") + row.format(2, "Failed") + row.format(3, "OK"))
    assert [("fan-right/1", Condition.OK), ("fan-right/2", Condition.FAILED), ("fan-right/3", Condition.OK)] == [
        (r.unit, r.condition) for r in rows
    ]


def test_how_many_fans_there_are_is_no_fan() -> None:
    rows = read(
        "Fan number: 6\nFan 0 state: Normal\nFan 0 speed rate: 40%\nFan 1 state: Normal\nFan 1 speed rate: 45%\n"
    )
    assert [("fan-0", {"speed_percent": "40 %"}), ("fan-1", {"speed_percent": "45 %"})] == [
        (r.unit, figures(r)) for r in rows
    ]
    (one, two) = read("Fan number: 1\nSpeed: 4100 rpm\nStatus: ok\n\nFan number: 2\nSpeed: 4200 rpm\nStatus: ok\n")
    assert ("fan-1", "fan-2") == (one.unit, two.unit)


def test_a_first_line_that_is_a_key_and_its_state_is_no_row_of_labels() -> None:
    text = "Fan Tray Status         Present\nPower Supply A Status   Normal\nPower Supply B Status   No Power\n"
    told = "Active Alarms           Chassis power failure - side B\n"
    assert {"psu-a": Condition.OK, "psu-b": Condition.NO_INPUT} == {r.unit: r.condition for r in read(text + told)}


STACK = """The stack unit {n} chassis info:

Power supply 1 (AC - regular) present, status {power}
Power supply 2 not present

Fan 1 ok, speed (auto): [[1]]<->2
Fan 2 {fan}

MAC 1 Temperature Readings:
        Current temperature : {heat} deg-C
CPU Temperature Readings:
        Current temperature : 58.5 deg-C
        Warning level.......: 95.0 deg-C

"""


def test_units_of_a_stack_that_say_the_same_are_told_apart() -> None:
    text = STACK.format(n=1, power="ok", fan="ok, speed (auto): [[1]]<->2", heat=51.0)
    rows = read(text + STACK.format(n=2, power="failed", fan="failed", heat=47.5))
    told = {(r.unit, r.name): (r.condition, figures(r)) for r in rows}
    assert (Condition.OK, {}) == told["psu-1/1", None]
    assert (Condition.FAILED, {}) == told["psu-2/1", None]
    assert (Condition.FAILED, {}) == told["fan-2/2", None]
    assert {"value": "47.5 Cel"} == told[None, "stack unit 2 MAC 1"][1]
    assert {"value": "58.5 Cel", "high_warning": "95 Cel"} == told[None, "stack unit 2 CPU"][1]


def test_one_name_told_far_apart_below_no_heading_is_no_one_thing() -> None:
    text = STACK.format(n=1, power="ok", fan="ok, speed (auto): [[1]]<->2", heat=51.0)
    two = (text + text.replace("status ok", "status failed")).replace("The stack unit 1 chassis info:\n", "Chassis\n")
    assert not [r for r in read(two) if r.unit in ("psu-1", "fan-1") and r.condition is Condition.OK]


def test_a_figure_and_its_unit_in_one_column_and_limits_by_name() -> None:
    text = (
        "Slot        Sensor          Current State   Reading        Threshold(Minor,Major,Critical,Shutdown)\n"
        "----------  --------------  --------------- ------------   ---------------------------------------\n"
        "R0          Temp: Inlet     Normal          26   Celsius   (na ,63 ,73 ,83 )(Celsius)\n"
        "R0          Temp: Outlet    Normal          33   Celsius   (na ,72 ,{} ,92 )(Celsius)\n"
    )
    one, two = read(text.format(82))
    assert {"value": "26 Cel", "high_warning": "63 Cel", "high_critical": "73 Cel"} == figures(one)
    assert {"value": "33 Cel", "high_warning": "72 Cel", "high_critical": "82 Cel"} == figures(two)
    assert 1 == len(read(text.format(62)))  # out of order
    assert 1 == len(read(text.format("82 ,84")))  # one too many


PARTS = """Resource ID: 1  Name: PSU Bay 1 (AC)
ID  Sensor (Units)              Reading   Low Limit  High Limit  Status
1   Device Present              Yes       -          -           Ok
2   PSU Overtemp                No        -          -           Ok
3   PSU Power Good              Yes       -          -           Ok
4   Fan: Fan 1 (Rpm)            4140      2500       -           Ok
5   Temp: Internal (Degrees C)  33        -          70 (Hyst)   Ok

Resource ID: 2  Name: Chassis
ID  Sensor (Units)              Reading   Low Limit  High Limit  Status
1   Voltage: 1.8V (Volts)       1.804     1.617      1.978       Ok
2   Temp: CPU (Degrees C)       49        -10        90          Ok
"""


def test_states_below_the_name_of_a_supply_are_its_own_and_so_are_its_sensors() -> None:
    told = {(r.unit, r.name): (r.condition, figures(r)) for r in read(PARTS) if r.kind != "device"}
    assert {
        ("psu-1", None): (Condition.OK, {}),
        ("psu-1", "Fan: Fan 1"): (Condition.OK, {"speed": "4140 rpm", "low_warning": "2500 rpm"}),
        ("psu-1", "Temp: Internal"): (Condition.OK, {"value": "33 Cel", "high_warning": "70 Cel"}),
        (None, "Temp: CPU"): (Condition.OK, {"value": "49 Cel", "low_warning": "-10 Cel", "high_warning": "90 Cel"}),
    } == told


@pytest.mark.parametrize(
    ("was", "now", "condition"),
    [
        ("3   PSU Power Good              Yes       -          -           Ok\n", "", Condition.UNKNOWN),
        (
            "Power Good              Yes       -          -           Ok",
            "Power Good              No        -          -           FAULT",
            Condition.FAILED,
        ),
        ("Power Good              Yes", "Power Good              No ", None),  # and its status is Ok
        (
            "Overtemp                No        -          -           Ok",
            "Overtemp                Yes       -          -           FAULT",
            Condition.FAILED,
        ),
        ("Overtemp                No ", "Overtemp                Yes", None),
        ("Present              Yes", "Present              No ", Condition.ABSENT),
        (
            "Overtemp                No        -          -           Ok",
            "Overtemp                No        -          -           odd",
            None,
        ),
    ],
    ids=[
        "nothing says it gives",
        "it gives nothing",
        "gainsaid",
        "too hot",
        "gainsaid heat",
        "not there",
        "a word not known",
    ],
)
def test_of_a_supply_only_an_output_that_is_good_makes_it_well(was: str, now: str, condition: Condition | None) -> None:
    assert was in PARTS
    found = [r for r in read(PARTS.replace(was, now)) if (r.kind, r.name) == ("power_supply", None)]
    assert [condition] == [r.condition for r in found] or (condition is None and not found)


def test_a_temperature_that_is_ok_makes_no_supply_well() -> None:
    text = "PEM 0 status:\n  State            Online\n  Temperature      {}\n  AC Input:        OK\n"
    other = text.replace("PEM 0", "PEM 1").format("OK")
    assert [Condition.UNKNOWN] * 2 == [r.condition for r in read(text.format("OK") + other)]
    assert [Condition.FAILED, Condition.UNKNOWN] == [r.condition for r in read(text.format("Failed") + other)]


def test_what_is_said_of_the_plan_beside_a_figure() -> None:
    text = (
        "PEM 0:\n  State:     Online\n  AC input:  OK (1 feed expected, 1 feed connected)\n  Capacity:  2050 W (maximum 2050 W)\n"
        "  DC output: 784 W (zone 0, 14 A at 56 V, 38% of capacity)\n\n"
        "PEM 1:\n  State:     Present\n  AC input:  Out of range (1 feed expected, 0 feed connected)\n"
        "  Capacity:  2050 W (maximum 2050 W)\n  DC output: 0 W (zone 0, 0 A at 0 V, 0% of capacity)\n"
    )
    one, two = read(text)
    assert {
        "capacity": "2050 W",
        "output_power": "784 W",
        "output_current": "14 A",
        "output_voltage": "56 V",
    } == figures(one)
    assert [Condition.UNKNOWN, Condition.WARNING] == [one.condition, two.condition]


def test_that_a_part_is_there_as_it_should_be_is_no_word_that_it_is_well() -> None:
    rows = read(
        "Sensor          State    Value\nPSU1 Present    normal   -\nPSU1 Temp       normal   30 C\nFan1            normal   8550 RPM\n"
    )
    assert [Condition.UNKNOWN] == [r.condition for r in rows if r.kind == "power_supply"]


def test_a_blank_with_a_unit_is_a_blank() -> None:
    table = "Sensor    State   Value     Crit-Low  Warn-Low\n"
    table += "Fan1      normal  8550 RPM  - RPM     1000 RPM\nFan2      normal  8640 RPM  - RPM     1000 RPM\n"
    assert [{"speed": "8550 rpm", "low_warning": "1000 rpm"}, {"speed": "8640 rpm", "low_warning": "1000 rpm"}] == [
        figures(r) for r in read(table)
    ]


def test_the_normal_range_between_least_and_most_warns() -> None:
    table = "Unit      Temp (C)  Status    Min   Normal   Max\n"
    table += "Slot-1    33.50     Normal    -10   0-54     59\nSlot-2    57.00     Warning   -10   {}     59\n"
    one, two = read(table.format("0-54"))
    limits = {"low_critical": "-10 Cel", "low_warning": "0 Cel", "high_warning": "54 Cel", "high_critical": "59 Cel"}
    assert ({"value": "33.5 Cel", **limits}, Condition.OK) == (figures(one), one.condition)
    assert ({"value": "57 Cel", **limits}, Condition.WARNING) == (figures(two), two.condition)
    assert all("high_critical" not in figures(r) for r in read(table.format("odd ")))


def test_a_figure_and_its_range_in_one_cell() -> None:
    table = "Temperature Status:\nUnit    Descr                 Current/Threshold Range\n----    --------------------  -----------------------\n"
    row = "{}       Central Temperature     {}33C/0~{}C\n"
    one, two = read(table + row.format(1, "", 50) + row.format(2, "* ", 30))
    assert {"value": "33 Cel", "low_warning": "0 Cel", "high_warning": "50 Cel"} == figures(one)
    assert {"value": "33 Cel", "low_warning": "0 Cel", "high_warning": "30 Cel"} == figures(two)
    assert [] == read(table + row.format(1, "", 50) + row.format(2, "* ", 50))  # marked, and within its range
    assert [] == read(table + row.format(1, "", 50) + row.format(2, "", 30))  # beyond it, and not marked


def test_what_a_power_strip_is_fed_by_is_no_supply() -> None:
    table = "{}  Name      Status   Load      Voltage   Power\n"
    table += (
        "{}    North_A   On       6.42 A    231.4 V   1473 W\n{}    North_B   On       5.97 A    230.8 V   1369 W\n"
    )
    assert [] == read(table.format("Input Feed ID", "A1           ", "B1           "))
    assert [] == read(table.format("Branch", "1     ", "2     "))


def test_a_section_that_is_printed_once_more_says_the_same_again() -> None:
    section = "Cooling Fans:\n-----------------------\n"
    section += (
        "  Left Slot (PS0): {} RPM - OK (Power Supply Fan)\n  Right Slot (PS1): {} RPM - OK (Power Supply Fan)\n\n"
    )
    text = (
        section.format(6912, 7040)
        + "Temperature:\n-----------------------\n  Ambient 1: 28.0 C - OK (Chassis Front Temperature)\n\n"
    )
    again = [r for r in read(text + section.format(6912, 7040)) if r.kind == "fan"]
    assert {("psu-0", "6912 rpm"), ("psu-1", "7040 rpm")} == {(r.unit, figures(r)["speed"]) for r in again}
    other = [r.unit for r in read(text + section.format(6912, 7104)) if r.kind == "fan"]
    assert "psu-1" not in other
    round_ones = section.format(60, 60)
    assert not [r for r in read(round_ones + "Temperature:\n" + round_ones) if r.kind == "fan"]


def test_where_a_sensor_sits_and_what_drives_a_fan() -> None:
    text = (
        "Main Board Temperatures       :\n                              : U29 - Local Temp      28 C (near the PHYs)\n"
        "                              : Q1 - Remote Temp      31 C ({})\nFan 0                         : 8542 rpm (0.971 V), Speed Low\n"
        "Fan 1                         : 8616 rpm (0.982 V), Speed Low\n"
    )
    heat = {r.name: figures(r) for r in read(text.format("under the heatsink")) if r.kind == "temperature"}
    assert {"U29 - Local Temp": {"value": "28 Cel"}, "Q1 - Remote Temp": {"value": "31 Cel"}} == heat
    assert [("fan-0", "8542 rpm"), ("fan-1", "8616 rpm")] == [
        (r.unit, figures(r)["speed"]) for r in read(text.format("under it")) if r.kind == "fan"
    ]
    assert "Q1 - Remote Temp" not in [r.name for r in read(text.format("alarm")) if r.condition is Condition.OK]


def test_sensors_numbered_below_a_heading_of_temperatures() -> None:
    text = "--- TEMPERATURE READINGS ---\nLP1 Sensor1: 38.0C\nLP1 Sensor2: 59.875C\n"
    assert [("LP1 Sensor1", "38 Cel"), ("LP1 Sensor2", "59.875 Cel")] == [
        (r.name, figures(r)["value"]) for r in read(text)
    ]


def test_two_sensors_of_a_row_each_with_its_state() -> None:
    text = (
        "      processor      processor    IOA           IOA\n slot temperature    temperature  temperature   temperature\n"
        "      (10C - 70C)    status       (10C - 70C)   status\n ---- -------------- ------------ ------------- -----------\n"
        "  0       36         normal           32        normal\n  1       34         normal           71        high\n"
        "  2       38         normal          ---        ---\n"
    )
    told = {r.name: (r.condition, figures(r)["value"]) for r in read(text)}
    assert {
        "slot 0 processor": (Condition.OK, "36 Cel"),
        "slot 0 IOA": (Condition.OK, "32 Cel"),
        "slot 1 processor": (Condition.OK, "34 Cel"),
        "slot 2 processor": (Condition.OK, "38 Cel"),
    } == {name: row for name, row in told.items() if name != "slot 1 IOA"}
    assert told["slot 1 IOA"][0] is not Condition.OK
    lost = text.replace("status       (10C - 70C)   status", "status       (10C - 70C)   ratio ")
    assert not [r for r in read(lost) if "IOA" in (r.name or "")]


def test_a_reason_beside_a_state_is_no_state() -> None:
    head = "Name             Health    Health Reason                                Status\n"
    rule = "-" * 77 + "\n"
    text = head + rule + "PSU 1, Left      OK                                                     Up\n"
    text += "PSU 2, Right     Fault     The power supply unit has no input power.    Error\n"
    assert [Condition.OK, Condition.FAILED] == [r.condition for r in read(text)]


def test_each_sensor_of_a_chip_is_a_reading_of_its_own_and_the_volts_of_a_rail_are_its_name() -> None:
    text = (
        "dps460-i2c-4-59\nAdapter: i2c-1-mux\nPSU-1(L) 220V Rail (in):      +231.00 V\nPSU-1(L) 12V Rail (out):       +12.05 V\n"
        "PSU-1(L) 220V Rail Pwr (in):  106.25 W\nPSU-1(L) 12V Rail Curr (out):   +7.88 A\nPSU-1(L) Fan 1: 9184 RPM\n"
        "PSU-1(L) Temp 1:  +27.0 C  (highest = +51.0 C)\n"
    )
    rows = read(text)
    assert [(r.unit, r.name, figures(r)) for r in rows if r.kind == "power_supply"] == [
        ("psu-1", "PSU-1(L) 220V Rail (in)", {"input_voltage": "231 V"}),
        ("psu-1", "PSU-1(L) 12V Rail (out)", {"output_voltage": "12.05 V"}),
        ("psu-1", "PSU-1(L) 220V Rail Pwr (in)", {"input_power": "106.25 W"}),
        ("psu-1", "PSU-1(L) 12V Rail Curr (out)", {"output_current": "7.88 A"}),
    ]
    assert [("psu-1", {"speed": "9184 rpm"})] == [(r.unit, figures(r)) for r in rows if r.kind == "fan"]
    assert [("psu-1", {"value": "27 Cel"})] == [(r.unit, figures(r)) for r in rows if r.kind == "temperature"]


def test_the_state_of_all_fans_in_a_list_of_sensors() -> None:
    rows = read(
        "#  NAME             VALUE  TYPE\n0  fan-state        fail\n1  fan1-speed       4530   RPM\n2  psu1-state       ok\n"
    )
    assert [(None, Condition.FAILED), ("fan-1", None)] == [(r.unit, r.condition) for r in rows if r.kind == "fan"]


def test_a_list_without_a_name_is_of_the_thing_that_its_command_names() -> None:
    told = "    Admin State       : In-Service\n    Operational State : {}\n    Output Voltage    : 12.08 V\n    Serial Number     : TDF712002\n\n"
    text = f"auk-02> show psu psu-1-1\n\n{told.format('Normal')}auk-02> show psu psu-1-2\n\n{told.format('Failed')}auk-02> \n"
    rows = read_unknown(text.encode(), "text").readings
    assert [("psu-1/1", Condition.OK), ("psu-1/2", Condition.FAILED)] == [(r.unit, r.condition) for r in rows]
    port = text.replace("psu psu-1-1", "port 1").replace("psu psu-1-2", "port 2")
    assert not read_unknown(port.encode(), "text").readings
    two = text.replace("show psu psu-1-1", "show psu").replace("show psu psu-1-2", "show psu")
    assert not read_unknown(two.encode(), "text").readings


def test_limits_in_brackets_behind_a_figure_rise() -> None:
    table = (
        "Module Sensor          Temperature          Status\n------+---------------+--------------------+------------\n"
    )
    one = read(
        table + "1      air inlet       26C (51C,65C,68C)    ok\n1      air outlet      35C (69C,83C,86C)    ok\n"
    )
    assert {"value": "26 Cel", "high_warning": "51 Cel", "high_critical": "65 Cel"} == figures(one[0])
    assert [] == read(
        table + "1      air inlet       26C (65C,51C,68C)    ok\n1      air outlet      35C (83C,69C,86C)    ok\n"
    )


def test_a_blank_that_a_tab_pushed_beside_a_unit_is_of_the_next_column() -> None:
    text = (
        " Slot        Sensor          Current State   Reading        Threshold(Minor,Major,Critical,Shutdown)\n"
        " ----------  --------------  --------------- ------------   ---------------------------------------\n"
        " P2          RPM: fan0       Normal          4110  RPM\tna\n P2          RPM: fan1       Normal          4080  RPM\t{}\n"
    )
    assert ["4110 rpm", "4080 rpm"] == [figures(r)["speed"] for r in read(text.format("na"))]
    assert ["4110 rpm"] == [figures(r)["speed"] for r in read(text.format("off"))]


def test_a_title_between_rulers_is_no_label() -> None:
    text = (
        "-- Fan  Status --\nUnit Bay   TrayStatus   Fan0     Speed    Fan1     Speed\n"
        "--------------------------------------------------------------\n"
        " 1    0     up           up       9120     down     0\n 1    1     up           up       9000     up       9240\n"
    )
    assert [Condition.OK, Condition.FAILED, Condition.OK, Condition.OK] == [r.condition for r in read(text)]
    bars = "            ---- Input ----     ---- Output ----\nPSU   State      mV       mA         mV        mA\n"
    bars += "---   ------   ------   ------     ------    ------\nA     normal   229870      812      12043     14260\n"
    bars += "B     normal   230115      798      12051     14015\n"
    assert {"input_voltage", "output_voltage"} <= set(figures(read(bars)[0]))


def test_degrees_below_a_label_of_both_scales() -> None:
    text = (
        "Device                  Temp                 Caution   Critical\n"
        "                        Status  (C / F)        (C)        (C)\n"
        "----------------------- ------- ----------- --------- ----------\n"
        "Enclosure Ambient Temp  OK      22C/ 71F     42C       46C\nOnboard Administrator   OK      31C/ 87F     75C       80C\n"
    )
    assert {"value": "22 Cel", "high_warning": "42 Cel", "high_critical": "46 Cel"} == figures(read(text)[0])


def test_a_fan_at_a_step_of_its_speed() -> None:
    rows = read(
        " SYSTEM FAN STATUS\n =================\n Fan 1 OK, Low speed setting\n Fan 2 Failed, Low speed setting\n Fan 3 OK, odd speed setting\n"
    )
    assert [("fan-1", Condition.OK), ("fan-2", Condition.FAILED)] == [(r.unit, r.condition) for r in rows]


def test_a_class_that_heads_its_rows_is_a_column_although_one_blank_parts_it() -> None:
    text = (
        "Class Item                           Status     Measurement\n"
        "Power FPC 0 Power Supply 0           OK        \n      FPC 0 Power Supply 1           Absent    \n"
        "Temp  FPC 0 CPU                      OK         41 degrees C / 105 degrees F\n"
        "      FPC 0 Uplink                   OK         33 degrees C / 91 degrees F\n"
        "Fans  FPC 0 Fan 1                    OK         Spinning at normal speed\n"
        "      FPC 0 Fan 2                    Check      Spinning at normal speed\n"
        "      FPC 0 Fan 3                    OK         Spinning at normal speed\n"
    )
    told = [(r.kind, r.unit or r.name, r.condition) for r in read(text)]
    assert [
        ("power_supply", "psu-0", Condition.OK),
        ("power_supply", "psu-1", Condition.ABSENT),
        ("temperature", "FPC 0 CPU", Condition.OK),
        ("temperature", "FPC 0 Uplink", Condition.OK),
        ("fan", "fan-1", Condition.OK),
        ("fan", "fan-2", Condition.WARNING),
        ("fan", "fan-3", Condition.OK),
    ] == told


def test_sensors_whose_headings_differ_in_their_number() -> None:
    row = "External sensor {} ('{}')\nSensor type: {}\nReading:     {}\n\n"
    text = row.format(1, "Rack front", "Temperature", "24.3 deg C (normal)") + row.format(
        2, "Rack front", "Humidity", "41 % (normal)"
    )
    text += row.format(3, "Rack rear", "Temperature", "38.6 deg C (above upper warning)")
    told = [(r.name, r.condition, figures(r)) for r in read(text)]
    assert [
        ("Rack front", Condition.OK, {"value": "24.3 Cel"}),
        ("Rack rear", Condition.WARNING, {"value": "38.6 Cel"}),
    ] == told


def test_fans_of_one_number_are_told_apart_by_the_word_before_them() -> None:
    rows = read(
        "CPU Fan 0 Speed (RPM)     4115\nCPU Fan 1 Speed (RPM)     4176\nSystem Fan 1 Speed (RPM)  5767\nSystem Fan 2 Speed (RPM)  0\n"
    )
    told = {r.name or r.unit: figures(r)["speed"] for r in rows}
    assert {"4176 rpm", "5767 rpm"} <= {told.get("CPU Fan 1"), told.get("System Fan 1")}


def test_what_cards_take_is_no_supply() -> None:
    text = (
        "  Location     Card Type             Power       Power       Status\n"
        "                                     Allocated   Used\n                                     Watts       Watts\n"
        "  ====================================================================\n"
        "  0/0          -                        0           -        RESERVED\n"
        "  0/1          SCP-36X100G            860         402        ON\n"
    )
    assert [] == [r for r in read(text) if r.kind == "power_supply"]


def test_that_a_supply_is_not_too_hot_is_no_limit() -> None:
    text = "Power supply number       : {}\n  DC power                : {}\n  Over temp               : {}\n  Status                  : {}\n"
    one, two = read(
        text.format(1, "within range", "within range", "up") + text.format(2, "out of range", "within range", "failed")
    )
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == [
        (one.unit, one.condition),
        (two.unit, two.condition),
    ]
    (hot, _) = read(
        text.format(1, "within range", "out of range", "up") + text.format(2, "within range", "within range", "up")
    )
    assert hot.condition is Condition.WARNING


def test_two_temperatures_of_a_supply_have_their_numbers() -> None:
    text = "pmbus-i2c-10-59\nAdapter: i2c-1-mux\nPSU-1 Fan 1:   10288 RPM\nPSU-1 Temp 1:   +27.5 C\nPSU-1 Temp 2:   +33.0 C\n"
    heat = [(r.unit, r.name, figures(r)["value"]) for r in read(text) if r.kind == "temperature"]
    assert [("psu-1", "PSU-1 Temp 1", "27.5 Cel"), ("psu-1", "PSU-1 Temp 2", "33 Cel")] == heat


def test_a_state_without_a_figure_has_no_unit() -> None:
    table = (
        "ID   | Name       | Type         | State    | Reading  | Units | Event\n"
        "1880 | FAN1       | Fan          | Nominal  | 5500.00  | RPM   | 'OK'\n"
        "3421 | PS1 Status | Power Supply | Nominal  | N/A      | N/A   | 'Presence detected'\n"
        "3488 | PS2 Status | Power Supply | Critical | {}   | 'Presence detected'\n"
    )
    assert {"psu-1": Condition.OK, "psu-2": Condition.FAILED} == {
        r.unit: r.condition for r in read(table.format("N/A      | N/A")) if r.kind == "power_supply"
    }
    assert ["psu-1"] == [r.unit for r in read(table.format("5.0      | ???")) if r.kind == "power_supply"]
