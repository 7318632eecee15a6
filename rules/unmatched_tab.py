"""A glue tab has no edge of its length to be glued to.

What it finds
    A glue tab whose fold is as long as no free edge, fold or slit of the drawings in its folder,
    within half a millimetre. A tab is a flap of 3 to 20 mm with slanted ends, folded off an outer
    edge along all of it. It is looked for only where every drawing of the folder is read.

Why it matters at the machine
    Nothing goes wrong at the machine. It shows with the glue already on: one panel stands out at a
    corner, the other one gapes, and the sheet has to be cut again.

How to put it right
    Find the edge that the tab belongs to, and give both the same length in the drawing.

When to leave it
    When the tab is glued to the face of a panel, where no edge has to meet it, or to a part that is
    not drawn in this folder.

In a drawing
    Wrong: a roof's tab of 62 mm, and no wall whose upper edge is 62 mm long; one has 60 mm.
    Right: both are 60 mm long, or two walls of 31 mm each stand side by side.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.mates import Mates, Wanted, mates_of
from matready.lint.finding import Measured, Severity
from matready.lint.rule import Limit, Rule
from matready.lint.scale import doubt_of
from matready.lint.sets import Place, SetFinding, name_of, place_of

_FAR = 1e6  # mm: farther than any edge, but not infinite: there is an edge


@dataclass(frozen=True, slots=True)
class Limits:
    """What still fits, and how near a miss must be where a tab may have been meant otherwise."""

    same_mm: Annotated[
        float,
        Limit(
            "mm",
            "how far the lengths of a tab and its edge may differ",
            "twice the thickness of card stock: common practice, no source",
        ),
    ] = 0.5
    near_share: Annotated[
        float,
        Limit(
            "share",
            "where fewer than half of a piece's tabs fit, one counts if an edge is this near; "
            "else it is a stand, or glued to a face",
            "just above the usual slip of 96 for 90 units an inch, a sixteenth: no source",
        ),
    ] = 0.065


@dataclass(frozen=True, slots=True)
class _File:
    """What a file brings: its tabs with their places; `doubt`: its lengths can't be trusted."""

    mates: Mates
    places: tuple[Place | None, ...]
    doubt: bool


def collect(cutout: Cutout, limits: Limits) -> _File | None:
    """Tabs, and lengths that tabs can be glued to."""
    if not cutout.pieces:
        return None
    mates = mates_of(cutout, limits.same_mm)
    # Where a tab fits in its own file nothing will be said of it: its place need not be known.
    places = tuple(
        place_of(cutout, tab.nodes, tab.box)
        if mates.nearest(tab.lengths, tab.panel)[0] > limits.same_mm
        else None
        for tab in mates.wanted
    )
    return _File(mates, places, doubt_of(cutout) is not None)


def check_set(files: Sequence[tuple[str, _File]], limits: Limits) -> Iterator[SetFinding]:
    """One finding for all tabs of one length in one piece."""
    if any(file.doubt for _, file in files):
        return
    for number, (path, file) in enumerate(files):
        tabs = file.mates.wanted
        nearest = [_nearest(tab, number, files) for tab in tabs]
        fits = [off <= limits.same_mm for off, _, _ in nearest]
        of_piece = Counter(tab.piece for tab in tabs)
        fitting = Counter(tab.piece for tab, fit in zip(tabs, fits, strict=True) if fit)
        alike: dict[tuple[str, float], list[int]] = {}
        for n, tab in enumerate(tabs):
            # It may be a stand, be glued to a face, or its panel be bent round to its own edge.
            weak = tab.lone or tab.own or 2 * fitting[tab.piece] < of_piece[tab.piece]
            most = limits.near_share * tab.lengths[0] if weak else _FAR
            if not fits[n] and not tab.rolled and nearest[n][0] <= most:
                alike.setdefault((tab.piece, round(tab.lengths[0], 1)), []).append(n)
        for first, *more in alike.values():
            if (place := file.places[first]) is not None:
                count = 1 + len(more)
                yield _finding(path, tabs[first], place, count, nearest[first], limits)


def _nearest(
    tab: Wanted, number: int, files: Sequence[tuple[str, _File]]
) -> tuple[float, float, str]:
    """How far the nearest length is off, that length, and the file that it is in."""
    return min(
        (*file.mates.nearest(tab.lengths, tab.panel if n == number else None), path)
        for n, (path, file) in enumerate(files)
    )


def _finding(
    path: str, tab: Wanted, place: Place, count: int,
    nearest: tuple[float, float, str], limits: Limits,
) -> SetFinding:  # fmt: skip
    off, other, where = nearest
    here = "" if where == path else f" in {name_of(where)}"
    tabs = "a glue tab" if count == 1 else f"{count} glue tabs"
    are = "is" if count == 1 else "are each"
    return SetFinding(
        message=f"{tabs} of {tab.piece} {are} {tab.lengths[0]:.1f} mm long, and no free edge in "
        f"the set is (within {limits.same_mm:g} mm): the nearest{here} has {other:.1f} mm, so the "
        "parts will not meet",
        files=(path,) if where == path else (path, where),
        place=place,
        piece=tab.piece,
        measured=Measured(off, "mm", limits.same_mm),
    )


RULE = Rule(
    "unmatched-tab",
    Severity.CAUTION,
    Limits,
    None,
    yields_to=("uneven-scale",),
    collect=collect,
    check_set=check_set,
    whole_set=True,
)
