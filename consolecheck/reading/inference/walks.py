"""A walk of the standards' hardware tables in a text of an unknown device: columns to components.

    ENTITY-MIB::entPhysicalName.7 = STRING: PSU 2       component 7: name `PSU 2`, class `powerSupply`, ...

Only the objects of RFC 6933, RFC 3433 and RFC 4268 are read, by name or by number: what a maker's own object means,
and in which unit its number is, no walk tells. Lines of these tables are kept from all other reading.
"""

import re
from collections.abc import Iterable, Mapping, Sequence

from consolecheck.reading.inference.components import Component, ReadComponents, read_components
from consolecheck.reading.table import Leaf
from consolecheck.reading.walk import Columns, WalkedCell, walked
from consolecheck.records.text import Line

_TABLES: dict[str, dict[int, tuple[str, str]]] = {
    "1.3.6.1.2.1.47.1.1.1.1": {  # RFC 6933, entPhysicalTable
        2: ("entPhysicalDescr", "description"),
        3: ("entPhysicalVendorType", ""),
        4: ("entPhysicalContainedIn", "parent"),
        5: ("entPhysicalClass", "class"),
        6: ("entPhysicalParentRelPos", "parent-rel-pos"),
        7: ("entPhysicalName", "name"),
        8: ("entPhysicalHardwareRev", "hardware-rev"),
        9: ("entPhysicalFirmwareRev", "firmware-rev"),
        10: ("entPhysicalSoftwareRev", "software-rev"),
        11: ("entPhysicalSerialNum", "serial-num"),
        12: ("entPhysicalMfgName", "mfg-name"),
        13: ("entPhysicalModelName", "model-name"),
        14: ("entPhysicalAlias", "alias"),
        15: ("entPhysicalAssetID", "asset-id"),
        16: ("entPhysicalIsFRU", "is-fru"),
        17: ("entPhysicalMfgDate", "mfg-date"),
        18: ("entPhysicalUris", "uri"),
        19: ("entPhysicalUUID", "uuid"),
    },
    "1.3.6.1.2.1.99.1.1.1": {  # RFC 3433, entPhySensorTable
        1: ("entPhySensorType", "value-type"),
        2: ("entPhySensorScale", "value-scale"),
        3: ("entPhySensorPrecision", "value-precision"),
        4: ("entPhySensorValue", "value"),
        5: ("entPhySensorOperStatus", "oper-status"),
        6: ("entPhySensorUnitsDisplay", "units-display"),
        7: ("entPhySensorValueTimeStamp", "value-timestamp"),
        8: ("entPhySensorValueUpdateRate", "value-update-rate"),
    },
    "1.3.6.1.2.1.131.1.1.1": {  # RFC 4268, entStateTable
        1: ("entStateLastChanged", "state-last-changed"),
        2: ("entStateAdmin", "admin-state"),
        3: ("entStateOper", "oper-state"),
        4: ("entStateUsage", "usage-state"),
        5: ("entStateAlarm", "alarm-state"),
        6: ("entStateStandby", "standby-state"),
    },
}
"""Entry of a table -> number of a column -> its name, and the leaf of RFC 8348 that it is (section 4 there)."""


def _numbered(first: int, words: str) -> dict[str, str]:
    return {str(number): word for number, word in enumerate(words.split(), first)}


