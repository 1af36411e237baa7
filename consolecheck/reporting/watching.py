"""What a technician sees while a unit is out: an area that stays in place in a terminal, plain lines elsewhere.

The area holds what is so now, and below it what happened last. It fits 80 columns and 24 lines, says in
words whatever a colour or a bar says, and rings the bell for what is urgent. In a file or a pipe every
notice is a line, and each `every` seconds one line tells the state.
"""

from collections import deque
from collections.abc import Sequence
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from consolecheck.records.readings import Condition
from consolecheck.records.watching import Notice, Picture, SensorNow, UnitNow
from consolecheck.reporting.safe import safe, shortened
from consolecheck.reporting.terminal import Piece

if TYPE_CHECKING:
    from rich.console import Console, Group
    from rich.live import Live
    from rich.text import Text

_MOST_SENSORS, _MOST_UNITS, _MOST_NOTICES = 5, 3, 12
_BESIDE_NAME = 64
"""Columns that a sensor's line needs beside its name."""
_BAR_WIDTH = 36
_SOON = 5.0
"""Minutes to a limit within which a sensor is told before those that merely have less room."""


class Watching:
    """Shows a watch on a stream. Use it as a context manager: the terminal is put right again however it ends."""

    def __init__(
        self,
        stream: TextIO,
        is_terminal: bool,
        width: int | None = None,
        height: int | None = None,
        every: float = 15.0,
    ) -> None:
        """`width` and `height` in characters, those of the terminal where they are not given; `every` in seconds."""
        self._stream, self._is_terminal, self._every = stream, is_terminal, every
        self._size = width, height
        self._console: Console | None = None
        self._live: Live | None = None
        self._notices: deque[tuple[str, Notice]] = deque(maxlen=_MOST_NOTICES)
        self._status_due: float | None = None

    def __enter__(self) -> "Watching":
        self.begin()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def begin(self) -> None:
        """Takes the area, in a terminal that can move its cursor."""
        if not self._is_terminal or self._live is not None:
            return
        from rich.console import Console
        from rich.live import Live

        width, height = self._size
        console = Console(
            file=self._stream,
            force_terminal=True,
            width=width,
            height=height,
            markup=False,
            emoji=False,
            highlight=False,
        )
        if console.is_dumb_terminal:
            return
        self._console = console
        self._live = Live(console=console, auto_refresh=False, redirect_stdout=False, redirect_stderr=False)
        self._live.start()

    def show(self, picture: Picture, notices: Sequence[Notice], clock_text: str) -> None:
        """Shows what is so and what happened, and rings where that is urgent; `clock_text` as `06:13:20`."""
        self._notices.extend((clock_text, notice) for notice in notices)
        if self._live is not None and self._console is not None:
            self._live.update(_area(picture, self._notices, clock_text, self._console), refresh=True)
        else:
            for notice in notices:
                self._write(notice_line(notice, clock_text))
            if self._status_due is None or picture.seconds >= self._status_due:
                self._status_due = picture.seconds + self._every
                self._write(status_line(picture, clock_text))
        if self._is_terminal and any(notice.urgent for notice in notices):
            self._stream.write("\a")
        self._stream.flush()

    def end(self) -> None:
        """Leaves the last picture standing and gives the terminal back."""
        if self._live is not None:
            self._live.stop()
            self._live = None

    def _write(self, line: str) -> None:
        encoding = self._stream.encoding or "utf-8"
        self._stream.write(line.encode(encoding, "replace").decode(encoding) + "\n")


def notice_line(notice: Notice, clock_text: str) -> str:
    """A notice as a line of its own: `06:13:05 wrong-slot, urgent: psu-1 went absent, ...`."""
    return f"{clock_text} {notice.what}{', urgent' if notice.urgent else ''}: {safe(notice.message)}"


def status_line(picture: Picture, clock_text: str) -> str:
    """The state as one line, its parts always in the same order.

    `06:13:20 psu-2 out 24 s of 120 s, closest asic-1 61.0 C (+0.5/min), 34 K below warning`
    """
    parts = [f"{clock_text} {safe(picture.unit)} {_phase(picture)}"]
    if sensors := _by_concern(picture):
        closest = sensors[0]
        rate = "rate not known" if closest.per_minute is None else _rate(closest.per_minute)
        parts.append(f"closest {safe(closest.name)} {closest.value:.1f} C ({rate})")
        if closest.limit is not None:
            parts.append(_room(closest))
        if _soon(closest):
            parts.append(f"there{_time_left(closest)}")
    parts.extend(f"{safe(u.unit)} {_state(u.condition, u.word)}" for u in _changed(picture))
    if picture.links_down:
        parts.append(f"links down: {' '.join(safe(name) for name in picture.links_down)}")
    if picture.unclear:
        parts.append(f"last poll not counted: {safe(picture.unclear)}")
    return ", ".join(parts)


