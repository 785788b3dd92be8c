"""Which language the wordings of a column are in, and which of them a cell is read in.

A cell speaks for the language that knows most of its words. Languages in play are those that some
cell speaks for alone; where none is, as of a single ``Brandalarm``, all that know as many. English
is the language of the lexicon and stands behind every other: a log may be German with a few English
words in it, or a panel may speak English and name its points in German.
"""

import polars as pl

from eventlab.meaning.templates import knows
from eventlab.meaning.tongues import Tongue, english, tongues

SAMPLE = 1000
"""Distinct wordings looked at to tell the languages of a column."""
SHARE = 0.1
"""A language that fewer cells speak for, beside the leading one, is one of names only."""


def spoken(texts: pl.DataFrame) -> tuple[Tongue, ...]:
    """Tell the languages in play.

    Parameters
    ----------
    texts : polars.DataFrame
        ``id`` and ``words``, as of ``templates``.

    Returns
    -------
    tuple of Tongue
        The one that most cells speak for first; never empty.
    """
    texts = texts.gather_every(max(1, texts.height // SAMPLE))
    distinct = texts.select(pl.col("words").explode().drop_nulls().str.to_lowercase().unique())
    strange = [w for w in distinct.to_series() if not knows(w, english(), english=True)]
    foreign = [tongue for tongue in tongues() if any(tongue.split(word) for word in strange)]
    if not foreign:
        return (english(),)
    every = [english(), *foreign]
    keys = _keys(texts, every)
    names = [tongue.name for tongue in every]
    best = pl.max_horizontal(names)
    leads = keys.filter(best > 0).select((pl.col(name) == best) for name in names)
    shared = leads.select(pl.sum_horizontal(names).alias("of")).to_series()
    alone = leads.filter(shared == 1).sum()
    votes = {name: float(alone[name][0] or 0) for name in names}
    if not any(votes.values()):
        votes = {name: float((leads[name] / shared).sum() or 0) for name in names}
    most = max(votes.values())
    playing = [t for t in every if votes[t.name] > 0 and votes[t.name] >= SHARE * most]
    return tuple(sorted(playing, key=lambda t: -votes[t.name])) or (english(),)


def read_in(texts: pl.DataFrame, playing: tuple[Tongue, ...]) -> list[tuple[Tongue, pl.DataFrame]]:
    """Divide texts among the languages in play: each to the one, or those, that know most of it.

    Parameters
    ----------
    texts : polars.DataFrame
        ``id`` and ``words``.
    playing : tuple of Tongue
        As ``spoken`` tells them.

    Returns
    -------
    list of (Tongue, polars.DataFrame)
        A text stands in several where they know as much of it.
    """
    if len(playing) == 1:
        return [(playing[0], texts)]
    # A text without any word is known as little by all of them.
    keys = texts.select("id").join(_keys(texts, list(playing)), on="id", how="left").fill_null(0)
    best = pl.max_horizontal(tongue.name for tongue in playing)
    return [
        (t, texts.join(keys.filter(pl.col(t.name) == best).select("id"), on="id", how="semi"))
        for t in playing
    ]


def _keys(texts: pl.DataFrame, every: list[Tongue]) -> pl.DataFrame:
    """Measure how much of each text each language knows: all words, then those of its own."""
    long = texts.select("id", word="words").explode("word", keep_nulls=False)
    long = long.with_columns(pl.col("word").str.to_lowercase())
    distinct = long["word"].unique()
    own = {t.name: [_own(word, t) for word in distinct.to_list()] for t in every}
    base = [knows(word, english(), english=True) for word in distinct.to_list()]
    known = pl.DataFrame(
        {"word": distinct}
        | {
            name: [
                1000 * (mine or all_know) + mine for mine, all_know in zip(some, base, strict=True)
            ]
            for name, some in own.items()
        },
        schema={"word": pl.String} | dict.fromkeys(own, pl.Int64),
    )
    long = long.join(known, on="word", how="left", maintain_order="left")
    return long.group_by("id", maintain_order=True).agg(pl.col(name).sum() for name in own)


def _own(word: str, tongue: Tongue) -> bool:
    return knows(word, tongue, english=tongue is english())


def agreed(shares: list[tuple[Tongue, pl.DataFrame]]) -> pl.DataFrame:
    """Bring together what the languages in play make of the same texts.

    A text that two of them read differently is not guessed; one that only one of them can read is
    read in it.

    Parameters
    ----------
    shares : list of (Tongue, polars.DataFrame)
        ``id``, ``piece``, ``kind``, ``phase``, ``mode``, ``problem`` and whatever else was read,
        those that count first at the beginning.

    Returns
    -------
    polars.DataFrame
        The same columns, by ``id``.
    """
    every = pl.concat(
        told.with_columns(_tongue=pl.lit(tongue.name), _place=pl.lit(place))
        for place, (tongue, told) in enumerate(shares)
    )
    said = pl.concat_str("kind", "phase", "mode", separator=" ", ignore_nulls=True)
    one = (
        every.group_by("id", "_place", "_tongue", maintain_order=True)
        .agg(_said=said.str.join(" | "), _refused=pl.col("kind").is_null().any())
        .sort("id", "_refused", "_place")
    )
    read = one.filter(~pl.col("_refused"))
    torn = (
        read.group_by("id", maintain_order=True)
        .agg(_ways=pl.col("_said").n_unique(), _names=pl.col("_tongue"))
        .filter(pl.col("_ways") > 1)
        .select("id", _torn=_DIFFERENT + pl.col("_names").list.eval(_title()).list.join(" and in "))
    )
    first = one.unique("id", keep="first", maintain_order=True).select("id", "_place")
    told = every.join(first, on=["id", "_place"], how="semi").join(torn, on="id", how="left")
    told = told.filter(
        pl.col("_torn").is_null() | (pl.col("piece") == pl.col("piece").min().over("id"))
    )
    refused = pl.col("_torn").is_not_null()
    empty = [
        n
        for n, kind in told.schema.items()
        if n not in {"id", "text", "piece", "words", "problem", "_torn"}
    ]
    return (
        told.with_columns(pl.when(~refused).then(name).alias(name) for name in empty)
        .with_columns(problem=pl.coalesce("_torn", "problem"))
        .sort("id", maintain_order=True)
        .drop("_torn", "_tongue", "_place")
    )


_DIFFERENT = pl.lit("it reads differently in ")


def _title() -> pl.Expr:
    return pl.element().str.to_titlecase()
