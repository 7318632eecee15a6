"""The proof of a copy: what would be cut and scored of it lies where it lay in the source."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
import shapely.affinity

from matready.lint.cutting import Cutout, Piece
from matready.lint.cutting.blade import Blade, blade_of
from matready.lint.cutting.near import spread
from matready.lint.cutting.roles import CUT, DRAW, NAMES, SCORE
from matready.lint.drawing import Bools, Floats, Ints, Style
from matready.lint.repair.ink import Ink
from matready.lint.repair.licence import Licence
from matready.lint.repair.scoreproof import FilledGap, ScoreProof

_Key = tuple[int, bool, Style, bytes]  # role, whether closed, look and places of a line

_STEP_MM = 0.1  # changed lines are compared at least this densely
_SLACK_MM = 0.021  # two flattenings of one curve, each within flatten_mm, and rounding
_SAME_MM = 1e-7  # lines this near, point by point, are the same line
_AREA_MM2 = 0.01


class Unproven(Exception):
    """The copy is not as good as its source; the text is one plain clause."""


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a round of fixes may change.

    `moved_mm`: no place may move more. `ratio`: the copy is so many times as large. `added`: lines
    (two points each, in mm of the source) that may be cut on top. `pieces`: more may fall out.
    `licences`: scores that may change otherwise than by moving.
    """

    moved_mm: float
    ratio: float = 1.0
    added: tuple[Floats, ...] = ()
    licences: tuple[Licence, ...] = ()

    @property
    def pieces(self) -> bool:
        """Whether there may be more pieces than before."""
        return bool(self.added)


def prove(before: Cutout, after: Cutout, allowed: Allowed) -> float:
    """The largest distance in mm between a place cut or scored before and after, either way.

    Raises Unproven where that is more than is allowed, where a line, a fold or a piece is lost or
    won, or where lines are painted in another order that shows.
    """
    old_keys, new_keys = _keys(before, allowed.ratio), _keys(after, 1.0)
    pairs, certain = _same_lines(old_keys, new_keys)
    _compare_order(before, {line: pairs[line] for line in certain})
    _compare_roles(old_keys, new_keys, pairs)
    scores = ScoreProof(
        before, after, allowed.licences, allowed.ratio, allowed.moved_mm + _SLACK_MM
    )
    moved = 0.0
    for role in (CUT, SCORE, DRAW):
        old = _lines(before, role)
        new = _lines(after, role)
        changed = np.setdiff1d(old, list(pairs)), np.setdiff1d(new, list(pairs.values()))
        if role == SCORE and allowed.licences:
            moved = max(moved, _farthest_score(scores, before, after, changed, allowed.ratio))
            continue
        added = allowed.added if role == CUT else ()
        moved = max(moved, _farthest(before, after, changed, (old, new), allowed.ratio, added))
    if moved > allowed.moved_mm + _SLACK_MM:
        raise Unproven(
            f"a line would move by {moved:.2f} mm (at most {allowed.moved_mm:g} mm may be)"
        )
    _compare_pieces(before, after, allowed, moved, scores)
    for what, old_ends, new_ends in (
        ("gap", before.gaps, after.gaps),
        ("opening", before.openings, after.openings),
    ):
        if len(new_ends) > len(old_ends) and allowed.ratio == 1.0:
            raise Unproven(f"an outline would have a new {what}")
    return moved


def _compare_roles(
    old_keys: Sequence[_Key], new_keys: Sequence[_Key], pairs: dict[int, int]
) -> None:
    """No line may change from cut to score, or the like."""
    kept, new = set(pairs), set(pairs.values())
    old = {key[1:]: key[0] for line, key in enumerate(old_keys) if line not in kept}
    for line, key in enumerate(new_keys):
        if line not in new and key[1:] in old:
            was = NAMES[old[key[1:]]]
            raise Unproven(f"a {was} line would be taken for a {NAMES[key[0]]} line")


def _lines(cutout: Cutout, role: int) -> Ints:
    return np.flatnonzero(cutout.roles.role == role)


def _same_lines(
    old_keys: Sequence[_Key], new_keys: Sequence[_Key]
) -> tuple[dict[int, int], list[int]]:
    """Lines of the source and of the copy that are the same in role, look and place.

    Of lines that were there several times and are no longer it is not certain which one stayed:
    the second list leaves them out.
    """
    waiting: dict[_Key, list[int]] = defaultdict(list)
    for line in range(len(new_keys) - 1, -1, -1):
        waiting[new_keys[line]].append(line)
    pairs, counts = {}, Counter(old_keys)
    certain = {key for key, lines in waiting.items() if len(lines) == counts[key]}
    for line, key in enumerate(old_keys):
        if waiting.get(key):
            pairs[line] = waiting[key].pop()
    return pairs, [line for line in pairs if old_keys[line] in certain]


