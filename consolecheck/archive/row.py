"""What is kept of each job that was judged again: one flat row, the same in JSON lines and in Parquet."""

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final, Literal

import pydantic_core
from typing_extensions import TypedDict  # pydantic takes the library's own only from Python 3.12 on

from consolecheck.archive.again import Again, Remembered, judge_again, sealed
from consolecheck.job.folder import Folder, FolderFault
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import NoSuchUnit
from consolecheck.reading.dialect import Dialect, DialectFault
from consolecheck.records.findings import Outcome
from consolecheck.reporting.exchange import finding_out

Told = Literal["verified", "not-verified", "inconclusive"]


class Row(TypedDict):
    """One job. Fields that `replay JOB --json` has too say the same here."""

    schema: Literal[1]
    job: str
    """Its folder's name below the archive."""
    unit: str | None
    dialect: str | None
    ticket: str | None
    started: str | None
    was: Told | None
    """The verdict that the job's folder holds; null where it was never judged."""
    verdict: Told | None
    """The verdict under the acceptance of this run; null where it could not be judged."""
    was_decided_by: list[str]
    """The rules that decided the old verdict; none where it was `verified`."""
    decided_by: list[str]
    findings: list[dict[str, Any]]
    """Those that are not met."""
    met: int
    """How many findings are met."""
    unread: int
    """How many lines of the two texts were not read."""
    digests: dict[str, str]
    seal: str | None
    """SHA-256 of the job's seal, which holds; null where it was never sealed."""
    acceptance: str
    limits: str
    """SHA-256 of all limits of this run."""
    fault: str | None
    """Why it could not be judged."""


def blank(name: str, limits: Acceptance, digest: str, fault: str | None = None) -> Row:
    """The row of a job of which nothing is known yet."""
    return {
        "schema": 1,
        "job": name,
        "unit": None,
        "dialect": None,
        "ticket": None,
        "started": None,
        "was": None,
        "verdict": None,
        "was_decided_by": [],
        "decided_by": [],
        "findings": [],
        "met": 0,
        "unread": 0,
        "digests": {},
        "seal": None,
        "acceptance": limits.name,
        "limits": digest,
        "fault": fault,
    }


def row_of(root: Path, name: str, limits: Acceptance, digest: str, shipped: Iterable[Dialect], read: Remembered) -> Row:
    """A job's row; what is wrong with it stands in the row and is never raised."""
    row = blank(name, limits, digest)
    try:
        if not os.path.lexists(root / name / "job.json"):
            raise FolderFault(
                "holds no job (no job.json): judge its texts with `replay --before --after`, or move them"
            )
        folder, seal = sealed(root, name)
        job = folder.job()
        row["unit"], row["dialect"], row["seal"] = job.unit, job.dialect, seal.digest
        row["ticket"], row["started"] = job.ticket, job.started
        row["was"], row["was_decided_by"] = _was(folder)
        dialect = read.dialect_of(folder, shipped)
        if dialect is None:
            raise FolderFault(f"is of the dialect `{job.dialect}`, which is not known here; bring that dialect")
        again = judge_again(folder, limits, dialect, read)
    except (FolderFault, DialectFault) as fault:
        row["fault"] = str(fault)
    except NoSuchUnit as fault:
        row["fault"] = f"{fault}; the texts show {', '.join(fault.known)}"
    except Exception as fault:
        # One job must not end a hundred thousand; what it was is told in its row, and nothing was judged of it.
        row["fault"] = f"a fault in consolecheck itself ({type(fault).__name__}); judge this one with `replay`"
    else:
        _tell(row, again)
    return row


def _tell(row: Row, again: Again) -> None:
    judgement = again.judgement
    open_ones = [f for f in judgement.findings if f.outcome is not Outcome.MET]
    row["verdict"] = judgement.verdict.value
    row["decided_by"] = decided(judgement.verdict, ((f.rule, f.outcome.value, f.required) for f in open_ones))
    row["findings"] = [finding_out(f).model_dump(mode="json") for f in open_ones]
    row["met"] = len(judgement.findings) - len(open_ones)
    row["unread"] = len(again.after.unread) + (len(again.before.unread) if again.before else 0)
    row["digests"] = {side: hashlib.sha256(data).hexdigest() for side, data in again.raw.items()}


_DECIDES = {"not-verified": "unmet", "inconclusive": "undetermined"}


def decided(verdict: str, findings: Iterable[tuple[str, str, bool]]) -> list[str]:
    """The rules that a verdict follows from, by rule, outcome and whether it counts, each once."""
    outcome = _DECIDES.get(verdict)
    return list(dict.fromkeys(rule for rule, found, required in findings if required and found == outcome))


def _was(folder: Folder) -> tuple[Told | None, list[str]]:
    kept = folder.findings()
    if kept is None:
        return None, []
    try:
        said = _said(kept)
        verdict = said["verdict"]
        if verdict not in ("verified", "not-verified", "inconclusive"):
            raise ValueError
        return verdict, decided(verdict, ((f["rule"], f["outcome"], f["required"]) for f in said["findings"]))
    except (ValueError, KeyError, TypeError):
        raise FolderFault(
            f"{folder.path / 'findings.json'} cannot be understood, so what the verdict was is not known; "
            "bring back an untouched copy of that file"
        ) from None


_VERIFIED: Final = b'{\n "schema": 1,\n "verdict": "verified",\n "unit": "'
_READINGS: Final = b'\n "readings": '


def _said(kept: bytes) -> dict[str, Any]:
    """What `findings.json` says of the verdict. The readings, which are most of it, are passed over where the file
    is as this program writes it: a line end cannot stand within a text of JSON, so one with such a beginning is a
    field of the document itself."""
    if kept.rstrip().endswith(b"}"):
        if kept.startswith(_VERIFIED):
            return {"verdict": "verified", "findings": []}
        head, found, _ = kept.partition(_READINGS)
        if found:
            try:
                said: dict[str, Any] = pydantic_core.from_json(head.rstrip().removesuffix(b",") + b"}")
            except ValueError:
                pass
            else:
                return said
    whole: dict[str, Any] = pydantic_core.from_json(kept)
    return whole


def line_of(row: Mapping[str, Any]) -> bytes:
    """The row as a line of JSON lines."""
    return json.dumps(row, ensure_ascii=True, allow_nan=False, separators=(",", ":")).encode("ascii") + b"\n"


def digest_of(limits: Acceptance) -> str:
    """SHA-256 of all limits, whatever their file is called."""
    said = limits.model_dump(mode="json", exclude={"name"})
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()
