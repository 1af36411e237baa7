"""What a person must still decide about a drafted dialect, as a page of Markdown beside it."""

from collections.abc import Iterable, Iterator

from consolecheck.drafting.draft import NO_COMMAND, Draft, Table
from consolecheck.records.readings import Condition

MOST_LINES = 60
_TAKEN_ASIDE = ("set aside", "ignored", "unknown")


def report_of(draft: Draft) -> str:
    """The report; text of the capture stands in it as code, so that nothing of it is markup."""
    return "\n".join(_lines(draft)) + "\n"


def _lines(draft: Draft) -> Iterator[str]:
    yield f"# {draft.name}: what a person must still decide"
    yield ""
    yield (
        "This dialect was drafted from one capture. Until every point below is decided, what is read with it counts as "
        "inferred and verifies nothing. When all is decided, take the line `drafted = true` out of `dialect.toml`, state "
        "the source, and write cases with claims of your own."
    )
    yield ""
    yield f"Read: {len(draft.snapshot.sightings)} of the {len(draft.inferred.sightings)} readings that were inferred."
    yield ""
    yield "## Status words"
    yield ""
    yield "Is each what the maker means by it? A word that is not listed is `unknown`, and so is one of which nobody is sure."
    yield ""
    yield from _table(
        ("of", "word", "taken as"),
        (
            (kind.replace("_", " "), _code(word), f"**{told}**" if told is Condition.UNKNOWN else str(told))
            for kind, words in draft.words.items()
            for word, told in words.items()
        ),
        "No status word was printed.",
    )
    yield "## Columns and keys"
    yield ""
    for table in draft.tables:
        yield from _columns(table)
    yield "## Units that were assumed"
    yield ""
    yield from _table(
        ("table", "field", "unit"),
        dict.fromkeys(
            (table.name, field.replace("_", " "), unit)
            for table in draft.tables
            for placed in table.placed
            for field, unit in placed.plan.units
        ),
        "Every figure is printed with its unit.",
    )
    flows = [(_code(p.text), str(f)) for t in draft.tables for one in t.placed for p in one.puts if p.field == "airflow"
             if (f := one.reading.given("airflow") or "not known: compared only") is not None]  # fmt: skip
    yield "## Airflow"
    yield ""
    yield from _table(
        ("word", "direction"),
        dict.fromkeys(flows),
        "No airflow was read. Where the device prints none, it must be read off the part.",
    )
    yield "## The console"
    yield ""
    if draft.prompts:
        yield f"- The prompt was taken from {len(draft.prompts)} form(s) in the capture. State other ones under `[console]`: privileged, configuring."
    else:
        yield "- No prompt was recognised in the capture: state one under `[console]`, or no table is known to be whole."
    yield "- Its pager, the words that turn it off, replies of refusal and console messages are not drafted: state them."
    if draft.commands:
        yield (
            "- These commands were taken from the capture. Each must only read: "
            + ", ".join(map(_code, draft.commands))
            + "."
        )
    if any(not table.commands for table in draft.tables):
        yield f"- The command of a table is not in the capture: replace {_code(NO_COMMAND)} in `dialect.toml`."
    if draft.foreign:
        yield "- Of these commands nothing is read: " + ", ".join(map(_code, draft.foreign)) + "."
    yield ""
    yield "## Left out"
    yield ""
    yield from _table(
        ("lines", "what", "why"),
        ((f"{x.first_line}-{x.last_line}", _code(x.what), _plain(x.why)) for x in draft.left_out),
        "Nothing that was inferred.",
    )
    yield "## Lines that nobody understood"
    yield ""
    unread = draft.snapshot.unread
    yield "They stay unread, so a text with such lines verifies nothing. Write rules for them, or take them out of the capture."
    yield ""
    yield from _table(
        ("line", "text", "why"),
        ((str(u.number), _code(u.text.strip()[:100]), _plain(u.reason)) for u in unread[:MOST_LINES]),
        "None.",
    )
    if len(unread) > MOST_LINES:
        yield f"... and {len(unread) - MOST_LINES} more."
        yield ""
    yield "## Before you give it away"
    yield ""
    yield "`fixtures/` holds the capture as it was taken: names, serials and addresses of your equipment. Replace them first."


def _columns(table: Table) -> Iterator[str]:
    taken = table.taken[0]
    yield f"`{table.name}` (recognised with {'certainty by its labels' if taken.sure == 'high' else 'less certainty: by its title or rows'}):"
    yield ""
    aside = [label for label, what in taken.columns if what in _TAKEN_ASIDE]
    yield from _table(
        ("label", "taken as"),
        dict.fromkeys((_code(label), _plain(what)) for label, what in taken.columns if what not in _TAKEN_ASIDE),
        "It has no labels.",
    )
    if aside:
        yield "Not taken, although they may matter: " + ", ".join(_code(label) for label in dict.fromkeys(aside)) + "."
        yield ""


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]], otherwise: str) -> Iterator[str]:
    listed = list(rows)
    if not listed:
        yield otherwise
    else:
        yield f"| {' | '.join(head)} |"
        yield f"|{'---|' * len(head)}"
        yield from (f"| {' | '.join(row)} |" for row in listed)
    yield ""


def _code(text: str) -> str:
    """Text of a device as code in a cell; what could end either is shown as another sign."""
    shown = "".join(c if c.isprintable() else "?" for c in text).replace("|", "¦").replace("`", "'")
    return f"`{shown}`" if shown.strip() else "(blank)"


def _plain(text: str) -> str:
    """A reason, which may quote the device between accents, without anything that is markup."""
    shown = "".join(c if c.isprintable() else "?" for c in text)
    for sign in "\\*_[]<>#|":
        shown = shown.replace(sign, f"\\{sign}")
    return shown
