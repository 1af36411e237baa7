"""The page: what it tells and in which order, that every link leads somewhere, and that no text becomes markup."""

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pages import CASES, hostile, of_case, of_job
from support import dialect
from typer.testing import CliRunner

from consolecheck.cli.main import app
from consolecheck.cli.shared import NOT_VERIFIED, STOPPED, USAGE, Stop
from consolecheck.judging.judge import judge_alone
from consolecheck.judging.settling import Course
from consolecheck.records.findings import Evidence, Finding, Outcome
from consolecheck.records.readings import Condition, Temperature
from consolecheck.reporting.page import evidence as evidence_module
from consolecheck.reporting.page import page
from consolecheck.reporting.page.markup import escaped, said, tag
from consolecheck.reporting.page.sensors import Sensor, curve, sensors
from consolecheck.reporting.page.signs import condition, outcome

FETCHING = ("href", "src", "style", "content", "xlink:href", "action", "fill", "filter")
EMPTY = {"meta", "br"}  # elements without an end in HTML; those of SVG close themselves
TAGS = {
    *("html", "head", "meta", "title", "style", "body", "main", "header", "footer", "section", "div", "span", "p", "a"),
    *("h1", "h2", "h3", "ol", "ul", "li", "dl", "dt", "dd", "table", "caption", "thead", "tbody", "tr", "th", "td"),
    *("pre", "code", "mark", "b", "bdi", "br", "time", "figure", "figcaption"),
    *("svg", "g", "defs", "path", "circle", "rect", "use", "text", "desc", "clippath", "pattern"),
}


