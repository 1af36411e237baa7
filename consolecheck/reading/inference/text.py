"""A whole text of an unknown device: blocks to readings, with what could not be read, and the map of it."""

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache, partial
from itertools import pairwise
from math import isclose
from typing import NamedTuple

from consolecheck.reading.flat import LONGEST_RAW_LINE
from consolecheck.reading.inference.answers import read_answers
from consolecheck.reading.inference.braces import read_braces
from consolecheck.reading.inference.containers import NAMED_APART, placed
from consolecheck.reading.inference.grids import member_of, read_grid
from consolecheck.reading.inference.lists import Made, looks_like_code, read_list
from consolecheck.reading.inference.objects import read_objects
from consolecheck.reading.inference.of_part import read_of_part
from consolecheck.reading.inference.outline import better, of_command
from consolecheck.reading.inference.record import status_of
from consolecheck.reading.inference.stock import read_stock
from consolecheck.reading.inference.trees import ReadTree, read_tree
from consolecheck.reading.inference.values import PRESENT, condition_of, plain, stated
from consolecheck.reading.inference.walks import of_walk, read_walk
from consolecheck.reading.inference.words import label_of, plain_title, thing_of, words_of
from consolecheck.reading.screen import TOO_LONG, CleanText
from consolecheck.reading.table import (
    Arr,
    Block,
    Cell,
    Grid,
    Item,
    Leaf,
    Loose,
    Obj,
    Pairs,
    Prompt,
    Tree,
    chunks,
    is_ruler,
    layout,
    prompt_of,
    prompts_of,
)
from consolecheck.records.readings import AnyReading, Condition, Kind, Sighting, Snapshot, TableSeen, TakenAs
from consolecheck.records.text import Line, Row, Span, UnreadLine
from consolecheck.records.units import Quantity

_PAGER = re.compile(r"[-<(\[ ]{2,}more\b[^|]{0,60}[->)\] ]{2,}|[-<(\[ ]*-+ ?more ?-+[^|]{0,40}", re.IGNORECASE)


_FIGURE = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?")
_NO_FIGURES = frozenset(("thing", "name", "slot", "serial", "part", "model", "description", "set aside"))
"""What may hold numbers that measure nothing."""
_SCALES = (1.0, 1e-3, 1e-6, 1e3)


_Places = Mapping[str, Span]
_Pieces = Sequence[tuple[str, Span | None]]


class PlacedRow(Row):
    """A row whose cells were found by their place and not by a template.

    `find` gives, when it is first asked where something stood, the places of its fields, and the cells that may
    hold the figures of `reading`, with their places where these are known.
    """

    __slots__ = ("_figures", "_find", "_reading", "_stood")

    def __init__(
        self, lines: tuple[int, ...], reading: AnyReading, find: Callable[[], tuple[_Places, _Pieces]]
    ) -> None:
        super().__init__((), (), lines, None)
        self._reading = reading
        self._find = find
        self._stood: tuple[_Places, _Pieces] | None = None
        self._figures: Mapping[str, tuple[str, Span | None]] | None = None

    @property
    def _places(self) -> _Places:
        self._stood = self._stood or self._find()
        return self._stood[0]

    @property
    def _pieces(self) -> _Pieces:
        self._stood = self._stood or self._find()
        return self._stood[1]

    def span(self, field: str) -> Span | None:
        if (place := self._places.get(field)) is not None:
            return place
        return figure[1] if (figure := self._found().get(field)) is not None else None

    def printed(self, field: str) -> str | None:
        """The figure of a field as it was printed; None where the row holds none that says so much."""
        return figure[0] if (figure := self._found().get(field)) is not None else None

    def _found(self) -> Mapping[str, tuple[str, Span | None]]:
        if self._figures is None:
            left = [(m, place) for piece, place in self._pieces for m in _FIGURE.finditer(piece)]
            self._figures = found = {}
            for field, quantity in self._reading.quantities().items():
                for at, (match, place) in enumerate(left):
                    if _says(float(match[0]), quantity):
                        start = place.start if place is not None else 0
                        told = place and Span(place.line, start + match.start(), start + match.end())
                        found[field] = (match[0], told)
                        del left[at]
                        break
        return self._figures


