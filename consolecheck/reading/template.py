"""Runs a TextFSM template so that every record knows its lines and nothing is passed over in silence.

The library parses and validates the template; its compiled states and rules, which are public
attributes, are then walked here one numbered line at a time. Tables come out identical to the
library's own `ParseText` (a test holds the two together over every fixture and over generated
templates). Three things are ours: each record carries the line and the match of every value; a line
that reaches a state's catch-all `-> Error` is handed back as unread instead of ending the parse; and
a line that matches no rule at all is unread too.

A template's own laws (checked by `template_faults`): every rule is anchored to the end of the line;
every state ends in a catch-all error; no `Fillup` and no `List`; `Filldown` only with an explicit
`EOF` state, since it would add a phantom last row otherwise.
"""

import io
import re
from collections.abc import Callable, Iterable
from typing import NamedTuple

import textfsm

from consolecheck.records.text import Line, Row


class TemplateFault(ValueError):
    """The template is not TextFSM, or breaks one of the laws above."""


_NO_RECORD, _RECORD, _CLEAR, _CLEAR_ALL = range(4)
_NEXT, _CONTINUE, _ERROR = range(3)
_RECORD_OPS = {"": _NO_RECORD, "NoRecord": _NO_RECORD, "Record": _RECORD, "Clear": _CLEAR, "Clearall": _CLEAR_ALL}
_LINE_OPS = {"": _NEXT, "Next": _NEXT, "Continue": _CONTINUE, "Error": _ERROR}


class _Rule(NamedTuple):
    match: Callable[[str], re.Match[str] | None]
    fields: tuple[tuple[int, str], ...]
    record_op: int
    line_op: int
    new_state: str


class Template:
    """A compiled template. `fields` are its value names in lower case."""

    def __init__(self, text: str) -> None:
        try:
            machine = textfsm.TextFSM(io.StringIO(text))
        except (textfsm.TextFSMTemplateError, re.error) as reason:
            raise TemplateFault(str(reason)) from None
        self.machine = machine
        names = [value.name for value in machine.values]
        self.fields = tuple(name.lower() for name in names)
        options = {value.name.lower(): frozenset(value.OptionNames()) for value in machine.values}
        self.filldown = tuple(f for f in self.fields if "Filldown" in options[f])
        self.required = tuple(f for f in self.fields if "Required" in options[f])
        self.options = options
        self.states = {
            state: tuple(_compiled(rule) for rule in rules) for state, rules in machine.states.items() if state != "EOF"
        }
        self.records_at_end = "EOF" not in machine.states

    def rows(self, lines: Iterable[Line]) -> tuple[list[Row], list[Line], int]:
        """Every record of `lines`, the lines that nothing claimed, and the last line number claimed."""
        records: list[Row] = []
        unread: list[Line] = []
        rules = self.states["Start"]
        values: dict[str, str] = {}
        marks: dict[str, tuple[int, re.Match[str]]] = {}
        touched: list[int] = []
        last = 0
        for line in lines:
            number, text, doubt = line
            if doubt:
                unread.append(line)
                continue
            for match, fields, record_op, line_op, new_state in rules:
                found = match(text)
                if found is None:
                    continue
                if line_op == _ERROR:
                    unread.append(line)
                    break
                last = number
                for index, field in fields:
                    value = found.group(index)
                    # None is a branch of the pattern that did not take part; the library stores it too.
                    values[field] = value
                    marks[field] = (number, found)
                if fields and (not touched or touched[-1] != number):
                    touched.append(number)
                if record_op:
                    if record_op == _RECORD:
                        self._append(records, values, marks, touched)
                    values, marks, touched = self._cleared(values, marks, touched, record_op)
                if line_op == _CONTINUE:
                    continue
                if new_state:
                    rules = self.states.get(new_state, ())
                break
            else:
                if text and not text.isspace():
                    unread.append(line)
        if self.records_at_end:
            self._append(records, values, marks, touched)
        return records, unread, last

    def _append(
        self,
        records: list[Row],
        values: dict[str, str],
        marks: dict[str, tuple[int, re.Match[str]]],
        touched: list[int],
    ) -> None:
        for field in self.required:
            if not values.get(field):
                return
        for value in values.values():
            if value is not None:
                records.append(Row(values, tuple(touched), marks))
                return

    def _cleared(
        self,
        values: dict[str, str],
        marks: dict[str, tuple[int, re.Match[str]]],
        touched: list[int],
        record_op: int,
    ) -> tuple[dict[str, str], dict[str, tuple[int, re.Match[str]]], list[int]]:
        if not self.filldown or record_op == _CLEAR_ALL:
            return {}, {}, []
        kept = {f: marks[f] for f in self.filldown if f in marks}
        return {f: values[f] for f in kept}, dict(kept), sorted({mark[0] for mark in kept.values()})


def _compiled(rule: textfsm.parser.TextFSMRule) -> _Rule:
    pattern: re.Pattern[str] = re.compile(rule.regex)
    fields = tuple((index, name.lower()) for name, index in pattern.groupindex.items())
    line_op = _LINE_OPS[rule.line_op]
    return _Rule(pattern.match, fields, _RECORD_OPS[rule.record_op], line_op, rule.new_state if line_op != _ERROR else "")


def template_faults(template: Template) -> list[str]:
    """Which of the laws for templates this one breaks, in words; empty when it keeps them all."""
    faults = []
    for field, options in template.options.items():
        if banned := options & {"Fillup", "List"}:
            faults.append(f"value {field.upper()} uses {', '.join(sorted(banned))}, which loses the line of a value")
    if template.filldown and template.records_at_end:
        faults.append("Filldown without an explicit EOF state adds a phantom last row")
    for state, rules in template.machine.states.items():
        if state == "EOF":
            continue
        if not rules or rules[-1].line_op != "Error" or rules[-1].regex != "^.":
            faults.append(f"state {state} does not end in the catch-all `^. -> Error`")
        for rule in rules[:-1]:
            if rule.line_op == "Error":
                faults.append(f"line {rule.line_num}: an error rule before the end of state {state}")
            elif not rule.regex.endswith("$"):
                faults.append(f"line {rule.line_num}: the rule is not anchored to the end of the line with $$")
    return faults
