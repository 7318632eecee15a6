"""Words that tell cut from score from draw, and the many words that do not."""

from __future__ import annotations

import unicodedata
from pathlib import PurePath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matready.lint.cutting import words
from matready.lint.cutting.words import mentions, names_lines, role_of, split_words

from tests import corpus

# The vocabulary of the trade in seven languages, from memory; most of it was found in use in
# public texts on paper craft and packaging. One row a role and language.
VOCABULARY = [
    (
        "cut",
        "en",
        "cut|cuts|Cutting|cut line|cutline|cut-lines|CutLayer|cutout|cutouts|die-cut|diecut",
    ),
    (
        "cut",
        "de",
        "Schnitt|schneiden|Schnittlinie|Schnittlinien|Schnittkante|Ausschnitt|Stanzlinie",
    ),
    ("cut", "fr", "couper|coupe|découpe|découper|ligne de coupe|lignes de découpe"),
    ("cut", "es", "cortar|corte|línea de corte|troquel|troquelado|recorte"),
    ("cut", "nl", "snijden|snijlijn|snijlijnen|snede|kniplijn"),
    ("cut", "it", "taglio|tagliare|linea di taglio|fustella"),
    ("cut", "pt", "corte|cortar|linha de corte|recorte"),
    (
        "score",
        "en",
        "score|scores|scoring|score line|scoreline|scoremark|ScoreLines|score-and-fold",
    ),
    ("score", "en", "fold|folds|folding|fold line|foldline|foldlines|crease|creases|creaseline"),
    ("score", "en", "perf|perfs|perforation|perforated|perforation line|perf-line"),
    (
        "score",
        "en",
        "mountain fold|mountain-folds|valley fold|valley_folds|valleyFold|mountainfold",
    ),
    ("score", "de", "falzen|Falz|Falzlinie|falten|Falte|Faltlinie|Faltlinien|Knick|Knicklinie"),
    (
        "score",
        "de",
        "rillen|Rille|Rilllinie|Rillinie|ritzen|Ritzlinie|Perforation|Perforationslinie",
    ),
    ("score", "de", "Talfalte|Talfalten|Bergfalte|Bergfalten"),
    ("score", "fr", "pli|plis|plier|pliure|ligne de pli|rainage|rainer|perforation"),
    ("score", "fr", "pli vallée|plis montagne|ligne de pliage"),
    (
        "score",
        "es",
        "doblar|doblez|pliegue|plegado|línea de plegado|hendido|perforado|pliegue valle",
    ),
    (
        "score",
        "nl",
        "vouw|vouwen|vouwlijn|vouwlijnen|ril|rillen|rillijn|perforatie|dalvouw|bergvouw",
    ),
    ("score", "it", "piega|pieghe|piegare|linea di piega|cordonatura|perforazione|piega a valle"),
    ("score", "pt", "dobra|dobras|linha de dobra|vinco|vincar|perfuração|picote|dobra em vale"),
    ("draw", "en", "draw|drawing|drawings|engrave|engraving|engraved|guide|guides|guideline|print"),
    ("draw", "en", "pen lines|pen-layer|PenStrokes"),
    ("draw", "en", "draw lines|drawline|guide-lines|printed lines|printing|prints|glue guides"),
    ("draw", "de", "zeichnen|Zeichnung|gravieren|Gravur|Hilfslinie|Hilfslinien|Druck|drucken"),
    ("draw", "fr", "dessin|graver|gravure|guide|repère|repères|impression|imprimer"),
    ("draw", "es", "grabar|grabado|dibujo|guía|guías|imprimir|impresión"),
    ("draw", "nl", "graveren|tekenen|tekening|hulplijn|hulplijnen|afdrukken"),
    ("draw", "it", "incisione|disegno|guida|guide|stampa|stampare"),
    ("draw", "pt", "gravar|gravação|desenho|guia|guias|imprimir|impressão"),
]
NAMES = [(role, name) for role, _, names in VOCABULARY for name in names.split("|")]

# Process steps of ISO 19593-1:2018, read at second hand. A step that both cuts and
# creases is of two roles; cutting through a part of the card is what the trade calls scoring.
ISO_19593_1 = {
    "Cutting": "cut",
    "PartialCutting": "score",
    "ReversePartialCutting": "score",
    "Creasing": "score",
    "ReverseCreasing": "score",
    "CuttingCreasing": None,
    "Perforating": "score",
    "Gluing": None,
    "Bleed": None,
    "VarnishFree": None,
}

