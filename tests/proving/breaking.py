"""Measure how many break-ins of each way are told, on simulated sites with one break-in each.

``python -m tests.proving.breaking`` prints, by way, how many were told as a possible intrusion, or
as an opening that alarmed alone, and with how many missed that is still compatible.
"""

import argparse
from collections.abc import Iterator, Sequence

import polars as pl

from eventlab.analysis import intrusion, lone_opening
from eventlab.ground import lay
from eventlab.schema import Pattern
from eventlab.settings import Settings
from eventlab.simulate import WAYS, Mixed, mixed
from eventlab.simulate.clock import ZONE_NAME
from eventlab.stats import share_interval

SETTINGS = Settings()
HELD_OUT, TUNING = 733, 1733
EACH = 200
"""Break-ins of each way in the full run."""
DAYS = 120
BATCH = 90


def told(
    seed: int, each: int, *, ways: Sequence[str] = tuple(WAYS), shifted: bool = False
) -> pl.DataFrame:
    """Break in so often in each way, and say of each break-in how it was told.

    Returns
    -------
    polars.DataFrame
        ``way``, ``site``, ``intrusion``, ``alone`` (whether a finding names its night). Break-ins
        of which no alarm stands in the log are left out.
    """
    made = mixed(seed, sites=each * len(ways), shifted=shifted, break_ins=ways, days=DAYS)
    return pl.concat(judged(*part) for part in _parts(made))


def _parts(made: Mixed) -> Iterator[tuple[Mixed, list[str]]]:
    names = made.context.sites["site"].to_list()
    for low in range(0, len(names), BATCH):
        yield made, names[low : low + BATCH]


def judged(made: Mixed, names: list[str]) -> pl.DataFrame:
    """Look at some of the sites: a finding tells a break-in where it names its time or night."""
    context = made.context.only(names)
    ground = lay(made.events.filter(pl.col("site").is_in(names)), context, SETTINGS)
    finds = (intrusion.find, lone_opening.find)
    found = pl.concat([find(ground, context, SETTINGS) for find in finds])
    local = pl.col("first").dt.convert_time_zone(ZONE_NAME).dt.replace_time_zone(None)
    real = (
        made.true.filter(pl.col("site").is_in(names) & pl.col("driver").is_in(list(WAYS)))
        .group_by("site", way="driver")
        .agg(first=pl.col("at").min(), last=pl.col("at").max())
        .with_columns(night=local.dt.offset_by("-12h").dt.date().cast(pl.String))
    )
    dates = pl.col("figures").str.json_path_match("$.dates")
    hour = pl.duration(hours=1)
    meets = (pl.col("since") <= pl.col("last") + hour) & (pl.col("until") >= pl.col("first") - hour)
    names_it = pl.when(dates.is_null()).then(meets).otherwise(dates.str.contains(pl.col("night")))
    hits = real.join(found, on="site").filter(names_it)
    both = {"intrusion": Pattern.POSSIBLE_INTRUSION, "alone": Pattern.LONE_OPENING}
    for name, pattern in both.items():
        sites = hits.filter(pl.col("pattern") == pattern)["site"].unique()
        real = real.with_columns(pl.col("site").is_in(sites.implode()).alias(name))
    return real.select("way", "site", *both)


def table(judged: pl.DataFrame) -> pl.DataFrame:
    """Count by way: how many were told, as what, and the most that may be missed (95 %)."""
    each = (
        judged.group_by("way")
        .agg(
            break_ins=pl.len(),
            possible_intrusion=pl.col("intrusion").sum(),
            only_lone_opening=(pl.col("alone") & ~pl.col("intrusion")).sum(),
            missed=(~pl.col("alone") & ~pl.col("intrusion")).sum(),
        )
        .sort("way")
    )
    most = share_interval(each["missed"].to_numpy(), each["break_ins"].to_numpy()).high
    return each.with_columns(missed_at_most=pl.Series(most).round(4))


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--each", type=int, default=EACH)
    asked.add_argument("--tuning", action="store_true", help="the seed that may be looked at")
    given = asked.parse_args()
    seed = TUNING if given.tuning else HELD_OUT
    for shifted in (False, True):
        print(f"{'shifted' if shifted else 'ordinary'} world, seed {seed}")
        with pl.Config(
            tbl_rows=-1, tbl_cols=-1, tbl_width_chars=160, tbl_formatting="ASCII_MARKDOWN",
            tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True, fmt_str_lengths=40,
        ):  # fmt: skip
            print(table(told(seed, given.each, shifted=shifted)))


if __name__ == "__main__":
    main()
