"""Could the device have printed this? Each rule that doubts a text, with a text that breaks it and ones that keep it."""

import pytest

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, judged
from consolecheck.files.shelf import dialects, shipped
from consolecheck.judging.judge import judge
from consolecheck.judging.rules import figures, gainsaid, plausible
from consolecheck.judging.rules.identity import resembles, serial_shape
from consolecheck.judging.view import Sample, parse_observed
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Finding, Outcome, Verdict
from consolecheck.records.readings import Snapshot

DOUBTS = [rule.id for rule in (*plausible.RULES, *figures.RULES, *gainsaid.RULES)]
SUPPLY, FAN = "wexcombe/psu-2-replaced", "wexcombe/fan-3-dead-then-replaced"
NEXUS, BMC, JSON = "cisco_nxos/psu-2-replaced", "ipmitool/psu-2-replaced", "ietf_hardware/psu-2-replaced"


def texts(name: str) -> dict[str, str]:
    case = Case(shipped("fixtures") / name)
    return {side: case.text(side).decode().replace("\r\n", "\n") for side in ("before", "after")}  # type: ignore[arg-type]


def read(name: str, text: str, side: str) -> Snapshot:
    dialect = next(d for d in dialects() if d.name == name.partition("/")[0])
    return read_text(text.encode(), f"{side}.txt", dialects(), dialect)


def findings(
    name: str, edits: list[tuple[str, str, str]], seen: tuple[str, ...] = (), samples: int = 0
) -> tuple[Verdict, list[Finding]]:
    """What is found once texts of a good swap are changed: (side, what stood there, what stands there now)."""
    case = Case(shipped("fixtures") / name)
    text = texts(name)
    for side, was, now in edits:
        assert was in text[side], was
        text[side] = text[side].replace(was, now)
    before, after = (read(name, text[side], side) for side in ("before", "after"))
    observed = (*case.observed(), *(parse_observed(s) for s in seen))
    taken = tuple(Sample(15.0 * n, after) for n in range(samples))
    told = judge(before, after, case.file.unit, case.acceptance(), observed, case.file.reseat, taken)
    return told.verdict, list(told.findings)


def doubted(rule: str, found: list[Finding]) -> list[str]:
    return [f.subject for f in found if f.rule == rule and f.outcome is not Outcome.MET]


@pytest.mark.parametrize("case", cases_of(shipped("fixtures")), ids=lambda c: c.place)
def test_no_good_swap_is_doubted(case: Case) -> None:
    if case.file.claims.verdict is Verdict.VERIFIED:
        found = judged(case, dialects()).judgement.findings
        assert [f.message for f in found if f.rule in DOUBTS] == []


