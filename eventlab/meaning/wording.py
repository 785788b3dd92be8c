"""What a cell of free English wording says, for very many cells at once.

Numbers and unknown words are taken out of the distinct cells first; what is left are few templates
(``zone # x alarm``). Each template is read once, and what it says is joined back to the cells, with
the numbers and names that stand in its places.
"""

import re
from collections.abc import Mapping
from functools import lru_cache

import polars as pl

from eventlab.meaning.identity import canonical
from eventlab.meaning.lexicon import lexicon
from eventlab.meaning.parts import Span
from eventlab.meaning.sentence import LIFE_OR_NAME, read_template
from eventlab.meaning.told import Told
from eventlab.meaning.understood import UNDERSTOOD
from eventlab.schema import conform

Row = tuple[object, ...]
"""One event of a template, in the columns of ``_READ``."""

GLUE = "\u0002"
"""Stands between a letter and the number written at once behind it."""

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
_MANY = r"(?i)\b(?:zones|points|inputs|zns|detectors|sensors|circuits)\b"
_ATTACHED = frozenset("zapu")
_STRUCTURE = frozenset("|:,()&/")
_PROSE = 5
"""Unknown words in a row from which on they are no name."""


def understand_words(cells: pl.Series) -> pl.DataFrame:
    """Tell what cells of free English wording say.

    Parameters
    ----------
    cells : polars.Series
        String; distinct cells are best.

    Returns
    -------
    polars.DataFrame
        Columns of ``UNDERSTOOD``, in the order of the cells' first appearance; more rows than one
        for a cell that names several points or areas, none for a null cell. ``problem`` is set, and
        ``kind`` null, where a cell is not understood.
    """
    split = templates(cells)
    return told_of(split, {template: _rows(template) for template in split["template"].unique()})


def told_of(split: pl.DataFrame, readings: Mapping[str, list[Row]]) -> pl.DataFrame:
    """Say of texts what their templates say.

    Parameters
    ----------
    split : polars.DataFrame
        As ``templates`` gives it.
    readings : mapping
        For each template its rows, as ``rows_of`` gives them.

    Returns
    -------
    polars.DataFrame
        Columns of ``UNDERSTOOD``.
    """
    read = pl.DataFrame(
        [row for rows in readings.values() for row in rows], schema=_READ, orient="row"
    )
    told = split.join(read, on="template", how="left", maintain_order="left")
    told = told.with_columns(
        zone=_named("zone"),
        area=_named("area"),
        person_number=_named("person"),
        person_name=_text("name"),
        path=_text("path").str.to_lowercase(),
    )
    told = told.with_columns(
        person=pl.coalesce("person_number", "person_name"),
        still=pl.when(pl.col("problem").is_null()).then(pl.lit(value=False)),
    )
    return conform(_ranges(told), UNDERSTOOD)


_SPANS = ("zone", "area", "person", "name", "path")
_READ: dict[str, pl.DataType] = {
    "template": pl.String(),
    "piece": pl.Int32(),
    "kind": pl.String(),
    "phase": pl.String(),
    "mode": pl.String(),
    "problem": pl.String(),
    "as_user": pl.Boolean(),
    "life_safety": pl.String(),
    "at_point": pl.String(),
} | {
    f"{span}_{part}": pl.String() if part == "noun" else pl.Int64()
    for span in _SPANS
    for part in ("from", "to", "noun")
}


def templates(cells: pl.Series) -> pl.DataFrame:
    """Split texts into words and write each text as a template.

    Parameters
    ----------
    cells : polars.Series
        String.

    Returns
    -------
    polars.DataFrame
        ``id``, ``text`` (each once, none null), ``words`` (list of String, as they stood),
        ``template``, and ``starts``: the word at which each item of the template begins.
    """
    texts = pl.DataFrame({"text": cells.cast(pl.String)}).filter(pl.col("text").is_not_null())
    texts = texts.unique(maintain_order=True).with_row_index("id")
    folded = pl.col("text")
    for pattern, instead in _FOLDS:
        folded = folded.str.replace_all(pattern, instead)
    texts = texts.with_columns(words=folded.str.extract_all(_TOKEN))
    long = texts.select("id", word="words").explode("word", keep_nulls=False)
    long = long.with_columns(pl.col("word").str.to_lowercase())
    distinct = long["word"].unique()
    signs = pl.DataFrame(
        {"word": distinct, "sign": [_sign(word) for word in distinct.to_list()]},
        schema={"word": pl.String, "sign": pl.String},
    )
    long = long.join(signs, on="word", how="left", maintain_order="left").with_row_index("at")
    # Words of a name that stand together are one item.
    named = pl.col("sign").is_in(["x", "p"])
    joined = named & named.shift(1) & (pl.col("id") == pl.col("id").shift(1))
    place = (pl.col("sign") == "p").cum_sum().cast(pl.Int64)
    items = long.with_columns(places=place).filter(~joined.fill_null(value=False))
    # The last word of an item stands before the first word of the next one.
    length = pl.col("at").shift(-1, fill_value=long.height) - pl.col("at")
    next_is_place = (pl.col("sign").shift(-1) == "p").fill_null(value=False).cast(pl.Int64)
    places = pl.col("places").shift(-1).fill_null(long.select(place.max()).item() or 0)
    placed = (pl.col("sign") == "p") | (places - next_is_place > pl.col("places"))
    items = items.with_columns(
        sign=pl.when(~named)
        .then("sign")
        .when(length >= _PROSE)
        .then(pl.lit("xl"))
        .when(placed)
        .then(pl.lit("p"))
        .when(length > 1)
        .then(pl.lit("xs"))
        .otherwise(pl.lit("x"))
    )
    grouped = items.group_by("id", maintain_order=True).agg(
        template=pl.col("sign").str.join(" "), starts=pl.col("at") - pl.col("at").first()
    )
    return texts.join(grouped, on="id", how="left", maintain_order="left").with_columns(
        pl.col("template").fill_null("")
    )


