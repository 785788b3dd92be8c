"""What the clocks of a site's logs are worth, and the times that right ones would have told.

The rows of the store stay as they were read: what one export tells of its clock may stand in
another one, and exports unite by the times that they tell. Corrected here is what analyses see.
"""

from dataclasses import dataclass

import polars as pl

from eventlab.context import Context
from eventlab.ground import clock_lost, clock_rule, clock_sets, clock_witness
from eventlab.ground.clock_lost import STRETCH
from eventlab.ground.clock_pieces import TWO, pieces
from eventlab.ground.clock_witness import STEADY
from eventlab.ground.order import newest_first
from eventlab.ground.words import ClockRule, ClockSign
from eventlab.meaning.clock import to_utc
from eventlab.schema import TIMING, Kind, Timing, Witness, conform
from eventlab.settings import Settings

SAID = "a person said so"
_MICRO = 1e6
_DAY_S = 86_400.0


@dataclass(frozen=True)
class Clocked:
    """Events with the times that right clocks would have told.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows in the order given; ``wall`` is never changed.
    stretches : polars.DataFrame
        ``STRETCH``: what was seen of each clock, over which time (UTC, as corrected).
    rules : polars.DataFrame
        ``JUDGED``: by which rule each clock runs, and how that is known.
    """

    events: pl.DataFrame
    stretches: pl.DataFrame
    rules: pl.DataFrame


def clocked(events: pl.DataFrame, context: Context, settings: Settings) -> Clocked:
    """Find clocks that are wrong and put the times of their rows right where that can be told.

    First the rule (a person's word, then openings, then the other witness), then clocks that
    lost the time, then what is left between the two witnesses; where there is one witness only,
    what the settings of the clock tell.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows, by site, export or time.
    context : Context
        Time zones, and the rule that a person said (column ``clock``).
    settings : Settings
        ``clock_bar_s``, ``clock_drift_most_s``, ``rule_days``, ``rule_near_min``, ``rule_pairs``.

    Returns
    -------
    Clocked
        Corrected rows are ``shifted``; rows between two states of a clock, of which nobody knows
        which held, are ``doubtful``.
    """
    sites = context.sites.select("site", "time_zone", "clock").unique("site", keep="last")
    zones = _zones(events, sites)
    rules = _said(zones, events)
    routine = clock_rule.by_routine(events, zones, settings)
    rules = pl.concat([rules, routine.join(rules, on=["site", "witness"], how="anti")])
    numbered = events.with_row_index("clock_row").with_columns(read_at="at")
    told = _by_rule(numbered, rules, zones)
    two, odd = _tell_more(events)
    agreed = clock_witness.agreed(told.filter(_of(two) & ~_of(odd)), settings)
    here = (_of(two) | _of(odd)) & ~_of(pl.Series([one.site for one in agreed], dtype=pl.String))
    closely = _ordered(told.lazy().filter(here).select(_READ).collect(), newest_first(events))
    some, rules, stretches = _looked_at(closely, agreed, rules, zones, settings)
    if (some["timing"] == Timing.SHIFTED).any():
        place = some["clock_row"]
        told = told.with_columns(
            told[c].scatter(place, some[c]) for c in ("at", "placed", "timing")
        )
    shown = pl.concat([_ruled(rules, told), stretches])
    return Clocked(
        told.drop("clock_row", "read_at"), shown.sort("site", "since", "sign", "witness"), rules
    )


def _of(sites: pl.Series) -> pl.Expr:
    return pl.col("site").is_in(sites.implode()).fill_null(value=False)


