"""Makes the manual from the program itself. Run: `python docs/generate.py`, after a change of any help text.

    docs/commands.md        every command with its options and its example
    docs/consolecheck.1     the same as a man page: `man docs/consolecheck.1`
    docs/dialects.md        what is read of each device family, by the manifests of the dialects
    docs/files.md           the files that `report` writes, by the docstrings of the modules that write them

A test compares what stands there with what would be made.
"""

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import typer

from consolecheck import __version__
from consolecheck.cli.main import app
from consolecheck.files.shelf import dialects
from consolecheck.reading.dialect import Dialect
from consolecheck.records.readings import KINDS
from consolecheck.reporting import exchange_files, junit, table, ticket

HERE = Path(__file__).resolve().parent
MADE = "Made by docs/generate.py from the program's own help."
EXIT_CODES = (
    ("0", "verified; of `read`: all of it was read; of `baseline`: the unit may be pulled; else: done"),
    ("1", "not verified; of `baseline`: hold; of `dialect check`: something is wrong"),
    ("2", "the command line or the acceptance file was wrong"),
    ("3", "inconclusive: something was not read, not printed or not captured; the reasons say what"),
    (
        "4",
        "could not carry on: a file is missing, empty, too large or no text; the line is lost or the console refused",
    ),
)
ENVIRONMENT = (
    ("CONSOLECHECK_PASSWORD", "The password at the console, where nobody is there to be asked."),
    (
        "CONSOLECHECK_DIALECTS",
        "A folder with dialects of your own, a folder each. Of two with one name counts that of `--dialects`, "
        "then of this variable, then of your configuration folder, then of the site's, then the shipped one.",
    ),
    ("NO_COLOR", "Any value turns colour off."),
    ("COLUMNS", "The width of the terminal. Lines of a pipe do not depend on it."),
    ("CONSOLECHECK_TRACEBACK", "Any value shows where a fault in consolecheck itself happened."),
)


class Command(NamedTuple):
    """A command as its help tells it."""

    name: str
    usage: str
    told: tuple[str, ...]
    """Paragraphs; the first says what it does."""
    example: str
    rows: tuple[tuple[str, str], ...]
    """Arguments and options, and what each is."""


def commands() -> list[Command]:
    """Every command that does something, in the order of the help."""
    return list(_below(typer.main.get_command(app), "consolecheck"))


def _below(group: Any, name: str) -> Iterator[Command]:
    for sub in group.commands.values():
        if hasattr(sub, "commands"):
            yield from _below(sub, f"{name} {sub.name}")
        else:
            yield _command(sub, f"{name} {sub.name}")


def _command(command: Any, name: str) -> Command:
    """By the parameters themselves, since what the help makes of them is not the same in every version of typer."""
    paragraphs = [p.strip() for p in (command.help or "").replace("\b", "").split("\n\n")]
    examples = [p.removeprefix("Example: ") for p in paragraphs if p.startswith("Example: ")]
    assert len(examples) == 1, f"{name} must have exactly one example"
    arguments = [p for p in command.params if p.param_type_name == "argument"]
    options = [p for p in command.params if p.param_type_name == "option" and not p.hidden]
    places = [p.metavar if p.required else f"[{p.metavar}]" for p in arguments]
    return Command(
        name,
        " ".join((name, *(["[OPTIONS]"] if options else []), *places)),
        tuple(" ".join(p.split()) for p in paragraphs if p and not p.startswith("Example: ")),
        " ".join(examples[0].split()),
        tuple(
            (" ".join(filter(None, (", ".join(p.opts) if p in options else "", p.metavar))), p.help)
            for p in (*arguments, *options)
        ),
    )


