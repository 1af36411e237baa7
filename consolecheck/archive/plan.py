"""In which order an archive's jobs are judged: by name, but those that share a text one after the other.

So a text that several jobs hold is read once, with few texts remembered. The list is kept in a database on the disk
that is gone with the process: the memory that it takes does not depend on how many jobs there are.
"""

import hashlib
import os
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final, NamedTuple

PART: Final = 16
"""Jobs that a worker takes at a time; those that share a text stay together up to four times as many."""
_PIECE: Final = 65536
"""Bytes of a text that are read at a time."""


class Planned(NamedTuple):
    """A job to be judged."""

    name: str
    fault: str
    """Why there is nothing to judge, or empty."""


class Plan:
    """The list; `add` all, then take `parts`."""

    def __init__(self) -> None:
        self._base = sqlite3.connect("")  # a file without a name, which ends with the process
        self._base.executescript(
            """
            PRAGMA cache_size = -1024;
            PRAGMA temp.cache_size = -512;
            CREATE TABLE done (name BLOB PRIMARY KEY, before BLOB, after BLOB) WITHOUT ROWID;
            CREATE TABLE jobs (name BLOB PRIMARY KEY, fault TEXT, lead BLOB, done INTEGER) WITHOUT ROWID;
            CREATE TABLE texts (digest BLOB, name BLOB);
            """
        )

    def close(self) -> None:
        self._base.close()

    def add_done(self, name: str, digests: Mapping[str, str]) -> bool:
        """A job that has its row already; False where it was named before."""
        key, before, after = os.fsencode(name), *(bytes.fromhex(digests.get(side, "")) for side in ("before", "after"))
        return self._base.execute("INSERT OR IGNORE INTO done VALUES (?, ?, ?)", (key, before, after)).rowcount == 1

    def add(self, root: Path, name: str, fault: str) -> bool:
        """A job that was found; whether it is new here and still to be judged."""
        key = os.fsencode(name)
        done = self._base.execute("SELECT before, after FROM done WHERE name = ?", (key,)).fetchone()
        texts = [text for text in done or () if text]
        if not fault and not texts:
            texts = [digest for side in ("before", "after") if (digest := _digest(root, name, side))]
        entry = key, fault, key, int(done is not None)
        new = self._base.execute("INSERT OR IGNORE INTO jobs VALUES (?, ?, ?, ?)", entry).rowcount == 1
        self._base.executemany("INSERT INTO texts VALUES (?, ?)", [(text[:8], key) for text in texts])
        return new and done is None

    def all(self) -> int:
        return int(self._base.execute("SELECT count(*) FROM jobs").fetchone()[0])

    def parts(self) -> Iterator[list[Planned]]:
        """The jobs that are left, some at a time."""
        self._base.executescript(
            """
            CREATE INDEX by_digest ON texts (digest, name);
            CREATE TEMP TABLE shared (name BLOB PRIMARY KEY, lead BLOB) WITHOUT ROWID;
            INSERT INTO shared SELECT name, min(lead) FROM texts JOIN (
                SELECT digest, min(name) AS lead FROM texts GROUP BY digest HAVING count(DISTINCT name) > 1
            ) USING (digest) GROUP BY name;
            UPDATE jobs SET lead = (SELECT lead FROM shared WHERE shared.name = jobs.name)
                WHERE name IN (SELECT name FROM shared);
            """
        )
        part: list[Planned] = []
        last = None
        for name, fault, lead in self._base.execute(
            "SELECT name, fault, lead FROM jobs WHERE NOT done ORDER BY lead, name"
        ):
            if len(part) >= (4 * PART if lead == last else PART):
                yield part
                part = []
            part.append(Planned(os.fsdecode(name), fault))
            last = lead
        if part:
            yield part


def _digest(root: Path, name: str, side: str) -> bytes | None:
    """Of a text, where it can be read; what is wrong with it is told when the job is judged."""
    found = hashlib.sha256()
    try:
        with open(os.path.join(root, name, f"{side}.txt"), "rb", buffering=0) as file:
            while piece := file.read(_PIECE):
                found.update(piece)
    except OSError:
        return None
    return found.digest()
