"""Which of a panel's alarms should have reached the monitoring centre, and which did."""

import polars as pl

from eventlab.analysis.found import asof, days, seconds
from eventlab.ground import Ground, State
from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Mode, Phase, Timing, Witness
from eventlab.settings import Settings

_ALARMS = (*TRIPS, *LIFE_SAFETY)
_SIGNALS = (*_ALARMS, Kind.CONFIRMED_ALARM, Kind.CANCEL, Kind.EXIT_ERROR)
_PANEL, _RECEIVER = str(Witness.PANEL), str(Witness.RECEIVER)
_CLASS = ("site", "family", "zone", "part", "confirmed", "first")


def eligible(ground: Ground, settings: Settings) -> pl.DataFrame:
    """List the panel's alarms of sites with both logs, and say which should reach the centre.

    Left out is what a sound path need not carry: what was disarmed or cancelled soon after, or
    stands just after a disarm; what was raised while not armed or while people were leaving; a
    point bypassed, shut out or past its trips, and every repeat of a point within one armed
    period; on test, in service, after a restart; times that are not sure; times for which the
    centre's history is not there on both sides. What the centre heard of late, or under another
    name, did reach it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``abort_s``, ``late_alarm_s``, ``path_near_s``, ``confirmation_window_s``,
        ``episode_gap_s`` [s], ``late_receipt_h`` [h].

    Returns
    -------
    polars.DataFrame
        Sorted by site and time: ``site``, ``placed``, ``local``, ``night``, ``kind``, ``zone``,
        the columns that make alarms alike (``family``, ``part``, ``confirmed``, ``first``),
        ``only_panel``, ``carried`` and ``counts``.
    """
    alarm = pl.col("kind").is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
    rows = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(_ALARMS)) & (pl.col("phase") != Phase.END))
        .join(_both(ground).lazy(), on="site", how="semi")
        .filter(pl.col("witnesses").list.contains(_PANEL))
        .select(
            *(
                "site",
                "placed",
                "local",
                "night",
                "timing",
                "kind",
                "zone",
                "within",
                "state",
                "aside",
            ),
            carried=pl.col("witnesses").list.contains(_RECEIVER),
            part=(pl.col("armed_mode") == Mode.PART).fill_null(value=False),
            ordinary=alarm & ~pl.col("life_safety"),
            family=pl.when(alarm)
            .then(pl.lit(Kind.INTRUSION_ALARM.value))
            .otherwise(pl.col("kind").cast(pl.String)),
        )
        .sort("site", "placed", "zone", nulls_last=True)
        .collect()
    )
    if rows.is_empty():
        return rows.with_columns(
            only_panel=pl.lit(value=False),
            counts=pl.lit(value=False),
            confirmed=pl.lit(value=False),
            first=pl.lit(value=False),
        )
    rows = _like(rows, ground, settings).with_columns(only_panel=~pl.col("carried"))
    rows = rows.with_columns(
        counts=(pl.col("timing") != Timing.DOUBTFUL)
        & ~pl.col("aside")
        & (~pl.col("ordinary") | (pl.col("state") == State.ARMED))
        & ~_answered(rows, ground, settings)
        & ~_out(rows, ground)
        & ~_again(rows, ground)
        & _covered(rows, ground)
    )
    heard = _heard(rows, ground, settings)
    # What the centre heard of under another name, or hours later, is neither proof nor loss.
    return rows.with_columns(counts=pl.col("counts") & (pl.col("carried") | ~heard))