class Read(HTMLParser):
    """A page as a browser takes it apart: every element opened must be closed in turn."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.open: list[str] = []
        self.odd: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if len(dict(attrs)) != len(attrs):
            self.odd.append(f"<{tag}> says something twice")
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.odd.append(f"</{tag}> closes what is not open")

    def handle_data(self, data: str) -> None:
        self.texts.append((self.open[-1] if self.open else "", data))

    def handle_comment(self, data: str) -> None:
        self.odd.append(f"a comment: {data}")

    def unknown_decl(self, data: str) -> None:
        self.odd.append(f"a declaration: {data}")

    @property
    def text(self) -> str:
        return "".join(data for where, data in self.texts if where != "style")

    def ids(self) -> list[str]:
        return [i for _, attributes in self.elements if (i := attributes.get("id"))]

    def said_within(self, tag: str) -> list[str]:
        return [data for where, data in self.texts if where == tag]


def faults(text: str) -> list[str]:
    """What a careful reader of the markup objects to."""
    read = Read(text)
    found = [*read.odd, *(f"<{tag}> is left open" for tag in read.open)]
    found += [f"<{tag}> does not belong here" for tag, _ in read.elements if tag not in TAGS]
    ids = read.ids()
    found += [f"id {i!r} stands twice" for i in set(ids) if ids.count(i) > 1]
    for tag_name, attributes in read.elements:
        found += [f"<{tag_name}> runs {name}" for name in attributes if name.startswith("on")]
        for name in ("href", "src", "action", "data"):
            if (value := attributes.get(name)) is not None and not (value.startswith("#") and value[1:] in ids):
                found.append(f"{name}={value!r} leads nowhere on this page")
        for name in ("aria-labelledby", "clip-path", "style"):
            for named in re.findall(
                r"url\(#([^)]*)\)" if name != "aria-labelledby" else r"\S+", attributes.get(name) or ""
            ):
                if named not in ids:
                    found.append(f"{name} of <{tag_name}> names {named!r}, which is not there")
    for fetched in ("http:", "https:", "//", "@import", "javascript:", "url(h"):
        for tag_name, attributes in read.elements:
            found += [f"<{tag_name}> holds {fetched}" for name in FETCHING if fetched in (attributes.get(name) or "")]
        if any(fetched in said for said in read.said_within("style")):
            found.append(f"the style sheet holds {fetched}")
    return found


JOB = page(of_job())


def test_a_page_is_sound_whole_and_by_itself() -> None:
    assert faults(JOB) == []
    assert JOB.startswith('<!doctype html>\n<html lang="en">')
    assert "<script" not in JOB
    policy = [a["content"] for t, a in Read(JOB).elements if t == "meta" and "http-equiv" in a]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'; img-src data:"]


@pytest.mark.parametrize("name", [n for n in CASES if n.count("replaced") or n.startswith("wexcombe/")])
def test_a_page_can_be_made_of_every_case_and_leads_to_lines_that_are_there(name: str) -> None:
    proof = of_case(CASES[name])
    text = page(proof)
    assert faults(text) == []
    read = Read(text)
    shown = set(read.ids())
    for finding in proof.judgement.findings:
        for one in finding.evidence[:1]:
            assert f"{one.capture}-L{one.line}" in shown
            assert f'href="#{one.capture}-L{one.line}"' in text


def test_the_faults_of_a_page_are_seen() -> None:
    """What the tests above rest on."""
    assert faults('<!doctype html><p id="a">') == ["<p> is left open"]
    assert faults('<a href="#b">x</a>') == ["href='#b' leads nowhere on this page"]
    assert faults('<p id="a"></p><p id="a"></p>') == ["id 'a' stands twice"]
    assert faults("<script></script>") == ["<script> does not belong here"]
    assert faults('<p onclick="x"></p>') == ["<p> runs onclick"]
    assert faults('<style>@import "x";</style>') == ["the style sheet holds @import"]


HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'><b>bold</b>",
    "</style></title></pre><script>",
    "<!-- never closed",
    "&lt;already&amp;",
    "]]><![CDATA[",
    "javascript:alert(1)",
    "$x^2$ $\\frac$",
    "q00000q q00001q",
    "#010201 var(--ink) url(#p)",
    "\x1b[31mred\x07\x00null\x08",
    "‮desrever‬ ⁦isolated⁩ ‏",
    "zero\u200bwidth\ufeff\u2028\u2029",
    "שלום عليكم",
    "🌊🧪👩‍🔧",
    "x" * 10_000,
    "\ud800 alone",
    "{0} %s {x}",
    "line\nfeed\rreturn\ttab",
]


@pytest.mark.parametrize("text", HOSTILE, ids=[ascii(t)[:24] for t in HOSTILE])
def test_no_text_of_a_device_or_a_person_becomes_markup_wherever_it_stands(text: str) -> None:
    made = page(hostile(text))
    assert faults(made) == []
    assert [] == [c for c in made if c != "\n" and c != "\t" and (ord(c) < 32 or 0x7F <= ord(c) < 0xA0)]
    assert [] == re.findall("[‎‏‪-‮⁦-⁩\u200b\ufeff\u2028\u2029\ud800-\udfff]", made)
    made.encode("utf-8")


def test_a_hostile_text_is_still_there_to_be_read() -> None:
    """Escaped, and not dropped: in the heading, the tables, the plots, the journal and the captured text."""
    read = Read(page(hostile("<b>&")))
    for within in ("bdi", "code", "title", "text", "span"):
        assert any("<b>&" in data for data in read.said_within(within)), within
    assert read.text.count("<b>&") > 200


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(max_size=60))
def test_any_text_leaves_the_page_sound(text: str) -> None:
    assert faults(page(hostile(text))) == []


@given(st.text())
def test_what_is_escaped_comes_back_as_safe_text(text: str) -> None:
    from consolecheck.reporting.safe import safe

    assert Read(tag("p", text, title=text)).text == safe(text)
    assert dict(Read(tag("p", text, title=text)).elements)["p"] == {"title": safe(text)}
    assert escaped(escaped(text)) == escaped(text)


def test_the_verdict_comes_first_and_every_part_in_its_order() -> None:
    read = Read(JOB)
    assert [d for w, d in read.texts if w == "h1"] == ["Verified"]
    assert read.said_within("h2") == [
        "Why",
        "The chassis from behind",
        "Temperatures",
        "Load",
        "Fans",
        "Parts and serials",
        "Seen by a person",
        "Clearance before it was pulled",
        "What happened when",
        "Every finding",
        "The captured texts",
        "Digests and seal",
    ]
    levels = [int(t[1]) for t, _ in read.elements if t in ("h1", "h2", "h3")]
    assert levels[0] == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))


@pytest.mark.parametrize(
    ("name", "verdict", "told"),
    [
        ("wexcombe/psu-2-replaced", "Verified", "What decided it"),
        ("wexcombe/psu-2-dead-replacement", "Not verified", "Against it"),
        ("wexcombe/after-cut-within-heat-table", "Inconclusive", "Left open"),
    ],
)
def test_the_reasons_follow_the_verdict(name: str, verdict: str, told: str) -> None:
    proof = of_case(CASES[name])
    read = Read(page(proof))
    assert read.said_within("h1") == [verdict]
    assert read.said_within("h3")[0] == told
    against = [f for f in proof.judgement.findings if f.required and f.outcome is not Outcome.MET]
    before_the_drawing = read.text.partition("The chassis from behind")[0]
    assert all(f.message in before_the_drawing for f in against[:12])
    assert all(f.hint in before_the_drawing for f in against[:12] if f.hint)


def test_every_finding_stands_in_the_table_with_its_figures() -> None:
    proof = of_job()
    table = JOB[JOB.index('id="findings"') : JOB.index('id="texts"')]
    for finding in proof.judgement.findings:
        assert escaped(finding.message) in table
        assert finding.rule in table
        assert finding.measured is None or escaped(str(finding.measured)) in table
    assert table.count('scope="row"') == len(proof.judgement.findings)


def test_condition_and_outcome_are_told_in_words_and_shapes() -> None:
    """Not one of them by its colour alone."""
    text = page(of_case(CASES["wexcombe/psu-2-left-empty"]))
    rear = text[text.index('id="rear"') : text.index('id="heat"')]
    bay = rear[rear.index("ours") :].partition("</li>")[0]
    assert "absent" in bay
    assert "vacant" in bay
    assert 'class="line dashed"' in bay
    for told in (*map(condition, Condition), *map(outcome, Outcome)):
        assert Read(told).text.replace(" ", "-") in (*Condition, *Outcome)
    shapes = [re.sub(r"^<span[^>]*><svg[^>]*>|</svg>.*", "", condition(c)) for c in Condition]
    assert len(set(shapes)) == len(Condition)


def test_a_part_that_changed_beside_the_one_of_the_job_is_marked() -> None:
    rear = page(of_case(CASES["wexcombe/psu-1-pulled-instead-of-psu-2"]))
    assert "another part, too" in rear
    assert ">this job<" in rear
    assert ">replaced<" in page(of_case(CASES["wexcombe/psu-2-replaced"]))
    assert "moved here from" in page(of_case(CASES["wexcombe/psu-2-moved-from-psu-1"]))


def test_temperatures_show_readings_limits_curve_and_end() -> None:
    proof = of_job()
    heat = JOB[JOB.index('id="heat"') : JOB.index('id="load"')]
    assert heat.count("<figure>") == len([s for s in proof.after.readings if isinstance(s, Temperature)])
    psu = next(s for s in sensors(proof) if s.name == "psu-2")
    assert psu.end is not None
    assert (
        f"it will stand at {psu.end:.1f} °C. Its warning limit is 60 °C and its critical limit is 70 °C."
        in Read(heat).text
    )
    times, values = curve(psu)
    off = [abs(v - dict(psu.points)[t]) for t, v in zip(times, values, strict=True) if t in dict(psu.points)]
    assert off
    assert max(off) < 0.6  # kelvin: half a step of the sensor, and a little


def test_the_curve_that_is_drawn_is_the_one_that_was_judged() -> None:
    """It ends where the course ends, and passes through points that lie on it."""
    import math

    points = tuple((float(t), 50.0 - 20 * math.exp(-t / 120)) for t in range(0, 601, 15))
    course = Course("psu-2", "psu-2", "settled", 49.9, 50.0, 0.5, 0.1, 120.0, len(points), 600.0, "")
    sensor = Sensor(("temperature", "psu-2", "psu-2"), "psu-2", 50.0, 50.0, 60.0, 70.0, course, points)
    times, values = curve(sensor)
    assert (times[0], times[-1]) == (0.0, 600.0)
    assert values == pytest.approx([50.0 - 20 * math.exp(-t / 120) for t in times], abs=1e-9)
    assert curve(sensor._replace(course=course._replace(tau=None))) == ([], [])
    assert curve(sensor._replace(course=course._replace(end=None))) == ([], [])


def test_without_samples_the_page_says_that_it_was_judged_at_one_moment() -> None:
    text = page(of_case(CASES["wexcombe/psu-2-replaced"]))
    assert "Judged at one moment" in text
    assert "<figure>" not in text
    assert "Room to the limit" in text
    assert "Judged at one moment" not in JOB


def test_without_a_capture_before_the_page_compares_nothing() -> None:
    proof = of_case(CASES["wexcombe/psu-2-replaced"])
    alone = judge_alone(proof.after, "psu-2", proof.limits)
    text = page(proof._replace(judgement=alone, before=None, texts={"after": proof.texts["after"]}))
    assert faults(text) == []
    assert "not captured" in text
    assert "consolecheck replay --after after.txt --unit psu-2" in Read(text).text


def test_load_shows_the_limit_that_redundancy_leaves() -> None:
    load = Read(JOB[JOB.index('id="load"') : JOB.index('id="fans"')]).text
    found = next(f for f in of_job().judgement.findings if f.rule == "power.redundancy")
    assert found.message in load
    assert f"The limit for all together is {found.limit.value:g} W." in load  # type: ignore[union-attr]


def test_persons_are_named_with_what_they_saw_and_when() -> None:
    text = Read(JOB).text
    for told in (
        "Steady White (by the maker's chart: serving)",
        "could not see",
        "Gone on all the same by R. Petrel, 2026-11-18 06:12:41. Reason: the tide is out",
        "Cautions acknowledged by R. Petrel, 2026-11-18 06:12:41:Wear the strap.",
        "1 sample taken",
        "The console was lost: the line went quiet",
        "consolecheck replay swap-0412",
        "ab" * 32,
    ):
        assert told in text


def test_standing_faults_are_told_apart() -> None:
    proof = of_case(CASES["wexcombe/standing-fan-fault-elsewhere"])
    text = page(proof)
    told = Read(text[text.index('id="standing"') :].partition("</section>")[0]).text
    standing = [f for f in proof.judgement.findings if f.standing]
    assert standing
    assert all(f.message in told for f in standing)
    assert "They are not held against this swap." in told


def test_the_captured_text_stands_there_line_by_line_and_marks_what_decided() -> None:
    proof = of_case(CASES["wexcombe/psu-2-dead-replacement"])
    text = page(proof)
    raw = proof.texts["after"].decode().split("\n")
    shown = re.findall(r'<span class="L[^"]*" id="after-L(\d+)" data-n="\1">(.*?)\n</span>', text)
    assert [int(n) for n, _ in shown] == list(range(1, len(raw)))
    assert [Read(inside).text.strip() for _, inside in shown] == [line.strip() for line in raw[:-1]]
    one = next(
        e for f in proof.judgement.findings for e in f.evidence if f.outcome is Outcome.UNMET and e.start is not None
    )
    marked = Read(dict(shown)[str(one.line)]).said_within("mark")
    assert raw[one.line - 1][one.start : one.end] in marked


def test_of_a_very_long_text_the_lines_around_the_evidence_are_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(evidence_module, "MOST_LINES", 20)
    monkeypatch.setattr(evidence_module, "AROUND", 1)
    proof = of_case(CASES["wexcombe/psu-2-replaced"])
    only = Finding(
        rule="text.unread", subject="text", outcome=Outcome.MET, message="x", evidence=(Evidence("after", 9),)
    )
    text = page(proof._replace(judgement=proof.judgement._replace(findings=(only,))))
    assert re.findall(r'id="after-L(\d+)"', text) == ["8", "9", "10"]
    assert "lines 1 to 7 are in the file" in text
    assert faults(text) == []


def test_evidence_for_a_line_that_is_not_there_gives_no_link() -> None:
    """A finding that came back from a file may name any line."""
    proof = of_job()
    odd = Finding(
        rule="x",
        subject="x",
        outcome=Outcome.UNMET,
        message="x",
        evidence=(Evidence("after", 10**9), Evidence("before", -1)),
    )
    assert faults(page(proof._replace(judgement=proof.judgement._replace(findings=(odd,))))) == []


def test_a_long_word_may_be_broken_and_a_short_one_not() -> None:
    assert said("x" * 33) == f'<bdi class="long">{"x" * 33}</bdi>'
    assert said("x" * 32) == f"<bdi>{'x' * 32}</bdi>"


def test_a_plot_that_stands_beside_another_shares_no_name_with_it() -> None:
    names = [a["aria-labelledby"] for t, a in Read(JOB).elements if t == "svg" and a.get("role") == "img"]
    assert len(names) >= 9
    assert len(set(names)) == len(names)


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A whole job against the simulated switch, sealed."""
    kept = tmp_path_factory.mktemp("jobs") / "tern-04"
    assert CliRunner().invoke(app, ["demo", "--keep", str(kept)]).exit_code == 0
    return kept


