"""Commands of a live swap: `baseline`, `attend`, `verify`, `swap`."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck import __version__
from consolecheck.cli.console import (
    ConsoleOption,
    FramingOption,
    LaptopClock,
    SpeedOption,
    UserOption,
    check_line,
    chosen_dialect,
    opener,
    show_what_would_be_sent,
)
from consolecheck.cli.shared import (
    INCONCLUSIVE,
    NOT_VERIFIED,
    STOPPED,
    USAGE,
    VERIFIED,
    DialectOption,
    Stop,
    limits_of_site,
    limits_of_text,
    observations,
    present_job,
    say,
    screen_of,
)
from consolecheck.cli.shown import OnScreen

if TYPE_CHECKING:
    from consolecheck.cli.person import AtTerminal, FromFile
    from consolecheck.job.conduct import Conduct
    from consolecheck.job.folder import Folder, Job
    from consolecheck.judging.acceptance import Acceptance

JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="The job's folder.")]
NewJobArgument = Annotated[str, typer.Argument(metavar="JOB", help="A folder for this swap.")]
AcceptanceOption = Annotated[
    str | None, typer.Option("--acceptance", metavar="FILE", help="The site's limits (TOML); kept in the job.")
]
TicketOption = Annotated[str | None, typer.Option("--ticket", metavar="TEXT", help="The ticket; kept in the job.")]
TechnicianOption = Annotated[
    str | None, typer.Option("--technician", metavar="NAME", help="Who does the work; kept with every answer.")
]
ChassisOption = Annotated[
    str | None, typer.Option("--chassis", metavar="SERIAL", help="The chassis that the ticket means.")
]
OverrideOption = Annotated[
    str | None,
    typer.Option("--override", metavar="REASON", help="Why to go on although the clearance is not `go`; kept."),
]
SeenOption = Annotated[
    list[str] | None, typer.Option("--seen", metavar="UNIT.FACT=VALUE", help="What eyes saw; repeatable, kept.")
]
ReseatOption = Annotated[
    str | None, typer.Option("--reseat", metavar="REASON", help="Why the same part is put back on purpose.")
]
EverythingOption = Annotated[bool, typer.Option("--all", help="Show every finding, not only what decides.")]
SignOption = Annotated[
    str | None, typer.Option("--sign", metavar="KEY", help="Sign the seal with this ssh key (ssh-keygen -Y).")
]


def baseline(
    job: NewJobArgument,
    unit: Annotated[
        str, typer.Option("--unit", metavar="UNIT", help="The unit to be replaced, such as psu-2 or fan-3.")
    ],
    console: ConsoleOption = None,
    dialect: DialectOption = None,
    speed: SpeedOption = None,
    framing: FramingOption = None,
    user: UserOption = None,
    acceptance: AcceptanceOption = None,
    ticket: TicketOption = None,
    technician: TechnicianOption = None,
    chassis: ChassisOption = None,
    seen: SeenOption = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Print what would be sent, and send nothing.")] = False,
    everything: EverythingOption = False,
) -> None:
    """Capture the switch before the swap into a new job folder, and tell whether the unit may be pulled.

    Example: consolecheck baseline swap-0412 --console /dev/ttyUSB0 --dialect wexcombe --unit psu-2
    """
    chosen = chosen_dialect(dialect)
    if dry_run:
        show_what_would_be_sent(chosen)
        return
    facts = _facts(unit, chosen.name, console, speed, framing, user, ticket, technician, chassis, None)
    limits = limits_of_site(acceptance)
    stated = observations(seen or [])
    with working(Path(job)) as folder:
        folder.create(facts)
        _keep_acceptance(folder, acceptance)
        conduct, shown = _conduct(folder, limits, None)
        with _shown(shown):
            for said in stated:
                conduct.note("observation", unit=said.unit, fact=said.fact, value=said.value, by=technician or "")
            snapshot = conduct.baseline()
            told = conduct.cleared(snapshot)
        from consolecheck.judging.clearance import Answer
        from consolecheck.reporting.clearing import show_clearance
        from consolecheck.reporting.terminal import show_snapshot

        shown.clearance(told, folder.text("before")) if not everything else show_clearance(
            screen_of(), told, folder.text("before").decode("utf-8", "replace").split("\n"), True
        )
        screen_of().line()
        show_snapshot(screen_of(), snapshot)
        ways = {
            Answer.GO: (
                VERIFIED,
                f"Replace {facts.unit}, then: consolecheck verify {job} (or watch while it is out: consolecheck attend {job})",
            ),
            Answer.HOLD: (NOT_VERIFIED, f"Leave {facts.unit} in place until what stands against it is put right"),
            Answer.UNKNOWN: (INCONCLUSIVE, f"Leave {facts.unit} in place until what is not known is looked up"),
        }
        code, advice = ways[told.answer]
        print(f"\nbaseline kept in {job}. {advice}", file=sys.stderr)
        raise typer.Exit(code)


def attend(
    job: JobArgument,
    console: ConsoleOption = None,
    speed: SpeedOption = None,
    framing: FramingOption = None,
    user: UserOption = None,
) -> None:
    """Watch the switch while the unit is out, until a part sits in the slot again.

    Example: consolecheck attend swap-0412
    """
    with working(Path(job), begun=True) as folder:
        _same_line(folder, console, speed, framing, user)
        conduct, shown = _conduct(folder, _limits_of(folder, None), None)
        with _shown(shown):
            conduct.attend()
        print(f"{conduct.unit} is fitted. Then: consolecheck verify {job}", file=sys.stderr)


def verify(
    job: JobArgument,
    console: ConsoleOption = None,
    speed: SpeedOption = None,
    framing: FramingOption = None,
    user: UserOption = None,
    unit: Annotated[
        str | None,
        typer.Option("--unit", metavar="UNIT", help="The unit, where there is no baseline: limits alone are judged."),
    ] = None,
    dialect: DialectOption = None,
    acceptance: AcceptanceOption = None,
    seen: SeenOption = None,
    reseat: ReseatOption = None,
    sign: SignOption = None,
    everything: EverythingOption = False,
) -> None:
    """Watch the switch after the swap until it has settled, capture it whole, and judge.

    Example: consolecheck verify swap-0412
    """
    stated = observations(seen or [])
    with working(Path(job), begun=unit is None) as folder:
        _or_without_baseline(folder, unit, dialect, console, speed, framing, user)
        _same_line(folder, console, speed, framing, user)
        limits = _limits_of(folder, acceptance)
        _begin_again(folder)
        if reseat is not None:
            folder.keep(folder.job().model_copy(update={"reseat": reseat}))
        conduct, shown = _conduct(folder, limits, None)
        with _shown(shown):
            for said in stated:
                conduct.note("observation", unit=said.unit, fact=said.fact, value=said.value, by=said.by)
            conduct.settle()
            conduct.capture_after()
        judge_and_seal(conduct, sign, everything)


def swap(
    job: NewJobArgument,
    unit: Annotated[
        list[str] | None,
        typer.Option("--unit", metavar="UNIT", help="The unit to be replaced; repeat it for several, one at a time."),
    ] = None,
    console: ConsoleOption = None,
    dialect: DialectOption = None,
    speed: SpeedOption = None,
    framing: FramingOption = None,
    user: UserOption = None,
    acceptance: AcceptanceOption = None,
    ticket: TicketOption = None,
    technician: TechnicianOption = None,
    chassis: ChassisOption = None,
    reseat: ReseatOption = None,
    override: OverrideOption = None,
    answers: Annotated[
        str | None, typer.Option("--answers", metavar="FILE", help="Answers (TOML), where nobody sits at the terminal.")
    ] = None,
    sign: SignOption = None,
    everything: EverythingOption = False,
) -> None:
    """Be led through the whole swap; the same command goes on where it was interrupted.

    Example: consolecheck swap swap-0412 --console /dev/ttyUSB0 --dialect wexcombe --unit psu-2
    """
    from consolecheck.job.several import begin_several, several

    person = _person(answers, technician, override)
    path = Path(job)
    units = [u.strip().lower() for u in unit or []]
    if len(set(units)) != len(units):
        raise Stop("a unit was named twice with --unit", USAGE)
    with working(path) as folder:
        parts = several(folder)
        if not parts and len(units) > 1:
            if (path / "job.json").exists():
                raise Stop(f"{job} is a job for one unit; name a new folder for several", USAGE)
            parts = begin_several(folder, units)
        if parts and units and units != list(parts):
            raise Stop(f"{job} is a job for {', '.join(parts)}, not for {', '.join(units)}", USAGE)
    worst = VERIFIED
    for named in parts or (units[0] if units else None,):
        place = path / named if parts and named else path
        with working(place) as folder:
            if not (place / "job.json").exists():
                if named is None:
                    raise Stop("name the unit to be replaced with --unit, such as psu-2", USAGE)
                chosen = chosen_dialect(dialect)
                facts = _facts(named, chosen.name, console, speed, framing, user, ticket, technician, chassis, reseat)
                limits_of_site(acceptance)  # refused before anything is made
                folder.create(facts)
                _keep_acceptance(folder, acceptance)
            elif named is not None and folder.job().unit != named:
                raise Stop(f"{place} is a job for {folder.job().unit}, not for {named}", USAGE)
            _same_line(folder, console, speed, framing, user)
            code = _led(folder, _limits_of(folder, acceptance), person, sign, everything)
            if code == VERIFIED and parts and named != list(parts)[-1]:
                print(
                    f"\n{named} is done; next comes {list(parts)[list(parts).index(named or '') + 1]}\n",
                    file=sys.stderr,
                )
            elif code != VERIFIED:
                worst = code
                break  # one at a time: the next unit waits until this one is verified
    if answers and hasattr(person, "unused"):
        person.unused()
    raise typer.Exit(worst)


def _led(
    folder: "Folder", limits: "Acceptance", person: "AtTerminal | FromFile", sign: str | None, everything: bool
) -> int:
    """The steps that are left, one after the other; gives the exit code."""
    from consolecheck.job.steps import TOLD, next_step, number_of

    conduct, shown = _conduct(folder, limits, person)
    with _shown(shown):
        while (step := next_step(folder.journal())) != "done":
            if step != "judge":
                shown.end()
                screen_of().line()
                screen_of().line((f"{number_of(step)}  {conduct.unit}: {TOLD[step]}", "bold"))
            if step == "baseline":
                conduct.baseline()
            elif step == "in-hand":
                conduct.ask("in-hand")
            elif step == "clearance":
                conduct.clear()
            elif step == "cautions":
                conduct.caution()
            elif step == "attend":
                screen_of().line((f"Pull {conduct.unit} now, fit the replacement, and connect it.", ""))
                conduct.attend()
            elif step == "fitted":
                conduct.ask("fitted")
            elif step == "settle":
                conduct.settle()
            elif step == "look":
                conduct.ask("settled", conduct.latest())
            elif step == "capture":
                conduct.capture_after()
            else:
                break
    screen_of().line()
    try:
        judge_and_seal(conduct, sign, everything)
    except typer.Exit as end:
        return end.exit_code
    raise AssertionError("a judgement ends with its exit code")


def judge_and_seal(conduct: "Conduct", sign: str | None, everything: bool) -> None:
    """Shows the verdict, keeps it, seals the folder, and ends with the verdict's exit code."""
    from consolecheck.job.seal import seal
    from consolecheck.job.seal import sign as signed

    folder = conduct.folder
    if (folder.path / "seal.json").exists():  # done already: shown again, and nothing is changed
        present_job(folder, conduct.limits, everything)
        return
    try:
        present_job(folder, conduct.limits, everything, keep=conduct.keep_verdict)
    finally:
        if conduct.judged:
            digest = seal(folder, conduct.stamp(), __version__)
            if sign is not None:
                signed(folder, Path(sign))
            print(f"\nsealed in {folder.path}, SHA-256 of the seal {digest}", file=sys.stderr)


