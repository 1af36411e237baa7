"""The reading of texts that no dialect knows: one case a layout or a trap, each in the trade's own print."""

from textwrap import dedent

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consolecheck.files.shelf import shipped
from consolecheck.reading.inference.words import label_of
from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import AnyReading, Condition
from consolecheck.records.units import Quantity


def read(text: str) -> list[AnyReading]:
    return read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").readings


def unread(text: str) -> dict[int, str]:
    found = read_unknown(dedent(text).lstrip("\n").encode(), "unknown.txt").unread
    return {line.number: line.reason for line in found}


def volts(value: float) -> Quantity:
    return Quantity(value=value, unit="V")


def amps(value: float) -> Quantity:
    return Quantity(value=value, unit="A")


def watts(value: float) -> Quantity:
    return Quantity(value=value, unit="W")


def celsius(value: float) -> Quantity:
    return Quantity(value=value, unit="Cel")


def rpm(value: float) -> Quantity:
    return Quantity(value=value, unit="rpm")


def test_a_ruled_table_of_supplies_gives_one_reading_a_row() -> None:
    one, two = read(
        """
        Slot  Model     Serial     Status    Vin (V)  Vout (V)  Rated (W)
        ----  --------  ---------  --------  -------  --------  ---------
        1     GPX-650F  GX2041775  OK        231.4    12.04     650
        2     GPX-650F  GX2041776  No Input  0.0      0.0       650
        skua-02# """.replace("Slot ", "PSU  ", 1)
    )
    assert ("psu-1", Condition.OK, volts(231.4), volts(12.04), watts(650)) == (
        one.unit, one.condition, one.given("input_voltage"), one.given("output_voltage"), one.given("capacity"),
    )  # fmt: skip
    assert ("psu-2", Condition.NO_INPUT, "GX2041776", "GPX-650F") == (
        two.unit, two.condition, two.given("serial"), two.given("part_number"),
    )  # fmt: skip


def test_words_of_a_merged_header_belong_to_each_column_below_it() -> None:
    (one,) = read("""
                        Input                  Output
        PSU  Status  Volts  Amps  Watts   Volts  Amps   Watts
        ---  ------  -----  ----  -----   -----  -----  -----
        A    good    229.8  0.91  204.2   12.10  15.60  188.8
        """)
    assert "psu-a" == one.unit
    assert {
        "input_voltage": volts(229.8), "input_current": amps(0.91), "input_power": watts(204.2),
        "output_voltage": volts(12.10), "output_current": amps(15.6), "output_power": watts(188.8),
    } == one.quantities()  # fmt: skip


def test_the_milder_of_two_limits_is_the_warning() -> None:
    (one,) = read("""
        Sensor   Major (C)  Minor (C)  Now (C)  Status
        -------  ---------  ---------  -------  ------
        INTAKE   70         42         24       Ok
        """)
    assert (celsius(24), celsius(42), celsius(70)) == (
        one.given("value"), one.given("high_warning"), one.given("high_critical"),
    )  # fmt: skip


def test_limits_out_of_order_leave_the_row_unread() -> None:
    text = """
        Sensor   Warning (C)  Critical (C)  Temperature (C)
        -------  -----------  ------------  ---------------
        INTAKE   70           60            24
        """
    assert [] == read(text)
    assert "not in order" in unread(text)[3]


@pytest.mark.parametrize("word", ["hot", "running", "ready", "GREEN", "present"])
def test_a_word_that_is_not_beyond_doubt_is_never_ok(word: str) -> None:
    (one,) = read(f"""
        Fan  Status    Speed (rpm)
        ---  --------  -----------
        1    {word:<8}  8400
        """)
    assert Condition.UNKNOWN is one.condition


def test_watts_without_a_side_are_not_guessed_and_stand_as_a_fact_of_their_own() -> None:
    supply, fact = read("""
        Supply  Status  Power
        ------  ------  -----
        PSU 1   OK      212 W
        """)
    assert ("psu-1", Condition.OK, {}) == (supply.unit, supply.condition, supply.quantities())
    assert ("device", "psu-1 power, side not told", {"value": watts(212)}) == (fact.kind, fact.name, fact.quantities())


def test_one_temperature_in_two_scales_is_one_value() -> None:
    (one,) = read("""
        Sensor   Temperature  State
        -------  -----------  ------
        exhaust  60C/140F     normal
        """)
    assert celsius(60) == one.given("value")


def test_the_temperatures_of_optics_are_no_sensors() -> None:
    assert [] == read("""
        Port     Temperature (C)  Voltage (V)  Tx (dBm)  Rx (dBm)
        -------  ---------------  -----------  --------  --------
        Te1/0/1  33.4             3.29         -2.1      -3.4
        """)


def test_numbered_keys_of_one_thing_are_one_reading() -> None:
    (one,) = read("""
        Power supply 2 name: left bay
        Power supply 2 status: Up
        """)
    assert ("psu-2", Condition.OK) == (one.unit, one.condition)


def test_json_of_supplies_with_numbers_as_text() -> None:
    (one,) = read("""
        [
          {
            "name": "PSU 1",
            "status": "OK",
            "input_voltage": "230.1",
            "serial": "GX77120"
          }
        ]
        """)
    assert ("psu-1", Condition.OK, volts(230.1), "GX77120") == (
        one.unit, one.condition, one.given("input_voltage"), one.given("serial"),
    )  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "def read_fan(self):\n    rpm: int = 3200\n    return self.fan1_speed\n",
        "Nov 18 06:12:40 skua-02 pem[77]: PSU 1: status: failed\nNov 18 06:12:41 skua-02 pem[77]: Fan 2: speed: 0 rpm\n",
        "The power supply in slot 2 was replaced. Fan 3 is loud, its speed is 9000 rpm.\n",
        "fan 1 speed 60\npower redundancy-mode n+1\nenvironment temperature warning 60\n",
    ],
)
def test_programs_logs_prose_and_settings_give_no_reading(text: str) -> None:
    assert [] == read(text)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=600))
def test_no_bytes_whatever_raise(raw: bytes) -> None:
    snapshot = read_unknown(raw, "x")
    assert "inferred" == snapshot.basis


_FIXTURES = sorted(shipped("fixtures").glob("*/*/after.txt"))[::7]


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_damaged_texts_do_not_raise_and_name_only_lines_that_are_there(data: st.DataObject) -> None:
    raw = bytearray(data.draw(st.sampled_from(_FIXTURES)).read_bytes())
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, max(0, len(raw) - 1)))
        raw[at : at + data.draw(st.integers(0, 40))] = data.draw(st.binary(max_size=12))
    snapshot = read_unknown(bytes(raw), "x")
    lines = raw.count(b"\n") + 1
    assert all(1 <= n <= lines for s in snapshot.sightings for n in s.lines)


def test_phrases_behind_one_key_are_read_if_every_one_is_clear() -> None:
    text = "PSU A: present, input 230 V, output 12.1 V, status ok\n"
    (one,) = read(text)
    assert ("psu-a", Condition.OK, volts(230), volts(12.1)) == (
        one.unit, one.condition, one.given("input_voltage"), one.given("output_voltage"),
    )  # fmt: skip
    assert [] == read(text.replace("status ok", "mood 7 fine"))


def test_an_input_that_is_absent_is_no_absent_supply() -> None:
    (one,) = read("""
        Power supply B:
            State:      Not OK
            AC input:   absent
        """)
    assert Condition.NO_INPUT is one.condition


def test_rotors_below_a_tray_are_named_within_it() -> None:
    one, two = read("""
        Fan Tray 2 (front-to-back)
          Fan 1:  8,310 RPM   Good
          Fan 2:  0 RPM       Failed
        """)
    assert ("fan-2", "Fan 1", Condition.OK, rpm(8310)) == (one.unit, one.name, one.condition, one.given("speed"))
    assert ("fan-2", "Fan 2", Condition.FAILED, rpm(0)) == (two.unit, two.name, two.condition, two.given("speed"))


def test_a_name_that_goes_over_two_lines_is_one_name() -> None:
    (one,) = read("""
        Temperature sensor   Reading (C)   Status
        ------------------   -----------   ------
        Bank of ports with
        a long name                   44   normal
        """)
    assert ("Bank of ports with a long name", celsius(44)) == (one.name, one.given("value"))


def test_a_figure_under_no_label_leaves_its_row_unread() -> None:
    text = """
        Sensor   Temperature (C)  Status
        -------  ---------------  ------
        inlet               23.5  normal      70
        """
    assert [] == [r for r in read(text) if r.given("value") is None]
    assert not any(r.quantities().keys() - {"value"} for r in read(text))


def test_a_table_on_its_side_has_a_thing_a_column() -> None:
    one, two = read("""
                         PSU 1        PSU 2
        Status           OK           Failed
        Input voltage    230.0 V      0.0 V
        Output voltage   12.1 V       0.0 V
        """)
    assert ("psu-1", Condition.OK, volts(230)) == (one.unit, one.condition, one.given("input_voltage"))
    assert ("psu-2", Condition.FAILED, volts(0)) == (two.unit, two.condition, two.given("output_voltage"))


def test_tables_below_a_member_belong_to_it() -> None:
    assert ["fan-1/1", "fan-2/1"] == [r.unit for r in read("""
        Unit 1
        Fan  Speed (rpm)  Status
        1    4100         OK
        Unit 2
        Fan  Speed (rpm)  Status
        1    4150         OK
        """)]  # fmt: skip


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_every_line_is_read_or_unread_or_part_of_the_layout(data: st.DataObject) -> None:
    """A line with a word that nobody prints may not vanish, wherever it stands."""
    lines = data.draw(st.sampled_from(_FIXTURES)).read_bytes().split(b"\n")
    at = data.draw(st.integers(0, len(lines)))
    odd = data.draw(
        st.sampled_from(
            [b"Qxv zzyx", b"  Qxv: zzyx", b"Qxv    zzyx", b"Qxv = zzyx 7", b"PSU Qxv is gone", b"Fan 9 Qxv"]
        )
    )
    snapshot = read_unknown(b"\n".join([*lines[:at], odd, *lines[at:]]), "x")
    told = {n for s in snapshot.sightings for n in s.lines} | {u.number for u in snapshot.unread}
    labels = {n for t in snapshot.taken_as for n in t.header_lines}  # of which a person is asked
    assert at + 1 in told | labels


def named(text: str) -> list[tuple[str | None, Condition | None]]:
    return [(r.unit or r.name, r.condition) for r in read(text)]


def test_a_verdict_in_brackets_before_a_fan_is_its_status() -> None:
    assert named("""
        [ OK ]  Fan bay 1 .......  5880 rpm
        [FAIL]  Fan bay 2 .......     0 rpm
        """) == [("fan-1", Condition.OK), ("fan-2", Condition.FAILED)]


def test_a_verdict_before_a_drive_is_no_temperature_s() -> None:
    assert not read("""
        [ OK ]  Drive 1 .......  41 C
        Drive 2  good   43 C
        Link 1   up     25 C
        """)


def test_rows_on_two_lines_under_labels_on_two_lines_are_one_supply_each() -> None:
    one, two = read("""
        Slot  Status       Serial       Capacity
              Input (V)    Input (W)    Output (V)
        ============================


        PS1   Good         TT27741      1100 W
              121.6        318          12.05
        PS2   Failed       TT21090      1100 W
              121.7        4            0.00
        """)
    assert (volts(121.6), watts(318), volts(12.05)) == (
        one.given("input_voltage"), one.given("input_power"), one.given("output_voltage"),
    )  # fmt: skip
    assert (Condition.FAILED, volts(121.7)) == (two.condition, two.given("input_voltage"))


def test_supplies_side_by_side_keep_each_its_own_figures() -> None:
    left, right = read("""
        PSU LEFT                    PSU RIGHT
          Status        : GOOD        Status        : FAILED
          Input voltage : 240.2 V     Input voltage : 0.0 V
        """)
    assert ("psu-left", Condition.OK, volts(240.2)) == (left.unit, left.condition, left.given("input_voltage"))
    assert ("psu-right", Condition.FAILED, volts(0.0)) == (right.unit, right.condition, right.given("input_voltage"))


def test_keys_that_are_paths_are_read_by_what_they_share() -> None:
    assert named("""
        /shelf/fan/1/state = ok
        /shelf/fan/1/speed = 4480 rpm
        /shelf/fan/2/state = failed
        /shelf/fan/2/speed = 0 rpm
        /shelf/port/1/state = failed
        """) == [("fan-1", Condition.OK), ("fan-2", Condition.FAILED)]


def test_two_bounds_in_one_cell_are_a_limit_each_in_the_scale_that_comes_first() -> None:
    (rack,) = read("""
        Sensor      Reading          High warn/crit   Status
        ----------  ---------------  ---------------  ------
        Rack air    24.0 C / 75.2 F  40 / 50          ok
        """)
    assert {"value": celsius(24), "high_warning": celsius(40), "high_critical": celsius(50)} == rack.quantities()


def test_the_status_of_a_line_card_is_not_that_of_its_temperature() -> None:
    card, supply, heat = read("""
        Slot   Kind           Serial     State      Temp
        -----  -------------  ---------  ---------  ----
        LC-1   line card      TY4207751  failed     58 C
        PW-1   power supply   TY3918804  OK         39 C
        """)
    assert (card.kind, card.condition) == ("temperature", None)
    assert (supply.kind, supply.condition, heat.given("value")) == ("power_supply", Condition.OK, celsius(39))


def test_speeds_of_links_are_no_fans() -> None:
    assert not read("""
        Group  Partner   Status   Speed
        -----  --------  -------  -----
        1      eider-20  normal   20000
        2      none      failed       0
        """)


def test_what_a_waiting_console_shows_last_is_its_prompt_wherever_a_line_begins_so() -> None:
    found = read_unknown(
        b"tern-04 (03:14:22) # mon fans\nFan    State   RPM\nFan-1  Good    7740\n"
        b"-- more (space: page) --\nFan-2  Failed  310\ntern-04 (03:14:31) #",
        "unknown.txt",
    )
    assert [("fan-1", Condition.OK), ("fan-2", Condition.FAILED)] == [(r.unit, r.condition) for r in found.readings]
    assert not found.unread


def test_a_supply_that_is_told_absent_in_its_description_is_not_there() -> None:
    assert named("""
        Node            Part         Serial       What it is
        --------------  -----------  -----------  ----------
        Power supply 2  -            -            not present
        """) == [("psu-2", Condition.ABSENT)]


def test_a_status_of_open_models_is_told_in_the_word_that_was_printed() -> None:
    text = min(shipped("fixtures").glob("openconfig_platform/*/after.txt")).read_bytes()
    told = {r.status_text for r in read_unknown(text, "unknown.txt").readings if r.status_text}
    assert told
    assert all(word.encode() in text for word in told)


def test_a_frame_of_drawn_lines_is_one_as_well_as_of_dashes() -> None:
    (one,) = read("""
        ┌────────┬────────┬───────────┐
        │ Supply │ Status │ Input [V] │
        ├────────┼────────┼───────────┤
        │ 1      │ OK     │ 230.8     │
        └────────┴────────┴───────────┘
        """)
    assert ("psu-1", Condition.OK, volts(230.8)) == (one.unit, one.condition, one.given("input_voltage"))


def test_what_a_column_says_of_each_row_is_its_kind() -> None:
    assert named("""
        Member  Element    Number  State         Value
        ------  ---------  ------  ------------  ----------
        1       Supply     1       OK            68.4 W
                Fan        1       Failed        0 rpm
                Sensor     1       OK            36 C
        2       Supply     1       Not present
        """) == [
        ("psu-1/1", Condition.OK), ("psu-1/1 power, side not told", None), ("fan-1/1", Condition.FAILED),
        ("member 1 sensor 1", Condition.OK), ("psu-2/1", Condition.ABSENT),
    ]  # fmt: skip


def test_things_of_one_name_in_one_table_are_unread() -> None:
    text = """
        Fan  Status    Speed (rpm)
        ---  --------  -----------
        1    OK        8400
        1    OK        8300
        2    OK        8200
        """
    assert [("fan-2", Condition.OK)] == named(text)
    assert "more than one thing" in unread(text)[3]


