"""From lines of a capture to rules that claim lines like them.

Words of a list's keys and of headers stay as they are; figures in them may be other figures. Of a table's columns
that nobody takes, a figure stays a figure and the rest may be any word. Two lines that give the same rule but for
the width of their blanks share it.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from consolecheck.drafting.places import Cell, Put
from consolecheck.reading.inference.values import COLOURS, PRESENT, condition_of, is_blank, plain, unit_word
from consolecheck.reading.table import is_ruler

_PIECE = re.compile(r"[ \t]+|[^ \t]+")
_FIGURE = re.compile(r"[+-]?\d[\d.,]*")
_INTEGER = re.compile(r"[+-]?\d+")
_DECIMAL = re.compile(r"[+-]?\d+\.\d+")
_WITH_UNIT = re.compile(r"(?P<number>[+-]?\d+(?:\.\d+)?)(?P<gap> ?)(?P<unit>[A-Za-z°µ%][A-Za-z°µ/%]*)")
_WORDS = re.compile(r"[A-Za-z][A-Za-z/_-]*(?: [A-Za-z(][A-Za-z/_()-]*)*")
STATES = ("status", "presence", "flag")
"""Labels of cells that say how a thing is. Where none is taken from them they stay as they are: another word there
would make the row another one."""
TELLING = frozenset((*COLOURS, *PRESENT, "true", "false", "yes", "no", "on", "off"))
_TELLING_KEY = re.compile(
    r"(?:alarm|fault|fail|warn|err|trip|status|state|health|present|presence|alert|beep)[^:=]*[:=]", re.IGNORECASE
)
RULER = r"[-=+|_* ]{3,}"


class Gap(NamedTuple):
    """Blanks between two pieces."""

    width: int


Piece = str | Gap
"""A pattern, or blanks."""


class Rule(NamedTuple):
    """Pieces of one line with what a rule of them does."""

    pieces: tuple[Piece, ...]
    action: str


def literal(text: str) -> str:
    """A text as a pattern, with any other figures in place of its own."""
    return re.sub(r"\d+", r"\\d+", re.escape(text)).replace("$", "$$")


def exactly(text: str) -> str:
    """A text as a pattern for itself alone."""
    return re.escape(text).replace("$", "$$")


def _telling(text: str) -> int:
    """From where on a line may say how a thing is, its figures too, such as `fan1_alarm: 0`; its length where nowhere."""
    found = _TELLING_KEY.search(text)
    return found.end() if found else len(text)


def tells_of_state(text: str) -> bool:
    """Whether a key with its value says by its words that it tells how a thing is."""
    return _telling(text) < len(text)


def frame(text: str) -> tuple[Piece, ...]:
    """A header, title or ruler: its words as they are."""
    if is_ruler(text):
        return (RULER,)
    told = _telling(text)
    return _joined(
        Gap(len(p[0])) if not p[0].strip() else literal(p[0]) if p.start() < told else exactly(p[0])
        for p in _PIECE.finditer(text)
    )


def row(text: str, puts: Sequence[Put], cells: Sequence[Cell], columns: bool) -> tuple[Piece, ...]:
    """A line with what is taken from it. `columns`: it is a table's row, whose other cells may be anything."""
    near = [c for c in cells if c.label and any(c.start <= p.start and p.end <= c.end for p in puts)]
    states = [c for c in cells if c.label in STATES or ("limit" in c.label and not _FIGURE.fullmatch(c.text))]
    told = len(text) if columns else _telling(text)
    pieces: list[Piece] = []
    at = 0
    for put in (*puts, None):
        end = put.start if put is not None else len(text)
        for piece in _PIECE.finditer(text, at, end):
            word = piece[0]
            if not word.strip():
                pieces.append(Gap(len(word)))
            elif piece.start() >= told or any(c.start <= piece.start() and piece.end() <= c.end for c in states):
                pieces.append(exactly(word))
            elif (
                not columns
                or (piece.start() == at and at > 0)
                or (piece.end() == end and put is not None)
                or any(c.start <= piece.start() and piece.end() <= c.end for c in near)
                or is_blank(word)
                or unit_word(word) is not None
                or condition_of(word) is not None
                or plain(word) in TELLING
                or not any(c.isalnum() for c in word)
            ):
                pieces.append(literal(word))
            elif _FIGURE.fullmatch(word):
                pieces.append(r"[+-]?\d[\d.,]*")
            else:
                pieces.append(r"\S+")
        if put is not None:
            pieces.append(f"${{{put.field.upper()}}}")
            at = put.end
    return _joined(pieces)


