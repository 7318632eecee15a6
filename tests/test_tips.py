"""Sharp tips, crowded pieces, the fit on a mat and thick strokes, by shapes of known size."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity

from matready.lint.cutting.tips import Tip, find_tips
from matready.lint.finding import Finding
from matready.lint.rule import Rule
from matready.rules import crowded_cuts, off_mat, thick_line

from tests.drawn import cut_out, path

TIP_DEG, RADIUS_MM = 20.0, 0.25


def tips(d: str) -> list[Tip]:
    return [tip for _, found in find_tips(cut_out(path(d)), TIP_DEG, RADIUS_MM) for tip in found]


def told(rule: Rule, *body: str) -> list[Finding]:
    check = rule.check
    assert check is not None
    said = check(cut_out(*body), rule.limits())
    return [one for one in said if isinstance(one, Finding)]


@settings(max_examples=80, deadline=None)
@given(st.one_of(st.floats(4, 19.7), st.floats(20.3, 60)), st.floats(0, 360), st.booleans())
def test_a_corner_is_measured_by_its_angle(angle: float, turn: float, curved: bool) -> None:
    half, a = math.radians(angle / 2), math.radians(turn)
    at = [(100 + 60 * math.cos(a + s * half), 100 + 60 * math.sin(a + s * half)) for s in (-1, 1)]
    foot = "L" if not curved else "A 60 60 0 0 1"  # the arc meets both legs at right angles
    d = f"M100 100L{at[0][0]:.6f} {at[0][1]:.6f} {foot} {at[1][0]:.6f} {at[1][1]:.6f}Z"
    found = tips(d)
    assert len(found) == (angle < TIP_DEG)
    assert all(abs(tip.angle_deg - angle) < 0.2 and tip.sharp for tip in found)


@pytest.mark.parametrize(("radius", "count"), [(0.15, 1), (0.22, 1), (0.4, 0), (3.0, 0)])
def test_a_bend_is_measured_by_its_radius(radius: float, count: int) -> None:
    d = f"M20 100V80H100a{radius} {radius} 0 0 1 0 {2 * radius}H60V100Z"
    assert [tip.sharp for tip in tips(d)] == [False] * count


def test_square_ends_stars_and_smooth_curves_have_no_tips() -> None:
    star = [(100 + r * math.sin(k * math.pi / 5), 100 - r * math.cos(k * math.pi / 5))
            for k, r in enumerate([60, 23] * 5)]  # fmt: skip
    for d in (
        "M20 20H80V20.6H20Z",
        "M20 20H80V60H20Z",
        "M" + "L".join(f"{x:.4f} {y:.4f} " for x, y in star) + "Z",
        "M20 100A80 6 0 1 1 180 100A80 6 0 1 1 20 100Z",
        "M20 20H50V60V20H80V80H20Z",
    ):
        assert tips(d) == [], d


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 360), st.floats(0.3, 4.0))
def test_pieces_are_as_far_apart_as_geos_says(turn: float, gap: float) -> None:
    assume(abs(gap - 2.0) > 0.02)
    one = affinity.rotate(shapely.box(60, 60, 90, 90), turn, origin=(90, 90))
    other = shapely.box(0, 0, 20, 20)
    other = affinity.translate(other, one.bounds[2] + gap, one.bounds[1])
    away = one.distance(other)
    assume(abs(away - 2.0) > 0.02)
    body = [path("M" + "L".join(f"{x:.6f} {y:.6f} " for x, y in s.exterior.coords[:-1]) + "Z")
            for s in (one, other)]  # fmt: skip
    found = told(crowded_cuts.RULE, *body)
    assert len(found) == (away < 2.0)
    for finding in found:
        assert finding.measured is not None
        assert abs(finding.measured.value - away) < 1e-3


@pytest.mark.parametrize(("side", "fits"), [(99.0, True), (100.4, True), (101.0, False)])
@pytest.mark.parametrize("turn", [0.0, 17.3, 45.0, 90.0])
def test_a_piece_fits_if_it_fits_turned(side: float, fits: bool, turn: float) -> None:
    card = affinity.rotate(shapely.box(-side / 2, -20, side / 2, 20), turn, origin=(0, 0))
    d = "M" + "L".join(f"{x + 100:.6f} {y + 100:.6f} " for x, y in card.exterior.coords[:-1]) + "Z"
    cutout = dataclasses.replace(cut_out(path(d)), mat=(40.0, 100.0))
    found = list(off_mat.check(cutout, off_mat.Limits()))
    assert bool(found) == (not fits)


@pytest.mark.parametrize(("stroke", "scale", "count"), [(0.9, 1, 0), (1.1, 1, 1), (0.3, 5, 1)])
def test_a_stroke_is_measured_after_its_transforms(stroke: float, scale: int, count: int) -> None:
    shape = path("M5 5H30V30H5Z", f'fill="none" stroke="#33475b" stroke-width="{stroke}"')
    found = told(thick_line.RULE, f'<g transform="rotate(20) scale({scale} -{scale})">{shape}</g>')
    assert len(found) == count
    for finding in found:
        assert finding.measured is not None
        assert math.isclose(finding.measured.value, stroke * scale, abs_tol=1e-6)
