"""Cleaning of console streams against a terminal emulator, real pagers' output, Telnet and ECMA-48."""

import re
from itertools import product

import pyte
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from consolecheck.reading.screen import LONGEST_LINE, _is_plain, clean, without_telnet

CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
IAC, DONT, DO, WONT, WILL, SB, NOP, SE = b"\xff", b"\xfe", b"\xfd", b"\xfc", b"\xfb", b"\xfa", b"\xf1", b"\xf0"


def texts(raw: bytes) -> list[str]:
    """The lines in which something is to be seen."""
    return [line.text for line in clean(raw).lines if line.text]


def on_a_terminal(stream: str) -> list[str]:
    """What a wide and tall terminal shows."""
    screen = pyte.Screen(600, 80)
    pyte.Stream(screen).feed(stream)
    return [row for line in screen.display if (row := line.rstrip())]


# ---- against a terminal emulator

WORDS = st.text("abcXYZ0189 .:|#%", min_size=1, max_size=12)
STEPS = st.sampled_from(["", "0", "1", "2", "7", "30"])
SEQUENCES = st.one_of(
    STEPS.map("\x1b[{}C".format),  # cursor forward
    STEPS.map("\x1b[{}D".format),  # cursor backward
    STEPS.map("\x1b[{}G".format),  # to a column
    STEPS.map("\x1b[{}X".format),  # erase characters
    STEPS.map("\x1b[{}P".format),  # delete characters
    STEPS.map("\x1b[{}@".format),  # insert blanks
    st.sampled_from(["", "0", "1", "2"]).map("\x1b[{}K".format),  # erase in line
    st.sampled_from(["", "0", "1", "7", "1;31", "38;5;12"]).map("\x1b[{}m".format),  # graphic rendition
    st.sampled_from(["\x1b]0;tern-05\x07", "\x1b]2;core-a\x1b\\", "\x1b[?25l", "\x1b[?2004h", "\x1b(B", "\x1b="]),
)
CONTROLS = st.sampled_from(["\r", "\b", "\b\b\b", "\t", "\x07", "\x00", "\x7f", "\x0c", "\x0b"])
STREAMS = st.lists(st.one_of(WORDS, WORDS, CONTROLS, SEQUENCES, st.just("\r\n")), max_size=30).map(
    lambda parts: "".join(parts) + "\r\n"
)


@settings(max_examples=600, deadline=None)  # some sequences matter only behind a cursor that moved back
@given(STREAMS)
def test_shows_what_a_terminal_shows(stream: str) -> None:
    assert texts(stream.encode()) == on_a_terminal(stream)


@given(STREAMS)
def test_the_8_bit_form_of_control_sequences_is_the_same(stream: str) -> None:
    """ECMA-48, 5.4: CSI is ESC [ or the one character 9B."""
    assert texts(stream.replace("\x1b[", "\x9b").encode()) == texts(stream.encode())


@pytest.mark.parametrize(
    "stream",
    [
        "show pwoer\b\b\b\b   \b\b\b\bwer\r\n",
        "psu-1\tok\t12.1\r\n",
        "\x1b[1;32mok\x1b[0m   230\r\n",
        "1234567890\r\x1b[5Cab\x1b[Kc\r\n",
        "abcdef\x1b[3D\x1b[1K\r\n",
        "abcdef\r\x1b[2P\x1b[@x\r\n",
        "abcdef\r\x1b[2X\r\n",
        "abc\x1b[2Kd\r\n",
        "10 %\r 20 %\r100 %\r\n",
    ],
)
def test_shows_what_a_terminal_shows_by_example(stream: str) -> None:
    assert texts(stream.encode()) == on_a_terminal(stream)


# ---- what pagers send: recorded from util-linux more 2.38.1 and less 590 on a terminal of ten rows

