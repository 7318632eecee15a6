"""`matready sheets` as a user and a script meet it: what is on which mat, and what is said of it.

The mats are read by svgelements, and where pieces lie is held against shapely.
"""

from __future__ import annotations

import json
import shutil
import signal
from collections import Counter
from collections.abc import Iterator
from itertools import combinations, combinations_with_replacement, product
from pathlib import Path
from typing import Any

import pytest
import shapely
from click.testing import CliRunner, Result
from shapely import affinity
from svgelements import SVG, Close, Group, Line, Move, Shape

from matready.lint.cli import main
from matready.lint.sheets.mats import share
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.planning import plan

from tests.conftest import ROOT

DEMO = ROOT / "fixtures" / "puppet-theatre"
PX_PER_MM = 96 / 25.4  # CSS Values 3


def _run(*args: str | Path) -> Result:
    result = CliRunner().invoke(main, ["sheets", *map(str, args)], prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def _drawing(*pieces: str, size: str = 'width="200mm" height="200mm" viewBox="0 0 200 200"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(pieces)}</svg>'


def _panel(name: str, width: float, height: float, more: str = "") -> str:
    return (
        f'<g id="{name}"><path id="{name}-score" class="score" fill="none" stroke="#c2603a" '
        f'd="M10 {10 + height / 2}h{width}"/><rect id="{name}-edge" x="10" y="10" width="{width}" '
        f'height="{height}" fill="none" stroke="#34495a" {more}/></g>'
    )


OPEN = '<path id="rope" fill="none" stroke="#34495a" d="M20 20h40v40h-40v-20"/>'
GAP = '<path id="door" fill="none" stroke="#34495a" d="M20 20h40v40h-40v-39.8"/>'


HATCH = '<path class="engrave" fill="none" stroke="#000" d="M22 22h6"/>'


def _write(folder: Path, **drawings: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in drawings.items():
        (folder / f"{name}.svg").write_text(text, "utf-8")
    return folder


def _list(out: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((out / "cutting-list.json").read_text("utf-8"))
    return found


def _held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def _inks(mat: Path) -> dict[str, set[str]]:
    """The colours of the lines on a mat by what is to be done with them, as svgelements reads."""
    found: dict[str, set[str]] = {}
    for shape in SVG.parse(str(mat)).elements(lambda one: isinstance(one, Shape)):
        found.setdefault(shape.values["class"], set()).add(shape.stroke.hex)
    return found


def _outlines(path: Path) -> Iterator[shapely.Polygon]:
    """The outlines on a mat in mm, as svgelements reads them."""
    groups = SVG.parse(str(path)).elements(lambda one: isinstance(one, Group))
    for group in (one for one in groups if str(one.id).endswith("-outline")):
        for outline in group:
            points: list[tuple[float, float]] = []
            for part in outline.segments():
                steps = 1 if isinstance(part, Line | Close | Move) else 24
                points += [(p.x, p.y) for p in (part.point(k / steps) for k in range(1, steps + 1))]
            yield shapely.Polygon([(x / PX_PER_MM, y / PX_PER_MM) for x, y in points])


def _on_demo(out: Path, *more: str) -> Result:
    files = [DEMO / f"{name}.svg" for name in ("stage-box", "curtain-strip", "footlights")]
    return _run(*files, "--mat", "12x12in", "--out", out, "--time", "5", *more)


def test_the_demo_is_on_mats_that_an_independent_reader_finds_in_order(tmp_path: Path) -> None:
    out = tmp_path / "mats"
    result = _on_demo(out)
    assert result.exit_code == 1, "a wick slip is too narrow for a blade"
    found = _list(out)
    assert f"{found['totals']['pieces']} pieces of 3 files" in result.stdout
    (refused,) = found["refused"]
    assert (refused["file"], refused["pieces"]) == (str(DEMO / "footlights.svg"), ["wick-slip-4"])
    # 5, 7 and 22 pieces, as the lint of the three files counts them.
    told = [
        (part["file"], name)
        for mat in found["mats"]
        for part in mat["parts"]
        for name in part["pieces"]
    ]
    assert len(set(told)) == len(told) == 33
    for mat in found["mats"]:
        outlines = list(_outlines(out / mat["file"]))
        assert len(outlines) == len(mat["parts"])
        # Curves are followed within 0.01 mm: [distances], flatten_mm.
        inside = shapely.box(6, 6, 298.8, 298.8).buffer(0.01)
        assert all(inside.covers(outline) for outline in outlines)
        lines = [outline.exterior for outline in outlines]
        assert all(a.distance(b) > 2 - 0.02 for a, b in combinations(lines, 2))
    linted = CliRunner().invoke(main, ["lint", str(out), "--fail-on", "fault", "--mat", "12x12in"])
    assert linted.exit_code == 0, linted.stdout


def test_the_same_command_writes_the_same_bytes(tmp_path: Path) -> None:
    _on_demo(tmp_path / "one")
    _on_demo(tmp_path / "other")
    assert _held(tmp_path / "one") == _held(tmp_path / "other")


def test_json_on_standard_output_is_the_cutting_list(tmp_path: Path) -> None:
    _write(tmp_path / "set", arch=_drawing(_panel("arch", 80, 60)))
    result = _run(tmp_path / "set", "--mat", "A4", "--out", tmp_path / "out", "--format", "json")
    assert result.exit_code == 0
    assert result.stdout.encode() == (tmp_path / "out" / "cutting-list.json").read_bytes()
    assert [mat["file"] for mat in _list(tmp_path / "out")["mats"]] == ["01-card-200.svg"]


def test_what_is_unsafe_to_move_is_named_and_fixed_where_asked(tmp_path: Path) -> None:
    folder = _write(
        tmp_path / "set",
        door=_drawing(GAP),
        rope=_drawing(OPEN),
        wall=_drawing(_panel("wall", 50, 40)),
    )
    asks = (folder, "--mat", "12x12in", "--out", tmp_path / "out")
    plain = _run(*asks)
    assert plain.exit_code == 1
    assert "door.svg" in plain.stdout and "rope.svg" in plain.stdout
    assert _list(tmp_path / "out")["totals"]["placed"] == 1
    fixed = _run(*asks, "--fix")
    assert fixed.exit_code == 1
    assert _list(tmp_path / "out")["totals"]["placed"] == 2
    assert "rope.svg" in fixed.stdout and "door.svg" not in fixed.stdout
    reshaped = _run(*asks, "--fix", "--reshape")
    assert (reshaped.exit_code, _list(tmp_path / "out")["totals"]["placed"]) == (0, 3)
    assert folder.joinpath("rope.svg").read_text() == _drawing(OPEN), "sources are only read"


def test_a_file_that_cannot_be_read_does_not_hold_up_the_others(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", wall=_drawing(_panel("wall", 50, 40)), notes="no drawing")
    result = _run(folder, "--mat", "12x12in", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "notes.svg" in result.stderr and "notes.svg" not in result.stdout
    assert "1 piece of 1 file: 1 on 1 mat." in result.stdout
    (told,) = _list(tmp_path / "out")["refused"]
    assert told["file"].endswith("notes.svg")


def test_a_piece_too_big_is_named_with_its_size(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", wall=_drawing(_panel("wall", 180, 90), _panel("sill", 10, 9)))
    (folder / "wall.svg").write_text(_drawing(_panel("wall", 180, 90)))
    result = _run(folder, "--mat", "A6", "--out", tmp_path / "out")
    assert result.exit_code == 1
    said = " ".join(result.stdout.split())
    assert "180.0 × 90.0 mm" in said and "93.0 × 136.0 mm" in said
    assert "Nothing was written" in said
    assert not (tmp_path / "out").exists()


PAPERS = """mat = "12x12in"
papers.board = {files = ["by-file.svg"], size = "200x150mm", grain = "y"}
papers.vellum = {layers = ["Glass*"], size = "150x60mm", print = true, stock = "vellum-120"}
papers.gold = {ids = ["moon-*"], size = "60x90mm"}
papers.green = {fills = ["#2f6b57"], size = "200x140mm", grain = "x"}
papers.rest = {}
"""


def _ell(name: str, x: float, width: float, height: float, fill: str = "none") -> str:
    """An L, which looks different in each of its turns."""
    return (
        f'<path id="{name}" fill="{fill}" stroke="#34495a" d="M{x} 10h{width}v{height / 2}'
        f'h{-width / 3}v{height / 2}h{-width * 2 / 3}Z"/>'
    )


def test_each_piece_is_on_the_paper_that_names_it_turned_no_more_than_that_allows(
    tmp_path: Path,
) -> None:
    drawings = {
        "by-file": _drawing(_ell("door", 10, 50, 30), _ell("sill", 65, 130, 40)),
        "layers": _drawing(
            f'<g id="Glass panes">{_ell("pane", 10, 45, 30)}{_ell("tall", 80, 30, 70)}</g>'
        ),
        "ids": _drawing(_ell("moon-1", 10, 70, 30), _ell("star", 100, 30, 22)),
        "fills": _drawing(_ell("hill", 10, 70, 20, "#2f6b57"), _ell("sky", 100, 50, 20, "#eee")),
    }
    folder, out = _write(tmp_path / "set", **drawings), tmp_path / "out"
    (folder / "matready.toml").write_text(PAPERS)
    assert _run(folder, "--out", out, "--time", "0", "--copies", "by-file=4").exit_code == 1
    # 70 mm high in 48 mm of room: like the moon it fits on its side, but its paper is printed.
    assert [one["pieces"] for one in _list(out)["refused"]] == [["tall"]]
    true = {"door": "board", "sill": "board", "pane": "vellum", "moon-1": "gold", "star": "rest"}
    true |= {"hill": "green", "sky": "rest"}
    may = {"board": {0, 180}, "green": {0, 180}, "vellum": {0}, "gold": {90, 270}}
    shapes = {name: shape for of in drawings for name, shape in _shapes(folder / f"{of}.svg")}
    met: Counter[str] = Counter()
    for mat in _list(out)["mats"]:
        for part, outline in zip(mat["parts"], _outlines(out / mat["file"]), strict=True):
            (name,) = part["pieces"]
            met[name] += 1
            assert part["paper"] == true[name]
            assert part["turn_deg"] in may.get(part["paper"], {part["turn_deg"]})
            laid = affinity.rotate(shapes[name], part["turn_deg"], origin=(0, 0))
            shift = (outline.bounds[k] - laid.bounds[k] for k in (0, 1))
            assert affinity.translate(laid, *shift).symmetric_difference(outline).area < 0.1
    assert met == {name: 4 if name in ("door", "sill") else 1 for name in true}


def _shapes(path: Path) -> Iterator[tuple[str, shapely.Polygon]]:
    """The shapes of a drawing of straight lines in mm, by id, as svgelements reads it."""
    for one in SVG.parse(str(path)).elements(lambda each: isinstance(each, Shape)):
        ends = [(p.end.x / PX_PER_MM, p.end.y / PX_PER_MM) for p in one.segments()]
        yield str(one.id), shapely.Polygon(ends)


def _on_papers(path: Path) -> dict[str, set[str]]:
    """The pieces in the group of each paper on a mat, by their ids, as svgelements reads it."""
    papers = [one for one in SVG.parse(str(path)) if isinstance(one, Group)]
    return {str(of.id): {str(one.id) for one in of if isinstance(one, Group)} for of in papers}


def test_windows_of_vellum_share_a_mat_with_scraps_of_card(tmp_path: Path) -> None:
    windows = [
        _panel(f"window-{k}", 60, 40).replace('"10" y', f'"{10 + 65 * k}" y') for k in (0, 1)
    ]
    windows = [text.replace("M10 ", f"M{10 + 65 * k} ") for k, text in enumerate(windows)]
    folder = _write(
        tmp_path / "set", windows=_drawing(*windows), wall=_drawing(_panel("wall", 90, 70))
    )
    (folder / "matready.toml").write_text(
        'mat = "12x12in"\n[papers.card]\nscraps = ["110x90mm:1"]\nstock = "card-300"\n'
        '[papers.vellum]\nscraps = ["150x60mm:1", "80x60mm"]\nstock = "vellum-120"\n'
        'grain = "x"\nids = ["window-*"]\n'
    )
    result = _run(folder, "--out", tmp_path / "out", "--time", "1")
    assert result.exit_code == 0, result.stdout
    (mat,) = _list(tmp_path / "out")["mats"]
    assert mat["file"] in ("01-card-vellum.svg", "01-vellum-card.svg")
    assert "different stocks" in " ".join(result.stdout.split())
    assert "along the grain" in " ".join(result.stdout.split())
    # What comes first in the file is drawn first: SVG 1.1, 3.3.
    told = {"paper-card": {"wall-edge"}, "paper-vellum": {"window-0-edge", "window-1-edge"}}
    order = sorted(mat["papers"], key=lambda laid: int(laid["in_pass"]))
    assert _on_papers(tmp_path / "out" / mat["file"]) == told
    assert [*_on_papers(tmp_path / "out" / mat["file"])] == [f"paper-{p['paper']}" for p in order]
    assert [laid["in_pass"] for laid in order] == [1, 2]
    text = (tmp_path / "out" / "cutting-list.md").read_text("utf-8")
    assert "passes" in text and "vellum (vellum-120): window-0-edge, window-1-edge\n" in text
    assert ", then ".join(laid["paper"] for laid in order) in " ".join(result.stdout.split())
    for laid in mat["papers"]:
        (x, y), (w, h) = laid["at_mm"], laid["size_mm"]
        inside = shapely.box(x + 6, y + 6, x + w - 6, y + h - 6).buffer(1e-3)
        its = [
            part
            for part in mat["parts"]
            if shapely.box(x, y, x + w, y + h).covers(shapely.box(*part["box_mm"]))
        ]
        assert {part["paper"] for part in its} == {laid["paper"]}
        assert all(inside.covers(shapely.box(*part["box_mm"])) for part in its)


@pytest.mark.parametrize(
    "milder",
    [
        'skip = ["undersize-piece"]',
        '[files.rules.undersize-piece]\nseverity = "caution"',
        "[files.rules.undersize-piece]\npiece_mm = 1.0",
    ],
)
def test_what_the_settings_allow_a_file_is_no_fault_on_its_mat(tmp_path: Path, milder: str) -> None:
    slip = _drawing(_panel("slip", 40, 2).replace('class="score"', 'visibility="hidden"'))
    folder = _write(tmp_path / "set", slip=slip, wall=_drawing(_panel("wall", 50, 40)))
    asks = (folder, "--mat", "A4", "--out", tmp_path / "out", "--time", "0")
    (folder / "matready.toml").write_text("")
    assert _run(*asks).exit_code == 1, "without them the slip is refused"
    (folder / "matready.toml").write_text(f'[[files]]\nmatch = ["slip.svg"]\n{milder}\n')
    result = _run(*asks)
    assert result.exit_code == 0, result.stderr
    assert _list(tmp_path / "out")["totals"]["placed"] == 2


@pytest.mark.parametrize(
    ("mat", "told"),
    [
        # 1 in is 25.4 mm by definition, in the international yard and pound agreement of 1959.
        (
            "12x12in",
            ("115, 0 mm (4.528, 0 in)", "113 × 80 mm (4.449 × 3.15 in)", "(3.98 × 2.68 in)"),
        ),
        ("305x305mm", ("115, 0 mm ", "113 × 80 mm,", "101.0 × 68.0 mm,")),
    ],
)
def test_sizes_are_told_in_inches_where_the_mat_is(
    tmp_path: Path, mat: str, told: tuple[str, ...]
) -> None:
    wall, long = _drawing(_panel("wall", 90, 60)), _drawing(_panel("long", 180, 60))
    folder = _write(tmp_path / "set", wall=wall, long=long)
    asks = (folder, "--mat", mat, "--paper", "card=113x80mm:2", "--copies", "wall=2")
    result = _run(*asks, "--out", tmp_path / "out", "--time", "0")
    said = " ".join(result.stdout.split())
    listed = " ".join((tmp_path / "out" / "cutting-list.md").read_text("utf-8").split())
    assert told[0] in said and told[1] in listed and told[2] in said and told[2] in listed
    assert (" in)" in said + listed) == (mat == "12x12in")


def test_when_the_paper_is_used_up_it_is_said(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", wall=_drawing(_panel("wall", 90, 70)))
    out = tmp_path / "out"
    asks = (folder, "--mat", "12x12in", "--out", out, "--copies", "wall=3", "--time", "1")
    result = _run(*asks, "--paper", "card=110x90mm:2")
    assert result.exit_code == 1
    assert "3 pieces of 1 file: 2 on 1 mat, 1 refused." in result.stdout
    assert "all sheets of card at hand are used" in " ".join(result.stdout.split())
    fewer = _run(*asks[:-4], "--copies", "wall=5", "--time", "0", "--paper", "card=110x90mm:2")
    text = (out / "cutting-list.md").read_text("utf-8")
    for said in (fewer.stdout, text):
        assert said.count("all sheets of") == 1 and "wall-edge (3 times)" in said
    (refused,) = _list(out)["refused"]
    assert refused["pieces"] == ["wall-edge"] * 3
    again = _run(*asks, "--paper", "card=110x90mm:2", "--paper", "card=120x100mm")
    assert again.exit_code == 0
    assert "Next: see to what is refused, and type this again. Or read" in result.stdout
    assert "Next: read" in again.stdout
    copies = [part["copy"] for mat in _list(tmp_path / "out")["mats"] for part in mat["parts"]]
    assert Counter(copies) == {1: 1, 2: 1, 3: 1}


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ((), "say where the mats go"),
        (("--out", "out"), "say how large your mat is"),
        (("--out", "out", "--mat", "12x12"), "does not say its unit"),
        (("--out", "out", "--mat", "A4", "--gap", "two"), "--gap: "),
        (("--out", "out", "--mat", "A4", "--gap", "0"), "name a --gap of more than 0.05 mm"),
        (("--out", "out", "--mat", "A4", "--margin", "6ft"), "--margin: "),
        (("--out", "out", "--mat", "A4", "--time", "inf"), "--time is a number of seconds"),
        (("--out", "out", "--mat", "A4", "--time", "nan"), "--time is a number of seconds"),
        (("--out", "out", "--mat", "A4", "--margin", "110"), "is all margin"),
        (("--out", "out", "--mat", "A4", "--paper", "cream"), "NAME=SIZE"),
        (("--out", "out", "--mat", "A4", "--paper", "cream=A3"), "larger than the mat"),
        (("--out", "out", "--mat", "A4", "--copies", "moon=2"), "no file that is read"),
        (("--out", "out", "--mat", "A4", "--copies", "wall=0"), "FILE=COUNT"),
        (("--out", "out", "--mat", "A4", "--copies", "wall=1", "--copies", "wall.svg=1"), "twice"),
        (("--out", "out", "--mat", "A4", "--reshape"), "give --fix"),
        (("--out", "set", "--mat", "A4"), "the folder that is read"),
        (("--out", ".", "--mat", "A4"), "which is read"),
    ],
)
def test_a_wrong_command_is_refused_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], says: str
) -> None:
    _write(tmp_path / "set", wall=_drawing(_panel("wall", 50, 40)))
    monkeypatch.chdir(tmp_path)
    result = _run("set", *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert says in result.stderr and result.stderr.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["set"]


def test_mats_of_an_earlier_run_are_replaced_and_nothing_else(tmp_path: Path) -> None:
    folder = _write(tmp_path / "set", wall=_drawing(_panel("wall", 150, 90)))
    asks = (folder, "--mat", "A4", "--out", tmp_path / "out", "--copies")
    assert _run(*asks, "wall=4").exit_code == 0
    assert len(_list(tmp_path / "out")["mats"]) == 2
    assert _run(*asks, "wall=1").exit_code == 0
    assert len(_held(tmp_path / "out")) == 3
    (tmp_path / "out" / "mine.svg").write_text("mine")
    before = _held(tmp_path / "out")
    refused = _run(*asks, "wall=4")
    assert refused.exit_code == 2 and "mine.svg" in refused.stderr
    assert _held(tmp_path / "out") == before


@pytest.mark.parametrize("times", [1, 2])
def test_an_interrupt_ends_the_search_and_a_second_one_the_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, times: int
) -> None:
    folder = _write(tmp_path / "set", wall=_drawing(_panel("wall", 50, 40)))

    def interrupted(*args: Any) -> Any:
        for _ in range(times):
            signal.raise_signal(signal.SIGINT)
        return plan(*args)

    monkeypatch.setattr("matready.lint.cli_sheets.plan", interrupted)
    result = _run(folder, "--mat", "A4", "--out", tmp_path / "out")
    if times == 1:
        assert result.exit_code == 0
        assert "the search is stopped" in result.stderr
        assert _list(tmp_path / "out")["totals"]["placed"] == 1
    else:
        assert result.exit_code == 130
        assert "nothing was written" in result.stderr
        assert not (tmp_path / "out").exists()


def test_the_list_says_which_colour_is_cut_and_which_is_not(tmp_path: Path) -> None:
    plain = '<rect id="door" x="10" y="10" width="40" height="50" fill="none" stroke="#000"/>'
    kinds = {"scored": _panel("wall", 50, 40), "drawn": plain + HATCH, "plain": plain}
    for kind, pieces in kinds.items():
        folder = _write(tmp_path / kind, wall=_drawing(pieces))
        assert _run(folder, "--mat", "A4", "--out", tmp_path / "mats").exit_code == 0
        inks = _inks(next((tmp_path / "mats").glob("*.svg")))
        notes = _list(tmp_path / "mats")["notes"]
        people = (tmp_path / "mats" / "cutting-list.md").read_text("utf-8")
        told = [f"{role} {colour}" for role, of in inks.items() for colour in of]
        assert len(told) == (1 if kind == "plain" else 2)
        assert bool(notes) == (kind != "plain") == ("Set the machine by colour: " in people)
        assert all(one in notes[0] for one in told if notes)
        assert any("whole line" in note for note in notes) == (kind == "scored")


def test_sheets_that_cannot_lie_together_are_a_mat_each_in_the_bound(tmp_path: Path) -> None:
    wall, slip = _drawing(_panel("wall", 180, 180)), _drawing(_panel("slip", 50, 40))
    folder = _write(tmp_path / "set", wall=wall, slip=slip)
    asks = (folder, "--mat", "12x12in", "--out", tmp_path / "out", "--time", "0")
    # One wall is all that an A4 sheet holds, and on 12 in there is no room for a second sheet.
    for more, mats, least in (
        (("--copies", "wall=3", "--paper", "card=A4"), 3, 3),
        (("--copies", "wall=3", "--paper", "card=A4:2"), 2, 2),  # one wall is left over
        (("--copies", "wall=2", "--paper", "card=A4", "--mat", "600x300mm"), 1, 1),
    ):
        _run(*asks, *more)
        totals = _list(tmp_path / "out")["totals"]
        assert (totals["mats"], totals["least"]) == (mats, least)


def test_two_sheets_share_a_mat_just_where_a_place_for_both_can_be_found() -> None:
    """Held against shapely at all places on a grid: whole sides need no others."""
    mat = (5, 4)

    def places(width: int, height: int) -> list[shapely.Polygon]:
        return [
            shapely.box(x, y, x + w, y + h)
            for w, h in {(width, height), (height, width)}
            for x in range(mat[0] - w + 1)
            for y in range(mat[1] - h + 1)
        ]

    sides = [(w, h) for w in range(1, 6) for h in range(1, w + 1)]
    for one, other in combinations_with_replacement(sides, 2):
        pairs = product(places(*one), places(*other))
        found = any(a.intersection(b).area == 0 for a, b in pairs)
        assert share(Sheet(*one), Sheet(*other), mat) == found, (one, other)


@pytest.mark.parametrize("meanwhile", ["writing", "telling"])
def test_an_interrupt_of_a_run_that_has_written_does_not_say_that_nothing_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, meanwhile: str
) -> None:
    folder = _write(tmp_path / "set", wall=_drawing(_panel("wall", 50, 40)))
    place = {"writing": "sheets.outfolder.shutil.rmtree", "telling": "cli_sheets.write_mats_page"}
    plain = shutil.rmtree

    def interrupted(*args: Any, **kwargs: Any) -> None:
        for _ in range(2):
            signal.raise_signal(signal.SIGINT)
        plain(*args, **kwargs)

    monkeypatch.setattr(f"matready.lint.{place[meanwhile]}", interrupted)
    page = tmp_path / "page.html"
    result = _run(folder, "--mat", "A4", "--out", tmp_path / "out", "--report", page)
    monkeypatch.undo()
    names = {"01-card-200.svg", "cutting-list.json", "cutting-list.md"}
    assert {path.name for path in (tmp_path / "out").iterdir()} == names
    assert "nothing was written" not in result.stderr
    if meanwhile == "writing":  # the run goes on to its end
        assert (result.exit_code, page.is_file()) == (0, True)
    else:
        assert (result.exit_code, page.is_file()) == (130, False)
        assert "the mats of this run are written" in result.stderr
