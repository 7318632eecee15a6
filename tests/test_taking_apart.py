"""Drawings taken apart for the mats: what moves with which piece, what is refused, what is told.

No source outside the project says what belongs together; the drawings are small enough to see it.
Every piece of every file is in one part or in one refusal, which is counted.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from resvg_py import svg_to_bytes

from matready.lint import cutting
from matready.lint.cutting import Cutout, cut
from matready.lint.drawing import Drawing
from matready.lint.inspection import Inspection, inspect_source
from matready.lint.reading import read_drawing
from matready.lint.settings import Reading, Settings
from matready.lint.sheets.gathering import Mending, gather
from matready.lint.sheets.naming import name_all
from matready.lint.sheets.parts import FileParts, Part
from matready.lint.sheets.taking import parts_of
from matready.lint.source import read_file, read_source
from matready.rules import RULES

from tests.drawn import CUT, page, path

DEMO = sorted(
    (Path(__file__).resolve().parent.parent / "fixtures" / "puppet-theatre").glob("*.svg")
)
WALL = path("M20 20H80V80H20Z", name="wall")
DOOR = path("M110 20H150V80H110Z", name="door")
SCORE = 'class="score" fill="none" stroke="#b5543a"'
DRAWN = 'class="engrave" fill="none" stroke="#5a8a4a"'


def taken(*body: str, settings: Settings | None = None) -> FileParts:
    """A page with this body, taken apart with all rules."""
    its = settings or Settings()
    return parts_of(inspect_source(read_source(page(*body), "stage.svg"), RULES, its), its)


def painted(*body: str) -> bytes:
    """The page with this body as resvg paints it on white paper."""
    text = page(*body).decode()
    return bytes(svg_to_bytes(svg_string=text, dpi=96, background="white", skip_system_fonts=True))


def part(found: FileParts, name: str) -> Part:
    """The part with this name, which has to be there once."""
    (one,) = [one for one in found.parts if one.name == name]
    return one


def roles(of: Part) -> list[str]:
    """The roles of a part's lines, in the order in which they are made; holes with a plus."""
    return [line.role + "+" * line.inner for line in of.lines]


def test_lines_go_with_the_piece_they_lie_in_whatever_group_they_stand_in() -> None:
    folds = path("M40 20V80", SCORE) + path("M120 20V80", SCORE)
    found = taken(
        f'<g id="folds">{folds}</g>',
        WALL,
        DOOR,
        path("M30 30H36V36H30Z"),  # a hole
        path("M50 30V60"),  # a slit
        path("M60 40H70", DRAWN),
    )
    assert found.refusals == ()
    assert roles(part(found, "wall")) == ["draw", "score", "cut+", "cut+", "cut"]
    assert roles(part(found, "door")) == ["score", "cut"]


def test_what_hangs_on_a_shared_cut_is_one_part_and_the_cut_is_in_it_once() -> None:
    edges = "".join(map(path, ("M20 20H60", "M60 20H100", "M20 60H60", "M60 60H100", "M20 20V60")))
    found = taken(edges, path("M60 20V60"), path("M100 20V60"))
    (both,) = found.parts
    assert (len(both.pieces), len(both.cards)) == (2, 2)
    assert len(both.lines) == 7
    assert roles(both)[0] == "cut+"  # the edge between them comes before the outline
    assert both.shape.area == pytest.approx(80 * 40)


def test_a_piece_in_a_window_is_a_part_of_its_own() -> None:
    found = taken(WALL, path("M30 30H70V70H30Z"), path("M40 40H60V60H40Z", name="pane"))
    assert [one.name for one in found.parts] == ["wall", "pane"]
    assert part(found, "wall").shape.area == pytest.approx(60 * 60 - 40 * 40)  # room in the window


