"""What happens to a device's text between the device and the file: every kind of damage, seeded. Pure.

Each kind takes a text and gives it back damaged, or None where it finds nothing to damage. Most of them strike
a cell that was read, since that is where damage does harm; the blind ones (a cut, a burst) strike anywhere.
A kind that is `HARMLESS` changes how a text looks and nothing that it says. Whether the others change what a text
says is not asked here: `truth` compares what is read.
"""

import random
import re
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from typing import Literal, NamedTuple

from consolecheck.reading.dialect import Dialect
from consolecheck.records.readings import Sighting, Snapshot

Group = Literal["harmless", "cut", "lines", "characters", "layout", "splice", "words", "numbers"]


class Cell(NamedTuple):
    """Where a field of a reading stands in the untouched text: index of the line, columns from zero."""

    line: int
    start: int
    end: int
    field: str
    text: str
    sighting: Sighting


class Place:
    """A text that is to be damaged, and what its damage may be made from."""

    def __init__(
        self, text: str, snapshot: Snapshot, dialect: Dialect, unit: str, other: str, elsewhere: Sequence[str] = ()
    ) -> None:
        self.text, self.snapshot, self.dialect, self.unit = text, snapshot, dialect, unit
        self.other = other
        """The text of the same swap from the other time."""
        self.elsewhere = elsewhere
        """Texts of other devices of the family."""

    @cached_property
    def lines(self) -> list[str]:
        return self.text.split("\n")

    @cached_property
    def cells(self) -> list[Cell]:
        """Every field of every reading whose text stands in the line as it was read."""
        found = []
        for sighting in self.snapshot.sightings:
            for field, text in zip(sighting.row.fields, sighting.row.cells, strict=True):
                span = sighting.span(field) if text else None
                if span is None or not text:
                    continue
                line = self.lines[span.line - 1]
                if line[span.start : span.end] == text:
                    found.append(Cell(span.line - 1, span.start, span.end, field, text, sighting))
        return found

    @cached_property
    def numbers(self) -> list[Cell]:
        """Cells that hold one number, with or without a unit."""
        return [c for c in self.cells if _NUMBER.fullmatch(c.text) and c.field not in _NO_NUMBERS]

    @cached_property
    def limits(self) -> list[Cell]:
        return [c for c in self.numbers if c.field.startswith(("low_", "high_"))]

    @cached_property
    def words(self) -> list[Cell]:
        """Cells that hold a status word."""
        return [
            c
            for c in self.cells
            if c.sighting.reading.condition is not None and c.text == c.sighting.reading.status_text
        ]

    @cached_property
    def serials(self) -> list[Cell]:
        return [c for c in self.cells if c.field == "serial"]

    @cached_property
    def rows(self) -> list[int]:
        """Indices of the lines that a reading stands on."""
        return sorted({n - 1 for s in self.snapshot.sightings for n in s.lines})

    @cached_property
    def prompts(self) -> list[int]:
        pattern = self.dialect.prompt
        return [i for i, line in enumerate(self.lines) if pattern is not None and pattern.match(line)]

    @cached_property
    def blocks(self) -> list[tuple[int, int]]:
        """First line and one past the last of each command's output, or of each table where no prompt stands."""
        if len(self.prompts) > 1:
            return [(a + 1, b) for a, b in pairwise(self.prompts) if b > a + 1]
        return [(t.first_line - 1, t.last_line) for t in self.snapshot.tables if t.last_line >= t.first_line]

    @cached_property
    def tables(self) -> list[tuple[int, int]]:
        """First line and one past the last of each table with rows."""
        return [(t.first_line - 1, t.last_line) for t in self.snapshot.tables if t.rows]

    def with_lines(self, first: int, end: int, lines: Sequence[str]) -> str:
        return "\n".join([*self.lines[:first], *lines, *self.lines[end:]])

    def with_cell(self, cell: Cell, text: str, fit: bool = True) -> str:
        """Another text in a cell's place; where it `fit`s, what stands behind it keeps its column if it can."""
        line = self.lines[cell.line]
        tail = line[cell.end :]
        short = len(cell.text) - len(text)
        if fit and short > 0 and tail.startswith(" "):
            tail = " " * short + tail
        elif fit and short < 0:
            blanks = len(tail) - len(tail.lstrip(" "))
            tail = tail[min(-short, max(0, blanks - 1)) :]
        return self.with_lines(cell.line, cell.line + 1, [line[: cell.start] + text + tail])


