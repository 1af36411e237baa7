"""A job for several units: one folder around one folder a unit, done one at a time in the order named."""

import json

from consolecheck.job.folder import Folder, FolderFault

NAME = "units.json"


def several(folder: Folder) -> tuple[str, ...]:
    """The units of a job for several; none where the folder is a job for one, or no job at all."""
    try:
        named = json.loads((folder.path / NAME).read_text(encoding="utf-8"))
        units = tuple(str(unit) for unit in named["units"])
        if not all(map(_names_a_folder, units)):  # a job from somebody else must not lead out of its folder
            raise ValueError
        return units
    except (FileNotFoundError, NotADirectoryError):
        return ()
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        raise FolderFault(
            f"{folder.path / NAME} cannot be read; the folders beside it are untouched: bring back a copy of that file"
        ) from None


def begin_several(folder: Folder, units: list[str]) -> tuple[str, ...]:
    """Makes the folder around. Raises FolderFault for a unit whose name cannot name a folder."""
    for unit in units:
        if not _names_a_folder(unit):
            raise FolderFault(f"a folder cannot be named `{unit}`; give each unit a job of its own")
    folder.write(NAME, json.dumps({"schema": 1, "units": units}).encode() + b"\n")
    return tuple(units)


def _names_a_folder(unit: str) -> bool:
    return bool(unit) and all(c.isalnum() or c in "-_." for c in unit) and not unit.startswith(".")
