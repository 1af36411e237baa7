"""Plots as SVG that is part of the page: its colours are the page's, its texts are texts, its ids its own.

matplotlib draws them and is loaded only then. No text of a device reaches it (a `$` would be mathematics to it, a
rare character a search for fonts): it is given a stand-in, and the escaped text takes its place afterwards.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from consolecheck.reporting.page.markup import Html, escaped
from consolecheck.reporting.safe import shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# matplotlib knows no variables of a style sheet: these colours stand for them.
INK, MUTED, RULE, ACCENT, GOOD, BAD, OPEN, PAPER = (f"#0102{n:02x}" for n in range(1, 9))
_VARIABLES = {
    INK: "--ink",
    MUTED: "--muted",
    RULE: "--rule",
    ACCENT: "--accent",
    GOOD: "--good",
    BAD: "--bad",
    OPEN: "--open",
    PAPER: "--paper",
}
TEXT = 10.0
"""Size of all texts in a plot, in its own units; plots are shown at about their own size."""
LONGEST_NAME = 22
"""Characters of a row's name in a plot; the table beside it has the whole."""
_STYLE: Any = {
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": TEXT,
    "text.color": INK,
    "text.parse_math": False,
    "axes.edgecolor": RULE,
    "axes.labelcolor": MUTED,
    "axes.labelsize": TEXT,
    "axes.linewidth": 0.8,
    "axes.facecolor": "none",
    "axes.unicode_minus": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "figure.facecolor": "none",
    "xtick.color": RULE,
    "ytick.color": RULE,
    "xtick.labelcolor": MUTED,
    "ytick.labelcolor": MUTED,
    "xtick.labelsize": TEXT,
    "ytick.labelsize": TEXT,
    "lines.linewidth": 1.2,
    "lines.solid_capstyle": "round",
    "hatch.color": MUTED,
    "hatch.linewidth": 0.5,
    "path.simplify": False,
}
_ID = re.compile(r' id="([^"]*)"')
_LINK = re.compile(r'(?:xlink:)?href="#([^"]*)"|url\(#([^)]*)\)')
_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_HEAD = re.compile(r"\A.*?<svg[^>]*viewBox=\"([^\"]*)\"[^>]*>", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<!--.*?-->", re.DOTALL)
_FONT = re.compile(r" font-family: [^;\"]*;| transform=\"rotate\(-?0 [^)]*\)\"")
"""The page's own font is used, and a turn by nothing is left out."""


class Plot:
    """One drawing of so many units across and high. Use `axes`, then `svg`."""

    def __init__(self, name: str, width: float, height: float) -> None:
        from matplotlib.figure import Figure

        self.name, self.width, self.height = name, width, height
        self._texts: list[Html] = []
        self.figure = Figure(figsize=(width / 72, height / 72))

    def axes(self, left: float, bottom: float, right: float, top: float) -> "Axes":
        """Axes with so many units free on each side."""
        return self.figure.add_axes(
            (
                left / self.width,
                bottom / self.height,
                (self.width - left - right) / self.width,
                (self.height - bottom - top) / self.height,
            )
        )

    def text(self, text: str) -> str:
        """A stand-in for a text of a device, cut to `LONGEST_NAME`."""
        self._texts.append(escaped(shortened(text, LONGEST_NAME)))
        return f"q{len(self._texts) - 1:05d}q"

    def svg(self, title: str, told: str) -> Html:
        """The drawing with a title and a sentence for those who do not see it."""
        from io import StringIO

        out = StringIO()
        self.figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
        return Html(_of_the_page(out.getvalue(), self.name, title, told, self._texts))


@contextmanager
def drawing() -> Iterator[None]:
    """Within it matplotlib draws in the style of the page."""
    import matplotlib

    with matplotlib.rc_context({**_STYLE, "svg.hashsalt": "page"}):
        yield


def _of_the_page(svg: str, name: str, title: str, told: str, texts: Sequence[Html]) -> str:
    head = _HEAD.match(svg)
    assert head is not None, "matplotlib writes one svg element"
    body = _METADATA.sub("", svg[head.end() :])
    used = {first or second for first, second in _LINK.findall(body)}
    body = _ID.sub(lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", body)
    body = _LINK.sub(lambda m: f'href="#{name}-{m[1]}"' if m[1] else f"url(#{name}-{m[2]})", body)
    body = _NUMBER.sub(lambda m: f"{float(m[0]):.2f}".rstrip("0").rstrip("."), body)
    body = _FONT.sub("", body)
    for colour, variable in _VARIABLES.items():
        body = body.replace(colour, f"var({variable})")
    body = re.sub(r"\n\s*", "\n", body)
    body = re.sub(r"q(\d{5})q", lambda m: texts[int(m[1])], body)
    labels = f'<title id="{name}-title">{escaped(title)}</title><desc id="{name}-desc">{escaped(told)}</desc>'
    opening = f'<svg class="plot" viewBox="{head[1]}" role="img" aria-labelledby="{name}-title {name}-desc">'
    return opening + labels + body


def labels_width(names: Iterable[str]) -> float:
    """Units that the names of rows take, cut to what `Plot.text` leaves of them."""
    return 14.0 + 6.3 * min(max(map(len, names), default=0), LONGEST_NAME)


def dots(axes: "Axes", x: Sequence[float], y: Sequence[float], **style: Any) -> None:
    """Small round points as one path: lines of no length with round ends."""
    from math import nan

    wide = [v for value in x for v in (value, value, nan)]
    high = [v for value in y for v in (value, value, nan)]
    axes.plot(wide, high, solid_capstyle="round", **style)