def test_what_tells_sensors_apart_is_part_of_their_names() -> None:
    assert ["LC1 front", "LC1 back"] == [r.name for r in read("""
        Card  Zone    Temp   Critical
        ----  ------  -----  --------
        LC1   front   38C    70C
        LC1   back    45C    70C
        """)]  # fmt: skip


def test_a_column_for_each_rotor_gives_a_reading_for_each() -> None:
    front, rear = read("""
        FanTray  Status    Front RPM  Rear RPM
        1        ok        14200      12350
        """)
    assert ("fan-1", "Front", rpm(14200)) == (front.unit, front.name, front.given("speed"))
    assert ("fan-1", "Rear", rpm(12350)) == (rear.unit, rear.name, rear.given("speed"))


def test_a_warning_and_a_critical_limit_in_one_cell_are_no_range() -> None:
    (one,) = read("""
        Location     Reading  Limits (warning / critical)
        -----------  -------  ---------------------------
        Front bezel  21.5 C   40.0 / 48.0
        """)
    assert {"value": celsius(21.5), "high_warning": celsius(40), "high_critical": celsius(48)} == one.quantities()


def test_a_limit_without_a_name_beyond_the_warning_is_the_severer() -> None:
    (one,) = read("""
        Nr  Ort         Ist °C   Warn °C   Max °C
        1   air intake  22.4     38.0      45.0
        """)
    assert (celsius(38), celsius(45)) == (one.given("high_warning"), one.given("high_critical"))


def test_keys_with_dots_are_read_by_what_they_share() -> None:
    assert named("""
        psu.1.state=ok
        psu.1.input_voltage=229.6 V
        fan.3.state=absent
        temp.inlet.state=warning
        temp.inlet.value=25.0 C
        """) == [("psu-1", Condition.OK), ("fan-3", Condition.ABSENT), ("inlet", Condition.WARNING)]


def test_pairs_behind_a_name_are_of_that_name() -> None:
    one, two, inlet, heat = read("""
        PSU A    State: Normal         Model: DVK-460        Serial: DV-118-0032
                 Vin: 229.5 V          Iin: 0.55 A           Pin: 124 W

        PSU B    State: Faulty         Model: DVK-460        Serial: DV-118-0047

        Sensor inlet     State: Normal   Reading: 27 C   Critical: 56 C
        Sensor mainboard State: Normal   Reading: 43 C   Critical: 76 C
        """)
    assert ("psu-a", Condition.OK, volts(229.5), "DV-118-0032") == (
        one.unit, one.condition, one.given("input_voltage"), one.given("serial"),
    )  # fmt: skip
    assert ("psu-b", Condition.FAILED) == (two.unit, two.condition)
    assert ("inlet", "mainboard", celsius(43)) == (inlet.name, heat.name, heat.given("value"))


def test_a_tag_before_words_with_equals_says_what_the_line_is_about() -> None:
    assert named("""
        PSU    slot=1 state=OK vin=119.8V
        FAN    slot=1 state=Failed rpm=0 pct=61
        TEMP   name=intake state=OK value=28C
        PORT   name=1/1 state=up speed=25G
        """) == [("psu-1", Condition.OK), ("fan-1", Condition.FAILED), ("intake", Condition.OK)]


def test_a_value_that_holds_another_label_is_unread() -> None:
    assert [] == read("""
        Fan  Serial
        ---  -------------------
        1    state=Failed rpm=0
        """)


@pytest.mark.parametrize(
    ("german", "english"),
    [("Netzteil", "PSU"), ("Eingangsspannung", "Input voltage"), ("Zustand", "Status"), ("in Ordnung", "ok")],
)
def test_the_trade_s_words_in_german_mean_the_same(german: str, english: str) -> None:
    text = """
        PSU 1
          Status:            ok
          Input voltage:     230 V
        """
    assert read(text.replace(english, german)) == [
        r.model_copy(update={"status_text": "in Ordnung" if english == "ok" else "ok"}) for r in read(text)
    ]


def test_what_was_typed_says_what_a_table_is_about_that_does_not() -> None:
    table = "Id  Presence     Status\n1   Present      OK\n"
    assert [("psu-1", Condition.OK)] == named(f"tern-04> show power\n{table}tern-04>\n")
    assert [] == read(f"tern-04> show licences\n{table}tern-04>\n")


def test_xml_is_read_as_json_is_and_a_unit_in_an_attribute_belongs_to_its_value() -> None:
    supply, fan, heat = read("""
        <environment>
          <psu id="1"><status>OK</status><input-voltage units="V">228.0</input-voltage></psu>
          <fan id="2" status="failed" rpm="0"/>
          <temperature-sensor>
            <name>Inlet</name>
            <temperature units="celsius">25</temperature>
          </temperature-sensor>
        </environment>
        """)
    assert ("psu-1", Condition.OK, volts(228)) == (supply.unit, supply.condition, supply.given("input_voltage"))
    assert ("fan-2", Condition.FAILED, rpm(0)) == (fan.unit, fan.condition, fan.given("speed"))
    assert ("Inlet", celsius(25)) == (heat.name, heat.given("value"))


def test_markup_that_is_not_whole_is_unread() -> None:
    assert not read("<fan id='2'>\n<status>failed</status>\n<psu>\n</fan>\n")


def test_a_section_of_a_longer_text_ends_what_stood_before() -> None:
    assert named("""
        == disks
        sda  HDD  MT91882A  1.8T  PASSED
        == chassis
        NAME    READING  UNIT  STATE  LOWCRIT  HIGHCRIT
        FAN_1   5460     RPM   OK     500      -
        == services
        fancontrol  failed
        """) == [("fan-1", Condition.OK)]


def test_the_fan_of_a_supply_in_a_column_is_a_fan_of_its_own() -> None:
    supply, fan = read("""
        Slot   Status     Output(V)  Fan      Model
        -----  ---------  ---------  -------  ------------
        PS1    Good       12.03      Bad      LPW-PS1200AC
        """)
    assert ("psu-1", Condition.OK) == (supply.unit, supply.condition)
    assert ("fan", "psu-1", Condition.FAILED) == (fan.kind, fan.unit, fan.condition)


def test_a_limit_without_the_value_that_it_is_of_is_unread() -> None:
    assert [] == read("""
        Fan  Status  Hi RPM
        ---  ------  ------
        1    ok      5310
        """)


def test_the_same_temperature_in_two_columns_is_one_value() -> None:
    (one,) = read("""
        Sensor   State    Centigrade   Fahrenheit
          ID
        ===========================


        1        Ok       38           100
        """)
    assert ("sensor 1", celsius(38)) == (one.name, one.given("value"))


def test_fans_below_a_tray_below_a_slot_are_named_within_them() -> None:
    assert [("fan-1/1", None), ("fan-1/1", "Fan 1"), ("fan-1/2", "Fan 1"), ("fan-2/1", None)] == [(r.unit, r.name) for r in read("""
        Slot 1:
          Fan-tray 1:
            Status  : Normal
            Fan 1:
              Status        : Normal
              Speed         : 5100 rpm
          Fan-tray 2:
            Fan 1:
              Status        : Normal
        Slot 2:
          Fan-tray 1:
            Status  : Normal
        """)]  # fmt: skip


def test_bounds_in_brackets_behind_a_value_are_its_limits() -> None:
    (one,) = read("""
        Board temp   : 41 C    (range -40 .. 85)
        """)
    assert {"value": celsius(41), "low_warning": celsius(-40), "high_warning": celsius(85)} == one.quantities()


def test_a_row_after_a_message_of_the_log_belongs_to_the_table() -> None:
    assert [("psu-1", Condition.OK), ("psu-2", Condition.FAILED)] == named("""
        Slot   Status     Output(V)
        -----  ---------  ---------
        PS1    Good       12.03
        Nov  4 11:32:08: %PLATFORM-4-PS_INPUT: PS2 input voltage out of range
        PS2    Bad        0.00
        """)


@pytest.mark.parametrize(
    "text",
    [
        "PSU 1\n  Status     = Normal\n  Vin/Iin/Pin   = 230.5 V / 0.91 A / 204 W\n",
        "PSU  State   Input V/A/W\n1    Normal  230.5/0.91/204\n",
        "PSU 1: Normal, 230.5 V in, 0.91 A in, 204 W in\n",
        "PSU  State   Details\n---  ------  ----------------------------\n1    Normal  Vin 230.5V, Iin 0.91A, Pin 204W\n",
        "Power supplies:\n  PS-1 ..... Normal     (AC 230.5 V, 0.91 A, 204 W)\n",
        "Slot 1: Power Supply (AC), Normal, Vin=230.5 V, Iin=0.91 A, Pin=204 W\n",
        "ID=1 TYPE=PSU STATE=Normal VIN=230.5V IIN=0.91A PIN=204W\n",
        "Unit: PSU 1 | State: Normal | Vin: 230.5 V | Iin: 0.91 A | Pin: 204 W\n",
        "PSU 1 : status    Normal\n        vin       230.5 V\n        iin       0.91 A\n        pin       204 W\n",
        "[PSU1]\nStatus=Normal\nVin=230.5V\nIin=0.91A\nPin=204W\n\n[PSU2]\nStatus=Absent\n",
    ],
)  # fmt: skip
def test_three_figures_of_an_input_are_the_same_however_they_are_set(text: str) -> None:
    one = read(text)[0]
    assert ("psu-1", Condition.OK) == (one.unit, one.condition)
    assert {"input_voltage": volts(230.5), "input_current": amps(0.91), "input_power": watts(204)} == one.quantities()


def test_three_figures_under_a_label_for_one_are_unread() -> None:
    assert [] == read("PSU  State   Input power (W)\n1    Normal  230.5/0.91/204\n")


@pytest.mark.parametrize(
    "line",
    ["Fan 1 is running at 4200 rpm", "1) Fan tray 1   4200 rpm", "Fans\n  [1] 4200 rpm", "fan1_rpm = 4200"],
)
def test_a_fan_and_its_speed_are_the_same_however_they_are_set(line: str) -> None:
    (one,) = [r for r in read(f"{line}\n{line.replace('1', '2', 1)}\n".replace("Fans\n", "", 0)) if r.unit == "fan-1"]
    assert ("fan-1", rpm(4200)) == (one.unit, one.given("speed"))


def test_two_limits_that_are_no_range_leave_the_sensor_unread() -> None:
    assert [] == read("Temperature sensors:\n  Front panel     : 24.0 C  [ok]      limits: 45.0 / 55.0\n")


def test_headings_over_rows_say_what_the_rows_are() -> None:
    assert named("""
                         Status    Value     Alarm
         Temperature
           Inlet         ok        24 C
         Fans
           Fan 1         failed    0 rpm
        """) == [("Inlet", Condition.OK), ("fan-1", Condition.FAILED)]


def test_the_fan_of_a_supply_in_json_is_not_lost() -> None:
    supply, fan = read('{"psus": {"PSU-1": {"oper": "ok", "vin": 230.4, "fan_rpm": 5400}}}\n')
    assert ("psu-1", {"input_voltage": volts(230.4)}) == (supply.unit, supply.quantities())
    assert ("psu-1", {"speed": rpm(5400)}) == (fan.unit, fan.quantities())


def test_a_description_names_a_sensor_that_else_is_only_a_number() -> None:
    one, two, three = read("""
        Unit  Sensor  Description   Temp (C)  State
        ----  ------  ------------  --------  ------
        1     1       Air intake    24        Normal
        1     2       Switch core   51        Normal
        2     1       Air intake    25        Normal
        """)
    assert ("unit 1 Air intake", "unit 1 Switch core", "unit 2 Air intake") == (one.name, two.name, three.name)


def test_a_sum_below_a_table_is_no_supply() -> None:
    text = """
        Supply  Capacity  Output Power  Status
        ------  --------  ------------  ------
        1       550W      105.0W        Ok
        Total   550W      105.0W        --
        """
    (one,) = read(text)
    assert "psu-1" == one.unit
    assert "a sum" in unread(text)[4]


@pytest.mark.parametrize(
    "text",
    [
        """
        Sensor  Current (C)  Max   Min   Threshold  Status
        ------  -----------  ----  ----  ---------  ------
        Intake  41.5         44.0  22.5  80.0       Normal
        """,
        """
        Temperature     Current     Max     Min     Threshold    Status
        -----------     -------   ------  ------   -----------  --------
        CPU                41.5     44.0    22.5          80.0    Normal
        """,
    ],
)
def test_the_highest_and_lowest_that_were_seen_are_no_limits(text: str) -> None:
    (one,) = read(text)
    assert {"value": celsius(41.5), "high_warning": celsius(80)} == one.quantities()


@pytest.mark.parametrize(
    "text",
    [
        """
        Fan 2:
          State                     : Normal
          Airflow Direction         : Back-to-front
          Prefer Airflow Direction  : Front-to-back
          Speed                     : 8350 rpm
        """,
        """
        Fan 2:
        State    : Normal
        Airflow Direction: Back-to-front
        Prefer Airflow Direction: Front-to-back
        """,
    ],
)
def test_which_way_the_air_should_go_is_not_which_way_it_goes(text: str) -> None:
    (one,) = read(text)
    assert "back-to-front" == one.given("airflow")


def test_a_supply_with_two_directions_of_air_stays_unread() -> None:
    assert [] == read("""
        Fan 2:
          State        : Normal
          Airflow      : Back-to-front
          Air          : Front-to-back
          Speed        : 8350 rpm
        """)


def test_the_fan_of_each_supply_stands_in_columns_of_its_own() -> None:
    one, fan = read("""
        -- Power Supplies --
        Unit Bay   Status    Type  FanStatus   FanSpeed(rpm)
        -----------------------------------------------------
          0   1    ok        AC    failed      0
        """)
    assert ("psu-0/1", Condition.OK) == (one.unit, one.condition)
    assert ("fan", "psu-0/1", Condition.FAILED, rpm(0)) == (fan.kind, fan.unit, fan.condition, fan.given("speed"))


def test_the_verdicts_below_a_heading_of_a_supply_are_its_own() -> None:
    (one,) = read("""
        Power Supply #2 Information:
                Status: OK
                Capacity: 2450 Watts
                Diagnostic Status:
                    Internal Data      OK
                    Device Failure     Error
        """)
    assert ("psu-2", Condition.FAILED) == (one.unit, one.condition)


@pytest.mark.parametrize("word", ["OK-low/med", "ok, low speed", "Normal (high)"])
def test_how_fast_a_fan_turns_beside_its_status_leaves_the_status(word: str) -> None:
    (one,) = read(f"""
        Fan1A : {word}
        Fan2B : Fail
        """)[:1]
    assert Condition.OK is one.condition


@pytest.mark.parametrize(
    "prompt",
    [
        "wader-1 [standalone: master] #",
        "root@(wader-1)(Active)#",
        "(Wader-1) *#",
        "/adm->",
        "->",
        "!(WADER)#",
        "* wader.4 #",
    ],
)
def test_what_is_typed_behind_a_prompt_of_any_form_ends_the_table_above(prompt: str) -> None:
    assert named(f"""
        {prompt} show power
        PSU  Status
        ---  ------
        1    OK
        {prompt} show fan
        Fan  Status
        ---  ------
        1    Failed
        {prompt}
        """) == [("psu-1", Condition.OK), ("fan-1", Condition.FAILED)]


def test_arrows_and_brackets_of_a_device_are_no_program() -> None:
    (one,) = read("""
        Temperature information (degree centigrade):
        Fan speed thresholds: 74<----->105
        Inlet temperature: 24 C
        """)
    assert celsius(24) == one.given("value")


def test_labels_parted_by_bars_above_rows_without_them() -> None:
    one, two = read("""
        slot         |sensor-id|act-temp|warn-high|crit-high
        -------------+---------+--------+---------+---------
        lc-a         1         39       70        85
        lc-a         2         42       75        90
        """)
    assert ("lc-a sensor 1", celsius(39), celsius(70), celsius(85)) == (
        one.name, one.given("value"), one.given("high_warning"), one.given("high_critical"),
    )  # fmt: skip
    assert ("lc-a sensor 2", celsius(42)) == (two.name, two.given("value"))


