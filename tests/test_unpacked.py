"""What recordings unpack to: the device's bytes, line for line, and never more sure than the recording was.

Sources of the samples: the asciicast v2 and v3 format documents; script(1) of util-linux 2.38.1 as run;
RFC 3339 section 5.8.
"""

import json
import os
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.reader import read_text
from consolecheck.reading.recorded import RecordingFault, unpacked
from consolecheck.reading.screen import clean

CASES = list(cases_of(shipped("fixtures"), "wexcombe"))
SIDES = [(case, side) for case in CASES for side in ("before", "after")]
GOOD = next(case for case in CASES if case.folder.name == "psu-2-replaced").text("after")


def cast(*events: object, header: object = None) -> bytes:
    head = {"version": 2, "width": 100, "height": 50} if header is None else header
    return b"".join(json.dumps(line).encode() + b"\n" for line in (head, *events))


def same_reading(raw: bytes, of: bytes, shifted: int = 0) -> None:
    """Both texts read the same, on the same lines but for a shift."""
    got, wanted = (read_text(text, "x", dialects()) for text in (raw, of))
    assert [s.reading for s in wanted.sightings] == [s.reading for s in got.sightings]
    assert [[n + shifted for n in s.lines] for s in wanted.sightings] == [list(s.lines) for s in got.sightings]
    assert [(t.table, t.cut) for t in wanted.tables] == [(t.table, t.cut) for t in got.tables]
    assert [u.text for u in wanted.unread] == [u.text for u in got.unread]


def said_of(raw: bytes, timing: bytes | None) -> str:
    """The sentence with which a recording is refused, or a word that it is not."""
    try:
        unpacked(raw, timing)
    except RecordingFault as reason:
        return str(reason)
    return "unpacked, and not refused"


# ---- plain text


@pytest.mark.parametrize(("case", "side"), SIDES, ids=lambda x: x if isinstance(x, str) else x.folder.name)
def test_plain_text_is_returned_as_it_is(case: object, side: str) -> None:
    raw = case.text(side)  # type: ignore[attr-defined]
    assert (raw, "text", (), "", False, "") == unpacked(raw)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\n",
        b'{"version": 2}\n',
        b'{"version": "9.3(5)", "width": 1}\n{"a": 1}\n',
        b'{\n  "version": 2,\n  "width": 80\n}\n',
        b"{",
        b"[" * 100000,
        b"[1.23, \"o\", \"hello\"]\n",
    ],
)  # fmt: skip
def test_what_only_looks_like_a_recording_is_text(raw: bytes) -> None:
    assert (raw, "text") == unpacked(raw)[:2]


@given(st.binary(max_size=300) | st.text(max_size=200).map(str.encode))
@example(b"Script started on ")
@example(b"[12:00:00]\n" * 3)
def test_any_bytes_are_unpacked_or_refused_with_a_sentence(raw: bytes) -> None:
    for timing in (None, b"0.1 1\n"):
        assert len(said_of(raw, timing)) > 20


@given(st.integers(0, 2000), st.binary(max_size=3))
def test_a_damaged_recording_is_unpacked_or_refused_with_a_sentence(at: int, instead: bytes) -> None:
    whole = cast([0.5, "o", "hello\r\n"], [1, "m", "x"], [2, "o", "wörld\r\n"], [2.5, "b", "/w=="], [3, "o", "\ufffd"])
    at %= len(whole)
    assert len(said_of(whole[:at] + instead + whole[at + 1 :], None)) > 20


# ---- asciicast


def test_the_sample_of_the_document() -> None:
    got = unpacked(b'{"version":2,"width":100,"height":50}\n[1.23, "o", "hello"]\n')
    assert (b"hello", "asciicast-2", ((1, 1.23),), False) == (*got[:3], got.cut)
    assert "recorded output" in got.note


def test_only_output_counts() -> None:
    header = {"version": 2, "width": 80, "height": 24, "timestamp": 1795000000, "env": {"SHELL": None}, "theme": None}
    events = [
        [0, "o", "a\r\n"], [0.5, "i", "x"], [1, "m", ""], [1, "r", "100x50"], [1, "q", {"any": 1}], [1.5, "o", "b\r\nc"],
        [2, "o", "d\r\ne"],
    ]  # fmt: skip
    got = unpacked(cast(*events, header=header).replace(b"\n", b"\n\n  \n"))
    assert b"a\r\nb\r\ncd\r\ne" == got.raw
    assert ((1, 0.0), (2, 1.5), (4, 2.0)) == got.marks
    assert got.times == "since-start"
    assert not got.cut


