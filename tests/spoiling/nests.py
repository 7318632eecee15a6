"""How the marks of a strip are nested: who shares a group with whom, and whose folds are loose."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from random import Random

from tests.planting.groups import transform
from tests.planting.pages import number
from tests.planting.strokes import Matrix, shift
from tests.spoiling.clusters import Mark
from tests.spoiling.parts import has_arcs


@dataclass
class Node:
    """An element that holds others; `role` where it is a layer of that role.

    `matrix` is what its attributes do to what is in it; of an element in the defs, what the use
    does.
    """

    tag: str = "g"
    attributes: dict[str, str] = field(default_factory=dict)
    kids: list[Node | Mark] = field(default_factory=list)
    matrix: Matrix = field(default_factory=Matrix)
    role: str = ""


@dataclass
class Nest:
    """What stands in the strip, what in the defs, and which parts have loose folds."""

    body: list[Node | Mark]
    loose: set[int]
    defs: list[Node] = field(default_factory=list)
    may_stay: bool = False


def _kids(marks: Sequence[Mark]) -> list[Node | Mark]:
    return list(marks)


def _by_part(marks: Sequence[Mark]) -> dict[int, list[Mark]]:
    parts: dict[int, list[Mark]] = {}
    for mark in marks:
        parts.setdefault(mark.part, []).append(mark)
    return parts


def _with_folds(marks: Sequence[Mark]) -> set[int]:
    return {mark.part for mark in marks if mark.role == "score"}


def _roles(marks: Sequence[Mark]) -> tuple[list[Mark], list[Mark]]:
    return [m for m in marks if m.role != "score"], [m for m in marks if m.role == "score"]


def _moved(node: Node, rng: Random, marks: Sequence[Mark]) -> Node:
    """The node, mostly with a transform; with a skew where nothing in it is an arc."""
    chance = rng.random()
    if chance < 0.3:
        return node
    skew = not any(has_arcs(sub.chain) or m.form == "shape" for m in marks for sub in m.subs)
    if skew and chance < 0.5:
        angle = round(rng.uniform(-30, 30), 1)
        node.attributes["transform"] = f"translate(3 2) skewX({number(angle, 1)})"
        node.matrix = shift(3 + 2j) @ Matrix(c=math.tan(math.radians(angle)))
    else:
        node.attributes["transform"], node.matrix = transform(rng, 10 + 10j, mild=True)
    return node


def flat(marks: list[Mark], rng: Random) -> Nest:
    """Outlines and folds side by side, part by part or role by role."""
    cuts, scores = _roles(marks)
    return Nest(_kids(marks if rng.random() < 0.5 else cuts + scores), _with_folds(marks))


def wrapped(marks: list[Mark], rng: Random) -> Nest:
    """All of them in one group with a transform."""
    nest = flat(marks, rng)
    nest.body = [_moved(Node(kids=nest.body, attributes={"id": "stage"}), rng, marks)]
    # A single part shares that group with nothing else: it holds the piece.
    alone = len({mark.part for mark in marks}) == 1 and not any(m.stray for m in marks)
    return Nest(nest.body, set() if alone else nest.loose)


def layers(marks: list[Mark], rng: Random) -> Nest:
    """All cuts in one group, all folds in another, each with its own transform."""
    cuts, scores = _roles(marks)
    lower = _moved(Node(kids=_kids(cuts), role="cut"), rng, cuts)
    upper = _moved(Node(kids=_kids(scores), role="score"), rng, scores)
    body: list[Node | Mark] = [lower, upper]
    if rng.random() < 0.3:
        body = [_moved(Node(kids=body, attributes={"id": "stage"}), rng, marks)]
    alone = len({mark.part for mark in marks}) == 1 and len(body) == 1
    return Nest(body, set() if alone else _with_folds(marks))


def deep(marks: list[Mark], rng: Random) -> Nest:
    """Layers of groups of groups, one mark in each of the innermost."""
    nest = layers(marks, rng)
    for layer in nest.body:
        if isinstance(layer, Node) and layer.role:
            own = [kid for kid in layer.kids if isinstance(kid, Mark)]
            layer.kids = [_moved(Node(kids=[mark]), rng, [mark]) for mark in own]
    return nest


def see_through(marks: list[Mark], rng: Random) -> Nest:
    """Layers of which that of the folds is half transparent as a whole."""
    nest = layers(marks, rng)
    for layer in nest.body:
        if isinstance(layer, Node) and layer.role == "score":
            layer.attributes["opacity"] = "0.5"
    return nest


def grouped(marks: list[Mark], rng: Random) -> Nest:
    """A proper group for each part; strays beside them."""
    body: list[Node | Mark] = []
    for own in _by_part([m for m in marks if not m.stray]).values():
        body.append(_moved(Node(kids=_kids(own)), rng, own))
    strays = _kids([m for m in marks if m.stray])
    return Nest(strays + body if rng.random() < 0.3 else body + strays, set())


def left_out(marks: list[Mark], rng: Random) -> Nest:
    """A group for each part; of some parts a fold stands outside it."""
    nest = grouped(marks, rng)
    outside: list[Node | Mark] = []
    for node in nest.body:
        if isinstance(node, Node) and rng.random() < 0.7:
            scores = [kid for kid in node.kids if isinstance(kid, Mark) and kid.role == "score"]
            for mark in scores[: rng.choice([1, len(scores)])]:
                node.kids.remove(mark)
                outside.append(mark)
                nest.loose.add(mark.part)
    nest.body = outside + nest.body if rng.random() < 0.2 else nest.body + outside
    return nest


def exchanged(marks: list[Mark], rng: Random) -> Nest:
    """A group for each part, with the folds of another part in it."""
    parts = _by_part([m for m in marks if not m.stray])
    folds = {number: _roles(own)[1] for number, own in parts.items()}
    order = list(parts)
    loose: set[int] = set()
    body: list[Node | Mark] = []
    for part, other in zip(order, order[1:] + order[:1], strict=True):
        own = _roles(parts[part])[0] + folds[other]
        loose |= {other} if folds[other] and other != part else set()
        body.append(_moved(Node(kids=_kids(own)), rng, own))
    return Nest(body + _kids([m for m in marks if m.stray]), loose)


def joined(marks: list[Mark], rng: Random) -> Nest:
    """The outlines of several parts in one path, or their folds, or both."""
    which = rng.choice(["cut", "score", "both"])
    out: list[Mark] = []
    firsts: dict[str, Mark] = {}
    for mark in marks:
        whole = mark.role == "score" or all(sub.closed for sub in mark.subs)
        if which in (mark.role, "both") and whole and not mark.stray and mark.role != "draw":
            if mark.role in firsts:
                firsts[mark.role].subs += mark.subs
                continue
            mark.form = "path"
            firsts[mark.role] = mark
        out.append(mark)
    single = len({mark.part for mark in marks}) == 1
    nest = rng.choice([flat, layers])(out, rng)
    return Nest(nest.body, nest.loose | (set() if single else _with_folds(marks)))


def used(marks: list[Mark], rng: Random) -> Nest:
    """Outlines, and perhaps folds, in the defs and drawn by use."""
    body: list[Node | Mark] = []
    defs: list[Node] = []
    both = rng.random() < 0.4
    for part, own in _by_part(marks).items():
        cuts, scores = _roles(own)
        for role, some in (("cut", cuts), ("score", scores)):
            if some and (role == "cut" or both):
                use, held = _use(f"part-{part}-{role}", some, role, rng)
                body.append(use)
                defs.append(held)
            else:
                body += some
    return Nest(body, _with_folds(marks), defs)


def _use(name: str, marks: list[Mark], role: str, rng: Random) -> tuple[Node, Node]:
    """A use and what it shows; the use's matrix also stands on the latter."""
    use = _moved(Node("use", {"href": f"#{name}"}, role=role), rng, marks)
    x, y = round(rng.uniform(-9, 9), 1), round(rng.uniform(-9, 9), 1)
    if rng.random() < 0.4:
        use.attributes |= {"x": number(x, 1), "y": number(y, 1)}
        use.matrix = use.matrix @ shift(complex(x, y))
    kind = rng.choice(["g", "g", "symbol"])
    more = {"overflow": "visible"} if kind == "symbol" else {}
    return use, Node(kind, {"id": name, **more}, _kids(marks), use.matrix)


def between(marks: list[Mark], rng: Random) -> Nest:
    """Role by role, and between the two a painted thing that lies over the outlines."""
    cuts, scores = _roles(marks)
    painted = [m for m in cuts if m.role == "draw"]
    rest = [m for m in cuts if m.role == "cut"]
    return Nest(_kids(rest + painted + scores), _with_folds(marks), may_stay=True)


NESTS: dict[str, Callable[[list[Mark], Random], Nest]] = {
    "flat": flat,
    "wrapped": wrapped,
    "layers": layers,
    "deep": deep,
    "see-through": see_through,
    "left-out": left_out,
    "exchanged": exchanged,
    "joined": joined,
    "used": used,
    "between": between,
}
