"""double-cut: the same line cut twice, in many disguises."""

from __future__ import annotations

import cmath
from collections.abc import Callable
from dataclasses import replace
from random import Random

from tests.planting.draft import Draft, NoPlaceError, Recipe
from tests.planting.groups import GROUPING, SHAPES
from tests.planting.marks import Mark, Sub, as_circle, as_rectangle, redirected, separate
from tests.planting.pieces import Piece, rectangle, ring_of, trace
from tests.planting.sheets import turned
from tests.planting.strokes import (
    Chain,
    Line,
    as_cubics,
    backwards,
    chain_length,
    circle,
    length,
    more_points,
    moved,
    part,
    polyline,
    shift,
    started_at,
    straight,
    turn,
    zoom,
)

Ring = tuple[int, Chain]


def some_ring(draft: Draft, fits: Callable[[Chain], bool] = lambda ring: True) -> Ring:
    """A random outline or hole that is drawn as it is, and its piece."""
    able = [
        (i, ring)
        for i, piece in enumerate(draft.sheet.pieces)
        if piece.drawn is None
        for ring in (piece.outer, *piece.holes[:3])
        if fits(ring)
    ]
    if not able:
        raise NoPlaceError
    index, ring = draft.rng.choice(able)
    draft.touched.add(index)
    return index, ring


def put(draft: Draft, index: int, chains: list[tuple[Chain, bool]], forms: tuple[str, ...]) -> None:
    """Add cut marks somewhere: at once behind, at the end, or (as a copy left behind) outside."""
    rng = draft.rng
    outside = draft.shape in GROUPING and rng.random() < 0.3
    for chain, closed in chains:
        mark = Mark("cut", index, [Sub(chain, closed)], rng.choice(forms))
        mark.home = "outside" if outside else ""
        draft.marks.insert(rng.randint(0, len(draft.marks)), mark)


def due(draft: Draft, chain: Chain, index: int) -> None:
    """A doubled run along a chain of a piece."""
    draft.expect("double-cut", trace(chain), _wider(draft.sheet.pieces[index].box))


