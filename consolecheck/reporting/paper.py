"""The page as PDF, by the library of the extra `pdf`.

That library applies no style sheet within a drawing, no variable of one, and lays out no grid that fills itself: so
the page's print colours are written into it first, and the drawings' own rules into each drawing.
"""

import re
from importlib import import_module

_VARIABLE = re.compile(r"var\(--([\w-]+)\)")
_PALETTE = re.compile(r"--([\w-]+):\s*([^;]+);")
_STYLED = re.compile(r"<[^<>]*\bvar\(--[^<>]*>")
_DRAWING = re.compile(r"(<svg\b[^>]*>)")
_IN_DRAWINGS = re.compile(r"^\.(?:sign|part|plot)\b[^{,]*\{[^}]*\}", re.MULTILINE)
_LAID_OUT = """
.facts, .bays { display: block }
.facts { columns: 2 } .facts > * { break-inside: avoid; overflow-wrap: anywhere } .bay { margin-bottom: 2mm }
.bay dl { display: block } .bay dt, .bay dd { display: inline-block; margin: 0 3mm 0 0 }
"""


def pdf_of(html: str) -> bytes | None:
    """The page as PDF, or None where the extra is not installed or lacks a library of the system.

    Nothing is fetched for it, whatever the page says.
    """
    try:
        weasyprint = import_module("weasyprint")
        fetcher = import_module("weasyprint.urls").URLFetcher
    except (ImportError, OSError, AttributeError):
        return None
    page = weasyprint.HTML(string=for_paper(html), url_fetcher=fetcher(allowed_protocols=()))
    return bytes(page.write_pdf())


def for_paper(html: str) -> str:
    """The page with its print colours in place of their names, and each drawing with its own rules.

    Only our own style sheet and style attributes are touched: a text of a device may look like either.
    """
    head, end, body = html.partition("</style>")
    colours = dict(_PALETTE.findall(head))  # the last word counts, and that is the print style's

    def coloured(text: str) -> str:
        return _VARIABLE.sub(lambda found: colours.get(found[1], found[0]), text)

    head = coloured(head)
    rules = "".join(_IN_DRAWINGS.findall(head))
    # Within a tag only: what a device said holds no quote and no angle bracket by the time it stands on the page.
    body = _STYLED.sub(lambda found: coloured(found[0]), body)
    body = _DRAWING.sub(lambda found: f"{found[1]}<style>{rules}</style>", body)
    return (head + end + body).replace("</head>", f"<style>{_LAID_OUT}</style></head>", 1)
