"""What supplies and fans do: the load against what is left after a loss, speeds against duty and peers."""

from statistics import median
from typing import NamedTuple

from consolecheck.judging.rules.cooling import groups_of_peers
from consolecheck.judging.rules.load import load_of, rating_of
from consolecheck.judging.view import Case, View
from consolecheck.records.findings import Finding
from consolecheck.records.readings import Fan
from consolecheck.records.units import Quantity
from consolecheck.reporting.page.evidence import Lines
from consolecheck.reporting.page.markup import Html, joined, said, section, table, tag
from consolecheck.reporting.page.plots import ACCENT, BAD, INK, MUTED, OPEN, PAPER, RULE, Plot, drawing, labels_width
from consolecheck.reporting.page.signs import condition
from consolecheck.reporting.proof import Proof


def case_of(proof: Proof) -> Case:
    """The case as the rules saw it; without a capture before the swap its first view is empty."""
    nothing = proof.after._replace(sightings=(), tables=(), unread=(), passed_over=(), hosts={}, last_line=0)
    before, after = View(proof.before or nothing, "before"), View(proof.after, "after")
    return Case(before, after, proof.judgement.unit, proof.limits, proof.observed, proof.reseat, proof.samples)


def load(proof: Proof, lines: Lines) -> Html:
    """The section on supplies: each one's watts before and after, what it is rated at, and the limit for all."""
    case = case_of(proof)
    units = list(dict.fromkeys((*case.after.supplies, *case.before.supplies)))
    if not units:
        return Html()
    now, was = load_of(case.after), load_of(case.before)
    rated = {u: r[0] for u in units if (r := rating_of(case.after, case, u) or rating_of(case.before, case, u))}
    found = next((f for f in proof.judgement.findings if f.rule == "power.redundancy"), None)
    parts: list[str] = []
    if found is not None:
        parts.append(tag("p", said(found.message), " (", lines.links(found), ")", class_="plain"))
    if now is not None and now.by_unit:
        by_now = {u: w for u, (w, _) in now.by_unit.items()}
        by_was = {u: w for u, (w, _) in was.by_unit.items()} if was else {}
        parts += [_LOAD_KEY, _load_plot(units, by_now, by_was, rated, found)]
    else:
        parts.append(tag("p", "The load of each supply was not printed, so there is nothing to draw.", class_="plain"))
    rows = []
    for unit in units:
        feed = case.seen(unit, "feed") or (printed[0] if (printed := case.after.fact(unit, "feed")) else "–")
        figures = [_watts(dict(loads.by_unit) if loads else {}, unit) for loads in (was, now)]
        rows.append(
            [
                said(unit),
                condition(case.after.condition(unit)),
                *figures,
                f"{rated[unit]:g} W" if unit in rated else "–",
                said(feed),
            ]
        )
    parts.append(
        table("Every supply", ["Supply", "Condition after", "Before", "After", "Rated", "Feed"], rows, "numbers")
    )
    return section("load", "Load", *parts)


def _watts(by_unit: dict[str, tuple[float, object]], unit: str) -> str:
    return f"{by_unit[unit][0]:g} W" if unit in by_unit else "–"


_LOAD_KEY = Html(
    '<p class="note key"><svg viewBox="0 0 22 12" aria-hidden="true"><path class="k-bar" d="M1 3h20v6H1z"/></svg> after '
    '<svg viewBox="0 0 22 12" aria-hidden="true"><path class="k-open" d="M1 3h20v6H1z"/></svg> before '
    '<svg viewBox="0 0 12 12" aria-hidden="true"><path class="k-line" d="M6 1v10"/></svg> rated. '
    "The dashed line is the most that all together may carry.</p>"
)


