"""The layout of a text that nobody described: lines to grids, lists of keys, and nested values.

Only white space, rulers, frames and separators are looked at; what words mean is the affair of
`inference`. Nothing is lost: every line stands in one block or another, as a heading, a row, a key
with its value, or a line that fits nowhere. Where a cell could belong to two columns its row says so
(`odd`), and whoever gives it a meaning leaves the row alone.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import NamedTuple

from consolecheck.records.text import Line


class Cell(NamedTuple):
    """A piece of a line, and where it stood: first column and one past the last."""

    text: str
    line: int
    start: int
    end: int


class GridRow(NamedTuple):
    """One row. A cell is None where the column is blank. `odd` says why the row cannot be trusted, or is empty."""

    cells: tuple[Cell | None, ...]
    lines: tuple[int, ...]
    heading: str
    """The line above it within the table, such as `Switch 1`."""
    odd: str = ""


class Grid(NamedTuple):
    """A table. `headers` has one label a column, upper line first; empty where the table has none."""

    titles: tuple[Cell, ...]
    headers: tuple[str, ...]
    header_lines: tuple[int, ...]
    rows: tuple[GridRow, ...]
    sort: str
    first_line: int
    last_line: int
    loose: tuple[Line, ...] = ()
    """Lines between its rows that fit no column."""
    again: tuple[int, ...] = ()
    """Lines within it that are its header again."""
    headings: tuple[Line, ...] = ()
    """Lines within it that are headings, such as `Switch 2:`."""


class Item(NamedTuple):
    """A key with its value, or a heading (`value` None). `depth` is the indentation."""

    depth: int
    key: str
    value: str | None
    line: int
    start: int
    end: int
    gap: bool
    """Whether a blank line, or something else, stands before it."""
    separator: str
    more: tuple[int, ...] = ()
    """Further lines that the value goes on to."""
    verdict: str = ""
    """What stands in brackets before the key, as in `[ OK ]  Fan 1   5880 rpm`."""


class Pairs(NamedTuple):
    """A list of keys and values, in order."""

    titles: tuple[Cell, ...]
    items: tuple[Item, ...]
    first_line: int
    last_line: int


class Leaf(NamedTuple):
    """A scalar of a JSON text, as text, and its line. `quoted` tells a string from a number."""

    text: str
    line: int
    quoted: bool


class Tree(NamedTuple):
    """A JSON value: objects as lists of (key, value), arrays as lists of values, and leaves."""

    root: object
    first_line: int
    last_line: int


class Loose(NamedTuple):
    """Lines without a layout."""

    lines: list[Line]


class Prompt(NamedTuple):
    """A prompt with what was typed behind it: it ends whatever stands above."""

    line: Line
    host: str
    typed: str


Block = Grid | Pairs | Tree | Loose | Prompt

_RULER = re.compile(r"[\s|]*[-=+~_*]{2}[-=+~_*|\s]*\Z")
_FRAME_TITLE = re.compile(r"\s*\+[-=]*\s(?P<title>[^-=+|][^+|]*?)\s[-=]*\+\s*\Z")
_SEGMENT = re.compile(r"[-=~_*]+")
_CHUNK = re.compile(r"\S+(?: \S+)*")
_WORD = re.compile(r"\S+")
_PROMPT = re.compile(
    r"(?P<p>(?:\[[A-Za-z][\w.-]{0,20}\])?(?:[\w.-]+@)?"
    r"(?P<host>[A-Za-z][\w.-]{0,62})(?::(?:[~/][^\s$#>]*|\d{1,3}))?(?:/[\w.-]{1,30})?(?:\([\w/. -]{1,40}\)"
    r"|\[[\w/. -]{1,40}\])?)\s?(?P<mark>[#>$»›❯])"
    r"(?P<typed>(?:\s.*|(?:sh|show|admin|dis|display|get|dir|ter|terminal|screen-length|en|enable|end|exit|quit|logout)(?: .*)?)?)\Z"
)
_BRACKET_PROMPT = re.compile(
    r"(?:<(?P<a>[A-Za-z][\w.-]{0,62})>|\[~?(?P<b>[A-Za-z][\w.@-]{0,62})(?:[ :][~/]\S*)?\][#$]?)\s*(?P<typed>.*)\Z"
)
_VERDICTS = frozenset(
    """
    ok okay good pass passed fail failed fault warn warning error bad crit critical alert alarm absent missing empty
    up down on off info note standby normal degraded unknown none na
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_TURN = re.compile(r"\{(?:master|backup|linecard)(?::[\w]+)?\}\s*\Z")
_LOG = re.compile(
    r"\s*(?:<\d{1,3}>|\*{3,} (?=.*\d\d:\d\d)|\*?(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun),? )?"
    r"[A-Z][a-z]{2} {1,2}\d{1,2} (?:\d{4} )?\d\d:\d\d:\d\d|\d{4}[-/]\d\d[-/]\d\d[T ]\d\d:\d\d"
    r"|\d{4} [A-Z][a-z]{2} +\d{1,2} \d\d:\d\d:\d\d|\[ *\d+\.\d{3,6}\] |%[A-Z][A-Z0-9_]*-\d-|%[A-Z][a-z]{2} {1,2}\d{1,2} \d\d:\d\d:\d\d"
    r"|\d\d:\d\d:\d\d[ .,:]|\d\d/\d\d/\d{2,4} \d\d:\d\d)"
)
_MESSAGE = re.compile(r"%[A-Z][A-Z0-9_]+-\d-|\d\d:\d\d:\d\d(?:[:.,]\d{0,6})? .*: ")
_NOT_OF_TABLE = re.compile(r"\d\d:\d\d:\d\d|\bmore\b|\bany key\b", re.IGNORECASE)
_NUMERIC = re.compile(r"[<>~]?[+-]?\d[\d.,]*(?:[%°/ :]|\b|[A-Za-z])")
_LEADER = re.compile(r"\s?\.{3,}\s?|\s\.\.\s|(?:\s\.){3,}\s")

LONGEST = 400
"""Characters; a longer line is no row of a terminal's table, and is left alone except as JSON or separated values."""
_LONGEST_READ = 4096
"""Characters; of a longer line only what is JSON is read."""
_MOST_HEADERS = 3


def log_line(text: str) -> bool:
    """Whether a line begins as a message with a time does."""
    return _LOG.match(text) is not None


_TYPED = re.compile(
    r"(?P<p>(?=[^\s#>])(?:(?! {2})[^|#>=]){0,100}[#>]|->|#(?= (?:show|display) ))\s?"
    r"(?P<typed>(?:admin )?(?:show|display|get|list|dir|terminal|enable|exit|quit|execute|diagnose)"
    r"(?:[a-z-]{0,16}|(?: .{0,80})))\Z",
    re.IGNORECASE,
)
"""A prompt of any form: it ends in a mark, and a command that shows something is typed behind it."""


def prompt_of(line: Line) -> Prompt | None:
    """The prompt on a line, if it is one. A name with blanks or a line that only ends in `#` is none."""
    text = line.text
    if not text or len(text) > LONGEST:
        return None
    if text[0] == "{" and _TURN.match(text):
        return Prompt(line, "", "")
    if text[0] in "<[":
        found = _BRACKET_PROMPT.match(text)
        if text[0] == "[" and (behind := _PROMPT.match(text)) is not None:
            return Prompt(line, behind["host"], behind["typed"].strip())  # `[local]tern-04#show hardware`
        if found is None:
            return None
        name = found["a"] or found["b"]
        if text[0] == "[" and "." in name and "@" not in name and not found["typed"].strip():
            return None  # a section of settings
        if text[0] == "[" and name.lower() in _VERDICTS:
            return None
        return Prompt(line, name, found["typed"].strip())
    if not _MARKS_PROMPT.search(text):
        return None
    found = _PROMPT.match(text)
    if found is None or "|" in text[: found.end("mark")]:
        return None
    if text[found.start("mark")] == "#" and "  " in found["typed"].strip() and found["host"].lower() in _COUNTED:
        return None  # `PS#   Status   Input (V)`: the labels of a table whose rows are numbered
    return Prompt(line, found["host"], found["typed"].strip())


_WAITS = re.compile(
    r"(?P<p>[A-Za-z](?=[\w.@:/~-]*\d)[\w.@:/~-]{1,40}(?: ?[\[(][A-Za-z][\w. -]{0,20}[\])])? ?(?:>>|[#>$])) (?P<typed>[a-z](?! {2})[^|=]{0,78})\Z"
)
"""`tern-04 [admin]> list fans`: a name with a figure in it, a mark, and small letters behind it."""
_TAG = re.compile(r"<([A-Za-z][\w.-]*)>\s*\Z")
_COUNTED = frozenset(
    ("ps", "psu", "pem", "fan", "tray", "slot", "bay", "unit", "module", "sensor", "temp", "no", "id", "port")
)
_MARKS_PROMPT = re.compile(r"[#>$»›❯]")
_NAME = re.compile(r"[A-Za-z][A-Za-z\d]*(?:_[A-Za-z\d]+)*")
_FORM = re.compile(r"\d")
_ENDS_PROMPT = re.compile(r"[#>$%:»›❯\]]\Z")
_LONGEST_PROMPT = 60


def _host_in(said: str) -> str:
    """The name that a prompt of any form begins with."""
    host = re.match(r"[*! ]{0,3}[\[<(]?(?:[\w.-]+@)?\(?([A-Za-z][\w.-]{0,62})", said)
    return host[1] if host else ""


def prompts_of(lines: Sequence[Line]) -> dict[int, Prompt]:
    """The lines that are prompts, by number: by their own form, or since the text ends with what others begin with.

    A console that waits shows its prompt last. Digits do not count, for a prompt may tell the time.
    """
    found = {line.number: turn for line in lines if not line.doubt and (turn := prompt_of(line)) is not None}
    if (tags := {n: m[1] for n, t in found.items() if (m := _TAG.match(t.line.text)) is not None}) and len(tags) < 2000:
        closed = {line.text.strip() for line in lines if line.text.lstrip()[:2] == "</"}
        found = {n: t for n, t in found.items() if n not in tags or f"</{tags[n]}>" not in closed}
    alone = {n: t.host for n, t in found.items() if t.line.text[0] == "[" and not t.typed}
    if len(set(alone.values())) > 1:
        shortest = min(alone.values(), key=len)
        if not all(name.startswith(shortest) for name in alone.values()):  # sections of settings, and no prompts
            found = {n: t for n, t in found.items() if n not in alone}
    begun: set[str] = set()
    asked: dict[str, list[tuple[Line, str]]] = {}
    for line in lines:
        if line.number not in found and not line.doubt and (waits := _WAITS.match(line.text)) is not None:
            asked.setdefault(waits["p"], []).append((line, waits["typed"]))
    for said, turns in asked.items():
        if len({typed for _, typed in turns}) > 1:  # twice the same, and something else behind it
            found.update((line.number, Prompt(line, _host_in(said), typed.strip())) for line, typed in turns)
            begun.add(said)
    for line in lines:
        if line.number in found or line.doubt or len(line.text) > LONGEST or _MARKS_PROMPT.search(line.text) is None:
            continue
        if (turned := _TYPED.match(line.text)) is not None:
            found[line.number] = Prompt(line, _host_in(turned["p"]), turned["typed"].strip())
            begun.add(turned["p"])
    if begun:
        for line in lines:
            if line.number not in found and not line.doubt and line.text.rstrip() in begun:
                found[line.number] = Prompt(line, _host_in(line.text), "")
    last = next((x for x in reversed(lines) if x.text.strip()), None)
    if last is None or last.doubt or last.number in found:
        return found
    said = last.text.strip()
    if len(said) > _LONGEST_PROMPT or _ENDS_PROMPT.search(said) is None:
        return found
    if not any(c.isalpha() for c in said) and said not in ("#", "->"):
        return found
    if said.endswith(":") and not any(c.isdigit() for c in said):
        return found  # rather a key without its value
    form = _FORM.sub("0", said)
    alike = []
    for line in lines:
        text = line.text.lstrip() if line is last else line.text
        if line.doubt or len(text) > LONGEST or _FORM.sub("0", text[: len(said)]) != form:
            continue
        behind = text[len(said) :]
        if line is not last and ("  " in behind.strip() or "|" in behind or (said[-1] in ":]" and not behind.strip())):
            continue
        if said[-1] == ":" and not text.startswith(said):
            continue  # `PSU 1:` and `PSU 2:` are keys
        alike.append((line, behind.strip()))
    if len(alike) < 2:
        return found
    for line, typed in alike:
        found.setdefault(line.number, Prompt(line, _host_in(said), typed))
    return found


def chunks(text: str) -> list[tuple[int, int, str]]:
    """Pieces of a line that two or more blanks part: start, end, text."""
    return list(_pieces(text))


@lru_cache(maxsize=4096)
def _pieces(text: str) -> tuple[tuple[int, int, str], ...]:
    return tuple([(*m.span(), m.group()) for m in _CHUNK.finditer(text)])


def is_ruler(text: str) -> bool:
    if not text.isascii():
        text = text.translate(_AS_ASCII)
    return len(text.strip()) >= 2 and _RULER.match(text) is not None


# Frames and rulers drawn with characters of their own (Unicode, "Box Drawing") are laid out as those of ASCII, and
# what only looks like a blank, a dash or a degree sign as the one meant; no character moves.
_ACROSS = "─━┄┅┈┉═╌╍‐‑‒–—―−"
_DOWN = "│┃┆┇┊┋║╎╏"
_AS_ASCII = {
    **dict.fromkeys(range(9472, 9600), "+"),
    **dict.fromkeys(map(ord, _ACROSS), "-"),
    **dict.fromkeys(map(ord, _DOWN), "|"),
    **dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f"), " "),
    **dict.fromkeys(map(ord, "º˚"), "°"),
}


_RULED = frozenset(("--", "==", "**"))
_RULED_TITLE = re.compile(r"\s*(-{2,}|={2,}|\*{2,})\s+[A-Za-z](?:[A-Za-z ()/&]|-(?!-))*[A-Za-z)]\s+\1\s*")


def layout(lines: Sequence[Line], prompts: bool = True) -> list[Block]:
    """The blocks of a text, in order; lines in doubt stand in a Loose block.

    `prompts`: whether prompts may be among the lines.
    """
    plain = [line if line.text.isascii() else line._replace(text=line.text.translate(_AS_ASCII)) for line in lines]
    # A title between rulers of its own is one piece, however it is spaced.
    plain = [
        line._replace(text=" ".join(line.text.split()))
        if line.text.lstrip()[:2] in _RULED and _RULED_TITLE.fullmatch(line.text)
        else line
        for line in plain
    ]
    return _Layout(_without_bars(plain), prompts).blocks


_ENUMERATED = re.compile(r"\s*(\d{1,2})[.)] +(?=[A-Za-z])")


def _without_bars(lines: list[Line]) -> list[Line]:
    """The lines, numbered lists without their numbers, and labels without bars where the rows below have none."""
    made = _without_numbers(lines)
    _without_one_bar(made)
    for at in range(len(made) - 2):
        text = made[at].text
        if (
            text.count("|") > 1
            and text.strip()[0] not in "|+"
            and is_ruler(made[at + 1].text)
            and made[at + 2].text.strip()
            and "|" not in made[at + 2].text
            and not is_ruler(made[at + 2].text)
        ):
            made[at] = made[at]._replace(text=text.replace("|", " "))
            # What stands below a bar belongs to the column right of it.
            made[at + 1] = made[at + 1]._replace(text=re.sub(r"[-=][+|]", " -", made[at + 1].text))
    return made


def _without_one_bar(made: list[Line]) -> None:
    """Takes out the one bar that parts the first column of a table from several others, ruled by blanks."""
    done = 0
    for at, ruler in enumerate(made):
        text = ruler.text
        if at < done or len(text) > LONGEST or text.count("+") + text.count("|") != 1 or not is_ruler(text):
            continue
        bar = max(text.find("+"), text.find("|"))
        first, last = at, at + 1
        while first > 0 and at - first < _MOST_HEADERS and _one_bar_at(made[first - 1].text, bar):
            first -= 1
        while last < len(made) and _one_bar_at(made[last].text, bar):
            last += 1
        done = last
        if first == at or last == at + 1 or len(text[bar + 1 :].split()) < 2:
            continue
        for k in range(first, last):
            said = made[k].text
            made[k] = made[k]._replace(text=f"{said[:bar]} {said[bar + 1 :]}")


def _one_bar_at(text: str, bar: int) -> bool:
    return len(text) > bar and text[bar] == "|" and text.count("|") == 1 and bool(text[:bar].strip())


def _without_numbers(lines: list[Line]) -> list[Line]:
    """The lines with blanks for the numbers of a numbered list, `1) ` or `2. `, where they count on."""
    found = [_ENUMERATED.match(line.text) if line.text.lstrip()[:1].isdigit() else None for line in lines]
    made = list(lines)
    for at, match in enumerate(found):
        if match is None:
            continue
        number = int(match[1])
        if any(
            0 <= k < len(found) and (other := found[k]) is not None and int(other[1]) == number + k - at
            for k in (at - 1, at + 1)
        ):
            made[at] = lines[at]._replace(text=" " * match.end() + lines[at].text[match.end() :])
    return made


