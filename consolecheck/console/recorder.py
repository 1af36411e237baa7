"""Writes down what a console says, while it says it.

Two files grow side by side: an asciicast v2 recording, and a `.txt` twin with the bytes as received, which
is what a replay reads. Both are handed to the operating system before `received` returns, so that the end
of this process loses nothing; they are also forced to the disk now and then, and on close.

What was typed as a secret is never written. A console that is out of step echoes it, perhaps in pieces and
with colours in between, so it is looked for in everything that arrives and stands as `*`, byte for byte.
The end of what arrived may be the beginning of a secret: it stands as `*` until more is known, and is then
put right in place. An echo that the device itself breaks off (half a secret, then a log line) is not
recognised.

Bytes that are no UTF-8 cannot stand in JSON. Their event has U+FFFD in their place, for players, and before
it stands an event of a code of our own, `b`, with the exact bytes in base64; readers ignore unknown codes.
A half character at the end of what arrived is treated in the same way until its rest comes.
"""

import base64
import codecs
import errno
import json
import os
import re
from collections.abc import Callable, Sequence
from io import FileIO
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from consolecheck.console.guard import Outgoing

SYNC_SECONDS: Final = 2.0
"""How often at most the files are forced to the disk: each time costs some milliseconds of a slow disk."""

_HIDDEN: Final = ord("*")
# Stands between the characters of an echo without being seen: colours, cursor keys, a wrap's carriage return.
# Not a newline, so that what is hidden for the moment is always part of the unfinished last line.
_UNSEEN: Final = re.compile(rb"\x1b\[[0-?]*[ -/]*[@-~]|\x1b[ -/]*[0-Z\\-~]|[\x00-\x09\x0b-\x1f\x7f]")
_HALF_SEQUENCE: Final = re.compile(rb"\x1b(?:\[[0-?]*[ -/]*|[ -/]*)\Z")
_LONGEST_HELD: Final = 1024


class CannotRecord(Exception):
    """The recording cannot be begun or go on. The message says what happened and what to do next."""


class _Scrubber:
    """Hides secrets in a stream. What it returns has as many bytes and newlines as what it was given."""

    def __init__(self, secrets: Sequence[str]) -> None:
        encoded = {_UNSEEN.sub(b"", secret.encode("utf-8", "surrogateescape")) for secret in secrets}
        self._secrets = sorted(encoded - {b""}, key=len, reverse=True)
        self._texts = sorted(filter(None, secrets), key=len, reverse=True)
        self._held = b""
        self._hidden = bytearray()
        """One byte for each of those held: whether it is part of a secret that was found."""

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        """What is settled now, and what may be the beginning of a secret, already hidden."""
        if not self._secrets:
            return data, b""
        raw = self._held + data
        hidden = self._hidden + bytes(len(data))
        places = _seen(raw)
        text = bytes([raw[place] for place in places])
        begins = len(raw)
        for secret in self._secrets:
            at = text.find(secret)
            while at >= 0:
                for place in places[at : at + len(secret)]:
                    hidden[place] = 1
                at = text.find(secret, at + 1)
            if overlap := _overlap(text, secret):
                begins = min(begins, places[-overlap])
        if len(raw) - begins > max(_LONGEST_HELD, 2 * len(self._secrets[0])):
            begins = len(raw)
        self._held, self._hidden = raw[begins:], hidden[begins:]
        return _starred(raw[:begins], hidden), _starred(self._held, b"\1" * len(self._held))

    def rest(self) -> bytes:
        """What is still held, when nothing more will come: the greater part of a secret stays hidden."""
        places = _seen(self._held)
        text = bytes([self._held[place] for place in places])
        for secret in self._secrets:
            if 2 * (overlap := _overlap(text, secret)) >= len(secret):
                for place in places[-overlap:]:
                    self._hidden[place] = 1
        settled = _starred(self._held, self._hidden)
        self._held, self._hidden = b"", bytearray()
        return settled

    def text(self, text: str) -> str:
        """A text of our own making, without the secrets."""
        for secret in self._texts:
            text = text.replace(secret, "*" * len(secret))
        return text


def _seen(raw: bytes) -> list[int]:
    """The places of the bytes that are to be seen."""
    half = _HALF_SEQUENCE.search(raw)
    end = half.start() if half else len(raw)
    places: list[int] = []
    at = 0
    for unseen in _UNSEEN.finditer(raw, 0, end):
        places.extend(range(at, unseen.start()))
        at = unseen.end()
    places.extend(range(at, end))
    return places


def _overlap(text: bytes, secret: bytes) -> int:
    """How many bytes at the end of the text are the beginning of the secret, but not all of it."""
    return next((n for n in range(min(len(secret) - 1, len(text)), 0, -1) if text.endswith(secret[:n])), 0)


def _starred(raw: bytes, hidden: bytes | bytearray) -> bytes:
    return bytes([_HIDDEN if hide and byte not in b"\r\n" else byte for byte, hide in zip(raw, hidden, strict=False)])


