"""Pages: physical sizes, units, viewBoxes; proper ones and ones whose scale got lost."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from tests.planting.strokes import Matrix

MM = {  # CSS Values and Units 3, "Absolute lengths"; an SVG number without a unit counts as px
    "mm": 1.0,
    "cm": 10.0,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
    "px": 25.4 / 96,
    "Q": 0.25,
    "": 25.4 / 96,
}

# ISO 216 sizes, the CSS Paged Media 3 names, and square craft papers (common practice), in mm.
KNOWN = {
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "A5": (148.0, 210.0),
    "A6": (105.0, 148.0),
    "B4": (250.0, 353.0),
    "B5": (176.0, 250.0),
    "JIS-B4": (257.0, 364.0),
    "JIS-B5": (182.0, 257.0),
    "Letter": (215.9, 279.4),
    "Legal": (215.9, 355.6),
    "Ledger": (279.4, 431.8),
    "12x12in": (304.8, 304.8),
    "12x24in": (304.8, 609.6),
    "8x8in": (203.2, 203.2),
    "6x6in": (152.4, 152.4),
    "8x10in": (203.2, 254.0),
    "5x7in": (127.0, 177.8),
    "4x6in": (101.6, 152.4),
    "11x14in": (279.4, 355.6),
}
# How many times too small a page is shown when its units were lost (96 px to the inch).
LOST = {"72": 96 / 72, "90": 96 / 90, "mm": 96 / 25.4, "cm": 960 / 25.4, "in": 96.0}


def known(wide: float, high: float, within: float = 0.02) -> bool:
    """Whether a size in mm is near a known page, upright or lying."""
    return any(
        abs(wide / w - 1) < within and abs(high / h - 1) < within
        for a, b in KNOWN.values()
        for w, h in ((a, b), (b, a))
    )


def misleading(wide: float, high: float) -> bool:
    """Whether a size, no known page itself, would be one if its units had been lost."""
    if known(wide, high, 0.001):
        return False
    return known(wide, high) or any(known(wide * k, high * k) for k in LOST.values())


def number(value: float, decimals: int) -> str:
    """A plain decimal number, no exponent, no trailing zeros."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True)
class Page:
    """Attributes of the root element, and what they mean.

    `matrix` takes user units to mm on the page; it is worked out from the text that is written.
    """

    attributes: dict[str, str]
    matrix: Matrix
    size: tuple[float, float] | None
    label: str


def page_from(
    wide: str,
    high: str,
    view: tuple[float, float, float, float] | None,
    stretch: bool = False,
    label: str = "",
) -> Page:
    """The page of these attributes (SVG 2, 8.2: the equivalent transform of a viewBox)."""
    sizes = [_mm(wide), _mm(high)]
    attributes = {"width": wide, "height": high}
    if view is None:
        px = MM["px"]
        return Page(attributes, Matrix(a=px, d=px), (sizes[0], sizes[1]), label)
    text = [number(v, 4) for v in view]
    attributes["viewBox"] = " ".join(text)
    x, y, w, h = (float(t) for t in text)
    sx, sy = sizes[0] / w, sizes[1] / h
    if stretch:
        attributes["preserveAspectRatio"] = "none"
        return Page(
            attributes, Matrix(a=sx, d=sy, e=-x * sx, f=-y * sy), (sizes[0], sizes[1]), label
        )
    s = min(sx, sy)
    e = -x * s + (sizes[0] - w * s) / 2
    f = -y * s + (sizes[1] - h * s) / 2
    return Page(attributes, Matrix(a=s, d=s, e=e, f=f), (sizes[0], sizes[1]), label)


def _mm(text: str) -> float:
    digits = text.rstrip("abcdefghijklmnopqrstuvwxyzQ")
    return float(digits) * MM[text[len(digits) :]]


def fitting_size(box: tuple[float, float, float, float], rng: Random) -> tuple[float, float]:
    """A size in mm that holds this content: a known page, or a custom one that misleads no one."""
    wide, high = box[2] + 3, box[3] + 3
    fits = [
        (w, h)
        for a, b in KNOWN.values()
        for w, h in ((a, b), (b, a))
        if w >= wide and h >= high and max(w, h) <= 304.8
    ]
    if fits and rng.random() < 0.6:
        return rng.choice(fits)
    while True:
        size = round(wide + rng.uniform(2, 30), 1), round(high + rng.uniform(2, 30), 1)
        if not misleading(*size):
            return size
        wide += 1.3


def proper_page(size: tuple[float, float], rng: Random, style: str | None = None) -> Page:
    """A page of this physical size in one of many right ways to write it."""
    wide, high = size
    style = style or rng.choice(
        [
            "mm",
            "in",
            "cm",
            "pt72",
            "px96",
            "px-mm",
            "odd",
            "origin",
            "plain96",
            "no-view",
            "Q",
            "mm72",
            "mm90",
            "pc",
        ]
    )
    units = {
        "mm": ("mm", 1.0),
        "in": ("in", 25.4),
        "cm": ("cm", 1.0),
        "pt72": ("pt", MM["pt"]),
        "px96": ("px", MM["px"]),
        "px-mm": ("px", 1.0),
        "odd": ("mm", rng.uniform(0.05, 2.5)),
        "origin": ("mm", 1.0),
        "plain96": ("", MM["px"]),
        "no-view": ("", MM["px"]),
        "Q": ("Q", 1.0),
        "mm72": ("mm", MM["pt"]),
        "mm90": ("in", 25.4 / 90),
        "pc": ("pc", 1.0),
    }
    unit, mm_each = units[style]
    decimals = {"in": 5, "cm": 4}.get(unit, 4)
    text = [number(v / MM[unit], decimals) + unit for v in (wide, high)]
    if style == "no-view":
        return page_from(text[0], text[1], None, label=style)
    origin = (0.0, 0.0)
    if style == "origin":
        origin = round(rng.uniform(-200, 100), 2), round(rng.uniform(-200, 100), 2)
    view = (*origin, wide / mm_each, high / mm_each)
    return page_from(text[0], text[1], view, label=style)