_COLUMNS = Columns(
    {f"{entry}.{number}": name for entry, columns in _TABLES.items() for number, (name, _) in columns.items()},
    {
        # IANA-ENTITY-MIB, and the textual conventions of RFC 3433 and RFC 4268.
        "entPhysicalClass": _numbered(
            1,
            "other unknown chassis backplane container powerSupply fan sensor module port stack cpu energyObject "
            "battery storageDrive",
        ),
        "entPhysicalIsFRU": _numbered(1, "true false"),
        "entPhySensorType": _numbered(
            1, "other unknown voltsAC voltsDC amperes watts hertz celsius percentRH rpm cmm truthvalue"
        ),
        "entPhySensorScale": _numbered(
            1, "yocto zepto atto femto pico nano micro milli units kilo mega giga tera exa peta zetta yotta"
        ),
        "entPhySensorOperStatus": _numbered(1, "ok unavailable nonoperational"),
        "entStateAdmin": _numbered(1, "unknown locked shuttingDown unlocked"),
        "entStateOper": _numbered(1, "unknown disabled enabled testing"),
        "entStateUsage": _numbered(1, "unknown idle active busy"),
        "entStateStandby": _numbered(1, "unknown hotStandby coldStandby providingService"),
    },
    {"entStateAlarm": _numbered(0, "unknown underRepair critical major minor warning indeterminate")},
    "entPhysicalContainedIn",
)
_LEAVES = {name: leaf for columns in _TABLES.values() for name, leaf in columns.values()}
_BESIDE = re.compile(
    r"(?:(?:ENTITY-MIB::)?ent(?:LPMapping|AliasMapping|PhysicalChild|Logical|LastChangeTime)"
    r"|(?:SNMPv2-SMI::mib-2|(?:iso|\.?1)\.3\.6\.1\.2\.1)\.47\.1\.[234]\.)\S* = "
)
"""Other objects of RFC 6933: what maps parts to interfaces and contexts, and says again what stands in what."""
_TEXTS = frozenset(("entPhysicalDescr", "entPhysicalName", "entPhysicalSerialNum", "entPhysicalModelName"))
_GLUED = re.compile(r"::|\.\d+ ?= |(?:STRING|INTEGER|BITS):")
_MARKS = (
    "entL",
    "entAlias",
    ".47.1.2.",
    ".47.1.3.",
    ".47.1.4.",
    "entPhy",
    "entState",
    ".47.1.1.1.1.",
    ".99.1.1.1.",
    ".131.1.1.1.",
)


def of_walk(lines: Iterable[Line]) -> tuple[Line, ...]:
    """The lines that may be of these tables."""
    lines = tuple(lines)
    whole = "\n".join(line.text for line in lines)
    marks = [mark for mark in _MARKS if mark in whole]  # none in nearly every text
    return tuple(line for line in lines if any(mark in line.text for mark in marks)) if marks else ()


def read_walk(lines: Sequence[Line]) -> tuple[ReadComponents, frozenset[int]]:
    """What a walk tells, and which lines are its own, read or not.

    A row that is spoilt stays unread. Where a cell stands there twice, unlike, there
    are walks of two moments or of two devices, and none of them is read.
    """
    found = walked(lines, _COLUMNS)
    own = frozenset(line.number for rows in found.of_row.values() for line in rows)
    # What has lost the end of its line holds the beginning of another.
    glued = {
        index: f"line {cell.line.number}: `{cell.value}` holds another cell"
        for index, cells in found.rows.items()
        for cell in cells.values()
        if cell.column in _TEXTS and _GLUED.search(cell.value)
    }
    found = found._replace(spoiled={**glued, **found.spoiled})
    twice = next((why for why in found.spoiled.values() if why.endswith("twice, unlike")), "")
    if twice:
        why = f"two walks in one text: {twice}"
        return ReadComponents((), frozenset(), dict.fromkeys(own, why)), own
    components = [
        _component(index, cells, [line.number for line in found.of_row[index]])
        for index, cells in sorted(found.rows.items())
        if index not in found.spoiled
    ]
    read = read_components(components)
    unread = dict(read.unread)
    for index, why in found.spoiled.items():
        unread.update((line.number, f"row {index} cannot be read: {why}") for line in found.of_row[index])
    beside = (
        {line.number for line in found.others if _BESIDE.match(line.text) and not line.doubt} if read.made else set()
    )
    return read._replace(unread=unread, used=read.used | beside), own | beside


def _component(index: int, cells: Mapping[str, WalkedCell], lines: Sequence[int]) -> Component:
    fields = {leaf: Leaf(cell.value, cell.line.number, True) for name, cell in cells.items() if (leaf := _LEAVES[name])}
    heads = {leaf: name for name in cells if (leaf := _LEAVES[name])}
    return Component(str(index), fields, heads, tuple(lines))
