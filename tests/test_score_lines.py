"""Score lines: what is told of them and what a repair makes of them.

References: svgpathtools measures path data; resvg draws it; SVG 2 (stroke-dasharray,
stroke-dashoffset, pathLength) says where dashes lie; line-printer manuals give the ratios of cut to
tie of perforations: 4 to 1 and 3 to 1.
"""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
import resvg_py
import svgpathtools
from PIL import Image

from matready.lint.cutting.perforation import perforations
from matready.lint.repair import repair
from matready.lint.repair.licence import Licence, May
from matready.lint.repair.proof import Allowed, Unproven, prove
from matready.lint.repair.redash import layout
from matready.lint.repair.refusal import Refused
from matready.lint.results import Repaired
from matready.lint.runner import lint_bytes
from matready.lint.settings import Settings
from matready.rules import RULES

from tests.drawn import CUT, cut_out, page, path

PANEL = path("M20 20H180V180H20Z", name="panel")
LINE = 'fill="none" stroke="#b5543a"'
ONE_STEP = 40  # the renderer knows sixteen shades of an edge; two of them are rounding


def _fixed(rule: str, *body: str, reshape: bool = False) -> Repaired:
    settings = Settings(only=frozenset({rule}))
    return repair(page(*body), "drawing.svg", RULES, settings, reshape=reshape)


def _picture(data: bytes) -> np.ndarray:
    drawn = resvg_py.svg_to_bytes(svg_string=data.decode(), dpi=96, skip_system_fonts=True, zoom=1)
    return np.asarray(Image.open(io.BytesIO(bytes(drawn))).convert("RGBA")).astype(int)


def _last_path(data: bytes) -> svgpathtools.Path:
    found: list[str] = re.findall(r'\sd="([^"]*)"', data.decode())
    return svgpathtools.parse_path(found[-1])


DASHED = {
    "an attribute": f'<path d="M40 60H160" {LINE} stroke-dasharray="3 1"/>',
    "an offset": f'<path d="M40 60H160" {LINE} stroke-dasharray="3 1" stroke-dashoffset="1.5"/>',
    "an odd list": f'<path d="M40 60H160" {LINE} stroke-dasharray="3 1 2"/>',
    "a style": '<path d="M40 60H160" style="stroke-dasharray:3 1;stroke:#b5543a;fill:none"/>',
    "a class": '<style>.bend{stroke-dasharray:3 1}</style>'
    f'<path class="bend" d="M40 60H160" {LINE}/>',
    "a rule for lines": "<style>line{stroke-dasharray:3 1}</style>"
    f'<line x1="40" y1="60" x2="160" y2="60" {LINE}/>',
    "a group": f'<g stroke-dasharray="3 1"><path d="M40 60H160" {LINE}/></g>',
    "a path length": f'<path d="M40 60H160" {LINE} pathLength="60" stroke-dasharray="1.5 .5"/>',
    "a scale": f'<path transform="scale(2)" d="M20 30H80" {LINE} stroke-dasharray="1.5 .5"/>',
    "a rectangle": f'<rect x="50" y="50" width="60" height="40" {LINE} stroke-dasharray="3 1"/>',
    "a polyline": f'<polyline points="40,60 90,60 90,110" {LINE} stroke-dasharray="3 1"/>',
}  # fmt: skip


@pytest.mark.parametrize("name", DASHED)
def test_dashes_that_were_shown_become_real_and_look_the_same(name: str) -> None:
    body = (PANEL, DASHED[name])
    done = _fixed("dash-styled-line", *body)
    assert [one.rule for one in done.fixed] == ["dash-styled-line"], done.not_fixed
    assert done.left == ()
    apart = np.abs(_picture(done.data) - _picture(page(*body))).max(axis=2)
    if name != "a path length":  # which the renderer does not read
        assert apart.max() <= ONE_STEP


@pytest.mark.parametrize(
    ("dashes", "offset", "length"),
    # SVG 2, stroke-dasharray: over 120 mm, 30 dashes of 3 mm; from 1.5 mm into the pattern on one
    # dash of 1.5 mm, 29 of 3 mm and one of 1.5 mm; an odd list is repeated: 3, 2 and 1 of 12 mm.
    [("3 1", "0", 90.0), ("3 1", "1.5", 90.0), ("3 1 2", "0", 60.0), ("4 2", "-1", 80.0)],
)
def test_as_much_is_cut_as_was_shown(dashes: str, offset: str, length: float) -> None:
    style = f'{LINE} stroke-dasharray="{dashes}" stroke-dashoffset="{offset}"'
    done = _fixed("dash-styled-line", PANEL, path("M40 60H160", style))
    assert _last_path(done.data).length() == pytest.approx(length, abs=0.02)


