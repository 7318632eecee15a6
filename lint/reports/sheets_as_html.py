"""The mats as one page for a browser and for the wall: a picture of each, what to lay, the pieces.

All texts are escaped by the template library; pictures are numbers of ours (html_page.py).
"""

from __future__ import annotations

from collections.abc import Sequence

from matready.lint.figures.as_svg import lead_of, mark_shape
from matready.lint.figures.mats import MatPicture
from matready.lint.figures.paths import number_text
from matready.lint.reports.html_page import render
from matready.lint.reports.sheets_view import (
    left_out_views,
    mat_views,
    notes_of_mats,
    refused_views,
    totals_of_mats,
    verdict_of_mats,
)
from matready.lint.sheets.cutting_list import CuttingList


def sheets_as_html(record: CuttingList, pictures: Sequence[MatPicture]) -> str:
    """The page; `pictures` are those of `record.mats`, in their order."""
    mats = mat_views(record, pictures)
    sizes = [mat.size_mm for mat in record.mats]
    of_sheet = {
        "plates": [
            (number, number_text(width), number_text(height))
            for number, (width, height) in enumerate(sizes, 1)
        ],
        "numbers": range(1, max((len(mat.parts) for mat in mats), default=0) + 1),
    }
    of_page = {
        "verdict": verdict_of_mats(record),
        "totals": totals_of_mats(record),
        "notes": notes_of_mats(record),
        "refused": refused_views(record),
        "left_out": left_out_views(record),
        "mats": mats,
        "lead_of": lead_of,
        "mark_shape": mark_shape,
    }
    return render("mats.html.jinja", "mats.css", of_sheet, of_page)