def _joined(pieces: Iterable[Piece]) -> tuple[Piece, ...]:
    """Words that one blank parts become one piece where they may be anything."""
    made: list[Piece] = []
    for piece in pieces:
        if piece == r"\S+" and len(made) > 1 and made[-1] == Gap(1) and made[-2] in (r"\S+", r"\S+(?: \S+)*"):
            made[-2:] = [r"\S+(?: \S+)*"]
        elif isinstance(piece, str) and made and isinstance(made[-1], str):
            made[-1] += piece
        else:
            made.append(piece)
    while made and isinstance(made[-1], Gap):
        made.pop()
    return tuple(made[1:] if made and isinstance(made[0], Gap) else made)


def written(rules: Sequence[Rule], exact: bool = False) -> list[str]:
    """The rules as TextFSM has them, those first that leave least open. `exact`: blanks are as wide as they were seen."""
    merged: dict[tuple[tuple[str | None, ...], str], list[tuple[Piece, ...]]] = {}
    for rule in rules:
        key = tuple(None if isinstance(p, Gap) else p for p in rule.pieces)
        merged.setdefault((key, rule.action), []).append(rule.pieces)
    made = []
    for (key, action), alike in merged.items():
        out = "^ *"
        for place, piece in enumerate(key):
            if piece is not None:
                out += piece
                continue
            widths = [p.width for pieces in alike if isinstance(p := pieces[place], Gap)]
            if exact:
                out += f" {{{max(1, min(widths) - 1)},{max(widths) + 1}}}"
            else:
                out += " {2,}" if min(widths) > 1 else " +"
        made.append((out + "$$" + action, out.count(r"\S+")))
    continued = [m for m in made if "Continue" in m[0]]
    return [m[0] for m in sorted(made, key=lambda m: m[1])] if not continued else [m[0] for m in made]


def as_pattern(pieces: Sequence[Piece], patterns: Mapping[str, str]) -> str:
    """A rule as a pattern for the manifest; `patterns` are those of the fields."""
    out = "".join(" +" if isinstance(piece, Gap) else piece for piece in pieces)
    out = re.sub(r"\$\{(\w+)\}", lambda m: f"(?:{patterns[m[1].lower()]})", out)
    return f" *{out.replace('$$', chr(92) + '$')}$"


def words(texts: Iterable[str]) -> str:
    """A pattern for just these texts, with any other figures in place of theirs."""
    return "|".join(sorted({literal(text) for text in texts}, key=lambda p: (-len(p), p)))


def value(texts: Iterable[str], identity: bool = False) -> str:
    """A pattern for the cells of one field, no wider than their sort asks."""
    parts: dict[str, None] = {}
    units: dict[str, None] = {}
    blanks: dict[str, None] = {}
    for text in dict.fromkeys(texts):
        if is_blank(text) and not identity:
            blanks[re.escape(text)] = None
        elif _INTEGER.fullmatch(text):
            parts[r"[+-]?\d+"] = None
        elif _DECIMAL.fullmatch(text):
            parts[r"[+-]?\d+\.\d+"] = None
        elif not identity and (found := _WITH_UNIT.fullmatch(text)):
            units[(" " if found["gap"] else "") + re.escape(found["unit"])] = None
        elif _WORDS.fullmatch(text):
            parts[
                r"[A-Za-z(][A-Za-z/_()-]*(?: [A-Za-z(][A-Za-z/_()-]*)*" if " " in text else r"[A-Za-z][A-Za-z/_-]*"
            ] = None
        else:
            parts[r"\S+(?: \S+)*" if " " in text else r"\S+"] = None
    if units:
        parts[rf"[+-]?\d+(?:\.\d+)?(?:{'|'.join(units)})"] = None
    if r"[+-]?\d+\.\d+" in parts and r"[+-]?\d+" in parts:
        del parts[r"[+-]?\d+\.\d+"], parts[r"[+-]?\d+"]
        parts[r"[+-]?\d+(?:\.\d+)?"] = None
    widest = next((p for p in (r"\S+(?: \S+)*", r"\S+") if p in parts), None)
    if widest is not None and (widest != r"\S+" or not any(" " in p for p in parts)):
        parts = {widest: None}
    return "|".join((*parts, *blanks))