# What a puppet theatre is made of, and what else is near a word for a line.
OTHER_THINGS_BY_KIND = """
drawbridge DrawBridge draw-bridge drawer drawers draw-string draw-curtain withdraw
pen penholder pen-and-ink
printer printer's-cap footprint paw-print paw_prints fingerprint blueprint print-shop
guided guide-dog guide-rail rail-guide misguided
folder folded-fan folding-screen folding-chair foldable scaffold blindfold manifold
fold-out-stage fold-box FoldCard tri-fold-program gatefold
scoreboard score-board ScoreBoard scorer underscore musical-score music-score
cute cutlass cutter cutlery haircut execute paper-cut cut-of-meat
perfume performer performance perfect superficial
increase creased-map engraver
mountain-troll backdrop-mountain valley-of-the-moon mountain-railway
printed-poster engraved-plaque perforated-lantern scored-goal
tal-der-riesen bergwerk vale-of-tears montagnes-russes talisman
Ritz Zeichen teken cordone grave Abschnitt Querschnitt Scherenschnitt Drucker Faltenrock
cut-file cut_files Schneidedatei cut-sheet-3 fichier-de-coupe archivo-de-corte
"""
OTHER_THINGS = OTHER_THINGS_BY_KIND.split()


@pytest.mark.parametrize(("role", "name"), NAMES)
def test_names_of_lines_tell_their_role(role: str, name: str) -> None:
    assert role_of(name, True) == role
    assert role_of(name, False) == role


@pytest.mark.parametrize(("name", "role"), ISO_19593_1.items())
def test_published_names_of_process_steps(name: str, role: str | None) -> None:
    assert role_of(name, True) == role_of(name, False) == role


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        ("engrave moon", True),
        ("perforate_left_wing", True),
        ("score card", False),
        ("graver-lune", True),
        ("piegare ala", True),
        ("fold panel", False),
        ("cut-out door", False),
        ("moon engrave plate", False),
    ],
)
def test_a_group_of_lines_is_told_from_a_thing(name: str, lines: bool) -> None:
    assert role_of(name, False)
    assert names_lines(name) == lines


@pytest.mark.parametrize("name", OTHER_THINGS)
def test_other_things_tell_nothing(name: str) -> None:
    assert role_of(name, False) is None
    assert role_of(name, True) is None


def test_no_pictograph_of_unicode_is_taken_for_a_line() -> None:
    # The Unicode character names of miscellaneous symbols, dingbats and pictographs.
    codes = [*range(0x2600, 0x27C0), *range(0x1F300, 0x1FB00)]
    names = {name for code in codes if (name := unicodedata.name(chr(code), ""))}
    assert {"MUSICAL SCORE", "CUT OF MEAT", "GUIDE DOG", "PAW PRINTS", "FILE FOLDER"} <= names
    assert [name for name in names if role_of(name, False)] == []
    assert [name for name in names if role_of(name, True)] == ["MOUNTAIN"]


def test_no_icon_is_taken_for_a_line() -> None:
    # The file names of an icon set of two thousand: scissors, printers and all.
    names = [PurePath(file.name).stem for file in corpus.icons()]
    assert {"scissors", "printer"} <= set(names)
    assert [name for name in names if role_of(name, False) or role_of(name, True)] == []


@pytest.mark.parametrize(
    "name", ["mountain", "Valley", "valleys 2", "mountain-left", "Tal", "montagne_3", "class valle"]
)
def test_a_mountain_alone_is_a_fold_only_where_the_line_is_open(name: str) -> None:
    assert role_of(name, True) == "score"
    assert role_of(name, False) is None


@pytest.mark.parametrize(
    "name",
    [
        "no-cut", "uncut", "do not cut", "Don't cut", "DON\u2019T CUT", "never-fold", "non-cutting",
        "not to be cut", "nicht schneiden", "kein Schnitt", "ne pas couper", "pas de coupe",
        "sin corte", "niet snijden", "non tagliare", "senza taglio", "não cortar", "sem dobra",
    ],
)  # fmt: skip
def test_a_word_taken_back_tells_nothing(name: str) -> None:
    assert role_of(name, True) is None


def test_taking_back_one_word_leaves_the_other() -> None:
    assert role_of("do not cut, fold", True) == "score"
    assert role_of("no fold - cut", True) == "cut"
    assert role_of("No. 3 cut", True) == "cut"


@pytest.mark.parametrize(
    "name", ["cut-and-fold", "print-and-cut", "fold guide", "cut-lines-for-fold-panel", "cutFold"]
)
def test_words_of_two_roles_tell_nothing(name: str) -> None:
    assert role_of(name, True) is None


@pytest.mark.parametrize(
    ("name", "role"),
    [
        # A score is a cut of about half the thickness; a kiss cut leaves the lower layer whole:
        # common practice, as glossaries of printers and die makers have it.
        ("kiss-cut", "score"),
        ("kisscut", "score"),
        ("half-cut", "score"),
        ("Layer 3 - half cut lines", "score"),
        ("mezzo taglio", "score"),
        ("left-half-cut", None),
        ("cut-half", "cut"),
    ],
)
def test_a_cut_through_a_part_of_the_card_is_a_score(name: str, role: str | None) -> None:
    assert role_of(name, True) == role


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("folding lines of the wing", "score"),
        ("línea de plegado, puerta 3", "score"),
        ("printed layer of posters", "draw"),
        ("left wing fold 3", "score"),
        ("arch_x5F_cut_x5F_2", "cut"),
        ("Layer_x0020_1_x002D_Fold", "score"),
        ("st0 cls-2 score thin", "score"),
        ("D\u00c9COUPE", "cut"),
        ("de\u0301coupe", "cut"),
        ("\uff43\uff55\uff54", "cut"),  # full-width letters
        ("CUT2", "cut"),
        ("2cut", "cut"),
        ("footlightsCutLines", "cut"),
    ],
)
def test_names_as_programs_and_people_write_them(name: str, role: str) -> None:
    assert role_of(name, True) == role


