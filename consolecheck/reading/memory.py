"""How much of earlier texts may be remembered, however many dialects and tables there are."""

from collections.abc import Sized
from typing import Any, Final, Protocol


class _Kept(Sized, Protocol):
    def clear(self) -> None: ...


class Room:
    """Dictionaries and sets that together hold no more than so many entries; all are emptied where one more would not fit."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._taken = 0
        self._filled: dict[int, Any] = {}

    def one_more(self, kept: _Kept) -> None:
        """To be asked before each new entry."""
        if self._taken >= self._most:
            for each in list(self._filled.values()):
                each.clear()
            self._filled.clear()
            self._taken = 0
        if not len(kept):
            self._filled[id(kept)] = kept
        self._taken += 1


LINES: Final = Room(8192)
"""Lines, some hundred bytes each."""
ROWS: Final = Room(4096)
"""Readings, about a kilobyte each."""
SECTIONS: Final = Room(160)
"""Parts of texts, some ten kilobytes each."""
