"""A status word that nobody knows here, and a person who looked it up: the text is read with it, and the verdict says who said so."""

import json
from pathlib import Path

import pytest
from test_reading_map import BEFORE as DEVICE
from test_reading_map import SEEN, run

from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge
from consolecheck.reading.inference.map import MapFault, confirmed, load_map, map_text
from consolecheck.reading.reader import read_unknown
from consolecheck.records.findings import Judgement, Verdict
from consolecheck.records.readings import Condition, Snapshot

BEFORE = """\
razorbill> power
PSU   State    Fault  Vin (V)  Vout (V)  Pout (W)  Rated (W)  Serial    Air
----  -------  -----  -------  --------  --------  ---------  --------  -------------
1     Powered  no       230.1     12.05     120.4        650  RZ000001  front-to-back
2     Powered  no       230.4     12.04     118.2        650  RZ000002  front-to-back
"""
BEFORE += DEVICE[DEVICE.index("razorbill> fans") :]
AFTER = BEFORE.replace("RZ000002", "RZ000077").replace("230.4", "230.6")
AT = "2026-11-30T06:00:00Z"


def map_with(stated: str = "", text: str = BEFORE) -> str:
    return map_text(read_unknown(text.encode(), "before.txt")) + (f"[stated]\n{stated}\n" if stated else "")


def both(stated: str, before: str = BEFORE, after: str = AFTER) -> tuple[Snapshot, Snapshot]:
    given = load_map(map_with(stated), "map.toml")
    read = [read_unknown(t.encode(), f"{n}.txt", given.stated) for n, t in (("before", before), ("after", after))]
    return confirmed(read[0], given, "Sanna", AT)[0], confirmed(read[1], given, "Sanna", AT)[0]


def judged(before: Snapshot, after: Snapshot) -> Judgement:
    return judge(before, after, "psu-2", Acceptance(), SEEN)


def test_the_map_asks_for_the_words_that_are_not_known_and_for_no_others() -> None:
    asked = [line for line in map_with().splitlines() if line.startswith('# "')]
    assert ['# "Powered" = ""'] == asked


def test_without_a_statement_a_confirmed_map_leaves_the_answer_open() -> None:
    assert Verdict.INCONCLUSIVE is judged(*both("")).verdict


def test_with_it_the_swap_is_verified_and_the_finding_names_who_stated_what() -> None:
    found = judged(*both('"Powered" = "ok"'))
    assert Verdict.VERIFIED is found.verdict
    said = next(f.message for f in found.findings if f.rule == "text.dialect")
    assert "Sanna confirmed, who states that `Powered` means ok" in said


@pytest.mark.parametrize("means", ["failed", "absent", "no-input", "warning"])
def test_a_word_that_is_stated_to_be_bad_is_bad(means: str) -> None:
    assert Verdict.VERIFIED is not judged(*both(f'"Powered" = "{means}"')).verdict
    supply = next(r for r in both(f'"Powered" = "{means}"')[1].readings if r.unit == "psu-2")
    assert means == supply.condition


def test_what_another_column_has_against_it_still_counts() -> None:
    after = AFTER.replace("2     Powered  no ", "2     Powered  yes")
    supply = next(r for r in both('"Powered" = "ok"', after=after)[1].readings if r.unit == "psu-2")
    assert Condition.FAILED is supply.condition
    assert Verdict.NOT_VERIFIED is judged(*both('"Powered" = "ok"', after=after)).verdict


@pytest.mark.parametrize("word", ["Powerd ", "Power  ", "Powering", "owered ", "Present"])
def test_another_word_than_the_one_that_was_stated_is_not_believed(word: str) -> None:
    after = AFTER.replace("2     Powered ", f"2     {word:<8}")
    first, second = both('"Powered" = "ok"', after=after)
    assert second.confirmed is None
    assert Verdict.INCONCLUSIVE is judged(first, second).verdict


@pytest.mark.parametrize(
    ("stated", "why"),
    [
        ('"Powered" = "fine"', "a word means ok, warning"),
        ('"Powered" = "unknown"', "a word means ok, warning"),
        ('"Powered" = 3', "a word means ok, warning"),
        ('"Powered" = ["ok"]', "a word means ok, warning"),
        ('"OK" = "failed"', "no table of the map holds `OK` as a word that is not known"),
        ('"Humming" = "ok"', "no table of the map holds `Humming`"),
    ],
)
def test_a_statement_that_says_nothing_or_of_no_such_word_is_refused(stated: str, why: str) -> None:
    with pytest.raises(MapFault, match=why):
        load_map(map_with(stated), "map.toml")


def test_that_a_part_is_there_cannot_be_stated_to_be_its_health() -> None:
    text = BEFORE.replace("Powered  no", "Present  --")
    with pytest.raises(MapFault, match="says that a part is there or not, and no more"):
        load_map(map_with('"Present" = "ok"', text), "map.toml")
    assert "[stated]" not in map_with(text=text)


def test_a_statement_that_is_no_table_is_refused() -> None:
    with pytest.raises(MapFault, match="`stated` gives for each word what it means"):
        load_map('stated = "ok"\n' + map_with(), "map.toml")


def test_a_statement_is_part_of_what_was_confirmed_and_is_forgotten_with_the_text() -> None:
    assert load_map(map_with(), "m").digest != load_map(map_with('"Powered" = "ok"'), "m").digest
    assert load_map(map_with('"Powered" = "ok"'), "m").digest != load_map(map_with('"Powered" = "failed"'), "m").digest
    read = read_unknown(AFTER.encode(), "after.txt", {"Powered": Condition.OK})
    again = read_unknown(AFTER.encode(), "after.txt")
    assert [Condition.OK] * 2 == [r.condition for r in read.readings if r.kind == "power_supply"]
    assert [Condition.UNKNOWN] * 2 == [r.condition for r in again.readings if r.kind == "power_supply"]


def test_a_text_of_a_drafted_dialect_is_told_where_to_state_a_word() -> None:
    drafted = read_unknown(AFTER.encode(), "after.txt")._replace(dialect="ours")
    snapshot, why = confirmed(drafted, load_map(map_with('"Powered" = "ok"'), "m"), "Sanna", AT)
    assert snapshot.confirmed is None
    assert "read by the draft ours: say there what a word means" in why


def test_from_the_map_over_the_statement_to_the_verdict(tmp_path: Path) -> None:
    before, after, file = (tmp_path / name for name in ("before.txt", "after.txt", "map.toml"))
    before.write_text(BEFORE, encoding="utf-8")
    after.write_text(AFTER, encoding="utf-8")
    assert 3 == run("read", before, "--map", file).returncode
    swap = ("replay", "--before", before, "--after", after, "--unit", "psu-2", "--json")
    told = (*swap, "--seen", "psu-2.serial=RZ000077", "--seen", "psu-2.removed_serial=RZ000002", "--confirm-map", file)
    assert 3 == run(*told, "--confirmed-by", "Sanna").returncode
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace("# [stated]", "[stated]").replace('# "Powered" = ""', '"Powered" = "ok"'), encoding="utf-8"
    )
    done = run(*told, "--confirmed-by", "Sanna")
    assert (0, "verified") == (done.returncode, json.loads(done.stdout)["verdict"])
    file.write_text(
        text.replace("# [stated]", "[stated]").replace('# "Powered" = ""', '"Powered" = ""'), encoding="utf-8"
    )
    refused = run(*told, "--confirmed-by", "Sanna")
    assert (2, True, False) == (refused.returncode, "a word means ok" in refused.stderr, "Traceback" in refused.stderr)