def runs(alarms: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find, per site, the longest run of alarms that did not reach the centre.

    Alarms of one episode count once. Each must be of a kind and point, in a mode and place of its
    episode, of which others did reach the centre. Of as many alarms as this site has, at the rate
    at which single ones are lost here, chance must bring less than ``path_chance`` such runs.

    Parameters
    ----------
    alarms : polars.DataFrame
        As ``eligible`` gives them, only those that count.
    settings : Settings
        ``path_missed_min`` alarms, ``path_proof_min`` alarms, ``path_chance``, ``episode_gap_s``.

    Returns
    -------
    polars.DataFrame
        The alarms of sites with such a run, with ``in_run``, ``carried_else`` and ``others``
        (alarms alike outside the run, and how many of them reached the centre), ``last_run`` (no
        alarm reached the centre after it) and ``heard_next`` (when one next did).
    """
    new = seconds(pl.col("placed") - pl.col("placed").shift(1).over("site"))
    apart = (new > settings.episode_gap_s).fill_null(value=True)
    known = pl.col("carried").any().over(_CLASS)
    rows = (
        alarms.sort("site", "placed")
        .with_columns(proven=known)
        .filter("proven")
        .with_columns(episode=apart.cum_sum())
        # Of one episode the first that was lost speaks, else the first.
        .sort("site", "episode", "carried", "placed", maintain_order=True)
        .with_columns(all_lost=~pl.col("carried").any().over("site", "episode"))
        .unique(["site", "episode"], keep="first", maintain_order=True)
        .with_columns(lost="all_lost")
        .sort("site", "placed")
        .with_columns(
            run=(pl.col("lost") != pl.col("lost").shift(1)).fill_null(value=True).cum_sum()
            + pl.col("site").rank("dense").cast(pl.Int64) * (1 << 32)
        )
    )
    per_run = (
        rows.filter("lost")
        .group_by("site", "run")
        .agg(
            length=pl.len().cast(pl.Int64),
            nights=pl.col("night").n_unique(),
            last=pl.col("placed").max(),
        )
        .sort("site", "length", "run", descending=[False, True, False])
        .unique("site", keep="first", maintain_order=True)
    )
    sizes = rows.group_by("site").agg(all=pl.len().cast(pl.Int64), lost_all=pl.col("lost").sum())
    judged = per_run.join(sizes, on="site").with_columns(
        others=pl.col("all") - pl.col("length"),
        lost_else=pl.col("lost_all").cast(pl.Int64) - pl.col("length"),
    )
    judged = judged.with_columns(carried_else=pl.col("others") - pl.col("lost_else"))
    rate = (pl.col("lost_else") + 1) / (pl.col("others") + 2)
    chance = pl.col("all") * (rate.log() * pl.col("length")).exp()
    bad = judged.filter(
        (pl.col("length") >= settings.path_missed_min)
        & (pl.col("nights") > 1)
        & (pl.col("carried_else") >= settings.path_proof_min)
        & (chance <= settings.path_chance)
    )
    after = (
        rows.filter("carried")
        .join(bad.select("site", "last"), on="site")
        .filter(pl.col("placed") > pl.col("last"))
        .group_by("site")
        .agg(heard_next=pl.col("placed").min())
    )
    return (
        rows.join(bad.select("site", "carried_else", "others", worst="run"), on="site")
        .join(after, on="site", how="left", maintain_order="left")
        .with_columns(
            in_run=pl.col("run") == pl.col("worst"), last_run=pl.col("heard_next").is_null()
        )
        .sort("site", "placed")
    )


def _both(ground: Ground) -> pl.DataFrame:
    pairs = ground.powers.select("site", "witness").unique()
    return pairs.group_by("site").agg(pl.len()).filter(pl.col("len") > 1).select("site")


def _like(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of each alarm whether it was confirmed, and whether it was the first of its episode."""
    confirmed = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.CONFIRMED_ALARM)
        .select("site", confirmed_at="placed")
        .collect()
    )
    near = asof(rows, confirmed, "placed", "confirmed_at", strategy="nearest")
    gap = seconds(pl.col("placed") - pl.col("placed").shift(1).over("site"))
    return near.with_columns(
        confirmed=(
            seconds(pl.col("confirmed_at") - pl.col("placed")).abs()
            <= settings.confirmation_window_s
        ).fill_null(value=False),
        first=(gap > settings.confirmation_window_s).fill_null(value=True),
    ).drop("confirmed_at")