def _says(number: float, quantity: Quantity) -> bool:
    """Whether a printed number is this quantity in one of the units that devices print it in."""
    same = partial(isclose, quantity.value, rel_tol=1e-9, abs_tol=1e-9)
    if quantity.unit == "Cel" and (same((number - 32) / 1.8) or same(number - 273.15)):
        return True
    return any(same(number * scale) for scale in _SCALES)


class _Table(NamedTuple):
    sightings: list[tuple[AnyReading, PlacedRow]]
    taken: tuple[tuple[str, str], ...]
    header: str
    header_lines: tuple[int, ...]
    first: int
    last: int
    sure: str
    ended: bool = False
    """Whether another table follows it between the same two prompts."""
    at_end: bool = True
    """Whether nothing but lines of no layout follows it there."""


class _Part(NamedTuple):
    """What stands between two prompts."""

    tables: tuple[_Table, ...]
    used: frozenset[int]
    why: Mapping[int, str]
    runs_on: bool
    """Whether lines of no layout stand behind the last table, which may be rows that were not recognised."""


def read_as_unknown(text: CleanText, source: str, words: Mapping[str, Condition] | None = None) -> Snapshot:
    """The inferred readings of a cleaned text, with what a person stated that words mean. Never raises for what a text holds."""
    if not words:
        return _read_as_unknown(text, source)
    with stated(words):
        _forget_words()
        try:
            return _read_as_unknown(text, source)
        finally:
            _forget_words()


def _forget_words() -> None:
    """Drops all that was remembered of what words mean."""
    forget()
    status_of.cache_clear()


def _read_as_unknown(text: CleanText, source: str) -> Snapshot:
    lines = [piece for line in text.lines for piece in _json_and_prompt(line)]
    ends = {a.number for a, b in pairwise(lines) if a.number == b.number}
    turns = prompts_of(lines)
    walk, walked, used, why = _walk(lines, turns, text.ends_mid_line)
    rest = [x for x in lines if x.number not in walked]
    trees: list[tuple[str, ReadTree, frozenset[int]]] = []
    whole = "\n".join([x.text for x in rest])
    for sort, mark, reader in (("objects", " = ", read_objects), ("tree", "{", read_braces)):
        if mark not in whole:
            continue
        found, own = reader(_in_doubt_where_cut([x for x in rest if x.number not in turns], lines, text.ends_mid_line))
        if own:
            trees.append((sort, found, own))
            rest = [x for x in rest if x.number not in own]
            used |= found.used
            why.update(found.unread)
    answers = read_answers(rest)
    if answers is not None:
        rest = [x for x in rest if x.number not in answers.own]
        turns = {n: turn for n, turn in turns.items() if n not in answers.own}
        used |= answers.used
        why.update(answers.unread)
    said = [x.text for x in rest if x.text.strip() and x.number not in turns]
    veto = looks_like_code([text for text in said if text.lstrip()[0] not in _OF_JSON][:400])
    hosts: dict[str, int] = {}
    tables: list[_Table] = []
    cut = ""
    if text.ends_at_pager:
        cut = "the text ends at an unanswered pager prompt"
    elif text.ends_mid_line:
        cut = "the text ends in the middle of a line"
    cuts: list[str] = []
    if walk is not None:
        tables.append(walk)
        cuts.append("" if walk.ended else cut)
    for sort, found, own in trees:
        if (told := _listed(found.made, min(own), max(own), sort, {})) is not None:
            ended = sort == "tree" or max(turns, default=0) > told.last
            tables.append(_unlike(told._replace(ended=ended), used, why))
            cuts.append("" if ended else cut)
    if answers is not None:
        hosts.update(answers.hosts)
        for made, first, last_line, ended in answers.blocks:
            if (told := _listed(made, first, last_line, "answer", {})) is not None:
                tables.append(_unlike(told._replace(ended=ended), used, why))
                cuts.append("" if ended else cut)
    typed = ""
    for turn, lines in _between_prompts(rest, turns):
        kept = _without_asides(lines, typed, used)
        part = _read_part(tuple(kept), veto, typed)
        typed = turn.typed if turn is not None else ""
        used |= part.used
        why.update(part.why)
        for at, table in enumerate(part.tables):
            last = at == len(part.tables) - 1
            prompted = turn is not None and table.at_end and not (last and part.runs_on)
            tables.append(table._replace(ended=table.ended or prompted))
            cuts.append(cut if turn is None and table.at_end else "")
        if turn is not None:
            if turn.line.number not in ends:
                used.add(turn.line.number)
            if turn.host:
                hosts.setdefault(turn.host, turn.line.number)
    if text.ends_mid_line and tables and cuts[-1]:
        tables[-1] = _without_cut_row(tables[-1], text.lines, used, why)
    return _snapshot(text, source, tables, cuts, used, why, hosts, veto)


