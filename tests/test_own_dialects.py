"""Dialects in folders of one's own: which one counts, what a job keeps of it, and what a hostile folder cannot do."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from test_live import baseline, play, run, switch, verify

from consolecheck.console.guard import not_known_to_only_read
from consolecheck.files.shelf import LARGEST, NoFolder, Shelf, dialects, read_dialect, shelf, shipped
from consolecheck.reading.dialect import Dialect, DialectFault
from consolecheck.reading.reader import read_text

WEXCOMBE = shipped("parsers") / "wexcombe"
GOOD = shipped("fixtures") / "wexcombe" / "psu-2-replaced"
AFTER = str(GOOD / "after.txt")


@pytest.fixture(autouse=True)
def _no_folders_of_this_machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Whoever runs the tests may have dialects of their own."""
    for name in ("XDG_CONFIG_HOME", "XDG_CONFIG_DIRS", "HOME", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "nobody"))
    monkeypatch.delenv("CONSOLECHECK_DIALECTS", raising=False)


def own(folder: Path, title: str = "ours", name: str = "wexcombe") -> Path:
    """A folder with a copy of wexcombe that has a title of its own."""
    shutil.copytree(WEXCOMBE, folder / name)
    manifest = folder / name / "dialect.toml"
    text = manifest.read_text(encoding="utf-8")
    manifest.write_text(text.replace(text.split("\n")[0], f'title = "{title}"'), encoding="utf-8")
    return folder


def wexcombe(found: Shelf) -> Dialect:
    return next(d for d in found.dialects if d.name == "wexcombe")


# --- which one counts -----------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform != "linux", reason="where the folder lies is the platform's affair; XDG is set here")
def test_the_nearer_folder_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given, environment = own(tmp_path / "given", "given"), own(tmp_path / "environment", "environment")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_CONFIG_DIRS", str(tmp_path / "etc"))
    own(tmp_path / "home" / "consolecheck" / "dialects", "person")
    own(tmp_path / "etc" / "consolecheck" / "dialects", "site")
    named = {"CONSOLECHECK_DIALECTS": str(environment)}
    assert "given" == wexcombe(shelf(given, named)).manifest.title
    assert ["environment", "person", "site"] == [d.manifest.title for d in shelf(given, named).covered][:3]
    assert "environment" == wexcombe(shelf(None, named)).manifest.title
    assert "person" == wexcombe(shelf(None, {})).manifest.title
    shutil.rmtree(tmp_path / "home")
    assert "site" == wexcombe(shelf(None, {})).manifest.title
    shutil.rmtree(tmp_path / "etc")
    assert (wexcombe(shelf(None, {})).origin, shelf(None, {}).covered) == (None, ())


def test_the_list_says_where_each_comes_from_and_what_it_stands_before(tmp_path: Path) -> None:
    told = run("dialect", "list", "--dialects", own(tmp_path / "site", "ours")).stdout.decode()
    assert f"from {tmp_path / 'site' / 'wexcombe'} (--dialects), SHA-256 " in told
    assert "stands before the one of parsers/wexcombe" in told
    assert "stands before" not in run("dialect", "list").stdout.decode()


def test_the_list_goes_on_behind_a_broken_dialect_and_says_so_by_its_exit_code(tmp_path: Path) -> None:
    folder = own(tmp_path / "site", name="a-first")
    (folder / "a-first" / "dialect.toml").write_text("[[evidence]]\n", encoding="utf-8")
    done = run("dialect", "list", "--dialects", folder)
    assert (1, True, True) == (done.returncode, b"is broken" in done.stdout, b"tell power" in done.stdout)


@pytest.mark.parametrize("named_by", ["--dialects", "CONSOLECHECK_DIALECTS"])
def test_a_folder_that_is_not_there_is_wrong_usage(tmp_path: Path, named_by: str) -> None:
    missing = tmp_path / "missing"
    option = ["--dialects", str(missing)] if named_by == "--dialects" else []
    done = run("read", AFTER, *option, **({} if option else {named_by: str(missing)}))
    assert (2, True) == (done.returncode, f"{missing} of {named_by} is no folder".encode() in done.stderr)


