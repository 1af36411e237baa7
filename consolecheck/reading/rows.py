"""Turns one template row into one typed reading, by what the dialect says the fields mean.

A cell that is blank (or printed as the dialect's blank) gives no value. A cell that holds something
which cannot be understood makes the whole row unreadable: half a row is worse than none, because the
half that was dropped may be the one that mattered.
"""

import re
from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from consolecheck.reading.dialect import Dialect, Sort, Table
from consolecheck.reading.fixed_point import FIELDS, fixed_point, float32
from consolecheck.reading.memory import ROWS
from consolecheck.records.readings import KINDS, AnyReading, Condition, worst
from consolecheck.records.text import Row
from consolecheck.records.units import UnreadableQuantity, parse_duration, parse_quantity

_LIMITS = frozenset(("low_critical", "low_warning", "high_warning", "high_critical"))
_BEYOND = {"low_fatal": "low_critical", "high_fatal": "high_critical"}
_WORDED = frozenset(("serial", "part_number", "description", "feed", "input_type"))


class UnreadableRow(ValueError):
    """The row was claimed by the template but a cell of it cannot be understood."""


_QUANTITY, _TEXT, _BESIDE, _DURATION, _LIMIT = range(5)
"""What to do with a cell: a quantity; a text; a quantity whose unit stands in a cell of its own; a length
of time; a limit, which is in the unit of the value beside it."""


class _Step(NamedTuple):
    field: str
    attribute: str
    act: int
    unit: str | None


class _Plan(NamedTuple):
    """Everything about a sort rule that does not depend on the row."""

    make: type[AnyReading]
    kind: str
    unit: str | None
    name: str | None
    quantity: str | None
    quantities: frozenset[str]
    units: Mapping[str, str | None]
    worded: frozenset[str]
    words: Mapping[str, Condition]
    bits: Mapping[int, Condition] | None
    states: tuple[tuple[list[tuple[str, re.Pattern[str]]], Condition, list[str]], ...] | None
    no_status: Condition | None
    status_from: str
    has_airflow: bool
    steps: dict[tuple[str, ...], list[_Step]]
    """What to do with each field, by the fields that a row has."""


_WELL = (Condition.OK, Condition.STANDBY)
_NO_GROUPS: Mapping[str, str | None] = {}


