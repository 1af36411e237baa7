"""Which part sits where, what eyes saw, and the job as such: a case per fault, and every sentence whole."""

from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from support import case, q, sighted, snapshot
from wholly_told import ABSENT, FAILED, NO_INPUT, OK, STANDBY, UNTOLD, same_text

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.rules import identity, job, seen, settled
from consolecheck.judging.settling import Course
from consolecheck.judging.view import Case, Draft, Observed, Sample, Taken
from consolecheck.records.readings import (
    Alarm,
    AnyReading,
    Device,
    Fan,
    Inventory,
    Link,
    PowerSupply,
    Sighting,
    Snapshot,
    Temperature,
)
from consolecheck.records.text import UnreadLine


def supply(number: int, serial: str | None = None, part: str | None = None, **more: Any) -> PowerSupply:
    return PowerSupply(unit=f"psu-{number}", serial=serial, part_number=part, **{"condition": OK, **more})


def swapped(
    before: Sequence[AnyReading | Sighting] | Snapshot,
    after: Sequence[AnyReading | Sighting] | Snapshot,
    unit: str = "psu-1",
    reseat: str | None = None,
    by: str = "",
    limits: dict[str, Any] | None = None,
    **eyes: str,
) -> Case:
    """A swap; `psu_1__serial="SB1"` is what a label said."""
    texts = [t if isinstance(t, Snapshot) else snapshot(*t) for t in (before, after)]
    observed = tuple(
        Observed(u.replace("_", "-"), fact, value, by)
        for k, value in eyes.items()
        for u, _, fact in [k.partition("__")]
    )
    judged = case(texts[0], texts[1], unit, Acceptance.model_validate(limits or {}), observed)
    return judged._replace(reseat=reseat)


# ---- one chassis


def test_what_is_said_of_the_chassis() -> None:
    told = identity.chassis

    def box(serial: str) -> Inventory:
        return Inventory(unit="chassis", serial=serial)

    same_text(
        told(swapped([box("TOB0404")], [box("TOB0404")])),
        """
        met chassis: the chassis is TOB0404 in both texts
          measured TOB0404; limit TOB0404; source the baseline
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([box("TOB0404")], [box("TOB0405")])),
        """
        unmet chassis: the texts come from two chassis: TOB0404 before, TOB0405 after
          measured TOB0405; limit TOB0404; source the baseline
          do: find the two captures of one chassis and judge those; a chassis that was replaced whole is a new installation: take a new baseline on it
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped([box("n/a"), Device(name="x", serial="TOB0404")], [Device(name="x", serial="TOB0404")])),
        """
        met chassis: the chassis is TOB0404 in both texts
          measured TOB0404; limit TOB0404; source the baseline
          at after:1 before:2
        """,
    )

    def mac(address: str, hosts: dict[str, int] | None = None) -> Snapshot:
        return snapshot(Device(name="mac", status_text=address))._replace(hosts=hosts or {})

    same_text(
        told(swapped(mac("02:00:00:00:04:04"), mac("02:00:00:00:04:04"))),
        """
        met chassis: the chassis has the address 02:00:00:00:04:04 in both texts
          measured 02:00:00:00:04:04; limit 02:00:00:00:04:04; source the baseline
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(mac("02:00:00:00:04:04"), mac("02:00:00:00:04:05"))),
        """
        undetermined chassis: the address was 02:00:00:00:04:04 and is 02:00:00:00:04:05: another chassis, or a stack with a new leader
          measured 02:00:00:00:04:05; limit 02:00:00:00:04:04; source the baseline
          do: find the two captures of one chassis, or capture the inventory both times
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(mac("02:00:00:00:04:04", {"tern-04": 1}), mac("02:00:00:00:04:05", {"gull-02": 1}))),
        """
        unmet chassis: the address was 02:00:00:00:04:04 and is 02:00:00:00:04:05: another chassis
          measured 02:00:00:00:04:05; limit 02:00:00:00:04:04; source the baseline
          do: find the two captures of one chassis, or capture the inventory both times
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(mac("02:00:00:00:04:04", {"tern-04": 1}), mac("02:00:00:00:04:05", {"tern-04": 1}))),
        """
        undetermined chassis: the address was 02:00:00:00:04:04 and is 02:00:00:00:04:05: another chassis, or a stack with a new leader
          measured 02:00:00:00:04:05; limit 02:00:00:00:04:04; source the baseline
          do: find the two captures of one chassis, or capture the inventory both times
          at after:1 before:1
        """,
    )
    same_text(
        told(swapped(mac("02:00:00:00:04:04", {"tern-04": 1}), mac("02:00:00:00:04:05"))),
        """
        undetermined chassis: the address was 02:00:00:00:04:04 and is 02:00:00:00:04:05: another chassis, or a stack with a new leader
          measured 02:00:00:00:04:05; limit 02:00:00:00:04:04; source the baseline
          do: find the two captures of one chassis, or capture the inventory both times
          at after:1 before:1
        """,
    )

    def prompts(**hosts: int) -> Snapshot:
        return snapshot(supply(2, "SB2201"))._replace(hosts=hosts)

    for one, other in (
        (mac("02:00:00:00:04:04", {"tern": 1}), prompts(tern=4)),  # an address in one text only says nothing
        (prompts(tern=1), mac("02:00:00:00:04:04", {"tern": 4})),
        (mac("", {"tern": 1}), mac("02:00:00:00:04:04", {"tern": 4})),
        (mac("02:00:00:00:04:04", {"tern": 1}), mac("", {"tern": 4})),
    ):
        same_text(
            told(swapped(one, other)),
            """
            met chassis: the prompt names tern in both texts
              measured tern; limit tern; source the baseline
              at after:4 before:1
            """,
        )
    same_text(
        told(swapped(prompts(tern=1), prompts(tern=4))),
        """
        met chassis: the prompt names tern in both texts
          measured tern; limit tern; source the baseline
          at after:4 before:1
        """,
    )
    same_text(
        told(swapped(prompts(tern=1), prompts(gull=4))),
        """
        unmet chassis: the prompts name tern before and gull after
          measured gull; limit tern; source the baseline
          do: find the two captures of one device and judge those
          at after:4 before:1
        """,
    )
    same_text(
        told(swapped(prompts(tern=1), prompts())),
        """
        met chassis: psu-2 is SB2201 in both texts, so they come from one chassis
          measured SB2201; limit SB2201; source the baseline
          at after:1 before:1
        """,
    )
    rows = [supply(1, "SB1101"), supply(2, "SB2201"), supply(3, "SB3301")]
    same_text(
        told(swapped(rows, [supply(1, "SB9901"), supply(2, "SB9902"), supply(3, "SB3301")])),
        """
        met chassis: psu-3 is SB3301 in both texts, so they come from one chassis
          measured SB3301; limit SB3301; source the baseline
          at after:3 before:3
        """,
    )
    same_text(
        told(swapped(rows, [supply(1, "SB1101"), supply(2, "SB9902"), supply(3, "SB9903")])),
        """
        unmet chassis: no unit has the same serial in both texts: they come from two chassis
          do: find the two captures of one chassis and judge those
          at after:2 before:2 after:3 before:3
        """,
    )
    same_text(
        told(swapped(rows[:1], rows[:1])),
        """
        undetermined chassis: neither text says which chassis it comes from
          do: capture with the prompt, or with the inventory, both times
          at after:1 before:1
        """,
    )


# ---- the right part


def test_what_is_said_of_the_replaced_part() -> None:
    told = identity.replaced
    old, new = [supply(1, "SB1101")], [supply(1, "TX7702")]
    same_text(
        told(swapped(old, new)),
        """
        met psu-1: psu-1 changed from SB1101 to TX7702
          measured TX7702; limit SB1101; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, old)),
        """
        unmet psu-1: psu-1 still has serial SB1101: the same part was put back
          measured SB1101; limit SB1101; source the baseline
          do: fit the replacement, or state why the same part is right: --reseat REASON
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, old, reseat="the latch was open")),
        """
        met psu-1: psu-1 is still SB1101, as stated: the latch was open
          measured SB1101; limit SB1101; source stated reseat
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, new, reseat="the latch was open")),
        """
        unmet psu-1: psu-1 was to be reseated but its serial changed from SB1101 to TX7702
          measured TX7702; limit SB1101; source stated reseat
          do: judge it as a replacement, without --reseat
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, new, psu_1__serial="tx7702")),
        """
        met psu-1: psu-1 changed from SB1101 to TX7702
          measured TX7702; limit SB1101; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, new, psu_1__serial="TX7703")),
        """
        unmet psu-1: the label says TX7703 but psu-1 reports TX7702
          measured TX7702; limit TX7703; source the label as read
          do: check that the labelled part sits in this slot
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, new, psu_1__removed_serial="SB1102")),
        """
        unmet psu-1: the removed part is SB1102 but the baseline had SB1101 in psu-1
          measured SB1102; limit SB1101; source the label as read
          do: the part in your hand came from another slot: put it back
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, new, psu_1__removed_serial="sb1101")),
        """
        met psu-1: psu-1 changed from SB1101 to TX7702
          measured TX7702; limit SB1101; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, [supply(1)])),
        """
        undetermined psu-1: whether psu-1 was replaced is not known: the serial of the new part was not printed
          limit SB1101
          do: read the label and state it: --seen psu-1.serial=SERIAL
          at before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1)], new)),
        """
        undetermined psu-1: whether psu-1 was replaced is not known: the serial of the removed part was not printed
          measured TX7702
          do: read the label and state it: --seen psu-1.removed_serial=SERIAL
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1)], [supply(1)])),
        """
        undetermined psu-1: whether psu-1 was replaced is not known: either serial was not printed
          do: read the label and state it: --seen psu-1.serial=SERIAL
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1)], [supply(1)], psu_1__serial="TX7702", psu_1__removed_serial="SB1101")),
        """
        met psu-1: psu-1 changed from SB1101 to TX7702
          measured TX7702; limit SB1101; source the baseline
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1)], [supply(1)], psu_1__serial="TX7702")),
        """
        undetermined psu-1: whether psu-1 was replaced is not known: the serial of the removed part was not printed
          measured TX7702
          do: read the label and state it: --seen psu-1.removed_serial=SERIAL
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, [supply(1, condition=ABSENT)])),
        """
        unmet psu-1: no unit sits in psu-1
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, [supply(1, "SB1191")])),
        """
        undetermined psu-1: the serial of psu-1 was SB1101 and is SB1191, which is so much like the old one that it may be the old one misread
          measured SB1191; limit SB1101; source common practice
          do: read the label of the new part and state it: --seen psu-1.serial=SERIAL
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, [supply(1, "TX77")])),
        """
        undetermined psu-1: the serial of psu-1 was SB1101 and is TX77, which is built otherwise, as if characters were lost
          measured TX77; limit SB1101; source common practice
          do: read the label of the new part and state it: --seen psu-1.serial=SERIAL
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1, "SB1101", "HX")], [supply(1, "TX77", "HY")])),
        """
        met psu-1: psu-1 changed from SB1101 to TX77
          measured TX77; limit SB1101; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(old, [supply(1, "SB1191")], psu_1__serial="SB1191")),
        """
        met psu-1: psu-1 changed from SB1101 to SB1191
          measured SB1191; limit SB1101; source the baseline
          at after:1 before:1; of psu-1
        """,
    )


