"""Whether a regular expression can take long on some line, told from the expression alone.

Python's engine tries one way through an expression after the other. Two ways that read the same text to
the same place are both tried when the line does not fit in the end; where such a pair stands in a loop,
each turn doubles the work (`(\\w+ ?)+:`), and one line of forty characters hangs the tool. Where two loops
can share a text between them (`.*\\S+.*`) the work grows with a power of its length.

Here an expression becomes an automaton of its character places (Glushkov), with an edge for each way
from place to place. From pairs of places follows whether the ways on one text grow without bound and by
which power of its length (Weber and Seidl, "On the degree of ambiguity of finite automata", Theoretical
Computer Science 88, 1991, criteria EDA and IDA). Where it is not exact it says more than is true, never less: an
optional part without a loop counts as one that may repeat, and so does what lies between the least and the most of a
counted repeat.

Nothing is run and nothing is timed, so the answer is the same on every machine and a dialect is refused
before its first line is read. A deadline would need signals (one thread, not on Windows) or a process for each
text, and another engine would read some expression in another way; neither would say beforehand that a
capture is going to be read to its end.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from re import _compiler, _parser  # type: ignore[attr-defined]
from re import _constants as op  # type: ignore[attr-defined]
from typing import Any, Final, NamedTuple, TypeVar

_Node = TypeVar("_Node", int, tuple[int, int])

MOST_PLACES: Final = 1200
"""Character places after counted repeats are written out; the longest line of a table has some hundred columns."""
MOST_REPEATS: Final = 255
MOST_POWER: Final = 2
"""The greatest power of a line's length by which the work may grow; lines have an end (`screen.LONGEST_LINE`)."""
MOST_TRIED: Final = 50_000
"""Steps after which two loops count as sharing a text, for want of an answer."""
MOST_WAYS: Final = 256
"""Product of alternatives that read the same text, over a whole expression."""

_TOO_MANY_WAYS: Final = "has too many alternatives that read the same text, one behind the other"
_SAMPLES: Final = "".join(map(chr, range(0x20, 0x7F))) + "\t\n\r\x0b\x0c\x00\x1c\x85\xa0éÉſß°µ²٣日\u2028K"


class _Unbounded(ValueError):
    """Why an expression is refused, in words."""


class _Part(NamedTuple):
    empty: int
    """In how many ways the part can read nothing; 2 stands for two or more."""
    first: tuple[int, ...]
    last: tuple[int, ...]


_NOTHING: Final = _Part(1, (), ())


