"""Texts as templates: what stays of a wording when its numbers and names are taken out.

Words of another language are brought to the English words of the lexicon here, so that one set of
rules reads them all; ``starts`` keeps where each item of a template stands in the text.
"""

import re
from collections.abc import Iterator, Sequence

import polars as pl

from eventlab.meaning.lexicon import lexicon
from eventlab.meaning.marks import OPENINGS
from eventlab.meaning.tongues import PLACE, UNKNOWN_HEAD, Tongue, speak_of_life

GLUE = "\u0002"
"""Stands between a letter and the number written at once behind it."""
FOREIGN_LIFE = "foreignlife"
"""A word that speaks of life safety in a language that is not read here."""

_TOKEN = rf"\p{{L}}+(?:['’]\p{{L}}+)*{GLUE}?|\d+(?:[.:/\-]\d+)*\p{{L}}{{0,3}}|[|:,()&/]|\?\s*$"
_FOLDS = (
    (r"\b(\p{L})\.(\p{L})\.(?:(\p{L})\.)?", "$1$2$3"),  # a.c., p.a.
    (r"(?i)\ba/c\b", "ac"),
    (r"(?i)\b24[ \-]?(?:h|hr|hrs|hour|hours)\b", " allhours "),
    (r"(?i)\b(\d{2,3}) (v|volts?)\b", "${1}v"),
    (r"(?i)\bn/o\b|\bn/c\b", " "),
    (r"(?i)\bco2\b", " carbon dioxide "),
    (r"[\[{<]", " ( "),
    (r"[\]}>]", " ) "),
    ('["“”„]', " | "),
    (r"[;\n\r\t]|\s[-–—=~>]+\s|--+|\.\s+-|…|\.\.+", " | "),
    (r"_", " "),
    (r"^(\S*\p{Ll})(\p{Lu})(\S*)$", "$1 $2$3"),
    (r"\b([zZ]) (\d)", "${1}${2}"),
    (r"(\p{L})(\d)", f"${{1}}{GLUE} $2"),
)
_DATED = re.compile(r"\d+:\d+|\d+([./-])\d+\1\d+")
_NUMBER = re.compile(r"\d+(?:[./\-]\d+)*")
_VERB = re.compile(r".{2,}(?<!e)(?<!fr)(?<!dr)ed")
_ATTACHED = frozenset("zapu")
_STRUCTURE = frozenset("|:,()&/")
_PROSE = 5
"""Unknown words in a row from which on they are no name."""
_NAMES = frozenset({"x", PLACE})
_NUMBERS = frozenset({"#", "#0"})
_UNTOLD = frozenset({"x", "v", "l", "n", "t", "?", "#", "#0", FOREIGN_LIFE}) | _STRUCTURE
_LINKS = frozenset({"of", "the", "in", "at", "a"})
_JOINTS = frozenset({"/", "&"})
_STRANGE, _BORROWED = 10, 3
_TONGUE = "~"

Flat = list[tuple[str, int, bool]]
Written = tuple[str, list[int]]


def words_of(text: pl.Expr) -> pl.Expr:
    """Return the words of texts, as they stood, with the marks that divide them.

    Parameters
    ----------
    text : polars.Expr
        String.

    Returns
    -------
    polars.Expr
        List of String.
    """
    for pattern, instead in _FOLDS:
        text = text.str.replace_all(pattern, instead)
    return text.str.extract_all(_TOKEN)


def templates(texts: pl.DataFrame, tongue: Tongue) -> pl.DataFrame:
    """Write each text as a template.

    Parameters
    ----------
    texts : polars.DataFrame
        ``id`` (ascending), ``text``, ``words``.
    tongue : Tongue
        The language whose words are known beside those of the lexicon.

    Returns
    -------
    polars.DataFrame
        With ``template``, and ``starts``: the word at which each item of the template begins.
    """
    signs: dict[str, str] = {}
    shapes: dict[str, Written] = {}
    found: list[tuple[str, list[int] | None]] = []
    for words in texts["words"].to_list():
        signed = []
        for word in words:
            if word not in signs:
                signs[word] = sign(word.lower(), tongue)
            signed.append(signs[word])
        shape = " ".join(signed)
        if shape not in shapes:
            shapes[shape] = _written(shape.split(" "), tongue)
        found.append(shapes[shape] if words else ("", None))
    template, starts = zip(*found, strict=True) if found else ((), ())
    return texts.with_columns(
        pl.Series("template", template, dtype=pl.String),
        pl.Series("starts", starts, dtype=pl.List(pl.Int64)),
    )


