"""Commands that talk to a switch, real or simulated: `demo`, `ports`, `baseline`, `verify`."""

import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from consolecheck import __version__
from consolecheck.cli.shared import (
    INCONCLUSIVE,
    STOPPED,
    USAGE,
    VERIFIED,
    DialectOption,
    Stop,
    known_dialects,
    limits_of_site,
    near,
    observations,
    present,
    screen_of,
    snapshot_of,
)

if TYPE_CHECKING:
    from consolecheck.console.guard import Guard
    from consolecheck.job.drive import Captured, Progress
    from consolecheck.job.folder import Folder, Job, Side
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.judging.view import Observed
    from consolecheck.reading.dialect import Dialect

ConsoleOption = Annotated[
    str | None,
    typer.Option(
        "--console",
        metavar="LINK",
        help="/dev/ttyUSB0, COM3, rfc2217://host:port, socket://host:port or ssh://user@host[:port].",
    ),
]
SpeedOption = Annotated[
    int, typer.Option("--speed", metavar="BAUD", help="Line speed; others are tried where it gives no text.")
]
FramingOption = Annotated[str, typer.Option("--framing", metavar="8N1", help="Data bits, parity, stop bits.")]
UserOption = Annotated[
    str | None,
    typer.Option(
        "--user",
        metavar="NAME",
        help="Login name at the console; the password is asked for, or taken from CONSOLECHECK_PASSWORD.",
    ),
]


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


MINUTES_TO_SETTLE = 40
"""Simulated minutes between the swap and the capture after it, which pass in a blink."""


def _rehearse(fault: str, path: Path, everything: bool) -> None:
    """Baseline, swap and verification against the simulated switch over a loopback port, as on a real line."""
    from consolecheck.job.folder import Folder, FolderFault, Job
    from consolecheck.rehearsal.faults import scenario
    from consolecheck.rehearsal.physics import Chassis
    from consolecheck.rehearsal.serve import served_tcp
    from consolecheck.rehearsal.shell import Options, Shell

    played = scenario(fault)
    chassis = Chassis(seed=4)
    shell = Shell(chassis, Options(start="user", log_every=60))
    screen = screen_of()
    screen.line((played.title, "italic"))
    dialect = _chosen("wexcombe")
    with served_tcp(lambda: shell) as (host, port):
        line = f"socket://{host}:{port}"
        facts = Job(unit=played.unit, dialect=dialect.name, line=line, started=_now(), version=__version__)
        folder = Folder(path)
        try:
            folder.create(facts)
            before = _captured_live(folder, facts, "before", dialect, line, 9600, "8N1", None)
            played.perform(chassis)
            chassis.advance(MINUTES_TO_SETTLE * 60)
            with chassis.lock:  # what a console says while nobody listens is gone
                shell.output(chassis.seconds)
            after = _captured_live(folder, facts, "after", dialect, line, 9600, "8N1", None)
        except FolderFault as reason:
            raise Stop(str(reason), STOPPED) from None
    screen.line()
    _judged(folder, dialect, before, after, played.unit, limits_of_site(None), (), None, everything)


def _now() -> str:
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())


def ports(
    ask: Annotated[
        bool, typer.Option("--ask", help="Send a carriage return to each and tell at which speed a console answers.")
    ] = False,
) -> None:
    """List the serial ports of this laptop, and at which speed a console answers.

    Example: consolecheck ports --ask
    """
    from consolecheck.console.link import LinkFault, list_ports, open_link, parse_link
    from consolecheck.job.drive import answering

    screen = screen_of()
    found = list_ports()
    if not found:
        screen.line(("no serial port on this machine; plug in the adapter, and see that its driver is there", ""))
        return
    guard = _guard(known_dialects("wexcombe")[0][0], None, None)
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


