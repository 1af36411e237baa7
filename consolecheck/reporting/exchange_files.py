"""The files about a judged swap for other tools and for people, written into one folder.

result.json    everything as typed values (`consolecheck schema replay` prints its JSON Schema)
junit.xml      the findings as test results, for CI
ticket.md      a comment for the ticket
readings.csv   every reading of both texts; samples.csv the temperatures over time, where samples were taken
report.html    the page for people, and report.pdf where the extra `pdf` is installed
"""

import os
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from consolecheck.reporting.exchange import ReplayDocument, as_json, replay_document
from consolecheck.reporting.junit import is_time, junit
from consolecheck.reporting.paper import pdf_of
from consolecheck.reporting.table import readings_csv, samples_csv
from consolecheck.reporting.ticket import ticket

if TYPE_CHECKING:
    from consolecheck.reporting.proof import Proof

_SEAL_IN_WORDS = re.compile(r"SHA-256 ([0-9a-f]{64})\Z")


def write_all(folder: Path, proof: "Proof") -> list[Path]:
    """Writes every file, makes the folder where it is missing, and gives their paths; each is there whole or not at all.

    `report.pdf` is among them only where its library is installed. Raises OSError, and ModuleNotFoundError where
    what draws the plots is not installed; nothing is written then.
    """
    from consolecheck.reporting.page import page

    html = page(proof)
    files = {"report.html": html.encode("utf-8"), **files_of(proof)}
    if (pdf := pdf_of(html)) is not None:
        files["report.pdf"] = pdf
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, data in files.items():
        temporary = folder / f".{name}.new"
        temporary.write_bytes(data)
        os.replace(temporary, folder / name)
        written.append(folder / name)
    return written


def files_of(proof: "Proof") -> dict[str, bytes]:
    """File name -> its content, for the files that need no library beside the required ones."""
    judgement, before, after = proof.judgement, proof.before, proof.after
    comment = ticket(judgement, before, after, proof.limits.name, _by_side(proof), _seal(proof), _labels(proof))
    files = {
        "result.json": (as_json(document_of(proof)) + "\n").encode("ascii"),
        "junit.xml": junit(judgement, before, after, judged_at(proof), _facts(proof)),
        "ticket.md": comment.encode("utf-8"),
        "readings.csv": readings_csv(before, after),
    }
    if proof.samples:
        files["samples.csv"] = samples_csv(proof.samples)
    return files


def document_of(proof: "Proof") -> ReplayDocument:
    """The swap as the JSON form tells it."""
    return replay_document(
        proof.judgement,
        proof.before,
        proof.after,
        _by_side(proof),
        proof.limits.name,
        [f"{o.unit}.{o.fact}={o.value}" for o in proof.observed],
        proof.reseat,
        proof.observed,
        proof.settling,
        _seal(proof),
    )


def judged_at(proof: "Proof") -> str:
    """When the job's last step was noted; without a job, now. RFC 3339, UTC."""
    noted = next((event.at for event in reversed(proof.journal) if is_time(event.at)), None)
    return noted or datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _by_side(proof: "Proof") -> dict[str, str]:
    """Side -> SHA-256 of the file that its text was taken from."""
    sides = {"before": proof.before, "after": proof.after}
    return {side: proof.digests[s.source] for side, s in sides.items() if s and s.source in proof.digests}


def _seal(proof: "Proof") -> str | None:
    """SHA-256 of the job's seal, which its words end with."""
    told = _SEAL_IN_WORDS.search(proof.seal or "")
    return told[1] if told else None


def _labels(proof: "Proof") -> dict[str, str]:
    """The serials that a person read off the labels of the unit, the last word counting."""
    seen = [o for o in proof.observed if o.unit == proof.judgement.unit and o.seen]
    return {o.fact: o.value for o in seen if o.fact in ("serial", "removed_serial")}


def _facts(proof: "Proof") -> dict[str, str]:
    """What the test results tell besides: how it was judged, and what the job says of itself."""
    facts = {"version": proof.version, "dialect": proof.after.dialect or "", "limits": proof.limits.name}
    facts |= {f"sha256.{side}": digest for side, digest in _by_side(proof).items()}
    if proof.after.dialect_digest is not None:
        facts["sha256.dialect"] = proof.after.dialect_digest
    if (seal := _seal(proof)) is not None:
        facts["sha256.seal"] = seal
    return facts | {name: str(proof.job[name]) for name in ("ticket", "technician") if proof.job.get(name)}
