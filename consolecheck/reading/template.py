"""Runs a TextFSM template so that every record knows its lines and nothing is passed over in silence.

The library parses and validates the template; its compiled states and rules, which are public
attributes, are then walked here one numbered line at a time. Tables come out identical to the
library's own `ParseText` (a test holds the two together over every fixture and over generated
templates). Three things are ours: each record carries the line and the match of every value; a line
that reaches a state's catch-all `-> Error` is handed back as unread instead of ending the parse; and
a line that matches no rule at all is unread too.

A template's own laws (checked by `template_faults`): every rule is anchored to the end of the line;
every state ends in a catch-all error; no rule can take long on any line (`bounded`); no `Fillup` and
no `List`; `Filldown` only with an explicit `EOF` state or beside a `Required` value, since it would add
a phantom last row otherwise.
"""

import io
import re
from collections.abc import Callable, Iterable
from functools import partial
from typing import NamedTuple

import textfsm

from consolecheck.reading.bounded import hang_fault
from consolecheck.reading.memory import LINES
from consolecheck.records.text import Line, Mark, Row


class TemplateFault(ValueError):
    """The template is not TextFSM, or breaks one of the laws above."""


_NO_RECORD, _RECORD, _CLEAR, _CLEAR_ALL = range(4)
_NEXT, _CONTINUE, _ERROR = range(3)
_RECORD_OPS = {"": _NO_RECORD, "NoRecord": _NO_RECORD, "Record": _RECORD, "Clear": _CLEAR, "Clearall": _CLEAR_ALL}
_LINE_OPS = {"": _NEXT, "Next": _NEXT, "Continue": _CONTINUE, "Error": _ERROR}


class _Rule(NamedTuple):
    match: Callable[[str], re.Match[str] | None]
    fields: tuple[str, ...]
    groups: tuple[int, ...]
    record_op: int
    line_op: int
    new_state: str
    whole: bool
    """Whether this rule alone makes a record: it records, stays on no line, and nothing is carried over."""
    shape: int
    """A number for rows that this rule makes alone, unlike any other rule's."""


LONGEST_REMEMBERED = 200
"""Characters; switches print the same lines again and again."""


class _Hit(NamedTuple):
    """What a line meets in a state: the record that it makes alone, or all rules that fit up to the first that does not
    hand the line on."""

    cells: tuple[str | None, ...] | None
    fields: tuple[str, ...]
    found: re.Match[str] | None
    shape: int
    new_state: str
    matching: tuple[tuple[_Rule, re.Match[str]], ...]


def _met(rules: tuple[_Rule, ...], text: str, known: dict[str, _Hit]) -> _Hit:
    """What a line meets that is not known yet."""
    matching: list[tuple[_Rule, re.Match[str]]] = []
    for rule in rules:
        found = rule.match(text)
        if found is not None:
            matching.append((rule, found))
            if rule.line_op != _CONTINUE:
                break
    hit = _NOTHING
    if matching:
        rule, found = matching[0]
        cells = _cells(rule, found) if rule.whole else None
        if cells is not None and cells.count(None) == len(cells):
            cells = None
        hit = _hit((cells, rule.fields, found, rule.shape, rule.new_state, tuple(matching)))
    if len(text) <= LONGEST_REMEMBERED:
        LINES.one_more(known)
        known[text] = hit
    return hit


def _cells(rule: _Rule, found: re.Match[str]) -> tuple[str | None, ...]:
    return found.group(*rule.groups) if len(rule.groups) > 1 else (found.group(rule.groups[0]),)


_hit = partial(tuple.__new__, _Hit)
_NOTHING = _Hit(None, (), None, 0, "", ())


