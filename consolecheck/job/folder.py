"""The folder of one swap: plain files that an engineer can read without the tool.

    job.json            what the job is: unit, dialect, line, when, by which version
    before.txt          the session before the swap, from its first command to its last prompt
    before-line.txt     everything that the line brought, as received
    before-line.cast    the same with times (asciicast v2)
    after.txt, after-line.txt, after-line.cast
    findings.json       the last verdict, with its findings and digests

Every write is durable: a temporary file beside it, flushed to the disk, then renamed; recordings grow as
bytes arrive. What was captured is never overwritten: it is moved aside as `earlier-N-...`.
"""

import json
import os
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

Side = Literal["before", "after"]


class FolderFault(Exception):
    """The folder cannot be used: a sentence that says what happened and what to do next."""


class Job(BaseModel):
    """What a job is, as kept in `job.json`."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_version: Literal[1] = 1
    unit: str
    dialect: str
    line: str
    speed: int | None = None
    started: str
    version: str


_MARK = b"\r\n-- consolecheck: "


def break_mark(why: str) -> bytes:
    """A line of our own in a kept text, where it is not what the device would say on a good line.

    No template reads it, so the text is not fully read and no verdict but `inconclusive` follows from
    it, today or when it is replayed from a ticket: a refusal on the screen does not outlive the session.
    """
    return _MARK + f"{why} --\r\n".encode("ascii", "replace")


class Folder:
    """A job's folder on the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def create(self, job: Job) -> None:
        """Makes the folder for a new job, or begins one anew whose capture before the swap broke off.

        Raises FolderFault where a job with such a capture is there already.
        """
        if (self.path / "job.json").exists():
            if not self._has_baseline():
                self.keep(job)
                return
            raise FolderFault(
                f"{self.path} holds a job already; name a new folder, or go on with `consolecheck verify {self.path}`"
            )
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            if any(self.path.iterdir()):
                raise FolderFault(f"{self.path} is not empty and holds no job; name a new folder")
            if os.name == "posix":
                self.path.chmod(0o700)  # a capture may hold what is nobody else's business
        except OSError as reason:
            raise FolderFault(
                f"{self.path} cannot be made ({reason.strerror}); name a folder that you may write to"
            ) from None
        self.keep(job)

    def _has_baseline(self) -> bool:
        before = self.path / "before.txt"
        return before.exists() and _MARK not in before.read_bytes()

    def job(self) -> Job:
        """The job of this folder. Raises FolderFault."""
        try:
            return Job.model_validate_json((self.path / "job.json").read_text(encoding="utf-8"))
        except FileNotFoundError:
            raise FolderFault(f"{self.path} holds no job; begin with `consolecheck baseline {self.path}`") from None
        except (OSError, UnicodeDecodeError, ValidationError) as reason:
            raise FolderFault(
                f"{self.path / 'job.json'} cannot be read ({type(reason).__name__}); the captures beside it are untouched"
            ) from None

    def keep(self, job: Job) -> None:
        """Writes the job's facts durably."""
        self.write("job.json", json.dumps(job.model_dump(mode="json"), indent=1).encode() + b"\n")

    def write(self, name: str, data: bytes) -> Path:
        """Writes a file so that after a crash it is there whole, or as it was before."""
        target = self.path / name
        temporary = self.path / f".{name}.new"
        try:
            with open(temporary, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(temporary, target)
            _flush_folder(self.path)
        except OSError as reason:
            raise FolderFault(
                f"{target} cannot be written ({reason.strerror}); free space or name another folder, then go on"
            ) from None
        return target

    def text(self, side: Side) -> bytes:
        """The session of one side. Raises FolderFault where it was not captured."""
        try:
            return (self.path / f"{side}.txt").read_bytes()
        except FileNotFoundError:
            step = "baseline" if side == "before" else "verify"
            raise FolderFault(
                f"{self.path} has no capture {side} the swap; run `consolecheck {step} {self.path}` with its options again"
            ) from None

    def make_room(self, side: Side) -> Path:
        """A free name for a recording of one side; what an earlier capture left is moved aside, never lost."""
        # The findings go with the captures they judge: an old verdict beside a new capture would lie.
        names = [f"{side}.txt", f"{side}-line.txt", f"{side}-line.cast", "findings.json"]
        if any((self.path / name).exists() for name in names):
            number = 1
            while any((self.path / f"earlier-{number}-{name}").exists() for name in names):
                number += 1
            for name in names:
                if (self.path / name).exists():
                    os.replace(self.path / name, self.path / f"earlier-{number}-{name}")
        return self.path / f"{side}-line.cast"


def _flush_folder(path: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
