"""A job that was done with a drafted dialect: what the draft reads counts once a person has confirmed how it reads.

The confirmation is kept in the job, with the map and a name; it is of that draft and of these texts, and of no other.
"""

import json
from functools import cache
from pathlib import Path

import pytest
from archives import AT, CASES
from test_reading_map import run

from consolecheck.drafting.draft import draft
from consolecheck.files.shelf import read_dialect
from consolecheck.job.folder import Folder, Job
from consolecheck.job.seal import examine, seal

CASE = CASES["sonic/psu-2-replaced"]


@cache
def files_of_draft() -> dict[str, str]:
    return dict(draft(CASE.text("before"), "ours", "before.txt").files)


@pytest.fixture
def job(tmp_path: Path) -> Folder:
    """A sealed job whose dialect is a draft of its own."""
    files = files_of_draft()
    shelf = tmp_path / "shelf" / "ours"
    shelf.mkdir(parents=True)
    for name, text in files.items():
        (shelf / name).write_text(text, encoding="utf-8", newline="\n")
    known = read_dialect(shelf, "ours", "the site")
    assert known.manifest.drafted
    folder = Folder(tmp_path / "job")
    facts = {"unit": CASE.file.unit, "dialect": "ours", "line": "none", "started": AT, "version": "made"}
    folder.create(
        Job.model_validate({**facts, "dialect_digest": known.digest}),
        files,
    )
    for side in ("before", "after"):
        folder.write(f"{side}.txt", CASE.text(side))
    for one in CASE.observed():
        folder.note("observation", AT, unit=one.unit, fact=one.fact, value=one.value, by="the technician")
    # Two texts alone: no samples were taken.
    folder.keep_acceptance((CASE.folder / "acceptance.toml").read_text("utf-8") + "\n[settling]\nrequired = false\n")
    seal(folder, AT, "made")
    return folder


@pytest.fixture
def map_file(job: Folder, tmp_path: Path) -> Path:
    file = tmp_path / "map.toml"
    done = run("read", job.path / "before.txt", "--map", file, "--dialect", "dialect", "--dialects", job.path)
    assert file.exists(), done.stderr
    return file


def replay(job: Folder, *more: object) -> tuple[int, dict[str, object], str]:
    done = run("replay", job.path, "--json", *more)
    return done.returncode, json.loads(done.stdout) if done.stdout else {}, done.stderr


def undecided(document: dict[str, object]) -> list[tuple[str, str]]:
    found = document["findings"]
    assert isinstance(found, list)
    return [(f["rule"], f["message"]) for f in found if f["required"] and f["outcome"] == "undetermined"]


def test_a_draft_alone_leaves_the_job_open_and_says_what_to_do(job: Folder) -> None:
    code, document, _ = replay(job)
    told = "dialect ours is a draft; what was read with it is inferred, and nobody has confirmed how"
    assert (3, [("text.dialect", told)]) == (code, undecided(document))


def test_the_confirmation_is_kept_with_its_name_and_the_job_is_verified_and_sealed_anew(
    job: Folder, map_file: Path
) -> None:
    old = examine(job).digest
    code, document, told = replay(job, "--confirm-map", map_file, "--confirmed-by", "Sanna Vik")
    assert (0, "verified", []) == (code, document["verdict"], undecided(document))
    sealed = examine(job)
    assert "whole" == sealed.state
    assert sealed.digest != old
    assert (
        f"Sanna Vik's confirmation is kept, and the folder is sealed anew; SHA-256 of the seal, for the ticket: {sealed.digest}"
        in told
    )
    (said,) = [e for e in job.journal() if e.facts.get("fact") == "reading_map"]
    assert ("observation", "text", "Sanna Vik") == (said.what, said.facts["unit"], said.facts["by"])
    digest = str(said.facts["value"]).removeprefix("sha256:")
    assert map_file.read_text("utf-8") == job.map_text(digest)
    again, later, _ = replay(job)
    assert (0, document) == (again, later)
    kept = json.loads((job.path / "findings.json").read_text("utf-8"))
    assert ("verified", document["observations"]) == (kept["verdict"], kept["observations"])


def test_a_map_of_another_draft_is_refused_and_nothing_is_changed(job: Folder, map_file: Path) -> None:
    before = {p.name: p.read_bytes() for p in job.path.rglob("*") if p.is_file()}
    other = map_file.with_name("other.toml")
    text = map_file.read_text("utf-8")
    digest = text.split("SHA-256 ")[1][:64]
    other.write_text(text.replace(digest, "0" * 64), encoding="utf-8")
    code, _, told = replay(job, "--confirm-map", other, "--confirmed-by", "Sanna Vik")
    assert (2, True) == (
        code,
        "the reading map is not confirmed, and nothing was changed: before.txt holds a table" in told,
    )
    assert before == {p.name: p.read_bytes() for p in job.path.rglob("*") if p.is_file() and p.name != ".lock"}


def test_a_status_word_that_was_taken_out_of_the_map_is_not_confirmed(job: Folder, map_file: Path) -> None:
    text = map_file.read_text("utf-8")
    assert '"OK" = ["ok"]\n' in text
    map_file.write_text(text.replace('"OK" = ["ok"]\n', ""), encoding="utf-8")
    code, _, told = replay(job, "--confirm-map", map_file, "--confirmed-by", "Sanna Vik")
    assert (2, True) == (code, "was read as ok, and the map does not hold that word there" in told), told


def test_a_map_that_was_changed_in_the_job_later_is_refused(job: Folder, map_file: Path) -> None:
    assert 0 == replay(job, "--confirm-map", map_file, "--confirmed-by", "Sanna Vik")[0]
    (kept,) = job.path.glob("reading-map-*.toml")
    text = kept.read_text("utf-8")
    kept.write_text(text.replace('["ok"]', '["ok", "failed"]'), encoding="utf-8")
    seal(job, AT, "made")
    code, _, told = replay(job)
    assert (4, True) == (code, "is not the one that Sanna Vik confirmed, and nothing was judged" in told), told
    kept.unlink()
    seal(job, AT, "made")
    code, _, told = replay(job)
    assert (4, True) == (code, "the reading map that was confirmed, is not there or is no text" in told), told


def test_a_broken_seal_is_not_healed_by_a_confirmation(job: Folder, map_file: Path) -> None:
    (job.path / "after.txt").write_bytes(CASE.text("after") + b"\n")
    code, _, told = replay(job, "--confirm-map", map_file, "--confirmed-by", "Sanna Vik")
    assert (4, True) == (code, "is not as it was sealed" in told), told
    assert not list(job.path.glob("reading-map-*.toml"))


def test_beside_a_confirmation_nothing_else_is_stated(job: Folder, map_file: Path) -> None:
    code, _, told = replay(job, "--confirm-map", map_file, "--confirmed-by", "S", "--seen", "psu-2.serial=X1")
    assert (2, True) == (code, "a confirmation is kept in the job" in told)
