"""What a job folder holds, as values that can be judged: the same for the live job and for its replay."""

from datetime import UTC, datetime
from typing import NamedTuple

from consolecheck.job.folder import Entry, Folder, FolderFault, Job
from consolecheck.judging.view import Observed, Sample, Taken, observed
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import NotRecognised, read_text


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


def stamp(epoch: float) -> str:
    """Seconds since 1970 as RFC 3339, UTC."""
    return datetime.fromtimestamp(epoch, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def held(folder: Folder, dialect: Dialect) -> Held:
    """What the folder holds. Raises FolderFault where a capture, a sample or the journal is missing or broken."""
    job = folder.job()
    journal = folder.journal()
    return Held(
        job,
        folder.text("before") if (folder.path / "before.txt").exists() else None,
        folder.text("after"),
        samples_of(folder, dialect),
        observed_in(journal),
        taken_in(journal),
        job.reseat,
    )


def samples_of(folder: Folder, dialect: Dialect, run: int | None = None) -> tuple[Sample, ...]:
    """The samples of one run of the program, the last without `run`: between two runs no clock tells the time."""
    kept = folder.samples()
    if not kept:
        return ()
    wanted = kept[-1].run if run is None else run
    samples = []
    for sample in kept:
        if sample.run == wanted:
            try:
                snapshot = read_text(sample.text, sample.name, (dialect,), dialect)
            except NotRecognised:
                continue
            samples.append(Sample(sample.seconds, snapshot))
    return tuple(samples)


def observed_in(journal: list[Entry]) -> tuple[Observed, ...]:
    """What persons saw, oldest first. Raises FolderFault for an entry that nobody can have made here."""
    found = []
    for entry in journal:
        if entry.what != "observation":
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


def taken_in(journal: list[Entry]) -> Taken:
    """When the last capture of each side was taken, by the laptop's clock."""
    when: dict[str, float] = {}
    for entry in journal:
        if entry.what == "captured" and isinstance(entry.facts.get("epoch"), int | float):
            when[str(entry.facts.get("side"))] = float(entry.facts["epoch"])
    return Taken(when.get("before"), when.get("after"))
