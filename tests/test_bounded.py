"""Expressions of dialects: none can take long on any line, and what is called bounded is, by a count of tries."""

import re
import string
import time
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path
from re import _constants as op  # type: ignore[attr-defined]
from re import _parser  # type: ignore[attr-defined]
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from consolecheck.files.shelf import dialects, read_dialect, shipped
from consolecheck.reading.bounded import MOST_POWER, hang_fault, power_of
from consolecheck.reading.dialect import DialectFault
from consolecheck.reading.reader import read_text, read_unknown
from consolecheck.reading.screen import LONGEST_LINE, clean

# ---- the analysis


@pytest.mark.parametrize(
    "pattern",
    [
        r"(\w+ ?)+:",
        r"(a*)*b",
        r"(\s*\S+)*$",
        r"(?:[^\"]|\\.)*\"",
        r"(ab|abab)*c",
        r"(?=(a+)+b)c",
        r"((a{1,3}){1,3})*x",
        r"(?:(?:a|a))*b",
        r"(?:a(?:|b?)(?:c?|))*d",
        r"(.a|b.)*(?:ba|.b)*(\w\w|\w)+!",
    ],
)
def test_a_loop_that_reads_one_text_in_two_ways_is_refused(pattern: str) -> None:
    assert "can double the work" in str(hang_fault(pattern))


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        (r"(.*?,){11}P", "power 11"),
        (r"x*x*x*y", "power 3"),
        (r"(a?){30}a{30}", "power 30"),
        (r"a?" * 30 + "a" * 30, "power 30"),
        (r"(?:ab|[ax]b){9}$", "too many alternatives"),
        (r"a{100000}", "100000 times"),
        (r"a{0,100000}", "100000 times"),
        (r"(a{200}){200}", "places"),
        (r"a{99999999999}", "too large"),
        (r"(a)\1", "refers back"),
        ("(" * 5000 + "a" + ")" * 5000, "nested too deeply"),
        ("(", "not a regular expression"),
    ],
)
def test_other_reasons(pattern: str, why: str) -> None:
    fault = hang_fault(pattern)
    assert fault is not None
    assert why in fault
    assert len(fault) < 300


@pytest.mark.parametrize(
    ("pattern", "power"),
    [
        (r"SELF$", 0),
        (r"^(?P<SLOT>\d+) +(?P<STATUS>\S+)$", 1),
        (r"(?:\d{1,3}\.){3}\d{1,3}", 1),
        (r"\S+(?: \S+)* {2,}\d+", 1),
        (r"(?:[^\"\\]|\\.)*\"", 1),
        (r"(?P<NAME>[^|]*[^|\s]) +\|", 1),
        (r".*,.*,", 2),
        (r"\s*(.*)$", 1),
        (r"\s*(.*)x$", 2),
        (r"^(?=.{4} \S)(?=\S+ x)(?P<A>\S+) +(?P<B>\S+)$", 1),
        (r"^\S+ +(?=\S+ x)\S+$", 2),
        (r"^(?P<A>\S.*) *(?<=^.{17})(?P<B>\S*) *(?<=^.{39})(?P<C>\S+)$", 2),
        (r"^(?P<A>\S+) *(?<=^.{17})(?P<B>\S*) *(?<=^.{39})(?P<C>\S+)$", 1),
        (r"(?i)(?:ok|fail(?:ed)?)\b", 1),
        (r"\S(?:.*\S)?$", 1),
    ],
)
def test_the_power_of_usual_expressions(pattern: str, power: int) -> None:
    assert power_of(pattern) == power
    assert hang_fault(pattern) is None


def test_no_expression_of_a_shipped_dialect_can_hang() -> None:
    """Each alone, and joined as they are used."""
    for known in dialects():
        known.check()
        joined = [known.turns[0], *filter(None, (known.prompt, known.pager, known.log, known.refusal))]
        for pattern in known.documents.values():  # at the end of a line only (captured._PROMPT_REACH)
            assert power_of(pattern.pattern) <= MOST_POWER + 1
        for pattern in joined:
            assert hang_fault(pattern.pattern) is None, (known.name, pattern.pattern)