def _without_cut_row(table: _Table, lines: Sequence[Line], used: set[int], why: dict[int, str]) -> _Table:
    """The table without its last row, where the text ends within it and it has fewer cells than each other row."""
    last = lines[-1]
    said = {line.number: line.text for line in lines}
    wide = {row.lines: len(chunks(said[row.lines[-1]])) for _, row in table.sightings if row.lines}
    cut = [row for row in wide if row[-1] == last.number]
    if not cut or len(wide) < 2 or any(wide[cut[0]] >= count for row, count in wide.items() if row != cut[0]):
        return table
    used -= set(cut[0])
    why.update(dict.fromkeys(cut[0], "the text ends within this row"))
    return table._replace(sightings=[(reading, row) for reading, row in table.sightings if row.lines != cut[0]])


_JSON_BEGINS = frozenset(("{", "[", "}", "]"))
_OF_JSON = _JSON_BEGINS | {'"'}


def _json_and_prompt(line: Line) -> tuple[Line, ...]:
    """A line as it is; JSON without the doubt that it is too long for a row, and apart from a prompt behind its end."""
    text = line.text
    if text.lstrip()[:1] not in _JSON_BEGINS:
        return (line,)
    if line.doubt == TOO_LONG and len(text) <= LONGEST_RAW_LINE:
        line = line._replace(doubt="")
    if line.doubt or (text[0] == "[" and prompt_of(line) is not None):
        return (line,)
    end = max(text.rfind("}"), text.rfind("]")) + 1
    behind = line._replace(text=text[end:])
    if end and behind.text.strip() and prompt_of(behind) is not None:
        return line._replace(text=text[:end]), behind
    return (line,)


def _walk(
    text: Sequence[Line], turns: Mapping[int, Prompt], cut: bool
) -> tuple[_Table | None, frozenset[int], set[int], dict[int, str]]:
    """The walk of hardware tables in a text, however many commands it took: table, its lines, those used, why others not."""
    lines = of_walk(_in_doubt_where_cut([line for line in text if line.number not in turns], text, cut))
    if not lines:
        return None, frozenset(), set(), {}
    read, own = read_walk(lines)
    table = _listed(read.made, min(own), max(own), "walk", {}) if own else None
    if table is None:
        return None, own, set(), dict(read.unread)
    used, why = set(read.used), dict(read.unread)
    table = _unlike(table._replace(ended=max(turns, default=0) > table.last), used, why)
    return table, own, used, why


def _in_doubt_where_cut(lines: list[Line], text: Sequence[Line], cut: bool) -> list[Line]:
    """The lines, the last one in doubt where the text ends within it."""
    if lines and cut and lines[-1].number == text[-1].number and not lines[-1].doubt:
        lines[-1] = lines[-1]._replace(doubt="the text ends within this line")
    return lines


