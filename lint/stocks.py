"""Stocks: the papers and cards that are cut, and the limits that follow from how thick they are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, get_type_hints

from matready.lint.rule import Limit
from matready.lint.sizes import nearest

BULK_CM3_G = 1.15
"""Thickness in µm over grammage in g/m² (ISO 534) of index card.

US Government Paper Specification Standards, JCP K10: 165, 200, 255 and 305 g/m² are 0.190, 0.230,
0.290 and 0.350 mm thick.
"""

_PRACTICE = "common practice, no source"
_WITH_THICKNESS = f"half as much again in stock twice as thick; {_PRACTICE}"
_USUAL_MM = 0.23  # card-200, for which the limits of the rules are meant as they stand there

# Above 0.005 in a fold wants a score: advice that print shops publish.
_FOLDS_BY_ITSELF_MM = 0.127


@dataclass(frozen=True, slots=True)
class Stock:
    """A paper or card. A rule's limit that names one of these fields takes its value from it."""

    name: str
    source: str
    grammage_g_m2: Annotated[
        float, Limit("g/m²", "weight of a square metre", "ISO 536 tells how it is measured")
    ]
    thickness_mm: Annotated[
        float, Limit("mm", "thickness of one sheet", "ISO 534 tells how it is measured")
    ]
    piece_mm: Annotated[
        float,
        Limit("mm", "smallest piece across", f"3 mm in card-200, {_WITH_THICKNESS}"),
    ]
    hole_mm: Annotated[
        float,
        Limit("mm", "smallest waste of a hole across", f"1 mm in card-200, {_WITH_THICKNESS}"),
    ]
    slot_mm: Annotated[
        float,
        Limit(
            "mm",
            "narrowest waste of a slot",
            f"0.5 mm, {_PRACTICE}; never under the thickness, as published for laser-cut paper",
        ),
    ]
    bridge_mm: Annotated[
        float,
        Limit(
            "mm",
            "narrowest neck of card between two cuts",
            f"1 mm in card-200 and in thinner stock, which is no stronger; {_WITH_THICKNESS}",
        ),
    ]
    least_cut_share: Annotated[
        float,
        Limit(
            "share",
            "least part of a perforated fold that is cut",
            "a half; a quarter in stock under 0.127 mm, which folds without a score; common "
            "practice, no source",
        ),
    ]
    most_cut_share: Annotated[
        float,
        Limit(
            "share",
            "greatest part of a perforated fold that is cut",
            "4 to 1, whatever the stock: manuals of line printers, for forms made to be torn",
        ),
    ]
    tie_mm: Annotated[
        float,
        Limit(
            "mm",
            "shortest tie between two cuts of a perforated fold",
            "whatever the stock: a published table of perforating blades, ties of 0.51 mm and more",
        ),
    ]


LIMITS = (
    "piece_mm",
    "hole_mm",
    "slot_mm",
    "bridge_mm",
    "least_cut_share",
    "most_cut_share",
    "tie_mm",
)
"""The fields that follow from the thickness where nothing else is said."""

NUMBERS = ("grammage_g_m2", "thickness_mm", *LIMITS)
"""All fields that are numbers, as `[stocks.NAME]` may set them."""

_hints = get_type_hints(Stock, include_extras=True)
DESCRIBED: Mapping[str, Limit] = MappingProxyType(
    {name: hint.__metadata__[0] for name, hint in _hints.items() if name in NUMBERS}
)
"""For each number of a stock its unit, its meaning, and how it follows from the thickness."""


def stock_of(
    name: str,
    grammage_g_m2: float | None,
    thickness_mm: float | None,
    own: Mapping[str, float] | None = None,
    source: str = _PRACTICE,
    bulk_cm3_g: float = BULK_CM3_G,
) -> Stock:
    """A stock; of weight and thickness one may be None and follows from the other by the bulk.

    `own` are LIMITS that hold as they are given; the others follow from the thickness.
    """
    if thickness_mm is None:
        assert grammage_g_m2 is not None
        thickness_mm = round(grammage_g_m2 * bulk_cm3_g / 1000, 3)
    if grammage_g_m2 is None:
        grammage_g_m2 = round(thickness_mm * 1000 / bulk_cm3_g, 1)
    times = (1 + thickness_mm / _USUAL_MM) / 2
    limits = {
        "piece_mm": round(3 * times, 1),
        "hole_mm": round(times, 1),
        "slot_mm": max(0.5, thickness_mm),
        "bridge_mm": max(1.0, round(times, 1)),
        "least_cut_share": 0.25 if thickness_mm < _FOLDS_BY_ITSELF_MM else 0.5,
        "most_cut_share": 0.8,
        "tie_mm": 0.5,
    }
    return Stock(name, source, grammage_g_m2, thickness_mm, **{**limits, **(own or {})})


_INDEX_CARD = "computed: the bulk of index card, 1.15 cm³/g (JCP K10)"
_BOX_BOARD = "folding box board of this weight: a published study of crease grooves"

CARD_200 = stock_of("card-200", 200, 0.23, source="110 lb index card: JCP K10, 0.230 mm ±0.013")
"""The stock that is taken where none is named."""

STOCKS: Mapping[str, Stock] = MappingProxyType(
    {
        stock.name: stock
        for stock in (
            stock_of("paper-80", 80, 0.104),
            stock_of("vellum-120", 120, 0.115),
            stock_of("card-160", 160, None, source=_INDEX_CARD),
            CARD_200,
            stock_of("card-250", 250, None, source=_INDEX_CARD),
            stock_of("card-300", 300, None, source=_INDEX_CARD),
            stock_of("kraft-280", 280, 0.35, source=_BOX_BOARD),
            stock_of("board-350", 350, 0.44, source=_BOX_BOARD),
        )
    }
)
"""The stocks that are built in, by name, from thin to thick."""


def named_stock(name: str, own: Mapping[str, Stock]) -> Stock:
    """The stock of a name, one's own or a built-in one; raises ValueError with one sentence."""
    known = {**STOCKS, **own}
    if name not in known:
        near = nearest_stock(name, known)
        hint = f'the nearest is "{near}"' if near else f"there are {', '.join(known)}"
        raise ValueError(f'no stock is named "{name[:60]}"; {hint}')
    return known[name]


def nearest_stock(name: str, known: Iterable[str]) -> str | None:
    """The known name most like `name`: of its kind the nearest in weight, as for "card-210"."""
    kind, weight = _kind_and_weight(name)
    alike = {other: _kind_and_weight(other) for other in known}
    weights = {other: its for other, (its_kind, its) in alike.items() if its_kind == kind}
    if weight >= 0 and weights:
        return min(weights, key=lambda other: abs(weights[other] - weight))
    return nearest(name, alike)


def _kind_and_weight(name: str) -> tuple[str, int]:
    """Of "card-200" the kind, "card", and 200; -1 where no number ends the name."""
    kind, _, weight = name[:60].rpartition("-")
    return (kind.casefold(), int(weight)) if weight.isdecimal() else (name.casefold(), -1)
