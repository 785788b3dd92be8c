"""Did it work? Alarm nights before and after a date, and whether a point still detects."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from eventlab.advice.in_service import in_force, seen_since
from eventlab.advice.tables import table
from eventlab.analysis.daily import POINT, alarm_days, by_night
from eventlab.analysis.nights_at_risk import records, until_night
from eventlab.analysis.rate_change import risen
from eventlab.ground import Basis, Ground, intervals
from eventlab.schema import UTC, Kind, Schema, Verdict, conform, empty
from eventlab.settings import Settings
from eventlab.stats import rate_ratio, share_interval, shrunk_rates

ASKED: Schema = {"site": pl.String(), "zone": pl.String(), "at": UTC}

PROOF: Schema = {
    **ASKED,
    "basis": pl.String(),
    "life_safety": pl.Boolean(),
    "verdict": pl.String(),
    "before_hours": pl.Float64(),
    "before_nights": pl.Int64(),
    "before_days": pl.Int64(),
    "before_alarms": pl.Int64(),
    "after_hours": pl.Float64(),
    "after_nights": pl.Int64(),
    "after_days": pl.Int64(),
    "after_alarms": pl.Int64(),
    "ratio": pl.Float64(),
    "ratio_low": pl.Float64(),
    "ratio_high": pl.Float64(),
    "p_exact": pl.Float64(),
    "p_mid": pl.Float64(),
    "more_hours": pl.Float64(),
    "more_nights": pl.Int64(),
    "rose": pl.Date(),
    "month_days": pl.Int64(),
    "month_nights": pl.Int64(),
    "usual_30": pl.Float64(),
    "expected_30": pl.Float64(),
    "proven_by": pl.String(),
    "proven_at": UTC,
    "unproven": pl.List(pl.String()),
    "in_force": pl.String(),
    "caution": pl.String(),
}
"""A row of a proof: ``*_days`` are nights with an alarm, ``*_nights`` all nights at risk; ``rose``
where the rate had risen before, so that the time since then is the time before; ``usual_30`` and
``expected_30`` alarm nights in 30 over the longer history, and to be expected after the last month
without any work; ``unproven`` points that were not seen to detect since; ``in_force`` what keeps a
point from alarming at the end of the log."""

MONTH = 30
WINDOWS = 4
"""Nights of a window, and the fewest windows from which something usual is told."""


def proof(ground: Ground, asked: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Compare the alarms of points, or of whole sites, before and after a date.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    asked : polars.DataFrame
        ``site``, ``zone`` (null: all points of the site), ``at`` (UTC).
    settings : Settings
        ``proof_level``, ``change_q``, ``change_days_min``, ``change_rest_days``.

    Returns
    -------
    polars.DataFrame
        Columns of ``PROOF``, a row for each of ``asked`` in its order. Rates are of nights with an
        alarm per hour at risk; the ratio is that after over that before.

    Notes
    -----
    A verdict rests on the exact interval of the ratio (Clopper and Pearson 1934, given the sum):
    `better` where it lies below 1 and every point that had alarmed was seen to detect since. What
    is expected after a bad month: `stats.shrunk_rates` over equal windows.
    """
    rows = conform(asked, ASKED).with_row_index("row").with_columns(pl.col("row").cast(pl.Int64))
    if rows.is_empty():
        return empty(PROOF)
    points = _points(rows, ground)
    rose = _rose(rows, points, ground, settings)
    spans = _spans(rows, points, rose, ground)
    days = _alarm_days(rows, points, rose, ground)
    told = rows.join(rose, on="row", how="left", maintain_order="left")
    for frame in (
        points.group_by("row").agg(
            pl.col("basis").cast(pl.String).sort().last(),
            life_safety=pl.col("life_safety").all(),
        ),
        _hours(spans, ground),
        _counts(days),
        _month(rows, points, ground),
        seen_since(rows, points, days, ground),
        in_force(rows, points, ground),
    ):
        told = told.join(frame, on="row", how="left", maintain_order="left")
    counts = [f"{side}_{what}" for side in ("before", "after")
              for what in ("hours", "nights", "days", "alarms")]  # fmt: skip
    told = told.with_columns(
        pl.col(counts).fill_null(0), pl.col("life_safety").fill_null(value=False)
    )
    judged = _judged(told, settings).with_columns(caution=_caution())
    hidden = [*counts, "ratio", "ratio_low", "ratio_high", "p_exact", "p_mid", "more_hours",
              "more_nights", "rose", "month_days", "month_nights", "usual_30",
              "expected_30"]  # fmt: skip
    return conform(
        judged.with_columns(pl.when(~pl.col("life_safety")).then(pl.col(hidden))).sort("row"), PROOF
    )


