"""A dialect from one capture, read with itself until it says what inference said.

Tables of one layout become one template with one state. Whatever cannot be shown to read as inference read it is
left out with its reason, and the capture is read again without it. The dialect is marked as a draft: what is read
with it counts as inferred until a person takes the mark out.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from consolecheck.drafting.documents import Documents, states_of
from consolecheck.drafting.manifest import toml_of
from consolecheck.drafting.places import KEY, SECTION, NotPlaced, Placed, Places, Plan, Put
from consolecheck.drafting.rules import TELLING, Rule, as_pattern, frame, literal, row, value, words, written
from consolecheck.reading.dialect import COMMON_WORDS, Dialect, DialectFault
from consolecheck.reading.inference.values import condition_of, is_blank, plain
from consolecheck.reading.reader import read_text, read_unknown
from consolecheck.reading.screen import clean
from consolecheck.reading.table import is_ruler, prompt_of
from consolecheck.records.readings import KINDS, AnyReading, Condition, Sighting, Snapshot, TakenAs

NO_COMMAND = "the command that shows this"
"""Stands for a command in a capture that shows none; it is never sent."""
_RANGE_ABOVE = 6
_ROUNDS = 3
"""How often rows that are not read right are left out before their whole table is."""
_HEADING_ABOVE = 80
"""Lines; a heading further above is hardly one of this row."""
_WAYS = ((False, False), (True, False), (False, True), (True, True))
"""How a table is tried, one after the other: with blanks as wide as they were seen, and with rows told by their names."""
_NAMES = {
    "power_supply": "supplies",
    "fan": "fans",
    "temperature": "temperatures",
    "inventory": "parts",
    "device": "facts",
    "link": "links",
    "alarm": "alarms",
}


class CannotDraft(ValueError):
    """Nothing can be drafted of the text. The message says why and what to do next."""


class LeftOut(NamedTuple):
    """Something that inference read and the draft does not: a table, or one of its rows."""

    first_line: int
    last_line: int
    what: str
    why: str


class Table(NamedTuple):
    """One drafted table."""

    name: str
    taken: tuple[TakenAs, ...]
    placed: tuple[Placed, ...]
    template: str
    manifest: str
    begins: tuple[str, ...]
    marks: str
    """A piece of the text that speaks for the family, or nothing."""
    commands: tuple[str, ...]


class Draft(NamedTuple):
    """A drafted dialect: its files, and all that its report tells."""

    name: str
    files: Mapping[str, str]
    tables: tuple[Table, ...]
    left_out: tuple[LeftOut, ...]
    inferred: Snapshot
    snapshot: Snapshot
    """The capture as the draft reads it."""
    words: Mapping[str, Mapping[str, Condition]]
    """Kind -> status word as printed -> the condition that inference took it for."""
    prompts: tuple[str, ...]
    commands: tuple[str, ...]
    foreign: tuple[str, ...]
    """Commands of the capture of which nothing is read."""


class _Group(NamedTuple):
    """Tables of one layout."""

    name: str
    taken: list[TakenAs]
    sightings: list[Sighting]


def draft(raw: bytes, name: str, source: str) -> Draft:
    """The draft of a dialect called `name`. Raises CannotDraft."""
    inferred = read_unknown(raw, source)
    if not inferred.sightings:
        raise CannotDraft(
            f"{source}: no supply, fan or temperature was recognised in it, so there is nothing to draft from; capture "
            "the commands that show the environment, with their headers"
        )
    maker = _Maker(raw, name, source, inferred)
    return maker.made()


class _Maker:
    def __init__(self, raw: bytes, name: str, source: str, inferred: Snapshot) -> None:
        self.raw, self.name, self.source, self.inferred = raw, name, source, inferred
        self.lines = [line for line in clean(raw).lines if not line.doubt]
        self.texts = {line.number: line.text.rstrip() for line in self.lines}
        self.left: dict[str, list[LeftOut]] = {}
        """Table -> what of it is left out, by the last try."""
        self.doubted: dict[str, set[int]] = {}
        """Table -> lines of rows that no try read as inference did."""
        self.prompts, self.typed = self._prompts()
        self.groups = self._groups()
        self.unread = {u.number for u in inferred.unread}

    def _prompts(self) -> tuple[list[str], dict[int, str]]:
        """The forms of the prompts as patterns, and prompt line -> what was typed there."""
        forms: dict[str, None] = {}
        typed: dict[int, str] = {}
        for line in self.lines:
            if (found := prompt_of(line)) is None:
                continue
            shown = line.text[: len(line.text) - len(found.typed)] if found.typed else line.text
            shown = shown.rstrip()
            typed[line.number] = " ".join(found.typed.split())
            if found.host and found.host in shown:
                before, _, behind = shown.partition(found.host)
                forms[f"{re.escape(before)}(?P<host>[A-Za-z0-9][\\w.-]*){re.escape(behind)}"] = None
            else:
                forms[re.escape(shown)] = None
        return list(forms), typed

    def _groups(self) -> list[_Group]:
        groups: dict[str, _Group] = {}
        names: dict[str, int] = {}
        of = {taken.table: taken for taken in self.inferred.taken_as}
        for taken in self.inferred.taken_as:
            base = taken.table.split(" no. ")[0]
            if base not in groups:
                kinds = base.split(" ")[0].split("+")
                wanted = "_and_".join(_NAMES.get(kind, kind) for kind in kinds)
                names[wanted] = names.get(wanted, 0) + 1
                groups[base] = _Group(wanted if names[wanted] == 1 else f"{wanted}_{names[wanted]}", [], [])
            groups[base].taken.append(taken)
        for sighting in self.inferred.sightings:
            groups[of[sighting.table].table.split(" no. ")[0]].sightings.append(sighting)
        return list(groups.values())

    def made(self) -> Draft:
        """Tables are left out until what is left reads as inference read it."""
        tries: dict[str, int] = {}
        rounds: dict[str, int] = {}
        groups = list(self.groups)
        while True:
            tables = [t for group in groups if (t := self._table(group, tries.get(group.name, 0))) is not None]
            groups = [g for g in groups if g.name in {t.name for t in tables}]
            if not tables:
                reasons = "; ".join(dict.fromkeys(left.why for left in self._left_out()))
                raise CannotDraft(f"{self.source}: nothing of it could be drafted: {reasons}")
            drafted = self._dialect(tables)
            try:
                snapshot = read_text(self.raw, self.source, (drafted[0],), drafted[0])
            except DialectFault as fault:
                wrong: str | None = next((t.name for t in tables if f"{t.name}.textfsm" in fault.file), tables[-1].name)
                why, doubtful = f"no sound template could be made of it ({fault.reason})", set()
            else:
                wrong, why = self._wrong(tables, snapshot), "its rows could not be told apart by rules that are sure"
                if wrong is None:
                    return self._whole(tables, drafted, snapshot)
                doubtful = self._doubtful(next(t for t in tables if t.name == wrong), snapshot)
            assert wrong is not None
            if tries.get(wrong, 0) + 1 < len(_WAYS):
                tries[wrong] = tries.get(wrong, 0) + 1
            elif doubtful - self.doubted.get(wrong, set()) and rounds.get(wrong, 0) < _ROUNDS:
                self.doubted[wrong] = self.doubted.get(wrong, set()) | doubtful
                rounds[wrong] = rounds.get(wrong, 0) + 1
                tries[wrong] = 0
            else:
                groups = self._without(groups, wrong, why)

    def _doubtful(self, table: Table, snapshot: Snapshot) -> set[int]:
        """The lines of rows that are not read as inference read them, and of those that it did not read."""
        mine = [s for s in snapshot.sightings if s.table == table.name]
        found, wanted = Counter(repr(s.reading) for s in mine), Counter(repr(p.reading) for p in table.placed)
        unread = {u.number for u in snapshot.unread}
        return {
            *(n for p in table.placed if repr(p.reading) in wanted - found or set(p.lines) & unread for n in p.lines),
            *(n for s in mine if repr(s.reading) in found - wanted for n in s.lines),
        }

    def _without(self, groups: list[_Group], name: str, why: str) -> list[_Group]:
        for group in groups:
            if group.name == name:
                self._leave(group, why)
        return [group for group in groups if group.name != name]

    def _leave(self, group: _Group, why: str) -> None:
        self.left[group.name] = [
            LeftOut(taken.first_line, taken.last_line, f"the table {taken.layout[:80]}", why) for taken in group.taken
        ]

    def _left_out(self) -> tuple[LeftOut, ...]:
        return tuple(sorted({left for those in self.left.values() for left in those}))

    def _wrong(self, tables: Sequence[Table], snapshot: Snapshot) -> str | None:
        """The first table whose readings are not those of inference, or None."""
        found: dict[str, list[AnyReading]] = {}
        for sighting in sorted(snapshot.sightings, key=lambda s: s.lines[:1]):
            found.setdefault(sighting.table, []).append(sighting.reading)
        for table in tables:
            wanted = [p.reading for p in sorted(table.placed, key=lambda p: p.lines[:1])]
            if sorted(map(repr, wanted)) != sorted(map(repr, found.get(table.name, []))):
                return table.name
            if {n for p in table.placed for n in p.lines} & {u.number for u in snapshot.unread}:
                return table.name
        return None

    # One table.

    def _table(self, group: _Group, tried: int) -> Table | None:
        exact, by_name = _WAYS[tried]
        documents = self._documents(group) if group.taken[0].layout.startswith("json") else None
        places = None if documents else Places(group.sightings, self.texts, self._headings(group))
        placed: list[Placed] = []
        left = self.left[group.name] = []
        doubted = self.doubted.get(group.name, set())
        for sighting in group.sightings:
            lines, what = sighting.lines, sighting.reading.subject
            if doubted.intersection(lines):
                left.append(LeftOut(min(lines), max(lines), what, "it could not be told from other rows for sure"))
                continue
            try:
                placed.append((documents or places).placed(sighting, by_name))  # type: ignore[union-attr]
            except NotPlaced as missing:
                left.append(LeftOut(min(lines), max(lines), what, f"it could not be found {missing}"))
        for one in _entangled(placed) if documents is None else ():
            placed.remove(one)
            left.append(
                LeftOut(min(one.lines), max(one.lines), one.reading.subject, "its lines stand among those of others")
            )
        for one in [p for p in placed if documents is None and self._told_elsewhere(p)]:
            placed.remove(one)
            why = "its condition follows from words on several lines, which one status word cannot tell"
            left.append(LeftOut(min(one.lines), max(one.lines), one.reading.subject, why))
        if not placed:
            return None
        placed.sort(key=lambda p: p.lines)
        if not by_name:
            keys = _variants(placed)
            variants = list(dict.fromkeys(keys))
            placed = [self._numbered(p, variants.index(key)) for p, key in zip(placed, keys, strict=True)]
        units = self._units(placed)
        frames: list[str] = []
        if documents is not None:
            rules = documents.rules(placed, self.unread)
        else:
            rules, frames = self._rules(group, placed)
        fields: dict[str, list[str]] = {}
        for one in placed:
            for put in one.puts:
                fields.setdefault(put.field, []).append(put.text)
        identity = {field for one in placed for field in _identity(one)}
        filled = any(field.startswith(SECTION) for field in fields)
        patterns = {
            field: words(texts) if field.startswith(KEY) else value(texts, identity=field in identity)
            for field, texts in fields.items()
        }
        values = [
            f"Value {'Filldown ' if field.startswith(SECTION) else ''}{field.upper()} ({pattern})"
            for field, pattern in patterns.items()
        ]
        several = any("Continue.Record" in rule.action for rule in rules)
        if filled and several:
            needed = [
                f
                for f in fields
                if not f.startswith(SECTION) and all(any(q.field == f for q in p.puts) for p in placed)
            ]
            if not needed:
                self._leave(group, "its rows stand under headings and have no cell in common")
                return None
            values = [v.replace(f"Value {needed[0].upper()} ", f"Value Required {needed[0].upper()} ") for v in values]
        body = [*dict.fromkeys(written([Rule(frame(f), "") for f in frames])), *dict.fromkeys(written(rules, exact))]
        template = "\n".join(
            [
                "# Drafted from one capture: see draft.md.",
                *values,
                "",
                "Start",
                *(f"  {rule}" for rule in body),
                "  ^. -> Error",
                *(("", "EOF") if (filled and not several) or documents is not None else ()),
                "",
            ]
        )
        return Table(
            group.name,
            tuple(group.taken),
            tuple(placed),
            template,
            self._described(group, placed, units),
            self._begins(group, placed, rules, patterns) if documents is None else self._bracket(),
            self._marks(group, placed, documents),
            tuple(dict.fromkeys(c for t in group.taken if (c := self._command(t)))),
        )

    def _headings(self, group: _Group) -> dict[int, list[int]]:
        """First line of a row -> lines of its table above it that are no rows, nearest first."""
        rows = {n for s in group.sightings for n in s.lines}
        numbers = [n for n in sorted(self._range(group)) if n not in rows and not is_ruler(self.texts[n])]
        headers = {n for taken in group.taken for n in taken.header_lines}
        numbers = [n for n in numbers if n not in headers and n not in self.unread and self.texts[n].strip()]
        return {
            first: [n for n in reversed(numbers) if first - _HEADING_ABOVE <= n < first]
            for first in {min(s.lines) for s in group.sightings}
        }

    def _told_elsewhere(self, placed: Placed) -> bool:
        """Whether a line of its own, from which no status is taken, says how a row of several lines is.

        Within one line such a word is part of the rule; on a line of its own another word would leave the row as it is.
        """
        status = {p.line for p in placed.puts if p.field == "status"}
        others = set(_own_lines(placed)) | set(placed.lines)
        if len(others) < 2:
            return False
        return any(
            condition_of(piece) is not None or plain(piece) in TELLING
            for number in others - status
            for piece in re.split(r"\s{2,}|[:=|,]\s*", self.texts.get(number, ""))[1:]
            if piece.strip()
        )

    @staticmethod
    def _plain(plan: Plan) -> Plan:
        return plan._replace(units=())

    def _units(self, placed: Sequence[Placed]) -> dict[Plan, dict[str, str]]:
        """Plan -> field -> the unit of its bare numbers."""
        units: dict[Plan, dict[str, str]] = {}
        for one in placed:
            for field, unit in one.plan.units:
                units.setdefault(self._plain(one.plan), {}).setdefault(field, unit)
        return units

    def _numbered(self, placed: Placed, number: int) -> Placed:
        """Fields that say who it is have other names for each way of naming, so that a rule can ask for them."""
        if number == 0:
            return placed
        plan, own = placed.plan, {f for f in _identity(placed) if not f.startswith(SECTION)}

        def renamed(form: str | None) -> str | None:
            return (
                re.sub(r"\{(\w+)\}", lambda m: f"{{{m[1]}_{number + 1}}}" if m[1] in own else m[0], form)
                if form
                else form
            )

        return placed._replace(
            puts=tuple(p._replace(field=f"{p.field}_{number + 1}") if p.field in own else p for p in placed.puts),
            plan=plan._replace(
                unit=renamed(plan.unit),
                name=renamed(plan.name),
                when=tuple((f"{field}_{number + 1}" if field in own else field, p) for field, p in plan.when),
            ),
        )

    def _rules(self, group: _Group, placed: Sequence[Placed]) -> tuple[list[Rule], list[str]]:
        columns = not group.taken[0].layout.startswith("list")
        rows = {n for p in placed for n in p.lines}
        told = {n for s in group.sightings for n in s.lines}  # of rows that are left out, too: these stay unread
        several = any(len(set(_own_lines(p)) | {min(p.lines)}) > 1 for p in placed)
        rules: list[Rule] = []
        headings: dict[int, dict[str, Put]] = {}
        on_line: dict[int, list[Placed]] = {}
        for one in placed:
            for number in _own_lines(one):
                on_line.setdefault(number, []).append(one)
            for put in one.puts:
                if put.field.startswith(SECTION):
                    headings.setdefault(put.line, {})[put.field] = put
        for number in sorted(on_line):
            text, those = self.texts[number], on_line[number]
            for place, one in enumerate(those):
                puts = [p for p in one.puts if p.line == number]
                pieces = row(text, puts, one.cells, columns)
                first = number == min(_own_lines(one))
                if several and first:
                    rules.append(Rule(row(text, [], one.cells, False), " -> Continue.Record"))
                last = place == len(those) - 1
                action = "" if several else " -> Record"
                rules.append(Rule(pieces, action if last else " -> Continue" + (".Record" if not several else "")))
        for number, taken in headings.items():
            held = sorted(taken.values(), key=lambda p: p.start)
            rules.append(Rule(row(self.texts[number], held, [], False), ""))
        frames = []
        for number in self._range(group):
            if number in on_line or number in headings or not self.texts[number].strip():
                continue
            if number in self.unread or (number in told and number not in rows):
                continue
            frames.append(self.texts[number])
        return rules, frames

    def _range(self, group: _Group) -> list[int]:
        """The lines of the tables, with the headings right above them."""
        numbers: list[int] = []
        for taken in group.taken:
            first = taken.first_line
            others = [t.last_line for t in self.inferred.taken_as if t.last_line < first]
            floor = max([0, first - _RANGE_ABOVE, *others, *(n for n in self.typed if n < first)])
            numbers += [n for n in range(floor + 1, first) if self.texts.get(n, "").strip() and n not in self.unread]
            numbers += [n for n in range(first, taken.last_line + 1) if n in self.texts]
        return list(dict.fromkeys(numbers))

    def _documents(self, group: _Group) -> Documents:
        lines = [line for line in clean(self.raw).lines if line.text.strip()]
        return Documents([[line for line in lines if t.first_line <= line.number <= t.last_line] for t in group.taken])

    def _bracket(self) -> tuple[str, ...]:
        """How JSON begins; only one table of a dialect can begin so."""
        alone = sum(group.taken[0].layout.startswith("json") for group in self.groups) == 1
        return (r"[\[{]",) if alone else ()

    def _marks(self, group: _Group, placed: Sequence[Placed], documents: Documents | None) -> str:
        """A header, the words before the first value of a list, or a key."""
        first = min(placed, key=lambda p: p.lines)
        if documents is not None:
            return documents.key_of(first)
        header = max((self.texts.get(n, "").strip() for n in group.taken[0].header_lines), key=len, default="")
        if not header:
            before = [
                self.texts[n][: min((p.start for p in first.puts if p.line == n), default=0)].strip()
                for n in _own_lines(first)
            ]
            header = max(before, key=len)
            if len(header) < 3:
                pieces = [piece.strip() for n in _own_lines(first) for piece in re.split(r"\d+", self.texts[n])]
                header = max(pieces, key=len)
        return header[:70].strip() if len(header) > 2 else ""

    def _begins(
        self, group: _Group, placed: Sequence[Placed], rows: Sequence[Rule], patterns: Mapping[str, str]
    ) -> tuple[str, ...]:
        """Patterns for the lines by which the table is known, if no other line of the capture is like them."""
        mine = self._range(group)
        first = min(placed, key=lambda p: p.lines)
        number = min(_own_lines(first))
        heads = [n for n in mine if n < number and n not in self.unread and self.texts[n].strip()]
        candidates: list[tuple[str, ...]] = [(_head(self.texts[n]),) for n in heads if not is_ruler(self.texts[n])]
        put = min((p for p in first.puts if p.line == number), key=lambda p: p.start)
        if not heads and len(key := self.texts[number][: put.start].strip()) > 2:
            candidates.append((_head(key)[:-1],))
        if not heads:  # a table without a header is known by its rows
            candidates.append(tuple(dict.fromkeys(as_pattern(rule.pieces, patterns) for rule in rows)))
        others = [text for n, text in self.texts.items() if n not in set(mine)]
        for each in candidates:
            if all(len(re.sub(r"\W|\\d", "", p)) > 2 or "|" in p for p in each) and not any(
                re.match(p, text) for p in each for text in others
            ):
                return each
        return ()

    def _command(self, taken: TakenAs) -> str | None:
        above = [n for n in self.typed if n < taken.first_line]
        return (self.typed[max(above)] or None) if above else None

    def _described(self, group: _Group, placed: Sequence[Placed], units: Mapping[Plan, Mapping[str, str]]) -> str:
        """The table's part of the manifest, without `begins`."""
        plans = list(dict.fromkeys(self._plain(p.plan) for p in placed))
        out = [f"[tables.{group.name}]", f"template = {toml_of(group.name + '.textfsm')}", "@begins@"]
        if placed[0].end is not None:
            out.append('layout = "json"')
        if len(plans) == 1 and not plans[0].when:
            out += self._plan_told(plans[0], units)
            return self._with_states(out, group, placed)
        several = len({_variant(p) for p in placed}) > 1
        fields = {self._plain(p.plan): _identity(p) for p in placed}
        by_name = any(plan.quantity for plan in plans)
        for plan in sorted(plans, key=_strictness):
            conditions = dict(plan.when)
            for field in sorted(fields[plan]) if several and not by_name else ():
                conditions.setdefault(field, ".+")
            out += [f"[[tables.{group.name}.sort]]"]
            if conditions:
                out.append("when = { " + ", ".join(f"{field} = {toml_of(p)}" for field, p in conditions.items()) + " }")
            out += self._plan_told(plan, units)
        return self._with_states(out, group, placed)

    @staticmethod
    def _with_states(out: list[str], group: _Group, placed: Sequence[Placed]) -> str:
        """The same with what several words together mean, kind by kind."""
        kinds = dict.fromkeys(p.plan.kind for p in placed if p.plan.states)
        text = "\n".join(out)
        for kind in kinds:
            # Each rule names its kind before its states.
            text = re.sub(
                rf'(kind = "{kind}"(?:\n(?!\[\[|kind)[^\n]*)*?\n)@states@', rf'\1states = "{group.name}_{kind}"', text
            )
            for words_seen, condition, says in states_of([p for p in placed if p.plan.kind == kind]):
                when = ", ".join(f"{field} = {toml_of(re.escape(word))}" for field, word in words_seen.items())
                text += f"\n[[states.{group.name}_{kind}]]\nwhen = {{ {when} }}\ncondition = {toml_of(condition)}"
                text += '\nsays = ["status"]' if says else ""
        return text

    @staticmethod
    def _plan_told(plan: Plan, units: Mapping[Plan, Mapping[str, str]]) -> list[str]:
        out = [f"kind = {toml_of(plan.kind)}"]
        if plan.unit is not None:
            out.append(f"unit = {toml_of(plan.unit)}")
        if plan.name is not None:
            out.append(f"name = {toml_of(plan.name)}")
        if known := units.get(plan):
            out.append("units = { " + ", ".join(f"{field} = {toml_of(unit)}" for field, unit in known.items()) + " }")
        if plan.quantity is not None:
            out.append(f"quantity = {toml_of(plan.quantity)}")
        if plan.states:
            out.append("@states@")
        if plan.no_status is not None:
            out.append(f"no_status = {toml_of(plan.no_status.value)}")
        return out

    # The whole.

    def _dialect(self, tables: Sequence[Table]) -> tuple[Dialect, dict[str, dict[str, Condition]], str]:
        commands: dict[str, list[str]] = {}
        for table in tables:
            for command in table.commands or (NO_COMMAND,):
                commands.setdefault(command, []).append(table.name)
        known = self._words(tables)
        flows, alike, blanks = self._airflow(tables), self._alike(tables), self._blanks(tables)
        out = [
            f"title = {toml_of(self.name + ': drafted from one capture')}",
            'source = "Drafted from one capture by what inference made of it; draft.md says what a person must still decide."',
            "# What is read with a draft counts as inferred and verifies nothing. Take this line out when draft.md is worked off.",
            "drafted = true",
            f"blank_cells = {toml_of(blanks)}",
        ]
        if any(p.flow is not None and p.flow[1] == "description" for table in tables for p in table.placed):
            out.append('airflow_in = ["description"]')
        if alike:
            out += [
                "# Words whose direction nobody stated: they can only be compared with each other.",
                f"airflow_alike = {toml_of(alike)}",
            ]
        out.append("")
        for text in self._evidence(tables):
            out += ["[[evidence]]", f"text = {toml_of(text)}", "weight = 4"]
        out.append("")
        if self.prompts:
            out += ["[console]", f"prompt = {toml_of(_prompt(self.prompts))}", ""]
        for command, names in commands.items():
            out += ["[[commands]]", f"send = {toml_of(command)}", f"tables = {toml_of(names)}"]
            if command == NO_COMMAND:
                out.append("capture = false")
        for table in tables:
            begins = f"begins = {toml_of(table.begins)}" if table.begins else ""
            out += ["", table.manifest.replace("@begins@\n", begins + "\n" if begins else "").replace("\n@begins@", "")]
        for kind, listed in known.items():
            own = {w: c for w, c in listed.items() if COMMON_WORDS.get(w.lower()) is not c}
            if own:
                out += ["", f"[words.{kind}]", *(f"{toml_of(w)} = {toml_of(c.value)}" for w, c in own.items())]
        if flows:
            out += ["", "[airflow]", *(f"{toml_of(w)} = {toml_of(d)}" for w, d in flows.items())]
        text = "\n".join(out) + "\n"
        texts = {f"{t.name}.textfsm": t.template for t in tables}
        return Dialect(self.name, text, texts, self.name, "draft"), known, text

    def _words(self, tables: Sequence[Table]) -> dict[str, dict[str, Condition]]:
        said: dict[str, dict[str, Condition]] = {}
        for table in tables:
            for one in table.placed:
                reading = one.reading
                if reading.status_text is not None and reading.condition is not None:
                    said.setdefault(reading.kind, {}).setdefault(
                        " ".join(reading.status_text.split()), reading.condition
                    )
        return said

    def _airflow(self, tables: Sequence[Table]) -> dict[str, str]:
        return {
            p.flow[0]: str(p.reading.given("airflow")) for table in tables for p in table.placed if p.flow is not None
        }

    def _alike(self, tables: Sequence[Table]) -> list[str]:
        words = [one.reading.given("airflow_word") for table in tables for one in table.placed]
        return sorted({word for word in words if word is not None})

    def _blanks(self, tables: Sequence[Table]) -> list[str]:
        seen = {
            put.text
            for table in tables
            for one in table.placed
            for put in one.puts
            if put.field in (*KINDS[one.reading.kind].QUANTITIES, "value") and is_blank(put.text)
        }
        return sorted(seen)

    def _evidence(self, tables: Sequence[Table]) -> list[str]:
        found = dict.fromkeys(table.marks for table in tables if table.marks)
        return list(found) or [f"no header was seen for {self.name}"]

    def _whole(
        self,
        tables: Sequence[Table],
        drafted: tuple[Dialect, dict[str, dict[str, Condition]], str],
        snapshot: Snapshot,
    ) -> Draft:
        dialect, said, _ = drafted
        for fault in dialect.faults():
            raise CannotDraft(f"{self.source}: what was drafted breaks a law of dialects: {fault}; report this")
        known = {c for t in tables for c in t.commands}
        typed = tuple(dict.fromkeys(c for c in self.typed.values() if c))
        return Draft(
            self.name,
            dialect.files,
            tuple(tables),
            self._left_out(),
            self.inferred,
            snapshot,
            said,
            tuple(self.prompts),
            tuple(c for c in typed if c in known),
            tuple(c for c in typed if c not in known),
        )