@pytest.mark.parametrize(("samples", "outcome"), [(0, "undetermined"), (1, "undetermined"), (2, "met"), (3, "met")])
def test_noise_does_not_repeat_itself(samples: int, outcome: str) -> None:
    """Two samples that show the new serial, too, settle what may be a misreading."""
    judged = swapped([supply(1, "SB1101")], [supply(1, "SB1191")])
    more = tuple(Sample(float(n), snapshot(supply(1, "SB1191"))) for n in range(samples))
    (only,) = identity.replaced(judged._replace(samples=more))
    assert only.outcome.value == outcome


@pytest.mark.parametrize(
    ("one", "two", "alike"),
    [
        ("SB1101", "SB1101", True),
        ("SB1101", "SB1102", True),
        ("SB1101", "SB1192", False),
        ("SB1101", "SB1110", True),  # two neighbours changed places
        ("SB1201", "SB2101", True),
        ("AB12", "CD12", False),
        ("SB110", "SB1101", True),
        ("SB1101", "SB119", False),
        ("SB11", "SB1101", False),
        ("B1101", "SB1101", True),
        # Noise leaves a single bit each, in up to three characters.
        ("0000", "1110", True),
        ("0000", "1111", False),
        ("0000", "1130", False),
        ("00", "33", False),
    ],
)
def test_one_serial_may_be_the_other_misread(one: str, two: str, alike: bool) -> None:
    assert (identity.resembles(one, two), identity.resembles(two, one)) == (alike, alike)


def test_how_a_serial_is_built() -> None:
    assert identity.serial_shape("SB-11a 9") == "XX-XXx X"


def test_what_is_said_of_a_part_from_another_slot() -> None:
    told = identity.replaced
    before = [supply(1, "SB1101"), supply(2, "SB2201")]
    same_text(
        told(swapped(before, [supply(1, "SB2201"), supply(2, "SB1101")])),
        """
        unmet psu-1: psu-1 and psu-2 exchanged their parts: nothing was replaced
          measured SB2201; limit SB1101; source the baseline
          do: put the part back into psu-2 and fit the replacement in psu-1
          at after:1 before:1 before:2; of psu-1
        """,
    )
    same_text(
        told(swapped(before, [supply(1, "SB2201"), supply(2, "TX7702")])),
        """
        unmet psu-1: the part in psu-1 is SB2201, which sat in psu-2 before: it was moved, not replaced
          measured SB2201; limit SB1101; source the baseline
          do: put the part back into psu-2 and fit the replacement in psu-1
          at after:1 before:1 before:2; of psu-1
        """,
    )
    same_text(
        told(swapped(before, [supply(1, "SB2201"), supply(2, "SB2201")])),
        """
        undetermined psu-1: psu-1 and psu-2 both show serial SB2201, which cannot be
          measured SB2201; limit SB1101; source one serial, one part
          do: capture again; if it stays so, read the labels of both
          at after:1 before:1 before:2 after:2; of psu-1
        """,
    )
    same_text(
        told(swapped(before, [supply(1, "SB2201"), supply(2)])),
        """
        unmet psu-1: the part in psu-1 is SB2201, which sat in psu-2 before: it was moved, not replaced
          measured SB2201; limit SB1101; source the baseline
          do: put the part back into psu-2 and fit the replacement in psu-1
          at after:1 before:1 before:2; of psu-1
        """,
    )


