"""`lint --watch` as who draws meets it: what is told of each save, and what is read for it.

The system's own news are stood in for by moments at which the program looks, except in one test.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import watchfiles
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from matready.lint import cli_watch, runner, watching
from matready.lint.cli import main
from matready.lint.watching import Ground

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
CUT = 'fill="none" stroke="#000"'
CLEAN = f'{HEAD}<rect id="door" x="10" y="10" width="30" height="40" {CUT}/></svg>'
WALL = f'{HEAD}<rect id="wall" x="10" y="10" width="60" height="50" {CUT}/></svg>'
OPEN = f'{HEAD}<path id="door" d="M10 10h30v40h-30" {CUT}/></svg>'

Step = Callable[[], Any]


class _Sitting:
    """One run of the program, in a folder where something is done between its looks."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        self.read: list[str] = []
        self.monkeypatch = monkeypatch
        plain = runner.lint_file

        def noted(path: Path, *args: Any, **kwargs: Any) -> Any:
            self.read.append(path.name)
            return plain(path, *args, **kwargs)

        monkeypatch.setattr(runner, "lint_file", noted)
        monkeypatch.setattr(cli_watch, "_now", lambda: "10:20:30")
        monkeypatch.chdir(folder)

    def write(self, name: str, text: str) -> None:
        """Save a drawing as most editors do: the file is written beside and takes its place."""
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        beside = path.with_name(f".{path.name}.part")
        beside.write_text(text, "utf-8")
        beside.replace(path)

    def run(self, *steps: Step, args: tuple[str, ...] = (".",)) -> list[str]:
        """What is said after each step, as one line each; reads are counted from the first."""

        def wakes(_paths: object) -> Iterator[bool]:
            self.read.clear()
            for step in steps:
                print("<step>")
                step()
                # What has happened is told once; at the second look it is at rest.
                yield True
                yield False
            raise KeyboardInterrupt

        self.monkeypatch.setattr(cli_watch, "wake_ups", wakes)
        result = _invoke("lint", "--watch", *args)
        assert (result.exit_code, result.stderr) == (0, "matready: no longer watching\n")
        said = [" ".join(part.split()) for part in result.stdout.split("<step>")]
        assert said[0].endswith("10:20:30 watching; save a drawing and it is checked again, " + END)
        return said[1:]


END = "Ctrl-C ends this"


