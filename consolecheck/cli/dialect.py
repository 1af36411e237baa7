"""`dialect`: which device families are known, and whether they are read right."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck.cli.shared import (
    NOT_VERIFIED,
    STOPPED,
    UNKNOWN,
    USAGE,
    VERIFIED,
    DialectsOption,
    Stop,
    all_dialects,
    known_dialects,
    say,
    screen_of,
)

if TYPE_CHECKING:
    from consolecheck.cases.case import Case
    from consolecheck.drafting.draft import Draft
    from consolecheck.reading.dialect import Dialect
    from consolecheck.reporting.junit import Checked


def listed(dialects: DialectsOption = None) -> None:
    """List the device families that can be read, what of each, and where those come from that are not shipped.

    \b
    Example: consolecheck dialect list
    """
    from consolecheck.reading.dialect import DialectFault
    from consolecheck.reporting.safe import safe

    screen, found = screen_of(), all_dialects(dialects)
    broken = 0
    for known in found.dialects:
        try:
            title, commands = known.manifest.title, [c.send for c in known.manifest.commands]
            if known.manifest.drafted:
                title += " (a draft: what is read with it counts as inferred)"
            digest = f", SHA-256 {known.digest}" if known.digest else ""
        except DialectFault as fault:
            broken += 1
            title, commands, digest = f"is broken: {fault}", [], ""
        screen.line((known.name, "bold"), (f"  {safe(title)}", ""))
        if known.origin is not None:
            screen.line((f"    from {safe(known.place)} ({known.origin}){digest}", ""))
        for hidden in found.covered:
            if hidden.name == known.name:
                screen.line((f"    stands before the one of {safe(hidden.place)}", ""))
        for command in commands:
            screen.line((f"    {safe(command)}", ""))
    if broken:
        raise typer.Exit(NOT_VERIFIED)


def check(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One dialect; else all.")] = None,
    dialects: DialectsOption = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="Record anew what differs, where the claims hold. Refused in CI.")
    ] = False,
    junit: Annotated[
        str | None, typer.Option("--junit", metavar="FILE", help="Also write the results as JUnit XML.")
    ] = None,
) -> None:
    """Check dialects against their cases: the laws of templates, claims written by hand, then what is recorded.

    What is recorded are the readings of each case, and which spoilt lines a template claims: one that becomes looser
    fails, and the lines are shown.

    \b
    Example: consolecheck dialect check wexcombe
    """
    from consolecheck.cases.check import Fault, accept_claims, check_case, check_claims
    from consolecheck.cases.check import accept as record
    from consolecheck.files.shelf import fixtures_of
    from consolecheck.reading.dialect import DialectFault
    from consolecheck.reporting.junit import Checked
    from consolecheck.reporting.progress import counted
    from consolecheck.reporting.safe import safe

    if accept and os.environ.get("CI"):
        raise Stop("--accept is refused in CI: record on your own machine and commit the difference", USAGE)
    known, chosen = known_dialects(name, dialects)
    cases = {d: _cases_of(d) for d in known if chosen in (None, d)}
    results: list[Checked] = []
    recorded = 0

    def keep(suite: str, what: str, faults: list[Fault]) -> None:
        results.append(Checked(suite, what, tuple((f"{f.place}: {f.message}", f.shown) for f in faults)))
        for fault in faults:
            print(f"{fault.place}: {safe(fault.message)}")
            for line in fault.shown:
                print(f"    {safe(line)}")
            if fault.golden:
                print(f"    if the change is meant: consolecheck dialect check {suite} --accept")

    whole: set[Dialect] = set()
    for d, own in cases.items():
        faults = [Fault(f.file, f"{f.key}: {f.reason}" if f.key else f.reason) for f in d.faults()]
        if not faults:
            whole.add(d)
        if not own:
            faults.append(Fault(str(fixtures_of(d)) if d.origin else f"fixtures/{d.name}", "the dialect has no case"))
        keep(d.name, "the laws of templates", faults)
    if chosen is None and (astray := _astray({d.name for d in known})):
        keep(
            "fixtures",
            "every folder has a dialect",
            [Fault(f"fixtures/{n}", "there is no such dialect") for n in astray],
        )
    for case in counted(sys.stderr, "checking cases", [c for d, own in cases.items() if d in whole for c in own]):
        try:
            found = list(check_case(case, known))
            if accept and found and all(f.golden for f in found):
                refused = record(case, known)
                recorded += refused is None
                found = [refused] if refused else []
        except DialectFault as fault:  # of another dialect, which was told above or is not checked
            found = [Fault(case.place, f"cannot be judged, since another dialect is broken: {fault}")]
        keep(case.dialect_name, case.name, found)
    for d in whole:
        folder = fixtures_of(d)
        found = list(check_claims(d, cases[d], folder))
        if accept and found:
            accept_claims(d, cases[d], folder)
            recorded += 1
            found = []
        keep(d.name, "what templates claim", found)
    if junit is not None:
        _write_results(results, junit)
    done = f", {recorded} recorded anew" if recorded else ""
    faulty = sum(len(result.faults) for result in results)
    print(f"{sum(map(len, cases.values()))} cases checked{done}, {faulty} faults")
    raise typer.Exit(NOT_VERIFIED if faulty else VERIFIED)


def _cases_of(dialect: "Dialect") -> "list[Case]":
    from consolecheck.cases.case import CaseFault
    from consolecheck.cases.check import cases_in, cases_of
    from consolecheck.files.shelf import fixtures_of, shipped

    try:
        if dialect.origin is None:
            return cases_of(shipped("fixtures"), dialect.name)
        return cases_in(fixtures_of(dialect), dialect.name)
    except CaseFault as broken:
        raise Stop(f"a case is broken: {broken}", STOPPED) from None


def _astray(names: set[str]) -> list[str]:
    from consolecheck.files.shelf import shipped

    return sorted(path.name for path in shipped("fixtures").iterdir() if path.is_dir() and path.name not in names)


def _write_results(results: "list[Checked]", path: str) -> None:
    from datetime import UTC, datetime

    from consolecheck.reporting.junit import junit_of_checks

    try:
        Path(path).write_bytes(junit_of_checks(results, datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")))
    except OSError as reason:
        raise Stop(f"{path} cannot be written ({reason.strerror or reason}); name another file", STOPPED) from None


def draft(
    capture: Annotated[str, typer.Argument(metavar="CAPTURE", help="Captured text of a device that nobody described.")],
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="What the dialect shall be called.")],
    out: Annotated[
        str, typer.Option("--out", metavar="DIR", help="The folder of dialects in which its folder is made.")
    ] = ".",
) -> None:
    """Draft a dialect from one capture: manifest, templates, a case, and what a person must still decide.

    What is read with a draft counts as inferred until a person has decided that and says so in its manifest.

    \b
    Example: consolecheck dialect draft unknown.txt --name ours
    """
    from consolecheck.cli.shared import INCONCLUSIVE, shown_name, taken, text_within, working_on
    from consolecheck.drafting.draft import CannotDraft
    from consolecheck.drafting.draft import draft as drafted
    from consolecheck.files.shelf import NAME, dialects

    if not NAME.fullmatch(name):
        raise Stop(f"`{name}` cannot name a dialect: small letters, digits, `-` and `_`, 40 at most", USAGE)
    if name == UNKNOWN:
        raise Stop(f"`{UNKNOWN}` stands for no dialect at all; choose another name", USAGE)
    if any(known.name == name for known in dialects()):
        raise Stop(f"there is a dialect `{name}` already; choose another name", USAGE)
    target = Path(out) / name
    if os.path.lexists(target):
        raise Stop(f"{target} is there already, and nothing was changed; choose another name or folder", USAGE)
    source = shown_name(capture)
    raw = text_within(taken(capture), source)
    try:
        with working_on(f"drafting from {source}"):
            made = drafted(raw, name, source)
    except CannotDraft as reason:
        raise Stop(f"{reason}. Nothing was written", INCONCLUSIVE) from None
    _write_draft(made, raw, target)
    for table in made.tables:
        print(f"{table.name}: {len(table.placed)} readings")
    for left in made.left_out:
        say(f"left out: lines {left.first_line}-{left.last_line}: {left.what}: {left.why}")
    print(f"{target} passes `consolecheck dialect check {name} --dialects {out}`")
    print(f"What a person must still decide: {target / 'draft.md'}")


def _write_draft(made: "Draft", raw: bytes, target: Path) -> None:
    """Writes the draft beside its place, checks it as any other, and only then puts it there. Raises Stop."""
    import shutil

    from consolecheck.cases.check import accept, accept_claims, cases_in, check_case, check_claims
    from consolecheck.cases.drafted import CASE, case_text
    from consolecheck.drafting.told import report_of
    from consolecheck.files.shelf import dialects, read_dialect

    beside = target.with_name(f".{target.name}.new")
    fixtures = beside / "fixtures"
    texts = {**made.files, "draft.md": report_of(made), f"fixtures/{CASE}/case.toml": case_text(made)}
    try:
        shutil.rmtree(beside, ignore_errors=True)
        (fixtures / CASE).mkdir(parents=True)
        for name, text in texts.items():
            (beside / name).write_text(text, encoding="utf-8", newline="\n")
        for side in ("before", "after"):
            (fixtures / CASE / f"{side}.txt").write_bytes(raw)
        found = read_dialect(beside, made.name, "a draft")
        known, cases = (*dialects(), found), cases_in(fixtures, made.name)
        refused = accept(cases[0], known)
        accept_claims(found, cases, fixtures)
        faults = [refused] if refused else [*check_case(cases[0], known), *check_claims(found, cases, fixtures)]
        if faults:
            raise Stop(
                f"what was drafted does not pass its own check, and nothing was written: {faults[0].message}; report this",
                STOPPED,
            )
        os.replace(beside, target)
    except OSError as reason:
        raise Stop(
            f"{target} cannot be written ({reason.strerror or reason}); name another folder with --out", STOPPED
        ) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
