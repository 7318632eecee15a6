"""Page size and viewBox: SVG 2, chapter 8 (worked numbers beside each case)."""

from __future__ import annotations

import pytest

from matready.lint.reading.transforms import Matrix
from matready.lint.reading.viewport import (
    Viewport,
    parse_aspect,
    parse_view_box,
    read_page,
    view_matrix,
)


def page(**attributes: str) -> Viewport:
    return read_page(attributes.get, 16.0)


@pytest.mark.parametrize(
    ("view_box", "size", "aspect", "scale", "move"),
    [
        # SVG 2, 8.6, the figure's own numbers.
        ("0 0 1500 1000", (300, 200), "none", (0.2, 0.2), (0, 0)),
        ("0 0 1500 1000", (150, 200), "none", (0.1, 0.2), (0, 0)),
        # SVG 2, 8.7, figure PreserveAspectRatio, worked out with the formula of 8.2.
        ("0 0 30 40", (50, 30), "xMinYMin meet", (0.75, 0.75), (0, 0)),
        ("0 0 30 40", (50, 30), "xMidYMid meet", (0.75, 0.75), (13.75, 0)),
        ("0 0 30 40", (50, 30), "xMaxYMax meet", (0.75, 0.75), (27.5, 0)),
        ("0 0 30 40", (50, 30), "xMidYMid slice", (5 / 3, 5 / 3), (0, -18.333333)),
        ("0 0 30 40", (30, 60), "xMidYMid meet", (1, 1), (0, 10)),
        ("0 0 30 40", (30, 60), "xMaxYMid slice", (1.5, 1.5), (-15, 0)),
        ("-50 -50 100 100", (377.952756, 377.952756), "xMidYMid", (3.779528, 3.779528),
         (188.976378, 188.976378)),
        ("0 0 612 792", (816, 1056), "xMidYMid", (4 / 3, 4 / 3), (0, 0)),
        ("0 0 100 100", (755.905512, 377.952756), "xMidYMid", (3.779528, 3.779528),
         (188.976378, 0)),
    ],
)  # fmt: skip
def test_view_boxes_meet_their_viewports_as_svg_works_it_out(
    view_box: str,
    size: tuple[float, float],
    aspect: str,
    scale: tuple[float, float],
    move: tuple[float, float],
) -> None:
    box, how = parse_view_box(view_box), parse_aspect(aspect)
    assert box is not None
    assert how is not None
    matrix: Matrix = view_matrix(box, 0, 0, *size, how)
    assert matrix == pytest.approx((scale[0], 0, 0, scale[1], *move), abs=1e-6)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # SVG 2, 8.6: four numbers, spaces and/or commas; negative sizes are an error.
        ("0,0 30 , 40", (0, 0, 30, 40)),
        (" -1e1 .5 1 0", (-10, 0.5, 1, 0)),
        ("0 0 -1 40", None),
        ("0 0 30", None),
        ("0 0 30 40 50", None),
        ("0 0 30px 40", None),
        ("", None),
    ],
)
def test_view_box_grammar(text: str, expected: tuple[float, ...] | None) -> None:
    assert parse_view_box(text) == expected


@pytest.mark.parametrize(
    "text", ["", "meet", "xmidymid", "xMidYMid both", "none none", "xMidYMax,"]
)
def test_unknown_ways_to_fit_are_refused(text: str) -> None:
    assert parse_aspect(text) is None


def test_sizes_with_units_are_physical() -> None:
    # CSS Values 3 and ISO 216: A4 is 210 by 297 mm, 793.7008 by 1122.5197 px.
    seen = page(width="210mm", height="297mm", viewBox="0 0 210 297").page
    assert seen.unit == "physical"
    assert (seen.width_px, seen.height_px) == pytest.approx((793.7008, 1122.5197), abs=1e-4)
    assert seen.size_mm == pytest.approx((210, 297))
    assert seen.scale_x == pytest.approx(3.779528, abs=1e-6)
    assert not seen.in_inches
    assert page(width="12in", height="12in").page.size_mm == pytest.approx((304.8, 304.8))
    assert page(width="12in", height="12in").page.in_inches


def test_plain_numbers_are_px() -> None:
    # SVG 2, 8.3: width="300" is 300 px, which at 96 to the inch is 79.375 mm.
    seen = page(width="300", height="300px").page
    assert seen.unit == "px"
    assert seen.size_mm == pytest.approx((79.375, 79.375))
    assert (seen.scale_x, seen.scale_y) == (1, 1)
    assert page(width="300", height="79mm").page.unit == "px"


@pytest.mark.parametrize("side", [{}, {"width": "100%", "height": "100%"}, {"width": "auto"}])
def test_without_a_size_a_user_unit_counts_as_one_px(side: dict[str, str]) -> None:
    # SVG 2, 7.8 and 8.12: auto and percentages give no size, only the viewBox's proportions.
    viewport = page(viewBox="-10 -20 300 200", **side)
    assert viewport.page.unit == "none"
    assert viewport.page.size_mm is None
    assert (viewport.page.width_px, viewport.page.height_px) == (300, 200)
    assert viewport.matrix == (1, 0, 0, 1, 10, 20)
    bare = page(**side).page
    assert (bare.unit, bare.width_px, bare.scale_x) == ("none", None, 1)


def test_one_side_follows_from_the_other_by_the_view_box() -> None:
    # SVG 2, 8.12: the proportions are the viewBox's.
    seen = page(width="90mm", viewBox="0 0 300 200").page
    assert seen.size_mm == pytest.approx((90, 60))
    assert seen.unit == "physical"
    assert page(height="100", viewBox="0 0 300 200").page.width_px == pytest.approx(150)
    assert page(width="90mm").page.unit == "none"
    assert page(width="90mm", height="50%", viewBox="0 0 300 200").page.unit == "none"


def test_negative_sizes_and_boxes_are_passed_over_with_a_note() -> None:
    # SVG 2, 8.6: a negative viewBox size is an error, and the attribute is ignored.
    viewport = page(width="300", height="-1", viewBox="0 0 -1 5")
    assert viewport.page.unit == "none"
    assert viewport.page.view_box is None
    assert [note.split("=")[0] for note in viewport.notes] == ["viewBox", "the page's height"]


def test_zero_sizes_draw_nothing() -> None:
    # SVG 2, 8.6: a value of zero disables rendering of the element.
    for attributes in ({"viewBox": "0 0 0 5"}, {"width": "0", "height": "5"}):
        viewport = page(**attributes)
        assert not viewport.drawn
        assert viewport.notes == ("the page has no width or no height, so nothing on it is drawn",)


def test_unequal_scales_are_told() -> None:
    seen = page(width="100", height="100", viewBox="0 0 10 20", preserveAspectRatio="none").page
    assert (seen.scale_x, seen.scale_y) == (10, 5)
    kept = page(width="100", height="100", viewBox="0 0 10 20").page
    assert (kept.scale_x, kept.scale_y) == (5, 5)


def test_font_relative_pages_are_measured_by_the_font() -> None:
    assert page(width="1em", height="1em").page.width_px == 16
    assert page(width="50vw", height="1em").page.unit == "none"
