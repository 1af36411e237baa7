"""Turns what a console sent into the lines a person would have seen, each with its raw line number.

A console stream is not text: pagers print a prompt and overwrite it after a carriage return, echoes
are rubbed out with backspaces, colours and cursor keys arrive as escape sequences. Deleting escape
sequences is not enough (`--More--` would run into the next row), so each line is played through one
row of a terminal. What one row cannot reproduce (a cursor that wanders over the screen, a control
string that never ends) is not guessed at: the line is kept with a `doubt` and is read by nobody.

Sources: control functions and their byte ranges ECMA-48 (5th ed.); Telnet commands RFC 854; the
doubled 255 RFC 1123 section 3.2.6.
"""

import hashlib
import re
from collections.abc import Iterable
from functools import partial
from itertools import count, repeat

from consolecheck.records.text import Line

LONGEST_LINE = 4096
"""Characters; no table row is that long, and a longer line is not worth a regular expression's time."""
TOO_LONG = f"longer than {LONGEST_LINE} characters"
"""The doubt of such a line. No expression of a dialect looks further than that into it."""
_CUT = f"longer than {LONGEST_LINE} characters, of which the others are not kept"
_MOST_ROWS = 256
"""Rows that one line of the file may fill by going down without a newline."""
_MOST_CONTROLS = 4096
"""Pieces of text and controls that are played of one line; a row that is redrawn so often shows no table."""
_CROWDED = "more controls than a line of text has"

OVERWRITTEN = "text was written over: "
"""How the doubt of a line begins on whose row something stood before; what stood there follows."""


class CleanText:
    """The lines of a text, and how it ended.

    Of a text without any control character (`plain`) line and number follow from each other, so lines are made only
    where they are asked for: of most of them it is known from earlier texts what they say.
    """

    __slots__ = ("_lines", "contents", "ends_at_pager", "ends_mid_line", "overwritten")

    def __init__(
        self,
        lines: list[Line] | None,
        ends_mid_line: bool,
        ends_at_pager: bool,
        overwritten: bool = False,
        contents: list[str] | None = None,
    ) -> None:
        self._lines = lines
        self.contents = [line.text for line in lines or ()] if contents is None else contents
        """What the lines show, in order."""
        self.ends_mid_line = ends_mid_line
        self.ends_at_pager = ends_at_pager
        self.overwritten = overwritten
        """Whether any line still is in doubt for having been written over."""

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CleanText) and self._told() == other._told()

    __hash__ = None  # type: ignore[assignment]

    def _told(self) -> tuple[list[Line], bool, bool, bool]:
        return self.lines, self.ends_mid_line, self.ends_at_pager, self.overwritten

    @property
    def plain(self) -> bool:
        """Whether no line is in doubt, and each is the line of the untouched file that its place says."""
        return self._lines is None

    @property
    def lines(self) -> list[Line]:
        return self.part(0, len(self.contents)) if self._lines is None else self._lines

    def part(self, begin: int, end: int) -> list[Line]:
        """The lines from one place to before another, places from zero."""
        if self._lines is not None:
            return self._lines[begin:end]
        return list(map(_line, zip(range(begin + 1, end + 1), self.contents[begin:end], repeat(""))))

    @property
    def last_number(self) -> int:
        """The number of the last line; 0 where there is none."""
        if self._lines is None:
            return len(self.contents)
        return self._lines[-1].number if self._lines else 0

    @property
    def digest(self) -> str:
        """SHA-256 of what the lines show, without blanks at their ends: two texts with one digest look the same."""
        shown = "\n".join(self.contents if self.plain else map(str.rstrip, self.contents)).rstrip()
        return hashlib.sha256(shown.encode("utf-8", "surrogateescape")).hexdigest()


