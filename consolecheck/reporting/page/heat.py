"""Temperatures: a small plot a sensor over time, the room to the limits before and after, and the table."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from consolecheck.reporting.page import signs
from consolecheck.reporting.page.markup import Html, joined, said, section, table, tag
from consolecheck.reporting.page.plots import (
    ACCENT,
    BAD,
    INK,
    MUTED,
    OPEN,
    PAPER,
    RULE,
    Plot,
    dots,
    drawing,
    labels_width,
)
from consolecheck.reporting.page.sensors import Sensor, curve, out_of_slot, plotted, sensors
from consolecheck.reporting.proof import Proof

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEAST_SPAN = 6.0
"""Kelvin that a plot shows at least, so that a step of a sensor does not look like a leap."""


def temperatures(proof: Proof) -> Html:
    """The section; without samples it says that the swap was judged at one moment."""
    found = sensors(proof)
    if not found:
        return Html()
    drawn = plotted(found, proof.judgement.unit)
    parts: list[str] = []
    with drawing():
        if drawn:
            out = out_of_slot(proof)
            plots = [_course(f"t{number}", sensor, out) for number, sensor in enumerate(drawn)]
            rest = len(found) - len(drawn)
            parts += [
                tag("p", _KEY, "Minutes count from ", _FROM[bool(out)], class_="note key"),
                tag("div", *plots, class_="many"),
                tag("p", f"{rest} more in the table below.", class_="note") if rest else "",
            ]
        else:
            parts.append(
                tag(
                    "p",
                    "Judged at one moment: there are no samples, so nothing is shown of how the temperatures went.",
                    class_="plain",
                )
            )
        parts.append(_rooms(found))
    parts.append(_table(found, proof))
    return section("heat", "Temperatures", *parts)


_FROM = {
    True: "when the part was seated; the hatched time is the open slot.",
    False: "the first sample; none shows the slot open.",
}
_KEY = Html(
    '<svg viewBox="0 0 34 12" aria-hidden="true"><path class="k-dots" d="M3 8h0M10 7h0M17 5h0M24 5h0M31 4h0"/></svg> readings '
    '<svg viewBox="0 0 34 12" aria-hidden="true"><path class="k-fit" d="M2 10C8 5 16 4 32 3"/></svg> fitted curve '
    '<svg viewBox="0 0 34 12" aria-hidden="true"><path class="k-end" d="M2 5h30"/></svg> where it will stand. '
    "The bar on the left of each plot is to scale, with the warning limit dashed and the critical one solid; "
    "the plot beside it enlarges the part between the two thin lines. "
)


def _course(name: str, sensor: Sensor, out: Sequence[tuple[float, float]]) -> Html:
    """One sensor over time: the whole scale as a bar on the left, the course enlarged beside it."""
    plot = Plot(name, 300, 168)
    times, values = [t / 60 for t, _ in sensor.points], [v for _, v in sensor.points]
    end = sensor.end
    shown = [*values, *([] if end is None else [end])]
    low, high = min(shown), max(shown)
    spare = max(_LEAST_SPAN - (high - low), (high - low) * 0.3, 0.0) / 2
    low, high = low - spare, high + spare
    limits = [limit for limit in (sensor.warning, sensor.critical) if limit is not None]

    bar = plot.axes(30, 30, 256, 10)
    bottom, top = min(low, 0.0 if low > 0 else low), max([high, *limits]) * 1.04
    bar.set_xlim(0, 1)
    bar.set_ylim(bottom, top)
    bar.axhspan(bottom, top, facecolor=RULE, edgecolor="none", alpha=0.35)
    for edge in (low, high):
        bar.plot([0, 1], [edge, edge], color=MUTED, linewidth=0.7)
    bar.axhspan(min(values), max(values), facecolor=ACCENT, edgecolor=ACCENT, linewidth=1.5)
    _limit_lines(bar, sensor, (0, 1))
    bar.set_xticks([])
    bar.set_yticks([round(bottom), *limits] if limits else [round(bottom), round(top)])
    if len(limits) > 1 and limits[1] - limits[0] < 0.11 * (top - bottom):  # their figures would run into each other
        lower, upper = bar.get_yticklabels()[1:]
        lower.set_verticalalignment("top")
        upper.set_verticalalignment("bottom")
    bar.spines[:].set_visible(False)
    bar.tick_params(axis="y", length=0, pad=3)

    axes = plot.axes(84, 30, 8, 10)
    axes.set_ylim(low, high)
    axes.set_xlim(times[0], times[-1] if times[-1] > times[0] else times[0] + 1)
    axes.locator_params(axis="y", nbins=4, integer=True)
    axes.locator_params(axis="x", nbins=5)
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    for begin, stop in out:
        axes.axvspan(begin / 60, stop / 60, facecolor="none", edgecolor=MUTED, hatch="////", linewidth=0)
    _limit_lines(axes, sensor, (times[0], times[-1]))
    dots(axes, times, values, color=MUTED, linewidth=2.4)
    x, y = curve(sensor)
    if x:
        axes.plot([t / 60 for t in x], y, color=ACCENT, linewidth=2)
    if end is not None:
        axes.plot([times[0], times[-1]], [end, end], color=INK, linewidth=1, linestyle=(0, (1, 2)))
    axes.xaxis.set_major_formatter("{x:g}")
    axes.set_xlabel("minutes", labelpad=2)

    stands = f"; it will stand at {end:.1f} °C" if end is not None else ""
    told = f"{_range(values)} over {len(values)} samples{stands}. {_limits_told(sensor)}"
    caption = tag("figcaption", tag("b", said(sensor.name)), tag("span", _state(sensor)))
    return tag("figure", caption, plot.svg(f"{sensor.name} over time", told))


def _limit_lines(axes: "Axes", sensor: Sensor, across: tuple[float, float]) -> None:
    if sensor.warning is not None:
        axes.plot(across, [sensor.warning] * 2, color=OPEN, linewidth=1.6, linestyle=(0, (3, 1.5)))
    if sensor.critical is not None:
        axes.plot(across, [sensor.critical] * 2, color=BAD, linewidth=2)


def _range(values: Sequence[float]) -> str:
    return f"From {min(values):g} to {max(values):g} °C, at last {values[-1]:g} °C,"


def _limits_told(sensor: Sensor) -> str:
    limits = (("warning", sensor.warning), ("critical", sensor.critical))
    told = [f"{word} limit is {value:g} °C" for word, value in limits if value is not None]
    return f"Its {' and its '.join(told)}." if told else "No limit was printed."


def _state(sensor: Sensor) -> Html:
    """Where the sensor stands, in words."""
    now = sensor.points[-1][1] if sensor.points else sensor.after
    course = sensor.course
    parts = [f"{now:g} °C now" if now is not None else "no reading"]
    if course is not None and course.end is not None:
        parts.append(f"ends at {course.end:.1f} °C")
    if course is not None:
        parts.append("settled" if course.state == "settled" else f"not settled: {course.why}")
    return joined([", ".join(parts)])


def _rooms(found: Sequence[Sensor]) -> Html:
    """How far each sensor stays below its limit, before and after; the least room comes first."""
    known = [s for s in found if s.room is not None and s.limit is not None]
    if not known:
        return tag("p", "No sensor has an upper limit printed beside it.", class_="plain")
    known.sort(key=lambda s: s.room if s.room is not None else 0.0)
    row, left = 20, labels_width(s.name for s in known)
    plot = Plot("room", 460, row * len(known) + 44)
    axes = plot.axes(left, 34, 14, 10)
    rooms: list[float] = [0.0]
    for place, sensor in enumerate(known):
        assert sensor.limit is not None, "only sensors with a limit are drawn"
        was, now, end = (None if v is None else sensor.limit - v for v in (sensor.before, sensor.after, sensor.end))
        rooms += [v for v in (was, now, end) if v is not None]
        if was is not None and now is not None:
            axes.plot([was, now], [place, place], color=MUTED, linewidth=1)
        if end is not None:
            axes.plot([end, end], [place - 0.36, place + 0.36], color=INK, linewidth=1.4)
        if was is not None:
            axes.plot(
                [was], [place], marker="o", markersize=8.5, markerfacecolor=PAPER, markeredgecolor=INK, linestyle="none"
            )
        if now is not None:
            colour = BAD if now <= 0 else ACCENT
            axes.plot([now], [place], marker="D", markersize=5.5, color=colour, linestyle="none")
    least, most = min(rooms), max(rooms)
    axes.set_xlim(least - max(2.0, (most - least) * 0.04), most + max(2.0, (most - least) * 0.04))
    axes.axvspan(axes.get_xlim()[0], 0, facecolor="none", edgecolor=BAD, hatch="////", linewidth=0)
    axes.axvline(0, color=BAD, linewidth=1.6)
    axes.set_ylim(len(known) - 0.4, -0.6)
    axes.set_yticks(range(len(known)), [plot.text(s.name) for s in known])
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    axes.grid(axis="x", color=RULE, linewidth=0.6)
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("kelvin below the warning limit", labelpad=3)
    closest = known[0]
    told = f"Of {len(known)} sensors {closest.name} has the least room, {closest.room:.1f} K. All figures stand in the table that follows."
    key = Html(
        '<p class="note key"><svg viewBox="0 0 12 12" aria-hidden="true"><circle class="k-was" cx="6" cy="6" r="4"/></svg> before '
        '<svg viewBox="0 0 12 12" aria-hidden="true"><path class="k-now" d="M6 1l5 5-5 5-5-5z"/></svg> after '
        '<svg viewBox="0 0 12 12" aria-hidden="true"><path class="k-line" d="M6 1v10"/></svg> where it will stand. '
        "The hatched side is at or over the limit; equality counts as over.</p>"
    )
    return joined(
        (
            tag("h3", "Room to the limit"),
            key,
            tag(
                "div",
                plot.svg("Room to the limit, before and after", told),
                class_="wide",
                role="region",
                aria_label="Room to the limit",
                tabindex=0,
            ),
        )
    )


def _table(found: Sequence[Sensor], proof: Proof) -> Html:
    def number(value: float | None, spelled: str = "g") -> str:
        return "–" if value is None else f"{value:{spelled}}"

    rows = []
    for sensor in found:
        cells = [said(sensor.name), number(sensor.before), number(sensor.after)]
        if proof.settling is not None:
            cells.append(number(sensor.end, ".1f"))
        cells += [number(sensor.warning), number(sensor.critical), number(sensor.room, ".1f")]
        if proof.settling is not None:
            course = sensor.course
            cells.append("not asked" if course is None else _told(course.state, course.why))
        rows.append(cells)
    heads = ["Sensor", "Before, °C", "After, °C"]
    heads += ["Will stand at, °C"] if proof.settling is not None else []
    heads += ["Warning, °C", "Critical, °C", "Room, K"]
    heads += ["Settled?"] if proof.settling is not None else []
    return table("Every temperature sensor", heads, rows, "numbers")


def _told(state: str, why: str) -> Html:
    name = {"settled": "good", "moving": "open"}.get(state, "open")
    return joined((tag("span", signs.shape(name), state, class_=f"word {name}"), f": {why}"))
