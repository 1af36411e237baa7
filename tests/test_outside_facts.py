"""The judging rules and the dialects' data against published facts, each named with its source."""

from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import Limits, case, dialect, findings, outcome, outcomes, q, snapshot, still, table_rows

from consolecheck.files.shelf import dialects
from consolecheck.judging.acceptance import Acceptance, CoolingLimits, PowerLimits, TemperatureLimits
from consolecheck.judging.rules.load import LEAST_EFFICIENCY, fits_after_loss, needed_units
from consolecheck.judging.rules.service import clock_of
from consolecheck.judging.rules.temperature import AIR_CLASSES, RECOMMENDED
from consolecheck.judging.view import Case, Observed, View
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import (
    AnyReading,
    Condition,
    Device,
    Fan,
    Inventory,
    PowerSupply,
    Snapshot,
    Temperature,
)
from consolecheck.records.units import Quantity

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
OK, WARNING, FAILED, ABSENT, NO_INPUT, STANDBY, UNKNOWN = (
    Condition.OK, Condition.WARNING, Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT, Condition.STANDBY, Condition.UNKNOWN,
)  # fmt: skip


# ---- IPMI v2.0: thresholds

FOUR = Limits(low_critical=5, low_warning=10, high_warning=55, high_critical=60)


def sensors(value: float) -> list[tuple[str, AnyReading]]:
    """One value beside the same four limits, as each kind of sensor, with the rule that judges it."""
    return [
        ("temperature.limits", Temperature(name="inlet", value=q(f"{value} C"), condition=OK, **FOUR.of("C"))),
        ("cooling.own-limits", Fan(unit="fan-1", name="1A", speed=q(f"{value} rpm"), condition=OK, **FOUR.of("rpm"))),
        (
            "power.own-limits",
            PowerSupply(unit="psu-1", name="PSU1 Pin", input_power=q(f"{value} W"), condition=OK, **FOUR.of("W")),
        ),
        ("service.own-limits", Device(name="rail", value=q(f"{value} V"), condition=OK, **FOUR.of("V"))),
    ]


@pytest.mark.parametrize(
    ("value", "tripped"),
    [
        (4.9, "low_critical"), (5, "low_critical"), (5.1, "low_warning"),
        (9.9, "low_warning"), (10, "low_warning"), (10.1, None),
        (30, None),
        (54.9, None), (55, "high_warning"), (55.1, "high_warning"),
        (59.9, "high_warning"), (60, "high_critical"), (60.1, "high_critical"),
    ],
)  # fmt: skip
def test_a_reading_equal_to_a_threshold_trips_it(value: float, tripped: str | None) -> None:
    """IPMI v2.0 rev 1.1, Get Sensor Reading: lower thresholds trip at or below, upper ones at or above."""
    for rule, reading in sensors(value):
        (found,) = findings(rule, still(reading, PowerSupply(unit="psu-1", condition=OK)))
        assert found.outcome is (UNMET if tripped else MET)
        if tripped:
            assert isinstance(found.limit, Quantity)
            assert found.limit.value == getattr(FOUR, tripped)


@given(st.permutations([1.0, 2.0, 3.0, 4.0]), st.floats(-10, 10))
def test_thresholds_out_of_order_judge_nothing(given_limits: list[float], value: float) -> None:
    """IPMI v2.0: LCR <= LNC <= UNC <= UCR. A row that prints another order was not rightly read."""
    limits = Limits(*given_limits)
    reading = Temperature(name="inlet", value=Quantity(value=value, unit="Cel"), condition=OK, **limits.of("C"))
    found = outcome("temperature.limits", still(reading, PowerSupply(unit="psu-1", condition=OK)))
    assert (found is UNDETERMINED) == (given_limits != sorted(given_limits))


@pytest.mark.parametrize(("value", "expected"), [(70, UNMET), (69.9, MET), (69, MET), (67.9, MET)])
def test_hysteresis_plays_no_part_in_a_single_reading(value: float, expected: Outcome) -> None:
    """IPMI v2.0, Set Sensor Hysteresis: it delays the clearing of an asserted state. One text shows no history."""
    text = VERBOSE.replace("34 (+/- 0)", f"{value} (+/- 0)").encode()
    read = read_text(text, "after.txt", dialects(), dialect("ipmitool"))
    assert read.unread == ()
    (temperature,) = read.readings
    assert isinstance(temperature, Temperature)
    assert temperature.high_critical == q("70 C")
    assert outcome("temperature.limits", still(temperature, PowerSupply(unit="psu-1", condition=OK))) is expected


VERBOSE = """\
Sensor ID              : Inlet Temp (0x21)
 Entity ID             : 12.1 (Front Panel Board)
 Sensor Type (Analog)  : Temperature
 Sensor Reading        : 34 (+/- 0) degrees C
 Status                : ok
 Nominal Reading       : 28.000
 Normal Minimum        : 10.000
 Normal Maximum        : 45.000
 Upper critical        : 70.000
 Lower critical        : 3.000
 Positive Hysteresis   : 2.000
 Negative Hysteresis   : 1.000
 Minimum sensor range  : Unspecified
 Maximum sensor range  : Unspecified
 Event Message Control : Per-threshold
 Readable Thresholds   : lcr ucr
 Settable Thresholds   : lcr ucr
 Threshold Read Mask   : lcr ucr
 Assertion Events      :
 Assertions Enabled    : lcr- ucr+
 Deassertions Enabled  : lcr- ucr+

"""


# ---- IPMI v2.0 as ipmitool prints it


