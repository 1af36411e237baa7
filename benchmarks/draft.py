"""How much of what inference reads of a family, its own dialect withheld, a draft reads as well.

    .venv/bin/python benchmarks/draft.py [FAMILY ...]
    .venv/bin/python benchmarks/draft.py DIR     # texts of your own, in folders of a family each

Each text is drafted from alone. Printed are readings inferred, readings that the draft gives (all of
them equal to inferred ones, or this ends with an error), and why the rest was left out.
"""

import sys
from collections import Counter
from pathlib import Path

from consolecheck.drafting.draft import CannotDraft, draft
from consolecheck.files.shelf import shipped
from consolecheck.reading.reader import read_unknown


def main(families: list[str]) -> None:
    """Prints the table and the reasons."""
    inferred, drafted, texts = Counter[str](), Counter[str](), Counter[str]()
    reasons = Counter[str]()
    for raw, family in {path.read_bytes(): family for path, family in _captures(families)}.items():
        readings = Counter(map(repr, read_unknown(raw, family).readings))
        texts[family] += 1
        inferred[family] += readings.total()
        if not readings:
            continue
        try:
            made = draft(raw, "drafted", family)
        except CannotDraft as reason:
            reasons[f"{family}: {str(reason).partition(': ')[2][:120]}"] += readings.total()
            continue
        given = Counter(map(repr, made.snapshot.readings))
        assert not given - readings, f"a draft of {family} reads what inference did not"
        drafted[family] += given.total()
        reasons.update(f"{family}: {left.why[:120]}" for left in made.left_out)
    print(f"{'family':<22} texts  inferred  drafted")
    for family in sorted(texts):
        share = f"{drafted[family] / inferred[family]:.0%}" if inferred[family] else "-"
        print(f"{family:<22} {texts[family]:>5} {inferred[family]:>9} {drafted[family]:>8}  {share:>4}")
    print(
        f"{'all':<22} {texts.total():>5} {inferred.total():>9} {drafted.total():>8}  {drafted.total() / inferred.total():>4.0%}"
    )
    for reason, number in reasons.most_common(20):
        print(f"{number:>5}  {reason}")


def _captures(families: list[str]) -> list[tuple[Path, str]]:
    if len(families) == 1 and Path(families[0]).is_dir():
        return [(path, path.parent.name) for path in sorted(Path(families[0]).glob("*/*.txt"))]
    found = sorted(shipped("fixtures").glob("*/*/*.txt"))
    texts = [(path, path.parent.parent.name) for path in found if path.stem in ("before", "after")]
    return [(path, family) for path, family in texts if not families or family in families]


if __name__ == "__main__":
    main(sys.argv[1:])