# Wiring.


def _facts(
    unit: str,
    dialect: str,
    console: str | None,
    speed: int | None,
    framing: str | None,
    user: str | None,
    ticket: str | None,
    technician: str | None,
    chassis: str | None,
    reseat: str | None,
) -> "Job":
    from consolecheck.job.folder import Job
    from consolecheck.job.held import stamp

    if console is None:
        raise Stop("name the line with --console, such as /dev/ttyUSB0, COM3 or ssh://user@host", USAGE)
    check_line(console, speed, framing)
    return Job(
        unit=unit.strip().lower(),
        dialect=dialect,
        line=console,
        speed=speed,
        framing=framing,
        user=user,
        started=stamp(LaptopClock().epoch()),
        version=__version__,
        ticket=ticket,
        technician=technician,
        chassis=chassis,
        reseat=reseat,
    )


def _or_without_baseline(
    folder: "Folder",
    unit: str | None,
    dialect: str | None,
    console: str | None,
    speed: int | None,
    framing: str | None,
    user: str | None,
) -> None:
    """Begins a job that has no capture before the swap, where the command names what it needs."""
    there = (folder.path / "job.json").exists()
    if there and unit is not None and folder.job().unit != unit.strip().lower():
        raise Stop(f"{folder.path} is a job for {folder.job().unit}, not for {unit}", USAGE)
    if there or unit is None:
        return
    folder.create(_facts(unit, chosen_dialect(dialect).name, console, speed, framing, user, None, None, None, None))
    say("there is no baseline, so the switch is judged on its limits alone")


