"""What each piece is called: after its outline, the group that holds just it, or its place."""

from __future__ import annotations

import re
from collections.abc import Sequence

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
    outlines = [[int(drawing.line_node[line]) for line in of] for of in own]
    owners = outline_owners(drawing, outlines, range(len(own)))
    taken: dict[str, int] = {}
    names = []
    for k, nodes in enumerate(outlines):
        holders = holders_of(drawing, owners, nodes, k) if nodes else []
        alone = set(nodes) if nodes and owners[nodes[0]] == {k} else set()
        name = (
            _given_name(drawing, [*alone] if len(alone) == 1 else [], holders) or f"piece-{k + 1}"
        )
        taken[name] = taken.get(name, 0) + 1
        names.append(name if taken[name] == 1 else f"{name} ({taken[name]})")
    return names


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
