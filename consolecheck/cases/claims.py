"""Which lines a dialect's templates claim that they need not: recorded, so that a template cannot become looser unseen.

From the lines of a dialect's cases a few are taken, one or two for each rule of each template (`Seed`). Each is then
spoilt in fixed ways (`spoilt`): digits replaced by letters, words by other words, two cells exchanged, columns
shifted, a cell added or lost; and lines of other tables are tried where it stood. What the template claims of those
is recorded beside the cases in `claimed.json`. A template that later claims more than that has become looser, and
the check fails and shows the line. Some such lines must be claimed, since a serial may be any word; what counts is
the difference. The patterns for log messages, refusals and prompts are tried on the same lines, since a line that
they claim vanishes.

The seeds stand in the record, so that a new case alone does not change what is compared.
"""

import itertools
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from consolecheck.cases.case import Case
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import read_text
from consolecheck.reading.template import Template
from consolecheck.records.text import Line, Row

RECORD: Final = "claimed.json"
SEEDS_A_RULE: Final = 2
LONGEST_SEED: Final = 400
"""Characters; a longer line teaches no more and fills the record."""
_ATOM = re.compile(r"[^\s|,:=/\"\[\]{}()<>]+")
_SHAPE = re.compile(r"\d+|[A-Za-z]+")
_CONTINUE, _ERROR = 1, 2


class Seed(NamedTuple):
    """A line of a case, with the table and the state in which its template claimed it."""

    table: str
    state: str
    text: str


class Claims(NamedTuple):
    """What is claimed beyond what the cases show."""

    seeds: Mapping[Seed, frozenset[str]]
    """Seed -> the ways of spoiling it after which it is still claimed."""
    strangers: frozenset[Seed]
    """Lines of other tables that a state claims."""
    patterns: Mapping[str, frozenset[str]]
    """`log`, `refusals`, `prompt` -> lines of tables that the pattern claims."""


def spoilt(text: str) -> dict[str, str]:
    """Way of spoiling -> the line so spoilt; always the same for the same line, and never the line itself."""
    atoms = list(_ATOM.finditer(text))
    made: dict[str, str] = {}
    for number, atom in enumerate(atoms):
        word = atom[0]
        if any(c.isdigit() for c in word):
            made[f"letters for digits {number}"] = _put(text, atom, re.sub(r"\d", "x", word))
        if any(c.isalpha() for c in word):
            made[f"another word {number}"] = _put(text, atom, re.sub(r"[A-Za-z]", "q", word))
            made[f"a number for a word {number}"] = _put(text, atom, re.sub(r"[A-Za-z]", "7", word))
    for number, (one, other) in enumerate(itertools.pairwise(atoms)):
        between = text[one.end() : other.start()]
        made[f"exchanged {number}"] = f"{text[: one.start()]}{other[0]}{between}{one[0]}{text[other.end() :]}"
    made["shifted"] = f"   {text}"
    made["a word more"] = f"{text}  extra"
    made["a number more"] = f"{text}  77"
    if len(atoms) > 1:
        last = atoms[-1]
        made["last column shifted"] = f"{text[: last.start()]}     {text[last.start() :]}"
        made["last cell lost"] = text[: last.start()].rstrip()
        made["first cell lost"] = text[atoms[1].start() :]
    return {way: line for way, line in made.items() if line != text}


def _put(text: str, atom: re.Match[str], word: str) -> str:
    return text[: atom.start()] + word + text[atom.end() :]


def claimed(template: Template, state: str, text: str) -> int | None:
    """The place of the rule that claims a line in a state, or None where nothing does."""
    for number, rule in enumerate(template.states.get(state, ())):
        if rule.match(text) is not None and rule.line_op != _CONTINUE:
            return None if rule.line_op == _ERROR else number
    return None


