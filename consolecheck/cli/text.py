"""Commands over captured text and the data of dialects: `read`, `replay`, `schema`, `dialect`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck.cli.shared import (
    INCONCLUSIVE,
    STOPPED,
    USAGE,
    VERIFIED,
    DialectsOption,
    JsonOption,
    QuietOption,
    Stated,
    Stop,
    TextDialectOption,
    dialects_for_text,
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
    working_on,
    worse_of,
)

if TYPE_CHECKING:
    from consolecheck.job.seal import Seal
    from consolecheck.judging.view import Observed
    from consolecheck.reading.dialect import Dialect
    from consolecheck.records.readings import Snapshot
    from consolecheck.reporting.proof import Proof


def read(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Captured console text, or - for standard input.")],
    dialect: TextDialectOption = None,
    dialects: DialectsOption = None,
    reading_map: Annotated[
        str | None,
        typer.Option(
            "--map", metavar="FILE", help="Of an unknown device: write how its labels were taken, to confirm."
        ),
    ] = None,
    quiet: QuietOption = False,
    json: JsonOption = False,
) -> None:
    """Show the typed readings of a captured text, and every line that was not read.

    A text that no dialect knows is read by its layout and the trade's words: such readings are inferred.

    \b
    Example: consolecheck read after.txt
    """
    _one_form(quiet, json)
    raw = text_within(taken(file), shown_name(file))
    known, chosen = dialects_for_text(dialect, dialects)
    snapshot = snapshot_of(raw, shown_name(file), known, chosen)
    if reading_map is not None:
        write_map(snapshot, reading_map)
    if json:
        from consolecheck.reporting.exchange import as_json, read_document

        print(as_json(read_document(snapshot)))
    elif quiet:
        from consolecheck.reporting.terminal import quiet_snapshot

        print(quiet_snapshot(snapshot))
    else:
        from consolecheck.reporting.terminal import show_snapshot

        show_snapshot(screen_of(), snapshot)
    from consolecheck.reporting.terminal import is_whole

    raise typer.Exit(VERIFIED if is_whole(snapshot) else INCONCLUSIVE)


def _one_form(quiet: bool, json: bool) -> None:
    if quiet and json:
        raise Stop("give --quiet or --json, not both", USAGE)


def replay(
    job: Annotated[
        str | None, typer.Argument(metavar="JOB", help="A job folder; else --before, --after and --unit.")
    ] = None,
    before: Annotated[
        str | None, typer.Option("--before", metavar="FILE", help="The text captured before the swap.")
    ] = None,
    after: Annotated[str | None, typer.Option("--after", metavar="FILE", help="The text captured after it.")] = None,
    unit: Annotated[
        str | None, typer.Option("--unit", metavar="UNIT", help="The unit that was replaced, such as psu-2 or fan-3.")
    ] = None,
    dialect: TextDialectOption = None,
    dialects: DialectsOption = None,
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
    confirm_map: Annotated[
        str | None,
        typer.Option(
            "--confirm-map", metavar="FILE", help="A reading map that a person has looked over; see read --map."
        ),
    ] = None,
    confirmed_by: Annotated[
        str | None, typer.Option("--confirmed-by", metavar="NAME", help="Who looked the reading map over.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Show every finding, not only what decides.")] = False,
    report: Annotated[
        str | None,
        typer.Option("--report", metavar="DIR", help="Also write the page and the files for other tools there."),
    ] = None,
    archive: Annotated[
        str | None,
        typer.Option("--archive", metavar="DIR", help="Judge every job below a folder again under --acceptance."),
    ] = None,
    results: Annotated[
        str | None,
        typer.Option(
            "--results",
            metavar="FILE",
            help="Where --archive keeps a row for each job: .jsonl or .parquet; else DIR-replay.jsonl beside it.",
        ),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option("--workers", metavar="N", min=1, help="Processes that judge an archive; else one a core."),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="URL", help="A Dask scheduler whose workers judge the archive instead."),
    ] = None,
    quiet: QuietOption = False,
    json: JsonOption = False,
) -> None:
    """Judge a swap again from the texts before and after it, or from its job folder; or an archive of jobs.

    Without --before the limits alone are judged, and the answer is inconclusive unless the acceptance allows it.

    With --confirm-map a job keeps the map and who confirmed it, is judged again, and is sealed anew.

    With --archive it ends with 0 where every job was judged, whatever the verdicts, and with 3 where one could not be.
    A run that was ended goes on where it was.

    \b
    Example: consolecheck replay --before before.txt --after after.txt --unit psu-2
    """
    _one_form(quiet, json)
    if archive is not None:
        if any((job, before, after, unit, dialect, dialects, seen, reseat, signers, everything, report)):
            raise Stop("beside --archive only --acceptance, --results, --workers and --scheduler are taken", USAGE)
        from consolecheck.cli.archive import replay_archive

        replay_archive(archive, acceptance, results, workers, scheduler, quiet, json)
    if any((results, workers, scheduler)):
        raise Stop("--results, --workers and --scheduler are for --archive DIR", USAGE)
    target = Path(report) if report is not None else None
    observed = observations(seen or [])
    if (confirm_map is None) != (confirmed_by is None or not confirmed_by.strip()):
        raise Stop("--confirm-map FILE and --confirmed-by NAME go together: a map counts with a name to it", USAGE)
    if job is not None:
        if before is not None or after is not None:
            raise Stop("give a job folder, or --before and --after, not both", USAGE)
        if target is not None and (unit or dialect or acceptance or observed or reseat):
            raise Stop("the files of --report tell what the job's folder holds; state nothing else beside it", USAGE)
        if confirm_map is not None and confirmed_by is not None:
            if any((unit, dialect, dialects, acceptance, observed, reseat, signers, target)):
                raise Stop(
                    "a confirmation is kept in the job: give it alone, with --all, --json or --quiet at most", USAGE
                )
            from consolecheck.cli.wiring import confirm_in_job, working

            with working(Path(job), begun=True) as folder:
                confirm_in_job(folder, confirm_map, confirmed_by.strip(), everything, quiet, json)
        named = known_dialects(dialect, dialects)[1] if dialect is not None or dialects is not None else None
        _replay_job(job, unit, named, acceptance, observed, reseat, signers, everything, quiet, json, target)
        return
    limits = limits_of_site(acceptance)
    if after is None or unit is None:
        raise Stop("give --before, --after and --unit, or a job folder", USAGE)
    if before == after == "-":
        raise Stop("only one of --before and --after can be standard input", USAGE)
    given = {"before": before, "after": after} if before is not None else {"after": after}
    names = {side: shown_name(path) for side, path in given.items() if path}
    raw = {side: taken(path) for side, path in given.items() if path}
    known, chosen = dialects_for_text(dialect, dialects)
    texts = {side: text_within(raw[side], names[side]) for side in raw}
    snapshots = {side: snapshot_of(texts[side], names[side], known, chosen) for side in raw}
    if confirm_map is not None and confirmed_by is not None:
        snapshots, observed = confirm(snapshots, texts, confirm_map, confirmed_by.strip(), observed)
    stated = Stated(unit.strip().lower(), limits, observed, reseat)
    try:
        present(raw, texts, snapshots, stated, everything, json, quiet=quiet)
    except typer.Exit:  # the verdict was reached and shown
        if target is not None:
            from consolecheck.cli.report import proof_of

            used = chosen or next((d for d in known if d.name == snapshots["after"].dialect), None)
            if used is None:
                say("no report was written: it is made for texts that a dialect reads")
                raise
            _write(proof_of(raw, texts, snapshots, stated, used), target)
        raise


def write_map(snapshot: "Snapshot", path: str) -> None:
    """Writes the reading map of a text that was read by inference. Raises Stop."""
    from consolecheck.reading.inference.map import map_text

    if not snapshot.taken_as:
        how = f"is read by dialect {snapshot.dialect}" if snapshot.dialect else "gave no reading"
        raise Stop(f"{snapshot.source} {how}, so there is no reading map to write", USAGE)
    try:
        Path(path).write_text(map_text(snapshot), encoding="utf-8", newline="\n")
    except OSError as reason:
        raise Stop(f"{path} cannot be written ({reason.strerror or reason}): name another file", STOPPED) from None
    say(f"written: {path}; look it over, then give it to replay with --confirm-map and --confirmed-by")


def confirm(
    snapshots: "dict[str, Snapshot]", texts: "dict[str, bytes]", path: str, name: str, observed: "tuple[Observed, ...]"
) -> "tuple[dict[str, Snapshot], tuple[Observed, ...]]":
    """The snapshots with a person's confirmation of the reading map, and that confirmation as an observation.

    Where that person states what words mean, the texts are read with it.
    """
    from datetime import UTC, datetime

    from consolecheck.files.intake import Refused, text_file
    from consolecheck.job.held import confirmation
    from consolecheck.reading.inference.map import MapFault, confirmed, load_map
    from consolecheck.reading.reader import read_unknown

    try:
        given = load_map(text_file(path), path)
    except (Refused, MapFault) as reason:
        raise Stop(str(reason), USAGE) from None
    if given.stated:
        snapshots = {
            side: read_unknown(texts[side], snapshot.source, given.stated) if snapshot.dialect is None else snapshot
            for side, snapshot in snapshots.items()
        }
    at = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    covered = {}
    for side, snapshot in snapshots.items():
        covered[side], why = confirmed(snapshot, given, name, at)
        if why:
            say(f"the reading map is not confirmed: {why}")
    if any(s.confirmed for s in covered.values()):
        observed = (*observed, confirmation(given, name, at))
    return covered, observed


def written(proof: "Proof", target: Path) -> list[Path]:
    """Writes the page and the files for other tools into a folder, which is made where it is not there. Raises Stop."""
    from consolecheck.reporting.exchange_files import write_all

    try:
        with working_on(f"writing {target}"):
            return write_all(target, proof)
    except ModuleNotFoundError as missing:
        if not (missing.name or "").startswith("matplotlib"):
            raise
        raise Stop(
            "the plots of the page need matplotlib, which is not installed here, and nothing was written: pip install matplotlib",
            STOPPED,
        ) from None
    except OSError as reason:
        raise Stop(
            f"{target} cannot be written ({reason.strerror or reason}); what was judged is untouched: "
            "free space, or name another folder",
            STOPPED,
        ) from None


def _write(proof: "Proof", target: Path) -> None:
    """The same, and says which."""
    files = written(proof, target)
    for file in files:
        say(f"written: {file}")
    if not any(file.suffix == ".pdf" for file in files):
        say("no report.pdf: it needs the extra `pdf` (pip install 'consolecheck[pdf]'); a browser prints the page, too")


def _replay_job(
    job: str,
    unit: str | None,
    dialect: "Dialect | None",
    acceptance: str | None,
    observed: "tuple[Observed, ...]",
    reseat: str | None,
    signers: str | None,
    everything: bool,
    quiet: bool,
    json: bool,
    target: Path | None,
) -> None:
    """Judges a job folder again; of a job for several units each, and the worst answer counts."""
    from consolecheck.job.folder import Folder, FolderFault
    from consolecheck.job.seal import examine
    from consolecheck.job.several import several

    path = Path(job)
    if target is not None and target.resolve().is_relative_to(path.resolve()):
        raise Stop(f"{target} lies in the job's folder, whose seal would not hold any more; name another", USAGE)
    worst = VERIFIED
    try:
        parts = several(Folder(path))
        if json and len(parts) > 1:
            raise Stop(f"{job} holds several jobs; name one of them: {', '.join(str(path / p) for p in parts)}", USAGE)
        for part in parts or ("",):
            place = path / part
            folder = Folder(place)
            folder.job()  # that there is one, before its seal is looked at
            sealed = examine(folder, Path(signers) if signers else None)
            if not json and not (quiet and sealed.state == "whole"):
                say(f"{place}: {seal_told(sealed)}")
            kept = folder.acceptance_text()
            limits = (
                limits_of_site(acceptance)
                if acceptance is not None or kept is None
                else limits_of_text(kept, "acceptance.toml")
            )
            try:
                present_job(folder, limits, everything, json, None, observed, reseat, unit, dialect, quiet)
            except typer.Exit as end:
                worst = worse_of(worst, end.exit_code)
            if target is not None:
                from consolecheck.cli.report import proof_of_job

                name = "/".join(filter(None, (path.resolve().name, part)))
                _write(proof_of_job(folder, seal_told(sealed), name), target / part)
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    raise typer.Exit(worst)


def seal_told(found: "Seal") -> str:
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
    document: Annotated[
        str, typer.Argument(metavar="read|replay|acceptance|archive", help="Which document.")
    ] = "replay",
) -> None:
    """Print the JSON Schema of what `--json` prints, of an acceptance file, or of a job's row in an archive's results.

    \b
    Example: consolecheck schema replay
    """
    import json

    from pydantic import TypeAdapter

    from consolecheck.archive.row import Row
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.reporting.exchange import ReadDocument, ReplayDocument

    models = {"read": ReadDocument, "replay": ReplayDocument, "acceptance": Acceptance, "archive": Row}
    if document not in models:
        raise Stop(f"there is no document `{document}`{near(document, list(models))}", USAGE)
    print(
        json.dumps(
            {
                "$schema": "https://json-schema.org/draft/2020-12/schema",
                **TypeAdapter[object](models[document]).json_schema(),
            },
            indent=1,
        )
    )
