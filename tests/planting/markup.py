"""The text of an SVG file: numbers, path data, elements, styles."""

from __future__ import annotations

import math
from random import Random
from xml.sax.saxutils import quoteattr

from tests.planting.groups import Node, Tree
from tests.planting.looks import DRAW_WORDS, Look, as_token
from tests.planting.marks import Mark, Sub, as_circle, as_rectangle
from tests.planting.pages import Page, number
from tests.planting.strokes import Arc, Chain, Cubic, Line, Matrix, Point, moved, straight

LABELS = "https://example.org/ns/labels"  # any drawing program has a namespace of its own


def written_radius(arc: Arc, chord: float, decimals: int) -> str:
    """The radius of an arc as it is written, given how far apart its written ends are."""
    radius = arc.radius
    if abs(abs(arc.sweep) - math.pi) < 1e-3:
        # A half turn: a radius a hair too large would bend the arc visibly, one too small is
        # scaled up by every reader (SVG 2, 9.5.1).
        grain = 10.0**-decimals
        radius = math.floor(chord / 2 / grain) * grain
    return number(radius, decimals)


class PathText:
    """Path data of sub-paths; rounded so that relative coordinates do not drift."""

    def __init__(self, decimals: int, relative: bool, tight: bool, say_end: bool) -> None:
        self.decimals, self.relative, self.tight = decimals, relative, tight
        self.say_end = say_end  # draw the last line of a closed sub-path too, before its Z
        self.now: Point = 0j
        self.parts: list[str] = []

    def write(self, subs: list[Sub]) -> str:
        """The d attribute."""
        for sub in subs:
            self._command("M", sub.chain[0].start)
            begin = self.now
            chain = sub.chain
            if sub.closed and isinstance(chain[-1], Line) and not self.say_end:
                chain = chain[:-1]  # Z draws it
            for segment in chain:
                self._segment(segment)
            if sub.closed:
                self.parts.append("z" if self.relative else "Z")
                self.now = begin
        return "".join(self.parts) if self.tight else " ".join(self.parts)

    def _rounded(self, z: Point) -> Point:
        return complex(round(z.real, self.decimals), round(z.imag, self.decimals))

    def _numbers(self, values: list[float]) -> str:
        texts = [number(v, self.decimals + 1) for v in values]
        if not self.tight:
            return " ".join(texts)
        out = texts[0]
        for text in texts[1:]:
            out += text if text.startswith("-") else " " + text
        return out

    def _command(self, letter: str, *points: Point) -> None:
        rounded = [self._rounded(z) for z in points]
        base = self.now if self.relative else 0j
        values = [v for z in rounded for v in ((z - base).real, (z - base).imag)]
        self.parts.append((letter.lower() if self.relative else letter) + self._numbers(values))
        self.now = rounded[-1]

    def _segment(self, segment: Line | Arc | Cubic) -> None:
        if isinstance(segment, Cubic):
            self._command("C", segment.first, segment.second, segment.end)
        elif isinstance(segment, Arc):
            self._arc(segment)
        else:
            self._line(segment.end)

    def _line(self, end: Point) -> None:
        end = self._rounded(end)
        step = end - self.now if self.relative else end
        if end.imag == self.now.imag and end != self.now and not self.tight:
            self.parts.append(f"{'h' if self.relative else 'H'}{self._numbers([step.real])}")
            self.now = end
        elif end.real == self.now.real and end != self.now and not self.tight:
            self.parts.append(f"{'v' if self.relative else 'V'}{self._numbers([step.imag])}")
            self.now = end
        else:
            self._command("L", end)

    def _arc(self, arc: Arc) -> None:
        end = self._rounded(arc.end)
        size = written_radius(arc, abs(end - self.now), self.decimals + 2)
        flags = f"{int(abs(arc.sweep) > math.pi)} {int(arc.sweep > 0)}"
        base = self.now if self.relative else 0j
        place = self._numbers([(end - base).real, (end - base).imag])
        letter = "a" if self.relative else "A"
        if self.tight:
            self.parts.append(f"{letter}{size} {size} 0 {flags.replace(' ', '')}{place}")
        else:
            self.parts.append(f"{letter}{size} {size} 0 {flags} {place}")
        self.now = end


