"""The cutting list: its sums against plane geometry, its text as Markdown reads it.

Lengths and areas of rectangles are plane geometry; jsonschema holds the JSON to the schema that
msgspec makes of the records. No source outside the project says what a cutting list looks like.
"""

from __future__ import annotations

from dataclasses import replace

import jsonschema
import msgspec
import pytest

from matready.lint.inspection import inspect_source
from matready.lint.reports.list_as_markdown import as_markdown, duration
from matready.lint.settings import Settings
from matready.lint.sheets.cutting_list import CuttingList, cutting_list, mat_record, passes_of
from matready.lint.sheets.laid import LaidPaper, Mat, Placement
from matready.lint.sheets.naming import name_all
from matready.lint.sheets.parts import Refusal
from matready.lint.sheets.taking import parts_of
from matready.lint.source import read_source
from matready.rules import RULES

from tests.drawn import page, path

SCORE = 'class="score" fill="none" stroke="#b5543a"'


@pytest.fixture(scope="module")
def mat() -> Mat:
    """A wall of 60 × 40 mm with a window of 20 × 10 and a fold, and a square of 20 mm, turned."""
    body = (
        path("M20 20H80V60H20Z", name="wall"),
        path("M30 30H50V40H30Z"),
        path("M60 20V60", SCORE),
        path("M100 20H120V40H100Z", name="a|b *c*"),
    )
    source = read_source(page(*body), "stage/wall_1.svg")
    wall, square = name_all([parts_of(inspect_source(source, RULES, Settings()), Settings())])
    return Mat(
        2,
        304.8,
        304.8,
        (
            LaidPaper("cream-card", "card-200", 1, 0.0, 0.0, 100.0, 200.0),
            LaidPaper("vellum", "vellum-120", 3, 110.0, 0.0, 50.0, 80.0),
        ),
        (Placement(wall, 0.0, -10.0, -10.0, 0), Placement(square, 90.0, 160.0, -80.0, 1)),
    )


@pytest.fixture(scope="module")
def record(mat: Mat) -> CuttingList:
    refusals = [
        Refusal("stage/roof.svg", ("gable", "rafter"), "two ends stop short (hairline-gap)"),
        Refusal("stage/old.svg", ("x",), "the file has no physical size", whole=True),
    ]
    left = [("stage/wall_1.svg", "1 text")]
    return cutting_list(
        {"02-cream-card-vellum.svg": mat}, refusals, left,
        files=3, least=1, speed_mm_s=20.0, notes=["cream-card: folds run along the grain"],
    )  # fmt: skip


def test_lengths_shares_and_time_add_up(mat: Mat) -> None:
    record = mat_record("m.svg", mat, 20.0)
    assert record.cut_mm == 2 * (60 + 40) + 2 * (20 + 10) + 4 * 20
    assert record.score_mm == 40
    assert record.draw_mm == 0
    assert record.blade_s == pytest.approx((340 + 40) / 20)
    assert [laid.used_share for laid in record.papers] == [
        pytest.approx((60 * 40 - 20 * 10) / (100 * 200)),
        pytest.approx(20 * 20 / (50 * 80)),
    ]
    # A quarter turn from x to y takes x, y to -y, x.
    assert [part.box_mm for part in record.parts] == [(10, 10, 70, 50), (120, 20, 140, 40)]
    # To the score at 50, 10; from its end at 50, 50 to the window; then to wall and square.
    way = [(0, 0), (50, 10), (50, 50), (20, 20), (20, 20), (10, 10), (10, 10), (140, 20)]
    travel = sum(
        ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5
        for a, b in zip(way[::2], way[1::2], strict=True)
    )
    assert record.travel_mm == pytest.approx(travel, abs=1e-3)


def test_every_piece_is_counted_once(record: CuttingList) -> None:
    totals = record.totals
    assert (totals.pieces, totals.placed, totals.refused) == (5, 2, 3)
    assert (totals.files, totals.mats, totals.least) == (3, 1, 1)
    assert (totals.cut_mm, totals.score_mm) == (340, 40)


def test_the_records_are_json_by_their_own_schema(record: CuttingList) -> None:
    data = msgspec.json.decode(msgspec.json.encode(record))
    jsonschema.validate(data, msgspec.json.schema(CuttingList))
    assert data["schema"] == "matready/sheets-1"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, "speed_mm_s": 0}, msgspec.json.schema(CuttingList))


def test_the_text_says_what_to_lay_where_and_what_is_missing(record: CuttingList) -> None:
    text = as_markdown(record)
    for said in (
        "5 pieces of 3 files: 2 on 1 mat, 3 refused. No layout can use fewer than 1 mat.",
        "about 19 s at 20 mm/s: an estimate for the lines alone",
        "Cream-card: folds run along the grain.",
        "2. `02-cream-card-vellum.svg`: cream-card, vellum",
        # 304.8 mm are 12 in, so inches stand beside: 1 in is 25.4 mm by definition.
        "- vellum (vellum-120), sheet 3, 50 × 80 mm (1.969 × 3.15 in), at 110 mm (4.331 in)",
        " from the left and 0 mm (0 in) from the top",
        "Different stocks lie on this mat",
        "1. cream-card (card-200): wall\n2. vellum (vellum-120): a|b \\*c\\*\n",
        "Used of the paper: 11 %, 10 %.",
        "| wall | wall_1.svg | 1 | cream-card | no | 10.0, 10.0 (0.394, 0.394) | 260 |",
        "| a\\|b \\*c\\* | wall_1.svg | 1 | vellum | 90° | 120.0, 20.0 (4.724, 0.787) | 80 |",
        "- gable, rafter of stage/roof.svg: two ends stop short (hairline-gap).",
        "- all of stage/old.svg (x): the file has no physical size.",
        "- stage/wall_1.svg: 1 text.",
        "Test-cut first",
        "the manual wins",
    ):
        assert said in text
    table = [line for line in text.splitlines() if line.startswith("|")]
    assert len({line.replace("\\|", "").count("|") for line in table}) == 1
    assert text.endswith(".\n")


def test_papers_of_one_stock_are_cut_in_one_pass(mat: Mat) -> None:
    other = replace(mat.papers[0], paper="grey-card", x_mm=200.0)
    three = replace(mat, papers=(mat.papers[0], mat.papers[1], other))
    assert passes_of(mat_record("m.svg", three, 20.0)) == [
        ("card-200", ("cream-card", "grey-card"), (1,)),
        ("vellum-120", ("vellum",), (2,)),
    ]
    # Where files are checked for several stocks and their paper names none, it is one all the same.
    again = replace(mat.papers[0], stock="card-200, card-250")
    (one,) = passes_of(mat_record("m.svg", replace(mat, papers=(mat.papers[0], again)), 20.0))
    assert one.numbers == (1, 2)


def test_a_search_that_was_ended_says_so(record: CuttingList) -> None:
    assert "ended early" not in as_markdown(record)
    assert "ended early" in as_markdown(msgspec.structs.replace(record, complete=False))


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.2, "1 s"),
        (59.4, "59 s"),
        (59.7, "1 min"),
        (90, "2 min"),
        (3600, "1 h 0 min"),
        (5430, "1 h 30 min"),
    ],
)
def test_times_are_told_as_people_tell_them(seconds: float, said: str) -> None:
    assert duration(seconds) == said
