"""The trade's vocabulary: what the label of a column, a key or a name speaks of.

A label is cut into words (`inputVoltage`, `CurTemp (C)` and `hi-alarm` too). The thing it names, with the
device's own slot label, is taken out first; what is left says which field it is. Meanings that have no
published source are common practice in device output, as the layouts under `fixtures` show it.
"""

import re
from functools import lru_cache
from typing import NamedTuple

from consolecheck.reading.inference.values import unit_word

PSU, FAN, TEMP = "psu", "fan", "temp"


class Thing(NamedTuple):
    """A supply, a fan or something else that a text names, with its slot; `rest` is what stands beside it."""

    kind: str
    slot: str | None
    rest: str
    inside: str | None = None
    """Of a fan or sensor within a supply: that supply's slot."""


class Limit(NamedTuple):
    """Which bound a label names: side `high`, `low` or none, and how severe from 1 to 5."""

    side: str | None
    rank: float
    pinned: bool = False
    """Whether the label itself says critical."""


class Label(NamedTuple):
    """What a label speaks of: the thing if it names one, the field, and a unit."""

    field: str
    thing: Thing | None = None
    unit: str | None = None
    limit: Limit | None = None
    side: str | None = None
    """`input` or `output`."""
    dimension: str | None = None
    """voltage, current, power, temperature, speed, percent."""
    words: frozenset[str] = frozenset()
    said: str = ""
    """Words that no field needed, such as the `Inlet` of `Inlet Temperature Value`."""


STATUS = Label("status", words=frozenset({"status"}))
"""What a word is taken under that tells by itself how a thing is."""


def placed_in(member: str | None, slot: str | None) -> str | None:
    """A slot with the member of a stack that it is in, unless it says so itself."""
    return f"{member}/{slot}" if member and slot and "/" not in slot else slot


_WORD = re.compile(r"[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+s?(?![a-z])|\d+(?:[./]\d+)*|[%#]")
_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]{0,40})[)\]}]")
_OPEN = frozenset("([{")

_SLOT = (
    r"(?:[ _#:.-]*(?:slot|bay|no\.?|number|unit|module|tray|id|index)?[ _#:.-]*[\[(#]?)"
    r"(?P<slot>\d{1,3}[A-UX-Za-ux-z]?(?![A-Za-z\d])(?:[/.]\d{1,3}(?![\dA-Za-z.]))*|[A-HLRa-hlr](?![A-Za-z\d'])|(?-i:I{1,3}|IV|[PF]\d{1,2})(?![A-Za-z\d'])|(?:left|right|upper|lower|top|bottom|main|redundant)(?![a-z]))?[\])]?"
)
_PSU = re.compile(
    r"(?:(?<![A-Za-z])(?P<before>(?:(?:upper|lower|top|bottom)[ _-](?:left|right))"
    r"|main|redundant|internal|external|left|right|primary|secondary|backup|upper|lower|top|bottom)[ _-]+)?"
    r"(?:(?<![A-Za-z])|(?<=[a-z])(?=P))(?:power[ _-]{0,2}suppl(?:y|ies)(?:[ _-](?:unit|module))?s?|power[ _-]entry[ _-]modules?"
    r"|power[ _-](?:modules?|units?)"
    r"|pwr[ _-]{0,2}(?:supply|sup|module|mod)|psus?|pems?|rectifiers?|rects?(?![A-Za-z])"
    r"|power[ _-]?sup|psm(?=[ _#-]*\d)|suppl(?:y|ies)(?=[ _#-]{0,2}\d|[ _-]{1,2}(?-i:[A-H]|I{1,3}|IV)(?![A-Za-z])|[ _-]{1,2}(?:bay|slot)s?[ _#-])"
    r"|power(?=(?:[ _#-]{0,2}(?:\d{1,2}|(?-i:[A-D]))|\[\d{1,2}\])(?: stat(?:e|us))?\s*\Z)|ps(?=[ _#-]{0,2}(?:\d|[ab](?![a-z\d])))"
    r"|ps(?=[ _-](?:num|number|id|status|model)(?![a-z]))"
    r"|pwr(?=[ _#-]{0,2}(?:\d|[ab](?![a-z\d])))"
    r"|(?(before)(?:power|(?<=(?:main|dant|ckup|mary|dary)[ _-])supply)(?=\s*(?:status|state)?\s*\Z)|(?!))"
    r"|netzteile?|stromversorgung(?:en)?|alimentations?)"
    r"(?![a-rt-z][a-z]|[i-rt-z]|s[a-z])" + _SLOT,
    re.IGNORECASE,
)
_FAN = re.compile(
    r"(?:(?<![A-Za-z])(?P<before>main|redundant|left|right|primary|secondary|upper|lower|top|bottom|back)[ _-]+)?"
    r"(?:(?<![A-Za-z])|(?<=[a-z])(?=F))(?:cooling[ _-](?:module|unit|tray)s?"
    r"|fan[ _-]{0,2}(?:tray|module|mod(?![a-z])|unit|drawer|assembly|assy|pack|box"
    r"|shelf|frame|cassette|rack|cage)s?"
    r"|fans?|blowers?|ft(?=[ _#-]{0,2}\d)|rotors?|l(?:ue|u|ü)fter|ventilateurs?)"
    r"(?![a-rt-z][a-z]|[i-rt-z]|s[a-z])" + _SLOT,
    re.IGNORECASE,
)
_SLOT_ALONE = re.compile(
    r"(?:(?:slot|bay|no\.?|number|unit|module|tray|drawer|position|pos|id|index|#)[ _#:.-]*)?"
    r"(?P<slot>\d{1,3}[A-Za-z]?(?:[/.-]\d{1,3}[A-Za-z]?|/[A-Za-z](?![A-Za-z]))*|[A-Za-z]|left|right|upper|lower|top|bottom|main|redundant|internal|primary|secondary)\Z",
    re.IGNORECASE,
)


