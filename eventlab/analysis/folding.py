"""What says more of the same thing stands alone, and tells what was seen beside it."""

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


_TURNED = pl.duration(days=14)
"""A point that is seldom seen has been quiet for so long when its number changes."""
_SLACK = 2.5
"""So many periods before a path was told lost its last report may have come, and after it was
back the next one: a centre tells a path lost when reports are late."""
_SILENCE = "no test report after"
_OF_REPORTS = ("usual time between reports", "usual time of day", "came, but late")
"""Lines about reports that come; the others tell of those that did not."""


def folded(found: pl.DataFrame) -> pl.DataFrame:
    """Fold what only says again what another finding says more of.

    A changed rate belongs to what says why the same point alarms; test reports that did not come
    while a path was told lost belong to the lost path: one outage is one finding. Numbers that fell
    silent as others began are renumbered, not dead.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns.

    Returns
    -------
    polars.DataFrame
        The same rows; what is left out has its dates, or its lines, in the other one.
    """
    return _one_outage(_why(_not_dead(found)))


def _not_dead(found: pl.DataFrame) -> pl.DataFrame:
    """Leave out silences of numbers that a site's points no longer have."""
    pattern = pl.col("pattern")
    changed = pl.col("figures").str.json_path_match("$.renumbered").cast(pl.Int64, strict=False)
    anew = found.filter((pattern == Pattern.LIST_MISMATCH) & (changed > 0)).select(
        "site", begun="since"
    )
    quiet = found.filter(pattern == Pattern.SILENT_ZONE).join(anew, on="site")
    near = pl.col("since").is_between(pl.col("begun") - _TURNED, pl.col("begun"))
    gone = quiet.filter(near).select("site", "subject", "area", "pattern")
    if gone.is_empty():
        return found
    return found.join(gone, on=gone.columns, how="anti", nulls_equal=True, maintain_order="left")


def _why(found: pl.DataFrame) -> pl.DataFrame:
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


def _one_outage(found: pl.DataFrame) -> pl.DataFrame:
    """Fold reports that all failed to come around the outages of a lost path into that finding."""
    pattern = pl.col("pattern")
    period = pl.col("figures").str.json_path_match("$.period_h").cast(pl.Float64)
    lost = pl.col("figures").str.json_path_match("$.outages").cast(pl.Float64, strict=False)
    reports = found.filter(pattern == Pattern.REPORT_MISSED).select(
        "site",
        rep_since="since",
        rep_until="until",
        rep_stands="standing",
        slack=pl.duration(seconds=(_SLACK * period * 3600).round(0).cast(pl.Int64)),
        rep_lines=pl.col("evidence").list.eval(
            pl.element().filter(~pl.element().struct.field("what").is_in(_OF_REPORTS))
        ),
    )
    paths = found.filter((pattern == Pattern.PATH_DOWN) & (lost > 0))
    # What still stands tells since when; whether earlier silences lie in outages it does not tell.
    silences = pl.col("rep_lines").list.eval(
        pl.element().struct.field("what").str.starts_with(_SILENCE)
    ).list.sum()  # fmt: skip
    pairs = paths.join(reports, on="site").filter(
        (~pl.col("rep_stands") | (silences == 1))
        & (pl.col("rep_since") >= pl.col("since") - pl.col("slack"))
        & (pl.col("rep_until") <= pl.col("until") + pl.col("slack"))
        & (pl.col("standing") | ~pl.col("rep_stands"))
    )
    if pairs.is_empty():
        return found
    taken = pairs.select("site", pattern=pl.lit(str(Pattern.REPORT_MISSED)))
    lines = pairs.select("site", "pattern", "rep_lines")
    kept = found.join(taken.cast({"pattern": found.schema["pattern"]}), on=["site", "pattern"],
                      how="anti", maintain_order="left")  # fmt: skip
    dressed = kept.join(lines, on=["site", "pattern"], how="left", maintain_order="left")
    return dressed.with_columns(
        evidence=pl.when(pl.col("rep_lines").is_not_null())
        .then(pl.concat_list("evidence", "rep_lines"))
        .otherwise("evidence")
    ).select(found.columns)