class _Growing:
    """A file that grows, whose tail may be put right in place. It never gets shorter, not even for a moment."""

    def __init__(self, path: Path) -> None:
        # Unbuffered: what a write has taken survives the end of this process.
        self._file = FileIO(path, "x", opener=_for_this_person)
        self._end = 0
        self._tail = 0

    def put(self, settled: bytes, tail: bytes) -> None:
        """Writes behind what is settled, over the last tail."""
        data = settled + tail
        if len(data) < self._tail:  # only of JSON lines: blanks before a line's end mean nothing
            data = data.removesuffix(b"\n") + b" " * (self._tail - len(data)) + b"\n"
            settled = data if not tail else settled
        if not data:
            return
        self._file.seek(self._end)
        left = memoryview(data)
        while left:
            left = left[self._file.write(left) :]
        self._end += len(settled)
        self._tail = len(data) - len(settled)

    def sync(self) -> None:
        os.fsync(self._file.fileno())

    def close(self) -> None:
        self._file.close()


class Recorder:
    """Records one console session into `path` (a `.cast` file) and its `.txt` twin.

    `clock` gives seconds that never go back; `started` is the Unix time of the beginning. `secrets` is all
    that may be typed as a secret. For one thread. Raises CannotRecord, also where a file of the name exists.
    """

    def __init__(
        self,
        path: str | Path,
        title: str,
        clock: Callable[[], float],
        started: int | None = None,
        width: int = 80,
        height: int = 24,
        secrets: Sequence[str] = (),
    ) -> None:
        self.path = Path(path)
        if self.path.suffix != ".cast":
            raise CannotRecord(f"{self.path} cannot be the recording: its name must end in .cast")
        self.twin = self.path.with_suffix(".txt")
        self._clock = clock
        self._began = self._synced = clock()
        self._last = 0.0
        self._scrubber = _Scrubber(secrets)
        self._half = b""
        """Bytes at the end of what is settled that are not yet a whole character."""
        self._tail = b""
        """What may be the beginning of a secret, hidden."""
        self._stopped = ""
        self._cast = _created(self.path)
        try:
            self._text = _created(self.twin)
        except CannotRecord:
            self._cast.close()
            self.path.unlink()
            raise
        header: dict[str, object] = {"version": 2, "width": width, "height": height}
        if started is not None:
            header["timestamp"] = started
        header["title"] = self._scrubber.text(title)
        self._write(json.dumps(header).encode() + b"\n", b"")

    def received(self, data: bytes) -> None:
        """What arrived. It is out of this process's hands when this returns."""
        if data:
            settled, self._tail = self._scrubber.feed(data)
            self._write(self._output(settled), settled)

    def sent(self, outgoing: Outgoing) -> None:
        """What left, as it may be shown; of a password only that it was sent."""
        if outgoing.purpose == "password":
            self.marker(outgoing.shown)
        else:
            self._write(self._event("i", self._scrubber.text(outgoing.shown)), b"")

    def marker(self, text: str) -> None:
        """A place in the recording that a person may want to find again."""
        self._write(self._event("m", self._scrubber.text(text)), b"")

    def close(self) -> None:
        """Writes what was held back and forces both files to the disk. May be called again."""
        if not self._stopped:
            settled, self._tail = self._scrubber.rest(), b""
            lines = self._output(settled)
            half, self._half = self._half, b""
            self._write(lines + self._exact(half), settled, sync=True)
            self._stop("it was closed")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _write(self, lines: bytes, settled: bytes, sync: bool = False) -> None:
        if self._stopped:
            raise CannotRecord(f"{self.path} records no more: {self._stopped}")
        try:
            self._text.put(settled, self._tail)
            self._cast.put(lines, self._exact(self._half) + self._exact(self._tail))
            now = self._clock()
            if sync or now - self._synced >= SYNC_SECONDS:
                self._synced = now
                self._text.sync()
                self._cast.sync()
        except OSError as reason:
            self._stop(f"it could not be written ({reason.strerror or reason})")
            raise CannotRecord(
                f"{self.path} could not be written ({reason.strerror or reason}); what came before is kept, "
                "and what came after is missing: make room and capture again"
            ) from None
        except BaseException:  # an interrupt: nobody knows how much was written, so nothing may go behind it
            self._stop("it was interrupted while it was written")
            raise

    def _stop(self, reason: str) -> None:
        self._stopped = reason
        self._text.close()
        self._cast.close()

    def _output(self, settled: bytes) -> bytes:
        """The event lines of settled bytes; a character that is not whole yet is kept back."""
        data = self._half + settled
        whole = codecs.utf_8_decode(data, "replace", False)[1]
        self._half = data[whole:]
        return self._exact(data[:whole])

    def _exact(self, data: bytes) -> bytes:
        if not data:
            return b""
        try:
            return self._event("o", data.decode("utf-8"))
        except UnicodeDecodeError:
            exact = self._event("b", base64.b64encode(data).decode("ascii"))
            return exact + self._event("o", data.decode("utf-8", "replace"))

    def _event(self, code: str, text: str) -> bytes:
        self._last = max(self._last, self._clock() - self._began)
        return f"[{self._last:.6f}, {json.dumps(code)}, {json.dumps(text)}]\n".encode("ascii")


def _for_this_person(path: str, flags: int) -> int:
    """Opens a file that nobody else may read: a session may show what is nobody else's business."""
    return os.open(path, flags, 0o600)


def _created(path: Path) -> _Growing:
    try:
        return _Growing(path)
    except FileExistsError:
        raise CannotRecord(f"{path} exists and is not overwritten; name another file") from None
    except OSError as reason:
        full = reason.errno in (errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC))
        act = "make room on its disk, then start again" if full else "name another place"
        raise CannotRecord(f"{path} cannot be made ({reason.strerror or reason}); {act}") from None