def _load_plot(
    units: list[str], now: dict[str, float], was: dict[str, float], rated: dict[str, float], found: Finding | None
) -> Html:
    limit = (
        found.limit.value
        if found is not None and isinstance(found.limit, Quantity) and found.limit.unit == "W"
        else None
    )
    rows = len(units) + 1
    with drawing():
        plot = Plot("watts", 460, 30 * rows + 44)
        axes = plot.axes(labels_width(["all together", *units]), 34, 14, 10)
        for place, unit in enumerate([*units, None]):
            after = sum(now.values()) if unit is None else now.get(unit)
            before = (sum(was.values()) if was else None) if unit is None else was.get(unit)
            if after is not None:
                axes.barh(place, after, height=0.42, color=ACCENT, edgecolor=ACCENT)
                axes.text(after, place, f"{after:.4g} W ", ha="right", va="center", color=PAPER) if after else None
            if before is not None:
                axes.barh(place, before, height=0.72, facecolor="none", edgecolor=INK, linewidth=0.9)
            if unit in rated:
                axes.plot([rated[unit]] * 2, [place - 0.42, place + 0.42], color=INK, linewidth=1.6)
        if limit is not None:
            axes.plot([limit, limit], [rows - 1.48, rows - 0.52], color=BAD, linewidth=1.8, linestyle=(0, (3, 1.5)))
        axes.set_xlim(0, max([*rated.values(), sum(now.values()), sum(was.values()), limit or 0.0, 1.0]) * 1.05)
        axes.set_ylim(rows - 0.4, -0.6)
        axes.set_yticks(range(rows), [*(plot.text(u) for u in units), "all together"])
        axes.tick_params(axis="y", length=0, labelcolor=INK)
        axes.axhline(rows - 1.5, color=RULE, linewidth=0.8)
        axes.grid(axis="x", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("watts", labelpad=3)
        most = f" The limit for all together is {limit:g} W." if limit is not None else ""
        told = f"{len(now)} supplies carry {sum(now.values()):g} W together.{most} All figures stand in the table that follows."
        drawn = plot.svg("Load of each supply", told)
    return tag("div", drawn, class_="wide", role="region", aria_label="Load of each supply", tabindex=0)


class _Turning(NamedTuple):
    """A fan that turns: revolutions per minute, and its duty in percent."""

    name: str
    speed: float
    was: float | None
    duty: float | None
    asked: float | None
    """What its duty asks for, by the median of its peers."""
    middle: float | None
    """The median of its peers."""


def fans(proof: Proof) -> Html:
    """The section on fans: each one's speed, what its duty asks for, and the median of its peers."""
    case = case_of(proof)
    if not case.after.of("fan"):
        return Html()
    turning: list[_Turning] = []
    for members in groups_of_peers(case.after).values():
        speeds = [r.speed.value for _, r in members if r.speed]
        ratios = [
            r.speed.value / r.speed_percent.value
            for _, r in members
            if r.speed and r.speed_percent and r.speed_percent.value > 0
        ]
        for _, fan in members:
            assert fan.speed is not None, "a fan without a speed is in no group"
            earlier = case.before.keyed.get((fan.kind, fan.unit, fan.name))
            was = earlier.reading.given("speed") if earlier else None
            duty = fan.speed_percent.value if fan.speed_percent else None
            asked = median(ratios) * duty if duty and len(ratios) > 1 else None
            middle = median(speeds) if len(speeds) > 2 else None
            turning.append(_Turning(fan.subject, fan.speed.value, was.value if was else None, duty, asked, middle))
    parts = [_FAN_KEY, _fan_plot(turning, proof.limits.cooling.duty_tolerance_percent)] if turning else []
    if not turning:
        parts.append(tag("p", "No fan speed was printed in revolutions per minute.", class_="plain"))
    known = {fan.name: fan for fan in turning}
    rows = []
    for sighting in case.after.of("fan"):
        reading = sighting.reading
        assert isinstance(reading, Fan)
        earlier = case.before.keyed.get((reading.kind, reading.unit, reading.name))
        was = earlier.reading.given("speed") if earlier else None
        peer = known.get(reading.subject)
        rows.append(
            [
                said(reading.subject),
                condition(reading.condition),
                str(was) if was else "–",
                str(reading.speed) if reading.speed else "–",
                str(reading.speed_percent) if reading.speed_percent else "–",
                f"{peer.asked:.0f} rpm" if peer and peer.asked else "–",
                f"{peer.middle:.0f} rpm" if peer and peer.middle else "–",
            ]
        )
    heads = ["Fan", "Condition after", "Before", "After", "Duty", "Its duty asks for", "Median of its peers"]
    return section("fans", "Fans", *parts, table("Every fan", heads, rows, "numbers"))


_FAN_KEY = Html(
    '<p class="note key"><svg viewBox="0 0 12 12" aria-hidden="true"><circle class="k-was" cx="6" cy="6" r="4"/></svg> before '
    '<svg viewBox="0 0 12 12" aria-hidden="true"><path class="k-now" d="M6 1l5 5-5 5-5-5z"/></svg> after '
    '<svg viewBox="0 0 22 12" aria-hidden="true"><path class="k-band" d="M1 2h20v8H1z"/></svg> what its duty asks for, with the tolerance '
    '<svg viewBox="0 0 12 12" aria-hidden="true"><path class="k-peer" d="M6 1v10"/></svg> median of its peers.</p>'
)


def _fan_plot(turning: list[_Turning], tolerance: float) -> Html:
    with drawing():
        plot = Plot("rpm", 460, 20 * len(turning) + 44)
        axes = plot.axes(labels_width(fan.name for fan in turning), 34, 14, 10)
        for place, (_, speed, was, _, asked, middle) in enumerate(turning):
            if asked is not None:
                wide = asked * tolerance / 100
                axes.barh(
                    place, 2 * wide, left=asked - wide, height=0.66, facecolor=RULE, edgecolor=MUTED, linewidth=0.5
                )
            if middle is not None:
                axes.plot(
                    [middle, middle], [place - 0.42, place + 0.42], color=OPEN, linewidth=1.6, linestyle=(0, (2, 1))
                )
            if was is not None:
                axes.plot(
                    [was],
                    [place],
                    marker="o",
                    markersize=8.5,
                    markerfacecolor=PAPER,
                    markeredgecolor=INK,
                    linestyle="none",
                )
            axes.plot([speed], [place], marker="D", markersize=5.5, color=ACCENT, linestyle="none")
        most = [
            v
            for fan in turning
            for v in (fan.speed, fan.was, (fan.asked or 0.0) * (1 + tolerance / 100))
            if v is not None
        ]
        axes.set_xlim(0, max(most) * 1.05)
        axes.set_ylim(len(turning) - 0.4, -0.6)
        axes.set_yticks(range(len(turning)), [plot.text(fan.name) for fan in turning])
        axes.tick_params(axis="y", length=0, labelcolor=INK)
        axes.grid(axis="x", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("revolutions per minute", labelpad=3)
        speeds = [fan.speed for fan in turning]
        told = f"{len(turning)} fans turn at {min(speeds):g} to {max(speeds):g} rpm. All figures stand in the table that follows."
        drawn = plot.svg("Fan speeds", told)
    return joined([tag("div", drawn, class_="wide", role="region", aria_label="Fan speeds", tabindex=0)])
