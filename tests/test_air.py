"""Air and heat against published figures, and what a tachometer with other pulses looks like."""

import pytest
from support import case, findings, outcome, outcomes, q, snapshot, still

from consolecheck.judging.acceptance import Acceptance, CoolingLimits
from consolecheck.judging.rules.air import air_rise, density_ratio
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import AnyReading, Condition, Fan, PowerSupply, Temperature
from consolecheck.records.units import Quantity

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
CFM = 1.699011
"""Cubic metres an hour in a cubic foot a minute."""


@pytest.mark.parametrize(
    ("watts", "cfm", "kelvin"),
    [
        (1000, 158, 20 / 1.8),  # a cabinet maker's form, CFM = 3160 kW / °F: 1 kW at 20 °F needs 158
        (100, 5.0, 35),  # CFM = 1.76 W / K at sea level; pages that use 3.16 with kelvin say 2.64 and are wrong
        (1000 / 3.412, 1000 / 1.08 / 20, 20 / 1.8),  # 1.08 BTU/h a CFM and °F, and 3.412 BTU/h a watt
    ],
)
def test_air_takes_up_heat_as_handbooks_say(watts: float, cfm: float, kelvin: float) -> None:
    """Sensible heat, ASHRAE form, checked against secondary texts; the constants hold to about 2 %."""
    assert air_rise(watts, cfm * CFM) == pytest.approx(kelvin, rel=0.02)


def test_thin_air_takes_up_less() -> None:
    """Standard atmosphere: density ratio 0.864 at 1500 m (from memory), so a sixth more rise at the same flow."""
    assert density_ratio(1500) == pytest.approx(0.864, abs=5e-4)
    assert air_rise(100, 100, 1500) / air_rise(100, 100) == pytest.approx(1.157, abs=1e-3)


def air(rise: float) -> list[AnyReading]:
    return [
        Temperature(name="inlet", condition=Condition.OK, value=q("22 C"), high_warning=q("40 C")),
        Temperature(
            name="outlet", condition=Condition.OK, value=Quantity(value=22 + rise, unit="Cel"), high_warning=q("60 C")
        ),
        Fan(unit="fan-1", name="1a", condition=Condition.OK, speed=q("8000 rpm"), speed_percent=q("50 %")),
        PowerSupply(unit="psu-1", condition=Condition.OK, output_power=q("400 W")),
    ]


@pytest.mark.parametrize(
    ("rise", "expected"), [(11.92, MET), (6.0, MET), (23.8, MET), (5.9, UNDETERMINED), (24.0, UNDETERMINED)]
)
def test_outlet_less_inlet_agrees_with_load_and_flow(rise: float, expected: Outcome) -> None:
    """400 W in 100 m³/h (half of 200) make 11.92 K; a factor of two either way is let pass."""
    acceptance = Acceptance(cooling=CoolingLimits(full_flow=200))
    judged = still(*air(rise), acceptance=acceptance)
    assert outcome("temperature.heat-balance", judged) is expected
    assert not any(f.required for f in findings("temperature.heat-balance", judged))


def test_without_a_stated_flow_no_balance_is_drawn() -> None:
    assert findings("temperature.heat-balance", still(*air(30.0))) == []


def turning(unit: str, rpm: float) -> Fan:
    return Fan(
        unit=unit,
        name=f"{unit[-1]}a",
        condition=Condition.OK,
        speed=Quantity(value=rpm, unit="rpm"),
        speed_percent=q("50 %"),
    )


def revolutions(hertz: float, pulses: int) -> float:
    """rpm = 60 x pulses per second / pulses per revolution (Linux kernel, sysfs interface of hwmon)."""
    return 60 * hertz / pulses


@pytest.mark.parametrize(
    ("hertz", "pulses", "expected"), [(400, 2, MET), (400, 4, UNDETERMINED), (400, 1, UNDETERMINED), (270, 4, UNMET)]
)
def test_a_new_module_that_counts_other_pulses_is_open_and_not_slow(
    hertz: float, pulses: int, expected: Outcome
) -> None:
    """400 Hz are 12,000 rpm at two pulses a revolution and 6000 at four: half the baseline at the same duty."""
    assert revolutions(400, 2) == 12_000
    assert revolutions(400, 4) == 6_000
    before = [turning(f"fan-{n}", 12_000) for n in (1, 2, 3)]
    after = [turning("fan-1", revolutions(hertz, pulses)), *before[1:]]
    judged = case(snapshot(*before), snapshot(*after), "fan-1")
    told = outcomes("cooling.duty", judged)
    assert told.get("fan-1 1a", MET) is expected
    if pulses != 1:  # faster than before is no fault of the baseline's
        assert outcomes("cooling.baseline", judged).get("fan-1 1a", MET) is expected


def test_a_fan_that_was_not_replaced_has_its_old_tachometer() -> None:
    """Then half the speed is half the speed."""
    before = [turning(f"fan-{n}", 12_000) for n in (1, 2, 3)]
    after = [before[0], turning("fan-2", 6_000), before[2]]
    judged = case(snapshot(*before), snapshot(*after), "fan-1")
    assert outcomes("cooling.duty", judged)["fan-2 2a"] is UNMET
    assert outcomes("cooling.baseline", judged)["fan-2 2a"] is UNMET
