"""Words that tell cut from score from draw: in an id, a class, a label, a title, a layer's name.

English, German, French, Spanish, Dutch, Italian and Portuguese, all at once, since a drawing does
not say its language. Only whole words count, so a drawer or a scoreboard tells nothing. The words
are those of the trade, from memory; the tests hold them against published names.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Literal, NamedTuple

Role = Literal["cut", "score", "draw"]
Needs = Literal["nothing", "line", "open line", "start"]


class Word(NamedTuple):
    """What a word tells, and what it needs around it to do so.

    "nothing": it counts anywhere. "line": it needs a word for a line beside it, or a name in which
    nothing else is named. "open line": the same, and the line must be open. "start": nothing but
    words for a line may stand before it.
    """

    role: Role
    needs: Needs


_DRAWN = Word("draw", "nothing")

# A table has rows of words by language. Words of a row "en" count anywhere: nouns and commands.
# Those of a row "en?" as often describe a thing (a folding screen, a printed poster, a guide rail,
# the drawing itself) and count only beside a word for a line, or where a name holds nothing else.
# "fold+" stands for "fold" and for "fold" grown together with each word for a line of its language,
# which counts anywhere; "falt~" stands for the latter only. Accents do not matter.
_CUT = """
en   cut+ cuts cutout+ cutouts diecut+ diecuts
en?  cutting+
de   schnitt+ schnitte schneiden schneide+ schneid~ ausschneiden ausschnitt ausschnitte
de   stanzen stanz~ stanzung stanzungen
de?  geschnitten gestanzt
fr   couper coupe coupes découper découpe découpes découpage découpages
es   cortar corte cortes recortar recorte recortes troquel troqueles troquelar
es?  cortado recortado troquelado
nl   snijden snij+ snede sneden uitsnijden knippen knip~ stansen stans~
nl?  gesneden geknipt gestanst
it   tagliare taglio tagli ritagliare ritaglio ritagli fustella fustelle fustellare
it?  tagliato fustellato
pt   cortar corte cortes recortar recorte recortes
pt?  cortado recortado
"""
# A perforation is a score and not a cut: it stays in the piece, to be folded or torn. So is a kiss
# cut or a half cut: by the trade's definition a score goes through part of the card only.
# Left out: "ritz", the name of theatres; "cordone", Italian for the cord of a curtain.
# A valley alone is scenery, and may be another word (vale: voucher, tal: such, dal: of the): rows
# "en^" tell a fold only of an open line in whose name nothing else is named. Beside a word for a
# fold they are not needed, and grown together with one they stand among the others.
_SCORE = """
en   score+ scores fold+ folds crease+ creases perf+ perfs perforate perforation+ perforations
en   mountainfold+ mountainfolds valleyfold+ valleyfolds halfcut+ halfcuts kisscut+ kisscuts
en?  scored scoring+ folded folding+ creased creasing+ perforated perforating+
de   falz+ falze falzen falzung falzungen falte falten faltung faltungen falt~
de   knick+ knicke knicken rille rillen rillung rillungen rill~ rillinie rillinien
de   ritzen anritzen ritz~ perforieren perforier~ perforation perforationen perforations~
de   talfalte talfalten talfalt~ talfalz talfaltung
de   bergfalte bergfalten bergfalt~ bergfalz bergfaltung
de?  gefalzt gefaltet geknickt gerillt geritzt perforiert
fr   pli plis plier pliure pliures pliage pliages rainer rainage rainages rainure rainures
fr   perforer perforation perforations perfo perfos
fr?  plié rainé perforé
es   doblar doblez dobleces pliegue pliegues plegar hender hendido hendidos hendidura hendiduras
es   perforar perforación perforaciones
es?  doblado plegado plegados perforado perforados
nl   vouwen vouw+ rillen ril+ rits~ perforeren perforatie+ perforaties
nl   dalvouw+ dalvouwen bergvouw+ bergvouwen
nl?  gevouwen gerild geperforeerd
it   piegare piega pieghe piegatura piegature cordonare cordonatura cordonature
it   perforare perforazione perforazioni
it?  piegato perforato
pt   dobrar dobra dobras vincar vinco vincos vincagem picotar picote picotes
pt   perfurar perfuração perfurações
pt?  dobrado vincado perfurado picotado
en^  valley+ valleys mountain+ mountains
de^  tal täler berg berge
fr^  vallée vallées montagne montagnes
es^  valle valles montaña montañas
nl^  dal dalen bergen
it^  valli monte monti montagna
pt^  vale vales montanha montanhas
"""
# Left out: "zeichen" and Dutch "teken" alone, which are signs of any kind; "gravé", which without
# its accent is an English grave.
_DRAW = """
en   draw+ engrave+ engraving+ engravings print+ prints
en?  artboard+ artboards registration+
en?  draws drawing+ drawings drawn engraved guide+ guides printed printing+
de   zeichnen zeichen~ gravieren gravier~ gravur+ gravuren hilfs~ drucken druck+ aufdruck
de?  zeichnung zeichnungen zeichnungs~ gezeichnet graviert bedruckt gedruckt
fr   dessiner graver gravure gravures repère repères imprimer impression impressions
fr?  dessin dessins guide guides imprimé
es   dibujar grabar imprimir impresión impresiones
es?  dibujo dibujos grabado grabados guía guías impreso
nl   tekenen teken~ graveren graveer~ gravure hulp~ afdrukken afdruk+ druk~ printen
nl?  tekening tekeningen gegraveerd bedrukt
it   disegnare incidere incisione incisioni stampare stampa stampe
it?  disegno disegni guida guide inciso stampato
pt   desenhar gravar gravação gravações gravura gravuras imprimir impressão impressões
pt?  desenho desenhos gravado guia guias impresso
"""
_LINES = """
en   line lines path paths mark marks layer layers edge edges stroke strokes contour contours
de   linie linien kante kanten marke marken ebene ebenen kontur konturen layer pfad pfade
fr   ligne lignes trait traits calque calques contour contours
es   línea líneas capa capas trazo trazos contorno
nl   lijn lijnen laag lagen rand randen
it   linea linee livello livelli tratto tratti contorno
pt   linha linhas camada camadas traço traços contorno
"""
_FILLERS = """
en   the a an of for to be and or is are as at on in by with
de   der die das den dem und zum zur von für
fr   le la les de du des d l et pour à
es   el los las y e para por del
nl   het en van voor te
it   il lo gli i di da per al
pt   o os do dos das ao
"""
# Words that name no thing: where a line lies, what it looks like, what a program calls its parts.
_PLAIN = """
en   left right top bottom upper lower middle center centre front back side inner outer inside
en   outside horizontal vertical diagonal first second third all main copy new old extra
en   group groups g object objects set svg use circle ring ellipse oval arc arcs curve curves
en   rect rectangle square polygon polyline shape shapes segment segments dash dashes dashed
en   dotted solid thin thick fine bold light dark black white red green blue cyan magenta
en   yellow grey gray orange purple pink brown reverse colour color class cls st style type id no nr
"""
# After these a word is taken back: "do not cut", "no-fold", "ne pas couper".
_NEGATIONS = """
en   no not non never without dont
de   nicht kein keine keinen keiner ohne
fr   pas sans jamais
es   sin nunca
nl   niet geen zonder
it   senza
pt   não sem
"""
# With one of these the whole text names a file and not a line: "cut file for the arch".
_FILES = """
en   file files
de   datei dateien
fr   fichier fichiers
es   archivo archivos
nl   bestand bestanden
pt   arquivo arquivos
"""
# Two words that together are another thing, so that neither tells a role.
_OTHER_THINGS: tuple[tuple[str, str, Word | None], ...] = (
    ("cut", "of sheet sheets pattern patterns template templates paper", None),
    ("paper", "cut cuts", None),
    ("draw", "bridge bridges string strings cord cords curtain curtains", None),
    ("print", "shop shops works", None),
    ("paw foot hand finger thumb hoof blue", "print prints", None),
    ("score", "board boards keeper", None),
    ("music musical orchestra", "score scores", None),
    ("fold", "box boxes card cards book books screen chair", None),
    ("knick", "knack knacks", None),
)
# Two words that together tell what neither tells alone, or need more than the one that tells.
# "half cut" is a score, but "left half cut" is the cut line of a half.
_TOGETHER: tuple[tuple[str, str, Word | None], ...] = (
    ("kiss partial", "cut cuts cutting cutline cutlines", Word("score", "nothing")),
    ("half part", "cut cuts cutting cutline cutlines", Word("score", "start")),
    ("demi mi", "coupe coupes", Word("score", "start")),
    ("medio meio", "corte cortes", Word("score", "start")),
    ("mezzo", "taglio tagli", Word("score", "start")),
    ("fold", "up down out over away flat back in", Word("score", "line")),
    ("bi tri z gate accordion concertina", "fold folds", Word("score", "line")),
    ("glue gluing tab align alignment registration assembly", "guide guides", _DRAWN),
    ("pen", "line lines path paths layer layers stroke strokes contour contours", _DRAWN),
    ("page sheet artboard", "border borders frame frames", _DRAWN),
    ("crop trim register registration", "mark marks", _DRAWN),
    ("place placement position positioning margin page center centre", "guide guides", _DRAWN),
)
# Orders: what follows one of these at the beginning of a name is what it is done to. "Cut door",
# "fold panel" and "score card" may be things as well.
_ORDERS = """
en   engrave perforate
fr   graver plier rainer perforer
es   grabar doblar hender perforar
it   incidere piegare cordonare perforare
pt   gravar dobrar vincar perfurar
"""
# A name is short. A longer text is a sentence to people ("glue the tab, then draw a moon").
_LONGEST = 12

_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{2,6})_")
_NOT = re.compile(r"n['\u2019]t\b", re.IGNORECASE)
_CHUNK = re.compile(r"[^\W\d_]+|\d+")
_HUMP = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[^A-Za-z]+")
_NUMBER = "#"


def _without_accents(text: str) -> str:
    if text.isascii():
        return text
    parts = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    return "".join(c for c in parts if not unicodedata.combining(c))


def _rows(table: str) -> Iterator[tuple[str, list[str]]]:
    """The rows of a table: the language, with its question mark, and the words."""
    for row in _without_accents(table).strip().splitlines():
        language, *words = row.split()
        yield language, words


def _all(table: str) -> frozenset[str]:
    return frozenset(word for _, words in _rows(table) for word in words)


def _readings(table: str, role: Role) -> Iterator[tuple[str, Word]]:
    """Every word of a role's table, those that are grown together with a word for a line too."""
    lines = dict(_rows(_LINES))
    for language, words in _rows(table):
        needs = _NEEDS[language[2:]]
        glued: Needs = "open line" if needs == "open line" else "nothing"
        for word in words:
            stem = word.rstrip("+~")
            if not word.endswith("~"):
                yield stem, Word(role, needs)
            if word != stem:
                yield from ((stem + line, Word(role, glued)) for line in lines[language[:2]])