def _without_asides(lines: list[Line], typed: str, used: set[int]) -> list[Line]:
    """The lines without those that a console puts between: the command once more, and a pager's question."""
    kept: list[Line] = []
    echo = bool(typed)
    for line in lines:
        text = line.text.strip()
        if echo and text:
            echo = False
            if text == typed and not line.doubt:
                used.add(line.number)
                continue
        if not line.doubt and "more" in text.lower() and _PAGER.fullmatch(text):
            used.add(line.number)
            continue
        kept.append(line)
    return kept


def _between_prompts(lines: Sequence[Line], turns: Mapping[int, Prompt]) -> Iterator[tuple[Prompt | None, list[Line]]]:
    """The lines above each prompt with that prompt, and those below the last one with none."""
    above: list[Line] = []
    for line in lines:
        turn = turns.get(line.number)
        if turn is None or turn.line.text != line.text:
            above.append(line)
        else:
            yield turn, above
            above = []
    yield None, above


_LARGEST_REMEMBERED = 16384
"""Characters. A part of a text that was read lately is not read again; a capture before and one after have most in common."""


def _read_part(lines: tuple[Line, ...], veto: bool, typed: str) -> _Part:
    if sum(len(line.text) for line in lines) > _LARGEST_REMEMBERED:
        return _part(lines, veto, typed)
    return _remembered_part(lines, veto, typed)


@lru_cache(maxsize=96)
def _remembered_part(lines: tuple[Line, ...], veto: bool, typed: str) -> _Part:
    return _part(lines, veto, typed)


def forget() -> None:
    """Drops what earlier texts left behind. Nothing that is read depends on it, only how fast."""
    _remembered_part.cache_clear()


_ASKED_FOR = {"power": "Power supplies", "fan": "Fans", "fans": "Fans"}


def _numbered_by(block: Block, topic: str) -> str:
    """The heading that a command gives a list whose first key is only a slot: `display power` above `Slotid : 8`."""
    words = topic.lower().split()
    if not isinstance(block, Pairs) or len(words) != 2 or words[0] not in ("show", "display", "get"):
        return ""
    return _ASKED_FOR.get(words[1], "") if re.fullmatch(r"slot ?id", block.items[0].key, re.IGNORECASE) else ""


_MUST_NOT = (LookupError, ValueError, TypeError, AttributeError, ArithmeticError, AssertionError)
OUR_FAULT = "this program failed on it, which is a fault of ours: please report it with the text"
"""Why a part of a text is unread where reading it raised what it must not."""


def _last(block: Block) -> int:
    if isinstance(block, Loose):
        return block.lines[-1].number
    return block.line.number if isinstance(block, Prompt) else block.last_line


def _part(lines: tuple[Line, ...], veto: bool, typed: str) -> _Part:
    texts = {line.number: line.text for line in lines}
    try:
        blocks = layout(lines, prompts=False)
    except _MUST_NOT:
        return _Part((), frozenset(), dict.fromkeys(texts, OUR_FAULT), False)
    topic = typed.split("|")[0].strip() if len(typed) <= 60 else ""
    heat = bool(set(words_of(topic)) & {"thermal", "temperature", "temperatures", "temp"})
    used: set[int] = set()
    why: dict[int, str] = {}
    found: list[tuple[_Table, int]] = []
    heading, heading_line = "", 0
    next_to_command = next((at for at, block in enumerate(blocks) if not isinstance(block, Loose)), -1)
    for at, block in enumerate(blocks):
        if isinstance(block, Prompt) or (veto and not isinstance(block, Tree)):
            continue
        above = (
            heading
            if heading and _first(block) - heading_line <= 6
            else topic
            if isinstance(block, Grid) or heat
            else _numbered_by(block, topic)
        )
        own: set[int] = set()
        reasons: dict[int, str] = {}
        try:
            table = _table(block, own, reasons, above, texts, topic if at == next_to_command else "")
        except _MUST_NOT:
            # A text that nobody thought of: what else stands in it is still read, and this part verifies nothing.
            why.update((number, OUR_FAULT) for number in texts if _first(block) <= number <= _last(block))
            continue
        used |= own
        why.update(reasons)
        if table is not None and table.sightings:
            found.append((table, at))
            if at and (title := _titled_by(blocks[at - 1], block)) is not None:
                used.add(title)
                why.pop(title, None)
        heading, heading_line = _heading(block)
    found = [(_unlike(table, used, why, texts), at) for table, at in _in_containers(found, texts, used)]
    tables = []
    runs_on = False
    for table, at in found:
        following = [b for b in blocks[at + 1 :] if not isinstance(b, Loose)]
        after = blocks[at + 1] if at + 1 < len(blocks) else None
        runs_on = isinstance(after, Loose) and any(line.number not in used for line in after.lines)
        tables.append(table._replace(ended=bool(following) and not runs_on, at_end=not following))
    return _Part(tuple(tables), frozenset(used), why, runs_on)