ROWS_BEFORE = "".join(f"{n}\r\n" for n in range(1, 10))
MORE_XTERM = ROWS_BEFORE + "\x1b[7m--More--(2%)\x1b[27m" + "\r10\x1b[K\r\n11\r\n"
MORE_DUMB = ROWS_BEFORE + "--More--(2%)" + "\r10" + " " * 10 + "\r\n11\r\n"
LESS_OPENS = "\x1b[?1049h\x1b[22;0;0t\x1b[?1h\x1b=\r"
LESS_XTERM = LESS_OPENS + ROWS_BEFORE + ":\x1b[K" + "\r\x1b[K10\r\n11\r\n"
ELEVEN = [str(n) for n in range(1, 12)]


@pytest.mark.parametrize(
    "stream",
    [
        pytest.param(MORE_XTERM, id="more-xterm"),
        pytest.param(MORE_DUMB, id="more-dumb"),
        pytest.param(
            LESS_XTERM,
            id="less-xterm",
        ),
    ],
)
def test_pager_prompts_are_overwritten(stream: str) -> None:
    """Deleting escape sequences would leave `--More--(2%)10`; the carriage return has to overwrite."""
    cleaned = clean(stream.encode())
    assert [(line.number, line.text, line.doubt) for line in cleaned.lines if line.text] == [
        (n, str(n), "") for n in range(1, 12)
    ]
    assert not cleaned.ends_at_pager
    assert not cleaned.ends_mid_line


@pytest.mark.parametrize(
    "prompt", ["\x1b[7m--More--(2%)\x1b[27m", "--More--(2%)", "--More--", " --More-- ", "-- More --", "(END)", "\x1b[7m(END)\x1b[27m\x1b[K"]
)  # fmt: skip
def test_a_text_that_ends_at_a_pager_prompt_is_known_to_be_cut(prompt: str) -> None:
    cleaned = clean((ROWS_BEFORE + prompt).encode())
    assert cleaned.ends_at_pager
    assert [line.text for line in cleaned.lines if line.text] == ELEVEN[:9]


def test_a_text_that_ends_at_the_colon_of_less_is_known_to_be_cut() -> None:
    cleaned = clean((LESS_OPENS + ROWS_BEFORE + ":\x1b[K").encode())
    assert cleaned.ends_at_pager or cleaned.ends_mid_line


# ---- Telnet, RFC 854


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        (b"ser" + IAC + DO + b"\x18" + b"ving\r\n", ["serving"]),
        (b"ser" + IAC + NOP + b"ving\r\n", ["serving"]),
        (IAC + WILL + b"\x01" + IAC + WILL + b"\x03" + IAC + DONT + b"\x1f" + IAC + WONT + b"\x18" + b"login\r\n", ["login"]),
        (IAC + SB + b"\x18\x00xterm" + IAC + SE + b"login\r\n", ["login"]),
        (b"log" + IAC + SB + b"\x2c\x01\x00\x00\x25\x80" + IAC + SE + b"in\r\n", ["login"]),
        (b"24 " + IAC + IAC + b"C\r\n", ["24 \xffC"]),  # RFC 1123, 3.2.6: a data byte 255 is sent doubled
        (b"one\r\x00two\r\n", ["two"]),  # RFC 854: a bare carriage return is sent as CR NUL
        (b"one\r\x00\r\ntwo\r\n", ["one", "two"]),
        (b"whole\r\n" + IAC, ["whole"]),
        (b"whole\r\n" + IAC + DO, ["whole"]),
        (b"whole\r\n" + IAC + SB + b"\x18", ["whole"]),
    ],
)  # fmt: skip
def test_telnet(raw: bytes, shown: list[str]) -> None:
    assert texts(raw) == shown


def test_telnet_parameters_may_hold_a_doubled_255() -> None:
    """RFC 855: a parameter byte 255 is doubled, so `FF FF F0` does not end the parameters.

    Here a window size (RFC 1073) of 255 columns and 61505 rows.
    """
    size = IAC + SB + b"\x1f\x00" + IAC + IAC + SE + b"A" + IAC + SE
    assert texts(size + b"login\r\n") == ["login"]