def _single_words() -> dict[str, Word]:
    """Every word that tells a role by itself; of two readings the one that needs less wins."""
    readings = [
        *_readings(_CUT, "cut"), *_readings(_SCORE, "score"), *_readings(_DRAW, "draw"),
    ]  # fmt: skip
    most_first = list(reversed(_NEEDS.values()))
    readings.sort(key=lambda reading: most_first.index(reading[1].needs))
    return dict(readings)  # of equal keys a dict keeps the last


def _two_words() -> dict[tuple[str, str], Word | None]:
    """Every two words that are read as one; None where they are another thing."""
    return {
        (one, other): word
        for firsts, seconds, word in (*_OTHER_THINGS, *_TOGETHER)
        for one in firsts.split()
        for other in seconds.split()
    }


_NEEDS: dict[str, Needs] = {"": "nothing", "?": "line", "^": "open line"}
_WORDS = _single_words()
_TWO_WORDS = _two_words()
_LINE_WORDS = _all(_LINES)
_FILLER_WORDS = _all(_FILLERS)
_PLAIN_WORDS = _LINE_WORDS | _FILLER_WORDS | _all(_PLAIN) | {_NUMBER}
_NEGATION_WORDS = _all(_NEGATIONS)
_FILE_WORDS = _all(_FILES)
_ORDER_WORDS = _all(_ORDERS)
_TELLING = frozenset((*_WORDS, *(first for first, _ in _TWO_WORDS)))
_KNOWN = frozenset(
    (*_TELLING, *_PLAIN_WORDS, *_NEGATION_WORDS, *_FILE_WORDS, *(two for _, two in _TWO_WORDS))
)


