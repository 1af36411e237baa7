"""A dialect drafted from one capture reads what was inferred and nothing else, passes its check, and verifies nothing."""

import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from consolecheck.cases.check import cases_of
from consolecheck.cases.drafted import case_text
from consolecheck.drafting.draft import CannotDraft, draft
from consolecheck.drafting.rules import Gap, frame, row, value
from consolecheck.drafting.told import report_of
from consolecheck.files.shelf import read_dialect, shipped
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import read_text, read_unknown
from consolecheck.records.findings import Verdict
from consolecheck.records.readings import Condition, Snapshot

WITHHELD = (
    "sonic/psu-2-replaced",
    "sonic/fan-2-still-updating",
    "aruba_aoscx/fan-1-3-rotor-stuck",
    "eltex/fan-3-dead-replacement",
    "cisco_nxos/psu-2-cord-out",
    "ipmitool/psu-2-left-out",
    "fortinet/psu-2-replaced",
    "huawei_vrp/psu-2-replaced",
    "redfish/psu-2-replaced",
)
CASES = {f"{c.dialect_name}/{c.name}": c for c in cases_of(shipped("fixtures"))}
AT_A_GLANCE = b"""\
razorbill-02# show chassis air
Fan     Status   Speed (rpm)
------  -------  -----------
Fan 1   ok              5400
Fan 2   sulking         5350
razorbill-02#
"""


def run(*arguments: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "consolecheck", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=cwd,
        env={**os.environ, "CI": "", "NO_COLOR": "1", "PYTHONPATH": str(Path(__file__).parents[1])},
        check=False,
    )


def told(snapshot: Snapshot, but: set[int] = frozenset()) -> Counter[str]:  # type: ignore[assignment]
    """The readings of a snapshot, without those of some lines."""
    return Counter(repr(s.reading) for s in snapshot.sightings if not set(s.lines) & but)


@pytest.mark.parametrize("name", [n for n in WITHHELD if n in CASES])
@pytest.mark.parametrize("side", ["before", "after"])
def test_a_draft_reads_what_inference_read_and_nothing_else(name: str, side: str) -> None:
    raw = CASES[name].text(side)  # type: ignore[arg-type]
    made = draft(raw, "ours", side)
    left = {n for x in made.left_out for n in range(x.first_line, x.last_line + 1)}
    assert told(made.snapshot)
    assert not told(made.snapshot) - told(read_unknown(raw, side))
    assert not told(read_unknown(raw, side), left) - told(made.snapshot)
    assert "inferred" == made.snapshot.basis
    assert [] == Dialect("ours", made.files["dialect.toml"], made.files, "ours", "here").faults()


def test_what_is_drafted_passes_its_check_and_reads_the_next_capture(tmp_path: Path) -> None:
    case = CASES["sonic/psu-2-replaced"].folder
    done = run("dialect", "draft", case / "before.txt", "--name", "ours", cwd=tmp_path)
    assert (0, True) == (done.returncode, "What a person must still decide: " in done.stdout), done.stderr
    checked = run("dialect", "check", "ours", "--dialects", ".", cwd=tmp_path)
    assert (0, "1 cases checked, 0 faults") == (checked.returncode, checked.stdout.strip().splitlines()[-1])
    ours = read_dialect(tmp_path / "ours", origin="here")
    raw = (case / "after.txt").read_bytes()
    assert told(read_unknown(raw, "after")) == told(read_text(raw, "after", (ours,), ours))


def test_with_a_draft_nothing_is_verified_until_a_person_takes_its_mark_out(tmp_path: Path) -> None:
    case = CASES["sonic/psu-2-replaced"].folder
    assert run("dialect", "draft", case / "before.txt", "--name", "ours", cwd=tmp_path).returncode == 0
    texts = ("--before", case / "before.txt", "--after", case / "after.txt", "--unit", "psu-2")
    seen = [a for fact in CASES["sonic/psu-2-replaced"].file.observed for a in ("--seen", fact)]
    judge = ("replay", *texts, *seen, "--dialect", "ours", "--dialects", ".", "--acceptance", case / "acceptance.toml")
    done = run(*judge, cwd=tmp_path)
    assert (3, True) == (done.returncode, "a draft: what is read with it counts as inferred" in done.stdout), (
        done.stdout
    )
    assert "ours: drafted from one capture (a draft" in run("dialect", "list", "--dialects", ".", cwd=tmp_path).stdout
    manifest = tmp_path / "ours" / "dialect.toml"
    manifest.write_text(manifest.read_text(encoding="utf-8").replace("drafted = true\n", ""), encoding="utf-8")
    assert run(*judge, cwd=tmp_path).returncode == 0


