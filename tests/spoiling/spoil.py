"""One spoilt drawing: a real file, parts with faults in a strip beside it, all of it as bytes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import NamedTuple

from tests.corpus import RealFile
from tests.planting.marks import Sub
from tests.planting.strokes import Matrix, chain_length, circle, shift, turn
from tests.spoiling.clusters import DOUBLES, GAPS, Cluster, Mark, sound
from tests.spoiling.dress import any_dress
from tests.spoiling.elements import Writer
from tests.spoiling.looks import LABELS, Look, any_look
from tests.spoiling.nests import NESTS, Nest, Node, grouped
from tests.spoiling.pages import Sheet, enlarge
from tests.spoiling.parts import box_of
from tests.spoiling.truth import DOUBLE, GAP, KINDS, LOOSE, Planted, Spoilt, Unseen

_IN_GROUPS = ("grouped", "left-out", "exchanged")  # where a stray copy lies beside a group
_UMLAUTS = {"door": "tür", "arch": "türbogen", "wing": "flügel", "wall": "rückwand"}


def spoil(
    file: RealFile,
    rng: Random,
    kinds: tuple[str, ...] = KINDS,
    nest: str | None = None,
    styling: str | None = None,
) -> Spoilt:
    """Spoil a real drawing with faults of these kinds; `nest` and `styling` are chosen at will."""
    sheet = enlarge(file.data.decode("utf-8"), rng.choice([1, 2, 2, 3]), rng)
    clusters = _clusters(sheet, rng, kinds)
    marks = [mark for cluster in clusters for mark in cluster.marks]
    chosen = (nest or rng.choice(list(NESTS))) if LOOSE in kinds else "grouped"
    if chosen == "between":
        marks += [_painted(cluster, rng) for cluster in clusters]
    folded = {mark.part for mark in marks if mark.role == "score"}
    boxes = {part: _fold_box(marks, part) for part in folded}
    length_mm = sum(chain_length(sub.chain) for mark in marks for sub in mark.subs)
    others = tuple(box_of(s.chain) for mark in marks if mark.role != "cut" for s in mark.subs)
    made = NESTS.get(chosen, grouped)(marks, rng)
    # Two outlines in one path: no group holds one of them alone, however they are nested.
    loose = (made.loose | _fused(clusters) & folded) - _beside(made, clusters)
    look = any_look(rng, styling)
    planted = [fault for cluster in clusters for fault in cluster.planted]
    planted += [
        Planted(LOOSE, chosen, boxes[part], may_stay=made.may_stay) for part in sorted(loose)
    ]
    names = {c.first + i: name for c in clusters for i, name in enumerate(c.names)}
    data, more = _written(sheet, made, look, names, rng)
    strays = {mark.part for mark in marks if mark.stray} if chosen in _IN_GROUPS else set()
    return Spoilt(
        name=file.name,
        data=data,
        encoding=more.encoding,
        planted=tuple(planted),
        page_mm=sheet.width_mm,
        strip=sheet.strip,
        length_mm=length_mm,
        others=others,
        art=more.art,
        unseen=tuple(more.unseen),
        keep=tuple(name for part in sorted(strays) for name in more.ids.get(part, ())),
        traits={"nest": chosen, "styling": look.styling, "clue": look.clue, **more.traits},
    )


class _File(NamedTuple):
    """What is known of a file once it is written."""

    encoding: str
    art: str
    unseen: list[Unseen]
    ids: dict[int, list[str]]
    traits: dict[str, str]


def _written(
    sheet: Sheet, made: Nest, look: Look, names: dict[int, str], rng: Random
) -> tuple[bytes, _File]:
    """The bytes of the file, and what is known of it."""
    if rng.random() < 0.3:
        names = {part: _UMLAUTS.get(name, name) for part, name in names.items()}
    writer = Writer(look, sheet.matrix, names, rng)
    body = writer.elements(made.body, sheet.matrix, ())
    defs = writer.elements([*made.defs], sheet.matrix, ())
    dress = any_dress(rng, bool(writer.sheet.rules))
    body = dress.refer(dress.remark(body, rng), rng)
    defs = f"<defs>\n{defs}\n</defs>" if defs else ""
    parts = [defs, body] if rng.random() < 0.7 else [body, defs]
    head = sheet.head
    for prefix, name in (("n", LABELS), ("xlink", "http://www.w3.org/1999/xlink")):
        if f"xmlns:{prefix}=" not in head:
            head = head.replace("<svg", f'<svg xmlns:{prefix}="{name}"', 1)
    style = writer.sheet.text(dress.cdata, "  ")
    pieces = [dress.over(text) for text in (head, style, sheet.art, *parts, "</svg>")]
    if not _fits("".join(pieces), dress.encoding):
        dress = replace(dress, encoding="utf-8")
    data = dress.file(pieces[0], *pieces[1:], entities=writer.sheet.entities)
    traits = {
        "encoding": dress.encoding + (" packed" if dress.packed else ""),
        "lines": repr(dress.lines),
        "dress": " ".join(filter(None, (dress.blanks, "prefixed" * dress.prefixed))),
    }
    return data, _File(dress.encoding, pieces[2], writer.sheet.unseen, writer.ids, traits)


def _fits(text: str, encoding: str) -> bool:
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def _clusters(sheet: Sheet, rng: Random, kinds: tuple[str, ...]) -> list[Cluster]:
    """A cluster for each cell of the strip."""
    recipes: list[Callable[[Cluster, Matrix, Random], None]] = []
    recipes += GAPS * 5 if GAP in kinds else ()
    recipes += DOUBLES * 4 if DOUBLE in kinds else ()
    if LOOSE in kinds:
        recipes += [sound] * max(1, len(recipes) // 2)
    clusters: list[Cluster] = []
    first = 0
    for cell in sheet.cells:
        angle = rng.choice([0.0, 0.0, 90.0, rng.uniform(0, 360)])
        cluster = Cluster(first=first)
        rng.choice(recipes)(cluster, shift(cell) @ turn(angle), rng)
        clusters.append(cluster)
        first += len(cluster.names)
    return clusters


def _painted(cluster: Cluster, rng: Random) -> Mark:
    """A painted disc over the middle of a cluster."""
    left, top, right, bottom = box_of(*(sub.chain for m in cluster.marks for sub in m.subs))
    disc = circle(complex((left + right) / 2, (top + bottom) / 2), rng.uniform(4, 8))
    return Mark("draw", cluster.first, [Sub(disc, True)], "shape")


def _fold_box(marks: list[Mark], part: int) -> tuple[float, float, float, float]:
    own = [mark for mark in marks if mark.part == part and mark.role == "score"]
    return box_of(*(sub.chain for mark in own for sub in mark.subs))


def _fused(clusters: list[Cluster]) -> set[int]:
    """Parts whose outlines are one path: no group can hold one of them alone."""
    return {part for c in clusters if len(_drawn(c.marks)) < len(c.names) for part in _parts(c)}


def _beside(made: Nest, clusters: list[Cluster]) -> set[int]:
    """Parts whose folds all share a group with both panels of two that hang on one edge.

    The two are one thing to move: nobody can move one of them without the edge that both have.
    """
    pairs = [(_parts(c), _drawn(c.marks)) for c in clusters if len(c.names) > 1]
    beside, elsewhere = set[int](), set[int]()
    for node in made.body:
        marks = _marks_in(node)
        scored = {mark.part for mark in marks if mark.role == "score"}
        within = {part for parts, drawn in pairs if _drawn(marks) == drawn for part in parts}
        held = scored & within if isinstance(node, Node) else set()
        beside |= held
        elsewhere |= scored - held
    return beside - elsewhere


def _parts(cluster: Cluster) -> set[int]:
    return {cluster.first + i for i in range(len(cluster.names))}


def _drawn(marks: list[Mark]) -> set[int]:
    """The parts that have cut lines among some marks."""
    return {mark.part for mark in marks if mark.role == "cut"}


def _marks_in(node: Node | Mark) -> list[Mark]:
    if isinstance(node, Mark):
        return [node]
    return [mark for kid in node.kids for mark in _marks_in(kid)]
