"""Pictures hold what the drawing holds: geometry, gaps, close-ups, marks, colours."""

from __future__ import annotations

import io
import random
from itertools import combinations
from math import hypot
from pathlib import Path

import numpy as np
import pytest
import resvg_py
import shapely
from lxml import etree
from PIL import Image, ImageFilter
from svgpathtools import parse_path

from matready.lint import cutting
from matready.lint.cutting import Cutout
from matready.lint.figures import Figure, Mark, figure_as_svg, figure_of
from matready.lint.figures.as_svg import mark_shape
from matready.lint.figures.marks import SIZE_PX, placed
from matready.lint.figures.palette import PALETTE
from matready.lint.figures.paths import FINE_MM, path_of
from matready.lint.figures.windows import FRAME_MM, SEEN_MM, window_around
from matready.lint.reading import read_drawing
from matready.lint.settings import Settings
from matready.lint.sizes import MM_PER_INCH
from matready.lint.source import read_file

ROUNDING_MM = 0.0005 * 2**0.5 + 1e-9  # three decimals, in x and in y


def _cutout(path: Path) -> Cutout:
    settings = Settings()
    drawing = read_drawing(read_file(path), settings.distances.flatten_mm)
    return cutting.cut(drawing, settings)


def _figure(path: Path) -> Figure:
    return figure_of(_cutout(path))


def _points(data: str) -> list[np.ndarray]:
    """The lines of path data as an independent reader (svgpathtools) reads them."""
    return [
        np.array([[p.real, p.imag] for p in (part[0].start, *(segment.end for segment in part))])
        for part in parse_path(data).continuous_subpaths()
    ]


def test_a_line_is_drawn_where_it_runs_and_ends_where_it_ends() -> None:
    rng = random.Random(7)
    for _ in range(40):
        steps = np.array([[rng.gauss(0, 3), rng.gauss(0, 3)] for _ in range(rng.randint(2, 60))])
        line = np.cumsum(steps, axis=0) + 100
        (drawn,) = _points(path_of([line]))
        for end in (0, -1):
            assert np.abs(drawn[end] - line[end]).max() <= 0.0005 + 1e-9
        off = shapely.hausdorff_distance(
            shapely.LineString(drawn), shapely.LineString(line), densify=0.05
        )
        assert off <= FINE_MM + ROUNDING_MM


def test_no_error_adds_up_along_many_short_steps() -> None:
    line = np.column_stack([np.arange(20_000) * 0.0123456, np.sin(np.arange(20_000))])
    (drawn,) = _points(path_of([line]))
    assert np.abs(drawn[-1] - line[-1]).max() <= 0.0005 + 1e-6


def test_a_gap_of_a_tenth_is_a_gap_of_a_tenth(root: Path) -> None:
    figure = _figure(root / "fixtures/hairline-gap/flagged/corner-a-tenth-short.svg")
    (line,) = _points(figure.cut)
    assert hypot(*(line[0] - line[-1])) == pytest.approx(0.1, abs=0.001)


