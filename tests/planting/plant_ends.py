"""open-outline and hairline-gap: outlines whose ends do not meet, and cuts that may end freely."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from shapely.geometry import LineString, Point, Polygon

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.marks import Mark, Sub, cut_marks, redirected, runs, separate
from tests.planting.pieces import Box, Piece, corners, trace, width_of
from tests.planting.sheets import CLEAN_PIECE_MM, neighbours, turned
from tests.planting.strokes import (
    Arc,
    Chain,
    Cubic,
    Line,
    as_cubics,
    backwards,
    length,
    part,
)

SHOWN_MM = (0.03, 0.495)  # planted hairline gaps: by default they are over 0.025 and up to 0.5
HIDDEN_MM = (0.004, 0.02)  # gaps that are none
OPEN_MM = (0.6, 8.0)  # planted openings


@dataclass
class Target:
    """A ring of a piece that is to be opened."""

    index: int
    piece: Piece
    ring: Chain
    hole: int  # number of the hole, -1 for the outline


def target(draft: Draft, hole: bool = False) -> Target:
    """A random ring that can be opened without raising other questions."""
    rng = draft.rng
    able = []
    for i, piece in enumerate(draft.sheet.pieces):
        plain = not piece.slits and piece.drawn is None and "sharing" not in piece.tags
        by_colour = draft.look.clue == "colour" and piece.scores and not hole
        if plain and not by_colour and (piece.holes or not hole) and not around(draft, piece):
            able.append(i)
    if not able:
        raise NoPlaceError
    index = rng.choice(able)
    piece = draft.sheet.pieces[index]
    number = rng.randrange(len(piece.holes)) if hole else -1
    ring = piece.holes[number] if hole else piece.outer
    if draft.manner.cubic:
        ring = as_cubics(ring)
    return Target(index, piece, redirected(ring, rng), number)


def around(draft: Draft, piece: Piece) -> bool:
    """Whether other pieces lie in a hole of this one."""
    outline = Polygon(corners(piece.outer))
    return any(
        other is not piece and outline.contains(other.polygon) for other in draft.sheet.pieces
    )


def redraw(draft: Draft, aim: Target, chain: Chain, how: str) -> None:
    """Draw the piece again with this open chain in the place of the ring."""
    rng = draft.rng
    draft.forget_cuts(aim.index)
    if aim.hole >= 0:
        holes = aim.piece.holes[: aim.hole] + aim.piece.holes[aim.hole + 1 :]
        rest = replace(aim.piece, holes=holes)
    else:
        rest = replace(aim.piece, drawn=tuple((ring, True) for ring in aim.piece.holes))
        draft.broken.add(aim.index)
    marks = cut_marks(rest, aim.index, draft.manner, rng)
    sub = Sub(backwards(chain) if rng.random() < 0.5 else chain, False)
    if how == "lines":
        marks += separate([sub], aim.index, rng)
    elif how == "runs":
        marks += runs(sub, aim.index, rng)
    elif how == "compound" and any(m.closed for m in marks):
        first = next(m for m in marks if m.closed)
        first.subs.insert(rng.choice([0, len(first.subs)]), sub)
    else:
        marks.append(Mark("cut", aim.index, [sub], rng.choice(["path", "relative", "poly"])))
    draft.marks += marks
    for hole in aim.piece.holes if aim.hole < 0 else ():  # alone they are (small) pieces
        small = Polygon(corners(hole))
        if width_of(small) < CLEAN_PIECE_MM:
            draft.expect("undersize-piece", small, required=False)


def grown(box: Box, by: float) -> Box:
    """A box with a margin."""
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def check_opening(draft: Draft, aim: Target, chain: Chain, least: float, most: float) -> None:
    """Make sure that the opening is one: no crossing, ends this far apart, in the own box."""
    line = trace(chain)
    p, q = chain[0].start, chain[-1].end
    if not line.is_simple or not least <= abs(p - q) <= most:
        raise NoPlaceError
    box = grown(aim.piece.box, 1.5)
    if not (box[0] <= q.real <= box[2] and box[1] <= q.imag <= box[3]):
        raise NoPlaceError
    if len(chain) < 2:
        raise NoPlaceError
    for end, rest in ((p, chain[1:]), (q, chain[:-1])):
        if Point(end.real, end.imag).distance(trace(rest)) < min(least, 0.6):
            raise NoPlaceError
    for other in aim.piece.holes if aim.hole < 0 else [aim.piece.outer]:
        if trace(other).distance(line) < 0.6:
            raise NoPlaceError


def chord(chain: Chain) -> LineString:
    """The straight line across the opening of a chain."""
    p, q = chain[-1].end, chain[0].start
    return LineString([(p.real, p.imag), (q.real, q.imag)])


def open_outline(how: str) -> Callable[[Draft], None]:
    """A planter: a whole side is missing."""

    def plant(draft: Draft) -> None:
        aim = target(draft)
        lost = next((i for i, s in enumerate(aim.ring) if length(s) > 3), None)
        if lost is None or len(aim.ring) < 3:
            raise NoPlaceError
        chain = aim.ring[lost + 1 :] + aim.ring[:lost]
        check_opening(draft, aim, chain, 1.0, 1e9)
        redraw(draft, aim, chain, how)
        draft.expect("open-outline", chord(chain), grown(aim.piece.box, 2))
        draft.counted = False

    return plant


def ends_apart(side: bool) -> Callable[[Draft], None]:
    """A planter: the last end is 0.6 to 8 mm off, cut short or swung aside."""

    def plant(draft: Draft) -> None:
        aim = target(draft)
        off = draft.rng.uniform(*OPEN_MM)
        chain = swung(aim.ring, off, draft.rng) if side else shortened(aim.ring, off)
        check_opening(draft, aim, chain, OPEN_MM[0], OPEN_MM[1] + 2)
        redraw(draft, aim, chain, draft.rng.choice(["path", "path", "compound", "lines"]))
        draft.expect("open-outline", chord(chain), grown(aim.piece.box, 2))
        draft.counted = False

    return plant


def shortened(ring: Chain, by: float) -> Chain:
    """The ring, its last segment cut short at its end."""
    total = length(ring[-1])
    if total < by + 1.5:
        raise NoPlaceError
    return (*ring[:-1], *part(ring[-1:], 0, total - by))


def swung(ring: Chain, by: float, rng: Random) -> Chain:
    """The ring, the end of its last side moved across that side by about this much."""
    last = ring[-1]
    if not isinstance(last, Line) or length(last) < 2 * by:
        raise NoPlaceError
    aside = (last.end - last.start) / abs(last.end - last.start) * rng.choice([1j, -1j])
    return (*ring[:-1], Line(last.start, last.end + aside * by))


def hairline(kind: str, span: tuple[float, float]) -> Callable[[Draft], None]:
    """A planter: a gap within `span`, at a corner, in a side, on a curve, in a hole."""

    def plant(draft: Draft) -> None:
        rng = draft.rng
        aim = target(draft, hole=kind == "hole")
        gap = rng.uniform(*span)
        if kind == "side" or (kind == "hole" and rng.random() < 0.5):
            chain = broken_within(aim.ring, gap, rng, Line)
        elif kind == "curve":
            chain = broken_within(aim.ring, gap, rng, Arc, Cubic)
        elif kind == "sideways":
            chain = swung(aim.ring, gap, rng)
        else:
            chain = shortened(aim.ring, gap)
        check_opening(draft, aim, chain, span[0] * 0.9, span[1])
        how = "lines" if kind == "lines" else rng.choice(["path", "compound", "runs", "lines"])
        redraw(draft, aim, chain, how)
        if span == SHOWN_MM:
            draft.expect("hairline-gap", chord(chain), grown(aim.piece.box, 2))
            draft.counted = False
        else:
            draft.broken.discard(aim.index)
            draft.expected = [e for e in draft.expected if e.rule != "undersize-piece"]

    return plant


def broken_within(ring: Chain, gap: float, rng: Random, *kinds: type) -> Chain:
    """The ring from one end of a gap inside one of its segments round to the other end."""
    able = [i for i, s in enumerate(ring) if isinstance(s, kinds) and length(s) > 5]
    if not able:
        raise NoPlaceError
    index = rng.choice(able)
    total = length(ring[index])
    at = rng.uniform(2, total - 2 - gap)
    whole = (ring[index],)
    head, tail = part(whole, 0, at), part(whole, at + gap, total)
    return (*tail, *ring[index + 1 :], *ring[:index], *head)


def two_sides_missing(draft: Draft) -> None:
    """Two sides of an outline are missing; what stays are two lines of several sides each."""
    aim = target(draft)
    ring, count = aim.ring, len(aim.ring)
    able = [(0, j) for j in range(3, count - 2) if length(ring[0]) > 3 and length(ring[j]) > 3]
    if not able:
        raise NoPlaceError
    _, j = draft.rng.choice(able)
    one, two = ring[1:j], ring[j + 1 :]
    ends = [one[0].start, one[-1].end, two[0].start, two[-1].end]
    if min(abs(p - q) for i, p in enumerate(ends) for q in ends[:i]) < 2:
        raise NoPlaceError
    redraw(draft, aim, one, "path")
    draft.marks.append(Mark("cut", aim.index, [Sub(two, False)], "path"))
    for side in (ring[0], ring[j]):
        draft.expect("open-outline", trace((side,)), grown(aim.piece.box, 2))
    draft.counted = False


def neighbour_short(rule: str, span: tuple[float, float]) -> Callable[[Draft], None]:
    """A planter: of two panels with one common edge the second stops short of the first."""

    def plant(draft: Draft) -> None:
        rng = draft.rng
        index, second = draft.sheet.place(turned(neighbours(rng), rng), 6)
        draft.draw(index, replace(draft.manner, outline=rng.choice(["whole", "lines", "runs"])))
        piece = draft.sheet.pieces[second]
        ((chain, _),) = piece.drawn or ()
        gap = rng.uniform(*span)
        if length(chain[-1]) < gap + 3:
            raise NoPlaceError
        short = shortened(chain, gap)
        draft.marks.append(Mark("cut", second, [Sub(short, False)], "path"))
        ends = chain[-1].end, short[-1].end
        place = LineString([(z.real, z.imag) for z in ends])
        draft.expect(rule, place, grown(piece.box, 2))
        draft.counted = False

    return plant


_WAYS = {
    "a side missing": "runs",
    "no z": "path",
    "one line lost": "lines",
    "in a compound path": "compound",
}

RECIPES = (
    *(
        Recipe("open-outline", name, True, open_outline(how), filled=False)
        for name, how in _WAYS.items()
    ),
    Recipe("open-outline", "end cut short", True, ends_apart(False), filled=False),
    Recipe("open-outline", "end swung aside", True, ends_apart(True), filled=False),
    Recipe("open-outline", "two sides missing", True, two_sides_missing, filled=False),
    Recipe(
        "open-outline",
        "short of a neighbour",
        True,
        neighbour_short("open-outline", OPEN_MM),
        filled=False,
    ),
    Recipe(
        "hairline-gap",
        "short of a neighbour",
        True,
        neighbour_short("hairline-gap", SHOWN_MM),
        filled=False,
    ),
    *(
        Recipe("hairline-gap", kind, True, hairline(kind, SHOWN_MM), filled=False)
        for kind in ("corner", "side", "curve", "lines", "hole", "sideways")
    ),
    *(
        Recipe("hairline-gap", f"near: {kind}", False, hairline(kind, HIDDEN_MM), filled=False)
        for kind in ("corner", "side", "curve", "lines", "hole", "sideways")
    ),
)
