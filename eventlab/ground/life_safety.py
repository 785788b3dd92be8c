"""Which wordings, codes and names speak of a life-safety point, as the reading room knows them."""

import polars as pl

from eventlab.meaning.codes import understand_codes
from eventlab.meaning.wording import life_safety_of, understand_words
from eventlab.schema import Kind

TROUBLES = (
    Kind.BYPASS,
    Kind.SHUTDOWN,
    Kind.MODULE_FAULT,
    Kind.SENSOR_FAULT,
    Kind.MASKING,
    Kind.SUPERVISION_LOSS,
    Kind.DEVICE_BATTERY_LOW,
    Kind.TAMPER,
    Kind.TAMPER_ALARM,
    Kind.WALK_TEST,
)
"""Ordinary kinds in which a life-safety point may be told: ``smoke detector fault``."""

UNKNOWN = "unknown"


def by_code(codes: pl.Series) -> tuple[list[str], list[str]]:
    """Sort out the codes that speak of a life-safety point.

    Parameters
    ----------
    codes : polars.Series
        String: codes as logged.

    Returns
    -------
    tuple of list
        Codes of life-safety points; and codes of points of no named type, which may be.
    """
    distinct = codes.drop_nulls().unique()
    if distinct.is_empty():
        return [], []
    read = understand_codes(distinct).select("text", "life_safety").drop_nulls().unique()
    unknown = pl.col("life_safety") == UNKNOWN
    return read.filter(~unknown)["text"].to_list(), read.filter(unknown)["text"].to_list()


def by_wording(rows: pl.DataFrame) -> pl.DataFrame:
    """Find the points whose troubles are worded as those of life-safety points.

    Parameters
    ----------
    rows : polars.DataFrame
        ``s``, ``label``, ``area``, ``kind``, ``code``, ``text``.

    Returns
    -------
    polars.DataFrame
        ``s``, ``label``, ``area``, each once.
    """
    told = (
        rows.lazy()
        .filter(
            pl.col("kind").is_in(list(TROUBLES))
            & pl.col("label").is_not_null()
            & pl.col("code").is_null()
            & pl.col("text").is_not_null()
        )
        .select("s", "label", "area", "text")
        .unique()
        .collect()
    )
    if told.is_empty():
        return told.drop("text")
    read = understand_words(told["text"].unique())
    life = read.filter(pl.col("life_safety") != UNKNOWN)["text"]
    return told.filter(pl.col("text").is_in(life.implode())).drop("text").unique()


def by_name(names: pl.Series) -> pl.Expr:
    """Tell whether a name or a kind of detector is that of a life-safety point.

    Parameters
    ----------
    names : polars.Series
        String: names of points, or detectors.

    Returns
    -------
    polars.Expr
        Boolean over a column of the same name; a name that may be a room's does not count.
    """
    # A bare number names nothing; most logs name their points by numbers alone.
    spoken = names.filter(names.cast(pl.String).str.contains(r"\pL"))
    if spoken.is_empty():
        return pl.lit(value=False)
    read = life_safety_of(spoken)
    sure = read.filter(pl.col("life_safety") != UNKNOWN)["name"].to_list()
    return pl.col(names.name).is_in(sure).fill_null(value=False)
