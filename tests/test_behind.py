"""An outline is put behind what lies inside it: the order as another program reads it, no new look.

References: svgelements 1.9.6 tells in which order shapes are drawn, shapely which lie in which;
resvg, through resvg_py 0.5, draws source and copy.
"""

from __future__ import annotations

import io
import random

import pytest
import shapely
import svgelements

from matready.lint.repair import repair
from matready.lint.runner import lint_bytes
from matready.lint.settings import Reading, Settings
from matready.rules import RULES

from tests.drawn import CUT, FOLD, page, path
from tests.spoiling.reading import lines_of, png

ORDERING = Settings(only=frozenset({"cut-order"}), read=Reading(scores="scored"))


def _ordered(data: bytes) -> bytes:
    return repair(data, "drawing.svg", RULES, ORDERING).data


def _too_early(data: bytes) -> int:
    """Closed lines that are drawn before some line that lies inside them."""
    lines = [shapely.LineString(line) for line in lines_of(data)]
    areas = [shapely.Polygon(line) if line.is_closed else None for line in lines]
    return sum(
        area is not None and any(area.contains(later) for later in lines[k + 1 :])
        for k, area in enumerate(areas)
    )


def _panel(rng: random.Random, x: float, y: float) -> list[str]:
    """The lines of a panel with windows and folds that touch nothing, in any order."""
    parts = [path(f"M{x} {y}h40v40h-40z")]
    parts += [path(f"M{x + 5} {y + 5 + 10 * k}h8v8h-8z") for k in range(rng.randrange(3))]
    parts += [path(f"M{x + 20 + 5 * k} {y + 5}v30", FOLD) for k in range(rng.randrange(1, 4))]
    rng.shuffle(parts)
    return parts


def _sheet(rng: random.Random) -> bytes:
    """Nine panels: in a group each, in no group, or in layers that take turns."""
    panels = [_panel(rng, 10 + 60 * (k % 3), 10 + 60 * (k // 3)) for k in range(9)]
    how = rng.choice(("groups", "flat", "layers", "mixed"))
    turn = rng.choice(("", ' transform="rotate(2 100 100)"'))
    if how == "layers":
        layers: list[list[str]] = [[], [], []]
        for part in (part for panel in panels for part in panel):
            rng.choice(layers).append(part)
        return page(*(_group(layer, turn) for layer in layers if layer))
    if how == "mixed":
        rng.shuffle(panels)
        kept = [part for panel in panels[:4] for part in panel]
        return page(f"<g{turn}>", *kept, *(f"<g>{''.join(p)}</g>" for p in panels[4:]), "</g>")
    if how == "flat":
        return page(f"<g{turn}>\n", *(f"{part}\n" for panel in panels for part in panel), "</g>")
    return page(*(_group(panel, turn) for panel in panels))


def _group(parts: list[str], turn: str) -> str:
    rows = "".join(f"  {part}\n" for part in parts)
    return f"<g{turn}>\n{rows}</g>\n"


@pytest.mark.parametrize("seed", range(60))
def test_outlines_go_behind_what_lies_in_them_and_nothing_else_is_seen(seed: int) -> None:
    data = _sheet(random.Random(seed))
    copy = _ordered(data)
    found = lint_bytes(data, "x.svg", RULES, ORDERING).findings
    assert bool(found) == bool(_too_early(data))
    promised = sum(finding.fix is not None for finding in found)
    assert _too_early(copy) <= _too_early(data) - promised
    assert png(copy) == png(data)
    assert _ordered(copy) == copy


@pytest.mark.parametrize("looks", ["", 'fill="none"', 'fill="#fbead2"'])
def test_a_fill_is_never_put_over_what_it_would_hide(looks: str) -> None:
    stroke = f'{looks} stroke="#33475b"'
    data = page("<g>", path("M20 20h60v60h-60z", stroke), path("M40 40h20v20h-20z"), "</g>")
    copy = _ordered(data)
    assert png(copy) == png(data)
    assert (copy != data) == (looks == 'fill="none"')


def test_a_text_under_the_outline_stays_under_it() -> None:
    text = '<text x="30" y="25" font-size="20" fill="#b5543a">wall</text>'
    data = page("<g>", path("M20 20h60v60h-60z"), text, path("M40 40h20v20h-20z"), "</g>")
    done = repair(data, "drawing.svg", RULES, ORDERING)
    assert done.data == data
    assert "text" in done.not_fixed[0].reason


def test_shapes_are_put_behind_each_other_as_another_program_reads_them() -> None:
    data = page(
        f'<g><rect id="wall" x="20" y="20" width="60" height="60" {CUT}/>',
        f'<circle id="window" cx="50" cy="50" r="9" {CUT}/></g>',
    )
    ids = [
        [shape.id for shape in svgelements.SVG.parse(io.BytesIO(each)).select() if shape.id]
        for each in (data, _ordered(data))
    ]
    assert ids == [["wall", "window"], ["window", "wall"]]
