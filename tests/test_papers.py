"""Papers and mats: what may be named, which piece is cut from which, where sheets lie on a mat.

Where sheets and pieces lie is held against shapely, and the settings against their JSON Schema by
the package jsonschema.
"""

from __future__ import annotations

import errno
import json
import os
import random
import tomllib
from collections import Counter
from itertools import combinations
from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from shapely import affinity

from matready.lint.earlier import LIST, LIST_FOR_PEOPLE
from matready.lint.repair.writing import NotWritten
from matready.lint.settings import BadSettings, Settings, SettingsFinder
from matready.lint.sheets.choosing import paper_for
from matready.lint.sheets.laid import Mat, Placement
from matready.lint.sheets.mats import Filled, lay, misfit, prove_papers
from matready.lint.sheets.outfolder import reason_against, write_all
from matready.lint.sheets.packing import pack
from matready.lint.sheets.papers import (
    OnMat,
    Paper,
    Picks,
    Sheet,
    Turn,
    length_of,
    named_sheet,
    overlaid,
    sheet_of,
)
from matready.lint.sheets.parts import Marks, Part
from matready.rules import RULES

from tests.conftest import ROOT

SCHEMA = Draft202012Validator(
    json.loads((ROOT / "lint" / "matready.schema.json").read_text("utf-8"))
)


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [("6", 6), ("6mm", 6), (" 0.25 in", 6.35), ("0.6cm", 6), (".5IN", 12.7), ("0", 0)],
)
def test_lengths_are_read_with_or_without_a_unit(text: str, length_mm: float) -> None:
    # An inch is 25.4 mm by the international agreement of 1959.
    assert length_of(text) == pytest.approx(length_mm)


@pytest.mark.parametrize("text", ["", "six", "-2", "6 ft", "1e9", "nan", "99999", "6mm6"])
def test_what_is_no_length_is_told(text: str) -> None:
    with pytest.raises(ValueError, match="write 6, 6mm"):
        length_of(text)


