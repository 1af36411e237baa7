"""Reads one cell: a quantity, two of them, a status word, or nothing.

A cell is taken wholly or not at all. What a maker writes beside a figure and what has one meaning is
understood: a tolerance in brackets, the same temperature once more in Fahrenheit, commas in thousands.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from typing import NamedTuple

from consolecheck.records.readings import Condition
from consolecheck.records.units import Quantity, UnreadableQuantity, parse_quantity

BLANK = frozenset(
    (
        "", "-", "--", "---", "----", "-----", "n/a", "na", "n.a.", "n/a.", "none", "not available", "unavailable",
        "unspecified", "no reading", "not readable", "nan", "null", "not applicable", "[n/a]", "<n/a>", "n\\a", ".",
        "not supported", "notsupported", "unsupported", "?", "(null)", "no data", "not reported",
        "(none)", "not set", "unset", "not measured", "no value", "no limit",
    )
)  # fmt: skip

FIGURES = frozenset("0123456789+")
"""What no blank begins with."""

# Only words whose meaning is beyond doubt. A present or enabled part is not therefore a healthy one, and
# words such as `hot`, `ready` or `running` differ from maker to maker.
WORDS: dict[str, Condition] = {
    **dict.fromkeys(
        (
            "ok", "okay", "good", "normal", "healthy", "up", "operational", "fully operational", "working",
            "functional", "functioning", "no fault", "no faults", "no alarm", "no alarms", "no error", "no errors",
            "powered up", "powered-up", "operating normally", "within limits", "under threshold", "below threshold", "within range",
            "in ordnung", "normal operation", "is ok", "is normal", "is good", "status ok", "all ok", "nominal", "fine",
            "in operation", "in-operation", "power ok", "pass", "passed",
        ),
        Condition.OK,
    ),
    **dict.fromkeys(("warning", "warn", "caution", "degraded", "nc", "lnc", "unc", "minor warning", "minor", "non-critical", "alarm",
                     "minor alarm", "minoralarm",
                     "check", "out of range", "out of limits", "over threshold", "above threshold", "outside limits",
                     "warnung", "avertissement"), Condition.WARNING),
    **dict.fromkeys(
        (
            "fail", "failed", "failure", "fault", "faulty", "faulted", "bad", "critical", "not ok", "not good",
            "not operational", "nonoperational", "non-operational", "inoperable", "inoperative", "error", "dead",
            "down", "broken", "defective", "stalled", "stopped", "stuck", "malfunction", "malfunctioning",
            "not working", "not functioning", "not functional", "crit", "cr", "lcr", "ucr", "nr", "lnr", "unr", "abnormal",
            "defekt", "ausgefallen", "gestört", "störung", "fehler", "ausfall", "kritisch", "défaut", "en panne", "défaillant", "panne",
            "fatal", "failing",
            "major", "major alarm", "majoralarm", "fan failure", "fan fail", "rotor failed", "locked rotor", "output failure", "output fault",
            "output failed", "not powering", "not running", "not spinning", "not turning", "not rotating", "outage",
            "internal fault", "supply fault", "hardware fault", "unhealthy", "emergency",
        ),
        Condition.FAILED,
    ),
    **dict.fromkeys(
        (
            "absent", "absente", "not present", "notpresent", "missing", "empty", "not installed", "notinstalled", "removed",
            "not inserted", "not fitted", "unplugged module", "no module", "not populated", "unpopulated", "not detected",
            "no psu", "no power supply", "no fan", "not equipped", "not-present", "not_present", "slot empty", "unequipped",
            "uninstalled", "not found", "empty slot", "vacant", "nicht vorhanden", "fehlt", "nicht bestückt", "leer", "non présent",
            "manquant", "vide", "non équipé", "not there",
        ),
        Condition.ABSENT,
    ),
    **dict.fromkeys(
        (
            "no input", "no input power", "no-input", "no ac", "no ac input", "no ac power", "ac lost", "ac fail",
            "ac failed", "ac failure", "input lost", "input fault", "input failed", "input failure", "input fail", "no dc input", "no dc",
            "loss of input", "input loss", "input power lost", "no power input", "power supply ac lost", "no input voltage", "no voltage",
            "ac input lost", "dc input lost", "loss of ac", "input missing", "input absent", "ac absent",
            "no line input", "line lost", "no mains", "mains lost", "mains failure",
            "mains failed", "mains fail", "no mains input", "line failed", "not powered", "no line", "no power",
            "keine eingangsspannung", "kein netz", "netzausfall", "pas d'entrée", "secteur absent",
            "input voltage lost", "lost input", "noinput", "no_input", "ac off", "unpowered", "input power loss", "power input loss", "power loss",
            "power failed",
            "power lost",
            "no feed", "input voltage missing", "input voltage absent", "input power missing", "input power absent", "dc input fail",
            "dc input failed", "dc input failure", "dc input missing", "dc input absent", "ac input fail", "ac input failed",
            "ac input failure", "ac input missing", "ac input absent", "notsupply", "not supply", "not supplied", "not supplying",
        ),
        Condition.NO_INPUT,
    ),
    # Sensor-specific states of a power supply, type 08h: IPMI v2.0, table 42-3.
    **{
        said: told
        for state, told in (
            ("failure detected", Condition.FAILED), ("predictive failure", Condition.WARNING),
            ("predictive failure detected", Condition.WARNING), ("predictive failure asserted", Condition.WARNING),
            ("ac lost or out of range", Condition.NO_INPUT), ("input lost or out of range", Condition.NO_INPUT),
            ("input lost", Condition.NO_INPUT), ("configuration error", Condition.FAILED), ("config error", Condition.FAILED),
        )
        for said in (state, f"power supply {state}", f"ps {state}", f"psu {state}")
    },
    **{
        f"{side} {severity}": condition
        for side in ("upper", "lower")
        for severity, condition in (
            ("non-critical", Condition.WARNING), ("critical", Condition.FAILED), ("non-recoverable", Condition.FAILED),
        )
    },
    **{
        f"{beyond} {side} {severity}": condition
        for beyond, sides in (("above", ("upper", "high")), ("over", ("upper", "high")), ("below", ("lower", "low")), ("under", ("lower", "low")))
        for side in sides
        for severity, condition in (("warning", Condition.WARNING), ("non-critical", Condition.WARNING), ("critical", Condition.FAILED))
    },
    **dict.fromkeys(("standby", "stand-by", "stand by", "hot standby", "cold standby"), Condition.STANDBY),
}  # fmt: skip
PRESENT = frozenset(
    """
    present yes true installed inserted equipped fitted online registered on enabled plugged populated detected
    available vorhanden présent
    """.split()  # noqa: SIM905 -- a list of words reads as one
) | {"presence detected", "powered on", "poweron", "power on", "plugged in", "in service", "activated", "is present"}
"""Words that say a part is there, or switched on: no condition by themselves."""
_MISSING = frozenset(("no", "false", "n", "0"))
COLOURS = frozenset(
    """
    green amber yellow red blue white orange off solid blinking flashing grey gray
    """.split()  # noqa: SIM905 -- a list of words reads as one
)
_WORDED_UNIT = {
    "℃": "C", "º c": "C", "ºc": "C", "° c": "C", "deg. c": "C", "deg.c": "C", "°": "C", "degs c": "C", "celcius": "C", "centigrade": "C",
    "degrees": "C", "degree": "C", "deg": "C", "degrees centigrade": "C", "volts ac": "V", "volts dc": "V", "v ac": "V", "v dc": "V",
    "vrms": "V", "adc": "A", "aac": "A", "℉": "F", "º f": "F", "ºf": "F", "° f": "F", "deg. f": "F", "watts dc": "W", "watts ac": "W",
    "r.p.m.": "rpm", "revs/min": "rpm", "rpms": "rpm", "watt(s)": "W", "percentage": "%", "per cent": "%", "degc.": "C", "c.": "C",
    "volt(s)": "V", "amp(s)": "A", "amps dc": "A", "amps ac": "A", "degrees-c": "C", "degreesc": "C", "milli volts": "mV", "milli amps": "mA",
}  # fmt: skip
_UNITS = {
    "v": "V", "volt": "V", "volts": "V", "vac": "V", "vdc": "V", "mv": "mV", "millivolts": "mV", "millivolt": "mV", "a": "A", "amp": "A",
    "amps": "A", "ampere": "A", "amperes": "A", "ma": "mA", "milliamps": "mA", "w": "W", "watt": "W", "watts": "W", "kw": "kW",
    "mw": "mW", "milliwatts": "mW", "rpm": "rpm", "rpms": "rpm", "%": "%", "percent": "%", "pct": "%",
    "c": "C", "celsius": "C", "cel": "C", "celcius": "C",
    "centigrade": "C", "f": "F", "fahrenheit": "F", "°c": "C", "℃": "C", "degc": "C", "°f": "F", "degf": "F",
    "deg c": "C", "degrees c": "C", "degree c": "C", "degrees celsius": "C", "degree celsius": "C", "deg celsius": "C",
    "degrees f": "F", "degrees fahrenheit": "F", "r/min": "rpm", "° c": "C", "volts ac": "V", "volts dc": "V", "ºc": "C", "deg": "C",
    "u/min": "rpm", "tr/min": "rpm", "1/min": "rpm",
    "millidegrees c": "mC", "mc": "mC", "millidegrees celsius": "mC", "mdegc": "mC", "rev/min": "rpm", "hz": "Hz", "deg. c": "C",
    "milliamperes": "mA", "kilowatts": "kW", "kv": "kV", "uw": "uW", "v dc": "V", "v ac": "V", "deg. celsius": "C",
    "deg-c": "C", "degree-c": "C", "degs": "C", "degreesc": "C",
}  # fmt: skip
DIMENSION = {"V": "voltage", "A": "current", "W": "power", "rpm": "speed", "%": "percent", "Cel": "temperature"}

_NUMBER = re.compile(
    r"(?P<number>[+-]?\d+(?:[.,]\d+)*(?:[eE][+-]?\d{1,2})?)\s*(?P<unit>[^\d\s,;/()\[\]+|=-][^\d,;/()\[\]+|=]*)?"
)
BARE_FIGURE = re.compile(r"[+-]?\d+(?:\.\d+)?")
_TOLERANCE = re.compile(r"\(\+/-\s*[\d.]+\s*\)")
_TURNS = re.compile(r"(?<![A-Za-z])(?:r|tr|revs?|U)/min\b", re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?\Z")
_BOUND = re.compile(r"[<>~≈≤≥]")
_SHARE = re.compile(
    r"(?<=\d) ?(?:percent|%) of (?:the )?(?:max(?:imum)?|full|nominal)(?: (?:speed|rpm))?\Z", re.IGNORECASE
)
_DEGREES = re.compile(r"(?<=\d) ?'(?=[CF]\b)")
"""`107'F`: an apostrophe for the sign of degrees."""


class Unplaced(ValueError):
    """A cell or a thing that cannot be understood; the message says why."""


@lru_cache(maxsize=2048)
def unit_word(text: str) -> str | None:
    """The unit that a word such as `Watts` or `degrees C` names, as `parse_quantity` takes it."""
    key = " ".join(text.lower().split()).strip("() []").rstrip(".") if text else ""
    if text.strip("() []") == "mW":
        return "mW"
    if text.strip("() []") == "MW":
        return None
    return _UNITS.get(key)


class Read(NamedTuple):
    """What a cell holds: quantities in order, and the words beside them."""

    quantities: tuple[Quantity, ...]
    words: str


@lru_cache(maxsize=4096)
def read_cell(text: str, assumed: str | None = None) -> Read:
    """The quantities and the words of a cell. Raises Unplaced where a figure in it cannot be understood.

    `assumed` is the unit of a bare number.
    """
    stripped = text.strip()
    if BARE_FIGURE.fullmatch(stripped) is not None:
        return Read((_quantity(stripped, None, assumed)[0],), "")
    if is_blank(stripped):
        return Read((), "")
    if _BOUND.search(stripped[:1]):
        raise Unplaced(f"`{stripped}` is a bound and not a value")
    stripped = _TOLERANCE.sub("", stripped)
    if "'" in stripped:
        stripped = _DEGREES.sub("°", stripped)
    if " of " in stripped:
        stripped = _SHARE.sub("%", stripped)
    if "/min" in stripped:
        stripped = _TURNS.sub("rpm", stripped)
    if not any(c.isdigit() for c in stripped):
        return Read((), stripped)
    found: list[Quantity] = []
    words: list[str] = []
    at = 0
    while at < len(stripped):
        char = stripped[at]
        if char in " ,;/()[]|":
            at += 1
            continue
        match = _NUMBER.match(stripped, at)
        if match is None:
            end = at
            while end < len(stripped) and stripped[end] not in ",;/()[]|":
                end += 1
            piece = stripped[at:end].strip()
            if any(c.isdigit() for c in piece):
                raise Unplaced(f"`{piece}` is not understood")
            words.append(piece)
            at = end
            continue
        quantity, rest = _quantity(match["number"], match["unit"], assumed)
        found.append(quantity)
        if rest:
            words.append(rest)
        at = match.end()
    return Read(_merged(found), " ".join(words))


def _quantity(number: str, unit: str | None, assumed: str | None) -> tuple[Quantity, str]:
    """A figure with its unit; words behind the unit are given back."""
    if "," in number:
        if _THOUSANDS.match(number) and (number.count(",") > 1 or _plain(unit, assumed)):
            number = number.replace(",", "")
        elif number.count(",") == 1 and "." not in number and len(number.split(",")[1]) != 3:
            number = number.replace(",", ".")
        else:
            raise Unplaced(f"`{number}` can be read in two ways")
    if number.count(".") > 1:
        raise Unplaced(f"`{number}` is not a number")
    rest = ""
    spelled = unit.strip() if unit else None
    if spelled:
        words = spelled.split()
        for take in range(min(len(words), 3), 0, -1):
            said = " ".join(words[:take])
            known = unit_word(said) or _WORDED_UNIT.get(said.lower().rstrip("."))
            if known:
                spelled, rest = known, " ".join(words[take:])
                break
        else:
            if (
                condition_of(spelled) is not None
                or spelled.lower() in PRESENT
                or spelled.lower() in ("in", "out", "input", "output")
            ):
                rest, spelled = spelled, None
            else:
                raise Unplaced(f"`{number} {spelled}` has no unit that is known")
    try:
        return parse_quantity(f"{number} {spelled}" if spelled else number, assumed), rest
    except UnreadableQuantity as reason:
        raise Unplaced(str(reason)) from None


def _plain(unit: str | None, assumed: str | None) -> bool:
    """Whether a unit goes with figures in thousands, so that a comma before three digits parts thousands."""
    spelled = (unit or assumed or "").strip().lower()
    return spelled[:3] == "rpm" or spelled in ("w", "watt", "watts", "mv", "ma")


def _merged(found: list[Quantity]) -> tuple[Quantity, ...]:
    """The same temperature in two scales is one value."""
    if len(found) == 2 and found[0].unit == found[1].unit == "Cel" and abs(found[0].value - found[1].value) <= 1.0:
        whole = [q for q in found if abs(q.value - round(q.value, 3)) < 1e-9]
        return (whole[0] if whole else found[0],)
    return tuple(found)


@lru_cache(maxsize=2048)
def plain(text: str) -> str:
    """A status text in lower case, without brackets and marks around it."""
    return " ".join(text.lower().replace("_", " ").split()).strip("*!.,;:()[]<>\"' ")


@lru_cache(maxsize=2048)
def condition_of(text: str) -> Condition | None:
    """The condition that a word means beyond doubt; unknown where it is a word, but not one of those."""
    said = plain(text)
    if not said or said in BLANK:
        return None
    if said[:2] == "ok" and _AT_A_STEP.fullmatch(said) is not None:
        return Condition.OK
    return WORDS.get(said) or WORDS.get(said.replace("-", " ")) or _STATED.get(said)


_STATED: dict[str, Condition] = {}
"""What a person states of words that are in none of the lists above, while a text is read with it."""
_THERE_AND_NO_MORE = PRESENT - {
    "on",
    "online",
    "enabled",
    "powered on",
    "poweron",
    "power on",
    "in service",
    "activated",
}


def may_be_stated(word: str) -> bool:
    """Whether a person may say what a status word means: it is none whose meaning is beyond doubt, and says more than that a part is there."""
    said = plain(word)
    known = said in BLANK or said in _MISSING or said in _THERE_AND_NO_MORE
    return said.isascii() and any(map(str.isalpha, said)) and not known and condition_of(word) is None


@contextmanager
def stated(words: Mapping[str, Condition]) -> Iterator[None]:
    """Lets words mean, within, what a person stated; whoever remembers what words meant must forget it before and after."""
    _STATED.update({plain(word): condition for word, condition in words.items()})
    condition_of.cache_clear()
    try:
        yield
    finally:
        _STATED.clear()
        condition_of.cache_clear()


_AT_A_STEP = re.compile(
    r"ok[-/ ](?:low|med|medium|mid|middle|high|full|auto)(?:[-/ ](?:low|med|medium|mid|middle|high|full|auto))?"
)
"""`OK-low/med`: well, and how fast the fans turn."""


def presence_of(text: str) -> Condition | None:
    """ABSENT where a presence cell denies, None where it affirms, UNKNOWN for other words."""
    said = plain(text)
    if said in _MISSING or WORDS.get(said) is Condition.ABSENT:
        return Condition.ABSENT
    if said in PRESENT or said in BLANK or said in ("1", "y"):
        return None
    return WORDS.get(said, Condition.UNKNOWN)


def is_blank(text: str | None) -> bool:
    # Most cells begin with a figure, which no blank does.
    if text is None:
        return True
    if text[:1] in FIGURES:
        return False
    said = text.strip().lower()
    return said in BLANK or (said[0] in "-n" and _ONLY_A_UNIT.fullmatch(said) is not None)


_ONLY_A_UNIT = re.compile(r"(?:-{1,3}|n/a) ?(?:rpm|°?c|deg c|m?v|m?a|k?w|%)")
"""`- RPM`: a blank with the unit that a figure would have there."""
