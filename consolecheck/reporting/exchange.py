"""The JSON that other tools take: stable, versioned, with an exported JSON Schema."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, SerializerFunctionWrapHandler, model_serializer

from consolecheck.judging.settling import Course, Settling
from consolecheck.judging.view import Observed
from consolecheck.records.findings import Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Airflow, Condition, Kind, Sighting, Snapshot
from consolecheck.records.units import Quantity

SCHEMA_VERSION: Literal[1] = 1


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class ReadingOut(_Part):
    """One reading. Fields that the device did not print are null or left out of `quantities`."""

    kind: Kind
    unit: str | None
    name: str | None
    condition: Condition | None
    status_text: str | None
    quantities: dict[str, Quantity]
    serial: str | None = None
    part_number: str | None = None
    airflow: Airflow | None = None
    airflow_word: str | None = None
    """A device's word for its airflow that has no one meaning, where it printed such a word."""
    description: str | None = None
    feed: str | None = None
    input_type: Literal["AC", "DC"] | None = None
    lines: list[int]


class UnreadOut(_Part):
    """A line that was not understood."""

    line: int
    text: str
    reason: str
    capture: Literal["before", "after"] | None = None


class _Document(_Part):
    """`schema_` is `schema` in the JSON: the bare name is taken by a method of the model."""

    model_config = ConfigDict(alias_generator=lambda name: name.rstrip("_"), populate_by_name=True)

    schema_: Literal[1] = SCHEMA_VERSION

    @model_serializer(mode="wrap")
    def _told(self, whole: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = whole(self)
        for name in ("dialect_digest", "taken_as"):
            if data.get(name, "") is None:
                del data[name]
        return data


class TakenAsOut(_Part):
    """Why the readings of one table are what they are: what its labels were taken as, where they stood, how sure that is."""

    table: str
    layout: str
    columns: dict[str, str]
    header_lines: list[int]
    lines: list[int]
    sure: str


class ReadDocument(_Document):
    """What `read --json` prints."""

    dialect: str | None
    basis: Literal["template", "inferred"]
    readings: list[ReadingOut]
    unread: list[UnreadOut]
    dialect_digest: str | None = None
    """SHA-256 of the dialect's files, where it is not a shipped one; else the field is left out."""
    taken_as: list[TakenAsOut] | None = None
    """Of inferred readings: how each table was understood; else the field is left out."""


class EvidenceOut(_Part):
    """A line of one of the two texts; line numbers count newlines in the untouched file."""

    capture: Literal["before", "after"]
    line: int


class FindingOut(_Part):
    """One rule's outcome on one subject."""

    rule: str
    subject: str
    outcome: Outcome
    required: bool
    measured: Quantity | str | None
    limit: Quantity | str | None
    limit_source: str | None
    margin: Quantity | None
    message: str
    hint: str | None
    evidence: list[EvidenceOut]
    standing: bool


class ReadingsOut(_Part):
    before: list[ReadingOut]
    after: list[ReadingOut]


class ObservationOut(_Part):
    """What eyes saw; who and when (RFC 3339) are null where that is not known."""

    unit: str
    fact: str
    value: str
    by: str | None = None
    at: str | None = None


class CourseOut(_Part):
    """A sensor's way since the part was seated: degrees Celsius, kelvin and seconds; null where it cannot be told."""

    unit: str | None
    name: str | None
    state: Literal["settled", "moving", "unclear"]
    now: float | None
    end: float | None
    doubt: float | None
    to_come: float | None
    tau: float | None
    points: int
    span: float
    why: str


class ReplayDocument(_Document):
    """What `replay --json` prints, and `result.json`. `digests` are SHA-256 of the files as they were given.

    Fields with a default may be missing in documents of earlier versions.
    """

    verdict: Verdict
    unit: str
    dialect: str | None
    acceptance: str
    observed: list[str]
    reseat: str | None
    findings: list[FindingOut]
    readings: ReadingsOut
    unread: list[UnreadOut]
    digests: dict[str, str]
    observations: list[ObservationOut] = []
    """What `observed` says, with who saw it and when."""
    settling: list[CourseOut] = []
    """How each temperature sensor went since the part was seated; empty where no samples were taken."""
    unrest: str | None = None
    """Why the chassis as a whole is not at rest, if it is not."""
    seal: str | None = None
    """SHA-256 of the job's seal, where there is one that holds."""
    dialect_digest: str | None = None
    """SHA-256 of the dialect's files, where it is not a shipped one; else the field is left out."""


_FACTS = ("serial", "part_number", "airflow", "airflow_word", "description", "feed", "input_type")


def reading_out(sighting: Sighting) -> ReadingOut:
    reading = sighting.reading
    return ReadingOut(
        kind=reading.kind,
        unit=reading.unit,
        name=reading.name,
        condition=reading.condition,
        status_text=reading.status_text,
        quantities=reading.quantities(),
        lines=list(sighting.lines),
        **{fact: value for fact in _FACTS if (value := reading.given(fact)) is not None},
    )


def finding_out(finding: Finding) -> FindingOut:
    return FindingOut(
        evidence=[EvidenceOut(capture=e.capture, line=e.line) for e in finding.evidence],
        **{name: getattr(finding, name) for name in FindingOut.model_fields if name != "evidence"},
    )


def _unread(snapshot: Snapshot, capture: Literal["before", "after"] | None = None) -> list[UnreadOut]:
    return [UnreadOut(line=u.number, text=u.text, reason=u.reason, capture=capture) for u in snapshot.unread]


def read_document(snapshot: Snapshot) -> ReadDocument:
    return ReadDocument(
        dialect=snapshot.dialect,
        basis=snapshot.basis,
        readings=[reading_out(s) for s in snapshot.sightings],
        unread=_unread(snapshot),
        dialect_digest=snapshot.dialect_digest,
        taken_as=[
            TakenAsOut(
                table=t.table,
                layout=t.layout,
                columns=dict(t.columns),
                header_lines=list(t.header_lines),
                lines=[t.first_line, t.last_line],
                sure=t.sure,
            )
            for t in snapshot.taken_as
        ]
        if snapshot.taken_as
        else None,
    )


def replay_document(
    judgement: Judgement,
    before: Snapshot | None,
    after: Snapshot,
    digests: Mapping[str, str],
    acceptance: str,
    observed: list[str],
    reseat: str | None,
    observations: Sequence[Observed] = (),
    settling: Settling | None = None,
    seal: str | None = None,
) -> ReplayDocument:
    return ReplayDocument(
        verdict=judgement.verdict,
        unit=judgement.unit,
        dialect=after.dialect,
        acceptance=acceptance,
        observed=observed,
        reseat=reseat,
        findings=[finding_out(f) for f in judgement.findings],
        readings=ReadingsOut(
            before=[reading_out(s) for s in before.sightings] if before else [],
            after=[reading_out(s) for s in after.sightings],
        ),
        unread=[*(_unread(before, "before") if before else []), *_unread(after, "after")],
        digests=dict(digests),
        observations=[
            ObservationOut(unit=o.unit, fact=o.fact, value=o.value, by=o.by or None, at=o.at or None)
            for o in observations
        ],
        settling=[_course(course) for course in settling.courses] if settling else [],
        unrest=(settling.unrest or None) if settling else None,
        seal=seal,
        dialect_digest=after.dialect_digest,
    )


def _course(course: Course) -> CourseOut:
    told = {name: getattr(course, name) for name in CourseOut.model_fields}
    # What may still come is infinite where nothing bounds it, and JSON has no such number.
    return CourseOut(**{k: None if isinstance(v, float) and not isfinite(v) else v for k, v in told.items()})


def as_json(document: BaseModel) -> str:
    """Indented JSON without surprises: non-ASCII and control characters escaped."""
    import json

    return json.dumps(document.model_dump(mode="json", by_alias=True), indent=1, ensure_ascii=True, allow_nan=False)