_SORT = frozenset(("type", "kind", "class", "category"))


def _titled_by(above: Block, table: Block) -> int | None:
    """The line right above a table that only says what it lists, as `Sensor Type : FAN` does."""
    if not isinstance(table, Grid) or not isinstance(above, Pairs) or len(above.items) != 1:
        return None
    item = above.items[0]
    key = [w for w in words_of(item.key) if w not in _SORT]
    if len(key) == len(words_of(item.key)) or item.line != table.first_line - 1 or item.more or item.verdict:
        return None
    return item.line if plain_title(" ".join((*key, item.value or ""))) else None


def _in_containers(
    found: list[tuple[_Table, int]], texts: Mapping[int, str], used: set[int]
) -> list[tuple[_Table, int]]:
    """The tables with their things told apart by headings such as `Slot 1:` and `Slot 2:` above them."""
    said = [(reading, row.lines) for table, _ in found for reading, row in table.sightings]
    readings, headings = placed(said, texts)
    used |= headings
    told = iter(readings)
    return [(t._replace(sightings=[(next(told), row) for _, row in t.sightings]), at) for t, at in found]


def _unlike(table: _Table, used: set[int], why: dict[int, str], texts: Mapping[int, str] | None = None) -> _Table:
    """The table without things that bear one name: what tells them apart was then not understood.

    A section that is printed once more, line for line and with figures that no two things have alike, says the same again.
    """
    called = [(r.kind, r.unit, r.name) for r, _ in table.sightings if r.kind in NAMED_APART]
    if len(set(called)) == len(called):  # as in nearly every table
        return table
    names: dict[tuple[object, ...], list[tuple[AnyReading, PlacedRow]]] = {}
    for reading, row in table.sightings:
        if reading.kind in NAMED_APART:
            names.setdefault((reading.kind, reading.unit, reading.name), []).append((reading, row))
    lost: set[int] = set()
    for alike in names.values():
        if len(alike) > 1 and not _said_again(alike, texts or {}):
            lost.update(line for _, row in alike for line in row.lines)
    if not lost:
        return table
    used -= lost
    why.update(dict.fromkeys(lost, "more than one thing of the table would bear this name"))
    return table._replace(sightings=[(reading, row) for reading, row in table.sightings if not lost & {*row.lines}])


_WHAT_IT_IS = re.compile(r" \([A-Z][a-z]+ [A-Z][A-Za-z ]{4,40}\)\Z")
_TELLING = re.compile(r"(?<![\w.])(?:\d{4,}|\d+\.\d{2,})(?![\w.])")
"""A figure of so many digits that two things seldom show the same. Common practice, no source."""


def _said_again(alike: Sequence[tuple[AnyReading, PlacedRow]], texts: Mapping[int, str]) -> bool:
    """Whether the same line of the same section stands there again: with one such figure in it, or in the line beside it."""
    first, *others = ([texts.get(n, "") for n in range(row.lines[0] - 1, row.lines[-1] + 2)] for _, row in alike)
    own = [texts.get(n, "").strip() for n in alike[0][1].lines]
    if any([texts.get(n, "").strip() for n in row.lines] != own for _, row in alike[1:]):
        return False
    beside = [line.strip() for line in first]
    if (
        alike[0][0].kind == "temperature"
        and alike[0][0].unit is not None
        and all(_WHAT_IT_IS.search(line) is not None for line in own)
    ):
        return True  # `Left Slot (PS0): 26 C - OK (Power Supply Temperature)`, below each heading that it belongs to
    return any(_TELLING.search(line) for line in own) or (
        any(_TELLING.search(line) for line in beside) and all([x.strip() for x in o] == beside for o in others)
    )


