"""State that a device prints as a tree in braces, such as `psu 1 { oper-status up; input-watts 88; }`, as an object.

Settings are printed in the same form and say nothing of what is: a tree is read only where it tells an operational
state, which no setting holds.
"""

import re
from collections.abc import Sequence

from consolecheck.reading.inference.trees import ReadTree, read_tree
from consolecheck.reading.inference.values import condition_of
from consolecheck.reading.table import Arr, Leaf, Obj, Tree
from consolecheck.records.readings import Condition
from consolecheck.records.text import Line

_TOKEN = re.compile(r'\s*(?:"(?P<quoted>[^"]*)"|(?P<mark>[{};])|(?P<word>[^\s{};"]+))')
_KEY = re.compile(r"[A-Za-z][\w-]*")
_NAME = re.compile(r"[\w./:+#-]+")
_OPENS = re.compile(r"[A-Za-z][\w-]*(?: [^\s{}]+| \"[^\"]*\")? \{.*")
_DEEPEST = 24
_STATES = frozenset(("status", "state", "health"))
_SETTABLE = frozenset(("enabled", "enable", "disabled", "disable", "on", "off", "active", "inactive", "up", "down"))


class _NoTree(Exception):
    """The lines are no such tree."""


class _NoEnd(Exception):
    """A brace is not closed: what stands below it may be cut."""


def read_braces(lines: Sequence[Line]) -> tuple[ReadTree, frozenset[int]]:
    """What trees in braces tell, and the lines of those of which something was read."""
    found, own = ReadTree((), frozenset(), {}), frozenset[int]()
    at = 0
    while at < len(lines):
        if "{" not in lines[at].text or not _OPENS.fullmatch(lines[at].text.strip()):
            at += 1
            continue
        try:
            root, end, only_marks = _tree(lines, at)
        except _NoTree:
            at += 1
            continue
        except _NoEnd:
            break
        if _tells_what_is(root):
            read = read_tree(Tree(root, lines[at].number, lines[end - 1].number))
            if read.made:
                numbers = frozenset(line.number for line in lines[at:end])
                used = read.used | only_marks
                unread = {n: read.unread.get(n, "what it measures is not told") for n in numbers - used}
                found = ReadTree((*found.made, *read.made), found.used | used, {**found.unread, **unread})
                own |= numbers
        at = end
    return found, own


def _tree(lines: Sequence[Line], first: int) -> tuple[Obj, int, frozenset[int]]:
    """The tree that begins on a line, the place behind its last one, and the lines that hold names and braces alone."""
    stack: list[Obj] = [Obj()]
    listed: list[dict[str, Arr]] = [{}]
    opened: list[tuple[str, str]] = []
    marks: set[int] = set()
    for at in range(first, len(lines)):
        line = lines[at]
        if line.doubt:
            raise _NoTree
        words: list[tuple[str, bool]] = []
        valued = False
        for token in _tokens(line.text):
            if token == ("{", False):
                if not words or len(words) > 2 or len(stack) > _DEEPEST or not _KEY.fullmatch(words[0][0]):
                    raise _NoTree
                if len(words) == 2 and not words[1][1] and not _NAME.fullmatch(words[1][0]):
                    raise _NoTree
                opened.append((words[0][0], words[1][0] if len(words) == 2 else ""))
                stack.append(Obj())
                listed.append({})
                words = []
            elif token == ("}", False):
                valued |= _told(words, line.number, stack[-1])
                words = []
                if not opened:
                    raise _NoTree
                key, name = opened.pop()
                member = stack.pop()
                listed.pop()
                if not name:
                    stack[-1].append((key, member))
                    continue
                # Those that are told apart by a name make a list.
                member.insert(0, ("slot" if name.isdecimal() else "name", Leaf(name, _first_line(member, line), True)))
                if key not in listed[-1]:
                    stack[-1].append((key, listed[-1].setdefault(key, Arr())))
                listed[-1][key].append(member)
            elif token == (";", False):
                valued |= _told(words, line.number, stack[-1])
                words = []
            else:
                words.append(token)
        if not opened and words:
            raise _NoTree
        valued |= _told(words, line.number, stack[-1])
        if not valued:
            marks.add(line.number)
        if not opened:
            return stack[0], at + 1, frozenset(marks)
    raise _NoEnd


def _tokens(text: str) -> list[tuple[str, bool]]:
    """The words and marks of a line, each with whether it stood in quotes."""
    found: list[tuple[str, bool]] = []
    at = 0
    text = text.rstrip()
    while at < len(text):
        token = _TOKEN.match(text, at)
        if token is None:
            raise _NoTree
        quoted = token["quoted"]
        found.append((quoted, True) if quoted is not None else (token["mark"] or token["word"], False))
        at = token.end()
    return found


def _told(words: Sequence[tuple[str, bool]], line: int, into: Obj) -> bool:
    """Puts `key value` into an object, and says whether there was anything to be put."""
    if not words:
        return False
    key, quoted = words[0]
    if quoted or not _KEY.fullmatch(key):
        raise _NoTree
    into.append((key, Leaf(" ".join(word for word, _ in words[1:]), line, any(q for _, q in words[1:]))))
    return True


def _first_line(member: Obj, closed: Line) -> int:
    """The line of the first value of an object; of its closing brace where it has none."""
    return next((value.line for _, value in member if isinstance(value, Leaf)), closed.number)


def _tells_what_is(root: object) -> bool:
    """Whether a tree tells an operational state, and not only what was set."""
    stack = [root]
    while stack:
        value = stack.pop()
        if isinstance(value, Arr):
            stack.extend(value)
        elif isinstance(value, Obj):
            for key, member in value:
                if not isinstance(member, Leaf):
                    stack.append(member)
                elif key.lower().startswith("oper-") or (
                    key.lower() in _STATES
                    and member.text.lower() not in _SETTABLE
                    and condition_of(member.text) not in (None, Condition.UNKNOWN)
                ):
                    return True
    return False
