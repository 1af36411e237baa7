"""What a job folder holds, as values that can be judged: the same for the live job and for its replay."""

import re
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import NamedTuple

from consolecheck.files.shelf import read_dialect
from consolecheck.job.folder import DIALECT, Entry, Folder, FolderFault, Job
from consolecheck.job.steps import AGAIN
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.view import Observed, Sample, Taken, observed
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.inference.map import MapFault, ReadingMap, confirmed, load_map
from consolecheck.reading.reader import read_text
from consolecheck.records.readings import READING_MAP, Snapshot

Read = Callable[[bytes, str, Dialect], Snapshot]
"""Bytes, the name that messages give them, and the dialect to read them by."""


class Held(NamedTuple):
    """Everything that counts for the verdict on a job."""

    job: Job
    before: bytes | None
    """None where the job has no capture before the swap."""
    after: bytes
    samples: tuple[Sample, ...]
    observed: tuple[Observed, ...]
    taken: Taken
    reseat: str | None
    map: ReadingMap | None = None
    """The reading map that a person confirmed, where the job keeps one."""

    def with_name(self, snapshot: Snapshot) -> Snapshot:
        """A text as it was read, with the name of who confirmed how, where one did and the map covers it."""
        said = next((o for o in self.observed if o.fact == READING_MAP), None)
        return snapshot if said is None or self.map is None else confirmed(snapshot, self.map, said.by, said.at)[0]


