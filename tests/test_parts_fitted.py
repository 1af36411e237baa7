"""Which part sits in a slot now: where it came from, which input it takes, whether it is like its peers."""

import pytest
from support import case, findings, outcome, outcomes, q, snapshot, still

from consolecheck.judging.acceptance import Acceptance, CoolingLimits, IdentityLimits, PowerLimits
from consolecheck.judging.judge import judge
from consolecheck.judging.view import Case, Observed
from consolecheck.records.findings import Outcome, Verdict
from consolecheck.records.readings import AnyReading, Condition, Fan, Inventory, PowerSupply, Snapshot

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED
OK, WARNING, FAILED, ABSENT = Condition.OK, Condition.WARNING, Condition.FAILED, Condition.ABSENT


# ---- moved between slots


def slots(**serials: str) -> Snapshot:
    """`psu_1="A1"`: what each slot shows; an empty text prints no serial, `-` says that the slot is empty."""
    readings: list[AnyReading] = []
    for name, serial in serials.items():
        unit = name.replace("_", "-")
        if serial == "-":
            readings.append(PowerSupply(unit=unit, condition=ABSENT))
        else:
            readings += [PowerSupply(unit=unit, condition=OK), Inventory(unit=unit, condition=OK, serial=serial)]
    return snapshot(*readings)


BEFORE = slots(psu_1="A1", psu_2="B2", psu_3="C3")


@pytest.mark.parametrize(
    ("after", "others"),
    [
        (slots(psu_1="N9", psu_2="A1", psu_3="C3"), {"psu-1": UNMET}),  # psu-1 got the new part
        (slots(psu_1="", psu_2="A1", psu_3="C3"), {"other units": MET}),  # it prints no serial now
        (slots(psu_1="-", psu_2="A1", psu_3="C3"), {"other units": MET}),  # its slot is empty
        (slots(psu_1="B2", psu_2="A1", psu_3="C3"), {}),  # both exchanged: said once
        (slots(psu_1="C3", psu_2="A1", psu_3="B2"), {"psu-1": UNMET, "psu-3": UNMET}),  # all three went round
    ],
)
def test_a_part_that_sat_in_another_slot_was_moved_and_not_replaced(
    after: Snapshot, others: dict[str, Outcome]
) -> None:
    judged = case(BEFORE, after, "psu-2")
    (found,) = findings("identity.replaced", judged)
    assert UNMET is found.outcome
    assert "psu-1" in found.message
    assert others == outcomes("identity.others", judged)
    assert Verdict.NOT_VERIFIED is judge(BEFORE, after, "psu-2", Acceptance()).verdict


def test_an_exchange_is_called_one() -> None:
    (found,) = findings("identity.replaced", case(BEFORE, slots(psu_1="B2", psu_2="A1", psu_3="C3"), "psu-2"))
    assert "exchanged" in found.message


@pytest.mark.parametrize(
    "stated", [("serial", "A1"), ("serial", "N9"), ("removed_serial", "B2"), ("removed_serial", "X")]
)
def test_no_label_makes_a_moved_part_a_new_one(stated: tuple[str, str]) -> None:
    seen = (Observed("psu-2", *stated),)
    judged = case(BEFORE, slots(psu_1="N9", psu_2="A1", psu_3="C3"), "psu-2", observed=seen)
    (found,) = findings("identity.replaced", judged)
    assert (UNMET, True) == (found.outcome, "sat in psu-1" in found.message)


def test_a_moved_part_is_no_reseat() -> None:
    judged = case(BEFORE, slots(psu_1="-", psu_2="A1", psu_3="C3"), "psu-2")._replace(reseat="cord was loose")
    assert UNMET is outcome("identity.replaced", judged)


def test_a_label_alone_can_show_that_the_part_was_moved() -> None:
    """The slot prints no serial; the label of the part that was fitted is the one that psu-1 had."""
    judged = case(
        BEFORE, slots(psu_1="-", psu_2="", psu_3="C3"), "psu-2", observed=(Observed("psu-2", "serial", "A1"),)
    )
    (found,) = findings("identity.replaced", judged)
    assert (UNMET, True) == (found.outcome, "sat in psu-1" in found.message)


def test_one_serial_in_two_slots_leaves_it_open() -> None:
    (found,) = findings("identity.replaced", case(BEFORE, slots(psu_1="A1", psu_2="A1", psu_3="C3"), "psu-2"))
    assert (UNDETERMINED, True) == (found.outcome, "cannot be" in found.message)