def _phase(picture: Picture) -> str:
    open_for = picture.open_seconds
    if picture.phase == "out":
        if open_for is None:
            return "out since before the watch began"
        over = ", over the limit" if open_for >= picture.open_limit else ""
        return f"out {open_for:.0f} s of {picture.open_limit:g} s{over}"
    was_out = f", was out {open_for:.0f} s" if picture.phase == "fitted" and open_for is not None else ""
    return f"{picture.phase} ({_state(picture.condition, picture.word)}){was_out}"


def _state(condition: Condition | None, word: str | None) -> str:
    if condition is None:
        return "status not shown"
    return condition.value + (f" `{shortened(word, 24)}`" if word else "")


def _changed(picture: Picture) -> list[UnitNow]:
    return [u for u in picture.units if u.condition is not None and u.condition is not u.was]


def _room(sensor: SensorNow) -> str:
    assert sensor.limit is not None, "asked for sensors with a limit only"
    room = round(sensor.limit - sensor.value, 1)
    if room == 0:
        return f"at {sensor.limit_name}"
    return f"{abs(room):g} K {'below' if room > 0 else 'over'} {sensor.limit_name}"


def _soon(sensor: SensorNow) -> bool:
    return sensor.minutes_to_limit is not None and sensor.minutes_to_limit <= _SOON


def _by_concern(picture: Picture) -> list[SensorNow]:
    """Those that will soon be at a limit first, the soonest at the top; then as the picture has them."""
    soon = sorted((s for s in picture.sensors if _soon(s)), key=lambda s: s.minutes_to_limit or 0.0)
    return [*soon, *(s for s in picture.sensors if not _soon(s))]


def _time_left(sensor: SensorNow) -> str:
    """` in 4 min`, or empty where the limit is more than an hour away or not ahead at all."""
    minutes = sensor.minutes_to_limit
    if minutes is None or minutes > 60:
        return ""
    return f" in {minutes * 60:.0f} s" if minutes < 1 else f" in {minutes:.0f} min"


def _trend(rate: float | None) -> str:
    if rate is None:
        return "trend not known yet"
    word = "steady =" if abs(rate) < 0.05 else "rising ^" if rate > 0 else "falling v"
    return f"{word} {_rate(rate)}"


def _rate(per_minute: float) -> str:
    return f"{round(per_minute, 1) + 0.0:+.1f}/min"  # never -0.0


# The area in a terminal.


def _area(picture: Picture, notices: Sequence[tuple[str, Notice]], clock_text: str, console: "Console") -> "Group":
    from rich.console import Group
    from rich.text import Text

    lines = [
        Text.assemble(*pieces, no_wrap=True, overflow="ellipsis")
        for pieces in (
            *_slot_lines(picture, clock_text, console.width),
            *_sensor_lines(picture, console.width),
            *_rest(picture),
        )
    ]
    # One line is left free: an area as high as the terminal could not be drawn over.
    room = console.height - 1 - len(lines) - 2
    last = _last_notices(notices, room, console) if notices else []
    if last:
        lines += [Text(""), Text("What happened", style="bold"), *last]
    return Group(*lines[: max(console.height - 1, 1)])