def test_sheets_are_read_with_their_number() -> None:
    assert sheet_of("12x12in:3") == Sheet(304.8, 304.8, 3)
    assert sheet_of("A4") == Sheet(210, 297, None)
    assert named_sheet("cream card=100x150mm:2") == ("cream card", Sheet(100, 150, 2))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12x12in", "NAME=SIZE"),
        ("=12x12in", "NAME=SIZE"),
        ("cream=", "is not a size"),
        ("cream=12x12", "does not say its unit"),
        ("cream=12x12in:0", "no number of sheets"),
        ("cream=12x12in:many", "no number of sheets"),
        ("cream=12x12in:99999999999", "no number of sheets"),
    ],
)
def test_what_is_no_paper_is_told(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        named_sheet(text)


def test_a_command_names_other_sheets_of_a_paper_and_keeps_all_else() -> None:
    cream = Paper("cream", (Sheet(304.8, 304.8, 5),), grain="x")
    found = overlaid(
        [cream], [("vellum", Sheet(90, 90)), ("cream", Sheet(1, 2, 3)), ("cream", Sheet(4, 5))]
    )
    assert [paper.name for paper in found] == ["cream", "vellum"]
    assert found[0].sheets == (Sheet(1, 2, 3), Sheet(4, 5))
    assert found[0].grain == "x"


@pytest.mark.parametrize(
    ("paper", "wished", "allowed"),
    [
        (Paper("plain", ()), "any", "any"),
        (Paper("plain", ()), "half", "half"),
        (Paper("kraft", (), grain="x"), "any", "half"),
        (Paper("kraft", (), grain="y"), "none", "none"),
        (Paper("stars", (), printed=True), "quarter", "none"),
        (Paper("stars", (), grain="x", printed=True), "any", "none"),
    ],
)
def test_grain_and_print_forbid_turns(paper: Paper, wished: Turn, allowed: Turn) -> None:
    assert paper.turn(wished) == allowed


WHOLE = """
[sheets]
margin_mm = 4
gap_mm = 1.5
speed_mm_s = 80
[papers.vellum]
size = "A4"
count = 2
scraps = ["100x150mm:2", "6x6in"]
stock = "vellum-120"
files = ["windows/**"]
ids = "flame-*"
[papers.stars]
print = true
fills = ["navy"]
[papers.kraft]
stock = "felt"
grain = "y"
layers = ["back*"]
[stocks.felt]
thickness_mm = 1
"""


def _settings(folder: Path, text: str) -> Settings:
    (folder / "matready.toml").write_text(text, "utf-8")
    return SettingsFinder(None, RULES).for_file(folder / "arch.svg")


def test_papers_stand_in_the_settings(tmp_path: Path) -> None:
    settings = _settings(tmp_path, WHOLE)
    vellum, stars, kraft = settings.papers
    assert settings.on_mat == OnMat(4, 1.5, 80)
    assert vellum.sheets == (Sheet(210, 297, 2), Sheet(100, 150, 2), Sheet(152.4, 152.4))
    assert vellum.picks == Picks(("windows/**",), (), ("flame-*",), (), str(tmp_path))
    assert vellum.stock is not None and vellum.stock.name == "vellum-120"
    # CSS Color 3, 4.3: navy is #000080.
    assert (stars.sheets, stars.printed, stars.picks.fills) == ((), True, ("#000080",))
    assert kraft.stock is not None and kraft.stock.thickness_mm == 1
    assert (kraft.grain, kraft.picks.layers) == ("y", ("back*",))
    SCHEMA.validate(tomllib.loads(WHOLE))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("papers = 3", "write [papers.NAME]"),
        ("[papers]\ncream = 3", "write [papers.cream]"),
        ('[papers."--"]', "needs a name"),
        ("[papers.cream]\ncolour = 1", 'unknown key "colour"'),
        ("[papers.cream]\nsizes = 1", 'the nearest known key is "size"'),
        ("[papers.cream]\ncount = 2", "write size too"),
        ('[papers.cream]\nsize = "A4"\ncount = 0', "between 1 and"),
        ('[papers.cream]\ngrain = "up"', "must be x or y"),
        ('[papers.cream]\nprint = "no"', "must be true or false"),
        ("[papers.cream]\nscraps = []", "must not be empty"),
        ("[papers.cream]\nids = [3]", "must be a list such as"),
        ('[papers.cream]\nfiles = ["../up.svg"]', "must lead down"),
        ("[sheets]\nspeed_mm_s = 0", "between 0.1 and"),
        ("[sheets]\nmargin_mm = -1", "between 0 and"),
        ("[sheets]\nmargin = 1", 'the nearest known key is "margin_mm"'),
        ("[[files]]\nmatch='*'\n[files.papers.cream]", "it belongs at the top level"),
    ],
)
def test_wrong_papers_are_refused_by_the_program_and_by_the_schema(
    tmp_path: Path, text: str, says: str
) -> None:
    with pytest.raises(BadSettings) as caught:
        _settings(tmp_path, text)
    assert says in str(caught.value)
    assert list(SCHEMA.iter_errors(tomllib.loads(text)))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[papers.cream]\nsize = "12x12"', "does not say its unit"),
        ('[papers.cream]\nscraps = ["A4:x"]', "no number of sheets"),
        ('[papers.cream]\nstock = "card-201"', 'the nearest is "card-200"'),
        ('[papers.cream]\nfills = ["blu"]', "is no colour"),
    ],
)
def test_what_only_the_program_can_tell_is_refused(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(BadSettings, match=says):
        _settings(tmp_path, text)


def _part(name: str = "flame-1", file: str = "lights.svg", marks: Marks | None = None) -> Part:
    card = shapely.box(0, 0, 10, 4)
    return Part(name, file, (name,), (card,), (0,), card, (), marks or Marks(), stock="card-200")


def test_the_first_paper_that_names_a_piece_has_it(tmp_path: Path) -> None:
    picks = [
        Picks(files=("windows/*.svg",), folder=str(tmp_path)),
        Picks(layers=("back*",)),
        Picks(),
        Picks(ids=("flame-*",)),
        Picks(fills=("#fff8e1",)),
    ]
    papers = [Paper(str(k), (), picks=one) for k, one in enumerate(picks)]

    def chosen(part: Part) -> str | None:
        paper = paper_for(part, papers)
        return None if paper is None else paper.name

    window = str(tmp_path / "windows" / "rose.svg")
    assert chosen(_part("rose", window)) == "0"
    assert chosen(_part("flame-1", window, Marks(fills=frozenset({"#fff8e1"})))) == "0"
    assert chosen(_part("tree", marks=Marks(layers=frozenset({"backdrop"})))) == "1"
    assert chosen(_part("flame-1")) == "3"
    assert chosen(_part("wick", marks=Marks(ids=frozenset({"flame-9"})))) == "3"
    assert chosen(_part("moon", marks=Marks(fills=frozenset({"#fff8e1"})))) == "4"
    assert chosen(_part("wick")) == "2", "what no paper names goes to the one that names nothing"
    assert paper_for(_part("wick"), papers[3:]) is None


MAT = (304.8, 609.6)
SIDES = st.floats(20, 304.8).map(lambda side: round(side, 1))
UPRIGHT = st.tuples(SIDES, SIDES, st.booleans())
LYING = st.tuples(SIDES.map(lambda side: side + 304.8), SIDES, st.just(value=False))  # must turn


@given(
    st.lists(st.one_of(UPRIGHT, LYING), min_size=1, max_size=9),
    st.sampled_from([0.0, 2.0]),
)
def test_sheets_lie_side_by_side_with_their_pieces(
    sizes: list[tuple[float, float, bool]], gap_mm: float
) -> None:
    papers = [
        Paper(str(k), (), grain="x" if grain else None) for k, (*_, grain) in enumerate(sizes)
    ]
    sheets = [
        Filled(papers[k], 1, width, height, (Placement(_part(str(k)), 90, 9, 5),))
        for k, (width, height, _) in enumerate(sizes)
    ]
    mats = lay(sheets, papers, MAT, gap_mm)
    assert Counter(laid.paper for mat in mats for laid in mat.papers) == Counter(
        paper.name for paper in papers
    )
    for mat in mats:
        prove_papers(mat)
        rects = [
            shapely.box(one.x_mm, one.y_mm, one.x_mm + one.width_mm, one.y_mm + one.height_mm)
            for one in mat.papers
        ]
        whole = shapely.box(0, 0, *MAT).buffer(1e-6)
        assert all(whole.covers(rect) for rect in rects)
        assert all(a.intersection(b).area < 1e-6 for a, b in combinations(rects, 2))
        for placement in mat.placements:
            _holds_as_before(placement, mat, sizes[int(placement.part.name)], rects)


def _holds_as_before(
    placement: Placement, mat: Mat, size: tuple[float, float, bool], rects: list[shapely.Polygon]
) -> None:
    """A piece lies in its sheet as it did there, whichever way that one lies on the mat."""
    width, height, grain = size
    turned = (placement.turn_deg - 90) % 360 == 90
    assert not (turned and grain)
    card = _on_mat(placement)
    rect = rects[placement.laid]
    here = [side.distance(card) for side in _sides(rect)]
    there = _on_mat(Placement(placement.part, 90, 9, 5))
    top, right, bottom, left = (
        side.distance(there) for side in _sides(shapely.box(0, 0, width, height))
    )
    # Turned from x to y, the left edge of the sheet comes to lie at the top.
    wanted = [left, top, right, bottom] if turned else [top, right, bottom, left]
    assert here == pytest.approx(wanted, abs=1e-6)


def _on_mat(placement: Placement) -> shapely.Polygon:
    turned = affinity.rotate(placement.part.cards[0], placement.turn_deg, origin=(0, 0))
    return affinity.translate(turned, placement.x_mm, placement.y_mm)


def _sides(rect: shapely.Polygon) -> list[shapely.LineString]:
    """Top, right, bottom and left; y points down."""
    x0, y0, x1, y1 = rect.bounds
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
    return [shapely.LineString(corners[k : k + 2]) for k in range(4)]


def test_two_square_sheets_cover_a_long_mat() -> None:
    cream, vellum = Paper("cream", ()), Paper("vellum", ())
    square = [Filled(paper, 1, 304.8, 304.8, ()) for paper in (cream, vellum)]
    assert len(lay(square, [cream, vellum], MAT, 2.0)) == 1


def test_full_sheets_are_loaded_paper_by_paper_and_shared_mats_last() -> None:
    cream, vellum = Paper("cream", ()), Paper("vellum", ())
    sheets = [
        Filled(vellum, 1, *MAT, ()),
        Filled(vellum, 2, 100, 100, ()),
        Filled(cream, 1, MAT[1], MAT[0], ()),
        Filled(cream, 2, 100, 150, ()),
    ]
    mats = lay(sheets, [cream, vellum], MAT, 2.0)
    laid = [[(one.paper, one.sheet) for one in mat.papers] for mat in mats]
    assert [mat.number for mat in mats] == [1, 2, 3]
    assert laid[:2] == [[("cream", 1)], [("vellum", 1)]]
    assert sorted(laid[2]) == [("cream", 2), ("vellum", 2)]


def test_a_sheet_larger_than_the_mat_is_found() -> None:
    sheets = (Sheet(100, 100), Sheet(609.6, 304.8))
    assert misfit(Paper("cream", sheets), MAT) is None
    assert misfit(Paper("cream", sheets, grain="x"), MAT) == (609.6, 304.8)
    assert misfit(Paper("cream", (Sheet(304.9, 10), Sheet(400, 400))), MAT) == (400, 400)


def test_a_search_for_more_room_than_there_is_ends_by_itself() -> None:
    # Six walls of 60 by 37 mm, two sheets with 98 by 78 mm of room: two walls lie one below the
    # other (37 + 2 + 37 mm), and none beside them (60 + 2 + 37 mm), so two are left over.
    walls = [shapely.box(0, 0, 60, 37)] * 6
    rounds = []
    for seconds in (20, 40):
        found = pack(
            walls, [Sheet(110, 90, 2)], gap_mm=2, margin_mm=6, turns_deg=(0.0, 90.0), seed=0,
            seconds=seconds,
        )  # fmt: skip
        assert len(found.without_room) == 2 and found.complete
        rounds.append(found.rounds)
    assert rounds[0] == rounds[1]


def _mats(*names: str) -> dict[str, bytes]:
    record = {"schema": "matready/sheets-1", "mats": [{"file": name} for name in names]}
    files = {name: f"<svg id='{names}'/>".encode() for name in names}
    return {**files, LIST_FOR_PEOPLE: b"# Cutting list\n", LIST: json.dumps(record).encode()}


def _held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_mats_of_an_earlier_run_are_replaced_as_a_whole(tmp_path: Path) -> None:
    out = tmp_path / "new" / "mats"
    for mats in (_mats("01-cream.svg", "02-cream.svg"), _mats("01-vellum.svg")):
        assert reason_against(out, []) is None
        write_all(out, mats)
        assert _held(out) == mats


@pytest.mark.parametrize("name", ["arch.svg", "03-cream.svg", "cutting-list.txt"])
def test_nothing_else_in_the_folder_is_touched(tmp_path: Path, name: str) -> None:
    write_all(tmp_path, _mats("01-cream.svg"))
    (tmp_path / name).write_text("mine")
    before = _held(tmp_path)
    assert name in (reason_against(tmp_path, []) or "")
    with pytest.raises(NotWritten, match=name):
        write_all(tmp_path, _mats("01-cream.svg", "02-cream.svg"))
    assert _held(tmp_path) == before


def test_a_list_that_names_other_files_is_not_followed(tmp_path: Path) -> None:
    record = {"schema": "matready/sheets-1", "mats": [{"file": "arch.svg"}, {"file": "../x.svg"}]}
    (tmp_path / LIST).write_text(json.dumps(record))
    (tmp_path / "arch.svg").write_text("mine")
    assert "arch.svg" in (reason_against(tmp_path, []) or "")


def test_what_goes_wrong_half_way_leaves_the_old_mats(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = _mats("01-cream.svg", "02-cream.svg")
    write_all(tmp_path, old)
    rename = Path.rename

    def broken(self: Path, target: Path) -> Path:
        if self.parent.name == "new" and self.name.startswith("02"):
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", broken)
    with pytest.raises(NotWritten, match="no space left"):
        write_all(tmp_path, _mats("01-new.svg", "02-new.svg"))
    assert _held(tmp_path) == old


def test_a_folder_that_holds_a_source_is_refused(tmp_path: Path) -> None:
    drawing = tmp_path / "arch.svg"
    drawing.write_text("<svg/>")
    assert "which is read" in (reason_against(tmp_path, [drawing]) or "")
    assert "the folder that is read" in (reason_against(tmp_path, [tmp_path]) or "")
    assert "is a file" in (reason_against(drawing, []) or "")
    assert "name of a drawing" in (reason_against(drawing.with_name("mats.svg"), []) or "")


def test_what_is_said_of_a_place_is_what_would_help(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # POSIX, mkdir(): ENOTDIR, ENAMETOOLONG, EACCES and ENOSPC ask for different things.
    (tmp_path / "arch.svg").write_text("<svg/>")
    said = reason_against(tmp_path / "arch.svg" / "mats" / "new", [])
    assert said is not None and "arch.svg' is a file" in said and "room" not in said
    with pytest.raises(NotWritten, match=r"too long\); name another folder"):
        write_all(tmp_path / ("n" * 300), _mats("01-cream.svg"))
    monkeypatch.setattr(os, "access", lambda path, mode: path != tmp_path)
    assert "you may not write to" in (reason_against(tmp_path / "mats", []) or "")
    monkeypatch.undo()
    full = OSError(errno.ENOSPC, "No space left on device")
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(full))
    with pytest.raises(NotWritten, match=r"no space left on device\); make room, or name another"):
        write_all(tmp_path / "mats", _mats("01-cream.svg"))


def test_a_seed_leads_the_search_where_the_first_layout_is_not_the_best() -> None:
    def layouts(walls: list[shapely.Polygon]) -> set[object]:
        return {
            pack(
                walls, [Sheet(110, 110)], gap_mm=2, margin_mm=3, turns_deg=(0.0, 90.0), seed=seed,
                seconds=1,
            ).places
            for seed in range(4)
        }  # fmt: skip

    # Two walls with ample room on one sheet: fewer than one there cannot be, whatever the seed.
    assert len(layouts([shapely.box(0, 0, 60, 40)] * 2)) == 1
    drawn = random.Random(32)
    sides = [(drawn.randrange(20, 60), drawn.randrange(20, 60)) for _ in range(14)]
    assert len(layouts([shapely.box(0, 0, *side) for side in sides])) > 1
