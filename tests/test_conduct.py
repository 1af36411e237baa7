"""The steps of a swap, carried out on the simulated switch in this process: an hour of it takes a second."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Literal

import pytest

from consolecheck.console.guard import Guard
from consolecheck.console.recorder import Recorder
from consolecheck.files.shelf import dialects
from consolecheck.job.cautions import Caution
from consolecheck.job.conduct import ILL_FOR, TRIES_TO_REACH, Conduct, Halt, LineLost, Talk
from consolecheck.job.drive import Captured, Conversation, Progress
from consolecheck.job.folder import Entry, Folder, FolderFault, Job
from consolecheck.job.held import epoch_of, held, stamp, taken_in
from consolecheck.job.questions import Question
from consolecheck.job.seal import examine, seal
from consolecheck.job.steps import AGAIN, DONE, ORDER, Step, next_step, number_of, reached
from consolecheck.judging.acceptance import Acceptance, JobLimits, SettlingLimits
from consolecheck.judging.clearance import Answer, Clearance
from consolecheck.judging.judge import judge, judge_alone
from consolecheck.judging.settling import Settling
from consolecheck.judging.view import NOT_SEEN, View
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Finding, Judgement, Outcome, Verdict
from consolecheck.records.readings import Condition
from consolecheck.records.watching import Notice, Picture
from consolecheck.rehearsal.faults import (
    CORDLESS,
    GOOD,
    GOOD_FAN,
    Scenario,
    Schedule,
    fitted,
    pulled,
    returned,
    scenario,
)
from consolecheck.rehearsal.faults import Step as Deed
from consolecheck.rehearsal.inprocess import InProcess, SimulatedClock
from consolecheck.rehearsal.noise import Line
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.shell import Options, Shell
from consolecheck.rehearsal.site import Configuration
from consolecheck.rehearsal.tables import TABLES

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
AT_ONCE = Acceptance(settling=SettlingLimits(required=False))
"""No waiting for the temperatures, for what is not about them."""
BRISK = Scenario("brisk", "a good swap, done fast", "psu-2", (Deed(3, pulled("psu-2")), Deed(6, fitted("psu-2", GOOD))))
GOOD_ANSWERS: Mapping[str, str] = {
    "psu-2.serial": GOOD.serial,
    "psu-2.part": GOOD.part_number,
    "psu-2.input": "AC",
    "psu-2.airflow": "front-to-back",
    "psu-2.damage": "none",
    "psu-2.contents": "complete",
    "chassis.earth": "connected",
    "chassis.cold_aisle": "port-side",
    "psu-2.lamp": "steady white",
    "chassis.lamp": "steady white",
    "port-7.lamps": "lit",
    "port-8.lamps": "lit",
}


LONGEST = 6000.0
"""Simulated seconds after which a test has gone astray."""


Act = Literal["open", "capture", "idle"]


class Hands:
    """Who answers, by what is written down; what is not could not be seen."""

    name = "R. Petrel"

    def __init__(self, answers: Mapping[str, str] = GOOD_ANSWERS, why: str | None = None) -> None:
        self.answers, self.why = answers, why
        self.asked: list[str] = []
        self.read: list[str] = []
        self.takes: Callable[[float], None] = lambda seconds: None

    def answer(self, question: Question) -> str:
        self.asked.append(question.id)
        self.takes(3.0)
        return self.answers.get(question.id, NOT_SEEN)

    def acknowledge(self, cautions: Sequence[Caution]) -> None:
        self.read.extend(c.id for c in cautions)

    def reason(self, told: Clearance) -> str | None:
        return self.why


class Shown:
    """What was shown; each time it is looked up whether it is on the disk already."""

    def __init__(self, site: "Site") -> None:
        self.site = site
        self.notices: list[tuple[float, Notice]] = []
        self.pictures: list[Picture] = []
        self.looks: list[tuple[float, Settling, str]] = []
        self.notes: list[str] = []
        self.cleared: list[Clearance] = []

    def progress(self, progress: Progress) -> None:
        pass

    def clearance(self, told: Clearance, text: bytes) -> None:
        assert json.loads((self.site.path / "clearance.json").read_bytes())["answer"] == told.answer.value
        self.cleared.append(told)

    def watching(self, picture: Picture, notices: Sequence[Notice], at: str) -> None:
        self.pictures.append(picture)
        self._kept(notices)

    def settling(
        self, found: Settling, elapsed: float, longest: float, notices: Sequence[Notice], at: str, ill: str
    ) -> None:
        self.looks.append((elapsed, found, ill))
        self._kept(notices)

    def _kept(self, notices: Sequence[Notice]) -> None:
        journal = self.site.folder.journal()
        seen = [e.facts["message"] for e in journal if e.what == "seen"]
        assert seen[len(seen) - len(notices) :] == [n.message for n in notices]
        sample = next(e.facts for e in reversed(journal) if e.what == "sample")
        now = self.site.clock.seconds()
        assert sample["seconds"] == pytest.approx(now, abs=0.01), "the sample that is shown is on the disk"
        assert (self.site.path / f"samples/{sample['number']:04}.txt").stat().st_size > 100
        self.notices.extend((now, n) for n in notices)

    def note(self, text: str) -> None:
        self.notes.append(text)


class Laptop(SimulatedClock):
    """A laptop whose clock can be set."""

    off = 0.0

    def epoch(self) -> float:
        return super().epoch() + self.off


class Site:
    """A switch, a job folder, and what lasts between two runs of the program."""

    def __init__(
        self,
        path: Path,
        played: Scenario | str = BRISK,
        limits: Acceptance = AT_ONCE,
        *,
        speed: int = 115200,
        options: Options | None = None,
        configuration: Configuration | None = None,
        facts: Mapping[str, str] | None = None,
        hands: Hands | None = None,
        recorded: bool = False,
        unit: str | None = None,
    ) -> None:
        self.path, self.limits, self.recorded = path, limits, recorded
        self.played = scenario(played) if isinstance(played, str) else played
        self.hands = hands or Hands()
        self.chassis = Chassis(seed=4, configuration=configuration)
        self.shell = Shell(self.chassis, options or Options(start="user"))
        self.login = self.shell.options
        self.line = InProcess(self.shell, Line(speed))
        self.clock = Laptop(self.line)
        self.hands.takes = self.clock.wait
        self.folder = Folder(path)
        self.unit = unit or self.played.unit
        self.facts = dict(facts or {})
        self.deeds: list[float] = []
        self.shown: list[Shown] = []
        self.opened: list[str] = []
        self.polls: list[float] = []
        """Seconds that each capture took."""
        self.lost: Callable[[str, Act], None] = lambda name, act: None
        """Called whenever a console is opened, asked or waited at; raises what a line raises."""

    def begin(self) -> None:
        job = Job(
            unit=self.unit,
            dialect="wexcombe",
            line="simulated",
            speed=self.line.bits_per_second,
            started=stamp(self.clock.epoch()),
            version="0",
            **self.facts,
        )
        self.folder.create(job)

    def conduct(self, folder: Folder | None = None) -> Conduct:
        """A new run of the program on the same folder."""
        shown = Shown(self)
        self.shown.append(shown)
        return Conduct(folder or self.folder, WEXCOMBE, self.limits, self.console, self.clock, self.hands, shown)

    def console(self, name: str) -> AbstractContextManager[Talk]:
        return self._opened(name)

    @contextmanager
    def _opened(self, name: str) -> Iterator[Talk]:
        self.opened.append(name)
        self.lost(name, "open")
        guard = Guard(WEXCOMBE, self.login.keeper, self.login.word)
        cast = self.path / f"{name}-{len(self.opened)}.cast"
        recorder = Recorder(cast, name, self.clock.seconds, int(self.clock.epoch())) if self.recorded else None
        talk = Conversation(self.line, WEXCOMBE, guard, self.clock.seconds, recorder)
        try:
            yield _Asked(talk, self, name)
        except Killed:
            raise  # nobody is left who could leave the console
        except BaseException:
            talk.leave()
            raise
        else:
            talk.leave()
        finally:
            if recorder is not None:
                recorder.close()

    def play(self) -> None:
        """From now on the technician does what the scenario says; when each deed was done is noted."""

        def noted(step: Deed) -> Deed:
            def deed(chassis: Chassis) -> None:
                self.deeds.append(chassis.seconds)
                step.deed(chassis)

            return Deed(step.wait, deed)

        steps = tuple(noted(step) for step in self.played.steps)
        self.line.schedule = Schedule(replace(self.played, steps=steps), self.chassis.seconds)

    def lead(self, conduct: Conduct) -> list[Step]:
        """All steps that are left; gives those that were begun."""
        begun: list[Step] = []

        def begins(step: Step) -> None:
            begun.append(step)
            if step == "attend" and self.line.schedule is None:
                self.play()

        conduct.lead(begins)
        return begun

    def judged(self, conduct: Conduct) -> Judgement:
        """The verdict from the folder alone, kept as the job's."""
        judgement = judged(self.folder, self.limits)
        conduct.keep_verdict(json.dumps({"verdict": judgement.verdict.value}))
        return judgement

    def whole(self) -> Judgement:
        """The job from its beginning to its verdict."""
        self.begin()
        conduct = self.conduct()
        self.lead(conduct)
        return self.judged(conduct)

    @property
    def notices(self) -> list[Notice]:
        return [n for shown in self.shown for _, n in shown.notices]

    def told(self, what: str) -> list[str]:
        return [n.message for n in self.notices if n.what == what]


