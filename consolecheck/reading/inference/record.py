"""One thing's labelled cells to one typed reading, or a reason why not.

Half a row is worse than none: a figure that cannot be placed, limits out of order or an implausible value
leave the whole thing unread. A status is ok only by a word that means it beyond doubt.
"""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from consolecheck.reading.inference.values import (
    BARE_FIGURE,
    COLOURS,
    DIMENSION,
    FIGURES,
    PRESENT,
    Unplaced,
    condition_of,
    is_blank,
    plain,
    presence_of,
    read_cell,
    unit_word,
)
from consolecheck.reading.inference.words import (
    AIRFLOW,
    FAN,
    HIGH,
    LOW,
    PSU,
    RANKS,
    TEMP,
    Label,
    Limit,
    airflow_in,
    label_of,
    thing_of,
)
from consolecheck.records.readings import (
    AnyReading,
    Condition,
    Device,
    Fan,
    Inventory,
    PowerSupply,
    Temperature,
    worst,
)
from consolecheck.records.units import Quantity

__all__ = ["COMES_IN", "SIDES", "Entry", "Unplaced", "limits_of", "reading_of", "status_of"]


class Entry(NamedTuple):
    """A labelled cell."""

    label: Label
    text: str
    head: str = ""
    """The label as printed, for messages."""


_PLAUSIBLE: dict[str, tuple[float, float]] = {
    "Cel": (-60.0, 250.0),
    "V": (-500.0, 500.0),
    "A": (-500.0, 2000.0),
    "W": (-1.0, 100_000.0),
    "rpm": (0.0, 60_000.0),
    "%": (0.0, 150.0),
    "Hz": (0.0, 1e6),
}
"""What a chassis can show at all; beyond it the columns have shifted. Common practice, no source."""
_DIGIT = re.compile(r"\d")
_WORKS = frozenset(("functional", "functioning", "working", "operational", "healthy", "ok"))
"""Words of a label to which yes and no are a status."""
_STEP_BEHIND = re.compile(r"\s*\((?:low|medium|middle|high|full|normal|auto)\)\Z", re.IGNORECASE)
"""`4920 rpm (low)`: the step of its control."""
MADE_FOR = re.compile(r"\s*\((?:\d+(?:\.\d+)? ?V ?/ ?)?\d+ ?W [Mm]ax\)\Z")
"""`(12V/300W Max)`: what an output can give at most."""
_TOO_HOT = frozenset(("high", "too high", "over", "overheat", "overheated", "over temperature", "overtemperature"))
"""Words below `Temp status` for more heat than there should be."""
_NO = frozenset(("false", "no", "none", "off", "0", "clear", "cleared", "inactive", "deasserted", "not asserted"))
_YES = frozenset(("true", "yes", "on", "1", "set", "active", "asserted"))
_YES_OR_NO = _YES | _NO
_TYPE = re.compile(r"(?<![A-Za-z])(AC|DC)(?![A-Za-z])")
_UNIT_IN = re.compile(r"\d\s*([^\d\s,.;/()\[\]+-][^\d,;/()\[\]+]*)\s*\Z")
_TWO_SCALES = re.compile(r"[+-]?\d+(?:\.\d+)? ?(°? ?[CF])\s*[/(]\s*[+-]?\d+(?:\.\d+)? ?°? ?[CF]\)?\Z", re.IGNORECASE)
_NAMED = frozenset(("threshold", "thresholds", "thresh", "thres", "limit", "limits", "th", "thr"))
_FIGURE = re.compile(r"\d\s?(?:V|A|W|C|°|%|rpm|volts?|amps?|watts?)(?![a-z])", re.IGNORECASE)
_LED_BY = re.compile(r"\s*(AC|DC)\s+(?=[+-]?\d)", re.IGNORECASE)
SIDES = {"in": "input", "input": "input", "out": "output", "output": "output"}
_KIND_OF_INPUT = re.compile(r"(ac|dc)[ /-]?(?:hi|lo|high|low|line|mains|input)\Z")
_SIDED_PARTS = re.compile(r"([+-]?\d[\d.]* ?(?:V|A|W)) (in(?:put)?|out(?:put)?)\b", re.IGNORECASE)
COMES_IN = frozenset(("in", "input", "inputs", "line", "mains", "feed", "cord"))
"""Words of a label that speak of what comes into a supply: that this is well does not make the supply well."""
_SPAN = re.compile(
    r"(?P<low>[+-]?\d+(?:\.\d+)?) ?(?P<own>°?[CFVA]|rpm)? ?(?:to|~|\.\.+|–) ?(?P<high>[+-]?\d+(?:\.\d+)?) ?(?P<unit>°?[CFVA]|rpm|deg ?C|degrees C)?",
    re.IGNORECASE,
)
_RANGE_TAKEN = re.compile(r"\s*(?P<low>\d+(?:\.\d+)?) ?(?:-|–|to) ?(?P<high>\d+(?:\.\d+)?)\s*")
_AT_VOLTS = re.compile(r"\s*\([^()@]{1,24}@[^()@]{1,12}\)\s*\Z")
"""`1153.32 Watts (27.46 Amps @42V)`: the same said in amps."""
_BEYOND = re.compile(r"[<>] ?\d[\d.]*(?: ?[A-Za-z%°]{1,4})?")
_MEASURED = re.compile(r"[+-]?\d+(?:\.\d+)? ?(?:°?C|°?F|A|W|rpm|%)", re.IGNORECASE)
_OF_A_RAIL = re.compile(r"\d{1,2}(?:\.\d)? ?V (?:rail )?(?:out(?:put)?|in(?:put)?)\Z", re.IGNORECASE)
_BARE = re.compile(r"\s*\d{1,3}\s*")
_NAMES_OF_LIMITS = re.compile(r"\(([A-Za-z]+(?: ?, ?[A-Za-z]+){1,4})\)")
_WITH_LIMITS = re.compile(
    r"(?P<value>[+-]?\d+(?:\.\d+)? ?°?C) ?\((?P<bounds>\d+(?:\.\d+)? ?°?C(?:, ?\d+(?:\.\d+)? ?°?C){1,2})\)"
)
"""`26C (51C,65C,68C)`: what is measured, and two or three limits above it."""
_CELLS_OF_LIMITS = re.compile(r"\((?P<cells>[^(),]*(?:,[^(),]*){1,4})\) ?(?:\((?P<unit>[^()]{1,12})\))?")
_SETTABLE = re.compile(r"\s*(?:\[[YN]\]|\(Hyst\))\s*\Z", re.IGNORECASE)
"""What a device says of a limit: whether it can be set, or that an alarm clears below it."""
_AT_A_SPEED = re.compile(
    r"(?:spinning|running|turning|rotating) at (?:a )?(?:(?:very )?(?:low|slow|high|fast)|lower|higher|reduced|normal|regular|nominal"
    r"|medium|middle|intermediate|moderate|half|full|min(?:imum)?|max(?:imum)?|base|default|constant|fixed|variable"
    r"|automatic|standard)(?: speed)?",
    re.IGNORECASE,
)
"""How fast a fan turns, in words: `zero` or `abnormal` speed is none of them."""
_RECORD_NUMBER = re.compile(r"(\(\d{1,5}\)) {2,}(?=[A-Za-z\d])")
"""`(4)    CPU1 Temp`: the number of its record, in a column of its own."""
_STATE_SHOWN = frozenset(("presence detected", "present"))
_SWITCHED_ON = frozenset(("poweron", "power on", "powered on"))
"""What a sensor of states shows where others show a figure (IPMI v2.0, table 42-3): that a part is there."""
MEASURED_AT = re.compile(
    r"(?:(?:running|turning|spinning|rotating|measured|runs|turns|spins|rotates) at|@) ?(?=[+-]?\d)", re.IGNORECASE
)
"""What a speed is led by that says no more than that it is one."""
_HIGH_OR_LOW = frozenset(("high", "low", "too high", "too low"))
_NO_BOUNDS = (-273.0, 65261.0)
"""Degrees Celsius from where on a limit is none: a chip tells so that none is set (from memory: NVM Express, where
the threshold is a 16-bit number of kelvin, 0 and FFFFh)."""
_MAY_BE_NONE = frozenset(("-2", "65", "+6"))
"""What such limits begin with: every limit of a table is asked, and nearly none is one."""
_LEADING_FIGURE = re.compile(r"[+-]?\d+(?:\.\d+)?")