Damage = Callable[[Place, random.Random], str | None]


class Kind(NamedTuple):
    name: str
    group: Group
    does: str
    damage: Damage


_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?: ?[A-Za-z%°]+(?: [A-Za-z]+)?)?")
_NO_NUMBERS = frozenset(("serial", "part_number", "description", "slot", "name", "port", "hw_rev"))


def _pick(dice: random.Random, choices: Sequence[Cell]) -> Cell | None:
    return dice.choice(choices) if choices else None


def _own(place: Place, choices: Sequence[Cell]) -> list[Cell]:
    return [c for c in choices if c.sighting.reading.unit == place.unit]


# ---- harmless


def _line_ends(place: Place, dice: random.Random) -> str:
    return dice.choice(("\r\n", "\r\r\n")).join(line.rstrip("\r") for line in place.lines)


def _some(place: Place, dice: random.Random) -> list[int]:
    share = dice.choice((0.05, 0.3, 1.0))
    return [i for i in range(len(place.lines)) if dice.random() < share] or [dice.randrange(len(place.lines))]


def _decorated(place: Place, dice: random.Random, forms: Sequence[str]) -> str:
    lines = list(place.lines)
    for i in _some(place, dice):
        if not lines[i].endswith("\r") and (i < len(lines) - 1 or lines[i]):
            lines[i] = dice.choice(forms).replace("{}", lines[i])
    return "\n".join(lines)


def _trailing_space(place: Place, dice: random.Random) -> str:
    return _decorated(place, dice, ("{} ", "{}    ", "{}" + " " * 30))


_ESCAPES = ("\x1b[0m{}", "{}\x1b[K", "\x1b[1m{}\x1b[0m", "\x1b[0;32m{}\x1b[39;49m", "\x1b]0;console\x07{}", "{}\x00")


def _escapes(place: Place, dice: random.Random) -> str:
    return _decorated(place, dice, _ESCAPES)


_LOG_LINES = (
    "** 06:31:07 link {n} up",
    "2026 Nov 18 06:31:07 tern-05 %ETHPORT-5-IF_UP: Interface Ethernet1/{n} is up",
    "[ 8812.{n:06}] port {n} entered forwarding state",
    "Nov 18 06:31:07.{n:03}: %LINK-3-UPDOWN: Interface TenGigabitEthernet1/0/{n}, changed state to up",
    "Nov 18 06:31:07 tern-05 daemon[{n}]: session opened",
    "18-Nov-2026 06:31:07 %LINK-I-Up:  te1/0/{n}",
    "%Nov 18 06:31:07:{n:03} 2026 tern-05 IFNET/3/LINK_UPDOWN: link up",
    "*Nov 18 06:31:07.{n:03}: %SYS-5-CONFIG_I: Configured from console",
)


def _log_line(place: Place, dice: random.Random) -> str | None:
    """A message that the family is known to print; None where the dialect knows none."""
    log = place.dialect.log
    known = [form for form in _LOG_LINES if log is not None and log.match(form.format(n=7))]
    return dice.choice(known).format(n=dice.randrange(1, 48)) if known else None


def _log_between(place: Place, dice: random.Random) -> str | None:
    said = [_log_line(place, dice) for _ in range(dice.randint(1, 3))]
    if not place.blocks or None in said:
        return None
    at = dice.choice(place.blocks)[1]
    return place.with_lines(at, at, [line for line in said if line])


# ---- cut


def _cut(place: Place, dice: random.Random) -> str:
    return place.text[: dice.randrange(len(place.text))]


def _cut_at_line(place: Place, dice: random.Random) -> str:
    at = dice.randrange(1, len(place.lines))
    return "\n".join([*place.lines[:at], ""])


