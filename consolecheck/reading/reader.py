"""The one door from raw bytes to a snapshot of typed readings."""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache, partial
from typing import NamedTuple

from consolecheck.reading.captured import begins_with_pager, begins_with_prompt, kinds_of, split
from consolecheck.reading.dialect import Dialect, DialectFault
from consolecheck.reading.flat import Flat, flattened
from consolecheck.reading.memory import SECTIONS
from consolecheck.reading.rows import RowReader, UnreadableRow
from consolecheck.reading.screen import LONGEST_LINE, CleanText, clean, without_harmless_overwriting, without_pager
from consolecheck.reading.template import Template
from consolecheck.reading.walk import Columns, in_rows
from consolecheck.records.readings import Condition, Kind, Sighting, Snapshot, TableSeen, TakenAs
from consolecheck.records.text import BREAK_MARK, Line, Section, UnreadLine

LEAST_WEIGHT = 2
"""A single weak hint is not enough to call a family recognised."""


class NotRecognised(ValueError):
    """No dialect, or no single one, speaks for the text. `candidates` are the equals, if any."""

    def __init__(self, message: str, candidates: Sequence[str] = ()) -> None:
        self.candidates = tuple(candidates)
        super().__init__(message)


def recognise(raw: bytes, dialects: Sequence[Dialect]) -> Dialect:
    """The dialect whose evidence weighs most in the text.

    Raises NotRecognised where none has any, or where two weigh the same: then a person decides.
    """
    return _recognised("\n".join(clean(raw).contents), dialects)


def _recognised(joined: str, dialects: Sequence[Dialect]) -> Dialect:
    weighed = sorted(((d.weight(joined), d.name, d) for d in dialects), key=lambda w: (-w[0], w[1]))
    if not weighed or weighed[0][0] < LEAST_WEIGHT:
        raise NotRecognised("no known device family prints text like this")
    best = [d for weight, _, d in weighed if weight == weighed[0][0]]
    if len(best) > 1:
        names = [d.name for d in best]
        raise NotRecognised(f"the text fits {' and '.join(f'`{n}`' for n in names)} equally well", names)
    return best[0]


def read_text(raw: bytes, source: str, dialects: Sequence[Dialect], chosen: Dialect | None = None) -> Snapshot:
    """Everything that a dialect can read of a captured text, with the lines that it cannot.

    `source` names the text in messages. `chosen` overrides recognition. Raises NotRecognised, and
    DialectFault where the dialect itself is broken.
    """
    text = clean(raw)
    dialect = chosen or _recognised("\n".join(text.contents), dialects)
    assert dialect.sound
    try:
        return _read_as(dialect, text, source)
    except re.error as reason:
        raise DialectFault(dialect.file, "", f"`{reason.pattern!r}` is not a regular expression: {reason}") from None


def read_unknown(raw: bytes, source: str, words: Mapping[str, Condition] | None = None) -> Snapshot:
    """What can be read of a text that no dialect knows, by its layout, the trade's vocabulary, and words of which a person stated what they mean.

    The basis is `inferred`, and `taken_as` says of each table what its labels were taken for. What is not
    clear is unread. Raises nothing, whatever the bytes.
    """
    from consolecheck.reading.inference.text import read_as_unknown

    return read_as_unknown(clean(raw), source, words)


def _read_as(dialect: Dialect, text: CleanText, source: str) -> Snapshot:
    for harmless in (dialect.pager, dialect.prompt):
        if harmless is not None and text.overwritten:
            text = without_harmless_overwriting(text, harmless)
    kinds = kinds_of(text, dialect)
    if dialect.pager is not None and begins_with_pager(kinds):
        text = without_pager(text, dialect.pager)
        kinds = kinds_of(text, dialect)
    prompts = [at for at, kind in enumerate(kinds) if kind and begins_with_prompt(kind)]
    reader = _reader(dialect)
    sightings: list[Sighting] = []
    tables: list[TableSeen] = []
    unread: list[UnreadLine] = []
    passed_over: list[UnreadLine] = []
    hosts: dict[str, int] = {}
    if dialect.joined:  # a table may be in several parts of the text
        prompts = []
    begin = 0
    for end in [*prompts, len(text.contents)]:
        if end > begin:
            told = reader.read_part(text, kinds, begin, end)
            sightings += told[0]
            tables += told[1]
            unread += told[2]
            passed_over += told[3]
            for host, number in told[4].items():
                hosts.setdefault(host, number)
        begin = end
    unread.sort()
    passed_over.sort()
    return Snapshot(
        source=source,
        dialect=dialect.name,
        basis="inferred" if dialect.manifest.drafted else "template",
        sightings=tuple(sightings),
        tables=tuple(tables),
        unread=tuple(unread),
        passed_over=tuple(passed_over),
        hosts=hosts,
        last_line=text.last_number,
        printed=text.digest,
        commands=reader.commands,
        lamps=reader.lamps,
        dialect_digest=dialect.digest,
        taken_as=_taken_as(dialect, sightings, tables) if dialect.manifest.drafted else (),
    )


