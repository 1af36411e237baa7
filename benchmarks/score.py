"""Scores readings against labels made by hand: dialects, and the inferring reader with dialects withheld.

    python benchmarks/score.py                    # every group, one row each
    python benchmarks/score.py --show invented    # and what differs
    python benchmarks/score.py --folder DIR       # texts of your own: NAME.txt and NAME.labels
    python benchmarks/score.py --speed            # what an unknown text costs, as a multiple of its dialect
    python benchmarks/score.py --speed --cold     # the same with nothing remembered of earlier texts
    python benchmarks/score.py --table 100        # the same of one table of 100 rows, cold; goal 5

`found` is the share of labels that have a reading of their kind on their lines; `right` is the share of the
readings reported that agree with their label in kind, name, condition, every quantity and its unit; a serial, part
number or airflow that both have must be the same, too. How labels are written is told in tests/labelled_texts.py.
"""

import argparse
import gc
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


def _heat_points(rows: int, each: bool) -> str:
    return (
        "tern-04 ~> tell heat\nHEAT POINTS\n  point    now/C  cold/C  warm/C  hot/C  state\n"
        + "".join(
            f"  asic-{i:<3} {20 + i % 40}.{i % 10}   0.0     {70 + (i / 11 if each else i % 9):.1f}    {85 + i / 11 * each:.1f}   easy\n"
            for i in range(rows)
        )
        + f"END HEAT POINTS, {rows} rows\ntern-04 ~>\n"
    )


def _by_module(rows: int, each: bool) -> str:
    ruler = "-" * 68 + "\n"
    return (
        f"tern-11# show environment temperature\nTemperature:\n{ruler}"
        "Module   Sensor        MajorThresh   MinorThres   CurTemp     Status\n"
        f"                        (Celsius)     (Celsius)    (Celsius)\n{ruler}"
        + "".join(
            f"{1 + i // 10:<8} {f'TD{i % 10}-{i}':<15} {100 + (i if each else i % 5):<15} "
            f"{80 + (i if each else i % 5):<11} {20 + i % 40:<10} Ok\n"
            for i in range(rows)
        )
        + "tern-11# \n"
    )


def _one_sensor_a_row(rows: int, each: bool) -> str:
    widths = (13, 13, 9, 8, 14, 13, 9, 17)
    labels = ("NAME", "Temperature", "High Th", "Low Th", "Crit High Th", "Crit Low Th", "Warning", "Timestamp")
    told = (
        (f"TS {i}", 20.5 + i % 40, 70.0 + (i / 10 if each else i % 5), "N/A", 90.0, "N/A", "False", "20261118 06:51:20")
        for i in range(rows)
    )
    lines = [labels, ["-" * w for w in widths], *told]
    printed = "".join("  ".join(f"{cell:>{w}}" for cell, w in zip(line, widths, strict=True)) + "\n" for line in lines)
    return f"admin@tern-20:~$ show platform temperature\n{printed}admin@tern-20:~$ \n"


def table_speed(rows: int) -> None:
    """What one table of so many rows costs without its dialect, beside it; nothing is remembered of earlier texts."""
    for family, make in (("wexcombe", _heat_points), ("cisco_nxos", _by_module), ("sonic", _one_sensor_a_row)):
        chosen = next(d for d in dialects() if d.name == family)
        for each in (False, True):
            raw = make(rows, each).encode()
            cost, read = [float("inf")] * 2, [0, 0]
            for _ in range(25):
                for n, reader in enumerate((lambda: by_inference(raw), lambda: read_text(raw, "", dialects(), chosen))):  # noqa: B023
                    forget_all(chosen)
                    gc.collect()
                    began = time.process_time()
                    read[n] = len(reader().readings)
                    cost[n] = min(cost[n], time.process_time() - began)
            if read != [rows, rows]:
                sys.exit(f"{family}: {read} readings of {rows} rows")
            limits = "limits of their own in each row" if each else "a few sets of limits"
            print(
                f"{family:12} {limits:32} {cost[0] * 1e3:5.1f} ms / {cost[1] * 1e3:4.1f} ms  {cost[0] / cost[1]:4.1f} times"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--show", nargs="*", default=[], metavar="GROUP", help="list the differences of these groups")
    parser.add_argument("--folder", type=Path, help="score the labelled texts of this folder only")
    parser.add_argument("--speed", action="store_true", help="measure cost instead")
    parser.add_argument("--cold", action="store_true", help="with --speed: forget earlier texts before each reading")
    parser.add_argument("--table", type=int, metavar="ROWS", help="measure the cost of one table of so many rows, cold")
    chosen = parser.parse_args()
    if chosen.table:
        table_speed(chosen.table)
        return
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
