"""The data of the dialects is tested as data, and a broken manifest is refused with file, key and reason."""

from pathlib import Path

import pytest

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.dialect import COMMON_WORDS, Dialect, DialectFault
from consolecheck.reading.reader import NotRecognised, read_text, recognise
from consolecheck.reading.template import Template, template_faults
from consolecheck.records.readings import Condition
from consolecheck.records.text import Line

NAMES = [d.name for d in dialects()]
CASES = cases_of(shipped("fixtures"))


def dialect(name: str) -> Dialect:
    return next(d for d in dialects() if d.name == name)


@pytest.mark.parametrize("name", NAMES)
def test_templates_and_manifest_keep_the_laws(name: str) -> None:
    assert [] == [str(fault) for fault in dialect(name).faults()]


@pytest.mark.parametrize("name", NAMES)
def test_no_log_or_refusal_pattern_claims_a_table_row(name: str) -> None:
    """A pattern for console messages that fits a row would make the row vanish without a trace."""
    known = dialect(name)
    for case in CASES:
        if case.dialect_name != name:
            continue
        for side in ("before", "after"):
            snapshot = read_text(case.text(side), side, dialects())
            rows = {n for s in snapshot.sightings for n in s.lines}
            lines = case.text(side).decode("utf-8").split("\n")
            for number in rows:
                text = lines[number - 1].rstrip("\r")
                for pattern in (known.log, known.refusal):
                    assert pattern is None or not pattern.match(text), (case.place, text)


@pytest.mark.parametrize("name", NAMES)
def test_no_dialect_reads_another_families_text_in_silence(name: str) -> None:
    """Forced upon another family's text, a dialect must say that it did not read it."""
    for case in CASES:
        if case.dialect_name != name and case.name.endswith("replaced"):
            snapshot = read_text(case.text("after"), "after", dialects(), dialect(name))
            assert snapshot.unread or not snapshot.sightings, (name, case.place)


@pytest.mark.parametrize("name", NAMES)
def test_an_unlisted_status_word_is_unknown(name: str) -> None:
    words = dialect(name).words("power_supply")
    assert "splendid" not in words
    assert Condition.OK not in {words.get(w) for w in ("present", "enabled", "on", "splendid", "")}


def test_presence_is_not_health() -> None:
    assert "present" not in COMMON_WORDS


def test_two_equal_candidates_are_named() -> None:
    one, two = (
        Dialect(
            name,
            'title = "t"\nsource = "made for this test"\n[[evidence]]\ntext = "SHARED HEAD"\nweight = 3\n'
            '[[commands]]\nsend = "x"\n[tables.t]\ntemplate = "t.textfsm"\nkind = "fan"\n',
            {"t.textfsm": "Value NAME (\\w+)\n\nStart\n  ^${NAME}$$ -> Record\n  ^. -> Error\n"},
        )
        for name in ("north", "south")
    )
    with pytest.raises(NotRecognised, match="`north` and `south` equally well") as refused:
        recognise(b"SHARED HEAD\nrow\n", (one, two))
    assert ("north", "south") == refused.value.candidates


GOOD = (shipped("parsers") / "wexcombe" / "dialect.toml").read_text(encoding="utf-8")
TEMPLATES = {p.name: p.read_text(encoding="utf-8") for p in (shipped("parsers") / "wexcombe").glob("*.textfsm")}


@pytest.mark.parametrize(
    ("find", "replace", "key", "reason"),
    [
        ('title = "wexcombe', "title = wexcombe", "", "is not TOML"),
        ("weight = 4", "weight = 40", "evidence.0.weight", "less than or equal to 10"),
        ('kind = "fan"', 'kind = "ventilator"', "tables.fans.kind", "fan"),
        ('speed = "rpm"', 'speed = "furlong"', "manifest", "not a unit"),
        ('tables = ["power"]', 'tables = ["powers"]', "manifest", "powers"),
        ('serving = "ok"', 'serving = "fine"', "words.power_supply.serving", "ok"),
        ("begins = ['SELF$']", "begins = ['SELF(']", "tables.self.begins.0", "not a regular expression"),
        ("begins = ['SELF$']", "begins = ['(SELF)$']", "tables.self.begins.0", "capturing group"),
        ("begins = ['SELF$']", "begins = ['.*']", "tables.self.begins.0", "empty line"),
        ('"b>f" = "back-to-front"', '"b>f" = "sideways"', "airflow.b>f", "front-to-back"),
        ('blank_cells = ["-"]', 'blank_cels = ["-"]', "blank_cels", "not permitted"),
    ],
)
def test_a_broken_manifest_gives_file_key_and_reason(find: str, replace: str, key: str, reason: str) -> None:
    assert find in GOOD
    with pytest.raises(DialectFault) as refused:
        Dialect("wexcombe", GOOD.replace(find, replace, 1), TEMPLATES).check()
    assert "parsers/wexcombe/dialect.toml" == refused.value.file
    assert key == refused.value.key
    assert reason in refused.value.reason


