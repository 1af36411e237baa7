"""What other tools are given says the same as the verdict, is of the published form, and is harmless whatever a device prints."""

import csv
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as Xml

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from markdown_it import MarkdownIt
from support import DATA, dialect, q, sighted, snapshot

from consolecheck.cases.check import cases_of, judged
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.folder import Folder
from consolecheck.job.held import held
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.judging.logic import verdict_of
from consolecheck.judging.settling import settling_of
from consolecheck.judging.view import Observed, Sample
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Evidence, Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Fan, Inventory, PowerSupply, Reading, Snapshot, Temperature
from consolecheck.records.text import UnreadLine
from consolecheck.records.units import Quantity
from consolecheck.reporting.exchange import ReplayDocument
from consolecheck.reporting.exchange_files import files_of, write_all
from consolecheck.reporting.junit import junit
from consolecheck.reporting.paper import for_paper, pdf_of
from consolecheck.reporting.proof import Event, Proof
from consolecheck.reporting.safe import safe
from consolecheck.reporting.table import READINGS, readings_csv, samples_csv
from consolecheck.reporting.ticket import reasons, ticket

CASES = {f"{c.dialect_name}/{c.name}": c for c in cases_of(shipped("fixtures"))}
AT = "2026-11-18T06:51:23Z"
FORM = etree.RelaxNG(etree.parse(DATA / "junit_ant.rng"))
SCHEMA = ReplayDocument.model_json_schema()


def proof_of(name: str) -> Proof:
    case = CASES[name]
    found = judged(case, dialects())
    texts = {side: case.text(side) for side in ("before", "after")}
    digests = {"before.txt": "a" * 64, "after.txt": "b" * 64}
    return Proof(
        found.judgement, found.before, found.after, texts, digests, case.acceptance(), "0", case.observed(), case.file.reseat
    )  # fmt: skip


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Proof:
    """A whole swap on the simulated switch."""
    path = tmp_path_factory.mktemp("job") / "tern-04"
    subprocess.run(
        [sys.executable, "-m", "consolecheck", "demo", "--keep", str(path)],
        check=True,
        capture_output=True,
        timeout=120,
    )
    wexcombe = dialect("wexcombe")
    found = held(Folder(path), wexcombe)
    assert found.before is not None
    sides = {"before": found.before, "after": found.after}
    before, after = (read_text(sides[s], f"{s}.txt", (wexcombe,), wexcombe) for s in ("before", "after"))
    seen = (Observed("psu-2", "serial", "WXS-31902", "R. Petrel", AT), *found.observed)
    limits = Acceptance()
    return Proof(
        judge(before, after, "psu-2", limits, seen, None, found.samples, found.taken),
        before,
        after,
        sides,
        {"before.txt": "a" * 64, "after.txt": "b" * 64},
        limits,
        "0",
        observed=seen,
        samples=found.samples,
        settling=settling_of(found.samples, limits),
        job={"ticket": "T-1180", "technician": "R. Petrel"},
        seal=f"the seal of {AT} holds (not signed), SHA-256 {'c' * 64}",
        journal=tuple(Event(*entry) for entry in Folder(path).journal()),
    )


# --- what every case must keep ------------------------------------------------------------------


def results(data: bytes) -> tuple[etree._Element, list[etree._Element]]:
    root = etree.fromstring(data)
    return root, root.findall("testcase")


def assert_of_the_published_form(data: bytes) -> None:
    FORM.assertValid(etree.fromstring(data))
    if copy := os.environ.get("CONSOLECHECK_JUNIT_XSD"):
        etree.XMLSchema(etree.parse(copy)).assertValid(etree.fromstring(data))


@pytest.mark.parametrize("name", CASES)
def test_every_case_is_told_the_same_in_every_file(name: str) -> None:
    proof = proof_of(name)
    verdict, findings = proof.judgement.verdict, proof.judgement.findings
    files = files_of(proof)

    assert_of_the_published_form(files["junit.xml"])
    suite, cases = results(files["junit.xml"])
    counted = {kind: len(suite.findall(f"testcase/{kind}")) for kind in ("failure", "error")}
    assert (str(len(cases)), str(counted["failure"]), str(counted["error"])) == (
        suite.get("tests"),
        suite.get("failures"),
        suite.get("errors"),
    )
    assert (verdict is Verdict.VERIFIED) is (counted["failure"] + counted["error"] == 0)
    assert (verdict is Verdict.NOT_VERIFIED) is (counted["failure"] > 0)
    assert len(findings) <= len(cases) <= len(findings) + 1

    document = json.loads(files["result.json"])
    jsonschema.validate(document, SCHEMA)
    assert (verdict.value, len(findings)) == (document["verdict"], len(document["findings"]))
    assert {"before": "a" * 64, "after": "b" * 64} == document["digests"]

    comment = files["ticket.md"].decode()
    assert comment.startswith(f"**{verdict.value.replace('-', ' ').upper()}**")
    assert len(comment.splitlines()) <= 15
    assert "a" * 64 in comment

    rows = list(csv.DictReader(io.StringIO(files["readings.csv"].decode(), newline=""), strict=True))
    assert proof.before is not None
    expected = sum(max(len(r.quantities()), 1) for s in (proof.before, proof.after) for r in s.readings)
    assert expected == len(rows)


