"""What is said to the person before the work: the cautions that fit, in few words, each with its source."""

import textwrap

import pytest
from support import dialect, snapshot

from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.cautions import LIFTED_BY_TWO, cautions
from consolecheck.judging.view import View
from consolecheck.reading.dialect import ChassisFacts, Manifest
from consolecheck.reading.reader import read_text
from consolecheck.records.readings import Condition, Link, PowerSupply, Snapshot
from consolecheck.records.units import Quantity

WEXCOMBE = dialect("wexcombe").manifest
CASES = sorted(shipped("fixtures").glob("*/*/before.txt"))
DIRECT = {"dc-persons", "dc-dead", "dc-earth", "dc-polarity", "dc-leads"}
FANS = {"fans-turn", "open-slot"}


def said(unit: str, before: Snapshot, manifest: Manifest = WEXCOMBE) -> dict[str, str]:
    return {c.id: c.text for c in cautions(unit, before, manifest)}


def weighing(kilograms: float | None) -> Manifest:
    return WEXCOMBE.model_copy(update={"chassis": ChassisFacts(kilograms=kilograms)})


def supplies(*volts: float | None, input_type: str | None = None) -> Snapshot:
    return snapshot(
        *(
            PowerSupply(
                unit=f"psu-{number}",
                condition=Condition.OK,
                input_voltage=None if v is None else Quantity(value=v, unit="V"),
                input_type=input_type,  # type: ignore[arg-type]
            )
            for number, v in enumerate(volts, 1)
        )
    )


AC = supplies(231.2, 230.6)


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.parent.parent.name}/{c.parent.name}")
def test_every_set_for_every_recorded_device_is_short_and_gives_way_to_local_codes(case) -> None:  # type: ignore[no-untyped-def]
    before = read_text(case.read_bytes(), case.name, dialects())
    manifest = dialect(case.parent.parent.name).manifest
    for unit in View(before, "before").units:
        told = cautions(unit, before, manifest)
        assert len({c.id for c in told}) == len(told)
        assert [c.id for c in told if len(textwrap.wrap(c.text, 76)) > 3] == []
        assert all(c.source for c in told)
        assert "Local codes" in told[-1].text
        assert "maker's instructions" in told[-1].text
        assert FANS & {c.id for c in told} == (FANS if unit.startswith("fan-") else set())


def test_a_supply_on_alternating_current() -> None:
    assert list(said("psu-2", AC)) == ["static", "order", "several-supplies", "hot", "local"]


def test_a_fan_module() -> None:
    told = said("fan-2", AC)
    assert list(told) == ["static", "order", "fans-turn", "open-slot", "local"]
    assert "120 s" in told["open-slot"]
    longer = WEXCOMBE.model_copy(update={"chassis": ChassisFacts(open_seconds=180)})
    assert "180 s" in said("fan-2", AC, longer)["open-slot"]


@pytest.mark.parametrize(
    ("before", "direct"),
    [
        (supplies(-53.5, -53.3), True),  # EN 300 132-2: -40.5 to -57.0 V at the terminals in normal service
        (supplies(53.5, 53.3), True),  # the same plant, printed without its sign
        (supplies(74.9), True),
        (supplies(75.0), False),
        (supplies(120.0), False),
        (supplies(0.0), False),  # no input at all tells no kind
        (supplies(None), False),
        (supplies(None, input_type="DC"), True),
        (supplies(0.0, input_type="DC"), True),
        (supplies(None, input_type="AC"), False),
        (supplies(231.0, -53.5), True),  # one of each
    ],
)
def test_wiring_of_direct_current_is_spoken_of_only_where_an_input_is_dc(before: Snapshot, direct: bool) -> None:
    assert DIRECT & set(said("psu-1", before)) == (DIRECT if direct else set())
    assert DIRECT & set(said("fan-1", before)) == set()


def test_for_direct_current_persons_and_code_come_first_and_earth_is_first_on_and_last_off() -> None:
    # Order by guides of two equipment makers for earth; of the two live leads from memory, and said to be so.
    told = cautions("psu-1", supplies(-53.5, -53.5), WEXCOMBE)
    assert [c.id for c in told][:5] == ["dc-persons", "dc-dead", "dc-earth", "dc-polarity", "dc-leads"]
    leads = next(c for c in told if c.id == "dc-leads")
    connect, disconnect = leads.text.split(". ")
    assert connect.index("earth") < connect.index("return") < connect.index("-48 V")
    assert disconnect.index("-48 V") < disconnect.index("return") < disconnect.index("earth")
    assert "order of the two live leads from memory" in leads.source
    assert "0 V" in next(c.text for c in told if c.id == "dc-dead")


def test_one_supply_alone_is_not_several() -> None:
    assert "several-supplies" not in said("psu-1", supplies(230.0))
    assert "several-supplies" not in said("fan-1", AC)


def test_lifting_from_the_weight_on_at_which_two_are_asked_for() -> None:
    # Makers ask for two people from 18 to 25 kg: common practice, no source.
    assert "lifting" in said("psu-1", AC, weighing(LIFTED_BY_TWO))
    assert "lifting" not in said("psu-1", AC, weighing(LIFTED_BY_TWO - 0.1))
    assert "lifting" not in said("psu-1", AC, weighing(None))
    assert "24.5 kg" in said("fan-1", AC, weighing(24.5))["lifting"]


def test_optics_where_the_device_has_links() -> None:
    assert "optics" in said("psu-1", snapshot(Link(name="1", condition=Condition.OK)))
    assert "optics" not in said("psu-1", AC)


def test_what_has_no_source_says_so() -> None:
    told = {c.id: c.source for c in cautions("fan-1", snapshot(Link(name="1")), weighing(20))}
    assert told["fans-turn"] == told["order"] == told["local"] == "common practice, no source"
    assert "from memory" in told["optics"]
    assert told["static"].startswith("ANSI/ESD S20.20-2021")
