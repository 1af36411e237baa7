"""Commands of a live swap: `baseline`, `attend`, `verify`, `swap`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck.cli.console import (
    ConsoleOption,
    FramingOption,
    SpeedOption,
    UserOption,
    chosen_dialect,
    show_what_would_be_sent,
)
from consolecheck.cli.shared import (
    INCONCLUSIVE,
    NOT_VERIFIED,
    USAGE,
    VERIFIED,
    DialectOption,
    DialectsOption,
    Stop,
    dialect_of_job,
    limits_of_site,
    observations,
    screen_of,
)
from consolecheck.cli.shown import tell
from consolecheck.cli.wiring import (
    begin,
    begin_again,
    conduct_of,
    exit_code_of,
    explained,
    facts_of,
    judge_and_seal,
    keep_acceptance,
    kept_files,
    limits_of,
    now,
    person_of,
    screen_given_back,
    shown_again,
    told_anew,
    working,
)

if TYPE_CHECKING:
    from consolecheck.cli.person import AtTerminal, FromFile
    from consolecheck.job.folder import Folder, Job
    from consolecheck.job.steps import Step
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.reading.dialect import Dialect

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
    dialects: DialectsOption = None,
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
    chosen = chosen_dialect(dialect, dialects)
    if dry_run:
        show_what_would_be_sent(chosen)
        return
    facts = facts_of(unit, chosen, console, speed, framing, user, ticket, technician, chassis)
    limits = limits_of_site(acceptance)
    stated = observations(seen or [])
    with working(Path(job)) as folder:
        begin(folder, facts, chosen)
        keep_acceptance(folder, acceptance)
        conduct, shown = conduct_of(folder, limits)
        with screen_given_back(shown):
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
        tell(f"\nbaseline kept in {job}. {advice}")
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
        begin_again(folder)
        told_anew(folder, line=console, speed=speed, framing=framing, user=user)
        conduct, shown = conduct_of(folder, limits_of(folder))
        with screen_given_back(shown):
            conduct.attend()
        tell(f"{conduct.unit} is fitted. Then: consolecheck verify {job}")


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
    dialects: DialectsOption = None,
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
        _or_without_baseline(folder, unit, dialect, dialects, console, speed, framing, user)
        limits_of_site(acceptance)  # refused before anything is changed
        begin_again(folder)
        told_anew(folder, line=console, speed=speed, framing=framing, user=user, reseat=reseat)
        conduct, shown = conduct_of(folder, limits_of(folder, acceptance))
        conduct.settle_again()
        with screen_given_back(shown):
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
    dialects: DialectsOption = None,
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
    from consolecheck.cli.person import FromFile
    from consolecheck.job.folder import Folder
    from consolecheck.job.held import answered_in
    from consolecheck.job.several import several

    units = [u.strip().lower() for u in unit or []]
    if len(set(units)) != len(units):
        raise Stop("a unit was named twice with --unit", USAGE)
    if sign is not None and not Path(sign).is_file():
        raise Stop(f"there is no key {sign} to sign the seal with, and nothing was changed", USAGE)
    person, path = person_of(answers, technician, override), Path(job)
    limits_of_site(acceptance)
    with explained(Folder(path)):
        kept = several(Folder(path))
    facts: Job | None = None
    chosen: Dialect | None = None
    if not ((path / kept[0] if kept else path) / "job.json").exists():
        # All that can be wrong with a new job is refused before anything of it is made.
        if not units:
            raise Stop(f"there is no job in {job} yet; name the unit to be replaced with --unit, such as psu-2", USAGE)
        chosen = chosen_dialect(dialect, dialects)
        facts = facts_of(units[0], chosen, console, speed, framing, user, ticket, technician, chassis, reseat)
    parts = _parts(path, units)
    code, before, answered = VERIFIED, None, set[str]()
    for number, named in enumerate(parts):
        place = path / named if len(parts) > 1 else path
        with working(place) as folder:
            if not (place / "job.json").exists():
                _begin_part(folder, named, facts, chosen, before)
            if (place / "seal.json").exists():
                code = shown_again(folder, sign, everything, briefly=named != parts[-1])
            else:
                told_anew(
                    folder,
                    line=console,
                    speed=speed,
                    framing=framing,
                    user=user,
                    ticket=ticket,
                    technician=technician,
                    chassis=chassis,
                    reseat=reseat,
                )
                code = _led(folder, limits_of(folder, acceptance), person, sign, everything)
            answered |= answered_in(folder.journal())
        if isinstance(person, FromFile) and named == parts[-1]:
            person.unused(answered)
        if code != VERIFIED:
            tell(f"When that is put right: consolecheck verify {place}")
            break  # one at a time: the next unit waits until this one is verified
        if named != parts[-1]:
            tell(f"\n{named} is done; next comes {parts[number + 1]}.")
        before = folder
    raise typer.Exit(code)


def _parts(path: Path, units: list[str]) -> tuple[str, ...]:
    """The units of a job, in order; they are kept where there are several. Raises Stop for others than it is for."""
    from consolecheck.job.folder import Folder
    from consolecheck.job.several import begin_several, several

    folder = Folder(path)
    with explained(folder):
        parts = several(folder)
        if not parts and (path / "job.json").exists():
            parts = (folder.job().unit,)
    if not parts and len(units) > 1:
        with working(path):
            return begin_several(folder, units)
    if parts and units and units != list(parts):
        raise Stop(f"{path} is a job for {', then '.join(parts)}, not for {', then '.join(units)}", USAGE)
    return parts or tuple(units)


def _begin_part(
    folder: "Folder", named: str, facts: "Job | None", chosen: "Dialect | None", before: "Folder | None"
) -> None:
    """Makes the job of one unit: by what the command says, or like that of the unit before it."""
    from consolecheck.job.held import observed_in

    known = before.job() if before is not None else facts
    assert known is not None, "a job that is not there was told in full"
    dialect = dialect_of_job(before) if before is not None else chosen
    assert dialect is not None, "a job that is not there was told in full"
    folder.create(known.model_copy(update={"unit": named, "started": now()}), kept_files(dialect))
    if before is None:
        return
    if (limits := before.acceptance_text()) is not None:
        folder.keep_acceptance(limits)
    for said in observed_in(before.journal()):
        if (said.unit, said.fact) == ("chassis", "cold_aisle"):  # the rack was not turned meanwhile
            folder.note("observation", now(), unit=said.unit, fact=said.fact, value=said.value, by=said.by)


def _led(
    folder: "Folder", limits: "Acceptance", person: "AtTerminal | FromFile", sign: str | None, everything: bool
) -> int:
    """The steps that are left, one after the other; gives the exit code."""
    from consolecheck.cli.person import echo
    from consolecheck.job.steps import TOLD, number_of
    from consolecheck.reporting.clearing import hanging
    from consolecheck.reporting.safe import safe

    conduct, shown = conduct_of(folder, limits, person)

    def begins(step: "Step") -> None:
        shown.end()
        screen_of().line()
        screen_of().line((f"{number_of(step)}  {conduct.unit}: {TOLD[step]}", "bold"))
        if step == "attend":
            hanging(screen_of(), "", safe(conduct.to_do()))

    with screen_given_back(shown), echo(False):
        conduct.lead(begins)
    screen_of().line()
    return exit_code_of(conduct, sign, everything)


def _or_without_baseline(
    folder: "Folder",
    unit: str | None,
    dialect: str | None,
    dialects: str | None,
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
    chosen = chosen_dialect(dialect, dialects)
    folder.create(facts_of(unit, chosen, console, speed, framing, user), kept_files(chosen))
    tell("There is no baseline, so the switch is judged on its limits alone.")