@pytest.mark.parametrize(
    ("rule", "name", "edits"),
    [
        ("text.one-host", SUPPLY, [("after", "tern-04 ~> tell heat", "gull-02 ~> tell heat")]),
        ("text.one-host", SUPPLY, [("before", "tern-04 ~>", "gull-02 ~>")]),
        (
            "text.same-rows",
            SUPPLY,
            [("before", "  cpu     46.5   0.0     85.0    90.0   easy\n", ""), ("before", "POINTS, 6", "POINTS, 5")],
        ),
        ("text.same-rows", NEXUS, [("before", "System uptime:              183", "Boot uptime:                183")]),
        ("text.same-rows", SUPPLY, [("before", "85.0    90.0   easy", "-       90.0   easy")]),
        ("text.words-known", SUPPLY, [("before", "85.0    90.0   easy", "85.0    90.0   eas")]),
        ("text.words-known", SUPPLY, [("after", "85.0    90.0   easy", "85.0    90.0   -")]),
        ("text.same-form", BMC, [("after", "| 231.000    | Volts", "| 0231.000   | Volts")]),
        ("text.same-form", SUPPLY, [("after", "12.05  15.80  190.4", "12.05  015.80 190.4")]),
        (
            "text.same-form",
            NEXUS,
            [
                (
                    "after",
                    "   196.00 W",
                    "   196 W",
                )
            ],
        ),
        ("text.moved", "cisco_nxos/psu-2-replaced", [("after", "*", "*")]),
        ("power.figures-steady", NEXUS, [("after", "Voltage: 12 Volts", "Voltage: 2 Volts")]),
        (
            "power.figures-steady",
            NEXUS,
            [
                (
                    "after",
                    "   210.00 W",
                    "    10.00 W",
                )
            ],
        ),
        ("power.figures-steady", SUPPLY, [("before", "231.2", " 31.2")]),
        ("power.sums-hold", NEXUS, [("after", "196.00 W", "296.00 W")]),
        ("power.sums-hold", NEXUS, [("before", " 1300.00 W", "  300.00 W")]),
        ("power.baseline-adds-up", SUPPLY, [("before", "16.20  195.0", " 6.20  195.0")]),
        ("power.stands-by", SUPPLY, [("after", "2    serving ", "2    resting ")]),
        ("cooling.together", SUPPLY, [("before", "8520", " 520")]),
        ("cooling.together", SUPPLY, [("after", "45    ", "5     ")]),
        (
            "cooling.together",
            FAN,
            [("after", "3    a      turning  45      8490 ", "3    a      turning  45      84900")],
        ),
        ("cooling.together", "sonic/fan-2-replaced", [("after", "fan1      45%", "fan1     145%")]),
        ("cooling.together", SUPPLY, [("after", "2    a      turning  45  ", "2    a      turning  70  ")]),
        ("power.baseline-adds-up", BMC, [("before", "5.040  ", "5.640  ")]),
        ("text.same-rows", SUPPLY, [("before", "1    serving   A     AC ", "1    serving   A     -  ")]),
        ("temperature.fell", "cisco_nxos/fan-2-replaced", [("before", "90          36  ", "90          86  ")]),
        ("cooling.baseline-turns", SUPPLY, [("before", "8520", "0   ")]),
        ("temperature.too-cold", FAN, [("after", "outlet  33.", "outlet  3.")]),
        ("temperature.too-cold", SUPPLY, [("after", "psu-2   34.5", "psu-2   4.5 ")]),
        (
            "temperature.fell",
            "sonic/psu-2-replaced",
            [("before", "PSU-2 Temp           28.5", "PSU-2 Temp           78.5")],
        ),
        ("cooling.together", FAN, [("before", "13160", "3160 ")]),
        ("cooling.together", SUPPLY, [("before", "7320", "9320")]),
        ("cooling.together", "cisco_ios/fan-1-3-replaced", [("before", "11600", "20912")]),
        (
            "text.words-known",
            "cisco_nxos/psu-2-replaced-optics-captured",
            [("after", "transceiver is not present", "transceiver is present")],
        ),
        ("cooling.together", SUPPLY, [("before", "turning  45      7320", "turning  25      7320")]),
        (
            "text.words-known",
            "entity_mib/psu-2-replaced-numeric",
            [("after", ".1.3.6.1.2.1.131.1.1.1.5.1 = Hex-STRING: 00 \n", "")],
        ),
        (
            "text.limits-steady",
            "aruba_aoscx/chassis-fan-1-2-replaced",
            [("after", "Absent         --      --         0", "Absent         --      --         2")],
        ),
        ("text.one-host", "aruba_aoscx/psu-1-2-replaced-echoes-only", [("after", "tern-05# ", "")]),
        (
            "service.clock",
            NEXUS,
            [("after", "Kernel uptime:              183 days", "Kernel uptime:              18 days")],
        ),
        (
            "text.same-rows",
            "huawei_vrp/psu-2-replaced",
            [
                ("before", "  GigabitEthernet4/1/0(10G) up    up        0.58%  1.30%          0          0\n", ""),
                ("after", "4/1/0(10G) up    up  ", "4/1/0(10G) down  down"),
            ],
        ),
        ("temperature.inlet-followed", SUPPLY, [("before", "inlet   21.5", "inlet   1.5 ")]),
        ("cooling.together", "wexcombe/standing-fan-fault-elsewhere", [("before", "2380 ", "238  ")]),
        (
            "text.limits-steady",
            "wexcombe/standing-fan-fault-elsewhere",
            [("before", "slow     45      7380       2400 ", "slow     45      7380       -    ")],
        ),
        (
            "text.limits-steady",
            "wexcombe/standing-fan-fault-elsewhere",
            [("after", "slow     45      2380       2400 ", "slow     45      2380       -    ")],
        ),
    ],
)
def test_a_text_that_the_device_cannot_have_printed_is_doubted(
    rule: str, name: str, edits: list[tuple[str, str, str]]
) -> None:
    if rule == "text.moved":
        before = texts(name)["before"]
        edits = [("after", texts(name)["after"], before.replace("LIT2611T0B3", "LIT2634T1C7"))]
    verdict, found = findings(name, edits)
    assert doubted(rule, found)
    assert verdict is not Verdict.VERIFIED