def _sets_no_bound(text: str, label: Label) -> bool:
    figure = _LEADING_FIGURE.match(text.strip())
    if figure is None or (label.unit not in (None, "C") and not text.rstrip().endswith("C")):
        return False
    return not _NO_BOUNDS[0] < float(figure.group()) < _NO_BOUNDS[1]


_FAN_DRIVEN = re.compile(r"fan speed \d{1,3} ?%", re.IGNORECASE)
"""`Fan Speed 60%` where the other sensors tell a state."""
HOW_FAST = re.compile(r"speed (?:low|medium|middle|high|full|normal|auto)", re.IGNORECASE)
_BAD = frozenset((Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT, Condition.WARNING))
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")
_BITS = re.compile(r"0x[0-9A-Fa-f]{1,8}|\d{1,5}")
_FAULTS = frozenset(("fault", "failure", "failed", "faulty"))
_NOT_BAD = frozenset(
    ("no", "not", "non", "none", "without", "zero", "last", "previous", "past", "cleared", "ok", "never", "was")
)
"""Words under which what follows them is not so now."""
_SUMS = frozenset(("total", "totals", "sum", "overall", "all", "average", "system", "chassis", "summary"))
_NO_PART = frozenset(("built-in", "builtin", "unknown", "generic", "internal", "fixed", "integrated", "-"))
_PART = re.compile(r"[A-Za-z](?=[\w./+-]*\d)[\w./+]*-?[\w./+-]{4,}\Z")
_PAIR_IN = re.compile(r"\w=|[A-Za-z]\w*\s?:(?:\s|\Z)")
_WORDS = re.compile(r"[A-Za-z][A-Za-z\d]*(?:[ _/.-][A-Za-z\d]+)*")
_NO_NAME = re.compile(r"\w=|[<>{}|]|[=_-]{3}|\A[=_-]{2}|\A[\W_]+\Z")
_AT_SPEED = re.compile(
    r"(?P<word>[a-z][a-z ]{1,20}?)(?:[-,/ ]+(?:at )?(?:\(|\b)(?:low|lo|med|medium|high|hi|slow|fast|full|half|auto|max|min|normal)"
    r"(?:[-/](?:low|lo|med|medium|high|hi|full|max|min))?(?: speed)?\)?)\Z"
)
"""A status with how fast the fan then turns, such as `ok-low/med`."""
_OF_NO_SUPPLY = {"temperature": "value", "speed": "speed", "percent": "speed_percent"}
"""What is measured of sensors and fans -> the field that holds it."""
_ONLY_THERE = re.compile(r"\d[ _-]+(?:present|presence|installed|inserted|detected?)\Z", re.IGNORECASE)
_LEAST_AND_MOST = frozenset(("min", "minimum", "max", "maximum", "lowest", "highest"))
_NO_LOW_LIMIT = 12.0
"""Degrees that no part must have at least. Common practice, no source."""
_MEASURED_ALONE = re.compile(r"\s*(\d+(?:\.\d+)?) ?(?:°?C)?\s*\Z")
_IDENTITY = ("serial", "part", "model", "description", "type")


_RELATIVE = re.compile(r"(?<![a-z])(?:margin|relative|headroom)(?![a-z])", re.IGNORECASE)
_LEAST_MARGIN = -150.0
"""Degrees below a limit, as processors print their temperature. Common practice, no source."""


def _checked(quantity: Quantity, head: str, name: str | None = None) -> Quantity:
    low, high = _PLAUSIBLE.get(quantity.unit, (-1e12, 1e12))
    if not low <= quantity.value <= high:
        relative = quantity.unit == "Cel" and _RELATIVE.search(f"{name or ''} {head}") is not None
        if relative and _LEAST_MARGIN <= quantity.value < low:
            return quantity
        raise Unplaced(f"{quantity} under `{head}` is not plausible")
    return quantity


def _one(entry: Entry, assumed: str | None) -> Quantity | None:
    read = read_cell(entry.text, entry.label.unit or assumed)
    if not read.quantities:
        if read.words and not is_blank(entry.text):
            raise Unplaced(f"`{entry.text}` under `{entry.head}` is not a value")
        return None
    if len(read.quantities) > 1 or read.words:
        raise Unplaced(f"`{entry.text}` under `{entry.head}` is more than one value")
    return _checked(read.quantities[0], entry.head)


def _step(text: str, quantity: Quantity) -> float:
    """By how much a quantity changes with the last printed digit of its cell, in its own unit; 0 where the cell is no single figure."""
    figures = re.findall(r"\d+(?:\.\d+)?", text)
    if len(figures) != 1 or not float(figures[0]):
        return 0.0
    return float(10 ** -len(figures[0].partition(".")[2])) * abs(quantity.value) / float(figures[0])


def _says_finer(known: Quantity, step: float, again: Quantity, its_step: float) -> bool:
    """Whether one of two figures is the other one rounded, as `53 V` is of `53400 mV`; never where that says little."""
    coarse = max(step, its_step)
    if known.unit != again.unit or not min(step, its_step) or min(step, its_step) == coarse:
        return False
    return coarse <= 0.05 * abs(known.value) and abs(known.value - again.value) <= 0.5 * coarse * (1 + 1e-9)


class _Made:
    """The fields of a thing as they are found."""

    def __init__(self) -> None:
        self.values: dict[str, Quantity] = {}
        self.printed: dict[str, Entry] = {}
        """The cell of each value."""
        self.conditions: list[Condition] = []
        self.status_text: str | None = None
        self.presence: list[Condition | None] = []
        self.neutral = False
        self.limits: list[tuple[Entry, str | None]] = []
        self.facts: dict[str, str] = {}
        self.printed_unit: str | None = None
        self.flags: list[tuple[float, str]] = []
        self.ranges: list[tuple[Entry, str, str]] = []
        """What a supply normally takes or gives, as `Normal Input (V)  90-264`: least and most."""
        self.set_aside: list[str] = []
        self.doubts: list[str] = []
        """Bad words under labels that are not known to tell a status."""
        self.fan_told = False
        """Whether a label says of a speed that it is of a fan, as `Fan RPM` does among a supply's."""
        self.beyond = ""
        """A cell such as `<41`: what is measured lies beyond what can be measured."""
        self.not_measured = False
        """Whether a measured value's cell was printed as blank."""
        self.no_status = False
        """Whether a status' cell was printed as blank, as `--` or `N/A`."""

    def conditions_absent(self) -> bool:
        """Whether it is told that nothing is there to be measured."""
        return Condition.ABSENT in self.conditions or Condition.ABSENT in self.presence

    def told(self) -> bool:
        """Whether anything is told at all."""
        return bool(
            self.values or self.conditions or self.presence or self.flags or self.limits or self.facts or self.neutral
        )

    def nothing_shown(self, slot: str | None) -> bool:
        """Whether the cells of a place that may hold a part were printed as blank, and no other says anything of it.

        Such a part is neither well nor absent: its reading has no figure and no condition.
        """
        return slot is not None and (self.not_measured or self.no_status) and not self.facts and not self.told()

    def put(self, name: str, quantity: Quantity, entry: Entry) -> None:
        if name in self.values and self.values[name] != quantity:
            known = self.values[name]
            if not _says_finer(known, _step(self.printed[name].text, known), quantity, _step(entry.text, quantity)):
                raise Unplaced(f"`{entry.head}` gives another {name.replace('_', ' ')} than a cell before it")
            return
        self.values[name] = quantity
        self.printed[name] = entry

    def side_status(self, text: str, label: Label) -> None:
        """The status of an input or an output: an input that is absent or has failed gives no power."""
        side = label.side
        found, neutral = status_of(text)
        if found is None:
            self.neutral = self.neutral or neutral
            return
        if side == "input" and found in (Condition.ABSENT, Condition.FAILED):
            found = Condition.NO_INPUT
        elif side == "output" and found is Condition.ABSENT:
            found = Condition.UNKNOWN
        self.status_text = self.status_text or text
        if side == "input" and found is Condition.OK and label.words & COMES_IN:
            self.neutral = True  # what comes in is well: that says nothing of what the supply makes of it
            return
        self.conditions.append(found)

    def side_failed(self, text: str, side: str | None) -> None:
        """Whether the input, the output or the fan of a supply has failed: only an output that has not makes it well."""
        if is_blank(text):
            return
        said = plain(text)
        found = Condition.FAILED if said in _YES else status_of(text)[0] if said not in _NO else None
        if found in (None, Condition.OK):
            self.neutral = True
            if side == "output" and (found is Condition.OK or said in _NO):
                self.conditions.append(Condition.OK)
                self.status_text = self.status_text or text
            return
        self.status_text = self.status_text or text
        bad = found in (Condition.FAILED, Condition.ABSENT, Condition.NO_INPUT)
        self.conditions.append(Condition.NO_INPUT if bad and side == "input" else Condition.FAILED if bad else found)

    def status(self, text: str, words: frozenset[str] = frozenset()) -> None:
        if is_blank(text):
            return
        if words & _WORKS and plain(text) in ("yes", "no", "true", "false", "y", "n"):
            self.status_text = self.status_text or text
            self.conditions.append(Condition.OK if plain(text) in ("yes", "true", "y") else Condition.FAILED)
            return
        if self.status_text is None:
            self.status_text = text
        if _PAIR_IN.search(text) or "  " in text.strip():
            raise Unplaced(f"`{text[:40]}` holds another label")
        found, neutral = status_of(text)
        if found is Condition.UNKNOWN and words & {"temp", "temperature"} and plain(text) in _TOO_HOT:
            found = Condition.WARNING
        if found is Condition.UNKNOWN and (
            len(text) > 40 or len(text.split()) > 5 or (text.endswith(".") and " " in text)
        ):
            raise Unplaced(f"`{text[:40]}` is a sentence and no status")
        if found is not None:
            self.conditions.append(found)
        self.neutral = self.neutral or neutral

    def beyond_limit(self, value: Quantity | None, limits: dict[str, Quantity]) -> Condition | None:
        """A warning for `LOW` and `HIGH` that no limit contradicts, where nothing else was told."""
        side = plain(self.status_text or "").removeprefix("too ")
        if side not in ("low", "high") or value is None or set(self.conditions) != {Condition.UNKNOWN}:
            return None
        bounds = [q.value for name, q in limits.items() if name.startswith(f"{side}_")]
        if not bounds:
            return None
        beyond = value.value < max(bounds) if side == "low" else value.value > min(bounds)
        return Condition.WARNING if beyond else None


