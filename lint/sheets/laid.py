"""What lies where on a mat: sheets of paper, and the parts that are cut from them."""

from __future__ import annotations

from dataclasses import dataclass

from matready.lint.sheets.parts import Part


@dataclass(frozen=True, slots=True)
class LaidPaper:
    """A sheet of paper on a mat, its top-left corner x_mm, y_mm from the mat's.

    `sheet` tells which of the sheets at hand of that paper it is, from 1.
    """

    paper: str
    stock: str
    sheet: int
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class Placement:
    """A part on a mat: turned about 0, 0 of its source's page, then shifted by x_mm, y_mm.

    A turn leads from x to y, as SVG's rotate() does. `laid` is the index of its paper on the mat.
    """

    part: Part
    turn_deg: float
    x_mm: float
    y_mm: float
    laid: int = 0


@dataclass(frozen=True, eq=False, slots=True)
class Mat:
    """One mat: its size, the paper on it, the parts; `number` counts from 1 in order of loading."""

    number: int
    width_mm: float
    height_mm: float
    papers: tuple[LaidPaper, ...]
    placements: tuple[Placement, ...]

    @property
    def passes(self) -> tuple[tuple[int, ...], ...]:
        """The papers that are cut in one pass, by index: those of one stock. In order of cutting.

        One depth of the blade does for one stock. All sheets of a paper are of its first one's.
        """
        stock_of: dict[str, str] = {}
        for laid in self.papers:
            stock_of.setdefault(laid.paper, laid.stock)
        return tuple(
            tuple(k for k, laid in enumerate(self.papers) if stock_of[laid.paper] == stock)
            for stock in dict.fromkeys(stock_of.values())
        )
