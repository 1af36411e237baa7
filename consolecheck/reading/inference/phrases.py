"""What is told of a thing in one breath, such as `present, input 230 V, status ok`: phrase by phrase."""

import re

from consolecheck.reading.inference.record import HOW_FAST, MADE_FOR, MEASURED_AT, status_of
from consolecheck.reading.inference.values import DIMENSION, PRESENT, Unplaced, condition_of, plain, read_cell
from consolecheck.reading.inference.words import STATUS, UNACCENTED, Label, label_of
from consolecheck.records.readings import Condition

CELSIUS_FIRST = re.compile(
    r"[+-]?\d+(?:\.\d+)? ?(?:°C|degC|C|[Cc]elsius|[Dd]eg(?:rees?|\.)?[ -]?(?:C|[Cc]elsius))(?:\s|\Z)"
)
_PHRASE = re.compile(r"(?P<key>[A-Za-z][A-Za-z ]*?)\s+(?P<value>[+-]?\d.*)\Z")
_PHRASE_AFTER = re.compile(
    r"(?P<value>[+-]?\d[\d.,]*\s?[A-Za-z%°]+)\s+(?P<key>in|out|input|output|max|rated)\Z", re.IGNORECASE
)
_SAYS = re.compile(
    r"(?P<key>s/n|sn|pn|type|status|state|health|serial(?: (?:number|no\.?)|(?=#))?|part(?: (?:number|no\.?)|(?=#))?|model|airflow|air"
    r"|fw|firmware|hw|hardware|rev(?:ision)?|version)[.#]?\s+(?P<value>\S+)\Z",
    re.IGNORECASE,
)
_BESIDE = re.compile(r"\s*[\[(](\d[^()\[\]]{0,20}|[A-Za-z][^()\[\]:=]{0,20}[:=][^()\[\]]{1,12})[\])]")
"""`(0.6 W)` and `[Fan ctrl : 25 %]`: what else is told of a thing."""
_BRACKETED = re.compile(r"\s*\(([^()=:]*)\)\s*\Z")
BETWEEN_PHRASES = re.compile(r",\s+|\s+:\s+|(?<=[a-z]) at (?=\d)|\s*;\s*|\s+-\s+|\s*\|\s*|\s{2,}")
_PAIRED = re.compile(r"(?P<key>[A-Za-z][\w /.#-]{0,30}?)\s*(?:=|:(?=\s))\s*(?P<value>[^=]+)\Z")
_BESIDE_KIND = re.compile(r"(?P<figure>\d[\d.,]* ?k?W)(?:atts?)? (?P<kind>[AD]C)\Z", re.IGNORECASE)
TOLD = frozenset(
    ("status", "serial", "part", "model", "airflow", "quantity", "side", "speed", "percent", "value", "capacity")
)
WORD_FIGURE = re.compile(r"([A-Za-z]+) ([+-]?\d[\d.,]* ?(?:rpm|RPM|°?C|V|W|A|%)(?![A-Za-z]).*)\Z")
_MODEL_AND_FORM = re.compile(r"type (?P<part>\S+) (?P<form>AC|DC)", re.IGNORECASE)
_WANTED = frozenset(("target", "desired", "set", "setpoint", "set point", "commanded", "requested"))
"""What a control asks for, and nothing that was measured: `6000 RPM (target 6000)`."""
_OF_CONTROL = frozenset(("registered", "auto", "automatic", "auto mode", "automatic mode", "manual mode", "auto speed"))
_FORM = re.compile(r"\A(?:source|type|internal|external) (?=(?:AC|DC)\Z)", re.IGNORECASE)
_OF_FULL = re.compile(r"(?P<value>\d{1,3} ?%) of \d[\d,.]* ?rpm", re.IGNORECASE)
"""`41 % of 18000 RPM`."""
_SIDE_HOW = re.compile(r"(?P<side>input|output) (?P<how>[A-Za-z]+)", re.IGNORECASE)
_TURNING = frozenset(("slow", "running", "turning", "spinning", "rotating"))
_LED_BY_AC = re.compile(r"AC \d")
_MEMORY_WELL = re.compile(
    r"(?:eeprom|fru|fru data) (?:ok|valid)|(?:i2c |smbus |pmbus )?(?:bus|addr(?:ess)?) 0x[0-9a-f]{2}", re.IGNORECASE
)
"""That a part's memory can be read, and where: no state of the part."""
_FAN_CONTROL = re.compile(r"(?:fan )?(?:ctrl|control|duty|pwm) ?[:=] ?(?P<value>\d{1,3} ?%)\Z", re.IGNORECASE)


def _beside(found: re.Match[str]) -> str:
    return ", " + re.sub(r"\s*:\s*", ":", found[1])