@lru_cache(maxsize=2048)
def slot_alone(text: str) -> str | None:
    """The slot of a cell that holds nothing else, such as `2`, `1/2`, `A` or `Slot 3`."""
    found = _SLOT_ALONE.match(text.strip())
    return found["slot"].lower() if found else None


_OF_PSU = ("ps", "power", "suppl", "pwr", "pem", "rect", "netz", "strom", "aliment")
_OF_FAN = ("fan", "cooling", "ft", "blower", "rotor", "ventil")


def _holds_one(text: str, letters: tuple[str, ...]) -> bool:
    for said in letters:  # noqa: SIM110 -- no generator: it is asked of every cell and key
        if said in text:
            return True
    return False


_JOINS_WORDS = re.compile(r"[ _]+")


def _taken(match: re.Match[str], text: str) -> tuple[str | None, str]:
    slot = match["slot"] or (match["before"] and _JOINS_WORDS.sub("-", match["before"]))
    rest = (text[: match.start()] + " " + text[match.end() :]).strip()
    return (slot.lower() if slot else None), rest


def _with_slot(form: re.Pattern[str], text: str) -> re.Match[str] | None:
    """The first place where a text names a thing; of `Fan: Fan 1` the one with its slot."""
    first = form.search(text)
    if first is None or first["slot"] is not None or first["before"] is not None:
        return first
    again = form.search(text, first.end())
    return (
        again
        if again is not None and again["slot"] is not None and not text[first.end() : again.start()].strip(" :,-")
        else first
    )


@lru_cache(maxsize=4096)
def thing_of(text: str) -> Thing | None:
    """The supply or fan that a text names, if any."""
    if len(text) > 120:
        return None
    lower = text.lower()
    if (
        ":" in text
        and (again := _AGAIN.match(text)) is not None
        and (told := thing_of(again["what"])) is not None
        and told.slot
    ):
        return told  # `Fan: Fan 1`
    if "power" in lower and (placed := _NAMED_POWER.match(text)) is not None:
        return Thing(PSU, _JOINS_WORDS.sub("-", placed["slot"].lower()), placed["rest"].strip())
    if ("fan" in lower or "temp" in lower) and _RUN_ON.search(text) is not None:
        text = _RUN_ON.sub(" ", text)  # `PSU1Fan1`
    if "S" in text and _HUMPED.search(text) is not None:
        text = _HUMPED.sub(r"\1 ", text)
    if ")" in text and _SIDE_BEHIND.search(text) is not None:
        text = _SIDE_BEHIND.sub("", text)  # `PSU-1(L) Fan 1`
    # Looked for by the letters first, since most texts name neither.
    psu = _with_slot(_PSU, text) if _holds_one(lower, _OF_PSU) else None
    fan = _with_slot(_FAN, text) if _holds_one(lower, _OF_FAN) else None
    if psu is not None and fan is not None and psu.start() < fan.end() and fan.start() < psu.end():
        fan = None
    if fan is not None:
        slot, rest = _taken(fan, text)
        if psu is None and slot is not None and (tray := _IN_TRAY.match(rest)) is not None:
            return Thing(FAN, tray[1].lower(), fan.group().strip())
        if psu is None:
            return _with_slot_before(Thing(FAN, slot, rest))
        inner, _ = _taken(psu, text)
        other = _PSU.sub(" ", _FAN.sub(" ", text, count=1), count=1)
        return Thing(FAN, slot, " ".join(other.split()), inner or "")
    if psu is not None:
        slot, rest = _taken(psu, text)
        return _with_slot_before(Thing(PSU, slot, rest))
    return None


_RUN_ON = re.compile(r"(?<=[A-Za-z]\d)(?=(?:Fan|FAN|Temp|TEMP)(?:\d|\b))")
_SIDE_BEHIND = re.compile(r"(?<=\d)\((?:L|R|left|right)\)(?= )")
_IN_TRAY = re.compile(r"(?:tray|drawer|module)[ _#-]{0,2}(\d{1,3})[ ,:/-]*\Z", re.IGNORECASE)
_AGAIN = re.compile(
    r"(?:fans?|psus?|power suppl(?:y|ies)|power|cooling) ?: ?(?P<what>[A-Za-z].{0,60})\Z", re.IGNORECASE
)
_NAMED_POWER = re.compile(
    r"(?P<slot>(?:(?:upper|lower|top|bottom)[ _-])?(?:left|right)|internal|external|main|redundant|primary|secondary|backup)[ _-]+power(?:[ _-]unit)?"
    r"(?P<rest>(?: ?\([^()]*\))?(?: (?:status|state))?)\Z",
    re.IGNORECASE,
)
"""`Main Power Status`, `Right Power Unit(Rear View)`: a supply that is named by its place."""
_SLOT_BEHIND = re.compile(r"(?P<what>status|state|speed) ?\((?P<slot>\d{1,2})\)\Z", re.IGNORECASE)
"""`FanStatus (1)`: the number stands behind what is told."""
_HUMPED = re.compile(r"(?<![A-Za-z])(Fan|PowerSupply)(?=(?:Status|State|Speed)\b)")
_SLOT_BEFORE = re.compile(r"(?:slot|bay|position)[ _#:-]*(\d{1,2}|[A-D])\s*[:,-]?\s*\Z", re.IGNORECASE)


def _with_slot_before(thing: Thing) -> Thing:
    """`Slot 1 PSU`: the slot stands before the thing."""
    if thing.slot is None and (found := _SLOT_BEFORE.match(thing.rest)):
        return thing._replace(slot=found[1].lower(), rest="")
    if thing.slot is None and thing.rest[-1:] == ")" and (behind := _SLOT_BEHIND.match(thing.rest)):
        return thing._replace(slot=behind["slot"], rest=behind["what"])
    return thing


