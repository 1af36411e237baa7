"""Takes a captured text out of the file format that it was recorded in.

What people have of a session is not always plain text: recordings of a terminal, typescripts, logs of a
terminal program with the time before each line. The format is known by its content. Bytes that the device
did not send are taken out, and nothing else; where that cannot be done surely, a fault says why.

A recording that was cut must not read as if the device had ended there. Its last line end is taken off, so
that the text ends within a line, which every reader takes for cut.

Sources: asciicast v2 and v3 format documents; script(1) and scriptreplay(1) of util-linux; RFC 3339.
"""

import base64
import binascii
import json
import re
from collections import Counter
from collections.abc import Iterable
from datetime import date
from typing import Final, Literal, NamedTuple, NoReturn

from consolecheck.reading.screen import without_telnet

Format = Literal["text", "asciicast-2", "asciicast-3", "typescript", "stamped"]
Times = Literal["", "since-start", "unix", "local", "day"]


class RecordingFault(ValueError):
    """The recording cannot be unpacked. The message says why and what to do next."""


class Unpacked(NamedTuple):
    """The text as the device sent it, and what its recording adds."""

    raw: bytes
    format: Format
    marks: tuple[tuple[int, float], ...]
    """(line, seconds): when the line began; a line without a mark began with the last mark before it."""
    note: str
    """What a person who reads line numbers or the verdict should know of the unpacking; may be empty."""
    cut: bool = False
    """Whether the recording itself ends too early. `raw` then ends within a line."""
    times: Times = ""
    """What the seconds of `marks` count from: the start of the recording, the Unix epoch, the epoch in a zone
    that is not known (only differences mean something), or midnight of the first day."""


def unpacked(raw: bytes, timing: bytes | None = None) -> Unpacked:
    """The text within `raw`; plain text is returned as it is. `timing` is the timing file of a typescript.

    Raises RecordingFault.
    """
    if raw.startswith(_SCRIPT_STARTED):
        return _typescript(raw, timing)
    if timing is not None:
        raise RecordingFault("a timing file belongs to a typescript of `script`, and this is none; leave it away")
    return _asciicast(raw) or _stamped(raw) or Unpacked(raw, "text", (), "")


def _ending_within_a_line(raw: bytes) -> bytes:
    raw = raw.rstrip(b"\r\n")
    seen = without_telnet(raw)  # a command at the end is not seen by those who read lines
    return seen.rstrip(b"\r\n") if seen.endswith(b"\n") else raw


class _Clock:
    """Notes when each line began, from pieces of output with their times."""

    def __init__(self, line: int = 1) -> None:
        self.line = line
        self.fresh = True
        """Nothing has come of the line yet."""
        self.marks: list[tuple[int, float]] = []

    def came(self, piece: bytes, seconds: float) -> None:
        if not piece:
            return
        newlines = piece.count(b"\n")
        begun = self.line if self.fresh else self.line + 1
        self.line += newlines
        self.fresh = piece.endswith(b"\n")
        last_begun = self.line - 1 if self.fresh else self.line
        if begun <= last_begun and (not self.marks or self.marks[-1][1] != seconds):
            self.marks.append((begun, seconds))


# --- asciicast ---------------------------------------------------------------------------------

_EVENT_LIKE: Final = re.compile(rb'\s*\[\s*[0-9][0-9.eE+-]*\s*,\s*"[^"]{1,8}"\s*,')


class _NoEvent(ValueError):
    pass