def test_where_an_alarm_of_heat_is_over_is_no_lower_limit() -> None:
    (one,) = read("""
        Sensor  Temp (C)  warn-low  warn-high  shut-low  shut-high
        ------  --------  --------  ---------  --------  ---------
        Intake  39        65        70         80        85
        """)
    assert {"value": celsius(39), "high_warning": celsius(70), "high_critical": celsius(85)} == one.quantities()


def test_a_row_that_only_names_a_place_names_the_rows_below_it() -> None:
    one, two = read("""
        Location  TEMPERATURE   Value   Crit Minor  Minor   Crit
                  Sensor      (deg C)   (Lo)  (Lo)   (Hi)   (Hi)
        --------------------------------------------------------
        0/RC0
                  Inlet            27    -10    -5     55     65
        0/0
                  Inlet            29    -10    -5     55     65
        """)
    assert ("0/RC0 Inlet", "0/0 Inlet") == (one.name, two.name)
    assert (celsius(-10), celsius(-5), celsius(55), celsius(65)) == (
        one.given("low_critical"), one.given("low_warning"), one.given("high_warning"), one.given("high_critical"),
    )  # fmt: skip


def test_speeds_of_numbered_fans_stand_side_by_side() -> None:
    assert [("fan-0", "FAN_0", rpm(5010)), ("fan-0", "FAN_1", rpm(5040)), ("fan-1", "FAN_0", rpm(4980)), ("fan-1", "FAN_1", rpm(0))] == [
        (r.unit, r.name, r.given("speed")) for r in read("""
                                Fan speed (rpm)
        Location     FRU Type      FAN_0   FAN_1
        ----------------------------------------
        0/FT0        FT-TIDE-903    5010    5040
        0/FT1        FT-TIDE-903    4980       0
        """)
    ]  # fmt: skip


def test_rotors_in_a_column_of_their_own_are_told_apart() -> None:
    assert [("fan-1", "F1"), ("fan-1", "F2"), ("fan-3", None), ("psu-1", "PS1 F1")] == [(r.unit, r.name) for r in read("""
        Module   Device   Fan  Speed     Status
                               (RPM)
        ---------------------------------------
        FAN1     FAN      F1   8011.00   OK
        FAN1     FAN      F2   7089.00   OK
        FAN3     -        -    -         NOT PRESENT
        PS1      FAN      F1   11520.00  OK
        """)]  # fmt: skip


def test_figures_of_a_side_at_a_place_of_a_supply_are_of_that_supply() -> None:
    vin, rail, heat = read("""
        Sensor        Location  State     Reading
        Vin           P0        Normal    231 V AC
        V1: VMA       R0        Normal    1104 mV
        Temp: Inlet   P0        Normal    27 Celsius
        """)
    assert ("psu-0", volts(231)) == (vin.unit, vin.given("input_voltage"))
    assert "device" == rail.kind
    assert celsius(27) == heat.given("value")


def test_the_unit_of_a_sensor_stands_in_brackets_behind_its_name() -> None:
    fan, heat = read("""
        ID  Sensor (Units)                   Reading   Low Limit  High Limit  Status
        1   Fan: Fan 1 (Rpm)                 4344      3000       -           Ok
        2   Temperature: CPU (Degrees C)     45        -10        90          Ok
        """)
    assert ("fan-1", rpm(4344), rpm(3000)) == (fan.unit, fan.given("speed"), fan.given("low_warning"))
    assert (celsius(45), celsius(90)) == (heat.given("value"), heat.given("high_warning"))


def test_limits_say_whether_they_may_be_set() -> None:
    (one,) = read("""
        <Sensor Name>  <Status>   <Reading>   <lw>     <uw>        <lc>        <uc>
        Board Inlet    Ok         24C         3C [Y]   38C [Y]     -7C [N]     42C [N]
        """)
    assert (celsius(-7), celsius(3), celsius(38), celsius(42)) == (
        one.given("low_critical"), one.given("low_warning"), one.given("high_warning"), one.given("high_critical"),
    )  # fmt: skip


def test_keys_that_begin_with_their_heading_are_of_it() -> None:
    supply, fan, heat = read("""
        power-supply 2:
          power-supply 2 type: EBB-3000W-AC
          power-supply 2 power-input: AC high
          power-supply 2 power-output-fail: failed
          power-supply 2 fan-fail: OK
        module 5:
          module 5 power-output-fail: OK
          module 5 inlet temperature: 26C
        """)
    assert ("psu-2", Condition.FAILED, "AC") == (supply.unit, supply.condition, supply.given("input_type"))
    assert ("fan", "psu-2", Condition.OK) == (fan.kind, fan.unit, fan.condition)
    assert ("module 5 inlet temperature", celsius(26)) == (heat.name, heat.given("value"))


def test_two_rotors_of_one_fan_and_their_least_speed() -> None:
    assert [("fan-1", rpm(10300)), ("fan-1", rpm(0))] == [(r.unit, r.given("speed")) for r in read("""
        Fan1 front:  10300 RPM  (min = 2500 RPM)
        Fan1 rear:       0 RPM  (min = 2500 RPM)  ALARM
        """)]  # fmt: skip


def test_what_goes_on_below_a_value_is_not_lost() -> None:
    (one,) = read("""
        Power Supply 0                  : Present
                                        : 12V OK
                                        : Type SPA-350W AC, S/N KWS16032X0J
                                        : Failed
        """)
    assert (Condition.FAILED, "KWS16032X0J", {}) == (one.condition, one.given("serial"), one.quantities())


def test_a_fan_with_its_own_power_and_its_control_in_brackets() -> None:
    (one,) = read("Fan 2     : 0 rpm (0.000 W), FAILED, [Fan ctrl : 25 %]\n")
    assert ("fan-2", Condition.FAILED, rpm(0)) == (one.unit, one.condition, one.given("speed"))


def test_a_status_at_a_speed() -> None:
    tray, rotor = read("""
        FanTray 1 information:
         State:          Operational
         NumFan:         1
         Fan-1:          Failed at 0 RPM
        """)
    assert ("fan-1", Condition.OK) == (tray.unit, tray.condition)
    assert ("fan-1", "Fan-1", Condition.FAILED, rpm(0)) == (
        rotor.unit,
        rotor.name,
        rotor.condition,
        rotor.given("speed"),
    )


@pytest.mark.parametrize("word", ["measured at", "reads", "is at"])
def test_a_sensor_and_what_it_reads_in_words(word: str) -> None:
    one, two = read(f"""
        Temperature readings:
            chassis outlet 1 {word} 31C/87F
            chassis outlet 2 {word} 36C/96F
        """)
    assert ("chassis outlet 1", celsius(31)) == (one.name, one.given("value"))
    assert ("chassis outlet 2", celsius(36)) == (two.name, two.given("value"))


def test_two_sentences_about_a_supply() -> None:
    (one,) = read("Power supply 1 is AC power supply. Unit is failed.\nThe rest is in the manual of 2019.\n")
    assert ("psu-1", "AC", Condition.FAILED) == (one.unit, one.given("input_type"), one.condition)


@pytest.mark.parametrize("name", ["Main Power Status", "Main Power", "Main Power Unit(Rear View)"])
def test_a_supply_that_is_named_by_its_place(name: str) -> None:
    (one,) = read(f"{name}  : Fail\n")
    assert ("power_supply", "psu-main", Condition.FAILED) == (one.kind, one.unit, one.condition)


def test_a_description_begins_what_is_told_of_a_rotor() -> None:
    one, two = read("""
        Fan Info :

                Description        : Tray 1, Fan 1
                OperStatus         : ok
                OperSpeed          : 6100 rpm

                Description        : Tray 2, Fan 1
                OperStatus         : failed
                OperSpeed          : 0 rpm
        """)
    assert ("fan-1", "Tray 1, Fan 1", rpm(6100)) == (one.unit, one.name, one.given("speed"))
    assert ("fan-2", Condition.FAILED) == (two.unit, two.condition)


def test_a_fan_that_turns_at_some_speed_has_none_told() -> None:
    (one,) = [r for r in read("""
        Class Item                Status     Measurement
        Temp  Intake              OK         25 degrees C / 77 degrees F
        Fans  Fan Tray 0 Fan 1    OK         Spinning at normal speed
        """) if r.kind == "fan"]  # fmt: skip
    assert (Condition.OK, {}) == (one.condition, one.quantities())


def test_what_a_fan_can_do_is_no_limit_of_it() -> None:
    (one,) = read("""
        Fan #3 information:
                Status: OK
                Speed: 6004 RPM
                Maximum speed: 18000 RPM
                Minimum speed: 10 RPM
                Power consumed: 13 W
        """)
    assert ("fan-3", {"speed": rpm(6004)}) == (one.unit, one.quantities())


def test_fans_of_a_bay_stand_side_by_side_each_with_its_speed() -> None:
    assert [("fan-0/1", "Fan0", Condition.OK, rpm(9120)), ("fan-0/1", "Fan1", Condition.FAILED, rpm(0))] == [
        (r.unit, r.name, r.condition, r.given("speed")) for r in read("""
        Unit Bay   TrayStatus   Fan0    Speed   Fan1    Speed
        -----------------------------------------------------
          0   1      ok         ok      9120    failed  0
          0   2      failed     ok      9120    ok      9000
        """)
    ]  # fmt: skip


def test_sensors_side_by_side_below_a_title_with_their_unit() -> None:
    one, two = read("""
        -- Thermal Sensor Readings (deg C) --
        Unit  Sensor0   Sensor1
        -----------------------
          0   26        32
        """)
    assert ("unit 0 Sensor0", celsius(26)) == (one.name, one.given("value"))
    assert ("unit 0 Sensor1", celsius(32)) == (two.name, two.given("value"))


def test_a_bare_value_of_a_fan_is_its_speed_only_where_it_can_be_nothing_else() -> None:
    text = " 7 FAN1    alarm=0  value=5400  state=ok\n 8 FAN2    alarm=0  value=45  state=ok\n"
    (one,) = read(text)
    assert ("fan-1", rpm(5400)) == (one.unit, one.given("speed"))
    assert "could be a speed" in unread(text)[2]


def test_a_supply_with_its_kind_in_brackets_and_a_fan_with_its_status_in_the_key() -> None:
    supply, fan, failed = read("""
        Power supply 1 (NA - AC - PoE) present, status ok
        Power supply 1 Fan Air Flow Direction:  Front to Back
        Fan 1 ok, speed (auto): [[1]]<->2
        Fan 3 failed
        """)
    assert ("psu-1", Condition.OK, "front-to-back") == (supply.unit, supply.condition, supply.given("airflow"))
    assert ("fan-1", Condition.OK, {}) == (fan.unit, fan.condition, fan.quantities())
    assert ("fan-3", Condition.FAILED) == (failed.unit, failed.condition)


def test_each_of_several_temperatures_of_a_line_has_its_name_behind_it() -> None:
    one, two = read("Slot 1 Current Temperature: 61.0 deg-C (Sensor 1), 44.5 deg-C (Sensor 2)\n")
    assert [("Slot 1 Sensor 1", celsius(61)), ("Slot 1 Sensor 2", celsius(44.5))] == [
        (r.name, r.given("value")) for r in (one, two)
    ]


def test_what_stands_on_one_line_behind_a_thing_is_told_of_it() -> None:
    supply, fan = read("""
        Environment Summary
          PSU Slot 2 : Online    AC In : Failed    Serial : PL1902011
          Fan Module 1 : Normal  Speed : 45%   Direction : F->B
        """)
    assert ("psu-2", Condition.NO_INPUT, "PL1902011") == (supply.unit, supply.condition, supply.given("serial"))
    assert ("fan-1", "front-to-back") == (fan.unit, fan.given("airflow"))


def test_a_figure_behind_a_thing_that_is_not_understood_leaves_it_unread() -> None:
    assert [] == read("Fan Tray(s):\n   Tray 1: Good, RPM: 5100/5080\n   Tray 2: Good, RPM: 5120/0\n")


def test_labels_too_close_for_their_place_go_by_their_order() -> None:
    (one,) = [r for r in read("""
        Temperature sensors:
        -----------------------------------------------------------------
        Location   Sensor     Temperature Lo LoWarn HiWarn Hi Status
        -----------------------------------------------------------------
        MB         T_AMB           23C   -10C    -5C    50C    60C okay
        MB/CMP0    T_CORE          52C   -10C    -5C    85C    92C failed
        """) if r.name == "T_AMB"]  # fmt: skip
    assert (celsius(-10), celsius(-5), celsius(50), celsius(60), Condition.OK) == (
        one.given("low_critical"), one.given("low_warning"), one.given("high_warning"), one.given("high_critical"), one.condition,
    )  # fmt: skip


def test_a_part_of_each_kind_and_its_temperature_with_the_limits_of_that() -> None:
    supply, heat = read("""
        Slot Name            Type        State      Temp  Min Max
        ---------------------------------------------------------
        3    Right supply    PSU         Failed     29    0   80
        """)
    assert ("psu-3", Condition.FAILED, {}) == (supply.unit, supply.condition, supply.quantities())
    assert ("psu-3", celsius(29), celsius(80)) == (heat.unit, heat.given("value"), heat.given("high_warning"))


def test_a_thing_below_which_something_is_not_understood_is_unread() -> None:
    text = """
        PEM 0 status:
          State                      OK
          AC Input:                  OK
          DC Output           Voltage(V) Current(A)  Power(W)
                                54         20.10
        """
    assert [] == [r for r in read(text) if r.unit == "psu-0"]
    assert "below" in unread(text)[1]


def test_a_value_that_goes_on_below_keeps_what_stands_there() -> None:
    (one,) = read("""
        Power Supply 0                  : OK
                                        : AC Input is odd
        """)
    assert Condition.UNKNOWN is one.condition


def test_a_row_of_a_sum_is_no_supply() -> None:
    assert ["psu-1"] == [r.unit for r in read("""
        Power
        Supply  Model        Capacity  Status
        ------  -----------  --------  ------
        1       STR-550AC-F  550W      Ok
        Total   --           550W      --
        """)]  # fmt: skip


def test_how_many_fans_there_are_is_no_fan() -> None:
    assert [("fan-2", None), ("fan-2", "Fan-1")] == [(r.unit, r.name) for r in read("""
        FanTray 2 information:
         State:                 Operational
         NumFan:                7
         Fan-1:                 Operational at 6990 RPM
        """)]  # fmt: skip


def test_supplies_with_a_fan_s_state_and_speed_are_supplies() -> None:
    supply, fan = read("""
        Power Supplies
        Unit Bay   Status    Type  FanStatus   FanSpeed(rpm)
        -----------------------------------------------------
          0   1    failed    AC    ok           14336
        """)
    assert ("psu-0/1", Condition.FAILED) == (supply.unit, supply.condition)
    assert ("psu-0/1", Condition.OK, rpm(14336)) == (fan.unit, fan.condition, fan.given("speed"))


def test_labels_parted_by_bars_stand_over_rows_that_are_not() -> None:
    assert named("""
        Chassis/Tray | Fan | Status | Speed
        -------------+-----+--------+------
          1/1           1    ok       6720
          1/1           2    failed   0
        """) == [("fan-1/1", Condition.OK), ("fan-1/1", Condition.FAILED)]


def test_a_limit_below_labels_that_stand_alike_is_told_by_the_word_above_it() -> None:
    (one,) = read("""
        Sensor              Value   Crit Minor  Minor   Crit
                          (deg C)    (Lo)  (Lo)   (Hi)   (Hi)
        ------------------------------------------------------
        Hotspot                41     -10    -5     85     97
        """)
    assert {
        "value": celsius(41), "low_critical": celsius(-10), "low_warning": celsius(-5), "high_warning": celsius(85),
        "high_critical": celsius(97),
    } == one.quantities()  # fmt: skip


