"""What entries and exits have in common: who, how often, of how many, how late."""

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import (
    days,
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
from eventlab.analysis.who import PERSON, SHARED, codes
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Subject
from eventlab.settings import Settings
from eventlab.stats import adjusted, binomial_tail, rate_ratio, share_interval


def acts(ground: Ground, kind: Kind) -> pl.DataFrame:
    """Return the openings or closings, one row for each act of a person.

    Areas that one person arms or disarms within a minute are one act.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    kind : {Kind.ARM, Kind.DISARM}
        Which of the two.

    Returns
    -------
    polars.DataFrame
        ``site``, ``area``, ``person``, ``at``.
    """
    told = (pl.col("kind") == kind) & ~pl.col("aside") & (pl.col("act") == pl.col("occurrence"))
    return (
        ground.occurrences.lazy()
        .filter(told)
        .select("site", "area", "person", at="placed")
        .collect()
    )


def tell(
    cases: pl.DataFrame,
    every: pl.DataFrame,
    ground: Ground,
    settings: Settings,
    *,
    pattern: Pattern,
    least: float,
    noun: str,
) -> pl.DataFrame:
    """Turn late entries or exits into findings per site or area, and per person.

    Parameters
    ----------
    cases : polars.DataFrame
        One row each: ``site``, ``area``, ``person``, ``at``, ``local``, ``over_s`` (seconds from
        the alarm to the disarm; null where not known), ``off_route`` (Boolean).
    every : polars.DataFrame
        All entries or exits: ``site``, ``area``, ``person``, ``at``.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``overrun_days``, ``overrun_usual``, ``overrun_chance``, ``still_days``, and as `who.codes`
        needs them.
    pattern : Pattern
        What it is called.
    least : float
        Cases within ``overrun_days`` that make a finding, where they are more than the usual share
        of all entries or exits brings.
    noun : str
        ``entries`` or ``exits``.

    Returns
    -------
    polars.DataFrame
        FOUND columns. ``ratio`` of a person is the share against all other people of the site,
        tested in the family of that site's people. Where a code is shared nothing is told by
        person, and this is said.
    """
    if cases.is_empty():
        return found(cases, pattern)
    known_codes = codes(ground, settings)
    shared = known_codes.filter(pl.col("what") == SHARED).select("site", shared=pl.lit(value=True))
    machines = known_codes.filter(~pl.col("what").is_in([PERSON, SHARED]))
    several = (
        ground.armed.filter(pl.col("area").is_not_null())
        .group_by("site")
        .agg(areas=pl.col("area").n_unique())
        .filter(pl.col("areas") > 1)
        .select("site", several=pl.lit(value=True))
    )
    told = ground.powers.filter((pl.col("power") == "arming") & (pl.col("value") == "all"))
    known = told.select("site").unique().with_columns(shares=pl.lit(value=True))
    cases = (
        cases.join(several, on="site", how="left")
        .join(grains(ground), on="site", how="left")
        .with_columns(area=pl.when(pl.col("several")).then("area"))
    )
    every = every.join(several, on="site", how="left").with_columns(
        area=pl.when(pl.col("several")).then("area")
    )
    places = _counted(cases, every, ["site", "area"], least, settings).with_columns(
        subject_kind=pl.when(pl.col("area").is_null())
        .then(pl.lit(str(Subject.SITE)))
        .otherwise(pl.lit(str(Subject.AREA))),
        subject=pl.coalesce("area", "site"),
        compared=pl.lit(value=False),
    )
    own, acts_own = (
        frame.filter(pl.col("person").is_not_null())
        .join(shared, on="site", how="anti")
        .join(machines, on=["site", "person"], how="anti")
        for frame in (cases, every)
    )
    people = _counted(own, every, ["site", "person"], least, settings).with_columns(
        subject_kind=pl.lit(str(Subject.PERSON)), subject="person"
    )
    people = people.join(
        _against_others(own, acts_own), on=["site", "person"], how="left"
    ).with_columns(compared=pl.col("p_value").is_not_null())
    both = pl.concat([places, people], how="diagonal")
    if both.is_empty():
        return found(both, pattern)
    both = (
        both.join(known, on="site", how="left")
        .join(shared, on="site", how="left")
        .join(ends(ground), on="site", how="left")
        .with_columns(pl.col("shares").fill_null(value=False) & (pl.col("acts") > 0))
    )
    share = share_interval(
        both["events"].to_numpy(), both.select(pl.max_horizontal("acts", "events")).to_series()
    )
    both = both.with_columns(
        share=pl.Series(share.estimate), low=pl.Series(share.low), high=pl.Series(share.high)
    )
    return found(
        both.with_columns(
            evidence(
                "latest",
                line(
                    f"late {noun} of all {noun}",
                    number(pl.col("events")) + " of " + number(pl.col("acts")),
                    "openings and closings in this log",
                    when=pl.col("shares"),
                ),
                line(
                    "time from the alarm to the disarm",
                    pl.lit("half within ")
                    + told_s(pl.col("over_median"), pl.col("grain"))
                    + ", at most "
                    + told_s(pl.col("over_max"), pl.col("grain")),
                    "alarm and disarm rows, no finer than this log's clock",
                    when=pl.col("over_median").is_not_null(),
                ),
                line(
                    "who",
                    pl.col("who"),
                    "user numbers in the log",
                    when=(pl.col("subject_kind") != Subject.PERSON) & pl.col("shared").is_null(),
                ),
                line(
                    "who",
                    "not told by person",
                    "one code does most openings on all weekdays: it is shared",
                    when=pl.col("shared"),
                ),
            ),
            figures(
                {
                    "n": pl.col("events"),
                    "acts": pl.when(pl.col("shares")).then("acts"),
                    "share": pl.when(pl.col("shares")).then("share"),
                    "share_low": pl.when(pl.col("shares")).then("low"),
                    "share_high": pl.when(pl.col("shares")).then("high"),
                    "over_median_s": pl.col("over_median"),
                    "over_max_s": pl.col("over_max"),
                    "grain": pl.col("grain"),
                    "within_15_s": pl.col("quick"),
                    "off_route": pl.col("off_route"),
                    "within": pl.col("most"),
                    "window_days": pl.lit(settings.overrun_days),
                    "who": pl.when(pl.col("shared").is_null()).then("who"),
                }
            ),
            standing=goes_on(settings),
            rate=pl.when(pl.col("shares")).then("share"),
        ),
        pattern,
    )


def goes_on(settings: Settings) -> pl.Expr:
    """Say whether it may be taken to go on: quiet at the end no longer than it often is.

    Of waiting times without memory one in twenty is longer than three times their mean.

    Parameters
    ----------
    settings : Settings
        ``still_days``.

    Returns
    -------
    polars.Expr
        Over ``since``, ``until``, ``events`` and ``end``.
    """
    quiet = pl.col("end") - pl.col("until")
    usual = (pl.col("until") - pl.col("since")) / (pl.col("events") - 1).clip(1)
    return (quiet <= days(settings.still_days)) | (quiet <= 3 * usual)


def _counted(
    cases: pl.DataFrame, every: pl.DataFrame, by: list[str], least: float, settings: Settings
) -> pl.DataFrame:
    """Count the cases of each place or person and keep those that reach the bar."""
    window = settings.overrun_days * 86400
    person = user(pl.col("person"))
    busy = person.unique_counts().max()
    counted = (
        cases.with_columns(most=most_within(cases, by, window))
        .sort(*by, "at")
        .group_by(by, maintain_order=True)
        .agg(
            since=pl.col("at").first(),
            until=pl.col("at").last(),
            events=pl.len().cast(pl.Int64),
            most=pl.col("most").max(),
            over_median=pl.col("over_s").median(),
            over_max=pl.col("over_s").max(),
            grain=pl.col("grain").max(),
            quick=(pl.col("over_s") <= 15).sum().cast(pl.Int64),
            off_route=pl.col("off_route").sum().cast(pl.Int64),
            who=person.mode().sort().first() + ": " + number(busy),
            latest=line(
                pl.lit("late ") + wall(pl.col("local")),
                person
                + pl.when(pl.col("over_s").is_not_null())
                .then(
                    ", disarmed " + told_s(pl.col("over_s"), pl.col("grain")) + " after the alarm"
                )
                .otherwise(pl.lit("")),
                "rows of that evening or morning",
            ).tail(5),
        )
        .filter(pl.col("most") >= least)
    )
    total = every.group_by(by).agg(
        acts=pl.len().cast(pl.Int64), first=pl.col("at").min(), last=pl.col("at").max()
    )
    both = counted.join(total, on=by, how="left", nulls_equal=True)
    span = seconds(pl.col("last") - pl.col("first")).clip(1)
    inside = pl.col("acts") * (window / span).clip(upper_bound=1)
    # What is not told of all entries or exits cannot be held against them.
    tried = both.select(pl.max_horizontal(inside.ceil(), "most").fill_null(0)).to_series()
    chance = binomial_tail(both["most"].to_numpy(), tried.to_numpy(), settings.overrun_usual)
    ordinary = pl.col("acts").is_not_null() & (pl.Series(chance) > settings.overrun_chance)
    return both.filter(~ordinary).drop("first", "last").with_columns(pl.col("acts").fill_null(0))


def _against_others(cases: pl.DataFrame, every: pl.DataFrame) -> pl.DataFrame:
    """Compare each person's share with that of all other people of the site, exactly."""
    one = (
        every.filter(pl.col("person").is_not_null())
        .group_by("site", "person")
        .agg(acts=pl.len().cast(pl.Int64))
        .join(
            cases.group_by("site", "person").agg(late=pl.len().cast(pl.Int64)),
            on=["site", "person"],
            how="left",
        )
        .with_columns(pl.col("late").fill_null(0))
        .with_columns(
            others=pl.col("acts").sum().over("site") - pl.col("acts"),
            others_late=pl.col("late").sum().over("site") - pl.col("late"),
        )
        .filter(pl.col("others") > 0)
        .sort("site", "person")
    )
    got = rate_ratio(one["late"], one["acts"], one["others_late"], one["others"])
    q = adjusted(got.p_mid, one["site"].to_numpy())
    finite = pl.col("ratio", "ratio_low", "ratio_high")
    return one.with_columns(
        ratio=pl.Series(got.ratio),
        ratio_low=pl.Series(got.low),
        ratio_high=pl.Series(got.high),
        p_value=pl.Series(got.p_mid),
        q_value=pl.Series(q),
        looks=pl.len().over("site").cast(pl.Int64),
    ).select(
        "site",
        "person",
        pl.when(finite.is_finite()).then(finite),
        "p_value",
        "q_value",
        "looks",
    )