_IGNORED = frozenset(
    """
    led leds lamp light color colour indicator beacon time timestamp date uptime since version revision rev ver
    hw fw firmware software vid mac vendor manufacturer mfg mfr mfrs maker hysteresis average avg mean peak
    lowest highest count sequence interval period uuid asset clei url age hours event events sampling accuracy tolerance
    efficiency prefer preferred config load utilization utilisation redundancy range zone priority oid reason target wanted desired requested
    expected nominal updated update last timestamps primary duration runtime lifetime barcode deviation variance history
    resume recover recovery clear clearance rearm reset partner
    statistics failures restarts resets weight height width size qty quantity resolution minimal optimal hotswap hot swappable pluggable
    removable alias policy mode configured request granted hwrev swrev entity parent class etag odata context
    smbus addr chl mtbf owner notes note comment comments breaker fuse humidity hum rh typ typical nom config prefer preferred failures spare
    """.split()  # noqa: SIM905 -- a list of words reads as one
)  # fmt: skip
_STATUS = frozenset(
    """
    status state states health condition operational oper operstatus operstate opstatus stat sts healthy verdict
    assessment diagnosis
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_PRESENCE = frozenset(
    """
    presence present installed inserted detected equipped online populated plugged fitted
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_THRESHOLD = frozenset(
    """
    threshold thresholds thresh thres thrsh thr th thrd limit limits lim trip setpoint bound
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
HIGH = frozenset(
    """
    high hi upper max maximum over above beyond exceeds higher overtemp hightemp uc un ceil ceiling
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
LOW = frozenset(
    """
    low lo lower min minimum under below lwr least floor
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_NAMES = frozenset(
    """
    name sensor sensors item component element equipment location label measurement point probe device description place where
    spot whereabouts
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_SLOTS = frozenset(
    """
    slot bay no number id index idx position pos unit num member tray drawer mbr instance module switch sw
    chassis node shelf stack card feed frame rack subrack cabinet enclosure
    """.split()  # noqa: SIM905 -- a list of words reads as one
) | {"#"}  # fmt: skip
_VALUES = frozenset(
    """
    value reading current actual now present measured measurement input instant instantaneous val curr cur detail details
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_VOLTAGE = frozenset(
    """
    voltage volt volts voltages vac vdc millivolts vin vout v
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_CURRENT = frozenset(
    """
    current curr amps amp ampere amperes iin iout iac idc amperage milliamps
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_POWER = frozenset(
    """
    power watt watts wattage pin pout pwr
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_TEMPERATURE = frozenset(
    """
    temperature temp tmp temperatures temps celsius thermal centigrade degc heat heatsink
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_SPEED = frozenset(
    """
    speed speeds rpm rpms tach tachometer velocity rotation
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_PERCENT = frozenset(
    """
    percent percentage pct pwm duty drive %
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_INPUT = frozenset(
    """
    input in line ac vin iin pin inlet mains incoming
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_OUTPUT = frozenset(
    """
    output out dc vout iout pout outgoing delivered supplied
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_CAPACITY = frozenset(
    """
    capacity rated rating budget capability wattage
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_FILLER = frozenset(
    """
    the of is a an in on at for and or total real actual measured present power supply fan unit deg degrees
    degree c f v w a side value
    """.split()  # noqa: SIM905 -- a list of words reads as one
)  # fmt: skip
# Words of things that have temperatures, states and powers of their own and are none of the chassis'.
FOREIGN = frozenset(
    """
    interface interfaces port ports transceiver transceivers xcvr sfp qsfp xfp osfp optic optics optical laser
    lane lanes dbm tx rx bias vlan duplex mtu address ip mask gateway nexthop route routes prefix metric
    protocol pid pids process processes command user users memory swap cpu% tty neighbor neighbour lldp arp peer
    session bandwidth packets bytes errors collisions switchport ifname wavelength poe pd
    """.split()  # noqa: SIM905 -- a list of words reads as one
)  # fmt: skip
RANKS = {
    "warning": 2.0, "warn": 2.0, "minor": 2.0, "caution": 2.0, "yellow": 2.0, "nc": 2.0, "noncritical": 2.0, "wrn": 2.0, "warnings": 2.0,
    "alert": 2.5, "tca": 2.0, "alarm": 3.0, "alarms": 3.0, "critical": 4.0, "crit": 4.0, "cr": 4.0, "major": 3.5, "red": 3.5, "danger": 4.0,
    "severe": 4.0, "maj": 3.5, "soft": 3.0, "hard": 4.0,
    "emer": 5.0, "emrg": 5.0, "emerg": 5.0, "alrt": 2.5,
    "shutdown": 5.0, "shut": 5.0, "alrm": 3.0, "fatal": 5.0, "nr": 5.0, "nonrecoverable": 5.0, "emergency": 5.0, "trip": 5.0, "panic": 5.0,
}  # fmt: skip
_SHORT_LIMITS = {
    "unr": ("high", 5.0), "ucr": ("high", 4.0), "unc": ("high", 2.0), "lnc": ("low", 2.0), "lcr": ("low", 4.0), "lnr": ("low", 5.0),
    "uc": ("high", 4.0), "lc": ("low", 4.0), "uw": ("high", 2.0), "lw": ("low", 2.0),
}  # fmt: skip
_MINOR = frozenset(frozenset((side, "min")) for side in ("hi", "high", "lo", "low"))
"""`Hi-min` beside `Hi-maj`: minor and major."""
_FELT = {"cold": Limit("low", 2.0), "warm": Limit("high", 2.0), "hot": Limit("high", 4.0)}
"""Heads of columns of degrees: `cold  warm  hot` beside what is measured."""
_JOINED = {
    "lcrit": ("low", "crit"), "hcrit": ("high", "crit"), "hialarm": ("hi", "alarm"), "hicrit": ("hi", "crit"), "locrit": ("lo", "crit"),
    "loalarm": ("lo", "alarm"), "hiwarn": ("hi", "warn"), "lowarn": ("lo", "warn"), "noncrit": ("noncritical",),
    "curtemp": ("current", "temp"), "fanspeed": ("fan", "speed"), "serialno": ("serial", "number"), "partno": ("part", "number"),
    "overtemp": ("over", "temp"), "thrhold": ("threshold",), "partnumber": ("part", "number"), "serialnumber": ("serial", "number"),
    "hithresh": ("hi", "thresh"), "lothresh": ("lo", "thresh"), "maxtemp": ("max", "temp"), "mintemp": ("min", "temp"),
    "fantray": ("fan",), "inputvoltage": ("input", "voltage"), "outputvoltage": ("output", "voltage"), "degc": ("celsius",),
    "airflowdirection": ("airflow",), "vinput": ("input", "voltage"), "voutput": ("output", "voltage"), "highalarm": ("high", "alarm"),
    "lowalarm": ("low", "alarm"), "highwarn": ("high", "warn"), "lowwarn": ("low", "warn"), "psustatus": ("status",),
    "uin": ("vin",), "uout": ("vout",), "minrpm": ("min", "rpm"), "maxrpm": ("max", "rpm"), "currpm": ("current", "rpm"),
    "actrpm": ("actual", "rpm"), "minspeed": ("min", "speed"), "maxspeed": ("max", "speed"), "alarmstatus": ("alarm", "status"),
    "capa": ("capacity",), "psnum": ("psu", "number"), "psmodel": ("model",), "majthres": ("major", "threshold"),
    "minthres": ("minor", "threshold"),
    "fanstatus": ("status",), "rpms": ("rpm",), "opstatus": ("oper", "status"), "currenttemp": ("current", "temp"),
}  # fmt: skip


# The trade's words in German and French, each as the one it stands for: common practice, no source.
UNACCENTED = str.maketrans("äáàâëéèêïíìîöóòôüúùûç", "aaaaeeeeiiiioooouuuuc")
_JOINED.update(
    {
        "zustand": ("status",), "etat": ("status",), "spannung": ("voltage",), "tension": ("voltage",), "strom": ("current", "amps"),
        "courant": ("current", "amps"), "leistung": ("power",), "puissance": ("power",), "drehzahl": ("speed",), "vitesse": ("speed",),
        "temperatur": ("temperature",), "eingang": ("input",), "entree": ("input",), "ausgang": ("output",), "sortie": ("output",),
        "messwert": ("value",), "wert": ("value",), "valeur": ("value",), "ist": ("value",), "istwert": ("value",), "mesure": ("value",),
        "warnung": ("warning",), "avertissement": ("warning",), "alarme": ("alarm",), "kritisch": ("critical",), "critique": ("critical",),
        "ort": ("location",), "einbauort": ("location",), "emplacement": ("slot",), "steckplatz": ("slot",), "einschub": ("slot",),
        "messstelle": ("sensor",), "fuhler": ("sensor",), "capteur": ("sensor",), "sonde": ("sensor",), "nr": ("number",),
        "seriennummer": ("serial", "number"), "seriennr": ("serial", "number"), "teilenummer": ("part", "number"),
        "eingangsspannung": ("input", "voltage"), "ausgangsspannung": ("output", "voltage"), "eingangsstrom": ("input", "current"),
        "ausgangsstrom": ("output", "current"), "eingangsleistung": ("input", "power"), "ausgangsleistung": ("output", "power"),
        "nennleistung": ("rated", "power"), "grenzwert": ("threshold",), "seuil": ("threshold",), "obergrenze": ("high", "limit"),
        "untergrenze": ("low", "limit"), "einheit": ("units",), "unite": ("units",), "luftrichtung": ("airflow",), "haut": ("high",),
        "bas": ("low",), "oben": ("high",), "unten": ("low",),
    }
)  # fmt: skip


def words_of(text: str) -> list[str]:
    """The words of a label in lower case, with well-known joined ones parted."""
    return list(_words(text))


@lru_cache(maxsize=4096)
def _words(text: str) -> tuple[str, ...]:
    found: list[str] = []
    lower = text.lower().replace("non-critical", "noncritical").replace("non critical", "noncritical")
    if "noncritical" in lower and "noncritical" not in text.lower():
        text = lower
    lower = text.lower()
    if "recoverable" in lower:
        text = lower.replace("non-recoverable", "nonrecoverable").replace("non recoverable", "nonrecoverable")
    if "NonCritical" in text:
        text = text.replace("NonCritical", " noncritical ")
    if not text.isascii():
        text = text.translate(UNACCENTED)
    if "i2c" in lower:
        text = text.replace("I2C", "smbus").replace("i2c", "smbus")
    for match in _WORD.finditer(text):
        word = match.group().lower()
        known = _JOINED.get(word)
        if known is None and len(word) > 4 and word[:2] in _TWO_BEGIN and (two := _TWO_WORDS.match(word)) is not None:
            known = tuple(part for part in two.groups() if part)
        found.extend(known or (word,))
    return tuple(found)


_TWO_BEGIN = frozenset(
    [
        "lo",
        "hi",
        "up",
        "ma",
        "mi",
        "ov",
        "un",
        "cr",
        "wa",
        "al",
        "fa",
        "sh",
        "th",
        "te",
        "ps",
        "po",
        "su",
        "se",
        "sl",
        "in",
        "ou",
        "pa",
        "mo",
        "ra",
    ]
)
_TWO_WORDS = re.compile(
    r"(low|lo|high|hi|upper|lower|max|min|over|under)(critical|crit|warning|warn|alarm|alrm|limit|lim|threshold|thresh|fatal|shutdown|value|temp)\Z"
    r"|(critical|crit|warning|warn|alarm|alrm|fatal|shutdown|shut|thresh|temp)(low|lo|high|hi|upper|lower|max|min)\Z"
    r"|(fan|psu|temp|power|supply|sensor|slot)(status|state|speed|name|type|id|no|num|temp|reading)\Z"
    r"|(input|output|serial|part|model|rated|max)(power|voltage|volts|current|amps|watts|no|num|number|status|state)\Z"
)


_NUMBER_OF_FAN = re.compile(r"fan[ _-]?(?:tray|module|unit)?[ _-]?(?:id|no\.?|num|number|index|idx|#)", re.IGNORECASE)
_COUNTED = re.compile(r"(?:num(?:ber)?(?:[ _]of)?[ _]?|no\.? of |total |count of )(?=[A-Za-z])", re.IGNORECASE)
_FAN_OF = re.compile(r"(?<![A-Za-z])([Ff]an)(?=(?:Status|Speed|State|RPM|Rpm)\b)")
_OVER_A_TIME = re.compile(r"\(\d+ ?(?:h|hrs?|hours?|mins?|minutes?|d|days?)\)\Z", re.IGNORECASE)
"""`Max (24h)`: the greatest that was seen, and no limit."""
_UNIT_SUFFIX = re.compile(r"_(c|v|a|w|mv|ma|kw|degc|rpm|pct)\Z", re.IGNORECASE)
_MEASURED = (
    _VALUES | _VOLTAGE | _CURRENT | _POWER | _TEMPERATURE | _SPEED | _THRESHOLD | HIGH | LOW | _CAPACITY | _INPUT | _OUTPUT
    | RANKS.keys()
)  # fmt: skip


_RAIL = re.compile(r"\d{1,2}(?:\.\d)? ?V")


_AT_VOLTS = re.compile(r"(?<![A-Za-z])[AW] ?@ ?\d{1,3}(?:\.\d+)? ?V\Z")
"""`A @42V`: what is told in watts beside it, once more in amps at one voltage."""
_BOTH_SCALES = re.compile(r"\(?°?C ?/ ?°?F\)?")


@lru_cache(maxsize=4096)
def label_of(text: str) -> Label:
    """What a label speaks of. The field is `unknown` where no word of it is known."""
    if len(text) > 120:
        return Label("unknown")
    if text[-1:] == ")" and _OVER_A_TIME.search(text) is not None:
        return Label("ignored", words=frozenset(words_of(text)))
    if "/" in text and _BOTH_SCALES.fullmatch(text) is not None:
        return Label("value", unit="C", dimension="temperature")
    if "@" in text and _AT_VOLTS.search(text) is not None:
        return Label("ignored", words=frozenset(words_of(text)))
    if text.lower() == "deg_c":
        text = "degC"
    if (suffix := _UNIT_SUFFIX.search(text)) is not None and set(words_of(text[: suffix.start()])) & _MEASURED:
        text = f"{text[: suffix.start()]} ({suffix[1].upper() if len(suffix[1]) == 1 else suffix[1]})"
    bare, unit, kind_in_brackets = _without_unit(
        _FAN_OF.sub(r"\1 ", text) if "FanS" in text or "fanS" in text or "anR" in text else text
    )
    thing = thing_of(bare)
    if unit in ("V", "A", "W") and _RAIL.fullmatch(bare.strip()) is not None:
        return Label("quantity", None, unit, side="output", dimension=_dimension(frozenset(), unit))
    if thing is None and bare.strip().lower() in ("supply", "supplies", "ps", "ps#"):
        thing = Thing(PSU, None, "")
    rest = thing.rest if thing is not None else bare
    if (
        thing is None
        and unit is None
        and len(bare) < 9
        and (alone := unit_word(bare)) is not None
        and not bare.islower()
    ):
        dimension = _dimension(frozenset(), alone)
        field = {"temperature": "value", "speed": "speed", "percent": "percent", None: "unknown"}.get(
            dimension, "quantity"
        )
        return Label(field, None, alone, dimension=dimension, words=frozenset(words_of(bare)))
    listed = words_of(rest)
    words = frozenset(w for w in listed if not w[0].isdigit())
    if (
        unit is None
        and listed
        and (trailing := unit_word(listed[-1]))
        and listed[-1] not in ("a", "f", "c", "v", "w", "uw")
    ):
        unit = trailing
    last = rest.split()[-1] if rest.split() else ""
    if unit is None and len(listed) > 1 and last in ("mV", "mA", "kW", "kV", "C", "V", "W", "A", "°C", "degC", "F"):
        unit = unit_word(last)
        own = {"V": _VOLTAGE, "A": _CURRENT, "W": _POWER, "C": _TEMPERATURE, "F": _TEMPERATURE}.get(last)
        if (
            own is not None
            and not words & (own | {"deg", "degrees"})
            and words & (_VOLTAGE | _CURRENT | _TEMPERATURE | _SPEED) - {last.lower()}
        ):
            unit = None  # `Pack Voltage-Ctlr A`: the letter counts the controllers
    if (
        thing is None
        and unit is None
        and len(words) == 2
        and words & {"power", "psu"}
        and words & {"id", "no", "num", "number", "#", "slot"}
    ):
        return Label("thing", Thing(PSU, None, ""), words=words)
    if thing is None and unit is None and (numbered := _NUMBER_OF_FAN.fullmatch(bare)) is not None:
        return Label("thing", Thing(FAN, None, ""), words=frozenset(words_of(numbered[0])))
    if thing is not None and _COUNTED.match(bare):
        return Label("ignored", None, unit, words=words)  # how many there are
    label = _field(words, listed, thing, unit)
    if kind_in_brackets and label.field in ("status", "thing"):
        label = label._replace(said=kind_in_brackets)
    elif label.field in ("value", "limit", "quantity", "status", "speed", "percent"):
        label = label._replace(said=_unused(rest, label))
    return label


def _without_unit(text: str) -> tuple[str, str | None, str]:
    """A label without what its brackets hold, the unit that they hold, or `AC` or `DC`."""
    unit: str | None = None
    kind = ""
    bracketed = not _OPEN.isdisjoint(text)
    for match in _BRACKETS.finditer(text) if bracketed else ():
        said = match[1].strip()
        found = unit_word(said)
        if found is not None:
            unit = found
        elif said.upper() in ("AC", "DC"):
            kind = said.upper()
        elif "/" in said and all(unit_word(p) for p in said.split("/")):
            unit = "/".join(unit_word(p) or "" for p in said.split("/"))
    bare = text
    if bracketed:
        bare = _BRACKETS.sub(
            lambda m: m.group() if re.fullmatch(r"\s*[\dA-Za-z]{1,3}\s*", m[1]) and unit_word(m[1]) is None else " ",
            text,
        )
    if unit is None and (comma := bare.rfind(",")) > 0 and (found := unit_word(bare[comma + 1 :])):
        unit, bare = found, bare[:comma]
    last = bare.rsplit(" ", 1)[-1]
    if last.count("/") in (1, 2) and len(last) <= 10 and all(unit_word(p) for p in last.split("/")):
        unit, bare = "/".join(unit_word(p) or "" for p in last.split("/")), bare[: -len(last)]
    if (
        unit is None
        and (slash := bare.rfind("/")) > 0
        and (found := unit_word(bare[slash + 1 :]))
        and len(bare[slash + 1 :].strip()) <= 7
    ):
        unit, bare = found, bare[:slash]
    if bare.rstrip().endswith("%"):
        unit = unit or "%"
    return bare.strip(), unit, kind


_NEEDED = (
    _STATUS | _VALUES | _VOLTAGE | _CURRENT | _POWER | _TEMPERATURE | _SPEED | _PERCENT | _THRESHOLD | HIGH | LOW | _FILLER
    | frozenset(RANKS) | frozenset(_SHORT_LIMITS) | {"sensor", "input", "output", "rpm"}
)  # fmt: skip


def slashed(head: str, text: str) -> list[tuple[str, str]]:
    """`Vin/Iin/Pin` over `230 V / 0.9 A / 204 W`: each label with its own part; nothing where it is not so."""
    heads = [h.strip() for h in _BRACKETS.sub("", head).split("/")]
    parts = [t.strip() for t in text.split("/")]
    if not 2 <= len(heads) == len(parts) <= 4:
        return []
    labels = [label_of(h) for h in heads]
    if {lab.field for lab in labels} <= {"part", "model", "serial"} and all(" " not in p for p in parts):
        pass  # `Part / serial` over `TN-PS-580 / TNP20480117`
    elif any(lab.field not in ("quantity", "limit", "speed", "percent", "capacity") for lab in labels):
        return []
    if len({(lab.field, lab.side, lab.dimension, lab.limit) for lab in labels}) != len(labels):
        return []
    units = label_of(head).unit
    if units is not None and "/" in units and units.count("/") == len(heads) - 1:
        return [(f"{h} ({u})", t) for h, u, t in zip(heads, units.split("/"), parts, strict=True)]
    return list(zip(heads, parts, strict=True))


def _unused(rest: str, label: Label) -> str:
    """The words of a label that its field did not need, as they stand."""
    kept = [w for w in re.split(r"\s+", rest.strip()) if w and not all(p in _NEEDED for p in words_of(w))]
    return " ".join(kept).strip(" :-_,")


OF_UNIT = {
    "V": "voltage", "mV": "voltage", "A": "current", "mA": "current", "W": "power", "kW": "power", "mW": "power", "rpm": "speed",
    "%": "percent", "C": "temperature", "F": "temperature", "mC": "temperature",
}  # fmt: skip
"""What is measured in a unit, as `unit_word` names it."""


def _dimension(words: frozenset[str], unit: str | None) -> str | None:
    if unit is not None:
        return OF_UNIT.get(unit)
    if words & _TEMPERATURE:
        return "temperature"
    if "rail" in words and "v" in words and words & (_POWER | _CURRENT) - {"rail"}:
        words -= {"v"}  # `12V Rail Curr`: the volts are the rail's name
    if words & _PERCENT:
        return "percent"
    if words & _SPEED:
        return "speed"
    if words & _VOLTAGE:
        return "voltage"
    if words & _POWER:
        return "power"
    if words & _CURRENT:
        return "current"
    return None


_OF_A_CHASSIS = frozenset(("cooling", "chassis", "system", "sys", "case", "enclosure"))
_WORKS = frozenset(("functional", "functioning", "working", "is working", "is functional"))
"""Labels to which yes and no are a status."""
SIDED = {"vin": "input", "iin": "input", "pin": "input", "vout": "output", "iout": "output", "pout": "output"}


_SERIAL = frozenset(("serial", "sn", "serialnum"))
_ASSEMBLY = frozenset(("assembly no", "assembly number", "assembly", "assy no", "assy"))
_MODEL = frozenset(("model", "sku"))
_NUMBER = frozenset(("number", "id", "name", "no", "code"))
_MAKER = frozenset(("manufacturer", "mfr", "mfg", "vendor", "maker"))
_DESCRIPTION = frozenset(("description", "descr", "desc"))
_WHAT = frozenset(("what it is", "about", "what"))
_WISHED = frozenset(("prefer", "preferred", "expected", "configured", "required"))
_AIR = frozenset(
    ("air flow", "air direction", "direction", "flow direction", "air", "air flow direction", "flow", "fan direction", "air path", "air movement")
)  # fmt: skip
_LAMP = frozenset(("led", "leds", "lamp", "light", "color", "colour", "indicator"))
_BESIDE_LIMITS = frozenset(
    ("range", "hysteresis", "average", "avg", "peak", "nominal", "interval", "count", "enabled", "assertion", "event", "events",
     "variance", "tolerance", "deviation")
)  # fmt: skip
"""With one of these words a label tells something else of a limit or of a measured value."""
_NO_LIMIT_SET = frozenset(
    ("normal", "sensor", "mask", "readable", "settable", "operating", "warranty", "lowest", "highest")
)
"""Words beside `high` or `maximum` by which it is none that raises an alarm."""
_FLAG = frozenset(
    ("fault", "faults", "fail", "failure", "failed", "fan fail", "alarm", "alarms", "alarm active", "warning", "error", "critical")
)  # fmt: skip


_FAILS = frozenset(("fail", "failed", "failure", "fault", "faulted", "lost", "loss", "missing"))
"""With a side, as `input_failed`: whether what comes in, or goes out, has failed."""


def _identity(words: frozenset[str], joined: str) -> str | None:
    """The field of a label that tells which part it is, whose, or which way its air goes."""
    if words & _SERIAL or "s n" in joined:
        return "serial" if not words & {"hardware", "board"} else "ignored"
    if joined in _ASSEMBLY or (words & {"pn", "partnum"} and not words & _STATUS) or "part" in words or joined == "p n":
        return "part"
    if words & _MODEL or ("product" in words and words & _NUMBER) or joined == "pid":
        return "model"
    if words & _MAKER:
        return "ignored"
    if words & _DESCRIPTION or joined in _WHAT:
        return "description"
    if ("airflow" in words and not words & _WISHED) or joined in _AIR:
        return "airflow"
    return None


def _field(words: frozenset[str], listed: list[str], thing: Thing | None, unit: str | None) -> Label:
    if listed[:1] == ["stat"] and words & {"name", "current", "value", "peak", "time", "id"}:
        words, listed = words - {"stat"}, listed[1:]  # a statistic, and no status
    dimension = _dimension(words, unit)

    def made(field: str, limit: Limit | None = None, side: str | None = None, dim: str | None = None) -> Label:
        return Label(field, thing, unit, limit, side, dim or dimension, words)

    if not words or (thing is not None and (words <= _OF_A_CHASSIS or (thing.slot is not None and words <= {"bay"}))):
        return made("thing" if thing is not None else "unknown")
    joined = " ".join(listed)
    if (identity := _identity(words, joined)) is not None:
        return made(identity)
    if dimension == "percent" and words <= {"of", "maximum", "max", "full", "nominal", "total"}:
        return made("percent")
    if "speed" in words and words & {"maximum", "minimum"} and words <= {"maximum", "minimum", "speed", "rpm", "fan"}:
        return made("ignored")  # what a fan can do, and no bound of what it may
    limit = _limit(words, listed, thing, dimension)
    if words & _LAMP:
        return made("ignored")
    if limit is not None and not words & _BESIDE_LIMITS:
        if limit.rank == 1 and words & _NO_LIMIT_SET:
            return made("ignored")
        if dimension == "power" and limit.rank == 1 and limit.side == "high":
            return made("capacity")
        if words & _STATUS:
            return made("status")
        return made("limit", limit)
    if words & {"admin", "administrative"}:
        return made("ignored")
    if joined in _WORKS:
        return made("status")
    ignored = words & _IGNORED - ({"mac", "zone", "class"} if dimension == "temperature" else set())
    if ignored and not (words & _STATUS and not words & {"redundancy", "last", "mode"}):
        if dimension == "power" and words & {"rated", "rating", "capacity", "maximum", "max"}:
            return made("capacity")
        return made("ignored")
    if words & _STATUS:
        side = "input" if words & {"input", "ac", "in"} else "output" if words & {"output", "dc", "out"} else None
        return made("status", side=side)
    if joined in _FLAG:
        return made("flag")
    if (
        words & _FAILS
        and words & (_INPUT | _OUTPUT)
        and words <= _FAILS | _INPUT | _OUTPUT | _VOLTAGE | {"power", "current", "present"}
    ):
        return made("flag", side="input" if words & _INPUT and not words & {"output", "vout"} else "output")
    if words & _CAPACITY and (dimension in ("power", None)):
        if words == {"wattage"}:
            return made("quantity", dim="power")
        if words & {"input"} and words & {"rated", "rating"}:
            return made("ignored")  # what it may take, beside what it can give
        return made("capacity")
    sided = {SIDED[w] for w in words if w in SIDED}
    if len(sided) > 1:
        return made("unknown")  # two heads that ran together
    side = next(iter(sided)) if sided else "input" if words & _INPUT else "output" if words & _OUTPUT else None
    if side is None and "feed" in words and dimension in ("voltage", "current", "power"):
        side = "input"
    if words & _INPUT and words & _OUTPUT and not sided:
        side = (
            "input"
            if words & {"input", "in"} and not words & {"output", "out"}
            else "output"
            if words & {"output", "out"} and not words & {"input", "in"}
            else None
        )
        if side is None:
            return made("unknown")
    if "type" in words or joined in ("kind", "category", "kind of part"):
        return made("type", side=side)
    if dimension == "temperature":
        if unit is None and words & {"sensor", "sensors", "name", "location", "probe", "point"} and not words & _VALUES:
            return made("name")
        return made("value")
    if dimension == "speed":
        return made("speed")
    if dimension == "percent":
        return made("percent")
    if words & {"units", "uom"}:
        return made("value" if "value" in words else "units")
    if dimension in ("voltage", "power"):
        if words & {"maximum", "max"} and dimension == "power":
            return made("capacity")
        return made("quantity", side=side)
    if dimension == "current" and (unit in ("A", "mA") or side is not None or words & (_CURRENT - {"current", "curr"})):
        return made("quantity", side=side, dim="current")
    if joined in ("current", "curr", "cur"):
        return made("current")
    if side is not None and words <= _INPUT | _OUTPUT | _FILLER | {"feed"}:
        return made("side", side=side)
    if (
        words & _PRESENCE
        and not words & (_SLOTS - {"module", "unit", "card"})
        and words <= _PRESENCE | _FILLER | {"module", "card"}
    ):
        return made("presence")
    if words & {"value", "reading"} and not words & {"type", "units", "scale", "precision"}:
        return made("value")
    if words <= _VALUES | _FILLER and words & _VALUES:
        return made("value")
    if words & (_NAMES - {"description", "device"}):
        return made("name")
    if words & _SLOTS:
        return made("slot")
    if words <= {"register", "registered", "registration"}:
        return made("presence")
    if "device" in words:
        return made("name")
    return made("unknown")


def _limit(words: frozenset[str], listed: list[str], thing: Thing | None, dimension: str | None) -> Limit | None:
    for short, (bound, severity) in _SHORT_LIMITS.items():
        if short in words and len(words - _FILLER) <= 2:
            return Limit(bound, severity, severity == 4.0)
    if words in _MINOR:
        return Limit("high" if words & HIGH - {"min"} else "low", 2.0)
    if dimension == "temperature" and len(listed) == 1 and listed[0] in _FELT:
        return _FELT[listed[0]]
    ranks = [(RANKS[w], w) for w in words if w in RANKS]
    side = "high" if words & HIGH else "low" if words & LOW else None
    if words & HIGH and words & LOW:  # `Minor low / high`: both bounds in one cell
        both = [RANKS[w] for w in words if w in RANKS and w not in ("alarm", "alert")]
        return Limit(None, max(both), bool(words & {"critical", "crit"})) if both else None
    threshold = bool(words & _THRESHOLD)
    if ranks:
        if len(ranks) > 1:  # `minor alarm`: how severe it is the other word says
            ranks = [r for r in ranks if r[1] not in ("alarm", "alarms", "alert")] or ranks
        rank, word = max(ranks)
        if (
            side is None
            and not threshold
            and not words & _TEMPERATURE
            and dimension is None
            and len(words) > 1
            and not words <= RANKS.keys() | {"value", "level", "oem", "at"}
        ):
            return None
        if side is None and not threshold and len(listed) == 1 and dimension is None:
            return Limit(None, rank, word in ("critical", "crit", "cr")) if word not in ("alarms", "warnings") else None
        if words & {"count", "active", "list", "enabled", "severity"}:
            return None
        return Limit(side, rank, word in ("critical", "crit", "cr"))
    if threshold:
        return Limit(side, 1.0)
    if (
        side is not None
        and words
        <= HIGH | LOW | _TEMPERATURE | _VOLTAGE | _SPEED | _POWER | _VALUES | _FILLER | _PERCENT | _CURRENT | {"t"}
    ):
        return Limit(side, 1.0)
    if side is not None and words & {"normal", "sensor"}:
        return Limit(side, 1.0)
    return None


_TITLE = frozenset(
    """
    power supply supplies psu psus pem pems rectifier rectifiers fan fans tray trays blower blowers rotor rotors
    temperature temperatures temp thermal sensor sensors status state information info environment environmental
    system chassis module modules unit units table summary report detail details health hardware inventory cooling
    voltage voltages the of and for in device switch bays bay points readings reading current list overview output
    front to back rear f2b b2f airflow heat case board parts physical entity monitoring data values limits thresholds
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_COMMAND = re.compile(r"(?:show|display|get|diagnose|list|print|sensors|ipmitool|tell)\b[\w /.-]*\Z", re.IGNORECASE)


def plain_title(text: str) -> bool:
    """Whether a line above a table says nothing but what the table is about, or which command was typed."""
    if _COMMAND.match(text.strip()):
        return True
    bare, unit, _ = _without_unit(text)
    words = words_of(bare if unit in ("C", "rpm") else text)
    return bool(words) and all(w in _TITLE for w in words)


AIRFLOW: dict[str, str] = {
    **dict.fromkeys(
        ("front-to-back", "front to back", "front2back", "f2b", "f>b", "f->b", "front-back", "front to rear", "front-to-rear", "f-to-b", "f-b",
         "front in back out", "front-in-back-out", "front to back airflow"),
        "front-to-back",
    ),
    **dict.fromkeys(
        ("back-to-front", "back to front", "back2front", "b2f", "b>f", "b->f", "back-front", "rear to front", "rear-to-front", "b-to-f", "b-f",
         "back in front out", "back to front airflow"),
        "back-to-front",
    ),
}  # fmt: skip
_AIRFLOW_IN = re.compile(
    r"(?<![\w-])(?:(?P<front>front[ -]to[ -](?:back|rear)|f2b)|(?P<back>(?:back|rear)[ -]to[ -]front|b2f))(?![\w-])",
    re.IGNORECASE,
)


def airflow_in(text: str) -> str | None:
    """The direction that a longer text names beyond doubt."""
    found = {"front-to-back" if m["front"] else "back-to-front" for m in _AIRFLOW_IN.finditer(text)}
    return found.pop() if len(found) == 1 else None