def commands_md() -> str:
    lines = [
        "# Commands",
        "",
        f"{MADE} consolecheck {__version__}.",
        "",
        "| command | does |",
        "|---|---|",
        *(f"| [`{c.name}`](#{c.name.replace(' ', '-')}) | {_cell(c.told[0])} |" for c in commands()),
        "",
        "| exit code | means |",
        "|---|---|",
        *(f"| {code} | {_cell(means)} |" for code, means in EXIT_CODES),
        "",
        "| environment | does |",
        "|---|---|",
        *(f"| `{name}` | {_cell(does)} |" for name, does in ENVIRONMENT),
        "",
        "`--help` behind any command tells the same. `consolecheck --install-completion` lets the shell complete commands "
        "and options; `consolecheck --show-completion` prints what it would add.",
    ]
    for command in commands():
        lines += ["", f"## {command.name}", ""]
        lines += [line for paragraph in command.told for line in (paragraph, "")]
        lines += ["```sh", command.example, "```", "", f"`{command.usage}`"]
        if command.rows:
            lines += [
                "",
                "| | |",
                "|---|---|",
                *(f"| `{_cell(name)}` | {_cell(told)} |" for name, told in command.rows),
            ]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def man_page() -> str:
    whole = typer.main.get_command(app)
    lines = [
        f'.\\" {MADE}',
        f'.TH CONSOLECHECK 1 "" "consolecheck {__version__}" "User Commands"',
        ".SH NAME",
        f"consolecheck \\- {_roff(str(whole.help)[0].lower() + str(whole.help)[1:].rstrip('.'))}",
        ".SH SYNOPSIS",
        *(line for c in commands() for line in (f".B {_roff(c.name)}", _roff(c.usage.removeprefix(c.name)), ".br")),
        ".SH COMMANDS",
    ]
    for command in commands():
        lines.append(f".SS {_roff(command.name)}")
        for paragraph in command.told:
            lines += [_roff(paragraph), ".PP"]
        for name, told in command.rows:
            lines += [".TP", f".B {_roff(name)}", _roff(told)]
        lines += [".PP", "Example:", ".PP", ".nf", ".RS", _roff(command.example), ".RE", ".fi"]
    lines.append(".SH EXIT STATUS")
    for code, means in EXIT_CODES:
        lines += [".TP", f".B {code}", _roff(means)]
    lines.append(".SH ENVIRONMENT")
    for name, does in ENVIRONMENT:
        lines += [".TP", f".B {name}", _roff(does)]
    lines += [".SH FILES", "The files that", ".B consolecheck report", "writes:", ".PP", ".nf"]
    block = inspect.cleandoc(exchange_files.__doc__ or "").split("\n\n", 1)[1]
    lines += [_roff(line.strip()) for line in block.split("\n")]
    return "\n".join([*lines, ".fi"]) + "\n"


def _roff(text: str) -> str:
    """Text as roff takes it literally."""
    text = text.strip().replace("\\", "\\e").replace("-", "\\-").replace("`", "")
    return f"\\&{text}" if text.startswith((".", "'")) else text


def files_md() -> str:
    lines = ["# Files for other tools", "", "Made by docs/generate.py from the modules that write them.", ""]
    first, block = inspect.cleandoc(exchange_files.__doc__ or "").split("\n\n")
    lines += [first, "", "```", block, "```", ""]
    for title, module in (("junit.xml", junit), ("ticket.md", ticket), ("readings.csv, samples.csv", table)):
        lines += [f"## {title}", "", inspect.cleandoc(module.__doc__ or ""), ""]
        if module is table:
            lines += [f"`readings.csv`: `{','.join(table.READINGS)}`. {_first(table.readings_csv)}", ""]
            lines += [f"`samples.csv`: `{','.join(table.SAMPLES)}`. {_first(table.samples_csv)}", ""]
    lines += ["## result.json", "", "The fields, as `consolecheck schema replay` describes them:", ""]
    lines += [f"- `{name}`{f': {told}' if told else ''}" for name, told in _fields()]
    return "\n".join(lines) + "\n"


def _first(function: Any) -> str:
    return " ".join(inspect.cleandoc(function.__doc__ or "").split())


def _fields() -> Iterator[tuple[str, str]]:
    """The document's fields with the sentence that stands below each in its class."""
    from consolecheck.reporting.exchange import ReplayDocument

    body = ast.parse(inspect.getsource(ReplayDocument)).body[0].body  # type: ignore[attr-defined]
    for field, following in zip(body, [*body[1:], None], strict=True):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            told = following.value.value if isinstance(following, ast.Expr) else ""  # type: ignore[attr-defined]
            yield field.target.id, told


