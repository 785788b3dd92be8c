"""The rhythm of each point: on which days it is seen, and whether a silence is chance.

Nothing here is about life-safety points, and nothing is said where a log tells no movement while
unarmed. The day is the unit of evidence: a point was seen on it or not, however often.
"""

import polars as pl

from eventlab.analysis.core import POINT
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
    days = _days(ground, settings)
    order = pl.col("day").cum_count().over(POINT)
    ordered = days.sort(*POINT, "day", nulls_last=True).with_columns(order=order)
    after = pl.col("day") > pl.col("last_day")
    ordered = ordered.with_columns(
        after=after,
        back=(~after).sum().over(POINT).cast(pl.Int64) - pl.col("order").cast(pl.Int64),
    )
    recent = ordered.filter(pl.col("back") < settings.silent_window_days)
    chances = _chance(ordered, "whole").join(
        _chance(recent, "late"), on=list(POINT), nulls_equal=True
    )
    usual = recent.group_by(*POINT, "weekday").agg(
        n=pl.col("activations").filter(~pl.col("after")).mean(),
        share=pl.col("seen").filter(~pl.col("after")).mean(),
    )
    due = (
        ordered.filter("after")
        .join(usual, on=[*POINT, "weekday"], how="left", nulls_equal=True)
        .group_by(POINT)
        .agg(
            expected=pl.col("n").fill_null(0).sum(),
            expected_days=pl.col("share").fill_null(0).sum(),
        )
    )
    steps = pl.col("order").filter("seen").diff() - 1
    told = ordered.group_by(POINT, maintain_order=True).agg(
        pl.col("area", "last_seen", "last_local").first(),
        days=pl.len().cast(pl.Int64),
        seen_days=pl.col("seen").sum().cast(pl.Int64),
        silent_days=pl.col("after").sum().cast(pl.Int64),
        longest_gap=steps.max().fill_null(0).cast(pl.Int64),
        gaps=(steps > 0).sum().cast(pl.Int64),
        gap_days=steps.sum().fill_null(0).cast(pl.Int64),
    )
    return (
        told.join(chances, on=list(POINT), nulls_equal=True, maintain_order="left")
        .join(due, on=list(POINT), how="left", nulls_equal=True, maintain_order="left")
        .with_columns(
            pl.col("expected", "expected_days").fill_null(0.0).round(6),
            chance=pl.max_horizontal("whole", "late"),
            looks=pl.len().over("site").cast(pl.Int64),
        )
        .drop("whole", "late")
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
    days = _days(ground, settings).with_columns(week=pl.col("day").dt.truncate("1w"))
    usual = days.group_by(*POINT, "weekday").agg(
        many=pl.len(), often=pl.col("seen").sum(), share=pl.col("seen").mean()
    )
    by_day = days.join(usual, on=[*POINT, "weekday"], nulls_equal=True)
    key = [*POINT, "week"]
    weeks = by_day.group_by(key).agg(
        days=pl.len().cast(pl.Int64),
        seen=pl.col("seen").sum().cast(pl.Int64),
        expected=pl.col("share").sum().round(6),
        activations=pl.col("activations").sum().cast(pl.Int64),
    )
    strata = by_day.group_by(*key, "weekday").agg(pl.col("many", "often").first(), last=pl.len())
    named = strata.sort(*key, "weekday", nulls_last=True).with_columns(
        series=pl.struct(key).rank("dense").cast(pl.Int64)
    )
    got = silent_chance(named["many"], named["often"], named["last"], named["series"])
    chance = (
        named.select(*key, "series")
        .unique()
        .join(pl.DataFrame({"series": got.group, "chance": got.chance}), on="series")
        .drop("series")
    )
    every = _points(ground).join(_weeks(ground), on="site")
    full = every.join(
        weeks.join(chance, on=key, nulls_equal=True), on=key, how="left", nulls_equal=True
    )
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
    days = _days(ground, settings)
    many = days.group_by(*POINT, "weekday").agg(days=pl.len().cast(pl.Int64))
    rows = _rows(ground).join(days.select(*POINT, "day"), on=[*POINT, "day"], nulls_equal=True)
    key = [*POINT, "weekday", "hour"]
    return (
        rows.with_columns(weekday=pl.col("day").dt.weekday(), hour=pl.col("local").dt.hour())
        .group_by(key)
        .agg(n=pl.len())
        .join(many, on=[*POINT, "weekday"], nulls_equal=True)
        .select(*key, "days", rate=pl.col("n") / pl.col("days"))
        .sort(key, nulls_last=True)
    )


def recorded(ground: Ground) -> pl.DataFrame:
    """Give the sites whose log tells movement while unarmed: ``site``."""
    told = (pl.col("power") == Power.ACTIVATIONS) & (pl.col("value") == Told.YES)
    return ground.powers.filter(told).select("site").unique()


def _rows(ground: Ground) -> pl.DataFrame:
    """Return what shows an ordinary point alive, with its local day."""
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
        .select(*POINT, "area", "kind", "aside", "placed", "local", day=pl.col("local").dt.date())
        .collect()
    )


def _days(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return a row for each point and day that counts for it, with whether it was seen."""
    rows = _rows(ground)
    last = rows.group_by(POINT).agg(
        pl.col("area").drop_nulls().first(),
        last_seen=pl.col("placed").max(),
        last_local=pl.col("local").max(),
        last_day=pl.col("day").max(),
    )
    # What somebody tries in service shows a point alive, and no habit.
    moves = rows.filter(~pl.col("aside") & (pl.col("kind") != Kind.WALK_TEST))
    seen = moves.group_by(*POINT, "day").agg(activations=pl.len().cast(pl.Int64))
    about = seen.group_by(_DAY).agg(about=pl.len().cast(pl.Int64))
    edge = pl.col("day").is_between(
        pl.col("day").min().over("site"), pl.col("day").max().over("site"), closed="none"
    )
    about = about.filter(edge).with_columns(weekday=pl.col("day").dt.weekday())
    about = about.with_columns(usual=pl.col("about").median().over("site", "weekday"))
    least = pl.max_horizontal(
        pl.lit(settings.silent_others), pl.col("usual") * settings.silent_breadth
    )
    return (
        last.join(about, on="site")
        .join(seen, on=[*POINT, "day"], how="left", nulls_equal=True)
        .with_columns(seen=pl.col("activations").is_not_null())
        .filter(pl.col("about") - pl.col("seen").cast(pl.Int64) >= least)
        .with_columns(pl.col("activations").fill_null(0))
        .drop("about", "usual")
    )


def _chance(days: pl.DataFrame, into: str) -> pl.DataFrame:
    """Give the chance that no day on which a point was seen is one of its last."""
    strata = (
        days.group_by(*POINT, "weekday")
        .agg(many=pl.len(), often=pl.col("seen").sum(), last=pl.col("after").sum())
        # Sums of fractions hang on their order: a site is told the same among any others.
        .sort(*POINT, "weekday", nulls_last=True)
        .with_columns(series=pl.struct(POINT).rank("dense").cast(pl.Int64))
    )
    got = silent_chance(strata["many"], strata["often"], strata["last"], strata["series"])
    told = pl.DataFrame({"series": got.group, into: got.chance})
    return strata.select(*POINT, "series").unique().join(told, on="series").drop("series")


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