def _several_units(entry: Entry, made: _Made) -> None:
    """`Output (V/A/W): 12.05/16.2/195.2`."""
    units = (entry.label.unit or "").split("/")
    parts = entry.text.split("/")
    if len(parts) != len(units) or entry.label.side is None:
        raise Unplaced(f"`{entry.text}` under `{entry.head}` is not understood")
    for part, unit in zip(parts, units, strict=True):
        read = read_cell(part, unit)
        if len(read.quantities) != 1 or (dimension := DIMENSION.get(read.quantities[0].unit)) not in (
            "voltage",
            "current",
            "power",
        ):
            raise Unplaced(f"`{part}` under `{entry.head}` is not a value")
        made.put(f"{entry.label.side}_{dimension}", _checked(read.quantities[0], entry.head), entry)


@lru_cache(maxsize=2048)
def status_of(text: str) -> tuple[Condition | None, bool]:
    """The condition that a status text means, and whether part of it only says that the thing is there."""
    whole = condition_of(text)
    if whole is not None:
        return whole, False
    said = plain(text)
    if said in PRESENT:
        return None, True
    named = thing_of(text)
    if named is not None and (found := condition_of(named.rest)) is not None:
        return found, False
    if (beside := _AT_SPEED.match(said)) is not None:
        return status_of(beside["word"])
    parts = [p for p in re.split(r"[,;/()|+]| - | & ", text) if p.strip()]
    if len(parts) > 1:
        each = [status_of(p) if not is_blank(p) else (None, True) for p in parts]
        told = [c for c, _ in each if c is not None]
        if told:
            return worst(told), any(n for _, n in each)
        if all(n for _, n in each):
            return None, True
    return _bad_in(said, text) or Condition.UNKNOWN, False


def _bad_in(said: str, text: str) -> Condition | None:
    """The bad condition of a status that is told in several words, such as `FanDirectionFault` or `FAILED or NO POWER`."""
    either = [condition_of(part) for part in said.split(" or ")]
    if len(either) > 1 and Condition.OK not in either and (told := [c for c in either if c in _BAD]):
        return worst(told)
    words = _HUMP.sub(" ", text).lower().replace("-", " ").replace("_", " ").split()
    bad = 1 < len(words) <= 4 and words[-1] in _FAULTS and not _NOT_BAD & set(words) and "".join(words).isalpha()
    return Condition.FAILED if bad else None


def colours_only(text: str) -> bool:
    words = plain(text).replace("-", " ").split()
    return bool(words) and all(w in COLOURS for w in words)


def _is_name(text: str) -> bool:
    if text[-1:].isdigit() and _WORDS.fullmatch(text) is not None:  # as most are
        return True
    if "   " in text or _NO_NAME.search(text) is not None or is_blank(text) or _MEASURED.fullmatch(text) is not None:
        return False
    if text[-1].isdigit():
        return True
    return any(map(str.isalnum, text)) and not colours_only(text)