KINDS_IN_WORDS = {
    "power_supply": "power supplies",
    "fan": "fans",
    "temperature": "temperatures",
    "inventory": "parts",
    "link": "links",
    "alarm": "alarms",
    "device": "device",
}
LAYOUTS = {"rows": "text", "json": "JSON", "walk": "SNMP walk"}
FACTS = {
    "serial": "serial",
    "part_number": "part number",
    "airflow": "airflow",
    "feed": "feed",
    "input_type": "input type",
}


def dialects_md() -> str:
    """What each dialect reads, as its manifest and its templates say."""
    known = dialects()
    lines = [
        "# Dialects",
        "",
        "Made by docs/generate.py from the manifests and templates in `parsers/`. What a device does not print in a given "
        "case is not there to be read, whatever this table says; where a table tells of several kinds, its fields are named at each.",
        "",
        f"| dialect | {' | '.join(KINDS_IN_WORDS.values())} | printed as |",
        f"|---|{'---|' * (len(KINDS_IN_WORDS) + 1)}",
    ]
    for dialect in known:
        read: dict[str, set[str]] = {}
        for name in dialect.manifest.tables:
            for kind, told in _read_of(dialect, name).items():
                read.setdefault(kind, set()).update(told)
        cells = [_cell(", ".join(_in_order(read[kind])) or "named") if kind in read else "" for kind in KINDS_IN_WORDS]
        layouts = dict.fromkeys(LAYOUTS[table.layout] for table in dialect.manifest.tables.values())
        lines.append(f"| [`{dialect.name}`](#{dialect.name}) | {' | '.join(cells)} | {', '.join(layouts)} |")
    for dialect in known:
        manifest = dialect.manifest
        lines += ["", f"## {dialect.name}", "", f"{_cell(manifest.title)}.", "", _one_line(manifest.source), ""]
        lines += ["| command | table | what is read of it | asked live |", "|---|---|---|---|"]
        for command in manifest.commands:
            live = "and while it settles" if command.watch and command.capture else "yes" if command.capture else "no"
            for number, name in enumerate(command.tables or [""]):
                told = _read_of(dialect, name) if name else {}
                words = "; ".join(
                    f"{KINDS_IN_WORDS[k]}: {', '.join(_in_order(told[k])) or 'named'}"
                    for k in KINDS_IN_WORDS
                    if k in told
                )
                first = f"`{_cell(command.send)}`" if not number else ""
                lines.append(f"| {first} | {name} | {_cell(words)} | {live if not number else ''} |")
    return "\n".join(lines) + "\n"


def _read_of(dialect: Dialect, name: str) -> dict[str, set[str]]:
    """Kind -> what a table tells of it."""
    described, fields = dialect.manifest.tables[name], set(dialect.template(name).fields)
    found: dict[str, set[str]] = {}
    for rule in (described, *dialect.manifest.sorts_of(described)):
        kind = rule.kind or described.kind
        if kind is None:
            continue
        record = KINDS[kind]
        told = found.setdefault(kind, set())
        quantities = {rule.quantity or described.quantity} if rule.quantity or described.quantity else fields
        told |= {
            q.replace("_", " ") for q in quantities if q in record.QUANTITIES and not q.startswith(("low_", "high_"))
        }
        if any(f.startswith(("low_", "high_")) for f in fields) and "high_critical" in record.QUANTITIES:
            told.add("limits")
        told |= {word for fact, word in FACTS.items() if fact in fields and fact in record.model_fields}
        if "airflow" in record.model_fields and set(dialect.manifest.airflow_in) & fields:
            told.add("airflow")
        if "status" in fields or any(
            (r.status_from, r.states, r.bits, r.no_status) != (None,) * 4 for r in (rule, described)
        ):
            told.add("status")
    return found


def _in_order(told: set[str]) -> list[str]:
    """Status first, then what is measured, then who it is."""
    facts = list(FACTS.values())
    return sorted(told, key=lambda word: (word != "status", word == "limits", word in facts, word))


def _one_line(text: str) -> str:
    return " ".join(text.split())


PAGES = {"commands.md": commands_md, "dialects.md": dialects_md, "consolecheck.1": man_page, "files.md": files_md}

if __name__ == "__main__":
    for name, page in PAGES.items():
        (HERE / name).write_text(page(), encoding="utf-8", newline="\n")
        print(f"docs/{name}")
