"""One view of one drawing, as a panel with its caption: the elements of an SVG, in px."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot
from xml.sax.saxutils import escape

import shapely
from lxml import etree
from msgspec.structs import replace

from matready.lint.cutting import Cutout
from matready.lint.figures import Figure, Mark, figure_of
from matready.lint.figures.as_svg import CUT_PX, SCORE_DASH_PX, SCORE_PX, scene_of
from matready.lint.figures.figure import lines_of
from matready.lint.figures.palette import PALETTE
from matready.lint.figures.paths import number_text as n
from matready.lint.figures.records import Moving, Spot
from matready.lint.figures.windows import window_at
from matready.lint.finding import Box
from matready.lint.reading.units import format_number
from matready.lint.sizes import MM_PER_INCH

from tests.picturing.views import Close, InFile, Moved, Screen, View, Whole

HIGH_PX, WIDE_PX = 330.0, 440.0
PX_PER_MM = 96 / MM_PER_INCH  # CSS Values 3: an inch is 96 px
_ROW_PX, _LETTERS, _LETTER_PX = 17.0, 60, 6.9
_WHOLE_BAR_MM = 20.0
_ON_MM = 0.01
_ABOVE_MM = 8.0  # so much more is seen where a piece moves up
_MOVED_SHARE = 0.16  # of a piece's longer side


@dataclass(frozen=True, slots=True)
class Panel:
    """A view as elements in px from its own corner, with its size and what stands below it."""

    caption: str
    width_px: float
    height_px: float
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Looked:
    """A drawing that was cut: its bytes, what is marked in it, and where and how that is seen."""

    data: bytes
    cutout: Cutout
    figure: Figure
    marks: tuple[Mark, ...] = ()
    spots: tuple[Spot, ...] = ()
    lines: tuple[int, ...] = ()
    spans: tuple[Box, ...] = ()

    @property
    def halo(self) -> str:
        """The lines that findings name."""
        return "".join(spot.halo for spot in self.spots)


def panel_of(looked: Looked, view: View, px_per_mm: float | None = None) -> Panel:
    """The panel of a view, in the room that there is unless its scale is given."""
    if isinstance(view, InFile):
        return _in_file(looked)
    if isinstance(view, Close):
        return _close(looked, view)
    window = view.window if isinstance(view, Whole) else None
    window = window or looked.figure.window_mm
    if isinstance(view, Moved):
        window = window[0], window[1] - _ABOVE_MM, *window[2:]
    return _whole(looked, view, window, px_per_mm)


def _whole(looked: Looked, view: View, window: Box, px_per_mm: float | None) -> Panel:
    across, down = window[2] - window[0], window[3] - window[1]
    scale = px_per_mm or min(HIGH_PX / down, WIDE_PX / across)
    width, height = round(across * scale), round(down * scale)
    if isinstance(view, Screen):
        caption, elements = "on screen", _screen(looked, view, window)
    elif isinstance(view, Moved):
        caption, elements = view.caption, _moved(looked, window, width)
    else:
        assert isinstance(view, Whole)
        caption, elements = view.caption, _sheet(looked, view, window, width)
    return Panel(caption, width, height, _framed(elements, window, width, height))


def _sheet(looked: Looked, view: Whole, window: Box, width: float) -> Iterable[str]:
    figure = looked.figure
    if view.by_blade:
        figure = replace(figure, cut=figure.cut + figure.seeming, seeming="")
    marks = () if view.ordered else looked.marks  # one kind of numbers is enough
    yield from scene_of(figure, window, marks, width, looked.halo, _WHOLE_BAR_MM)
    mm = (window[2] - window[0]) / width
    yield _edge(figure, mm)
    for span in looked.spans:
        yield from _span(looked.cutout, span, mm)
    if view.ordered:
        yield from _numbers(looked.cutout, mm)


def _close(looked: Looked, view: Close) -> Panel:
    frame = WIDE_PX / PX_PER_MM, HIGH_PX / PX_PER_MM
    seen = window_at((view.x_mm, view.y_mm), view.times, frame)
    x0, y0 = seen.x_mm, seen.y_mm
    window = x0, y0, x0 + seen.width_mm, y0 + seen.height_mm
    inside = [
        mark
        for mark in looked.marks
        if not view.lit_as and x0 <= mark.at_mm[0] <= window[2] and y0 <= mark.at_mm[1] <= window[3]
    ]
    # A little more than is seen, so that no line ends in sight where it was clipped.
    around = x0 - 1, y0 - 1, window[2] + 1, window[3] + 1
    figure = replace(figure_of(looked.cutout, around), page_mm=looked.figure.page_mm)
    halo = "" if view.lit_as else looked.halo
    mm = seen.width_mm / WIDE_PX
    elements = [
        *scene_of(figure, window, inside, WIDE_PX, halo, seen.bar_mm),
        _edge(figure, mm),
    ]
    if view.lit_as:
        elements += _both(looked.halo, view.lit_as == "two cuts", mm)
    if view.points:
        elements += _points(looked.cutout, window, mm)
    caption = f"{view.times:g} times life size"
    return Panel(caption, WIDE_PX, HIGH_PX, _framed(elements, window, WIDE_PX, HIGH_PX))


def _span(cutout: Cutout, span: Box, mm: float) -> Iterable[str]:
    """A length of the drawing, lit, with its number below it."""
    x0, y0, x1, y1 = span
    every = lines_of(cutout, list(range(len(cutout.roles.role))))
    drawn = shapely.MultiLineString([line.tolist() for line in every])
    ends = shapely.points([(x0, y0), (x1, y1)])
    assert (shapely.distance(ends, drawn) < _ON_MM).all(), "a length begins and ends on a line"
    x, y = (x0 + x1) / 2, max(y0, y1) + 17 * mm
    yield _path("halo", f"M{n(x0)} {n(y0)}L{n(x1)} {n(y1)}", 5 * mm)
    yield (
        f'<text class="bar" x="{n(x)}" y="{n(y)}" text-anchor="middle" '
        f'font-size="{n(13 * mm)}" font-family="system-ui, sans-serif" '
        f'fill="{PALETTE["cut"].light}">{format_number(hypot(x1 - x0, y1 - y0), 2)} mm</text>'
    )


def _edge(figure: Figure, mm: float) -> str:
    """The sheet's edge once more, above pieces that lie across it."""
    if figure.page_mm is None:
        return ""
    width, height = map(n, figure.page_mm)
    return (
        f'<rect class="edge" width="{width}" height="{height}" fill="none" '
        f'stroke="{PALETTE["edge"].light}" stroke-width="{n(mm)}"/>'
    )