def _identity(placed: Placed) -> frozenset[str]:
    """The fields of a row that say who it is."""
    plan = placed.plan
    named = {f for form in (plan.unit, plan.name) for f in re.findall(r"\{(\w+)\}", form or "")}
    return frozenset(p.field for p in placed.puts if p.field in named | {field for field, _ in plan.when})


def _strictness(plan: Plan) -> tuple[bool, int, bool]:
    """Rules that ask for more come first, since the first that fits counts."""
    return not plan.when, sum(".*" in pattern for _, pattern in plan.when), not plan.unit


def _entangled(placed: Sequence[Placed]) -> list[Placed]:
    """Rows of several lines between which lines of other rows stand: no template can take them apart."""
    owned = [(one, _own_lines(one)) for one in placed]
    return [
        one
        for one, lines in owned
        if any(lines[0] < n < lines[-1] and n not in lines for other, those in owned if other is not one for n in those)
    ]


def _own_lines(placed: Placed) -> list[int]:
    """The lines that facts are taken from, without headings; the first of the row where there are none."""
    return sorted({p.line for p in placed.puts if not p.field.startswith(SECTION)}) or [min(placed.lines)]


def _variant(placed: Placed) -> tuple[object, ...]:
    """Rows of one variant have the same fields, and only patterns over these tell them apart."""
    return placed.plan.kind, placed.plan.no_status, tuple(sorted(_identity(placed)))


def _variants(placed: Sequence[Placed]) -> list[tuple[object, ...]]:
    """The variant of each. Two ways of naming that no pattern tells apart are two of them."""
    plain_forms: dict[tuple[object, ...], set[tuple[str | None, str | None]]] = {}
    for one in placed:
        if not one.plan.when:
            plain_forms.setdefault(_variant(one), set()).add((one.plan.unit, one.plan.name))
    return [
        (*_variant(one), one.plan.unit, one.plan.name)
        if not one.plan.when and len(plain_forms[_variant(one)]) > 1
        else _variant(one)
        for one in placed
    ]


def _head(text: str) -> str:
    """A line as a pattern from its beginning to its end."""
    return " *" + " +".join(literal(word).replace("$$", r"\$") for word in text.split()) + "$"


def _prompt(forms: Sequence[str]) -> str:
    """One pattern for all of them; only one of its branches can name the host."""
    named = [f for f in forms if "(?P<host>" in f]
    plain = [f.replace("(?P<host>", "(?:") for f in named[1:]] + [f for f in forms if f not in named]
    return "(?:" + "|".join([*named[:1], *plain]) + ") ?"
