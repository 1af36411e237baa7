"""Bytes to a verdict under a coverage-guided fuzzer: does anything crash, hang or fill the memory?

Run: `python benchmarks/fuzz.py --minutes 3 --seed 33 --out DIR`. Needs atheris (`pip install atheris`), which is no
requirement of anything else here. Starts from the fixtures and from the inputs in `tests/data/fuzz`, keeps what reaches
new code in DIR/corpus, and goes on behind a fault until the time is over. Each fault is kept as DIR/faults/NAME.bin with
the reason beside it. Exits 1 if there was one. An input that was mended belongs in `tests/data/fuzz`, where the tests run
it without atheris.

An input is a line with a dialect (one that is not known: it is recognised; `?`: the text is read without one) and a
unit, a text before the swap, `DIVIDER`, and a text after it.
"""

import argparse
import io
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / "tests" / "data" / "fuzz"
DIVIDER = b"\n<<before/after>>\n"
LONGEST = 32 * 1024
"""Bytes of an input."""
SECONDS = 10
"""Of this process's own time, after which an input hangs; usual ones take some hundredths."""
MEGABYTES = 1024
"""Of the whole process; it begins with some 150."""
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]")


class Broken(AssertionError):
    """An answer that must not be, although nothing crashed."""


def judged(data: bytes) -> str:
    """What an input comes to: a verdict, or the reason why there is none. Any exception is a fault."""
    from consolecheck.judging.acceptance import Acceptance
    from consolecheck.judging.judge import NoSuchUnit, judge, judge_alone
    from consolecheck.judging.view import View
    from consolecheck.reading.reader import NotRecognised, read_text, read_unknown
    from consolecheck.reading.recorded import RecordingFault, unpacked
    from consolecheck.reporting.proof import Proof

    head, _, rest = data.partition(b"\n")
    name, _, unit_named = head.decode("latin-1").partition(" ")
    before, _, after = rest.partition(DIVIDER)
    known = _dialects()
    chosen = next((dialect for dialect in known if dialect.name == name), None)
    try:
        sides = [unpacked(side).raw for side in (before, after)]
    except RecordingFault as refused:
        return type(refused).__name__
    texts = {"before": sides[0], "after": sides[1]}
    try:
        if name == "?":
            found = [read_unknown(side, which) for side, which in zip(sides, ("before", "after"), strict=True)]
        else:
            found = [
                read_text(side, which, known, chosen) for side, which in zip(sides, ("before", "after"), strict=True)
            ]
    except NotRecognised as refused:
        return type(refused).__name__
    for side, snapshot in zip(sides, found, strict=True):
        _numbers_lie_within(side, snapshot)
    units = sorted({*View(found[0], "before").units, *View(found[1], "after").units}) or ["psu-1"]
    unit = unit_named if unit_named in units else units[0]
    verdicts = []
    for alone in (False, True):
        try:
            judgement = (
                judge_alone(found[1], unit, Acceptance()) if alone else judge(found[0], found[1], unit, Acceptance())
            )
        except NoSuchUnit:
            verdicts.append("NoSuchUnit")
            continue
        verdicts.append(judgement.verdict.value)
        if judgement.verdict.value == "verified" and not found[1].sightings:
            raise Broken("verified, and nothing was read")
        if len(data) % 4 == alone:  # writing costs more than judging, and need not follow every verdict
            proof = Proof(judgement, None if alone else found[0], found[1], texts, {}, Acceptance(), "1.0")
            _shown(proof, with_page=len(data) % 32 == 0)
    return " ".join(verdicts)


@cache
def _dialects():
    from consolecheck.files.shelf import dialects

    return dialects()


def _numbers_lie_within(raw, snapshot) -> None:
    from consolecheck.reading.inference.text import OUR_FAULT

    lines = raw.count(b"\n") + 1
    for sighting in snapshot.sightings:
        if not all(1 <= number <= lines for number in sighting.lines):
            raise Broken(f"a reading of lines {sighting.lines} in a text of {lines}")
    for line in snapshot.unread:
        if line.reason == OUR_FAULT:
            raise Broken(f"line {line.number}: reading by layout raised what it must not")
    for line in (*snapshot.unread, *snapshot.passed_over):
        if not 1 <= line.number <= lines:
            raise Broken(f"line {line.number} of a text of {lines}")


def _shown(proof, with_page: bool) -> None:
    """Everything that is shown or written, and no control character in what reaches a terminal."""
    from consolecheck.reporting.exchange_files import files_of
    from consolecheck.reporting.page import page
    from consolecheck.reporting.terminal import Screen, show_judgement, show_snapshot

    lines = {side: text.decode("utf-8", "replace").split("\n") for side, text in proof.texts.items()}
    written = io.StringIO()
    screen = Screen(written)
    show_judgement(screen, proof.judgement, proof.before, proof.after, lines, "limits", True)
    show_snapshot(screen, proof.after)
    if _CONTROL.search(written.getvalue()):
        raise Broken("a control character reaches the terminal")
    files_of(proof)
    if with_page:
        page(proof)