def _head_lost(place: Place, dice: random.Random) -> str:
    return place.text[dice.randrange(1, len(place.text)) :]


def _chunk_lost(place: Place, dice: random.Random) -> str:
    """A receive buffer that ran over: bytes are missing, and the rest joins on."""
    at = dice.randrange(len(place.text))
    return place.text[:at] + place.text[at + dice.choice((2, 5, 16, 17, 64, 80, 256, 1024)) :]


# ---- lines


def _line_of(place: Place, dice: random.Random) -> int:
    return dice.choice(place.rows) if place.rows and dice.random() < 0.7 else dice.randrange(len(place.lines))


def _lines_lost(place: Place, dice: random.Random) -> str:
    at = _line_of(place, dice)
    return place.with_lines(at, at + dice.choice((1, 1, 1, 2, 3, 6)), ())


def _row_lost(place: Place, dice: random.Random) -> str | None:
    """A row and, in a text that states their number, a number that was changed with it."""
    if not place.rows:
        return None
    at = dice.choice(place.rows)
    lines = [line for i, line in enumerate(place.lines) if i != at]
    for i in range(at, min(at + 40, len(lines))):
        if found := re.search(r"(\d+) rows?$", lines[i]):
            lines[i] = lines[i].replace(found.group(1), str(int(found.group(1)) - 1))
            break
    return "\n".join(lines)


def _line_doubled(place: Place, dice: random.Random) -> str:
    at = _line_of(place, dice)
    return place.with_lines(at, at, [place.lines[at]])


def _lines_swapped(place: Place, dice: random.Random) -> str:
    a = _line_of(place, dice)
    b = a + 1 if dice.random() < 0.5 else _line_of(place, dice)
    lines = list(place.lines)
    if b < len(lines):
        lines[a], lines[b] = lines[b], lines[a]
    return "\n".join(lines)


def _lines_joined(place: Place, dice: random.Random) -> str:
    """The line end is lost, and perhaps some of what stands beside it."""
    at = _line_of(place, dice)
    if at + 1 >= len(place.lines):
        return place.text + " "
    a, b = place.lines[at], place.lines[at + 1]
    lost = dice.randrange(0, max(1, len(a))) if dice.random() < 0.5 else 0
    return place.with_lines(at, at + 2, [a[: len(a) - lost] + b[dice.choice((0, lost)) :]])


# ---- characters


def _spot(place: Place, dice: random.Random) -> int:
    """An index into the text, of a character that is no line end, more often in a cell than not."""
    if place.cells and dice.random() < 0.7:
        cell = dice.choice(place.cells)
        before = sum(len(line) + 1 for line in place.lines[: cell.line])
        return before + dice.randrange(cell.start, cell.end)
    at = dice.randrange(len(place.text))
    return at if place.text[at] != "\n" else max(0, at - 1)


def _dropped(place: Place, dice: random.Random) -> str:
    text = place.text
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        at = min(_spot(place, dice), len(text) - 1)
        text = text[:at] + text[at + 1 :]
    return text


def _flipped(place: Place, dice: random.Random) -> str:
    """One bit of a character: what noise on a line does."""
    text = place.text
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        at = _spot(place, dice)
        text = text[:at] + chr((ord(text[at]) & 0x7F) ^ (1 << dice.randrange(7))) + text[at + 1 :]
    return text


def _replaced(place: Place, dice: random.Random) -> str:
    at = _spot(place, dice)
    return place.text[:at] + dice.choice("0123456789ABCDEFXabcdefox-./ ") + place.text[at + 1 :]


def _inserted(place: Place, dice: random.Random) -> str:
    at = _spot(place, dice)
    return place.text[:at] + dice.choice("0123456789ABCabc-. ") + place.text[at:]


def _case(place: Place, dice: random.Random) -> str:
    if place.cells and dice.random() < 0.6:
        cell = dice.choice(place.cells)
        return place.with_cell(cell, cell.text.swapcase())
    at = _line_of(place, dice)
    changed = dice.choice((str.upper, str.lower, str.swapcase))(place.lines[at])
    return place.with_lines(at, at + 1, [changed])


