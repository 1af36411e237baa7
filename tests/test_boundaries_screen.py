"""One row of a terminal: each control function by what it leaves on the row, and each bound at and above it."""

import re

import pytest

from consolecheck.reading import screen
from consolecheck.reading.screen import LONGEST_LINE, clean, without_pager, without_telnet

OVER = screen.OVERWRITTEN
ELSEWHERE = "the cursor was placed elsewhere on the screen"
OTHER_LINES = "the cursor moved to other lines"


def shown(stream: str) -> list[tuple[int, str, str]]:
    return [(line.number, line.text, line.doubt) for line in clean(stream.encode("utf-8") + b"\n").lines]


@pytest.mark.parametrize(
    ("stream", "text", "doubt"),
    [
        # ECMA-48: the cursor forward, back, and to a column; nothing means one, and so does zero.
        ("ab\x1b[Ccd", "ab cd", ""),
        ("ab\x1b[0Ccd", "ab cd", ""),
        ("ab\x1b[3Ccd", "ab   cd", ""),
        ("abc\x1b[Dc", "abc", ""),
        ("abc\x1b[2Dbx", "abx", OVER + "abc"),
        ("abc\x1b[9Da", "abc", ""),
        ("abc\x1b[4Gd", "abcd", ""),
        ("abc\x1b[Ga", "abc", ""),
        ("abc\x1b[1Gx", "xbc", OVER + "abc"),
        ("abc\x1b[2`b", "abc", ""),
        # Erasing: to the end, from the begin, all; characters deleted, blanked, pushed.
        ("abcd\x1b[2D\x1b[K", "ab", OVER + "abcd"),
        ("abcd\x1b[2D\x1b[1K", "   d", OVER + "abcd"),
        ("abcd\x1b[2K", "", OVER + "abcd"),
        ("abcd\x1b[K", "abcd", ""),
        ("abcd\x1b[4D\x1b[P", "bcd", OVER + "abcd"),
        ("abcd\x1b[4D\x1b[2P", "cd", OVER + "abcd"),
        ("abcd\x1b[4D\x1b[2X", "  cd", OVER + "abcd"),
        ("abcd\x1b[4D\x1b[2@", "  abcd", OVER + "abcd"),
        ("abcd\x1b[?K", "abcd", "text was erased in a private way"),
        ("abcd\x1b[?25h", "abcd", ""),
        # Backspace, return and tabulator.
        ("abc\b\b\b\ba", "abc", ""),
        ("abc\rabd", "abd", OVER + "abc"),
        ("abc\r   ", "", OVER + "abc"),
        ("a\tb", "a       b", ""),
        ("1234567\tb", "1234567 b", ""),
        ("12345678\tb", "12345678        b", ""),
        # What one row cannot show.
        ("ab\x1b[5;1Hcd", "abcd", ELSEWHERE),
        ("ab\x1b[Acd", "abcd", OTHER_LINES),
        ("ab\x1b[4hcd", "abcd", OTHER_LINES),
        ("ab\x1b[5hcd", "abcd", ""),
        ("ab\x1bMcd", "abcd", OTHER_LINES),
        ("ab\x1b(Bcd", "abcd", ""),
        ("ab\x8dcd", "abcd", "the cursor moved up over earlier text"),
        ("ab\x1b]0;title", "ab", "an unfinished control string hides what follows"),
        ("ab\x1b]0;title\x07cd", "abcd", ""),
    ],
)
def test_what_stands_on_the_row(stream: str, text: str, doubt: str) -> None:
    assert shown(stream) == [(1, text, doubt)]


@pytest.mark.parametrize(
    ("stream", "rows"),
    [
        ("ab\x0bcd", ["ab", "  cd"]),
        ("ab\x85cd", ["ab", "cd"]),
        ("ab\x1b[Hcd", ["ab", "cd"]),
        ("ab\x1b[1;1Hcd", ["ab", "cd"]),
        ("ab\x1b[1Hcd", ["ab", "cd"]),
        ("ab\x1b[;fcd", ["ab", "cd"]),
        ("ab\x1b[2Jcd", ["ab", "  cd"]),
        ("ab\x1bccd", ["ab", "cd"]),
    ],
)
def test_what_goes_to_another_row(stream: str, rows: list[str]) -> None:
    assert shown(stream) == [(1, row, "") for row in rows]