def test_what_is_said_of_the_other_units() -> None:
    told = identity.others
    before = [supply(1, "SB1101"), supply(2, "SB2201"), supply(3, "SB3301")]
    fine = [supply(1, "TX7702"), *before[1:]]
    same_text(
        told(swapped(before, fine)),
        """
        met other units: 2 other serials unchanged
          measured 2; source the baseline
          at after:2 after:3
        """,
    )
    same_text(
        told(swapped(before[:2], fine[:2])),
        """
        met other units: 1 other serial unchanged
          measured 1; source the baseline
          at after:2
        """,
    )
    same_text(
        told(swapped(before, [fine[0], supply(2, "TX9902"), before[2]])),
        """
        unmet psu-2: psu-2 changed too, from SB2201 to TX9902; the job is for psu-1
          measured TX9902; limit SB2201; source the baseline
          do: find out who changed psu-2; put its own part back if it was pulled by mistake
          at after:2 before:2; of psu-2
        """,
    )
    same_text(
        told(swapped(before, [fine[0], supply(2, "SB3301"), supply(3, "SB2201")])),
        """
        unmet psu-2: psu-2 changed too, from SB2201 to SB3301, which sat in psu-3 before; the job is for psu-1
          measured SB3301; limit SB2201; source the baseline
          do: find out who changed psu-2; put its own part back if it was pulled by mistake
          at after:2 before:2; of psu-2
        unmet psu-3: psu-3 changed too, from SB3301 to SB2201, which sat in psu-2 before; the job is for psu-1
          measured SB2201; limit SB3301; source the baseline
          do: find out who changed psu-3; put its own part back if it was pulled by mistake
          at after:3 before:3; of psu-3
        """,
    )
    same_text(told(swapped(before, [supply(1, "SB2201"), supply(2, "SB1101"), before[2]])), "")
    parts = [before[0], supply(2, "SB2201", "HX-600"), before[2]]
    same_text(
        told(swapped(parts, [fine[0], supply(2, "SB2201", "HX-900"), before[2]])),
        """
        undetermined psu-2: psu-2 has serial SB2201 still, but part HX-600 became HX-900
          measured HX-900; limit HX-600; source the baseline
          do: capture again
          at after:2 before:2; of psu-2
        """,
    )
    same_text(told(swapped(before[:1], fine[:1])), "")
    board = Inventory(unit="board-1", name="board", serial="BB1", part_number="PN1")
    other = Inventory(unit="board-1", name="board", part_number="PN2")
    same_text(
        told(swapped([board, before[2]], [other, before[2]])),
        """
        undetermined board-1 board: the part number of board-1 board was PN1 and is PN2; the job is for psu-1
          measured PN2; limit PN1; source the baseline
          do: capture again; if it stays so, find out who changed it
          at after:1 before:1; of board-1
        """,
    )
    # Of the replaced unit other rules speak, and what is gone keeps nothing else from being told.
    own = [Inventory(unit="psu-1", part_number=n) for n in ("PN1", "PN2")]
    same_text(
        told(swapped([Inventory(name="y", serial="YY1"), own[0], board, before[2]], [own[1], other, before[2]])),
        """
        undetermined board-1 board: the part number of board-1 board was PN1 and is PN2; the job is for psu-1
          measured PN2; limit PN1; source the baseline
          do: capture again; if it stays so, find out who changed it
          at after:2 before:3; of board-1
        """,
    )
    # Where one row of a unit keeps its part number, another one that changes is told by itself.
    label = Inventory(unit="psu-2", part_number="PN1"), Inventory(unit="psu-2", part_number="PN2")
    same_text(
        told(swapped([*parts, label[0]], [fine[0], *parts[1:], label[1]])),
        """
        undetermined psu-2: the part number of psu-2 was PN1 and is PN2; the job is for psu-1
          measured PN2; limit PN1; source the baseline
          do: capture again; if it stays so, find out who changed it
          at after:4 before:4; of psu-2
        """,
    )
    optic = Inventory(name="Po1 transceiver", serial="OP11"), Inventory(name="Po1 transceiver", serial="OP22")
    same_text(
        told(swapped([optic[0], before[2]], [optic[1], before[2]])),
        """
        undetermined Po1 transceiver: the serial of Po1 transceiver was OP11 and is OP22; the job is for psu-1
          measured OP22; limit OP11; source the baseline
          do: capture again; if it stays so, find out who changed it
          at after:1 before:1
        """,
    )
    named = Inventory(name="x", serial="n/a"), Inventory(name="x", serial="0")
    same_text(
        told(swapped([named[0], before[2]], [named[1], before[2]])),
        """
        met other units: 1 other serial unchanged
          measured 1; source the baseline
          at after:2
        """,
    )


def test_what_is_said_of_the_part_number() -> None:
    told = identity.part
    allowed = {"identity": {"substitutes": {"HX-600": ["HX-900"]}}}
    was = [supply(1, part="HX-600")]
    same_text(
        told(swapped(was, was)),
        """
        met psu-1: psu-1 is part HX-600, as before
          measured HX-600; limit HX-600; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(was, [supply(1, part="HX-900")])),
        """
        unmet psu-1: psu-1 is part HX-900, the part before was HX-600
          measured HX-900; limit HX-600; source the baseline
          do: fit the right part, or list it in the acceptance under [identity.substitutes]
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(was, [supply(1, part="HX-900")], limits=allowed)),
        """
        met psu-1: psu-1 is part HX-900, listed as a substitute for HX-600
          measured HX-900; limit HX-600; source acceptance
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(was, [supply(1, part="HX-700")], limits=allowed)),
        """
        unmet psu-1: psu-1 is part HX-700, the part before was HX-600
          measured HX-700; limit HX-600 and HX-900; source the baseline
          do: fit the right part, or list it in the acceptance under [identity.substitutes]
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped(was, [supply(1)])),
        """
        undetermined psu-1: the part number of psu-1 was not printed after the swap
          do: compare the labels of both parts
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1)], [supply(1)])),
        """
        undetermined psu-1: the part number of psu-1 was not printed before the swap
          do: compare the labels of both parts
          at after:1; of psu-1; advisory
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, part="HX-600")], [supply(1)])),
        """
        undetermined psu-1: the part number of psu-1 was not printed before the swap
          do: compare the labels of both parts
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, part="HX-600")], was)),
        """
        met psu-1: psu-1 is part HX-600, like psu-2; what was in it before was not printed
          measured HX-600; limit HX-600; source its peer psu-2
          at after:1 before:2; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, part="HX-600")], [supply(1, part="HX-900")], limits=allowed)),
        """
        met psu-1: psu-1 is part HX-900, like psu-2; what was in it before was not printed
          measured HX-900; limit HX-600; source its peer psu-2
          at after:1 before:2; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, part="HX-700")], was)),
        """
        undetermined psu-1: the part number of psu-1 was not printed before the swap
          do: compare the labels of both parts
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped([Fan(unit="fan-2", part_number="HX-600"), supply(1), supply(3), supply(2, part="HX-600")], was)),
        """
        met psu-1: psu-1 is part HX-600, like psu-2; what was in it before was not printed
          measured HX-600; limit HX-600; source its peer psu-2
          at after:1 before:4; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1)], was)),
        """
        undetermined psu-1: the part number of psu-1 was not printed before the swap
          do: compare the labels of both parts
          at after:1; of psu-1; advisory
        """,
    )
    same_text(told(swapped(was, [supply(1, condition=ABSENT)])), "")


def test_what_is_said_of_what_is_missing() -> None:
    told = identity.nothing_missing
    before: list[AnyReading] = [supply(1), supply(2), Fan(unit="fan-1", condition=OK)]
    same_text(
        told(swapped(before, before)),
        """
        met units: all of the baseline's 3 unit rows are there
          measured 3; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped(before, before[1:])),
        """
        unmet psu-1: psu-1 of the baseline is gone (power supply)
          do: capture again; if it stays away, look at the unit
          at before:1; of psu-1; by absence of power_supply
        """,
    )
    same_text(
        told(swapped(before, [before[0], supply(2, condition=ABSENT), before[2]])),
        """
        unmet psu-2: psu-2 was there before and is absent now
          at after:2 before:2; of psu-2
        """,
    )
    same_text(
        told(swapped([supply(2, condition=ABSENT), *before[::2]], before[::2])),
        """
        met units: all of the baseline's 3 unit rows are there
          measured 3; source the baseline
          at after:1
        """,
    )
    same_text(
        told(swapped(before, [supply(1, condition=ABSENT), *before[1:]])),
        """
        met units: all of the baseline's 3 unit rows are there
          measured 3; source the baseline
          at after:1
        """,
    )
    same_text(told(swapped([Link(name="Po1")], [])), "")