def ipmitool(*lines: str) -> Snapshot:
    """Lines as ipmitool prints them, wholly read."""
    read = read_text("".join(f"{line}\n" for line in lines).encode(), "after.txt", dialects(), dialect("ipmitool"))
    assert read.unread == ()
    return read


def sensor_row(name: str, value: str, unit: str, status: str, *thresholds: str) -> str:
    """A row of `ipmitool sensor`: name, value, unit, status, LNR, LCR, LNC, UNC, UCR, UNR."""
    cells = [f"{cell:<10}" for cell in (thresholds or ("na",) * 6)]
    return f"{name:<16} | {value:<10} | {unit:<10} | {status:<6}| {'| '.join(cells)}"


def discrete_row(name: str, mask: int) -> str:
    """A discrete sensor's row: the states' low byte is printed first (ipmitool's source)."""
    return sensor_row(name, f"0x{mask & 0xFF:x}", "discrete", f"0x{mask & 0xFF:02x}{mask >> 8:02x}")


def test_the_ten_columns_land_on_the_right_names() -> None:
    """Print order in ipmitool's source: LNR, LCR, LNC, UNC, UCR, UNR, which is not the order of the bytes."""
    row = sensor_row("PSU1 Temp", "24.000", "degrees C", "ok", "1.000", "2.000", "3.000", "55.000", "60.000", "65.000")
    (temperature,) = ipmitool(row).readings
    assert temperature == Temperature(
        unit="psu-1", name="PSU1 Temp", value=q("24 C"), condition=OK, status_text="ok",
        low_critical=q("2 C"), low_warning=q("3 C"), high_warning=q("55 C"), high_critical=q("60 C"),
    )  # fmt: skip


def test_an_absent_threshold_is_none_and_not_zero() -> None:
    row = "PSU1 Temp        | 24.000     | degrees C  | ok    | na        | na        | na        | 55.000    | 60.000    | na        "
    (temperature,) = ipmitool(row).readings
    assert temperature == Temperature(
        unit="psu-1", name="PSU1 Temp", value=q("24 C"), condition=OK, status_text="ok",
        high_warning=q("55 C"), high_critical=q("60 C"),
    )  # fmt: skip


@pytest.mark.parametrize(("value", "expected"), [("64.000", MET), ("65.000", UNMET), ("2.000", MET), ("1.000", UNMET)])
def test_non_recoverable_limits_count_where_no_others_are_given(value: str, expected: Outcome) -> None:
    """IPMI v2.0: any of the six may be absent, and every one that is present is a limit."""
    row = sensor_row("Inlet Temp", value, "degrees C", "ok", "1.000", "na", "na", "na", "na", "65.000")
    read = ipmitool(row, discrete_row("PSU1 Status", 1))
    assert outcome("temperature.limits", case(read, read, "psu-1")) is expected


@pytest.mark.parametrize(
    ("word", "condition"),
    [("ok", OK), ("nc", WARNING), ("lnc", WARNING), ("unc", WARNING), ("cr", FAILED), ("lcr", FAILED), ("ucr", FAILED),
     ("nr", FAILED), ("lnr", FAILED), ("unr", FAILED)],
)  # fmt: skip
def test_status_words(word: str, condition: Condition) -> None:
    """ipmitool's source: nc non-critical, cr critical, nr non-recoverable; l and u for lower and upper."""
    row = sensor_row("Inlet Temp", "24.000", "degrees C", word, "na", "na", "na", "55.000", "60.000", "na")
    read = ipmitool(row, discrete_row("PSU1 Status", 1))
    assert read.readings[0].condition is condition
    assert outcome("temperature.status", case(read, read, "psu-1")) is (MET if condition is OK else UNMET)


UNAVAILABLE = {
    # IPMI v2.0, Get Sensor Reading, byte 3 bit 5: reading unavailable. The forms are those of ipmitool's source.
    "sensor": sensor_row("Inlet Temp", "na", "degrees C", "na", "na", "na", "na", "55.000", "60.000", "na"),
    "sensor, no scan": sensor_row("Inlet Temp", "na", "degrees C", "ns", "na", "na", "na", "55.000", "60.000", "na"),
    "sdr": "Inlet Temp       | no reading        | ns",
    "sdr, disabled": "Inlet Temp       | disabled          | ns",
    "sdr, not readable": "Inlet Temp       | Not Readable      | ns",
    "sdr elist": "Inlet Temp       | 21h | ns  | 12.1 | No Reading",
    "sdr elist, disabled": "Inlet Temp       | 21h | ns  | 12.1 | Disabled",
}


@pytest.mark.parametrize("row", UNAVAILABLE.values(), ids=UNAVAILABLE.keys())
def test_an_unavailable_reading_is_neither_zero_nor_well(row: str) -> None:
    (reading,) = ipmitool(row).readings
    assert reading.condition is not OK
    assert getattr(reading, "value", None) is None
    for rule in ("temperature.status", "temperature.limits"):
        found = outcomes(rule, still(reading, PowerSupply(unit="psu-1", condition=OK)))
        assert MET not in found.values()


@pytest.mark.parametrize("row", UNAVAILABLE.values(), ids=UNAVAILABLE.keys())
def test_an_unavailable_fan_is_neither_zero_nor_well(row: str) -> None:
    row = row.replace("Inlet Temp", "Fan3 Front").replace("degrees C ", "RPM       ")
    (reading,) = ipmitool(row).readings
    assert isinstance(reading, Fan)
    assert reading.condition is not OK
    assert reading.speed is None
    for rule in ("cooling.status", "cooling.own-limits"):
        found = outcomes(rule, still(reading, PowerSupply(unit="psu-1", condition=OK)))
        assert MET not in found.values()


