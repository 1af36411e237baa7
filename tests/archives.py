"""Archives of job folders for the tests, made of the recorded cases."""

import hashlib
import json
from pathlib import Path

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, judged
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.folder import Folder, Job
from consolecheck.job.seal import seal
from consolecheck.reporting.exchange import as_json, replay_document

AT = "2026-11-18T06:51:23Z"
CASES = {f"{case.dialect_name}/{case.name}": case for case in cases_of(shipped("fixtures"))}
SOME = ("wexcombe/psu-2-replaced", "eltex/fan-2-reversed-airflow", "sonic/psu-2-left-empty", "ipmitool/psu-2-replaced")


def job_of(case: Case, path: Path, old: bool = True, sealed: bool = True, **changed: bytes) -> Folder:
    """A case as a job's folder, judged and sealed. `changed` are texts to hold instead, by side."""
    folder = Folder(path)
    facts = {"unit": case.file.unit, "dialect": case.dialect_name, "line": "none", "started": AT, "version": "made"}
    folder.create(Job.model_validate({**facts, "reseat": case.file.reseat}))
    for side in ("before", "after"):
        folder.write(f"{side}.txt", changed.get(side, case.text(side)))
        folder.note("captured", AT, side=side, epoch=1793947883.0)
    for one in case.observed():
        folder.note("observation", AT, unit=one.unit, fact=one.fact, value=one.value, by="the technician")
    if old:
        found = judged(case, dialects())
        document = replay_document(found.judgement, found.before, found.after, {}, "the old limits", [], None)
        folder.write("findings.json", as_json(document).encode())
    if sealed:
        seal(folder, AT, "made")
    return folder


def archive_of(names: tuple[str, ...], root: Path, copies: int = 1) -> Path:
    """Jobs below years and months, some of them copies that differ in nothing but their name."""
    for number in range(copies):
        for name in names:
            job_of(CASES[name], root / f"20{number:02}" / name.replace("/", "-"))
    return root


def digest_of(root: Path) -> str:
    """Of everything in an archive: nothing may write there."""
    found = {
        str(p.relative_to(root)): hashlib.sha256(p.read_bytes()).hexdigest() for p in root.rglob("*") if p.is_file()
    }
    return json.dumps(found, sort_keys=True)
