"""Keys and values to readings: which keys belong together, and which thing they are about."""

import re
from collections.abc import Iterable
from functools import lru_cache
from itertools import islice, pairwise
from typing import NamedTuple

from consolecheck.reading.inference.containers import container_of
from consolecheck.reading.inference.grids import (
    ROTOR_OF,
    SUM,
    kind_said,
    member_of,
    named_for_heat,
    sensor_reading,
    unit_of_name,
)
from consolecheck.reading.inference.phrases import (
    BETWEEN_PHRASES,
    CELSIUS_FIRST,
    TOLD,
    WORD_FIGURE,
    figures,
    phrases_of,
)
from consolecheck.reading.inference.record import COMES_IN, Entry, colours_only, reading_of, status_of
from consolecheck.reading.inference.values import (
    BARE_FIGURE,
    DIMENSION,
    PRESENT,
    Unplaced,
    condition_of,
    is_blank,
    plain,
    read_cell,
    unit_word,
)
from consolecheck.reading.inference.words import (
    FAN,
    FOREIGN,
    PSU,
    STATUS,
    TEMP,
    Label,
    Limit,
    Thing,
    label_of,
    placed_in,
    plain_title,
    slashed,
    slot_alone,
    thing_of,
    words_of,
)
from consolecheck.reading.table import Item, Pairs
from consolecheck.records.readings import AnyReading, Condition, Device, Inventory


class Made(NamedTuple):
    """A reading with its lines and the place of each field: field -> (line, start, end)."""

    reading: AnyReading
    lines: tuple[int, ...]
    places: tuple[tuple[str, int, int, int], ...]
    columns: tuple[tuple[str, str], ...]
    """Key -> what it was taken as."""
    texts: tuple[str, ...] = ()
    """Of JSON: its numbers and texts as printed."""


class ReadList(NamedTuple):
    made: tuple[Made, ...]
    used: frozenset[int]
    unread: dict[int, str]
    """Line -> why."""