class _Layout:
    def __init__(self, lines: Sequence[Line], prompts: bool) -> None:
        self.lines = list(lines)
        self.prompts = prompts
        self.blocks: list[Block] = []
        self.titles: list[Cell] = []
        self.at = 0
        self.json_left = 24
        """Beginnings of JSON that may still be tried; a text of many braces that are none is not worth more."""
        self.run()

    def loose(self, line: Line) -> None:
        if not line.text.strip() and not line.doubt:
            return
        last = self.blocks[-1] if self.blocks else None
        if isinstance(last, Loose):
            last.lines.append(line)
        else:
            self.blocks.append(Loose([line]))

    def run(self) -> None:
        pending: list[Line] = []
        lines = self.lines
        broken = False  # whether JSON began that is not whole: its lines are no list of keys
        while self.at < len(lines):
            line = lines[self.at]
            text = line.text
            stripped = text.strip()
            if line.doubt or not stripped or (len(text) > _LONGEST_READ and stripped[0] not in "{["):
                if line.doubt:
                    self._settle(pending)
                    self.loose(line)
                elif pending and pending[-1].text.strip():
                    pending.append(line)
                self.at += 1
                continue
            if self.prompts and stripped[0] != "<" and (turn := prompt_of(line)) is not None:
                self._settle(pending)
                self.blocks.append(turn)
                self.at += 1
                continue
            broken = _goes_on_as_json(stripped) if broken else False
            if not broken and stripped[0] in "{[<" and (tree := self._json()) is not None:
                self._settle(pending)
                self.blocks.append(tree)
                continue
            broken = broken or _BEGINS_JSON.match(stripped) is not None
            if len(text) > _LONGEST_READ or broken:
                self._settle(pending)
                self.loose(line)
                self.at += 1
                continue
            if self.prompts and stripped[0] == "<" and (turn := prompt_of(line)) is not None:
                self._settle(pending)
                self.blocks.append(turn)
                self.at += 1
                continue
            pending.append(line)
            self.at += 1
        self._settle(pending)

    def _json(self) -> Tree | None:
        first = self.at
        if self.json_left <= 0:
            return None
        if self.lines[first].text.lstrip()[0] == "<":
            from consolecheck.reading.markup import parse_xml

            found = parse_xml(self.lines, first)
        else:
            found = _parse_json(self.lines, first)
        if found is None:
            self.json_left -= 1
            return None
        root, last = found
        self.at = last + 1
        return Tree(root, self.lines[first].number, self.lines[last].number)

    def _settle(self, pending: list[Line]) -> None:
        """Reads the lines between two prompts."""
        if pending:
            _Stretch(_one_below_the_other(pending), self).run()
            pending.clear()


def _one_below_the_other(lines: list[Line]) -> list[Line]:
    """The lines, with lists of keys that stand side by side put one below the other; numbers and places stay."""
    found: list[Line] = []
    at = 0
    while at < len(lines):
        end = at
        while end < len(lines) and lines[end].text.strip():
            end += 1
        part = lines[at:end]
        if len(part) > 2 and (gutter := _gutter(part)):
            left = [x._replace(text=x.text[:gutter].rstrip()) for x in part]
            right = [x._replace(text=" " * gutter + x.text[gutter:]) for x in part if x.text[gutter:].strip()]
            found.extend((*left, right[0]._replace(text=""), *right))
        else:
            found.extend(part)
        found.extend(lines[end : end + 1])
        at = end + 1
    return found


def _gutter(part: list[Line]) -> int:
    """Where the right one of two lists begins: each has a heading, and below it the same keys in the same order; else 0."""
    if any(len(x.text) > LONGEST or x.doubt for x in part):
        return 0
    heads = chunks(part[0].text)
    if len(heads) != 2 or any(_value_like(t) and not _LABELLED.match(t) for _, _, t in heads):
        return 0
    gutter = heads[1][0]
    for line in part[1:]:
        text = line.text
        if text[gutter - 2 : gutter].strip():
            return 0
        left, right = key_value(text[:gutter]), key_value(text[gutter:])
        if left is None or right is None or left[0] != right[0] or "  " in left[1] or "  " in right[1]:
            return 0
    return gutter


