"""A site's limits: a TOML file over built-in defaults.

Every default says where it comes from. "Common practice" means that no standard was found for it.
"""

import tomllib
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from consolecheck.records.readings import Airflow


class AcceptanceFault(ValueError):
    """The acceptance file cannot be used; the message names the key and the reason."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class PowerLimits(_Part):
    """Limits for supplies."""

    redundancy: Literal["N+1", "N+N", "count", "none"] = Field(
        "N+1",
        description="What must hold after the swap. N+1: the load fits after the loss of any one supply; "
        "N+N: after the loss of either feed; count: as many good supplies as before and at least two; "
        "none: not judged. Common practice.",
    )
    headroom_percent: float = Field(
        10, ge=0, lt=100, description="Share of the capacity kept free after a loss. Common practice."
    )
    ac_nominal: float | None = Field(
        None, gt=0, description="Nominal AC voltage of the site; without it the usual one nearest to the baseline's."
    )
    ac_tolerance_percent: float = Field(10, gt=0, le=50, description="IEC 60038 and EN 50160: plus and minus 10 %.")
    dc_low: float = Field(40.5, gt=0, description="Magnitude, V. ETSI EN 300 132-2, normal service range.")
    dc_high: float = Field(57.0, gt=0, description="Magnitude, V. ETSI EN 300 132-2, normal service range.")
    output_nominal: float | None = Field(
        None, gt=0, description="Nominal output voltage; without it the usual one nearest to what was read."
    )
    output_tolerance_percent: float = Field(5, gt=0, le=50, description="Common practice.")
    least_share_percent: float = Field(
        20, ge=0, le=100, description="Least load of the new supply, of an equal share. Common practice."
    )
    sharing_tolerance_percent: float = Field(
        10, gt=0, description="Largest departure of a supply from the mean load. Common practice."
    )
    sharing_from_load_percent: float = Field(
        20, ge=0, le=100, description="Sharing is judged from this load of the capacity on. Common practice."
    )
    standby_is_good: bool = Field(True, description="A supply in hot or cold standby is good without load (RFC 4268).")
    capacity: dict[str, Annotated[float, Field(gt=0)]] = Field(
        {}, description="Part number -> rated output, W, for devices that do not print it."
    )
    feeds: dict[str, list[str]] = Field({}, description="Feed -> its supplies, for devices that do not print it.")


class CoolingLimits(_Part):
    """Limits for fans and airflow."""

    airflow: Airflow | None = Field(None, description="The direction that this rack needs; else all must agree.")
    speed_tolerance_percent: float = Field(
        25, gt=0, lt=100, description="Departure of a fan from its peers or its baseline. Common practice."
    )
    duty_tolerance_percent: float = Field(
        20,
        gt=0,
        lt=100,
        description="Departure from the speed that the duty asks for. Common practice; "
        "speed in proportion to duty is the fan law for one fan in the same air.",
    )
    full_flow: float | None = Field(
        None, gt=0, description="Air flow at full duty from the switch's papers, m³/h; then the heat balance is judged."
    )
    modules_needed: int | None = Field(
        None, ge=1, description="Fan modules that suffice to cool the chassis; one more must be good."
    )


class TemperatureLimits(_Part):
    """Limits for sensors and the air inlet."""

    least_margin: float = Field(0, ge=0, description="Room to the warning limit that is asked for, K.")
    rise_limit: float = Field(
        10,
        gt=0,
        description="Largest rise over the baseline after taking out the inlet's own change, K. Common practice.",
    )
    inlet_names: list[str] = Field(
        ["inlet", "intake"], description="A sensor with one of these words in its name reads the inlet air."
    )
    outlet_names: list[str] = Field(
        ["outlet", "exhaust"], description="A sensor with one of these words in its name reads the air that leaves."
    )
    inlet_class: Literal["A1", "A2", "A3", "A4", "H1"] = Field(
        "A2", description="Air class of the equipment. ASHRAE TC 9.9, Thermal Guidelines, 5th ed. (2021)."
    )
    altitude: float = Field(0, ge=-500, description="Metres above sea level, for the class's derating.")


class IdentityLimits(_Part):
    """What may replace what."""

    substitutes: dict[str, list[str]] = Field({}, description="Part number -> part numbers that may replace it.")


class SettlingLimits(_Part):
    """When temperatures count as settled. First-order heating: done at 1, 2, 3 time constants to 63, 86, 95 %."""

    required: bool | None = Field(
        None, description="Whether a verdict needs it. Without a value: where samples were taken, as a live job does."
    )
    within: float = Field(
        3.0,
        gt=0,
        description="Change still to come at which a sensor counts as settled, K. Common practice, no source.",
    )
    least_seen_percent: float = Field(
        85,
        ge=50,
        lt=100,
        description="Share of the fitted change that must have been seen. Common practice, no source.",
    )
    interval: float = Field(15, ge=1, le=600, description="Seconds between two samples. Common practice, no source.")
    longest_wait: float = Field(
        2700, ge=60, description="Seconds after seating at which waiting ends undecided. Common practice, no source."
    )


class ClearanceLimits(_Part):
    """What must hold before a unit is pulled."""

    open_seconds: float | None = Field(
        None,
        gt=0,
        description="How long a slot may stay open; without it the dialect's figure, else 120 s, common practice.",
    )
    least_minutes_to_warning: float = Field(
        0, ge=0, description="Time to the nearest warning limit that is asked for beyond the open slot, min."
    )


class JobLimits(_Part):
    """What a job as such must keep to."""

    baseline_hours: float = Field(
        24, gt=0, description="Age at which a capture before the swap no longer counts, h. Common practice, no source."
    )
    without_baseline: bool = Field(
        False,
        description="Whether a swap without any capture before it can be verified, on limits and the label alone.",
    )


class Acceptance(_Part):
    """All limits of a site, and which rules count."""

    name: str = "built-in defaults"
    power: PowerLimits = PowerLimits()
    cooling: CoolingLimits = CoolingLimits()
    temperature: TemperatureLimits = TemperatureLimits()
    identity: IdentityLimits = IdentityLimits()
    settling: SettlingLimits = SettlingLimits()
    clearance: ClearanceLimits = ClearanceLimits()
    job: JobLimits = JobLimits()
    standing_faults_count: bool = Field(
        False, description="Hold faults against this swap that the baseline already showed."
    )
    required: list[str] = Field([], description="Rules to require although they are advisory by default.")
    advisory: list[str] = Field([], description="Rules to make advisory; the essential ones cannot be.")


def load_acceptance(text: str, source: str, rules: frozenset[str], essential: frozenset[str]) -> Acceptance:
    """An acceptance from the text of its TOML file. Raises AcceptanceFault with key and reason."""
    try:
        data: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as reason:
        raise AcceptanceFault(f"{source} is not TOML: {reason}") from None
    data.setdefault("name", source)
    try:
        acceptance = Acceptance.model_validate(data)
    except ValidationError as refused:
        first = refused.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise AcceptanceFault(f"{source}: {key}: {first['msg'].removeprefix('Value error, ')}") from None
    for listed in ("required", "advisory"):
        for rule in getattr(acceptance, listed):
            if rule not in rules:
                raise AcceptanceFault(
                    f"{source}: {listed}: there is no rule `{rule}`; rules are {', '.join(sorted(rules))}"
                )
    if barred := essential & set(acceptance.advisory):
        raise AcceptanceFault(
            f"{source}: advisory: `{sorted(barred)[0]}` is essential to any verdict and stays required"
        )
    return acceptance
