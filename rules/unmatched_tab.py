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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.mates import Mates, Wanted, mates_of
from matready.lint.finding import Measured, Severity
from matready.lint.rule import Limit, Rule
from matready.lint.scale import doubt_of
from matready.lint.sets import Place, SetFinding, name_of, place_of


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
            "a piece's only tab counts where an edge comes this near to it; else it is a stand",
            "common practice, no source",
        ),
    ] = 0.05


@dataclass(frozen=True, slots=True)
class _File:
    """What a file brings: its tabs with their places; `doubt`: its lengths can't be trusted."""

    mates: Mates
    places: tuple[Place, ...]
    doubt: bool


def collect(cutout: Cutout, limits: Limits) -> _File | None:
    """Tabs, and lengths that tabs can be glued to."""
    if not cutout.pieces:
        return None
    mates = mates_of(cutout, limits.same_mm)
    places = tuple(place_of(cutout, tab.nodes, tab.box) for tab in mates.wanted)
    return _File(mates, places, doubt_of(cutout) is not None)


def check_set(files: Sequence[tuple[str, _File]], limits: Limits) -> Iterator[SetFinding]:
    """One finding for all tabs of one length in one piece."""
    if any(file.doubt for _, file in files) or not any(file.mates.wanted for _, file in files):
        return
    for number, (path, file) in enumerate(files):
        alike: dict[tuple[str, float], list[int]] = {}
        nearest: dict[tuple[str, float], tuple[float, str]] = {}
        for n, tab in enumerate(file.mates.wanted):
            missed = _missed(tab, number, files, limits)
            if missed is not None:
                key = (tab.piece, round(tab.lengths[0], 1))
                alike.setdefault(key, []).append(n)
                nearest[key] = missed
        for (piece, _), tabs in alike.items():
            length = file.mates.wanted[tabs[0]].lengths[0]
            yield _finding(path, file.places[tabs[0]], piece, len(tabs), length,
                           nearest[piece, round(length, 1)], limits)  # fmt: skip


def _missed(
    tab: Wanted, number: int, files: Sequence[tuple[str, _File]], limits: Limits
) -> tuple[float, str] | None:
    """The length that comes nearest to a tab, and in which file; None where the tab is in order."""
    best = (inf, 0.0, "")
    for n, (path, file) in enumerate(files):
        off, length = file.mates.nearest(tab.lengths, tab.panel if n == number else None)
        best = min(best, (off, length, path))
    off, length, path = best
    near = off <= limits.near_share * tab.lengths[0]
    weak = tab.lone or tab.own  # it may be a stand, or its panel is bent round to its own edge
    if off <= limits.same_mm or tab.rolled or (weak and not near) or not isfinite(off):
        return None
    return length, path


def _finding(
    path: str, place: Place, piece: str, count: int, length: float,
    nearest: tuple[float, str], limits: Limits,
) -> SetFinding:  # fmt: skip
    other, where = nearest
    here = "" if where == path else f" in {name_of(where)}"
    tabs = f"a glue tab of {piece} is" if count == 1 else f"{count} glue tabs of {piece} are each"
    return SetFinding(
        message=f"{tabs} {length:.1f} mm long, and no free edge in the set is (within "
        f"{limits.same_mm:g} mm): the nearest{here} has {other:.1f} mm, so the parts will not meet",
        files=(path,) if where == path else (path, where),
        place=place,
        piece=piece,
        measured=Measured(abs(length - other), "mm", limits.same_mm),
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
