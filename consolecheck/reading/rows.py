"""Turns one template row into one typed reading, by what the dialect says the fields mean.

A cell that is blank (or printed as the dialect's blank) gives no value. A cell that holds something
which cannot be understood makes the whole row unreadable: half a row is worse than none, because the
half that was dropped may be the one that mattered.
"""

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from consolecheck.reading.dialect import Dialect, Sort, Table
from consolecheck.records.readings import KINDS, AnyReading, Condition, worst
from consolecheck.records.text import Row
from consolecheck.records.units import UnreadableQuantity, parse_duration, parse_quantity

_LIMITS = frozenset(("low_critical", "low_warning", "high_warning", "high_critical"))
_BEYOND = {"low_fatal": "low_critical", "high_fatal": "high_critical"}
_WORDED = frozenset(("serial", "part_number", "description", "feed", "input_type"))
_REMEMBERED_ROWS = 2048


class UnreadableRow(ValueError):
    """The row was claimed by the template but a cell of it cannot be understood."""


class _Plan(NamedTuple):
    """Everything about a sort rule that does not depend on the row."""

    make: type[AnyReading]
    kind: str
    unit: str | None
    name: str | None
    quantity: str | None
    quantities: frozenset[str]
    units: Mapping[str, str]
    worded: frozenset[str]
    words: Mapping[str, Condition]
    bits: Mapping[int, Condition] | None
    no_status: Condition | None
    status_from: str


class RowReader:
    """Reads the rows of one table of one dialect."""

    def __init__(self, dialect: Dialect, table: str) -> None:
        self.dialect = dialect
        self.table: Table = dialect.manifest.tables[table]
        self.blank = frozenset(("", *dialect.manifest.blank_cells))
        self.rules = [
            ([(field, re.compile(pattern)) for field, pattern in sort.when.items()], self._plan(sort))
            for sort in dialect.manifest.sorts_of(self.table)
        ]
        self.default = self._plan(self.table) if self.table.kind else None
        self.sorted_by = tuple(dict.fromkeys(field for sort in dialect.manifest.sorts_of(self.table) for field in sort.when))
        self.chosen: dict[tuple[str | None, ...], tuple[_Plan, Mapping[str, str]]] = {}
        self.known: dict[tuple[tuple[str, str], ...], AnyReading] = {}

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
            no_status=sort.no_status or table.no_status,
            status_from=sort.status_from or table.status_from or "status",
        )

    def reading(self, row: Row) -> AnyReading:
        """The reading of a row; raises UnreadableRow with the reason."""
        key = tuple(row.values.items())
        found = self.known.get(key)
        if found is None:
            found = self._read(row.values)
            if len(self.known) >= _REMEMBERED_ROWS:
                self.known.clear()
            self.known[key] = found
        return found

    def _sorted(self, values: Mapping[str, str]) -> tuple[_Plan, Mapping[str, str]]:
        key = tuple(values.get(field) for field in self.sorted_by)
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
                if len(self.chosen) < _REMEMBERED_ROWS:
                    self.chosen[key] = (plan, groups)
                return plan, groups
        if self.default is None:
            raise UnreadableRow("the dialect does not say what kind of thing this row is")
        return self.default, {}

    def _read(self, values: Mapping[str, str]) -> AnyReading:
        plan, groups = self._sorted(values)
        kept: dict[str, Any] = {}
        blank = self.blank
        try:
            for field, text in values.items():
                if text is None or text in blank:
                    continue
                if field in _LIMITS:
                    if (limit_unit := self._limit_unit(plan, field, values)) is not False:
                        kept[field] = parse_quantity(text, limit_unit)
                elif field == "value" and plan.quantity is not None:
                    kept[plan.quantity] = parse_quantity(text, values.get("value_unit") or plan.units.get("value"))
                elif field in plan.quantities:
                    if field in self.table.duration:
                        kept[field] = parse_duration(text)
                    else:
                        assumed = plan.units.get(field) or (values.get("value_unit") if field == "value" else None)
                        kept[field] = parse_quantity(text, assumed)
                elif field in plan.worded:
                    kept[field] = text
            for beyond, limit in _BEYOND.items():
                text = values.get(beyond)
                if text is not None and text not in blank and limit not in kept:
                    if (limit_unit := self._limit_unit(plan, limit, values)) is not False:
                        kept[limit] = parse_quantity(text, limit_unit)
        except UnreadableQuantity as reason:
            raise UnreadableRow(f"{field.replace('_', ' ')}: {reason}") from None
        kept["condition"], kept["status_text"] = self._condition(plan, values)
        if "airflow" in plan.make.model_fields:
            kept["airflow"] = self._airflow(values)
        for attribute, form in (("unit", plan.unit), ("name", plan.name)):
            if form is not None:
                kept[attribute] = self._formed(form, values, groups, attribute)
        try:
            return plan.make(**kept)
        except ValueError as refused:
            raise UnreadableRow(f"does not fit a {plan.kind.replace('_', ' ')}: {refused}") from None

    def _limit_unit(self, plan: _Plan, field: str, values: Mapping[str, str]) -> str | None | bool:
        """The unit that a bare limit is in; False where the row has no reading and so no unit for it."""
        unit = plan.units.get(field) or values.get("value_unit") or plan.units.get("value")
        if unit is None and (values.get("value") or "") in self.blank:
            return False
        return unit

    def _condition(self, plan: _Plan, values: Mapping[str, str]) -> tuple[Condition | None, str | None]:
        text = values.get(plan.status_from)
        if text is None or not text or text in self.blank:
            return plan.no_status, values.get("text") or None
        if plan.bits is not None:
            try:
                mask = int(text, 16)
            except ValueError:
                return Condition.UNKNOWN, text
            conditions = [plan.bits.get(bit, Condition.UNKNOWN) for bit in range(mask.bit_length()) if mask >> bit & 1]
            return (worst(conditions) if conditions else plan.no_status or Condition.UNKNOWN), text
        if self.table.status_split and self.table.status_split in text:
            parts = [p for p in text.split(self.table.status_split) if p.strip()]
            return worst(self._worded(plan, part) for part in parts), text
        return self._worded(plan, text), text

    def _worded(self, plan: _Plan, text: str) -> Condition:
        found = plan.words.get(text)
        if found is None:
            found = plan.words.get(" ".join(text.lower().split()), Condition.UNKNOWN)
        return found

    def _airflow(self, values: Mapping[str, str]) -> str | None:
        manifest = self.dialect.manifest
        text = values.get("airflow")
        if text and text not in self.blank:
            found = manifest.airflow.get(text) or manifest.airflow.get(text.lower())
            if found is None:
                raise UnreadableRow(f"airflow: `{text}` is not in the dialect's airflow table")
            return found
        if manifest.airflow_in and (words := self.dialect.airflow_words):
            said = {manifest.airflow[m] for f in manifest.airflow_in for m in words.findall(values.get(f) or "")}
            if len(said) == 1:
                return said.pop()
        return None

    def _formed(self, form: str, values: Mapping[str, str], groups: Mapping[str, str], attribute: str) -> str | None:
        try:
            made = form.format_map({**values, **groups})
        except KeyError as missing:
            raise UnreadableRow(f"no {missing.args[0]} to name the {attribute} by") from None
        made = " ".join(made.split())
        return (made.lower() if attribute == "unit" else made) or None