def split_words(text: str) -> list[str]:
    """The words and numbers of a name, in lower case without accents.

    Words end at anything that is no letter, and at a capital after a small letter; `_x5F_` and the
    like, with which some programs write signs that an id may not hold, are read as those signs.
    """
    if "_x" in text:
        text = _ESCAPE.sub(_escaped, text)
    text = _NOT.sub("nt", text)
    words = []
    for chunk in _CHUNK.findall(_without_accents(text)):
        lower = chunk.casefold()
        if lower in _KNOWN or chunk == lower:
            words.append(lower)
        else:
            words += [hump.casefold() for hump in _HUMP.findall(chunk)]
    return words


@lru_cache(maxsize=65536)
def role_of(text: str, open_line: bool) -> Role | None:
    """The role that one id, class list, label, title or layer name tells of a line.

    None where it holds no telling word, or words of two roles. `open_line`: the line does not close
    on itself; only then can a mountain or a valley be a fold and not scenery. Any text will do.
    """
    words = (_NUMBER if word[0].isdecimal() else word for word in split_words(text))
    return _role_of_words(tuple(words), open_line)


@lru_cache(maxsize=4096)
def _role_of_words(words: tuple[str, ...], open_line: bool) -> Role | None:
    """As role_of; most names of a drawing differ only in their numbers, which are all "#" here."""
    if len(words) > _LONGEST or _TELLING.isdisjoint(words) or not _FILE_WORDS.isdisjoint(words):
        return None
    roles = {
        word.role
        for word, start, end in _telling(words)
        if _has_what_it_needs(word.needs, words, start, end, open_line)
        and not _taken_back(words, start)
    }
    return roles.pop() if len(roles) == 1 else None


