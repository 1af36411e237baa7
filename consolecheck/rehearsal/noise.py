"""A serial line: how many bytes it carries in a time, and what it does to some of them. Pure, seeded."""

import random
from collections import deque

BITS_PER_BYTE = 10
"""Start, eight data bits, stop."""


class Line:
    """One direction of a line. `flip` and `drop` are chances, of each byte, to have one bit flipped or to be lost."""

    def __init__(
        self, bits_per_second: float | None = None, flip: float = 0.0, drop: float = 0.0, seed: int = 0
    ) -> None:
        if (bits_per_second is not None and bits_per_second <= 0) or not 0 <= flip <= 1 or not 0 <= drop <= 1:
            raise ValueError("a line needs a rate above zero, and chances between 0 and 1")
        self.bits_per_second, self.flip, self.drop, self.seed = bits_per_second, flip, drop, seed
        self._dice = random.Random(seed)
        self._under_way: deque[tuple[float, int]] = deque()
        self._free_at = 0.0

    def another(self, seed: int) -> "Line":
        """A line of the same kind, such as its other direction."""
        return Line(self.bits_per_second, self.flip, self.drop, self.seed + seed)

    @property
    def busy(self) -> bool:
        return bool(self._under_way)

    def send(self, data: bytes, now: float) -> None:
        """Puts bytes on the line at a time; they wait until it is free. A lost byte takes its time too."""
        each = BITS_PER_BYTE / self.bits_per_second if self.bits_per_second else 0.0
        self._free_at = max(self._free_at, now)
        for byte in data:
            self._free_at += each
            if self.drop and self._dice.random() < self.drop:
                continue
            if self.flip and self._dice.random() < self.flip:
                byte ^= 1 << self._dice.randrange(8)
            self._under_way.append((self._free_at, byte))

    def arrived(self, now: float) -> bytes:
        """What has come out at the other end since the last call."""
        out = bytearray()
        while self._under_way and self._under_way[0][0] <= now:
            out.append(self._under_way.popleft()[1])
        return bytes(out)
