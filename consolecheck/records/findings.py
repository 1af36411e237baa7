"""What the rules found, and the verdict over it."""

from enum import StrEnum
from typing import Literal, NamedTuple

from pydantic import BaseModel, ConfigDict

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
    """One rule's outcome on one subject. `margin` is positive while there is room to the limit."""

    model_config = ConfigDict(frozen=True)

    rule: str
    subject: str
    outcome: Outcome
    required: bool = True
    measured: Quantity | str | None = None
    limit: Quantity | str | None = None
    limit_source: str | None = None
    margin: Quantity | None = None
    message: str
    hint: str | None = None
    evidence: tuple[Evidence, ...] = ()
    standing: bool = False


class Judgement(NamedTuple):
    """The verdict on one swap with everything that was found on the way."""

    verdict: Verdict
    unit: str
    findings: tuple[Finding, ...]
