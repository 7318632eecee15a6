"""Sixteen hundred real drawings, read as independent programs read them.

References: svgelements 1.9.6 for outlines, resvg (through resvg_py) for painted areas. Neither
shares code with this project. Where svgelements is known to be wrong, the fault is named below
and the number of files it touches is held small.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import resvg_py
import shapely
import svgelements
from PIL import Image

from matready.lint.drawing import Drawing
from matready.lint.reading import read_drawing
from matready.lint.runner import lint_bytes
from matready.lint.source import read_source
from matready.rules import RULES

from tests.corpus import RealFile, icons, mixed, pictures

Floats = npt.NDArray[np.float64]

MM_PER_PX = 25.4 / 96  # CSS Values and Units 3, absolute lengths
APART_USER = 0.02  # outlines agree within this many user units
FLATTEN_MM = 0.001  # 0.0038 px: most of the allowance is left for everything else
CHORD_USER = 0.004  # so finely is the reference flattened


# Outlines, against svgelements


def own_lines(drawing: Drawing) -> list[Floats]:
    """Our lines in user units of the root, one array (k, 2) a line."""
    page, geometry = drawing.page, drawing.geometry
    assert page.scale_x == pytest.approx(page.scale_y)
    points = geometry.points / MM_PER_PX / page.scale_x
    return np.split(points, geometry.offsets[1:-1]) if len(geometry.closed) else []


def reference_lines(data: bytes) -> list[Floats]:
    """The same by svgelements: what is painted, after every transform, one array a sub-path."""
    svg = svgelements.SVG.parse(io.BytesIO(data), ppi=96)
    scale = 1.0
    if svg.viewbox is not None and svg.viewbox.width:
        scale = svg.width / svg.viewbox.width
    lines = []
    for shape in svg.elements():
        if isinstance(shape, svgelements.Shape) and _is_painted(shape):
            lines += [line / scale for line in _flattened(abs(svgelements.Path(shape)))]
    return lines


def _is_painted(shape: Any) -> bool:
    """False for what no one sees; the reference itself leaves out only display="none"."""
    values = shape.values
    filled = values.get("fill") != "none" and not isinstance(shape, svgelements.SimpleLine)
    painted = filled or values.get("stroke") != "none"
    seen = values.get("visibility", "visible") == "visible"
    return seen and painted and float(values.get("opacity", 1)) > 0


def _flattened(path: Any) -> Iterator[Floats]:
    """The sub-paths of a path of the reference as polylines; those without length are left out."""
    runs: list[list[Floats]] = []
    ended = True
    for segment in path:
        if isinstance(segment, svgelements.Move):
            ended = True
        elif segment.start is not None and segment.end is not None:
            if ended:
                runs.append([])
            runs[-1].append(_sampled(segment))
            ended = isinstance(segment, svgelements.Close)  # SVG 2, 9.3.4: what follows z is new
    for run in runs:
        line = np.vstack(run)
        if np.ptp(line, axis=0).max() > 1e-9:
            yield line


def _sampled(segment: Any) -> Floats:
    """A segment of the reference, sampled by the reference so that chords are within CHORD_USER."""
    if isinstance(segment, svgelements.Line | svgelements.Close):
        return np.array([segment.start, segment.end], dtype=np.float64)
    if isinstance(segment, svgelements.Arc):
        radius = max(segment.rx, segment.ry, CHORD_USER)
        count = abs(segment.sweep) / (2 * math.acos(1 - CHORD_USER / radius))
    else:  # the bound of Wang (1984) for a curve of degree d: d (d - 1) / 8 times the bend
        points = np.array(list(segment), dtype=np.float64)
        degree = len(points) - 1
        bend = np.linalg.norm(np.diff(points, 2, axis=0), axis=1).max()
        count = math.sqrt(degree * (degree - 1) / 8 * bend / CHORD_USER)
    return np.array(segment.npoint(np.linspace(0, 1, 2 + math.ceil(count))), dtype=np.float64)


def strays(lines: Sequence[Floats], others: Sequence[Floats]) -> int:
    """How many corners of `lines` are farther than APART_USER from all of the others."""
    corners = shapely.points(np.vstack([np.empty((0, 2)), *lines]))
    target = shapely.MultiLineString(others)
    shapely.prepare(target)  # many questions to one set of lines: several times as fast
    return int((~shapely.dwithin(target, corners, APART_USER)).sum())


def length(lines: Sequence[Floats]) -> float:
    """The sum of the lengths, so that a line missing over another line does not go unseen."""
    return sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in lines)


def disagreement(drawing: Drawing, data: bytes) -> str:
    """Empty when both readers see the same lines, else what differs."""
    ours, theirs = own_lines(drawing), reference_lines(data)
    stray = strays(ours, theirs), strays(theirs, ours)
    if any(stray):
        return f"{stray[0]} corners of ours and {stray[1]} of theirs stand alone"
    if not math.isclose(length(ours), length(theirs), rel_tol=5e-3, abs_tol=APART_USER):
        return f"{length(ours):.3f} units of line against {length(theirs):.3f}"
    return ""


def has_skewed_arcs(drawing: Drawing) -> bool:
    """True when a round shape or an arc is drawn under a matrix that skews."""
    for node in (drawing.nodes[i] for i in drawing.shapes):
        a, b, c, d, _, _ = node.matrix
        text = node.element.get("d", "") if node.kind == "path" else ""
        turned = abs(a * c + b * d) > 1e-6 * math.hypot(a, b) * math.hypot(c, d)
        if turned and (node.kind in ("circle", "ellipse") or "a" in text.lower()):
            return True
    return False


# What svgelements 1.9.6 is known to get wrong, and how a file shows that it is concerned.
FAULTS: dict[str, Callable[[Drawing, bytes], bool]] = {
    # SVG 2, 9.3.6: after anything but C, c, S, s the first control point is the current point.
    "it reflects the control point of a quadratic in a smooth cubic": (
        lambda drawing, data: re.search(rb"[QqTt][^A-Za-z]+[Ss]", data) is not None
    ),
    # SVG 2, 7.2 and 10.2: width and height are auto, which is 0 for a rect: nothing is drawn.
    "it gives a rect without width or height a side of 1": (
        lambda drawing, data: any(
            rect.get("width") is None or rect.get("height") is None
            for rect in drawing.source.root.iter("{*}rect")
        )
    ),
    # Its arcs keep two half axes at right angles, which a skew does not.
    "it turns arcs wrongly under a skew": lambda drawing, data: has_skewed_arcs(drawing),
}
MOST_FAULTY = 8  # files in either set that disagree because of one of these


@pytest.mark.parametrize("files", [icons, pictures], ids=["icons", "pictures"])
def test_outlines_agree_with_an_independent_reader(
    files: Callable[[], tuple[RealFile, ...]],
) -> None:
    unexplained, faulty = {}, []
    for file in files():
        drawing = read_drawing(read_source(file.data, file.name), FLATTEN_MM)
        if difference := disagreement(drawing, file.data):
            if any(shows(drawing, file.data) for shows in FAULTS.values()):
                faulty.append(file)
            else:
                unexplained[file.name] = difference
    assert unexplained == {}
    assert len(faulty) <= MOST_FAULTY
    assert {file.name: unlike for file in faulty if (unlike := painted_otherwise(file))} == {}


def test_the_files_are_many_and_of_two_kinds() -> None:
    assert len(icons()) >= 1_000
    assert len(pictures()) >= 600
    arcs = sum(bool(re.search(rb"a[^a-z]* [01] ?[01][-.\d]", file.data)) for file in icons())
    moved = sum(b"transform=" in file.data for file in pictures())
    assert arcs >= 400
    assert moved >= 400


# Painted areas, against resvg

# Everything is filled alike and faintly, so that what lies over each other adds up, and nothing
# else paints: a path that is missing, doubled or turned round shows.
SHEET = """
* { fill: #000 !important; fill-opacity: .3 !important; fill-rule: nonzero !important;
    stroke: none !important; opacity: 1 !important; clip-path: none !important;
    mask: none !important; filter: none !important; marker: none !important }
