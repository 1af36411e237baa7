"""The chassis of the simulated switch: heat, air, power and time. Pure, and the same for the same seed.

Laws: first-order heating, T(t) = T_end + (T_0 - T_end) exp(-t/tau); sensible heat, rise ~ power / flow;
fan laws, flow ~ n and power ~ n^3 (AMCA 201; ASHRAE Handbook, HVAC Systems and Equipment, Fans). Supplies
share by droop; their losses are a + b x + c x^2 of the load share x, above the floors of 80 PLUS Gold at
230 V. Coefficients are our own: the switch is invented.
"""

import math
import random
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from consolecheck.rehearsal.site import Configuration, Part, Port, Sensor

STEP = 1.0
"""Seconds of one step; `advance` keeps what is left over, so that it does not matter how time is cut."""
SUPPLY_START = 4.0
"""Seconds from seating to serving."""
BOOT_SECONDS = 75.0
PORTS_UP = 60.0
"""Seconds after a reload at which links are back."""
STANDBY_WATTS = 9.0
POWER_FACTOR = 0.99
"""Of an alternating input; direct current has none, which is 1."""
DROOP = 0.03
"""Share of the set point by which a supply's voltage falls from no load to full load."""
FAN_WATTS = 10.0
"""Of one rotor at full speed."""
SECOND_ROTOR = 0.8653
"""Speed of rotor b over rotor a."""
SPIN_UP = 1.5
"""Seconds, time constant of a rotor."""
OPEN_BAY_FLOW = 0.95
"""Share of the flow that still takes the right way past one open bay."""
LEAST_FLOW = 0.03
"""Share of the flow at rest that remains with still fans."""
STALLED_BELOW = 100.0


def settled(value: float, end: float, seconds: float, tau: float) -> float:
    """First-order step: where `value` on its way to `end` is after `seconds`."""
    return end + (value - end) * math.exp(-seconds / tau)


def losses(output: float, rating: float) -> float:
    """Watts lost in a supply that delivers `output` of `rating`."""
    share = output / rating
    return rating * (0.015 + 0.025 * share + 0.06 * share * share)


def fan_power(speed: float, rated_speed: float) -> float:
    """Watts of one rotor: power ~ n^3."""
    return FAN_WATTS * (speed / rated_speed) ** 3


def shared(load: float, sources: Sequence[tuple[float, float]]) -> tuple[float, list[float]]:
    """Bus volts, and amps of each source, for sources given by set point (V) and droop (ohm).

    I = (V_0 - V) / R for each, and the sum of V I is the load. None takes current in.
    """
    active = list(range(len(sources)))
    while True:
        conductance = sum(1 / sources[i][1] for i in active)
        short = sum(sources[i][0] / sources[i][1] for i in active)
        volts = (short + math.sqrt(max(short * short - 4 * conductance * load, 0.0))) / (2 * conductance)
        amps = [(sources[i][0] - volts) / sources[i][1] if i in active else 0.0 for i in range(len(sources))]
        if all(a >= 0 for a in amps):
            return volts, amps
        active = [i for i in active if amps[i] >= 0]


@dataclass
class Supply:
    """A power bay. `age` is seconds since its part was seated."""

    feed: str
    part: Part | None
    set_point: float = 0.0
    meter: float = 0.0
    """Volts by which its output meter is off."""
    cord: bool = True
    age: float = math.inf
    input_voltage: float = 0.0
    output_voltage: float = 0.0
    output_current: float = 0.0

    @property
    def fed(self) -> bool:
        return self.part is not None and self.cord

    @property
    def serving(self) -> bool:
        return self.part is not None and self.cord and not self.part.faulty and self.age >= SUPPLY_START

    @property
    def output_power(self) -> float:
        return self.output_voltage * self.output_current

    @property
    def input_power(self) -> float:
        if not self.fed:
            return 0.0
        if not self.serving or self.part is None:
            return STANDBY_WATTS
        return self.output_power + losses(self.output_power, self.part.rating)

    @property
    def input_current(self) -> float:
        if self.part is None or not self.fed:
            return 0.0
        factor = POWER_FACTOR if self.part.line == "AC" else 1.0
        return self.input_power / (abs(self.input_voltage) * factor)

    @property
    def state(self) -> str:
        if self.part is None:
            return "empty"
        if not self.cord:
            return "dark"
        if self.part.faulty:
            return "faulted"
        if not self.serving:
            return "resting"
        return "straining" if self.output_power > self.part.rating else "serving"


