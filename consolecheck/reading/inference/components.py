"""Components of hardware as the standards model them: what each is, what it stands in, measures and says of itself.

RFC 8348 (ietf-hardware) tells in its section 4 which object of the ENTITY-MIB (RFC 6933), ENTITY-SENSOR-MIB (RFC
3433) and ENTITY-STATE-MIB (RFC 4268) each of its leaves is, so JSON of the one and a walk of the others are told
here by the leaves of RFC 8348. What is not of these leaves is no component, and read by its words as any other JSON.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from consolecheck.reading.fixed_point import fixed_point
from consolecheck.reading.inference.lists import Made
from consolecheck.reading.inference.values import Unplaced
from consolecheck.reading.inference.words import FAN, PSU, airflow_in, label_of, thing_of, words_of
from consolecheck.reading.table import Arr, Leaf, Obj
from consolecheck.records.readings import AnyReading, Condition, Device, Fan, Inventory, PowerSupply, Temperature
from consolecheck.records.units import UnreadableQuantity, parse_quantity

OF_ALL = frozenset(
    """
    name class description parent parent-rel-pos physical-index contains-child hardware-rev firmware-rev software-rev
    serial-num mfg-name model-name alias asset-id is-fru mfg-date uri uuid
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
OF_STATE = frozenset(("state-last-changed", "admin-state", "oper-state", "usage-state", "alarm-state", "standby-state"))
OF_SENSOR = frozenset(
    """
    value value-type value-scale value-precision oper-status units-display value-timestamp value-update-rate
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
"""The leaves of a component (RFC 8348, section 7.1), and of its `state` and `sensor-data`."""
_CLASSES = frozenset(
    """
    other unknown chassis backplane container powersupply fan sensor module port stack cpu energyobject battery
    storagedrive
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
"""Of IANA-ENTITY-MIB and iana-hardware, in lower case without hyphens."""
_OPTICS = frozenset("transceiver xcvr sfp qsfp xfp osfp optic optics optical laser dbm".split())  # noqa: SIM905
_TAKEN = {
    "name": "name",
    "class": "kind",
    "parent": "kind",
    "serial-num": "serial",
    "model-name": "part",
    "description": "description",
    "oper-state": "status",
    "alarm-state": "status",
    "standby-state": "status",
    "oper-status": "status",
    "value": "value",
    "value-type": "units",
    "value-scale": "units",
    "value-precision": "units",
}
_METERS = {"voltsac": "voltage", "voltsdc": "voltage", "amperes": "current", "watts": "power"}
_DEEPEST = 12
"""Components that may stand within each other."""


class Component(NamedTuple):
    """One component. Values are as printed, without the prefix of a module; `extra` are further lines that it is on."""

    key: str
    """By which others name it as what they stand in."""
    fields: Mapping[str, Leaf]
    heads: Mapping[str, str] = {}
    """How a leaf is called in the text, where that is not its name."""
    extra: tuple[int, ...] = ()

    def said(self, field: str) -> str:
        """What a leaf says; empty where it does not stand there."""
        leaf = self.fields.get(field)
        return leaf.text.strip() if leaf is not None else ""

    @property
    def sort(self) -> str:
        """Its class as IANA names it, in lower case without hyphens."""
        return self.said("class").lower().replace("-", "")

    @property
    def lines(self) -> tuple[int, ...]:
        """The lines of the text that it stands on."""
        return tuple(dict.fromkeys((*(leaf.line for leaf in self.fields.values()), *self.extra)))


class ReadComponents(NamedTuple):
    """What components tell: readings, the lines that were used, and why others were not."""

    made: tuple[Made, ...]
    used: frozenset[int]
    unread: Mapping[int, str]


def component_of(value: object) -> Component | None:
    """The component that an object of RFC 8348 is; None where it holds anything that the model does not have."""
    if not isinstance(value, Obj):
        return None
    fields: dict[str, Leaf] = {}
    extra: list[int] = []
    for key, member in value:
        said = key.split(":")[-1]
        if isinstance(member, Arr) and said in ("contains-child", "uri"):
            extra.extend(leaf.line for leaf in member if isinstance(leaf, Leaf))
        elif isinstance(member, Leaf) and said in OF_ALL:
            if said in fields:
                return None
            fields[said] = _without_module(member) if said == "class" else member
        elif (
            isinstance(member, Obj) and (leaves := {"state": OF_STATE, "sensor-data": OF_SENSOR}.get(said)) is not None
        ):
            for inner, leaf in member:
                name = inner.split(":")[-1]
                if not isinstance(leaf, Leaf) or name not in leaves or name in fields:
                    return None
                fields[name] = leaf
        else:
            return None
    found = Component(fields["name"].text if "name" in fields else "", fields, {}, tuple(extra))
    modelled = fields.keys() & {"parent", "parent-rel-pos", "is-fru", *OF_STATE, *OF_SENSOR}
    return found if found.sort in _CLASSES and found.key and modelled else None


def _without_module(leaf: Leaf) -> Leaf:
    return leaf._replace(text=leaf.text.split(":")[-1])


def read_components(components: Sequence[Component]) -> ReadComponents:
    """The readings of components that stand in each other; none where there is no supply, fan or sensor among them."""
    by_key: dict[str, Component | None] = {}
    for each in components:
        by_key[each.key] = None if each.key in by_key else each
    made: list[Made] = []
    used: set[int] = set()
    unread: dict[int, str] = {}
    placed = any("parent" in each.fields for each in components)
    names = Counter(each.said("name") for each in components)
    for each in components:
        try:
            reading = _reading(each, _around(each, by_key), names, placed)
        except (Unplaced, UnreadableQuantity) as reason:
            unread.update(dict.fromkeys(each.lines, str(reason)))
            continue
        used.update(each.lines)
        if reading is not None:
            made.append(
                Made(
                    reading,
                    each.lines,
                    (),
                    tuple((each.heads.get(f, f), _TAKEN.get(f, "set aside")) for f in each.fields),
                    tuple(each.said(f) for f in ("value",) if each.said(f)),
                )
            )
    if not any(m.reading.kind in ("power_supply", "fan", "temperature") for m in made):
        return ReadComponents((), frozenset(), unread)
    return ReadComponents(tuple(made), frozenset(used - unread.keys()), unread)


def _around(component: Component, by_key: Mapping[str, Component | None]) -> list[Component]:
    """What a component stands in, the nearest first. Raises nothing for a circle: it ends there."""
    found: list[Component] = []
    seen = {component.key}
    at: Component | None = component
    while at is not None and len(found) < _DEEPEST:
        parent = at.said("parent")
        if not parent or parent in seen:
            break
        seen.add(parent)
        at = by_key.get(parent)
        if at is not None:
            found.append(at)
    return found


def _slot_in(name: str, kind: str) -> str | None:
    """The slot of a supply or fan that a name tells; none where another number, as of a switch in a stack, leads it.

    A rotor is told within its fan module, so its number is no slot.
    """
    thing = thing_of(name)
    if thing is None or thing.kind != kind or not thing.slot or thing.inside is not None:
        return None
    before = 0
    while before < min(len(name), len(thing.rest)) and name[before] == thing.rest[before]:
        before += 1
    if any(c.isdigit() for c in name[:before]) or set(words_of(name)) & {"rotor", "rotors"} == set(words_of(name)) - {
        thing.slot
    }:
        return None
    return thing.slot


class _Place(NamedTuple):
    """In which supply or fan a component is by what it stands in; `named` is that, also where its slot is not told."""

    supply: str | None = None
    fan: str | None = None
    named: str = ""


def _place(around: Sequence[Component]) -> _Place:
    for at, outer in enumerate(around):
        name = outer.said("name")
        thing = thing_of(name)
        if outer.sort == "powersupply" or (outer.sort == "module" and thing is not None and thing.kind == PSU):
            slot = _slot_in(name, PSU)
            if slot is not None:
                return _Place(supply=slot, named=name)
            if thing is not None and thing.slot:
                return _Place(named=name)
            return _Place(supply=_bay(name, PSU, around[at + 1 :]), named=name)
        if outer.sort == "fan" or (outer.sort == "module" and thing is not None and thing.kind == FAN):
            slot = _slot_in(name, FAN) or _bay(name, FAN, around[at + 1 :])
            return _Place(fan=slot, named=name)
    return _Place()


def _optical(component: Component, around: Sequence[Component]) -> bool:
    """Whether a sensor is of an optic or a port: what these measure is nothing of the chassis."""
    return any(
        each.sort == "port" or set(words_of(f"{each.said('name')} {each.said('description')}")) & _OPTICS
        for each in (component, *around)
        if each.sort not in ("chassis", "stack")
    )


def _reading(
    component: Component, around: Sequence[Component], names: Mapping[str, int], placed: bool
) -> AnyReading | None:
    """The reading of one component; None for a sensor of an optic. Raises Unplaced or UnreadableQuantity.

    `names`: how many components bear each name. `placed`: whether it is told of any what it stands in.
    """
    sort, name = component.sort, component.said("name")
    place = _place(around)
    if sort not in _CLASSES:
        raise Unplaced("of which class it is does not stand there")
    thing = thing_of(name)
    # What stands in what was not told could be of any supply; with its own name, a meter of a supply is placed.
    parent = component.said("parent") if "parent" in component.fields or not placed else "?"
    lost = parent not in ("", "0") and (not around or around[0].sort not in _CLASSES)
    if lost and (sort == "fan" or component.fields.keys() & OF_SENSOR) and _slot_in(name, PSU) is None:
        raise Unplaced("what it stands in is not told")
    if component.fields.keys() & OF_SENSOR:
        return None if _optical(component, around) else _sensor(component, name, place, names)
    told = _told(component)
    if sort == "powersupply":
        if not name or (thing is not None and thing.kind == FAN):
            raise Unplaced("which supply it is does not stand there")
        slot = _slot_in(name, PSU) or _bay(name, PSU, around)
        unit = f"psu-{slot}" if slot else None
        return PowerSupply(unit=unit, name=None if unit else name, **told, **_facts(component))
    if sort == "fan" or (sort == "module" and thing is not None and thing.kind == FAN):
        if not name:
            raise Unplaced("which fan it is does not stand there")
        if place == _Place() and (slot := _slot_in(name, FAN) or _bay(name, FAN, around)):
            return Fan(unit=f"fan-{slot}", **told, **_facts(component))
        return Fan(unit=_fan(name, place), name=name, **told, **_facts(component))
    if not name or names[name] > 1:
        name = f"{name} (entity {component.key})".strip()
    facts = _facts(component)
    description = component.said("description") or None
    return Inventory(unit="chassis" if sort == "chassis" else None, name=name, description=description, **facts, **told)


def _bay(name: str, kind: str, around: Sequence[Component]) -> str | None:
    """The slot of the bay that a part stands in whose own name holds no number."""
    if any(c.isdigit() for c in name) or not around or around[0].sort != "container":
        return None
    return _slot_in(around[0].said("name"), kind)


def _fan(name: str, place: _Place) -> str | None:
    """The unit that a fan or a rotor belongs to. Raises Unplaced where its name and its place differ."""
    thing = thing_of(name)
    own = _slot_in(name, FAN)
    inside = thing.inside if thing is not None and thing.kind == FAN else None
    if place.supply is not None:
        if inside and inside != place.supply:
            raise Unplaced(f"`{name}` stands in another supply than its name tells")
        return f"psu-{place.supply}"
    if inside is not None:
        return f"psu-{inside}" if inside else None
    if place.fan is not None:
        return f"fan-{place.fan}"
    return f"fan-{own}" if own and not place.named else None


def _facts(component: Component) -> dict[str, str]:
    """Serial, part number and airflow."""
    found = {"serial": component.said("serial-num"), "part_number": component.said("model-name")}
    found["airflow"] = airflow_in(component.said("description")) or ""
    return {name: text for name, text in found.items() if text}


def _sensor(component: Component, name: str, place: _Place, names: Mapping[str, int]) -> AnyReading:
    status = component.said("oper-status") or None
    kind = component.said("value-type")
    text = component.fields["value"].text if "value" in component.fields else None
    found = fixed_point(
        text, kind or None, component.said("value-scale") or None, component.said("value-precision") or None, status
    )
    value = parse_quantity(" ".join(found)) if found is not None else None
    told = _told(component)
    if status != "ok":
        told = {
            "condition": Condition.FAILED if status == "nonoperational" else Condition.UNKNOWN,
            "status_text": status or "no status",
        }
    elif value is None and kind not in ("other", "unknown", "cmm", "truth-value", "truthvalue"):
        raise Unplaced("the sensor is well, and its value does not stand there")
    sort = kind.lower().replace("-", "")
    if not name or not sort:
        raise Unplaced("the sensor has no name, or no type")
    own = _slot_in(name, PSU)
    if place.supply is not None and own is not None and own != place.supply:
        raise Unplaced(f"`{name}` stands in another supply than its name tells")
    supply = place.supply or (own if not place.named else None)
    if sort in _METERS and told.get("condition") is Condition.OK:
        told = {}  # a meter that is well says nothing of what it measures at
    if sort == "rpm":
        return Fan(unit=_fan(name, place), name=name, speed=value, **told)
    if sort == "celsius":
        return Temperature(unit=f"psu-{supply}" if supply else None, name=name, value=value, **told)
    said = label_of(name)
    dimension = _METERS.get(sort)
    side = said.side or ("input" if sort == "voltsac" else None)
    if dimension is not None and supply is not None and side is not None:
        measured = {f"{side}_{dimension}": value}
        return PowerSupply(unit=f"psu-{supply}", name=name, **measured, **told)
    if place.named or names[name] > 1:
        name = f"{place.named} {name}" if place.named and not name.startswith(place.named) else name
        if names[component.said("name")] > 1 and name == component.said("name"):
            raise Unplaced(f"`{name}` is the name of several sensors")
    return Device(name=name, value=value, **told)


def _told(component: Component) -> dict[str, Any]:
    """Condition and the words of it, by RFC 4268 as RFC 8348 takes it over; empty where none is told.

    While a thing is under repair its other alarms may mean nothing. `enabled` alone is partly or fully operable, so
    it is good only beside an alarm state that names no alarm.
    """
    oper, standby = (component.said(f).lower().replace("-", "") for f in ("oper-state", "standby-state"))
    alarm = component.fields.get("alarm-state")
    alarms = {a.lower().replace("-", "") for a in alarm.text.replace(",", " ").split()} - {"none"} if alarm else set()
    if not oper and alarm is None:
        return {}
    printed = " ".join((component.said("oper-state"), *sorted(alarms))).strip() or None
    clear = alarm is not None and not alarms
    if alarms & {"unknown", "underrepair"}:
        condition = Condition.UNKNOWN
    elif oper == "disabled" or alarms & {"critical", "major"}:
        condition = Condition.FAILED
    elif "indeterminate" in alarms or alarms - {"minor", "warning"}:
        condition = Condition.UNKNOWN
    elif alarms:
        condition = Condition.WARNING
    elif oper == "enabled" and clear:
        condition = Condition.STANDBY if standby in ("hotstandby", "coldstandby") else Condition.OK
        printed = component.said("standby-state") if condition is Condition.STANDBY else printed
    else:
        condition = Condition.UNKNOWN
    return {"condition": condition, "status_text": printed}