@pytest.mark.parametrize("prompt", ["razorbill-02# ", "razorbill-02#", "keeper@razorbill-02:~$ ", "<razorbill-02>"])
def test_commands_are_taken_from_prompts_of_the_usual_forms(prompt: str) -> None:
    text = AT_A_GLANCE.replace(b"razorbill-02# ", prompt.encode()).replace(b"razorbill-02#\n", prompt.encode() + b"\n")
    made = draft(text.replace(b"show chassis air", b"display fan"), "ours", "razorbill.txt")
    assert ("display fan",) == made.commands
    assert {"razorbill-02"} == set(made.snapshot.hosts)
    assert made.snapshot.tables[0].ended


def test_words_of_a_document_count_only_together_as_they_were_seen() -> None:
    """Enabled says nothing of health: with another word beside it the condition is not what it was."""
    text = b"""{"PowerSupplies": [
      {"Name": "PSU 1", "LineInputVoltage": 231, "SerialNumber": "TPS-1",
       "Status": {"State": "Enabled", "Health": "OK"}},
      {"Name": "PSU 2", "LineInputVoltage": 230, "SerialNumber": "TPS-2",
       "Status": {"State": "Enabled", "Health": "OK"}}
    ]}
    """
    made = draft(text, "ours", "made.json")
    assert [Condition.OK, Condition.OK] == [r.condition for r in made.snapshot.readings]
    ours = Dialect("ours", made.files["dialect.toml"], made.files, "ours", "here")
    changed = read_text(text.replace(b'"OK"}}\n    ]', b'"Critical"}}\n    ]'), "changed", (ours,), ours)
    assert [Condition.OK, None] == [r.condition for r in changed.readings]


def test_an_alarm_that_was_clear_is_not_passed_over_when_it_stands() -> None:
    """A figure on a line that nobody takes may be any other figure, but not where its key says alarm or fault."""
    text = b"".join(
        b"Chassis Fan %d:\n  fan%d_input: %d00.000\n  fan%d_min: 3000.000\n  fan%d_alarm: 0.000\n"
        % (n, n, 93 + n, n, n)
        for n in (1, 2, 3)
    )
    made = draft(text, "ours", "fans.txt")
    assert 3 == len(made.snapshot.readings)
    ours = Dialect("ours", made.files["dialect.toml"], made.files, "ours", "here")
    changed = read_text(text.replace(b"fan2_alarm: 0.000", b"fan2_alarm: 1.000"), "changed", (ours,), ours)
    assert [b"fan2_alarm: 1.000".decode()] == [u.text.strip() for u in changed.unread]


def test_bare_rows_without_a_prompt_or_a_header_are_known_by_themselves() -> None:
    rows = b"".join(b"Fan %d  | 5%d00 RPM | ok\n" % (n, n) for n in range(1, 5))
    made = draft(rows, "ours", "rows.txt")
    assert 4 == len(made.snapshot.readings)
    assert not made.commands
    ours = Dialect("ours", made.files["dialect.toml"], made.files, "ours", "here")
    other = read_text(rows.replace(b"Fan 3  | 5300 RPM | ok", b"Fan 3  | 5300 RPM | failed"), "other", (ours,), ours)
    assert ["fan-3"] == [r.unit for r in other.readings if r.condition is not Condition.OK]


def test_a_word_that_nobody_is_sure_of_stays_unknown_and_is_told() -> None:
    made = draft(AT_A_GLANCE, "ours", "razorbill.txt")
    assert {"ok": Condition.OK, "sulking": Condition.UNKNOWN} == made.words["fan"]
    assert "| fan | `sulking` | **unknown** |" in report_of(made)
    (fan,) = [r for r in made.snapshot.readings if r.unit == "fan-2" and r.status_text]
    assert Condition.UNKNOWN is fan.condition
    assert "ok" != made.files["dialect.toml"].partition('sulking" = "')[2][:2]