@given(st.lists(st.sampled_from([b"ab ", b"cd", b"\r\n", b"1.5", b"9"]), max_size=8), st.data())
def test_telnet_commands_between_any_two_bytes_leave_the_text_whole(parts: list[bytes], data: st.DataObject) -> None:
    raw = b"".join(parts) + b"\r\n"
    command = st.sampled_from([IAC + DO + b"\x18", IAC + NOP, IAC + WILL + b"\x01", IAC + SB + b"\x18\x01" + IAC + SE])
    out = b""
    for byte in raw:
        out += data.draw(st.sampled_from([b"", b"", b"", data.draw(command)])) + bytes((byte,))
    assert without_telnet(out) == raw
    assert clean(out) == clean(raw)


@given(st.binary())
def test_telnet_data_comes_back(data: bytes) -> None:
    assert without_telnet(data.replace(IAC, IAC + IAC)) == data


# ---- ECMA-48, 5.4: parameter bytes 30-3F, intermediate 20-2F, final 40-7E; 3C-3F begin private parameters


@pytest.mark.parametrize(
    "sequence",
    [
        "\x1b[?25l", "\x1b[?25h", "\x1b[?2004h", "\x1b[?2004l", "\x1b[?1l", "\x1b[?7h", "\x1b[>0c", "\x1b[=1c", "\x1b[>4;1m", "\x1b[<1;2;3M",
        "\x1b[0 q", "\x1b[!p", "\x1b[1\"q", "\x1b[4:3m", "\x1b[0;38:2::1:2:3m", "\x1b[1;2'z", "\x9b?25l", "\x1b>", "\x1b=", "\x1b(0", "\x1b)B",
        "\x1b#8", "\x1b%G", "\x1b]0;title\x07", "\x1b]8;;http://x/\x1b\\", "\x1bP1$r0m\x1b\\", "\x1b_x\x1b\\", "\x1b^x\x1b\\", "\x1bX\x1b\\",
    ],
)  # fmt: skip
def test_sequences_that_show_nothing_leave_the_word_whole(sequence: str) -> None:
    cleaned = clean(f"ser{sequence}ving\r\n".encode())
    assert [line.text for line in cleaned.lines] == ["serving"]


FINALS = [chr(c) for c in range(0x40, 0x7F)]


@pytest.mark.parametrize("final", FINALS)
def test_every_final_byte_ends_its_sequence(final: str) -> None:
    for introducer, parameters in product(("\x1b[", "\x9b"), ("", "5", "1;5", "?5", ">5", "<1;1")):
        (line, *more) = clean(f"abcdefgh{introducer}{parameters}{final}12\r\n".encode()).lines
        shown = line.text + "".join(piece.text for piece in more)
        assert "12" in shown
        assert set(shown) <= set("abcdefgh12 ")


@pytest.mark.parametrize(
    "final",
    list(FINALS),
)
def test_private_sequences_are_not_taken_for_the_public_ones(final: str) -> None:
    """What a private sequence does is its maker's affair: the text stays as it is, or is doubted."""
    for parameters in ("?5", ">5", "<5", "=5"):
        for line in clean(f"abcdefgh\x1b[{parameters}{final}12\r\n".encode()).lines:
            assert line.doubt or line.text in ("abcdefgh12", "")


@pytest.mark.parametrize(
    "wandering",
    ["\x1b[A", "\x1b[2B", "\x1b[5;1H", "\x1b[3;4f", "\x1b[2L", "\x1b[M", "\x1b[2S", "\x1b[T", "\x1b[4h", "\x1bM", "\x1b8", "\x1b[u", "\x1b]0;t"],
)  # fmt: skip
def test_what_one_row_cannot_show_is_doubted(wandering: str) -> None:
    cleaned = clean(f"12.05 {wandering}ok\r\nnext\r\n".encode())
    assert any(line.doubt for line in cleaned.lines)
    assert [(line.text, line.doubt) for line in cleaned.lines if line.number == 2] == [("next", "")]


# ---- any input at all

NOISE = st.one_of(
    st.binary(max_size=200),
    st.text(max_size=100).map(str.encode),
    st.lists(
        st.sampled_from([b"\x1b", b"[", b"\x9b", b"]", b"?", b"1", b";", b"K", b"J", b"H", b"\r", b"\n", b"\r\n", b"\b", b"\t", b"\x0c", b"\xc2",
                         b"\x00", b"a", b"b ", b"\xff", b"\xfa", b"\xfd", b"\x85", b"--More--", b"\x1b[9999999999C", b"\x1b[4096G", b"\x1b[999@"]),
        max_size=60,
    ).map(b"".join),
)  # fmt: skip