def _first(block: Block) -> int:
    if isinstance(block, Loose):
        return block.lines[0].number
    if isinstance(block, Prompt):
        return block.line.number
    return block.first_line


def _heading(block: Block) -> tuple[str, int]:
    """A heading that a block leaves for the next one, such as `Switch 1:` above two tables."""
    if isinstance(block, Grid):
        inner = next((r.heading for r in reversed(block.rows) if r.heading), "")
        for said in (inner, *(t.text.rstrip(":") for t in reversed(block.titles))):
            if member_of(said):
                return said, block.last_line
        return "", 0
    if isinstance(block, Pairs) and block.items and block.items[-1].key.lower() == "name":
        named = thing_of(block.items[-1].value or "")
        if named is not None and named.slot is not None:
            return block.items[-1].value or "", block.last_line  # `Resource ID: 1  Name: PSU Bay 1`
    if isinstance(block, Pairs) and block.items and not block.items[0].value and len(block.items) <= 3:
        return block.items[0].key, block.last_line
    if isinstance(block, Pairs) and block.titles:
        return block.titles[-1].text.rstrip(":"), block.last_line
    return "", 0


def _table(
    block: Block, used: set[int], why: dict[int, str], heading: str, texts: Mapping[int, str], typed: str
) -> _Table | None:
    """What a block tells. `typed`: the command right above it, if it stands there."""
    listed: Pairs | None = None
    grid_lines: tuple[int, ...] = ()
    if isinstance(block, Grid) and (listed := _as_list(block) or _headed_by_a_pair(block, texts)) is not None:
        grid_lines = block.header_lines
        block = listed
    if isinstance(block, Grid):
        table = _grid(block, used, why, heading)
        if table is not None or (listed := _of_two_cells(block, texts)) is None:
            return table
        block = listed
    if isinstance(block, Pairs):
        below = texts.get(block.last_line + 1, "") if listed is None else ""
        goes_on = len(below) - len(below.lstrip()) if below.strip() and not is_ruler(below) else 0
        found = of_command(better(read_list(block, heading, goes_on), block, heading), block, typed)
        used |= found.used
        why.update(found.unread)
        if found.made and listed is not None:
            used.update(grid_lines)
        if found.made:
            _use_titles(block.titles, block.first_line, used)
        return _listed(found.made, block.first_line, block.last_line, "list", texts)
    if isinstance(block, Tree):
        tree = read_tree(block)
        used |= tree.used
        why.update(tree.unread)
        if tree.made:
            used.update(_punctuation(block))
        return _listed(tree.made, block.first_line, block.last_line, "json", {})
    return None


def _as_list(grid: Grid) -> Pairs | None:
    """A table of two columns whose second is headed `Value` holds keys and values."""
    if len(grid.headers) != 2 or set(words_of(grid.headers[1])) - {"value", "values", "setting", "data", "information"}:
        return None
    if not set(words_of(grid.headers[0])) & {
        "item",
        "name",
        "key",
        "parameter",
        "attribute",
        "property",
        "field",
        "description",
        "object",
    }:
        return None
    items = []
    for row in grid.rows:
        if row.odd or len(row.cells) != 2:  # a row with a cell too few or too many is no pair
            return None
        key, value = row.cells
        if key is None:
            return None
        end = value or key
        items.append(
            Item(0, key.text, value.text if value else "", key.line, end.start, end.end, False, ":", row.lines[1:])
        )
    return Pairs(grid.titles, tuple(items), grid.first_line, grid.last_line)


