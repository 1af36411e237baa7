"""A dialect: what one device family prints and means, as data.

A `Dialect` is made from the text of a `dialect.toml` and its templates; the files themselves are
fetched by the `files` room. A manifest that breaks the format is refused with file, key and reason.
A run uses one dialect out of many: to recognise it only the head of each manifest is read, up to the
first table that is not `[[evidence]]`, and patterns and templates are compiled when first needed.
"""

import hashlib
import re
import tomllib
from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, ValidationInfo, model_validator

from consolecheck.reading.bounded import hang_fault
from consolecheck.reading.fixed_point import FIELDS as FIXED_POINT_FIELDS
from consolecheck.reading.template import Template, TemplateFault, template_faults
from consolecheck.records.readings import KINDS, Airflow, Condition, Kind
from consolecheck.records.units import UnreadableQuantity, unit_of


class DialectFault(ValueError):
    """A dialect cannot be used: which file, which key, and why."""

    def __init__(self, file: str, key: str, reason: str) -> None:
        self.file, self.key, self.reason = file, key, reason
        super().__init__(f"{file}: {key}: {reason}" if key else f"{file}: {reason}")


def _compiled(pattern: str, info: ValidationInfo) -> re.Pattern[str] | None:
    """The pattern compiled, in a thorough check; a run compiles only the patterns that it needs."""
    if not info.context:
        return None
    if fault := hang_fault(pattern):
        raise ValueError(fault)
    return re.compile(pattern)


def _compiles(pattern: str, info: ValidationInfo) -> str:
    _compiled(pattern, info)
    return pattern


def _claims_something(pattern: str, info: ValidationInfo) -> str:
    compiled = _compiled(pattern, info)
    if compiled is not None and compiled.match(""):
        raise ValueError(f"`{pattern}` matches an empty line, so it would claim anything")
    return pattern


def _claims_something_without_groups(pattern: str, info: ValidationInfo) -> str:
    compiled = _compiled(_claims_something(pattern, info), info)
    if compiled is not None and compiled.groups:
        raise ValueError(f"`{pattern}` has a capturing group; write (?:...)")
    return pattern


def _is_form(form: str) -> str:
    if not _FORM.fullmatch(form):
        raise ValueError(f"`{form}` is no form: text, and names of fields in braces such as {{slot}}")
    return form