def _taken_as(dialect: Dialect, sightings: Sequence[Sighting], tables: Sequence[TableSeen]) -> tuple[TakenAs, ...]:
    """What the values of a draft's templates were taken as, for a person to confirm: of this very draft, by its SHA-256."""
    told: dict[str, TakenAs] = {}
    for table in tables:
        rows = [s for s in sightings if s.table == table.table]
        if not rows or table.table in told:
            continue
        columns: dict[str, set[str]] = {}
        for sighting in rows:
            fields = sighting.row.fields
            for field in fields:
                meant = {field}
                if field == "value":
                    meant = {q for q in sighting.reading.quantities() if q not in fields} or {field}
                columns.setdefault(field.upper(), set()).update(m.replace("_", " ") for m in meant)
        told[table.table] = TakenAs(
            table.table,
            f"a draft, SHA-256 {dialect.digest}: {table.table}",
            tuple((field, ", ".join(sorted(meant))) for field, meant in columns.items()),
            (),
            table.first_line,
            table.last_line,
            "fair",
        )
    return tuple(told.values())


def _joined(sections: Sequence[Section], dialect: Dialect) -> list[Section]:
    """The sections, with those put together of which each command prints a part, such as one column of a walk."""
    joined: list[Section] = []
    at: dict[str, int] = {}
    for section in sections:
        name = section.table or ""
        if name not in dialect.joined:
            joined.append(section)
        elif name not in at:
            at[name] = len(joined)
            joined.append(section)
        else:
            first = joined[at[name]]
            endings = (first.ending, section.ending)
            ending = next((e for e in ("pager", "mid-line", "text-end") if e in endings), section.ending)
            joined[at[name]] = Section(name, first.lines + section.lines, ending, first.command)
    return joined


_LARGEST_REMEMBERED = 16384
"""Characters of a part of a text, line ends too."""
_Told = tuple[list[Sighting], list[TableSeen], list[UnreadLine], list[UnreadLine]]
_Part = tuple[list[Sighting], list[TableSeen], list[UnreadLine], list[UnreadLine], dict[str, int]]


def _size(lines: Sequence[str]) -> int:
    """Characters of lines with their ends: an empty one takes room, too."""
    return sum(map(len, lines)) + len(lines)


def forget(dialect: Dialect) -> None:
    """Drops what earlier texts left behind. Nothing that is read depends on it, only how fast."""
    dialect.forget()
    reader = _reader(dialect)
    reader.parts.clear()
    reader.sections.clear()
    for table in reader.tables.values():
        table.rows.known.clear()
        table.rows.chosen.clear()


class _Table(NamedTuple):
    """A table of a dialect, ready to read."""

    template: Template
    rows: RowReader
    in_rows: bool
    footer: re.Pattern[str] | None
    rows_stated: re.Pattern[str] | None


