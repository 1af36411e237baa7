"""Numbers in forms that need decoding. As RFC 3433 (ENTITY-SENSOR-MIB) and RFC 8348 (ietf-hardware) give
them: a whole number that means nothing without the type, scale and precision beside it, and that is to be ignored
while the sensor is not well.

    12034, volts-DC, milli, 0  ->  12.034 V            234, celsius, units, 1  ->  23.4 Cel

Where one of the three is missing or not known the value is refused: a power of ten that was guessed is worse
than no value. The result is exact; nothing here is a float.
"""

import base64
import math
import re
import struct
from decimal import Decimal

from consolecheck.records.units import UnreadableQuantity

FIELDS = ("value_type", "value_scale", "value_precision", "value_status")
"""The cells that stand beside `value` in a table with `fixed_point`."""

# RFC 3433 EntitySensorDataType and RFC 8348 sensor-value-type, in lower case without hyphens.
_UNITS = {
    "voltsac": "V",
    "voltsdc": "V",
    "amperes": "A",
    "watts": "W",
    "hertz": "Hz",
    "celsius": "Cel",
    "percentrh": "%",
    "rpm": "rpm",
}
_WITHOUT_UNIT = frozenset(("other", "unknown", "cmm", "truthvalue"))
"""Types whose values are no quantity that is known here."""

# EntitySensorDataScale. Its names `exa` and `peta` stand in the wrong order there (exa is given as 10^15), so
# what a device means by them is not known; no hardware sensor needs them.
_SCALES = {
    "yocto": -24,
    "zepto": -21,
    "atto": -18,
    "femto": -15,
    "pico": -12,
    "nano": -9,
    "micro": -6,
    "milli": -3,
    "units": 0,
    "kilo": 3,
    "mega": 6,
    "giga": 9,
    "tera": 12,
    "zetta": 21,
    "yotta": 24,
}
_LARGEST = 1_000_000_000

# What a sensor in a switch can read. A value beyond is ten or a thousand times another one, because the scale or
# the precision was not rightly read: they stand on lines of their own. Common practice, no source.
_POSSIBLE = {"Cel": (-100, 250), "%": (0, 100), "V": (-1000, 1000), "rpm": (0, 100_000)}
_WHOLE = re.compile(r"-?[0-9]{1,10}")


def fixed_point(
    value: str | None, kind: str | None, scale: str | None, precision: str | None, status: str | None
) -> tuple[str, str] | None:
    """Number and unit as text, or None where there is no quantity. Raises UnreadableQuantity.

    `status` is the sensor's own: only `ok` means that the value was obtained. Without a status a value is refused.
    """
    if value is None:
        return None
    if status is None:
        raise UnreadableQuantity(f"`{value}` stands without the status of its sensor")
    if status != "ok":
        return None
    if kind is None:
        raise UnreadableQuantity(f"`{value}` stands without its type")
    named = kind.lower().replace("-", "")
    if named in _WITHOUT_UNIT:
        return None
    if named not in _UNITS:
        raise UnreadableQuantity(f"`{kind}` is not a type of sensor that is known")
    if scale not in _SCALES:
        raise UnreadableQuantity(f"the scale of `{value}` is {f'`{scale}`' if scale else 'missing'}")
    if precision is None or not _WHOLE.fullmatch(precision) or not -8 <= int(precision) <= 9:
        raise UnreadableQuantity(f"the precision of `{value}` is {f'`{precision}`' if precision else 'missing'}")
    if not _WHOLE.fullmatch(value) or abs(int(value)) > _LARGEST:
        raise UnreadableQuantity(f"`{value}` is not a value of such a sensor")
    if abs(int(value)) == _LARGEST:
        raise UnreadableQuantity(f"`{value}` says that the sensor is out of its range")
    # A negative precision counts accurate digits and moves no point.
    exact = Decimal(int(value)).scaleb(_SCALES[scale] - max(int(precision), 0))
    unit = _UNITS[named]
    if unit in _POSSIBLE and not _POSSIBLE[unit][0] <= exact <= _POSSIBLE[unit][1]:
        raise UnreadableQuantity(f"{exact:f} {unit} cannot be: `{value}` with this scale and precision")
    return format(exact, "f"), unit


_FOUR_BYTES = re.compile(r"[A-Za-z0-9+/]{5}[AQgw]==")


def float32(text: str) -> str:
    """A plain number as it is; the base64 of four bytes as the shortest number that has those bytes.

    OpenConfig's `ieeefloat32` is YANG binary of four octets, which RFC 7951 (section 6.6) writes in base64. Base64
    of four octets always ends in `==`, so it cannot be taken for a number. Raises UnreadableQuantity for bytes that
    are no finite number.
    """
    if not _FOUR_BYTES.fullmatch(text):
        return text
    number = struct.unpack(">f", base64.b64decode(text))[0]
    if not math.isfinite(number) or abs(number) >= 1e12:
        raise UnreadableQuantity(f"`{text}` is the encoding of no number, or of one too large for a reading")
    digits = next(d for d in range(1, 10) if struct.pack(">f", float(f"{number:.{d}g}")) == struct.pack(">f", number))
    return format(Decimal(f"{number:.{digits}g}"), "f")