def stamp(epoch: float) -> str:
    """Seconds since 1970 as RFC 3339, UTC."""
    return datetime.fromtimestamp(epoch, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def epoch_of(at: str) -> float:
    """The other way round. Raises FolderFault for a text that is no such time."""
    try:
        return datetime.fromisoformat(at).timestamp()
    except ValueError:
        raise FolderFault(
            f"journal.jsonl holds a time that cannot be understood ({at[:40]!r}); bring back an untouched copy of that file"
        ) from None


def read_plainly(raw: bytes, source: str, dialect: Dialect) -> Snapshot:
    """Reads a text, whether it was read before or not. Raises DialectFault."""
    return read_text(raw, source, (dialect,), dialect)


def dialect_of(folder: Folder, job: Job, shipped: Iterable[Dialect]) -> Dialect | None:
    """The dialect that a job was begun with: its own copy where it keeps one, else a shipped one, None if unknown.

    Raises FolderFault where its copy is another one than it was begun with, and DialectFault.
    """
    if job.dialect_digest is None:
        return next((d for d in shipped if d.name == job.dialect), None)
    kept = read_dialect(folder.path / DIALECT, job.dialect, "the job")
    if kept.digest != job.dialect_digest:
        raise FolderFault(
            f"{folder.path / DIALECT} is not the dialect that the job was begun with (its SHA-256 is {kept.digest}, "
            f"job.json says {job.dialect_digest}), and nothing was judged: bring back an untouched copy"
        )
    return kept


def held(folder: Folder, dialect: Dialect, read: Read = read_plainly) -> Held:
    """What the folder holds. Raises FolderFault where a capture, a sample or the journal is missing or broken."""
    job = folder.job()
    journal = folder.journal()
    said = confirmation_in(journal)
    seen = observed_in(journal)
    return Held(
        job,
        folder.text("before") if (folder.path / "before.txt").exists() else None,
        folder.text("after"),
        samples_of(folder, dialect, read=read),
        seen if said is None else (*seen, said),
        taken_in(journal),
        job.reseat,
        None if said is None else _map_of(folder, said),
    )


def _map_of(folder: Folder, said: Observed) -> ReadingMap:
    """The map that was confirmed. Raises FolderFault where the job does not hold it as it was."""
    digest = said.value.removeprefix(_BY_SHA256)
    text = folder.map_text(digest)
    try:
        found = load_map(text, "the job's reading map")
    except MapFault as fault:
        raise FolderFault(f"{fault}; nothing was judged: bring back an untouched copy") from None
    if found.digest != digest:
        raise FolderFault(
            f"the reading map in {folder.path} is not the one that {said.by} confirmed, and nothing was judged: "
            "bring back an untouched copy"
        )
    return found


_BY_SHA256 = "sha256:"
_DIGEST = re.compile(rf"{_BY_SHA256}[0-9a-f]{{64}}")


def confirmation(given: ReadingMap, by: str, at: str) -> Observed:
    """That a person confirmed a reading map, named by its SHA-256, as an observation; `at` is RFC 3339."""
    return Observed("text", READING_MAP, f"{_BY_SHA256}{given.digest}", by, at)


def confirm(folder: Folder, text: str, given: ReadingMap, by: str, at: str) -> None:
    """Keeps a reading map, and as an observation who confirmed it; the last one counts."""
    folder.keep_map(text, given.digest)
    said = confirmation(given, by, at)
    folder.note("observation", at, unit=said.unit, fact=said.fact, value=said.value, by=by)


def confirmation_in(journal: list[Entry]) -> Observed | None:
    """Who last confirmed how the job's texts are read, and which map that was. Raises FolderFault for one that does not tell."""
    for entry in reversed(journal):
        if entry.what == "observation" and entry.facts.get("fact") == READING_MAP:
            value, by = str(entry.facts.get("value")), str(entry.facts.get("by", "")).strip()
            if not _DIGEST.fullmatch(value) or not by:  # it names a file, so it must be nothing else
                raise FolderFault(
                    f"journal.jsonl holds a confirmation of {entry.at} without a name or the SHA-256 of its map, and "
                    "nothing was judged: bring back an untouched copy of that file"
                )
            return Observed("text", READING_MAP, value, by, entry.at)
    return None


def as_live(limits: Acceptance) -> Acceptance:
    """The limits for a live job: it takes samples, so its temperatures must have settled, and a folder without
    samples is not verified by two texts alone, unless the acceptance itself waives it."""
    if limits.settling.required is not None:
        return limits
    return limits.model_copy(update={"settling": limits.settling.model_copy(update={"required": True})})


def samples_of(
    folder: Folder, dialect: Dialect, run: int | None = None, read: Read = read_plainly
) -> tuple[Sample, ...]:
    """The samples of one run of the program, the last without `run`: between two runs no clock tells the time."""
    kept = folder.samples()
    if not kept:
        return ()
    wanted = kept[-1].run if run is None else run
    return tuple(
        Sample(sample.seconds, read(sample.text, sample.name, dialect)) for sample in kept if sample.run == wanted
    )


def observed_in(journal: list[Entry]) -> tuple[Observed, ...]:
    """What persons saw, oldest first; what they saw of a part that was put aside is left out.

    Raises FolderFault for an entry that nobody can have made here.
    """
    found: list[Observed] = []
    for entry in journal:
        if entry.what == AGAIN and entry.facts.get("another_part"):
            found.clear()
        if entry.what != "observation" or entry.facts.get("fact") == READING_MAP:
            continue
        try:
            facts = {name: str(entry.facts[name]) for name in ("unit", "fact", "value")}
            found.append(observed(**facts, by=str(entry.facts.get("by", "")), at=entry.at))
        except (KeyError, ValueError) as reason:
            raise FolderFault(
                f"journal.jsonl holds an observation of {entry.at} that cannot be understood ({reason}); "
                "bring back an untouched copy of that file"
            ) from None
    return tuple(found)


def answered_in(journal: list[Entry]) -> set[str]:
    """Which questions were answered, as UNIT.FACT."""
    return {f"{o.unit}.{o.fact}" for o in observed_in(journal)}


def told_since_sample(journal: list[Entry]) -> int:
    """How many notices were kept since the last sample was."""
    number = 0
    for entry in journal:
        number = 0 if entry.what == "sample" else number + (entry.what == "seen")
    return number


def taken_in(journal: list[Entry]) -> Taken:
    """When the last capture of each side was taken, by the laptop's clock."""
    when: dict[str, float] = {}
    for entry in journal:
        if entry.what == "captured" and isinstance(entry.facts.get("epoch"), int | float):
            when[str(entry.facts.get("side"))] = float(entry.facts["epoch"])
    return Taken(when.get("before"), when.get("after"))