def test_an_unreadable_sensor_in_the_verbose_form_is_never_read_as_well() -> None:
    """ipmitool's source: `Unable to read sensor: Device Not Present`."""
    text = VERBOSE.replace(
        " Sensor Reading        : 34 (+/- 0) degrees C\n", " Unable to read sensor: Device Not Present\n"
    )
    read = read_text(text.encode(), "after.txt", dialects(), dialect("ipmitool"))
    assert read.unread or all(r.condition is not OK and not r.quantities() for r in read.readings)


# IPMI v2.0 table 42-3, sensor type 08h. Bits: 0 presence, 1 failure, 2 predictive failure, 3 input lost,
# 4 input lost or out of range, 5 input out of range but present, 6 configuration error, 7 inactive (standby).
POWER_STATES = [
    (0x0001, "Presence detected", OK, MET),
    (0x0000, "", ABSENT, UNMET),
    (0x0003, "Presence detected, Failure detected", FAILED, UNMET),
    (0x0005, "Presence detected, Predictive failure", WARNING, UNMET),
    (0x0009, "Presence detected, Power Supply AC lost", NO_INPUT, UNMET),
    (0x0011, "Presence detected, AC lost or out-of-range", NO_INPUT, UNMET),
    (0x0021, "Presence detected, AC out-of-range, but present", WARNING, UNMET),
    (0x0041, "Presence detected, Config Error", FAILED, UNMET),  # the wrong module is fitted
    (0x0081, "Presence detected, Power Supply Inactive", STANDBY, MET),
    (0x000B, "Presence detected, Failure detected, Power Supply AC lost", NO_INPUT, UNMET),
]


@pytest.mark.parametrize(("mask", "text", "condition", "expected"), POWER_STATES)
def test_power_supply_states(mask: int, text: str, condition: Condition, expected: Outcome) -> None:
    """As bits in `sensor`, with and without the reserved bit 15 that some controllers set, and as words in `sdr elist`."""
    elist = f"PSU2 Status      | 02h | ok  | 10.2 | {text}"
    for row in (discrete_row("PSU2 Status", mask), discrete_row("PSU2 Status", mask | 0x8000), elist):
        read = ipmitool(row)
        assert View(read, "after").condition("psu-2") is condition
        assert outcome("power.status", case(read, read, "psu-2")) is expected


@pytest.mark.parametrize(
    "mask",
    [m for m in range(256) if not m & 1 or m & 0b0111_1110],
)
def test_no_other_power_supply_state_is_well(mask: int) -> None:
    """Without presence, or with any fault beside it, a supply is not good."""
    read = ipmitool(discrete_row("PSU2 Status", mask))
    assert outcome("power.status", case(read, read, "psu-2")) is not MET


# IPMI v2.0 table 42-2, event/reading type 0Bh. Only full redundancy has a spare; 3 and 4 run without one.
REDUNDANCY_STATES = [
    (0, "Fully Redundant"),
    (1, "Redundancy Lost"),
    (2, "Redundancy Degraded"),
    (3, "Non-Redundant: Sufficient from Redundant"),
    (4, "Non-Redundant: Sufficient from Insufficient"),
    (5, "Non-Redundant: Insufficient Resources"),
    (6, "Redundancy Degraded from Fully Redundant"),
    (7, "Redundancy Degraded from Non-Redundant"),
]


PSU_ROW = "PSU1 Status      | 01h | ok  | 10.1 | Presence detected"


@pytest.mark.parametrize(
    ("bit", "row"),
    [
        *(pytest.param(bit, discrete_row("PS Redundancy", 1 << bit), id=f"bit {bit}") for bit, _ in REDUNDANCY_STATES),
        *(
            pytest.param(bit, f"PS Redundancy    | 30h | ok  | 21.1 | {text}", id=text)
            for bit, text in REDUNDANCY_STATES
        ),
    ],
)
def test_only_full_redundancy_is_well(bit: int, row: str) -> None:
    read = ipmitool(row, PSU_ROW)
    reading = next(r for r in read.readings if isinstance(r, Device))
    assert (reading.condition is OK) == (bit == 0)
    assert UNMET in outcomes("service.facts", case(read, read, "psu-1")).values() or bit == 0
    if bit == 5:
        assert reading.condition is FAILED


def test_redundancy_that_fell_is_not_redundancy() -> None:
    """Several bits at once: the worse one counts."""
    for mask in range(2, 256):
        (reading,) = ipmitool(discrete_row("Fan Redundancy", mask)).readings
        assert reading.condition is not OK


EVENTS = [
    # IPMI v2.0 table 42-2, threshold events 0 to 11: even goes low, odd goes high. Trailing blanks as ipmitool prints.
    "Lower Non-critical going low ", "Lower Non-critical going high", "Lower Critical going low ", "Lower Critical going high",
    "Lower Non-recoverable going low ", "Lower Non-recoverable going high", "Upper Non-critical going low ", "Upper Non-critical going high",
    "Upper Critical going low ", "Upper Critical going high", "Upper Non-recoverable going low ", "Upper Non-recoverable going high",
]  # fmt: skip


@pytest.mark.parametrize("event", EVENTS)
def test_threshold_events(event: str) -> None:
    def log(number: int, word: str) -> str:
        reading = "Reading 46 > Threshold 45 degrees C"
        return f"{number:4x} | 11/25/26 | 12:51:21 UTC | Temperature Inlet Temp | {event} | {word} | {reading}"

    quiet = ipmitool("SEL has no entries", PSU_ROW)
    for lines, condition, expected in (
        ((log(1, "Asserted"),), FAILED, UNMET),
        ((log(1, "Asserted"), log(2, "Deasserted")), OK, MET),
    ):
        read = ipmitool(*lines, PSU_ROW)
        alarms = [r for r in read.readings if r.kind == "alarm"]
        assert alarms[-1].condition is condition
        assert outcome("service.alarms", case(quiet, read, "psu-1")) is expected