def test_two_captures_that_are_one_text_are_doubted_but_for_a_part_that_was_watched() -> None:
    name = "huawei_vrp/psu-2-replaced"
    text = texts(name)
    edits = [("after", text["after"], text["before"])]
    assert findings(name, [])[0] is Verdict.VERIFIED
    verdict, found = findings(name, edits)
    assert (verdict, doubted("text.moved", found)) == (Verdict.INCONCLUSIVE, ["text"])
    assert doubted("text.moved", findings(name, edits, samples=2)[1]) == []


@pytest.mark.parametrize(("name", "shown", "by"), [(FAN, "tell fans", "before")])
def test_a_table_that_is_the_other_captures_is_doubted(name: str, shown: str, by: str) -> None:
    """With the new part in it; one that does not show the part, and stands still, is not doubted."""

    def table(side: str) -> str:
        text = texts(name)[side]
        first = text.index(f"{shown}\n")
        return text[first : text.index("tern-04 ~>", first)]

    other = "after" if by == "before" else "before"
    verdict, found = findings(name, [(by, table(by), table(other))])
    assert doubted("text.moved", found) == [shown.removeprefix("tell ")]
    assert verdict is Verdict.INCONCLUSIVE


def test_a_part_that_was_seen_on_its_way_may_come_back_to_the_very_figures() -> None:
    """A switch at rest prints what it printed before; samples at other figures show that this is not the old table."""
    text = texts(FAN)
    fans = [t[t.index("tell fans\n") : t.index("tern-04 ~>", t.index("tell fans\n"))] for t in text.values()]
    before = read(FAN, text["before"].replace(fans[0], fans[1]), "before")
    after = read(FAN, text["after"], "after")
    on_its_way = read(FAN, text["before"], "sample")
    case = Case(shipped("fixtures") / FAN)

    def told(*samples: Snapshot) -> list[str]:
        taken = tuple(Sample(15.0 * n, sample) for n, sample in enumerate(samples))
        found = judge(before, after, case.file.unit, case.acceptance(), case.observed(), None, taken).findings
        return doubted("text.moved", list(found))

    assert told() == told(after, after) == ["fans"]
    assert told(on_its_way, after) == []


def test_half_degrees_may_be_the_same_again() -> None:
    text = texts(SUPPLY)
    heat = [t[t.index("tell heat\n") : t.index("tern-04 ~>", t.index("tell heat\n"))] for t in text.values()]
    assert doubted("text.moved", findings(SUPPLY, [("after", heat[1], heat[0])])[1]) == []


def test_a_table_that_the_baseline_lacks_is_told() -> None:
    alarms = texts(SUPPLY)["before"]
    block = alarms[alarms.index("tern-04 ~> tell alarms") : alarms.rindex("tern-04 ~>")]
    assert "alarms" in doubted("text.same-rows", findings(SUPPLY, [("before", block, "")])[1])


@pytest.mark.parametrize(
    ("name", "edits"),
    [
        (SUPPLY, [("after", "57.5", "62.5"), ("after", "inlet   21.5", "inlet   24.5")]),
        (SUPPLY, [("after", "231.2", "224.8"), ("after", "0.91  210.7", "0.94  210.7")]),
        (SUPPLY, [("after", "8460", "9060"), ("after", "8520", "9120"), ("after", "8430", "9030")]),
        (SUPPLY, [("before", "8520", "8720")]),
        (NEXUS, [("after", "32 minutes", "33 minutes")]),
        ("sonic/psu-2-replaced", [("before", "PSU-2 Temp           28.5", "PSU-2 Temp           48.5")]),
    ],
)
def test_what_a_swap_may_do_is_not_doubted(name: str, edits: list[tuple[str, str, str]]) -> None:
    _, found = findings(name, edits)
    assert [(f.rule, f.message) for f in found if f.rule in DOUBTS] == []


SAME_AS_ANOTHER = "WXS-20437", "WXS-2043", "WXS-20343", "XS-20433", "WXS-200433"


@pytest.mark.parametrize("serial", SAME_AS_ANOTHER)
def test_a_serial_that_is_almost_the_old_one_proves_no_new_part(serial: str) -> None:
    edits = [("after", "WXS-31902", serial)]
    verdict, found = findings(SUPPLY, edits)
    assert (verdict, doubted("identity.replaced", found)) == (Verdict.INCONCLUSIVE, ["psu-2"])