def reading_of(
    entries: Iterable[Entry],
    kind: str | None,
    slot: str | None,
    name: str | None,
    inside: str | None = None,
    rails: bool = False,
    point: bool = False,
    aside: list[AnyReading] | None = None,
) -> AnyReading:
    """The reading that a thing's cells make. Raises Unplaced with the reason.

    `kind` is what the text says the thing is, if it does; `slot` its own label, `name` what the device calls it.
    `inside`: the slot of the supply that a fan or sensor stands in. `rails`: whether the table lists sensors of
    all kinds, so that a volt figure without a supply is a rail. `point`: whether `name` is a measuring point or a
    rotor within the unit. `aside`, where given, takes a supply's figures of which the text does not tell whether
    they are of the input or the output, each as a fact of its own; else they leave the supply unread.
    """
    if name is not None and name[:1] == "(":
        name = _RECORD_NUMBER.sub(r"\1 ", name)
    if name is not None and not _is_name(name):
        raise Unplaced(f"`{name[:40]}` is no name")
    if kind in (PSU, FAN) and slot is None and name and not any(map(str.isdigit, name)):
        named = label_of(name)
        if named.thing is None and named.field in (*_IDENTITY, "status", "presence", "side", "capacity"):
            raise Unplaced(f"`{name}` is what is told of a thing, and no name")
    made = _Made()
    unsided: list[tuple[Entry, Quantity]] = []
    measured: list[tuple[Entry, Quantity]] = []
    none_there = ""
    entries = list(entries)
    for entry in entries:
        label, text = entry.label, entry.text
        field = label.field
        if text[-1:] == ")" and len(_each_limit(entry)) > 1:
            apart = [part for each in entries for part in _each_limit(each)]
            return reading_of(apart, kind, slot, name, inside, rails, point, aside)
        if field in _IDENTITY and plain(text) == "none":
            none_there = none_there or text
        if text[:1] not in FIGURES and is_blank(text) and field not in ("status", "flag", "presence"):
            made.not_measured = made.not_measured or (field in ("value", "current", "speed", "percent") and bool(text))
            continue
        if field == "status" and text and is_blank(text):
            made.no_status = True
        if field in ("serial", "part", "model", "description"):
            if condition_of(text) is Condition.ABSENT:
                made.status(text)
                continue
            if field != "description" and _PAIR_IN.search(text):
                raise Unplaced(f"`{text[:40]}` under `{entry.head}` holds another label")
            if field == "part" and " " in text.strip():
                field = "description"  # a text about the part, and not its number
            if plain(text) not in _NO_PART or field == "description":
                made.facts.setdefault(field, text)
        elif kind == TEMP and field == "status" and label.thing is not None and label.thing.kind == FAN:
            _left_alone(entry, made, field)  # which speed of the fans a sensor asks for
        elif kind == TEMP and field == "status" and plain(text) in _HIGH_OR_LOW:
            made.conditions.append(Condition.WARNING)  # `HIGH`, as the state of a sensor
            made.status_text = made.status_text or text
        elif (
            field == "status" and text[:1] in "fF" and kind in (TEMP, None) and _FAN_DRIVEN.fullmatch(text) is not None
        ):
            made.set_aside.append(entry.head)  # how fast the fans turn for its sake
        elif kind == TEMP and field == "limit" and "fan" in label.words:
            made.set_aside.append(entry.head)  # `FanTMin`: from where on the fans are driven
        elif field == "status" and label.words == {"threshold", "status"} and _BITS.fullmatch(text.strip()):
            # Which limits are crossed, as bits: none of them says no more than that.
            if text.strip("0x ") != "":
                made.conditions.append(Condition.WARNING)
                made.status_text = made.status_text or text
        elif field == "status":
            read = None
            if _DIGIT.search(text) is not None:
                read = _value_beside_status(entry)
                if read is None and _FIGURE.search(text):
                    raise Unplaced(f"`{text}` under `{entry.head}` is not understood")
            if read is None:
                if label.side is not None:
                    made.side_status(text, label)
                else:
                    made.status(text, label.words)
            else:
                quantities, words = read
                made.status(words)
                measured.extend((entry, _checked(q, entry.head)) for q in quantities)
        elif field == "presence":
            presence = presence_of(text)
            if presence is not None or not is_blank(text):
                made.presence.append(presence)
                if made.status_text is None and presence is not None:
                    made.status_text = text
        elif field == "flag" and (label.side is not None or (kind == PSU and label.thing and label.thing.kind == FAN)):
            made.side_failed(text, label.side)
        elif field == "flag":
            made.flags.append(
                (
                    4.0
                    if label.words & {"fault", "faults", "failure", "failed", "error", "critical"}
                    else 2.0
                    if "warning" in label.words
                    else 3.0,
                    text,
                )
            )
        elif (
            field == "limit"
            and label.words <= {"over", "temp", "temperature"}
            and condition_of(text) is not None
            and kind in (PSU, FAN)
        ):
            if condition_of(text) is Condition.OK:
                made.neutral = True  # `Over temp : within range`: no word on the whole
            else:
                made.status(text)
        elif field == "limit":
            assert label.limit is not None
            if (label.limit.side is None and not any(map(str.isdigit, text))) or (
                plain(text) in _YES_OR_NO
                and (
                    (label.limit.side is None and len(label.words) == 1)
                    or label.words <= {"over", "temp", "temperature"}
                )
            ):
                rank = label.limit.rank
                made.flags.append((2.0 if label.words <= {"alarm", "alarms"} and rank == 3.0 else rank, text))
            elif text[:2] in _MAY_BE_NONE and kind in (TEMP, None) and _sets_no_bound(text, label):
                made.set_aside.append(entry.head)
            else:
                made.limits.append((entry, label.unit))
        elif field == "capacity":
            if "@" in text:
                entry = entry._replace(text=_AT_VOLTS.sub("", text))
            if (found := _one(entry, "W")) is not None:
                if found.unit != "W":
                    raise Unplaced(f"`{text}` under `{entry.head}` is no power")
                made.put("capacity", found, entry)
        elif field == "type":
            _typed(entry, made)
        elif field == "airflow":
            said = " ".join(text.lower().split())
            flow = AIRFLOW.get(said) or airflow_in(text)
            if flow is not None:
                if made.facts.setdefault("airflow", flow) != flow:
                    raise Unplaced(f"`{text}` under `{entry.head}` is another direction than before")
            elif said != "unknown":
                made.facts["airflow_word"] = text
        elif field in ("quantity", "side"):
            _sided(entry, made, unsided)
        elif field in ("value", "current", "speed", "percent"):
            _measured(entry, made, measured, kind, name)
        elif field in ("unknown", "ignored", "slot", "name", "thing"):
            _left_alone(entry, made, field)
    if (
        none_there
        and kind is not None
        and kind != TEMP
        and slot is not None
        and not made.told()
        and not measured
        and not unsided
    ):
        made.status_text = none_there  # `PS2   none   --   --`: no model, and nothing else
        made.conditions.append(Condition.ABSENT)
    for entry, quantity in measured:
        dimension = DIMENSION.get(quantity.unit)
        sided = entry.label.side
        target = _OF_NO_SUPPLY.get(dimension or "")
        if (
            target == "value"
            and (known := made.values.get("value")) is not None
            and _other_scale(known, quantity, entry)
        ):
            continue
        if target is not None:
            made.fan_told = made.fan_told or (entry.label.thing is not None and entry.label.thing.kind == FAN)
            made.put(target, quantity, entry)
        elif dimension in ("voltage", "current", "power"):
            if sided and entry.label.field != "value":
                made.put(f"{sided}_{dimension}", quantity, entry)
            else:
                unsided.append((entry, quantity))
        else:
            raise Unplaced(f"`{entry.text}` under `{entry.head}` is no value of a supply, fan or sensor")
    return _finished(made, unsided, kind, slot, name, inside, rails, point, aside)


def _each_limit(entry: Entry) -> list[Entry]:
    """A cell with its limits taken apart: `26C (51C,65C,68C)`, `(na ,63 ,73 ,83 )(Celsius)` below `Threshold(Minor,Major,...)`."""
    label = entry.label
    if label.field == "value" and (limited := _WITH_LIMITS.fullmatch(entry.text)) is not None:
        bounds = [b.strip() for b in limited["bounds"].split(",")]
        figures = [float(b.rstrip("C° ")) for b in bounds]
        if figures != sorted(set(figures)):  # from the mildest to the severest
            return [entry]
        severities = zip((2.0, 4.0, 5.0), bounds, strict=False)
        told = [(Label("limit", unit="C", limit=Limit("high", rank)), bound) for rank, bound in severities]
        return [entry._replace(text=limited["value"]), *(Entry(lab, bound, entry.head) for lab, bound in told)]
    if label.limit is None or label.limit.side is not None or "," not in entry.text or "(" not in entry.head:
        return [entry]
    names, cells = _NAMES_OF_LIMITS.search(entry.head), _CELLS_OF_LIMITS.fullmatch(entry.text.strip())
    said = [name.strip().lower() for name in names[1].split(",")] if names is not None else []
    ranks = [RANKS.get(name) for name in said]
    values = cells["cells"].split(",") if cells is not None else []
    unit = unit_word(cells["unit"]) if cells is not None and cells["unit"] else label.unit
    if not ranks or None in ranks or len(values) != len(ranks) or unit != "C":
        return [entry]
    return [
        Entry(
            label._replace(limit=Limit("high", rank or 1.0, name == "critical"), unit=unit), value.strip(), entry.head
        )
        for name, rank, value in zip(said, ranks, values, strict=True)
    ]


def _other_scale(known: Quantity, again: Quantity, entry: Entry) -> bool:
    """Whether a cell gives in Fahrenheit, to a whole degree, what one before it gave in Celsius."""
    return entry.label.unit == "F" and known.unit == again.unit == "Cel" and abs(known.value - again.value) <= 1.0


def _value_beside_status(entry: Entry) -> tuple[tuple[Quantity, ...], str] | None:
    """A status cell that holds a figure too, such as `OK (3400 RPM)`."""
    try:
        read = read_cell(entry.text, None)
    except Unplaced:
        return None
    if not read.quantities or any(q.unit not in DIMENSION for q in read.quantities):
        return None
    return read.quantities, read.words


def _typed(entry: Entry, made: _Made) -> None:
    text = entry.text
    found = {m.upper() for m in _TYPE.findall(text)}
    if len(found) == 1:
        made.facts["input_type"] = found.pop()
        rest = _TYPE.sub(" ", text).strip()
        if rest and any(c.isdigit() for c in rest):
            try:
                read = read_cell(rest, None)
            except Unplaced:
                return
            if len(read.quantities) == 1 and read.quantities[0].unit == "W":
                made.put("capacity", _checked(read.quantities[0], entry.head), entry)
    elif condition_of(text) not in (None, Condition.OK):
        made.status(text)
    elif _PART.match(text):
        made.facts.setdefault("model", text)
    elif re.fullmatch(r"\d+(?:\.\d+)?\s*[VAW]", text):
        raise Unplaced(f"`{text}` under `{entry.head}` is a figure whose meaning is not told")


