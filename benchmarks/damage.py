"""A million damaged texts, judged: how often is one verified that was not rightly read?

Run: `python benchmarks/damage.py --pairs 1000000 --seed 33 --workers 1 --out DIR`. Goes on where it was when it is
killed and started again; what comes out depends on the seed and the number alone, not on workers or interruptions.

Every swap of the fixtures and of the simulated switch is taken with the verdict that is right for it. One of its
two texts, mostly the later one, is damaged in one way (`consolecheck/rehearsal/damage.py`), and what the damaged
text says is held against the untouched one (`consolecheck/rehearsal/truth.py`).

Goals: no damaged text is falsely verified; at least 99.9 % of harmlessly changed ones keep their verdict.
"""

import argparse
import hashlib
import json
import multiprocessing
import random
import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from consolecheck.cases.check import cases_of
from consolecheck.files.shelf import dialects, shipped
from consolecheck.records.findings import Verdict
from consolecheck.rehearsal.damage import KINDS, Kind, Place
from consolecheck.rehearsal.faults import GOOD_ONES, SCENARIOS, scenario
from consolecheck.rehearsal.physics import Chassis
from consolecheck.rehearsal.site import varied
from consolecheck.rehearsal.tables import TABLES
from consolecheck.rehearsal.truth import Swap, Truth, told_of

CHUNK = 500
"""Pairs that share one seed: what is done again after a kill is at most this for each worker."""
SITES = 6
"""Simulated sites for each scenario."""
SHOWN = 1
"""Examples kept of each kind and chunk."""
GOAL_KEPT = 0.999
WHOLE_WORDS = ("status-word", "status-word-of-unit")
"""Kinds that put a whole word in another's place, as a device might have printed it."""
ROOT = Path(__file__).resolve().parent.parent


def fixtures() -> Iterator[Swap]:
    known = {d.name: d for d in dialects()}
    for case in cases_of(shipped("fixtures")):
        file = case.file
        yield Swap(
            case.place,
            known[case.dialect_name],
            file.unit,
            case.text("before"),
            case.text("after"),
            file.claims.verdict,
            case.acceptance(),
            case.observed(),
            file.reseat,
        )


def simulated(sites: int = SITES) -> Iterator[Swap]:
    """Each scenario at several sites, captured before it began and half an hour after it ended."""
    wexcombe = next(d for d in dialects() if d.name == "wexcombe")
    for seed in range(sites):
        for name in sorted({*GOOD_ONES, *SCENARIOS} - {"slow-creep"}):  # which takes hours to show
            chassis = Chassis(seed, varied(seed))
            chassis.advance(600)
            before = _captured(chassis)
            played = scenario(name)
            played.perform(chassis)
            chassis.advance(1800)
            yield Swap(
                f"simulated/{name}/{seed}",
                wexcombe,
                played.unit,
                before,
                _captured(chassis),
                Verdict(played.verdict),
            )


def _captured(chassis: Chassis) -> bytes:
    host = chassis.configuration.host
    lines = [line for what, table in TABLES.items() for line in (f"{host} ~> tell {what}", *table(chassis))]
    return "\n".join([*lines, f"{host} ~> "]).encode()


class Material(NamedTuple):
    """What the campaign damages: each swap's truth, and the places of its two texts."""

    truths: list[Truth]
    families: list[tuple[list[int], list[int]]]
    """Of each dialect, and of the simulated switch, the swaps that are truly verified and all of them."""
    telling: list[tuple[list[int], list[int]]]
    """Those families that have a truly verified swap: of the others damage seldom turns a verdict at all."""
    places: dict[tuple[int, str], Place]
    left_out: list[str]
    """Swaps whose untouched texts are not judged as they should be: nothing can be learned from damaging them."""


@cache
def material(sites: int = SITES) -> Material:
    truths, left_out = [], []
    for swap in (*fixtures(), *simulated(sites)):
        truth = Truth(swap)
        if truth.verdict() is swap.verdict:
            truths.append(truth)
        else:
            left_out.append(swap.name)
    texts = [{side: _decoded(t.swap.text(side)) for side in ("before", "after")} for t in truths]
    places = {}
    for i, truth in enumerate(truths):
        others = [
            _of_another(o, texts[j]["after"])
            for j, o in enumerate(truths)
            if o.swap.dialect is truth.swap.dialect and j != i and o.swap.name.startswith("fixtures/")
        ]
        for side, other in (("before", "after"), ("after", "before")):
            places[i, side] = Place(
                texts[i][side], truth.snapshots[side], truth.swap.dialect, truth.swap.unit, texts[i][other], others
            )
    families: dict[str, tuple[list[int], list[int]]] = {}
    for i, truth in enumerate(truths):
        good, every = families.setdefault(_family(truth.swap), ([], []))
        every.append(i)
        if truth.swap.verdict is Verdict.VERIFIED:
            good.append(i)
    telling = [(good, every) for good, every in families.values() if good]
    return Material(truths, list(families.values()), telling, places, left_out)


