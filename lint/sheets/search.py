"""The search for fewer sheets: fill in several orders, then empty one sheet into the others.

To empty a sheet, its shapes are driven into the rest one at a time: two or three sheets are laid
anew with the shape among theirs, and what finds no room there goes on in its place. The change is
kept where less is left over than before. The orders differ by chance, from a seed.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from matready.lint.sheets.effort import Effort
from matready.lint.sheets.filling import Filling, Kind, fill, fill_or_give_up, refined
from matready.lint.sheets.forms import Form

_NOISE = (0.05, 0.1, 0.2)  # how far chance may move a shape in the order, as a share of its size
_PATIENCE = 200  # rounds a shape without any gain, after which a sheet is given up
_SHEETS_AT_ONCE = (2, 2, 3)
_LARGEST_FIRST = 0.8  # how often the largest shape that is left is the next one, else any


@dataclass(frozen=True, eq=False, slots=True)
class Layout:
    """Sheets with what lies on them, and the shapes that lie on none."""

    sheets: tuple[Filling, ...]
    left: tuple[int, ...]


class Search:
    """A search over one set of shapes and the sheets at hand.

    `kinds` are those of sheets by number, in coarse and in fine cells; `counts` says how many
    of each kind there are, None for as many as needed. `free` gives a shape's form in more turns.
    """

    def __init__(
        self,
        forms: Sequence[Form],
        kinds: tuple[Mapping[int, Kind], Mapping[int, Kind]],
        counts: Sequence[int | None],
        seed: int,
        effort: Effort,
        free: Callable[[int], Form] | None = None,
    ) -> None:
        self.forms = list(forms)
        self.coarse, self.fine = kinds
        self.counts = counts
        self.effort = effort
        self.chance = random.Random(seed)  # noqa: S311  a search, no secret
        self.free = free
        self._sizes = [_sizes(form) for form in forms]

    def best(self, shapes: Sequence[int], least: int) -> Layout:
        """The best layout found of some shapes; one with `least` sheets ends the search."""
        layout = self._first(shapes, least)
        layout = self._fewer(layout, least, share=0.5)
        if self._done(layout, least):
            return layout
        fine = tuple(refined(sheet, self.fine[sheet.kind.number]) for sheet in layout.sheets)
        layout = self._fewer(Layout(fine, layout.left), least, share=0.8 if self.free else 1.0)
        if self.free and not self._done(layout, least):
            layout = self._fewer(layout, least, share=1.0, free=self.free)
        return layout

    def _done(self, layout: Layout, least: int) -> bool:
        return not layout.left and len(layout.sheets) <= least

    def _cost(self, layout: Layout) -> tuple[float, float, int, float]:
        """Less is better: shapes left over, area of the sheets, their number, the least filled."""
        return (
            self._area(layout.left),
            round(sum(sheet.kind.area_mm2 for sheet in layout.sheets), 3),
            len(layout.sheets),
            min((sheet.taken for sheet in layout.sheets), default=0),
        )

    # First layouts

    def _first(self, shapes: Sequence[int], least: int) -> Layout:
        """The best of several orders of shapes and of kinds of sheets."""
        kinds = [sorted(self.coarse.values(), key=lambda kind: -kind.area_mm2)]
        if len(self.coarse) > 1:
            kinds.append(kinds[0][::-1])
        best: Layout | None = None
        for measure in range(len(self._sizes[0])):
            for order in kinds:
                if best is not None and not self.effort.goes_on():
                    return best
                layout = self._on_smaller(self._first_fit(self._ordered(shapes, measure), order))
                if best is None or self._cost(layout) < self._cost(best):
                    best = layout
                if self._done(best, least) and len(self.coarse) == 1:
                    return best
        assert best is not None
        return best

    def _ordered(self, shapes: Sequence[int], measure: int) -> list[int]:
        return sorted(shapes, key=lambda n: -self._sizes[n][measure])

    def _first_fit(self, order: Iterable[int], kinds: Sequence[Kind]) -> Layout:
        """Each shape on the first sheet with room; a new one is of the first kind that takes it."""
        sheets: list[Filling] = []
        used: Counter[int] = Counter()
        left = []
        for n in order:
            if any(sheet.add(n, self.forms[n]) for sheet in sheets):
                continue
            for kind in kinds:
                count = self.counts[kind.number]
                new = Filling(kind)
                if (count is None or used[kind.number] < count) and new.add(n, self.forms[n]):
                    used[kind.number] += 1
                    sheets.append(new)
                    break
            else:
                left.append(n)
        self.effort.spend(sum(sheet.steps for sheet in sheets))
        return Layout(tuple(sheets), tuple(left))

    def _on_smaller(self, layout: Layout) -> Layout:
        """The layout with what lies on a large sheet moved to a smaller one, where it has room."""
        if len(self.coarse) == 1:
            return layout
        used = Counter(sheet.kind.number for sheet in layout.sheets)
        sheets = []
        for sheet in sorted(layout.sheets, key=lambda sheet: sheet.taken):
            least = self._least_kind(sheet, used)
            used[sheet.kind.number] -= 1
            used[least.kind.number] += 1
            sheets.append(least)
        return Layout(tuple(sheets), layout.left)

    def _least_kind(self, sheet: Filling, used: Counter[int]) -> Filling:
        """The smallest sheet at hand for the shapes of a sheet; itself where there is none."""
        for kind in sorted(self.coarse.values(), key=lambda kind: kind.area_mm2):
            count = self.counts[kind.number]
            if kind.area_mm2 >= sheet.kind.area_mm2:
                break
            if count is None or used[kind.number] < count:
                smaller = Filling(kind)
                left = fill_or_give_up(sheet.shapes(), self.forms, [smaller], 0)
                self.effort.spend(smaller.steps)
                if left is not None:
                    return smaller
        return sheet

    # Emptying sheets

    def _fewer(
        self, layout: Layout, least: int, share: float, free: Callable[[int], Form] | None = None
    ) -> Layout:
        """The layout with sheets emptied one after the other, as long as the effort lasts."""
        while not self._done(layout, least) and self.effort.goes_on(share):
            sheets = sorted(layout.sheets, key=self._worth)
            pool = list(layout.left)
            if not pool:
                pool, sheets = sheets[0].shapes(), sheets[1:]
            if not sheets:
                break
            result = self._drive_in(pool, sheets, share, free)
            if self._cost(result) >= self._cost(layout) or (result.left and not layout.left):
                break
            layout = result
        return layout

    def _worth(self, sheet: Filling) -> tuple[float, float]:
        """What is emptied first: large sheets for little."""
        return (self._area(sheet.shapes()) / sheet.kind.area_mm2, -sheet.kind.area_mm2)

    def _drive_in(
        self,
        pool: list[int],
        sheets: list[Filling],
        share: float,
        free: Callable[[int], Form] | None,
    ) -> Layout:
        """Bring the pool onto the sheets; returns the state with least left over."""
        best = Layout(tuple(sheets), tuple(pool))
        patience = _PATIENCE * (len(pool) + sum(len(sheet.puts) for sheet in sheets))
        last_gain = self.effort.rounds
        while pool and self.effort.goes_on(share):
            if self.effort.rounds - last_gain > patience:
                break
            pool.sort(key=lambda n: -self.forms[n].area)
            index = 0 if self.chance.random() < _LARGEST_FIRST else self.chance.randrange(len(pool))
            shape = pool[index]
            if free is not None:
                self.forms[shape] = free(shape)
            chosen = self._sample(sheets)
            new = [Filling(sheet.kind) for sheet in chosen]
            order = self._shuffled([shape, *(n for sheet in chosen for n in sheet.shapes())])
            left = fill_or_give_up(order, self.forms, new, self.forms[shape].area)
            self.effort.spend(sum(sheet.steps for sheet in new))
            if left is None:
                continue
            sheets = [sheet for sheet in sheets if sheet not in chosen] + new
            pool.remove(shape)
            pool += left
            pool = fill(sorted(pool, key=lambda n: -self.forms[n].area), self.forms, new)
            if self._area(pool) < self._area(best.left):
                best = Layout(tuple(sheets), tuple(pool))
                last_gain = self.effort.rounds
        return best

    def _sample(self, sheets: Sequence[Filling]) -> list[Filling]:
        """Two or three sheets, each the emptier of two: there is more to gain."""
        rest, chosen = list(sheets), []
        for _ in range(min(self.chance.choice(_SHEETS_AT_ONCE), len(rest))):
            two = self.chance.sample(rest, min(2, len(rest)))
            emptier = max(two, key=lambda sheet: sheet.board.room)
            rest.remove(emptier)
            chosen.append(emptier)
        return chosen

    def _area(self, shapes: Iterable[int]) -> int:
        return sum(self.forms[n].area for n in shapes)

    def _shuffled(self, shapes: Sequence[int]) -> list[int]:
        """Shapes by one of their sizes, the largest first, moved a little by chance."""
        measure = self.chance.randrange(2)
        noise = self.chance.choice(_NOISE)
        key = {
            n: self._sizes[n][measure] * self.chance.uniform(1 - noise, 1 + noise) for n in shapes
        }
        return sorted(shapes, key=lambda n: -key[n])


def _sizes(form: Form) -> tuple[float, ...]:
    """Measures by which shapes are put in order: area, box, longest side."""
    mask = form.turns[0].fine
    return (form.area, mask.width * mask.height, max(mask.width, mask.height))
