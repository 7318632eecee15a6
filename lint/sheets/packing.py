"""Shapes onto the fewest sheets of paper: the way in for all that needs packing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from matready.lint.sheets.board import Ground
from matready.lint.sheets.bound import bound_of
from matready.lint.sheets.effort import Effort
from matready.lint.sheets.filling import Kind, Put, fill
from matready.lint.sheets.forms import CELL_MM, Form, extents, forms_of, square_turns
from matready.lint.sheets.growing import cos_sin
from matready.lint.sheets.nesting import Inside, into_holes
from matready.lint.sheets.papers import Sheet
from matready.lint.sheets.raster import Shape
from matready.lint.sheets.search import Layout, Search

ANY_TURNS_DEG = tuple(float(turn) for turn in range(0, 360, 15))
"""Turns that are tried where any is allowed, beside those that lay a shape's box straight."""

_HAIR_MM = 1e-7  # a shape that is larger by the rounding of a sum still fits
_FEW_TURNS = 4  # so many are tried from the start, and more only on the last sheets

# A search is counted in steps, so that the clock has no say in its result: so many a second, which
# a machine half as fast as that of the measurements still does in time.
_STEPS_PER_SECOND = 80_000
_LEAST_SHAPES, _MANY_SHAPES = 20, 150  # with many shapes all seconds are used, with few a part


class Place(NamedTuple):
    """Where a shape lies: turned about (0, 0), then shifted.

    x' = x cos - y sin + dx and y' = x sin + y cos + dy, in mm from the top left corner of the used
    sheet with the number `sheet`.
    """

    sheet: int
    turn_deg: float
    dx: float
    dy: float


class Used(NamedTuple):
    """A sheet that is used: its size in mm, and which of the given sheets it is one of."""

    width_mm: float
    height_mm: float
    given: int


@dataclass(frozen=True, slots=True)
class Packing:
    """A layout of shapes on sheets.

    `places` has one entry a shape, None for those in `too_big`, which fit on no sheet in any turn
    that is allowed, and in `without_room`, for which no sheet was left. No layout of the others
    can use fewer sheets than `bound`, by what `bound_reason` says. `complete` is False where
    the clock or a stop ended the search after `rounds`.
    """

    places: tuple[Place | None, ...]
    used: tuple[Used, ...]
    too_big: tuple[int, ...]
    without_room: tuple[int, ...]
    bound: int
    bound_reason: str
    rounds: int
    complete: bool


