"""The `<style>` sheets of a file, and which of their rules match an element.

Elements that look alike to every selector share one answer, so that thousands of them cost one
match. That holds as long as selectors ask for tags, ids, classes, attributes and ancestors; rules
that look at siblings are matched element by element, and in large files left out with a note.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from matready.lint.reading.declarations import (
    Declaration,
    declarations,
    media_applies,
    nested_too_deep,
)

if TYPE_CHECKING:
    from cssselect2.compiler import CompiledSelector
    from lxml.etree import _Element

# Matching siblings one by one is quadratic in their number.
MAX_SIBLING_ELEMENTS = 5_000
# Tokens in one selector; compiling takes time and depth with the square of them.
MAX_SELECTOR = 100
_CONDITIONAL = frozenset(("supports", "layer", "scope", "container"))


class SheetRule(NamedTuple):
    """The declarations of one rule."""

    declarations: tuple[Declaration, ...]


class _Seen:
    """What the selectors of a file look at, besides tags."""

    def __init__(self) -> None:
        self.ids: set[str] = set()
        self.classes: set[str] = set()
        self.attributes: set[str] = set()


class Sheets:
    """All sheets of a file. `rules` is in source order; `notes` says what is not applied."""

    def __init__(self, root: _Element, styles: Iterable[_Element]) -> None:
        from cssselect2 import Matcher

        self.rules: list[SheetRule] = []
        self.notes: list[str] = []
        self._root = root
        self._matcher = Matcher()
        self._seen = _Seen()
        self._looks_at_siblings = False
        self._keys: dict[tuple[object, ...], int] = {}
        self._key_of: dict[_Element, int] = {}
        self._matches: dict[object, tuple[int, ...]] = {}
        self._wrappers: dict[_Element, Any] = {}
        for style in styles:
            self._read(style)

    def match(self, element: _Element) -> tuple[int, ...]:
        """Indices into `rules` of those that match the element, the strongest last."""
        if not self.rules:
            return ()
        key = element if self._looks_at_siblings else self._key(element)
        found = self._matches.get(key)
        if found is None:
            wrapper = self._wrapper(element)
            found = tuple(match[3] for match in self._matcher.match(wrapper) if match[2] is None)
            self._matches[key] = found
        return found

    def _note(self, text: str) -> None:
        if text not in self.notes:
            self.notes.append(text)

    def _read(self, style: _Element) -> None:
        if style.get("type", "text/css").strip().lower() not in ("", "text/css"):
            self._note("a <style> in another language than CSS is not applied")
            return
        if not self._media(style.get("media", "")):
            return
        text = "".join(str(part) for part in style.itertext())
        if nested_too_deep(text):
            self._note("a <style> with brackets nested without end is not applied")
            return
        from tinycss2 import parse_stylesheet

        self._add(parse_stylesheet(text, skip_comments=True, skip_whitespace=True))

    def _media(self, query: str) -> bool:
        applies = media_applies(query)
        if applies is None:
            self._note(f'style rules for "{query.strip()[:60]}" are not applied')
        return bool(applies)

    def _add(self, nodes: Iterable[Any]) -> None:
        from tinycss2 import parse_rule_list, serialize

        for node in nodes:
            if node.type == "qualified-rule":
                self._add_rule(node)
            elif node.type == "at-rule" and node.lower_at_keyword == "media":
                if node.content is not None and self._media(serialize(node.prelude)):
                    self._add(parse_rule_list(node.content, True, True))
            elif node.type == "at-rule" and node.lower_at_keyword == "import":
                self._note("a style sheet outside the file (@import) is not opened")
            elif node.type == "at-rule" and node.lower_at_keyword in _CONDITIONAL:
                self._note(f"style rules inside @{node.lower_at_keyword} are not applied")

    def _add_rule(self, node: Any) -> None:
        from cssselect2 import SelectorError, parser
        from cssselect2.compiler import CompiledSelector
        from tinycss2 import parse_blocks_contents, serialize

        try:
            if _longest(node.prelude) > MAX_SELECTOR:
                raise SelectorError(node, "too long")
            parsed = list(parser.parse(node.prelude))
            compiled = [CompiledSelector(selector) for selector in parsed]
        except (SelectorError, NotImplementedError, RecursionError, SyntaxError, MemoryError):
            text = " ".join(serialize(node.prelude).split())
            self._note(f'style rules for the selector "{text[:60]}" are not applied')
            return
        found = declarations(parse_blocks_contents(node.content, True, True))
        if found:
            self._add_selectors(parsed, compiled, SheetRule(found))

    def _add_selectors(
        self, parsed: list[Any], compiled: list[CompiledSelector], rule: SheetRule
    ) -> None:
        self.rules.append(rule)
        for selector, test in zip(parsed, compiled, strict=True):
            if test.never_matches or test.pseudo_element is not None:
                continue
            if _looks_at_siblings(selector.parsed_tree, self._seen):
                if self._is_large():
                    self._note("style rules that look at siblings are not applied in a large file")
                    continue
                self._looks_at_siblings = True
            self._matcher.add_selector(test, len(self.rules) - 1)

    def _is_large(self) -> bool:
        return any(i >= MAX_SIBLING_ELEMENTS for i, _ in enumerate(self._root.iter("*")))

    def _key(self, element: _Element) -> int:
        """A number that elements share which no selector can tell apart."""
        known = self._key_of.get(element)
        if known is not None:
            return known
        parent = element.getparent()
        above = -1 if parent is None else self._key(parent)
        seen = self._seen
        name = element.get("id")
        classes = element.get("class")
        look = (
            above,
            element.tag,
            name if name in seen.ids else None,
            tuple(c for c in classes.split() if c in seen.classes) if classes else (),
            tuple(element.get(name) for name in seen.attributes) if seen.attributes else (),
        )
        key = self._key_of[element] = self._keys.setdefault(look, len(self._keys))
        return key

    def _wrapper(self, element: _Element) -> Any:
        """cssselect2's view of the element; siblings only where a selector asks for them."""
        known = self._wrappers.get(element)
        if known is not None:
            return known
        parent = element.getparent()
        if parent is None:
            self._wrappers[element] = _wrapper_class()(element, None, 0, None, False)
        elif not self._looks_at_siblings:
            above = self._wrapper(parent)
            self._wrappers[element] = _wrapper_class()(element, above, 0, None, False)
        else:
            for child in self._wrapper(parent).iter_children():
                self._wrappers[child.etree_element] = child
        return self._wrappers[element]


