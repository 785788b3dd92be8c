"""Measure how far the probabilities of causes are from the truth, on simulated sites.

``python -m tests.proving.causes`` prints, for ordinary and for shifted worlds, how far what is
told of a few thousand alarms is from what they truly came from: without outcomes, and after 30
and 200 recorded ones of other sites. In the shifted world one outcome in ten is wrong.
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
TRIED, TAUGHT = 3141, 77
"""Seeds: of the sites that are judged, and of those whose outcomes are recorded."""
SITES = 220
BATCH = 60
WRONG = 0.1
"""Share of outcomes that are recorded wrongly in the shifted world."""
_INTRUSION = CAUSE_ORDER.index(Cause.INTRUSION)


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
            "site", "episode", "since", "last", "first_zone"
        )
        parts.append(spans.join(told, on=["site", "episode"], maintain_order="left"))
        warned.append(found.filter(pl.col("pattern") == Pattern.POSSIBLE_INTRUSION))
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
    """Say of each true break-in whether the rule for possible intrusions told of it."""
    real = frame.filter(pl.col("true") == Cause.INTRUSION)
    hour = pl.duration(hours=1)
    told = (
        real.join(warned.select("site", begun="since", ended="until"), on="site")
        .filter(pl.col("since").is_between(pl.col("begun") - hour, pl.col("ended") + hour))
        .select("site", "episode")
        .unique()
        .with_columns(told=pl.lit(value=True))
    )
    return real.join(told, on=["site", "episode"], how="left").with_columns(
        pl.col("told").fill_null(value=False)
    )


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


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sites", type=int, default=SITES)
    asked.add_argument("--tuning", action="store_true", help="the seed that may be looked at")
    given = asked.parse_args()
    seed = TRIED + 1000 * given.tuning
    for shifted in (False, True):
        tried = weighed(seed, given.sites, shifted=shifted)
        others = weighed(TAUGHT, given.sites, shifted=shifted).known
        world = "shifted" if shifted else "ordinary"
        print(f"{world} world, seed {seed}, {given.sites} sites, {len(tried.known)} episodes")
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
            if len(every) == 1:
                told = every[0].classes.items()
                print("      " + ", ".join(f"{c} {v:+.3f}" for c, v in told))
        for way, real, noticed in (
            tried.alarmed.group_by("way").agg(pl.len(), pl.col("told").sum()).sort("way").rows()
        ):
            missed = share_interval(real - noticed, real)
            print(
                f"  break-ins ({way}): {noticed} of {real} told as possible intrusions; missed "
                f"at most {100 * float(missed.high):.1f} % (95 %)"
            )


if __name__ == "__main__":
    main()
