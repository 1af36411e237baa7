"""All that is told about one judged swap, as values: what the page and the files for other tools are made of."""

from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import Answer, Clearance
from consolecheck.judging.settling import Settling
from consolecheck.judging.view import Observed, Sample, Side
from consolecheck.reading.dialect import Lamp
from consolecheck.records.findings import Evidence, Finding, Judgement
from consolecheck.records.readings import Snapshot
from consolecheck.records.units import Quantity


class Event(NamedTuple):
    """One line of a job's journal: what was done, when (RFC 3339), and what is told of it."""

    what: str
    at: str
    facts: Mapping[str, Any]


class Proof(NamedTuple):
    """One judged swap. What only a job's folder tells is empty where two texts alone were judged."""

    judgement: Judgement
    before: Snapshot | None
    after: Snapshot
    texts: Mapping[Side, bytes]
    """The captured texts whose lines the evidence counts; within a recording, what stands in it."""
    digests: Mapping[str, str]
    """File name -> SHA-256 in hex of the file as it was given."""
    limits: Acceptance
    version: str
    observed: tuple[Observed, ...] = ()
    reseat: str | None = None
    samples: tuple[Sample, ...] = ()
    """Of one clock, oldest first: while the unit was out and while the switch settled."""
    settling: Settling | None = None
    """What the samples since the part was seated say; None where there are none."""
    family: str = ""
    """The dialect's title."""
    rear: Sequence[Sequence[str]] = ()
    """The slots as the family's papers place them, seen from behind; none where they do not say."""
    lamps: Mapping[str, Mapping[str, Lamp]] = {}
    """The maker's lamp chart: which lamp -> what it shows -> what that means."""
    job: Mapping[str, Any] = {}
    """What the job is: ticket, technician, line, when it began; only what was told."""
    journal: tuple[Event, ...] = ()
    clearance: Clearance | None = None
    """What was answered before the unit was pulled."""
    cautions: Mapping[str, str] = {}
    """Caution -> its sentence, for those that fit the unit."""
    seal: str | None = None
    """The folder's seal in words; None where there is no folder."""
    folder: str | None = None
    """The job's folder as it was named, for the command that judges it again."""


class _KeptFinding(Finding):
    """A finding as it comes back from a file: nothing of it is taken on trust."""

    measured: Quantity | str | None = None
    limit: Quantity | str | None = None
    margin: Quantity | None = None
    evidence: tuple[Evidence, ...] = ()


class _KeptClearance(BaseModel):
    """`clearance.json` of a job."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    schema_version: Literal[1] = Field(alias="schema")
    unit: str
    answer: Answer
    findings: tuple[_KeptFinding, ...]


def clearance_kept(document: bytes) -> Clearance:
    """The clearance that a job keeps. Raises ValueError for what is none."""
    kept = _KeptClearance.model_validate_json(document)
    return Clearance(kept.answer, kept.unit, kept.findings)
