"""Finds the dialects and fixtures: the shipped ones, and those in folders of a person's or a site's own.

Where they are looked for, the nearest first:

    DIR of --dialects
    DIR of the environment variable CONSOLECHECK_DIALECTS
    the folder `dialects` in the person's configuration folder of consolecheck, as the platform has it
    the same in the site's configuration folder
    the shipped ones: beside the package in a checkout, inside it when installed

In each of them a dialect is a folder with its name. Of two with one name the nearer one counts. A dialect of
one's own keeps its cases in a folder `fixtures` of its own.

What comes from a folder that is not shipped is bounded: plain files inside that folder, no links, no more and
no longer ones than any dialect needs. Nothing in it is carried out.
"""

import os
import re
import stat
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Final, NamedTuple

from consolecheck.reading.dialect import Dialect, DialectFault

_PACKAGE = Path(__file__).resolve().parent.parent
VARIABLE: Final = "CONSOLECHECK_DIALECTS"
LARGEST: Final = 256 * 1024
"""Bytes of a manifest or a template; the largest shipped one has a tenth of that."""
MOST_ENTRIES: Final = 1000
"""Of a folder that holds dialects, or of a dialect's own."""
_TEMPLATE: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,60}\.textfsm")
NAME: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}")
_SAFE_TO_OPEN: Final = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)


class NoFolder(Exception):
    """A folder that was named for dialects is not there or cannot be looked through."""


class Shelf(NamedTuple):
    """The dialects that there are."""

    dialects: tuple[Dialect, ...]
    """By name; of two with one name the nearer one."""
    covered: tuple[Dialect, ...] = ()
    """Those that a nearer one of the same name stands before."""


def shipped(folder: str) -> Path:
    """The `parsers` or `fixtures` folder of this installation or checkout."""
    inside = _PACKAGE / "_shipped" / folder
    return inside if inside.is_dir() else _PACKAGE.parent / folder


@cache
def dialects() -> tuple[Dialect, ...]:
    """Every shipped dialect, by name. Raises DialectFault where a manifest cannot be read."""
    return tuple(
        read_dialect(folder) for folder in sorted(shipped("parsers").iterdir()) if (folder / "dialect.toml").is_file()
    )


def shelf(given: Path | None = None, environment: Mapping[str, str] = os.environ) -> Shelf:
    """Every dialect that there is. Raises NoFolder, and DialectFault where a manifest cannot be read."""
    known: dict[str, Dialect] = {}
    covered: list[Dialect] = []
    for folder, origin in _own_places(given, environment):
        for found in _in_folder(folder, origin):
            if found.name in known:
                covered.append(found)
            known.setdefault(found.name, found)
    for found in dialects():
        if found.name in known:
            covered.append(found)
        known.setdefault(found.name, found)
    return Shelf(tuple(known[name] for name in sorted(known)), tuple(covered))


def fixtures_of(dialect: Dialect) -> Path:
    """The folder with a dialect's cases, whether it is there or not."""
    if dialect.origin is None:
        return shipped("fixtures") / dialect.name
    return Path(dialect.place) / "fixtures"


def _own_places(given: Path | None, environment: Mapping[str, str]) -> Iterator[tuple[Path, str]]:
    """Folders with dialects that are not shipped, nearest first, and in words where each was named."""
    if given is not None:
        yield _there(given, "--dialects"), "--dialects"
    if named := environment.get(VARIABLE):
        yield _there(Path(named), VARIABLE), VARIABLE
    from platformdirs import PlatformDirs

    usual = PlatformDirs("consolecheck", appauthor=False)
    for path, origin in (
        (usual.user_config_path, "the person's configuration"),
        (usual.site_config_path, "the site's"),
    ):
        if (folder := path / "dialects").is_dir():
            yield folder, origin


def _there(folder: Path, named_by: str) -> Path:
    if not folder.is_dir():
        raise NoFolder(f"{folder} of {named_by} is no folder; name one that holds a folder for each dialect")
    return folder


def _in_folder(folder: Path, origin: str) -> Iterator[Dialect]:
    for name in _names(folder):
        inside = folder / name
        if os.path.lexists(inside / "dialect.toml"):
            yield read_dialect(inside, origin=origin)


def _names(folder: Path) -> list[str]:
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in islice(entries, MOST_ENTRIES + 1)]
    except OSError as reason:
        raise NoFolder(
            f"{folder} cannot be looked through ({reason.strerror or reason}); see that you may read it"
        ) from None
    if len(names) > MOST_ENTRIES:
        raise NoFolder(
            f"{folder} holds more than {MOST_ENTRIES} entries; name a folder that holds dialects and nothing else"
        )
    return sorted(names)


def read_dialect(folder: Path, name: str | None = None, origin: str | None = None) -> Dialect:
    """The dialect in a folder; `origin` tells in words where it is from, None for a shipped one.

    Raises DialectFault where its manifest cannot be read.
    """
    name = name or folder.name
    place = f"parsers/{name}" if origin is None else str(folder)
    manifest = f"{place}/dialect.toml"
    if origin is not None:
        if not NAME.fullmatch(name):
            raise DialectFault(
                place, "", "a dialect's name is of small letters, digits, `-` and `_`, 40 at most; rename it"
            )
        if folder.resolve() != folder.parent.resolve() / folder.name:
            raise DialectFault(place, "", "is a link; put the dialect's folder itself there")
    try:
        text = _text(folder / "dialect.toml", links=origin is None)
    except (OSError, ValueError) as reason:
        raise DialectFault(manifest, "", f"cannot be read: {getattr(reason, 'strerror', None) or reason}") from None
    return Dialect(name, text, _Templates(folder, links=origin is None), place, origin)


def _text(path: Path, links: bool) -> str:
    """A small plain file as text with `\\n` at its line ends. Raises OSError and ValueError."""
    handle = os.open(path, _SAFE_TO_OPEN | (0 if links else getattr(os, "O_NOFOLLOW", 0)))
    with open(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(handle).st_mode) or (not links and path.is_symlink()):
            raise ValueError("it is no plain file")
        data = file.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise ValueError(f"it has more than {LARGEST // 1024} KB, and no dialect needs that")
    return data.decode("utf-8").replace("\r\n", "\n")


class _Templates(Mapping[str, str]):
    """The templates of a dialect's folder, read when asked for; nothing outside the folder is reachable."""

    def __init__(self, folder: Path, links: bool) -> None:
        self._folder = folder
        self._links = links
        self._read: dict[str, str] = {}
        """What was read stays as it is for this run, so that what is used is what the digest speaks of."""

    def __getitem__(self, name: str) -> str:
        if not _TEMPLATE.fullmatch(name):
            raise KeyError(name)
        if name not in self._read:
            try:
                self._read[name] = _text(self._folder / name, self._links)
            except (OSError, ValueError):  # a text that is not UTF-8 is a ValueError, too
                raise KeyError(name) from None
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        return (path.name for path in sorted(self._folder.glob("*.textfsm")))

    def __len__(self) -> int:
        return sum(1 for _ in self._folder.glob("*.textfsm"))
