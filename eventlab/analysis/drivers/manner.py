"""How an area had been armed before alarms that follow it: by hand, by a timer, from afar."""

import polars as pl

from eventlab.analysis.found import asof
from eventlab.ground import Ground
from eventlab.schema import Mode

_WAYS: dict[str, str] = {
    Mode.TIMED: "by a timer",
    Mode.REMOTE: "from afar",
    Mode.KEY: "with a key",
    Mode.FORCED: "by force",
    Mode.QUICK: "with one button",
}
_BY_HAND, _UNTOLD = "by hand", "not told how"


def manner(ground: Ground, seen: pl.DataFrame, site: str, area: str | None) -> str | None:
    """Say how the area had been armed before some alarms, beside how it is armed at all.

    Parameters
    ----------
    ground : Ground
        When each area was armed, in which mode, by whom.
    seen : polars.DataFrame
        ``at`` of the alarms.
    site, area : str
        Of the point; no area for every area of the site.

    Returns
    -------
    str or None
        ``by a timer 6 of 8 (all armings: 20 of 250)``, the commonest first; None where nothing
        was armed before any.
    """
    here = pl.col("site") == site
    if area is not None:
        here &= (pl.col("area") == area) | pl.col("area").is_null()
    way = (
        pl.col("mode")
        .cast(pl.String)
        .replace_strict(_WAYS, default=None, return_dtype=pl.String)
        .fill_null(
            pl.when(pl.col("person").is_not_null())
            .then(pl.lit(_BY_HAND))
            .otherwise(pl.lit(_UNTOLD))
        )
    )
    armed = ground.armed.filter(here & pl.col("known")).select("site", begun="since", way=way)
    before = asof(seen.select("at", site=pl.lit(site)), armed, "at", "begun").drop_nulls("way")
    if before.is_empty():
        return None
    every = armed.group_by("way").agg(all=pl.len())
    counted = (
        before.group_by("way")
        .agg(many=pl.len())
        .join(every, on="way")
        .sort("many", "way", descending=[True, False])
    )
    parts = [
        f"{way} {many} of {before.height} (of all armings {some} of {armed.height})"
        for way, many, some in counted.iter_rows()
    ]
    return "; ".join(parts)