class _Reader:
    """A dialect's tables, ready to read. What it remembers of earlier texts follows from the dialect alone."""

    def __init__(self, dialect: Dialect) -> None:
        self.dialect = dialect
        self.tables: dict[str, _Table] = {}
        self.parts: dict[tuple[object, ...], _Part] = {}
        self.sections: dict[Section, _Told] = {}
        self.kinds: dict[str, tuple[Kind, ...]] = {}
        self.ends: dict[str, tuple[re.Pattern[str] | None, re.Pattern[str] | None]] = {}
        self.commands: dict[str, tuple[str, ...]] = {}
        self.lamps: dict[str, dict[str, Condition]] = {
            which: {shows.lower(): lamp.condition for shows, lamp in chart.items()}
            for which, chart in dialect.manifest.lamps.items()
        }
        for name, table in dialect.manifest.tables.items():
            self.kinds[name] = tuple(
                dict.fromkeys(k for s in (table, *dialect.manifest.sorts_of(table)) if (k := s.kind or table.kind))
            )
            self.ends[name] = (
                re.compile(table.footer) if table.footer else None,
                re.compile(table.rows_stated) if table.rows_stated else None,
            )

        for command in dialect.manifest.commands:
            # A command that shows everything says less about where to look than one for the table alone.
            for kind in dict.fromkeys(k for t in command.tables for k in (*self.kinds[t], *_named(dialect, t))):
                known = self.commands.get(kind, ())
                self.commands[kind] = (command.send, *known) if len(command.tables) == 1 else (*known, command.send)

    def read_part(self, text: CleanText, kinds: list[int], begin: int, end: int) -> _Part:
        """What the lines from one place to before another say, which begin with a prompt or the text and end before a
        prompt or with the text. Those that were read lately, at the same place, are not read again."""
        last = end == len(text.contents)
        contents = text.contents[begin:end]
        key: tuple[object, ...] = (
            last,
            last and text.ends_mid_line,
            last and text.ends_at_pager,
            begin if text.plain else None,
            "\n".join(contents) if text.plain else tuple(text.part(begin, end)),
        )
        told = self.parts.get(key)
        if told is None:
            told = self._read_part(text, contents, kinds, begin, end)
            if _size(contents) <= _LARGEST_REMEMBERED:
                SECTIONS.one_more(self.parts)
                self.parts[key] = told
        return told

    def _read_part(self, text: CleanText, contents: list[str], kinds: list[int], begin: int, end: int) -> _Part:
        told: _Told = [], [], [], []
        last = end == len(text.contents)
        part = CleanText(text.part(begin, end), text.ends_mid_line, text.ends_at_pager, False, contents)
        parts = split(part, self.dialect, kinds[begin:end], prompt_follows=not last)
        _, _, unread, passed_over = told
        for line in parts.foreign:
            if line.text.startswith(BREAK_MARK):
                unread.append(UnreadLine(line.number, line.text, "the capture broke off here"))
            else:
                why = "output of a command that the dialect does not list"
                passed_over.append(UnreadLine(line.number, line.text, why))
        sections = _joined(parts.sections, self.dialect) if self.dialect.joined else parts.sections
        for section in sections:
            if len(sections) > 1:
                self.read_section(section, *told)
            else:  # remembered with the part
                self._read_section(section, *told)
        for line in parts.stray:
            self.file_away(line, None, line.doubt or "stands in no table that is known", unread, passed_over)
        return (*told, parts.hosts)

    def read_section(
        self,
        section: Section,
        sightings: list[Sighting],
        tables: list[TableSeen],
        unread: list[UnreadLine],
        passed_over: list[UnreadLine],
    ) -> None:
        """Adds what one table's part of a text says; one that was read lately, at the same lines, is not read again."""
        told = self.sections.get(section)
        if told is None:
            told = [], [], [], []
            self._read_section(section, *told)
            if _size([line.text for line in section.lines]) <= _LARGEST_REMEMBERED:
                SECTIONS.one_more(self.sections)
                self.sections[section] = told
        sightings += told[0]
        tables += told[1]
        unread += told[2]
        passed_over += told[3]

    def _read_section(
        self,
        section: Section,
        sightings: list[Sighting],
        tables: list[TableSeen],
        unread: list[UnreadLine],
        passed_over: list[UnreadLine],
    ) -> None:
        name = section.table
        assert name is not None, "split keeps lines without a table apart"
        table = self.tables.get(name) or self._table(name)
        flat, refused = None, ""
        lines: Sequence[Line] = section.lines
        if not table.in_rows:
            flat, refused = self._flat(lines, name, unread, passed_over)
            lines = flat.lines
        rows, unclaimed, last = table.template.rows(lines)
        cut = _CUTS.get(section.ending, "")
        ended = section.ending in ("prompt", "next")
        counted = False
        if flat is not None:
            rows = [flat.placed(row) for row in rows]
            _blame(section.lines, unclaimed, name, unread)
            unclaimed = flat.unread
            if section.ending == "mid-line" and flat.documents and not flat.unread:
                cut = ""  # brackets close a document, with or without a line end behind them
            cut = cut or refused
            ended = not flat.unread and (ended or (flat.documents == 1 and not cut))
        footer, rows_stated = table.footer, table.rows_stated
        if footer is not None or rows_stated is not None:
            for line in reversed(section.lines):
                if rows_stated is not None and (found := rows_stated.match(line.text, 0, LONGEST_LINE)):
                    ended = True
                    counted = int(found.group(1)) == len(rows)
                    if not counted:
                        cut = f"line {line.number} states {found.group(1)} rows and {len(rows)} were read"
                    break
                if footer is not None and footer.match(line.text, 0, LONGEST_LINE):
                    ended = True
                    break
            else:
                # A table that always closes with a footer and has none was cut, whatever follows it.
                cut = cut or "the line that closes the table is missing"
                ended = False
        for row in rows:
            try:
                sightings.append(_sighting((table.rows.reading(row), row, name, ended)))
            except UnreadableRow as reason:
                numbers = set(row.lines)
                unread.extend(
                    UnreadLine(line.number, _shown(line.text), str(reason), name)
                    for line in section.lines
                    if line.number in numbers
                )
        for line in unclaimed:
            if flat is not None:
                line = line._replace(text=_shown(line.text))
            said = self.file_away(line, name, line.doubt or "no rule of the template fits", unread, passed_over)
            cut = cut or said
        first = section.lines[0].number if section.lines else last
        end = section.lines[-1].number if section.lines else first
        tables.append(TableSeen(name, self.kinds[name], first, end, ended, cut, len(rows), counted))

    def _table(self, name: str) -> _Table:
        """Makes a table ready to read. Raises DialectFault."""
        made = self.tables[name] = _Table(
            self.dialect.template(name),
            RowReader(self.dialect, name),
            self.dialect.manifest.tables[name].layout == "rows",
            *self.ends[name],
        )
        return made

    def _flat(
        self, lines: Sequence[Line], table: str, unread: list[UnreadLine], passed_over: list[UnreadLine]
    ) -> tuple[Flat, str]:
        """A table that is not printed row by row, in rows and without the device's messages between its lines; and why
        it is incomplete, or ''."""
        kept = []
        cut = ""
        for line in lines:
            if not line.doubt and any(
                p is not None and p.match(line.text) for p in (self.dialect.log, self.dialect.refusal)
            ):
                cut = self.file_away(line, table, "", unread, passed_over) or cut
            else:
                kept.append(line)
        described = self.dialect.manifest.tables[table]
        if described.layout == "json":
            return flattened(kept), cut
        columns = Columns(described.columns, described.enumerations, described.bits_of, described.inside)
        return in_rows(kept, columns), cut

    def file_away(
        self,
        line: Line,
        table: str | None,
        reason: str,
        unread: list[UnreadLine],
        passed_over: list[UnreadLine],
    ) -> str:
        """Puts a line that no rule claimed where it belongs; returns why its table is incomplete, or ''."""
        if not line.doubt and (log := self.dialect.log) and log.match(line.text):
            passed_over.append(UnreadLine(line.number, line.text, "console log message", table))
            return ""
        if not line.doubt and (refusal := self.dialect.refusal) and refusal.match(line.text):
            passed_over.append(UnreadLine(line.number, line.text, "error reply of the device", table))
            return f"an error reply stands on line {line.number}"
        unread.append(UnreadLine(line.number, line.text, reason, table))
        return ""