def nights_of(ground: Ground, site: str, zone: str | None) -> pl.DataFrame:
    """Give the nights of a point or a site: what a picture of before and after shows.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    site : str
        Which site.
    zone : str or None
        Which point; all of them where None. Of a life-safety point nothing is counted.

    Returns
    -------
    polars.DataFrame
        ``night``, ``hours`` at risk, ``alarms``; by night.
    """
    rows = pl.DataFrame(
        {"row": [0], "site": [site], "zone": [zone], "at": [None]},
        schema={"row": pl.Int64, **ASKED},
    ).with_columns(at=pl.lit(ground.sites["now"].max(), UTC) + pl.duration(days=1))
    none = pl.DataFrame(schema={"row": pl.Int64, "rose": pl.Date})
    points = _points(rows, ground).filter(~pl.col("life_safety"))
    hours = by_night(_spans(rows, points, none, ground), ground, ("row",)).drop("row")
    alarms = _alarm_days(rows, points, none, ground).group_by("night").agg(alarms=pl.len())
    return (
        hours.join(alarms, on="night", how="full", coalesce=True)
        .select("night", pl.col("hours").fill_null(0.0), pl.col("alarms").fill_null(0))
        .sort("night")
    )


def _points(rows: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """List the points of each row; of a whole site those that are armed, and no life safety."""
    known = ground.points.select(*POINT, "life_safety").join(
        ground.exposure.select(*POINT, "basis", "area"), on=list(POINT), nulls_equal=True
    )
    single = rows.filter(pl.col("zone").is_not_null()).join(known, on=["site", "zone"])
    whole = (
        rows.filter(pl.col("zone").is_null())
        .drop("zone")
        .join(known.filter(~pl.col("life_safety") & (pl.col("basis") != Basis.ALWAYS)), on="site")
    )
    columns = ["row", *POINT, "at", "life_safety", "basis", "area"]
    return pl.concat([single.select(columns), whole.select(columns)])


def _rose(
    rows: pl.DataFrame, points: pl.DataFrame, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Say since when the rate of a single point had been higher, where it was up to the date."""
    single = rows.filter(pl.col("zone").is_not_null()).select("row")
    asked = points.join(single, on="row", how="semi").filter(~pl.col("life_safety"))
    days = alarm_days(ground)
    before = days.join(asked.select(*POINT, "row", asked="at"), on=list(POINT), nulls_equal=True)
    many = before.filter(pl.col("at") < pl.col("asked")).group_by("row").agg(n=pl.len())
    worth = asked.join(many.filter(pl.col("n") >= settings.change_days_min), on="row", how="semi")
    found = []
    if worth.height:
        named = worth.select(*POINT).unique().with_row_index("point")
        own = worth.join(named, on=list(POINT), nulls_equal=True).group_by("point").agg("row", "at")
        when = {point: list(zip(of, at, strict=True)) for point, of, at in own.iter_rows()}
        for point, record in records(ground, named, days, int(settings.change_rest_days)):
            for row, at in when[point]:
                part = until_night(record, at.date())
                rise = None if part is None else risen(part, settings)
                if part and rise and rise.last is None and rise.p <= settings.proof_rose_p:
                    found.append((row, part.nights[rise.first]))
    return pl.DataFrame(found, schema={"row": pl.Int64, "rose": pl.Date}, orient="row").unique(
        "row", keep="first"
    )


def _since(rose: pl.DataFrame) -> pl.DataFrame:
    noon = pl.col("rose").cast(pl.Datetime("us")).dt.offset_by("12h").dt.replace_time_zone("UTC")
    return rose.select("row", from_=noon)


def _spans(
    rows: pl.DataFrame, points: pl.DataFrame, rose: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Give the time at risk of each row, cut at its date; ``side`` says where a piece lies."""
    exposed = ground.exposed(rows["site"].unique().to_list()).join(
        points.select("row", *POINT), on=list(POINT), nulls_equal=True
    )
    whole = (
        intervals.unite(exposed, ["row"])
        .join(rows.select("row", "site", "at"), on="row")
        .join(_since(rose), on="row", how="left")
        .with_columns(since=pl.max_horizontal("since", "from_"))
    )
    cut = pl.col("at")
    sides = [
        whole.with_columns(until=pl.min_horizontal("until", cut), side=pl.lit("before")),
        whole.with_columns(since=pl.max_horizontal("since", cut), side=pl.lit("after")),
    ]
    return pl.concat(sides).filter(pl.col("since") < pl.col("until")).drop("at", "from_")


def _alarm_days(
    rows: pl.DataFrame, points: pl.DataFrame, rose: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Give the alarms of each row, ``side`` of its date, and the point."""
    counted = ground.occurrences.filter(
        pl.col("trip")
        & pl.col("at_risk")
        & (pl.col("kind") != Kind.TAMPER_ALARM)
        & pl.col("site").is_in(rows["site"].unique().implode())
    ).select(*POINT, "placed", "night")
    own = points.filter(~pl.col("life_safety")).select("row", *POINT, "at")
    return (
        counted.join(own, on=list(POINT), nulls_equal=True)
        .join(_since(rose), on="row", how="left")
        .filter((pl.col("placed") >= pl.col("from_")).fill_null(value=True))
        .with_columns(
            side=pl.when(pl.col("placed") < pl.col("at"))
            .then(pl.lit("before"))
            .otherwise(pl.lit("after"))
        )
    )


def _sided(frame: pl.DataFrame, names: Sequence[str]) -> pl.DataFrame:
    """Lay what is told of both sides into one row."""
    parts = [
        frame.filter(pl.col("side") == side).select(
            "row", *(pl.col(name).alias(f"{side}_{name}") for name in names)
        )
        for side in ("before", "after")
    ]
    return parts[0].join(parts[1], on="row", how="full", coalesce=True)


def _hours(spans: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    nights = by_night(spans, ground, ("row", "side"))
    exact = intervals.total(spans, ["row", "side"])
    counted = nights.group_by("row", "side").agg(nights=pl.len().cast(pl.Int64))
    return _sided(exact.join(counted, on=["row", "side"]), ("hours", "nights"))


def _counts(days: pl.DataFrame) -> pl.DataFrame:
    counted = days.group_by("row", "side").agg(
        days=pl.col("night").n_unique().cast(pl.Int64), alarms=pl.len().cast(pl.Int64)
    )
    return _sided(counted, ("days", "alarms"))


def _month(rows: pl.DataFrame, points: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Set the month before against the longer history: equal windows back from the date."""
    none = pl.DataFrame(schema={"row": pl.Int64, "rose": pl.Date})
    spans = _spans(rows, points, none, ground).filter(pl.col("side") == "before")
    nights = by_night(spans, ground, ("row",)).join(rows.select("row", "at"), on="row")
    alarm = (
        _alarm_days(rows, points, none, ground)
        .filter(pl.col("side") == "before")
        .select("row", "night", alarm=pl.lit(1))
        .unique()
    )
    # The night before the date is the last of the first window.
    ago = (pl.col("at").dt.date() - pl.col("night")).dt.total_days() - 1
    window = (ago // MONTH).clip(lower_bound=0)
    windows = (
        nights.join(alarm, on=["row", "night"], how="left")
        .group_by("row", window=window)
        .agg(days=pl.col("alarm").sum().cast(pl.Int64), nights=pl.len().cast(pl.Int64))
        .filter(pl.len().over("row") >= WINDOWS)
        .sort("row", "window")
    )
    if windows.is_empty():
        schema = {"row": pl.Int64, "month_days": pl.Int64, "month_nights": pl.Int64,
                  "usual_30": pl.Float64, "expected_30": pl.Float64}  # fmt: skip
        return pl.DataFrame(schema=schema)
    got = shrunk_rates(
        windows["days"].to_numpy(), windows["nights"].to_numpy(), windows["row"].to_numpy()
    )
    return (
        windows.with_columns(
            usual_30=MONTH * pl.col("days").sum().over("row") / pl.col("nights").sum().over("row"),
            expected_30=MONTH * pl.Series(got.rate),
        )
        .filter(pl.col("window") == 0)
        .select("row", "usual_30", "expected_30", month_days="days", month_nights="nights")
    )


def _judged(told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    after, before = told["after_days"].to_numpy(), told["before_days"].to_numpy()
    hours, other = told["after_hours"].to_numpy(), told["before_hours"].to_numpy()
    got = rate_ratio(after, hours, before, other, level=settings.proof_level)
    total = after + before
    # With so much of the time after the date, no more alarms in it would be too few for chance.
    most = share_interval(after, np.maximum(total, 1), level=settings.proof_level).high
    with np.errstate(divide="ignore", invalid="ignore"):
        more = np.where((before > 0) & (most < 1), other * most / (1 - most) - hours, np.nan)
    filled = told.with_columns(
        ratio=pl.Series(got.ratio),
        ratio_low=pl.Series(got.low),
        ratio_high=pl.Series(got.high),
        p_exact=pl.Series(got.p_exact),
        p_mid=pl.Series(got.p_mid),
        more_hours=pl.Series(more),
    )
    numbers = pl.col("ratio", "ratio_low", "ratio_high", "p_exact", "p_mid", "more_hours")
    filled = filled.with_columns(pl.when(numbers.is_finite()).then(numbers))
    out = pl.col("in_force").is_not_null()
    proven = pl.col("proven_at").is_not_null()
    fewer = (pl.col("ratio_high") < 1).fill_null(value=False)
    verdict = (
        pl.when(out)
        .then(pl.lit(str(Verdict.OUT)))
        .when(pl.col("life_safety") & proven)
        .then(pl.lit(str(Verdict.IN)))
        .when(pl.col("life_safety"))
        .then(pl.lit(str(Verdict.UNPROVEN)))
        .when(fewer & proven)
        .then(pl.lit(str(Verdict.BETTER)))
        .when(fewer)
        .then(pl.lit(str(Verdict.QUIET)))
        .when((pl.col("ratio_low") > 1).fill_null(value=False))
        .then(pl.lit(str(Verdict.WORSE)))
        .otherwise(pl.lit(str(Verdict.OPEN)))
    )
    nights = pl.col("before_nights") + pl.col("after_nights")
    a_night = (pl.col("before_hours") + pl.col("after_hours")) / nights
    open_ = pl.col("verdict") == Verdict.OPEN
    return filled.with_columns(verdict=verdict).with_columns(
        more_hours=pl.when(open_ & (pl.col("more_hours") > 0)).then("more_hours"),
        more_nights=pl.when(open_ & (pl.col("more_hours") > 0)).then(
            (pl.col("more_hours") / a_night).ceil().cast(pl.Int64)
        ),
    )


def _caution() -> pl.Expr:
    words = table("cautions")
    always = " ".join(words.filter(pl.col("caution").is_in(["always"]))["text"])
    unwanted = " ".join(words.filter(pl.col("caution").is_in(["unwanted"]))["text"])
    life = (
        " It is a life-safety point: have it examined by a licensed person, and treat every call "
        "from it as real until then."
    )
    return (
        pl.when("life_safety").then(pl.lit(always + life)).otherwise(pl.lit(f"{unwanted} {always}"))
    )