# ---- what eyes saw


def looked(rule: Any, *rows: AnyReading, **more: Any) -> Iterable[Draft]:
    judged = swapped(rows, rows, **more)
    found: Iterable[Draft] = rule(judged.after, judged)
    return found


CHART = {
    "unit": {"green": OK, "amber": FAILED, "blinking green": STANDBY, "odd": UNTOLD},
    "chassis": {"green": OK, "red": FAILED},
}


def lamps(
    *rows: AnyReading, before: Sequence[AnyReading] | None = None, chart: bool = True, **more: Any
) -> Iterable[Draft]:
    judged = swapped(
        snapshot(*(rows if before is None else before)), snapshot(*rows)._replace(lamps=CHART if chart else {}), **more
    )
    return seen.lamp(judged.after, judged)


def test_what_is_said_of_lamps() -> None:
    same_text(
        lamps(supply(1), psu_1__lamp="Green"),
        """
        met psu-1: the lamp of psu-1 shows `Green`, ok by the maker's chart
          measured Green; limit ok; source the maker's chart
          at after:1; of psu-1
        """,
    )
    same_text(
        lamps(supply(1), psu_1__lamp="blinking  green", by="Petrel"),
        """
        undetermined psu-1: the lamp of psu-1 shows `blinking  green` (seen by Petrel), standby by the maker's chart, and the text says ok
          measured blinking  green; limit standby; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of psu-1
        """,
    )
    same_text(
        lamps(supply(1, condition=STANDBY), psu_1__lamp="blinking green", limits={"power": {"standby_is_good": False}}),
        """
        unmet psu-1: the lamp of psu-1 shows `blinking green`, standby by the maker's chart
          measured blinking green; limit standby; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of psu-1
        """,
    )
    same_text(
        lamps(Fan(unit="fan-1", condition=OK), fan_1__lamp="blinking green", unit="fan-1"),
        """
        undetermined fan-1: the lamp of fan-1 shows `blinking green`, standby by the maker's chart, and the text says ok
          measured blinking green; limit standby; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of fan-1
        """,
    )
    same_text(
        lamps(supply(1), psu_1__lamp="amber"),
        """
        unmet psu-1: the lamp of psu-1 shows `amber`, failed by the maker's chart, but the text says ok
          measured amber; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of psu-1
        """,
    )
    same_text(
        lamps(supply(1, condition=FAILED), psu_1__lamp="green"),
        """
        undetermined psu-1: the lamp of psu-1 shows `green`, ok by the maker's chart, but the text says failed
          measured green; limit ok; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of psu-1
        """,
    )
    same_text(
        lamps(supply(1, condition=NO_INPUT), psu_1__lamp="amber"),
        """
        unmet psu-1: the lamp of psu-1 shows `amber`, failed by the maker's chart, and the text says no-input
          measured amber; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of psu-1
        """,
    )
    same_text(
        lamps(supply(1), psu_1__lamp="odd"),
        """
        undetermined psu-1: the lamp of psu-1 shows `odd`: the chart of this family does not list it (green, amber, blinking green and odd)
          measured odd
          do: look it up in the maker's guide
          at after:1; of psu-1; advisory
        """,
    )
    same_text(
        lamps(supply(1), psu_1__lamp="purple"),
        """
        undetermined psu-1: the lamp of psu-1 shows `purple`: the chart of this family does not list it (green, amber, blinking green and odd)
          measured purple
          do: look it up in the maker's guide
          at after:1; of psu-1; advisory
        """,
    )
    same_text(
        lamps(supply(1), psu_1__lamp="green", chart=False),
        """
        undetermined psu-1: the lamp of psu-1 shows `green`: the chart of this family is not known
          measured green
          do: look it up in the maker's guide
          at after:1; of psu-1; advisory
        """,
    )
    same_text(lamps(supply(1), psu_1__lamp="not-seen"), "")
    same_text(
        lamps(supply(1), chassis__lamp="red"),
        """
        unmet chassis: the lamp of the chassis shows `red`, failed by the maker's chart
          measured red; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:1; of chassis
        """,
    )
    ill = supply(2, condition=FAILED)
    same_text(
        lamps(supply(1), ill, chassis__lamp="red"),
        """
        unmet chassis: the lamp of the chassis shows `red`, failed by the maker's chart
          measured red; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of chassis; advisory
        """,
    )
    same_text(
        lamps(supply(1), ill, psu_2__lamp="amber"),
        """
        unmet psu-2: the lamp of psu-2 shows `amber`, failed by the maker's chart
          measured amber; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of psu-2; advisory
        """,
    )
    same_text(
        lamps(supply(1), ill, before=[supply(1), supply(2)], psu_2__lamp="amber"),
        """
        unmet psu-2: the lamp of psu-2 shows `amber`, failed by the maker's chart
          measured amber; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of psu-2
        """,
    )
    same_text(
        lamps(supply(1), ill, chassis__lamp="red", limits={"standing_faults_count": True}),
        """
        unmet chassis: the lamp of the chassis shows `red`, failed by the maker's chart
          measured red; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of chassis
        """,
    )
    alarm = Alarm(name="input", condition=FAILED)
    same_text(
        lamps(supply(1), alarm, chassis__lamp="red"),
        """
        unmet chassis: the lamp of the chassis shows `red`, failed by the maker's chart
          measured red; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of chassis; advisory
        """,
    )
    same_text(
        lamps(supply(1), alarm, before=[supply(1)], chassis__lamp="red"),
        """
        unmet chassis: the lamp of the chassis shows `red`, failed by the maker's chart
          measured red; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of chassis
        """,
    )
    own = Alarm(name="input", unit="psu-1", condition=FAILED)
    same_text(
        lamps(supply(1), own, chassis__lamp="red"),
        """
        unmet chassis: the lamp of the chassis shows `red`, failed by the maker's chart
          measured red; limit failed; source the maker's chart
          do: look again; if the lamp stays so, go by the maker's guide
          at after:2; of chassis
        """,
    )


