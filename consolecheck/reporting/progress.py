"""One line that says that work goes on, for work of more than a second: on a terminal only, and gone when it is done."""

import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol, TextIO, TypeVar

if TYPE_CHECKING:
    from rich.progress import Progress

PATIENCE = 1.0
"""Seconds after which a person wonders; work that ends before shows nothing."""
T = TypeVar("T")


class Step(Protocol):
    """Says that so many more of the parts are done."""

    def __call__(self, parts: int = 1) -> None: ...


@contextmanager
def busy(stream: TextIO, what: str, parts: int | None = None, patience: float = PATIENCE) -> Iterator[Step]:
    """Shows `what`, how long it has taken, and how far it is where the number of parts is known.

    Nothing at all is written where `stream` is no terminal.
    """
    if not stream.isatty():
        yield lambda parts=1: None
        return
    shown = _Shown(stream, what, parts)
    timer = threading.Timer(patience, shown.begin)
    timer.daemon = True
    timer.start()
    try:
        yield shown.step
    finally:
        timer.cancel()
        shown.end()


def counted(stream: TextIO, what: str, parts: list[T]) -> Iterable[T]:
    """The parts, one by one, with how far it is."""
    with busy(stream, what, len(parts)) as step:
        for part in parts:
            yield part
            step()


class _Shown:
    def __init__(self, stream: TextIO, what: str, parts: int | None) -> None:
        self._stream, self._what, self._parts = stream, what, parts
        self._lock = threading.Lock()
        self._done = 0
        self._over = False
        self._progress: Progress | None = None

    def step(self, parts: int = 1) -> None:
        with self._lock:
            self._done += parts
            if self._progress is not None:
                self._progress.update(self._progress.task_ids[0], completed=self._done)

    def begin(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

        with self._lock:
            if self._over:
                return
            counts = (BarColumn(20), MofNCompleteColumn()) if self._parts is not None else ()
            self._progress = Progress(
                TextColumn("{task.description}", markup=False),
                *counts,
                TimeElapsedColumn(),
                console=Console(file=self._stream, highlight=False),
                transient=True,
                redirect_stdout=False,
                redirect_stderr=False,
            )
            self._progress.add_task(self._what, total=self._parts, completed=self._done)
            self._progress.start()

    def end(self) -> None:
        with self._lock:
            self._over = True
            if self._progress is not None:
                self._progress.stop()