@lru_cache(maxsize=65536)
def names_lines(text: str) -> bool:
    """Whether a telling name is that of lines, not of a thing that a role word describes.

    True for "folds", "fold lines 2", "panel folds", "folds of the left wing" and "engrave wing";
    False for "fold panel" and "cut-out door". Only of use for a text of which role_of tells a role.
    """
    words = [word for word in split_words(text) if not word[0].isdecimal()]
    telling = [word for word in words if word in _TELLING]
    plain = all(word in _PLAIN_WORDS or word in _TELLING for word in words)
    last = bool(words) and (words[-1] in _LINE_WORDS or words[-1] in _TELLING)
    drawn = any(_TWO_WORDS.get(pair) == _DRAWN for pair in pairwise(words))
    order = bool(words) and words[0] in _ORDER_WORDS
    return plain or last or drawn or order or any(word.endswith(("s", "en")) for word in telling)


def mentions(text: str, wanted: Iterable[str]) -> bool:
    """Whether one of the wanted words or phrases stands in the text, as whole words and numbers."""
    words = split_words(text)
    return any(_holds(words, _split_once(phrase)) for phrase in wanted)


@lru_cache(maxsize=1024)
def _split_once(phrase: str) -> tuple[str, ...]:
    return tuple(split_words(phrase))


def _holds(words: Sequence[str], phrase: tuple[str, ...]) -> bool:
    starts = range(len(words) - len(phrase) + 1)
    return bool(phrase) and any(tuple(words[i : i + len(phrase)]) == phrase for i in starts)


def _escaped(match: re.Match[str]) -> str:
    code = int(match[1], 16)
    return chr(code) if code <= 0x10FFFF else match[0]


def _telling(words: Sequence[str]) -> Iterator[tuple[Word, int, int]]:
    """Each telling word or pair of words, with where it starts and ends."""
    at = 0
    while at < len(words):
        two = tuple(words[at : at + 2])
        if two in _TWO_WORDS:
            pair = _TWO_WORDS[two[0], two[1]]
            if pair is not None:
                yield pair, at, at + 2
            at += 2
            continue
        if words[at] in _WORDS:
            yield _WORDS[words[at]], at, at + 1
        at += 1


def _has_what_it_needs(
    needs: Needs, words: Sequence[str], start: int, end: int, open_line: bool
) -> bool:
    before, after = words[:start], words[end:]
    if needs == "nothing":
        return True
    if needs == "start":
        return all(word in _LINE_WORDS or word == _NUMBER for word in before)
    if needs == "open line" and not open_line:
        return False
    beside = (_first_full(reversed(before)), _first_full(after))
    return any(word in _LINE_WORDS for word in beside) or all(
        word in _PLAIN_WORDS or word in _WORDS or len(word) == 1 for word in (*before, *after)
    )


def _taken_back(words: Sequence[str], start: int) -> bool:
    return _first_full(reversed(words[:start])) in _NEGATION_WORDS


def _first_full(words: Iterable[str]) -> str:
    """The first word that is no filler, "" if there is none."""
    return next((word for word in words if word not in _FILLER_WORDS), "")
