"""Quantities against another unit library, and texts that must be refused whole."""

import re
from datetime import timedelta

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.records.units import (
    Quantity,
    Unit,
    UnreadableQuantity,
    known_spellings,
    parse_duration,
    parse_quantity,
    unit_of,
)

UREG: pint.UnitRegistry[float] = pint.UnitRegistry()

# Our unit -> pint's, then what each spelling means to pint. Written out by hand: a spelling that is added to
# the program and is missing here fails, so that no factor goes unchecked.
OURS: dict[Unit, str] = {
    "V": "volt",
    "A": "ampere",
    "W": "watt",
    "rpm": "revolutions_per_minute",
    "%": "percent",
    "Cel": "degree_Celsius",
    "Hz": "hertz",
    "s": "second",
    "m": "metre",
}
ABOVE_FREEZING = "millikelvin above freezing"
MEANINGS: dict[tuple[Unit, str], str] = {
    ("V", "volt"): "v|volt|volts|vac|vdc",
    ("V", "millivolt"): "mv|millivolt|millivolts",
    ("V", "kilovolt"): "kv",
    ("A", "ampere"): "a|amp|amps|ampere|amperes",
    ("A", "milliampere"): "ma|milliamp|milliamps|milliamperes",
    ("W", "watt"): "w|watt|watts",
    ("W", "milliwatt"): "mW",
    ("W", "microwatt"): "uw|µw|microwatt|microwatts",
    ("W", "kilowatt"): "kw|kilowatt|kilowatts",
    ("W", "megawatt"): "MW",
    ("rpm", "revolutions_per_minute"): "rpm|r/min|rev/min",
    ("%", "percent"): "%|percent|pct",
    ("Cel", "degree_Celsius"): "c|°c|cel|celsius|degc|deg c|degree c|degrees c|degree celsius|degrees celsius",
    ("Cel", ABOVE_FREEZING): "mc|m°c|millidegrees c|millidegrees celsius",
    ("Cel", "degree_Fahrenheit"): (
        "f|°f|degf|deg f|degree f|degrees f|fahrenheit|degree fahrenheit|degrees fahrenheit"
    ),
    ("Cel", "kelvin"): "kelvin|K",
    ("Hz", "hertz"): "hz|hertz",
    ("s", "second"): "s|sec|secs|second|seconds",
    ("s", "minute"): "min|mins|minute|minutes",
    ("s", "hour"): "h|hour|hours",
    ("m", "metre"): "m|metre|metres|meter|meters",
    ("m", "foot"): "ft|foot|feet",
}
MEANT = {spelling: meant for meant, spellings in MEANINGS.items() for spelling in spellings.split("|")}
SPELLINGS = st.sampled_from(sorted(known_spellings()))
NUMBERS = st.decimals(-100_000, 100_000, places=3).map(lambda d: f"{d:f}") | st.integers(-99_999, 99_999).map(str)


def by_pint(number: str, spelling: str) -> tuple[Unit, float]:
    """What pint makes of a number and a spelling, in our unit."""
    unit, meant = MEANT[spelling]
    if meant == ABOVE_FREEZING:  # pint takes no prefix on a scale with an offset
        value = UREG.Quantity(float(number) / 1000 + 273.15, "kelvin")
    else:
        value = UREG.Quantity(float(number), meant)
    return unit, value.to(OURS[unit]).magnitude


def test_every_spelling_has_a_counterpart() -> None:
    assert sorted(known_spellings()) == sorted(MEANT)


@pytest.mark.parametrize("spelling", sorted(known_spellings()))
def test_agrees_with_pint(spelling: str) -> None:
    for number in ("0", "1", "-1", "12.05", "-53.5", "451", "1e3", "+7.25", "2.5E-2", "98.6"):
        unit, value = by_pint(number, spelling)
        for text in (f"{number} {spelling}", f"{number}{spelling}", f" {number}  {spelling} "):
            read = parse_quantity(text)
            assert read.unit == unit == unit_of(spelling)
            assert read.value == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(NUMBERS, SPELLINGS)
def test_agrees_with_pint_for_any_number(number: str, spelling: str) -> None:
    unit, value = by_pint(number, spelling)
    read = parse_quantity(f"{number} {spelling}")
    assert read.unit == unit
    assert read.value == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        # Fixed points of the temperature scales, and one inch-pound height; exact by definition.
        ("32 F", 0, "Cel"),
        ("212 °F", 100, "Cel"),
        ("-40 degrees F", -40, "Cel"),
        ("273.15 K", 0, "Cel"),
        ("0 kelvin", -273.15, "Cel"),
        ("24500 mC", 24.5, "Cel"),
        ("3050 ft", 929.64, "m"),
        # RFC 3433, EntitySensorValue with scale milli, and the same value as three decimal places of units.
        ("12034 mV", 12.034, "V"),
        ("12.034 V", 12.034, "V"),
        # Letter case: SI tells mega from milli by it.
        ("550 MW", 550e6, "W"),
        ("550 mW", 0.55, "W"),
        ("-53.5 Vdc", -53.5, "V"),
        ("230 VAC", 230, "V"),
    ],
)
def test_fixed_points(text: str, value: float, unit: Unit) -> None:
    assert parse_quantity(text) == Quantity(value=value, unit=unit)