class _Asked:
    """A conversation that can be lost before each poll and each pause, and whose polls are timed."""

    def __init__(self, talk: Conversation, site: "Site", name: str) -> None:
        self._talk, self._site, self._name = talk, site, name

    @property
    def open(self) -> bool:
        return self._talk.open

    @property
    def over(self) -> str:
        return self._talk.over

    @property
    def over_by(self) -> str:
        return self._talk.over_by

    def capture(self, commands: Sequence[str], progress: Callable[[Progress], None] | None = None) -> Captured:
        self._site.lost(self._name, "capture")
        began = self._site.clock.seconds()
        assert began < LONGEST, "the job does not come to its end"
        result = self._talk.capture(commands, progress)
        self._site.polls.append(self._site.clock.seconds() - began)
        return result

    def idle(self, seconds: float) -> None:
        self._site.lost(self._name, "idle")
        self._talk.idle(seconds)


class Killed(BaseException):
    """The process ends here, and no `finally` of it counts."""


def judged(folder: Folder, limits: Acceptance) -> Judgement:
    """The verdict by what a folder holds, and nothing else."""
    found = held(Folder(folder.path), WEXCOMBE)
    after = read_text(found.after, "after.txt", (WEXCOMBE,), WEXCOMBE)
    if found.before is None:
        return judge_alone(after, found.job.unit, limits, found.observed, found.samples, found.taken)
    before = read_text(found.before, "before.txt", (WEXCOMBE,), WEXCOMBE)
    return judge(before, after, found.job.unit, limits, found.observed, found.reseat, found.samples, found.taken)


def of(judgement: Judgement, rule: str) -> list[Finding]:
    return [f for f in judgement.findings if f.rule == rule]


def done(folder: Folder) -> list[str]:
    """The steps that the journal tells as finished, in its order."""
    return [e.what.removeprefix(DONE) for e in folder.journal() if e.what.startswith(DONE)]


# A good job.


def test_a_good_job_from_its_baseline_to_its_seal(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "none", Acceptance(), recorded=True)
    judgement = site.whole()
    assert Verdict.VERIFIED == judgement.verdict
    assert list(ORDER) == done(site.folder)
    assert Answer.GO == site.shown[0].cleared[0].answer
    assert sorted(GOOD_ANSWERS) == sorted(site.hands.asked)
    assert {"static", "order", "several-supplies", "hot"} <= set(site.hands.read)
    assert "done" == next_step(site.folder.journal())
    seal(site.folder, "2026-11-18T07:00:00Z", "0")
    assert "whole" == examine(site.folder).state
    assert judgement == judged(site.folder, Acceptance())  # the folder read anew says the same


def test_the_journal_tells_who_saw_what_and_when(tmp_path: Path) -> None:
    site = Site(tmp_path / "job")
    assert Verdict.VERIFIED == site.whole().verdict
    seen = [e for e in site.folder.journal() if e.what == "observation"]
    assert GOOD_ANSWERS == {f"{e.facts['unit']}.{e.facts['fact']}": e.facts["value"] for e in seen}
    assert {"R. Petrel"} == {e.facts["by"] for e in seen}
    times = [e.at for e in site.folder.journal()]
    assert sorted(times) == times
    acknowledged = next(e for e in site.folder.journal() if e.what == "cautions acknowledged")
    assert (site.hands.read, "R. Petrel") == (acknowledged.facts["ids"], acknowledged.facts["by"])