def test_a_text_read_with_a_dialect_of_ones_own_says_so_with_its_digest(tmp_path: Path) -> None:
    folder = own(tmp_path / "site")
    digest = read_dialect(folder / "wexcombe", origin="here").digest
    assert digest is not None
    document = json.loads(run("read", AFTER, "--dialects", folder, "--json").stdout)
    assert ("wexcombe", digest) == (document["dialect"], document["dialect_digest"])
    assert digest.encode() in run("read", AFTER, "--dialects", folder).stdout
    judged = run("replay", "--before", GOOD / "before.txt", "--after", AFTER, "--unit", "psu-2", "--dialects", folder)
    assert (0, True) == (judged.returncode, digest.encode() in judged.stdout)
    assert "dialect_digest" not in json.loads(run("read", AFTER, "--json").stdout)


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not there")
def test_the_digest_can_be_made_without_this_tool(tmp_path: Path) -> None:
    found = read_dialect(own(tmp_path) / "wexcombe", origin="here")
    told = subprocess.run(
        "sha256sum * | sha256sum",
        shell=True,
        cwd=tmp_path / "wexcombe",
        env={**os.environ, "LC_ALL": "C"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout.split()[0] == found.digest


def test_any_change_of_a_template_changes_the_digest(tmp_path: Path) -> None:
    folder = own(tmp_path) / "wexcombe"
    before = read_dialect(folder, origin="here").digest
    with (folder / "fans.textfsm").open("a", encoding="utf-8") as file:
        file.write("\n")
    assert before != read_dialect(folder, origin="here").digest


# --- a job with one ---------------------------------------------------------------------------------


def test_a_job_keeps_its_own_dialect_and_is_judged_by_it_wherever_it_lies(tmp_path: Path) -> None:
    folder, job = own(tmp_path / "site"), tmp_path / "job"
    with switch() as (line, chassis, shell):
        assert baseline(job, line, "--dialects", str(folder)).returncode == 0
        shutil.rmtree(folder)  # another laptop does not have it
        play("none", chassis, shell)
        assert verify(job).returncode == 0
    digest = json.loads((job / "job.json").read_text(encoding="utf-8"))["dialect_digest"]
    again = run("replay", job)
    assert (0, True) == (again.returncode, f"SHA-256 {digest}".encode() in again.stdout)
    assert digest == json.loads((job / "findings.json").read_text(encoding="utf-8"))["dialect_digest"]
    assert run("report", job, "--to", tmp_path / "page").returncode == 0
    assert digest in (tmp_path / "page" / "report.html").read_text(encoding="utf-8")

    with (job / "dialect" / "fans.textfsm").open("a", encoding="utf-8") as file:
        file.write("# doctored\n")
    refused = run("replay", job)
    assert (4, True) == (refused.returncode, b"does not hold" in refused.stderr or b"changed" in refused.stderr)
    (job / "seal.json").unlink()
    refused = run("replay", job)
    assert (4, b"") == (refused.returncode, refused.stdout)
    assert b"is not the dialect that the job was begun with" in refused.stderr


def test_a_job_begun_with_the_shipped_dialect_stays_with_it(tmp_path: Path) -> None:
    """A folder of one's own with that name would judge an old job by other templates than those it was taken with."""
    job = tmp_path / "job"
    with switch() as (line, *_):
        assert baseline(job, line).returncode == 0
    assert not (job / "dialect").exists()
    shutil.copy(GOOD / "after.txt", job)
    own(tmp_path / "site", "broken")
    (tmp_path / "site" / "wexcombe" / "fans.textfsm").unlink()
    done = run("replay", job, CONSOLECHECK_DIALECTS=str(tmp_path / "site"))
    assert b"broken" not in done.stderr
    assert b"not a shipped one" not in done.stdout


# --- what may be sent -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("find", "replace", "named"),
    [
        ('send = "tell heat"', 'send = "reload"', "reload"),
        ('send = "tell heat"', 'send = "show heat; reload"', "show heat; reload"),
        ('send = "tell heat"', 'send = "show heat | redirect flash:x"', "show heat | redirect flash:x"),
        ('send = "tell heat"', 'send = "ipmitool chassis power off"', "ipmitool chassis power off"),
        ('session = ["pause off"]', 'session = ["configure terminal"]', "configure terminal"),
        ('leave = "farewell"', 'leave = "reboot"', "reboot"),
    ],
)
def test_a_command_that_may_do_more_than_read_is_not_sent_by_a_dialect_that_is_not_shipped(
    tmp_path: Path, find: str, replace: str, named: str
) -> None:
    manifest = own(tmp_path / "site") / "wexcombe" / "dialect.toml"
    text = manifest.read_text(encoding="utf-8")
    assert find in text
    manifest.write_text(text.replace(find, replace, 1), encoding="utf-8")
    done = baseline(tmp_path / "job", "socket://127.0.0.1:9", "--dialects", str(tmp_path / "site"))
    assert (2, False) == (done.returncode, (tmp_path / "job").exists())
    assert f"`{named}`".encode() in done.stderr


def test_commands_of_the_trade_that_read_may_be_sent() -> None:
    for asked in ("show environment", "display power", "show inventory | no-more", "chassis show power", "sensors"):
        made = Dialect(
            "own",
            f'title = "t"\nsource = "made for this test"\n[[evidence]]\ntext = "HEAD"\nweight = 3\n'
            f'[console]\nsession = ["terminal length 0"]\nleave = "exit"\n[[commands]]\nsend = "{asked}"\n'
            '[tables.t]\ntemplate = "t.textfsm"\nkind = "fan"\n',
            {},
            origin="here",
        )
        assert None is not_known_to_only_read(made, dialects()), asked


# --- a hostile folder -------------------------------------------------------------------------------


def broken(folder: Path) -> str:
    """What is wrong with the dialect of a folder, by using it."""
    try:
        used = [found for found in shelf(folder, {}).dialects if found.origin is not None]
        for found in used:
            read_text(Path(AFTER).read_bytes(), "after.txt", (found,), found)
    except (DialectFault, NoFolder) as refused:
        return str(refused)
    raise AssertionError(f"{used} could be used")


@pytest.mark.skipif(sys.platform == "win32", reason="links need a privilege there")
def test_no_link_leads_out_of_the_folder(tmp_path: Path) -> None:
    elsewhere = own(tmp_path / "elsewhere") / "wexcombe"
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "wexcombe").symlink_to(elsewhere)
    assert "is a link" in broken(tmp_path / "site")
    for name in ("dialect.toml", "fans.textfsm"):
        folder = own(tmp_path / f"site-{name}")
        (folder / "wexcombe" / name).unlink()
        (folder / "wexcombe" / name).symlink_to(elsewhere / name)
        assert name in broken(folder)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files on this system")