# ---- RFC 3433, RFC 4268, RFC 6933


@pytest.mark.parametrize(
    ("condition", "value", "expected"),
    [
        (OK, "24 C", MET),
        (OK, None, UNDETERMINED),  # ok says that a value can be obtained; without one it says nothing
        (UNKNOWN, None, UNDETERMINED),  # unavailable
        (UNKNOWN, "24 C", UNDETERMINED),
        (FAILED, "24 C", UNMET),  # nonoperational: believed broken, whatever it shows
    ],
)
def test_the_status_of_a_sensor(condition: Condition, value: str | None, expected: Outcome) -> None:
    """RFC 3433, EntitySensorStatus: ok, unavailable, nonoperational."""
    reading = Temperature(name="inlet", condition=condition, value=q(value) if value else None)
    assert outcome("temperature.status", still(reading, PowerSupply(unit="psu-1", condition=OK))) is expected


def loaded(
    unit: str, amperes: float, condition: Condition = OK, volts: float = 12, capacity: float = 300
) -> PowerSupply:
    """A supply with its output."""
    return PowerSupply(
        unit=unit, condition=condition, status_text=condition.value, output_voltage=q(f"{volts} V"),
        output_current=q(f"{amperes} A"), capacity=q(f"{capacity} W"),
    )  # fmt: skip


@pytest.mark.parametrize("excused", [True, False])
def test_a_supply_in_standby_is_good_at_zero_output(excused: bool) -> None:
    """RFC 4268, EntityStandbyStatus: hotStandby takes over without delay; it is healthy and carries nothing."""
    acceptance = Acceptance(power=PowerLimits(standby_is_good=excused))
    judged = still(loaded("psu-1", 20), loaded("psu-2", 0, STANDBY), unit="psu-2", acceptance=acceptance)
    expected = MET if excused else UNMET
    assert outcomes("power.status", judged)["psu-2"] is expected
    assert outcome("power.carries-load", judged) is expected


def test_a_supply_that_serves_and_carries_nothing_is_not_good() -> None:
    judged = still(loaded("psu-1", 20), loaded("psu-2", 0), unit="psu-2")
    assert outcome("power.carries-load", judged) is UNMET


@pytest.mark.parametrize(
    ("condition", "expected"),
    [(OK, MET), (WARNING, UNMET), (FAILED, UNMET), (UNKNOWN, UNDETERMINED), (None, UNDETERMINED)],
)
def test_enabled_with_an_alarm_bit_is_not_clean_and_unknown_is_open(
    condition: Condition | None, expected: Outcome
) -> None:
    """RFC 4268, EntityOperState and EntityAlarmStatus: no bit is no alarm; where it cannot be told it reads unknown."""
    assert outcome("power.status", still(PowerSupply(unit="psu-1", condition=condition))) is expected
    fan = Fan(unit="fan-1", condition=condition)
    assert outcome("cooling.status", still(fan, unit="fan-1")) is expected


def part(serial: str | None) -> list[AnyReading]:
    """A supply whose inventory has a serial, beside one that stays."""
    return [
        PowerSupply(unit="psu-1", condition=OK),
        PowerSupply(unit="psu-2", condition=OK),
        Inventory(unit="psu-1", serial="TG4100A", part_number="TIDE-650"),
        Inventory(unit="psu-2", serial=serial, part_number="TIDE-650"),
    ]


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ("TG4100B", "TG4177C", MET),
        ("TG4100B", "TG4100B", UNMET),  # reseated, not replaced
        ("TG4100B", "", UNDETERMINED),
        ("TG4100B", None, UNDETERMINED),
        ("", "TG4177C", UNDETERMINED),
        ("", "", UNDETERMINED),  # unknown twice is not the same
        (None, None, UNDETERMINED),
        ("N/A", "TG4177C", UNDETERMINED),
        ("0000000000", "TG4177C", UNDETERMINED),
    ],
)
def test_serials_prove_a_replacement_only_where_both_are_known(
    before: str | None, after: str | None, expected: Outcome
) -> None:
    """RFC 6933, entPhysicalSerialNum: zero length means unknown; the printed serial is the one preferred."""
    judged = case(snapshot(*part(before)), snapshot(*part(after)), "psu-2")
    assert outcome("identity.replaced", judged) is expected


def test_the_printed_label_closes_the_gap_and_must_agree() -> None:
    labels = (Observed("psu-2", "serial", "TG4177C"), Observed("psu-2", "removed_serial", "TG4100B"))
    silent = case(snapshot(*part(None)), snapshot(*part(None)), "psu-2", observed=labels)
    assert outcome("identity.replaced", silent) is MET
    contradicted = case(snapshot(*part("TG4100B")), snapshot(*part("TG9999X")), "psu-2", observed=labels)
    assert outcome("identity.replaced", contradicted) is UNMET


# ---- ASHRAE TC 9.9, Thermal Guidelines for Data Processing Environments, 5th ed. (2021); data file with statuses

CLASSES = {row["class"]: row for row in table_rows("ashrae_classes.csv")}


def inlet_case(value: float, air_class: str, altitude: float = 0) -> Case:
    limits = TemperatureLimits.model_validate({"inlet_class": air_class, "altitude": altitude})
    inlet = Temperature(name="inlet", value=Quantity(value=value, unit="Cel"), condition=OK)
    return still(inlet, PowerSupply(unit="psu-1", condition=OK), acceptance=Acceptance(temperature=limits))


