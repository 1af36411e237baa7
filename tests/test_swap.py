"""`swap` as it is typed: unattended, at a terminal, several units; what it is given wrong, and how each ends."""

import hashlib
import io
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pyte
import pytest
from test_conduct import GOOD_ANSWERS, GUARDED, HEAVY, QUICK, SEATED_AGAIN, WEXCOMBE, Act, Site
from test_live import run, switch

from consolecheck.cli import main, wiring
from consolecheck.cli.console import opener
from consolecheck.cli.person import FromFile
from consolecheck.cli.shared import Stop
from consolecheck.job.cautions import (
    DC_DEAD,
    DC_EARTH,
    DC_LEADS,
    DC_PERSONS,
    DC_POLARITY,
    HOT,
    LOCAL,
    OPTICS,
    ORDER,
    SEVERAL_SUPPLIES,
    STATIC,
)
from consolecheck.job.folder import Folder, Job
from consolecheck.job.steps import next_step
from consolecheck.judging.settling import Course, Settling
from consolecheck.records.watching import Notice
from consolecheck.rehearsal.faults import GOOD, SMALL, Scenario, fitted, pulled, scenario
from consolecheck.rehearsal.faults import Step as Deed
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.site import Part
from consolecheck.rehearsal.tables import TABLES
from consolecheck.reporting.clearing import show_cautions
from consolecheck.reporting.settling import SettlingShown, settling_line

posix = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo terminals or POSIX signals")
OTHER = Part("WXS-31903", "WXP-600F", "f>b", 600)


def answers(path: Path, given: Mapping[str, str] = GOOD_ANSWERS, head: str = 'cautions = "acknowledged"') -> Path:
    told = "".join(f'"{key}" = "{value}"\n' for key, value in given.items())
    path.write_text(f'by = "R. Petrel"\n{head}\n[answers]\n{told}', encoding="utf-8")
    return path


def at_once(folder: Path) -> Path:
    limits = folder / "no-settling.toml"
    limits.write_text("[settling]\nrequired = false\n", encoding="utf-8")
    return limits


def journal(job: Path) -> str:
    path = job / "journal.jsonl"
    return path.read_text(encoding="utf-8") if path.exists() else ""


def until(what: Callable[[], bool], seconds: float = 30) -> None:
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.02)


def swapped(chassis: Chassis, part: Part = GOOD) -> None:
    """The part goes in, and has started when the next look comes."""
    with chassis.lock:
        chassis.insert("psu-2", part)
        chassis.advance(5)


@contextmanager
def hands(job: Path, chassis: Chassis, out: float = 1.5) -> Iterator[None]:
    """Somebody who pulls the unit once the cautions are read, and fits the new one."""

    def work() -> None:
        until(lambda: '"sample"' in journal(job))
        with chassis.lock:
            chassis.pull("psu-2")
        time.sleep(out)
        swapped(chassis)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        yield
    finally:
        thread.join(30)


def command(job: Path, line: str, *more: str | Path) -> list[str]:
    told = ["swap", job, "--console", line, "--dialect", "wexcombe", "--unit", "psu-2", *more]
    return [str(word) for word in told]


def digests(job: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in job.rglob("*") if p.is_file()}


# As a process of its own, on a loopback port.


def test_an_unattended_swap_from_its_baseline_to_a_seal_that_breaks_with_one_byte(tmp_path: Path) -> None:
    job = tmp_path / "swap-0412"
    with switch() as (line, chassis, _):
        typed = command(job, line, "--answers", answers(tmp_path / "a.toml"), "--acceptance", at_once(tmp_path))
        with hands(job, chassis):
            done = run(*typed)
        assert (0, True) == (done.returncode, b"\nVERIFIED: psu-2" in done.stdout), done.stderr
        assert b"psu-2: VERIFIED. Sealed in" in done.stderr
        assert b"CLEARANCE GO: psu-2 may be pulled" in done.stdout
        assert b"removed: psu-2 was taken out" in done.stdout
        assert b"  psu-2.serial: WXS-31902\n" in done.stdout
        before = digests(job)
        again = run(*typed)
        assert (0, True) == (again.returncode, b"was sealed at" in again.stderr)
    assert before == digests(job)
    assert 0 == run("replay", job).returncode
    sample = job / "samples" / "0001.txt"
    sample.write_bytes(sample.read_bytes().replace(b"21.0", b"21.5", 1))
    for broken in (run("replay", job), run(*typed)):
        assert (4, True) == (broken.returncode, b"samples/0001.txt changed" in broken.stderr)
        assert b"VERIFIED" not in broken.stdout


