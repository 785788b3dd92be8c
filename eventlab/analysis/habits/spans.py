"""When each place stood armed, unarmed or unknown, in wall time: what habits are learned from."""

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlab.analysis.found import asof, hours
from eventlab.analysis.habits.compare import summed
from eventlab.analysis.kept import kept
from eventlab.ground import Arming, Ground, Power, intervals
from eventlab.meaning.clock import to_wall
from eventlab.schema import Kind, Witness
from eventlab.settings import Settings

PLACE = ["site", "area"]


@dataclass(frozen=True)
class Spans:
    """The places of all sites whose openings and closings are all told.

    Parameters
    ----------
    places : polars.DataFrame
        ``k`` (number), ``site``, ``area`` (null: the one place of its site), ``time_zone``,
        ``areas`` (places of the site), ``end`` (up to when arming is recorded), ``lost`` (openings
        and closings that seem to have got lost on the way to a centre that alone tells them: an
        opening follows an opening, or a closing a closing).
    open : polars.DataFrame
        Unarmed stretches: ``open`` (number), ``k``, ``since``, ``until`` (UTC), ``since_w``,
        ``until_w`` (wall), ``opened``, ``closed`` (by an act, not by the end of what is
        recorded), ``opener``, ``open_mode``, ``open_act``, ``closer``, ``close_mode``,
        ``close_act``, ``aside`` (either act belongs to tests or service), ``broken`` (an opening
        follows an opening inside, told by a centre alone: the closing between may be lost).
    state : polars.DataFrame
        ``k``, ``since_w``, ``until_w``, ``armed``: all known time, armed or not, with the sums of
        ``compare.summed``.
    seen : polars.DataFrame
        ``k``, ``open``, ``since_w``, ``until_w``: unarmed time that is not set aside.
    """

    places: pl.DataFrame
    open: pl.DataFrame
    state: pl.DataFrame
    seen: pl.DataFrame


def spans(ground: Ground, settings: Settings) -> Spans:
    """Lay out the unarmed stretches of every place.

    An armed period shorter than ``habit_short_s`` is no closing: somebody came back at once.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``habit_short_s`` [s].

    Returns
    -------
    Spans
        Empty where no log tells all openings and closings.
    """
    ends = ground.recorded.group_by("site").agg(end=pl.col("until").max())
    places = (
        ground.armed.select(PLACE)
        .unique()
        .join(ground.sites.filter("arming_reliable").select("site", "time_zone"), on="site")
        .join(ends, on="site")
        .sort(PLACE)
        .with_columns(
            k=pl.int_range(pl.len()),
            areas=pl.len().over("site"),
            time_zone=pl.col("time_zone").fill_null("UTC"),
        )
    )
    rows = ground.armed.join(places.select(*PLACE, "k"), on=PLACE, nulls_equal=True)
    periods = (
        rows.filter("known")
        .sort("k", "since")
        .group_by("k", "period", maintain_order=True)
        .agg(
            pl.col("since").first(),
            pl.col("until").last(),
            closer=pl.col("person").first(),
            opener=pl.col("disarmed_by").last(),
        )
        .join(places.select("k", "end"), on="k")
    )
    short = timedelta(seconds=settings.habit_short_s)
    lasting = periods.filter(
        (pl.col("until") - pl.col("since") >= short) | (pl.col("until") >= pl.col("end"))
    )
    told = places.select("k", "site").join(ground.recorded, on="site")
    unknown = rows.filter(~pl.col("known")).select("k", "since", "until")
    off = pl.concat([lasting.select("k", "since", "until"), unknown])
    free = intervals.subtract(told, off, ["k"]).with_row_index("open")
    free = _acts(free, lasting, places, ground)
    free = _broken(free, periods, places, ground)
    places = places.join(_lost(free, periods, places, ground), on="k", how="left").with_columns(
        pl.col("lost").fill_null(0)
    )
    free = _walls(free, places)
    armed = _walls(lasting.select("k", "since", "until"), places)
    known = pl.concat(
        frame.select("k", "since_w", "until_w", armed=pl.lit(value))
        for frame, value in ((free, False), (armed, True))
    )
    watched = places.select("k", "site").join(ground.watched, on="site")
    seen = intervals.intersect(free, watched, ["k"])
    seen = _walls(seen, places).join_asof(
        free.select("k", "open", "since"),
        on="since",
        by="k",
        check_sortedness=False,
    )
    return Spans(
        places,
        free,
        summed(known),
        seen.select("k", "open", "since_w", "until_w"),
    )


def _walls(frame: pl.DataFrame, places: pl.DataFrame) -> pl.DataFrame:
    """Add the wall times of both ends."""
    named = frame.join(places.select("k", "time_zone"), on="k", maintain_order="left")
    for utc, local in (("since", "since_w"), ("until", "until_w")):
        named = to_wall(named, utc, "time_zone", local)
    return named.drop("time_zone")


