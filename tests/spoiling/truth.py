"""What was planted into a drawing, and what has to be true of its repaired copy."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.planting.pieces import Box

LOOSE, GAP, DOUBLE = "loose-score", "hairline-gap", "double-cut"
KINDS = (LOOSE, GAP, DOUBLE)


@dataclass(frozen=True)
class Planted:
    """One fault.

    `box` is its place on the page in mm. `removed_mm` is the cut length that has to fall away,
    `gap_mm` how far two ends are apart, `faces` how many more regions the cut lines enclose once it
    is put right. Where `may_stay`, leaving it with a reason is honest too.
    """

    rule: str
    kind: str
    box: Box
    removed_mm: float = 0.0
    gap_mm: float = 0.0
    faces: int = 0
    may_stay: bool = False


@dataclass(frozen=True)
class Unseen:
    """A style rule whose selector the renderer does not know: an XPath for it, and its style."""

    xpath: str
    style: str


@dataclass(frozen=True)
class Spoilt:
    """A spoilt drawing, in mm on the page.

    `strip` is where its own parts lie, `art` the real drawing's own text. `others` are the boxes of
    all lines in the strip that are no cuts, `length_mm` is the length of all lines there, once for
    each time it is drawn. `keep` are ids that have to be found in the copy. `traits` say how it was
    made.
    """

    name: str
    data: bytes = field(repr=False)
    encoding: str
    planted: tuple[Planted, ...]
    page_mm: float
    strip: Box
    length_mm: float
    others: tuple[Box, ...] = field(repr=False)
    art: str = field(repr=False)
    unseen: tuple[Unseen, ...] = ()
    keep: tuple[str, ...] = ()
    traits: dict[str, str] = field(default_factory=dict)

    @property
    def removed_mm(self) -> float:
        """The cut length that has to fall away in all."""
        return sum(fault.removed_mm for fault in self.planted)

    def count(self, rule: str) -> int:
        """How many faults of a rule were planted."""
        return sum(fault.rule == rule for fault in self.planted)

    @property
    def faces(self) -> int:
        """How many more regions the cut lines enclose when all is put right."""
        return sum(fault.faces for fault in self.planted)
