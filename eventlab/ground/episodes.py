"""Alarms that belong together."""

from datetime import timedelta

import numpy as np
import polars as pl

from eventlab.ground.memory import ALARMS
from eventlab.ground.places import Places, spread
from eventlab.ground.words import Restores, State
from eventlab.schema import LIFE_SAFETY, Kind, Phase
from eventlab.settings import Settings

TRACK = ["s", "track", "place"]


def episodes(
    told: pl.DataFrame,
    ends: pl.DataFrame,
    armed: pl.DataFrame,
    restores: pl.Series,
    now: pl.Series,
    known: Places,
    settings: Settings,
) -> pl.DataFrame:
    """Gather the alarms of each area to episodes.

    An alarm continues an episode when it follows an alarm of it within ``episode_gap_s``; when its
    point has not restored since its own last alarm, or repeats at the spacing of the siren time,
    however long the gap. A disarm of the area ends the episode. Life-safety alarms and
    environment alarms make episodes of their own.

    Parameters
    ----------
    told : polars.DataFrame
        Occurrences with ``n``, ``s``, ``k``, ``point``, ``state``, ``aside``, ``life_safety``,
        ``night``.
    ends : polars.DataFrame
        Ends of alarms and activations: ``n``, ``s``, ``placed``, ``kind``, ``point``.
    armed : polars.DataFrame
        As ``state.armed`` gives it.
    restores : polars.Series
        By site number: the power ``restores``.
    now : polars.Series
        By site number: the end of what is known.
    known : Places
        The places.
    settings : Settings
        ``episode_gap_s``, ``siren_min_s``, ``siren_max_s``, ``untold_end_h``,
        ``confirmation_window_s``.

    Returns
    -------
    polars.DataFrame
        The columns of ``Ground.episodes``, with ``s``.
    """
    alarms = _alarms(told)
    if alarms.is_empty():
        return _shaped(alarms)
    disarms = told.filter(pl.col("kind") == Kind.DISARM)
    line = alarms.with_columns(
        disarms=_count_before(alarms, disarms, known),
        live=restores.gather(alarms["s"]) == Restores.LIVE.value,
        step=pl.max_horizontal(pl.lit(0), pl.col("grain")),
    ).sort(*TRACK, "n")
    line = line.with_columns(_restored(line, ends))
    line = line.with_columns(episode=_joined(line, settings))
    return _shaped(_described(line, told, armed, now, known, settings))


def _alarms(told: pl.DataFrame) -> pl.DataFrame:
    kind = pl.col("kind")
    life = kind.is_in(list(LIFE_SAFETY)) | pl.col("life_safety")
    return told.filter(kind.is_in(list(ALARMS)) & (pl.col("phase") != Phase.END)).select(
        *("n", "s", "site", "placed", "kind", "area", "zone", "point", "k", "state", "grain"),
        *("aside", "night", "occurrence", "timing"),
        life=life,
        track=pl.when(life)
        .then(pl.lit(2))
        .when(kind == Kind.ENVIRONMENT_ALARM)
        .then(pl.lit(1))
        .otherwise(pl.lit(0)),
        place=pl.coalesce("area", pl.lit("")),
        who=_who(),
    )


def _count_before(alarms: pl.DataFrame, disarms: pl.DataFrame, known: Places) -> pl.Series:
    """Count the disarms of its area, or of its site where that is not known, before each alarm."""
    here = (
        spread(disarms.select("n", "s", "area"), known)
        .sort("n")
        .select("n", "k", count=pl.int_range(1, pl.len() + 1).over("k"))
    )
    anywhere = disarms.select("n", "s", count=pl.int_range(1, pl.len() + 1).over("s"))
    by_k = alarms.join_asof(here, on="n", by="k", check_sortedness=False)["count"]
    by_s = alarms.join_asof(anywhere, on="n", by="s", check_sortedness=False)["count"]
    return pl.select(
        pl.when(alarms["k"].is_not_null()).then(by_k).otherwise(by_s).fill_null(0)
    ).to_series()


def _who() -> pl.Expr:
    """Name the point, or what happened where no point is told."""
    return pl.coalesce(pl.col("point").cast(pl.String), pl.col("kind").cast(pl.String))


