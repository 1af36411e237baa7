"""Carries the steps of a swap out: console, person and clock come in, everything seen goes to the folder first.

What is told to the person is on the disk when it is told. Every step can be interrupted, and is begun again
from what the folder holds.
"""

import json
from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import AbstractContextManager, closing
from typing import Literal, NamedTuple, Protocol

from consolecheck.job.cautions import Caution, cautions
from consolecheck.job.drive import Captured, Progress, Stopped
from consolecheck.job.folder import Folder, Job, Phase
from consolecheck.job.held import answered_in, epoch_of, observed_in, samples_of, stamp, told_since_sample
from consolecheck.job.questions import Moment, Question, questions
from consolecheck.job.steps import AGAIN, DONE, Step, next_step, reached
from consolecheck.job.watch import Watch
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import Answer, Clearance, clearance
from consolecheck.judging.rules.settled import settled
from consolecheck.judging.settling import Settling, settling_of, since_seated
from consolecheck.judging.view import Case, Draft, Sample, View, impaired
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import Condition, Snapshot
from consolecheck.records.watching import Notice, Picture

ATTEND_PAUSE = 1.0
"""Seconds between two polls while a unit is out: the line time of a poll comes on top."""
LET_IT_START = 60.0
"""Seconds for which a device that starts is left alone: a key in its first seconds can hold its boot loader."""
BOOTING = "boot"
MOMENTS: Mapping[Step, Moment] = {"in-hand": "in-hand", "fitted": "fitted", "look": "settled"}
"""Steps in which the person is asked, and at what moment of the swap that is."""
PART = "clearance.replacement"
REFUSED = frozenset(("login", "password"))
"""What is never tried again: an account locks after a few refused logins."""
ILL_FOR = 180.0
"""Seconds that the new unit may be absent, failed or without input before waiting for it makes no sense.
Common practice, no source."""
_ILL = (Condition.ABSENT, Condition.FAILED, Condition.NO_INPUT)
TRIES_TO_REACH = (0.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 60.0, 120.0)
"""Seconds before each try to reach a console that was lost: a switch may take minutes to start. Common practice,
no source."""


class Talk(Protocol):
    """An open console session."""

    @property
    def open(self) -> bool: ...

    @property
    def over(self) -> str:
        """Why it is not open any more."""

    @property
    def over_by(self) -> str:
        """The kind of refusal that ended it."""

    def capture(self, commands: Sequence[str], progress: Callable[[Progress], None] | None = None) -> Captured: ...

    def idle(self, seconds: float) -> None: ...


class Clock(Protocol):
    """The laptop's time."""

    def seconds(self) -> float:
        """Of a clock that only goes forward."""

    def epoch(self) -> float:
        """Since 1970, as the laptop believes."""

    def wait(self, seconds: float) -> None: ...


class Person(Protocol):
    """Who does the work, or a file of answers in their place."""

    name: str

    def answer(self, question: Question) -> str: ...

    def acknowledge(self, cautions: Sequence[Caution]) -> None: ...

    def reason(self, told: Clearance) -> str | None:
        """Why to go on although the clearance is not `go`; None to stop."""


class Shown(Protocol):
    """What is shown while time passes."""

    def progress(self, progress: Progress) -> None: ...

    def clearance(self, told: Clearance, text: bytes) -> None: ...

    def watching(self, picture: Picture, notices: Sequence[Notice], at: str) -> None: ...

    def settling(
        self, found: Settling, elapsed: float, longest: float, notices: Sequence[Notice], at: str, ill: str
    ) -> None:
        """`ill`: why the unit is not waited for any longer than `ILL_FOR`, or empty."""

    def note(self, text: str) -> None: ...


Console = Callable[[str], AbstractContextManager[Talk]]
"""Opens a session whose recording bears the given name: `before`, `after`, `out` or `settling`.

However it is ended, it leaves the console as it was found.
"""
How = Literal["stopped", "hold", "unclear", "usage"]


class Halt(Exception):
    """The job stops here: a sentence that says what happened, what was kept and what to do next."""

    def __init__(self, how: How, message: str) -> None:
        self.how: How = how
        super().__init__(message)


class LineLost(Exception):
    """The line to the console failed; the message says how. Raised by whoever opens consoles."""


class Poll(NamedTuple):
    """One look at the switch."""

    seconds: float
    snapshot: Snapshot


