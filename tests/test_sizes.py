"""Sizes of sheets and mats, against the standards that name them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.sizes import KNOWN_PAGES, NAMED, nearest, parse_size

# W3C CSS Paged Media 3, the table of page size keywords: width by height as written there.
CSS_PAGED_MEDIA_3 = {
    "A5": "148x210mm",
    "A4": "210x297mm",
    "A3": "297x420mm",
    "B5": "176x250mm",
    "B4": "250x353mm",
    "JIS-B5": "182x257mm",
    "JIS-B4": "257x364mm",
    "letter": "8.5x11in",
    "legal": "8.5x14in",
    "ledger": "11x17in",
}


@pytest.mark.parametrize(("series", "first"), [("A", (841, 1189)), ("B", (1000, 1414))])
def test_iso_216_halves_each_size_into_the_next(series: str, first: tuple[int, int]) -> None:
    # ISO 216: A0 and B0 as given here; the next size halves the longer side, a half mm is dropped.
    width, height = first
    for number in range(11):
        assert NAMED[f"{series}{number}"] == (width, height)
        width, height = height // 2, width


@pytest.mark.parametrize(("name", "sides"), CSS_PAGED_MEDIA_3.items())
def test_css_paged_media_3_names(name: str, sides: str) -> None:
    assert parse_size(name) == parse_size(sides)


def test_no_other_names() -> None:
    iso_216 = {f"{series}{number}" for series in "AB" for number in range(11)}
    assert {name.lower() for name in NAMED} == {
        name.lower() for name in iso_216 | CSS_PAGED_MEDIA_3.keys()
    }


@pytest.mark.parametrize(
    ("text", "size"),
    [
        # An inch is 25.4 mm and a centimetre 10 mm: CSS Values 3, "Absolute lengths".
        ("12x12in", (304.8, 304.8)),
        ("12x24in", (304.8, 609.6)),
        ("8.5X11IN", (215.9, 279.4)),
        ("210x297mm", (210.0, 297.0)),
        ("297x210mm", (297.0, 210.0)),
        ("21x29.7cm", (210.0, 297.0)),
        ("21\u00d729.7 cm", (210.0, 297.0)),
        (" 12 in x 60 cm ", (304.8, 600.0)),
        (".5x1.in", (12.7, 25.4)),
        ("a4", (210.0, 297.0)),
        ("LETTER", (215.9, 279.4)),
        ("jis-b5", (182.0, 257.0)),
    ],
)
def test_sizes_in_every_form(text: str, size: tuple[float, float]) -> None:
    assert parse_size(text) == size


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("leter", "Letter"),
        ("lettre", "Letter"),
        ("A44", "A4"),
        ("JISB5", "JIS-B5"),
        ("12x12", "unit"),
        ("12inx12", "unit"),
        ("0x12in", "no size"),
        ("9" * 400 + "x1mm", "no size"),
        ("12x12px", "mm, cm or in"),
        ("12x12x12mm", "12x12in"),
        ("-12x12in", "mm, cm or in"),
        ("1e3x1e3mm", "mm, cm or in"),
        ("12,5x12,5in", "mm, cm or in"),
        ("nanxnanmm", "mm, cm or in"),
        ("1_2x12in", "mm, cm or in"),
        ("\u0661x\u0662mm", "mm, cm or in"),  # digits that float() would take
        ("12x12\u0130n", "mm, cm or in"),
        ("", "mm, cm or in"),
    ],
)
def test_what_is_no_size_is_refused_with_one_sentence(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says) as caught:
        parse_size(text)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 250


@given(st.text())
def test_any_text_is_a_size_or_one_error(text: str) -> None:
    try:
        width, height = parse_size(text)
    except ValueError:
        return
    assert width > 0
    assert height > 0


@given(st.integers(1, 10**6), st.integers(1, 10**6))
def test_units_agree(width: int, height: int) -> None:
    in_mm = parse_size(f"{width}x{height}mm")
    assert in_mm == (float(width), float(height))
    assert parse_size(f"{width / 10}x{height / 10}cm") == pytest.approx(in_mm, abs=1e-6)


def test_known_pages_are_called_what_parse_size_reads() -> None:
    for page in KNOWN_PAGES:
        assert parse_size(page.name) == (page.width_mm, page.height_mm)
        assert page.width_mm <= page.height_mm
    assert len({page.name for page in KNOWN_PAGES}) == len(KNOWN_PAGES)


def test_no_two_known_pages_are_as_near_as_the_tolerance_of_paper() -> None:
    # ISO 216 lets a side up to 600 mm be off by 2 mm: nearer pages could not be told apart.
    for page in KNOWN_PAGES:
        for other in KNOWN_PAGES:
            across = abs(page.width_mm - other.width_mm)
            along = abs(page.height_mm - other.height_mm)
            assert page is other or max(across, along) > 4


def test_nearest_takes_no_notice_of_letter_case() -> None:
    assert nearest("HAIRLINE", ["join_mm", "hairline_mm"]) == "hairline_mm"
    assert nearest("anything", []) is None


def test_what_is_like_no_name_has_no_nearest_one() -> None:
    # difflib's own cutoff for "close" matches is 0.6 (Python's library reference).
    for word in ("huge", "-5x10mm", "", "q" * 10**5):
        assert nearest(word, NAMED) is None
        with pytest.raises(ValueError, match="is not a size; write WIDTHxHEIGHT"):
            parse_size(word)
    assert nearest("lettre", NAMED) == "Letter"
    assert nearest("tip", ["sharp-tip", "double-cut"]) == "sharp-tip"  # a part tells it too
