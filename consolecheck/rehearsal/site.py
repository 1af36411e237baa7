"""What a chassis is and where it stands: parts, sensors and ports, its feeds, its air and what it has to do.

Values only; `physics` sets them going.
"""

import random
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal

Current = Literal["AC", "DC"]


@dataclass(frozen=True)
class Part:
    """A supply or a fan module. `rating` is watts of a supply, rpm at full duty of a fan's rotor a."""

    serial: str
    part_number: str
    airflow: str
    rating: float
    faulty: bool = False
    input: bool = True
    """Whether its cord is plugged in with it."""
    line: Current = "AC"
    """What a supply runs on; its cord fits no feed of the other kind."""


@dataclass(frozen=True)
class Sensor:
    """A heat point; `kelvin_per_watt` at the flow at rest, of the chassis load or of its supply's losses."""

    name: str
    tau: float
    kelvin_per_watt: float
    high_warning: float
    high_critical: float
    low_warning: float = 0.0
    unit: str | None = None


@dataclass(frozen=True)
class Port:
    number: int
    speed: str
    label: str
    up: bool = True


@dataclass(frozen=True)
class Configuration:
    """What a chassis is and how its surroundings wander. Watts, degrees Celsius, seconds, rpm, percent."""

    host: str = "tern-04"
    family: str = "SH-24"
    serial: str = "WXC-0041877"
    part_number: str = "WX-SH24-2P3F"
    airflow: str = "f>b"
    load: float = 384.5
    load_wander: float = 0.008
    inlet: float = 21.5
    inlet_wander: float = 0.3
    feeds: tuple[tuple[str, float], ...] = (("A", 231.2), ("B", 230.7))
    """Below zero it is a DC plant with its return earthed, which prints its volts so."""
    feed_wander: float = 0.2
    set_point: float = 12.16
    spread: float = 1.0
    """Factor on the spread of parts and sensors; 0 makes them all alike."""
    supplies: tuple[Part, ...] = (
        Part("WXS-20417", "WXP-600F", "f>b", 600),
        Part("WXS-20433", "WXP-600F", "f>b", 600),
    )
    fans: tuple[Part, ...] = (
        Part("WXF-11052", "WXF-40F", "f>b", 18800),
        Part("WXF-11057", "WXF-40F", "f>b", 18800),
        Part("WXF-11063", "WXF-40F", "f>b", 18800),
    )
    least_rpm: int = 2400
    sensors: tuple[Sensor, ...] = (
        Sensor("inlet", 30, 0.0, 40, 45),
        Sensor("outlet", 120, 0.0302, 60, 65),
        Sensor("asic-1", 60, 0.0935, 95, 105),
        Sensor("cpu", 90, 0.0638, 85, 90),
        Sensor("psu-1", 270, 0.886, 60, 70, unit="psu-1"),
        Sensor("psu-2", 270, 0.886, 60, 70, unit="psu-2"),
    )
    ports: tuple[Port, ...] = (
        Port(1, "25G", "tide-gauge-north"),
        Port(2, "25G", "tide-gauge-south"),
        Port(3, "10G", "radar-level"),
        Port(4, "10G", "spare", up=False),
        Port(5, "10G", "weather-mast"),
        Port(6, "1G", "door-camera"),
        Port(7, "100G", "core-a"),
        Port(8, "100G", "core-b"),
    )
    clock: datetime = datetime(2026, 11, 18, 6, 12, 40, tzinfo=UTC)
    awake: float = 15886381
    duty_at_rest: float = 45
    margin_at_rest: float = 27
    """Kelvin to the nearest warning limit at which the fans run at rest."""
    duty_per_kelvin: float = 1.5
    duty_slew: float = 0.5
    """Percent a second."""
    duty_bounds: tuple[float, float] = (30, 100)
    duty_when_ill: float = 70
    """Least duty while a fan is out or ill."""


# Sites that differ.

DIRECT_SUPPLY = "WXP-600D"
"""Part number of a supply for direct current."""
HEADROOM = 0.1
"""Share of the capacity that is left after a loss, as the built-in acceptance asks."""
FANS_DRAW = 20.0
"""Watts of the fan modules at the duty that the hottest of these sites comes to rest at, and some more."""


def _load_for(site: Configuration, capacity: float) -> float:
    """Electronics' watts that a capacity carries with headroom, wander of four deviations and the fans beside them."""
    return (capacity * (1 - HEADROOM) - FANS_DRAW) / (1 + 4 * site.load_wander)


def bearable_growth(site: Configuration, share: float) -> float:
    """By what share its load may grow: the one that is asked for, or less where one supply could not carry it alone."""
    alone = min(part.rating for part in site.supplies)
    return max(0.0, min(share, _load_for(site, alone) / site.load - 1))


def on_direct_current(site: Configuration) -> Configuration:
    """The same site on a -48 V plant at float, with supplies for it."""
    feeds = tuple((name, -53.5 + 0.2 * number) for number, (name, _) in enumerate(site.feeds))
    supplies = tuple(replace(part, line="DC", part_number=DIRECT_SUPPLY) for part in site.supplies)
    return replace(site, feeds=feeds, supplies=supplies)


def varied(seed: int) -> Configuration:
    """Another site each time, within reason: load, air, how they wander, spread of parts, sensors' slowness.

    At rest no limit trips and one 600 W supply carries the load with 10 % to spare. The same for the same seed.
    """
    dice = random.Random(f"site {seed}")
    site = Configuration(
        inlet=round(dice.uniform(18, 29), 1),
        inlet_wander=dice.uniform(0.1, 0.5),
        load_wander=dice.uniform(0.002, 0.012),
        feeds=(("A", round(dice.uniform(223, 239), 1)), ("B", round(dice.uniform(223, 239), 1))),
        feed_wander=dice.uniform(0.1, 0.5),
        spread=dice.uniform(0.5, 1.5),
        sensors=tuple(replace(s, tau=s.tau * dice.uniform(0.6, 1.4)) for s in Configuration().sensors),
    )
    return replace(site, load=round(min(dice.uniform(200, 520), _load_for(site, 600)), 1))
