"""What a technician sees while a unit is out: fits its terminal, says all in words, and is harmless."""

import io
import re
import subprocess
import sys
from typing import Any

import pyte
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from consolecheck.records.readings import Condition
from consolecheck.records.watching import Notice, Picture, SensorNow, UnitNow
from consolecheck.reporting.watching import Watching, notice_line, status_line

HOSTILE = "psu\x1b[2J\x1b]0;x\x07\u202e[red]/\x9b31m"
ASIC = SensorNow("asic-1", 61.0, 0.5, 95.0, 68.0)
CONTROLS = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
COLOURS = re.compile(r"\x1b\[[0-9;]*[349][0-9][0-9;]*m")

OUT = Picture(
    unit="psu-2",
    phase="out",
    condition=Condition.ABSENT,
    word="empty",
    open_seconds=24.0,
    open_limit=120.0,
    sensors=(ASIC, SensorNow("cpu", 46.5, 0.0, 85.0, None), SensorNow("bare", 30.0, None, None, None)),
    units=(
        UnitNow("psu-1", Condition.OK, "serving", Condition.OK),
        UnitNow("fan-3", Condition.FAILED, "stalled", Condition.OK),
    ),
    links_down=("8",),
    unclear="",
    seconds=40.0,
)
CALM = OUT._replace(units=OUT.units[:1], links_down=())
REMOVED = Notice(20.0, "removed", "psu-2", "psu-2 was taken out; the slot may stay open for 120 s", False)
WRONG = Notice(40.0, "wrong-slot", "psu-1", "psu-1 went absent, the job is for psu-2: put it back", True)


def drawn(*shown: tuple[Picture, tuple[Notice, ...]], width: int = 80, height: int = 24) -> tuple[str, list[str]]:
    """All that was written to a terminal, and what then stands on it while the area is still live."""
    stream = io.StringIO()
    screen = pyte.HistoryScreen(width, height)
    with Watching(stream, True, width, height) as watching:
        for picture, notices in shown:
            watching.show(picture, notices, "06:13:20")
        written = stream.getvalue()
    pyte.Stream(screen).feed(written.replace("\n", "\r\n"))
    assert len(screen.history.top) == 0, "nothing was pushed off the screen"
    return written, [line.rstrip() for line in screen.display]


def plain(*shown: tuple[Picture, tuple[Notice, ...]], **options: Any) -> list[str]:
    stream = io.StringIO()
    with Watching(stream, False, **options) as watching:
        for picture, notices in shown:
            watching.show(picture, notices, "06:13:20")
    return stream.getvalue().splitlines()


# A pipe or a file.


def test_the_status_line_is_stable() -> None:
    expected = "06:13:20 psu-2 out 24 s of 120 s, closest asic-1 61.0 C (+0.5/min), 34 K below warning"
    assert expected == status_line(CALM, "06:13:20")


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"open_seconds": 131.0}, "psu-2 out 131 s of 120 s, over the limit, closest"),
        ({"open_seconds": None}, "psu-2 out since before the watch began, closest"),
        (
            {"phase": "in place", "open_seconds": None, "condition": Condition.OK, "word": "serving"},
            "psu-2 in place (ok `serving`), closest",
        ),
        (
            {"phase": "fitted", "open_seconds": 60.0, "condition": Condition.STANDBY, "word": "resting"},
            "psu-2 fitted (standby `resting`), was out 60 s, closest",
        ),
        ({"phase": "fitted", "open_seconds": None, "condition": None}, "psu-2 fitted (status not shown), closest"),
        ({"sensors": (ASIC._replace(per_minute=None),)}, "61.0 C (rate not known), 34 K below warning"),
        ({"sensors": (ASIC._replace(per_minute=-0.01),)}, "61.0 C (+0.0/min)"),
        ({"sensors": (ASIC._replace(per_minute=-1.5),)}, "61.0 C (-1.5/min)"),
        ({"sensors": (ASIC._replace(value=93.5, minutes_to_limit=3.0),)}, "1.5 K below warning, there in 3 min"),
        ({"sensors": (ASIC._replace(value=94.5, minutes_to_limit=0.5),)}, "0.5 K below warning, there in 30 s"),
        ({"sensors": (ASIC._replace(value=95.0),)}, "at warning"),
        ({"sensors": (ASIC._replace(value=106.0, limit=105.0, limit_name="critical"),)}, "1 K over critical"),
        ({"sensors": (ASIC._replace(limit=None, minutes_to_limit=None),)}, "closest asic-1 61.0 C (+0.5/min)"),
        ({"sensors": ()}, "psu-2 out 24 s of 120 s"),
        ({"units": OUT.units}, "34 K below warning, fan-3 failed `stalled`"),
        ({"links_down": ("7", "8")}, "34 K below warning, links down: 7 8"),
        ({"unclear": "line 12 was not read"}, "34 K below warning, last poll not counted: line 12 was not read"),
    ],
)
def test_the_status_line_tells_each_state(changes: dict[str, Any], expected: str) -> None:
    assert expected in status_line(CALM._replace(**changes), "06:13:20")