@posix
def test_a_swap_that_is_killed_goes_on_with_the_same_command_and_nobody_works_beside_it(tmp_path: Path) -> None:
    job = tmp_path / "job"
    with switch() as (line, chassis, _):
        typed = command(job, line, "--answers", answers(tmp_path / "a.toml"), "--acceptance", at_once(tmp_path))
        first = subprocess.Popen(
            [sys.executable, "-m", "consolecheck", *typed], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until(lambda: '"sample"' in journal(job))
        second = run(*typed)
        assert (4, True) == (second.returncode, b"another consolecheck is at work" in second.stderr)
        with chassis.lock:
            chassis.pull("psu-2")
        until(lambda: '"removed"' in journal(job))
        kept = {name: digest for name, digest in digests(job).items() if name.endswith("0001.txt")}
        first.send_signal(signal.SIGKILL)
        first.wait(30)
        swapped(chassis)
        done = run(*typed)
        assert (0, True) == (done.returncode, b"VERIFIED: psu-2" in done.stdout), done.stderr
        assert b"5/10" in done.stdout
        assert b"4/10" not in done.stdout
    assert kept.items() <= digests(job).items()
    assert (1, 1) == (journal(job).count('"kind": "removed"'), journal(job).count('"kind": "inserted"'))
    assert len(GOOD_ANSWERS) == journal(job).count('"observation"')


def test_without_a_terminal_and_without_answers_nothing_is_begun(tmp_path: Path) -> None:
    done = run(*command(tmp_path / "job", "socket://127.0.0.1:9"))
    assert (2, True) == (done.returncode, b"--answers FILE" in done.stderr)
    assert not (tmp_path / "job").exists()


@posix
@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_is_refused_with_a_sentence(tmp_path: Path) -> None:
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    done = run(*command(locked / "job", "socket://127.0.0.1:9", "--answers", answers(tmp_path / "a.toml")))
    assert (4, True) == (done.returncode, b"name a folder that you may write to" in done.stderr)


def test_a_folder_that_cannot_be_made_is_refused_with_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "a-file").write_text("no folder")
    typed = command(tmp_path / "a-file" / "job", "socket://127.0.0.1:9", "--answers", answers(tmp_path / "a.toml"))
    done = run(*typed)
    assert (4, True) == (done.returncode, b"name a folder that you may write to" in done.stderr)


# In this process, where an hour takes a second.


class Ended(NamedTuple):
    """How a command ended, and what it said."""

    code: int
    out: str
    err: str


class Bench:
    """The command line over a switch in this process."""

    def __init__(self, site: Site, patch: pytest.MonkeyPatch, capture: pytest.CaptureFixture[str]) -> None:
        self.site, self._patch, self._capture = site, patch, capture
        self.played: list[Scenario] = [site.played]
        """What is done with hands, each from when a watch begins that did not begin before."""
        patch.setattr(wiring, "opener", lambda folder, dialect, job: site.console)
        patch.setattr(wiring, "LaptopClock", lambda: site.clock)
        site.lost = self._begins

    def _begins(self, name: str, act: Act) -> None:
        if name == "out" and act == "open" and self.played:
            self.site.played = self.played.pop(0)
            self.site.play()

    def __call__(self, *arguments: str | Path) -> Ended:
        self._patch.setattr(sys, "argv", ["consolecheck", *map(str, arguments)])
        with pytest.raises(SystemExit) as end:
            main.run()
        said = self._capture.readouterr()
        assert "a fault in consolecheck itself" not in said.err
        return Ended(int(str(end.value.code)), said.out, said.err)

    def swap(self, job: Path, *more: str | Path, units: tuple[str, ...] = ("psu-2",)) -> Ended:
        named = [word for unit in units for word in ("--unit", unit)]
        return self("swap", job, "--console", "/dev/ttyS9", "--dialect", "wexcombe", *named, *more)


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Callable[..., Bench]:
    def made(played: Scenario | str = "none", **more: object) -> Bench:
        site = Site(tmp_path / "unused", played, configuration=more.pop("configuration", QUICK), **more)  # type: ignore[arg-type]
        return Bench(site, monkeypatch, capsys)

    return made


Benches = Callable[..., Bench]


@pytest.mark.parametrize(
    ("played", "code", "word"),
    [("none", 0, "VERIFIED"), ("dead-replacement", 1, "NOT VERIFIED"), ("left-empty", 4, "")],
)
def test_how_a_swap_ends(tmp_path: Path, bench: Benches, played: str, code: int, word: str) -> None:
    job = tmp_path / "job"
    at = bench(played)
    if played == "left-empty":  # the technician gives up
        at.site.lost = lambda name, act: _interrupt() if at.site.clock.seconds() > 300 else at._begins(name, act)
    done = at.swap(job, "--answers", answers(tmp_path / "a.toml"))
    assert code == done.code, done.err
    if word:
        assert f"\npsu-2: {word}. Sealed in {job}" in done.err
        assert ("consolecheck verify" in done.err) == (code != 0)
    else:
        assert "start the same command again to go on, or with `consolecheck verify" in done.err


