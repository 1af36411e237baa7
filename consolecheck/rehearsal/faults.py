"""What happens once the technician has begun: named scenarios as data."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from consolecheck.rehearsal.physics import Chassis, Deed
from consolecheck.rehearsal.site import DIRECT_SUPPLY, Part, bearable_growth

GOOD = Part("WXS-31902", "WXP-600F", "f>b", 600)
DEAD = Part("WXS-31902", "WXP-600F", "f>b", 600, faulty=True)
CORDLESS = Part("WXS-31902", "WXP-600F", "f>b", 600, input=False)
REVERSED = Part("WXS-31977", "WXP-600R", "b>f", 600)
SMALL = Part("WXS-40001", "WXP-300F", "f>b", 300)
DIRECT = Part("WXS-52008", DIRECT_SUPPLY, "f>b", 600, line="DC")
GOOD_FAN = Part("WXF-20871", "WXF-40F", "f>b", 18800)
DEAD_FAN = Part("WXF-20871", "WXF-40F", "f>b", 18800, faulty=True)
REVERSED_FAN = Part("WXF-20902", "WXF-40R", "b>f", 18800)


@dataclass(frozen=True)
class Step:
    """A deed, so many simulated seconds after the one before."""

    wait: float
    deed: Deed


@dataclass(frozen=True)
class Scenario:
    """What happens, the unit that the job is for, and what a careful engineer must answer once all is settled."""

    name: str
    title: str
    unit: str
    steps: tuple[Step, ...]
    verdict: Literal["verified", "not-verified"] = "not-verified"

    def perform(self, chassis: Chassis) -> None:
        """All steps at once; the time between them passes."""
        for step in self.steps:
            chassis.advance(step.wait)
            step.deed(chassis)


class Schedule:
    """A scenario that runs by itself, from some simulated second on."""

    def __init__(self, scenario: Scenario, start: float) -> None:
        self._left: list[tuple[float, Deed]] = []
        for step in scenario.steps:
            start += step.wait
            self._left.append((start, step.deed))

    @property
    def left(self) -> int:
        """How many deeds are still to come."""
        return len(self._left)

    def run_due(self, chassis: Chassis) -> None:
        while self._left and self._left[0][0] <= chassis.seconds:
            self._left.pop(0)[1](chassis)


def pulled(unit: str) -> Deed:
    def deed(chassis: Chassis) -> None:
        chassis.pull(unit)

    return deed


def fitted(unit: str, part: Part) -> Deed:
    return lambda chassis: chassis.insert(unit, part)


def put_back(unit: str) -> Deed:
    """The part that is in the bay comes out and goes in again."""
    return lambda chassis: chassis.insert(unit, chassis.pull(unit))


def returned(unit: str, out_of: str | None = None) -> Deed:
    """What was taken out of a bay, of this one if no other is named, goes in."""
    return lambda chassis: chassis.insert(unit, chassis.bench[out_of or unit])


def busier(share: float) -> Deed:
    """The load grows by a share, or by less where one supply could then not carry it alone with a tenth to spare."""
    return lambda chassis: chassis.grow_load(bearable_growth(chassis.configuration, share))


_OUT = Step(20, pulled("psu-2"))
_GOOD_IN = Step(60, fitted("psu-2", GOOD))


def _swap(part: Part, unit: str = "psu-2") -> tuple[Step, ...]:
    return Step(20, pulled(unit)), Step(60, fitted(unit, part))


def _then(deed: Callable[[Chassis], None], wait: float = 5) -> tuple[Step, ...]:
    return _OUT, _GOOD_IN, Step(wait, deed)


_Told = tuple[str, str, str, tuple[Step, ...]]
"""Name, unit of the job, title, steps."""

_GOOD: tuple[_Told, ...] = (
    ("none", "psu-2", "A good swap: the new supply serves and shares the load", _swap(GOOD)),
    (
        "cord-late",
        "psu-2",
        "A good swap whose cord went in a minute after the supply",
        (*_swap(CORDLESS), Step(60, lambda c: c.cord("psu-2", True))),
    ),
    ("fan-replaced", "fan-2", "A good swap of a fan module", _swap(GOOD_FAN, "fan-2")),
    (
        "inlet-warms",
        "psu-2",
        "A good swap while the inlet air warms by 4 K",
        (_OUT, Step(20, lambda c: c.warm_inlet(4)), Step(40, fitted("psu-2", GOOD))),
    ),
    (
        "load-grows",
        "psu-2",
        "A good swap while the load grows by up to 15 %",
        (_OUT, Step(20, busier(0.15)), Step(40, fitted("psu-2", GOOD))),
    ),
    (
        "one-feed",
        "psu-2",
        "A good swap, but both cords hang on feed A: enough for N+1, which asks for no second feed, and not for N+N",
        _then(lambda c: c.move_cord("psu-2", "A"), wait=0),
    ),
    (
        "seated-twice",
        "psu-2",
        "A good swap: the new supply was pulled once more and seated again",
        (_OUT, _GOOD_IN, Step(15, pulled("psu-2")), Step(20, returned("psu-2"))),
    ),
    (
        "wrong-slot-put-back",
        "psu-2",
        "A good swap after a wrong start: psu-1 was pulled first and put back at once",
        (Step(20, pulled("psu-1")), Step(15, returned("psu-1")), Step(30, pulled("psu-2")), _GOOD_IN),
    ),
)

_FAULTS: tuple[_Told, ...] = (
    (
        "dead-replacement",
        "psu-2",
        "The new supply is dead: it reports faulted and delivers nothing",
        _swap(DEAD),
    ),
    (
        "direct-current",
        "psu-2",
        "The new supply is one for direct current, and the cord does not fit it",
        _swap(DIRECT),
    ),
    (
        "exchanged",
        "psu-2",
        "The two supplies were exchanged: each sits in the other's bay, and none is new",
        (
            *_swap(GOOD),
            Step(30, pulled("psu-1")),
            Step(15, returned("psu-1", out_of="psu-2")),
            Step(30, pulled("psu-2")),
            Step(15, returned("psu-2", out_of="psu-1")),
        ),
    ),
    ("fan-dead-replacement", "fan-2", "The new fan module is dead: its rotors stand", _swap(DEAD_FAN, "fan-2")),
    (
        "fan-fails-later",
        "psu-2",
        "Five minutes after a good swap of a supply a fan module dies",
        _then(lambda c: c.fail_fan("fan-1"), wait=300),
    ),
    (
        "fan-fails-meanwhile",
        "fan-2",
        "Another fan module dies while the one is out",
        (Step(20, pulled("fan-2")), Step(20, lambda c: c.fail_fan("fan-3")), Step(40, fitted("fan-2", GOOD_FAN))),
    ),
    (
        "fan-reversed-airflow",
        "fan-2",
        "A fan module for the other airflow direction was fitted",
        _swap(REVERSED_FAN, "fan-2"),
    ),
    (
        "fan-weak-rotor",
        "fan-2",
        "One rotor of the new fan module reaches only 60 % of its speed",
        (*_swap(GOOD_FAN, "fan-2"), Step(0, lambda c: c.fail_fan("fan-2", "b", health=0.6))),
    ),
    ("left-empty", "psu-2", "The bay was left empty", (_OUT,)),
    ("link-down", "psu-2", "A link that was up is down after the swap", _then(lambda c: c.link_down(8))),
    ("no-input", "psu-2", "The new supply sits in its bay without a cord", _swap(CORDLESS)),
    (
        "reload",
        "psu-2",
        "The switch reloaded while the supply was out",
        (_OUT, Step(15, lambda c: c.reload()), _GOOD_IN),
    ),
    ("reversed-airflow", "psu-2", "A supply for the other airflow direction was fitted", _swap(REVERSED)),
    ("same-serial", "psu-2", "The old supply was put back", (Step(20, put_back("psu-2")),)),
    (
        "sensor-over-warning",
        "psu-2",
        "After the swap a sensor creeps over its warning limit",
        _then(lambda c: c.creep("asic-1", 2.1)),
    ),
    (
        "sensor-vanished",
        "psu-2",
        "The sensor inside the new supply does not answer",
        _then(lambda c: c.vanish_sensor("psu-2"), wait=0),
    ),
    (
        "slow-creep",
        "psu-2",
        "The new supply warms by 0.4 K a minute and reaches its warning limit long after the swap",
        _then(lambda c: c.creep("psu-2", 0.4)),
    ),
    (
        "supply-fails-later",
        "psu-2",
        "The new supply dies five minutes after it was seated",
        _then(lambda c: c.fail_supply("psu-2"), wait=300),
    ),
    (
        "too-small",
        "psu-2",
        "A smaller supply was fitted: it cannot take over the load alone",
        _swap(SMALL),
    ),
    ("wrong-slot", "psu-2", "The job was for psu-2, but psu-1 was pulled and replaced", _swap(GOOD, "psu-1")),
)


def _named(told: Iterable[_Told], verdict: Literal["verified", "not-verified"]) -> dict[str, Scenario]:
    return {name: Scenario(name, title, unit, steps, verdict) for name, unit, title, steps in told}


GOOD_ONES: Mapping[str, Scenario] = MappingProxyType(_named(_GOOD, "verified"))
"""Swaps that end well, also those that went the long way."""
SCENARIOS: Mapping[str, Scenario] = MappingProxyType({"none": GOOD_ONES["none"], **_named(_FAULTS, "not-verified")})
"""Swaps that end badly, and `none`."""


class NoSuchScenario(KeyError):
    """No scenario has that name."""


def scenario(name: str) -> Scenario:
    """The scenario of that name, good or bad. Raises NoSuchScenario, which lists those there are."""
    found = SCENARIOS.get(name) or GOOD_ONES.get(name)
    if found is None:
        raise NoSuchScenario(f"no scenario `{name}`; there are {', '.join(sorted({**SCENARIOS, **GOOD_ONES}))}")
    return found
