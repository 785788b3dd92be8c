"""All analyses, one after the other."""

from collections.abc import Callable

import polars as pl

from eventlab.analysis import (
    after_visit,
    armed_on_people,
    battery,
    chattering,
    clock_fault,
    drivers,
    entry_margin,
    exit_overrun,
    faults,
    forced_arming,
    habits,
    intrusion,
    last_door,
    lasting_bypass,
    list_mismatch,
    log_gap,
    lone_opening,
    mains,
    neighbours,
    off_when_closed,
    on_test,
    path_down,
    radio,
    rate_change,
    reports,
    silent_zone,
    siren,
    storm_burst,
    supervision,
    swinger,
)
from eventlab.analysis.folding import folded
from eventlab.analysis.tables import table
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import FOLLOWS, FOUND, LOST_PROTECTION, Pattern, conform
from eventlab.settings import Settings
from eventlab.stats import selected_bar

Analysis = Callable[[Ground, Context, Settings], pl.DataFrame]

ANALYSES: tuple[Analysis, ...] = (
    on_test.find,
    intrusion.find,
    mains.find,
    battery.find,
    supervision.find,
    radio.find,
    faults.tamper_open,
    faults.masked,
    faults.standing,
    silent_zone.find,
    log_gap.find,
    reports.find,
    path_down.find,
    clock_fault.find,
    entry_margin.find,
    exit_overrun.find,
    armed_on_people.find,
    last_door.find,
    off_when_closed.find,
    forced_arming.find,
    lasting_bypass.find,
    habits.find,
    chattering.find,
    drivers.find,
    rate_change.find,
    swinger.find,
    neighbours.find,
    siren.find,
    after_visit.find,
    storm_burst.find,
    list_mismatch.find,
    lone_opening.find,
)
"""Adding an analysis is a module with ``find`` and a line here."""