@given(NOISE)
def test_never_raises_and_leaves_no_control_character(raw: bytes) -> None:
    for line in clean(raw).lines:
        assert not CONTROL.search(line.text), line
        assert line.text == line.text.rstrip()


@given(NOISE)
def test_line_numbers_only_rise_and_stay_within_the_text(raw: bytes) -> None:
    numbers = [line.number for line in clean(raw).lines]
    assert numbers == sorted(numbers)
    assert all(1 <= n <= raw.count(b"\n") + 1 for n in numbers)


@given(st.lists(NOISE.map(lambda raw: raw.replace(IAC, b"")), max_size=5))
def test_a_line_is_numbered_by_the_newlines_before_it(noise: list[bytes]) -> None:
    raw = b""
    marks = {}
    for n, piece in enumerate(noise):
        raw += piece + b"\n"
        marks[f"MARK {n}"] = raw.count(b"\n") + 1
        raw += f"MARK {n}\n".encode()
    assert {line.text: line.number for line in clean(raw).lines if line.text in marks} == marks


@pytest.mark.parametrize(
    "command",
    [
        pytest.param(IAC, id="cut"),
        pytest.param(
            IAC + DO,
            id="option",
        ),
        pytest.param(IAC + SB + b"\x18", id="parameters"),
    ],
)
def test_a_telnet_command_hides_no_newline_from_the_count(command: bytes) -> None:
    raw = b"one " + command + b"\ntwo\nthree\n"
    found = {line.text: line.number for line in clean(raw).lines}
    assert found.get("three", 3) == 3


@pytest.mark.parametrize(
    ("raw", "lines"),
    [
        (b"one\ntwo\n", [(1, "one"), (2, "two")]),
        (b"one\r\ntwo\r\n", [(1, "one"), (2, "two")]),
        (b"one\r\r\ntwo\r\r\n", [(1, "one"), (2, "two")]),
        (b"one\rtwo\rthree\r", [(1, "one"), (1, "two"), (1, "three")]),  # no newline at all: `sed -n 1p` shows it all
        (b"one\n\n\nfour\n", [(1, "one"), (2, ""), (3, ""), (4, "four")]),
        (b"one\x0ctwo\r\nthree\r\n", [(1, "one"), (1, "   two"), (2, "three")]),
        (b"\x0cone\r\ntwo\r\n", [(1, "one"), (2, "two")]),
        (b"\x00\x00o\x00n\x00e\r\x00\n\x00two\r\n", [(1, "one"), (2, "two")]),
        (b"\xef\xbb\xbfone\r\n", [(1, "one")]),
        (b"caf\xe9 24 \xb0C\r\n", [(1, "caf\u00e9 24 \u00b0C")]),
        ("24 °C\u2028x\n".encode(), [(1, "24 °C\u2028x")]),
        (b"", []),
    ],
)
def test_line_ends(raw: bytes, lines: list[tuple[int, str]]) -> None:
    assert [(line.number, line.text) for line in clean(raw).lines] == lines


FILLINGS = ["x", "x ", "\x1b[0mx", "x\x00", "\x9bm", "x\b\b"]


@pytest.mark.parametrize("filling", FILLINGS)
@pytest.mark.parametrize("length", [10_000, 100_000])
def test_an_overlong_line_is_marked(filling: str, length: int) -> None:
    raw = b"before\r\n" + (filling * length).encode() + b"x" * 10_000 + b"\r\nafter\r\n"
    cleaned = clean(raw)
    assert [(n, t) for n, t, _ in cleaned.lines if n != 2] == [(1, "before"), (3, "after")]
    for line in cleaned.lines:
        assert bool(line.doubt) == (line.number == 2)


@pytest.mark.parametrize("filling", FILLINGS[2:])
def test_an_overlong_line_holds_no_control_character(filling: str) -> None:
    for line in clean((filling * 100_000).encode() + b"\n").lines:
        assert not CONTROL.search(line.text)


