"""Rows that two exports tell differently and that are one: coarser clocks, fields left out.

What stands here looks only at what the exact union left over on both sides: rows that the one
export shows and the store does not hold, and rows that the store holds and the export does not
show. So it never takes part where exports tell a row alike.
"""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.schema import Kind
from eventlab.store.shown import KEY, key

_SAME = ("site", "witness", "kind", "phase")
_SAID = ("area", "zone", "person")
_MICRO = 1_000_000

Flags = npt.NDArray[np.bool_]


def told_otherwise(mine: pl.DataFrame, stored: pl.DataFrame, fresh: Flags) -> Flags:
    """Find rows of an export that are new by their key and yet stored, told in another way.

    Two rows pair where site, witness, kind and phase are the same and

    - one clock is coarser: at the coarser step, with the same area, zone and person; of equal
      rows as many pair as both sides show;
    - a field is not said on one side: area, zone and person are each equal or null on one side,
      and the pairing is the only one for both rows;
    - one side could not tell a repeated hour apart: by wall time.

    Parameters
    ----------
    mine : polars.DataFrame
        The export's rows: ``key`` sources, ``nth`` and ``grain``.
    stored : polars.DataFrame
        Rows of other exports, the same columns.
    fresh : array of bool
        Which of ``mine`` no stored row equals.

    Returns
    -------
    array of bool
        Which of ``mine`` pair with a stored row.
    """
    found = np.zeros(len(fresh), dtype=np.bool_)
    if not fresh.any() or stored.is_empty():
        return found
    left = _form(mine.filter(pl.Series(fresh)).with_columns(index=np.flatnonzero(fresh)))
    step = _coarsest(mine, stored)
    near = [*map(pl.col, _SAME), pl.col("wall_us") // step]
    rest = _form(stored.with_row_index("index")).join(left, on=near, how="semi", nulls_equal=True)
    if rest.is_empty():
        return found
    unread = bool((rest["kind"] == Kind.UNREAD).any())
    shown = mine.select(*key(unread=unread), "nth")
    rest = rest.join(shown, on=[*KEY, "nth"], how="anti", nulls_equal=True)
    for pairs in _passes(left, rest):
        taken = pairs["index"].to_numpy()
        found[taken] = True
        left = left.join(pairs, on="index", how="anti")
        rest = rest.join(pairs, left_on="index", right_on="other", how="anti")
        if left.is_empty() or rest.is_empty():
            break
    return found


def may_differ(rows: pl.DataFrame) -> bool:
    """Tell whether two exports may tell rows of one time differently; costs little.

    Parameters
    ----------
    rows : polars.DataFrame
        Stored columns of several exports, of each key and number one.

    Returns
    -------
    bool
        False where nothing can pair.
    """
    step = pl.col("wall").to_physical() // _coarsest(rows)
    sources = pl.col("source").n_unique()
    return rows.group_by(*_SAME, step).agg(sources).filter(pl.col("source") > 1).height > 0


def coarser(mine: pl.DataFrame, stored: pl.DataFrame) -> list[str]:
    """Name the sites where the store holds rows of a coarser clock at the times of an export.

    Parameters
    ----------
    mine : polars.DataFrame
        Rows of the export that are stored already: ``key`` sources and ``grain``.
    stored : polars.DataFrame
        Rows of other exports, the same columns.

    Returns
    -------
    list of str
        Sites that want to be made anew, so that the finer rows win.
    """
    grain = mine["grain"].min()
    if not isinstance(grain, int):
        return []
    rough = stored.filter(pl.col("grain") > grain)
    if rough.is_empty():
        return []
    step = pl.col("wall").to_physical() // _coarsest(mine, rough)
    near = [*(pl.col(name).cast(pl.String) for name in _SAME), step]
    return rough.join(mine, on=near, how="semi", nulls_equal=True)["site"].unique().to_list()


def _coarsest(*frames: pl.DataFrame) -> int:
    grains = [frame["grain"].max() for frame in frames]
    return max([1, *(grain for grain in grains if isinstance(grain, int))]) * _MICRO


def _form(rows: pl.DataFrame) -> pl.DataFrame:
    """Bring rows to key columns, with wall time, grain and index."""
    unread = bool((rows["kind"] == Kind.UNREAD).any())
    return rows.select(
        *key(unread=unread),
        "nth",
        "index",
        pl.col("grain").fill_null(1),
        wall_us=pl.coalesce(pl.col("wall"), pl.col("at").dt.replace_time_zone(None)).to_physical(),
    )


def _passes(left: pl.DataFrame, rest: pl.DataFrame) -> Iterator[pl.DataFrame]:
    """Yield pairs (index, other), each way of telling otherwise after the one before it."""
    grains = sorted(
        {(int(a), int(b)) for a in left["grain"].unique() for b in rest["grain"].unique()}
    )
    used: list[pl.DataFrame] = []

    def free(frame: pl.DataFrame, name: str) -> pl.DataFrame:
        for pairs in used:
            frame = frame.join(pairs, left_on="index", right_on=name, how="anti")
        return frame

    for mine, other in grains:
        if mine != other:
            pairs = _by_step(
                free(left, "index").filter(pl.col("grain") == mine),
                free(rest, "other").filter(pl.col("grain") == other),
                max(mine, other) * _MICRO,
            )
            used.append(pairs)
            yield pairs
    for mine, other in grains:
        pairs = _by_what_is_said(
            free(left, "index").filter(pl.col("grain") == mine),
            free(rest, "other").filter(pl.col("grain") == other),
            max(mine, other) * _MICRO,
        )
        used.append(pairs)
        yield pairs
    yield _by_wall(free(left, "index"), free(rest, "other"))


def _by_step(left: pl.DataFrame, rest: pl.DataFrame, step: int) -> pl.DataFrame:
    """Pair rows that are alike at the coarser clock, the first with the first."""
    alike = [*_SAME, "by_wall", "behind", *_SAID, "step"]
    sides = [
        side.with_columns(step=pl.col("time") // step)
        .sort("time", "nth")
        .with_columns(turn=pl.col("time").cum_count().over(alike))
        for side in (left, rest)
    ]
    return _pairs(sides[0], sides[1], [*alike, "turn"])


def _by_what_is_said(left: pl.DataFrame, rest: pl.DataFrame, step: int) -> pl.DataFrame:
    """Pair rows where what one side says the other leaves out, if no other pairing is possible."""
    said = pl.col("kind") != Kind.UNREAD
    sides = [side.filter(said).with_columns(step=pl.col("time") // step) for side in (left, rest)]
    met = sides[0].join(
        sides[1].select(*_SAME, "by_wall", "behind", "step", *_SAID, other="index"),
        on=[*_SAME, "by_wall", "behind", "step"],
        nulls_equal=True,
        suffix="_other",
    )
    fits = pl.all_horizontal(
        (pl.col(name) == pl.col(f"{name}_other")).fill_null(value=True) for name in _SAID
    )
    once = (pl.len().over("index") == 1) & (pl.len().over("other") == 1)
    return met.filter(fits).filter(once).select("index", "other")


def _by_wall(left: pl.DataFrame, rest: pl.DataFrame) -> pl.DataFrame:
    """Pair a row whose repeated hour is told apart with one whose is not."""
    alike = [*_SAME, *_SAID, "wall_us"]
    met = _pairs(left, rest, alike, keep=("by_wall",))
    once = (pl.len().over("index") == 1) & (pl.len().over("other") == 1)
    return (
        met.filter(pl.col("by_wall") != pl.col("by_wall_other"))
        .filter(once)
        .select("index", "other")
    )


def _pairs(
    left: pl.DataFrame, rest: pl.DataFrame, alike: list[str], keep: tuple[str, ...] = ()
) -> pl.DataFrame:
    other = rest.select(*alike, *(pl.col(n).alias(f"{n}_other") for n in keep), other="index")
    return left.join(other, on=alike, nulls_equal=True).select(
        "index", "other", *keep, *(f"{n}_other" for n in keep)
    )
