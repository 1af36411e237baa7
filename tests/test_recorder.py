"""Recording of a console session: nothing that arrived is lost, no secret is written, players can read it.

The recordings are held against a reader made by others where it is installed (`asciinema_scene`, an editor
of such files), and always against the rules of the asciicast v2 document.
"""

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from support import dialect

from consolecheck.console import recorder
from consolecheck.console.guard import Guard
from consolecheck.console.recorder import CannotRecord, Recorder
from consolecheck.reading.recorded import RecordingFault, unpacked

CHUNKS = st.lists(st.binary(min_size=1, max_size=40) | st.text(max_size=12).map(str.encode), max_size=12)
SECRET = "tide+Gauge-7"
STARTED = 1_795_000_000


class Steps:
    """A clock that goes on by a quarter of a second with each look."""

    def __init__(self) -> None:
        self.counter = count(1000.0, 0.25)

    def __call__(self) -> float:
        return next(self.counter)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "tern-05.cast"


def recorded(chunks: list[bytes], secrets: tuple[str, ...] = ()) -> tuple[bytes, bytes]:
    """The recording of these chunks, and its twin."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "tern-05.cast"
        with Recorder(path, "tern-05", Steps(), STARTED, secrets=secrets) as made:
            for chunk in chunks:
                made.received(chunk)
        return path.read_bytes(), path.with_suffix(".txt").read_bytes()


def text_of(cast: bytes) -> bytes:
    try:
        return unpacked(cast).raw
    except RecordingFault:  # nothing was recorded
        return b""


def by_the_document(cast: bytes) -> tuple[dict[str, object], list[tuple[float, str, str]]]:
    """Header and events of an asciicast v2, read with nothing but the document's rules at hand."""
    first, *rest = cast.decode("ascii").split("\n")
    assert rest.pop() == ""
    header = json.loads(first)
    assert header["version"] == 2
    for size in ("width", "height"):
        assert isinstance(header[size], int)
        assert header[size] > 0
    assert isinstance(header.get("timestamp", 0), int)
    assert header.keys() <= {"version", "width", "height", "timestamp", "title"}, "no environment unless asked"
    events = []
    before = 0.0
    for line in rest:
        seconds, code, data = json.loads(line)
        assert isinstance(seconds, float)
        assert seconds >= before
        assert isinstance(code, str)
        assert isinstance(data, str)
        data.encode("utf-8")  # no half of a surrogate pair, which stricter readers refuse
        before = seconds
        events.append((seconds, code, data))
    return header, events


def shown(cast: bytes) -> str:
    """What a player shows."""
    return "".join(data for _, code, data in by_the_document(cast)[1] if code == "o")


# ---- nothing is lost


@given(CHUNKS)
@example([b"\xe2", b"\x82", b"\xac"])  # one character in three pieces
@example([b"\xe2", b"\x82", b"x\xff", b"\x80"])
@example([b"\xf0\x9f", b"\n"])
@example([b"ends in a half character \xe2\x82"])
def test_the_bytes_come_back_exactly(chunks: list[bytes]) -> None:
    cast, twin = recorded(chunks)
    assert b"".join(chunks) == twin
    assert b"".join(chunks) == text_of(cast)
    assert b"".join(chunks).decode("utf-8", "replace") == shown(cast)


@given(CHUNKS, st.lists(st.text(min_size=1, max_size=4).filter(str.isprintable), max_size=3))
def test_with_secrets_only_their_bytes_change(chunks: list[bytes], secrets: list[str]) -> None:
    cast, twin = recorded(chunks, tuple(secrets))
    raw = b"".join(chunks)
    assert len(raw) == len(twin)
    assert twin == text_of(cast)
    assert raw.count(b"\n") == twin.count(b"\n")
    assert all(now in (was, ord("*")) for was, now in zip(raw, twin, strict=True))


