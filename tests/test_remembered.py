"""What is remembered of earlier lines, tables and texts changes nothing that is read."""

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consolecheck.archive.again import Remembered
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.held import read_plainly
from consolecheck.reading.captured import Split, begins_with_prompt, kinds_of, split
from consolecheck.reading.memory import Room
from consolecheck.reading.reader import _reader, forget
from consolecheck.reading.screen import CleanText, clean
from consolecheck.records.readings import Snapshot

CASES = {f"{case.dialect_name}/{case.name}": case for case in cases_of(shipped("fixtures"))}
KNOWN = {dialect.name: dialect for dialect in dialects()}


def all_of(snapshot: Snapshot) -> tuple[Any, ...]:
    """Everything of a snapshot as plain values, with where each field stood."""
    return (
        *snapshot._replace(sightings=()),
        [
            (s.reading, s.table, s.ended, s.row.lines, s.row.values, [s.span(f) for f in s.row.fields])
            for s in snapshot.sightings
        ],
    )


@pytest.mark.parametrize("name", CASES)
def test_the_second_reading_is_the_first(name: str) -> None:
    case = CASES[name]
    known = KNOWN[case.dialect_name]
    for side in ("before", "after"):
        raw = case.text(side)
        forget(known)
        fresh = all_of(read_plainly(raw, side, known))
        assert fresh == all_of(read_plainly(raw, side, known))
        remembered = Remembered()
        assert [fresh, fresh] == [all_of(remembered(raw, side, known)) for _ in range(2)]
        assert (2, 1) == (remembered.asked, remembered.parsed)


@given(data=st.data())
@settings(deadline=None, max_examples=150)
def test_a_damaged_text_is_read_the_same_after_others(data: st.DataObject) -> None:
    """Lines cut, doubled, dropped and altered, and what was read before is whatever came before."""
    case = CASES[data.draw(st.sampled_from(sorted(CASES)))]
    known = KNOWN[case.dialect_name]
    lines = case.text(data.draw(st.sampled_from(["before", "after"]))).split(b"\n")
    for _ in range(data.draw(st.integers(0, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        deed = data.draw(st.sampled_from(["cut", "double", "drop", "blank", "shift"]))
        old = lines[at]
        lines[at : at + 1] = {
            "cut": [old[: len(old) // 2]],
            "double": [old, old],
            "drop": [],
            "blank": [b""],
            "shift": [b" " + old],
        }[deed]
        lines = lines or [b""]
    raw = b"\n".join(lines)
    after_others = all_of(read_plainly(raw, "made", known))
    forget(known)
    assert all_of(read_plainly(raw, "made", known)) == after_others


def test_few_texts_are_remembered_however_many_come() -> None:
    case = CASES["wexcombe/psu-2-replaced"]
    remembered = Remembered(most=3)
    for number in (*range(5), 4, 3, 2, 0):
        remembered(case.text("after") + b"\n" * number, "made", KNOWN["wexcombe"])
    assert (9, 6) == (remembered.asked, remembered.parsed)


def test_what_is_remembered_is_bounded_over_all_tables_together() -> None:
    """However many dialects there are: one entry too many empties all, and what is filled then counts anew."""
    room = Room(most=5)
    one: dict[int, int] = {}
    two: set[int] = set()
    for number in range(23):
        kept: Any = one if number % 3 else two
        room.one_more(kept)
        one.update({number: number}) if number % 3 else two.add(number)
        assert len(one) + len(two) <= 5
    assert 23 % 5 == len(one) + len(two)


@pytest.mark.parametrize("end", [b"END POWER", b"tern-04 ~>"])
def test_a_part_of_a_text_that_is_long_by_empty_lines_alone_is_not_remembered(end: bytes) -> None:
    known = KNOWN["wexcombe"]
    forget(known)
    read_plainly(CASES["wexcombe/psu-2-replaced"].text("after").replace(end, b"\r \n" * 20_000 + end), "made", known)
    kept = _reader(known)
    lines = [part for key in kept.parts for part in key if isinstance(part, tuple)]
    assert lines
    assert all(len(some) < 1000 for some in (*lines, *(section.lines for section in kept.sections)))


@pytest.mark.parametrize("name", CASES)
def test_a_text_split_at_its_prompts_is_split_as_a_whole(name: str) -> None:
    """Reading splits a text between two prompts at a time, so that only what is new is looked at."""
    case = CASES[name]
    known = KNOWN[case.dialect_name]
    for side in ("before", "after"):
        text = clean(case.text(side))
        kinds = kinds_of(text, known)
        places = sorted({0, *(at for at, kind in enumerate(kinds) if begins_with_prompt(kind)), len(kinds)})
        together = Split([], [], [], {}, [])
        for begin, end in pairwise(places):
            part = CleanText(text.part(begin, end), text.ends_mid_line, text.ends_at_pager)
            found = split(part, known, prompt_follows=end < len(kinds))
            for whole, piece in zip(together, found, strict=True):
                if isinstance(whole, dict):
                    whole.update({host: at for host, at in found.hosts.items() if host not in whole})
                else:
                    whole.extend(piece)
        assert split(text, known) == together
