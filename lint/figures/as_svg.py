"""A picture as a stand-alone SVG: the same text for the same data, readable on any ground."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from xml.sax.saxutils import escape, quoteattr

from matready.lint.figures.marks import SIZE_PX, Mark, Placed, placed
from matready.lint.figures.palette import PALETTE
from matready.lint.figures.paths import number_text as n
from matready.lint.figures.records import Block, Figure
from matready.lint.finding import Box

CUT_PX, SCORE_PX, DRAW_PX = 1.6, 1.6, 1.2
SCORE_DASH_PX = (7.0, 4.0)
DRAW_DASH_PX = (1.2, 3.0)
_DOT_PX = 3.0
_LOWER = 0.35  # letters stand so far below the middle to be in it, as a share of their height


def figure_as_svg(
    figure: Figure,
    window_mm: Box | None = None,
    marks: Sequence[Mark] = (),
    *,
    title: str = "",
    width_px: float = 640.0,
    halo: str = "",
    bar_mm: float | None = None,
) -> str:
    """The picture, or a window of it (x0, y0, x1, y1 in mm), `width_px` wide, with its marks.

    `halo` is path data in mm to be lit up, `bar_mm` the length of a scale bar.
    """
    x0, y0, x1, y1 = window = window_mm or figure.window_mm
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{n(x0)} {n(y0)} {n(x1 - x0)} '
        f'{n(y1 - y0)}" width="{n(width_px)}" height="{n((y1 - y0) * width_px / (x1 - x0))}" '
        'role="img">'
    )
    parts = [
        head,
        f"<title>{escape(title)}</title>" if title else "",
        f"<style>{in_the_dark()}</style>",
        *scene_of(figure, window, marks, width_px, halo, bar_mm),
        "</svg>",
    ]
    return "\n".join(filter(None, parts)) + "\n"


def scene_of(
    figure: Figure,
    window: Box,
    marks: Sequence[Mark],
    width_px: float,
    halo: str = "",
    bar_mm: float | None = None,
) -> list[str]:
    """The elements of a picture from the ground up, in mm of the page; not its frame and style."""
    mm = (window[2] - window[0]) / width_px  # of the page for each px
    parts = [
        _rect("room", window),
        _rect("sheet", (0.0, 0.0, *figure.page_mm), mm) if figure.page_mm else "",
        *(_area(card.path) for card in figure.cards),
        _line("halo", halo, 9 * mm, cap="round"),
        *(_block(block) for block in figure.blocks),
        _line("draw", figure.draw, DRAW_PX * mm, [each * mm for each in DRAW_DASH_PX]),
        _line("cut", figure.cut, CUT_PX * mm),
        *(
            _line("score", path, SCORE_PX * mm, [each * mm for each in SCORE_DASH_PX])
            for path in (figure.score, figure.seeming)
        ),
        _line("score", figure.dashes, SCORE_PX * mm),
        *(_mark(each, window, mm) for each in placed(marks, window, width_px)),
        _bar(bar_mm, window, mm) if bar_mm else "",
    ]
    return [part for part in parts if part]


def in_the_dark() -> str:
    """Style rules that give every class of a picture its colour for a dark room."""
    dark = {name: ink.dark for name, ink in PALETTE.items()}
    rules = [
        f".{name}{{{'stroke' if name in _STROKED else 'fill'}:{colour}}}"
        for name, colour in dark.items()
    ]
    rules += [f".sheet{{stroke:{dark['edge']}}}", f".lead{{stroke:{dark['cut']}}}"]
    return f"@media (prefers-color-scheme:dark){{{''.join(rules)}.bar{{fill:{dark['cut']}}}}}"


_STROKED = frozenset(("edge", "cut", "score", "draw", "halo"))


def _rect(name: str, box: Box, edge_mm: float = 0.0) -> str:
    x0, y0, x1, y1 = box
    edge = f' stroke="{PALETTE["edge"].light}" stroke-width="{n(edge_mm)}"' if edge_mm else ""
    return (
        f'<rect class="{name}" x="{n(x0)}" y="{n(y0)}" width="{n(x1 - x0)}" '
        f'height="{n(y1 - y0)}" fill="{PALETTE[name].light}"{edge}/>'
    )


def _area(path: str) -> str:
    return f'<path class="card" d="{path}" fill="{PALETTE["card"].light}" fill-rule="evenodd"/>'


def _block(block: Block) -> str:
    """A text or picture: grey, with its words, which are the file's own and so escaped."""
    x0, y0, x1, y1 = block.box_mm
    return (
        f'{_rect("block", block.box_mm)}<text class="bar" x="{n((x0 + x1) / 2)}" '
        f'y="{n((y0 + y1) / 2 + _LOWER * block.letter_mm)}" text-anchor="middle" '
        f'font-size="{n(block.letter_mm)}" textLength="{n(block.length_mm)}" '
        f'lengthAdjust="spacingAndGlyphs" font-family="system-ui, sans-serif" '
        f'fill="{PALETTE["cut"].light}">{escape(block.words)}</text>'
    )