class _Stretch:
    """Lines between two prompts, without JSON."""

    def __init__(self, lines: list[Line], out: _Layout) -> None:
        self.lines = lines
        self.out = out
        self.titles: list[Cell] = []
        self.at = 0
        self.repeated = 0
        """Up to here separated values only repeat one line."""
        self.barren = 0
        """Up to here no line is a key with a value, as was found out already."""
        self.labelled: dict[int, bool] = {}
        self.count = len(lines)
        self.texts = {x.number: x.text for x in lines}
        self.ruler = [is_ruler(x.text) for x in lines]
        self.section = [x.text.lstrip()[:2] in _BEGIN_SECTION and _SECTION.match(x.text) is not None for x in lines]
        self.pieces = [chunks(x.text) if len(x.text) <= LONGEST else [] for x in lines]
        self.pair = [key_value(x.text) if len(x.text) <= LONGEST else None for x in lines]

    def blank(self, i: int) -> bool:
        return not self.lines[i].text.strip()

    def title(self, i: int) -> None:
        line = self.lines[i]
        text = line.text.strip()
        self.titles.append(Cell(text, line.number, line.text.find(text[0]), len(line.text)))
        del self.titles[:-4]

    def loose(self, i: int) -> None:
        self.out.loose(self.lines[i])

    def run(self) -> None:
        while self.at < self.count:
            i = self.at
            text = self.lines[i].text
            if self.blank(i):
                self.at += 1
                continue
            if log_line(text) and not self.ruler[i] and "|" not in text:
                self.loose(i)
                self.at += 1
                continue
            if self.section[i]:
                self.titles.clear()
                self.titles.append(Cell(text.strip(" =-#*>"), self.lines[i].number, 0, len(text)))
                self.loose(i)
                self.at += 1
                continue
            if text[0] == "#" and len(text) <= 80 and i + 1 < self.count and self._begins_separated(i + 1):
                self.titles.clear()
                self.title(i)
                self.loose(i)
                self.at += 1
                continue
            if (
                self._boxed(i)
                or self._piped(i)
                or self._separated(i)
                or self._columns(i)
                or self._records(i)
                or self._pairs(i)
            ):
                self.at = max(self.at, i + 1)
                continue
            if self.ruler[i]:
                if not _SEGMENT.fullmatch(text.strip()):
                    self.loose(i)
            elif len(self.pieces[i]) <= 2 and len(text.strip()) <= 80:
                self.title(i)
                self.loose(i)
            else:
                self.titles.clear()
                self.loose(i)
            self.at += 1

    def take_titles(self) -> tuple[Cell, ...]:
        found = tuple(self.titles)
        self.titles.clear()
        return found

    # Frames: `| a | b |` between `+---+---+`.

    def _boxed(self, i: int) -> bool:
        text = self.lines[i].text.strip()
        if not (text[0] in "|+" and text[-1] in "|+") or len(text) < 5:
            return False
        j = i
        titles = list(self.titles)
        header: list[list[tuple[int, int, str]]] = []
        tops: list[str] = []
        header_lines: list[int] = []
        body: list[tuple[Line, list[tuple[int, int, str]]]] = []
        separated = False  # a ruler was seen below the header
        seen_rows = False
        while j < self.count:
            line = self.lines[j]
            text = line.text.strip()
            if not text:
                break
            if framed := _FRAME_TITLE.match(line.text):
                if seen_rows:
                    break
                titles.append(Cell(framed["title"].strip(), line.number, framed.start("title"), framed.end("title")))
                j += 1
                continue
            if self.ruler[j]:
                if seen_rows and not separated and len(body) == 1 and len(body[0][1]) == 1:
                    line, ((start, end, said),) = body[0]  # a title in a frame of its own
                    titles.append(Cell(said, line.number, start, end))
                    body, seen_rows = [], False
                elif seen_rows and not separated:
                    separated = True
                    header = [cells for _, cells in body]
                    tops = [x.text for x, _ in body]
                    header_lines = [x.number for x, _ in body]
                    body = []
                elif separated and body and self._other_frame(j):
                    j += 1
                    break
                j += 1
                continue
            if text[0] != "|" or text[-1] != "|":
                break
            if separated and body and text.count("|") == 2 and len(body[-1][1]) > 1:
                break  # the title of another table
            seen_rows = True
            body.append((line, _framed(line.text)))
            j += 1
        if not seen_rows or (not separated and len(body) < 2):
            return False
        if not body:
            body, header, header_lines = [], header, header_lines
        if separated and len(header) > _MOST_HEADERS:
            return False
        if not separated:
            header, header_lines, tops = [body[0][1]], [body[0][0].number], [body[0][0].text]
            body = body[1:]
        width = len(header[-1])
        labels = _boxed_labels(header, tops, width)
        rows: list[GridRow] = []
        for line, cells in body:
            odd = "" if len(cells) == width else "has another number of cells than the header"
            made = tuple(Cell(t, line.number, a, b) if t else None for a, b, t in cells)
            goes_on = (
                not made or made[0] is None or (made[0].text[:1].islower() and made.count(None) == len(made) - 1 > 1)
            )
            if rows and not odd and any(made) and goes_on and _continues(made, rows[-1]):
                rows[-1] = _joined(rows[-1], made, line.number)
                continue
            rows.append(GridRow(made, (line.number,), "", odd))
        self.titles = titles[-4:]
        self._emit(
            Grid(
                self.take_titles(),
                labels,
                tuple(header_lines),
                tuple(rows),
                "boxed",
                self.lines[i].number,
                self.lines[j - 1].number,
            )
        )
        self.at = j
        return True

    def _other_frame(self, j: int) -> bool:
        """Whether right below a frame's last ruler another frame begins, with corners of its own."""
        if j + 1 >= self.count or not self.ruler[j + 1]:
            return False
        ends, begins = ([at for at, ch in enumerate(self.lines[k].text) if ch == "+"] for k in (j, j + 1))
        return bool(begins) and ends != begins

    # `a | b | c`, with or without a header; other lines may stand between the rows.

    def _piped(self, i: int) -> bool:
        bars = self.lines[i].text.count("|")
        if bars < 1 or self.ruler[i] or (bars > 1 and _piped_pairs(self.lines[i].text)):
            return False
        if bars == 1 and self.pair[i] is not None and _VERDICT_BEHIND.search(self.lines[i].text) is not None:
            return False  # a key with its value and a verdict
        if "(0x" in self.lines[i].text and _NUMBERED_SENSOR.match(self.lines[i].text) is not None:
            return False  # `INLET_TEMP (0x4) : 24.5 C | (ok) | UCR: 45.00`
        picked: list[int] = []
        stray: list[int] = []
        rulers: list[int] = []
        j = i
        away = 0
        while j < self.count and away < 3:
            text = self.lines[j].text
            if self.blank(j):
                if away or (j + 1 < self.count and self.lines[j + 1].text.count("|") != bars):
                    break
                away += 1
            elif (self.ruler[j] and "|" in text) or (self.ruler[j] and "+" in text):
                rulers.append(j)
            elif text.count("|") == bars:
                picked.append(j)
                away = 0
            elif self.ruler[j]:
                rulers.append(j)
            else:
                stray.append(j)
                away += 1
            j += 1
        last = picked[-1]
        stray = [s for s in stray if s < last]
        if len(picked) < 2 and bars < 2:
            return False
        rows = [(self.lines[k], _piped_cells(self.lines[k].text)) for k in picked]
        labels: tuple[str, ...] = ()
        header_lines: tuple[int, ...] = ()
        first_cells = [t for _, _, t in rows[0][1]]
        two = [[t for _, _, t in cells] for _, cells in rows[:2]]
        if (
            len(rows) > 2
            and rulers
            and picked[1] < rulers[0] < picked[2]
            and len(two[0]) == len(two[1])
            and not any(_value_like(t) for texts in two for t in texts if t)
        ):
            labels = tuple(f"{one} {other}".strip() for one, other in zip(*two, strict=True))
            header_lines = (rows[0][0].number, rows[1][0].number)
            rows = rows[2:]
        elif len(rows) > 1 and not any(_value_like(t) for t in first_cells) and all(first_cells[:1]):
            labels = tuple(first_cells)
            header_lines = (rows[0][0].number,)
            rows = rows[1:]
        made = tuple(
            GridRow(tuple(Cell(t, x.number, a, b) if t else None for a, b, t in cells), (x.number,), "")
            for x, cells in rows
        )
        self._emit(
            Grid(
                self.take_titles(),
                labels,
                header_lines,
                made,
                "pipe",
                self.lines[i].number,
                self.lines[last].number,
                tuple(self.lines[s] for s in stray),
            )
        )
        self.at = last + 1
        while self.at < self.count and self.ruler[self.at]:
            self.at += 1
        return True

    # Comma- and semicolon-separated values with a header.

    def _begins_separated(self, j: int) -> bool:
        """Whether a line of labels stands above one with as many values, parted by commas."""
        text = self.lines[j].text
        if j + 1 >= self.count or text.count(",") < 2 or ", " in text or ":" in text or self.blank(j + 1):
            return False
        header, row = _split_separated(text, ","), _split_separated(self.lines[j + 1].text, ",")
        return (
            header is not None
            and row is not None
            and len(header) == len(row)
            and all(t and t[0].isalpha() and not _value_like(t) for _, _, t in header)
        )

    def _sensors_by_commas(self, i: int) -> bool:
        """`Inlet Temp,26,degrees C,ok`: a name, its figure, the unit and the state, in each line and without labels."""
        made: list[GridRow] = []
        j = i
        while j < self.count and _SENSOR_BY_COMMAS.fullmatch(self.lines[j].text) is not None:
            number = self.lines[j].number
            cells = _split_separated(self.lines[j].text, ",") or []
            made.append(GridRow(tuple(Cell(t, number, a, b) if t else None for a, b, t in cells), (number,), ""))
            j += 1
        if len(made) < 3:
            return False
        first, last = self.lines[i].number, self.lines[j - 1].number
        self._emit(Grid(self.take_titles(), (), (), tuple(made), "separated", first, last))
        self.at = j
        return True

    def _separated(self, i: int) -> bool:
        if i < self.repeated:
            return False
        if self.lines[i].text.count(",") == 3 and self._sensors_by_commas(i):
            return True
        text = self.lines[i].text
        for mark in (",", ";", "\t"):
            if text.count(mark) < 2:
                continue
            header = _split_separated(text, mark)
            if (
                header is None
                or all("=" in t for _, _, t in header)
                or any(_stands_for_value(t) or t[:1].isdigit() or ":" in t or len(t) > 40 for _, _, t in header)
                or not all(t for _, _, t in header)
            ):
                continue
            rows: list[GridRow] = []
            j = i + 1
            while j < self.count and not self.blank(j):
                cells = _split_separated(self.lines[j].text, mark)
                if cells is None or len(cells) != len(header):
                    break
                number = self.lines[j].number
                if [t for _, _, t in cells] != [t for _, _, t in header]:
                    rows.append(
                        GridRow(tuple(Cell(t, number, a, b) if t else None for a, b, t in cells), (number,), "")
                    )
                j += 1
            if not rows:
                self.repeated = max(self.repeated, j)
                continue
            self._emit(
                Grid(
                    self.take_titles(),
                    tuple(t for _, _, t in header),
                    (self.lines[i].number,),
                    tuple(rows),
                    "separated",
                    self.lines[i].number,
                    self.lines[j - 1].number,
                )
            )
            self.at = j
            return True
        return False

    def _emit(self, block: Block) -> None:
        self.out.blocks.append(block)

    # Columns that white space parts.

    def _columns(self, i: int) -> bool:
        if _VERDICT.match(self.lines[i].text):
            return False
        if "_" in self.lines[i].text and (named := self._by_names(i)) is not None:
            self.at = i + 1 + len(named.rows)
            self._emit(named)
            return True
        found = self._header(i)
        if found is None:
            return False
        header, first_row, segments = found
        rows, end = self._body(header, first_row, segments)
        if not rows:
            return False
        if (ordered := self._by_order(header, rows)) is not None:
            self._emit(ordered)
            self.at = end
            return True
        if (folded := self._folded(header, rows)) is not None:
            self._emit(folded)
            self.at = end
            return True
        labels_of = (
            sorted(header, key=lambda h: len(self.pieces[h]) > 1) if len(self.pieces[header[-1]]) < 2 else header
        )
        built = _columns_of([self.lines[h].text for h in labels_of], [self.lines[r].text for r in rows], segments)
        if built is None:
            return False
        labels, edges = built
        if len(labels) < 2:
            return False
        if len(header) == 2 and not segments and len(set(labels)) < len(labels):
            labels, edges = self._counted(header, rows) or (labels, edges)
        split: dict[int, list[int]] = {}
        told = [self.lines[h].text for h in labels_of]
        parted = None if segments else _parted_below_labels(told, [self.lines[r] for r in rows], edges)
        if parted is not None:
            labels, edges, split = parted
        made, loose = self._rows(rows, edges, header, split)
        if not made:
            return False
        crowded = _crowded(self.pieces[labels_of[-1]], edges) if not segments and not parted else frozenset[int]()
        if len(labels) > 2:
            if any(label[-1:].isdigit() for label in labels):
                made = [_one_by_one(row, labels) for row in made]
            made = [self._with_gaps(row) for row in made]
        if not segments and self._displaced(header, rows, labels, made):
            made = [
                row._replace(odd=row.odd or "whose label is whose is told by neither place nor order") for row in made
            ]
        if crowded or any(row.odd for row in made):
            pushed = self._by_pushing(header, rows) if not segments else None
            if pushed is not None:
                self._emit(pushed)
                self.at = end
                return True
            made = [_doubted(row, crowded) for row in made]
        # Titles: what stands above the header within the same paragraph was put there by the caller.
        self._emit(
            Grid(
                self.take_titles(),
                labels,
                tuple(self.lines[h].number for h in header),
                tuple(made),
                "columns",
                self.lines[header[0]].number,
                self.lines[rows[-1]].number,
                tuple(loose),
            )
        )
        heads = {self.lines[h].text.strip() for h in header}
        within = [self.lines[k] for k in range(header[-1] + 1, rows[-1])]
        again = tuple(line.number for line in within if line.text.strip() in heads)
        headings = tuple(self.lines[k] for k in rows if self._over_rows(k))
        last = self.out.blocks[-1]
        assert isinstance(last, Grid)
        self.out.blocks[-1] = last._replace(again=again, headings=headings)
        self.at = end
        return True

    def _by_names(self, i: int) -> Grid | None:
        """A table headed by names such as `PSU_id`, one blank apart, of which each cell begins right below its name."""
        names = list(_WORD.finditer(self.lines[i].text))
        if (
            len(names) < 3
            or len(self.lines[i].text) > LONGEST
            or any(_NAME.fullmatch(m.group()) is None for m in names)
        ):
            return None
        if 2 * sum("_" in m.group() for m in names) < len(names) or len({m.group() for m in names}) < len(names):
            return None
        edges = [(m.start(), n.start()) for m, n in pairwise(names)] + [(names[-1].start(), LONGEST)]
        made: list[GridRow] = []
        for line in self.lines[i + 1 :]:
            text = line.text
            if line.doubt or len(text) > LONGEST or not text[names[0].start() : names[0].start() + 1].strip():
                break
            if text[: edges[0][0]].strip() or any(text[a - 1 : a].strip() for a, _ in edges[1:]):
                break
            if any("  " in text[a:b].strip() for a, b in edges):
                break  # two cells below one name
            cells = [_cell_at(line, a, b) for a, b in edges]
            if sum(c is not None for c in cells) < 2 or any(
                c is not None and c.start != a for c, (a, _) in zip(cells, edges, strict=True)
            ):
                break
            made.append(GridRow(tuple(cells), (line.number,), ""))
        if not made:
            return None
        first, last = self.lines[i].number, self.lines[i + len(made)].number
        return Grid(self.take_titles(), tuple(m.group() for m in names), (first,), tuple(made), "columns", first, last)

    def _by_order(self, header: list[int], rows: list[int]) -> Grid | None:
        """A table whose labels stand too close to say by their place what is theirs: as many words a row as labels, in order."""
        if len(header) != 1 or all(len(t.split(" ")) < 4 for _, _, t in self.pieces[header[0]]):
            return None
        labels = self.lines[header[0]].text.split()
        if len(rows) < 2 and len(labels) < _MANY_LABELS:
            return None
        cells = [list(_WORD.finditer(self.lines[r].text)) for r in rows]
        if len(labels) < 5 or any(len(words) != len(labels) for words in cells) or len(set(labels)) != len(labels):
            return None
        made = tuple(
            GridRow(
                tuple(Cell(m.group(), self.lines[r].number, m.start(), m.end()) for m in words),
                (self.lines[r].number,),
                "",
            )
            for r, words in zip(rows, cells, strict=True)
        )
        first, last = self.lines[header[0]].number, self.lines[rows[-1]].number
        return Grid(self.take_titles(), tuple(labels), (first,), made, "columns", first, last)

    def _counted(self, header: list[int], rows: list[int]) -> tuple[tuple[str, ...], list[tuple[int, int]]] | None:
        """Labels that stand closer together than their columns, in the order of their words: `Crit Major` over `(Lo) (Lo)`.

        None where the rows are not all of as many cells as there are words.
        """
        upper, lower = (_WORD_OR_BRACKET.findall(self.lines[h].text) for h in header)
        told = [self.pieces[r] for r in rows if len(self.pieces[r]) > 1]
        count = len(told[0]) if told else 0
        places = [self.pieces[r][0] for r in rows if len(self.pieces[r]) == 1]
        if count < 6 or any(len(t) != count for t in told) or len(upper) != count + bool(places):
            return None
        if not count - 2 <= len(lower) <= count or sum(word[0] == "(" for word in lower) < 4:
            return None
        edges = [(min(t[k][0] for t in told), max(t[k][1] for t in told)) for k in range(count)]
        if places:
            edges.insert(0, (min(a for a, _, _ in places), max(b for _, b, _ in places)))
        if any(one[1] >= other[0] for one, other in pairwise(edges)):
            return None
        below = [""] * (len(upper) - len(lower)) + lower
        return tuple(f"{one} {other}".strip() for one, other in zip(upper, below, strict=True)), edges

    def _displaced(self, header: list[int], rows: list[int], labels: tuple[str, ...], made: list[GridRow]) -> bool:
        """Whether a label stands over nothing although each row has a cell for each, and cells stand below no label's edge.

        So looks a table whose cells are parted by tabs and whose labels are longer than these.
        """
        if len(header) != 1 or any(len(self.pieces[r]) != len(self.pieces[header[0]]) for r in rows):
            return False
        if not any(label and all(row.cells[k] is None for row in made) for k, label in enumerate(labels)):
            return False
        words = [m.span() for m in _WORD.finditer(self.lines[header[0]].text)]
        starts, ends = {a for a, _ in words}, {b for _, b in words}
        return any(a not in starts and b not in ends for r in rows for a, b, _ in self.pieces[r])

    def _with_gaps(self, row: GridRow) -> GridRow:
        """The row, odd where one of its cells is two pieces of the line, the second of which is no mere number of the first."""
        if row.odd or len(row.lines) > 1:
            return row
        for start, end, cell in [(c.start, c.end, c.text) for c in row.cells if c is not None and " " in c.text]:
            text = self.texts[row.lines[0]][start:end]
            if "  " not in text or ", " in cell:
                continue
            said = [t for _, _, t in _pieces(text)]
            of_one = all((t.isdigit() and len(t) < 4) or t[0] == "(" or not t.strip("-") for t in said[1:])
            if len(said) == 3 and (apart := self._with_blank_apart(row)) is not row:
                return self._with_gaps(apart)
            if len(said) == 2 and _FIGURE_ALONE.fullmatch(said[0]) and _UNIT_APART.match(said[1]):
                continue  # `35   Celsius`
            if not of_one and not all(_measures(t) for t in said):
                return row._replace(odd=f"`{' '.join(text.split())}` is more than one cell")
        return row

    def _with_blank_apart(self, row: GridRow) -> GridRow:
        """The row with `3540  RPM  na` as a figure with its unit, and the blank that stands in its place in the next column."""
        for k, cell in enumerate(row.cells[:-1]):
            if cell is None or row.cells[k + 1] is not None or cell.text.count(" ") != 2:
                continue
            pieces = [
                (m.start() + cell.start, m.group())
                for m in _WORD.finditer(self.texts[row.lines[0]][cell.start : cell.end])
            ]
            (_, figure), (at, unit), (begin, blank) = pieces
            if (
                _FIGURE_ALONE.fullmatch(figure)
                and _UNIT_APART.match(unit)
                and blank.lower() in ("na", "n/a", "-", "--")
            ):
                own = Cell(f"{figure} {unit}", cell.line, cell.start, at + len(unit))
                other = Cell(blank, cell.line, begin, cell.end)
                return row._replace(cells=(*row.cells[:k], own, other, *row.cells[k + 2 :]))
        return row

    def _by_pushing(self, header: list[int], rows: list[int]) -> Grid | None:
        """A table whose columns are as wide as its labels, so that a longer cell pushes all that stand behind it.

        Each cell stands where its label does, or as far from there as those before it were pushed. None where a row
        cannot have been printed so.
        """
        labels = self.pieces[header[0]]
        if len(header) != 1 or len(labels) < 3 or len(rows) < 2:
            return None
        made = []
        for r in rows:
            cells = _pushed_cells(self.pieces[r], labels, self.lines[r].number)
            if cells is None or self.lines[r].doubt:
                return None
            made.append(GridRow(cells, (self.lines[r].number,), ""))
        first, last = self.lines[header[0]].number, self.lines[rows[-1]].number
        return Grid(self.take_titles(), tuple(t for _, _, t in labels), (first,), tuple(made), "columns", first, last)

    def _folded(self, header: list[int], rows: list[int]) -> Grid | None:
        """A table of which each row stands on two lines, as its labels do: the second begins right of the first column."""
        if len(header) != 2 or len(rows) < 2 or len(rows) % 2:
            return None
        upper, lower = (self.pieces[h] for h in header)
        if len(upper) < 2 or len(lower) < 2 or lower[0][0] < upper[0][1]:
            return None
        if all(len(self.pieces[first]) == 1 for first in rows[::2]):
            return None  # they only name the place of the rows below them
        heads = [*upper, *lower]
        made: list[GridRow] = []
        for first, second in zip(rows[::2], rows[1::2], strict=True):
            above, below = self.pieces[first], self.pieces[second]
            if above[0][0] >= upper[0][1] or below[0][0] < upper[0][1]:
                return None
            cells: list[Cell | None] = [None] * len(heads)
            odd = ""
            for number, pieces, labels, offset in ((first, above, upper, 0), (second, below, lower, len(upper))):
                for a, b, text in pieces:
                    over = [k for k, (s, e, _) in enumerate(labels) if a < e and b > s]
                    if len(over) != 1 or cells[offset + over[0]] is not None:
                        odd = f"`{text}` stands under no column, or under two"
                        continue
                    cells[offset + over[0]] = Cell(text, self.lines[number].number, a, b)
            made.append(GridRow(tuple(cells), (self.lines[first].number, self.lines[second].number), "", odd))
        if 2 * sum(bool(row.odd) for row in made) >= len(made):
            return None
        return Grid(
            self.take_titles(),
            tuple(t for _, _, t in heads),
            tuple(self.lines[h].number for h in header),
            tuple(made),
            "folded",
            self.lines[header[0]].number,
            self.lines[rows[-1]].number,
        )

    def _header(self, i: int) -> tuple[list[int], int, list[tuple[int, int]]] | None:
        """Lines of a header that begins at `i`, the first row's line, and the segments of the ruler below it."""
        if _SENTENCE.match(self.lines[i].text.strip()) is not None and len(self.pieces[i]) == 1:
            return None
        j = i
        opened = False
        if self.ruler[j]:
            opened = True
            while j < self.count and self.ruler[j]:
                j += 1
            if j >= self.count or self.blank(j):
                return None
        header: list[int] = []
        while j < self.count and not self.blank(j) and len(header) <= _MOST_HEADERS and not self.ruler[j]:
            if header and (self.section[j] or (_MESSAGE.search(self.lines[j].text) and log_line(self.lines[j].text))):
                break
            if (
                not self.pieces[j]
                or self.section[j]
                or _DATED.match(self.lines[j].text) is not None
                or self.lines[j].text.count("|")
                or _holds_pair(self.lines[j].text)
            ):
                return None
            header.append(j)
            j += 1
        while len(header) > 1 and self._titles_table(header):
            if (told := self.pair[header[0]]) is not None and told[1]:
                return None  # a key with its value, to be read by itself
            self.title(header.pop(0))
        if opened and len(header) > 1 and self._rows_follow(header[0], header[1]):
            return header[:1], header[1], []  # below a ruler labels, and at once their rows
        if j < self.count and self.ruler[j] and 1 <= len(header) <= _MOST_HEADERS:
            if self.pair[header[0]] is not None and len(header) > 1:
                return None
            if len(header) == 1 and self.pair[header[0]] is not None:
                return None
            last = self.pieces[header[-1]]
            segments = [(m.start(), m.end()) for m in _SEGMENT.finditer(self.lines[j].text)]
            if len(last) < 2 and len(segments) < 2 and (len(header) < 2 or len(self.pieces[header[-2]]) < 3):
                if len(header) == 1 and not opened and self._as_many_cells(header[0], j):
                    return header, j + 1, []
                return None
            if len(segments) >= 2 and j + 1 < self.count and not self.blank(j + 1) and len(header) < _MOST_HEADERS:
                # A ruler between two header lines: it spans the sub-columns below.
                k = j + 1
                if k + 1 < self.count and self.ruler[k + 1] and not self.ruler[k]:
                    below = [(m.start(), m.end()) for m in _SEGMENT.finditer(self.lines[k + 1].text)]
                    if len(below) > len(segments) and len(self.pieces[k]) > 1:
                        return [*header, k], k + 2, below
            while j < self.count and self.ruler[j]:
                j += 1
            while j < self.count and self.blank(j) and j + 1 < self.count:
                j += 1
                if self._begins_rows(j) or (self._only_labels(j) and j + 1 < self.count and self.ruler[j + 1]):
                    return None
            if any(_stands_for_value(t) for _, _, t in last) and not opened and len(segments) < 2:
                return None
            named = all(_LABELLED.match(t) or _LETTERED.fullmatch(t) for _, _, t in last)
            if len(segments) > 1 and named and self._beside(j, segments):
                segments = [(0, segments[0][0] - 1), *segments]
            return header, j, segments if len(segments) > 1 else []
        if opened:
            return None
        return self._bare_header(i)

    def _as_many_cells(self, labels: int, ruler: int) -> bool:
        """Whether each line below a ruler has a cell for each word of the labels above it: these stand one blank apart."""
        words = self.lines[labels].text.split()
        k = ruler + 1
        while k < self.count and not self.blank(k) and not self.ruler[k] and len(self.pieces[k]) == len(words):
            k += 1
        ended = k >= self.count or self.blank(k) or self.ruler[k]
        return ended and k > ruler + 2 and len(words) > 4 and len(set(words)) == len(words)

    def _heads_things(self, i: int) -> bool:
        """Whether a line names a thing a column, above lines that begin with a label: a table on its side."""
        pieces = self.pieces[i]
        if len(pieces) < 2 or i + 2 >= self.count or not all(_LABELLED.match(t) for _, _, t in pieces):
            return False
        return all(
            len(self.pieces[k]) == len(pieces) + 1 and self.pieces[k][0][1] < pieces[0][0] for k in (i + 1, i + 2)
        )

    def _things_beside(self, i: int) -> bool:
        """Whether a line is a label and numbered things, each above its own cell, as `Unit  PS1  PS2  Fan1` is."""
        labels = self.pieces[i]
        if len(labels) < 3 or i + 1 >= self.count or labels[0][2].lower() not in _FIRST_LABELS | _WHOLES:
            return False
        row = self.pieces[i + 1]
        return (
            len(row) == len(labels)
            and all(_THING_NO.fullmatch(t) for _, _, t in labels[1:3])
            and all(a == b for (a, _, _), (b, _, _) in zip(row, labels, strict=True))
            and not any(_THING_NO.fullmatch(t) for _, _, t in row)
        )

    def _beside(self, j: int, segments: list[tuple[int, int]]) -> bool:
        """Whether each of the lines from `j` begins with a label left of all columns: a table on its side."""
        seen = 0
        while j < self.count and not self.blank(j) and not self.ruler[j] and seen < 3:
            pieces = self.pieces[j]
            if len(pieces) < 2 or pieces[0][1] >= segments[0][0] or any(ch.isdigit() for ch in pieces[0][2]):
                return False
            seen += 1
            j += 1
        return seen > 1

    def _labelled(self, j: int) -> bool:
        """Whether most pieces of a line are words that label a column."""
        if (known := self.labelled.get(j)) is None:
            known = self.labelled[j] = self._of_labels(j)
        return known

    def _of_labels(self, j: int) -> bool:
        pieces = self.pieces[j]
        return len(pieces) > 1 and 5 * sum(_HEADING.search(t) is not None for _, _, t in pieces) >= 3 * len(pieces)

    def _says_how(self, j: int) -> bool:
        """Whether a piece of a line is a state that heads no column: then it is a row, be its names as labels are."""
        return any(t.lower() in _HEADS_NOTHING for _, _, t in self.pieces[j])

    def _rows_follow(self, labels: int, row: int) -> bool:
        """Whether a line is labels alone, and the one below it has a cell for each, figures among them."""
        heads, cells = self.pieces[labels], self.pieces[row]
        return (
            len(heads) == len(cells) > 2
            and self._labelled(labels)
            and not any(ch.isdigit() for ch in self.lines[labels].text)
            and sum(_stands_for_value(t) for _, _, t in cells) > 1
            and self.pair[row] is None
        )

    def _begins_rows(self, j: int) -> bool:
        """Whether a line of words alone stands right above one with figures."""
        if len(self.pieces[j]) < 3 or j + 1 >= self.count or any(ch.isdigit() for ch in self.lines[j].text):
            return False
        below = self.pieces[j + 1]
        return (
            not any(_value_like(t) for _, _, t in self.pieces[j])
            and len(below) >= 3
            and sum(_value_like(t) and t[-1:].isdigit() for _, _, t in below) > 1
        )

    def _upper_labels(self, j: int) -> bool:
        """Whether a line is the upper one of a table's labels: it stands far right, above more labels and a ruler."""
        if j + 2 >= self.count or not self.ruler[j + 2] or self.ruler[j] or self.ruler[j + 1]:
            return False
        upper, lower = self.pieces[j], self.pieces[j + 1]
        if not upper or len(lower) < 3 or len(upper) >= len(lower) or upper[0][0] <= lower[0][1]:
            return False
        return self._only_labels(j + 1) and not any(ch.isdigit() for ch in self.lines[j].text)

    def _counts_rows(self, j: int) -> bool:
        """Whether a line is the two labels of a table whose rows are counted, as `Index   Status` over `1   up`."""
        if j + 1 >= self.count or self.blank(j + 1) or self.ruler[j + 1]:
            return False
        labels, row = self.pieces[j], self.pieces[j + 1]
        if len(labels) != 2 or len(row) != 2 or row[1][0] != labels[1][0] or not _HEADING.fullmatch(labels[1][2]):
            return False
        if row[0][2].isdigit() and labels[0][2].lower().rstrip(".") in _FIRST_LABELS | {"index"}:
            return True
        numbered = _NUMBERED.fullmatch(row[0][2]) is not None and row[0][0] == labels[0][0]
        return numbered and labels[0][2].lower() in _THINGS_LISTED

    def _below_each(self, j: int, header: int) -> bool:
        """Whether a piece of a line begins right below each label, as `Temp: Inlet   R0   Normal` does."""
        labels, row = self.pieces[header], self.pieces[j]
        return (
            self._only_labels(header)
            and len(row) == len(labels)
            and all(a == b for (a, _, _), (b, _, _) in zip(row, labels, strict=True))
        )

    def _only_labels(self, j: int) -> bool:
        """Whether a line is nothing but the labels of columns."""
        pieces = self.pieces[j]
        return len(pieces) > 2 and self._labelled(j) and not any(_value_like(t) for _, _, t in pieces)

    def _titles_table(self, header: list[int]) -> bool:
        """Whether the first of these lines is a title and not the upper line of a label."""
        pieces = self.pieces[header[0]]
        if len(pieces) != 1 or all(len(self.pieces[h]) < 2 for h in header[1:]):
            return False
        start, end, text = pieces[0]
        below = next(self.pieces[h] for h in header[1:] if len(self.pieces[h]) > 1)
        if (
            text.lower() in _SECTIONS
            and start == below[0][0]
            and below[0][2].split("/")[0].split()[0].lower() in _FIRST_LABELS
            and (header[0] == 0 or self.blank(header[0] - 1))
        ):
            return True
        left = min(self.pieces[h][0][0] for h in header[1:])
        if len(header) > 2 and _TITLES.match(text) and sum(a < end and b > start for a, b, _ in below) > 1:
            return True
        return text.endswith(":") or (
            start <= left and ((len(text.split()) > 1 and sum(a < end for a, _, _ in below) > 1) or start < left)
        )

    def _bare_header(self, i: int) -> tuple[list[int], int, list[tuple[int, int]]] | None:
        """A header without a ruler: up to three lines without any value, above lines with values."""
        if self._heads_things(i) or self._things_beside(i):
            return [i], i + 1, []
        header: list[int] = []
        j = i
        while j < self.count and not self.blank(j) and len(header) <= _MOST_HEADERS and not self.ruler[j]:
            if (
                self.pair[j] is not None
                or self.section[j]
                or _BRACKET_TITLE.fullmatch(self.lines[j].text) is not None
                or _holds_pair(self.lines[j].text)
                or self._says_how(j)
                or sum(_KEY_AND_FIGURE.fullmatch(t) is not None for _, _, t in self.pieces[j]) > 1
                or (
                    any(_value_like(t) for _, _, t in self.pieces[j])
                    and (any(ch.isdigit() for ch in _RAIL_LABEL.sub("", self.lines[j].text)) or not self._labelled(j))
                )
            ):
                break
            if header and self._labelled(header[-1]) and not self._labelled(j):
                break
            header.append(j)
            j += 1
        if header and len(self.pieces[header[0]]) > 2 and i + 1 < self.count and self._heads_rows(i + 1):
            return header[:1], i + 1, []  # a heading stands over the first rows
        if not 1 <= len(header) <= _MOST_HEADERS:
            header = header[:1]
            j = i + 1
        if j < self.count and self.blank(j):
            while j < self.count and self.blank(j):
                j += 1
            if len(header) > 1 and len(self.pieces[header[-1]]) < 2:
                return None
            if j < self.count and self._begins_rows(j):
                return None  # no row stands below it, but the labels of another table
        if not header or j >= self.count or len(self.pieces[header[-1]]) < 2 or self.ruler[j]:
            return None
        if len(self.pieces[header[0]]) < 2 and len(header) > 1:
            return None  # a title; it is asked again from the next line
        if len(self.pieces[header[-1]]) == 2 and (
            len(header) > 1 or not all(_HEADING.search(t) for _, _, t in self.pieces[header[0]])
        ):
            return None
        if len(self.pieces[j]) < 2 or (
            not self._below_each(j, header[-1])
            and self.pair[j] is not None
            and self.pair[header[-1]] is None
            and ":" in self.lines[j].text.split("  ")[0]
        ):
            return None
        return header, j, []

    def _body(
        self, header: list[int], first: int, segments: list[tuple[int, int]], most: int = 100_000
    ) -> tuple[list[int], int]:
        """Lines that may be rows, and where they end."""
        rows: list[int] = []
        heads = {self.lines[h].text.strip() for h in header}
        j = first
        end = first
        after_blank = False
        while j < self.count and len(rows) < most:
            text = self.lines[j].text
            if self.blank(j):
                after_blank = True
                j += 1
                continue
            if self.section[j] or _BRACKET_TITLE.fullmatch(text) is not None:
                break
            if self.ruler[j]:
                # A ruler that closes the table, unless rows of the same columns go on below it.
                nxt = j + 1
                if (
                    nxt < self.count
                    and not self.blank(nxt)
                    and not self.ruler[nxt]
                    and not after_blank
                    and len(self.pieces[nxt]) >= 2
                    and any(_value_like(t) for _, _, t in self.pieces[nxt])
                    and self.pair[nxt] is None
                    and not (nxt + 1 < self.count and self.ruler[nxt + 1])
                ):
                    j += 1
                    continue
                if text.strip() and after_blank:
                    break
                j += 1
                end = j
                break
            if text.strip() in heads:  # the header again, as a pager prints it
                j += 1
                end = j
                continue
            pieces = self.pieces[j]
            if not pieces or (
                log_line(text) and (_MESSAGE.search(text) or not any(_NUMERIC.match(t) for _, _, t in pieces[1:]))
            ):
                j += 1
                continue
            if self._heads_rows(j) and not after_blank:
                rows.append(j)
                j += 1
                continue
            if len(pieces) == 1 and not self._member(j) and self._runs_over(j, header, segments):
                if rows and not after_blank and self._intrudes(j, rows):
                    j += 1
                    continue
                break
            followed = j + 1 < self.count and self.ruler[j + 1]
            if rows and not any(map(str.isdigit, text)) and self._labelled(j) and not self._says_how(j):
                starts = {a for a, _ in segments}
                if after_blank or followed or len(pieces) < 2 or not all(a in starts for a, _, _ in pieces):
                    break  # the header of another table
            if after_blank:
                if (
                    len(pieces) < 2
                    or self.pair[j] is not None
                    or followed
                    or not any(_value_like(t) for _, _, t in pieces[1:])
                ):
                    if not (self._member(j) and self._goes_on(j, header)):
                        break
                elif not self._fits(j, rows, segments) or self._leaves_most(j, rows):
                    break
            elif (
                (self.pair[j] is not None and self._breaks_out(j, rows))
                or (followed and len(pieces) == 1 and rows)
                or (followed and rows and not any(_value_like(t) for _, _, t in pieces))
            ):
                break
            rows.append(j)
            after_blank = False
            j += 1
            end = j
        while rows and len(self.pieces[rows[-1]]) == 1 and self._member(rows[-1]):
            end = rows.pop()
        return rows, max(end, first)

    def _runs_over(self, j: int, header: list[int], segments: list[tuple[int, int]]) -> bool:
        """Whether a line of one piece runs over the first two columns, as no row of a table does."""
        start, end, text = self.pieces[j][0]
        columns = segments or [(a, b) for a, b, _ in max((self.pieces[h] for h in header[-2:]), key=len)]
        if len(columns) < 2 or " " not in text or start >= columns[0][1] or end <= columns[1][0] + 1:
            return False
        border = columns[1][0]
        return not (segments and self.lines[j].text[border - 1 : border] == " " and start <= columns[0][0])

    def _intrudes(self, j: int, rows: list[int]) -> bool:
        """Whether a message or what is left of a pager stands between two rows of the same columns."""
        if not self.lines[j].doubt and _NOT_OF_TABLE.search(self.lines[j].text) is None:
            return False
        k = j + 1
        while k < self.count and k < j + 3 and self.blank(k):
            k += 1
        starts = [a for a, _, _ in self.pieces[rows[-1]]]
        return k < self.count and len(starts) > 2 and [a for a, _, _ in self.pieces[k]] == starts

    def _member(self, j: int) -> bool:
        """Whether a line within a table is a heading over rows, such as `Switch 1:`."""
        if len(self.pieces[j]) != 1:
            return False
        text = self.lines[j].text.strip()
        return len(text) <= 40 and (
            text.endswith(":") or re.fullmatch(r"[A-Za-z][A-Za-z ]*[#-]? ?\d{1,3}", text) is not None
        )

    def _heads_rows(self, j: int) -> bool:
        """Whether a line such as `Fans` stands over rows that begin further right."""
        if len(self.pieces[j]) != 1 or j + 1 >= self.count or len(self.pieces[j + 1]) < 2:
            return False
        start, _, text = self.pieces[j][0]
        known = text.lower().rstrip(":") in _SECTIONS or _TITLES.match(text) is not None
        return known and self.pieces[j + 1][0][0] > start

    def _over_rows(self, j: int) -> bool:
        """Whether a line within a table is a heading over rows, of either form."""
        return len(self.pieces[j]) == 1 and (self._member(j) or self._heads_rows(j))

    def _goes_on(self, j: int, header: list[int]) -> bool:
        k = j + 1
        while k < self.count and self.blank(k):
            k += 1
        heads = {self.lines[h].text.strip() for h in header}
        return k < self.count and (
            self.lines[k].text.strip() in heads
            or (
                len(self.pieces[k]) >= len(self.pieces[header[-1]]) - 1
                and any(_value_like(t) for _, _, t in self.pieces[k])
                and self.pair[k] is None
                and not (k + 1 < self.count and self.ruler[k + 1])
            )
        )

    def _breaks_out(self, j: int, rows: list[int]) -> bool:
        """Whether a line `Key: value` does not stand in the columns of the rows above it."""
        key = self.pair[j]
        assert key is not None
        if self._member(j):
            return False
        at = self.lines[j].text.find(":")
        if key[2] == ":" and not key[1] and rows and all(self.lines[r].text[at : at + 1] == ":" for r in rows[-3:]):
            return False  # a row of these columns that has no more
        if key[2] == "=" or not rows:
            return len(self.pieces[j]) < 3
        return not self._fits(j, rows, []) or len(self.pieces[j]) < 3

    def _fits(self, j: int, rows: list[int], segments: list[tuple[int, int]]) -> bool:
        """Whether each piece of a line begins or ends where one of a row above does, or within its columns."""
        if segments:
            return all(any(a < e + 2 and b > s - 2 for s, e in segments) for a, b, _ in self.pieces[j])
        starts = {a for r in rows[-8:] for a, _, _ in self.pieces[r]}
        ends = {b for r in rows[-8:] for _, b, _ in self.pieces[r]}
        if not starts:
            return True
        good = sum(a in starts or b in ends for a, b, _ in self.pieces[j])
        return good * 2 > len(self.pieces[j])

    def _leaves_most(self, j: int, rows: list[int]) -> bool:
        """Whether a line fills less than half of the columns that each row above it does, and one of them not from where they do."""
        pieces = self.pieces[j]
        if not rows or 2 * len(pieces) >= min(len(self.pieces[r]) for r in rows):
            return False
        starts: dict[int, set[int]] = {}
        for r in rows[-8:]:
            for a, b, _ in self.pieces[r]:
                starts.setdefault(b, set()).add(a)
        begun = set().union(*starts.values())
        return any(a not in begun and len(starts.get(b, ())) < 2 for a, b, _ in pieces)

    def _rows(
        self, rows: list[int], edges: list[tuple[int, int]], header: list[int], split: Mapping[int, list[int]]
    ) -> tuple[list[GridRow], list[Line]]:
        made: list[GridRow] = []
        loose: list[Line] = []
        heading = ""
        wrapped: Cell | None = None
        """A first cell alone on its line, which may go on in the next row."""
        over: Cell | None = None
        apart = all(one[1] <= other[0] for one, other in pairwise(edges))
        whole = []
        for r in rows:
            line = self.lines[r]
            within = _within(line, edges) if apart and line.number not in split else None
            whole.append((within, "") if within is not None else _placed(line, edges, split.get(line.number, ())))
        if any(odd for _, odd in whole) and not all(odd for _, odd in whole):
            _pushed([self.lines[r] for r in rows], edges, whole)
        filled_in = [[k for k, c in enumerate(cells) if c is not None] for cells, _ in whole]
        second = _second_lines(filled_in)
        sure = [[] if odd else filled for filled, (_, odd) in zip(filled_in, whole, strict=True)]
        parts = _parts_of_rows(sure, len(edges), [self.lines[r].number for r in rows])
        for n, r in enumerate(rows):
            line = self.lines[r]
            if n in parts:
                cells = tuple(old or new for old, new in zip(made[-1].cells, whole[n][0], strict=True))
                made[-1] = made[-1]._replace(cells=cells, lines=(*made[-1].lines, line.number))
                continue
            if n + 1 in parts and wrapped is None:
                made.append(GridRow(tuple(whole[n][0]), (line.number,), heading))
                continue
            if self._over_rows(r):
                heading = line.text.strip().rstrip(":").strip()
                continue
            placed, odd = whole[n]
            if n in second and made and not odd and not made[-1].odd and made[-1].lines[-1] == line.number - 1:
                cells = tuple(old or new for old, new in zip(made[-1].cells, placed, strict=True))
                made[-1] = made[-1]._replace(cells=cells, lines=(*made[-1].lines, line.number))
                continue
            filled = filled_in[n]
            if not filled:
                loose.append(line)
                continue
            if filled[0] > 0 and made and not odd and not parts and _continues(placed, made[-1]):
                made[-1] = _joined(made[-1], placed, line.number)
                continue
            first = placed[0]
            if (
                filled == [0]
                and first is not None
                and len(edges) > 2
                and not odd
                and not _value_like(first.text)
                and wrapped is None
            ):
                wrapped = first
                continue
            lines: tuple[int, ...] = (line.number,)
            if wrapped is not None:
                if first is not None and first.text[:1].islower():
                    placed[0] = first._replace(text=f"{wrapped.text} {first.text}")
                    lines = (wrapped.line, line.number)
                else:
                    made.append(GridRow((wrapped, *([None] * (len(edges) - 1))), (wrapped.line,), heading))
                    if first is not None and first.start > wrapped.start + 1:
                        heading = wrapped.text  # it stands over rows that begin further right
                wrapped = None
            if over is not None and first is not None and first.start > over.start + 1:
                heading, over = over.text, None  # it stands over rows that begin further right
            made.append(GridRow(tuple(placed), lines, heading, odd))
            over = first if filled == [0] and not odd else over
        if wrapped is not None:
            made.append(GridRow((wrapped, *([None] * (len(edges) - 1))), (wrapped.line,), heading))
        return made, loose

    # Lines without labels: a name with its figures and a verdict, one or more of them a line.

    def _records(self, i: int) -> bool:
        items: list[Item] = []
        j = i
        while j < self.count and not self.blank(j) and (found := self._of_record(j)):
            items.extend(found)
            j += 1
        if not items or (j < self.count and not self.blank(j) and not self.ruler[j]):
            return False
        self._emit(Pairs(self.take_titles(), tuple(items), self.lines[i].number, self.lines[j - 1].number))
        self.at = j
        return True

    def _of_record(self, j: int) -> list[Item]:
        """`FAN 1  good  5520 rpm     FAN 2  good  5490 rpm`: each name with what stands behind it; nothing where it is not so."""
        pieces = self.pieces[j]
        if len(pieces) < 3 or self.ruler[j] or self.pair[j] is not None or log_line(self.lines[j].text):
            return []
        line = self.lines[j]
        found: list[Item] = []
        at = 0
        while at < len(pieces):
            start, _, key = pieces[at]
            behind = []
            at += 1
            while at < len(pieces) and (_measures(pieces[at][2]) or pieces[at][2].lower() in _STATUS | {"-", "--"}):
                behind.append(pieces[at])
                at += 1
            said = [t for _, _, t in behind if t.lower() in _STATUS]
            figures = [t for _, _, t in behind if _measures(t)]
            if not key[0].isalpha() or key.lower() in _STATUS or len(said) != 1 or not behind or len(behind) > 4:
                return []
            if not figures and len(behind) < 2:
                return []
            end = behind[-1][1]
            value = "  ".join(figures) or said[0]
            found.append(Item(start, key, value, line.number, behind[0][0], end, False, "[", verdict=said[0]))
        if any(item.depth != found[0].depth for item in found):
            found = [item._replace(depth=found[0].depth) for item in found]
        return found

    # Keys and values.

    def _pairs(self, i: int) -> bool:
        if i < self.barren:
            return False
        items: list[Item] = []
        gap = True
        j = i
        plain = 0
        led_at = 0
        line_key = ""
        while j < self.count:
            line = self.lines[j]
            if self.blank(j):
                gap = True
                j += 1
                continue
            text = line.text
            if len(text) > LONGEST or (log_line(text) and j > i) or self.section[j]:
                break
            if self.ruler[j]:
                if (
                    j > i
                    and j + 1 < self.count
                    and not self.blank(j + 1)
                    and (j + 2 < self.count and self.ruler[j + 2])
                ):
                    break
                gap = True
                j += 1
                continue
            if j > i and ((gap and self._starts_table(j)) or self._begins_separated(j)):
                break
            if (
                j > i
                and j + 1 < self.count
                and self.ruler[j + 1]
                and len(self.pieces[j]) >= 2
                and self.pair[j] is None
                and self._starts_table(j)
            ):
                break
            if j > i and text[0] == "#" and j + 1 < self.count and self._begins_separated(j + 1):
                break
            if j > i and self.pair[j] is None and (self._upper_labels(j) or self._counts_rows(j)):
                break
            depth = len(text) - len(text.lstrip())
            if (
                text[depth] == "("
                and items
                and not gap
                and depth > items[-1].depth
                and (joined := _bounds_go_on(items[-1], text.strip())) is not None
            ):
                items[-1] = items[-1]._replace(value=joined, more=(*items[-1].more, line.number))
                j += 1
                continue
            if text[depth : depth + 2] == "- " and (listed := key_value(text[depth + 2 :])) is not None:
                # An entry of a list, as YAML writes it.
                key, value, mark, start, end = listed
                depth += 2
                items.append(Item(depth, key, value, line.number, start + depth, end + depth, True, mark))
                gap = False
                j += 1
                continue
            if (judged := _VERDICT.match(text)) is not None and (item := _judged(line, judged, gap)) is not None:
                items.append(item)
                gap = False
                j += 1
                continue
            if (bracketed := _BRACKETED.match(text)) is not None:
                start = bracketed.start("value")
                items.append(
                    Item(depth, bracketed["slot"], bracketed["value"].strip(), line.number, start, len(text), gap, ":")
                )
                gap = False
                j += 1
                continue
            if items and not gap and (below := self._figures_below(j)) is not None:
                items.extend(below)
                j += 2
                continue
            if (listed_here := self._of_slots(j, gap)) is not None:
                items.extend(listed_here)
                gap = False
                j += 1
                continue
            if (led := _led(text, led_at)) is not None:
                lead, several = led
                led_at = max(text.find(several[0][0], depth + len(lead)), depth + 1)
                items.append(Item(depth, lead, None, line.number, depth, depth + len(lead), True, ""))
                items.extend(
                    Item(led_at, key, value, line.number, start, end, False, ":") for key, value, start, end in several
                )
                gap = False
                j += 1
                continue
            if _WIDE_SENTENCE.fullmatch(text) is not None:  # `FAN  1 is OK`
                items.append(Item(depth, " ".join(text.split()), None, line.number, depth, len(text), gap, ""))
                gap = False
                j += 1
                continue
            if (told := self._told_one_by_one(j)) is not None:
                items.extend(Item(depth, key, value, line.number, a, b, gap, "(") for key, value, a, b in told)
                gap = False
                j += 1
                continue
            several = _several(text)
            if several:
                line_key = line_key or several[0][0]
                for k, (key, value, start, end) in enumerate(several):
                    first = k == 0 and (gap or " " in key or (len(several) > 2 and key == line_key))
                    items.append(Item(depth, key, value, line.number, start, end, first, ":"))
                gap = False
                j += 1
                continue
            pair = self.pair[j]
            if pair is not None:
                key, value, mark, start, end = pair
                if items and (key[0] == "/") != (items[-1].key[:1] == "/"):
                    break
                items.append(Item(depth, key, value, line.number, start, end, gap, mark))
                gap = False
                j += 1
                continue
            pieces = self.pieces[j]
            if len(pieces) == 3 and pieces[2][2][0] == "(" and pieces[2][2][-1] == ")" and _measures(pieces[1][2]):
                value = f"{pieces[1][2]} {pieces[2][2]}"  # `Temperature    41 C    (threshold 75 C)`
                items.append(Item(depth, pieces[0][2], value, line.number, pieces[1][0], pieces[2][1], gap, " "))
                gap = False
                j += 1
                continue
            if len(pieces) == 3 and pieces[1][2] in ("AC", "DC") and _NUMBERED.fullmatch(pieces[0][2].lstrip("P")[-6:]):
                a, b = pieces[1][0], pieces[2][1]  # `PWR1  AC   Good`
                items.append(Item(depth, pieces[0][2], text[a:b], line.number, a, b, gap, " "))
                gap = False
                j += 1
                continue
            if len(pieces) == 2 and not self.ruler[j]:
                (_, _, key), (a, b, value) = pieces
                items.append(Item(depth, key, value, line.number, a, b, gap, " "))
                gap = False
                plain += 1
                j += 1
                continue
            if (
                text[depth : depth + 2] == ": "
                and items
                and not gap
                and (not items[-1].value or items[-1].separator == "+:")
            ):
                start = depth + 2  # what stands below a heading, as if behind its colon
                items.append(
                    Item(
                        items[-1].depth, items[-1].key, text[start:].strip(), line.number, start, len(text), False, "+:"
                    )
                )
                j += 1
                continue
            if len(pieces) == 1 and depth > 12 and items and items[-1].value is not None and not gap:
                last = items[-1]
                if text[depth : depth + 2] == ": ":  # one more value of the same key
                    start = depth + 2
                    items.append(
                        Item(last.depth, last.key, text[start:].strip(), line.number, start, len(text), False, ":")
                    )
                else:
                    value = f"{last.value} {text.strip()}" if last.value else text.strip()
                    items[-1] = last._replace(value=value, more=(*last.more, line.number))
                j += 1
                continue
            if (
                2 < len(pieces) < 6
                and items
                and depth > items[0].depth
                and (pieces[0][2][0].isalpha() or (pieces[0][2].isdigit() and len(pieces[0][2]) < 3))
                and not gap
                and (
                    (pieces[1][2].lower() in _STATUS_BESIDE and _stands_for_value(pieces[2][2]))
                    or (len(pieces) == 3 and pieces[2][2].lower() in _STATUS_BESIDE and _measures(pieces[1][2]))
                )
            ):
                a, b = pieces[1][0], pieces[-1][1]
                items.append(Item(depth, pieces[0][2], text[a:b], line.number, a, b, gap, " "))
                j += 1
                continue
            if len(pieces) == 1 and len(text.strip()) <= 90:
                items.append(
                    Item(depth, text.strip().rstrip(":").strip(), None, line.number, depth, len(text), gap, "")
                )
                gap = False
                j += 1
                continue
            break
        reached = j
        while (
            items
            and not items[-1].value
            and items[-1].separator in ("", ":")
            and not _SENTENCE.match(items[-1].key)
            and self._opens_table(items[-1], j)
        ):
            last = items.pop()
            while j > i and self.lines[j - 1].number >= last.line:
                j -= 1
        if not any(item.value or _SENTENCE.match(item.key) for item in items):
            self.barren = reached
            return False
        found = Pairs(self.take_titles(), tuple(items), self.lines[i].number, self.lines[j - 1].number)
        self._emit(_by_path(found) or found)
        self.at = j
        return True

    def _figures_below(self, j: int) -> list[Item] | None:
        """`DC Output   Voltage(V) Current(A)` over `53   8`: labels with their units behind words, and a figure for each below."""
        if len(self.pieces[j]) < 2 or j + 1 >= self.count or "(" not in self.lines[j].text:
            return None
        depth, end, lead = self.pieces[j][0]
        text, below = self.lines[j].text, self.lines[j + 1]
        labels = list(_WITH_ITS_UNIT.finditer(text, end))
        figures = list(_WORD.finditer(below.text))
        if (
            len(labels) < 2
            or len(figures) != len(labels)
            or not all(_FIGURE_ALONE.fullmatch(m.group()) for m in figures)
        ):
            return None
        if (
            _WITH_ITS_UNIT.sub("", text[end:]).strip()
            or figures[0].start() <= end
            or any(ch in "(:=0123456789" for ch in lead.removesuffix(":"))
        ):
            return None
        lead = lead.removesuffix(":")
        if any(above.end() <= m.start() or above.start() >= m.end() for above, m in zip(labels, figures, strict=True)):
            return None  # the figure of another label, or of none
        return [
            Item(depth, f"{lead} {label.group()}", m.group(), below.number, m.start(), m.end(), False, " ", more)
            for label, m, more in zip(labels, figures, [(self.lines[j].number,), *[()] * len(labels)], strict=False)
        ]

    def _of_slots(self, j: int, gap: bool) -> list[Item] | None:
        """`Fans   1: 4310 rpm ok   2: 0 rpm failed`: one word, and behind it a value for each slot or place."""
        pieces = self.pieces[j]
        if len(pieces) < 2 or self.ruler[j]:
            return None
        line = self.lines[j]
        depth, _, lead = pieces[0]
        told = len(pieces) == 3 and pieces[1][2].lower() in _STATUS_BESIDE and _measures(pieces[2][2])
        if (
            len(pieces) > 2
            and not told
            and re.fullmatch(r"[A-Za-z]{4,10} \d{1,2}(?: ?\([^)]*\))?", lead)
            and ":" not in line.text
        ):
            # The heading of a member, with what else is told of it.
            return [Item(depth, lead, None, line.number, depth, len(line.text), gap, "+")]
        if not re.fullmatch(r"[A-Za-z]{3,12}(?: [A-Za-z]{3,12})?:?", lead):
            return None
        lead = lead.rstrip(":")
        slots = [_OF_SLOT.fullmatch(t) for _, _, t in pieces[1:]]
        if all(slots):
            return [
                Item(depth, f"{lead} {m['slot']}", m["value"], line.number, a + m.start("value"), b, gap, ":")
                for m, (a, b, _) in zip(slots, pieces[1:], strict=True)
                if m is not None
            ]
        places = [_OF_PLACE.fullmatch(t) for _, _, t in pieces[1:]]
        if all(places):
            return [
                Item(depth, m["place"], m["value"], line.number, a + m.start("value"), b, gap, "[", verdict="-")
                for m, (a, b, _) in zip(places, pieces[1:], strict=True)
                if m is not None
            ]
        return None

    def _told_one_by_one(self, j: int) -> list[tuple[str, str, int, int]] | None:
        """`Right Fan 1 (OK)   Right Fan 2 (Fault)`: several numbered things on a line, each with its status."""
        pieces = self.pieces[j]
        if len(pieces) < 2:
            return None
        found = [(a, _WITH_STATUS.fullmatch(t)) for a, _, t in pieces]
        if any(m is None or (m["word"] is not None and m["word"].lower() not in _STATUS) for _, m in found):
            return None
        return [
            (m["key"], m["bracket"] or m["word"], a + m.start("bracket" if m["bracket"] else "word"), a + m.end())
            for a, m in found
            if m is not None
        ]

    def _opens_table(self, item: Item, end: int) -> bool:
        """Whether a key without a value, the last of its list, is the title of a table that follows."""
        return item.value is None or end < self.count

    def _starts_table(self, j: int) -> bool:
        """Whether a table begins at a line: used to end a list of keys there."""
        if self.lines[j].text.count("|") > 1:
            return True
        if self._begins_separated(j):
            return True
        k = j
        if len(self.pieces[k]) == 1:  # perhaps its title
            k += 1
        if k >= self.count or self.blank(k) or (self.pair[k] is not None and not self.ruler[k]):
            return False
        if self.ruler[k] and k == j + 1 and k + 1 < self.count and self.pair[k + 1] is not None:
            return False
        found = self._header(k)
        if found is None:
            return False
        header, first, segments = found
        narrow = len(self.pieces[header[-1]]) < 3 and not (
            first < self.count and len(self.pieces[first]) > 3 and len(self.lines[header[-1]].text.split()) > 3
        )
        if narrow and not segments and not (first - header[-1] > 1):
            return False
        rows, _ = self._body(header, first, segments, most=2)
        return bool(rows)


