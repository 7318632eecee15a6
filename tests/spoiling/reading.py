"""An independent reader and a renderer, to look at drawings before and after.

svgelements 1.9.6 reads the lines, shapely (GEOS) finds what they enclose, resvg (through resvg_py
0.5) draws them. Style rules with selectors that resvg does not know are written into the elements
for it, found by XPath. None of these shares code with the program.
"""

from __future__ import annotations

import gzip
import io
import re
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt
import resvg_py
import shapely
import svgelements
from lxml import etree
from PIL import Image, ImageFilter

from tests.planting.pieces import Box
from tests.spoiling.truth import Unseen

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

WIDTH_PX = 500
MM_PER_PX = 25.4 / 96  # CSS Values and Units 3, absolute lengths
JOIN_MM = 0.012  # a third of the smallest gap that is planted
_CHORD_MM = 0.003  # so finely are curves followed
_GRID_MM = 0.001


def unpacked(data: bytes) -> bytes:
    """The bytes of the drawing, taken out of gzip where they are in it."""
    return gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data


def lines_of(data: bytes) -> list[Floats]:
    """All lines in mm on the page, one array (k, 2) a sub-path; nothing is left out for its paint.

    The same element used twice is two lines.
    """
    svg = svgelements.SVG.parse(io.BytesIO(unpacked(data)), ppi=96)
    lines = []
    for shape in svg.elements():
        if isinstance(shape, svgelements.Shape):
            lines += [line * MM_PER_PX for line in _flattened(abs(svgelements.Path(shape)))]
    return lines


def _flattened(path: Iterable[object]) -> list[Floats]:
    """The sub-paths of a path of the reader as polylines; those without length are left out."""
    runs: list[list[Floats]] = []
    ended = True
    for segment in path:
        if isinstance(segment, svgelements.Move):
            ended = True
        elif segment.start is not None and segment.end is not None:  # type: ignore[attr-defined]
            if ended:
                runs.append([])
            runs[-1].append(_sampled(segment))
            ended = isinstance(segment, svgelements.Close)  # SVG 2, 9.3.4: what follows z is new
    lines = [np.vstack(run) for run in runs]
    return [line for line in lines if np.ptp(line, axis=0).max() > 1e-9]


def _sampled(segment: object) -> Floats:
    """A segment of the reader, sampled by it, in its px."""
    if isinstance(segment, svgelements.Line | svgelements.Close):
        return np.array([segment.start, segment.end], dtype=np.float64)
    chord = _CHORD_MM / MM_PER_PX
    if isinstance(segment, svgelements.Arc):
        radius = max(segment.rx, segment.ry, chord)
        count = abs(segment.sweep) / (2 * np.arccos(1 - chord / radius))
    else:  # the bound of Wang (1984) for a curve of degree d: d (d - 1) / 8 times the bend
        points = np.array(list(segment), dtype=np.float64)  # type: ignore[call-overload]
        degree = len(points) - 1
        bend = np.linalg.norm(np.diff(points, 2, axis=0), axis=1).max()
        count = np.sqrt(degree * (degree - 1) / 8 * bend / chord)
    places = np.linspace(0, 1, 2 + int(np.ceil(count)))
    return np.array(segment.npoint(places), dtype=np.float64)  # type: ignore[attr-defined]


def inside(lines: Sequence[Floats], box: Box) -> list[Floats]:
    """The lines that lie wholly in a box, with a millimetre to spare."""
    low, high = np.array(box[:2]) - 1, np.array(box[2:]) + 1
    return [line for line in lines if (line >= low).all() and (line <= high).all()]


def without(lines: Sequence[Floats], boxes: Sequence[Box]) -> tuple[list[Floats], int]:
    """The lines whose box is none of these, and how many of the boxes are no line's."""
    found = np.array([[*line.min(axis=0), *line.max(axis=0)] for line in lines]).reshape(-1, 4)
    left = list(range(len(lines)))
    missing = 0
    for box in boxes:
        same = [i for i in left if np.abs(found[i] - box).max() < 0.01]
        if same:
            left.remove(same[0])
        missing += not same
    return [lines[i] for i in left], missing


def length(lines: Sequence[Floats]) -> float:
    """The sum of the lengths in mm."""
    return sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in lines)


def faces(lines: Sequence[Floats], least_mm2: float = 0.5) -> int:
    """How many regions the lines enclose; slivers between lines 0.02 mm apart are left out.

    Ends within JOIN_MM of each other, or of the middle of a line, count as meeting. On a grid GEOS
    finds all nodes; without one it misses some between lines 0.01 mm apart, and the face with them.
    """
    ends: list[shapely.Point] = []
    for place in shapely.points(np.array([line[i] for line in lines for i in (0, -1)])):
        if not ends or shapely.distance(ends, place).min() > JOIN_MM:
            ends.append(place)
    drawn = np.array([shapely.LineString(line) for line in lines], dtype=object)
    snapped = shapely.snap(drawn, shapely.MultiPoint(ends), JOIN_MM)
    noded = shapely.union_all(snapped, grid_size=_GRID_MM)
    found = shapely.polygonize(np.array([noded], dtype=object))
    return sum(face.area > least_mm2 and face.area > 0.05 * face.length for face in found.geoms)


def strays(lines: Sequence[Floats], others: Sequence[Floats], within_mm: float) -> Floats:
    """Corners and middles of `lines` that are farther than this from all of the others."""
    if not lines:
        return np.empty((0, 2))
    middles = [(line[1:] + line[:-1]) / 2 for line in lines]
    places = np.vstack([*lines, *middles])
    if not others:
        return places
    target = shapely.MultiLineString([line.tolist() for line in others])
    shapely.prepare(target)
    return np.asarray(places[~shapely.dwithin(target, shapely.points(places), within_mm)])