def test_a_unit_in_the_brackets_of_a_sensor_s_name_is_that_of_its_value() -> None:
    fan, heat = read("""
        ID  Sensor (Units)                       Reading   Low Limit  High Limit  Status
        1   Fan: Fan 1 (Rpm)                     4344      3000       -           Ok
        2   Temperature: Inlet (Degrees C)       25        -10        62          Ok
        """)
    assert ("fan-1", {"speed": rpm(4344), "low_warning": rpm(3000)}) == (fan.unit, fan.quantities())
    assert {"value": celsius(25), "low_warning": celsius(-10), "high_warning": celsius(62)} == heat.quantities()


def test_each_column_of_sensors_below_degrees_is_a_temperature() -> None:
    assert [("unit 0 Sensor0", celsius(26)), ("unit 0 Sensor1", celsius(32))] == [(r.name, r.given("value")) for r in read("""
        Thermal Sensor Readings (deg C)
        Unit  Sensor0   Sensor1
        -----------------------
          0   26        32
        """)]  # fmt: skip


def test_rotors_with_their_speeds_beside_them_are_of_the_tray_of_their_row() -> None:
    assert [("fan-0/1", "Fan0", rpm(9120)), ("fan-0/1", "Fan1", rpm(9600))] == [
        (r.unit, r.name, r.given("speed")) for r in read("""
        Unit Bay   Fan0    Speed   Fan1    Speed
        ----------------------------------------
          0   1    ok      9120    ok      9600
        """)]  # fmt: skip


@pytest.mark.parametrize(
    ("out", "condition"),
    [("", Condition.UNKNOWN), ("  DC Out : Normal\n", Condition.OK), ("  DC Out : Failed\n", Condition.FAILED)],
)
def test_that_its_input_is_well_does_not_make_a_supply_well(out: str, condition: Condition) -> None:
    text = f"shoal# show power\nPSU 1\n  Status : Online\n  AC In  : Normal\n{out}PSU 2\n  Status : OK\nshoal#\n"
    first, second = read_unknown(text.encode(), "shoal").readings
    assert (condition, Condition.OK) == (first.condition, second.condition)


def test_a_clock_above_a_table_is_no_label_and_sides_in_brackets_are_told_one_by_one() -> None:
    inlet, outlet = read(
        """
        Mon Mar  4 06:12:44.201 UTC
        ================================================


        Place     Sensor                 Value   Crit Minor Minor  Crit
                                         (C)     (Lo)  (Lo)  (Hi)  (Hi)
        --------------------------------------------------------------
                  Inlet                     26    -10     0    55    68
                  Outlet                    34    -10     0    70    80
        skua-02# """
    )
    assert ("Inlet", celsius(-10), celsius(55), celsius(68)) == (
        inlet.name, inlet.given("low_critical"), inlet.given("high_warning"), inlet.given("high_critical"),
    )  # fmt: skip
    assert outlet.given("high_critical") == celsius(80)


def test_below_a_title_of_power_a_rail_of_a_board_is_no_supply() -> None:
    (rail,) = read(
        """
        ----Power----
        Slot    Description           Alarm     Volts       Min      Max
        S1      12.0V Power Rail      False     12.05       10.80    13.20
        skua-02> """
    )
    assert (rail.kind, rail.name) == ("device", "12.0V Power Rail")


def test_a_class_column_with_a_word_for_several_rows_tells_what_an_absent_one_was() -> None:
    readings = read(
        """
        Class Item          Status     Measurement
        Temp  PEM 0         OK         32 degrees C
              PEM 1         Absent
        Fans  Tray Fan 1    OK         Spinning at normal speed
        skua-02> """
    )
    assert [(r.kind, r.condition) for r in readings] == [
        ("temperature", Condition.OK),
        ("temperature", Condition.ABSENT),
        ("fan", Condition.OK),
    ]


def test_the_name_of_the_whole_device_begins_no_sensor() -> None:
    heat, fan, one = read(
        """
        System Name.................... skua-02
        Chassis Temperature............ 41 C
        Temperature Limits............. -5..65 C
        Fan Tray Status................ Failed
        Power Supply 1................. OK
        skua-02# """
    )
    assert (heat.given("value"), heat.given("low_warning"), heat.given("high_warning")) == (
        celsius(41), celsius(-5), celsius(65),
    )  # fmt: skip
    assert (fan.condition, one.unit, one.condition) == (Condition.FAILED, "psu-1", Condition.OK)


def test_the_status_of_the_cooling_is_not_that_of_the_temperature_above_it() -> None:
    heat, fan = read(
        """
        Ambient temperature: 23C
        Cooling status: ok
        Fan Tray  Status  Speed
        --------  ------- -----
        1         Ok      41%
        """
    )
    assert (heat.kind, heat.condition, fan.unit, fan.condition) == ("temperature", None, "fan-1", Condition.OK)


def test_words_that_run_over_the_end_of_their_column_stay_in_it() -> None:
    _, two = read(
        """
        Fan Tray Status  Speed
        -------- ------- -----
        1        Ok      41%
        2        Not Inserted
        """
    )
    assert (two.unit, two.condition) == ("fan-2", Condition.ABSENT)


def test_labels_without_rows_are_not_those_of_the_next_table() -> None:
    one, two = read(
        """
        Tray  Value        Upper-Threshold  Lower-Threshold  Status

        PSU  State      Type   InVoltage(V)  OutVoltage(V)
        1    Normal     AC     226.40        12.05
        2    Fault      AC     0.00          0.00
        skua-02> """
    )
    assert (one.unit, one.given("input_voltage"), two.condition) == ("psu-1", volts(226.4), Condition.FAILED)


def test_things_numbered_anew_in_each_slot_bear_the_slot() -> None:
    readings = read(
        """
        Slot  PowerID  State    Vin(V)  Vout(V)
        0     PWR1     Normal   230     12.0
        0     PWR2     Normal   229     12.1
        1     PWR1     Fault    0       0
        skua-02> """
    )
    assert [r.unit for r in readings] == ["psu-0/1", "psu-0/2", "psu-1/1"]


def test_sensors_that_say_what_they_are_in_brackets() -> None:
    heat, fan, supply = read(
        """
        sensor  1: (Temperature) is Ok, value is 37 C
        sensor  2: (Fan        ) is Faulty,speed is 0 RPM
        sensor  3: (Power Supply ) is Absent
        sensor  4: (Voltage) is Ok, value is 12.1 V
        skua-02> """
    )
    assert (heat.kind, heat.given("value")) == ("temperature", celsius(37))
    assert (fan.kind, fan.condition, fan.given("speed")) == ("fan", Condition.FAILED, rpm(0))
    assert (supply.kind, supply.condition, supply.unit) == ("power_supply", Condition.ABSENT, None)


def test_several_numbered_things_with_a_status_on_each_line() -> None:
    readings = read(
        """
        Unit 1:
            Right Fan 1 (OK)   Right Fan 2 (Fault)
            PSU 1 OK   PSU 2 Absent
        Unit 2:
            Right Fan 1 (OK)   Right Fan 2 (OK)
        skua-02> """
    )
    told = [(r.unit, r.condition) for r in readings]
    assert told[:2] == [("fan-1/1", Condition.OK), ("fan-1/2", Condition.FAILED)]
    assert ("psu-1/2", Condition.ABSENT) in told
    assert len(told) == 6


def test_left_and_right_fans_of_one_number_are_not_one_fan() -> None:
    assert read("Left Fan 1 (OK)   Left Fan 2 (OK)\nRight Fan 1 (Fault)   Right Fan 2 (OK)\nskua-02> ") == []


def test_names_padded_within_their_brackets() -> None:
    fan, heat, hot, inner = read(
        """
        Fan1      (Fan Tray 1, Rotor A   )    :  OK
        Temp1     (Board Sensor near CPU )    :  OK
        Temp2     (Rear                  )    :  HIGH
        PSU2Fan1  (PSU2 Fan              )    :  BAD
        skua-02> """
    )
    assert (fan.unit, heat.kind, heat.name) == ("fan-1", "temperature", "Temp1")
    assert (hot.condition, inner.unit, inner.condition) == (Condition.WARNING, "psu-2", Condition.FAILED)


def test_one_bar_parts_the_first_column_only() -> None:
    (one,) = read(
        """
           Temp    | Current  Max    Min
           Sensor  | Temp     Temp   Temp   Threshold   OverTemp
           ------- + -------- ------ ------ ----------- ----------
           Chassis | 29C      33C    19C    55C         NO
        skua-02# """
    )
    assert (one.name, one.given("value"), one.given("high_warning")) == ("Chassis", celsius(29), celsius(55))


def test_what_stands_behind_a_fan_s_label_in_a_table_of_supplies_is_of_that_fan() -> None:
    supply, fan = read(
        """
        PSU-ID  Status      Type    AirFlow   Fan  Speed(rpm)  Status
        ---------------------------------------------------------------
        1       up          AC      NORMAL    1    0           fail
        skua-02# """
    )
    assert (supply.unit, supply.condition, fan.unit, fan.condition) == (
        "psu-1", Condition.OK, "psu-1", Condition.FAILED,
    )  # fmt: skip


def test_columns_of_places_in_degrees_and_columns_of_things_alone() -> None:
    readings = read(
        """
        Module     Inlet(C)     Outlet(C)
        0            28            37
        1            29            NA
        skua-02>show status
        PS1-Status PS2-Status
        ---------- ----------
        ok         failed
        skua-02>"""
    )
    assert [(r.name or r.unit, r.condition) for r in readings] == [
        ("module 0 Inlet", None), ("module 0 Outlet", None), ("module 1 Inlet", None), ("psu-1", Condition.OK), ("psu-2", Condition.FAILED),
    ]  # fmt: skip


def test_what_lies_beyond_the_measurable_is_no_value_and_counts_only_beside_a_fault() -> None:
    text = """
        FAN Speed(RPM)  Current    MAX        MIN        Threshold    Status
        ---------------------------------------------------------------------
        FAN1            5820       6104       5411       1000         Normal
        FAN2            <41        6090       <41        1000         Normal
        FAN3            <41        6072       <41        1000         Error
        skua-02> """
    assert [(r.unit, r.condition, r.given("speed")) for r in read(text)] == [
        ("fan-1", Condition.OK, rpm(5820)),
        ("fan-3", Condition.FAILED, None),
    ]
    assert 4 in unread(text)


def test_fans_that_do_not_work_by_a_no() -> None:
    one, two = read("FanID  Functional  RPM\n1      Yes         4100\n2      No          0\nskua-02> ")
    assert (one.condition, two.unit, two.condition) == (Condition.OK, "fan-2", Condition.FAILED)


def test_several_outputs_of_a_supply_are_facts_of_their_own() -> None:
    supply, *outputs = read(
        """
        PSU 1 details:
          State: Powered On
          Input: 229 V AC
          Output 1: 12.2 V, 8 A
          Output 2: -54.3 V, 1.1 A
        skua-02> """
    )
    assert (supply.given("input_voltage"), supply.given("output_voltage")) == (volts(229), None)
    assert [(o.kind, o.given("value")) for o in outputs] == [
        ("device", volts(12.2)), ("device", amps(8)), ("device", volts(-54.3)), ("device", amps(1.1)),
    ]  # fmt: skip


def test_figures_of_a_supply_at_a_place_that_names_it() -> None:
    readings = read(
        """
         Sensor           Location          State             Reading
         Temp: Inlet      R0                Normal            25 Celsius
         PEM Iout         P0                Normal            9 A
         PEM Vin          P1                Critical          0 V AC
        skua-02# """
    )
    assert [(r.unit or r.name, r.condition) for r in readings] == [
        ("Temp: Inlet", Condition.OK), ("psu-0", Condition.OK), ("psu-1", Condition.FAILED),
    ]  # fmt: skip


def test_an_apostrophe_for_degrees_and_an_optic_that_is_no_sensor_of_the_chassis() -> None:
    board, _ = read("Board temp : 104'F (40'C)\nsfp-temperature: 41C\nPower Supply 1: Good\nskua-02> ")
    assert (board.given("value"), board.name) == (celsius(40), "Board temp")


def test_an_empty_slot_is_no_sensor_that_is_absent() -> None:
    readings = read(
        """
        FRU            State        Temp
        --------------------------------
        Slot 1         Normal       41C
        Slot 2         Empty
        skua-02> """
    )
    assert all(r.name != "Slot 2" for r in readings)


def test_rotors_below_a_tray_are_of_that_tray() -> None:
    readings = read(
        """
        Cooling:
          Tray 1 (rear left)
            State: ok
            Rotor front: 5100 rpm
          Tray 2 (rear right)
            State: failed
            Rotor front: 0 rpm
        skua-02> """
    )
    assert [(r.unit, r.condition, r.given("speed")) for r in readings] == [
        ("fan-1", Condition.OK, None),
        ("fan-1", None, rpm(5100)),
        ("fan-2", Condition.FAILED, None),
        ("fan-2", None, rpm(0)),
    ]


def test_a_figure_with_a_word_is_no_name_of_a_sensor() -> None:
    heat, fan = read(
        "Temp Sensor 1 : 41 Celsius, Normal\nFan #1 : 5100 RPM, Normal\nBoard 3.3V : 3.31V, Normal\nskua-02> "
    )
    assert (heat.name, heat.condition, heat.given("value"), fan.unit) == (
        "Temp Sensor 1", Condition.OK, celsius(41), "fan-1",
    )  # fmt: skip


def test_a_count_of_fans_names_no_fan_and_limits_are_told_by_above() -> None:
    one, inlet = read(
        """
        Fan tray:            4 of 4 fans operating
        Fan 1:               Normal (5200 RPM)
        Temperature inlet:   61 C (warning above 60 C, critical above 70 C) WARNING
        skua-02> """
    )
    assert (one.unit, inlet.condition, inlet.given("high_warning"), inlet.given("high_critical")) == (
        "fan-1", Condition.WARNING, celsius(60), celsius(70),
    )  # fmt: skip


def test_each_unit_s_numbered_things_in_columns_of_their_own() -> None:
    readings = read(
        """
        Unit  PS1     PS2     Fan1    Temp(C)
        1     OK      Absent  Fault   41
        2     OK      OK      OK      39
        skua-02> """
    )
    assert [(r.unit or r.name, r.condition) for r in readings[:4]] == [
        ("psu-1/1", Condition.OK), ("psu-1/2", Condition.ABSENT), ("fan-1/1", Condition.FAILED), ("unit 1", None),
    ]  # fmt: skip


def test_several_temperatures_within_a_supply_are_sensors_of_it() -> None:
    supply, first, second = read(
        """
        Power supply: 1
          Status:               OK
          Input voltage:        230.1V
          Temperature 1:        31C
          Temperature 2:        44C
        skua-02> """
    )
    assert supply.given("input_voltage") == volts(230.1)
    assert [(s.unit, s.name) for s in (first, second)] == [("psu-1", "Temperature 1"), ("psu-1", "Temperature 2")]


def test_a_status_with_its_figure_behind_it() -> None:
    readings = read(
        "Temperature 1 Status: OK (34 C)\nFan 1 Status: OK\nFan 1/2: failed 0 rpm\nFAN  3 is FAULTY\nskua-02> "
    )
    assert [(r.kind, r.condition) for r in readings] == [
        ("temperature", Condition.OK), ("fan", Condition.OK), ("fan", Condition.FAILED), ("fan", Condition.FAILED),
    ]  # fmt: skip


def test_words_with_equals_tell_their_unit() -> None:
    heat, supply = read(
        """
        sensor=inlet type=temp value=24.5 unit=C low=0 high=45 status=ok
        sensor=psu1_vin type=voltage value=229.4 unit=V status=ok
        skua-02> """
    )
    assert (heat.name, heat.given("value"), heat.given("high_warning")) == ("inlet", celsius(24.5), celsius(45))
    assert (supply.unit, supply.given("input_voltage")) == ("psu-1", volts(229.4))


def test_a_remark_may_tell_a_speed_or_a_fault() -> None:
    one, two = read(
        """
        Component          Health     Remark
        -----------------  ---------  ---------------
        Fan-1              Good       5100 rpm
        PSU-2              Good       Input lost
        skua-02> """
    )
    assert (one.given("speed"), two.condition) == (rpm(5100), Condition.NO_INPUT)