def _sided(entry: Entry, made: _Made, unsided: list[tuple[Entry, Quantity]]) -> None:
    """A voltage, current or power; of the input or the output where the label says."""
    label, text = entry.label, MADE_FOR.sub("", entry.text)
    assumed = {"voltage": "V", "current": "A", "power": "W"}.get(label.dimension or "")
    if not any(c.isdigit() for c in text):
        if (form := re.fullmatch(r"(ac|dc)(?: (?:high|low)(?: (?:line|range))?)?", plain(text))) is not None:
            made.facts["input_type"] = form[1].upper()
        elif label.side == "input" and (kind := _KIND_OF_INPUT.match(plain(text))) is not None:
            made.facts["input_type"] = kind[1].upper()
        elif condition_of(text) is not None or plain(text) in PRESENT:
            made.side_status(text, label)
        elif label.side == "input" and condition_of(said := f"input {plain(text)}") is not None:  # `Lost` below `Input`
            made.side_status(said, label)
        else:
            raise Unplaced(f"`{text}` under `{entry.head}` is not a value")
        return
    if label.unit is not None and "/" in label.unit:
        _several_units(entry, made)
        return
    if re.search(r"\d\s*[A-Za-z]*\s*(?:-|–|to|~)\s*\d", text):  # a range that the part takes
        if "normal" in label.words and (taken := _RANGE_TAKEN.fullmatch(text)) is not None:
            made.ranges.append((entry, taken["low"], taken["high"]))
        made.set_aside.append(entry.head)
        return
    if (kind := _LED_BY.match(text)) is not None:  # `AC 229.6 V, 0.95 A`
        if label.side == "input":
            made.facts.setdefault("input_type", kind[1].upper())
        text = text[kind.end() :]
    if label.unit is None and _OF_A_RAIL.match(entry.head) is not None and not text.strip()[-1].isdigit():
        assumed = None  # `52V output   11.2 A`: the volts are the rail's name
    read = read_cell(text, label.unit or assumed)
    if read.words.lower() in SIDES and label.side is None:
        label = label._replace(side=SIDES[read.words.lower()])
        read = read._replace(words="")
    if read.words:
        found, _neutral = status_of(read.words)
        if found is Condition.UNKNOWN and read.words.upper() not in ("AC", "DC"):
            raise Unplaced(f"`{text}` under `{entry.head}` is not only a value")
        if found not in (None, Condition.UNKNOWN):
            made.conditions.append(found)
    unit = _UNIT_IN.search(text.strip())
    made.printed_unit = (unit_word(unit[1]) if unit else None) or label.unit or assumed
    if label.side is not None and len({q.unit for q in read.quantities}) != len(read.quantities):
        raise Unplaced(f"`{text}` under `{entry.head}` is more than one value")
    for quantity in read.quantities:
        dimension = DIMENSION.get(quantity.unit)
        if dimension not in ("voltage", "current", "power") or (
            label.dimension in ("voltage", "current", "power")
            and dimension != label.dimension
            and len(read.quantities) == 1
            and assumed is not None
        ):
            raise Unplaced(f"`{text}` under `{entry.head}` is not in the unit that was expected")
        if label.side is not None:
            made.put(f"{label.side}_{dimension}", _checked(quantity, entry.head), entry)
        else:
            unsided.append((entry, _checked(quantity, entry.head)))


_TWO_FIGURES = re.compile(r"(?P<c>[+-]?\d{1,3}(?:\.\d)?) ?/ ?(?P<f>[+-]?\d{1,3}(?:\.\d)?)")


def _measured(
    entry: Entry, made: _Made, measured: list[tuple[Entry, Quantity]], kind: str | None, name: str | None
) -> None:
    label, text = entry.label, entry.text
    field = label.field
    assumed = label.unit
    if assumed is None:
        if label.dimension == "temperature" or (field in ("value", "current") and kind == TEMP):
            assumed = "C"
        elif field == "percent":
            assumed = "%"
        elif field == "current" and kind == PSU:
            assumed = "A"
    if field == "percent" and "pwm" in label.words and label.unit is None and "%" not in text and _BARE.fullmatch(text):
        made.set_aside.append(entry.head)  # a share of 100 or of 255, which is not told
        return
    if assumed is not None and (label.dimension != "temperature" or assumed == "C") and BARE_FIGURE.fullmatch(text):
        if assumed != "%" or made.printed_unit is None:
            made.printed_unit = assumed
        measured.extend([(entry, _checked(q, entry.head, name)) for q in read_cell(text, assumed).quantities])
        return
    if field == "speed":
        text = _STEP_BEHIND.sub("", text)
    if "/" in text and (both := _TWO_FIGURES.fullmatch(text.strip())) is not None and label.dimension == "temperature":
        celsius, fahrenheit = float(both["c"]), float(both["f"])
        zero = 0.0 if _RELATIVE.search(name or "") is not None else 32.0  # a difference has no zero of its own
        if abs(celsius * 1.8 + zero - fahrenheit) <= 1.0:
            text = both["c"]  # `26/79`: the same in two scales
    if _BEYOND.fullmatch(text.strip()) is not None:
        made.beyond = text
        made.printed_unit = made.printed_unit or assumed
        return
    if _DIGIT.search(text) is None:
        said = plain(text)
        if kind == FAN and _AT_A_SPEED.fullmatch(said.replace("-", " ")):
            made.set_aside.append(entry.head)
            return
        if kind == PSU and field == "value" and said in _SWITCHED_ON:
            made.set_aside.append(entry.head)  # whether it is well the sensor's own state tells
            return
        if kind in (PSU, FAN) and field == "value" and said in _STATE_SHOWN:
            made.neutral = True
            made.status_text = made.status_text or text
            return
        if field == "speed":
            if condition_of(text) not in (None, Condition.OK) or said.startswith("ok-"):
                made.status(text)
            else:
                made.set_aside.append(entry.head)  # `slow`, `auto`
            return
        if condition_of(text) is Condition.OK and kind in (PSU, FAN) and label.dimension == "temperature":
            made.neutral = True  # that it is not too hot is no word on the whole
            return
        if condition_of(text) is not None:
            made.status(text)
            return
        raise Unplaced(f"`{said}` under `{entry.head}` is not a value")
    if (field == "speed" or (field == "value" and kind == FAN and label.dimension is None)) and assumed is None:
        bare = re.fullmatch(r"\d{1,3}(?:,\d{3})+|\d+(?:\.0+)?", text.strip())
        if bare is not None:
            figure = float(text.strip().replace(",", ""))
            if figure <= 250:
                raise Unplaced(f"`{text}` under `{entry.head}` could be a speed or a share of it")
            assumed = "rpm"
    if field == "speed" and assumed == "rpm" and "%" in text and "rpm" not in text.lower():
        assumed = None
    parts = _SIDED_PARTS.findall(text) if kind == PSU and label.side is None and "," in text else []
    if parts and ", ".join(f"{a} {b}" for a, b in parts) == " ".join(text.split()):
        for figure, side in parts:
            sided = entry._replace(label=label._replace(field="quantity", side=SIDES[side.lower()]))
            measured.extend((sided, _checked(q, entry.head, name)) for q in read_cell(figure).quantities)
        return
    read = read_cell(MEASURED_AT.sub("", text, count=1), assumed)
    if read.words.lower() in SIDES and label.side is None and kind == PSU:
        entry = entry._replace(label=label._replace(field="quantity", side=SIDES[read.words.lower()]))
        measured.extend((entry, _checked(q, entry.head, name)) for q in read.quantities)
        return
    if field == "value" and label.dimension == "temperature" and any(q.unit != "Cel" for q in read.quantities):
        raise Unplaced(f"`{text}` under `{entry.head}` is no temperature")
    if (
        read.words
        and (field == "value" or kind == FAN)
        and re.fullmatch(r"speed (?:low|high|normal|medium)", plain(read.words))
    ):
        made.neutral = True  # `Speed Low (3700 RPM)`
        made.status_text = made.status_text or read.words
    elif read.words:
        found, _ = status_of(read.words)
        if kind == FAN and HOW_FAST.fullmatch(read.words.strip()):
            made.set_aside.append(entry.head)
        elif found is Condition.UNKNOWN and not colours_only(read.words):
            raise Unplaced(f"`{text}` under `{entry.head}` is not only a value")
        else:
            made.status(read.words)
    # The same temperature in two scales: what has no unit is in the one that comes first.
    unit = _TWO_SCALES.match(text.strip()) or _UNIT_IN.search(text.strip())
    printed = (unit_word(unit[1]) if unit else None) or label.unit or assumed
    if printed != "%" or made.printed_unit is None:
        made.printed_unit = printed
    measured.extend((entry, _checked(q, entry.head, name)) for q in read.quantities)


