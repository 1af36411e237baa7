"""Inputs that once took long or filled the memory, and what the fuzzer starts from: run without it, in a moment."""

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
import fuzz

KEPT = sorted(fuzz.KEPT.glob("*.bin"))


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)
def test_what_was_mended_stays_mended(path: Path) -> None:
    fuzz.bounded(path.read_bytes())


def test_every_case_is_a_beginning_and_comes_to_a_verdict() -> None:
    found = {name: fuzz.judged(data) for name, data in fuzz.seeds()}
    assert len(found) > 100
    assert {word for told in found.values() for word in told.split()} >= {"not-verified", "inconclusive"}


TOKENS = st.sampled_from([*sorted({word for word in fuzz.words() if word}), b"\n", b" ", b": ", b"0", b"  "])


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([known.name for known in fuzz._dialects()] + ["?", "anything"]),
    st.lists(TOKENS, max_size=60).map(b"".join),
)
def test_what_families_print_put_together_anyhow_comes_to_an_end(name: str, text: bytes) -> None:
    fuzz.bounded(f"{name} psu-1\n".encode() + text)


def test_what_must_not_be_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fuzzer's own looks: a line that is not there, and a control character on its way to the terminal."""
    from consolecheck.reporting import terminal

    data = next(data for name, data in fuzz.seeds() if name == "wexcombe-psu-2-replaced")
    data += b" " * (-len(data) % 4)
    monkeypatch.setattr(terminal, "safe", lambda text: f"{text}\x1b[2J")
    with pytest.raises(fuzz.Broken, match="terminal"):
        fuzz.judged(data)
    monkeypatch.undo()
    monkeypatch.setattr(fuzz, "SECONDS", 0.0)
    with pytest.raises(fuzz.Broken, match="took"):
        fuzz.bounded(data)
