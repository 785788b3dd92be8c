"""What says more of a point stands alone, and tells what was seen beside it."""

import polars as pl

from eventlab.schema import FOLLOWS, Pattern

_SAYS_WHY = FOLLOWS | {
    Pattern.CHATTERING,
    Pattern.SWINGER,
    Pattern.FOLLOWS_POINT,
    Pattern.FOLLOWS_SIREN,
}
_SINCE = ("it became more frequent between", "near that date")
"""Lines of a changed rate that another finding takes over."""


def folded(found: pl.DataFrame) -> pl.DataFrame:
    """Fold a changed rate into what says why the same point alarms.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns.

    Returns
    -------
    polars.DataFrame
        The same rows; a changed rate is left out where another finding about its point has taken
        its dates over.
    """
    key = ["site", "subject_kind", "subject"]
    pattern = pl.col("pattern")
    changed = found.filter(pattern == Pattern.RATE_CHANGE)
    why = found.filter(pattern.is_in(list(_SAYS_WHY))).select(key).unique()
    doubled = changed.join(why, on=key, how="semi")
    if doubled.is_empty():
        return found
    said = pl.element().struct.field("what").is_in(_SINCE)
    lines = doubled.group_by(key).agg(
        since_lines=pl.col("evidence").list.eval(pl.element().filter(said)).first()
    )
    own = found.join(doubled.select(*key, "pattern"), on=[*key, "pattern"], how="anti",
                     maintain_order="left")  # fmt: skip
    dressed = own.join(lines, on=key, how="left", maintain_order="left")
    takes = pattern.is_in(list(_SAYS_WHY)) & pl.col("since_lines").is_not_null()
    return dressed.with_columns(
        evidence=pl.when(takes)
        .then(pl.concat_list("evidence", "since_lines"))
        .otherwise("evidence")
    ).select(found.columns)