def _answered(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.Series:
    """Tell which alarms somebody disarmed or cancelled soon, or that stand just after a disarm."""
    acts = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in([Kind.DISARM, Kind.CANCEL]))
        .select("site", act="placed")
        .collect()
    )
    after = asof(rows, acts, "placed", "act", strategy="forward")
    before = asof(rows, acts, "placed", "act")
    soon = after.select(
        (seconds(pl.col("act") - pl.col("placed")) <= settings.abort_s).fill_null(value=False)
    ).to_series()
    late = before.select(
        (seconds(pl.col("placed") - pl.col("act")) <= settings.late_alarm_s).fill_null(value=False)
    ).to_series()
    return soon | late


def _out(rows: pl.DataFrame, ground: Ground) -> pl.Series:
    """Tell which alarms are of points that were bypassed, shut out or past their trips."""
    out = ground.removed.select("site", "zone", gone="since", back="until").sort("gone")
    hit = asof(rows, out, "placed", "gone", by=["site", "zone"], strict=True)
    return hit.select((pl.col("placed") < pl.col("back")).fill_null(value=False)).to_series()


def _again(rows: pl.DataFrame, ground: Ground) -> pl.Series:
    """Tell which alarms repeat one of their point since the last disarm of the site."""
    disarms = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.DISARM)
        .select("site", opened="placed")
        .collect()
    )
    last = asof(rows, disarms, "placed", "opened")
    before = pl.col("placed").shift(1).over("site", "zone")
    return last.select(
        before.is_not_null() & ((before > pl.col("opened")).fill_null(value=True))
    ).to_series()


def _covered(rows: pl.DataFrame, ground: Ground) -> pl.Series:
    """Tell which alarms stand between two rows of one export of the centre's history."""
    heard = (
        ground.events.lazy()
        .filter((pl.col("witness") == Witness.RECEIVER) & pl.col("at").is_not_null())
        .select("site", "source", heard="placed")
        .collect()
    )
    before = asof(rows, heard, "placed", "heard")["source"]
    after = asof(rows, heard, "placed", "heard", strategy="forward")["source"]
    return (before == after).fill_null(value=False)


def _heard(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.Series:
    """Tell of which alarms the centre heard something: near by, or later of the same kind."""
    numbered = rows.with_row_index("line")
    receiver = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(_SIGNALS)) & (pl.col("phase") != Phase.END))
        .select("site", "kind", "zone", "placed", "witnesses")
        .join(rows.lazy().select("site").unique(), on="site", how="semi", maintain_order="left")
        .filter(pl.col("witnesses").list.contains(_RECEIVER))
        .collect()
    )
    near = asof(
        numbered, receiver.select("site", other="placed"), "placed", "other", strategy="nearest"
    ).filter(seconds(pl.col("other") - pl.col("placed")).abs() <= settings.path_near_s)
    alarm = pl.col("kind").is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
    alone = receiver.filter(~pl.col("witnesses").list.contains(_PANEL)).select(
        "site",
        family=pl.when(alarm)
        .then(pl.lit(Kind.INTRUSION_ALARM.value))
        .otherwise(pl.col("kind").cast(pl.String)),
        other_zone="zone",
        other="placed",
    )
    late = (
        numbered.select("line", "site", "family", "zone", "placed")
        .join(alone, on=["site", "family"])
        .filter(
            (pl.col("other") >= pl.col("placed"))
            & (pl.col("other") - pl.col("placed") <= days(settings.late_receipt_h / 24))
            & (pl.col("zone") == pl.col("other_zone")).fill_null(value=True)
        )
    )
    lines = pl.concat([near.select("line"), late.select("line")]).unique()
    return numbered.select(pl.col("line").is_in(lines["line"].implode())).to_series()
