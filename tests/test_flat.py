"""JSON as lines: the same values whatever the order or the white space, each on its raw line; broken JSON not at all."""

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolecheck.reading.dialect import Dialect
from consolecheck.reading.flat import DEEPEST, MOST_VALUES, flattened
from consolecheck.reading.reader import read_text
from consolecheck.reading.screen import clean
from consolecheck.records.readings import Condition, Snapshot
from consolecheck.records.text import Line

MANIFEST = """
title = "tide"
source = "made for this test: the layout is invented"
[[evidence]]
text = '"tide-rack"'
weight = 5
[console]
prompt = '\\[?(?P<host>[\\w.-]+) ?~?\\]?[$#] ?'
refusals = ['no route to ']
log = ['\\[klog\\] ']
[[commands]]
send = "tide show"
tables = ["rack"]
[tables.rack]
template = "rack.textfsm"
layout = "json"
begins = ['[\\[{]']
kind = "fan"
unit = "fan-{slot}"
units = { speed = "rpm" }
"""
TEMPLATE = """Value SLOT (\\d+)
Value SPEED (-?\\d+(?:\\.\\d+)?)
Value STATUS (\\w+)

Start
  ^(?:/tide-rack)?/fans\\[\\d+\\]/slot: ${SLOT}$$
  ^(?:/tide-rack)?/fans\\[\\d+\\]/speed: ${SPEED}$$
  ^(?:/tide-rack)?/fans\\[\\d+\\]/state/word: "${STATUS}"$$
  ^(?:/tide-rack)?/fans\\[\\d+\\] end$$ -> Record
  ^(?:/tide-rack)?/fans\\[\\d+\\]/state end$$
  ^/(?:tide-rack)?(?:: \\w+| end)$$
  ^. -> Error
"""
TIDE = Dialect("tide", MANIFEST, {"rack.textfsm": TEMPLATE})
FANS = [{"slot": n, "speed": 9000 + n, "state": {"word": "ok"}} for n in (1, 2, 3)]
RACK = {"tide-rack": {"fans": FANS}}


def lines(text: str) -> list[Line]:
    return clean(text.encode()).lines


def told(text: str) -> list[str]:
    flat = flattened(lines(text))
    assert [] == flat.unread
    return [line.text for line in flat.lines]


def seen(text: str) -> Snapshot:
    return read_text(text.encode(), "rack.json", (TIDE,), TIDE)


def test_the_manual_s_example() -> None:
    assert ['/Fans[0]/Name: "Fan 3"', "/Fans[0]/Reading: 9400", "/Fans[0] end", "/ end"] == told(
        '{"Fans": [{"Reading": 9400, "Name": "Fan 3"}]}'
    )


def test_numbers_stay_as_they_were_written() -> None:
    assert ["/a: 12.0340", "/b: -0.10", "/c: 1E3", "/d: 1000000000000000000001", "/ end"] == told(
        '{"a": 12.0340, "b": -0.10, "c": 1E3, "d": 1000000000000000000001}'
    )


def test_a_number_in_quotes_is_no_number() -> None:
    assert ['/a: "12"', "/ end"] == told('{"a": "12"}')


def test_a_key_cannot_pretend_to_be_a_path() -> None:
    found = told('{"a/b": 1, "c[0]": 2, "d: 3": 4, "x\\u202e": 5}')
    assert {'/"a/b": 1', '/"c[0]": 2', '/"d: 3": 4', '/"x\\u202e": 5', "/ end"} == set(found)


def test_control_characters_stay_escaped() -> None:
    assert ['/a: "x\\u001b[2J\\u007f\\n"', "/ end"] == told('{"a": "x\\u001b[2J\\u007f\\n"}')


def test_empty_things_are_told() -> None:
    assert ["/a: []", "/b: {}", '/c: ""', "/d: null", "/ end"] == told('{"a": [], "b": {}, "c": "", "d": null}')


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('{"a": 1, "a": 2}', "stands twice"),
        ('{"a": 1, "\\u0061": 2}', "stands twice"),
        ('{"a": 1', "ends within"),
        ('{"a": "1', "not JSON"),
        ('{"a": 1,}', "not JSON"),
        ('{"a": 01}', "not JSON"),
        ('{"a": NaN}', "not JSON"),
        ('{"a": 1.}', "not JSON"),
        ('{"a": +1}', "not JSON"),
        ('{"a": 1 "b": 2}', "not JSON"),
        ('{"a": [1 2]}', "not JSON"),
        ('{"a": "x\ny"}', "not JSON"),
        ("{'a': 1}", "not JSON"),
        ('{"a": tru}', "not JSON"),
        ('{"a": 1} trailing words', "not JSON"),
        ('{"a": 1}}', "not JSON"),
        ("7", "not JSON"),
        ('"a": 1', "not JSON"),
        ("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), "nested deeper"),
        ('{"a": "' + "x" * 2000 + '"}', "longer than"),
        ("[" + "0," * MOST_VALUES + "0]", "holds more than"),
    ],
)
def test_what_is_not_whole_json_is_unread_with_the_reason(text: str, why: str) -> None:
    flat = flattened(lines(text))
    assert why in flat.unread[0].doubt
    assert not [line for line in flat.lines if line.number >= flat.unread[0].number and flat.documents == 0]