def test_dashes_of_a_curve_lie_on_the_curve() -> None:
    style = f'{LINE} stroke-dasharray="3 1"'
    done = _fixed("dash-styled-line", PANEL, path("M40 100C60 20 140 20 160 100", style))
    curve = svgpathtools.parse_path("M40 100C60 20 140 20 160 100")
    on = np.array([curve.point(t) for t in np.linspace(0, 1, 20001)])
    dashes = _last_path(done.data).continuous_subpaths()
    assert len(dashes) == int(np.ceil(curve.length() / 4))
    for dash in dashes:
        for t in (0.0, 0.5, 1.0):
            assert np.abs(on - dash.point(t)).min() < 0.01
    assert all(dash.length() == pytest.approx(3, abs=0.005) for dash in dashes[:-1])


@pytest.mark.parametrize("slant", [0.0, 7.0, 30.0])
@pytest.mark.parametrize("dashes", ["3 1", "2 1", "4 2", "1 0.6"])
def test_a_tie_is_left_where_a_dashed_fold_meets_the_edge(dashes: str, slant: float) -> None:
    """Perforations keep a tie at the edge of the sheet: manuals of line printers."""
    body = (
        PANEL,
        path(f"M20 {60 - slant}L180 {60 + slant}", f'{LINE} stroke-dasharray="{dashes}"'),
    )
    done = _fixed("dash-styled-line", *body)
    assert [one.rule for one in done.fixed] == ["dash-styled-line"]
    weak = Settings(only=frozenset(["weak-fold"]))
    assert lint_bytes(done.data, "copy.svg", RULES, weak).findings == ()
    ends = [
        p for dash in _last_path(done.data).continuous_subpaths() for p in (dash.start, dash.end)
    ]
    assert min(min(p.real - 20, 180 - p.real) for p in ends) >= 0.5


@pytest.mark.parametrize("dashes", ["0 2", "0.2 1", "9 2", "3 7"])
def test_dots_and_long_dashes_are_told_but_left(dashes: str) -> None:
    style = f'{LINE} stroke-linecap="round" stroke-dasharray="{dashes}"'
    done = _fixed("dash-styled-line", PANEL, path("M40 60H160", style))
    assert done.fixed == ()
    assert [found.rule for found in done.left] == ["dash-styled-line"]


FOLD = path("M40 60H160", f'{LINE} stroke-dasharray="3 1"')
SHOWN = [f"M{x} 60h3" for x in range(40, 160, 4)]
GAPS = tuple((x + 3.0, x + 4.0) for x in range(0, 120, 4))
PATH = np.array([[40.0, 60], [160, 60]])
MAY = Allowed(0.0, licences=(Licence(PATH, May.SHOW_DASHES, GAPS),))


def _prove(dashes: list[str]) -> float:
    return prove(cut_out(PANEL, FOLD), cut_out(PANEL, path("".join(dashes), LINE)), MAY)


def test_the_proof_passes_the_dashes_that_were_shown() -> None:
    assert _prove(SHOWN) < 0.01


SPOILT = {
    "a dash is lost": SHOWN[:10] + SHOWN[11:],
    "a gap is cut": [*SHOWN[:10], "M80 60h7", *SHOWN[12:]],
    "a dash is too long": [*SHOWN[:10], "M80 60h3.7", *SHOWN[11:]],
    "a dash is too short": [*SHOWN[:10], "M80 60h2.6", *SHOWN[11:]],
    "a dash lies aside": [*SHOWN[:10], "M80 60.2h3", *SHOWN[11:]],
    "a dash lies beyond the end": [*SHOWN, "M160.5 60h3"],
}


@pytest.mark.parametrize("name", SPOILT)
def test_the_proof_refuses_other_dashes(name: str) -> None:
    with pytest.raises(Unproven):
        _prove(SPOILT[name])


def test_the_proof_wants_a_licence() -> None:
    with pytest.raises(Unproven):
        prove(cut_out(PANEL, FOLD), cut_out(PANEL, path("".join(SHOWN), LINE)), Allowed(0.5))


