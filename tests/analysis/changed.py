"""Plain sites, one point of which changes its rate on a known night."""

from datetime import timedelta

import numpy as np
import polars as pl

from eventlab.analysis import rate_change
from eventlab.ground import lay
from eventlab.schema import EVENT, Kind, Phase, conform
from eventlab.settings import Settings
from eventlab.simulate import site_events

SETTINGS = Settings()


def analysed(made):
    """Lay the ground of simulated sites and look for changes."""
    return rate_change.find(lay(made.events, made.context, SETTINGS), made.context, SETTINGS)


def healthy(seed, *, sites, background, days=365):
    """Count the sites with nothing wrong that show a change."""
    made = site_events(seed, sites=sites, days=days, background=background)
    return analysed(made)["site"].n_unique()


def with_rise(seed, *, sites, times, after, days=365, lasts=90, ends=0, background="bad-days"):
    """Give point 1 of each site a rate that is so many times higher for some days.

    Parameters
    ----------
    times : float
        The higher rate over the lower.
    after : int
        Alarm days of the higher rate.
    lasts : int
        Days of it.
    ends : int
        Days before the end of the log at which it is over.

    Returns
    -------
    tuple
        Sites as ``simulate.site_events`` gives them, and the first night of each site.
    """
    made = site_events(seed, sites=sites, days=days, background=background)
    draw = np.random.default_rng(seed)
    events = made.events.filter(~((pl.col("zone") == "1") & pl.col("zone").is_not_null()))
    spans = made.events.group_by("site").agg(first=pl.col("at").min(), row=pl.len())
    rows, began = [], {}
    for site, first, _ in spans.sort("site").iter_rows():
        begins = days - ends - lasts
        began[site] = (first + timedelta(days=begins)).date()
        inside = begins + draw.choice(lasts, size=min(after, lasts), replace=False)
        other = np.concatenate([np.arange(1, begins), np.arange(begins + lasts, days - 1)])
        rate = after / lasts / times
        outside = draw.choice(other, size=min(draw.poisson(rate * other.size), other.size),
                              replace=False)  # fmt: skip
        for day in [*inside, *outside]:
            noon = (first + timedelta(days=int(day))).replace(hour=12, minute=0, second=0)
            for _ in range(draw.geometric(0.4)):
                at = noon + timedelta(hours=float(draw.uniform(9, 16)))
                rows.append({"site": site, "at": at})
    alarms = pl.DataFrame(rows, schema={"site": pl.String, "at": pl.Datetime("us", "UTC")})
    like = made.events.filter(pl.col("zone") == "2", pl.col("phase") == Phase.BEGIN)
    shape = like.unique("site").drop("at", "placed", "wall", "zone")
    told = alarms.join(shape, on="site").with_columns(
        pl.lit("1").alias("zone"),
        placed="at",
        kind=pl.lit(str(Kind.INTRUSION_ALARM)),
        wall=pl.col("at").dt.convert_time_zone("Europe/London").dt.replace_time_zone(None),
        row=pl.int_range(1_000_000, 1_000_000 + pl.len(), dtype=pl.Int64),
    )
    both = pl.concat([events, conform(told, EVENT)]).sort("site", "at", maintain_order=True)
    return type(made)(both, made.context, made.affected), began


def power(seed, **how):
    """Share of sites whose rise is found, whose date is held, and with another finding."""
    made, began = with_rise(seed, **how)
    found = analysed(made)
    mine = found.filter(pl.col("subject") == "1")
    fig = mine["figures"].str.json_decode(
        pl.Struct({"low": pl.String, "high": pl.String, "stretch": pl.Boolean})
    )
    low, high = (fig.struct.field(x).str.to_date("%-d %b %Y") for x in ("low", "high"))
    true = mine["site"].replace_strict(began, return_dtype=pl.Date)
    held = ((low <= true) & (true <= high)).sum()
    return mine.height, held, found.height - mine.height, mine
