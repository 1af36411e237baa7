"""What a watch over a swap tells: notices of what happened, and a picture of what is known now."""

from typing import Literal, NamedTuple

from consolecheck.records.readings import Condition

What = Literal[
    "removed",
    "inserted",
    "wrong-slot",
    "put-back",
    "unit",
    "link",
    "sensor",
    "open-long",
    "reload",
    "unclear",
    "other-chassis",
]
Phase = Literal["in place", "out", "fitted"]


class Notice(NamedTuple):
    """Something that happened, in one sentence, and the second of the poll that showed it."""

    seconds: float
    what: What
    unit: str | None
    message: str
    urgent: bool
    """Whether it should ring: somebody has to act, or to stop acting."""


class SensorNow(NamedTuple):
    """A sensor's last reading in degrees Celsius, and where it is heading."""

    name: str
    value: float
    per_minute: float | None
    """K/min; None while too little was seen to tell."""
    limit: float | None
    """The device's next upper limit; the critical one where that is passed already."""
    minutes_to_limit: float | None
    """At this rate; None where it is not heading there, or is over it."""
    limit_name: Literal["warning", "critical"] = "warning"


class UnitNow(NamedTuple):
    """Another unit: its last condition and the device's word for it, and what the baseline had."""

    unit: str
    condition: Condition | None
    word: str | None
    was: Condition | None


class Picture(NamedTuple):
    """What is known now."""

    unit: str
    phase: Phase
    condition: Condition | None
    word: str | None
    open_seconds: float | None
    """How long the slot has been open, or was while the phase is `fitted`; None where that was not seen."""
    open_limit: float
    sensors: tuple[SensorNow, ...]
    """The one with the least room to its first limit comes first."""
    units: tuple[UnitNow, ...]
    links_down: tuple[str, ...]
    """Links that were up in the baseline."""
    unclear: str
    """Why the last poll says nothing, or empty."""
    seconds: float = 0.0