_sighting = partial(tuple.__new__, Sighting)
_SHOWN = 200
"""Characters that a message shows of a raw line that is too long; JSON often stands on one line."""


def _shown(text: str) -> str:
    return text if len(text) <= LONGEST_LINE else text[:_SHOWN] + " ..."


def _blame(raw: Sequence[Line], unclaimed: Sequence[Line], table: str, unread: list[UnreadLine]) -> None:
    """Names the raw lines on which values stand that the template does not claim, once each."""
    values: dict[int, list[str]] = {}
    for line in unclaimed:
        values.setdefault(line.number, []).append(line.text)
    for line in raw:
        if told := values.pop(line.number, None):
            more = f" and {len(told) - 1} more of this line" if len(told) > 1 else ""
            unread.append(
                UnreadLine(line.number, _shown(line.text), f"no rule of the template fits `{told[0]}`{more}", table)
            )


def _named(dialect: Dialect, table: str) -> list[str]:
    """Facts of the device that a table gives by a fixed name, such as `uptime`."""
    rules = (dialect.manifest.tables[table], *dialect.manifest.sorts_of(dialect.manifest.tables[table]))
    return [rule.name for rule in rules if rule.name and "{" not in rule.name]


_CUTS = {
    "pager": "the text ends at an unanswered pager prompt",
    "mid-line": "the text ends in the middle of a line",
}


@lru_cache(maxsize=64)
def _reader(dialect: Dialect) -> _Reader:
    return _Reader(dialect)
