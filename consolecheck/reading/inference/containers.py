"""Things of one name below headings such as `Slot 1:` and `Slot 2:`, told apart by what they stand in."""

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from consolecheck.reading.inference.words import placed_in, thing_of
from consolecheck.records.readings import AnyReading

_HEADING = re.compile(
    r"[\s*=\[-]*(?:[Tt]he )?(?P<word>[A-Za-z][A-Za-z]+(?:[ -][A-Za-z]+){0,2}?)[ #:_-]{0,3}(?P<n>\d{1,3}|[A-H](?![A-Za-z]))"
    r"(?:\s+(?:chassis|hardware|system))?(?:\s+(?:status|information|info|details?|environment|sensors?))?[\s*=\]:-]*"
)
_PLACE = re.compile(
    r"\s*(?P<word>location|slot|module|board|card|shelf|chassis|node|enclosure|drawer|unit|member)[ :]+"
    r"(?P<n>(?=[\w./-]*\d)[A-Za-z\d][\w./-]{0,15}):?\s*",
    re.IGNORECASE,
)
"""`Location: 0/RSP0`."""
NAMED_APART = ("power_supply", "fan", "temperature", "inventory")


class Container(NamedTuple):
    """A heading that numbers what stands below it, as printed: `Slot 1` is of the sort `slot` and has the number `1`."""

    line: int
    sort: str
    number: str
    words: str


def container_of(text: str, line: int = 0) -> Container | None:
    """What a heading numbers, unless it is itself a supply, a fan or a sensor."""
    if len(text) > 60 or thing_of(text) is not None:
        return None
    if (heading := _HEADING.fullmatch(text) or _PLACE.fullmatch(text)) is None:
        return None
    return Container(line, heading["word"].lower(), heading["n"].lower(), f"{heading['word']} {heading['n']}")


def containers(texts: Mapping[int, str]) -> list[Container]:
    """The headings of which at least two of one sort have different numbers, in the order of their lines."""
    found = [one for line, text in texts.items() if (one := container_of(text, line)) is not None]
    numbers: dict[str, set[str]] = {}
    for one in found:
        numbers.setdefault(one.sort, set()).add(one.number)
    return [one for one in found if len(numbers[one.sort]) > 1]


def placed(
    readings: Sequence[tuple[AnyReading, tuple[int, ...]]], texts: Mapping[int, str]
) -> tuple[list[AnyReading], frozenset[int]]:
    """The readings with their containers where things of one name stand in different ones, and the headings so used.

    `readings` come with their lines. Of a kind either all below such headings are placed or none: a name must not
    depend on what else is fitted in the neighbour's slot more than it has to.
    """
    made = [reading for reading, _ in readings]
    used: set[int] = set()
    if not _twice(made):
        return made, frozenset()
    of_things = {line for _, lines in readings for line in lines}
    above = [one for one in containers(texts) if one.line not in of_things]
    for sort in dict.fromkeys(one.sort for one in above):
        own = [one for one in above if one.sort == sort]
        starts = [one.line for one in own]
        within = [own[at - 1] if (at := bisect_left(starts, min(lines))) else None for _, lines in readings]
        for kind in NAMED_APART:
            numbers: dict[tuple[str | None, str | None], set[str]] = {}
            for reading, container in zip(made, within, strict=True):
                if reading.kind == kind and container is not None:
                    numbers.setdefault((reading.unit, reading.name), set()).add(container.number)
            if max(map(len, numbers.values()), default=0) < 2:
                continue
            for n, container in enumerate(within):
                if container is not None and made[n].kind == kind:
                    made[n] = _within(made[n], container)
                    used.add(container.line)
    return made, frozenset(used)


def _twice(readings: Iterable[AnyReading]) -> bool:
    seen = set()
    for reading in readings:
        key = (reading.kind, reading.unit, reading.name)
        if reading.kind in NAMED_APART and key in seen:
            return True
        seen.add(key)
    return False


def _within(reading: AnyReading, container: Container) -> AnyReading:
    if reading.unit is None:
        return reading.model_copy(update={"name": f"{container.words} {reading.name}"})
    prefix, _, slot = reading.unit.partition("-")
    return reading.model_copy(update={"unit": f"{prefix}-{placed_in(container.number, slot)}"})
