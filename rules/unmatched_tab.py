"""A glue tab has no edge of its length to be glued to.

What it finds
    A glue tab whose fold is as long as no free edge, fold or slit of the drawings in its folder,
    within half a millimetre. A tab is a flap of 3 to 20 mm with slanted ends, folded off an outer
    edge along all of it. It is looked for only where every drawing of the folder is read, at a size
    beyond doubt; the run says where one is not.

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
from typing import Annotated

from matready.lint.cutting import Cutout
from matready.lint.cutting.mates import Mates, Miss, Offers, mates_of, missing
from matready.lint.finding import Measured, Severity, Unchecked
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
    offers = Offers([mates])
    places = tuple(
        place_of(cutout, tab.nodes, tab.box) if offers.nearest(tab, 0)[0] > limits.same_mm else None
        for tab in mates.wanted
    )
    return _File(mates, places, doubt_of(cutout) is not None)


def check_set(
    files: Sequence[tuple[str, _File]], limits: Limits
) -> Iterator[SetFinding | Unchecked]:
    """One finding for all tabs of one length in one piece."""
    mates = [file.mates for _, file in files]
    found = [
        _finding(files, number, miss, place, limits)
        for number, miss in missing(mates, limits.same_mm, limits.near_share)
        if (place := files[number][1].places[miss.tabs[0]]) is not None
    ]
    doubt = next((name_of(path) for path, file in files if file.doubt), None)
    if doubt and (found or any(file.doubt and file.mates.wanted for _, file in files)):
        yield Unchecked(f"the size of {doubt} is in doubt, so no length can be held against it")
        return
    yield from found


def _finding(
    files: Sequence[tuple[str, _File]], number: int, miss: Miss, place: Place, limits: Limits
) -> SetFinding:
    (path, file), (where, _) = files[number], files[miss.nearest_in]
    tab = file.mates.wanted[miss.tabs[0]]
    here = "" if where == path else f" in {name_of(where)}"
    tabs, are = (
        ("a glue tab", "is") if len(miss.tabs) == 1 else (f"{len(miss.tabs)} glue tabs", "are each")
    )
    return SetFinding(
        message=f"{tabs} of {tab.piece} {are} {tab.lengths[0]:.1f} mm long, and no free edge in "
        f"the set is (within {limits.same_mm:g} mm): the nearest{here} has {miss.nearest:.1f} mm, "
        "so the parts will not meet",
        files=(path,) if where == path else (path, where),
        place=place,
        piece=tab.piece,
        measured=Measured(miss.off, "mm", limits.same_mm),
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
