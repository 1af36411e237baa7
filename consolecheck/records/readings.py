"""The seven kinds of typed record that captured text turns into.

One row of a device's table becomes one reading. A reading holds what the device said and nothing
about where: the lines stand beside it in a `Sighting`, so that readings compare equal before and
after a swap. A value that was not printed is None; zero is a value; a cell that stood there and
could not be read makes its line unread and yields no reading at all.
"""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Any, ClassVar, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict

from consolecheck.records.text import Row, Span, UnreadLine
from consolecheck.records.units import Quantity


class Condition(StrEnum):
    """The normalised status. The device's own word is kept beside it as `status_text`."""

    OK = "ok"
    WARNING = "warning"
    FAILED = "failed"
    ABSENT = "absent"
    NO_INPUT = "no-input"
    STANDBY = "standby"
    UNKNOWN = "unknown"


# When several rows speak of one unit the first of these that any of them says is the unit's condition.
# Absence and lost input explain the failures that follow from them; unknown hides behind no ok.
WORST_FIRST = (
    Condition.ABSENT,
    Condition.NO_INPUT,
    Condition.FAILED,
    Condition.UNKNOWN,
    Condition.WARNING,
    Condition.STANDBY,
    Condition.OK,
)


def worst(conditions: Iterable[Condition]) -> Condition:
    """The condition that counts where several were reported; unknown where none was."""
    seen = list(conditions)  # a list, since looking for a few members by identity beats hashing them
    for condition in WORST_FIRST:
        if condition in seen:
            return condition
    return Condition.UNKNOWN


Kind = Literal["power_supply", "fan", "temperature", "inventory", "link", "alarm", "device"]
Airflow = Literal["front-to-back", "back-to-front"]
"""Direction through the chassis. Where a device's word has no one meaning it is kept as `airflow_word`,
which can only be compared with others of the same chassis."""


class Reading(BaseModel):
    """What every kind has: which unit it belongs to, what the device calls it, and its condition."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    QUANTITIES: ClassVar[tuple[str, ...]] = ()

    kind: Kind
    unit: str | None = None
    name: str | None = None
    condition: Condition | None = None
    status_text: str | None = None

    def quantities(self) -> dict[str, Quantity]:
        """The quantities that were printed, by name."""
        fields = self.__dict__
        return {n: q for n in self.QUANTITIES if (q := fields[n]) is not None}

    def given(self, field: str) -> Any:
        """The value of a field, or None where this kind has no such field or the device printed none."""
        return self.__dict__.get(field)

    @property
    def subject(self) -> str:
        """How findings name this reading: its own name with its unit, or whichever there is."""
        if self.name and self.unit and self.name != self.unit:
            return f"{self.unit} {self.name}"
        return self.name or self.unit or self.kind


_LIMITS = ("low_critical", "low_warning", "high_warning", "high_critical")


class Limited(Reading):
    """A reading with the device's own limits, in the unit of the value beside them."""

    low_critical: Quantity | None = None
    low_warning: Quantity | None = None
    high_warning: Quantity | None = None
    high_critical: Quantity | None = None


class PowerSupply(Limited):
    """A supply, or one measuring point of it: then `name` is set and `condition` is that point's own."""

    QUANTITIES: ClassVar[tuple[str, ...]] = (
        "input_voltage",
        "input_current",
        "input_power",
        "output_voltage",
        "output_current",
        "output_power",
        "capacity",
        *_LIMITS,
    )

    kind: Literal["power_supply"] = "power_supply"
    input_voltage: Quantity | None = None
    input_current: Quantity | None = None
    input_power: Quantity | None = None
    output_voltage: Quantity | None = None
    output_current: Quantity | None = None
    output_power: Quantity | None = None
    capacity: Quantity | None = None
    input_type: Literal["AC", "DC"] | None = None
    feed: str | None = None
    serial: str | None = None
    part_number: str | None = None
    airflow: Airflow | None = None
    airflow_word: str | None = None


class Fan(Limited):
    """A fan module, or one rotor of it: then `name` is the rotor."""

    QUANTITIES: ClassVar[tuple[str, ...]] = ("speed", "speed_percent", *_LIMITS)

    kind: Literal["fan"] = "fan"
    speed: Quantity | None = None
    speed_percent: Quantity | None = None
    serial: str | None = None
    part_number: str | None = None
    airflow: Airflow | None = None
    airflow_word: str | None = None


class Temperature(Limited):
    """One temperature sensor."""

    QUANTITIES: ClassVar[tuple[str, ...]] = ("value", *_LIMITS)

    kind: Literal["temperature"] = "temperature"
    value: Quantity | None = None


