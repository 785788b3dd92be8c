"""What a cell of free wording says, for very many cells at once.

Numbers and unknown words are taken out of the distinct cells first, and the words of other
languages brought to those of the lexicon; what is left are few templates (``zone # x alarm``). Each
template is read once, and what it says is joined back to the cells, with the numbers and names that
stand in its places.
"""

from collections.abc import Callable
from functools import lru_cache
from itertools import product

import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.identity import canonical
from eventlab.meaning.lexicon import lexicon
from eventlab.meaning.parts import Span
from eventlab.meaning.remembered import Remembered
from eventlab.meaning.sentence import LIFE_OR_NAME, read_template
from eventlab.meaning.spoken import agreed, read_in, spoken
from eventlab.meaning.templates import GLUE, templates, words_of
from eventlab.meaning.told import Told
from eventlab.meaning.tongues import Tongue, fold
from eventlab.meaning.understood import UNDERSTOOD
from eventlab.schema import conform, formatted

Row = tuple[object, ...]
"""One event of a template, in the columns of ``_READ``."""

_MANY = r"(?i)\b(?:zones|points|inputs|zns|detectors|sensors|circuits)\b"


def understand_words(cells: pl.Series) -> pl.DataFrame:
    """Tell what cells of free wording say, in any language of the tables.

    Parameters
    ----------
    cells : polars.Series
        String; distinct cells are best. Their language is that of all of them together.

    Returns
    -------
    polars.DataFrame
        Columns of ``UNDERSTOOD``, in the order of the cells' first appearance; more rows than one
        for a cell that names several points or areas, none for a null cell. ``problem`` is set, and
        ``kind`` null, where a cell is not understood.
    """
    texts = _distinct(cells)
    return _reading(_spoken(texts))(texts)


def worded(cells: pl.Series) -> pl.DataFrame:
    """Return each text once with its words: ``id``, ``text``, ``words``."""
    return _WORDS(_distinct(cells)).with_row_index("id")


def _distinct(cells: pl.Series) -> pl.Series:
    return distinct(cells.cast(pl.String))[0].alias("text")


def _spoken(texts: pl.Series) -> tuple[Tongue, ...]:
    return _spoken_in(tuple(texts.to_list())) if len(texts) <= _FEW else spoken(worded(texts))


_FEW = 400
"""Texts of which the languages are kept in mind."""


@lru_cache(maxsize=256)
def _spoken_in(texts: tuple[str, ...]) -> tuple[Tongue, ...]:
    return spoken(worded(pl.Series("text", texts, dtype=pl.String)))


def _words(texts: pl.Series) -> pl.DataFrame:
    return pl.DataFrame({"text": texts}).with_columns(words=words_of(pl.col("text")))


_WORDS = Remembered(_words)


@lru_cache(maxsize=32)
def _reading(playing: tuple[Tongue, ...]) -> Remembered:
    """Return the reading of distinct texts in the languages in play."""

    def told(texts: pl.Series) -> pl.DataFrame:
        shares = [
            (tongue, told_in(some, tongue)) for tongue, some in read_in(worded(texts), playing)
        ]
        told = shares[0][1] if len(shares) == 1 else agreed(shares)
        return conform(_ranges(told), UNDERSTOOD)

    return Remembered(told)


def told_in(
    texts: pl.DataFrame, tongue: Tongue, rows: Callable[[str], list[Row]] | None = None
) -> pl.DataFrame:
    """Say of texts what their templates say.

    Parameters
    ----------
    texts : polars.DataFrame
        As ``worded`` gives them.
    tongue : Tongue
        The language they are in.
    rows : callable, optional
        Gives the rows of a template, as ``rows_of`` does; the tables where left out.
    """
    split = templates(texts, tongue)
    distinct = split["template"].unique().to_list()
    read = pl.DataFrame(
        [row for template in distinct for row in (rows or _rows)(template)],
        schema=_READ,
        orient="row",
    )
    told = split.join(read, on="template", how="left", maintain_order="left")
    spelled = _spelled(texts, tongue)
    spans = {
        "zone": ("zone", _named("zone", spelled)),
        "area": ("area", _named("area", spelled)),
        "person_number": ("person", _named("person", spelled)),
        "person_name": ("name", _text("name")),
        "path": ("path", _text("path").str.to_lowercase()),
    }
    nothing = pl.lit(None, pl.String)
    told = told.with_columns(
        (text if told[f"{span}_from"].null_count() < told.height else nothing).alias(name)
        for name, (span, text) in spans.items()
    )
    return told.with_columns(
        person=pl.coalesce("person_number", "person_name"),
        still=pl.when(pl.col("problem").is_null()).then(pl.lit(value=False)),
    )


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


def _named(span: str, spelled: dict[str, str]) -> pl.Expr:
    """Give a number or a label in canonical form, behind our noun where it has one."""
    text = canonical(_text(span))
    if spelled:
        text = pl.coalesce(
            text.str.to_lowercase().replace_strict(spelled, default=None, return_dtype=pl.String),
            text,
        )
    noun = pl.col(f"{span}_noun").replace("", None)
    return (
        pl.when(noun.is_null())
        .then(text)
        .otherwise(pl.concat_str(noun, text, separator=" ", ignore_nulls=True))
    )


def _spelled(texts: pl.DataFrame, tongue: Tongue) -> dict[str, str]:
    """Return the numbers in words that texts hold, as spelled there, with their figures."""
    words = texts.select(pl.col("words").explode().str.to_lowercase().unique()).to_series()
    held: dict[str, list[str]] = {}
    for word in words.drop_nulls():
        if fold(word) in tongue.counted:
            held.setdefault(fold(word), []).append(word)
    return {
        " ".join(spelling): figures
        for number, figures in (tongue.numerals.items() if held else ())
        for spelling in product(*(held.get(word, ()) for word in number))
    }


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
    each = _distinct(names)
    asked = pl.DataFrame({"name": each}).with_columns(text=formatted("Zone 1 | {} | Alarm", "name"))
    # The names tell their language; the words around them here do not.
    read = _reading(_spoken(each))(asked["text"])
    read = read.unique("text", keep="first")
    life = (
        pl.when(pl.col("problem") == LIFE_OR_NAME).then(pl.lit("unknown")).otherwise("life_safety")
    )
    return (
        asked.join(read, on="text", maintain_order="left")
        .select("name", life_safety=life)
        .filter(pl.col("life_safety").is_not_null())
    )