def phrases_of(text: str) -> list[tuple[Label, str]] | None:
    """`present, input 230 V, output 12.1 V, status ok`: each phrase with what it speaks of; None where one is not clear."""
    found: list[tuple[Label, str]] = []
    text = MADE_FOR.sub("", text)
    text = _BRACKETED.sub(r", \1", _BESIDE.sub(_beside, text).replace(",,", ","))
    text = MEASURED_AT.sub("", text)
    if (first := WORD_FIGURE.match(text)) is not None and condition_of(first[1]) is not None:
        text = f"{first[1]}, {first[2]}"
    for phrase in BETWEEN_PHRASES.split(text):
        said = phrase.strip()
        if (share := _FAN_CONTROL.match(said)) is not None:
            found.append((Label("percent", dimension="percent"), share["value"]))
            continue
        if (typed := _MODEL_AND_FORM.fullmatch(said)) is not None:
            found.append((Label("model"), typed["part"]))
            found.append((Label("type"), typed["form"]))
            continue
        if HOW_FAST.fullmatch(said) is not None:
            found.append((Label("ignored"), said))
            continue
        if (full := _OF_FULL.fullmatch(said)) is not None:
            found.append((Label("percent", dimension="percent"), full["value"]))
            continue
        if said.lower() in _TURNING:
            found.append((STATUS, said))  # a word that tells of itself neither well nor ill
            continue
        if (sided := _SIDE_HOW.fullmatch(said)) is not None and condition_of(sided["how"]) is not None:
            side = sided["side"].lower()
            found.append((STATUS._replace(side=side, words=frozenset({side})), sided["how"]))
            continue
        if said.lower() in _OF_CONTROL or _MEMORY_WELL.fullmatch(said) is not None:
            found.append((Label("ignored"), said))
            continue
        if not said.isascii():
            said = said.translate(UNACCENTED)
        if (paired := _PAIRED.match(said)) is not None:
            label = label_of(paired["key"])
            if label.thing is not None or (
                label.field not in TOLD and label.field not in ("limit", "presence", "ignored", "type")
            ):
                return None
            found.append((label, paired["value"]))
            continue
        if (
            condition_of(said) is not None
            or plain(said) in PRESENT
            or (not any(ch.isdigit() for ch in said) and "-" in said and status_of(said)[0] is Condition.OK)
        ):
            found.append((STATUS, said))
            continue
        if _LED_BY_AC.match(said):
            found.append((Label("quantity", side="input", dimension="voltage"), said))
            continue
        if (rated := _BESIDE_KIND.match(said)) is not None:  # `1100W AC`
            found.append((Label("quantity", dimension="power"), rated["figure"]))
            said = rated["kind"]
        said = _FORM.sub("", said)
        if said.upper() in ("AC", "DC"):
            found.append((Label("type"), said))
            continue
        match = _SAYS.match(said) or _PHRASE.match(said) or _PHRASE_AFTER.match(said)
        if match is None:
            try:
                read = read_cell(said, None)
            except Unplaced:
                return None
            if len(read.quantities) != 1 or read.words or read.quantities[0].unit not in DIMENSION:
                return None
            dimension = DIMENSION[read.quantities[0].unit]
            if dimension == "power" and found and found[-1][0].field == "type":
                found.append((Label("capacity"), said))  # `AC   715 W`: what it is made for
            elif dimension in ("voltage", "current", "power"):
                found.append((Label("quantity", dimension=dimension), said))
            else:
                found.append((Label("value", dimension=dimension), said))
            continue
        label = label_of(match["key"])
        if match["key"].lower() in _WANTED:
            found.append((Label("ignored"), match["value"]))
            continue
        if label.limit is not None and CELSIUS_FIRST.match(match["value"]):
            found.append((label._replace(field="limit"), match["value"]))
            continue
        if match["key"].lower() in ("max", "rated"):
            label = Label("capacity")
        if label.field not in TOLD and not (label.field == "ignored" and match.re is _SAYS):
            return None
        found.append((label, match["value"]))
    return _amperes_of_side(found)


def _amperes_of_side(found: list[tuple[Label, str]]) -> list[tuple[Label, str]]:
    """`input -53.8 V, 14.7 A`: the only figure without a side is of the side right before it, where it tells amperes."""
    unsided = [n for n, (label, _) in enumerate(found) if label.field == "quantity" and label.side is None]
    if len(unsided) == 1 and unsided[0] and found[unsided[0]][0].dimension == "current":
        n = unsided[0]
        above = found[n - 1][0]
        if above.field in ("quantity", "side") and above.side is not None:
            found[n] = (found[n][0]._replace(side=above.side), found[n][1])
    return found


_BETWEEN_GROUPS = re.compile(r"\s*;\s+|\s{2,}")
_SIDE = re.compile(r"(?P<side>in(?:put)?|out(?:put)?)\b[ :=]*(?P<value>[+-]?\d.*)\Z", re.IGNORECASE)


def figures(text: str) -> list[tuple[Label, str]] | None:
    """`input 230 V, 412 W; output 384 W`, or phrases; None where a part of it is not clear."""
    found: list[tuple[Label, str]] = []
    for group in _BETWEEN_GROUPS.split(text.strip()):
        sided = _SIDE.match(group)
        if sided is not None:
            side = "input" if sided["side"].lower().startswith("in") else "output"
            try:
                read = read_cell(sided["value"], None)
            except Unplaced:
                return None
            if read.words or not read.quantities:
                return None
            found.append((Label("quantity", side=side), sided["value"]))
        elif (phrases := phrases_of(group)) is not None:
            found.extend(phrases)
        else:
            return None
    return found