def test_files_are_written_and_named(job: Proof, tmp_path: Path) -> None:
    written = write_all(tmp_path / "new" / "folder", job)
    names = {p.name for p in written}
    assert {"report.html", "result.json", "junit.xml", "ticket.md", "readings.csv", "samples.csv"} == names - {
        "report.pdf"
    }
    assert all(p.stat().st_size > 100 for p in written)
    assert sorted(written) == sorted((tmp_path / "new" / "folder").iterdir())


def test_the_files_are_the_same_each_time(job: Proof) -> None:
    assert files_of(job) == files_of(job)


# --- JUnit XML ----------------------------------------------------------------------------------


def finding(outcome: Outcome, required: bool = True, rule: str = "power.status", **more: object) -> Finding:
    facts: dict[str, object] = {"subject": "psu-2", "message": "told", **more}
    return Finding(rule=rule, outcome=outcome, required=required, **facts)  # type: ignore[arg-type]


def suite_of(verdict: Verdict, *findings: Finding) -> tuple[etree._Element, list[etree._Element]]:
    data = junit(Judgement(verdict, "psu-2", findings), None, snapshot(), AT)
    assert_of_the_published_form(data)
    return results(data)


def test_what_counts_and_is_unmet_is_a_failure_of_its_rule() -> None:
    told = finding(
        Outcome.UNMET,
        measured=q("0 V"),
        limit=q("207 V"),
        limit_source="IEC 60038",
        hint="measure the feed",
        evidence=(Evidence("after", 15),),
    )
    _, (case,) = suite_of(Verdict.NOT_VERIFIED, told)
    (failure,) = case
    assert ("failure", "power.status", "told") == (failure.tag, failure.get("type"), failure.get("message"))
    assert (
        "told\nmeasured: 0 V\nlimit: 207 V\nlimit from: IEC 60038\nseen at: made.txt:15\ndo: measure the feed"
        == failure.text
    )


def test_what_counts_and_is_open_is_an_error_named_undetermined() -> None:
    _, (case,) = suite_of(Verdict.INCONCLUSIVE, finding(Outcome.UNDETERMINED))
    assert [("error", "undetermined")] == [(child.tag, child.get("type")) for child in case]


@pytest.mark.parametrize("outcome", [Outcome.UNMET, Outcome.UNDETERMINED])
def test_what_does_not_count_fails_nothing_and_is_told(outcome: Outcome) -> None:
    beside = finding(outcome, required=False, standing=True, rule="cooling.status", message="fan-3 stood still before")
    suite, (_, case) = suite_of(Verdict.VERIFIED, finding(Outcome.MET), beside)
    assert ("0", "0") == (suite.get("failures"), suite.get("errors"))
    assert [] == list(case)
    assert "psu-2 (does not count)" == case.get("name")
    assert "cooling.status: fan-3 stood still before" == suite.findtext("system-out")


def test_a_swap_that_no_finding_speaks_against_fails_all_the_same_where_it_is_not_verified() -> None:
    suite, (_, case) = suite_of(Verdict.INCONCLUSIVE, finding(Outcome.MET))
    assert ("verdict", "inconclusive", "1") == (case.get("classname"), case[0].get("type"), suite.get("errors"))


def test_lines_that_were_not_read_stand_in_system_err() -> None:
    after = snapshot()._replace(unread=(UnreadLine(7, "psu-2 sarving", "no rule fits"),))
    data = junit(Judgement(Verdict.INCONCLUSIVE, "psu-2", ()), None, after, AT)
    assert "made.txt:7 was not read: psu-2 sarving   <- no rule fits" == results(data)[0].findtext("system-err")


