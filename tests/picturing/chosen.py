"""Which drawings show a rule best, and how they are looked at: the flagged one, the clean one.

None of them has limits or settings of its own, so that a page shows what matready says as it comes.
"""

from __future__ import annotations

from tests.picturing.views import BLADE, Close, InFile, Moved, Screen, Shown, Whole, shown

_SHEET, _FILE = Whole(), InFile()
_ON_SCREEN = (Screen(), BLADE)
_UNCUT = Screen(), Whole("what the blade follows; grey is not cut", by_blade=True)
_ROLL = Whole("as a machine reads it", window=(-5.0, -5.0, 310.0, 310.0))
_IN_ORDER = Whole("numbers: in which order it is cut", ordered=True)

CHOSEN: dict[str, tuple[Shown, Shown]] = {
    "active-content": (
        shown("script-in-the-file", _SHEET, _FILE),
        shown("words-that-look-like-handlers", _SHEET, _FILE),
    ),
    "wrong-scale": (
        shown("twelve-inches-at-72", _ROLL, _FILE),
        shown("twelve-inches-at-96", _ROLL, _FILE),
    ),
    "broken-path": (
        shown("number-missing-at-the-end", _SHEET, _FILE),
        shown("numbers-that-run-together", _SHEET, _FILE),
    ),
    "off-mat": (
        shown("footlights-over-the-left-edge", _SHEET, Close(3, 25, 5)),
        shown("notes-beside-the-page"),
    ),
    "live-text": (
        shown("name-on-a-panel", *_UNCUT),
        shown("letter-as-outline", *_ON_SCREEN),
    ),
    "picture-inside": (
        shown("moon-inside-the-file", *_UNCUT),
        shown("filled-outline", *_ON_SCREEN),
    ),
    "clipped-art": (
        shown("moon-behind-a-hill", *_ON_SCREEN),
        shown("clip-along-the-outline", *_ON_SCREEN),
    ),
    "hidden-line": (
        shown("white-window-on-white", *_ON_SCREEN),
        shown("white-window-on-a-painted-panel", *_ON_SCREEN),
    ),
    "indirect-shape": (
        shown("wings-of-one-symbol", _SHEET, _FILE),
        shown("groups-in-place", _SHEET, _FILE),
    ),
    "double-cut": (
        shown("edge-that-two-panels-share", _SHEET, Close(50, 42, 5, lit_as="two cuts")),
        shown("circles-that-touch", _SHEET, Close(50, 40, 5)),
    ),
    "score-on-cut": (
        shown("fold-drawn-on-the-edge", _SHEET, Close(32, 24, 5, lit_as="fold on cut")),
        shown("fold-beside-the-edge", _SHEET, Close(32, 24, 5)),
    ),
    "crossed-outline": (
        shown("window-over-the-edge", _SHEET, Close(60, 57, 5)),
        shown("slit-two-past-the-edge", _SHEET, Close(50, 74, 5)),
    ),
    "hairline-gap": (
        shown("corner-a-tenth-short", _SHEET, Close(20.4, 20.4, 50)),
        shown("corner-two-hundredths-short", _SHEET, Close(20.4, 20.4, 50)),
    ),
    "unclosed-ends": (
        shown("panel-that-stops-at-its-start", _SHEET, _FILE),
        shown("closed-panel", _SHEET, _FILE),
    ),
    "open-outline": (
        shown("arch-without-its-foot"),
        shown("ends-meet-without-closing"),
    ),
    "mixed-line": (
        shown("dashes-in-the-path-of-the-outline", _SHEET, _FILE),
        shown("outline-and-dashes-apart", _SHEET, _FILE),
    ),
    "dash-styled-line": (
        shown("fold-dashed-by-its-attribute", *_ON_SCREEN),
        shown("real-dashes", *_ON_SCREEN),
    ),
    "weak-fold": (
        shown("dashes-of-five-ties-of-one", _SHEET, Close(30, 50, 5)),
        shown("dashes-of-three-ties-of-one", _SHEET, Close(30, 50, 5)),
    ),
    "stray-score": (
        shown("fold-across-a-window", _SHEET, Close(50, 50, 2)),
        shown("fold-ends-at-the-window", _SHEET, Close(50, 50, 2)),
    ),
    "too-many-points": (
        shown("footlight-as-a-polygon", _SHEET, Close(57, 43, 10, points=True)),
        shown("a-quarter-apart", _SHEET, Close(55, 45, 10, points=True)),
    ),
    "loose-score": (
        shown("folds-on-their-own-layer", Moved("one piece moved: its fold stays behind"), _FILE),
        shown("a-group-for-each-wing", Moved("one piece moved: its fold goes along"), _FILE),
    ),
    "cut-order": (
        shown("wall-before-its-window", _IN_ORDER, _FILE),
        shown("wall-after-its-window", _IN_ORDER, _FILE),
    ),
    "nameless-piece": (
        shown("ids-made-by-a-program", _SHEET, _FILE),
        shown("named-by-ids", _SHEET, _FILE),
    ),
    "undersize-piece": (
        shown("slots-of-four-tenths", _SHEET, Close(24, 40.2, 10)),
        shown("hole-and-slot-of-eleven-tenths", _SHEET, Close(24, 50.5, 10)),
    ),
    "thin-bridge": (
        shown("windows-nine-tenths-apart", _SHEET, Close(49.5, 33, 10)),
        shown("windows-eleven-tenths-apart", _SHEET, Close(49.5, 33, 10)),
    ),
    "crowded-cuts": (
        shown("gem-in-a-window", _SHEET, Close(69, 52.4, 10)),
        shown("gem-in-a-window", _SHEET, Close(67, 52.4, 10)),
    ),
    "sharp-tip": (
        shown("wing-of-eighteen-degrees", _SHEET, Close(18, 50, 10)),
        shown("star-of-five-points", _SHEET, Close(50, 18, 10)),
    ),
    "thick-line": (
        shown("filled-with-a-fat-rim", *_ON_SCREEN),
        shown("filled-without-a-stroke", *_ON_SCREEN),
    ),
    "uneven-scale": (
        shown(
            "floor-at-three-quarters",
            files=("arch.svg", "floor.svg", "wing.svg"),
            spans={"arch.svg": ((50, 70, 50, 75),), "floor.svg": ((42, 65, 42, 68.75),)},
        ),
        shown(
            "deeper-tabs-on-one-sheet",
            files=("arch.svg", "floor.svg", "wing.svg"),
            spans={"arch.svg": ((50, 70, 50, 75),), "floor.svg": ((47, 70, 47, 76.667),)},
        ),
    ),
    "repeat-file": (
        shown("wing-saved-again-further-right"),
        shown("left-and-right-wing"),
    ),
    "uneven-marking": (
        shown("colours-change-places", Screen(line_mm=0.7)),
        shown("same-fold-colour-other-cut-colour", Screen(line_mm=0.7)),
    ),
    "unmatched-tab": (
        shown(
            "roof-two-millimetres-longer",
            spans={"roof.svg": ((30, 30, 62, 30),), "walls.svg": ((5, 30, 35, 30),)},
        ),
        shown(
            "half-a-millimetre-longer",
            spans={"roof.svg": ((30, 30, 60.4, 30),), "walls.svg": ((5, 30, 35, 30),)},
        ),
    ),
}
