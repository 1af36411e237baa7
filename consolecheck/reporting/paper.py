"""The page as PDF, by the library of the extra `pdf`.

That library applies no style sheet within a drawing, no variable of one, and lays out no grid that fills itself: so
the page's print colours are written into it first, and the drawings' own rules into each drawing.
"""

import re
from importlib import import_module

_VARIABLE = re.compile(r"var\(--([\w-]+)\)")
_PALETTE = re.compile(r"--([\w-]+):\s*([^;]+);")
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
    """The page with its print colours in place of their names, and each drawing with its own rules."""
    colours = dict(_PALETTE.findall(html))  # the last word counts, and that is the print style's
    html = _VARIABLE.sub(lambda found: colours.get(found[1], found[0]), html)
    rules = "".join(_IN_DRAWINGS.findall(html))
    html = _DRAWING.sub(lambda found: f"{found[1]}<style>{rules}</style>", html)
    return html.replace("</head>", f"<style>{_LAID_OUT}</style></head>", 1)