def baseline(
    job: Annotated[str, typer.Argument(metavar="JOB", help="A new folder for this swap.")],
    unit: Annotated[
        str, typer.Option("--unit", metavar="UNIT", help="The unit to be replaced, such as psu-2 or fan-3.")
    ],
    console: ConsoleOption = None,
    dialect: DialectOption = None,
    speed: SpeedOption = 9600,
    framing: FramingOption = "8N1",
    user: UserOption = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Print what would be sent, and send nothing.")] = False,
) -> None:
    """Capture the switch before the swap into a new job folder.

    Example: consolecheck baseline swap-0412 --console /dev/ttyUSB0 --dialect wexcombe --unit psu-2
    """
    from consolecheck.job.folder import Folder, FolderFault, Job

    chosen = _chosen(dialect)
    if dry_run:
        _show_what_would_be_sent(chosen)
        return
    if console is None:
        raise Stop("name the line with --console, such as /dev/ttyUSB0, COM3 or ssh://user@host", USAGE)
    folder = Folder(Path(job))
    wanted = unit.strip().lower()
    facts = Job(
        unit=wanted,
        dialect=chosen.name,
        line=console,
        speed=speed,
        started=_now(),
        version=__version__,
    )
    try:
        folder.create(facts)
        text = _captured_live(folder, facts, "before", chosen, console, speed, framing, user)
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None
    from consolecheck.reporting.terminal import show_snapshot

    snapshot = snapshot_of(text, "before.txt", (chosen,), chosen)
    show_snapshot(screen_of(), snapshot)
    units = {s.reading.unit for s in snapshot.sightings if s.reading.unit}
    if wanted not in units:
        known = ", ".join(sorted(u for u in units if u.startswith(("psu-", "fan-"))))
        raise Stop(f"the baseline is kept in {job}, but it shows no unit `{wanted}`; it shows {known}", USAGE)
    whole = not snapshot.unread and not any(t.cut for t in snapshot.tables)
    if whole:
        told = f"Replace {wanted}, let the switch settle, then: consolecheck verify {job}"
    else:
        told = (
            f"It was not wholly read, so no swap can be verified against it: leave {wanted} in place, "
            "and capture again into a new folder"
        )
    print(f"\nbaseline kept in {job}. {told}", file=sys.stderr)
    raise typer.Exit(VERIFIED if whole else INCONCLUSIVE)


def verify(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The folder that `baseline` made.")],
    console: ConsoleOption = None,
    speed: Annotated[
        int | None, typer.Option("--speed", metavar="BAUD", help="Line speed, if another than at the baseline.")
    ] = None,
    framing: FramingOption = "8N1",
    user: UserOption = None,
    acceptance: Annotated[
        str | None, typer.Option("--acceptance", metavar="FILE", help="The site's limits (TOML).")
    ] = None,
    seen: Annotated[
        list[str] | None, typer.Option("--seen", metavar="UNIT.FACT=VALUE", help="What eyes saw; repeatable.")
    ] = None,
    reseat: Annotated[
        str | None, typer.Option("--reseat", metavar="REASON", help="Why the same part was put back on purpose.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Show every finding, not only what decides.")] = False,
) -> None:
    """Capture the switch after the swap, and judge it.

    Example: consolecheck verify swap-0412
    """
    from consolecheck.job.folder import Folder, FolderFault

    limits, observed = limits_of_site(acceptance), observations(seen or [])
    folder = Folder(Path(job))
    try:
        facts = folder.job()
        before = folder.text("before")
        chosen = _chosen(facts.dialect)
        after = _captured_live(
            folder, facts, "after", chosen, console or facts.line, speed or facts.speed or 9600, framing, user
        )
        _judged(folder, chosen, before, after, facts.unit, limits, observed, reseat, everything)
    except FolderFault as fault:
        raise Stop(str(fault), STOPPED) from None


def _judged(
    folder: "Folder",
    dialect: "Dialect",
    before: bytes,
    after: bytes,
    unit: str,
    limits: "Acceptance",
    observed: "tuple[Observed, ...]",
    reseat: str | None,
    everything: bool,
) -> None:
    """Shows the verdict on two captures, keeps the findings in the job folder, and ends with its exit code."""
    raw = {"before": before, "after": after}
    snapshots = {side: snapshot_of(text, f"{side}.txt", (dialect,), dialect) for side, text in raw.items()}
    present(
        raw,
        raw,
        snapshots,
        unit,
        limits,
        observed,
        reseat,
        everything,
        json=False,
        keep=lambda document: folder.write("findings.json", document.encode() + b"\n"),
    )


def _chosen(name: str | None) -> "Dialect":
    known, chosen = known_dialects(name)
    if chosen is None:
        raise Stop(
            f"name the device family with --dialect ({', '.join(d.name for d in known)}): only its listed commands are sent",
            USAGE,
        )
    return chosen


def _guard(dialect: "Dialect", user: str | None, password: str | None) -> "Guard":
    from consolecheck.console.guard import Guard, NotAllowed

    try:
        return Guard(dialect, user, password)
    except NotAllowed:
        raise Stop("the login name or password has characters that cannot be typed at a console", USAGE) from None


def _show_what_would_be_sent(dialect: "Dialect") -> None:
    screen = screen_of()
    screen.line((f"to a `{dialect.name}` console nothing but this can be sent:", ""))
    for outgoing in _guard(dialect, None, None).everything():
        screen.line((f"  {outgoing.purpose:<8} {outgoing.shown}", ""))
    screen.line(("  and, where the console asks for them, the login name and password that you give", ""))