def test_a_sensor_that_is_nearly_there_is_told_before_one_with_less_room() -> None:
    inlet = SensorNow("inlet", 21.5, 0.0, 40.0, None)
    slow, fast = ASIC._replace(name="slow", minutes_to_limit=4.0), ASIC._replace(name="fast", minutes_to_limit=0.9)
    assert "closest inlet" in status_line(CALM._replace(sensors=(inlet, ASIC)), "")
    assert "closest fast" in status_line(CALM._replace(sensors=(inlet, slow, fast)), "")


def test_in_a_pipe_each_notice_is_a_line_and_the_state_comes_in_intervals() -> None:
    polls = [(CALM._replace(seconds=5.0 * n), (WRONG, REMOVED) if n == 2 else ()) for n in range(8)]
    status = status_line(CALM, "06:13:20")
    told = ["06:13:20 wrong-slot, urgent: " + WRONG.message, "06:13:20 removed: " + REMOVED.message]
    assert [status, *told, status, status] == plain(*polls)
    assert [status, *told, status] == plain(*polls, every=30)


def test_in_a_pipe_nothing_but_text_is_written_and_rich_is_not_loaded() -> None:
    code = (
        "import io, sys\n"
        "from consolecheck.records.watching import Notice, Picture\n"
        "from consolecheck.reporting.watching import Watching\n"
        "stream = io.StringIO()\n"
        "picture = Picture('psu-2', 'out', None, None, 1.0, 120.0, (), (), (), '')\n"
        "with Watching(stream, False) as watching:\n"
        "    watching.show(picture, [Notice(1.0, 'link', None, 'link 8 is gone', True)], '06:13:20')\n"
        "assert stream.getvalue().replace('\\n', '').isprintable(), stream.getvalue()\n"
        "print('rich' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_a_stream_that_cannot_write_a_character_gets_another() -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    with Watching(stream, False) as watching:
        watching.show(CALM, [WRONG._replace(message="asic-1 reads 95 °C")], "06:13:20")
    assert b"06:13:20 wrong-slot, urgent: asic-1 reads 95 ?C\n" in raw.getvalue()


# A terminal.

TERMINAL_STATES = {
    "in place": CALM._replace(phase="in place", condition=Condition.OK, word="serving", open_seconds=None),
    "out": OUT,
    "over": OUT._replace(open_seconds=131.0),
    "fitted": OUT._replace(phase="fitted", condition=Condition.STANDBY, word="resting", open_seconds=60.0),
    "unclear": OUT._replace(unclear="line 12 was not read"),
    "empty before": OUT._replace(open_seconds=None),
    "crowded": OUT._replace(
        open_seconds=500.0,
        sensors=tuple(SensorNow(f"Ambient Sensor {n} of a long name", 88.5, 12.5, 95.0, 0.5) for n in range(40)),
        units=tuple(UnitNow(f"psu-{n}/redundant", Condition.NO_INPUT, "x" * 60, Condition.OK) for n in range(12)),
        links_down=tuple(f"Ethernet1/{n}" for n in range(48)),
        unclear="the interfaces table is not whole: the text ends in the middle of a line " * 3,
    ),
    "hostile": OUT._replace(
        unit=HOSTILE,
        word=HOSTILE,
        sensors=(ASIC._replace(name=HOSTILE), ASIC._replace(name="測" * 60, value=1e9)),
        units=(UnitNow(HOSTILE, Condition.FAILED, HOSTILE, Condition.OK),),
        links_down=(HOSTILE, "\n\n\n"),
        unclear=HOSTILE,
    ),
}


@pytest.mark.parametrize("width", [40, 80, 132])
@pytest.mark.parametrize("name", TERMINAL_STATES)
def test_nothing_is_wider_or_higher_than_the_terminal(name: str, width: int) -> None:
    many = tuple(WRONG._replace(message=f"{n} " + WRONG.message * 3) for n in range(20))
    written, _ = drawn((TERMINAL_STATES[name], many), (TERMINAL_STATES[name], (REMOVED,)), width=width)
    # A frame is drawn over the one before after a carriage return.
    lines = re.split("[\r\n]", CONTROLS.sub("", written).replace("\a", ""))
    assert width // 2 < max(map(cell_len, lines)) <= width
    assert written.count("\n") < 2 * 24


def test_the_area_says_in_words_what_is_so() -> None:
    _, screen = drawn((OUT, (REMOVED, WRONG)))
    assert screen[0] == "06:13:20  psu-2 is out"
    assert screen[1] == "  Slot open [#######.............................] 24 s of 120 s, 96 s left"
    text = "\n".join(screen)
    assert "asic-1   61.0 C  rising ^ +0.5/min    34 K below warning" in text
    assert "cpu      46.5 C  steady = +0.0/min    38.5 K below warning" in text
    assert "bare     30.0 C  trend not known yet  no limit is printed" in text
    assert "Other units: 1 as before, 1 not\n  fan-3: failed `stalled`, was ok\nLinks down, 1: 8" in text
    assert text.rstrip().endswith(f"06:13:20   {REMOVED.message}\n06:13:20 ! {WRONG.message}")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("in place", "psu-2 is in place (ok `serving`)\n  The slot is closed; it may stay open for 120 s"),
        ("over", "131 s of 120 s, 11 s OVER THE LIMIT\n  Fit the unit or a blank: a breach of procedure"),
        ("fitted", "psu-2 is fitted (standby `resting`)\n  The slot was open for 60 s of 120 s"),
        ("unclear", "The last poll is not counted: line 12 was not read\nThe rest is from the poll before it"),
        ("empty before", "psu-2 is out\n  The slot was empty when the watch began"),
    ],
)
def test_each_state_has_its_words(name: str, expected: str) -> None:
    assert expected in "\n".join(drawn((TERMINAL_STATES[name], ()))[1])


