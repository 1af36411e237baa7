"""A case: two captured texts, what a person claims of them, and what the reader made of them last time."""

import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from consolecheck.judging.acceptance import Acceptance, load_acceptance
from consolecheck.judging.rules import ESSENTIAL, IDS
from consolecheck.judging.view import Observed, parse_observed
from consolecheck.records.findings import Verdict
from consolecheck.records.readings import Condition


class CaseFault(ValueError):
    """A case cannot be used: which file and why."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Claims(_Part):
    """What a careful engineer says of the case, written by hand; no tool rewrites it.

    Lists left out are not claimed; `unread` are line numbers, and by default nothing may be unread.
    """

    verdict: Verdict
    units: dict[str, Condition] = {}
    unmet: list[str] | None = None
    undetermined: list[str] | None = None
    unread_before: list[int] = []
    unread_after: list[int] = []


class CaseFile(_Part):
    """The validated form of a `case.toml`."""

    title: str
    unit: str
    made: str
    claims: Claims
    demo: str | None = None
    dialect: str | None = None
    observed: list[str] = []
    reseat: str | None = None
    acceptance: Literal["acceptance.toml"] | None = None


class Case:
    """A fixture folder, read on demand."""

    def __init__(self, folder: Path, dialect: str | None = None) -> None:
        """`dialect` is whose case it is; without it the folder lies where the shipped ones do, and tells."""
        self.folder = folder
        self.dialect_name = dialect or folder.parent.name
        self.name = folder.name
        self.place = f"fixtures/{self.dialect_name}/{self.name}" if dialect is None else str(folder)
        try:
            self.file = CaseFile.model_validate(tomllib.loads((folder / "case.toml").read_text(encoding="utf-8")))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as reason:
            raise CaseFault(f"{self.place}/case.toml: {reason}") from None
        except ValidationError as refused:
            first = refused.errors(include_url=False)[0]
            key = ".".join(str(p) for p in first["loc"])
            raise CaseFault(f"{self.place}/case.toml: {key}: {first['msg']}") from None

    def text(self, side: Literal["before", "after"]) -> bytes:
        return (self.folder / f"{side}.txt").read_bytes()

    def acceptance(self) -> Acceptance:
        if self.file.acceptance is None:
            return Acceptance()
        text = (self.folder / self.file.acceptance).read_text(encoding="utf-8")
        return load_acceptance(text, f"{self.place}/{self.file.acceptance}", IDS, ESSENTIAL)

    def observed(self) -> tuple[Observed, ...]:
        return tuple(parse_observed(text) for text in self.file.observed)
