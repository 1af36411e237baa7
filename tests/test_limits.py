"""The built-in limits of an acceptance, where they come from, and what a site may set instead."""

import pytest

from consolecheck.judging.acceptance import Acceptance, AcceptanceFault, load_acceptance

RULES = frozenset(("power.status", "cooling.status", "text.unread"))
ESSENTIAL = frozenset(("text.unread",))


def loaded(text: str) -> Acceptance:
    return load_acceptance(text, "site.toml", RULES, ESSENTIAL)


def at(acceptance: Acceptance, path: str) -> object:
    part, _, key = path.rpartition(".")
    return getattr(getattr(acceptance, part) if part else acceptance, key)


DEFAULTS = {
    # IEC 60038 and EN 50160: plus and minus 10 % of the nominal voltage.
    "power.ac_tolerance_percent": 10,
    # ETSI EN 300 132-2: normal service range at the terminals of the equipment, -40.5 V to -57.0 V.
    "power.dc_low": 40.5,
    "power.dc_high": 57.0,
    # ASHRAE TC 9.9, 5th edition (2021): class A2 is that of most switches; sea level until told otherwise.
    "temperature.inlet_class": "A2",
    "temperature.altitude": 0,
    # RFC 4268: a supply in hot or cold standby is good without load.
    "power.standby_is_good": True,
    # The rest is common practice, no source; a change of one is a change of what is called verified.
    "power.redundancy": "N+1",
    "power.headroom_percent": 10,
    "power.ac_nominal": None,
    "power.output_nominal": None,
    "power.output_tolerance_percent": 5,
    "power.least_share_percent": 20,
    "power.sharing_tolerance_percent": 10,
    "power.sharing_from_load_percent": 20,
    "power.capacity": {},
    "power.feeds": {},
    "cooling.airflow": None,
    "cooling.speed_tolerance_percent": 25,
    "cooling.duty_tolerance_percent": 20,
    "cooling.full_flow": None,
    "cooling.modules_needed": None,
    "temperature.least_margin": 0,
    "temperature.rise_limit": 10,
    "temperature.inlet_names": ["inlet", "intake"],
    "temperature.outlet_names": ["outlet", "exhaust"],
    "identity.substitutes": {},
    "settling.required": None,
    "settling.within": 3.0,
    "settling.least_seen_percent": 85,
    "settling.interval": 15,
    "settling.longest_wait": 2700,
    "clearance.open_seconds": None,
    "clearance.least_minutes_to_warning": 0,
    "job.baseline_hours": 24,
    "job.without_baseline": False,
    "standing_faults_count": False,
    "required": [],
    "advisory": [],
}


@pytest.mark.parametrize("path", DEFAULTS)
def test_a_default_is_what_its_source_says(path: str) -> None:
    assert at(Acceptance(), path) == DEFAULTS[path]


def test_every_limit_is_in_the_table() -> None:
    parts = Acceptance.model_fields
    known = {
        f"{part}.{key}" if hasattr(field.annotation, "model_fields") else part
        for part, field in parts.items()
        for key in getattr(field.annotation, "model_fields", {"": None})
    }
    assert known - {"name"} == set(DEFAULTS)


EDGES = {
    # The last value that is taken, and the first that is refused; at both ends where there are two.
    "power.headroom_percent": ([0, 99.9], [-0.1, 100]),
    "power.ac_nominal": ([0.1], [0]),
    "power.ac_tolerance_percent": ([0.1, 50], [0, 50.1]),
    "power.dc_low": ([0.1], [0]),
    "power.dc_high": ([0.1], [0]),
    "power.output_nominal": ([0.1], [0]),
    "power.output_tolerance_percent": ([0.1, 50], [0, 50.1]),
    "power.least_share_percent": ([0, 100], [-0.1, 100.1]),
    "power.sharing_tolerance_percent": ([0.1], [0]),
    "power.sharing_from_load_percent": ([0, 100], [-0.1, 100.1]),
    "cooling.speed_tolerance_percent": ([0.1, 99.9], [0, 100]),
    "cooling.duty_tolerance_percent": ([0.1, 99.9], [0, 100]),
    "cooling.full_flow": ([0.1], [0]),
    "cooling.modules_needed": ([1], [0]),
    "temperature.least_margin": ([0], [-0.1]),
    "temperature.rise_limit": ([0.1], [0]),
    "temperature.altitude": ([-500], [-500.1]),
    "settling.within": ([0.1], [0]),
    "settling.least_seen_percent": ([50, 99.9], [49.9, 100]),
    "settling.interval": ([1, 600], [0.9, 600.1]),
    "settling.longest_wait": ([60], [59.9]),
    "clearance.open_seconds": ([0.1], [0]),
    "clearance.least_minutes_to_warning": ([0], [-0.1]),
    "job.baseline_hours": ([0.1], [0]),
}


@pytest.mark.parametrize(("path", "value"), [(p, v) for p, (taken, _) in EDGES.items() for v in taken])
def test_a_limit_may_be_set_to_its_edge(path: str, value: float) -> None:
    part, _, key = path.partition(".")
    assert at(loaded(f"[{part}]\n{key} = {value}\n"), path) == value


@pytest.mark.parametrize(("path", "value"), [(p, v) for p, (_, refused) in EDGES.items() for v in refused])
def test_and_not_beyond_it(path: str, value: float) -> None:
    part, _, key = path.partition(".")
    with pytest.raises(AcceptanceFault, match=rf"^site\.toml: {path}: "):
        loaded(f"[{part}]\n{key} = {value}\n")


@pytest.mark.parametrize(("value", "taken"), [(0.1, True), (0, False)])
def test_a_rated_power_is_more_than_nothing(value: float, taken: bool) -> None:
    text = f"[power]\ncapacity = {{ WXP-600F = {value} }}\n"
    if taken:
        assert loaded(text).power.capacity == {"WXP-600F": value}
    else:
        with pytest.raises(AcceptanceFault, match=r"power\.capacity"):
            loaded(text)


def test_a_file_gives_its_name_unless_it_states_one() -> None:
    assert (Acceptance().name, loaded("").name, loaded('name = "tide room"').name) == (
        "built-in defaults",
        "site.toml",
        "tide room",
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("power = [", "site.toml is not TOML: "),
        ("[power]\nvolts = 1\n", "site.toml: power.volts: Extra inputs are not permitted"),
        (
            'required = ["power.stats"]',
            "site.toml: required: there is no rule `power.stats`; rules are cooling.status, power.status, text.unread",
        ),
        (
            'advisory = ["no.such"]',
            "site.toml: advisory: there is no rule `no.such`; rules are cooling.status, power.status, text.unread",
        ),
        (
            'advisory = ["power.status", "text.unread"]',
            "site.toml: advisory: `text.unread` is essential to any verdict and stays required",
        ),
    ],
)
def test_what_is_refused_is_told_with_key_and_reason(text: str, says: str) -> None:
    with pytest.raises(AcceptanceFault) as told:
        loaded(text)
    assert str(told.value).startswith(says)


def test_rules_may_be_made_required_or_advisory() -> None:
    site = loaded('required = ["cooling.status"]\nadvisory = ["power.status"]\n')
    assert (site.required, site.advisory) == (["cooling.status"], ["power.status"])
