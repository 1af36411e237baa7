"""Supplies after a swap: each limit at, just below and just above it, and every sentence whole."""

from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from support import case, q, snapshot
from wholly_told import ABSENT, FAILED, NO_INPUT, OK, STANDBY, UNTOLD, WARNING, printed, same_text

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.rules import load, power
from consolecheck.judging.view import Case, Draft, Observed
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import AnyReading, Condition, Device, Fan, Inventory, PowerSupply, Sighting

MET, UNMET, UNDETERMINED = Outcome.MET, Outcome.UNMET, Outcome.UNDETERMINED


def supply(
    number: int,
    watts: float | None = None,
    rated: float | None = None,
    condition: Condition | None = OK,
    **more: Any,
) -> PowerSupply:
    """A supply; `vin="230 V"` and the like are its figures."""
    short = {
        "vin": "input_voltage",
        "iin": "input_current",
        "pin": "input_power",
        "vout": "output_voltage",
        "iout": "output_current",
    }
    more = {short.get(k, k): q(v) if k in short else v for k, v in more.items()}
    if watts is not None:
        more["output_power"] = q(f"{watts} W")
    if rated is not None:
        more["capacity"] = q(f"{rated} W")
    return PowerSupply(unit=f"psu-{number}", condition=condition, **more)


def limits(**power_limits: Any) -> Acceptance:
    return Acceptance.model_validate({"power": power_limits})


def now(
    *rows: AnyReading | Sighting, unit: str = "psu-1", seen: dict[str, str] | None = None, **power_limits: Any
) -> Case:
    text = snapshot(*rows)
    observed = tuple(Observed(u, f, v) for k, v in (seen or {}).items() for u, _, f in [k.rpartition(".")])
    return case(text, text, unit, limits(**power_limits), observed)


def swapped(
    before: Sequence[AnyReading | Sighting],
    after: Sequence[AnyReading | Sighting],
    unit: str = "psu-1",
    seen: dict[str, str] | None = None,
    **power_limits: Any,
) -> Case:
    observed = tuple(Observed(u, f, v) for k, v in (seen or {}).items() for u, _, f in [k.rpartition(".")])
    return case(snapshot(*before), snapshot(*after), unit, limits(**power_limits), observed)


# ---- present and ok


def test_what_is_said_of_the_supplies() -> None:
    def status(*rows: AnyReading, unit: str = "psu-1", **power_limits: Any) -> Iterable[Draft]:
        judged = now(*rows, unit=unit, **power_limits)
        return power.status(judged.after, judged)

    same_text(
        status(supply(1, status_text="Good"), supply(2, condition=NO_INPUT, status_text="No AC")),
        """
        met psu-1: psu-1 is present and ok (`Good`)
          measured Good
          at after:1; of psu-1
        unmet psu-2: psu-2 has no input power (`No AC`)
          measured No AC
          do: check the cord and the feed behind it, then capture again
          at after:2; of psu-2
        """,
    )
    same_text(
        status(supply(2)),
        """
        undetermined psu-1: nothing about psu-1 stands in the text
          do: capture the table that shows psu-1
          at after:1; of psu-1
        met psu-2: psu-2 is present and ok
          measured ok
          at after:1; of psu-2
        """,
    )
    same_text(
        status(supply(1), supply(2), unit="fan-1"),
        """
        met psu-1: psu-1 is present and ok
          measured ok
          at after:1; of psu-1
        met psu-2: psu-2 is present and ok
          measured ok
          at after:2; of psu-2
        """,
    )
    same_text(
        status(Fan(unit="fan-1"), unit="fan-1"),
        """
        undetermined supplies: no supply stands in the text
          do: no command that is read of this device family shows it: look at the device
          at no line
        """,
    )
    same_text(
        status(supply(1, condition=STANDBY)),
        """
        met psu-1: psu-1 is in standby
          measured standby; source RFC 4268: hot standby is a healthy state
          at after:1; of psu-1
        """,
    )
    same_text(
        status(supply(1, condition=STANDBY), standby_is_good=False),
        """
        unmet psu-1: psu-1 is in standby
          measured standby; source RFC 4268: hot standby is a healthy state
          at after:1; of psu-1
        """,
    )
    same_text(
        status(supply(1, condition=WARNING)),
        """
        unmet psu-1: psu-1 reports a warning
          measured warning
          at after:1; of psu-1
        """,
    )


# ---- the input


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [("207 V", MET), ("206.9 V", UNMET), ("253 V", MET), ("253.1 V", UNMET), ("230 V", MET)],
)
def test_230_volts_within_a_tenth(volts: str, outcome: Outcome) -> None:
    """IEC 60038 and EN 50160."""
    judged = now(supply(1, vin=volts), ac_nominal=230)
    (only,) = power.input_range(judged.after, judged)
    assert only.outcome is outcome


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [
        ("-40.5 V", MET),
        ("-40.49 V", UNMET),
        ("-57 V", MET),
        ("-57.01 V", UNMET),
        ("48 V", MET),
        ("74.9 V", UNMET),
        ("1 V", UNMET),
    ],
)
def test_direct_current_in_its_service_range(volts: str, outcome: Outcome) -> None:
    """ETSI EN 300 132-2, normal service range, by magnitude."""
    judged = now(supply(1, vin=volts))
    (only,) = power.input_range(judged.after, judged)
    assert (only.outcome, only.source) == (outcome, "ETSI EN 300 132-2, normal service range")


@pytest.mark.parametrize(
    ("row", "source"),
    [
        ({"vin": "75 V"}, "IEC 60038 / EN 50160, 120 V ± 10 %"),
        ({"vin": "0 V"}, "IEC 60038 / EN 50160, 120 V ± 10 %"),
        ({"vin": "48 V", "input_type": "AC"}, "IEC 60038 / EN 50160, 120 V ± 10 %"),
        ({"vin": "230 V", "input_type": "DC"}, "ETSI EN 300 132-2, normal service range"),
        ({"vin": "115 V"}, "IEC 60038 / EN 50160, 120 V ± 10 %"),
        ({"vin": "205 V"}, "IEC 60038 / EN 50160, 208 V ± 10 %"),
        ({"vin": "229 V"}, "IEC 60038 / EN 50160, 230 V ± 10 %"),
        ({"vin": "241 V"}, "IEC 60038 / EN 50160, 240 V ± 10 %"),
        ({"vin": "270 V"}, "IEC 60038 / EN 50160, 277 V ± 10 %"),
    ],
)
def test_which_range_an_input_is_held_against(row: dict[str, Any], source: str) -> None:
    judged = now(supply(1, **row))
    (only,) = power.input_range(judged.after, judged)
    assert only.source == source


