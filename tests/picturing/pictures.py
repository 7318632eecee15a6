"""A rule's two pictures out of its fixtures: views side by side, and what matready says of them."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import Any
from xml.sax.saxutils import escape

import msgspec
from lxml import etree

from matready.lint.cutting import Cutout
from matready.lint.figures import Mark, figure_of
from matready.lint.figures.as_svg import in_the_dark
from matready.lint.figures.palette import PALETTE
from matready.lint.figures.paths import number_text as n
from matready.lint.figures.spots import spot_of
from matready.lint.finding import Finding
from matready.lint.inspection import inspect_source
from matready.lint.reports.as_text import place_as_text
from matready.lint.results import FindingRecord, SetFindingRecord
from matready.lint.rule import Rule
from matready.lint.settings import Settings
from matready.lint.source import read_source

from tests.picturing.chosen import CHOSEN
from tests.picturing.panels import HIGH_PX, Looked, Panel, panel_of
from tests.picturing.views import Shown
from tests.test_fixtures import FIXTURES, Case
from tests.test_set_fixtures import SetCase

_GAP_PX, _CAPTION_PX, _EDGE_PX = 12.0, 28.0, 8.0
_ROW_PX = 782.0  # the width of a set's drawings together
_TITLE = re.compile(r"<title>([^<]*)</title>")


def pictures_of(rule: Rule) -> Mapping[str, str]:
    """The text of both pictures, "flagged" and "clean"."""
    flagged, clean = CHOSEN[rule.name]
    return {"flagged": _picture(rule, flagged, "flagged"), "clean": _picture(rule, clean, "clean")}


def _picture(rule: Rule, chosen: Shown, kind: str) -> str:
    path = FIXTURES / rule.name / kind / chosen.name
    if rule.check_set:
        return _of_set(SetCase(path, rule.name), chosen)
    case = Case(path.with_suffix(".svg"), rule.name)
    data, expected = case.drawing.read_bytes(), case.expected()
    beside = msgspec.convert(_beside(expected), list[FindingRecord])
    records = [one for one in beside if one.rule == rule.name]
    cutout, found = _looked_at(data, [rule])
    assert len(found) == len(records), "as many findings as stand beside the drawing"
    looked = Looked(
        data,
        cutout,
        figure_of(cutout),
        _marks(records),
        tuple(spot_of(cutout, one) for one in found),
        _lines(data, records),
    )
    said = [f"{one.severity}, line {one.line}{_place(one)}: {one.message}" for one in records]
    return _svg([panel_of(looked, view) for view in chosen.views], _title(data), said)


def _of_set(case: SetCase, chosen: Shown) -> str:
    """Drawings of a set side by side, at one scale."""
    records = msgspec.convert(_beside(case.expected()), list[SetFindingRecord])
    names = chosen.files or tuple(path.name for path in case.drawings[:3])
    looked = []
    for name in names:
        data = (case.folder / name).read_bytes()
        cutout, _ = _looked_at(data, [])
        about = [one for one in records if one.files[0] == name]
        spans = chosen.spans.get(name, ())
        looked.append(Looked(data, cutout, figure_of(cutout), _marks(about), spans=spans))
    windows = [one.figure.window_mm for one in looked]
    room = _ROW_PX - _GAP_PX * (len(names) - 1)
    scale = min(
        HIGH_PX / max(y1 - y0 for _, y0, _, y1 in windows),
        room / sum(x1 - x0 for x0, _, x1, _ in windows),
    )
    (view,) = chosen.views
    panels = [
        dataclasses.replace(panel_of(one, view, scale), caption=_caption(name, records))
        for one, name in zip(looked, names, strict=True)
    ]
    said = [
        f"{one.severity}, {one.files[0]}, line {one.line}{_place(one)}: {one.message}"
        for one in records
    ]
    title = f"A set: {chosen.name.replace('-', ' ')}"
    if len(case.drawings) > len(names):
        title += f" ({len(names)} of its {len(case.drawings)} drawings)"
    return _svg(panels, title, said)


def _caption(name: str, records: Sequence[SetFindingRecord]) -> str:
    """A drawing's name, after the numbers of the findings that are told of it."""
    numbers = [str(k) for k, one in enumerate(records, 1) if one.files[0] == name]
    return f"{', '.join(numbers)}: {name}" if numbers else name


