"""The command line as a person meets it: every ending has its exit code and a sentence, and no traceback."""

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import shipped

CASES = {c.name: c for c in cases_of(shipped("fixtures"), "wexcombe")}
GOOD = CASES["psu-2-replaced"].folder
IPMI = next(c for c in cases_of(shipped("fixtures"), "ipmitool") if c.name == "psu-2-replaced").folder


def run(*arguments: str | Path, stdin: bytes = b"", **environment: str) -> subprocess.CompletedProcess[bytes]:
    done = subprocess.run(
        [sys.executable, "-m", "consolecheck", *map(str, arguments)],
        input=stdin,
        capture_output=True,
        timeout=120,
        env={**os.environ, "COLUMNS": "80", "NO_COLOR": "1", **environment},
        check=False,
    )
    assert b"Traceback" not in done.stderr
    return done


def replay(before: Path, after: Path, unit: str = "psu-2", *more: str) -> subprocess.CompletedProcess[bytes]:
    return run("replay", "--before", before, "--after", after, "--unit", unit, *more)


def test_a_good_swap_is_verified_with_exit_code_0() -> None:
    done = replay(GOOD / "before.txt", GOOD / "after.txt")
    assert done.returncode == 0
    assert done.stdout.startswith(b"VERIFIED: psu-2")


@pytest.mark.parametrize(
    ("case", "code", "says"),
    [
        ("psu-2-inserted-cord-out", 1, "psu-2 has no input power"),
        ("psu-1-pulled-instead-of-psu-2", 1, "psu-1 changed too"),
        ("after-cut-within-heat-table", 3, "the text ends in the middle of a line"),
        ("before-and-after-swapped", 3, "they are swapped"),
        ("after-from-another-chassis", 1, "the texts come from two chassis"),
        ("unknown-status-word", 3, "`sarving`"),
    ],
)
def test_each_verdict_has_its_exit_code_and_reason(case: str, code: int, says: str) -> None:
    done = replay(CASES[case].folder / "before.txt", CASES[case].folder / "after.txt")
    assert (code, True) == (done.returncode, says in done.stdout.decode())


def test_the_reason_points_at_the_line_and_the_columns() -> None:
    case = CASES["psu-2-inserted-cord-out"].folder
    lines = replay(case / "before.txt", case / "after.txt").stdout.decode().split("\n")
    at = next(i for i, line in enumerate(lines) if "after.txt:15 |" in line)
    start = lines[at + 1].index("^")
    assert "dark" == lines[at][start : start + 4]


@pytest.mark.parametrize("width", ["60", "80", "200"])
def test_terminal_text_in_a_pipe_does_not_depend_on_the_width_for_sentences(width: str) -> None:
    """Stable for grep: in a pipe a finding is one line however narrow the window."""
    left = CASES["psu-2-left-empty"].folder
    done = run(
        "replay", "--before", left / "before.txt", "--after", left / "after.txt", "--unit", "psu-2", COLUMNS=width
    )
    assert any(
        line.startswith(b"  only psu-1 is good: nothing is left to take over") for line in done.stdout.split(b"\n")
    )


def test_no_colour_in_a_pipe() -> None:
    assert b"\x1b" not in run("demo", "--fault", "no-input", "--all").stdout


# --- bad input ----------------------------------------------------------------------------------


def refused(path: Path) -> tuple[int, str]:
    done = replay(GOOD / "before.txt", path)
    assert done.stdout == b""
    return done.returncode, done.stderr.decode()


def test_an_empty_file(tmp_path: Path) -> None:
    (tmp_path / "after.txt").write_bytes(b" \r\n\n")
    code, says = refused(tmp_path / "after.txt")
    assert code == 4
    assert "is empty" in says