def test_the_nominal_is_that_of_the_baseline_then_that_of_the_peers() -> None:
    def source(before: Sequence[AnyReading], after: Sequence[AnyReading]) -> str:
        judged = swapped(before, after)
        return str(next(d for d in power.input_range(judged.after, judged) if d.subject == "psu-1").source)

    sagging = supply(1, vin="206 V")
    assert "208 V" in source([], [sagging])
    assert "230 V" in source([supply(1, vin="230 V")], [sagging])
    assert "230 V" in source([], [sagging, supply(2, vin="230 V")])
    assert "230 V" in source([supply(2, vin="230 V"), supply(3, vin="230 V"), supply(4, vin="120 V")], [sagging])
    assert "208 V" in source([supply(2, vin="48 V")], [sagging])  # a plant of 48 V is no measure for mains
    assert "208 V" in source([supply(2, vin="75 V")], [sagging])


def test_what_is_said_of_the_input() -> None:
    def told(*rows: AnyReading | Sighting, **more: Any) -> Iterable[Draft]:
        judged = now(*rows, **more)
        return power.input_range(judged.after, judged)

    same_text(
        told(supply(1, vin="229.1234567 V"), supply(2), supply(3, vin="200 V"), ac_nominal=230),
        """
        met psu-1: psu-1 input is 229.123 V, within 207 to 253 V
          measured 229.1234567 V; limit 207 V; source IEC 60038 / EN 50160, 230 V ± 10 %; margin 22.123457 V
          at after:1; of psu-1
        unmet psu-3: psu-3 input is 200 V, outside 207 to 253 V
          measured 200 V; limit 207 V; source IEC 60038 / EN 50160, 230 V ± 10 %; margin -7 V
          do: measure the feed; a supply does not set its own input
          at after:3; of psu-3
        """,
    )
    same_text(
        told(printed(supply(1, vin="260 V"), 4, input_voltage="260", value="1"), ac_nominal=230),
        """
        unmet psu-1: psu-1 input is 260 V, outside 207 to 253 V
          measured 260 V; limit 253 V; source IEC 60038 / EN 50160, 230 V ± 10 %; margin -7 V
          do: measure the feed; a supply does not set its own input
          at after:4[0-3]; of psu-1
        """,
    )
    same_text(
        told(printed(supply(1, vin="230 V"), 4, name="Vin", value="230"), ac_nominal=230),
        """
        met psu-1: psu-1 input is 230 V, within 207 to 253 V
          measured 230 V; limit 253 V; source IEC 60038 / EN 50160, 230 V ± 10 %; margin 23 V
          at after:4[4-7]; of psu-1
        """,
    )
    same_text(
        told(supply(1, vin="48.75 V")),
        """
        met psu-1: psu-1 input is 48.75 V, within 40.5 to 57 V
          measured 48.75 V; limit 57 V; source ETSI EN 300 132-2, normal service range; margin 8.25 V
          at after:1; of psu-1
        """,
    )  # as near to both ends: the upper one
    same_text(
        told(supply(1, vin="48 V"), seen={"psu-1.input": "DC"}),
        """
        met psu-1: psu-1 input is 48 V, within 40.5 to 57 V
          measured 48 V; limit 40.5 V; source ETSI EN 300 132-2, normal service range; margin 7.5 V
          at after:1; of psu-1
        """,
    )
    same_text(
        told(supply(1, vin="48 V"), seen={"psu-1.input": "AC"}),
        """
        unmet psu-1: psu-1 input is 48 V, outside 108 to 132 V
          measured 48 V; limit 108 V; source IEC 60038 / EN 50160, 120 V ± 10 %; margin -60 V
          do: measure the feed; a supply does not set its own input
          at after:1; of psu-1
        """,
    )
    same_text(
        told(supply(1, vin="230.1234567 V"), ac_nominal=230.7654321),
        """
        met psu-1: psu-1 input is 230.123 V, within 207.689 to 253.842 V
          measured 230.1234567 V; limit 207.688889 V; source IEC 60038 / EN 50160, 230.765 V ± 10 %; margin 22.434568 V
          at after:1; of psu-1
        """,
    )


# ---- the output


@pytest.mark.parametrize(
    ("volts", "outcome"), [("11.4 V", MET), ("11.39 V", UNMET), ("12.6 V", MET), ("12.61 V", UNMET), ("-12 V", MET)]
)
def test_twelve_volts_within_a_twentieth(volts: str, outcome: Outcome) -> None:
    judged = now(supply(1, vout=volts), output_nominal=12)
    (only,) = power.output_range(judged.after, judged)
    assert only.outcome is outcome


@pytest.mark.parametrize(
    ("volts", "nominal"),
    [
        ("3.4 V", "3.3 V"),
        ("4.9 V", "5 V"),
        ("11.5 V", "12 V"),
        ("23 V", "24 V"),
        ("49 V", "48 V"),
        ("53 V", "54 V"),
        ("56.1 V", "56 V"),
        ("0 V", "3.3 V"),
    ],
)
def test_the_usual_rails(volts: str, nominal: str) -> None:
    judged = now(supply(1, vout=volts))
    (only,) = power.output_range(judged.after, judged)
    assert only.source == f"{nominal} ± 5 %, common practice"


def test_what_is_said_of_the_output() -> None:
    def told(*rows: AnyReading | Sighting, **more: Any) -> Iterable[Draft]:
        judged = now(*rows, **more)
        return power.output_range(judged.after, judged)

    same_text(
        told(supply(1, vout="12.1 V"), supply(2), supply(3, vout="12.1 V", condition=STANDBY)),
        """
        met psu-1: psu-1 output is 12.1 V, within 11.4 to 12.6 V
          measured 12.1 V; limit 12.6 V; source 12 V ± 5 %, common practice; margin 0.5 V
          at after:1; of psu-1
        """,
    )
    same_text(
        told(supply(3, vout="0 V", condition=STANDBY), supply(2), supply(1, vout="12.1 V")),
        """
        met psu-1: psu-1 output is 12.1 V, within 11.4 to 12.6 V
          measured 12.1 V; limit 12.6 V; source 12 V ± 5 %, common practice; margin 0.5 V
          at after:3; of psu-1
        """,
    )
    same_text(
        told(supply(1, vout="11 V"), supply(2, vout="12 V"), supply(3, vout="12 V")),
        """
        unmet psu-1: psu-1 output is 11 V, outside 11.4 to 12.6 V
          measured 11 V; limit 11.4 V; source 12 V ± 5 %, common practice; margin -0.4 V
          at after:1; of psu-1
        met psu-2: psu-2 output is 12 V, within 11.4 to 12.6 V
          measured 12 V; limit 12.6 V; source 12 V ± 5 %, common practice; margin 0.6 V
          at after:2; of psu-2
        met psu-3: psu-3 output is 12 V, within 11.4 to 12.6 V
          measured 12 V; limit 12.6 V; source 12 V ± 5 %, common practice; margin 0.6 V
          at after:3; of psu-3
        """,
    )
    same_text(
        told(supply(1, vout="53.5 V"), output_nominal=53.5, output_tolerance_percent=1),
        """
        met psu-1: psu-1 output is 53.5 V, within 52.965 to 54.035 V
          measured 53.5 V; limit 54.035 V; source 53.5 V ± 1 %, common practice; margin 0.535 V
          at after:1; of psu-1
        """,
    )
    judged = swapped([], [supply(1, vout="4.9 V"), supply(2, vout="12 V")])
    same_text(
        power.output_range(judged.after, judged),
        """
        unmet psu-1: psu-1 output is 4.9 V, outside 11.4 to 12.6 V
          measured 4.9 V; limit 11.4 V; source 12 V ± 5 %, common practice; margin -6.5 V
          at after:1; of psu-1
        met psu-2: psu-2 output is 12 V, within 11.4 to 12.6 V
          measured 12 V; limit 12.6 V; source 12 V ± 5 %, common practice; margin 0.6 V
          at after:2; of psu-2
        """,
    )