def test_a_new_serial_is_a_replacement() -> None:
    judged = case(BEFORE, slots(psu_1="A1", psu_2="N9", psu_3="C3"), "psu-2")
    assert {"psu-2": MET} == outcomes("identity.replaced", judged)
    assert {"other units": MET} == outcomes("identity.others", judged)


def test_a_chassis_that_was_replaced_whole_needs_a_new_baseline() -> None:
    texts = [
        snapshot(Inventory(unit="chassis", serial=s), PowerSupply(unit="psu-1", condition=OK)) for s in ("C1", "C2")
    ]
    (found,) = findings("identity.chassis", case(*texts, "psu-1"))
    assert UNMET is found.outcome
    assert "new installation" in (found.hint or "")
    assert "new baseline" in (found.hint or "")


# ---- AC and DC


def inputs(*kinds: str | None) -> Snapshot:
    """Supplies by what they take; `-` is an empty slot, None one that prints no input type."""
    rows: list[AnyReading] = []
    for number, kind in enumerate(kinds, 1):
        fields = {"condition": ABSENT} if kind == "-" else {"condition": OK, "input_type": kind}
        rows.append(PowerSupply.model_validate({"unit": f"psu-{number}", **fields}))
    return snapshot(*rows)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (("AC", "AC"), ("AC", "AC"), {"psu-2": (MET, True)}),
        (("DC", "DC"), ("DC", "AC"), {"psu-2": (UNMET, True)}),  # said of the unit, not of the chassis as well
        (("AC", None), ("AC", "AC"), {"psu-2": (MET, True)}),  # the old one was silent: its peers tell
        (("AC", "-"), ("AC", "DC"), {"psu-2": (UNMET, True)}),
        (("AC", "DC"), ("AC", "DC"), {"psu-2": (MET, True), "supplies": (UNMET, False)}),  # mixed already: told
        (("AC", "DC", None), ("AC", "AC", None), {"psu-2": (UNMET, True)}),
        (("AC", "AC"), ("DC", "AC"), {"psu-2": (MET, True), "supplies": (UNMET, True)}),  # another one changed
        ((None, None), ("AC", "DC"), {"supplies": (UNDETERMINED, True)}),
        ((None, None), (None, None), {}),
        (("AC", "AC"), ("AC", None), {}),
        (("AC", "AC"), ("AC", "-"), {}),
    ],
)
def test_a_supply_takes_the_input_that_its_slot_is_wired_for(
    before: tuple[str | None, ...], after: tuple[str | None, ...], expected: dict[str, tuple[Outcome, bool]]
) -> None:
    found = findings("power.input-type", case(inputs(*before), inputs(*after), "psu-2"))
    assert expected == {f.subject: (f.outcome, f.required) for f in found}


@pytest.mark.parametrize(("label", "expected"), [("AC", MET), ("DC", UNMET)])
def test_the_label_counts_where_the_new_part_prints_no_input(label: str, expected: Outcome) -> None:
    judged = case(inputs("AC", "AC"), inputs("AC", None), "psu-2", observed=(Observed("psu-2", "input", label),))
    assert {"psu-2": expected} == outcomes("power.input-type", judged)


def test_a_label_against_the_text_leaves_it_open() -> None:
    judged = case(inputs("AC", "AC"), inputs("AC", "AC"), "psu-2", observed=(Observed("psu-2", "input", "DC"),))
    assert [UNDETERMINED, MET] == [f.outcome for f in findings("power.input-type", judged)]


@pytest.mark.parametrize(("label", "expected"), [(None, MET), ("DC", MET), ("AC", UNMET)])
def test_a_sag_to_fifty_volts_is_no_dc_plant_where_the_label_says_ac(label: str | None, expected: Outcome) -> None:
    """Where no input type is printed 50 V are within ETSI EN 300 132-2, but far below IEC 60038's 207 V."""
    now = snapshot(
        PowerSupply(unit="psu-1", condition=OK, input_voltage=q("230 V")),
        PowerSupply(unit="psu-2", condition=OK, input_voltage=q("50 V")),
    )
    seen = (Observed("psu-2", "input", label),) if label else ()
    assert expected is outcomes("power.input-range", case(now, now, "psu-2", observed=seen))["psu-2"]


