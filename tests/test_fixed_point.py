"""Numbers that mean nothing without what stands beside them, against the examples of the standards."""

import base64
import struct
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.reading.fixed_point import fixed_point, float32
from consolecheck.records.units import UnreadableQuantity, parse_quantity


@pytest.mark.parametrize(
    ("value", "kind", "scale", "precision", "number", "unit"),
    [
        # RFC 3433 and RFC 8348, description of the precision: 0 to 100 degrees in steps of 0.1 are precision 1,
        # scale units, values 0 to 1000.
        ("0", "celsius", "units", "1", "0.0", "Cel"),
        ("234", "celsius", "units", "1", "23.4", "Cel"),
        ("1000", "celsius", "units", "1", "100.0", "Cel"),
        # The same volt said in two ways, worked from the definitions of scale and precision there.
        ("12034", "voltsDC", "milli", "0", "12.034", "V"),
        ("12034", "voltsDC", "units", "3", "12.034", "V"),
        ("12034", "volts-DC", "units", "3", "12.034", "V"),
        ("-480", "voltsDC", "units", "1", "-48.0", "V"),
        ("9540", "rpm", "units", "0", "9540", "rpm"),
        ("2", "watts", "kilo", "0", "2000", "W"),
        # -8 to -1: accurate digits, which move no point.
        ("235", "volts-AC", "units", "-2", "235", "V"),
        ("999999999", "amperes", "nano", "9", "0.000000000999999999", "A"),
        ("455", "percent-RH", "units", "1", "45.5", "%"),
    ],
)
def test_values_are_exact(value: str, kind: str, scale: str, precision: str, number: str, unit: str) -> None:
    found = fixed_point(value, kind, scale, precision, "ok")
    assert (Decimal(number), unit) == (Decimal(found[0]), found[1]) if found else found


@pytest.mark.parametrize(
    ("value", "kind", "scale", "precision", "status", "why"),
    [
        ("1000000000", "celsius", "units", "1", "ok", "out of its range"),  # overflow, RFC 3433 EntitySensorValue
        ("-1000000000", "celsius", "units", "1", "ok", "out of its range"),  # underflow
        ("1000000001", "celsius", "units", "0", "ok", "not a value"),
        ("23.4", "celsius", "units", "0", "ok", "not a value"),
        ("234", "celsius", "units", "10", "ok", "precision"),
        ("234", "celsius", "units", "-9", "ok", "precision"),
        ("234", "celsius", "units", None, "ok", "missing"),
        ("234", "celsius", None, "1", "ok", "missing"),
        ("234", "celsius", "exa", "1", "ok", "scale"),  # RFC 3433 gives exa 10^15 and peta 10^18
        ("234", None, "units", "1", "ok", "type"),
        ("234", "furlong", "units", "1", "ok", "not a type"),
        ("234", "celsius", "units", "1", None, "status"),
        ("351", "celsius", "units", "0", "ok", "cannot be"),  # 35.1 whose precision was lost
        ("12034", "voltsDC", "units", "0", "ok", "cannot be"),  # 12.034 whose scale was
        ("-5", "rpm", "units", "0", "ok", "cannot be"),
        ("101", "percent-RH", "units", "0", "ok", "cannot be"),
    ],
)
def test_what_is_missing_or_unknown_refuses_the_value(
    value: str, kind: str | None, scale: str | None, precision: str | None, status: str | None, why: str
) -> None:
    with pytest.raises(UnreadableQuantity, match=why):
        fixed_point(value, kind, scale, precision, status)


@pytest.mark.parametrize("status", ["unavailable", "nonoperational"])
def test_a_sensor_that_is_not_well_has_no_value(status: str) -> None:
    assert fixed_point("0", "rpm", "units", "0", status) is None


@pytest.mark.parametrize("kind", ["other", "unknown", "cmm", "truthvalue", "truth-value"])
def test_types_without_a_unit_that_is_known_give_no_quantity(kind: str) -> None:
    assert fixed_point("1", kind, "units", "0", "ok") is None


@given(
    st.integers(-999_999_999, 999_999_999),
    st.sampled_from([("milli", -3), ("units", 0), ("kilo", 3), ("micro", -6)]),
    st.integers(-8, 9),
)
def test_scale_and_precision_never_lose_a_digit(value: int, scale: tuple[str, int], precision: int) -> None:
    found = fixed_point(str(value), "watts", scale[0], str(precision), "ok")
    assert found is not None
    assert Decimal(value) * Decimal(10) ** (scale[1] - max(precision, 0)) == Decimal(found[0])
    if abs(Decimal(found[0])) < 10**12:
        assert float(Decimal(found[0])) == parse_quantity(f"{found[0]} {found[1]}").value


@given(st.floats(-(2.0**39), 2.0**39, width=32))
def test_four_bytes_in_base64_are_their_own_number(number: float) -> None:
    octets = struct.pack(">f", number)
    text = float32(base64.b64encode(octets).decode())
    assert octets == struct.pack(">f", float(text)) or (number == 0 and float(text) == 0)


@pytest.mark.parametrize(
    ("text", "number"),
    # IEEE 754 binary32, worked by hand: 12.0 is 41400000h, 230.5 is 43668000h, -1.5 is BFC00000h.
    [("QUAAAA==", "12"), ("Q2aAAA==", "230.5"), ("v8AAAA==", "-1.5"), ("12.0", "12.0"), ("230", "230")],
)
def test_known_encodings(text: str, number: str) -> None:
    assert Decimal(number) == Decimal(float32(text))


@pytest.mark.parametrize("octets", [b"\x7f\x7f\xff\xff", b"\x7f\x80\x00\x00", b"\xff\x80\x00\x00", b"\x7f\xc0\x00\x00"])
def test_infinity_and_no_number_are_refused(octets: bytes) -> None:
    with pytest.raises(UnreadableQuantity, match="no number"):
        float32(base64.b64encode(octets).decode())


@pytest.mark.parametrize("text", ["QUAAAA=", "QUAAAAA=", "QUAA", "QUAAAAAAAAA=", "QUAAAB=="])
def test_other_lengths_of_base64_are_no_number(text: str) -> None:
    """Eight bytes would be another type, and stray bits in the last digit are no encoding (RFC 4648 section 3.5)."""
    with pytest.raises(UnreadableQuantity):
        parse_quantity(float32(text), "W")
