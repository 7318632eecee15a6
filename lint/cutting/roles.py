"""Cut, score or draw: which role each line plays, and the clue that told it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from matready.lint.cutting.dashes import dash_rows
from matready.lint.cutting.words import mentions, names_lines, role_of
from matready.lint.drawing import Bools, Drawing, Floats, Ints, Style
from matready.lint.reading.units import MM_PER_PX

if TYPE_CHECKING:
    from matready.lint.settings import Reading

UNTOLD, CUT, SCORE, DRAW = 0, 1, 2, 3
NAMES = ("", "cut", "score", "draw")
NUMBER = {"cut": CUT, "score": SCORE, "draw": DRAW}

BY_NOTHING, BY_SETTINGS, BY_LAYER, BY_NAME, BY_DASHES, BY_COLOUR, BY_PAGE = range(7)
CLUES = ("", "settings", "layer name", "name", "dashes", "colour", "page background")

_PAGE_MM = 0.5  # a background may miss the page's edge by this much
_SAME_SCALE = 0.002  # paper scaled with its page keeps the shape of it, but for rounded numbers
_LABELS = frozenset({"id", "class", "label", "aria-label", "data-name"})


@dataclass(frozen=True, eq=False, slots=True)
class Roles:
    """Role and clue of each line (m,), and rows of dashes that are one fold each."""

    role: Ints
    clue: Ints
    rows: tuple[tuple[int, ...], ...]


def texts_of(drawing: Drawing, node: int) -> list[str]:
    """What names a node: its id, class, labels of any namespace, and title."""
    element = drawing.nodes[node].element
    texts = [
        str(value)
        for key, value in element.attrib.items()
        if str(key).rpartition("}")[2] in _LABELS
    ]
    for child in element:
        if isinstance(child.tag, str) and child.tag.rpartition("}")[2] == "title" and child.text:
            texts.append(child.text.strip())
    return texts


class _Words:
    """Roles by the words on a node and on the groups above it, nearest first."""

    def __init__(self, drawing: Drawing, read: Reading) -> None:
        self.drawing = drawing
        self.own = {
            CUT: read.cut_words, SCORE: read.score_words, DRAW: read.draw_words,
        }  # fmt: skip
        self.by_settings = any(self.own.values())
        self.shapes_below = self._count_shapes()
        self.known: dict[tuple[int, bool], tuple[int, int]] = {}

    def _count_shapes(self) -> Ints:
        count = np.zeros(len(self.drawing.nodes), np.int64)
        np.add.at(count, self.drawing.shapes, 1)
        for node in range(len(count) - 1, 0, -1):  # a parent stands before its children
            count[self.drawing.nodes[node].parent] += count[node]
        return count

    def _here(self, node: int, open_line: bool, own: bool) -> tuple[int, bool]:
        """The role that a node's words tell, and whether the settings did; `own`: of a line itself.

        A group called "fold panel" holds more than folds, and so may a closed line.
        """
        texts = texts_of(self.drawing, node)
        if self.by_settings:
            for role, words in self.own.items():
                if any(mentions(text, words) for text in texts):
                    return role, True
        anything = own and open_line
        roles = {
            NUMBER[told]
            for text in texts
            if (told := role_of(text, open_line)) and (anything or names_lines(text))
        }
        return (roles.pop(), False) if len(roles) == 1 else (UNTOLD, False)

    def told(self, node: int, open_line: bool, first: bool = True) -> tuple[int, int]:
        """Role and clue of a shape from its names and those of the groups it is in."""
        key = (node, open_line)
        if not first and key in self.known:
            return self.known[key]
        parent = self.drawing.nodes[node].parent
        role, set_by_user = self._here(node, open_line, first) if parent >= 0 else (UNTOLD, False)
        # "Cut" or "drawing" on a group around everything tells nothing apart.
        whole = self.shapes_below[node] == self.shapes_below[0] > 1
        if role and (set_by_user or not (role != SCORE and whole)):
            found = role, BY_SETTINGS if set_by_user else BY_NAME if first else BY_LAYER
        elif parent >= 0:
            found = self.told(parent, open_line, first=False)
        else:
            found = UNTOLD, BY_NOTHING
        if not first:
            self.known[key] = found
        return found


def _by_colour(read: Reading) -> dict[str, int]:
    lists = {CUT: read.cut_colours, SCORE: read.score_colours, DRAW: read.draw_colours}
    return {colour: role for role, colours in lists.items() for colour in colours}


def tell_roles(drawing: Drawing, read: Reading) -> Roles:
    """Roles by settings, then words, then dash styling, then rows of dashes; the rest untold."""
    geometry = drawing.geometry
    m = len(geometry.closed)
    role, clue = np.zeros(m, np.int64), np.zeros(m, np.int64)
    words, colours = _Words(drawing, read), _by_colour(read)
    dashed = NUMBER[read.dashes or "score"]
    by_dashes = BY_SETTINGS if read.dashes else BY_DASHES
    shape_told: dict[tuple[int, bool], tuple[int, int]] = {}
    nodes, closed = drawing.line_node.tolist(), geometry.closed.tolist()
    for line, node in enumerate(nodes):
        key = (node, not closed[line])
        if key not in shape_told:
            style = drawing.nodes[node].style
            told = words.told(node, key[1])
            if told[1] != BY_SETTINGS and style.paint in colours:
                told = colours[style.paint], BY_SETTINGS
            if told[0] == UNTOLD and style.dashes:
                told = dashed, by_dashes
            shape_told[key] = told
        role[line], clue[line] = shape_told[key]
    behind = _backgrounds(drawing, role == UNTOLD)
    role[behind], clue[behind] = DRAW, BY_PAGE
    maybe = np.flatnonzero((role == UNTOLD) | (role == SCORE))
    rows = dash_rows(drawing, maybe, role[maybe] == SCORE)
    for row in rows:
        untold = [line for line in row if role[line] == UNTOLD]
        role[untold], clue[untold] = SCORE, BY_DASHES
    return Roles(role, clue, tuple(tuple(row) for row in rows))


def _backgrounds(drawing: Drawing, untold: Bools) -> Ints:
    """Rectangles as large as the page that paint it or frame it, and cut nothing out.

    Without a stroke they are white, or stand among lines that are stroked. With one they go round
    outlines that hold all the open lines of the drawing, or they have a colour of their own and go
    round outlines with lines in them; else it may be a panel as large as its page. A white one may
    lie beside its page, or have the page's shape in a smaller size and hold stroked outlines and
    most lines of the drawing: the page was moved or scaled, and its paper was left behind or went
    along.
    """
    page, geometry = drawing.page, drawing.geometry
    if not page.width_px or not page.height_px or not untold.any():
        return np.zeros(0, np.int64)
    size = np.array([page.width_px, page.height_px]) * MM_PER_PX
    low, high = geometry.boxes()
    covers = (low <= _PAGE_MM).all(axis=1) & (high >= size - _PAGE_MM).all(axis=1)
    as_large = (np.abs(high - low - size) <= _PAGE_MM).all(axis=1)
    rectangle = geometry.closed & untold & (np.diff(geometry.offsets) == 5)
    styles = [drawing.nodes[node].style for node in drawing.line_node.tolist()]
    pale = np.array([s.stroke == "none" and s.fill == "#ffffff" for s in styles]) & rectangle
    if not (pale | (rectangle & (covers | as_large))).any():
        return np.zeros(0, np.int64)
    stroked = np.array([style.stroke != "none" for style in styles])
    inner = geometry.closed & ~covers
    boxes = shapely.box(*low.T, *high.T)
    painted = pale | (~stroked & stroked.any())
    framed = _own_colour(styles, inner) & _nested(boxes, inner)
    framed |= _holds_all_open_lines(low, high, inner, ~geometry.closed)
    scales = (high - low) / size
    scaled = pale & (np.abs(scales[:, 0] - scales[:, 1]) <= _SAME_SCALE * scales[:, 1])
    paper = pale & stroked.any() & (as_large | _holds_most(scaled, boxes, stroked & inner))
    return np.flatnonzero((rectangle & covers & (painted | framed)) | paper)


def _own_colour(styles: Sequence[Style], others: Bools) -> Bools:
    """Lines whose stroke has a colour that none of the others has."""
    taken = {style.stroke for style, other in zip(styles, others, strict=True) if other}
    return np.array([style.stroke not in taken for style in styles])


def _nested(boxes: np.ndarray, outlines: Bools) -> bool:
    """True when a line, by its box, lies within one of the outlines."""
    around = np.flatnonzero(outlines)
    line, outline = shapely.STRtree(boxes[around]).query(boxes, "covered_by")
    return bool((line != around[outline]).any())


def _holds_most(pale: Bools, boxes: np.ndarray, outlines: Bools) -> Bools:
    """Which pale shapes hold at least half of all other lines, and outlines among them."""
    found = np.zeros(len(boxes), bool)
    for k in np.flatnonzero(pale).tolist():
        within = shapely.covered_by(boxes, boxes[k])
        found[k] = 2 * (within.sum() - 1) >= len(boxes) - 1 and bool((within & outlines).any())
    return found


def _holds_all_open_lines(low: Floats, high: Floats, outlines: Bools, opened: Bools) -> bool:
    """True when there are open lines and each lies in the box of one of the outlines."""
    if not outlines.any() or not opened.any():
        return False
    around = shapely.box(*(low[outlines] - _PAGE_MM).T, *(high[outlines] + _PAGE_MM).T)
    lines = shapely.box(*low[opened].T, *high[opened].T)
    within = shapely.STRtree(around).query(lines, "covered_by")[0]
    return len(np.unique(within)) == len(lines)


def colour_candidates(drawing: Drawing, roles: Roles) -> dict[str, Ints]:
    """Colours of untold lines that only open lines use, with their lines; empty for one colour."""
    untold = np.flatnonzero(roles.role == UNTOLD)
    paints: dict[str, list[int]] = {}
    for line in untold.tolist():
        style = drawing.nodes[int(drawing.line_node[line])].style
        paints.setdefault(style.paint, []).append(line)
    only_open = {
        paint: np.array(lines)
        for paint, lines in paints.items()
        if not drawing.geometry.closed[lines].any()
    }
    others = len(paints) > len(only_open) or bool((roles.role == CUT).any())
    return only_open if others or len(only_open) > 1 else {}


def with_colour(drawing: Drawing, roles: Roles, lines: Ints) -> Roles:
    """The roles with `lines` told to be scores by their colour, dashes among them in rows."""
    role, clue = roles.role.copy(), roles.clue.copy()
    role[lines], clue[lines] = SCORE, BY_COLOUR
    scores = np.flatnonzero(role == SCORE)
    rows = dash_rows(drawing, scores, np.ones(len(scores), bool))
    return Roles(role, clue, tuple(map(tuple, rows)))


def settle(roles: Roles) -> Roles:
    """What no clue told is cut: that is what a machine does with it."""
    untold: Bools = roles.role == UNTOLD
    return Roles(np.where(untold, CUT, roles.role), roles.clue, roles.rows)