def _burst(place: Place, dice: random.Random) -> str:
    """A stretch received at the wrong speed."""
    at, length = _spot(place, dice), dice.choice((1, 2, 3, 5, 8, 20, 60))
    rubbish = dice.choice(("\udc80\udcfe\x00\udc98\udce6", "x\udcfe~\x7f\x00", "~?|{}`", "\x1e\x06\x18\x66"))
    return place.text[:at] + "".join(dice.choice(rubbish) for _ in range(length)) + place.text[at + length :]


# ---- layout


def _shifted(place: Place, dice: random.Random) -> str:
    """From a column on, a line or a table stands further left or right."""
    at = _line_of(place, dice)
    first, end = at, at + 1
    if dice.random() < 0.3 and place.tables:
        first, end = dice.choice(place.tables)
    column = dice.randrange(0, max(1, len(place.lines[at])))
    by = dice.choice((-4, -3, -2, -1, 1, 2, 3, 8))
    moved = [
        line[:column] + " " * by + line[column:] if by > 0 else line[:column] + line[column - by :]
        for line in place.lines[first:end]
    ]
    return place.with_lines(first, end, moved)


def _cell_lost(place: Place, dice: random.Random) -> str | None:
    """A cell is gone, blank or closed up, so that what stands behind it may fall under another header."""
    cell = _pick(dice, place.cells)
    return None if cell is None else place.with_cell(cell, "", fit=dice.random() < 0.5)


def _cells_exchanged(place: Place, dice: random.Random) -> str | None:
    cell = _pick(dice, place.cells)
    others = [c for c in place.cells if cell and c.line == cell.line and c.start >= cell.end]
    other = _pick(dice, others)
    if cell is None or other is None:
        return None
    line = place.lines[cell.line]
    swapped = line[: cell.start] + other.text + line[cell.end : other.start] + cell.text + line[other.end :]
    return place.with_lines(cell.line, cell.line + 1, [swapped])


def _log_within(place: Place, dice: random.Random) -> str:
    said = _log_line(place, dice) if dice.random() < 0.7 else dice.choice(_LOG_LINES).format(n=dice.randrange(48))
    at = _line_of(place, dice)
    line = place.lines[at]
    column = dice.randrange(len(line) + 1) if dice.random() < 0.6 else 0
    pieces = [line[:column] + dice.choice(("", "\r")) + (said or _LOG_LINES[0].format(n=3)), line[column:]]
    return place.with_lines(at, at + 1, pieces if column else [pieces[0], line])


_PAGERS = ("--More--", " --More-- ", "-- MORE --", "---- More ----", "(END)", "Press any key to continue", "lines 1-24")


def _pager(place: Place, dice: random.Random) -> str:
    """What a pager leaves: its prompt on a line of its own, before a row, or written over by one."""
    at = _line_of(place, dice)
    prompt = dice.choice(_PAGERS)
    wiped = dice.choice(("", "\r", "\r" + " " * len(prompt) + "\r", "\b" * len(prompt), "\x1b[2K\r", "\n"))
    return place.with_lines(at, at + 1, [prompt + wiped + place.lines[at]])


def _wrapped(place: Place, dice: random.Random) -> str | None:
    width = dice.choice((80, 80, 80, 79, 72, 60, 40))
    lines = [line[i : i + width] for line in place.lines for i in range(0, max(len(line), 1), width)]
    return "\n".join(lines) if len(lines) != len(place.lines) else None


