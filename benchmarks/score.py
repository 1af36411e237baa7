"""Scores readings against labels made by hand: dialects, and the inferring reader with dialects withheld.

    python benchmarks/score.py                    # every group, one row each
    python benchmarks/score.py --show invented    # and what differs
    python benchmarks/score.py --folder DIR       # texts of your own: NAME.txt and NAME.labels
    python benchmarks/score.py --speed            # what an unknown text costs, as a multiple of its dialect
    python benchmarks/score.py --speed --cold     # the same with nothing remembered of earlier texts

`found` is the share of labels that have a reading of their kind on their lines; `right` is the share of the
readings reported that agree with their label in kind, name, condition, every quantity and its unit; a serial, part
number or airflow that both have must be the same, too. How labels are written is told in tests/labelled_texts.py.
"""

import argparse
import re
import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from labelled_texts import HERE, Label, Labelled, Score, captures, score, texts_of

from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.dialect import Dialect
from consolecheck.reading.reader import NotRecognised, forget, read_text, recognise
from consolecheck.records.readings import Sighting, Snapshot

_KINDS = ("power_supply", "fan", "temperature")
Reader = Callable[[bytes], Snapshot]


def by_dialect(raw: bytes) -> Snapshot:
    return read_text(raw, "text", dialects())


def by_inference(raw: bytes) -> Snapshot:
    from consolecheck.reading.reader import read_unknown

    return read_unknown(raw, "text")


def of_fixtures() -> Iterator[Labelled]:
    """The texts of the fixtures; their dialects' readings, which claims and recordings hold, are the labels.

    A unit's name there may come from the dialect, too; so this group tells less than the labels made by hand.
    What a dialect puts before a name, such as the chip or the member, may be left out where no other is named so.
    """
    for text in sorted(shipped("fixtures").glob("*/*/after.txt")):
        snapshot = by_dialect(text.read_bytes())
        labels = tuple(_as_label(s) for s in snapshot.sightings if s.reading.kind in _KINDS)
        ends = Counter((x.kind, end) for x in labels for end in {_end(c) for c in x.called})
        labels = tuple(
            x._replace(called=(*x.called, *(e for c in x.called if ends[x.kind, e := _end(c)] == 1))) for x in labels
        )
        yield Labelled(f"{text.parent.parent.name}/{text.parent.name}", text, _KINDS, labels)


def _end(name: str) -> str:
    """A name without its first word, or two where these are a part and its number: `switch 1 FAN PS-1`."""
    return re.sub(r"^(?:[a-z]+ \d+|\S+) (?=\S)", "", name)


def _as_label(sighting: Sighting) -> Label:
    reading = sighting.reading
    names = tuple(n for n in (reading.unit, reading.name, reading.subject) if n)
    # What a maker's own word means only its dialect knows: a reader without it may leave the condition open.
    told = (reading.condition.value if reading.condition else "-", "-")
    quantities = {name: (q.value, str(q.unit)) for name, q in reading.quantities().items()}
    parts = {name: str(v) for name in ("serial", "part_number", "airflow") if (v := reading.given(name))}
    return Label(frozenset(sighting.lines), reading.kind, names, told, quantities, parts, by_dialect=True)


def scored(texts: list[Labelled], reader: Reader) -> tuple[Score, int]:
    """The sum over texts, and how many lines were left unread."""
    total, unread = Score(), 0
    for text in texts:
        try:
            snapshot = reader(text.text.read_bytes())
        except NotRecognised as reason:
            total += Score(len(text.labels), 0, 0, 0, (f"{text.name}: {reason}",))
            continue
        unread += len(snapshot.unread)
        total += score(text, snapshot.sightings)
    return total, unread


def forget_all(chosen: Dialect) -> None:
    """Drops whatever reading remembers of earlier texts: that of the dialect, and every cache of a function."""
    forget(chosen)
    for name, module in list(sys.modules.items()):
        if (
            name.startswith(("consolecheck.reading.", "consolecheck.records."))
            and module is not sys.modules[forget.__module__]
        ):
            for value in vars(module).values():
                if hasattr(value, "cache_clear"):
                    value.cache_clear()


def speed(cold: bool) -> None:
    """What the inferring reader costs beside the dialect, over fixtures' texts of 60 lines and more.

    `cold`: with all that is remembered dropped before each reading, as for a text that is the first of its process.
    """
    ratios = []
    for text in sorted(shipped("fixtures").glob("*/*/after.txt")):
        raw = text.read_bytes()
        if raw.count(b"\n") < 60:
            continue
        chosen = recognise(raw, dialects())
        cost = []
        for reader in (
            lambda raw=raw, chosen=chosen: read_text(raw, "", dialects(), chosen),
            lambda raw=raw: by_inference(raw),
        ):
            best = float("inf")
            for _ in range(7):
                if cold:
                    forget_all(chosen)
                began = time.process_time()
                reader()
                best = min(best, time.process_time() - began)
            cost.append(best)
        ratios.append((cost[1] / cost[0], text.parent.parent.name))
    for family in sorted({name for _, name in ratios}):
        own = [r for r, name in ratios if name == family]
        print(f"{family:24} {statistics.median(own):5.1f} times its dialect, over {len(own)} texts")
    print(f"{'all':24} {statistics.median(r for r, _ in ratios):5.1f} (largest {max(ratios)[0]:.1f})")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--show", nargs="*", default=[], metavar="GROUP", help="list the differences of these groups")
    parser.add_argument("--folder", type=Path, help="score the labelled texts of this folder only")
    parser.add_argument("--speed", action="store_true", help="measure cost instead")
    parser.add_argument("--cold", action="store_true", help="with --speed: forget earlier texts before each reading")
    chosen = parser.parse_args()
    if chosen.speed:
        speed(chosen.cold)
        return
    rows: dict[str, tuple[list[Labelled], Reader]] = {}
    if chosen.folder:
        rows["folder"] = (texts_of(chosen.folder), by_inference)
    else:
        here = captures()
        rows["dialects"] = (here, by_dialect)
        rows["captures"] = (here, by_inference)
        rows["fixtures"] = (list(of_fixtures()), by_inference)
        rows["invented"] = (texts_of(HERE / "invented"), by_inference)
        rows["left_open"] = (texts_of(HERE / "left_open"), by_inference)
        rows["kept_apart"] = (texts_of(HERE / "kept_apart"), by_inference)
    print(f"{'':12} texts labels   found  reported   right  lines unread")
    for name, (texts, reader) in rows.items():
        if not texts:
            print(f"{name:12} no texts here")
            continue
        total, unread = scored(texts, reader)
        print(
            f"{name:12} {len(texts):5} {total.labels:6} {total.found_share:6.1%}  {total.reported:8} "
            f"{total.right_share:6.1%}  {unread}"
        )
        if name in chosen.show:
            print(*(f"    {line}" for line in total.differences), sep="\n")


if __name__ == "__main__":
    main()