@pytest.mark.parametrize("serial", ["WXS-3190", "WXS-", "WX-31902", "WXS3190", "wxs-31902"])
def test_a_serial_that_is_built_otherwise_proves_no_new_part(serial: str) -> None:
    verdict, found = findings(SUPPLY, [("after", "WXS-31902", serial)])
    assert (verdict, doubted("identity.replaced", found)) == (Verdict.INCONCLUSIVE, ["psu-2"])


def test_the_label_or_two_samples_settle_what_a_serial_leaves_open() -> None:
    edits = [("after", "WXS-31902", "WXS-20434")]
    assert findings(SUPPLY, edits)[0] is Verdict.INCONCLUSIVE
    assert doubted("identity.replaced", findings(SUPPLY, edits, ("psu-2.serial=WXS-20434",))[1]) == []
    assert doubted("identity.replaced", findings(SUPPLY, edits, samples=1)[1]) == ["psu-2"]
    assert doubted("identity.replaced", findings(SUPPLY, edits, samples=2)[1]) == []


def test_samples_that_are_one_text_again_and_again_settle_nothing() -> None:
    assert "samples" in doubted("temperature.settled", findings(SUPPLY, [], samples=4)[1])
    assert "samples" not in doubted("temperature.settled", findings(SUPPLY, [], samples=3)[1])


@pytest.mark.parametrize(
    ("one", "two", "alike"),
    [
        ("WXS-20433", "WXS-20433", True),
        ("WXS-20433", "WXS-20466", False),
        ("WXS-20433", "WXS-20566", False),
        ("WXS-20433", "VXS-20432", True),  # two characters, one bit in each
        ("WXS-20433", "WXS-204", False),
        ("A1", "1A", True),
    ],
)
def test_when_one_serial_may_be_another_misread(one: str, two: str, alike: bool) -> None:
    assert resembles(one, two) is alike
    assert resembles(two, one) is alike


def test_how_a_serial_is_built() -> None:
    assert serial_shape("TS2634A1190") == serial_shape("TS26341A190") != serial_shape("TS2634a1190")
    assert serial_shape("CN-0J6J4K-A00") == "XX-XXXXXX-XXX"


@pytest.mark.parametrize(
    ("rule", "name", "edits"),
    [
        ("identity.others", SUPPLY, [("after", "chassis ..... WXC-0041877", "chassis ..... WXC-004187")]),
        ("identity.others", SUPPLY, [("after", "fitted  WX-SH24-2P3F", "fitted  WX-SH24-2P3G")]),
        ("identity.others", NEXUS, [("after", "TOX26110041", "TOX26110042")]),
        (
            "text.limits-steady",
            NEXUS,
            [
                (
                    "after",
                    "108 W       650 W",
                    "108 W       550 W",
                )
            ],
        ),
        ("text.agreement", "cisco_ios/psu-1b-replaced", [("after", "TLT2634T0B7", "TLT2634T0B7")]),
    ],
)
def test_what_does_not_change_over_a_swap_is_held_against_the_baseline(
    rule: str, name: str, edits: list[tuple[str, str, str]]
) -> None:
    if rule == "text.agreement":  # the serial stands in two tables: one of them is another
        text = texts(name)["after"]
        edits = [("after", text, text.replace("TLT2634T0B7", "TLT2634T0B8", 1))]
    verdict, found = findings(name, edits)
    assert doubted(rule, found)
    assert verdict is Verdict.INCONCLUSIVE


def test_two_rows_of_one_thing_in_one_table_say_the_same() -> None:
    row = "  3    b      turning  45      7290       2400       f>b\n"
    edits = [("after", row, row + row.replace("7290", "7320")), ("after", "FAN BAYS, 6", "FAN BAYS, 7")]
    assert doubted("text.agreement", findings(SUPPLY, edits)[1]) == ["fan-3 3b"]


def test_a_port_without_a_link_that_failed_is_doubted() -> None:
    edits = [("after", "4     down  -      spare", "4     down  -      spare")]
    assert doubted("service.links", findings(SUPPLY, edits)[1]) == []
    name = "cisco_ios/uplink-err-disabled-after-swap"
    case = Case(shipped("fixtures") / name)
    assert case.file.claims.verdict is Verdict.NOT_VERIFIED
    text = texts(name)["before"]
    down = [("before", text, text.replace("connected   ", "notconnect  "))]
    assert doubted("service.links", findings(name, down)[1])