class RowReader:
    """Reads the rows of one table of one dialect."""

    def __init__(self, dialect: Dialect, table: str) -> None:
        self.dialect = dialect
        self.table: Table = dialect.manifest.tables[table]
        self.blank = frozenset(("", *dialect.manifest.blank_cells))
        self.airflow = dialect.manifest.airflow
        self.airflow_alike = frozenset(dialect.manifest.airflow_alike)
        self.airflow_in = dialect.manifest.airflow_in
        self.rules = [
            ([(field, re.compile(pattern)) for field, pattern in sort.when.items()], self._plan(sort))
            for sort in dialect.manifest.sorts_of(self.table)
        ]
        self.default = self._plan(self.table) if self.table.kind else None
        self.sorted_by = tuple(
            dict.fromkeys(field for sort in dialect.manifest.sorts_of(self.table) for field in sort.when)
        )
        self.chosen: dict[tuple[str | None, ...], tuple[_Plan, Mapping[str, str | None]]] = {}
        self.known: dict[tuple[object, tuple[str | None, ...]], AnyReading] = {}

    def _plan(self, sort: Sort) -> _Plan:
        table = self.table
        kind = sort.kind or table.kind
        assert kind is not None, "the manifest's own check refuses a sort rule without a kind"
        make = KINDS[kind]
        bits = sort.bits or table.bits
        return _Plan(
            make=make,
            kind=kind,
            unit=sort.unit or (table.unit if sort.kind in (None, table.kind) else None),
            name=sort.name if sort.name is not None else table.name,
            quantity=sort.quantity or table.quantity,
            quantities=frozenset(make.QUANTITIES),
            units={**table.units, **sort.units},
            worded=_WORDED & frozenset(make.model_fields),
            words=self.dialect.words(kind),
            bits={int(k): c for k, c in self.dialect.manifest.bits[bits].items()} if bits else None,
            states=self._states(sort.states or table.states),
            no_status=sort.no_status or table.no_status,
            status_from=sort.status_from or table.status_from or "status",
            has_airflow="airflow" in make.model_fields,
            steps={},
        )

    def _states(
        self, name: str | None
    ) -> tuple[tuple[list[tuple[str, re.Pattern[str]]], Condition, list[str]], ...] | None:
        if name is None:
            return None
        return tuple(
            ([(field, re.compile(pattern)) for field, pattern in state.when.items()], state.condition, state.says)
            for state in self.dialect.manifest.states[name]
        )

    def reading(self, row: Row) -> AnyReading:
        """The reading of a row; raises UnreadableRow with the reason."""
        key = (row.shape, row.cells)
        found = self.known.get(key)
        if found is None:
            values = row.values
            if self.table.fixed_point or self.table.float32:
                values = self._decoded(values)
            found = self._read(values)
            ROWS.one_more(self.known)
            self.known[key] = found
        return found

    def _sorted(self, values: Mapping[str, str | None]) -> tuple[_Plan, Mapping[str, str | None]]:
        if not self.rules and self.default is not None:
            return self.default, _NO_GROUPS
        key = tuple([values.get(field) for field in self.sorted_by])
        found = self.chosen.get(key)
        if found is not None:
            return found
        for conditions, plan in self.rules:
            groups: dict[str, str] = {}
            for field, pattern in conditions:
                match = pattern.fullmatch(values.get(field) or "")
                if match is None:
                    break
                groups.update(match.groupdict())
            else:
                ROWS.one_more(self.chosen)
                self.chosen[key] = (plan, groups)
                return plan, groups
        if self.default is None:
            raise UnreadableRow("the dialect does not say what kind of thing this row is")
        return self.default, {}

    def _read(self, values: Mapping[str, str | None]) -> AnyReading:
        plan, groups = self._sorted(values)
        steps = plan.steps.get(fields := tuple(values))
        if steps is None:
            steps = plan.steps[fields] = self._steps(plan, fields)
        kept: dict[str, Any] = {}
        blank = self.blank
        attribute = ""
        try:
            for field, attribute, act, assumed in steps:
                text = values[field]
                if text is None or text in blank:
                    continue
                if act == _QUANTITY:
                    kept[attribute] = parse_quantity(text, assumed)
                elif act == _TEXT:
                    kept[attribute] = text
                elif act == _BESIDE:
                    kept[attribute] = parse_quantity(text, values.get("value_unit") or assumed)
                elif act == _DURATION:
                    kept[attribute] = parse_duration(text)
                elif attribute not in kept and (unit := self._limit_unit(assumed, values)) is not False:
                    kept[attribute] = parse_quantity(text, unit)
        except UnreadableQuantity as reason:
            raise UnreadableRow(f"{attribute.replace('_', ' ')}: {reason}") from None
        kept["condition"], kept["status_text"] = self._condition(plan, values)
        if plan.has_airflow:
            if (airflow := self._airflow(values)) is not None:
                kept["airflow"] = airflow
            if self.airflow_alike and (word := values.get("airflow")) and word in self.airflow_alike:
                kept["airflow_word"] = word
        if plan.unit is not None:
            kept["unit"] = self._formed(plan.unit, values, groups, "unit")
        if plan.name is not None:
            kept["name"] = self._formed(plan.name, values, groups, "name")
        try:
            # As a call of the class, with less on the way.
            made: AnyReading = plan.make.__pydantic_validator__.validate_python(kept)
            return made
        except ValueError as refused:
            raise UnreadableRow(f"does not fit a {plan.kind.replace('_', ' ')}: {refused}") from None

    def _decoded(self, values: dict[str, str | None]) -> dict[str, str | None]:
        """The row with numbers in place of what encodes them; raises UnreadableRow."""
        made = dict(values)
        try:
            for field in self.table.float32:
                if text := values.get(field):
                    made[field] = float32(text)
            if self.table.fixed_point:
                value = values.get("value")
                value = None if value is None or value in self.blank else value
                found = fixed_point(value, *(values.get(field) for field in FIELDS))
                made["value"], made["value_unit"] = found or (None, None)
        except UnreadableQuantity as reason:
            raise UnreadableRow(str(reason)) from None
        return made

    def _steps(self, plan: _Plan, fields: tuple[str, ...]) -> list[_Step]:
        """What to do with each field of such a row, in order; limits beyond critical come last."""
        steps: list[_Step] = []
        beside_given = "value_unit" in fields
        for field in fields:
            assumed = plan.units.get(field)
            if field in _LIMITS:
                steps.append(_Step(field, field, _LIMIT, assumed or plan.units.get("value")))
            elif field == "value" and plan.quantity is not None:
                steps.append(_Step(field, plan.quantity, _BESIDE if beside_given else _QUANTITY, assumed))
            elif field in self.table.duration and field in plan.quantities:
                steps.append(_Step(field, field, _DURATION, None))
            elif field in plan.quantities:
                beside = field == "value" and beside_given and assumed is None
                steps.append(_Step(field, field, _BESIDE if beside else _QUANTITY, assumed))
            elif field in plan.worded:
                steps.append(_Step(field, field, _TEXT, None))
        for field, limit in _BEYOND.items():
            if field in fields:
                steps.append(_Step(field, limit, _LIMIT, plan.units.get(limit) or plan.units.get("value")))
        return steps

    def _limit_unit(self, stated: str | None, values: Mapping[str, str | None]) -> str | Literal[False] | None:
        """The unit that a bare limit is in; False where the row has no reading and so no unit for it."""
        unit = stated or values.get("value_unit")
        if unit is None and (values.get("value") or "") in self.blank:
            return False
        return unit

    def _condition(self, plan: _Plan, values: Mapping[str, str | None]) -> tuple[Condition | None, str | None]:
        if plan.states is not None:
            for fits, condition, says in plan.states:
                if all(pattern.fullmatch(values.get(field) or "") for field, pattern in fits):
                    return condition, " ".join(t for field in says if (t := values.get(field))) or None
            return plan.no_status, values.get("text") or None
        text = values.get(plan.status_from)
        if text is None or not text or text in self.blank:
            return plan.no_status, values.get("text") or None
        if plan.bits is not None:
            try:
                mask = int(text, 16)
            except ValueError:
                return Condition.UNKNOWN, text
            conditions = [plan.bits.get(bit, Condition.UNKNOWN) for bit in range(mask.bit_length()) if mask >> bit & 1]
            told = worst(conditions) if conditions else plan.no_status or Condition.UNKNOWN
            if told in _WELL and Condition.OK not in conditions:
                told = Condition.UNKNOWN  # inactive, say, but not even present
            return told, text
        if self.table.status_split and self.table.status_split in text:
            parts = [p for p in text.split(self.table.status_split) if p.strip()]
            return worst(self._worded(plan, part) for part in parts), text
        return self._worded(plan, text), text

    def _worded(self, plan: _Plan, text: str) -> Condition:
        found = plan.words.get(text)
        if found is None:
            found = plan.words.get(" ".join(text.lower().split()), Condition.UNKNOWN)
        return found

    def _airflow(self, values: Mapping[str, str | None]) -> str | None:
        text = values.get("airflow")
        if text and text not in self.blank:
            found = self.airflow.get(text) or self.airflow.get(text.lower())
            if found is None and text in self.airflow_alike:
                return None
            if found is None:
                raise UnreadableRow(f"airflow: `{text}` is not in the dialect's airflow table")
            return found
        if self.airflow_in and (words := self.dialect.airflow_words):
            said = {self.airflow[m] for f in self.airflow_in for m in words.findall(values.get(f) or "")}
            if len(said) == 1:
                return said.pop()
        return None

    def _formed(
        self, form: str, values: Mapping[str, str | None], groups: Mapping[str, str | None], attribute: str
    ) -> str | None:
        try:
            made = form.format_map({**values, **groups} if groups else values)
        except KeyError as missing:
            raise UnreadableRow(f"no {missing.args[0]} to name the {attribute} by") from None
        if " " in made:
            made = " ".join(made.split())
        return (made.lower() if attribute == "unit" else made) or None