class Writer:
    """Writes one drawing."""

    def __init__(self, page: Page, look: Look, rng: Random, error_mm: float = 0.001) -> None:
        self.page, self.look, self.rng, self.error_mm = page, look, rng, error_mm
        self.per_mm = 1 / page.matrix.size
        self.tight = rng.random() < 0.25
        self.say_end = rng.random() < 0.3
        self.selector = rng.choice([".{}", ".{}", "svg .{}", "*.{}", "g .{0}, .{0}"])
        self.cdata = rng.random() < 0.3
        self.rules: dict[str, str] = {}
        self.count = 0

    def document(self, tree: Tree, before: str = "") -> str:
        """The whole file."""
        attributes = {
            "xmlns": "http://www.w3.org/2000/svg",
            "xmlns:xlink": "http://www.w3.org/1999/xlink",
            "xmlns:n": LABELS,
            **self.page.attributes,
        }
        if self.look.styling == "inherit":
            attributes |= self.look.properties("cut", self.per_mm)
        body = [self._kid(kid, self.page.matrix, "", 1) for kid in tree.top]
        defs = [self._node(node, self.page.matrix, "", 2) for node in tree.defs]
        head = ""
        if self.rules:
            sheet = "\n".join(f"    {name} {{ {rule} }}" for name, rule in self.rules.items())
            sheet = f"<![CDATA[\n{sheet}\n  ]]>" if self.cdata else f"\n{sheet}\n  "
            head += f"  <style>{sheet}</style>\n"
        if defs:
            head += "  <defs>\n" + "".join(defs) + "  </defs>\n"
        return f"{before}<svg{_written(attributes)}>\n{head}{''.join(body)}</svg>\n"

    def _kid(self, kid: Node | Mark | str, total: Matrix, layer: str, depth: int) -> str:
        if isinstance(kid, str):
            return "  " * depth + kid + "\n"
        if isinstance(kid, Node):
            return self._node(kid, total, layer, depth)
        return "  " * depth + self._mark(kid, total, layer) + "\n"

    def _node(self, node: Node, total: Matrix, layer: str, depth: int) -> str:
        attributes = dict(node.attributes)
        if node.tag == "use":
            key = "xlink:href" if self.rng.random() < 0.5 else "href"
            attributes[key] = attributes.pop("href")
            return "  " * depth + f"<use{_written(attributes)}/>\n"
        if node.layer and node.layer != "draw":
            if self.look.styling in ("inherit", "sheet"):
                self._style(attributes, node.layer, 1 / total.size)
            self._name(attributes, node.layer, group=True)
        inner = node.layer or layer
        kids = "".join(self._kid(k, total @ node.matrix, inner, depth + 1) for k in node.kids)
        pad = "  " * depth
        return f"{pad}<{node.tag}{_written(attributes)}>\n{kids}{pad}</{node.tag}>\n"

    def _mark(self, mark: Mark, total: Matrix, layer: str) -> str:
        attributes: dict[str, str] = {}
        if mark.role == "draw":
            wide = number(0.2 / total.size, 6)
            attributes |= {"fill": "none", "stroke": "#c0c0c0", "stroke-width": wide}
            if mark.piece >= 0:
                word = self.rng.choice(DRAW_WORDS)
                self.count += 1
                attributes |= self.rng.choice(
                    [
                        {"id": f"{as_token(word)}-{self.count}"},
                        {"class": as_token(word)},
                        {"n:label": word},
                    ]
                )
        else:
            inherited = mark.role == "cut" or layer == mark.role
            if not (self.look.styling == "inherit" and inherited) and not (
                self.look.styling == "sheet" and layer == mark.role
            ):
                own = mark.own or Matrix()
                self._style(attributes, mark.role, 1 / (total.size * own.size))
            self._name(attributes, mark.role, group=False, named=layer == mark.role)
        if mark.own is not None:
            attributes["transform"] = matrix_text(mark.own)
            total = total @ mark.own
        inverse = total.inverse()
        subs = [Sub(moved(sub.chain, inverse), sub.closed) for sub in mark.subs]
        grain = 2 * self.error_mm / total.size
        decimals = max(0, math.ceil(-math.log10(grain)))
        tag, shape = self._shape(mark, subs, decimals, "transform" in attributes)
        return f"<{tag}{_written({**shape, **attributes})}/>"

    def _style(self, attributes: dict[str, str], role: str, per_mm: float) -> None:
        values = self.look.properties(role, per_mm)
        if self.look.styling == "style":
            attributes["style"] = ";".join(f"{k}:{v}" for k, v in values.items())
        elif self.look.styling == "sheet":
            rule = "; ".join(f"{k}: {v}" for k, v in values.items())
            name = "k1" if role == "cut" else "k2"
            self.rules.setdefault(self.selector.format(name), rule)
            attributes["class"] = name
        else:
            attributes |= values

    def _name(
        self, attributes: dict[str, str], role: str, group: bool, named: bool = False
    ) -> None:
        """Put the role's word where the look wants it."""
        look = self.look
        if look.clue != "words" or (role == "cut" and not look.name_cuts):
            return
        word = look.cut_word if role == "cut" else look.score_word
        if look.where == "group" and named:
            return  # the layer above says it
        if group and look.where != "group":
            return
        self.count += 1
        if look.where == "class":
            attributes["class"] = f"{attributes.get('class', '')} {as_token(word)}".strip()
        elif look.where == "label" or (group and self.rng.random() < 0.5):
            attributes["n:label"] = word
        else:
            attributes["id"] = f"{as_token(word)}-{self.count}"

    def _shape(
        self, mark: Mark, subs: list[Sub], decimals: int, transformed: bool
    ) -> tuple[str, dict[str, str]]:
        if len(subs) == 1:
            simple = simple_shape(mark.form, subs[0], decimals, transformed)
            if simple is not None:
                return simple
        text = PathText(decimals, mark.form == "relative", self.tight, self.say_end)
        return "path", {"d": text.write(subs)}


