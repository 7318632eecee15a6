"""An element's own transform, by its attribute or by CSS."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from matready.lint.reading.style import Computed
from matready.lint.reading.transforms import (
    IDENTITY,
    BadTransform,
    Matrix,
    about,
    multiply,
    parse_css_transform,
    parse_origin,
    parse_transform,
)
from matready.lint.reading.units import Extent

_CSS_TRANSFORMS = frozenset(
    ("transform", "translate", "rotate", "scale", "transform-origin", "transform-box")
)


def own_matrix(
    attributes: Mapping[str, str], style: Computed, extent: Extent, note: Callable[[str], None]
) -> Matrix:
    """The transform that an element declares; `note` is called where it cannot be read."""
    text = attributes.get("transform")
    try:
        if style.css and not _CSS_TRANSFORMS.isdisjoint(style.css):
            return _css_transform(text, style, extent, note)
        return IDENTITY if text is None else parse_transform(text)
    except BadTransform as error:
        note(f'the transform "{error}" cannot be read, so it is passed over')
        return IDENTITY


def _css_transform(
    text: str | None, style: Computed, extent: Extent, note: Callable[[str], None]
) -> Matrix:
    """Translate, rotate, scale, then transform (CSS Transforms 2, 6), about the origin."""
    css, font = style.css, style.inherited.font_px
    matrix = IDENTITY
    for name in ("translate", "rotate", "scale"):
        if css.get(name, "none") != "none":
            call = f"{name}({','.join(css[name].split())})"
            matrix = multiply(matrix, parse_css_transform(call, extent, font))
    if "transform" in css:
        matrix = multiply(matrix, parse_css_transform(css["transform"], extent, font))
    elif text is not None:
        matrix = multiply(matrix, parse_transform(text))
    if matrix == IDENTITY:
        return IDENTITY
    if css.get("transform-box", "view-box") != "view-box":
        note(f"transform-box: {css['transform-box']} is not read; view-box is used")
    origin = css.get("transform-origin")
    return matrix if origin is None else about(matrix, *parse_origin(origin, extent, font))
