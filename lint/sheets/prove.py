"""The proof of a mat before it is written: read back, cut virtually, and held against its parts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely

from matready.lint import cutting
from matready.lint.cutting import Cutout, Piece
from matready.lint.cutting.roles import NAMES
from matready.lint.drawing import Floats
from matready.lint.finding import Finding, Severity
from matready.lint.inspection import Inspection, inspect_cutout
from matready.lint.reading import read_drawing
from matready.lint.reading.geometry import Geometry
from matready.lint.rule import Rule
from matready.lint.settings import Settings
from matready.lint.sheets.laid import Mat, Placement
from matready.lint.sheets.parts import Part
from matready.lint.sheets.taking import score_lines
from matready.lint.sheets.turning import Motion
from matready.lint.source import read_source

CONGRUENT_MM = 0.01
_FINE_MM = 0.001  # how finely curves are followed where lines are compared
_PIECE_MM = 0.05  # pieces whose boxes differ by more are not the same one


class Unproven(Exception):
    """A mat that is not what it should be; str() is one sentence."""


def prove_mat(
    text: str,
    mat: Mat,
    rules: Sequence[Rule],
    settings: Settings,
    own: Callable[[Part], Settings] | None = None,
) -> tuple[str, ...]:
    """Read a mat back and hold it against its parts; raises Unproven.

    Every line must be there, within CONGRUENT_MM of where it is in its part; the same pieces must
    fall out, with as many holes and folds; and no rule may find a fault. What is returned are
    cautions of rules that found nothing in the files that the parts came from. The file is read by
    `settings`; a part is judged by its `own`, as it was in its source: else what was mild there
    might be a fault here.
    """
    source = read_source(text.encode(), f"mat {mat.number}")
    fine = read_drawing(source, _FINE_MM).geometry
    said: list[str] = []
    for its, places in _by_settings(mat, own or (lambda _: settings)):
        wanted = replace(
            its, read=settings.read, only=frozenset(), mat=(mat.width_mm, mat.height_mm)
        )
        # Cut as its source was: where curves just touch, finer chords may meet elsewhere.
        cutout = cutting.cut(read_drawing(source, its.distances.flatten_mm), wanted)
        _prove_page(cutout, mat)
        _prove_lines(cutout, fine, mat)
        _prove_pieces(cutout, mat, places)
        said += _new_cautions(inspect_cutout(cutout, rules, wanted), mat, places, wanted)
    return tuple(dict.fromkeys(said))


def _by_settings(
    mat: Mat, own: Callable[[Part], Settings]
) -> list[tuple[Settings, list[Placement]]]:
    """The parts of a mat that are judged alike."""
    groups: list[tuple[Settings, list[Placement]]] = []
    for place in mat.placements:
        its = own(place.part)
        alike = next((places for settings, places in groups if settings == its), None)
        if alike is None:
            alike = []
            groups.append((its, alike))
        alike.append(place)
    return groups


def _prove_page(cutout: Cutout, mat: Mat) -> None:
    size = cutout.drawing.page.size_mm
    wanted = (mat.width_mm, mat.height_mm)
    if size is None or np.abs(np.subtract(size, wanted)).max() > CONGRUENT_MM:
        raise Unproven(f"mat {mat.number} is read back at another size than {wanted}")


def _prove_lines(cutout: Cutout, geometry: Geometry, mat: Mat) -> None:
    """Every line where and what it was, and no other line."""
    roles = cutout.roles.role.tolist()
    wanted = [(place, line) for place in mat.placements for line in place.part.lines]
    if not len(roles) == len(geometry.closed) == len(wanted):
        raise Unproven(
            f"mat {mat.number} is read back with {len(roles)} lines in place of {len(wanted)}"
        )
    for k, (place, line) in enumerate(wanted):
        if NAMES[roles[k]] != line.role or bool(geometry.closed[k]) != line.closed:
            raise Unproven(
                f"a {line.role} line of {place.part.name} is read back from mat {mat.number} as "
                f"{'a closed' if geometry.closed[k] else 'an open'} {NAMES[roles[k]]} line"
            )
    true = [points for place in mat.placements for points in _moved(place)]
    off = _off_by(
        np.split(geometry.points, geometry.offsets[1:-1]), true, cutout.distances.flatten_mm
    )
    for k in np.flatnonzero(~(off <= CONGRUENT_MM))[:1].tolist():
        place, line = wanted[k]
        raise Unproven(
            f"a {line.role} line of {place.part.name} is off by {off[k]:.3f} mm on mat "
            f"{mat.number} (at most {CONGRUENT_MM:g} mm)"
        )


def _moved(place: Placement) -> list[Floats]:
    motion = Motion.of(place)
    return [motion.points(line.points) for line in place.part.lines]


def _off_by(read: list[Floats], true: list[Floats], flatten_mm: float) -> Floats:
    """How far each line and its counterpart are apart, either way, and their ends.

    Points of both lie on their curves; the chords of the true one may be `flatten_mm` off its.
    """
    if not read:
        return np.zeros(0)
    pairs = zip(read, true, strict=True)
    ends = np.array([np.abs(one[[0, -1]] - other[[0, -1]]).max() for one, other in pairs])
    there, back = _far(true, read), _far(read, true) - flatten_mm
    return np.asarray(np.maximum(np.maximum(there, back), ends))


def _far(points: list[Floats], lines: list[Floats]) -> Floats:
    """How far the farthest of the points of each lot is from the line of the same number."""
    counts = [len(lot) for lot in points]
    drawn = np.array([shapely.LineString(line) for line in lines])
    away = shapely.distance(shapely.points(np.vstack(points)), np.repeat(drawn, counts))
    return np.asarray(np.maximum.reduceat(away, np.cumsum([0, *counts[:-1]])))


def _prove_pieces(cutout: Cutout, mat: Mat, places: Sequence[Placement]) -> None:
    """The pieces of some parts fall out, and no more than those of all."""
    count = sum(len(place.part.pieces) for place in mat.placements)
    alone = len(places) == len(mat.placements)
    if len(cutout.pieces) > count or (alone and len(cutout.pieces) < count):
        raise Unproven(
            f"{len(cutout.pieces)} pieces fall out of mat {mat.number} in place of {count}"
        )
    left = list(cutout.pieces)
    for place in places:
        for k in range(len(place.part.pieces)):
            left.remove(_found(cutout, left, place, k, mat))


def _found(cutout: Cutout, left: Sequence[Piece], place: Placement, k: int, mat: Mat) -> Piece:
    part = place.part
    card = Motion.of(place).area(part.cards[k])
    spare = 2 * cutout.distances.flatten_mm * card.length  # by chords that fall otherwise
    near = [
        piece
        for piece in left
        if np.abs(np.subtract(piece.box, card.bounds)).max() <= _PIECE_MM
        and len(piece.card.interiors) == len(card.interiors)
        and abs(piece.card.area - card.area) <= spare
        and score_lines(cutout, piece) == part.scores[k]
    ]
    if not near:
        raise Unproven(
            f"{part.pieces[k]} of {part.file} does not fall out of mat {mat.number} as it does of "
            "its own drawing"
        )
    return near[0]


def _new_cautions(
    inspection: Inspection, mat: Mat, places: Sequence[Placement], settings: Settings
) -> Iterator[str]:
    """What is found in some parts of a mat and was not in their files; raises Unproven."""
    known = frozenset[str]().union(*(place.part.found for place in mat.placements))
    part_of = np.repeat(
        np.arange(len(mat.placements)), [len(place.part.lines) for place in mat.placements]
    )
    judged = {k for k, place in enumerate(mat.placements) if place in places}
    for rule, found in inspection.findings():
        lines = _lines_of(inspection.cutout, found)
        if lines and judged.isdisjoint(part_of[lines].tolist()):
            continue
        severity = settings.severity(rule) or found.severity or rule.severity
        where = f"mat {mat.number}: {found.message} ({rule.name})"
        if severity is Severity.FAULT:
            raise Unproven(f"there would be a fault on {where}")
        if severity is Severity.CAUTION and rule.name not in known:
            yield where


def _lines_of(cutout: Cutout, found: Finding) -> list[int]:
    """The lines that a finding names, alone or by a group; none where it names none."""
    nodes, drawing = set(found.nodes), cutout.drawing
    return [
        line
        for line, node in enumerate(drawing.line_node.tolist())
        if not nodes.isdisjoint(drawing.ancestors(node))
    ]