def simple_shape(
    form: str, sub: Sub, decimals: int, transformed: bool
) -> tuple[str, dict[str, str]] | None:
    """A rect, circle, line, polygon or polyline for one sub-path, where the wished form allows."""
    chain, fine = sub.chain, decimals + 1
    if form == "shape" and sub.closed:
        circle = as_circle(chain)
        if circle is not None:
            (centre, radius), names = circle, ("cx", "cy", "r")
            values = (centre.real, centre.imag, radius)
            return "circle", {k: number(v, fine) for k, v in zip(names, values, strict=True)}
        return rect_element(chain, fine, transformed)
    if form == "line" and len(chain) == 1 and isinstance(chain[0], Line) and not sub.closed:
        p, q = chain[0].start, chain[0].end
        values4 = {"x1": p.real, "y1": p.imag, "x2": q.real, "y2": q.imag}
        return "line", {k: number(v, decimals) for k, v in values4.items()}
    if form == "poly" and straight(chain):
        points = [segment.start for segment in chain]
        if not sub.closed:
            points.append(chain[-1].end)
        text = " ".join(f"{number(z.real, decimals)},{number(z.imag, decimals)}" for z in points)
        return ("polygon" if sub.closed else "polyline"), {"points": text}
    return None


def rect_element(
    chain: Chain, decimals: int, transformed: bool
) -> tuple[str, dict[str, str]] | None:
    """A rect for a rectangular chain; a turned one needs the transform attribute for itself."""
    found = as_rectangle(chain)
    if found is None:
        return None
    angle = found.angle % 360
    level = min(angle, 360 - angle) < 1e-6
    if not level and transformed:
        return None
    corner = number(found.corner.real, decimals), number(found.corner.imag, decimals)
    out = {"x": corner[0], "y": corner[1]}
    out |= {"width": number(found.wide, decimals), "height": number(found.high, decimals)}
    if found.radius:
        out["rx"] = number(found.radius, decimals)
    if not level:
        out["transform"] = f"rotate({number(found.angle, 7)} {corner[0]} {corner[1]})"
    return "rect", out


def matrix_text(m: Matrix) -> str:
    """A matrix as a transform attribute, precise enough to be undone."""
    values = (number(v, 9) for v in (m.a, m.b, m.c, m.d, m.e, m.f))
    return f"matrix({','.join(values)})"


def _written(attributes: dict[str, str]) -> str:
    return "".join(f" {key}={quoteattr(value)}" for key, value in attributes.items())