def _same_line(folder: "Folder", console: str | None, speed: int | None, framing: str | None, user: str | None) -> None:
    """Another line than the job's, if one was named: the technician went round to another port."""
    job = folder.job()
    changed = {
        name: value
        for name, value in (("line", console), ("speed", speed), ("framing", framing), ("user", user))
        if value is not None and value != getattr(job, name)
    }
    if changed:
        check_line(console or job.line, speed or job.speed, framing or job.framing)
        folder.keep(job.model_copy(update=changed))


def _keep_acceptance(folder: "Folder", path: str | None) -> None:
    from consolecheck.files.intake import Refused, text_file

    if path is not None:
        try:
            folder.keep_acceptance(text_file(path))
        except Refused as reason:
            raise Stop(str(reason), STOPPED) from None


def _limits_of(folder: "Folder", path: str | None) -> "Acceptance":
    """The limits named now, which the job keeps from now on, or those that it keeps, or the built-in ones."""
    if path is not None:
        limits = limits_of_site(path)
        _keep_acceptance(folder, path)
        return limits
    kept = folder.acceptance_text()
    return limits_of_site(None) if kept is None else limits_of_text(kept, "acceptance.toml")


def _begin_again(folder: "Folder") -> None:
    """A job that was sealed is opened again; its seal and findings are moved aside."""
    from consolecheck.job.seal import unseal

    if (folder.path / "seal.json").exists():
        unseal(folder)


