"""What a live job survives: a table of faults, each put in at every place where it can happen.

Run: `python benchmarks/faults.py --out docs/faults.md` (`--workers 2`; `--only NAME`, `--every 20` for a part of
it; `--kept FILE` to go on where it was).
Needs POSIX: processes are forked, and ended by SIGKILL.

Every row is the same good swap of psu-2 on the simulated switch, carried out by the program's own loop in simulated
time and recorded into a job folder. One fault is put in, at one place; then the same job is taken up again, by a new
process where the first one ended, and what the folder holds in the end is compared with a job that nothing disturbed:

- the same verdict, the same steps finished, each once; no answer lost or asked twice;
- the journal goes on from what it was at the fault; what was captured by then is there, byte for byte;
- the part that was pulled and the one that was seated are told once each; the seal holds.

Where a fault took away what would have shown the swap to be good, `inconclusive` is right and counted as such;
`verified` never is if the undisturbed job is not. Exits 1 if a row lost something.
"""

import argparse
import errno
import io
import json
import multiprocessing
import os
import re
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

from consolecheck.cli.console import Scrubbed, recording
from consolecheck.console import recorder as recorder_module
from consolecheck.console.guard import Guard
from consolecheck.console.recorder import CannotRecord, Recorder
from consolecheck.files.shelf import dialects
from consolecheck.job.cautions import Caution
from consolecheck.job.conduct import Conduct, Halt, LineLost, Talk
from consolecheck.job.drive import Conversation
from consolecheck.job.folder import Folder, FolderFault, Job
from consolecheck.job.held import held, stamp
from consolecheck.job.questions import Question
from consolecheck.job.seal import SealBroken, examine, seal
from consolecheck.job.steps import ORDER
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.clearance import Clearance
from consolecheck.judging.judge import judge
from consolecheck.judging.view import NOT_SEEN
from consolecheck.reading.reader import read_text
from consolecheck.records.findings import Judgement, Verdict
from consolecheck.rehearsal.faults import GOOD, Scenario, Schedule, Step, fitted, pulled
from consolecheck.rehearsal.inprocess import InProcess, SimulatedClock
from consolecheck.rehearsal.noise import Line
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.shell import Options, Shell
from consolecheck.rehearsal.site import Configuration

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
LIMITS = Acceptance()
UNIT = "psu-2"
BRISK = Scenario("brisk", "a good swap, done fast", UNIT, (Step(3, pulled(UNIT)), Step(6, fitted(UNIT, GOOD))))
QUICK = Configuration(sensors=tuple(replace(s, tau=15.0) for s in Configuration().sensors))
"""A switch whose sensors follow within seconds, so that it is soon settled."""
ANSWERS = {
    "serial": GOOD.serial, "part": GOOD.part_number, "input": "AC", "airflow": "front-to-back", "damage": "none",
    "contents": "complete", "earth": "connected", "cold_aisle": "port-side",
}  # fmt: skip
TAKEN_UP_AFTER = 0.5
"""Simulated seconds until the job is taken up again."""
WAITED_FOR = 300.0
"""Simulated seconds until it is tried once more where the switch was not ready."""


class Hands:
    """A technician who answers what is to be seen."""

    name = "R. Petrel"

    def __init__(self, bench: "Bench") -> None:
        self._bench = bench

    def answer(self, question: Question) -> str:
        chassis = self._bench.chassis
        self._bench.clock.wait(3.0)
        if question.fact == "lamp":
            return chassis.lamps().get(question.unit, NOT_SEEN)
        if question.fact == "lamps":
            return chassis.port_lamps().get(question.unit.removeprefix("port-"), NOT_SEEN)
        return ANSWERS.get(question.fact, NOT_SEEN)

    def acknowledge(self, cautions: Sequence[Caution]) -> None:
        """Read."""

    def reason(self, told: Clearance) -> str | None:
        return None