def test_what_is_said_of_the_lamps_of_a_port() -> None:
    up, down = (
        Link(name="Po1", condition=OK, status_text="up"),
        Link(name="Po1", condition=NO_INPUT, status_text="down"),
    )
    odd = Link(name="Po1", condition=UNTOLD, status_text="odd")
    same_text(
        looked(seen.ports, up, port_po1__lamps="lit"),
        """
        met port-po1: the lamps of port po1 are lit, as the text says (`up`)
          measured lit; limit up
          at after:1
        """,
    )
    same_text(
        looked(seen.ports, up, port_po1__lamps="dark"),
        """
        undetermined port-po1: the lamps of port po1 are dark, but the text says `up`
          measured dark; limit up
          do: look again at the lamps of this port, then capture the links again
          at after:1 before:1
        """,
    )
    same_text(
        looked(seen.ports, down, port_po1__lamps="dark"),
        """
        met port-po1: the lamps of port po1 are dark, as the text says (`down`)
          measured dark; limit down
          at after:1
        """,
    )
    same_text(
        looked(seen.ports, down, port_po1__lamps="lit"),
        """
        undetermined port-po1: the lamps of port po1 are lit, but the text says `down`
          measured lit; limit down
          do: look again at the lamps of this port, then capture the links again
          at after:1
        """,
    )
    same_text(
        looked(seen.ports, odd, port_po1__lamps="lit"),
        """
        met port-po1: the lamps of port po1 are lit
          measured lit; limit odd
          at after:1
        """,
    )
    same_text(
        looked(seen.ports, supply(1), port_po1__lamps="lit", by="Petrel"),
        """
        undetermined port-po1: the lamps of port po1 are lit (seen by Petrel), but no text shows such a port
          measured lit
          do: no command that is read of this device family shows it: look at the device
          at after:1; advisory
        """,
    )

    def later(was: Link, now: AnyReading, lit: str) -> Iterable[Draft]:
        judged = swapped([was], [now], port_po1__lamps=lit)
        return seen.ports(judged.after, judged)

    same_text(
        later(up, down, "dark"),
        """
        unmet port-po1: the lamps of port po1 are dark, and the link was up before the swap
          measured dark; limit down
          do: check the cable that was moved
          at after:1 before:1
        """,
    )
    same_text(
        later(up, supply(1), "dark"),
        """
        unmet port-po1: the lamps of port po1 are dark, and the link was up before the swap
          measured dark
          do: check the cable that was moved
          at before:1
        """,
    )
    same_text(
        later(up, supply(1), "lit"),
        """
        met port-po1: the lamps of port po1 are lit
          measured lit
          at after:1
        """,
    )
    same_text(
        later(down, supply(1), "dark"),
        """
        met port-po1: the lamps of port po1 are dark
          measured dark
          at after:1
        """,
    )


def test_what_is_said_of_cords() -> None:
    two = supply(1), supply(2)
    same_text(
        looked(seen.feed, *two, psu_1__feed="A", psu_2__feed="B", by="Petrel"),
        """
        met supplies: the supplies hang on feeds A and B (seen by Petrel)
          measured 2 feeds; limit 2 feeds
          at after:1 after:2; advisory
        """,
    )
    same_text(
        looked(seen.feed, *two, psu_1__feed="A", psu_2__feed="a"),
        """
        unmet supplies: all supplies hang on feed A
          measured 1 feed; limit 2 feeds; source trade definition of N+N
          do: move a cord to the other feed, so that the loss of one takes only its own supplies
          at after:1 after:2; advisory
        """,
    )
    same_text(looked(seen.feed, *two, psu_1__feed="A"), "")
    same_text(looked(seen.feed, supply(1), psu_1__feed="A"), "")
    printed = supply(1, feed="A"), supply(2, feed="B")
    same_text(looked(seen.feed, *printed), "")
    same_text(
        looked(seen.feed, *printed, psu_1__feed="B"),
        """
        undetermined psu-1: the cord of psu-1 goes to feed B, but the text says A
          measured B; limit A; source the text
          do: follow the cord again; move it, or correct what names the other feed
          at after:1; of psu-1
        """,
    )
    same_text(
        looked(seen.feed, *printed, psu_1__feed="a"),
        """
        met supplies: the supplies hang on feeds A and B
          measured 2 feeds; limit 2 feeds
          at after:1 after:2; advisory
        """,
    )
    planned = {"power": {"feeds": {"A": ["psu-1"], "B": ["psu-2"]}}}
    same_text(
        looked(seen.feed, *two, psu_2__feed="A", limits=planned),
        """
        undetermined psu-2: the cord of psu-2 goes to feed A, but the acceptance says B
          measured A; limit B; source the acceptance
          do: follow the cord again; move it, or correct what names the other feed
          at after:2; of psu-2
        """,
    )
    n_plus_n = {"power": {"redundancy": "N+N"}}
    same_text(
        looked(seen.feed, *two, psu_1__feed="A", psu_2__feed="A", limits=n_plus_n),
        """
        unmet supplies: all supplies hang on feed A
          measured 1 feed; limit 2 feeds; source trade definition of N+N
          do: move a cord to the other feed, so that the loss of one takes only its own supplies
          at after:1 after:2
        """,
    )
    same_text(
        looked(seen.feed, *two, psu_1__feed="A", psu_2__feed="B", limits=n_plus_n),
        """
        met supplies: the supplies hang on feeds A and B
          measured 2 feeds; limit 2 feeds
          at after:1 after:2
        """,
    )
    ill = supply(1), supply(2, condition=FAILED), supply(3, condition=STANDBY)
    same_text(
        looked(seen.feed, *ill, psu_1__feed="A", psu_2__feed="A", psu_3__feed="B"),
        """
        met supplies: the supplies hang on feeds A and B
          measured 2 feeds; limit 2 feeds
          at after:1 after:3; advisory
        """,
    )


def test_what_is_said_of_earth_damage_and_contents() -> None:
    same_text(looked(seen.earth, supply(1)), "")
    same_text(
        looked(seen.earth, supply(1), chassis__earth="connected"),
        """
        met chassis: the earth lead of the chassis is connected
          measured connected; limit connected; source common practice: earth first on and last off
          at after:1; of chassis
        """,
    )
    same_text(
        looked(seen.earth, supply(1), chassis__earth="loose", by="Petrel"),
        """
        unmet chassis: the earth lead of the chassis is loose (seen by Petrel)
          measured loose; limit connected; source common practice: earth first on and last off
          do: fasten the earth lead before anything else is plugged or pulled
          at after:1; of chassis
        """,
    )
    same_text(
        looked(seen.damage, supply(1), psu_1__damage="none"),
        """
        met psu-1: no damage was found on the part for psu-1
          measured none; limit none; source inspection, common practice
          at after:1; of psu-1
        """,
    )
    same_text(
        looked(seen.damage, supply(1), psu_1__damage="found"),
        """
        unmet psu-1: damage was found on the part for psu-1
          measured found; limit none; source inspection, common practice
          do: do not fit it; if it is in, take it out and have it inspected
          at after:1; of psu-1
        """,
    )
    same_text(
        looked(seen.contents, supply(1), psu_1__contents="complete"),
        """
        met psu-1: what came with the part for psu-1 is complete
          measured complete; limit complete; source inspection, common practice
          at after:1; of psu-1
        """,
    )
    same_text(
        looked(seen.contents, supply(1), psu_1__contents="missing"),
        """
        unmet psu-1: what came with the part for psu-1 is not complete
          measured missing; limit complete; source inspection, common practice
          do: note what is missing and ask for it
          at after:1; of psu-1
        """,
    )