def test_report_writes_beside_the_folder_and_leaves_its_seal_whole(job: Path) -> None:
    ended = CliRunner().invoke(app, ["report", str(job)])
    assert ended.exit_code == 0
    file = job.with_name("tern-04-report") / "report.html"
    assert str(file) in ended.output
    text = file.read_text(encoding="utf-8")
    assert faults(text) == []
    read = Read(text).text
    assert "holds (not signed), SHA-256" in read
    assert "psu-2 was taken out; the slot may stay open for 120 s" in read
    assert "Go: it may be pulled" in read
    assert CliRunner().invoke(app, ["replay", str(job)]).exit_code == 0


def test_report_ends_as_the_verdict_does(tmp_path: Path) -> None:
    kept = tmp_path / "tern-04"
    CliRunner().invoke(app, ["demo", "--fault", "wrong-slot", "--keep", str(kept)])
    ended = CliRunner().invoke(app, ["report", str(kept), "--to", str(tmp_path / "page")])
    assert ended.exit_code == NOT_VERIFIED
    assert Read((tmp_path / "page" / "report.html").read_text(encoding="utf-8")).said_within("h1") == ["Not verified"]


def test_report_refuses_a_clearance_that_cannot_be_understood(job: Path, tmp_path: Path) -> None:
    import shutil

    changed = tmp_path / "tern-04"
    shutil.copytree(job, changed)
    for name in ("seal.json", "clearance.json"):
        (changed / name).unlink()
    (changed / "clearance.json").write_text('{"schema": 1, "unit": "psu-2", "answer": "perhaps", "findings": []}')
    ended = CliRunner().invoke(app, ["report", str(changed), "--to", str(tmp_path / "page")])
    assert isinstance(ended.exception, Stop)
    assert ended.exception.code == STOPPED
    assert not (tmp_path / "page").exists()


