"""Quantities: a number with one unit out of a closed list, whatever the device printed.

Devices print the same volt as `12.05 V`, `12050 mV`, `12.05 Volts` or a bare `12.05` under a header
that says `(V)`. Everything is brought to one unit per dimension here, so that rules compare numbers
and never spellings. Unit symbols are UCUM's where it has one (`Cel` for degree Celsius).
A text that is not wholly a number and a known unit is refused, never read in part.
"""

import re
from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from typing import Literal

from pydantic import BaseModel, ConfigDict

Unit = Literal["V", "A", "W", "rpm", "%", "Cel", "Hz", "s", "m"]


class UnreadableQuantity(ValueError):
    """The text is not a number with a unit that is known."""


class Quantity(BaseModel):
    """A measured or stated value after normalising; `unit` says in what."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    value: float
    unit: Unit

    def __str__(self) -> str:
        if self.unit == "s" and self.value >= 60:
            minutes, seconds = divmod(round(self.value), 60)
            hours, minutes = divmod(minutes, 60)
            days, hours = divmod(hours, 24)
            return (f"{days} d " if days else "") + f"{hours:02}:{minutes:02}:{seconds:02}"
        return f"{self.value:g} {_SHOWN.get(self.unit, self.unit)}"


_SHOWN = {"Cel": "°C"}
_quantity: Callable[[object], Quantity] = Quantity.__pydantic_validator__.validate_python
"""As a call of the class, with less on the way: figures come by the thousand."""

_ONE = Decimal(1)
_MILLI, _MICRO, _KILO = Decimal("1e-3"), Decimal("1e-6"), Decimal("1e3")

# Spellings in lower case -> unit, factor, and what is taken off before the factor applies.
_SPELLINGS: dict[str, tuple[Unit, Decimal, Decimal]] = {}


def _spell(unit: Unit, factor: Decimal, *spellings: str, less: Decimal = Decimal(0)) -> None:
    for spelling in spellings:
        _SPELLINGS[spelling] = (unit, factor, less)


_spell("V", _ONE, "v", "volt", "volts", "vac", "vdc")
_spell("V", _MILLI, "mv", "millivolt", "millivolts")
_spell("V", _KILO, "kv")
_spell("A", _ONE, "a", "amp", "amps", "ampere", "amperes")
_spell("A", _MILLI, "ma", "milliamp", "milliamps", "milliamperes")
_spell("W", _ONE, "w", "watt", "watts")
_spell("W", _MICRO, "uw", "µw", "microwatt", "microwatts")
_spell("W", _KILO, "kw", "kilowatt", "kilowatts")
_spell("rpm", _ONE, "rpm", "r/min", "rev/min")
_spell("%", _ONE, "%", "percent", "pct")
_spell(
    "Cel",
    _ONE,
    "c",
    "°c",
    "cel",
    "celsius",
    "degc",
    "deg c",
    "degree c",
    "degrees c",
    "degree celsius",
    "degrees celsius",
)
_spell("Cel", _MILLI, "mc", "m°c", "millidegrees c", "millidegrees celsius")
_FAHRENHEIT = Decimal(5) / Decimal(9)
_spell(
    "Cel",
    _FAHRENHEIT,
    "f",
    "°f",
    "degf",
    "deg f",
    "degree f",
    "degrees f",
    "fahrenheit",
    "degree fahrenheit",
    "degrees fahrenheit",
    less=Decimal(32),
)
_spell("Cel", _ONE, "kelvin", less=Decimal("273.15"))
_spell("Hz", _ONE, "hz", "hertz")
_spell("s", _ONE, "s", "sec", "secs", "second", "seconds")
_spell("s", Decimal(60), "min", "mins", "minute", "minutes")
_spell("s", Decimal(3600), "h", "hour", "hours")
_spell("m", _ONE, "m", "metre", "metres", "meter", "meters")
_spell("m", Decimal("0.3048"), "ft", "foot", "feet")
# Letter case decides only where lower case would not: milliwatt and megawatt.
_CASED: dict[str, tuple[Unit, Decimal, Decimal]] = {
    "mW": ("W", _MILLI, Decimal(0)),
    "MW": ("W", Decimal("1e6"), Decimal(0)),
    "K": ("Cel", _ONE, Decimal("273.15")),
}

_NUMBER_AND_UNIT = re.compile(r"\s*([+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d{1,2})?)\s*([^\d\s+.-].*?)?\s*\Z")


def known_spellings() -> tuple[str, ...]:
    """Every unit spelling that is understood, for tests against another unit library."""
    return (*_SPELLINGS, *_CASED)


def unit_of(spelling: str) -> Unit:
    """The normalised unit behind a spelling such as `Watts`; raises UnreadableQuantity."""
    return _factor(spelling)[0]


@lru_cache(maxsize=256)
def _factor(spelling: str) -> tuple[Unit, Decimal, Decimal]:
    found = _CASED.get(spelling) or _SPELLINGS.get(" ".join(spelling.lower().split()))
    if found is None:
        raise UnreadableQuantity(f"`{spelling}` is not a unit that is known")
    return found


@lru_cache(maxsize=4096)
def parse_quantity(text: str, assumed: str | None = None) -> Quantity:
    """Read `12.05 V`, `45%`, `-53.5 Volts`, or a bare number whose unit stands in the header.

    `assumed` is the header's unit for a bare number. Where both are given they must be of one
    dimension: a watt figure in a volt column means that the columns have shifted.
    Raises UnreadableQuantity for anything else, and for numbers too large to be a reading.
    """
    match = _NUMBER_AND_UNIT.match(text)
    if match is None or not (text.isascii() or text.replace("°", "").replace("µ", "").isascii()):
        raise UnreadableQuantity(f"`{text}` is not a number")
    number, spelling = match.groups()
    if spelling is None:
        if assumed is None:
            raise UnreadableQuantity(f"`{text}` has no unit")
        spelling = assumed
    unit, factor, less = _factor(spelling)
    if assumed is not None and spelling is not assumed and _factor(assumed)[0] != unit:
        raise UnreadableQuantity(f"`{text}` stands where a value in {assumed} was expected")
    value = float(number) if factor is _ONE and not less else float((Decimal(number) - less) * factor)
    if abs(value) >= 1e12:
        raise UnreadableQuantity(f"`{text}` is too large for a reading")
    return _quantity({"value": value, "unit": unit})


_CLOCK = r"(?P<h>[0-9]{1,4}):(?P<m>[0-5][0-9])(?::(?P<s>[0-5][0-9]))?"
_DURATIONS = (
    re.compile(rf"(?:(?P<d>[0-9]+)(?:,|\s*d(?:ays?)?,?\s*))?{_CLOCK}\Z"),
    re.compile(
        r"(?:(?P<w>[0-9]+)\s*w(?:eeks?)?[ ,]*)?(?:(?P<d>[0-9]+)\s*d(?:ays?)?[ ,]*)?"
        r"(?:(?P<h>[0-9]+)\s*h(?:ours?|rs?)?[ ,]*)?(?:(?P<m>[0-9]+)\s*m(?:in(?:ute)?s?)?[ ,]*)?"
        r"(?:(?P<s>[0-9]+)\s*s(?:ec(?:ond)?s?)?)?\Z"
    ),
)


def parse_duration(text: str) -> Quantity:
    """Read an uptime such as `183,20:53:01`, `12 days, 3:04:05` or `2w 3d 4h`, in seconds.

    Raises UnreadableQuantity for anything else.
    """
    stripped = text.strip().lower()
    for pattern in _DURATIONS:
        match = pattern.match(stripped)
        if match is not None and match.lastindex is not None:  # some part of it is there
            part = {name: int(value) for name, value in match.groupdict("0").items()}
            days = part.get("w", 0) * 7 + part["d"]
            return _quantity({"value": float(((days * 24 + part["h"]) * 60 + part["m"]) * 60 + part["s"]), "unit": "s"})
    raise UnreadableQuantity(f"`{text}` is not a length of time")