def test_other_modules_are_parts_where_supplies_are_listed_as_parts() -> None:
    table = """
        Item             Part number  Serial number     Description
        PEM 0            240-029344   QCS1449U07H       AC Power Entry Module
        Control Board 0  250-031392   ZE3107            Board
        skua-02> """
    assert [(r.kind, r.unit or r.name) for r in read(table)] == [
        ("inventory", "psu-0"),
        ("inventory", "Control Board 0"),
    ]
    assert read(table.replace("PEM 0            240-029344   QCS1449U07H       AC Power Entry Module", "")) == []


def test_tables_between_rulers_each_with_its_title() -> None:
    readings = read(
        """
        -----------------------------------------------
         Fans
        -----------------------------------------------
         ID  Name          Status   RPM    Target  Pct
         1   Fan-Left      ok       5100   5000    40
         2   Fan-Right     failed   0      5000    40
        -----------------------------------------------
         Power
        -----------------------------------------------
         ID  Name     Status     Vin    Vout
         1   PSU-L    ok         229    12.1
         2   PSU-R    no-input   0      0
        -----------------------------------------------
        skua-02# """
    )
    assert [(r.unit, r.condition) for r in readings] == [
        ("fan-left", Condition.OK), ("fan-right", Condition.FAILED), ("psu-l", Condition.OK), ("psu-r", Condition.NO_INPUT),
    ]  # fmt: skip


def test_a_temperature_that_several_modules_tell_is_not_the_device_s() -> None:
    text = """
        Module: Supervisor
          Temperature        41 C    (threshold 75 C)
        Module: Linecard 3
          Temperature        38 C    (threshold 75 C)
        Power supply 1: ok
        skua-02> """
    assert [r.kind for r in read(text)] == ["power_supply"]


def test_two_heads_that_ran_together_are_no_column_of_either() -> None:
    """Whichever of the two words came first to hand, the cell would be read as that one."""
    label = label_of("Vout Iin")
    assert ("unknown", None) == (label.field, label.side)


def test_degrees_that_are_cold_warm_and_hot_are_limits() -> None:
    inlet, cpu = read(
        """
        HEAT POINTS
          point   now/C  cold/C  warm/C  hot/C  state
          inlet   21.5   0.0     40.0    45.0   easy
          cpu     46.0   0.0     85.0    90.0   easy
        """
    )
    assert (celsius(21.5), celsius(0), celsius(40), celsius(45)) == (
        inlet.given("value"), inlet.low_warning, inlet.high_warning, inlet.high_critical,
    )  # fmt: skip
    assert ("cpu", Condition.UNKNOWN, "easy") == (cpu.name, cpu.condition, cpu.status_text)


PARTS = """
    place    state   part          serial
    chassis  fitted  TK-SH24-2P3F  TKC-0041877
    psu-1    fitted  TKP-600F      TKS-20417
    psu-2    empty   -             -
    fan-1    fitted  TKF-40F       TKF-11052
    """


def test_a_list_of_the_whole_chassis_that_says_only_what_is_there_is_one_of_parts() -> None:
    one, two, fan = read(PARTS)
    assert {"inventory"} == {r.kind for r in (one, two, fan)}
    assert ("psu-1", "TKS-20417", Condition.ABSENT) == (one.unit, one.given("serial"), two.condition)


def test_supplies_and_fans_with_a_word_of_their_state_are_no_list_of_parts() -> None:
    assert ["power_supply", "power_supply", "fan"] == [
        r.kind for r in read(PARTS.replace("psu-1    fitted", "psu-1    failed"))
    ]


CHIP = """
    tdps650-i2c-10-58
    Adapter: i2c-10-mux (chan_id 1)
    PSU-1 220V Rail (in):      +226.50 V  (min = +100.00 V, max = +264.00 V)
    PSU-1 12V Rail Curr (out):  +8.40 A  (max = +54.00 A)
    Drawer Fan 1 Tach 1:       9300 RPM  (min = 3000 RPM, max = 25000 RPM)
    Drawer Fan 1 Tach 2:          FAULT  (min = 3000 RPM, max = 25000 RPM)
    SYSTIN:                     +36.0°C  (high = +80.0°C, hyst = +75.0°C)  sensor = thermistor
    AUXTIN0:                    +93.5°C  (high = +70.0°C, hyst = +65.0°C)
                                         (crit = +90.0°C)  ALARM  sensor = CPU diode
    Calibration 0:              +35.0°C
    """


def test_each_line_of_a_chip_is_a_sensor_of_its_own_with_its_limits() -> None:
    rail, current, first, second, system, board, calibration = read(CHIP)
    assert (volts(226.5), volts(100), volts(264)) == (rail.given("input_voltage"), rail.low_warning, rail.high_warning)
    assert (amps(8.4), amps(54)) == (current.given("output_current"), current.high_warning)
    assert (rpm(9300), rpm(3000)) == (first.given("speed"), first.low_warning)
    assert (Condition.FAILED, None, rpm(3000)) == (second.condition, second.given("speed"), second.low_warning)
    assert {"psu-1"} == {rail.unit, current.unit}
    assert {"fan-1"} == {first.unit, second.unit}
    assert (celsius(36), celsius(80)) == (system.given("value"), system.high_warning)
    assert celsius(35) == calibration.given("value")
    assert "AUXTIN0" == board.name


def test_limits_and_the_alarm_on_a_second_line_are_of_the_sensor_above() -> None:
    """Left out, the sensor would be told well while its alarm stands on the next line."""
    board = next(r for r in read(CHIP) if r.name == "AUXTIN0")
    assert (Condition.WARNING, celsius(70), celsius(90)) == (board.condition, board.high_warning, board.high_critical)
    assert not unread(CHIP)


FANS = """
    Fan  State    Speed (rpm)  Min (rpm)
    1    ok       8460         2400
    2    ok       7320         2400
    3    ok       8520         2400
    """


@pytest.mark.parametrize("message", ["** 06:51:25 port 4 asked for and not answered", "(more below, any key)"])
def test_a_message_between_two_rows_does_not_end_the_table(message: str) -> None:
    text = dedent(FANS).lstrip("\n").splitlines(keepends=True)
    found = read("".join([*text[:2], f"{message}\n", *text[2:]]))
    assert [rpm(8460), rpm(7320), rpm(8520)] == [r.given("speed") for r in found]


def test_a_title_between_two_rows_ends_the_table() -> None:
    text = dedent(FANS).lstrip("\n").splitlines(keepends=True)
    found = read("".join([*text[:2], "Blowers of the expansion unit\n", *text[2:]]))
    assert [rpm(8460)] == [r.given("speed") for r in found]


@pytest.mark.parametrize("lost", range(1, 16))
def test_a_row_within_which_the_text_ends_is_unread(lost: int) -> None:
    text = dedent(FANS).strip("\n").rstrip()
    found = read(text[: len(text) - lost])
    if lost > 3:
        assert ["fan-1", "fan-2"] == [r.unit for r in found]
    assert {"8460", "7320"} <= {str(int(r.given("speed").value)) for r in found}


def test_a_normal_range_beside_the_one_figure_that_is_of_its_kind_is_its_limits() -> None:
    one, two = read(
        """
        PSU  Product  Normal     Present
             Number   Input (V)  Input (V)
        -----------------------------------
        1    TS601A   90-264     230.0
        2    TS601A   90-264     -
        """
    )
    assert (volts(230), volts(90), volts(264)) == (one.given("input_voltage"), one.low_warning, one.high_warning)
    assert (None, None) == (two.given("low_warning"), two.given("input_voltage"))


def test_a_sensor_of_states_tells_a_supply_without_saying_that_it_is_well() -> None:
    """That the sensor can be read (`ok`) is no state of the supply."""
    listed = read(
        """
        PSU1 Status      | 01h | ok  | 10.1 | Presence detected
        PSU2 Status      | 02h | ok  | 10.2 | Presence detected, Failure detected
        PSU1 Vin         | 03h | ok  | 10.1 | 231 Volts
        PSU2 Vin         | 07h | ns  | 10.2 | Disabled
        """
    )
    assert [Condition.UNKNOWN, Condition.OK, Condition.UNKNOWN] == [
        listed[0].condition,
        listed[2].condition,
        listed[3].condition,
    ]
    assert listed[1].condition in (Condition.UNKNOWN, Condition.FAILED)
    masks = read(
        """
        PSU1 Status      | 0x1        | discrete   | 0x0100| na        | na        | na        | na        | na        | na
        PSU1 Vin         | 231.000    | Volts      | ok    | 170.000   | 176.000   | 180.000   | 250.000   | 254.000   | 255.000
        """
    )
    assert [("psu-1", Condition.UNKNOWN, "0x0100"), ("psu-1", Condition.OK, "ok")] == [
        (r.unit, r.condition, r.status_text) for r in masks
    ]


def test_what_a_control_asks_for_is_no_speed_that_was_measured() -> None:
    found = read("Fan module 1: OK, 6000 RPM (target 6300)\nFan module 2: FAIL, 1170 RPM (target 6300)\n")
    assert [(Condition.OK, rpm(6000)), (Condition.FAILED, rpm(1170))] == [
        (r.condition, r.given("speed")) for r in found
    ]


def test_a_share_of_the_greatest_speed_is_a_share_and_the_greatest_speed_no_limit() -> None:
    (fan,) = read(
        """
        Fan #1 information:
                Status: OK
                Speed: 38 percent of Maximum speed
                Maximum speed: 18000 RPM
        """
    )
    assert (Quantity(value=38, unit="%"), None, None) == (
        fan.given("speed_percent"),
        fan.given("speed"),
        fan.high_warning,
    )


def test_a_missing_cord_is_no_missing_supply() -> None:
    (supply,) = read(
        """
        Power Supply #2
                Status: Failed
                AC Input Status: Lost
                Serial Number: TN5APQ1184
                Diagnostic Status
                        Internal Data           OK
                        Power Cord              Missing
        """
    )
    assert supply.condition in (Condition.FAILED, Condition.NO_INPUT)


def test_things_below_a_heading_are_named_shortly() -> None:
    one, fan, processor = [
        r
        for r in read(
            """
            power:
              supply a: good, 12.2 V, 8.1 A
            fans:
              bay fan 1: good, 1820 rpm
              cpu fan: good, 2410 rpm
            """
        )
        if r.kind in ("power_supply", "fan")
    ]
    assert ("psu-a", "fan-1", "cpu fan") == (one.unit, fan.unit, processor.name)
    assert (rpm(1820), rpm(2410)) == (fan.given("speed"), processor.given("speed"))


def test_keys_and_values_in_two_columns_each() -> None:
    one, two, fan, heat = read(
        """
        System Name     : tern-sw             Uptime        : 81 d 04 h
        PSU 1           : OK                  PSU 2         : failed
        Fan 1           : OK                  Fan 1 speed   : 4500 rpm
        Temperature     : 37 C                Temp. limit   : 60 C
        CPU load        : 6 %                 Memory used   : 41 %
        """
    )
    assert ((Condition.OK, "psu-1"), (Condition.FAILED, "psu-2")) == (
        (one.condition, one.unit),
        (two.condition, two.unit),
    )
    assert (rpm(4500), celsius(37), celsius(60)) == (fan.given("speed"), heat.given("value"), heat.high_warning)


def test_keys_that_are_paths_stand_below_what_they_lead_to() -> None:
    supply, fan, board = read(
        """
        Power1.state          = normal
        Power1.input_mv       = 230400
        Power1.output_ma      = 9850
        Fan1.state            = failed
        Fan1.speed_rpm        = 5640
        Temp.board.value_c    = 41
        Temp.board.minor_c    = 65
        Temp.board.major_c    = 75
        """
    )
    assert (volts(230.4), amps(9.85)) == (supply.given("input_voltage"), supply.given("output_current"))
    assert (Condition.FAILED, rpm(5640)) == (fan.condition, fan.given("speed"))
    assert ("board", celsius(41), celsius(65), celsius(75)) == (
        board.name, board.given("value"), board.high_warning, board.high_critical,
    )  # fmt: skip


def test_a_bare_drive_of_a_fan_is_no_share_since_it_may_be_one_of_255() -> None:
    front, rear = read("fan  status  rpm    pwm\n1F   ok      13200  102\n1R   ok      11100  99\n")
    assert (None, None) == (front.given("speed_percent"), rear.given("speed_percent"))
    (told,) = read("fan  status  rpm    pwm\n1F   ok      13200  40%\n")
    assert Quantity(value=40, unit="%") == told.given("speed_percent")


def test_a_title_in_brackets_ends_a_table() -> None:
    fans = "[hw.fan]\nfan  status  rpm\n1    ok      13200\n2    ok      13260\n"
    heat = "[hw.temp]\nsensor    status  value  max   crit\ninlet     ok      23.5   45    55\nboard     ok      31.0   75    85\n"
    assert ["fan-1", "fan-2"] == [r.unit for r in read(fans + heat) if r.kind == "fan"]
    assert [celsius(23.5), celsius(31)] == [r.given("value") for r in read(fans + heat) if r.kind == "temperature"]


def test_the_command_tells_that_a_list_is_of_temperatures() -> None:
    text = "tern-9$ show thermal\nZone front: 23 C, normal\nZone rear: 39 C, normal\ntern-9$\n"
    assert [("Zone front", celsius(23)), ("Zone rear", celsius(39))] == [(r.name, r.given("value")) for r in read(text)]
    assert [] == read(text.replace("show thermal", "show zones"))


def test_the_slot_of_an_object_says_that_it_is_a_supply() -> None:
    one, other = read(
        """
        {"power": [
          {"slot": "PSU1", "status": "ok", "inputVoltageV": 231.0, "outputPowerW": 90.5},
          {"slot": "PSU2", "status": "failed", "serial": "SK0412"}],
         "banks": [{"slot": "B1", "status": "ok", "inputVoltageV": 231.0}]}
        """
    )
    assert ("psu-1", volts(231), watts(90.5)) == (one.unit, one.given("input_voltage"), one.given("output_power"))
    assert ("psu-2", Condition.FAILED, "SK0412") == (other.unit, other.condition, other.given("serial"))


def test_the_id_of_an_object_says_what_it_is_or_which_sensor_of_it() -> None:
    supply, heat, fan = read(
        """
        {"units": [{"id": "PSU1", "status": "ok", "vin_v": 231.0}, {"id": "PSU2 temp", "celsius": 40},
                   {"id": "Fan3", "status": "failed"}, {"id": "B4", "status": "ok"}]}
        """
    )
    assert ("psu-1", volts(231)) == (supply.unit, supply.given("input_voltage"))
    assert ("psu-2", "PSU2 temp", celsius(40)) == (heat.unit, heat.name, heat.given("value"))
    assert ("fan-3", Condition.FAILED) == (fan.unit, fan.condition)


def test_a_column_headed_current_takes_its_unit_from_the_next_one() -> None:
    """`Current` is what is measured now, whatever its unit, and not only amps."""
    found = read(
        """
        Sensor         State   Current Units  Low   High
        -------------- ------- ------- ------ ----- -----
        PSU1 Volts In  normal    231.0 V      -     -
        PSU1 Amps In   normal      0.8 A      -     -
        PSU1 Amps Out  normal     12.1 V      -     -
        Intake Temp    normal       24 C          5    45
        """
    )
    assert [volts(231), amps(0.8), celsius(24)] == [
        found[0].given("input_voltage"), found[1].given("input_current"), found[-1].given("value"),
    ]  # fmt: skip


def test_a_speed_may_be_led_by_a_verb() -> None:
    found = read(
        """
        Item     State    Reading
        -------  -------  --------------------
        Fan 1    OK       spinning at 4380 RPM
        Fan 2    OK       turning at 4410 RPM
        Fan 3    OK       not turning at 300 RPM
        Fan 4    OK       stopped at 4380 RPM
        """
    )
    assert [("fan-1", rpm(4380)), ("fan-2", rpm(4410))] == [(r.unit, r.given("speed")) for r in found]