def test_the_switch_is_the_host_and_the_time_has_no_zone(job: Proof) -> None:
    suite, _ = results(files_of(job)["junit.xml"])
    assert "tern-04" == suite.get("hostname")
    assert job.journal[-1].at.removesuffix("Z") == suite.get("timestamp")
    properties = {p.get("name"): p.get("value") for p in suite.iter("property")}
    assert {"verdict": "verified", "ticket": "T-1180", "sha256.seal": "c" * 64}.items() <= properties.items()


def test_a_journal_whose_last_time_is_none_is_judged_at_the_last_that_is_one(job: Proof) -> None:
    broken = job._replace(journal=(Event("captured", AT, {}), Event("judged", "\x00 soon", {})))
    assert "2026-11-18T06:51:23" == results(files_of(broken)["junit.xml"])[0].get("timestamp")


def test_a_time_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="is not a time"):
        junit(Judgement(Verdict.VERIFIED, "psu-2", ()), None, snapshot(), "yesterday")


@pytest.mark.parametrize(
    ("path", "change"),
    [
        (".", lambda e: e.remove(e.find("system-out"))),
        (".", lambda e: e.remove(e.find("system-err"))),
        (".", lambda e: e.remove(e.find("properties"))),
        (".", lambda e: e.insert(0, e.find("system-out"))),
        (".", lambda e: e.set("timestamp", AT)),
        (".", lambda e: e.set("timestamp", "2026-11-18 06:51:23")),
        (".", lambda e: e.attrib.pop("hostname")),
        (".", lambda e: e.set("hostname", " ")),
        (".", lambda e: e.set("tests", "one")),
        (".", lambda e: e.set("skipped", "0")),
        ("testcase", lambda e: e.attrib.pop("time")),
        ("testcase", lambda e: e.append(Xml.Element("skipped"))),
        ("testcase/failure", lambda e: e.attrib.pop("type")),
        ("testcase/failure/..", lambda e: e.append(Xml.Element("failure", type="two"))),
        ("testcase/failure/..", lambda e: e.append(Xml.Element("system-out"))),
    ],
)  # fmt: skip
def test_the_form_refuses_what_the_published_one_refuses(path: str, change: object) -> None:
    """Source: JUnit.xsd of the public repository windyroad/JUnit-Schema; each change was tried on it as well."""
    good = junit(Judgement(Verdict.NOT_VERIFIED, "psu-2", (finding(Outcome.UNMET),)), None, snapshot(), AT)
    root = Xml.fromstring(good)
    change(root.find(path))  # type: ignore[operator]
    changed = etree.fromstring(Xml.tostring(root))
    assert (True, False) == (FORM.validate(etree.fromstring(good)), FORM.validate(changed))
    if (copy := os.environ.get("CONSOLECHECK_JUNIT_XSD")) and b"skipped" not in Xml.tostring(root):
        assert not etree.XMLSchema(etree.parse(copy)).validate(changed)


# --- the comment for a ticket -------------------------------------------------------------------


def test_the_comment_of_a_good_swap(job: Proof) -> None:
    lines = files_of(job)["ticket.md"].decode().splitlines()
    assert "**VERIFIED**: `psu-2` on `tern-04`" == lines[0].strip()
    assert 3 == sum(line.startswith("- ") for line in lines)
    assert any(re.fullmatch(r"Serial: `WXS-\d+` -> `WXS-\d+`", line.strip()) for line in lines)
    assert f"SHA-256 of the seal: `{'c' * 64}`" == lines[-1]


def test_the_comment_says_what_is_against_the_swap_first() -> None:
    case = proof_of("wexcombe/psu-2-inserted-cord-out")
    lines = files_of(case)["ticket.md"].decode().splitlines()
    assert "- ``psu-2 has no input power (`dark`)`` (`power.status`, after.txt line 15)" == lines[2]
    unmet = {f.rule for f in case.judgement.findings if f.required and f.outcome is Outcome.UNMET}
    assert f"- {len(unmet) - 3} more rules not met or left open" == lines[5]


def test_what_is_against_it_comes_before_what_is_open_and_doubt_about_the_text_last() -> None:
    doubt = finding(Outcome.UNDETERMINED, rule="a", doubt="line 3 was not read")
    open_ = finding(Outcome.UNDETERMINED, rule="b")
    other = finding(Outcome.UNMET, rule="c", subject="psu-1")
    own = finding(Outcome.UNMET, rule="d")
    again = finding(Outcome.UNMET, rule="d", subject="psu-1")
    advisory = finding(Outcome.UNMET, rule="e", required=False)
    judgement = Judgement(Verdict.NOT_VERIFIED, "psu-2", (doubt, open_, other, own, again, advisory))
    assert [own, other, open_, doubt] == reasons(judgement)


