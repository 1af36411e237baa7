"""Values as TOML has them."""

import json
from collections.abc import Sequence


def toml_of(value: object) -> str:
    """A text, a list of texts or a truth as TOML has it."""
    if isinstance(value, str):
        if "\\" in value and "'" not in value and value.isprintable():
            return f"'{value}'"
        return json.dumps(value, ensure_ascii=not value.isprintable()).replace("\x7f", "\\u007f")
    if isinstance(value, Sequence):
        return "[" + ", ".join(toml_of(v) for v in value) + "]"
    raise TypeError(type(value).__name__)