def _left_alone(entry: Entry, made: _Made, field: str) -> None:
    """A cell that no reading has a place for: nothing bad and no figure with a unit may be lost with it."""
    text = entry.text
    if entry.head.startswith("column ") and any(c.isdigit() for c in text):
        raise Unplaced(f"`{text}` stands under no label")
    if (
        field != "ignored"
        and field not in ("slot", "name", "thing")
        and any(c.isdigit() for c in text)
        and re.fullmatch(r"[+-]?\d+(?:\.\d+)?\s*(?:V|A|W|C|°C|rpm|RPM|%|Volts|Watts|Amps)", text.strip())
    ):
        raise Unplaced(f"`{text}` stands under `{entry.head}`, which is not known")
    if not entry.label.words & {"led", "leds", "lamp", "light", "admin", "redundancy"}:
        found = condition_of(text)
        if found not in (None, Condition.OK, Condition.STANDBY) and field != "slot":
            raise Unplaced(f"`{text}` stands under `{entry.head}`, which is not known to tell a status")
    made.set_aside.append(entry.head)


def _finished(
    made: _Made,
    unsided: list[tuple[Entry, Quantity]],
    kind: str | None,
    slot: str | None,
    name: str | None,
    inside: str | None,
    rails: bool,
    point: bool,
    aside: list[AnyReading] | None,
) -> AnyReading:
    values = made.values
    powers = {k for k in values if k.split("_")[-1] in ("voltage", "current", "power") or k == "capacity"}
    heat, speed = "value" in values, "speed" in values or "speed_percent" in values
    if kind is None:
        if heat and not powers and not speed:
            kind = TEMP
        elif "speed" in values and not heat and not powers:
            kind = FAN
    unit_of_psu = f"psu-{inside}" if inside else None
    if kind == PSU and heat and not powers and not unsided and not speed and not made.facts.keys() & {"serial", "part"}:
        # A sensor of the supply, not the supply.
        kind, unit_of_psu, point = TEMP, (f"psu-{slot}" if slot else unit_of_psu), True
    if kind == PSU and speed and not powers and not unsided and not heat and not made.fan_told:
        kind, unit_of_psu, point = FAN, (f"psu-{slot}" if slot else unit_of_psu), True
    condition = _condition(made)
    if made.doubts and condition in (None, Condition.OK, Condition.STANDBY, Condition.UNKNOWN):
        raise Unplaced(made.doubts[0])
    if made.beyond and condition in (None, Condition.OK, Condition.UNKNOWN):
        raise Unplaced(f"`{made.beyond}` is a bound and not a value")
    if kind in (PSU, FAN) and condition is Condition.OK and name and _ONLY_THERE.search(name) is not None:
        condition = Condition.UNKNOWN  # `PSU1 Present   normal`: that it is there is as it should be
    status_text = made.status_text
    base: dict[str, Any] = {"condition": condition, "status_text": status_text}
    if kind == TEMP:
        if powers or speed or unsided:
            raise Unplaced("a temperature beside other figures")
        if made.limits and _are_least_and_most(made.limits):
            # Seen, or allowed: where its state is told without them, nothing hangs on which it is.
            if condition is None:
                raise Unplaced("limits, or the lowest and the highest seen, is not told")
            made.set_aside.extend(e.head for e, _ in made.limits)
            made.limits = []
        limits = limits_of(made.limits, values.get("value"), made.printed_unit or "C", "Cel")
        if "value" not in values and condition is None and not (name and (made.not_measured or limits)):
            raise Unplaced("no temperature stands there")
        low, high = limits.get("low_warning"), limits.get("high_warning")
        if (
            low
            and high
            and high.value - low.value < 15
            and all(
                e.label.limit == Limit(e.label.limit.side, 1.0) and not e.label.words & _NAMED
                for e, _ in made.limits
                if e.label.limit
            )
        ):
            raise Unplaced("limits, or the lowest and the highest seen, is not told")
        if (
            high is not None
            and "value" in values
            and condition in (None, Condition.OK)
            and 0 <= high.value - values["value"].value < 8
            and len(only := [e for e, _ in made.limits if not is_blank(e.text)]) == 1
            and only[0].label.words & {"max", "maximum", "highest"}
        ):
            raise Unplaced("a limit, or the highest seen, is not told")
        if not name and unit_of_psu is None:
            raise Unplaced("where it is measured does not stand there")
        base["unit"] = unit_of_psu
        base["condition"] = made.beyond_limit(values.get("value"), limits) or condition
        return Temperature(value=values.get("value"), name=name, **base, **limits)
    if kind == FAN:
        # What a fan takes itself is set aside, where a label or its unit says so.
        taken = [
            q
            for e, q in unsided
            if (q.unit == "W" and (speed or e.label.words & {"consumed", "consumption", "power"}))
            or (
                q.unit == "V" and "speed" in values and made.printed["speed"].head == e.head
            )  # `8542 rpm (0.971 V)`: its drive
        ]
        if powers or heat or len(taken) != len(unsided):
            raise Unplaced("a fan beside figures that are no speed")
        if slot is None and not name and unit_of_psu is None:
            raise Unplaced("which fan it is does not stand there")
        main = values.get("speed") or values.get("speed_percent")
        dead = made.conditions_absent() or (condition is Condition.FAILED and len(made.limits) > 1)
        if main is None and made.limits and not made.not_measured and not made.beyond and not dead:
            raise Unplaced("a limit without the value that it is of")
        printed = main.unit if main is not None else made.printed_unit
        made.limits = _without_range(made.limits)
        limits = limits_of(made.limits, main, printed, main.unit if main else "rpm" if printed == "rpm" else None)
        if not speed and condition is None and not limits and not made.nothing_shown(slot):
            return _inventory(made, "fan", slot, name, base, unit_of_psu)
        unit = unit_of_psu or (f"fan-{slot}" if slot else None)
        base["condition"] = made.beyond_limit(main, limits) or condition
        return Fan(
            unit=unit,
            name=name if point or unit is None or unit_of_psu else None,
            speed=values.get("speed"),
            speed_percent=values.get("speed_percent"),
            **_facts(made),
            **base,
            **limits,
        )
    if kind == PSU:
        try:
            _place_unsided(made, unsided)
        except Unplaced:
            if slot is None and ((thing := thing_of(name or "")) is None or thing.kind != PSU):
                raise
            if (
                aside is None
                or (point and condition is None)
                or not (condition or made.facts.keys() & {"serial", "part"} or powers)
            ):
                raise
            unsided = [(e, q) for e, q in unsided if q != made.values.get("capacity")]
            facts_aside = _facts_of_no_side(unsided, f"psu-{slot}" if slot else name)
            if made.limits and not powers and len(unsided) == 1:  # they are of the only figure that there is
                of = unsided[0][1]
                bounds = limits_of(made.limits, of, made.printed_unit, of.unit)
                facts_aside = [fact.model_copy(update=bounds) for fact in facts_aside]
                made.limits = []
            aside.extend(facts_aside)
        powers = {
            k: q for k, q in values.items() if k.split("_")[-1] in ("voltage", "current", "power") or k == "capacity"
        }  # type: ignore[assignment]
        limits = {}
        if not made.limits and len(made.ranges) == 1:
            made.limits += _normal(made.ranges[0], powers)
        if made.limits:
            mains = [q for k, q in values.items() if k != "capacity" and k not in ("value", "speed", "speed_percent")]
            if len(mains) != 1:
                raise Unplaced("limits beside more than one value")
            limits = limits_of(made.limits, mains[0], made.printed_unit, mains[0].unit)
        if slot is None and (not name or plain(name) in _SUMS):
            raise Unplaced("which supply it is does not stand there")
        if not powers and condition is None and "input_type" not in made.facts and not made.nothing_shown(slot):
            return _inventory(made, "psu", slot, name, base, None)
        if speed:
            if aside is None or slot is None:
                raise Unplaced("the speed of a fan beside a supply's figures")
            aside.append(
                Fan(
                    unit=f"psu-{slot}", name="fan", speed=values.get("speed"), speed_percent=values.get("speed_percent")
                )
            )
        facts = _facts(made)
        if "input_type" in made.facts:
            facts["input_type"] = made.facts["input_type"]
        unit = f"psu-{slot}" if slot else None
        return PowerSupply(unit=unit, name=name if point or unit is None else None, **powers, **facts, **base, **limits)  # type: ignore[arg-type]
    if rails and unsided and len(unsided) == 1 and not values and name:
        _, quantity = unsided[0]
        limits = limits_of(made.limits, quantity, made.printed_unit, quantity.unit)
        return Device(name=name, value=quantity, **base, **limits)
    raise Unplaced("what it is about does not stand there")


