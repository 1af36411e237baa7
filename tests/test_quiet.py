"""What a terminal and a pipe are shown: one line for scripts, nothing lost at any width, progress only where somebody looks."""

import io
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import snapshot

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import shipped
from consolecheck.records.findings import Finding, Judgement, Outcome, Verdict
from consolecheck.records.text import UnreadLine
from consolecheck.reporting.progress import busy, counted
from consolecheck.reporting.terminal import quiet_line, quiet_snapshot

CASES = {c.name: c for c in cases_of(shipped("fixtures"), "wexcombe")}
GOOD = CASES["psu-2-replaced"].folder
BAD = CASES["psu-2-inserted-cord-out"].folder
OPEN = CASES["unknown-status-word"].folder


def run(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "consolecheck", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, **environment},
        check=False,
        stdin=subprocess.DEVNULL,
    )


def replayed(folder: Path, *more: str, **environment: str) -> subprocess.CompletedProcess[str]:
    files = ("--before", folder / "before.txt", "--after", folder / "after.txt", "--unit", "psu-2")
    return run("replay", *files, *more, **environment)


# --- one line -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("folder", "line", "code"),
    [
        (GOOD, "verified psu-2 tern-04 0 against 0 open\n", 0),
        (BAD, "not-verified psu-2 tern-04 6 against 0 open\n", 1),
        (OPEN, "inconclusive psu-2 tern-04 0 against 2 open\n", 3),
    ],
)
def test_a_quiet_replay_is_one_line(folder: Path, line: str, code: int) -> None:
    done = replayed(folder, "--quiet")
    assert (line, "", code) == (done.stdout, done.stderr, done.returncode)


def test_a_quiet_read_is_one_line() -> None:
    done = run("read", GOOD / "after.txt", "--quiet")
    assert ("whole wexcombe tern-04 35 readings 0 unread 0 cut\n", 0) == (done.stdout, done.returncode)
    done = run("read", CASES["after-cut-within-heat-table"].folder / "after.txt", "--quiet")
    assert (True, 3) == (done.stdout.startswith("partial wexcombe tern-04 "), done.returncode)


def test_a_quiet_replay_of_a_job_is_one_line_and_says_where_there_is_no_seal(tmp_path: Path) -> None:
    assert run("demo", "--keep", tmp_path / "job").returncode == 0
    done = run("replay", tmp_path / "job", "--quiet")
    assert ("verified psu-2 tern-04 0 against 0 open\n", "", 0) == (done.stdout, done.stderr, done.returncode)
    (tmp_path / "job" / "seal.json").unlink()
    done = run("replay", tmp_path / "job", "--quiet")
    assert ("verified psu-2 tern-04 0 against 0 open\n", True) == (done.stdout, "not sealed" in done.stderr)


def test_quiet_and_json_exclude_each_other() -> None:
    for done in (replayed(GOOD, "--quiet", "--json"), run("read", GOOD / "after.txt", "--quiet", "--json")):
        assert ("", 2) == (done.stdout, done.returncode)


def test_a_switch_that_no_prompt_names_is_a_dash() -> None:
    judgement = Judgement(Verdict.INCONCLUSIVE, "psu-2", ())
    assert "inconclusive psu-2 - 0 against 0 open" == quiet_line(judgement, snapshot())
    assert "partial made - 0 readings 0 unread 0 cut" == quiet_snapshot(snapshot())


@given(st.text(st.characters(exclude_categories=())), st.text(st.characters(exclude_categories=())))
def test_hostile_names_add_no_word_and_no_line(unit: str, host: str) -> None:
    """A script may split the line at blanks: seven words for a verdict, nine for a text."""
    after = snapshot()._replace(hosts={host: 1}, dialect=unit, unread=(UnreadLine(1, unit, host),))
    findings = (
        Finding(rule="r", subject=unit, outcome=Outcome.UNMET, message=host),
        Finding(rule="r", subject=unit, outcome=Outcome.UNDETERMINED, required=False, message=host),
    )
    line = quiet_line(Judgement(Verdict.NOT_VERIFIED, unit, findings), after)
    assert ["not-verified", "1", "against", "0", "open"] == [line.split()[0], *line.split()[3:]]
    assert 9 == len(quiet_snapshot(after).split())
    assert 1 == len((line + quiet_snapshot(after)).splitlines())
    assert "\x1b" not in line


# --- widths and colour --------------------------------------------------------------------------


@pytest.mark.parametrize("folder", [GOOD, BAD, OPEN], ids=["good", "bad", "open"])
def test_no_line_of_a_pipe_depends_on_the_width(folder: Path) -> None:
    for command in ((*_replay(folder), "--all"), ("read", folder / "after.txt"), ("dialect", "list")):
        shown = {run(*command, COLUMNS=width).stdout for width in ("40", "80", "200")}
        assert 1 == len(shown), command


def _replay(folder: Path) -> tuple[str | Path, ...]:
    return ("replay", "--before", folder / "before.txt", "--after", folder / "after.txt", "--unit", "psu-2")


def on_terminal(*command: str | Path, width: int, **environment: str) -> str:
    """What a real terminal of that width is sent, on standard output and standard error."""
    pty = pytest.importorskip("pty", reason="a terminal needs POSIX")
    fcntl, struct, termios = (pytest.importorskip(name) for name in ("fcntl", "struct", "termios"))
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, width, 0, 0))
    kept = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "NO_COLOR", "FORCE_COLOR")}
    process = subprocess.Popen(
        [sys.executable, "-m", "consolecheck", *map(str, command)],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env={**kept, "TERM": "xterm-256color", **environment},
    )
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:  # the other side is closed
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    process.wait(timeout=60)
    return shown.decode()


