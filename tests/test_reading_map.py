"""Inferred readings verify nothing until a person has confirmed the reading map, and then only texts of its layout."""

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.judging.view import Observed
from consolecheck.reading.inference.map import MapFault, confirmed, load_map, map_of, map_text
from consolecheck.reading.reader import read_unknown
from consolecheck.records.findings import Judgement, Verdict
from consolecheck.records.readings import Snapshot

BEFORE = """\
razorbill> power
PSU   State  Vin (V)  Vout (V)  Pout (W)  Rated (W)  Serial    Air
----  -----  -------  --------  --------  ---------  --------  -------------
1     OK       230.1     12.05     120.4        650  RZ000001  front-to-back
2     OK       230.4     12.04     118.2        650  RZ000002  front-to-back
razorbill> fans
Fan   State    Speed (rpm)  Air
----  -------  -----------  -------------
1     OK              8460  front-to-back
2     OK              8400  front-to-back
razorbill> heat
Sensor   Now (C)  Warning (C)  Critical (C)  State
-------  -------  -----------  ------------  ------
inlet       23.5           45            55  normal
razorbill>
"""
AFTER = BEFORE.replace("RZ000002", "RZ000077").replace("230.4", "230.6")
SEEN = (Observed("psu-2", "serial", "RZ000077"), Observed("psu-2", "removed_serial", "RZ000002"))
LIMITS = Acceptance()


def judged(before: Snapshot, after: Snapshot) -> Judgement:
    return judge(before, after, "psu-2", LIMITS, SEEN)


def both(before: str = BEFORE, after: str = AFTER, map_from: str = BEFORE) -> tuple[Snapshot, Snapshot]:
    given = load_map(map_text(read_unknown(map_from.encode(), "before.txt")), "map.toml")
    first, _ = confirmed(read_unknown(before.encode(), "before.txt"), given, "Sanna", "2026-11-18T06:00:00Z")
    second, _ = confirmed(read_unknown(after.encode(), "after.txt"), given, "Sanna", "2026-11-18T06:00:00Z")
    return first, second


def open_rules(found: Judgement) -> set[str]:
    return {f.rule for f in found.findings if f.outcome == "undetermined" and f.required}


def test_without_a_confirmed_map_the_answer_is_open_and_says_why() -> None:
    found = judged(read_unknown(BEFORE.encode(), "before.txt"), read_unknown(AFTER.encode(), "after.txt"))
    assert Verdict.INCONCLUSIVE is found.verdict
    assert {"text.dialect"} == open_rules(found)


def test_with_it_the_same_texts_are_verified() -> None:
    assert (Verdict.VERIFIED, set()) == ((found := judged(*both())).verdict, open_rules(found))


def test_a_fault_is_a_fault_with_or_without_it() -> None:
    after = AFTER.replace("2     OK       230.6", "2     Failed   230.6").replace("State  Vin", "State    Vin")
    after = BEFORE.replace("RZ000002", "RZ000077").replace("2     OK       230.4", "2     bad      230.4")
    for pair in (both(after=after), (read_unknown(BEFORE.encode(), "b"), read_unknown(after.encode(), "a"))):
        assert Verdict.NOT_VERIFIED is judged(*pair).verdict


@pytest.mark.parametrize(
    "after",
    [
        AFTER.replace("Vin (V)", "Vac (V)"),
        AFTER.replace("Warning (C)", "Minor (C)  "),
        AFTER.split("razorbill> heat")[0],
        AFTER + "Item     Value\n-------  -----\nFan 3    OK\nFan 4    OK\nrazorbill>\n",
    ],
)
def test_a_text_of_another_layout_stays_open(after: str) -> None:
    first, second = both(after=after)
    assert second.confirmed is None
    assert Verdict.VERIFIED is not judged(first, second).verdict


@pytest.mark.parametrize(
    ("word", "condition"),
    [("good", "ok"), ("standby", "standby"), ("ok", "ok"), ("absent", "absent"), ("O", "unknown")],
)
@pytest.mark.parametrize("which", ["before", "after"])
def test_a_word_that_nobody_confirmed_is_not_believed(which: str, word: str, condition: str) -> None:
    texts = {"before": BEFORE, "after": AFTER}
    texts[which] = texts[which].replace("1     OK       230.1", f"1     {word:<8} 230.1")
    given = load_map(map_text(read_unknown(BEFORE.encode(), "before.txt")), "map.toml")
    _, why = confirmed(read_unknown(texts[which].encode(), "x.txt"), given, "Sanna", "2026-11-18T06:00:00Z")
    assert f"`{word}` in line 4 of x.txt was read as {condition}, and the map does not hold that word there" == why
    first, second = both(**texts)
    assert {"text.dialect"} <= open_rules(judged(first, second))


def test_a_word_for_a_fault_needs_no_confirming() -> None:
    after = AFTER.replace("2     OK              8400", "2     failed          8400")
    first, second = both(after=after)
    assert second.confirmed is not None
    assert Verdict.NOT_VERIFIED is judged(first, second).verdict


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("12.05", "12.5"),
        ("12.05", "12.0"),
        ("230.1", "23"),
        ("118.2", "11.82"),
        ("8400", "840"),
        ("23.5", "05.5"),
    ],
)
def test_a_lost_digit_is_told_by_the_column_although_no_template_read_it(was: str, now: str) -> None:
    assert was in AFTER
    found = judged(*both(after=AFTER.replace(was, f"{now:<{len(was)}}", 1)))
    assert Verdict.VERIFIED is not found.verdict


FIGURES = {"input_voltage", "output_voltage", "output_power", "speed", "value"}