@given(CHUNKS)
def test_every_moment_is_a_whole_recording_of_what_arrived(chunks: list[bytes]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "tern-05.cast"
        made = Recorder(path, "", Steps(), secrets=("ab\xe4", "\x7f"))
        size, arrived = 0, 0
        for chunk in chunks:
            made.received(chunk)
            arrived += len(chunk)
            cast, twin = path.read_bytes(), path.with_suffix(".txt").read_bytes()
            assert len(cast) >= size, "it never gets shorter"
            size = len(cast)
            by_the_document(cast)
            assert arrived == len(twin)
            assert twin == text_of(cast)
        made.close()


WRITER = """
import sys, time
from consolecheck.console.recorder import Recorder
made = Recorder(sys.argv[1], "tern-05", time.monotonic, secrets=("zzzz-secret",))
number = 0
while True:
    for piece in (b"row %d \\xe2" % number, b"\\x82\\xac z", b"zz\\r\\n"):
        made.received(piece)
        sys.stdout.buffer.write(piece)
        sys.stdout.buffer.flush()
    number += 1
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
@pytest.mark.parametrize("length", [1, 500, 3001, 20000])
def test_a_killed_process_loses_nothing_acknowledged(path: Path, length: int) -> None:
    process = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE)
    assert process.stdout is not None
    acknowledged = process.stdout.read(length)
    process.send_signal(signal.SIGKILL)
    acknowledged += process.stdout.read()
    process.wait()
    process.stdout.close()
    # What may have been the beginning of the secret stands hidden in the last line, but it is there.
    for got in (path.with_suffix(".txt").read_bytes(), unpacked(path.read_bytes()).raw):
        kept = got[: len(acknowledged)].rstrip(b"*")
        assert len(got) >= len(acknowledged)
        assert acknowledged.startswith(kept)
        assert len(kept) >= len(acknowledged) - len(b"zzz")


def test_the_files_are_forced_to_the_disk_now_and_then_and_on_close(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    monkeypatch.setattr(recorder.os, "fsync", synced.append)
    now = 0.0
    made = Recorder(path, "", lambda: now)
    for _ in range(10):
        now += recorder.SYNC_SECONDS / 4
        made.received(b"x")
    assert len(synced) == 2 * 2
    made.close()
    made.close()
    assert len(synced) == 3 * 2


# ---- secrets


def pieces_of(raw: bytes) -> Iterator[list[bytes]]:
    yield [raw]
    yield [raw[at : at + 1] for at in range(len(raw))]
    for at in range(1, len(raw)):
        yield [raw[:at], raw[at:]]


def test_an_echoed_secret_is_hidden_however_it_is_split() -> None:
    raw = f"Password: \r\ntern-05# {SECRET}\r\n% Unknown command: {SECRET}\r\ntern-05# ".encode()
    for chunks in pieces_of(raw):
        cast, twin = recorded(chunks, (SECRET,))
        assert raw.replace(SECRET.encode(), b"*" * len(SECRET)) == twin == unpacked(cast).raw
        assert SECRET.encode() not in cast


@given(
    st.lists(st.sampled_from([b"aba", b"abab", b"ababb", b"b", b"a", b"\xc3", b"\r", b"\x1b[1m", b"\n"]), max_size=12),
    st.lists(st.sampled_from(["abab", "ababb", "bba", "ab\xe4"]), min_size=1, max_size=3, unique=True),
    st.integers(1, 5),
)
def test_no_secret_is_found_in_either_file(parts: list[bytes], secrets: list[str], step: int) -> None:
    raw = b"".join((*parts, b"\n"))
    cast, twin = recorded([raw[at : at + step] for at in range(0, len(raw), step)], tuple(secrets))
    visible = re.sub(rb"\x1b\[1m|\r", b"", twin)
    for secret in secrets:
        assert secret.encode() not in visible
        assert secret.encode() not in cast
    assert twin == text_of(cast)
    if not any(secret.encode() in re.sub(rb"\x1b\[1m|\r", b"", raw) for secret in secrets):
        assert raw == twin


@pytest.mark.parametrize(
    "echo",
    [b"tide+\x1b[1mGauge\x1b[0m-7", b"tide+Gau \rge-7".replace(b" ", b""), b"tide\x1b[32;1", b"\x00tide+\x1b[KGauge-7"],
    ids=["colours", "wrapped", "cut-in-colour", "padded"],
)
def test_what_is_not_seen_within_an_echo_does_not_save_the_secret(echo: bytes) -> None:
    raw = b"tern-05# " + echo + (b"m+Gauge-7" if echo.endswith(b"1") else b"") + b"\r\n"
    for chunks in pieces_of(raw):
        cast, twin = recorded(chunks, (SECRET,))
        letters = bytes(c for c in twin.replace(b"tern-05#", b"") if chr(c).isalpha() and chr(c) not in "mK")
        assert not letters
        assert twin == unpacked(cast).raw
        assert raw.count(b"\x1b") == twin.count(b"\x1b")


def test_secrets_that_overlap_are_all_hidden() -> None:
    for chunks in pieces_of(b"<ababab> <abcd>"):
        assert recorded(chunks, ("abab", "abc", "bcd"))[1] == b"<******> <****>"


def test_the_beginning_of_a_secret_is_hidden_until_it_is_none(path: Path) -> None:
    made = Recorder(path, "", Steps(), secrets=(SECRET,))
    made.received(b"at high tide")
    assert path.with_suffix(".txt").read_bytes() == b"at high ****" == unpacked(path.read_bytes()).raw
    made.received(b" nothing\r\n")
    assert path.with_suffix(".txt").read_bytes() == b"at high tide nothing\r\n" == unpacked(path.read_bytes()).raw
    made.received(b"tide")
    made.close()
    assert path.with_suffix(".txt").read_bytes().endswith(b"\ntide")


def test_lines_stay_lines_even_in_a_secret() -> None:
    assert recorded([b"<a\nb>"], ("a\nb",))[1] == b"<*\n*>"


def test_what_goes_on_unseen_is_not_held_for_ever(path: Path) -> None:
    made = Recorder(path, "", Steps(), secrets=(SECRET,))
    made.received(b"t" + 2000 * b"\x00")
    made.received(b"x")
    assert path.with_suffix(".txt").read_bytes() == b"t" + 2000 * b"\x00" + b"x"


def test_the_greater_part_of_a_secret_stays_hidden_at_the_end() -> None:
    cast, twin = recorded([b"# tide+Gau"], (SECRET,))
    assert twin == b"# ********" == unpacked(cast).raw


def test_no_secret_in_titles_markers_or_what_was_sent(path: Path) -> None:
    guard = Guard(dialect("wexcombe"), "harbour", SECRET)
    password, name = guard.login_password(), guard.login_name()
    assert password is not None
    assert name is not None
    with Recorder(path, f"tern-05 {SECRET}", Steps(), STARTED, 120, 50, secrets=[SECRET, ""]) as made:
        made.sent(guard.carriage_return())
        made.sent(name)
        made.sent(password)
        made.sent(guard.command("tell power"))
        made.marker(f"after {SECRET}")
    assert SECRET.encode() not in path.read_bytes() + path.with_suffix(".txt").read_bytes()
    header, events = by_the_document(path.read_bytes())
    assert header == {
        "version": 2, "width": 120, "height": 50, "timestamp": STARTED, "title": "tern-05 ************",
    }  # fmt: skip
    assert [(code, data) for _, code, data in events] == [
        ("i", "<return>"),
        ("i", "harbour"),
        ("m", "<password>"),
        ("i", "tell power"),
        ("m", "after ************"),
    ]


# ---- others can read it


def test_a_reader_made_by_others_shows_the_same() -> None:
    scene_content = pytest.importorskip("asciinema_scene.scenelib.scene_content", exc_type=ImportError)
    chunks = [
        b"tern-05 ~> tell p",
        b"ower\r\n",
        b"\xe2\x82",
        b"\xac \xff\xfb\x01 \x1b[7m--More--\x1b[27m\r",
        b"\xe2",
        b"\r\n",
    ]
    cast, _ = recorded(chunks, ("power-secret",))
    scene = scene_content.SceneContent()
    scene.parse_content(cast.decode())
    assert scene.header["title"] == "tern-05"
    assert scene.date == "2026-11-18 11:06:40+00:00"
    outputs = [frame.text for frame in scene.frames if frame.tpe == "o"]
    assert b"".join(chunks).decode("utf-8", "replace") == "".join(outputs)


def test_time_never_goes_back(path: Path) -> None:
    times = iter([5.0, 5.0, 6.0, 6.0, 5.5, 5.5, 4.0, 4.0, 4.0])
    made = Recorder(path, "", lambda: next(times))
    for _ in range(3):
        made.received(b"x")
    assert [1.0, 1.0, 1.0] == [seconds for seconds, _, _ in by_the_document(path.read_bytes())[1]]
    made.close()


# ---- what goes wrong


@pytest.mark.parametrize("there", ["tern-05.cast", "tern-05.txt"])
def test_an_existing_file_is_never_overwritten(path: Path, there: str) -> None:
    (path.parent / there).write_bytes(b"of yesterday")
    with pytest.raises(CannotRecord, match=f"{there} exists and is not overwritten"):
        Recorder(path, "", Steps())
    assert [p.name for p in path.parent.iterdir()] == [there]
    assert (path.parent / there).read_bytes() == b"of yesterday"


@pytest.mark.parametrize("name", ["", "tern-05", "tern-05.txt", "nowhere/tern-05.cast"])
def test_a_place_that_cannot_be_is_told(path: Path, name: str) -> None:
    with pytest.raises(CannotRecord):
        Recorder(path.parent / name if name else "", "", Steps())
    assert [] == list(path.parent.iterdir())


def test_a_closed_recording_takes_nothing(path: Path) -> None:
    made = Recorder(path, "", Steps())
    made.close()
    with pytest.raises(CannotRecord, match="closed"):
        made.received(b"late")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no disk that is always full")
def test_a_full_disk_is_told_and_nothing_follows(path: Path) -> None:
    made = Recorder(path, "", Steps())
    made.received(b"before\r\n")
    full = os.open("/dev/full", os.O_WRONLY)
    os.dup2(full, made._text._file.fileno())
    os.close(full)
    with pytest.raises(CannotRecord, match="No space left on device"):
        made.received(b"lost")
    with pytest.raises(CannotRecord, match="records no more"):
        made.received(b"also lost")
    made.close()
    assert b"before\r\n" == unpacked(path.read_bytes()).raw