def test_a_binary_file(tmp_path: Path) -> None:
    (tmp_path / "after.txt").write_bytes(bytes(range(256)) * 40)
    code, says = refused(tmp_path / "after.txt")
    assert code == 4
    assert "is not text" in says
    assert "line settings" in says


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_named(tmp_path: Path, encoding: str) -> None:
    (tmp_path / "after.txt").write_bytes((GOOD / "after.txt").read_text(encoding="utf-8").encode(encoding))
    code, says = refused(tmp_path / "after.txt")
    assert code == 4
    assert "UTF-16" in says
    assert "save it as UTF-8" in says


def test_utf_8_with_a_mark_is_read(tmp_path: Path) -> None:
    (tmp_path / "after.txt").write_bytes(b"\xef\xbb\xbf" + (GOOD / "after.txt").read_bytes())
    assert replay(GOOD / "before.txt", tmp_path / "after.txt").returncode == 0


def peak_bytes(*arguments: str | Path) -> int:
    """The most memory that a run takes. A small process starts it: a child begins with the peak of its parent."""
    pytest.importorskip("resource")
    small = (
        "import resource, subprocess, sys; "
        "subprocess.run([sys.executable, '-m', 'consolecheck', *sys.argv[1:]], capture_output=True); "
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run(
        [sys.executable, "-c", small, *map(str, arguments)], capture_output=True, timeout=240, check=True
    )
    return int(done.stdout) * (1 if sys.platform == "darwin" else 1024)


def test_a_file_of_200_megabytes_is_refused_in_little_memory(tmp_path: Path) -> None:
    big = tmp_path / "after.txt"
    with big.open("wb") as file:  # sparse where the system can
        file.seek(200_000_000)
        file.write(b"\n")
    code, says = refused(big)
    assert code == 4
    assert "200 MB" in says
    assert peak_bytes("replay", "--before", GOOD / "before.txt", "--after", big, "--unit", "psu-2") < 300_000_000


def test_too_much_on_standard_input_is_refused() -> None:
    done = run("read", "-", stdin=b"x\n" * 9_000_000)
    assert done.returncode == 4
    assert b"MB" in done.stderr


def test_the_largest_file_that_is_taken_stays_in_bounds(tmp_path: Path) -> None:
    text = (GOOD / "after.txt").read_bytes()
    (tmp_path / "long.txt").write_bytes((text * (4_000_000 // len(text)))[:4_000_000])
    done = run("read", "--json", tmp_path / "long.txt")
    assert done.returncode in (0, 3)
    assert peak_bytes("read", "--json", tmp_path / "long.txt") < 1_500_000_000


def test_text_of_no_known_device(tmp_path: Path) -> None:
    (tmp_path / "after.txt").write_text("Dear all,\nthe swap went well.\n" * 30, encoding="utf-8")
    code, says = refused(tmp_path / "after.txt")
    assert code == 3
    assert "no known device family" in says
    assert "--dialect" in says


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    assert (4, True) == ((r := refused(tmp_path / "nowhere.txt"))[0], "does not exist" in r[1])
    assert (4, True) == ((r := refused(tmp_path))[0], "is a folder" in r[1])


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = tmp_path / "after.txt"
    path.write_bytes(b"x")
    path.chmod(0)
    assert (4, True) == ((r := refused(path))[0], "may not be read" in r[1])


def test_a_unit_that_does_not_exist() -> None:
    done = replay(GOOD / "before.txt", GOOD / "after.txt", "psu-7")
    assert done.returncode == 2
    assert b"psu-1, psu-2, fan-1, fan-2, fan-3" in done.stderr


def test_a_near_name_is_suggested() -> None:
    assert b"did you mean `psu-2`" in replay(GOOD / "before.txt", GOOD / "after.txt", "psu2").stderr
    assert b"did you mean `wexcombe`" in run("read", GOOD / "after.txt", "--dialect", "wexcomb").stderr


def test_a_table_cut_in_the_baseline_counts_too(tmp_path: Path) -> None:
    text = (GOOD / "before.txt").read_bytes()
    (tmp_path / "before.txt").write_bytes(text[: text.index(b"END HEAT")])
    done = replay(tmp_path / "before.txt", GOOD / "after.txt")
    assert done.returncode == 3


def test_a_10000_character_line_is_unread_and_harmless(tmp_path: Path) -> None:
    (tmp_path / "after.txt").write_bytes(b"x" * 10_000 + b"\r\n" + (GOOD / "after.txt").read_bytes())
    done = replay(GOOD / "before.txt", tmp_path / "after.txt")
    assert done.returncode == 3
    assert b"longer than" in done.stdout


def test_hostile_text_never_reaches_the_terminal(tmp_path: Path) -> None:
    hostile = "** 06:51:23 \x1b]0;owned\x07\x1b[31m[bold]red[/bold] \u202eevil\u202c \u200b\x9b31m\x00\n"
    text = (GOOD / "after.txt").read_text(encoding="utf-8").replace("tide-gauge-north", "tide[/]\u202e\u2066gauge")
    (tmp_path / "after.txt").write_text("strange \u202e line\n" + hostile + text, encoding="utf-8")
    for command in (
        ("read", tmp_path / "after.txt"),
        ("replay", "--before", GOOD / "before.txt", "--after", tmp_path / "after.txt", "--unit", "psu-2", "--all"),
    ):
        out = run(*command).stdout.decode()
        assert not [c for c in out if (ord(c) < 32 and c != "\n") or 0x7F <= ord(c) < 0xA0]
        assert not set(out) & set("\u202e\u202c\u200b\u2066")


# --- usage --------------------------------------------------------------------------------------


def test_wrong_usage_has_exit_code_2() -> None:
    assert run("replay").returncode == 2
    assert run("no-such-command").returncode == 2
    assert run("replay", "--before", "-", "--after", "-", "--unit", "psu-2").returncode == 2
    assert run("demo", "--fault", "nonsense").returncode == 2
    assert run("schema", "nonsense").returncode == 2


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        ("psu-2", "is not UNIT.FACT=VALUE"),
        ("psu-2.colour=red", "cannot be observed"),
        ("psu-2.airflow=left", "front-to-back or back-to-front"),
    ],
)
def test_an_observation_that_makes_no_sense(seen: str, says: str) -> None:
    done = replay(GOOD / "before.txt", GOOD / "after.txt", "psu-2", "--seen", seen)
    assert (2, True) == (done.returncode, says in done.stderr.decode())


@pytest.mark.parametrize(
    ("toml", "says"),
    [
        ("power = 3", "power"),
        ("[power]\nredundancy = 'plenty'", "power.redundancy"),
        ("[power]\nac_tolerance = 10", "power.ac_tolerance"),
        ("[power\n", "is not TOML"),
        ("advisory = ['power.status']", "essential"),
        ("required = ['power.colour']", "there is no rule `power.colour`"),
        ("[temperature]\ninlet_class = 'B7'", "temperature.inlet_class"),
    ],
)
def test_a_broken_acceptance_names_the_key(tmp_path: Path, toml: str, says: str) -> None:
    (tmp_path / "site.toml").write_text(toml, encoding="utf-8")
    done = replay(GOOD / "before.txt", GOOD / "after.txt", "psu-2", "--acceptance", str(tmp_path / "site.toml"))
    assert (2, True) == (done.returncode, says in done.stderr.decode())


def test_the_acceptance_changes_the_answer(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text('[cooling]\nairflow = "back-to-front"\n', encoding="utf-8")
    done = replay(GOOD / "before.txt", GOOD / "after.txt", "psu-2", "--acceptance", str(tmp_path / "site.toml"))
    assert done.returncode == 1
    assert b"the rack needs back-to-front" in done.stdout


def test_the_label_must_agree_with_what_the_switch_reports() -> None:
    for serial, code in (("WXS-31902", 0), ("WXS-00000", 1)):
        done = replay(GOOD / "before.txt", GOOD / "after.txt", "psu-2", "--seen", f"psu-2.serial={serial}")
        assert done.returncode == code


def test_a_reseat_must_be_stated() -> None:
    same = CASES["psu-2-same-serial-put-back"].folder
    assert replay(same / "before.txt", same / "after.txt").returncode == 1
    assert replay(same / "before.txt", same / "after.txt", "psu-2", "--reseat", "cord was loose").returncode == 0


# --- JSON ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "folder", [GOOD, IPMI, CASES["garbled-digit-in-power-row"].folder], ids=["wexcombe", "ipmitool", "garbled"]
)
def test_json_is_valid_against_its_exported_schema(folder: Path) -> None:
    read = json.loads(run("read", folder / "after.txt", "--json").stdout)
    jsonschema.validate(read, json.loads(run("schema", "read").stdout))
    assert {"schema", "dialect", "basis", "readings", "unread"} == set(read)
    told = json.loads(replay(folder / "before.txt", folder / "after.txt", "psu-2", "--json").stdout)
    jsonschema.validate(told, json.loads(run("schema", "replay").stdout))
    assert 1 == told["schema"]
    assert told["findings"]
    for finding in told["findings"]:
        assert {
            "rule",
            "subject",
            "outcome",
            "required",
            "measured",
            "limit",
            "message",
            "evidence",
            "standing",
        } <= set(finding)


def test_json_digests_are_those_of_the_files() -> None:
    import hashlib

    told = json.loads(replay(GOOD / "before.txt", GOOD / "after.txt", "psu-2", "--json").stdout)
    assert hashlib.sha256((GOOD / "after.txt").read_bytes()).hexdigest() == told["digests"]["after"]


def test_every_reading_in_json_points_at_lines_that_hold_it() -> None:
    lines = (GOOD / "after.txt").read_text(encoding="utf-8").split("\n")
    readings = json.loads(run("read", GOOD / "after.txt", "--json").stdout)["readings"]
    for reading in readings:
        text = "\n".join(lines[n - 1] for n in reading["lines"])
        for fact in ("serial", "part_number", "status_text"):
            assert reading[fact] is None or reading[fact] in text


def test_standard_input_is_read() -> None:
    assert run("read", "-", stdin=(GOOD / "after.txt").read_bytes()).returncode == 0


# --- recordings -------------------------------------------------------------------------------


def test_a_replay_takes_recordings_as_well_as_text(tmp_path: Path) -> None:
    text = (GOOD / "after.txt").read_bytes().decode()
    cast = [json.dumps({"version": 2, "width": 80, "height": 24})]
    cast += [json.dumps([n / 10, "o", piece]) for n, piece in enumerate(text.splitlines(keepends=True))]
    (tmp_path / "after.cast").write_text("\n".join(cast) + "\n", encoding="utf-8")
    assert replay(GOOD / "before.txt", tmp_path / "after.cast").returncode == 0
    stamped = "".join(
        f"[2026-11-18 06:51:{n % 60:02}.120] {line}" for n, line in enumerate(text.splitlines(keepends=True))
    )
    (tmp_path / "after.log").write_bytes(stamped.encode())
    assert replay(GOOD / "before.txt", tmp_path / "after.log").returncode == 0
    (tmp_path / "cut.cast").write_text("\n".join(cast[:-4]) + "\n" + cast[-4][:9], encoding="utf-8")
    assert replay(GOOD / "before.txt", tmp_path / "cut.cast").returncode == 3


# --- the rest -----------------------------------------------------------------------------------


def test_demo_without_and_with_every_fault() -> None:
    assert run("demo").returncode == 0
    names = [line.split()[0] for line in run("demo", "--fault", "list").stdout.decode().splitlines()]
    assert len(names) >= 6
    for name in names:
        done = run("demo", "--fault", name)
        assert (1, True) == (done.returncode, done.stdout.count(b"NOT VERIFIED") == 1), name


def test_demo_keeps_its_job_folder_and_overwrites_nothing(tmp_path: Path) -> None:
    assert run("demo", "--keep", tmp_path / "kept").returncode == 0
    names = {p.name for p in (tmp_path / "kept").iterdir()}
    assert {"job.json", "before.txt", "after.txt", "before-line.cast", "after-line.cast", "findings.json"} <= names
    assert run("replay", tmp_path / "kept").returncode == 0
    done = run("demo", "--keep", tmp_path / "kept")
    assert (4, True) == (done.returncode, b"holds a job already" in done.stderr)


def test_dialect_list_and_check() -> None:
    assert b"wexcombe" in run("dialect", "list").stdout
    done = run("dialect", "check", "wexcombe", CI="")
    assert (0, True) == (done.returncode, done.stdout.endswith(b" 0 faults\n"))


def test_ports_are_listed() -> None:
    done = run("ports")
    assert done.returncode == 0
    assert done.stdout.strip()


def test_accept_is_refused_in_ci() -> None:
    done = run("dialect", "check", "--accept", CI="true")
    assert (2, True) == (done.returncode, b"refused in CI" in done.stderr)


def test_help_reads_like_a_table_of_contents_and_has_an_example_each() -> None:
    contents = run("--help").stdout.decode()
    for command in ("demo", "ports", "baseline", "verify", "read", "replay", "schema", "dialect"):
        assert command in contents
    for command in (
        ["read"],
        ["replay"],
        ["demo"],
        ["ports"],
        ["baseline"],
        ["verify"],
        ["schema"],
        ["dialect", "list"],
        ["dialect", "check"],
    ):
        assert "Example: consolecheck" in run(*command, "--help").stdout.decode(), command


@pytest.mark.skipif(sys.platform == "win32", reason="asks for a POSIX shell")
@pytest.mark.parametrize("command", [("schema", "replay"), ("demo",), ("dialect", "list"), ("--help",)])
def test_a_reader_that_went_away_is_no_verdict(command: tuple[str, ...]) -> None:
    """A closed pipe must not look like `not verified`, nor print a traceback, wherever the write fails."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "consolecheck", *command],
            stdin=subprocess.DEVNULL,
            stdout=writer,
            stderr=subprocess.PIPE,
            check=False,
            timeout=60,
        )
    finally:
        os.close(writer)
    assert (4, False) == (done.returncode, b"Traceback" in done.stderr)


NEWER = "Blower   State   Speed (rpm)\n" + "".join(f"{n:<8} ok      {5000 + n}\n" for n in range(1, 61))
"""What a later version of the family might print, in a layout that its dialect does not have."""


def test_where_a_dialect_leaves_most_of_a_text_the_layout_is_offered(tmp_path: Path) -> None:
    text = tmp_path / "newer.txt"
    text.write_bytes(NEWER.encode() + (GOOD / "after.txt").read_bytes())
    done = run("read", text, "--quiet")
    assert (3, True) == (done.returncode, b"wexcombe leaves " in done.stderr and b"--dialect unknown" in done.stderr)
    by_layout = run("read", text, "--dialect", "unknown", "--json")
    read = json.loads(by_layout.stdout)
    assert (3, None, "inferred") == (by_layout.returncode, read["dialect"], read["basis"])
    assert sum(r["kind"] == "fan" and r["condition"] == "ok" for r in read["readings"]) >= 60
    assert b"--dialect unknown" not in run("read", GOOD / "after.txt", "--quiet").stderr


def test_read_by_its_layout_alone_nothing_is_verified() -> None:
    done = replay(GOOD / "before.txt", GOOD / "after.txt", "psu-2", "--dialect", "unknown")
    assert done.returncode != 0
    assert not done.stdout.startswith(b"VERIFIED")


def test_no_command_is_typed_at_a_device_that_no_dialect_knows(tmp_path: Path) -> None:
    job = tmp_path / "job"
    done = run("baseline", job, "--unit", "psu-2", "--dialect", "unknown", "--console", "socket://127.0.0.1:1")
    assert (2, True) == (done.returncode, b"only a dialect knows which commands are safe to type" in done.stderr)
    assert not job.exists()
    assert b"stands for no dialect at all" in run("dialect", "draft", GOOD / "after.txt", "--name", "unknown").stderr
