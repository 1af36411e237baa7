"""`consolecheck`: every command, and how each ends.

Exit codes: 0 verified or done, 1 not verified, 2 wrong usage, 3 inconclusive, 4 could not carry on.
Reports go to standard output, everything else to standard error. Heavy imports wait inside the
commands that need them.
"""

import os
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck import __version__

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic import BaseModel

    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.judging.view import Observed
    from consolecheck.reading.dialect import Dialect
    from consolecheck.records.findings import Judgement
    from consolecheck.records.readings import Snapshot
    from consolecheck.reporting.terminal import Screen

VERIFIED, NOT_VERIFIED, USAGE, INCONCLUSIVE, STOPPED = range(5)

app = typer.Typer(
    help="Judge from console text whether a power-supply or fan replacement in a live switch is good.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
dialect_app = typer.Typer(
    help="Device families that can be read, and whether they are read right.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(dialect_app, name="dialect")


class Stop(Exception):
    """The command ends here: a sentence for the person, and an exit code."""

    def __init__(self, message: str, code: int) -> None:
        self.code = code
        super().__init__(message)


def run() -> None:
    """Entry point: no exception reaches the person as a traceback, and none looks like a verdict."""
    # Looking for plug-ins of pydantic among all installed packages costs more than a whole judgement.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a pipe on some systems cannot say every character
            stream.reconfigure(errors="backslashreplace")
    from consolecheck.cli import live  # noqa: F401  (its commands register themselves)

    try:
        code = app(standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = STOPPED
    except Stop as stop:
        _say(str(stop))
        code = stop.code
    except (KeyboardInterrupt, typer.Abort):
        _say("interrupted; nothing was changed")
        code = STOPPED
    except Exception as fault:
        if hasattr(fault, "show") and hasattr(fault, "exit_code"):  # the command line itself was wrong
            fault.show()
            code = USAGE
        elif os.environ.get("CONSOLECHECK_TRACEBACK"):
            raise
        else:
            _say(
                f"a fault in consolecheck itself ({type(fault).__name__}); nothing was judged. "
                "Run again with CONSOLECHECK_TRACEBACK=1 and report what it prints"
            )
            code = STOPPED
    sys.exit(code if isinstance(code, int) else VERIFIED)


def _say(message: str) -> None:
    from consolecheck.reporting.safe import safe

    print(f"consolecheck: {safe(message)}", file=sys.stderr)


def _screen() -> "Screen":
    from consolecheck.reporting.terminal import Screen

    return Screen(sys.stdout)


def _version(value: bool) -> None:
    if value:
        print(f"consolecheck {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


# --- shared wiring -----------------------------------------------------------------------------


def _dialects(chosen: str | None) -> tuple[tuple["Dialect", ...], "Dialect | None"]:
    from consolecheck.files.shelf import dialects
    from consolecheck.reading.dialect import DialectFault

    try:
        known = dialects()
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None
    if chosen is None:
        return known, None
    found = next((d for d in known if d.name == chosen), None)
    if found is None:
        raise Stop(f"there is no dialect `{chosen}`{_near(chosen, [d.name for d in known])}", USAGE)
    return known, found


def _near(given: str, known: list[str]) -> str:
    import difflib

    close = difflib.get_close_matches(given, known, n=1)
    return (f"; did you mean `{close[0]}`?" if close else "") + f" Known: {', '.join(known)}"


def _captured(path: str) -> bytes:
    from consolecheck.files.intake import Refused, captured

    try:
        return captured(path)
    except Refused as reason:
        raise Stop(str(reason), STOPPED) from None


def _unpacked(raw: bytes, source: str) -> bytes:
    """The text within a recording (asciicast, typescript, a log with a time on each line); plain text as it is."""
    from consolecheck.reading.recorded import RecordingFault, unpacked

    try:
        found = unpacked(raw)
    except RecordingFault as reason:
        raise Stop(f"{source}: {reason}", STOPPED) from None
    if found.note:
        _say(f"{source}: {found.note}")
    return found.raw


def _read(raw: bytes, source: str, known: tuple["Dialect", ...], chosen: "Dialect | None") -> "Snapshot":
    from consolecheck.reading.dialect import DialectFault
    from consolecheck.reading.reader import NotRecognised, read_text

    try:
        return read_text(raw, source, known, chosen)
    except NotRecognised as reason:
        names = ", ".join(reason.candidates or [d.name for d in known])
        raise Stop(
            f"{source}: {reason}; nothing was judged. Name the family with --dialect ({names})", INCONCLUSIVE
        ) from None
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None


def _acceptance(path: str | None) -> "Acceptance":
    from consolecheck.files.intake import Refused, text_file
    from consolecheck.judging.acceptance import Acceptance, AcceptanceFault, load_acceptance
    from consolecheck.judging.rules import ESSENTIAL, IDS

    if path is None:
        return Acceptance()
    try:
        return load_acceptance(text_file(path), path, IDS, ESSENTIAL)
    except AcceptanceFault as fault:
        raise Stop(str(fault), USAGE) from None
    except Refused as reason:
        raise Stop(str(reason), STOPPED) from None


def _observed(stated: list[str]) -> tuple["Observed", ...]:
    from consolecheck.judging.view import parse_observed

    try:
        return tuple(parse_observed(text) for text in stated)
    except ValueError as reason:
        raise Stop(f"--seen: {reason}", USAGE) from None


def _judge(
    before: "Snapshot",
    after: "Snapshot",
    unit: str,
    acceptance: "Acceptance",
    observed: tuple["Observed", ...],
    reseat: str | None,
) -> "Judgement":
    from consolecheck.judging.judge import NoSuchUnit, judge

    try:
        return judge(before, after, unit, acceptance, observed, reseat)
    except NoSuchUnit as reason:
        raise Stop(f"{reason}{_near(unit, list(reason.known))}", USAGE) from None


def _exit(judgement: "Judgement") -> None:
    from consolecheck.records.findings import Verdict

    codes = {Verdict.VERIFIED: VERIFIED, Verdict.NOT_VERIFIED: NOT_VERIFIED, Verdict.INCONCLUSIVE: INCONCLUSIVE}
    raise typer.Exit(codes[judgement.verdict])


def _raw_lines(raw: bytes) -> list[str]:
    from consolecheck.reading.screen import decoded

    return decoded(raw).split("\n")


DialectOption = Annotated[
    str | None,
    typer.Option("--dialect", metavar="NAME", help="The device family; else it is recognised from the text."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead (see `consolecheck schema`).")]


# --- commands ----------------------------------------------------------------------------------


@app.command()
def read(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Captured console text, or - for standard input.")],
    dialect: DialectOption = None,
    json: JsonOption = False,
) -> None:
    """Show the typed readings of a captured text, and every line that was not read.

    Example: consolecheck read after.txt
    """
    raw = _unpacked(_captured(file), _shown_name(file))
    known, chosen = _dialects(dialect)
    snapshot = _read(raw, _shown_name(file), known, chosen)
    if json:
        from consolecheck.reporting.exchange import as_json, read_document

        print(as_json(read_document(snapshot)))
    else:
        from consolecheck.reporting.terminal import show_snapshot

        show_snapshot(_screen(), snapshot)
    whole = not snapshot.unread and not any(t.cut for t in snapshot.tables) and snapshot.sightings
    raise typer.Exit(VERIFIED if whole else INCONCLUSIVE)


@app.command()
def replay(
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="A job folder; else --before, --after and --unit.")
    ] = None,
    before: Annotated[
        str | None, typer.Option("--before", metavar="FILE", help="The text captured before the swap.")
    ] = None,
    after: Annotated[str | None, typer.Option("--after", metavar="FILE", help="The text captured after it.")] = None,
    unit: Annotated[
        str | None, typer.Option("--unit", metavar="UNIT", help="The unit that was replaced, such as psu-2 or fan-3.")
    ] = None,
    dialect: DialectOption = None,
    acceptance: Annotated[
        str | None, typer.Option("--acceptance", metavar="FILE", help="The site's limits (TOML).")
    ] = None,
    seen: Annotated[
        list[str] | None,
        typer.Option(
            "--seen",
            metavar="UNIT.FACT=VALUE",
            help="What eyes saw: serial, removed_serial, airflow or feed of a unit. Repeatable.",
        ),
    ] = None,
    reseat: Annotated[
        str | None, typer.Option("--reseat", metavar="REASON", help="Why the same part was put back on purpose.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Show every finding, not only what decides.")] = False,
    json: JsonOption = False,
) -> None:
    """Judge a swap again from the texts before and after it, or from its job folder.

    Example: consolecheck replay --before before.txt --after after.txt --unit psu-2
    """
    limits = _acceptance(acceptance)
    observed = _observed(seen or [])
    if job is not None:
        if before is not None or after is not None:
            raise Stop("give a job folder, or --before and --after, not both", USAGE)
        raw, names, unit, dialect = _of_job(job, unit, dialect)
    elif before is None or after is None or unit is None:
        raise Stop("give --before, --after and --unit, or a job folder", USAGE)
    elif before == after == "-":
        raise Stop("only one of --before and --after can be standard input", USAGE)
    else:
        names = {"before": _shown_name(before), "after": _shown_name(after)}
        raw = {"before": _captured(before), "after": _captured(after)}
    known, chosen = _dialects(dialect)
    texts = {side: _unpacked(raw[side], names[side]) for side in ("before", "after")}
    snapshots = {side: _read(texts[side], names[side], known, chosen) for side in ("before", "after")}
    _present(raw, texts, snapshots, unit.strip().lower(), limits, observed, reseat, everything, json)


def _of_job(job: str, unit: str | None, dialect: str | None) -> tuple[dict[str, bytes], dict[str, str], str, str]:
    """The texts of a job folder, their names, its unit and its dialect."""
    from pathlib import Path

    from consolecheck.job.folder import Folder, FolderFault

    folder = Folder(Path(job))
    try:
        facts = folder.job()
        raw = {"before": folder.text("before"), "after": folder.text("after")}
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    return raw, {side: f"{side}.txt" for side in raw}, unit or facts.unit, dialect or facts.dialect


def _present(
    raw: dict[str, bytes],
    texts: dict[str, bytes],
    snapshots: dict[str, "Snapshot"],
    unit: str,
    limits: "Acceptance",
    observed: tuple["Observed", ...],
    reseat: str | None,
    everything: bool,
    json: bool,
    keep: "Callable[[str], None] | None" = None,
) -> None:
    """Judges, shows, and ends with the verdict's exit code. `keep` is given the JSON form first.

    `raw` are the files as given, whose digests count; `texts` is what stands in them.
    """
    judgement = _judge(snapshots["before"], snapshots["after"], unit, limits, observed, reseat)
    if json or keep is not None:
        import hashlib

        from consolecheck.reporting.exchange import as_json, replay_document

        digests = {side: hashlib.sha256(data).hexdigest() for side, data in raw.items()}
        stated = [f"{o.unit}.{o.fact}={o.value}" for o in observed]
        document = replay_document(
            judgement, snapshots["before"], snapshots["after"], digests, limits.name, stated, reseat
        )
        if keep is not None:
            keep(as_json(document))
        if json:
            print(as_json(document))
    if not json:
        from consolecheck.reporting.terminal import show_judgement

        lines = {side: _raw_lines(data) for side, data in texts.items()}
        show_judgement(_screen(), judgement, snapshots["before"], snapshots["after"], lines, limits.name, everything)
    _exit(judgement)


def _shown_name(path: str) -> str:
    return "standard input" if path == "-" else path


@app.command()
def schema(
    document: Annotated[str, typer.Argument(metavar="[read|replay|acceptance]", help="Which document.")] = "replay",
) -> None:
    """Print the JSON Schema of what `--json` prints, or of an acceptance file.

    Example: consolecheck schema replay
    """
    import json

    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.reporting.exchange import ReadDocument, ReplayDocument

    models: dict[str, type[BaseModel]] = {"read": ReadDocument, "replay": ReplayDocument, "acceptance": Acceptance}
    if document not in models:
        raise Stop(f"there is no document `{document}`{_near(document, list(models))}", USAGE)
    print(
        json.dumps(
            {"$schema": "https://json-schema.org/draft/2020-12/schema", **models[document].model_json_schema()},
            indent=1,
        )
    )


@dialect_app.command("list")
def dialect_list() -> None:
    """List the device families that can be read, and what of each.

    Example: consolecheck dialect list
    """
    screen = _screen()
    for known in _dialects(None)[0]:
        screen.line((known.name, "bold"), (f"  {known.manifest.title}", ""))
        for command in known.manifest.commands:
            screen.line((f"    {command.send}", ""))


@dialect_app.command("check")
def dialect_check(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="One dialect; else all.")] = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="Record anew what differs, where the claims hold. Refused in CI.")
    ] = False,
) -> None:
    """Check dialects against their fixtures: claims written by hand first, then recorded readings.

    Example: consolecheck dialect check wexcombe
    """
    from consolecheck.cases.case import CaseFault
    from consolecheck.cases.check import Fault, cases_of, check_case
    from consolecheck.cases.check import accept as record
    from consolecheck.files.shelf import shipped
    from consolecheck.reporting.safe import safe

    if accept and os.environ.get("CI"):
        raise Stop("--accept is refused in CI: record on your own machine and commit the difference", USAGE)
    known, chosen = _dialects(name)
    try:
        cases = cases_of(shipped("fixtures"), name)
    except CaseFault as broken:
        raise Stop(f"a case is broken: {broken}", STOPPED) from None
    faults = [
        Fault(f.file, f"{f.key}: {f.reason}" if f.key else f.reason)
        for d in known
        if chosen in (None, d)
        for f in d.faults()
    ]
    without = [d.name for d in known if chosen in (None, d) and not any(c.dialect_name == d.name for c in cases)]
    faults.extend(Fault(f"fixtures/{missing}", "the dialect has no case") for missing in without)
    recorded = 0
    for case in cases:
        found = list(check_case(case, known))
        if accept and found and all(f.golden for f in found):
            refused = record(case, known)
            recorded += refused is None
            found = [refused] if refused else []
        faults.extend(found)
    for fault in faults:
        print(f"{fault.place}: {safe(fault.message)}")
        for line in fault.shown:
            print(f"    {safe(line)}")
        if fault.golden:
            print("    if the change is meant: consolecheck dialect check --accept")
    done = f", {recorded} recorded anew" if recorded else ""
    print(f"{len(cases)} cases checked{done}, {len(faults)} faults")
    raise typer.Exit(NOT_VERIFIED if faults else VERIFIED)
