"""What the commands share: how a run ends, and the wiring from arguments to values.

Exit codes: 0 verified or done, 1 not verified, 2 wrong usage, 3 inconclusive, 4 could not carry on.
Reports go to standard output, everything else to standard error. Heavy imports wait inside functions.
"""

import sys
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from contextlib import AbstractContextManager

    from consolecheck.files.shelf import Shelf
    from consolecheck.job.folder import Folder
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.judging.view import Observed, Sample, Taken
    from consolecheck.reading.dialect import Dialect
    from consolecheck.records.findings import Judgement
    from consolecheck.records.readings import Snapshot
    from consolecheck.reporting.terminal import Screen

VERIFIED, NOT_VERIFIED, USAGE, INCONCLUSIVE, STOPPED = range(5)


class Stop(Exception):
    """The command ends here: a sentence for the person, and an exit code."""

    def __init__(self, message: str, code: int) -> None:
        self.code = code
        super().__init__(message)


def say(message: str) -> None:
    from consolecheck.reporting.safe import safe

    print(f"consolecheck: {safe(message)}", file=sys.stderr)


def working_on(what: str) -> "AbstractContextManager[object]":
    """Says on a terminal that work goes on, where it takes longer than a second."""
    from consolecheck.reporting.progress import busy
    from consolecheck.reporting.safe import safe

    return busy(sys.stderr, safe(what))


def screen_of() -> "Screen":
    from consolecheck.reporting.terminal import Screen

    return Screen(sys.stdout)


def all_dialects(folder: str | None) -> "Shelf":
    """Every dialect, with those of a folder that --dialects names. Raises Stop."""
    from pathlib import Path

    from consolecheck.files.shelf import NoFolder, shelf
    from consolecheck.reading.dialect import DialectFault

    try:
        return shelf(None if folder is None else Path(folder))
    except NoFolder as reason:
        raise Stop(str(reason), USAGE) from None
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None


def known_dialects(chosen: str | None, folder: str | None = None) -> tuple[tuple["Dialect", ...], "Dialect | None"]:
    """Every dialect, and the one that is named. Raises Stop."""
    known = all_dialects(folder).dialects
    if chosen is None:
        return known, None
    found = next((d for d in known if d.name == chosen), None)
    if found is None:
        raise Stop(f"there is no dialect `{chosen}`{near(chosen, [d.name for d in known])}", USAGE)
    return known, found


UNKNOWN = "unknown"
"""What `--dialect` takes for a device that no dialect is to read, even where one recognises it."""


def dialects_for_text(chosen: str | None, folder: str | None = None) -> tuple[tuple["Dialect", ...], "Dialect | None"]:
    """Every dialect, and the one that is named; none at all for `unknown`. Raises Stop."""
    return ((), None) if chosen == UNKNOWN else known_dialects(chosen, folder)


def dialect_of_job(folder: "Folder") -> "Dialect":
    """The dialect that a job was begun with: a shipped one, or its own copy of another. Raises Stop, FolderFault."""
    from consolecheck.files.shelf import dialects
    from consolecheck.job.held import dialect_of
    from consolecheck.reading.dialect import DialectFault

    job = folder.job()
    try:
        found = dialect_of(folder, job, dialects())
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None
    if found is None:
        raise Stop(f"there is no dialect `{job.dialect}`{near(job.dialect, [d.name for d in dialects()])}", USAGE)
    return found


def near(given: str, known: list[str]) -> str:
    import difflib

    close, names = difflib.get_close_matches(given, known, n=1), ", ".join(known)
    return f"; did you mean `{close[0]}`? Known: {names}" if close else f"; known are: {names}"


def taken(path: str) -> bytes:
    from consolecheck.files.intake import Refused, captured

    try:
        return captured(path)
    except Refused as reason:
        raise Stop(str(reason), STOPPED) from None


def text_within(raw: bytes, source: str) -> bytes:
    """The text within a recording (asciicast, typescript, a log with a time on each line); plain text as it is."""
    from consolecheck.reading.recorded import RecordingFault, unpacked

    try:
        with working_on(f"unpacking {source}"):
            found = unpacked(raw)
    except RecordingFault as reason:
        raise Stop(f"{source}: {reason}", STOPPED) from None
    if found.note:
        say(f"{source}: {found.note}")
    return found.raw


_INFERRED = "what is read of it is inferred from its layout, and verifies nothing"


