"""A second reading of a list of keys and values: as an outline, in which a thing is what its keys stand below.

    Name   : 1/1-CPU            a list of two things, since the key that comes first comes again
    Status : normal
    Name   : 1/1-DDR            `Power supply 1:` with deeper lines: a thing of that name
    Status : normal

`lists` reads a list line by line and knows many forms; this one looks at its shape alone and reads the things as
those of a JSON text. It counts only where it reads more of the list, and all that `lists` reads of it as `lists` does.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from consolecheck.reading.inference.lists import Made, ReadList
from consolecheck.reading.inference.trees import read_tree
from consolecheck.reading.inference.words import FAN, PSU, TEMP, label_of, thing_of, words_of
from consolecheck.reading.table import Arr, Item, Leaf, Obj, Pairs, Tree

_NAMES = frozenset(
    ("name", "sensor", "label", "descr", "description", "id", "index", "slot", "bay", "number", "location")
)
"""Last words of the key that a thing's lines begin with."""
_TOPICS = {
    **dict.fromkeys(("temperature", "temperatures", "thermal", "temp"), TEMP),
    **dict.fromkeys(("fan", "fans"), FAN),
    **dict.fromkeys(("psu", "psus", "supply", "supplies"), PSU),
}
_NUMBERED = re.compile(
    r"(?P<stem>(?:[A-Za-z]+ ){0,2}(?:sensor|probe)) #?\d{1,3}(?: ?\([\"'](?P<name>[^\"'()]{1,40})[\"']\))?:?\Z",
    re.IGNORECASE,
)
"""`External sensor 3 ('Rack C2 rear')`, one of several."""
_TRANSPARENT = frozenset(("properties", "attributes", "details", "data"))
"""Headings that only say that what a thing is like stands below."""
_DEEPEST = 24
"""Levels of an outline. Common practice, no source."""
_PLACED = re.compile(r"([A-Za-z]+)[ -]?(\d{1,3})-(\d{1,3})\Z")


class _Node(NamedTuple):
    item: Item
    below: tuple["_Node", ...]


def better(found: ReadList, block: Pairs, heading: str) -> ReadList:
    """What `lists` found, or the list read as an outline where that reads more and gainsays nothing."""
    if all(item.line in found.used for item in block.items) or any(item.verdict for item in block.items):
        return found
    if len({item.depth for item in block.items}) > _DEEPEST:
        return found
    outline, groups = _read(block, heading)
    whose = {line: at for at, lines in enumerate(groups) for line in lines}
    if any(len({whose[n] for n in made.lines if n in whose}) > 1 for made in found.made):
        return outline  # it put together what is of two things
    if len(outline.made) <= len(found.made):
        return found
    refused = {line for line in found.unread if line not in whose}
    if any(not refused.isdisjoint(made.lines) for made in outline.made):
        return found  # `lists` knows why not
    if not {line for made in found.made for line in made.lines} <= outline.used:
        return found
    told = {(line, made.reading.kind): made for made in outline.made for line in made.lines}
    agreed = all(any(_agree(made, told.get((n, made.reading.kind))) for n in made.lines) for made in found.made)
    return outline if agreed else found


def of_command(found: ReadList, block: Pairs, typed: str) -> ReadList:
    """What `lists` found; where that is nothing, what a list without a name tells of the thing that its command names."""
    if found.made or any(item.depth != block.items[0].depth or not item.value or item.verdict for item in block.items):
        return found
    words = typed.split()
    names = [" ".join(words[-n:]) for n in (1, 2, 3) if len(words) > n]
    # `psu-1-2` is the second one of the first shelf.
    names = [_PLACED.sub(r"\1 \2/\3", name) for name in names]
    named = next(
        (n for n in names if (t := thing_of(n)) is not None and t.slot is not None and not t.rest.strip()), None
    )
    keys = [item.key for item in block.items]
    if named is None or len(set(keys)) < len(keys) or any(thing_of(key) is not None for key in keys):
        return found
    fields = {label_of(key).field for key in keys}
    if "status" not in fields or not fields & {"quantity", "side", "serial", "part", "speed", "value"}:
        return found
    own = [item for item in block.items if label_of(item.key).field != "name"]
    members = Obj([(item.key, Leaf(item.value or "", item.line, True)) for item in own])
    read = read_tree(Tree(Obj([(named, members)]), block.first_line, block.last_line))
    return ReadList(read.made, read.used, {**found.unread, **read.unread}) if read.made else found


def _agree(one: Made, other: Made | None) -> bool:
    return (
        other is not None
        and one.reading.condition is other.reading.condition
        and one.reading.quantities() == other.reading.quantities()
    )