def test_so_long_a_row_may_be() -> None:
    cut = f"longer than {LONGEST_LINE} characters, of which the others are not kept"
    assert shown("x" * (LONGEST_LINE - 1) + "\ax") == [(1, "x" * LONGEST_LINE, "")]
    assert shown("x" * LONGEST_LINE + "\ax") == [(1, "x" * LONGEST_LINE, cut)]
    assert shown("x" * LONGEST_LINE) == [(1, "x" * LONGEST_LINE, "")]
    assert shown("x" * (LONGEST_LINE + 1)) == [(1, "x" * (LONGEST_LINE + 1), screen.TOO_LONG)]


def test_so_often_a_row_may_be_drawn() -> None:
    crowded = "more controls than a line of text has"
    assert shown("\a" * 4096) == [(1, "", "")]
    assert [doubt for _, _, doubt in shown("\a" * 4097)] == [crowded, crowded]
    assert len(shown("a\x0b" * 256)) == 256
    assert [doubt for *_, doubt in shown("a\x0b" * 257)][255:] == ["", crowded, crowded]


@pytest.mark.parametrize(
    ("raw", "kept"),
    [
        (b"a\xff\xff b", b"a\xff b"),
        (b"a\xff\xfb\x01b", b"ab"),
        (b"a\xff\xfe\x01b", b"ab"),
        (b"a\xff\xfd\x01b", b"ab"),
        (b"a\xff\xf1b", b"ab"),
        (b"a\xff\xfa\x18\x00x\xff\xf0b", b"ab"),
        (b"a\xff\xfa\x18\xff\xff\xf0x\xff\xf0b", b"ab"),
        (b"a\xff\xfa\x18\n", b"a\n"),
        (b"a\xffb", b"ab"),
        (b"a\xff", b"a"),
        (b"a\xff\xefb", b"a\xefb"),
        (b"a\xff\xf0b", b"ab"),
    ],
)
def test_telnet_commands_by_their_length(raw: bytes, kept: bytes) -> None:
    """RFC 854: two bytes, three with an option, and to its end where parameters follow."""
    assert without_telnet(raw) == kept


@pytest.mark.parametrize(
    ("stream", "rows", "at_pager"),
    [
        ("a\n--More--", ["a"], True),
        ("a\n--More--\n", ["a"], True),
        ("a\n--More-- b", ["a", "b"], False),
        ("a\n--More--\n\n", ["a", ""], True),
        ("a\n--More--\nb", ["a", "b"], False),
        ("a\nlines 1-20", ["a"], True),
        ("a\nmore", ["a", "more"], False),
        ("a\n--More--\r        \rb", ["a", "b"], False),
        # Rubbed out, and nothing came: it still waits. A colon waits for a word, and is none of these.
        ("a\n--More--\r        \r", ["a"], True),
        ("a\n--More--\r        \r\n", ["a"], True),
        ("a\n--More--\r        \r\nb", ["a", "b"], False),
        ("a\n:\r \r", ["a", ""], False),
        ("a\n:\r \rb", ["a", "b"], False),
    ],
)
def test_a_pager_at_the_end_is_a_cut(stream: str, rows: list[str], at_pager: bool) -> None:
    found = clean(stream.encode())
    assert ([line.text for line in found.lines], found.ends_at_pager) == (rows, at_pager)


def test_a_text_without_a_word_ends_at_no_pager() -> None:
    for blank in ("", "\n", "\n\n"):
        assert not without_pager(clean(blank.encode()), re.compile("--More--")).ends_at_pager


@pytest.mark.parametrize(
    ("text", "last"),
    [("", 0), ("a\nb", 2), ("a\n--More--\nb", 3), ("--More--", 0), ("a\n\n--More--", 2), ("a\x08b\nc", 2)],
)
def test_the_number_of_the_last_line_that_is_kept(text: str, last: int) -> None:
    assert clean(text.encode()).last_number == last
