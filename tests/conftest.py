"""Every byte that any test sends over a link is recorded, and must be one that a guard lists; no secret is written."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from consolecheck.console import wire
from consolecheck.console.guard import Guard, Outgoing
from consolecheck.files.shelf import dialects

LISTED = {outgoing.data for dialect in dialects() for outgoing in Guard(dialect).everything()}
SENT: list[tuple[str, bytes]] = []
SECRETS = {b"high-water-7", b"low-water-7", b"spring-tide-7", b"lee-tide-7", b"zzzz-secret", b"tide+Gauge-7"}
"""Every password and passphrase that a test lets the tool know of; those typed in this process are added."""
STAND_INS = {"ssh", "console.sh"}
"""Files of the tests themselves that must know a secret: programs that play the other side."""


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
    SECRETS.update(typed for o in sent if o.purpose == "password" and len(typed := o.data.strip()) >= 6)
    strange = [o for o in sent if o.purpose not in ("name", "password") and o.data not in LISTED]
    assert strange == []


def holding_a_secret(folder: Path) -> list[str]:
    """Files below a folder in which one of the secrets stands as it was typed."""
    found = []
    for root, _, names in os.walk(folder):
        for name in names:
            path = Path(root) / name
            if name in STAND_INS or not path.is_file() or path.is_symlink():
                continue
            data = path.read_bytes()
            found += [f"{path}: {secret.decode()}" for secret in SECRETS if secret in data]
    return found


@pytest.fixture(autouse=True, scope="session")
def _no_secret_is_written(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Looks through everything that the whole suite wrote, when it is over."""
    yield
    found = holding_a_secret(tmp_path_factory.getbasetemp())
    assert found == []