def _sign(word: str) -> str:
    """Write one word as a template does."""
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
    if bare in lexicon().places:
        return "p"
    words = lexicon().words.get(bare, (bare,))
    if all(part in lexicon().vocabulary for part in words):
        return "_".join(words)
    if word[0].isdigit():
        return "n"
    if len(bare) == 1:
        return "l"
    return "v" if _VERB.fullmatch(bare) else "x"


@lru_cache(maxsize=200_000)
def _rows(template: str) -> list[Row]:
    """Read one template: a row for each event it tells."""
    return rows_of(template, read_template(tuple(template.split()), lexicon()))


def rows_of(template: str, told: Told) -> list[Row]:
    """Write what a template was read to say as rows: one for each event."""
    reading = told.reading
    whole = (
        (reading.kind.value, reading.phase.value, reading.mode.value if reading.mode else None)
        if reading is not None
        else (None, None, None)
    )
    shared = (*whole, told.problem or None, told.as_user, told.life_safety or None)
    at_point = told.at_point.value if told.at_point is not None else None
    people = [*_span(told.person), *_span(told.person_name), *_span(told.path)]
    return [
        (template, piece, *shared, at_point, *_span(zone), *_span(area), *people)
        for piece, (zone, area) in enumerate(_places(told), start=1)
    ]


def _places(told: Told) -> list[tuple[Span | None, Span | None]]:
    """Give the point and area of each event: one event for each point, else for each area."""
    if len(told.zones) > 1:
        return [(zone, told.areas[0] if told.areas else None) for zone in told.zones]
    zone = told.zones[0] if told.zones else None
    return [(zone, area) for area in told.areas] or [(zone, None)]


def _span(span: Span | None) -> tuple[int | None, int | None, str | None]:
    return (span.start, span.stop, span.noun) if span else (None, None, None)


def _text(span: str) -> pl.Expr:
    """Take the words of a span out of a text."""
    start = pl.col("starts").list.get(pl.col(f"{span}_from"), null_on_oob=True)
    stop = pl.col("starts").list.get(pl.col(f"{span}_to"), null_on_oob=True)
    words = pl.col("words").list.slice(start, stop.fill_null(pl.col("words").list.len()) - start)
    whole = words.list.join(" ").str.replace_all(f"{GLUE} ?", "").replace("", None)
    return pl.when(pl.col(f"{span}_from").is_not_null()).then(whole)


def _named(span: str) -> pl.Expr:
    """Give a number or a label in canonical form, behind our noun where it has one."""
    text = canonical(_text(span))
    noun = pl.col(f"{span}_noun").replace("", None)
    return (
        pl.when(noun.is_null())
        .then(text)
        .otherwise(pl.concat_str(noun, text, separator=" ", ignore_nulls=True))
    )


def _ranges(told: pl.DataFrame) -> pl.DataFrame:
    """Make one row for each of ``areas 1-4`` and ``zones 1-4``, and number the pieces again."""
    spread = False
    for name, ranged in (
        ("area", pl.lit(value=True)),
        ("zone", pl.col("text").str.contains(_MANY)),
    ):
        ends = pl.col(name).str.extract_groups(r"^([1-9]\d?)-([1-9]\d?)$")
        first = ends.struct.field("1").cast(pl.Int64)
        last = ends.struct.field("2").cast(pl.Int64)
        several = ranged & (last > first).fill_null(value=False)
        if not told.select(several.any()).item():
            continue
        spread = True
        every = pl.int_ranges(first, last + 1).cast(pl.List(pl.String))
        told = told.with_columns(
            pl.when(several).then(every).otherwise(pl.concat_list(name)).alias(name)
        ).explode(name)
    if not spread:
        return told
    return told.with_columns(piece=pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("id"))


def life_safety_of(names: pl.Series) -> pl.DataFrame:
    """Tell which names of points are those of life-safety points.

    For logs that keep the name of a point in a column of its own: ``alarm`` at ``Kitchen Smoke``
    is a fire, and at ``Medical Room`` it may be a call for help.

    Parameters
    ----------
    names : polars.Series
        String: names of points.

    Returns
    -------
    polars.DataFrame
        ``name``, ``life_safety`` (``fire``, ``hold-up``, ``medical``, ``gas``; ``unknown`` where
        the name speaks of it and may be that of a room), for the names that speak of it; each once.
    """
    distinct = names.cast(pl.String).drop_nulls().unique(maintain_order=True)
    asked = pl.DataFrame({"name": distinct}).with_columns(
        text=pl.format("Zone 1 | {} | Alarm", "name")
    )
    read = understand_words(asked["text"]).unique("text", keep="first")
    life = (
        pl.when(pl.col("problem") == LIFE_OR_NAME).then(pl.lit("unknown")).otherwise("life_safety")
    )
    return (
        asked.join(read, on="text", maintain_order="left")
        .select("name", life_safety=life)
        .filter(pl.col("life_safety").is_not_null())
    )