def test_degrees_at_which_an_alarm_comes_are_a_limit() -> None:
    front, rear = read(
        """
        Sensor   Celsius  Fahrenheit  Alarm at
        -------  -------  ----------  --------
        Front         22          72      45 C
        Rear          35          95      65 C
        Middle        30          86      12:04
        Bay           30          99      65 C
        """
    )
    assert (celsius(22), celsius(45)) == (front.given("value"), front.high_warning or front.high_critical)
    assert ("Rear", celsius(35)) == (rear.given("name"), rear.given("value"))


def test_which_side_of_a_supply_is_measured_stands_behind_its_name() -> None:
    found = read(
        """
        Module   | Instance | Value | Units | Severity
        ---------+----------+-------+-------+---------
        thermal  | board    | 31    | C     | none
        psu_in   | 1        | 229.4 | V     | none
        psu_out  | 1        | 12.05 | V     | none
        psu_out  | 2        | 14.1  | A     | none
        psu_bus  | 1        | 12.05 | V     | none
        """
    )
    assert [("psu-1", volts(229.4), None), ("psu-1", None, volts(12.05)), ("psu-2", None, None)] == [
        (r.unit, r.given("input_voltage"), r.given("output_voltage")) for r in found[1:]
    ]
    assert amps(14.1) == found[3].given("output_current")


def test_a_heading_that_tells_degrees_or_fans_gives_bare_figures_their_meaning() -> None:
    found = read(
        """
        Board temperatures (C)
           inlet   26
           cpu     48 (max 85, crit 95)
           sfp1    33
           total    3

        Case fans
           1  5250
           2  180
        gannet> """
    )
    assert [("inlet", celsius(26)), ("cpu", celsius(48))] == [(r.name, r.given("value")) for r in found[:2]]
    assert [("fan-1", rpm(5250))] == [(r.unit, r.given("speed")) for r in found[2:]]


def test_a_heading_with_degrees_is_read_and_one_in_fahrenheit_above_a_table_is_not() -> None:
    celsius_list = "Board temperatures [C]\n   inlet = 26\n   cpu   = 48\ngannet> "
    assert [celsius(26), celsius(48)] == [r.given("value") for r in read(celsius_list)]
    assert {} == unread(celsius_list)
    assert 1 in unread("Board temperatures (F)\nSensor   Temp   State\n------   ----   -----\ninlet    80     ok\n")


def test_numbers_below_a_heading_with_a_word_and_a_figure_in_any_order() -> None:
    fans = read("Fans\n  1  OK      5250 rpm\n  2  failed  0 rpm\n  3  5190 rpm  OK\ngannet> ")
    assert [
        ("fan-1", Condition.OK, rpm(5250)),
        ("fan-2", Condition.FAILED, rpm(0)),
        ("fan-3", Condition.OK, rpm(5190)),
    ] == [(r.unit, r.condition, r.given("speed")) for r in fans]
    heat = read("Temperatures\n  cpu  55 C  ok\n  phy  44 C  high\n  air  ok  23 C\ngannet> ")
    assert [("cpu", celsius(55)), ("air", celsius(23))] == [(r.name, r.given("value")) for r in heat]
    assert [] == read("Ports\n  1  OK      5250 rpm\n  2  failed  0 rpm\ngannet> ")


def test_two_voltages_of_a_supply_that_can_only_be_its_input_and_its_output() -> None:
    text = "Power supplies\n  1  good  230 V  12.1 V\n  2  good  48 V  12.1 V\n  3  good  12.0 V  12.1 V\n"
    (one,) = read(text)
    assert ("psu-1", volts(230), volts(12.1)) == (one.unit, one.given("input_voltage"), one.given("output_voltage"))
    assert {3, 4} <= unread(text).keys()


@pytest.mark.parametrize(
    ("heading", "row"),
    [
        ("Temperature limits (C)", "inlet  60"),
        ("Maximum temperatures (C)", "inlet  60"),
        ("Transceiver temperatures (C)", "inlet  33"),
        ("Temperatures", "inlet  26"),
        ("Fan hours", "1  5250"),
        ("Fan serials", "1  5250"),
    ],
)
def test_a_heading_that_tells_other_things_gives_bare_figures_none(heading: str, row: str) -> None:
    assert [] == read(f"{heading}\n   {row}\n   {row.replace('inlet', 'outlet').replace('1 ', '2 ')}\ngannet> ")


def test_things_beside_each_other_that_differ_in_their_number() -> None:
    found = read(
        """
        fan0:  OK   6120rpm     fan1:  FAILED   0rpm     fan2:  OK   6150rpm
        psu0:  OK               psu1:  ABSENT
        """
    )
    assert [("fan-0", rpm(6120)), ("fan-1", rpm(0)), ("fan-2", rpm(6150))] == [
        (r.unit, r.given("speed")) for r in found[:3]
    ]
    assert [("psu-0", Condition.OK), ("psu-1", Condition.ABSENT)] == [(r.unit, r.condition) for r in found[3:]]
    assert [] == read("fan0:  OK   6120rpm     fan0:  OK   6090rpm\n")
    assert [] == read("fan0:  OK   6120rpm     duty0:  OK   6090rpm\n")


def test_degrees_below_a_heading_of_one_word_and_beside_limits_by_their_names() -> None:
    intake, case = read(
        """
        Heat
          Intake ........ NORMAL   (24 C, alarm 50 C)
          Case .......... NORMAL   (38 C, alarm 70 C)
        """
    )
    assert (Condition.OK, celsius(24)) == (intake.condition, intake.given("value"))
    assert celsius(70) == (case.high_warning or case.high_critical)
    text = "t_out: 36.0C (warn 65 crit 75) ok\nt_in: 33.0C (warn 70 crit 80) ok\n"
    assert [("t_out", celsius(36), celsius(65), celsius(75)), ("t_in", celsius(33), celsius(70), celsius(80))] == [
        (r.name, r.given("value"), r.high_warning, r.high_critical) for r in read(text)
    ]
    for other in ("sfp_3", "disk_1"):
        assert ["t_out"] == [r.name for r in read(text.replace("t_in", other))]


def test_a_line_of_several_keys_is_unread_where_one_of_them_is() -> None:
    """What was read of such a line stays; the line tells that it was not read wholly."""
    text = """
        psu1: OK  230 V  240 V     psu2: OK  231 V  0.5 A
        """
    assert ["psu-2"] == [r.unit for r in read(text)]
    assert [1] == list(unread(text))
    heat = "------ Thermal ------\ninlet: 25C (OK)   core: {}   outlet: 33C (OK)\n"
    assert 3 == len(read(heat.format("44C (OK)")))
    assert not unread(heat.format("44C (OK)")).keys() & {2}
    for spoilt in ("bad", "44", "4?C (OK)"):
        assert ["inlet", "outlet"] == [r.name for r in read(heat.format(spoilt))]
        assert "`core: " in unread(heat.format(spoilt))[2]


def test_a_count_is_no_name_of_a_sensor() -> None:
    found = read("Temperatures (C)\n   inlet    26\n   sensors  4\n   alarms   0\ngannet> ")
    assert ["inlet"] == [r.name for r in found]


def test_that_the_memory_of_a_supply_can_be_read_is_no_state_of_it() -> None:
    text = "psu1: eeprom {}, bus 0x58\n   PART    GNT-800\n   VIN     231.0 V\n   VOUT    12.1 V\n   STATUS  {}\n"
    (well,) = read(text.format("ok", "fault"))
    assert ("psu-1", Condition.FAILED, volts(231), volts(12.1)) == (
        well.unit, well.condition, well.given("input_voltage"), well.given("output_voltage"),
    )  # fmt: skip
    (silent,) = read(text.format("ok", "-"))
    assert silent.condition not in (Condition.OK, Condition.FAILED)
    assert [] == read(text.format("corrupt", "ok"))


TURNED = """
    tern-x4# show power
    Field        Feed A            Feed B
    -----------  ----------------  ----------------
    Status       normal            failed
    Input        -54.1 VDC         -53.7 VDC
    Model        TNE-DC1500        TNE-DC1500
    Serial       TN15A00442        TN15A00457
    tern-x4#
    """


def test_a_column_for_each_supply_and_a_row_for_each_field() -> None:
    one, two = read(TURNED)
    assert ("psu-a", volts(-54.1), "TN15A00442", Condition.FAILED) == (
        one.unit, one.given("input_voltage"), one.given("serial"), two.condition,
    )  # fmt: skip


def test_what_is_told_of_a_thing_is_never_the_name_of_one() -> None:
    """Where it is not seen that a table is turned, its rows `Status` and `Serial` would be supplies."""
    found = read(TURNED.replace("Feed A", "here  ").replace("Feed B", "there "))
    assert [] == [r for r in found if r.name in ("Status", "Serial", "Model", "Input")]


def test_a_part_number_that_looks_like_a_supply_names_none() -> None:
    found = read(
        """
        Name       Part Number       Serial Number    Air Flow
        -------------------------------------------------------
        psu-1      TNZ-PS-400-FB     TNP2203A0117     F2B
        fan-1      TNZ-FT-FB         TNF2147C0440     F2B
        fan-2      not present
        """
    )
    assert [("inventory", "psu-1"), ("inventory", "fan-1"), ("inventory", "fan-2")] == [(r.kind, r.unit) for r in found]
    assert ("TNZ-PS-400-FB", Condition.ABSENT) == (found[0].given("part_number"), found[2].condition)


def test_a_supply_whose_input_is_missing_has_no_input() -> None:
    (one,) = read("Power supply 2\n   Status          Input voltage missing\n   Input voltage   0.0 V\ntern-12> ")
    assert (Condition.NO_INPUT, volts(0)) == (one.condition, one.given("input_voltage"))
    (other,) = read("Power supply 2\n   Status          Input voltage shown\n   Input voltage   0.0 V\ntern-12> ")
    assert other.condition is Condition.UNKNOWN


def test_a_power_out_of_range_is_never_well() -> None:
    text = "Power supply number      : 2\n  Status                 : {}\n  DC power               : {}\ntern-12> "
    assert [Condition.FAILED] == [r.condition for r in read(text.format("failed", "out of range"))]
    assert [Condition.WARNING] == [r.condition for r in read(text.format("up", "out of range"))]
    assert [] == read(text.format("up", "range A"))


CARDS = """
    Slot  Card   Oper   Temp(C)  Temp status
    ----  -----  -----  -------  -----------
    1     TNL-4  Up     41       Normal
    2     TNL-4  {}  72       {}
    """


def test_beside_the_status_of_a_temperature_the_operation_is_that_of_the_card() -> None:
    assert [Condition.OK, Condition.WARNING] == [r.condition for r in read(CARDS.format("Stby ", "High"))]
    assert [Condition.OK, Condition.OK] == [r.condition for r in read(CARDS.format("Stby ", "Normal"))]
    # What is no operation is told of the sensor, too, and a bad word is never passed over.
    other = read(CARDS.replace("Oper  ", "Status").format("Odd  ", "Normal"))
    assert Condition.OK is not other[-1].condition
    assert Condition.FAILED in [r.condition for r in read(CARDS.format("Fault", "Normal"))]


@pytest.mark.parametrize(
    ("word", "speed", "condition"),
    [
        ("LOW", 2100, Condition.WARNING),
        ("LOW", 4100, Condition.UNKNOWN),
        ("HIGH", 2100, Condition.UNKNOWN),
        ("IDLE", 2100, Condition.UNKNOWN),
        ("NORMAL", 4100, Condition.OK),
    ],
)
def test_low_is_a_warning_where_the_value_lies_below_its_limit(word: str, speed: int, condition: Condition) -> None:
    (fan,) = read(
        f"""
        Unit    Measured (RPM)   Low limit   Condition
        ------  ---------------  ----------  ---------
        FAN-4   {speed}             3000        {word}
        """
    )
    assert (condition, rpm(speed)) == (fan.condition, fan.given("speed"))


MIXED = """
    Unit    Type       Measured   High thr   Condition
    ------  ---------  ---------  ---------  ---------
    FAN-1   RPM        240        9000       NORMAL
    FAN-2   RPM        0          9000       FAILED
    LINE-4  {}     44         75         NORMAL
    """


def test_a_type_may_tell_what_is_measured_and_in_which_unit() -> None:
    found = read(MIXED.format("TEMP C"))
    assert [rpm(240), rpm(0), celsius(44)] == [r.given("speed") or r.given("value") for r in found]
    # A unit with a factor before it is none that is known.
    for scaled in ("x10 C ", "tenth C", "10 C  "):
        assert [] == [r for r in read(MIXED.format(scaled)) if r.kind == "temperature"]


def test_of_a_sensor_without_a_unit_its_value_may_be_the_status() -> None:
    text = """
        Name                  Value   Unit      Type         Maximum
        --------------------  ------  --------  -----------  -------
        Intake Temp           27      Celsius   Temperature  50
        Power Supply #1       {}      -         PowerSupply  -
        """
    assert [Condition.OK] == [r.condition for r in read(text.format("Up  ")) if r.kind == "power_supply"]
    assert [] == [r for r in read(text.format("12.1")) if r.kind == "power_supply"]


def test_what_a_fan_without_a_number_is_told_is_told_of_one() -> None:
    text = " Fan module status    : OK\n Fan {} speed     : 4320 RPM\n Board temperature    : 44 C\ntern-9> "
    (fan,) = [r for r in read(text.format("module")) if r.kind == "fan"]
    assert (Condition.OK, rpm(4320)) == (fan.condition, fan.given("speed"))
    (other,) = [r for r in read(text.format("bottom")) if r.kind == "fan" and r.condition is Condition.OK]
    assert other.given("speed") is None


def test_a_heading_may_name_the_only_part_of_its_kind() -> None:
    text = "Fan unit\n   Status          Normal\n   Speed mode      Low\n   Serial number   TN22009174\n{}tern-9> "
    (fan,) = read(text.format(""))
    assert ("fan", "Fan unit", Condition.OK, "TN22009174") == (fan.kind, fan.name, fan.condition, fan.given("serial"))
    assert "Fan unit" not in [r.name for r in read(text.format("Fan 2\n   Status          Normal\n"))]


def test_state_and_limits_below_a_temperature_are_those_of_it() -> None:
    text = "TEMPERATURE\n  Board:          52 C\n    State:        {}\n    High alarm:   95 C\ntern-9> "
    (well,) = read(text.format("Normal"))
    assert ("Board", Condition.OK, celsius(52)) == (well.name, well.condition, well.given("value"))
    assert celsius(95) in (well.given("high_warning"), well.given("high_critical"))
    assert [Condition.UNKNOWN] == [r.condition for r in read(text.format("Odd"))]


def test_a_unit_in_brackets_is_no_part_of_a_sensors_name() -> None:
    text = """
        ID  Sensor (Units)              Reading   High Limit  Status
        1   Fan: Fan 1 (Rpm)            4400      9000        Ok
        2   Temp: PHY (Degrees C)       51        95          Ok
        3   Temp: Board (Left side)     44        85          Ok
        """
    assert ["Temp: PHY", "Temp: Board (Left side)"] == [r.name for r in read(text) if r.kind == "temperature"]


def test_where_a_sensor_is_on_its_bus_tells_nothing_of_it() -> None:
    text = """
        Board   {}  Addr  Status    Minor   Major   TMin    Temp
        ------  ---  ----  --------  ------  ------  ------  ----
        MAIN    1    72    NORMAL    68      72      0       37
        """
    (one,) = read(text.format("I2C"))
    assert (Condition.OK, celsius(37), celsius(68), celsius(72)) == (
        one.condition, one.given("value"), one.given("high_warning"), one.given("high_critical"),
    )  # fmt: skip
    assert [] == read(text.format("Xyz"))


GROUPED = """
    sensor           limit(hi)  limit(lo)  current  status
    ---------------  ---------  ---------  -------  ------
    temperature(c)
     1 line          97         -40        52       ok
    {}
     1               8000       2000       3870     ok
     2               8000       2000       1160     alarm
    """