def _framed(elements: Iterable[str], window: Box, width: float, height: float) -> tuple[str, ...]:
    """Elements in mm of the page in a frame in px, which cuts off what lies outside."""
    x0, y0, x1, y1 = window
    head = (
        f'<svg width="{n(width)}" height="{n(height)}" '
        f'viewBox="{n(x0)} {n(y0)} {n(x1 - x0)} {n(y1 - y0)}" preserveAspectRatio="none">'
    )
    return (head, *elements, "</svg>")


def _screen(looked: Looked, view: Screen, window: Box) -> Iterable[str]:
    """The file's own markup on white, as a program for drawing shows it."""
    x0, y0, x1, y1 = window
    yield (
        f'<rect x="{n(x0)}" y="{n(y0)}" width="{n(x1 - x0)}" height="{n(y1 - y0)}" fill="#fff"/>'
    )
    root = etree.fromstring(looked.data)
    assert not root.xpath("//*[local-name()='style' or local-name()='script']")
    for element in root.iter("*"):
        element.attrib.pop("class", "")  # the picture's own style must not meet it
        if view.line_mm and "stroke-width" in element.attrib:
            element.set("stroke-width", n(view.line_mm))
    width, height = looked.figure.page_mm or (x1 - x0, y1 - y0)
    root.set("width", n(width))
    root.set("height", n(height))
    yield etree.tostring(root, encoding="unicode")


def _moved(looked: Looked, window: Box, width: float) -> Iterable[str]:
    """The sheet, faint, and the first piece moved off it; folds that stay behind are lit."""
    mm = (window[2] - window[0]) / width
    moving = next((spot.moving for spot in looked.spots if spot.moving), None)
    left = moving.left if moving else ""
    moving = moving or _all_of_it(looked)
    ground, *lines = scene_of(looked.figure, window, (), width)
    yield ground
    yield f'<g opacity=".4">{"".join(lines)}</g>'
    yield _path("halo", left, 9 * mm)
    yield _path("score", left, SCORE_PX * mm, SCORE_DASH_PX, mm)
    yield f'<g transform="translate({" ".join(map(n, moving.by_mm))})">'
    fill = PALETTE["card"].light
    yield f'<path class="card" d="{moving.card}" fill="{fill}" fill-rule="evenodd"/>'
    yield _path("cut", moving.cut, CUT_PX * mm)
    yield _path("score", moving.score, SCORE_PX * mm, SCORE_DASH_PX, mm)
    yield "</g>"


