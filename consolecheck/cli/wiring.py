"""From the arguments of a live job to its folder, limits, person and console; and how such a command ends."""

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from consolecheck import __version__
from consolecheck.cli.console import LaptopClock, check_line, opener
from consolecheck.cli.shared import (
    INCONCLUSIVE,
    NOT_VERIFIED,
    STOPPED,
    USAGE,
    VERIFIED,
    Stop,
    dialect_of_job,
    limits_of_site,
    limits_of_text,
    present_job,
    say,
    screen_of,
)
from consolecheck.cli.shown import OnScreen, tell

if TYPE_CHECKING:
    from consolecheck.cli.person import AtTerminal, FromFile
    from consolecheck.job.conduct import Conduct
    from consolecheck.job.folder import Folder, Job
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.reading.dialect import Dialect


# The folder.


@contextmanager
def explained(folder: "Folder") -> Iterator[None]:
    """Whatever ends the work early is told with what was kept, and what to do next."""
    from consolecheck.job.conduct import Halt
    from consolecheck.job.folder import FolderFault

    codes = {"stopped": STOPPED, "hold": NOT_VERIFIED, "unclear": INCONCLUSIVE, "usage": USAGE}
    try:
        yield
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    except Halt as halt:
        raise Stop(str(halt), codes[halt.how]) from None
    except KeyboardInterrupt:
        raise Stop(
            f"interrupted. What was taken is kept in {folder.path}; start the same command again to go on"
            + _also(folder),
            STOPPED,
        ) from None


def _also(folder: "Folder") -> str:
    """The way on for a person who waits for what the watch cannot see: a part seated again between two looks."""
    from consolecheck.job.folder import FolderFault
    from consolecheck.job.steps import next_step

    try:
        watched = next_step(folder.journal()) == "attend"
    except FolderFault:
        watched = False
    return f", or with `consolecheck verify {folder.path}` if the part is in its slot already" if watched else ""


@contextmanager
def working(path: Path, begun: bool = False) -> "Iterator[Folder]":
    """The job's folder, locked. `begun`: a job must be there, and none is made for a mistyped name."""
    from consolecheck.job.folder import Folder
    from consolecheck.job.several import several

    folder = Folder(path)
    with explained(folder):
        if begun:
            if parts := several(folder):
                named = ", ".join(str(path / part) for part in parts)
                raise Stop(f"{path} holds a job for each of its units; name one of them: {named}", USAGE)
            folder.job()
        with folder.locked():
            yield folder


def facts_of(
    unit: str,
    dialect: "Dialect",
    console: str | None,
    speed: int | None = None,
    framing: str | None = None,
    user: str | None = None,
    ticket: str | None = None,
    technician: str | None = None,
    chassis: str | None = None,
    reseat: str | None = None,
) -> "Job":
    """What a new job is, by the command. Raises Stop for a line that cannot be opened at all."""
    from consolecheck.job.folder import Job

    if console is None:
        raise Stop("name the line with --console, such as /dev/ttyUSB0, COM3 or ssh://user@host", USAGE)
    check_line(console, speed, framing)
    return Job(
        unit=unit.strip().lower(),
        dialect=dialect.name,
        dialect_digest=dialect.digest,
        line=console,
        speed=speed,
        framing=framing,
        user=user,
        started=now(),
        version=__version__,
        ticket=ticket,
        technician=technician,
        chassis=chassis,
        reseat=reseat,
    )


def now() -> str:
    from consolecheck.job.held import stamp

    return stamp(LaptopClock().epoch())


def kept_files(dialect: "Dialect") -> "Mapping[str, str] | None":
    """What a job must keep of its dialect, so that it can be judged again elsewhere; nothing of a shipped one."""
    return None if dialect.origin is None else dialect.files


def begin(folder: "Folder", facts: "Job", dialect: "Dialect") -> None:
    """Makes the job, or begins one anew that has no whole capture before the swap."""
    from consolecheck.job.steps import next_step

    if (folder.path / "job.json").exists() and next_step(folder.journal()) == "baseline":
        folder.keep(facts, kept_files(dialect))
    else:
        folder.create(facts, kept_files(dialect))


def told_anew(folder: "Folder", **told: str | int | None) -> None:
    """Keeps what the command says of a job that is there: another line, for one, or another technician.

    Which chassis it is, is asked before the unit is pulled: it cannot be told later. Raises Stop.
    """
    from consolecheck.job.steps import reached

    job = folder.job()
    changed = {name: value for name, value in told.items() if value is not None and value != getattr(job, name)}
    if "chassis" in changed and reached(folder.journal(), "clearance"):
        raise Stop(
            f"{folder.path} was cleared already, for {job.chassis or 'whichever chassis answers'}, and nothing was changed; "
            "leave --chassis out, or begin a new folder",
            USAGE,
        )
    if changed:
        new = job.model_copy(update=changed)
        check_line(new.line, new.speed, new.framing)
        folder.keep(new)


def begin_again(folder: "Folder") -> None:
    """A job that was sealed is opened again: its seal is moved aside."""
    from consolecheck.job.seal import unseal

    if (folder.path / "seal.json").exists():
        unseal(folder)


# Limits, and who answers.


def keep_acceptance(folder: "Folder", path: str | None) -> None:
    from consolecheck.files.intake import Refused, text_file

    if path is not None:
        try:
            folder.keep_acceptance(text_file(path))
        except Refused as reason:
            raise Stop(str(reason), STOPPED) from None


