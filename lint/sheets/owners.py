"""Which line of a drawing goes with which piece: by where it lies, whatever group it stands in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import BY_PAGE, CUT, DRAW, NAMES, SCORE
from matready.lint.cutting.unseen import hidden_lines

_LEAST_SHARE = 0.25  # a short line belongs to each piece that holds at least this much of it

Shapes = npt.NDArray[np.object_]  # shapely geometries


@dataclass(frozen=True, slots=True)
class Owners:
    """The lines of each unit (Piece.unit), by their numbers in the drawing.

    `across` are (lines, units): what lies in several units at once. `loose` are folds, by their
    lines, that lie in none, and `bare` other lines that do.
    """

    lines: dict[int, list[int]]
    across: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]
    loose: tuple[tuple[int, ...], ...]
    bare: tuple[int, ...]
    specks: int = 0


def find_owners(cutout: Cutout, least_mm: float) -> Owners:
    """Tell which unit each line belongs to; shorter ones than `least_mm` belong to none."""
    lines: dict[int, list[int]] = defaultdict(list)
    across: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    loose: list[tuple[int, ...]] = []
    bare: list[int] = []
    specks = {n for n in range(len(cutout.roles.role)) if cutout.length(n) < least_mm}
    bounds = {line: units for line, units in _bounds(cutout).items() if line not in specks}
    lots = [(line,) for line in bounds]
    rest = _lots(cutout, specks.union(bounds))
    around = _around(cutout, rest)
    for lot, units in zip([*lots, *rest], [*bounds.values(), *around], strict=True):
        if len(units) == 1:
            lines[min(units)] += lot
        elif units:
            across.append((lot, tuple(sorted(units))))
        elif cutout.roles.role[lot[0]] == SCORE:
            loose.append(lot)
        else:
            bare += lot
    across += _untold(cutout, lines)
    in_order = {unit: sorted(of) for unit, of in lines.items()}
    return Owners(in_order, tuple(across), tuple(loose), tuple(bare), len(specks))


def _untold(
    cutout: Cutout, lines: dict[int, list[int]]
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Edges of a unit that are told of another one alone, as of a piece that touches a window."""
    bare: list[tuple[int, Shapes]] = []
    for piece in cutout.pieces:
        own = path_of(cutout, lines.get(piece.unit, ()))
        shapely.prepare(own)
        corners = shapely.points(shapely.get_coordinates(piece.card))
        far = corners[~shapely.dwithin(own, corners, cutout.distances.hairline_mm)]
        bare += [(piece.unit, far)] if len(far) else []
    if not bare:
        return []
    cuts = np.flatnonzero(cutout.roles.role == CUT).tolist()
    tree = shapely.STRtree([path_of(cutout, [line]) for line in cuts])
    unit_of = {line: unit for unit, of in lines.items() for line in of}
    found: dict[int, set[int]] = defaultdict(set)
    for unit, corners in bare:
        near = tree.query(corners, "dwithin", distance=cutout.distances.same_place_mm)[1]
        for line in (cuts[k] for k in np.unique(near).tolist()):
            found[line] |= {unit, unit_of.get(line, unit)}
    return [((line,), tuple(sorted(units))) for line, units in found.items()]


def _bounds(cutout: Cutout) -> dict[int, set[int]]:
    """The lines around pieces and their holes, with the units that they bound."""
    bounds: dict[int, set[int]] = defaultdict(set)
    for piece in cutout.pieces:
        for line in (*piece.lines, *(line for hole in piece.holes for line in hole.lines)):
            bounds[line].add(piece.unit)
    return bounds


def _lots(cutout: Cutout, done: set[int]) -> list[tuple[int, ...]]:
    """All other lines, those of one fold as one; a page's background is none."""
    lots: list[tuple[int, ...]] = []
    for fold in cutout.folds:
        lot = tuple(line for line in fold.lines if line not in done)
        if lot:
            lots.append(lot)
            done.update(lot)
    others = np.flatnonzero(cutout.roles.clue != BY_PAGE).tolist()
    return [*lots, *((line,) for line in others if line not in done)]


def _around(cutout: Cutout, lots: list[tuple[int, ...]]) -> list[set[int]]:
    """For each lot the units that hold more of it than a hairline, or a good share of it."""
    found: list[set[int]] = [set() for _ in lots]
    if not lots or not cutout.pieces:
        return found
    distances = cutout.distances
    cards = shapely.buffer([p.card for p in cutout.pieces], distances.same_place_mm, quad_segs=2)
    paths = np.array([path_of(cutout, lot) for lot in lots])
    which, piece = shapely.STRtree(cards).query(paths, "intersects")
    held = shapely.length(shapely.intersection(paths[which], cards[piece]))
    least = np.minimum(distances.hairline_mm, _LEAST_SHARE * shapely.length(paths))
    for lot, of, run in zip(which.tolist(), piece.tolist(), held.tolist(), strict=True):
        if run > least[lot]:
            found[lot].add(cutout.pieces[of].unit)
    return found


def path_of(cutout: Cutout, lines: Iterable[int]) -> shapely.MultiLineString:
    """Some lines of the drawing, in mm."""
    geometry = cutout.drawing.geometry
    return shapely.MultiLineString([geometry.line(n) for n in lines])


def left_out(cutout: Cutout, owners: Owners) -> list[str]:
    """What belongs to no piece, and so to no mat, in a clause each."""
    said = []
    role = cutout.roles.role
    for number, name in enumerate(NAMES):
        count = sum(1 for line in owners.bare if role[line] == number)
        if name and count:
            what = f"{count} {'drawn' if number == DRAW else name} line{'s' * (count > 1)}"
            said.append(f"{what} in no piece")
    said += _hidden(cutout)
    if owners.specks:
        said.append(f"{owners.specks} line{'s' * (owners.specks > 1)} of hardly any length")
    behind = int((cutout.roles.clue == BY_PAGE).sum())
    if behind:
        said.append(f"{behind} background{'s' * (behind > 1)} of the page")
    for kind, called in _SIGHTS.items():
        count = sum(1 for sight in cutout.drawing.sights if sight.kind == kind)
        if count:
            said.append(f"{count} {called}{'s' * (count > 1)}")
    return said


def _hidden(cutout: Cutout) -> Iterator[str]:
    """Shapes that are hidden, such as a window that was switched off: the virtual cut has none.

    What is drawn but does not show, as white on white, is on the mat like any other line.
    """
    hidden = [one for one in hidden_lines(cutout) if not one.nodes]
    count = len({element for one in hidden for element in one.elements})
    if not count:
        return
    x, y = hidden[0].at
    spot = shapely.Point(x, y)
    around = (p.name for p in cutout.pieces if shapely.Polygon(p.card.exterior).intersects(spot))
    inside = "".join(f" in {name}" for name in [*around][:1])
    what, them = "1 hidden shape", "it"
    if count > 1:
        what, them = f"{count} hidden shapes, the first", "them"
    cure = f"show {them} to have {them} cut, or delete {them}"
    yield f"{what} at {x:.1f}, {y:.1f} mm{inside}: {cure}"


_SIGHTS = {"text": "text", "image": "picture", "foreignObject": "embedded page", "flowRoot": "text"}