def test_serials_off_the_labels_stand_in_where_the_switch_prints_none() -> None:
    judgement = Judgement(Verdict.INCONCLUSIVE, "psu-2", ())
    read = ticket(judgement, None, snapshot(), "site", {}, labels={"serial": "WXS-2"})
    assert "Serial: not known -> `WXS-2` (label)" in read
    assert "- not enough was read to decide" in read


# --- CSV ----------------------------------------------------------------------------------------


def table(data: bytes) -> list[list[str]]:
    """The rows, read strictly; every record must end with CR LF and hold no other (RFC 4180)."""
    assert data.endswith(b"\r\n")
    rows = list(csv.reader(io.StringIO(data.decode(), newline=""), strict=True))
    assert data.count(b"\r\n") == data.count(b"\r") == data.count(b"\n") == len(rows)
    return rows


def test_a_reading_has_a_row_for_each_quantity() -> None:
    supply = PowerSupply(unit="psu-2", status_text="serving", input_voltage=q("230.9 V"), output_current=q("15.8 A"))
    part = Inventory(unit="psu-2", serial="WXS-1")
    before, after = snapshot(sighted(supply, line=15)), snapshot(sighted(part, line=42))
    header, *rows = table(readings_csv(before, after))
    assert list(READINGS) == header
    assert [
        ["before", "power_supply", "psu-2", "", "", "serving", "input_voltage", "230.9", "V", "15"],
        ["before", "power_supply", "psu-2", "", "", "serving", "output_current", "15.8", "A", "15"],
        ["after", "inventory", "psu-2", "", "", "", "", "", "", "42"],
    ] == rows


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "＝", "＋", "－", "＠"])
def test_a_text_that_looks_like_a_formula_is_marked_and_a_number_is_not(first: str) -> None:
    rail = Fan(unit="fan-1", name=f"{first}cmd|' /C calc'!A0", speed=Quantity(value=-53.5, unit="rpm"))
    _, (_, _, _, name, _, _, _, value, *_) = table(readings_csv(None, snapshot(rail)))
    assert (f"'{first}cmd|' /C calc'!A0", "-53.5") == (name, value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back_as_they_were(value: float) -> None:
    reading = Temperature(name="inlet", value=Quantity(value=value, unit="Cel"))
    assert value == float(table(readings_csv(None, snapshot(reading)))[1][7])
    assert value == float(table(samples_csv((Sample(1.5, snapshot(reading)),)))[1][2])


def test_samples_have_a_row_for_each_temperature(job: Proof) -> None:
    header, *rows = table(files_of(job)["samples.csv"])
    assert ["seconds", "sensor", "value"] == header
    expected = [
        (s.seconds, r.subject, r.value.value)
        for s in job.samples
        for r in s.snapshot.readings
        if isinstance(r, Temperature) and r.value is not None
    ]
    assert expected == [(float(seconds), sensor, float(value)) for seconds, sensor, value in rows]
    assert len(rows) > 100


# --- JSON ---------------------------------------------------------------------------------------


def test_the_document_of_a_job_holds_what_only_a_job_knows(job: Proof) -> None:
    document = json.loads(files_of(job)["result.json"])
    jsonschema.validate(document, SCHEMA)
    assert 1 == document["schema"]
    first = document["observations"][0]
    assert {"unit": "psu-2", "fact": "serial", "value": "WXS-31902", "by": "R. Petrel", "at": AT} == first
    assert "c" * 64 == document["seal"]
    assert job.settling is not None
    assert [c.name for c in job.settling.courses] == [c["name"] for c in document["settling"]]
    assert document["settling"]


def test_documents_of_earlier_versions_stay_valid() -> None:
    document = json.loads(files_of(proof_of("wexcombe/psu-2-replaced"))["result.json"])
    for later in ("observations", "settling", "unrest", "seal"):
        del document[later]
    jsonschema.validate(document, SCHEMA)
    assert [] == ReplayDocument.model_validate(document).settling


def test_what_is_not_bounded_is_null_and_not_infinity(job: Proof) -> None:
    assert job.settling is not None
    course = job.settling.courses[0]._replace(to_come=float("inf"), doubt=float("inf"))
    document = json.loads(
        files_of(job._replace(settling=job.settling._replace(courses=(course,))))["result.json"],
        parse_constant=lambda word: pytest.fail(f"{word} is not JSON"),
    )
    assert (None, None) == (document["settling"][0]["to_come"], document["settling"][0]["doubt"])


# --- hostile text -------------------------------------------------------------------------------

NASTY = (
    "<script>alert(1)</script>", "]]>", "&amp;", "<!--", "`", "``` ", "**bold**", "_x_", "[a](http://b.example)",
    "![i](http://b.example/i.png)", "@everyone", "#12", "!34", "org/repo#7", "https://b.example", "www.b.example", "|",
    "\\", "$`x`$", "- [ ] x", "\n", "\r\n", "\r", "\t", "\x00", "\x1b[31m", "\x9b31m", "\x7f", "\x85", "\u2028",
    "\u202e", "\u2066", "\u200b", "\ufeff", "\ufffe", "\uffff", "\ud800", "\udfff", "\U0001f4a1", "\U000e0041",
    "=1+1", "+1", "-1", "@SUM(A1)", '"', "'", ",", ";", "=cmd|' /C calc'!A0", "x" * 10_000,
)  # fmt: skip
HOSTILE = st.lists(
    st.sampled_from(NASTY) | st.text(st.characters(exclude_categories=()), max_size=4), min_size=1, max_size=6
).map("".join)


@st.composite
def hostile_swaps(draw: st.DrawFn) -> tuple[Judgement, Snapshot, dict[str, str]]:
    """A judgement and a text in which everything that can come from a device, a file name or a person is hostile."""
    text = draw(HOSTILE)
    others = draw(st.lists(HOSTILE, min_size=6, max_size=6))
    findings = tuple(
        Finding(
            rule=draw(st.sampled_from(("power.status", "cooling.status", "seen.lamp"))),
            subject=text,
            outcome=draw(st.sampled_from(Outcome)),
            required=draw(st.booleans()),
            measured=others[0],
            limit=others[1],
            limit_source=others[2],
            message=text + others[3],
            hint=others[4],
            evidence=(Evidence("after", 1),),
        )
        for _ in range(draw(st.integers(0, 4)))
    )
    reading: Reading = Inventory(unit=text, name=others[0], status_text=others[1], serial=others[2], part_number=text)
    sensor = Temperature(unit=others[3], name=text, value=Quantity(value=-1.5, unit="Cel"))
    after = snapshot(reading, sensor)._replace(  # type: ignore[arg-type]
        source=others[4], hosts={others[5]: 1}, unread=(UnreadLine(1, text, others[0]),), dialect="made"
    )
    essential = draw(st.sampled_from(((), (("power.status", "psu-9"),))))
    return Judgement(verdict_of(findings, essential), text, findings), after, {"serial": others[0]}


def hostile_proof(swap: tuple[Judgement, Snapshot, dict[str, str]]) -> Proof:
    judgement, after, labels = swap
    seen = tuple(Observed(judgement.unit, fact, value, value, AT) for fact, value in labels.items())
    job = {"ticket": judgement.unit, "technician": labels["serial"]}
    samples = (Sample(1.0, after),)
    return Proof(
        judgement, after, after, {}, {}, Acceptance(name=judgement.unit), "0", observed=seen, samples=samples, job=job
    )


@settings(deadline=None)
@given(hostile_swaps())
def test_hostile_text_keeps_the_test_results_valid_and_their_counts_true(
    swap: tuple[Judgement, Snapshot, dict[str, str]],
) -> None:
    data = files_of(hostile_proof(swap))["junit.xml"]
    assert_of_the_published_form(data)
    suite, cases = results(data)
    bad = sum(len(case) for case in cases)
    assert (swap[0].verdict is Verdict.VERIFIED) is (bad == 0)
    assert bad == int(suite.get("failures", "")) + int(suite.get("errors", ""))
    shown = "".join(suite.itertext()) + "".join(value for e in suite.iter() for value in e.attrib.values())
    assert not set(shown) & set("\u202e\u2066\u200b\ufeff\x7f\x85\u2028\ufffe\uffff")


@settings(deadline=None)
@given(hostile_swaps())
def test_hostile_text_stays_inert_in_the_comment(swap: tuple[Judgement, Snapshot, dict[str, str]]) -> None:
    """By a CommonMark parser: text of others is only ever the content of a code span, where trackers look for nothing."""
    comment = files_of(hostile_proof(swap))["ticket.md"].decode("utf-8")
    assert len(comment.splitlines()) <= 15
    assert max(map(len, comment.splitlines())) < 500
    tokens = MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(comment)
    inline = [child for token in tokens if token.type == "inline" for child in token.children or ()]
    kinds = {t.type.removesuffix("_open").removesuffix("_close") for t in (*tokens, *inline)}
    assert {"paragraph", "inline", "bullet_list", "list_item", "text", "code_inline", "strong", "hardbreak"} >= kinds
    own = "\n".join(child.content for child in inline if child.type == "text")
    assert re.fullmatch(r"[A-Za-z0-9 :,.()>\n-]*", own), own
    assert not re.search(r"@|#|//|www", own)
    assert not [c for c in comment if c != "\n" and c != safe(c)]


def test_the_comment_shows_hostile_text_and_does_not_drop_it() -> None:
    judgement = Judgement(Verdict.NOT_VERIFIED, "psu-2", (finding(Outcome.UNMET, message="`<b>` @all #1 \x00"),))
    assert "- `` `<b>` @all #1 \\x00 `` (`power.status`)" in ticket(judgement, None, snapshot(), "site", {})


@settings(deadline=None)
@given(hostile_swaps())
def test_hostile_text_is_no_formula_and_breaks_no_row(swap: tuple[Judgement, Snapshot, dict[str, str]]) -> None:
    files = files_of(hostile_proof(swap))
    for name, width, numbers in (("readings.csv", 10, (7, 9)), ("samples.csv", 3, (0, 2))):
        header, *rows = table(files[name])
        assert len(header) == width
        assert rows
        for row in rows:
            assert len(row) == width
            for at, cell in enumerate(row):
                if at in numbers:
                    assert cell == "" or float(cell) < 100
                else:
                    assert not cell.startswith(tuple("=+-@\t\r"))
                    assert cell == safe(cell)


@settings(deadline=None)
@given(hostile_swaps())
def test_hostile_text_keeps_the_document_valid_and_plain(swap: tuple[Judgement, Snapshot, dict[str, str]]) -> None:
    data = files_of(hostile_proof(swap))["result.json"]
    assert data.isascii()
    assert not [byte for byte in data if byte < 32 and byte != 10]
    document = json.loads(data)
    jsonschema.validate(document, SCHEMA)
    assert swap[0].unit == document["unit"]


# --- PDF ----------------------------------------------------------------------------------------


def test_without_the_extra_there_is_no_pdf_and_everything_else(
    job: Proof, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)  # as if it were not installed
    assert pdf_of("<p>x</p>") is None
    assert "report.pdf" not in {path.name for path in write_all(tmp_path, job)}
    assert not (tmp_path / "report.pdf").exists()


def test_a_text_of_a_device_changes_no_colour_on_paper(job: Proof) -> None:
    """A captured line may look like a style sheet, or like the name of a colour: it is printed as it came."""
    from consolecheck.reporting.page import page

    hostile = "--ink: #fff; .plot { fill: red } var(--ink) style=var(--paper)"
    html = page(job).replace("tell power", hostile)
    assert hostile in html
    plain, paper = for_paper(page(job)), for_paper(html)
    assert hostile in paper
    assert paper.replace(hostile, "tell power") == plain


def test_the_page_for_paper_leaves_no_name_of_a_colour_and_no_drawing_without_its_rules(job: Proof) -> None:
    """The library of the extra knows no variable in a drawing: what is left of one would be drawn in black."""
    from consolecheck.reporting.page import page

    html = page(job)
    paper = for_paper(html)
    assert "var(--" in html
    assert "var(--" not in paper
    assert paper.count("<svg") == len(re.findall(r"<svg\b[^>]*><style>\.sign \{", paper))
    without = re.sub(r"(<svg\b[^>]*>)<style>.*?</style>", r"\1", paper, flags=re.DOTALL)
    assert re.sub(r"<[^>]*>", "", re.sub(r"<style>.*?</style>", "", html, flags=re.DOTALL)) == re.sub(
        r"<[^>]*>", "", re.sub(r"<style>.*?</style>", "", without, flags=re.DOTALL)
    ), "the words are the same"


def test_the_page_becomes_a_pdf_and_nothing_is_fetched_for_it() -> None:
    pytest.importorskip("weasyprint", reason="the extra `pdf` is not installed", exc_type=ImportError)
    asked: list[str] = []
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("socket.socket.connect", lambda self, address: asked.append(str(address)))
        made = pdf_of('<h1>psu-2</h1><img src="http://127.0.0.1:9/x.png"><img src="file:///etc/hostname">')
    assert made is not None
    assert ([], b"%PDF-") == (asked, made[:5])