def _asciicast(raw: bytes) -> Unpacked | None:
    lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    filled = [(number, line) for number, line in enumerate(lines, 1) if line.strip()]
    if not filled or not filled[0][1].lstrip().startswith(b"{"):
        return None
    version = _version(filled[0][1])
    if version is None:
        if len(filled) > 1 and _EVENT_LIKE.match(filled[1][1]):
            raise RecordingFault("this looks like an asciicast, but its header cannot be read; take the original file")
        return None
    if version not in (2, 3):
        raise RecordingFault(f"asciicast version {version} is not read, only 2 and 3; save the session as plain text")
    pieces: list[bytes] = []
    clock = _Clock()
    now = 0.0
    exact: bytes | None = None
    cut = False
    for number, line in filled[1:]:
        if version == 3 and line.startswith(b"#"):  # a comment
            continue
        try:
            seconds, code, data = _event(line)
        except _NoEvent as reason:
            if number == filled[-1][0]:
                cut = True
                break
            raise RecordingFault(f"line {number} of the asciicast {reason}; take the original file") from None
        now = max(now, seconds) if version == 2 else now + seconds
        if code == "o":
            piece = _bytes_of(data, exact)
            pieces.append(piece)
            clock.came(piece, now)
        exact = _base64(data) if code == "b" else None
    if exact is not None:  # cut between the exact bytes of our own recordings and their text
        cut = True
    output = b"".join(pieces)
    note = "line numbers are those of the recorded output, not of the asciicast file"
    if cut:
        output = _ending_within_a_line(output)
        note += "; the last line of the asciicast is cut, so the text counts as cut"
    if not output:
        raise RecordingFault("the asciicast holds no output; record the session again")
    kind: Format = "asciicast-2" if version == 2 else "asciicast-3"
    return Unpacked(output, kind, tuple(clock.marks), note, cut, "since-start")


def _version(line: bytes) -> int | None:
    """The version in an asciicast's header; None if the line is none."""
    try:
        header = _json(line)
    except _NoEvent:
        return None
    if not isinstance(header, dict) or header.keys().isdisjoint(("width", "height", "term", "stdout")):
        return None
    version = header.get("version")
    return version if isinstance(version, int) and not isinstance(version, bool) else None