@pytest.mark.parametrize("name", ["dialect.toml", "fans.textfsm"])
def test_a_pipe_in_place_of_a_file_does_not_hang(tmp_path: Path, name: str) -> None:
    folder = own(tmp_path / "site")
    (folder / "wexcombe" / name).unlink()
    os.mkfifo(folder / "wexcombe" / name)
    assert name in broken(folder)


@pytest.mark.parametrize("name", ["dialect.toml", "fans.textfsm"])
def test_sizes_are_bounded(tmp_path: Path, name: str) -> None:
    folder = own(tmp_path / "site")
    with (folder / "wexcombe" / name).open("ab") as file:
        file.truncate(LARGEST + 1)
    assert name in broken(folder)


def test_a_folder_with_endless_entries_is_refused(tmp_path: Path) -> None:
    for number in range(1002):
        (tmp_path / str(number)).touch()
    assert "more than 1000 entries" in broken(tmp_path)


@pytest.mark.parametrize("name", ["Wexcombe", "wex combe", "w" * 41, "-wexcombe", "wexcombe\N{RIGHT-TO-LEFT OVERRIDE}"])
def test_a_name_that_could_mislead_is_refused(tmp_path: Path, name: str) -> None:
    assert "rename it" in broken(own(tmp_path / "site", name=name))


@pytest.mark.parametrize(
    ("find", "replace", "told"),
    [
        ('name = "{point}"', 'name = "{point:>999999999}"', "is no form"),
        ('name = "{point}"', 'name = "{point.__class__.__mro__}"', "is no form"),
        ('name = "{point}"', 'name = "{point!r}"', "is no form"),
        ("begins = ['SELF$']", "begins = ['x{99999999999}']", "not a regular expression"),
        ("begins = ['SELF$']", f"begins = ['{'(?:' * 5000}x{')' * 5000}']", "not a regular expression"),
        ('title = "ours"', f"title = {'[' * 20000}", "too deeply"),
        ('template = "fans.textfsm"', 'template = "../fans.textfsm"', "is missing"),
        ('template = "fans.textfsm"', 'template = "/etc/fans.textfsm"', "is missing"),
    ],
)
def test_a_hostile_manifest_is_a_fault_with_its_file(tmp_path: Path, find: str, replace: str, told: str) -> None:
    manifest = own(tmp_path / "site") / "wexcombe" / "dialect.toml"
    text = manifest.read_text(encoding="utf-8")
    assert find in text
    manifest.write_text(text.replace(find, replace, 1), encoding="utf-8")
    assert told in broken(tmp_path / "site")


def test_control_characters_of_a_manifest_do_not_reach_the_terminal(tmp_path: Path) -> None:
    done = run("dialect", "list", "--dialects", own(tmp_path / "site", "ours \\u001b[31m\\u202e"))
    assert (0, True) == (done.returncode, b"ours" in done.stdout)
    assert b"\x1b" not in done.stdout
    assert "\N{RIGHT-TO-LEFT OVERRIDE}".encode() not in done.stdout


def test_a_dialect_of_ones_own_keeps_the_laws_before_anything_is_read_with_it(tmp_path: Path) -> None:
    template = own(tmp_path / "site") / "wexcombe" / "fans.textfsm"
    template.write_text(template.read_text(encoding="utf-8").replace("$$ ", " ", 1), encoding="utf-8")
    done = run("read", AFTER, "--dialects", tmp_path / "site")
    assert (4, b"") == (done.returncode, done.stdout)
    assert b"fans.textfsm" in done.stderr