def _of_another(truth: Truth, text: str) -> str:
    """The text as another device of the family would have printed it: another name, other serials and addresses."""
    snapshot = truth.snapshots["after"]
    names = {r.given("serial") for r in snapshot.readings} | {
        r.status_text for r in snapshot.readings if r.kind == "device" and r.name == "mac"
    }
    for name in sorted((n for n in names if n and len(n) > 3), key=len, reverse=True):
        turned = "".join(str((int(c) + 3) % 10) if c.isascii() and c.isdigit() else c for c in name[-5:])
        text = text.replace(name, name[:-5] + turned)
    for host in snapshot.hosts:
        text = re.sub(rf"\b{re.escape(host)}\b", "gannet-11", text)
    return text


def _family(swap: Swap) -> str:
    return "simulated" if swap.name.startswith("simulated/") else swap.dialect.name


def _decoded(raw: bytes) -> str:
    return raw.decode("utf-8", "surrogateescape")


Key = tuple[str, str, str, str]
"""Kind of damage, true verdict, verdict told, and `false`, `hidden: why` or nothing."""


class Outcome(NamedTuple):
    """What came of some damaged swaps: how many of each, and a few that are worth to be seen."""

    counts: Counter[Key]
    examples: list[dict[str, Any]]


def one(dice: random.Random, given: Material, kinds: Sequence[Kind] = KINDS) -> tuple[Key, dict[str, Any] | None]:
    """One swap, one of its texts, one kind of damage; and an example if it is worth to be shown."""
    while True:
        kind = dice.choice(kinds)
        good, every = dice.choice(given.telling if dice.random() < 0.8 else given.families)
        at = dice.choice(good if good and dice.random() < 0.75 else every)
        side = "after" if dice.random() < 0.75 else "before"
        place = given.places[at, side]
        made = kind.damage(place, dice)
        if made is not None and made != place.text:
            break
    truth = given.truths[at]
    true = truth.swap.verdict.value
    told = told_of(
        truth, side, made.encode("utf-8", "surrogateescape"), kind.group == "splice" or kind.name in WHOLE_WORDS
    )
    now = told.verdict.value if told.verdict else "refused"
    mark = "false" if told.false else f"hidden: {told.hidden}" if told.hidden else ""
    key = kind.name, true, now, mark
    if not mark and (kind.group != "harmless" or now == true):
        return key, None
    return key, {
        "swap": truth.swap.name,
        "side": side,
        "kind": kind.name,
        "true": true,
        "told": now,
        "mark": mark,
        "differs": [str(d)[:240] for d in told.differs[:4]],
        "lines": _changed_lines(place.text, made),
    }


def _changed_lines(was: str, now: str) -> list[str]:
    """The first lines that differ, as they were and as they are."""
    pairs = zip(was.split("\n"), now.split("\n"), strict=False)
    return [ascii(line)[:240] for before, after in pairs if before != after for line in (before, after)][:4]


def chunk(task: tuple[int, int, int]) -> tuple[int, Outcome]:
    """So many damaged swaps from one seed."""
    seed, number, pairs = task
    dice = random.Random(f"damage {seed} {number}")
    given = material(SITES)
    counts: Counter[Key] = Counter()
    examples: list[dict[str, Any]] = []
    shown: Counter[str] = Counter()
    for _ in range(pairs):
        key, example = one(dice, given)
        counts[key] += 1
        if example is not None:
            shown[example["mark"][:6]] += 1
            if example["mark"] == "false" or shown[example["mark"][:6]] <= SHOWN:
                examples.append(example)
    return number, Outcome(counts, examples)


# ---- kept on the disk, so that a campaign that was killed goes on


def fingerprint() -> str:
    """Of everything that the outcome depends on: code, dialects and fixtures."""
    digest = hashlib.sha256()
    for folder in ("consolecheck", "parsers", "fixtures", "benchmarks"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".py", ".toml", ".textfsm", ".txt") and path.is_file():
                digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


