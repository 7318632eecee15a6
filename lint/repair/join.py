"""Brings two ends of cut lines together: those of a hairline gap, or those of an opening."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from matready.lint.cutting import Cutout, Gap
from matready.lint.drawing import Floats
from matready.lint.repair.edits import Edits
from matready.lint.repair.pathtext import Close, Extend, MoveEnds
from matready.lint.repair.plan import Plan
from matready.lint.repair.refusal import Refused
from matready.lint.repair.space import is_straight, to_user

_SAME_MM = 1e-6
_SHARP = 0.05  # sine: lines that meet at less than 3 degrees have no corner to speak of


@dataclass(frozen=True, eq=False, slots=True)
class _Tip:
    """One end of an open line: its place in mm and the way that the line takes to it."""

    line: int
    at_start: bool
    at: Floats
    way: Floats
    straight: bool


def plan_join(cutout: Cutout, gap: Gap) -> Plan:
    """How to bring the ends of a gap together; no place moves more than the gap is wide.

    Raises Refused where an end is not that of a line, or is drawn in several places.
    """
    tips = [_tip_at(cutout, gap, end) for end in gap.ends]
    one, other = tips[0] or tips[1], tips[1]
    if one is None:
        raise Refused("the gap lies between crossings, not ends of lines; trim the lines by hand")
    if other is None or other is one:
        here = one.at
        target = max(gap.ends, key=lambda end: _apart(here, end))
        return _moved(cutout, gap, [(one, target)], "the end was led on to the line it stopped at")
    corner = _corner(cutout, one, other)
    if one.line == other.line:
        start, end = (one, other) if one.at_start else (other, one)
        return _closed(cutout, gap, start, end, corner)
    if corner is not None:
        return _moved(
            cutout, gap, [(one, corner), (other, corner)], "both ends were led on to their corner"
        )
    if other.straight and not one.straight:
        one, other = other, one
    return _moved(cutout, gap, [(one, other.at)], "one end was moved to the other")


def plan_close(cutout: Cutout, opening: Gap) -> Plan:
    """How to draw the straight line that is missing; raises Refused."""
    one, other = (_tip_at(cutout, opening, end) for end in opening.ends)
    if one is None or other is None:
        raise Refused("what is open are crossings, not ends of lines; trim the lines by hand")

    def enter(edits: Edits) -> None:
        node = int(cutout.drawing.line_node[one.line])
        if one.line == other.line:
            _change(cutout, edits, one.line, Close())
        else:
            to = to_user(cutout.drawing.nodes[node].matrix, other.at)
            _change(cutout, edits, one.line, Extend(one.at_start, to))

    _refuse_shown_twice(cutout, {one.line, other.line})
    return Plan(frozenset(opening.lines), "a straight line was drawn from end to end", enter)


def _tip_at(cutout: Cutout, gap: Gap, place: Floats) -> _Tip | None:
    """The end of one of the gap's lines that lies at a place, the nearest one."""
    geometry, best = cutout.drawing.geometry, None
    nearest = cutout.distances.join_mm + _SAME_MM
    for line in gap.lines:
        if geometry.closed[line]:
            continue
        points = geometry.line(line)
        for at_start, at, inner in ((True, points[0], points[1]), (False, points[-1], points[-2])):
            if _apart(at, place) < nearest:
                nearest = _apart(at, place)
                way = (at - inner) / _apart(at, inner)
                # A stub has no direction of its own to be led on in.
                long = _apart(at, inner) > 2 * cutout.distances.hairline_mm
                straight = long and is_straight(cutout, line, at_start)
                best = _Tip(line, at_start, at, way, straight)
    return best


def _corner(cutout: Cutout, one: _Tip, other: _Tip) -> Floats | None:
    """Where two straight ends meet if both lines run on or stop earlier, by a hairline at most."""
    cross = float(one.way[0] * other.way[1] - one.way[1] * other.way[0])
    if not (one.straight and other.straight) or abs(cross) < _SHARP:
        return None
    apart = other.at - one.at
    along = float(apart[0] * other.way[1] - apart[1] * other.way[0]) / cross
    corner = np.asarray(one.at + one.way * along)
    farthest = max(_apart(corner, one.at), _apart(corner, other.at))
    return corner if farthest <= cutout.distances.hairline_mm else None


def _closed(cutout: Cutout, gap: Gap, start: _Tip, end: _Tip, corner: Floats | None) -> Plan:
    matrix = cutout.drawing.nodes[int(cutout.drawing.line_node[start.line])].matrix
    if start.at_start == end.at_start:
        raise Refused("its ends cannot be told apart")
    to = None if corner is None or _apart(corner, start.at) < _SAME_MM else to_user(matrix, corner)

    def enter(edits: Edits) -> None:
        kind = cutout.drawing.nodes[int(cutout.drawing.line_node[start.line])].kind
        if kind == "polyline":  # it has no Z; its last point is put on its first
            end_at = to_user(matrix, start.at) if to is None else to
            _change(cutout, edits, start.line, MoveEnds(to, end_at))
        else:
            _change(cutout, edits, start.line, MoveEnds(to, to, close=True))

    done = "its ends were joined and the outline closed"
    target = start.at if corner is None else corner
    farthest = max(_apart(target, start.at), _apart(target, end.at))
    return Plan(frozenset(gap.lines), done, enter, farthest)


def _moved(cutout: Cutout, gap: Gap, moves: list[tuple[_Tip, Floats]], done: str) -> Plan:
    _refuse_shown_twice(cutout, {tip.line for tip, _ in moves})

    def enter(edits: Edits) -> None:
        for tip, target in moves:
            if _apart(tip.at, target) > _SAME_MM:
                node = int(cutout.drawing.line_node[tip.line])
                to = to_user(cutout.drawing.nodes[node].matrix, target)
                move = MoveEnds(start=to) if tip.at_start else MoveEnds(end=to)
                _change(cutout, edits, tip.line, move)

    farthest = max(_apart(tip.at, target) for tip, target in moves)
    return Plan(frozenset(gap.lines), done, enter, farthest)


def _change(cutout: Cutout, edits: Edits, line: int, move: MoveEnds | Extend | Close) -> None:
    drawing = cutout.drawing
    element = drawing.nodes[int(drawing.line_node[line])].element
    edits.change(element, int(drawing.geometry.subpath[line]), move)


def _refuse_shown_twice(cutout: Cutout, lines: set[int]) -> None:
    """An element that is drawn in several places may not be fitted to one of them."""
    drawing = cutout.drawing
    for line in lines:
        element = drawing.nodes[int(drawing.line_node[line])].element
        if len(drawing.nodes_of(element)) > 1:
            where = drawing.source.span(element).line
            raise Refused(
                f"the line on line {where} of the file is drawn in several places by a <use>; put "
                "the ends together there by hand"
            )


def _apart(a: Floats, b: Floats) -> float:
    return float(np.hypot(*(a - b)))