@cache
def _wrapper_class() -> Any:
    """cssselect2's ElementWrapper, made to walk long rows of siblings without recursion."""
    from cssselect2 import ElementWrapper

    return type("Wrapper", (ElementWrapper,), {"previous_siblings": property(_earlier)})


def _earlier(wrapper: Any) -> Iterator[Any]:
    while (wrapper := wrapper.previous) is not None:
        yield wrapper


def _looks_at_siblings(node: Any, seen: _Seen) -> bool:
    """Whether a selector needs more than an element and its ancestors; collects what it asks."""
    kind = type(node).__name__
    if kind == "CombinedSelector":
        parts = [node.left, node.right]
    elif kind == "CompoundSelector":
        parts = node.simple_selectors
    elif kind in ("NegationSelector", "MatchesAnySelector", "SpecificityAdjustmentSelector"):
        parts = [part.parsed_tree for part in node.selector_list]
    else:
        return not _looks_at_itself(kind, node, seen)
    answers = [_looks_at_siblings(part, seen) for part in parts]
    return any(answers) or getattr(node, "combinator", "") in ("+", "~")


def _longest(prelude: list[Any]) -> int:
    """Tokens in the longest selector of a list."""
    longest = length = 0
    for part in prelude:
        length = 0 if part == "," else length + 1
        longest = max(longest, length)
    return longest


def _looks_at_itself(kind: str, node: Any, seen: _Seen) -> bool:
    if kind == "IDSelector":
        seen.ids.add(node.ident)
    elif kind == "ClassSelector":
        seen.classes.add(node.class_name)
    elif kind == "AttributeSelector":
        seen.attributes.add(f"{{{node.namespace}}}{node.name}" if node.namespace else node.name)
    elif kind == "PseudoClassSelector":
        return bool(node.name == "root")
    return kind not in ("RelationalSelector", "FunctionalPseudoClassSelector")