def test_the_classes_are_those_of_the_table() -> None:
    assert set(AIR_CLASSES) == set(RECOMMENDED) == set(CLASSES)
    for name, row in CLASSES.items():
        known_class = AIR_CLASSES[name]
        assert (known_class.low, known_class.high) == (float(row["allow_low_c"]), float(row["allow_high_c"]))
        assert known_class.metres_per_kelvin == float(row["derate_m_per_c"])
        assert RECOMMENDED[name] == (float(row["rec_low_c"]), float(row["rec_high_c"]))
        assert known_class.highest(float(row["derate_above_m"])) == float(row["allow_high_c"])
        assert known_class.highest(float(row["max_elevation_m"])) is not None
        assert known_class.highest(float(row["max_elevation_m"]) + 1) is None


@pytest.mark.parametrize("air_class", sorted(CLASSES))
def test_the_inlet_is_judged_by_the_allowable_range(air_class: str) -> None:
    row = CLASSES[air_class]
    low, high = float(row["allow_low_c"]), float(row["allow_high_c"])
    for value, expected in ((low, MET), (low - 0.1, UNMET), (high, MET), (high + 0.1, UNMET)):
        assert outcome("temperature.inlet-class", inlet_case(value, air_class)) is expected


def test_the_recommended_range_ends_at_27() -> None:
    """27.0 is recommended, 27.1 only allowable (A1)."""
    for value, beyond in ((27.0, False), (27.1, True), (18.0, False), (17.9, True)):
        (found,) = findings("temperature.inlet-class", inlet_case(value, "A1"))
        assert found.outcome is MET
        assert ("beyond the recommended range" in found.message) == beyond


@pytest.mark.parametrize(
    ("air_class", "metres", "highest"),
    [
        ("A1", 1500, 30.0), ("A2", 1800, 32.0), ("A3", 2000, 33.71), ("A4", 2150, 35.0), ("A1", 3050, 24.83),
        ("A1", 2400, 27.0),  # exactly the recommended top, which confirms the slope
        ("A1", 900, 32.0), ("A2", 899, 35.0), ("A4", 0, 45.0),
    ],
)  # fmt: skip
def test_the_highest_inlet_falls_with_altitude(air_class: str, metres: float, highest: float) -> None:
    """Notes to the 2021 and 2015 editions: above 900 m, 1 °C less a 300 m (A1, A2), 175 m (A3), 125 m (A4)."""
    assert AIR_CLASSES[air_class].highest(metres) == pytest.approx(highest, abs=0.005)
    for value, expected in ((highest - 0.01, MET), (highest + 0.01, UNMET)):
        assert outcome("temperature.inlet-class", inlet_case(value, air_class, metres)) is expected


def test_above_3050_m_every_class_ends() -> None:
    assert outcome("temperature.inlet-class", inlet_case(20, "A1", 3051)) is UNDETERMINED


def test_the_classes_are_for_inlet_air_alone() -> None:
    """They limit the air at the inlet, not what sensors inside read."""
    inside = Temperature(name="asic", value=q("92 C"), condition=OK)
    assert findings("temperature.inlet-class", still(inside, PowerSupply(unit="psu-1", condition=OK))) == []


# ---- service voltages; data file with statuses

VOLTAGES = {(row["system"], row["nominal_v"]): row for row in table_rows("service_voltages.csv")}


def fed(volts: float, kind: str | None = None, unit: str = "psu-1") -> PowerSupply:
    return PowerSupply.model_validate(
        {"unit": unit, "condition": OK, "input_voltage": Quantity(value=volts, unit="V"), "input_type": kind}
    )


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("kind", ["DC", None])
@pytest.mark.parametrize(
    ("volts", "expected"), [(53.5, MET), (40.5, MET), (57.0, MET), (48, MET), (40.4, UNMET), (57.1, UNMET), (60, UNMET)]
)
def test_48_v_dc(volts: float, sign: int, kind: str | None, expected: Outcome) -> None:
    """ETSI EN 300 132-2: -40.5 to -57.0 V in normal service; whether the sign is printed is the device's affair."""
    row = VOLTAGES["DC_ETSI_normal", "48"]
    assert (PowerLimits().dc_low, PowerLimits().dc_high) == (float(row["low_v"]), float(row["high_v"]))
    assert outcome("power.input-range", still(fed(sign * volts, kind))) is expected


def test_the_north_american_dc_ranges_are_a_matter_of_acceptance() -> None:
    """ANSI T1.315 and Telcordia GR-499 differ from ETSI, and with the place of measurement."""
    for system in ("DC_T1_315", "DC_GR499"):
        row = VOLTAGES[system, "48"]
        low, high = float(row["low_v"]), float(row["high_v"])
        acceptance = Acceptance(power=PowerLimits(dc_low=low, dc_high=high))
        for volts, expected in ((low, MET), (low - 0.1, UNMET), (high, MET), (high + 0.1, UNMET)):
            assert outcome("power.input-range", still(fed(-volts), acceptance=acceptance)) is expected


@pytest.mark.parametrize(
    ("volts", "expected"), [(207.0, MET), (206.9, UNMET), (253.0, MET), (253.1, UNMET), (195.4, UNMET)]
)
def test_230_v_ac(volts: float, expected: Outcome) -> None:
    """IEC 60038 and EN 50160: 230 V plus and minus 10 %, 207 to 253 V."""
    row = VOLTAGES["AC_IEC", "230"]
    assert (float(row["low_v"]), float(row["high_v"])) == (207, 253)
    before, after = snapshot(fed(230)), snapshot(fed(volts))
    assert outcome("power.input-range", case(before, after, "psu-1")) is expected