_IAC, _SB, _SE = 0xFF, 0xFA, 0xF0
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]")
_TOKEN = re.compile(
    r"(?P<text>[^\x00-\x1f\x7f-\x9f]+)"
    r"|(?:\x1b\[|\x9b)(?P<parameters>[\x30-\x3f]*)[\x20-\x2f]*(?P<final>[\x40-\x7e])"
    r"|(?P<string>(?:\x1b[\]PX^_]|[\x90\x98\x9d-\x9f])[^\x07\x1b\x9c]*(?P<ended>\x07|\x1b\\|\x9c)?)"
    r"|\x1b[\x20-\x2f]*(?P<escape>[\x30-\x7e])"
    r"|(?P<control>[\x00-\x1f\x7f-\x9f])"
)
_UNSEEN = re.compile(r"\x00|\x1b\[[\d;]*m|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|(?:\x1b\[0?K|\r)+\Z")
"""What shows nothing and moves nothing: it is taken off a line that is longer than a row of cells may be, such as JSON
on one line, which would else be in doubt for a colour in front of it."""
# Moves to another row, scrolls, or changes how later text lands: one row cannot show the result.
_WANDERING_CSI = frozenset("ABEFLMSTderu")
_WANDERING_ESCAPES = frozenset("8DEM")
_PAGER_PROMPT = re.compile(
    r"\s*(?:(?:< ?)?-{1,6}\s?\(?more\)?\s?-{1,6}\s?>?(?:\s?\(\d{1,3}%\))?"
    r"|\(END\)|press (?:any key|space|enter|<\w+>) to continue[^|]*|lines \d+-\d+(?:/\d+)?(?: \(END\))?(?=\s*\Z))",
    re.IGNORECASE,
)
_HARMLESS_UNDER = re.compile(rf"(?:{_PAGER_PROMPT.pattern})|:", re.IGNORECASE)
"""What may stand under a row that was written over: a pager's prompt, and the colon of one that has no more."""
_PAGER_HINTS = ("-more", "-More", "-MORE", "- more", "- More", "- MORE", "-(more", "(END)", "ress ", "PRESS ", "lines ")


def without_telnet(raw: bytes) -> bytes:
    """Drops Telnet commands (RFC 854) and undoubles data byte 255.

    Safe on any UTF-8 text, in which byte 255 never occurs.
    """
    if _IAC not in raw:
        return raw
    out = bytearray()
    at, end = 0, len(raw)
    while at < end:
        if raw[at] != _IAC:
            out.append(raw[at])
            at += 1
            continue
        length = _command_length(raw, at)
        if raw[at : at + 2] == _DOUBLED:
            out.append(_IAC)
        # A newline byte within a command still is a line of the untouched file.
        out.extend(b"\n" * raw.count(b"\n", at, at + length))
        at += length
    return bytes(out)


_DOUBLED = bytes((_IAC, _IAC))


def _command_length(raw: bytes, at: int) -> int:
    """Bytes of the Telnet command at `at`, which may be cut off by the end."""
    code = raw[at + 1] if at + 1 < len(raw) else 0
    if code < _SE:  # not a command: a lone 255
        return 1
    if code == _SB:
        close = at + 2
        while (close := raw.find(_IAC, close)) >= 0:  # a doubled 255 is data of the parameters (RFC 855)
            if raw[close + 1 : close + 2] == bytes((_SE,)):
                return close + 2 - at
            close += 2
        return len(raw) - at
    return 3 if 0xFB <= code <= 0xFE else 2  # WILL, WONT, DO and DONT have an option byte


