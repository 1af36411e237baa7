"""Where each fact of an inferred reading stands in its lines, so that a template can take it from there.

A fact is found by its value: the cell of a row that gives just this quantity, serial or word. Where several cells
do, the one counts whose label gives it in most rows of the table. A fact that stands nowhere (it was put together
out of several, say) cannot be drafted, and the whole row is left out.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from consolecheck.reading.inference.values import is_blank
from consolecheck.reading.inference.words import airflow_in
from consolecheck.records.readings import KINDS, AnyReading, Condition, Sighting
from consolecheck.records.units import Quantity, UnreadableQuantity, parse_quantity

_TEXTS = ("serial", "part_number", "description", "input_type", "feed")
_ASSUMED = ("Cel", "rpm", "%", "V", "A", "W", "mV", "mA", "mW", "kW", "F", "mC")
_NUMBER = re.compile(r"(?<![\w.,])[+-]?\d+(?:\.\d+)?(?![\d.,]*\d)")
_WHOLE_FIGURE = re.compile(r"[+-]?\d+(?:\.\d+)? ?[A-Za-z°µ%/]*")
_KEY = re.compile(r"\s*([^:=|]*[^:=|\s.])[\s.]*[:=]")
_UNIT = re.compile(r"(?P<gap> ?)(?P<unit>[A-Za-z°µ%][A-Za-z°µ/%]*)")
_IDENTITY_FIRST = ("slot", "thing", "name", "key")
_STATE_LABELS = ("status", "presence", "flag")


class NotPlaced(ValueError):
    """A fact of a reading stands nowhere in its lines. The message says which."""


class Cell(NamedTuple):
    """A piece of a line with what its label was taken for; an empty label where it has none."""

    label: str
    line: int
    start: int
    end: int
    text: str


class Put(NamedTuple):
    """What a template shall take into a field."""

    field: str
    line: int
    start: int
    end: int
    text: str


class Plan(NamedTuple):
    """How a row becomes a record: all that the manifest says of it."""

    kind: str
    unit: str | None
    name: str | None
    units: tuple[tuple[str, str], ...]
    no_status: Condition | None
    when: tuple[tuple[str, str], ...]
    """Field -> pattern that takes the slot out of a cell, or tells the row by its name."""
    quantity: str | None = None
    """What the one figure of the row is, where only its name tells."""
    states: bool = False
    """Whether its condition follows from several words together."""


class Placed(NamedTuple):
    """A reading with the places of its facts. `states` are cells that its condition may depend on."""

    reading: AnyReading
    lines: tuple[int, ...]
    puts: tuple[Put, ...]
    plan: Plan
    cells: tuple[Cell, ...]
    flow: tuple[str, str] | None = None
    """The word that tells the direction of the air, and the field that it stands in."""
    end: int | None = None
    """Of a reading from JSON: the line at which its object ends."""


ABOVE = "above"
"""The label of pieces of headings."""
KEY = "key"
"""The label of what stands before a value in a list, and of the field that takes it: only words that were seen."""
SECTION = "section"
"""How fields begin that a heading gives to all rows below it."""


def cells_of(sighting: Sighting, texts: Mapping[int, str], above: Sequence[int] = ()) -> list[Cell]:
    """The labelled cells of a row, then keys and the pieces of its lines between wider blanks, then its headings."""
    made: list[Cell] = []
    labelled: Mapping[str, object] = getattr(sighting.row, "_places", {})
    for label in labelled:
        if (span := sighting.span(label)) is not None and span.line in texts:
            made.append(Cell(label, span.line, span.start, span.end, texts[span.line][span.start : span.end]))
    for number in sighting.lines:
        for piece in re.finditer(r"\S+(?: \S+)*", texts.get(number, "")):
            made.append(Cell("", number, piece.start(), piece.end(), piece[0]))
        if (key := _KEY.match(texts.get(number, ""))) is not None:
            made.append(Cell(KEY, number, key.start(1), key.end(1), key[1]))
    for number in above:
        for piece in re.finditer(r"[^\s:]+(?: [^\s:]+)*", texts.get(number, "")):
            made.append(Cell(ABOVE, number, piece.start(), piece.end(), piece[0]))
    return made


class Places:
    """The places of all facts of one table's readings."""

    def __init__(
        self,
        sightings: Sequence[Sighting],
        texts: Mapping[int, str],
        above: Mapping[int, Sequence[int]],
        cells: Mapping[int, Sequence[Cell]] | None = None,
    ) -> None:
        """`above`: first line of a row -> the lines above it that may be its headings, nearest first.

        `cells` are those of each sighting, by its id, where its lines have a layout of their own.
        """
        self.texts = texts
        self.given = cells is not None
        self.cells = cells or {id(s): cells_of(s, texts, above.get(min(s.lines), ())) for s in sightings}
        self.labels: dict[tuple[str, str], Counter[str]] = {}
        """Kind and fact -> how often a cell of each label gives it."""
        for sighting in sightings:
            reading = sighting.reading
            for name, quantity in reading.quantities().items():
                found = {c.label for c, _, _ in self._quantities(sighting, quantity) if c.label}
                self.labels.setdefault((reading.kind, name), Counter()).update(found)

    def placed(self, sighting: Sighting, by_name: bool = False) -> Placed:
        """`by_name`: what a row is shall be told by the text of its name. Raises NotPlaced."""
        reading = sighting.reading
        cells = self.cells[id(sighting)]
        puts: list[Put] = []
        units: list[tuple[str, str]] = []
        # Who it is comes first, so that no figure takes the place of its number.
        when: dict[str, str] = {}
        unit = self._unit(reading, cells, puts, when)
        name = self._name(reading, cells, puts)
        for field in _TEXTS:
            if (text := reading.given(field)) is not None:
                puts.append(self._text(field, text, cells, puts))
        if (word := reading.given("airflow_word")) is not None:
            puts.append(self._text("airflow", word, cells, puts))
        flow = None
        if reading.given("airflow") is not None:
            flow = self._flow(str(reading.given("airflow")), cells, puts)
        if reading.status_text is not None:
            puts.append(self._text("status", reading.status_text, cells, puts, _STATE_LABELS))
        for field, quantity in reading.quantities().items():
            put, assumed = self._quantity(sighting, field, quantity, puts)
            puts.append(put)
            if assumed is not None:
                units.append((field, assumed))
        puts.extend(self._blanks(reading, cells, puts))
        no_status = reading.condition if reading.status_text is None else None
        plan = Plan(reading.kind, unit, name, tuple(units), no_status, tuple(when.items()))
        if by_name:
            plan, puts = self._told_by_name(reading, plan, puts)
        ordered = tuple(sorted(puts, key=lambda p: (p.line, p.start)))
        return Placed(reading, sighting.lines, ordered, plan, tuple(cells), flow)

    # Who it is.

    def _unit(self, reading: AnyReading, cells: Sequence[Cell], puts: list[Put], when: dict[str, str]) -> str | None:
        """The form of the unit. Where its slot is part of a cell, the cell is taken whole and `when` says where in it."""
        if reading.unit is None:
            return None
        prefix, _, rest = reading.unit.partition("-")
        if not rest:
            return reading.unit  # `chassis`: there is one
        if (whole := self._slot("slot", rest, cells, puts, when)) is not None:
            return f"{prefix}-{whole}"
        parts = []
        for number, part in enumerate(rest.split("/")):
            found = self._slot("slot" if not number else f"slot_{chr(ord('a') + number)}", part, cells, puts, when)
            if found is None:
                raise NotPlaced(f"where `{part}` of {reading.unit} stands")
            parts.append(found)
        return f"{prefix}-{'/'.join(parts)}"

    def _slot(self, field: str, part: str, cells: Sequence[Cell], puts: list[Put], when: dict[str, str]) -> str | None:
        found = self._found(field, part, cells, puts, _IDENTITY_FIRST, fold=True)
        if found is None:
            return None
        put, cell = found
        if cell.label == ABOVE:
            field = SECTION + field.removeprefix("slot")
            put = put._replace(field=field)
        if cell.label in ("", ABOVE) or (put.start, put.end) == (cell.start, cell.end):
            puts.append(put)
            return f"{{{field}}}"
        taken = "thing" if cell.label in ("thing", "name") else KEY if cell.label == KEY else "place"
        whole = Put(taken, cell.line, cell.start, cell.end, cell.text)
        if whole.field in when or any(p.field == whole.field for p in puts):
            return None
        puts.append(whole)
        before = _as_pattern(cell.text[: put.start - cell.start])
        inside = r"\d+" if part.isdecimal() else re.sub(r"\d+", r"\\d+", re.escape(put.text))
        behind = cell.text[put.end - cell.start :]
        edge = r"\D" if part.isdecimal() else r"\W"
        when[whole.field] = f"{before}(?P<{field}>{inside})" + (f"(?:{edge}.*)?" if behind else "")
        return f"{{{field}}}"

    def _name(self, reading: AnyReading, cells: Sequence[Cell], puts: list[Put]) -> str | None:
        name = reading.name
        if name is None:
            return None
        for cell in sorted(cells, key=lambda c: _rank(c.label, ("name", "thing", "slot", KEY))):
            if " ".join(cell.text.split()) != name:
                continue
            known = next((p for p in puts if (p.line, p.start, p.end) == (cell.line, cell.start, cell.end)), None)
            if known is None and _overlaps(cell, puts):
                continue
            field = _free({ABOVE: SECTION, KEY: KEY}.get(cell.label, "thing"), puts)
            if known is None:
                puts.append(Put(field, cell.line, cell.start, cell.end, cell.text))
            return f"{{{known.field if known else field}}}"
        if (found := self._found("thing", name, cells, puts, ("name", "thing"), fold=False)) is not None:
            field = _free({ABOVE: SECTION, KEY: KEY}.get(found[1].label, "thing"), puts)
            puts.append(found[0]._replace(field=field))
            return f"{{{field}}}"
        return self._composed(name, cells, puts)

    def _composed(self, name: str, cells: Sequence[Cell], puts: list[Put]) -> str:
        """A name that inference put together, such as `module 1 FRONT`, as a form over the cells it is made of."""
        form = name
        taken: list[Put] = []
        # Cells of this row before headings; the longest first, so that `Core 1` is not taken for the number of a slot.
        for cell in sorted(cells, key=lambda c: (c.label == ABOVE, -len(c.text))):
            pattern = re.compile(rf"(?<![\w{{]){re.escape(cell.text)}(?![\w}}])")
            known = next((p for p in puts if (p.line, p.start, p.end) == (cell.line, cell.start, cell.end)), None)
            if len(pattern.findall(form)) != 1 or _overlaps(cell, taken):
                continue
            if known is None and _overlaps(cell, puts):
                continue
            field = base = {ABOVE: SECTION, KEY: KEY}.get(cell.label, "thing")
            if any(p.field == base for p in (*puts, *taken)):
                field = f"{base}_{chr(ord('a') + len(taken))}"
            put = known or Put(field, cell.line, cell.start, cell.end, cell.text)
            if known is None:
                taken.append(put)
            form = pattern.sub(lambda _, put=put: f"{{{put.field}}}", form)  # type: ignore[misc]
        if form == name or any(c.isdigit() for c in re.sub(r"\{\w+\}", "", form)):
            raise NotPlaced(f"where the name `{name}` stands")
        puts.extend(taken)
        return form

    def _told_by_name(self, reading: AnyReading, plan: Plan, puts: list[Put]) -> tuple[Plan, list[Put]]:
        """The same with the row's name as a condition, and its one figure as `value`."""
        named = next((p for field in ("thing", KEY, "place") for p in puts if p.field == field), None)
        if named is None:
            raise NotPlaced("a name to tell it by")
        pattern = dict(plan.when).get(named.field)
        slot = re.search(r"\(\?P<slot>(.*?)\)(?=\(\?:|\Z)", pattern) if pattern else None
        if pattern is None or slot is None:
            pattern = _as_pattern(named.text)
        else:
            found = re.fullmatch(pattern, named.text)
            if found is None:
                raise NotPlaced("a name to tell it by")
            pattern = (
                f"{_as_pattern(named.text[: found.start('slot')])}(?P<slot>{slot[1]})"
                f"{_as_pattern(named.text[found.end('slot') :])}"
            )
        when = {**dict(plan.when), named.field: pattern}
        figures = [n for n in reading.quantities() if not n.startswith(("low_", "high_"))]
        if len(figures) != 1:
            return plan._replace(when=tuple(when.items())), puts
        only = figures[0]
        return (
            plan._replace(
                when=tuple(when.items()),
                quantity=only,
                units=tuple(("value" if field == only else field, unit) for field, unit in plan.units),
            ),
            [p._replace(field="value") if p.field == only else p for p in puts],
        )

    # Words.

    def _text(
        self, field: str, text: str, cells: Sequence[Cell], puts: Sequence[Put], labels: Sequence[str] = ()
    ) -> Put:
        for cell in sorted(cells, key=lambda c: _rank(c.label, labels or (field,))):
            if cell.text == text and not _overlaps(cell, puts):
                return Put(field, cell.line, cell.start, cell.end, text)
        put = self._found(field, text, cells, puts, labels or (field,), fold=False)
        if put is None:
            raise NotPlaced(f"where its {field.replace('_', ' ')} `{text}` stands")
        return put[0]

    def _flow(self, direction: str, cells: Sequence[Cell], puts: list[Put]) -> tuple[str, str]:
        for cell in cells:
            if cell.label == "airflow" and not _overlaps(cell, puts):
                puts.append(Put("airflow", cell.line, cell.start, cell.end, cell.text))
                return cell.text, "airflow"
        for put in puts:
            if put.field == "description" and airflow_in(put.text) == direction:
                for words in re.finditer(r"\w+(?:[ -](?:to|TO|To)[ -]\w+)?", put.text):
                    if airflow_in(words[0]) == direction:
                        return words[0], "description"
        raise NotPlaced("where its airflow stands")

    def _found(
        self,
        field: str,
        text: str,
        cells: Sequence[Cell],
        puts: Sequence[Put],
        labels: Sequence[str],
        fold: bool,
    ) -> tuple[Put, Cell] | None:
        """A text within a cell or a line, with nothing beside it that would make it part of another word."""
        number = text.isdecimal()
        edge = r"\d" if number else r"[A-Za-z0-9]"
        pattern = re.compile(rf"(?<!{edge}){re.escape(text)}(?!{edge})", re.IGNORECASE if fold else 0)
        for cell in sorted(cells, key=lambda c: (_rank(c.label, labels), c.line, c.start)):
            for match in pattern.finditer(cell.text):
                put = Put(field, cell.line, cell.start + match.start(), cell.start + match.end(), match[0])
                if not _overlaps(put, puts):
                    return put, cell
        return None

    # Figures.

    def _quantities(self, sighting: Sighting, wanted: Quantity) -> Iterator[tuple[Cell, Put, str | None]]:
        """Cells that hold a quantity: the cell, the piece of it to take, and the unit to assume."""
        for cell in self.cells[id(sighting)]:
            if self.given and (cell.label in ("", KEY) or _WHOLE_FIGURE.fullmatch(cell.text) is None):
                continue  # members of an object hold a figure alone; in a key or a part number it is another one
            for match in _NUMBER.finditer(cell.text):
                behind = _UNIT.match(cell.text, match.end())
                start = cell.start + match.start()
                if behind is not None:
                    whole = match[0] + behind[0]
                    if _is(whole, None, wanted):
                        yield cell, Put("", cell.line, start, start + len(whole), whole), None
                        continue
                for unit in _ASSUMED:
                    if _is(match[0], unit, wanted):
                        yield cell, Put("", cell.line, start, start + len(match[0]), match[0]), unit
                        break

    def _quantity(
        self, sighting: Sighting, field: str, wanted: Quantity, puts: Sequence[Put]
    ) -> tuple[Put, str | None]:
        votes = self.labels.get((sighting.reading.kind, field), Counter())
        found = [f for f in self._quantities(sighting, wanted) if not _overlaps(f[1], puts)]
        if not found:
            raise NotPlaced(f"where its {field.replace('_', ' ')} of {wanted} stands")
        _, put, unit = min(found, key=lambda f: (-votes[f[0].label] if f[0].label else 1, f[1].line, f[1].start))
        return put._replace(field=field), unit

    def _blanks(self, reading: AnyReading, cells: Sequence[Cell], puts: Sequence[Put]) -> Iterator[Put]:
        """Blank cells in columns that give a figure in other rows: taken too, so that no rule passes a figure over."""
        taken = {p.field for p in puts}
        for field in KINDS[reading.kind].QUANTITIES:
            votes = self.labels.get((reading.kind, field), Counter())
            if field in taken or not votes:
                continue
            label = votes.most_common(1)[0][0]
            for cell in cells:
                if cell.label == label and is_blank(cell.text) and not _overlaps(cell, puts):
                    yield Put(field, cell.line, cell.start, cell.end, cell.text)
                    break


def _rank(label: str, wanted: Sequence[str]) -> int:
    """Cells of a wanted label first, in their order; then labelled ones; pieces of lines last."""
    return wanted.index(label) if label in wanted else len(wanted) + (not label) + 2 * (label == ABOVE)


def _is(text: str, unit: str | None, wanted: Quantity) -> bool:
    try:
        return parse_quantity(text, unit) == wanted
    except UnreadableQuantity:
        return False


def _free(field: str, puts: Sequence[Put]) -> str:
    """A field that no cell has yet: a row may hold the place of a thing and its name, each in a cell of its own."""
    return field if all(p.field != field for p in puts) else f"{field}_b"


def _overlaps(one: Cell | Put, others: Sequence[Put]) -> bool:
    return any(o.line == one.line and o.start < one.end and o.end > one.start for o in others)


def _as_pattern(text: str) -> str:
    return re.sub(r"\d+", r"\\d+", re.escape(text))