def test_another_word_in_a_place_that_tells_how_a_thing_is_makes_the_row_unread() -> None:
    """The presence column was not taken; a fan that is not there must not be read by the speed beside it."""
    raw = CASES["sonic/psu-2-replaced"].text("after")
    made = draft(raw, "ours", "after")
    ours = Dialect("ours", made.files["dialect.toml"], made.files, "ours", "here")
    changed = raw.replace(b"Present        OK  20261118 06:51:30", b" Absent        OK  20261118 06:51:30", 1)
    assert changed != raw
    snapshot = read_text(changed, "changed", (ours,), ours)
    assert "fan-1" not in {r.unit for r in snapshot.readings}
    assert [9] == [u.number for u in snapshot.unread]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (b"The tide rose.\nNobody looked at the fans.\n", "no supply, fan or temperature was recognised"),
        (b"interface Ethernet1\n no shutdown\n!\nend\n", "no supply, fan or temperature was recognised"),
    ],
)
def test_what_cannot_be_drafted_is_refused_with_a_reason(tmp_path: Path, text: bytes, reason: str) -> None:
    (tmp_path / "capture.txt").write_bytes(text)
    done = run("dialect", "draft", "capture.txt", "--name", "ours", cwd=tmp_path)
    assert (3, True, True) == (done.returncode, reason in done.stderr, "Nothing was written" in done.stderr)
    assert ["capture.txt"] == [p.name for p in tmp_path.iterdir()]


@pytest.mark.parametrize("name", ["../ours", "Ours", "", "sonic"])
def test_a_name_that_is_none_or_taken_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "capture.txt").write_bytes(AT_A_GLANCE)
    assert run("dialect", "draft", "capture.txt", "--name", name, cwd=tmp_path).returncode == 2
    assert ["capture.txt"] == [p.name for p in tmp_path.iterdir()]


def test_nothing_that_is_there_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "capture.txt").write_bytes(AT_A_GLANCE)
    assert run("dialect", "draft", "capture.txt", "--name", "ours", cwd=tmp_path).returncode == 0
    before = (tmp_path / "ours" / "dialect.toml").read_bytes()
    done = run("dialect", "draft", "capture.txt", "--name", "ours", cwd=tmp_path)
    assert (2, True) == (done.returncode, "is there already" in done.stderr)
    assert before == (tmp_path / "ours" / "dialect.toml").read_bytes()


def test_the_case_of_a_draft_never_claims_that_something_is_verified() -> None:
    for name in WITHHELD:
        if name in CASES:
            made = draft(CASES[name].text("before"), "ours", "before")
            assert f'verdict = "{Verdict.VERIFIED.value}"' not in case_text(made)


def test_text_of_a_device_is_no_markup_in_the_report() -> None:
    made = draft(AT_A_GLANCE.replace(b"sulking", b"<b>|`x`"), "ours", "razorbill.txt")
    report = report_of(made)
    assert "`<b>¦'x'`" in report
    assert "<b>" not in report.replace("`<b>¦'x'`", "")


def test_whatever_the_bytes_a_draft_is_made_or_refused() -> None:
    for cut in range(0, len(AT_A_GLANCE), 7):
        for text in (AT_A_GLANCE[:cut], AT_A_GLANCE[cut:], AT_A_GLANCE[:cut] + b"\x00\x1b[2K\xff" + AT_A_GLANCE[cut:]):
            try:
                made = draft(text, "ours", "cut")
            except CannotDraft:
                continue
            assert not told(made.snapshot) - told(made.inferred)


def test_patterns_are_no_wider_than_what_stands_there() -> None:
    assert r"[+-]?\d+" == value(["12", "9"])
    assert r"[+-]?\d+(?:\.\d+)?" == value(["12", "9.5"])
    assert r"[+-]?\d+\.\d+|N/A" == value(["9.5", "N/A"])
    assert r"[+-]?\d+(?:\.\d+)?(?: V|mV)" == value(["12.1 V", "760mV"])
    assert r"[A-Za-z][A-Za-z/_-]*" == value(["ok", "failed"])
    assert r"\S+" == value(["TS2611A0417", "x-1"])
    assert ("Speed", Gap(2), r"\(rpm\)", Gap(1), r"x\d+") == frame("Speed  (rpm) x12")
    assert (r"[+-]?\d[\d.,]*", Gap(1), r"\S+(?: \S+)*", Gap(2), "ok") == row("12 tide gauge north  ok", [], [], True)