def test_a_missing_or_broken_template_gives_its_file() -> None:
    known = Dialect("wexcombe", GOOD, {k: v for k, v in TEMPLATES.items() if k != "fans.textfsm"})
    assert "parsers/wexcombe/fans.textfsm" in {f.file for f in known.faults()}
    broken = Dialect("wexcombe", GOOD, {**TEMPLATES, "fans.textfsm": "Value SLOT \\d+\n\nStart\n"})
    assert "parsers/wexcombe/fans.textfsm" in {f.file for f in broken.faults()}


def test_a_template_cannot_be_fetched_from_elsewhere(tmp_path: Path) -> None:
    from consolecheck.files.shelf import read_dialect

    folder = tmp_path / "wexcombe"
    folder.mkdir()
    (folder / "dialect.toml").write_text(GOOD.replace('"self.textfsm"', '"../self.textfsm"'), encoding="utf-8")
    (tmp_path / "self.textfsm").write_text(TEMPLATES["self.textfsm"], encoding="utf-8")
    assert any("../self.textfsm" in f.file and "missing" in f.reason for f in read_dialect(folder).faults())


HEAD = "Value NAME (\\w+)\nValue Filldown WHERE (\\w+)\n\n"


@pytest.mark.parametrize(
    ("template", "fault"),
    [
        ("Value NAME (\\w+)\n\nStart\n  ^${NAME}$$ -> Record\n", "does not end in the catch-all"),
        ("Value NAME (\\w+)\n\nStart\n  ^${NAME} -> Record\n  ^. -> Error\n", "not anchored"),
        ("Value Fillup NAME (\\w+)\n\nStart\n  ^${NAME}$$ -> Record\n  ^. -> Error\n", "loses the line"),
        ("Value List NAME (\\w+)\n\nStart\n  ^${NAME}$$ -> Record\n  ^. -> Error\n", "loses the line"),
        (HEAD + "Start\n  ^${NAME} ${WHERE}$$ -> Record\n  ^. -> Error\n", "phantom"),
        ("Value NAME (\\w+)\n\nStart\n  ^x -> Error\n  ^${NAME}$$ -> Record\n  ^. -> Error\n", "error rule before"),
    ],
)
def test_template_laws_can_be_broken_and_are_told(template: str, fault: str) -> None:
    assert any(fault in told for told in template_faults(Template(template)))


def test_a_required_value_keeps_the_last_block_and_adds_no_phantom() -> None:
    template = Template(
        "Value Filldown WHERE (\\w+)\nValue Required NAME (\\w+)\nValue STATUS (\\w+)\n\n"
        "Start\n  ^at ${WHERE}$$\n  ^\\w+:$$ -> Continue.Record\n  ^${NAME}:$$\n  ^is ${STATUS}$$\n  ^. -> Error\n"
    )
    lines = [Line(n, text) for n, text in enumerate(("at bay", "one:", "is well", "two:", "is ill"), 1)]
    assert [] == template_faults(template)
    assert [("bay", "one", "well"), ("bay", "two", "ill")] == [
        (row.values["where"], row.values["name"], row.values["status"]) for row in template.rows(lines)[0]
    ]
    assert [] == template.rows(lines[:1])[0]


@pytest.mark.parametrize("name", NAMES)
def test_manifests_name_their_source(name: str) -> None:
    assert len(dialect(name).manifest.source) > 20


def test_pager_prompts_are_looked_for_in_linear_time() -> None:
    import time

    from consolecheck.reading.screen import clean

    started = time.perf_counter()
    clean((b" " * 4000 + b"--More--\r\n") * 20 + (b"-" * 4000 + b"\r\n") * 20 + (b"lines " * 600 + b"\r\n") * 20)
    assert time.perf_counter() - started < 2
