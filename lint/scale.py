"""Is the file drawn at its true size? Facts about page and content that several rules need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import BY_PAGE
from matready.lint.drawing import Page
from matready.lint.finding import Box
from matready.lint.reading.units import MM_PER_PX
from matready.lint.sizes import KNOWN_PAGES, MM_PER_INCH, size_as_text

# A part of a cut-out project smaller than this altogether is hardly ever meant; an icon drawn at
# 24 px is. Common practice, no source.
TINY_MM = 10.0
# The longest sticky mat in wide use, 12 by 24 inches: taken where no mat is named. Common practice,
# no source.
LARGEST_MAT_MM = (304.8, 609.6)
_NEAR = 0.005  # a page counts as known when both sides agree within this share
# Programs round a page to whole numbers: by up to half a 72nd of an inch, 0.18 mm.
_ROUNDED_MM = 0.2


@dataclass(frozen=True, slots=True)
class Guess:
    """What page a file's numbers fit, read in which unit; `ratio` is true size over size read.

    `size_mm` are the known page's sides, in the file's order, where the file's numbers are these
    but for rounding; None where the page itself was of a somewhat other size.
    """

    page: str  # as a sentence shows it: "12 × 12 in", "A4"
    read_as: str  # "units of 72 to the inch", "millimetres" and so on
    unit_lost: bool  # the numbers are mm or inches and their unit was dropped
    ratio: float
    size_mm: tuple[float, float] | None


# Size of one number of the file under each reading, in mm.
_READINGS = (
    ("units of 72 to the inch", MM_PER_INCH / 72, False),
    ("units of 90 to the inch", MM_PER_INCH / 90, False),
    ("millimetres", 1.0, True),
    ("inches", MM_PER_INCH, True),
)


def _misfit(width_mm: float, height_mm: float) -> tuple[float, str, tuple[float, float]]:
    """How far the nearest known page is off, as a share, either way up; its name and sides."""
    best = (np.inf, "", (0.0, 0.0))
    for page in KNOWN_PAGES:
        for w, h in ((page.width_mm, page.height_mm), (page.height_mm, page.width_mm)):
            off = max(abs(width_mm / w - 1), abs(height_mm / h - 1))
            best = min(best, (off, page.name, (w, h)))
    return best


def guess_unit(page: Page) -> Guess | None:
    """The reading under which a page without a physical unit is a known one, if 96 is not it."""
    width, height = page.width_px, page.height_px
    if page.unit == "physical" or not width or not height:
        return None
    if _misfit(width * MM_PER_PX, height * MM_PER_PX)[0] <= _NEAR:
        return None
    fits = [
        (*_misfit(width * size, height * size), name, size, lost)
        for name, size, lost in _READINGS
    ]  # fmt: skip
    off, known, sides, name, size, lost = min(fits, key=lambda fit: fit[0])
    if off > _NEAR:
        return None
    rounded = max(abs(width * size - sides[0]), abs(height * size - sides[1])) <= _ROUNDED_MM
    return Guess(size_as_text(known), name, lost, size / MM_PER_PX, sides if rounded else None)


def content_box(cutout: Cutout) -> Box | None:
    """The box around every line in mm, backgrounds left out; None where nothing is drawn."""
    geometry = cutout.drawing.geometry
    drawn = np.repeat(cutout.roles.clue != BY_PAGE, np.diff(geometry.offsets))
    points = geometry.points[drawn]
    if not len(points):
        return None
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return x0, y0, x1, y1


def is_tiny(box: Box, tiny_mm: float = TINY_MM) -> bool:
    """True when even the longer side of the box is shorter than `tiny_mm`."""
    return max(box[2] - box[0], box[3] - box[1]) < tiny_mm


def is_huge(box: Box) -> bool:
    """True when the longer side of the box is longer than that of any mat."""
    return max(box[2] - box[0], box[3] - box[1]) > max(LARGEST_MAT_MM)


def tiny_doubt(cutout: Cutout) -> str | None:
    """Why even small distances mean nothing, in one sentence; None where they do."""
    box = content_box(cutout)
    if box is not None and is_tiny(box):
        return "the whole drawing is tiny (see wrong-scale): measure again at its true size"
    return None


def doubt_of(cutout: Cutout) -> str | None:
    """Why lengths in mm can't be trusted, in one sentence; None where they can."""
    page = cutout.drawing.page
    if page.unit == "none":
        return "the file has no physical size, so its pieces can't be measured"
    if guess_unit(page) is not None:
        return "the size of the page is in doubt (see wrong-scale), so pieces can't be measured"
    return tiny_doubt(cutout)