def test_depth_is_bounded_without_a_traceback() -> None:
    for text in ("[" * 500_000, '{"a":' * 200_000):
        assert "nested deeper" in flattened([Line(1, text)]).unread[0].doubt


def test_a_line_in_doubt_spoils_the_whole_document() -> None:
    raw = lines(json.dumps(RACK, indent=2))
    raw[4] = raw[4]._replace(doubt="text was written over: x")
    flat = flattened(raw)
    assert [] == flat.lines
    assert "written over" in flat.unread[0].doubt


def test_a_document_on_one_long_line_is_read() -> None:
    many = {"tide-rack": {"fans": [{"slot": n, "speed": 9000} for n in range(1, 400)]}}
    assert 399 == len(seen(json.dumps(many) + "\n").sightings)


LEAVES = (
    st.none() | st.booleans() | st.integers() | st.text(max_size=12) | st.floats(allow_nan=False, allow_infinity=False)
)
DOCUMENTS = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=25,
).filter(lambda made: isinstance(made, dict | list))


def leaves(value: Any) -> list[Any]:
    if isinstance(value, dict) and value:
        return [leaf for member in value.values() for leaf in leaves(member)]
    if isinstance(value, list) and value:
        return [leaf for member in value for leaf in leaves(member)]
    return [value]


def shuffled(value: Any, turned: bool) -> Any:
    if isinstance(value, dict):
        items = list(value.items())
        return {k: shuffled(v, turned) for k, v in (reversed(items) if turned else items)}
    if isinstance(value, list):
        return [shuffled(v, turned) for v in value]
    return value


@given(DOCUMENTS)
def test_every_value_is_told_once_with_its_raw_line_and_columns(document: Any) -> None:
    raw = lines(json.dumps(document, indent=1))
    flat = flattened(raw)
    assert [] == flat.unread
    scalars = [line for line in flat.lines if not line.text.endswith(" end") or ": " in line.text]
    values = [
        json.loads(line.text.rsplit(": ", 1)[-1]) for line in scalars if line.text.rsplit(": ", 1)[-1][0] not in '"'
    ]
    expected = [leaf for leaf in leaves(document) if not isinstance(leaf, str)]
    assert sorted(map(repr, expected)) == sorted(map(repr, values))
    by_number = {line.number: line.text for line in raw}
    for line in scalars:
        place = flat.places[line.number, line.text]
        if place is not None and not line.text.endswith('"'):
            assert line.text.endswith(": " + by_number[line.number][slice(*place)])


@given(DOCUMENTS)
def test_neither_order_nor_white_space_changes_what_is_told(document: Any) -> None:
    plain = told(json.dumps(document))
    assert plain == told(json.dumps(document, indent=4))
    assert plain == told(json.dumps(shuffled(document, True), separators=(",", ":"), indent=0))


@given(DOCUMENTS, st.data())
def test_a_document_cut_anywhere_tells_nothing(document: Any, data: st.DataObject) -> None:
    whole = json.dumps(document, indent=1)
    cut = whole[: data.draw(st.integers(1, len(whole) - 1))]
    flat = flattened([Line(number, text) for number, text in enumerate(cut.split("\n"), 1)])
    assert [] == flat.lines
    assert flat.unread


@given(DOCUMENTS, st.data())
def test_a_document_with_one_character_changed_is_refused_or_is_other_json(document: Any, data: st.DataObject) -> None:
    whole = json.dumps(document, indent=1)
    at = data.draw(st.integers(0, len(whole) - 1))
    changed = whole[:at] + data.draw(st.sampled_from('x{}[]",:0 -')) + whole[at + 1 :]
    flat = flattened([Line(number, text) for number, text in enumerate(changed.split("\n"), 1)])
    try:
        other = json.loads(changed, parse_constant=lambda _: pytest.fail("never accepted"))
    except ValueError:
        assert flat.unread
    else:
        if not flat.unread:
            assert valued(told(json.dumps(other))) == valued([line.text for line in flat.lines])


def valued(told: list[str]) -> list[tuple[str, Any]]:
    """Paths with their values: 1e16 and 1E+16 are one number in two spellings."""
    return [
        (path, json.loads(token)) if path else (token, None) for path, _, token in (t.rpartition(": ") for t in told)
    ]