def test_a_sensor_that_is_soon_at_its_limit_shows_how_soon_and_a_falling_one_its_fall() -> None:
    soon = ASIC._replace(value=93.5, per_minute=2.0, minutes_to_limit=0.75)
    falling = SensorNow("cpu", 46.5, -1.5, 85.0, None)
    text = "\n".join(drawn((OUT._replace(sensors=(falling, soon)), ()))[1])
    assert "asic-1   93.5 C  rising ^ +2.0/min    1.5 K below warning, in 45 s" in text
    assert "cpu      46.5 C  falling v -1.5/min   38.5 K below warning" in text
    assert text.index("asic-1") < text.index("cpu")


def test_the_area_is_drawn_in_place() -> None:
    shown = [(OUT._replace(open_seconds=float(n)), (REMOVED,) if n == 0 else ()) for n in range(0, 60, 5)]
    _, screen = drawn(*shown)
    text = "\n".join(screen)
    assert text.count("psu-2 is out") == 1
    assert "55 s of 120 s" in text
    assert "50 s of 120 s" not in text


def test_the_newest_notices_are_kept_and_stand_last() -> None:
    notices = tuple(WRONG._replace(message=f"notice number {n}") for n in range(30))
    _, screen = drawn((TERMINAL_STATES["crowded"], notices))
    assert [f"06:13:20 ! notice number {n}" for n in (27, 28, 29)] == [line for line in screen if line][-3:]
    assert "notice number 0" not in "\n".join(screen)
    assert any(line.endswith("…") for line in screen)  # what is cut shows that it was


