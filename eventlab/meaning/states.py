"""Wordings beside a state column: what is told once and begins or ends by the state.

``Mains failure`` beside ``OFF`` is the end of a mains loss, ``Mains`` beside ``OFF`` its begin:
where the wording is understood alone, the state only says whether it begins or ends; where it is
not, the two are read together as words. Words such as ``Fault`` change what happened:
``Smoke detector`` beside it is no fire, and its end is the end of the fault.
Where wording and state speak against
each other, the row is not read.
"""

import polars as pl

from eventlab.meaning.switches import BEGIN, END, Switch, plain, worded
from eventlab.meaning.wording import understand_words

AGAINST = "its wording and its state column speak against each other"
OF_WHAT = "its state column says that something begins or ends, and nothing says what"
NO_STATE = "its state column says neither that it begins nor that it ends"

_QUALITIES = ["fail", "fault", "lost", "low"]
_SIGNS = r"^(?:[01+\x{2212}\x{2013}-]|\p{L}|true|false)$"


def with_states(frame: pl.DataFrame, cells: pl.Series, switch: Switch) -> pl.DataFrame:
    """Say for each row how it is to be read beside its state.

    Parameters
    ----------
    frame : polars.DataFrame
        With ``_read``, the wording of each row.
    cells : polars.Series
        The state column.
    switch : Switch
        What its cells stand for.

    Returns
    -------
    polars.DataFrame
        The same rows with ``_read``, ``_phase`` (the phase that the state gives, or null) and
        ``_refused`` (why the row cannot be read, or null).
    """
    told = frame.with_columns(_cell=pl.DataFrame({"c": cells}).select(plain(pl.col("c")))["c"])
    pairs = told.select("_read", "_cell").drop_nulls().unique(maintain_order=True)
    if pairs.is_empty():
        return told.with_columns(_phase=pl.lit(None, pl.String), _refused=pl.lit(None, pl.String))
    judged = _judged(_known(pairs, switch), bare=switch.bare)
    return (
        told.join(judged, on=["_read", "_cell"], how="left", maintain_order="left")
        .with_columns(_read=pl.coalesce("_instead", "_read"))
        .drop("_instead", "_cell")
    )


def by_state(told: pl.DataFrame) -> pl.DataFrame:
    """Let the state decide between begin and end of what is told by words, or refuse the row.

    Parameters
    ----------
    told : polars.DataFrame
        What rows say, with ``_phase`` and ``_refused`` as ``with_states`` gives them.

    Returns
    -------
    polars.DataFrame
        The same rows without these two; a standard code is never overruled.
    """
    worded = pl.col("code").is_null()
    condition = pl.col("phase").is_in([BEGIN, END])
    refused = worded & pl.col("_refused").is_not_null()
    phase = pl.when(worded & condition).then(pl.col("_phase"))
    return told.with_columns(
        phase=pl.when(~refused).then(pl.coalesce(phase, pl.col("phase").cast(pl.String))),
        kind=pl.when(~refused).then("kind"),
        problem=pl.when(refused).then("_refused").otherwise("problem"),
    ).drop("_phase", "_refused")


def as_qualifier(cell: pl.Expr, switch: Switch) -> pl.Expr:
    """Return the qualifier (DC-05) of bare codes for cells of a state column, null for others.

    Parameters
    ----------
    cell : polars.Expr
        String.
    switch : Switch
        What the cells stand for.

    Returns
    -------
    polars.Expr
        String: ``1``, ``3`` or null.
    """
    digits = {told: "1" if side == BEGIN else "3" for told, side in switch.phase.items()}
    return plain(cell).replace_strict(digits, default=None, return_dtype=pl.String)