def _all_of_it(looked: Looked) -> Moving:
    """The first piece on the move with every line in it."""
    x0, y0, x1, y1 = looked.cutout.pieces[0].box
    part = figure_of(looked.cutout, (x0 - 0.1, y0 - 0.1, x1 + 0.1, y1 + 0.1))
    far = round(_MOVED_SHARE * max(x1 - x0, y1 - y0), 3)
    card = "".join(card.path for card in part.cards)
    return Moving((far, -far), card, part.cut, part.score + part.seeming + part.dashes, "")


def _path(name: str, path: str, width: float, dashes: Sequence[float] = (), mm: float = 1.0) -> str:
    pattern = f' stroke-dasharray="{" ".join(n(dash * mm) for dash in dashes)}"' if dashes else ""
    ink = PALETTE[name].light
    return (
        f'<path class="{name}" d="{path}" fill="none" stroke="{ink}" '
        f'stroke-width="{n(width)}"{pattern}/>'
        if path
        else ""
    )


def _both(path: str, cuts: bool, mm: float) -> list[str]:
    """Two lines in one place: both edges of a band for two cuts, or a fat fold on a thin cut."""
    if cuts:
        return [_path("cut", path, 9 * mm), _path("halo", path, 5.5 * mm)]
    lit = [_path("halo", path, 11 * mm), _path("cut", path, CUT_PX * mm)]
    return [*lit, _path("score", path, 4.5 * mm, SCORE_DASH_PX, mm)]


def _points(cutout: Cutout, window: Box, mm: float) -> list[str]:
    """The points of lines that are made of straight parts."""
    places = cutout.drawing.geometry.points
    inside = [
        (x, y)
        for x, y in dict.fromkeys(map(tuple, places.round(2).tolist()))
        if window[0] <= x <= window[2] and window[1] <= y <= window[3]
    ]
    ink = PALETTE["fault"].light
    return [
        f'<circle class="fault" cx="{n(x)}" cy="{n(y)}" r="{n(3.2 * mm)}" fill="{ink}"/>'
        for x, y in inside
    ]


def _numbers(cutout: Cutout, mm: float) -> list[str]:
    """The lines' numbers in the order of the file, in the middle of their first stretch."""
    geometry = cutout.drawing.geometry
    ink = PALETTE["cut"].light
    texts = []
    for k, start in enumerate(geometry.offsets[:-1].tolist()):
        (x0, y0), (x1, y1) = geometry.points[start : start + 2].round(2).tolist()
        texts.append(
            f'<text class="bar" x="{n((x0 + x1) / 2)}" y="{n((y0 + y1) / 2 + 22 * mm)}" '
            f'text-anchor="middle" font-size="{n(20 * mm)}" font-weight="700" '
            f'font-family="system-ui, sans-serif" fill="{ink}">{k + 1}</text>'
        )
    return texts


def _in_file(looked: Looked) -> Panel:
    """The file's text, wrapped, with the line lit that is spoken of."""
    rows = [
        (number, indent, part)
        for number, line in enumerate(looked.data.decode("utf-8").splitlines(), 1)
        for indent, part in _wrapped(line)
    ]
    height = max(HIGH_PX, len(rows) * _ROW_PX + 6)
    lit = [k for k, (number, _, _) in enumerate(rows) if number in looked.lines]
    elements = [f'<rect class="sheet" width="{n(WIDE_PX)}" height="{n(height)}" fill="#ffffff"/>']
    elements += [
        f'<rect class="lit" y="{n(k * _ROW_PX)}" width="{n(WIDE_PX)}" height="{n(_ROW_PX)}" '
        f'fill="{PALETTE["halo"].light}"/>'
        for k in lit
    ]
    ink = PALETTE["cut"].light
    elements += [
        f'<text class="bar" x="{n(8 + indent * _LETTER_PX)}" y="{n(k * _ROW_PX + 12.5)}" '
        f'font-size="11.5" font-family="ui-monospace, monospace" fill="{ink}">{escape(part)}</text>'
        for k, (_, indent, part) in enumerate(rows)
    ]
    return Panel("in the file", WIDE_PX, height, tuple(elements))


def _wrapped(line: str) -> list[tuple[int, str]]:
    """A line in parts that fit, each with its indent; those that go on stand further in."""
    indent = len(line) - len(line.lstrip())
    parts = textwrap.wrap(line.strip(), _LETTERS - indent - 4, break_on_hyphens=False)
    return [(indent + 4 * (k > 0), part) for k, part in enumerate(parts)]
