"""A timer that arms while people are inside."""

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import (
    ends,
    evidence,
    figures,
    found,
    grains,
    line,
    number,
    seconds,
    told_s,
    user,
    wall,
)
from eventlab.analysis.kept import kept
from eventlab.analysis.overruns import goes_on
from eventlab.analysis.who import codes
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Mode, Pattern, Subject, Use
from eventlab.settings import Settings

_OUTSIDE = (Use.ENTRY, Use.PERIMETER, Use.OUTDOOR, Use.ALL_HOURS, Use.TECHNICAL, Use.KEY)
_RULE = "an interior point within {:.0f} min of the arming, disarmed by a user within {:.0f} min"


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose timer arms while people are inside.

    Each case hangs on the time since arming, so it moves with the schedule, and somebody who was
    there disarms at once. A heater or the sun does neither.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``inside_s``, ``inside_off_s`` [s], ``inside_min`` within ``overrun_days``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site, of logs that tell all arming. ``rate`` is the share of
        the armings by a timer.
    """
    del context
    own = inside(ground, settings).filter("timed")
    window = settings.overrun_days * 86400
    cases = (
        own.with_columns(most=most_within(own, ["site"], window))
        .join(grains(ground), on="site", how="left")
        .sort("site", "at")
        .group_by("site", maintain_order=True)
        .agg(
            since=pl.col("at").first(),
            until=pl.col("at").last(),
            events=pl.len().cast(pl.Int64),
            most=pl.col("most").max(),
            half_s=pl.col("armed_s").median(),
            last_s=pl.col("armed_s").max(),
            off_s=pl.col("over_s").median(),
            grain=pl.col("grain").max(),
            hours=pl.col("armed_local").dt.strftime("%H:%M").n_unique().cast(pl.Int64),
            latest=line(
                pl.lit("armed ") + wall(pl.col("armed_local")),
                pl.lit("point ")
                + pl.col("zone").fill_null("not told")
                + " "
                + told_s(pl.col("armed_s"), pl.col("grain"))
                + " later, disarmed by "
                + user(pl.col("person"))
                + " "
                + told_s(pl.col("over_s"), pl.col("grain"))
                + " after it",
                "rows of that evening",
            ).tail(5),
        )
        .filter(pl.col("most") >= settings.inside_min)
    )
    if cases.is_empty():
        return found(cases, Pattern.ARMED_ON_PEOPLE)
    timed = armings(ground, settings).filter("timed").group_by("site")
    full = cases.join(
        timed.agg(armings=pl.len().cast(pl.Int64)), on="site", how="left", maintain_order="left"
    ).join(ends(ground), on="site", how="left", maintain_order="left")
    rule = _RULE.format(settings.inside_s / 60, settings.inside_off_s / 60)
    return found(
        full.with_columns(
            evidence(
                line(
                    "armed on people",
                    number(pl.col("events")) + " of " + number(pl.col("armings")) + " times",
                    rule,
                ),
                line(
                    "from the arming to the alarm",
                    pl.lit("half within ")
                    + told_s(pl.col("half_s"), pl.col("grain"))
                    + ", at most "
                    + told_s(pl.col("last_s"), pl.col("grain")),
                    "it hangs on the time since arming, at "
                    + pl.when(pl.col("hours") > 1)
                    .then(number(pl.col("hours")) + " different hours")
                    .otherwise(pl.lit("one hour"))
                    + " of the clock",
                ),
                "latest",
            ),
            figures(
                {
                    "n": pl.col("events"),
                    "armings": pl.col("armings"),
                    "half_s": pl.col("half_s"),
                    "off_s": pl.col("off_s"),
                    "grain": pl.col("grain"),
                }
            ),
            standing=goes_on(settings),
            rate=pl.col("events") / pl.col("armings"),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.ARMED_ON_PEOPLE,
    )


def armings(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return every arming that the log tells, and whether a timer did it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As `who.codes` needs them.

    Returns
    -------
    polars.DataFrame
        ``site``, ``area``, ``armed``, ``armed_local``, ``mode``, ``person``, ``timed``.
    """
    machines = codes(ground, settings).filter(pl.col("what") == "timer")
    return (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.ARM, ~pl.col("aside"))
        .select("site", "area", "mode", "person", armed="placed", armed_local="local")
        .join(
            machines.lazy().select("site", "person", machine=pl.lit(value=True)),
            on=["site", "person"],
            how="left",
            maintain_order="left",
        )
        .with_columns(
            timed=(pl.col("mode") == Mode.TIMED).fill_null(value=False)
            | pl.col("machine").fill_null(value=False)
        )
        .drop("machine")
        .collect()
    )


@kept
def inside(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the alarms of people who were inside when the place was armed.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``inside_s``, ``inside_off_s``, ``exit_unsettled_s`` [s].

    Returns
    -------
    polars.DataFrame
        ``site``, ``area``, ``zone``, ``at``, ``armed``, ``armed_local``, ``armed_s``, ``over_s``
        [s], ``person`` (who disarmed), ``armed_by``, ``timed``. After an arming by a person the
        exit time is left out: that is somebody leaving.
    """
    reliable = ground.sites.filter(pl.col("arming_reliable").fill_null(value=False))
    uses = (
        ground.points.filter(pl.col("zone").is_not_null())
        .group_by("site", first_zone="zone")
        .agg(pl.col("use").drop_nulls().first(), pl.col("entry_route").any(), all="all_hours")
        .with_columns(always=pl.col("all").list.any())
    )
    arms = armings(ground, settings).unique(["site", "armed"], keep="first", maintain_order=True)
    armed_s = seconds(pl.col("since") - pl.col("armed_at"))
    over_s = seconds(pl.col("disarmed_at") - pl.col("since"))
    person = pl.col("disarmed_by").is_not_null()
    return (
        ground.episodes.filter(~pl.col("life_safety"), ~pl.col("aside"), ~pl.col("doubtful"))
        .join(reliable.select("site"), on="site", how="semi")
        .join(uses, on=["site", "first_zone"], how="left", nulls_equal=True)
        .with_columns(armed_s=armed_s, over_s=over_s)
        .filter(
            pl.col("armed_s").is_between(0, settings.inside_s),
            pl.col("over_s").is_between(0, settings.inside_off_s),
            ~pl.col("use").is_in(list(_OUTSIDE)).fill_null(value=False),
            ~pl.col("always").fill_null(value=False),
            ~pl.col("kinds").list.contains("entry-exit-alarm"),
            person,
        )
        .join(
            arms.select("site", "armed_local", "timed", armed_at="armed"),
            on=["site", "armed_at"],
            how="inner",
        )
        .filter(pl.col("timed") | (pl.col("armed_s") > settings.exit_unsettled_s))
        .select(
            *("site", "area", "armed_local", "armed_s", "over_s", "timed", "armed_by"),
            zone="first_zone",
            at="since",
            armed="armed_at",
            person="disarmed_by",
        )
        .sort("site", "at")
    )
