"""Points whose alarms follow the sun, the clock, heat or cold, wind, rain, or the arming."""

from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.air import MEASURES
from eventlab.analysis.drivers.areas import WINDOWS
from eventlab.analysis.drivers.conditions import contradicted, hits_in, steps_in, sun_window
from eventlab.analysis.drivers.exact import within_season
from eventlab.analysis.drivers.grid import STEP_MIN
from eventlab.analysis.drivers.manner import manner
from eventlab.analysis.drivers.naming import PATTERNS, WORDS, named
from eventlab.analysis.drivers.screen import Screened, screened
from eventlab.analysis.drivers.series import TAMPER
from eventlab.analysis.drivers.shares import ARMING_MIN, CLOCK
from eventlab.analysis.drivers.sky import AZIMUTHS, up
from eventlab.analysis.found import (
    days,
    ends,
    evidence,
    figures,
    line,
    number,
    wall,
)
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import FOUND, Kind, Subject, conform, empty
from eventlab.settings import Settings
from eventlab.stats import rate_ratio

Numbers = npt.NDArray[np.int64]

_NOON_MIN = 720
_DAY_MIN = 1440
_SHOWN = 6
_RAREST = 1e-5
_MOST_ODDS = 1000

_BASIS = "one alarm a day, each held to its own day or, for weather, the same hour of other days"


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find the points whose alarms follow something around them.

    Needed: when each point was at risk, so that arming must be recorded for all but tampers; the
    place of the site for the sun; weather for heat, cold, wind and rain. What a log or a context
    does not tell is not looked at. No life-safety point is ever looked at.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Places of sites, facings of points, weather.
    settings : Settings
        ``driver_q``, ``driver_lead``, ``driver_own_p``, ``season_p``, ``still_days``,
        ``driver_to_come``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; ``events`` are days with an alarm, ``rate`` in alarms
        per hour at risk, ``ratio`` of the rates inside and outside the condition.

    Notes
    -----
    `screen.screened`, `naming.named`. The ratio is that of the best of many windows and so on the
    high side; the chance is not: it pays for every window looked at.
    """
    screen = screened(ground, context, settings)
    if screen is None:
        return empty(FOUND)
    told = named(screen, settings)
    if told.is_empty():
        return empty(FOUND)
    points = screen.series.series.drop("days").join(ends(ground), on="site", how="left")
    full = told.join(points, on="number", maintain_order="left")
    rows = [_told(screen, row, ground, settings) for row in full.iter_rows(named=True)]
    return _shaped(full.join(pl.DataFrame(rows), on="number"), settings)


def _told(
    screen: Screened, row: dict[str, Any], ground: Ground, settings: Settings
) -> dict[str, object]:
    """Describe one series under the driver that tells it best."""
    series, driver = row["number"], row["driver"]
    bound = screen.bounds[driver]
    mine = np.flatnonzero(screen.hits.number == series)
    window = int(bound.window[series])
    inside = mine[hits_in(screen, driver, window, mine)]
    frame = screen.series.hits
    first, last = (int(place) for place in (inside if len(inside) else mine)[[0, -1]])
    until = frame["at"][last]
    at_risk = screen.grid.row == screen.hits.row[mine[0]]
    hours = float((screen.grid.stop - screen.grid.start)[at_risk].sum() * STEP_MIN / 60)
    share = float(bound.share[series])
    part, rest = int(bound.hits[series]), int(bound.days[series] - bound.hits[series])
    ratio = rate_ratio(part, share, rest, max(1 - share, 1e-9))
    return {
        "number": series,
        "since": frame["at"][first],
        "until": until,
        "hits": part,
        "days": int(bound.days[series]),
        "share": share,
        "hours": hours,
        "ratio": float(ratio.ratio) if np.isfinite(ratio.ratio) else None,
        "ratio_low": float(ratio.low),
        "ratio_high": float(ratio.high) if np.isfinite(ratio.high) else None,
        "when": ", ".join(frame[inside[-_SHOWN:]].select(wall(pl.col("local"))).to_series()),
        "struck": int(contradicted(screen, window, mine).sum()) if driver == "sun" else 0,
        "manner": manner(ground, frame[inside], row["site"], row["area"])
        if driver == "arming"
        else None,
        "season": _season(screen, driver, series),
        # What has had no occasion since is not over: heat in winter, the sun of another month.
        "standing": row["end"] - until <= days(settings.still_days)
        or _to_come(screen, driver, window, mine, inside) < settings.driver_to_come,
        **condition(screen, driver, window, mine),
    }


def _to_come(screen: Screened, driver: str, window: int, mine: Numbers, inside: Numbers) -> float:
    """Say how many more days there would have been since the last, had all gone on as before.

    Without end where that cannot be said.
    """
    if not len(inside):
        return np.inf
    laid = screen.grid.laid(screen.hits.row[mine[:1]])[0]
    site = int(screen.hits.site[mine[0]])
    mask = steps_in(screen, driver, window, site)
    if mask is None:
        return np.inf
    daily = (laid * mask).sum(axis=1)
    last = int(screen.hits.day[inside].max())
    before = float(daily[: last + 1].sum())
    return float(len(inside) / before * daily[last + 1 :].sum()) if before > 0 else np.inf


def _season(screen: Screened, driver: str, series: int) -> float | None:
    """Give the chance of so much heat or cold among days of the same season."""
    if driver not in {"hot", "cold"}:
        return None
    value = within_season(screen.around, driver, series)
    return value if np.isfinite(value) else None


def condition(screen: Screened, driver: str, window: int, mine: Numbers) -> dict[str, object]:
    """Give the figures of the window, for the sentence."""
    begin: int | None = None
    end: int | None = None
    level: float | None = None
    high = False
    if driver == "clock":
        start = int(CLOCK[0][window]) * STEP_MIN + _NOON_MIN
        begin, end = start % _DAY_MIN, (start + int(CLOCK[1][window]) * STEP_MIN) % _DAY_MIN
    elif driver == "sun":
        first, width, flag = sun_window(window)
        turn = 360 / AZIMUTHS
        begin, end = round(first * turn), round((first + width) * turn) % 360
        high = flag is up
    elif driver == "weekday":
        begin = window
    elif driver == "arming":
        end = ARMING_MIN[window]
    elif driver == "area":
        kind, end = WINDOWS[window]
        begin = int(kind == Kind.ARM)
    elif driver in MEASURES and screen.air is not None:
        source = screen.air.of_site[screen.hits.site[mine[0]]]
        told = float(screen.shares.levels[driver][source, window])
        level = -told if driver in {"cold", "cooling"} else told
    return {"low_edge": begin, "high_edge": end, "level": level, "high": high}


def _shaped(full: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Give the rows the columns of FOUND."""
    patterns = {driver: str(pattern) for driver, pattern in PATTERNS.items()}
    share = pl.col("share")
    may_be_season = (pl.col("season") > settings.season_p).fill_null(value=False)
    told_on = pl.when(pl.col("told_days").is_not_null()).then(
        (pl.col("end") + pl.duration(days=pl.col("told_days").fill_null(0))).dt.strftime(
            "%-d %b %Y"
        )
    )
    odds = pl.col("lead").clip(0, 20).exp()
    better = pl.when(odds > _MOST_ODDS).then(pl.lit("over 1000")).otherwise(number(odds, 1))
    shaped = full.with_columns(
        evidence(
            line(
                "days with an alarm in this condition",
                number(pl.col("hits"))
                + " of "
                + number(pl.col("days"))
                + ", in "
                + number(100 * share, 1)
                + " % of the time at risk",
                _BASIS,
            ),
            line("the last of them", pl.col("when"), "wall time of the site"),
            line(
                "chance of this if the point followed nothing",
                pl.when(pl.col("p") < _RAREST)
                .then(pl.lit("less than 1 in 100,000"))
                .otherwise(pl.lit("about 1 in ") + number(1 / pl.col("p").clip(_RAREST))),
                "every window looked at is counted",
            ),
            line(
                "next best explanation",
                pl.col("rival").replace_strict(WORDS, default=None)
                + ", "
                + better
                + " times less likely to bring these days",
                "time at risk in each condition over the whole log",
                when=pl.col("rival").is_not_null(),
            ),
            line(
                "how it had been armed",
                pl.col("manner").cast(pl.String),
                "arming before each of these days' alarms",
                when=pl.col("manner").is_not_null(),
            ),
            line(
                "not counted",
                number(pl.col("struck"))
                + pl.when(pl.col("struck") == 1).then(pl.lit(" day")).otherwise(pl.lit(" days"))
                + ": the sun stood there, but it rained, was overcast or no light was measured",
                "weather of the hour",
                when=pl.col("struck") > 0,
            ),
            line(
                "heat or the season",
                "among days of the same season the values are not uncommon",
                "the same hour of days up to 45 days away",
                when=may_be_season,
            ),
        ),
        figures(
            {
                "driver": pl.col("driver"),
                "open": ~pl.col("named"),
                "rival": pl.col("rival"),
                "told_on": told_on,
                "hits": pl.col("hits"),
                "days": pl.col("days"),
                "share": share,
                "from": pl.col("low_edge"),
                "to": pl.col("high_edge"),
                "high": pl.col("high"),
                "level": pl.col("level"),
                "season": may_be_season,
                "tamper": pl.col("family") == TAMPER,
            }
        ),
        pattern=pl.col("driver").replace_strict(patterns),
        subject_kind=pl.lit(str(Subject.ZONE)),
        subject="zone",
        events=pl.col("days"),
        rate=pl.when(pl.col("hours") > 0).then(pl.col("alarms") / pl.col("hours")),
        p_value=pl.col("p"),
        q_value=pl.col("q"),
    )
    return conform(shaped.sort("site", "zone", "within", "family", nulls_last=True), FOUND)