_FORM = re.compile(r"(?:[^{}]|\{\w+\})*")
Form = Annotated[str, Field(max_length=200), AfterValidator(_is_form)]
"""Text over fields. Python's own formatting can do more, such as fill a gigabyte; a form cannot."""
FieldPattern = Annotated[str, AfterValidator(_compiles)]
Pattern = Annotated[str, AfterValidator(_claims_something)]
PlainPattern = Annotated[str, AfterValidator(_claims_something_without_groups)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Evidence(_Part):
    """A literal that speaks for this family where it occurs in a text, and how strongly."""

    text: str = Field(min_length=3)
    weight: int = Field(ge=1, le=10)


class Console(_Part):
    """What the console says around the tables. All patterns match from the start of a line."""

    prompt: Pattern | None = None
    pager: Pattern | None = None
    pager_key: str | None = Field(None, min_length=1, max_length=1)
    """The key that makes the pager go on; a blank where none is given."""
    session: list[str] = []
    """Words that change this session only and are sent before the first command, such as pager off."""
    leave: str | None = None
    """The word that ends the session."""
    login: Pattern = r"(?:.*\b)?(?:login|user ?name|user): ?$"
    password: Pattern = r"(?i:.*pass(?:word|phrase)[^:]*: ?$)"
    privileged: Pattern | None = None
    """A prompt that fits this is a privileged one."""
    configuring: Pattern | None = None
    """A prompt that fits this changes the device: nothing is typed at it."""
    booting: list[Pattern] = []
    """Lines of a boot loader or of a starting device: nothing is typed at them."""
    refusals: list[Pattern] = []
    log: list[Pattern] = []


class Command(_Part):
    """A read-only command, and the tables that its output may hold."""

    send: str
    also: list[str] = []
    tables: list[str] = []
    capture: bool = True
    """Whether a live capture asks it; a command that another one includes is only known as an echo."""
    watch: bool = False
    """Whether it is asked again and again while a unit is out and while the switch settles."""


class Lamp(_Part):
    """One state of a lamp in the maker's chart: what it means, in words, and which condition that is."""

    means: str
    condition: Condition


class ChassisFacts(_Part):
    """What the family's papers say of the chassis, as data."""

    open_seconds: float = Field(120, gt=0)
    """How long a slot may stay open. 120 s is common practice where the papers do not say."""
    modules_needed: int | None = Field(None, ge=1)
    """Fan modules that suffice to cool it."""
    kilograms: float | None = Field(None, gt=0)
    """What it weighs, for the caution on lifting."""
    rear: list[list[str]] = []
    """The slots as they lie, seen from behind: rows from above, units from the left. Never from memory."""
    port_lamps: dict[str, Annotated[int, Field(ge=1)]] = {}
    """Speed of a port as printed -> its lamps: one a lane where a port has lanes. A port has one where none is given."""


class State(_Part):
    """A condition that follows from several fields together; the first of a list that fits counts."""

    when: dict[str, FieldPattern] = Field(min_length=1)
    condition: Condition
    says: list[str] = []
    """The fields whose words are shown as the device's own."""


class Sort(_Part):
    """Which record a row becomes. `when`: field -> pattern that the whole field must match."""

    when: dict[str, FieldPattern] = {}
    kind: Kind | None = None
    unit: Form | None = None
    name: Form | None = None
    quantity: str | None = None
    """For tables that print one `value` a row: the quantity that it is."""
    units: dict[str, str] = {}
    bits: str | None = None
    no_status: Condition | None = None
    """The condition when the status cell is empty; without it an empty cell states none."""
    states: str | None = None
    """A list under [states] that gives the condition, in place of one status word."""
    status_from: str | None = None
    """A field other than `status` that holds the status words."""


class Table(Sort):
    """One table: its template, how it begins, and how its rows become records."""

    template: str
    layout: Literal["rows", "json", "walk"] = "rows"
    """`json`: the template is shown the lines that `reading/flat.py` makes of the JSON that is printed; `walk`: what
    `reading/walk.py` makes of a walk of SNMP tables."""
    joined: bool = False
    """Whether the outputs of several commands together make the table, as every walk does."""
    columns: dict[str, str] = {}
    """Of a walk: object identifier of a column -> its name."""
    enumerations: dict[str, dict[str, str]] = {}
    """Of a walk: column -> number -> the name that stands for it."""
    bits_of: dict[str, dict[str, str]] = {}
    """Of a walk: column of bits -> number of a bit -> its name."""
    inside: str | None = None
    """Of a walk: the column that holds the index of the row that a row is in."""
    fixed_point: bool = False
    """`value` is a whole number that means something only with the fields of `reading/fixed_point.py` beside it."""
    float32: list[str] = []
    """Fields that hold a number, or the four bytes of an IEEE 754 number in base64 (RFC 7951 section 6.6)."""
    begins: list[PlainPattern] = []
    footer: Pattern | None = None
    """A line that only stands at the table's very end."""
    rows_stated: Pattern | None = None
    """A footer whose first group states the number of rows, to be compared with what was read."""
    status_split: str | None = None
    duration: list[str] = []
    """Fields that hold a length of time instead of a quantity."""
    ignored: list[str] = []
    sort: list[Sort] = []
    sort_as: str | None = None
    """A list under [sorts] that several tables share; asked after the table's own `sort`."""


class Manifest(_Part):
    """The validated form of a `dialect.toml`."""

    title: str
    source: str
    drafted: bool = False
    """Whether nobody has gone over it yet: what is read with a draft counts as inferred."""
    console: Console = Console()
    evidence: list[Evidence] = Field(min_length=1)
    """Stands first in the file, before every other table."""
    commands: list[Command] = Field(min_length=1)
    tables: dict[str, Table] = Field(min_length=1)
    sorts: dict[str, list[Sort]] = {}
    words: dict[Kind | Literal["any"], dict[str, Condition]] = {}
    states: dict[str, list[State]] = {}
    bits: dict[str, dict[str, Condition]] = {}
    airflow: dict[str, Airflow] = {}
    airflow_alike: list[str] = []
    """Airflow words whose direction depends on the platform: they can only be compared with each other."""
    airflow_in: list[str] = []
    """Fields besides `airflow` in which an airflow word may stand as a word of its own."""
    blank_cells: list[str] = ["N/A", "n/a", "--", "-", "na"]
    lamps: dict[Literal["unit", "chassis", "port"], dict[str, Lamp]] = {}
    """The maker's chart: which lamp -> what it shows -> what that means. Never from memory."""
    chassis: ChassisFacts = ChassisFacts()

    @model_validator(mode="after")
    def _refers_to_known_things(self) -> "Manifest":
        for command in self.commands:
            for named in command.tables:
                if named not in self.tables:
                    raise ValueError(f"commands: `{command.send}` names table `{named}`, which is not described")
        for name, table in self.tables.items():
            if table.sort_as is not None and table.sort_as not in self.sorts:
                raise ValueError(f"tables.{name}.sort_as: there is no [[sorts.{table.sort_as}]]")
            for sort in (table, *self.sorts_of(table)):
                kind = sort.kind or table.kind
                if sort is not table and kind is None:
                    raise ValueError(f"tables.{name}.sort: a rule without a kind, and the table has none either")
                if sort.states is not None and sort.states not in self.states:
                    raise ValueError(f"tables.{name}: there is no [[states.{sort.states}]]")
                if sort.bits is not None and sort.bits not in self.bits:
                    raise ValueError(f"tables.{name}: bits `{sort.bits}` are not described under [bits]")
                if sort.quantity is not None and kind is not None and sort.quantity not in KINDS[kind].QUANTITIES:
                    raise ValueError(f"tables.{name}: a {kind} has no quantity `{sort.quantity}`")
                for field, unit in sort.units.items():
                    try:
                        unit_of(unit)
                    except UnreadableQuantity as reason:
                        raise ValueError(f"tables.{name}.units.{field}: {reason}") from None
        return self

    def sorts_of(self, table: Table) -> list[Sort]:
        """A table's own sort rules, then the shared ones that it refers to."""
        return [*table.sort, *(self.sorts[table.sort_as] if table.sort_as else ())]


# Statuses that mean the same wherever they are printed. Presence is not health, so `present` is absent
# from this list on purpose; a dialect says what its own words mean.
COMMON_WORDS: Mapping[str, Condition] = {
    "ok": Condition.OK,
    "good": Condition.OK,
    "normal": Condition.OK,
    "warning": Condition.WARNING,
    "fail": Condition.FAILED,
    "failed": Condition.FAILED,
    "failure": Condition.FAILED,
    "fault": Condition.FAILED,
    "faulty": Condition.FAILED,
    "bad": Condition.FAILED,
    "critical": Condition.FAILED,
    "absent": Condition.ABSENT,
    "not present": Condition.ABSENT,
    "missing": Condition.ABSENT,
    "no input": Condition.NO_INPUT,
    "standby": Condition.STANDBY,
}


_AFTER_HEAD = re.compile(r"^\[(?!\[evidence\]\])", re.MULTILINE)


class Dialect:
    """A device family's manifest and templates, validated and compiled on demand.

    `place` is how messages name its folder; `origin` tells in words where a dialect comes from that is not
    shipped. Any use can raise DialectFault.
    """

    def __init__(
        self,
        name: str,
        manifest_text: str,
        templates: Mapping[str, str],
        place: str | None = None,
        origin: str | None = None,
    ) -> None:
        self.name = name
        self.place = place or f"parsers/{name}"
        self.origin = origin
        self._text = manifest_text
        self._texts = templates
        self._compiled: dict[str, Template] = {}
        self._words: dict[str, Mapping[str, Condition]] = {}

    def __repr__(self) -> str:
        return f"Dialect({self.name!r})"

    @property
    def file(self) -> str:
        return f"{self.place}/dialect.toml"

    def _toml(self, text: str) -> dict[str, Any]:
        try:
            return tomllib.loads(text)
        except tomllib.TOMLDecodeError as reason:
            raise DialectFault(self.file, "", f"is not TOML: {reason}") from None
        except RecursionError:
            raise DialectFault(self.file, "", "is nested too deeply") from None

    def _validated(self, thorough: bool) -> Manifest:
        try:
            return Manifest.model_validate(self._toml(self._text), context={"thorough": True} if thorough else None)
        except ValidationError as refused:
            first = refused.errors(include_url=False, include_context=False)[0]
            # Validators of one value are part of pydantic's path to it, and no key of the file.
            key = ".".join(str(part) for part in first["loc"] if not str(part).startswith("function-"))
            raise DialectFault(self.file, key or "manifest", first["msg"].removeprefix("Value error, ")) from None

    @cached_property
    def manifest(self) -> Manifest:
        return self._validated(thorough=False)

    @cached_property
    def evidence(self) -> tuple[tuple[str, int], ...]:
        """Literals that speak for this family, each with its weight; from the head of the manifest."""
        head = _AFTER_HEAD.search(self._text)
        found = self._toml(self._text[: head.start()] if head else self._text).get("evidence", [])
        try:
            return tuple((str(e["text"]), int(e["weight"])) for e in found)
        except (TypeError, KeyError, ValueError):
            raise DialectFault(self.file, "evidence", "every entry needs a text and a weight") from None

    @cached_property
    def files(self) -> Mapping[str, str]:
        """Everything that the dialect is made of: name within its folder -> text."""
        named = dict.fromkeys(table.template for table in self.manifest.tables.values())
        try:
            return {"dialect.toml": self._text, **{name: self._texts[name] for name in named}}
        except KeyError as missing:
            raise DialectFault(f"{self.place}/{missing.args[0]}", "", "is missing or cannot be read") from None

    @cached_property
    def digest(self) -> str | None:
        """Which dialect it is, where it is not a shipped one: SHA-256 in hex over the list of its files, as

        `sha256sum * | sha256sum` prints it (C locale) in a folder that holds them and nothing else.
        """
        if self.origin is None:
            return None
        listed = (f"{hashlib.sha256(text.encode()).hexdigest()}  {name}\n" for name, text in sorted(self.files.items()))
        return hashlib.sha256("".join(listed).encode()).hexdigest()

    @cached_property
    def sound(self) -> bool:
        """True; raises the first DialectFault of a dialect that is not shipped, whose tests nobody else has run."""
        if self.origin is not None:
            self.check()
        return True

    def check(self) -> "Dialect":
        """The dialect itself, after a thorough check; raises the first DialectFault."""
        for fault in self.faults():
            raise fault
        return self

    def template(self, table: str) -> Template:
        """The compiled template of a table; raises DialectFault."""
        found = self._compiled.get(table)
        if found is None:
            file = self.manifest.tables[table].template
            try:
                found = self._compiled[table] = Template(self._texts[file])
            except KeyError:
                raise DialectFault(f"{self.place}/{file}", "", f"the template of table `{table}` is missing") from None
            except TemplateFault as reason:
                raise DialectFault(f"{self.place}/{file}", "", str(reason)) from None
        return found

    def forget(self) -> None:
        """Drops what is remembered of lines that were read."""
        self.known_lines.clear()
        self.seen_lines.clear()
        for template in self._compiled.values():
            template.forget()

    def words(self, kind: str) -> Mapping[str, Condition]:
        """Status word in lower case -> condition, for one kind of reading."""
        found = self._words.get(kind)
        if found is None:
            own = self.manifest.words
            merged = dict(COMMON_WORDS)
            for part in ("any", kind):
                merged.update({" ".join(w.lower().split()): c for w, c in own.get(part, {}).items()})  # type: ignore[call-overload]
            found = self._words[kind] = merged
        return found

    @cached_property
    def prompt(self) -> re.Pattern[str] | None:
        """The prompt with whatever was typed behind it."""
        return re.compile(f"(?:{self.manifest.console.prompt}).*") if self.manifest.console.prompt else None

    @cached_property
    def pager(self) -> re.Pattern[str] | None:
        return re.compile(self.manifest.console.pager) if self.manifest.console.pager else None

    @cached_property
    def log(self) -> re.Pattern[str] | None:
        return _any_of(self.manifest.console.log)

    @cached_property
    def refusal(self) -> re.Pattern[str] | None:
        return _any_of(self.manifest.console.refusals)

    @cached_property
    def known_lines(self) -> dict[str, tuple[re.Match[str] | None, bool]]:
        """What `captured.split` found in lines lately: where a turn of the text is, and whether it is an echo."""
        return {}

    @cached_property
    def seen_lines(self) -> dict[str, int]:
        """What `captured.kinds_of` took lines for lately."""
        return {}

    @cached_property
    def turns(self) -> tuple[re.Pattern[str], Mapping[int, str | None]]:
        """One pattern for the lines at which a table ends or begins: group -> table, None for the prompt."""
        parts: list[str] = []
        tables: dict[int, str | None] = {}
        group = 1
        if self.manifest.console.prompt:
            parts.append(f"({self.manifest.console.prompt})")
            tables[group] = None
            group += 1 + re.compile(self.manifest.console.prompt).groups
        for name, table in self.manifest.tables.items():
            if table.begins:
                parts.append("(" + "|".join(f"(?:{b})" for b in table.begins) + ")")
                tables[group] = name
                group += 1
        return re.compile("|".join(parts) or r"(?!)"), tables

    @cached_property
    def documents(self) -> Mapping[str, re.Pattern[str]]:
        """Tables printed as JSON -> the closing bracket with the prompt that stands directly behind it.

        What prints JSON often prints no line end behind it.
        """
        prompt = self.manifest.console.prompt or r"(?!)"
        behind = re.compile(rf"(?P<closing>.*[\]}}])\s*(?={prompt})")
        return {name: behind for name, table in self.manifest.tables.items() if table.layout == "json"}

    @cached_property
    def joined(self) -> frozenset[str]:
        """Tables of which each command may print a part."""
        return frozenset(n for n, table in self.manifest.tables.items() if table.joined or table.layout == "walk")

    @cached_property
    def echoes(self) -> Mapping[str, Command]:
        """A command as it may be echoed, in lower case with single spaces -> the command."""
        return {
            " ".join(text.lower().split()): command
            for command in self.manifest.commands
            for text in (command.send, *command.also)
        }

    @cached_property
    def longest_echo(self) -> int:
        """Characters of the longest command, and a few blanks more than needed."""
        return max(map(len, self.echoes)) + 8

    @cached_property
    def airflow_words(self) -> re.Pattern[str] | None:
        words = sorted(self.manifest.airflow, key=len, reverse=True)
        return re.compile(r"(?<!\w)(" + "|".join(map(re.escape, words)) + r")(?!\w)") if words else None

    def weight(self, text: str) -> int:
        """How strongly a text speaks for this family."""
        return sum([weight for literal, weight in self.evidence if literal in text])

    def faults(self) -> list[DialectFault]:
        """Everything wrong with the templates and the ties between them and the manifest."""
        try:
            thorough = self._validated(thorough=True)
            if tuple((e.text, e.weight) for e in thorough.evidence) != self.evidence:
                raise DialectFault(self.file, "evidence", "must stand before every other table of the manifest")
        except DialectFault as fault:
            return [fault]
        faults: list[DialectFault] = []
        for name, table in self.manifest.tables.items():
            try:
                template = self.template(name)
            except DialectFault as fault:
                faults.append(fault)
                continue
            faults.extend(
                DialectFault(f"{self.place}/{table.template}", "", reason) for reason in template_faults(template)
            )
            known = set(template.fields)
            sorts = self.manifest.sorts_of(table)
            states = {s.states: self.manifest.states[s.states] for s in (table, *sorts) if s.states}
            stated = {f for rules in states.values() for rule in rules for f in (*rule.when, *rule.says)}
            used = _fields_used(table, table.sort) | (stated if table.states in states else set())
            shared = _fields_used(table, sorts) | stated
            kinds = {k for s in (table, *sorts) if (k := s.kind or table.kind)}
            record_fields = {f for k in kinds for f in (*KINDS[k].model_fields, *EXTRA_FIELDS)} | set(table.duration)
            if table.fixed_point:
                record_fields |= set(FIXED_POINT_FIELDS)
            key = f"tables.{name}"
            for field in sorted(used - known):
                faults.append(
                    DialectFault(self.file, key, f"uses field `{field}`, which {table.template} does not give")
                )
            for field in sorted(known - shared - record_fields - set(table.ignored)):
                faults.append(DialectFault(self.file, key, f"field `{field}` of {table.template} is used for nothing"))
        return faults


EXTRA_FIELDS = ("status", "text", "value_unit", "low_fatal", "high_fatal")
"""Template fields that are not record fields by name: the status word, a text that is no status word
(a clock, a name), the unit of `value` where it stands in a cell of its own, and limits beyond
critical (used where critical itself is not given)."""


def _any_of(patterns: list[str]) -> re.Pattern[str] | None:
    return re.compile("|".join(f"(?:{p})" for p in patterns)) if patterns else None


def _fields_used(table: Table, sorts: list[Sort]) -> set[str]:
    used = set(table.units) | set(table.duration) | set(table.ignored)
    for sort in (table, *sorts):
        used |= set(sort.when)
        for form in (sort.unit, sort.name):
            used |= set(re.findall(r"\{(\w+)\}", form or ""))
        if sort.status_from:
            used.add(sort.status_from)
        if sort.quantity:
            used.add("value")
    groups = {g for s in sorts for p in s.when.values() for g in re.compile(p).groupindex}
    return used - groups
