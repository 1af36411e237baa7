"""One job's folder judged again: the same for `replay JOB` and for an archive of a hundred thousand."""

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from pathlib import Path
from threading import Lock
from typing import Final, NamedTuple

from consolecheck.job.folder import Folder, Still
from consolecheck.job.held import Held, Read, as_live, dialect_of, held, read_plainly
from consolecheck.job.seal import Seal, examine
from consolecheck.judging.acceptance import Acceptance
from consolecheck.judging.judge import judge, judge_alone
from consolecheck.judging.view import Observed
from consolecheck.reading.dialect import Dialect
from consolecheck.records.findings import Judgement
from consolecheck.records.readings import Snapshot


class Again(NamedTuple):
    """A judged job, with what it was judged from."""

    held: Held
    limits: Acceptance
    observed: tuple[Observed, ...]
    reseat: str | None
    raw: Mapping[str, bytes]
    before: Snapshot | None
    after: Snapshot
    judgement: Judgement


def judge_again(
    folder: Folder,
    limits: Acceptance,
    dialect: Dialect,
    read: Read = read_plainly,
    unit: str | None = None,
    observed: tuple[Observed, ...] = (),
    reseat: str | None = None,
) -> Again:
    """The verdict on what a folder holds, with what is stated besides.

    Raises FolderFault where something of it is missing or broken, NoSuchUnit where neither text shows the unit, and
    DialectFault.
    """
    found = held(folder, dialect, read)
    live = as_live(limits)
    seen = (*found.observed, *observed)
    unit, reseat = unit or found.job.unit, reseat or found.reseat
    raw = {"after": found.after} if found.before is None else {"before": found.before, "after": found.after}
    before = None if found.before is None else found.with_name(read(found.before, "before.txt", dialect))
    after = found.with_name(read(found.after, "after.txt", dialect))
    if before is None:
        judgement = judge_alone(after, unit, live, seen, found.samples, found.taken)
    else:
        judgement = judge(before, after, unit, live, seen, reseat, found.samples, found.taken)
    return Again(found, live, seen, reseat, raw, before, after, judgement)


_OWN_DIALECTS: Final = 16


class Remembered:
    """Reads texts, and those that were read lately not again. Bounded, and safe for several threads."""

    MOST: Final = 64
    """Texts; a read one takes some hundred kilobytes. Jobs that share one are judged one after the other."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._known: OrderedDict[tuple[bytes, str, str | None], Snapshot] = OrderedDict()
        self._own: dict[tuple[str, str], Dialect] = {}
        self._lock = Lock()
        self.asked = 0
        self.parsed = 0

    def __call__(self, raw: bytes, source: str, dialect: Dialect) -> Snapshot:
        key = (raw, dialect.name, dialect.digest)
        with self._lock:
            self.asked += 1
            found = self._known.get(key)
            if found is not None:
                self._known.move_to_end(key)
        if found is None:
            found = read_plainly(raw, source, dialect)
            with self._lock:
                self.parsed += 1
                self._known[key] = found
                if len(self._known) > self._most:
                    self._known.popitem(last=False)
        return found if found.source == source else found._replace(source=source)

    def dialect_of(self, folder: Folder, shipped: Iterable[Dialect]) -> Dialect | None:
        """A job's dialect; one that another job kept a copy of, too, is not compiled again. Raises as held's does."""
        found = dialect_of(folder, folder.job(), shipped)
        if found is None or found.digest is None:
            return found
        with self._lock:
            if len(self._own) >= _OWN_DIALECTS:
                self._own.clear()
            return self._own.setdefault((found.name, found.digest), found)


def sealed(root: Path, name: str) -> tuple[Folder, Seal]:
    """A job within an archive, and its seal, which holds or is not there. Raises FolderFault."""
    folder = Still(root / name)
    folder.job()  # that there is one, before its seal is looked at
    return folder, examine(folder)