def _tell_more(events: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
    """Name the sites with two witnesses, and those with a clock that was set or lost the time."""
    far = (pl.col("wall").dt.replace_time_zone("UTC") - pl.col("placed")).abs() > clock_lost.FAR
    lost = (pl.col("timing") == Timing.DOUBTFUL) & far.fill_null(value=False)
    odd = events.lazy().filter((pl.col("kind") == Kind.CLOCK_SET) | lost).select("site")
    pairs = events.lazy().select("site", "witness").unique()
    two = pairs.filter(pl.col("site").is_duplicated()).select("site")
    told = pl.collect_all([one.unique().drop_nulls() for one in (two, odd)])
    return told[0]["site"], told[1]["site"]


def _looked_at(
    told: pl.DataFrame,
    agreed: list[clock_witness.Seen],
    rules: pl.DataFrame,
    zones: pl.DataFrame,
    settings: Settings,
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Correct the sites that tell more of their clocks than that the two agree."""
    fixed = {
        (site, witness): STEADY if rule == ClockRule.STANDARD and basis != SAID else rule
        for site, witness, rule, basis in rules.select(
            "site", "witness", "rule", "basis"
        ).iter_rows()
        if rule is not None
    }
    seen = [*agreed, *clock_witness.compared(told, zones, settings, fixed)]
    odd = pl.DataFrame(
        [(one.site, *pair, None, None, TWO) for one in seen for pair in one.rules.items()],
        schema=clock_rule.JUDGED,
        orient="row",
    )
    rules = pl.concat([odd, rules.join(odd, on=["site", "witness"], how="anti")])
    told = _by_rule(told, odd, zones)
    steps = clock_lost.sets(told)
    back, resets = clock_lost.lost(told, steps)
    told = _put_back(told, back, zones, rules)
    moved = pieces(seen, told, settings)
    alone = steps.join(moved.select("site").unique(), on="site", how="anti")
    alone = alone.join(resets.select("site", placed="until"), on=["site", "placed"], how="anti")
    moved = pl.concat([moved, clock_sets.corrected(alone, told, zones, settings)])
    told = _moved(told, moved, settings)
    return told.drop("o"), rules, pl.concat([resets, moved.select(list(STRETCH))])


_READ = (
    *("clock_row", "read_at", "site", "witness", "at", "placed", "wall", "timing", "grain"),
    *("kind", "phase", "area", "zone", "person", "text", "source", "row", "piece"),
)
"""What is looked at of the rows of a site that tells more of its clocks."""


def _ordered(events: pl.DataFrame, backward: list[str]) -> pl.DataFrame:
    """Give each row its number in the order in which things happened, export after export.

    Times do not tell that order where a clock was put back: the order of rows does.
    """
    line = pl.when(pl.col("source").is_in(backward)).then(-pl.col("row"))
    sites, files = (pl.Enum(events[c].drop_nulls().unique().sort()) for c in ("site", "source"))
    keys = events.select(
        pl.col("site").cast(sites).to_physical(),
        pl.col("source").cast(files).to_physical(),
        "placed",
        "piece",
        line=line.otherwise("row"),
    ).with_columns(starts=pl.col("placed").min().over("site", "source"))
    order = keys.select(pl.arg_sort_by("site", "starts", "source", "line", "piece")).to_series()
    return events[order].with_columns(o=pl.int_range(pl.len(), dtype=pl.Int64))


def _zones(events: pl.DataFrame, sites: pl.DataFrame) -> pl.DataFrame:
    """Give the sites of the events their zone and what its clock is without summer time [s]."""
    here = events.select("site").unique().drop_nulls().join(sites, on="site", how="left")
    if events.is_empty() or here["time_zone"].null_count() == here.height:
        return here.with_columns(standard_s=pl.lit(None, pl.Int32)).sort("site")
    year = pl.duration(days=400)
    span = events.select(first=pl.col("placed").min() - year, last=pl.col("placed").max() + year)
    turns = clock_rule.changes_of(here["time_zone"], span["first"][0], span["last"][0])
    usual = turns.group_by("time_zone").agg(pl.col("standard_s").min())
    return here.join(usual, on="time_zone", how="left").sort("site")


def _said(zones: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Take the rule of a panel's clock that a person said."""
    known = [rule.value for rule in ClockRule if rule is not ClockRule.OPEN]
    said = zones.filter(pl.col("clock").is_in(known))
    panels = (
        events.lazy()
        .filter(
            pl.col("site").is_in(said["site"].unique().implode())
            & (pl.col("witness") == Witness.PANEL)
        )
        .select("site")
        .unique()
        .collect()
    )
    said = said.join(panels, on="site", how="semi")
    return conform(
        said.select("site", witness=pl.lit(Witness.PANEL.value), rule="clock", basis=pl.lit(SAID)),
        clock_rule.JUDGED,
    )


def _by_rule(events: pl.DataFrame, rules: pl.DataFrame, zones: pl.DataFrame) -> pl.DataFrame:
    """Read again the wall times of clocks that do not follow their zone.

    Rows whose text told its own shift from UTC stay; so do those of lost clocks.
    """
    steady = rules.filter(pl.col("rule").is_in([ClockRule.STANDARD.value, ClockRule.UTC.value]))
    steady = steady.join(zones, on="site").filter(
        (pl.col("rule") == ClockRule.UTC.value) | pl.col("standard_s").is_not_null()
    )
    if steady.is_empty():
        return events
    shift = pl.when(pl.col("rule") == ClockRule.UTC.value).then(0).otherwise("standard_s")
    rows = events.with_columns(pl.col("witness").cast(pl.String)).join(
        steady.select("site", "witness", "time_zone", shift_s=shift.cast(pl.Int64)),
        on=["site", "witness"],
        maintain_order="left",
    )
    sure = clock_rule.as_by_zone(rows.filter(pl.col("read_at").is_not_null()), "read_at")
    # A wall time that the zone skips, or tells twice, is plain by a clock that never changes.
    near = (pl.col("wall").dt.replace_time_zone("UTC") - pl.col("placed")).abs() <= pl.duration(
        days=2
    )
    again = pl.concat(
        [sure, rows.filter(pl.col("read_at").is_null() & near.fill_null(value=False))]
    )
    again = again.select(
        "clock_row",
        right=(pl.col("wall") - pl.duration(seconds="shift_s")).dt.replace_time_zone("UTC"),
        known=pl.lit(value=True),
    )
    return _settled(events, again)


def _put_back(
    events: pl.DataFrame, back: pl.DataFrame, zones: pl.DataFrame, rules: pl.DataFrame
) -> pl.DataFrame:
    """Give rows of lost clocks their time."""
    if back.is_empty():
        return events
    rows = events.select("clock_row", "site", "source", "row").join(
        back, on=["site", "source", "row"], maintain_order="left"
    )
    steady = rules.filter(pl.col("witness") == Witness.PANEL.value).select("site", "rule")
    zoned = rows.join(zones, on="site", how="left", maintain_order="left").join(
        steady, on="site", how="left", maintain_order="left"
    )
    standard = pl.col("rule") == ClockRule.STANDARD.value
    zoned = zoned.with_columns(
        time_zone=pl.when(pl.col("rule") == ClockRule.UTC.value)
        .then(pl.lit("UTC"))
        .otherwise(pl.col("time_zone").fill_null("UTC")),
        offset_s=pl.when(standard).then("standard_s").cast(pl.Int32),
    )
    read = to_utc(zoned, wall="local")
    right = pl.coalesce("right", "placed")
    return _settled(events, read.select("clock_row", right=right, known=pl.lit(value=True)))


def _settled(events: pl.DataFrame, again: pl.DataFrame) -> pl.DataFrame:
    """Put new times into events: ``clock_row``, ``right``, ``known`` (else it is doubtful)."""
    if again.is_empty():
        return events
    joined = events.join(again, on="clock_row", how="left", maintain_order="left")
    other = pl.col("right").is_not_null() & (pl.col("right").ne_missing(pl.col("at")))
    timing = (
        pl.when(other & pl.col("known"))
        .then(pl.lit(Timing.SHIFTED.value))
        .when(other)
        .then(pl.lit(Timing.DOUBTFUL.value))
        .otherwise(pl.col("timing").cast(pl.String))
    )
    return joined.with_columns(
        at=pl.when(other & ~pl.col("known")).then(None).otherwise(pl.coalesce("right", "at")),
        placed=pl.coalesce("right", "placed"),
        timing=timing.cast(TIMING),
    ).drop("right", "known")


def _moved(events: pl.DataFrame, moved: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Take from the time of each row the offset of the stretch in which it stands.

    A row between two stretches that differ, of which nobody knows which held, is doubtful.
    """
    if not moved["shifted"].any():
        return events
    line = moved.sort("site", "o_from").with_columns(
        next_s=pl.col("from_s").shift(-1).over("site"),
    )
    rows = (
        events.lazy()
        .filter(
            (pl.col("witness") == Witness.PANEL)
            & pl.col("site").is_in(moved.filter("shifted")["site"].unique().implode())
        )
        .select("clock_row", "site", "o", "at", "placed")
        .sort("o")
        .join_asof(
            line.lazy()
            .select("site", "o_from", "o_to", "since", "from_s", "offset_s", "drift_s_day",
                    "next_s", "shifted", "basis")
            .sort("o_from"),
            left_on="o",
            right_on="o_from",
            by="site",
            check_sortedness=False,
        )
        .filter(pl.col("o_from").is_not_null())
        .collect()
    )  # fmt: skip
    inside = pl.col("o") < pl.col("o_to")
    days = (pl.col("placed") - pl.col("since")).dt.total_microseconds() / _MICRO / _DAY_S
    offset = pl.col("from_s") + pl.col("drift_s_day") * days
    apart = (pl.col("offset_s") - pl.col("next_s")).abs() > settings.clock_bar_s
    unsure = ~inside & (pl.col("basis") == TWO) & apart.fill_null(value=False)
    # What stood since a change of the clocks was right before it.
    begun = (pl.col("placed") >= pl.col("since")) | (pl.col("basis") == TWO)
    right = pl.col("placed") - pl.duration(microseconds=(offset * _MICRO).cast(pl.Int64))
    again = rows.select(
        "clock_row",
        right=pl.when(unsure | (pl.col("shifted") & inside & begun)).then(right),
        known=~unsure & pl.col("at").is_not_null(),
    ).filter(pl.col("right").is_not_null())
    return _settled(events, again)


def _ruled(rules: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Tell, as stretches, which clocks do not follow the rule of their zone."""
    steady = rules.filter(pl.col("rule").is_in([ClockRule.STANDARD.value, ClockRule.UTC.value]))
    if steady.is_empty():
        return pl.DataFrame(schema=STRETCH)
    by = ["site", "witness"]
    moved = (
        events.with_columns(pl.col("witness").cast(pl.String))
        .join(steady.select(by), on=by, how="semi")
        .group_by(by)
        .agg(
            since=pl.col("placed").min(),
            until=pl.col("placed").max(),
            rows=(pl.col("timing") == Timing.SHIFTED).sum().cast(pl.Int64),
        )
    )
    told = steady.join(moved, on=by).select(
        *(*by, "since", "until"),
        sign=pl.lit(ClockSign.RULE.value),
        pairs="rows",
        shifted=pl.lit(value=True),
        basis=pl.concat_str("rule", pl.lit(": "), "basis"),
    )
    return conform(told, STRETCH)