def _keys(cutout: Cutout, ratio: float) -> list[_Key]:
    """Role, whether closed, look and places of each line."""
    drawing, geometry = cutout.drawing, cutout.drawing.geometry
    points = np.round(geometry.points * ratio / _SAME_MM).astype(np.int64)
    parts = np.split(points, geometry.offsets[1:-1])
    roles, closed = cutout.roles.role.tolist(), geometry.closed.tolist()
    styles = [drawing.nodes[node].style for node in drawing.line_node.tolist()]
    return [
        (role, shut, style, part.tobytes())
        for role, shut, style, part in zip(roles, closed, styles, parts, strict=False)
    ]


def _compare_order(before: Cutout, pairs: dict[int, int]) -> None:
    """Lines that share a spot must be painted in the order they were."""
    old = np.fromiter(pairs, np.int64)
    new = np.fromiter(pairs.values(), np.int64)
    order = np.argsort(old)
    old, new = old[order], new[order]
    if (np.diff(new) > 0).all():
        return
    # Only lines on the wrong side of some other one need be looked at.
    behind = new < np.maximum.accumulate(new)
    ahead = new > np.minimum.accumulate(new[::-1])[::-1]
    place = dict(zip(old.tolist(), new.tolist(), strict=True))
    if Ink(before.drawing).order_changed(old[behind].tolist(), old[ahead].tolist(), place):
        raise Unproven("parts that lie on each other would be painted in another order")


def _farthest(
    before: Cutout,
    after: Cutout,
    changed: tuple[Ints, Ints],
    all_lines: tuple[Ints, Ints],
    ratio: float,
    added: Sequence[Floats],
) -> float:
    """The largest distance from a changed line to the nearest line of its role, both ways."""
    farthest = 0.0
    sides = (
        (before, changed[0], ratio, after, all_lines[1], 1.0, ()),
        (after, changed[1], 1.0, before, all_lines[0], ratio, added),
    )
    for one, lines, scale, other, targets, other_scale, extra in sides:
        if not len(lines):
            continue
        drawn = _segments(other, targets) * other_scale
        if extra:
            drawn = np.vstack([drawn, np.array(extra) * ratio])
        if not len(drawn):
            raise Unproven("a line would be lost or added")
        blade = blade_of(one.drawing, lines)
        stayed = _among(drawn, np.stack([blade.a, blade.b], axis=1) * scale)
        points = _dense(blade, ~stayed) * scale
        if not len(points):
            continue
        tree = shapely.STRtree(shapely.linestrings(drawn))
        _, distance = tree.query_nearest(
            shapely.points(points), return_distance=True, all_matches=False
        )
        farthest = max(farthest, float(distance.max()))
    return farthest


def _among(known: Floats, segments: Floats) -> Bools:
    """Which of some straight steps (n, 2, 2) are among others, drawn either way round."""

    def keys(steps: Floats) -> list[bytes]:
        rounded = np.round(steps / _SAME_MM).astype(np.int64)
        x, y = (rounded[:, 0] - rounded[:, 1]).T
        back = (x > 0) | ((x == 0) & (y > 0))
        rounded[back] = rounded[back, ::-1]
        whole: list[bytes] = rounded.reshape(-1, 4).view("V32").ravel().tolist()
        return whole

    there = set(keys(known))
    return np.array([key in there for key in keys(segments)], bool)


def _farthest_score(
    proof: ScoreProof, before: Cutout, after: Cutout, changed: tuple[Ints, Ints], ratio: float
) -> float:
    """The same for scores, but for what licences let go and let come."""
    farthest = 0.0
    old, new = _lines(before, SCORE), _lines(after, SCORE)
    held = [proof.held(line) for line in changed[0].tolist()]
    drawn_old = np.vstack([_segments(before, old) * ratio, np.reshape(proof.paths, (-1, 2, 2))])
    blade = blade_of(after.drawing, changed[1])
    come = [_dense(blade, np.ones(len(blade.a), bool))] if len(changed[1]) else []
    for points, drawn in ((held, _segments(after, new)), (come, drawn_old)):
        at = np.vstack([np.zeros((0, 2)), *points])
        if not len(at):
            continue
        if not len(drawn):
            raise Unproven("a line would be lost or added")
        tree = shapely.STRtree(shapely.linestrings(drawn))
        _, distance = tree.query_nearest(
            shapely.points(at), return_distance=True, all_matches=False
        )
        farthest = max(farthest, float(distance.max()))
    paths = shapely.STRtree(
        [shapely.LineString(blade.points_of(k)) for k in range(len(blade.first))]
    )
    try:
        proof.refuse_filled_gaps(paths)
    except FilledGap:
        raise Unproven("a gap between dashes would be cut through") from None
    return farthest