def sign(word: str, tongue: Tongue) -> str:
    """Write one word as a template does; a word of the language with a mark before it.

    Parameters
    ----------
    word : str
        In small letters.
    tongue : Tongue
        The language whose words are known beside those of the lexicon.
    """
    if word[0] == "?":
        return "?"
    bare = word.removesuffix(GLUE)
    if word in _STRUCTURE:
        return word
    if word[0].isdigit():
        if _DATED.fullmatch(word):
            return "t"
        if _NUMBER.fullmatch(word):
            return "#0" if word[0] == "0" else "#"
    if word != bare and len(bare) == 1:
        return f"{bare}#" if bare in _ATTACHED else "x"
    parts = tongue.split(bare)
    if parts:
        return _TONGUE + "+".join(parts)
    return _english(bare, tongue)


def _english(word: str, tongue: Tongue) -> str:
    known = lexicon()
    if word in known.places:
        return PLACE
    words = known.words.get(word, (word,))
    if all(part in known.vocabulary for part in words):
        return "_".join(words)
    if word[0].isdigit():
        return "n"
    if len(word) == 1:
        return "l"
    if tongue.may_speak_of_life(word):
        return FOREIGN_LIFE
    if speak_of_life(word, tongue):
        return FOREIGN_LIFE
    return "v" if _VERB.fullmatch(word) else "x"


def knows(word: str, tongue: Tongue, *, english: bool) -> bool:
    """Tell whether a word is one of the language itself, no number, no mark and no unknown word.

    Parameters
    ----------
    word : str
        In small letters.
    tongue : Tongue
        The language.
    english : bool
        Whether the words of the lexicon count too.
    """
    signed = sign(word, tongue)
    if signed.startswith(_TONGUE):
        return True
    return english and signed not in _UNTOLD and not signed.endswith("#")


def _written(signs: Sequence[str], tongue: Tongue) -> Written:
    """Bring the words of the language to those of the lexicon, and join the words of names."""
    flat: Flat = []
    for at, one in enumerate(signs):
        if one.startswith(_TONGUE):
            flat += [(part, at, True) for part in one[1:].split("+")]
        else:
            flat.append((one, at, False))
    items: list[list[str]] = []
    ends: list[tuple[int, int]] = []
    for words, first, last in _translated(flat, tongue):
        if ends and first <= ends[-1][1]:  # another part of the same word
            items[-1] += words
            ends[-1] = ends[-1][0], max(last, ends[-1][1])
        else:
            items.append(words)
            ends.append((first, last))
    foreign = any(named for _, _, named in flat)
    return _joined(["_".join(words) for words in items], ends, foreign=foreign)


def _joined(items: list[str], ends: list[tuple[int, int]], *, foreign: bool) -> Written:
    """Make the words of a name that stand together one item.

    In other languages than English a name may be held together by small words that a translation
    would make those of a sentence: ``fenêtre de la cave``.
    """
    if foreign:
        items = _linked(items)
    out: list[str] = []
    starts: list[int] = []
    i = 0
    while i < len(items):
        past = i + 1
        item = items[i]
        if item in _NAMES:
            while past < len(items) and items[past] in _NAMES:
                past += 1
            length = ends[past - 1][1] - ends[i][0] + 1
            if length >= _PROSE:
                item = "xl"
            elif PLACE in items[i:past]:
                item = PLACE
            elif length > 1:
                item = "xs"
        out.append(item)
        starts.append(ends[i][0])
        i = past
    return " ".join(out), starts