def _header_renamed(place: Place, dice: random.Random) -> str | None:
    """A word of a line above the first row of a table is another one, or changes places with its neighbour."""
    if not place.tables:
        return None
    first, end = dice.choice(place.tables)
    rows = [i for i in place.rows if first <= i < end]
    words = [(i, m) for i in range(first, rows[0] if rows else end) for m in re.finditer(r"\w+\S*", place.lines[i])]
    if not words:
        return None
    i, word = dice.choice(words)
    line = place.lines[i]
    beside = [m for j, m in words if j == i and m.start() > word.end()]
    if beside and dice.random() < 0.5:
        second = beside[0]
        made = (
            line[: word.start()]
            + second.group()
            + line[word.end() : second.start()]
            + word.group()
            + line[second.end() :]
        )
    else:
        new = dice.choice(("Reading", "Max", "Input", "Output", "Fahrenheit", "Previous", "Limit", "Rated"))
        made = line[: word.start()] + new.ljust(len(word.group()))[: max(len(word.group()), 3)] + line[word.end() :]
    return place.with_lines(i, i + 1, [made])


def _column_added(place: Place, dice: random.Random) -> str | None:
    """Newer firmware: a table has one column more, somewhere between two others or at the end."""
    if not place.tables:
        return None
    first, end = dice.choice(place.tables)
    lines = place.lines[first:end]
    width = max(map(len, lines))
    free = [
        c
        for c in range(1, width)
        if all(len(x) <= c or (x[c] == " " and x[c - 1] == " ") for x in lines if x.strip("-=+ "))
    ]
    column = dice.choice(free) if free and dice.random() < 0.6 else width
    rows = set(place.rows)
    value = dice.choice(("12", "OK", "0", "45.0", "-", "N/A"))
    made = [
        line[:column].ljust(column) + (" " + (value if i in rows else "New").ljust(5) + " ") + line[column:]
        if line.strip()
        else line
        for i, line in enumerate(lines, first)
    ]
    return place.with_lines(first, end, made)


def _fact_added(place: Place, dice: random.Random) -> str:
    """Newer firmware: a line that was not there before."""
    at = _line_of(place, dice)
    indent = place.lines[at][: len(place.lines[at]) - len(place.lines[at].lstrip())]
    form = dice.choice(("Self test result: passed", "Health index   : 98", "Sensor 9   45.0", "Status: Failed"))
    return place.with_lines(at, at, [indent + form])


# ---- splice


def _blocks_of(text: str, dialect: Dialect) -> list[list[str]]:
    lines, pattern = text.split("\n"), dialect.prompt
    at = [i for i, line in enumerate(lines) if pattern is not None and pattern.match(line)]
    return [lines[a:b] for a, b in pairwise(at)]


def _spliced(place: Place, dice: random.Random, donor: str) -> str | None:
    """A command's output is another text's, with or without the prompt that stood before it."""
    theirs = _blocks_of(donor, place.dialect)
    if not place.blocks or not theirs:
        return None
    first, end = dice.choice(place.blocks)
    asked = place.lines[first - 1].split()[1:]
    same = [b for b in theirs if b[0].split()[1:] == asked]
    block = dice.choice(same or theirs)
    with_prompt = dice.random() < 0.5
    made = place.with_lines(first - 1 if with_prompt else first, end, block if with_prompt else block[1:])
    return made if made != place.text else None


def _other_time(place: Place, dice: random.Random) -> str | None:
    return _spliced(place, dice, place.other)


def _other_device(place: Place, dice: random.Random) -> str | None:
    return _spliced(place, dice, dice.choice(place.elsewhere)) if place.elsewhere else None


def _row_of_other(place: Place, dice: random.Random) -> str | None:
    """One row stands as another device, or another time, printed it."""
    if not place.rows:
        return None
    at = dice.choice(place.rows)
    donor = dice.choice((place.other, *place.elsewhere[:3])).split("\n")
    begins = place.lines[at].split()[:2]
    alike = [line for line in donor if line.split()[:2] == begins and line != place.lines[at]]
    return place.with_lines(at, at + 1, [dice.choice(alike)]) if alike else None


def _row_for_row(place: Place, dice: random.Random) -> str | None:
    """A row is its neighbour's, but for what names it: its label and the neighbour's figures."""
    if len(place.rows) < 2:
        return None
    at = dice.randrange(len(place.rows) - 1)
    a, b = place.rows[at], place.rows[at + 1]
    kept = re.match(r"\s*\S+(?: \S+)*", place.lines[a])
    theirs = re.match(r"\s*\S+(?: \S+)*", place.lines[b])
    if kept is None or theirs is None:
        return None
    return place.with_lines(a, a + 1, [kept.group() + place.lines[b][theirs.end() :]])


