"""Who opened or closed: a person by number, or what is no person."""

import polars as pl

from eventlab.analysis.found import user
from eventlab.schema import Mode

_SYSTEM = r"^(?:0+|9{3,})$"
"""Numbers that stand for the system itself (common practice)."""
_MACHINES = {
    str(Mode.TIMED): "the timer",
    str(Mode.REMOTE): "a remote command",
    str(Mode.KEY): "a key switch",
}
CLOCKWORK_ACTS = 10
CLOCKWORK_SHARE = 0.8
"""Of so many acts so large a share within a minute of the same time of day: no person does that."""


def clockwork(acts: pl.DataFrame) -> pl.DataFrame:
    """Find the numbers that act by the clock, as no person can.

    Parameters
    ----------
    acts : polars.DataFrame
        ``site``, ``person``, ``what`` (opening or closing), ``wall``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``person``, ``what``.
    """
    minute = pl.col("wall").dt.hour().cast(pl.Int32) * 60 + pl.col("wall").dt.minute()
    counts = (
        acts.drop_nulls("person")
        .with_columns(minute=minute)
        .group_by("site", "person", "what", "minute")
        .agg(acts=pl.len())
        .sort("site", "person", "what", "minute")
    )
    key = ["site", "person", "what"]
    beside = counts.select(*key, minute=pl.col("minute") - 1, beside="acts")
    return (
        counts.join(beside, on=[*key, "minute"], how="left")
        .with_columns(near=pl.col("acts") + pl.col("beside").fill_null(0))
        .group_by(key)
        .agg(acts=pl.col("acts").sum(), near=pl.col("near").max())
        .filter(
            (pl.col("acts") >= CLOCKWORK_ACTS)
            & (pl.col("near") >= CLOCKWORK_SHARE * pl.col("acts"))
        )
        .select(key)
        .sort(key)
    )


def told(person: pl.Expr, mode: pl.Expr, by_clock: pl.Expr) -> pl.Expr:
    """Say who acted, in words."""
    machine = mode.replace_strict(list(_MACHINES), list(_MACHINES.values()), default=None)
    number = user(person) + " (acts by the clock, as no person does)"
    return (
        pl.when(machine.is_not_null())
        .then(machine)
        .when(person.str.contains(_SYSTEM))
        .then(pl.lit("the system"))
        .when(by_clock & person.is_not_null())
        .then(number)
        .otherwise(user(person))
    )


def nobody(person: pl.Expr, mode: pl.Expr, by_clock: pl.Expr) -> pl.Expr:
    """Tell whether no person acted: the timer, a remote command, the system, a clock.

    A key switch is turned by somebody, though nobody knows by whom.
    """
    machine = mode.is_in([str(Mode.TIMED), str(Mode.REMOTE)]).fill_null(value=False)
    return machine | person.str.contains(_SYSTEM).fill_null(value=False) | by_clock
