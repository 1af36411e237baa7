"""Answers of network elements in TL1, the message language of Telcordia GR-831-CORE: equipment and its conditions.

       TERN-04 26-11-30 09:58:21
    M  104 COMPLD
       "FAN-1-2::CTYPE=\\"Cooling fan\\",SER=WX0177"               inventory
       "FAN-1-2::CTYPE=FANU,SN=WX0177:IS-NR"                     the same with its state
       "FAN-1-2,EQPT:MJ,FANFAIL,SA,,,,:\\"Cooling fan failed\\""   a condition that stands (GR-833-CORE, RTRV-COND)
    ;

Only such three forms of a quoted line are read. That no condition is told of a part makes it nowhere well.
"""

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from consolecheck.reading.inference.lists import Made
from consolecheck.reading.inference.words import FAN, PSU, thing_of
from consolecheck.records.readings import AnyReading, Condition, Fan, Inventory, PowerSupply, worst
from consolecheck.records.text import Line

_COMPLETED = re.compile(r"M +(?P<tag>[\w-]{1,20}) COMPLD\s*\Z")
_FROM = re.compile(r" {1,6}(?P<name>[A-Za-z][\w.-]{0,39}) \d{2,4}-\d\d-\d\d \d\d:\d\d:\d\d\s*\Z")
_ASKED = re.compile(r"< ?(?:[A-Z]{2,12}(?:-[A-Z\d]{1,12}){0,3}:[^\";]{0,120};)?\s*\Z")
_UNDER_WAY = re.compile(r"(?:IP|PF|OK) +[\w-]{1,20}\s*\Z")
"""In progress, printout follows, all right: what is said before the answer."""
_ADDRESS = re.compile(r"(?P<what>[A-Z][A-Z_]{0,11})-(?P<where>\d{1,3}(?:-\d{1,3}){0,3}(?:-[A-H])?)\Z")
_STATE = re.compile(r"(?:IS|OOS)-[A-Z]{2,4}(?:,[A-Z&]{2,12})?\Z")
_STATES = {"IS-NR": Condition.OK, "IS-ANR": Condition.WARNING}
"""In service, and normal or abnormal (Telcordia GR-1093-CORE; the words from memory). What is out of service is no word on how it is."""
_UNEQUIPPED = "UEQ"
_FIELDS = {
    "SER": "serial", "SERIAL": "serial", "SN": "serial", "SERNO": "serial", "PEC": "part_number", "PN": "part_number",
    "PARTNUM": "part_number", "PARTNO": "part_number", "CTYPE": "description", "DESC": "description", "NAME": "description",
}  # fmt: skip
"""Names of parameters that tell of a part which it is: common practice, no source."""
_SEVERE = frozenset(("CR", "MJ"))
_ALARMED = _SEVERE | {"MN"}
"""Notification codes of a standing alarm (GR-833-CORE): critical, major, minor."""


class Answers(NamedTuple):
    """What the answers of a text tell: each with what was made of it, and whether its end stands there."""

    blocks: tuple[tuple[tuple[Made, ...], int, int, bool], ...]
    own: frozenset[int]
    used: frozenset[int]
    unread: dict[int, str]
    hosts: dict[str, int]


def read_answers(lines: Sequence[Line]) -> Answers | None:
    """The answers that stand in a text; None where there is none."""
    heads = [at for at, line in enumerate(lines) if "COMPLD" in line.text and _COMPLETED.match(line.text) is not None]
    if not heads:
        return None
    blocks: list[tuple[tuple[Made, ...], int, int, bool]] = []
    own: set[int] = set()
    used: set[int] = set()
    unread: dict[int, str] = {}
    hosts: dict[str, int] = {}
    for at in heads:
        above = next((line for line in reversed(lines[max(0, at - 2) : at]) if line.text.strip()), None)
        if above is not None and not above.doubt and (source := _FROM.match(above.text)) is not None:
            own.add(above.number)
            used.add(above.number)
            hosts.setdefault(source["name"], above.number)
        end = at + 1
        while end < len(lines) and lines[end].text.lstrip()[:1] in ('"', ""):
            end += 1
        told = [line for line in lines[at + 1 : end] if line.text.strip()]
        last = lines[end] if end < len(lines) else lines[-1]
        whole = end < len(lines) and last.text.strip() in (";", ">") and not last.doubt
        own.update(line.number for line in (lines[at], *told, *([last] if whole else [])))
        if lines[at].doubt:
            unread.update((line.number, "the answer's head is spoilt") for line in told)
            continue
        used.add(lines[at].number)
        if whole:
            used.add(last.number)
        made = _made(told, unread)
        used.update(line.number for line in told if line.number not in unread)
        blocks.append((made, lines[at].number, last.number, whole and last.text.strip() == ";"))
    for at, line in enumerate(lines):
        text = line.text
        if line.doubt or line.number in own or not (text[:1] == "<" or text[:3] in ("IP ", "PF ", "OK ")):
            continue
        below = lines[at + 1].text.strip() if at + 1 < len(lines) else ""
        if _ASKED.match(text) or (below == "<" and _UNDER_WAY.match(text)):
            own.add(line.number)
            used.add(line.number)
    return Answers(tuple(blocks), frozenset(own), frozenset(used), unread, hosts)


