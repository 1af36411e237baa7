"""What happens after the technician has pulled a supply: named scenarios, as data."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from consolecheck.rehearsal.physics import Chassis, Deed, Part

GOOD = Part("WXS-31902", "WXP-600F", "f>b", 600)
DEAD = Part("WXS-31902", "WXP-600F", "f>b", 600, faulty=True)
CORDLESS = Part("WXS-31902", "WXP-600F", "f>b", 600, input=False)
REVERSED = Part("WXS-31977", "WXP-600R", "b>f", 600)
SMALL = Part("WXS-40001", "WXP-300F", "f>b", 300)


@dataclass(frozen=True)
class Step:
    """A deed, so many simulated seconds after the one before."""

    wait: float
    deed: Deed


@dataclass(frozen=True)
class Scenario:
    """What happens, and the unit that the job is for."""

    name: str
    title: str
    unit: str
    steps: tuple[Step, ...]

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


_OUT = Step(20, pulled("psu-2"))
_GOOD_IN = Step(60, fitted("psu-2", GOOD))


def _swap(part: Part, unit: str = "psu-2") -> tuple[Step, ...]:
    return Step(20, pulled(unit)), Step(60, fitted(unit, part))


def _then(deed: Callable[[Chassis], None], wait: float = 5) -> tuple[Step, ...]:
    return _OUT, _GOOD_IN, Step(wait, deed)


SCENARIOS: Mapping[str, Scenario] = MappingProxyType(
    {
        name: Scenario(name, title, "psu-2", steps)
        for name, title, steps in (
            ("none", "A good swap: the new supply serves and shares the load", _swap(GOOD)),
            ("dead-replacement", "The new supply is dead: it reports faulted and delivers nothing", _swap(DEAD)),
            ("left-empty", "The bay was left empty", (_OUT,)),
            ("link-down", "A link that was up is down after the swap", _then(lambda c: c.link_down(8))),
            ("no-input", "The new supply sits in its bay without a cord", _swap(CORDLESS)),
            (
                "reload",
                "The switch reloaded while the supply was out",
                (_OUT, Step(15, lambda c: c.reload()), _GOOD_IN),
            ),
            ("reversed-airflow", "A supply for the other airflow direction was fitted", _swap(REVERSED)),
            ("same-serial", "The old supply was put back", (Step(20, put_back("psu-2")),)),
            (
                "sensor-over-warning",
                "After the swap a sensor creeps over its warning limit",
                _then(lambda c: c.creep("asic-1", 2.1)),
            ),
            (
                "sensor-vanished",
                "The sensor inside the new supply does not answer",
                _then(lambda c: c.vanish_sensor("psu-2"), wait=0),
            ),
            ("too-small", "A smaller supply was fitted: it cannot take over the load alone", _swap(SMALL)),
            ("wrong-slot", "The job was for psu-2, but psu-1 was pulled and replaced", _swap(GOOD, "psu-1")),
        )
    }
)


class NoSuchScenario(KeyError):
    """No scenario has that name."""


def scenario(name: str) -> Scenario:
    """The scenario of that name. Raises NoSuchScenario, which lists those there are."""
    if name not in SCENARIOS:
        raise NoSuchScenario(f"no scenario `{name}`; there are {', '.join(sorted(SCENARIOS))}")
    return SCENARIOS[name]