class Ledger:
    """The chunks that are done, a line of JSON each. Raises ValueError where they belong to another campaign."""

    def __init__(self, place: Path, seed: int, pairs: int) -> None:
        place.mkdir(parents=True, exist_ok=True)
        self.file = place / "chunks.jsonl"
        self.done: dict[int, Outcome] = {}
        about = {"seed": seed, "of": fingerprint(), "chunk": CHUNK}
        told = place / "campaign.json"
        if told.is_file() and json.loads(told.read_text(encoding="utf-8")) != about:
            raise ValueError(
                f"{place} holds a campaign with another seed, or the code, dialects or fixtures changed since; "
                "take another folder"
            )
        told.write_text(json.dumps(about), encoding="utf-8")
        self.tasks = [(seed, n, min(CHUNK, pairs - n * CHUNK)) for n in range(-(-pairs // CHUNK))]
        sizes = {n: size for _, n, size in self.tasks}
        if self.file.is_file():
            for line in self.file.read_text(encoding="utf-8").splitlines():
                try:
                    number, counts, examples = json.loads(line)
                except ValueError:  # the line that was being written
                    continue
                outcome = Outcome(Counter({tuple(key): n for *key, n in counts}), examples)
                if outcome.counts.total() == sizes.get(number):
                    self.done[number] = outcome

    def left(self) -> list[tuple[int, int, int]]:
        return [task for task in self.tasks if task[1] not in self.done]

    def add(self, number: int, outcome: Outcome) -> None:
        line = json.dumps([number, [[*key, n] for key, n in sorted(outcome.counts.items())], outcome.examples])
        with open(self.file, "a", encoding="utf-8", newline="\n") as file:
            if file.tell() and not self._ends_well():
                file.write("\n")
            file.write(line + "\n")
        self.done[number] = outcome

    def _ends_well(self) -> bool:
        with open(self.file, "rb") as file:
            file.seek(-1, 2)
            return file.read(1) == b"\n"

    def sum(self) -> Outcome:
        """Of all chunks, in their order."""
        counts: Counter[Key] = Counter()
        examples: list[dict[str, Any]] = []
        for number in sorted(self.done):
            counts.update(self.done[number].counts)
            examples.extend(self.done[number].examples)
        return Outcome(counts, examples)


# ---- what came out


class Line(NamedTuple):
    """One kind of damage in the report."""

    kind: Kind
    pairs: int
    kept: int
    inconclusive: int
    not_verified: int
    refused: int
    false: int
    hidden: int
    hidden_wrong: int
    """Of the hidden ones those whose true verdict is not verified."""


def lines_of(outcome: Outcome) -> list[Line]:
    made = []
    for kind in KINDS:
        mine = {key: n for key, n in outcome.counts.items() if key[0] == kind.name}

        def number(
            true: str | None = None, now: str | None = None, mark: str = "", other: bool = False, mine: Any = mine
        ) -> int:
            return sum(
                n
                for (_, t, w, m), n in mine.items()
                if true in (None, t) and now in (None, w) and m.startswith(mark) and (not other or t != w)
            )

        made.append(
            Line(
                kind,
                sum(mine.values()),
                sum(n for (_, t, w, m), n in mine.items() if t == w and not m),
                number(now="inconclusive", other=True),
                number(now="not-verified", other=True),
                number(now="refused"),
                number(mark="false"),
                number(mark="hidden"),
                sum(n for (_, t, _, m), n in mine.items() if m.startswith("hidden") and t != "verified"),
            )
        )
    return made


def page(outcome: Outcome, seed: int, given: Material) -> str:
    """The report, without a date: it follows from code, seed and number."""
    lines = lines_of(outcome)
    pairs = sum(line.pairs for line in lines)
    harmless = [line for line in lines if line.kind.group == "harmless"]
    false = sum(line.false for line in lines)
    kept = sum(line.kept for line in harmless) / max(1, sum(line.pairs for line in harmless))
    sources = Counter(t.swap.name.split("/")[0] for t in given.truths)
    out = [
        "# Damage",
        "",
        f"Made by `python benchmarks/damage.py --pairs {pairs} --seed {seed}`: {pairs:,} damaged pairs of texts, "
        f"of {sources['fixtures']} fixtures in {len({t.swap.dialect.name for t in given.truths})} dialects and "
        f"{sources['simulated']} simulated swaps; {sum(len(good) for good, _ in given.families)} of them are truly "
        f"verified. Four in five of the damaged ones are of the {len(given.telling)} families that have such a swap, each as "
        "often as any other, the simulated switch counting as one; and three in four of these are truly verified.",
        "",
        f"- falsely verified: **{false:,}** (goal 0)",
        f"- harmless changes that kept the verdict: **{kept:.3%}** (goal at least {GOAL_KEPT:.1%})",
        f"- passed because no judge of these texts can see the damage: **{sum(line.hidden for line in lines):,}**, "
        f"of them {sum(line.hidden_wrong for line in lines):,} of swaps that are truly not verified (see below)",
        "",
        "*kept*: the verdict is the true one, and where it is `verified` the text still says all that it rests on. "
        "*falsely verified*: `verified`, although the true verdict is another, or a reading that it rests on is gone, "
        "is invented or says something else. *unseen*: the same, but the damage left a text that the device could have "
        "printed. *refused*: the family or the unit is not recognised any more; nothing is judged.",
        "",
        "| damage | what it does | pairs | kept | turned inconclusive | turned not-verified | refused | unseen | falsely verified |",
        "|---|---|--:|--:|--:|--:|--:|--:|--:|",
    ]
    out.extend(
        f"| {x.kind.name} | {x.kind.does} | {x.pairs:,} | {x.kept:,} | {x.inconclusive:,} | {x.not_verified:,} "
        f"| {x.refused:,} | {x.hidden:,} | {x.false:,} |"
        for x in lines
    )
    reasons: Counter[tuple[str, bool]] = Counter()
    for (_, true, _, mark), n in outcome.counts.items():
        if mark.startswith("hidden: "):
            reasons[mark.removeprefix("hidden: "), true == "verified"] += n
    out += [
        "",
        "## Unseen damage",
        "",
        "Counted apart, and not as harmless. The bounds are those of `consolecheck/rehearsal/truth.py`, which do not come "
        "from the rules that are tried. A live job reads each thing several times and compares; texts alone cannot.",
        "",
        "| why it cannot be seen | truly verified | truly not |",
        "|---|--:|--:|",
    ]
    out.extend(
        f"| {why} | {reasons[why, True]:,} | {reasons[why, False]:,} |" for why in sorted({w for w, _ in reasons})
    )
    wrong = [e for e in outcome.examples if e["mark"] == "false"]
    if wrong:
        out += ["", "## Falsely verified", ""]
        out.extend(f"- {e['swap']} ({e['side']}), {e['kind']}: {'; '.join(e['differs'])}" for e in wrong[:40])
    return "\n".join(out) + "\n"


def _done(tasks: list[tuple[int, int, int]], workers: int) -> Iterator[tuple[int, Outcome]]:
    """The chunks as they get done; with one worker in this process, so that killing it leaves nothing behind."""
    if workers == 1:
        yield from map(chunk, tasks)
        return
    with multiprocessing.Pool(workers) as pool:
        yield from pool.imap_unordered(chunk, tasks)


def main() -> int:
    parser = argparse.ArgumentParser(description="Damaged texts, judged and held against the untouched ones.")
    parser.add_argument("--pairs", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=33)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument(
        "--out", type=Path, required=True, help="folder for what is done; a killed campaign goes on there"
    )
    parser.add_argument("--page", type=Path, help="where the report goes besides, such as docs/damage.md")
    args = parser.parse_args()
    try:
        ledger = Ledger(args.out, args.seed, args.pairs)
    except ValueError as reason:
        print(reason, file=sys.stderr)
        return 2
    given = material(SITES)
    for name in given.left_out:
        print(f"left out, since it is not judged as it should be: {name}", file=sys.stderr)
    left = ledger.left()
    for number, outcome in _done(left, args.workers):
        ledger.add(number, outcome)
        print(f"\r{len(ledger.done)}/{len(ledger.tasks)} chunks", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    total = ledger.sum()
    told = page(total, args.seed, given)
    (args.out / "damage.md").write_text(told, encoding="utf-8", newline="\n")
    with open(args.out / "examples.jsonl", "w", encoding="utf-8", newline="\n") as file:
        file.writelines(json.dumps(example) + "\n" for example in total.examples)
    if args.page:
        args.page.write_text(told, encoding="utf-8", newline="\n")
    print(told)
    lines = lines_of(total)
    harmless = [line for line in lines if line.kind.group == "harmless"]
    kept = sum(line.kept for line in harmless) >= GOAL_KEPT * sum(line.pairs for line in harmless)
    return 0 if kept and not any(line.false for line in lines) else 1


if __name__ == "__main__":
    sys.exit(main())
