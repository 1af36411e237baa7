"""Real text of real devices, where it is at hand: read with nothing unread, or refused as unknown.

The recordings are not part of this repository; these tests skip where they are absent.
"""

from pathlib import Path

import pytest

from consolecheck.files.shelf import dialects
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Outcome

RECORDINGS = Path(__file__).resolve().parents[2] / "shared" / "captures"
pytestmark = pytest.mark.skipif(not RECORDINGS.is_dir(), reason="the recordings are not beside this checkout")

KNOWN = {d.name for d in dialects()}
FILES = sorted(p for p in RECORDINGS.glob("*/*.txt")) if RECORDINGS.is_dir() else []


@pytest.mark.parametrize("path", FILES, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_a_recording_is_read_wholly_or_refused(path: Path) -> None:
    name = f"{path.parent.name}/{path.name}"
    family = path.parent.name.removesuffix("-emulated-bmc")
    if family not in KNOWN:
        with pytest.raises(NotRecognised):
            read_text(path.read_bytes(), name, dialects())
        return
    snapshot = read_text(path.read_bytes(), name, dialects())
    assert family == snapshot.dialect
    assert () == snapshot.unread
    assert snapshot.tables
    if "sel" not in path.name:  # an empty event list has no rows
        assert snapshot.sightings


SERIES = RECORDINGS / "ipmitool-emulated-bmc"


def state(name: str) -> bytes:
    """The sensor, parts and extended-list texts of one state, joined as they would be pasted into a ticket."""
    return b"".join((SERIES / f"{name}.{part}.txt").read_bytes() for part in ("sensor", "fru-print", "sdr-elist"))


NO_INPUT = {
    "power.status", "power.input-range", "power.output-range", "power.own-limits", "power.carries-load", "power.redundancy",
}  # fmt: skip
PAIRS = [
    ("healthy", "psu2-replaced-new-serial", "psu-2", None, "inconclusive", set()),
    ("healthy", "psu2-input-restored", "psu-2", None, "inconclusive", set()),
    ("healthy", "psu2-removed", "psu-2", None, "not-verified",
     {"identity.replaced", "power.status", "power.carries-load", "power.redundancy", "temperature.vanished"}),
    ("healthy", "psu2-no-input", "psu-2", None, "not-verified", NO_INPUT),
    ("healthy", "psu2-wrong-airflow-part", "psu-2", None, "not-verified", {"identity.part", "cooling.airflow"}),
    ("healthy", "healthy", "psu-2", None, "not-verified", {"identity.replaced"}),
    ("psu2-no-input", "psu2-input-restored", "psu-2", None, "not-verified", {"identity.replaced"}),
    ("psu2-no-input", "psu2-input-restored", "psu-2", "the cord was out", "verified", set()),
    # The slot was empty in the baseline: which part came out of it is not known from the text.
    ("psu2-removed", "psu2-replaced-new-serial", "psu-2", None, "inconclusive", set()),
    # psu-2 was replaced while the job was for psu-1.
    ("healthy", "psu2-replaced-new-serial", "psu-1", None, "not-verified", {"identity.replaced", "identity.others"}),
    ("healthy", "fan3-rotor-failed", "psu-2", None, "not-verified",
     {"cooling.status", "cooling.own-limits", "cooling.spare", "cooling.baseline"}),
    ("fan3-rotor-failed", "fan3-tray-replaced", "fan-3", None, "verified", set()),
    ("fan3-tray-dead", "fan3-tray-replaced", "fan-3", None, "verified", set()),
    ("fan3-tray-dead", "fan3-tray-dead", "fan-3", None, "not-verified",
     {"identity.replaced", "cooling.status", "cooling.own-limits", "cooling.spare"}),
    ("fan3-tray-dead", "inlet-over-temperature", "fan-3", None, "not-verified", {"temperature.limits", "temperature.status"}),
    ("fan3-tray-dead", "healthy-again", "fan-3", None, "verified", set()),
    # Two units changed between these: a second swap that nobody told of.
    ("healthy", "healthy-again", "psu-2", None, "not-verified", {"identity.others"}),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "unit", "reseat", "verdict", "unmet"), PAIRS)
def test_the_series_is_judged_as_a_careful_engineer_would(
    before: str, after: str, unit: str, reseat: str | None, verdict: str, unmet: set[str]
) -> None:
    judgement = judge(
        read_text(state(before), "before.txt", dialects()),
        read_text(state(after), "after.txt", dialects()),
        unit,
        Acceptance(),
        reseat=reseat,
    )
    assert verdict == judgement.verdict.value
    assert unmet == {f.rule for f in judgement.findings if f.required and f.outcome is Outcome.UNMET}


def test_the_label_of_the_removed_part_settles_an_empty_baseline() -> None:
    from consolecheck.judging.view import Observed

    judgement = judge(
        read_text(state("psu2-removed"), "before.txt", dialects()),
        read_text(state("psu2-replaced-new-serial"), "after.txt", dialects()),
        "psu-2",
        Acceptance(),
        (Observed("psu-2", "removed_serial", "RP650A2207745"),),
    )
    assert judgement.verdict.value == "verified"