class Template:
    """A compiled template. `fields` are its value names in lower case."""

    def __init__(self, text: str) -> None:
        try:
            machine = textfsm.TextFSM(io.StringIO(text))
        except (textfsm.TextFSMTemplateError, re.error, OverflowError, RecursionError) as reason:
            raise TemplateFault(str(reason)) from None
        self.machine = machine
        self.options = {value.name.lower(): frozenset(value.OptionNames()) for value in machine.values}
        self.fields = tuple(self.options)
        self.filldown = tuple(f for f, options in self.options.items() if "Filldown" in options)
        self.required = tuple(f for f, options in self.options.items() if "Required" in options)
        self.records_at_end = "EOF" not in machine.states
        simple = not self.filldown and not self.required
        self.states = {
            state: tuple(_compiled(rule, simple) for rule in rules)
            for state, rules in machine.states.items()
            if state != "EOF"
        }
        # What a line meets depends on its state alone.
        self._walk: dict[str, tuple[tuple[_Rule, ...], dict[str, _Hit]]] = {
            state: (rules, {}) for state, rules in self.states.items()
        }

    def forget(self) -> None:
        """Drops what is remembered of lines that were read."""
        for _, known in self._walk.values():
            known.clear()

    def rows(self, lines: Iterable[Line]) -> tuple[list[Row], list[Line], int]:
        """Every record of `lines`, the lines that nothing claimed, and the last line number claimed."""
        records: list[Row] = []
        unread: list[Line] = []
        walk = self._walk
        rules, known = walk["Start"]
        nowhere: tuple[tuple[_Rule, ...], dict[str, _Hit]] = (), {}
        values: dict[str, str | None] = {}
        marks: dict[str, Mark] = {}
        touched: list[int] = []
        last = 0
        for line in lines:
            number, text, doubt = line
            if doubt:
                unread.append(line)
                continue
            hit = known.get(text)
            if hit is None:
                hit = _met(rules, text, known)
            cells, row_fields, row_match, shape, new_state, matching = hit
            if cells is not None and not values:
                last = number
                records.append(Row(row_fields, cells, (number,), row_match, None, shape))
                if new_state:
                    rules, known = walk.get(new_state, nowhere)
                continue
            for rule, found in matching:
                _, fields, groups, record_op, line_op, new_state, whole, shape = rule
                if line_op == _ERROR:
                    if not text.isspace():
                        unread.append(line)
                    break
                last = number
                if whole and not values:
                    cells = _cells(rule, found)
                    if any(cell is not None for cell in cells):
                        records.append(Row(fields, cells, (number,), found, None, shape))
                else:
                    for group, field in zip(groups, fields, strict=True):
                        # None is a branch of the pattern that did not take part; the library stores it too.
                        values[field] = found.group(group)
                        marks[field] = (number, found, group)
                    if fields and (not touched or touched[-1] != number):
                        touched.append(number)
                    if record_op:
                        if record_op == _RECORD:
                            self._append(records, values, marks, touched)
                        values, marks = self._cleared(values, marks, record_op)
                        touched = []
                if line_op == _CONTINUE:
                    continue
                if new_state:
                    rules, known = walk.get(new_state, nowhere)
                break
            else:
                if text and not text.isspace():
                    unread.append(line)
        if self.records_at_end:
            self._append(records, values, marks, touched)
        return records, unread, last

    def _append(
        self, records: list[Row], values: dict[str, str | None], marks: dict[str, Mark], touched: list[int]
    ) -> None:
        for field in self.required:
            if not values.get(field):
                return
        if any(value is not None for value in values.values()):
            fields = tuple(values)
            # A value that was carried over counts with its line, unless another took its place.
            lines = tuple(sorted({*touched, *(mark[0] for mark in marks.values())}))
            records.append(Row(fields, tuple(values.values()), lines, None, marks, fields))

    def _cleared(
        self, values: dict[str, str | None], marks: dict[str, Mark], record_op: int
    ) -> tuple[dict[str, str | None], dict[str, Mark]]:
        if not self.filldown or record_op == _CLEAR_ALL:
            return {}, {}
        kept = {f: marks[f] for f in self.filldown if f in marks}
        return {f: values[f] for f in kept}, kept


def _compiled(rule: textfsm.parser.TextFSMRule, simple: bool) -> _Rule:
    pattern: re.Pattern[str] = re.compile(rule.regex)
    fields = tuple(name.lower() for name in pattern.groupindex)
    record_op, line_op = _RECORD_OPS[rule.record_op], _LINE_OPS[rule.line_op]
    whole = simple and bool(fields) and record_op == _RECORD and line_op == _NEXT
    new_state = rule.new_state if line_op != _ERROR else ""
    return _Rule(
        pattern.match, fields, tuple(pattern.groupindex.values()), record_op, line_op, new_state, whole, rule.line_num
    )


def template_faults(template: Template) -> list[str]:
    """Which of the laws for templates this one breaks, in words; empty when it keeps them all."""
    faults = []
    for field, options in template.options.items():
        if banned := options & {"Fillup", "List"}:
            faults.append(f"value {field.upper()} uses {', '.join(sorted(banned))}, which loses the line of a value")
    if template.filldown and template.records_at_end and not set(template.required) - set(template.filldown):
        faults.append("Filldown without an explicit EOF state adds a phantom last row")
    for state, rules in template.machine.states.items():
        if state == "EOF":
            continue
        if not rules or rules[-1].line_op != "Error" or rules[-1].regex != "^.":
            faults.append(f"state {state} does not end in the catch-all `^. -> Error`")
        for rule in rules[:-1]:
            if hang := hang_fault(rule.regex):
                faults.append(f"line {rule.line_num}: {hang}")
            if rule.line_op == "Error":
                faults.append(f"line {rule.line_num}: an error rule before the end of state {state}")
            elif not rule.regex.endswith("$"):
                faults.append(f"line {rule.line_num}: the rule is not anchored to the end of the line with $$")
    return faults