def _json(line: bytes) -> object:
    try:
        return json.loads(line.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise _NoEvent("is not JSON") from None


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number of JSON")


def _event(line: bytes) -> tuple[float, str, str]:
    event = _json(line)
    if not isinstance(event, list) or len(event) < 3:
        raise _NoEvent("is not an event")
    seconds, code, data = event[:3]
    if isinstance(seconds, bool) or not isinstance(seconds, int | float) or not 0 <= seconds < _LAST_TIME:
        raise _NoEvent("has no time")
    if not isinstance(code, str) or (code in ("o", "b") and not isinstance(data, str)):
        raise _NoEvent("is not an event")
    return float(seconds), code, data if isinstance(data, str) else ""


_LAST_TIME: Final = 1e12


def _base64(text: str) -> bytes | None:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return None


def _bytes_of(text: str, exact: bytes | None) -> bytes:
    # Someone else's event of that code is known by not fitting the text that follows.
    if exact is not None and exact.decode("utf-8", "replace") == text:
        return exact
    try:
        return text.encode("utf-8", "surrogateescape")  # some recorders keep bytes that are no UTF-8 in this way
    except UnicodeEncodeError:
        return text.encode("utf-8", "surrogatepass")


# --- typescript --------------------------------------------------------------------------------

_SCRIPT_STARTED: Final = b"Script started on "
_SCRIPT_DONE: Final = re.compile(rb"\n?^Script done on [^\n]*\n?\Z", re.MULTILINE)
_CLASSIC: Final = re.compile(rb"(\d{1,9}(?:\.\d{1,9})?) (\d{1,9})\Z")
_ADVANCED: Final = re.compile(rb"([HIOS]) (\d{1,9}(?:\.\d{1,9})?) (.*)\Z")


def _typescript(raw: bytes, timing: bytes | None) -> Unpacked:
    _, newline, body = raw.partition(b"\n")
    done = _SCRIPT_DONE.search(body, max(0, body.rfind(b"\nScript done on ")))
    note = "the lines of `script` itself are taken out; the first is kept as an empty line"
    cut = done is None
    if done is not None:
        # Before its last line `script` writes a newline that the device did not send.
        body = body[: done.start()]
    else:
        note += "; its last line is missing, so the text counts as cut"
    clock = _Clock(line=2)
    if timing is not None:
        _time_typescript(body, timing, cut, clock)
    text = newline + body
    if cut:
        text = newline + _ending_within_a_line(body)
    if not body.strip():
        raise RecordingFault("the typescript holds no output; record the session again")
    return Unpacked(text, "typescript", tuple(clock.marks), note, cut, "since-start" if timing is not None else "")


def _time_typescript(body: bytes, timing: bytes, cut: bool, clock: _Clock) -> None:
    now, at = 0.0, 0
    logs: dict[bytes, bytes] = {}
    for number, line in enumerate(timing.splitlines(), 1):
        if not line:
            continue
        if classic := _CLASSIC.match(line):
            now += float(classic[1])
            size = int(classic[2])
        elif advanced := _ADVANCED.match(line):
            now += float(advanced[2])
            if advanced[1] == b"H":
                name, _, value = advanced[3].partition(b" ")
                logs[name] = value
                if logs.get(b"INPUT_LOG", b"") == logs.get(b"OUTPUT_LOG"):
                    raise RecordingFault(
                        "the typescript holds what was typed as well as what was shown, and they cannot be told "
                        "apart by a reader of tables; record with --log-out"
                    )
            if advanced[1] != b"O":  # what was typed stands in another file
                continue
            if not advanced[3].isdigit():
                raise RecordingFault(
                    f"line {number} of the timing file states no number of bytes; take the original file"
                )
            size = int(advanced[3])
        elif cut or number == timing.count(b"\n") + 1:  # the last line, and cut
            break
        else:
            raise RecordingFault(f"line {number} of the timing file is not understood; take the original file")
        clock.came(body[at : at + size], now)
        at += size
    if at != len(body) and not cut:
        raise RecordingFault(
            f"the timing file counts {at} bytes and the typescript has {len(body)}: they are not of one session; "
            "give the timing file of this one, or none"
        )


# --- a time before each line -------------------------------------------------------------------

LEAST_STAMPED: Final = 3
"""Lines. Fewer could be chance."""
MOSTLY_STAMPED: Final = 0.95
"""Share of the lines with text on which a stamp must stand; the others may be continuations."""

_TIME: Final = rb"(?P<hour>\d\d):(?P<minute>\d\d):(?P<second>\d\d)(?:[.,:](?P<fraction>\d{1,9}))?"
_DATE: Final = rb"(?P<year>\d{4})(?P<dash>[-/])(?P<month>\d\d)(?P=dash)(?P<day>\d\d)"
_OFFSET: Final = rb"(?P<offset> ?(?:[Zz]|[+-]\d\d:?\d\d))?"
_OPEN: Final = {b"[": rb"\[", b"(": rb"\("}
_CLOSE: Final = {b"[": rb"\]", b"(": rb"\)"}
_MONTHS: Final = (b"Jan", b"Feb", b"Mar", b"Apr", b"May", b"Jun", b"Jul", b"Aug", b"Sep", b"Oct", b"Nov", b"Dec")
_NAMED: Final = (
    rb"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (?P<name>"
    + b"|".join(_MONTHS)
    + rb") +(?P<day>\d{1,2}) "
    + _TIME
    + rb" (?P<year>\d{4})"
)
# A time alone, or a date with a blank, must stand in brackets: bare, it may as well be a device's own column.
_FORMS: Final = (
    *(
        re.compile(_OPEN[bracket] + inner + _CLOSE[bracket])
        for bracket in (b"[", b"(")
        for inner in (_DATE + rb"[Tt ]" + _TIME + _OFFSET, _TIME, _NAMED)
    ),
    re.compile(_DATE + rb"[Tt]" + _TIME + _OFFSET + rb"(?=[ \t\r]|\Z)"),
)


def _stamped(raw: bytes) -> Unpacked | None:
    lines = raw.split(b"\n")
    lines[0] = lines[0].removeprefix(b"\xef\xbb\xbf")
    filled = sum(1 for line in lines if line.strip())
    if filled < LEAST_STAMPED:
        return None
    form, found = _commonest_form(lines)
    if form is None or len(found) < LEAST_STAMPED or len(found) < MOSTLY_STAMPED * filled:
        return None
    rests = {at: lines[at][stamp.end() :] for at, stamp in found.items()}
    separator = _separator(rests.values())
    if separator is None:
        return None
    marks: list[tuple[int, float]] = []
    days, before = 0, 0.0
    for at, stamp in found.items():
        lines[at] = rests[at].removeprefix(separator)
        seconds = _seconds(stamp)
        assert seconds is not None, "only stamps that are times were kept"
        if "year" not in stamp.re.groupindex:
            if before - seconds > 43200:  # past midnight
                days += 1
            before = seconds
            seconds += days * 86400
        if not marks or marks[-1][1] != seconds:
            marks.append((at + 1, seconds))
    times: Times = "day"
    if "year" in form.groupindex:
        offsets = "offset" in form.groupindex and all(stamp["offset"] for stamp in found.values())
        times = "unix" if offsets else "local"
    note = "the time before each line is cut off"
    if left := filled - len(found):
        note += (
            f"; {left} {'line has' if left == 1 else 'lines have'} none and stand{'s' if left == 1 else ''} as found"
        )
    return Unpacked(b"\n".join(lines), "stamped", tuple(marks), note, False, times)


def _commonest_form(lines: list[bytes]) -> tuple[re.Pattern[bytes] | None, dict[int, re.Match[bytes]]]:
    """The one form of stamp that most lines begin with, and its stamps by place."""
    found: dict[int, tuple[int, bool, re.Match[bytes]]] = {}
    for at, line in enumerate(lines):
        for which, form in enumerate(_FORMS):
            if (stamp := form.match(line)) and _seconds(stamp) is not None:
                zoned = "offset" in form.groupindex and stamp["offset"] is not None
                found[at] = (which, zoned, stamp)
                break
    counted = Counter((which, zoned) for which, zoned, _ in found.values())
    if not counted:
        return None, {}
    (which, zoned), _ = counted.most_common(1)[0]
    return _FORMS[which], {at: stamp for at, (w, z, stamp) in found.items() if (w, z) == (which, zoned)}


def _separator(rests: Iterable[bytes]) -> bytes | None:
    """What stands between stamp and text on every line; None where the lines do not agree on it."""
    first = Counter(rest[:1] for rest in rests if rest.strip(b"\r"))
    if not first:
        return None
    if len(first) == 1:
        only = next(iter(first))
        return only if only in (b" ", b"\t") else b""
    # Without a separator text follows at once, and rows of tables may still begin with blanks.
    return b""


def _seconds(stamp: re.Match[bytes]) -> float | None:
    """The time of a stamp in seconds, or None where there is no such time."""
    part = stamp.groupdict()
    hour, minute, second = int(part["hour"]), int(part["minute"]), int(part["second"])
    if hour > 23 or minute > 59 or second > 60:
        return None
    seconds = float(hour * 3600 + minute * 60 + second)
    if part.get("year") is not None:
        month = int(part["month"]) if "month" in part else _MONTHS.index(part["name"]) + 1
        try:
            days = date(int(part["year"]), month, int(part["day"])).toordinal() - _EPOCH
        except ValueError:
            return None
        seconds += days * 86400
        offset = (part.get("offset") or b"").strip().upper()
        if offset not in (b"", b"Z"):
            hours, minutes = int(offset[1:3]), int(offset[-2:])
            if hours > 23 or minutes > 59:
                return None
            seconds -= (hours * 3600 + minutes * 60) * (-1 if offset.startswith(b"-") else 1)
        if second == 60 and offset and seconds % 86400 != 0:  # a leap second ends a day of UTC
            return None
    return seconds + (float(b"0." + part["fraction"]) if part["fraction"] else 0.0)


_EPOCH: Final = date(1970, 1, 1).toordinal()
