"""How much of the time a site could be heard: by its test reports, week by week."""

import polars as pl

from eventlab.analysis import schedule
from eventlab.ground import Ground
from eventlab.meaning.clock import to_wall
from eventlab.schema import Health
from eventlab.settings import Settings
from eventlab.stats import share_interval

_KEY = ("site", "witness", "path")


def weekly(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the share of test reports that came in each week, with its exact limits.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``path_availability``, ``report_min``, ``report_grace``, ``report_late_s``.

    Returns
    -------
    polars.DataFrame
        A row for each series of reports and week in which any was due: ``site``, ``witness``,
        ``path`` (null: over whichever path), ``week`` (its Monday, local), ``due``, ``on_time``,
        ``late``, ``missed``, ``share`` (that came at all), ``low``, ``high`` (exact, 95 %),
        ``wanted`` (the share of the class in settings), ``below`` (the whole interval lies under
        it), ``health``: ``well`` where all came, late ones too; else ``not well``. A site without
        learned reports has no row: its lane says ``not recorded``; a week without a row but
        between others is ``not covered``, or has none due.

    Notes
    -----
    Clopper and Pearson 1934. A week of daily reports cannot show 99 %: seven of seven leave 59 %
    possible; `overall` says more. Reports sample the path; what is lost between them is not seen.
    """
    return shares(ground, settings)[0]


def overall(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the same over the whole log: no ``week``, with what was learned of the reports.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As for `weekly`.

    Returns
    -------
    polars.DataFrame
        The columns of `weekly` but ``week``, with ``period_h``, ``clock`` and ``spread_h`` as
        `schedule.periods` gives them.
    """
    return shares(ground, settings)[1]


def shares(ground: Ground, settings: Settings) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Give `weekly` and `overall` in one go."""
    _, learned, after = schedule.series(ground, settings)
    due = _due(after, ground, settings)
    told = _shares(due, [*_KEY], settings).join(
        learned.select(*_KEY, "period_h", "clock", "spread_h"),
        on=list(_KEY),
        how="left",
        nulls_equal=True,
        maintain_order="left",
    )
    return _shares(due, [*_KEY, "week"], settings), told


def _due(after: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    slots = schedule.slots(after, settings)
    zones = ground.sites.select("site", pl.col("time_zone").fill_null("UTC"))
    local = to_wall(slots.join(zones, on="site", how="left"), "due", "time_zone", "local")
    return local.with_columns(week=pl.col("local").dt.date().dt.truncate("1w"))


def _shares(due: pl.DataFrame, key: list[str], settings: Settings) -> pl.DataFrame:
    def many(came: str) -> pl.Expr:
        return (pl.col("came") == came).sum().cast(pl.Int64)

    told = due.group_by(key).agg(
        due=pl.len().cast(pl.Int64),
        on_time=many("on time"),
        late=many("late"),
        missed=many("missed"),
    )
    came = (told["due"] - told["missed"]).to_numpy()
    share = share_interval(came, told["due"].to_numpy())
    wanted = pl.lit(settings.path_availability)
    return (
        told.with_columns(
            share=pl.Series(share.estimate, dtype=pl.Float64),
            low=pl.Series(share.low, dtype=pl.Float64),
            high=pl.Series(share.high, dtype=pl.Float64),
            wanted=wanted,
        )
        .with_columns(
            below=pl.col("high") < wanted,
            health=pl.when(pl.col("missed") > 0)
            .then(pl.lit(str(Health.NOT_WELL)))
            .otherwise(pl.lit(str(Health.WELL))),
        )
        .sort(key, nulls_last=True)
    )