def test_a_piece_that_shares_an_edge_with_a_window_is_refused_with_it() -> None:
    window = path("M30 30H70V70H30Z", f'{CUT} data-matready-allow="double-cut"')
    found = taken(WALL, window, path("M30 40H50V60H30Z", name="pane"), DOOR)
    assert [refusal.pieces for refusal in found.refusals] == [("wall",), ("pane",)]
    assert "the cut line at 50.0, 50.0 mm lies in wall and pane" in found.refusals[0].reason
    assert [one.name for one in found.parts] == ["door"]


def test_a_score_past_its_piece_keeps_others_away() -> None:
    found = taken(WALL, path("M50 30V84", SCORE))
    x0, y0, x1, y1 = part(found, "wall").shape.bounds
    assert (x0, y0, x1) == (20, 20, 80)
    assert y1 == pytest.approx(84.05)


def test_what_belongs_to_no_piece_is_told() -> None:
    found = taken(
        path("M1 1H199V199H1Z", DRAWN),
        WALL,
        path("M100 100H150", DRAWN),
        '<g id="notes"><text x="100" y="150">cut twice</text></g>',
    )
    assert found.refusals == ()
    assert found.left_out == ("2 drawn lines in no piece", "1 text")


@pytest.mark.parametrize(
    ("hidden", "says"),
    [
        (
            path("M30 30H50V50H30Z", 'style="display:none"'),
            "1 hidden shape at 30.0, 30.0 mm in wall",
        ),
        (
            path("M30 30H50V50H30Z", 'fill="none"') * 2,
            "2 hidden shapes, the first at 30.0, 30.0 mm",
        ),
        (path("M99 1H199", 'stroke="red" opacity="0"'), "1 hidden shape at 99.0, 1.0 mm: show it"),
        (f'<g visibility="hidden">{path("M30 30H50V50H30Z")}</g>', "1 hidden shape at 30.0, 30.0"),
        (path("M30 30H50V50H30Z", 'fill="none" stroke="#fff"'), ""),  # white: cut all the same
    ],
)
def test_a_window_that_is_hidden_is_on_the_mat_or_told(hidden: str, says: str) -> None:
    # What is not rendered: SVG 1.1, 11.5 and 14.5; and resvg paints none of these.
    assert painted(WALL, hidden) == painted(WALL)
    found = taken(WALL, hidden)
    assert len(part(found, "wall").lines) == (1 if says else 2)
    assert len(found.left_out) == bool(says)
    assert all(said.startswith(says) for said in found.left_out)


@pytest.mark.parametrize(
    ("body", "pieces", "reason"),
    [
        ((path("M40 30H130", SCORE),), ("wall", "door"), "lies in wall and door"),
        ((path("M40 30H130", DRAWN),), ("wall", "door"), "the drawn line at 85.0, 30.0 mm"),
        ((path("M20 20H80V80H20Z"),), ("wall",), "cuts there twice (double-cut); mend it"),
        ((path("M30 30H31V70H30Z"), path("M40 40h.3v.3h-.3Z")), ("wall",), "undersize-piece"),
    ],
)
def test_a_piece_with_a_fault_is_refused_and_its_neighbour_is_not(
    body: tuple[str, ...], pieces: tuple[str, ...], reason: str
) -> None:
    found = taken(WALL, DOOR, path("M20 120H60V160H20Z", name="roof"), *body)
    assert tuple(name for refusal in found.refusals for name in refusal.pieces) == pieces
    assert all(reason in refusal.reason for refusal in found.refusals)
    assert not any(refusal.whole for refusal in found.refusals)
    assert "roof" in [one.name for one in found.parts]


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ((path("M100 100H150", SCORE),), "the score line at 125.0, 100.0 mm lies in no piece"),
        ((path("M110 120V160H150V124"),), "(open-outline)"),
    ],
)
def test_a_fault_of_no_one_piece_refuses_the_file(body: tuple[str, ...], reason: str) -> None:
    found = taken(WALL, DOOR, *body)
    (refusal,) = found.refusals
    assert refusal.whole
    assert refusal.pieces == ("wall", "door")
    assert reason in refusal.reason
    assert found.parts == ()