@given(NUMBERS, SPELLINGS)
def test_a_bare_number_takes_the_unit_of_its_header(number: str, header: str) -> None:
    assert parse_quantity(number, header) == parse_quantity(f"{number} {header}")
    with pytest.raises(UnreadableQuantity):
        parse_quantity(number)


@pytest.mark.parametrize("header", sorted(known_spellings()))
def test_a_unit_of_another_dimension_than_the_header_is_refused(header: str) -> None:
    for written in known_spellings():
        text = f"12.5 {written}"
        if MEANT[header][0] == MEANT[written][0]:
            assert parse_quantity(text, header) == parse_quantity(text)
        else:
            with pytest.raises(UnreadableQuantity):
                parse_quantity(text, header)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "V", "N/A", "--", "nan V", "inf V", "-inf", "NaN", "0x1f V", "1,234 rpm", "1.234.5 V", "12. V", ".5 V", "12 . 5 V",
        "1 2 V", "12.05 V 3", "12.05 V/A", "12.05 V (ok)", "12.05 V ok", "ok 12.05 V", "12.05V13.1V", "12 V 5 W", "--5 V", "+-5 V",
        "5- V", "5 -V", "1e V", "1e+ V", "1e123 V", "1e12 V", "999999999999999 rpm", "9" * 400 + " V", "12 volt.", "12 jiffies",
        "12 Mw", "12 mw", "12 k", "12 dBm", "12 Ohm", "٣ V", "12 V\x00", "12\nV 3", "1_000 V", "12 °", "12°", "²5 V", "5² V", "12 ＶA",
    ],
)  # fmt: skip
@pytest.mark.parametrize("assumed", [None, "V"])
def test_refused_and_never_read_in_part(text: str, assumed: str | None) -> None:
    with pytest.raises(UnreadableQuantity):
        parse_quantity(text, assumed)


@given(st.text("0123456789.+-eE VAWmMkKrpCFsh%°µ/ ()", max_size=14))
def test_what_is_read_is_a_number_and_a_known_unit_and_nothing_else(text: str) -> None:
    try:
        parse_quantity(text)
    except UnreadableQuantity:
        return
    whole = text.strip()
    known = {" ".join(s.split()) for s in known_spellings()}
    splits = [(whole[:i], " ".join(whole[i:].split())) for i in range(1, len(whole))]
    assert any(
        re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?", number.strip())
        and (unit in known or unit.lower() in known)
        for number, unit in splits
    )


@given(NUMBERS, SPELLINGS, st.sampled_from(["x", "#", "(", ")", "*", "!", "~", ",", "= 3", "12", "| 4"]))
def test_no_junk_beside_a_reading(number: str, spelling: str, junk: str) -> None:
    for text in (f"{number} {spelling} {junk}", f"{junk} {number} {spelling}", f"{number} {junk} {spelling}"):
        with pytest.raises(UnreadableQuantity):
            parse_quantity(text)
        with pytest.raises(UnreadableQuantity):
            parse_quantity(text, spelling)


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    for read in (parse_quantity, parse_duration):
        try:
            found = read(text)
        except UnreadableQuantity:
            continue
        assert abs(found.value) < float("inf")


@given(st.integers(-99_999, 99_999), st.sampled_from(sorted(OURS)))
def test_what_is_shown_reads_back(number: int, unit: Unit) -> None:
    if unit == "s":
        number = abs(number) % 60
    quantity = Quantity(value=number / 10, unit=unit)
    assert parse_quantity(str(quantity)) == quantity


# ---- lengths of time


@given(st.integers(0, 10**8))
def test_durations_as_the_standard_library_prints_them(seconds: int) -> None:
    assert parse_duration(str(timedelta(seconds=seconds))) == Quantity(value=seconds, unit="s")


@given(st.integers(60, 10**8))
def test_a_shown_duration_reads_back(seconds: int) -> None:
    shown = Quantity(value=seconds, unit="s")
    assert parse_duration(str(shown)) == shown


@given(st.integers(0, 500), st.integers(0, 6), st.integers(0, 23), st.integers(0, 59), st.integers(0, 59))
def test_durations_in_words(weeks: int, days: int, hours: int, minutes: int, seconds: int) -> None:
    expected = timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds).total_seconds()
    for text in (
        f"{weeks}w{days}d{hours}h{minutes}m{seconds}s",
        f"{weeks} weeks, {days} days, {hours} hours, {minutes} minutes, {seconds} seconds",
        f"{weeks} week {days} day {hours} hr {minutes} min {seconds} sec",
        f"{weeks * 7 + days},{hours:02}:{minutes:02}:{seconds:02}",
        f"{weeks * 7 + days} days, {hours}:{minutes:02}:{seconds:02}",
        f"{weeks * 7 + days}d {hours:02}:{minutes:02}:{seconds:02}",
    ):
        assert parse_duration(text) == Quantity(value=expected, unit="s")


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "5", "days", "12 days ago", "3:60:00", "3:05:60", "3:5:00", "-5:00:00", "1d 2d", "4h 3w", "1.5 h", "12 days 3",
        "1 fortnight", "12:00 up", "1:2:3:4", "12 d,,3:04:05 x", "N/A", "1 year, 2 weeks",
    ],
)  # fmt: skip
def test_refused_durations(text: str) -> None:
    with pytest.raises(UnreadableQuantity):
        parse_duration(text)