def _inserted_block(place: Place, dice: random.Random) -> str | None:
    """Output of another time or device stands between two commands, beside what belongs there."""
    theirs = _blocks_of(dice.choice((place.other, *place.elsewhere[:3])), place.dialect)
    if not place.blocks or not theirs:
        return None
    at = dice.choice(place.blocks)[0] - 1
    return place.with_lines(at, at, dice.choice(theirs))


def _stale(place: Place, dice: random.Random) -> str:
    return place.other


def _stale_but_serial(place: Place, dice: random.Random) -> str | None:
    """The capture of the other time, but where serials stand."""
    lines = place.other.split("\n")
    if len(lines) != len(place.lines) or not place.serials:
        return None
    for cell in place.serials:
        lines[cell.line] = place.lines[cell.line]
    return "\n".join(lines)


def _other_host(place: Place, dice: random.Random) -> str | None:
    """The name in one prompt, or in all, is another device's."""
    pattern = place.dialect.prompt
    if not place.prompts or pattern is None:
        return None
    chosen = place.prompts if dice.random() < 0.4 else [dice.choice(place.prompts)]
    lines = list(place.lines)
    for i in chosen:
        found = pattern.match(lines[i])
        if found and found.groupdict().get("host"):
            lines[i] = lines[i][: found.start("host")] + "gannet-11" + lines[i][found.end("host") :]
    return "\n".join(lines)


# ---- words and identity


def _other_word(place: Place, dice: random.Random, cells: Sequence[Cell]) -> str | None:
    cell = _pick(dice, cells)
    if cell is None:
        return None
    known = sorted(set(place.dialect.words(cell.sighting.reading.kind)) - {cell.text.lower()})
    word = (
        dice.choice(known) if known and dice.random() < 0.8 else dice.choice(("glorious", "0x0", "OKAY", "-", "none"))
    )
    style = dice.choice((str, str.upper, str.title)) if not cell.text.islower() else str
    return place.with_cell(cell, style(word))


def _word(place: Place, dice: random.Random) -> str | None:
    return _other_word(place, dice, place.words)


def _own_word(place: Place, dice: random.Random) -> str | None:
    return _other_word(place, dice, _own(place, place.words))


def _word_cut(place: Place, dice: random.Random) -> str | None:
    """A status word lost letters at its end or its front."""
    cell = _pick(dice, [c for c in place.words if len(c.text) > 1])
    if cell is None:
        return None
    lost = dice.randrange(1, len(cell.text))
    return place.with_cell(cell, dice.choice((cell.text[:-lost], cell.text[lost:])))


def _serial_changed(place: Place, dice: random.Random) -> str | None:
    """A character of a serial is another, missing, or one too many; or two changed places."""
    cell = _pick(dice, _own(place, place.serials) if dice.random() < 0.7 else place.serials)
    if cell is None or len(cell.text) < 3:
        return None
    text, at = cell.text, dice.randrange(len(cell.text) - 1)
    alike = "0123456789" if text[at].isdigit() else "ABCDEFGHJKLMNPRSTUVWXYZ"
    made = dice.choice(
        (
            text[:at] + dice.choice(alike) + text[at + 1 :],
            text[:at] + text[at + 1 :],
            text[:at] + text[at + 1] + text[at] + text[at + 2 :],
            text[:at] + text[at] + text[at:],
            text[: at + 1],
        )
    )
    return place.with_cell(cell, made)


def _renamed(place: Place, dice: random.Random) -> str | None:
    """The label of a slot, a sensor or a port has another digit."""
    cell = _pick(dice, [c for c in place.cells if c.field in _LABELS and re.search(r"\d", c.text)])
    if cell is None:
        return None
    found = dice.choice(list(re.finditer(r"\d", cell.text)))
    return place.with_cell(cell, cell.text[: found.start()] + dice.choice("0123456789") + cell.text[found.end() :])


