"""One text in many shapes: with prompts and echoes, with echoes alone, or bare tables one after the other."""

import pytest

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.readings import Snapshot

CASE = next(c for c in cases_of(shipped("fixtures"), "wexcombe") if c.name == "psu-2-replaced")
LINES = CASE.text("after").decode().split("\r\n")


def read(lines: list[str], ending: str = "\n") -> Snapshot:
    return read_text(ending.join(lines).encode(), "after.txt", dialects())


WHOLE = read(LINES)


def test_prompts_and_echoes() -> None:
    assert {"tern-04": 1} == WHOLE.hosts
    assert 35 == len(WHOLE.sightings)
    assert () == WHOLE.unread


def test_echoes_without_prompts() -> None:
    bare = read([line.removeprefix("tern-04 ~> ") for line in LINES if line != "tern-04 ~>"])
    assert WHOLE.readings == bare.readings
    assert () == bare.unread


def test_bare_tables_one_after_the_other() -> None:
    bare = read([line for line in LINES if not line.startswith("tern-04 ~>")])
    assert WHOLE.readings == bare.readings
    assert () == bare.unread


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r\r\n", "\n\r", "\r"])
def test_line_ends_make_no_difference(ending: str) -> None:
    assert WHOLE.readings == read(LINES, ending).readings


def test_line_numbers_are_those_of_the_untouched_file() -> None:
    padded = read(["", *LINES])
    assert [tuple(n + 1 for n in s.lines) for s in WHOLE.sightings] == [s.lines for s in padded.sightings]
    for sighting in WHOLE.sightings:
        for number in sighting.lines:
            line = LINES[number - 1]
            name = sighting.reading.serial if hasattr(sighting.reading, "serial") else None
            assert name is None or name in line


def test_words_in_front_of_the_text_are_unread_not_ignored() -> None:
    """A sentence pasted with the text may be a table whose header was lost, for all the reader knows."""
    assert [1] == [u.number for u in read(["Hi, here is the output:", *LINES]).unread]


def test_output_of_an_unlisted_command_is_passed_over_and_said() -> None:
    more = read(["tern-04 ~> tell tides", "high water 06:12", *LINES])
    assert WHOLE.readings == more.readings
    assert () == more.unread
    assert ["high water 06:12"] == [p.text for p in more.passed_over]


def test_a_refused_command_makes_its_table_incomplete() -> None:
    at = LINES.index("tern-04 ~> tell heat")
    refused = read([*LINES[: at + 1], "?? not now", *LINES[at + 11 :]])
    assert ["error reply of the device"] == [p.reason for p in refused.passed_over]
    assert any(t.table == "heat" and t.cut for t in refused.tables)


def test_text_of_no_known_device_is_refused() -> None:
    with pytest.raises(NotRecognised):
        read_text(b"the quick brown fox\n" * 20, "x", dialects())


def test_a_table_that_states_its_rows_is_held_to_it() -> None:
    at = LINES.index("FAN BAYS")
    short = read([*LINES[: at + 4], *LINES[at + 5 :]])
    assert any(t.table == "fans" and "states 6 rows and 5 were read" in t.cut for t in short.tables)


def test_a_title_in_its_own_ruler_leaves_the_ruler_above_it_to_the_table_that_it_closes() -> None:
    lines = next(c for c in cases_of(shipped("fixtures"), "ciena_saos10")).text("before").decode().split("\n")
    bare = read([line for line in lines if not line.startswith("tern-12")])
    assert ["platform", "components", "modules", "report", "state"] == [t.table for t in bare.tables]
    for table, after in zip(bare.tables, bare.tables[1:], strict=False):
        closing, title = (
            [line for line in lines if not line.startswith("tern-12")][n - 1]
            for n in (table.last_line, after.first_line)
        )
        assert (set("+-"), True) == (set(closing), any(c.isalpha() for c in title))
    assert () == bare.unread
