"""What the rules found, and the verdict over it."""

from enum import StrEnum
from typing import Annotated, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, SkipValidation

from consolecheck.records.units import Quantity


class Outcome(StrEnum):
    """A rule's answer on one subject, in three values."""

    MET = "met"
    UNMET = "unmet"
    UNDETERMINED = "undetermined"


class Verdict(StrEnum):
    """The answer over all required rules."""

    VERIFIED = "verified"
    NOT_VERIFIED = "not-verified"
    INCONCLUSIVE = "inconclusive"


class Evidence(NamedTuple):
    """A line of one of the two captured texts, and the columns in it that decided, if known."""

    capture: Literal["before", "after"]
    line: int
    start: int | None = None
    end: int | None = None


class Finding(BaseModel):
    """One rule's outcome on one subject. `margin` is positive while there is room to the limit.

    Only the judge makes findings, by the hundred and out of validated values, so those are not
    validated once more.
    """

    model_config = ConfigDict(frozen=True)

    rule: str
    subject: str
    outcome: Outcome
    required: bool = True
    measured: Annotated[Quantity | str | None, SkipValidation] = None
    limit: Annotated[Quantity | str | None, SkipValidation] = None
    limit_source: str | None = None
    margin: Annotated[Quantity | None, SkipValidation] = None
    message: str
    hint: str | None = None
    evidence: Annotated[tuple[Evidence, ...], SkipValidation] = ()
    standing: bool = False
    doubt: str | None = None
    """Why a `met` became undetermined: the text that it rests on was not wholly read."""


class Judgement(NamedTuple):
    """The verdict on one swap with everything that was found on the way."""

    verdict: Verdict
    unit: str
    findings: tuple[Finding, ...]