def test_report_refuses_to_write_into_the_folder_it_reports_on(job: Path) -> None:
    ended = CliRunner().invoke(app, ["report", str(job), "--to", str(job / "page")])
    assert isinstance(ended.exception, Stop)
    assert ended.exception.code == USAGE
    assert not (job / "page").exists()


def test_report_refuses_a_folder_that_was_changed_after_it_was_sealed(job: Path, tmp_path: Path) -> None:
    import shutil

    changed = tmp_path / "tern-04"
    shutil.copytree(job, changed)
    with (changed / "after.txt").open("ab") as file:
        file.write(b"x")
    ended = CliRunner().invoke(app, ["report", str(changed), "--to", str(tmp_path / "page")])
    assert isinstance(ended.exception, Stop)
    assert ended.exception.code == STOPPED
    assert "after.txt" in str(ended.exception)
    assert not (tmp_path / "page").exists()


def test_a_job_for_several_units_has_a_page_for_each(job: Path, tmp_path: Path) -> None:
    import json
    import shutil

    around = tmp_path / "tern-04"
    around.mkdir()
    for unit in ("psu-1", "psu-2"):
        shutil.copytree(job, around / unit)
    (around / "units.json").write_text(json.dumps({"schema": 1, "units": ["psu-1", "psu-2"]}))
    ended = CliRunner().invoke(app, ["report", str(around)])
    assert ended.exit_code == 0
    pages = sorted(p.relative_to(tmp_path).as_posix() for p in tmp_path.glob("tern-04-report/*/report.html"))
    assert pages == ["tern-04-report/psu-1/report.html", "tern-04-report/psu-2/report.html"]


