"""Every job below a folder, without holding them all: what looks like a job is given, broken or not.

A folder that holds anything only a job's folder has is one, even where its `job.json` is gone: it is judged like
any other, so that what is wrong with it is told. A link to a folder is not followed, since it may lead round in a
circle; one to a job's folder is that job once more, any other is told.
"""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from consolecheck.job.folder import Folder, FolderFault
from consolecheck.job.several import NAME as UNITS
from consolecheck.job.several import several

_OF_A_JOB: Final = (
    "job.json",
    "journal.jsonl",
    "seal.json",
    "findings.json",
    "before.txt",
    "after.txt",
    "before-line.txt",
    "after-line.txt",
)
_DEEPEST: Final = 64
"""Folders within each other. Nobody keeps jobs that deep, and every level is a folder held open."""


def jobs(root: Path) -> Iterator[tuple[str, str]]:
    """Name of each job within `root`, with `/` between its parts, and why it cannot be opened, or nothing.

    The root itself is `.`. In the order of the disk, which is none: a caller that needs one sorts.
    """
    return _jobs(str(root), "", 0)


def _jobs(root: str, place: str, depth: int) -> Iterator[tuple[str, str]]:
    path = os.path.join(root, place) if place else root
    if any(os.path.lexists(os.path.join(path, name)) for name in _OF_A_JOB):
        yield place or ".", ""
        return
    if depth > _DEEPEST:
        yield place, f"lies more than {_DEEPEST} folders deep and was not looked through; name a folder further down"
        return
    try:
        with os.scandir(path) as entries:
            for entry in entries:
                name = f"{place}/{entry.name}" if place else entry.name
                if entry.is_dir(follow_symlinks=False):
                    yield from _jobs(root, name, depth + 1)
                elif entry.is_symlink() and entry.is_dir():
                    is_job = os.path.lexists(os.path.join(root, name, "job.json"))
                    yield name, "" if is_job else "is a link to a folder and was not followed; name that folder itself"
                elif entry.name == UNITS:
                    yield from _missing(path, place)
    except OSError as reason:
        yield place or ".", f"cannot be looked through ({reason.strerror or reason}); see that you may read it"


def _missing(path: str, place: str) -> Iterator[tuple[str, str]]:
    """The units that a job for several tells of and that have no folder."""
    try:
        units = several(Folder(Path(path)))
    except FolderFault as fault:
        yield f"{place}/{UNITS}" if place else UNITS, str(fault)
        return
    for unit in units:
        if not os.path.isdir(os.path.join(path, unit)):
            yield (
                f"{place}/{unit}" if place else unit,
                "is not there although its units.json tells of it; bring it back",
            )