def decoded(raw: bytes) -> str:
    """UTF-8 where it is, else one character a byte, so that nothing is lost or refused."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


_line = partial(tuple.__new__, Line)
_PLAIN_BYTES = bytes((0x0A, *range(0x20, 0x7F)))


def _is_plain(data: bytes) -> bool:
    """Whether it is ASCII without any control character but its line ends: told sooner than by characters."""
    others = data.translate(None, _PLAIN_BYTES)
    return len(others) == data.count(b"\r\n")


def clean(raw: bytes) -> CleanText:
    """The visible lines of `raw`, with the usual pager prompts taken out."""
    data = without_telnet(raw)
    text = decoded(data).removeprefix("\ufeff").replace("\r\n", "\n")
    one_line = "\n" not in text and "\r" in text  # old terminal logs end lines with a lone carriage return
    numbers: Iterable[int] = repeat(1) if one_line else count(1)
    pieces = text.split("\r" if one_line else "\n")
    # The piece behind the last line end is a line only if something stands in it.
    ends_mid_line = pieces[-1] != ""
    if not ends_mid_line:
        pieces.pop()
    played = not _is_plain(data) and not text.replace("\n", "").isprintable() and _CONTROL.search(text) is not None
    too_long = len(text) > LONGEST_LINE and len(max(pieces, key=len, default="")) > LONGEST_LINE
    if not played and not too_long:
        cleaned = CleanText(None, ends_mid_line, False, False, list(map(str.rstrip, pieces)))
    else:
        lines: list[Line] = []
        for number, piece in zip(numbers, pieces, strict=False):
            if len(piece) > LONGEST_LINE:
                piece = _UNSEEN.sub("", piece)
            if _CONTROL.search(piece) is None:
                lines.append(Line(number, piece.rstrip()))
            else:
                lines.extend(_played(number, piece))
        if too_long:
            lines = [
                Line(number, text, doubt or TOO_LONG if len(text) > LONGEST_LINE else doubt)
                for number, text, doubt in lines
            ]
        cleaned = CleanText(lines, ends_mid_line, False, played and any(line.doubt for line in lines))
    if cleaned.overwritten:
        cleaned = without_harmless_overwriting(cleaned, _HARMLESS_UNDER)
    # One of these stands in every hint, in whatever letters: unrolled, since this is asked of every text.
    small = text.lower()
    if ("more" in small or "(end)" in small or "ress " in small or "lines " in small) and any(
        hint in text for hint in _PAGER_HINTS
    ):
        cleaned = without_pager(cleaned, _PAGER_PROMPT)
    return cleaned


def without_harmless_overwriting(text: CleanText, expected: re.Pattern[str]) -> CleanText:
    """Takes the doubt off lines under which nothing stood but what was expected, such as a pager's prompt."""
    kept = []
    for line in text.lines:
        under = line.doubt.removeprefix(OVERWRITTEN)
        if under != line.doubt and expected.fullmatch(under.strip()):
            if line.text or under.strip() == ":":
                kept.append(Line(line.number, line.text))
            else:  # the prompt was rubbed out and nothing came: as if it still stood there
                kept.append(Line(line.number, under.strip()))
        else:
            kept.append(line)
    return CleanText(kept, text.ends_mid_line, text.ends_at_pager, any(line.doubt for line in kept))


def without_pager(text: CleanText, pager: re.Pattern[str]) -> CleanText:
    """The text without a pager's prompts; a row that runs on behind a prompt is kept, without the prompt."""
    kept: list[Line] = []
    at_pager = found = False
    for line in text.lines:
        match = pager.match(line.text, 0, LONGEST_LINE)
        if match is None or match.end() == 0:
            kept.append(line)
            at_pager = at_pager and not line.text
            continue
        found = True
        rest = line.text
        while match is not None and match.end():  # one may stand behind another that was not rubbed out
            rest = rest[match.end() :].strip()
            match = pager.match(rest, 0, LONGEST_LINE)
        if rest:
            kept.append(Line(line.number, rest, line.doubt))
            at_pager = False
        else:
            at_pager = True
    if not found:
        return text
    return CleanText(kept, text.ends_mid_line, at_pager or text.ends_at_pager, text.overwritten)


