"""Measure how far the probabilities of causes are from the truth, on simulated sites.

``python -m tests.proving.causes`` prints, for ordinary and for shifted worlds, how far what is
told of a few thousand alarms is from what they truly came from: without outcomes, and after 30,
200 and 1000 recorded ones of other sites; then the same cause by cause. In the shifted world one
outcome in ten is wrong. Ratios and sharpness were chosen on the seeds of ``--tuning``.
"""

import argparse
from dataclasses import dataclass
from functools import cache

import numpy as np
import polars as pl

from eventlab.analysis import (
    CAUSE_ORDER,
    Known,
    base_rates,
    evidence,
    learn,
    probabilities,
    run,
)
from eventlab.ground import lay
from eventlab.schema import CALIBRATION, Cause, Pattern, empty
from eventlab.settings import Settings
from eventlab.simulate import Mixed, mixed
from eventlab.stats import brier, calibration_error, calibration_interval, share_interval

SETTINGS = Settings()
TRIED, TAUGHT, TUNING = 55901, 77, (4141, 5252)
"""Seeds: of the sites that are judged, of those whose outcomes are recorded, and those that may be
looked at while ratios are changed."""
SITES = 220
BATCH = 60
WRONG = 0.1
"""Share of outcomes that are recorded wrongly in the shifted world."""
NOTICE, ALONE = Pattern.POSSIBLE_INTRUSION, Pattern.LONE_OPENING


@dataclass(frozen=True)
class Weighed:
    """Simulated episodes with what speaks for each cause, and what they truly came from."""

    known: Known
    alarmed: pl.DataFrame


@cache
def weighed(seed: int, sites: int, *, shifted: bool) -> Weighed:
    """Simulate sites and weigh every ordinary episode of theirs."""
    made = mixed(seed, sites=sites, shifted=shifted)
    parts, warned = [], []
    names = made.context.sites["site"].to_list()
    for low in range(0, len(names), BATCH):
        here = names[low : low + BATCH]
        context = made.context.only(here)
        ground = lay(made.events.filter(pl.col("site").is_in(here)), context, SETTINGS)
        found = run(ground, context, SETTINGS)
        told = evidence(ground, context, SETTINGS, found)
        spans = ground.episodes.filter(~pl.col("aside")).select(
            "site", "episode", "since", "last", "first_zone", "night"
        )
        parts.append(spans.join(told, on=["site", "episode"], maintain_order="left"))
        warned.append(found.filter(pl.col("pattern").is_in([NOTICE, ALONE])))
    frame = true_causes(pl.concat(parts), made)
    return Weighed(Known.of(frame), _noticed(frame, pl.concat(warned)))


def true_causes(episodes: pl.DataFrame, made: Mixed) -> pl.DataFrame:
    """Give each episode the cause of the alarm that it began with; a break-in in it is one."""
    inside = (
        episodes.select("site", "episode", "since", "last")
        .join(made.true, on="site")
        .filter(
            pl.col("at")
            .dt.truncate("1m")
            .is_between(pl.col("since").dt.truncate("1m"), pl.col("last"))
        )
        .sort("site", "episode", "at")
        .group_by("site", "episode", maintain_order=True)
        .agg(
            way=pl.col("driver").filter(pl.col("cause") == Cause.INTRUSION).first(),
            true=pl.when((pl.col("cause") == Cause.INTRUSION).any())
            .then(pl.lit(str(Cause.INTRUSION)))
            .otherwise(pl.col("cause").first()),
        )
    )
    return episodes.join(inside, on=["site", "episode"], maintain_order="left")


def _noticed(frame: pl.DataFrame, warned: pl.DataFrame) -> pl.DataFrame:
    """Say of each true break-in whether a finding told of it, and of which pattern.

    Of findings that gather many nights only the nights that they name count.
    """
    real = frame.filter(pl.col("true") == Cause.INTRUSION)
    hour = pl.duration(hours=1)
    dates = pl.col("figures").str.json_path_match("$.dates")
    meets = pl.col("since").is_between(pl.col("begun") - hour, pl.col("ended") + hour)
    names_it = dates.str.contains(pl.col("night").cast(pl.String), literal=True)
    told = real.join(
        warned.select("site", "pattern", "figures", begun="since", ended="until"), on="site"
    ).filter(pl.when(dates.is_null()).then(meets).otherwise(names_it))
    for name, pattern in (("told", NOTICE), ("alone", ALONE)):
        some = told.filter(pl.col("pattern") == pattern).select("site", "episode").unique()
        real = real.join(
            some.with_columns(pl.lit(value=True).alias(name)), on=["site", "episode"], how="left"
        ).with_columns(pl.col(name).fill_null(value=False))
    return real


def noticed(tried: Weighed) -> pl.DataFrame:
    """Count true break-ins by way: told as what, missed, and at most how many may be (95 %).

    A window that was forced and left open is a possible intrusion; one that was pulled to again
    may be told as an opening that alarmed alone.
    """
    each = (
        tried.alarmed.group_by("way")
        .agg(
            break_ins=pl.len(),
            possible_intrusion=pl.col("told").sum(),
            only_lone_opening=(pl.col("alone") & ~pl.col("told")).sum(),
            missed=(~pl.col("alone") & ~pl.col("told")).sum(),
        )
        .sort("way")
    )
    most = share_interval(each["missed"].to_numpy(), each["break_ins"].to_numpy()).high
    return each.with_columns(missed_at_most=pl.Series(most).round(3))