class Nothing:
    """Shows nothing."""

    def progress(self, *_: object) -> None: ...

    def clearance(self, *_: object) -> None: ...

    def watching(self, *_: object) -> None: ...

    def settling(self, *_: object) -> None: ...

    def note(self, text: str) -> None: ...


class Laptop(SimulatedClock):
    """A laptop whose clock can be set."""

    off = 0.0

    def epoch(self) -> float:
        return super().epoch() + self.off


class Bench:
    """The switch with its console line, and the technician: what goes on while the program does not run."""

    def __init__(self) -> None:
        self.chassis = Chassis(seed=4, configuration=QUICK)
        self.shell = Shell(self.chassis, Options(start="user"))
        self.line = InProcess(self.shell, Line(115200))
        self.clock = Laptop(self.line)
        self.hands = Hands(self)
        self.before_each: Callable[[str], None] = lambda act: None
        """Called before each act on the line: `open`, `capture` or `idle`. Raises what a line raises."""

    def console_of(self, folder: Folder) -> Callable[[str], Any]:
        @contextmanager
        def console(name: str) -> Iterator[Talk]:
            self.before_each("open")
            with Recorder(recording(folder, name), name, self.clock.seconds, int(self.clock.epoch())) as recorder:
                talk = Conversation(self.line, WEXCOMBE, Guard(WEXCOMBE), self.clock.seconds, recorder)
                try:
                    yield _Asked(talk, self)
                finally:
                    talk.leave()

        return console


class _Asked(Scrubbed):
    """A conversation that can fail before each of its acts."""

    def __init__(self, talk: Conversation, bench: Bench) -> None:
        super().__init__(talk, None)
        self._bench = bench

    def capture(self, *given: Any) -> Any:
        self._bench.before_each("capture")
        return super().capture(*given)

    def idle(self, seconds: float) -> None:
        self._bench.before_each("idle")
        super().idle(seconds)


def run(path: Path, bench: Bench) -> None:
    """The program, from wherever the folder stands to its seal; as `consolecheck swap` does it."""
    folder = Folder(path)
    with folder.locked():
        try:
            folder.job()
        except FolderFault:
            folder.create(
                Job(
                    unit=UNIT, dialect=WEXCOMBE.name, line="simulated", speed=115200,
                    started=stamp(bench.clock.epoch()), version="0",
                )
            )  # fmt: skip
        conduct = Conduct(folder, WEXCOMBE, LIMITS, bench.console_of(folder), bench.clock, bench.hands, Nothing())

        def begin(step: str) -> None:
            if step == "attend" and bench.line.schedule is None:
                bench.line.schedule = Schedule(BRISK, bench.chassis.seconds)

        if not (path / "seal.json").exists():
            conduct.lead(begin)
            conduct.keep_verdict(json.dumps({"verdict": judged(path).verdict.value}))
            seal(folder, stamp(bench.clock.epoch()), "0")


def judged(path: Path) -> Judgement:
    """The verdict by what the folder holds, and nothing else."""
    found = held(Folder(path), WEXCOMBE)
    assert found.before is not None
    before, after = (
        read_text(text, f"{side}.txt", (WEXCOMBE,), WEXCOMBE)
        for side, text in (("before", found.before), ("after", found.after))
    )
    return judge(before, after, UNIT, LIMITS, found.observed, found.reseat, found.samples, found.taken)


# ---- what is on the disk


Contents = dict[str, bytes]


def contents(path: Path) -> Contents:
    """Every file but the lock and what a crash left half written."""
    return {
        file.relative_to(path).as_posix(): file.read_bytes()
        for file in path.rglob("*")
        if file.is_file() and file.name != ".lock" and not (file.name.startswith(".") and file.name.endswith(".new"))
    }


def noted(journal: bytes) -> list[dict[str, Any]]:
    """The whole lines of a journal."""
    entries = []
    for line in journal.split(b"\n"):
        with suppress(ValueError):
            entries.append(json.loads(line))
    return entries


