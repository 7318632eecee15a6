"""Style rules that no longer reach an element, or reach it now: what they gave is written out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matready.lint.repair.declared import ON_ITS_OWN, Declared, inline, is_inherited
from matready.lint.repair.edits import Edits
from matready.lint.repair.refusal import Refused
from matready.lint.repair.splice import Made, Spliced
from matready.lint.repair.tags import tag_at

if TYPE_CHECKING:
    from lxml.etree import _Element

    from matready.lint.source import Source


def carry_styles(
    before: Source, declared: Declared, edits: Edits, spliced: Spliced, after: Source
) -> bool:
    """Enter into `edits` all style that rules would give or take in `after`; True if any.

    Raises Refused where that cannot be written in a style attribute.
    """
    if declared.sheets is None:
        return False
    now = Declared(after)
    by_start = {before.text_span(element)[0]: element for element in before.root.iter("*")}
    found = False
    for element in after.root.iter("*"):
        origin = spliced.origin(after.text_span(element)[0])
        at = -1 if origin is None else origin  # -1: new text that no element stood for
        was = at.of if isinstance(at, Made) else by_start.get(at)
        if was is not None:
            style = _lost(declared, was, now, element)
        else:
            style = _neutral(now, element) if isinstance(origin, Made) else ""
        if not style:
            continue
        found = True
        if isinstance(origin, Made):
            _give(origin, style)
        else:
            assert was is not None
            edits.set(was, "style", style + str(element.get("style", "")))
    return found


def _neutral(now: Declared, element: _Element) -> str:
    """Declarations by which a new group gives its content nothing, whatever rules reach it."""
    rules = now.rules(element)
    if any(now.has_important(rule) for rule in rules):
        raise Refused("a style rule marked !important would reach the new group")
    found, style = now.of(element), ""
    for name in sorted({name for rule in rules for name in now.by_rule(rule)}):
        value = "inherit" if is_inherited(name) else ON_ITS_OWN.get(name)
        if value is not None and found.get(name) != value:
            style += f"{name}:{value};"
    return style


def _lost(declared: Declared, was: _Element, now: Declared, element: _Element) -> str:
    """Declarations that keep an element looking as it did."""
    if declared.rules(was) == now.rules(element):
        return ""
    changed = set(declared.rules(was)) ^ set(now.rules(element))
    if any(declared.has_important(rule) for rule in changed):
        raise Refused("a style rule marked !important would reach it no longer, or reach it now")
    names = {name for rule in changed for name in declared.by_rule(rule)} - inline(element).keys()
    old, new = declared.of(was), now.of(element)
    style = ""
    for name in sorted(names):
        value = old.get(name, "inherit")
        if value == new.get(name, "inherit"):
            continue
        if name not in old and not is_inherited(name):
            raise Refused(f"a style rule would give it another {name}")
        if name == "font-size" and value.strip().replace(".", "").isdigit():
            value += "px"  # an attribute may leave the unit out, CSS may not
        style += f"{name}:{value};"
    return style


def _give(made: Made, style: str) -> None:
    text = made.text.encode("utf-8")
    tag = tag_at(text, 0, len(text), len(text))
    raw = tag.raw("style") or ""
    splice = tag.set("style", "")
    (value,) = tag.set("style", style).parts
    assert isinstance(value, str)
    if "style" in tag.attributes:
        value += raw
    made.text = (text[: splice.start] + value.encode("utf-8") + text[splice.end :]).decode("utf-8")