# ---- against a count of tries

PIECES = st.recursive(
    st.sampled_from(["a", "b", "[ab]", ".", "a?", "b*", "a+", "[^a]*", "ab"]),
    lambda inside: st.one_of(
        st.tuples(inside, inside).map("".join),
        st.tuples(inside, inside).map(lambda two: f"(?:{two[0]}|{two[1]})"),
        st.tuples(inside, st.sampled_from(["*", "+", "?", "*?", "{2}", "{1,3}", "{2,}"])).map(
            lambda two: f"(?:{two[0]}){two[1]}"
        ),
    ),
    max_leaves=5,
)


class Tried(Exception):
    """More tries than were allowed."""


def tries(pattern: str, text: str, most: int) -> int:
    """Characters tried by an engine that goes one way after the other and never finds the end it wants.

    A plain model of such an engine: greedy, no memory, no short cuts; an empty turn ends a loop.
    """
    count = 0

    def one(items: list[Any], at: int, then: Callable[[int], bool]) -> bool:
        nonlocal count
        if not items:
            return then(at)
        (what, how), rest = items[0], items[1:]

        def go(place: int) -> bool:
            return one(rest, place, then)

        if what in (op.LITERAL, op.NOT_LITERAL, op.IN, op.ANY):
            count += 1
            if count > most:
                raise Tried
            return at < len(text) and takes(what, how, text[at]) and go(at + 1)
        if what is op.SUBPATTERN:
            return one(list(how[3]), at, go)
        if what is op.BRANCH:
            return any(one(list(inside), at, go) for inside in how[1])
        least, greatest, inside = how

        def turn(done: int) -> Callable[[int], bool]:
            def after(place: int) -> bool:
                if done < least:
                    return one(list(inside), place, turn(done + 1))
                again = done < int(greatest) and one(list(inside), place, lambda to: to != place and turn(done + 1)(to))
                return go(place) or again

            return after

        return turn(0)(at)

    one(list(_parser.parse(pattern)), 0, lambda at: False)
    return count


def takes(what: Any, how: Any, char: str) -> bool:
    if what is op.LITERAL:
        return ord(char) == how
    if what is op.NOT_LITERAL:
        return ord(char) != how
    if what is op.ANY:
        return True
    return any(takes(w, h, char) for w, h in how if w is not op.NEGATE) != (how[0][0] is op.NEGATE)


WORDS = ["".join(word) for length in (1, 2, 3) for word in product("ab", repeat=length)]


@settings(max_examples=300, deadline=None)
@given(PIECES, st.sampled_from(WORDS), st.sampled_from(["", "a", "b"]))
def test_what_is_called_bounded_takes_no_more_tries_than_its_power(pattern: str, pump: str, begin: str) -> None:
    """Doubling the text multiplies the tries by two to the power, with room for what does not grow."""
    assume(hang_fault(pattern) is None)
    power = power_of(pattern)
    text = begin + pump * 10
    room = 8 * len(pattern) * (len(text) + 1) ** power
    assert tries(pattern, text[: len(begin) + 5 * len(pump)], room) <= room
    assert tries(pattern, text, room) <= room


@pytest.mark.parametrize("pattern", [r"(a+)+", r"(a|ab?)+b?", r"(?:aa|a)*"])
def test_the_count_sees_what_doubles(pattern: str) -> None:
    with pytest.raises(Tried):
        tries(pattern, "a" * 40, 200_000)


def test_the_greatest_power_on_the_longest_line_is_a_moment() -> None:
    """The engine itself: a fifth of a second of work at most; two seconds where the machine is busy."""
    for pattern, line in ((r".*,.*x$", "," * LONGEST_LINE), (r"\s*[^|]*\|", " " * LONGEST_LINE)):
        assert power_of(pattern) == MOST_POWER
        began = time.process_time()
        assert re.match(pattern, line) is None
        assert time.process_time() - began < 2


# ---- a dialect's folder from anybody


