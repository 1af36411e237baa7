"""Finds the dialects and fixtures: beside the package in a checkout, inside it when installed."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path

from consolecheck.reading.dialect import Dialect, DialectFault

_PACKAGE = Path(__file__).resolve().parent.parent


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


def read_dialect(folder: Path) -> Dialect:
    """The dialect in a folder. Raises DialectFault where its manifest cannot be read."""
    place = f"parsers/{folder.name}"
    try:
        manifest = (folder / "dialect.toml").read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as reason:
        raise DialectFault(f"{place}/dialect.toml", "", f"cannot be read: {reason}") from None
    return Dialect(folder.name, manifest, _Templates(folder), place)


class _Templates(Mapping[str, str]):
    """The templates of a dialect's folder, read when asked for; nothing outside the folder is reachable."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def __getitem__(self, name: str) -> str:
        if Path(name).name != name or not name.endswith(".textfsm"):
            raise KeyError(name)
        try:
            return (self._folder / name).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            raise KeyError(name) from None

    def __iter__(self):  # type: ignore[no-untyped-def]
        return (path.name for path in sorted(self._folder.glob("*.textfsm")))

    def __len__(self) -> int:
        return sum(1 for _ in self._folder.glob("*.textfsm"))