def _linked(items: list[str]) -> list[str]:
    """Make small words between the words of a name part of it."""
    items = [PLACE if set(item.split("_")) <= {PLACE} else item for item in items]
    i = 1
    while i < len(items):
        past = i
        while past < len(items) and items[past] in _LINKS:
            past += 1
        named = items[i - 1] in _NAMES or items[i - 1].rsplit("_", 1)[-1] in OPENINGS
        if i < past < len(items) and named and items[past] == PLACE:
            items[i:past] = ["x"] * (past - i)
        i = max(past, i + 1)
    return items


def _translated(flat: Flat, tongue: Tongue) -> Iterator[tuple[list[str], int, int]]:
    """Give what stands for each stretch of words, with its first and last word."""
    chosen = _segmented(flat, tongue)
    i = 0
    before, noun = "", ""
    while i < len(flat):
        word, at, foreign = flat[i]
        if not foreign:
            noun = before if word in _NUMBERS else noun
            before = word if word not in {":", "number", "nr"} else before
            yield [word], at, at
            i += 1
            continue
        found = _number(flat, i, tongue) if _numbered(before) else 0
        if found:
            yield ["#"], at, flat[found - 1][1]
            i, noun, before = found, before, "#"
            continue
        means, past = chosen[i]
        behind = tongue.behind_point.get(word) if before in _NUMBERS and _zone(noun) else None
        for words, other in behind or ():
            ahead = _match(flat, i, words, tongue)
            if ahead:
                means, past = other, ahead
                break
        known = set(means) - lexicon().noise
        if len(word) == 1 and _numbered(before):
            means = ("l",)  # a letter names an area
        elif before == "by" and not known and past < len(flat) and flat[past][0] in _NAMES:
            means = ("x",)  # De Vries
        before = means[-1] if known else before
        yield list(means), at, flat[past - 1][1]
        i = past


def _segmented(flat: Flat, tongue: Tongue) -> list[tuple[tuple[str, ...], int]]:
    """Cut a text into the patterns that leave the fewest words over, and are the fewest."""
    chosen: list[tuple[tuple[str, ...], int]] = [((), 0)] * len(flat)
    cost = [0] * (len(flat) + 1)
    for i in range(len(flat) - 1, -1, -1):
        word, _, foreign = flat[i]
        if not foreign:
            cost[i] = cost[i + 1]
            continue
        other = PLACE if word == UNKNOWN_HEAD else _english(word, tongue)
        chosen[i] = (other,), i + 1
        cost[i] = cost[i + 1] + (_STRANGE if other in _UNTOLD else _BORROWED)
        for words, means in tongue.patterns.get(word, ()):
            past = _match(flat, i, words, tongue)
            if past and 1 + cost[past] < cost[i]:
                chosen[i] = means, past
                cost[i] = 1 + cost[past]
    return chosen


def _numbered(before: str) -> bool:
    """Tell whether a number behind a word is that of a point, a person or the like."""
    last = before.rsplit("_", 1)[-1]
    return any(entry.number for entry in lexicon().entries.get((last,), ()))


def _zone(noun: str) -> bool:
    last = noun.rsplit("_", 1)[-1]
    return last == "z#" or any(e.value == "zone" for e in lexicon().entries.get((last,), ()))


def _number(flat: Flat, i: int, tongue: Tongue) -> int:
    """Return the place behind a number in words that begins here, or 0."""
    for length in (4, 3, 2, 1):
        words = tuple(word for word, _, foreign in flat[i : i + length] if foreign)
        if len(words) == length and words in tongue.numerals:
            return i + length
    return 0


def _match(flat: Flat, i: int, words: Sequence[str], tongue: Tongue) -> int:
    past = i + 1
    for wanted in words[1:]:
        ahead = past
        while ahead < len(flat) and flat[ahead][0] != wanted and _quiet(flat[ahead], tongue):
            ahead += 1
        if wanted == "#":
            return past if ahead < len(flat) and flat[ahead][0] in _NUMBERS else 0
        if ahead == len(flat) or not flat[ahead][2] or flat[ahead][0] != wanted:
            return 0
        past = ahead + 1
    return past


def _quiet(token: tuple[str, int, bool], tongue: Tongue) -> bool:
    return token[0] in _JOINTS or (token[2] and token[0] in tongue.quiet)