def test_a_row_with_nothing_beside_it_tells_the_unit_of_the_rows_below() -> None:
    heat, one, two = read(GROUPED.format("fan speed(rpm)"))
    assert ("temperature", celsius(52), celsius(97)) == (heat.kind, heat.given("value"), heat.given("high_warning"))
    assert ("fan-1", rpm(3870), "fan-2", Condition.WARNING) == (one.unit, one.given("speed"), two.unit, two.condition)


@pytest.mark.parametrize("heading", ["voltage(v)", "other", "fan speed(x10 rpm)"])
def test_it_holds_no_further_than_the_next_such_row(heading: str) -> None:
    text = GROUPED.format(heading).replace("3870", "12  ").replace("1160", "11  ")
    assert ["temperature"] == [r.kind for r in read(text)]


def test_a_heading_at_the_end_of_a_table_is_not_lost() -> None:
    text = GROUPED.format("fan speed(rpm)").split("fan speed(rpm)")[0] + "fan speed(rpm)\n"
    assert ["temperature"] == [r.kind for r in read(text)]
    assert any("nothing" in reason or "heading" in reason for line, reason in unread(text).items() if line == 5)


def test_below_a_frame_another_one_begins_with_corners_of_its_own() -> None:
    text = """
        +--------------+----+---------+
        | Module Type  | ID | State   |
        +==============+====+=========+
        | power-supply | 1  | failed  |
        +--------------+----+---------+
        {}
        |  Module   | Sensor  | Temp C  |
        +===========+=========+=========+
        | line 1    | inlet   | 27      |
        | line 2    | inlet   | 29      |
        +-----------+---------+---------+
        """
    supply, one, two = read(text.format("+-----------+---------+---------+"))
    assert (Condition.FAILED, celsius(27), celsius(29)) == (supply.condition, one.given("value"), two.given("value"))
    assert [] == [r for r in read(text.format("")[:-1]) if r.kind == "temperature" and r.given("value") is None]
    # A ruler twice, with the same corners, parts no table.
    same = (
        text.split("{}")[0].rstrip(" ")
        + "        +--------------+----+---------+\n        | power-supply | 2  | up      |\n"
    )
    assert ["power_supply", "power_supply"] == [r.kind for r in read(same)]


def test_what_a_supply_uses_is_a_power_of_no_told_side() -> None:
    text = """
        Member  PSU  Model        Serial     Status    Rated  {}
        ------  ---  -----------  ---------  --------  -----  ----
        1       1    TNH-PS-350   TN0710044  Good      350W   88W
        1       2    TNH-PS-350   TN0710051  No Input  350W   0W
        """
    found = read(text.format("Used"))
    assert [("psu-1/1", watts(350)), ("psu-1/2", watts(350))] == [
        (r.unit, r.given("capacity")) for r in found if r.kind == "power_supply"
    ]
    assert not any(r.given("input_power") or r.given("output_power") for r in found)
    assert [] == read(text.format("Wmax"))


def test_power_over_numbers_is_which_supply_it_is() -> None:
    text = """
        Power  State       InVoltage(V)  OutVoltage(V)
        1      Normal      231           50.2
        {}      Absent      --            --
        """
    assert [("psu-1", Condition.OK), ("psu-2", Condition.ABSENT)] == [
        (r.unit, r.condition) for r in read(text.format("2"))
    ]
    assert [] == read(text.format("7"))


def test_a_fan_in_a_column_of_its_own_names_the_rotors_beside_it() -> None:
    text = """
        Module      Device      Fan   Speed     Status
        ---------------------------------------------
        FAN         FAN1        F1    6105      OK
        FAN         FAN1        F2    5298      OK
        FAN         {}        F1    6071      OK
        """
    assert [("fan-1", "F1"), ("fan-1", "F2"), ("fan-2", "F1")] == [(r.unit, r.name) for r in read(text.format("FAN2"))]
    assert [] == [
        r for r in read(text.format("FAN ")) if r.given("speed") == rpm(6071) and r.unit in ("fan-1", "fan-2")
    ]


def test_how_fast_a_fan_turns_may_stand_before_its_speed() -> None:
    text = "Fan 0            : OK, Speed {} [7350 RPM]\nFan 1            : FAILED\ntern-9> "
    one, _ = read(text.format("High"))
    assert ("fan-0", Condition.OK, rpm(7350)) == (one.unit, one.condition, one.given("speed"))
    assert ["fan-1"] == [r.unit for r in read(text.format("Odd"))]


def test_a_word_over_each_bracket_of_a_header_however_near_they_stand() -> None:
    (inlet,) = read(
        """
        Location  TEMPERATURE                 Value   Crit Minor Minor  Major  Crit
                  Sensor                    (deg C)   (Lo) (Lo)  (Hi)   (Hi)   (Hi)
        --------------------------------------------------------------------------------
        0/1/CPU0
                  Inlet                          27    -10     0    47      52     58
        """
    )
    assert (celsius(27), celsius(-10), celsius(0), celsius(47), celsius(58)) == (
        inlet.given("value"), inlet.low_critical, inlet.low_warning, inlet.high_warning, inlet.high_critical,
    )  # fmt: skip


PARTS_OF_A_RACK = """
    Name: Rack 0              Descr: TNW 9-slot aggregation chassis
    PID: TNW-9K9              VID: V02                 SN: TNS2904Q0AA

    Name: 0/FT0               Descr: Fan tray, 9 slot
    PID: TNW-FAN-9            VID: V01                 SN: TNC2902F044

    Name: 0/1                 Descr: 24 port 10G line card
    PID: TNW-24X10            VID: V05                 SN: TNC2908L1QZ
    """


def test_each_name_in_a_list_of_parts_begins_another_part() -> None:
    """Taken for one more field of the first, the last serial number would be that of the rack."""
    assert [("Rack 0", "TNS2904Q0AA"), ("fan-0", "TNC2902F044"), ("0/1", "TNC2908L1QZ")] == [
        (r.name or r.unit, r.given("serial")) for r in read(PARTS_OF_A_RACK)
    ]


def test_the_greatest_of_a_day_is_no_limit_and_a_breaker_no_current() -> None:
    one, two = read(
        """
        Unit    Oper   Breaker  Feed voltage  Feed current  Min (24h)  Max (24h)
        ------- ------ -------- ------------- ------------- ---------- ----------
        PEM-A   Up     40 A     -53.4 V       5.9 A         -53.9 V    -52.8 V
        PEM-B   Down   40 A     -0.3 V        0.0 A         -53.8 V    0.0 V
        """
    )
    assert ("psu-a", volts(-53.4), amps(5.9), None) == (
        one.unit, one.given("input_voltage"), one.given("input_current"), one.high_warning,
    )  # fmt: skip
    assert volts(-0.3) == two.given("input_voltage")


def test_each_line_with_its_verdict_is_a_sensor_of_its_own() -> None:
    inlet, front, rear, supply = read(
        """
        INLET_TEMP                   (0x1) :   24.50 C     | (ok)
        FAN1_FRONT_SPEED             (0x20) : 5850.00 RPM   | (ok)
        FAN1_REAR_SPEED              (0x21) : 5400.00 RPM   | (lcr)
        PSU1_IN_VOLT                 (0x50) :  229.25 Volts | (ok)
        """
    )
    assert ("INLET_TEMP", celsius(24.5)) == (inlet.name, inlet.given("value"))
    assert [("fan-1", rpm(5850)), ("fan-1", rpm(5400))] == [(r.unit, r.given("speed")) for r in (front, rear)]
    assert (Condition.OK, True) == (front.condition, rear.condition is not Condition.OK)
    assert volts(229.25) == supply.given("input_voltage")


def test_a_sensor_without_a_reading_and_one_of_states_in_a_short_list() -> None:
    listed = read(
        """
        CPU1 Temp        | 41 degrees C      | ok
        FAN1             | 4800 RPM          | ok
        FAN4             | no reading        | ns
        PS1 Status       | 0x01              | ok
        """
    )
    assert [Condition.OK, Condition.OK] == [r.condition for r in listed[:2]]
    assert not any(r.condition is Condition.OK for r in listed[2:])
    assert {("fan-4", None), ("psu-1", None)} >= {(r.unit, r.given("speed")) for r in listed[2:]}


def test_supplies_with_their_temperature_and_what_comes_in() -> None:
    found = read(
        """
        +---------------------- POWER SUPPLY ----------------------+
        | Unit | Type | State    | Input      | Output Temp (C)    |
        +------+------+----------+------------+--------------------+
        | PS-A | DC   | Online   | -52.7 V    | 35                 |
        | PS-B | DC   | Online   | -52.9 V    | 34                 |
        +------+------+----------+------------+--------------------+
        """
    )
    assert [volts(-52.7), volts(-52.9)] == [r.given("input_voltage") for r in found if r.kind == "power_supply"]
    assert [celsius(35), celsius(34)] == [r.given("value") for r in found if r.kind == "temperature"]


def test_the_number_of_a_row_among_sensors_is_no_supply() -> None:
    """The second row would be told of supply 2."""
    found = read(
        """
        ID  Sensor (Units)             Reading  Low Limit  High Limit Status
        1   Fan: Fan 1 (Rpm)           4140     2500       -          Ok
        2   PSU Power Output           Yes      -          -          Ok
        3   Temp: Internal (Degrees C) 33       -          70(Hyst)   Ok
        """
    )
    assert "psu-2" not in {r.unit for r in found}
    assert [(celsius(33), celsius(70))] == [
        (r.given("value"), r.high_warning) for r in found if r.kind == "temperature"
    ]


@pytest.mark.parametrize("name", ["--------", "N/A", "green", "* *"])
def test_a_ruler_a_blank_or_a_colour_names_nothing(name: str) -> None:
    assert [] == read(f"Fans\n{name:<10} ok   5400 rpm\n{name:<10} ok   5300 rpm\n")


CLASSES = """
    tern-12> show environment
    Class  Item                           Status     Measurement
    Temp   Card 0 intake                  OK         28 degrees C / 82 degrees F
           Card 0 exhaust                 OK         36 degrees C / 96 degrees F
           PSU 0                          OK         31 degrees C / 87 degrees F
    Fans   Upper tray fan 1               OK         Spinning at normal speed
           Upper tray fan 2               OK         Spinning at normal speed
    Power  PSU 0                          OK
           PSU 1                          Failed
    tern-12>
    """


@pytest.mark.parametrize("lost", ["Temp   Card", "Fans   ", "Power  PSU"])
def test_a_supply_below_another_kind_is_none_of_it(lost: str) -> None:
    """The line that began a kind is lost: what stands below it is then not of the kind before it."""
    whole = {(r.kind, r.unit, r.name): r.condition for r in read(CLASSES)}
    assert Condition.FAILED is whole["power_supply", "psu-1", None]
    kept = "\n".join(line for line in CLASSES.splitlines() if lost not in line)
    assert kept.count("\n") == CLASSES.count("\n") - 1
    for reading in read(kept):
        assert reading.kind != "power_supply" or reading.unit in ("psu-0", "psu-1")
        assert reading.kind == "power_supply" or reading.name not in ("PSU 1", "PSU 0") or reading.given("value")


def test_a_damaged_ruler_names_nothing() -> None:
    text = "Fan   Status   Speed\n{}\n 0    OK       60%\n 1    Bad      0%\ntern-9> "
    for ruler in ("---   ------   -----", "---   ----V-   -----", "---   ------   --Q--", "--x   ------   -----"):
        assert ["fan-0", "fan-1"] == [r.unit for r in read(text.format(ruler))]


def test_the_rotors_of_a_tray_are_named_alike_where_one_of_them_is_alone() -> None:
    text = """
        Device  Fan   Speed     Status
        ------------------------------
        FAN1    F1    6105      OK
        FAN1    F2    5298      OK
        FAN2    F2    6071      OK
        """
    assert [("fan-1", "F1"), ("fan-1", "F2"), ("fan-2", "F2")] == [(r.unit, r.name) for r in read(text)]


def test_the_speed_of_something_with_another_number_is_not_that_of_its_tray() -> None:
    text = "cooling\n  fan-module 1\n    state          operational\n    {} 1 speed    9120 rpm\ntern-9> "
    assert rpm(9120) in [r.given("speed") for r in read(text.format("fan"))]
    assert rpm(9120) not in [r.given("speed") for r in read(text.format("fxn"))]


def test_a_temperature_without_a_name_is_none() -> None:
    """A damaged prompt that stands below a table is no sensor of it."""
    text = """
        tern-9:admin> tempshow
        Sensor  State            Centigrade      Fahrenheit
          ID
        =====================================================
         1      Ok                  37               98
         2      Ok                  33               91
        {}:admin>
        """
    for prompt in ("tern-9", "tern-~", "te~n-9"):
        assert [celsius(37), celsius(33)] == [r.given("value") for r in read(text.format(prompt))]


def test_what_cards_take_is_no_table_of_supplies() -> None:
    text = """
        tern-c1# show power summary
        Module power use
        Slot  Model           Drawn     Budget
        ----  --------------  --------  --------
        1     TNL-48P         210 W     350 W
        2     TNL-48P         205 W     350 W
        tern-c1#
        """
    assert [] == read(text)


def test_a_sensor_of_a_supply_is_no_supply_whatever_its_row_leaves_out() -> None:
    text = """
        Sensor            State   Value
        ----------------  ------  ------
        PSU1 Inlet Temp   normal
        PSU2 Inlet Temp   normal  28 C
        """
    assert {"temperature"} == {r.kind for r in read(text)}


def test_rows_on_two_lines_that_fill_each_other() -> None:
    one, two = read(
        """
        Sensor            State   Value     Low    High
        ----------------  ------  --------  -----  -----
        Fan 1             normal
                                  8230 RPM  3000   9900
        Fan 2             failed
                                  0 RPM     3000   9900
        """
    )
    assert (rpm(8230), rpm(3000), Condition.OK) == (one.given("speed"), one.low_warning, one.condition)
    assert (rpm(0), Condition.FAILED) == (two.given("speed"), two.condition)


def test_a_variance_is_no_limit() -> None:
    (fan,) = read(
        """
        Name       Limit variance  Max Speed  Min Speed  Current Speed (RPM)  Fan State
        ---------  --------------  ---------  ---------  -------------------  ---------
        FAN1/1     15              24000      4200       9310                 ok
        """
    )
    assert rpm(9310) == fan.given("speed")
    assert rpm(15) not in fan.quantities().values()


def test_what_is_measured_stands_right_below_the_word_of_the_sensor() -> None:
    fan, bad, board = read(
        """
        Fan1(Fan Tray 1, Front):  OK
        fan:9200 RPM   (max = 20000 RPM, min = 3000 RPM, limit_variance = 15%)

        Fan3(Fan Tray 2, Front):  BAD
        fan:0 RPM   (max = 20000 RPM, min = 3000 RPM, limit_variance = 15%)

        Temp1(Board Sensor near CPU):  OK
        temp:38.5 C (lcrit = -20 C, max = 80 C, min = 5 C, crit = 85 C)
        """
    )
    assert (rpm(9200), rpm(3000), Condition.OK) == (fan.given("speed"), fan.low_warning, fan.condition)
    assert (rpm(0), Condition.FAILED) == (bad.given("speed"), bad.condition)
    assert (celsius(38.5), celsius(-20), celsius(85)) == (board.given("value"), board.low_critical, board.high_critical)


def test_a_numbered_line_of_pairs_is_a_sensor_whatever_figures_its_name_holds() -> None:
    processor, fan, rail = read(
        """
          4 CPU 0 Temp          alarm=0  value=52 C     high=90
          9 Fan 1               alarm=1  value=7200 RPM low=1000
         10 +12V                alarm=0  value=12.077 threshold_status=0
        """
    )
    assert (celsius(52), celsius(90), Condition.OK) == (
        processor.given("value"),
        processor.high_warning,
        processor.condition,
    )
    assert (rpm(7200), rpm(1000), True) == (fan.given("speed"), fan.low_warning, fan.condition is not Condition.OK)
    assert rail.kind == "device"