def png(data: bytes, unseen: Sequence[Unseen] = (), width: int = WIDTH_PX) -> bytes:
    """The drawing on white as resvg shows it, as a PNG file: equal pixels make equal files."""
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=_plain(unpacked(data), unseen),
            width=width,
            dpi=96,
            background="white",
            languages=["en"],
            skip_system_fonts=True,
        )
    )


def picture(data: bytes, unseen: Sequence[Unseen] = (), width: int = WIDTH_PX) -> Pixels:
    """The drawing on white as resvg shows it, (rows, columns, 3)."""
    with Image.open(io.BytesIO(png(data, unseen, width))) as image:
        return np.asarray(image.convert("RGB"))


def apart(data: bytes, other: bytes, unseen: Sequence[Unseen] = ()) -> bytes:
    """The drawing in which each path that the other has not is a path for each of its sub-paths.

    Of dashes that touch, resvg paints a sixteenth of a pixel by what else is in their path, however
    far away: to see whether a path was parted well, both drawings are taken apart by hand first.
    """
    root, there = (etree.fromstring(_plain(unpacked(each), unseen)) for each in (data, other))
    known = {path.get("d") for path in there.iter("{*}path")}
    for path in [each for each in root.iter("{*}path") if each.get("d") not in known]:
        for d in _subpaths(path.get("d", "")):
            part = etree.fromstring(etree.tostring(path, with_tail=False))
            part.set("d", d)
            path.addprevious(part)
        parent = path.getparent()
        assert parent is not None
        parent.remove(path)
    return etree.tostring(root)


def _subpaths(d: str) -> list[str]:
    """The sub-paths of path data as data of their own; the reader says where each starts."""
    texts = re.findall("[Mm][^Mm]*", d)
    moves = [each for each in svgelements.Path(d) if isinstance(each, svgelements.Move)]
    number = r"\s*,?\s*[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
    parts = []
    for text, move in zip(texts, moves, strict=True):
        rest = re.sub(rf"^[Mm]{number}{number}\s*,?\s*", "", text)
        line = "" if not rest or rest[0].isalpha() else {"m": "l", "M": "L"}[text[0]]
        parts.append(f"M{move.end.x!r} {move.end.y!r}{line}{rest}")
    return parts


def _plain(data: bytes, unseen: Sequence[Unseen]) -> str:
    """The drawing as text without its encoding, and with the `unseen` rules in its elements."""
    root = etree.fromstring(data, etree.XMLParser(huge_tree=True))
    found = [(rule, root.xpath(rule.xpath)) for rule in unseen]
    for rule, elements in found:
        assert isinstance(elements, list)
        for element in elements:
            assert isinstance(element, etree._Element)
            own = element.get("style", "")
            element.set("style", f"{rule.style};{own}")
    return etree.tostring(root, encoding="unicode")


def differing(before: Pixels, after: Pixels, by: int = 0) -> npt.NDArray[np.bool_]:
    """True for each pixel that differs; with `by`, whose surroundings differ by more than that.

    The latter compares the mean shades, of 255, over three by three pixels: a thin line that is
    painted a third of a pixel aside is the same line, one that comes or goes is not.
    """
    apart = (before != after).any(axis=2)
    if not by or not apart.any():
        return np.asarray(apart)
    one, other = (
        np.asarray(Image.fromarray(pixels).filter(ImageFilter.BoxBlur(1)), dtype=np.int16)
        for pixels in (before, after)
    )
    return np.asarray((np.abs(one - other) > by).any(axis=2))


def outside(
    changed: npt.NDArray[np.bool_], page_mm: float, places: shapely.Geometry, spare_mm: float
) -> int:
    """How many changed pixels lie farther than `spare_mm` from the places, in mm on the page."""
    rows, columns = np.nonzero(changed)
    if not len(rows):
        return 0
    scale = page_mm / changed.shape[1]
    middles = shapely.points((columns + 0.5) * scale, (rows + 0.5) * scale)
    shapely.prepare(places)
    return int((~shapely.dwithin(places, middles, spare_mm + scale)).sum())


def changed_segments(before: Sequence[Floats], after: Sequence[Floats]) -> npt.NDArray[np.object_]:
    """The straight bits of line that one of two drawings has more often than the other."""
    old, new = _segments(before), _segments(after)
    return np.concatenate([_more(old, new), _more(new, old)])


def _segments(lines: Sequence[Floats]) -> Floats:
    """All straight bits of lines: x, y, x, y in mm."""
    rows = [np.hstack([line[:-1], line[1:]]) for line in lines]
    return np.vstack(rows) if rows else np.empty((0, 4))


def _more(segments: Floats, others: Floats) -> npt.NDArray[np.object_]:
    """Those of which there are not as many among the others, whichever way they run."""
    differ = _count(segments, segments) != _count(segments, others)
    drawn: npt.NDArray[np.object_] = shapely.linestrings(segments[differ].reshape(-1, 2, 2))
    return drawn


def _count(segments: Floats, others: Floats) -> npt.NDArray[np.int64]:
    """How many of the others are the same as each of the segments, within 0.002 mm."""
    keys, other_keys = (
        np.hstack([(s[:, :2] + s[:, 2:]) / 2, np.abs(s[:, 2:] - s[:, :2])])
        for s in (segments, others)
    )
    tree = shapely.STRtree(shapely.points(other_keys[:, :2]))
    one, other = tree.query(shapely.points(keys[:, :2]), "dwithin", 0.002)
    same = (np.abs(keys[one, 2:] - other_keys[other, 2:]) < 0.004).all(axis=1)
    return np.bincount(one[same], minlength=len(segments))
