"""Outlines that come back to their start are closed, and look the same to another program.

References: svgelements 1.9.6 tells a close from a line that leads to the start; resvg, through
resvg_py 0.5, draws source and copy. With round joins and round caps a closed corner and two ends in
one place are the same picture (SVG 2, 13.5.5 and 13.5.6), but for the renderer's own curves.
"""

from __future__ import annotations

import io

import pytest
import svgelements

from matready.lint.repair import repair
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.drawn import page
from tests.spoiling.reading import differing, lines_of, picture, strays

CLOSING = Settings(only=frozenset({"unclosed-ends"}))
ROUND = (
    'fill="none" stroke="#33475b" stroke-width="2" stroke-linejoin="round" stroke-linecap="round"'
)
OUTLINES = {
    "lines": "M20 20H80V80H20V20",
    "relative lines": "m20 20 60 0 0 60 -60 0 0 -60",
    "curves": "M20 50C20 10 80 10 80 50S20 90 20 50",
    "quadratic curves": "M20 50Q50 0 80 50Q50 100 20 50",
    "arcs": "M30 50a20 20 0 0 1 40 0a20 20 0 0 1-40 0",
    "before a window": "m20 20h60v60h-60v-60 m20 20h20v20h-20z",
    "after a panel": "M10 10H90V90H10z m15 15h20v20h-20v-20",
    "numbers that run together": "M20 20l60-.5.5 60-60 .5-.5-60",
}
SHADES = 6  # of 255, in the mean over three by three pixels
TRANSFORMS = ("", "rotate(33 50 50)", "scale(0.01) scale(100)", "translate(100 0) scale(-1 1)")


def _closed(data: bytes) -> Repaired:
    return repair(data, "drawing.svg", RULES, CLOSING)


def _open_ends(data: bytes) -> int:
    """How many sub-paths another reader does not see closed."""
    svg = svgelements.SVG.parse(io.BytesIO(data))
    subpaths = [
        list(subpath)
        for shape in svg.elements()
        if isinstance(shape, svgelements.Shape)
        for subpath in svgelements.Path(shape).as_subpaths()
    ]
    return sum(not isinstance(subpath[-1], svgelements.Close) for subpath in subpaths)


@pytest.mark.parametrize("transform", TRANSFORMS)
@pytest.mark.parametrize("outline", OUTLINES.values(), ids=OUTLINES.keys())
def test_an_outline_is_closed_and_looks_as_it_did(outline: str, transform: str) -> None:
    data = page(f'<path d="{outline}" transform="{transform}" {ROUND}/>', size=100)
    done = _closed(data)
    assert len(done.fixed) == 1
    assert (_open_ends(data), _open_ends(done.data)) == (1, 0)
    assert not differing(picture(data), picture(done.data), SHADES).any()
    assert _closed(done.data).data == done.data


@pytest.mark.parametrize("kind", ["polyline", "path"])
def test_a_polyline_is_closed_too(kind: str) -> None:
    places = "20,40 30,25 70,25 80,40 20,40"
    drawn = f'points="{places}"' if kind == "polyline" else f'd="M{places}"'
    data = page(f"<style>{kind}{{stroke-width:3}}</style><{kind} {drawn} {ROUND}/>", size=100)
    done = _closed(data)
    assert _open_ends(done.data) == 0
    assert not differing(picture(data), picture(done.data), SHADES).any()


@pytest.mark.parametrize("miss_mm", [0.001, 0.01, 0.024])
@pytest.mark.parametrize("way", ["V{end}", "L20 {end}", "C30 60 40 40 20 {end}"])
def test_ends_that_miss_by_less_than_joins_them_are_put_on_one_point(
    way: str, miss_mm: float
) -> None:
    outline = "M20 20H80V80H20" + way.format(end=20 + miss_mm)
    data = page(f'<path d="{outline}" {ROUND}/>', size=100)
    done = _closed(data)
    assert _open_ends(done.data) == 0
    assert len(strays(lines_of(done.data), lines_of(data), miss_mm + 0.002)) == 0


def test_many_are_told_and_closed_together() -> None:
    flags = [f'<path d="M{x} 20h8l-4 20l-4-20" {ROUND}/>' for x in range(5, 181, 16)]
    data = page(*flags)
    (finding,) = lint_bytes(data, "x.svg", RULES, CLOSING).findings
    assert finding.count == len(flags)
    done = _closed(data)
    assert (_open_ends(data), _open_ends(done.data)) == (len(flags), 0)
