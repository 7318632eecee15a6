"""The elements of a strip as text: shapes, styles, names."""

from __future__ import annotations

import math
from random import Random
from typing import NamedTuple
from xml.sax.saxutils import quoteattr

from tests.planting.marks import Sub
from tests.planting.markup import simple_shape
from tests.planting.strokes import Matrix, moved
from tests.spoiling.clusters import Mark
from tests.spoiling.looks import Look, Sheet
from tests.spoiling.nests import Node
from tests.spoiling.pathdata import any_hand, path_data


class _Place(NamedTuple):
    """Where an element stands among its siblings, from 1, and whether a cut line comes before."""

    number: int
    after_cut: bool


class Writer:
    """Writes nodes and marks; `matrix` takes the root's user units to mm on the page."""

    def __init__(self, look: Look, matrix: Matrix, names: dict[int, str], rng: Random) -> None:
        self.look, self.matrix, self.names, self.rng = look, matrix, names, rng
        self.sheet = Sheet()
        self.error_mm = rng.choice([0.0001, 0.0005, 0.001])
        self.hand = any_hand(rng)
        self.href = rng.choice(["href", "xlink:href"])
        self.count = 0
        self.ids: dict[int, list[str]] = {}  # of the cut lines of each part, strays left out
        self.known: dict[str, str] = {}  # the style behind each class, by its selector

    def elements(self, kids: list[Node | Mark], total: Matrix, above: tuple[Node, ...]) -> str:
        """The elements that stand together, each with all that is in it."""
        texts = []
        for index, kid in enumerate(kids):
            earlier = [mark for mark in kids[:index] if isinstance(mark, Mark)]
            after_cut = any(mark.role == "cut" for mark in earlier)
            texts.append(self._element(kid, total, above, _Place(index + 1, after_cut)))
        return "\n".join(texts)

    def _element(
        self, kid: Node | Mark, total: Matrix, above: tuple[Node, ...], place: _Place
    ) -> str:
        if isinstance(kid, Mark):
            return self._mark(kid, total, above, place)
        attributes = dict(kid.attributes)
        if kid.tag == "use":
            attributes = {self.href: attributes.pop("href"), **attributes}
        else:
            total = total @ kid.matrix
        self._layer(kid, attributes, total if kid.tag != "use" else total @ kid.matrix)
        if self.look.styling == "nth-child" and kid.tag == "g":
            attributes.setdefault("id", f"set-{self._next()}")
        kid.attributes = {**kid.attributes, **attributes}
        kid.attributes.pop(self.href, None)
        inside = self.elements(kid.kids, total, (*above, kid))
        written = _written(attributes)
        if not inside:
            return f"<{kid.tag}{written}/>"
        inside = "\n".join("  " + line for line in inside.split("\n"))
        return f"<{kid.tag}{written}>\n{inside}\n</{kid.tag}>"

    def _next(self) -> int:
        self.count += 1
        return self.count

    def _layer(self, node: Node, attributes: dict[str, str], total: Matrix) -> None:
        """What stands on a layer of one role: the word that tells it, and style to inherit."""
        look = self.look
        if not node.role:
            return
        if look.styling == "inherit":
            attributes |= look.properties(node.role, 1 / total.size)
        if look.clue == "layer" and node.tag != "use":
            word = look.cut_word if node.role == "cut" else look.score_word
            if self.rng.random() < 0.5:
                attributes["n:label"] = word
            else:
                attributes["id"] = f"{word}-{self._next()}"
        if look.styling == "id-descendant" and node.tag != "use":
            attributes.setdefault("id", f"set-{self._next()}")

    def _mark(self, mark: Mark, total: Matrix, above: tuple[Node, ...], place: _Place) -> str:
        attributes: dict[str, str] = {}
        self._name(mark, attributes, above)
        self._style(mark, attributes, total, above, place)
        inverse = total.inverse()
        subs = [Sub(moved(sub.chain, inverse), sub.closed) for sub in mark.subs]
        decimals = max(0, math.ceil(-math.log10(2 * self.error_mm / total.size)))
        simple = simple_shape(mark.form, subs[0], decimals, False) if len(subs) == 1 else None
        tag, shape = simple or ("path", {"d": path_data(subs, decimals, self.hand, self.rng)})
        items = list({**shape, **attributes}.items())
        if self.rng.random() < 0.3:
            self.rng.shuffle(items)
        written = _written(dict(items))
        kind = self.rng.random()
        if mark.role == "cut" and kind < 0.08:
            return f"<{tag}{written}><title>{self.names[mark.part]}</title></{tag}>"
        return f"<{tag}{written}></{tag}>" if kind > 0.95 else f"<{tag}{written}/>"

    def _name(self, mark: Mark, attributes: dict[str, str], above: tuple[Node, ...]) -> None:
        look, number = self.look, self._next()
        if mark.role == "draw":
            attributes["id"] = f"drawing-{number}"
        elif mark.role == "cut":
            if not mark.stray and self.rng.random() < 0.6:
                attributes["id"] = f"{self.names[mark.part]}-{number}"
                self.ids.setdefault(mark.part, []).append(attributes["id"])
        elif look.clue == "label":
            attributes["n:label"] = look.score_word
        elif look.clue == "class":
            attributes["class"] = look.score_word
        elif look.clue == "id" or not any(node.role == "score" for node in above):
            attributes["id"] = f"{look.score_word}-{number}"

    def _style(
        self,
        mark: Mark,
        attributes: dict[str, str],
        total: Matrix,
        above: tuple[Node, ...],
        place: _Place,
    ) -> None:
        values = self.look.properties(mark.role, 1 / total.size)
        styling = self.look.styling if mark.role != "draw" else "attribute"
        layered = any(node.role == mark.role for node in above)
        if mark.bare:
            values["fill"] = "none"
            if self.look.card != "none" and layered and styling in ("inherit", "id-descendant"):
                attributes["style"] = "fill:none"
        if styling == "inherit" and layered:
            return
        if styling == "style":
            attributes["style"] = ";".join(f"{k}:{v}" for k, v in values.items())
        elif styling == "entity":
            attributes["style"] = self.sheet.entity(mark.role, values)
        elif styling == "id-descendant" and layered:
            layer = next(node for node in above if node.role == mark.role)
            values = self.look.properties(mark.role, 1 / total.size)
            self.sheet.add(f"#{layer.attributes['id']} *", values)
        elif styling == "nth-child" and above:
            name = above[-1].attributes["id"]
            xpath = f"//*[@id='{name}']/*[{place.number}]"
            self.sheet.add(f"#{name} > :nth-child({place.number})", values, xpath)
        elif styling in ("class", "child", "over-attribute", "sibling", "id-descendant"):
            self._by_class(mark, attributes, values, above, place)
        else:
            attributes |= values

    def _by_class(
        self, mark: Mark, attributes: dict[str, str], values: dict[str, str],
        above: tuple[Node, ...], place: _Place,
    ) -> None:  # fmt: skip
        styling = self.look.styling
        selector = f".k-{mark.role}"
        if styling == "child":
            holder = above[-1] if above else None
            name = holder.attributes.get("id") if holder else None
            parent = f"#{name}" if name else holder.tag if holder else "svg"
            selector = f"{parent} > {selector}"
        elif styling == "over-attribute":
            attributes |= {"stroke": "#ff00ff", "stroke-width": "9", "fill": "none"}
        elif styling == "sibling" and mark.role == "score" and place.after_cut:
            selector = f'[class^="k-cut"] ~ {selector}'
        text = ";".join(values.values())
        letter = next(
            letter
            for letter in "abcdefghijklmnopqrstuvwxyz"
            if self.known.setdefault(f"{selector}-{letter}", text) == text
        )
        name = f"k-{mark.role}-{letter}"
        both = f"{name} {attributes['class']}" if "class" in attributes else name
        attributes["class"] = both
        xpath = ""
        if "~" in selector:
            cut, score = (f"starts-with(@class, '{c}')" for c in ("k-cut", name))
            xpath = f"//*[{cut}]/following-sibling::*[{score}]"
        self.sheet.add(f"{selector}-{letter}", values, xpath)


def _written(attributes: dict[str, str]) -> str:
    out = ""
    for key, value in attributes.items():
        quoted = f'"{value}"' if value.startswith("&") else quoteattr(value)
        out += f" {key}={quoted}"
    return out