_LABELS = frozenset(("slot", "name", "point", "place", "port", "sensor", "bay", "rotor", "fan", "unit", "label"))


# ---- numbers


def _digits(text: str) -> tuple[int, int]:
    found = re.search(r"\d+", text)
    assert found is not None, "a number has digits"
    return found.span()


def _leading_lost(place: Place, dice: random.Random) -> str | None:
    """104 becomes 04, or 4, or a blank and 04."""
    cell = _pick(dice, [c for c in place.numbers if re.search(r"\d\d", c.text.partition(".")[0])])
    if cell is None:
        return None
    at, _ = _digits(cell.text)
    made = dice.choice((" ", "", "", "0")) if at == 0 else dice.choice(("", "0"))
    text = cell.text[:at] + made + cell.text[at + 1 :]
    if dice.random() < 0.3:
        text = text.lstrip("0") or "0"
    return place.with_cell(cell, text, fit=dice.random() < 0.7)


def _digit_lost(place: Place, dice: random.Random) -> str | None:
    """Any digit, or the point."""
    cell = _pick(dice, place.numbers)
    if cell is None:
        return None
    found = dice.choice(list(re.finditer(r"[\d.]", cell.text)))
    return place.with_cell(
        cell,
        cell.text[: found.start()] + dice.choice(("", "", " ")) + cell.text[found.end() :],
        fit=dice.random() < 0.7,
    )


def _digit_changed(place: Place, dice: random.Random) -> str | None:
    cell = _pick(dice, place.numbers)
    if cell is None:
        return None
    found = dice.choice(list(re.finditer(r"\d", cell.text)))
    return place.with_cell(cell, cell.text[: found.start()] + dice.choice("0123456789") + cell.text[found.end() :])


def _digits_of_table(place: Place, dice: random.Random) -> str | None:
    """The same column of figures is lost in every row: 104, 57 and 33 become 04, 7 and 3."""
    cell = _pick(dice, place.numbers)
    if cell is None:
        return None
    lines = list(place.lines)
    for c in place.numbers:
        if c.sighting.table == cell.sighting.table and c.field == cell.field and len(c.text) > 1:
            lines[c.line] = lines[c.line][: c.start] + " " + lines[c.line][c.start + 1 :]
    return "\n".join(lines)


def _limit_lost(place: Place, dice: random.Random) -> str | None:
    cell = _pick(dice, place.limits)
    if cell is None:
        return None
    blank = dice.choice(("", *place.dialect.manifest.blank_cells))
    if dice.random() < 0.3:  # of every row
        lines = list(place.lines)
        for c in place.limits:
            if c.sighting.table == cell.sighting.table and c.field == cell.field:
                lines[c.line] = lines[c.line][: c.start] + blank.ljust(len(c.text)) + lines[c.line][c.end :]
        return "\n".join(lines)
    return place.with_cell(cell, blank)


def _limit_changed(place: Place, dice: random.Random) -> str | None:
    cell = _pick(dice, place.limits)
    if cell is None:
        return None
    at, end = _digits(cell.text)
    return place.with_cell(cell, cell.text[:at] + str(dice.choice((0, 1, 9, 12, 100, 999, 9999))) + cell.text[end:])


def _other_unit(place: Place, dice: random.Random) -> str | None:
    """A figure in another unit than its header or its neighbour says: milli, kilo, Fahrenheit."""
    cell = _pick(dice, place.numbers)
    if cell is None:
        return None
    found = re.match(r"[+-]?[\d.]+", cell.text)
    assert found is not None, "a number begins with one"
    value = float(found.group())
    made = dice.choice((value * 1000, value / 1000, value * 1.8 + 32, value / 10, value * 10))
    places = len(found.group().partition(".")[2])
    return place.with_cell(cell, f"{made:.{places}f}" + cell.text[found.end() :])