@given(st.text(max_size=200))
def test_any_text_is_told_or_unread(text: str) -> None:
    flat = flattened([Line(number, line) for number, line in enumerate(text.split("\n"), 1)])
    assert flat.documents or flat.unread or not text.strip(" \t\r\n")


@pytest.mark.parametrize("before", ["", "tern-04$ tide show\n", "tide show\n"])
@pytest.mark.parametrize("after", ["", "\n", "tern-04$ ", "\ntern-04$ ", "\ntern-04$ exit\n", "[tern-04 ~]$ exit\n"])
@pytest.mark.parametrize("indent", [None, 2])
def test_a_document_between_prompts(before: str, after: str, indent: int | None) -> None:
    snapshot = seen(before + json.dumps(RACK, indent=indent) + after)
    assert [] == [*snapshot.unread, *snapshot.passed_over]
    assert ["fan-1", "fan-2", "fan-3"] == [r.unit for r in snapshot.readings]
    assert [Condition.OK] * 3 == [r.condition for r in snapshot.readings]
    assert [(True, "")] == [(t.ended, t.cut) for t in snapshot.tables]
    assert ({"tern-04": snapshot.hosts["tern-04"]} if "tern-04" in before + after else {}) == dict(snapshot.hosts)


def test_spans_point_into_the_raw_text() -> None:
    text = "tern-04$ tide show\n" + json.dumps(RACK, indent=2) + "\n"
    raw = text.split("\n")
    for sighting in seen(text).sightings:
        reading = sighting.reading
        span = sighting.span("speed")
        assert span is not None
        assert Decimal(str(reading.given("speed").value)) == Decimal(raw[span.line - 1][span.start : span.end])
        word = sighting.span("status")
        assert word is not None
        assert "ok" == raw[word.line - 1][word.start : word.end]
        assert sorted(sighting.lines) == list(sighting.lines)
        assert {span.line, word.line} < set(sighting.lines)


def test_one_document_a_line() -> None:
    text = "".join(json.dumps({"tide-rack": {"fans": [fan]}}) + "\n" for fan in FANS)
    snapshot = seen(text)
    assert [(1,), (2,), (3,)] == [s.lines for s in snapshot.sightings]
    assert not snapshot.tables[0].ended  # nobody can tell whether a line is missing at the end
    assert seen(text + "tern-04$ ").tables[0].ended


def test_a_broken_line_leaves_the_lines_behind_it_unread() -> None:
    good, bad = (json.dumps({"tide-rack": {"fans": [fan]}}) + "\n" for fan in FANS[:2])
    snapshot = seen(good + bad.replace("9002", "9o02") + good + "tern-04$ ")
    assert [(1,)] == [s.lines for s in snapshot.sightings]
    assert [2, 3] == [u.number for u in snapshot.unread]
    assert not snapshot.tables[0].ended


@pytest.mark.parametrize("drop", range(1, len(json.dumps(RACK, indent=1).split("\n"))))
def test_a_document_without_one_of_its_lines_gives_no_less_doubt(drop: int) -> None:
    """A lost line may leave JSON that is whole; then the value is not there, and never another's."""
    kept = json.dumps(RACK, indent=1).split("\n")
    del kept[drop]
    for reading in seen("\n".join(kept)).readings:
        if reading.unit and reading.given("speed"):
            assert 9000 + int(reading.unit.removeprefix("fan-")) == reading.given("speed").value


def test_a_value_that_the_template_does_not_know_is_unread_on_its_raw_line() -> None:
    text = json.dumps({"tide-rack": {"fans": [{**FANS[0], "mood": "calm"}]}}, indent=1)
    unread = seen(text).unread
    assert (
        ['    "mood": "calm"']
        == [u.text.rstrip(",") for u in unread]
        == [line for line in text.split("\n") if "mood" in line]
    )
    assert '/tide-rack/fans[0]/mood: "calm"' in unread[0].reason


def test_a_cell_that_cannot_be_understood_makes_its_row_unread() -> None:
    text = json.dumps({"tide-rack": {"fans": [{**FANS[0], "speed": 1e13}]}}, indent=1).replace("e+13", "0000000000000")
    snapshot = seen(text)
    assert [] == list(snapshot.sightings)
    assert any("too large" in u.reason for u in snapshot.unread)


def test_a_message_of_the_device_between_the_lines_is_taken_out() -> None:
    text = json.dumps(RACK, indent=1).split("\n")
    text.insert(5, "[klog] gull on the antenna")
    snapshot = seen("\n".join(text))
    assert 3 == len(snapshot.sightings)
    assert [6] == [p.number for p in snapshot.passed_over]


def test_a_refusal_in_place_of_json_is_said() -> None:
    snapshot = seen("tern-04$ tide show\nno route to the rack\ntern-04$ ")
    assert "error reply" in snapshot.tables[0].cut
    assert [] == list(snapshot.sightings)
