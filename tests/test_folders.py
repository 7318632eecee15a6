"""From paths to the list of files: what is walked, in what order, and what is refused."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from matready.lint.folders import NO_SVG, NOT_A_FILE, find_files, natural_key


def _make(top: Path, *names: str) -> None:
    for name in names:
        path = top / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("<svg/>")


def _names(top: Path, *paths: Path) -> list[str]:
    return [file.relative_to(top).as_posix() for file in find_files(paths or [top]).files]


def test_both_suffixes_in_any_letter_case_are_walked(tmp_path: Path) -> None:
    _make(tmp_path, "arch.svg", "Boat.SVG", "curtain.svgz", "notes.txt", "picture.svg.png", "svg")
    assert _names(tmp_path) == ["arch.svg", "Boat.SVG", "curtain.svgz"]


def test_order_is_natural_and_folders_keep_their_place(tmp_path: Path) -> None:
    _make(
        tmp_path,
        "wing10.svg",
        "wing2.svg",
        "wing.svg",
        "Wing1.svg",
        "part 3/a.svg",
        "part 20/a.svg",
    )
    assert _names(tmp_path) == [
        "part 3/a.svg",
        "part 20/a.svg",
        "wing.svg",
        "Wing1.svg",
        "wing2.svg",
        "wing10.svg",
    ]


def test_natural_order_is_total_for_odd_names() -> None:
    names = ["", "a", "A", "a1", "a01", "1", "10", "2", "²", "٣", "a.1", "a.10", ".svg", "1.svg"]
    ordered = sorted(map(Path, names), key=natural_key)
    backwards = ordered[::-1]
    backwards.sort(key=natural_key)
    assert backwards == ordered


def test_hidden_files_and_folders_are_left_out_but_may_be_named(tmp_path: Path) -> None:
    _make(tmp_path, ".old/arch.svg", "._arch.svg", "arch.svg")
    assert _names(tmp_path) == ["arch.svg"]
    assert _names(tmp_path, tmp_path / ".old") == [".old/arch.svg"]


def test_a_named_file_is_taken_whatever_its_suffix_and_even_if_missing(tmp_path: Path) -> None:
    _make(tmp_path, "arch.xml")
    assert _names(tmp_path, tmp_path / "arch.xml", tmp_path / "gone.svg") == [
        "arch.xml",
        "gone.svg",
    ]


def test_a_file_met_twice_is_read_once(tmp_path: Path) -> None:
    _make(tmp_path, "set/arch.svg", "set/wing.svg")
    (tmp_path / "set" / "again.svg").symlink_to(tmp_path / "set" / "wing.svg")
    doubled = tmp_path / "set" / ".." / "set" / "wing.svg"
    assert _names(tmp_path, tmp_path / "set" / "wing.svg", doubled, tmp_path / "set") == [
        "set/wing.svg",
        "set/arch.svg",
    ]


def test_loops_of_links_end(tmp_path: Path) -> None:
    _make(tmp_path, "a/one.svg", "b/two.svg")
    (tmp_path / "a" / "up").symlink_to(tmp_path)
    (tmp_path / "a" / "across").symlink_to(tmp_path / "b")
    (tmp_path / "b" / "across").symlink_to(tmp_path / "a")
    (tmp_path / "b" / "self").symlink_to("self")
    assert {Path(name).name for name in _names(tmp_path)} == {"one.svg", "two.svg"}


def test_folders_that_all_link_to_each_other_are_walked_once_each(tmp_path: Path) -> None:
    count = 40  # every path through them would be 40! walks
    _make(tmp_path, *(f"{i}/{i}.svg" for i in range(count)))
    for i in range(count):
        for other in range(count):
            (tmp_path / str(i) / f"to {other}").symlink_to(tmp_path / str(other))
    assert len(_names(tmp_path)) == count


def test_a_folder_that_looks_like_a_file_is_kept_and_walked(tmp_path: Path) -> None:
    _make(tmp_path, "arch.svg/inner.svg")
    assert _names(tmp_path) == ["arch.svg", "arch.svg/inner.svg"]
    assert _names(tmp_path, tmp_path / "arch.svg") == ["arch.svg/inner.svg"]


def test_a_link_to_nothing_is_kept_so_that_reading_reports_it(tmp_path: Path) -> None:
    (tmp_path / "arch.svg").symlink_to("gone.svg")
    assert _names(tmp_path) == ["arch.svg"]


def test_a_folder_without_svg_is_refused(tmp_path: Path) -> None:
    _make(tmp_path, "full/arch.svg", "empty/notes.txt")
    found = find_files([tmp_path / "empty", tmp_path / "full", tmp_path / "empty"])
    assert [file.name for file in found.files] == ["arch.svg"]
    assert found.refused == ((tmp_path / "empty", NO_SVG),)


def test_a_folder_named_after_its_own_content_is_not_refused(tmp_path: Path) -> None:
    _make(tmp_path, "set/inner/arch.svg")
    assert find_files([tmp_path / "set" / "inner", tmp_path / "set"]).refused == ()


def test_a_pipe_in_a_folder_is_refused_since_reading_it_would_never_end(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "arch.svg")
    found = find_files([tmp_path])
    assert found.files == ()
    assert found.refused == ((tmp_path / "arch.svg", NOT_A_FILE),)


def test_a_folder_that_may_not_be_opened_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _make(tmp_path, "arch.svg", "locked/wing.svg")
    plain = Path.iterdir

    def guarded(self: Path) -> object:
        if self.name == "locked":
            raise PermissionError(13, "Permission denied")
        return plain(self)

    monkeypatch.setattr(Path, "iterdir", guarded)
    found = find_files([tmp_path])
    assert [file.name for file in found.files] == ["arch.svg"]
    ((path, sentence),) = found.refused
    assert path == tmp_path / "locked"
    assert "could not be opened (permission denied)" in sentence


def test_a_name_that_no_system_takes_is_left_to_the_reader() -> None:
    too_long = Path("a" * 5000)
    assert find_files([too_long]).files == (too_long,)