def _made(told: Iterable[Line], unread: dict[int, str]) -> tuple[Made, ...]:
    parts: list[Made] = []
    conditions: dict[str, list[tuple[AnyReading, int]]] = {}
    for line in told:
        blocks = None if line.doubt else _parameters(line.text.strip())
        if blocks is None:
            unread[line.number] = line.doubt or "no quoted line of an answer that is whole"
        elif (stated := _stated(blocks)) is not None:
            parts.append(Made(stated, (line.number,), (), (("state", "status"),)))
        elif (part := _part(blocks)) is not None:
            heads = tuple((p.partition("=")[0], "set aside") for p in blocks[2])
            parts.append(Made(part, (line.number,), (), heads))
        elif (found := _condition(blocks)) is not None:
            conditions.setdefault(f"{found.kind} {found.unit}", []).append((found, line.number))
        else:
            unread[line.number] = "what this line of an answer tells is not known"
    for several in conditions.values():
        stands = worst([r.condition for r, _ in several if r.condition is not None])
        reading = next(r for r, _ in several if r.condition is stands)
        parts.append(Made(reading, tuple(number for _, number in several), (), (("condition", "status"),)))
    return tuple(parts)


def _parameters(text: str) -> list[list[str]] | None:
    """The blocks of a quoted line with their parameters; None where its quotes are not whole."""
    if len(text) < 3 or text[0] != '"' or text[-1] != '"' or text.endswith('\\"'):
        return None
    pieces = text[1:-1].split('\\"')
    if len(pieces) % 2 == 0 or any('"' in p or "\\" in p for p in pieces):
        return None
    blocks: list[list[str]] = [[""]]
    for number, piece in enumerate(pieces):
        if number % 2:  # a text in quotes, in which nothing parts
            blocks[-1][-1] += piece
            continue
        for char in piece:
            if char == ":":
                blocks.append([""])
            elif char == ",":
                blocks[-1].append("")
            else:
                blocks[-1][-1] += char
    return blocks


def _unit(address: str) -> tuple[str | None, str | None]:
    """Kind and unit that an access identifier names, as `FAN-1-2` does: shelf and slot, from the outside to the inside."""
    found = _ADDRESS.match(address)
    if found is None:
        return None, None
    thing = thing_of(f"{found['what'].replace('_', ' ')} 1")
    if thing is None or thing.slot != "1" or thing.rest or thing.inside is not None:
        return None, None
    return thing.kind, f"{thing.kind}-{found['where'].replace('-', '/').lower()}"


def _part(blocks: list[list[str]]) -> Inventory | None:
    """`AID:[type]:NAME=VALUE,...`: a part with what tells which it is."""
    if len(blocks) < 3 or len(blocks[0]) != 1 or len(blocks[1]) != 1 or any(b != [""] for b in blocks[3:]):
        return None
    if _ADDRESS.match(blocks[0][0]) is None or any("=" not in p for p in blocks[2]):
        return None
    facts: dict[str, str] = {}
    for parameter in blocks[2]:
        name, _, value = (p.strip() for p in parameter.partition("="))
        field = _FIELDS.get(name.upper())
        if field is not None and value and facts.setdefault(field, value) != value:
            return None
    if not facts.keys() & {"serial", "part_number"}:
        return None
    _, unit = _unit(blocks[0][0])
    return Inventory(unit=unit, name=None if unit else blocks[0][0], **facts)


def _stated(blocks: list[list[str]]) -> Fan | PowerSupply | None:
    """`AID:[type]:NAME=VALUE,...:IS-NR`: a supply or a fan with its state."""
    if len(blocks) != 4 or _STATE.match(",".join(blocks[3])) is None:
        return None
    kind, unit = _unit(blocks[0][0])
    part = _part(blocks[:3])
    if unit is None or part is None:
        return None
    primary, *secondary = blocks[3]
    told = (
        Condition.ABSENT if _UNEQUIPPED in "&".join(secondary).split("&") else _STATES.get(primary, Condition.UNKNOWN)
    )
    facts = {"serial": part.serial, "part_number": part.part_number}
    said = ",".join(blocks[3])
    if kind == FAN:
        return Fan(unit=unit, condition=told, status_text=said, **facts)
    return PowerSupply(unit=unit, condition=told, status_text=said, **facts)


def _condition(blocks: list[list[str]]) -> Fan | PowerSupply | None:
    """`AID,EQPT:code,type,effect,date,time,location,direction:"text"`: what stands against a supply or a fan."""
    if not 2 <= len(blocks) <= 4 or len(blocks[0]) > 2 or len(blocks[1]) < 3:
        return None
    kind, unit = _unit(blocks[0][0])
    code, condition = blocks[1][0].upper(), blocks[1][1].upper()
    if unit is None or code not in _ALARMED or not condition or any("=" in p for p in blocks[1]):
        return None
    failed = code in _SEVERE and ("FAIL" in condition or condition == "EQPT")
    said = next((p for b in blocks[2:] for p in b if " " in p), "") or condition
    told = Condition.FAILED if failed else Condition.WARNING
    if kind == FAN:
        return Fan(unit=unit, condition=told, status_text=said)
    return PowerSupply(unit=unit, condition=told, status_text=said) if kind == PSU else None