def _line(
    name: str, path: str, width: float, dashes: Sequence[float] = (), cap: str = "butt"
) -> str:
    if not path:
        return ""
    pattern = f' stroke-dasharray="{" ".join(map(n, dashes))}"' if dashes else ""
    return (
        f'<path class="{name}" d="{path}" fill="none" stroke="{PALETTE[name].light}" '
        f'stroke-width="{n(width)}" stroke-linecap="{cap}" stroke-linejoin="round"{pattern}/>'
    )


def mark_shape(severity: str) -> str:
    """Path data in px of a mark around 0, 0: round for a fault, square, or on its tip for tidy."""
    r = SIZE_PX / 2
    if severity == "fault":
        return f"M{n(-r)} 0a{n(r)} {n(r)} 0 1 1 {n(2 * r)} 0a{n(r)} {n(r)} 0 1 1 {n(-2 * r)} 0z"
    if severity == "caution":
        side = r * 0.9
        return f"M{n(-side)} {n(-side)}h{n(2 * side)}v{n(2 * side)}h{n(-2 * side)}z"
    tip = r * 1.2
    return f"M0 {n(-tip)}L{n(tip)} 0L0 {n(tip)}L{n(-tip)} 0z"


def lead_of(each: Placed, half_px: float = SIZE_PX / 2) -> tuple[float, float]:
    """Where the line from a place to its mark ends, in px beside the place: at the mark's edge.

    `half_px` is how far that is from the mark's middle.
    """
    far = hypot(each.dx_px, each.dy_px)
    share = max(far - half_px, 0.0) / far if far else 0.0
    return round(each.dx_px * share, 1), round(each.dy_px * share, 1)


def _mark(each: Placed, window: Box, mm: float) -> str:
    x0, y0, x1, y1 = window
    x, y = x0 + each.x_share * (x1 - x0), y0 + each.y_share * (y1 - y0)
    lead_x, lead_y = lead_of(each)
    severity = each.mark.severity
    ink, over = PALETTE[severity].light, PALETTE["on-mark"].light
    return (
        f'<g transform="translate({n(x)} {n(y)}) scale({mm:.6g})">'
        f'<path class="lead" d="M0 0L{n(lead_x)} {n(lead_y)}" stroke="{PALETTE["cut"].light}" '
        f'stroke-width="1.2"/><circle class="{severity}" r="{n(_DOT_PX)}" fill="{ink}"/>'
        f'<g transform="translate({n(each.dx_px)} {n(each.dy_px)})">'
        f'<path class="{severity}" d="{mark_shape(severity)}" fill="{ink}"/>'
        f'<text class="on-mark" y="4.5" text-anchor="middle" font-size="13" font-weight="700" '
        f'font-family="system-ui, sans-serif" fill="{over}">{escape(each.mark.text)}</text>'
        "</g></g>"
    )


def _bar(bar_mm: float, window: Box, mm: float) -> str:
    """A scale bar in the lower left corner, with its length in mm beside it."""
    x, y = window[0] + 12 * mm, window[3] - 12 * mm
    ink, label = PALETTE["cut"].light, quoteattr(f"scale bar: {n(bar_mm)} mm")
    return (
        f'<g transform="translate({n(x)} {n(y)}) scale({mm:.6g})" aria-label={label}>'
        f'<path class="lead" d="M0 -4V4M0 0H{n(bar_mm / mm)}M{n(bar_mm / mm)} -4V4" '
        f'stroke="{ink}" stroke-width="1.6" fill="none"/>'
        f'<text class="bar" x="{n(bar_mm / mm + 6)}" y="4.5" font-size="13" '
        f'font-family="system-ui, sans-serif" fill="{ink}">{bar_mm:g} mm</text></g>'
    )
