"""The captured texts with their line numbers, and the links that lead into them."""

from collections.abc import Sequence

from consolecheck.judging.view import Side
from consolecheck.reading.screen import decoded
from consolecheck.records.findings import Evidence, Finding
from consolecheck.reporting.page.markup import NEWLINE, Html, escaped, joined, tag
from consolecheck.reporting.proof import Proof
from consolecheck.reporting.safe import shortened

MOST_LINES = 4000
"""Lines of one text that are shown whole; of a longer one, those around the evidence."""
AROUND = 40
LONG = 200
"""Characters from which a line is folded instead of being scrolled."""


class Lines:
    """The raw lines of both texts, and which of their columns decided anything."""

    def __init__(self, proof: Proof) -> None:
        self.texts: dict[Side, list[str]] = {
            side: [line.rstrip("\r") for line in decoded(raw).split("\n")] for side, raw in proof.texts.items()
        }
        for lines in self.texts.values():
            if lines and not lines[-1]:
                lines.pop()  # what follows the last newline is no line
        self.names: dict[Side, str] = {"after": proof.after.source}
        if proof.before is not None:
            self.names["before"] = proof.before.source
        cleared = proof.clearance.findings if proof.clearance else ()
        self.marked: dict[tuple[Side, int], list[tuple[int, int]]] = {}
        for finding in (*proof.judgement.findings, *cleared):
            for one in finding.evidence:
                spans = self.marked.setdefault((one.capture, one.line), [])
                if one.start is not None and one.end is not None:
                    spans.append((one.start, one.end))
        self.shown: dict[Side, Sequence[int]] = {side: self._shown(side) for side in self.texts}

    def _shown(self, side: Side) -> Sequence[int]:
        whole = range(1, len(self.texts[side]) + 1)
        if len(whole) <= MOST_LINES:
            return whole
        wanted: set[int] = set()
        for capture, number in self.marked:
            if capture == side:
                wanted.update(range(number - AROUND, number + AROUND + 1))
        return sorted(wanted.intersection(whole))

    def link(self, one: Evidence) -> Html | None:
        """`after.txt:14`, leading to that line on the page where it is shown; None where there is no such line."""
        lines = self.texts.get(one.capture)
        if lines is None or not 0 < one.line <= len(lines):
            return None
        place = f"{shortened(_last(self.names[one.capture]), 40)}:{one.line}"
        if one.line not in self.shown[one.capture]:
            return tag("span", place, class_="to")
        told = f"{one.capture} the swap, line {one.line}"
        return tag("a", place, href=f"#{one.capture}-L{one.line}", class_="to", title=told)

    def links(self, finding: Finding, most: int = 4) -> Html:
        """The places that a finding rests on, each once."""
        once = dict.fromkeys((e.capture, e.line) for e in finding.evidence)
        found = [link for capture, line in once if (link := self.link(Evidence(capture, line)))]
        more = f" and {len(found) - most} more" if len(found) > most else ""
        return joined((joined(found[:most], ", "), more))

    def excerpt(self, finding: Finding) -> Html:
        """The first line that a finding rests on, as it stands there, with the columns that decided."""
        for one in finding.evidence[:1]:
            if (link := self.link(one)) is not None:
                line = self.texts[one.capture][one.line - 1]
                spans = [(one.start, one.end)] if one.start is not None and one.end is not None else []
                shown = _marked(line[:LONG], spans) + ("…" if len(line) > LONG else "")
                return tag("p", link, " ", tag("code", Html(shown)), class_="excerpt", tabindex=0)
        return Html()

    def text(self, side: Side) -> Html:
        """One captured text, line by line; each line can be linked to."""
        lines, shown, last = self.texts[side], self.shown[side], 0
        parts: list[str] = []
        for number in shown:
            if number > last + 1:
                parts.append(_left_out(last + 1, number - 1))
            line, last = lines[number - 1], number
            spans = self.marked.get((side, number))
            inside = _marked(line, spans) if spans else _plain(line)
            kind = ("L" if spans is None else "L rests") + (" long" if len(line) > LONG else "")
            parts.append(f'<span class="{kind}" id="{side}-L{number}" data-n="{number}">{inside or " "}\n</span>')
        if last < len(lines):
            parts.append(_left_out(last + 1, len(lines)))
        name = f"{self.names[side]}, {side} the swap"
        return tag(
            "pre", Html("".join(parts)), class_="capture", role="region", aria_label=f"Text of {name}", tabindex=0
        )


def _left_out(first: int, last: int) -> Html:
    return tag("span", f"… lines {first} to {last} are in the file and not repeated here", NEWLINE, class_="L gap")


def _plain(text: str) -> str:
    """A raw line as markup; tabs stay tabs, so that what is copied off the page is what the device sent."""
    return "\t".join(map(escaped, text.split("\t")))


def _marked(line: str, spans: Sequence[tuple[int, int]]) -> str:
    """The line with the columns that decided marked, where they are the same in the raw line as in the cleaned one."""
    if not line.isprintable():
        return _plain(line)
    parts, at = [], 0
    for start, end in sorted(set(spans)):
        start, end = max(start, at), min(end, len(line))
        if start < end:
            parts += [escaped(line[at:start]), tag("mark", line[start:end])]
            at = end
    return "".join((*parts, escaped(line[at:])))


def _last(name: str) -> str:
    """The last part of a file's name as it was given: the whole path stands beside the text."""
    return name.replace("\\", "/").rstrip("/").rpartition("/")[2] or name