def test_nothing_is_pulled_before_it_is_cleared_and_the_cautions_are_read(tmp_path: Path) -> None:
    site = Site(tmp_path / "job")
    site.begin()
    assert ["baseline", "in-hand", "clearance", "cautions", "attend"] == site.lead(site.conduct())[:5]
    assert Condition.OK == View(site.conduct().baseline_read(), "before").condition("psu-2")
    first = next(e for e in site.folder.journal() if e.what == "sample")
    assert site.folder.journal().index(first) > next(
        n for n, e in enumerate(site.folder.journal()) if e.what == "cautions acknowledged"
    )


def test_what_to_do_names_the_label_of_the_right_part(tmp_path: Path) -> None:
    site = Site(tmp_path / "job")
    site.begin()
    conduct = site.conduct()
    conduct.baseline()
    assert "Pull psu-2 (serial WXS-20433), fit the new part, plug in its cord." == conduct.to_do()
    conduct.clear()
    assert conduct.to_do().startswith("Cleared. Pull psu-2 ")
    conduct.note("overridden", answer="hold", reason="drained", by="R. Petrel")
    assert conduct.to_do().startswith("Not cleared, but overridden. Pull psu-2 ")
    fans = Site(tmp_path / "fans", "fan-replaced")
    fans.begin()
    conduct = fans.conduct()
    conduct.baseline()
    assert "Pull fan-2 (serial WXF-11057), fit the new part." == conduct.to_do()


# What happens while it is out.


@pytest.mark.parametrize("speed", [9600, 115200])
@pytest.mark.parametrize(
    ("played", "kinds"),
    [
        ("none", ["removed", "inserted"]),
        ("wrong-slot-put-back", ["wrong-slot", "put-back", "removed", "inserted"]),
        ("same-serial", ["removed", "inserted"]),
        ("fan-replaced", ["removed", "inserted"]),
    ],
)
def test_what_hands_do_is_told_within_one_poll_and_one_second(
    tmp_path: Path, played: str, kinds: list[str], speed: int
) -> None:
    """And what is left of the poll in which they did it: a table that was printed already cannot show it."""
    site = Site(tmp_path / "job", _with_time_between(played), speed=speed)
    site.whole()
    told = [(at, n) for at, n in site.shown[0].notices if n.what in ("removed", "inserted", "wrong-slot", "put-back")]
    assert kinds == [n.what for _, n in told]
    late = [at - deed for (at, _), deed in zip(told, site.deeds, strict=True)]
    assert max(late) <= 1.0 + 2 * max(site.polls)
    assert min(late) > 0


def _with_time_between(name: str) -> Scenario:
    """A part that is put back at once is in again before a slow line can show that it was out."""
    if name == "same-serial":
        return Scenario(name, "", "psu-2", (Deed(20, pulled("psu-2")), Deed(30, returned("psu-2"))))
    return scenario(name)


def test_a_wrong_slot_is_said_with_what_to_do_and_rings(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "wrong-slot-put-back")
    site.whole()
    (wrong,) = (n for n in site.notices if n.what == "wrong-slot")
    assert ("psu-1 went absent, the job is for psu-2: put it back", True) == (wrong.message, wrong.urgent)


def test_a_link_that_falls_while_the_unit_is_out_is_said(tmp_path: Path) -> None:
    steps = (Deed(3, pulled("psu-2")), Deed(5, lambda c: c.link_down(8)), Deed(5, fitted("psu-2", GOOD)))
    site = Site(tmp_path / "job", Scenario("link", "", "psu-2", steps))
    assert Verdict.NOT_VERIFIED == site.whole().verdict
    assert ["link 8 was up and shows `down`: check the cable that was moved"] == site.told("link")
    assert "port-8.lamps" == next(q for q in site.hands.asked if q.startswith("port-"))  # the lost one first


def test_another_chassis_on_the_line_does_not_end_the_watch(tmp_path: Path) -> None:
    """Its psu-2 has another serial, and that is no replacement."""
    site = Site(tmp_path / "job", Scenario("nothing", "", "psu-2", ()))
    site.begin()
    conduct = site.conduct()
    conduct.baseline()
    _another_switch(site)
    conduct.attend(longest=30)
    assert 30 <= site.shown[0].pictures[-1].seconds - site.shown[0].pictures[0].seconds + 2
    assert ["other-chassis"] == [n.what for n in site.notices]
    assert {"in place"} == {p.phase for p in site.shown[0].pictures}


def _another_switch(site: Site) -> None:
    """Somebody moved the console cable to the switch below."""
    other = Configuration(
        host="tern-05",
        serial="WXC-0041901",
        supplies=(replace(GOOD, serial="WXS-60001"), replace(GOOD, serial="WXS-60002")),
        fans=tuple(replace(GOOD_FAN, serial=f"WXF-6000{n}") for n in range(3)),
    )
    chassis = Chassis(seed=5, configuration=other)
    chassis.advance(site.chassis.seconds)
    site.chassis = site.line.chassis = chassis
    site.shell = site.line._console.shell = Shell(chassis, site.shell.options)


# May it be pulled?

HEAVY = Configuration(load=560)
"""More than one supply of 600 W carries with 10 % to spare."""


@pytest.mark.parametrize(
    ("configuration", "answers", "told", "how"),
    [(HEAVY, {}, Answer.HOLD, "hold"), (None, {"psu-2.serial": "0"}, Answer.UNKNOWN, "unclear")],
)
def test_what_is_not_cleared_stops_before_anything_is_pulled(
    tmp_path: Path, configuration: Configuration | None, answers: dict[str, str], told: Answer, how: str
) -> None:
    site = Site(tmp_path / "job", configuration=configuration, hands=Hands({**GOOD_ANSWERS, **answers}))
    site.begin()
    with pytest.raises(Halt, match="leave psu-2 in place") as stopped:
        site.lead(site.conduct())
    assert (how, told) == (stopped.value.how, site.shown[0].cleared[0].answer)
    assert ["baseline", "in-hand"] == done(site.folder)
    assert ([], []) == (site.folder.samples(), site.hands.read)


