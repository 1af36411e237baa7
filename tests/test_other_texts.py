"""Texts about other things give no power supply, no fan and no temperature, whatever words stand in them."""

from pathlib import Path

import pytest

from consolecheck.files.shelf import dialects
from consolecheck.reading.reader import NotRecognised, read_text, read_unknown

TEXTS = sorted((Path(__file__).parent / "other_texts").glob("*.txt"))
ABOUT = ("power_supply", "fan", "temperature")


@pytest.mark.parametrize("text", TEXTS, ids=lambda t: t.stem)
def test_a_text_about_other_things_gives_no_reading(text: Path) -> None:
    snapshot = read_unknown(text.read_bytes(), text.name)
    assert [s.reading for s in snapshot.sightings if s.reading.kind in ABOUT] == []


@pytest.mark.parametrize("text", TEXTS, ids=lambda t: t.stem)
def test_nor_does_any_dialect_take_it_for_its_own(text: Path) -> None:
    try:
        snapshot = read_text(text.read_bytes(), text.name, dialects())
    except NotRecognised:
        return
    assert [s.reading for s in snapshot.sightings if s.reading.kind in ABOUT] == []


def test_there_are_such_texts() -> None:
    assert len(TEXTS) > 60
