"""What the simulated switch prints for `tell ...`: the layout of the wexcombe family. Pure."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType

from consolecheck.rehearsal.physics import Chassis

_DIRECTIONS = {"f>b": "front-to-back", "b>f": "back-to-front"}


def _table(title: str, columns: Sequence[tuple[str, int]], rows: Iterable[Sequence[str]]) -> list[str]:
    """A table with columns of fixed width; the last one is not padded."""

    def line(cells: Sequence[str]) -> str:
        padded = (cell.ljust(width - 1) + " " for cell, (_, width) in zip(cells, columns, strict=True))
        return ("  " + "".join(padded)).rstrip()

    body = [line(row) for row in rows]
    counted = f"{len(body)} row{'' if len(body) == 1 else 's'}"
    return [title, line([name for name, _ in columns]), *body, f"END {title}, {counted}"]


def _self(chassis: Chassis) -> list[str]:
    c = chassis.configuration
    minutes, seconds = divmod(int(chassis.awake), 60)
    hours, minutes = divmod(minutes, 60)
    days, hours = divmod(hours, 24)
    facts = {
        "name": c.host,
        "family": f"wexcombe {c.family}",
        "chassis": c.serial,
        "part": c.part_number,
        "awake": f"{days}d {hours}h {minutes:02}m {seconds:02}s",
        "clock": f"{chassis.clock:%Y-%m-%dT%H:%M:%SZ}",
        "air": _DIRECTIONS[c.airflow],
    }
    return ["SELF", *(f"  {fact + ' ':.<13} {value}" for fact, value in facts.items()), "END SELF"]


_POWER = (
    ("bay", 5),
    ("state", 10),
    ("feed", 6),
    ("line", 6),
    ("in/V", 7),
    ("in/A", 6),
    ("in/W", 7),
    ("out/V", 7),
    ("out/A", 7),
    ("out/W", 7),
    ("rated/W", 9),
    ("air", 3),
)


def _power(chassis: Chassis) -> list[str]:
    rows = []
    for unit, s in chassis.supplies.items():
        bay = unit.removeprefix("psu-")
        if s.part is None:
            rows.append([bay, "empty", *["-"] * 10])
            continue
        measured = (
            f"{s.input_voltage:.1f}",
            f"{s.input_current:.2f}",
            f"{s.input_power:.1f}",
            f"{s.output_voltage:.2f}",
            f"{s.output_current:.2f}",
            f"{s.output_power:.1f}",
        )
        rows.append([bay, s.state, s.feed, s.part.line, *measured, f"{s.part.rating:.0f}", s.part.airflow])
    return _table("POWER BAYS", _POWER, rows)


_FANS = (("bay", 5), ("rotor", 7), ("state", 9), ("duty/%", 8), ("speed/rpm", 11), ("least/rpm", 11), ("air", 3))


def _fans(chassis: Chassis) -> list[str]:
    rows: list[list[str]] = []
    for unit, fan in chassis.fans.items():
        bay = unit.removeprefix("fan-")
        if fan.part is None:
            rows.extend([bay, letter, "empty", "-", "-", "-", "-"] for letter in "ab")
            continue
        for letter, rotor in fan.rotors.items():
            state, least = chassis.rotor_state(rotor), str(chassis.configuration.least_rpm)
            # The counter counts turns over two seconds.
            speed = 0 if state == "stalled" else round(rotor.speed / 30) * 30
            rows.append([bay, letter, state, str(chassis.commanded), str(speed), least, fan.part.airflow])
    return _table("FAN BAYS", _FANS, rows)


_HEAT = (("point", 8), ("now/C", 7), ("cold/C", 8), ("warm/C", 8), ("hot/C", 7), ("state", 5))


def _heat(chassis: Chassis) -> list[str]:
    rows = [
        [
            s.name,
            "-" if value is None else f"{value:.1f}",
            f"{s.low_warning:.1f}",
            f"{s.high_warning:.1f}",
            f"{s.high_critical:.1f}",
            state,
        ]
        for s, value, state in chassis.heat_points()
    ]
    return _table("HEAT POINTS", _HEAT, rows)


_PARTS = (("place", 9), ("state", 8), ("part", 14), ("serial", 6))


def _parts(chassis: Chassis) -> list[str]:
    rows = [["chassis", "fitted", chassis.configuration.part_number, chassis.configuration.serial]]
    for unit, bay in chassis.bays.items():
        part = bay.part
        rows.append([unit, "fitted", part.part_number, part.serial] if part else [unit, "empty", "-", "-"])
    return _table("PARTS", _PARTS, rows)


_PORTS = (("port", 6), ("link", 6), ("speed", 7), ("label", 5))


def _ports(chassis: Chassis) -> list[str]:
    rows = [[str(p.number), "up" if up else "down", p.speed if up else "-", p.label] for p, up in chassis.links()]
    return _table("PORTS", _PORTS, rows)


_ALARMS = (("since", 22), ("weight", 8), ("place", 9), ("what", 4))


def _alarms(chassis: Chassis) -> list[str]:
    rows = [[f"{a.since:%Y-%m-%dT%H:%M:%SZ}", a.weight, a.place, a.what] for a in chassis.alarms()]
    return _table("ALARMS", _ALARMS, rows)


TABLES: Mapping[str, Callable[[Chassis], list[str]]] = MappingProxyType(
    {
        "self": _self,
        "power": _power,
        "fans": _fans,
        "heat": _heat,
        "parts": _parts,
        "ports": _ports,
        "alarms": _alarms,
    }
)
"""What can be told -> the lines that tell it."""
