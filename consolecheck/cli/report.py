"""`report`: the page of a judged job, and the files that other tools take, in a folder of their own."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck import __version__
from consolecheck.cli.shared import (
    INCONCLUSIVE,
    NOT_VERIFIED,
    STOPPED,
    USAGE,
    VERIFIED,
    Stated,
    Stop,
    dialect_of_job,
    judgement_of,
    limits_of_site,
    limits_of_text,
    say,
    snapshot_of,
    worse_of,
)
from consolecheck.cli.text import seal_told, written

if TYPE_CHECKING:
    from consolecheck.job.folder import Folder
    from consolecheck.reading.dialect import Dialect
    from consolecheck.records.readings import Snapshot
    from consolecheck.reporting.proof import Proof


def report(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's folder.")],
    to: Annotated[
        str | None, typer.Option("--to", metavar="DIR", help="Where to write; else JOB-report beside the job's folder.")
    ] = None,
    signers: Annotated[
        str | None,
        typer.Option(
            "--signers", metavar="FILE", help="Who may sign (ssh allowed_signers): the job's seal is checked."
        ),
    ] = None,
) -> None:
    """Write a page that shows the judged swap, and the files that other tools take; ends as the verdict does.

    Of a job for several units each has a page of its own. The job's folder is not changed.

    \b
    Example: consolecheck report swap-0412
    """
    from consolecheck.job.folder import Folder, FolderFault
    from consolecheck.job.seal import examine
    from consolecheck.job.several import several

    path = Path(job)
    whole = path.resolve()
    target = whole.with_name(f"{whole.name}-report") if to is None else Path(to)
    if target.resolve().is_relative_to(whole):
        raise Stop(
            f"{target} lies in the job's folder, whose seal would not hold any more; name another with --to", USAGE
        )
    worst = VERIFIED
    try:
        for part in several(Folder(path)) or ("",):
            folder = Folder(path / part)
            folder.job()  # that there is one, before its seal is looked at
            sealed = seal_told(examine(folder, Path(signers) if signers else None))
            say(f"{folder.path}: {sealed}")
            proof = proof_of_job(folder, sealed, "/".join(filter(None, (whole.name, part))))
            for file in written(proof, target / part):
                print(file)
            worst = worse_of(worst, exit_code(proof))
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    raise typer.Exit(worst)


def exit_code(proof: "Proof") -> int:
    """That of the verdict."""
    from consolecheck.records.findings import Verdict

    codes = {Verdict.VERIFIED: VERIFIED, Verdict.NOT_VERIFIED: NOT_VERIFIED, Verdict.INCONCLUSIVE: INCONCLUSIVE}
    return codes[proof.judgement.verdict]


def proof_of(
    raw: dict[str, bytes],
    texts: dict[str, bytes],
    snapshots: dict[str, "Snapshot"],
    stated: Stated,
    dialect: "Dialect | None",
) -> "Proof":
    """The proof of a swap by its texts; `raw` are the files as given, `texts` what stands in them. Raises Stop."""
    import hashlib

    from consolecheck.reporting.proof import Proof

    before, after = snapshots.get("before"), snapshots["after"]
    return Proof(
        judgement_of(before, after, stated),
        before,
        after,
        {side: texts[side] for side in ("before", "after") if side in texts},
        {snapshots[side].source: hashlib.sha256(data).hexdigest() for side, data in raw.items()},
        stated.limits,
        __version__,
        stated.observed,
        stated.reseat,
        stated.samples,
        family=dialect.manifest.title if dialect else "",
        rear=dialect.manifest.chassis.rear if dialect else (),
        lamps={str(lamp): chart for lamp, chart in dialect.manifest.lamps.items()} if dialect else {},
    )


def proof_of_job(folder: "Folder", sealed: str, name: str) -> "Proof":
    """The proof of the job in a folder; `sealed` is its seal in words, `name` what the folder is called.

    Raises FolderFault where something that it tells of is not there, and Stop.
    """
    from consolecheck.job.cautions import cautions
    from consolecheck.job.held import as_live, held
    from consolecheck.judging.settling import settling_of, since_seated
    from consolecheck.judging.view import View
    from consolecheck.reporting.proof import Event, clearance_kept

    dialect = dialect_of_job(folder)
    found, kept = held(folder, dialect), folder.acceptance_text()
    limits = as_live(limits_of_site(None) if kept is None else limits_of_text(kept, "acceptance.toml"))
    raw = {"before": found.before, "after": found.after} if found.before is not None else {"after": found.after}
    snapshots = {
        side: found.with_name(snapshot_of(data, f"{side}.txt", (dialect,), dialect)) for side, data in raw.items()
    }
    stated = Stated(found.job.unit, limits, found.observed, found.reseat, found.samples, found.taken)
    proof = proof_of(raw, raw, snapshots, stated, dialect)
    serial = View(proof.after, "after").serials.get(found.job.unit)
    seated = since_seated(found.samples, found.job.unit, serial[0] if serial else None)
    told = folder.path / "clearance.json"
    try:
        clearance = clearance_kept(told.read_bytes()) if told.exists() else None
    except (OSError, ValueError):
        raise Stop(
            f"{told} cannot be read, and nothing was written; bring back an untouched copy of it", STOPPED
        ) from None
    before = proof.before
    return proof._replace(
        settling=settling_of(seated, limits) if seated else None,
        job={key: value for key, value in found.job.model_dump(mode="json").items() if value is not None},
        journal=tuple(Event(*entry) for entry in folder.journal()),
        clearance=clearance,
        cautions={c.id: c.text for c in cautions(found.job.unit, before, dialect.manifest)} if before else {},
        seal=sealed,
        folder=name,
    )
