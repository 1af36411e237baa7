"""Text that lost something never passes: cut anywhere, a line lost, a character changed."""

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
from consolecheck.records.readings import Snapshot

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