def wexcombe_with(folder: Path, **changed: tuple[str, str]) -> Path:
    """A copy of a shipped dialect, in which one text of a file was replaced."""
    folder.mkdir()
    for path in (shipped("parsers") / "wexcombe").iterdir():
        text = path.read_text(encoding="utf-8")
        if (change := changed.get(path.stem)) is not None:
            assert change[0] in text
            text = text.replace(change[0], change[1], 1)
        (folder / path.name).write_text(text, encoding="utf-8")
    return folder


def first_fault(folder: Path) -> DialectFault:
    """The fault with which such a dialect is refused before it sees a line."""
    foreign = read_dialect(folder, origin="this test")
    with pytest.raises(DialectFault) as refused:
        read_text(b"a" * 60 + b"\n", "console log", [foreign], foreign)
    return refused.value


def test_a_template_that_hangs_is_refused_with_its_line(tmp_path: Path) -> None:
    folder = wexcombe_with(tmp_path / "petrel", self=("  ^. -> Error", "  ^(?:[\\w ]+ ?)+!$$\n  ^. -> Error"))
    fault = first_fault(folder)
    assert fault.file == f"{folder}/self.textfsm"
    assert re.match(r"line \d+: .*can double the work", fault.reason)


@pytest.mark.parametrize("key", ["prompt", "pager"])
def test_a_manifest_that_hangs_is_refused_with_its_key(tmp_path: Path, key: str) -> None:
    text = (shipped("parsers") / "wexcombe" / "dialect.toml").read_text(encoding="utf-8")
    (line,) = [line for line in text.splitlines() if line.startswith(f"{key} = ")]
    folder = wexcombe_with(tmp_path / "petrel", dialect=(line, f"{key} = '(?:\\w+ ?)+>'"))
    fault = first_fault(folder)
    assert (fault.key, "can double the work" in fault.reason) == (f"console.{key}", True)


def test_a_template_with_a_huge_repeat_is_refused(tmp_path: Path) -> None:
    folder = wexcombe_with(tmp_path / "petrel", self=("  ^. -> Error", "  ^\\s{100000}$$\n  ^. -> Error"))
    assert "100000 times" in first_fault(folder).reason


# ---- texts that are made to take long

WEXCOMBE = next(known for known in dialects() if known.name == "wexcombe")
SIZE = 200_000


def filled(unit: bytes, line: int = 60_000) -> bytes:
    """Lines of one repeated piece."""
    return (unit * (line // len(unit)) + b"\n") * (SIZE // line)


def hostile() -> Iterator[tuple[str, bytes]]:
    yield "blank lines", b"\n" * SIZE
    yield "blanks", b" " * SIZE
    yield "one line", b"a" * SIZE
    yield "returns", b"\r" * SIZE
    yield "erasing", filled(b"a\x1b[1K")
    yield "inserting", filled(b"a\x1b[4096@")
    yield "deleting", filled(b"\x1b[P")
    yield "going down", filled(b"\x1b[4096Cx" + b"\x0bx" * 1000)
    yield "tabs", filled(b"\ta")
    yield "clearing", filled(b"x\x1b[2J")
    yield "open strings", b"\x1b]" * (SIZE // 2)
    yield "telnet", b"\xff\xfa" * (SIZE // 2)
    yield "pagers", b"--More--" * (SIZE // 8)
    bounds = f"temp1: 45 C{' ' * 1000}(high{' = ' * 300}) {'a ' * 700}!\n".encode()
    yield "bounds in brackets", bounds * (SIZE // len(bounds))
    for char in string.punctuation + "1a":
        yield f"columns of {char}", (f"{char} ".encode() * 2000 + b"\n") * (SIZE // 4001)


@pytest.mark.parametrize(("what", "raw"), [pytest.param(w, r, id=w) for w, r in hostile()])
def test_a_text_made_to_take_long_does_not(what: str, raw: bytes) -> None:
    """Seconds of this process's own time, with much room: what grows without bound takes minutes."""
    began = time.process_time()
    text = clean(raw)
    read_text(raw, what, dialects(), WEXCOMBE)
    read_unknown(raw, what)
    assert time.process_time() - began < 20
    assert all(line.doubt for line in text.lines if len(line.text) > LONGEST_LINE)
    assert sum(len(line.text) + 1 for line in text.lines) <= 20 * len(raw)
