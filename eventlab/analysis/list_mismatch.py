"""Zone schedules that do not match the log, so that help may go to the wrong door."""

import polars as pl

from eventlab.analysis.core import POINT
from eventlab.analysis.found import count, days, ends, evidence, figures, found, line, wall
from eventlab.analysis.point_names import misnamed
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Pattern, Phase, Subject, Use
from eventlab.settings import Settings

_OF_POINTS = (
    *TRIPS,
    *LIFE_SAFETY,
    *(Kind.ENVIRONMENT_ALARM, Kind.ACTIVATION, Kind.BYPASS, Kind.SHUTDOWN, Kind.TAMPER),
    *(Kind.MASKING, Kind.SENSOR_FAULT, Kind.SUPERVISION_LOSS, Kind.DEVICE_BATTERY_LOW),
    *(Kind.WALK_TEST, Kind.EXIT_ERROR),
)
_DEVICES = (
    r"^(?:module|keypad|reader|door|receiver|repeater|siren|printer|output|supply|radio|user|panel)"
    r"\b"
)
"""What numbers a device of the system, which no zone schedule lists."""
_ON_THE_WAY = (Use.ENTRY, Use.FOLLOWER, Use.INTERIOR)
_HEADS = 2
"""Life-safety points tested from which on one that is left out is told."""
_LINES = 12


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose zone schedule does not match what their log tells.

    Points that nobody listed; listed points that never show where the log would show them (it
    records movement and they stand where people walk, or most others of
    their sort were walk-tested; a point
    that never alarmed is none); numbers told with the name of another point; and numbers that
    changed on one date, as when a panel is replaced. A site without a schedule has no finding.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Zone schedules, for the names.
    settings : Settings
        ``list_days``, ``list_unseen_days``, ``list_swap_points``, ``list_tested_share``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site. Of a listed life-safety point that never shows is only
        told that it must be examined.
    """
    listed = ground.points.filter("listed")
    if listed.is_empty():
        return found(listed, Pattern.LIST_MISMATCH)
    seen = _seen(listed, ground)
    strange = _strange(seen, listed, ground, settings)
    gone = _renumbered(seen, strange, listed, ground, settings)
    named = misnamed(ground, context, settings)
    told = pl.concat(
        [
            gone,
            named,
            strange.join(gone.select("site", "zone"), on=["site", "zone"], how="anti").select(
                *_PART,
            ),
            _unseen(ground, listed, seen, settings),
        ]
    )
    if told.is_empty():
        return found(told, Pattern.LIST_MISMATCH)
    one = (
        told.sort("site", "rank", "order", "zone")
        .group_by("site", maintain_order=True)
        .agg(
            events=pl.len().cast(pl.Int64),
            since=pl.col("since").min(),
            until=pl.col("until").max(),
            strange=(pl.col("what") == "strange").sum(),
            unseen=(pl.col("what") == "unseen").sum(),
            life=(pl.col("what") == "life").sum(),
            named=(pl.col("what") == "named").sum(),
            renumbered=(pl.col("what") == "renumbered").sum(),
            on=pl.col("on").drop_nulls().first(),
            touches=pl.col("zone").filter(pl.col("rows") > 0).unique(maintain_order=True),
            rows=pl.col("rows").sum(),
            lines=pl.col("line").head(_LINES),
        )
        .join(ends(ground), on="site", how="left", maintain_order="left")
        .with_columns(
            since=pl.coalesce("since", "end"),
            until=pl.coalesce("until", "end"),
            only_life=pl.col("life") == pl.col("events"),
        )
    )
    return found(
        one.with_columns(
            evidence(
                "lines",
                line(
                    "more of the same",
                    count(pl.col("events") - _LINES, "point"),
                    "the log beside the zone schedule",
                    when=pl.col("events") > _LINES,
                ),
                line(
                    "what rests on these points",
                    count(pl.col("rows"), "thing told", "things told")
                    + " of "
                    + count(pl.col("touches").list.len(), "number"),
                    "any finding or rate about one of them may be about another point",
                    when=pl.col("rows") > 0,
                ),
            ),
            figures(
                {
                    **{k: pl.col(k) for k in ("strange", "unseen", "life", "named", "renumbered")},
                    "on": pl.col("on"),
                    "touches": pl.col("touches").list.head(_LINES),
                    "life_safety": pl.col("only_life"),
                }
            ),
            standing=pl.lit(value=True),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
            area=pl.lit(None, dtype=pl.String),
        ),
        Pattern.LIST_MISMATCH,
    )


_PART = ("site", "zone", "what", "rank", "order", "since", "until", "on", "rows", "line")


def _told(ground: Ground) -> pl.LazyFrame:
    """Give what logs tell of points."""
    return ground.occurrences.lazy().filter(
        pl.col("zone").is_not_null()
        & pl.col("kind").is_in(list(_OF_POINTS))
        & (pl.col("phase") != Phase.END)
    )


def _seen(listed: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Count what the log tells of each point of sites with a list, wherever it stands."""
    return (
        _told(ground)
        .group_by(POINT)
        .agg(
            since=pl.col("placed").min(),
            until=pl.col("placed").max(),
            local=pl.col("local").min(),
            rows=pl.len().cast(pl.Int64),
            life=pl.col("kind").is_in(list(LIFE_SAFETY)).any(),
            tested=(pl.col("kind") == Kind.WALK_TEST).any(),
        )
        .join(listed.lazy().select("site"), on="site", how="semi")
        .filter(~pl.col("zone").str.to_lowercase().str.contains(_DEVICES))
        .collect()
    )


