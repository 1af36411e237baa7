"""Commands over captured text and the data of dialects: `read`, `replay`, `schema`, `dialect`."""

import os
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck.cli.shared import (
    INCONCLUSIVE,
    NOT_VERIFIED,
    STOPPED,
    USAGE,
    VERIFIED,
    DialectOption,
    JsonOption,
    Stated,
    Stop,
    known_dialects,
    limits_of_site,
    limits_of_text,
    near,
    observations,
    present,
    present_job,
    say,
    screen_of,
    shown_name,
    snapshot_of,
    taken,
    text_within,
    worse_of,
)

if TYPE_CHECKING:
    from consolecheck.job.seal import Seal
    from consolecheck.judging.view import Observed


def read(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Captured console text, or - for standard input.")],
    dialect: DialectOption = None,
    json: JsonOption = False,
) -> None:
    """Show the typed readings of a captured text, and every line that was not read.

    Example: consolecheck read after.txt
    """
    raw = text_within(taken(file), shown_name(file))
    known, chosen = known_dialects(dialect)
    snapshot = snapshot_of(raw, shown_name(file), known, chosen)
    if json:
        from consolecheck.reporting.exchange import as_json, read_document

        print(as_json(read_document(snapshot)))
    else:
        from consolecheck.reporting.terminal import show_snapshot

        show_snapshot(screen_of(), snapshot)
    whole = not snapshot.unread and not any(t.cut for t in snapshot.tables) and snapshot.sightings
    raise typer.Exit(VERIFIED if whole else INCONCLUSIVE)


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
            help="What eyes saw, such as serial, removed_serial, airflow, feed or lamp of a unit. Repeatable.",
        ),
    ] = None,
    reseat: Annotated[
        str | None, typer.Option("--reseat", metavar="REASON", help="Why the same part was put back on purpose.")
    ] = None,
    signers: Annotated[
        str | None,
        typer.Option(
            "--signers", metavar="FILE", help="Who may sign (ssh allowed_signers): the job's seal is checked."
        ),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Show every finding, not only what decides.")] = False,
    json: JsonOption = False,
) -> None:
    """Judge a swap again from the texts before and after it, or from its job folder.

    Without --before the limits alone are judged, and the answer is inconclusive unless the acceptance allows it.

    Example: consolecheck replay --before before.txt --after after.txt --unit psu-2
    """
    observed = observations(seen or [])
    if job is not None:
        if before is not None or after is not None:
            raise Stop("give a job folder, or --before and --after, not both", USAGE)
        _replay_job(job, unit, dialect, acceptance, observed, reseat, signers, everything, json)
        return
    limits = limits_of_site(acceptance)
    if after is None or unit is None:
        raise Stop("give --before, --after and --unit, or a job folder", USAGE)
    if before == after == "-":
        raise Stop("only one of --before and --after can be standard input", USAGE)
    given = {"before": before, "after": after} if before is not None else {"after": after}
    names = {side: shown_name(path) for side, path in given.items() if path}
    raw = {side: taken(path) for side, path in given.items() if path}
    known, chosen = known_dialects(dialect)
    texts = {side: text_within(raw[side], names[side]) for side in raw}
    snapshots = {side: snapshot_of(texts[side], names[side], known, chosen) for side in raw}
    stated = Stated(unit.strip().lower(), limits, observed, reseat)
    present(raw, texts, snapshots, stated, everything, json)


def _replay_job(
    job: str,
    unit: str | None,
    dialect: str | None,
    acceptance: str | None,
    observed: "tuple[Observed, ...]",
    reseat: str | None,
    signers: str | None,
    everything: bool,
    json: bool,
) -> None:
    """Judges a job folder again; of a job for several units each, and the worst answer counts."""
    from pathlib import Path

    from consolecheck.job.folder import Folder, FolderFault
    from consolecheck.job.seal import examine
    from consolecheck.job.several import several

    path = Path(job)
    worst = VERIFIED
    try:
        parts = several(Folder(path))
        if json and len(parts) > 1:
            raise Stop(f"{job} holds several jobs; name one of them: {', '.join(str(path / p) for p in parts)}", USAGE)
        for place in [path / part for part in parts] or [path]:
            folder = Folder(place)
            folder.job()  # that there is one, before its seal is looked at
            sealed = examine(folder, Path(signers) if signers else None)
            if not json:
                say(f"{place}: {_told(sealed)}")
            kept = folder.acceptance_text()
            limits = (
                limits_of_site(acceptance)
                if acceptance is not None or kept is None
                else limits_of_text(kept, "acceptance.toml")
            )
            try:
                present_job(folder, limits, everything, json, None, observed, reseat, unit, dialect)
            except typer.Exit as end:
                worst = worse_of(worst, end.exit_code)
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    raise typer.Exit(worst)


def _told(found: "Seal") -> str:
    """A seal in words."""
    if found.state == "unsealed":
        return "not sealed; nothing says whether its files are as they were taken"
    signed = {
        "none": "not signed",
        "unchecked": "signed, by whom is not checked (--signers FILE does)",
        "good": f"signed by {found.signed_by}",
    }
    return f"the seal of {found.sealed_at} holds ({signed[found.signature]}), SHA-256 {found.digest}"


def schema(
    document: Annotated[str, typer.Argument(metavar="[read|replay|acceptance]", help="Which document.")] = "replay",
) -> None:
    """Print the JSON Schema of what `--json` prints, or of an acceptance file.

    Example: consolecheck schema replay
    """
    import json

    from pydantic import BaseModel

    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.reporting.exchange import ReadDocument, ReplayDocument

    models: dict[str, type[BaseModel]] = {"read": ReadDocument, "replay": ReplayDocument, "acceptance": Acceptance}
    if document not in models:
        raise Stop(f"there is no document `{document}`{near(document, list(models))}", USAGE)
    print(
        json.dumps(
            {"$schema": "https://json-schema.org/draft/2020-12/schema", **models[document].model_json_schema()},
            indent=1,
        )
    )


def dialect_list() -> None:
    """List the device families that can be read, and what of each.

    Example: consolecheck dialect list
    """
    screen = screen_of()
    for known in known_dialects(None)[0]:
        screen.line((known.name, "bold"), (f"  {known.manifest.title}", ""))
        for command in known.manifest.commands:
            screen.line((f"    {command.send}", ""))


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
    known, chosen = known_dialects(name)
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