def pack(
    shapes: Sequence[Shape],
    sheets: Sequence[Sheet],
    *,
    gap_mm: float,
    margin_mm: float,
    turns_deg: Sequence[float] | None,
    seed: int,
    seconds: float,
    on_progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Packing:
    """Lay shapes on as few sheets as can be found, small sheets rather than large ones.

    The same input and seed give the same layout on every machine, unless the clock or a stop ended
    the search: then the best so far is given, and said to be not complete.

    Args:
        shapes: valid and not empty, in mm, anywhere.
        sheets: sizes with how many there are of each.
        gap_mm: between any two shapes, at least.
        margin_mm: from the edge of a sheet, at least.
        turns_deg: that are allowed; None for any.
        seed: of the search.
        seconds: at most, though a first layout is always made.
        on_progress: called with the steps done, and how many there are.
        stop: asked often; the search ends when it says True.
    """
    effort = Effort(_steps(len(shapes), seconds), seconds, on_progress, stop)
    rooms = [(s.width_mm - 2 * margin_mm, s.height_mm - 2 * margin_mm) for s in sheets]
    turns = [_turns(shape, turns_deg, rooms) for shape in shapes]
    fitting = [n for n, some in enumerate(turns) if some]
    chosen = [shapes[n] for n in fitting]
    bound = bound_of(chosen, sheets, turns_deg, gap_mm=gap_mm, margin_mm=margin_mm)
    layout, inside = Layout((), ()), dict[int, Inside]()
    if chosen:
        free = _Free(chosen, [turns[n] for n in fitting], gap_mm)
        inside = into_holes(chosen, _steady(free.forms, turns_deg), gap_mm)
        search = Search(
            free.forms,
            (_kinds(sheets, rooms, gap_mm, 2 * CELL_MM), _kinds(sheets, rooms, gap_mm, CELL_MM)),
            [sheet.count for sheet in sheets],
            seed,
            effort,
            free if free.wider else None,
        )
        roots = [n for n in range(len(chosen)) if n not in inside]
        layout = _unpacked(search.best(roots, bound.sheets), inside, search.forms)
    effort.finish()
    places = _places(layout, inside, margin_mm - gap_mm / 2)
    laid = {fitting[n]: place for n, place in places.items()}
    return Packing(
        places=tuple(laid.get(n) for n in range(len(shapes))),
        used=tuple(_used(sheet.kind, sheets) for sheet in layout.sheets),
        too_big=tuple(n for n, some in enumerate(turns) if not some),
        without_room=tuple(n for n in fitting if n not in laid),
        bound=bound.sheets,
        bound_reason=bound.reason,
        rounds=effort.rounds,
        complete=not effort.cut_short,
    )


def _steps(shapes: int, seconds: float) -> int:
    share = min(max(shapes, _LEAST_SHAPES) / _MANY_SHAPES, 1.0)
    return max(int(_STEPS_PER_SECOND * seconds * share), 1)


def _turns(
    shape: Shape, turns_deg: Sequence[float] | None, rooms: Sequence[tuple[float, float]]
) -> tuple[float, ...]:
    """The allowed turns in which a shape fits on a sheet, those to try first in front."""
    if turns_deg is not None:
        return tuple(turn for turn in turns_deg if _fits(shape, turn, rooms))
    turns = dict.fromkeys((*square_turns(shape), *ANY_TURNS_DEG))
    some = tuple(turn for turn in turns if _fits(shape, turn, rooms))
    return some or tuple(float(turn) for turn in range(360) if _fits(shape, turn, rooms))


def _fits(shape: Shape, turn_deg: float, rooms: Sequence[tuple[float, float]]) -> bool:
    width, height = extents(shape, turn_deg)
    return any(width <= w + _HAIR_MM and height <= h + _HAIR_MM for w, h in rooms)


class _Free:
    """Forms of shapes in their first few turns, and in all of them where that is asked for."""

    def __init__(
        self, shapes: Sequence[Shape], turns_deg: Sequence[tuple[float, ...]], gap_mm: float
    ) -> None:
        self.shapes, self.turns_deg, self.gap_mm = shapes, turns_deg, gap_mm
        few = [turns[:_FEW_TURNS] for turns in turns_deg]
        self.forms = forms_of(shapes, few, gap_mm)
        self.wider = any(len(turns) > _FEW_TURNS for turns in turns_deg)
        self._all: dict[int, Form] = {}

    def __call__(self, shape: int) -> Form:
        """The form of a shape, by number, in all its turns."""
        if shape not in self._all:
            turns = [self.turns_deg[shape]]
            self._all[shape] = forms_of([self.shapes[shape]], turns, self.gap_mm)[0]
        return self._all[shape]


def _kinds(
    sheets: Sequence[Sheet],
    rooms: Sequence[tuple[float, float]],
    gap_mm: float,
    cell_mm: float,
) -> dict[int, Kind]:
    """The sheets that have any room at all, in cells of one size, by their number."""
    return {
        number: Kind(
            number=number,
            area_mm2=sheet.width_mm * sheet.height_mm,
            ground=Ground((width + gap_mm) / cell_mm, (height + gap_mm) / cell_mm),
            cell_mm=cell_mm,
        )
        for number, (sheet, (width, height)) in enumerate(zip(sheets, rooms, strict=True))
        if width > 0 and height > 0
    }


def _steady(forms: Sequence[Form], turns_deg: Sequence[float] | None) -> list[Form]:
    """The forms in those turns that are still allowed when they are turned with a host."""
    if turns_deg is None:
        return list(forms)
    steady = {turn for turn in turns_deg if all((turn + by) % 360 in turns_deg for by in turns_deg)}
    return [
        replace(form, turns=tuple(some for some in form.turns if some.turn_deg in steady))
        for form in forms
    ]


def _unpacked(layout: Layout, inside: Mapping[int, Inside], forms: Sequence[Form]) -> Layout:
    """The layout with what lies in shapes that had no room, as far as it has room by itself."""
    held: dict[int, list[int]] = {}
    for n, spot in inside.items():
        held.setdefault(spot.host, []).append(n)
    left, pool = list(layout.left), [n for host in layout.left for n in held.get(host, [])]
    while pool:
        pool.sort(key=lambda n: forms[n].area)
        if fill([n := pool.pop()], forms, layout.sheets):
            left.append(n)
            pool += held.get(n, [])
    return Layout(layout.sheets, tuple(left))


def _places(layout: Layout, inside: Mapping[int, Inside], origin_mm: float) -> dict[int, Place]:
    """Every shape on a sheet with its place."""
    places: dict[int, Place] = {}
    for number, sheet in enumerate(layout.sheets):
        for put in sheet.puts:
            places[put.shape] = _place(put, sheet.kind, number, origin_mm)
    for n, spot in inside.items():  # a host comes before what it holds
        if n not in places and spot.host in places:
            places[n] = _carried(spot, places[spot.host])
    return places


def _place(put: Put, kind: Kind, sheet: int, origin_mm: float) -> Place:
    y, x = divmod(put.corner, kind.ground.width)
    left, top = put.turned.low
    return Place(
        sheet,
        put.turned.turn_deg,
        origin_mm + x * kind.cell_mm - left,
        origin_mm + y * kind.cell_mm - top,
    )


def _carried(spot: Inside, host: Place) -> Place:
    """The place of a shape that is turned and shifted with its host."""
    cos, sin = cos_sin(host.turn_deg)
    return Place(
        host.sheet,
        (host.turn_deg + spot.turn_deg) % 360,
        spot.dx * cos - spot.dy * sin + host.dx,
        spot.dx * sin + spot.dy * cos + host.dy,
    )


def _used(kind: Kind, sheets: Sequence[Sheet]) -> Used:
    sheet = sheets[kind.number]
    return Used(sheet.width_mm, sheet.height_mm, kind.number)
