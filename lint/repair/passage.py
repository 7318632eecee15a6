"""From group to group: whether a part looks there as it does here, and what it must take along."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from matready.lint.cutting import Cutout
from matready.lint.cutting.roles import BY_SETTINGS, texts_of
from matready.lint.cutting.words import role_of
from matready.lint.repair.declared import Declared, is_inherited
from matready.lint.repair.ink import Ink
from matready.lint.repair.newgroup import Move
from matready.lint.repair.parts import Belongings, Part
from matready.lint.repair.refusal import Refused
from matready.lint.repair.sites import Site, chain_of

if TYPE_CHECKING:
    from lxml.etree import _Element

_GROUPS = frozenset(("g", "a"))
# Values that are measured by what stands above: CSS Values 4 (relative lengths, inherit).
_RELATIVE = re.compile(
    r"%|[0-9.](em|ex|ch|lh|cap|ic)\b|inherit|unset|revert|larger|smaller|bolder|lighter|currentcolor",
    re.IGNORECASE,
)
_MARKERS = ("marker", "marker-start", "marker-mid", "marker-end")


class Passage:
    """Looks at the groups that parts of one cutout leave and enter."""

    def __init__(self, cutout: Cutout, declared: Declared, ink: Ink, belongs: Belongings) -> None:
        self._cutout = cutout
        self._drawing = cutout.drawing
        self._declared = declared
        self._ink = ink
        self._belongs = belongs
        self._ways: dict[tuple[Part, int], tuple[tuple[int, ...], frozenset[str]] | Refused] = {}

    def move(self, site: Site, part: Part) -> Move:
        """The way of a part to a site; Refused where it would not look there as it does now."""
        key = part, site.container
        if key not in self._ways:
            try:
                self._ways[key] = self._way(part, site.container)
            except Refused as why:
                self._ways[key] = why
        way = self._ways[key]
        if isinstance(way, Refused):
            raise way
        return Move(part, way[0], part.node >= site.high, way[1])

    def _way(self, part: Part, container: int) -> tuple[tuple[int, ...], frozenset[str]]:
        """The groups that a part takes along, and what they need not have (see Move)."""
        old = chain_of(self._drawing, part.node)
        new = [container, *chain_of(self._drawing, container)]
        if not old or old[-1] != new[-1]:
            raise Refused("its parts are symbols that stand in no group together")
        shared = next(node for node in old if node in new)
        leaves, enters = old[: old.index(shared)], new[: new.index(shared)]
        if self._drawing.nodes[shared].kind == "switch":
            raise Refused("it stands in a <switch>, of which only one part is shown")
        for node in leaves:
            self._refuse_group(node, apart=self._is_apart(part, node))
        for node in enters:
            self._refuse_group(node, apart=False)
        self._refuse_other_look(part, leaves, enters, shared)
        self._refuse_other_role(part, leaves, enters)
        alike = self._alike(leaves, enters)
        return tuple(node for node in leaves if not self._is_idle(part, node, alike)), alike

    def refuse_split(self, part: Part) -> None:
        """Raise Refused where an element is painted as one whole, by more than its outline."""
        element, style = part.element, self._drawing.nodes[part.node].style
        what = ""
        if "url" in (style.fill, style.stroke):
            what = "has a gradient or pattern that spans all of it"
        elif self._declared.as_one(element) - {"opacity"}:
            what = "is clipped, masked or filtered as a whole"
        elif "pathLength" in element.attrib:
            what = "has a pathLength, by which its dashes are measured"
        elif any(self._passed_on(part.node, name) not in (None, "none") for name in _MARKERS):
            what = "has markers at its ends"
        if what:
            raise Refused(f"the path {self._on_line(part.node)} draws other pieces too and {what}")

    def _is_apart(self, part: Part, group: int) -> bool:
        """Whether a part shares no spot with the rest of a group that it leaves."""
        if "opacity" not in self._declared.as_one(self._drawing.nodes[group].element):
            return True
        mine = part.lines if part.subpaths else self._belongs.below(part.node)
        return not self._ink.share_a_spot(mine, set(self._belongs.below(group)) - set(mine))

    def _refuse_group(self, node: int, apart: bool) -> None:
        """Refuse a group that may not be left or entered; `apart`: its opacity is no matter."""
        element = self._drawing.nodes[node].element
        kind = self._drawing.nodes[node].kind
        where = f"the <{kind}> {self._on_line(node)}"
        if kind not in _GROUPS:
            raise Refused(f"{where} is a drawing of its own; ungroup it first")
        found = self._declared.as_one(element)
        if found == {"clip-path"} and self._clips_in_place(element):
            found = set()
        if found == {"opacity"} and apart:
            found = set()  # each of two groups that do not overlap may be made transparent alone
        if found:
            raise Refused(f"{where} has {min(found)}; take it off, or put the fold inside by hand")
        if element in self._reused:
            raise Refused(f"{where} is shown elsewhere too, by a <use>")
        if any("animate" in str(child.tag) for child in element.iterchildren("*")):
            raise Refused(f"{where} is animated")

    def _refuse_other_look(
        self, part: Part, leaves: Sequence[int], enters: Sequence[int], shared: int
    ) -> None:
        """What is entered may pass nothing on that the part would not have had anyway."""
        passed: dict[str, str] = {}
        for node in reversed(enters):
            passed.update(self._declared.of(self._drawing.nodes[node].element))
        own: set[str] = set()
        for element in (part.element, *(self._drawing.nodes[node].element for node in leaves)):
            found = self._declared.of(element)
            own |= {name for name, value in found.items() if not _RELATIVE.search(value)}
        for name in passed.keys() - own:
            if is_inherited(name) and passed[name] != self._passed_on(shared, name):
                raise Refused(f"the group {self._on_line(enters[0])} would give it another {name}")

    def _refuse_other_role(self, part: Part, leaves: Sequence[int], enters: Sequence[int]) -> None:
        if self._role_name(enters) and not self._role_name((part.node, *leaves)):
            raise Refused(
                f'a group is called "{self._role_name(enters)}", and what is put into it would be '
                "taken for that; give the group another name"
            )

    def _role_name(self, nodes: Sequence[int]) -> str:
        """The first name on one of the nodes that may tell cut from score."""
        texts = (text for node in nodes for text in texts_of(self._drawing, node))
        return next((text for text in texts if role_of(text, open_line=True)), "")

    def _alike(self, leaves: Sequence[int], enters: Sequence[int]) -> frozenset[str]:
        """Attributes that groups on both sides have, value for value, so that none is needed."""
        found = set()
        for name in ("transform", "clip-path"):
            entered, left = self._values(enters, name), self._values(leaves, name)
            if entered != left and (entered or name == "clip-path"):
                raise Refused(
                    f"the group of its outline or its fold has a {name} of its own; ungroup it, or "
                    "put the fold inside by hand"
                )
            if entered:
                found.add(name)
        return frozenset(found)

    def _values(self, groups: Sequence[int], name: str) -> list[str | None]:
        """What groups have of an attribute, nearest first; None for what a style gives."""
        values = []
        for node in groups:
            element = self._drawing.nodes[node].element
            by_style = name in self._declared.of(element) and name not in element.attrib
            if name == "transform":
                by_style = self._declared.moves_by_css(element)
            if by_style or name in element.attrib:
                values.append(None if by_style else str(element.get(name)))
        return values

    def _clips_in_place(self, element: _Element) -> bool:
        """Whether a clip-path is an attribute, and the same for whatever it is put on."""
        name = str(element.get("clip-path", "")).strip()
        if not name.startswith("url(#") or "clip-path" in self._declared.styled(element):
            return False
        wanted = name[len("url(#") : -1]
        for clip in self._drawing.source.root.iter("*"):
            if clip.get("id") == wanted:
                return clip.get("clipPathUnits", "userSpaceOnUse") == "userSpaceOnUse"
        return False

    def _is_idle(self, part: Part, node: int, alike: frozenset[str]) -> bool:
        """Whether a group passes nothing on and says nothing of what its lines are for."""
        element = self._drawing.nodes[node].element
        by_settings = self._cutout.roles.clue[list(part.lines)] == BY_SETTINGS
        if by_settings.any() or self._role_name((node,)) or "class" in element.attrib:
            return False
        if not self._declared.of(element).keys() <= alike:
            return False
        return "transform" in alike or not (
            "transform" in element.attrib or self._declared.moves_by_css(element)
        )

    def _passed_on(self, node: int, name: str) -> str | None:
        for above in self._drawing.ancestors(node):
            found = self._declared.of(self._drawing.nodes[above].element).get(name)
            if found is not None:
                return found
        return None

    def _on_line(self, node: int) -> str:
        element = self._drawing.nodes[node].element
        return f"on line {self._drawing.source.span(element).line} of the file"

    @cached_property
    def _reused(self) -> set[_Element]:
        """Elements that a `use` shows."""
        nodes = self._drawing.nodes
        return {
            node.element for node in nodes if node.parent >= 0 and nodes[node.parent].kind == "use"
        }