def _person(answers: str | None, technician: str | None, override: str | None) -> "AtTerminal | FromFile":
    from consolecheck.cli.person import AtTerminal, FromFile
    from consolecheck.files.intake import Refused, text_file

    if answers is not None:
        try:
            return FromFile(text_file(answers), answers, technician, override)
        except Refused as reason:
            raise Stop(str(reason), STOPPED) from None
    if not sys.stdin.isatty():
        raise Stop("`swap` asks questions: run it in a terminal, or give --answers FILE", USAGE)
    return AtTerminal(technician or "the technician", override)


def _conduct(
    folder: "Folder", limits: "Acceptance", person: "AtTerminal | FromFile | None"
) -> "tuple[Conduct, OnScreen]":
    from consolecheck.cli.person import AtTerminal
    from consolecheck.job.conduct import Conduct

    job = folder.job()
    chosen = chosen_dialect(job.dialect)
    shown = OnScreen(job.speed)
    clock = LaptopClock()
    conduct = Conduct(
        folder,
        chosen,
        limits,
        opener(folder, chosen, job),
        clock,
        person or AtTerminal(job.technician or ""),
        shown,
    )
    return conduct, shown


@contextmanager
def _shown(shown: OnScreen) -> Iterator[None]:
    try:
        yield
    finally:
        shown.end()


@contextmanager
def working(path: Path, begun: bool = False) -> "Iterator[Folder]":
    """The job's folder, locked; whatever ends the work early is told with what was kept.

    `begun`: a job must be there, and none is made for a mistyped name.
    """
    from consolecheck.job.conduct import Halt
    from consolecheck.job.folder import Folder, FolderFault

    codes = {"stopped": STOPPED, "hold": NOT_VERIFIED, "unclear": INCONCLUSIVE, "usage": USAGE}
    folder = Folder(path)
    try:
        if begun:
            folder.job()
        with folder.locked():
            yield folder
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    except Halt as halt:
        raise Stop(str(halt), codes[halt.how]) from None
    except KeyboardInterrupt:
        raise Stop(
            f"interrupted. What was taken is kept in {path}; start the same command again to go on", STOPPED
        ) from None
