"""A job that was done with a drafted dialect: what the draft reads counts once a person has confirmed how it reads.

The confirmation is kept in the job, with the map and a name; it is of that draft and of these texts, and of no other.
"""

import itertools
import json
import os
import shutil
import signal
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer
from archives import AT, CASES, job_of
from test_reading_map import run

from consolecheck.archive.again import judge_again
from consolecheck.cli.shared import dialect_of_job
from consolecheck.cli.wiring import confirm_in_job, limits_of
from consolecheck.drafting.draft import draft
from consolecheck.files.shelf import read_dialect
from consolecheck.job.folder import Folder, FolderFault, Job
from consolecheck.job.held import confirmation_in
from consolecheck.job.seal import examine, seal
from consolecheck.records.findings import Verdict

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


def confirm(folder: Folder, map_file: Path) -> int:
    """The command as it is carried out, without a process of its own."""
    with pytest.raises(typer.Exit) as end, folder.locked():
        confirm_in_job(folder, str(map_file), "Sanna Vik", False, quiet=True)
    return end.value.exit_code


@pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")
def test_killed_at_any_write_the_same_command_goes_on(job: Folder, map_file: Path, tmp_path: Path) -> None:
    killed = 0
    for at in range(1, 100):
        folder = Folder(tmp_path / f"copy-{at}")
        shutil.copytree(job.path, folder.path)
        child = os.fork()
        if child == 0:
            try:
                kill_before_change(at)
                confirm(folder, map_file)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            break
        killed += 1
        halfway = judge_again(folder, limits_of(folder), dialect_of_job(folder)).judgement.verdict
        assert halfway in (Verdict.INCONCLUSIVE, Verdict.VERIFIED)
        assert (halfway is Verdict.VERIFIED) <= (confirmation_in(folder.journal()) is not None)
        assert 0 == confirm(folder, map_file), at
        assert "whole" == examine(folder).state
        for name in ("before.txt", "after.txt"):
            assert (folder.path / name).read_bytes() == (job.path / name).read_bytes()
    assert killed >= 9


def kill_before_change(number: int) -> None:
    """Ends this process by SIGKILL before its so many-th change of the disk."""
    count = itertools.count(1)

    def before(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any) -> Any:
            if next(count) == number:
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*arguments)

        return call

    os.write, os.replace = before(os.write), before(os.replace)


@pytest.mark.parametrize(
    "facts",
    [
        {"value": "sha256:../../../outside", "by": "Sanna Vik"},
        {"value": "sha256:" + "0" * 63 + "/", "by": "Sanna Vik"},
        {"value": "sha256:" + "0" * 64, "by": " "},
        {"by": "Sanna Vik"},
    ],
)
def test_a_confirmation_in_the_journal_that_names_no_map_or_nobody_is_refused(
    job: Folder, facts: dict[str, str]
) -> None:
    job.note("observation", AT, unit="text", fact="reading_map", **facts)
    with pytest.raises(FolderFault, match="without a name or the SHA-256 of its map, and nothing was judged"):
        judge_again(job, limits_of(job), dialect_of_job(job))


def test_a_job_that_no_draft_read_needs_no_map_and_says_so(job: Folder, map_file: Path, tmp_path: Path) -> None:
    plain = job_of(CASE, tmp_path / "plain")
    code, _, told = replay(plain, "--confirm-map", map_file, "--confirmed-by", "Sanna Vik")
    assert (2, True) == (code, "is read by dialect sonic, and a reading map has nothing to say of it" in told), told
    assert "whole" == examine(plain).state
