"""The loop on a line that can err: recorded first, read until two readings agree, nothing typed but what is listed."""

import random

import pytest

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of, judged
from consolecheck.console.agree import disagreement, usable
from consolecheck.console.dialogue import USUAL_SPEEDS
from consolecheck.console.guard import Guard, Outgoing
from consolecheck.files.shelf import dialects, shipped
from consolecheck.job.drive import Captured, Stopped, answering, capture
from consolecheck.job.folder import break_mark
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import NoSuchUnit, judge
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Judgement, Outcome, Verdict

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
CASES = cases_of(shipped("fixtures"))
CASE = next(c for c in CASES if c.dialect_name == "wexcombe" and c.name == "psu-2-replaced")
COMMANDS = [c.send for c in WEXCOMBE.manifest.commands]
PROMPT = b"tern-04 ~> "


def replies(side: str) -> dict[bytes, bytes]:
    """Command -> what the console prints for it, from a recorded session."""
    text = CASE.text("before" if side == "before" else "after").decode()
    parts = text.split("tern-04 ~> ")[1:]
    found = {}
    for part in parts:
        command, _, output = part.partition("\r\n")
        found[command.encode()] = output.removesuffix("tern-04 ~>\r\n").encode()
    return found


class FakeLine:
    """A scripted console on a line whose clock moves only when the line is quiet or bytes take their time."""

    def __init__(
        self,
        side: str,
        error_free: bool = False,
        flip: float = 0.0,
        chatter: float = 0.0,
        seed: int = 0,
        speed: int = 9600,
    ) -> None:
        self.error_free = error_free
        self.bits_per_second: int | None = speed
        self.now = 0.0
        self.waiting = bytearray()
        self.sent: list[bytes] = []
        self.answers = replies(side)
        self.flip, self.chatter = flip, chatter
        self.random = random.Random(seed)
        self.next_chatter = chatter or float("inf")
        self.received = 0

    def clock(self) -> float:
        return self.now

    def write(self, outgoing: Outgoing) -> None:
        assert isinstance(outgoing, Outgoing)
        self.sent.append(outgoing.data)
        self.now += len(outgoing.data) * 10 / (self.bits_per_second or 9600)
        word = outgoing.data.removesuffix(b"\r")
        echo = word + b"\r\n" if word else b"\r\n"
        self.waiting += echo + self.answers.get(word, b"") + PROMPT

    def set_speed(self, bits_per_second: int) -> None:
        self.bits_per_second = bits_per_second

    def read(self, timeout: float) -> bytes:
        if self.waiting and self.now >= self.next_chatter:
            self.next_chatter += self.chatter
            at = self.waiting.find(b"\n") + 1
            self.waiting[at:at] = b"** 06:12:40 port 4 asked for and not answered\r\n"
        if not self.waiting:
            self.now += timeout
            return b""
        data = bytes(self.waiting[: self.random.randint(1, 96)])
        del self.waiting[: len(data)]
        self.now += len(data) * 10 / (self.bits_per_second or 9600)
        self.received += len(data)
        if self.flip:
            data = bytes(b ^ (1 << self.random.randrange(8)) if self.random.random() < self.flip else b for b in data)
        return data


def captured(line: FakeLine) -> Captured:
    return capture(line, WEXCOMBE, Guard(WEXCOMBE), COMMANDS, line.clock, speeds=USUAL_SPEEDS)


def reading(text: bytes, side: str):  # type: ignore[no-untyped-def]
    return read_text(text, f"{side}.txt", dialects(), WEXCOMBE)


@pytest.mark.parametrize("error_free", [True, False])
def test_a_live_capture_reads_like_the_recorded_session(error_free: bool) -> None:
    line = FakeLine("after", error_free)
    result = captured(line)
    assert result.refusal is None
    assert reading(CASE.text("after"), "after").readings == reading(result.text, "after").readings
    assert () == reading(result.text, "after").unread


def test_an_error_free_line_is_read_once_and_another_twice() -> None:
    once, twice = FakeLine("after", True), FakeLine("after", False)
    captured(once), captured(twice)
    assert [1] * len(COMMANDS) == [once.sent.count(c.encode() + b"\r") for c in COMMANDS]
    assert [2] * len(COMMANDS) == [twice.sent.count(c.encode() + b"\r") for c in COMMANDS]


