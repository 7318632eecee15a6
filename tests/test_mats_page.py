"""The page of `sheets --report`: each piece once, where the mat has it, and no markup of a file's.

Pictures are read by svgpathtools and held against the cutting list, which other tests hold against
the mats; HTML is read by lxml.
"""

from __future__ import annotations

import json
import re
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from click.testing import CliRunner, Result
from svgpathtools import parse_path

from matready.lint.cli import main
from matready.lint.figures.mats import mat_picture
from matready.lint.repair.curves import Bezier
from matready.lint.reports.sheets_as_html import sheets_as_html
from matready.lint.sheets.cutting_list import cutting_list
from matready.lint.sheets.laid import LaidPaper, Mat, Placement
from matready.lint.sheets.parts import CUT, Part, PartLine, Refusal
from matready.lint.sizes import in_inches

from tests.conftest import ROOT
from tests.drawn import page as drawing
from tests.drawn import path
from tests.pages import walk

DEMO = ROOT / "fixtures" / "puppet-theatre"
LIMIT_BYTES = 1_000_000
DRAWN_MM = 0.03  # a picture of a mat is drawn within 0.02 mm, in steps of a thousandth

Demo = tuple[Any, dict[str, Any], int]


def _run(*args: str | Path) -> Result:
    result = CliRunner().invoke(main, ["sheets", *map(str, args)], prog_name="matready")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The page of the demo, its cutting list, and its size in bytes.

    The first layout will do, so no time is spent on better ones.
    """
    folder = tmp_path_factory.mktemp("mats")
    page = folder / "mats.html"
    papers = ROOT / "fixtures" / "puppet-theatre.toml"
    asked = (DEMO, "--config", papers, "--time", "0", "--out", folder / "mats", "--jobs", "1")
    result = _run(*asked, "--report", page)
    assert result.exit_code == 1, "some pieces have faults that are not mended"
    assert result.stderr == f"report: {page}\n"
    said = json.loads((folder / "mats" / "cutting-list.json").read_text("utf-8"))
    text = page.read_text("utf-8")
    return _walk(text), said, len(text.encode())


def _walk(page: str) -> Any:
    """The page as a browser reads it; it has the lists of pieces besides."""
    return walk(page, "table thead tbody tr th td", "scope")


def _text(node: Any) -> str:
    return " ".join(node.text_content().split())


def _area(data: str) -> shapely.Geometry:
    """What path data encloses by evenodd, as svgpathtools reads it."""
    area: shapely.Geometry = shapely.Polygon()
    for part in parse_path(data).continuous_subpaths():
        ring = shapely.Polygon([(p.real, p.imag) for p in (part[0].start, *(s.end for s in part))])
        area = area.symmetric_difference(ring)
    return area


def _lines(data: str) -> shapely.Geometry:
    """The lines of path data, as svgpathtools reads them."""
    parts = parse_path(data).continuous_subpaths()
    return shapely.MultiLineString(
        [[(p.real, p.imag) for p in (part[0].start, *(s.end for s in part))] for part in parts]
    )


def test_every_piece_is_on_the_page_once(demo: Demo) -> None:
    tree, said, size = demo
    assert size < LIMIT_BYTES
    heading = _text(tree.xpath("//h1")[0])
    totals = said["totals"]
    assert f"{totals['placed']} pieces on {totals['mats']} mats" in heading
    assert f"{totals['refused']} refused" in heading
    assert len(tree.xpath("//article")) == len(said["mats"]) > 2
    for mat in said["mats"]:
        (article,) = tree.xpath(f"//article[@id='mat{mat['number']}']")
        rows = [[_text(cell) for cell in row] for row in article.xpath(".//tbody/tr")]
        assert [row[:3] for row in rows] == [
            [str(k), ", ".join(part["pieces"]), Path(part["file"]).name]
            for k, part in enumerate(mat["parts"], 1)
        ]
        assert mat["file"] in _text(article)
    off = [_text(who) for who in tree.xpath("//p[@class='who']")]
    left = {(Path(one["file"]).name, name) for one in said["refused"] for name in one["pieces"]}
    assert left
    for file, name in left:
        told = [who for who in off if who.startswith(f"{file}:")]
        assert sum(name in re.split("[:,] ", who) for who in told) == 1


def test_a_picture_shows_each_part_where_it_lies_and_numbers_it_there(demo: Demo) -> None:
    tree, said, _ = demo
    for mat in said["mats"]:
        number, (width, height) = mat["number"], mat["size_mm"]
        plate = tree.get_element_by_id(f"p{number}")
        labels = _labels(tree, number)
        assert len(labels) == len(mat["parts"])
        for k, (part, label) in enumerate(zip(mat["parts"], labels, strict=True), 1):
            card = _area(tree.get_element_by_id(f"m{number}-{k}").get("d"))
            # The box of a card, and of slivers along lines that reach past it.
            assert shapely.box(*part["box_mm"]).buffer(DRAWN_MM).covers(card)
            assert np.abs(np.array(card.bounds) - part["box_mm"]).max() < 0.5
            assert label.xpath("string(.//*[local-name()='text'])") == str(k)
            at = [float(label.get(axis).rstrip("%")) / 100 for axis in "xy"]
            assert card.contains(shapely.Point(at[0] * width, at[1] * height))
        cards = shapely.union_all([_area(one.get("d")) for one in plate.xpath(".//path[@id]")])
        cut = plate.xpath("string(.//path[@class='line cut']/@d)")
        assert _lines(cut).buffer(DRAWN_MM).covers(cards.boundary)
        assert parse_path(cut).length() == pytest.approx(mat["cut_mm"], rel=2e-3)
        score = plate.xpath("string(.//path[@class='line score']/@d)")
        if mat["score_mm"]:
            assert parse_path(score).length() == pytest.approx(mat["score_mm"], rel=2e-3)
            assert cards.buffer(DRAWN_MM).covers(_lines(score))


def test_a_piece_without_room_for_its_number_has_it_beside(demo: Demo) -> None:
    """Slips of 3 mm against a net that fills a third of a mat; no source outside the project."""
    tree, said, _ = demo
    led = {
        name: bool(label.xpath("./circle"))
        for mat in said["mats"]
        for part, label in zip(mat["parts"], _labels(tree, mat["number"]), strict=True)
        for name in part["pieces"]
    }
    assert led["wick-slip-1"]
    assert led["wick-slip-7"]
    assert not led["stage-box-net"]
    assert not led["curtain-left"]
    for mat in said["mats"]:
        spots = [_spot(label, 560.0) for label in _labels(tree, mat["number"])]
        # A number of two digits in bold of 12 px is 14 px wide and 9 px high.
        assert all(abs(a - b) > 8 for a, b in combinations(spots, 2))
    for label in tree.xpath("//svg[starts-with(@class, 'no ')][./circle]"):
        x, y = (float(label.xpath("./text")[0].get(axis)) for axis in "xy")
        lead = parse_path(label.xpath("string(./path/@d)"))
        # It leads on to the number, past the dot, which is 2.5 px from middle to edge.
        assert 2 * 2.5 < lead.length() < abs(complex(x, y - 4))


def test_a_paper_that_is_alone_hides_no_piece_under_its_name(demo: Demo) -> None:
    tree, said, _ = demo
    for mat, article in zip(said["mats"], tree.xpath("//article"), strict=True):
        (paper,) = mat["papers"]
        assert not article.xpath(".//svg[@class='paper-name']")
        assert f"{paper['paper']}, sheet {paper['sheet']}" in _text(article.xpath("./header")[0])


def _labels(tree: Any, number: int) -> list[Any]:
    found: list[Any] = tree.xpath(f"//*[@id='p{number}']/svg[starts-with(@class, 'no ')]")
    return found


def _spot(label: Any, side_px: float) -> complex:
    """Where a number stands in a square picture, in px."""
    (text,) = label.xpath("./*[local-name()='text']")
    x, y = (float(label.get(axis).rstrip("%")) * side_px / 100 for axis in "xy")
    return complex(x + float(text.get("x", 0)), y + float(text.get("y", 0)) - 4)


def test_papers_lie_where_they_are_told_and_inches_stand_beside_where_mats_have_them(
    tmp_path: Path,
) -> None:
    """In two units, with sides of sheets that are told in the command."""
    source = tmp_path / "wall.svg"
    source.write_bytes(drawing(path("M5 5h90v60h-90z", name="wall")))
    papers = ("--paper", "cream=110x80mm:2", "--copies", "wall=2", "--time", "0")
    for mat, unit, told in (
        ("12x12in", "in", "304.8 × 304.8 mm (12 × 12 in)"),
        ("A4", "mm", "210 × 297 mm,"),
    ):
        page = tmp_path / f"{unit}.html"
        out = tmp_path / f"mats-{unit}"
        assert _run(source, "--mat", mat, *papers, "--out", out, "--report", page).exit_code == 0
        tree = _walk(page.read_text("utf-8"))
        (laid,) = json.loads((out / "cutting-list.json").read_text("utf-8"))["mats"]
        sheets = tree.xpath("//article//svg[@class='plate']//rect[@class='sheet']")
        assert [
            [float(sheet.get(name)) for name in ("x", "y", "width", "height")] for sheet in sheets
        ] == [[*paper["at_mm"], *paper["size_mm"]] for paper in laid["papers"]]
        names = [_text(name) for name in tree.xpath("//svg[@class='paper-name']")]
        assert names == ["cream, sheet 1", "cream, sheet 2"]
        assert told in _text(tree.xpath("//p[@class='lay']")[0])
        assert _text(tree.xpath("//svg[@class='tick across']")[0]) == f"0 {unit}"
        copies = [_text(row[3]) for row in tree.xpath("//tbody/tr")]
        assert sorted(copies) == ["1", "2"]
        second = next(paper for paper in laid["papers"] if paper["sheet"] == 2)
        x, y = second["at_mm"]
        place = _text(tree.xpath("//ul[@class='papers']/li")[1])
        assert re.search(rf"{x:g} mm( \(\S+ in\))? from the left and {y:g} mm", place)
        assert ("in)" in place) == (unit == "in")


def test_sides_in_inches_are_told_from_sides_in_mm() -> None:
    """12 by 12 and 8.5 by 11 in against the sides of ISO 216 and of round millimetres."""
    assert all(map(in_inches, [(304.8, 304.8), (215.9, 279.4), (304.8, 609.6), (177.8, 31.75)]))
    assert not any(map(in_inches, [(210.0, 297.0), (300.0, 300.0), (100.0, 150.0), (304.8, 300)]))


def _hostile() -> tuple[Mat, Refusal]:
    name = "</title><script>steal()</script> {{ 7 * 7 }} \u202e\x1b[31m"
    square = shapely.box(0, 0, 20, 20)
    points = np.array([[0.0, 0], [20, 0], [20, 20], [0, 20], [0, 0]])
    edge = (Bezier((0j, 20 + 0j)),)
    line = PartLine(CUT, inner=False, closed=True, curves=edge, points=points, length_mm=80.0)
    part = Part(name, f'"><img src=x onerror=steal()>{name}.svg', (name,), (square,), (0,), square,
                (line,))  # fmt: skip
    papers = (LaidPaper(f"{name}'\"", "card-200", 1, 0.0, 0.0, 100.0, 100.0),)
    mat = Mat(1, 100.0, 100.0, papers, (Placement(part, 90.0, 40.0, 10.0),))
    return mat, Refusal(part.file, (name,), f"it holds {name}")


def test_no_markup_of_a_name_gets_into_the_page() -> None:
    mat, refusal = _hostile()
    record = cutting_list(
        {"01-<b>.svg": mat}, [refusal], [(refusal.file, "<i>")],
        files=1, least=1, speed_mm_s=50.0, notes=["<u>a note</u>"],
    )  # fmt: skip
    text = sheets_as_html(record, [mat_picture(mat)])
    tree = _walk(text)
    assert "<script" not in text and "<img" not in text
    assert "\u202e" not in text and "\x1b" not in text
    (row,) = tree.xpath("//tbody/tr")
    assert "<script>steal()</script> {{ 7 * 7 }}" in _text(row)
    assert "<u>a note</u>" in _text(tree.xpath("//header[@class='top']")[0])


def test_a_page_without_any_mat_tells_what_is_refused_and_the_same_run_gives_the_same_page(
    tmp_path: Path,
) -> None:
    open_line = drawing(path("M20 20h40v40h-40v-20", name="rope"))
    (tmp_path / "rope.svg").write_bytes(open_line)
    pages = []
    for name in ("one", "other"):
        out, page = tmp_path / name, tmp_path / f"{name}.html"
        assert _run(tmp_path / "rope.svg", "--mat", "A4", "--out", out, "--report", page).exit_code
        assert not out.exists(), "there is no mat to write"
        pages.append(page.read_bytes())
    assert pages[0] == pages[1]
    tree = _walk(pages[0].decode())
    assert _text(tree.xpath("//h1")[0]).startswith("No piece is on a mat")
    assert "rope.svg" in _text(tree.xpath("//p[@class='who']")[0])


def test_no_bound_is_claimed_for_pieces_that_were_left_over(tmp_path: Path) -> None:
    """Each wall takes a sheet of its own, and two of five sheets are at hand.

    Plane geometry: two walls of 90 by 60 mm and one mat of 100 by 100: 1.08 mats by area.
    """
    (tmp_path / "wall.svg").write_bytes(drawing(path("M5 5h90v60h-90z", name="wall")))
    page = tmp_path / "page.html"
    _run(
        tmp_path / "wall.svg", "--mat", "106x106mm", "--paper", "cream=106x106mm:2", "--copies",
        "wall=5", "--time", "0", "--out", tmp_path / "out", "--report", page,
    )  # fmt: skip
    tree = _walk(page.read_text("utf-8"))
    said = _text(tree.xpath("//h1")[0])
    assert said == "2 pieces on 2 mats, 3 refused; no layout of these can use fewer than 1 by area."
    assert "(3 times)" in _text(tree.xpath("//p[@class='who']")[0])


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--open"], "--open shows the page that --report writes"),
        (["--report", "{}/mats/page.html"], "lies in the folder of the mats"),
        (["--report", "{}/page.svg"], "does not end in .html"),
        (["--report", "{}/own.html"], "is no page of matready's"),
    ],
)
def test_a_page_that_cannot_be_is_refused_before_anything_is_read(
    tmp_path: Path, arguments: list[str], sentence: str
) -> None:
    (tmp_path / "own.html").write_text("<h1>my own</h1>")
    place = tmp_path.as_posix()
    asked = (DEMO, "--mat", "A4", "--out", tmp_path / "mats")
    result = _run(*asked, *(each.format(place) for each in arguments))
    assert result.exit_code == 2
    assert sentence in result.stderr and result.stderr.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["own.html"]


def test_open_shows_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[str] = []

    def browser(url: str) -> bool:
        shown.append(url)
        return True

    monkeypatch.setattr("webbrowser.open", browser)
    (tmp_path / "wall.svg").write_bytes(drawing(path("M5 5h90v60h-90z", name="wall")))
    page = tmp_path / "a page.html"
    asked = (tmp_path / "wall.svg", "--mat", "A4", "--out", tmp_path / "out", "--open")
    assert _run(*asked, "--report", page).exit_code == 0
    assert shown == [page.resolve().as_uri()]