class Conduct:
    """One job in one folder, by one process."""

    def __init__(
        self,
        folder: Folder,
        dialect: Dialect,
        limits: Acceptance,
        console: Console,
        clock: Clock,
        person: Person,
        shown: Shown,
    ) -> None:
        self.folder, self.dialect, self.limits = folder, dialect, limits
        self.console, self.clock, self.person, self.shown = console, clock, person, shown
        kept = folder.samples()
        self.run = max((sample.run for sample in kept), default=0) + 1
        self._number = folder.next_sample_number()
        self._samples: list[Sample] = []
        self._watch: Watch | None = None
        self._untold: tuple[Notice, ...] = ()
        self.judged = False

    # What is known.

    @property
    def job(self) -> Job:
        return self.folder.job()

    @property
    def unit(self) -> str:
        return self.job.unit

    def snapshot(self, text: bytes, name: str) -> Snapshot:
        return read_text(text, name, (self.dialect,), self.dialect)

    def baseline_read(self) -> Snapshot:
        return self.snapshot(self.folder.text("before"), "before.txt")

    def _now(self) -> str:
        return stamp(self.clock.epoch())

    def note(self, what: str, **facts: object) -> None:
        self.folder.note(what, self._now(), **facts)

    def _done(self, step: str, **facts: object) -> None:
        self.note(f"{DONE}{step}", **facts)

    # The steps.

    def lead(self, begin: Callable[[Step], None]) -> None:
        """Carries out the steps that are left, but for the judgement; tells of each before it begins."""
        while (step := next_step(self.folder.journal())) not in ("judge", "done"):
            if (moment := MOMENTS.get(step)) is not None:
                self.ask(moment, begin)
                continue
            begin(step)
            if step == "baseline":
                self.baseline()
            elif step == "clearance":
                self.clear()
            elif step == "cautions":
                self.caution()
            elif step == "attend":
                self.attend()
            elif step == "settle":
                self.settle()
            else:
                self.capture_after()

    def baseline(self) -> Snapshot:
        """Captures the switch before the swap. Raises Halt where it was not wholly read or lacks the unit."""
        self._capture_side("before")
        snapshot = self.baseline_read()
        known = View(snapshot, "before").units
        if self.unit not in known:
            raise Halt(
                "usage",
                f"the baseline is kept in {self.folder.path}, but it shows no unit `{self.unit}`; "
                f"it shows {', '.join(sorted(known)) or 'none'}. Begin a new folder for the right one",
            )
        if snapshot.unread or any(table.cut for table in snapshot.tables):
            raise Halt(
                "unclear",
                f"the baseline is kept in {self.folder.path}, but was not wholly read, so no swap can be verified "
                f"against it: leave {self.unit} in place, and give the same command again",
            )
        self._done("baseline")
        return snapshot

    def ask(self, moment: Moment, begin: Callable[[Step], None] = lambda step: None) -> None:
        """Asks the person what only eyes can tell, and keeps each answer before the next question."""
        step = next(s for s, m in MOMENTS.items() if m == moment)
        before, answered = self.baseline_read(), answered_in(self.folder.journal())
        now = self.latest() if moment == "settled" else None
        asked = questions(moment, self.unit, self.dialect.manifest, before, now, answered)
        if moment == "in-hand" and self.job.reseat is not None:
            asked = ()  # there is no other part to be looked at
        if asked:
            begin(step)
        for question in asked:
            value = self.person.answer(question)
            self.note("observation", unit=question.unit, fact=question.fact, value=value, by=self.person.name)
        self._done(step)

    def cleared(self, before: Snapshot) -> Clearance:
        """The clearance by what is known now, with its reasons in `clearance.json` and its answer in the journal."""
        facts, job, seen = self.dialect.manifest.chassis, self.job, observed_in(self.folder.journal())
        if job.reseat is not None:  # the label of a part that goes back in is rightly the fitted one's
            seen = tuple(o for o in seen if (o.unit, o.fact) != (self.unit, "serial"))
        told = clearance(before, self.unit, self.limits, seen, job.chassis, facts.open_seconds, facts.modules_needed)
        document = {
            "schema": 1,
            "unit": told.unit,
            "answer": told.answer.value,
            "findings": [finding.model_dump(mode="json") for finding in told.findings],
        }
        self.folder.write("clearance.json", json.dumps(document, indent=1).encode() + b"\n")
        self.note(
            "clearance",
            answer=told.answer.value,
            against=[f.message for f in told.findings if f.required and f.outcome is not Outcome.MET],
        )
        return told

    def clear(self) -> Clearance:
        """Whether the unit may be pulled; where not, the person must state why to go on. Raises Halt."""
        before = self.baseline_read()
        told = self.cleared(before)
        self.shown.clearance(told, self.folder.text("before"))
        if told.answer is not Answer.GO:
            reason = self.person.reason(told)
            if reason is None:
                # What is put right shows only in a new capture, and another part has another label.
                wrong = any(f.rule == PART and f.required and f.outcome is not Outcome.MET for f in told.findings)
                self.note(AGAIN, step="baseline", another_part=wrong)
                raise Halt(
                    "hold" if told.answer is Answer.HOLD else "unclear",
                    f"leave {self.unit} in place: its clearance is `{told.answer}`. The job is kept in "
                    f"{self.folder.path}; put right what stands against it and give the same command again",
                )
            self.note("overridden", answer=told.answer.value, reason=reason, by=self.person.name)
        self._done("clearance")
        return told

    def caution(self) -> None:
        """Shows the cautions that fit the unit, once, and keeps that they were acknowledged."""
        told = cautions(self.unit, self.baseline_read(), self.dialect.manifest)
        self.person.acknowledge(told)
        self.note("cautions acknowledged", ids=[c.id for c in told], by=self.person.name)
        self._done("cautions")

    def to_do(self) -> str:
        """What the person does with hands while the switch is watched: the label tells the right slot from its neighbour."""
        before = View(self.baseline_read(), "before")
        empty = before.condition(self.unit) is Condition.ABSENT
        label = f" (serial {before.serials[self.unit][0]})" if self.unit in before.serials else ""
        cord = ", plug in its cord" if self.unit.startswith("psu-") else ""
        last = [e.what for e in self.folder.journal() if e.what in ("clearance", "overridden")][-1:]
        cleared = {"clearance": "Cleared. ", "overridden": "Not cleared, but overridden. "}.get("".join(last), "")
        if empty:
            return f"{cleared}Fit the new part into {self.unit}{cord}."
        then = "seat the same part again" if self.job.reseat is not None else "fit the new part"
        return f"{cleared}Pull {self.unit}{label}, {then}{cord}."

    def attend(self, longest: float | None = None) -> None:
        """Watches until a part sits in the slot again, or so many seconds; tells what happens on the way."""
        before = self.baseline_read()
        watch = self._watched(before)
        began = self.clock.seconds()
        with closing(self._polls("out", ATTEND_PAUSE)) as polls:
            for poll in polls:
                notices = self._noticed(watch, poll)
                picture = watch.picture(poll.seconds)
                self.shown.watching(picture, notices, self._now())
                if picture.phase == "fitted":
                    break
                if longest is not None and poll.seconds - began >= longest:
                    break
        self._done("attend")

    def settle(self) -> None:
        """Samples until every temperature's end is known, or the acceptance's longest wait is over."""
        if self.limits.settling.required is False:
            self.shown.note("the acceptance does not ask to wait until the temperatures have settled")
            self._done("settle", why="the acceptance does not ask for it")
            return
        before = self.baseline_read() if (self.folder.path / "before.txt").exists() else None
        watch = self._watched(before) if before else None
        longest = self.limits.settling.longest_wait
        began = well = self.clock.seconds()
        elapsed, why, still_open = 0.0, "", list[str]()
        with closing(self._polls("settling", self.limits.settling.interval, over_all=True)) as polls:
            for poll in polls:
                notices = self._noticed(watch, poll)
                elapsed = self.clock.seconds() - began
                condition = View(poll.snapshot, "after").condition(self.unit)
                ill = f"{self.unit} is {condition}" if condition in _ILL and not self._unclear(poll) else ""
                if not ill:
                    well = poll.seconds
                found, still_open = self._standing(before, poll.snapshot)
                self.shown.settling(found, elapsed, longest, notices, self._now(), ill)
                if not still_open:
                    why = "settled"
                elif poll.seconds - well >= ILL_FOR:
                    why = ill
                elif elapsed >= longest:
                    why = "the longest wait is over"
                if why:
                    break
        self._done("settle", why=why, seconds=round(elapsed, 1), open=still_open[:8])

    def capture_after(self) -> None:
        """Captures the switch after the swap, whole. Raises Halt."""
        self._capture_side("after")
        self._done("capture")

    def latest(self) -> Snapshot | None:
        """The newest sample, if there is one."""
        samples = samples_of(self.folder, self.dialect)
        return samples[-1].snapshot if samples else None

    def settle_again(self) -> None:
        """Takes a job up again that came as far as settling, or further."""
        if reached(self.folder.journal(), "settle"):
            self.note(AGAIN, step="settle")

    def keep_verdict(self, document: str) -> None:
        """Keeps the findings; the job is judged by that."""
        self.folder.keep_findings(document)
        self._done("judge")
        self.judged = True

    def stamp(self) -> str:
        """Now, as RFC 3339."""
        return self._now()

    # Inside.

    def _standing(self, before: Snapshot | None, now: Snapshot) -> tuple[Settling, list[str]]:
        """The courses of the sensors, and what is open about them by the rule that will judge them."""
        samples = self._samples
        view = View(now, "after")
        case = Case(View(before or now, "before"), view, self.unit, self.limits, samples=tuple(samples))
        drafts: list[Draft] = list(settled(case))
        serial = view.serials.get(self.unit)
        found = settling_of(since_seated(samples, self.unit, serial[0] if serial else None), self.limits)
        return found, [d.message for d in drafts if d.outcome is Outcome.UNDETERMINED]

    @staticmethod
    def _unclear(poll: Poll) -> bool:
        return bool({"power_supply", "fan", "inventory", "*"} & impaired(View(poll.snapshot, "after")).keys())

    def _watched(self, before: Snapshot) -> Watch:
        """The watch of this run, which knows what earlier ones saw: nothing is told twice, and a slot stays open.

        Between two runs only the laptop's clock tells the time. What a crash kept from being told is told now.
        """
        if self._watch is None:
            limit = self.limits.clearance.open_seconds or self.dialect.manifest.chassis.open_seconds
            self._watch = watch = Watch(before, self.unit, limit)
            now, epoch = self.clock.seconds(), self.clock.epoch()
            for sample in self.folder.samples():
                ago = max(epoch - epoch_of(sample.at), 0.0)
                self._untold = watch.see(self.snapshot(sample.text, sample.name), now - ago)
            self._untold = self._untold[told_since_sample(self.folder.journal()) :]
        return self._watch

    def _noticed(self, watch: Watch | None, poll: Poll) -> tuple[Notice, ...]:
        """What a poll shows that the one before did not; kept before it is told."""
        if watch is None:
            return ()
        notices = (*self._untold, *watch.see(poll.snapshot, poll.seconds))
        for notice in notices:
            self.note("seen", kind=notice.what, unit=notice.unit, message=notice.message)
        self._untold = ()
        return notices

    def _capture_side(self, side: Literal["before", "after"]) -> None:
        commands = [c.send for c in self.dialect.manifest.commands if c.capture]
        self.folder.make_room(side)
        try:
            with self.console(side) as talk:
                result = talk.capture(commands, self.shown.progress)
        except Stopped as stopped:
            raise Halt("stopped", f"{stopped.refusal.message}. {self._kept()}") from None
        except LineLost as lost:
            raise Halt("stopped", f"{lost} {self._kept()}") from None
        target = self.folder.write(f"{side}.txt", result.text)
        for note in result.notes:
            self.shown.note(note)
        if result.speed and result.speed != self.job.speed:
            self.shown.note(f"the console answered at {result.speed} baud")
            self.folder.keep(self.job.model_copy(update={"speed": result.speed}))
        if result.refusal is not None:
            raise Halt("stopped", f"{result.refusal.message}. What was captured is kept in {target}")
        self.note("captured", side=side, epoch=round(self.clock.epoch(), 3))

    def _kept(self) -> str:
        return f"What passed over the line is kept in {self.folder.path}; start the same command again to go on"

    def _polls(self, phase: Phase, pause: float, over_all: bool = False) -> Generator[Poll]:
        """Looks at the switch again and again, each look kept before it is given; finds a lost console again.

        `pause` is between two looks, or with `over_all` from the beginning of one to that of the next. Close it:
        the console is then left as it was found.
        """
        commands = [c.send for c in self.dialect.manifest.commands if c.watch and c.capture] or [
            c.send for c in self.dialect.manifest.commands if c.capture
        ]
        self._samples = list(samples_of(self.folder, self.dialect, self.run))
        name = "settling" if phase == "settling" else "out"
        tries = iter(TRIES_TO_REACH)
        while True:
            why, by = "", ""
            try:
                with self.console(name) as talk:
                    while talk.open:
                        began = self.clock.seconds()
                        result = talk.capture(commands)
                        seconds = self.clock.seconds()
                        if result.refusal is None:
                            tries = iter(TRIES_TO_REACH)
                        yield self._sampled(phase, seconds, result.text)
                        took = self.clock.seconds() - began
                        if talk.open:
                            talk.idle(max(pause - took, 0.05) if over_all else pause)
                    why, by = talk.over, talk.over_by
            except Stopped as stopped:
                why, by = stopped.refusal.message, stopped.refusal.kind
            except LineLost as lost:
                why = str(lost)
            self.note("console lost", why=why)
            wait = next(tries, None)
            if wait is None or by in REFUSED:
                raise Halt("stopped", f"{why}. {self._kept()}")
            if by == BOOTING:
                wait = max(wait, LET_IT_START)
            what = why.partition("; ")[0]  # what to do about it is told when it is given up
            self.shown.note(f"{what}; trying again" + (f" in {wait:.0f} s" if wait else ""))
            self.clock.wait(wait)

    def _sampled(self, phase: Phase, seconds: float, text: bytes) -> Poll:
        number, self._number = self._number, self._number + 1
        seconds = round(seconds, 3)  # as it is kept: what was settled here must be settled when it is read again
        self.folder.keep_sample(number, self.run, seconds, self._now(), phase, text)
        snapshot = self.snapshot(text, f"samples/{number:04}.txt")
        self._samples.append(Sample(seconds, snapshot))
        return Poll(seconds, snapshot)
