"""Figures by code: alarms per act drawn to what is usual, cancels, hours, codes not used."""

import numpy as np
import polars as pl

from eventlab.analysis.found import asof, ends, grains, seconds
from eventlab.analysis.who import PERSON, SHARED, codes
from eventlab.ground import Ground
from eventlab.schema import TRIPS, Kind, Phase
from eventlab.settings import Settings
from eventlab.stats import gamma_interval, shrunk_rates


def by_person(
    ground: Ground, came: pl.DataFrame, went: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Count, for every code, its acts and the alarms at its entries and exits.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    came, went : polars.DataFrame
        As `entries.entries` and `entries.closings` give them.
    settings : Settings
        As `who.codes` needs them; ``unused_days``, ``odd_uses``, ``odd_share``.

    Returns
    -------
    polars.DataFrame
        The columns of `who.codes` with ``entries``, ``late_entries``, ``exits``, ``late_exits``,
        ``alarms`` (both), ``acts``, ``rate`` (alarms in 100 acts), ``expected``,
        ``expected_low``, ``expected_high`` (the same, drawn to what is usual at the site),
        ``unused_d`` (days since its last use, where many), ``odd`` (all its uses stand at hours
        at which others hardly come). Rates are null of what is no person, and of sites where a
        code is shared.

    Notes
    -----
    Alarms per act differ between people by a gamma distribution; what a code's own alarms are
    worth follows (empirical Bayes, Gamma-Poisson; `stats.shrunk_rates`). So one bad evening is
    no verdict.
    """
    who = codes(ground, settings)
    late = pl.col("late").sum().cast(pl.Int64)
    came, went = (
        frame.group_by("site", "person").agg(
            pl.len().cast(pl.Int64).alias(name), late.alias(f"late_{name}")
        )
        for frame, name in ((came, "entries"), (went, "exits"))
    )
    counts = ("entries", "late_entries", "exits", "late_exits")
    own = (
        who.join(came, on=["site", "person"], how="left", maintain_order="left")
        .join(went, on=["site", "person"], how="left", maintain_order="left")
        .with_columns(pl.col(counts).fill_null(0))
        .with_columns(
            acts=pl.col("entries") + pl.col("exits"),
            alarms=pl.col("late_entries") + pl.col("late_exits"),
            shared=(pl.col("what") == SHARED).any().over("site"),
        )
        .join(ends(ground), on="site", how="left", maintain_order="left")
        .join(_odd(ground, settings), on=["site", "person"], how="left", maintain_order="left")
    )
    judged = (pl.col("what") == PERSON) & ~pl.col("shared") & (pl.col("acts") > 0)
    few = own.filter(judged)
    got = shrunk_rates(few["alarms"], few["acts"], few["site"].to_numpy())
    low, high = gamma_interval(few["alarms"], few["acts"], got)
    told = few.select(
        "site",
        "person",
        rate=100 * pl.col("alarms") / pl.col("acts"),
        expected=100 * pl.Series(np.asarray(got.rate), dtype=pl.Float64),
        expected_low=100 * pl.Series(np.asarray(low), dtype=pl.Float64),
        expected_high=100 * pl.Series(np.asarray(high), dtype=pl.Float64),
    )
    quiet = seconds(pl.col("end") - pl.col("last")) / 86400
    return (
        own.join(told, on=["site", "person"], how="left", maintain_order="left")
        .with_columns(
            unused_d=pl.when(
                quiet >= settings.unused_days, pl.col("what").is_in([PERSON, SHARED])
            ).then(quiet.floor().cast(pl.Int64)),
            odd=pl.col("odd").fill_null(value=False) & (pl.col("what") == PERSON),
        )
        .drop("end", "shared")
    )


def _odd(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find codes all of whose uses stand at hours at which all others hardly ever come."""
    acts = (
        ground.occurrences.lazy()
        .filter(
            pl.col("kind").is_in([Kind.ARM, Kind.DISARM])
            & (pl.col("act") == pl.col("occurrence"))
            & pl.col("person").is_not_null()
        )
        .select("site", "person", hour=pl.col("local").dt.hour().cast(pl.Int32))
        .collect()
    )
    own = acts.group_by("site", "person", "hour").agg(n=pl.len())
    near = pl.concat(
        own.with_columns(hour=(pl.col("hour") + step) % 24) for step in (-1, 0, 1)
    ).group_by("site", "hour")
    around = near.agg(all_near=pl.col("n").sum())
    mine = pl.concat(
        own.with_columns(hour=(pl.col("hour") + step) % 24) for step in (-1, 0, 1)
    ).group_by("site", "person", "hour")
    total = own.group_by("site").agg(total=pl.col("n").sum())
    uses = pl.col("n").sum().over("site", "person")
    return (
        own.join(around, on=["site", "hour"], how="left")
        .join(mine.agg(mine=pl.col("n").sum()), on=["site", "person", "hour"], how="left")
        .join(total, on="site", how="left")
        .with_columns(uses=uses)
        .with_columns(
            share=(pl.col("all_near") - pl.col("mine")) / (pl.col("total") - pl.col("uses"))
        )
        .group_by("site", "person")
        .agg(
            odd=(
                (pl.col("uses").first() >= settings.odd_uses)
                & (pl.col("total").first() >= 10 * pl.col("uses").first())
                & (pl.col("share") < settings.odd_share).all()
            )
        )
    )


def mistakes(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Count wrong codes and cancels of each site, and how long they took to put right.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``wrong_code_s`` [s].

    Returns
    -------
    polars.DataFrame
        ``site``, ``wrong``, ``righted`` (a right code within ``wrong_code_s``), ``right_s`` (half
        of them within), ``wrong_told`` (the log tells wrong codes at all), ``cancels``,
        ``cancel_s`` (half within, from the alarm), ``cancelled_by`` (codes that cancelled),
        ``grain`` [s]; one row per site.
    """
    told = ground.occurrences.lazy()
    kind = pl.col("kind")
    wrong = told.filter(kind == Kind.WRONG_CODE, ~pl.col("aside")).select("site", at="placed")
    right = told.filter(kind.is_in([Kind.DISARM, Kind.ARM, Kind.CANCEL, Kind.ACCESS]))
    right = right.select("site", right="placed")
    near = asof(wrong.collect(), right.collect(), "at", "right", strategy="forward")
    took = seconds(pl.col("right") - pl.col("at"))
    soon = took <= settings.wrong_code_s
    codes_ = near.group_by("site").agg(
        wrong=pl.len().cast(pl.Int64),
        righted=soon.fill_null(value=False).sum().cast(pl.Int64),
        right_s=took.filter(soon.fill_null(value=False)).median(),
    )
    alarms = told.filter(kind.is_in(list(TRIPS)), pl.col("phase") == Phase.BEGIN)
    off = told.filter(kind == Kind.CANCEL, ~pl.col("aside")).select("site", "person", at="placed")
    alarms = alarms.select("site", alarm="placed")
    from_alarm = asof(off.collect(), alarms.collect(), "at", "alarm")
    cancels = from_alarm.group_by("site").agg(
        cancels=pl.len().cast(pl.Int64),
        cancel_s=seconds(pl.col("at") - pl.col("alarm")).median(),
        cancelled_by=pl.col("person").n_unique().cast(pl.Int64),
    )
    return (
        ground.sites.select("site")
        .join(codes_, on="site", how="left", maintain_order="left")
        .join(cancels, on="site", how="left", maintain_order="left")
        .join(grains(ground), on="site", how="left", maintain_order="left")
        .with_columns(pl.col("wrong", "righted", "cancels", "cancelled_by").fill_null(0))
    )
