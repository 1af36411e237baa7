"""What is said once to the person who does the work, before it begins: the cautions that fit this unit. Pure.

In our own words, and short. They remind a trained person and train nobody: the last one of every set gives
way to local codes and the maker's instructions. Where no standard was at hand the source says so.
"""

from collections.abc import Iterator
from typing import NamedTuple

from consolecheck.judging.rules.power import DC_BELOW
from consolecheck.judging.view import View
from consolecheck.reading.dialect import Manifest
from consolecheck.records.readings import PowerSupply, Snapshot


class Caution(NamedTuple):
    """One caution, and where it comes from."""

    id: str
    text: str
    source: str


NO_SOURCE = "common practice, no source"
LIFTED_BY_TWO = 18.0
"""kg from which makers usually ask for two people (18 to 25 kg): common practice, no source."""


def cautions(unit: str, before: Snapshot, manifest: Manifest) -> tuple[Caution, ...]:
    """The cautions for work on `unit`, in the order in which they matter.

    Those on direct current are for supplies, where the baseline shows an input that is DC or may be.
    """
    view = View(before, "before")
    told = [STATIC, ORDER]
    if unit.startswith("psu-"):
        if _has_direct_current(view):
            told = [DC_PERSONS, DC_DEAD, DC_EARTH, DC_POLARITY, DC_LEADS, *told]
        if len(view.supplies) > 1:
            told.append(SEVERAL_SUPPLIES)
        told.append(HOT)
    if unit.startswith("fan-"):
        told.extend((FANS_TURN, _open_slot(manifest)))
    told.extend(_of_the_place(view, manifest))
    return (*told, LOCAL)


def _of_the_place(view: View, manifest: Manifest) -> Iterator[Caution]:
    kilograms = manifest.chassis.kilograms
    if kilograms is not None and kilograms >= LIFTED_BY_TWO:
        yield Caution(
            "lifting",
            f"The chassis weighs {kilograms:g} kg. If it has to be moved, two people lift it, close to the body and without a twist.",
            "NIOSH revised lifting equation: 23 kg at the very best; two from 18 to 25 kg: common practice, no source",
        )
    if view.of("link"):
        yield OPTICS


def _has_direct_current(view: View) -> bool:
    """Whether any input is DC by its type, or by a voltage too low for mains."""
    for sighting in view.of("power_supply"):
        reading = sighting.reading
        if not isinstance(reading, PowerSupply):
            continue
        volts = reading.input_voltage
        if reading.input_type == "DC" or (volts is not None and 0 < abs(volts.value) < DC_BELOW):
            return True
    return False


def _open_slot(manifest: Manifest) -> Caution:
    return Caution(
        "open-slot",
        f"Leave the old module in until the new one is in your hand: the slot may stay open for {manifest.chassis.open_seconds:g} s. "
        "The other modules must turn meanwhile.",
        "1 to 3 minutes are usual: common practice, no source, where the family's papers give no time",
    )


STATIC = Caution(
    "static",
    "Wear a wrist strap on bare skin, clipped to the chassis' ESD point or a bonded rack. Hold modules by their edges and keep "
    "them in their bags until they go in.",
    "ANSI/ESD S20.20-2021 (strap and person below 35 megohm to ground), by secondary text",
)
ORDER = Caution(
    "order",
    "Find the slot by its label or locator light and read it twice. One unit at a time, and only after the rest is shown to "
    "carry the load; replacement or blank at hand.",
    NO_SOURCE,
)
SEVERAL_SUPPLIES = Caution(
    "several-supplies",
    "This switch has more than one supply. Pulling one leaves the others live: the chassis is dead only when every input is "
    "opened.",
    "common practice; that IEC 62368-1 asks for such a marking is from memory",
)
HOT = Caution(
    "hot",
    "The body of a supply can burn just after it comes out. Let it cool, or wear gloves.",
    "common practice, no source; touch limits of IEC 62368-1 from memory",
)
FANS_TURN = Caution(
    "fans-turn",
    "Blades turn on after release. Pull the module out a little and wait until it stands; keep fingers, hair, sleeves and "
    "straps away.",
    NO_SOURCE,
)
OPTICS = Caution(
    "optics",
    "The work is close to the ports. Do not look into open fibres or empty cages, cap them, and pull no cable that is in the "
    "way without a note of its port.",
    "IEC 60825-1 and 60825-2, from memory",
)
DC_PERSONS = Caution(
    "dc-persons",
    "Direct current: the local electrical code comes first. Only persons who are licensed or instructed for it work on these "
    "leads; no rings, watches or chains near the plant.",
    "common practice; up to 60 V DC counts as ES1 in IEC 62368-1, from memory, but the short-circuit energy is the danger",
)
DC_DEAD = Caution(
    "dc-dead",
    "Open the breaker of this input and tag it. Prove 0 V between the leads with a meter before you touch them.",
    "guides of two equipment makers",
)
DC_EARTH = Caution(
    "dc-earth",
    "The chassis' earth is connected before any supply lead and comes off after all of them.",
    "guides of two equipment makers",
)
DC_POLARITY = Caution(
    "dc-polarity",
    "Check the polarity with a meter, not by colour: where the plant earths the return it reads very low resistance to the "
    "chassis, the -48 V lead very high.",
    "guides of two equipment makers; lead colours follow no standard",
)
DC_LEADS = Caution(
    "dc-leads",
    "Connect earth, then the return (+), then the -48 V lead. Disconnect the -48 V lead, then the return, and earth last.",
    "order of the two live leads from memory; earth by guides of two equipment makers",
)
LOCAL = Caution(
    "local",
    "Local codes, the rules of the site and the maker's instructions come before all that is said here. Where they differ, "
    "follow them.",
    NO_SOURCE,
)
