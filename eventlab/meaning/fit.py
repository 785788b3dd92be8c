"""How well the wordings of columns are understood, alone and together."""

from collections.abc import Sequence
from functools import lru_cache

import polars as pl

from eventlab.meaning.wording import understand_words

SAMPLE = 400
"""Rows looked at to tell what a column is: from the head, the middle and the tail."""


def changed(cells: pl.DataFrame, before: Sequence[str], after: Sequence[str]) -> float:
    """Return the share of rows whose kind changes when more columns are read together."""
    if not before:
        return 0.0
    rows = pl.DataFrame({"text": joined(cells, before), "more": joined(cells, after)})
    told = rows.drop_nulls().unique(maintain_order=True).head(SAMPLE)
    for column, kind in (("text", "kind"), ("more", "kind_more")):
        known = understand_words(told[column].unique()).unique("text", keep="first")
        known = known.select(pl.col("text").alias(column), pl.col("kind").alias(kind))
        told = told.join(known, on=column, how="left")
    other = pl.col("kind_more").ne_missing(pl.col("kind")) & pl.col("kind_more").is_not_null()
    share = told.select(other.mean()).item()
    return float(share or 0.0)


def joined(cells: pl.DataFrame, columns: Sequence[str]) -> pl.Series:
    """Join the cells of several columns to one wording for each row; null where all are empty."""
    if not columns:
        return pl.Series([None], dtype=pl.String).new_from_index(0, cells.height)
    if len(columns) == 1:
        return cells[columns[0]]
    text = cells.select(
        pl.concat_str([pl.col(name) for name in columns], separator=" | ", ignore_nulls=True)
    ).to_series()
    return text.replace("", None)


def named(cells: pl.Series) -> float:
    """Return the share of distinct wordings that number a point, an area or a person."""
    distinct = cells.drop_nulls().unique(maintain_order=True).head(SAMPLE)
    if distinct.is_empty():
        return 0.0
    numbered = pl.any_horizontal(
        pl.col(name).str.contains(r"^\d+$") for name in ("zone", "area", "person")
    )
    told = understand_words(distinct).filter(pl.col("problem").is_null() & numbered)
    return told["text"].n_unique() / distinct.len()


def understood(cells: pl.Series) -> float:
    """Return the share of distinct wordings that the lexicon understands."""
    distinct = cells.unique(maintain_order=True).head(SAMPLE)
    return _share(tuple(distinct.to_list()))


@lru_cache(maxsize=256)
def _share(distinct: tuple[str | None, ...]) -> float:
    if not distinct:
        return 0.0
    told = understand_words(pl.Series("text", distinct, dtype=pl.String))
    return told.filter(pl.col("problem").is_null())["text"].n_unique() / len(distinct)