# ---- the kind of input


def test_what_is_said_of_the_kind_of_input() -> None:
    ac: dict[str, Any] = {"input_type": "AC"}
    dc: dict[str, Any] = {"input_type": "DC"}
    told = power.input_type
    same_text(
        told(swapped([supply(1, **ac)], [supply(1, **ac)])),
        """
        met psu-1: psu-1 takes AC, like the part before
          measured AC; limit AC; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1, **ac)], [printed(supply(1, **dc), 7, unit="psu-1", input_type="DC")])),
        """
        unmet psu-1: psu-1 takes DC, but the part before took AC
          measured DC; limit AC; source the baseline
          do: take it out, and fit a part for the input that this slot is wired for
          at after:7[6-8] before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, **ac)], [supply(1, **dc), supply(2, **ac)])),
        """
        unmet psu-1: psu-1 takes DC, but psu-2 took AC
          measured DC; limit AC; source the baseline
          do: take it out, and fit a part for the input that this slot is wired for
          at after:1 before:2; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, **ac)], [supply(1, **ac), supply(2, **ac)])),
        """
        met psu-1: psu-1 takes AC, like psu-2
          measured AC; limit AC; source the baseline
          at after:1 before:2; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1), supply(2, **ac), supply(3, **dc)], [supply(1, **dc), supply(2, **ac)])),
        """
        unmet supplies: the supplies take both AC and DC: they did before, too
          measured AC and DC; limit AC and DC; source one kind of input in a chassis, common practice
          do: find out which input this chassis is laid out for
          at after:1 after:2; advisory
        """,
    )
    same_text(told(swapped([supply(1, **ac)], [supply(1)])), "")
    same_text(
        told(swapped([supply(1, **ac)], [supply(1)], seen={"psu-1.input": "AC"})),
        """
        met psu-1: psu-1 takes AC, like the part before
          measured AC; limit AC; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1, **ac)], [supply(1)], seen={"psu-1.input": "DC"})),
        """
        unmet psu-1: psu-1 takes DC, but the part before took AC
          measured DC; limit AC; source the baseline
          do: take it out, and fit a part for the input that this slot is wired for
          at after:1 before:1; of psu-1
        """,
    )
    same_text(
        told(swapped([supply(1, **ac)], [supply(1, **ac)], seen={"psu-1.input": "DC"})),
        """
        undetermined psu-1: the label of psu-1 says DC, but the text says AC
          measured AC; limit DC; source the label as read
          do: look at the label again, then capture again
          at after:1; of psu-1
        met psu-1: psu-1 takes AC, like the part before
          measured AC; limit AC; source the baseline
          at after:1 before:1; of psu-1
        """,
    )
    same_text(told(swapped([supply(1, **ac)], [supply(1, **dc, condition=ABSENT)])), "")
    same_text(
        told(swapped([supply(1, **dc, condition=ABSENT), supply(2, **ac)], [supply(1, **dc), supply(2, **ac)])),
        """
        unmet psu-1: psu-1 takes DC, but psu-2 took AC
          measured DC; limit AC; source the baseline
          do: take it out, and fit a part for the input that this slot is wired for
          at after:1 before:2; of psu-1
        """,
    )
    same_text(told(swapped([supply(1, **ac)], [supply(1, condition=ABSENT)], seen={"psu-1.input": "DC"})), "")


def test_a_chassis_with_both_kinds() -> None:
    ac: dict[str, Any] = {"input_type": "AC"}
    dc: dict[str, Any] = {"input_type": "DC"}
    told = power.input_type
    both = [supply(1, **ac), supply(2, **dc)]
    same_text(
        told(swapped([], both)),
        """
        undetermined supplies: the supplies take both AC and DC: what it was before is not known
          measured AC and DC; source one kind of input in a chassis, common practice
          do: find out which input this chassis is laid out for
          at after:1 after:2
        """,
    )
    same_text(
        told(swapped([supply(1, **ac), supply(2, **ac)], both)),
        """
        met psu-1: psu-1 takes AC, like the part before
          measured AC; limit AC; source the baseline
          at after:1 before:1; of psu-1
        unmet supplies: the supplies take both AC and DC: before the swap all took AC
          measured AC and DC; limit AC; source one kind of input in a chassis, common practice
          do: find out which input this chassis is laid out for
          at after:1 after:2
        """,
    )
    same_text(
        told(swapped(both, both)),
        """
        met psu-1: psu-1 takes AC, like the part before
          measured AC; limit AC; source the baseline
          at after:1 before:1; of psu-1
        unmet supplies: the supplies take both AC and DC: they did before, too
          measured AC and DC; limit AC and DC; source one kind of input in a chassis, common practice
          do: find out which input this chassis is laid out for
          at after:1 after:2; advisory
        """,
    )
    same_text(
        told(swapped(both, both, unit="fan-1")),
        """
        unmet supplies: the supplies take both AC and DC: they did before, too
          measured AC and DC; limit AC and DC; source one kind of input in a chassis, common practice
          do: find out which input this chassis is laid out for
          at after:1 after:2; advisory
        """,
    )
    same_text(
        told(swapped([supply(1, **dc), supply(2, **dc)], both)),
        """
        unmet psu-1: psu-1 takes AC, but the part before took DC
          measured AC; limit DC; source the baseline
          do: take it out, and fit a part for the input that this slot is wired for
          at after:1 before:1; of psu-1
        """,
    )


# ---- supplies of one kind


def test_what_is_said_of_unlike_supplies() -> None:
    alike = [supply(1, rated=600, part_number="HX-600"), supply(2, rated=600, part_number="HX-600")]
    other = [supply(1, rated=900, part_number="HX-900"), alike[1]]
    same_text(power.mixed(swapped(alike, alike)), "")
    same_text(
        power.mixed(swapped(alike, other)),
        """
        unmet supplies: the supplies differ in part number (HX-600 and HX-900) and rated power (600 W and 900 W)
          source supplies of one kind, common practice
          do: check in the maker's guide that these may run side by side
          at after:1 after:2
        """,
    )
    same_text(power.mixed(swapped(other, other)), "")
    same_text(
        power.mixed(swapped([], other)),
        """
        unmet supplies: the supplies differ in part number (HX-600 and HX-900) and rated power (600 W and 900 W)
          source supplies of one kind, common practice
          do: check in the maker's guide that these may run side by side
          at after:1 after:2
        """,
    )
    same_text(
        power.mixed(swapped(alike, [supply(1, rated=900, part_number="HX-600"), alike[1]])),
        """
        unmet supplies: the supplies differ in rated power (600 W and 900 W)
          source supplies of one kind, common practice
          do: check in the maker's guide that these may run side by side
          at after:1 after:2
        """,
    )
    same_text(
        power.mixed(swapped(alike, [supply(1, rated=600, part_number="HX-601"), alike[1]])),
        """
        unmet supplies: the supplies differ in part number (HX-600 and HX-601)
          source supplies of one kind, common practice
          do: check in the maker's guide that these may run side by side
          at after:1 after:2
        """,
    )
    gone = supply(1, rated=900, part_number="HX-900", condition=ABSENT)
    same_text(power.mixed(swapped(alike, [gone, alike[1]])), "")
    listed = Acceptance.model_validate({"identity": {"substitutes": {"HX-600": ["HX-601", "HX-600"]}}})
    like = [supply(1, part_number="HX-601"), supply(2, part_number="HX-600")]
    same_text(power.mixed(case(snapshot(*alike), snapshot(*like), "psu-1", listed)), "")


# ---- the load


def test_the_best_figure_that_all_print_is_the_load() -> None:
    def total(*rows: AnyReading) -> tuple[str, float] | None:
        found = load.load_of(now(*rows).after)
        return None if found is None else (found.field, found.total)

    amps: dict[str, Any] = {"vout": "12 V", "iout": "10 A"}
    assert total(supply(1, 100), supply(2, 200)) == ("output_power", 300)
    assert total(supply(1, -100), supply(2, 200)) == ("output_power", 300)
    assert total(supply(1, 100, **amps), supply(2, **amps)) == ("output_current", 240)
    assert total(supply(1, vout="-54 V", iout="2 A")) == ("output_current", 108)
    assert total(supply(1, pin="110 W", vout="12 V"), supply(2, pin="120 W", iout="9 A")) == ("input_power", 230)
    # One without input, or none at all, has nothing to print.
    assert total(supply(1, 100), supply(2, condition=NO_INPUT), supply(3, condition=ABSENT)) == ("output_power", 100)
    assert total(supply(1, 100), supply(2, condition=FAILED)) is None
    assert total(supply(1, condition=ABSENT)) is None
    chassis = Device(name="load", value=q("350 W"))
    assert total(supply(1), supply(2, 100), chassis) == ("value", 350)
    assert total(supply(1), chassis, chassis) is None
    assert total(supply(1), Device(name="load")) is None
    assert total(supply(1), Device(name="load", value=q("3 A"))) is None
    assert total(supply(1), Device(name="power", value=q("350 W"))) is None


def test_what_a_supply_can_deliver() -> None:
    def rating(*rows: AnyReading, **more: Any) -> tuple[float, str] | None:
        judged = now(*rows, **more)
        return load.rating_of(judged.after, judged, "psu-1")

    listed: dict[str, Any] = {"capacity": {"HX-600": 600}}
    warned: dict[str, Any] = {"pin": "100 W", "high_warning": q("700 W")}
    assert rating(supply(1, rated=650, part_number="HX-600"), **listed) == (650, "rated power as printed")
    assert rating(supply(1, rated=0, part_number="HX-600"), **listed) == (600, "acceptance, capacity of HX-600")
    assert rating(supply(1, rated=0.5)) == (0.5, "rated power as printed")
    assert rating(supply(1, part_number="HX-601"), **listed) is None
    told = "the device's warning limit of input power"
    assert rating(supply(1, **warned)) == (700, told)
    assert rating(supply(1, pin="100 W", high_critical=q("800 W"))) == (800, told)
    assert rating(supply(1, pin="100 W", high_warning=q("0.5 W"))) == (0.5, told)
    assert rating(supply(1, pin="100 W", high_warning=q("0 W"))) is None
    assert rating(supply(1, pin="100 W", high_warning=q("7 A"))) is None
    assert rating(supply(1, high_warning=q("700 W"))) is None
    assert rating(supply(1), supply(1, **warned)) == (700, told)
    assert rating(supply(2, **warned)) is None


# ---- the new one carries load


@pytest.mark.parametrize(("watts", "outcome"), [(40, MET), (39.99, UNMET), (40.01, MET), (0, UNMET)])
def test_at_least_a_fifth_of_an_equal_share(watts: float, outcome: Outcome) -> None:
    """Two supplies with 400 W together."""
    (only,) = load.carries_load(now(supply(1, watts), supply(2, 400 - watts)))
    assert only.outcome is outcome


def test_what_is_said_of_what_the_new_one_carries() -> None:
    told = load.carries_load
    same_text(
        told(now(supply(1, 200.12345), supply(2, 200.98765))),
        """
        met psu-1: psu-1 carries 200.123 W of 401.111 W
          measured 200.123 W; limit 40.111 W; source share of an equal load, common practice; margin 160.012 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 10), supply(2, 390), supply(3, 0, condition=FAILED))),
        """
        unmet psu-1: psu-1 carries 10 W of 400 W, less than 40 W
          measured 10 W; limit 40 W; source share of an equal load, common practice; margin -30 W
          do: reseat the unit, wait a minute and capture again
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 70), supply(2, 270), supply(3, 260, condition=WARNING))),
        """
        met psu-1: psu-1 carries 70 W of 600 W
          measured 70 W; limit 40 W; source share of an equal load, common practice; margin 30 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 0), supply(2, 400), least_share_percent=0)),
        """
        unmet psu-1: psu-1 carries 0 W of 400 W, less than 0 W
          measured 0 W; limit 0 W; source share of an equal load, common practice; margin 0 W
          do: reseat the unit, wait a minute and capture again
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 0.5), supply(2, 400), least_share_percent=0)),
        """
        met psu-1: psu-1 carries 0.5 W of 400.5 W
          measured 0.5 W; limit 0 W; source share of an equal load, common practice; margin 0.5 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 100, condition=FAILED))),
        """
        met psu-1: psu-1 carries 100 W of 100 W
          measured 100 W; limit 20 W; source share of an equal load, common practice; margin 80 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 0, condition=STANDBY), supply(2, 400))),
        """
        met psu-1: psu-1 is in standby and needs to carry nothing
          measured 0 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 0, condition=STANDBY), supply(2, 400), standby_is_good=False)),
        """
        unmet psu-1: psu-1 carries 0 W of 400 W, less than 80 W
          measured 0 W; limit 80 W; source share of an equal load, common practice; margin -80 W
          do: reseat the unit, wait a minute and capture again
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 0), supply(2, 0))),
        """
        undetermined psu-1: no supply shows any load
          measured 0 W; limit 0 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(supply(1, 1), supply(2, 0))),
        """
        met psu-1: psu-1 carries 1 W of 1 W
          measured 1 W; limit 0.1 W; source share of an equal load, common practice; margin 0.9 W
          at after:1; of psu-1
        """,
    )
    same_text(
        told(now(printed(supply(1, 200), 3, unit="psu-1", output_power="200"), supply(2, 200))),
        """
        met psu-1: psu-1 carries 200 W of 400 W
          measured 200 W; limit 40 W; source share of an equal load, common practice; margin 160 W
          at after:3[6-9]; of psu-1
        """,
    )
    same_text(
        told(now(printed(supply(1, 200), 3, name="Pout", value="200"), supply(2, 200))),
        """
        met psu-1: psu-1 carries 200 W of 400 W
          measured 200 W; limit 40 W; source share of an equal load, common practice; margin 160 W
          at after:3[5-8]; of psu-1
        """,
    )
    assert list(told(now(supply(1, 0), supply(2, 400), unit="fan-1"))) == []