KINDS: tuple[Kind, ...] = (
    Kind("line-ends", "harmless", "other line ends", _line_ends),
    Kind("trailing-space", "harmless", "blanks at the end of lines", _trailing_space),
    Kind("escape-sequences", "harmless", "colours, erasing and titles", _escapes),
    Kind("log-between-tables", "harmless", "console messages between two tables", _log_between),
    Kind("cut-anywhere", "cut", "the text ends early", _cut),
    Kind("cut-at-line", "cut", "the text ends early, at a line end", _cut_at_line),
    Kind("head-lost", "cut", "the text begins late", _head_lost),
    Kind("chunk-lost", "cut", "bytes are missing, the rest joins on", _chunk_lost),
    Kind("lines-lost", "lines", "one to six lines are missing", _lines_lost),
    Kind("row-lost-and-count", "lines", "a row is missing, and the stated number of rows fits", _row_lost),
    Kind("line-doubled", "lines", "a line stands twice", _line_doubled),
    Kind("lines-swapped", "lines", "two lines changed places", _lines_swapped),
    Kind("lines-joined", "lines", "a line end is missing, and perhaps what stood beside it", _lines_joined),
    Kind("characters-dropped", "characters", "one to three characters are missing", _dropped),
    Kind("bits-flipped", "characters", "one to three bits changed", _flipped),
    Kind("character-replaced", "characters", "a character is another", _replaced),
    Kind("character-inserted", "characters", "a character too many", _inserted),
    Kind("case-changed", "characters", "capitals became small letters or the other way round", _case),
    Kind("wrong-speed-burst", "characters", "a stretch is rubbish", _burst),
    Kind("columns-shifted", "layout", "what stands behind a column moved", _shifted),
    Kind("cell-lost", "layout", "a cell is missing", _cell_lost),
    Kind("cells-exchanged", "layout", "two cells of a row changed places", _cells_exchanged),
    Kind("log-within", "layout", "a console message within a table or a row", _log_within),
    Kind("pager-remains", "layout", "what a pager leaves behind", _pager),
    Kind("wrapped", "layout", "lines broken at the width of a screen", _wrapped),
    Kind("header-renamed", "layout", "another word in a header", _header_renamed),
    Kind("column-added", "layout", "one column more", _column_added),
    Kind("line-added", "layout", "a line that was not there", _fact_added),
    Kind("table-of-other-time", "splice", "one command's output is from the other capture", _other_time),
    Kind("table-of-other-device", "splice", "one command's output is another device's", _other_device),
    Kind("block-inserted", "splice", "output of another time or device stands in between", _inserted_block),
    Kind("row-of-other-text", "splice", "one row is of another time or device", _row_of_other),
    Kind("row-of-neighbour", "splice", "one row has its neighbour's figures", _row_for_row),
    Kind("stale-capture", "splice", "the whole capture is the other one", _stale),
    Kind(
        "stale-but-serials", "splice", "the whole capture is the other one, but where serials stand", _stale_but_serial
    ),
    Kind("other-host", "splice", "another name in one prompt or all", _other_host),
    Kind("status-word", "words", "any status word is another", _word),
    Kind("status-word-of-unit", "words", "the replaced unit's status word is another", _own_word),
    Kind("status-word-cut", "words", "a status word lost letters", _word_cut),
    Kind("serial-changed", "words", "a serial with another, a missing or a doubled character", _serial_changed),
    Kind("label-changed", "words", "another digit in the label of a slot, sensor or port", _renamed),
    Kind("leading-digit-lost", "numbers", "104 becomes 04 or 4", _leading_lost),
    Kind("digit-lost", "numbers", "any digit or the point is missing", _digit_lost),
    Kind("digit-changed", "numbers", "any digit is another", _digit_changed),
    Kind("digits-of-column-lost", "numbers", "the first digit is missing in a whole column", _digits_of_table),
    Kind("limit-lost", "numbers", "a limit is missing, in one row or all", _limit_lost),
    Kind("limit-changed", "numbers", "a limit is another number", _limit_changed),
    Kind("other-unit", "numbers", "a figure a thousandfold, tenfold or in Fahrenheit", _other_unit),
)
BY_NAME: Mapping[str, Kind] = {kind.name: kind for kind in KINDS}