def _headed_by_a_pair(grid: Grid, texts: Mapping[int, str]) -> Pairs | None:
    """A table of two columns whose labels are a key and its state, `Fan Tray Status   Present`, as the list that it is."""
    if len(grid.headers) != 2 or len(grid.header_lines) != 1 or label_of(grid.headers[0]).field != "status":
        return None
    said = plain(grid.headers[1])
    found = chunks(texts.get(grid.header_lines[0], ""))
    if (condition_of(said) is None and said not in PRESENT) or [t for _, _, t in found] != list(grid.headers):
        return None
    (_, _, key), (start, end, value) = found
    items = [Item(0, key, value, grid.header_lines[0], start, end, True, " ")]
    for row in grid.rows:
        first, second = row.cells if len(row.cells) == 2 else (None, None)
        if row.odd or first is None or second is None or len(row.lines) > 1:
            return None
        items.append(Item(0, first.text, second.text, first.line, second.start, second.end, False, " "))
    return Pairs(grid.titles, tuple(items), min(grid.first_line, grid.header_lines[0]), grid.last_line)


def _of_two_cells(grid: Grid, texts: Mapping[int, str]) -> Pairs | None:
    """A table of which nothing is understood and whose rows have two cells each, as keys with their values have."""
    items: list[Item] = []
    for row in grid.rows:
        filled = [cell for cell in row.cells if cell is not None]
        if row.odd or not filled or len(filled) > 2 or row.cells[0] is None or len(row.lines) > 1:
            return None
        key, value = filled[0], filled[1] if len(filled) > 1 else None
        if len(chunks(texts[key.line])) != len(filled):
            return None  # more than two stand there
        end = value or key
        items.append(Item(0, key.text, value.text if value else None, key.line, end.start, end.end, not value, " "))
    valued = sum(item.value is not None for item in items)
    if valued < 4 or valued * 5 < len(items) * 4:
        return None
    return Pairs(grid.titles, tuple(items), grid.first_line, grid.last_line)


def _punctuation(tree: Tree) -> set[int]:
    """Lines of a JSON text that hold no value of their own."""
    held: set[int] = set()
    stack: list[object] = [tree.root]
    while stack:
        value = stack.pop()
        if isinstance(value, Leaf):
            held.add(value.line)
        elif isinstance(value, Obj):
            stack.extend(v for _, v in value)
        elif isinstance(value, Arr):
            stack.extend(value)
    return set(range(tree.first_line, tree.last_line + 1)) - held


def _use_titles(titles: tuple[Cell, ...], first: int, used: set[int]) -> None:
    """Titles that say nothing else count as read; any other line above a table stays unread."""
    for title in titles:
        text = title.text.rstrip(":")
        if first - title.line <= 6 and (member_of(text) is not None or plain_title(text)):
            used.add(title.line)


def _grid(grid: Grid, used: set[int], why: dict[int, str], heading: str) -> _Table | None:
    found = read_of_part(grid, heading) or read_grid(grid, heading)
    if not found.rows and (parts := read_stock(grid)) is not None:
        found = parts
    made: list[tuple[AnyReading, PlacedRow]] = []
    for row in found.rows:
        if row.why_not:
            why.update(dict.fromkeys(row.row.lines, row.why_not))
            continue
        used.update(row.row.lines)
        find = partial(_in_columns, found.columns, row.row.cells)
        for reading in row.readings:
            made.append((reading, PlacedRow(row.row.lines, reading, find)))
    if not made:
        if not found.rows:
            for number in range(grid.first_line, grid.last_line + 1):
                why.setdefault(number, found.why_not)
        return None
    used.update(grid.header_lines)
    used.update(grid.again)
    used.update(
        line.number for line in grid.headings if member_of(line.text.strip().rstrip(":")) or plain_title(line.text)
    )
    _use_titles(grid.titles, grid.first_line, used)
    header = " | ".join(grid.headers) if grid.headers else "no header"
    headings = {row.row.heading for row in found.rows}
    return _Table(
        made,
        found.columns,
        f"{grid.sort}: {header}" + (" under headings" if headings - {""} else ""),
        grid.header_lines,
        grid.first_line,
        grid.last_line,
        found.sure,
    )