@pytest.mark.parametrize(
    ("baseline", "volts", "expected"),
    [(208, 205, MET), (230, 205, UNMET), (208, 187.2, MET), (208, 187.1, UNMET), (208, 228.8, MET), (208, 230, UNMET)],
)
def test_208_v_is_not_judged_as_230_v(baseline: float, volts: float, expected: Outcome) -> None:
    """ANSI C84.1 service at 208 V: 205 V is well there and a sag on a 230 V feed (IEC 60038)."""
    assert outcome("power.input-range", case(snapshot(fed(baseline)), snapshot(fed(volts)), "psu-1")) is expected
    stated = Acceptance(power=PowerLimits(ac_nominal=baseline))
    assert outcome("power.input-range", still(fed(volts), acceptance=stated)) is expected


@pytest.mark.parametrize(
    "row", [r for key, r in VOLTAGES.items() if key[0] == "AC_ANSI_A"], ids=lambda row: str(row["nominal_v"])
)
def test_every_ansi_service_voltage_has_its_own_range(row: dict[str, str]) -> None:
    """ANSI C84.1, Range A service: plus and minus 5 % of 120, 208, 240 and 277 V."""
    for volts in (row["nominal_v"], row["low_v"], row["high_v"]):
        before, after = snapshot(fed(float(row["nominal_v"]))), snapshot(fed(float(volts)))
        (found,) = findings("power.input-range", case(before, after, "psu-1"))
        assert found.outcome is MET
        assert f"{row['nominal_v']} V" in (found.limit_source or "")


# ---- 80 PLUS; data file with statuses

LEVELS = table_rows("eighty_plus.csv")
LOADS = {"load_20": 0.2, "load_50": 0.5, "load_100": 1.0}


def converting(power_out: float, power_in: float, capacity: float = 1100) -> Case:
    return still(
        PowerSupply(
            unit="psu-1",
            condition=OK,
            output_power=q(f"{power_out} W"),
            input_power=q(f"{power_in} W"),
            capacity=q(f"{capacity} W"),
        )
    )


def test_the_floor_is_below_every_level() -> None:
    """80 PLUS programme: no level asks for less at 20, 50 or 100 % of load."""
    lowest = min(float(row[load]) for row in LEVELS for load in LOADS)
    assert lowest >= LEAST_EFFICIENCY * 100


@pytest.mark.parametrize("row", LEVELS, ids=lambda row: f"{row['category']}-{row['level']}")
def test_a_supply_at_its_level_is_plausible(row: dict[str, str]) -> None:
    for load, share in LOADS.items():
        power_out = 1100 * share
        assert findings("power.efficiency", converting(power_out, power_out / (float(row[load]) / 100))) == []


@pytest.mark.parametrize(
    ("power_out", "power_in", "expected"),
    [
        (550, 585.1, []),  # 1100 W Platinum at half load: 94 %
        (1100, 1208.8, []),  # Titanium at full load
        (90, 100, []),  # published examples: 90 % and 80 %
        (600, 750, []),
        (550, 549, [UNDETERMINED]),  # more out than in: a fault of the meter
        (550, 550.0, []),
        (550, 700, [UNDETERMINED]),
        (100, 200, []),  # below a tenth of the load efficiency is not judged
        (100, 99, [UNDETERMINED]),
    ],
)
def test_output_against_input(power_out: float, power_in: float, expected: list[Outcome]) -> None:
    assert [f.outcome for f in findings("power.efficiency", converting(power_out, power_in))] == expected


# ---- current sharing; equal shares by definition, 10 % by common practice


@pytest.mark.parametrize(
    ("amperes", "departure", "expected"),
    [
        ((18.2, 19.6, 20.1), -5.7, MET),
        ((10, 25, 25), -50.0, UNMET),
        ((0.7, 0.8, 0.75), -6.67, UNDETERMINED),
        ((20, 20, 20), 0, MET),
    ],
)
def test_current_sharing(amperes: tuple[float, ...], departure: float, expected: Outcome) -> None:
    """The worst departure from the mean; at 3 % of the rated load sharing says nothing."""
    supplies = [loaded(f"psu-{n}", current) for n, current in enumerate(amperes, 1)]
    (found,) = findings("power.sharing", still(*supplies))
    assert found.outcome is expected
    assert isinstance(found.measured, Quantity)
    assert abs(found.measured.value) == pytest.approx(abs(departure), abs=0.05)


def test_a_supply_in_standby_has_no_share() -> None:
    (found,) = findings("power.sharing", still(loaded("psu-1", 19), loaded("psu-2", 20), loaded("psu-3", 0, STANDBY)))
    assert found.outcome is MET


# ---- redundancy; trade definitions: N = ceil(load / capacity of one), N+1, and N on each of two feeds


@pytest.mark.parametrize(
    ("load", "capacity", "needed"),
    [(2800, 1100, 3), (3300, 1100, 3), (3301, 1100, 4), (100_000, 100_000, 1), (1, 1100, 1), (0, 1100, 1)],
)
def test_needed_units(load: float, capacity: float, needed: int) -> None:
    assert needed_units(load, capacity) == needed


@given(st.integers(1, 20), st.integers(100, 5000))
def test_a_load_of_whole_units_needs_just_those(units: int, capacity: int) -> None:
    assert needed_units(units * capacity, capacity) == units
    assert needed_units(units * (capacity / 10), capacity / 10) == units