class Inventory(Reading):
    """What is fitted in a slot, as the device reads it from the part itself."""

    kind: Literal["inventory"] = "inventory"
    serial: str | None = None
    part_number: str | None = None
    description: str | None = None
    airflow: Airflow | None = None
    airflow_word: str | None = None


class Link(Reading):
    """A port. Condition ok = link up; no-input = no link; the rest as the device says."""

    kind: Literal["link"] = "link"


class Alarm(Reading):
    """An entry of the device's alarm list or an alarm flag; ok = not asserted."""

    kind: Literal["alarm"] = "alarm"


class Device(Limited):
    """A fact about the chassis as a whole: its serial, uptime, clock, a voltage rail."""

    QUANTITIES: ClassVar[tuple[str, ...]] = ("value", *_LIMITS)

    kind: Literal["device"] = "device"
    value: Quantity | None = None
    serial: str | None = None
    part_number: str | None = None


AnyReading = PowerSupply | Fan | Temperature | Inventory | Link | Alarm | Device
KINDS: dict[str, type[AnyReading]] = {
    "power_supply": PowerSupply,
    "fan": Fan,
    "temperature": Temperature,
    "inventory": Inventory,
    "link": Link,
    "alarm": Alarm,
    "device": Device,
}


class Sighting(NamedTuple):
    """A reading and where it was seen."""

    reading: AnyReading
    row: Row
    table: str
    ended: bool
    """Whether the table it stood in is known to have been captured to its end."""

    @property
    def lines(self) -> tuple[int, ...]:
        return self.row.lines

    def span(self, field: str) -> Span | None:
        return self.row.span(field)

    def field_of(self, attribute: str) -> str:
        """The field of the row that gave a quantity of the reading: one of its name, else `value`."""
        return attribute if self.row.printed(attribute) is not None else "value"


class TableSeen(NamedTuple):
    """One table's part of a text: which kinds it feeds, where it stood, and what went wrong in it."""

    table: str
    kinds: tuple[Kind, ...]
    first_line: int
    last_line: int
    ended: bool
    cut: str
    """Why the table is certainly incomplete, or empty."""
    rows: int = 0
    counted: bool = False
    """Whether the device itself stated how many rows there are, and so many were read."""


class TakenAs(NamedTuple):
    """How a table of an unknown device was understood, for a person to confirm."""

    table: str
    layout: str
    """Sort of layout and its labels: two tables of one layout were printed by the same command."""
    columns: tuple[tuple[str, str], ...]
    """Label as printed -> what it was taken as."""
    header_lines: tuple[int, ...]
    first_line: int
    last_line: int
    sure: str
    """`high` where the labels themselves say what the table is about, `fair` where a title or the rows do."""


READING_MAP = "reading_map"
"""The fact of an observation that confirms how a text was read."""


class Confirmation(NamedTuple):
    """Who confirmed how an unknown device's text was taken, when (RFC 3339), and the digest of the map."""

    by: str
    at: str
    digest: str
    stated: tuple[tuple[str, Condition], ...] = ()
    """Status words of which that person said what they mean."""


class Snapshot(NamedTuple):
    """Everything read from one captured text."""

    source: str
    dialect: str | None
    basis: Literal["template", "inferred"]
    sightings: tuple[Sighting, ...]
    tables: tuple[TableSeen, ...]
    unread: tuple[UnreadLine, ...]
    passed_over: tuple[UnreadLine, ...]
    """Lines that are known not to matter: console log lines, output of other commands."""
    hosts: Mapping[str, int] = {}
    """The names that prompts gave, each with the line where it stood first."""
    last_line: int = 0
    commands: Mapping[str, tuple[str, ...]] = {}
    """Kind, or name of a device fact -> the commands of the dialect that show it."""
    lamps: Mapping[str, Mapping[str, Condition]] = {}
    """The maker's lamp chart: which lamp (`unit`, `chassis`) -> what it shows, in lower case -> the condition it means."""
    dialect_digest: str | None = None
    """SHA-256 of the dialect's files, where it is one of somebody's own and not a shipped one."""
    taken_as: tuple[TakenAs, ...] = ()
    """Of inferred readings: how each table was understood."""
    confirmed: Confirmation | None = None
    """Of inferred readings: the confirmation of all that `taken_as` says."""
    printed: str = ""
    """SHA-256 of the text as it looked, without blanks at the ends of lines: whether two captures are one text."""

    @property
    def unconfirmed(self) -> bool:
        """Whether the readings are inferred and nobody has put a name to how."""
        return self.basis == "inferred" and self.confirmed is None

    @property
    def readings(self) -> list[AnyReading]:
        return [s.reading for s in self.sightings]