# ---- the job


def aged(went: float, device: float | None = None, **more: Any) -> Iterable[Draft]:
    """Seconds between the captures by the laptop's clock, and by the device's."""
    from datetime import UTC, datetime, timedelta

    noon = datetime(2026, 3, 1, 12, tzinfo=UTC)
    rows = [[], []] if device is None else [
        [Device(name="clock", status_text=(noon + timedelta(seconds=t)).isoformat())] for t in (0, device)
    ]  # fmt: skip
    return job.age(swapped(rows[0], rows[1], **more)._replace(taken=Taken(1000.0, 1000.0 + went)))


def test_what_is_said_of_the_age_of_the_baseline() -> None:
    same_text(
        aged(119.1239),
        """
        met baseline: the capture before the swap is 119 s older than the one after it
          measured 119.124 s; limit 86400 s; source acceptance, by the laptop's clock; margin 86280.876 s
          at after:1 before:1
        """,
    )
    same_text(
        aged(120),
        """
        met baseline: the capture before the swap is 2 min older than the one after it
          measured 120 s; limit 86400 s; source acceptance, by the laptop's clock; margin 86280 s
          at after:1 before:1
        """,
    )
    same_text(
        aged(7199),
        """
        met baseline: the capture before the swap is 120 min older than the one after it
          measured 7199 s; limit 86400 s; source acceptance, by the laptop's clock; margin 79201 s
          at after:1 before:1
        """,
    )
    same_text(
        aged(7200),
        """
        met baseline: the capture before the swap is 2.0 h older than the one after it
          measured 7200 s; limit 86400 s; source acceptance, by the laptop's clock; margin 79200 s
          at after:1 before:1
        """,
    )
    same_text(
        aged(86400),
        """
        met baseline: the capture before the swap is 24.0 h older than the one after it
          measured 86400 s; limit 86400 s; source acceptance, by the laptop's clock; margin 0 s
          at after:1 before:1
        """,
    )
    same_text(
        aged(86400.5),
        """
        undetermined baseline: the capture before the swap is 24.0 h older than the one after it; 24 h are allowed
          measured 86400.5 s; limit 86400 s; source acceptance, by the laptop's clock; margin -0.5 s
          do: what changed since then cannot be told from this swap: capture just before pulling next time
          at after:1 before:1
        """,
    )
    same_text(
        aged(0),
        """
        met baseline: the capture before the swap is 0 s older than the one after it
          measured 0 s; limit 86400 s; source acceptance, by the laptop's clock; margin 86400 s
          at after:1 before:1
        """,
    )
    same_text(
        aged(-0.5),
        """
        undetermined baseline: the laptop's clock was set back between the captures, or the texts are swapped
          measured -0.5 s; limit 86400 s; source the laptop's clock
          do: check which text is which, and the laptop's clock
          at after:1 before:1
        """,
    )
    same_text(
        aged(1000, 1121),
        """
        met baseline: the capture before the swap is 17 min older than the one after it
          measured 1000 s; limit 86400 s; source acceptance, by the laptop's clock; margin 85400 s
          at after:1 before:1
        undetermined clocks: the device's clock went on by 19 min between the captures, the laptop's by 17 min
          measured 1121 s; limit 1000 s; source common practice
          do: check both clocks, and that both texts belong to this swap
          at after:1 before:1; advisory
        """,
    )
    beside = [Device(name="x"), Device(name="y")]
    clock = Device(name="clock", status_text="2026-03-01T12:00:00+00:00")  # in one text it tells nothing
    for before, after, lines in (
        ([*beside, clock], [clock.model_copy(update={"status_text": "noon"})], ["after:1", "before:3"]),
        ([clock.model_copy(update={"status_text": "noon"})], [*beside, clock], ["after:3", "before:1"]),
        (beside, [clock, *beside], ["after:1", "before:2"]),  # where none stands, the end of the text
        ([clock, *beside], beside, ["after:2", "before:1"]),
    ):
        (only,) = job.age(swapped(before, after)._replace(taken=Taken(1000.0, 2000.0)))
        assert [f"{e.capture}:{e.line}" for e in only.evidence] == lines
    same_text(job.age(swapped([], [])._replace(taken=Taken(None, 5.0))), "")
    same_text(job.age(swapped([], [])._replace(taken=Taken(5.0, None))), "")
    same_text(job.age(swapped([], [])._replace(taken=Taken(float("nan"), 5.0))), "")
    same_text(job.age(swapped([], [])._replace(taken=Taken(5.0, float("inf")))), "")


@pytest.mark.parametrize(
    ("went", "device", "fits"),
    [(1000, 1120, True), (1000, 1120.1, False), (1000, 879.9, False), (80000, 84000, True), (80000, 84000.5, False)],
)
def test_two_clocks_agree_about_the_time_between(went: float, device: float, fits: bool) -> None:
    """Within two minutes, or a twentieth."""
    assert any(d.subject == "clocks" for d in aged(went, device)) is not fits


# ---- without a capture before


def alone(*rows: AnyReading | Sighting, samples: tuple[Sample, ...] = (), **more: Any) -> Case:
    return swapped([], rows, **more)._replace(samples=samples)


def test_what_is_said_of_a_text_alone() -> None:
    same_text(
        job.baseline(alone()),
        """
        undetermined baseline: there is no capture before the swap: whether another unit or a link changed, a sensor vanished or the switch reloaded cannot be told
          do: capture before pulling next time; a site may allow it in its acceptance: [job] without_baseline
          at after:1
        """,
    )
    same_text(
        job._dialect(alone(supply(1))),
        """
        met text: the text is made
          measured made
          at after:1
        """,
    )
    unnamed = swapped([], snapshot(supply(1))._replace(dialect=None))
    same_text(
        job._dialect(unnamed),
        """
        undetermined text: the device family of the text is not known
          do: name the family with --dialect
          at after:1
        """,
    )
    same_text(
        job._unread(alone(supply(1))),
        """
        met text: nothing unread: 1 reading
          at after:1
        """,
    )
    spoilt = swapped([], snapshot(supply(1))._replace(unread=(UnreadLine(7, "??", "not understood"),)))
    same_text(
        job._unread(spoilt),
        """
        undetermined made.txt:7: line 7 was not read (`??`): not understood
          do: capture again; if the line comes back, the dialect needs to learn it
          at after:7
        """,
    )