def _known(pairs: pl.DataFrame, switch: Switch) -> pl.DataFrame:
    """Give what each wording says alone, and together with the English word for its state."""
    words = {cell: said for cell, said in worded().items() if not switch.bare}
    phase = {cell: side for cell, (side, _) in words.items()} | switch.phase
    english = {cell: word for cell, (_, word) in words.items()} | switch.english
    known = pairs.with_columns(
        side=pl.col("_cell").replace_strict(phase, default=None, return_dtype=pl.String),
        word=pl.col("_cell").replace_strict(english, default=None, return_dtype=pl.String),
    ).with_columns(both=pl.concat_str("_read", "word", separator=" | "))
    texts = pl.concat([known["_read"], known["both"].drop_nulls().alias("_read")])
    read = (
        understand_words(texts)
        .filter(pl.col("problem").is_null())
        .unique("text", keep="first")
        .select("text", kind=pl.col("kind").cast(pl.String), phase=pl.col("phase").cast(pl.String))
    )
    return known.join(
        read.rename({"text": "_read"}), on="_read", how="left", maintain_order="left"
    ).join(
        read.rename({"text": "both"}), on="both", how="left", suffix="_both", maintain_order="left"
    )


def _judged(known: pl.DataFrame, *, bare: bool) -> pl.DataFrame:
    """Decide for each pair which wording is read, with which phase, or why none is."""
    begins, ends = pl.col("side") == BEGIN, pl.col("side") == END
    kind, phase = pl.col("kind"), pl.col("phase")
    alone, begun, over = kind.is_not_null(), phase == BEGIN, phase == END
    moment = alone & ~begun & ~over
    word = pl.col("kind_both").is_not_null() & ~(
        pl.lit(bare) & pl.col("_cell").str.contains(_SIGNS)
    )
    # "On" and "off" of a thing are what the words say: the mains on again, the mains off.
    as_said = pl.lit(bare)
    quality = begins & pl.col("word").is_in(_QUALITIES)
    together = word & ((quality & (pl.col("phase_both") == BEGIN)) | ~alone)
    agrees = as_said | (
        pl.col("phase_both") != pl.when(begins).then(pl.lit(END)).otherwise(pl.lit(BEGIN))
    )
    known = known.with_columns(
        took=pl.when(pl.col("side").is_null())
        .then(pl.lit("none"))
        .when(begins & together & agrees)
        .then(pl.lit("both"))
        .when(begins & begun)
        .then(pl.lit("alone"))
        .when(begins & moment)
        .then(pl.lit("as it is"))
        .when(begins & over)
        .then(pl.lit("as it is") if bare else pl.lit("against"))
        .when(begins)
        .then(pl.lit("of what"))
    ).with_columns(
        what=pl.when(pl.col("took") == "both").then("kind_both").otherwise("kind"),
        source=pl.when(pl.col("took") == "both").then("both").otherwise("_read"),
    )
    # What began beside one state ends beside the other.
    partners = (
        known.filter(begins & pl.col("took").is_in(["both", "alone"]) & ~as_said)
        .group_by("_read")
        .agg(
            partner=pl.when(pl.col("what").n_unique() == 1).then(pl.col("source").first()),
        )
    )
    twice = known.filter(begins).select("_read", twice=pl.lit(value=True)).unique()
    acts = known.filter(begins & moment).select("kind", acted=pl.lit(value=True)).unique()
    known = (
        known.join(partners, on="_read", how="left", maintain_order="left")
        .join(twice, on="_read", how="left", maintain_order="left")
        .join(acts, on="kind", how="left", maintain_order="left")
    )
    both_ways = (pl.col("twice").fill_null(value=False) & over) | (
        pl.col("acted").fill_null(value=False) & moment
    )
    known = known.with_columns(
        took=pl.when(~ends.fill_null(value=False))
        .then("took")
        .when(pl.col("partner").is_not_null())
        .then(pl.lit("partner"))
        .when(begun)
        .then(pl.lit("alone"))
        .when(pl.lit(bare) & both_ways)
        .then(pl.lit("against"))
        .when(over | moment)
        .then(pl.lit("as it is"))
        .when(word & agrees)
        .then(pl.lit("both"))
        .otherwise(pl.lit("of what"))
    )
    took = pl.col("took")
    return known.select(
        "_read",
        "_cell",
        _instead=pl.when(took == "both").then("both").when(took == "partner").then("partner"),
        _phase=pl.when(took.is_in(["alone", "partner"]) | ((took == "both") & ~as_said)).then(
            "side"
        ),
        _refused=pl.when(took == "against")
        .then(pl.lit(AGAINST))
        .when(took == "of what")
        .then(pl.lit(OF_WHAT))
        .when(took == "none")
        .then(pl.lit(NO_STATE)),
    )
