"""What earlier runs have written is not taken for the user's own, and the other way round."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint import cli_sheets, earlier
from matready.lint.cli import main
from matready.lint.earlier import RECORD, record_as_bytes, record_line, recorded_copies
from matready.lint.repair.record import CopyRecord
from matready.lint.repair.writing import NotWritten
from matready.lint.sheets.prove import Unproven
from matready.lint.watching import Ground

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
CUT = 'fill="none" stroke="#000"'
# The door's own ends stop 0.2 mm short of each other: a fault, and one that has a fix.
GAP = f'{HEAD}<path id="door" d="M10 10h30v40h-30v-39.8" {CUT}/></svg>\n'
WALL = f'{HEAD}<rect id="wall" x="10" y="10" width="60" height="50" {CUT}/></svg>\n'
MOON = f'{HEAD}<circle id="moon" cx="50" cy="50" r="20" {CUT}/></svg>\n'


def _run(*args: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(arg) for arg in args], prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of two drawings, which is the one to work in."""
    _write(tmp_path, "door", GAP)
    _write(tmp_path, "wall", WALL)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _write(folder: Path, name: str, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.svg"
    path.write_text(text, "utf-8")
    return path


def _fix(*more: str) -> Result:
    return _run("fix", ".", "--out", "fixed", *more)


# Copies over the user's own drawings


def _drawn_there(folder: Path) -> None:
    _write(folder / "fixed", "door", MOON)


def _edited_after_a_run(folder: Path) -> None:
    assert _fix().exit_code == 0
    copy = folder / "fixed" / "door.svg"
    copy.write_text(copy.read_text().replace("door", "gate"))


@pytest.mark.parametrize("before", [_drawn_there, _edited_after_a_run])
def test_a_drawing_of_the_users_own_is_kept_and_the_others_are_done(
    folder: Path, before: Callable[[Path], None]
) -> None:
    before(folder)
    own = (folder / "fixed" / "door.svg").read_text()
    _write(folder, "wall", WALL.replace("60", "61"))
    for more in (["--dry-run"], ["--format", "json"], []):
        files = {path: path.read_bytes() for path in folder.rglob("*.svg")}
        result = _fix(*more)
        assert result.exit_code == 2
        refused = [line for line in result.stderr.splitlines() if ": not written: " in line]
        path = Path("fixed", "door.svg")
        assert len(refused) == 1
        assert refused[0].startswith(f"door.svg: not written: {path} is no copy of an earlier fix")
        if "--dry-run" in more:
            assert {path: path.read_bytes() for path in folder.rglob("*.svg")} == files
        else:
            assert (folder / "fixed" / "wall.svg").read_bytes() == files[folder / "wall.svg"]
        assert (folder / "fixed" / "door.svg").read_text() == own
        if "json" in more:
            (unwritten,) = json.loads(result.stdout)["unwritten"]
            assert unwritten["path"] == "door.svg"


def test_copies_follow_their_drawings_without_a_question(folder: Path) -> None:
    for width in (60, 61, 62):
        _write(folder, "wall", WALL.replace("60", str(width)))
        result = _fix()
        assert (result.exit_code, result.stderr) == (0, "")
        assert f'width="{width}"' in (folder / "fixed" / "wall.svg").read_text()
    copies = recorded_copies(folder / "fixed")
    assert copies == {
        name: {hashlib.sha256((folder / "fixed" / name).read_bytes()).hexdigest()}
        for name in ("door.svg", "wall.svg")
    }
    before = (folder / "fixed" / RECORD).stat()
    assert _fix().exit_code == 0
    assert (folder / "fixed" / RECORD).stat() == before, "there was nothing new to record"


def test_what_is_just_what_would_be_written_is_no_reason_to_refuse(folder: Path) -> None:
    _write(folder / "fixed", "wall", WALL)
    assert _fix().exit_code == 0


def test_a_copy_that_cannot_be_replaced_is_still_known_when_it_can(folder: Path) -> None:
    assert _fix().exit_code == 0
    copy = folder / "fixed" / "wall.svg"
    copy.chmod(0o444)
    for width, mode, status in ((61, 0o444, 2), (62, 0o644, 0)):
        copy.chmod(mode)
        _write(folder, "wall", WALL.replace("60", str(width)))
        assert _fix().exit_code == status
    assert 'width="62"' in copy.read_text()


def test_a_folder_of_copies_may_be_filled_in_several_runs(folder: Path) -> None:
    for name in ("door.svg", "wall.svg", "door.svg"):
        assert _run("fix", name, "--out", "fixed").exit_code == 0
    assert set(recorded_copies(folder / "fixed") or ()) == {"door.svg", "wall.svg"}
    _write(folder, "door", GAP.replace("door", "gate"))
    assert _fix().exit_code == 0


# What a walk leaves out

COPIES = "fixed: 2 copies of an earlier fix are left out; name this folder to have them read\n"
MATS = "mats: 1 mat of an earlier run is left out; name this folder to have it read\n"


def _read(*paths: str) -> tuple[list[str], str]:
    """The files that a lint of these paths reads, and what it says beside its report."""
    result = _run("lint", *paths, "--format", "json", "--fail-on", "never", "--skip", "repeat-file")
    assert result.exit_code == 0
    return [file["path"] for file in json.loads(result.stdout)["files"]], result.stderr


def _sheets(*more: str, source: str = "wall.svg", out: str = "mats") -> Result:
    return _run("sheets", source, "--mat", "A4", "--time", "0", "--out", out, *more)


@pytest.fixture
def reused(folder: Path) -> Path:
    """The folder with copies in `fixed` and a mat in `mats`."""
    assert _fix().exit_code == 0
    assert _sheets().exit_code == 0
    return folder


@pytest.mark.usefixtures("reused")
def test_a_lint_reads_what_was_drawn_and_says_what_it_leaves_out() -> None:
    assert _read(".") == (["door.svg", "wall.svg"], COPIES + MATS)
    assert _read(".", "fixed") == (
        ["door.svg", "wall.svg", "fixed/door.svg", "fixed/wall.svg"],
        MATS,
    )
    assert _read("fixed", "mats") == (
        ["fixed/door.svg", "fixed/wall.svg", "mats/01-card-200.svg"],
        "",
    )
    assert _read("fixed/door.svg", ".") == (
        ["fixed/door.svg", "door.svg", "wall.svg"],
        COPIES.replace("2 copies", "1 copy").replace("are", "is").replace("them", "it") + MATS,
    )


def test_every_command_leaves_out_the_same(reused: Path) -> None:
    assert "repeat-file" not in _run("lint", ".").stdout
    before = (reused / "fixed" / "door.svg").read_bytes()
    for how in (["--dry-run"], ["--in-place"]):
        result = _run("fix", ".", *how, "--format", "json")
        assert result.stderr == COPIES + MATS
        assert json.loads(result.stdout)["totals"]["files"] == 2
    assert (reused / "fixed" / "door.svg").read_bytes() == before
    laid = _sheets(source=".", out="laid")
    assert (laid.exit_code, laid.stderr) == (0, COPIES + MATS)
    assert "2 pieces of 2 files" in laid.stdout
    # What lies where the command writes is none of its sources, as before.
    laid_said = MATS.replace("mats:", "laid:")
    assert _fix().stderr == laid_said + MATS
    again = _sheets(source=".")
    assert "2 pieces of 2 files" in again.stdout
    assert again.stderr == COPIES + laid_said


def test_what_was_changed_since_or_added_is_the_users_own(reused: Path) -> None:
    _write(reused / "fixed", "wall", WALL.replace("60", "55"))
    _write(reused / "fixed", "moon", MOON)
    _write(reused / "mats", "moon", MOON)
    files, said = _read(".")
    assert files == ["door.svg", "fixed/moon.svg", "fixed/wall.svg", "mats/moon.svg", "wall.svg"]
    assert said.startswith("fixed: 1 copy of an earlier fix is left out;")
    # Where the folder is the one to write to, its drawings are not read; they are named.
    result = _fix("--dry-run")
    assert result.exit_code == 2
    assert "wall.svg: not written: fixed/wall.svg is no copy" in result.stderr
    assert "fixed: moon.svg is no copy of an earlier fix and not read; move it out" in result.stderr
    _write(reused / "fixed" / "sky", "star", MOON)
    assert "moon.svg and 1 more are no copies of an earlier fix" in _fix("--dry-run").stderr


@pytest.mark.usefixtures("reused")
def test_a_folder_of_nothing_but_earlier_files_is_not_passed_over_in_silence(folder: Path) -> None:
    for name in ("door.svg", "wall.svg"):
        (folder / name).unlink()
    for args in (["lint"], ["fix", "--in-place"], ["fix", "--out", "fixed"]):
        result = _run(*args, ".")
        assert result.exit_code == 2
        assert ".: not read: nothing but what earlier runs wrote is in this folder" in result.stderr


def test_links_and_folders_within_make_no_difference(reused: Path) -> None:
    _write(reused / "wings", "wing", MOON)
    assert _fix().exit_code == 0
    (reused / "a").mkdir()
    (reused / "a" / "up").symlink_to("..")
    (reused / "a" / "link.svg").symlink_to("../fixed/door.svg")
    (reused / "again").symlink_to("fixed")
    files, said = _read(".")
    assert sorted(Path(file).name for file in files) == ["door.svg", "wall.svg", "wing.svg"]
    assert said.count("3 copies of an earlier fix are left out") == 1
    assert _read("fixed/wings")[0] == ["fixed/wings/wing.svg"]
    (reused / "fixed" / "wings" / "up").symlink_to("..")
    assert len(_read("fixed/wings")[0]) == 3


def test_names_in_a_record_or_a_list_lead_nowhere(reused: Path) -> None:
    wall, moon = reused / "wall.svg", _write(reused / "a", "moon", MOON)
    names = ["../wall.svg", str(wall), "./moon.svg", "../a/moon.svg", "~/moon.svg", "", ".", "/"]
    sums = {hashlib.sha256(path.read_bytes()).hexdigest() for path in (wall, moon)}
    (reused / "a" / RECORD).write_bytes(record_as_bytes(dict.fromkeys(names, sums)))
    mats = {"schema": "matready/sheets-1", "mats": [{"file": name} for name in names]}
    (reused / "a" / "cutting-list.json").write_text(json.dumps(mats))
    assert _read(".")[0] == ["a/moon.svg", "door.svg", "wall.svg"]


@pytest.mark.parametrize("schema", ["matready/sheets-1", "theatre/programme-1"])
def test_only_a_cutting_list_of_ours_names_mats(folder: Path, schema: str) -> None:
    _write(folder / "mats", "01-card", MOON)
    mats = {"schema": schema, "mats": [{"file": "01-card.svg"}]}
    (folder / "mats" / "cutting-list.json").write_text(json.dumps(mats))
    ours = schema.startswith("matready")
    assert ("mats/01-card.svg" in _read(".")[0]) is not ours
    for data in ("", "7", "[" * 100_000, '{"schema": "matready/sheets-1", "mats": [7]}'):
        (folder / "mats" / "cutting-list.json").write_text(data)
        assert "mats/01-card.svg" in _read(".")[0]


def test_copies_that_come_while_a_folder_is_watched_are_no_new_drawings(folder: Path) -> None:
    ground = Ground([Path()], None)
    plain, seen = CopyRecord.write, []

    def looked_at(self: CopyRecord, target: Path, data: bytes) -> None:
        plain(self, target, data)
        seen.extend([ground.look(True), ground.look(False)])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(CopyRecord, "write", looked_at)
        assert _fix().exit_code == 0
    assert seen == [None] * 4
    assert [one.path.name for one in ground.found.left_out] == ["door.svg", "wall.svg"]
    _write(folder / "fixed", "wall", MOON)
    ground.look(True)
    moves = ground.look(False)
    assert moves and moves.new == (Path("fixed/wall.svg"),)


# Mats of an earlier run where this one wrote none


def _nothing_fits(_patch: pytest.MonkeyPatch) -> Result:
    return _sheets("--margin", "90")


def _nothing_can_be_read(_patch: pytest.MonkeyPatch) -> Result:
    Path("wall.svg").write_text("no drawing")
    return _sheets()


def _nothing_is_proven(patch: pytest.MonkeyPatch) -> Result:
    def unproven(*_args: object) -> None:
        raise Unproven("a line is off.")

    patch.setattr(cli_sheets, "mat_files", unproven)
    return _sheets()


def _no_room(patch: pytest.MonkeyPatch) -> Result:
    def full(*_args: object) -> None:
        raise NotWritten("the disk is full")

    patch.setattr(cli_sheets, "write_all", full)
    return _sheets()


def _interrupted(patch: pytest.MonkeyPatch) -> Result:
    def stopped(*_args: object) -> None:
        raise KeyboardInterrupt

    patch.setattr(cli_sheets, "plan", stopped)
    return _sheets("--format", "json")


@pytest.mark.parametrize(
    ("run", "status"),
    [
        (_nothing_fits, 1),
        (_nothing_can_be_read, 2),
        (_nothing_is_proven, 2),
        (_no_room, 2),
        (_interrupted, 130),
    ],
)
def test_old_mats_are_told_apart_from_those_that_a_run_did_not_write(
    folder: Path, run: Callable[[pytest.MonkeyPatch], Result], status: int
) -> None:
    said = "mats: the mats there are of an earlier run; do not cut them for this one\n"
    with pytest.MonkeyPatch.context() as patch:
        first = run(patch)
    assert (first.exit_code, said in first.stderr) == (status, False)
    _write(folder, "wall", WALL)
    for _ in range(2):
        assert _sheets().stderr == ""
    mat = (folder / "mats" / "01-card-200.svg").read_bytes()
    with pytest.MonkeyPatch.context() as patch:
        again = run(patch)
    assert (again.exit_code, again.stderr.count(said)) == (status, 1)
    assert (folder / "mats" / "01-card-200.svg").read_bytes() == mat


# The record


def _refuses(out: Path, name: str = "door.svg") -> bool:
    try:
        CopyRecord(out).check(out / name, b"other")
    except NotWritten:
        return True
    return False


def test_a_copy_is_recorded_by_the_sum_that_the_standard_gives(tmp_path: Path) -> None:
    CopyRecord(tmp_path).write(tmp_path / "a.svg", b"abc")
    # The example of FIPS 180-4 for SHA-256 (NIST, one-block message "abc").
    sum_ = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert recorded_copies(tmp_path) == {"a.svg": {sum_}}
    assert not _refuses(tmp_path, "a.svg")
    (tmp_path / "A.SVG").write_bytes(b"abc")  # for disks that take both for one
    assert not _refuses(tmp_path, "A.SVG")
    (tmp_path / "b.svg").write_bytes(b"abc")
    assert _refuses(tmp_path, "b.svg")


_GOOD = record_line("door.svg", hashlib.sha256(b"abc").hexdigest())
_HEAD = record_as_bytes({})


@pytest.mark.parametrize(
    ("data", "known"),
    [
        (_HEAD + _GOOD, True),
        (_HEAD + b"\n" + _GOOD.rstrip(), True),
        (_HEAD + b'{"name": "do\n' + _GOOD, True),
        (_HEAD + b"[" * 100_000 + b"\n7\n[]\n\xff\n" + _GOOD, True),
        (_HEAD + b'{"name": 7, "sha256": []}\n{"name": []}\n' + _GOOD, True),
        (_GOOD, False),
        (_HEAD.replace(b"copies-1", b"copies-2") + _GOOD, False),
        (b"the moon\n" + _GOOD, False),
        (b"\xff" + _HEAD + _GOOD, False),
        (b"", False),
    ],
)
def test_a_faulty_record_knows_what_can_be_read_and_no_more(
    tmp_path: Path, data: bytes, known: bool
) -> None:
    (tmp_path / "door.svg").write_bytes(b"abc")
    (tmp_path / RECORD).write_bytes(data)
    assert _refuses(tmp_path) is not known
    CopyRecord(tmp_path).write(tmp_path / "new.svg", b"new")
    assert not _refuses(tmp_path, "new.svg")
    assert _refuses(tmp_path) is not known


def test_what_is_no_file_or_too_large_is_no_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for make in (os.mkfifo, os.mkdir):  # to read a pipe would never end
        make(tmp_path / RECORD)
        assert recorded_copies(tmp_path) is None
        with pytest.raises(NotWritten):
            CopyRecord(tmp_path).write(tmp_path / "door.svg", b"abc")
        assert not (tmp_path / "door.svg").exists(), "no copy that the next run would not know"
        (tmp_path / RECORD).rename(tmp_path / make.__name__)
    (tmp_path / RECORD).write_bytes(_HEAD + _GOOD)
    assert recorded_copies(tmp_path)
    monkeypatch.setattr(earlier, "_LARGEST", 50)
    assert recorded_copies(tmp_path) is None


def test_a_record_that_leads_out_of_its_folder_is_not_followed(tmp_path: Path) -> None:
    away, out = tmp_path / "away.jsonl", tmp_path / "out"
    away.write_bytes(_HEAD + _GOOD)
    out.mkdir()
    (out / "door.svg").write_bytes(b"abc")
    (out / RECORD).symlink_to(away)
    assert _refuses(out)
    CopyRecord(out).write(out / "new.svg", b"new")
    assert not _refuses(out, "new.svg")
    assert away.read_bytes() == _HEAD + _GOOD


@settings(max_examples=30)
@given(st.dictionaries(st.text(), st.sets(st.text(), min_size=1)))
def test_a_record_is_read_as_it_was_written(copies: dict[str, set[str]]) -> None:
    first, *lines = record_as_bytes(copies).splitlines()
    pairs = [(line["name"], line["sha256"]) for line in map(json.loads, lines)]  # RFC 8259
    assert json.loads(first) == {"schema": "matready/copies-1"}
    assert sorted(pairs) == sorted((name, one) for name in copies for one in copies[name])
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, RECORD).write_bytes(record_as_bytes(copies))
        assert recorded_copies(Path(folder)) == copies


