"""Text that lost something never passes: cut anywhere, a line lost, a character changed."""

import re
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.judge import NoSuchUnit, judge
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Judgement, Verdict
from consolecheck.records.readings import Condition, Snapshot

GOOD = [c for c in cases_of(shipped("fixtures")) if c.file.claims.verdict is Verdict.VERIFIED]
IDS = [f"{c.dialect_name}/{c.name}" for c in GOOD]


def judged(case: Case, after: bytes) -> tuple[Judgement, Snapshot] | None:
    """The verdict with another text after the swap; None where the text was refused."""
    chosen = next(d for d in dialects() if d.name == case.dialect_name)
    try:
        before = read_text(case.text("before"), "before.txt", dialects(), chosen)
        snapshot = read_text(after, "after.txt", dialects(), chosen)
        return judge(before, snapshot, case.file.unit, case.acceptance(), case.observed(), case.file.reseat), snapshot
    except (NotRecognised, NoSuchUnit):
        return None


def told(snapshot: Snapshot) -> Counter[str]:
    return Counter(reading.model_dump_json() for reading in snapshot.readings)


def passes(case: Case, after: bytes) -> Snapshot | None:
    result = judged(case, after)
    return result[1] if result and result[0].verdict is Verdict.VERIFIED else None


@pytest.mark.parametrize("case", GOOD, ids=IDS)
def test_a_cut_text_passes_only_if_nothing_was_cut_off(case: Case) -> None:
    after = case.text("after")
    whole = passes(case, after)
    assert whole is not None
    for end in range(0, len(after), 11):
        snapshot = passes(case, after[:end])
        assert snapshot is None or told(snapshot) == told(whole), after[max(0, end - 60) : end]


@pytest.mark.parametrize("case", GOOD, ids=IDS)
def test_a_text_cut_at_a_line_end_passes_only_if_nothing_was_cut_off(case: Case) -> None:
    lines = case.text("after").splitlines(keepends=True)
    whole = passes(case, b"".join(lines))
    assert whole is not None
    for end in range(len(lines)):
        snapshot = passes(case, b"".join(lines[:end]))
        assert snapshot is None or told(snapshot) == told(whole), lines[end - 1]


@pytest.mark.parametrize("case", GOOD, ids=IDS)
def test_a_lost_line_passes_only_if_no_reading_was_lost(case: Case) -> None:
    lines = case.text("after").split(b"\n")
    whole = passes(case, b"\n".join(lines))
    assert whole is not None
    for lost in range(len(lines)):
        snapshot = passes(case, b"\n".join(lines[:lost] + lines[lost + 1 :]))
        assert snapshot is None or told(snapshot) == told(whole), lines[lost]


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_any_chunk_of_noise_is_survived(data: st.DataObject) -> None:
    """Garbage in the middle gives a verdict or a refusal, never another exception, and never hides itself."""
    case = data.draw(st.sampled_from(GOOD))
    after = case.text("after")
    at = data.draw(st.integers(0, len(after)))
    noise = data.draw(st.binary(min_size=1, max_size=40))
    result = judged(case, after[:at] + noise + after[at:])
    if result and result[0].verdict is Verdict.VERIFIED:
        whole = passes(case, after)
        assert whole is not None
        kept = told(result[1])
        assert not told(whole) - kept or len(told(whole) - kept) <= 1  # the noise fell into one cell of free text


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_harmless_changes_keep_the_verdict(data: st.DataObject) -> None:
    """Line ends, trailing blanks and colours change how a text looks and nothing that it says."""
    case = data.draw(st.sampled_from(GOOD))
    lines = case.text("after").replace(b"\r\n", b"\n").split(b"\n")
    ending = data.draw(st.sampled_from([b"\n", b"\r\n", b"\r\r\n"]))
    number = data.draw(st.integers(0, len(lines) - 1))
    decorated = data.draw(
        st.sampled_from([b"%s   ", b"\x1b[0m%s\x1b[K", b"%s\x1b[0m", b"\x1b]0;title\x07%s", b"%s\x00"])
    )
    lines[number] = decorated % lines[number]
    result = judged(case, ending.join(lines))
    assert result is not None
    assert result[0].verdict is Verdict.VERIFIED, lines[number]


@pytest.mark.parametrize("case", GOOD, ids=IDS)
def test_no_other_status_word_passes(case: Case) -> None:
    """A status that turns into any other word, known or not, costs the `verified`.

    Only a supply in standby may still be good (RFC 4268: hot standby is a healthy state).
    """
    known = next(d for d in dialects() if d.name == case.dialect_name)
    lines = case.text("after").decode().split("\n")
    tried = set()
    for sighting in read_text(case.text("after"), "after.txt", dialects(), known).sightings:
        reading = sighting.reading
        # Where the condition comes from several cells, the one that the word `enabled` stands in.
        span = next((s for field in ("status", "said", "oper", "health") if (s := sighting.span(field))), None)
        if span is None or reading.condition is not Condition.OK or (sighting.table, reading.kind) in tried:
            continue
        tried.add((sighting.table, reading.kind))
        for word, condition in {**known.words(reading.kind), "glorious": None}.items():
            if condition is Condition.OK or (condition is Condition.STANDBY and reading.kind == "power_supply"):
                continue
            line = lines[span.line - 1]
            damaged = line[: span.start] + word.ljust(span.end - span.start) + line[span.end :]
            text = "\n".join([*lines[: span.line - 1], damaged, *lines[span.line :]])
            assert passes(case, text.encode()) is None, damaged
    assert tried


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_any_number_may_become_any_other_without_a_fault_of_ours(data: st.DataObject) -> None:
    """Zero, huge, negative, missing: a verdict or a refusal comes out, never an exception."""
    case = data.draw(st.sampled_from(GOOD))
    pieces = re.split(r"(\d+)", case.text("after").decode())
    numbers = [i for i, piece in enumerate(pieces) if piece.isdigit()]
    for at in data.draw(st.lists(st.sampled_from(numbers), min_size=1, max_size=6)):
        as_wide = data.draw(st.sampled_from(["0", "9", "-1", "00", ""]))
        pieces[at] = (as_wide * len(pieces[at]))[: len(pieces[at])] if as_wide else " " * len(pieces[at])
    judged(case, "".join(pieces).encode())


@pytest.mark.parametrize("case", [c for c in GOOD if c.dialect_name == "wexcombe"], ids=lambda c: c.name)
def test_no_lost_leading_digit_passes(case: Case) -> None:
    """104 that arrives as 04: the figures of a text are held against each other and against the baseline.

    Let pass is only the temperature inside the part that was just fitted, which may have come in cold.
    """
    known = next(d for d in dialects() if d.name == case.dialect_name)
    lines = case.text("after").decode().split("\n")
    tried = 0
    for sighting in read_text(case.text("after"), "after.txt", dialects(), known).sightings:
        reading = sighting.reading
        if reading.kind == "temperature" and reading.unit == case.file.unit:
            continue
        for name in reading.quantities():
            span = sighting.span(name)
            cell = lines[span.line - 1][span.start : span.end] if span else ""
            if span is None or not re.match(r"\d{2}", cell):
                continue
            tried += 1
            line = lines[span.line - 1]
            damaged = line[: span.start] + " " + line[span.start + 1 :]
            text = "\n".join([*lines[: span.line - 1], damaged, *lines[span.line :]])
            assert passes(case, text.encode()) is None, damaged
    assert tried > 30
