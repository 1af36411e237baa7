"""JSON to readings: which objects are things, and what their keys mean.

Keys are read with the same vocabulary as printed labels, since the open models (RFC 8348, OpenConfig
platform, Redfish thermal and power) and makers' own JSON are made of the same words.
"""

import re
from collections.abc import Iterator
from contextlib import suppress
from typing import NamedTuple

from consolecheck.reading.fixed_point import fixed_point, float32
from consolecheck.reading.inference.components import component_of, read_components
from consolecheck.reading.inference.grids import sensor_reading
from consolecheck.reading.inference.lists import Made, raw_label
from consolecheck.reading.inference.record import Entry, reading_of
from consolecheck.reading.inference.values import Unplaced, condition_of, is_blank, plain, unit_word
from consolecheck.reading.inference.words import (
    FAN,
    OF_UNIT,
    PSU,
    TEMP,
    Label,
    Thing,
    label_of,
    placed_in,
    slot_alone,
    thing_of,
    words_of,
)
from consolecheck.reading.table import Arr, Leaf, Obj, Tree
from consolecheck.records.readings import AnyReading, Condition
from consolecheck.records.units import UnreadableQuantity

_FOREIGN = frozenset(
    """
    interface interfaces transceiver transceivers optics optical sfp qsfp xcvr port ports lane lanes vlan vlans
    route routes process processes memory disk lldp bgp ospf mac arp neighbors neighbours session sessions users
    channel channels poe
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_MEASURING = frozenset(("value", "current", "speed", "percent", "quantity", "capacity", "limit"))
_GROUPS = frozenset(("redundancy",))
"""What speaks of several supplies or fans together."""
_ELECTRIC = frozenset(("V", "A", "W"))
_STATISTICS = frozenset(("avg", "min", "max", "interval", "min-time", "max-time"))
"""What stands beside `instant`: of a time that went by, as openconfig-types has it (avg-min-max-instant-stats)."""
_TYPES = {"celsius": "C", "volts-ac": "V", "volts-dc": "V", "amperes": "A", "watts": "W", "rpm": "rpm", "hertz": "Hz"}


class ReadTree(NamedTuple):
    made: tuple[Made, ...]
    used: frozenset[int]
    unread: dict[int, str]


class _Walk:
    def __init__(self) -> None:
        self.made: list[Made] = []
        self.used: set[int] = set()
        self.unread: dict[int, str] = {}
        self.taken: set[int] = set()
        """Which leaves were read, by their identity: several may stand on one line."""
        self.described: dict[int, bool] = {}
        """Which of `made` in the list at hand were named by their description, and whether the slot beside it is another's."""
        self.dates: list[Leaf] = []
        """Leaves that tell only when something was, by what it was read, or that what was asked was carried out."""

    def value(self, value: object, key: str, hint: str | None) -> None:
        """Everything below a key; `hint` is what the keys above it say it is about."""
        words = set(words_of(key))
        if (words & _FOREIGN and not _thing(key) and not _of_hwmon(value)) or words & _GROUPS:
            return
        hint = _hint(key) or hint
        if isinstance(value, Arr):
            if self.components(value):
                return
            first = len(self.made)
            for member in value:
                if isinstance(member, Obj):
                    self.thing(member, "", hint)
                elif isinstance(member, Arr):
                    self.value(member, key, hint)
            self.leave_slots_of_cards(first)
        elif isinstance(value, Obj):
            if _only_degrees(value, words):
                for name, leaf in value:
                    if isinstance(leaf, Leaf):
                        self.record([("temperature", leaf)], str(name), TEMP)
                return
            only = value[0] if len(value) == 1 and hint is not None else None
            if _collection(value) or (
                only is not None and isinstance(only[1], Obj) and label_of(only[0]).field in ("unknown", "name", "side")
            ):
                for name, member in value:
                    if isinstance(member, Obj):
                        if set(words_of(str(name))) & _FOREIGN and not _thing(str(name)) and not _of_hwmon(member):
                            continue
                        inner = _hint(str(name)) or hint
                        below = set(words_of(str(name)))
                        if member and (all(isinstance(v, Obj) for _, v in member) or _only_degrees(member, below)):
                            self.value(member, str(name), inner)
                        else:
                            self.thing(member, str(name), inner)
                return
            self.thing(value, key, hint)

    def leave_slots_of_cards(self, first: int) -> None:
        """Leaves unread what has only a slot, where those beside it have slots that are of their card and no names of theirs."""
        named = {at: of_card for at, of_card in self.described.items() if at >= first}
        of_cards = {self.made[at].reading.kind for at, of_card in named.items() if of_card}
        units = {(self.made[at].reading.kind, self.made[at].reading.unit) for at in named}
        for at in reversed(range(first, len(self.made)) if named else ()):
            made = self.made[at]
            kind, unit, name = made.reading.kind, made.reading.unit, made.reading.name
            by_slot = at not in named and (name is None or (kind == "temperature" and name.startswith("sensor ")))
            if by_slot and (kind in of_cards or (unit is not None and (kind, unit) in units)):
                del self.made[at]
                self.unread.update(dict.fromkeys(made.lines, "which one it is does not stand there"))
        self.described = {at: of_card for at, of_card in self.described.items() if at < first}

    def components(self, listed: Arr) -> bool:
        """Whether a list is of components as RFC 8348 has them; then they are read."""
        found = [component_of(member) for member in listed]
        known = [c for c in found if c is not None]
        if not known or len(known) < len(found):
            return False
        read = read_components(known)
        self.made.extend(read.made)
        self.used |= read.used
        self.taken.update(id(leaf) for leaf in _leaves(listed) if leaf.line in read.used)
        for line, why in read.unread.items():
            self.unread.setdefault(line, why)
        return True

    def thing(self, obj: Obj, key: str, hint: str | None) -> None:
        """An object: its own scalars with those of nested objects make one thing; what else it holds is walked."""
        leaves: list[tuple[str, Leaf]] = []
        deeper: list[tuple[str, object]] = []
        _flatten(obj, "", leaves, deeper, 0)
        if leaves and {re.split("[ :]", path)[-1] for path, _ in leaves} <= {"last-change", "Adapter"}:
            # RFC 8348: when the list of components last changed; and by what a chip of the kernel is reached.
            self.dates.extend(leaf for _, leaf in leaves)
        elif leaves:
            self.record(leaves, key, hint)
        for name, member in deeper:
            self.value(member, name, hint)

    def record(self, leaves: list[tuple[str, Leaf]], key: str, hint: str | None) -> None:
        entries: list[Entry] = []
        lines: list[int] = []
        texts: list[str] = []
        heads: list[tuple[str, str]] = []
        name: str | None = None
        slot: str | None = None
        kind = hint
        unit: str | None = None
        typed: dict[str, str] = {}
        printed = ""
        foreign = False
        described: int | None = None
        by_description = of_card = False
        instants = {path.rpartition(" ")[0] for path, _ in leaves if path.split(" ")[-1].split(":")[-1] == "instant"}
        for path, leaf in leaves:
            last = path.split(" ")[-1].split(":")[-1].lower()
            text = "" if leaf.text == "null" and not leaf.quoted else leaf.text
            lines.append(leaf.line)
            if last in ("activation", "dwelltime", "hysteresisreading", "hysteresisduration", "hyst", "hysteresis"):
                continue
            if last in _SAID_AGAIN:
                continue
            if last.endswith(("uri", "href")) and text[:1] in ("/", "h"):
                heads.append((path, "set aside"))
                continue
            if last == "alarm-threshold" and any(p.endswith("alarm-status") for p, _ in leaves):
                heads.append((path, "set aside"))  # openconfig-platform: the bound that was crossed, on whichever side
                continue
            if last in _STATISTICS and path.rpartition(" ")[0] in instants:
                heads.append((path, "set aside"))
                continue
            if (
                last in ("name", "fanname", "sensor", "sensor-name", "label", "sensorname", "psuname")
                and " " not in path
            ) or (last in ("fan", "psu", "power_supply") and " " not in path and leaf.quoted and _thing(text)):
                if name is None or last == "name":
                    name = text
                heads.append((path, "name"))
                continue
            if (
                last
                in (
                    "slot",
                    "index",
                    "id",
                    "memberid",
                    "number",
                    "bay",
                    "position",
                    "unit",
                    "psu_id",
                    "fan_id",
                    "psnum",
                    "psunum",
                    "fannum",
                    "instance",
                )
                and " " not in path
                and (slot_alone(text) or _thing(text))
            ):
                if unit_word(text) is not None and last == "unit":
                    unit = unit_word(text)
                    continue
                named = _thing(text)
                slot = slot or (named.slot if named is not None else slot_alone(text))
                if kind is None and named is not None and named.slot and not named.inside and not named.rest.strip():
                    kind = named.kind  # `"slot": "PSU1"`
                if named is not None and named.rest.strip() and name is None:
                    name = text  # `"id": "PSU2 temp"`
                heads.append((path, "slot"))
                continue
            if last == "id" and " " not in path and leaf.quoted and name is None:
                name = text
                heads.append((path, "name"))
                continue
            if last in ("units", "unit", "readingunits", "uom"):
                unit = unit_word(text) or unit
                heads.append((path, "units"))
                continue
            if last in (
                "value-type",
                "value-scale",
                "value-precision",
                "value-timestamp",
                "units-display",
                "value-update-rate",
            ):
                typed[last] = text
                heads.append((path, "set aside"))
                continue
            if last == "readingtype" and leaf.quoted:  # Redfish, schema Sensor
                kind = kind or _hint(text)
                heads.append((path, "kind"))
                continue
            if (
                last in ("class", "type", "kind", "category", "sensor_type", "sensor-type") and leaf.quoted
            ) or last == "physicalcontext":
                said = _hint(text.split(":")[-1].replace("_", " ").replace("-", " "))
                if last != "physicalcontext" and said is not None:
                    kind = said
                elif set(words_of(text)) & _FOREIGN:
                    foreign = True
                if said is not None or text.split(":")[-1].upper() not in ("AC", "DC"):
                    heads.append((path, "kind"))
                    continue
            if last in ("oper-state", "oper-status", "operational-state") and plain(text.split(":")[-1]) in (
                "enabled",
                "active",
            ):
                # RFC 8348: `enabled` is partially or fully operable. OpenConfig platform: `ACTIVE` is operating.
                printed, text = text.split(":")[-1], "operational"
            label = _label(path)
            if last == "lastpoweroutputwatts":  # Redfish, schema Power: the average that it puts out
                label = Label("quantity", side="output", dimension="power", unit="W")
            if label.field == "limit" and label.limit is not None and label.limit.side and text.lower() in _BOOLEAN:
                heads.append((path, "set aside"))  # what a yes or a no must be at least
                continue
            if label.field == "description" and " " not in path:
                described = len(entries)
            if (flag := _RAW_FLAG.fullmatch(last)) is not None:
                text = text.rstrip("0").rstrip(".") if "." in text else text
                if text == "0":  # one that is clear says nothing of the others
                    heads.append((path, "set aside"))
                    continue
                severe = flag[2] == "fault" or (flag[1] or "").startswith(("crit", "lcrit", "emergency"))
                label = Label("flag", words=frozenset(("fault" if severe else "warning",)))
            if not leaf.quoted and text in ("true", "false"):
                if last == "empty":  # openconfig-platform: the slot is empty
                    label, text = Label("presence"), "no" if text == "true" else "yes"
                elif last == "alarm-status":  # openconfig-platform: whether an alarm stands
                    label = Label("flag", words=frozenset(("alarm",)))
            elif leaf.quoted and (identity := _IDENTITY.fullmatch(text)) is not None:
                text = identity[1]
                if last == "alarm-severity":
                    label = Label("status")
            if label.field == "status" and leaf.quoted and condition_of(text) is None:
                spaced = _CAMEL.sub(" ", text)  # `LossOfInput`
                text = spaced if condition_of(spaced) is not None else text
            if leaf.quoted and label.field in _MEASURING:
                with suppress(UnreadableQuantity):  # then it is no figure, as any other text
                    text = float32(text)  # OpenConfig's ieeefloat32, which RFC 7951 (section 6.6) writes in base64
            entries.append(Entry(label, text, path))
            if entries[-1].label.field not in ("name", "slot", "serial", "part", "model", "description"):
                texts.append(text)
            heads.append((path, entries[-1].label.field))
        if name is None and described is not None and _calls(entries[described].text, kind, slot):
            name = entries.pop(described).text
            by_description = slot is not None
            of_card = (named := _thing(name)) is None or named.slot != slot
            heads = [(path, "name" if label_of(path).field == "description" else field) for path, field in heads]
        if name is not None and set(words_of(name)) & _GROUPS:
            return
        if name is None and key and slot is None:
            heat = any(e.label.dimension == "temperature" and e.label.field == "value" for e in entries)
            name = key if _thing(key) or slot_alone(key) or hint or heat else None
        if foreign or (name is not None and set(words_of(name)) & _FOREIGN and _thing(name) is None and kind != TEMP):
            return
        thing = _thing(name) if name else None
        if kind is None and thing is not None:
            kind = thing.kind
        if kind is None and unit == "C" and name:
            kind = TEMP
        telling = [e for e in entries if e.label.field not in ("unknown", "ignored", "name", "slot", "description")]
        if (
            kind is None
            and not (telling and name and typed)
            and not any(e.label.dimension in ("temperature", "speed") for e in telling)
        ):
            told = ((leaf, f"{_SPACED.sub(' ', path)} {leaf.text}") for path, leaf in leaves)
            self.dates.extend(leaf for leaf, said in told if _ANSWERED.fullmatch(said) is not None)
            return
        if not telling:
            return
        if kind in (PSU, FAN):  # that its temperature gives no alarm is no word on the whole
            entries = [
                e
                for e in entries
                if not (
                    e.label.field == "flag" and e.label.words == {"alarm"} and "temp" in e.head and e.text == "false"
                )
            ]
        if any(
            e.label.field == "status" and e.label.side == "input" and condition_of(e.text) is Condition.NO_INPUT
            for e in entries
        ):
            # Without input a supply cannot be well: what its health says then is told by that.
            entries = [e for e in entries if not (e.label.field == "status" and e.label.words & {"health"})]
        aside: list[AnyReading] = []
        if kind == FAN and (doubted := _speed_or_share(entries, unit)) is not None:
            entries = [e for e in entries if e is not doubted]
            why = f"`{doubted.text}` under `{doubted.head}` could be a speed or a share of it"
            self.unread.update((leaf.line, why) for path, leaf in leaves if path == doubted.head)
            leaves = [(path, leaf) for path, leaf in leaves if path != doubted.head]
            heads = [(path, "set aside" if path == doubted.head else field) for path, field in heads]
            lines = [leaf.line for _, leaf in leaves]
            texts.remove(doubted.text)
        try:
            reading = self.reading(entries, kind, slot, name, unit, typed, aside)
            if printed and reading.status_text == "operational":
                reading = reading.model_copy(update={"status_text": printed})
        except Unplaced as reason:
            for line in lines:
                self.unread.setdefault(line, str(reason))
            return
        if by_description:
            self.described[len(self.made)] = of_card
        self.made.append(Made(reading, tuple(dict.fromkeys(lines)), (), tuple(heads), tuple(texts)))
        self.made.extend(Made(fact, tuple(dict.fromkeys(lines)), (), ()) for fact in aside)
        if (within := reading.unit or "").startswith("psu-") and reading.kind != "fan" and reading.name is None:
            self.made.extend(_heat_within(entries, lines, within))
        self.used.update(lines)
        self.taken.update(id(leaf) for _, leaf in leaves)

    def reading(
        self,
        entries: list[Entry],
        kind: str | None,
        slot: str | None,
        name: str | None,
        unit: str | None,
        typed: dict[str, str],
        aside: list[AnyReading],
    ) -> AnyReading:
        thing = _thing(name) if name else None
        if typed.get("value-type"):
            unwell = (plain(e.text) for e in entries if plain(e.text) in ("unavailable", "nonoperational"))
            entries = [_scaled(e, typed, next(unwell, "ok")) for e in entries]
            unit = _TYPES.get(plain(typed["value-type"]))
            if unit is None:
                raise Unplaced(f"`{typed['value-type']}` is no kind of value that is known")
        if unit is not None:
            entries = [
                e._replace(label=e.label._replace(unit=e.label.unit or unit))
                if e.label.field in ("value", "current", "limit", "speed")
                else e
                for e in entries
            ]
        if kind == FAN:
            entries = [
                e._replace(label=e.label._replace(field="percent" if unit == "%" else "speed", dimension=None))
                if e.label.field in ("value", "current") and e.label.dimension is None
                else e
                for e in entries
            ]
        measured = [
            e for e in entries if e.label.field in ("value", "current", "speed", "quantity") and not is_blank(e.text)
        ]
        if typed.get("value-type") and len(measured) == 1 and name:
            status = [e for e in entries if e.label.field == "status"]
            limits = [e for e in entries if e.label.field == "limit"]
            return sensor_reading(name, measured[0].text, unit, status, limits)
        if kind == TEMP:
            for e in entries:
                if e.label.field == "unknown" and e.text[:1].isdigit():
                    raise Unplaced(f"`{e.text}` under `{e.head}` is not understood")
            inside = thing.slot if thing is not None and thing.kind == PSU else None
            if not name and not slot:
                raise Unplaced("which sensor it is does not stand there")
            return reading_of(entries, TEMP, None, name or (f"sensor {slot}" if slot else None), inside)
        if thing is not None and thing.kind == FAN and thing.inside is not None and kind in (FAN, None):
            return reading_of(entries, FAN, None, name, thing.inside, point=True)
        if thing is not None and thing.kind == kind and thing.slot is not None:
            slot = thing.slot
            rest = thing.rest.strip(" -_")
            if kind == PSU and (side := label_of(name or "").side) is not None:
                # `PSU 1 Output Voltage`, and its reading: the name says of which side.
                entries = [
                    e._replace(label=e.label._replace(field="quantity", side=side, dimension=OF_UNIT[e.label.unit]))
                    if e.label.field in ("value", "quantity") and e.label.side is None and e.label.unit in _ELECTRIC
                    else e
                    for e in entries
                ]
            point = bool(rest) and (label_of(rest).field != "unknown" or (kind == FAN and len(rest) <= 12))
            return reading_of(entries, kind, slot, name, None, point=point, aside=aside)
        if slot is None and name is not None:
            slot = slot_alone(name)
        return reading_of(entries, kind, slot, name, None, rails=True, aside=aside)


def _speed_or_share(entries: list[Entry], unit: str | None) -> Entry | None:
    """Of a fan whose status is told, the one figure that could be turns or a share of them; a fan at zero is none."""
    speeds = [e for e in entries if e.label.field == "speed" and e.label.unit is None and _FEW.fullmatch(e.text)]
    told = any(e.label.field in ("status", "flag", "presence") and not is_blank(e.text) for e in entries)
    return speeds[0] if told and unit is None and len(speeds) == 1 and float(speeds[0].text) <= 250 else None


def _heat_within(entries: list[Entry], lines: list[int], unit: str) -> list[Made]:
    """The temperature of a supply, which is a sensor within it."""
    heat = [e for e in entries if e.label.field == "value" and e.label.dimension == "temperature"]
    if len(heat) != 1 or is_blank(heat[0].text):
        return []
    reading = reading_of(heat, TEMP, None, heat[0].head, unit.removeprefix("psu-"))
    return [Made(reading, tuple(dict.fromkeys(lines)), (), ((heat[0].head, "value"),))]


def _scaled(entry: Entry, typed: dict[str, str], status: str) -> Entry:
    """A value as RFC 8348 has it: an integer that means nothing without type, scale and digits behind its point."""
    if entry.label.field not in ("value", "current", "quantity"):
        return entry
    kind, scale, precision = (typed.get(name) for name in ("value-type", "value-scale", "value-precision"))
    try:
        found = fixed_point(entry.text, kind, scale, precision, status)
    except UnreadableQuantity as reason:
        raise Unplaced(str(reason)) from None
    return entry._replace(
        text=found[0] if found is not None else "", label=entry.label._replace(field="value", side=None, unit=None)
    )


_IDENTITY = re.compile(r"[a-z][a-z0-9-]*:([A-Z][A-Z0-9_]*)")
"""A name with the module that it is of (RFC 7951, section 6.8)."""
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_RAW_FLAG = re.compile(r"(?:in|fan|temp|power|curr)\d+(?:_([a-z]+))?_(alarm|fault)")
"""0 or 1 in the kernel's naming of sensors (its documentation: sysfs-interface)."""
_SAID_AGAIN = frozenset(("severity-of-bounds", "asked-for"))
"""Paths that `_flatten` gives to leaves which say nothing of their own."""
_CHIP = re.compile(r"\S+-(?:isa|i2c|pci|virtual|acpi|hid|spi|mdio|scsi|of)-\S+\s*")
"""A chip with its bus and address, as the tools of the kernel name it: `tps650-i2c-10-58` is no supply 650."""


def _thing(text: str) -> Thing | None:
    """The supply or fan that a key or a name tells, whatever the chip is called that measures it."""
    thing = thing_of(_CHIP.sub("", text, count=1) if "-" in text else text)
    if thing is not None and thing.slot is not None and (member := _OF_MEMBER.match(thing.rest)) is not None:
        return thing._replace(slot=placed_in(member["n"], thing.slot), rest=thing.rest[member.end() :])
    return thing


_OF_MEMBER = re.compile(r"(?:sw|switch|unit|member|stack)[ #_-]?(?P<n>\d{1,2})(?![\w.])[,: ]*", re.IGNORECASE)
"""`Switch#2, Fan#1`: a fan of the second member."""


_FEW = re.compile(r"[1-9]\d{0,2}(?:\.0+)?")
_BOOLEAN = frozenset(("true", "false"))
_ANSWERED = re.compile(
    r"(?:.* )?(?:response (?:status|type) success|status success|(?:return|error) code 0|result success)", re.IGNORECASE
)
"""What an answer says of itself: that what was asked was carried out, which is no state of any part."""


def _calls(description: str, kind: str | None, slot: str | None) -> bool:
    """Whether a description is the name of a thing, as `Fan #2 RPM` is beside the slot of the card that it is on."""
    thing = _thing(description)
    if thing is None:
        return kind == TEMP and slot is not None and " " in description and len(description) <= 48
    beside = re.sub(r"\([^()]*\)", "", thing.rest).strip()
    return (
        thing.slot is not None
        and thing.inside is None
        and kind in (None, thing.kind)
        and (not beside or label_of(beside).field in ("speed", "status", "thing"))
    )


_SUFFIX = re.compile(r"_([cvaw])\Z", re.IGNORECASE)
_SPACED = re.compile(r"[_.-]+")


def _label(path: str) -> Label:
    """What a key with those above it speaks of; the kernel's own names of sensors are known as such."""
    if (raw := raw_label(path.split(" ")[-1])) is not None:
        return raw
    path = _SUFFIX.sub(lambda m: f" ({m[1].upper()})", path)
    return label_of(
        _SPACED.sub(
            " ",
            path.replace("openconfig-platform-types:", "").split(":")[-1] if ":" in path else _SPACED.sub(" ", path),
        )
    )


def _hint(key: str) -> str | None:
    spaced = _SPACED.sub(" ", key.split(":")[-1])
    thing = _thing(spaced)
    if thing is not None:
        return thing.kind
    words = set(words_of(spaced))
    if words in ({"supply"}, {"supplies"}):
        return PSU
    if words & {"temperature", "temperatures", "thermals", "thermal"} or words & {"temp", "temps"}:
        return TEMP
    return None


def _only_degrees(obj: Obj, words: set[str]) -> bool:
    """Whether an object below `temp` or `temperatures` maps places to figures, as `{"asic": 58.5, "inlet": 23.5}` does."""
    return (
        bool(words)
        and words <= {"temp", "temps", "temperature", "temperatures"}
        and len(obj) > 1
        and all(isinstance(v, Leaf) and _FIGURE.fullmatch(v.text) is not None for _, v in obj)
        and all(label_of(str(k)).field in ("unknown", "side") and str(k)[:1].isalpha() for k, _ in obj)
    )


_FIGURE = re.compile(r"-?\d{1,3}(?:\.\d+)?")


def _collection(obj: Obj) -> bool:
    """Whether an object maps names to things of one kind."""
    if len(obj) < 1 or not all(isinstance(v, Obj) for _, v in obj):
        return False
    keys = [str(k) for k, _ in obj]
    if any(label_of(k).limit is not None for k in keys):
        return False
    if all(((t := _thing(k)) is not None and t.slot is not None) or slot_alone(k) is not None for k in keys):
        return True
    if len(obj) < 2:
        words = set(words_of(keys[0]))  # `TempSensorP2/1`, the only one there
        return "sensor" in words and bool(words & {"temp", "temperature"}) and any(w[0].isdigit() for w in words)
    shapes = {tuple(sorted(k for k, _ in v)) for _, v in obj if isinstance(v, Obj)}
    return len(shapes) == 1 or (
        any(set(words_of(k)) & {"psu", "fan", "power", "temperature", "fans", "psus", "supplies"} for k in keys)
        and len({_hint(k) for k in keys}) == len(keys)
    )


def _flatten(
    obj: Obj, prefix: str, leaves: list[tuple[str, Leaf]], deeper: list[tuple[str, object]], depth: int
) -> None:
    """The scalars of an object and of those within it that are no things of their own; `deeper` are the rest."""
    for key, value in obj:
        said = key.split(":")[-1]
        path = f"{prefix} {key}".strip()
        if isinstance(value, Leaf):
            if not key.startswith("@"):
                leaves.append((path, value))
        elif said.lower() == "config":  # what was asked for, which `state` tells as it is
            leaves.extend(("asked-for", leaf) for leaf in _leaves(value))
        elif isinstance(value, Arr) and "threshold" in said.lower():
            _severities(value, leaves)
        elif isinstance(value, Obj) and any(isinstance(v, Leaf) and raw_label(k) is not None for k, v in value):
            own = _thing(key)
            deeper.append((key if own is not None and own.slot else path, value))
        elif (
            isinstance(value, Obj)
            and depth < 5
            and value
            and not _collection(value)
            and not _only_degrees(value, set(words_of(said)))
            and (said.lower() == "state" or (not _named(value) and not _numbered_key(key)))
        ):
            inner = prefix if said.lower() in _TRANSPARENT else path
            _flatten(value, inner, leaves, deeper, depth + 1)
        else:
            deeper.append((path, value))


_TRANSPARENT = frozenset(("state", "sensor-data", "power-supply", "fan", "data", "attributes"))


def _severities(listed: Arr, leaves: list[tuple[str, Leaf]]) -> None:
    """A list of bounds by severity, as OpenConfig platform has it."""
    for member in listed:
        if not isinstance(member, Obj):
            continue
        inner: list[tuple[str, Leaf]] = []
        _flatten(member, "", inner, [], 0)
        leaves.extend(("severity-of-bounds", leaf) for path, leaf in inner if path.endswith("severity"))
        if len({leaf.text for path, leaf in inner if path.endswith("severity")}) > 1:
            continue  # its bounds are of neither
        severity = next((leaf.text.split(":")[-1] for path, leaf in inner if path.endswith("severity")), "")
        leaves.extend(
            (f"{severity.lower()} {path.split(' ')[-1].lower()} threshold", leaf)
            for path, leaf in inner
            if path.split(" ")[-1].lower() in ("lower", "upper")
        )


def _named(obj: Obj) -> bool:
    return any(str(k).lower() in ("name", "fanname", "memberid", "id", "index") for k, _ in obj)


def _numbered_key(key: str) -> bool:
    key = key.split(":")[-1]
    thing = _thing(key)
    return thing is not None and (thing.slot is not None or key.lower().endswith("s"))


def read_tree(tree: Tree) -> ReadTree:
    """What a JSON text says of supplies, fans and sensors. A line is used where all that stands on it was read."""
    walk = _Walk()
    echoes: list[Leaf] = []
    walk.value(_without_wraps(tree.root, echoes), "", None)
    if walk.made:
        walk.used.update(leaf.line for leaf in echoes)
        walk.taken.update(id(leaf) for leaf in echoes)
        walk.used.update(leaf.line for leaf in walk.dates)
        walk.taken.update(id(leaf) for leaf in walk.dates)
    left = {leaf.line for leaf in _leaves(tree.root) if id(leaf) not in walk.taken}
    return ReadTree(tuple(walk.made), frozenset(walk.used - left - walk.unread.keys()), walk.unread)


_HWMON = re.compile(r"temp\d{1,3}_input\Z")


def _of_hwmon(value: object) -> bool:
    """Whether a thing is a temperature by the kernel's naming (Documentation/hwmon/sysfs-interface), whatever it is called."""
    return isinstance(value, Obj) and any(_HWMON.match(str(key)) is not None for key, _ in value)


def _without_wraps(value: object, echoes: list[Leaf], depth: int = 0) -> object:
    """A tree in which `"name": [{"data": "FPC 0"}]` is `"name": "FPC 0"`: XML's texts, as some devices print them in JSON.

    `echoes` takes the attributes beside such a text that say no more than a part of it: `"celsius": "42"`.
    """
    if depth > 40:
        return value
    if isinstance(value, Arr):
        if len(value) == 1 and isinstance(value[0], Obj) and {key for key, _ in value[0]} <= {"data", "attributes"}:
            said = next((member for key, member in value[0] if key == "data"), None)
            if isinstance(said, Leaf):
                beside = [leaf for key, member in value[0] if key == "attributes" for leaf in _leaves(member)]
                echoes.extend(leaf for leaf in beside if leaf.text in said.text.split())
                return said
        return Arr([_without_wraps(member, echoes, depth + 1) for member in value])
    if isinstance(value, Obj):
        return Obj([(key, _without_wraps(member, echoes, depth + 1)) for key, member in value])
    return value


def _leaves(value: object) -> Iterator[Leaf]:
    stack = [value]
    while stack:
        at = stack.pop()
        if isinstance(at, Leaf):
            yield at
        elif isinstance(at, Obj):
            stack.extend(member for _, member in at)
        elif isinstance(at, Arr):
            stack.extend(at)
