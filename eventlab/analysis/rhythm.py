"""The rhythm of each point: on which days it is seen, and whether a silence is chance.

Nothing here is about life-safety points, and nothing is said where a log tells no movement while
unarmed. The day is the unit of evidence: a point was seen on it or not, however often.
"""

import polars as pl

from eventlab.analysis.core import POINT
from eventlab.analysis.found import coded
from eventlab.ground import Ground, Power, Told
from eventlab.meaning.clock import to_wall
from eventlab.schema import TRIPS, Health, Kind, Phase
from eventlab.settings import Settings
from eventlab.stats import silent_chance, spell_chance

_ALIVE = (Kind.ACTIVATION, *TRIPS, Kind.WALK_TEST)
"""What shows that a point is alive."""
_DAY = ("site", "day")


def rhythms(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the rhythm of each point, and the chance of its silence at the end of the log.

    A day counts for a point only where enough others were seen on it (``silent_others`` points,
    ``silent_breadth`` of what is usual on that weekday): what empties a building, a holiday, a
    closing, a lost line, silences all and is no point's. The first and last day are left out.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``silent_others``, ``silent_breadth``, ``silent_window_days``, ``silent_spells``.

    Returns
    -------
    polars.DataFrame
        A row for each ordinary point that was ever seen, of sites whose log tells movement while
        unarmed: ``site``, ``zone``, ``within``, ``area``, ``days`` (that count), ``seen_days``,
        ``last_seen`` (UTC), ``last_local`` (wall time), ``silent_days`` (that count, since it was
        last seen), ``longest_gap`` (of such days, before), ``expected`` (activations that its own
        rate by weekday would have brought in them), ``expected_days``, ``chance`` (that the silence
        is chance; the larger of that against its whole log and against its last
        ``silent_window_days`` days), ``spell`` (that one more spell without use began and
        lasts so long, as it and others of the site have them), ``looks`` (points looked at).

    Notes
    -----
    `stats.silent_chance`, by weekday: exact where days of one weekday are alike. Rooms are used in
    spells, so `stats.spell_chance` is asked too; ``silent_spells`` spells as long as is usual at
    the site are added to a point's own, since one that never rested does not tell how long it may.
    """
    points, days = _days(ground, settings)
    order = pl.col("day").cum_count().over("point").cast(pl.Int64)
    ordered = days.with_columns(order=order, after=pl.col("day") > pl.col("last_day"))
    ordered = ordered.with_columns(
        back=(~pl.col("after")).sum().over("point").cast(pl.Int64) - pl.col("order")
    )
    recent = ordered.filter(pl.col("back") < settings.silent_window_days)
    usual = recent.group_by("point", "weekday").agg(
        n=pl.col("activations").filter(~pl.col("after")).mean(),
        share=pl.col("seen").filter(~pl.col("after")).mean(),
    )
    due = (
        ordered.filter("after")
        .join(usual, on=["point", "weekday"], how="left")
        .group_by("point")
        .agg(
            expected=pl.col("n").fill_null(0).sum(),
            expected_days=pl.col("share").fill_null(0).sum(),
        )
    )
    steps = pl.col("order").filter("seen").diff() - 1
    told = ordered.group_by("point", maintain_order=True).agg(
        days=pl.len().cast(pl.Int64),
        seen_days=pl.col("seen").sum().cast(pl.Int64),
        silent_days=pl.col("after").sum().cast(pl.Int64),
        longest_gap=steps.max().fill_null(0).cast(pl.Int64),
        gaps=(steps > 0).sum().cast(pl.Int64),
        gap_days=steps.sum().fill_null(0).cast(pl.Int64),
    )
    return (
        points.drop("code", "last_day")
        .join(told, on="point", maintain_order="left")
        .join(_chance(ordered, "whole"), on="point", maintain_order="left")
        .join(_chance(recent, "late"), on="point", maintain_order="left")
        .join(due, on="point", how="left", maintain_order="left")
        .with_columns(
            pl.col("expected", "expected_days").fill_null(0.0).round(6),
            chance=pl.max_horizontal("whole", "late"),
            looks=pl.len().over("site").cast(pl.Int64),
        )
        .drop("point", "whole", "late")
        .pipe(_in_spells, settings)
    )


def weekly(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say week by week whether each point was seen when it was to be expected.

    Over a whole portfolio these are millions of rows; ask with ``ground.only`` for the sites that
    are looked at.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As for `rhythms`, and ``silent_chance``.

    Returns
    -------
    polars.DataFrame
        A row for each point and each week that the log covers: ``site``, ``zone``, ``within``,
        ``week`` (its Monday, local), ``days`` (that count for the point), ``seen`` (days on which
        it was seen), ``expected`` (days on which it usually is), ``activations``, ``chance`` (of
        not being seen; null where it was), ``health``. ``well``: seen. ``not well``: not seen,
        though chance alone does that more rarely than ``silent_chance``. ``not recorded``: this
        log tells no movement while unarmed, or the point is a life-safety point, which no habit
        tells to be alive: only its own test does. ``not covered``: too few were about to say.
    """
    points, counting = _days(ground, settings)
    days = counting.with_columns(week=pl.col("day").dt.truncate("1w"))
    usual = days.group_by("point", "weekday").agg(
        many=pl.len(), often=pl.col("seen").sum(), share=pl.col("seen").mean()
    )
    by_day = days.join(usual, on=["point", "weekday"])
    weeks = by_day.group_by("point", "week").agg(
        days=pl.len().cast(pl.Int64),
        seen=pl.col("seen").sum().cast(pl.Int64),
        expected=pl.col("share").sum().round(6),
        activations=pl.col("activations").sum().cast(pl.Int64),
    )
    strata = by_day.group_by("point", "week", "weekday").agg(
        pl.col("many", "often").first(), last=pl.len()
    )
    named = strata.sort("point", "week", "weekday").with_columns(
        series=pl.struct("point", "week").rle_id().cast(pl.Int64)
    )
    got = silent_chance(named["many"], named["often"], named["last"], named["series"])
    chance = (
        named.select("point", "week", "series")
        .unique()
        .join(pl.DataFrame({"series": got.group, "chance": got.chance}), on="series")
        .drop("series")
    )
    key = [*POINT, "week"]
    told = (
        weeks.join(chance, on=["point", "week"])
        .join(points.select("point", *POINT), on="point")
        .drop("point")
    )
    every = _points(ground).join(_weeks(ground), on="site")
    full = every.join(told, on=key, how="left", nulls_equal=True)
    silent = pl.col("chance") <= settings.silent_chance
    return (
        full.with_columns(
            pl.col("days", "seen", "activations").fill_null(0),
            pl.col("expected").fill_null(0.0),
            health=pl.when(~pl.col("told") | pl.col("life_safety"))
            .then(pl.lit(str(Health.NOT_RECORDED)))
            .when(pl.col("seen") > 0)
            .then(pl.lit(str(Health.WELL)))
            .when(silent)
            .then(pl.lit(str(Health.NOT_WELL)))
            .otherwise(pl.lit(str(Health.NOT_COVERED))),
            chance=pl.when(pl.col("seen") == 0).then("chance"),
        )
        .drop("told", "life_safety")
        .sort(*key, nulls_last=True)
    )


def by_hour(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give each point's rate of activity by hour and weekday, on days that count.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on; ask with ``ground.only`` for the sites that are looked at.
    settings : Settings
        As for `rhythms`.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``weekday`` (1 Monday to 7), ``hour`` (0 to 23, local),
        ``rate`` (activations per such hour), ``days`` (how many of that weekday count). Hours
        without any are left out.
    """
    points, days = _days(ground, settings)
    many = days.group_by("point", "weekday").agg(days=pl.len().cast(pl.Int64))
    rows = _rows(ground).join(points.select("code", "point"), on="code")
    key = [*POINT, "weekday", "hour"]
    return (
        rows.join(days.select("point", "day"), on=["point", "day"])
        .with_columns(weekday=pl.col("day").dt.weekday(), hour=pl.col("local").dt.hour())
        .group_by("point", *key)
        .agg(n=pl.len())
        .join(many, on=["point", "weekday"])
        .select(*key, "days", rate=pl.col("n") / pl.col("days"))
        .sort(key, nulls_last=True)
    )


def recorded(ground: Ground) -> pl.DataFrame:
    """Give the sites whose log tells movement while unarmed: ``site``."""
    told = (pl.col("power") == Power.ACTIVATIONS) & (pl.col("value") == Told.YES)
    return ground.powers.filter(told).select("site").unique()


def _rows(ground: Ground) -> pl.DataFrame:
    """Return what shows an ordinary point alive, with its local day, and if it is of its habit."""
    alive = pl.col("kind").is_in(list(_ALIVE)) & (pl.col("phase") != Phase.END)
    return (
        ground.occurrences.lazy()
        .filter(
            alive
            & pl.col("zone").is_not_null()
            & pl.col("at").is_not_null()
            & ~pl.col("life_safety")
        )
        .join(recorded(ground).lazy(), on="site", how="semi")
        .select(
            *(*POINT, "area", "placed", "local"),
            code=coded(POINT),
            day=pl.col("local").dt.date(),
            # What somebody tries in service shows a point alive, and no habit.
            moved=~pl.col("aside") & (pl.col("kind") != Kind.WALK_TEST),
        )
        .collect()
    )


def _days(ground: Ground, settings: Settings) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the points, numbered, and each day that counts for one: whether it was seen on it."""
    rows = _rows(ground)
    points = (
        rows.group_by("code")
        .agg(
            pl.col(POINT).first(),
            pl.col("area").drop_nulls().first(),
            last_seen=pl.col("placed").max(),
            last_local=pl.col("local").max(),
            last_day=pl.col("day").max(),
        )
        .sort(POINT, nulls_last=True)
        .with_row_index("point")
    )
    seen = (
        rows.lazy()
        .filter("moved")
        .group_by("code", "day")
        .agg(activations=pl.len().cast(pl.Int64))
        .join(points.lazy().select("code", "point", "site"), on="code")
        .select("point", "site", "day", "activations")
        .collect()
    )
    about = seen.group_by(_DAY).agg(about=pl.len().cast(pl.Int64))
    edge = pl.col("day").is_between(
        pl.col("day").min().over("site"), pl.col("day").max().over("site"), closed="none"
    )
    about = about.filter(edge).with_columns(weekday=pl.col("day").dt.weekday())
    about = about.with_columns(usual=pl.col("about").median().over("site", "weekday"))
    least = pl.max_horizontal(
        pl.lit(settings.silent_others), pl.col("usual") * settings.silent_breadth
    )
    days = (
        points.lazy()
        .select("point", "site", "last_day")
        .join(about.lazy().sort(_DAY), on="site", maintain_order="left_right")
        .join(seen.lazy().drop("site"), on=["point", "day"], how="left", maintain_order="left")
        .with_columns(seen=pl.col("activations").is_not_null())
        .filter(pl.col("about") - pl.col("seen").cast(pl.Int64) >= least)
        .select(
            *("point", "day", "weekday", "seen", "last_day"),
            pl.col("activations").fill_null(0),
        )
        .collect()
    )
    return points, days


def _chance(days: pl.DataFrame, into: str) -> pl.DataFrame:
    """Give the chance that no day on which a point was seen is one of its last."""
    strata = (
        days.group_by("point", "weekday")
        .agg(many=pl.len(), often=pl.col("seen").sum(), last=pl.col("after").sum())
        # Sums of fractions hang on their order: a site is told the same among any others.
        .sort("point", "weekday")
    )
    got = silent_chance(strata["many"], strata["often"], strata["last"], strata["point"])
    return pl.DataFrame({"point": got.group, into: got.chance}).cast({"point": pl.UInt32})


def _in_spells(told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Add the chance that the last silence is one of the spells in which a room is not used."""
    usual = (pl.col("gap_days").sum() / pl.col("gaps").sum()).over("site").fill_nan(1.0)
    more = settings.silent_spells
    got = told.select(
        runs=pl.col("gaps") + more,
        length=pl.col("gap_days") + more * usual,
        last=pl.col("silent_days").clip(1),
        begins=(pl.col("gaps") + 1) / (pl.col("seen_days") + 1),
    )
    chance = got["begins"].to_numpy() * spell_chance(got["runs"], got["length"], got["last"])
    return told.with_columns(spell=pl.Series(chance, dtype=pl.Float64).clip(0, 1))


def _points(ground: Ground) -> pl.DataFrame:
    told = recorded(ground).with_columns(told=pl.lit(value=True))
    return (
        ground.points.select(*POINT, "life_safety")
        .join(told, on="site", how="left")
        .with_columns(pl.col("told").fill_null(value=False))
    )


def _weeks(ground: Ground) -> pl.DataFrame:
    """List the weeks that the log of each site covers, by its own clock."""
    zones = ground.sites.select("site", pl.col("time_zone").fill_null("UTC"))
    spans = ground.coverage.join(zones, on="site")
    for column in ("since", "until"):
        spans = to_wall(spans, column, "time_zone", f"{column}_wall")
    first, last = (pl.col(f"{c}_wall").dt.date().dt.truncate("1w") for c in ("since", "until"))
    return (
        spans.select("site", week=pl.date_ranges(first, last, "1w"))
        .explode("week")
        .unique()
        .sort("site", "week")
    )