def test_text_beyond_ascii_pairs_and_bytes_that_are_none() -> None:
    raw = b'{"version":2,"width":1,"height":1}\r\n[1,"o","\xc2\xb0 \\ud83d\\ude00 \\udcff"]\r\n'
    assert "° 😀 ".encode() + b"\xff" == unpacked(raw).raw
    assert "exact" not in unpacked(raw).note


def test_exact_bytes_are_taken_only_where_they_fit_the_text() -> None:
    assert b"a\xffb" == unpacked(cast([1, "b", "Yf9i"], [1, "o", "a\ufffdb"])).raw
    assert b"other" == unpacked(cast([1, "b", "Yf9i"], [1, "o", "other"])).raw
    assert b"other" == unpacked(cast([1, "b", "no base64"], [1, "o", "other"])).raw


def test_a_recording_of_ours_that_was_cut_before_the_text_of_its_exact_bytes_counts_as_cut() -> None:
    got = unpacked(cast([1, "o", "hello\n"], [2, "b", "Yf9i"]))
    assert (b"hello", True) == (got.raw, got.cut)


def test_a_mark_of_byte_order_is_no_text() -> None:
    assert b"hello" == unpacked(b"\xef\xbb\xbf" + cast([1, "o", "hello"])).raw
    assert b"a\nb\nc\n" == unpacked(b"\xef\xbb\xbf" + stamped(b"a\nb\nc\n", FORMS["time"])).raw


def cut_ends() -> Iterator[bytes]:
    last = b'[2.5, "o", "world\\r\\n"]'
    for length in range(1, len(last)):
        yield last[:length]


@pytest.mark.parametrize("end", list(cut_ends()))
def test_a_cut_last_line_is_no_error_of_the_rest_but_the_text_counts_as_cut(end: bytes) -> None:
    got = unpacked(cast([1, "o", "hello\r\n"]) + end)
    assert b"hello" == got.raw
    assert got.cut
    assert "cut" in got.note
    assert clean(got.raw).ends_mid_line


def test_a_telnet_command_at_the_end_does_not_make_a_cut_text_whole() -> None:
    got = unpacked(cast([1, "o", "hello\r\n\udcff\udcf1\r\n"]) + b"[2")
    assert clean(got.raw).ends_mid_line


def test_a_last_line_that_only_lacks_its_end_is_whole() -> None:
    got = unpacked(cast([1, "o", "hello\r\n"]).rstrip(b"\n"))
    assert (b"hello\r\n", False) == (got.raw, got.cut)


def test_a_cut_recording_leaves_its_last_table_cut() -> None:
    lines = GOOD.splitlines(keepends=True)
    for rows in range(5, len(lines)):
        recording = cast(*([n, "o", line.decode()] for n, line in enumerate(lines[:rows]))) + b'[99.5, "o", "'
        got = read_text(unpacked(recording).raw, "x", dialects())
        assert got.tables[-1].cut, rows
    whole = unpacked(cast(*([n, "o", line.decode()] for n, line in enumerate(lines))))
    same_reading(whole.raw, GOOD)


def test_version_3_counts_intervals_and_has_comments() -> None:
    header = {"version": 3, "term": {"cols": 80, "rows": 24, "type": "xterm"}}
    raw = cast([0.25, "o", "a\n"], [0.5, "i", "x"], [1.0, "o", "b\n"], [0.25, "x", "0"], header=header)
    got = unpacked(raw.replace(b"[1.0", b"# a comment\n[1.0"))
    assert (b"a\nb\n", "asciicast-3", ((1, 0.25), (2, 1.75))) == got[:3]


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (cast(header={"version": 1, "width": 80, "height": 24, "stdout": [[1, "x"]]}), "version 1"),
        (cast(header={"version": 4, "term": {}}), "version 4"),
        (cast([1, "o", "a"], {"b": 1}, [2, "o", "c"]), "line 3"),
        (cast([1, "o", "a"], [-1, "o", "b"], [2, "o", "c"]), "line 3"),
        (cast([1, "o", "a"], [True, "o", "b"], [2, "o", "c"]), "line 3"),
        (cast([1, "o", "a"], [float("nan"), "o", "b"], [2, "o", "c"]), "line 3"),
        (cast([1, "o", "a"], [1, "o", None], [2, "o", "c"]), "line 3"),
        (cast([1, "o", "a"]) + b"[" * 100000 + b"\n" + b'[2,"o","c"]', "line 3"),
        (cast([1, "o", "a"]) + b'[1,"o","\xff"]\n[2,"o","c"]', "line 3"),
        (cast([1, "i", "a"]), "no output"),
        (cast([1, "o", "a"], [2, "o", "c"])[:-60].replace(b"}", b"") + b'\n[2,"o","c"]', "header"),
    ],
    ids=lambda x: "" if isinstance(x, bytes) else x,
)
def test_what_is_not_understood_is_refused(raw: bytes, said: str) -> None:
    with pytest.raises(RecordingFault, match=said):
        unpacked(raw)