def _secret(prompt: str, user: str | None, line: str) -> str | None:
    """A password from the environment, the system's keyring if it is installed, or the person. Never an argument."""
    if (given := os.environ.get("CONSOLECHECK_PASSWORD")) is not None:
        return given
    try:
        import keyring

        if user and (kept := keyring.get_password("consolecheck", f"{user}@{line}")):
            return str(kept)
    except Exception:  # no keyring, a locked one, or none that works: the person is asked
        pass
    if not sys.stdin.isatty():
        return None
    import getpass

    try:
        return getpass.getpass(prompt)
    except EOFError:
        return None


def _captured_live(
    folder: "Folder",
    job: "Job",
    side: "Side",
    dialect: "Dialect",
    line: str,
    speed: int,
    framing: str,
    user: str | None,
) -> bytes:
    """Talks to the console, keeps everything, and gives the session's text; ends the command where it could not."""
    from consolecheck.console.dialogue import USUAL_SPEEDS
    from consolecheck.console.link import LinkFault, open_link, parse_link
    from consolecheck.console.recorder import Recorder
    from consolecheck.job.drive import Captured, Stopped, capture

    try:
        spec = parse_link(line, speed=speed, framing=framing)
    except ValueError as reason:
        raise Stop(str(reason), USAGE) from None
    over_ssh = line.startswith("ssh://")
    secret = _secret(f"password of {user} at the console: ", user, line) if user and not over_ssh else None
    guard = _guard(dialect, user if not over_ssh else None, secret)
    commands = [c.send for c in dialect.manifest.commands if c.capture]
    cast = folder.make_room(side)
    secrets = [secret] if secret else []
    recorder = Recorder(cast, f"{job.unit} {side}", time.monotonic, int(time.time()), secrets=secrets)
    result: Captured | None = None
    try:
        link = open_link(spec, password=lambda prompt: _secret(prompt, None, line))
        try:
            if note := getattr(link, "note", ""):
                print(f"note: {note}", file=sys.stderr)
            speeds = () if link.error_free or link.bits_per_second is None else USUAL_SPEEDS
            result = capture(
                link, dialect, guard, commands, time.monotonic, recorder, speeds, _teller(link.bits_per_second)
            )
        finally:
            link.close()
    except LinkFault as fault:
        raise Stop(f"{fault} {_what_is_kept(cast)}", STOPPED) from None
    except Stopped as stopped:
        raise Stop(f"{stopped.refusal.message}. {_what_is_kept(cast)}", STOPPED) from None
    except KeyboardInterrupt:
        raise Stop(f"interrupted. {_what_is_kept(cast)}; start the same command again to go on", STOPPED) from None
    finally:
        recorder.close()
    return _kept(folder, job, side, result, secret)


def _kept(folder: "Folder", job: "Job", side: "Side", result: "Captured", secret: str | None) -> bytes:
    """Writes a session's text; where it is not whole, ends the command after keeping what there is."""
    text = result.text
    if secret:  # a console that is out of step echoes it
        text = text.replace(secret.encode(), b"*" * len(secret.encode()))
    target = folder.write(f"{side}.txt", text)
    for note in result.notes:
        print(f"note: {note}", file=sys.stderr)
    if result.speed and result.speed != job.speed:
        print(f"note: the console answered at {result.speed} baud", file=sys.stderr)
        folder.keep(job.model_copy(update={"speed": result.speed}))
    if result.refusal is not None:
        raise Stop(f"{result.refusal.message}. What was captured is kept in {target}", STOPPED)
    return text


def _what_is_kept(cast: Path) -> str:
    return f"What passed over the line is kept in {cast}" if cast.exists() else "Nothing was captured"


def _teller(bits_per_second: int | None):  # type: ignore[no-untyped-def]
    """Tells on standard error how far the capture is: one line that renews itself, or a line a command in a pipe."""
    shown = {"command": ""}
    lively = sys.stderr.isatty()

    def tell(progress: "Progress") -> None:
        seconds = f", {progress.bytes * 10 / bits_per_second:.0f} s of line time" if bits_per_second else ""
        again = f", reading {progress.reading}" if progress.reading > 1 else ""
        line = f"{progress.number}/{progress.of} {progress.command}{again}: {progress.bytes} bytes{seconds}"
        if lively:
            end = "" if progress.number < progress.of else "\r"
            print(f"\r{line:<79.79}", end=end, file=sys.stderr, flush=True)
        elif shown["command"] != progress.command:
            shown["command"] = progress.command
            print(f"{progress.number}/{progress.of} {progress.command}", file=sys.stderr)

    return tell
