"""Proofs to be shown: real texts of the cases, watched for a while, and the same with hostile texts everywhere."""

import hashlib
import math
import re
from typing import Any

from support import dialect

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import shipped
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import clearance
from consolecheck.judging.judge import judge
from consolecheck.judging.settling import settling_of
from consolecheck.judging.view import Observed, Sample
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Finding
from consolecheck.records.readings import AnyReading, Sighting, Snapshot
from consolecheck.reporting.proof import Event, Proof

CASES = {f"{case.dialect_name}/{case.name}": case for case in cases_of(shipped("fixtures"))}
AT = "2026-11-18T06:12:41Z"


def of_case(case: Case, **more: Any) -> Proof:
    """Two texts as a ticket holds them, judged."""
    read = dialect(case.dialect_name)
    before, after = (read_text(case.text(side), f"{side}.txt", (read,), read) for side in ("before", "after"))
    limits, observed, reseat = case.acceptance(), case.observed(), case.file.reseat
    samples = more.get("samples", ())
    judgement = judge(before, after, case.file.unit, limits, observed, reseat, samples)
    texts = {side: case.text(side) for side in ("before", "after")}
    digests = {f"{side}.txt": hashlib.sha256(text).hexdigest() for side, text in texts.items()}
    proof = Proof(judgement, before, after, texts, digests, limits, "1.0", observed, reseat)
    return proof._replace(**more)


def watched(case: Case, number: int = 60, every: float = 15.0) -> tuple[Sample, ...]:
    """Samples of the text after the swap, in which the new supply warms up along a curve."""
    read, text = dialect("wexcombe"), case.text("after").decode()
    row = re.compile(r"(?m)^(  psu-2 +)\d+\.\d")
    turning = re.compile(r"(?m)^(  \d  +[ab] +turning +\d+ +)(\d+)")
    samples = []
    for n in range(number):
        value = 36.5 - 14 * math.exp(-n * every / 200)
        raw = row.sub(lambda m, v=value: f"{m[1]}{round(v * 2) / 2:.1f}", text)
        raw = turning.sub(
            lambda m, n=n: f"{m[1]}{int(m[2]) + 30 * (n * 7 % 3 - 1)}", raw
        ).encode()  # no fan stands still
        samples.append(Sample(n * every, read_text(raw, f"samples/{n:04}.txt", (read,), read)))
    return tuple(samples)


def of_job(name: str = "wexcombe/psu-2-replaced", **more: Any) -> Proof:
    """A swap as a job's folder tells it: watched, cleared in spite of something, with a journal and a seal."""
    case = CASES[name]
    read, samples = dialect("wexcombe"), watched(case)
    proof = of_case(case, samples=samples)
    assert proof.before is not None
    ours = {
        "settling": settling_of(samples, Acceptance()),
        "observed": (
            Observed("psu-2", "lamp", "Steady White", "R. Petrel", AT),
            Observed("chassis", "earth", "not-seen"),
        ),
        "family": read.manifest.title,
        "lamps": dict(read.manifest.lamps),
        "job": {"ticket": "TIDE-412", "technician": "R. Petrel", "line": "/dev/ttyUSB0", "started": AT},
        "journal": (
            Event("captured", AT, {"side": "before"}),
            Event("clearance", AT, {"answer": "hold", "against": ["psu-1 is the last leg"]}),
            Event("overridden", AT, {"answer": "hold", "reason": "the tide is out", "by": "R. Petrel"}),
            Event("cautions acknowledged", AT, {"ids": ["static"], "by": "R. Petrel"}),
            Event("sample", AT, {"number": 1}),
            Event("seen", AT, {"kind": "removed", "unit": "psu-2", "message": "psu-2 was taken out"}),
            Event("observation", AT, {"unit": "psu-2", "fact": "lamp", "value": "Steady White", "by": "R. Petrel"}),
            Event("console lost", AT, {"why": "the line went quiet"}),
            Event("done: settle", AT, {"why": "settled"}),
            Event("torn line kept aside", AT, {"name": "earlier-1-journal-torn.txt"}),
        ),
        "clearance": clearance(proof.before, "psu-2", Acceptance()),
        "cautions": {"static": "Wear the strap."},
        "seal": f"the seal of {AT} holds (not signed), SHA-256 {'ab' * 32}",
        "folder": "swap-0412",
    }
    return proof._replace(**{**ours, **more})


def hostile(text: str) -> Proof:
    """A swap in which every text of a device and of a person is the given one."""
    proof = of_job()

    def read(snapshot: Snapshot) -> Snapshot:
        return snapshot._replace(
            source=text,
            hosts={text: 1},
            sightings=tuple(Sighting(_spoilt(s.reading, text), s.row, s.table, s.ended) for s in snapshot.sightings),
        )

    def found(finding: Finding) -> Finding:
        return finding.model_copy(
            update={
                "subject": text,
                "message": text,
                "hint": text,
                "limit_source": text,
                "measured": text,
                "limit": text,
            }
        )

    raw = text.encode("utf-8", "surrogatepass")
    assert proof.before is not None
    assert proof.clearance is not None
    return proof._replace(
        judgement=proof.judgement._replace(unit=f"psu-{text}", findings=tuple(map(found, proof.judgement.findings))),
        before=read(proof.before),
        after=read(proof.after),
        texts={side: b"\n".join([raw, given, raw]) for side, given in proof.texts.items()},
        digests={text: text},
        limits=Acceptance(name=text),
        version=text,
        observed=(Observed(text, "serial", text, text, text),),
        reseat=text,
        samples=tuple(s._replace(snapshot=read(s.snapshot)) for s in proof.samples),
        family=text,
        job=dict.fromkeys(("ticket", "technician", "line", "started"), text),
        journal=(
            *(e._replace(at=text, facts=dict.fromkeys((*e.facts, "ids"), text)) for e in proof.journal),
            Event(text, text, {text: text}),
        ),
        clearance=proof.clearance._replace(unit=text, findings=tuple(map(found, proof.clearance.findings))),
        cautions={"static": text},
        seal=text,
        folder=text,
    )


def _spoilt(reading: AnyReading, text: str) -> AnyReading:
    """The reading with its names and facts replaced; what tells supplies from fans stays."""
    unit = reading.unit and f"{reading.unit}{text}"
    facts = {
        f: text for f in ("name", "status_text", "serial", "part_number", "feed", "description") if reading.given(f)
    }
    return reading.model_copy(update={"unit": unit, **facts})