@given(st.lists(st.text("ab\n", max_size=6), max_size=8).filter(lambda pieces: "".join(pieces) != ""))
def test_each_line_is_marked_with_the_time_it_began(pieces: list[str]) -> None:
    began: dict[int, float] = {}
    line, fresh = 1, True
    for seconds, piece in enumerate(pieces):
        for char in piece:
            if fresh:
                began[line] = seconds
            fresh = char == "\n"
            line += fresh
    given_marks = unpacked(cast(*([n, "o", piece] for n, piece in enumerate(pieces)))).marks
    marks = dict(given_marks)
    assert len(marks) == len(given_marks)
    assert list(marks) == sorted(marks)
    got, last = {}, -1.0
    for number in range(1, max(began) + 1):
        last = got[number] = marks.get(number, last)
    assert began == got


# ---- typescript

STARTED = b'Script started on 2026-11-18 06:12:40+00:00 [COMMAND="x" <not executed on terminal>]\n'
DONE = b'\nScript done on 2026-11-18 06:12:41+00:00 [COMMAND_EXIT_CODE="0"]\n'
ADVANCED = b"""H 0.000000 START_TIME 2026-11-18 06:12:40+00:00
H 0.000000 COMMAND x
H 0.000000 TIMING_LOG timing
H 0.000000 OUTPUT_LOG typescript
H 0.000000 INPUT_LOG input
O 0.010118 7
I 0.100000 400
S 0.100000 SIGWINCH ROWS=24 COLS=80
O 0.092230 7
H 0.000000 DURATION 0.314208
"""


def test_a_typescript_as_run() -> None:
    got = unpacked(STARTED + b"hello\r\nworld\r\n" + DONE, b"0.010118 7\n0.292230 7\n")
    assert (b"\nhello\r\nworld\r\n", "typescript", False, "since-start") == (got.raw, got.format, got.cut, got.times)
    assert [2, 3] == [line for line, _ in got.marks]
    assert pytest.approx([0.010118, 0.302348]) == [seconds for _, seconds in got.marks]


def test_the_advanced_timing_counts_output_bytes_and_all_delays() -> None:
    got = unpacked(STARTED + b"hello\r\nworld\r\n" + DONE, ADVANCED)
    assert pytest.approx([0.010118, 0.302348]) == [seconds for _, seconds in got.marks]


def test_a_typescript_reads_as_the_plain_text_one_line_further_on() -> None:
    got = unpacked(STARTED + GOOD + DONE)
    assert b"\n" + GOOD == got.raw
    assert ((), "") == (got.marks, got.times)
    same_reading(got.raw, GOOD, shifted=1)


def test_a_row_that_the_end_of_script_cut_is_not_completed_by_its_newline() -> None:
    row = GOOD.index(b"  2    serving")
    cut = GOOD[: row + 20]
    assert b"\n" + cut == unpacked(STARTED + cut + DONE).raw
    assert read_text(unpacked(STARTED + cut + DONE).raw, "x", dialects()).tables[-1].cut


@pytest.mark.parametrize("end", [b"", b"\n", b"\r\n\n", b"\r\nScript do"])
def test_without_its_last_line_a_typescript_counts_as_cut(end: bytes) -> None:
    got = unpacked(STARTED + b"hello" + end, b"0.010118 7\n")
    assert got.cut
    assert clean(got.raw).ends_mid_line
    assert "cut" in got.note


def test_a_second_session_in_the_same_typescript_is_not_hidden() -> None:
    got = unpacked(STARTED + GOOD + DONE + STARTED + GOOD + DONE)
    assert [b"Script done", b"Script star"] == [
        line[:11] for line in got.raw.split(b"\n") if line.startswith(b"Script")
    ]
    assert read_text(got.raw, "x", dialects()).unread


