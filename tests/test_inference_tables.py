"""Tables of unknown devices whose layout has a law of its own: a case each, and the case that only looks like it."""

from textwrap import dedent

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading, Condition
from consolecheck.records.units import Quantity


def read(text: str) -> list[AnyReading]:
    return read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").readings


def unread(text: str) -> set[int]:
    return {line.number for line in read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").unread}


def called(text: str) -> list[tuple[str, str | None, str | None]]:
    return [(r.kind, r.unit, r.name) for r in read(text)]


def celsius(value: float) -> Quantity:
    return Quantity(value=value, unit="Cel")


def rpm(value: float) -> Quantity:
    return Quantity(value=value, unit="rpm")


FANS_BY_PLACE = """
                          Fan speed (rpm)
    Location   FRU Type     FAN_0   FAN_1{more}
    ----------------------------------------------
    0/FT0      SKR-FT-2     9600    9570{figure}
    0/FT1      SKR-FT-2     9600    9630{figure}
    0/PM0      SKR-PM-1K    8640
    """


def test_a_row_of_fans_is_named_by_its_place_and_its_column() -> None:
    found = read(FANS_BY_PLACE.format(more="", figure=""))
    assert [
        ("fan-0", "FAN_0", rpm(9600)), ("fan-0", "FAN_1", rpm(9570)), ("fan-1", "FAN_0", rpm(9600)), ("fan-1", "FAN_1", rpm(9630)),
        (None, "0/PM0 FAN_0", rpm(8640)),
    ] == [(r.unit, r.name, r.given("speed")) for r in found]  # fmt: skip
    assert ["SKR-FT-2"] * 4 + [None] == [r.given("part_number") for r in found], "a supply's part is no part of its fan"


def test_what_else_is_measured_beside_fans_of_a_place_is_of_none_of_them() -> None:
    found = read(FANS_BY_PLACE.format(more="   Temp (C)", figure="    41"))
    assert ["0/PM0 FAN_0"] == [r.name for r in found], "the rows with a temperature are unread"


def test_a_line_that_stands_in_no_column_of_the_table_above_it_ends_it() -> None:
    sensors = """
        Name           Value     unit      type          status   Maximum
        CPU Temp       41.00     Celsius   Temperature   0        85
        Outlet Temp    35.00     Celsius   Temperature   0        65
        Fan1           5280.00   RPM       Fan           0        20000

        {}
        """
    found = read(sensors.format("Power Supply #1     Up\n        Power Supply #2     Down"))
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == [(r.unit, r.condition) for r in found[3:]]
    assert 3 == len(read(sensors.format("Fan2           5.00      RPM"))[:3]), (
        "a row that is cut short stays in its columns"
    )


def test_a_row_with_few_cells_below_a_blank_line_keeps_its_columns() -> None:
    one, two = read("""
        PSU-ID  Status      Type    AirFlow
        ------------------------------------
        1       up          AC      NORMAL

        2       fail
        """)
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == [(r.unit, r.condition) for r in (one, two)]


HOTSPOTS = """
    Slot  Sensor     Temperature  Warning  Alarm
    1     inflow 1   26           65       70
    1     hotspot 1  47           90       100
    {}
    2     inflow 1   25           65       70
    2     hotspot 1  49           90       100
    """


def test_a_table_goes_on_below_a_message_with_a_clock_to_the_millisecond() -> None:
    log = "%Mar 10 09:44:02:511 2031 knot-ag1 SHELL/6/SHELL_CMD: -Line=aux0-User=ops; Command is display environment"
    assert [26.0, 47.0, 25.0, 49.0] == [r.quantities()["value"].value for r in read(HOTSPOTS.format(log))]
    assert {4} == unread(HOTSPOTS.format(log))


def test_words_without_a_clock_end_a_table() -> None:
    found = read(HOTSPOTS.format("The sensors of the second slot are those of the first one, seen from behind"))
    assert [26.0, 47.0] == [r.quantities()["value"].value for r in found]


SENSORS_OF_A_BOARD = """
    Sensor Type : {sort}
    <Sensor Name>   <Status>   <Reading>   <lc>   <uc>    <lnc>[R/W]   <unc>[R/W]
    PS1 Current 1   Ok         0.4Amps     NA     {upper}      0Amps [N]    {milder}Amps [N]
    """


def test_nought_as_the_lower_and_as_the_upper_limit_is_none_set() -> None:
    supply, current = read(SENSORS_OF_A_BOARD.format(sort="CURRENT", upper="NA", milder="0"))
    assert ("psu-1", "PS1 Current 1", Condition.OK) == (supply.unit, supply.name, supply.condition)
    assert {"value": Quantity(value=0.4, unit="A")} == current.quantities(), "of which side it is does not stand there"


def test_limits_of_a_figure_whose_side_is_not_told_stay_with_the_figure() -> None:
    _, current = read(SENSORS_OF_A_BOARD.format(sort="CURRENT", upper="9A", milder="8"))
    assert [0.0, 8.0, 9.0] == [
        current.quantities()[f"{n}"].value for n in ("low_warning", "high_warning", "high_critical")
    ]
    assert [] == read(SENSORS_OF_A_BOARD.format(sort="CURRENT", upper="2A", milder="8")), "limits out of order"


def test_a_line_that_only_says_what_the_table_below_it_lists_is_read_with_it() -> None:
    assert set() == unread(SENSORS_OF_A_BOARD.format(sort="CURRENT", upper="NA", milder="0"))
    assert {1} == unread(SENSORS_OF_A_BOARD.format(sort="CURRENT SENSORS FAILED", upper="NA", milder="0"))


WRAPPED = """
    Node Sensor          State  Value/Units Crit-Low Warn-Low Warn-Hi Crit-Hi
    ---- --------------- ------ ----------- -------- -------- ------- -------
    knot-01
         Ambient Temp
                         normal
                                       24 C        0        5      40      45
         PSU1 Temp       normal        31 C        0        5      51      61
    {}
    """


def test_cells_too_long_for_their_column_put_the_rest_of_their_row_below() -> None:
    one, two = read(WRAPPED.format(""))
    assert ("Ambient Temp", Condition.OK) == (one.name, one.condition)
    assert {
        "value": celsius(24), "low_critical": celsius(0), "low_warning": celsius(5), "high_warning": celsius(40),
        "high_critical": celsius(45),
    } == one.quantities()  # fmt: skip
    assert "PSU1 Temp" == two.name


def test_a_part_of_a_row_that_leaves_a_column_out_belongs_to_no_row() -> None:
    found = read(
        WRAPPED.format(
            "     Board Inlet Temp\n                                       27 C        0        5      52      57"
        )
    )
    assert ["Ambient Temp", "PSU1 Temp"] == [r.name for r in found], "a line between its name and its value is missing"


def test_a_place_left_of_all_rows_is_no_part_of_the_row_below_it() -> None:
    found = read("""
        Location  Sensor     Value  Major  Crit
                             (C)    (Hi)   (Hi)
        ---------------------------------------
        0/RP0
                  Inlet         24     50     55
                  Hotspot       44     85     90
        0/FT0
                  Hotspot       27     75     80
        """)
    assert [24.0, 44.0, 27.0] == [r.quantities()["value"].value for r in found]
    assert ["Inlet", "0/RP0 Hotspot", "0/FT0 Hotspot"] == [r.name for r in found]


CPUS = """
    {title}
      Index  Fan Speed (rpm)  Temp(C)
      1      15169            44
      2      15084            {second}
    """


def test_a_row_of_a_fan_and_a_sensor_is_one_of_each_where_the_labels_say_so() -> None:
    found = read(CPUS.format(title="CPU Status", second="NA"))
    assert [("CPU 1", rpm(15169)), ("CPU 1", celsius(44)), ("CPU 2", rpm(15084))] == [
        (r.name, next(iter(r.quantities().values()))) for r in found
    ]


def test_a_row_of_a_fan_and_a_sensor_is_of_nothing_without_a_title_that_says_of_what() -> None:
    assert [] == read(CPUS.format(title="Status", second="45"))
    assert [] == read(CPUS.format(title="Fan Status", second="45"))


ENCLOSURE = """
    Encl Drawer ID  Sensor Name                    Value       Status
    -----------------------------------------------------------------
    0           A   CPU Temperature-Ctlr A         46 C        OK
    0           A   {name}OK
    0           B   CPU Temperature-Ctlr B         47 C        OK
    0               Temperature Loc: left-PSU      35 C        OK
    0               Current 12V Loc: left-PSU      6.23        OK
    """


def test_a_name_too_long_for_its_column_pushes_the_figure_behind_it() -> None:
    found = read(ENCLOSURE.format(name="Capacitor Pack Temperature-Ctlr A 29 C     "))
    assert [46.0, 29.0, 47.0, 35.0] == [r.quantities()["value"].value for r in found[:4]]
    assert "Capacitor Pack Temperature-Ctlr A" == (found[1].name or "")[-33:]
    assert [("psu-left", "Temperature Loc: left-PSU"), ("psu-left", "Current 12V Loc: left-PSU")] == [
        (r.unit, r.name) for r in found[3:5]
    ]
    assert [Quantity(value=6.23, unit="A")] == [r.quantities()["value"] for r in found if r.kind == "device"]


def test_a_name_that_runs_over_a_column_without_a_figure_parts_nothing() -> None:
    assert [] == read(ENCLOSURE.format(name="Capacitor Pack of the controller in A      "))


def test_supplies_within_one_enclosure_are_told_apart_by_their_own_number() -> None:
    table = """
        Encl  PSU #  Serial          Health
        -----------------------------------
        0     0      SKRAB0BHLL30A5  OK
        0     1      SKRAB0BHLL30BC  Fault
        {}     1      SKRAB0BHLL30CD  OK
        """
    assert ["psu-0/0", "psu-0/1", "psu-1/1"] == [r.unit for r in read(table.format(1))]
    assert [] == read(table.format(0)), "what tells them apart does not stand there"


def test_labels_of_two_columns_that_ran_together_stand_over_places_and_no_status() -> None:
    one, two = read("""
        Encl PSU #  DOM   Location Health   Health Reason
        -------------------------------------------------
        0    0      0-0   Enclosure 0 - Left  OK
        0    1      0-1   Enclosure 0 - Right Fault
        """)
    assert [("psu-0", Condition.OK), ("psu-1", Condition.FAILED)] == [(r.unit, r.condition) for r in (one, two)]


SUPPLY_OF_A_BLOCK = """
    PEM 0 status:
      State                      Online
      AC Input:                  OK
      DC Output           Voltage(V) Current(A)  Power(W)  Load(%)
                                 {figures}
      Voltage:
        48.0 V output        {fine} mV
      Fan 0                      5760 RPM
    """


def test_labels_with_units_over_their_figures_are_of_the_block_that_they_stand_in() -> None:
    supply, fan = read(SUPPLY_OF_A_BLOCK.format(figures="53          8       424       20", fine=53400))
    assert {
        "output_voltage": Quantity(value=53, unit="V"), "output_current": Quantity(value=8, unit="A"),
        "output_power": Quantity(value=424, unit="W"),
    } == supply.quantities()  # fmt: skip
    assert ("psu-0", "Fan 0", rpm(5760)) == (fan.unit, fan.name, fan.given("speed"))


def test_a_figure_too_few_below_labels_leaves_the_supply_unread() -> None:
    assert "power_supply" not in {
        r.kind for r in read(SUPPLY_OF_A_BLOCK.format(figures="53          8       424", fine=53400))
    }


def test_a_figure_that_is_not_the_other_one_rounded_leaves_the_supply_unread() -> None:
    text = SUPPLY_OF_A_BLOCK.format(figures="53          8       424       20", fine=52400)
    assert ["fan"] == [r.kind for r in read(text)]


TRAYS = """
    Fan Tray Status             Speed   Uptime
    -------- ------------------ ------- ---------------
    1/1      Ok                 60%     118 days, 2:11
    1/2      Failed             0%      0:07:40
    {}           45%     118 days, 2:10
    """


def test_a_name_too_long_for_a_ruled_column_pushes_its_status() -> None:
    *_, last = read(TRAYS.format("PowerSupply1/1 Ok"))
    assert ("PowerSupply1/1", Condition.OK, 45.0) == (
        last.name, last.condition, last.quantities()["speed_percent"].value,
    )  # fmt: skip


def test_what_no_other_row_holds_in_a_column_is_not_pushed_there() -> None:
    assert ["fan-1/1", "fan-1/2"] == [r.unit for r in read(TRAYS.format("PowerSupply1/1 B "))]


SENSORS_OF_UNITS = """
    -- Thermal Sensor Readings (deg C) --
    Unit Sensor0 Sensor1 Sensor2 Sensor3
    -----------------------------------------
    1    38      41      35      31
    2    40      {}      36      32
    """


def test_labels_one_blank_apart_go_by_their_order_where_each_row_has_a_cell_for_each() -> None:
    found = read(SENSORS_OF_UNITS.format("43"))
    assert ("unit 2 Sensor1", celsius(43)) == (found[5].name, found[5].given("value"))
    assert [] == read(SENSORS_OF_UNITS.format("  ")), "whose cell is missing is not told"


def test_the_turns_of_a_supply_s_fan_stand_below_a_label_for_the_fan_alone() -> None:
    table = """
        psu  present  status  vin     vout   temp  fan
        1    yes      ok      229.25  12.06  34.0  {}
        2    yes      ok      229.50  12.05  33.5  {}
        """
    fans = [r for r in read(table.format(7488, 7456)) if r.kind == "fan"]
    assert [("psu-1", rpm(7488)), ("psu-2", rpm(7456))] == [(r.unit, r.given("speed")) for r in fans]
    assert "fan" not in {r.kind for r in read(table.format(48, 46))}, "a share, or a number of the fan"


def test_a_bay_that_is_absent_has_none_of_the_things_beside_it() -> None:
    found = read("""
        -- Fan Status --
        Unit Bay   TrayStatus Fan0     Speed   Fan1     Speed
        ------------------------------------------------------
        1    0     up         up       6960    up       7020
        1    1     absent
        """)
    assert ("fan-1/1", Condition.ABSENT) == (found[-1].unit, found[-1].condition)


BLADES = """
    Bay  Name        Model   State      Temp  Power
    ---  ----------  ------  ---------  ----  -----
      1  {}    FB-12   Running    24 C  212 W
      2  knot-n02    FB-12   Off        21 C    0 W
    """


def test_what_a_card_takes_beside_its_temperature_is_a_fact_of_its_own() -> None:
    found = read(BLADES.format("knot-n01"))
    assert [
        ("temperature", "bay 1 knot-n01", celsius(24)), ("device", "bay 1 knot-n01 Power", Quantity(value=212, unit="W")),
        ("temperature", "bay 2 knot-n02", celsius(21)), ("device", "bay 2 knot-n02 Power", Quantity(value=0, unit="W")),
    ] == [(r.kind, r.name, r.given("value")) for r in found]  # fmt: skip
    assert [Condition.UNKNOWN] * 2 == [r.condition for r in found if r.kind == "temperature"]


def test_what_a_supply_takes_beside_its_temperature_is_no_fact_of_a_card() -> None:
    assert ["bay 2 knot-n02", "bay 2 knot-n02 Power"] == [r.name for r in read(BLADES.format("PSU 1   "))]


FEEDS = """
    knot# show power
                 {0} A            {0} B
                 ----------------  ----------------
    Status       normal            failed
    Input        -54.1 VDC         -53.7 VDC
    Current      6.20 A            6.05 A
    Power        335 W             325 W
    Temperature  37 C              36 C

    knot# """


def test_a_table_on_its_side_below_rulers_over_its_figures_alone() -> None:
    a, heat, b, _ = read(FEEDS.format("Feed"))
    assert [("psu-a", Condition.OK), ("psu-b", Condition.FAILED)] == [(r.unit, r.condition) for r in (a, b)]
    assert ["input_voltage", "input_current", "input_power"] == list(a.quantities()), "amps by volts are the watts"
    assert ("psu-a", "Temperature", celsius(37)) == (heat.unit, heat.name, heat.given("value"))


@pytest.mark.parametrize("word", ["Rail", "Output", "CH"])
def test_rails_side_by_side_are_no_supplies(word: str) -> None:
    assert [] == [r for r in read(FEEDS.format(word)) if r.kind == "power_supply"]


PUSHED = """
    Temperature information
    Mbr/Slot-Sensor   Module Type   Current temperature   Status
    1/3-CPU           line-card-module  40.88 C               normal
    1/3-Exhaust-right  line-card-module  35.00 C               {}
    1/1-DDR                         29.50 C               normal
    """


def test_cells_longer_than_their_labels_push_all_that_stand_behind_them() -> None:
    found = read(PUSHED.format("normal"))
    assert [("1/3-CPU", 40.88), ("1/3-Exhaust-right", 35.0), ("1/1-DDR", 29.5)] == [
        (r.name, r.quantities()["value"].value) for r in found
    ]
    assert [Condition.OK] * 3 == [r.condition for r in found]


def test_a_cell_that_nothing_pushed_from_its_place_leaves_the_table_unread() -> None:
    assert [] == [r for r in read(PUSHED.format("     normal")) if "value" not in r.quantities()], "no value is lost"
    assert [] == read(PUSHED.format("     normal"))


def test_labels_one_blank_apart_begin_where_their_columns_do() -> None:
    one, two = read("""
        Supply Model     Capacity (W) Input Volts Input Amps Output Volts Output Watts Status
        PSU1   SK-3K0-AC 3000         231.2       2.31       12.02        498          Ok
        PSU2   SK-3K0-AC 3000         0.0         0.00       0.00         0            No Input
        """)
    assert {
        "capacity": Quantity(value=3000, unit="W"), "input_voltage": Quantity(value=231.2, unit="V"),
        "input_current": Quantity(value=2.31, unit="A"), "output_voltage": Quantity(value=12.02, unit="V"),
        "output_power": Quantity(value=498, unit="W"),
    } == one.quantities()  # fmt: skip
    assert Condition.NO_INPUT is two.condition


def test_a_figure_that_ran_together_with_a_status_is_not_lost_but_unread() -> None:
    found = read("""
        Fans
        Id Presence    Status Rpm  Percent
        1  Present     OK     5980 48
        2  Present     Failed 0    0
        """)
    assert "fan-1" not in {r.unit for r in found}


def test_labels_that_tabs_moved_from_their_columns_name_none_of_them() -> None:
    lines = ["ID Sensor\tState\tCentigrade\tFahrenheit", "1\tOk\t33\t91", "2\tOk\t31\t87", "3\tOk\t46\t114"]
    assert [] == read("\n".join(lines)), "91 stands right below Centigrade"
    lines[0] = "Sensor\tState\tTemp(C)\tTemp(F)"
    assert [33.0, 31.0, 46.0] == [r.quantities()["value"].value for r in read("\n".join(lines))]


def test_a_blank_within_a_status_parts_no_column_that_other_rows_leave_empty() -> None:
    a, b = read("""
        Bay     State     Vin(V)  Iin(A)  Pin(W)  Vout(V)  Iout(A)  Pout(W)  Rating(W)
         A       Good     231.4    0.62   141.8    12.04    10.90    131.2      550
         B   Not present    -       -       -        -        -        -         -
        """)
    assert [("psu-a", Condition.OK), ("psu-b", Condition.ABSENT)] == [(r.unit, r.condition) for r in (a, b)]