def lost(path: Path, before: Contents) -> list[str]:
    """What is wrong with a job at its end, that stood like this at the fault; nothing where it lost nothing."""
    wrong = []
    now = contents(path)
    for name, data in before.items():
        if name.endswith((".cast", "-line.txt")):  # a recording that was cut short stays, under its name or moved aside
            kept = any(
                d.startswith(data[: len(data) * 9 // 10]) for n, d in now.items() if n.endswith(name.partition("-")[2])
            )
        elif name in ("journal.jsonl", "job.json", "findings.json", "acceptance.toml", "seal.json"):
            kept = name in now
        else:
            kept = data in now.values()
        if not kept:
            wrong.append(f"{name} is not there any more as it was")
    journal = noted(now.get("journal.jsonl", b""))
    was = noted(before.get("journal.jsonl", b""))
    if [e for e in journal if e["what"] != "torn line kept aside"][: len(was)] != was:
        wrong.append("the journal does not go on from what it was")
    steps = [e["what"].removeprefix("done: ") for e in journal if e["what"].startswith("done: ")]
    if list(dict.fromkeys(steps)) != list(ORDER) or any(steps.count(step) > 1 for step in ORDER if step != "judge"):
        wrong.append(f"the steps were {', '.join(steps)}")
    answers = Counter(f"{e['unit']}.{e['fact']}" for e in journal if e["what"] == "observation")
    if twice := [name for name, times in answers.items() if times > 1]:
        wrong.append(f"asked twice: {', '.join(twice)}")
    told = Counter(e["kind"] for e in journal if e["what"] == "seen" and e["kind"] in ("removed", "inserted"))
    if told["inserted"] != 1 or told["removed"] > 1:
        wrong.append(f"told of the part: {dict(told)}")
    try:
        if (state := examine(Folder(path)).state) != "whole":
            wrong.append(f"the seal is {state}")
    except SealBroken as broken:
        wrong.append(f"the seal is broken: {broken}")
    return wrong


class End(NamedTuple):
    """How a disturbed job ended."""

    place: str
    verdict: str
    wrong: list[str]
    stopped: bool
    """Whether the program had to be started again."""


# ---- every write


class Writes:
    """Counts the changes of the disk that the program asks for, and does something before one of them."""

    NAMES = ("open", "write", "replace", "mkdir", "ftruncate")

    def __init__(self, at: int, act: Callable[[str, Callable[[], object]], object]) -> None:
        self.count, self.at, self.act = 0, at, act
        self._real = {name: getattr(os, name) for name in (*self.NAMES, "fsync")}
        self._file = recorder_module.FileIO

    def __enter__(self) -> "Writes":
        for name in self.NAMES:
            setattr(os, name, self._wrapped(name, self._real[name]))
        os.fsync = lambda handle: None  # type: ignore[assignment] # what a killed process wrote does not hang on it
        counted = self._counted

        class Counted(io.FileIO):
            def write(self, data: Any, /) -> int:
                return counted("write", lambda part=data: super(Counted, self).write(part), data)  # type: ignore[misc]

        recorder_module.FileIO = Counted  # type: ignore[misc] # its opener is os.open, which is counted
        return self

    def __exit__(self, *_: object) -> None:
        for name, real in self._real.items():
            setattr(os, name, real)
        recorder_module.FileIO = self._file  # type: ignore[misc]

    def _wrapped(self, name: str, real: Callable[..., object]) -> Callable[..., object]:
        def call(*arguments: Any, **named: Any) -> object:
            if name == "open" and not arguments[1] & (os.O_WRONLY | os.O_RDWR):
                return real(*arguments, **named)
            if name == "write":
                handle, data = arguments
                return self._counted(name, lambda part=data: real(handle, part), data)
            return self._counted(name, lambda: real(*arguments, **named))

        return call

    def _counted(self, name: str, do: Callable[..., object], data: Any = None) -> object:
        self.count += 1
        if self.count == self.at:
            half = (lambda: do(bytes(data)[: len(data) // 2])) if data is not None else (lambda: None)
            self.act(name, half)
        elif self.count > self.at > 0:
            self.act("later", lambda: None)
        return do()


def writes_of_a_job(place: Path) -> tuple[int, list[int], Judgement]:
    """How many changes of the disk a whole job makes, which of them put data into a file, and how it ends."""
    data: list[int] = []
    with Writes(-1, lambda name, half: None) as writes:
        real = writes._counted

        def counted(name: str, do: Callable[..., object], given: Any = None) -> object:
            if given is not None and len(given) > 1:
                data.append(writes.count + 1)
            return real(name, do, given)

        writes._counted = counted  # type: ignore[method-assign]
        run(place, Bench())
    assert not lost(place, {})
    return writes.count, data, judged(place)


def killed(place: Path, at: int, half: bool) -> End:
    """A process that is killed by SIGKILL before its `at`-th change of the disk, or in the middle of that write.

    The switch outlives it: a fork of the process carries the switch on, and begins the program anew on the folder.
    """
    told, tells = os.pipe()
    waits, goes = os.pipe()
    path = place / "job"
    if (program := os.fork()) == 0:
        _the_killed(path, at, half, waits, tells)
    os.close(tells)
    os.close(waits)
    _, status = os.waitpid(program, 0)
    by_kill = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    before = contents(path) if path.exists() else {}
    os.write(goes, b"g")
    os.close(goes)
    with os.fdopen(told, "rb") as pipe:
        answer = pipe.read().decode()
    name = f"write {at}{', half of it' if half else ''}"
    if not by_kill:
        return End(name, "", [f"was not killed: {answer[-300:]}"], False)
    if answer not in [verdict.value for verdict in Verdict]:
        return End(name, "", [f"did not go on: {answer[-300:]}"], True)
    return End(name, answer, lost(path, before), True)


def _the_killed(path: Path, at: int, half: bool, waits: int, tells: int) -> None:
    bench = Bench()
    real_write = os.write

    def die(name: str, half_of_it: Callable[[], object]) -> None:
        if half:
            half_of_it()
        if os.fork() != 0:
            os.kill(os.getpid(), signal.SIGKILL)
        os.read(waits, 1)  # until the other is dead and what it left was looked at
        for handle in map(int, os.listdir("/dev/fd")):
            if handle > 2 and handle not in (waits, tells):
                with suppress(OSError):
                    os.close(handle)  # its lock and its recordings
        writes.__exit__()
        real_write(tells, _taken_up(path, bench).encode())
        os._exit(0)

    try:
        with Writes(at, die) as writes:
            run(path, bench)
        real_write(tells, b"came to its end")
    except BaseException:
        real_write(tells, traceback.format_exc().encode())
    os._exit(1)


def _taken_up(path: Path, bench: Bench) -> str:
    """The verdict of the job begun again by the same command, or what went wrong; a switch that starts is waited for."""
    bench.clock.wait(TAKEN_UP_AFTER)
    for tries in range(4):
        try:
            run(path, bench)
            return judged(path).verdict.value
        except Halt:
            if tries == 3:
                return traceback.format_exc()
            bench.clock.wait(WAITED_FOR)
        except BaseException:
            return traceback.format_exc()
    raise AssertionError("unreachable")


def full(place: Path, at: int, half: bool) -> End:
    """A disk that has no room from the `at`-th change on, until somebody frees some and starts the program again."""
    path, bench = place / "job", Bench()

    def refuse(name: str, half_of_it: Callable[[], object]) -> None:
        if half and name == "write":
            half_of_it()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    stopped = ""
    with Writes(at, refuse):
        try:
            run(path, bench)
        except (FolderFault, Halt, CannotRecord) as reason:
            stopped = str(reason)
    before = contents(path) if path.exists() else {}
    answer = _taken_up(path, bench)
    wrong = lost(path, before) if answer in [v.value for v in Verdict] else [f"did not go on: {answer[-300:]}"]
    if stopped and not re.search(r"free space|make room|name a folder|copy", stopped):
        wrong.append(f"does not tell what to do: {stopped}")
    return End(f"write {at}{', half of it' if half else ''}", answer, wrong, bool(stopped))


# ---- every act on the line


def acts_of_a_job(place: Path) -> int:
    count = 0

    def counted(act: str) -> None:
        nonlocal count
        count += 1

    bench = Bench()
    bench.before_each = counted
    run(place, bench)
    return count


def at_act(place: Path, at: int, fault: Callable[[Bench, Path], None]) -> End:
    """Something happens before the `at`-th act on the line; the program is started again where it stopped."""
    path, bench = place / "job", Bench()
    count = 0
    before: Contents = {}

    def counted(act: str) -> None:
        nonlocal count
        count += 1
        if count == at:
            before.update(contents(path))
            fault(bench, path)

    bench.before_each = counted
    stopped = False
    try:
        run(path, bench)
        answer = judged(path).verdict.value
    except (FolderFault, Halt):
        stopped = True
        answer = _taken_up(path, bench)
    if answer not in [v.value for v in Verdict]:
        return End(f"act {at}", "", [f"did not go on: {answer[-300:]}"], stopped)
    return End(f"act {at}", answer, lost(path, before), stopped)


def line_lost(bench: Bench, path: Path) -> None:
    raise LineLost("the line was pulled")


def reloaded(bench: Bench, path: Path) -> None:
    bench.chassis.reload()


def ahead(bench: Bench, path: Path) -> None:
    bench.clock.off += 7200


def back(bench: Bench, path: Path) -> None:
    bench.clock.off -= 7200


def second_process(bench: Bench, path: Path) -> None:
    """Another process with the same command: it must be refused, and change nothing."""
    was = contents(path)
    if (other := os.fork()) == 0:
        try:
            run(path, Bench())
        except FolderFault as refused:
            os._exit(7 if "another consolecheck is at work" in str(refused) else 8)
        finally:
            os._exit(9)
    _, status = os.waitpid(other, 0)
    if os.waitstatus_to_exitcode(status) != 7 or contents(path) != was:
        raise AssertionError(f"a second process was not refused ({status})")


@dataclass(frozen=True)
class Fault:
    """A row of the table."""

    told: str
    one: Callable[[Path, int], End]
    where: str
    """`writes`, `data` (writes that put data into a file) or `acts`."""
    right: frozenset[str] = frozenset({"verified"})
    """Verdicts that are right after it."""


_OPEN = frozenset({"verified", "inconclusive"})
_ANY = frozenset({"verified", "inconclusive", "not-verified"})
FAULTS: dict[str, Fault] = {
    "kill": Fault("`kill -9` before a write", lambda p, n: killed(p, n, False), "writes"),
    "kill-half": Fault("`kill -9` in the middle of a write", lambda p, n: killed(p, n, True), "data"),
    "full": Fault("disk full from a write on", lambda p, n: full(p, n, False), "writes"),
    "full-half": Fault("disk full in the middle of a write", lambda p, n: full(p, n, True), "data"),
    "line": Fault("line dropped", lambda p, n: at_act(p, n, line_lost), "acts"),
    "reload": Fault("device reloaded", lambda p, n: at_act(p, n, reloaded), "acts", _ANY),
    "ahead": Fault("laptop's clock two hours ahead", lambda p, n: at_act(p, n, ahead), "acts"),
    "back": Fault("laptop's clock two hours back", lambda p, n: at_act(p, n, back), "acts", _OPEN),
    "second": Fault("a second process with the same command", lambda p, n: at_act(p, n, second_process), "acts"),
}


def places() -> dict[str, list[int]]:
    """Every place at which a fault can be put in."""
    with tempfile.TemporaryDirectory(prefix="consolecheck-faults-") as folder:
        writes, data, undisturbed = writes_of_a_job(Path(folder) / "writes")
        assert undisturbed.verdict is Verdict.VERIFIED
        acts = acts_of_a_job(Path(folder) / "acts")
    return {"writes": list(range(1, writes + 1)), "data": data, "acts": list(range(1, acts + 1))}


def one(task: tuple[str, int]) -> tuple[str, End]:
    """One fault at one place. For a worker."""
    name, at = task
    with tempfile.TemporaryDirectory(prefix="consolecheck-faults-") as folder:
        return name, FAULTS[name].one(Path(folder), at)


def table(ends: dict[str, list[End]], every: int) -> str:
    """The table as Markdown: nothing in it depends on when or where it was made."""
    lines = [
        "# Faults that a live job survives",
        "",
        "Made by `python benchmarks/faults.py --out docs/faults.md`. Every row is one good swap on the simulated switch,",
        "with one fault put in at each place where it can happen, and taken up again by the same command. *Lost* counts",
        "jobs that lost a capture, an answer or a line of the journal, did a step twice, told of a part twice, or came to",
        "a wrong verdict; how each is looked at stands at the top of that file.",
        "",
        "| fault | places tried | went on by itself | started again | verified | inconclusive | not verified | lost |",
        "|---|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for name, found in ends.items():
        verdicts = Counter(end.verdict for end in found)
        again = sum(end.stopped for end in found)
        lines.append(
            f"| {FAULTS[name].told} | {len(found)} | {len(found) - again} | {again} | {verdicts['verified']} | "
            f"{verdicts['inconclusive']} | {verdicts['not-verified']} | {sum(is_lost(name, end) for end in found)} |"
        )
    if every > 1:
        lines += ["", f"Only every {every}th place was tried."]
    return "\n".join(lines) + "\n"


def is_lost(name: str, end: End) -> bool:
    return bool(end.wrong) or end.verdict not in FAULTS[name].right


def campaign(names: Sequence[str], every: int, workers: int, kept: Path | None) -> dict[str, list[End]]:
    """Every fault at every place, or at every so many-th. What stands in `kept` is not tried again."""
    at = places()
    tasks = [(name, n) for name in names for n in at[FAULTS[name].where][::every]]
    known: dict[tuple[str, int], End] = {}
    if kept is not None and kept.exists():
        for line in kept.read_text(encoding="utf-8").splitlines():
            name, n, *end = json.loads(line)
            known[name, n] = End(*end)
    ends: dict[str, list[End]] = {
        name: [known[name, n] for task, n in tasks if (task, n) in known and task == name] for name in names
    }
    tasks = [task for task in tasks if task not in known]
    began = time.monotonic()
    with multiprocessing.get_context("fork").Pool(workers) as pool:
        for number, (name, end) in enumerate(pool.imap(one, tasks, chunksize=4), 1):
            ends[name].append(end)
            if kept is not None:
                with kept.open("a", encoding="utf-8") as file:
                    file.write(json.dumps([name, tasks[number - 1][1], *end]) + "\n")
            if is_lost(name, end):
                print(
                    f"\n{name} at {end.place}: {end.verdict or 'no verdict'}; {'; '.join(end.wrong)}", file=sys.stderr
                )
            if sys.stderr.isatty() or number % 200 == 0:
                print(
                    f"\r{number} of {len(tasks)}, {time.monotonic() - began:.0f} s ",
                    end="",
                    file=sys.stderr,
                    flush=True,
                )
    return ends


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--out", type=Path, help="where to write the table")
    parser.add_argument("--only", action="append", choices=FAULTS, help="this row; may be repeated")
    parser.add_argument("--kept", type=Path, help="a file of what was tried already, so that a run can go on")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    ends = campaign(given.only or list(FAULTS), given.every, given.workers, given.kept)
    told = table(ends, given.every)
    print(told)
    if given.out:
        given.out.write_text(told, encoding="utf-8")
    return 1 if any(is_lost(name, end) for name, found in ends.items() for end in found) else 0


if __name__ == "__main__":
    sys.exit(main())