def _looked_at(data: bytes, rules: Sequence[Rule]) -> tuple[Cutout, list[Finding]]:
    inspection = inspect_source(read_source(data, "drawing.svg"), rules, Settings())
    return inspection.cutout, [found for _, found in inspection.findings()]


def _beside(expected: dict[str, Any]) -> object:
    """The findings that stand beside a drawing: they do not hang on the library at hand."""
    assert not {"limits", "mat"} & expected.keys(), "choose one without limits of its own"
    return expected.get("findings", [])


def _place(record: FindingRecord) -> str:
    return place_as_text(record, in_inches=False)


def _marks(records: Sequence[FindingRecord]) -> tuple[Mark, ...]:
    return tuple(
        Mark(place, str(number), one.severity)
        for number, one in enumerate(records, 1)
        for place in _places(one)
    )


def _places(record: FindingRecord) -> tuple[tuple[float, float], ...]:
    """Where a finding is marked; what is about the whole page in the page's corner."""
    if record.of_whole_page:
        return ((0.0, 0.0),)
    return record.places_mm or ((record.at_mm,) if record.at_mm else ())


def _lines(data: bytes, records: Sequence[FindingRecord]) -> tuple[int, ...]:
    """Where the elements stand that findings name; fixtures have each tag on one line."""
    root = etree.fromstring(data)
    found = {one.line for one in records}
    for position in (each for one in records for each in one.elements):
        steps = re.findall(r"/([^/\[]+)(\[\d+\])?", position)
        path = "".join(f"/*[local-name()='{name}']{place}" for name, place in steps)
        elements: Any = root.xpath(path)
        found.update(element.sourceline for element in elements)
    return tuple(sorted(found))


def _title(data: bytes) -> str:
    found = _TITLE.search(data.decode("utf-8"))
    assert found, "a drawing says what is drawn"
    return found[1].replace("&lt;", "<").replace("&amp;", "&")


def _svg(panels: Sequence[Panel], title: str, said: Sequence[str]) -> str:
    """The panels in a row on a ground of their own, so that they stand on white and black pages."""
    width = sum(panel.width_px for panel in panels) + _GAP_PX * (len(panels) - 1) + 2 * _EDGE_PX
    tall = max(panel.height_px for panel in panels)
    height = tall + _EDGE_PX + _CAPTION_PX
    ink, room, lit = PALETTE["cut"].light, PALETTE["room"].light, PALETTE["halo"].dark
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{n(width)}" height="{n(height)}" '
        f'viewBox="0 0 {n(width)} {n(height)}" role="img">'
    )
    parts = [
        head,
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(chr(10).join(said))}</desc>" if said else "",
        f"<style>{in_the_dark()}@media (prefers-color-scheme:dark){{.lit{{fill:{lit}}}}}</style>",
        f'<rect class="room" width="{n(width)}" height="{n(height)}" fill="{room}"/>',
    ]
    x = _EDGE_PX
    for panel in panels:
        parts += [f'<g transform="translate({n(x)} {n(_EDGE_PX)})">', *panel.elements, "</g>"]
        parts.append(
            f'<text class="bar" x="{n(x)}" y="{n(_EDGE_PX + tall + 18)}" font-size="14" '
            f'font-family="system-ui, sans-serif" fill="{ink}">{escape(panel.caption)}</text>'
        )
        x += panel.width_px + _GAP_PX
    return "\n".join(filter(None, [*parts, "</svg>"])) + "\n"
