"""All that is told about one judged swap, as values: what the page and the files for other tools are made of."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import Clearance
from consolecheck.judging.settling import Settling
from consolecheck.judging.view import Observed, Sample, Side
from consolecheck.reading.dialect import ChassisFacts, Lamp
from consolecheck.records.findings import Judgement
from consolecheck.records.readings import Snapshot


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
    lamps: Mapping[str, Mapping[str, Lamp]] = {}
    """The maker's lamp chart: which lamp -> what it shows -> what that means."""
    chassis: ChassisFacts = ChassisFacts()
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