@pytest.mark.parametrize(
    ("cut", "tie", "share"),
    # Line-printer manuals: 4 to 1 and 3 to 1; the others are arithmetic.
    [(4, 1, 0.8), (3, 1, 0.75), (5, 1, 0.833), (1, 3, 0.25), (2, 2, 0.5)],
)
def test_the_share_that_is_cut(cut: float, tie: float, share: float) -> None:
    dashes = "".join(f"M{30 + n * (cut + tie)} 100h{cut}" for n in range(12))
    (row,) = perforations(cut_out(PANEL, path(dashes, 'class="fold" ' + LINE)), 0.5)
    assert row.cut_share == pytest.approx(share, abs=0.001)
    assert row.tie_mm == pytest.approx(tie, abs=0.001)
    assert len(row.at_edge) == len(row.crossing) == 0


@pytest.mark.parametrize("length", [6.0, 10.0, 37.3, 80.0, 143.0])
@pytest.mark.parametrize("ends", [(1.0, 1.0), (0.0, 1.0), (0.5, 1.0), (0.0, 0.0)])
def test_new_dashes_keep_three_to_one_and_fill_the_fold(
    length: float, ends: tuple[float, float]
) -> None:
    dashes = np.array(layout(length, *ends))
    cuts, ties = np.diff(dashes, axis=1)[:, 0], dashes[1:, 0] - dashes[:-1, 1]
    size = cuts[0] / 3
    assert cuts == pytest.approx(3 * size)
    assert ties == pytest.approx(size)
    assert dashes[0, 0] == pytest.approx(ends[0] * size)
    assert length - dashes[-1, 1] == pytest.approx(ends[1] * size)
    assert 0.5 <= size < 2


def test_a_fold_too_short_for_ties_is_refused() -> None:
    with pytest.raises(Refused):
        layout(1.5, 1.0, 1.0)


def test_a_weak_fold_is_dashed_anew_and_then_holds() -> None:
    dashes = "".join(f"M{20 + 6 * n} 100h5" for n in range(27))
    body = (PANEL, path(dashes, 'class="fold" ' + LINE))
    done = _fixed("weak-fold", *body, reshape=True)
    assert [one.rule for one in done.fixed] == ["weak-fold"]
    new = _last_path(done.data).continuous_subpaths()
    ends = sorted((dash.start.real, dash.end.real) for dash in new)
    share = sum(b - a for a, b in ends) / 160
    assert 0.5 <= share <= 0.8
    assert ends[0][0] - 20 >= 0.5
    assert 180 - ends[-1][1] >= 0.5
    assert _fixed("weak-fold", *body).data == page(*body), "only where reshaping was asked for"


MIXED = {
    "dashes after the outline": "M30 30H70V70H30Z" + "M31.5 40h3m1 0h3m1 0h3m1 0h3m1 0h3",
    "with a window": "M30 30H70V70H30ZM45 50H55V60H45ZM31.5 40h3m1 0h3m1 0h3m1 0h3m1 0h3",
}


@pytest.mark.parametrize("name", MIXED)
@pytest.mark.parametrize("fill", ["none", "#dbe9f0"])
def test_a_path_of_cuts_and_folds_is_split_and_looks_the_same(name: str, fill: str) -> None:
    body = path(MIXED[name], f'fill="{fill}" fill-rule="evenodd" stroke="#33475b"', "flag")
    done = _fixed("mixed-line", body, path("M80 30H100V70H80Z", CUT))
    assert [one.rule for one in done.fixed] == ["mixed-line"], done.not_fixed
    before = page(body, path("M80 30H100V70H80Z", CUT))
    assert np.abs(_picture(done.data) - _picture(before)).max() <= ONE_STEP
    assert done.data.count(b"<path") == 3


def test_a_score_on_a_cut_goes_and_the_rest_of_it_stays() -> None:
    done = _fixed("score-on-cut", PANEL, path("M20 100H180V150", 'class="fold" ' + LINE))
    assert [one.rule for one in done.fixed] == ["score-on-cut"]
    assert _last_path(done.data).length() == pytest.approx(160, abs=0.05)


def test_a_stray_score_ends_at_the_edge() -> None:
    fold = path("M12 100H185", 'class="fold" ' + LINE)
    done = _fixed("stray-score", PANEL, fold, reshape=True)
    (start, end) = _last_path(done.data).bbox()[:2]
    assert (start, end) == pytest.approx((20, 180), abs=0.01)
