"""`consolecheck`: every command, and how each ends."""

import os
import sys
from typing import Annotated

import typer

from consolecheck import __version__
from consolecheck.cli import dialect, job, live, report, text
from consolecheck.cli.shared import STOPPED, USAGE, VERIFIED, Stop, say

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
# In the order of a job: try, plug in, before, after, judge again.
for _command in (
    live.demo,
    live.ports,
    job.swap,
    job.baseline,
    job.attend,
    job.verify,
    text.read,
    text.replay,
    report.report,
    text.schema,
):
    app.command()(_command)
dialect_app.command("list")(dialect.listed)
dialect_app.command("check")(dialect.check)
dialect_app.command("draft")(dialect.draft)
app.add_typer(dialect_app, name="dialect")


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


def run() -> None:
    """Entry point: no exception reaches the person as a traceback, and none looks like a verdict."""
    # Looking for plug-ins of pydantic among all installed packages costs more than a whole judgement.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a pipe on some systems cannot say every character
            stream.reconfigure(errors="backslashreplace")
    try:
        code = app(standalone_mode=False)
        sys.stdout.flush()
    except (BrokenPipeError, SystemExit):  # a pipe closed within a command reaches us as SystemExit(1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = STOPPED
    except Stop as stop:
        say(str(stop))
        code = stop.code
    except (KeyboardInterrupt, typer.Abort):
        say("interrupted; nothing was changed")
        code = STOPPED
    except Exception as fault:
        if hasattr(fault, "show") and hasattr(fault, "exit_code"):  # the command line itself was wrong
            fault.show()
            code = USAGE
        elif os.environ.get("CONSOLECHECK_TRACEBACK"):
            raise
        else:
            say(
                f"a fault in consolecheck itself ({type(fault).__name__}); nothing was judged. "
                "Run again with CONSOLECHECK_TRACEBACK=1 and report what it prints"
            )
            code = STOPPED
    sys.exit(code if isinstance(code, int) else VERIFIED)
