"""One row for each thing that happened, however many rows tell it."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import polars as pl

from eventlab.ground.delayed import delayed
from eventlab.ground.matching import twins
from eventlab.ground.memory import remembered
from eventlab.ground.places import Places
from eventlab.ground.standing import repeats, statuses
from eventlab.schema import Kind, Witness
from eventlab.settings import Settings

SLIM = (
    *("n", "s", "at", "placed", "grain", "kind", "phase", "mode", "area", "zone", "person"),
    *("witness", "path", "code", "source"),
)
FILLED = ("mode", "area", "zone", "person", "person_name", "path", "text", "code")
OFTEN = (Kind.ACTIVATION, Kind.TEST_REPORT, Kind.ACCESS, Kind.HANDLING)
"""Kinds that fill a log and that few steps look at."""

ACTING = (Kind.ARM, Kind.DISARM, Kind.ARM_FAILED)


@dataclass(frozen=True)
class Folding:
    """Which rows fold into which.

    Parameters
    ----------
    twins, again, memory : polars.DataFrame
        ``n`` of a row and ``into`` the ``n`` of the row that leads it: the same event on another
        channel, a standing condition told again, alarm memory.
    """

    twins: pl.DataFrame
    again: pl.DataFrame
    memory: pl.DataFrame

    def all(self) -> pl.DataFrame:
        """Give all pairs, each led by a row that follows no other.

        Returns
        -------
        polars.DataFrame
            ``n``, ``into``, ``memory`` (Boolean).
        """
        pairs = pl.concat(
            [
                self.twins.with_columns(memory=pl.lit(value=False)),
                self.again.with_columns(memory=pl.lit(value=False)),
                self.memory.with_columns(memory=pl.lit(value=True)),
            ]
        )
        step = pairs.select(into="n", over="into", more="memory")
        while True:
            further = pairs.join(step, on="into", how="left", maintain_order="left")
            if further["over"].null_count() == further.height:
                return pairs
            pairs = further.select(
                "n",
                into=pl.coalesce("over", "into"),
                memory=pl.col("memory") | pl.col("more").fill_null(value=False),
            )


def fold(
    rows: pl.DataFrame,
    voices: pl.DataFrame,
    known: Places,
    settings: Settings,
    *,
    dated: pl.DataFrame,
) -> Folding:
    """Find all rows that tell again what another row tells.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.
    known : Places
        The places.
    settings : Settings
        What each step says it needs.
    dated : polars.DataFrame
        ``n``, ``into``: rows received late, and the panel's rows that date them.

    Returns
    -------
    Folding
        The pairs of each step.
    """
    slim = rows.select(SLIM)
    pairs = pl.concat([twins(without(slim, dated), voices, settings), dated])
    pairs = pl.concat([pairs, delayed(slim, pairs, voices, settings)])
    lead = without(_telling(slim), pairs)
    again = pl.concat([statuses(lead), repeats(lead, settings)]).unique("n", keep="first")
    lead = without(lead, again)
    acts = lead.filter(pl.col("kind").is_in(list(ACTING)))
    return Folding(pairs, again, remembered(lead, acts, known, settings))


def _telling(rows: pl.DataFrame) -> pl.DataFrame:
    """Leave out the kinds that fill a log; they stand only where a code says so."""
    coded = rows.filter(pl.col("code").str.starts_with("6"))["s"].unique()
    return rows.filter(~pl.col("kind").is_in(list(OFTEN)) | pl.col("s").is_in(coded.implode()))


def without(rows: pl.DataFrame, pairs: pl.DataFrame) -> pl.DataFrame:
    """Leave out the rows that follow another.

    Parameters
    ----------
    rows : polars.DataFrame
        With ``n``.
    pairs : polars.DataFrame
        With ``n``.

    Returns
    -------
    polars.DataFrame
        The rows that lead.
    """
    if pairs.is_empty():
        return rows
    number, gone = rows["n"].to_numpy(), pairs["n"].to_numpy()
    leads = np.ones(int(max(rows["n"].max() or 0, gone.max())) + 1, dtype=bool)
    leads[gone] = False
    return rows.filter(leads[number])


def led(rows: pl.DataFrame, folding: Folding) -> pl.DataFrame:
    """Give the leading rows, with what their followers say that they do not.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    folding : Folding
        As ``fold`` gives it.

    Returns
    -------
    polars.DataFrame
        The rows that lead, with ``rows``, ``memory_rows`` (Int32) and ``witnesses`` (list).
    """
    pairs = folding.all()
    count = np.ones(rows.height, dtype=np.int32)
    memory = np.zeros(rows.height, dtype=np.int32)
    seen = (rows["witness"].to_physical() + 1).to_numpy().astype(np.uint8)
    into, follower = pairs["into"].to_numpy(), pairs["n"].to_numpy()
    np.add.at(count, into, 1)
    np.add.at(memory, into, pairs["memory"].to_numpy().astype(np.int32))
    base = seen.copy()
    np.bitwise_or.at(seen, into, base[follower])
    panel, receiver = str(Witness.PANEL), str(Witness.RECEIVER)
    sets = pl.Series(
        "witnesses", [[], [panel], [receiver], [panel, receiver]], dtype=pl.List(pl.String)
    )
    whole = _filled(rows, folding.twins).with_columns(
        rows=pl.Series(count), memory_rows=pl.Series(memory), seen=pl.Series(seen, dtype=pl.UInt32)
    )
    lead = without(whole, pairs)
    return lead.with_columns(sets.gather(lead["seen"])).drop("seen")


def _filled(rows: pl.DataFrame, pairs: pl.DataFrame) -> pl.DataFrame:
    """Fill what a leading row does not say from its twins."""
    if pairs.is_empty():
        return rows
    kind = pl.col("kind").cast(pl.String)
    more = (
        pairs.join(rows.select("n", "kind", *FILLED), on="n", how="left")
        .sort("n")
        .group_by("into", maintain_order=True)
        .agg(
            *(pl.col(c).drop_nulls().first().alias(f"{c}_twin") for c in FILLED),
            entry=(pl.col("kind") == Kind.ENTRY_EXIT_ALARM).any(),
        )
    )
    own = (
        rows.select("n", "kind", *FILLED)
        .join(more, left_on="n", right_on="into", how="inner")
        .select(
            "n",
            *(pl.coalesce(c, f"{c}_twin").alias(c) for c in FILLED),
            kind=pl.when("entry")
            .then(pl.lit(Kind.ENTRY_EXIT_ALARM.value))
            .otherwise(kind)
            .cast(rows.schema["kind"]),
        )
    )
    place = own["n"]
    return rows.with_columns(
        rows[name].clone().scatter(place, own[name]) for name in ("kind", *FILLED)
    )


def acts_as_one(told: pl.DataFrame, settings: Settings) -> pl.Series:
    """Give the arms, and the disarms, of several areas by one person one common number.

    Parameters
    ----------
    told : polars.DataFrame
        ``n``, ``s``, ``placed``, ``kind``, ``person``, ``occurrence``.
    settings : Settings
        ``act_s``.

    Returns
    -------
    polars.Series
        ``act``: the occurrence number of the first of them; null for other kinds.
    """
    arming = pl.col("kind").is_in([Kind.ARM, Kind.DISARM])
    acts = told.select("n", "s", "placed", "kind", "person", "occurrence").filter(arming)
    same_site = pl.col("s") == pl.col("s").shift(1)
    step = pl.col("placed") - pl.col("placed").shift(1)
    near = (same_site & (step <= timedelta(seconds=settings.act_s))).fill_null(value=False)
    close = acts.filter(near | near.shift(-1, fill_value=False)).sort("s", "kind", "person", "n")
    same = pl.all_horizontal(
        pl.col(c).eq_missing(pl.col(c).shift(1)) for c in ("s", "kind", "person")
    )
    goes_on = (same & (step <= timedelta(seconds=settings.act_s))).fill_null(value=False)
    heads = close.select("n", act=pl.when(~goes_on).then("occurrence").forward_fill())
    own = told.select("n", act=pl.when(arming).then("occurrence"))
    return own.update(heads, on="n", how="left")["act"]
