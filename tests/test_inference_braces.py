"""State printed as a tree in braces, of a device that no dialect knows: a case per fault."""

import re

import pytest

from consolecheck.reading.reader import read_unknown
from consolecheck.records.readings import Condition, Snapshot

TREE = """\
environment {
    power-supplies {
        psu 1 {
            oper-status up;
            serial-number TRN7741020;
            input-volts 228.7;
        }
        psu 2 {
            oper-status down;
            fault "no mains";
            input-volts 0.0;
        }
    }
    fans {
        fan front-1 { oper-status up; rpm 4020; }
        fan front-2 { oper-status down; rpm 0; }
    }
    temperatures {
        sensor asic { celsius 61.0; high-alarm 90.0; }
    }
}
"""


def read(tree: str) -> Snapshot:
    return read_unknown(f"keeper@auk-02> show environment | format tree\n{tree}keeper@auk-02> \n".encode(), "text")


def told(tree: str) -> dict[str, tuple[Condition | None, dict[str, str]]]:
    return {
        r.unit or r.name or "": (r.condition, {n: f"{q.value:g} {q.unit}" for n, q in r.quantities().items()})
        for r in read(tree).readings
    }


RIGHT = {
    "psu-1": (Condition.OK, {"input_voltage": "228.7 V"}),
    "psu-2": (Condition.NO_INPUT, {"input_voltage": "0 V"}),
    "front-1": (Condition.OK, {"speed": "4020 rpm"}),
    "front-2": (Condition.FAILED, {"speed": "0 rpm"}),
    "asic": (None, {"value": "61 Cel", "high_critical": "90 Cel"}),
}


def test_a_tree_in_braces_is_read_and_no_line_is_left() -> None:
    assert told(TREE) == RIGHT
    assert not read(TREE).unread


def test_without_semicolons_it_reads_the_same() -> None:
    plain = re.sub(r"; ?", "\n", TREE).replace("{ ", "{\n")
    assert told(plain) == RIGHT


def test_settings_in_the_same_form_are_no_state() -> None:
    settings = (
        "chassis {\n  fan 1 {\n    speed 5000;\n    state enabled;\n  }\n  alarm {\n    temperature 70;\n  }\n}\n"
    )
    assert told(settings) == {}
    assert read(settings).unread


@pytest.mark.parametrize(
    ("was", "now", "lost"),
    [
        ("    }\n}\n", "    }\n", RIGHT.keys()),
        ("serial-number TRN7741020;", 'serial-number "TRN7741020;', {"psu-1", "asic"}),
        ("        psu 2 {", "        psu (2) {", {"psu-2", "asic"}),
        ("oper-status up;", "oper-status: up;", {"psu-1", "asic"}),
        ("oper-status up;", "oper-\x1b]status up;", {"psu-1", "asic"}),
    ],
    ids=["cut", "a quote that goes on", "a name that is none", "a key that is none", "a line in doubt"],
)
def test_what_is_no_whole_tree_is_not_read_as_one(was: str, now: str, lost: set[str]) -> None:
    # The braces within it that are whole are read where they tell an operational state by themselves.
    assert was in TREE
    assert told(TREE.replace(was, now, 1)) == {name: row for name, row in RIGHT.items() if name not in lost}


def test_a_part_without_a_figure_or_state_is_no_reading() -> None:
    assert set(told(TREE.replace("{ celsius 61.0; high-alarm 90.0; }", "{ }"))) == set(RIGHT) - {"asic"}