class _Automaton:
    """The places of an expression: which sample characters each takes (a bit set), and what may follow it."""

    def __init__(self, state: Any, parsed: Iterable[Any], flags: int) -> None:
        parsed = list(parsed)
        own = {chr(value) for value in _literals(parsed)}
        self.samples = _SAMPLES + "".join(sorted(own - set(_SAMPLES)))
        self.takes: list[int] = []
        self.follows: list[list[int]] = []
        self.ways = 1
        self.looks: list[tuple[_Automaton, bool]] = []
        """What is looked ahead or back for, and whether that may happen more than once on a line."""
        self._in_loops = 0
        self._any_loop = False
        self._state = state
        self._known: dict[tuple[Any, str, int], int] = {}
        self._sequence(parsed, flags)

    def _place(self, takes: int) -> _Part:
        if len(self.takes) >= MOST_PLACES:
            raise _Unbounded(f"has more than {MOST_PLACES} places once its repeats are written out")
        self.takes.append(takes)
        self.follows.append([])
        at = (len(self.takes) - 1,)
        return _Part(0, at, at)

    def _sequence(self, items: Iterable[Any], flags: int) -> _Part:
        whole = _NOTHING
        for what, how in items:
            whole = self._then(whole, self._item(what, how, flags))
        return whole

    def _then(self, one: _Part, two: _Part) -> _Part:
        for place in one.last:
            self.follows[place].extend(two.first)
        if one.empty > 1 or two.empty > 1:
            self._more_ways(2)
        # What can be passed over in two ways leads in two ways to what stands behind it.
        return _Part(min(2, one.empty * two.empty), one.first + two.first * one.empty, two.last + one.last * two.empty)

    def _item(self, what: Any, how: Any, flags: int) -> _Part:
        if what in (op.LITERAL, op.NOT_LITERAL, op.IN, op.ANY):
            return self._place(self._taken(what, how, flags))
        if what is op.AT:
            return _NOTHING
        if what is op.SUBPATTERN:
            _, add, drop, inside = how
            return self._sequence(inside, (flags | add) & ~drop)
        if what is op.ATOMIC_GROUP:
            return self._sequence(how, flags)
        if what is op.BRANCH:
            return self._branch([self._sequence(inside, flags) for inside in how[1]])
        if what in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
            least, most, inside = how
            return self._repeat(least, most, inside, flags)
        if what in (op.ASSERT, op.ASSERT_NOT):
            again = self._any_loop or self._in_loops > 0
            self.looks.append((_Automaton(self._state, how[1], flags), again))
            return _NOTHING
        if what in (op.GROUPREF, op.GROUPREF_EXISTS):
            raise _Unbounded("refers back to a group, whose cost has no bound that can be told")
        if what is op.FAILURE:
            return self._place(0)
        raise _Unbounded(f"uses {what}, whose cost is not known here")

    def _branch(self, parts: list[_Part]) -> _Part:
        meeting = sum(1 for at, one in enumerate(parts) if any(self._share_a_text(one, other) for other in parts[:at]))
        self._more_ways(1 + meeting)
        return _Part(
            min(2, sum(part.empty for part in parts)),
            tuple(place for part in parts for place in part.first),
            tuple(place for part in parts for place in part.last),
        )

    def _share_a_text(self, one: _Part, two: _Part) -> bool:
        """Whether both parts can read the same whole text."""
        if one.empty and two.empty:
            return True
        ends = {(a, b) for a in one.last for b in two.last}
        waiting = [(a, b) for a in one.first for b in two.first if self.takes[a] & self.takes[b]]
        seen = set(waiting)
        while waiting:
            pair = waiting.pop()
            if pair in ends:
                return True
            for a in self.follows[pair[0]]:
                for b in self.follows[pair[1]]:
                    if self.takes[a] & self.takes[b] and (a, b) not in seen:
                        seen.add((a, b))
                        waiting.append((a, b))
        return False

    def _repeat(self, least: int, most: int, inside: Any, flags: int) -> _Part:
        most = int(most)
        if most != int(op.MAXREPEAT) and most > MOST_REPEATS:
            raise _Unbounded(f"repeats a part up to {most} times; more than {MOST_REPEATS} is no table")
        if least > MOST_REPEATS:
            raise _Unbounded(f"repeats a part {least} times; more than {MOST_REPEATS} is no table")
        whole = _NOTHING
        # `X{2,}` is X X X*, and `X+` may loop over its one copy.
        loop_over_last = least == 1 and most > 1
        for _ in range(0 if loop_over_last else least):
            whole = self._then(whole, self._sequence(inside, flags))
        if most > least:
            start = len(self.takes)
            self._in_loops += most > 1
            part = self._sequence(inside, flags)
            self._in_loops -= most > 1
            self._any_loop = self._any_loop or most > 1
            # An optional part is taken for one that may repeat, so that many of them in a row count as many
            # loops do; one that holds a loop counts by that.
            if most > 1 or not self._loops_from(start):
                for place in part.last:
                    self.follows[place].extend(part.first)
            # A turn that reads nothing is a second way to read nothing.
            whole = self._then(whole, part._replace(empty=2 if part.empty else int(not loop_over_last)))
        return whole

    def _loops_from(self, start: int) -> bool:
        return any(after <= place for place in range(start, len(self.takes)) for after in self.follows[place])

    def _more_ways(self, ways: int) -> None:
        self.ways *= ways
        if self.ways > MOST_WAYS:
            raise _Unbounded(_TOO_MANY_WAYS)

    def _taken(self, what: Any, how: Any, flags: int) -> int:
        key = (what, repr(how), flags)
        if key not in self._known:
            one = _compiler.compile(_parser.SubPattern(self._state, [(what, how)]), flags)
            self._known[key] = sum(1 << at for at, char in enumerate(self.samples) if one.match(char))
        return self._known[key]

    def loops(self) -> list[list[int]]:
        """The sets of places from which each other place of the set can be reached."""
        return [
            component
            for component in _components(range(len(self.takes)), lambda place: self.follows[place])
            if len(component) > 1 or component[0] in self.follows[component[0]]
        ]


