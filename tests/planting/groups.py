"""How the marks of a drawing are nested: flat, layers, groups, symbols, transforms.

Builds a tree of nodes; each node carries the matrix of its own attributes, rounded as written, so
that the writer can work out local coordinates exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from tests.planting.marks import Mark
from tests.planting.pages import number
from tests.planting.sheets import Sheet
from tests.planting.strokes import MIRROR, Matrix, shift, turn, zoom

SHAPES = (
    "flat",
    "layered",
    "grouped",
    "nested",
    "wrapped-flat",
    "wrapped-layered",
    "wrapped-grouped",
    "moved",
    "placed",
    "symbol",
    "inner-flat",
    "inner-layered",
    "inner-grouped",
)
# In these each piece has a group of its own that holds outline, holes and folds.
GROUPING = frozenset({"grouped", "nested", "wrapped-grouped", "placed", "symbol", "inner-grouped"})


@dataclass
class Node:
    """An element that holds others. `roles`: the roles of the marks below it, for styling."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    kids: list[Node | Mark | str] = field(default_factory=list)
    matrix: Matrix = field(default_factory=Matrix)
    layer: str = ""  # "cut" or "score" where the group is that role's own

    def marks(self) -> list[Mark]:
        """All marks below."""
        out: list[Mark] = []
        for kid in self.kids:
            if isinstance(kid, Mark):
                out.append(kid)
            elif isinstance(kid, Node):
                out += kid.marks()
        return out


@dataclass
class Tree:
    """The whole: what goes to defs, and what is drawn."""

    top: list[Node | Mark | str]
    defs: list[Node] = field(default_factory=list)


def group(kids: list[Node | Mark | str], **attributes: str) -> Node:
    """A plain g."""
    return Node("g", dict(attributes), kids)


def transform(rng: Random, about: complex, mild: bool = False) -> tuple[str, Matrix]:
    """A random similarity as transform text and as the matrix of exactly that text."""
    parts: list[str] = []
    total = Matrix()
    for kind in rng.sample(["translate", "rotate", "scale", "matrix", "mirror"], rng.randint(1, 3)):
        x, y = round(rng.uniform(-40, 40), 2), round(rng.uniform(-40, 40), 2)
        if kind == "translate":
            text, step = f"translate({x},{y})", shift(complex(x, y))
        elif kind == "rotate":
            angle = rng.choice([90.0, -90.0, 180.0, round(rng.uniform(-180, 180), 3)])
            if rng.random() < 0.4:
                cx, cy = round(about.real, 2), round(about.imag, 2)
                text, step = f"rotate({angle} {cx} {cy})", turn(angle, complex(cx, cy))
            else:
                text, step = f"rotate({angle})", turn(angle)
        elif kind == "scale":
            k = round(rng.uniform(0.6, 1.7) if mild else rng.uniform(0.2, 5), 4)
            text, step = f"scale({k})", zoom(k)
        elif kind == "mirror":
            text, step = "scale(-1,1)", MIRROR
        else:
            exact = turn(rng.uniform(0, 360)) @ zoom(rng.uniform(0.5, 2))
            a, b = round(exact.a, 9), round(exact.b, 9)
            step = Matrix(a, b, -b, a, x, y)
            text = f"matrix({number(a, 9)} {number(b, 9)} {number(-b, 9)} {number(a, 9)} {x} {y})"
        parts.append(text)
        total = total @ step
    return rng.choice([" ", ",", ""]).join(parts), total


def with_transform(node: Node, rng: Random, about: complex = 0j) -> Node:
    """The node with a random transform attribute."""
    node.attributes["transform"], node.matrix = transform(rng, about)
    return node


def build(shape: str, sheet: Sheet, marks: list[Mark], user: Matrix, rng: Random) -> Tree:
    """Nest the marks of a sheet in one of the SHAPES; `user` takes mm to the root's user units."""
    inner = shape.split("-")[-1]
    outside: list[Node | Mark | str] = [mark for mark in marks if mark.home == "outside"]
    inside = [mark for mark in marks if mark.home not in ("outside", "copy")]
    pasted: list[Node | Mark | str] = [mark for mark in marks if mark.home == "copy"]
    defs: list[Node] = []
    body: list[Node | Mark | str]
    if inner == "flat" or shape == "moved":
        body = flat_order(inside, rng)
    elif inner == "layered":
        body = layers([*inside, *(m for m in marks if m.home == "outside")], rng)
        outside = []
    elif shape == "symbol":
        body, defs = symbols(sheet, inside, user, rng)
    else:
        body = [piece_group(sheet, i, inside, rng, shape) for i in range(len(sheet.pieces))]
        body = [node for node in body if isinstance(node, Node) and node.kids]
    if pasted:
        body.append(group(pasted))
    if shape == "nested":
        body = rows(body, rng)
    if outside and rng.random() < 0.5:
        body.append(group(outside))
    else:
        body += outside
    if shape.startswith("wrapped"):
        for _ in range(rng.randint(1, 3)):
            body = [with_transform(group(body), rng, 50 + 50j)]
    if shape.startswith("inner"):
        body = [inner_svg(body, rng)]
    return Tree(body, defs)


def flat_order(marks: list[Mark], rng: Random) -> list[Node | Mark | str]:
    """Marks side by side: as they come, all cuts first, or shuffled."""
    order = rng.choice(["pieces", "cuts", "shuffled"])
    marks = list(marks)
    if order == "cuts":
        marks.sort(key=lambda mark: mark.role)
    elif order == "shuffled":
        rng.shuffle(marks)
    return list(marks)


