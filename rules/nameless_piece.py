"""Pieces have no name by which anyone could tell them apart.

What it finds
    Pieces, in a file with several, that have no name: neither their outline nor a group that holds
    just the piece has an id, title or label that somebody gave it. Ids that programs make up, such
    as path1234 or g12, and the names of layers tell nothing. A file with a single piece is named
    by the file.

Why it matters at the machine
    The cut is the same. But who looks for one piece in the list of objects, to cut it once more
    after a slip of the blade, finds forty paths with numbers; and so does every report.

How to put it right
    Group each piece with its folds and name the group after what it is: "left wing", "tab 3". A
    title made here holds the piece's number in reading order and its size.

When to leave it
    When all pieces of the file are alike, or you know them by sight.

In a drawing
    Wrong: three wings as path1042, path1044 and path1048, in a group called "Layer 1".
    Right: <path id="left-wing" …>, or a title in the path: <title>left wing</title>.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from matready.lint.acts import Entitle, Fix
from matready.lint.cutting import Cutout
from matready.lint.cutting.naming import bearers, given_names
from matready.lint.finding import Finding, Grade, Severity
from matready.lint.rule import Rule


@dataclass(frozen=True, slots=True)
class Limits:
    """A piece has a name or has none: there is no limit to set."""


def _titles(cutout: Cutout, pieces: Sequence[int], nodes: Sequence[int]) -> Entitle:
    """Titles that tell the pieces apart: the number by which reports call each, and its size."""
    titles = []
    for k, node in zip(pieces, nodes, strict=True):
        x0, y0, x1, y1 = cutout.pieces[k].box
        titles.append((node, f"piece {k + 1}, {x1 - x0:.0f} × {y1 - y0:.0f} mm"))
    return Entitle(tuple(titles))


def _finding(cutout: Cutout, pieces: Sequence[int], why: str, fix: Fix | None) -> Finding:
    shown = [cutout.pieces[k] for k in pieces]
    low, high = zip(*((piece.box[:2], piece.box[2:]) for piece in shown), strict=True)
    (x0, y0), (x1, y1) = map(min, zip(*low, strict=True)), map(max, zip(*high, strict=True))
    inner = shown[0].card.representative_point()
    one = len(shown) == 1
    count = f"{len(shown)} of {len(cutout.pieces)} pieces"
    return Finding(
        message=f"{count} {'has' if one else 'have'} no name{why.format('it' if one else 'them')}",
        at=(inner.x, inner.y),
        box=(x0, y0, x1, y1),
        nodes=cutout.nodes(line for piece in shown for line in piece.own),
        piece=None if shown[1:] else shown[0].name,
        fix=fix,
    )


def _shares_named_lines(cutout: Cutout, number: int) -> bool:
    """Whether several shapes, one with a name, bound a piece that has cuts in common with others.

    No name stands for such a piece alone, and it cannot be moved alone either.
    """
    piece = cutout.pieces[number]
    alone = sum(other.unit == piece.unit for other in cutout.pieces) < 2
    if alone or len(cutout.nodes(piece.lines)) < 2:
        return False
    return any(given_names(cutout.drawing, [[line] for line in piece.lines]))


def check(cutout: Cutout, limits: Limits) -> Iterator[Finding]:
    """One finding for the pieces that can be named, one for those that nothing stands for."""
    if len(cutout.pieces) < 2:
        return
    own = [piece.own for piece in cutout.pieces]
    nameless = [k for k, name in enumerate(given_names(cutout.drawing, own)) if name is None]
    if not nameless:
        return
    nodes = bearers(cutout.drawing, own)
    named = [(k, node) for k in nameless if (node := nodes[k]) is not None]
    others = [k for k in nameless if nodes[k] is None and not _shares_named_lines(cutout, k)]
    if named:
        pieces, bearing = zip(*named, strict=True)
        fix = Fix(Grade.SAFE, _titles(cutout, pieces, bearing))
        yield _finding(cutout, pieces, ": no id, title or label tells {} apart", fix)
    if others:
        why = ", and none can be given to {}: lines in no group, or a path with other pieces in it"
        yield _finding(cutout, others, why, None)


RULE = Rule(
    "nameless-piece",
    Severity.TIDY,
    Limits,
    check,
    Grade.SAFE,
    yields_to=("crossed-outline", "broken-path"),
    gathers=True,
)