@dataclass
class Rotor:
    """`health` is the share of its duty's speed that it reaches."""

    rated: float
    health: float = 1.0
    speed: float = 0.0


@dataclass
class Fan:
    """A fan bay; its rotors by letter."""

    part: Part | None
    rotors: dict[str, Rotor] = field(default_factory=dict)

    @property
    def ill(self) -> bool:
        return self.part is None or any(r.health < 0.5 for r in self.rotors.values())


@dataclass(frozen=True)
class Alarm:
    since: datetime
    weight: str
    place: str
    what: str


class NoSuchPlace(ValueError):
    """A unit, sensor, feed or port that is not there, a bay that is full or empty already, a cord that does not fit."""


class _Wander:
    """A slow walk about zero (Ornstein-Uhlenbeck), with a standard deviation of one."""

    def __init__(self, tau: float) -> None:
        self.tau, self.value = tau, 0.0

    def step(self, seconds: float, dice: random.Random) -> None:
        kept = math.exp(-seconds / self.tau)
        self.value = self.value * kept + math.sqrt(1 - kept * kept) * dice.gauss(0, 1)


@dataclass
class _Ramp:
    """A value on its straight way to another one; `rate` a second."""

    value: float = 0.0
    end: float = 0.0
    rate: float = 0.0

    def step(self, seconds: float) -> None:
        most = self.rate * seconds
        self.value += max(-most, min(most, self.end - self.value))