def test_the_longest_line_is_still_read() -> None:
    (line,) = clean(b"x" * LONGEST_LINE + b"\n").lines
    assert (len(line.text), line.doubt) == (LONGEST_LINE, "")


def test_pager_prompts_behind_each_other_are_one_pager_that_waits() -> None:
    text = clean(b"fan-1 ok\n--More--   --More-- fan-2 ok\n--More-- --More--")
    assert ([(1, "fan-1 ok"), (2, "fan-2 ok")], True) == ([(n, t) for n, t, _ in text.lines], text.ends_at_pager)


# ---- laws of cleaning


def doubtless(raw: bytes) -> list[str]:
    return [line.text for line in clean(raw).lines if not line.doubt]


@given(NOISE)
@example(b"-More-\t-More-")
def test_what_was_cleaned_is_clean(raw: bytes) -> None:
    """Cleaning its own result changes nothing any more."""
    once = doubtless(raw)
    assert doubtless("".join(f"{text}\n" for text in once).encode()) == once


@given(NOISE, st.integers(0, 50))
def test_lines_put_before_a_text_move_its_numbers_and_nothing_else(raw: bytes, count: int) -> None:
    # Without a newline of its own a text may be one whose lines end with a lone return.
    text = raw.replace(IAC, b"") + b"\n"
    before = "".join(f"row {n}\n" for n in range(count)).encode()
    both = clean(before + text).lines
    assert [(line.number, line.text) for line in both[:count]] == [(n + 1, f"row {n}") for n in range(count)]
    if decodes(text):
        assert [(number - count, text, doubt) for number, text, doubt in both[count:]] == clean(text).lines


@given(NOISE, NOISE)
def test_two_texts_with_a_line_end_between_are_cleaned_like_one(one: bytes, two: bytes) -> None:
    one, two = (text.replace(IAC, b"") + b"\n" for text in (one, two))
    if decodes(one) and decodes(two) and not two.startswith(b"\xef\xbb\xbf"):
        first, second, both = clean(one), clean(two), clean(one + two)
        count = one.count(b"\n")
        moved = [(number + count, text, doubt) for number, text, doubt in second.lines]
        assert both.lines == [*first.lines, *moved]


def decodes(raw: bytes) -> bool:
    """Whether it is UTF-8; bytes that are not are read one by one, and then all of the text is."""
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


@given(st.lists(st.text("abc 019:|.", min_size=1, max_size=30).filter(str.strip), min_size=1, max_size=12))
def test_what_is_plain_stays_as_it_is(rows: list[str]) -> None:
    raw = "".join(f"{row}\r\n" for row in rows).encode()
    assert [(line.number, line.text, line.doubt) for line in clean(raw).lines] == [
        (number, row.rstrip(), "") for number, row in enumerate(rows, 1)
    ]


def test_a_document_on_one_line_may_be_coloured_and_end_in_two_returns() -> None:
    """What prints JSON often prints it on one line, far wider than a terminal's row."""
    long = '{"a": "' + "x" * 9000 + '"}'
    coloured = long.replace('"a"', '\x1b[34;1m"a"\x1b[0m')
    for raw in (f"{coloured}\r\r\n", f"\x1b[0m{coloured}\n"):
        (line,) = clean(raw.encode()).lines
        assert long == line.text
    (line,) = clean(f"{long}\x1b[5D\x1b[K\n".encode()).lines
    assert long != line.text or line.doubt


@given(st.lists(st.sampled_from([b"\r\n", b"\n", b"\r", b"a", b" ", b"\t", b"\x7f", b"\x1b", b"\x9b", "é".encode()])))
def test_plain_text_is_told_from_text_to_be_played(pieces: list[bytes]) -> None:
    """The short way says plain only of what the long way says so of, and of all ASCII that it does."""
    raw = b"".join(pieces)
    text = raw.decode("utf-8", "replace").replace("\r\n", "\n").replace("\n", "")
    assert _is_plain(raw) == (text.isascii() and text.isprintable())