def _slot_lines(picture: Picture, clock_text: str, width: int) -> list[list[Piece]]:
    unit, open_for, limit = safe(picture.unit), picture.open_seconds, picture.open_limit
    state = _state(picture.condition, picture.word)
    head: list[Piece] = [(f"{clock_text}  ", "dim")]
    if picture.phase == "in place":
        return [
            [*head, (f"{unit} is in place", "bold"), (f" ({state})", "")],
            [(f"  The slot is closed; it may stay open for {limit:g} s", "")],
        ]
    if picture.phase == "fitted":
        good = picture.condition is Condition.OK
        was_open = f"  The slot was open for {open_for:.0f} s of {limit:g} s" if open_for is not None else ""
        return [
            [*head, (f"{unit} is fitted", "bold green" if good else "bold yellow"), (f" ({state})", "")],
            [(was_open or "  How long the slot was open was not seen", "")],
        ]
    if open_for is None:
        return [[*head, (f"{unit} is out", "bold yellow")], [("  The slot was empty when the watch began", "")]]
    over = open_for - limit
    style = "bold red" if over >= 0 else "bold yellow"
    said = f"{open_for:.0f} s of {limit:g} s, " + (
        f"{over:.0f} s OVER THE LIMIT" if over >= 0 else f"{-over:.0f} s left"
    )
    bar = max(min(_BAR_WIDTH, width - len(said) - 16), 4)
    filled = min(int(bar * open_for / limit), bar)
    lines: list[list[Piece]] = [
        [*head, (f"{unit} is out", style)],
        [("  Slot open [", ""), ("#" * filled, style), ("." * (bar - filled), "dim"), ("] ", ""), (said, style)],
    ]
    if over >= 0:
        lines.append([("  Fit the unit or a blank: a breach of procedure, no fault of the hardware", "")])
    return lines


def _sensor_lines(picture: Picture, width: int) -> list[list[Piece]]:
    from rich.cells import cell_len

    if not picture.sensors:
        return []
    lines: list[list[Piece]] = [[], [("Nearest to their limits", "bold")]]
    most = _MOST_UNITS if _changed(picture) or picture.unclear else _MOST_SENSORS
    shown = _by_concern(picture)[:most]  # what happened must find room as well
    widest = min(max(cell_len(safe(s.name)) for s in shown), max(width - _BESIDE_NAME, 8))
    for sensor in shown:
        told = "no limit is printed"
        if sensor.limit is not None:
            left = _time_left(sensor)
            told = _room(sensor) + ("," + left if left else "")
        over = sensor.limit_name == "critical" or (sensor.limit is not None and sensor.value >= sensor.limit)
        read = f"  {_padded(sensor.name, widest)} {sensor.value:6.1f} C  {_trend(sensor.per_minute):<19}  "
        lines.append([(read, ""), (told, "red" if over else "")])
    if more := len(picture.sensors) - len(shown):
        lines.append([(f"  and {more} more", "dim")])
    return lines


def _padded(text: str, width: int) -> str:
    """Safe text in so many columns; a wide character takes two."""
    from rich.cells import cell_len, set_cell_size

    text = safe(text)
    return set_cell_size(text, width) if cell_len(text) <= width else set_cell_size(text, width - 1) + "…"


def _rest(picture: Picture) -> list[list[Piece]]:
    lines: list[list[Piece]] = []
    changed = _changed(picture)
    same = sum(u.condition is not None and u.condition is u.was for u in picture.units)
    if picture.units:
        lines += [
            [],
            [("Other units: ", "bold"), (f"{same} as before" + (f", {len(changed)} not" if changed else ""), "")],
        ]
    for unit in changed[:_MOST_UNITS]:
        was = unit.was.value if unit.was is not None else "not shown"
        lines.append([(f"  {safe(unit.unit)}: {_state(unit.condition, unit.word)}", "red"), (f", was {was}", "")])
    if len(changed) > _MOST_UNITS:
        lines.append([(f"  and {len(changed) - _MOST_UNITS} more", "")])
    if picture.links_down:
        names = ", ".join(safe(name) for name in picture.links_down)
        lines.append([(f"Links down, {len(picture.links_down)}: ", "bold"), (names, "red")])
    if picture.unclear:
        lines.append([(f"The last poll is not counted: {safe(picture.unclear)}", "bold yellow")])
        lines.append([("The rest is from the poll before it", "")])
    return lines


def _last_notices(notices: Sequence[tuple[str, Notice]], room: int, console: "Console") -> "list[Text]":
    """The newest notices that fit into so many lines, the newest last, folded at the width."""
    from rich.text import Text

    shown: list[Text] = []
    for clock_text, notice in reversed(notices):
        style = "bold" if notice.urgent else ""
        head = f"{clock_text} {'!' if notice.urgent else ' '} "
        folded = list(Text(safe(notice.message), style=style).wrap(console, max(console.width - len(head), 20)))
        if len(shown) + len(folded) > room:
            break
        heads = [head, *[" " * len(head)] * (len(folded) - 1)]
        shown = [Text.assemble((h, "dim"), part) for h, part in zip(heads, folded, strict=True)] + shown
    return shown