def test_keys_and_values_in_two_columns_without_a_mark_between_them() -> None:
    found = read(
        """
        System overview
        Up since                          Tue Mar  4 05:12:44 2031
        Memory usage (MB)                             3021
        Number of CPUs                                   8
        CPU Fan 0 speed (RPM)                         5640
        CPU 0 Temperature (Celsius)                     46
        Power supply 1 status                       NORMAL
        """
    )
    assert [("fan", "fan-0"), ("temperature", None), ("power_supply", "psu-1")] == [(r.kind, r.unit) for r in found]
    assert (rpm(5640), celsius(46)) == (found[0].given("speed"), found[1].given("value"))


def test_the_volts_in_a_rails_name_are_none_that_were_measured() -> None:
    (supply,) = [
        r
        for r in read(
            """
            PEM 0 status:
              State                      Online
              Voltage:
                52V output               51.8 V
              Current:
                52V output               11.2 A
            """
        )
        if r.kind == "power_supply"
    ]
    assert (volts(51.8), amps(11.2)) == (supply.given("output_voltage"), supply.given("output_current"))


STACK = """
    Member 1 (Active)  Model TN-2448P
      Internal temperature : 39 C  (limit 65 C)  OK
      PSU 1                : OK        AC   715 W
      Fan 1                : OK        6300 rpm
    Member 2 (Standby)  Model TN-2448P
      Internal temperature : 41 C  (limit 65 C)  Critical
      PSU 1                : Absent
      Fan 1                : Failed    0 rpm
    """


def test_members_with_words_beside_them_keep_their_things_apart() -> None:
    found = read(STACK)
    assert ["psu-1/1", "psu-2/1"] == [r.unit for r in found if r.kind == "power_supply"]
    assert [watts(715), None] == [r.given("capacity") for r in found if r.kind == "power_supply"]
    assert [("fan-1/1", Condition.OK), ("fan-2/1", Condition.FAILED)] == [
        (r.unit, r.condition) for r in found if r.kind == "fan"
    ]
    heat = [r for r in found if r.kind == "temperature"]
    assert [(celsius(65), Condition.OK), (celsius(65), Condition.FAILED)] == [
        (r.high_warning, r.condition) for r in heat
    ]
    assert {1, 5} == unread(STACK).keys()


def test_the_degrees_of_an_air_that_a_sentence_tells() -> None:
    (air,) = read("Power supply 1 is not installed.\nIntake air is 24 degrees C, alarm at 45 degrees C.\n")[1:]
    assert (celsius(24), celsius(45)) == (air.given("value"), air.high_critical)


def test_one_label_for_each_ruled_column_is_told_by_their_order() -> None:
    """By its place the last label would stand over nothing, and the capacity be told as what the supply takes."""
    one, _ = read(
        """
        PSU   Status    Input Power (W)         Capacity (W)
        ----  --------  ----------  -------
        1     ok        127         650
        2     ok        131         650
        """
    )
    assert (watts(127), watts(650)) == (one.given("input_power"), one.given("capacity"))


def test_bare_figures_of_a_supply_are_of_what_the_sensor_is_called() -> None:
    heat, into, out, odd = read(
        """
         11 PS1 Temp 1                      alarm=0  value=29  threshold_status=0
         13 PS1 VIN                         alarm=0  value=230  threshold_status=0
         14 PS1 VOUT_12V                    alarm=0  value=12.161  threshold_status=0
         15 PS1 Status                      alarm=0
        """
    )
    assert ("temperature", celsius(29)) == (heat.kind, heat.given("value"))
    assert (volts(230), volts(12.161)) == (into.given("input_voltage"), out.given("output_voltage"))
    assert ("psu-1", {}) == (odd.unit, odd.quantities())
    assert [] == read(" 13 PS1 Level                       alarm=0  value=230  threshold_status=0\n")


def test_a_cell_tells_the_side_of_the_figures_beside_it() -> None:
    text = """
        Module  Device       Sensor   Power    Voltage  Current  Capacity  Status
                                      [Watts]  [Volts]  [Amp]    [Watts]
        -------------------------------------------------------------------------
        PS1     power-mon    {:<8} 55.00    229.00   0.31     460.00    OK
        """
    (one,) = [r for r in read(text.format("input")) if r.kind == "power_supply"]
    assert (watts(55), volts(229), amps(0.31), watts(460)) == (
        one.given("input_power"), one.given("input_voltage"), one.given("input_current"), one.given("capacity"),
    )  # fmt: skip
    (other,) = [r for r in read(text.format("output")) if r.kind == "power_supply"]
    assert watts(55) == other.given("output_power")


def test_a_header_that_names_fans_and_supplies_leaves_it_to_the_rows() -> None:
    one, two = read(
        """
        Fan Power Supplies & Alarm         Status
        -----------------------------------------------
        Power supply A                     normal
        Power supply B                     failure
        """
    )
    assert [("psu-a", Condition.OK), ("psu-b", Condition.FAILED)] == [(r.unit, r.condition) for r in (one, two)]


def test_the_most_beside_the_wattage_of_a_supply_is_its_capacity() -> None:
    found = read(
        """
        tern# show system power-supply

          PS#   Model     Serial      State     Wattage   Max
          ----- --------- ----------- --------- --------- ------
          1     TNR285A   TN84K7X01P  Powered          71     250
          2     TNR285A   TN84K7X02P  Powered          73     250
        tern#
        """
    )
    supplies = [r for r in found if r.kind == "power_supply"]
    assert [(watts(250), None), (watts(250), None)] == [(r.given("capacity"), r.high_warning) for r in supplies]


@pytest.mark.parametrize("key", ["Power Cord", "AC Input", "Mains"])
def test_a_cord_that_is_well_does_not_make_its_supply_well(key: str) -> None:
    text = f"Power Supply #2\n   Serial Number: TN12345\n   Diagnostic Status\n           {key:<16}        OK\n"
    assert not [r for r in read(text) if r.condition is Condition.OK]


def test_a_limit_below_several_temperatures_is_of_none() -> None:
    text = "CPU temperature      40 C\nBoard temperature    35 C\nTemperature limits   0 / 70\n"
    assert [(celsius(40), None), (celsius(35), None)] == [(r.given("value"), r.high_warning) for r in read(text)]
    assert "is not told" in unread(text)[3]
    one = read("Board temperature    35 C\nTemperature limits   0 / 70\n")
    assert [(celsius(35), celsius(70))] == [(r.given("value"), r.high_warning) for r in one]


FANS_BY_WORD = """
    Class Item                           Status     Measurement
    Temp  Intake                         OK         33 degrees C / 91 degrees F
    Fans  Top Rear Fan                   OK         Spinning at {0}
          Bottom Rear Fan                OK         Spinning at {0}
          Top Middle Fan                 OK         Spinning at {0}
          Bottom Middle Fan              Check      Stopped
          Top Front Fan                  OK         Spinning at {0}
    """


@pytest.mark.parametrize("speed", ["intermediate-speed", "full speed", "a low speed"])
def test_how_fast_a_fan_turns_may_stand_in_words(speed: str) -> None:
    fans = [(r.name, r.condition) for r in read(FANS_BY_WORD.format(speed)) if r.kind == "fan"]
    names = ["Top Rear Fan", "Bottom Rear Fan", "Top Middle Fan", "Bottom Middle Fan", "Top Front Fan"]
    assert [(n, Condition.FAILED if n == "Bottom Middle Fan" else Condition.OK) for n in names] == fans


@pytest.mark.parametrize("speed", ["zero speed", "abnormal speed", "unknown-speed"])
def test_a_fan_that_turns_at_no_speed_to_speak_of_is_unread(speed: str) -> None:
    text = FANS_BY_WORD.format(speed)
    assert ["Bottom Middle Fan"] == [r.name for r in read(text) if r.kind == "fan"]
    assert {3, 4, 5, 7} <= unread(text).keys()


def test_rows_of_fans_below_each_other_are_no_header_of_another_table() -> None:
    """`Fan` and `speed` head columns elsewhere; beside `OK` they do not, and no row is taken for a heading."""
    text = FANS_BY_WORD.format("no speed")
    assert {3, 4, 5, 7} <= unread(text).keys()


SENSORS_NUMBERED = """
    Status | (#)Sensor           |             Reading | Low Limit | High Limit |
    ------ | ---------           |             ------- | --------- | ---------- |
    OK     | (4)    CPU1 Temp    |            35C/95F  |    0C/32F |   89C/192F |
    OK     | (1412) FAN1         |           3600 RPM  |   500 RPM |  25500 RPM |
           | (1546) FAN3         |                N/A  |       N/A |        N/A |
    OK     | (2951) PS1 Status   |   Presence Detected |           |            |
    {0:<6} | (3018) PS2 Status   | {1:>19} |           |            |
    """


def test_a_sensor_of_states_shows_in_words_what_the_supply_says_of_itself() -> None:
    """The states are those of IPMI v2.0, table 42-3."""
    by_unit = {r.unit or r.name: r for r in read(SENSORS_NUMBERED.format("Fail", "PS Failure Detected"))}
    assert celsius(35) == by_unit["(4) CPU1 Temp"].given("value")
    assert Condition.OK is by_unit["psu-1"].condition
    assert Condition.FAILED is by_unit["psu-2"].condition
    lost = {r.unit: r.condition for r in read(SENSORS_NUMBERED.format("OK", "Predictive Failure"))}
    assert Condition.WARNING is lost["psu-2"]
    odd = {r.unit: r.condition for r in read(SENSORS_NUMBERED.format("OK", "Something Detected"))}
    assert "psu-2" not in odd


def test_a_supply_that_is_only_detected_is_not_well() -> None:
    """Presence is not health."""
    (two,) = [r for r in read(SENSORS_NUMBERED.format("", "Presence Detected")) if r.unit == "psu-2"]
    assert Condition.UNKNOWN is two.condition


def test_a_place_whose_cells_are_all_dashes_is_told_without_figure_or_condition() -> None:
    """Neither well nor absent: the table does not say."""
    rows = read(SENSORS_NUMBERED.format("Fail", "PS Failure Detected"))
    (fan,) = [r for r in rows if r.unit == "fan-3"]
    assert (None, None, {}) == (fan.condition, fan.status_text, fan.quantities())
    bare = """
        Inlet Temp       | 23.000     | degrees C  | ok    | -7.000    | -5.000    | 0.000     | 40.000    | 45.000    | 50.000
        CPU2 Temp        | na         |            | na    | na        | na        | na        | na        | na        | na
        FAN1             | 4500.000   | RPM        | ok    | 300.000   | 500.000   | 700.000   | 25300.000 | 25400.000 | 25500.000
        FAN3             | na         |            | na    | na        | na        | na        | na        | na        | na
        """
    found = {r.name: r for r in read(bare)}
    assert [(None, {})] * 2 == [(found[n].condition, found[n].quantities()) for n in ("CPU2 Temp", "FAN3")]
    half = bare.replace("FAN3             | na  ", "FAN3             | 4400")
    assert "no unit that is known" in unread(half)[4], "a figure without its unit"


def test_a_bay_that_shows_dashes_alone_is_no_supply_that_is_well() -> None:
    text = """
        PS#   Status   Input (V)   Output (V)
        ----  -------  ----------  ----------
        1     OK       230.1       12.05
        2     {:<8} --          --
        """
    _, two = read(text.format("--"))
    assert ("psu-2", None, {}) == (two.unit, two.condition, two.quantities())
    assert [] == [r for r in read(text.format("")) if r.unit == "psu-2" and r.condition is Condition.OK]


FAILURES = """
    PSU  Status   Fan Failed  Input Lost  Output Failed
    ---  -------  ----------  ----------  -------------
    1    {0:<8} {1:<11} {2:<11} {3}
    2    OK       no          no          no
    """


@pytest.mark.parametrize(
    ("cells", "condition"),
    [
        (("present", "no", "no", "n/a"), Condition.UNKNOWN),  # a fan and an input that are well make no supply well
        (("present", "no", "no", "no"), Condition.OK),
        (("OK", "no", "yes", "no"), Condition.NO_INPUT),
        (("OK", "no", "no", "yes"), Condition.FAILED),
        (("OK", "on", "off", "off"), Condition.FAILED),
        (("OK", "no", "perhaps", "no"), Condition.UNKNOWN),
    ],
)
def test_whether_the_input_the_output_or_the_fan_of_a_supply_has_failed(
    cells: tuple[str, ...], condition: Condition
) -> None:
    (one,) = [r for r in read(FAILURES.format(*cells)) if r.unit == "psu-1"]
    assert condition is one.condition


@pytest.mark.parametrize("said", ["Yes", "Set", "Failed"])
def test_an_input_that_failed_is_told_below_a_supply_that_calls_itself_well(said: str) -> None:
    (one,) = read(f"PSU 1\n  Status     : OK\n  Input Fail : {said}\n  Serial No  : WX0123\n")
    assert Condition.NO_INPUT is one.condition


NAMED_COLUMNS = """
    STV:tern-04:ops>lsenclosurepsu
    enclosure_id PSU_id status  input_failed output_failed redundant FRU_part_number
    1            1      online  off          off           yes       WXM27Q1904
    1            2      offline on           on            no        WXM27Q1904
    2            1      online  {0:<12} off           yes       WXM27Q1904
    STV:tern-04:ops>lsenclosure
    STV:tern-04:ops>
    """


def test_labels_joined_by_underscores_may_stand_one_blank_apart() -> None:
    found = {r.unit: r for r in read(NAMED_COLUMNS.format("off"))}
    assert ["psu-1/1", "psu-1/2", "psu-2/1"] == list(found)
    assert (Condition.NO_INPUT, "WXM27Q1904") == (found["psu-1/2"].condition, found["psu-1/2"].given("part_number"))


def test_a_row_that_does_not_stand_below_such_labels_is_unread() -> None:
    text = NAMED_COLUMNS.format("off").replace("    2            1 ", "    2          1   ")
    assert "psu-2/1" not in {r.unit for r in read(text)}
    assert 5 in unread(text)


def test_a_header_with_a_number_sign_is_no_prompt() -> None:
    supply, other = read("""
        PS#   Status   Input (V)   Output (V)
        ----  -------  ----------  ----------
        1     OK       230.1       12.05
        2     Failed   0.0         0.0
        """)
    assert (Condition.OK, Condition.FAILED) == (supply.condition, other.condition)


CODED_PARTS = """
    tern-04# show inventory
    Unit Type                              Part Number  Rev  Piece Part ID             Svc Tag
    ------------------------------------------------------------------------------------------
    * 1  WXC-4148F                         09WX9M       X01  WX-09WX9M-713-0026        9WX1XC2
      1  WXC-4148F-PWR-1-AC-R              06WXMV       A00  WX-06WXMV-713-00A4
      1  WXC-4148F-PWR-2-AC-R              06WXMV       A00  WX-06WXMV-713-00B1
      1  WXC-4148F-FANTRAY-1-R             0WX2GT       A00  WX-0WX2GT-713-0105
    tern-04#
    """


def test_a_type_code_tells_which_part_a_row_of_the_inventory_is() -> None:
    found = read(CODED_PARTS)
    assert {"inventory"} == {r.kind for r in found}
    told = [(r.unit or r.name, r.given("part_number")) for r in found]
    assert [("WXC-4148F", "09WX9M"), ("psu-1", "06WXMV"), ("psu-2", "06WXMV"), ("fan-1", "0WX2GT")] == told
    assert not unread(CODED_PARTS)


def test_codes_of_several_units_keep_their_unit_apart() -> None:
    stack = CODED_PARTS.replace("  1  WXC-4148F-PWR-2", "  2  WXC-4148F-PWR-1")
    assert {"psu-1/1", "psu-2/1", "fan-1/1"} <= {r.unit for r in read(stack)}


@pytest.mark.parametrize(
    ("old", "new"),
    [("WXC-4148F-PWR-2-AC-R ", "PRL-4148F-PWR-2-AC-R "), ("-PWR-", "-PORT-")],
)
def test_a_code_alone_makes_no_part_of_the_chassis(old: str, new: str) -> None:
    assert [] == [r for r in read(CODED_PARTS.replace(old, new)) if (r.unit or "").startswith("psu")]
