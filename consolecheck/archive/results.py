"""The results of a run: JSON lines that only grow, and Parquet made of them once all are there.

A run that was ended goes on where it was: every line that is whole counts, a torn last one is cut off. A file that
holds results under other limits is never gone on with.
"""

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Final

from consolecheck.archive.row import Row

_FLUSHED_EVERY: Final = 4 * 1024 * 1024
"""Bytes after which what was written is forced to the disk: that much is judged again after a power cut."""
_LOOKED_AT: Final = 65536
_ROWS_AT_A_TIME: Final = 1000
PARQUET: Final = ".parquet"


class ResultsFault(Exception):
    """The results cannot be kept: what happened, and what to do next."""


class Results:
    """The JSON lines of one run. Everything here may raise ResultsFault."""

    def __init__(self, path: Path, file: BinaryIO) -> None:
        self.path = path
        self._file = file
        self._unflushed = 0

    def repair(self) -> int:
        """Cuts off a torn last line; gives how many bytes of it there were."""
        with _told(self.path):
            size = at = self._file.seek(0, os.SEEK_END)
            end = 0
            while at and not end:
                begin = max(0, at - _LOOKED_AT)
                self._file.seek(begin)
                end = begin + found if (found := self._file.read(at - begin).rfind(b"\n") + 1) else 0
                at = begin
            if end < size:
                self._file.truncate(end)
            return size - end

    def rows(self) -> Iterator[Row]:
        """The rows that are there, one by one."""
        with _told(self.path):
            self._file.seek(0)
            for number, line in enumerate(self._file, 1):
                yield _row(line, f"{self.path} line {number}")
            self._file.seek(0, os.SEEK_END)

    def add(self, lines: bytes) -> None:
        """Whole lines behind those that are there."""
        with _told(self.path):
            self._file.write(lines)
            self._file.flush()
            self._unflushed += len(lines)
            if self._unflushed > _FLUSHED_EVERY:
                self.secure()

    def secure(self) -> None:
        """Forces what was written to the disk."""
        with _told(self.path):
            self._file.flush()
            os.fsync(self._file.fileno())
            self._unflushed = 0


@contextmanager
def opened(path: Path) -> Iterator[Results]:
    """The results in a file, made where it is not there, for one process at a time. Raises ResultsFault."""
    from filelock import FileLock, Timeout

    lock = FileLock(path.with_name(f".{path.name}.lock"), timeout=0)
    with _told(path):
        try:
            lock.acquire()
        except Timeout:
            raise ResultsFault(
                f"another consolecheck writes {path}, and nothing was changed; wait for it, or name another file"
            ) from None
    try:
        with _told(path):
            file = open(path, "a+b")  # noqa: SIM115 -- closed below; what goes wrong meanwhile is no fault of this file
        with file:
            yield Results(path, file)
    finally:
        lock.release()


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as reason:
        raise ResultsFault(
            f"{path} cannot be written or read ({reason.strerror or reason}); the results before are kept: "
            "see to its disk, then start the same command again"
        ) from None


def _row(line: bytes, place: str) -> Row:
    try:
        row: Row = json.loads(line)
        if row.keys() != Row.__annotations__.keys() or row["schema"] != 1 or not isinstance(row["job"], str):
            raise ValueError
    except (ValueError, AttributeError, TypeError, KeyError):
        raise ResultsFault(
            f"{place} is no result of this program, and nothing was changed; name another file for the results"
        ) from None
    return row


def rows_in(path: Path) -> Iterator[Row]:
    """The rows of a file of JSON lines that is whole. Raises ResultsFault."""
    with _told(path), open(path, "rb") as file:
        for number, line in enumerate(file, 1):
            yield _row(line, f"{path} line {number}")


def as_parquet(lines: Path, target: Path) -> None:
    """Writes the rows as Parquet, whole or not at all. `findings` and `digests` are JSON texts there.

    Raises ResultsFault, and ModuleNotFoundError where pyarrow is not installed.
    """
    import pyarrow
    from pyarrow import parquet

    schema = pyarrow.schema([pyarrow.field(name, _type(name, pyarrow)) for name in Row.__annotations__])
    temporary = target.with_name(f".{target.name}.new")
    with _told(target):
        try:
            with parquet.ParquetWriter(temporary, schema, compression="zstd") as writer:
                batch: list[dict[str, Any]] = []
                for row in rows_in(lines):
                    batch.append({**row, **{name: json.dumps(row[name]) for name in ("findings", "digests")}})
                    if len(batch) == _ROWS_AT_A_TIME:
                        writer.write_batch(pyarrow.RecordBatch.from_pylist(batch, schema))
                        batch.clear()
                writer.write_batch(pyarrow.RecordBatch.from_pylist(batch, schema))
            os.replace(temporary, target)
        finally:
            temporary.unlink(missing_ok=True)


def _type(name: str, pyarrow: Any) -> Any:
    if name in ("schema", "met", "unread"):
        return pyarrow.int32()
    if name in ("was_decided_by", "decided_by"):
        return pyarrow.list_(pyarrow.string())
    return pyarrow.string()
