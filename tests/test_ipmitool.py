"""ipmitool: what its commands print, in forms that no recording of ours holds, and every recording wholly read.

Forms: printed lines of ipmitool's source (lib/ipmi_sdr.c, ipmi_sensor.c, ipmi_sel.c, ipmi_chassis.c). States of a
power supply: IPMI v2.0 table 42-3.
"""

import pathlib

import pytest

from consolecheck.files.shelf import dialects
from consolecheck.reading.reader import read_text
from consolecheck.records.readings import Condition, Snapshot

CAPTURES = pathlib.Path(__file__).parent.parent.parent / "shared" / "captures"
RECORDED = sorted(CAPTURES.glob("ipmitool*/*.txt"))
TOOL = next(d for d in dialects() if d.name == "ipmitool")


def seen(text: str) -> Snapshot:
    return read_text(text.encode(), "text", dialects(), TOOL)


def verbose(name: str, *asserted: str, kind: str = "Power Supply") -> str:
    states = "".join(f"                         [{state}]\n" for state in asserted)
    return (
        f"Sensor ID              : {name} (0x3)\n Entity ID             : 10.2 (Power Supply)\n"
        f" Sensor Type (Discrete): {kind}\n"
        + (f" States Asserted       : {kind}\n{states}" if asserted else "")
        + f" Assertions Enabled    : {kind}\n                         [Failure detected]\n"
        " OEM                   : 0\n\n"
    )


@pytest.mark.skipif(not RECORDED, reason="the recordings are not here")
def test_every_recording_is_recognised_and_wholly_read() -> None:
    for file in RECORDED:
        snapshot = read_text(file.read_bytes(), file.name, dialects())
        assert "ipmitool" == snapshot.dialect, file.name
        assert [] == list(snapshot.unread), file.name
        lines = {n for s in snapshot.sightings for n in s.lines} | {p.number for p in snapshot.passed_over}
        rows = [n for n, text in enumerate(file.read_text().split("\n"), 1) if " | " in text]
        assert set(rows) <= lines, file.name


@pytest.mark.skipif(not RECORDED, reason="the recordings are not here")
@pytest.mark.parametrize(
    ("state", "unit", "condition"),
    [
        ("healthy", "psu-2", "ok"),
        ("psu2-removed", "psu-2", "absent"),
        ("psu2-no-input", "psu-2", "no-input"),
        ("psu2-input-restored", "psu-2", "ok"),
        ("fan3-rotor-failed", "fan-3", "failed"),
        ("fan3-tray-dead", "fan-3", "failed"),
        ("fan3-tray-replaced", "fan-3", "ok"),
        ("healthy-again", "fan-3", "ok"),
    ],
)
@pytest.mark.parametrize("command", ["sensor", "sdr-elist", "sdr-elist-all"])
def test_recorded_states_are_told_alike_by_each_command(state: str, unit: str, condition: str, command: str) -> None:
    from consolecheck.judging.view import View

    raw = (CAPTURES / "ipmitool-emulated-bmc" / f"{state}.{command}.txt").read_bytes()
    assert Condition(condition) is View(read_text(raw, command, dialects()), "after").condition(unit)


@pytest.mark.parametrize(
    ("asserted", "condition"),
    [
        (("Presence detected",), "ok"),
        (("Presence detected", "Failure detected"), "failed"),
        (("Presence detected", "Predictive failure"), "warning"),
        (("Presence detected", "Power Supply AC lost"), "no-input"),
        (("Presence detected", "Failure detected", "AC lost or out-of-range"), "no-input"),
        (("Presence detected", "AC out-of-range, but present"), "warning"),
        (("Presence detected", "Config Error"), "failed"),
        (("Presence detected", "Power Supply Inactive"), "standby"),
        (("Presence detected", "Splendid"), "unknown"),
        (("Failure detected",), "failed"),
        ((), "unknown"),
    ],
)
def test_the_verbose_form_tells_what_is_asserted_and_not_what_is_watched(
    asserted: tuple[str, ...], condition: str
) -> None:
    snapshot = seen(verbose("PSU2 Status", *asserted))
    assert [] == list(snapshot.unread)
    assert [("power_supply", "psu-2", Condition(condition))] == [
        (r.kind, r.unit, r.condition) for r in snapshot.readings
    ]