image, text { display: none !important }
"""
SAMPLE = 60
WIDTH_PX = 400
LEAST_OVERLAP = 0.985  # sum of the smaller alpha over sum of the larger, pixel by pixel
MOST_FAR_OFF = 0.002  # share of pixels whose alpha differs by more than FAR_OFF of 255
FAR_OFF = 40


def alpha(svg: str) -> npt.NDArray[np.int16]:
    """The opacity that resvg gives each pixel of a picture under SHEET, 0 to 255."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg,
        style_sheet=SHEET,
        width=WIDTH_PX,
        dpi=96,
        languages=["en"],
        skip_system_fonts=True,
    )
    with Image.open(io.BytesIO(bytes(png))) as image:
        return np.asarray(image.convert("RGBA"), dtype=np.int16)[:, :, 3]


def redrawn(drawing: Drawing) -> str:
    """A picture of nothing but our lines, one path for each shape that was read."""
    page, geometry = drawing.page, drawing.geometry
    texts: dict[int, str] = {}
    for number, line in enumerate(np.split(geometry.points / MM_PER_PX, geometry.offsets[1:-1])):
        corners = " ".join(f"{x:.5f} {y:.5f}" for x, y in line)
        owner = int(geometry.owner[number])
        texts[owner] = texts.get(owner, "") + f"M{corners}"
    shapes = "".join(f'<path d="{text}"/>' for text in texts.values())
    size = f'width="{page.width_px}" height="{page.height_px}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}'
        f' viewBox="0 0 {page.width_px} {page.height_px}">{shapes}</svg>'
    )


def painted_otherwise(file: RealFile) -> str:
    """Empty when our lines paint what the renderer paints of the file, else by how much not."""
    theirs = alpha(file.data.decode("utf-8"))
    ours = alpha(redrawn(read_drawing(read_source(file.data, file.name), FLATTEN_MM)))
    overlap = float(np.minimum(theirs, ours).sum() / np.maximum(theirs, ours).sum())
    far_off = float((abs(theirs - ours) > FAR_OFF).mean())
    if overlap >= LEAST_OVERLAP and far_off <= MOST_FAR_OFF:
        return ""
    return f"overlap {overlap:.4f}, far off {far_off:.2%}"


def test_painted_areas_agree_with_a_renderer() -> None:
    files = mixed(SAMPLE)
    assert {file.name: unlike for file in files if (unlike := painted_otherwise(file))} == {}


# The whole linter


def test_every_real_file_gets_a_report() -> None:
    files = mixed(1_000)
    for file in files:
        report = lint_bytes(file.data, file.name, RULES)
        assert report.path == file.name
        assert report.lines.cut + report.lines.score + report.lines.draw > 0, file.name
        assert all(finding.elements for finding in report.findings), file.name
        broken = [said for said in report.not_checked if "broke" in said.reason]
        assert not broken, (file.name, broken)
