"""The bins of a point's profile, named for people, and the tables behind its charts."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from dashboards import words
from eventlab.lab import Profile

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
NOT_TOLD = "not told"
_WINDS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
_AZIMUTH, _HEIGHT = 15, 10


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart of a point's page.

    Parameters
    ----------
    key : str
        As the profile names it.
    title : str
        Its heading.
    column : str
        What its bins are, as the heading of a table.
    unit : str
        What its axis counts in; empty where the bins say it themselves.
    """

    key: str
    title: str
    column: str
    unit: str = ""


CHARTS: dict[str, Chart] = {
    one.key: one
    for one in (
        Chart("sun", "Where the sun stood", "Sun"),
        Chart("clock", "Time of day", "Hours"),
        Chart("weekday", "Night of the week", "Night of"),
        Chart("month", "Month", "Month"),
        Chart("temperature", "Temperature outside", "Degrees", "°C in the hour of the alarm"),
        Chart("wind", "Gusts, or wind where no gusts are told", "Wind", "m/s in the hour"),
        Chart("rain", "Rain", "Rain", "mm in the hour"),
        Chart("arming", "Time since arming", "Since arming"),
        Chart("area", "Time since another area was opened or closed", "Since another area"),
        Chart("gaps", "Time from one alarm to the next", "Gap"),
    )
}


def named(profile: Profile, driver: str) -> pl.DataFrame:
    """Give the bins of one driver with their names.

    Parameters
    ----------
    profile : Profile
        Of a point.
    driver : str
        One of its drivers, ``sun`` too.

    Returns
    -------
    polars.DataFrame
        The profile's columns and ``name``.
    """
    if driver == "sun":
        return profile.sky.with_columns(name=_each(profile.sky, cell_name))
    some = profile.bins.filter(pl.col("driver") == driver)
    return some.with_columns(name=_each(some, bin_name))


def rows(profile: Profile, driver: str) -> list[dict[str, Any]]:
    """List the rows of the table of a chart; the file to take away has all cells of the sky.

    Parameters
    ----------
    profile : Profile
        Of a point.
    driver : str
        Which chart.

    Returns
    -------
    list of dict
        As ``named``; of the sky those with an alarm, what is left of it together, and the dark.
    """
    if driver != "sun":
        return named(profile, driver).to_dicts()
    up = pl.col("azimuth").is_not_null()
    seen, dark = profile.sky.filter(up, pl.col("alarms") > 0), profile.sky.filter(~up)
    told = [{**row, "name": cell_name(row)} for row in (*seen.to_dicts(), *dark.to_dicts())]
    rest = float(profile.sky.filter(up, pl.col("alarms") == 0)["hours"].sum())
    none = {"name": "everywhere else above the horizon", "alarms": 0, "hours": rest}
    return [*told, {**none, "rate": 0.0, "rate_low": None, "rate_high": None}]


def gaps_named(profile: Profile) -> pl.DataFrame:
    """Give the gaps of a profile between its first and its last, with their names."""
    seen = profile.gaps.with_row_index("place").filter(pl.col("many") > 0)["place"]
    if seen.is_empty():
        return profile.gaps.clear().with_columns(name=pl.lit("", pl.String))
    first, last = seen[0], seen[-1]
    some = profile.gaps[first : last + 1]
    return some.with_columns(name=_each(some, gap_name))


def _each(frame: pl.DataFrame, name: Any) -> pl.Series:
    return pl.Series([name(row) for row in frame.iter_rows(named=True)], dtype=pl.String)


def bin_name(row: dict[str, Any]) -> str:
    """Name one bin: ``18:00 to 19:00``, ``Tue``, ``4 to 8 °C``, ``not told``."""
    driver, low, high = row["driver"], row["low"], row["high"]
    if not row["told"]:
        return NOT_TOLD
    if driver == "clock":
        return f"{int(low):02d}:00 to {int(high) % 24:02d}:00"
    if driver == "weekday":
        return DAYS[int(low) - 1]
    if driver == "month":
        return words.MONTHS[int(low) - 1]
    if driver == "rain" and high == 0:
        return "none"
    if driver in {"arming", "area"}:
        since = "" if low == 0 else f"{minutes(low)} "
        if high is None:
            return f"{minutes(low)} and more"
        return f"{since}to {minutes(high)}".removeprefix("to ") if since else f"to {minutes(high)}"
    unit = {"temperature": "°C", "wind": "m/s", "rain": "mm"}[driver]
    if low is None:
        return f"below {high:g} {unit}"
    if high is None:
        return f"{low:g} {unit} and more"
    return f"{low:g} to {high:g} {unit}"


def cell_name(row: dict[str, Any]) -> str:
    """Name a cell of the sky: ``270 to 285° (W), 0 to 10° high``."""
    if row["azimuth"] is None:
        return "sun below the horizon"
    low, up = int(row["azimuth"]), int(row["height"])
    return f"{low} to {low + _AZIMUTH}° ({wind(low + _AZIMUTH / 2)}), {up} to {up + _HEIGHT}° high"


def wind(degrees: float) -> str:
    """Name a direction: ``NW``."""
    return _WINDS[round(degrees / 45) % 8]


def gap_name(row: dict[str, Any]) -> str:
    """Name a gap: ``10 to 30 s``, ``up to 1 min``."""
    if row["high_s"] is None:
        return f"{seconds(row['low_s'])} and more"
    if not row["low_s"]:
        return f"under {seconds(row['high_s'])}"
    return f"{seconds(row['low_s'])} to {seconds(row['high_s'])}"


def seconds(value: float) -> str:
    """Say seconds in the unit that fits."""
    for size, unit in ((86_400, "d"), (3600, "h"), (60, "min")):
        if value >= size:
            return f"{value / size:g} {unit}"
    return f"{value:g} s"


def minutes(value: float) -> str:
    """Say minutes; from one hour on in hours."""
    return f"{value / 60:g} h" if value >= 60 else f"{value:g} min"


def rate(row: dict[str, Any]) -> str:
    """Say a rate with its interval; where there is too little time, that."""
    if row["rate"] is None:
        return "too little time"
    middle, low, high = (words.rate(row[name]) for name in ("rate", "rate_low", "rate_high"))
    return middle if row["rate_high"] is None else f"{middle} ({low} to {high})"


def table(profile: Profile, driver: str) -> pl.DataFrame:
    """Write the numbers behind a chart, as a file for a spreadsheet holds them.

    Parameters
    ----------
    profile : Profile
        Of a point.
    driver : str
        Which chart.

    Returns
    -------
    polars.DataFrame
        One row a bin.
    """
    if driver == "gaps":
        return gaps_named(profile).select("name", "low_s", "high_s", gaps="many")
    edges = ("azimuth", "height") if driver == "sun" else ("low", "high")
    return named(profile, driver).select(
        "name",
        *edges,
        alarm_days="alarms",
        hours_at_risk=pl.col("hours").round(2),
        rate_per_100_h=pl.col("rate").round(4),
        rate_low=pl.col("rate_low").round(4),
        rate_high=pl.col("rate_high").round(4),
    )
