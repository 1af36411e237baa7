"""XML as devices print it: elements, attributes and text, to the same tree as JSON, each value with its line.

Neither entities nor declarations of types are followed; what is not whole and well nested is no XML here.
"""

import re
from collections.abc import Sequence

from consolecheck.reading.table import DEEPEST, Arr, Leaf, Obj
from consolecheck.records.text import Line

_MARKUP = re.compile(
    r"\s*(?:(?P<skip><\?[^<>]*\?>|<!--(?:[^-]|-(?!->))*-->)|</(?P<close>[\w:.-]{1,80})\s*>"
    r"|<(?P<open>[A-Za-z_][\w:.-]{0,80})(?P<given>(?:\s+[\w:.-]{1,60}\s*=\s*(?:\"[^\"<]*\"|'[^'<]*'))*)\s*(?P<alone>/?)>|(?P<text>[^<]+))"
)
_GIVEN = re.compile(r"([\w:.-]+)\s*=\s*(?:\"([^\"]*)\"|'([^']*)')")
_NAMED_CHARACTERS = {"&lt;": "<", "&gt;": ">", "&quot;": '"', "&apos;": "'", "&amp;": "&"}


def parse_xml(lines: Sequence[Line], first: int) -> tuple[object, int] | None:
    """The element that begins on a line, as a tree, and the index of its last line; None where it is none or not whole."""
    stack: list[tuple[str, Obj, Obj, list[tuple[str, int]]]] = []
    root = Obj()
    for index in range(first, len(lines)):
        line = lines[index]
        if line.doubt:
            return None
        at = 0
        while line.text[at:].strip():
            match = _MARKUP.match(line.text, at)
            if match is None or match.end() == at:
                return None
            at = match.end()
            if (name := match["open"]) is not None:
                if len(stack) >= DEEPEST:
                    return None
                given = Obj(
                    (key, Leaf(_plain_characters(a or b), line.number, True))
                    for key, a, b in _GIVEN.findall(match["given"])
                )
                stack.append((name, given, Obj(), []))
            if match["close"] is not None or match["alone"]:
                if not stack or (match["close"] is not None and match["close"] != stack[-1][0]):
                    return None
                name, given, members, texts = stack.pop()
                around = stack[-1][2] if stack else root
                around.append(_member(name.split(":")[-1], given, members, texts, line.number, around))
                if not stack:
                    return None if line.text[at:].strip() else (_grouped(root), index)
            elif match["text"] is not None and match["text"].strip():
                if not stack:
                    return None
                stack[-1][3].append((_plain_characters(match["text"].strip()), line.number))
        if not stack and index > first + 2:
            return None
    return None


def _plain_characters(text: str) -> str:
    return re.sub(r"&(?:lt|gt|quot|apos|amp);", lambda m: _NAMED_CHARACTERS[m.group()], text) if "&" in text else text


_OF_NO_MEANING = frozenset(
    "property prop field attribute attr param parameter datum data column object instance record row item".split()  # noqa: SIM905
)
"""Names of elements that tell nothing of what they hold: an attribute then names it. Common practice, no source."""
_CALLED = ("display-name", "label", "name")
_OF_A_KEY = frozenset((*_CALLED, "type", "key", "unit", "units", "uom", "format", "size"))
"""Attributes that tell of a value how it is called and written, and hold none."""


class _Named(tuple[str, object]):
    """A key with its value, where the key stood in an attribute."""

    __slots__ = ()


def _member(
    tag: str, given: Obj, members: Obj, texts: list[tuple[str, int]], line: int, around: Obj
) -> tuple[str, object]:
    """The key of an element and what it holds: `<property name="health">OK</property>` is the key `health`."""
    if tag.lower() in _OF_NO_MEANING:
        told = {k.lower(): v.text for k, v in given if isinstance(v, Leaf)}
        if not members and told.keys() <= _OF_A_KEY and (names := [told[c] for c in _CALLED if told.get(c)]):
            taken = {k for k, _ in around}
            unit = next((u for k, u in told.items() if k in ("unit", "units", "uom")), "")
            text, first = " ".join(t for t, _ in texts), texts[0][1] if texts else line
            leaf = Leaf(f"{text} {unit}".strip() if text else "", first, True)
            return _Named((next((n for n in names if n not in taken), names[-1]), leaf))
        if told.get("name") and any(isinstance(m, _Named) for m in members):
            return _Named((told["name"], _grouped(members)))  # what it is called, and its own attributes, tell no more
    return tag, _element(Obj((*given, *members)), texts, line)


def _element(members: Obj, texts: list[tuple[str, int]], line: int) -> object:
    """What an element holds: its text with the unit that an attribute names, or its members."""
    if texts and not any(isinstance(v, Obj | Arr) for _, v in members):
        unit = next((v.text for k, v in members if k.lower() in ("unit", "units", "uom") and isinstance(v, Leaf)), "")
        if len(members) <= bool(unit):
            return Leaf(f"{' '.join(t for t, _ in texts)} {unit}".strip(), texts[0][1], True)
    if texts:
        members.append(("value", Leaf(" ".join(t for t, _ in texts), texts[0][1], True)))
    return _grouped(members) if members else Leaf("", line, True)


def _grouped(members: Obj) -> Obj:
    """Members of one name as a list below that name."""
    names = [k for k, _ in members]
    found = Obj()
    for key, value in members:
        if names.count(key) == 1:
            found.append((key, value))
        elif key not in (k for k, _ in found):
            found.append((key, Arr(v for k, v in members if k == key)))
    return found