def test_what_is_said_of_its_tables() -> None:
    told = job._complete
    same_text(
        told(alone(supply(1), supply(2))),
        """
        met text: 1 table captured to the end
          at after:2
        """,
    )
    same_text(
        told(alone(sighted(supply(1), "power", ended=False))),
        """
        undetermined made.txt power: the end of the power table was not captured, and no baseline tells what it should hold
          do: capture again, to the prompt
          at after:1
        undetermined made.txt power: whether a line of the power table was lost cannot be told: nothing states its number of rows
          do: verify live, where samples show the same rows again
          at after:1
        """,
    )
    same_text(
        told(alone(supply(1), supply(3))),
        """
        undetermined psu-2: psu-2 is left out of the count of units
          do: capture again
          at after:2; of psu-2
        """,
    )
    same_text(
        told(alone(supply(1), supply(65))),
        """
        met text: 1 table captured to the end
          at after:2
        """,
    )
    assert len(list(told(alone(supply(1), supply(64))))) == 62
    same_text(
        told(alone(supply(1), Inventory(unit="psu-2", condition=OK))),
        """
        undetermined psu-2: the text shows psu-2, but no row of its own kind
          do: capture again
          at after:2; of psu-2
        undetermined psu-2: the power_supply table shows no row of psu-2 and 1 of psu-1
          do: capture again
          at after:2; of psu-2
        undetermined psu-1: the inventory table shows no row of psu-1 and 1 of psu-2
          do: capture again
          at after:1; of psu-1
        """,
    )
    point = PowerSupply(unit="psu-1", name="Vin")
    same_text(
        told(alone(supply(1), point, supply(2))),
        """
        undetermined psu-2: the power_supply table shows 1 row of psu-2 and 2 of psu-1
          do: capture again
          at after:3; of psu-2
        """,
    )
    bare = snapshot(supply(1))
    same_text(
        told(swapped([], bare._replace(commands={"fan": ("show fans",), "power_supply": ("show power",)}))),
        """
        undetermined fan: no table shows the fans, although a command of this family does
          do: capture `show fans`
          at after:1
        """,
    )


@pytest.mark.parametrize(("same", "other", "fits"), [(3, 0, True), (2, 0, False), (3, 1, False), (4, 0, True)])
def test_three_samples_stand_for_a_number_of_rows(same: int, other: int, fits: bool) -> None:
    table = [sighted(supply(n), "power", line=n) for n in (1, 2)]
    text = snapshot(*table)
    uncounted = text._replace(tables=tuple(t._replace(counted=False) for t in text.tables))
    samples = tuple(Sample(float(n), uncounted) for n in range(same))
    fewer = tuple(Sample(9.0 + n, snapshot(table[0])) for n in range(other))
    judged = swapped([], uncounted)._replace(samples=(*samples, *fewer))
    assert (next(iter(job._complete(judged))).outcome.value == "met") is fits
    # A sample that was not wholly read, or does not show the table, neither counts nor ends the row.
    unread = uncounted._replace(unread=(UnreadLine(3, "psu 3#", "not understood"),))
    cut = uncounted._replace(tables=tuple(t._replace(cut="a pager waits") for t in uncounted.tables))
    spoilt = [Sample(8.0, s) for s in (unread, cut, snapshot(Link(name="Po1")))]
    judged = judged._replace(samples=(*spoilt, *samples, *spoilt, *fewer))
    assert (next(iter(job._complete(judged))).outcome.value == "met") is fits