class _Watched(Template):
    """A template that keeps what it was shown, section by section."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.shown: list[list[Line]] = []

    def rows(self, lines: Sequence[Line]) -> tuple[list[Row], list[Line], int]:  # type: ignore[override]
        self.shown.append(list(lines))
        return super().rows(lines)

    def claims(self) -> Iterator[tuple[str, int, str]]:
        """State, rule and text of every line that was claimed."""
        for lines in self.shown:
            state = "Start"
            for _, text, doubt in lines:
                number = None if doubt else claimed(self, state, text)
                if number is not None:
                    yield state, number, text
                    state = self.states[state][number].new_state or state


class _Watching(Dialect):
    """A dialect whose templates keep what they were shown."""

    def __init__(self, dialect: Dialect) -> None:
        super().__init__(dialect.name, dialect.files["dialect.toml"], dialect.files, dialect.place, dialect.origin)
        self.watched: dict[str, _Watched] = {}

    def template(self, table: str) -> Template:
        if table not in self.watched:
            self.watched[table] = _Watched(self.files[self.manifest.tables[table].template])
        return self.watched[table]


def seeds_of(dialect: Dialect, cases: Sequence[Case]) -> dict[tuple[str, str, int], list[Seed]]:
    """The first lines of the cases that each rule claims: (table, state, place of the rule) -> lines unlike each other."""
    watching = _Watching(dialect)
    found: dict[tuple[str, str, int], dict[str, Seed]] = {}
    for case in cases:
        for side in ("before", "after"):
            read_text(case.text(side), side, (watching,), watching)
    for table, template in sorted(watching.watched.items()):
        for state, number, text in template.claims():
            known = found.setdefault((table, state, number), {})
            shape = _SHAPE.sub(lambda m: "9" if m[0][0].isdigit() else "a", text)
            if len(known) < SEEDS_A_RULE and len(text) <= LONGEST_SEED and _ATOM.search(text):
                known.setdefault(shape, Seed(table, state, text))
    return {place: list(seeds.values()) for place, seeds in found.items() if seeds}


def claims_of(dialect: Dialect, seeds: Sequence[Seed]) -> Claims:
    """What the dialect claims today of the lines that are made from the seeds."""
    lines = dict.fromkeys(seed.text for seed in seeds)
    states = dict.fromkeys((seed.table, seed.state) for seed in seeds)
    home = {(seed.table, seed.text) for seed in seeds}
    console = {"log": dialect.log, "refusals": dialect.refusal, "prompt": dialect.prompt}
    return Claims(
        {
            seed: frozenset(
                way
                for way, line in spoilt(seed.text).items()
                if claimed(dialect.template(seed.table), seed.state, line) is not None
            )
            for seed in seeds
        },
        frozenset(
            Seed(table, state, text)
            for table, state in states
            for text in lines
            if (table, text) not in home and claimed(dialect.template(table), state, text) is not None
        ),
        {
            name: frozenset(
                line
                for text in lines
                for line in (text, *spoilt(text).values())
                if pattern is not None and pattern.match(line)
            )
            for name, pattern in console.items()
        },
    )


class Difference(NamedTuple):
    """One thing in which the claims of today are not those of the record."""

    file: str
    looser: bool
    message: str
    shown: tuple[str, ...] = ()


def differences(dialect: Dialect, cases: Sequence[Case], record: str | None) -> list[Difference]:
    """What differs from the record, the text of a `claimed.json`; nothing where all is as recorded."""
    fresh = seeds_of(dialect, cases)
    if record is None:
        return [Difference(RECORD, False, "what the templates claim was not recorded yet")] if fresh else []
    try:
        old = _parsed(record)
    except (ValueError, KeyError, TypeError, AttributeError) as reason:
        return [Difference(RECORD, False, f"cannot be read ({type(reason).__name__})")]
    tables = dialect.manifest.tables
    kept = [s for s in old.seeds if s.table in tables and s.state in dialect.template(s.table).states]
    now = claims_of(dialect, kept)
    found: list[Difference] = []
    for table, described in tables.items():
        mine = [seed for seed in kept if seed.table == table]
        looser = [(s.state, way, spoilt(s.text)[way]) for s in mine for way in sorted(now.seeds[s] - old.seeds[s])]
        looser += [
            (s.state, "a line of another table", s.text)
            for s in sorted(now.strangers - old.strangers)
            if s.table == table
        ]
        tighter = any(old.seeds[s] - now.seeds[s] for s in mine) or any(
            s.table == table for s in old.strangers - now.strangers
        )
        covered = {(s.state, claimed(dialect.template(table), s.state, s.text)) for s in mine}
        bare = [seeds[0] for (t, state, rule), seeds in fresh.items() if t == table and (state, rule) not in covered]
        if looser:
            shown = tuple(f"{state} | {line}   <- {way}" for state, way, line in looser)
            found.append(
                Difference(described.template, True, f"claims {len(looser)} lines that it did not claim before", shown)
            )
        if bare:
            shown = tuple(f"{seed.state} | {seed.text}" for seed in bare)
            found.append(Difference(described.template, False, "what its rules claim was not recorded yet", shown))
        elif tighter and not looser:
            found.append(Difference(described.template, False, "claims less than what is recorded"))
    for name, lines in now.patterns.items():
        if more := sorted(lines - old.patterns.get(name, frozenset())):
            told = f"console.{name} claims {len(more)} lines of tables that it did not claim before"
            found.append(Difference("dialect.toml", True, told, tuple(more)))
    if len(kept) < len(old.seeds):
        found.append(Difference(RECORD, False, "tells of tables or states that are not there any more"))
    return found


def record_of(dialect: Dialect, cases: Sequence[Case]) -> str:
    """The text of `claimed.json`: one seed a line."""
    claims = claims_of(dialect, [seed for seeds in seeds_of(dialect, cases).values() for seed in seeds])
    lines = ",\n".join(
        json.dumps([*seed, " | ".join(sorted(ways))], ensure_ascii=True) for seed, ways in claims.seeds.items()
    )
    rest = json.dumps(
        {
            "strangers": sorted(claims.strangers),
            "patterns": {name: sorted(lines) for name, lines in claims.patterns.items() if lines},
        },
        ensure_ascii=True,
    )
    return f'{{"schema": 1,\n"seeds": [\n{lines}\n],\n{rest[1:]}\n'


def _parsed(record: str) -> Claims:
    data = json.loads(record)
    return Claims(
        {Seed(t, s, text): frozenset(filter(None, ways.split(" | "))) for t, s, text, ways in data["seeds"]},
        frozenset(Seed(*seed) for seed in data["strangers"]),
        {name: frozenset(lines) for name, lines in data["patterns"].items()},
    )


def recorded(folder: Path) -> str | None:
    """The record beside a dialect's cases, or None."""
    try:
        return (folder / RECORD).read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
