"""The last walk test: which points answered, and which were not seen."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import polars as pl

from eventlab.analysis.alive.beats import DETECTS
from eventlab.ground import Ground, Reason
from eventlab.schema import Kind, Phase, Use
from eventlab.settings import Settings

_APART = (Use.KEY, Use.TECHNICAL)
"""What nobody walks past."""


@dataclass(frozen=True)
class Walked:
    """A walk test.

    Parameters
    ----------
    day : date or None
        Of the site's own clock; None where there is none in the log.
    since, until : datetime or None
        Its first and last sign, by the site's own clock.
    by : str
        What shows it: ``walk-test`` (rows of a walk test), or the reason for which the time was
        set aside in which points were seen (``walk-test``, ``on-test``, ``on-site-work``).
    told : bool
        Whether its rows name points; else movement and alarms in that time are taken.
    points : polars.DataFrame
        ``zone``, ``within``, ``name``, ``answered``: the points that a person walks past.
    apart : list of str
        Points that are tried in other ways: of life safety, keys, technical ones.
    listed : bool
        Whether a schedule lists the points; else those that this log ever told of.
    """

    day: date | None = None
    since: datetime | None = None
    until: datetime | None = None
    by: str = ""
    told: bool = False
    points: pl.DataFrame = field(
        default_factory=lambda: pl.DataFrame(
            schema={
                "zone": pl.String,
                "within": pl.String,
                "name": pl.String,
                "answered": pl.Boolean,
            }
        )
    )
    apart: list[str] = field(default_factory=list)
    listed: bool = False

    @property
    def missed(self) -> list[str]:
        """Return the numbers of the points that were not seen."""
        return self.points.filter(~pl.col("answered"))["zone"].to_list()


def walked(ground: Ground, settings: Settings, site: str) -> Walked:
    """Find the last walk test in the logs of a site.

    Rows of a walk test that name points decide; where there are none, the last time on test or in
    service in which at least ``visit_lids`` points were seen to move or alarm, or the last walk
    test with any. A test that runs for longer than ``test_left_h`` is none: people come and go.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``test_left_h`` [h], ``visit_lids`` [points].
    site : str
        Which site.

    Returns
    -------
    Walked
        Empty where the log holds none; without points where nothing tells which answered.
    """
    here = pl.col("site") == site
    rows = ground.occurrences.filter(
        here
        & pl.col("zone").is_not_null()
        & (pl.col("phase") != Phase.END)
        & pl.col("local").is_not_null()
    ).sort("placed")
    longest = timedelta(hours=settings.test_left_h)
    tests = rows.filter(pl.col("kind").is_in([Kind.WALK_TEST, Kind.MANUAL_TEST]))
    if tests.height:
        far = pl.col("placed") - pl.col("placed").shift(1) > pl.lit(longest)
        session = tests.with_columns(nth=far.fill_null(value=False).cum_sum())
        return _told(session.filter(pl.col("nth") == pl.col("nth").max()), ground, here, told=True)
    moved = rows.filter(pl.col("kind").is_in(list(DETECTS)) & (pl.col("kind") != Kind.TAMPER_ALARM))
    spans = ground.aside.filter(
        here
        & pl.col("reason")
        .cast(pl.String)
        .is_in([Reason.WALK_TEST, Reason.ON_TEST, Reason.ON_SITE_WORK])
        & (pl.col("until") - pl.col("since") <= pl.lit(longest))
    ).with_columns(begun="since", by=pl.col("reason").cast(pl.String))
    inside = (
        spans.select("begun", "until", "by")
        .join(moved, how="cross")
        .filter(pl.col("placed").is_between("begun", "until"))
        .with_columns(seen=pl.struct("zone", "within").n_unique().over("begun", "by"))
        .filter((pl.col("by") == Reason.WALK_TEST) | (pl.col("seen") >= settings.visit_lids))
    )
    if inside.is_empty():
        return _unnamed(ground, here)
    newest = inside.filter(pl.col("begun") == pl.col("begun").max())
    one = newest.filter(pl.col("by") == newest.sort("seen", "by")["by"][-1])
    return _told(one, ground, here, told=False)


def _unnamed(ground: Ground, here: pl.Expr) -> Walked:
    """Give the last walk test of which no row tells which points answered."""
    begun = ground.occurrences.filter(
        here & (pl.col("kind") == Kind.WALK_TEST) & pl.col("local").is_not_null()
    )["local"]
    if begun.is_empty():
        return Walked()
    newest: datetime = begun.max()  # type: ignore[assignment]  # of a datetime column
    return Walked(day=newest.date(), since=newest, until=newest, by="walk-test")


def _told(rows: pl.DataFrame, ground: Ground, here: pl.Expr, *, told: bool) -> Walked:
    known = ground.points.filter(here & pl.col("zone").is_not_null())
    listed = bool(known["listed"].any())
    apart = pl.col("life_safety") | pl.col("use").is_in(list(_APART)).fill_null(value=False)
    answered = _answered(known, rows)
    # Devices of the system have numbers too: with a schedule at hand only its points are asked.
    asked = known.with_columns(answered=answered).filter(
        (pl.col("listed") if listed else pl.col("seen")) | pl.col("answered")
    )
    day: date = rows["local"].dt.date().max()  # type: ignore[assignment]  # of a date column
    fitted = pl.col("installed").is_null() | (pl.col("installed") <= day)
    number = pl.col("zone").cast(pl.Int64, strict=False)
    asked = asked.filter(fitted).sort(number, "zone", "within", nulls_last=True)
    return Walked(
        day=day,
        since=rows["local"].min(),  # type: ignore[arg-type]  # of a datetime column
        until=rows["local"].max(),  # type: ignore[arg-type]  # of a datetime column
        by="walk-test" if told else str(rows["by"][0]),
        told=told,
        points=asked.filter(~apart).select("zone", "within", "name", "answered"),
        apart=asked.filter(apart & ~pl.col("answered"))["zone"].to_list(),
        listed=listed,
    )


def _answered(known: pl.DataFrame, rows: pl.DataFrame) -> pl.Series:
    """Mark the points that rows name; a test may name a number without its area."""
    exact = known.join(
        rows.select("zone", "within").unique(), on=["zone", "within"], how="left", nulls_equal=True,
        coalesce=False, maintain_order="left",
    )["zone_right"].is_not_null()  # fmt: skip
    bare = rows.filter(pl.col("within").is_null())["zone"].unique()
    return exact | known["zone"].is_in(bare.implode())