def layers(marks: list[Mark], rng: Random) -> list[Node | Mark | str]:
    """All cuts in one group, all scores in another."""
    out: list[Node | Mark | str] = []
    for role in rng.sample(["cut", "score", "draw"], 3):
        kids: list[Node | Mark | str] = [mark for mark in marks if mark.role == role]
        if kids:
            out.append(Node("g", {"id": f"layer{len(out) + 1}"}, kids, layer=role))
    return out


def piece_marks(index: int, marks: list[Mark], rng: Random) -> list[Node | Mark | str]:
    """The marks that stand in the group of a piece, in one of several orders or sub-groups."""
    own = [m for m in marks if m.home == str(index) or (not m.home and m.piece == index)]
    order = rng.choice(["plain", "scores first", "sub-groups", "scores deeper"])
    cuts: list[Node | Mark | str] = [m for m in own if m.role == "cut"]
    cuts += [m for m in own if m.role == "draw"]
    scores: list[Node | Mark | str] = [m for m in own if m.role == "score"]
    if order == "plain" or not scores or not cuts:
        return cuts + scores
    if order == "scores first":
        return scores + cuts
    low = Node("g", {}, scores, layer="score")
    if order == "scores deeper":
        return [*cuts, low]
    drawn = [m for m in cuts if isinstance(m, Mark) and m.role == "draw"]
    return [Node("g", {}, [m for m in cuts if m not in drawn], layer="cut"), low, *drawn]


def piece_group(
    sheet: Sheet, index: int, marks: list[Mark], rng: Random, shape: str
) -> Node | Mark | str:
    """The group of one piece."""
    node = group(piece_marks(index, marks, rng), id=f"{sheet.pieces[index].name}-{index + 1}")
    if shape == "placed":
        with_transform(node, rng, complex(*sheet.pieces[index].box[:2]))
    return node


def rows(groups: list[Node | Mark | str], rng: Random) -> list[Node | Mark | str]:
    """Piece groups in groups of two or more, and these in one."""
    out: list[Node | Mark | str] = []
    left = list(groups)
    while left:
        take = rng.randint(2, 3)
        out.append(
            with_transform(group(left[:take]), rng) if rng.random() < 0.3 else group(left[:take])
        )
        left = left[take:]
    return [group(out, id="sheet")]


def symbols(
    sheet: Sheet, marks: list[Mark], user: Matrix, rng: Random
) -> tuple[list[Node | Mark | str], list[Node]]:
    """Each piece in a symbol or a defs group, drawn by use; twins use the same one."""
    uses: dict[int, Node] = {}
    defs: list[Node] = []
    for index, piece in enumerate(sheet.pieces):
        name = f"{piece.name}-{index + 1}"
        if index in sheet.twins:
            base, move = sheet.twins[index]
            uses[index] = repeated(uses[base], move * user.size, name)
            continue
        kids = piece_marks(index, marks, rng)
        if kids:
            uses[index], original = symbol(piece.box, name, kids, user, rng)
            defs.append(original)
        if index in sheet.again:
            uses[-index - 1] = repeated(uses[index], 0j, name)
    return list(uses.values()), defs


def symbol(
    box: tuple[float, float, float, float],
    name: str,
    kids: list[Node | Mark | str],
    user: Matrix,
    rng: Random,
) -> tuple[Node, Node]:
    """A use, and the symbol or group it shows; the matrix of the use stands on the latter."""
    corner, far = user.at(complex(box[0] - 2, box[1] - 2)), user.at(complex(box[2] + 2, box[3] + 2))
    use = {"href": f"#{name}"}
    if (kind := rng.choice(["symbol", "symbol-view", "group", "group"])) == "group":
        use["transform"], matrix = transform(rng, corner, mild=True)
        return Node("use", use), Node("g", {"id": name}, kids, matrix)
    use |= {"x": number(corner.real, 2), "y": number(corner.imag, 2)}
    matrix = shift(complex(float(use["x"]), float(use["y"])))
    if kind == "symbol":
        return Node("use", use), Node("symbol", {"id": name, "overflow": "visible"}, kids, matrix)
    k = rng.choice([1, 2, 10, 100])
    wide, high = round((far - corner).real + 0.01, 2), round((far - corner).imag + 0.01, 2)
    use |= {"width": number(wide, 2), "height": number(high, 2)}
    view = f"0 0 {number(wide * k, 2)} {number(high * k, 2)}"
    original = Node("symbol", {"id": name, "viewBox": view, "overflow": "visible"}, kids)
    original.matrix = matrix @ zoom(1 / k)
    return Node("use", use), original


def repeated(first: Node, move: complex, name: str) -> Node:
    """A use that shows the same once more, moved by a translation in front of its own transform."""
    use = dict(first.attributes)
    step = f"translate({number(move.real, 6)} {number(move.imag, 6)})"
    use["transform"] = " ".join(filter(None, [step, use.get("transform", "")]))
    use["id"] = f"{name}-again"
    return Node("use", use)


def inner_svg(body: list[Node | Mark | str], rng: Random) -> Node:
    """Everything in a nested svg with its own viewBox (scales equal, so nothing is stretched)."""
    x, y, k = round(rng.uniform(-20, 20), 2), round(rng.uniform(-20, 20), 2), rng.choice([1, 2, 10])
    left, top = round(rng.uniform(-10, 10), 1), round(rng.uniform(-10, 10), 1)
    attributes = {
        "x": number(x, 2),
        "y": number(y, 2),
        "width": "400",
        "height": "400",
        "viewBox": f"{number(left, 1)} {number(top, 1)} {400 * k} {400 * k}",
        "overflow": "visible",
    }
    node = Node("svg", attributes, body)
    node.matrix = shift(complex(x, y)) @ zoom(1 / k) @ shift(complex(-left, -top))
    return node
