"""Read twice, agree: whether two readings of one command say the same.

A template alone cannot keep the promise: of real tables with one character flipped or lost some read
well and wrong. On a line that can err a command is therefore asked again until two readings agree in
structure (units, conditions, sensors), and in numbers within what moves between two moments.
"""

from consolecheck.records.readings import AnyReading, Condition, Snapshot

MOVES = 0.05
"""Share by which a live value may move between two readings a minute apart. Common practice."""
STEPS = 2.0
"""Units (K, V, W, A, rpm/100) that it may move besides: two steps of a whole-number display."""
_STEADY = ("capacity", "low_critical", "low_warning", "high_warning", "high_critical")


def usable(snapshot: Snapshot) -> bool:
    """Whether a reading is worth comparing: something was read, nothing was left unread or cut."""
    return bool(snapshot.tables) and not snapshot.unread and not any(table.cut for table in snapshot.tables)


def disagreement(one: Snapshot, two: Snapshot) -> str:
    """Where two readings differ in what they say; empty where they agree."""
    first = [(s.table, s.reading) for s in one.sightings]
    second = [(s.table, s.reading) for s in two.sightings]
    if len(first) != len(second):
        return f"{len(first)} and {len(second)} rows"
    for (table, a), (other_table, b) in zip(first, second, strict=True):
        if a == b and table == other_table:
            continue
        if table != other_table or told(a) != told(b):
            return f"{a.subject}: {_words(a)} and {_words(b)}"
        if difference := _numbers(a, b):
            return f"{a.subject}: {difference}"
    return ""


def told(reading: AnyReading) -> tuple[object, ...]:
    """Everything about a reading that cannot change between two moments of a steady device."""
    return (
        reading.kind,
        reading.unit,
        reading.name,
        reading.condition,
        *(reading.given(f) for f in ("serial", "part_number", "airflow", "airflow_word", "feed", "input_type")),
        frozenset(reading.quantities()),
    )


def _words(reading: AnyReading) -> str:
    return f"{reading.status_text or reading.condition or Condition.UNKNOWN} {reading.given('serial') or ''}".strip()


def _numbers(a: AnyReading, b: AnyReading) -> str:
    others = b.quantities()
    for name, quantity in a.quantities().items():
        other = others[name]
        apart = abs(quantity.value - other.value)
        if name in _STEADY and apart:
            return f"{name.replace('_', ' ')} {quantity} and {other}"
        step = STEPS * (100 if quantity.unit == "rpm" else 3600 if quantity.unit == "s" else 1)
        if apart > max(step, MOVES * max(abs(quantity.value), abs(other.value))):
            return f"{name.replace('_', ' ')} {quantity} and {other}"
    return ""
