"""Which groups of the drawing hold one piece alone."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from matready.lint.cutting.roles import texts_of
from matready.lint.drawing import Drawing

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.cutting.cutout import Cutout

_LAYER = re.compile(r"(layer|ebene|calque|capa|laag|livello|camada)(?![^\W\d_])", re.IGNORECASE)


def outline_owners(
    drawing: Drawing, outlines: Sequence[Sequence[int]], units: Sequence[int]
) -> dict[int, set[int]]:
    """For each node the units whose outline nodes lie at or below it."""
    owners: dict[int, set[int]] = defaultdict(set)
    for unit, nodes in zip(units, outlines, strict=True):
        for node in nodes:
            for above in drawing.ancestors(node):
                if unit in owners[above]:
                    break
                owners[above].add(unit)
    return owners


def owners_in(cutout: Cutout) -> dict[int, set[int]]:
    """For each node the units whose outlines, or copies of them, lie at or below it.

    An outline that is still open will be a piece too: it counts as a unit of its own.
    """
    copies_of = cutout.copies()
    outlines, units = [], []
    for piece in cutout.pieces:
        copies = [copy for line in piece.own for copy in copies_of.get(line, ())]
        outlines.append(cutout.nodes([*piece.own, *copies]))
        units.append(piece.unit)
    for number, opening in enumerate(cutout.openings, len(cutout.pieces)):
        outlines.append(cutout.nodes(opening.lines))
        units.append(number)
    return outline_owners(cutout.drawing, outlines, units)


def holders_of(
    drawing: Drawing, owners: Mapping[int, set[int]], nodes: Sequence[int], unit: int
) -> list[int]:
    """Nodes that hold all of `nodes` and the outline of no other unit, nearest first.

    Neither the root nor a layer is a holder: both are the page's.
    """
    chains = [drawing.ancestors(node) for node in nodes]
    common = [n for n in chains[0] if all(n in chain for chain in chains[1:])]
    alone = [n for n in common if n > 0 and owners.get(n, set()) == {unit}]
    return [n for n in alone if not _is_layer(drawing, n)]


def _is_layer(drawing: Drawing, node: int) -> bool:
    """True for a group that a drawing program shows as a layer, by its mark or its name."""
    named = any(is_layer_name(text) for text in texts_of(drawing, node))
    return named or is_layer(drawing.nodes[node].element)


def is_layer_name(text: str) -> bool:
    """True for a name by which drawing programs call their layers."""
    return _LAYER.match(text) is not None


def is_layer(element: _Element) -> bool:
    """True for a group that a drawing program has marked as a layer."""
    marks = element.attrib.items()
    return any(str(key).endswith("}groupmode") and value == "layer" for key, value in marks)