class _TerminalRow:
    """One row of a terminal: characters, a cursor, and the rows finished so far."""

    def __init__(self, number: int) -> None:
        self.number = number
        self.cells: list[str] = []
        self.cursor = 0
        self.doubt = ""
        self.under = ""
        """What stood on the row before something first went over it."""
        self.done: list[Line] = []

    def write(self, text: str) -> None:
        if self.cursor > len(self.cells):
            self.cells.extend(" " * (self.cursor - len(self.cells)))
        under = self.cells[self.cursor : self.cursor + len(text)]
        if any(was not in (" ", now) for was, now in zip(under, text, strict=False)):
            # Blanks hide text as well as other characters do; the same text typed again hides nothing.
            self.hide()
        self.cells[self.cursor : self.cursor + len(text)] = text
        self.cursor += len(text)
        self.shorten()

    def hide(self) -> None:
        self.under = self.under or "".join(self.cells).rstrip()

    def shorten(self) -> None:
        """Keeps the row, and with it the work of every later control, to a bounded length."""
        if len(self.cells) > LONGEST_LINE or self.cursor > LONGEST_LINE:
            del self.cells[LONGEST_LINE:]
            self.cursor = min(self.cursor, LONGEST_LINE)
            self.doubt = self.doubt or _CUT

    def finish(self, column: int = 0) -> None:
        text = "".join(self.cells).rstrip()
        doubt = self.doubt or (OVERWRITTEN + self.under if self.under else "")
        if text or doubt:
            self.done.append(Line(self.number, text, doubt))
        self.cells, self.cursor, self.doubt = [], column, ""
        self.under = ""

    def control(self, char: str) -> None:
        if char == "\r":
            self.cursor = 0
        elif char == "\b":
            self.cursor = max(0, self.cursor - 1)
        elif char == "\t":
            self.cursor = (self.cursor // 8 + 1) * 8
            self.shorten()
        elif char in "\v\f\x84":  # these go down a row and stay in the column
            self.finish(self.cursor)
        elif char == "\x85":
            self.finish()
        elif char == "\x8d":
            self.doubt = "the cursor moved up over earlier text"

    def sequence(self, parameters: str, final: str) -> None:
        first = parameters.split(";")[0]
        count = min(int(first), LONGEST_LINE) if first.isdecimal() else 0
        steps = max(count, 1)
        cursor = self.cursor
        if parameters[:1] in ("<", "=", ">", "?"):  # private: modes and reports, but also selective erasing
            if final in "JK":
                self.doubt = "text was erased in a private way"
            return
        if final == "C":
            self.cursor = min(cursor + steps, LONGEST_LINE)
        elif final == "D":
            self.cursor = max(0, cursor - steps)
        elif final in "G`":
            self.cursor = steps - 1
        elif final in "KJPX@":
            self.erase(final, count, steps)
        elif final in "Hf":
            if parameters in ("", "1", "1;1", ";"):
                self.finish()
            else:
                self.doubt = "the cursor was placed elsewhere on the screen"
        elif final in _WANDERING_CSI or (final == "h" and parameters == "4"):
            self.doubt = "the cursor moved to other lines"

    def erase(self, final: str, count: int, steps: int) -> None:
        """EL, ED, DCH, ECH and ICH."""
        cells, cursor = self.cells, self.cursor
        if final == "J" and count > 1:  # the whole screen: what stood before stays readable, on a line of its own
            self.finish(cursor)
            return
        before = self.under or "".join(cells).rstrip()  # what stood there first is all that will be told
        if final == "P":
            del cells[cursor : cursor + steps]
        elif final == "X":
            cells[cursor : cursor + steps] = " " * len(cells[cursor : cursor + steps])
        elif final == "@":
            cells[cursor:cursor] = " " * steps
            self.shorten()
        elif count == 0:
            del cells[cursor:]
        elif count == 1:
            cells[: cursor + 1] = " " * (cursor + 1)
        else:
            cells.clear()
        if not self.under and "".join(cells).rstrip() != before:
            self.under = before


def _played(number: int, piece: str) -> list[Line]:
    if len(piece) > 16 * LONGEST_LINE:
        return [Line(number, _CONTROL.sub("?", piece[:LONGEST_LINE]), _CUT)]
    row = _TerminalRow(number)
    for tried, token in enumerate(_TOKEN.finditer(piece)):
        if tried == _MOST_CONTROLS or len(row.done) == _MOST_ROWS:
            row.doubt = _CROWDED
            row.finish()
            row.done.append(Line(number, _CONTROL.sub("?", piece[token.start() :][:LONGEST_LINE]), _CROWDED))
            return row.done
        group = token.lastgroup
        if group == "text":
            row.write(token.group())
        elif group == "final":
            row.sequence(token.group("parameters"), token.group("final"))
        elif group == "control":
            row.control(token.group())
        elif group == "string":
            if token.group("ended") is None:
                row.doubt = "an unfinished control string hides what follows"
        elif group == "escape" and token.group("escape") in _WANDERING_ESCAPES and len(token.group()) == 2:
            row.doubt = "the cursor moved to other lines"
        elif group == "escape" and token.group() == "\x1bc":
            row.finish()
    row.finish()
    return row.done or [Line(number, "")]