def test_what_is_said_where_the_new_ones_load_is_not_printed() -> None:
    told = load.carries_load
    full, bare = [supply(1, 200), supply(2, 200)], [supply(1), supply(2, 200)]
    same_text(
        told(swapped(full, bare)),
        """
        undetermined psu-1: the load of psu-1 was not printed
          do: capture the power table again
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped(bare, bare)),
        """
        undetermined psu-1: the load of psu-1 was not printed
          do: compare the load lamps or meter the output
          at after:1; of psu-1; advisory
        """,
    )
    same_text(
        told(swapped(bare, [Device(name="load", value=q("350 W")), supply(2)])),
        """
        undetermined psu-1: the load of psu-1 was not printed
          do: compare the load lamps or meter the output
          at after:2; of psu-1; advisory
        """,
    )
    same_text(
        told(swapped([Device(name="load", value=q("350 W"))], [Device(name="load", value=q("350 W")), supply(1)])),
        """
        undetermined psu-1: the load of psu-1 was not printed
          do: compare the load lamps or meter the output
          at after:2; of psu-1; advisory
        """,
    )
    same_text(
        told(swapped(full, [supply(1, condition=NO_INPUT), supply(2, 200)])),
        """
        unmet psu-1: psu-1 delivers nothing
          at after:1; of psu-1
        """,
    )
    same_text(
        told(swapped(full, [supply(2, 200), Inventory(unit="psu-1", condition=ABSENT)])),
        """
        unmet psu-1: psu-1 delivers nothing
          at after:2; of psu-1
        """,
    )


# ---- sharing


@pytest.mark.parametrize(("watts", "outcome"), [(220, MET), (220.1, UNMET), (180, MET), (179.9, UNMET)])
def test_a_tenth_from_the_mean(watts: float, outcome: Outcome) -> None:
    judged = now(supply(1, watts, 600), supply(2, 400 - watts, 600))
    (only,) = load.sharing(judged.after, judged)
    assert only.outcome is outcome


@pytest.mark.parametrize(("watts", "outcome"), [(240, MET), (239.9, UNDETERMINED), (240.1, MET)])
def test_sharing_is_judged_from_a_fifth_of_the_capacity_on(watts: float, outcome: Outcome) -> None:
    judged = now(supply(1, watts / 2, 600), supply(2, watts / 2, 600))
    (only,) = load.sharing(judged.after, judged)
    assert only.outcome is outcome


def test_what_is_said_of_sharing() -> None:
    def told(*rows: AnyReading | Sighting, **more: Any) -> Iterable[Draft]:
        judged = now(*rows, **more)
        return load.sharing(judged.after, judged)

    same_text(
        told(supply(1, 201.2345, 600), supply(2, 199, 600)),
        """
        met supplies: psu-2 carries 199 W where the mean is 200.117 W (-0.6 %)
          measured -0.56 %; limit 10 %; source common practice; margin 9.44 %
          at after:2
        """,
    )
    same_text(
        told(supply(1, 199, 600), supply(2, 201.2345, 600)),
        """
        met supplies: psu-1 carries 199 W where the mean is 200.117 W (-0.6 %)
          measured -0.56 %; limit 10 %; source common practice; margin 9.44 %
          at after:1
        """,
    )
    same_text(
        told(supply(1, 100, 600), supply(2, 300, 600), supply(3, 290, 600)),
        """
        unmet supplies: psu-1 carries 100 W where the mean is 230 W (-56.5 %)
          measured -56.52 %; limit 10 %; source common practice; margin -46.52 %
          at after:1
        """,
    )
    same_text(
        told(supply(1, 100), supply(2, 300)),
        """
        undetermined supplies: how the load is shared cannot be judged without the rated power
          measured -50 %; limit 10 %
          at after:1
        """,
    )
    same_text(
        told(supply(1, 50, 600), supply(2, 50, 600)),
        """
        undetermined supplies: at 8% of the rated power sharing says nothing
          measured 0 %; limit 10 %; source common practice
          at after:1
        """,
    )
    same_text(
        told(supply(1, 0, 600), supply(2, 0, 600), sharing_from_load_percent=0),
        """
        met supplies: psu-1 carries 0 W where the mean is 0 W (+0.0 %)
          measured 0 %; limit 10 %; source common practice; margin 10 %
          at after:1
        """,
    )
    same_text(told(supply(1, 100, 600), supply(2, 300, 600, WARNING)), "")
    same_text(
        told(supply(1, 100, 600), supply(2, 300, 600, STANDBY), supply(3, 100, 600)),
        """
        met supplies: psu-1 carries 100 W where the mean is 100 W (+0.0 %)
          measured 0 %; limit 10 %; source common practice; margin 10 %
          at after:1
        """,
    )
    same_text(told(supply(1), supply(2)), "")
    at = printed(supply(1, 190, 600), 5, unit="psu-1", output_power="190")
    same_text(
        told(at, supply(2, 200, 600)),
        """
        met supplies: psu-1 carries 190 W where the mean is 195 W (-2.6 %)
          measured -2.56 %; limit 10 %; source common practice; margin 7.44 %
          at after:5[6-9]
        """,
    )
    at = printed(supply(1, 190, 600), 5, name="Pout", value="190")
    same_text(
        told(at, supply(2, 200, 600)),
        """
        met supplies: psu-1 carries 190 W where the mean is 195 W (-2.6 %)
          measured -2.56 %; limit 10 %; source common practice; margin 7.44 %
          at after:5[5-8]
        """,
    )


# ---- what is left after a loss


@pytest.mark.parametrize(
    ("watts", "capacity", "number"),
    [(0, 600, 1), (599, 600, 1), (600, 600, 1), (600.1, 600, 2), (1200, 600, 2), (1201, 600, 3), (0.3, 0.1, 3)],
)
def test_n_is_the_load_over_one_unit_rounded_up(watts: float, capacity: float, number: int) -> None:
    assert load.needed_units(watts, capacity) == number


@pytest.mark.parametrize(("watts", "outcome"), [(540, MET), (540.1, UNMET), (539.9, MET)])
def test_the_load_fits_what_is_left(watts: float, outcome: Outcome) -> None:
    """One of two supplies of 600 W, a tenth kept free."""
    judged = now(supply(1, watts / 2, 600), supply(2, watts / 2, 600))
    (only,) = load.redundancy(judged.after, judged)
    assert only.outcome is outcome


def test_what_is_said_of_redundancy() -> None:
    def told(*rows: AnyReading, unit: str = "psu-1", **more: Any) -> Iterable[Draft]:
        judged = now(*rows, unit=unit, **more)
        return load.redundancy(judged.after, judged)

    two = (supply(1, 200.12345, 600.98765), supply(2, 200, 600.98765))
    same_text(
        told(*two),
        """
        met supplies: the load of 400.123 W fits the 540.889 W left after the loss of psu-1
          measured 400.123 W; limit 540.889 W; source N+1 with N = 1, 10 % headroom; rated power as printed; margin 140.765 W
          at after:1 after:2
        """,
    )
    same_text(
        told(supply(1, 300, 900), supply(2, 300, 600), supply(3, 300, 300), headroom_percent=0),
        """
        met supplies: the load of 900 W fits the 900 W left after the loss of psu-1
          measured 900 W; limit 900 W; source N+1 with N = 3, 0 % headroom; rated power as printed; margin 0 W
          at after:1 after:2 after:3
        """,
    )
    same_text(
        told(supply(1, 400, 600), supply(2, 400, 600)),
        """
        unmet supplies: the load of 800 W does not fit the 540 W left after the loss of psu-1
          measured 800 W; limit 540 W; source N+1 with N = 2, 10 % headroom; rated power as printed; margin -260 W
          at after:1 after:2
        """,
    )
    same_text(
        told(two[0], supply(2, 200, 600, UNTOLD)),
        """
        undetermined supplies: redundancy cannot be judged: whether psu-2 is good is not known
          source N+1
          at after:1 after:2
        """,
    )
    same_text(
        told(two[0], supply(2, 200, 600, None), unit="fan-1"),
        """
        undetermined supplies: redundancy cannot be judged: whether psu-2 is good is not known
          source N+1
          at after:1 after:2; advisory
        """,
    )
    same_text(
        told(two[0], supply(2, 200, 600, FAILED)),
        """
        unmet supplies: only psu-1 is good: nothing is left to take over
          measured 1; limit 2; source N+1
          at after:1 after:2
        """,
    )
    same_text(
        told(two[0]),
        """
        unmet supplies: only psu-1 is good: nothing is left to take over
          measured 1; limit 2; source N+1
          at after:1; by absence of power_supply
        """,
    )
    same_text(
        told(supply(1, 0, 600, FAILED), supply(2, 0, 600, FAILED)),
        """
        unmet supplies: no supply is good: nothing is left to take over
          measured 0; limit 2; source N+1
          at after:1 after:2
        """,
    )
    same_text(
        told(supply(1), supply(2)),
        """
        undetermined supplies: redundancy cannot be judged: the load is not known
          source N+1
          do: state the rated power by part number in the acceptance under [power.capacity]
          at after:1 after:2
        """,
    )
    same_text(
        told(supply(1, 200, 600), supply(2, 200), unit="fan-1"),
        """
        undetermined supplies: redundancy cannot be judged: the rated power of psu-2 is not known
          source N+1
          do: state the rated power by part number in the acceptance under [power.capacity]
          at after:1 after:2; advisory
        """,
    )
    same_text(
        told(Fan(unit="fan-1"), unit="fan-1"),
        """
        undetermined supplies: redundancy cannot be judged: the load is not known
          source N+1
          do: state the rated power by part number in the acceptance under [power.capacity]
          at after:1; advisory
        """,
    )
    same_text(
        told(two[0], supply(2, 0, 600, STANDBY)),
        """
        met supplies: the load of 200.123 W fits the 540 W left after the loss of psu-1
          measured 200.123 W; limit 540 W; source N+1 with N = 1, 10 % headroom; rated power as printed; margin 339.877 W
          at after:1 after:2
        """,
    )
    assert list(told(two[0], redundancy="none")) == []


def test_the_loss_of_a_feed() -> None:
    def told(*rows: AnyReading, unit: str = "psu-1", **more: Any) -> Iterable[Draft]:
        judged = now(*rows, unit=unit, redundancy="N+N", **more)
        return load.redundancy(judged.after, judged)

    fed = [supply(n, 100, 300, feed=f) for n, f in ((1, "a"), (2, "a"), (3, "B"), (4, "b"))]
    same_text(
        told(*fed),
        """
        met supplies: the load of 400 W fits the 540 W left after the loss of psu-1 and psu-2
          measured 400 W; limit 540 W; source N+N with N = 2, 10 % headroom; rated power as printed; margin 140 W
          at after:1 after:2 after:3 after:4
        """,
    )
    same_text(
        told(*fed[:3]),
        """
        unmet supplies: the load of 300 W does not fit the 270 W left after the loss of psu-1 and psu-2
          measured 300 W; limit 270 W; source N+N with N = 1, 10 % headroom; rated power as printed; margin -30 W
          at after:1 after:2 after:3
        """,
    )
    same_text(
        told(*fed[:2]),
        """
        unmet supplies: all supplies hang on feed A
          measured 1 feed; limit 2 feeds; source N+N
          do: move the cords so that each feed has its own supplies
          at after:1 after:2
        """,
    )
    same_text(
        told(*fed[:3], supply(4, 100, 300)),
        """
        undetermined supplies: which feed psu-4 hang on is not known
          source N+N
          do: follow the cords and state them: --seen psu-1.feed=A
          at after:1 after:2 after:3 after:4
        """,
    )
    same_text(
        told(supply(1, 100, 300), supply(2, 100, 300), unit="fan-1"),
        """
        undetermined supplies: which feed psu-1 and psu-2 hang on is not known
          source N+N
          do: follow the cords and state them: --seen psu-1.feed=A
          at after:1 after:2; advisory
        """,
    )
    same_text(
        told(*fed[1:3], seen={"psu-2.feed": "b"}),
        """
        unmet supplies: all supplies hang on feed B
          measured 1 feed; limit 2 feeds; source N+N
          do: move the cords so that each feed has its own supplies
          at after:1 after:2
        """,
    )
    same_text(
        told(supply(1, 100, 300), supply(2, 100, 300), feeds={"a": ["psu-1"], "b": ["psu-2"]}),
        """
        met supplies: the load of 200 W fits the 270 W left after the loss of psu-1
          measured 200 W; limit 270 W; source N+N with N = 1, 10 % headroom; rated power as printed; margin 70 W
          at after:1 after:2
        """,
    )


@pytest.mark.parametrize(
    ("good", "untold", "outcome"), [(3, 0, MET), (4, 0, MET), (2, 0, UNMET), (2, 1, UNDETERMINED), (1, 1, UNMET)]
)
def test_as_many_good_supplies_as_before(good: int, untold: int, outcome: Outcome) -> None:
    before = [supply(n) for n in range(3)]
    after = [supply(n) for n in range(good)] + [supply(n + 5, condition=UNTOLD) for n in range(untold)]
    after += [supply(n, condition=FAILED) for n in range(good, 3)]
    judged = swapped(before, after, redundancy="count")
    (only,) = load.redundancy(judged.after, judged)
    assert only.outcome is outcome


def test_what_is_said_of_the_number_of_supplies() -> None:
    def told(before: Sequence[AnyReading], after: Sequence[AnyReading]) -> Iterable[Draft]:
        judged = swapped(before, after, redundancy="count")
        return load.redundancy(judged.after, judged)

    one, two = supply(1), supply(2)
    same_text(
        told([one, two], [one, two]),
        """
        met supplies: 2 good supplies, 2 needed
          measured 2; limit 2; source acceptance: count
          at after:1 after:2
        """,
    )
    same_text(
        told([one], [one]),
        """
        unmet supplies: 1 good supplies, 2 needed
          measured 1; limit 2; source acceptance: count
          at after:1
        """,
    )
    same_text(
        told([one, supply(2, condition=STANDBY)], [one]),
        """
        undetermined supplies: 1 good supplies, 2 needed; whether psu-2 is good is not known
          measured 1; limit 2; source acceptance: count
          at after:1
        """,
    )
    same_text(
        told([one, two], [supply(1, condition=UNTOLD), two]),
        """
        undetermined supplies: 1 good supplies, 2 needed; whether psu-1 is good is not known
          measured 1; limit 2; source acceptance: count
          at after:1 after:2
        """,
    )
    same_text(
        told([one, supply(2, condition=FAILED)], [one, supply(2, condition=STANDBY)]),
        """
        met supplies: 2 good supplies, 2 needed
          measured 2; limit 2; source acceptance: count
          at after:1 after:2
        """,
    )
    same_text(
        told([one, two, supply(3)], [one, two]),
        """
        undetermined supplies: 2 good supplies, 3 needed; whether psu-3 is good is not known
          measured 2; limit 3; source acceptance: count
          at after:1 after:2
        """,
    )


# ---- figures that must add up


@pytest.mark.parametrize(
    ("row", "fits"),
    [
        # Twelve volts times ten amperes, and a twentieth; what comes out is neither more nor less.
        ({"watts": 126, "vout": "12 V", "iout": "10 A"}, True),
        ({"watts": 126.4, "vout": "12 V", "iout": "10 A"}, False),
        ({"watts": 114, "vout": "12 V", "iout": "10 A"}, True),
        ({"watts": 113.9, "vout": "12 V", "iout": "10 A"}, False),
        # Two watts are let pass, and one step of the printed current.
        ({"watts": 12, "vout": "10 V", "iout": "1 A"}, True),
        ({"watts": 12.1, "vout": "10 V", "iout": "1 A"}, False),
        ({"watts": 22.6, "vout": "54 V", "iout": "0.37 A"}, True),
        ({"watts": 22.8, "vout": "-54 V", "iout": "0.37 A"}, False),
        ({"watts": 17.2, "vout": "-54 V", "iout": "0.37 A"}, False),
        # A power factor makes less of an alternating input, never more.
        ({"pin": "100 W", "vin": "230 V", "iin": "1 A"}, True),
        ({"pin": "241.5 W", "vin": "230 V", "iin": "1 A"}, True),
        ({"pin": "243 W", "vin": "230 V", "iin": "1 A"}, False),
        # What comes out is no more than what goes in, within a twentieth and two watts.
        ({"watts": 107, "pin": "100 W"}, True),
        ({"watts": 107.1, "pin": "100 W"}, False),
        # Nor much less: a third and 25 W.
        ({"watts": 40, "pin": "100 W"}, True),
        ({"watts": 39.9, "pin": "100 W"}, False),
        ({"watts": 0, "pin": "38 W"}, True),
        ({"watts": 0, "pin": "39 W"}, False),
        ({"watts": 100, "vout": "12 V"}, True),
        ({"pin": "10 W"}, True),
    ],
)
def test_watts_are_volts_times_amperes(row: dict[str, Any], fits: bool) -> None:
    judged = now(supply(1, **row))
    assert [d.outcome for d in load.adds_up(judged.after, judged)] == ([] if fits else [UNDETERMINED])


def test_what_is_said_of_figures_that_do_not_add_up() -> None:
    def told(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return load.adds_up(judged.after, judged)

    wrong: dict[str, Any] = {"vout": "12.123 V", "iout": "10.123 A"}
    same_text(
        told(Inventory(unit="psu-1"), supply(2, 12, **wrong)),
        """
        undetermined psu-2: psu-2 output does not add up: 12.123 V times 10.123 A is not 12 W
          measured 12 W; limit 122.72 W; source P = U I
          do: capture again
          at after:2; of psu-2
        """,
    )
    same_text(
        told(supply(1, pin="500 W", vin="230 V", iin="1 A")),
        """
        undetermined psu-1: psu-1 input does not add up: 230 V times 1 A is not 500 W
          measured 500 W; limit 230 W; source P = U I
          do: capture again
          at after:1; of psu-1
        """,
    )
    same_text(
        told(supply(1, 120, pin="100 W"), supply(2, 10, pin="100 W")),
        """
        undetermined psu-1: psu-1 shows 120 W out of 100 W in, which cannot be
          measured 120 W; limit 100 W; source conservation of energy
          do: capture again
          at after:1; of psu-1
        undetermined psu-2: psu-2 takes 100 W and gives only 10 W
          measured 10 W; limit 100 W; source common practice
          do: capture again
          at after:2; of psu-2
        """,
    )
    at = printed(supply(1, 1200, vout="12 V", iout="10 A"), 3, unit="psu-1", output_power="1200")
    same_text(
        told(at),
        """
        undetermined psu-1: psu-1 output does not add up: 12 V times 10 A is not 1200 W
          measured 1200 W; limit 120 W; source P = U I
          do: capture again
          at after:3[6-10]; of psu-1
        """,
    )
    same_text(
        told(supply(1, 12, vout="12 V"), supply(1, 12, **wrong)),
        """
        undetermined psu-1: psu-1 output does not add up: 12.123 V times 10.123 A is not 12 W
          measured 12 W; limit 122.72 W; source P = U I
          do: capture again
          at after:2; of psu-1
        """,
    )


# ---- about the load that it was


@pytest.mark.parametrize(("after", "outcome"), [(200, MET), (199.9, UNDETERMINED), (800, MET), (800.1, UNDETERMINED)])
def test_a_swap_neither_halves_nor_doubles_the_load(after: float, outcome: Outcome) -> None:
    (only,) = load.load_steady(swapped([supply(1, 400)], [supply(1, after)]))
    assert only.outcome is outcome


def test_what_is_said_of_a_load_that_changed() -> None:
    same_text(
        load.load_steady(swapped([supply(1, 400.12345)], [supply(1, 410.98765)])),
        """
        met supplies: the load is 410.988 W and was 400.123 W
          measured 410.988 W; limit 400.123 W; source within a factor of 2, common practice
          at after:1
        """,
    )
    same_text(
        load.load_steady(swapped([supply(1, 400)], [supply(1, 40), supply(2, 1)])),
        """
        undetermined supplies: the load is 41 W and was 400 W
          measured 41 W; limit 400 W; source within a factor of 2, common practice
          do: capture again, and find out what changed if it stays so
          at after:1 after:2
        """,
    )
    same_text(load.load_steady(swapped([supply(1, 0)], [supply(1, 40)])), "")
    same_text(
        load.load_steady(swapped([supply(1, 0.5)], [supply(1, 0.5)])),
        """
        met supplies: the load is 0.5 W and was 0.5 W
          measured 0.5 W; limit 0.5 W; source within a factor of 2, common practice
          at after:1
        """,
    )
    same_text(load.load_steady(swapped([supply(1)], [supply(1, 40)])), "")
    same_text(load.load_steady(swapped([supply(1, 40)], [supply(1)])), "")
    stated: list[AnyReading] = [supply(1), Device(name="load", value=q("350 W"))]
    same_text(
        load.load_steady(swapped(stated, stated)),
        """
        met supplies: the load is 350 W and was 350 W
          measured 350 W; limit 350 W; source within a factor of 2, common practice
          at after:2
        """,
    )


# ---- one part, one rating


@pytest.mark.parametrize(("rated", "fits"), [(900, True), (900.1, False), (400, True), (399.9, False)])
def test_within_half_as_much_again(rated: float, fits: bool) -> None:
    judged = now(supply(1, rated=600, part_number="HX"), supply(2, rated=rated, part_number="HX"))
    assert (list(load.rated_alike(judged.after, judged)) == []) is fits


def test_what_is_said_of_two_ratings_of_one_part() -> None:
    def told(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return load.rated_alike(judged.after, judged)

    rows = [supply(n, rated=w, part_number="HX") for n, w in ((1, 600), (2, 60), (3, 650))]
    same_text(
        told(*rows),
        """
        undetermined psu-2: psu-2 and psu-3 are both part HX, but rated 60 W and 650 W
          measured 60 W; limit 650 W; source one part, one rating
          do: capture again
          at after:2 after:3
        """,
    )
    same_text(told(rows[0], supply(2, rated=60, part_number="HY")), "")
    same_text(told(rows[0], supply(2, rated=60, part_number="HX", condition=ABSENT)), "")
    same_text(told(rows[0], supply(2, rated=60), supply(3, part_number="HX")), "")
    same_text(
        told(rows[0], printed(rows[1], 8, unit="psu-2", capacity="60")),
        """
        undetermined psu-2: psu-2 and psu-1 are both part HX, but rated 60 W and 600 W
          measured 60 W; limit 600 W; source one part, one rating
          do: capture again
          at after:8[6-8] after:1
        """,
    )


# ---- efficiency


@pytest.mark.parametrize(
    ("out", "rated", "outcomes"),
    [
        (101, 600, [UNDETERMINED]),
        (100, 600, []),
        (80, 400, []),
        (79, 395, [UNDETERMINED]),
        (79, 396, []),
        (79, 79, [UNDETERMINED]),
        (79, 78, []),
        (79, None, []),
    ],
)
def test_out_of_a_hundred_watts(out: float, rated: float | None, outcomes: list[Outcome]) -> None:
    """80 PLUS, lowest level: four fifths, from a fifth of the load on."""
    judged = now(supply(1, out, rated, pin="100 W"))
    assert [d.outcome for d in load.efficiency(judged.after, judged)] == outcomes


def test_what_is_said_of_efficiency() -> None:
    def told(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return load.efficiency(judged.after, judged)

    same_text(
        told(supply(1, 123.45678, pin="100 W"), supply(2, 50.12345, 100, pin="100 W")),
        """
        undetermined psu-1: psu-1 shows 123.457 W out of 100 W in, which cannot be
          measured 123.46 %; limit 100 %; source conservation of energy
          at after:1; of psu-1
        undetermined psu-2: psu-2 turns only 50.12 % of its input into output at 50% load
          measured 50.12 %; limit 80 %; source 80 PLUS, lowest level
          at after:2; of psu-2
        """,
    )
    same_text(
        told(supply(1, 5, pin="0 W"), supply(2, 5), supply(3, pin="5 W"), supply(4, 1.5, pin="1 W")),
        """
        undetermined psu-4: psu-4 shows 1.5 W out of 1 W in, which cannot be
          measured 150 %; limit 100 %; source conservation of energy
          at after:4; of psu-4
        """,
    )
    same_text(
        told(supply(1, 0.6, pin="0.5 W")),
        """
        undetermined psu-1: psu-1 shows 0.6 W out of 0.5 W in, which cannot be
          measured 120 %; limit 100 %; source conservation of energy
          at after:1; of psu-1
        """,
    )


# ---- the device's own limits


def test_only_the_quantity_in_the_unit_of_the_limits_is_meant() -> None:
    def told(*rows: AnyReading | Sighting) -> Iterable[Draft]:
        judged = now(*rows)
        return power.limits(judged.after, judged)

    same_text(
        told(supply(1, 100, vin="230 V", high_warning=q("250 V"))),
        """
        met psu-1: psu-1 reads 230 V, 20 V from its limit of 250 V
          measured 230 V; limit 250 V; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 20 V
          at after:1
        """,
    )
    # Two voltages: which of them the limits are about is not told.
    same_text(
        told(supply(1, vin="230 V", vout="12 V", high_warning=q("250 V"))),
        """
        undetermined psu-1: psu-1 has limits but no reading
          source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading)
          at after:1; of psu-1
        """,
    )
    same_text(
        told(supply(1, vin="250 V", high_warning=q("250 V"))),
        """
        unmet psu-1: psu-1 reads 250 V, at or above its warning limit of 250 V
          measured 250 V; limit 250 V; source the device's own limits; equality trips (IPMI v2.0, Get Sensor Reading); margin 0 V
          at after:1; of psu-1
        """,
    )