# A child process for every line of Python that a run's writing takes: killed when it comes to it.
_KILLED_AT_EACH_LINE = """
import os, signal, sys
from pathlib import Path
from matready.lint.repair.record import CopyRecord
from matready.lint.repair.writing import NotWritten
from matready.lint.sheets.prove import Unproven
from matready.lint.watching import Ground

out = Path(sys.argv[1])
door, wall, own = (out / f"{name}.svg" for name in ("door", "wall", "moon"))

os.fsync = lambda handle: None  # a kill takes nothing from what the system has been given

def killed_at(line):
    count = 0
    def trace(frame, event, arg):
        nonlocal count
        if "/lint/" not in frame.f_code.co_filename:
            return None
        count += event == "line"
        if count == line:
            os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)
    record = CopyRecord(out)
    for target in (door, wall):
        data = b"copy %d" % line
        record.check(target, data)
        record.write(target, data)
    record.finish()
    os._exit(0)

def refused(target):
    try:
        CopyRecord(out).check(target, b"new")
    except NotWritten:
        return True
    return False

own.write_bytes(b"drawn")
for line in range(1, 10_000):
    if line % 7 == 0:
        for path in out.iterdir():  # also from the first copy on
            if path != own:
                path.unlink()
    status = os.waitstatus_to_exitcode(os.waitpid(os.fork() or killed_at(line), 0)[1])
    if status not in (0, -signal.SIGKILL) or refused(door) or refused(wall) or not refused(own):
        print("BROKEN at", line)
        break
    if status == 0:
        print("done after", line)
        break
"""


def test_killed_at_any_line_a_run_leaves_no_copy_that_the_next_one_refuses(tmp_path: Path) -> None:
    asked = [sys.executable, "-c", _KILLED_AT_EACH_LINE, str(tmp_path)]
    result = subprocess.run(asked, capture_output=True, text=True, check=True)
    done, after, lines = result.stdout.split()
    assert (done, after) == ("done", "after")
    assert int(lines) > 100
