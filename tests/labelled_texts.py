"""Texts with labels made by hand, and how readings are scored against them.

A label file stands beside its text (`NAME.txt`, `NAME.labels`), or, for captures that are not ours to
commit, alone under `labels/captures/<platform>/`. One label a line, fields parted by ` | `:

    lines | kind | called | condition | quantities | parts

`lines` are numbers of the raw text, such as `14` or `14,15` or `14-20`. `called` lists what a reader may
call it, parted by `;`: the unit (`psu-2`) or the device's own name. `condition` lists the conditions that
may be told of it, parted by `/`; `-` where the text tells none. `quantities` are `name=value unit`, parted
by `;`, with `name?=` where a reader may leave it out; `parts` are `serial=…`, `part_number=…`, `airflow=…`, and count
where both label and reading have them.
A line `# kinds: …` says which kinds are labelled; readings of other kinds are not scored. With a line
`# only labelled lines` a reading that touches no labelled line is not scored either: the text also shows
things of which it is open whether they are a supply or a fan.
"""

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from consolecheck.records.readings import AnyReading, Sighting

HERE = Path(__file__).parent / "labels"
CAPTURES = Path(__file__).parent.parent.parent / "shared" / "captures"

GROUPS = ("invented", "left_open", "kept_apart")
"""`invented`: the reader was taught by them after a first look. `left_open`: looked at, and not wholly read yet.
`kept_apart`: it was never taught by them."""

SCORED = ("power_supply", "fan", "temperature", "inventory")
_TOLERANCE = 1e-6


class Label(NamedTuple):
    """What the text says of one thing."""

    lines: frozenset[int]
    kind: str
    called: tuple[str, ...]
    conditions: tuple[str, ...]
    quantities: dict[str, tuple[float, str]]
    parts: dict[str, str]
    by_dialect: bool = False
    """Whether a dialect made it. How severe the only limit of a side is, its author may know and the text not say."""


class Labelled(NamedTuple):
    """A text and its labels."""

    name: str
    text: Path
    kinds: tuple[str, ...]
    labels: tuple[Label, ...]
    only: bool = False
    """Whether only readings on labelled lines are scored."""


class Score(NamedTuple):
    """How many labels there are, how many have a reading, how many readings were reported, and how many of them are right."""

    labels: int = 0
    found: int = 0
    reported: int = 0
    right: int = 0
    differences: tuple[str, ...] = ()

    def __add__(self, other: "Score") -> "Score":  # type: ignore[override]
        return Score(*(a + b for a, b in zip(self, other, strict=True)))

    @property
    def found_share(self) -> float:
        return self.found / self.labels if self.labels else 1.0

    @property
    def right_share(self) -> float:
        return self.right / self.reported if self.reported else 1.0


def labels_in(file: Path) -> tuple[tuple[str, ...], tuple[Label, ...], bool]:
    """The kinds that a label file speaks of, its labels, and whether only labelled lines count. Raises ValueError with the place of a bad line."""
    kinds: tuple[str, ...] = SCORED
    labels: list[Label] = []
    only = False
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        if line.startswith("# kinds:"):
            kinds = tuple(line.removeprefix("# kinds:").split())
        only = only or line == "# only labelled lines"
        if not line.strip() or line.startswith("#"):
            continue
        cells = [cell.strip() for cell in line.split("|")]
        if len(cells) < 4:
            raise ValueError(f"{file}:{number}: fewer than four fields")
        cells += [""] * (6 - len(cells))
        try:
            labels.append(_label(cells))
        except ValueError as reason:
            raise ValueError(f"{file}:{number}: {reason}") from None
    return kinds, tuple(labels), only


def _label(cells: Sequence[str]) -> Label:
    lines: set[int] = set()
    for part in cells[0].split(","):
        first, _, last = part.partition("-")
        lines.update(range(int(first), int(last or first) + 1))
    quantities: dict[str, tuple[float, str]] = {}
    for part in filter(None, (p.strip() for p in cells[4].split(";"))):
        name, _, said = part.partition("=")
        value, unit = said.split()
        quantities[name.strip()] = (float(value), unit)
    parts = dict(p.strip().split("=", 1) for p in cells[5].split(";") if p.strip())
    called = tuple(c.strip() for c in cells[2].split(";") if c.strip())
    return Label(frozenset(lines), cells[1], called, tuple(cells[3].split("/")), quantities, parts)


def texts_of(folder: Path) -> list[Labelled]:
    """Every labelled text of a folder of ours, by name."""
    return [
        Labelled(file.stem, file.with_suffix(".txt"), *labels_in(file)) for file in sorted(folder.rglob("*.labels"))
    ]


