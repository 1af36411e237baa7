"""Commands that need no job: `demo` on the simulated switch, and `ports`."""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from consolecheck import __version__
from consolecheck.cli.console import guard_of, recording
from consolecheck.cli.shared import USAGE, Stop, near, screen_of
from consolecheck.cli.shown import OnScreen
from consolecheck.cli.wiring import judge_and_seal, working


def demo(
    fault: Annotated[
        str | None, typer.Option("--fault", metavar="NAME", help="A swap that went wrong; `list` names them.")
    ] = None,
    keep: Annotated[str | None, typer.Option("--keep", metavar="DIR", help="Keep the job folder there.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Show every finding, not only what decides.")] = False,
) -> None:
    """Do the whole job on the simulated switch tern-04 of a tidal observatory; no hardware needed.

    Example: consolecheck demo --fault reversed-airflow
    """
    import tempfile

    from consolecheck.rehearsal.faults import SCENARIOS

    faults = sorted(SCENARIOS.keys() - {"none"})
    if fault == "list":
        for name in faults:
            print(f"{name:<20} {SCENARIOS[name].title}")
        return
    if fault is not None and fault not in faults:
        raise Stop(f"there is no fault `{fault}`{near(fault, faults)}", USAGE)
    if keep is not None:
        _rehearse(fault or "none", Path(keep), everything)
        return
    with tempfile.TemporaryDirectory(prefix="consolecheck-demo-") as folder:
        _rehearse(fault or "none", Path(folder) / "tern-04", everything)


PATIENCE = 300.0
"""Simulated seconds for which the demonstration watches a slot that nobody fills."""


def _rehearse(fault: str, path: Path, everything: bool) -> None:
    """The whole job on the simulated switch: the same loop, folder, rules and screens as on a real line."""
    from contextlib import contextmanager

    from consolecheck.cli.person import AtTerminal
    from consolecheck.console.guard import Guard
    from consolecheck.console.recorder import Recorder
    from consolecheck.files.shelf import dialects
    from consolecheck.job.conduct import Conduct, Talk
    from consolecheck.job.drive import Conversation
    from consolecheck.job.folder import Job
    from consolecheck.job.held import stamp
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.rehearsal.faults import Schedule, scenario
    from consolecheck.rehearsal.inprocess import InProcess, SimulatedClock
    from consolecheck.rehearsal.noise import Line
    from consolecheck.rehearsal.physics import Chassis
    from consolecheck.rehearsal.shell import Options, Shell

    played = scenario(fault)
    line = InProcess(Shell(Chassis(seed=4), Options(start="user", log_every=60)), Line(115200))
    clock = SimulatedClock(line)
    dialect = next(d for d in dialects() if d.name == "wexcombe")
    screen = screen_of()
    screen.line((f"{played.title}. Everything below happens in simulated time.", "italic"))
    with working(path) as folder:
        facts = Job(
            unit=played.unit,
            dialect=dialect.name,
            line="simulated",
            speed=line.bits_per_second,
            started=stamp(clock.epoch()),
            version=__version__,
            technician="R. Petrel",
        )
        folder.create(facts)

        @contextmanager
        def console(name: str) -> Iterator[Talk]:
            cast = recording(folder, name)
            with Recorder(cast, f"{played.unit} {name}", clock.seconds, int(clock.epoch())) as recorder:
                talk = Conversation(line, dialect, Guard(dialect), clock.seconds, recorder)
                yield talk
                talk.leave()

        shown = OnScreen()
        conduct = Conduct(folder, dialect, Acceptance(), console, clock, AtTerminal("R. Petrel"), shown)
        try:
            told = conduct.cleared(conduct.baseline())
            shown.clearance(told, folder.text("before"))
            screen.line()
            line.schedule = Schedule(played, clock.seconds())
            conduct.attend(PATIENCE)
            conduct.settle()
            conduct.capture_after()
        finally:
            shown.end()
        screen.line()
        judge_and_seal(conduct, None, everything)


def ports(
    ask: Annotated[
        bool, typer.Option("--ask", help="Send a carriage return to each and tell at which speed a console answers.")
    ] = False,
) -> None:
    """List the serial ports of this laptop, and at which speed a console answers.

    Example: consolecheck ports --ask
    """
    from consolecheck.console.link import LinkFault, list_ports, open_link, parse_link
    from consolecheck.files.shelf import dialects
    from consolecheck.job.drive import answering

    screen = screen_of()
    found = list_ports()
    if not found:
        screen.line(("no serial port on this machine; plug in the adapter, and see that its driver is there", ""))
        return
    guard = guard_of(dialects()[0], None, None)  # only a carriage return is sent
    for device, description in found:
        told = description
        if ask:
            try:
                link = open_link(parse_link(device))
                try:
                    told += f": {answering(link, guard, time.monotonic)}"
                finally:
                    link.close()
            except LinkFault as fault:
                told += f": {fault}"
        screen.line((device, "bold"), (f"  {told}", ""))
