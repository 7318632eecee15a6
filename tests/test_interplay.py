"""Where rules meet: one matter gives one finding, from the rule that names its cause."""

from __future__ import annotations

import pytest

from matready.lint.runner import lint_bytes
from matready.rules import RULES

from tests.drawn import CUT, page, path, rules_of
from tests.drawn import FOLD as DASHED

FOLD = 'fill="none" stroke="#b5543a"'  # told by its name

PANEL = path("M20 20H120V90H20Z", name="panel")
FAR_PANEL = path("M130 20H180V90H130Z", name="wing")
REAL_DASHES = "".join(f"M20 {22 + 4 * k}v3" for k in range(17))

TEAL = 'fill="none" stroke="#0aa"'
ROWS_IN_PANEL = (
    f'<g id="rows">{path("".join(f"M{21 + 4 * k} 40h3" for k in range(24)), FOLD, "folds")}'
    f"{PANEL}</g>"
)
FOLD_IN_PANEL = f'<g id="panel-piece">{path("M21 60H119", FOLD, "fold")}{PANEL}</g>'

MATTERS = {
    "a dashed score on a cut": (
        [f'<g id="panel-piece">{PANEL}{path("M120 25V85", DASHED)}</g>'],
        ["score-on-cut"],
    ),
    "a row of dashes on a cut": (
        [f'<g id="panel-piece">{PANEL}{path(REAL_DASHES, FOLD, "folds")}</g>'],
        ["score-on-cut"],
    ),
    "a loose score on a cut": (
        [PANEL, path("M120 25V85", FOLD, "fold")],
        ["score-on-cut"],
    ),
    "a doubled piece that is tiny too": (
        [PANEL, path("M150 150h2v20h-2z", name="slip"), path("M150 150h2v20h-2z", name="slip-2")],
        ["double-cut", "undersize-piece"],
    ),
    "a hidden copy": (
        [PANEL, PANEL.replace("<path", '<path display="none"').replace("panel", "copy")],
        ["hidden-line"],
    ),
    "a hidden copy that is tiny": (
        [PANEL, path("M150 150h2v20h-2z", CUT + ' visibility="hidden"', "slip")],
        ["hidden-line"],
    ),
    "an open outline with a fold in it": (
        [(f'<g id="panel-piece">{path("M20 20H120V90H20V30", name="panel")}'
         f'{path("M21 60H119", FOLD, "fold")}</g>')],
        ["open-outline"],
    ),
    "an outline a hair open with a fold in it": (
        [(f'<g id="panel-piece">{path("M21 60H119", FOLD, "fold")}'
         f'{path("M20 20H120V90H20V20.2", name="panel")}</g>')],
        ["hairline-gap"],
    ),
    "path data that breaks off and so leaves its outline open": (
        [PANEL, path("M140 20H180V90x V20", name="wing")],
        ["broken-path"],
    ),
    "an outline in a bow-tie": (
        [path("M20 20L120 90V20L20 90Z", name="bow")],
        ["crossed-outline"],
    ),
    "a window through the edge of its panel": (
        [path("M20 20H120V90H20Z M110 40H130V60H110Z", name="panel")],
        ["crossed-outline"],
    ),
    "two panels over each other": (
        [PANEL, path("M100 60H170V120H100Z", name="wing")],
        ["crossed-outline"],
    ),
    "a clipped text": (
        ['<clipPath id="c"><rect width="30" height="9"/></clipPath>', PANEL,
         '<text x="22" y="30" font-size="9" clip-path="url(#c)">Act one</text>'],
        ["live-text"],
    ),
    "a clipped picture": (
        ['<clipPath id="c"><rect width="30" height="9"/></clipPath>', PANEL,
         '<image x="22" y="30" width="60" height="40" href="hills.png" clip-path="url(#c)"/>'],
        ["picture-inside"],
    ),
    "panels side by side that share an edge drawn twice": (
        [PANEL, path("M120 20H180V90H120Z", name="wing")],
        ["double-cut"],
    ),
    "a hidden text": (
        [PANEL, '<text x="22" y="30" display="none">Act one</text>'],
        [],
    ),
    "a script in a use that is written out": (
        ['<defs><path id="flag" d="M0 0h30v30h-30z" fill="none" stroke="#000"/></defs>', PANEL,
         '<use href="#flag" x="140" y="20" onclick="run()"/>'],
        ["active-content", "indirect-shape"],
    ),
    "sharp wings beside a sharp slip that is too small at all": (
        [*(path(f"M20 {20 + 20 * k}l60 8l-60 8Z", name=f"wing-{k}") for k in range(4)),
         path("M120 40l40 1.2l-40 1.2Z", name="slip")],
        ["sharp-tip", "undersize-piece"],
    ),
    "crumbs that lie side by side": (
        [PANEL, path("M150 30h2v2h-2z", name="crumb"), path("M153 30h2v2h-2z", name="crumb-2")],
        ["undersize-piece", "undersize-piece"],
    ),
    "a panel with rows of dashes, and itself again a little aside": (
        [ROWS_IN_PANEL, ROWS_IN_PANEL.replace("<g", '<g transform="translate(30 23)"')],
        ["crossed-outline"],
    ),
    "a panel with its fold, pasted upon itself": (
        [FOLD_IN_PANEL, FOLD_IN_PANEL],
        ["double-cut"],
    ),
    "a slot of which a side is too short": (
        [*(path(d, name="slot") for d in ("M40 40H48.2V40.4", "M48.2 40.6H41.5", "M40 40.6V40.2")),
         PANEL],
        ["hairline-gap", "hairline-gap"],
    ),
    "a bridge beside a window that breaks off": (
        [path("M20.6 40H60V60H20.6V50 L", name="window"), PANEL],
        ["broken-path"],
    ),
    "folds of a wing that is hidden": (
        [PANEL, path("M130 20H180V90H130Z", FOLD + ' display="none"', "wing"),
         path("M130 40H180", FOLD, "fold-1"), path("M150 40V90", FOLD, "fold-2")],
        ["hidden-line"],
    ),
    "folds of a wing whose outline breaks off before it is half round": (
        [PANEL, path("M130 20H180V60 x H130Z", name="wing"),
         path("M130.5 40H179.5", FOLD, "fold-1"), path("M150 41V89", FOLD, "fold-2"),
         path("M130.5 80H179.5", FOLD, "fold-3")],
        ["broken-path"],
    ),
    "a guide without a name from edge to edge of the page": (
        ['<g id="panel-piece">', *(path(f"M70 {y}V{y + 20}", TEAL) for y in (30, 60, 90)),
         path("M20 10H120V190H20Z", name="panel"), "</g>", path("M80 0V200", TEAL)],
        [],
    ),
    "panels that share an edge drawn twice, in one group with their folds": (
        [(f'<g id="wings">{path("M21 60H119", FOLD, "fold-1")}{path("M121 60H179", FOLD, "fold-2")}'
         f'{PANEL}{path("M120 20H180V90H120Z", name="wing")}</g>')],
        ["double-cut"],
    ),
    "a score drawn across two panels and the sheet between them": (
        [path("M20 60H180", FOLD, "fold"), f'<g id="panel-piece">{PANEL}</g>', FAR_PANEL],
        ["stray-score", "loose-score", "loose-score"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("matter", MATTERS)
def test_one_matter_gives_one_finding(matter: str) -> None:
    body, expected = MATTERS[matter]
    found = lint_bytes(page(*body), "sheet.svg", [rule for rule in RULES if rule.check])
    assert sorted(rules_of(found)) == sorted(expected), [f.message for f in found.findings]


def test_a_sheet_of_wrong_scale_is_not_too_large_for_the_mat_too() -> None:
    body = '<path id="panel" d="M20 20H800V800H20Z" fill="none" stroke="#000"/>'
    head = 'width="864" height="864" viewBox="0 0 864 864"'
    data = f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()
    assert rules_of(lint_bytes(data, "sheet.svg", RULES)) == ["wrong-scale"]


@pytest.mark.parametrize(("head", "expected"), [
    ('viewBox="0 0 210 200"', ["wrong-scale"]),  # a user unit is read as 0.26 mm: so are the ties
    ('width="210mm" height="200mm" viewBox="0 0 210 200"', []),
])  # fmt: skip
def test_ties_are_measured_only_at_a_size_that_is_known(head: str, expected: list[str]) -> None:
    dashes = "".join(f"M{21 + 4 * k} 40h3" for k in range(24))  # a tie of 1 unit at both edges
    body = f'<g id="panel-piece">{path(dashes, FOLD, "fold")}{path("M20 20H117V90H20Z")}</g>'
    data = f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()
    assert rules_of(lint_bytes(data, "sheet.svg", RULES)) == expected