def _in_columns(columns: Sequence[tuple[str, str]], cells: Sequence[Cell | None]) -> tuple[_Places, _Pieces]:
    told = [
        (field, cell.text, Span(cell.line, cell.start, cell.end))
        for (_, field), cell in zip(columns, cells, strict=False)
        if cell is not None
    ]
    return (
        {field: place for field, _, place in told},
        [(text, place) for field, text, place in told if field not in _NO_FIGURES],
    )


def _in_list(made: Made, texts: Mapping[int, str]) -> tuple[_Places, _Pieces]:
    return {f: Span(line, a, b) for f, line, a, b in made.places if b > a}, tuple(_pieces(made, texts))


def _pieces(made: Made, texts: Mapping[int, str]) -> Iterator[tuple[str, Span | None]]:
    """What may hold figures: the values that were placed; in JSON, whose values have no column, the values alone."""
    if made.texts:
        for text in made.texts:
            yield text, None
        return
    placed = [p for p in made.places if p[3] > p[2]]
    for field, line, start, end in placed:
        if field not in _NO_FIGURES:
            yield texts.get(line, "")[start:end], Span(line, start, end)
    if not placed:
        for line in made.lines:
            yield texts.get(line, ""), Span(line, 0, 0)


def _listed(made: tuple[Made, ...], first: int, last: int, sort: str, texts: Mapping[int, str]) -> _Table | None:
    if not made:
        return None
    taken = tuple(dict.fromkeys(pair for m in made for pair in m.columns))
    sightings = [(m.reading, PlacedRow(tuple(sorted(m.lines)), m.reading, partial(_in_list, m, texts))) for m in made]
    return _Table(
        sightings,
        taken,
        f"{sort}: " + " | ".join(dict.fromkeys(re.sub(r"\d+", "#", k) for k, _ in taken)),
        (),
        first,
        last,
        "high",
    )


def _snapshot(
    text: CleanText, source: str, tables: list[_Table], cuts: list[str], used: set[int], why: dict[int, str],
    hosts: dict[str, int], veto: bool,
) -> Snapshot:  # fmt: skip
    sightings: list[Sighting] = []
    seen: list[TableSeen] = []
    taken: list[TakenAs] = []
    names: dict[str, int] = {}
    for table, cut in zip(tables, cuts, strict=True):
        kinds: tuple[Kind, ...] = tuple(dict.fromkeys(r.kind for r, _ in table.sightings))
        short = "+".join(kinds) + " " + hashlib.sha256(table.header.encode("utf-8", "replace")).hexdigest()[:6]
        names[short] = names.get(short, 0) + 1
        name = short if names[short] == 1 else f"{short} no. {names[short]}"
        sightings.extend(Sighting(reading, row, name, table.ended) for reading, row in table.sightings)
        seen.append(TableSeen(name, kinds, table.first, table.last, table.ended, cut, len(table.sightings)))
        taken.append(TakenAs(name, table.header, table.taken, table.header_lines, table.first, table.last, table.sure))
    unread = []
    for line in text.lines:
        if line.doubt and not (line.doubt == TOO_LONG and line.number in used):
            unread.append(UnreadLine(line.number, line.text, line.doubt))
        elif line.text.strip() and line.number not in used and not is_ruler(line.text):
            reason = why.get(line.number) or (
                "looks like a program or its settings" if veto else "stands in no table that is understood"
            )
            unread.append(UnreadLine(line.number, line.text, reason))
    return Snapshot(
        source=source,
        dialect=None,
        basis="inferred",
        sightings=tuple(sightings),
        tables=tuple(seen),
        unread=tuple(unread),
        passed_over=(),
        hosts=hosts,
        last_line=text.lines[-1].number if text.lines else 0,
        printed=text.digest,
        taken_as=tuple(taken),
    )