def _restored(line: pl.DataFrame, ends: pl.DataFrame) -> pl.DataFrame:
    """Find the first restore of the point after each alarm, whatever kind it is told as."""
    after = ends.select("n", "s", _who().alias("who"), restored="n", restored_at="placed")
    hit = (
        line.select("n", "s", "who")
        .with_row_index("at")
        .sort("n")
        .join_asof(after, on="n", by=["s", "who"], strategy="forward", check_sortedness=False)
    )
    return hit.sort("at").select("restored", "restored_at")


def _joined(line: pl.DataFrame, settings: Settings) -> pl.Series:
    """Give each alarm the number of its episode: a cut stands where no link reaches across."""
    gap = timedelta(seconds=settings.episode_gap_s)
    step = pl.duration(seconds=pl.col("step"))
    row = line.with_row_index("at").with_columns(pl.col("at").cast(pl.Int64))
    near = (
        pl.all_horizontal(pl.col(c) == pl.col(c).shift(1) for c in (*TRACK, "disarms"))
        & (pl.col("placed") - pl.col("placed").shift(1) <= gap)
    ).fill_null(value=False)
    own = [*TRACK, "who"]
    last = {c: pl.col(c).shift(1).over(own) for c in ("at", "placed", "disarms", "restored", "n")}
    since = pl.col("placed") - last["placed"]
    siren = (since >= timedelta(seconds=settings.siren_min_s) - step) & (
        since <= timedelta(seconds=settings.siren_max_s) + step
    )
    held = (
        pl.col("live")
        & (last["restored"].is_null() | (last["restored"] > pl.col("n")))
        & (since <= timedelta(hours=settings.untold_end_h))
    )
    linked = ((siren | held) & (last["disarms"] == pl.col("disarms"))).fill_null(value=False)
    marks = row.select("at", near=near, back=pl.when(linked).then(last["at"]))
    reach = np.zeros(line.height + 1, dtype=np.int64)
    links = marks.filter(pl.col("back").is_not_null())
    np.add.at(reach, links["back"].to_numpy() + 1, 1)
    np.add.at(reach, links["at"].to_numpy() + 1, -1)
    across = np.cumsum(reach)[:-1] > 0
    cut = ~(marks["near"].to_numpy() | across)
    return pl.Series("episode", np.cumsum(cut))


def _described(
    line: pl.DataFrame,
    told: pl.DataFrame,
    armed: pl.DataFrame,
    now: pl.Series,
    known: Places,
    settings: Settings,
) -> pl.DataFrame:
    """Say of each episode what it was and how it ended."""
    whole = (
        line.group_by("episode", maintain_order=True)
        .agg(
            pl.col("s", "site", "area", "k", "state", "night", "track").first(),
            n=pl.col("n").first(),
            last_n=pl.col("n").last(),
            since=pl.col("placed").first(),
            last=pl.col("placed").last(),
            alarms=pl.len().cast(pl.Int64),
            points=pl.col("zone").drop_nulls().unique(maintain_order=True),
            first_zone=pl.col("zone").first(),
            kinds=pl.col("kind").cast(pl.String).unique(maintain_order=True),
            aside=pl.col("aside").all(),
            life_safety=pl.col("life").any(),
            doubtful=(pl.col("timing") == "doubtful").any(),
            live=pl.col("live").first(),
            open=(pl.col("live") & pl.col("restored").is_null()).any(),
            restored_at=pl.col("restored_at").max(),
            first_occurrence=pl.col("occurrence").first(),
        )
        .sort("n")
    )
    moments = told.select("n", "s", "placed", "kind", "area", "person")
    disarm = _first_after(whole, moments.filter(pl.col("kind") == Kind.DISARM), known, "disarm")
    cancel = _first_after(whole, moments.filter(pl.col("kind") == Kind.CANCEL), known, "cancel")
    sure = _first_after(
        whole, moments.filter(pl.col("kind") == Kind.CONFIRMED_ALARM), known, "sure"
    )
    whole = pl.concat([whole, disarm, cancel, sure], how="horizontal").with_columns(
        now=now.gather(whole["s"])
    )
    whole = _armed_by(whole, armed)
    window = timedelta(seconds=settings.confirmation_window_s)
    answered = (pl.col("state") != State.UNARMED) | (
        pl.col("disarm_at") - pl.col("since") <= window
    )
    disarmed = pl.when(answered).then("disarm_at")
    end = pl.min_horizontal(disarmed, pl.col("last") + window)
    stop = pl.min_horizontal(pl.coalesce(disarmed, "now"), "now")
    return whole.with_columns(
        disarmed_at=disarmed,
        disarmed_by=pl.when(answered).then("disarm_by"),
        disarm_after_s=(
            pl.min_horizontal(
                disarmed, pl.when(pl.col("cancel_at") - pl.col("since") <= window).then("cancel_at")
            )
            - pl.col("since")
        ).dt.total_seconds(),
        cancelled=(
            pl.col("cancel_at") <= pl.max_horizontal(end, pl.col("last") + window)
        ).fill_null(value=False),
        confirmed=(pl.col("sure_at") <= end).fill_null(value=False),
        until=pl.max_horizontal(
            "last", pl.min_horizontal(pl.when("live").then("restored_at"), stop)
        ),
        standing=disarmed.is_null()
        & (
            pl.col("open")
            | (
                ~pl.col("live")
                & (pl.col("now") - pl.col("last") <= timedelta(seconds=settings.episode_gap_s))
            )
        ),
    )