def _acts(
    free: pl.DataFrame, lasting: pl.DataFrame, places: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Add who opened and who closed, how, and by which act."""
    named = free.join(places.select("k", *PLACE), on="k", maintain_order="left")
    told = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in([Kind.ARM, Kind.DISARM]))
        .select("site", "placed", "kind", "mode", "act", "aside", said="area")
        .collect()
    )
    for end, act, kind, by in (
        ("since", "open", Kind.DISARM, "until"),
        ("until", "close", Kind.ARM, "since"),
    ):
        who = "opener" if act == "open" else "closer"
        done = "opened" if act == "open" else "closed"
        person = lasting.select("k", who, pl.col(by).alias(end), pl.lit(value=True).alias(done))
        how = (
            named.select("open", "site", "area", end)
            .join(told.filter(pl.col("kind") == kind), left_on=["site", end],
                  right_on=["site", "placed"])
            .filter(pl.col("said").is_null() | pl.col("said").eq_missing(pl.col("area")))
            .unique("open", keep="first", maintain_order=True)
            .select(
                "open",
                pl.col("mode").cast(pl.String).alias(f"{act}_mode"),
                pl.col("act").alias(f"{act}_act"),
                pl.col("aside").alias(f"{act}_aside"),
            )
        )  # fmt: skip
        named = named.join(person, on=["k", end], how="left", maintain_order="left").join(
            how, on="open", how="left", maintain_order="left"
        )
    flags = pl.col("opened", "closed", "open_aside", "close_aside").fill_null(value=False)
    return (
        named.with_columns(flags)
        .with_columns(
            aside=pl.col("open_aside") | pl.col("close_aside"),
            # The end of what is recorded ends an armed period too, by no act.
            opened=pl.col("opened") & pl.col("open_act").is_not_null(),
            closed=pl.col("closed") & pl.col("close_act").is_not_null(),
        )
        .drop("open_aside", "close_aside", *PLACE)
    )


def _broken(
    free: pl.DataFrame, periods: pl.DataFrame, places: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Mark the stretches inside which an opening follows an opening on the way to a centre.

    There the closing between them may have got lost. A panel's own log loses none: a code was
    keyed at a place that was open.
    """
    if centre_alone(ground).is_empty():
        return free.with_columns(broken=pl.lit(value=False))
    off = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.DISARM)
        .join(centre_alone(ground).lazy(), on="site", how="semi")
        .select("site", at="placed", said="area")
        .collect()
    )
    spread = (
        off.join(places.select("k", *PLACE), on="site")
        .filter(pl.col("said").is_null() | pl.col("said").eq_missing(pl.col("area")))
        .join(periods.select("k", at="until"), on=["k", "at"], how="anti")
        .select("k", "at")
    )
    inside = (
        spread.sort("at")
        .join_asof(
            free.select("k", "open", "since", "until").sort("since"),
            left_on="at",
            right_on="since",
            by="k",
            check_sortedness=False,
        )
        .filter((pl.col("at") < pl.col("until")) & (hours(pl.col("at") - pl.col("since")) > 1 / 60))
    )
    again = inside["open"].unique().implode()
    return free.with_columns(broken=pl.col("open").is_in(again))


def _lost(
    free: pl.DataFrame, periods: pl.DataFrame, places: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Count the openings and closings that seem lost on the way to a centre: ``k``, ``lost``."""
    if centre_alone(ground).is_empty():
        return pl.DataFrame(schema={"k": pl.Int64(), "lost": pl.Int64()})
    arms = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.ARM)
        .join(centre_alone(ground).lazy(), on="site", how="semi")
        .select("site", at="placed", said="area")
        .join(places.lazy().select("k", *PLACE), on="site")
        .filter(pl.col("said").is_null() | pl.col("said").eq_missing(pl.col("area")))
        .collect()
    )
    again = asof(arms, periods, "at", "since", by=["k"])
    # Armed once more soon after is somebody who came back, or a part that became all.
    again = again.filter(
        (pl.col("at") < pl.col("until")) & (hours(pl.col("at") - pl.col("since")) > 1)
    )
    counts = [
        again.group_by("k").agg(lost=pl.len()),
        free.filter("broken").group_by("k").agg(lost=pl.len()),
    ]
    return pl.concat(counts).group_by("k").agg(pl.col("lost").sum().cast(pl.Int64))


@kept
def centre_alone(ground: Ground) -> pl.DataFrame:
    """List the sites of which only the monitoring centre tells openings and closings: ``site``."""
    return (
        ground.powers.filter((pl.col("power") == Power.ARMING) & (pl.col("value") == Arming.ALL))
        .group_by("site")
        .agg(alone=(pl.col("witness") == str(Witness.RECEIVER)).all())
        .filter("alone")
        .select("site")
    )