@pytest.mark.parametrize(
    ("configuration", "answers", "told"),
    [(HEAVY, {}, "hold"), (None, {"psu-2.serial": "0"}, "unknown")],
)
def test_an_override_goes_on_and_its_reason_is_kept(
    tmp_path: Path, configuration: Configuration | None, answers: dict[str, str], told: str
) -> None:
    hands = Hands({**GOOD_ANSWERS, **answers}, why="the rack is drained, change 0412")
    site = Site(tmp_path / "job", configuration=configuration, hands=hands)
    site.whole()
    (kept,) = (e for e in site.folder.journal() if e.what == "overridden")
    assert {"answer": told, "reason": "the rack is drained, change 0412", "by": "R. Petrel"} == kept.facts
    assert list(ORDER) == done(site.folder)


def test_what_was_put_right_after_a_hold_counts(tmp_path: Path) -> None:
    """The same command takes a new baseline: the old one would hold for ever. The part in hand is still the same."""
    site = Site(tmp_path / "job", configuration=HEAVY)
    site.begin()
    with pytest.raises(Halt, match="give the same command again"):
        site.lead(site.conduct())
    asked = list(site.hands.asked)
    site.chassis.grow_load(-0.3)
    site.clock.wait(60)
    conduct = site.conduct()
    begun = site.lead(conduct)
    assert (["baseline", "clearance", "cautions"], Answer.GO) == (begun[:3], site.shown[1].cleared[0].answer)
    assert len(set(site.hands.asked)) == len(site.hands.asked) > len(asked)
    assert Verdict.VERIFIED == site.judged(conduct).verdict


