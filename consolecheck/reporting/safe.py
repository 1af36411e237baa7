"""Makes text from a device harmless to show.

A device's text can carry anything: escape sequences that reach the terminal, marks that turn the
reading direction, characters that take no room. Each is shown by its number instead.
"""

import re

# C0 and C1 controls, delete; soft hyphen; zero-width, direction and invisible marks; line and paragraph
# separators; variation selectors' supplement and tags; surrogates; the byte-order mark.
_HOSTILE = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufe00-\ufe0f\ufeff"
    "\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e0fff]"
)


def safe(text: str) -> str:
    """The text with every control and invisible character replaced by `\\x..` or `\\u....`."""
    return _HOSTILE.sub(lambda m: f"\\x{ord(m[0]):02x}" if ord(m[0]) < 0x100 else f"\\u{ord(m[0]):04x}", text)


def shortened(text: str, width: int) -> str:
    """Safe text cut to a width, with an ellipsis where something was cut."""
    text = safe(text)
    return text if len(text) <= width else text[: max(width - 1, 0)] + "…"