def _are_least_and_most(limits: list[tuple[Entry, str | None]]) -> bool:
    """Whether two figures are called least and most, and the least is above what any part is allowed to be at least."""
    first = limits[0][0].label.limit
    if len(limits) > 2 and first is not None and first.rank != 1.0:
        return False  # as of most: each has a severity of its own
    called = [e for e, _ in limits if e.label.words & _LEAST_AND_MOST and not e.label.words & _NAMED]
    if len(called) != 2 or any(e not in called and not is_blank(e.text) for e, _ in limits):
        return False
    sides = {e.label.limit.side: e.text for e in called if e.label.limit is not None}
    least = _MEASURED_ALONE.match(sides["low"]) if sides.keys() == {"low", "high"} else None
    return least is not None and float(least[1]) >= _NO_LOW_LIMIT


def _normal(found: tuple[Entry, str, str], powers: Iterable[str]) -> list[tuple[Entry, str | None]]:
    """The least and the most of a normal range as limits, where the only figure that is measured is of its kind and side."""
    entry, low, high = found
    label = entry.label
    if [p for p in powers if p != "capacity"] != [f"{label.side}_{label.dimension}"]:
        return []
    return [
        (Entry(label._replace(field="limit", limit=Limit(side, 2.0)), text, entry.head), label.unit)
        for side, text in (("low", low), ("high", high))
    ]


def _without_range(limits: list[tuple[Entry, str | None]]) -> list[tuple[Entry, str | None]]:
    """Limits of a fan without `Maximum speed` and `Minimum speed` where these tell what it can do: the least is next to nothing."""
    plain_ = [
        x
        for x in limits
        if x[0].label.limit is not None and x[0].label.limit.rank == 1.0 and not x[0].label.words & _NAMED
    ]
    low = next((e for e, _ in plain_ if e.label.limit is not None and e.label.limit.side == "low"), None)
    least = re.match(r"\d+", low.text) if low is not None and len(plain_) == 2 else None
    return [x for x in limits if x not in plain_] if least is not None and int(least.group()) < 100 else limits


def _facts(made: _Made) -> dict[str, Any]:
    facts: dict[str, Any] = {}
    if "serial" in made.facts:
        facts["serial"] = made.facts["serial"]
    part = made.facts.get("part") or made.facts.get("model")
    if part:
        facts["part_number"] = part
    flow = made.facts.get("airflow") or airflow_in(made.facts.get("description", ""))
    if flow:
        facts["airflow"] = flow
    elif "airflow_word" in made.facts:
        facts["airflow_word"] = made.facts["airflow_word"]
    return facts


def _inventory(
    made: _Made, kind: str, slot: str | None, name: str | None, base: dict[str, Any], within: str | None
) -> AnyReading:
    facts = _facts(made)
    if not facts.keys() - {"airflow", "airflow_word"} and "description" not in made.facts:
        raise Unplaced("nothing is told of it")
    unit = f"{kind}-{slot}" if slot else within
    if unit is None and not name:
        raise Unplaced("which part it is does not stand there")
    return Inventory(unit=unit, name=None if unit else name, description=made.facts.get("description"), **facts, **base)


def _condition(made: _Made) -> Condition | None:
    told = list(made.conditions)
    for rank, text in made.flags:
        said = plain(text)
        if said in _NO:
            if said != "none":
                told.append(Condition.OK)
                made.status_text = made.status_text or text
        elif said in _YES:
            told.append(Condition.FAILED if rank >= 4 else Condition.WARNING if rank <= 2 else Condition.UNKNOWN)
            made.status_text = made.status_text or text
        elif said in _TOO_HOT:  # `high` below `Alarm`
            told.append(Condition.WARNING)
            made.status_text = made.status_text or text
        elif not is_blank(text):
            found, neutral = status_of(text)
            if found is not None:
                told.append(found)
            made.neutral = made.neutral or neutral
            made.status_text = made.status_text or text
    both = None in made.presence and Condition.ABSENT in made.presence
    for presence in made.presence:
        if presence is None:
            made.neutral = True
        elif both and presence is Condition.ABSENT:
            told.append(Condition.UNKNOWN)  # `Present YES, Register NO`: there, and not taken in
        else:
            told.append(presence)
    if not told:
        return Condition.UNKNOWN if made.neutral else None
    return told[0] if len(told) == 1 else worst(told)


def _place_unsided(made: _Made, unsided: list[tuple[Entry, Quantity]]) -> None:
    """Voltage, current and power without `input` or `output` before them: by figures that leave no choice.

    12 V is what supplies give and mains voltage is what they take; current and power go with a voltage whose
    product they are. Common practice, no source.
    """
    if not unsided:
        return
    facts = " ".join(v for k, v in made.facts.items() if k in ("model", "part", "description"))
    of: dict[str, tuple[Entry, Quantity]] = {}
    both = [(e, q) for e, q in unsided if q.unit == "W"]
    if (
        len(both) == 2 and both[0][0] is both[1][0]
    ):  # `350/0`: what it can give, and how much of that is for other devices
        stated = [q for _, q in both if q.value >= 50 and _states(facts, q.value)]
        if len(stated) != 1:
            raise Unplaced(f"`{both[0][0].text}` under `{both[0][0].head}`: which of the two is what is not told")
        made.put("capacity", stated[0], both[0][0])
        unsided = [(e, q) for e, q in unsided if q.unit != "W"]
    sides = [side_of(q.value) for _, q in unsided if q.unit == "V"]
    if len(sides) == len(unsided) == 2 and set(sides) == {"input", "output"}:  # `230 V  12.1 V`
        for side, (entry, quantity) in zip(sides, unsided, strict=True):
            made.put(f"{side}_voltage", quantity, entry)
        return
    for entry, quantity in unsided:
        dimension = DIMENSION[quantity.unit]
        if dimension in of:
            raise Unplaced(f"two figures of {dimension} without input or output")
        of[dimension] = (entry, quantity)
    if "power" in of and "voltage" not in of and "current" not in of:
        entry, quantity = of.pop("power")
        if quantity.value >= 50 and _states(facts, quantity.value) and "capacity" not in made.values:
            made.put("capacity", quantity, entry)
        else:
            raise Unplaced(f"`{entry.text}` under `{entry.head}`: taken or given, or what it can give, is not told")
    if not of:
        return
    if "voltage" not in of and "current" in of and "power" in of:
        product_of = {
            side
            for side in ("input", "output")
            if (known := made.values.get(f"{side}_voltage")) is not None
            and abs(abs(known.value) * of["current"][1].value - of["power"][1].value)
            <= max(2.0, 0.1 * of["power"][1].value)
        }
        if len(product_of) == 1 and not (made.values.keys() & {"input_voltage", "output_voltage"}) - {
            f"{side}_voltage" for side in product_of
        }:
            only = product_of.pop()
            for dimension, (given, quantity) in of.items():
                made.put(f"{only}_{dimension}", quantity, given)
            return
    if "voltage" not in of:
        entry, _ = next(iter(of.values()))
        raise Unplaced(f"`{entry.text}` under `{entry.head}`: of the input or the output is not told")
    entry, volts = of["voltage"]
    side = side_of(volts.value)
    if side is None:
        raise Unplaced(f"`{entry.text}` under `{entry.head}`: of the input or the output is not told")
    amps, watts_of = of.get("current"), of.get("power")
    if watts_of is not None and amps is not None:
        product = volts.value * amps[1].value
        if abs(product - watts_of[1].value) > max(2.0, 0.1 * abs(product)):
            raise Unplaced(f"`{watts_of[0].text}` under `{watts_of[0].head}` is not the product of voltage and current")
    elif watts_of is not None:
        raise Unplaced(f"`{watts_of[0].text}` under `{watts_of[0].head}`: of the input or the output is not told")
    for dimension, (given, quantity) in of.items():
        made.put(f"{side}_{dimension}", quantity, given)


