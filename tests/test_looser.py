"""`dialect check`: a template that becomes looser is noticed, and what differs is told thing by thing."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from lxml import etree

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, check_case, check_claims
from consolecheck.cases.claims import RECORD, differences, record_of, seeds_of, spoilt
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.dialect import Dialect

FORM = etree.RelaxNG(etree.parse(Path(__file__).parent / "data" / "junit_ant.rng"))


def check(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "consolecheck", "dialect", "check", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, "CI": "", "NO_COLOR": "1", **environment},
        check=False,
    )


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """Sonic with three of its cases as a dialect of one's own, recorded."""
    folder = tmp_path / "sonic"
    shutil.copytree(shipped("parsers") / "sonic", folder)
    for name in ("psu-2-replaced", "fan-2-replaced", "psu-2-left-empty"):
        shutil.copytree(shipped("fixtures") / "sonic" / name, folder / "fixtures" / name)
    assert check("sonic", "--dialects", tmp_path, "--accept").returncode == 0
    return folder


def change(file: Path, find: str, replace: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert find in text
    file.write_text(text.replace(find, replace, 1), encoding="utf-8")


@pytest.mark.parametrize("dialect", dialects(), ids=lambda dialect: dialect.name)
def test_shipped_templates_claim_what_is_recorded_and_no_more(dialect: Dialect) -> None:
    folder = shipped("fixtures")
    faults = list(check_claims(dialect, cases_of(folder, dialect.name), folder / dialect.name))
    assert [] == [(fault.place, fault.message, fault.shown) for fault in faults]


@pytest.mark.parametrize(
    ("find", "replace", "shown"),
    [
        (r"Value SPEED_PERCENT (\d{1,3}%|N/A)", r"Value SPEED_PERCENT (\S+)", "letters for digits"),
        ("Value PRESENCE (Present|Not Present)", r"Value PRESENCE (\S+(?: \S+)?)", "another word"),
        ("${TIME}$$", "${TIME}.*$$", "a word more"),
        ("  ^-+(?:  -+){7}$$", "  ^-+.*$$", "a number more"),
    ],
)
def test_a_template_that_becomes_looser_fails_with_the_line_shown(
    own: Path, find: str, replace: str, shown: str
) -> None:
    """Its cases read as before: nothing else would notice."""
    change(own / "fan.textfsm", find, replace)
    done = check("sonic", "--dialects", own.parent)
    assert (1, True) == (done.returncode, f"{own / 'fan.textfsm'}: claims " in done.stdout), done.stdout
    assert "lines that it did not claim before" in done.stdout
    assert shown in done.stdout
    assert "differ from expected.json" not in done.stdout
    assert check("sonic", "--dialects", own.parent, "--accept").returncode == 0
    assert check("sonic", "--dialects", own.parent).returncode == 0


@pytest.mark.parametrize("pattern", ["log", "refusals"])
def test_a_pattern_that_would_swallow_rows_fails_with_them_shown(own: Path, pattern: str) -> None:
    change(own / "dialect.toml", f"{pattern} = [", f"{pattern} = [' *drawer1 .*extra$', ")
    done = check("sonic", "--dialects", own.parent)
    assert (1, True) == (done.returncode, f"console.{pattern} claims " in done.stdout), done.stdout


def test_a_rule_that_is_new_must_be_recorded_and_a_new_case_alone_need_not(own: Path) -> None:
    shutil.copytree(shipped("fixtures") / "sonic" / "fan-2-still-updating", own / "fixtures" / "a-first-case")
    assert check("sonic", "--dialects", own.parent).returncode == 0
    change(
        own / "fan.textfsm", "  ^-+(?:  -+){7}$$", "  ^-+(?:  -+){7}$$\n  ^ *${DRAWER} {2,}.*fan1 {2,}.*$$ -> Record"
    )
    done = check("sonic", "--dialects", own.parent)
    assert (1, True) == (done.returncode, "lines that it did not claim before" in done.stdout)


def test_a_template_that_becomes_stricter_is_recorded_anew(own: Path) -> None:
    """Else the record would allow it to become as loose again."""
    change(own / "psustatus.textfsm", r"Value SERIAL (\S+)", r"Value SERIAL ([A-Z0-9]+)")
    done = check("sonic", "--dialects", own.parent)
    assert (1, True) == (done.returncode, "claims less than what is recorded" in done.stdout), done.stdout


@pytest.mark.parametrize("text", ["", "{", "[]", '{"seeds": [1]}', '{"seeds": []}'])
def test_a_record_that_is_none_is_told_and_recorded_anew(own: Path, text: str) -> None:
    (own / "fixtures" / RECORD).write_text(text, encoding="utf-8")
    done = check("sonic", "--dialects", own.parent)
    assert (1, True) == (done.returncode, RECORD in done.stdout)
    assert check("sonic", "--dialects", own.parent, "--accept").returncode == 0
    assert check("sonic", "--dialects", own.parent).returncode == 0


def test_in_ci_nothing_is_accepted(own: Path) -> None:
    (own / "fixtures" / RECORD).unlink()
    assert check("sonic", "--dialects", own.parent, "--accept", CI="true").returncode == 2
    assert not (own / "fixtures" / RECORD).exists()


def test_what_is_recorded_is_always_the_same() -> None:
    known = next(d for d in dialects() if d.name == "sonic")
    cases = cases_of(shipped("fixtures"), "sonic")
    assert record_of(known, cases) == record_of(known, cases)
    assert [] == differences(known, cases, record_of(known, cases))
    for seeds in seeds_of(known, cases).values():
        for seed in seeds:
            assert seed.text not in spoilt(seed.text).values()


def test_spoilt_lines_are_those_that_a_bad_line_or_another_device_would_give() -> None:
    made = spoilt("psu-1  ok   12.1 V")
    assert "psu-x  ok   12.1 V" == made["letters for digits 0"]
    assert "psu-1  qq   12.1 V" == made["another word 1"]
    assert "psu-1  77   12.1 V" == made["a number for a word 1"]
    assert "ok  psu-1   12.1 V" == made["exchanged 0"]
    assert "psu-1  ok   12.1" == made["last cell lost"]
    assert "ok   12.1 V" == made["first cell lost"]


def test_a_difference_is_told_by_thing_and_field_with_its_line(own: Path) -> None:
    case = own / "fixtures" / "psu-2-replaced"
    text = (case / "after.txt").read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if line.startswith("PSU 2"))
    number = text.splitlines().index(row) + 1
    volts = row.split()[-5]
    change(case / "after.txt", row, row.replace(volts, "11.97", 1))
    (fault,) = check_case(Case(case, "sonic"), dialects())
    assert f"after: power_supply psu-2: output_voltage: {float(volts)} V -> 11.97 V" in fault.shown, fault.shown
    assert f"    after.txt:{number} | {row.replace(volts, '11.97', 1)}" in fault.shown


def test_the_results_as_junit_xml_for_ci(own: Path, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.xml", tmp_path / "bad.xml"
    assert check("sonic", "--dialects", own.parent, "--junit", good).returncode == 0
    change(own / "fan.textfsm", "${TIME}$$", "${TIME}.*$$")
    assert check("sonic", "--dialects", own.parent, "--junit", bad).returncode == 1
    for path, failures in ((good, 0), (bad, 1)):
        root = etree.parse(path).getroot()
        FORM.assertValid(root)
        assert [("sonic", "5", str(failures))] == [(s.get("name"), s.get("tests"), s.get("failures")) for s in root]
        assert failures == len(root.findall(".//failure"))
    assert "a word more" in etree.parse(bad).findtext(".//failure")


def test_results_that_cannot_be_written_end_with_a_sentence(own: Path) -> None:
    done = check("sonic", "--dialects", own.parent, "--junit", own / "missing" / "results.xml")
    assert (4, True) == (done.returncode, "cannot be written" in done.stderr)
