"""Path data as many hands write it: relative, compact, shorthand, runs of one letter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

from tests.planting.marks import Sub
from tests.planting.markup import written_radius
from tests.planting.pages import number
from tests.planting.strokes import Arc, Cubic, Line, Point, Segment


@dataclass(frozen=True)
class Hand:
    """How one path is written: `relative` is the share of relative commands."""

    relative: float
    gap: str  # between numbers
    tight: bool  # no blank that is not needed
    runs: bool  # a letter is not said again
    short: bool  # H, V, S, T where they do
    drawn_end: bool  # the line that Z draws is also drawn before it


def any_hand(rng: Random) -> Hand:
    """A random hand."""
    return Hand(
        rng.choice([0.0, 1.0, 1.0, 0.5]),
        rng.choice([" ", ",", ", ", "\n      "]),
        rng.random() < 0.35,
        rng.random() < 0.5,
        rng.random() < 0.7,
        rng.random() < 0.25,
    )


class _Pen:
    """Writes sub-paths one after the other; places are rounded so that nothing drifts."""

    def __init__(self, hand: Hand, decimals: int, rng: Random) -> None:
        self.hand, self.decimals, self.rng = hand, decimals, rng
        self.now: Point = 0j
        self.last = ""
        self.mirrored: Point | None = None  # where a smooth curve would begin, and after which
        self.kind = ""
        self.out: list[str] = []

    def write(self, subs: list[Sub]) -> str:
        for sub in subs:
            self._say("M", [sub.chain[0].start])
            begin = self.now
            chain = sub.chain
            if sub.closed and isinstance(chain[-1], Line) and not self.hand.drawn_end:
                chain = chain[:-1]  # Z draws it
            for segment in chain:
                self._segment(segment)
            if sub.closed:
                self.out.append(self.rng.choice("zZ"))
                self.now, self.last, self.kind = begin, "", ""
        return "".join(self.out) if self.hand.tight else " ".join(self.out)

    def _rounded(self, z: Point) -> Point:
        return complex(round(z.real, self.decimals), round(z.imag, self.decimals))

    def _say(self, letter: str, points: list[Point], head: str = "", axis: str = "xy") -> None:
        """One command; `head` are numbers before its points."""
        relative = self.rng.random() < self.hand.relative
        base = self.now if relative else 0j
        rounded = [self._rounded(z) for z in points]
        values = []
        for z in rounded:
            step = z - base
            values += [step.real] if "x" in axis else []
            values += [step.imag] if "y" in axis else []
        texts = [number(v, self.decimals + 1) for v in values]
        if self.hand.tight:
            texts = [
                t.replace("0.", ".", 1) if t.lstrip("-").startswith("0.") else t for t in texts
            ]
        said = letter.lower() if relative else letter
        follows = {"M": "L", "m": "l"}.get(self.last, self.last)
        again = self.hand.runs and follows == said
        self.last, self.now = said, rounded[-1]
        self.out.append(self._joined("" if again else said, head, texts))

    def _joined(self, said: str, head: str, texts: list[str]) -> str:
        gap = " " if self.hand.tight else self.hand.gap
        if not self.hand.tight:
            return said + " ".join(filter(None, [head, gap.join(texts)]))
        out = head
        for text in texts:
            ends_in_flag = head and out == head
            glued = text[0] == "-" or (text[0] == "." and "." in out.split(" ")[-1].split("-")[-1])
            out += text if not out or ends_in_flag or glued else " " + text
        first = out[0] if out else ""
        blank = " " if not said and first not in "-" else ""
        return said + blank + out

    def _segment(self, segment: Segment) -> None:
        if isinstance(segment, Cubic):
            self._cubic(segment)
            return
        if isinstance(segment, Arc):
            self._arc(segment)
        else:
            self._line(self._rounded(segment.end))
        self.kind = ""

    def _line(self, end: Point) -> None:
        if self.hand.short and end.imag == self.now.imag and end != self.now:
            self._say("H", [end], axis="x")
        elif self.hand.short and end.real == self.now.real and end != self.now:
            self._say("V", [end], axis="y")
        else:
            self._say("L", [end])

    def _arc(self, arc: Arc) -> None:
        end = self._rounded(arc.end)
        size = written_radius(arc, abs(end - self.now), self.decimals + 2)
        flags = f"{int(abs(arc.sweep) > math.pi)} {int(arc.sweep > 0)}"
        tight = self.hand.tight
        self._say("A", [end], f"{size} {size} 0 {flags.replace(' ', '') if tight else flags}")

    def _cubic(self, curve: Cubic) -> None:
        control = (3 * curve.first - curve.start) / 2
        quadratic = abs(control - (3 * curve.second - curve.end) / 2) < 1e-6 * abs(
            curve.end - curve.start
        )
        begins = control if quadratic else curve.first
        ends = [control, curve.end] if quadratic else [curve.first, curve.second, curve.end]
        smooth = self.mirrored is not None and abs(self.mirrored - begins) < 10.0**-self.decimals
        letter, short = ("Q", "T") if quadratic else ("C", "S")
        if self.hand.short and smooth and self.kind == letter:
            held = self.mirrored
            self._say(short, ends[1:])
            control = held if quadratic and held is not None else control
        else:
            self._say(letter, ends)
        hand = self._rounded(ends[-2]) if not quadratic or not smooth else control
        self.mirrored, self.kind = 2 * self.now - hand, letter


def path_data(subs: list[Sub], decimals: int, hand: Hand, rng: Random) -> str:
    """The d attribute that draws the sub-paths."""
    return _Pen(hand, decimals, rng).write(subs)