def _literals(items: Any) -> Iterator[int]:
    """Every character code that an expression names, with those beside a range's ends."""
    for what, how in items:
        if what in (op.LITERAL, op.NOT_LITERAL):
            yield how
        elif what is op.RANGE:
            yield from (code for code in (how[0], how[1]) if code)
        elif what is op.IN:
            yield from _literals(how)
        elif what is op.SUBPATTERN:
            yield from _literals(how[3])
        elif what is op.ATOMIC_GROUP:
            yield from _literals(how)
        elif what is op.BRANCH:
            for inside in how[1]:
                yield from _literals(inside)
        elif what in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
            yield from _literals(how[2])
        elif what in (op.ASSERT, op.ASSERT_NOT):
            yield from _literals(how[1])


def _components(nodes: Iterable[_Node], edges: Callable[[_Node], Iterable[_Node]]) -> list[list[_Node]]:
    """Strongly connected components (Tarjan 1972), each after those that it leads to."""
    order: dict[_Node, int] = {}
    low: dict[_Node, int] = {}
    stack: list[_Node] = []
    on_stack: set[_Node] = set()
    found: list[list[_Node]] = []
    for root in nodes:
        if root in order:
            continue
        order[root] = low[root] = len(order)
        stack.append(root)
        on_stack.add(root)
        path = [(root, iter(edges(root)))]
        while path:
            node, rest = path[-1]
            for after in rest:
                if after not in order:
                    order[after] = low[after] = len(order)
                    stack.append(after)
                    on_stack.add(after)
                    path.append((after, iter(edges(after))))
                    break
                if after in on_stack:
                    low[node] = min(low[node], order[after])
            else:
                path.pop()
                if path:
                    low[path[-1][0]] = min(low[path[-1][0]], low[node])
                if low[node] == order[node]:
                    component: list[_Node] = []
                    while not component or component[-1] != node:
                        component.append(stack.pop())
                        on_stack.discard(component[-1])
                    found.append(component)
    return found


def _doubling(automaton: _Automaton, loop: list[int]) -> bool:
    """Whether one text leads in two ways from a place of the loop back to it (EDA)."""
    inside = set(loop)
    follows = {place: [after for after in automaton.follows[place] if after in inside] for place in loop}
    if any(len(after) != len(set(after)) for after in follows.values()):
        return True
    if len(loop) == 1:
        return False
    takes = automaton.takes

    def pairs(pair: tuple[int, int]) -> Iterator[tuple[int, int]]:
        for a in follows[pair[0]]:
            for b in follows[pair[1]]:
                if takes[a] & takes[b]:
                    yield (a, b)

    for component in _components([(place, place) for place in loop], pairs):
        if any(a == b for a, b in component) and any(a != b for a, b in component):
            return True
    return False


def _shares(automaton: _Automaton, one: list[int], two: list[int], between: set[int]) -> bool:
    """Whether some text goes round loop `one`, goes from it to loop `two`, and goes round `two` (IDA)."""
    takes, follows = automaton.takes, automaton.follows
    first, last = set(one), set(two)
    for p in one:
        for q in two:
            start = (p, p, q)
            seen = {start}
            waiting = [start]
            while waiting:
                a, b, c = waiting.pop()
                for x in follows[a]:
                    if x not in first:
                        continue
                    for z in follows[c]:
                        common = takes[x] & takes[z]
                        if z not in last or not common:
                            continue
                        for y in follows[b]:
                            if y not in between or not common & takes[y]:
                                continue
                            if (x, y, z) == (p, q, q):
                                return True
                            if (x, y, z) not in seen:
                                seen.add((x, y, z))
                                waiting.append((x, y, z))
                                if len(seen) > MOST_TRIED:
                                    return True  # not shown to be harmless
    return False


def _power(automaton: _Automaton) -> int:
    """The power of a line's length by which the tries of this expression may grow; 1 is linear."""
    loops = automaton.loops()
    reach = _reached(automaton)
    best: list[int] = []  # for each loop, how often the ways multiply from it on
    for at, one in enumerate(loops):
        after = reach[one[0]]
        most = 0
        for earlier, two in enumerate(loops[:at]):  # loops come after those that they lead to
            if two[0] not in after:
                continue
            most = max(most, best[earlier])
            between = {place for place in after if two[0] in reach[place] or place in two}
            if best[earlier] + 1 > most and _shares(automaton, one, two, between):
                most = best[earlier] + 1
        best.append(most)
    power = 1 + max(best, default=0) if loops else 0
    # A look is over once it has an answer: its own ways do not multiply with those behind it.
    looks = [(_power(look), again) for look, again in automaton.looks]
    return max([power] + [own + (power if again else 0) for own, again in looks])