def slots(html: str) -> list[list[tuple[str, str]]]:
    """The slots of each drawn row: their labels, and the first letter of what they hold."""
    rows = re.findall(r'<ol class="bays[^"]*">(.*?)</ol>', html, re.DOTALL)
    drawn = re.compile(r'<p class="slot">.*?<b><bdi>(.*?)</bdi></b>\s*<span>(\w)', re.DOTALL)
    return [drawn.findall(row) for row in rows]


def test_slots_stand_as_the_familys_data_place_them_and_else_in_a_row() -> None:
    """A unit that the data do not name stands below, and one that no text shows is not drawn."""
    proof = of_case(CASES["wexcombe/psu-2-replaced"])
    plain = [[("1", "p"), ("2", "p"), ("1", "f"), ("2", "f"), ("3", "f")]]
    assert slots(page(proof)) == plain
    assert "In a plain row" in page(proof)
    placed = page(proof._replace(rear=[["psu-1", "fan-1", "fan-2"], ["fan-9", "psu-2"]]))
    assert slots(placed) == [[("1", "p"), ("1", "f"), ("2", "f")], [("2", "p")], [("3", "f")]]
    assert "below, those that they do not name" in placed
    whole = page(proof._replace(rear=dialect("wexcombe").manifest.chassis.rear))
    assert slots(whole) == [[("1", "p"), ("1", "f"), ("2", "f"), ("3", "f"), ("2", "p")]]
