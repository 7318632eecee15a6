"""Transform lists of SVG and CSS, to matrices.

A matrix is (a, b, c, d, e, f) in SVG's order: x' = a x + c y + e, y' = b x + d y + f.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from math import cos, isfinite, pi, radians, sin, tan

from matready.lint.reading.units import (
    NUMBER,
    ROOT_FONT_PX,
    WHITE,
    Extent,
    Length,
    parse_length,
    parse_numbers,
    to_user,
)

Matrix = tuple[float, float, float, float, float, float]
IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

_FUNCTION = re.compile(rf"[{WHITE},]*([a-zA-Z]+)[{WHITE}]*\(([^()]*)\)[{WHITE},]*")
_ANGLE = re.compile(rf"({NUMBER})(deg|grad|rad|turn)?", re.IGNORECASE)
_DEGREES = {"deg": 1.0, "grad": 0.9, "rad": 180 / pi, "turn": 360.0}
_SPLIT = re.compile(rf"[{WHITE}]*,[{WHITE}]*")
_KEYWORDS = {"left": 0.0, "top": 0.0, "center": 50.0, "right": 100.0, "bottom": 100.0}


class BadTransform(ValueError):
    """A transform list that cannot be read; SVG then draws as if there were none."""


def multiply(m: Matrix, n: Matrix) -> Matrix:
    """The matrix that does n first, then m: the order of SVG's nesting."""
    a, b, c, d, e, f = m
    g, h, i, j, k, l = n  # noqa: E741
    return (
        a * g + c * h,
        b * g + d * h,
        a * i + c * j,
        b * i + d * j,
        a * k + c * l + e,
        b * k + d * l + f,
    )


def translation(x: float, y: float) -> Matrix:
    """Moves by x, y."""
    return (1.0, 0.0, 0.0, 1.0, x, y)


@lru_cache(maxsize=8192)
def parse_transform(text: str) -> Matrix:
    """The `transform` attribute (CSS Transforms 1, section 7); raises BadTransform."""
    matrix = IDENTITY
    if text.strip(WHITE) == "none":
        return matrix
    for name, inside in _functions(text):
        numbers = parse_numbers(inside)
        if numbers is None:
            raise BadTransform(f"{name}({inside.strip()})")
        make = _BUILD.get(name)
        if make is None or len(numbers) not in _COUNTS[name]:
            raise BadTransform(f"{name}({inside.strip()})")
        matrix = multiply(matrix, make(*numbers))
    return matrix


def parse_css_transform(text: str, extent: Extent, font_px: float = ROOT_FONT_PX) -> Matrix:
    """The CSS property `transform`: lengths and angles with units; raises BadTransform.

    Percentages are of the viewport (transform-box: view-box, the initial value).
    """
    matrix = IDENTITY
    if text.strip().lower() == "none":
        return matrix
    for name, inside in _functions(text):
        arguments = _SPLIT.split(inside.strip(WHITE))
        made = _css_function(name.lower(), arguments, extent, font_px)
        if made is None:
            raise BadTransform(f"{name}({inside.strip()})")
        matrix = multiply(matrix, made)
    return matrix


def parse_origin(text: str, extent: Extent, font_px: float = ROOT_FONT_PX) -> tuple[float, float]:
    """The property `transform-origin`: lengths, percentages, keywords; raises BadTransform.

    Measured from the origin of the user space, which is where the view box lies for CSS.
    """
    words = text.lower().split()
    if len(words) == 1:
        words = ["center", words[0]] if words[0] in ("top", "bottom") else [words[0], "center"]
    if words and (words[0] in ("top", "bottom") or words[1] in ("left", "right")):
        words[0], words[1] = words[1], words[0]
    if not 2 <= len(words) <= 3 or words[0] in ("top", "bottom") or words[1] in ("left", "right"):
        raise BadTransform(text)
    x = _origin_part(words[0], extent.width, font_px)
    y = _origin_part(words[1], extent.height, font_px)
    if x is None or y is None:
        raise BadTransform(text)
    return x, y


def about(matrix: Matrix, x: float, y: float) -> Matrix:
    """The same transform with x, y as its origin."""
    if x == 0 and y == 0:
        return matrix
    return multiply(multiply(translation(x, y), matrix), translation(-x, -y))


def _functions(text: str) -> list[tuple[str, str]]:
    functions = []
    at = 0
    while at < len(text):
        found = _FUNCTION.match(text, at)
        if found is None:
            if text[at:].strip(WHITE):
                raise BadTransform(text[at : at + 40].strip())
            break
        functions.append((found[1], found[2]))
        at = found.end()
    return functions