def test_nothing_leaves_but_what_the_guard_lists() -> None:
    line = FakeLine("after")
    captured(line)
    allowed = {o.data for o in Guard(WEXCOMBE).everything()}
    assert set(line.sent) <= allowed


@pytest.mark.parametrize("seed", range(30))
def test_noise_never_makes_a_capture_wrong(seed: int) -> None:
    """One byte in 10,000 flipped and a log line every two seconds: right, or undetermined, never wrong."""
    sides = {}
    for side in ("before", "after"):
        line = FakeLine(side, flip=1e-4, chatter=2.0, seed=seed * 2 + (side == "after"))
        try:
            sides[side] = reading(captured(line).text, side)
        except Stopped:
            return
    told = judge(sides["before"], sides["after"], "psu-2", Acceptance())
    if told.verdict is Verdict.VERIFIED:
        for side, snapshot in sides.items():
            assert not disagreement(reading(CASE.text(side), side), snapshot)
    else:
        assert told.verdict is Verdict.INCONCLUSIVE


def test_readings_that_never_agree_leave_the_answer_open() -> None:
    """A status that reads differently every time: both readings are kept, in plain sight of each other."""

    class Wavering(FakeLine):
        def write(self, outgoing: Outgoing) -> None:
            if outgoing.data == b"tell power\r":
                word = self.random.choice([b"serving ", b"resting ", b"dark    ", b"faulted "])
                self.answers = replies("after")
                self.answers[b"tell power"] = self.answers[b"tell power"].replace(b"2    serving ", b"2    " + word)
            super().write(outgoing)

    for seed in range(6):
        result = captured(Wavering("after", seed=seed))
        after = reading(result.text, "after")
        told = judge(reading(CASE.text("before"), "before"), after, "psu-2", Acceptance())
        agreed = not any("no two readings agree" in note for note in result.notes)
        assert agreed or told.verdict is not Verdict.VERIFIED
        assert agreed is (b"no two readings of `tell power` agree" not in result.text)


def test_a_row_lost_in_one_reading_is_not_believed() -> None:
    first, second = reading(CASE.text("after"), "a"), reading(CASE.text("after"), "b")
    assert "" == disagreement(first, second)
    lines = CASE.text("after").split(b"\r\n")
    lost = reading(b"\r\n".join(line for line in lines if not line.startswith(b"  8  ")), "c")
    assert not usable(lost)
    assert disagreement(first, lost)


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("serving   B", "resting   B"),
        ("WXS-31902", "WXS-31903"),
        ("600      f>b", "000      f>b"),
        ("230.9", "130.9"),
        ("58.0 ", "18.0 "),
        ("57.5", "17.5"),
    ],
)
def test_a_difference_that_two_moments_cannot_explain(was: str, now: str) -> None:
    text = CASE.text("after").decode()
    if was in text:
        assert disagreement(reading(text.encode(), "a"), reading(text.replace(was, now).encode(), "b"))


def test_values_that_move_a_little_agree() -> None:
    text = CASE.text("after").decode()
    moved = text.replace("57.5", "58.5").replace("8460", "8500").replace("190.4", "191.9").replace("31m 44s", "32m 51s")
    assert "" == disagreement(reading(text.encode(), "a"), reading(moved.encode(), "b"))


def test_a_capture_that_is_refused_in_the_middle_keeps_what_came() -> None:
    class Reloading(FakeLine):
        def write(self, outgoing: Outgoing) -> None:
            if outgoing.data == b"tell parts\r":
                self.sent.append(outgoing.data)
                self.waiting += b"tell parts\r\nPARTS\r\nwaking stage 1\r\n"
            else:
                super().write(outgoing)

    result = captured(Reloading("after"))
    assert result.refusal is not None
    assert "boot" == result.refusal.kind
    assert b"END HEAT POINTS" in result.text
    snapshot = reading(result.text, "after")
    told = judge(reading(CASE.text("before"), "before"), snapshot, "psu-2", Acceptance())
    assert told.verdict is not Verdict.VERIFIED