_VALUE = re.compile(
    r"[<>~]?[+-]?\d[\d.,]*\s?(?:[%°]|[A-Za-z/%°]{0,8}|degrees.*|deg.*)?(?:\s*[/(].*)?\Z|0x[0-9A-Fa-f]+\Z|-+\Z|\[?N/?A\]?\Z",
    re.IGNORECASE,
)
_STATUS = frozenset(
    """
    ok good normal bad fail failed fault faulty absent present up down online offline yes no true false on off
    warning active standby ready none running enabled disabled
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_STATUS_BESIDE = _STATUS | {"okay", "critical", "minor", "major"}


def _value_like(text: str) -> bool:
    """Whether a piece of a line looks like a value and not like a column's label."""
    if text[-1:] == ")" and _RAIL_LABEL.fullmatch(text) is not None:
        return False
    return _VALUE.match(text) is not None or text.lower() in _STATUS or _LABELLED.match(text) is not None


_WITH_ITS_UNIT = re.compile(r"[A-Za-z]+(?: [A-Za-z]+)? ?\([A-Za-z%°]{1,5}\)")
_FIGURE_ALONE = re.compile(r"[+-]?\d+(?:\.\d+)?")
_WITH_UNIT = re.compile(
    r"[+-]?\d[\d.,]* ?(?:rpm|r/min|%|°?C|°?F|degC|V|A|W|kW|mV|mA)(?: (?:in|out)(?:put)?)?\Z", re.IGNORECASE
)


_DATED = re.compile(r"\s*(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)\w* [A-Z][a-z]{2} {1,2}\d{1,2} {1,2}\d\d:\d\d:\d\d")
"""`Mon Mar  4 10:22:13.045 UTC`: the time, as it is printed above a table."""
_MANY_LABELS = 8
"""So many labels, and as many words in the only row below them, are no chance. Common practice, no source."""
_UNIT_APART = re.compile(
    r"(?:celsius|°?C|degC|degrees C|V(?:olts)?(?: ?[AD]C)?|mV|A(?:mps)?|mA|W(?:atts)?|rpm)\Z", re.IGNORECASE
)


def _measures(text: str) -> bool:
    """Whether a piece is a figure with a unit of its own."""
    return _WITH_UNIT.match(text) is not None


def _bounds_go_on(item: Item, text: str) -> str | None:
    """The value of an item whose limits in brackets go on to a second line, such as `(crit = +90.0 C)  ALARM`."""
    value = (item.value or "").rstrip()
    if not value.endswith(")") or "(" not in value or "=" not in text.partition(")")[0]:
        return None
    return f"{value[:-1]}, {text[1:]}"


def _stands_for_value(text: str) -> bool:
    return _VALUE.match(text) is not None and any(c.isdigit() for c in text)


# With two columns and no ruler only such words make a line a header and not a key with its value.
_HEADING = re.compile(
    r"\b(?:name|status|state|value|reading|sensor|slot|unit|health|speed|temp\w*|fan|psu|supply|id|index|location|component"
    r"|vin|vout|iin|iout|pin|pout|present|ac/dc|good|rev|load|measurement|name|nominal|duty|feed|alert|minor|major|thresh\w*"
    r"|module|item|rpm|serial|model|number|condition|voltage|tray|bay|position|version|description|type|part|direction|airflow"
    r"|probe|where|limits?|shutdown|trip|minimum|maximum|degrees|celsius|measured|actual|now|range|card|lower|upper"
    r"|current|power|input|output|threshold|alarm|presence|capacity|watts|volts|amps|warning|critical|high|low|min|max|units?"
    r"|fan(?:id|num|no)|power(?:id|no|num)|psu(?:id|no|num)|registered|register|online"
    r"|no|element|category|class|oper|operational|board|mode|rect\w*|role|[lu](?:nr|nc|cr?)|vac|vdc|idc)\b",
    re.IGNORECASE,
)
_RAIL_LABEL = re.compile(r"\d{1,2}(?:\.\d)? ?V \([VAW]\)")
"""`12V (A)`: what is measured of a rail, and in which unit."""
_KEY_AND_FIGURE = re.compile(r"[A-Za-z][A-Za-z ]* [+-]?\d[\d.]* ?(?:°?[CF]|k?W|m?[VA]|rpm|RPM|%)")
"""`Plant voltage 53.52 V`, which heads no column."""
_HEADS_NOTHING = frozenset(("ok", "okay", "failed", "faulty", "absent", "missing", "not present", "n/a"))
_SECTIONS = frozenset(
    """
    power cooling thermal fans temperatures temperature sensors supplies ports environment inventory system air heat voltages
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_TITLES = re.compile(
    r"(?:[A-Za-z]+ ){0,2}(?:sensors|supplies|fans|modules|units|trays|readings|temperatures|voltages)(?: ?\([^()]*\))?\Z",
    re.IGNORECASE,
)
_THINGS_LISTED = frozenset(
    ("power supply", "power supplies", "psu", "fan", "fans", "supply", "power module", "fan module")
)
_NUMBERED = re.compile(r"[A-Za-z]{0,3}[ -]?\d{1,2}")
_FIRST_LABELS = frozenset(
    """
    bay slot tray probe port sensor name item part position pos place location where unit fan psu id no #
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_WHOLES = frozenset(("switch", "member", "stack", "chassis", "shelf", "node", "module"))
_THING_NO = re.compile(r"(?:psu|ps|pem|power|fan|tray|pwr)[ _#-]?\d{1,2}", re.IGNORECASE)
_LETTERED = re.compile(r"[A-Za-z]{3,10} [A-H]")
_LABELLED = re.compile(r"[A-Za-z][A-Za-z -]{0,20}[-_ #/]?\d{1,3}(?:/\d{1,3}){0,2}[A-Za-z]?\Z")


def _holds_pair(text: str) -> bool:
    """Whether a line holds a label with its value, as no line of column labels does."""
    return ("=" in text or ": " in text) and _HOLDS_PAIR.search(text) is not None


_SENSOR_BY_COMMAS = re.compile(
    r"[A-Za-z+][^,\"]{1,40},(?:[+-]?\d+(?:\.\d+)?|na|ns)?,(?:(?:degrees [CF]|Volts|Amps|Watts|RPM|percent|unspecified)?),[a-z]{2,3}"
)
_NUMBERED_SENSOR = re.compile(r"\s*\S{1,48}\s+\(0x[0-9A-Fa-f]{1,4}\)\s*:")
_VERDICT_BEHIND = re.compile(r"\|\s*\([A-Za-z]{2,12}\)\s*\Z")
_BRACKET_TITLE = re.compile(r"\s*\[[A-Za-z][\w. /-]{0,30}\]\s*")
_BEGIN_SECTION = frozenset(("==", "--", "##", "**", ">>"))
_SECTION = re.compile(
    r"\s*(?:={2,}|-{2,}|#{2,}|\*{2,}|>{2,})\s?(?=[A-Za-z])(?:[^\s|]| (?! )){1,60}\s*\Z|\s*-{4,} ?(?:[^\s-]|[ -](?![ -])){1,60} ?-{4,}\s*\Z"
)
"""A line that begins a section of a text, such as `== chassis` or `---- show env all ----`."""
_HOLDS_PAIR = re.compile(r"[A-Za-z][\w.-]*=[^\s=]|[A-Za-z)]: \S.*[A-Za-z)]: \S")
_SENTENCE = re.compile(
    r"[A-Za-z][\w #-]{2,40} (?:is|has|measured at|measures|reads) \w.*\d"
    r"|[A-Za-z][A-Za-z _-]{1,30}[ #_-]{0,2}\d{1,2}[A-Za-z]? (?:is |has )?"
    r"(?:ok|good|failed|faulty|fault|normal|absent|missing|not present|empty|(?:not )?operational|(?:not )?working|healthy|present (?:and|but))\b"
    r"|(?:fan|power|(?:system )?temperature) is (?:ok|good|normal|faulty|failed|not ok)\Z",
    re.IGNORECASE,
)


_PADDED = re.compile(r"(?P<name>[A-Za-z][\w./-]*(?: [\w./-]+){0,3}) +\((?P<about>[^()]{1,48})\)")
"""`Fan1      (Fan Tray 1, Rotor A      )`."""


_SIGNS = frozenset("0123456789+-")
_TIGHT = re.compile(r"(?:fan|temp|power):[+-]?\d+(?:\.\d+)? ?(?:RPM|C|W)\b", re.IGNORECASE)


_WIDE_NUMBER = re.compile(r"[A-Za-z]{2,12} {2,6}\d{1,3} (?:[Ss]tate|[Ss]tatus)")
"""`Power    1 State: Normal`: a number in a place of its own."""


def key_value(text: str) -> tuple[str, str, str, int, int] | None:
    """Key, value, separator and the value's place, of a line such as `Status : ok`, `fan1 = 3400` or `State ..... up`."""
    colon, equal = text.find(":"), text.find("=")
    if equal >= 0 and (colon < 0 or equal < colon):
        at, mark, width = equal, "=", 1
        if text[equal : equal + 2] in ("==", "=>") or text[equal - 1 : equal] in ("!", "<", ">", "=", "+", "-"):
            return None
    elif colon >= 0:
        at, mark, width = colon, ":", 1
        tight = (
            colon < 10 and text[at + 1 : at + 2] in _SIGNS and _TIGHT.match(text.lstrip()) is not None
        )  # `fan:9200 RPM`
        while not tight and at >= 0 and at + 1 < len(text) and text[at + 1] not in " \t":
            at = text.find(":", at + 1)
        if at < 0:
            return None
    else:
        found = _LEADER.search(text) if ".." in text or " ." in text else None
        if found is None or found.start() == 0:
            return None
        at, mark, width = found.start(), ".", found.end() - found.start()
    key = text[:at].strip().rstrip(".").strip()
    if "  " in key and key[-1] == ")" and (padded := _PADDED.fullmatch(key)) is not None:
        key = f"{padded['name']} ({padded['about'].strip()})"
    if (
        mark == ":"
        and "   " in key
        and text[at - 1] == " "
        and len(words := key.split()) <= 4
        and len(chunks(key)) == 2
    ):
        key = " ".join(words)
    if mark == ":" and "  " in key and _WIDE_NUMBER.fullmatch(key) is not None:
        key = " ".join(key.split())
    if not key or len(key) > 72 or "   " in key or not any(c.isalpha() for c in key):
        return None
    value = text[at + width :].strip()
    start = text.find(value, at + width) if value else len(text)
    return key, value, mark, start, start + len(value)


_ONE_OF_SEVERAL = re.compile(
    r"""\s*(?P<key>[A-Za-z][\w /()#.-]{0,40}?)\s*[:=]\s*(?P<value>"[^"]*"|[^,"]*?)\s*(?:,|\Z)"""
)


_BESIDE_EACH_OTHER = re.compile(
    r"\s*(?P<key>[A-Za-z](?:[\w./#-]| (?! ))*) {2,}: (?P<value>[^\s:](?:[^\s:]| (?! )){0,60})(?:\s{2,}|\s*\Z)"
)
"""`PSU 1           : OK                  Fan 1 speed   : 4500 rpm`: keys and values in two columns each."""


def _several(text: str) -> list[tuple[str, str, int, int]]:
    """The pairs of a line that holds more than one, parted by commas or by wide blanks; else nothing."""
    if ", " in text and (listed := _equals_by_commas(text)):
        return listed
    if (words := _words_with_equals(text)) is not None:
        return words[1]
    marks = text.count(":") + text.count("=")
    opens, closes = text.find("("), text.find(")")
    if marks < 2 or _LED_PAIR.match(text):
        return []
    if opens >= 0 and (opens < text.rfind("=") < text.rfind(")") + 1 or opens < text.find("=") < closes):
        return []  # limits in brackets
    found: list[tuple[str, str, int, int]] = []
    at = 0
    if "," in text:
        while at < len(text):
            match = _ONE_OF_SEVERAL.match(text, at)
            if match is None or match.end() == at:
                found = []
                break
            quoted = match["value"].startswith('"')
            start, end = match.span("value")
            found.append((match["key"].strip(), text[start + quoted : end - quoted], start + quoted, end - quoted))
            at = match.end()
        if len(found) > 1:
            return found
    if "|" in text:
        return _piped_pairs(text)
    if len(_BESIDE_EACH_OTHER.findall(text)) > 1 and _BESIDE_EACH_OTHER.sub("", text).strip() == "":
        return [
            (m["key"].strip(), m["value"].strip(), m.start("value"), m.start("value") + len(m["value"].rstrip()))
            for m in _BESIDE_EACH_OTHER.finditer(text)
        ]
    if (alike := _numbered_alike(text)) is not None:
        return alike
    found = []
    for start, _, piece in chunks(text):
        pair = key_value(piece)
        if pair is None or not pair[1]:
            return []
        found.append((pair[0], pair[1], start + pair[3], start + pair[4]))
    return found if len(found) > 1 else []


_EQUAL = re.compile(r"\s*(?P<key>[A-Za-z][\w .-]{0,30}?)=(?P<value>[^=,]+)\Z")


def _equals_by_commas(text: str) -> list[tuple[str, str, int, int]]:
    """`Fan=Left, Speed=2880rpm, Status=Normal`; nothing where a piece between commas is no such pair."""
    found, at = [], 0
    for piece in text.split(", "):
        if (pair := _EQUAL.match(piece)) is None:
            return []
        found.append((pair["key"], pair["value"].rstrip(), at + pair.start("value"), at + pair.end("value")))
        at += len(piece) + 2
    return found if len(found) > 1 else []


_NUMBERED_KEY = re.compile(r"([A-Za-z][A-Za-z _-]{0,24}?)[ _#-]?\d{1,2}\Z")


def _numbered_alike(text: str) -> list[tuple[str, str, int, int]] | None:
    """`fan0:  OK  6120 rpm    fan1:  OK  6090 rpm`: keys that differ in their number, each with all up to the next one."""
    found: list[tuple[str, int, int]] = []
    stems = set()
    for start, end, piece in chunks(text):
        pair = key_value(piece)
        if pair is None and found:
            found[-1] = (*found[-1][:2], end)
        elif pair is None or pair[2] != ":" or (numbered := _NUMBERED_KEY.match(pair[0])) is None:
            return None
        else:
            stems.add(numbered[1].lower())
            found.append((pair[0], start + pair[3], end))
    told = [(key, text[start:end].lstrip(), end) for key, start, end in found]
    if (
        len(told) < 2
        or len(stems) > 1
        or len({key for key, _, _ in told}) < len(told)
        or not all(v for _, v, _ in told)
    ):
        return None
    return [(key, value, end - len(value), end) for key, value, end in told]


def _piped_pairs(text: str) -> list[tuple[str, str, int, int]]:
    """The pairs of a line such as `Unit: PSU 1 | State: OK`; nothing where a part of it is none."""
    found = []
    for start, _, piece in _cells_between(text, 0, len(text)):
        pair = key_value(piece)
        if pair is None or not pair[1] or pair[2] == ".":
            return []
        found.append((pair[0], pair[1], start + pair[3], start + pair[4]))
    return found if len(found) > 1 else []


_LED_PAIR = re.compile(r"\s*[A-Za-z][^:=,;|]{0,40}: ?(?=[A-Za-z])(?:[^:=,;|\s]| (?! )){1,30}?(?:=|: )")
"""`PSU 1: status=ok, vin=230 V`: what stands before the colon is the thing that all pairs are about."""


def _led(text: str, before: int) -> tuple[str, list[tuple[str, str, int, int]]] | None:
    """`PSU A    State: Normal    Model: GX-1`: words without a value, and the pairs behind them; else None.

    `before`: where the first pair begins on the line above, or 0; words that reach up to it are parted there.
    """
    if (words := _words_with_equals(text)) is not None:
        return (_COUNT.sub("", words[0]), words[1]) if words[0] else None
    pieces = chunks(text)
    if (
        len(pieces) == 2
        and (one := _ONE_EQUAL.fullmatch(pieces[1][2])) is not None
        and (led := _INDEXED.match(pieces[0][2])) is not None
    ):
        begin = pieces[1][0]  # `10 PS1 Status       alarm=0`
        return led["what"], [(one["key"], one["value"], begin + one.start("value"), begin + one.end("value"))]
    if len(pieces) < 2 and not before:
        return None
    start, _, lead = pieces[0]
    if before and start < before < pieces[0][1] and text[before - 1] == " ":
        pieces[0:1] = [
            (start, before - 1, text[start : before - 1].rstrip()),
            (before, pieces[0][1], text[before : pieces[0][1]]),
        ]
        lead = pieces[0][2]
    numbered = _INDEXED.match(lead) if all("=" in piece for _, _, piece in pieces[1:]) else None
    if numbered is None and not _LEADS.match(lead):
        return None
    if len(pieces) == 2 and _WIDE_NUMBER.match(text.strip()) is not None:
        return None
    lead = numbered["what"] if numbered is not None else _COUNT.sub("", lead)
    found: list[tuple[str, str, int, int]] = []
    for begin, _, piece in pieces[1:]:
        if numbered is not None and piece.count("=") > 1:  # `value=7200 RPM low=1000`
            run = list(_EQUAL_WITH_UNIT.finditer(piece))
            if "".join(m.group() for m in run) != piece:
                return None
            found.extend((m["key"], m["value"], begin + m.start("value"), begin + m.end("value")) for m in run)
            continue
        pair = key_value(piece)
        if pair is None or not pair[1] or pair[2] == "." or "=" in pair[1] or ": " in pair[1]:
            return None
        found.append((pair[0], pair[1], begin + pair[3], begin + pair[4]))
    return (lead, found) if found else None


_ONE_EQUAL = re.compile(r"(?P<key>[A-Za-z][\w.-]{0,30})=(?P<value>[^\s=\"]+)")
_EQUAL_WITH_UNIT = re.compile(
    r"(?P<key>[A-Za-z][\w.-]{0,30})=(?P<value>[^\s=]+(?: (?![\w.-]+=)[A-Za-z%]{1,7})?)(?: |\Z)"
)
_INDEXED = re.compile(r"\d{1,3}[.)]? (?P<what>[A-Za-z+].{0,40})\Z")
_COUNT = re.compile(r"\A\d{1,2} ")
_LEADS = re.compile(r"(?:\d{1,2} )?(?:[+-]\d[\d.]*)?[A-Za-z][A-Za-z _./-]{0,30}[ _#-]?[\w/.-]{0,12}\Z")
_PATH = re.compile(r"/?[A-Za-z][\w.-]{0,40}(?:/[\w.:-]{1,40}){1,8}\Z")
_DOTTED = re.compile(r"[A-Za-z][\w-]{0,40}(?:\[[\w-]{1,20}\])?(?:\.[\w-]{1,40}(?:\[[\w-]{1,20}\])?){1,8}\Z")


def _by_path(listed: Pairs) -> Tree | None:
    """Keys that are paths, such as `/shelf/fan/1/speed`, as the tree that they are of; None where they are none."""
    if len(listed.items) < 3:
        return None
    form = _PATH if "/" in listed.items[0].key else _DOTTED
    if any(not item.value or item.separator == " " or not form.match(item.key) for item in listed.items):
        return None
    root = Obj()
    for item in listed.items:
        at = root
        *above, last = re.split(r"/" if form is _PATH else r"[.\[]", item.key.strip("/").replace("]", ""))
        for name in above:
            inner = next((v for k, v in at if k == name), None)
            if inner is None:
                inner = Obj()
                at.append((name, inner))
            if not isinstance(inner, Obj):
                return None  # both a value and what holds others
            at = inner
        if any(k == last for k, _ in at):
            return None
        value = item.value or ""
        quoted = len(value) > 1 and value[0] == value[-1] == '"'
        at.append((last, Leaf(value[1:-1] if quoted else value, item.line, quoted)))
    return Tree(root, listed.first_line, listed.last_line)


_BRACKETED = re.compile(r"\s+\[(?P<slot>\d{1,2})\]\s+(?P<value>\S.*)\Z")
_OF_SLOT = re.compile(r"(?P<slot>\d{1,2}|[A-H]|[Ll]eft|[Rr]ight|LEFT|RIGHT): (?P<value>\S.*)")
_OF_PLACE = re.compile(
    r"(?P<place>[A-Za-z][A-Za-z0-9_-]*(?: [A-Za-z0-9_-]+){0,3}?) (?P<value>[+-]?\d+(?:\.\d+)? ?(?:C|°C|degC)(?: \(.*\))?)"
)
_WIDE_SENTENCE = re.compile(r"\s*[A-Za-z][A-Za-z #-]{1,24} {2,3}#?\d{1,2} (?:is|has) (?:[^\s:=]| (?! )){1,60}")
_WITH_STATUS = re.compile(
    r"(?P<key>[A-Za-z][A-Za-z -]{0,24}[ #_-]?\d{1,2}(?:/\d{1,2})*)(?: ?[(\[] ?(?P<bracket>[A-Za-z][A-Za-z /-]{1,18}?) ?[)\]]"
    r"| (?P<word>[A-Za-z]{2,10}))"
)
_VERDICT = re.compile(r"\s*\[ ?(?P<verdict>[A-Za-z][A-Za-z /-]{0,14}?|[-*+!?]{1,3}) ?\]\s+(?=\S)")


def _judged(line: Line, found: re.Match[str], gap: bool) -> Item | None:
    """A line with its verdict in front: the first of its pieces is the key, all others are the value."""
    text = line.text
    begin = found.end()
    pair = key_value(text[begin:])
    if pair is not None:
        key, value, _, start, end = pair
        start, end = start + begin, end + begin
    else:
        pieces = [(a + begin, b + begin, t) for a, b, t in chunks(text[begin:])]
        if len(pieces) < 2:
            return None
        key, start, end = pieces[0][2], pieces[1][0], pieces[-1][1]
        value = text[start:end]
    depth = len(text) - len(text.lstrip())
    return Item(depth, key, value, line.number, start, end, gap, "[", verdict=found["verdict"])


_TIGHT_EQUAL = re.compile(r"(?P<key>[A-Za-z][\w.-]{0,30})=(?P<value>\"[^\"]*\"|[^\s=\"]+)(?:\s+|\Z)")


def _words_with_equals(text: str) -> tuple[str, list[tuple[str, str, int, int]]] | None:
    """`fan id=1 rpm=5100 status=ok`: the words before the first pair, which all of them are about, and the pairs."""
    if text.count("=") < 2:
        return None
    first = text.find("=")
    begin = text.rfind(" ", 0, first) + 1
    lead = text[:begin].strip().removesuffix(":").rstrip()
    if len(lead) > 30 or any(not (ch.isalnum() or ch in " -_") for ch in lead):
        return None
    found: list[tuple[str, str, int, int]] = []
    at = begin
    while at < len(text):
        match = _TIGHT_EQUAL.match(text, at)
        if match is None:
            return None
        quoted = match["value"].startswith('"')
        start, end = match.span("value")
        found.append((match["key"], text[start + quoted : end - quoted], start + quoted, end - quoted))
        at = match.end()
    if not lead:
        lead = next((v for k, v, _, _ in found if k.lower() in ("type", "kind", "class") and _KIND.fullmatch(v)), "")
    return (lead, found) if len(found) > 1 else None


_KIND = re.compile(r"psu|fan|power[ _-]?supply|temp(?:erature)?|blower|sensor", re.IGNORECASE)


def _framed(text: str) -> list[tuple[int, int, str]]:
    first, last = text.find("|"), text.rfind("|")
    return _cells_between(text, first + 1, last)


def _piped_cells(text: str) -> list[tuple[int, int, str]]:
    return _cells_between(text, 0, len(text))


def _cells_between(text: str, first: int, last: int) -> list[tuple[int, int, str]]:
    cells = []
    at = first
    for piece in text[first:last].split("|"):
        stripped = piece.strip()
        start = at + (len(piece) - len(piece.lstrip()))
        cells.append((start, start + len(stripped), stripped))
        at += len(piece) + 1
    return cells


def _boxed_labels(header: list[list[tuple[int, int, str]]], tops: list[str], width: int) -> tuple[str, ...]:
    """Labels of a framed table; a wide cell of an upper line gives its words to every column below it."""
    middles = [(a + b) // 2 for a, b in _bars(tops[-1])]
    labels: list[list[str]] = [[] for _ in range(width)]
    for cells, top in zip(header, tops, strict=True):
        if len(cells) == width:
            for k, (_, _, text) in enumerate(cells):
                if text:
                    labels[k].append(text)
            continue
        for (_, _, text), (left, right) in zip(cells, _bars(top), strict=False):
            if text:
                for k, middle in enumerate(middles[:width]):
                    if left < middle < right:
                        labels[k].append(text)
    return tuple(" ".join(parts) for parts in labels)


def _bars(text: str) -> list[tuple[int, int]]:
    """Left and right border of each cell of a framed row."""
    at = [k for k, ch in enumerate(text) if ch == "|"]
    return list(pairwise(at))


def _split_separated(text: str, mark: str) -> list[tuple[int, int, str]] | None:
    """The cells of a line of separated values (RFC 4180 quoting); None where a quote does not close."""
    cells: list[tuple[int, int, str]] = []
    at = 0
    size = len(text)
    while True:
        while at < size and text[at] == " ":
            at += 1
        if at < size and text[at] == '"':
            start = at + 1
            end = start
            while True:
                end = text.find('"', end)
                if end < 0:
                    return None
                if text[end + 1 : end + 2] == '"':
                    end += 2
                    continue
                break
            cells.append((start, end, text[start:end].replace('""', '"').strip()))
            at = end + 1
            while at < size and text[at] == " ":
                at += 1
            if at < size and text[at] != mark:
                return None
        else:
            end = text.find(mark, at)
            end = size if end < 0 else end
            piece = text[at:end].strip()
            cells.append((at, at + len(piece), piece))
            at = end
        if at >= size:
            return cells
        at += 1
        if at >= size:
            cells.append((size, size, ""))
            return cells


def _cell_at(line: Line, start: int, end: int) -> Cell | None:
    """What stands between two places of a line, if anything."""
    piece = line.text[start:end]
    text = piece.strip()
    if not text:
        return None
    at = start + len(piece) - len(piece.lstrip())
    return Cell(" ".join(text.split()), line.number, at, at + len(text))


def _columns_of(
    header: list[str], rows: list[str], segments: list[tuple[int, int]]
) -> tuple[tuple[str, ...], list[tuple[int, int]]] | None:
    """The label of each column, and its first column and one past its last."""
    if segments:
        edges = list(segments)
        return _labels(header, edges, ruled=True), edges
    width = max(len(t) for t in (*header[-1:], *rows))
    if width > LONGEST or width == 0:
        return None
    filled = [0] * (width + 1)
    data = [r for r in rows if len(_pieces(r)) > 1]
    if not data:
        return None
    for text in data:
        for start, end, _ in _pieces(text):
            filled[start] += 1
            filled[end] -= 1
    filled = list(accumulate(filled))
    tolerated = len(data) // 12
    bottom = header[-1]
    starts = {m.start() for m in _CHUNK.finditer(bottom)}
    ends = {m.end() for m in _CHUNK.finditer(bottom)}
    words = {m.start() for m in _WORD.finditer(bottom)} - starts
    # Single blanks that stand under one another in every row part columns only where the header begins one there.
    for at in range(1, width):
        if (
            filled[at]
            and (at + 1 in starts or at + 2 in starts or (at in starts and at - 1 not in ends))
            and all(len(t) <= at or t[at] == " " for t in data)
            and _stands_left_of(at, filled, data)
        ) or (
            filled[at]
            and at + 1 in words
            and (all(len(t) <= at or _figure_before(t, at) for t in data) or _heads_groups(at, data))
        ):
            filled[at] = 0
    edges = []
    at = 0
    while at < width:
        if filled[at] > tolerated:
            start = at
            while at < width and filled[at] > tolerated:
                at += 1
            edges.append((start, at))
        else:
            at += 1
    if not edges:
        return None
    if len(header) > 1 and any(len(t.split()) == 1 and 0 <= len(t) - len(t.lstrip()) < edges[0][0] for t in rows):
        # Rows that only name a place, left of all others, under an upper label of their own.
        edges[0:0] = [(m.start(), m.end()) for m in list(_CHUNK.finditer(header[0]))[:1] if m.end() <= edges[0][0]]
    # A label that stands beside its column and not over it; or over nothing, where every row is blank.
    labels = [(start, end) for start, end, _ in _pieces(bottom)]
    bare = [k for k, (s, e) in enumerate(edges) if not any(a < e and b > s for a, b in labels)]
    for n, (start, end) in enumerate(labels):
        if any(start < e and end > s for s, e in edges):
            continue
        low = labels[n - 1][1] if n else 0
        high = labels[n + 1][0] if n + 1 < len(labels) else 10**6
        beside = [
            k
            for k in bare
            if low <= edges[k][0] and edges[k][1] <= high and edges[k][0] - end < 9 and start - edges[k][1] < 9
        ]
        if len(beside) == 1:
            k = beside[0]
            bare.remove(k)
            edges[k] = (min(edges[k][0], start), max(edges[k][1], end))
        else:
            edges.append((start, end))
    edges.sort()
    return _labels(header, edges, ruled=False), edges


def _heads_groups(at: int, data: list[str]) -> bool:
    """Whether what stands left of a blank column heads groups of rows, most of which are blank there: `Power`, `Temp`, `Fans`."""
    if any(len(t) <= at or t[at] != " " for t in data):
        return False
    left = [t[:at].strip() for t in data]
    heads = [word for word in left if word]
    return 1 < len(heads) == len(set(heads)) and len(heads) * 2 <= len(left) and all(word.isalpha() for word in heads)


def _stands_left_of(at: int, filled: list[int], data: list[str]) -> bool:
    """Whether most rows have a cell right before a place, so that what stands there is no `Not` of one `Not OK`."""
    begin = at
    while begin > 0 and filled[begin - 1]:
        begin -= 1
    return 2 * sum(bool(t[begin:at].strip()) for t in data) > sum(bool(t[at:].strip()) for t in data)


_UNIT_ALONE = re.compile(
    r"(?:m?[VAW]|k?W|V[AD]C|°?[CF]|%|rpm|deg\w*|volts?|amps?|watts?|celsius)(?![A-Za-z])", re.IGNORECASE
)


def _figure_before(text: str, at: int) -> bool:
    """Whether a single blank stands at a place with a figure before it, as in `60C okay`."""
    if text[at] != " ":
        return False
    before = text[:at].rsplit(" ", 1)[-1]
    if _UNIT_ALONE.match(text, at + 1):
        return False
    return not before or _stands_for_value(before) or before in ("-", "--")


def _labels(header: list[str], edges: list[tuple[int, int]], ruled: bool) -> tuple[str, ...]:
    labels: list[list[str]] = [[] for _ in edges]
    extents = list(edges)
    bottom = chunks(header[-1])
    placed: list[list[tuple[int, int, list[int]]]] = []
    grouped: set[int] = set()
    for depth, text in enumerate(reversed(header)):
        spots: list[tuple[int, int, list[int]]] = []
        if depth == 1 and (runs := _repeats([parts[-1] if parts else "" for parts in labels])) and runs[1] > 1:
            grouped = set(range(runs[0], runs[0] + runs[1] * runs[2]))
        upper = [part for piece in chunks(text) for part in _each_bracket(*piece)]
        if ruled and depth:
            upper = [part for piece in upper for part in _at_edges(*piece, {a for a, _ in edges})]
        spread = [
            list(
                _in_order(start, piece, extents, labels)
                or _over_numbered(start, piece, extents, labels)
                or _spread(*_rather_over(start, end, piece, extents, upper), piece, extents, ruled, grouped)
            )
            for start, end, piece in upper
        ]
        if (
            ruled
            and len(upper) == len(edges)
            and [c for parts in spread for _, _, _, cols in parts for c in cols] != list(range(len(edges)))
        ):
            # One label for each ruled column: their order says whose they are, and not where they stand.
            spread = [[(start, end, piece.strip("-=<>_ "), [k])] for k, (start, end, piece) in enumerate(upper)]
        for parts in spread:
            for a, b, said, columns in parts:
                spots.append((a, b, columns))
                for column in columns:
                    labels[column].insert(0, said)
                    if depth == 0 and len(columns) == 1:
                        s, e = extents[column]
                        room_left = extents[column - 1][1] if column else 0
                        room_right = extents[column + 1][0] if column + 1 < len(extents) else 10**6
                        extents[column] = (max(min(s, a), room_left), min(max(e, b), room_right))
        placed.append(spots)
    if len(header) > 1:
        _widen(header, labels, placed, bottom)
    return tuple(" ".join(parts).strip() for parts in labels)


_BRACKETS_ONLY = re.compile(r"\(\S+\)(?: \(\S+\))+")


def _each_bracket(start: int, end: int, piece: str) -> Iterator[tuple[int, int, str]]:
    """`(Lo) (Lo)` is a label of two columns, however near they stand."""
    if _BRACKETS_ONLY.fullmatch(piece) is None:
        yield start, end, piece
        return
    for m in _WORD.finditer(piece):
        yield start + m.start(), start + m.end(), m.group()


def _at_edges(start: int, end: int, piece: str, starts: set[int]) -> Iterator[tuple[int, int, str]]:
    """`Capacity PS-Fan Output Oper` as labels of several ruled columns, where two words and more begin right where one does."""
    words = [(start + m.start(), start + m.end()) for m in _WORD.finditer(piece)]
    cuts = [a for a, _ in words[1:] if a in starts]
    if len(cuts) < 2:
        yield start, end, piece
        return
    for a, b in pairwise([start, *cuts, end + 1]):
        yield a, b - 1, piece[a - start : b - 1 - start]


_WORD_OR_BRACKET = re.compile(r"\([^()]*\)|\S+")


_NUMBERS_BEHIND = re.compile(r"[A-Za-z]\D*(?P<numbers>(?: \d{1,2}){2,4})\Z")


def _one_by_one(row: GridRow, labels: tuple[str, ...]) -> GridRow:
    """The row with `good  good` below `Fan States 1 2` as one word for each number."""
    for k, label in enumerate(labels):
        cell = row.cells[k] if k < len(row.cells) else None
        if cell is None or row.odd or (found := _NUMBERS_BEHIND.match(label)) is None:
            continue
        said = cell.text.split()
        if len(said) == len(found["numbers"].split()) and all(word.isalpha() for word in said):
            return row._replace(cells=(*row.cells[:k], cell._replace(text=", ".join(said)), *row.cells[k + 1 :]))
    return row


def _in_order(
    start: int, piece: str, extents: list[tuple[int, int]], labels: list[list[str]]
) -> list[tuple[int, int, str, list[int]]]:
    """`Crit Minor` over `(Lo) (Lo)`: a word for each of the columns, which their own label does not tell apart."""
    end = start + len(piece)
    hit = [k for k, (s, e) in enumerate(extents) if start < e and end > s]
    words = list(_WORD.finditer(piece))
    if len(hit) < 2 or len(words) != len(hit) or not labels[hit[0]]:
        return []
    sides = all(labels[k] and labels[k][-1].lower().strip("()[]") in ("lo", "hi", "low", "high") for k in hit)
    if not sides and len({tuple(labels[k]) for k in hit}) != 1:
        return []
    if not all(labels[k][-1][:1] in "([" for k in hit):
        return []
    return [(start + m.start(), start + m.end(), m.group(), [k]) for m, k in zip(words, hit, strict=True)]


_NUMBERED_LABEL = re.compile(r"(?P<stem>[A-Za-z]{2,12})[ _#-]?\d{1,2}\Z")


def _over_numbered(
    start: int, piece: str, extents: list[tuple[int, int]], labels: list[list[str]]
) -> list[tuple[int, int, str, list[int]]]:
    """`Fan speed (rpm)` over `FAN_0` and `FAN_1`: words over columns that only their number tells apart are all of each."""
    end = start + len(piece)
    hit = [k for k, (s, e) in enumerate(extents) if start < e and end > s]
    if len(hit) < 2 or " " not in piece or len(piece.split()) < len(hit):
        return []
    own = [_NUMBERED_LABEL.match(labels[k][0]) if len(labels[k]) == 1 else None for k in hit]
    stems = {m["stem"].lower() if m is not None else None for m in own}
    if len(stems) > 1 or None in stems or len({labels[k][0] for k in hit}) < len(hit):
        return []
    return [(start, end, piece.strip("-=<>_ "), hit)]


def _rather_over(
    start: int, end: int, piece: str, extents: list[tuple[int, int]], beside: list[tuple[int, int, str]]
) -> tuple[int, int]:
    """Where a word that only touches a second column stands, where that one has a word of its own on the same line."""
    hit = [(min(end, e) - max(start, s), k) for k, (s, e) in enumerate(extents) if start < e and end > s]
    if len(hit) != 2 or " " in piece or not piece[0].isalpha():
        return start, end
    (less, touched), (most, own) = sorted(hit)
    left, right = extents[touched]
    if less * 2 > most or not any(a < right and b > left and (a, b) != (start, end) for a, b, _ in beside):
        return start, end
    return max(start, extents[own][0]), min(end, extents[own][1])


def _spread(
    start: int, end: int, piece: str, extents: list[tuple[int, int]], ruled: bool, grouped: set[int]
) -> Iterator[tuple[int, int, str, list[int]]]:
    """To which columns a piece of a header line belongs: itself as a whole, or word by word."""
    core = piece.strip("-=<>_ ")
    if not core:
        return
    hit = [k for k, (s, e) in enumerate(extents) if start < e and end > s]
    if len(hit) <= 1:
        if not hit:
            hit = [min(range(len(extents)), key=lambda k: min(abs(extents[k][0] - start), abs(extents[k][1] - end)))]
        yield start, end, core, hit
        return
    if core != piece or grouped.issuperset(hit):  # `----- Input -----` spans what it covers
        yield start, end, core, hit
        return
    starts = {start + m.start() for m in _WORD.finditer(piece)}
    if (
        all(extents[k][0] in starts for k in hit) and start == extents[hit[0]][0]
    ):  # each label begins where its column does
        for k, following in zip(hit, [*hit[1:], None], strict=True):
            a, b = extents[k][0], end if following is None else extents[following][0]
            said = piece[a - start : b - start].rstrip()
            yield a, a + len(said), said, [k]
        return
    words: list[tuple[int, int, str, int]] = []
    for m in _WORD.finditer(piece):
        a, b = start + m.start(), start + m.end()
        over = [k for k in hit if a < extents[k][1] and b > extents[k][0]]
        if len(over) == 1:
            words.append((a, b, m.group(), over[0]))
        elif not over:
            words.append((a, b, m.group(), min(hit, key=lambda k: min(abs(extents[k][0] - a), abs(extents[k][1] - b)))))
        else:
            yield start, end, core, hit
            return
    if {w[3] for w in words} != set(hit):
        if ruled and len({w[3] for w in words}) == 1:
            yield start, end, core, [words[0][3]]
            return
        yield start, end, core, hit
        return
    for k in hit:
        mine = [w for w in words if w[3] == k]
        yield mine[0][0], mine[-1][1], " ".join(w[2] for w in mine), [k]


def _widen(
    header: list[str],
    labels: list[list[str]],
    placed: list[list[tuple[int, int, list[int]]]],
    bottom: list[tuple[int, int, str]],
) -> None:
    """A word centred over sub-columns whose labels repeat (`Volts Amps Volts Amps`) belongs to each of its group."""
    below = [parts[-1] if parts else "" for parts in labels]
    upper = chunks(header[-2])
    if len(upper) < 2 and len(header) == 2 and len(upper) != 1:
        return
    runs = _repeats(below)
    if runs is None:
        return
    first, size, times = runs
    inside = [(a, b, t.strip("-=<>_ ")) for a, b, t in upper]
    columns_of = {(a, b): cols for a, b, cols in placed[1]} if len(placed) > 1 else {}
    over = [
        (a, b, t)
        for a, b, t in inside
        if t and any(first <= c < first + size * times for c in columns_of.get((a, b), []))
    ]
    if len(over) != times:
        return
    for n, (_, _, said) in enumerate(over):
        for column in range(first + n * size, first + (n + 1) * size):
            if said not in labels[column]:
                labels[column][:] = [p for p in labels[column] if p not in [t for _, _, t in over]]
                labels[column].insert(max(0, len(labels[column]) - 1), said)
    # One more column at the right that only a unit or a quantity names goes with the last group.
    at = first + size * times
    while at < len(below) and below[at].lower().strip("()") in _UNITISH and len(labels[at]) == 1:
        labels[at].insert(0, over[-1][2])
        at += 1


_UNITISH = frozenset(
    ["v", "a", "w", "volts", "amps", "watts", "volt", "amp", "watt", "voltage", "current", "power", "vdc", "vac", "va"]
)


def _repeats(labels: list[str]) -> tuple[int, int, int] | None:
    """Where a run of labels repeats itself: first column, length of the run, how often."""
    count = len(labels)
    for size in range(count // 2, 0, -1):
        for first in range(count - 2 * size + 1):
            run = labels[first : first + size]
            if not all(run) or len(set(run)) != size:
                continue
            times = 1
            while labels[first + times * size : first + (times + 1) * size] == run:
                times += 1
            if times > 1:
                return first, size, times
    return None


def _parted_below_labels(
    header: list[str], rows: list[Line], edges: list[tuple[int, int]]
) -> tuple[tuple[str, ...], list[tuple[int, int]], dict[int, list[int]]] | None:
    """Columns parted where one of two labels over them begins, if nearly all rows begin a cell there; None where none is.

    In a row whose cell before runs over the border, the cell behind it is what has the form of those in the other
    rows: `Capacitor Pack Temperature-Ctlr A 29 C` over `46 C`. The blanks at which such rows part are told by line.
    """
    labels = _pieces(header[-1])
    borders: dict[int, list[tuple[int, int]]] = {}
    split: dict[int, list[int]] = {}
    for start, end in edges:
        over = [x for x in labels if start < x[1] and end > x[0]][1:]
        told = [r for r in rows if len(_pieces(r.text)) > 1 and r.text[start:end].strip()] if over else []
        for label, label_end, _ in over:
            if label <= start or len(told) < 2:
                continue
            fits = [r for r in told if _begins_cell(r.text, label)]
            if not fits:
                begun = [
                    x
                    for x in range(label, min(label_end, end))
                    if all(_begins_cell(r.text, x) for r in told) and any(r.text[x - 2] == " " for r in told)
                ]
                if len(begun) == 1:
                    borders.setdefault(start, []).append((label, begun[0]))
                continue
            if len(fits) == len(told) or len(told) < 3 or 3 * len(fits) < 2 * len(told):
                continue
            forms = {_squeezed_figures(r.text[label:end]) for r in fits}
            for row in told:
                if row in fits:
                    continue
                cut = [x - 1 for x in range(start + 2, len(row.text[:end])) if _begins_cell(row.text, x)]
                cut = [x for x in cut if (said := _squeezed_figures(row.text[x:end])) in forms and "0" in said]
                if len(cut) != 1:
                    return None
                split.setdefault(row.number, []).append(cut[0])
            borders.setdefault(start, []).append((label, label))
    if not borders:
        return None
    made: list[tuple[int, int]] = []
    under: list[tuple[int, int]] = []  # for the labels, which may begin left of what stands below them
    for start, end in edges:
        own = borders.get(start, [])
        begins = [start, *(b for _, b in own)]
        made.extend(zip(begins, [*(b - 1 for _, b in own), end], strict=True))
        under.extend(zip(begins, [*(min(b - 1, label) for label, b in own), end], strict=True))
    return _labels(header, under, ruled=False), made, split


def _begins_cell(text: str, at: int) -> bool:
    """Whether a word begins at a place of a line, behind a blank."""
    return len(text) > at > 0 and text[at - 1] == " " != text[at]


def _crowded(labels: Sequence[tuple[int, int, str]], edges: list[tuple[int, int]]) -> frozenset[int]:
    """The columns over which more than one label stands."""
    return frozenset(k for k, (s, e) in enumerate(edges) if sum(a < e and b > s for a, b, _ in labels) > 1)


def _doubted(row: GridRow, crowded: frozenset[int]) -> GridRow:
    """The row, odd where it has a cell below two labels."""
    cell = next((c for k, c in enumerate(row.cells) if k in crowded and c is not None), None)
    return row if row.odd or cell is None else row._replace(odd=f"`{cell.text}` stands below two labels")


def _pushed_cells(
    pieces: Sequence[tuple[int, int, str]], labels: Sequence[tuple[int, int, str]], number: int
) -> tuple[Cell | None, ...] | None:
    """The cells of a row by label, where each is at the place of its label or pushed right by a longer one; else None."""
    cells: list[Cell | None] = [None] * len(labels)
    shift, last, reached = 0, -1, -2
    for a, b, text in pieces:
        here = last + 1
        if here >= len(labels):
            return None
        if last >= 0 and reached > labels[here][0] + shift - 2 and a - reached <= 2:
            shift = a - labels[here][0]  # the cell before runs over the place of this one
        else:
            fits = [k for k in range(here, len(labels)) if a == labels[k][0] + shift or b == labels[k][1] + shift]
            if not fits:
                return None
            here = fits[0]
        cells[here] = Cell(text, number, a, b)
        last, reached = here, b
    return tuple(cells) if last >= 0 else None


def _pushed(lines: Sequence[Line], edges: list[tuple[int, int]], whole: list[tuple[list[Cell | None], str]]) -> None:
    """Places rows anew of which a cell runs over its column and pushes the next one, as in `PowerSupply1/1 Ok`.

    The pushed cell is told by what stands in its column in the rows that are sure; there is one place to part, or none.
    """
    said: list[set[str]] = [set() for _ in edges]
    for cells, odd in whole:
        for k, cell in enumerate(() if odd else cells):
            if cell is not None:
                said[k].add(_squeezed_figures(cell.text))
    begins = {start: k for k, (start, _) in enumerate(edges[:-1])}
    for n, (line, (_, odd)) in enumerate(zip(lines, whole, strict=True)):
        if not odd:
            continue
        cuts = []
        for begin, end, _ in _pieces(line.text):
            column = begins.get(begin)
            if column is not None and end > edges[column + 1][0]:
                blanks = [at for at in range(edges[column][1], end) if line.text[at] == " "]
                cuts += [at for at in blanks if _squeezed_figures(line.text[at:end]) in said[column + 1]]
        if len(cuts) == 1 and not (again := _placed(line, edges, cuts))[1]:
            whole[n] = again


def _squeezed_figures(text: str) -> str:
    """A cell with each of its numbers as one figure."""
    return re.sub(r"\d+(?:\.\d+)?", "0", text.strip())


def _within(line: Line, edges: list[tuple[int, int]]) -> list[Cell | None] | None:
    """A row's cells, where each piece of it stands within a column of its own, as in nearly all rows; else None."""
    cells: list[Cell | None] = [None] * len(edges)
    column = 0
    for begin, end, text in _pieces(line.text):
        while end > edges[column][1]:
            column += 1
            if column == len(edges):
                return None
        if begin < edges[column][0] or cells[column] is not None:
            return None
        cells[column] = Cell(text, line.number, begin, end)
    return cells


def _placed(line: Line, edges: list[tuple[int, int]], split: Sequence[int] = ()) -> tuple[list[Cell | None], str]:
    """A row's cells by column, and why they cannot be trusted. `split`: blanks at which a piece of it is two cells."""
    cells: list[list[tuple[int, int]]] = [[] for _ in edges]
    odd = ""
    text = line.text
    count = len(edges)
    borders = [(edges[k][1], edges[k + 1][0]) for k in range(count - 1)]
    for begin, end, _ in _pieces(text):
        parts = [(begin, end)]
        if split and (inside := [x for x in split if begin < x < end]):
            parts = list(zip([begin, *(x + 1 for x in inside)], [*inside, end], strict=True))
        for gap_start, gap_end in borders if len(parts) == 1 else ():
            a, b = parts[-1]
            if b <= gap_start or a >= gap_end or (a >= gap_start - 1 and b <= gap_end + 1):
                continue
            if a < gap_start and b > gap_end:
                # The piece runs over a border: it is two cells where a single blank stands at the border.
                cut = next((x for x in _near(gap_start, gap_end) if a < x < b and text[x] == " "), None)
                if cut is not None:
                    parts[-1:] = [(a, cut), (cut + 1, b)]
        for a, b in parts:
            best, shared = -1, 0
            second = 0
            for k, (s, e) in enumerate(edges):
                common = min(b, e) - max(a, s)
                if common > shared:
                    best, second, shared = k, shared, common
                elif common > second:
                    second = common
            if best < 0:
                best = min(range(count), key=lambda k: min(abs(edges[k][0] - a), abs(edges[k][1] - b)))
                if (
                    min(
                        abs(edges[best][0] - a),
                        abs(edges[best][1] - b),
                        abs(edges[best][1] - a),
                        abs(edges[best][0] - b),
                    )
                    > 8
                ):
                    odd = odd or f"`{text[a:b]}` stands under no column"
            elif (
                second > 1
                and second * 3 >= shared
                and not (b in split and a == edges[best][0])
                and not _begins_and_ends(text, a, b, best, edges)
            ):
                odd = odd or f"`{text[a:b]}` could stand in two columns"
            cells[best].append((a, b))
    if count > 2 and sum(map(len, cells)) > 1 and len(_pieces(text)) == 1:
        odd = odd or "one piece of text runs over two columns"
    made: list[Cell | None] = []
    for spans in cells:
        if not spans:
            made.append(None)
        else:
            a, b = spans[0][0], spans[-1][1]
            made.append(Cell(" ".join(text[a:b].split()), line.number, a, b))
    return made, odd


def _begins_and_ends(text: str, a: int, b: int, column: int, edges: list[tuple[int, int]]) -> bool:
    """Whether words, the last of their line, begin where a column does, and one of them runs over its end."""
    border = edges[column][1]
    return (
        a == edges[column][0]
        and not text[b:].strip()
        and not any(ch.isdigit() for ch in text[a:b])
        and column + 1 < len(edges)
        and " " not in text[border - 1 : edges[column + 1][0] + 1]
    )


def _near(gap_start: int, gap_end: int) -> list[int]:
    middle = list(range(gap_start, gap_end))
    return [*reversed(middle), gap_start - 1, gap_end, gap_start - 2, gap_end + 1]


def _second_lines(rows: Sequence[list[int]]) -> set[int]:
    """The lines that fill what the line above left empty, where nearly every row of a table stands on two lines so.

    `rows`: the columns that each line fills.
    """
    second: set[int] = set()
    firsts = 0
    for n, filled in enumerate(rows):
        above = rows[n - 1] if n and n - 1 not in second else []
        if filled and len(above) > 1 and filled[0] > above[-1]:
            second.add(n)
        elif len(filled) > 1:
            firsts += 1
    return second if len(second) > 1 and len(second) * 3 >= firsts * 2 else set()


def _parts_of_rows(rows: Sequence[list[int]], count: int, numbers: Sequence[int]) -> set[int]:
    """The lines that go on with a row where the line above left off, each cell in its own column.

    So a terminal's table looks where a cell is too long for its column. The row begins where the rows begin that
    stand on one line; what stands left of these is a place, and no part of the row below it. `rows`: which of
    `count` columns each line fills.
    """
    begin = min((filled[0] for filled in rows if 2 * len(filled) > count), default=None)
    parts: set[int] = set()
    first = -1
    for n, here in enumerate(rows):
        above = rows[n - 1] if n else []
        if here and above and first == begin and here[0] == above[-1] + 1 and numbers[n] == numbers[n - 1] + 1:
            parts.add(n)
        else:
            first = here[0] if here else -1
    return parts


def _continues(cells: Sequence[Cell | None], above: GridRow) -> bool:
    """Whether a row only goes on with words of cells above it: it has no value and no label of its own."""
    filled = [(k, c) for k, c in enumerate(cells) if c is not None]
    if len(filled) > 2 or above.odd:
        return False
    for k, cell in filled:
        over = above.cells[k]
        if (
            over is None
            or _value_like(over.text)
            or _value_like(cell.text)
            or (any(ch.isdigit() for ch in cell.text) and len(filled) > 1)
        ):
            return False
    return True


def _joined(row: GridRow, cells: Sequence[Cell | None], number: int) -> GridRow:
    made: list[Cell | None] = []
    for old, new in zip(row.cells, cells, strict=True):
        if new is not None and old is not None:
            glue = "" if old.text.endswith(("-", "/")) else " "
            made.append(old._replace(text=old.text + glue + new.text))
        else:
            made.append(old)
    return row._replace(cells=tuple(made), lines=(*row.lines, number))


# JSON. A parser of our own, since each value needs its line; what it takes is RFC 8259.

_TOKEN = re.compile(
    r'[ \t\r]*(?:(?P<open>[{\[])|(?P<close>[}\]])|(?P<mark>[,:])|(?P<string>"(?:[^"\\\x00-\x1f]|\\.)*")'
    r"|(?P<number>-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)|(?P<word>true|false|null))"
)
_BEGINS_JSON = re.compile(r"[\[{]\s*(?:[\[{\"]|\Z)")
_GOES_ON = re.compile(r"[\[{}\]\s,]{1,32}\Z|(?:-?\d[\d.eE+-]*|true|false|null),?\Z|[{}\]\"]|\[\s*[\[{\"]")


def _goes_on_as_json(stripped: str) -> bool:
    """Whether a line can stand within JSON that is not whole, of which no part is read."""
    return _GOES_ON.match(stripped) is not None


DEEPEST = 48
"""How many values may stand within each other."""
_ESCAPE = re.compile(r'\\(?:u([0-9a-fA-F]{4})|(["\\/bfnrt]))')
_ESCAPES = {"b": "\b", "f": "\f", "n": "\n", "r": "\r", "t": "\t"}


def _parse_json(lines: Sequence[Line], first: int) -> tuple[object, int] | None:
    """The value that begins on a line, and the index of its last line; None where it is no JSON, not whole, or gives a key twice."""
    stack: list[tuple[str, list[object]]] = []
    key: list[str | None] = []
    names: list[set[str | None]] = []
    expect = "value"
    index = first
    at = 0
    while index < len(lines):
        line = lines[index]
        text = line.text
        if line.doubt:
            return None
        while True:
            match = _TOKEN.match(text, at)
            if match is None:
                if text[at:].strip():
                    return None
                break
            at = match.end()
            kind = match.lastgroup
            value: object
            if kind == "open":
                if expect not in ("value", "value-or-close") or len(stack) >= DEEPEST:
                    return None
                stack.append((match["open"], []))
                key.append(None)
                names.append(set())
                expect = "key-or-close" if match["open"] == "{" else "value-or-close"
                continue
            if kind == "mark":
                if match["mark"] == ":":
                    if expect != "colon":
                        return None
                    expect = "value"
                else:
                    if expect != "comma":
                        return None
                    expect = "key" if stack[-1][0] == "{" else "value"
                continue
            if kind == "close":
                if not stack or expect not in ("comma", "key-or-close", "value-or-close"):
                    return None
                opened, members = stack.pop()
                key.pop()
                names.pop()
                if (opened == "{") != (match["close"] == "}"):
                    return None
                value = Obj(members) if opened == "{" else Arr(members)  # type: ignore[arg-type]
            elif kind == "string" and expect in ("key", "key-or-close"):
                key[-1] = _unescaped(match["string"])
                if key[-1] in names[-1]:  # lines between two objects are lost, or it cannot be told which counts
                    return None
                names[-1].add(key[-1])
                expect = "colon"
                continue
            elif expect in ("value", "value-or-close"):
                said = match["string"] or match["number"] or match["word"]
                value = Leaf(_unescaped(said) if match["string"] else said, line.number, bool(match["string"]))
            else:
                return None
            if not stack:
                if text[at:].strip() or not isinstance(value, Obj | Arr):
                    return None
                return value, index
            opened, members = stack[-1]
            if opened == "{":
                members.append((key[-1], value))
            else:
                members.append(value)
            expect = "comma"
        index += 1
        at = 0
    return None


def _unescaped(quoted: str) -> str:
    inner = quoted[1:-1]
    if "\\" not in inner:
        return inner
    return _ESCAPE.sub(lambda m: chr(int(m[1], 16)) if m[1] else _ESCAPES.get(m[2], m[2]), inner)


class Obj(list[tuple[str, object]]):
    """The members of a JSON object: (key, value) pairs in order."""


class Arr(list[object]):
    """The members of a JSON array."""
