"""The page in a real browser: headless Chromium over its own protocol on a pipe, with nothing in between."""

import base64
import json
import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pages import CASES, hostile, of_case, of_job

from consolecheck.records.findings import Evidence, Finding, Outcome
from consolecheck.reporting.page import page
from consolecheck.reporting.proof import Proof

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PDFTOTEXT = shutil.which("pdftotext")
AXE = Path(os.environ.get("CONSOLECHECK_AXE", "axe.min.js is not here"))
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",  # a container has little of it
    "--remote-debugging-pipe",
)
A4, LETTER = (8.27, 11.69), (8.5, 11.0)  # inches: ISO 216; ANSI/ASME Y14.1

pytestmark = [
    pytest.mark.skipif(os.name != "posix" or shutil.which("bash") is None, reason="the pipe to Chromium needs bash"),
    pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed"),
]


class Browser:
    """One browser and one tab of it. Messages are JSON, each ended by a zero byte (--remote-debugging-pipe)."""

    def __init__(self, home: str) -> None:
        assert CHROMIUM is not None
        to_read, self._write = os.pipe()
        self._read, to_write = os.pipe()
        command = [CHROMIUM, *FLAGS, f"--user-data-dir={home}", "about:blank"]
        self._process = subprocess.Popen(
            ["bash", "-c", f'exec "$@" 3<&{to_read} 4>&{to_write}', "_", *command],
            pass_fds=(to_read, to_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self._number, self._rest = 0, b""
        self.events: list[dict[str, Any]] = []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session: str | None = None
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Log", "Runtime", "Performance"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if (session := getattr(self, "_session", None)) is not None:
            message["sessionId"] = session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            said = self._next()
            if said.get("id") == self._number:
                assert "error" not in said, said["error"]
                return dict(said["result"])
            self.events.append(said)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._read, 1 << 20)
            assert more, "the browser ended"
            self._rest += more
        message, _, self._rest = self._rest.partition(b"\0")
        return dict(json.loads(message))

    def wait_for(self, event: str) -> None:
        while not any(e.get("method") == event for e in self.events):
            self.events.append(self._next())

    def open(self, file: Path, width: int = 1280, dark: bool = False) -> None:
        """Loads the file afresh and waits until it has loaded."""
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1, mobile=width < 600)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.ask("Emulation.setEmulatedMedia", media="", features=[scheme])
        for url in ("about:blank", file.as_uri()):
            self.events.clear()
            self.ask("Page.navigate", url=url)
            self.wait_for("Page.loadEventFired")

    def run(self, script: str) -> Any:
        found = self.ask("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def close(self) -> None:
        self._session = None
        self.ask("Browser.close")
        self._process.wait(timeout=20)
        os.close(self._read)
        os.close(self._write)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as home:
        browser = Browser(home)
        yield browser
        browser.close()


def long() -> Proof:
    """Lines and words of 10,000 characters; of the findings a few, since a browser folds so long words slowly."""
    proof = hostile("x" * 10_000)
    assert proof.clearance is not None
    few = proof.judgement._replace(findings=proof.judgement.findings[:3])
    return proof._replace(judgement=few, clearance=proof.clearance._replace(findings=proof.clearance.findings[:1]))


PAGES = {
    "watched": lambda: of_job(),
    "against": lambda: of_case(CASES["wexcombe/psu-2-reversed-airflow"]),
    "open": lambda: of_case(CASES["wexcombe/after-cut-within-heat-table"]),
    "markup": lambda: hostile("<img src=x onerror=alert(1)>\"'"),
    "long": long,
    "odd": lambda: hostile("\x00\x1b[2J‮🌊שלום\u200b"),
}


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name, make in PAGES.items():
        found[name] = folder / f"{name}.html"
        found[name].write_text(page(make()), encoding="utf-8")
    return found


@pytest.mark.parametrize("name", PAGES)
def test_the_page_asks_for_nothing_runs_nothing_and_complains_of_nothing(
    browser: Browser, files: dict[str, Path], name: str
) -> None:
    browser.open(files[name])
    metrics = {m["name"]: m["value"] for m in browser.ask("Performance.getMetrics")["metrics"]}
    asked = [e["params"]["request"]["url"] for e in browser.events if e.get("method") == "Network.requestWillBeSent"]
    assert asked == [files[name].as_uri()]
    loud = ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Page.javascriptDialogOpening")
    assert [e for e in browser.events if e.get("method") in loud] == []
    assert browser.run("document.scripts.length + document.images.length") == 0
    assert metrics["ScriptDuration"] < 1 / 60  # seconds: one frame


def test_what_the_browser_would_complain_of_is_seen(browser: Browser, tmp_path: Path) -> None:
    """What the test above rests on: a picture from elsewhere is held back by the page's own policy, and that is told."""
    bad = page(of_case(CASES["wexcombe/psu-2-replaced"])).replace(
        "<main", '<img src="http://127.0.0.1:9/x.png"><main', 1
    )
    (tmp_path / "bad.html").write_text(bad, encoding="utf-8")
    browser.open(tmp_path / "bad.html")
    browser.run("new Promise(done => setTimeout(done, 200))")
    assert [e for e in browser.events if e.get("method") == "Log.entryAdded"] != []


def test_every_link_of_the_evidence_lands_on_its_line_and_shows_it(browser: Browser, files: dict[str, Path]) -> None:
    proof = of_case(CASES["wexcombe/psu-2-reversed-airflow"])
    browser.open(files["against"])
    links = browser.run("[...document.querySelectorAll('a[href^=\"#\"].to')].map(a => a.getAttribute('href'))")
    assert len(set(links)) > 20
    texts = {side: raw.decode().split("\n") for side, raw in proof.texts.items()}
    plain = browser.run("getComputedStyle(document.querySelector('.L')).backgroundColor")
    for link in sorted(set(links)):
        found = browser.run(
            f"(() => {{ document.querySelector('a[href=\"{link}\"]').click(); const t = document.querySelector(':target');"
            "const b = t.getBoundingClientRect(), box = t.parentElement.getBoundingClientRect(); return {"
            "id: t.id, text: t.textContent, lit: getComputedStyle(t).backgroundColor,"
            "sign: getComputedStyle(t, '::before').content,"
            "seen: b.top >= 0 && b.bottom <= innerHeight && b.top >= box.top - 1 && b.bottom <= box.bottom + 1}; })()"
        )
        side, _, number = link.removeprefix("#").partition("-L")
        assert found["id"] == link[1:]
        assert found["text"].rstrip() == texts[side][int(number) - 1].rstrip()
        assert found["seen"], link
        assert found["lit"] != plain
        assert "▶" in found["sign"]  # not by its colour alone


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [320, 390, 820, 1280])
def test_nothing_is_wider_than_the_screen(browser: Browser, files: dict[str, Path], name: str, width: int) -> None:
    """Wide tables, plots and texts scroll in boxes of their own. 320 px: WCAG 2.2, 1.4.10 Reflow."""
    browser.open(files[name], width)
    assert browser.run("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("name", [n for n in PAGES if n != "long"])  # that one is `markup` with longer words
@pytest.mark.parametrize(("width", "dark"), [(1280, False), (1280, True), (390, False), (390, True)])
@pytest.mark.skipif(not AXE.is_file(), reason="CONSOLECHECK_AXE names no axe.min.js")
def test_no_serious_fault_of_access_is_found(
    browser: Browser, files: dict[str, Path], name: str, width: int, dark: bool
) -> None:
    browser.open(files[name], width, dark)
    browser.run(AXE.read_text(encoding="utf-8") + "; 0")
    found = browser.run("axe.run(document, {resultTypes: ['violations']}).then(r => r.violations)")
    grave = [
        (v["id"], v["nodes"][0]["html"][:200], v["nodes"][0].get("failureSummary"))
        for v in found
        if v["impact"] in ("serious", "critical")
    ]
    assert grave == []


@pytest.mark.skipif(not AXE.is_file(), reason="CONSOLECHECK_AXE names no axe.min.js")
def test_a_serious_fault_of_access_would_be_found(browser: Browser, tmp_path: Path) -> None:
    """What the test above rests on: text in the colour of the paper."""
    pale = page(of_case(CASES["wexcombe/psu-2-replaced"])).replace("--muted: #545b61", "--muted: #e0e0e0")
    (tmp_path / "pale.html").write_text(pale, encoding="utf-8")
    browser.open(tmp_path / "pale.html")
    browser.run(AXE.read_text(encoding="utf-8") + "; 0")
    found = browser.run("axe.run(document).then(r => r.violations.map(v => v.id))")
    assert "color-contrast" in found


def test_the_page_can_be_walked_with_the_keyboard(browser: Browser, files: dict[str, Path]) -> None:
    """The first key press reaches a way past the opening, which is shown then."""
    browser.open(files["watched"])
    for kind in ("keyDown", "keyUp"):
        browser.ask("Input.dispatchKeyEvent", type=kind, key="Tab", code="Tab", windowsVirtualKeyCode=9)
    found = browser.run(
        "({to: document.activeElement.getAttribute('href'), left: document.activeElement.getBoundingClientRect().left})"
    )
    assert found["to"] == "#reasons"
    assert found["left"] >= 0


def test_the_colours_follow_the_system(browser: Browser, files: dict[str, Path]) -> None:
    """Also those of the plots, whose texts stay readable on either paper."""

    def colours(dark: bool) -> list[str]:
        browser.open(files["watched"], dark=dark)
        return list(
            browser.run(
                "[getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color,"
                " getComputedStyle(document.querySelector('svg.plot text')).fill]"
            )
        )

    light, dark = colours(False), colours(True)
    assert all(a != b for a, b in zip(light, dark, strict=True))
    for paper, *inks in (light, dark):
        assert all(contrast(paper, ink) >= 4.5 for ink in inks)  # WCAG 2.2, 1.4.3


def contrast(one: str, other: str) -> float:
    """The ratio of two CSS colours: relative luminance by WCAG 2.2."""

    def luminance(colour: str) -> float:
        parts = [int(n) / 255 for n in re.findall(r"\d+", colour)[:3]]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def printed(browser: Browser, file: Path, size: tuple[float, float], tmp_path: Path) -> list[str]:
    """The texts of the pages on paper, with white space made even."""
    browser.open(file)
    data = browser.ask("Page.printToPDF", paperWidth=size[0], paperHeight=size[1], printBackground=False)["data"]
    (tmp_path / "printed.pdf").write_bytes(base64.b64decode(data))
    assert PDFTOTEXT is not None
    text = subprocess.run(
        [PDFTOTEXT, "-layout", str(tmp_path / "printed.pdf"), "-"], check=True, capture_output=True
    ).stdout.decode()
    return [" ".join(part.split()) for part in text.split("\f")[:-1]]


@pytest.mark.skipif(PDFTOTEXT is None, reason="pdftotext is not installed")
@pytest.mark.parametrize("size", [A4, LETTER], ids=["A4", "Letter"])
@pytest.mark.parametrize(
    ("name", "told"), [("watched", "Verified"), ("against", "Not verified"), ("open", "Inconclusive")]
)
def test_on_paper_the_verdict_and_a_reason_stand_on_the_first_page(
    browser: Browser, files: dict[str, Path], name: str, told: str, size: tuple[float, float], tmp_path: Path
) -> None:
    first, *rest = printed(browser, files[name], size, tmp_path)
    judgement = PAGES[name]().judgement
    assert told in first
    against = [f for f in judgement.findings if f.required and f.outcome is not Outcome.MET]
    reason = (against or [f for f in judgement.findings if f.rule == "identity.replaced"])[0].message
    assert " ".join(reason.split()) in first
    assert "after.txt:" in first  # links are told as file and line
    assert "Skip to the reasons" not in first
    assert f"1 / {1 + len(rest)}" in first


@pytest.mark.skipif(PDFTOTEXT is None, reason="pdftotext is not installed")
@pytest.mark.parametrize("size", [A4, LETTER], ids=["A4", "Letter"])
def test_on_paper_no_row_of_a_table_is_cut(browser: Browser, size: tuple[float, float], tmp_path: Path) -> None:
    """Rows of many lines, each line of which can be told from every other: all of a row stand on one page."""
    proof = of_case(CASES["wexcombe/psu-2-replaced"])
    rows = [
        Finding(
            rule="made.up",
            subject="text",
            outcome=Outcome.MET,
            message=" ".join(f"r{row:03}w{word:02}" for word in range(5 + row % 40)),
            evidence=(Evidence("after", 1),),
        )
        for row in range(80)
    ]
    whole = page(proof._replace(judgement=proof.judgement._replace(findings=tuple(rows))))
    (tmp_path / "rows.html").write_text(whole, encoding="utf-8")
    assert cut_rows(printed(browser, tmp_path / "rows.html", size, tmp_path), 80) == []
    # And what is cut would be seen.
    careless = whole.replace("  tr, figure, ", "  figure, ")
    assert careless != whole
    (tmp_path / "rows.html").write_text(careless, encoding="utf-8")
    assert cut_rows(printed(browser, tmp_path / "rows.html", size, tmp_path), 80) != []


def cut_rows(pages: list[str], rows: int) -> list[int]:
    on: dict[int, set[int]] = {}
    for number, text in enumerate(pages):
        for row in re.findall(r"r(\d{3})w\d\d", text):
            on.setdefault(int(row), set()).add(number)
    assert len(on) == rows
    return [row for row, where in on.items() if len(where) > 1]


@pytest.mark.skipif(PDFTOTEXT is None, reason="pdftotext is not installed")
@pytest.mark.parametrize("name", ["long", "odd", "markup"])
def test_hostile_text_goes_onto_paper_whole(
    browser: Browser, files: dict[str, Path], name: str, tmp_path: Path
) -> None:
    """A line of 10,000 characters is folded there, not run off the edge."""
    pages = printed(browser, files[name], A4, tmp_path)
    assert len(pages) > 2
    if name == "long":
        longest = max(len(m[0]) for m in re.finditer(r"x+", "".join(pages).replace(" ", "")))
        assert longest >= 10_000