@pytest.mark.parametrize(
    ("timing", "said"),
    [
        (b"0.1 7\n", "counts 7 bytes"),
        (b"0.1 7\n0.1 8\n", "counts 15 bytes"),
        (b"0.1 7\nwhat\n0.1 7\n", "line 2"),
        (b"O 0.1 seven\n", "line 1"),
        (ADVANCED.replace(b"INPUT_LOG input", b"INPUT_LOG typescript"), "typed"),
    ],
)
def test_a_timing_that_does_not_fit_is_refused(timing: bytes, said: str) -> None:
    with pytest.raises(RecordingFault, match=said):
        unpacked(STARTED + b"hello\r\nworld\r\n" + DONE, timing)


def test_timing_without_typescript_and_typescript_without_text_are_refused() -> None:
    with pytest.raises(RecordingFault, match="leave it away"):
        unpacked(GOOD, b"0.1 7\n")
    with pytest.raises(RecordingFault, match="no output"):
        unpacked(STARTED + DONE)


@pytest.mark.skipif(shutil.which("script") is None, reason="util-linux's script is not here")
@pytest.mark.parametrize("timing", ["classic", "advanced"])
def test_a_real_typescript(tmp_path: Path, timing: str) -> None:
    version = subprocess.run(["script", "--version"], capture_output=True, text=True, check=False).stdout
    if "util-linux" not in version:
        pytest.skip("this script is not util-linux's")
    (tmp_path / "after").write_bytes(GOOD.replace(b"\r\n", b"\n"))
    subprocess.run(
        ["script", "-q", "-c", "cat after; sleep 0.2; printf 'tern-04 ~> '", "-m", timing, "-T", "timing", "-O", "out"],
        cwd=tmp_path, check=True, capture_output=True, stdin=subprocess.DEVNULL, env={**os.environ, "LC_ALL": "C"},
    )  # fmt: skip
    got = unpacked((tmp_path / "out").read_bytes(), (tmp_path / "timing").read_bytes())
    expected = GOOD + b"tern-04 ~> "
    assert b"\n" + expected == got.raw
    assert not got.cut
    same_reading(got.raw, expected, shifted=1)
    assert [] == [m for m in got.marks if not 0 <= m[1] < 60]
    if not GOOD.endswith(b"\n"):  # else the prompt began a line, after the pause
        return
    assert got.marks[-1][0] == expected.count(b"\n") + 2
    assert got.marks[-1][1] >= 0.2


# ---- a time before each line


def stamped(raw: bytes, stamp: Callable[[int], str]) -> bytes:
    """As a terminal program writes it: the stamp, then what came, on each line."""
    lines = raw.split(b"\n")
    last = lines.pop()
    out = [stamp(n).encode() + line for n, line in enumerate(lines)]
    return b"\n".join([*out, stamp(len(lines)).encode() + last if last else b""])


def at(second: int) -> str:
    return f"{6 + second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}"


FORMS: dict[str, Callable[[int], str]] = {
    "milliseconds": lambda n: f"[2026-11-18 {at(n)}.{n % 1000:03}] ",
    "comma": lambda n: f"[2026-11-18 {at(n)},{n % 1000:03}] ",
    "rfc3339": lambda n: f"2026-11-18T{at(n)}Z ",
    "rfc3339-small": lambda n: f"2026-11-18t{at(n)}z ",
    "rfc3339-offset": lambda n: f"2026-11-18T{at(n)}.5+05:45 ",
    "in-brackets-offset": lambda n: f"[2026-11-18T{at(n)}-08:00] ",
    "time": lambda n: f"[{at(n)}] ",
    "round": lambda n: f"({at(n)}) ",
    "tab": lambda n: f"[{at(n)}.123]\t",
    "tight": lambda n: f"[{at(n)}]",
    "slashes": lambda n: f"(2026/11/18 {at(n)}) ",
    "named": lambda n: f"[Wed Nov 18 {at(n)}.123 2026] ",
}


@pytest.mark.parametrize("form", FORMS)
def test_a_stamped_log_reads_as_the_plain_text(form: str) -> None:
    for case, side in SIDES:
        raw = case.text(side)
        got = unpacked(stamped(raw, FORMS[form]))
        assert (raw, "stamped", False) == (got.raw, got.format, got.cut), case.folder.name
        assert [line for line, _ in got.marks][:3] == [1, 2, 3]
        same_reading(got.raw, raw)


