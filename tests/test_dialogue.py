"""The talk with a console, whole, byte by byte and with bytes behind: what it types, and when it must not."""

import re
from collections.abc import Callable, Iterator

import pytest

from consolecheck.cases.case import Case
from consolecheck.cases.check import cases_of
from consolecheck.console.dialogue import (
    NUDGE_AFTER,
    SETTLE,
    WAIT_AFTER_SECRET,
    WAIT_FOR_ANSWER,
    Action,
    Dialogue,
    Left,
    Ready,
    Refusal,
    Reply,
    Send,
    SetSpeed,
)
from consolecheck.console.guard import Guard, NotAllowed, Outgoing
from consolecheck.files.shelf import dialects, shipped
from consolecheck.reading.reader import read_text

WEXCOMBE = next(d for d in dialects() if d.name == "wexcombe")
TABLE = b"FAN BAYS\r\n  bay  rotor  state    duty/%  speed/rpm  least/rpm  air\r\nEND FAN BAYS, 0 rows\r\n"

Answer = Callable[["Desk", bytes], bytes]


class Desk:
    """A scripted console: what was typed so far, and what it answers."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer
        self.typed: list[bytes] = []
        self.state = ""


def plain(desk: Desk, data: bytes) -> bytes:
    """Echoes, answers `tell fans`, knows `pause off`."""
    if data == b"\r":
        return b"\r\ntern-04 ~> "
    word = data.removesuffix(b"\r")
    return word + b"\r\n" + (TABLE if word == b"tell fans" else b"") + b"tern-04 ~> "


def chunks(data: bytes, size: int) -> Iterator[bytes]:
    for at in range(0, len(data), size):
        yield data[at : at + size]


def talk(
    desk: Desk,
    commands: list[str],
    *,
    size: int = 10_000,
    guard: Guard | None = None,
    speed: int | None = None,
    speeds: tuple[int, ...] = (),
) -> list[Action]:
    """Runs a talk to its end."""
    dialogue = Dialogue(guard or Guard(WEXCOMBE), speed, speeds)
    told: list[Action] = []
    pending = list(dialogue.start())
    for _ in range(4000):
        answers = b""
        for action in pending:
            if isinstance(action, Send):
                desk.typed.append(action.outgoing.data)
                answers += desk.answer(desk, action.outgoing.data)
            else:
                told.append(action)
                if isinstance(action, SetSpeed):
                    desk.state = str(action.bits_per_second)
        if told and isinstance(told[-1], Refusal | Left):
            return told
        if any(isinstance(a, Ready | Reply) for a in pending):
            pending = dialogue.ask(commands.pop(0)) if commands else dialogue.leave()
            continue
        pending = []
        for piece in chunks(answers, size):
            pending += dialogue.feed(piece)
        if not pending:
            pending = dialogue.tick(0.2)
    raise AssertionError("the talk has no end")


def refusal(told: list[Action]) -> Refusal:
    assert isinstance(told[-1], Refusal), told
    return told[-1]


@pytest.mark.parametrize("size", [10_000, 7, 1])
def test_a_plain_talk_in_any_chunks(size: int) -> None:
    desk = Desk(plain)
    told = talk(desk, ["tell fans", "tell heat"], size=size)
    ready, first, second, left = told
    assert isinstance(ready, Ready)
    assert ("tern-04 ~>", b"tern-04 ~> ", False, False) == (*ready[:3], ready.logged_in)
    assert Reply("tell fans", b"tell fans\r\n" + TABLE + b"tern-04 ~> ", True, "") == first
    assert isinstance(second, Reply)
    assert isinstance(left, Left)
    assert [b"\r", b"\r", b"pause off\r", b"tell fans\r", b"tell heat\r"] == desk.typed


@pytest.mark.parametrize(
    "behind", [b"** 06:12:40 port 4 asked for\r\n", b"\r\n** 06:12:40 port 4\r\n** 06:12:41 port 5\r\n"]
)
@pytest.mark.parametrize("size", [10_000, 5, 1])
def test_bytes_behind_the_prompt(behind: bytes, size: int) -> None:
    """A log line behind the prompt hides it; a carriage return brings it back, and nothing is lost."""

    def noisy(desk: Desk, data: bytes) -> bytes:
        return plain(desk, data) + (behind if data == b"tell fans\r" else b"")

    desk = Desk(noisy)
    told = talk(desk, ["tell fans", "tell heat"], size=size)
    assert [True, True] == [reply.complete for reply in told[1:3] if isinstance(reply, Reply)]
    assert [b"tell fans\r", b"\r", b"tell heat\r"] == desk.typed[-3:]
    assert isinstance(told[1], Reply)
    assert TABLE in told[1].raw


def test_a_prompt_within_the_output_does_not_end_it() -> None:
    def quoting(desk: Desk, data: bytes) -> bytes:
        if data == b"tell fans\r":
            return b"tell fans\r\nhint: type tern-04 ~> tell heat\r\ntern-04 ~> \r\n" + TABLE + b"tern-04 ~> "
        return plain(desk, data)

    told = talk(Desk(quoting), ["tell fans"], size=3)
    assert isinstance(told[1], Reply)
    assert told[1].raw.endswith(TABLE + b"tern-04 ~> ")


def test_a_stale_prompt_does_not_end_the_next_reply() -> None:
    dialogue = Dialogue(Guard(WEXCOMBE))
    desk = Desk(plain)
    told: list[Action] = []
    pending: list[Action] = []
    while not any(isinstance(a, Ready) for a in told):
        for action in pending:
            if isinstance(action, Send):
                dialogue.feed(desk.answer(desk, action.outgoing.data))
        pending = dialogue.tick(SETTLE)
        told += pending
    dialogue.ask("tell fans")
    dialogue.feed(b"\r\ntern-04 ~> ")  # from a carriage return of before
    assert [] == dialogue.tick(SETTLE)
    dialogue.feed(b"tell fans\r\n" + TABLE + b"tern-04 ~> ")
    (reply,) = dialogue.tick(SETTLE)
    assert isinstance(reply, Reply)
    assert TABLE in reply.raw


def test_the_pager_is_answered_where_it_cannot_be_turned_off() -> None:
    def paging(desk: Desk, data: bytes) -> bytes:
        if data == b"pause off\r":
            return b"pause off\r\n?? not a word I know: pause\r\ntern-04 ~> "
        if data == b"tell fans\r":
            return b"tell fans\r\nFAN BAYS\r\n(more below, any key)"
        if data == b" ":
            desk.state += "x"
            more = b"\r                     \r  row " + str(len(desk.state)).encode() + b"\r\n"
            return more + (b"(more below, any key)" if len(desk.state) < 3 else b"tern-04 ~> ")
        return plain(desk, data)

    for size in (10_000, 1):
        desk = Desk(paging)
        told = talk(desk, ["tell fans"], size=size)
        assert isinstance(told[1], Reply)
        assert 3 == desk.typed.count(b" ")
        assert b"row 3" in told[1].raw


def test_a_console_that_does_not_echo() -> None:
    def silent(desk: Desk, data: bytes) -> bytes:
        return (
            b"\r\ntern-04 ~> "
            if data == b"\r"
            else plain(desk, data).split(b"\r\n", 1)[1]
            if data != b"pause off\r"
            else b"\r\ntern-04 ~> "
        )

    told = talk(Desk(silent), ["tell fans"])
    assert isinstance(told[1], Reply)
    assert (True, "the console does not echo") == (told[1].complete, told[1].note)


def test_an_echo_folded_at_the_edge_of_the_screen() -> None:
    def folding(desk: Desk, data: bytes) -> bytes:
        return plain(desk, data).replace(b"tell fans\r\n", b"tell \r\nfans\r\n")

    told = talk(Desk(folding), ["tell fans"])
    assert isinstance(told[1], Reply)
    assert told[1].complete


def test_a_prompt_redrawn_in_colour_is_the_same_prompt() -> None:
    def coloured(desk: Desk, data: bytes) -> bytes:
        return plain(desk, data).replace(b"tern-04 ~> ", b"\x1b[?2004h\x1b[1;32mtern-04\x1b[0m ~> ")

    told = talk(Desk(coloured), ["tell fans"])
    assert isinstance(told[0], Ready)
    assert "tern-04 ~>" == told[0].prompt


def test_a_privileged_prompt_is_told() -> None:
    told = talk(Desk(lambda d, data: plain(d, data).replace(b"~>", b"~#")), ["tell fans"])
    assert isinstance(told[0], Ready)
    assert told[0].privileged


# --- where nothing may be typed ------------------------------------------------------------------


def test_a_configuration_mode_is_refused() -> None:
    desk = Desk(lambda d, data: b"\r\ntern-04 {alter} ~# ")
    found = refusal(talk(desk, ["tell fans"]))
    assert "configuring" == found.kind
    assert [b"\r"] == desk.typed


@pytest.mark.parametrize(
    "screen", [b"waking stage 1\r\nstage 2: memory", b"\r\nROOT VALVE> ", b"Hit any key to stop autoboot:  3"]
)
def test_a_boot_loader_is_left_alone(screen: bytes) -> None:
    """What is heard before the first key is a device that starts: not even a carriage return is sent."""
    dialogue = Dialogue(Guard(WEXCOMBE))
    told = dialogue.start() + dialogue.feed(screen) + dialogue.tick(SETTLE)
    assert "boot" == refusal(told).kind
    assert not [a for a in told if isinstance(a, Send)]


def test_a_reload_in_the_middle_keeps_what_came() -> None:
    def reloading(desk: Desk, data: bytes) -> bytes:
        if data == b"tell fans\r":
            return b"tell fans\r\nFAN BAYS\r\n" + b"waking stage 1\r\n"
        return plain(desk, data)

    told = talk(Desk(reloading), ["tell fans"])
    assert "boot" == refusal(told).kind
    kept = told[-2]
    assert isinstance(kept, Reply)
    assert (False, True) == (kept.complete, b"FAN BAYS" in kept.raw)


def test_an_idle_logout_in_the_middle_is_told() -> None:
    def leaving(desk: Desk, data: bytes) -> bytes:
        return b"tell fans\r\n\r\ntern-04 keeper: " if data == b"tell fans\r" else plain(desk, data)

    assert "logged-out" == refusal(talk(Desk(leaving), ["tell fans"])).kind


def test_somebody_elses_pager_is_refused() -> None:
    desk = Desk(lambda d, data: b"  1    a      turning\r\n(more below, any key)")
    assert "somebody-else" == refusal(talk(desk, ["tell fans"])).kind
    assert [b"\r"] == desk.typed


def test_somebody_typing_at_the_prompt_is_refused() -> None:
    dialogue = Dialogue(Guard(WEXCOMBE))
    desk = Desk(plain)
    told: list[Action] = []
    while not any(isinstance(a, Ready) for a in told):
        told = dialogue.tick(SETTLE)
        for action in told:
            if isinstance(action, Send):
                dialogue.feed(desk.answer(desk, action.outgoing.data))
    dialogue.feed(b"\r\ntern-04 ~> alte")
    found = dialogue.ask("tell fans")
    assert "somebody-else" == refusal(found).kind
    assert not [a for a in found if isinstance(a, Send)]


# --- silence, noise, logins ----------------------------------------------------------------------


def test_silence_gives_a_checklist() -> None:
    found = refusal(talk(Desk(lambda d, data: b""), ["tell fans"]))
    assert "silence" == found.kind
    for word in ("cable", "rollover", "null-modem", "power", "flow control"):
        assert word in found.message


def test_garbage_tries_the_usual_speeds_and_says_which_answered() -> None:
    def at_38400(desk: Desk, data: bytes) -> bytes:
        return plain(desk, data) if desk.state == "38400" else b"\xf8\x00\xe6\x9e\xfe\x80\xc3"

    desk = Desk(at_38400)
    told = talk(desk, ["tell fans"], speed=9600, speeds=(9600, 115200, 38400))
    assert [SetSpeed(115200), SetSpeed(38400)] == [a for a in told if isinstance(a, SetSpeed)]
    ready = next(a for a in told if isinstance(a, Ready))
    assert 38400 == ready.speed


def test_garbage_at_every_speed_is_told() -> None:
    told = talk(Desk(lambda d, data: b"\xf8\x00\xe6\x9e\xfe\x80\xc3"), [], speed=9600, speeds=(9600, 115200))
    assert "garbage" == refusal(told).kind


def logging_in(right: bytes) -> Answer:
    def answer(desk: Desk, data: bytes) -> bytes:
        if desk.state == "in":
            return plain(desk, data)
        if desk.state == "name":
            desk.state = "in" if data == right + b"\r" else ""
            return b"\r\ntern-04 ~> " if desk.state else b"\r\nlogin incorrect\r\ntern-04 keeper: "
        if data == b"\r":
            return b"\r\ntern-04 keeper: "
        desk.state = "name"
        return data.removesuffix(b"\r") + b"\r\nword: "

    return answer


@pytest.mark.parametrize("size", [10_000, 1])
def test_a_login(size: int) -> None:
    desk = Desk(logging_in(b"high water"))
    told = talk(desk, ["tell fans"], size=size, guard=Guard(WEXCOMBE, "keeper", "high water"))
    assert isinstance(told[0], Ready)
    assert told[0].logged_in
    assert b"farewell\r" == desk.typed[-1]


def test_a_login_that_waits_already_is_given_the_name_at_once() -> None:
    """A carriage return at a waiting login is an empty name to some, and the password after it a failure."""
    dialogue = Dialogue(Guard(WEXCOMBE, "keeper", "high water"))
    dialogue.feed(b"tern-04 keeper: ")
    assert [b"keeper\r"] == [a.outgoing.data for a in dialogue.tick(SETTLE) if isinstance(a, Send)]


def test_a_password_prompt_of_somebody_elses_name_gets_no_secret() -> None:
    dialogue = Dialogue(Guard(WEXCOMBE, "keeper", "high water"))
    dialogue.tick(SETTLE)
    dialogue.feed(b"\r\nword: ")
    assert [b"\r"] == [a.outgoing.data for a in dialogue.tick(SETTLE) if isinstance(a, Send)]


def test_a_wrong_password_is_not_tried_again() -> None:
    desk = Desk(logging_in(b"high water"))
    found = refusal(talk(desk, ["tell fans"], guard=Guard(WEXCOMBE, "keeper", "low water")))
    assert "password" == found.kind
    assert "low water" not in found.message
    assert 1 == desk.typed.count(b"low water\r")


def test_a_login_without_a_name_is_refused() -> None:
    found = refusal(talk(Desk(logging_in(b"x")), ["tell fans"]))
    assert "login" == found.kind


def test_a_session_found_open_is_left_open() -> None:
    desk = Desk(plain)
    talk(desk, ["tell fans"])
    assert b"farewell\r" not in desk.typed


def test_an_end_that_never_comes_is_given_up_and_kept() -> None:
    def endless(desk: Desk, data: bytes) -> bytes:
        return (
            b"tell fans\r\nFAN BAYS\r\n  half a ro"
            if data == b"tell fans\r"
            else b""
            if desk.state
            else plain(desk, data)
        )

    def stuck(desk: Desk, data: bytes) -> bytes:
        answer = endless(desk, data)
        desk.state = "stuck" if data == b"tell fans\r" else desk.state
        return answer

    told = talk(Desk(stuck), ["tell fans"])
    assert "no-end" == refusal(told).kind
    assert isinstance(told[-2], Reply)
    assert b"half a ro" in told[-2].raw


def test_waits_are_ordered() -> None:
    assert SETTLE < WAIT_FOR_ANSWER < WAIT_AFTER_SECRET < NUDGE_AFTER


# --- the guard -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["alter", "tell fans; alter", "tell fans\r\nalter", "TELL FANS", "tell  fans", "", "pause off\ralter"]
)
def test_the_guard_lets_nothing_else_out(text: str) -> None:
    guard = Guard(WEXCOMBE)
    for door in (guard.command, guard.session):
        with pytest.raises(NotAllowed):
            door(text)


def test_nobody_else_makes_what_may_leave() -> None:
    with pytest.raises(TypeError):
        Outgoing(object(), b"reload\r", "command", "reload")
    made = Guard(WEXCOMBE).carriage_return()
    with pytest.raises(AttributeError):
        made.data = b"reload\r"
    assert b"\r" == made.data


def test_a_password_is_never_shown() -> None:
    guard = Guard(WEXCOMBE, "keeper", "high water")
    secret = guard.login_password()
    assert secret is not None
    assert "high water" not in repr(secret) + secret.shown
    assert "high water" not in repr(guard.everything())


ONLY_READS = re.compile(
    r"(?:show|display|tell|get|ipmitool|sensors|snmpwalk|curl https|ethtool -m|fboss2 show|diagnose hardware deviceinfo)\b"
    r"|(?:chassis|port xcvr) show\b"
)
"""How a command begins that shows something and changes nothing. An address asked for with `curl` is a GET."""


@pytest.mark.parametrize("dialect", dialects(), ids=lambda d: d.name)
def test_every_dialects_commands_only_read(dialect: object) -> None:
    assert isinstance(dialect, type(WEXCOMBE))
    for command in dialect.manifest.commands:
        assert ONLY_READS.match(command.send), command.send
        assert not set(";|&<>`$") & set(command.send), command.send
        assert command.send.isprintable()


def sessions() -> Iterator[tuple[str, Case]]:
    """One recorded session of each dialect whose fixtures end at a prompt."""
    for dialect in dialects():
        for case in cases_of(shipped("fixtures"), dialect.name):
            last = case.text("before").decode("utf-8").split("\n")[-1]
            if dialect.prompt and dialect.prompt.fullmatch(last):
                yield dialect.name, case
                break


@pytest.mark.parametrize(("name", "case"), list(sessions()), ids=lambda value: value if isinstance(value, str) else "")
@pytest.mark.parametrize("size", [10_000, 7])
def test_a_recorded_session_can_be_had_again_over_a_console(name: str, case: Case, size: int) -> None:
    """A console that answers as the fixture does: its prompt is learned, its commands are on the list, and what
    comes back reads the same."""
    dialect = next(d for d in dialects() if d.name == name)
    assert dialect.prompt is not None
    text = case.text("before").decode("utf-8")
    prompt = text.split("\n")[-1].encode()
    replies: dict[bytes, bytes] = {}
    asked = ""
    for line in text.splitlines(keepends=True):
        shown = re.match(dialect.manifest.console.prompt or "", line)
        if shown:
            asked = line[shown.end() :].strip()
            replies[asked.encode()] = b""
        elif asked:
            replies[asked.encode()] += line.rstrip("\r\n").encode() + b"\r\n"
    commands = [dialect.echoes[" ".join(a.decode().lower().split())].send for a in replies if a]
    answers = dict(zip((c.encode() for c in commands), (r for a, r in replies.items() if a), strict=True))

    def answer(desk: Desk, data: bytes) -> bytes:
        word = data.removesuffix(b"\r")
        return (word or b"") + b"\r\n" + answers.get(word, b"") + prompt

    told = talk(Desk(answer), list(commands), size=size, guard=Guard(dialect))
    assert isinstance(told[0], Ready)
    assert prompt.decode().strip() == told[0].prompt
    got = [action for action in told if isinstance(action, Reply)]
    assert [(c, True) for c in commands] == [(reply.command, reply.complete) for reply in got]
    again = read_text(prompt + b"".join(reply.raw for reply in got), "again", (dialect,), dialect)
    assert read_text(text.encode(), "before", (dialect,), dialect).readings == again.readings
    assert () == again.unread