def _ink(svg: str, below: int) -> np.ndarray:
    """Where dark lines are on white ground, as an independent renderer (resvg) draws them."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=96, skip_system_fonts=True))
    ink = Image.open(io.BytesIO(png)).convert("RGBA")
    grey = Image.alpha_composite(Image.new("RGBA", ink.size, "white"), ink).convert("L")
    return np.asarray(grey) < below


def _grown(ink: np.ndarray, px: int) -> np.ndarray:
    grey = Image.fromarray((ink * 255).astype(np.uint8)).filter(ImageFilter.MaxFilter(2 * px + 1))
    return np.asarray(grey) > 0


@pytest.mark.parametrize("name", ["stage-box", "backdrop-hills"])
def test_the_picture_lies_on_the_drawing(root: Path, name: str) -> None:
    path = root / f"fixtures/puppet-theatre/{name}.svg"
    figure = _figure(path)
    assert figure.page_mm is not None
    width_px = figure.page_mm[0] / MM_PER_INCH * 96  # CSS Values 3
    assert figure.window_mm == (0, 0, *figure.page_mm)
    # Its lines are thinner than a pixel; ours stand on card, which is not quite white.
    drawn = _ink(path.read_text("utf-8"), below=245)
    ours = _ink(figure_as_svg(figure, width_px=width_px), below=170)
    # Without the edge of the sheet, which the drawing has not.
    drawn, ours = drawn[4:-4, 4:-4], ours[4:-4, 4:-4]
    assert drawn.sum() > 5000
    assert ours[~_grown(drawn, 3)].sum() == 0  # within a millimetre
    # A dash of ours may leave out as much of a fold as lies between two dashes.
    assert drawn[~_grown(ours, 5)].sum() == 0


def test_pieces_have_the_area_that_is_cut_out(root: Path) -> None:
    cutout = _cutout(root / "fixtures/puppet-theatre/proscenium-arch.svg")
    for piece, card in zip(cutout.pieces, figure_of(cutout).cards, strict=True):
        rings = [shapely.Polygon(ring).area for ring in _points(card.path)]
        assert max(rings) * 2 - sum(rings) == pytest.approx(piece.card.area, rel=2e-3)
        assert card.name == piece.name


def test_a_window_shows_its_part_only(root: Path) -> None:
    cutout = _cutout(root / "fixtures/puppet-theatre/bunting.svg")
    box = (50.0, 100.0, 90.0, 140.0)
    figure = figure_of(cutout, box)
    for path in (figure.cut, *(card.path for card in figure.cards)):
        points = np.vstack(_points(path))
        assert (points >= box[:2]).all()
        assert (points <= box[2:]).all()


@pytest.mark.parametrize("measured_mm", [0.026, 0.05, 0.1, 0.18, 0.5, 1.2, 2.4])
def test_what_was_measured_can_be_seen(measured_mm: float) -> None:
    box = (10.0, 20.0, 10.0 + measured_mm, 20.0)
    window = window_around(box, (10 + measured_mm / 2, 20), measured_mm)
    assert window.times * measured_mm >= SEEN_MM
    assert window.width_mm * window.times == pytest.approx(FRAME_MM[0])
    assert window.x_mm < box[0]
    assert box[2] < window.x_mm + window.width_mm
    assert 10 <= window.bar_mm * window.times <= 25


def test_a_large_matter_fits_into_its_close_up() -> None:
    window = window_around((0, 0, 250, 100), (125, 50))
    assert window.width_mm > 250
    assert window.height_mm > 100
    assert window.times < 1


def test_no_mark_hides_another_or_leaves_the_picture() -> None:
    rng = random.Random(3)
    for _ in range(20):
        spots = [(rng.uniform(0, 300), rng.uniform(0, 200)) for _ in range(6)]
        spots += [spots[0], spots[0]]  # three matters in one place
        marks = [Mark(at, str(k)) for k, at in enumerate(spots, 1)]
        width, height = 400.0, 400.0 * 200 / 300
        found = [
            (each.x_share * width + each.dx_px, each.y_share * height + each.dy_px)
            for each in placed(marks, (0, 0, 300, 200), width)
        ]
        assert all(hypot(a - c, b - d) >= SIZE_PX - 1 for (a, b), (c, d) in combinations(found, 2))
        assert all(0 <= x <= width and 0 <= y <= height for x, y in found)


def test_a_mark_outside_stands_at_the_edge() -> None:
    (far,) = placed([Mark((900, -50), "1")], (0, 0, 300, 200))
    assert (far.x_share, far.y_share) == (1, 0)


def test_severities_differ_by_shape() -> None:
    shapes = {mark_shape(severity) for severity in ("fault", "caution", "tidy")}
    assert len(shapes) == 3


def test_a_stand_alone_picture_is_the_same_each_time_and_says_no_more_than_it_should(
    root: Path,
) -> None:
    figure = _figure(root / "fixtures/puppet-theatre/turret.svg")
    hostile = '"><script>alert(1)</script>'
    marks = [Mark((50, 50), hostile), Mark((60, 60), "2", "tidy")]
    one, other = (figure_as_svg(figure, marks=marks, title=hostile, bar_mm=20) for _ in range(2))
    assert one == other
    tree = etree.fromstring(one.encode())
    names = {etree.QName(node).localname for node in tree.iter("*")}
    assert names == {"svg", "title", "style", "rect", "path", "g", "circle", "text"}
    assert tree.findtext("{*}title") == hostile
    assert "http" not in one.replace("http://www.w3.org/2000/svg", "")


def _linear(colour: str) -> np.ndarray:
    """WCAG 2.2, "relative luminance": the three channels, linear."""
    channels = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def _contrast(one: np.ndarray, other: np.ndarray) -> float:
    """WCAG 2.2, "contrast ratio"."""
    light, dark = sorted((float(c @ [0.2126, 0.7152, 0.0722]) for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


# Machado, Oliveira and Fernandes 2009, table for severity 1.0, on linear channels.
_PROTAN = [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]  # fmt: skip # noqa: E501
_DEUTAN = [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]  # fmt: skip # noqa: E501


@pytest.mark.parametrize("ground", ["light", "dark"])
def test_colours_stand_out_for_everyone(ground: str) -> None:
    ink = {name: _linear(getattr(pair, ground)) for name, pair in PALETTE.items()}
    for line in ("cut", "score", "draw", "fault", "caution", "tidy"):
        for behind in ("sheet", "card"):
            # WCAG 2.2, 1.4.11: what has to be seen is 3:1 against what is beside it.
            assert _contrast(ink[line], ink[behind]) >= 3, (line, behind)
    for word in ("fault", "caution", "tidy", "ready"):
        assert _contrast(ink[word], ink["room"]) >= 4.5, word  # 1.4.3, as text
        if word != "ready":
            assert _contrast(ink["on-mark"], ink[word]) >= 4.5, word
    for weak in (np.eye(3), np.array(_PROTAN), np.array(_DEUTAN)):
        cut, score = (np.clip(weak @ ink[line], 0, 1) for line in ("cut", "score"))
        assert _contrast(cut, score) >= (2.5 if ground == "light" else 1.4)
