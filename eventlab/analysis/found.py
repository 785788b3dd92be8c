"""How an analysis hands over what it found: figures, keys and lines of evidence."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Literal

import polars as pl

from eventlab.analysis.kept import kept
from eventlab.ground import Ground, Power
from eventlab.schema import EVIDENCE, FOUND, Kind, Pattern, Phase, conform, empty

AsofJoinStrategy = Literal["backward", "forward", "nearest"]

MOMENT = "%-d %b %Y %H:%M"
_MINUTE_S = 60
SECOND = "%-d %b %Y %H:%M:%S"


def days(number: float) -> timedelta:
    """Return so many days."""
    return timedelta(days=number)


def hours(span: pl.Expr) -> pl.Expr:
    """Turn a duration into hours; rounded, so that no figure hangs on how rows are chunked."""
    return (span.dt.total_microseconds() / 3.6e9).round(6)


def seconds(span: pl.Expr) -> pl.Expr:
    """Turn a duration into seconds."""
    return span.dt.total_microseconds() / 1e6


def clock(local: pl.Expr, grain: pl.Expr) -> pl.Expr:
    """Write a wall time with its seconds, where its clock tells any."""
    return pl.when(grain < _MINUTE_S).then(wall(local, SECOND)).otherwise(wall(local))


def wall(local: pl.Expr, form: str = MOMENT) -> pl.Expr:
    """Write a wall time for people; ``at a time not known`` where it is null."""
    return local.dt.strftime(form).fill_null("at a time not known")


def number(value: pl.Expr, digits: int = 0) -> pl.Expr:
    """Write a number with so many decimals."""
    if digits == 0:
        return value.round(0).cast(pl.Int64).cast(pl.String)
    return value.round(digits).cast(pl.String).str.replace(r"\.0+$", "")


def told_s(value: pl.Expr, grain: pl.Expr) -> pl.Expr:
    """Write seconds no finer than the clock that told them: ``42 s``, ``about 2 min``."""
    whole = (value / grain).round(0).clip(1) * grain
    minutes = (value / 60).ceil().clip(1)
    return (
        pl.when(grain.fill_null(1) <= 1)
        .then(number(value) + " s")
        .when(grain < _MINUTE_S)
        .then(pl.lit("about ") + number(whole) + " s")
        .otherwise(pl.lit("about ") + number(minutes) + " min")
    )


@kept
def grains(ground: Ground) -> pl.DataFrame:
    """Say what one step of each site's clocks stands for: ``site``, ``grain`` [s], the coarsest."""
    told = ground.powers.filter(pl.col("power") == Power.GRAIN)
    return told.group_by("site").agg(grain=pl.col("value").cast(pl.Float64).max())


def count(value: pl.Expr, one: str, many: str | None = None) -> pl.Expr:
    """Write a count with its noun: ``1 burst``, ``3 bursts``."""
    several = many or f"{one}s"
    noun = pl.when(value == 1).then(pl.lit(f" {one}")).otherwise(pl.lit(f" {several}"))
    return number(value) + noun


def spoken(kind: pl.Expr) -> pl.Expr:
    """Write a kind as people say it: ``mains loss``."""
    return kind.cast(pl.String).str.replace_all("-", " ")


def user(person: pl.Expr) -> pl.Expr:
    """Tell a person by number; where the log knows only a name, the name is not passed on."""
    return (
        pl.when(person.is_null())
        .then(pl.lit("user not told"))
        .when(person.str.contains(r"^\d+$"))
        .then(pl.lit("user ") + person)
        .otherwise(pl.lit("a user told by name"))
    )


def asof(
    left: pl.DataFrame,
    right: pl.DataFrame,
    at: str,
    other: str,
    *,
    by: Sequence[str] = ("site",),
    strategy: AsofJoinStrategy = "backward",
    strict: bool = False,
) -> pl.DataFrame:
    """Join each row with the nearest row of its group before or after it; order is kept.

    Parameters
    ----------
    left, right : polars.DataFrame
        Any order.
    at, other : str
        Columns of the time, left and right.
    by : sequence of str
        Columns that must be equal.
    strategy : {'backward', 'forward', 'nearest'}
        Where to look from the left row.
    strict : bool, default False
        Leave out what happened at the same moment.

    Returns
    -------
    polars.DataFrame
        The rows of ``left`` in their order, with the columns of ``right``.
    """
    if left.is_empty() or right.is_empty():
        return left.with_columns(
            pl.lit(None, kind).alias(f"{name}_right" if name in left.columns else name)
            for name, kind in right.schema.items()
            if name not in by
        )
    # Of many rows only keys are sorted, and only where need be; wide rows stay where they are.
    few = left.height < _FEW
    keys = left if few else left.select(*by, at)
    moved = few or not _ordered(keys, by[0], at)
    asked = keys.with_row_index(_ROW).sort(at) if moved else keys
    near = asked.join_asof(
        right if _ordered(right, by[0], other) else right.sort(other),
        left_on=at,
        right_on=other,
        by=list(by),
        strategy=strategy,
        allow_exact_matches=not strict,
        coalesce=False,
        check_sortedness=False,
    )
    if moved:
        near = near.sort(_ROW).drop(_ROW)
    if few:
        return near
    told = near.drop(keys.columns)
    twice = [name for name in told.columns if name in left.columns]
    return left.hstack(told.rename({name: f"{name}_right" for name in twice}))