def _rotate(degrees: float, x: float = 0.0, y: float = 0.0) -> Matrix:
    # Quarter turns exactly, so that squares stay square: cos(pi / 2) is not 0 in floats.
    quarters, rest = divmod(degrees, 90.0)
    if rest == 0:
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    else:
        c, s = cos(radians(degrees)), sin(radians(degrees))
    return about((c, s, -s, c, 0.0, 0.0), x, y)


def _scale(x: float, y: float | None = None) -> Matrix:
    return (x, 0.0, 0.0, x if y is None else y, 0.0, 0.0)


def _skew(x: float, y: float = 0.0) -> Matrix:
    return (1.0, tan(radians(y)), tan(radians(x)), 1.0, 0.0, 0.0)


_BUILD: dict[str, Callable[..., Matrix]] = {
    "matrix": lambda *numbers: numbers,
    "translate": lambda x, y=0.0: translation(x, y),
    "scale": _scale,
    "rotate": _rotate,
    "skewX": _skew,
    "skewY": lambda degrees: _skew(0.0, degrees),
}
_COUNTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "scale": (1, 2),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}


def _css_function(name: str, arguments: list[str], extent: Extent, font_px: float) -> Matrix | None:
    """One function of CSS; None where it is not one, or has the wrong arguments."""
    if name in ("translate", "translatex", "translatey"):
        return _css_translate(name, arguments, extent, font_px)
    if name in ("rotate", "rotatez", "skew", "skewx", "skewy"):
        return _css_turn(name, [_degrees(argument) for argument in arguments])
    numbers = [_plain(argument) for argument in arguments]
    if None in numbers:
        return None
    values = [number for number in numbers if number is not None]
    if name == "matrix" and len(values) == 6:
        a, b, c, d, e, f = values
        return (a, b, c, d, e, f)
    if name == "scale" and len(values) in (1, 2):
        return _scale(*values)
    if name == "scalex" and len(values) == 1:
        return _scale(values[0], 1.0)
    if name == "scaley" and len(values) == 1:
        return _scale(1.0, values[0])
    return None


def _css_translate(
    name: str, arguments: list[str], extent: Extent, font_px: float
) -> Matrix | None:
    if name == "translatey":
        arguments = ["0", *arguments]
    if not 1 <= len(arguments) <= (1 if name == "translatex" else 2):
        return None
    x = css_size(arguments[0], extent.width, font_px)
    y = css_size(arguments[1], extent.height, font_px) if len(arguments) > 1 else 0.0
    return None if x is None or y is None else translation(x, y)


def _css_turn(name: str, angles: list[float | None]) -> Matrix | None:
    turns = [angle for angle in angles if angle is not None]
    if len(turns) != len(angles):
        return None
    if name == "skew" and len(turns) in (1, 2):
        return _skew(*turns)
    if len(turns) != 1 or name == "skew":
        return None
    if name == "skewx":
        return _skew(turns[0])
    return _skew(0.0, turns[0]) if name == "skewy" else _rotate(turns[0])


def css_size(text: str, percent_of: float | None, font_px: float) -> float | None:
    """A CSS length in user units; None where it is none. A number without a unit must be 0."""
    length = parse_length(text)
    if length is None or (length.unit == "" and length.number != 0):
        return None
    return to_user(length, percent_of, font_px)


def _degrees(text: str) -> float | None:
    """An angle of CSS in degrees; None where it is none. Without a unit it must be 0."""
    found = _ANGLE.fullmatch(text.strip(WHITE))
    if found is None:
        return None
    degrees = float(found[1]) * _DEGREES[(found[2] or "deg").lower()]
    return degrees if isfinite(degrees) and (found[2] or degrees == 0) else None


def _plain(text: str) -> float | None:
    length = parse_length(text)
    if length is None or length.unit not in ("", "%"):
        return None
    return length.number / 100 if length.unit == "%" else length.number


def _origin_part(word: str, size: float | None, font_px: float) -> float | None:
    if word in _KEYWORDS:
        return to_user(Length(_KEYWORDS[word], "%"), size)
    length = parse_length(word)
    return None if length is None else to_user(length, size, font_px)


def is_flat(matrix: Matrix) -> bool:
    """True for a matrix that squeezes the plane to a line or point: nothing drawn with it shows."""
    a, b, c, d, _, _ = matrix
    area = a * d - b * c
    return area == 0 and isfinite(area)
