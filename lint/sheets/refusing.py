"""What may not be moved: pieces with a fault, and whole files whose faults are nobody's own.

The engine knows no rule: it goes by a finding's severity, by the lines and places that it names,
and by the act that would mend it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import shapely

from matready.lint.acts import Entitle, Gather, Purge, PutBehind, Split, WriteOut
from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import CUT, DRAW, NAMES
from matready.lint.finding import Box, Finding, Grade, Severity
from matready.lint.inspection import Inspection, elements_of
from matready.lint.rule import Rule
from matready.lint.scale import doubt_of
from matready.lint.settings import Settings
from matready.lint.sheets.owners import Owners, path_of
from matready.lint.sheets.parts import Refusal

# What is mended just by being put on a mat: there each part is one named group of plain paths,
# cuts apart from scores and in the right order, and nothing else of the file's markup.
_MENDED_ANYWAY = (Entitle, Gather, Purge, PutBehind, Split, WriteOut)

_BY_HAND = "put it right in the drawing"
_SAFELY = "mend it with matready fix, or add --fix"
_RESHAPED = "see what matready fix --reshape makes of it, or put it right in the drawing"


def refusals_of(
    inspection: Inspection, settings: Settings, owners: Owners, file: str
) -> tuple[Refusal, ...]:
    """All refusals of a file: one for each unit that may not be moved, or one for all of it."""
    cutout = inspection.cutout
    names = tuple(piece.name for piece in cutout.pieces)
    doubt = doubt_of(cutout)
    if doubt:
        return (Refusal(file, names, f"{doubt}; {_RESHAPED}", whole=True),)
    by_unit: dict[int, list[str]] = defaultdict(list)
    where = _Where.of(cutout, owners)
    for found, reason in _faults(inspection, settings):
        units = _units_of(where, found)
        if not units:
            return (Refusal(file, names, reason, whole=True),)
        for unit in units:
            by_unit[unit].append(reason)
    for lot, several in owners.across:
        for unit in several:
            by_unit[unit].append(_across(cutout, lot, several))
    for lot in owners.loose:
        near = _near(cutout, lot)
        if len(near) != 1:
            return (Refusal(file, names, _loose(cutout, lot), whole=True),)
        by_unit[near.pop()].append(_loose(cutout, lot))
    return tuple(
        Refusal(file, _pieces_in(cutout, unit), _with_count(reasons))
        for unit, reasons in sorted(by_unit.items())
    )


def _pieces_in(cutout: Cutout, unit: int) -> tuple[str, ...]:
    return tuple(piece.name for piece in cutout.pieces if piece.unit == unit)


def _with_count(reasons: list[str]) -> str:
    others = len(dict.fromkeys(reasons)) - 1
    return reasons[0] + (f" ({others} more such reason{'s' * (others > 1)})" if others else "")


def _faults(inspection: Inspection, settings: Settings) -> Iterator[tuple[Finding, str]]:
    """Findings that make a piece unsafe to move, with what is wrong and what to do."""
    for rule, found in inspection.findings():
        if _severity(rule, found, settings) is not Severity.FAULT:
            continue
        if found.fix is not None and isinstance(found.fix.act, _MENDED_ANYWAY):
            continue
        cure = _BY_HAND
        if found.fix is not None:
            cure = _SAFELY if found.fix.grade is Grade.SAFE else _RESHAPED
        yield found, f"{found.message} ({rule.name}); {cure}"


def _severity(rule: Rule, found: Finding, settings: Settings) -> Severity:
    return settings.severity(rule) or found.severity or rule.severity


@dataclass(frozen=True, eq=False, slots=True)
class _Where:
    """For each node of a drawing the lines at or below it, for each line the units it lies in."""

    cutout: Cutout
    below: dict[int, list[int]]
    units_of: dict[int, tuple[int, ...]]

    @classmethod
    def of(cls, cutout: Cutout, owners: Owners) -> _Where:
        below: dict[int, list[int]] = defaultdict(list)
        for line, node in enumerate(cutout.drawing.line_node.tolist()):
            for above in cutout.drawing.ancestors(node):
                below[above].append(line)
        units_of: dict[int, tuple[int, ...]] = {
            line: (unit,) for unit, of in owners.lines.items() for line in of
        }
        units_of |= {line: units for lot, units in owners.across for line in lot}
        return cls(cutout, below, units_of)


def _units_of(where: _Where, found: Finding) -> set[int]:
    """The units that a finding is about: by its piece, its lines, and the places it names."""
    cutout = where.cutout
    units = {piece.unit for piece in cutout.pieces if piece.name == found.piece}
    spots = _spots(cutout, found)
    lines = {line for node in found.nodes for line in where.below.get(node, ())}
    if lines:
        for line in lines.intersection(where.units_of):
            if any(_meet(cutout, line, spot) for spot in spots):
                units.update(where.units_of[line])
        return units
    # What draws no line of a piece lies on the pieces whose outlines its places touch.
    for spot in spots:
        around = [p for p in cutout.pieces if shapely.Polygon(p.card.exterior).intersects(spot)]
        if not around:
            return units if found.piece else set()
        units |= {piece.unit for piece in around}
    return units


def _spots(cutout: Cutout, found: Finding) -> list[shapely.Polygon]:
    """The boxes of the matters that a finding stands for, a hairline wider."""
    boxes: list[Box] = [(x, y, x, y) for x, y in found.places]
    if not boxes and found.elements:
        named = set(elements_of(cutout, found))
        boxes = [one.box for one in cutout.drawing.sights if one.element in named]
    if not boxes and found.box is not None:
        boxes = [found.box]
    margin = cutout.distances.hairline_mm
    return [shapely.box(*box).buffer(margin, cap_style="square") for box in boxes]


def _meet(cutout: Cutout, line: int, spot: shapely.Polygon) -> bool:
    return bool(path_of(cutout, [line]).intersects(spot))


def _near(cutout: Cutout, lot: Iterable[int]) -> set[int]:
    """The units in whose boxes a lot of lines lies."""
    box = shapely.box(*cutout.box(lot))
    return {p.unit for p in cutout.pieces if shapely.box(*p.box).covers(box)}


def _place(cutout: Cutout, lot: tuple[int, ...]) -> str:
    x0, y0, x1, y1 = cutout.box(lot)
    return f"{(x0 + x1) / 2:.1f}, {(y0 + y1) / 2:.1f} mm"


def _across(cutout: Cutout, lot: tuple[int, ...], units: tuple[int, ...]) -> str:
    role = int(cutout.roles.role[lot[0]])
    what = "drawn line" if role == DRAW else f"{NAMES[role]} line"
    pieces = [_pieces_in(cutout, unit)[0] for unit in units]
    shared = " and ".join(filter(None, (", ".join(pieces[:-1]), pieces[-1])))
    cure = "draw it apart" if role == CUT else "part it between them"
    return (
        f"the {what} at {_place(cutout, lot)} lies in {shared}, which are not one piece; "
        f"{cure} in the drawing"
    )


def _loose(cutout: Cutout, lot: tuple[int, ...]) -> str:
    return (
        f"the score line at {_place(cutout, lot)} lies in no piece, so it cannot be told which one "
        "it is to move with; put it into its piece, or take it out of the drawing"
    )