def _facts_of_no_side(unsided: list[tuple[Entry, Quantity]], of: str | None) -> list[AnyReading]:
    """Watts, volts and amps of a supply of which the side is not told, as facts under its name. Raises Unplaced."""
    dimensions = [DIMENSION[q.unit] for _, q in unsided]
    if of is None or len(set(dimensions)) != len(dimensions):
        raise Unplaced("figures of a supply of which the side is not told")
    return [
        Device(name=f"{of} {dimension}, side not told", value=q)
        for dimension, (_, q) in zip(dimensions, unsided, strict=True)
    ]


def _states(facts: str, watts: float) -> bool:
    """Whether a part's own name holds a figure of watts, as `GPX-650F` does."""
    return re.search(rf"(?<!\d){watts:g}(?!\d)", facts) is not None


def side_of(volts: float) -> str | None:
    """The side that volts are of by themselves: 12 V is what supplies give, mains voltage what they take. Common practice."""
    if 11.0 <= volts <= 13.5:
        return "output"
    if 85.0 <= volts <= 305.0:
        return "input"
    return None


def limits_of(
    found: list[tuple[Entry, str | None]], value: Quantity | None, printed: str | None, unit: str | None
) -> dict[str, Quantity]:
    """The four limits by severity. Raises Unplaced where they are out of order or cannot be told apart."""
    if not found:
        return {}
    ranges = any(
        entry.label.limit is not None and entry.label.limit.side is None and BARE_FIGURE.fullmatch(entry.text) is None
        for entry, _ in found
    )
    limits = _in_order(tuple(found), value if ranges else None, printed, unit)
    for name in ("low_warning", "low_critical"):
        if unit == "Cel" and value is not None and name in limits and value.value < limits[name].value > 30:
            raise Unplaced("the value lies far below a low limit, which is rather another thing")
    low = limits.get("low_warning") or limits.get("low_critical")
    high = limits.get("high_warning") or limits.get("high_critical")
    if low is not None and high is not None and low.value >= high.value:
        raise Unplaced("the limits leave no room for a value")
    return dict(limits)


@lru_cache(maxsize=256)
def _in_order(
    found: tuple[tuple[Entry, str | None], ...], value: Quantity | None, printed: str | None, unit: str | None
) -> Mapping[str, Quantity]:
    """The four limits, which are the same in most rows of a table. `value` is that which ranges must hold."""
    sides: dict[str, list[tuple[float, bool, Quantity]]] = {"low": [], "high": []}
    for entry, stated in found:
        label = entry.label
        assert label.limit is not None
        if is_blank(entry.text):
            continue
        assumed = stated or printed
        if label.limit.side is None and (span := _SPAN.fullmatch(entry.text.strip("[] "))) is not None:
            both = [
                read_cell(span[n] + (span["unit"] or span["own"] or ""), assumed).quantities[0] for n in ("low", "high")
            ]
            if both[0].value >= both[1].value or any(unit is not None and q.unit != unit for q in both):
                raise Unplaced(f"`{entry.text}` under `{entry.head}` is no range")
            if value is not None and not label.words & _NAMED and not both[0].value <= value.value <= both[1].value:
                raise Unplaced(f"`{entry.text}` under `{entry.head}`: a range, or two limits, is not told")
            for side, quantity in zip(("low", "high"), both, strict=True):
                sides[side].append((label.limit.rank, label.limit.pinned, _checked(quantity, entry.head)))
            continue
        read = read_cell(entry.text if entry.text[-1] not in ")] " else _SETTABLE.sub("", entry.text), assumed)
        if not read.quantities:
            if read.words:
                raise Unplaced(f"`{entry.text}` under `{entry.head}` is no limit")
            continue
        if len(read.quantities) == 1 and not read.words and label.limit.side is not None:  # as nearly all are
            quantity = read.quantities[0]
            if unit is not None and quantity.unit != unit:
                raise Unplaced(f"`{entry.text}` under `{entry.head}` is not in the unit of the value")
            sides[label.limit.side].append((label.limit.rank, label.limit.pinned, _checked(quantity, entry.head)))
            continue
        if (
            len(read.quantities) == 2
            and label.limit.side is None
            and (not label.words & RANKS.keys() or (label.words & HIGH and label.words & LOW))
            and read.quantities[0].value < read.quantities[1].value
        ):
            if value is not None and not read.quantities[0].value <= value.value <= read.quantities[1].value:
                raise Unplaced(f"`{entry.text}` under `{entry.head}`: a range, or two limits, is not told")
            pairs = [("low", read.quantities[0]), ("high", read.quantities[1])]
        elif len(read.quantities) == 1 and not read.words:
            bound = label.limit.side or {"Cel": "high", "rpm": "low"}.get(unit or "")  # a fan is told its least speed
            if bound is None:
                raise Unplaced(f"`{entry.head}`: an upper or a lower limit is not told")
            pairs = [(bound, read.quantities[0])]
        else:
            raise Unplaced(f"`{entry.text}` under `{entry.head}` is no limit")
        for side, quantity in pairs:
            if unit is not None and quantity.unit != unit:
                raise Unplaced(f"`{entry.text}` under `{entry.head}` is not in the unit of the value")
            sides[side].append((label.limit.rank, label.limit.pinned, _checked(quantity, entry.head)))
    limits: dict[str, Quantity] = {}
    for side, bounds in sides.items():
        if not bounds:
            continue
        if len(bounds) == 1:
            limits[f"{side}_{'critical' if bounds[0][0] >= 3 else 'warning'}"] = bounds[0][2]
            continue
        if len(bounds) == 2 and min(b[0] for b in bounds) == 1.0 and 2.0 <= max(b[0] for b in bounds) < 3.0:
            # `Warn` and `Max`: what has no name of its own is the severer one, where it lies beyond.
            (plain_, warned) = sorted(bounds, key=lambda b: b[0])
            if (plain_[2].value > warned[2].value) == (side == "high") and plain_[2].value != warned[2].value:
                bounds[:] = [warned, (3.0, *plain_[1:])]
        bounds.sort(key=lambda b: b[0])
        ranks = [rank for rank, _, _ in bounds]
        if len(set(ranks)) != len(ranks):
            raise Unplaced(f"two {side} limits of one name")
        values = [b[2].value for b in bounds]
        if values != sorted(values, reverse=side == "low"):
            raise Unplaced(f"the {side} limits are not in order")
        pinned = [q for _, p, q in bounds if p]
        if len(bounds) == 2 and pinned and bounds[0][1]:
            limits[f"{side}_critical"] = pinned[0]  # and one beyond critical, which has no place
            continue
        if len(bounds) == 2 and bounds[0][0] == 1.0 and bounds[1][0] < 3.0:
            raise Unplaced(f"which of two {side} limits is the milder is not told")
        limits[f"{side}_warning"] = bounds[0][2]
        limits[f"{side}_critical"] = pinned[0] if pinned else bounds[1][2]
    if all(sides.values()) and not any(b[2].value for bounds in sides.values() for b in bounds):
        return {}  # nought above and below: none is set
    order = [limits[n].value for n in ("low_critical", "low_warning", "high_warning", "high_critical") if n in limits]
    if order != sorted(order):
        raise Unplaced("the limits are not in order")
    return limits