def test_a_few_lines_without_a_stamp_stay_as_they_are() -> None:
    lines = stamped(GOOD, FORMS["time"]).split(b"\n")
    lines[7] = b"as found"
    got = unpacked(b"\n".join(lines))
    assert [b"as found"] == got.raw.split(b"\n")[7:8]
    assert "1 line has none" in got.note
    assert read_text(got.raw, "x", dialects()).unread


def test_the_commonest_form_is_the_stamp() -> None:
    raw = b"\n".join([b"(06:12:40) odd", *([b"[06:12:40] even"] * 30)])
    assert b"\n".join([b"(06:12:40) odd", *([b"even"] * 30)]) == unpacked(raw).raw


@pytest.mark.parametrize(
    "raw",
    [
        b"[06:12:40] a\n[06:12:41] b\n",  # too few
        b"[06:12:40] a\nb\n[06:12:41] c\n[06:12:42] d\n",  # not nearly all
        b"[06:12:40] a\n(06:12:41) b\n[06:12:42] c\n(06:12:43) d\n",  # two forms
        b"06:12:40 a\n06:12:41 b\n06:12:42 c\n",  # a device's own column
        b"2026-11-18 06:12:40 a\n2026-11-18 06:12:41 b\n2026-11-18 06:12:42 c\n",
        b"[25:12:40] a\n" * 4,
        b"[06:60:40] a\n" * 4,
        b"[2026-02-30 06:12:40] a\n" * 4,
        b"[ 1.234567] a\n" * 4,
        b"2026-11-18T06:12:40Zulu a\n" * 4,
        b"[06:12:40]\n" * 4,  # nothing behind it
    ],
)
def test_what_is_not_surely_a_stamp_stays(raw: bytes) -> None:
    assert (raw, "text", (), "", False, "") == unpacked(raw)


def test_stamps_do_not_eat_the_blanks_of_rows() -> None:
    got = unpacked(b"[06:12:40] BAYS\r\n[06:12:40]   1  on\r\n[06:12:41]\r\n[06:12:41] \r\n[06:12:42] END")
    assert b"BAYS\r\n  1  on\r\n\r\n\r\nEND" == got.raw
    assert ((1, 22360.0), (3, 22361.0), (5, 22362.0)) == got.marks


def test_a_log_that_ends_within_a_stamp_ends_within_a_line() -> None:
    raw = stamped(GOOD, FORMS["time"])
    assert clean(unpacked(raw + b"[06:12").raw).ends_mid_line


@pytest.mark.parametrize(
    ("stamp", "unix"),
    [
        ("1985-04-12T23:20:50.52Z", 482196050.52),
        ("1996-12-19T16:39:57-08:00", 851042397.0),
        ("1996-12-20T00:39:57Z", 851042397.0),
        ("1990-12-31T23:59:60Z", 662688000.0),
        ("1990-12-31T15:59:60-08:00", 662688000.0),
        ("1937-01-01T12:00:27.87+00:20", -1041337172.13),
        ("2026-11-18t06:12:40z", 1794982360.0),
        ("2026-11-18T06:12:40-00:00", 1794982360.0),
    ],
)
def test_times_of_rfc_3339(stamp: str, unix: float) -> None:
    for form in (f"{stamp} ", f"[{stamp}] "):
        got = unpacked(stamped(b"a\nb\nc\n", lambda _, form=form: form))
        assert got.times == "unix"
        assert ((1, pytest.approx(unix)),) == got.marks


@pytest.mark.parametrize("stamp", ["1990-12-31T12:00:60Z", "1990-12-31T23:59:61Z", "1990-12-31T23:59:60+01:00", "1990-13-01T00:00:00Z"])  # fmt: skip
def test_times_that_rfc_3339_does_not_know(stamp: str) -> None:
    assert unpacked(f"{stamp} a\n".encode() * 4).format == "text"


def test_a_time_without_offset_is_in_an_unknown_zone_and_midnight_goes_on() -> None:
    assert unpacked(b"[2026-11-18 06:12:40] a\n" * 3).times == "local"
    got = unpacked(b"[23:59:59] a\n[23:59:59] b\n[00:00:01] c\n[00:00:01] d\n")
    assert ((1, 86399.0), (3, 86401.0)) == got.marks
    assert got.times == "day"


def test_the_forms_of_these_tests_are_what_they_are_called() -> None:
    assert FORMS["milliseconds"](1) == "[2026-11-18 06:00:01.001] "
    assert re.fullmatch(r"\(06:00:59\) ", FORMS["round"](59))