def run(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Run all analyses over all sites at once.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        What is known of the sites from outside.
    settings : Settings
        The numbers in force.

    Returns
    -------
    polars.DataFrame
        FOUND columns. First what was left on test, then what leaves people or a building
        unprotected now, then what may have been a real intrusion, then what else still holds,
        then the rest; inside each the larger first.
    """
    all_found = pl.concat([find(ground, context, settings) for find in ANALYSES])
    return conform(ranked(confident(folded(one_each(all_found)))), FOUND)


def one_each(found: pl.DataFrame) -> pl.DataFrame:
    """Let one finding stand of a point that comes and goes; it tells what the others saw.

    A point that chatters trips again within one armed period too: chatter says more. What follows
    another point is told beside how it repeats, and stands by itself as well.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns.

    Returns
    -------
    polars.DataFrame
        The same rows, fewer of them, with more evidence.
    """
    key = ["site", "subject_kind", "subject", "area"]
    pattern = pl.col("pattern")
    repeats = pattern.is_in([Pattern.CHATTERING, Pattern.SWINGER])
    beside = (
        found.filter(pattern.is_in([Pattern.SWINGER, Pattern.FOLLOWS_POINT]))
        .select(*key, seen=pattern, seen_line=pl.col("evidence").list.first())
        .join(found.filter(repeats).select(*key, "pattern"), on=key, nulls_equal=True)
        .filter(pl.col("seen") != pattern)
    )
    if beside.is_empty():
        return found
    lines = beside.group_by(*key, "pattern", maintain_order=True).agg(
        seen=pl.col("seen_line"),
    )
    swings = beside.filter(pattern == Pattern.CHATTERING, pl.col("seen") == Pattern.SWINGER)
    return (
        found.join(lines, on=[*key, "pattern"], how="left", nulls_equal=True, maintain_order="left")
        .with_columns(
            evidence=pl.when(pl.col("seen").is_not_null())
            .then(pl.concat_list("evidence", "seen"))
            .otherwise("evidence")
        )
        .drop("seen")
        .join(
            swings.select(*key, pattern=pl.lit(str(Pattern.SWINGER))).unique(),
            on=[*key, "pattern"],
            how="anti",
            nulls_equal=True,
            maintain_order="left",
        )
    )


def confident(found: pl.DataFrame) -> pl.DataFrame:
    """Fill in the measured share right of each pattern at so many events and with what margin.

    Null where it is not measured. The margin is what makes a finding surer or less so beside its
    number: whether the log tells ends at all, so that what began may be over.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns.

    Returns
    -------
    polars.DataFrame
        The same rows with ``confidence``.
    """
    measured = table("confidence").select("pattern", "margin", "events_min", measured="confidence")
    return (
        found.with_row_index("place")
        .with_columns(seen=pl.col("events").fill_null(0), margin=margin())
        .sort("seen")
        .join_asof(
            measured.sort("events_min"),
            left_on="seen",
            right_on="events_min",
            by=["pattern", "margin"],
            check_sortedness=False,
        )
        .sort("place")
        .with_columns(confidence="measured")
        .select(found.columns)
    )


def margin() -> pl.Expr:
    """Give the margin of findings: ``ends untold``, ``open`` (two explanations) or ``plain``."""
    figures = pl.col("figures").str
    told = pl.col("figures").str.json_path_match("$.ends_told").fill_null("true")
    two = figures.json_path_match("$.open").fill_null("false")
    return (
        pl.when(told == "false")
        .then(pl.lit("ends untold"))
        .when(two == "true")
        .then(pl.lit("open"))
        .otherwise(pl.lit("plain"))
    )


def listed(found: pl.DataFrame, sites: int, settings: Settings) -> pl.DataFrame:
    """Leave out of a list over many sites what so many sites bring by chance.

    On a site's own page everything stands that its own family of tests proves. In a list, sites
    are selected first, and inside the selected ones the bar is higher; computed when the list is
    read, so that a finding never depends on which sites are looked at with it.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND or FINDING columns, of all sites of the list.
    sites : int
        How many sites the list is of.
    settings : Settings
        ``driver_q``, ``change_q``.

    Returns
    -------
    polars.DataFrame
        The rows that stand in the list, in their order.

    Notes
    -----
    `stats.selected_bar`. The smallest adjusted p-value of a site is its Simes p-value.
    """
    for patterns, level in (
        (FOLLOWS, settings.driver_q),
        ({Pattern.RATE_CHANGE}, settings.change_q),
    ):
        tested = pl.col("pattern").is_in(list(patterns)) & pl.col("q_value").is_not_null()
        least = found.filter(tested).group_by("site").agg(pl.col("q_value").min())
        bar = selected_bar(least["q_value"].to_numpy(), sites, level)
        found = found.filter(~tested | (pl.col("q_value") <= bar))
    return found


def ranked(found: pl.DataFrame) -> pl.DataFrame:
    """Put findings in the order in which a person should read them.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND or FINDING columns.

    Returns
    -------
    polars.DataFrame
        The same rows.
    """
    stands = pl.col("standing").fill_null(value=False)
    pattern = pl.col("pattern")
    # Many nights of the least telling kind in one finding stand behind each night told by itself.
    gathered = pl.col("until") - pl.col("since") > pl.duration(days=1)
    order = (
        pl.when(stands & (pattern == Pattern.LEFT_ON_TEST))
        .then(0)
        .when(stands & pattern.is_in(list(LOST_PROTECTION)))
        .then(1)
        .when((pattern == Pattern.POSSIBLE_INTRUSION) & ~gathered)
        .then(2)
        .when(pattern == Pattern.POSSIBLE_INTRUSION)
        .then(3)
        .when(stands)
        .then(4)
        .otherwise(5)
    )
    return (
        found.with_columns(rank=order)
        .sort(
            ["rank", "events", "site", "pattern", "subject", "since"],
            descending=[False, True, False, False, False, True],
            nulls_last=True,
        )
        .drop("rank")
    )