_TRANSPARENT = frozenset(("properties", "attributes", "details", "information", "values", "data"))
"""Headings that only say that what a thing is like stands below."""
_SENSORS = frozenset(("sensor", "sensors", "probe", "probes"))
_STRONG = frozenset(
    """
    transceiver transceivers xcvr sfp qsfp xfp osfp optic optics optical laser wavelength dbm vlan mtu duplex rx tx vcc eeprom cmis lol los fiber
    packets ifindex
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_OTHER_HEADING = re.compile(
    r"\b(?:transceivers?|optics?|sfp\w*|qsfp\w*|interfaces?|ports?\d*|ethernet\S*|gigabit\S*|lanes?"
    r"|slot|card|board|module|cpu|memory|disk|line ?card|process\w*)\b",
    re.IGNORECASE,
)
_LINKS = re.compile(
    r"transceiver|optic|sfp|interface|port|ethernet|gigabit|lane|process(?!or)|disk|memory", re.IGNORECASE
)
_CODE = re.compile(
    r"^#!|\$\(|^\s*(?:do|done|fi|then|else|esac)\s*$|;\s*do\s*$|\becho \""
    r"|^\s*(?:def |class |import |from \w+ import|return\b|if \(|for \(|while |#include|public |private |static |const |let |var "
    r"|func |package |elif |else:|try:|except |self\.|struct |void |int main|assert )"
    r"|^[^;]*[^;\s];\s*$|\{\s*$|^\s*\S*\w\((?!s\))[^()]*\)\s*:\s*$|=>|(?:\w\w|\))\s?->\s?(?:\w\w|\()|\bNone\b|\w\(\)|^\s*(?:-\s+)?(?:expr|alert|labels|annotations):|^\s*//|^\s*/\*"
)
_BEGINS_CODE = frozenset("#-/")
_MARKS_CODE = re.compile(r"[${;)>\"]|None")
_COMMAND = re.compile(r"(?:show|display|get|diagnose|list|print|cat|sensors|ipmitool|tell|system)\b", re.IGNORECASE)
_HEAT_SECTION = re.compile(r"(?:temp|temperature|thermal)s?[ ._:/-](?P<name>[A-Za-z][\w .-]{0,30})\Z", re.IGNORECASE)
_SENSOR_HEADING = re.compile(
    r"(?:sensor|probe|measuring point|temp(?:erature)?(?! (?:sensor|probe|status|state|reading)))[ :]+"
    r"(?:[\"'](?P<quoted>[^\"']{1,48})[\"']|(?P<name>[A-Za-z][^\"':=]{2,40}))\Z",
    re.IGNORECASE,
)
_HEAT_OF = re.compile(
    r"(?P<name>(?!system\b|chassis\b|board\b)[A-Za-z][\w ./-]{0,24}?) (?:temperatures?|temp)(?: (?:readings?|values?))?",
    re.IGNORECASE,
)
"""`CPU Temperature Readings`, with its figure below it."""
_BY_ZONE = re.compile(
    r"(?P<power>\d[\d.]* ?W) \((?:zone \w+, )?(?P<current>\d[\d.]* ?A) at (?P<voltage>\d[\d.]* ?V)(?:, \d[\d.]* ?% of capacity)?\)"
)
"""`784 W (zone 0, 14 A at 56 V, 38% of capacity)`."""
_FAN_AT_STEP = re.compile(
    r"(?P<what>fan[ #]?\d{1,2}) (?P<how>[a-z]{2,10}), (?:very )?(?:low|medium|high|normal|full|half|auto)[ -]speed(?: setting)?",
    re.IGNORECASE,
)
"""`Fan 1 OK, Low speed setting`."""
_NO_LIMIT = frozenset(("sensor", "div", "highest", "lowest", "average", "avg"))
"""What stands in brackets beside a figure, as limits do, and is none: what was seen, and the sort of the sensor."""
_AT_A_SPOT = re.compile(
    r"(?P<value>[+-]?\d+(?:\.\d+)? ?°?C) \((?:near|under|above|below|behind|beside|between|by|shadow of|(?:front|rear|left|right|top|bottom)"
    r"(?: (?:left|right))? (?:corner|edge|side)) ?[^():=]{0,40}\)"
)
"""`28 C (near fan 1 intake)`: where it is measured."""
_PLANNED = re.compile(r" \((?:\d+ feeds? expected, \d+ feeds? connected|(?:maximum|max) \d[\d.]* ?W)\)\Z")
_FAR = 3
"""Lines over which what is told of one thing goes on. Common practice, no source."""
_HOW_HOT = frozenset(("current", "actual", "present", "now", "temperature", "temp", "value", "reading"))
_SHORT_NAME = re.compile(
    r"(?P<name>(?:sensor|probe)[ #_-]?(?:[A-Z]|\d{1,3})) (?:temperatures?|temp)(?: (?:readings?|status|values?|information))?:?\Z",
    re.IGNORECASE,
)
_A_PART = re.compile(r"(?:fan|cooling|power) (?:unit|module|tray|assembly)", re.IGNORECASE)
_NUMBERED_SENSOR = re.compile(r"(?:sensor|probe)[ #_-]*\d{1,3}", re.IGNORECASE)
_OF_KIND = re.compile(r"[(\[]\s*(?P<kind>[A-Za-z][A-Za-z ]{1,24}?)\s*[)\]]\s*:?\s*(?P<rest>\S.*)\Z")
_IS_SO = re.compile(
    r"(?:(?:status|state|value|speed|reading|temperature|it) )?(?:is|at|=) (?=\S)|(?:value|reading) (?=[+-]?\d)",
    re.IGNORECASE,
)
_NUMBERED_HEAT = re.compile(
    r"(?:[A-Z]{1,4}[ _-]?\d{1,2}[ _-]?)?temp(?:erature)?[ _#-]?(?:sensor[ _#-]?)?\d{1,2}(?: \(|\Z)", re.IGNORECASE
)
_OUTPUT_NO = re.compile(r"output[ #_-]?\d{1,2}", re.IGNORECASE)
_ROTOR_OF_TRAY = re.compile(
    r"(?:(?P<place>left|right|front|rear|upper|lower|top|bottom|main)[ _-]+)?(?:fan[ _-]{0,2})?(?:tray|drawer)[ _#-]{0,2}"
    r"(?P<number>\d{1,2}|[A-D])?[ ,/:_-]*\(?[ ]?(?:fan|rotor|blower)[ _#-]{0,2}(?P<rotor>\d{1,2})\)?(?P<rest>(?: [A-Za-z ]{1,30})?)",
    re.IGNORECASE,
)
_BEFORE_FAN = re.compile(r"([A-Za-z]{2,12} )(?=fan )", re.IGNORECASE)
_HOW_MANY = re.compile(r"(?:fans?|psus?|power (?:suppl(?:y|ies)|modules?)) (?:number|count|quantity)\Z", re.IGNORECASE)
_BESIDE_OTHERS = re.compile(
    r"(left|right|back|upper|lower|top|bottom|main|redundant)[ _-]+(?:fan|psu|power)", re.IGNORECASE
)
_BEHIND = re.compile(r"\s*\([^()]*\)\Z")
_STATUS_BEHIND = re.compile(r"(?<=\d) (?:status|state)\Z", re.IGNORECASE)
_TRAY = re.compile(r"(?:fan )?(?:tray|module|drawer)[ #-]*(\d{1,2})\Z", re.IGNORECASE)
_CONTAINER = re.compile(r"(?:slot|shelf|rack|frame|cage|subrack|domain|cluster)[ #:-]*(\d{1,2})\Z", re.IGNORECASE)
_HOLDER = re.compile(r"tray|module|drawer|assembly|(?<![a-z])ft", re.IGNORECASE)
_TURNS = re.compile(r"\d[\d,]* ?rpm\Z", re.IGNORECASE)
_CHIP = re.compile(r"[\w.]+-(?:isa|pci|i2c|acpi|virtual|hid|spi|mdio|platform)-[\w-]+\Z")
_RAW = re.compile(r"(?P<kind>temp|fan|in|curr|power)\d+_(?P<what>\w+)\Z")
_RAW_LIMITS = {
    "max": Limit("high", 1.0), "min": Limit("low", 1.0), "crit": Limit("high", 4.0, True), "lcrit": Limit("low", 4.0, True),
    "emergency": Limit("high", 5.0), "cap": None, "high": Limit("high", 1.0), "low": Limit("low", 1.0),
}  # fmt: skip
_RAW_UNITS = {
    "temp": ("C", "temperature"),
    "fan": ("rpm", "speed"),
    "in": ("V", "voltage"),
    "curr": ("A", "current"),
    "power": ("W", "power"),
}
# No part takes what its neighbour can, so a value made for it cannot take long.
_BOUNDS = re.compile(
    r"(?P<value>(?:\s*[^()\s]+(?:\s+[^()\s]+)*)?)\s*\((?P<bounds>(?=[^()]*(?:[=:]| at ))[^()]*)\)"
    r"\s*(?P<word>[A-Za-z]+(?: [A-Za-z]+)*(?! ?[=A-Za-z]))?(?P<more>\(.*\))?(?:\s*sensor = [\w ]+)?\s*\Z"
)
_BOUND = re.compile(
    r"\s*(?P<name>[A-Za-z][A-Za-z _-]*?)\s*(?:[=:]|(?<= )at(?= ))\s*(?P<value>[^,=:]+?)\s*(?:,|;|\Z|(?=\s[A-Za-z_ -]+\s*[=:]))"
)
_BOUNDS_BY_WORDS = re.compile(
    r"(?P<value>[^()]*?)\s*\((?:limits?:? (?![^()]*/))?(?P<bounds>[^()]*\d[^()]*)\)\s*(?P<word>[A-Za-z][A-Za-z ]*)?(?P<more>\(.*\))?\s*\Z"
)
_RANGE = re.compile(
    r"\s*(?:range|limits?|allowed|operating range|normal)?:?\s*(?P<low>[+-]?\d+(?:\.\d+)?) ?(?:°?C)?\s*(?:\.\.+|to|–|-(?= ))\s*"
    r"(?P<high>[+-]?\d+(?:\.\d+)? ?(?:°?C)?)\s*"
)
_LIMITS_APART = re.compile(
    r"\s*(?:range|limits?|allowed|operating range):? (?P<low>[+-]?\d+(?:\.\d+)?) ?(?:°?C)? ?/ ?(?P<high>[+-]?\d+(?:\.\d+)? ?(?:°?C)?)\s*"
)
"""`limits -40 / 85`."""
_SQUARE = str.maketrans("[]", "()")
_WORD_BOUND = re.compile(
    r"\s*(?:(?P<name>[A-Za-z][A-Za-z _-]*?)\s*(?:[=:]|\bat\b)?\s*(?P<value>[+-]?\d+(?:\.\d+)?(?: ?(?:C|°C|degC)(?![A-Za-z]))?)"
    r"\s*(?:,|;|\Z|(?<=\s)(?=[A-Za-z]))"
    r"|(?P<value2>[+-]?\d+(?:\.\d+)?(?: ?(?:C|°C|degC))?)\s+(?P<name2>[A-Za-z][A-Za-z _-]*?)\s*(?:,|;|\Z))"
)
_IS = re.compile(r"(?P<what>.{3,40}?) (?:is|has) (?P<how>.{2,80})\Z")
_OF_ALL = {"fan": FAN, "power": PSU}
"""`FAN is OK`, `POWER is OK`: one word on the only one there is, or on all of them."""
_SAID_OF = re.compile(
    r"(?P<what>[A-Za-z][A-Za-z /_-]{1,30}[ #_-]{0,2}\d{1,2}[A-Za-z]?) (?P<how>OK|Ok|ok|okay|good|failed|faulty|normal|absent|missing|not present"
    r"|FAILED|GOOD|NORMAL|ABSENT|NOT PRESENT|FAULTY|FAULT|fault|empty|Failed|Good|Normal|Absent|Missing|Not present)\Z"
)
_HEX_TAIL = re.compile(r"\s*\((?:0x[0-9a-fA-F]+|ID \d+|id \d+|#\d+)\)\s*\Z")


@lru_cache(maxsize=8192)
def _of_code(line: str) -> bool:
    if len(line) > 400:
        return False
    # What may stand anywhere in a line has one of these marks; all else stands at its beginning.
    if _MARKS_CODE.search(line) is not None:
        return _CODE.search(line) is not None
    first = line.lstrip()[:1]
    return (first.islower() or first in _BEGINS_CODE) and _CODE.match(line) is not None


def looks_like_code(lines: list[str]) -> bool:
    """Whether a stretch of text is a program or its settings and no device's output."""
    hits = sum(map(_of_code, lines))
    return (hits >= 2 and hits * 8 >= len(lines)) or (hits >= 1 and len(lines) <= 6 and hits * 3 >= len(lines))


_OF_THE_WHOLE = frozenset(
    ("system", "sys", "host", "hostname", "product", "company", "user", "domain", "image", "file", "software", "contact", "os", "cluster")
)  # fmt: skip
"""Words of names that belong to the device and to none of its parts."""
_WHOLE_HEAT = frozenset(("temperature", "temp", "value", "current", "system", "chassis", "internal", "board", "unit"))
_OF_A_SENSOR = frozenset(
    ("temperature", "temp", "status", "state", "sensor", "health", "condition", "probe", "reading")
)
_NOT_AIR = frozenset(
    ("drive", "drives", "link", "links", "ssd", "hdd", "battery", "optic", "lamp", "door", "disk", "disks")
)
_OF_HEAT = frozenset(
    ("temp", "temperature", "thermal", "sensor", "probe", "ambient", "inlet", "outlet", "intake", "exhaust", "cpu")
)
_PLACE_BEHIND = re.compile(
    r"\s*\((?:ambient|inlet|outlet|intake|exhaust|front|rear|midplane|board|cpu)\)\s*\Z", re.IGNORECASE
)
_QUOTED_FIGURE = re.compile(r"\['(\d+(?:\.\d+)?)'\]")
_WATTS_OF = re.compile(
    r"(?P<power>\d+(?:\.\d+)? W) \(voltages = (?P<voltage>\d+(?:\.\d+)? V), currents = (?P<current>\d+(?:\.\d+)? A)\)"
)
_TRAY_HEADING = re.compile(r"fan ?tray(?: info(?:rmation)?)?:?", re.IGNORECASE)
_WORD_AND_VALUE = re.compile(r"[A-Za-z]+ temperature value", re.IGNORECASE)
_OWN_PLACE = re.compile(r"[A-Za-z]+ (?P<n>\d{1,3}) ")
_ELECTRIC = re.compile(r"[+-]?\d+(?:\.\d+)? ?(?:V|A|W|mV|mA|kW)")
_PLACED_NAME = re.compile(r"\d{1,2}/\d{1,2}-[A-Za-z][\w-]+")
"""`1/1-Inlet-Air`: a sensor's name behind its member and slot."""
_COUNT_FIRST = re.compile(
    r"\d{1,2} ?(?:of|out of|x|/|fans?|supplies|psus?|present|installed|units|operating|ok)\b", re.IGNORECASE
)
_FIGURE_FIRST = re.compile(
    r"[+-]?\d+(?:\.\d+)? ?(?:°?C|[Cc]elsius|deg(?:rees|\.)?[ -]?C|rpm|RPM|V|A|W|Volts|Amps|Watts|%)(?![A-Za-z\d])"
)
_CELSIUS = re.compile(r"[+-]?\d+(?:\.\d+)?\s?(?:°?C|[Cc]elsius|[Dd]eg(?:rees?|\.)?[ -]?(?:C|[Cc]elsius))\Z")
_SLOTTED = re.compile(r"(\w{1,3})=(\S+)")
_KEY_BEHIND = re.compile(r"(?P<key>[A-Za-z][A-Za-z -]{1,24}?)\s{2,}(?P<value>\S+(?: \S+)*)\Z")
_PLACES = frozenset(("front", "rear", "inlet", "outlet", "intake", "exhaust", "inner", "outer"))
_SIDES_ALONE = frozenset(("a", "v", "w", "c", "f", "left", "right", "main", "internal"))
_NAMED_FIRST = re.compile(r"(?P<what>[A-Za-z][A-Za-z ]{2,24}(?: \([A-Za-z]{2}\))?)(?:, |: | - )(?P<rest>\S.*)\Z")


_COUNT_OF = re.compile(r"num(?:ber)?[ _-]?(?:of[ _-])?[A-Za-z]|(?:sensors|probes|fans|supplies|psus)\Z", re.IGNORECASE)
_RAIL_WELL = re.compile(r"[+-]?\d{1,2}(?:\.\d)? ?V (?P<how>[A-Za-z ]{2,12})")
_IN_PLACE = re.compile(
    r"(?:[A-Za-z]+ )?(?:slot|bay|position)(?: [A-Za-z\d]{1,2})? \((?P<thing>[A-Za-z][\w ]{1,20})\)\Z", re.IGNORECASE
)
"""`Left Slot (PS0)`: a place, and what stands in it."""
_TOLD_BEHIND = re.compile(
    r"(?P<value>[+-]?\d[\d.]* ?(?:°?C|rpm)) - (?P<how>[A-Za-z][A-Za-z ]*?)(?: \((?P<what>[A-Za-z][\w ]*)\))?",
    re.IGNORECASE,
)
"""`26.0 C - OK (Chassis Front Temperature)`: a figure, a word, and what they are of, where that is told."""
_THING_WORD = re.compile(r"(?P<what>[A-Za-z][A-Za-z -]{0,20}[ -]?[A-Za-z\d]{1,2}) (?P<how>[A-Za-z][A-Za-z ]*)")
_OF_A_HOST = frozenset(("uptime", "contact"))
_HAS_A_STATE = frozenset(("drive", "disk", "blade", "node"))
_HEAT_WORDS = frozenset(("temp", "temperature", "thermal"))
_SETTINGS = ("set ", "unset ", "ignore ", "compute ", "label ", "option ")
_IS_PATH = re.compile(r"/[A-Za-z]+(?:/\w+)+")
_STATED = re.compile(r"(?P<value>[+-]?\d[\d.]* ?°?[A-Za-z]+) \((?:status|state):? (?P<how>[A-Za-z ]+)\)")
_SAID_TWICE = frozenset(("fan tray", "fan module", "fan unit", "power supply", "power module", "power supply unit"))
_SERIAL_SAID = re.compile(r"(?:\A|\()(?:serial|part)# \w+\)?\Z", re.IGNORECASE)
_NAMED_HEAT = re.compile(
    r"(?P<name>[A-Za-z][\w .-]{0,30}?) (?P<value>[+-]?\d[\d.]* ?°?C)(?: \((?P<beside>[A-Za-z][^()]*)\))?"
)
"""`Local Temp 33 C (board inlet)`."""
_FAN_SAID = re.compile(r"(?P<key>Fan) (?P<how>[A-Za-z][A-Za-z ]*)", re.IGNORECASE)
_WITH_BRACKETS = re.compile(r"(?P<what>[A-Za-z][A-Za-z #-]{1,24}\d{1,2}) \([^()]{0,30}\),? (?P<how>[a-z]\w*, .*)\Z")
"""`Power supply 1 (NA - AC) present, status ok`."""
_STATUS_IN_KEY = re.compile(r"(?P<what>.*?\d{1,2}) (?P<how>[a-z]{2,8}), (?P<key>[a-z][\w ()]*)\Z", re.IGNORECASE)
_EACH_NAMED = re.compile(
    r"(?P<value>[+-]?\d+(?:\.\d+)? ?[A-Za-z°][A-Za-z°-]{0,6}) \((?P<name>[A-Za-z][\w ]{0,20})\)(?:, |\Z)"
)
_TOLD_AT = re.compile(
    r"(?P<key>[A-Za-z][\w ./-]{1,38}?) +(?P<value>(?:measured at|measures|reads|is at) [+-]?\d.*)\Z", re.IGNORECASE
)
_READ_AT = re.compile(r"(?:measured at|measures|reads|is at) (?P<value>[+-]?\d.*)\Z", re.IGNORECASE)


_AND = re.compile(r" and | but ", re.IGNORECASE)
_AND_TURNS = re.compile(
    r"(?P<how>[a-z][a-z ]{1,20}?)(?: and|,) (?:turns|turning|spins|spinning|runs|running) at (?P<speed>\d[\d,.]* ?rpm)",
    re.IGNORECASE,
)
"""`operational and turns at 4480 rpm`."""
_RANGE_IS = re.compile(
    r"(?:the )?(?:permitted|allowed|operating|normal|safe) range is (?P<bounds>[+-]?\d.*)\Z", re.IGNORECASE
)
_SPAN_OF = re.compile(
    r"(?P<low>[+-]?\d+(?:\.\d+)?)(?: ?(?:°?C|degrees C))? to (?P<high>[+-]?\d+(?:\.\d+)?) ?(?:°?C|deg(?:rees)? C(?:elsius)?)",
    re.IGNORECASE,
)
_OF_A_PART = frozenset(("serial", "part", "model", "description", "ignored", "name"))
_AT_FIGURE = re.compile(r"(?P<how>[A-Za-z ]{2,20}?) at (?P<value>\d[\d,.]* ?rpm)\Z", re.IGNORECASE)


def raw_label(key: str) -> Label | None:
    """What a sub-feature such as `temp1_crit` is (the kernel's hwmon naming), or None where the key is none."""
    raw = _RAW.match(key)
    if raw is None:
        return None
    unit, dimension = _RAW_UNITS[raw["kind"]]
    what = raw["what"]
    words = frozenset({what})
    if what == "input" or (what == "average" and raw["kind"] == "power"):
        field = {"temp": "value", "fan": "speed"}.get(raw["kind"], "quantity")
        return Label(field, unit=unit, dimension=dimension, words=words)
    if (limit := _RAW_LIMITS.get(what)) is not None:
        return Label("limit", unit=unit, dimension=dimension, limit=limit, words=words)
    return Label("ignored", words=frozenset({"led"}))


class _Record:
    def __init__(
        self, kind: str | None, slot: str | None, name: str | None, inside: str | None = None, point: bool = False
    ) -> None:
        self.kind, self.slot, self.name, self.inside, self.point = kind, slot, name, inside, point
        self.entries: list[Entry] = []
        self.lines: list[int] = []
        self.places: list[tuple[str, int, int, int]] = []
        self.sensor = False
        """Whether it is an entry of a list of sensors of all kinds."""
        self.sure = True
        """Whether it was begun by a heading of no known meaning."""
        self.heads: list[tuple[str, str]] = []
        self.member = ""
        """The member that it stands below, as printed."""

    def tell(self, phrases: Iterable[tuple[Label, str]], item: Item) -> None:
        """Adds each phrase of an item's value as a value of its own."""
        for label, said in phrases:
            self.add(label, item._replace(value=said))

    def leave_unclear(self, item: Item) -> None:
        """Takes a thing as named by an item whose value is not understood, so that it stays unread."""
        self.sure = False
        self.lines.append(item.line)
        self.entries.append(Entry(Label("unknown"), item.value or "", item.key))

    def add(self, label: Label, item: Item) -> None:
        self.entries.append(Entry(label, item.value or "", item.key))
        self.lines.append(item.line)
        self.lines.extend(item.more)
        self.places.append((label.field, item.line, item.start, item.end))
        self.heads.append((item.key, label.field))


class _Scope(NamedTuple):
    depth: int
    flat: bool
    kind: str | None
    record: _Record | None
    foreign: bool = False
    member: str | None = None
    chip: str | None = None
    word: str = ""


_STATUSES = "statuses"
_JUDGED = re.compile(
    r"(?P<value>[+-]?\d[\d.]* ?[A-Za-z%]{1,7}|[Nn]/?[Aa])\s*\|\s*\((?P<word>[A-Za-z]{2,12})\)"
    r"(?P<limits>(?: \| [UL](?:CR|NC|NR): (?:NA|[+-]?\d+(?:\.\d+)?))*)"
)
_SHORT_BOUND = re.compile(r"(?P<name>[UL](?:CR|NC|NR)): (?P<value>[^ |]+)")
_NUMBERED_IN_HEX = re.compile(r"\(0x[0-9A-Fa-f]{1,4}\)\s*\Z")
_ONE_LIMIT = re.compile(
    r"(?P<value>[+-]?\d[\d.]* ?°?C)\s+"
    r"\((?P<name>limit|alarm|threshold|shut ?down|warning|critical|max(?:imum)?):?(?: is| at)? (?P<limit>[+-]?\d[\d.]* ?°?C)\)"
    r"(?:\s+(?P<word>[A-Za-z]+(?: [A-Za-z]+)*))?\s*"
)
"""`39 C  (limit 65 C)  OK`, and `39 C (shutdown is 80 C)`."""
_AIRS = frozenset(("the", "intake", "exhaust", "inlet", "outlet", "ambient", "supply", "return", "air"))
"""Whose degrees a sentence tells: `Intake air is 24 degrees C`."""
_BARE_KINDS = {"fan": FAN, "temp": TEMP}
_OF_A_COMPUTER = frozenset(
    ("load", "memory", "uptime", "utilization", "utilisation", "usage", "disk", "flash", "version")
)
_SHORT_SUPPLY = re.compile(r"supply [A-Za-z\d]{1,2}\Z", re.IGNORECASE)
"""The word of a scope below a heading such as `Diagnostic Status:`."""


_PATH = re.compile(r"(?P<above>[A-Za-z]\w*(?:\.\w+)*)\.(?P<key>[A-Za-z]\w*)\Z")


def _by_path(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Keys such as `Power1.state` as what stands below a heading `Power1`, where all keys of a list are paths."""
    paths = [_PATH.match(i.key) if i.value and "." in i.key else None for i in items]
    said = [p for p in paths if p is not None]
    if len(said) < 4 or len(said) * 5 < len([i for i in items if i.value]) * 4:
        return items
    found: list[Item] = []
    above = ""
    for item, path in zip(items, paths, strict=True):
        if path is None:
            found.append(item)
            above = ""
            continue
        if path["above"] != above:
            above = path["above"]
            found.append(
                Item(item.depth, above.replace(".", " "), None, item.line, item.depth, item.depth, item.gap, "")
            )
        found.append(item._replace(depth=item.depth + 2, key=path["key"], gap=False))
    return tuple(found)


class _List:
    def __init__(self, block: Pairs, titles: list[str]) -> None:
        self.items = _by_path(block.items)
        self.titles = titles
        self.scopes: list[_Scope] = []
        self.records: list[_Record] = []
        self.keyed: dict[tuple[str, str | None, str | None, str | None], _Record] = {}
        self.current: _Record | None = None
        self.used: set[int] = set()
        self.unread: dict[int, str] = {}
        self.counts: dict[str, int] = {}
        self.goes_on = 0
        self.heated: tuple[_Record, str] | None = None
        """The temperature that was told last, and the word that begins what else is told of it."""
        self.told_ahead: set[int] = set()
        """Items that were read with the heading above them."""
        self.parts_listed: bool | None = None
        self.fan_figures: dict[str, list[float]] = {}
        self.only_turns: dict[str, bool] = {}
        self.part_fields: set[frozenset[str]] | None = None
        self.before: dict[str, set[str]] | None = None
        """Slot of a fan -> the words before it, over all keys."""

    # Where an item stands

    def scope(self) -> _Scope | None:
        return self.scopes[-1] if self.scopes else None

    def member(self) -> str | None:
        return next((s.member for s in reversed(self.scopes) if s.member), None)

    def kind(self) -> str | None:
        for scope in reversed(self.scopes):
            if scope.kind:
                return scope.kind
        for title in reversed(self.titles[-2:]):
            if (thing := thing_of(title)) is not None:
                return thing.kind
            if set(words_of(title)) & {"temperature", "temperatures", "thermal"}:
                return TEMP
        return None

    def lists_parts(self) -> bool:
        """Whether numbered supplies or fans are among the keys, before or behind."""
        if self.parts_listed is None:
            things = ((thing_of(i.key), i.value) for i in self.items if i.value)
            self.parts_listed = any(t is not None and (t.slot is not None or "1=" in v) for t, v in things)
        return self.parts_listed

    def foreign(self) -> bool:
        for scope in reversed(self.scopes):
            if scope.record is not None or scope.kind:
                return False
            if scope.foreign:
                return True
        return False

    def start(self, record: _Record) -> _Record:
        record.member = next((s.word for s in reversed(self.scopes) if s.member), "")
        self.records.append(record)
        self.current = record
        return record

    def leave(self, item: Item) -> None:
        while self.scopes:
            top = self.scopes[-1]
            if item.depth > top.depth or (item.depth == top.depth and top.flat):
                break
            self.scopes.pop()
            self.current = next((s.record for s in reversed(self.scopes) if s.record is not None), None)

    def next_depth(self, at: int) -> int:
        return self.items[at + 1].depth if at + 1 < len(self.items) else -1

    def read(self) -> ReadList:
        strong = set().union(*(set(words_of(i.key)) & _STRONG for i in self.items))
        if len(strong) >= 2 or any(
            re.search(r"\b(?:transceiver|optic|sfp|dom)\b", t, re.IGNORECASE) for t in self.titles[-2:]
        ):
            return ReadList((), frozenset(), {i.line: "a list about optics or ports" for i in self.items})
        if looks_like_code([f"{i.key}{i.separator} {i.value or ''}" for i in self.items]):
            return ReadList((), frozenset(), {i.line: "looks like a program or its settings" for i in self.items})
        for at, item in enumerate(self.items):
            if at in self.told_ahead:
                continue
            if not item.value and item.value is not None and item.separator in ("=", " "):
                continue
            if item.value is None or (
                item.value == ""
                and (
                    self.next_depth(at) > item.depth
                    or thing_of(item.key) is not None
                    or member_of(item.key)
                    or self._numbers_what_follows(at, item.key)
                    or _heads_inputs(item.key)
                )
            ):
                self.heading(at, item)
            else:
                self.leave(item)
                self.pair(at, item)
        if self.goes_on:
            for scope in self.scopes:
                if scope.record is not None and scope.depth < self.goes_on:
                    self.refused[id(scope.record)] = "what stands below it is not understood"
        return self.finished()

    def heading(self, at: int, item: Item) -> None:
        text = item.key.strip("* ")
        text = text.strip("[] ") if text[:1] == "[" or "[" not in text else text  # `Temperature [C]`
        if text[:1] == "/" and " " not in text:
            text = text.rsplit("/", 1)[1]
        if text[:1] in ("{", "<"):
            return  # `{ <cr>|unit<K> }:`, which the device offers to be typed
        if self.scopes and item.depth > self.scopes[-1].depth and text.lower() in _TRANSPARENT:
            self.used.add(item.line)
            return
        if not self.scopes and text.lower() in _TRANSPARENT and self.titles and _IS_PATH.fullmatch(self.titles[-1]):
            # `/SYS/FM0/F0` above, and `Properties:` alone over what it is like
            path = self.titles[-1].split("/")[2:]
            text = path[-1] if thing_of(path[-1]) is not None else "/".join(path)
        flat = self.next_depth(at) <= item.depth
        while self.scopes and item.depth <= self.scopes[-1].depth:
            if self.scopes[-1].chip and item.depth == self.scopes[-1].depth and not _CHIP.match(item.key):
                break
            if item.depth == self.scopes[-1].depth and self._of_tray_above(text):
                break
            self.scopes.pop()
        if self._sentence(item):
            return
        chip = next((s.chip for s in reversed(self.scopes) if s.chip), None)
        self.current = None
        if flat and self._numbers_what_follows(at, text):
            self.keyed.clear()
            return
        if (member := member_of(text) or self._holds_things(at, text)) is not None:
            self.scopes.append(_Scope(item.depth, flat, None, None, member=member, word=text.split(" (")[0]))
            if item.separator != "+":  # with words beside it that are not read
                self.used.add(item.line)
            return
        if _CHIP.match(text) or (at + 1 < len(self.items) and self.items[at + 1].key == "Adapter"):
            while self.scopes and self.scopes[-1].chip:
                self.scopes.pop()
            self.scopes.append(_Scope(item.depth, True, None, None, chip=text))
            self.used.add(item.line)
            return
        if (titled := _SENSOR_HEADING.match(item.key.strip("[] "))) is not None and self.next_depth(at) > item.depth:
            named = titled["quoted"] or titled["name"]
            if (short := _SHORT_NAME.match(item.key.strip("[] "))) is not None:
                named = short["name"]  # `Sensor A Temperature Readings`
            record = _Record(None, None, named.strip())
            record.sensor = True
            record.lines.append(item.line)
            self.start(record)
            self.scopes.append(_Scope(item.depth, flat, None, record, chip=chip))
            return
        if (of := _HEAT_OF.fullmatch(text.rstrip(": "))) is not None and self._says_how_hot(at):
            record = _Record(TEMP, None, of["name"])
            record.lines.append(item.line)
            self.start(record)
            self.scopes.append(_Scope(item.depth, False, TEMP, record, word=text))
            return
        section = _HEAT_SECTION.match(text) if item.key.startswith("[") and item.separator == "" else None
        if section is not None and not set(words_of(text)) & FOREIGN:
            record = _Record(TEMP, None, section["name"])
            record.lines.append(item.line)
            self.start(record)
            self.scopes.append(_Scope(item.depth, flat, TEMP, record, word=text))
            return
        thing = thing_of(text)
        words = set(words_of(text))
        scope = self.scope()
        above = scope.record if scope is not None else None
        if (
            above is not None
            and above.kind is not None
            and not flat
            and thing is None
            and label_of(text).field == "status"
        ):
            # `Diagnostic Status:` with a word for each part of the thing below it.
            above.lines.append(item.line)
            self.scopes.append(_Scope(item.depth, False, None, above, word=_STATUSES))
            self.current = above
            return
        if (
            thing is not None
            and item.value is None
            and not (at + 1 < len(self.items) and self.items[at + 1].line == item.line)
            and (
                any(ch.isdigit() for ch in thing.rest)
                or (
                    thing.slot is not None
                    and label_of(text).field in ("quantity", "value", "speed", "status", "ignored")
                )
            )
        ):
            self.current = None  # a line of words and figures, and no heading
            return
        if thing is not None and len(text) <= 48:
            if thing.slot is None and not thing.inside and self._one_part(at, text, thing):
                record = self.start(_Record(thing.kind, None, text))
                record.lines.append(item.line)
                self.scopes.append(_Scope(item.depth, False, thing.kind, record, word=text))
                return
            if thing.slot is None and not thing.inside:
                if thing.kind == FAN and not flat and self._tray_alone(at, text):
                    record = self.start(_Record(FAN, None, text.split()[0]))
                    record.lines.append(item.line)
                    record.add(label_of(self.items[at + 1].key), self.items[at + 1])
                    self.told_ahead.add(at + 1)
                    self.current = None
                below = thing_of(self.items[at + 1].key) if not flat else None
                numbered = below is not None and below.kind == FAN and below.slot is not None
                within = above if thing.kind == FAN and numbered and above is not None and above.kind == PSU else None
                self.scopes.append(_Scope(item.depth, flat, thing.kind, within, word="" if within else text))
                if plain_title(text):
                    self.used.add(item.line)
                return
            member = self.member()
            holder = next((s.record for s in reversed(self.scopes) if s.record is not None), None)
            if thing.kind == FAN and thing.inside:
                record = _Record(FAN, None, text, thing.inside, True)
            elif (
                holder is not None
                and holder.kind == thing.kind == FAN
                and _HOLDER.search(holder.name or "") is not None
                and not _HOLDER.search(text)
            ):
                record = _Record(FAN, holder.slot, text, holder.inside, True)
            else:
                slot = placed_in(member, thing.slot)
                rest = thing.rest.strip(" -_:()#")
                record = _Record(
                    thing.kind,
                    slot,
                    text,
                    None,
                    any(c.isalpha() for c in rest)
                    and not rest.lower().startswith(("sys", "id "))
                    and self._point(rest),
                )
            record.lines.append(item.line)
            self.start(record)
            self.scopes.append(_Scope(item.depth, flat, thing.kind, record, word=text))
            return
        kind = self.kind()
        bare = _BEHIND.sub("", text)
        tray = _TRAY.match(bare) if kind == FAN else None
        if kind in (PSU, FAN) and (slot := tray[1] if tray else slot_alone(bare)) is not None:
            record = _Record(kind, slot, text)
            record.lines.append(item.line)
            self.start(record)
            self.scopes.append(_Scope(item.depth, flat, kind, record))
            return
        if words and words <= _SENSORS:
            self.scopes.append(_Scope(item.depth, flat, None, None, word="sensor"))
            self.used.add(item.line)
            return
        if _heads_inputs(text):
            self.scopes.append(_Scope(item.depth, flat, PSU, None, word=text))
            self.used.add(item.line)
            return
        if words in ({"power"}, {"cooling"}):
            self.scopes.append(_Scope(item.depth, flat, PSU if "power" in words else FAN, None, word=text))
            self.used.add(item.line)
            return
        if (
            (words & {"temperature", "temperatures", "thermal"} or words in ({"heat"}, {"temp"}, {"temps"}))
            and len(words) <= 4
            and not any(ch.isdigit() for ch in text)
        ):
            self.scopes.append(_Scope(item.depth, flat, TEMP, None, word=text))
            if plain_title(text):
                self.used.add(item.line)
            return
        if (
            _OTHER_HEADING.search(text)
            and not words & {"temp", "temperature"}
            and kind != TEMP
            and not named_for_heat(text)
        ):
            part = "" if _LINKS.search(text) else text
            self.scopes.append(_Scope(item.depth, flat, None, None, foreign=True, word=part))
            return
        inner = next((s.record for s in reversed(self.scopes) if s.record is not None and s.depth < item.depth), None)
        if inner is not None and inner.kind in (PSU, FAN) and self.next_depth(at) > item.depth:
            self.scopes.append(_Scope(item.depth, flat, inner.kind, inner))  # a part of what is told of it
            self.current = inner
            inner.lines.append(item.line)
            return
        if (len(text) <= 40 and item.value is not None and self.next_depth(at) > item.depth) or (
            len(text) <= 40 and item.separator == "" and self.next_depth(at) > item.depth
        ):
            name = f"{chip} {text}" if chip and self._named_again(text) else text
            record = _Record(kind, None, name)
            record.sensor = kind is None or kind == TEMP
            record.lines.append(item.line)
            self.start(record)
            self.scopes.append(_Scope(item.depth, flat, None, record, chip=chip))
            return
        if not _COMMAND.match(text) and not flat:
            self.scopes.append(_Scope(item.depth, flat, None, None, foreign=True))

    def _of_tray_above(self, text: str) -> bool:
        """Whether `Fan 1` stands no further right than `Slot 1 Fan-tray 1:` and what is told of that tray."""
        tray = self.scopes[-1].record
        fan = thing_of(text)
        return (
            self.scopes[-1].flat
            and tray is not None
            and tray.kind == FAN
            and _HOLDER.search(tray.name or "") is not None
            and fan is not None
            and fan.kind == FAN
            and fan.slot is not None
            and _HOLDER.search(text) is None
        )

    def _tray_alone(self, at: int, text: str) -> bool:
        """Whether `FanTray information:` has its own state on the line below, the only one of its kind, and its fans further down."""
        below = self.items[at + 1]
        others = [i for n, i in enumerate(self.items) if n != at and _TRAY_HEADING.fullmatch(i.key) is not None]
        return (
            _TRAY_HEADING.fullmatch(text) is not None
            and not others
            and label_of(below.key).field == "status"
            and condition_of(below.value or "") is not None
            and below.depth > self.items[at].depth
        )

    def _one_part(self, at: int, text: str, thing: Thing) -> bool:
        """Whether a heading such as `Fan unit` is the only one of its kind, with its status and its serial below it."""
        if _A_PART.fullmatch(text) is None or self.next_depth(at) <= self.items[at].depth:
            return False
        fields = set()
        for item in islice(self.items, at + 1, at + 13):
            if item.depth <= self.items[at].depth:
                break
            label = label_of(item.key)
            if not item.value or label.thing is not None or label.field not in (*TOLD, "ignored", "presence", "type"):
                return False
            fields.add(label.field)
        others = (thing_of(i.key) for n, i in enumerate(self.items) if n != at)
        return {"status", "serial"} <= fields and all(o is None or o.kind != thing.kind for o in others)

    def _apart(self, key: str, thing: Thing) -> str | None:
        """The words before a fan by which it is told from another one of its number: `CPU` of `CPU Fan 1` beside `System Fan 1`."""
        if thing.kind != FAN or thing.slot is None:
            return None
        if self.before is None:
            self.before = {}
            for item in self.items:
                other = thing_of(item.key)
                if other is not None and other.kind == FAN and other.slot is not None and other.inside is None:
                    said = _BEFORE_FAN.match(item.key)
                    self.before.setdefault(other.slot, set()).add(said[1].strip().lower() if said is not None else "")
        said = _BEFORE_FAN.match(key)
        return said[1].strip() if said is not None and len(self.before.get(thing.slot, ())) > 1 else None

    def _says_how_hot(self, at: int) -> bool:
        """Whether what stands deeper below a heading begins with a temperature that has no name of its own."""
        if self.next_depth(at) <= self.items[at].depth:
            return False
        below = self.items[at + 1]
        return set(words_of(below.key)) <= _HOW_HOT and _one_temperature(below.value or "")

    def _holds_things(self, at: int, text: str) -> str | None:
        """The number of a slot or shelf below which supplies or fans with numbers of their own stand."""
        found = _CONTAINER.match(text)
        if found is None or self.next_depth(at) <= self.items[at].depth:
            return None
        below = thing_of(self.items[at + 1].key)
        if below is None or below.slot is None:
            return None
        again = sum(_CONTAINER.match(i.key) is not None and i.depth == self.items[at].depth for i in self.items)
        return found[1] if again > 1 else None

    def _numbers_what_follows(self, at: int, text: str) -> bool:
        """Whether a heading such as `Slot 1:` stands above things no further right than itself, and not alone."""
        here = container_of(text)
        if here is None or at + 1 >= len(self.items) or thing_of(self.items[at + 1].key) is None:
            return False
        others = (container_of(i.key) for i in self.items if not i.value)
        return any(o is not None and o.sort == here.sort and o.number != here.number for o in others)

    def _point(self, rest: str) -> bool:
        label = label_of(rest)
        return label.field in ("quantity", "value", "speed", "percent") or rest.lower() in (
            "front",
            "rear",
            "inlet",
            "outlet",
            "left",
            "right",
        )

    def _sentence(self, item: Item) -> bool:
        """`Switch 1 FAN 2 is OK`: a thing with its slot, and a word beyond doubt."""
        if item.value is not None:
            return False
        said = item.key.rstrip(".")
        if self.kind() == TEMP and (told := _TOLD_AT.match(said)) is not None:
            return self._plain_sensor(
                item._replace(key=told["key"], value=told["value"], start=item.start + told.start("value"))
            )
        if ". " in said and (sentences := self._of_unit(item, said)):
            return sentences
        if (
            (step := _FAN_AT_STEP.fullmatch(said)) is not None
            and (fan := thing_of(step["what"])) is not None
            and condition_of(step["how"]) is not None
        ):
            record = self._keyed(FAN, placed_in(self.member(), fan.slot), step["what"], fan.inside)
            record.add(STATUS, item._replace(value=step["how"], key=step["what"]))
            self.current = None
            return True
        found = _IS.match(said) or _SAID_OF.match(said) or _WITH_BRACKETS.match(said)
        if found is None:
            return False
        thing = thing_of(found["what"])
        if (
            thing is not None
            and (thing.kind, thing.rest.strip()) == (FAN, "")
            and thing.slot is not None
            and (turns := _AND_TURNS.fullmatch(found["how"])) is not None
            and condition_of(turns["how"]) is not None
        ):
            record = self._keyed(FAN, thing.slot, found["what"], thing.inside)
            record.add(STATUS, item._replace(value=turns["how"], key=found["what"]))
            record.add(Label("speed", dimension="speed"), item._replace(value=turns["speed"], key=found["what"]))
            self.current = None
            return True
        both = _AND.split(found["how"])
        if len(both) == 2 and thing is not None and thing.slot is not None and not thing.rest.strip():
            if not all(condition_of(p) is not None or plain(p) in PRESENT for p in both):
                return False
            record = self._keyed(thing.kind, thing.slot, found["what"], thing.inside)
            record.add(STATUS, item._replace(value=", ".join(both), key=found["what"]))
            self.current = None
            return True
        if "," in found["how"] and thing is not None and thing.slot is not None and not thing.rest.strip():
            phrases = phrases_of(found["how"])
            if phrases is None or not any(label.field == "status" for label, _ in phrases):
                return False
            record = self._keyed(thing.kind, thing.slot, found["what"], thing.inside)
            record.tell(phrases, item._replace(key=found["what"]))
            self.current = None
            return True
        if thing is not None and thing.kind == FAN and thing.inside and condition_of(found["how"]) is not None:
            record = self.start(_Record(FAN, None, found["what"], thing.inside, True))
            record.add(STATUS, item._replace(value=found["how"], key=found["what"]))
            self.current = None
            return True
        if thing is None and ("temperature" in found["what"].lower() or set(words_of(found["what"])) <= _AIRS):
            return self._told_temperature(item, found["what"], found["how"])
        if (
            thing is not None
            and thing.slot is not None
            and not thing.rest.strip()
            and condition_of(found["how"]) is None
            and any(ch.isdigit() for ch in found["how"])
            and (phrases := phrases_of(found["how"])) is not None
        ):
            record = self.start(_Record(thing.kind, placed_in(self.member(), thing.slot), found["what"], thing.inside))
            record.tell(phrases, item._replace(key=found["what"]))
            self.current = None
            return True
        alone = _OF_ALL.get(found["what"].lower())
        if alone is not None and condition_of(found["how"]) is not None:
            record = self.start(_Record(alone, None, found["what"]))
            record.add(STATUS, item._replace(value=found["how"], key=found["what"]))
            self.current = None
            return True
        if thing is None or thing.slot is None or condition_of(found["how"]) is None:
            return False
        rest = thing.rest.strip()
        member = self.member()
        if rest:
            member = member_of(rest)
            if member is None:
                return False
        slot = placed_in(member, thing.slot)
        record = self.start(_Record(thing.kind, slot, found["what"], thing.inside))
        record.add(STATUS, item._replace(value=found["how"], key=found["what"]))
        return True

    def _told_temperature(self, item: Item, what: str, how: str) -> bool:
        """`CPU temperature is 51 C, warning at 80 C, critical at 90 C`."""
        what = re.sub(r"\A[Tt]he ", "", what)
        first, *rest = re.split(r",\s+", re.sub(r"\s*\(([^()]*)\)", r", \1", how))
        if condition_of(how) is not None and set(words_of(what)) <= {
            "temperature",
            "system",
            "chassis",
            "board",
            "inlet",
            "outlet",
        }:
            record = self.start(_Record(TEMP, None, what))
            record.add(STATUS, item._replace(value=how, key=what))
            self.current = None
            return True
        if _CELSIUS.match(first) is None:
            return False
        bounds: list[tuple[Label, str]] = []
        told = [phrase for phrase in rest if condition_of(phrase) is not None]
        if len(told) > 1:
            return False
        for phrase in rest:
            if phrase in told:
                continue
            if (ranged := _RANGE_IS.match(phrase)) is not None and (
                span := _SPAN_OF.fullmatch(ranged["bounds"])
            ) is not None:
                bounds.extend((Label("limit", limit=Limit(side, 1.0)), f"{span[side]} C") for side in ("low", "high"))
                continue
            found = re.match(r"(?P<name>[A-Za-z ]{3,20}?) (?:at|above|below) (?P<value>[+-]?\d.*)\Z", phrase)
            if found is None or label_of(found["name"]).limit is None:
                return False
            bounds.append((label_of(found["name"])._replace(field="limit"), found["value"]))
        record = self.start(_Record(TEMP, None, what))
        record.add(Label("value", dimension="temperature"), item._replace(value=first, key=what))
        for label, value in bounds:
            record.add(label, item._replace(value=value, key=what))
        for word in told:
            record.add(STATUS, item._replace(value=word, key=what))
        self.current = None
        return True

    def _by_slot(self, item: Item, kind: str) -> bool:
        """`PSU: 1=OK 2=ABSENT`: a status for each slot."""
        found = _SLOTTED.findall(item.value or "")
        if not found or " ".join(f"{a}={b}" for a, b in found) != " ".join((item.value or "").split()):
            return False
        if any(condition_of(said) is None for _, said in found):
            return False
        for slot, said in found:
            record = self.start(_Record(kind, placed_in(self.member(), slot.lower()), None))
            record.add(STATUS, item._replace(value=said))
        self.current = None
        return True

    # One key with its value

    def judged(self, item: Item) -> None:
        """`[ OK ]  Fan 1   5880 rpm`: one thing a line, with its verdict before it."""
        key, value = item.key, item.value or ""
        thing = thing_of(key)
        words = set(words_of(key))
        self.current = None
        record: _Record | None = None
        bounds: re.Match[str] | None = None
        entries: list[tuple[Label, str]] | None
        heat = self.kind() == TEMP or bool(words & {"temp", "temperature"})
        if (
            thing is not None
            and thing.slot is not None
            and not thing.inside
            and not heat
            and not self._point(thing.rest)
        ):
            record = _Record(thing.kind, placed_in(self.member(), thing.slot), key)
        if record is None:
            if (thing is not None and thing.kind == FAN) or words & FOREIGN:
                return
            if not heat and (thing is not None or self.kind() is not None or not CELSIUS_FIRST.match(value)):
                return
            if words & _NOT_AIR or (
                not heat and item.verdict != "-" and (any(ch.isdigit() for ch in key) or _OTHER_HEADING.search(key))
            ):
                return  # `Drive 1  good  41 C`: the word is of the drive
            member = next((s.word for s in reversed(self.scopes) if s.member), "")
            record = _Record(TEMP, None, f"{member} {key}".strip(), thing.slot if thing is not None else None)
            if (bounds := _BOUNDS.match(value)) is not None or (bounds := _BOUNDS_BY_WORDS.match(value)) is not None:
                value = bounds["value"].strip()
            entries = [(Label("value", dimension="temperature"), value)]
        elif condition_of(value) is not None:
            entries = [(STATUS, value)]
        else:
            entries = figures(value)
        self.start(record)
        if entries is None:
            record.leave_unclear(item)
            self.current = None
            return
        record.tell(entries, item)
        if bounds is not None:
            self._limits(record, item, bounds)
        record.add(STATUS, item._replace(value=item.verdict, key="verdict"))
        self.current = None

    def pair(self, at: int, item: Item) -> None:
        key, value = item.key, item.value or ""
        if item.verdict:
            self.judged(item)
            return
        if key.startswith(": "):
            key = key[2:]  # a further line of a key, with nothing before its colon
            item = item._replace(key=key)
        if (
            value[-1:] == ")"
            and (stated := _STATED.fullmatch(value)) is not None
            and condition_of(stated["how"]) is not None
        ):
            value = f"{stated['value']}, {stated['how']}"  # `48.0 C (status: ok)`
            item = item._replace(value=value)
        if value[-1:] == ")" and (plainly := _without_notes(value)) != value:
            value = plainly
            item = item._replace(value=value)
        if value[-1:] == "]" and "(" not in value and _range_or_limits(value[value.find("[") + 1 : -1]):
            value = value.translate(_SQUARE)  # `27 C  [minor 50, major 60]`
            item = item._replace(value=value)
        if self.heated is not None and self._of_heat_above(item):
            return
        if "['" in value:
            value = _QUOTED_FIGURE.sub(r"\1", value)  # `(voltages = ['12.0'] V)`
            item = item._replace(value=value)
            at_scope = self.scope()
            if (
                at_scope is not None
                and at_scope.record is not None
                and at_scope.record.kind == PSU
                and (figured := _WATTS_OF.fullmatch(value)) is not None
            ):
                for dimension in ("power", "voltage", "current"):
                    at_scope.record.add(
                        Label("quantity", dimension=dimension), item._replace(key=dimension, value=figured[dimension])
                    )
                return
        if "/" in key and "/" in value and label_of(key).field != "name" and (parts := slashed(key, value)):
            for head, text in parts:
                self.pair(at, item._replace(key=head, value=text))
            return
        if key[0] == "/" or key.startswith(_SETTINGS):
            return  # a path that made no tree, or a line of settings: `set temp3_max 70`
        chip = next((s for s in self.scopes if s.chip), None)
        if chip is not None and key == "Adapter":
            self.used.add(item.line)
            return
        if member_of(key) is not None and (not any(ch.isdigit() for ch in value) or self.next_depth(at) > item.depth):
            self.scopes.append(_Scope(item.depth, True, None, None, member=member_of(key), word=key.split(" (")[0]))
            self.current = None
            if value:
                self.unread[item.line] = "a heading with words beside it"
            return
        if self.foreign() and not (label_of(key).field == "name" and thing_of(item.value or "") is not None):
            if self.scopes[-1].foreign and self.scopes[-1].word:
                self._heat_of_part(item, self.scopes[-1].word)
            return
        if chip is not None and (found := _BOUNDS.match(value)) is not None and self._bounded(item, found, None):
            return
        if "|" in value and (judged := _JUDGED.fullmatch(value)) is not None:
            self._with_verdict(item, judged)
            return
        raw = _RAW.match(key)
        if raw is not None and (at_scope := self.scope()) is not None and at_scope.record is not None:
            self._raw(raw, item)
            return
        if " - " in value and (told := _TOLD_BEHIND.fullmatch(value)) is not None and self._told_behind(item, told):
            return
        if (
            (placed := _IN_PLACE.match(key)) is not None
            and (fitted := thing_of(placed["thing"])) is not None
            and fitted.slot
        ):
            key = placed["thing"]
            item = item._replace(key=key)
        if (
            _TRAY.match(key)
            and thing_of(key) is None
            and self.next_depth(at) > item.depth
            and self.kind() in (FAN, None)
        ):
            below = thing_of(self.items[at + 1].key)
            if below is not None and below.kind == FAN:  # `Tray 1: present`, and its rotors below it
                key = f"Fan {key}"
                item = item._replace(key=key)
        if at and self.items[at - 1].key == key and self._said_again(item):
            return
        if "," in value and self._each_told(item):
            return
        if self._measured_below(at, item):
            return
        if self._sensor_of_kind(item):
            return
        if self._numbered_only(item):
            return
        above = self.scope()
        if (
            above is not None
            and above.record is not None
            and above.record.kind in (PSU, FAN)
            and above.word
            and key.lower().startswith(f"{above.word.lower()} ")
        ):
            key = key[len(above.word) :].strip()  # each key begins with the heading
            item = item._replace(key=key)
        if self.scopes and _SHORT_SUPPLY.match(key) is not None and self.kind() == PSU:
            key = f"power {key}"  # `supply a` below `power:`
            item = item._replace(key=key)
        if self._rotor_of_tray(item):
            return
        label = label_of(key)
        if _HOW_MANY.match(key) is not None and value.isdecimal() and self._numbered_below(at, label.thing):
            return  # `Fan number: 6`, and below it each by its own number
        if label.thing is not None and label.thing.slot and label.thing.rest.strip().lower() in _SAID_TWICE:
            key = f"{label.thing.rest.strip()} {label.thing.slot}"  # `Fan tray FAN1`
            item = item._replace(key=key)
            label = label_of(key)
        if key.lower() in ("unit", "units") and unit_word(value) is not None:
            label = Label("units", words=frozenset({"units"}))
        thing = label.thing
        if self.beside(item, label):
            return
        scope = self.scope()
        if (
            scope is not None
            and scope.word == _STATUSES
            and scope.record is not None
            and condition_of(value) is not None
        ):
            into = set(words_of(key)) & COMES_IN
            scope.record.add(STATUS._replace(side="input", words=frozenset(into)) if into else STATUS, item)
            return
        within = scope.record if scope is not None and scope.record is not None else None
        if thing is not None and thing.slot is None and "=" in value and self._by_slot(item, thing.kind):
            return
        if (
            thing is None
            and self.current is not None
            and self.current.kind in (PSU, FAN, TEMP)
            and label.field == "name"
        ) and not (item.gap or self.current.heads[:1] == [(key, "name")] or self._starts(label, self.current)):
            self.current.add(label._replace(field="ignored"), item)
            return
        apart = item.gap and scope is not None and item.depth <= scope.depth
        if (
            thing is None
            and "fan" in label.words
            and label.field == "speed"
            and within is not None
            and within.kind == PSU
        ):
            thing = Thing(FAN, None, "")  # `FanSpeed`
            label = label._replace(thing=thing)
        if thing is not None and within is not None and within.kind == PSU and thing.kind == FAN and not apart:
            self._fan_of_supply(item, label, within)
            return
        if chip is not None and within is None and thing is not None and thing.slot is not None:
            if thing.kind == PSU and any(map(str.isalpha, thing.rest)) and _ELECTRIC.fullmatch(value) is not None:
                self._of_chip(thing, key, label, item)
                return
            if thing.kind == FAN and self._named_again(key) and _TURNS.match(value) is not None:
                self._of_chip(thing, f"{chip.chip} {key}", Label("speed", dimension="speed"), item)
                return
        rotor = within is not None and within.kind == FAN and thing is not None and "rotor" in key.lower()
        if thing is not None and (thing.slot is not None or thing.inside or rotor):
            if rotor and within is not None and thing.slot is None:
                record = self._keyed(
                    FAN, f"{within.slot or within.name}\n{thing.rest}", _words_before(key), within.inside
                )
                record.slot, record.point = within.slot, True
                self._put(record, label._replace(field="thing") if label.field == "unknown" else label, item)
                return
            if (
                within is not None
                and within.kind == FAN
                and thing.kind == FAN
                and (within.slot != thing.slot or _HOLDER.search(within.name or "") is not None)
                and not _HOLDER.search(key)
            ):
                name = _words_before(key)
                record = self._keyed(FAN, f"{within.slot}\n{thing.slot}", name, within.inside)
                record.slot, record.point = within.slot, True
                record.name = name
                phrases = phrases_of(value) if label.field == "thing" and BETWEEN_PHRASES.search(value) else None
                record.tell(phrases or (), item)
                if phrases is None:
                    self._put(record, label, item)
                self.current = within
                return
            self._numbered(at, item, label)
            return
        if thing is None and within is None and self.current is None and self._told_sensor(item):
            return
        if _COUNT_OF.match(key) is not None and value.isdigit():
            if within is not None:
                within.add(label._replace(field="ignored", thing=None), item)
            return
        if (
            thing is not None
            and (thing.kind, label.field, thing.inside) == (FAN, "thing", None)
            and within is None
            and condition_of(value.split(" ")[0].rstrip(",")) is not None
            and self._named_fan(item, thing)
        ):
            return
        identity = "=" not in value and (
            label.field in ("name", "slot")
            or (
                label.field == "description"
                and item.gap
                and (named := thing_of(value)) is not None
                and named.slot is not None
            )
            or (label.field == "thing" and not is_blank(value))
            or (label.field == "description" and self._begins_thing(item))
            or key.lower() in ("fru device description", "unit", "entity")
        )
        again = within is not None and within.heads[:1] == [(item.key, "name")]
        if (
            identity
            and value
            and (
                again
                or not (_FIGURE_FIRST.match(value) or _COUNT_FIRST.match(value))
                or ("sensor" in label.words and _PLACED_NAME.fullmatch(value) is not None)
            )
            and condition_of(value) is None
            and ("&" not in value or not _is_status(value))
            and self._identity(at, item, label)
        ):
            return
        if again and within is not None:
            within.leave_unclear(item)  # another thing begins, of which it is not told which
            return
        if (found := _BOUNDS.match(value)) is not None and self._bounded(item, found, within):
            return
        if (
            (
                label.field == "unknown"
                or (
                    label.field in ("side", "slot", "ignored", "name")
                    and re.search(r"\d ?°?C(?![A-Za-z])", value) is not None
                )
                or (label.field == "side" and self._degrees() is not None)
            )
            and within is None
            and self.current is None
            and self._plain_sensor(item)
        ):
            if self.next_depth(at) > item.depth:  # its state and its limits stand below it
                self.scopes.append(_Scope(item.depth, False, TEMP, self.records[-1]))
            return
        heat = label.field == "value" and label.dimension == "temperature" and any(ch.isdigit() for ch in value)
        if heat and set(words_of(key)) & _STRONG:
            return  # the temperature of an optic
        if heat and within is not None and within.kind in (PSU, FAN) and within.slot and "  " in value:
            phrases = phrases_of(value)
            if phrases is not None and sorted(lab.field for lab, _ in phrases) == ["status", "value"]:
                # `Temperature   OK   34 C`: the word is of the temperature
                name = _words_before(key)
                record = self.start(_Record(TEMP, None, name, within.slot if within.kind == PSU else None))
                for said, text in phrases:
                    record.add(
                        said._replace(dimension="temperature") if said.field == "value" else said,
                        item._replace(value=text),
                    )
                self.current = within
                return
        if (
            heat
            and within is not None
            and within.kind == PSU
            and within.slot
            and thing is None
            and _NUMBERED_HEAT.match(key)
            and _one_temperature(value)
        ):
            self.start(_Record(TEMP, None, key, within.slot)).add(label, item)  # one of several within a supply
            self.current = within
            return
        if heat and self._temperature(item, label, within):
            return
        if (
            within is None
            and label.field == "value"
            and label.dimension == "temperature"
            and _NUMBERED_HEAT.match(key) is not None
            and (condition_of(value) is not None or plain(value) in ("high", "low", "hot", "over"))
        ):
            inside = thing.inside or thing.slot if thing is not None and thing.kind == PSU else None
            record = self.start(_Record(TEMP, None, key.split("(")[0].strip(), inside))
            record.add(STATUS, item)
            self.current = None
            return
        if (
            thing is not None
            and (thing.kind, thing.slot, label.field, label.unit) == (FAN, None, "speed", "rpm")
            and value.isdigit()
            and within is None
            and (self.current is None or self.current.kind == TEMP)
        ):
            # `Fan Speed, RPM: 4320`: the only fan that is told of, or one that has a name and no number
            self.start(_Record(FAN, None, _words_before(key.split(",")[0]))).add(label, item)
            self.current = None
            return
        if within is None and self.current is not None and self.current.kind == TEMP and _has_value(self.current):
            if set(words_of(key)) & _OF_A_COMPUTER:
                self.current = None  # `CPU load: 6 %` below a temperature
                return
            if label.field in ("quantity", "capacity", "speed") and label.dimension != "temperature":
                self.current = None  # the figures of a whole device, one below the other
                return
            if thing is not None or (label.field == "status" and not set(words_of(key)) <= _OF_A_SENSOR):
                self.current = None  # `Cooling status: ok` below a temperature
        holder = within or self.current
        if holder is not None:
            record = holder
            if within is None and label.field == "limit" and self._of_several(record):
                self.unread[item.line] = "of which of the temperatures above it is a limit is not told"
                self.current = None
                return
            if item.gap and within is None and not record.sensor and record.entries and self._starts(label, record):
                self.current = None
                return
            if thing is not None and thing.kind != record.kind and record.kind is not None:
                return
            if item.gap and within is None and label.said and label.field == "value" and _has_value(record):
                self.current = None  # another sensor, of which it is not told what it measures
                return
            numbered = label.field in ("speed", "percent") and any(ch.isdigit() for ch in label.said)
            if record.kind == FAN and thing is None and numbered:
                record.leave_unclear(item)  # the speed of something with a number of its own
                return
            self._put(record, label, item)
            return
        if thing is not None and thing.kind == FAN and label.thing is thing and self._named_fan(item, thing):
            return
        if thing is not None and label.field in ("speed", "percent") and self._same_unnumbered(item, label, thing):
            return
        if thing is not None and label.field in ("thing", "status") and _is_status(value) and plain_title(key):
            record = self.start(_Record(thing.kind, None, key if label.field == "thing" else _words_before(key)))
            member = self.member()
            if member:
                record.slot = member
            self._put(record, label._replace(field="status"), item)
            self.current = None

    def _rotor_of_tray(self, item: Item) -> bool:
        """`Tray#1 Fan#2 Status : up`, `Right fan tray (fan 1): OK`: one rotor of one tray, and no other tray's."""
        found = _ROTOR_OF_TRAY.fullmatch(item.key)
        tray = (found["number"] or found["place"]) if found is not None else None
        if found is None or not tray:
            return False
        value = item.value or ""
        rest = found["rest"].strip(" -:")
        label = label_of(rest) if rest else Label("thing")
        if label.field not in ("thing", "status", "speed", "presence"):
            return False
        phrases = None
        if label.field == "thing":
            phrases = phrases_of(value)
            if phrases is None and condition_of(value) is None:
                return False
        record = self._keyed(FAN, f"{tray.lower()}/{found['rotor']}", None, None)
        if phrases is not None:
            record.tell(phrases, item)
        else:
            self._put(record, label, item)
        self.current = None
        return True

    def _numbered_below(self, at: int, thing: Thing | None) -> bool:
        """Whether the next things of a kind have numbers of their own in their keys."""
        below = (thing_of(i.key) for i in self.items[at + 1 : at + 4])
        return thing is not None and any(t is not None and t.kind == thing.kind and t.slot is not None for t in below)

    def _told_behind(self, item: Item, told: re.Match[str]) -> bool:
        """`Left Slot (PS0): 26 C - OK (Power Supply Temperature)`: what is measured stands behind it in brackets.

        Where it does not, the unit tells it, of a supply that is named by its place.
        """
        thing = thing_of(item.key)
        heat = told["value"][-1] in "cC"
        if condition_of(told["how"]) is None:
            return False
        if told["what"] is None:
            if thing is None or thing.kind != PSU or not thing.rest.endswith("("):
                return False
        else:
            of = thing_of(told["what"])
            fan = of is not None and of.kind == FAN
            if fan == heat or heat != ("temperature" in words_of(told["what"])):
                return False
        if thing is not None and (thing.slot is None or thing.kind not in (PSU, FAN)):
            return False
        inside = placed_in(self.member(), thing.slot) if thing is not None and thing.kind == PSU else None
        if heat:
            record = _Record(TEMP, None, item.key, inside)
        elif inside is not None:
            record = _Record(FAN, None, told["what"] or item.key, inside, True)
        elif thing is not None:
            record = _Record(FAN, placed_in(self.member(), thing.slot), item.key)
        else:
            return False
        field = "value" if heat else "speed"
        self.start(record).add(
            Label(field, dimension="temperature" if heat else "speed"), item._replace(value=told["value"])
        )
        record.add(STATUS, item._replace(value=told["how"]))
        self.current = None
        return True

    def _each_told(self, item: Item) -> bool:
        """`Power: PS-A OK, PS-B FAIL`: several numbered things behind one key, each with a word beyond doubt."""
        told = [_THING_WORD.fullmatch(part) for part in (item.value or "").split(", ")]
        things = [thing_of(m["what"]) if m is not None else None for m in told]
        if len(told) < 2 or any(t is None or t.slot is None or t.rest.strip() or t.inside for t in things):
            return False
        if any(m is None or condition_of(m["how"]) is None for m in told):
            return False
        for m, thing in zip(told, things, strict=True):
            assert m is not None
            assert thing is not None
            record = self._keyed(thing.kind, thing.slot, m["what"], None)
            record.add(STATUS, item._replace(key=m["what"], value=m["how"]))
        self.current = None
        return True

    def _said_again(self, item: Item) -> bool:
        """A further line of one key: `: Local Temp 33 C (board inlet)` below temperatures, `: Fan OK` below a supply."""
        key, value = item.key, item.value or ""
        if set(words_of(key)) & {"temperature", "temperatures"} and (heat := _NAMED_HEAT.fullmatch(value)) is not None:
            value = heat["value"]
            start = item.start + heat.start("value")
            record = self.start(_Record(TEMP, None, heat["name"]))
            record.add(Label("value", dimension="temperature"), item._replace(value=value, start=start))
            if heat["beside"] is not None and condition_of(heat["beside"]) is not None:
                record.add(STATUS, item._replace(value=heat["beside"]))
            self.current = None
            return True
        thing = thing_of(key)
        if thing is None or thing.kind != PSU or thing.slot is None or (fan := _FAN_SAID.fullmatch(value)) is None:
            return False
        if condition_of(fan["how"]) is None:
            return False
        record = self._keyed(FAN, "", fan["key"], placed_in(self.member(), thing.slot))
        record.slot = None
        record.add(STATUS, item._replace(key=fan["key"], value=fan["how"], start=item.start + fan.start("how")))
        self.current = None
        return True

    def _same_unnumbered(self, item: Item, label: Label, thing: Thing) -> bool:
        """`Fan module speed: 4320 RPM` right below `Fan module status: OK`."""
        last = self.records[-1] if self.records else None
        if last is None or (last.kind, last.name, last.lines[-1]) != (
            thing.kind,
            _words_before(item.key),
            item.line - 1,
        ):
            return False
        if thing.slot is not None or last.slot is not None or [e.label.field for e in last.entries] != ["status"]:
            return False
        last.add(label, item)
        return True

    def _of_several(self, record: _Record) -> bool:
        """Whether another temperature without a limit stands right above this one: a limit below could be of each."""
        above = [r for r in self.records if r.lines and record.lines and r.lines[-1] == record.lines[0] - 1]
        return record.kind == TEMP and any(
            r.kind == TEMP and _has_value(r) and not any(e.label.field == "limit" for e in r.entries) for r in above
        )

    def _named_fan(self, item: Item, thing: Thing) -> bool:
        """`cpu fan: good, 2410 rpm` among fans: a fan with a name and no number, which turns."""
        phrases = phrases_of(item.value or "") if thing.slot is None else None
        told = phrases is not None and any(label.field == "status" for label, _ in phrases)
        if not thing.rest.strip() and not (told and " " in item.key.strip()):
            return False
        if self.kind() != FAN and not told:
            return False
        if phrases is None or "speed" not in {lab.dimension for lab, _ in phrases if lab.field in ("value", "speed")}:
            return False
        record = self.start(_Record(FAN, None, item.key))
        record.tell(phrases, item)
        self.current = None
        return True

    def _of_unit(self, item: Item, said: str) -> bool:
        """`Power supply 1 is AC power supply. Unit is on.`"""
        first, *rest = said.split(". ")
        found = _IS.match(first)
        thing = thing_of(found["what"]) if found is not None else None
        if found is None or thing is None or thing.slot is None or thing.rest.strip() or thing.inside:
            return False
        entries: list[tuple[Label, str]] = []
        for part in (found["how"], *(re.sub(r"(?:unit|it) is ", "", p, flags=re.IGNORECASE) for p in rest)):
            if (form := re.fullmatch(r"(?:an? )?(AC|DC)(?: power)?(?: supply)?", part, re.IGNORECASE)) is not None:
                entries.append((Label("type"), form[1].upper()))
            elif condition_of(part) is not None or plain(part) in PRESENT:
                entries.append((STATUS, part))
            else:
                return False
        record = self.start(_Record(thing.kind, placed_in(self.member(), thing.slot), found["what"]))
        record.tell(entries, item._replace(key=found["what"]))
        self.current = None
        return True

    def _begins_thing(self, item: Item) -> bool:
        """Whether a description begins what is told of one thing: it names one, and a blank line or a heading is above it."""
        thing = thing_of(item.value or "") if len(item.value or "") <= 40 else None
        scope = self.scope()
        return (
            item.gap
            and thing is not None
            and thing.slot is not None
            and thing.kind == self.kind()
            and (scope is None or scope.record is None or scope.record.heads[:1] == [(item.key, "name")])
        )

    def beside(self, item: Item, label: Label) -> bool:
        """`PSU 2 : Online    AC In : Failed`: what stands on one line behind a thing is told of it."""
        last = self.records[-1] if self.records else None
        if last is None or last.kind not in (PSU, FAN) or not last.entries or last.lines[-1] != item.line:
            return False
        if label.thing is None:
            if label.field in ("name", "slot", "thing"):
                return False
            self._put(last, label, item)
            return True
        if label.thing.kind == FAN and label.thing.slot is None and last.kind == PSU:
            self._fan_of_supply(item, label, last)
            self.current = None
            return True
        return False

    def _numbered_only(self, item: Item) -> bool:
        """`1: 5400 rpm, ok` below a heading such as `Fans`, and `Slot 3: Fan module, ok, 5400 rpm`."""
        slot = slot_alone(item.key)
        scope = self.scope()
        if (
            slot is None
            or not item.value
            or (scope is not None and scope.record is not None)
            or item.key.lower() in _SIDES_ALONE
        ):
            return False
        value = item.value
        kind = self.kind()
        if (named := _NAMED_FIRST.match(value)) is not None:
            first = thing_of(named["what"])
            if first is not None and first.slot is None and first.rest.strip(" ()").upper() in ("AC", "DC", ""):
                kind, value = first.kind, named["rest"]
        if kind not in (PSU, FAN):
            return False
        phrases = figures(value) if "," in value or ";" in value or "  " in value else phrases_of(value)
        if kind == FAN and value.isdigit() and scope is not None and label_of(scope.word).field in ("thing", "speed"):
            phrases = [(Label("speed", dimension="speed"), value)]
        record = self.start(_Record(kind, placed_in(self.member(), slot), item.key))
        if phrases is None:
            record.leave_unclear(item)
        else:
            record.tell(phrases, item)
        self.current = None
        return True

    def _sensor_of_kind(self, item: Item) -> bool:
        """`sensor 4: (Fan) is Ok, speed is 6850 RPM`: what it is stands behind its number, and then how it is."""
        found = _OF_KIND.match(item.value or "") if _NUMBERED_SENSOR.fullmatch(item.key) else None
        if found is None:
            return False
        kind = kind_said(found["kind"])
        if kind is None or (self.scope() is not None and self.kind() is not None):
            return False
        name = " ".join(item.key.split())
        record = self.start(_Record(kind, None, name))
        phrases = phrases_of(", ".join(_IS_SO.sub("", p.strip()) for p in found["rest"].split(",")))
        if phrases is None:
            record.leave_unclear(item)
        else:
            record.tell(phrases, item)
        self.current = None
        return True

    def _heat_of_part(self, item: Item, part: str) -> None:
        """`outlet temperature: 41C` below `module 1:`: a sensor on a part that is neither supply nor fan."""
        label = label_of(item.key)
        value = item.value or ""
        words = set(words_of(item.key))
        told = label.field == "value" and label.dimension == "temperature" and _CELSIUS.match(value) is not None
        if not told:
            bounds = _BOUNDS_BY_WORDS.match(value) if value[-1:] == ")" else None
            figure = bounds["value"].strip() if bounds is not None else value
            if _CELSIUS.match(figure) is None or label.field in ("limit", "quantity", "status"):
                return
            if words & (FOREIGN | _STRONG | _NOT_AIR) or (
                bounds is not None and not _range_or_limits(bounds["bounds"])
            ):
                return
            label = Label("value", dimension="temperature")
        name = item.key if not told else _words_before(item.key)
        place = part.split(" (")[0]
        placed = _OWN_PLACE.match(name)  # `RP 5 outlet temperature` below `module 5`
        own = name.lower().startswith(place.lower()) or (placed is not None and place.endswith(f" {placed['n']}"))
        record = self.start(_Record(TEMP, None, name if own else f"{place} {name}"))
        self._with_bounds(record, label, item)
        self.current = None

    def _starts(self, label: Label, record: _Record) -> bool:
        return any(e.label.field == label.field for e in record.entries) and label.field in ("name", "slot", "thing")

    def _put(self, record: _Record, label: Label, item: Item) -> None:
        value = item.value or ""
        field = label.field
        if field == "thing":
            field = "status" if not any(ch.isdigit() for ch in value) else "value"
            label = label._replace(field=field)
        if field == "type" and record.kind != PSU:
            kind = thing_of(value)
            if record.kind is None and kind is not None:
                record.kind = kind.kind
            elif record.kind is None and "temperature" in value.lower():
                record.kind = TEMP
            label = label._replace(field="ignored")
        if field in ("slot", "name", "unknown") and record.kind is not None:
            label = label._replace(field="unknown" if field == "unknown" else "ignored")
        record.add(label, item)

    def _keyed(self, kind: str, slot: str | None, name: str | None, inside: str | None) -> _Record:
        member = self.member()
        record = self.keyed.get((kind, slot, inside, member))
        if record is None:
            record = self.start(_Record(kind, placed_in(member, slot), name, inside, bool(inside)))
            self.keyed[(kind, slot, inside, member)] = record
        return record

    def _numbered(self, at: int, item: Item, label: Label) -> None:
        """`Power supply 1 status: Up`, or `Fan 2: 3400 rpm` with more below it."""
        thing = label.thing
        assert thing is not None
        value = item.value or ""
        if (
            (early := _STATUS_IN_KEY.match(item.key)) is not None
            and condition_of(early["how"]) is not None
            and thing.slot
        ):
            # `Fan 1 ok, speed (auto): [[1]]<->2`
            record = self._keyed(thing.kind, thing.slot, early["what"], thing.inside)
            record.add(STATUS, item._replace(value=early["how"]))
            told = label_of(early["key"])
            plainly = re.fullmatch(r"\d[\d,.]* ?[A-Za-z%]*", value) is not None
            record.add(told if plainly else Label("ignored"), item)
            self.current = None
            return
        name = _words_before(item.key)
        if label.field == "thing" and _one_temperature(value):
            label = label._replace(
                field="value", dimension="temperature"
            )  # `Power supply 1: 34.0 C`, a sensor within it
        if (
            thing.kind == FAN
            and label.field == "unknown"
            and thing.rest.lower() in ("front", "rear", "inlet", "outlet")
        ):
            label = label._replace(field="thing", said=thing.rest)  # `Fan1 front: 10300 RPM`
        if thing.kind == FAN and thing.inside and label.field == "airflow":
            record = self._keyed(PSU, thing.inside, None, None)  # `Power supply 1 Fan Air Flow Direction`
        elif thing.kind == FAN and thing.inside is not None:
            record = self._keyed(FAN, None if not thing.slot else f"\n{thing.slot}", name, thing.inside)
            record.slot = None
        elif (
            (label.field == "value" and label.dimension == "temperature")
            or (label.field == "limit" and label.dimension == "temperature")
            or (label.field == "status" and label.dimension == "temperature")
        ):
            numbered = _NUMBERED_HEAT.match(thing.rest.strip()) if label.field == "value" else None
            record = self._keyed(
                TEMP,
                f"{thing.kind}\n{thing.slot}" + (f"\n{numbered[0].lower()}" if numbered is not None else ""),
                name if label.field != "limit" else None,
                thing.slot if thing.kind == PSU else None,
            )
            record.slot = None
            record.name = record.name or name
        elif (
            label.said
            and label.field in ("speed", "percent", "thing")
            and label.said.lower() in ("front", "rear", "inlet", "outlet")
        ):
            record = self._keyed(thing.kind, f"{thing.slot}\n{label.said}", name, None)
            record.slot, record.point = thing.slot, True
        elif (
            thing.kind == FAN
            and label.field in ("unknown", "speed")
            and thing.rest.strip(" -_()").lower() in _PLACES
            and any(ch.isdigit() for ch in value)
        ):
            record = self._keyed(FAN, f"{thing.slot}\n{thing.rest}", name, None)
            record.slot, record.point = thing.slot, True
            label = label._replace(field="thing")
        elif (beside := _BESIDE_OTHERS.match(item.key)) is not None and thing.slot != beside[1].lower():
            record = self._keyed(thing.kind, f"{thing.slot}\n{beside[1].lower()}", name, None)
            record.slot = placed_in(self.member(), thing.slot)  # `Left Fan 1` is not `Right Fan 1`
        elif (of := self._apart(item.key, thing)) is not None:
            record = self._keyed(thing.kind, f"{thing.slot}\n{of.lower()}", name, None)
            record.slot = None  # its name tells it from the other one
        else:
            record = self._keyed(thing.kind, thing.slot, name, None)
        if (found := _BOUNDS.match(value)) is not None and label.field in ("thing", "speed", "value"):
            self._limits(record, item, found)
            value = found["value"]
            item = item._replace(value=value, end=item.start + len(value))
        if (
            label.field == "thing"
            and (rail := _RAIL_WELL.fullmatch(value)) is not None
            and condition_of(rail["how"]) is not None
        ):
            value = rail["how"]  # `12V OK`: no figure that was measured
            item = item._replace(value=value)
        over = self.scope()
        if (
            thing.kind == PSU
            and label.field == "thing"
            and over is not None
            and (into := set(words_of(over.word)) & COMES_IN)
            and condition_of(value) is not None
        ):
            label = STATUS._replace(side="input", words=frozenset(into))
        below = _KEY_BEHIND.match(value) if label.field == "thing" else None
        if below is not None and (told := label_of(below["key"])).thing is None and told.field in (*TOLD, "presence"):
            # `PSU A : present   yes`, with more such below it
            record.add(told, item._replace(value=below["value"], start=item.start + below.start("value")))
        elif label.field == "name":
            record.add(label._replace(field="ignored"), item)
        elif (
            label.field == "thing"
            and (
                BETWEEN_PHRASES.search(value)
                or "=" in value
                or _AT_FIGURE.match(value)
                or WORD_FIGURE.match(value)
                or _SERIAL_SAID.search(value)
                or (value[-1:] == ")" and condition_of(value.split(" (")[0]) is not None)
            )
            and (phrases := phrases_of(value)) is not None
        ):
            record.tell(phrases, item)
        else:
            self._put(record, label, item)
        self.current = None
        if self.next_depth(at) > item.depth:
            self.scopes.append(_Scope(item.depth, False, thing.kind, record))

    def _fan_of_supply(self, item: Item, label: Label, within: _Record) -> None:
        thing = label.thing
        assert thing is not None
        if thing.slot is None:
            if label.field == "flag" and within.slot and condition_of(item.value or "") is not None:
                record = self._keyed(FAN, "", "fan", within.slot)
                record.slot = None
                record.add(STATUS, item)
                self.current = within
            elif label.field in ("status", "thing") and not any(ch.isdigit() for ch in item.value or ""):
                within.add(label._replace(field="status"), item)
            elif label.field in ("thing", "speed", "unknown") and within.slot and _TURNS.match(item.value or ""):
                record = self._keyed(FAN, "", _words_before(item.key), within.slot)
                record.slot = None
                self._put(record, label._replace(field="thing"), item)
                self.current = within
            else:
                within.add(label._replace(field="ignored"), item)
            return
        name = _words_before(item.key)
        record = self._keyed(FAN, f"\n{thing.slot}", name, within.slot)
        record.slot = None
        self._put(record, label, item)
        self.current = within

    def _identity(self, at: int, item: Item, label: Label) -> bool:
        """A key whose value names the thing that the keys below are about."""
        value = _HEX_TAIL.sub("", item.value or "").strip()
        if label.thing is None and label.words & _OF_THE_WHOLE and thing_of(value) is None:
            return False  # `System Name`, `Product Name`
        if at + 1 < len(self.items) and set(words_of(self.items[at + 1].key)) & _OF_A_HOST and thing_of(value) is None:
            return False  # the device itself
        scope = self.scope()
        thing = thing_of(value) if len(value) <= 48 else None
        kind = label.thing.kind if label.thing is not None else self.kind()
        within = scope.record if scope is not None else None
        again = within is not None and within.heads and within.heads[0] == (item.key, "name")
        numbered = within is not None and re.fullmatch(r"(?:sensor|probe)[ #_-]*\d{1,3}", within.name or "") is not None
        if (
            within is not None
            and not again
            and (not item.gap or (numbered and not within.entries))
            and ((within.heads[:1] and within.heads[0][1] == "name" and not within.entries) or numbered)
            and (thing is None or numbered)
        ):
            within.add(label._replace(field="ignored"), item)  # another name of the same thing
            return True
        if (
            within is not None
            and within.kind is not None
            and label.thing is None
            and not again
            and (not item.gap or scope is None or item.depth > scope.depth)
        ):
            return False
        of_sensors = (scope is not None and scope.word == "sensor") or (
            item.gap
            and label.field == "slot"
            and label.words <= {"unit", "module"}
            and sum(ch.isalpha() for ch in value) > 2
        )
        if thing is None and label.thing is None and kind is None and label.field != "name" and not of_sensors:
            return False
        if thing is None and kind in (PSU, FAN) and (slot := slot_alone(value)) is not None:
            record = _Record(kind, placed_in(self.member(), slot), None)
        elif thing is not None and kind != TEMP:
            if thing.kind == FAN and thing.inside is not None:
                record = _Record(FAN, None, value, thing.inside, True)
            else:
                rest = thing.rest.strip(" -_:()")
                record = _Record(thing.kind, placed_in(self.member(), thing.slot), value)
                record.point = bool(label.words & {"sensor"}) or self._point(rest) or ROTOR_OF.search(value) is not None
                record.sensor = bool(label.words & {"sensor"})
        elif kind in (PSU, FAN) and label.field == "name" and self.current is not None and not self.current.entries:
            return False
        else:
            record = _Record(kind if kind == TEMP else None, None, value)
            record.sensor = True
        record.lines.append(item.line)
        record.places.append(("name", item.line, item.start, item.end))
        record.heads.append((item.key, "name"))
        self.start(record)
        flat = self.next_depth(at) <= item.depth
        while self.scopes and self.scopes[-1].depth >= item.depth and self.scopes[-1].record is not None:
            self.scopes.pop()
        self.scopes.append(_Scope(item.depth, flat, None, record))
        return True

    def _temperature(self, item: Item, label: Label, within: _Record | None) -> bool:
        """`Inlet Temperature Value: 29 Degree Celsius`: a sensor of its own."""
        if within is not None and (
            within.kind in (PSU, FAN)
            or (within.sensor and not label.said)
            or (within.kind == TEMP and not within.entries)
        ):
            return False
        of_thing = label.thing is not None and label.thing.slot is None
        name = _words_before(item.key) if label.said or of_thing else None
        each = list(_EACH_NAMED.finditer(item.value or ""))
        if len(each) > 1 and "".join(m.group() for m in each) == item.value:
            # `61.0 deg-C (Sensor 1), 44.5 deg-C (Sensor 2)`
            place = re.match(r"[A-Za-z]+ \d{1,3}(?!\w)", item.key)
            for m in each:
                one = self.start(_Record(TEMP, None, f"{place.group()} {m['name']}" if place else m["name"]))
                start = item.start + m.start("value")
                one.add(label, item._replace(value=m["value"], start=start, end=start + len(m["value"])))
            self.current = None
            return True
        explicit = label.unit in ("C", "F") and (self.current is None or self.current.kind is None)
        if (
            name is None
            and (self.current is None or (self.current.kind == TEMP and _has_value(self.current)))
            and within is None
            and label.words <= _WHOLE_HEAT
            and _one_temperature(item.value or "")
            and not self.scopes
            and not self._named_again(item.key)
            and (self.lists_parts() or self._limited_below(item))
        ):
            self._with_bounds(self.start(_Record(TEMP, None, _words_before(item.key))), label, item)
            return True
        if (
            name is None
            and not explicit
            and (self.current is not None or (self.kind() != TEMP and not self.titles and not self.member()))
        ):
            return not (
                self.current is not None
                and self.current.kind in (PSU, FAN, TEMP)
                and not any(e.label.field == "value" for e in self.current.entries)
            )
        member = self.member()
        if label.said.isdigit():
            name = item.key.split("(")[0].strip()
        if member and name:
            below = next((s.word for s in reversed(self.scopes) if s.member), "")
            name = f"{below or f'Switch {member}'} {name if label.said.isdigit() else label.said}"
        if name is None:
            name = _words_before(item.key).split(",")[0].strip()
        record = _Record(TEMP, None, name)
        self.start(record)
        self._with_bounds(record, label, item)
        self.heated = (record, item.key.split()[0].lower()) if _WORD_AND_VALUE.fullmatch(item.key) is not None else None
        return True

    def _limited_below(self, item: Item) -> bool:
        """Whether a temperature with its unit is followed at once by its state and limits in the same unit."""
        if _CELSIUS.fullmatch(item.value or "") is None:
            return False
        at = next((n for n, i in enumerate(self.items) if i is item), len(self.items))
        labels = [(label_of(i.key), i) for i in islice(self.items, at + 1, at + 4) if not i.gap and i.value]
        limits = [i for lab, i in labels if lab.field == "limit" and lab.thing is None]
        several = len(limits) > 1 or any(set(words_of(i.key)) & _HEAT_WORDS for i in limits)
        return several and all(_CELSIUS.fullmatch(i.value or "") is not None for i in limits)

    def _with_bounds(self, record: _Record, label: Label, item: Item) -> None:
        """Adds a value with the limits that stand in brackets behind it, if they do."""
        if label.dimension == "temperature" and (one := _ONE_LIMIT.fullmatch(item.value or "")) is not None:
            record.add(label, item._replace(value=one["value"], end=item.start + len(one["value"])))
            record.entries.append(Entry(label_of(one["name"])._replace(field="limit"), one["limit"], one["name"]))
            record.places.append(("limit", item.line, item.start + one.start("limit"), item.start + one.end("limit")))
            if one["word"]:
                record.entries.append(Entry(STATUS, one["word"], "status"))
            return
        found = _BOUNDS_BY_WORDS.match(item.value or "")
        if found is not None and _range_or_limits(found["bounds"]):
            record.add(label, item._replace(value=found["value"].strip()))
            self._limits(record, item, found)
        else:
            record.add(label, item)

    def _raw(self, raw: re.Match[str], item: Item) -> None:
        """Sub-features as `sensors -u` names them: the kernel's hwmon naming (Documentation/hwmon/sysfs-interface)."""
        scope = self.scope()
        record = scope.record if scope is not None else None
        if record is None:
            return
        what = raw["what"]
        label = raw_label(item.key)
        assert label is not None
        if label.field == "quantity" and label.side is None:
            label = label._replace(side=label_of(record.name or "").side)  # `PSU-1 12V Rail Curr (out):`
        value = item.value or ""
        if what == "fault" and value.strip("0. "):
            record.add(Label("status"), item._replace(value="fault"))
        elif what.endswith("alarm") and value.strip("0. "):
            record.add(Label("status"), item._replace(value="ALARM"))
        else:
            record.add(label, item)
        if raw["kind"] == "fan" and record.kind is None:
            thing = thing_of(record.name or "")
            record.kind = FAN
            record.slot = thing.slot if thing is not None else None
            record.point = True

    def _limits(self, record: _Record, item: Item, found: re.Match[str]) -> None:
        bounds = found["bounds"]
        # What goes on to a further line has no place on this one.
        placed: list[tuple[str, int, int, int]] = record.places if not item.more else []
        at = 0
        offset = item.start + found.start("bounds")
        if (span := _RANGE.fullmatch(bounds) or _LIMITS_APART.fullmatch(bounds)) is not None:
            for side in ("low", "high"):
                record.entries.append(Entry(Label("limit", limit=Limit(side, 1.0)), span[side], bounds))
                placed.append(("limit", item.line, offset + span.start(side), offset + span.end(side)))
            at = len(bounds)
        while at < len(bounds):
            match = _BOUND.match(bounds, at)
            if match is None and (worded := _WORD_BOUND.match(bounds, at)) is not None:
                label = label_of(worded["name"] or worded["name2"])
                if label.limit is None:
                    record.sure = False
                which = "value" if worded["value"] else "value2"
                record.entries.append(
                    Entry(label._replace(field="limit"), worded[which], worded["name"] or worded["name2"])
                )
                placed.append(("limit", item.line, offset + worded.start(which), offset + worded.end(which)))
                at = worded.end()
                continue
            if match is None:
                raise_at = bounds[at:].strip()
                record.entries.append(Entry(Label("unknown"), f"fault {raise_at}", raise_at))
                record.sure = False
                return
            name = match["name"].strip()
            label = label_of(name)
            if "hyst" in name.lower() or "variance" in name.lower() or name.lower() in _NO_LIMIT or name[:4] == "fan_":
                pass
            elif label.limit is None:
                record.sure = False
            else:
                record.entries.append(Entry(label, match["value"], name))
                placed.append(("limit", item.line, offset + match.start("value"), offset + match.end("value")))
            at = match.end()
        if found["word"]:
            record.entries.append(Entry(Label("status"), found["word"], "status"))

    def _bounded(self, item: Item, found: re.Match[str], within: _Record | None) -> bool:
        """`temp1: +45.0 C (high = +80.0 C, crit = +95.0 C)`."""
        names = [m["name"] for m in _BOUND.finditer(found["bounds"])]
        if not names or not all(
            label_of(n).limit is not None or "hyst" in n.lower() or n.lower() in ("sensor", "div") for n in names
        ):
            return False
        value, unit, told = found["value"], None, []
        if condition_of(value) is not None:  # `fan1:  FAULT  (min = 3000 RPM)`: what it would be is told by its limit
            unit = next((u for m in _BOUND.finditer(found["bounds"]) if (u := _unit_behind(m["value"]))), None)
            told = [Entry(Label("status"), value, "status")]
            value = ""
        try:
            read = read_cell(value, None)
        except Unplaced:
            return False
        if len(read.quantities) != (0 if told else 1) or (told and unit is None):
            return False
        if within is not None and within.kind is not None:
            label = label_of(item.key)
            if within.kind == PSU and label.side is None:
                return False
        record = _Record(None, None, item.key)
        holder = _Record(None, None, item.key)
        self._limits(holder, item, found)
        status = [*told, *(e for e in holder.entries if e.label.field == "status")]
        limits = [e for e in holder.entries if e.label.field == "limit"]
        chip = next((s.chip for s in reversed(self.scopes) if s.chip), None)
        name = f"{chip} {item.key}" if chip and self._named_again(item.key) else item.key
        record.lines += [item.line, *item.more]
        field = "status" if told else "value"
        record.places = [(field, item.line, item.start, item.start + len(found["value"])), *holder.places]
        record.heads = [(item.key, "name"), *((e.head, "limit") for e in limits)]
        self.start(record)
        self.current = None
        try:
            if not holder.sure:
                raise Unplaced("a limit of it is not understood")
            made = sensor_reading(name, value, unit, status, limits)
            if within is not None and within.slot and within.kind in (PSU, FAN):
                made = made.model_copy(
                    update={"unit": made.unit or f"{'psu' if within.kind == PSU else 'fan'}-{within.slot}"}
                )
            record.entries = [Entry(Label("made"), "", "")]
            self.finished_ahead[id(record)] = made
        except Unplaced as reason:
            record.entries = []
            self.refused[id(record)] = str(reason)
        return True

    def _of_heat_above(self, item: Item) -> bool:
        """`SYSTEM High Alert Threshold: 58 Degree Celsius` below `SYSTEM Temperature Value`: of the same sensor."""
        assert self.heated is not None
        record, word = self.heated
        first, _, rest = item.key.partition(" ")
        label = label_of(rest)
        if first.lower() != word and label.field == "limit" and label_of(item.key).said:
            self.unread[item.line] = "of which sensor it is a limit is not told"
            return True
        if first.lower() != word or label.thing is not None or label.field not in ("status", "limit"):
            self.heated = None
            return False
        if label.field != "status" and _CELSIUS.fullmatch(item.value or "") is None:
            self.heated = None
            return False
        record.add(Label("ignored") if label.field == "status" and colours_only(item.value or "") else label, item)
        return True

    def _of_chip(self, thing: Thing, name: str, label: Label, item: Item) -> None:
        """A sensor of a chip, which is a reading of its own whatever else the chip tells of the same thing."""
        self.start(_Record(thing.kind, thing.slot, name, None, True)).add(label, item)
        self.current = None

    def _measured_below(self, at: int, item: Item) -> bool:
        """`Fan1(Tray 1, Front):  OK` and right below it `fan:9200 RPM   (max = 20000 RPM, min = 3000 RPM)`: one sensor."""
        kind = _BARE_KINDS.get(item.key.lower())
        above = self.items[at - 1] if at else None
        if kind is None or above is None or above.line != item.line - 1 or condition_of(above.value or "") is None:
            return False
        thing = thing_of(above.key)
        found = _BOUNDS.match(item.value or "")
        value = found["value"] if found is not None else item.value or ""
        if not value[:1].isdigit() and value[:1] not in "+-":
            return False
        if kind == TEMP and thing is None and (self.current is None or self.current.kind is None):
            record = _Record(TEMP, None, above.key.split("(")[0].strip())
            self.start(record)
            record.add(STATUS, above)
            self.unread.pop(above.line, None)
        elif (
            thing is not None
            and self.records
            and kind in (thing.kind, self.records[-1].kind)
            and self.records[-1].lines[-1:] == [above.line]
        ):
            record = self.records[-1]
        else:
            return False
        field, dimension = ("value", "temperature") if kind == TEMP else ("speed", "speed")
        record.add(Label(field, dimension=dimension), item._replace(value=value, end=item.start + len(value)))
        if found is not None:
            self._limits(record, item, found)
        self.current = None
        return True

    def _with_verdict(self, item: Item, found: re.Match[str]) -> None:
        """`INLET_TEMP (0x1) : 24.50 C | (ok)`: each line is a sensor of its own, with its number and its state."""
        name = _NUMBERED_IN_HEX.sub("", item.key).strip()
        record = _Record(None, None, name)
        record.lines.append(item.line)
        record.places = [
            (field, item.line, item.start + found.start(part), item.start + found.end(part))
            for field, part in (("value", "value"), ("status", "word"))
        ]
        record.heads = [(item.key, "name")]
        self.start(record)
        self.current = None
        value = found["value"].strip()
        unit = None
        if is_blank(value):
            said = label_of(name)
            unit = said.unit or {"temperature": "C", "speed": "rpm", "voltage": "V"}.get(said.dimension or "")
            value = ""
        try:
            if unit is None and not value:
                raise Unplaced("no value stands there")
            read = read_cell(value, None)
            if value and (len(read.quantities) != 1 or read.words):
                raise Unplaced(f"`{value}` is not one value")
            own = unit if unit is not None or not value else _unit_behind(value)
            limits = [
                Entry(label_of(m["name"])._replace(unit=own), m["value"], m["name"])
                for m in _SHORT_BOUND.finditer(found["limits"])
                if not is_blank(m["value"])
            ]
            self.finished_ahead[id(record)] = sensor_reading(
                name, value, unit, [Entry(STATUS, found["word"], "status")], limits
            )
        except Unplaced as reason:
            self.refused[id(record)] = str(reason)

    def _told_sensor(self, item: Item) -> bool:
        """`Temp sensor 1:  ok   26 C`: a name, one temperature, and a word beyond doubt, in any order."""
        value = _PLACE_BEHIND.sub("", item.value or "")
        if (
            self.kind() not in (None, TEMP)
            or not (BETWEEN_PHRASES.search(value) or "(" in value)
            or set(words_of(item.key)) & (FOREIGN | _NOT_AIR)
            or (set(words_of(item.key)) <= _WHOLE_HEAT and self._named_again(item.key))
        ):
            return False
        bounds = _BOUNDS.match(value) or _BOUNDS_BY_WORDS.match(value)
        if (
            bounds is not None
            and (bounds["word"] is None or condition_of(bounds["word"]) is not None)
            and bounds["more"] is None
            and (_BOUND.match(bounds["bounds"]) is not None or _range_or_limits(bounds["bounds"]))
        ):
            value = bounds["value"]
        else:
            bounds = None
        phrases = phrases_of(value)
        if phrases is None or any(label.field not in ("status", "value", "limit", "ignored") for label, _ in phrases):
            return False
        values = [said for label, said in phrases if label.field == "value"]
        if len(values) != 1 or CELSIUS_FIRST.match(values[0]) is None:
            return False
        if self.kind() is None and not set(words_of(item.key)) & _OF_HEAT:
            return False
        record = self.start(_Record(TEMP, None, _STATUS_BEHIND.sub("", item.key)))
        for label, said in phrases:
            record.add(
                label._replace(dimension="temperature") if label.field == "value" else label, item._replace(value=said)
            )
        if bounds is not None:
            self._limits(record, item, bounds)
        self.current = None
        return True

    def _named_again(self, key: str) -> bool:
        """Whether another chip names a sensor so, too."""
        if not self.counts:
            for item in self.items:
                self.counts[item.key] = self.counts.get(item.key, 0) + 1
        return self.counts.get(key, 0) > 1

    def _plain_sensor(self, item: Item) -> bool:
        """A key of no known meaning with a temperature or a speed: the key is the sensor's name, under such a heading."""
        of_chip = any(s.chip for s in self.scopes)
        if (self.kind() != TEMP and not of_chip and not self._limited_heat(item)) or len(item.key) > 40:
            return False
        if (read_at := _READ_AT.match(item.value or "")) is not None:
            item = item._replace(value=read_at["value"], start=item.start + read_at.start("value"))
        bare = _BOUNDS_BY_WORDS.match(item.value or "")
        figure = bare["value"].strip() if bare is not None else item.value or ""
        unit = self._degrees() if BARE_FIGURE.fullmatch(figure) else None
        if unit is not None and (
            not item.key[:1].isalpha() or SUM.match(item.key) or set(words_of(item.key)) & FOREIGN
        ):
            return False
        try:
            read = read_cell(figure, unit)
        except Unplaced:
            return False
        if len(read.quantities) != 1 or read.quantities[0].unit != "Cel":
            return False
        member = self.member()
        record = _Record(TEMP, None, f"Switch {member} {item.key}" if member else item.key)
        self.start(record)
        self._with_bounds(record, Label("value", unit=unit, dimension="temperature"), item)
        self.current = None
        return True

    def _degrees(self) -> str | None:
        """The unit that a heading above tells for what stands below it, as `Board temperatures (C)` does."""
        scope = next((s for s in reversed(self.scopes) if s.kind), None)
        if scope is None or scope.kind != TEMP or scope.record is not None or set(words_of(scope.word)) & FOREIGN:
            return None
        label = label_of(scope.word)
        return label.unit if label.field == "value" and label.unit in ("C", "F") else None

    def _limited_heat(self, item: Item) -> bool:
        """`t_in: 22.5C (warn 45 crit 55) ok`: degrees, beside limits by their names."""
        found = _BOUNDS_BY_WORDS.match(item.value or "")
        return (
            found is not None
            and self.kind() is None
            and not set(words_of(item.key)) & (FOREIGN | _NOT_AIR)
            and _CELSIUS.match(found["value"]) is not None
            and _RANGE.fullmatch(found["bounds"]) is None
            and _range_or_limits(found["bounds"])
        )

    finished_ahead: dict[int, AnyReading]
    refused: dict[int, str]

    def finished(self) -> ReadList:
        made: list[Made] = []
        alike = self._alike()
        lost: set[int] = set()
        for record in self.records:
            lines = tuple(dict.fromkeys(record.lines))
            if id(record) in self.refused:
                self.unread.update(dict.fromkeys(lines, self.refused[id(record)]))
                lost.update(lines)
                continue
            if (ahead := self.finished_ahead.get(id(record))) is not None:
                if record.member and ahead.kind == "temperature" and (ahead.unit, ahead.name) in alike:
                    ahead = ahead.model_copy(update={"name": f"{record.member} {ahead.name}"})
                made.append(Made(ahead, lines, tuple(record.places), tuple(record.heads)))
                self.used.update(lines)
                continue
            if not record.entries:
                for line in lines:
                    self.unread.setdefault(line, "nothing is told of it")
                continue
            if record.sensor and (heat := self._heat_beside(record)) is not None:
                record, others = heat
                self.unread.update(dict.fromkeys(others, "what it is about does not stand there"))
                lost.update(others)
                lines = tuple(dict.fromkeys(record.lines))
            try:
                if not record.sure:
                    raise Unplaced("a limit of it is not understood")
                if (again := _told_again(record)) is not None:
                    raise Unplaced(f"`{again}` stands there twice, of one thing or of two")
                aside: list[AnyReading] = []
                reading = self._reading(record, aside)
            except Unplaced as reason:
                for line in lines:
                    self.unread.setdefault(line, str(reason))
                lost.update(lines)
                continue
            if record.member and reading.kind == "temperature" and (reading.unit, reading.name) in alike:
                reading = reading.model_copy(update={"name": f"{record.member} {reading.name}"})
            made.append(Made(reading, lines, tuple(record.places), tuple(record.heads)))
            made.extend(Made(fact, lines, (), ()) for fact in aside)
            if reading.kind == "power_supply" and reading.unit is not None and reading.name is None:
                made.extend(_sensors_within(record, reading.unit))
            self.used.update(lines)
        self.used -= lost  # what else stands on such a line was read
        self._leave_beside()
        return ReadList(tuple(made), frozenset(self.used), self.unread)

    def _heat_beside(self, record: _Record) -> tuple[_Record, set[int]] | None:
        """The temperature that is told, with its unit, among the numbers and the type of a card; and the other lines."""
        heats = [e for e in record.entries if e.label.field == "value" and e.label.dimension == "temperature"]
        named = any(e.label.field in ("serial", "part") and not is_blank(e.text) for e in record.entries)
        if len(heats) != 1 or not named or not record.sure or len(record.entries) != len(record.places):
            return None
        heat = heats[0]
        if heat.label.said or _CELSIUS.fullmatch(heat.text) is None or not set(words_of(heat.head)) <= _HOW_HOT:
            return None
        alone = _Record(TEMP, None, _words_before(heat.head))
        for entry, place in zip(record.entries, record.places, strict=True):
            if entry is heat or (entry.label.field == "limit" and set(words_of(entry.head)) & _HEAT_WORDS):
                alone.entries.append(entry)
                alone.places.append(place)
                alone.lines.append(place[1])
                alone.heads.append((entry.head, entry.label.field))
        return alone, set(record.lines) - set(alone.lines)

    def _leave_beside(self) -> None:
        """Leaves a line of several keys unread where one of them is in no record."""
        many = {a.line for a, b in pairwise(self.items) if a.line == b.line} & self.used
        if not many:
            return
        told = {(line, start) for record in self.records for _, line, start, _ in record.places}
        for item in self.items:
            if (
                item.line in many
                and item.value
                and not any((item.line, at) in told for at in range(item.start, item.end))
            ):
                self.used.discard(item.line)
                self.unread.setdefault(
                    item.line, f"`{item.key}: {item.value}` stands there, too, and is not understood"
                )

    def _bare_of_supply(self, record: _Record) -> bool:
        """`13 PS1 VIN  alarm=0  value=230`: a sensor of a supply, whose name alone tells what it measures."""
        if record.kind != PSU or not record.name or not record.slot:
            return False
        figures = [e for e in record.entries if e.label.field not in ("limit", "status", "flag", "ignored", "unknown")]
        return (
            len(figures) == 1
            and figures[0].label.field == "value"
            and figures[0].label.unit is None
            and BARE_FIGURE.fullmatch(figures[0].text.strip()) is not None
            and unit_of_name(record.name, figures[0].text.strip()) is not None
        )

    def _unit_of_others(self, record: _Record, value: Entry) -> str | None:
        """Turns a minute for the bare nought of a fan, where the other fans of the list can only tell those."""
        thing = thing_of(record.name or "")
        if thing is None or thing.kind != FAN or value.text.strip() != "0":
            return None
        if (told := self.fan_figures.get(value.head)) is None:
            told = self.fan_figures[value.head] = [
                float(e.text)
                for other in self.records
                if (fan := thing_of(other.name or "")) is not None and fan.kind == FAN
                for e in other.entries
                if e.head == value.head and e.label.unit is None and BARE_FIGURE.fullmatch(e.text)
            ]
        if (known := self.only_turns.get(value.head)) is None:
            known = bool(told) and max(told) > 250 and all(t > 250 or t == 0 for t in told)
            self.only_turns[value.head] = known
        return "rpm" if known else None

    def _part_of_chassis(self, record: _Record) -> AnyReading | None:
        """A module that a list of parts names with its numbers, where supplies or fans are listed so, too."""
        told = {e.label.field: e.text for e in record.entries if not is_blank(e.text)}
        part = told.get("part") or told.get("model")
        if not record.name or part is None or any(f not in _OF_A_PART for f in told) or " " in part:
            return None
        fields = {e.label.field for e in record.entries}
        if self.part_fields is None:
            self.part_fields = {
                frozenset({e.label.field for e in r.entries} | {"description"})
                for r in self.records
                if r.kind in (PSU, FAN)
                or any(e.label.field == "description" and thing_of(e.text) is not None for e in r.entries)
            }
        if "serial" not in fields or not any(fields <= alike for alike in self.part_fields):
            return None
        return Inventory(
            name=record.name, serial=told.get("serial"), part_number=part, description=told.get("description")
        )

    def _alike(self) -> set[tuple[str | None, str | None]]:
        """The names of sensors that stand below more than one member."""
        below: dict[str | None, set[str]] = {}
        for record in self.records:
            ahead = self.finished_ahead.get(id(record))
            if record.member and (record.kind == TEMP or (ahead is not None and ahead.kind == "temperature")):
                below.setdefault(record.name, set()).add(record.member)
        return {(None, name) for name, members in below.items() if len(members) > 1}

    def _reading(self, record: _Record, aside: list[AnyReading]) -> AnyReading:
        kind = record.kind
        if (record.name or "").lower() in _TRANSPARENT:
            raise Unplaced(f"`{record.name}` is no name")
        if kind is None and set(words_of(record.name or "")) & _HAS_A_STATE:
            # `drive 1   state: loaded   temp: 39 C`: the state is of the drive, and not of its sensor
            record.entries = [e for e in record.entries if e.label.field != "status" or e.label.words & _HEAT_WORDS]
        told = [e for e in record.entries if e.label.field == "units"]
        if len(told) == 1 and (unit := unit_word(told[0].text)) is not None:
            record.entries = [
                e._replace(label=e.label._replace(unit=unit))
                if e.label.field in ("value", "current", "limit") and e.label.unit is None
                else e
                for e in record.entries
                if e is not told[0]
            ]
        if (record.sensor and kind != TEMP) or self._bare_of_supply(record):
            value = next(
                (e for e in record.entries if e.label.field in ("value", "speed", "quantity", "current")), None
            )
            if value is not None and record.name:
                others = [e for e in record.entries if e is not value]
                limits = [e for e in others if e.label.field == "limit"]
                status = [e for e in others if e.label.field in ("status", "flag")]
                for e in others:
                    if e.label.field not in ("limit", "status", "flag", "ignored", "unknown", "type", "presence"):
                        raise Unplaced(f"`{e.head}` beside a sensor's value")
                    if e.label.field == "unknown" and condition_of(e.text) not in (None, Condition.OK):
                        raise Unplaced(f"`{e.text}` under `{e.head}` is not understood")
                if value.label.unit is None and BARE_FIGURE.fullmatch(value.text.strip()):
                    told_unit = unit_of_name(record.name, value.text.strip()) or self._unit_of_others(record, value)
                    value = value._replace(label=value.label._replace(unit=told_unit))
                read = read_cell(value.text, value.label.unit)
                if len(read.quantities) != 1:
                    raise Unplaced(f"`{value.text}` is not one value")
                unit = value.label.unit
                if unit is None and (
                    found := re.search(r"[A-Za-z%°].*\Z", re.sub(r"\([^)]*\)", " ", value.text).strip())
                ):
                    unit = unit_word(found.group())
                text = value.text
                limits = [e._replace(label=e.label._replace(unit=e.label.unit or unit)) for e in limits]
                return sensor_reading(record.name, text, unit, status, limits)
        outputs = [e for e in record.entries if _OUTPUT_NO.fullmatch(e.head)] if kind == PSU and record.slot else []
        if len(outputs) > 1:
            for e in outputs:
                aside.extend(_facts_of_output(e, f"psu-{record.slot} {e.head.lower()}"))
            record.entries = [e for e in record.entries if e not in outputs]
        if kind == FAN:
            record.entries = [
                e._replace(label=e.label._replace(unit="rpm", dimension="speed"))
                if e.label.field in ("value", "speed") and e.label.unit is None and self._unit_of_others(record, e)
                else e
                for e in record.entries
            ]
        if kind is None and (part := self._part_of_chassis(record)) is not None:
            return part
        if kind is None and record.sensor:
            raise Unplaced("what it measures is not told")
        return reading_of(
            record.entries, kind, record.slot, record.name, record.inside, point=record.point, aside=aside
        )


def _told_again(record: _Record) -> str | None:
    """The key under which a state of the thing is told far apart: those may be two things of one name."""
    seen: dict[tuple[str, str, str | None], int] = {}
    for entry, (_, line, _, _) in zip(record.entries, record.places, strict=False):
        label = entry.label
        if label.field in ("status", "presence", "thing") and not is_blank(entry.text):
            key = (entry.head, label.field, label.side)
            if line - seen.get(key, line) > _FAR:
                return entry.head
            seen[key] = line
    return None


def _without_notes(value: str) -> str:
    """A value without what is said beside it of the part's plan: `OK (1 feed expected, 1 feed connected)`."""
    if (zone := _BY_ZONE.fullmatch(value)) is not None:
        return f"{zone['power']}, {zone['current']}, {zone['voltage']}"
    if (spot := _AT_A_SPOT.fullmatch(value)) is not None:
        return spot["value"]
    return _PLANNED.sub("", value)


def _heads_inputs(text: str) -> bool:
    """Whether a heading such as `Power Input:` says that what stands below it is told of what comes in."""
    words = set(words_of(text))
    return "power" in words and bool(words & COMES_IN) and len(words) <= 3 and not any(ch.isdigit() for ch in text)


def _facts_of_output(entry: Entry, of: str) -> list[AnyReading]:
    """The figures of one of several outputs of a supply, as facts of their own. Raises Unplaced."""
    read = read_cell(entry.text, None)
    dimensions = [DIMENSION.get(q.unit) for q in read.quantities]
    if read.words or len(set(dimensions)) != len(dimensions) or not set(dimensions) <= {"voltage", "current", "power"}:
        raise Unplaced(f"`{entry.text}` under `{entry.head}` is not understood")
    return [Device(name=f"{of} {d}", value=q) for d, q in zip(dimensions, read.quantities, strict=True)]


def _sensors_within(record: _Record, unit: str) -> list[Made]:
    """The temperature of a supply, which is a sensor within it."""
    heat = [e for e in record.entries if e.label.field == "value" and e.label.dimension == "temperature"]
    if len(heat) != 1 or not any(ch.isdigit() for ch in heat[0].text):
        return []
    line = next((n for field, n, _, _ in record.places if field == "value"), record.lines[0])
    name = _words_before(heat[0].head).split("(")[0].strip()
    reading = reading_of(heat, TEMP, None, name, unit.removeprefix("psu-"))
    return [Made(reading, (line,), (), ((heat[0].head, "value"),))]


def _range_or_limits(said: str) -> bool:
    """Whether what stands in brackets is a range, or begins with a limit by its name."""
    if _RANGE.fullmatch(said) is not None or _LIMITS_APART.fullmatch(said) is not None:
        return True
    first = _WORD_BOUND.match(said)
    return first is not None and label_of(first["name"] or first["name2"]).limit is not None


def _unit_behind(text: str) -> str | None:
    """The unit behind a figure: `+264.00 V`."""
    found = re.fullmatch(r"\s*[+-]?\d[\d.,]*\s*(\D+)", text)
    return unit_word(found[1]) if found is not None else None


def _is_status(text: str) -> bool:
    """Whether a text tells a condition, or at least a part of it says that the thing is there."""
    found, there = status_of(text)
    return condition_of(text) is not None or (there and "&" in text) or found not in (None, Condition.UNKNOWN)


def _one_temperature(text: str) -> bool:
    """Whether a text is one temperature with its unit, be it in two scales."""
    if CELSIUS_FIRST.match(text.replace("(", " (") + " ") is None:
        return False
    try:
        read = read_cell(text, None)
    except Unplaced:
        return False
    return len(read.quantities) == 1 and not read.words


def _has_value(record: _Record) -> bool:
    return any(e.label.field == "value" for e in record.entries)


_TAIL = re.compile(r"[ _-]*(?:value|reading|current|status|state|speed|rpm|\([^)]*\)|\[[^\]]*\])+\s*\Z", re.IGNORECASE)


def _words_before(key: str) -> str:
    """A key without the word at its end that says which field it is."""
    if " " not in key and "." in key:
        kept = [
            p
            for p in key.split(".")
            if p.lower() not in ("temp", "temperature", "sensor", "mc", "c", "value", "celsius")
        ]
        return " ".join(kept) or key
    text = key
    for _ in range(3):
        shorter = _TAIL.sub("", text).strip()
        if not shorter or shorter == text:
            break
        text = shorter
    return text


def read_list(block: Pairs, heading: str = "", goes_on: int = 0) -> ReadList:
    """What a list of keys and values says of supplies, fans and sensors.

    `goes_on`: how far a line right below the list is indented that did not go into it, or 0. What stands further left
    as a heading is then not wholly read.
    """
    titles = [t.text for t in block.titles if 0 < block.first_line - t.line <= 6]
    if heading:
        titles.insert(0, heading)
    reader = _List(block, titles)
    reader.finished_ahead = {}
    reader.refused = {}
    reader.goes_on = goes_on
    return reader.read()