def limits_of(folder: "Folder", path: str | None = None) -> "Acceptance":
    """The limits named now, which the job keeps from now on, or those that it keeps, or the built-in ones."""
    if path is not None:
        limits = limits_of_site(path)
        keep_acceptance(folder, path)
        return limits
    kept = folder.acceptance_text()
    return limits_of_site(None) if kept is None else limits_of_text(kept, "acceptance.toml")


def person_of(answers: str | None, technician: str | None, override: str | None) -> "AtTerminal | FromFile":
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


def conduct_of(
    folder: "Folder", limits: "Acceptance", person: "AtTerminal | FromFile | None" = None
) -> "tuple[Conduct, OnScreen]":
    """The job on its real line."""
    from consolecheck.cli.person import AtTerminal
    from consolecheck.job.conduct import Conduct

    job = folder.job()
    chosen = dialect_of_job(folder)
    shown = OnScreen()
    someone = person or AtTerminal(job.technician or "")
    return Conduct(folder, chosen, limits, opener(folder, chosen, job), LaptopClock(), someone, shown), shown


@contextmanager
def screen_given_back(shown: OnScreen) -> Iterator[None]:
    try:
        yield
    finally:
        shown.end()


# The end.


def judge_and_seal(conduct: "Conduct", sign: str | None, everything: bool) -> None:
    """Shows the verdict, keeps it, seals the folder, and ends with the verdict's exit code."""
    from consolecheck.job.seal import seal
    from consolecheck.job.seal import sign as signed

    folder, code = conduct.folder, STOPPED
    try:
        present_job(folder, conduct.limits, everything, keep=conduct.keep_verdict)
    except typer.Exit as end:
        code = end.exit_code
        raise
    finally:
        if conduct.judged:
            digest = seal(folder, conduct.stamp(), __version__)
            word = {VERIFIED: "VERIFIED", NOT_VERIFIED: "NOT VERIFIED", INCONCLUSIVE: "INCONCLUSIVE"}.get(
                code, "judged"
            )
            tell(f"\n{conduct.unit}: {word}. Sealed in {folder.path}; SHA-256 of the seal, for the ticket:\n{digest}")
            if sign is not None:
                signed(folder, Path(sign))


def confirm_in_job(
    folder: "Folder", path: str, name: str, everything: bool, quiet: bool = False, json: bool = False
) -> None:
    """Keeps a person's confirmation of a reading map in a job, judges it again, and seals it anew.

    Raises Stop, and changes nothing, where the map does not cover the job's texts.
    """
    from consolecheck.files.intake import Refused, text_file
    from consolecheck.job.held import confirm, held, read_plainly
    from consolecheck.job.seal import examine, seal
    from consolecheck.job.steps import DONE
    from consolecheck.reading.dialect import DialectFault
    from consolecheck.reading.inference.map import MapFault, confirmed, load_map

    was = examine(folder)
    dialect, limits, at = dialect_of_job(folder), limits_of(folder), now()
    found = held(folder, dialect)
    texts = {"before.txt": found.before, "after.txt": found.after}
    try:
        text = text_file(path)
        given = load_map(text, path)
        read = [read_plainly(raw, source, dialect) for source, raw in texts.items() if raw is not None]
    except (Refused, MapFault) as reason:
        raise Stop(f"{reason}; nothing was changed", USAGE) from None
    except DialectFault as fault:
        raise Stop(f"a dialect is broken, and nothing was changed: {fault}", STOPPED) from None
    for snapshot in read:
        if why := confirmed(snapshot, given, name, at)[1]:
            raise Stop(f"the reading map is not confirmed, and nothing was changed: {why}", USAGE)
    begin_again(folder)
    confirm(folder, text, given, name, at)

    judged = False

    def keep(document: str) -> None:
        nonlocal judged
        folder.keep_findings(document)
        folder.note(f"{DONE}judge", now())
        judged = True

    try:
        present_job(folder, limits, everything, json, keep, quiet=quiet)
    finally:
        if judged:
            digest = seal(folder, now(), __version__)
            told = f"{folder.path}: {name}'s confirmation is kept, and the folder is sealed anew"
            say(f"{told}; SHA-256 of the seal, for the ticket: {digest}")
            if was.signature != "none":
                say(
                    f"the earlier signature was set aside; sign again with `consolecheck swap {folder.path} --sign KEY`"
                )


def exit_code_of(conduct: "Conduct", sign: str | None, everything: bool) -> int:
    """The same, for a command that has more to do."""
    try:
        judge_and_seal(conduct, sign, everything)
    except typer.Exit as end:
        return end.exit_code
    raise AssertionError("a judgement ends with its exit code")


def shown_again(folder: "Folder", sign: str | None, everything: bool, briefly: bool) -> int:
    """The verdict of a job that is done, whose seal must hold. Nothing is changed, but a signature may be added.

    `briefly`: one that is verified is not told in full.
    """
    import json

    from consolecheck.job.seal import examine
    from consolecheck.job.seal import sign as signed

    sealed = examine(folder)
    if sign is not None and sealed.signature == "none":
        signed(folder, Path(sign))
    tell(f"{folder.job().unit} is done: {folder.path} was sealed at {sealed.sealed_at}, and the seal holds.")
    if briefly and json.loads((folder.path / "findings.json").read_bytes())["verdict"] == "verified":
        return VERIFIED
    screen_of().line()
    try:
        present_job(folder, limits_of(folder), everything)
    except typer.Exit as end:
        return end.exit_code
    raise AssertionError("a judgement ends with its exit code")
