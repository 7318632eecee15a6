"""From a file to its Drawing: SVG 2, chapters 5 (structure), 8 (coordinates), 10 (shapes).

Where lines land is checked against a general SVG renderer and an independent SVG library; what is
drawn at all against the rules of SVG 2's rendering model (chapter 3).
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import resvg_py
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from matready.lint.drawing import Drawing
from matready.lint.reading import read_drawing, walk
from matready.lint.source import Unreadable, read_file, read_source

HOSTILE = Path(__file__).parent.parent / "fixtures" / "hostile"
NAMESPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PX_PER_MM = 96 / 25.4


def drawing(inside: str, attributes: str = 'width="400" height="300"') -> Drawing:
    text = f"<svg {NAMESPACES} {attributes}>{inside}</svg>"
    return read_drawing(read_source(text.encode(), "stage.svg"))


def box_px(of: Drawing) -> npt.NDArray[np.float64]:
    """Left, top, right, bottom of all lines in CSS px."""
    points = of.geometry.points * PX_PER_MM
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def ids(of: Drawing) -> list[str]:
    """Ids of the shapes that put lines down, in order."""
    return [of.nodes[i].element.get("id", "") for i in of.line_node]


def reasons(of: Drawing) -> list[str]:
    return [note.reason for note in of.notes]


# -- where lines land

RECT = '<rect x="20" y="30" width="40" height="24"/>'
PLACED = {
    "page without viewBox": ("", RECT),
    "viewBox, meet": ('viewBox="-10 -20 200 100"', RECT),
    "viewBox, slice to the end": (
        'viewBox="-10 -20 200 100" preserveAspectRatio="xMinYMax slice"', RECT),
    "viewBox, none": ('viewBox="0 0 100 100" preserveAspectRatio="none"', RECT),
    "nested groups": (
        "",
        f'<g transform="translate(50 20) rotate(30)"><g transform="scale(2 1.5)">{RECT}</g></g>',
    ),
    "every function": (
        "",
        ('<g transform="translate(60,60) skewX(20) skewY(-10) rotate(15 40 40) '
        f'matrix(1 .2 -.1 1 5 6) scale(1.5)">{RECT}</g>'),
    ),
    "transform-origin": ("", f'<g transform-origin="60 50" transform="rotate(40)">{RECT}</g>'),
    "lengths": ('viewBox="0 0 200 150"', '<rect x="2mm" y="1em" width="20%" height="1cm"/>'),
    "percent of the diagonal": ("", '<circle cx="50%" cy="50%" r="10%"/>'),
    "ellipse with one radius": ("", '<ellipse cx="200" cy="100" rx="50"/>'),
    "nested svg": (
        "",
        ('<svg x="10%" y="20" width="50%" height="60" viewBox="0 0 30 40" '
        'preserveAspectRatio="xMaxYMid"><rect width="30" height="40"/></svg>'),
    ),
    "nested svg without viewBox": ("", f'<svg x="30" y="40">{RECT}</svg>'),
    "nested svg, percentages": (
        "",
        ('<svg x="30" y="40" width="200" height="100" viewBox="0 0 50 50">'
        '<rect x="10%" y="20%" width="50%" height="50%"/></svg>'),
    ),
    "use": ("", f'<defs><g id="a">{RECT}</g></defs><use href="#a" x="50" y="60"/>'),
    "use with transform": (
        "",
        (f'<defs><g id="a" transform="scale(2)">{RECT}</g></defs>'
        '<use xlink:href="#a" x="50" y="-10" transform="rotate(20) scale(1.2)"/>'),
    ),
    "use of use": (
        "",
        (f'<defs><g id="a">{RECT}</g><use id="b" href="#a" x="100"/></defs>'
        '<use href="#b" y="60"/>'),
    ),
    "use of symbol": (
        "",
        ('<symbol id="s" viewBox="0 0 10 20" preserveAspectRatio="none">'
        '<rect x="1" y="2" width="8" height="16"/></symbol>'
        '<use href="#s" x="50" y="60" width="100" height="70" transform="rotate(10 100 100)"/>'),
    ),
    "use of symbol, full size": (
        "",
        ('<symbol id="s" viewBox="0 0 10 20"><rect width="10" height="20"/></symbol>'
        '<use href="#s"/>'),
    ),
    "use of svg": (
        "",
        ('<defs><svg id="s" x="5" y="6" width="20" height="20" viewBox="0 0 10 10">'
        '<rect width="10" height="10"/></svg></defs>'
        '<use href="#s" x="50" y="60" width="100" height="70"/>'),
    ),
    "switch": (
        "",
        ('<switch><rect systemLanguage="de" width="10" height="10"/>'
        '<rect requiredExtensions="urn:x" width="20" height="20"/>'
        '<rect systemLanguage="fr, en-GB" width="30" height="30"/>'
        '<rect width="40" height="40"/></switch>'),
    ),
    "switch with a title": (
        "",
        ('<switch><title>en</title><desc/><rect requiredExtensions="" width="20" height="20"/>'
        '<g><rect width="30" height="30"/></g></switch>'),
    ),
    "percent page": ('width="100%" height="100%" viewBox="10 10 200 100"', RECT),
    "one side": ('width="300" viewBox="10 10 200 100"', RECT),
    "inch page": ('width="4in" height="3in" viewBox="0 0 100 75"', RECT),
}  # fmt: skip


@pytest.mark.parametrize("case", PLACED)
def test_lines_land_where_a_renderer_paints_them(case: str) -> None:
    attributes, inside = PLACED[case]
    if "width" not in attributes:
        attributes += ' width="400" height="300"'
    text = f"<svg {NAMESPACES} {attributes}>{inside}</svg>"
    png = resvg_py.svg_to_bytes(svg_string=text, dpi=96, languages=["en"], skip_system_fonts=True)
    alpha = np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))[..., 3]
    rows, columns = np.nonzero(alpha > 100)
    painted = [columns.min(), rows.min(), columns.max() + 1, rows.max() + 1]
    # A slanted corner covers less of its pixel than the 40 % that count as painted.
    assert box_px(drawing(inside, attributes)) == pytest.approx(painted, abs=1.2)


def test_a_view_box_about_its_middle_puts_the_origin_in_the_middle() -> None:
    # SVG 2, 8.2: viewBox -50 -50 100 100 on 100 by 100 mm; user (0, 0) is page (50, 50) mm.
    seen = drawing(
        '<line x2="10" stroke="red"/>', 'width="100mm" height="100mm" viewBox="-50 -50 100 100"'
    )
    assert seen.geometry.points == pytest.approx(np.array([[50.0, 50.0], [60.0, 50.0]]))


NUMBER = st.integers(-40, 40).map(str)
SIZE = st.integers(5, 60).map(str)
TRANSFORM = st.one_of(
    st.just(""),
    st.builds('transform="translate({} {})"'.format, NUMBER, NUMBER),
    st.builds('transform="rotate({})"'.format, NUMBER),
    st.builds('transform="skewX({}) scale(1.5 .5)"'.format, NUMBER),
    st.builds('transform="matrix(1 .5 -.5 2 {} {})"'.format, NUMBER, NUMBER),
)
LEAF = st.one_of(
    st.builds('<rect x="{}" y="{}" width="{}" height="{}" {}/>'.format,
              NUMBER, NUMBER, SIZE, SIZE, TRANSFORM),
    st.builds('<polygon points="{},{} {},{} 50,60" {}/>'.format,
              NUMBER, NUMBER, NUMBER, NUMBER, TRANSFORM),
    st.builds('<path d="M{} {}l10 20h{}" {}/>'.format, NUMBER, NUMBER, SIZE, TRANSFORM),
    st.builds('<use href="#prop" x="{}" y="{}" {}/>'.format, NUMBER, NUMBER, TRANSFORM),
)  # fmt: skip
TREE = st.recursive(
    LEAF,
    lambda inner: st.builds(
        "<g {}>{}</g>".format, TRANSFORM, st.lists(inner, min_size=1, max_size=3).map("".join)
    ),
    max_leaves=6,
)


@settings(max_examples=60)
@given(TREE, st.sampled_from(["xMidYMid", "none", "xMaxYMin slice", "xMinYMax meet"]))
def test_trees_agree_with_an_independent_library(tree: str, aspect: str) -> None:
    text = (
        f'<svg {NAMESPACES} width="300" height="200" viewBox="-20 -10 120 90" '
        f'preserveAspectRatio="{aspect}"><defs><g id="prop"><rect width="9" height="7"/></g></defs>'
        f"{tree}</svg>"
    )
    boxes = []
    for element in svgelements.SVG.parse(io.StringIO(text), ppi=96).elements():
        if isinstance(element, svgelements.Shape):
            boxes.append(element.bbox())
    expected = np.array(boxes)
    seen = read_drawing(read_source(text.encode(), "stage.svg"))
    ours = box_px(seen)
    theirs = [*expected[:, :2].min(axis=0), *expected[:, 2:].max(axis=0)]
    assert ours == pytest.approx(theirs, abs=1e-6 * max(1, *map(abs, theirs)))


def test_css_transforms_move_shapes_as_the_attribute_does() -> None:
    # CSS Transforms 1 and 2: property over attribute; translate, rotate, scale, then transform.
    def box(attributes: str) -> npt.NDArray[np.float64]:
        return box_px(drawing(f'<rect width="40" height="24" {attributes}/>'))

    moved = box('transform="translate(10 20) rotate(30)"')
    assert box('style="transform: translate(10px, 20px) rotate(30deg)"') == pytest.approx(moved)
    assert box(
        'transform="scale(9)" style="translate: 10px 20px; rotate: 30deg; transform: none"'
    ) == pytest.approx(moved)
    turned = box('transform="rotate(90 200 150)"')
    assert box('style="transform:rotate(.25turn);transform-origin:center"') == pytest.approx(turned)
    assert box('transform="rotate(90)" transform-origin="50% 50%"') == pytest.approx(turned)
    sheet = "<style>.a { transform: scale(2); transform-origin: 40px 0 }</style>"
    assert box_px(drawing(sheet + '<rect class="a" width="40" height="24"/>')) == pytest.approx(
        [-40, 0, 40, 48]
    )


def test_geometry_properties_of_css_win_over_attributes() -> None:
    # SVG 2, chapter 7 and 9.3: x, y, width, height, r, cx, cy, rx, ry and d are properties.
    css = "x:10px;y:20px;width:30px;height:1in"
    assert box_px(drawing(f'<rect x="1" width="5" style="{css}"/>')) == pytest.approx(
        [10, 20, 40, 116]
    )
    assert box_px(
        drawing("<style>path{d:path('M5 6h7v8')}</style><path d='M0 0h99'/>")
    ) == pytest.approx([5, 6, 12, 14])
    # A number without a unit is no CSS length, so the attribute stands.
    assert box_px(drawing('<rect width="40" height="24" style="width:9"/>'))[2] == pytest.approx(40)
    page = drawing(RECT, 'style="width:100mm;height:50mm" viewBox="0 0 100 50"').page
    assert page.size_mm == pytest.approx((100, 50))


def test_symbols_have_places_and_sizes_of_their_own() -> None:
    # SVG 2, "symbol": x, y, width and height; those of the use win over width and height.
    symbol = (
        '<symbol id="s" x="10" y="10" width="20" height="20" viewBox="0 0 10 10">'
        '<rect width="10" height="10"/></symbol>'
    )
    assert box_px(drawing(symbol + '<use href="#s" x="5"/>')) == pytest.approx([15, 10, 35, 30])
    assert box_px(drawing(symbol + '<use href="#s" width="40" height="40"/>')) == pytest.approx(
        [10, 10, 50, 50]
    )


# -- what is drawn

SEEN = {
    # SVG 2, chapter 3 (rendering model) and 10.2 to 10.7.
    '<path id="x" d="M0 0h9"/>': True,
    '<path id="x" d="M0 0h9" fill="none"/>': False,
    '<path id="x" d="M0 0h9" fill="none" stroke="red" stroke-width="0"/>': True,
    '<path id="x" d="M0 0h9" fill="none" stroke="red" stroke-opacity="0"/>': False,
    '<path id="x" d="M0 0h9" visibility="hidden"/>': False,
    '<path id="x" d="M0 0h9" opacity="0"/>': False,
    '<g opacity="0"><path id="x" d="M0 0h9"/></g>': False,
    '<g opacity=".5"><path id="x" d="M0 0h9"/></g>': True,
    '<g display="none"><path id="x" d="M0 0h9" display="inline"/></g>': False,
    '<g visibility="hidden"><path id="x" d="M0 0h9" visibility="visible"/></g>': True,
    '<g transform="scale(0 1)"><path id="x" d="M0 0h9"/></g>': False,
    '<line id="x" x2="9"/>': False,
    '<line id="x" x2="9" stroke="red"/>': True,
    '<rect id="x" width="9"/>': False,
    '<rect id="x" width="9" height="0"/>': False,
    '<circle id="x" r="0"/>': False,
    '<ellipse id="x" rx="4"/>': True,
    '<ellipse id="x" rx="4" ry="0"/>': False,
    '<path id="x"/>': False,
    '<path id="x" d=" "/>': False,
    '<polyline id="x" points=""/>': False,
    '<g requiredExtensions="urn:x"><path id="x" d="M0 0h9"/></g>': False,
    '<g systemLanguage="de"><path id="x" d="M0 0h9"/></g>': False,
    '<g requiredFeatures="http://www.w3.org/TR/SVG11/feature#Shape"><path id="x" d="M0 0h9"/></g>':
        True,
    '<svg width="0"><path id="x" d="M0 0h9"/></svg>': False,
    '<svg viewBox="0 0 0 1"><path id="x" d="M0 0h9"/></svg>': False,
}  # fmt: skip


@pytest.mark.parametrize("inside", SEEN)
def test_what_nobody_sees_is_counted_and_not_drawn(inside: str) -> None:
    seen = drawing(inside)
    assert ids(seen) == (["x"] if SEEN[inside] else [])
    assert seen.hidden == (0 if SEEN[inside] else 1)


def test_definitions_are_drawn_through_use_only_and_other_languages_never() -> None:
    inside = (
        f'<defs><g id="a">{RECT}</g></defs><symbol id="b">{RECT}</symbol>'
        f"<clipPath>{RECT}</clipPath><mask>{RECT}</mask><pattern>{RECT}</pattern>"
        f"<marker>{RECT}</marker><text>T<tspan>t</tspan></text><image/>"
        f'<foreignObject>{RECT}</foreignObject><filter/><g xmlns:p="urn:p"><p:g>{RECT}</p:g>'
        "<text/></g><defs><clipPath><text/></clipPath></defs>"
    )
    seen = drawing(inside)
    assert len(seen.geometry.owner) == 0
    assert seen.hidden == 0
    assert seen.put_no_line == {
        "clipPath": 2,
        "mask": 1,
        "pattern": 1,
        "marker": 1,
        "text": 3,
        "image": 1,
        "foreignObject": 1,
        "filter": 1,
    }
    assert seen.notes == ()


def test_the_tree_of_instances_names_what_is_shown() -> None:
    inside = (
        '<defs><g id="wing"><path id="p" d="M0 0h9"/><use id="in" href="#q"/></g>'
        '<path id="q" d="M0 1h9"/></defs>'
        '<g id="left"><use id="one" href="#wing"/></g><use id="two" href="#wing" x="50"/>'
    )
    seen = drawing(inside)
    names = [node.element.get("id", node.kind) for node in seen.nodes]
    assert names == [
        "svg", "left", "one", "wing", "p", "in", "q", "two", "wing", "p", "in", "q"
    ]  # fmt: skip
    assert [node.parent for node in seen.nodes] == [-1, 0, 1, 2, 3, 3, 5, 0, 7, 8, 8, 10]
    assert [node.instance for node in seen.nodes] == [-1, -1, 2, 2, 2, 2, 2, 7, 7, 7, 7, 7]
    assert ids(seen) == ["p", "q", "p", "q"]
    assert [seen.shown(i).get("id") for i in seen.line_node] == ["one", "one", "two", "two"]
    assert seen.nodes[9].matrix[4] == pytest.approx(50 / PX_PER_MM)
    assert seen.nodes[4].kind == "path"


def test_lines_keep_the_order_and_the_owner_of_their_shapes() -> None:
    seen = drawing(
        '<path id="a" d="M0 0h9M0 5h9"/><path id="b" d="M0 1z"/><g><rect id="c" width="9" '
        'height="9"/></g><polyline id="d" points="0 0 5 5"/>'
    )
    assert ids(seen) == ["a", "a", "c", "d"]
    assert list(seen.geometry.closed) == [False, False, True, False]


# -- what is said


def test_data_that_breaks_off_is_told_once_an_element() -> None:
    # SVG 2, 9.5.4: M 10,10 L 20,20,30 draws the line from (10,10) to (20,20).
    inside = (
        '<defs>\n<path id="x"\n d="M 10,10 L 20,20,30"/></defs>'
        '<use href="#x"/><use href="#x" x="9"/>\n<polygon points="0 0 9 0 9 9 4"/>'
    )
    seen = drawing(inside)
    first, second = seen.broken
    assert (first.what, first.before, first.kept) == ("path data", "M 10,10 L 20,20,30", 1)
    assert (second.what, second.before, second.kept) == ("list of points", "0 0 9 0 9 9 4", 2)
    assert {one.reason for one in seen.broken} == {"a number is missing"}
    assert seen.nodes[first.node].element.get("id") == "x"
    assert reasons(seen) == []
    assert box_px(seen)[:2] == pytest.approx([0, 0])


@pytest.mark.parametrize(
    ("inside", "words"),
    [
        ('<use href="#no"/>', '"#no", which is not in the file'),
        ('<use href="other.svg#a"/>', 'asks for "other.svg#a" outside the file'),
        ("<use/>", "names nothing to use"),
        ('<use href="#"/>', "not in the file"),
        ('<defs><stop id="s"/></defs><use href="#s"/>', "draws nothing by itself"),
        (f'<g transform="twist(3)">{RECT}</g>', 'the transform "twist(3)" cannot be read'),
        ('<rect width="wide" height="9"/>', 'width="wide" is no length'),
        ('<rect width="9" height="-9"/>', 'height="-9" is negative'),
        ('<rect width="9vw" height="9"/>', 'width="9vw" is no length'),
        (f"<stage>{RECT}</stage>", "<stage> is no element of SVG"),
        (f'<g xmlns="">{RECT}</g>', "<g> outside SVG's namespace is not drawn"),
        (f'<svg viewBox="1 2 3">{RECT}</svg>', 'viewBox="1 2 3" is no view box'),
        (f'<svg viewBox="0 0 9 9" preserveAspectRatio="big">{RECT}</svg>', '"big" is not known'),
        ('<rect width="9" height="9" style="transform-box:fill-box;transform:scale(2)"/>',
         "transform-box: fill-box is not read"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_with_its_line(inside: str, words: str) -> None:
    said = reasons(drawing("\n" + inside))
    assert len(said) == 1
    assert words in said[0]
    assert said[0].startswith("line 2: ") or "<stage>" in words or "namespace" in words


def test_a_percentage_of_a_page_without_size_is_said() -> None:
    seen = drawing('<rect width="50%" height="9"/>', "")
    assert reasons(seen) == ['line 1: width="50%" has no measure here, so it is passed over']
    assert seen.hidden == 1


def test_a_transform_of_the_page_itself_is_applied_and_said() -> None:
    seen = drawing(RECT, 'width="400" height="300" transform="translate(5 0)"')
    assert box_px(seen)[0] == pytest.approx(25)
    assert "transform" in reasons(seen)[0]


def test_circular_uses_end_and_are_said() -> None:
    seen = read_drawing(read_file(HOSTILE / "circular-use.svg"))
    assert ids(seen) == ["door"]
    assert [note.reason.split(": ")[0] for note in seen.notes] == ["line 3", "line 4", "line 5"]


def test_uses_that_multiply_without_end_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(walk, "MAX_NODES", 5000)
    with pytest.raises(Unreadable, match="multiply to more than 5000 parts"):
        read_drawing(read_file(HOSTILE / "use-multiplies.svg"))


def test_uses_in_a_long_row_end() -> None:
    chain = "".join(f'<use id="u{i}" href="#u{i + 1}"/>' for i in range(3000))
    seen = drawing(f'<defs>{chain}<path id="u3000" d="M0 0h9"/></defs><use href="#u0"/>')
    assert len(reasons(seen)) == 1
    assert len(seen.geometry.owner) == 0


def test_notes_name_each_element_of_a_line_and_none_twice() -> None:
    bad = '<rect width="wide" height="9"/>'
    seen = drawing(f'{bad}{bad}<defs><g id="a">{bad}</g></defs><use href="#a"/><use href="#a"/>')
    assert len(reasons(seen)) == 3


DOORS = [
    "utf-16.svg", "utf-16-big-end-first.svg", "utf-16-in-name-only.svg", "latin-1.svg",
    "windows-1252.svg", "byte-order-mark.svg", "crlf.svg", "xml-1-1.svg", "compressed.svgz",
    "compressed-in-disguise.svg", "doctype-entities.svg", "no-namespace.svg", "prefixed.svg",
    "private-elements.svg", "not-a-number.svg", "huge-numbers.svg", "style-sheet-elsewhere.svg",
]  # fmt: skip


@pytest.mark.parametrize("name", DOORS)
def test_the_same_door_is_read_from_every_dress(name: str) -> None:
    seen = read_drawing(read_file(HOSTILE / name))
    assert ids(seen)[:1] == ["door"]
    door = seen.geometry.points[: seen.geometry.offsets[1]]
    assert [*door.min(axis=0), *door.max(axis=0)] == pytest.approx([10, 20, 40, 60])
    assert seen.page.size_mm == pytest.approx((100, 100))
    assert seen.nodes[seen.line_node[0]].style.stroke == "#dd0000"
    assert np.isfinite(seen.geometry.points).all()


def test_pages_without_size_or_room() -> None:
    seen = read_drawing(read_file(HOSTILE / "no-size.svg"))
    assert (seen.page.unit, seen.page.width_px) == ("none", 100)
    assert box_px(seen) == pytest.approx([10, 20, 40, 60])
    nothing = read_drawing(read_file(HOSTILE / "zero-view-box.svg"))
    assert (len(nothing.geometry.owner), nothing.hidden) == (0, 1)
    negative = read_drawing(read_file(HOSTILE / "negative-view-box.svg"))
    assert box_px(negative) == pytest.approx([10, 20, 40, 60])


# -- any file at all

ODD = st.sampled_from(
    ["", "0", "1", "-1", "50%", "1e308", "-1e308", "1e999", "NaN", "1mm", "2em", "none", "#a", "#b",
     "auto", "inherit", "red", "url(#a)", "M0 0L1e308 5z", "M0 0A1 1 0 0 1 9 9", "0 0 9 9",
     "0 0 0 1e-300", "scale(1e308)", "rotate(45deg)", "translate(10px,50%)", "1 2 3", "1,2,3,4",
     "xMinYMax slice", "fill:red;d:path('M0 0h1')", "transform:scale(2) rotate(1turn)", "en", "\n"]
)  # fmt: skip
KEYS = st.sampled_from(
    ["id", "href", "x", "y", "width", "height", "viewBox", "transform", "style", "class", "d", "r",
     "points", "cx", "rx", "x2", "preserveAspectRatio", "fill", "stroke", "stroke-width",
     "stroke-dasharray", "display", "visibility", "opacity", "font-size", "transform-origin",
     "systemLanguage"]
)  # fmt: skip
TAGS = st.sampled_from(
    ["g", "svg", "use", "symbol", "defs", "path", "rect", "circle", "ellipse", "line", "polyline",
     "polygon", "switch", "a", "text", "clipPath", "style", "stage"]
)  # fmt: skip


@st.composite
def odd_elements(draw: st.DrawFn, tag: str | None = None, depth: int = 3) -> str:
    """An element with attributes that may mean nothing on it."""
    name = draw(TAGS) if tag is None else tag
    attributes = draw(st.dictionaries(KEYS, ODD, max_size=5))
    written = "".join(f' {key}="{value}"' for key, value in attributes.items())
    inside = draw(st.lists(odd_elements(depth=depth - 1), max_size=3)) if depth else []
    return f"<{name}{written}>{''.join(inside)}</{name}>"


@settings(max_examples=150)
@given(odd_elements("svg"))
def test_any_svg_is_a_drawing_or_one_plain_sentence(text: str) -> None:
    try:
        seen = read_drawing(read_source(text.encode(), "stage.svg"))
    except Unreadable as refused:
        assert "\n" not in str(refused)
        return
    assert np.isfinite(seen.geometry.points).all()
    assert all("\n" not in note.reason for note in seen.notes)
    assert len(seen.shapes) + seen.hidden <= len(text)


# -- what is there beside lines


def test_what_is_not_seen_is_kept_with_the_reason() -> None:
    seen = drawing(
        '<g id="notes" display="none"><path id="a" d="M0 0h9"/><g opacity="0">'
        '<path id="b" d="M0 0h9"/></g><text>none</text></g><path id="c" d="M0 0h9" opacity="0"/>'
        '<path id="d" d="M0 0h9" visibility="hidden"/><path id="e" d="M0 0h9" fill="none"/>'
        '<path id="f" display="none"/><defs><path id="g" d="M0 0h9" display="none"/></defs>'
        '<use id="h" href="#g" transform="scale(2)"/><clipPath id="i"><path d="M0 0h9" '
        'visibility="hidden"/></clipPath><g clip-path="url(#i)"/>'
    )
    assert {
        (one.why, str(one.element.get("id")), str(one.hidden.get("id"))) for one in seen.unseen
    } == {
        *(("off", name, "notes") for name in "ab"),
        ("transparent", "c", "c"),
        ("invisible", "d", "d"),
        ("unpainted", "e", "e"),
        ("off", "h", "g"),
    }
    assert seen.hidden == 7
    assert seen.sights == ()


def test_hidden_uses_that_go_round_or_multiply_do_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    circle = '<g id="a"><path d="M0 0h9"/><use href="#a" display="none"/></g>'
    assert len(drawing(circle).unseen) == 1
    monkeypatch.setattr(walk, "MAX_NODES", 5000)
    text = (HOSTILE / "use-multiplies.svg").read_text("utf-8")
    last = text.rindex("<use")
    text = text[:last] + "<use display='none'" + text[last + len("<use") :]
    assert len(read_drawing(read_source(text.encode(), "stage.svg")).geometry.owner) == 0


def test_texts_and_pictures_are_found_where_they_are_seen() -> None:
    # The initial font size is 16 px (CSS Fonts 4, 2.5); a transform takes all of it along.
    seen = drawing(
        '<g id="g" transform="translate(100 0)"><text x="10" y="50">Act <tspan>one</tspan>'
        '<title>no</title></text></g><image x="1" y="2" width="3" height="4" href="a.png"/>'
        '<text> </text><text fill="none">no</text><defs><text id="t">two</text></defs>'
        '<use id="u" href="#t"/><foreignObject width="9" height="9"><p>three</p></foreignObject>'
        '<foreignObject width="9" height="9"/><clipPath><text>no</text></clipPath>'
    )
    assert [(one.kind, one.words) for one in seen.sights] == [
        ("text", "Act one"), ("image", ""), ("text", "two"), ("foreignObject", "three")
    ]  # fmt: skip
    text, picture, used, _ = seen.sights
    x0, y0, x1, y1 = np.array(text.box) * PX_PER_MM
    assert (x0, y0, y1) == pytest.approx((110, 38, 54))
    assert 140 < x1 < 190
    assert np.array(picture.box) * PX_PER_MM == pytest.approx([1, 2, 4, 6])
    assert (picture.href, used.element.get("id")) == ("a.png", "u")


def test_effects_are_told_with_the_shapes_that_they_name() -> None:
    seen = drawing(
        '<clipPath id="c" transform="translate(1 0)"><path d="M0 0h9v9z" fill="none"/>'
        '<use href="#r"/></clipPath><rect id="r" width="9" height="9"/><g clip-path="url(#c)">'
        '<path d="M0 0h9" style="filter:blur(2px);mask:none"/></g><path d="M0 0h9" '
        'clip-path="url(#no)"/><pattern id="p"><path d="M0 0h9"/></pattern><linearGradient id="q"/>'
        '<g fill="url(#p)"><path d="M0 0h9" stroke="url(#q)"/></g>'
        '<svg width="9" height="8"/><svg width="9" height="8" overflow="visible"/>'
    )
    assert [(one.kind, one.text, one.box) for one in seen.effects] == [
        ("clip-path", "url(#c)", None),
        ("filter", "blur(2px)", None),
        ("pattern", "url(#p)", None),
        ("viewport", "", (0, 0, 9, 8)),
    ]
    clip = seen.effects[0].area
    assert clip is not None
    assert [matrix[4] for matrix in clip.matrices] == [1, 1]
    assert seen.unseen == ()