@given(st.integers(1, 30_000), st.integers(100, 5000), st.integers(2, 12))
def test_n_plus_one_is_the_same_by_count_and_by_watts(load: int, capacity: int, good: int) -> None:
    rated = {f"psu-{n}": float(capacity) for n in range(good)}
    by_watts = fits_after_loss(load, rated, {"psu-0"}, 0)
    assert by_watts == (good >= needed_units(load, capacity) + 1) == (good >= ceil(load / capacity) + 1)


def rack(
    load: float, good: int, redundancy: str = "N+1", feeds: str = "", total: int = 4, capacity: float = 1100
) -> Case:
    """`total` supplies that share a load, of which the first `good` are good; `feeds` says A or B for each."""
    limits = PowerLimits.model_validate(
        {
            "redundancy": redundancy,
            "headroom_percent": 0,
            "feeds": {feed: [f"psu-{n}" for n, f in enumerate(feeds, 1) if f == feed] for feed in sorted(set(feeds))},
        }
    )
    supplies = [
        PowerSupply(
            unit=f"psu-{n}", condition=OK if n <= good else FAILED, capacity=q(f"{capacity} W"),
            output_power=q(f"{load / good if n <= good else 0} W"),
        )
        for n in range(1, total + 1)
    ]  # fmt: skip
    return still(*supplies, acceptance=Acceptance(power=limits))


@pytest.mark.parametrize(
    ("load", "good", "expected"),
    [
        (2800, 4, MET),
        (2800, 3, UNMET),
        (2800, 2, UNMET),
        (3300, 4, MET),
        (3304, 4, UNMET),
        (1100, 2, MET),
        (1102, 2, UNMET),
        (100, 1, UNMET),
    ],
)
def test_n_plus_one(load: float, good: int, expected: Outcome) -> None:
    assert outcome("power.redundancy", rack(load, good)) is expected


@pytest.mark.parametrize(
    ("load", "feeds", "expected"),
    [
        (2800, "AAAB", UNMET),  # N+1, but the loss of A leaves 1100 W
        (1100, "AAAB", MET),
        (2200, "AABB", MET),
        (2204, "AABB", UNMET),
        (1000, "AAAA", UNMET),
        (1000, "", UNDETERMINED),
        (1000, "AAB", UNDETERMINED),  # one cord was not followed
    ],
)
def test_n_plus_n(load: float, feeds: str, expected: Outcome) -> None:
    assert outcome("power.redundancy", rack(load, 4, "N+N", feeds)) is expected


def test_a_supply_on_a_lower_line_counts_for_less() -> None:
    """Many supplies are rated lower at 100 to 127 V: the sum is of what each can deliver, not a count."""
    acceptance = Acceptance(power=PowerLimits(headroom_percent=0))
    for amperes, expected in ((52, MET), (53, UNMET)):  # 1872 W and 1908 W, where 1900 W are left
        supplies = [loaded(f"psu-{n}", amperes, capacity=watts) for n, watts in enumerate((1100, 1100, 800), 1)]
        assert outcome("power.redundancy", still(*supplies, acceptance=acceptance)) is expected


@given(
    st.integers(0, 6000),
    st.integers(1, 5),
    st.sampled_from(["N+1", "N+N"]),
    st.text("AB", min_size=6, max_size=6),
)
def test_one_more_good_supply_never_takes_redundancy_away(load: int, good: int, redundancy: str, feeds: str) -> None:
    """The same load, on one supply more that is good."""
    fewer, more = (rack(load, n, redundancy, feeds, total=6) for n in (good, good + 1))
    rank = {UNMET: 0, UNDETERMINED: 1, MET: 2}
    assert rank[outcome("power.redundancy", more)] >= rank[outcome("power.redundancy", fewer)]


@given(st.integers(0, 6000), st.integers(1, 2000), st.integers(1, 6), st.sampled_from(["N+1", "N+N"]))
def test_more_load_never_gives_redundancy(load: int, added: int, good: int, redundancy: str) -> None:
    less, more = (rack(watts, good, redundancy, "ABABAB", total=6) for watts in (load, load + added))
    if outcome("power.redundancy", less) is UNMET:
        assert outcome("power.redundancy", more) is UNMET


# ---- airflow; common practice, as hardware guides of several makers ask

F2B, B2F = "front-to-back", "back-to-front"


def blown(*ways: str | None) -> list[AnyReading]:
    """Two fans and two supplies at comfortable temperatures, with a direction each."""
    units: list[AnyReading] = [
        (PowerSupply if name.startswith("psu") else Fan).model_validate({"unit": name, "condition": OK, "airflow": way})
        for name, way in zip(("fan-1", "fan-2", "psu-1", "psu-2"), ways, strict=True)
    ]
    return [*units, Temperature(name="inlet", value=q("21 C"), condition=OK)]


@pytest.mark.parametrize("way", [F2B, B2F])
def test_one_direction_in_a_chassis(way: str) -> None:
    assert outcomes("cooling.airflow", still(*blown(way, way, way, way))) == {"airflow": MET}


@pytest.mark.parametrize("odd", range(4))
@pytest.mark.parametrize("unit", ["fan-1", "psu-2"])
def test_one_unit_against_the_others_is_not_good_whatever_the_temperatures(odd: int, unit: str) -> None:
    ways = [B2F if n == odd else F2B for n in range(4)]
    assert UNMET in outcomes("cooling.airflow", still(*blown(*ways), unit=unit)).values()


@pytest.mark.parametrize("silent", range(4))
def test_a_direction_that_is_not_known_leaves_the_answer_open(silent: int) -> None:
    ways = [None if n == silent else F2B for n in range(4)]
    assert outcomes("cooling.airflow", still(*blown(*ways))) == {"airflow": UNDETERMINED}