def bounded(data: bytes) -> str:
    """As `judged`, and within its time. Raises Broken beyond."""
    began = time.process_time()
    answer = judged(data)
    spent = time.process_time() - began
    if spent > SECONDS:
        raise Broken(f"took {spent:.0f} s for {len(data)} bytes")
    return answer


def seeds() -> Iterator[tuple[str, bytes]]:
    """Name and input: each case of the fixtures, and what was mended."""
    from consolecheck.cases.check import cases_of
    from consolecheck.files.shelf import shipped

    for case in cases_of(shipped("fixtures")):
        texts = case.text("before") + DIVIDER + case.text("after")
        if len(texts) <= LONGEST:
            unit = case.file.unit.encode()
            yield f"{case.dialect_name}-{case.name}", case.dialect_name.encode() + b" " + unit + b"\n" + texts
            if case.name.endswith("replaced"):
                yield f"unknown-{case.dialect_name}-{case.name}", b"? " + unit + b"\n" + texts
    for path in sorted(KEPT.glob("*.bin")):
        yield path.stem, path.read_bytes()


def words() -> Iterator[bytes]:
    """What the families print, for a fuzzer to put together."""
    yield DIVIDER
    for known in _dialects():
        yield known.name.encode()
        yield from (text.encode() for text, _ in known.evidence)
        yield from (command.send.encode() for command in known.manifest.commands)
        for kind in known.manifest.words.values():
            yield from (word.encode() for word in kind)
    yield from (
        b"\x1b[2K",
        b"\x1b[5C",
        b"\x1b]0;",
        b"--More--",
        b"\xff\xfd\x01",
        b"\r\n",
        b"N/A",
        b"999999999999",
        b"-0",
        b"1e99",
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--minutes", type=float, default=3)
    parser.add_argument("--seed", type=int, default=33)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--child", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.child:
        return _fuzz(given)
    try:
        import atheris  # noqa: F401
    except ModuleNotFoundError:
        print("atheris is not installed; get it with `pip install atheris`, then run this again", file=sys.stderr)
        return 2
    corpus, faults = given.out / "corpus", given.out / "faults"
    for folder in (corpus, faults):
        folder.mkdir(parents=True, exist_ok=True)
    for name, data in seeds():
        (corpus / f"seed-{name}").write_bytes(data)
    quoted = ("".join(f"\\x{byte:02x}" for byte in word) for word in sorted({w for w in words() if w}))
    (given.out / "words.dict").write_text("".join(f'"{word}"\n' for word in quoted))
    until = time.monotonic() + given.minutes * 60
    tried, found, seed = 0, 0, given.seed
    while (left := until - time.monotonic()) > 5:
        command = [sys.executable, __file__, "--child", "--out", str(given.out)]
        command += ["--minutes", str(left / 60), "--seed", str(seed)]
        ended = subprocess.run(command, capture_output=True, text=True, errors="replace")
        counts = re.findall(r"^#(\d+)", ended.stderr, re.MULTILINE)
        tried += max(map(int, counts), default=0)
        new = [
            path for kind in ("crash", "timeout", "oom", "leak") for path in faults.glob(f"{kind}-*") if not path.suffix
        ]
        for path in new:
            path.rename(path.with_suffix(".bin"))
            path.with_suffix(".txt").write_text(ended.stderr[-6000:])
            print(f"{path.with_suffix('.bin')}: {_reason(ended.stderr)}", flush=True)
        found += len(new)
        if ended.returncode and not new:
            print(ended.stderr[-3000:], file=sys.stderr)
            return 2
        seed += 1
    covered = re.findall(r"cov: (\d+) ft: (\d+)", ended.stderr) or [("?", "?")]
    print(
        f"{tried} inputs in {given.minutes:g} minutes, {len(list(corpus.iterdir()))} kept, "
        f"{covered[-1][0]} edges of code reached; {found} faults"
    )
    return 1 if found else 0


def _reason(told: str) -> str:
    shown = re.findall(r"^ === Uncaught Python exception: ===\n(.*)", told, re.MULTILINE)
    return shown[-1] if shown else next((line for line in told.splitlines() if line.startswith("==")), "?")


def _fuzz(given: argparse.Namespace) -> int:
    """The fuzzer's own process: ends at the first fault."""
    import atheris

    with atheris.instrument_imports(include=["consolecheck", "textfsm"]):
        import consolecheck.judging.judge
        import consolecheck.reading.reader
        import consolecheck.reporting.exchange_files
        import consolecheck.reporting.page
        import consolecheck.reporting.terminal  # noqa: F401
    for _, data in seeds():  # what is loaded late is no fault of the input that loads it
        bounded(data)
    arguments = [
        sys.argv[0],
        str(given.out / "corpus"),
        f"-artifact_prefix={given.out / 'faults'}/",
        f"-dict={given.out / 'words.dict'}",
        f"-max_total_time={max(1, int(given.minutes * 60))}",
        f"-seed={given.seed}",
        f"-max_len={LONGEST}",
        f"-timeout={SECONDS * 6}",
        f"-rss_limit_mb={MEGABYTES}",
        "-use_value_profile=0",
    ]
    atheris.Setup(arguments, lambda data: bounded(data) and None)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