def _interrupt() -> None:
    raise KeyboardInterrupt


def test_what_is_put_right_after_a_verdict_is_verified_again(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("no-input")
    assert 1 == at.swap(job, "--answers", answers(tmp_path / "a.toml")).code
    at.site.chassis.cord("psu-2", True)
    done = at("verify", job)
    assert (0, True) == (done.code, "VERIFIED: psu-2" in done.out), done.err
    assert (0, 0) == (at("replay", job).code, at("replay", job / ".." / "job").code)
    assert (job / "earlier-1-seal.json").exists()
    assert "done" == next_step(Folder(job).journal())


def test_a_verify_that_is_interrupted_is_gone_on_with_by_swap(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("no-input")
    typed = ("--answers", answers(tmp_path / "a.toml"))
    assert 1 == at.swap(job, *typed).code
    at.site.chassis.cord("psu-2", True)
    at.site.lost = lambda name, act: _interrupt() if act == "idle" else None
    assert 4 == at("verify", job).code
    at.site.lost = lambda name, act: None
    assert "settle" == next_step(Folder(job).journal())
    done = at.swap(job, *typed)
    assert (0, True) == (done.code, "7/10" in done.out)


def test_watching_a_sealed_job_opens_its_seal_first(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("none")
    assert 0 == at.swap(job, "--answers", answers(tmp_path / "a.toml")).code
    assert 0 == at("attend", job).code
    assert not (job / "seal.json").exists()
    assert "not sealed" in at("replay", job).err


def test_other_limits_on_a_sealed_job_change_nothing_of_it(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("none")
    typed = ("--answers", answers(tmp_path / "a.toml"))
    assert 0 == at.swap(job, *typed).code
    before = digests(job)
    assert 0 == at.swap(job, *typed, "--acceptance", at_once(tmp_path), "--technician", "A. Tern").code
    assert before == digests(job)


def test_a_hold_ends_as_not_verified_and_an_override_goes_on(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    heavy = replace(QUICK, load=HEAVY.load)
    at = bench("none", configuration=heavy)
    typed = ("--answers", answers(tmp_path / "a.toml"))
    held = at.swap(job, *typed)
    assert (1, True) == (held.code, "CLEARANCE HOLD: psu-2 must stay in" in held.out)
    assert "leave psu-2 in place" in held.err
    at.swap(job, *typed, "--override", "the rack is drained")
    assert "the rack is drained" in journal(job)
    assert "done: judge" in journal(job)


def test_cautions_that_nobody_acknowledged_stop_the_job_and_are_shown_first(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("none")
    stopped = at.swap(job, "--answers", answers(tmp_path / "a.toml", head=""))
    assert (2, True) == (stopped.code, 'write cautions = "acknowledged"' in stopped.err)
    assert "cautions" == next_step(Folder(job).journal())
    done = at.swap(job, "--answers", answers(tmp_path / "a.toml"))
    assert (0, True) == (done.code, "Wear a wrist strap" in done.out)


def test_a_reseat_with_its_reason(tmp_path: Path, bench: Benches) -> None:
    at = bench(SEATED_AGAIN)
    done = at.swap(tmp_path / "job", "--answers", answers(tmp_path / "a.toml"), "--reseat", "it rattled")
    assert (0, True) == (done.code, "as stated: it rattled" in done.out), done.err
    assert "2/10" not in done.out
    assert "seat the same part again" in done.out


def test_the_chassis_of_a_job_that_is_cleared_is_not_told_anew(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("none")
    typed = ("--answers", answers(tmp_path / "a.toml"))
    wrong = at.swap(job, *typed, "--chassis", "WXC-0041901")
    assert (1, True) == (wrong.code, "WXC-0041901" in wrong.out)
    at.site.lost = lambda name, act: _interrupt() if name == "out" else None
    assert 4 == at.swap(job, *typed, "--chassis", "WXC-0041877").code  # before it is cleared it may be put right
    late = at.swap(job, *typed, "--chassis", "WXC-0041901")
    assert (2, True) == (late.code, "was cleared already, for WXC-0041877" in late.err)


# Several units.

BOTH = {**GOOD_ANSWERS, **{k.replace("psu-2", "psu-1"): v for k, v in GOOD_ANSWERS.items() if k.startswith("psu-2")}}
BOTH["psu-1.serial"] = OTHER.serial
FIRST = Scenario("first", "", "psu-1", (Deed(5, pulled("psu-1")), Deed(20, fitted("psu-1", OTHER))))
SECOND = Scenario("second", "", "psu-2", (Deed(5, pulled("psu-2")), Deed(20, fitted("psu-2", GOOD))))
PAIR = ("psu-1", "psu-2")


def test_two_units_in_one_job_one_after_the_other(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench(FIRST)
    at.played.append(SECOND)
    typed = ("--answers", answers(tmp_path / "a.toml", BOTH), "--ticket", "CHG-0412")
    done = at.swap(job, *typed, units=PAIR)
    assert 0 == done.code, done.err
    assert "psu-1 is done; next comes psu-2." in done.err
    assert "nobody asked" not in done.err
    first, second = (Folder(job / unit) for unit in PAIR)
    assert ["CHG-0412"] * 2 == [first.job().ticket, second.job().ticket]
    assert "done: judge" in journal(job / "psu-1")
    assert 2 == done.out.count("chassis.earth: connected")  # looked at again, each time
    assert 1 == done.out.count("chassis.cold_aisle: port-side")  # a rack is not turned
    assert '"cold_aisle", "value": "port-side"' in journal(job / "psu-2")
    assert first.journal()[-1].at <= second.journal()[0].at  # one at a time
    replayed = at("replay", job)
    assert (0, 2) == (replayed.code, replayed.err.count("the seal"))
    again = at("swap", job, "--answers", answers(tmp_path / "a.toml", BOTH))
    assert (0, 1) == (again.code, again.out.count("VERIFIED:"))


def test_the_second_unit_waits_until_the_first_is_verified(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    cordless = replace(OTHER, input=False)
    bad = Scenario("bad", "", "psu-1", (Deed(5, pulled("psu-1")), Deed(20, fitted("psu-1", cordless))))
    at = bench(bad)
    at.played.append(SECOND)
    typed = ("--answers", answers(tmp_path / "a.toml", BOTH))
    assert 1 == at.swap(job, *typed, units=PAIR).code
    assert not (job / "psu-2").exists()
    still = at("swap", job, *typed)
    assert (1, True) == (still.code, f"consolecheck verify {job / 'psu-1'}" in still.err)
    assert not (job / "psu-2").exists()
    at.site.chassis.cord("psu-1", True)
    assert 0 == at("verify", job / "psu-1").code
    done = at("swap", job, *typed)  # all else is known from the first
    assert (0, ["psu-1", "psu-2"]) == (done.code, sorted(p.name for p in job.iterdir() if p.is_dir())), done.err


def test_a_job_for_several_units_is_for_these_in_this_order(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench(FIRST)
    at.site.lost = lambda name, act: _interrupt() if name == "out" else None
    typed = ("--answers", answers(tmp_path / "a.toml", BOTH))
    assert 4 == at.swap(job, *typed, units=PAIR).code
    before = digests(job)
    for units in (("psu-2", "psu-1"), ("psu-1",), ("psu-1", "fan-2")):
        refused = at.swap(job, *typed, units=units)
        assert (2, True) == (refused.code, "is a job for psu-1, then psu-2, not for" in refused.err)
    assert (2, True) == ((twice := at.swap(job, *typed, units=("psu-1", "PSU-1"))).code, "named twice" in twice.err)
    for name in ("verify", "attend"):
        refused = at(name, job)
        assert (2, True) == (refused.code, f"name one of them: {job / 'psu-1'}, {job / 'psu-2'}" in refused.err)
    assert before == digests(job)


def test_a_job_for_one_unit_is_for_no_other(tmp_path: Path, bench: Benches) -> None:
    job = tmp_path / "job"
    at = bench("none")
    at.site.lost = lambda name, act: _interrupt() if name == "out" else None
    typed = ("--answers", answers(tmp_path / "a.toml"))
    assert 4 == at.swap(job, *typed).code
    for units in (("psu-1",), PAIR):
        refused = at.swap(job, *typed, units=units)
        assert (2, True) == (refused.code, "is a job for psu-2, not for psu-1" in refused.err)


def test_a_part_that_is_too_small_stays_in_its_box(tmp_path: Path, bench: Benches) -> None:
    label = {**GOOD_ANSWERS, "psu-2.serial": SMALL.serial, "psu-2.part": SMALL.part_number}
    held = bench("too-small").swap(tmp_path / "job", "--answers", answers(tmp_path / "a.toml", label))
    assert (1, True) == (held.code, "the new part is WXP-300F, but psu-2 is WXP-600F" in held.out)


# `baseline` and `verify` on their own.


def test_a_baseline_that_was_not_wholly_read_is_taken_again_by_the_same_command(
    tmp_path: Path, bench: Benches, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = bench("none")
    typed = ("baseline", tmp_path / "job", "--console", "/dev/ttyS9", "--dialect", "wexcombe", "--unit", "psu-2")
    newer = dict(TABLES)
    newer["power"] = lambda chassis: [*(rows := TABLES["power"](chassis))[:-1], "  a line of another release", rows[-1]]
    with monkeypatch.context() as patched:
        patched.setattr("consolecheck.rehearsal.shell.TABLES", newer)
        unread = at(*typed)
    assert (3, True) == (unread.code, "leave psu-2 in place, and give the same command again" in unread.err)
    assert 0 == at(*typed).code
    done = at.swap(tmp_path / "job", "--answers", answers(tmp_path / "a.toml"))
    assert (0, False) == (done.code, "1/10" in done.out)  # what `baseline` did is not done again
    assert 4 == at(*typed).code


@pytest.mark.parametrize(("allowed", "code"), [("false", 3), ("true", 0)])
def test_a_swap_that_nobody_captured_before(tmp_path: Path, bench: Benches, allowed: str, code: int) -> None:
    at = bench("none")
    scenario("none").perform(at.site.chassis)
    limits = tmp_path / "limits.toml"
    limits.write_text(f"[job]\nwithout_baseline = {allowed}\n", encoding="utf-8")
    line = ("--console", "/dev/ttyS9", "--dialect", "wexcombe", "--unit", "psu-2")
    told = ("--seen", f"psu-2.serial={GOOD.serial}", "--acceptance", limits)
    done = at("verify", tmp_path / "job", *line, *told)
    assert (code, True) == (done.code, "there is no baseline" in done.err.lower()), done.out
    assert code == at("replay", tmp_path / "job").code


# What is given wrong.


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (("--dialect", "wexcomb"), "did you mean `wexcombe`?"),
        (("--console", "carrier-pigeon"), "carrier-pigeon"),
        (("--sign", "no-such-key"), "there is no key no-such-key"),
    ],
)
def test_a_command_that_is_wrong_makes_nothing(
    tmp_path: Path, bench: Benches, wrong: tuple[str, str], told: str
) -> None:
    refused = bench("none").swap(tmp_path / "job", "--answers", answers(tmp_path / "a.toml"), *wrong)
    assert (2, True) == (refused.code, told in refused.err), refused.err
    assert not (tmp_path / "job").exists()


def test_a_job_that_is_not_there_is_not_made_for_a_mistyped_name(tmp_path: Path, bench: Benches) -> None:
    at = bench("none")
    refused = at("swap", tmp_path / "jbo", "--answers", answers(tmp_path / "a.toml"))
    assert (2, True) == (refused.code, "there is no job in" in refused.err)
    assert not (tmp_path / "jbo").exists()


def test_a_wrong_unit_is_told_with_those_there_are(tmp_path: Path, bench: Benches) -> None:
    refused = bench("none").swap(tmp_path / "job", "--answers", answers(tmp_path / "a.toml"), units=("psu-22",))
    assert (2, True) == (refused.code, "it shows fan-1, fan-2, fan-3, psu-1, psu-2" in refused.err)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('answer = "x"', "did you mean `answers`?"),
        ('caution = "acknowledged"', "did you mean `cautions`?"),
        ('cautions = "read"', 'cautions can only be "acknowledged"'),
        ("cautions = true", "`cautions` must be a text in quotes"),
        ("answers = 3", "answers must be a table"),
        ('[answers]\n"psu-2.serail" = "WXS-1"', "did you mean `serial`?"),
        ('[answers]\nserial = "WXS-1"', "`serial` is not UNIT.FACT"),
        ('[answers]\n"psu-2.airflow" = "front-to-bakc"', "did you mean `front-to-back`?"),
        ('[answers]\n"chassis.earth" = "yes"', "known are: connected, loose, not-seen"),
        ('[answers]\n"psu-2.serial" = 31902', "must be a text in quotes"),
        ("[answers", "is not TOML"),
    ],
)
def test_a_file_of_answers_with_a_typo_is_refused_before_anything_is_done(text: str, told: str) -> None:
    with pytest.raises(Stop, match=re.escape(told)) as refused:
        FromFile(text, "answers.toml", None, None)
    assert (2, True) == (refused.value.code, str(refused.value).startswith("answers.toml"))


def test_an_answer_that_nobody_asked_for_is_told_once_the_job_is_done(tmp_path: Path, bench: Benches) -> None:
    at = bench("none")
    typed = ("--answers", answers(tmp_path / "a.toml", {**GOOD_ANSWERS, "psu-22.lamp": "dark"}))
    done = at.swap(tmp_path / "job", *typed)
    assert (0, True) == (done.code, "nobody asked for psu-22.lamp" in done.err)
    assert "nobody asked for psu-22.lamp\n" in at.swap(tmp_path / "job", *typed).err  # those of the first run count


# What is shown.


def course(name: str, state: str, why: str, end: float | None = None, wait: float | None = None) -> Course:
    return Course(None, name, state, 30.0, end, 1.0, 1.0, 100.0, 9, 120.0, why, wait)  # type: ignore[arg-type]


STILL = course("outlet", "settled", "steady over 120 s", 33.0)
MOVING = course("psu-2", "moving", "60% of its change seen (time constant about 260 s)", 36.3, 290.0)


def test_the_line_of_settling_tells_first_what_matters_most() -> None:
    told = settling_line(Settling((STILL, MOVING)), 241.3, 2700)
    assert (
        "settling 241 s, about 5 min more: 1 of 2 sensors settled; psu-2 ends at about 36.3 °C "
        "(60% of its change seen (time constant about 260 s)); 2700 s at most"
    ) == told
    assert "settling 9 s: no sample counts yet" == settling_line(Settling(()), 9, 2700)
    assert "psu-2 is no-input; see to it" in settling_line(Settling((MOVING,)), 9, 2700, "psu-2 is no-input")
    assert "the fans still change" in settling_line(Settling((STILL,), "the fans still change"), 9, 2700)


def test_at_a_terminal_one_line_of_settling_stands_below_what_happened() -> None:
    screen, stream = pyte.Screen(80, 24), io.StringIO()
    shown = SettlingShown(stream, True, 80)
    told = Notice(1.0, "unit", "psu-1", f"psu-1 {'has failed ' * 9}", True)
    for seconds in (1, 16, 31):
        shown.show(Settling((STILL, MOVING)), seconds, 2700, (told,) if seconds == 16 else (), "06:14:01")
    pyte.Stream(screen).feed(stream.getvalue().replace("\n", "\r\n"))
    rows = [row.rstrip() for row in screen.display if row.strip()]
    assert ["06:14:01 ! psu-1 has failed", "           failed has failed"] == [row[:28].rstrip() for row in rows[:2]]
    assert (3, True, 79) == (len(rows), rows[2].startswith("settling 31 s"), len(rows[2]))
    assert 1 == stream.getvalue().count("\a")
    shown.end()
    screen.reset()
    pyte.Stream(screen).feed(stream.getvalue().replace("\n", "\r\n"))
    assert not any("settling" in row for row in screen.display)


def test_in_a_pipe_settling_is_a_line_a_minute_and_every_notice() -> None:
    stream = io.StringIO()
    shown = SettlingShown(stream, False, 80)
    told = Notice(1.0, "unit", "psu-1", "psu-1 has failed", True)
    for seconds in range(0, 180, 15):
        shown.show(Settling((STILL, MOVING)), seconds, 2700, (told,) if seconds == 30 else (), "06:14:01")
    lines = stream.getvalue().splitlines()
    assert ["settling 0 s", "06:14:01 uni", "settling 60 s", "settling 120"] == [
        line[:13].rstrip(",")[: 12 + (line[9] == "6")] for line in lines
    ]
    assert "\a" not in stream.getvalue()


class _Wide:
    """A screen of a terminal's width, kept as lines."""

    width, is_terminal = 80, True

    def __init__(self) -> None:
        self.lines: list[str] = []

    def line(self, *pieces: tuple[str, str]) -> None:
        self.lines.append("".join(text for text, _ in pieces))


def test_cautions_come_a_screen_at_a_time_and_none_is_left_out() -> None:
    """With direct current there are more than fit on one, and the first ones matter most."""
    screen, pages = _Wide(), []
    told = [DC_PERSONS, DC_DEAD, DC_EARTH, DC_POLARITY, DC_LEADS, STATIC, ORDER, SEVERAL_SUPPLIES, HOT, OPTICS, LOCAL]
    show_cautions(screen, told, 21, lambda: pages.append(len(screen.lines)))  # type: ignore[arg-type]
    assert 1 <= len(pages)
    for begin, end in pairwise((0, *pages, len(screen.lines))):
        assert end - begin <= 21
    assert max(len(line) for line in screen.lines) <= 80
    said = " ".join(" ".join(screen.lines).split())
    assert all(" ".join(caution.text.split()) in said for caution in told)
    assert all(line.startswith(("  - ", "    ")) for line in screen.lines)


# The seal, signed.


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="needs ssh-keygen")
def test_a_signed_seal_names_its_signer(tmp_path: Path, bench: Benches) -> None:
    key, job = tmp_path / "key", tmp_path / "job"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", key], check=True)
    kind, public = key.with_suffix(".pub").read_text(encoding="utf-8").split()[:2]
    signers = tmp_path / "signers"
    signers.write_text(f"petrel@observatory {kind} {public}\n", encoding="utf-8")
    at = bench("none")
    typed = ("--answers", answers(tmp_path / "a.toml"))
    assert 0 == at.swap(job, *typed).code
    unsigned = at("replay", job, "--signers", signers)
    assert (4, True) == (unsigned.code, "not signed" in unsigned.err)
    assert 0 == at.swap(job, *typed, "--sign", key).code  # the seal stays, and is signed now
    signed = at("replay", job, "--signers", signers)
    assert (0, True) == (signed.code, "signed by petrel@observatory" in signed.err)
    again = tmp_path / "again"
    at.played.append(Scenario("again", "", "psu-2", (Deed(5, pulled("psu-2")), Deed(20, fitted("psu-2", OTHER)))))
    label = answers(tmp_path / "b.toml", {**GOOD_ANSWERS, "psu-2.serial": OTHER.serial})
    assert 0 == at.swap(again, "--answers", label, "--sign", key).code
    assert 0 == at("replay", again, "--signers", signers).code


# The real console, left as it was found.


@pytest.mark.parametrize("ends", [None, KeyboardInterrupt, GeneratorExit])
def test_a_session_that_was_logged_in_is_logged_out_however_it_ends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ends: type[BaseException] | None
) -> None:
    monkeypatch.setenv("CONSOLECHECK_PASSWORD", GUARDED.word)
    with switch(GUARDED) as (line, _, shell):
        job = Job(unit="psu-2", dialect="wexcombe", line=line, user="keeper", started="", version="0")
        folder = Folder(tmp_path / "job")
        folder.create(job)
        opened = opener(folder, WEXCOMBE, job)
        try:
            with opened("out") as talk:
                talk.capture(["tell power"])
                assert "user" == shell.mode
                if ends is not None:
                    raise ends
        except (KeyboardInterrupt, GeneratorExit):
            pass
        until(lambda: shell.mode == "name", 5)


def test_within_an_answer_nothing_is_typed_by_who_is_interrupted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pager would take it for its key, and what is left of it for a command."""
    monkeypatch.setenv("CONSOLECHECK_PASSWORD", GUARDED.word)
    with switch(GUARDED) as (line, _, shell):
        job = Job(unit="psu-2", dialect="wexcombe", line=line, user="keeper", started="", version="0")
        folder = Folder(tmp_path / "job")
        folder.create(job)
        with pytest.raises(KeyboardInterrupt), opener(folder, WEXCOMBE, job)("out") as talk:
            talk.capture(["tell power"], lambda progress: _interrupt())
        time.sleep(0.3)
        assert shell.typed["user"].endswith(b"tell power\r")


# At a terminal of 80 columns and 24 lines.

ASKED = {
    "Which serial number": ("WXS-31902", "", True),
    "Which part number": ("", "WXP-600F", True),
    "Which input": ("a", "AC", False),
    "Which airflow": ("f", "front-to-back", False),
    "Is it damaged?": ("o", "none", False),
    "Is all there": ("c", "complete", False),
    "Press Enter when you have read them": ("\r", "", False),
    "earth lead": ("c", "connected", False),
    "cold aisle?": ("p", "port-side", False),
    "What does the lamp of psu-2": ("1", "steady white", False),
    "status lamp at the front": ("1", "steady white", False),
    "Port 7 has 4 link lamps": ("l", "lit", False),
    "Port 8 has 4 link lamps": ("l", "lit", False),
}
"""Part of what is asked -> what is typed, what is told of it, and whether it is a line or a key without Enter."""


class Terminal:
    """A pseudo terminal and what a person sees on it."""

    def __init__(self, typed: list[str]) -> None:
        import pexpect
        import pyte

        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = bytearray()
        self._child: pexpect.spawn[bytes] = pexpect.spawn(
            sys.executable,
            ["-m", "consolecheck", *typed],
            dimensions=(24, 80),
            preexec_fn=lambda: signal.signal(
                signal.SIGINT, signal.SIG_DFL
            ),  # else ignored below a job in the background
            env={**os.environ, "TERM": "xterm-256color", "COLUMNS": "", "LINES": ""},
        )

    def read(self, seconds: float = 0.1) -> bool:
        """Whether the program still runs."""
        import pexpect

        try:
            data = self._child.read_nonblocking(4096, seconds)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.raw += data
        self._stream.feed(data)
        return True

    @property
    def shown(self) -> str:
        """The screen, its lines joined as they were folded."""
        return " ".join(" ".join(self.screen.display).split())

    def see(self, text: str, seconds: float = 20) -> None:
        end = time.monotonic() + seconds
        while text not in self.shown:
            alive = self.read()
            assert time.monotonic() < end, f"`{text}` is not shown:\n" + "\n".join(self.screen.display)
            assert alive or text in self.shown, "\n".join(self.screen.display)

    def type(self, keys: str) -> None:
        self._child.send(keys)

    def press(self, key: str) -> None:
        """Presses a key once the program waits for one."""
        self._when(lambda: not self._canonical)
        self.type(key)

    def enter(self, text: str) -> None:
        """Types a line once the program waits for one."""
        self._when(lambda: self._canonical and self._child.getecho())
        self.type(f"{text}\r")

    @property
    def _canonical(self) -> bool:
        """Whether the terminal gives lines, and not key by key."""
        import termios

        return bool(termios.tcgetattr(self._child.child_fd)[3] & termios.ICANON)

    def _when(self, ready: Callable[[], bool]) -> None:
        end = time.monotonic() + 20
        while not ready():
            self.read(0.02)
            assert time.monotonic() < end, "\n".join(self.screen.display)

    def end(self) -> int:
        end = time.monotonic() + 20
        while self.read():
            assert time.monotonic() < end
        self._child.close()
        return self._child.exitstatus or 0

    def close(self) -> None:
        self._child.close(force=True)

    def widest(self) -> int:
        """Columns of the widest line that was ever written, without what moves the cursor or colours."""
        text = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", self.raw.decode("utf-8", "replace"))
        lines = [line.rstrip() for line in re.split(r"[\r\n]+", text)]
        return max(
            len(line) for line in lines if not line.startswith("consolecheck: ")
        )  # its end, folded by the terminal

    def answer(self, question: str) -> None:
        """Answers it, and sees that the answer is told."""
        keys, told, is_line = ASKED[question]
        self.see(question)
        self.enter(keys) if is_line else self.press(keys)
        if told:
            self.see(told)


@contextmanager
def terminal(typed: list[str]) -> Iterator[Terminal]:
    shown = Terminal(typed)
    try:
        yield shown
    finally:
        shown.close()


@posix
def test_a_guided_swap_at_a_terminal_with_an_interruption(tmp_path: Path) -> None:
    job = tmp_path / "job"
    questions = list(ASKED)
    with switch() as (line, chassis, _):
        typed = command(job, line, "--acceptance", at_once(tmp_path), "--technician", "R. Petrel")
        with terminal(typed) as at:
            at.see("1/10")
            at.type("junk\r")  # and answers no question that comes later
            for question in questions[:3]:
                at.answer(question)
            at.see("Which airflow")
            at.press("\x03")
            assert 4 == at.end()
            assert "interrupted. What was taken is kept in" in at.shown
            assert "start the same command again to go on" in at.shown
            assert at.widest() <= 80
        with terminal(typed) as at:
            at.see("Which airflow")
            assert "Which serial number" not in at.shown
            at.press("q")
            at.see("`q` is no answer here: press one of the keys above")
            for question in questions[3:6]:
                at.answer(question)
            at.answer("Press Enter when you have read them")
            assert "CLEARANCE GO" in at.raw.decode()
            at.see("psu-2 is in place")
            at.type("\r\rzq")  # keys that answer nothing
            with chassis.lock:
                chassis.pull("psu-2")
            at.see("psu-2 is out")
            at.see("psu-2 was taken out; the slot may stay open for 120 s")
            swapped(chassis)
            for question in questions[7:]:
                at.answer(question)
            assert 0 == at.end()
            assert "psu-2: VERIFIED. Sealed in" in at.shown
            assert at.widest() <= 80
            assert "tell alarms" not in at.shown
            assert b"zq" not in at.raw
    values = {
        f"{e.facts['unit']}.{e.facts['fact']}": e.facts["value"]
        for e in Folder(job).journal()
        if e.what == "observation"
    }
    assert GOOD_ANSWERS == values


@posix
def test_a_hold_at_a_terminal_asks_for_the_reason_and_enter_alone_stops(tmp_path: Path) -> None:
    with switch() as (line, chassis, _):
        with chassis.lock:
            chassis.grow_load(0.5)
            chassis.advance(120)
        typed = command(tmp_path / "job", line, "--reseat", "it rattled")
        with terminal(typed) as at:
            at.see("type the reason; it is kept in the job. Enter alone stops.")
            assert "CLEARANCE HOLD" in at.shown
            at.enter("")
            assert 1 == at.end()
            assert "leave psu-2 in place" in at.shown
        with terminal(typed) as at:
            at.see("type the reason; it is kept in the job. Enter alone stops.")
            at.enter("the rack is drained")
            at.answer("Press Enter when you have read them")
            at.see("psu-2 is in place")
            at.type("\x03")
            assert 4 == at.end()
            assert "or with `consolecheck verify" in at.shown
    assert '"reason": "the rack is drained"' in journal(tmp_path / "job")


def test_the_order_of_the_questions_is_that_of_the_work() -> None:
    """The table above is complete: each question of the good job stands in it."""
    assert len(GOOD_ANSWERS) == len(ASKED) - 1
