"""Does the air take away what the supplies bring in? For switches whose papers state their flow."""

from collections.abc import Iterator
from statistics import fmean, median

from consolecheck.judging.rules.load import load_of
from consolecheck.judging.rules.rule import MET, UNDETERMINED, Rule
from consolecheck.judging.rules.temperature import inlet, named
from consolecheck.judging.view import Case, Draft, View
from consolecheck.records.units import Quantity

CUBIC_METRES_HOUR_KELVIN_PER_WATT = 2.98
"""Sensible heat, q = rho cp V dT, of air at sea level: m³/h = 2.98 W / K; good to 2 % between 15 and 25 °C."""
WITHIN_FACTOR = 2.0
"""Factor within which measured and reckoned rise agree: sensors sit in the air as they sit. Common practice."""


def density_ratio(metres: float) -> float:
    """Air density over that at sea level, standard atmosphere (ISO 2533; constants from memory): 0.864 at 1500 m."""
    return float((1 - 2.25577e-5 * metres) ** 4.2559)


def air_rise(watts: float, cubic_metres_per_hour: float, metres: float = 0.0) -> float:
    """Kelvin by which air warms that takes up so many watts, at an altitude."""
    return CUBIC_METRES_HOUR_KELVIN_PER_WATT * watts / (cubic_metres_per_hour * density_ratio(metres))


def heat_balance(view: View, case: Case) -> Iterator[Draft]:
    """The outlet is warmer than the inlet by about what load and flow make: else a figure was misread, or the
    air goes another way.

    Sensible heat, q = rho cp V dT. The flow follows the fans' duty (fan laws: flow ~ n). Judged only where the
    acceptance states the flow at full duty.
    """
    full, load = case.acceptance.cooling.full_flow, load_of(view)
    warm = named(view, case.acceptance.temperature.outlet_names)
    cold = inlet(view, case)
    duties = [q.value for s in view.of("fan") if (q := s.reading.given("speed_percent")) is not None and q.value > 0]
    if full is None or load is None or not warm or not cold or not duties:
        return
    sighting, outlet = max(warm, key=lambda found: found[1].value)
    rise = outlet.value - fmean(q.value for _, q in cold)
    reckoned = air_rise(load.total, full * median(duties) / 100, case.acceptance.temperature.altitude)
    agrees = reckoned / WITHIN_FACTOR <= rise <= reckoned * WITHIN_FACTOR
    yield Draft(
        sighting.reading.subject,
        MET if agrees else UNDETERMINED,
        f"the air warms by {rise:.1f} K; {load.total:g} W at this flow make about {reckoned:.1f} K",
        (view.at(sighting, "value"),),
        Quantity(value=round(rise, 2), unit="Cel"),
        Quantity(value=round(reckoned, 2), unit="Cel"),
        "sensible heat, within a factor of 2 (common practice)",
        hint=None
        if agrees
        else "capture again; then look for a blank that is missing and for fans that blow the other way",
        unit=sighting.reading.unit,
    )


RULES = (
    Rule(
        "temperature.heat-balance",
        "The air takes the heat away",
        ("temperature", "fan", "power_supply"),
        state=heat_balance,
        required=False,
    ),
)
