"""Rules over several drawings: what is one set, and what becomes of what they say."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from matready.lint.cli import main
from matready.lint.cutting import Cutout
from matready.lint.cutting.likeness import alike, likeness_of
from matready.lint.finding import Severity
from matready.lint.reports.as_text import sets_as_text
from matready.lint.results import Checked, SetFindingRecord, UnreadableFile
from matready.lint.rule import Rule
from matready.lint.runner import lint_paths
from matready.lint.sets import SetFinding, check_sets, place_of
from matready.lint.settings import SettingsFinder
from matready.rules import RULES

from tests.drawn import CUT, cut_out, page, path

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
PANEL, WING = (page(path(d, name=n)) for d, n in (("M20 20H80V60H20Z", "panel"),
                                                    ("M20 20H80L50 90Z", "wing")))  # fmt: skip


def _write(folder: Path, **drawings: bytes) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in drawings.items():
        (folder / f"{name}.svg").write_bytes(data)
    return folder


def _lint(*args: Path | str) -> Result:
    return CliRunner().invoke(main, ["lint", *map(str, args)])


def _set_of(*args: Path | str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(_lint(*args, "--format", "json").stdout)["set"]
    return found


def _names(files: Iterable[str]) -> list[str]:
    return [Path(name).name for name in files]


# What is a set


def test_each_folder_is_a_set_of_its_own(tmp_path: Path) -> None:
    _write(tmp_path / "a", panel=PANEL)
    _write(tmp_path / "b", panel=PANEL, copy=PANEL)
    (found,) = _set_of(tmp_path)
    assert (found["rule"], found["severity"]) == ("repeat-file", "tidy")
    assert _names(found["files"]) == ["panel.svg", "copy.svg"]
    assert {Path(name).parent.name for name in found["files"]} == {"b"}


def test_files_that_are_named_are_a_set_however_their_folder_is_written(tmp_path: Path) -> None:
    folder = _write(tmp_path / "a", panel=PANEL, copy=PANEL, wing=WING)
    assert _set_of(folder / "panel.svg", folder / "wing.svg") == []
    other = f"{folder}/../a/copy.svg"
    assert len(_set_of(folder / "panel.svg", other)) == 1


def test_standard_input_is_in_no_set(tmp_path: Path) -> None:
    folder = _write(tmp_path, panel=PANEL)
    result = CliRunner().invoke(
        main, ["lint", "-", str(folder / "panel.svg"), "--format", "json"], input=PANEL
    )
    assert json.loads(result.stdout)["set"] == []


# What becomes of a finding


def test_a_finding_is_counted_shown_and_decides_the_exit_status(tmp_path: Path) -> None:
    folder = _write(tmp_path, panel=PANEL, copy=PANEL)
    report = json.loads(_lint(folder, "--format", "json", "--rule", "repeat-file").stdout)
    assert report["totals"]["tidy"] == 1
    assert all(file["findings"] == [] for file in report["files"])
    (found,) = report["set"]
    assert (found["line"], found["column"], found["elements"]) == (1, 1, ["/svg"])
    assert found["at_mm"] is None
    text = _lint(folder, "--rule", "repeat-file")
    assert text.exit_code == 0
    assert f"the whole set in {folder}" in " ".join(text.stdout.split())
    assert "repeat-file" in text.stdout
    assert "with: copy.svg" in text.stdout
    assert "2 files read: 1 tidy" in text.stdout
    assert "matready rules repeat-file" in text.stdout
    assert _lint(folder, "--rule", "repeat-file", "--fail-on", "tidy").exit_code == 1


def test_settings_hold_for_rules_over_sets_too(tmp_path: Path) -> None:
    folder = _write(tmp_path, panel=PANEL, copy=PANEL)
    (folder / "matready.toml").write_text('[rules.repeat-file]\nseverity = "fault"\n')
    assert _set_of(folder)[0]["severity"] == "fault"
    assert _lint(folder, "--rule", "repeat-file").exit_code == 1
    (folder / "matready.toml").write_text('skip = ["repeat-file"]\n')
    assert _set_of(folder) == []
    assert _set_of(folder, "--rule", "wrong-scale") == []


def test_a_limit_decides(tmp_path: Path) -> None:
    moved = page(path("M20 20H80V60H20Z"), path("M40 30h20v10h-20Z"))
    higher = page(path("M20 20H80V60H20Z"), path("M40 29.95h20v10h-20Z"))
    folder = _write(tmp_path, panel=moved, copy=higher)
    assert _set_of(folder) == []
    (folder / "matready.toml").write_text("[rules.repeat-file]\nsame_mm = 0.1\n")
    assert len(_set_of(folder)) == 1


def test_what_a_drawing_allows_as_a_whole_is_counted_and_not_told(tmp_path: Path) -> None:
    allowing = PANEL.replace(b"<svg ", b'<svg data-matready-allow="repeat-file" ')
    folder = _write(tmp_path, copy=PANEL, panel=allowing)
    report = json.loads(_lint(folder, "--format", "json").stdout)
    assert report["set"] == []
    assert [file["silenced"] for file in report["files"] if file.get("silenced")] == [1]


def test_more_processes_say_the_same(tmp_path: Path) -> None:
    folder = _write(tmp_path, panel=PANEL, copy=PANEL, wing=WING)
    assert _set_of(folder, "--jobs", "2") == _set_of(folder, "--jobs", "1") != []


def test_fix_leaves_sets_alone(tmp_path: Path) -> None:
    folder = _write(tmp_path / "in", panel=PANEL, copy=PANEL)
    result = CliRunner().invoke(
        main, ["fix", str(folder), "--out", str(tmp_path / "out"), "--rule", "repeat-file"]
    )
    assert result.exit_code == 0
    assert (tmp_path / "out" / "copy.svg").read_bytes() == PANEL


# The two halves of a rule


@dataclasses.dataclass(frozen=True)
class _None:
    """No limits."""


def _collect(cutout: Cutout, limits: object) -> object:
    return place_of(cutout)


def _check(files: Sequence[tuple[str, Any]], limits: object) -> list[SetFinding]:
    paths = tuple(path for path, _ in files)
    return [SetFinding("these are dull", paths, files[0][1])]


def _breaks(*_: object) -> Any:
    raise ValueError("oh")


def _rule(name: str = "dull-set", **changes: Any) -> Rule:
    facts: dict[str, Any] = {"collect": _collect, "check_set": _check}
    return Rule(name, Severity.CAUTION, _None, None, **{**facts, **changes})


def _asked(
    paths: Sequence[Path], *rules: Rule
) -> tuple[list[Checked | UnreadableFile], tuple[SetFindingRecord, ...]]:
    finder = SettingsFinder(None, rules)
    return check_sets(list(lint_paths(paths, rules, finder)), rules, finder)


def test_a_rule_that_breaks_says_so_and_costs_no_other_finding(tmp_path: Path) -> None:
    paths = sorted(_write(tmp_path, panel=PANEL, wing=WING).glob("*.svg"))
    broken = _rule("lame-set", check_set=_breaks), _rule("blind-set", collect=_breaks)
    outcomes, found = _asked(paths, *broken, _rule())
    assert [one.rule for one in found] == ["dull-set"]
    reports = [one.report for one in outcomes if isinstance(one, Checked)]
    assert [[note.rule for note in report.not_checked] for report in reports] == [
        ["blind-set", "lame-set"],
        ["blind-set"],
    ]
    assert "ValueError: oh" in reports[0].not_checked[0].reason


def test_a_rule_that_needs_every_drawing_is_asked_only_where_none_is_missing(
    tmp_path: Path,
) -> None:
    paths = sorted(_write(tmp_path, panel=PANEL, wing=WING).glob("*.svg"))
    rule = _rule(whole_set=True)
    assert len(_asked(paths, rule)[1]) == 1
    assert _asked(paths[:1], rule)[1] == ()
    assert len(_asked(paths[:1], _rule())[1]) == 1
    paths[0].write_bytes(b"no svg")
    outcomes, found = _asked(paths, rule)
    assert found == ()
    (report,) = [one.report for one in outcomes if isinstance(one, Checked)]
    assert [note.rule for note in report.not_checked] == [rule.name]
    assert report.not_checked[0].reason == (
        "panel.svg in this folder could not be read, so what seems to be missing may be drawn there"
    )
    silent = dataclasses.replace(rule, check_set=lambda *_: ())
    assert not any(
        one.report.not_checked for one in _asked(paths, silent)[0] if isinstance(one, Checked)
    )


@pytest.mark.parametrize(
    ("folder", "said"), [("flagged/roof-two-millimetres-longer", 1), ("clean/lid-on-four-walls", 0)]
)
@pytest.mark.parametrize("unread", [True, False])
def test_a_tab_that_cannot_be_judged_is_said_to_be_unjudged(
    tmp_path: Path, folder: str, said: int, unread: bool
) -> None:
    """Only where there is something to miss, and never where the run was not about the folder."""
    for drawing in (FIXTURES / "unmatched-tab" / folder).glob("*.svg"):
        (tmp_path / drawing.name).write_bytes(drawing.read_bytes())
    stray = b"<svg" if unread else PANEL.replace(b'width="200mm" height="200mm"', b"")
    assert stray != PANEL
    (tmp_path / "trap-door.svg").write_bytes(stray)
    report = json.loads(_lint(tmp_path, "--format", "json").stdout)
    notes = [note["reason"] for file in report["files"] for note in file["not_checked"]
             if note["rule"] == "unmatched-tab"]  # fmt: skip
    assert report["set"] == [] or not said
    assert len(notes) == said and all("trap-door.svg" in note for note in notes)
    alone = (
        json.loads(_lint(*tmp_path.glob("roof*.svg"), "--format", "json").stdout) if said else {}
    )
    assert "unmatched-tab" not in json.dumps(alone)


def test_a_rule_yields_to_the_one_that_tells_the_cause(tmp_path: Path) -> None:
    paths = sorted(_write(tmp_path, panel=PANEL).glob("*.svg"))
    after = _rule("late-set", yields_to=("dull-set",))
    assert [one.rule for one in _asked(paths, _rule(), after)[1]] == ["dull-set"]
    assert [one.rule for one in _asked(paths, after)[1]] == ["late-set"]


# Are two drawings the same? Held against shapely: polygons whose normal forms are equal.

turns = st.lists(st.floats(8, 30), min_size=3, max_size=12)


def _ring(radii: Sequence[float]) -> np.ndarray[Any, np.dtype[np.float64]]:
    angle = np.arange(len(radii)) * math.tau / len(radii)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.asarray(circle * np.array(radii)[:, None] + 60)


def _drawn(points: np.ndarray[Any, np.dtype[np.float64]]) -> Cutout:
    return cut_out(path("M" + "L".join(f"{x:.6f} {y:.6f}" for x, y in points) + "Z", CUT))


@settings(max_examples=40, deadline=None)
@given(turns, st.integers(0, 11), st.floats(-20, 20), st.booleans())
def test_a_drawing_is_like_itself_wherever_it_starts_and_lies(
    radii: list[float], start: int, by: float, back: bool
) -> None:
    ring = _ring(radii)
    other = np.roll(ring[::-1] if back else ring, start, axis=0)
    assert shapely.normalize(shapely.Polygon(ring)).equals(
        shapely.normalize(shapely.Polygon(other))
    )
    one, two = likeness_of(_drawn(ring)), likeness_of(_drawn(other + np.array([by, -by])))
    assert one is not None
    assert two is not None
    assert alike(one, two, 0.01)


@settings(max_examples=40, deadline=None)
@given(turns)
def test_a_mirror_image_is_another_drawing_unless_it_falls_on_itself(radii: list[float]) -> None:
    ring = _ring(radii)
    mirrored = ring * [-1, 1] + [120, 0]
    lows = [one - one.min(axis=0) for one in (ring, mirrored)]
    polygons = [shapely.Polygon(low) for low in lows]
    apart = shapely.hausdorff_distance(*polygons, densify=0.05)
    one, two = likeness_of(_drawn(ring)), likeness_of(_drawn(mirrored))
    assert one is not None
    assert two is not None
    if apart > 0.5:
        assert not alike(one, two, 0.01)
    if apart < 0.001:
        assert alike(one, two, 0.01)


def test_every_rule_has_just_one_way_to_be_asked() -> None:
    for rule in RULES:
        assert (rule.check is None) == (rule.check_set is not None) == (rule.collect is not None)


def test_what_is_said_of_a_set_fits_the_width() -> None:
    words = "this file cuts and scores just the lines of another one " * 4
    found = SetFindingRecord(
        "repeat-file", "tidy", words, None, None, 1, 1, ("/svg",), None, None, None,
        files=tuple(f"set/wing-{n}.svg" for n in range(20)),
    )  # fmt: skip
    for width in (40, 60, 80):
        text = sets_as_text([found, found], width, colour=False)
        assert max(map(len, text.splitlines())) <= width
        assert text.count("the whole set in set") == 1
        assert "wing-19.svg" in text