def different(was: Snapshot, now: Snapshot) -> set[str]:
    """The fields in which readings differ; `rows` where there are more or fewer of them."""
    pairs = zip(was.readings, now.readings, strict=False)
    fields = {f for a, b in pairs for f in type(a).model_fields if a.given(f) != b.given(f)}
    return fields | ({"rows"} if len(was.readings) != len(now.readings) else set())


@pytest.mark.parametrize("which", ["before", "after"])
def test_whatever_character_or_line_is_lost_only_a_figure_that_could_be_so_is_believed(which: str) -> None:
    texts = {"before": BEFORE, "after": AFTER}
    whole = texts[which]
    given = load_map(map_text(read_unknown(BEFORE.encode(), "before.txt")), "map.toml")

    def with_name(text: str) -> Snapshot:
        return confirmed(read_unknown(text.encode(), "x.txt"), given, "Sanna", "2026-11-18T06:00:00Z")[0]

    read = {side: with_name(text) for side, text in texts.items()}
    lines = whole.splitlines(keepends=True)
    damaged = [whole[:at] + whole[at + 1 :] for at, c in enumerate(whole) if c != " "]
    damaged += ["".join(lines[:at] + lines[at + 1 :]) for at in range(len(lines))]
    damaged += ["".join(lines[:at]) for at in range(len(lines))]
    for text in damaged:
        seen = read | {which: with_name(text)}
        if judged(seen["before"], seen["after"]).verdict is Verdict.VERIFIED:
            assert different(read[which], seen[which]) <= FIGURES, text


def test_an_unread_line_keeps_a_confirmed_text_open() -> None:
    first, second = both(after=AFTER.replace("razorbill> heat", "FAN-3 is loud\nrazorbill> heat"))
    assert second.unread
    assert Verdict.INCONCLUSIVE is judged(first, second).verdict


def test_a_text_cut_within_its_last_table_is_never_verified() -> None:
    first, second = both(after=AFTER[: AFTER.rindex("normal")])
    assert Verdict.VERIFIED is not judged(first, second).verdict


def test_the_map_names_labels_lines_and_status_words() -> None:
    told = tomllib.loads(map_text(read_unknown(BEFORE.encode(), "before.txt")))
    power = told["tables"][0]
    assert ("input voltage", "capacity", {"OK": ["ok"]}) == (
        power["taken_as"]["Vin (V)"], power["taken_as"]["Rated (W)"], power["status_words"],
    )  # fmt: skip
    assert ([2, 5], [2], 2) == (power["lines"], power["header_lines"], power["readings"])


def test_a_map_is_read_back_as_it_was_written_whatever_the_labels_hold() -> None:
    text = BEFORE.replace("Serial  ", 'Se"\\l\u00e9  ')
    snapshot = read_unknown(text.encode(), "x\x07.txt")
    assert map_of(snapshot) == load_map(map_text(snapshot), "map.toml")


def test_a_changed_map_covers_nothing() -> None:
    text = map_text(read_unknown(BEFORE.encode(), "before.txt")).replace("input voltage", "output voltage")
    snapshot, why = confirmed(read_unknown(AFTER.encode(), "after.txt"), load_map(text, "m"), "Sanna", "")
    assert snapshot.confirmed is None
    assert "does not cover" in why


@pytest.mark.parametrize(
    "text", ["", "form = 1", "form = 1\ntables = 3", "form = 2\n[[tables]]\n", "form = 1\n[[tables]]\nx = 1", "[["]
)
def test_a_file_that_is_no_map_is_refused(text: str) -> None:
    with pytest.raises(MapFault):
        load_map(text, "map.toml")


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "consolecheck", *map(str, arguments)], capture_output=True, text=True, timeout=120
    )


def test_from_the_text_over_the_map_to_the_verdict(tmp_path: Path) -> None:
    (tmp_path / "before.txt").write_text(BEFORE, encoding="utf-8")
    (tmp_path / "after.txt").write_text(AFTER, encoding="utf-8")
    shown = run("read", tmp_path / "before.txt", "--map", tmp_path / "map.toml")
    assert (3, True) == (shown.returncode, "INFERRED" in shown.stdout)
    swap = (
        "replay",
        "--before",
        tmp_path / "before.txt",
        "--after",
        tmp_path / "after.txt",
        "--unit",
        "psu-2",
        "--json",
    )
    seen = ("--seen", "psu-2.serial=RZ000077", "--seen", "psu-2.removed_serial=RZ000002")
    assert 3 == run(*swap, *seen).returncode
    done = run(*swap, *seen, "--confirm-map", tmp_path / "map.toml", "--confirmed-by", "Sanna")
    assert 0 == done.returncode
    (kept,) = [o for o in json.loads(done.stdout)["observations"] if o["fact"] == "reading_map"]
    assert ("Sanna", True) == (kept["by"], kept["value"].startswith("sha256:"))


def test_a_map_without_a_name_is_refused(tmp_path: Path) -> None:
    done = run("replay", "--before", "b", "--after", "a", "--unit", "psu-2", "--confirm-map", tmp_path / "map.toml")
    assert (2, True) == (done.returncode, "--confirmed-by" in done.stderr)


def test_json_of_an_inferred_text_says_why(tmp_path: Path) -> None:
    (tmp_path / "before.txt").write_text(BEFORE, encoding="utf-8")
    told = json.loads(run("read", tmp_path / "before.txt", "--json").stdout)
    assert ("inferred", None, 3) == (told["basis"], told["dialect"], len(told["taken_as"]))
    assert "input voltage" == told["taken_as"][0]["columns"]["Vin (V)"]