def snapshot_of(raw: bytes, source: str, known: tuple["Dialect", ...], chosen: "Dialect | None") -> "Snapshot":
    from consolecheck.reading.dialect import DialectFault
    from consolecheck.reading.reader import NotRecognised, read_text, read_unknown

    if not known:
        with working_on(f"reading {source}"):
            inferred = read_unknown(raw, source)
        if not inferred.sightings:
            raise Stop(
                f"{source}: nothing in it was understood as a supply, a fan or a temperature; nothing was judged. "
                "Capture what the device tells of them, or name its family with --dialect",
                INCONCLUSIVE,
            )
        say(f"{source}: {_INFERRED}")
        return inferred
    try:
        with working_on(f"reading {source}"):
            snapshot = read_text(raw, source, known, chosen)
        if chosen is None:
            _say_where_layout_tells_more(raw, source, snapshot)
        return snapshot
    except NotRecognised as reason:
        if not reason.candidates and (inferred := read_unknown(raw, source)).sightings:
            say(f"{source}: {reason}; {_INFERRED}")
            return inferred
        names = ", ".join(reason.candidates or [d.name for d in known])
        raise Stop(
            f"{source}: {reason}; nothing was judged. Name the family with --dialect ({names})", INCONCLUSIVE
        ) from None
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None


def _say_where_layout_tells_more(raw: bytes, source: str, snapshot: "Snapshot") -> None:
    """Says so where the dialect reads less than it leaves, as of a model or a version that it was not written for."""
    from consolecheck.reading.reader import read_unknown

    told = {line for sighting in snapshot.sightings for line in sighting.lines}
    if len(snapshot.unread) <= len(told):
        return
    more = len(read_unknown(raw, source).sightings)
    if more > len(snapshot.sightings):
        say(
            f"{source}: {snapshot.dialect} leaves {len(snapshot.unread)} lines unread and makes {len(snapshot.sightings)} "
            f"readings of the others; by its layout the text gives {more}, inferred: --dialect {UNKNOWN}"
        )


def limits_of_site(path: str | None) -> "Acceptance":
    from consolecheck.files.intake import Refused, text_file
    from consolecheck.judging.acceptance import Acceptance

    if path is None:
        return Acceptance()
    try:
        return limits_of_text(text_file(path), path)
    except Refused as reason:
        raise Stop(str(reason), STOPPED) from None


def limits_of_text(text: str, source: str) -> "Acceptance":
    from consolecheck.judging.acceptance import AcceptanceFault, load_acceptance
    from consolecheck.judging.rules import ESSENTIAL, IDS

    try:
        return load_acceptance(text, source, IDS, ESSENTIAL)
    except AcceptanceFault as fault:
        raise Stop(str(fault), USAGE) from None


def observations(stated: list[str]) -> tuple["Observed", ...]:
    from consolecheck.judging.view import parse_observed

    try:
        return tuple(parse_observed(text) for text in stated)
    except ValueError as reason:
        raise Stop(f"--seen: {reason}", USAGE) from None


class Stated(NamedTuple):
    """What counts for a verdict besides the two texts."""

    unit: str
    limits: "Acceptance"
    observed: "tuple[Observed, ...]" = ()
    reseat: str | None = None
    samples: "tuple[Sample, ...]" = ()
    taken: "Taken | None" = None


def judgement_of(before: "Snapshot | None", after: "Snapshot", stated: Stated) -> "Judgement":
    """The verdict; on the second text alone where there is no first."""
    from consolecheck.judging.judge import NoSuchUnit, judge, judge_alone
    from consolecheck.judging.view import Taken

    taken = stated.taken or Taken()
    try:
        if before is None:
            return judge_alone(after, stated.unit, stated.limits, stated.observed, stated.samples, taken)
        return judge(before, after, stated.unit, stated.limits, stated.observed, stated.reseat, stated.samples, taken)
    except NoSuchUnit as reason:
        raise Stop(f"{reason}{near(stated.unit, list(reason.known))}", USAGE) from None


def end_with(judgement: "Judgement") -> None:
    from consolecheck.records.findings import Verdict

    codes = {Verdict.VERIFIED: VERIFIED, Verdict.NOT_VERIFIED: NOT_VERIFIED, Verdict.INCONCLUSIVE: INCONCLUSIVE}
    raise typer.Exit(codes[judgement.verdict])