def _strange(
    seen: pl.DataFrame, listed: pl.DataFrame, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Find points that nobody listed; one row may be a slip, a fire is none."""
    known = listed.select("site", "zone").unique()
    other = seen.join(known, on=["site", "zone"], how="anti")
    days = (
        _told(ground)
        .join(other.lazy().select("site", "zone"), on=["site", "zone"], how="semi")
        .group_by(POINT)
        .agg(days=pl.col("local").dt.date().n_unique())
        .collect()
    )
    return (
        other.join(days, on=list(POINT), nulls_equal=True)
        .filter((pl.col("days") >= settings.list_days) | pl.col("life"))
        .with_columns(
            what=pl.lit("strange"),
            rank=pl.lit(3),
            order=-pl.col("rows"),
            on=pl.lit(None, pl.String),
            line=line(
                pl.lit("point ") + pl.col("zone") + " is in no list",
                count(pl.col("rows"), "time") + " since " + wall(pl.col("local")),
                "the log beside the zone schedule",
            ),
        )
        .sort("site", "zone")
    )


def _unseen(
    ground: Ground, listed: pl.DataFrame, seen: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Find listed points that never show though the log would show them."""
    moving = ground.powers.filter((pl.col("power") == "activations") & (pl.col("value") == "yes"))
    watched = ground.watched.with_columns(d=pl.col("until") - pl.col("since"))
    shown = (
        watched.group_by("site")
        .agg(covered=pl.col("d").sum())
        .join(moving.select("site").unique(), on="site")
        .filter(pl.col("covered") >= days(settings.list_unseen_days))
        .select("site", moves=pl.lit(value=True))
    )
    points = listed.join(
        seen.select("site", "zone", "tested").unique(["site", "zone"]),
        on=["site", "zone"],
        how="left",
    )
    # Smoke heads and buttons are tried apart from the detectors that people walk past.
    share = points.group_by("site", "life_safety").agg(
        tried=(pl.col("tested").fill_null(value=False).mean() >= settings.list_tested_share)
        & (
            pl.col("tested").sum()
            >= pl.when(pl.col("life_safety").first())
            .then(_HEADS)
            .otherwise(settings.list_swap_points)
        )
    )
    quiet = points.join(shown, on="site", how="left").join(
        share, on=["site", "life_safety"], how="left"
    )
    # Whatever else names it, such as an end or a reset, shows that it is there.
    quiet = quiet.filter(pl.col("tested").is_null() & ~pl.col("seen"))
    on_way = pl.col("use").is_in(list(_ON_THE_WAY)) & pl.col("moves").fill_null(value=False)
    life = pl.col("life_safety")
    expected = pl.col("tried").fill_null(value=False) | (on_way & ~life)
    called = pl.lit("point ") + pl.col("zone") + (pl.lit(" (") + pl.col("name") + ")").fill_null("")
    return (
        quiet.filter(expected.fill_null(value=False))
        .with_columns(
            what=pl.when(life).then(pl.lit("life")).otherwise(pl.lit("unseen")),
            rank=pl.when(life).then(0).otherwise(4),
            order=pl.lit(0, pl.Int64),
            since=pl.lit(None, pl.Datetime("us", "UTC")),
            until=pl.lit(None, pl.Datetime("us", "UTC")),
            on=pl.lit(None, pl.String),
            rows=pl.lit(0, pl.Int64),
            line=pl.when(life)
            .then(
                line(
                    called + " is listed and never showed",
                    "have it examined",
                    "by a licensed person; every call from it is real until then",
                )
            )
            .otherwise(
                line(
                    called + " is listed and never showed",
                    pl.when("tried")
                    .then(pl.lit("others were walk-tested"))
                    .otherwise(pl.lit("movement is recorded there")),
                    "the zone schedule beside the log, which would show it",
                )
            ),
        )
        .select(_PART)
    )


def _renumbered(
    seen: pl.DataFrame,
    strange: pl.DataFrame,
    listed: pl.DataFrame,
    ground: Ground,
    settings: Settings,
) -> pl.DataFrame:
    """Find a date on which listed numbers fall silent for good and strange ones begin."""
    known = seen.join(listed.select("site", "zone").unique(), on=["site", "zone"], how="semi")
    first = strange.group_by("site").agg(
        new=pl.col("since").min(), new_local=pl.col("local").min(), many=pl.len()
    )
    old = known.join(first, on="site")
    before = old.group_by("site").agg(
        last=pl.col("until").max(),
        many_old=pl.len(),
        told=pl.col("rows").sum(),
        began=pl.col("since").min(),
        new=pl.col("new").first(),
        many=pl.col("many").first(),
        new_local=pl.col("new_local").first(),
    )
    least = settings.list_swap_points
    swapped = (
        before.join(ends(ground), on="site")
        .with_columns(
            # What the old numbers would have told since, had they gone on as before.
            missed=pl.col("told")
            * (pl.col("end") - pl.col("new")).dt.total_seconds()
            / (pl.col("new") - pl.col("began")).dt.total_seconds().clip(1)
        )
        .filter(
            (pl.col("last") < pl.col("new"))
            & (pl.col("many") >= least)
            & (pl.col("many_old") >= least)
            & (pl.col("missed") >= 3 * least)
        )
        .select("site", "new", day=pl.col("new_local").dt.strftime("%-d %b %Y"))
    )
    return (
        strange.drop("on", "line")
        .join(swapped, on="site")
        .with_columns(
            what=pl.lit("renumbered"),
            rank=pl.lit(1),
            on=pl.col("day"),
            line=line(
                pl.lit("point ")
                + pl.col("zone")
                + pl.lit(" is told from ")
                + pl.col("day")
                + " on",
                count(pl.col("rows"), "time"),
                "no listed number is told since: the numbers changed, as when a panel is replaced",
            ),
        )
        .select(_PART)
    )