def test_a_sentence_is_no_name() -> None:
    title = "Glue the tab behind the arch, let it dry for an hour, then draw a moon"
    assert role_of(title, False) is None
    assert role_of("draw a moon", False) == "draw"


def test_words_end_where_a_reader_sees_them_end() -> None:
    assert split_words("SVGFold_x5F_Linie-12b (Größe)") == [
        "svg",
        "fold",
        "linie",
        "12",
        "b",
        "grosse",
    ]
    assert split_words("_x110000_") == ["x", "110000"]  # beyond the last character of Unicode


def test_every_word_has_one_role_and_is_no_plain_word() -> None:
    tables: tuple[tuple[words.Role, str], ...] = (
        ("cut", words._CUT),
        ("score", words._SCORE),
        ("draw", words._DRAW),
    )
    by_word: dict[str, set[str]] = {}
    for role, table in tables:
        for word, _ in words._readings(table, role):
            by_word.setdefault(word, set()).add(role)
    assert [word for word, roles in by_word.items() if len(roles) > 1] == []
    no_role = words._PLAIN_WORDS | words._NEGATION_WORDS | words._FILE_WORDS
    assert by_word.keys() & no_role == set()
    assert all({role_of(word, True)} == roles for word, roles in by_word.items())


@pytest.mark.parametrize(
    ("text", "wanted", "found"),
    [
        ("arch-Blade_2", ["blade"], True),
        ("bladed", ["blade"], False),
        ("redBlade line", ["red blade"], True),
        ("red line, blade", ["red blade"], False),
        ("Größe", ["grosse"], True),
        ("pen 2", ["pen2"], True),
        ("pen 7", ["pen 2"], False),
        ("anything", ["", "-"], False),
        ("anything", [], False),
    ],
)
def test_mentions_finds_whole_words(text: str, wanted: list[str], found: bool) -> None:
    assert mentions(text, wanted) is found


@given(st.text(), st.booleans())
def test_any_text_will_do(text: str, open_line: bool) -> None:
    assert role_of(text, open_line) in ("cut", "score", "draw", None)


@given(st.text(alphabet="cut_x0123456789abcdefF-foldA\u00e9\ud800'n "), st.booleans())
def test_any_text_near_a_word_will_do(text: str, open_line: bool) -> None:
    assert role_of(text, open_line) in ("cut", "score", "draw", None)


BETWEEN = st.sampled_from(["-", "_", " ", ".", ":", "/", "_x5F_", "_x20_", "\u00a0", " - "])
ANY_NAMES = st.sampled_from([name for _, name in NAMES] + OTHER_THINGS)
PARTS = st.lists(
    st.sampled_from(["cut", "folds", "guide", "mountain", "panel", "left", "lines", "wing", "not"]),
    min_size=1,
    max_size=4,
)


@given(PARTS, BETWEEN, st.booleans())
def test_what_stands_between_words_does_not_matter(
    parts: list[str], between: str, open_line: bool
) -> None:
    assert role_of(between.join(parts), open_line) == role_of(" ".join(parts), open_line)


@given(PARTS, st.data(), st.booleans())
def test_letter_case_does_not_matter(
    parts: list[str], data: st.DataObject, open_line: bool
) -> None:
    ways = st.sampled_from([str.lower, str.upper, str.title])
    written = [data.draw(ways)(part) for part in parts]
    expected = role_of(" ".join(parts), open_line)
    assert role_of("-".join(written), open_line) == expected
    assert role_of("".join(part.title() for part in parts), open_line) == expected


@given(ANY_NAMES, st.booleans())
def test_accents_do_not_matter(name: str, open_line: bool) -> None:
    expected = role_of(name, open_line)
    split = unicodedata.normalize("NFD", name)
    assert role_of(split, open_line) == expected
    bare = "".join(c for c in split if not unicodedata.combining(c))
    assert role_of(bare, open_line) == expected


@given(ANY_NAMES, st.integers(0, 10**6), st.booleans())
def test_numbers_at_the_end_do_not_matter(name: str, number: int, open_line: bool) -> None:
    assert role_of(f"{name}-{number}", open_line) == role_of(name, open_line)
    assert role_of(f"{name}{number}", open_line) == role_of(name, open_line)
