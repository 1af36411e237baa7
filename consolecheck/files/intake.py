"""Takes a captured text from a file, bounded and looked over, before anybody reads it."""

import sys
from pathlib import Path

LARGEST = 16 * 1024 * 1024
"""Bytes. A capture is some kilobytes; a file beyond this is something else."""
_LOOKED_AT = 65536
_PRINTABLE = frozenset((*range(0x20, 0x7F), 0x09, 0x0A, 0x0D, 0x1B, 0x08))
MOST_GARBAGE = 0.30
"""Share of bytes outside printable text from which on a line was garbled (wrong speed) or the file is no text."""


class Refused(Exception):
    """The file cannot be used. The message says what happened and what to do next."""


def captured(path: str) -> bytes:
    """The bytes of a captured text; `-` is standard input. Raises Refused."""
    if path == "-":
        raw = sys.stdin.buffer.read(LARGEST + 1)
        size = len(raw)
    else:
        try:
            size = Path(path).stat().st_size
            if size > LARGEST:
                raise Refused(_too_large(path, size))
            with open(path, "rb") as file:
                raw = file.read(LARGEST + 1)
        except FileNotFoundError:
            raise Refused(f"{path} does not exist; check the name") from None
        except IsADirectoryError:
            raise Refused(f"{path} is a folder; name the captured text in it") from None
        except PermissionError:
            raise Refused(f"{path} may not be read by you; ask for the file or copy it") from None
        except (OSError, ValueError) as reason:
            raise Refused(
                f"{path!r} cannot be read ({getattr(reason, 'strerror', None) or reason}); copy it elsewhere and try again"
            ) from None
    if len(raw) > LARGEST:
        raise Refused(_too_large(path, max(size, len(raw))))
    return _looked_over(raw, path)


def _too_large(path: str, size: int) -> str:
    return (
        f"{path} has {size / 1e6:.0f} MB; a capture has some kilobytes, and more than {LARGEST // 1048576} MB is "
        "not read: cut it to the session in question"
    )


def _looked_over(raw: bytes, path: str) -> bytes:
    if not raw.strip():
        raise Refused(f"{path} is empty: nothing was captured; check the console log and capture again")
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or _looks_like_utf16(raw):
        raise Refused(f"{path} is UTF-16 text, as some editors and shells save it; save it as UTF-8 and try again")
    sample = raw[:_LOOKED_AT]
    try:
        text: str | None = sample.decode("utf-8")
    except UnicodeDecodeError as reason:
        # A sample may end within a character; bytes that are wrong earlier on are not text.
        text = sample[: reason.start].decode("utf-8") if reason.start >= len(sample) - 3 else None
    garbage = (
        sum(1 for char in text if ord(char) < 0x80 and ord(char) not in _PRINTABLE) / max(len(text), 1)
        if text is not None
        else sum(1 for byte in sample if byte not in _PRINTABLE) / len(sample)
    )
    if garbage > MOST_GARBAGE:
        raise Refused(
            f"{path} is not text: {garbage:.0%} of it is outside printable characters; if it is a console log, "
            "the line settings (speed, parity) were wrong: capture again at the right speed"
        )
    return raw


def _looks_like_utf16(raw: bytes) -> bool:
    sample = raw[:512]
    if len(sample) < 8:
        return False
    return sample[1::2].count(0) > 0.8 * len(sample[1::2]) or sample[::2].count(0) > 0.8 * len(sample[::2])


def text_file(path: str) -> str:
    """A small configuration file as text. Raises Refused."""
    try:
        if path != "-" and Path(path).is_file() and not Path(path).stat().st_size:
            raise Refused(f"{path} is empty; write into it what it is to say, or leave it out")
        return captured(path).decode("utf-8")
    except UnicodeDecodeError:
        raise Refused(f"{path} is not UTF-8 text; save it as UTF-8 and try again") from None
