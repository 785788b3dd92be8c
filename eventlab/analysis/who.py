"""Which numbers are people: timers, keys, remote hands, installers and shared codes are none."""

import csv
import re
from functools import cache
from importlib import resources

import polars as pl

from eventlab.analysis.kept import kept
from eventlab.ground import Ground
from eventlab.schema import Kind, Mode
from eventlab.settings import Settings

PERSON, SHARED = "person", "shared"
_MODES = {Mode.TIMED: "timer", Mode.REMOTE: "remote", Mode.KEY: "key"}
_DAY_MIN = 1440


@kept
def codes(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of every code that a log tells whether a person stands behind it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``timer_min``, ``timer_share``, ``shared_min``, ``shared_share``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``person``, ``openings``, ``closings`` (acts: several areas at once are one),
        ``first``, ``last`` (UTC), ``weekdays`` on which it opens, ``what``: ``person``,
        ``timer``, ``system``, ``remote``, ``key``, ``installer``, ``shared``; by site and
        person. Listed by its name; or acting as no person can: always by a timer, a key or from
        afar, or arming within a minute of one clock time and never opening. Of several
        codes the one with most of the openings of a site, on every weekday that it opens, is
        shared; of a site with one code nobody can tell.
    """
    kind = pl.col("kind")
    acts = (
        ground.occurrences.lazy()
        .filter(
            kind.is_in([Kind.ARM, Kind.DISARM])
            & (pl.col("act") == pl.col("occurrence"))
            & pl.col("person").is_not_null()
        )
        .select("site", "person", "person_name", "kind", "mode", "local", "placed")
        .collect()
    )
    opens, closes = kind == Kind.DISARM, kind == Kind.ARM
    minute = pl.col("local").dt.hour().cast(pl.Int32) * 60 + pl.col("local").dt.minute()
    middle = minute.filter(closes).median()
    # The day is round: what lies across midnight is near.
    apart = ((minute.filter(closes) - middle + _DAY_MIN / 2) % _DAY_MIN - _DAY_MIN / 2).abs()
    modes = {
        what: (pl.col("mode") == mode).fill_null(value=False).mean()
        for mode, what in _MODES.items()
    }
    counted = acts.group_by("site", "person").agg(
        openings=opens.sum().cast(pl.Int64),
        closings=closes.sum().cast(pl.Int64),
        first=pl.col("placed").min(),
        last=pl.col("placed").max(),
        weekdays=pl.col("local").filter(opens).dt.weekday().n_unique().cast(pl.Int64),
        even=(apart <= 1).mean(),
        named=_named(acts),
        **modes,
    )
    by_mode = pl.coalesce(
        *(pl.when(pl.col(what) >= settings.timer_share).then(pl.lit(what))
          for what in _MODES.values())
    )  # fmt: skip
    even = (
        (pl.col("closings") >= settings.timer_min)
        & (pl.col("openings") == 0)
        & (pl.col("even") >= settings.timer_share)
    )
    own = counted.with_columns(
        what=pl.coalesce("named", by_mode, pl.when(even).then(pl.lit("timer")))
    )
    human = pl.col("what").is_null()
    opened = pl.col("openings").filter(human)
    share = pl.col("openings") / opened.sum().over("site")
    shared = (
        human
        & (pl.col("openings") >= settings.shared_min)
        & (share >= settings.shared_share)
        & (human.sum().over("site") > 1)
        & (pl.col("weekdays") == pl.col("weekdays").filter(human).max().over("site"))
    )
    return (
        own.with_columns(
            what=pl.when(shared).then(pl.lit(SHARED)).otherwise(pl.col("what").fill_null(PERSON))
        )
        .drop("even", "named", *_MODES.values())
        .sort("site", "person")
    )


def _named(acts: pl.DataFrame) -> pl.Expr:
    """Say what a listed name stands for; only distinct names are looked at."""
    names = acts["person_name"].unique().drop_nulls().to_list()
    people = acts["person"].unique().drop_nulls().to_list()
    meaning = {name: what for name in {*names, *people} if (what := _stands_for(name))}
    told = pl.coalesce("person_name", "person")
    return told.replace_strict(meaning, default=None, return_dtype=pl.String).drop_nulls().first()


def _stands_for(name: str) -> str | None:
    for word, what in _words():
        if re.search(rf"\b{re.escape(word)}\b", name.lower()):
            return what
    return None


@cache
def _words() -> tuple[tuple[str, str], ...]:
    data = resources.files("eventlab.analysis") / "data" / "not_people.csv"
    rows = csv.DictReader(data.read_text(encoding="utf-8").splitlines())
    return tuple((row["word"], row["what"]) for row in rows)


def people(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the codes of which figures by person may be told.

    Parameters
    ----------
    ground, settings
        As `codes` needs them.

    Returns
    -------
    polars.DataFrame
        The rows of `codes` that are people, of sites where no code is shared.
    """
    own = codes(ground, settings)
    shared = own.filter(pl.col("what") == SHARED).select("site")
    return own.filter(pl.col("what") == PERSON).join(shared, on="site", how="anti")