def captures() -> list[Labelled]:
    """The labelled captures that are here."""
    folder = HERE / "captures"
    found = []
    for file in sorted(folder.rglob("*.labels")):
        text = CAPTURES / file.relative_to(folder).with_suffix(".txt")
        if text.is_file():
            found.append(Labelled(str(file.relative_to(folder).with_suffix("")), text, *labels_in(file)))
    return found


def squeezed(text: str | None) -> str:
    """A name without case, spaces and signs, so that `PSU 2`, `psu-2` and `PSU2` are one."""
    return re.sub(r"[\W_]+", "", (text or "").lower())


_BEFORE_NUMBER = re.compile(
    r"\b(?:slot|unit|member|switch|card|shelf|chassis|module|rack|encl)\s+(?=\d)", re.IGNORECASE
)


def _names(reading: AnyReading) -> set[str]:
    slot = (reading.unit or "").partition("-")[2]  # the device's own label of it
    bare = _BEFORE_NUMBER.sub("", reading.name or "")  # `slot 1 inlet` is what others call `1 inlet`
    return {
        squeezed(n)
        for n in (reading.unit, slot, reading.name, bare, f"{reading.unit or ''} {reading.name or ''}", reading.subject)
        if n
    }


def _wrong(label: Label, reading: AnyReading) -> str:
    """In what a reading differs from its label, or ''."""
    if label.called and not _names(reading) & {squeezed(c) for c in label.called}:
        return f"called {reading.unit}/{reading.name}, not {label.called[0]}"
    told = reading.condition.value if reading.condition else "-"
    if told == "unknown":
        told = "-"
    allowed = {"-" if c == "unknown" else c for c in label.conditions}
    if told not in allowed:
        return f"told {told} ({reading.status_text}), not {'/'.join(label.conditions)}"
    given = reading.quantities()
    for side in ("low", "high") if label.by_dialect else ():
        known = [n for n in label.quantities if n in (f"{side}_warning", f"{side}_critical")]
        said = [n for n in given if n in (f"{side}_warning", f"{side}_critical")]
        if len(known) == len(said) == 1:
            given[known[0]] = given.pop(said[0])
    for name in sorted({*given, *label.quantities}):
        wanted, got = label.quantities.get(name) or label.quantities.get(f"{name}?"), given.get(name)
        if name.endswith("?"):
            continue
        if wanted is None or got is None:
            return f"{name}: {got} for {wanted}"
        if wanted[1] != got.unit or abs(wanted[0] - got.value) > _TOLERANCE * max(1.0, abs(wanted[0])):
            return f"{name}: {got} for {wanted}"
    for name in ("serial", "part_number", "airflow"):
        wanted_part, got_part = label.parts.get(name), reading.given(name)
        if wanted_part is not None and got_part is not None and wanted_part != got_part:
            return f"{name}: {got_part} for {wanted_part}"
    return ""


def score(labelled: Labelled, sightings: Iterable[Sighting]) -> Score:
    """Readings against the labels of their text; each reading answers one label at most."""
    open_labels = list(labelled.labels)
    spoken_of = frozenset[int]().union(*(x.lines for x in labelled.labels))
    reported = [
        s for s in sightings if s.reading.kind in labelled.kinds and (not labelled.only or spoken_of & set(s.lines))
    ]
    right = found = 0
    said: list[str] = []
    rest: list[Sighting] = []
    for exact in (True, False):
        for sighting in reported if exact else rest:
            same = [x for x in open_labels if x.kind == sighting.reading.kind and x.lines & set(sighting.lines)]
            if exact:
                same = [x for x in same if not _wrong(x, sighting.reading)]
            else:
                by_name = [x for x in same if _names(sighting.reading) & {squeezed(c) for c in x.called}]
                same = by_name or same
            if same:
                open_labels.remove(same[0])
                found += 1
                if exact:
                    right += 1
                else:
                    said.append(f"{labelled.name}:{min(sighting.lines)}: {_wrong(same[0], sighting.reading)}")
            elif exact:
                rest.append(sighting)
            else:
                r = sighting.reading
                said.append(f"{labelled.name}:{min(sighting.lines, default=0)}: no label for {r.kind} {r.subject}")
    said.extend(f"{labelled.name}:{min(x.lines)}: no reading for {x.kind} {x.called[:1]}" for x in open_labels)
    return Score(len(labelled.labels), found, len(reported), right, tuple(said))