def _invoke(*args: str) -> Result:
    result = CliRunner().invoke(main, args, prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture
def sitting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> _Sitting:
    made = _Sitting(tmp_path, monkeypatch)
    made.write("door.svg", OPEN)
    made.write("wall.svg", WALL)
    return made


def test_a_save_is_told_and_nothing_else_is_read(sitting: _Sitting) -> None:
    spoilt, mended, still = sitting.run(
        lambda: sitting.write("door.svg", OPEN.replace("40h", "41h")),
        lambda: sitting.write("door.svg", CLEAN),
        lambda: None,
    )
    assert sitting.read == ["door.svg", "door.svg"]
    assert spoilt.startswith("10:20:30 door.svg saved: 1 fault, as before page 100 × 100 mm")
    assert "open-outline line 1 of the file" in spoilt
    assert spoilt.endswith("10:20:30 2 files read: 1 fault; 1 file clean.")
    # Now that all is clean they will be cut, so a word of care.
    assert mended.startswith("10:20:30 door.svg saved: clean (before: 1 fault) 10:20:30 2 files")
    assert "Test-cut first" in mended
    assert "Test-cut first" not in spoilt
    assert still == ""


def test_a_file_that_is_still_being_written_is_awaited(sitting: _Sitting) -> None:
    door = sitting.folder / "door.svg"
    ground = Ground([sitting.folder], None)
    looks = []
    # Emptied, half written, whole.
    for text in ("", CLEAN[:60], CLEAN):
        door.write_text(text, "utf-8")
        looks.append(ground.look(woken=True))
    assert looks == [None, None, None]
    at_rest = ground.look(woken=False)
    assert at_rest is not None
    assert at_rest.saved == (door,)
    # For a moment it is not there at all, as when its old self is moved out of the way.
    door.rename(sitting.folder / "door.old")
    assert ground.look(woken=True) is None
    door.write_text(OPEN, "utf-8")
    assert ground.look(woken=True) is None
    back = ground.look(woken=False)
    assert back is not None
    assert (back.saved, back.gone, back.new) == ((door,), (), ())


def test_new_renamed_and_removed_files_are_told(sitting: _Sitting) -> None:
    here = sitting.folder
    new, renamed, gone, hidden, below = sitting.run(
        lambda: sitting.write("arch.svg", CLEAN),
        lambda: (here / "arch.svg").rename(here / "gate.svg"),
        lambda: (here / "gate.svg").unlink(),
        lambda: sitting.write(".kept/x.svg", OPEN),
        lambda: sitting.write("wings/left.svg", CLEAN),
    )
    assert "10:20:30 arch.svg is new: clean" in new
    assert "10:20:30 gate.svg renamed from arch.svg: clean, as before" in renamed
    assert gone.startswith("10:20:30 gate.svg is gone 10:20:30 2 files read")
    assert hidden == ""
    assert f"10:20:30 {Path('wings/left.svg')} is new: clean" in below
    assert sitting.read == ["arch.svg", "gate.svg", "left.svg"]


def test_copies_made_while_watching_are_not_read_and_that_is_said(sitting: _Sitting) -> None:
    copies, saved = sitting.run(
        lambda: _invoke("fix", ".", "--out", "fixed"),
        lambda: sitting.write("door.svg", CLEAN),
    )
    assert copies == ""
    assert saved.startswith(
        "10:20:30 fixed: 2 copies of an earlier fix are left out; name this folder to have them "
        "read 10:20:30 door.svg saved: clean"
    )
    assert sitting.read == ["door.svg"]


def test_a_file_that_cannot_be_read_says_why_and_is_awaited(sitting: _Sitting) -> None:
    broken, mended = sitting.run(
        lambda: sitting.write("door.svg", ""), lambda: sitting.write("door.svg", CLEAN)
    )
    assert "door.svg saved: not read, the file is empty" in broken
    assert "(before: 1 fault)" in broken
    assert "1 not read." in broken
    assert "door.svg saved: clean (before: not read, the file is empty" in mended


def test_a_file_that_was_named_is_awaited_when_it_goes(sitting: _Sitting) -> None:
    door = sitting.folder / "door.svg"
    gone, other, back = sitting.run(
        door.unlink,
        lambda: sitting.write("arch.svg", OPEN),
        lambda: sitting.write("door.svg", CLEAN),
        args=("door.svg", "wall.svg"),
    )
    assert "door.svg is gone: not read, there is no such file" in gone
    assert other == ""
    assert "door.svg saved: clean (before: not read" in back


def test_what_a_save_does_to_the_whole_set_is_told(sitting: _Sitting) -> None:
    twin, edited, parted = sitting.run(
        lambda: sitting.write("copy.svg", WALL),
        lambda: sitting.write("copy.svg", f"<!-- the same lines -->{WALL}"),
        lambda: sitting.write("copy.svg", CLEAN),
    )
    assert "the whole set in . tidy repeat-file" in twin
    assert "as before in the whole set: this file cuts and scores" in edited
    assert "the whole set in ." not in edited
    assert "no longer so in the whole set: this file cuts and scores" in parted
    # The other files' part was kept: only the copy was read for all this.
    assert sitting.read == ["copy.svg"] * 3


def test_changed_settings_reach_just_the_files_that_they_change(sitting: _Sitting) -> None:
    settings = sitting.folder / "matready.toml"
    for_one = '[[files]]\nmatch = "door.svg"\nrules.open-outline.severity = "caution"\n'
    one, faulty, meanwhile, mended = sitting.run(
        lambda: settings.write_text(for_one),
        lambda: settings.write_text("stok = 1\n"),
        lambda: sitting.write("wall.svg", OPEN),
        lambda: settings.write_text('stock = "card-300"\n'),
    )
    assert one.startswith("10:20:30 matready.toml changed 10:20:30 door.svg under the new settings")
    assert "1 caution (before: 1 fault)" in one
    assert '"stok"; the nearest known key is "stock"' in faulty
    assert "nothing is checked until the settings are put right" in meanwhile
    assert "door.svg under the new settings: 1 fault (before: 1 caution)" in mended
    assert "wall.svg saved: 1 fault (before: clean)" in mended
    assert sitting.read == ["door.svg", "door.svg", "wall.svg"]


def test_settings_that_are_named_or_lie_above_are_watched_too(sitting: _Sitting) -> None:
    above, other = sitting.folder / "matready.toml", sitting.folder / "other.toml"
    other.write_text('fail-on = "never"\n')
    sitting.write("wings/left.svg", OPEN)
    skip = 'skip = ["open-outline"]\n'
    (told,) = sitting.run(lambda: above.write_text(skip), args=("wings",))
    assert f"{Path('wings/left.svg')} under the new settings: clean" in told
    above.unlink()
    named, passed_over = sitting.run(
        lambda: other.write_text(skip),
        lambda: above.write_text("stok = 1\n"),
        args=("wings", "--config", "other.toml"),
    )
    assert "other.toml changed" in named
    assert f"{Path('wings/left.svg')} under the new settings: clean" in named
    assert passed_over == ""


def test_the_page_for_a_browser_follows(sitting: _Sitting) -> None:
    page = sitting.folder / "report.html"
    pages = []

    def wakes(_paths: object) -> Iterator[bool]:
        pages.append(page.read_text("utf-8"))
        sitting.write("door.svg", CLEAN)
        yield True
        yield False
        pages.append(page.read_text("utf-8"))
        raise KeyboardInterrupt

    sitting.monkeypatch.setattr(cli_watch, "wake_ups", wakes)
    assert _invoke("lint", "--watch", ".", "--report", "report.html").exit_code == 0
    assert ["open-outline" in page for page in pages] == [True, False]


@pytest.mark.parametrize("args", [["-"], [".", "-"], [".", "--format", "json"]])
def test_what_cannot_go_with_watching_is_refused_in_one_sentence(args: list[str]) -> None:
    result = _invoke("lint", "--watch", *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("matready: --watch ")
    assert result.stderr.count("\n") == 1


def test_where_the_system_does_not_let_us_watch_that_is_said(
    sitting: _Sitting, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_args: object, **_kwargs: object) -> Iterator[object]:
        raise OSError("OS file watch limit reached.")

    monkeypatch.setattr(watchfiles, "watch", refused)
    result = _invoke("lint", "--watch", ".")
    assert result.exit_code == 2
    assert result.stderr == (
        "matready: these folders cannot be watched (OS file watch limit reached); "
        "name fewer, or leave out --watch\n"
    )


# Against the disk itself

_NAMES = st.sampled_from(["a.svg", "b.svg", "c.svg", "sub/a.svg", "notes.txt"])
_DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("write"), _NAMES, st.binary(max_size=3)),
        st.tuples(st.just("remove"), _NAMES),
        st.tuples(st.just("rename"), _NAMES, _NAMES),
        st.tuples(st.just("look")),
    ),
    max_size=30,
)