_ROW = "asof_row"
_FEW = 1_000
"""So few rows are sorted sooner than looked through."""


def _ordered(frame: pl.DataFrame, group: str, at: str) -> bool:
    """Tell whether rows stand by group and time: all that is asked of them inside a group."""
    if frame.height < _FEW:
        return False
    first, then = pl.col(group), pl.col(at)
    begins = (first != first.shift()).fill_null(value=True)
    names = first.filter(begins)
    apart = (names > names.shift()).fill_null(value=False).slice(1).all()
    later = (begins | (then >= then.shift())).fill_null(value=False).all()
    told = frame.select(apart & later)
    return bool(told.item())


def line(
    what: str | pl.Expr,
    figure: str | pl.Expr,
    basis: str | pl.Expr,
    *,
    when: pl.Expr | None = None,
) -> pl.Expr:
    """Make one line of evidence; null, so left out, where ``when`` does not hold."""
    told = pl.struct(
        what=pl.lit(what) if isinstance(what, str) else what,
        figure=pl.lit(figure) if isinstance(figure, str) else figure,
        basis=pl.lit(basis) if isinstance(basis, str) else basis,
    )
    return told if when is None else pl.when(when).then(told)


def evidence(*lines: pl.Expr | str) -> pl.Expr:
    """Join lines, and columns of lists of lines, to ``evidence``; null ones are left out."""
    return pl.concat_list(lines).list.drop_nulls().cast(EVIDENCE).alias("evidence")


def figures(values: Mapping[str, pl.Expr]) -> pl.Expr:
    """Pack what the sentence needs into the JSON column ``figures``."""
    named = [value.alias(name) for name, value in values.items()]
    return pl.struct(named).struct.json_encode().alias("figures")


def found(frame: pl.DataFrame, pattern: Pattern) -> pl.DataFrame:
    """Give a frame of found things the columns of FOUND."""
    if frame.is_empty():
        return empty(FOUND)
    return conform(frame.with_columns(pattern=pl.lit(str(pattern))), FOUND)


def coded(keys: Sequence[str]) -> pl.Expr:
    """Give each combination of texts a whole number, by which rows are grouped far sooner.

    Parameters
    ----------
    keys : sequence of str
        Columns of texts; null is a text too.

    Returns
    -------
    polars.Expr
        Int64, the same in rows whose texts are the same; the numbers themselves mean nothing.
    """
    whole = pl.lit(0, pl.Int64)
    for key in keys:
        one = pl.col(key).cast(pl.Categorical).to_physical().cast(pl.Int64).fill_null(-1) + 1
        whole = whole * (one.max() + 1) + one
    return whole


def begun(episodes: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Say when the first alarms of episodes came.

    Parameters
    ----------
    episodes : polars.DataFrame
        Rows of ``Ground.episodes``.
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        ``site``, ``first_occurrence``, ``at``, ``local``.
    """
    key = ["site", "first_occurrence"]
    return (
        ground.occurrences.lazy()
        .filter((pl.col("kind") != Kind.ACTIVATION) & (pl.col("phase") != Phase.END))
        .select("site", "at", "local", first_occurrence="occurrence")
        .join(episodes.lazy().select(key), on=key, how="semi", maintain_order="left")
        .collect()
    )


@kept
def ends(ground: Ground) -> pl.DataFrame:
    """Say up to when the logs of each site reach: ``site``, ``end``."""
    covered = ground.coverage.group_by("site").agg(end=pl.col("until").max())
    return (
        ground.sites.select("site", "last")
        .join(covered, on="site", how="left")
        .select("site", end=pl.max_horizontal("end", "last"))
    )