def test_a_drift_that_no_two_readings_share_is_never_verified() -> None:
    """Each reading is whole and good, but rates the supply a little otherwise every time: the mark alone tells."""

    class Drifting(FakeLine):
        ratings = iter([b"610", b"595", b"605", b"600"])

        def write(self, outgoing: Outgoing) -> None:
            if outgoing.data == b"tell power\r":
                self.answers = replies("after")
                was = self.answers[b"tell power"]
                self.answers[b"tell power"] = was.replace(b"190.4  600", b"190.4  " + next(self.ratings))
            super().write(outgoing)

    result = captured(Drifting("after"))
    before = reading(CASE.text("before"), "before")
    mark = break_mark("no two readings of `tell power` agree")
    assert mark in result.text
    told = judge(before, reading(result.text, "after"), "psu-2", Acceptance())
    assert told.verdict is Verdict.INCONCLUSIVE
    assert "text.unread" in open_rules(told)
    unmarked = judge(before, reading(result.text.replace(mark, b""), "after"), "psu-2", Acceptance())
    assert "text.unread" not in open_rules(unmarked), "this test shows nothing"


def open_rules(judgement: Judgement) -> set[str]:
    return {f.rule for f in judgement.findings if f.required and f.outcome is Outcome.UNDETERMINED}


def test_a_feed_told_twice_and_not_alike_is_not_believed() -> None:
    """One moment has one feed, so one of the two lines was misread: which, nobody can tell."""
    once = replies("after")[b"tell power"]
    twice = once + PROMPT + b"tell power\r\n" + once.replace(b"serving   B", b"serving   D")
    after = reading(CASE.text("after").replace(once, twice), "after")
    told = judge(reading(CASE.text("before"), "before"), after, "psu-2", Acceptance())
    assert told.verdict is Verdict.INCONCLUSIVE
    assert any("told twice in one text" in finding.message for finding in told.findings)


@pytest.mark.parametrize(
    "case", [c for c in CASES if c.file.claims.verdict is Verdict.VERIFIED], ids=lambda c: f"{c.dialect_name}/{c.name}"
)
@pytest.mark.parametrize("side", ["before", "after"])
def test_a_capture_that_broke_off_is_never_verified_in_any_family(case: Case, side: str) -> None:
    """Broken off after any line, and whole: tables that are not there are not missed, but the mark is unread."""
    lines = case.text(side).splitlines(keepends=True)
    before, after, told, _ = judged(case, dialects())
    assert told.verdict is Verdict.VERIFIED
    dialect = next(d for d in dialects() if d.name == case.dialect_name)
    for count in range(1, len(lines) + 1):
        try:
            cut = read_text(b"".join(lines[:count]) + break_mark("the capture broke off"), side, (dialect,), dialect)
        except NotRecognised:
            continue
        assert any("broke off" in line.text for line in cut.unread), (count, lines[count - 1])
        pair = (cut, after) if side == "before" else (before, cut)
        try:
            verdict = judge(*pair, case.file.unit, case.acceptance(), case.observed(), case.file.reseat).verdict
        except NoSuchUnit:
            continue
        assert verdict is not Verdict.VERIFIED, (count, lines[count - 1])


def test_the_speed_at_which_a_console_answers_is_told() -> None:
    class AtOneSpeed(FakeLine):
        def write(self, outgoing: Outgoing) -> None:
            super().write(outgoing)
            if self.bits_per_second != 115200:
                self.waiting = bytearray(b"\xf8\x00\xe6\x9e\xfe\x80\xc3")

    line = AtOneSpeed("after")
    assert "answers at 115200 baud (`tern-04 ~>`)" == answering(line, Guard(WEXCOMBE), line.clock)
    assert {b"\r"} == set(line.sent)


def test_a_port_where_nothing_answers_is_told() -> None:
    class Dead(FakeLine):
        def write(self, outgoing: Outgoing) -> None:
            self.sent.append(outgoing.data)

    line = Dead("after")
    assert "nothing answers" in answering(line, Guard(WEXCOMBE), line.clock)