def _read(block: Pairs, heading: str) -> tuple[ReadList, list[set[int]]]:
    """What the outline tells, and the lines of each thing of a list that a key parts."""
    nodes = _nodes(block.items, 0, len(block.items))
    groups: list[set[int]] = []
    titles = [t.text for t in block.titles if 0 < block.first_line - t.line <= 6]
    topic = next((said for said in (*reversed(titles), heading) if _topic(said) is not None), "")
    members = _members(nodes, groups)
    if isinstance(members, Obj):  # lines beside each other are no thing for that
        members = Obj([(key, member) for key, member in members if not isinstance(member, Leaf)])
    root = Obj([(topic, members)]) if topic or isinstance(members, Arr) else members
    read = read_tree(Tree(root, block.first_line, block.last_line))
    continued = {item.line: item.more for item in block.items if item.more}
    used = set(read.used)
    for line, more in continued.items():
        if line in used:
            used.update(more)
    used.update(n.item.line for n in _all(nodes) if n.below and not n.item.value and _all_used(n, used))
    # What stands below a heading is a thing where the heading numbers it, and else where it has a name of its own.
    heads = {n.item.key for n in _all(nodes) if n.below and ((t := thing_of(n.item.key)) is None or t.slot is None)}
    kept = tuple(
        m
        for m in read.made
        if (len(m.lines) > 1 if m.reading.kind == "temperature" else m.reading.unit or m.reading.name not in heads)
    )
    used -= {n for m in read.made if m not in kept for n in m.lines}
    return ReadList(kept, frozenset(used), read.unread), groups


def _topic(said: str) -> str | None:
    found = {kind for word in words_of(said) if (kind := _TOPICS.get(word))}
    return found.pop() if len(found) == 1 else None


def _nodes(items: Sequence[Item], first: int, end: int) -> tuple[_Node, ...]:
    """The items from a place on as an outline by their depth."""
    made: list[_Node] = []
    at = first
    numbered = [m["stem"].lower() for i in items[first:end] if i.value is None and (m := _NUMBERED.match(i.key))]
    while at < end:
        behind = at + 1
        while behind < end and items[behind].depth > items[at].depth:
            behind += 1
        if (
            behind == at + 1
            and items[at].value is None
            and (
                _heads(items[at].key)
                or ((m := _NUMBERED.match(items[at].key)) is not None and numbered.count(m["stem"].lower()) > 1)
            )
        ):  # what follows it no deeper
            while behind < end and items[behind].depth == items[at].depth and items[behind].value is not None:
                behind += 1
        made.append(_Node(items[at], _nodes(items, at + 1, behind)))
        at = behind
    return tuple(made)


def _heads(text: str) -> bool:
    """Whether a heading says what stands below it, although that stands no deeper."""
    return _topic(text) is not None or ((thing := thing_of(text)) is not None and thing.slot is not None)


def _all(nodes: Sequence[_Node]) -> list[_Node]:
    return [found for node in nodes for found in (node, *_all(node.below))]


def _all_used(node: _Node, used: set[int]) -> bool:
    return any(n.item.line in used for n in _all(node.below))


def _members(nodes: Sequence[_Node], groups: list[set[int]]) -> Obj | Arr:
    """The lines of one level: a list of things where its first key comes again, else an object."""
    nodes = [node for node in nodes if node.below or node.item.value is not None]
    first = nodes[0].item if nodes else None
    if first is not None and first.value and not nodes[0].below and _names(first.key):
        starts = [at for at, node in enumerate(nodes) if node.item.key == first.key]
        parts = [nodes[a:b] for a, b in zip(starts, [*starts[1:], len(nodes)], strict=True)]
        if len(parts) > 1 and all(len({n.item.key for n in part}) == len(part) > 1 for part in parts):
            groups.extend({n.item.line for n in _all(part)} for part in parts)
            return Arr([_object(part, groups) for part in parts])
    return _object(nodes, groups)


def _names(key: str) -> bool:
    words = words_of(key)
    return bool(words) and words[-1] in _NAMES


def _object(nodes: Sequence[_Node], groups: list[set[int]]) -> Obj:
    made = Obj()
    for node in nodes:
        item = node.item
        leaf = Leaf(item.value or "", item.line, True)
        if not node.below:
            made.append((item.key, leaf))
            continue
        below = _members(node.below, groups)
        if (numbered := _NUMBERED.match(item.key)) is not None and item.value is None and isinstance(below, Obj):
            named = Leaf(numbered["name"] or item.key.rstrip(":"), item.line, True)
            made.append((item.key, Obj([("name", named), *below])))
            continue
        if item.key.lower() in _TRANSPARENT and isinstance(below, Obj):
            made.extend(below)
            continue
        if item.value:
            key = "status" if thing_of(item.key) is not None else "value"
            below = Obj([(key, leaf), *below]) if isinstance(below, Obj) else Obj([(key, leaf), ("", below)])
        made.append((item.key, below))
    return made