def _first_after(
    whole: pl.DataFrame, moments: pl.DataFrame, known: Places, name: str
) -> pl.DataFrame:
    """Find the first such row after the first alarm, of its area or of its site."""
    wide = spread(moments, known).sort("n")
    hits = [
        whole.select("n", by).join_asof(
            right.select("n", by, at="placed", who="person"),
            on="n",
            by=by,
            strategy="forward",
            check_sortedness=False,
        )
        for by, right in (("k", wide), ("s", moments.sort("n")))
    ]
    own = whole["k"].is_not_null()
    return pl.select(
        pl.when(own).then(hits[0]["at"]).otherwise(hits[1]["at"]).alias(f"{name}_at"),
        pl.when(own).then(hits[0]["who"]).otherwise(hits[1]["who"]).alias(f"{name}_by"),
    )


def _armed_by(whole: pl.DataFrame, armed: pl.DataFrame) -> pl.DataFrame:
    """Find the arming in force at the first alarm."""
    runs = armed.filter("known").select(
        "k", armed_at="since", armed_until="until", armed_by="person"
    )
    hit = whole.sort("since").join_asof(
        runs.sort("armed_at"),
        left_on="since",
        right_on="armed_at",
        by="k",
        coalesce=False,
        check_sortedness=False,
    )
    on = pl.col("state").is_in([State.ARMED.value, State.EXIT.value])
    return hit.with_columns(pl.when(on).then(pl.col("armed_at", "armed_by"))).sort("n")


def _shaped(whole: pl.DataFrame) -> pl.DataFrame:
    utc = pl.Datetime("us", "UTC")
    schema = {
        "s": pl.Int32(),
        "site": pl.String(),
        "area": pl.String(),
        "since": utc,
        "until": utc,
        "alarms": pl.Int64(),
        "points": pl.List(pl.String()),
        "first_zone": pl.String(),
        "kinds": pl.List(pl.String()),
        "armed_at": utc,
        "armed_by": pl.String(),
        "disarmed_at": utc,
        "disarmed_by": pl.String(),
        "disarm_after_s": pl.Float64(),
        "cancelled": pl.Boolean(),
        "confirmed": pl.Boolean(),
        "aside": pl.Boolean(),
        "life_safety": pl.Boolean(),
        "doubtful": pl.Boolean(),
        "state": pl.String(),
        "night": pl.Date(),
        "standing": pl.Boolean(),
        "first_occurrence": pl.Int64(),
        "last": utc,
    }
    if whole.is_empty():
        return pl.DataFrame(schema={**schema, "episode": pl.Int64()})
    return whole.sort("s", "since", "n").select(
        *(pl.col(name).cast(dtype) for name, dtype in schema.items()),
        episode=pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("s"),
    )