def _segments(cutout: Cutout, lines: Ints) -> Floats:
    """All straight steps of some lines, (n, 2, 2)."""
    blade = blade_of(cutout.drawing, lines)
    return np.stack([blade.a, blade.b], axis=1)


def _dense(blade: Blade, wanted: Bools) -> Floats:
    """All points of the wanted steps of some lines, and more in between."""
    counts = np.ceil(blade.length[wanted] / _STEP_MM).astype(np.int64)
    step = spread(np.zeros(len(counts), np.int64), counts) / counts.repeat(counts)
    a, b = blade.a[wanted], blade.b[wanted]
    way = (b - a).repeat(counts, axis=0)
    last = blade.last[wanted[blade.last]]
    return np.vstack([a.repeat(counts, axis=0) + way * step[:, None], blade.b[last]])


class _Fallen(NamedTuple):
    """What falls out: its area, how many holes and folds it has; -1: no matter.

    Folds under a licence are not counted; `licensed` are the licences that each lies along.
    """

    area: shapely.Polygon
    holes: int
    folds: int
    licensed: tuple[frozenset[int], ...] = ()


def _compare_pieces(
    before: Cutout, after: Cutout, allowed: Allowed, moved: float, scores: ScoreProof
) -> None:
    """Each piece of the source must fall out of the copy, with its holes and folds."""
    lost = len(before.pieces) - len(after.pieces)
    if lost and not allowed.pieces:
        count = len(after.pieces)
        raise Unproven(
            f"the copy would give {count} piece{'s' * (count != 1)} where {len(before.pieces)} "
            "fall out now; look at the lines there by eye"
        )
    fallen = [_fallen(after, piece, scores, 1.0) for piece in after.pieces]
    if allowed.pieces:  # a piece inside an outline that was open becomes the waste of a hole
        wastes = [hole.waste for piece in after.pieces for hole in piece.holes]
        fallen += [_Fallen(waste, -1, -1) for waste in wastes]
    tree = shapely.STRtree([each.area for each in fallen])
    for piece in before.pieces:
        mine = _fallen(before, piece, scores, allowed.ratio)
        if allowed.ratio != 1.0:
            scaled = shapely.affinity.scale(mine.area, allowed.ratio, allowed.ratio, origin=(0, 0))
            mine = mine._replace(area=scaled)
        near = tree.query(mine.area, "intersects").tolist()
        slack = _AREA_MM2 + mine.area.length * (moved + _SLACK_MM)
        if not any(_is_same(mine, fallen[k], slack) for k in near):
            x, y = ((a + b) / 2 for a, b in zip(piece.box[:2], piece.box[2:], strict=True))
            raise Unproven(
                f'the piece "{piece.name}" at {x:.0f}, {y:.0f} mm would not fall out as it does now'
            )


def _fallen(cutout: Cutout, piece: Piece, scores: ScoreProof, ratio: float) -> _Fallen:
    """The piece; what is scored twice in one place counts once."""
    near = 2 * cutout.distances.same_place_mm
    kept: list[Floats] = []
    along: list[frozenset[int]] = []
    for fold in piece.folds:
        samples = cutout.folds[fold].samples
        licensed = scores.licensed(samples * ratio)
        if licensed is not None:
            along += [licensed] if licensed else []
            continue
        ways = (samples, samples[::-1])
        if not any(
            len(other) == len(way) and np.abs(other - way).max() <= near
            for other in kept
            for way in ways
        ):
            kept.append(samples)
    return _Fallen(piece.card, len(piece.holes), len(kept), tuple(along))


def _is_same(mine: _Fallen, other: _Fallen, slack: float) -> bool:
    if other.holes not in (-1, mine.holes) or other.folds not in (-1, mine.folds):
        return False
    still = frozenset[int]().union(*other.licensed)
    if other.folds != -1 and any(still.isdisjoint(fold) for fold in mine.licensed):
        return False
    if mine.area == other.area:  # point by point, as it mostly is
        return True
    return float(mine.area.symmetric_difference(other.area).area) <= slack
