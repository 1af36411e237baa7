"""Tables to readings: which column is what, which row is about which thing."""

import re
from collections.abc import Iterator
from functools import cached_property, lru_cache
from typing import NamedTuple

from consolecheck.reading.inference.phrases import phrases_of
from consolecheck.reading.inference.record import COMES_IN, SIDES, Entry, reading_of, side_of
from consolecheck.reading.inference.values import (
    BARE_FIGURE,
    DIMENSION,
    FIGURES,
    PRESENT,
    Unplaced,
    condition_of,
    is_blank,
    plain,
    presence_of,
    read_cell,
    unit_word,
)
from consolecheck.reading.inference.words import (
    FAN,
    FOREIGN,
    OF_UNIT,
    PSU,
    SIDED,
    STATUS,
    TEMP,
    Label,
    Limit,
    Thing,
    label_of,
    placed_in,
    slot_alone,
    thing_of,
    words_of,
)
from consolecheck.reading.table import Cell, Grid, GridRow
from consolecheck.records.readings import AnyReading, Condition, Fan, Inventory, PowerSupply


class Taken(NamedTuple):
    """What one row became: readings, or why it is unread."""

    row: GridRow
    readings: tuple[AnyReading, ...]
    why_not: str
    columns: tuple[tuple[str, int], ...] = ()
    """Field -> column, for the places of cells."""


class ReadGrid(NamedTuple):
    """A table as it was taken. `about` is empty where the table is about other things."""

    about: str
    columns: tuple[tuple[str, str], ...]
    """Header -> what it was taken as."""
    rows: tuple[Taken, ...]
    sure: str
    why_not: str = ""