def test_after_a_hold_for_the_part_in_hand_the_next_part_is_looked_at(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", hands=Hands({**GOOD_ANSWERS, "psu-2.damage": "found", "psu-2.serial": "WXS-31900"}))
    site.begin()
    with pytest.raises(Halt):
        site.lead(site.conduct())
    site.hands.answers = GOOD_ANSWERS
    conduct = site.conduct()
    assert ["baseline", "in-hand", "clearance"] == site.lead(conduct)[:3]
    assert Verdict.VERIFIED == site.judged(conduct).verdict
    assert ["WXS-31900", "WXS-31902"] == [
        e.facts["value"] for e in site.folder.journal() if e.facts.get("fact") == "serial"
    ]


def test_a_part_that_could_not_be_looked_at_the_second_time_is_not_the_first_one(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", hands=Hands({**GOOD_ANSWERS, "psu-2.part": "WXP-300F"}))
    site.begin()
    with pytest.raises(Halt):
        site.lead(site.conduct())
    site.hands.answers = {}
    site.lead(site.conduct())
    assert not any("WXP-300F" in f.message for f in site.shown[1].cleared[0].findings)


def test_the_chassis_that_the_ticket_means_is_another_one(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", facts={"chassis": "WXC-0041901"})
    site.begin()
    with pytest.raises(Halt) as stopped:
        site.lead(site.conduct())
    assert "hold" == stopped.value.how
    assert any("WXC-0041877" in f.message and "WXC-0041901" in f.message for f in site.shown[0].cleared[0].findings)
    right = Site(tmp_path / "right", facts={"chassis": "WXC-0041877"})
    assert Verdict.VERIFIED == right.whole().verdict


def test_a_unit_that_the_switch_does_not_show(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", unit="psu-3")
    site.begin()
    with pytest.raises(Halt, match=r"it shows fan-1, fan-2, fan-3, psu-1, psu-2\. Begin a new folder") as stopped:
        site.lead(site.conduct())
    assert ("usage", "baseline") == (stopped.value.how, next_step(site.folder.journal()))


def test_a_baseline_that_was_not_wholly_read_is_no_baseline(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    newer = dict(TABLES)
    newer["power"] = lambda chassis: [*(rows := TABLES["power"](chassis))[:-1], "  a line of another release", rows[-1]]
    site = Site(tmp_path / "job")
    site.begin()
    with monkeypatch.context() as patched:
        patched.setattr("consolecheck.rehearsal.shell.TABLES", newer)
        with pytest.raises(Halt, match="leave psu-2 in place, and give the same command again") as stopped:
            site.lead(site.conduct())
    assert ("unclear", "baseline") == (stopped.value.how, next_step(site.folder.journal()))
    conduct = site.conduct()
    site.lead(conduct)
    assert Verdict.VERIFIED == site.judged(conduct).verdict
    assert (site.path / "earlier-1-before.txt").exists()


# Interrupted, at every point.


class Brittle(Folder):
    """A folder whose process ends at the n-th of the moments at which something is written or noted."""

    def __init__(self, path: Path, left: int, how: type[BaseException], each: bool) -> None:
        super().__init__(path)
        self.left, self.how, self.each = left, how, each

    def _moment(self) -> None:
        self.left -= 1
        if self.left == 0:
            raise self.how

    def write(self, name: str, data: bytes) -> Path:
        target = super().write(name, data)
        if self.each:
            self._moment()
        return target

    def note(self, what: str, at: str, **facts: object) -> None:
        if self.each:
            self._moment()
        super().note(what, at, **facts)
        self._moment()


def _moments(path: Path, each: bool, limits: Acceptance, configuration: Configuration | None) -> int:
    """How many such moments a whole job has."""
    site = Site(path, limits=limits, configuration=configuration)
    site.begin()
    brittle = Brittle(path, 0, Killed, each)
    _all_of(site, brittle)
    return -brittle.left


def _all_of(site: Site, folder: Folder) -> None:
    conduct = site.conduct(folder)
    site.lead(conduct)
    site.judged(conduct)


def _looks(folder: Folder) -> list[View]:
    return [View(read_text(k.text, k.name, (WEXCOMBE,), WEXCOMBE), "after") for k in folder.samples()]


def _contents(path: Path) -> dict[str, bytes]:
    return {p.relative_to(path).as_posix(): p.read_bytes() for p in path.rglob("*") if p.is_file()}


def _interrupted(path: Path, moment: int, how: type[BaseException], each: bool, site: Site, later: float = 5.0) -> None:
    """A job that ends at one moment and is begun again with the same command, so many seconds later."""
    site.begin()
    with pytest.raises(how):
        _all_of(site, Brittle(path, moment, how, each))
    before, journal = _contents(path), site.folder.journal()
    finished, expected = done(site.folder), next_step(journal)
    site.clock.wait(later)

    conduct = site.conduct()
    begun = site.lead(conduct)
    if expected != "done":
        judgement = site.judged(conduct)
    else:
        judgement = judged(site.folder, site.limits)
    assert Verdict.VERIFIED == judgement.verdict, [
        f.message for f in judgement.findings if f.outcome is not Outcome.MET
    ]
    # It goes on at the step that was not finished, and does none a second time.
    assert not set(begun) & set(finished)
    if begun and expected not in ("in-hand", "fitted", "look"):  # a step may have had only its end left
        assert expected == begun[0]
    assert list(ORDER) == done(site.folder)
    # No answer is lost or asked for twice, and nothing that happened is told twice or not at all.
    after = site.folder.journal()
    assert journal == after[: len(journal)]
    answers = [f"{e.facts['unit']}.{e.facts['fact']}" for e in after if e.what == "observation"]
    assert sorted(GOOD_ANSWERS) == sorted(answers)
    out = [v.condition("psu-2") is Condition.ABSENT for v in _looks(site.folder)]
    assert (["removed"] if any(out) else []) + ["inserted"] == [
        e.facts["kind"] for e in after if e.what == "seen" and e.facts["kind"] in ("removed", "inserted")
    ]
    # What was taken is there, and untouched.
    now = _contents(path)
    for name, data in before.items():
        if name.startswith("samples/") or name in ("before.txt", "after.txt"):
            assert data in (now.get(name), *(d for n, d in now.items() if n.startswith("earlier-"))), name
    site.folder.samples()


def test_a_job_that_is_killed_at_any_moment_goes_on_where_it_stood(tmp_path: Path) -> None:
    """Before and after each line of the journal, and after each file: nobody is left to tidy up."""
    number = _moments(tmp_path / "whole", True, AT_ONCE, None)
    assert number > 60
    for moment in range(1, number + 1):
        _interrupted(tmp_path / f"{moment}", moment, Killed, True, Site(tmp_path / f"{moment}"), later=0.5)


def test_a_job_that_is_interrupted_at_any_moment_goes_on_where_it_stood(tmp_path: Path) -> None:
    number = _moments(tmp_path / "whole", False, AT_ONCE, None)
    assert number > 25
    for moment in range(1, number + 1):
        _interrupted(tmp_path / f"{moment}", moment, KeyboardInterrupt, False, Site(tmp_path / f"{moment}"))


QUICK = Configuration(sensors=tuple(replace(s, tau=15.0) for s in Configuration().sensors))
"""A switch whose sensors follow within seconds, so that a job with settling is soon done."""


def test_a_job_that_is_killed_while_it_settles_settles_anew(tmp_path: Path) -> None:
    """Between two runs no clock tells how much time went by, so no course goes over both."""
    limits = Acceptance()
    number = _moments(tmp_path / "whole", False, limits, QUICK)
    first = _moments(tmp_path / "at-once", False, AT_ONCE, QUICK)
    assert number - first > 8
    for moment in range(first - 6, number + 1):
        site = Site(tmp_path / f"{moment}", limits=limits, configuration=QUICK)
        _interrupted(site.path, moment, Killed, False, site)
        samples = held(site.folder, WEXCOMBE).samples
        kept = site.folder.samples()
        last = [k for k in kept if k.run == kept[-1].run]
        assert [k.seconds for k in last] == [s.seconds for s in samples]


def test_the_slot_stays_open_while_nobody_watches(tmp_path: Path) -> None:
    """The time limit goes on from the removal that an earlier run saw, by the laptop's clock."""
    site = Site(
        tmp_path / "job", Scenario("slow", "", "psu-2", (Deed(3, pulled("psu-2")), Deed(170, fitted("psu-2", GOOD))))
    )
    site.begin()
    conduct = site.conduct()

    def killed(name: str, act: Act) -> None:
        if site.told("removed") and len(site.shown) == 1:
            raise Killed

    site.lost = killed
    with pytest.raises(Killed):
        site.lead(conduct)
    site.clock.wait(60)
    site.lead(site.conduct())
    first = site.shown[1].pictures[0]
    assert ("out", True) == (first.phase, abs((first.open_seconds or 0) - (site.clock.seconds() - site.deeds[0])) < 200)
    assert first.open_seconds == pytest.approx(first.seconds - site.deeds[0], abs=4)
    assert 1 == len(site.told("removed"))
    assert any("the limit is 120 s" in text for text in site.told("open-long"))


def test_a_clock_that_was_set_back_does_not_open_the_slot_in_the_future(tmp_path: Path) -> None:
    site = Site(tmp_path / "job")
    site.begin()
    conduct = site.conduct()
    site.lost = lambda name, act: (
        (_ for _ in ()).throw(Killed) if site.told("removed") and len(site.shown) == 1 else None
    )
    with pytest.raises(Killed):
        site.lead(conduct)
    site.clock.off = -7200
    site.lead(site.conduct())
    assert all((p.open_seconds or 0) >= 0 for p in site.shown[1].pictures)


# The console.


def _gone(site: Site, after: float, seconds: float) -> Callable[[str, Act], None]:
    """A line that is lost for so long, so many seconds after the technician began."""

    def lost(name: str, act: Act) -> None:
        begun = site.line.schedule is not None and bool(site.shown[0].pictures)
        if begun and not hasattr(site, "lost_at"):
            site.lost_at = site.clock.seconds() + after  # type: ignore[attr-defined]
        if begun and 0 <= site.clock.seconds() - site.lost_at < seconds:  # type: ignore[attr-defined]
            raise LineLost("the adapter is gone")

    return lost


@pytest.mark.parametrize("seconds", [2, 6, 70])
def test_a_console_that_is_lost_is_found_again(tmp_path: Path, seconds: float) -> None:
    site = Site(tmp_path / "job", "none")
    site.lost = _gone(site, 10, seconds)
    assert Verdict.VERIFIED == site.whole().verdict
    lost = [e.facts["why"] for e in site.folder.journal() if e.what == "console lost"]
    assert {"the adapter is gone"} == set(lost)
    assert any("trying again" in note for note in site.shown[0].notes)
    assert 1 == len(site.told("inserted"))


def test_a_console_that_stays_lost_is_given_up_with_what_is_kept(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "none")
    site.lost = _gone(site, 10, 10_000)
    site.begin()
    began = site.clock.seconds()
    with pytest.raises(Halt, match=r"the adapter is gone.*is kept in .*; start the same command again") as stopped:
        site.lead(site.conduct())
    assert "stopped" == stopped.value.how
    assert len(TRIES_TO_REACH) + 1 == sum(e.what == "console lost" for e in site.folder.journal())
    assert sum(TRIES_TO_REACH) <= site.clock.seconds() - began
    kept = len(site.folder.samples())
    assert (True, "attend") == (kept > 3, next_step(site.folder.journal()))
    site.lost = lambda name, act: None
    conduct = site.conduct()
    site.lead(conduct)
    assert len(site.folder.samples()) > kept
    assert Verdict.VERIFIED == site.judged(conduct).verdict


def test_every_answer_of_the_console_gives_all_tries_back(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "none")
    most = len(TRIES_TO_REACH) + 3

    def loose(name: str, act: Act) -> None:
        if name == "out" and act == "idle" and site.opened.count("out") <= most:
            raise LineLost("the adapter is loose")

    site.lost = loose
    assert Verdict.VERIFIED == site.whole().verdict
    assert most == sum(e.what == "console lost" for e in site.folder.journal())


@pytest.mark.parametrize("side", ["before", "after"])
def test_a_line_that_is_lost_in_a_capture_stops_there_and_goes_on_there(tmp_path: Path, side: str) -> None:
    site = Site(tmp_path / "job")

    def lost(name: str, act: Act) -> None:
        if name == side and len(site.shown) == 1:
            raise LineLost("the adapter is gone")

    site.lost = lost
    site.begin()
    with pytest.raises(Halt, match="start the same command again to go on"):
        site.lead(site.conduct())
    conduct = site.conduct()
    assert {"before": "baseline", "after": "capture"}[side] == site.lead(conduct)[0]
    assert Verdict.VERIFIED == site.judged(conduct).verdict


@pytest.mark.parametrize("side", ["before", "after"])
def test_a_capture_that_breaks_off_is_kept_and_counts_for_nothing(tmp_path: Path, side: str) -> None:
    site = Site(tmp_path / "job")
    site.lost = lambda name, act: (
        site.chassis.reload() if (name, act, len(site.shown)) == (side, "capture", 1) else None
    )
    site.begin()
    with pytest.raises(Halt, match=r"the device is starting.* What was captured is kept in ") as stopped:
        site.lead(site.conduct())
    assert "stopped" == stopped.value.how
    assert b"the capture broke off in `tell self`" in (site.path / f"{side}.txt").read_bytes()
    assert {"before": "baseline", "after": "capture"}[side] == next_step(site.folder.journal())
    assert side not in [e.facts.get("side") for e in site.folder.journal() if e.what == "captured"]


def test_a_switch_that_reloads_is_left_alone_until_it_runs(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "reload")
    judgement = site.whole()
    assert Verdict.NOT_VERIFIED == judgement.verdict
    assert (set(), False) == ({"boot", "valve"} & set(site.shell.typed), site.chassis.held)
    assert any("reloaded" in text for text in site.told("reload"))
    told = "the device is starting, or stands in its boot loader; trying again in 60 s"
    assert told in site.shown[0].notes  # and not to start anything again


GUARDED = Options(keeper="keeper", word="high-water-7")


def test_a_session_that_ended_for_want_of_typing_is_opened_again(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", limits=Acceptance(), configuration=QUICK, options=replace(GUARDED, idle=8.0))
    assert Verdict.VERIFIED == site.whole().verdict
    assert site.opened.count("settling") > 3


def test_a_console_is_left_logged_out_at_every_end(tmp_path: Path) -> None:
    """Also where the watch was ended by what it saw, or by a person: else the next who comes is somebody else."""
    site = Site(tmp_path / "job", options=GUARDED)
    modes: list[str] = []
    site.lost = lambda name, act: modes.append(site.shell.mode)
    site.begin()
    conduct = site.conduct()
    conduct.baseline()
    site.line.read(0.1)
    assert "name" == site.shell.mode
    site.play()
    conduct.attend()
    site.line.read(0.1)
    assert "name" == site.shell.mode
    site.lost = lambda name, act: (_ for _ in ()).throw(KeyboardInterrupt) if site.shell.mode == "user" else None
    with pytest.raises(KeyboardInterrupt):
        conduct.attend(longest=5)
    site.line.read(0.1)
    assert "name" == site.shell.mode
    assert "user" in modes


def test_a_password_that_is_refused_meanwhile_is_tried_once(tmp_path: Path) -> None:
    """An account locks after a few, and the tries to reach a lost console are nine."""
    site = Site(tmp_path / "job", "none", options=GUARDED)
    site.begin()
    conduct = site.conduct()
    conduct.baseline()
    site.shell.options = replace(GUARDED, word="low-water-7")
    with pytest.raises(Halt, match="lockouts are real"):
        conduct.attend()
    assert b"high-water-7\rhigh-water-7\r" == bytes(site.shell.typed["word"])
    assert 1 == sum(e.what == "console lost" for e in site.folder.journal())


# The laptop's clock, and the age of the baseline.


def test_a_clock_that_was_set_back_leaves_the_swap_open(tmp_path: Path) -> None:
    site = Site(tmp_path / "job")
    site.begin()
    conduct = site.conduct()
    conduct.baseline()
    site.clock.off = -7200
    site.lead(conduct)
    judgement = site.judged(conduct)
    assert Verdict.INCONCLUSIVE == judgement.verdict
    assert any("set back" in f.message for f in of(judgement, "job.age"))
    taken = taken_in(site.folder.journal())
    assert (taken.after or 0) < (taken.before or 0)


def test_a_baseline_that_is_too_old_leaves_the_swap_open(tmp_path: Path) -> None:
    limits = AT_ONCE.model_copy(update={"job": JobLimits(baseline_hours=0.01)})
    site = Site(tmp_path / "job", limits=limits)
    judgement = site.whole()
    assert Verdict.INCONCLUSIVE == judgement.verdict
    assert any(f.outcome is Outcome.UNDETERMINED and "older" in f.message for f in of(judgement, "job.age"))


# Settling.


def test_the_longest_wait_ends_undetermined_with_where_it_will_stand(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "none", Acceptance(settling=SettlingLimits(longest_wait=300)))
    judgement = site.whole()
    (end,) = (e for e in site.folder.journal() if e.what == f"{DONE}settle")
    assert ("the longest wait is over", True) == (end.facts["why"], 300 <= end.facts["seconds"] < 320)
    assert Verdict.INCONCLUSIVE == judgement.verdict
    (waiting,) = (f for f in of(judgement, "temperature.settled") if f.outcome is Outcome.UNDETERMINED)
    assert ("psu-2", True) == (waiting.subject, "psu-2 will stand at 3" in waiting.message)
    assert any("psu-2" in text for text in end.facts["open"])


def test_a_part_that_is_not_well_is_not_waited_for(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "no-input", Acceptance())
    assert Verdict.NOT_VERIFIED == site.whole().verdict
    (end,) = (e for e in site.folder.journal() if e.what == f"{DONE}settle")
    assert "psu-2 is no-input" == end.facts["why"]
    assert ILL_FOR <= end.facts["seconds"] < ILL_FOR + 30
    assert {"psu-2 is no-input"} == {ill for _, _, ill in site.shown[0].looks}


def test_a_cord_that_comes_late_is_waited_for(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "cord-late", Acceptance(), configuration=QUICK)
    assert Verdict.VERIFIED == site.whole().verdict
    assert {"psu-2 is no-input", ""} == {ill for _, _, ill in site.shown[0].looks}


def test_a_short_illness_begins_the_wait_anew(tmp_path: Path) -> None:
    """Ill for 120 s, well, and ill for 120 s again is not ill for 180 s."""
    cord = [Deed(100, lambda c: c.cord("psu-2", True)), Deed(30, lambda c: c.cord("psu-2", False))]
    steps = (Deed(3, pulled("psu-2")), Deed(6, fitted("psu-2", CORDLESS)), *cord, Deed(120, cord[0].deed))
    site = Site(tmp_path / "job", Scenario("loose", "", "psu-2", steps), Acceptance(), configuration=QUICK)
    assert Verdict.VERIFIED == site.whole().verdict


def test_where_the_acceptance_asks_for_no_settling_nobody_waits(tmp_path: Path) -> None:
    site = Site(tmp_path / "job")
    assert Verdict.VERIFIED == site.whole().verdict
    assert {"out"} == {k.phase for k in site.folder.samples()}
    assert ["the acceptance does not ask to wait until the temperatures have settled"] == site.shown[0].notes


def test_the_samples_of_another_run_are_in_no_course(tmp_path: Path) -> None:
    """Its clock began elsewhere; the course begins anew, and so does the shortest time that it takes."""
    site = Site(tmp_path / "job", "none", Acceptance(), configuration=QUICK)
    site.begin()
    conduct = site.conduct()
    site.lost = lambda name, act: (_ for _ in ()).throw(Killed) if len(site.shown[0].looks) == 6 else None
    with pytest.raises(Killed):
        site.lead(conduct)
    site.lost = lambda name, act: None
    conduct = site.conduct()
    assert "settle" == site.lead(conduct)[0]
    assert {"seen for too short a time"} == {c.why for c in site.shown[1].looks[2][1].courses}
    assert Verdict.VERIFIED == site.judged(conduct).verdict
    assert {2} == {
        k.run for k in site.folder.samples() if k.seconds in {s.seconds for s in held(site.folder, WEXCOMBE).samples}
    }


def test_another_supply_that_fails_while_it_settles_is_told(tmp_path: Path) -> None:
    steps = (*BRISK.steps, Deed(60, lambda c: c.fail_supply("psu-1")))
    site = Site(tmp_path / "job", Scenario("later", "", "psu-2", steps), Acceptance(), configuration=QUICK)
    assert Verdict.NOT_VERIFIED == site.whole().verdict
    assert any("psu-1" in text for text in site.told("unit"))


def test_what_settled_live_has_settled_when_it_is_read_again(tmp_path: Path) -> None:
    """To the last digit of its seconds: a course that is just settled is not, a thousandth of a second on."""
    site = Site(tmp_path / "job", "none", Acceptance(), configuration=QUICK)
    site.begin()
    conduct = site.conduct()
    site.lead(conduct)
    kept = held(site.folder, WEXCOMBE).samples
    assert [s.seconds for s in kept] == [s.seconds for s in conduct._samples if s.seconds >= kept[0].seconds]
    assert len(kept) > len(site.shown[0].looks) > 8


# Without a baseline.


@pytest.mark.parametrize(("allowed", "verdict"), [(False, Verdict.INCONCLUSIVE), (True, Verdict.VERIFIED)])
def test_a_swap_without_a_baseline(tmp_path: Path, allowed: bool, verdict: Verdict) -> None:
    limits = Acceptance(job=JobLimits(without_baseline=allowed))
    site = Site(tmp_path / "job", "none", limits, configuration=QUICK)
    scenario("none").perform(site.chassis)
    site.begin()
    conduct = site.conduct()
    conduct.note("observation", unit="psu-2", fact="serial", value=GOOD.serial, by="R. Petrel")
    conduct.settle()
    conduct.capture_after()
    judgement = site.judged(conduct)
    assert verdict == judgement.verdict, [f.message for f in judgement.findings if f.outcome is not Outcome.MET]
    assert len(site.shown[0].looks) > 3


# Reseats, fans, other chassis.

SEATED_AGAIN = Scenario("reseat", "", "psu-2", (Deed(3, pulled("psu-2")), Deed(8, returned("psu-2"))))


def test_a_part_that_goes_back_in_on_purpose(tmp_path: Path) -> None:
    """Nothing else is in the hand, so nobody is asked about it; the label that is the fitted one's does not hold."""
    site = Site(tmp_path / "job", SEATED_AGAIN, facts={"reseat": "it rattled"})
    site.begin()
    conduct = site.conduct()
    conduct.note("observation", unit="psu-2", fact="serial", value="WXS-20433", by="R. Petrel")
    site.lead(conduct)
    judgement = site.judged(conduct)
    assert Verdict.VERIFIED == judgement.verdict
    assert Answer.GO == site.shown[0].cleared[0].answer
    assert not {"psu-2.serial", "psu-2.part", "psu-2.damage"} & set(site.hands.asked)
    assert any("it rattled" in f.message for f in of(judgement, "identity.replaced"))
    assert ["the same part"] == ["the same part"] * ("the same part, WXS-20433" in site.told("inserted")[0])


def test_a_reseat_without_a_reason_is_no_replacement(tmp_path: Path) -> None:
    assert Verdict.NOT_VERIFIED == Site(tmp_path / "job", SEATED_AGAIN).whole().verdict


def test_a_label_that_is_the_fitted_part_s_holds_a_replacement(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", hands=Hands({**GOOD_ANSWERS, "psu-2.serial": "WXS-20433"}))
    site.begin()
    with pytest.raises(Halt):
        site.lead(site.conduct())
    assert Answer.HOLD == site.shown[0].cleared[0].answer


@pytest.mark.parametrize(
    ("name", "verdict"),
    [
        ("fan-replaced", Verdict.VERIFIED),
        ("fan-dead-replacement", Verdict.NOT_VERIFIED),
        ("fan-reversed-airflow", Verdict.NOT_VERIFIED),
        ("fan-fails-meanwhile", Verdict.NOT_VERIFIED),
    ],
)
def test_a_fan_module(tmp_path: Path, name: str, verdict: Verdict) -> None:
    label = {"fan-2.serial": "WXF-20902" if "reversed" in name else GOOD_FAN.serial}
    hands = Hands({**GOOD_ANSWERS, **label})
    site = Site(tmp_path / "job", name, Acceptance(), configuration=QUICK, hands=hands)
    assert verdict == site.whole().verdict
    assert {"fans-turn", "open-slot"} <= set(site.hands.read)
    assert not any(q.startswith("psu-2.") and q != "psu-2.airflow" for q in site.hands.asked)


def test_captures_of_two_chassis_are_no_swap(tmp_path: Path) -> None:
    """The console cable was moved after the unit was fitted."""
    site = Site(tmp_path / "job")
    site.begin()
    conduct = site.conduct()

    def begins(step: Step) -> None:
        if step == "attend":
            site.play()

    original = conduct.capture_after

    def elsewhere() -> None:
        _another_switch(site)
        original()

    conduct.capture_after = elsewhere  # type: ignore[method-assign]
    conduct.lead(begins)
    judgement = judged(site.folder, site.limits)
    assert Verdict.NOT_VERIFIED == judgement.verdict
    assert any("two chassis" in f.message for f in of(judgement, "identity.chassis"))


def test_what_hands_do_while_nobody_looks_is_done_at_its_time(tmp_path: Path) -> None:
    site = Site(tmp_path / "job", "none")
    site.play()
    began = site.clock.seconds()
    site.clock.wait(300)
    assert [20, 80] == [pytest.approx(at - began, abs=1.0) for at in site.deeds]
    assert 300 == pytest.approx(site.clock.seconds() - began)


# The steps, and what a folder holds.


def entry(what: str, **facts: object) -> Entry:
    return Entry(what, "2026-11-18T06:12:40Z", facts)


def finished(*steps: Step) -> list[Entry]:
    return [entry(f"{DONE}{step}") for step in steps]


def test_the_next_step_is_the_one_after_the_last_that_was_finished() -> None:
    assert "baseline" == next_step([])
    for step, following in pairwise((*ORDER, "done")):
        assert following == next_step(finished(*ORDER[: ORDER.index(step) + 1]))
        assert following == next_step(finished(step))  # what was left out on purpose is not gone back to


def test_a_new_baseline_begins_anew_and_nothing_else_goes_back() -> None:
    assert "in-hand" == next_step(finished("baseline", "in-hand", "clearance", "baseline"))
    assert "look" == next_step(finished("baseline", "settle", "clearance"))


def test_a_step_is_taken_up_again_on_purpose_and_never_skipped_by_it() -> None:
    again = entry(AGAIN, step="settle")
    assert "settle" == next_step([*finished(*ORDER), again])
    assert "clearance" == next_step([*finished("baseline", "in-hand"), again])
    assert "look" == next_step([*finished(*ORDER), again, *finished("settle")])
    assert "in-hand" == next_step([*finished("baseline"), entry(AGAIN, step="a step of a later release")])


def test_lines_that_only_look_like_a_finished_step_count_for_nothing() -> None:
    assert "baseline" == next_step([entry("baseline"), entry("attend"), entry(f"{DONE}something"), entry("captured")])


def test_what_was_reached() -> None:
    assert not reached([], "baseline")
    assert reached(finished("attend"), "clearance")
    assert not reached(finished("attend"), "fitted")
    assert reached(finished(*ORDER), "judge")


def test_the_number_of_a_step() -> None:
    assert ("1/10", "10/10") == (number_of("baseline"), number_of("judge"))


@pytest.mark.parametrize(
    "line",
    [
        {"what": "observation", "unit": "psu-2", "fact": "colour", "value": "white"},
        {"what": "observation", "unit": "psu-2", "fact": "serial"},
        {"what": "observation", "unit": "psu-2", "fact": "airflow", "value": "sideways"},
    ],
)
def test_an_observation_that_nobody_can_have_made_here_is_not_passed_over(tmp_path: Path, line: dict[str, str]) -> None:
    site = Site(tmp_path / "job")
    site.whole()
    with open(site.path / "journal.jsonl", "a", encoding="utf-8") as journal:
        journal.write(json.dumps({"at": "2026-11-18T06:12:40Z", **line}) + "\n")
    with pytest.raises(FolderFault, match="observation"):
        held(site.folder, WEXCOMBE)


def test_a_time_that_is_none_is_a_fault_of_the_folder_and_not_of_ours() -> None:
    assert 1794982361.0 == epoch_of(stamp(1794982361.0))
    with pytest.raises(FolderFault, match="bring back an untouched copy"):
        epoch_of("half past six")


def test_the_newest_capture_of_a_side_says_when_it_was_taken() -> None:
    journal = [entry("captured", side="before", epoch=5.0), entry("captured", side="before", epoch=9.0)]
    assert (9.0, None) == taken_in(journal)
    assert (None, None) == taken_in([entry("captured", side="before", epoch="late")])
