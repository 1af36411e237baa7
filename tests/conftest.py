"""Every byte that any test sends over a link is recorded, and must be one that a guard lists."""

from collections.abc import Iterator

import pytest

from consolecheck.console import wire
from consolecheck.console.guard import Guard, Outgoing
from consolecheck.files.shelf import dialects

LISTED = {outgoing.data for dialect in dialects() for outgoing in Guard(dialect).everything()}
SENT: list[tuple[str, bytes]] = []


@pytest.fixture(autouse=True)
def _nothing_leaves_but_what_is_listed(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Wraps the one door of all links for each test, and looks at what went through it."""
    door = wire.writable
    sent: list[Outgoing] = []

    def watched(outgoing: object) -> Outgoing:
        let_out = door(outgoing)
        sent.append(let_out)
        return let_out

    monkeypatch.setattr(wire, "writable", watched)
    yield
    SENT.extend((outgoing.purpose, outgoing.data) for outgoing in sent)
    strange = [o for o in sent if o.purpose not in ("name", "password") and o.data not in LISTED]
    assert strange == []