@given(deeds=_DEEDS)
def test_what_was_told_adds_up_to_what_is_on_the_disk(
    tmp_path_factory: pytest.TempPathFactory, deeds: list[Any]
) -> None:
    """Whatever is done and whenever we look: who reads what is told anew has read all there is."""
    top = tmp_path_factory.mktemp("set")
    (top / "sub").mkdir()
    ground = Ground([top], None)
    seen: dict[Path, bytes] = {}
    for at, (deed, *names) in enumerate([*deeds, ("look",), ("look",)]):
        if deed == "look":
            _follow(ground.look(woken=True), seen)
        else:
            _do(deed, top, names, at)
    there = {path: path.read_bytes() for path in top.rglob("*.svg")}
    assert seen == there


def _do(deed: str, top: Path, names: list[Any], at: int) -> None:
    path = top / names[0]
    if deed == "write":
        path.write_bytes(names[1])
        # As a clock that is fine enough would have it: a file system's may stand still meanwhile.
        os.utime(path, (at, at))
    elif path.exists():
        path.unlink() if deed == "remove" else path.replace(top / names[1])


def _follow(moves: watching.Moves | None, seen: dict[Path, bytes]) -> None:
    if moves is None:
        return
    for path in (*moves.gone, *moves.renamed.values()):
        del seen[path]
    for path in (*moves.saved, *moves.new, *moves.renamed):
        assert (path in seen) == (path in moves.saved)
        seen[path] = path.read_bytes()


# For real

ENTRY = [sys.executable, "-c", "from matready.lint.cli import main; main(prog_name='matready')"]
DEADLINE_S = 60.0


def test_a_real_save_is_told_by_a_real_process_and_ctrl_c_ends_it(tmp_path: Path) -> None:
    folder = tmp_path / "set"
    folder.mkdir()
    (folder / "door.svg").write_text(OPEN)
    log = tmp_path / "log"
    with log.open("w") as out:
        process = subprocess.Popen(
            [*ENTRY, "lint", "set", "--watch"], cwd=tmp_path, stdout=out, stderr=subprocess.PIPE
        )
    try:
        _wait(log, END, process)
        (folder / "door.svg").write_text(CLEAN)
        _wait(log, "door.svg saved: clean (before: 1 fault)", process)
        # The whole folder goes, and another one comes in its place.
        folder.rename(tmp_path / "old")
        _wait(log, "door.svg is gone", process)
        folder.mkdir()
        (folder / "wall.svg").write_text(WALL)
        _wait(log, "wall.svg is new: clean", process)
        (folder / "wall.svg").write_text(OPEN)
        _wait(log, "wall.svg saved: 1 fault (before: clean)", process)
        (folder / "arch.svg").write_text(CLEAN)
        _wait(log, "arch.svg is new: clean", process)
        process.send_signal(signal.SIGINT)
        _, stderr = process.communicate(timeout=DEADLINE_S)
        assert (process.returncode, stderr) == (0, b"matready: no longer watching\n")
        assert re.search(r"^\d\d:\d\d:\d\d  watching", log.read_text(), re.MULTILINE)
    finally:
        process.kill()
        process.communicate()


def _wait(log: Path, said: str, process: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + DEADLINE_S
    while said not in " ".join(log.read_text().split()):
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < end, log.read_text()
        time.sleep(0.02)
