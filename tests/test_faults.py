"""A sample of `benchmarks/faults.py`: one fault in a whole job, taken up again; the command tries every place."""

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked")


@pytest.fixture(scope="module")
def places() -> dict[str, list[int]]:
    import faults

    found = faults.places()
    assert len(found["writes"]) > 300
    assert len(found["data"]) > 40
    assert len(found["acts"]) > 20
    return found


@pytest.mark.parametrize("share", [0.02, 0.4, 0.7, 0.97])
@pytest.mark.parametrize(
    "name", ["kill", "kill-half", "full", "full-half", "line", "reload", "ahead", "back", "second"]
)
def test_a_fault_somewhere_in_a_job_loses_nothing(places: dict[str, list[int]], name: str, share: float) -> None:
    import faults

    where = places[faults.FAULTS[name].where]
    _, end = faults.one((name, where[int(share * len(where))]))
    assert end.wrong == []
    assert end.verdict in faults.FAULTS[name].right
    if name in ("kill", "kill-half", "full", "full-half"):
        assert end.stopped


def test_what_is_lost_is_seen(tmp_path: Path) -> None:
    """The comparison itself: a capture that changed, a line of the journal and a broken seal are each told."""
    import faults

    path = tmp_path / "job"
    faults.run(path, faults.Bench())
    whole = faults.contents(path)
    assert faults.lost(path, whole) == []
    assert any("before.txt" in told for told in faults.lost(path, {**whole, "before.txt": b"other"}))
    longer = whole["journal.jsonl"] + b'{"at": "2026-11-18T06:12:40Z", "what": "ended"}\n'
    assert any("the journal" in told for told in faults.lost(path, {**whole, "journal.jsonl": longer}))
    (path / "after.txt").write_bytes(b"other")
    assert any("the seal is" in told for told in faults.lost(path, {}))


def test_the_table_in_the_documents_has_every_fault_and_none_that_lost_anything() -> None:
    import faults

    told = (Path(__file__).parent.parent / "docs" / "faults.md").read_text(encoding="utf-8")
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in told.splitlines() if line.startswith("| ")
    ]
    assert [row[0] for row in rows[1:]] == [fault.told for fault in faults.FAULTS.values()]
    assert all(int(row[1]) > 20 and row[-1] == "0" for row in rows[1:])
    assert "Only every" not in told