def test_the_rack_decides_where_it_is_stated() -> None:
    acceptance = Acceptance(cooling=CoolingLimits(airflow="back-to-front"))
    assert set(outcomes("cooling.airflow", still(*blown(F2B, F2B, F2B, F2B), acceptance=acceptance)).values()) == {
        UNMET
    }


@pytest.mark.parametrize("name", [d.name for d in dialects()])
def test_no_dialect_takes_a_colour_for_a_direction(name: str) -> None:
    """Latch colours mean different directions at different makers."""
    colours = {"red", "blue", "burgundy", "green", "orange", "purple", "grey", "gray", "yellow", "black", "white"}
    for word in dialect(name).manifest.airflow:
        assert not colours & set(word.lower().replace("-", " ").split())


# ---- fan laws (AMCA 201 and 211): for one fan in the same air flow ~ speed, pressure ~ speed², power ~ speed³


def driven(unit: str, rpm: float, duty: float) -> Fan:
    return Fan(unit=unit, name=f"{unit[-1]}A", condition=OK, speed=q(f"{rpm} rpm"), speed_percent=q(f"{duty} %"))


def test_speed_follows_duty_in_proportion() -> None:
    """Textbook example: 1200 rpm taken to 1500 rpm moves 12,500 instead of 10,000 CFM, a quarter more."""
    judged = still(driven("fan-1", 1200, 40), driven("fan-2", 1500, 50), driven("fan-3", 2400, 80), unit="fan-1")
    found = findings("cooling.duty", judged)
    assert {f.outcome for f in found} == {MET}
    assert {f.margin for f in found} == {q("20 %")}  # the whole tolerance is left


@pytest.mark.parametrize(
    ("rpm", "expected"),
    [(1500, MET), (1250, MET), (1200, MET), (1199, UNMET), (1800, MET), (1801, UNMET), (750, UNMET)],
)
def test_a_fan_off_the_law_is_told(rpm: float, expected: Outcome) -> None:
    """20 % from what the duty asks for, common practice."""
    judged = still(driven("fan-1", 1200, 40), driven("fan-2", 2400, 80), driven("fan-3", rpm, 50), unit="fan-1")
    found = findings("cooling.duty", judged)
    assert {f.outcome for f in found} == {expected}
    if expected is UNMET:
        assert [f.subject for f in found] == ["fan-3 3A"]


@pytest.mark.parametrize(("rpm", "expected"), [(1500, MET), (1125, MET), (1124, UNMET), (1900, MET)])
def test_a_change_of_duty_is_taken_out_of_the_baseline(rpm: float, expected: Outcome) -> None:
    before, after = snapshot(driven("fan-1", 1200, 40)), snapshot(driven("fan-1", rpm, 50))
    (found,) = findings("cooling.baseline", case(before, after, "fan-1"))
    assert (found.outcome, found.limit) == (expected, q("1500 rpm"))


# ---- RFC 3339 clocks, examples of section 5.8


def at(stamp: str) -> View:
    return View(snapshot(Device(name="clock", status_text=stamp), PowerSupply(unit="psu-1", condition=OK)), "after")


@pytest.mark.parametrize(
    ("stamp", "unix"),
    [
        ("1985-04-12T23:20:50.52Z", 482196050.52),
        ("1996-12-19T16:39:57-08:00", 851042397.0),
        ("1996-12-20T00:39:57Z", 851042397.0),
        ("1937-01-01T12:00:27.87+00:20", -1041337172.13),
    ],
)
def test_clocks_with_an_offset(stamp: str, unix: float) -> None:
    clock = clock_of(at(stamp))
    assert clock is not None
    assert clock.timestamp() == pytest.approx(unix, abs=1e-6)


@pytest.mark.parametrize(
    "stamp", ["1985-04-12T23:20:50.52", "1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00", "yesterday", ""]
)
def test_clocks_without_an_offset_or_with_a_leap_second_are_not_used(stamp: str) -> None:
    """A time without an offset is not RFC 3339; a leap second is, but no clock is compared at one."""
    assert clock_of(at(stamp)) is None


def test_two_offsets_of_one_moment_are_one_moment() -> None:
    def text(stamp: str, seconds: int) -> Snapshot:
        return snapshot(
            Device(name="clock", status_text=stamp),
            Device(name="uptime", value=q(f"{seconds} s")),
            PowerSupply(unit="psu-1", condition=OK),
        )

    before = text("1996-12-19T16:39:57-08:00", 1000)
    for stamp, seconds, expected in (
        ("1996-12-20T00:49:57Z", 1600, MET),  # ten minutes by both
        ("1996-12-20T00:49:57Z", 9000, UNDETERMINED),  # the clock went on by ten minutes, the uptime by two hours
        ("1996-12-20T00:49:57Z", 10, UNMET),
    ):
        assert outcome("service.uptime", case(before, text(stamp, seconds), "psu-1")) is expected


# ---- a supply's own status, and nothing in its place (no source: the project's own promise)


def test_a_fan_inside_a_supply_does_not_speak_for_it() -> None:
    """A supply whose own status was not printed is not ok because its fan turns."""
    silent = PowerSupply(unit="psu-1")
    turning = Fan(unit="psu-1", name="fan in psu-1", condition=OK)
    assert View(snapshot(silent, turning), "after").condition("psu-1") is None
    stuck = Fan(unit="psu-1", name="fan in psu-1", condition=FAILED)
    assert View(snapshot(PowerSupply(unit="psu-1", condition=OK), stuck), "after").condition("psu-1") is FAILED