def _reached(automaton: _Automaton) -> list[frozenset[int]]:
    """For each place, those that can be reached from it by one step or more."""
    reached: list[frozenset[int]] = [frozenset()] * len(automaton.takes)
    for component in _components(range(len(automaton.takes)), lambda place: automaton.follows[place]):
        beyond: set[int] = set()
        for place in component:
            for after in automaton.follows[place]:
                beyond.add(after)
                beyond |= reached[after]
        whole = frozenset(beyond)
        for place in component:
            reached[place] = whole
    return reached


def _looked_at(automaton: _Automaton) -> Iterator[_Automaton]:
    yield automaton
    for look, _ in automaton.looks:
        yield from _looked_at(look)


@lru_cache(maxsize=4096)
def power_of(pattern: str) -> int:
    """The power of a line's length by which the tries may grow. Raises ValueError with the reason where none is.

    A line holds no newline. Ways end where the expression states a column (`(?<=^.{17})`): what stands before
    it and what stands behind it share no text, so they only multiply where a part has several ways of its own.
    """
    try:
        parsed = _parser.parse(pattern)
        flags = parsed.state.flags
        ways, power, several = 1, 0, 0
        for segment in _segments(_without_open_end(list(parsed)), flags):
            automaton = _Automaton(parsed.state, segment, flags)
            ways *= automaton.ways
            for looked in _looked_at(automaton):
                if any(_doubling(looked, loop) for loop in looked.loops()):
                    raise _Unbounded(
                        "has a loop that can read one text in two ways, so a line can double the work again and again"
                    )
            own = _power(automaton)
            power = max(power, several + own)
            several += max(0, own - 1)
    except (re.error, OverflowError) as reason:
        raise _Unbounded(f"is not a regular expression: {reason}") from None
    except RecursionError:
        raise _Unbounded("is not a regular expression that can be used: it is nested too deeply") from None
    if ways > MOST_WAYS:
        raise _Unbounded(_TOO_MANY_WAYS)
    return power


def _segments(items: list[Any], flags: int) -> Iterator[list[Any]]:
    """The parts of an expression between the columns that it states."""
    segment: list[Any] = []
    for what, how in items:
        if _states_a_column(what, how, flags):
            yield segment
            segment = []
        else:
            segment.append((what, how))
    yield segment


def _states_a_column(what: Any, how: Any, flags: int) -> bool:
    if what is not op.ASSERT or how[0] >= 0 or flags & re.MULTILINE:
        return False
    inside = list(how[1])
    least, most = how[1].getwidth()
    return bool(inside) and inside[0] in _BEGINNINGS and least == most


_BEGINNINGS: Final = ((op.AT, op.AT_BEGINNING), (op.AT, op.AT_BEGINNING_STRING))
_ENDS: Final = ((op.AT, op.AT_END), (op.AT, op.AT_END_STRING))


def _without_open_end(items: list[Any]) -> list[Any]:
    """The expression without a last `.*`: on a line it cannot fail, so nothing is tried again for it."""
    while items and items[-1] in _ENDS:
        items = items[:-1]
    if not items:
        return items
    what, how = items[-1]
    if what is op.SUBPATTERN:
        group, add, drop, inside = how
        return [*items[:-1], (what, (group, add, drop, _without_open_end(list(inside))))]
    if what in (op.MAX_REPEAT, op.MIN_REPEAT) and how[1] is op.MAXREPEAT and list(how[2]) == [(op.ANY, None)]:
        return items[:-1] + [(op.ANY, None)] * min(how[0], MOST_REPEATS)
    return items


def hang_fault(pattern: str) -> str | None:
    """Why an expression is not to be used on text of a device, in words; None where it is bounded."""
    try:
        power = power_of(pattern)
    except _Unbounded as reason:
        return f"`{_short(pattern)}` {reason}"
    if power > MOST_POWER:
        return (
            f"`{_short(pattern)}`: the work may grow with the power {power} of a line's length "
            f"({MOST_POWER} at most): let each part take only characters that the next cannot"
        )
    return None


def _short(pattern: str) -> str:
    return pattern if len(pattern) <= 100 else f"{pattern[:100]}..."
