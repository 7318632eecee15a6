"""What each piece is called: after its outline, the group that holds just it, or its place."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from matready.lint.cutting.grouping import holders_of, outline_owners
from matready.lint.cutting.roles import texts_of
from matready.lint.cutting.words import role_of
from matready.lint.drawing import Drawing

_OUTLINE = re.compile(r"outline|contour|umriss|kontur|contorno|omtrek", re.IGNORECASE)
_NUMBERED = re.compile(
    r"(path|rect|circle|ellipse|line|poly(gon|line)|use|g|group|svg(id)?|shape|layer|object|"
    r"compound ?path|clip ?path|outline|contour|edge|element|ebene|calque|capa|laag|livello|camada)"
    r"?[\s_.:#-]*[\d_\s.-]*",
    re.IGNORECASE,
)


def name_pieces(drawing: Drawing, own: Sequence[Sequence[int]]) -> list[str]:
    """A name for each piece, given its own lines; no name twice."""
    taken: dict[str, int] = {}
    names = []
    for k, given in enumerate(given_names(drawing, own)):
        name = given or f"piece-{k + 1}"
        taken[name] = taken.get(name, 0) + 1
        names.append(name if taken[name] == 1 else f"{name} ({taken[name]})")
    return names


def given_names(drawing: Drawing, own: Sequence[Sequence[int]]) -> list[str | None]:
    """The name that somebody gave to each piece, given its own lines; None where nobody did."""
    return [_given_name(drawing, alone, above) for alone, above in _standing(drawing, own)]


def bearers(drawing: Drawing, own: Sequence[Sequence[int]]) -> list[int | None]:
    """For each piece the node that can bear its name: a `use`, a group or the outline itself.

    None where nothing in the file stands for just this piece: its outline is several lines in no
    group of their own, or a part of a path that draws other pieces too.
    """
    return [_bearer(drawing, alone, above) for alone, above in _standing(drawing, own)]


def _bearer(drawing: Drawing, alone: Sequence[int], holders: Sequence[int]) -> int | None:
    nodes = drawing.nodes
    instances = {nodes[node].instance for node in (*alone, *holders)} - {-1}
    if instances:  # what a use shows has its name on the use, if that shows nothing else
        return next((node for node in holders if node in instances), None)
    groups = (node for node in holders if nodes[node].kind == "g")
    return next(groups, next(iter(alone), None))


def _standing(
    drawing: Drawing, own: Sequence[Sequence[int]]
) -> Iterator[tuple[list[int], list[int]]]:
    """For each piece the one element that is its outline and no other's, and what holds just it."""
    outlines = [[int(drawing.line_node[line]) for line in of] for of in own]
    owners = outline_owners(drawing, outlines, range(len(own)))
    for k, nodes in enumerate(outlines):
        holders = holders_of(drawing, owners, nodes, k) if nodes else []
        alone = set(nodes) if nodes and owners[nodes[0]] == {k} else set()
        yield [*alone] if len(alone) == 1 else [], holders


def _given_name(drawing: Drawing, own: Sequence[int], holders: Sequence[int]) -> str | None:
    """The name on the outline's own element, else on the nearest group that holds just it.

    What a `use` is called comes before the names inside the symbol that it repeats, and a name
    that says "outline" comes last.
    """
    nodes = [*own, *holders]
    instances = {drawing.nodes[node].instance for node in nodes} - {-1}
    nodes.sort(key=lambda node: node not in instances)
    names = [name for node in nodes for name in _names_on(drawing, node)]
    names.sort(key=lambda name: bool(_OUTLINE.search(name)))
    return names[0] if names else None


def _names_on(drawing: Drawing, node: int) -> list[str]:
    element = drawing.nodes[node].element
    skip = element.get("class")
    names = (_readable(text) for text in texts_of(drawing, node) if text != skip)
    return [name for name in names if name]


def _readable(text: str) -> str | None:
    """The text as a piece's name, or None where a program made it up or it only tells a role."""
    name = " ".join(text.split())
    if not name or _NUMBERED.fullmatch(name):
        return None
    plain = re.fullmatch(r"[^\W\d_]+[\s_-]*\d*", name)
    return None if plain and role_of(name, open_line=False) else name
