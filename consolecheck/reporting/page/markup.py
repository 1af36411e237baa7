"""Markup that cannot be forgotten to be escaped: a plain text becomes harmless wherever it is put in."""

import html
from collections.abc import Iterable, Sequence

from consolecheck.reporting.safe import safe

Attribute = str | int | bool | None
_EMPTY = frozenset(("meta", "br"))


class Html(str):
    """Text that is markup already. Everything else is a text of a device or a person."""

    __slots__ = ()


_LONGEST_WORD = 32
"""Characters; a longer word is broken anywhere, so that it cannot widen the page."""
NEWLINE = Html("\n")


def escaped(text: str) -> Html:
    """A text as markup: control and invisible characters by their numbers, then `&<>"'` as entities."""
    return text if isinstance(text, Html) else Html(html.escape(safe(text), quote=True))


def joined(parts: Iterable[str], between: str = "") -> Html:
    """Parts one after another, each escaped unless it is markup."""
    return Html(escaped(between).join(escaped(part) for part in parts))


def tag(name: str, /, *inside: str, **attributes: Attribute) -> Html:
    """An element. `class_` is written as class and `aria_label` as aria-label; None and False leave it out."""
    written = [name]
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        spelled = key.rstrip("_").replace("_", "-")
        written.append(spelled if value is True else f'{spelled}="{escaped(str(value))}"')
    opening = f"<{' '.join(written)}>"
    return Html(opening if name in _EMPTY else f"{opening}{joined(inside)}</{name}>")


def said(text: str) -> Html:
    """A text of a device or a person within a sentence of ours: its reading direction stays its own."""
    return tag("bdi", text, class_="long" if max(map(len, safe(text).split()), default=0) > _LONGEST_WORD else None)


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]], class_: str | None = None) -> Html:
    """A table in a box of its own that scrolls where the page is narrow; the first cell of a row names it."""
    body = [
        tag("tr", tag("th", first, scope="row"), *[tag("td", cell) for cell in rest], NEWLINE) for first, *rest in rows
    ]
    head = tag("thead", tag("tr", *[tag("th", head, scope="col") for head in heads]))
    inner = tag("table", tag("caption", caption), head, tag("tbody", *body), class_=class_)
    return tag("div", inner, class_="box", role="region", aria_label=caption, tabindex=0)


def section(id_: str, title: str, *inside: str, note: str = "") -> Html:
    """A part of the page under a heading; `note` stands in small type below it."""
    head = tag("div", tag("h2", title), tag("p", note, class_="note") if note else "", class_="head")
    return tag("section", head, tag("div", *inside, class_="body"), NEWLINE, id=id_)