class Chassis:
    """A running switch. Whoever reads more than one thing of it, or acts on it, may hold `lock`."""

    def __init__(self, seed: int = 0, configuration: Configuration | None = None) -> None:
        self.configuration = c = configuration or Configuration()
        self.lock = threading.RLock()
        self._seed = seed
        self._dice = random.Random(seed)
        self.seconds = 0.0
        """Simulated seconds since the start."""
        self._stepped = 0.0
        self.awake = float(c.awake)
        self.boots = 0
        self.held = False
        """Whether the boot loader holds the switch."""
        self.powered = True
        self.journal: list[str] = []
        """What the switch says unasked, each with its time of day."""
        self.bench: dict[str, Part] = {}
        """What was last taken out of each bay."""
        self._busier = 1.0
        self._warmer = _Ramp()
        self._wanders = {"load": _Wander(900), "inlet": _Wander(3600)} | {f: _Wander(600) for f, _ in c.feeds}
        self._creep: dict[str, tuple[float, float]] = {}
        self._vanished: set[str] = set()
        self._down: set[int] = set()
        self._alarms: dict[tuple[str, str], Alarm] = {}
        self.supplies: dict[str, Supply] = {}
        for number, part in enumerate(c.supplies, 1):
            feed = c.feeds[(number - 1) % len(c.feeds)][0]
            self.supplies[f"psu-{number}"] = Supply(feed, None)
            self._seat_supply(f"psu-{number}", part)
            self.supplies[f"psu-{number}"].age = math.inf
        self.fans = {f"fan-{n}": Fan(part, self._rotors(part)) for n, part in enumerate(c.fans, 1)}
        self.duty = c.duty_at_rest
        self.commanded = round(self.duty)
        self._flow_at_rest = sum(r.rated * c.duty_at_rest / 100 for f in self.fans.values() for r in f.rotors.values())
        self._offsets = {s.name: self._of_part(f"sensor {s.name}", 0.3) for s in c.sensors}
        self.temperatures: dict[str, float] = dict.fromkeys((s.name for s in c.sensors), c.inlet)
        for _ in range(60):  # to rest, without time passing
            self._control(60)
            self._turn(60)
            self._share()
            self._heat(math.inf)
        self._watch()
        self.journal.clear()

    # Time.

    @property
    def clock(self) -> datetime:
        return self.configuration.clock + timedelta(seconds=self.seconds)

    def advance(self, seconds: float) -> None:
        """Lets simulated time pass."""
        with self.lock:
            self.seconds += max(seconds, 0.0)
            while self._stepped + STEP <= self.seconds + 1e-9:
                self._stepped += STEP
                self._step(STEP)

    def _step(self, seconds: float) -> None:
        for wander in self._wanders.values():
            wander.step(seconds, self._dice)
        self._warmer.step(seconds)
        for supply in self.supplies.values():
            supply.age += seconds
        self._creep = {n: (offset + rate * seconds, rate) for n, (offset, rate) in self._creep.items()}
        self._control(seconds)
        self._turn(seconds)
        self._share()
        self._heat(seconds)
        if self.powered:
            self.awake += seconds
        self._watch()

    # What is so now.

    @property
    def bays(self) -> dict[str, Supply | Fan]:
        return {**self.supplies, **self.fans}

    @property
    def inlet_air(self) -> float:
        c = self.configuration
        return c.inlet + c.inlet_wander * self._wanders["inlet"].value + self._warmer.value

    @property
    def load(self) -> float:
        """Watts that the supplies must deliver together."""
        c = self.configuration
        electronics = c.load * self._busier * (1 + c.load_wander * self._wanders["load"].value)
        return electronics + sum(fan_power(r.speed, r.rated) for f in self.fans.values() for r in f.rotors.values())

    @property
    def flow(self) -> float:
        """Air through the chassis, 1 at rest. A module that blows the other way takes away from it."""
        moved = sum(
            r.speed if f.part is not None and f.part.airflow == self.configuration.airflow else -r.speed
            for f in self.fans.values()
            for r in f.rotors.values()
        )
        open_bays = sum(bay.part is None for bay in self.bays.values())
        return max(abs(moved) / self._flow_at_rest * OPEN_BAY_FLOW**open_bays, LEAST_FLOW)

    def heat_points(self) -> Iterator[tuple[Sensor, float | None, str]]:
        """Sensors that answer, with their reading and state; no reading in an empty bay."""
        for sensor in self.configuration.sensors:
            if sensor.name in self._vanished:
                continue
            if sensor.unit is not None and self.supplies[sensor.unit].part is None:
                yield sensor, None, "-"
                continue
            value = self.reading(sensor.name)
            state = "hot" if value >= sensor.high_critical else "warm" if value >= sensor.high_warning else "easy"
            yield sensor, value, state

    def reading(self, name: str) -> float:
        """What a sensor prints: in steps of half a kelvin."""
        return round((self.temperatures[name] + self._offsets[name]) * 2) / 2

    def rotor_state(self, rotor: Rotor) -> str:
        if rotor.speed < STALLED_BELOW:
            return "stalled"
        return "slow" if rotor.speed <= self.configuration.least_rpm else "turning"

    def links(self) -> list[tuple[Port, bool]]:
        running = not self.held and (self.boots == 0 or self.awake >= PORTS_UP)
        return [(p, running and p.up and p.number not in self._down) for p in self.configuration.ports]

    def alarms(self) -> list[Alarm]:
        return sorted(self._alarms.values(), key=lambda a: a.since)

    def lamps(self) -> dict[str, str]:
        """The lamp of each unit and of the chassis, in the words of the family's lamp chart."""
        words = {
            "serving": "steady white",
            "straining": "steady white",
            "resting": "slow blue",
            "faulted": "fast amber",
        }
        lamps = {unit: words.get(supply.state, "dark") for unit, supply in self.supplies.items()}
        for unit, fan in self.fans.items():
            states = {self.rotor_state(r) for r in fan.rotors.values()}
            dark = fan.part is None or not self.powered
            lamps[unit] = "dark" if dark else "steady white" if states == {"turning"} else "fast amber"
        weights = {alarm.weight for alarm in self._alarms.values()}
        told = "fast amber" if "grave" in weights else "slow amber" if weights else "steady white"
        lamps["chassis"] = told if self.powered else "dark"
        return lamps

    def port_lamps(self) -> dict[str, str]:
        """Port -> what all its link lamps show."""
        return {str(port.number): "lit" if up and self.powered else "dark" for port, up in self.links()}

    # What a technician, or fate, does.

    def pull(self, unit: str) -> Part:
        """Takes a supply or a fan module out, and hands it over."""
        with self.lock:
            bay = self._bay(unit)
            part = bay.part
            if part is None:
                raise NoSuchPlace(f"{unit} is empty already")
            self.bench[unit] = part
            bay.part = None
            if isinstance(bay, Fan):
                bay.rotors = {}
            else:
                bay.cord = False
                bay.output_current = bay.output_voltage = 0.0
            self._say(f"{unit} taken out")
            self._after_act()
            return part

    def insert(self, unit: str, part: Part) -> None:
        """Seats a part; it comes in at room temperature."""
        with self.lock:
            bay = self._bay(unit)
            if bay.part is not None:
                raise NoSuchPlace(f"{unit} is not empty")
            if isinstance(bay, Fan):
                bay.part = part
                bay.rotors = self._rotors(part)
                if part.faulty:
                    for rotor in bay.rotors.values():
                        rotor.health = 0.0
            else:
                self._seat_supply(unit, part)
                for sensor in self.configuration.sensors:
                    if sensor.unit == unit:
                        self.temperatures[sensor.name] = self.inlet_air
            self._say(f"{unit} put in, {part.part_number} {part.serial}")
            self._after_act()

    def cord(self, unit: str, plugged: bool) -> None:
        """Plugs a supply's cord in, or pulls it."""
        with self.lock:
            bay = self._corded(unit)
            if plugged and not bay.cord:
                if not self._fits(bay):
                    raise NoSuchPlace(f"the cord of feed {bay.feed} does not fit {unit}")
                bay.age = 0.0
            bay.cord = plugged
            self._after_act()

    def move_cord(self, unit: str, feed: str) -> None:
        """Runs a supply from another feed; one that was fed loses its input for a moment and starts anew."""
        with self.lock:
            bay = self._corded(unit)
            if feed not in dict(self.configuration.feeds):
                raise NoSuchPlace(f"there is no feed {feed}")
            fed, was, bay.feed = bay.fed, bay.feed, feed
            if fed and not self._fits(bay):
                bay.feed = was
                raise NoSuchPlace(f"the cord of feed {feed} does not fit {unit}")
            if fed:
                bay.age = 0.0
            self._after_act()

    def warm_inlet(self, kelvin: float, seconds: float = 300.0) -> None:
        """The air that comes in warms by so much, evenly over a time."""
        with self.lock:
            self._warmer.end += kelvin
            self._warmer.rate = abs(self._warmer.end - self._warmer.value) / seconds

    def grow_load(self, share: float) -> None:
        """The switch has more to do, by a share of what its electronics draw."""
        with self.lock:
            self._busier *= 1 + share
            self._after_act()

    def fail_supply(self, unit: str) -> None:
        """A supply gives up where it sits."""
        with self.lock:
            bay = self._corded(unit)
            if bay.part is None:
                raise NoSuchPlace(f"{unit} is empty")
            bay.part = replace(bay.part, faulty=True)
            self._after_act()

    def reload(self) -> None:
        """The switch starts anew; supplies and fans run on."""
        with self.lock:
            self.awake = 0.0
            self.boots += 1
            self.held = False
            self.journal.clear()
            self._alarms.clear()
            self._after_act()

    def fail_fan(self, unit: str, rotor: str | None = None, health: float = 0.0) -> None:
        """Lets a rotor, or all of a module, reach only a share of the speed that is asked for."""
        with self.lock:
            bay = self._bay(unit)
            if not isinstance(bay, Fan) or (rotor is not None and rotor not in bay.rotors):
                raise NoSuchPlace(f"{unit} has no rotor {rotor or ''}".rstrip())
            for letter, turning in bay.rotors.items():
                if rotor in (None, letter):
                    turning.health = health

    def link_down(self, port: int, down: bool = True) -> None:
        """Takes a link down, or brings it up again."""
        with self.lock:
            if port not in {p.number for p in self.configuration.ports}:
                raise NoSuchPlace(f"there is no port {port}")
            (self._down.add if down else self._down.discard)(port)
            self._say(f"port {port} is {'down' if down else 'up'}")

    def vanish_sensor(self, name: str) -> None:
        """A sensor answers no more; its row is gone."""
        with self.lock:
            self._sensor(name)
            self._vanished.add(name)

    def creep(self, sensor: str, kelvin_per_minute: float) -> None:
        """What a sensor sits on grows hotter, as under a heat sink that comes loose."""
        with self.lock:
            self._sensor(sensor)
            offset, _ = self._creep.get(sensor, (0.0, 0.0))
            self._creep[sensor] = offset, kelvin_per_minute / 60

    # Inside.

    def _of_part(self, key: str, deviation: float) -> float:
        """A part's or a place's own small deviation: the same whenever it is asked for."""
        drawn = random.Random(f"{self._seed} {key}").gauss(0, deviation)
        return self.configuration.spread * max(-2 * deviation, min(2 * deviation, drawn))

    def _seat_supply(self, unit: str, part: Part) -> None:
        bay = self.supplies[unit]
        bay.part, bay.age = part, 0.0
        bay.cord = part.input and self._fits(bay)
        # Droop shares to 10 % only with set points within 0.35 % (Irving and Jovanovic).
        bay.set_point = self.configuration.set_point * (1 + self._of_part(f"set point {part.serial}", 0.0003))
        bay.meter = self._of_part(f"meter {part.serial}", 0.005)
        bay.output_current = bay.output_voltage = 0.0

    def _rotors(self, part: Part) -> dict[str, Rotor]:
        return {
            letter: Rotor(part.rating * factor * (1 + self._of_part(f"rotor {letter} {part.serial}", 0.003)))
            for letter, factor in (("a", 1.0), ("b", SECOND_ROTOR))
        }

    def _bay(self, unit: str) -> Supply | Fan:
        bay = self.bays.get(unit)
        if bay is None:
            raise NoSuchPlace(f"there is no {unit}")
        return bay

    def _corded(self, unit: str) -> Supply:
        bay = self._bay(unit)
        if not isinstance(bay, Supply):
            raise NoSuchPlace(f"{unit} has no cord")
        return bay

    def _fits(self, bay: Supply) -> bool:
        """Whether the cord of a bay's feed fits what sits in it."""
        direct = dict(self.configuration.feeds)[bay.feed] < 0
        return bay.part is None or bay.part.line == ("DC" if direct else "AC")

    def _sensor(self, name: str) -> Sensor:
        for sensor in self.configuration.sensors:
            if sensor.name == name:
                return sensor
        raise NoSuchPlace(f"there is no heat point {name}")

    def _say(self, text: str) -> None:
        self.journal.append(f"{self.clock:%H:%M:%S} {text}")

    def _after_act(self) -> None:
        self._share()
        self._watch()

    def _turn(self, seconds: float) -> None:
        for fan in self.fans.values():
            for rotor in fan.rotors.values():
                asked = rotor.rated * self.commanded / 100 * rotor.health if self.powered else 0.0
                rotor.speed = settled(rotor.speed, asked, seconds, SPIN_UP)

    def _share(self) -> None:
        for supply in self.supplies.values():
            nominal = dict(self.configuration.feeds)[supply.feed]
            wander = self.configuration.feed_wander * self._wanders[supply.feed].value
            supply.input_voltage = nominal + wander if supply.fed else 0.0
            if not supply.serving:
                supply.output_voltage = supply.output_current = 0.0
        serving = [s for s in self.supplies.values() if s.serving]
        if not serving:
            self.powered = False
            return
        if not self.powered:
            self.powered = True
            self.reload()
        sources = []
        for supply in serving:
            assert supply.part is not None
            full = supply.part.rating / supply.set_point
            sources.append((supply.set_point, supply.set_point * DROOP / full))
        volts, amps = shared(self.load, sources)
        for supply, current in zip(serving, amps, strict=True):
            supply.output_voltage, supply.output_current = volts + supply.meter, current

    def _heat(self, seconds: float) -> None:
        load = self.load if self.powered else 0.0
        air, flow = self.inlet_air, self.flow
        behind = self.temperatures.get("outlet", air)
        for sensor in self.configuration.sensors:
            end = air + sensor.kelvin_per_watt * load / flow
            if sensor.unit is not None:
                supply = self.supplies[sensor.unit]
                end = air
                if supply.part is not None:
                    # One that blows the other way breathes the air that the chassis has warmed.
                    end = air if supply.part.airflow == self.configuration.airflow else behind
                    own = 0.7 + supply.output_power / supply.part.rating
                    end += sensor.kelvin_per_watt * (supply.input_power - supply.output_power) / own
            end += self._creep.get(sensor.name, (0.0, 0.0))[0]
            self.temperatures[sensor.name] = settled(self.temperatures[sensor.name], end, seconds, sensor.tau)

    def _control(self, seconds: float) -> None:
        """Duty by the least margin of what the chassis fans cool: they change neither the inlet nor a supply."""
        c = self.configuration
        margins = [
            s.high_warning - self.temperatures[s.name]
            for s in c.sensors
            if s.unit is None and s.kelvin_per_watt > 0 and s.name not in self._vanished
        ]
        asked = c.duty_at_rest + c.duty_per_kelvin * (c.margin_at_rest - min(margins, default=c.margin_at_rest))
        asked = max(c.duty_bounds[0], min(c.duty_bounds[1], asked))
        if any(f.ill for f in self.fans.values()):
            asked = max(asked, c.duty_when_ill)
        most = c.duty_slew * seconds
        self.duty += max(-most, min(most, asked - self.duty))
        if abs(self.duty - self.commanded) >= 1:
            self.commanded = round(self.duty)

    def _watch(self) -> None:
        """Raises and clears alarms by what is so now."""
        now: dict[tuple[str, str], str] = {}
        for unit, supply in self.supplies.items():
            what = {"dark": "no input", "faulted": "output lost", "straining": "load over rating"}.get(supply.state)
            if what is not None:
                now[unit, what] = "note" if supply.state == "straining" else "grave"
        for unit, fan in self.fans.items():
            stalled = [n for n, r in fan.rotors.items() if r.health < 0.01 and self.rotor_state(r) == "stalled"]
            if stalled:
                what = f"rotor {stalled[0]} stalled" if len(stalled) == 1 else "both rotors stalled"
                now[unit, what] = "grave"
        for sensor, value, state in self.heat_points():
            place = sensor.unit or "chassis"
            if state == "hot":
                now[place, f"{sensor.name} hot"] = "grave"
            elif state == "warm" or (
                value is not None and (place, f"{sensor.name} warm") in self._alarms and value > sensor.high_warning - 2
            ):
                now[place, f"{sensor.name} warm"] = "note"
        for key in [k for k in self._alarms if k not in now]:
            del self._alarms[key]
            self._say(f"{key[0]} {key[1]}: over")
        for (place, what), weight in now.items():
            if (place, what) not in self._alarms:
                self._alarms[place, what] = Alarm(self.clock.replace(microsecond=0), weight, place, what)
                self._say(f"{place} {what}")


Deed = Callable[[Chassis], None]
"""Something that is done to a chassis."""