def bare(text: str) -> str:
    """Without colour and without what folding moves."""
    return "".join(re.sub(r"\x1b\[[0-9;]*m", "", text).split())


@pytest.mark.parametrize("width", [40, 80, 200])
@pytest.mark.parametrize("folder", [BAD, OPEN], ids=["bad", "open"])
def test_a_terminal_loses_nothing_at_any_width(folder: Path, width: int) -> None:
    """Every sentence of the pipe is there; only the excerpts of raw lines are cut to the width, and say so."""
    shown = bare(on_terminal(*_replay(folder), width=width))
    for line in replayed(folder).stdout.splitlines():
        if " | " not in line and set(line.strip()) != {"^"}:
            assert bare(line) in shown, line
    shown = bare(on_terminal("read", folder / "after.txt", width=width))
    for line in run("read", folder / "after.txt").stdout.splitlines():
        assert bare(line) in shown, line


def test_colour_on_a_terminal_unless_no_color_is_set() -> None:
    """https://no-color.org: any value but the empty one turns colour off."""
    coloured = re.compile(r"\x1b\[[0-9;]*3[0-7]m")
    assert coloured.search(on_terminal(*_replay(BAD), width=80))
    assert not coloured.search(on_terminal(*_replay(BAD), width=80, NO_COLOR="1"))
    assert "\x1b" not in replayed(BAD, "--all", FORCE_COLOR="").stdout


def test_a_quiet_line_is_the_same_on_a_terminal_of_any_width() -> None:
    for width in (40, 200):
        shown = on_terminal(*_replay(BAD), "--quiet", width=width)
        assert "not-verified psu-2 tern-04 6 against 0 open" == shown.strip()


# --- files beside the verdict -------------------------------------------------------------------

FILES = {"report.html", "result.json", "junit.xml", "ticket.md", "readings.csv"}


def test_a_replay_writes_its_files_beside_the_verdict(tmp_path: Path) -> None:
    done = replayed(BAD, "--quiet", "--report", str(tmp_path / "out"))
    assert ("not-verified psu-2 tern-04 6 against 0 open\n", 1) == (done.stdout, done.returncode)
    assert {p.name for p in (tmp_path / "out").iterdir()} - {"report.pdf"} == FILES
    assert all(f"written: {path}" in done.stderr for path in (tmp_path / "out").iterdir())
    assert ("no report.pdf" in done.stderr) is not (tmp_path / "out" / "report.pdf").exists()


def test_a_folder_that_cannot_be_written_stops_after_the_verdict_was_told(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"a file")
    done = replayed(GOOD, "--quiet", "--report", str(tmp_path / "out"))
    assert ("verified psu-2 tern-04 0 against 0 open\n", 4) == (done.stdout, done.returncode)
    assert "cannot be written" in done.stderr


def test_a_job_is_not_written_into_and_nothing_is_stated_beside_it(tmp_path: Path) -> None:
    assert run("demo", "--keep", tmp_path / "job").returncode == 0
    inside = run("replay", tmp_path / "job", "--report", tmp_path / "job" / "report")
    beside = run("replay", tmp_path / "job", "--report", tmp_path / "out", "--seen", "psu-2.serial=WXS-1")
    assert [(2, ""), (2, "")] == [(d.returncode, d.stdout) for d in (inside, beside)]
    done = run("replay", tmp_path / "job", "--quiet", "--report", tmp_path / "out")
    assert 0 == done.returncode
    assert {p.name for p in (tmp_path / "out").iterdir()} - {"report.pdf"} == FILES | {"samples.csv"}
    assert 0 == run("replay", tmp_path / "job", "--quiet").returncode, "the seal holds still"


# --- progress -----------------------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_what_takes_long_is_told_on_a_terminal_and_taken_away_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")
    stream = Terminal()
    with busy(stream, "reading [b]swap-0412", 200, patience=0.0) as step:
        time.sleep(0.5)
        step(70)
        time.sleep(0.3)
    shown = stream.getvalue()
    assert "reading [b]swap-0412" in shown
    assert "70/200" in shown
    assert shown.endswith("\x1b[2K"), "the line is erased"


def test_what_is_done_soon_and_what_goes_into_a_pipe_says_nothing() -> None:
    soon, pipe = Terminal(), io.StringIO()
    with busy(soon, "reading"):
        pass
    with busy(pipe, "reading", patience=0.0):
        time.sleep(0.2)
    assert ("", "") == (soon.getvalue(), pipe.getvalue())


def test_a_failure_takes_the_line_away_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")
    stream = Terminal()
    work = busy(stream, "reading", patience=0.0)
    work.__enter__()
    time.sleep(0.3)
    assert not work.__exit__(KeyError, KeyError(), None)
    assert stream.getvalue().endswith("\x1b[2K")


def test_every_part_is_given_once() -> None:
    assert [1, 2, 3] == list(counted(io.StringIO(), "checking", [1, 2, 3]))


def test_a_long_text_says_that_it_is_being_read(tmp_path: Path) -> None:
    text = (GOOD / "after.txt").read_bytes()
    (tmp_path / "long.txt").write_bytes(text * (16_000_000 // len(text)))
    command = ("read", tmp_path / "long.txt", "--quiet")
    assert f"reading {tmp_path}"[:30] in on_terminal(*command, width=200)
    assert "" == run(*command).stderr
