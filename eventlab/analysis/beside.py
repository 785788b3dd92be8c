"""What stands near a date on which a rate changed, and the lines that tell of the change."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.daily import home_night
from eventlab.analysis.kept import kept
from eventlab.analysis.point_names import misnamed
from eventlab.context import Context
from eventlab.ground import Ground, Reason
from eventlab.schema import Kind
from eventlab.settings import Settings

NEAR_DAYS = 7
SCHEDULE_NIGHTS = 28
SCHEDULE_MOVED = 1.25
"""Nights before and after that are compared, and the ratio of their hours that is worth telling."""
DISAGREE = 0.05
YEAR_DAYS = 365

_WORK = {
    Reason.ON_SITE_WORK: "work on the system, by the log",
    Reason.VISIT: "somebody worked on site, by the log",
    Reason.WALK_TEST: "a walk test, by the log",
}


def near(
    point: Mapping[str, object],
    between: tuple[date, date],
    ground: Ground,
    context: Context,
    settings: Settings,
) -> list[str]:
    """Say what happened near the dates on which a rate may have changed.

    Parameters
    ----------
    point : mapping
        ``site`` and ``zone``.
    between : tuple of date
        First and last night on which it may have begun.
    ground : Ground
        Work seen in the log, clocks that were set.
    context : Context
        Visits, the zone schedule: when this point and others were installed, under which names.
    settings : Settings
        ``list_days``.

    Returns
    -------
    list of str
        The nearest first come first; names of people are left out.
    """
    slack = timedelta(days=NEAR_DAYS)
    zone = pl.lit(point["zone"])
    return (
        _happened(ground, context, settings)
        .lazy()
        .filter(
            pl.col("site") == point["site"],
            pl.col("night").is_between(between[0] - slack, between[1] + slack),
            pl.col("zones").is_null() | pl.col("zones").list.contains(zone),
        )
        .select(
            "night",
            what=pl.when(pl.col("fitted") == zone)
            .then(pl.lit("the point was installed"))
            .otherwise("what"),
        )
        .unique()
        .sort("night", "what")
        .select(pl.col("night").dt.strftime("%-d %b %Y") + ": " + pl.col("what"))
        .collect()
        .to_series()
        .to_list()
    )


@kept
def _happened(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """List what may stand near a date.

    ``site, night, what``; ``zones`` that it was about, null for all; ``fitted``, the point that
    was installed.
    """
    visits = context.visits.select(
        "site",
        "zones",
        placed="at",
        what=pl.lit("a visit: ") + pl.col("work").fill_null("not told"),
    )
    work = ground.aside.select(
        "site",
        placed="since",
        what=pl.col("reason")
        .cast(pl.String)
        .replace_strict(_WORK, default=None, return_dtype=pl.String),
    ).drop_nulls("what")
    sets = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.CLOCK_SET)
        .select("site", "placed", what=pl.lit("the clock was set"))
        .collect()
    )
    dated = home_night(pl.concat([visits, work, sets], how="diagonal"), ground)
    fitted = context.zones.filter(pl.col("installed").is_not_null()).select(
        "site",
        night="installed",
        what="point " + pl.col("zone") + " was installed",
        fitted="zone",
    )
    told = dated.select("site", "zones", "what", night=pl.col("local").dt.date())
    return pl.concat([told, fitted, _renumbered(ground, context, settings)], how="diagonal")


def _renumbered(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Give the nights on which logs began to tell two or more numbers by other names."""
    turned = misnamed(ground, context, settings).filter(pl.col("on").is_not_null())
    night = pl.col("on").str.to_date("%-d %b %Y")
    what = pl.lit("numbers and names of points changed places")
    return turned.select("site", night=night, what=what).unique()


def schedule(
    nights: Sequence[date], hours: npt.NDArray[np.float64], first: int
) -> list[float] | None:
    """Compare the hours at risk of a night before and after, where they moved.

    Parameters
    ----------
    nights : sequence of date
        Nights at risk.
    hours : numpy.ndarray
        Time at risk of each [h].
    first : int
        The place at which the new rate begins.

    Returns
    -------
    list of float or None
        Hours a night before and after.
    """
    day = np.array([night.toordinal() for night in nights])
    before = hours[(day < day[first]) & (day >= day[first] - SCHEDULE_NIGHTS)]
    after = hours[(day >= day[first]) & (day < day[first] + SCHEDULE_NIGHTS)]
    if min(before.size, after.size) < SCHEDULE_NIGHTS // 4 or not before.sum() or not after.sum():
        return None
    old, new = float(before.mean()), float(after.mean())
    return [old, new] if max(old / new, new / old) >= SCHEDULE_MOVED else None


def other_year(nights: Sequence[date], inside: npt.NDArray[np.bool_]) -> bool:
    """Say whether a record holds the time of year of a higher rate in another year too.

    Parameters
    ----------
    nights : sequence of date
        Nights at risk.
    inside : numpy.ndarray of bool
        Those of the higher rate.

    Returns
    -------
    bool
        True where half of them have such a night outside the higher rate.
    """
    day = np.array([night.toordinal() for night in nights])
    quiet = day[~inside]
    again = [np.isin(day[inside] + turn * YEAR_DAYS, quiet) for turn in (-2, -1, 1, 2)]
    return bool(np.any(again, axis=0).mean() >= 1 / 2)


def lines(figures: Mapping[str, Any]) -> list[dict[str, str]]:
    """Write the evidence of a rate that changed.

    Parameters
    ----------
    figures : mapping
        As ``rate_change.find`` packs them.

    Returns
    -------
    list of dict
        ``what``, ``figure``, ``basis`` each.
    """
    unit = "armed" if figures["basis"] == "armed" else "calendar"
    basis = (
        "nights with an alarm; armed, not bypassed, shut out or set aside, covered by the log"
        if unit == "armed"
        else "nights with an alarm, per calendar day: arming is not recorded"
    )

    def counted(lead: str) -> str:
        days, nights, hours = (figures[f"{lead}{x}"] for x in ("days", "nights", "hours"))
        return f"{days} in {nights} nights ({hours:.0f} {unit} hours)"

    told = [
        ("alarm nights in this time", counted(""), basis),
        ("alarm nights at other times", counted("before_"), basis),
        (
            "it became more frequent between",
            f"{figures['low']} and {figures['high']}",
            "change point of a Poisson process; alarms within five days count once",
        ),
    ]
    told += [
        ("near that date", one, "visits file, zone schedule, or this log")
        for one in figures["near"][:4]
    ]
    if figures["schedule"]:
        old, new = figures["schedule"]
        told.append(
            ("hours at risk a night", f"{old:.1f} before, {new:.1f} after", "28 nights either side")
        )
    if figures["season_p"] > DISAGREE:
        much = f"where it alone may make alarms {figures['season']:.0f} times as frequent"
        chance = f"p = {figures['season_p']:.2g} {much}"
        told.append(("a season could do the same", chance, "every phase of the year tried"))
    if figures["laplace_p"] is not None and figures["hdbk_p"] is not None:
        laplace, hdbk = figures["laplace_p"], figures["hdbk_p"]
        apart = (laplace <= DISAGREE) != (hdbk <= DISAGREE)
        told.append(
            (
                "trend over the whole log",
                f"Laplace p = {laplace:.2g}, MIL-HDBK-189 p = {hdbk:.2g}"
                + (": the two disagree" if apart else ""),
                "two-sided; NIST/SEMATECH e-Handbook 8.2.3.4",
            )
        )
    return [{"what": what, "figure": figure, "basis": basis} for what, figure, basis in told]
