"""The template runner against the library's own parse, and the line numbers of what it reads."""

import io

import pytest
import textfsm
from hypothesis import given, settings
from hypothesis import strategies as st

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.captured import split
from consolecheck.reading.screen import clean
from consolecheck.reading.template import Template
from consolecheck.records.text import Line

CASES = cases_of(shipped("fixtures"))


def plain(template: str, text: str) -> list[dict[str, str]]:
    """The library's parse, with the catch-all errors taken out so that it passes over what we hand back."""
    lenient = "\n".join(line for line in template.split("\n") if line.strip() != "^. -> Error")
    machine = textfsm.TextFSM(io.StringIO(lenient))
    return [dict(zip((h.lower() for h in machine.header), row, strict=True)) for row in machine.ParseText(text)]


def ours(template: str, lines: list[str]) -> list[dict[str, str]]:
    compiled = Template(template)
    rows = compiled.rows([Line(n, text) for n, text in enumerate(lines, 1)])[0]
    return [{f: row.values.get(f) or "" for f in compiled.fields} for row in rows]


def tables(dialect_name: str) -> list[tuple[str, list[str]]]:
    dialect = next(d for d in dialects() if d.name == dialect_name)
    return [
        (dialect._texts[dialect.manifest.tables[section.table].template], [line.text for line in section.lines])
        for case in CASES
        if case.dialect_name == dialect_name
        for side in ("before", "after")
        for section in split(clean(case.text(side)), dialect).sections
        if section.table
    ]


@pytest.mark.parametrize("dialect", [d.name for d in dialects()])
def test_tables_come_out_as_the_library_gives_them(dialect: str) -> None:
    sampled = tables(dialect)
    assert sampled
    for template, lines in sampled:
        assert plain(template, "\n".join(lines)) == ours(template, lines)


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_damaged_tables_come_out_as_the_library_gives_them(data: st.DataObject) -> None:
    template, lines = data.draw(st.sampled_from(tables("wexcombe")[:14] + tables("ipmitool")[:12]))
    lines = list(lines)
    for _ in range(data.draw(st.integers(1, 4))):
        act = data.draw(st.sampled_from(["drop", "double", "swap", "edit", "blank"]))
        at = data.draw(st.integers(0, len(lines) - 1))
        if act == "drop" and len(lines) > 1:
            del lines[at]
        elif act == "double":
            lines.insert(at, lines[at])
        elif act == "swap":
            lines[at], lines[-1] = lines[-1], lines[at]
        elif act == "blank":
            lines.insert(at, "")
        elif lines[at]:
            column = data.draw(st.integers(0, len(lines[at]) - 1))
            lines[at] = lines[at][:column] + data.draw(st.sampled_from("0 x|-")) + lines[at][column + 1 :]
    assert plain(template, "\n".join(lines)) == ours(template, lines)


BLOCKS = """Value Filldown CHASSIS (\\w+)
Value Required SLOT (\\d+)
Value NOTE (.*?)

Start
  ^chassis ${CHASSIS}$$
  ^slot ${SLOT}$$ -> Continue
  ^slot \\d+$$ -> Note
  ^. -> Error

Note
  ^note ${NOTE}$$ -> Record Start
  ^forget$$ -> Clear Start
  ^forget all$$ -> Clearall Start
  ^. -> Error

EOF
"""


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            ["chassis a", "chassis b", "slot 1", "slot 2", "note x", "note ", "forget", "forget all", "", "?"]
        )
    )
)
def test_states_filldown_required_continue_and_clear_agree_with_the_library(lines: list[str]) -> None:
    assert plain(BLOCKS, "\n".join(lines)) == ours(BLOCKS, lines)


def test_every_record_knows_its_lines_and_columns() -> None:
    rows, unread, last = Template(BLOCKS).rows(
        [Line(3, "chassis a"), Line(4, "slot 1"), Line(9, "note here"), Line(12, "slot 2"), Line(13, "note there")]
    )
    assert [(3, 4, 9), (3, 12, 13)] == [row.lines for row in rows]
    assert (9, 5, 9) == rows[0].span("note")
    assert (3, 8, 9) == rows[1].span("chassis")
    assert rows[0].span("nothing") is None
    assert [] == unread
    assert last == 13


def test_a_carried_value_that_another_replaced_leaves_no_line_behind() -> None:
    lines = ("chassis a", "slot 1", "note x", "chassis b", "slot 2", "note y")
    rows, _, _ = Template(BLOCKS).rows([Line(n, text) for n, text in enumerate(lines, 1)])
    assert [("a", (1, 2, 3)), ("b", (4, 5, 6))] == [(row.values["chassis"], row.lines) for row in rows]


def test_what_no_rule_claims_comes_back_and_the_rest_is_still_read() -> None:
    rows, unread, _ = Template(BLOCKS).rows(
        [Line(1, "slot 1"), Line(2, "what is this"), Line(3, "note x"), Line(4, "   ")]
    )
    assert [Line(2, "what is this")] == unread
    assert len(rows) == 1


def test_a_line_in_doubt_is_read_by_nobody() -> None:
    rows, unread, _ = Template(BLOCKS).rows([Line(1, "slot 1"), Line(2, "note x", "the cursor moved to other lines")])
    assert ([], [2]) == (rows, [line.number for line in unread])