def test_a_long_notice_is_folded_and_whole() -> None:
    long = WRONG._replace(message=" ".join(f"word{n}" for n in range(30)))
    _, screen = drawn((CALM, (long,)))
    assert all(f"word{n}" in "\n".join(screen) for n in range(30))


def test_the_bell_rings_for_what_is_urgent_and_in_a_terminal_only() -> None:
    assert drawn((OUT, (REMOVED,)))[0].count("\a") == 0
    assert drawn((OUT, (WRONG, WRONG)), (OUT, ()))[0].count("\a") == 1
    assert "\a" not in "\n".join(plain((OUT, (WRONG,))))


def test_no_colour_where_none_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    coloured, screen = drawn((OUT, (WRONG,)))
    assert COLOURS.search(coloured)
    monkeypatch.setenv("NO_COLOR", "1")
    without, same = drawn((OUT, (WRONG,)))
    assert not COLOURS.search(without)
    assert screen == same


def test_a_terminal_that_cannot_move_its_cursor_gets_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "dumb")
    stream = io.StringIO()
    with Watching(stream, True, 80, 24) as watching:
        watching.show(CALM, (WRONG,), "06:13:20")
    expected = f"{notice_line(WRONG, '06:13:20')}\n{status_line(CALM, '06:13:20')}\n\a"
    assert expected == stream.getvalue()


def test_the_terminal_is_put_right_again_however_it_ends() -> None:
    stream = io.StringIO()
    watching = Watching(stream, True, 80, 24)

    def interrupted() -> None:
        with watching:
            watching.show(OUT, (), "06:13:20")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert stream.getvalue().count("\x1b[?25l") == stream.getvalue().count("\x1b[?25h") == 1
    watching.end()
    assert stream.getvalue().count("\x1b[?25h") == 1


# Hostile text.


def test_text_of_a_device_is_harmless_wherever_it_stands() -> None:
    notice = WRONG._replace(message=HOSTILE)
    written, screen = drawn((TERMINAL_STATES["hostile"], (notice,)))
    left = CONTROLS.sub("", written).replace("\a", "").replace("\r", "").replace("\n", "")
    assert left.isprintable()
    assert "\x1b[2J" not in written
    assert "[red]" in "\n".join(screen)  # shown, and no markup
    for line in plain((TERMINAL_STATES["hostile"], (notice,))):
        assert line.isprintable()


@given(st.text(max_size=120), st.sampled_from([40, 80]))
def test_no_text_whatever_breaks_the_area(text: str, width: int) -> None:
    picture = OUT._replace(
        unit=text,
        sensors=(ASIC._replace(name=text),),
        units=(UnitNow(text, Condition.FAILED, text, Condition.OK),),
        links_down=(text,),
        unclear=text,
    )
    stream = io.StringIO()
    with Watching(stream, True, width, 24) as watching:
        watching.show(picture, (REMOVED._replace(message=text),), "06:13:20")
        written = CONTROLS.sub("", stream.getvalue())
    assert "\x1b" not in written
    assert max(map(cell_len, re.split("[\r\n]", written))) <= width
    assert written.count("\n") < 24
