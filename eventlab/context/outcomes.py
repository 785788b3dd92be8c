"""Which cause the words of a recorded outcome stand for."""

from functools import cache
from importlib import resources

import polars as pl

from eventlab.schema import Cause

PERSON = "person"
"""A person, with no word whether coming or going."""
_NEGATED = r"\b(?:no|not|never|without|nor|neither|isn't|wasn't|rather than|unlikely)\b"


@cache
def outcome_words() -> pl.DataFrame:
    """Read the table: ``cause``, ``words`` (patterns), ``alone`` (that count alone), ``example``.

    Returns
    -------
    polars.DataFrame
        One row per cause.
    """
    data = resources.files("eventlab.context") / "data" / "outcome_words.csv"
    return pl.read_csv(data.read_bytes(), infer_schema=False).with_columns(
        pl.col("alone").fill_null("")
    )


def outcome_cause(text: pl.Expr) -> pl.Expr:
    """Say which cause the words of an outcome stand for.

    Parameters
    ----------
    text : polars.Expr
        String: the outcome as it was recorded.

    Returns
    -------
    polars.Expr
        String, a word of ``schema.Cause``, or ``PERSON``: coming or going is not told. Null where
        no known word stands in it, where words of two causes do, or where something is denied
        that is no usual phrase: nothing is guessed.
    """
    plain = text.str.to_lowercase().str.replace_all(r"[^\p{L}\p{N}']+", " ").str.strip_chars()
    table = outcome_words().select("cause", "words", "alone").rows()

    def holds(pattern: str) -> pl.Expr:
        return plain.str.contains(pattern).fill_null(value=False)

    named = {cause: holds(rf"\b(?:{words})\b") for cause, words, _ in table}
    unknown = str(Cause.UNEXPLAINED)
    many = pl.sum_horizontal(hit.cast(pl.Int64) for c, hit in named.items() if c != unknown)
    one = pl.coalesce(pl.when(hit).then(pl.lit(c)) for c, hit in named.items() if c != unknown)
    exact = pl.coalesce(
        pl.when(holds(rf"^(?:{words}{'|' + alone if alone else ''})$")).then(pl.lit(cause))
        for cause, words, alone in table
    )
    return (
        pl.when(exact.is_not_null())
        .then(exact)
        .when((many == 1) & ~named[unknown] & ~plain.str.contains(_NEGATED))
        .then(one)
        .when((many == 0) & named[unknown])
        .then(pl.lit(unknown))
    )