def test_a_page_without_a_size_is_refused() -> None:
    data = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 99 99">{WALL}</svg>'.encode()
    found = parts_of(inspect_source(read_source(data, "x.svg"), RULES, Settings()), Settings())
    assert found.refusals[0].whole
    assert found.refusals[0].reason.startswith("the file has no physical size")


def test_what_the_drawing_or_the_settings_allow_is_not_refused() -> None:
    twice = path("M20 20H80V80H20Z", f'{CUT} data-matready-allow="double-cut"')
    assert part(taken(WALL, twice), "wall").allowed == ("double-cut",)
    lenient = Settings(rules={"double-cut": {"severity": "caution"}})
    assert taken(WALL, path("M20 20H80V80H20Z"), settings=lenient).refusals == ()


def test_dashes_that_a_score_is_shown_with_are_kept_in_mm() -> None:
    shown = 'class="score" fill="none" stroke="#b5543a" stroke-dasharray="2 1"'
    scored = Settings(read=Reading(scores="scored"))
    found = taken(
        f'<g id="w" transform="scale(.5)">{WALL}{path("M40 20V80", shown)}</g>', settings=scored
    )
    assert [line.dashes_mm for line in found.parts[0].lines] == [(1.0, 0.5), ()]


def test_marks_name_the_layer_the_id_and_the_fill() -> None:
    pane = '<g id="windows"><rect id="pane" x="20" y="20" width="40" height="40" fill="#cde"/></g>'
    marks = taken(pane, DOOR).parts[0].marks
    assert marks.ids == {"windows", "pane"}
    assert marks.layers == {"windows"}
    assert marks.fills == {"#ccddee"}


def test_every_name_is_there_once_and_copies_are_counted() -> None:
    one, other = taken(WALL), parts_of(_inspected("side.svg", WALL, DOOR), Settings())
    named = name_all([one, other], {"side.svg": 2})
    assert [(part.name, part.copy) for part in named] == [
        ("wall, stage", 1),
        ("wall, side, copy 1", 1),
        ("wall, side, copy 2", 2),
        ("door, copy 1", 1),
        ("door, copy 2", 2),
    ]


def _inspected(name: str, *body: str) -> Inspection:
    return inspect_source(read_source(page(*body), name), RULES, Settings())


@pytest.mark.parametrize("drawing", DEMO, ids=lambda path: path.stem)
def test_every_piece_of_the_demo_is_in_one_part_or_one_refusal(drawing: Path) -> None:
    inspection = inspect_source(read_file(drawing), RULES, Settings())
    found = parts_of(inspection, Settings())
    of_parts = [name for part in found.parts for name in part.pieces]
    of_refusals = [name for refusal in found.refusals for name in refusal.pieces]
    assert sorted(of_parts + of_refusals) == sorted(found.pieces)
    # And every line of a part that is not refused is in it once: without rules none is refused.
    drawing_read = read_drawing(read_file(drawing))
    bare = parts_of(Inspection(cut(drawing_read, Settings()), ()), Settings())
    if not any(refusal.whole for refusal in bare.refusals):
        count = sum(len(part.lines) for part in bare.parts)
        assert count + sum(int(said.split()[0]) for said in bare.left_out) == len(
            drawing_read.geometry.closed
        )


def test_a_mended_copy_is_not_read_and_cut_again(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = root / "fixtures/hairline-gap/flagged/corner-a-tenth-short.svg"
    seen: list[bytes] = []

    def counted(drawing: Drawing, settings: Settings) -> Cutout:
        seen.append(drawing.source.data)
        return cut(drawing, settings)

    monkeypatch.setattr(cutting, "cut", counted)
    found = gather(file, RULES, Settings(), Mending(wanted=True))
    assert isinstance(found, FileParts)
    assert len(found.parts) == 1
    assert seen[0] == file.read_bytes()
    assert len(seen) == len(set(seen)) == 2