def worse_of(one: int, other: int) -> int:
    """The exit code that counts of two: any `not verified`, else what could not be carried on or decided."""
    order = (VERIFIED, INCONCLUSIVE, STOPPED, NOT_VERIFIED)
    return max(one, other, key=order.index)


def raw_lines(raw: bytes) -> list[str]:
    from consolecheck.reading.screen import decoded

    return decoded(raw).split("\n")


DialectOption = Annotated[
    str | None,
    typer.Option("--dialect", metavar="NAME", help="The device family; else it is recognised from the text."),
]
TextDialectOption = Annotated[
    str | None,
    typer.Option(
        "--dialect",
        metavar="NAME",
        help="The device family, or `unknown` to go by the layout; else it is recognised from the text.",
    ),
]
DialectsOption = Annotated[
    str | None,
    typer.Option(
        "--dialects",
        metavar="DIR",
        help="A folder with dialects of your own; they come before those of the same name elsewhere.",
    ),
]
QuietOption = Annotated[bool, typer.Option("--quiet", help="Print one line of a fixed form, for scripts.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead (see `consolecheck schema`).")]


def present(
    raw: dict[str, bytes],
    texts: dict[str, bytes],
    snapshots: dict[str, "Snapshot"],
    stated: Stated,
    everything: bool,
    json: bool,
    keep: "Callable[[str], object] | None" = None,
    quiet: bool = False,
) -> None:
    """Judges, shows, and ends with the verdict's exit code.

    `keep` is given the JSON form before anything is shown; `quiet` shows one line.

    `raw` are the files as given, whose digests count; `texts` is what stands in them. `before` may be missing
    in all of them.
    """
    before, after = snapshots.get("before"), snapshots["after"]
    with working_on("judging"):
        judgement = judgement_of(before, after, stated)
    _show(raw, texts, before, after, judgement, stated, everything, json, keep, quiet)


def _show(
    raw: "Mapping[str, bytes]",
    texts: "Mapping[str, bytes]",
    before: "Snapshot | None",
    after: "Snapshot",
    judgement: "Judgement",
    stated: Stated,
    everything: bool,
    json: bool,
    keep: "Callable[[str], object] | None",
    quiet: bool,
) -> None:
    """Keeps and shows what was judged, and ends with the verdict's exit code."""
    if json or keep is not None:
        import hashlib

        from consolecheck.reporting.exchange import as_json, replay_document

        digests = {side: hashlib.sha256(data).hexdigest() for side, data in raw.items()}
        seen = [f"{o.unit}.{o.fact}={o.value}" for o in stated.observed]
        document = replay_document(
            judgement, before, after, digests, stated.limits.name, seen, stated.reseat, stated.observed
        )
        if keep is not None:
            keep(as_json(document))
        if json:
            print(as_json(document))
    if quiet:
        from consolecheck.reporting.terminal import quiet_line

        print(quiet_line(judgement, after))
    elif not json:
        from consolecheck.reporting.terminal import show_judgement

        lines = {side: raw_lines(data) for side, data in texts.items()}
        show_judgement(screen_of(), judgement, before, after, lines, stated.limits.name, everything)
    end_with(judgement)


def present_job(
    folder: "Folder",
    limits: "Acceptance",
    everything: bool,
    json: bool = False,
    keep: "Callable[[str], object] | None" = None,
    observed: "tuple[Observed, ...]" = (),
    reseat: str | None = None,
    unit: str | None = None,
    chosen: "Dialect | None" = None,
    quiet: bool = False,
) -> None:
    """Judges what a job's folder holds, with what is stated besides. Raises FolderFault as the folder does."""
    from consolecheck.archive.again import judge_again
    from consolecheck.judging.judge import NoSuchUnit
    from consolecheck.reading.dialect import DialectFault

    chosen = chosen or dialect_of_job(folder)
    try:
        with working_on(f"judging {folder.path}"):
            again = judge_again(folder, limits, chosen, unit=unit, observed=observed, reseat=reseat)
    except NoSuchUnit as reason:
        raise Stop(f"{reason}{near(unit or folder.job().unit, list(reason.known))}", USAGE) from None
    except DialectFault as fault:
        raise Stop(f"a dialect is broken: {fault}", STOPPED) from None
    stated = Stated(again.judgement.unit, again.limits, again.observed, again.reseat)
    _show(again.raw, again.raw, again.before, again.after, again.judgement, stated, everything, json, keep, quiet)


def shown_name(path: str) -> str:
    return "standard input" if path == "-" else path