def _wider(box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    return box[0] - 2, box[1] - 2, box[2] + 2, box[3] + 2


def copy(change: Callable[[Chain, Random], Chain], closed: bool = True) -> Callable[[Draft], None]:
    """A planter: a whole ring once more, changed in how it is written but not where it lies."""

    def plant(draft: Draft) -> None:
        index, ring = some_ring(draft)
        forms = ("path", "relative", "poly", "shape")
        put(draft, index, [(change(ring, draft.rng), closed)], forms)
        due(draft, ring, index)

    return plant


def reversed_ring(ring: Chain, rng: Random) -> Chain:
    """The other way round."""
    return backwards(ring)


def shifted_start(ring: Chain, rng: Random) -> Chain:
    """From another point: another corner, or the middle of a side."""
    if rng.random() < 0.5 and len(ring) > 1:
        return started_at(ring, rng.randrange(1, len(ring)))
    first, rest = ring[0].split(rng.uniform(0.2, 0.8))
    return (rest, *ring[1:], first)


def nudged(ring: Chain, rng: Random) -> Chain:
    """A copy less than 0.03 mm aside (two lines nearer than 0.05 mm are one to the blade)."""
    return moved(ring, shift(cmath.rect(rng.uniform(0.004, 0.028), rng.uniform(0, 6.3))))


def in_lines(draft: Draft) -> None:
    """A whole ring once more as separate lines, cut at other points."""
    index, ring = some_ring(draft)
    chain = more_points(ring, draft.rng)
    for mark in separate([Sub(chain, True)], index, draft.rng):
        draft.marks.append(mark)
    due(draft, ring, index)


def in_same_path(draft: Draft) -> None:
    """A sub-path twice in one path element."""
    index, ring = some_ring(draft)
    able = [m for m in draft.marks if m.role == "cut" and m.piece == index and m.closed]
    if not able:
        raise NoPlaceError
    draft.rng.choice(able).subs.append(Sub(redirected(ring, draft.rng), True))
    if draft.rng.random() < 0.3:
        able[0].form = "relative"
    due(draft, ring, index)


def other_shape(kind: str) -> Callable[[Draft], None]:
    """A planter: a rect against a path, a circle element against arcs or cubics."""

    def plant(draft: Draft) -> None:
        rng = draft.rng
        if kind == "rect":
            index, ring = some_ring(draft, lambda r: as_rectangle(r) is not None)
            put(draft, index, [(ring, True)], ("shape",))
        else:
            index, ring = some_ring(draft, lambda r: as_circle(r) is not None)
            centre, radius = as_circle(ring) or (0j, 0.0)
            other = circle(centre, radius, rng.choice([2, 3, 4]), rng.uniform(0, 6))
            if kind == "cubics":
                put(draft, index, [(as_cubics(circle(centre, radius, 4)), True)], ("path",))
            else:
                put(draft, index, [(other, True)], ("shape", "path"))
        due(draft, ring, index)

    return plant


def other_transform(draft: Draft) -> None:
    """A copy whose own transform attribute brings it to the same place."""
    index, ring = some_ring(draft)
    rng = draft.rng
    own = turn(rng.uniform(0, 360), 30 + 40j) @ zoom(rng.uniform(0.3, 4))
    own = own @ shift(complex(rng.uniform(-50, 50), rng.uniform(-50, 50)))
    draft.marks.append(Mark("cut", index, [Sub(ring, True)], "path", own=own))
    due(draft, ring, index)


def some_sides(count: int) -> Callable[[Draft], None]:
    """A planter: an open line along one side, or along a few sides round corners."""

    def plant(draft: Draft) -> None:
        index, ring = some_ring(draft, lambda r: chain_length(r) > 25)
        ring = redirected(ring, draft.rng)
        if count == 1:
            side = max(ring, key=length)
            chain: Chain = (side,)
        else:
            total = chain_length(ring)
            begin = draft.rng.uniform(0, total / 3)
            chain = part(ring, begin, begin + draft.rng.uniform(8, total * 0.6))
        put(draft, index, [(chain, False)], ("path", "line", "poly"))
        due(draft, chain, index)

    return plant


def slit_twice(draft: Draft) -> None:
    """A slit drawn twice, the second time the other way."""
    w, h = draft.rng.uniform(24, 40), draft.rng.uniform(20, 30)
    slit = polyline([complex(w * 0.3, h / 2), complex(w * 0.7, h * 0.6)])
    (index,) = draft.add((Piece("card", rectangle(0, 0, w, h), slits=(slit,)),))
    slit = draft.sheet.pieces[index].slits[0]
    put(draft, index, [(backwards(slit), False)], ("path", "line"))
    due(draft, slit, index)


def common_edge(equal: bool) -> Callable[[Draft], None]:
    """A planter: two panels side by side, each with its own line along the common edge."""

    def plant(draft: Draft) -> None:
        rng = draft.rng
        w, h, v = rng.uniform(14, 30), rng.uniform(14, 30), rng.uniform(12, 28)
        low, high = (0.0, h) if equal else (h * rng.uniform(-0.4, 0.3), h * rng.uniform(0.6, 1.4))
        p, q = complex(w, low), complex(w, high)
        second = ring_of(p, p + complex(v, rng.uniform(-3, 3)), q + complex(v, 0), q)
        shared = polyline([complex(w, max(low, 0)), complex(w, min(high, h))])
        pair = (Piece("panel", rectangle(0, 0, w, h), scores=(shared,)), Piece("panel", second))
        placed = draft.sheet.place(turned(pair, rng), 5)
        run = draft.sheet.pieces[placed[0]].scores[0]  # moved along as a fold; it is none
        first = draft.sheet.pieces[placed[0]]
        draft.sheet.pieces[placed[0]] = replace(first, scores=())
        for index in placed:
            draft.draw(index, replace(draft.manner, outline=rng.choice(["whole", "lines", "runs"])))
        due(draft, run, placed[0])

    return plant


def three_times(draft: Draft) -> None:
    """A ring twice more."""
    index, ring = some_ring(draft)
    copies = [(redirected(ring, draft.rng), True) for _ in range(2)]
    put(draft, index, copies, ("path", "relative", "poly", "shape"))
    due(draft, ring, index)


def flattened(draft: Draft) -> None:
    """A curved ring once more as many short straight lines, within 0.02 mm of it."""
    index, ring = some_ring(draft, lambda r: not straight(r))
    points = [ring[0].start]
    for segment in ring:
        dense = [segment] if isinstance(segment, Line) else segment.flat()
        steps = 1 if isinstance(segment, Line) else max(4, len(dense) // 2)
        points += [segment.at(i / steps) for i in range(1, steps + 1)]
    put(draft, index, [(polyline(points[:-1], closed=True), True)], ("poly", "path", "relative"))
    due(draft, ring, index)


def whole_group(draft: Draft) -> None:
    """A piece with its holes, slits and folds pasted once more in place, as a group."""
    index, _ring = some_ring(draft)
    for mark in [m for m in draft.marks if m.piece == index and m.role != "draw"]:
        subs = [Sub(sub.chain, sub.closed) for sub in mark.subs]
        draft.marks.append(Mark(mark.role, index, subs, mark.form, home="copy"))
    _all_due(draft, index)


def used_twice(draft: Draft) -> None:
    """A symbol shown twice in the same place."""
    index, _ring = some_ring(draft)
    draft.sheet.again.add(index)
    _all_due(draft, index)


def _all_due(draft: Draft, index: int) -> None:
    """Each ring of a piece is doubled; one finding may speak of all of them."""
    piece = draft.sheet.pieces[index]
    due(draft, piece.outer, index)
    for chain in (*piece.holes, *piece.slits):
        draft.expect("double-cut", trace(chain), _wider(piece.box), required=False)
    draft.uncounted_folds.add(index)


def overlapping_slits(draft: Draft) -> None:
    """Two slits in one line that overlap by 2 to 8 mm."""
    rng = draft.rng
    w, h, over = rng.uniform(36, 50), rng.uniform(16, 30), rng.uniform(2, 8)
    y, x = complex(0, h / 2), rng.uniform(14, 20)
    slits = (polyline([5 + y, x + over + y]), polyline([x + y, w - 5 + y]))
    card = Piece("card", rectangle(0, 0, w, h), slits=slits)
    card = replace(card, scores=(polyline([x + y, x + over + y]),))  # moved along; it is no fold
    (index,) = draft.sheet.place(turned((card,), rng), 5)
    placed = draft.sheet.pieces[index]
    draft.sheet.pieces[index] = replace(placed, scores=())
    draft.draw(index, draft.manner)
    due(draft, placed.scores[0], index)


_COPIES = {
    "copy": lambda ring, rng: ring,
    "reversed": reversed_ring,
    "other start": shifted_start,
    "more points": more_points,
    "a hair aside": nudged,
}

RECIPES = (
    *(Recipe("double-cut", name, True, copy(change)) for name, change in _COPIES.items()),
    Recipe("double-cut", "no z", True, copy(shifted_start, closed=False), filled=False),
    Recipe("double-cut", "in lines", True, in_lines, filled=False),
    Recipe("double-cut", "in one path", True, in_same_path),
    *(
        Recipe("double-cut", f"shape: {kind}", True, other_shape(kind))
        for kind in ("rect", "circle", "cubics")
    ),
    Recipe(
        "double-cut",
        "other transform",
        True,
        other_transform,
        shapes=tuple(s for s in SHAPES if s != "moved"),
    ),
    Recipe("double-cut", "one side", True, some_sides(1), filled=False),
    Recipe("double-cut", "some sides", True, some_sides(3), filled=False),
    Recipe("double-cut", "slit twice", True, slit_twice, filled=False),
    Recipe("double-cut", "common edge, equal", True, common_edge(True), filled=False),
    Recipe("double-cut", "common edge, unequal", True, common_edge(False), filled=False),
    Recipe("double-cut", "three times", True, three_times),
    Recipe("double-cut", "flattened", True, flattened),
    Recipe(
        "double-cut",
        "whole group",
        True,
        whole_group,
        shapes=("grouped", "nested", "placed", "wrapped-grouped", "inner-grouped"),
    ),
    Recipe("double-cut", "used twice", True, used_twice, shapes=("symbol",)),
    Recipe("double-cut", "overlapping slits", True, overlapping_slits, filled=False),
)