def test_a_fan_swap_asks_only_whether_the_supplies_were_mixed() -> None:
    fan = Fan(unit="fan-1", condition=OK)
    mixed = snapshot(fan, *inputs("AC", "DC").readings)
    assert {"supplies": UNMET} == outcomes("power.input-type", case(mixed, mixed, "fan-1"))


# ---- supplies of one kind (common practice)


def kinds(*parts: tuple[str, str]) -> Snapshot:
    """Supplies by part number and rated power."""
    return snapshot(
        *(
            PowerSupply(unit=f"psu-{n}", condition=OK, part_number=part, capacity=q(watts))
            for n, (part, watts) in enumerate(parts, 1)
        )
    )


SAME, OTHER, SMALLER = ("WXP-600F", "600 W"), ("WXP-600G", "600 W"), ("WXP-600F", "450 W")


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ((SAME, SAME), (SAME, SAME), ""),
        ((SAME, SAME), (SAME, OTHER), "part number"),
        ((SAME, SAME), (SAME, SMALLER), "rated power"),
        ((SAME, OTHER), (SAME, OTHER), ""),  # it was so before
    ],
)
def test_unlike_supplies_are_told_beside_the_verdict(
    before: tuple[tuple[str, str], ...], after: tuple[tuple[str, str], ...], told: str
) -> None:
    found = findings("power.mixed", case(kinds(*before), kinds(*after), "psu-2"))
    assert bool(told) is bool(found)
    for one in found:
        assert (UNMET, False, True) == (one.outcome, one.required, told in one.message)


def test_a_listed_substitute_is_alike() -> None:
    listed = Acceptance(identity=IdentityLimits(substitutes={"WXP-600F": ["WXP-600G"]}))
    assert [] == findings("power.mixed", case(kinds(SAME, SAME), kinds(SAME, OTHER), "psu-2", listed))


# ---- fans inside supplies


def with_fan(condition: Condition, speed: str = "9000 rpm") -> Case:
    fan = Fan(unit="psu-2", name="psu-2 fan", condition=condition, status_text=condition.value, speed=q(speed))
    return still(PowerSupply(unit="psu-1", condition=OK), PowerSupply(unit="psu-2", condition=OK), fan, unit="psu-2")


@pytest.mark.parametrize(
    ("condition", "expected"),
    [(OK, MET), (WARNING, UNMET), (FAILED, UNMET), (Condition.UNKNOWN, UNDETERMINED)],
)
def test_the_fan_inside_a_supply_is_judged_for_itself(condition: Condition, expected: Outcome) -> None:
    (found,) = findings("cooling.status", with_fan(condition))
    assert ("psu-2 psu-2 fan", expected, True) == (found.subject, found.outcome, found.required)


def test_a_supplys_fan_that_stands_is_told_whatever_its_status_says() -> None:
    assert {"psu-2 psu-2 fan": UNMET} == outcomes("cooling.own-limits", with_fan(OK, "0 rpm"))
    assert {} == outcomes("cooling.own-limits", with_fan(OK))


def test_a_supplys_fan_that_became_slow_is_told() -> None:
    def text(speed: str) -> Snapshot:
        return snapshot(
            *(PowerSupply(unit=f"psu-{n}", condition=OK) for n in (1, 2, 3)),
            *(Fan(unit=f"psu-{n}", name=f"fan {n}", condition=OK, speed=q("9000 rpm")) for n in (1, 3)),
            Fan(unit="psu-2", name="fan 2", condition=OK, speed=q(speed)),
        )

    found = outcomes("cooling.baseline", case(text("9000 rpm"), text("4000 rpm"), "psu-2"))
    assert {"psu-2 fan 2": UNMET, "psu-1 fan 1": MET} == found


# ---- fan modules


@pytest.mark.parametrize(("needed", "expected"), [(None, (UNDETERMINED, True)), (1, (MET, True)), (2, (UNMET, True))])
def test_without_fans_in_the_baseline_the_acceptance_says_how_many(
    needed: int | None, expected: tuple[Outcome, bool]
) -> None:
    before = snapshot(PowerSupply(unit="psu-1", condition=OK))
    after = snapshot(PowerSupply(unit="psu-1", condition=OK), *(Fan(unit=f"fan-{n}", condition=OK) for n in (1, 2)))
    limits = Acceptance(cooling=CoolingLimits(modules_needed=needed), power=PowerLimits(redundancy="none"))
    (found,) = findings("cooling.spare", case(before, after, "fan-1", limits))
    assert expected == (found.outcome, found.required)