def test_the_verbose_form_of_later_versions() -> None:
    snapshot = seen(
        """Sensor ID              : Fan3 Front (0x30)
 Entity ID             : 29.3 (Fan Device)
 Sensor Type (Threshold)  : Fan (0x04)
 Sensor Reading        : 4920 (+/- 120) RPM
 Status                : ok
 Nominal Reading       : 10080.000
 Lower critical        : 720.000
 Lower non-critical    : 840.000
 Positive Hysteresis   : Unspecified
 Negative Hysteresis   : Unspecified
 Minimum sensor range  : Unspecified
 Maximum sensor range  : Unspecified
 Event Message Control : Entire Sensor Only
 Readable Thresholds   : lcr lnc
 Settable Thresholds   :
 Threshold Read Mask   : lcr lnc
 Assertions Enabled    : lnc- lcr-
 Deassertions Enabled  : lnc- lcr-

Sensor ID              : Fan4 Front (0x31)
 Entity ID             : 29.4 (Fan Device)
 Sensor Type (Threshold)  : Fan (0x04)
 Sensor Reading        : No Reading
 Status                : Disabled
 Event Message Control : No Events From Sensor
 Readable Thresholds   : No Thresholds
 Settable Thresholds   : No Thresholds

Device ID              : Rack BMC
Entity ID              : 6.1 (System Management Module)
Device Slave Address   : 20h
Channel Number         : 0h
ACPI System P/S Notif  : Not Required
Controller Presence    : Dynamic
Logs Init Agent Errors : No
Event Message Gen      : Enable
Device Capabilities
 Chassis Device        : Yes
 FRU Inventory Device  : Yes

"""
    )
    assert [] == list(snapshot.unread)
    three, four = snapshot.readings
    assert ("fan-3", Condition.OK, 4920) == (three.unit, three.condition, three.given("speed").value)
    assert (720, 840) == (three.given("low_critical").value, three.given("low_warning").value)
    assert ("fan-4", None) == (four.unit, four.given("speed"))
    assert Condition.UNKNOWN is four.condition


@pytest.mark.parametrize(
    "row",
    [
        "System Airflow   | 33 CFM            | ok",
        "System Airflow   | 5Ah | ok  |  7.1 | 33 CFM",
        "System Airflow   | 33.000     | CFM        | ok    | na        | na        | na        | na        | na        | na",
    ],
)
def test_a_unit_that_no_reading_has_is_told_as_text(row: str) -> None:
    snapshot = seen(row + "\n")
    assert [] == list(snapshot.unread)
    assert [("device", "System Airflow", Condition.OK, {})] == [
        (r.kind, r.name, r.condition, r.quantities()) for r in snapshot.readings
    ]


@pytest.mark.parametrize(
    "row",
    [
        "PSU2 Vin         | 07h | ok  | 10.2 | 230",
        "PSU2 Vin         | 230               | ok",
        "PSU2 Vin         | 230 furlongs      | ok",
        "PSU2 Vin         | 230.000    | furlongs   | ok    | na        | na        | na        | na        | na        | na",
    ],
)
def test_a_figure_without_its_unit_or_in_no_unit_is_unread(row: str) -> None:
    assert seen(row + "\n").unread or not seen(row + "\n").readings


@pytest.mark.parametrize(
    "row",
    [
        "Rack BMC         | Dynamic MC @ 20h  | ok",
        "Rack BMC         | Static MC @ 20h   | ok",
        "Fan Tray 1       | Log FRU @03h 1d.1 | ok",
        "Backplane        | Phy FRU @50h 0f.1 | ok",
        "Sensor bus       | Generic @A0:20.0  | ok",
        "Fan Tray 1       | 00h | ns  | 29.1 | Physical FRU @03h",
        "Sensor bus       | 00h | ns  | 29.1 | Generic Device @A0h:20h.0",
    ],
)
def test_a_record_that_places_a_part_says_nothing_of_its_health(row: str) -> None:
    snapshot = seen(row + "\n")
    assert [] == list(snapshot.unread)
    assert [("device", None)] == [(r.kind, r.condition) for r in snapshot.readings]


def test_chassis_status_without_buttons() -> None:
    text = """System Power         : on
Power Overload       : false
Power Interlock      : inactive
Main Power Fault     : false
Power Control Fault  : false
Power Restore Policy : previous
Last Power Event     : ac-failed
Chassis Intrusion    : inactive
Front-Panel Lockout  : inactive
Drive Fault          : false
Cooling/Fan Fault    : true
Front Panel Control  : none
"""
    snapshot = seen(text)
    assert [] == list(snapshot.unread)
    assert Condition.FAILED is next(r.condition for r in snapshot.readings if r.name == "Cooling/Fan Fault")


def test_an_event_before_the_clock_was_set() -> None:
    row = "   1 |  Pre-Init  |0000000012| Power Supply PSU2 Status | Power Supply AC lost | Asserted\n"
    (alarm,) = seen(row).readings
    assert ("psu-2", Condition.FAILED) == (alarm.unit, alarm.condition)


def test_power_reading_as_indented_by_the_tool() -> None:
    text = """
    Instantaneous power reading:                   176 Watts
    Minimum during sampling period:                  1 Watts
    Maximum during sampling period:                656 Watts
    Average power reading over sample period:      113 Watts
    IPMI timestamp:                           11/25/26 12:51:19 UTC
    Sampling period:                          00010000 Milliseconds
    Power reading state is:                   activated

"""
    snapshot = seen(text)
    assert [] == list(snapshot.unread)
    assert 176 == snapshot.readings[0].given("value").value