def test_what_is_said_of_the_labelled_part() -> None:
    told = job._replaced
    new = supply(1, "TX7702")
    same_text(
        told(alone(new, psu_1__serial="TX7702", by="Petrel")),
        """
        met psu-1: psu-1 reports TX7702, as the label of the new part says (seen by Petrel)
          measured TX7702; limit TX7702; source the label as read
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(new, psu_1__serial="TX7703")),
        """
        unmet psu-1: the label says TX7703 but psu-1 reports TX7702
          measured TX7702; limit TX7703; source the label as read
          do: check that the labelled part sits in this slot
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(new)),
        """
        undetermined psu-1: whether psu-1 was replaced is not known: the label of the new part was not stated
          measured TX7702; source the label as read
          do: read the label and state it: --seen psu-1.serial=SERIAL
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(supply(1), psu_1__serial="TX7702")),
        """
        undetermined psu-1: the text prints no serial of psu-1 to compare with the label's TX7702
          limit TX7702; source the label as read
          do: no command that is read of this device family shows it: look at the device
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(supply(1, condition=ABSENT))),
        """
        unmet psu-1: no unit sits in psu-1
          source the label as read
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(new, psu_1__removed_serial="TX7702")),
        """
        unmet psu-1: psu-1 has serial TX7702, which is the removed part's: it was put back
          measured TX7702; source the label as read
          do: fit the replacement
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(new, psu_1__serial="SB1101", psu_1__removed_serial="SB1101")),
        """
        unmet psu-1: psu-1 has serial SB1101, which is the removed part's: it was put back
          measured TX7702; limit SB1101; source the label as read
          do: fit the replacement
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(new, supply(2, "TX7702"), psu_1__serial="TX7702")),
        """
        undetermined psu-1: psu-1 and psu-2 both show serial TX7702, which cannot be
          measured TX7702; limit TX7702; source the label as read
          do: capture again; if it stays so, read the labels of both
          at after:1; of psu-1
        """,
    )


def test_letters_of_a_label_that_was_typed_may_be_small() -> None:
    (only,) = job._replaced(alone(supply(1, "TX7702"), psu_1__serial="tx7702"))
    assert only.outcome.value == "met"
    (only,) = job._replaced(alone(supply(1, "TX7702"), psu_1__serial="TX7702", psu_1__removed_serial="tx7702"))
    assert (only.outcome.value, only.hint) == ("unmet", "fit the replacement")


def test_what_is_said_of_a_part_beside_its_peers() -> None:
    told = job._part
    same_text(
        told(alone(supply(1, part="HX-600"), supply(2, part="HX-600"))),
        """
        met psu-1: psu-1 is part HX-600, like psu-2
          measured HX-600; limit HX-600; source its peers
          at after:1 after:2; of psu-1
        """,
    )
    same_text(
        told(alone(supply(1, part="HX-600"), supply(2, part="HX-700"), supply(3, part="HX-600"))),
        """
        met psu-1: psu-1 is part HX-600, like psu-3
          measured HX-600; limit HX-600; source its peers
          at after:1 after:3; of psu-1
        """,
    )
    same_text(
        told(alone(supply(1, part="HX-600"), supply(2, part="HX-700"))),
        """
        undetermined psu-1: psu-1 is part HX-600, and psu-2 is HX-700
          measured HX-600; limit HX-700; source its peers
          do: find out which part belongs here, and list it under [identity.substitutes]
          at after:1 after:2; of psu-1
        """,
    )
    same_text(
        told(alone(supply(1, part="HX-600"))),
        """
        undetermined psu-1: the part number of psu-1 has no peer to compare it with
          measured HX-600
          do: compare the labels of both parts
          at after:1; of psu-1; advisory
        """,
    )
    same_text(
        told(alone(supply(1), supply(2, part="HX-600"))),
        """
        undetermined psu-1: the part number of psu-1 was not printed
          do: compare the labels of both parts
          at after:1; of psu-1
        """,
    )
    same_text(
        told(alone(supply(1), Fan(unit="fan-1", part_number="HX-600"))),
        """
        undetermined psu-1: the part number of psu-1 was not printed
          do: compare the labels of both parts
          at after:1; of psu-1; advisory
        """,
    )
    allowed = {"identity": {"substitutes": {"HX-700": ["HX-600"]}}}
    same_text(
        told(alone(supply(1, part="HX-600"), supply(2, part="HX-700"), limits=allowed)),
        """
        met psu-1: psu-1 is part HX-600, like psu-2
          measured HX-600; limit HX-700; source its peers
          at after:1 after:2; of psu-1
        """,
    )


def test_what_is_said_of_redundancy_and_facts_alone() -> None:
    counts = {"power": {"redundancy": "count"}}
    judged = alone(supply(1), supply(2), limits=counts)
    same_text(
        job._redundancy(judged.after, judged),
        """
        undetermined supplies: 2 good supplies, 2 needed at least; how many were good before is not known
          measured 2; limit 2; source acceptance: count
          do: state N+1 or N+N in the acceptance, with the rated power of the parts
          at after:1 after:2
        """,
    )
    judged = alone(supply(1), limits=counts)
    same_text(
        job._redundancy(judged.after, judged),
        """
        unmet supplies: 1 good supplies, 2 needed
          measured 1; limit 2; source acceptance: count
          at after:1
        """,
    )
    odd = (
        Device(name="mode", condition=UNTOLD, status_text="hm"),
        Inventory(unit="board-1", condition=UNTOLD, status_text="??"),
    )
    same_text(
        job._known_facts(alone(*odd, supply(1, condition=UNTOLD), Device(name="ok", condition=OK))),
        """
        undetermined mode: mode has a status that is not known (`hm`)
          measured hm
          do: look at the device itself
          at after:1
        undetermined board-1: board-1 has a status that is not known (`??`)
          measured ??
          do: look at the device itself
          at after:2; of board-1
        """,
    )


# ---- where a sensor will stand


def course(end: float | None = 50, now: float = 49, state: Any = "settled", doubt: float = 0.5, **more: Any) -> Course:
    return Course(
        unit=None, name="asic", state=state, now=now, end=end, doubt=doubt, to_come=1.0, tau=60.0, points=9, span=300.0,
        why="98% of its change seen", **more,
    )  # fmt: skip


def ends(found: Course, value: float | None = 49, warning: float | None = 60, **more: Any) -> Iterable[Draft]:
    sensor = Temperature(
        name="asic",
        value=None if value is None else q(f"{value} C"),
        high_warning=None if warning is None else q(f"{warning} C"),
        **more,
    )
    draft = settled._end_of(swapped([], [sensor]), found)
    return [draft]


def test_what_is_said_of_where_a_sensor_will_stand() -> None:
    same_text(
        ends(course(50.04)),
        """
        met asic: asic will stand at 50 °C, 10.0 K below its limit of 60 °C (98% of its change seen)
          measured 50 Cel; limit 60 Cel; source first-order fit over the samples; margin 10 Cel
          at after:1
        """,
    )
    same_text(
        ends(course(), warning=None),
        """
        met asic: asic will stand at 50 °C (98% of its change seen)
          measured 50 Cel; source first-order fit over the samples
          at after:1
        """,
    )
    same_text(
        ends(course(), warning=None, high_critical=q("70 C")),
        """
        met asic: asic will stand at 50 °C, 20.0 K below its limit of 70 °C (98% of its change seen)
          measured 50 Cel; limit 70 Cel; source first-order fit over the samples; margin 20 Cel
          at after:1
        """,
    )
    same_text(
        ends(course(), value=None),
        """
        undetermined asic: the capture after the swap does not continue the samples of asic
          measured 50 Cel; limit 60 Cel; source first-order fit over the samples
          do: capture again
          at after:1
        """,
    )
    same_text(
        ends(course(None, state="unclear")),
        """
        undetermined asic: asic has not settled: 98% of its change seen
          limit 60 Cel; source first-order fit over the samples
          do: wait, then verify again
          at after:1
        """,
    )
    same_text(
        ends(course(50, state="moving")),
        """
        undetermined asic: asic has not settled: 98% of its change seen; asic will stand at 50 °C
          measured 50 Cel; limit 60 Cel; source first-order fit over the samples
          do: wait, then verify again
          at after:1
        """,
    )
    same_text(
        [settled._end_of(swapped([], []), course())],
        """
        undetermined asic: the capture after the swap does not continue the samples of asic
          measured 50 Cel; source first-order fit over the samples
          do: capture again
          at after:1
        """,
    )
    nameless = course()._replace(name=None), course()._replace(name=None, unit="psu-1")
    assert [settled._end_of(swapped([], []), c).subject for c in nameless] == ["sensor", "psu-1"]


@pytest.mark.parametrize(
    ("end", "outcome"),
    [
        (59.4, "met"),
        (59.5, "undetermined"),
        (60, "undetermined"),
        (60.4, "undetermined"),
        (60.5, "unmet"),
        (70, "unmet"),
    ],
)
def test_the_doubt_of_an_end_counts(end: float, outcome: str) -> None:
    """Half a kelvin of doubt, and a limit of 60."""
    (only,) = ends(course(end))
    assert only.outcome.value == outcome


@pytest.mark.parametrize(("value", "continues"), [(52.5, True), (52.6, False), (45.5, True), (45.4, False)])
def test_a_capture_continues_its_samples(value: float, continues: bool) -> None:
    """Within three kelvin and the doubt of half a kelvin."""
    (only,) = ends(course(now=49), value)
    assert ("does not continue" in only.message) is not continues


def test_a_row_that_is_left_out_does_not_end_the_look() -> None:
    """What is excused, and what is misread, stand beside what is not."""
    was, now = (
        [Inventory(name="x", serial=a), Inventory(name="y", serial=b)] for a, b in (("n/a", "OP11"), ("0", "OP22"))
    )
    chassis = Inventory(unit="chassis", serial="TOB0404")
    assert [d.subject for d in identity.others(swapped([chassis, *was], [chassis, *now]))] == ["y"]
    half = Inventory(name="x", serial="n/a"), Inventory(name="x", serial="OP22")
    assert [d.subject for d in identity.others(swapped([chassis, half[0]], [chassis, half[1]]))] == ["x"]
    gone = identity.nothing_missing(swapped([supply(3, condition=ABSENT), supply(2)], [supply(1)]))
    assert [d.subject for d in gone] == ["psu-2"]


def test_what_must_be_met_without_a_baseline() -> None:
    always = {
        ("text.dialect", None), ("text.unread", None), ("text.complete", None), ("temperature.status", None),
        ("temperature.limits", None), ("cooling.airflow", None),
    }  # fmt: skip
    of_supply = {("power.status", "psu-1"), ("identity.replaced", "psu-1")}
    of_fan = {("cooling.status", "fan-1"), ("identity.replaced", "fan-1"), ("cooling.spare", None)}
    assert set(job.essential_alone(alone())) == always | of_supply | {("power.redundancy", None)}
    assert set(job.essential_alone(alone(limits={"power": {"redundancy": "none"}}))) == always | of_supply
    assert set(job.essential_alone(alone(unit="fan-1"))) == always | of_fan


def test_a_fault_that_eyes_saw_is_never_one_that_stood_before() -> None:
    assert all(not rule.standing for rule in seen.RULES)
    assert [rule.id for rule in seen.RULES if not rule.required] == ["seen.contents"]