_HEAT_OR_STATE = re.compile(
    r"(?P<of>[A-Za-z][\w-]{0,20}(?: [A-Za-z][\w-]{0,20})?) temp(?:erature)?(?: (?P<state>status|state)| ?\([^()]{1,24}\))?",
    re.IGNORECASE,
)
_FEEDS = frozenset(("infeed", "infeeds", "circuit", "branch", "phase"))
"""What a power strip is fed by: a row of it is no supply."""
_NAMING = frozenset(("slot", "name", "thing", "unknown", "description", "ignored"))
_HARD = frozenset(
    """
    disk disks filesystem mounted raid volume dimm battery ups breaker hours
    interface interfaces port ports transceiver transceivers xcvr sfp qsfp xfp osfp optic optics optical laser
    lane lanes dbm tx rx vlan mtu duplex mac address process processes pid nexthop prefix protocol neighbor user
    bias wavelength peer command asserted deasserted metric gateway ip
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_PORT = re.compile(
    r"(?:(?:ten|twenty|forty|hundred|fast|two|five)?-?gig\w*|ethernet|eth|te|gi|fa|fo|hu|twe|xe|et|ge|port|po|swp|sfp|qsfp)[ -]?\d+(?:[/:.]\d+)*\Z",
    re.IGNORECASE,
)
_OUTSIDE = re.compile(
    r"\b(?:transceivers?|optic\w*|sfps?|qsfps?|dom|interfaces?|lanes?|laser|poe|inline power|processes|memory|event log|alarms? log|history)\b",
    re.IGNORECASE,
)
_MEMBER = re.compile(
    r"(?:switch|member|unit|stack|chassis|node|shelf|stack member|stack unit|device)[ #:-]*(?P<n>\d{1,2})(?: ?\([^)]*\))?\Z",
    re.IGNORECASE,
)
_HEAT_PAIR = re.compile(r"(?P<key>temp(?:erature)?)=(?P<value>[+-]?\d{1,3}(?:\.\d)?)", re.IGNORECASE)
"""`temp=49` in a column of what else there is to tell."""
_ALLOTTED = frozenset(("allocated", "allotted", "requested", "reserved"))
_TEMP_LED = re.compile(r"temp(?:erature)?: \S", re.IGNORECASE)
_NO_UNITS = frozenset(("dummy", "state", "bool", "boolean", "discrete"))
"""What stands in a column of units beside a state."""
_WATTS = re.compile(r"\d{1,5}(?: ?[Ww])?")
_FIGURE = re.compile(r"(?P<figure>[+-]?\d+(?:\.\d+)?) ?(?:[VAW]|Volts|Amps|Watts)?")
_MEMBERS = frozenset(
    """
    switch member mbr unit stack chassis sw node shelf enclosure
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_TRAYS = frozenset(["tray", "drawer", "module", "bay"])


def member_of(heading: str) -> str | None:
    """The member that a heading such as `Switch 2` names."""
    found = _MEMBER.match(heading.strip())
    return found["n"] if found else None


def read_grid(grid: Grid, heading: str = "") -> ReadGrid:
    """What a table says of supplies, fans and sensors. `heading` is what stood above it further up."""
    titles = [t.text for t in grid.titles if grid.first_line - t.line <= 6]
    if heading:
        titles.insert(0, heading)
    titles = [f"Power {t}" if t.strip(" :").lower() == "supplies" else t for t in titles]
    if not grid.headers:
        return _headless(grid, titles)
    return _Grid(grid, titles).read()


def _nothing(why: str) -> ReadGrid:
    return ReadGrid("", (), (), "", why)


def text_at(row: GridRow, column: int) -> str:
    """The text of a row's cell in a column; nothing where the row has none there."""
    cell = row.cells[column] if column < len(row.cells) else None
    return cell.text if cell is not None else ""


_PART = r"[+-]?\d+(?:\.\d+)?(?: ?[A-Za-z°]{1,4})?|-+|n/?a"
_TWO = re.compile(rf"(?P<a>{_PART}) ?/ ?(?P<b>{_PART})\Z", re.IGNORECASE)
_TWO_HEADS = re.compile(r"(?P<lead>.*?)(?P<a>[A-Za-z]+) ?[/|] ?(?P<b>[A-Za-z]+)(?P<tail> ?[(\[][^()]*[)\]])?\Z")
_IN_BRACKETS = re.compile(r"(?P<lead>[^()\[\]]*)[(\[](?P<said>[^()\[\]]+)[)\]]\s*\Z")


def _parted(grid: Grid) -> Grid:
    """A table with columns such as `high warn/crit` over `40 / 50`, each parted in two."""
    heads = list(grid.headers)
    rows = list(grid.rows)
    for c in reversed(range(len(heads))):
        head = heads[c].strip()
        if (
            (inner := _IN_BRACKETS.match(head)) is not None
            and _TWO_HEADS.match(inner["said"])
            and unit_word(inner["said"].split("/")[0]) is None
        ):
            head = f"{inner['lead']}{inner['said']}"
        found = _TWO_HEADS.match(head)
        if found is None:
            continue
        first, second = (f"{found['lead']}{found[part]}{found['tail'] or ''}" for part in "ab")
        one, other = label_of(first).limit, label_of(second).limit
        if one is None or other is None or (one.side, one.rank) == (other.side, other.rank):
            continue
        cells = [row.cells[c] if c < len(row.cells) else None for row in rows]
        parts = [_TWO.match(cell.text) if cell is not None else None for cell in cells]
        if not any(parts) or any(
            part is None and cell is not None and not is_blank(cell.text)
            for part, cell in zip(parts, cells, strict=True)
        ):
            continue
        heads[c : c + 1] = [first, second]
        for n, (row, cell, part) in enumerate(zip(rows, cells, parts, strict=True)):
            two: tuple[Cell | None, Cell | None] = (None, None)
            if cell is not None and part is not None:
                two = (
                    Cell(part["a"], cell.line, cell.start + part.start("a"), cell.start + part.end("a")),
                    Cell(part["b"], cell.line, cell.start + part.start("b"), cell.start + part.end("b")),
                )
            rows[n] = row._replace(cells=(*row.cells[:c], *two, *row.cells[c + 1 :]))
    return grid._replace(headers=tuple(heads), rows=tuple(rows))


_VALUE_AND_RANGE = re.compile(
    r"(?P<a>current|actual|value|now|temp(?:erature)?) ?/ ?(?P<b>(?:threshold|limit|normal)s?(?: range)?|range)",
    re.IGNORECASE,
)
_HEAT_AND_RANGE = re.compile(
    r"(?P<mark>\* ?)?(?P<a>(?P<is>[+-]?\d+(?:\.\d+)?) ?°?C) ?/ ?(?P<b>(?P<low>[+-]?\d+(?:\.\d+)?) ?~ ?(?P<high>[+-]?\d+(?:\.\d+)?) ?°?C)"
    r"(?P<behind> ?\*)?"
)
_RANGE_ALONE = re.compile(r"(?P<low>-?\d+(?:\.\d+)?) ?- ?(?P<high>\d+(?:\.\d+)?)")


def _with_ranges_apart(grid: Grid) -> Grid:
    """A table with `33C/0~50C` below `Current/Threshold Range`, as two columns.

    An asterisk that marks what is out of its range must be so; else the cell stays as it is, and is understood by nobody.
    """
    for c, head in enumerate(grid.headers):
        if (named := _VALUE_AND_RANGE.fullmatch(head.strip())) is None:
            continue
        cells = [row.cells[c] if c < len(row.cells) else None for row in grid.rows]
        told = [_HEAT_AND_RANGE.fullmatch(cell.text) if cell is not None else None for cell in cells]
        if named is None or not all(
            m is not None
            and bool(m["mark"] or m["behind"]) == (not float(m["low"]) <= float(m["is"]) <= float(m["high"]))
            for m in told
        ):
            continue
        rows = []
        for row, cell, m in zip(grid.rows, cells, told, strict=True):
            assert cell is not None
            assert m is not None
            two = tuple(Cell(m[n], cell.line, cell.start + m.start(n), cell.start + m.end(n)) for n in ("a", "b"))
            rows.append(row._replace(cells=(*row.cells[:c], *two, *row.cells[c + 1 :])))
        heads = (*grid.headers[:c], named["a"], "Threshold", *grid.headers[c + 1 :])
        return grid._replace(headers=heads, rows=tuple(rows))
    return grid


def _normal_range(grid: Grid) -> tuple[Grid, int | None]:
    """A table with `0-54` below `Normal`, between `Min` and `Max`: the column, and its ranges as such."""
    heads = [h.strip().lower() for h in grid.headers]
    if heads.count("normal") != 1 or not {"min", "max"} <= set(heads):
        return grid, None
    c = heads.index("normal")
    rows = []
    for row in grid.rows:
        cell = row.cells[c] if c < len(row.cells) else None
        if cell is not None and not is_blank(cell.text):
            if (span := _RANGE_ALONE.fullmatch(cell.text)) is None:
                return grid, None
            cell = cell._replace(text=f"{span['low']} to {span['high']}")
            row = row._replace(cells=(*row.cells[:c], cell, *row.cells[c + 1 :]))
        rows.append(row)
    return grid._replace(rows=tuple(rows)), c


class _Grid:
    def __init__(self, grid: Grid, titles: list[str]) -> None:
        grid = _parted(_with_ranges_apart(grid)) if any("/" in h for h in grid.headers) else grid
        grid, normal = _normal_range(grid)
        self.grid = grid
        self.titles = titles
        self.held: tuple[int | None] | None = None
        self.rating_at: int | None = None
        """The column of round watts that are what each supply can give."""
        self.matrix = False
        """Whether each row is a place and columns are the fans of each, so that both name one."""
        self.heads = [h.strip() for h in grid.headers]
        self.columns = list(range(len(self.heads)))
        self.cells = [[text_at(row, c) for row in grid.rows] for c in self.columns]
        self.labels = [label_of(h) if h else Label("unknown") for h in self.heads]
        for c in self.columns[:4]:
            if re.fullmatch(r"pwr[ _-]?id", self.heads[c], re.IGNORECASE):
                self.labels[c] = label_of("PowerID")
        if normal is not None:
            self.labels[normal] = Label("limit", limit=Limit(None, 2.0), words=frozenset({"limits"}))

        for c in [c for c in self.columns if "reason" in words_of(self.heads[c])]:
            # A sentence on the state that stands in another column.
            states = [k for k in self.columns if k != c and self.labels[k].field == "status"]
            if states and not any(condition_of(t) for t in self.cells[c]):
                self.labels[c] = Label("ignored")

    def read(self) -> ReadGrid:
        said = {w for h in self.heads for w in words_of(h)}
        if "breaker" in said and any(
            lab.side == "input" or (lab.thing is not None and lab.thing.kind == PSU) for lab in self.labels
        ):
            said.discard("breaker")  # the one of a supply's feed
        if said & _HARD and (said & _HARD != {"pid"} or "cpu" in said):
            return _nothing("the table is about other things")
        if "severity" in said and said & {"description", "message", "text", "details", "cause", "summary"}:
            return _nothing("the table lists alarms or issues")
        if words_of(self.heads[0])[:1] in (["outlet"], ["outlets"], ["socket"]) and "name" in said:
            return _nothing("the table lists outlets")
        first = set(words_of(self.heads[0]))
        if (first & _FEEDS or {"input", "feed"} <= first) and not any(
            (thing := thing_of(t)) is not None and thing.kind == PSU
            for t in (*self.titles, *self.heads, *(row[0] for row in zip(*self.cells, strict=True)))
        ):
            return _nothing("the table lists feeds, and no supplies")
        near = [t for t in self.titles[-2:] if _OUTSIDE.search(t)]
        if near:
            return _nothing("the table stands under a heading about other things")
        firsts = [c for c in self.cells[0] if c] if self.cells else []
        if firsts and sum(_PORT.match(c) is not None for c in firsts) * 2 > len(firsts):
            return _nothing("the table lists ports")
        if any("](" in t or t[:1] == "`" for t in self.cells[0]):
            return _nothing("a table of a document")
        self.refine()
        self.fan_of_each()
        self.seen()
        kind, sure = self.subject()
        self.kinds_at = next((c for c in self.columns if self.tells_kinds(c)), None)
        if self.kinds_at is not None:
            kind = None
            self.labels[self.kinds_at] = self.labels[self.kinds_at]._replace(field="type")
        self.kind = kind
        self.rated()
        self.one_side()
        if kind == FAN and not any(lab.field == "percent" for lab in self.labels):
            shares = [
                c
                for c in self.columns
                if self.labels[c].field == "unknown"
                and any(self.cells[c])
                and all(is_blank(t) or re.fullmatch(r"\d{1,3} ?%", t) for t in self.cells[c])
                and self.labels[c].words <= {"level", "output", "rate"}
            ]
            if len(shares) == 1:
                self.labels[shares[0]] = self.labels[shares[0]]._replace(field="percent", dimension="percent")
        self.trays_of_rotors()
        things = self.thing_columns()
        if (
            len(self.columns) > 2
            and (not things or len(things) == len(self.columns) - 1)
            and (turned := self.turned()) is not None
        ):
            return turned
        if (spread := self.heat_by_pairs() or self.sensors_a_column() or self.fans_with_heat()) is not None:
            return spread
        if not self.worth(kind, things):
            return _nothing("no supplies, fans or sensors are named")
        rows: list[Taken] = []
        carried: dict[int, str] = {}
        labelled = [c for c in self.columns if self.labels[c].field in ("slot", "name", "thing") and c not in things]
        if not things and (described := self.described(labelled)) is not None:
            self.labels[described] = self.labels[described]._replace(field="name")
            labelled = sorted((*labelled, described))
        if not things and (apart := self.tells_apart(labelled)) is not None:
            self.labels[apart] = self.labels[apart]._replace(field="name")
            labelled = sorted((*labelled, apart))
        place: GridRow | None = None
        heading = ""
        for at, row in enumerate(self.grid.rows):
            if row.odd:
                rows.append(Taken(row, (), row.odd))
                continue
            texts = [(cell.text if cell is not None else "") for cell in row.cells]
            texts += [""] * (len(self.columns) - len(texts))
            if texts == self.heads:
                continue
            if SUM.match(texts[0]) or (not texts[0] and SUM.match(next((t for t in texts if t), ""))):
                rows.append(Taken(row, (), "a sum of the rows above"))
                continue
            for c in labelled:
                if texts[c]:
                    carried[c] = texts[c]
                elif c == 0 and len(labelled) > 1 and c in carried and any(texts[k] for k in labelled[1:]):
                    texts[c] = carried[c]
            if (k := self.kinds_at) is not None:
                if texts[k]:
                    carried[k] = texts[k]
                elif k in carried and any(texts):
                    texts[k] = carried[k]
                    if self.of_another_kind(kind_said(carried[k]), texts, labelled):
                        rows.append(Taken(row, (), f"below `{carried[k]}` stands another thing"))
                        continue
            if texts[0] and not any(texts[1:]):
                heading = texts[0] if unit_above(texts) is not None else ""
            if heading and texts[0] == heading and not any(texts[1:]):
                if place is not None:
                    rows.append(Taken(place, (), "nothing stands below it"))
                place = row
                continue
            if heading and not row.heading:
                row = row._replace(heading=heading)
            if place is not None:
                row = row._replace(lines=(*place.lines, *row.lines))
                place = None
            if self.only_a_place(at, labelled):
                place = row
                continue
            try:
                readings = tuple(self.things(row, texts, things)) if things else self.all_of(row, texts, labelled)
                if any(
                    r.kind == "temperature" and r.value is None and _PART_NAME.match(r.name or "") for r in readings
                ):
                    raise Unplaced("a part that is not there, and no sensor")
                rows.append(Taken(row, readings, ""))
            except Unplaced as reason:
                rows.append(Taken(row, (), str(reason)))
        if place is not None:
            rows.append(Taken(place, (), "nothing stands below it"))
        rows = self.parts_of_chassis(rows, labelled)
        rows = self.told_apart(rows, labelled)
        columns = tuple((h or f"column {c + 1}", self.told(c, things)) for c, h in enumerate(self.heads))
        about = ", ".join(dict.fromkeys(r.kind for t in rows for r in t.readings))
        if not about:
            why = next((t.why_not for t in rows if t.why_not), "no row could be read")
            return ReadGrid("", columns, tuple(rows), sure, why)
        return ReadGrid(about, columns, tuple(rows), sure)

    def parts_of_chassis(self, rows: list[Taken], labelled: list[int]) -> list[Taken]:
        """The rows, those of other modules with their numbers read, too, where supplies or fans are listed as parts."""
        at = {self.labels[c].field: c for c in self.columns}
        if "serial" not in at or "part" not in at or any(f in at for f in ("value", "quantity", "speed")):
            return rows
        if "status" in at or "presence" in at:
            return self.listed(rows, at)
        if not any(r.kind == "inventory" and r.serial for taken in rows for r in taken.readings):
            return rows
        if all(r.kind == "inventory" or r.condition is Condition.ABSENT for taken in rows for r in taken.readings):
            rows = _as_parts(rows, (Condition.ABSENT,))
        made = []
        for taken in rows:
            name, part, serial = (
                text_at(taken.row, c) for c in (labelled[0] if labelled else 0, at["part"], at["serial"])
            )
            if (
                taken.readings
                or taken.row.odd
                or is_blank(name)
                or is_blank(part)
                or is_blank(serial)
                or " " in part + serial
            ):
                made.append(taken)
                continue
            found = Inventory(name=name, serial=serial, part_number=part, description=None)
            made.append(Taken(taken.row, (found,), ""))
        return made

    def listed(self, rows: list[Taken], at: dict[str, int]) -> list[Taken]:
        """The rows as parts, where a list of the whole chassis says of each no more than that it is there."""
        states = [c for c in self.columns if self.labels[c].field in ("status", "presence")]
        if not all(plain(t) in PRESENT or presence_of(t) is Condition.ABSENT for c in states for t in self.cells[c]):
            return rows
        if not any(not taken.readings and not is_blank(text_at(taken.row, at["serial"])) for taken in rows):
            return rows
        return _as_parts(rows, (Condition.UNKNOWN, Condition.ABSENT))

    def tells_kinds(self, c: int) -> bool:
        """Whether a column says of each row what it is: a supply, a fan, a sensor."""
        if self.labels[c].field == "type":
            return any(kind_said(t) is not None for t in self.cells[c])
        said: list[str] = []
        for text in self.cells[c]:
            if not text:
                continue
            if (kind := kind_said(text)) is None:
                return False
            said.append(kind)
        if self.labels[c].words & {"class", "kind", "category", "group"} and len(said) > 1:
            return True
        return (len(set(said)) > 1 and PSU in said) or (len(said) > 2 and {FAN, TEMP} == set(said))

    def told_apart(self, rows: list[Taken], labelled: list[int]) -> list[Taken]:
        """Rotors and sensors that would bear one name, with what another column of their rows calls them."""
        names: dict[tuple[object, ...], list[int]] = {}
        alone: list[int] = []
        rotor: set[int] = set()
        for n, taken in enumerate(rows):
            if len(taken.readings) == 1 and taken.readings[0].kind in (FAN, "temperature"):
                reading = taken.readings[0]
                names.setdefault((reading.kind, reading.unit, reading.name), []).append(n)
        for (kind, unit, name), alike in names.items():
            if len(alike) < 2:
                if kind == FAN and unit is not None and name is None:
                    alone.extend(alike)
                continue
            texts = {
                c: [text_at(rows[n].row, c) for n in alike] for c in self.columns if self.labels[c].field in _NAMING
            }
            apart = [
                c
                for c, said in texts.items()
                if len(set(said)) == len(said)
                and all(t and not is_blank(t) and len(t) <= 40 and condition_of(t) is None for t in said)
                and (kind != FAN or unit is not None)
            ]
            above = [rows[n].row.heading for n in alike]
            if not apart and all(above) and len(set(above)) == len(above) and kind == "temperature":
                for n, heading in zip(alike, above, strict=True):
                    found = rows[n].readings[0].model_copy(update={"name": f"{heading} {name}"})
                    rows[n] = rows[n]._replace(readings=(found,))
            if not apart:
                continue
            c = min(apart, key=lambda c: (all(t.isdigit() for t in texts[c]), c not in labelled))
            for n in alike:
                said = text_at(rows[n].row, c)
                if said.isdigit():
                    words = [w for w in words_of(self.heads[c]) if w not in ("id", "no", "number", "index", "idx", "#")]
                    said = f"{words[0] if words else 'no.'} {said}"
                new = said if kind == FAN or name is None else f"{name} {said}"
                rows[n] = rows[n]._replace(readings=(rows[n].readings[0].model_copy(update={"name": new}),))
                if kind == FAN and name is None:
                    rotor.add(c)
        for n in alone:  # the rotor of a row is told so, too, where it is the only one of its tray
            if len(rotor) == 1 and (said := text_at(rows[n].row, min(rotor)))[:1].isalpha() and not is_blank(said):
                rows[n] = rows[n]._replace(readings=(rows[n].readings[0].model_copy(update={"name": said}),))
        return rows

    def tells_apart(self, labelled: list[int]) -> int | None:
        """A column of words without which some rows would bear one name, such as `Zone`; None where none is needed or does."""

        def names(columns: list[int]) -> int:
            carried: dict[int, str] = {}
            seen = set()
            for n in range(len(self.grid.rows)):
                carried.update({c: self.cells[c][n] for c in columns if self.cells[c][n]})
                seen.add(tuple(carried.get(c, "") for c in columns))
            return len(seen)

        count = len(self.grid.rows)
        if not labelled or count > 500 or any(self.distinct(c) and all(self.cells[c]) for c in labelled):
            return None
        if names(labelled) == count:
            return None
        whole = all(self.cells[c][n] for c in labelled for n in range(count))
        able = [
            c
            for c in self.columns
            if c not in labelled
            and (self.labels[c].field in ("unknown", "ignored") or (self.labels[c].field == "description" and whole))
            and all(t and t[0].isalpha() and len(t) <= 40 and condition_of(t) is None for t in self.cells[c])
            and names([*labelled, c]) == count
        ]
        return able[0] if len(able) == 1 else None

    def told(self, c: int, things: list[int]) -> str:
        label = self.labels[c]
        field = label.field
        if c in things:
            return f"status of {label.thing.kind} {label.thing.slot or ''}".strip() if label.thing else "status"
        if field == "limit" and label.limit is not None:
            return f"{label.limit.side or 'upper'} limit, severity {label.limit.rank:g}"
        if field == "quantity":
            return f"{label.side or ''} {label.dimension or ''}".strip()
        return {"value": "measured value", "unknown": "set aside", "ignored": "set aside"}.get(field, field)

    def _sides_by_current(self) -> None:
        """Beside each other `Vac` is what a supply takes, and `Vdc` with `Idc` what it gives."""
        unsided = [c for c in self.columns if self.labels[c].field == "quantity" and self.labels[c].side is None]
        said = {c: {w for w in words_of(self.heads[c]) if w in _BY_CURRENT} for c in unsided}
        into = [c for c in unsided if said[c] & {"vac", "iac"}]
        out = [c for c in unsided if said[c] & {"vdc", "idc"}]
        if into and out and len(into) + len(out) == len(unsided):
            for c in unsided:
                self.labels[c] = self.labels[c]._replace(side="input" if c in into else "output")

    def _extremes_seen(self) -> None:
        """Beside `Now`, `Warning` and `Shutdown`, `Min` and `Max` are what was seen, and no limits."""
        limits = [c for c in self.columns if self.labels[c].field == "limit"]
        seen = [c for c in limits if self.labels[c].words <= _EXTREMES]
        others = [self.labels[c].limit for c in limits if c not in seen]
        if seen and len(others) > 1 and all(o is not None and o.side is None for o in others):
            for c in seen:
                self.labels[c] = self.labels[c]._replace(field="ignored", limit=None)

    def refine(self) -> None:
        """Takes what the cells hold into account where a header alone does not decide."""
        self._sides_by_current()
        self._extremes_seen()
        if "power" in words_of(self.heads[0]) and set(words_of(self.heads[0])) & COMES_IN:
            for c in self.columns[1:]:  # below `Power Input` the volts are those that come in
                if self.labels[c].field == "quantity" and self.labels[c].side is None:
                    self.labels[c] = self.labels[c]._replace(side="input")
        if (
            self.labels[0].field == "side"
            and self.distinct(0)
            and all(t[:1].isalpha() and condition_of(t) is None for t in self.cells[0])
        ):
            self.labels[0] = self.labels[0]._replace(field="name", side=None)  # `Input` over what is fed in
        for c in self.columns:
            label = self.labels[c]
            filled = [t for t in self.cells[c] if t[:1] in FIGURES or not is_blank(t)]
            if not filled:
                continue
            if label.side == "input" and label.dimension is None and {"A", "B"} <= set(filled) <= set("ABCD"):
                self.labels[c] = label._replace(
                    field="ignored"
                )  # which feed each hangs on: one letter alone may say how it is
                continue
            if (
                label.field == "current"
                and label.unit is None
                and any(lab.words & {"unit", "units", "uom"} for lab in self.labels[c + 1 :])
            ):
                label = self.labels[c] = label._replace(field="value", dimension=None)  # another column tells its unit
            if (
                label.field in ("speed", "unknown")
                and label.unit is None
                and (label.field == "speed" or label.words in ({"level"}, {"step"}, {"stage"}))
                and label.words & {"level", "step", "stage"}
                and any(lab.field in ("speed", "percent") for k, lab in enumerate(self.labels) if k != c)
            ):
                self.labels[c] = label._replace(field="ignored")  # a step of its control
                continue
            bare_figures = all(map(BARE_FIGURE.fullmatch, filled))
            units = not bare_figures and sum(unit_word(t) is not None for t in filled) * 10 >= 6 * len(filled)
            if label.field == "units" and not any(unit_word(t) is not None for t in filled):
                label = self.labels[c] = label._replace(field="name" if c < 2 else "unknown")
            if units and c > 0 and label.thing is None and (not label.words or label.words & {"unit", "units", "uom"}):
                self.labels[c] = label._replace(field="units")
                continue
            if c > 0 and label.words == {"type"} and len(set(filled)) > 1 and all(map(_unit_said, filled)):
                self.labels[c] = label._replace(field="units")  # `TEMP C` in one row, `RPM` in the next
                continue
            if label.field == "unknown" and label.words <= _TAKEN and {_dimension_of(t) for t in filled} == {"power"}:
                self.labels[c] = label._replace(field="quantity", dimension="power")
                continue
            if (
                label.words
                and label.words <= {"of", "max", "maximum", "full"}
                and all(t.rstrip().endswith("%") for t in filled)
            ):
                self.labels[c] = label._replace(field="percent", limit=None)
                continue
            if (
                label.field == "status"
                and label.words & {"location", "place", "position"}
                and len(set(filled)) == len(filled)
                and all(condition_of(t) is None and len(t.split()) > 1 for t in filled)
            ):
                self.labels[c] = label._replace(field="name")  # `Location Health` over places, two labels run together
                continue
            words = [t for t in filled if not any(map(str.isdigit, t))] if not bare_figures else []
            if len(words) == len(filled):
                known = sum(condition_of(t) is not None for t in words)
                there = sum(plain(t) in PRESENT for t in words)
                if (
                    label.field in ("name", "unknown", "quantity", "slot", "value", "side", "current", "thing")
                    and c > 0
                ):
                    if label.field == "thing" and label.thing is not None and label.thing.slot is not None:
                        continue
                    if known and known + there == len(words):
                        self.labels[c] = label._replace(field="status")
                    elif there == len(words) and label.field not in ("side", "value"):
                        self.labels[c] = label._replace(field="presence")
                    elif (label.field in ("unknown", "side") and all(plain(t) in ("ac", "dc") for t in words)) or (
                        label.field == "quantity" and label.dimension == "power" and "type" in label.words
                    ):
                        self.labels[c] = label._replace(field="type")
            elif label.unit is None and (
                label.field == "current" or (label.field == "value" and label.dimension is None)
            ):
                said = {_dimension_of(t) for t in filled} if not bare_figures else {None}
                if said == {"temperature"}:
                    self.labels[c] = label._replace(field="value", dimension="temperature")
                elif said == {"current"} and label.field == "current":
                    self.labels[c] = label._replace(field="quantity", dimension="current")
                elif said == {"speed"}:
                    self.labels[c] = label._replace(field="speed", dimension="speed")
                elif label.field == "current" and said <= {
                    "temperature",
                    "speed",
                    "voltage",
                    "power",
                    "percent",
                    "current",
                }:
                    self.labels[c] = label._replace(field="value")
            elif label.field == "unknown" and c == 0:
                self.labels[c] = label._replace(field="name")
        for c in self.columns[:2]:
            if c and all(
                not t or ((thing := thing_of(t)) is not None and thing.slot is not None) for t in self.cells[0]
            ):
                break  # the rows are named: `TNX-PS-400` below `Part Number` is no supply 400
            if self.labels[c].field == "part" and (
                (c == 0 and any(lab.field == "part" for lab in self.labels[1:]))
                or any((thing := thing_of(t)) is not None and thing.slot is not None for t in self.cells[c])
            ):
                self.labels[c] = self.labels[c]._replace(field="name")
        if self.labels and self.labels[0].field == "type" and "sensor" in self.labels[0].words and self.distinct(0):
            self.labels[0] = self.labels[0]._replace(field="name")
        names = self.cells[0] if self.cells else []
        if self.labels and self.labels[0].field == "limit" and any(names) and all(t[:1].isalpha() for t in names if t):
            self.labels[0] = self.labels[0]._replace(field="name", limit=None, thing=None)
        if (
            len(self.labels) > 2
            and self.labels[0].field in ("speed", "value")
            and (self.labels[0].unit is not None or self.labels[0].dimension == "temperature")
            and any(names)
            and not any(t[:1].isdigit() or is_blank(t) for t in names)
        ):  # `FAN Speed(RPM)   Current   Max`: what the whole table is in
            unit = self.labels[0].unit or "C"
            self.labels[0] = self.labels[0]._replace(field="name", unit=None, dimension=None)
            dimension = "temperature" if unit in ("C", "F") else None
            for c, lab in enumerate(self.labels):
                if lab.field in ("value", "current") and lab.unit is None:
                    self.labels[c] = lab._replace(field="value", unit=unit, dimension=dimension)
                elif lab.field == "limit" and lab.unit is None:
                    self.labels[c] = lab._replace(unit=unit)
        if self.labels and (
            self.labels[0].field == "unknown"
            or (
                self.labels[0].field in ("value", "quantity", "speed")
                and not any(_dimensioned(t) or t[:1].isdigit() for t in self.cells[0])
                and any(self.cells[0])
            )
        ):
            self.labels[0] = self.labels[0]._replace(field="name", dimension=None)
        if self.labels and self.labels[0].words == {"power"} and self.labels[0].unit is None and self.numbered(0):
            self.labels[0] = self.labels[0]._replace(field="thing", thing=Thing(PSU, None, ""), dimension=None)
        first = self.labels[0] if self.labels else Label("unknown")
        if (
            first.unit is not None
            and first.field in ("speed", "value", "quantity")
            and any(self.cells[0])
            and not any(t[:1].isdigit() for t in self.cells[0])
        ):
            # `FAN Speed(RPM)` over names: what it tells is of the other columns.
            self.labels[0] = first._replace(field="name" if first.thing is None else "thing", unit=None, dimension=None)
            for c in self.columns[1:]:
                label = self.labels[c]
                if label.unit is None and label.field in ("value", "current", "limit"):
                    field = "value" if label.field == "current" else label.field
                    self.labels[c] = label._replace(field=field, unit=first.unit, dimension=first.dimension)
        # A bare column of speeds is in rpm where one of its figures can be nothing else.
        for c in self.columns:
            label = self.labels[c]
            if label.field == "speed" and label.unit is None:
                bare = [
                    float(t.replace(",", ""))
                    for t in self.cells[c]
                    if re.fullmatch(r"\d{1,3}(?:,\d{3})+|\d{1,6}(?:\.0+)?", t)
                ]
                if bare and max(bare) > 250 and not any("%" in t for t in self.cells[c]):
                    self.labels[c] = label._replace(unit="rpm")

    def fan_of_each(self) -> None:
        """`fan` over figures that can be nothing but turns a minute, in a table of supplies: how fast the fan of each turns."""
        if self.labels[0].thing is None or self.labels[0].thing.kind != PSU or self.labels[0].thing.slot is not None:
            return
        for c in self.columns[1:]:
            label = self.labels[c]
            if label.field == "thing" and label.thing == Thing(FAN, None, "") and self.turning(c):
                self.labels[c] = label._replace(field="speed", unit="rpm", dimension="speed")

    def rated(self) -> None:
        """`Wattage   Max` of supplies: the most that each can give, and no limit of what is measured."""
        said = [lab.field for lab in self.labels]
        if self.kind == PSU and said.count("limit") == 1 and any("wattage" in lab.words for lab in self.labels):
            c = said.index("limit")
            if self.labels[c].words <= {"max", "maximum"}:
                self.labels[c] = self.labels[c]._replace(field="capacity", limit=None, unit=self.labels[c].unit or "W")
        if self.kind == FAN and sum(lab.unit == "rpm" for lab in self.labels) > 1:
            # `Min RPM   Max RPM   Current`: the one that names no unit has that of those beside it
            alone = [c for c in self.columns if self.labels[c].field == "current" and self.labels[c].unit is None]
            if len(alone) == 1 and self.labels[alone[0]].words == {"current"}:
                self.labels[alone[0]] = Label("speed", unit="rpm", dimension="speed", words=frozenset({"current"}))
        powers = [c for c in self.columns if self.labels[c].dimension == "power" or self.labels[c].field == "capacity"]
        if self.kind == PSU and len(powers) == 1:
            label = self.labels[c := powers[0]]
            told = [float(t.rstrip(" Ww")) for t in self.cells[c] if _WATTS.fullmatch(t)]
            some = [watts for watts in told if watts]
            if (
                label.field == "quantity"
                and label.side is None
                and label.words & {"wattage", "total"}
                and label.words <= {"wattage", "total", "power", "watts"}
                and len(some) > 1
                and all(watts >= 100 and watts % 50 == 0 for watts in some)
                and len(told) == sum(not is_blank(t) for t in self.cells[c])
            ):
                # `1500` below `Wattage` in each row, and in that of one that is down, too: nothing is measured so.
                self.labels[c] = label._replace(field="capacity", unit=label.unit or "W")
                self.rating_at = c

    def one_side(self) -> None:
        """Takes columns of volts, amps and watts of supplies as those of one side, where each row of figures is: then noughts are, too."""
        if self.kind != PSU:
            return
        of: dict[str, int] = {}
        for c in self.columns:
            label = self.labels[c]
            if label.field == "quantity" and label.side is None and label.dimension in ("voltage", "current", "power"):
                if label.dimension in of:
                    return
                of[label.dimension] = c
        if "voltage" not in of or ("power" in of) != ("current" in of):
            return
        sides: set[str | None] = set()
        noughts = False
        for row in zip(*(self.cells[c] for c in of.values()), strict=True):
            figures = [_FIGURE.fullmatch(t) for t in row]
            if all(is_blank(t) for t in row):
                continue
            if None in figures:
                return
            told = dict(zip(of, (abs(float(m["figure"])) for m in figures if m is not None), strict=True))
            if not any(told.values()):
                noughts = True
                continue
            product = told["voltage"] * told.get("current", 0.0)
            if "power" in told and abs(product - told["power"]) > max(2.0, 0.1 * product):
                return
            sides.add(side_of(told["voltage"]))
        if noughts and len(sides) == 1 and (side := sides.pop()) is not None:
            for c in of.values():
                self.labels[c] = self.labels[c]._replace(side=side)

    def described(self, labelled: list[int]) -> int | None:
        """The column of descriptions that name the rows: supplies and fans by themselves, sensors where all else is a number."""
        found = [c for c in self.columns if self.labels[c].field == "description" and c not in labelled]
        if len(found) != 1 or not any(self.cells[found[0]]):
            return None
        texts = [t for t in self.cells[found[0]] if t]
        if any(len(t) > 40 or condition_of(t) is not None for t in texts):
            return None
        if self.kind in (PSU, FAN):
            if any(self.labels[c].field == "thing" for c in labelled):
                return None
            said = [thing_of(t) for t in texts]
            named = all(thing is not None and thing.slot is not None and thing.kind == self.kind for thing in said)
            if len(said) == 1 and (only := said[0]) is not None and only.kind == self.kind:
                # `S1   Fan Tray`: the only one, in a card that has a letter before its number
                named = named or not any(slot_alone(t) for c in labelled for t in self.cells[c])
            return found[0] if named else None
        numbers = [t for c in labelled for t in self.cells[c] if t and not is_blank(t)]
        if not all(any(ch.isdigit() for ch in t) and slot_alone(t) is not None for t in numbers):
            rows = list(zip(*(self.cells[c] for c in labelled), strict=True))
            if len(set(rows)) == len(rows) or not all(re.fullmatch(r"[A-Za-z]{0,2}\d{1,2}", t) for t in numbers):
                return None
        return found[0]

    def seen(self) -> None:
        """Sets the highest and lowest that were seen apart from limits: they stand beside a limit so named, or close to the value."""
        self.cleared()
        values = [c for c in self.columns if self.labels[c].field in ("value", "speed", "current")]
        plain_ = [
            c
            for c in self.columns
            if (lab := self.labels[c]).limit is not None
            and lab.field == "limit"
            and lab.limit.rank == 1.0
            and lab.words & {"max", "min", "maximum", "minimum"}
            and not lab.words & _THRESHOLDS
        ]
        if len(values) != 1 or not plain_:
            return
        named = any(
            lab.field == "limit" and lab.words & _THRESHOLDS and lab.limit and lab.limit.rank == 1.0
            for lab in self.labels
        )
        pairs = [
            (self.labels[c].limit.side, now, bound)  # type: ignore[union-attr]
            for c in plain_
            for now, bound in zip(map(_bare, self.cells[values[0]]), map(_bare, self.cells[c]), strict=True)
            if now is not None and bound is not None
        ]
        if not pairs or any((bound < now) == (side == "high") and bound != now for side, now, bound in pairs):
            return
        close = all(abs(bound - now) < 15 for _, now, bound in pairs) and any(bound % 5 for _, _, bound in pairs)
        sides = {self.labels[c].limit.side for c in plain_}  # type: ignore[union-attr]
        averaged = any(lab.words & {"avg", "average", "mean"} for lab in self.labels)
        if ((named or averaged) and len(sides) == 2) or (close and len(sides) == 1):
            for c in plain_:
                self.labels[c] = self.labels[c]._replace(field="ignored", limit=None)

    def cleared(self) -> None:
        """`tca-low 65  tca-high 70  shut-low 80  shut-high 85`: at the low ones an alarm of heat is over, and so they are no limits."""
        found: dict[float, dict[str, int]] = {}
        for c in self.columns:
            limit = self.labels[c].limit
            if self.labels[c].field == "limit" and limit is not None and limit.side is not None:
                found.setdefault(limit.rank, {})[limit.side] = c
        pairs = [(p["low"], p["high"]) for _, p in sorted(found.items()) if len(p) == 2]
        if len(pairs) != 2 or sum(len(p) for p in found.values()) != 4:
            return
        (_, mild), (low, _) = pairs
        figures = [(_bare(a), _bare(b)) for a, b in zip(self.cells[mild], self.cells[low], strict=True)]
        if figures and all(a is not None and b is not None and b > a for a, b in figures):
            for c, _ in pairs:
                self.labels[c] = self.labels[c]._replace(field="ignored", limit=None)

    def subject(self) -> tuple[str | None, str]:
        """What the rows are about where they do not say themselves, and how sure that is."""
        fields = {(lab.field, lab.dimension) for lab in self.labels}
        units = [c for c in self.columns if self.labels[c].field == "units"]
        named = [
            lab.thing.kind
            for lab in self.labels
            if lab.thing is not None and lab.field in ("thing", "slot", "name", "status")
        ]
        first = next((lab.thing.kind for lab in self.labels[:2] if lab.thing is not None), None)
        over = set(words_of(self.heads[0])) if self.heads else set()
        if first is not None and over & {"fan", "fans"} and over & {"supply", "supplies", "psu", "psus"}:
            first, named = None, []  # `Fan Power Supplies & Alarm`: each row says what it is
        heads = {w for h in self.heads for w in words_of(h)}
        cards = any({"card", "type"} <= set(words_of(h)) for h in self.heads)
        if cards and first is None and not named and not any(lab.dimension == "temperature" for lab in self.labels):
            return None, "low"  # what cards take of the supplies
        if first is None and not named and len(heads & _CONSUMES) > 1:
            return None, "low"  # what cards take of the supplies
        heat = any(f == "value" and d == "temperature" for f, d in fields)
        sided = any(lab.field in ("capacity",) or (lab.field == "quantity" and lab.side) for lab in self.labels)
        speed = any(
            lab.field == "speed" or (lab.field == "percent" and lab.words & {"speed", "duty", "pwm", "drive", "rpm"})
            for lab in self.labels
        )
        titled = self.titled()
        if units and not first:
            return None, "high"
        takes = any(lab.field == "side" and lab.side == "input" for lab in self.labels)
        if heat and not sided and not speed and first is None and not (takes and titled == PSU):
            return TEMP, "high"
        if (
            heat
            and not sided
            and not speed
            and first == PSU
            and not any(lab.field == "quantity" for lab in self.labels)
        ):
            return PSU, "high"
        if first is not None:
            return first, "high"
        if sided and titled == PSU:
            return PSU, "high"
        if speed and not sided and not heat and (titled == FAN or (titled != PSU and self.turns())):
            return FAN, "high"
        if titled == PSU and speed and not heat:
            return PSU, "high"
        if sided and titled is None and any(lab.field == "capacity" or lab.side == "input" for lab in self.labels):
            return PSU, "fair"
        said = {thing.kind if (thing := thing_of(t)) is not None else None for t in self.cells[0] if t}
        if len(said) == 1 and (only := said.pop()) is not None:
            return only, "fair"
        if named and not (titled == PSU and self.labels[0].thing is None):
            return named[0], "fair"
        if titled is None and self.powered():
            return PSU, "fair"
        if titled is not None:
            return titled, "fair"
        return None, "low"

    def turns(self) -> bool:
        """Whether the speeds of a table are of fans and not of links: a word or a unit says so."""
        if any(set(words_of(h)) & {"rpm", "rpms", "pwm", "tach", "fan", "fans"} for h in self.heads):
            return True
        cells = [t for column in self.cells for t in column[:4] if t]
        return any(((thing := thing_of(t)) is not None and thing.kind == FAN) or "rpm" in t.lower() for t in cells)

    def powered(self) -> bool:
        """Whether a table without any word for a supply is one of supplies: statuses of powers, or parts so named."""
        words = {w for h in self.heads for w in words_of(h)}
        if words & {
            "draw",
            "allocated",
            "requested",
            "request",
            "granted",
            "budget",
            "usage",
            "consumption",
            "module",
            "card",
            "lines",
        }:
            return False
        powers = [
            c
            for c in self.columns
            if words_of(self.heads[c]) and set(words_of(self.heads[c])) & {"power", "pwr", "watts", "wattage"}
        ]
        statuses = [lab for lab in self.labels if lab.field == "status"]
        return len(powers) >= 2 and len(statuses) >= 2

    def titled(self) -> str | None:
        for title in reversed(self.titles):
            thing = thing_of(title)
            words = set(words_of(title))
            heat = bool(words & {"temperature", "temperatures", "temp", "thermal", "temps"})
            if thing is not None and not heat:
                if thing.kind == PSU and thing.rest and set(words_of(thing.rest)) & {"fan", "fans"}:
                    return FAN
                return thing.kind
            if heat and thing is None:
                return TEMP
            if (
                words & {"power"}
                and not words
                & {
                    "allocation",
                    "budget",
                    "usage",
                    "consumption",
                    "redundancy",
                    "poe",
                    "inline",
                    "module",
                    "modules",
                }
                and (
                    (len(words) <= 4 and words & {"status", "environment", "system", "supply"})
                    or words
                    <= {
                        "power",
                        "show",
                        "display",
                        "get",
                        "tell",
                        "list",
                        "print",
                        "info",
                        "detail",
                        "details",
                        "inventory",
                        "all",
                    }
                )
            ):
                return PSU
        return None

    def thing_columns(self) -> list[int]:
        """Columns that are each about a thing of their own, such as `Main Power Supply` or `Fan 2`."""
        own = [
            c
            for c, lab in enumerate(self.labels)
            if lab.thing is not None and lab.thing.slot is not None and lab.field in ("thing", "status")
        ]
        if own[:1] == [0] and len(own) < len(self.columns):
            own = own[1:]
        if len(own) > 1 and len({(self.labels[c].thing.kind, self.labels[c].thing.slot) for c in own}) == len(own):  # type: ignore[union-attr]
            return own
        summed = [
            c
            for c, lab in enumerate(self.labels)
            if c > 0 and lab.thing is not None and lab.thing.slot is None and lab.field in ("thing", "status")
        ]
        if (
            summed
            and len(self.columns) == len(summed) + 1
            and self.labels[0].field in ("slot", "name")
            and self.labels[0].words & _MEMBERS
        ):
            return summed
        return []

    def turned(self) -> ReadGrid | None:
        """A table with a column for each thing and a row for each field."""
        heads = [lab.thing if lab.field == "thing" else None for lab in self.labels[1:]]
        if None in heads:
            named = [_PLACE_OF_THING.fullmatch(h) for h in self.heads[1:]]
            words = {m["word"].lower() for m in named if m is not None}
            kind = self.titled()
            if None in named or len(named) < 2 or len(words) != 1 or kind is None or kind == TEMP:
                return None
            heads = [Thing(kind, m["slot"].lower(), "") for m in named if m is not None]
        fields = [label_of(t) for t in self.cells[0]]
        known = sum(f.field not in ("unknown", "thing") for f in fields)
        if len(fields) < 2 or known * 3 < len(fields) * 2:
            return None
        rows: list[Taken] = []
        whole = tuple(dict.fromkeys(n for row in self.grid.rows for n in row.lines))
        for c in self.columns[1:]:
            thing = heads[c - 1]
            assert thing is not None
            cells = [row.cells[c] if c < len(row.cells) else None for row in self.grid.rows]
            merged = GridRow(tuple(cells), whole, "", next((row.odd for row in self.grid.rows if row.odd), ""))
            try:
                if merged.odd:
                    raise Unplaced(merged.odd)
                entries = [Entry(f, t, h) for f, t, h in zip(fields, self.cells[c], self.cells[0], strict=True) if t]
                heat = [e for e in entries if e.label.field == "value" and e.label.dimension == "temperature"]
                heat = [e for e in heat if thing.kind == PSU and not is_blank(e.text)]
                made = [reading_of([e for e in entries if e not in heat], thing.kind, thing.slot, None, thing.inside)]
                made += [reading_of([e], TEMP, None, e.head.split("(")[0].strip(), thing.slot) for e in heat]
                rows.append(Taken(merged, tuple(made), ""))
            except Unplaced as reason:
                rows.append(Taken(merged, (), str(reason)))
        columns = tuple((h, f.field) for h, f in zip(self.cells[0], fields, strict=True))
        about = ", ".join(dict.fromkeys(r.kind for t in rows for r in t.readings))
        return ReadGrid(about, columns, tuple(rows), "fair", "" if about else "no column could be read")

    def sensors_a_column(self) -> ReadGrid | None:
        """`Unit  Sensor0  Sensor1` below a title that tells degrees: each cell is a temperature of its own."""
        heat = [c for c in self.columns[1:] if _NUMBERED_SENSOR.fullmatch(self.heads[c])]
        own = heat if any(_IN_DEGREES.search(t) for t in self.titles[-2:]) else self.placed_heat()
        heat = own
        numbered = [c for c in self.columns[1:] if _NUMBERED_SENSOR.fullmatch(self.heads[c])]
        if (
            len(numbered) > 1
            and not heat
            and all(t[:1].isdigit() or is_blank(t) for c in numbered for t in self.cells[c])
        ):
            return _nothing("what its sensors measure is not told")
        limits = [c for c in self.columns[1:] if c not in heat and self.labels[c].field == "limit"]
        beside = [c for c in self.columns[1:] if c not in heat and c not in limits]
        if len(heat) < 2 or any(any(t[:1].isdigit() for t in self.cells[c]) for c in beside):
            return None
        rows = []
        for row in self.grid.rows:
            first = text_at(row, 0)
            try:
                if row.odd:
                    raise Unplaced(row.odd)
                word = (words_of(self.heads[0]) or ["unit"])[0]
                within = f"{word} {first}" if slot_alone(first) else first
                label = Label("value", unit="C", dimension="temperature")
                made = tuple(
                    reading_of(
                        [
                            Entry(label, text_at(row, c), self.heads[c]),
                            *(Entry(self.labels[k], text_at(row, k), self.heads[k]) for k in limits),
                        ],
                        TEMP,
                        None,
                        f"{within} {self.heads[c].split('(')[0].strip()}",
                    )
                    for c in heat
                    if not is_blank(text_at(row, c))
                )
                rows.append(Taken(row, made, ""))
            except Unplaced as reason:
                rows.append(Taken(row, (), str(reason)))
        columns = tuple((h, "measured value" if c else "slot") for c, h in enumerate(self.heads))
        return ReadGrid(TEMP if any(t.readings for t in rows) else "", columns, tuple(rows), "fair")

    def heat_by_pairs(self) -> ReadGrid | None:
        """`processor temperature  processor temperature status  IOA temperature  ...`: sensors of a row, each with its state."""
        heat: dict[int, str] = {}
        state: dict[str, int] = {}
        for c in self.columns[1:]:
            if (named := _HEAT_OR_STATE.fullmatch(self.heads[c])) is None:
                return None
            if named["state"]:
                state[named["of"].lower()] = c
            else:
                heat[c] = named["of"]
        if len(heat) < 2 or sorted(state) != sorted(of.lower() for of in heat.values()) or not self.distinct(0):
            return None
        rows = []
        word = (words_of(self.heads[0]) or ["slot"])[0]
        for row in self.grid.rows:
            try:
                if row.odd or slot_alone(text_at(row, 0)) is None:
                    raise Unplaced(row.odd or "which part it is does not stand there")
                made = tuple(
                    reading_of(
                        [
                            Entry(Label("value", unit="C", dimension="temperature"), text_at(row, c), self.heads[c]),
                            Entry(Label("status"), text_at(row, state[of.lower()]), self.heads[state[of.lower()]]),
                        ],
                        TEMP,
                        None,
                        f"{word} {text_at(row, 0)} {of}",
                    )
                    for c, of in heat.items()
                    if not is_blank(text_at(row, c))
                )
                rows.append(Taken(row, made, "" if made else "nothing is told of it"))
            except Unplaced as reason:
                rows.append(Taken(row, (), str(reason)))
        told = ("measured value" if c in heat else "status" if c else "slot" for c in self.columns)
        return ReadGrid(TEMP, tuple(zip(self.heads, told, strict=True)), tuple(rows), "fair")

    def fans_with_heat(self) -> ReadGrid | None:
        """`Index  Fan Speed (rpm)  Temp(C)` below `CPU Status`: each row is a part, with a fan and a sensor of its own."""
        fans = [c for c in self.columns[1:] if self.labels[c].field == "speed" and "fan" in words_of(self.heads[c])]
        heat = [
            c for c in self.columns[1:] if (lab := self.labels[c]).field == "value" and lab.dimension == "temperature"
        ]
        titled = _PART_TITLE.fullmatch(self.titles[-1].strip().rstrip(":")) if self.titles else None
        if len(fans) != 1 or len(heat) != 1 or len(self.columns) != 3 or self.labels[0].field not in ("slot", "name"):
            return None
        if titled is None or thing_of(titled["what"]) is not None or not self.distinct(0):
            return None
        rows = []
        for row in self.grid.rows:
            try:
                if row.odd:
                    raise Unplaced(row.odd)
                if (number := slot_alone(text_at(row, 0))) is None:
                    raise Unplaced("which part it is does not stand there")
                name = f"{titled['what']} {number}"
                made = tuple(
                    reading_of(
                        [Entry(self.labels[c]._replace(thing=None), text_at(row, c), self.heads[c])], kind, None, name
                    )
                    for c, kind in ((fans[0], FAN), (heat[0], TEMP))
                    if not is_blank(text_at(row, c))
                )
                if not made:
                    raise Unplaced("nothing is told of it")
                rows.append(Taken(row, made, ""))
            except Unplaced as reason:
                rows.append(Taken(row, (), str(reason)))
        columns = tuple((h, self.told(c, [])) for c, h in enumerate(self.heads))
        about = ", ".join(dict.fromkeys(r.kind for t in rows for r in t.readings))
        return ReadGrid(about, columns, tuple(rows), "fair", "" if about else "no row could be read")

    def placed_heat(self) -> list[int]:
        """The columns of a table such as `Module  Inlet(C)  Outlet(C)`: each label names a place, and degrees."""
        told = [
            c
            for c in self.columns[1:]
            if self.labels[c].field != "limit" and all(_IN_CELSIUS.match(t) or is_blank(t) for t in self.cells[c])
        ]
        beside = [c for c in self.columns[1:] if c not in told]
        if (
            len(told) > 1
            and all(self.labels[c].field in ("name", "type", "slot", "model", "limit", "status") for c in beside)
            and all(any(w in _PLACES for w in words_of(self.heads[c])) for c in told)
            and self.distinct(0)
        ):
            return told if not set(self.labels[0].words) & FOREIGN else []
        said = [self.heads[c].split("(")[0].strip().lower() for c in self.columns[1:]]
        places = all(any(w in _PLACES for w in words_of(s)) for s in said) and len(set(said)) == len(said)
        first = self.labels[0]
        if not places or first.field not in ("slot", "name") or set(first.words) & FOREIGN:
            return []
        if any(self.labels[c].unit != "C" and self.labels[c].dimension != "temperature" for c in self.columns[1:]):
            return []
        return self.columns[1:]

    def worth(self, kind: str | None, things: list[int]) -> bool:
        if self.kinds_at is not None or any(unit_above(list(t)) for t in zip(*self.cells, strict=True)):
            return True
        fields = {lab.field for lab in self.labels}
        telling = fields & {
            "status",
            "presence",
            "flag",
            "quantity",
            "capacity",
            "value",
            "speed",
            "percent",
            "serial",
            "part",
            "model",
            "limit",
            "current",
            "side",
        }
        if not telling:
            return bool(things)
        if kind is not None or things:
            return True
        if "units" in fields and fields & {"value"}:
            return True
        if "value" in fields and any(
            unit_apart(t)[1] is not None
            for c in self.columns
            if self.labels[c].field == "name" and "sensor" in self.labels[c].words
            for t in self.cells[c]
        ):
            return True
        if "value" in fields and any(
            _dimensioned(t) for c in self.columns if self.labels[c].field == "value" for t in self.cells[c]
        ):
            return True
        if any(lab.field == "quantity" and lab.dimension == "voltage" for lab in self.labels) and any(
            lab.field == "name" and "sensor" in lab.words for lab in self.labels
        ):
            return True
        return any(
            thing_of(t) is not None
            for c in self.columns[:3]
            if self.labels[c].field in ("name", "slot", "thing", "unknown", "description")
            for t in self.cells[c]
        )

    def groups(self, columns: list[int]) -> dict[int, list[int]]:
        """`Fan0  Speed  Fan1  Speed`: the columns that tell more of each thing, where every thing has the same ones."""
        ends = [*columns[1:], len(self.columns)]
        found = {c: list(range(c + 1, end)) for c, end in zip(columns, ends, strict=True)}
        alike = {tuple(self.heads[k].lower() for k in cs) for cs in found.values()}
        measured = all(
            self.labels[k].field in ("speed", "percent", "quantity", "value") for cs in found.values() for k in cs
        )
        return found if len(alike) == 1 and alike != {()} and measured else {}

    def things(self, row: GridRow, texts: list[str], columns: list[int]) -> Iterator[AnyReading]:
        """A reading a column, of a row that holds several things."""
        if columns[0] == 0:  # `PS1-Status  PS2-Status`
            for c in columns:
                thing = self.labels[c].thing
                assert thing is not None
                if texts[c]:
                    said = "unknown" if is_blank(texts[c]) else texts[c]
                    told = [Entry(self.labels[c]._replace(field="status"), said, self.heads[c])]
                    made = reading_of(told, thing.kind, thing.slot, None, thing.inside)
                    yield made.model_copy(update={"status_text": texts[c]})
            return
        where = slot_alone(texts[0]) if texts[0] else None
        where = where or member_of(texts[0]) if texts[0] else member_of(row.heading)
        groups = self.groups(columns)
        placed: set[int] = set()
        left = [c for c in range(1, columns[0]) if not is_blank(texts[c])]
        if (
            where is not None
            and left
            and self.labels[left[0]].field == "slot"
            and (inner := slot_alone(texts[left[0]])) is not None
        ):
            where = f"{where}/{inner}"  # a bay of a unit, whose fans are within it
            placed.add(left.pop(0))
        beside = placed.union(*groups.values())
        if "/" in (where or ""):
            for c in left:
                if self.labels[c].field == "status" and condition_of(texts[c]) in (None, Condition.OK):
                    beside.add(c)
        kinds = {self.labels[c].thing.kind for c in columns}  # type: ignore[union-attr]
        filled = [c for c in self.columns[1:] if c not in placed and not is_blank(texts[c])]
        if (
            "/" in (where or "")
            and len(kinds) == 1
            and len(filled) == 1
            and self.labels[filled[0]].field == "status"
            and condition_of(texts[filled[0]]) is Condition.ABSENT
        ):  # the tray of them all is not there
            yield reading_of([Entry(STATUS, texts[filled[0]], self.heads[filled[0]])], kinds.pop(), where, None)
            return
        for c in columns:
            thing = self.labels[c].thing
            assert thing is not None
            if is_blank(texts[c]):
                continue
            if where is not None and "/" in where and "/" not in texts[0]:
                entries = [Entry(self.labels[c]._replace(field="status"), texts[c], self.heads[c])]
                entries.extend(Entry(self.labels[k], texts[k], self.heads[k]) for k in groups.get(c, []) if texts[k])
                yield reading_of(entries, thing.kind, where, self.heads[c], point=True)
                continue
            slot = thing.slot
            if where is not None:
                slot = f"{where}/{slot}" if slot else where
            label = self.labels[c]._replace(field="status")
            entries = [Entry(label, texts[c], self.heads[c])]
            entries.extend(Entry(self.labels[k], texts[k], self.heads[k]) for k in groups.get(c, []) if texts[k])
            yield reading_of(entries, thing.kind, slot, None)
        for c in self.columns[1:]:
            label = self.labels[c]
            if c in columns or c in beside or is_blank(texts[c]):
                continue
            if label.field != "value" or label.dimension != "temperature":
                raise Unplaced(f"`{texts[c]}` under `{self.heads[c]}` beside several things")
            name = f"{(words_of(self.heads[0]) or ['unit'])[0]} {texts[0]}" if slot_alone(texts[0]) else texts[0]
            yield reading_of([Entry(label, texts[c], self.heads[c])], TEMP, None, name)

    def all_of(self, row: GridRow, texts: list[str], labelled: list[int]) -> tuple[AnyReading, ...]:
        """The reading of a row; of a supply also its temperature, which is a sensor within it."""
        if self.kinds_at is not None and texts[self.kinds_at] and kind_said(texts[self.kinds_at]) is None:
            things = [t for c in labelled if (t := thing_of(texts[c])) is not None and t.slot is not None]
            if plain(texts[self.kinds_at]) not in _OF_THINGS or len(things) != 1:
                return self.heat_only(texts, labelled)
        if (
            self.kinds_at is not None
            and (said := kind_said(texts[self.kinds_at])) in (PSU, FAN)
            and (
                own_heat := [
                    c
                    for c in self.columns
                    if self.labels[c].dimension == "temperature"
                    and self.labels[c].field == "value"
                    and not is_blank(texts[c])
                ]
            )
        ):
            # The part by itself, and its temperature with the limits of that.
            limits = [
                c
                for c in self.columns
                if (bound := self.labels[c]).limit is not None
                and bound.limit.side is not None
                and bound.dimension in (None, "temperature")
            ]
            part = self.one(row, [("" if c in own_heat or c in limits else t) for c, t in enumerate(texts)], labelled)
            entries = [Entry(self.labels[c], texts[c], self.heads[c]) for c in (*own_heat, *limits) if texts[c]]
            name = next((texts[c] for c in labelled if texts[c] and not texts[c].isdigit()), None) or part.unit
            inside = part.unit.removeprefix("psu-") if said == PSU and part.unit is not None else None
            return part, reading_of(entries, TEMP, None, name, inside)
        if (at := self.begins_fan) is not None and any(not is_blank(t) for t in texts[at:]):
            of_supply = self.one(
                row, [t if c < at else "" for c, t in enumerate(texts)], [c for c in labelled if c < at]
            )
            if of_supply.kind != "power_supply" or of_supply.unit is None:
                raise Unplaced("of which supply the fan is does not stand there")
            told = [Entry(self.labels[c], texts[c], self.heads[c]) for c in self.columns[at + 1 :] if texts[c]]
            which = (
                f"{self.heads[at].lower()} {texts[at]}".strip() if not is_blank(texts[at]) else self.heads[at].lower()
            )
            its_fan = reading_of(told, FAN, None, which, of_supply.unit.removeprefix("psu-"), point=True)
            return (of_supply, its_fan)
        if len(rotors := self.rotors(texts)) > 1 or (rotors and self.matrix):
            every = [self.one(row, self.without(texts, rotors, c), labelled) for c in rotors]
            names = [self.labels[c].said for c in rotors]
            if all(r.kind == "fan" and r.unit is not None and not r.name for r in every):
                return tuple(r.model_copy(update={"name": n}) for r, n in zip(every, names, strict=True))
            if self.matrix and all(r.kind == "fan" and r.name for r in every):  # of a supply, or of what is no tray
                called = [n if r.unit is not None else f"{r.name} {n}" for r, n in zip(every, names, strict=True)]
                none_of_it = {"serial": None, "part_number": None}  # these are of the whole, and no tray
                return tuple(r.model_copy(update={"name": n, **none_of_it}) for r, n in zip(every, called, strict=True))
        if self.kind == TEMP and self.unsided and (beside := self.figures_of_card(texts, labelled)):
            heat = self.one(row, [("" if c in beside else t) for c, t in enumerate(texts)], labelled)
            facts = [
                reading_of(
                    [Entry(self.labels[c], texts[c], self.heads[c])],
                    None,
                    None,
                    f"{heat.name} {self.heads[c]}",
                    rails=True,
                )
                for c in beside
            ]
            return (heat, *facts)
        own = self.fan_columns
        if own and any(texts[c] for c in own):
            of_fan = [Entry(self.labels[c], texts[c], self.heads[c]) for c in own if texts[c]]
            supply = self.all_of(row, [("" if c in own else t) for c, t in enumerate(texts)], labelled)
            unit = supply[0].unit
            if supply[0].kind != "power_supply" or unit is None:
                raise Unplaced("of which supply the fan is does not stand there")
            within = (
                [reading_of(of_fan, FAN, None, "fan", unit.removeprefix("psu-"), point=True)]
                if not all(is_blank(e.text) for e in of_fan)
                else []
            )
            return (*supply, *within)
        aside: list[AnyReading] = []
        main = self.one(row, texts, labelled, aside)
        if aside:
            return (main, *aside)
        if main.kind != "power_supply" or (main.unit is None) == (main.name is None):
            return (main,)
        within = []
        if (fan := self.fan_of_supply(texts, main.unit)) is not None:
            within.append(fan)
        for c in self.columns:
            label = self.labels[c]
            if label.field == "value" and label.dimension == "temperature" and not is_blank(texts[c]):
                entry = Entry(label, texts[c], self.heads[c])
                name = self.heads[c].split("(")[0].strip()
                if main.unit is None:
                    within.append(reading_of([entry], TEMP, None, f"{main.name} {name}"))
                else:
                    within.append(reading_of([entry], TEMP, None, name, main.unit.removeprefix("psu-")))
        return (main, *within)

    @cached_property
    def unsided(self) -> list[int]:
        """The columns of volts, amps and watts of which the label tells no side."""
        return [c for c, lab in enumerate(self.labels) if lab.field == "quantity" and lab.side is None]

    def figures_of_card(self, texts: list[str], labelled: list[int]) -> list[int]:
        """The columns that tell what a card takes or has on its bus, beside its one temperature; none where it may be a supply."""
        beside = [c for c in self.unsided if _dimension_of(texts[c]) == self.labels[c].dimension]
        if not beside:
            return []
        heat = [c for c in self.columns if (lab := self.labels[c]).field == "value" and lab.dimension == "temperature"]
        if len(heat) != 1 or is_blank(texts[heat[0]]) or any(thing_of(texts[c]) is not None for c in labelled):
            return []
        bounds = [c for c in self.columns if self.labels[c].field == "limit" and not is_blank(texts[c])]
        if any(self.labels[c].dimension != "temperature" and _dimension_of(texts[c]) != "temperature" for c in bounds):
            return []
        return beside

    @cached_property
    def begins_fan(self) -> int | None:
        """Where `Fan  Speed  Status` begins behind what a table of supplies tells of each, its status among it."""
        if self.kind != PSU or self.labels[0].thing is None or self.labels[0].thing.kind != PSU:
            return None
        fans = [
            c
            for c in self.columns[1:]
            if (lab := self.labels[c]).field == "thing"
            and lab.thing == Thing(FAN, None, "")
            and c + 1 < len(self.columns)
        ]
        if len(fans) != 1:
            return None
        before = [self.labels[c].field for c in self.columns[: fans[0]]]
        behind = [self.labels[c].field for c in self.columns[fans[0] + 1 :]]
        ok = (
            before.count("status") == 1
            and set(behind) <= {"status", "speed", "percent"}
            and behind.count("status") == 1
        )
        return fans[0] if ok else None

    def trays_of_rotors(self) -> None:
        """`Tray  Fan1(rpm)  Fan2(rpm)`: columns of the speeds of rotors, where each row is a tray."""
        own = [
            c
            for c, lab in enumerate(self.labels)
            if c > 0
            and lab.field in ("thing", "speed")
            and self.heads[c]
            and any(
                thing is not None and thing.kind == FAN and thing.slot
                for thing in (lab.thing, thing_of(self.heads[c].split()[-1]))
            )
            and (lab.unit == "rpm" or self.turning(c))
        ]
        head = self.labels[0]
        trays = {thing.kind for t in self.cells[0] if (thing := thing_of(t)) is not None and thing.slot is not None}
        if (
            len(own) > 1
            and head.field in ("slot", "thing", "name")
            and (
                head.words & _TRAYS
                or (head.thing is not None and head.thing.kind == FAN)
                or trays == {FAN}
                or self.places_of_fans(own)
            )
        ):
            self.matrix = True
            for c in own:
                last = (re.sub(r"\([^()]*\)", " ", self.heads[c]).split() or [""])[-1]
                named = (thing := thing_of(last)) is not None and thing.slot is not None
                said = last if named else re.sub(r"\([^()]*\)", " ", self.heads[c]).strip()
                self.labels[c] = self.labels[c]._replace(field="speed", unit="rpm", thing=None, said=said)
            self.kind = FAN

    def places_of_fans(self, own: list[int]) -> bool:
        """Whether the rows are places, no two alike, and all that is measured of them is how fast their numbered fans turn."""
        told = {self.labels[c].field for c in self.columns[1:] if c not in own}
        return (
            bool(self.labels[0].words & {"location", "place", "position", "slot"})
            and all(self.cells[0])
            and self.distinct(0)
            and all(
                (thing := thing_of(self.heads[c].split()[-1])) is not None and thing.kind == FAN and thing.slot
                for c in own
            )
            and told <= {"type", "model", "part", "serial", "description", "status", "presence"}
        )

    def turning(self, c: int) -> bool:
        """Whether the figures of a column without a unit can be nothing but turns in a minute."""
        bare = [t for t in self.cells[c] if not is_blank(t)]
        figures = [float(t) for t in bare if BARE_FIGURE.fullmatch(t)]
        return bool(figures) and len(figures) == len(bare) and max(figures) > 250

    def fans_at(self, texts: list[str]) -> list[int]:
        """The columns that tell how the fan of each supply is, where the row tells it there."""
        if self.kind != PSU:
            return []
        return [
            c
            for c in self.columns
            if c > 0
            and (thing := self.labels[c].thing) is not None
            and (thing.kind, thing.slot, thing.inside) == (FAN, None, None)
            and "sensor" not in self.labels[c].words
            and (
                (self.labels[c].field in ("thing", "status") and condition_of(texts[c]) is not None)
                or (self.labels[c].field in ("speed", "percent") and any(ch.isdigit() for ch in texts[c]))
            )
        ]

    def fan_of_supply(self, texts: list[str], unit: str | None) -> AnyReading | None:
        """The fan within a supply, where columns of its table tell how it is."""
        at = self.fans_at(texts)
        if not at or unit is None:
            return None
        entries = []
        for c in at:
            label = self.labels[c]
            if label.field == "thing":
                label = STATUS
            entries.append(Entry(label._replace(thing=None), texts[c], self.heads[c]))
        name = self.heads[at[0]].split("(")[0].strip() if self.labels[at[0]].field == "thing" else "fan"
        return reading_of(entries, FAN, None, name, unit.removeprefix("psu-"))

    @cached_property
    def fan_columns(self) -> list[int]:
        """Of a table of supplies the columns about the fan within each: its status and its speed."""
        if self.kind != PSU:
            return []
        own = [
            c
            for c in self.columns
            if (
                ((lab := self.labels[c]).thing is not None and lab.thing.kind == FAN and lab.thing.slot is None)
                or (lab.thing is None and "fan" in lab.words)
            )
            and lab.field in ("status", "speed", "percent", "thing")
        ]
        return own if any(self.labels[c].field in ("speed", "percent") for c in own) else []

    @cached_property
    def speeds(self) -> list[int]:
        return [c for c in self.columns if self.labels[c].field == "speed"]

    def rotors(self, texts: list[str]) -> list[int]:
        """Columns of speeds that each name a rotor, as `Front RPM` and `Rear RPM` do."""
        found = [c for c in self.speeds if not is_blank(texts[c])]
        named = {self.labels[c].said.lower() for c in found}
        return found if len(named) == len(found) and "" not in named else []

    def without(self, texts: list[str], rotors: list[int], kept: int) -> list[str]:
        return [("" if c in rotors and c != kept else t) for c, t in enumerate(texts)]

    def heat_only(self, texts: list[str], labelled: list[int]) -> tuple[AnyReading, ...]:
        """The temperature of a part that is neither a supply nor a fan; its status is not the sensor's."""
        heat = [
            c for c in self.columns if self.labels[c].field == "value" and self.labels[c].dimension == "temperature"
        ]
        name = next((texts[c] for c in labelled if texts[c] and not texts[c].isdigit()), "")
        name = name or next((texts[c] for c in labelled if texts[c]), "")
        if len(heat) != 1 or is_blank(texts[heat[0]]) or not name:
            raise Unplaced("neither a supply nor a fan, and no temperature")
        c = heat[0]
        return (reading_of([Entry(self.labels[c], texts[c], self.heads[c])], TEMP, None, name),)

    def one(
        self, row: GridRow, texts: list[str], labelled: list[int], aside: list[AnyReading] | None = None
    ) -> AnyReading:
        entries: list[Entry] = []
        units_at = self.units_at
        alone = sum(map(bool, texts)) <= len(labelled) + 1
        fans_at = self.fans_at(texts)
        above = unit_above([row.heading]) if row.heading and units_at is None else None
        by_name = None
        if units_at is None and self.kind is None:
            values = [texts[c] for c in self.columns if self.labels[c].field == "value" and texts[c]]
            if len(values) == 1 and (is_blank(values[0]) or BARE_FIGURE.fullmatch(values[0])):
                called = next((texts[c] for c in labelled if sum(ch.isalpha() for ch in texts[c]) > 1), "")
                by_name = unit_of_name(called, values[0])
        plain_row = units_at is None and above is None and by_name is None and not alone
        for c in self.columns:
            label = self.labels[c]
            text = texts[c]
            if not text or c in labelled or c == units_at or c in fans_at:
                continue
            if c == self.rating_at and not any(ch in "123456789" for ch in text):
                continue  # `0` beside an empty bay is no rating
            if plain_row and self.whole[c] and (label.field != "value" or BARE_FIGURE.fullmatch(text)):
                entries.append(Entry(label, text, self.heads[c] or f"column {c + 1}"))  # as nearly all cells are
                continue
            if label.field in ("value", "limit") and units_at is not None and label.unit is None:
                unit = _unit_said(texts[units_at])
                if label.field == "limit" and is_blank(text):
                    continue
                no_unit = is_blank(texts[units_at]) or texts[units_at].lower() in _NO_UNITS
                if label.field == "value" and no_unit and condition_of(text) is not None:
                    entries.append(Entry(STATUS, text, self.heads[c]))  # `Up`, of a supply among sensors
                    continue
                if unit is None:
                    if is_blank(text):
                        continue
                    raise Unplaced(f"`{texts[units_at]}` is no unit that is known")
                label = label._replace(unit=unit)
            if label.field not in ("status", "flag", "presence", "limit", "ignored") and alone:
                found = condition_of(text)
                if found in (Condition.ABSENT, Condition.NO_INPUT):
                    label = STATUS
            if "=" in text and label.field == "unknown" and (pair := _HEAT_PAIR.fullmatch(text)) is not None:
                entries.append(Entry(label_of(pair["key"]), pair["value"], self.heads[c]))
                continue
            if label.field in ("unknown", "ignored") and label.words and label.words <= _REMARKS:
                measured = _dimension_of(text)
                if measured in ("speed", "temperature") and not _told_in(text):
                    label = label._replace(field="value")  # `Remark` over `5100 rpm`
                elif condition_of(text) not in (None, Condition.OK):
                    label = STATUS
            if label.field == "value" and self.kinds_at is not None and _BITS.fullmatch(text):
                entries.append(Entry(STATUS, text, self.heads[c]))  # bits that nobody explained make no sensor well
                continue
            if c in self.of_operation and condition_of(text) in _NOT_BAD:
                continue  # `Stby` is the card, and no word of its heat
            if label.field == "unknown" and re.fullmatch(r"[+-]?\d+(?:[.,]\d+)*", text):
                raise Unplaced(f"`{text}` stands under `{self.heads[c]}`, which is not known")
            if label.field in ("value", "limit") and label.unit is None and units_at is None and by_name is not None:
                label = label._replace(unit=by_name)
            if above is not None and label.field in ("value", "current", "limit") and label.unit is None:
                field = "limit" if label.field == "limit" else "value"
                dimension = "temperature" if above in ("C", "F") else "speed"
                label = label._replace(field=field, unit=above, dimension=dimension)
            if label.field == "value" and (several := _told_in(text)):
                entries.extend(Entry(said, part, self.heads[c]) for said, part in several)
                continue
            entries.append(Entry(label, text, self.heads[c] or f"column {c + 1}"))
        kind, slot, name, inside, point = self.which(row, texts, labelled)
        if kind == FAN and any(lab.words & _ALLOTTED for lab in self.labels):
            raise Unplaced("the power that a fan is allotted, and no word of the fan")
        if kind == PSU and (side := self.side_told(texts)) is not None:
            entries = [
                e._replace(label=e.label._replace(side=side)) if e.label.field == "quantity" and not e.label.side else e
                for e in entries
            ]
        if kind is None and (placed := _of_a_supply([texts[c] for c in labelled])) is not None:
            slot, said = placed
            kind, name, point = PSU, " ".join(texts[c] for c in labelled), True
            entries = [
                e._replace(label=e.label._replace(field="quantity", side=said.side)) if e.label.field == "value" else e
                for e in entries
            ]
        if (
            kind == PSU
            and name
            and slot is not None
            and self.kind is None
            and label_of(name).dimension == "temperature"
        ):
            kind, slot, inside, point = TEMP, None, slot, False  # a sensor of the supply, whatever its row tells of it
        if kind == PSU and slot is None and self.labels[0].thing is None:
            naming = [texts[c] for c in self.columns if self.labels[c].field in ("name", "description")]
            rail = next((t for t in naming if len(t) <= 40 and _RAIL_NAME.search(t)), None)
            if rail is not None:
                kind, name = None, rail  # below `Power` stand the rails of the boards, too
                return reading_of(entries, None, None, name, rails=True)
        if kind is None and units_at is not None and name and unit_word(texts[units_at]) in ("C", "F"):
            kind = TEMP  # of a sensor that gives no value now the unit still tells what it measures
        rails = units_at is not None or self.kind is None
        if kind == PSU and name and (units_at is not None or point):
            entries = [_from_name(e, name) for e in entries]
            point = True
        return reading_of(entries, kind, slot, name, inside, rails=rails, point=point, aside=aside)

    def which(
        self, row: GridRow, texts: list[str], labelled: list[int]
    ) -> tuple[str | None, str | None, str | None, str | None, bool]:
        """Kind, slot, name, the supply it stands in, and whether the name is a point within the unit."""
        member = member_of(row.heading) if row.heading else None
        heading = thing_of(row.heading) if row.heading and member is None else None
        for title in self.titles[-1:]:
            member = member or member_of(title.rstrip(":"))
        kind = self.kind
        if self.kinds_at is not None:
            kind = kind_said(texts[self.kinds_at])
        if kind is None and heading is not None:
            kind = heading.kind
        if (
            kind is None
            and row.heading
            and set(words_of(row.heading)) & {"temperature", "temperatures", "thermal", "heat"}
        ):
            kind = TEMP
        named: list[tuple[int, Thing]] = []
        for c in labelled:
            thing = thing_of(unit_apart(texts[c])[0]) if texts[c] and len(texts[c]) <= 48 else None
            if thing is not None:
                named.append((c, thing))
        if kind is None and self.kind is None and (placed := self.figure_of_supply(texts, labelled, named)) is not None:
            return placed
        if kind == TEMP:
            return TEMP, *self.sensor(row, texts, labelled, member, named)[1:]
        if kind is None and not named:
            return self.sensor(row, texts, labelled, member, named)
        slots = [c for c in labelled if self.labels[c].field == "slot" or self.labels[c].field == "thing"]
        listed = self.kinds_at is not None and any(self.distinct(c) and self.worded[c] for c in labelled)
        if listed or any(self.labels[c].words & {"sensor", "sensors"} for c in labelled):
            # a number of the row, and of no supply
            slots = [c for c in slots if not self.counts(c) and not (listed and self.labels[c].words <= _OF_A_ROW)]
        trays = [
            c
            for c in labelled
            if self.labels[c].words & _TRAYS and self.labels[c].field in ("slot", "thing", "name") and texts[c]
        ]
        members = [
            c
            for c in slots
            if self.labels[c].words & _MEMBERS
            and self.labels[c].thing is None
            and len(labelled) > 1
            and "/" not in self.heads[c]
        ]
        if not members and (above := self.holds_numbered(labelled)) is not None:
            members = [above]
        if kind == FAN and trays and len(labelled) > 1:
            holder = thing_of(texts[trays[0]])
            tray = _slot_of(texts[trays[0]])
            rest_of = [c for c in labelled if c not in trays and c not in members and not is_blank(texts[c])]
            rotor = next((c for c in rest_of if not self.alike(c)), rest_of[0] if rest_of else None)
            if holder is not None and holder.kind == PSU and holder.slot is not None:
                name = " ".join(texts[c] for c in (trays[0], rotor) if c is not None)
                return FAN, None, name, holder.slot, True
            if tray is not None and rotor is not None:
                inner = thing_of(texts[rotor])
                if inner is not None and inner.inside:
                    return FAN, None, texts[rotor], inner.inside, True
                label = (
                    texts[rotor]
                    if not texts[rotor].isdigit()
                    else f"{(self.heads[rotor].split() or ['rotor'])[-1].lower()} {texts[rotor]}"
                )
                return FAN, placed_in(member, tray), label, None, True
            if tray is None and rotor is not None and (inner := thing_of(texts[rotor])) is not None and inner.inside:
                return FAN, None, texts[rotor], inner.inside, True
        if named:
            of_kind = [(c, t) for c, t in named if t.kind == kind]
            c, thing = next(((c, t) for c, t in of_kind if t.slot is not None), (of_kind or named)[0])
            row_kind = thing.kind
            if members and texts[members[0]] and c not in members:
                member = member or _slot_of(texts[members[0]])
            if kind == FAN and thing.kind == PSU:
                if _last_is_fan(self.heads[c]) and thing.slot and "/" in thing.slot:
                    return FAN, None, texts[c], thing.slot.rsplit("/", 1)[0], True
                rotor = next(
                    (k for k in labelled if k != c and texts[k] and not is_blank(texts[k]) and not self.alike(k)), None
                )
                return FAN, None, texts[c] if rotor is None else f"{texts[c]} {texts[rotor]}", thing.slot, True
            if kind is not None and kind != thing.kind and thing.kind == FAN and thing.inside is None:
                row_kind = FAN
            if thing.kind == FAN and thing.inside is not None:
                return FAN, None, texts[c], thing.inside or None, True
            rest = thing.rest.strip(" -_:()")
            slot = thing.slot
            if slot is not None and re.fullmatch(r"\d{3,6}(?:\.\d+)?", rest) and texts[c].endswith(f" {rest}"):
                raise Unplaced(f"`{texts[c]}` is a name with a figure behind it")
            if slot is None and kind is None and thing.kind == PSU and rest:
                place = next((m for k in labelled if k != c and (m := _PLACE_OF_SUPPLY.match(texts[k]))), None)
                if place is not None:  # `PEM Iout   P0`
                    return PSU, place[1].lower(), texts[c], None, True
                number = next((s for k in slots if k != c and (s := slot_alone(texts[k]))), None)
                if number is not None and label_of(rest).side is not None:  # `psu_in   1`, with a unit beside it
                    return PSU, placed_in(member, number), texts[c], None, True
            if slot is None and kind is None and thing.kind == FAN and rest.lower() in ("state", "status"):
                return FAN, None, texts[c], None, True  # `fan-state   ok`: of all fans, which have no other name here
            if slot is None and kind is None and _TEMP_LED.match(texts[c]) is not None:
                return TEMP, None, texts[c], None, True  # `Temp: FC FANS`
            if slot is None and kind is None and rest:
                raise Unplaced(f"whether `{texts[c]}` is a supply or a fan is not told")
            if slot is None:
                other = next((s for k in slots if k != c and texts[k] and (s := slot_alone(texts[k]))), None)
                if other is not None:
                    return row_kind, placed_in(member, other), texts[c], None, False
            apart = not _SAME.search(thing.rest) or ROTOR_OF.search(texts[c]) is not None
            point = bool(rest) and slot is not None and apart and self.rotor(rest)
            name = texts[c]
            return row_kind, placed_in(member, slot) if slot else None, name, None, point
        numbers = [c for c in labelled if c not in members and slot_alone(texts[c]) is not None]
        if kind != FAN and len(numbers) > 1 and not self.distinct(numbers[0]) and self.labels[numbers[0]].thing is None:
            whose, own = numbers[:2]  # `Encl  PSU #`: the first says in what they stand, and not which one it is
            if self.distinct(own) or len(set(zip(self.cells[whose], self.cells[own], strict=True))) == len(
                self.cells[own]
            ):
                within = None if self.distinct(own) else _slot_of(texts[whose])
                return kind, placed_in(member, placed_in(within, slot_alone(texts[own]))), None, None, False
        for c in labelled:
            text = texts[c]
            if c in members and len([k for k in labelled if texts[k]]) > 1:
                member = member or _slot_of(text)
                continue
            if (
                _last_is_fan(self.heads[c])
                and (found := re.match(r"(?:tray|fan)?[- ]?(\d+(?:/\d+)+)\Z", text, re.IGNORECASE))
                and kind == FAN
                and self.heads[c].count("/") >= 1
            ):
                whole = found[1]
                if whole.count("/") >= self.heads[c].count("/") and whole.count("/") >= 2:
                    return FAN, whole.rsplit("/", 1)[0], text, None, True
            slot = slot_alone(text)
            if slot is not None and (not listed or c in slots):
                return kind, placed_in(member, slot), None, None, False
        if heading is not None and heading.slot:
            within = next((texts[c] for c in labelled if texts[c]), None)
            return kind, heading.slot, within, None, bool(within)
        if member is not None and members:
            return kind, member, None, None, False
        told = next((texts[c] for c in labelled if texts[c]), None)
        if kind == FAN and told is not None and _TRAY.match(told):
            return kind, _slot_of(told), told, None, False
        return kind, None, told, None, False

    def side_told(self, texts: list[str]) -> str | None:
        """The side that a cell of the row names, as `PS1  power-mon  input  55.00  229.00`."""
        told = {SIDES.get(t.lower()) for t in texts} - {None}
        return told.pop() if len(told) == 1 else None

    def counts(self, c: int) -> bool:
        """Whether a column numbers the rows."""
        said = [t for t in self.cells[c] if t]
        return bool(said) and said[0] in ("0", "1") and said == [str(n + int(said[0])) for n in range(len(said))]

    def holds_numbered(self, labelled: list[int]) -> int | None:
        """The column of slots within each of which things are numbered anew, as `0  PWR1`, `0  PWR2`, `1  PWR1`."""
        if self.held is None:
            self.held = (self._holds_numbered(labelled),)
        return self.held[0]

    def _holds_numbered(self, labelled: list[int]) -> int | None:
        inner = [c for c in labelled if self.labels[c].field == "thing" and not self.distinct(c)]
        outer = [
            c
            for c in labelled
            if self.labels[c].field == "slot"
            and self.labels[c].thing is None
            and self.labels[c].words & {"slot", "shelf", "rack", "frame", "subrack", "cabinet"}
            and all(t.isdigit() for t in self.cells[c])
        ]
        if len(inner) != 1 or len(outer) != 1 or outer[0] > inner[0]:
            return None
        pairs = list(zip(self.cells[outer[0]], self.cells[inner[0]], strict=True))
        return outer[0] if len(set(pairs)) == len(pairs) else None

    def figure_of_supply(
        self, texts: list[str], labelled: list[int], named: list[tuple[int, Thing]]
    ) -> tuple[str, str | None, str, None, bool] | None:
        """`PS: Input volts   PSU0`: one column says which supply, and another which of its figures."""
        whose = [(c, t) for c, t in named if t.kind == PSU and t.slot is not None and not t.rest.strip()]
        if len(whose) != 1:
            return None
        at, thing = whose[0]
        said = [
            c for c in labelled if c != at and (lab := label_of(texts[c])).field == "quantity" and lab.side is not None
        ]
        return (PSU, thing.slot, texts[said[0]], None, True) if len(said) == 1 else None

    def rotor(self, rest: str) -> bool:
        return any(ch.isalpha() for ch in rest) or rest.isdigit()

    def of_another_kind(self, kind: str | None, texts: list[str], labelled: list[int]) -> bool:
        """Whether a row's name tells a supply where fans are listed, or either where sensors are, and no figure that fits."""
        things = {t.kind for c in labelled if (t := thing_of(texts[c])) is not None}
        measured = {_dimension_of(t) for t in texts}
        if kind == FAN:
            return things == {PSU} and not measured & {"speed", "percent"}
        # A sensor may be absent with its part, and one that is not well need not tell a figure.
        told = any(condition_of(t) in (Condition.ABSENT, Condition.WARNING, Condition.FAILED) for t in texts)
        return kind == TEMP and bool(things) and "temperature" not in measured and not told

    @cached_property
    def units_at(self) -> int | None:
        """The column that tells the unit of each row."""
        return next((c for c in self.columns if self.labels[c].field == "units"), None)

    @cached_property
    def of_operation(self) -> list[int]:
        """The columns whose status is of the part that is measured, beside such as `Temp status`."""
        states = [c for c in self.columns if self.labels[c].field == "status"]
        if self.kind != TEMP or not any(self.labels[c].words & _HEAT for c in states):
            return []
        return [c for c in states if self.labels[c].words & _OPERATION]

    @cached_property
    def whole(self) -> list[bool]:
        """Of each column whether its label tells all that its cells are, in a row without a unit of its own."""
        return [
            lab.field not in ("unknown", "ignored")
            and not (lab.field == "value" and self.kinds_at is not None)
            and c not in self.of_operation
            for c, lab in enumerate(self.labels)
        ]

    def only_a_place(self, at: int, labelled: list[int]) -> bool:
        """Whether a row only names the place of the rows below it, which leave that column blank."""
        if len(labelled) < 2 or labelled[0] != 0 or at + 1 >= len(self.grid.rows) or self.grid.rows[at + 1].odd:
            return False
        here, below = self.grid.rows[at : at + 2]
        if not text_at(here, 0) or text_at(below, 0) or not text_at(below, labelled[1]):
            return False
        return not any(text_at(here, c) for c in self.columns[1:])

    def alike(self, c: int) -> bool:
        """Whether all cells of a column say the same."""
        return len({t for t in self.cells[c] if t and not is_blank(t)}) < 2

    def numbered(self, c: int) -> bool:
        """Whether the cells of a column count from nought or one, beside a status."""
        numbers = [int(t) if t.isdecimal() and len(t) < 3 else -1 for t in self.cells[c]]
        counted = (
            len(numbers) > 1 and numbers == list(range(numbers[0], numbers[0] + len(numbers))) and numbers[0] in (0, 1)
        )
        return counted and any(lab.field == "status" for lab in self.labels)

    def distinct(self, c: int) -> bool:
        """Whether no two rows have the same in a column."""
        return self._distinct[c]

    @cached_property
    def _distinct(self) -> list[bool]:
        filled = ([t for t in cells if t] for cells in self.cells)
        return [len(set(texts)) == len(texts) for texts in filled]

    @cached_property
    def numbered_as(self) -> list[list[str]]:
        """Of each column what a number below its label is of: its words without such as `index`."""
        return [[w for w in words_of(h) if w not in ("number", "no", "#", "index", "id", "idx")] for h in self.heads]

    @cached_property
    def worded(self) -> list[bool]:
        """Of each column whether a cell of it begins with a letter."""
        return [any(t[:1].isalpha() for t in cells) for cells in self.cells]

    def sensor(
        self, row: GridRow, texts: list[str], labelled: list[int], member: str | None, named: list[tuple[int, Thing]]
    ) -> tuple[str | None, str | None, str | None, str | None, bool]:
        """A sensor's name; the supply it stands in, if its name says."""
        parts: list[str] = []
        numbered: str | None = None
        told = any("description" in self.labels[c].words and texts[c] for c in labelled)
        for c in labelled:
            text = texts[c]
            if is_blank(text):
                continue
            number = (
                text[:1].isdigit()
                and slot_alone(text) is not None
                and text.replace("/", "").isalnum()
                and not any(ch.isalpha() for ch in text[:-1])
            )
            if number and told and self.labels[c].words & {"sensor", "index", "id", "no", "number", "#", "probe"}:
                continue
            if number:
                head = self.numbered_as[c]
                word = "sensor"
                if head and head[0] in ("sensor", "probe", "point"):
                    word, head = head[0], []
                parts.append((text if head[0] in ("location", "place") else f"{head[0]} {text}") if head else "")
                if not head:
                    numbered = f"{word} {text}"
            else:
                parts.append(unit_apart(text)[0])
        if len(parts) > 1 and all(slot_alone(texts[c]) is None for c in labelled if texts[c]):
            names = [c for c in labelled if texts[c] and self.labels[c].words & {"sensor", "name"}]
            if (
                len(names) == 1
                and not any(self.labels[c].words & _MEMBERS for c in labelled if c != names[0])
                and (self.distinct(names[0]) or self.cells[names[0]].count(texts[names[0]]) == 1)
            ):
                parts = [texts[names[0]]]
        alike = numbered is not None and not any(self.distinct(c) for c in labelled if self.worded[c])
        name = " ".join(p for p in (*parts, numbered) if p) if alike else ""
        name = name or " ".join(p for p in parts if p) or numbered or ""
        if member is not None and row.heading:
            name = f"{row.heading} {name}" if name else row.heading
        over = thing_of(row.heading) if row.heading else None
        inside = over.slot if over is not None and over.kind == PSU else None
        for _, thing in named:
            if thing.kind == PSU and thing.slot:
                inside = thing.slot
            elif thing.kind == FAN and thing.inside:
                inside = thing.inside
        if self.kind == TEMP or (
            member is None and set(words_of(row.heading)) & {"temperature", "temperatures", "thermal", "heat"}
        ):
            return TEMP, None, name, inside, False
        return None, None, name, None, False


_IN_CELSIUS = re.compile(r"[+-]?\d+(?:\.\d+)? ?°?C(?: ?/ ?\d+ ?°?F)?\Z")
ROTOR_OF = re.compile(r"(?:tray|module|drawer)[ _#-]{0,2}\d+[ ,/:_-]+(?:fan|rotor|blower)[ _#-]{0,2}\d", re.IGNORECASE)
_PART_TITLE = re.compile(r"(?P<what>[A-Z][A-Za-z]*(?: [A-Za-z]+)?) (?:status|state|information|info)", re.IGNORECASE)
_NUMBERED_SENSOR = re.compile(r"(?:sensor|temp|probe|temperature)[ _#-]?\d{1,2}", re.IGNORECASE)
_IN_DEGREES = re.compile(r"\bdeg(?:rees?)?\.? ?(?:C|centigrade|celsius)\b|°C|celsius", re.IGNORECASE)
SUM = re.compile(
    r"(?:grand |sub)?-?(?:totals?|sum|overall|average|avg|mean|summary)(?: (?:power|watts|load|used|output|input))?:?\Z",
    re.IGNORECASE,
)
_SAME = re.compile(r"\A[\s(\[]*(?:sys|system|chassis)?[ _-]*(?:fan|psu|ps)?[ _-]*\d*[)\]\s]*\Z", re.IGNORECASE)
_TRAY = re.compile(r"(?:tray|drawer|module|bay)[ _#-]*\d", re.IGNORECASE)


_BITS = re.compile(r"0x[0-9A-Fa-f]{1,6}")
_EXTREMES = frozenset(("min", "max", "minimum", "maximum", "lowest", "highest", "c", "deg", "degrees", "degc"))
_OF_A_ROW = frozenset(("id", "no", "num", "number", "index", "idx", "#"))
_BY_CURRENT = frozenset(("vac", "iac", "vdc", "idc"))
_OF_THINGS = frozenset(("voltage", "current", "power", "discrete", "digital", "state", "status", "presence"))
"""What a column of kinds may say of a sensor whose name tells which supply or fan it is of."""


@lru_cache(maxsize=2048)
def kind_said(text: str) -> str | None:
    """The kind that a cell such as `power supply` names, and nothing more."""
    thing = thing_of(text) if len(text) <= 24 else None
    if thing is not None and thing.slot is None and not thing.inside:
        rest = thing.rest.strip(" ()-").lower()
        if not rest or (thing.kind == PSU and rest in ("ac", "dc")):
            return thing.kind
    if plain(text) in ("supply", "supplies", "power"):
        return PSU
    if plain(text) in ("cooling",):
        return FAN
    return TEMP if plain(text) in ("temperature", "temperature sensor", "temp", "thermal", "sensor", "probe") else None


def _as_parts(rows: list[Taken], conditions: tuple[Condition, ...]) -> list[Taken]:
    """Rows whose supplies and fans of these conditions are parts of a list."""

    def part(r: AnyReading) -> AnyReading:
        if not isinstance(r, PowerSupply | Fan) or r.condition not in conditions:
            return r
        told = {
            name: getattr(r, name) for name in ("unit", "name", "serial", "part_number", "condition", "status_text")
        }
        return Inventory(description=None, **told)

    return [taken._replace(readings=tuple(map(part, taken.readings))) for taken in rows]


def _dimensioned(text: str) -> bool:
    return _dimension_of(text) is not None


def _dimension_of(text: str) -> str | None:
    """What a cell with a figure and a unit of its own measures."""
    if not any(map(str.isdigit, text)) or BARE_FIGURE.fullmatch(text) is not None:
        return None
    try:
        return next((DIMENSION[q.unit] for q in read_cell(text, None).quantities if q.unit in DIMENSION), None)
    except Unplaced:
        return None


_CONSUMES = frozenset(("drawn", "draw", "budget", "allocated", "requested", "granted", "consumed", "reserved"))
_THRESHOLDS = frozenset(("threshold", "thresholds", "thresh", "limit", "limits", "alarm", "warning", "trip"))


def _bare(text: str) -> float | None:
    """The figure that a cell begins with."""
    found = re.match(r"[+-]?\d+(?:\.\d+)?", text)
    return float(found.group()) if found else None


_STATED = re.compile(r"(?P<name>.+?) ?[\[(](?P<unit>[^\[\]()]{1,12})[\])]\Z")


def unit_apart(name: str) -> tuple[str, str | None]:
    """A sensor's name without the unit that stands in brackets behind it, as in `Inlet (Degrees C)`, and the unit."""
    found = _STATED.match(name) if name[-1:] in ")]" else None
    unit = unit_word(found["unit"]) if found is not None and len(found["unit"].strip()) > 1 else None
    return (found["name"], unit) if found is not None and unit is not None else (name, None)


def _unit_said(text: str) -> str | None:
    """The unit of a row that a cell such as `RPM` or `Temp C` tells."""
    *before, last = text.split() or [""]
    return unit_word(text) or (unit_word(last) if before and _MEASURED.issuperset(w.lower() for w in before) else None)


def unit_above(texts: list[str]) -> str | None:
    """The unit that a row such as `Temperature (C)`, with no cell beside it, tells for the rows below it."""
    if not texts[0] or any(texts[1:]) or any(ch.isdigit() for ch in texts[0]):
        return None
    label = label_of(texts[0])
    told = label.unit in ("C", "F", "rpm") and label.field in ("value", "speed", "thing") and not label.words & FOREIGN
    return label.unit if told else None


_MEASURED = frozenset(("temp", "temperature", "input", "output", "voltage", "current", "power", "speed", "fan"))
_TAKEN = frozenset(("used", "drawn", "draw", "consumed", "consumption"))
_PART_NAME = re.compile(r"(?:slot|card|line ?card|module|blade|fpc|lc)[ #_-]*\d+\Z", re.IGNORECASE)
_REMARKS = frozenset(
    ("remark", "remarks", "note", "notes", "info", "information", "comment", "comments", "extra", "additional", "detail", "details", "message")
)  # fmt: skip
_HEAT = frozenset(("temp", "temperature", "temperatures", "thermal"))
_OPERATION = frozenset(("oper", "operational", "operstatus", "operstate", "opstatus"))
_NOT_BAD = (None, Condition.OK, Condition.STANDBY)
_RAIL_NAME = re.compile(r"\brails?\b|^[+-]?\d+(?:\.\d+)? ?V(?:DD|CC)?\b", re.IGNORECASE)
_PLACES = frozenset(
    ("inlet", "outlet", "intake", "exhaust", "front", "rear", "ambient", "cpu", "asic", "hotspot", "air", "left", "right", "middle",
     "center", "board", "in", "out")
)  # fmt: skip
_PLACE_OF_THING = re.compile(
    r"(?!(?i:(?:out|in)(?:put)?s?\b|rail|phase|ch(?:annel)?\b|line|circuit|limit))(?P<word>[A-Za-z]{2,10})[ #-]?(?P<slot>\d{1,2}|[A-Za-z])"
)
"""`Feed A` and `Feed B`, each over a column of what is told of a supply."""
_PLACE_OF_SUPPLY = re.compile(r"p(?:s|su|em|m|wr)?[ _-]?(\d{1,2}|[ab])\Z", re.IGNORECASE)


def _of_a_supply(texts: list[str]) -> tuple[str, Label] | None:
    """Of a sensor such as `Vin` at a place such as `P0` the slot of the supply, and what the sensor measures."""
    said = next((lab for t in texts if (lab := label_of(t)).field == "quantity" and lab.side is not None), None)
    place = next((m for t in texts if (m := _PLACE_OF_SUPPLY.match(t))), None)
    return (place[1].lower(), said) if said is not None and place is not None else None


def _slot_of(text: str) -> str | None:
    found = re.search(r"(\d{1,3}(?:/\d{1,3})*[A-Za-z]?)\s*\Z", text.strip())
    if found is not None and _MEASURED_UNIT.search(found[1]):
        found = None  # `DC feed 48V`
    return slot_alone(text) or (found[1].lower() if found else None)


_MEASURED_UNIT = re.compile(r"\d{2}[VAWvw]\Z")


def _last_is_fan(head: str) -> bool:
    return "/" in head and head.rstrip().lower().endswith("fan")


_RAIL = re.compile(r"[+-]?\d+(?:\.\d+)?V(?:\d|[ _-]|\Z)|\bVCC|\bVDD", re.IGNORECASE)


def unit_of_name(name: str, value: str) -> str | None:
    """The unit of a bare figure, where the sensor's own name leaves no doubt: `CPU temp`, `+12V`, `Fan 1 (rpm)`."""
    said = label_of(name)
    if said.unit is not None and "/" not in said.unit:
        return said.unit
    if said.words & {"current", "curr", "amps"} and re.search(r"\d ?V(?![A-Za-z])", name):
        return None if said.words & {"voltage", "volts"} else "A"  # `Current 12V`: the volts are those of the rail
    if _RAIL.match(name.strip()):
        return "V"
    if said.dimension == "temperature" or named_for_heat(name):
        return "C"
    if said.dimension in ("voltage", "current", "power") and said.words & {
        "voltage",
        "volts",
        "current",
        "amps",
        "watts",
        *SIDED,
    }:
        return {"voltage": "V", "current": "A", "power": "W"}[said.dimension]
    if said.thing is not None and said.thing.kind == FAN and BARE_FIGURE.fullmatch(value) and float(value) > 250:
        return "rpm"
    return None


_OF_AIR = frozenset(("inlet", "outlet", "exhaust", "ambient", "die", "dts", "td"))
"""Places of air and chips; `DTS` is the digital thermal sensor of a processor, `TD` a thermal diode."""
_OF_BOARD = frozenset(("cpu", "board", "system", "chassis", "air", "asic", "main", "core", "front", "rear"))


def named_for_heat(name: str) -> bool:
    """`Board Inlet`, `CPU Die`: of such a place nothing but the temperature is measured by a bare figure."""
    words = {w for w in words_of(name) if not w.isdigit()}
    return bool(words & _OF_AIR) and words <= _OF_AIR | _OF_BOARD


def _told_in(text: str) -> list[tuple[Label, str]]:
    """What a cell such as `Vin 230 V, Vout 12 V` holds, by part; nothing where it is one value, or not clear."""
    if not any(ch.isalpha() for ch in text) or not ("," in text or "(" in text or ";" in text):
        return []
    found = phrases_of(text)
    if found is not None and all(lab.field == "value" and lab.dimension == "temperature" for lab, _ in found):
        return []  # one temperature in two scales
    return (
        found
        if found is not None and len(found) > 1 and all(lab.field != "value" or lab.dimension for lab, _ in found)
        else []
    )


def _from_name(entry: Entry, name: str) -> Entry:
    """The value of a sensor of a supply: its name says of which side it is."""
    if entry.label.field != "value":
        return entry
    label = label_of(name)
    if label.side is None and label.field not in ("value",):
        return entry
    return entry._replace(label=entry.label._replace(field="quantity", side=label.side)) if label.side else entry


# Tables without a header: only where the cells themselves leave no doubt.

_HEX_ID = re.compile(r"[0-9A-Fa-f]{2}h\Z")
_MASK = re.compile(r"0x[0-9A-Fa-f]+\Z")
_ENTITY = re.compile(r"\d{1,3}\.\d{1,3}\Z")
_STATUS_WORDS = frozenset(("ok", "ns", "nc", "cr", "nr", "lnc", "lcr", "lnr", "unc", "ucr", "unr"))


def _headless(grid: Grid, titles: list[str]) -> ReadGrid:
    if not grid.rows:
        return _nothing("no row stands there")
    width = max(len(r.cells) for r in grid.rows)
    cells = [[text_at(row, c) for row in grid.rows] for c in range(width)]
    if any(re.match(r"\d\d/\d\d/\d{2,4}\Z|\d\d:\d\d:\d\d", t) for column in cells for t in column):
        return _nothing("the lines are events with a time")
    fields: list[str] = []
    limits = 0
    entity_at: int | None = None
    for c, column in enumerate(cells):
        filled = [t for t in column if t]
        if c == 0:
            fields.append("name")
        elif filled and all(_HEX_ID.match(t) for t in filled):
            fields.append("ignored")
        elif (
            filled
            and all(plain(t) in _STATUS_WORDS or _MASK.match(t) or is_blank(t) for t in filled)
            and any(plain(t) in _STATUS_WORDS for t in filled)
        ):
            fields.append("status")
        elif filled and "status" in fields and all(_ENTITY.match(t) for t in filled) and width == 5:
            fields.append("ignored")
            entity_at = c
        elif (
            filled
            and sum(unit_word(t) is not None for t in filled) * 2
            >= len([t for t in filled if plain(t) not in ("discrete",)])
            > 0
        ):
            fields.append("units")
        elif any(_dimensioned(t) for t in filled) or (
            c == 1
            and filled
            and all(re.match(r"[+-]?\d+(?:\.\d+)?\Z", t) or _MASK.match(t) or is_blank(t) for t in filled)
        ):
            fields.append("value")
        elif "status" in fields and filled and all(re.match(r"[+-]?\d+(?:\.\d+)?\Z", t) or is_blank(t) for t in filled):
            fields.append("limit")
            limits += 1
        else:
            fields.append("unknown")
    if fields.count("value") != 1 or fields.count("status") != 1 or "unknown" in fields or limits not in (0, 6):
        return _nothing("what the columns are is not told")
    if limits == 6 and "units" not in fields:
        return _nothing("what the columns are is not told")
    value_at, status_at = fields.index("value"), fields.index("status")
    units_at = fields.index("units") if "units" in fields else None
    order = iter((("low", 5.0), ("low", 4.0), ("low", 2.0), ("high", 2.0), ("high", 4.0), ("high", 5.0)))
    bounds = {c: Limit(*(side := next(order)), pinned=side[1] == 4.0) for c, f in enumerate(fields) if f == "limit"}
    rows = []
    for row in grid.rows:
        texts = [(cell.text if cell is not None else "") for cell in row.cells] + [""] * (width - len(row.cells))
        if entity_at is not None and cells[0].count(texts[0]) > 1:
            texts[0] = f"{texts[0]} {texts[entity_at]}"  # `Temp` of one processor, and of the other
        try:
            rows.append(Taken(row, (_listed(texts, value_at, status_at, units_at, bounds),), ""))
        except Unplaced as reason:
            rows.append(Taken(row, (), str(reason)))
    about = ", ".join(dict.fromkeys(r.kind for t in rows for r in t.readings))
    columns = tuple((f"column {c + 1}", f) for c, f in enumerate(fields))
    return ReadGrid(about, columns, tuple(rows), "fair", "" if about else "no row could be read")


def _listed(
    texts: list[str], value_at: int, status_at: int, units_at: int | None, bounds: dict[int, Limit]
) -> AnyReading:
    """One row of a list of sensors: name, value, status, and limits from the lowest to the highest."""
    name = texts[0]
    value = texts[value_at]
    if units_at is not None and plain(texts[units_at]) == "discrete" and _MASK.match(value):
        return _of_states(name, texts[status_at])
    if units_at is None and value and (_MASK.match(value) or not (is_blank(value) or any(map(str.isdigit, value)))):
        return _of_states(name, value)
    unit = unit_word(texts[units_at]) if units_at is not None else None
    bare = units_at is not None and all(is_blank(texts[c]) for c in (value_at, status_at, units_at, *bounds))
    nothing = units_at is not None and is_blank(texts[units_at]) and is_blank(value)  # a state, and no figure
    if units_at is not None and unit is None and not bare and not nothing:
        raise Unplaced(f"`{texts[units_at]}` is no unit that is known")
    if not is_blank(value):
        read = read_cell(value, unit)
        if len(read.quantities) != 1 or read.words:
            raise Unplaced(f"`{value}` is not one value")
    elif units_at is None or bare:
        said = label_of(name)
        unit = said.unit or {"temperature": "C", "speed": "rpm"}.get(said.dimension or "")
        if unit is None and said.thing is not None and said.thing.kind == FAN and said.field == "thing":
            unit = "rpm"
        if unit is None:
            raise Unplaced("no value stands there")
    return sensor_reading(
        name,
        value,
        unit,
        [Entry(STATUS, texts[status_at], "status")],
        [Entry(Label("limit", limit=b, unit=unit), texts[c], f"column {c + 1}") for c, b in bounds.items()],
    )


def _of_states(name: str, states: str) -> AnyReading:
    """A supply's or a fan's sensor of states: which of them are set, in words or as a mask, and no figure.

    That the sensor itself can be read, as the list's status says, tells nothing of the part.
    """
    said = label_of(name)
    thing = said.thing
    if thing is None or thing.slot is None or is_blank(states):
        raise Unplaced(f"`{states}` is not one value")
    if said.dimension == "temperature":
        return reading_of(
            [Entry(STATUS, states, "states")], TEMP, None, name, thing.slot if thing.kind == PSU else None
        )
    slot, inside = (None, thing.inside) if thing.inside else (thing.slot, None)
    return reading_of([Entry(STATUS, states, "states")], thing.kind, slot, name, inside, point=True)


def sensor_reading(name: str, value: str, unit: str | None, status: list[Entry], limits: list[Entry]) -> AnyReading:
    """A reading of a list of sensors of all kinds; the unit of the value decides what it is. Raises Unplaced."""
    said = label_of(name)
    thing = said.thing
    dimension = None
    if unit is not None:
        dimension = OF_UNIT.get(unit)
    elif not is_blank(value):
        measured = read_cell(value, None).quantities
        if not measured:
            raise Unplaced(f"`{value}` is not a value")
        dimension = DIMENSION.get(measured[0].unit)
    words = set(words_of(name))
    if (
        words
        & FOREIGN
        & {"transceiver", "xcvr", "sfp", "qsfp", "xfp", "osfp", "optic", "optics", "optical", "laser", "dbm"}
    ):
        raise Unplaced("a sensor of an optic")
    if dimension == "temperature":
        inside = thing.slot if thing is not None and thing.kind == PSU else thing.inside if thing is not None else None
        entry = Entry(Label("value", unit=unit, dimension="temperature"), value, "value")
        return reading_of([entry, *status, *limits], TEMP, None, name, inside)
    if dimension in ("speed", "percent") and (dimension == "speed" or (thing is not None and thing.kind == FAN)):
        field = "speed" if dimension == "speed" else "percent"
        entry = Entry(Label(field, unit=unit, dimension=dimension), value, "value")
        inside = thing.inside if thing is not None else None
        slot = thing.slot if thing is not None and thing.kind == FAN and not inside else None
        if thing is not None and thing.kind == PSU:
            inside, slot = thing.slot, None
        if slot is not None and len(slot) > 1 and slot[-1].isalpha():
            slot = slot[:-1]
        return reading_of([entry, *status, *limits], FAN, slot, name, inside, point=True)
    if dimension in ("voltage", "current", "power"):
        if thing is not None and thing.kind == PSU and thing.slot is not None:
            if said.side is None and dimension != "voltage":
                raise Unplaced(f"`{name}`: of the input or the output is not told")
            entry = Entry(Label("quantity", side=said.side, unit=unit, dimension=dimension), value, "value")
            return reading_of([entry, *status, *limits], PSU, thing.slot, name, point=True)
        entry = Entry(Label("quantity", unit=unit, dimension=dimension), value, "value")
        return reading_of([entry, *status, *limits], None, None, name, rails=True)
    raise Unplaced(f"what `{name}` measures is not told")