def outcomes(known: Known, many: int, *, wrong: float, seed: int = 5) -> Known:
    """Draw recorded outcomes, so many, a share of them wrong."""
    random = np.random.default_rng(seed)
    some = known.some(random.choice(len(known), many, replace=False))
    amiss = random.random(many) < wrong
    cause = np.where(amiss, random.integers(0, len(CAUSE_ORDER), many), some.cause)
    return Known(some.evidence, some.prompt, cause, some.site)


DRAWS = 8
"""Times that so many outcomes are drawn anew; figures are means over them."""


def taught(others: Known, many: int, *, wrong: float) -> list[pl.DataFrame]:
    """Learn from so many recorded outcomes, drawn several times; once from none."""
    if not many:
        return [empty(CALIBRATION)]
    draws = DRAWS if many < 1000 else 1
    return [
        learn(outcomes(others, many, wrong=wrong, seed=seed), SETTINGS) for seed in range(draws)
    ]


@dataclass(frozen=True)
class Judged:
    """How far what was told is from what was true."""

    episodes: int
    error: float
    low: float
    high: float
    brier: float
    base: float
    classes: dict[str, float]

    @property
    def worst(self) -> float:
        """The largest distance of the mean probability of a cause from its share."""
        return max(abs(value) for value in self.classes.values())


def judge(known: Known, calibration: pl.DataFrame | None = None) -> Judged:
    """Hold the probabilities told to what was true."""
    taught = empty(CALIBRATION) if calibration is None else calibration
    told = probabilities(known.evidence, known.prompt, taught, SETTINGS)
    best, right = told.max(axis=1), told.argmax(axis=1) == known.cause
    low, high = calibration_interval(best, right, known.site)
    shares = np.bincount(known.cause, minlength=len(CAUSE_ORDER)) / len(known)
    base = np.tile(base_rates(), (len(known), 1))
    return Judged(
        len(known),
        calibration_error(best, right),
        low,
        high,
        brier(told, known.cause),
        brier(base, known.cause),
        dict(zip(CAUSE_ORDER, told.mean(axis=0) - shares, strict=True)),
    )


def by_cause(known: Known, calibration: pl.DataFrame | None = None) -> pl.DataFrame:
    """Say cause by cause how far what is told of it is from how often it is true.

    Returns
    -------
    polars.DataFrame
        ``cause``, ``told`` and ``true`` (means over all episodes), ``error`` (calibration error
        of its probability over bins), and of the episodes of which it is told as the likeliest:
        ``times``, ``told_then``, ``true_then``.
    """
    taught = empty(CALIBRATION) if calibration is None else calibration
    told = probabilities(known.evidence, known.prompt, taught, SETTINGS)
    best, rows = told.argmax(axis=1), []
    for place, cause in enumerate(CAUSE_ORDER):
        true, share, likeliest = known.cause == place, told[:, place], best == place
        error = calibration_error(share, true)
        then = [part[likeliest].mean() if likeliest.any() else None for part in (share, true)]
        rows.append((cause, share.mean(), true.mean(), error, int(likeliest.sum()), *then))
    names = ["cause", "told", "true", "error", "times", "told_then", "true_then"]
    frame = pl.DataFrame(rows, schema=names, orient="row")
    return frame.with_columns(pl.col(pl.Float64).round(3))


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sites", type=int, default=SITES)
    asked.add_argument("--tuning", action="store_true", help="the seeds that may be looked at")
    given = asked.parse_args()
    pl.Config(
        tbl_rows=-1, tbl_cols=-1, tbl_width_chars=160, tbl_formatting="ASCII_MARKDOWN",
        tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True,
    )  # fmt: skip
    for seed in TUNING if given.tuning else (TRIED,):
        for shifted in (False, True):
            told(seed, given.sites, shifted=shifted)


def told(seed: int, sites: int, *, shifted: bool) -> None:
    """Print what was measured of one world."""
    tried = weighed(seed, sites, shifted=shifted)
    others = weighed(TAUGHT, sites, shifted=shifted).known
    world = "shifted" if shifted else "ordinary"
    print(f"{world} world, seed {seed}, {sites} sites, {len(tried.known)} episodes")
    for many in (0, 30, 200, 1000):
        if many > len(others):
            continue
        drawn = taught(others, many, wrong=WRONG * shifted)
        every = [judge(tried.known, one) for one in drawn]
        mean = {
            name: np.mean([getattr(one, name) for one in every])
            for name in ("error", "low", "high", "brier", "base", "worst")
        }
        print(
            f"  {many:>4} outcomes: calibration error {mean['error']:.3f} "
            f"({mean['low']:.3f} to {mean['high']:.3f}), Brier {mean['brier']:.3f} "
            f"(base rates {mean['base']:.3f}), worst cause {mean['worst']:.3f}"
        )
        if len(drawn) == 1:
            print(by_cause(tried.known, drawn[0]))
    print(noticed(tried))


if __name__ == "__main__":
    main()
