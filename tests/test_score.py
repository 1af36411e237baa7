"""Readings against labels made by hand: every dialect whole, the inferring reader within its goals where it was taught."""

import sys
from pathlib import Path

import pytest
from labelled_texts import HERE, Label, Labelled, Score, captures, labels_in, score, texts_of

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
from score import by_dialect, by_inference, scored

FOUND, RIGHT = 0.95, 0.995
"""What the inferring reader is to reach: shares of labels found, and of reported readings that are right."""

CAPTURES = captures()
no_captures = pytest.mark.skipif(not CAPTURES, reason="the shared captures are not beside the project")


@no_captures
@pytest.mark.parametrize("labelled", CAPTURES, ids=lambda x: x.name)
def test_a_dialect_reads_every_capture_wholly_and_rightly(labelled: Labelled) -> None:
    total, unread = scored([labelled], by_dialect)
    assert total.differences == ()
    assert (total.found, total.right, unread) == (total.labels, total.reported, 0)


@no_captures
def test_the_inferring_reader_reaches_its_goals_on_the_captures() -> None:
    total, _ = scored(CAPTURES, by_inference)
    assert total.right_share >= RIGHT, "\n".join(total.differences)
    assert total.found_share >= FOUND, "\n".join(total.differences)


def test_and_on_the_texts_that_taught_it() -> None:
    texts = texts_of(HERE / "invented")
    assert texts
    total, _ = scored(texts, by_inference)
    assert total.right_share >= RIGHT, "\n".join(total.differences)
    assert total.found_share >= FOUND, "\n".join(total.differences)


def test_a_score_tells_what_differs(tmp_path: Path) -> None:
    text = tmp_path / "small.txt"
    text.write_text("PSU 1  OK   12.1 V\nPSU 2  OK   12.0 V\n")
    labels = tmp_path / "small.labels"
    labels.write_text(
        "1 | power_supply | psu-1 | ok | output_voltage=12.1 V\n2 | power_supply | psu-2 | failed | output_voltage=12 V\n"
    )
    kinds, said, only = labels_in(labels)
    assert (kinds[0], only) == ("power_supply", False)
    assert said[1] == Label(
        frozenset({2}), "power_supply", ("psu-2",), ("failed",), {"output_voltage": (12.0, "V")}, {}
    )
    assert score(Labelled("small", text, kinds, said), ()) == Score(
        2,
        0,
        0,
        0,
        ("small:1: no reading for power_supply ('psu-1',)", "small:2: no reading for power_supply ('psu-2',)"),
    )
