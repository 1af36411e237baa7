"""Carries the steps of a swap out: console, person and clock come in, everything seen goes to the folder first.

What is told to the person is on the disk when it is told. Every step can be interrupted, and is begun again
from what the folder holds.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from typing import Literal, NamedTuple, Protocol

from consolecheck.job.cautions import Caution, cautions
from consolecheck.job.drive import Captured, Progress, Stopped
from consolecheck.job.folder import Folder, Job, Phase
from consolecheck.job.held import observed_in, samples_of, stamp
from consolecheck.job.questions import Moment, Question, questions
from consolecheck.job.steps import DONE
from consolecheck.job.watch import Watch
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import Answer, Clearance, clearance
from consolecheck.judging.judge import NoSuchUnit
from consolecheck.judging.rules.settled import settled
from consolecheck.judging.settling import Settling, settling_of, since_seated
from consolecheck.judging.view import Case, Draft, Sample, View, impaired
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import NotRecognised, read_text
from consolecheck.records.findings import Outcome
from consolecheck.records.readings import Condition, Snapshot
from consolecheck.records.watching import Notice, Picture

ATTEND_PAUSE = 1.0
"""Seconds between two polls while a unit is out: the line time of a poll comes on top."""
LET_IT_START = 60.0
"""Seconds for which a device that starts is left alone: a key in its first seconds can hold its boot loader."""
BOOTING = "boot"
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

    def settling(self, found: Settling, elapsed: float, longest: float, notices: Sequence[Notice], at: str) -> None: ...

    def note(self, text: str) -> None: ...


Console = Callable[[str], AbstractContextManager[Talk]]
"""Opens a session whose recording bears the given name: `before`, `after`, `out` or `settling`."""
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
        self.judged = False

    # What is known.

    @property
    def job(self) -> Job:
        return self.folder.job()

    @property
    def unit(self) -> str:
        return self.job.unit

    def snapshot(self, text: bytes, name: str) -> Snapshot:
        try:
            return read_text(text, name, (self.dialect,), self.dialect)
        except NotRecognised as reason:
            raise Halt("unclear", f"{name}: {reason}; it is kept in {self.folder.path}") from None

    def baseline_read(self) -> Snapshot:
        return self.snapshot(self.folder.text("before"), "before.txt")

    def _now(self) -> str:
        return stamp(self.clock.epoch())

    def note(self, what: str, **facts: object) -> None:
        self.folder.note(what, self._now(), **facts)

    def _done(self, step: str, **facts: object) -> None:
        self.note(f"{DONE}{step}", **facts)

    # The steps.

    def baseline(self) -> Snapshot:
        """Captures the switch before the swap. Raises Halt where it was not wholly read or lacks the unit."""
        self._capture_side("before")
        snapshot = self.baseline_read()
        known = View(snapshot, "before").units
        if self.unit not in known:
            raise Halt(
                "usage",
                f"the baseline is kept in {self.folder.path}, but it shows no unit `{self.unit}`; "
                f"it shows {', '.join(sorted(known)) or 'none'}",
            )
        if snapshot.unread or any(table.cut for table in snapshot.tables):
            raise Halt(
                "unclear",
                f"the baseline is kept in {self.folder.path}, but was not wholly read, so no swap can be verified "
                f"against it: leave {self.unit} in place, and give the same command again",
            )
        self._done("baseline")
        return snapshot

    def ask(self, moment: Moment, now: Snapshot | None = None) -> None:
        """Asks the person what only eyes can tell, and keeps each answer before the next question."""
        answered = {f"{o.unit}.{o.fact}" for o in observed_in(self.folder.journal())}
        for question in questions(moment, self.unit, self.dialect.manifest, self.baseline_read(), now, answered):
            value = self.person.answer(question)
            self.note("observation", unit=question.unit, fact=question.fact, value=value, by=self.person.name)
        self._done({"in-hand": "in-hand", "fitted": "fitted", "settled": "look"}[moment])

    def cleared(self, before: Snapshot) -> Clearance:
        """The clearance by what is known now; keeps it in `clearance.json`'s place, the journal."""
        facts = self.dialect.manifest.chassis
        try:
            told = clearance(
                before,
                self.unit,
                self.limits,
                observed_in(self.folder.journal()),
                self.job.chassis,
                facts.open_seconds,
                facts.modules_needed,
                samples_of(self.folder, self.dialect, self.run),
            )
        except NoSuchUnit as reason:
            raise Halt("usage", f"{reason}; it shows {', '.join(reason.known)}") from None
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

    def attend(self, longest: float | None = None) -> None:
        """Watches until a part sits in the slot again, or so many seconds; tells what happens on the way."""
        before = self.baseline_read()
        watch = self._watched(before)
        old = View(before, "before").serials.get(self.unit)
        began = self.clock.seconds()
        for poll in self._polls("out", ATTEND_PAUSE):
            notices = watch.see(poll.snapshot, poll.seconds)
            self._keep_notices(notices)
            picture = watch.picture(poll.seconds)
            self.shown.watching(picture, notices, self._now())
            if picture.phase == "fitted" and not picture.unclear:
                break
            new = View(poll.snapshot, "after").serials.get(self.unit)
            if old and new and old[0] != new[0] and picture.condition is not Condition.ABSENT:
                break  # replaced between the baseline and the first look
            if longest is not None and poll.seconds - began >= longest:
                break
        self._done("attend")

    def settle(self) -> None:
        """Samples until every temperature's end is known, or the acceptance's longest wait is over."""
        if self.limits.settling.required is False:
            self._done("settle", why="the acceptance does not ask for it")
            return
        before = self.baseline_read() if (self.folder.path / "before.txt").exists() else None
        watch = self._watched(before) if before else None
        began = well = self.clock.seconds()
        for poll in self._polls("settling", self.limits.settling.interval, over_all=True):
            notices = watch.see(poll.snapshot, poll.seconds) if watch else ()
            self._keep_notices(notices)
            elapsed = self.clock.seconds() - began
            if View(poll.snapshot, "after").condition(self.unit) not in _ILL or self._unclear(poll):
                well = poll.seconds
            found, open_ = self._standing(before, poll.snapshot)
            self.shown.settling(found, elapsed, self.limits.settling.longest_wait, notices, self._now())
            if not open_:
                self._done("settle", why="settled", seconds=round(elapsed, 1))
                return
            if poll.seconds - well >= ILL_FOR:
                self._done("settle", why=f"{self.unit} is not well", seconds=round(elapsed, 1))
                return
            if elapsed >= self.limits.settling.longest_wait:
                self._done("settle", why="the longest wait is over", seconds=round(elapsed, 1), open=open_[:8])
                return

    def capture_after(self) -> None:
        """Captures the switch after the swap, whole. Raises Halt."""
        self._capture_side("after")
        self._done("capture")

    def latest(self) -> Snapshot | None:
        """The newest sample of this run, if there is one."""
        samples = samples_of(self.folder, self.dialect, self.run)
        return samples[-1].snapshot if samples else None

    def keep_verdict(self, document: str) -> None:
        """Keeps the findings; the job is judged by that."""
        self.folder.write("findings.json", document.encode() + b"\n")
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
        """The watch of this run: what was told while the unit was out is not told again while it settles."""
        if self._watch is None:
            limit = self.limits.clearance.open_seconds or self.dialect.manifest.chassis.open_seconds
            self._watch = Watch(before, self.unit, limit)
        return self._watch

    def _keep_notices(self, notices: Sequence[Notice]) -> None:
        for notice in notices:
            self.note("seen", kind=notice.what, unit=notice.unit, message=notice.message)

    def _capture_side(self, side: Literal["before", "after"]) -> None:
        commands = [c.send for c in self.dialect.manifest.commands if c.capture]
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

    def _polls(self, phase: Phase, pause: float, over_all: bool = False) -> Iterator[Poll]:
        """Looks at the switch again and again, each look kept before it is given; finds a lost console again.

        `pause` is between two looks, or with `over_all` from the beginning of one to that of the next.
        """
        commands = [c.send for c in self.dialect.manifest.commands if c.watch and c.capture] or [
            c.send for c in self.dialect.manifest.commands if c.capture
        ]
        self._samples = list(samples_of(self.folder, self.dialect, self.run))
        name = "settling" if phase == "settling" else "out"
        tries = iter(TRIES_TO_REACH)
        while True:
            why, starting = "", False
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
                    why, starting = talk.over, talk.over_by == BOOTING
            except Stopped as stopped:
                why, starting = stopped.refusal.message, stopped.refusal.kind == BOOTING
            except LineLost as lost:
                why = str(lost)
            self.note("console lost", why=why)
            wait = next(tries, None)
            if wait is None:
                raise Halt("stopped", f"{why}. {self._kept()}")
            if starting:
                wait = max(wait, LET_IT_START)
            self.shown.note(f"{why}; trying again" + (f" in {wait:.0f} s" if wait else ""))
            self.clock.wait(wait)

    def _sampled(self, phase: Phase, seconds: float, text: bytes) -> Poll:
        number, self._number = self._number, self._number + 1
        self.folder.keep_sample(number, self.run, round(seconds, 3), self._now(), phase, text)
        snapshot = self.snapshot(text, f"samples/{number:04}.txt")
        self._samples.append(Sample(seconds, snapshot))
        return Poll(seconds, snapshot)
