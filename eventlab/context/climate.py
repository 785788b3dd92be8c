"""Weather files of two open formats, told by their first line: EPW and TMY3.

EPW: EnergyPlus documentation, Auxiliary Programs; TMY3: Wilcox and Marion, NREL/TP-581-43156
(2008). Both hold a year of hours. Where its months come from several years, or where a person says
so, it is a typical year: nothing that happened on a date, and never joined to a log.
"""

import io
import re
from collections.abc import Mapping

import polars as pl

from eventlab.context.parse import Parsed
from eventlab.errors import WrongContext
from eventlab.meaning.question import Choice, Question
from eventlab.schema import WEATHER, conform, empty

_EPW = re.compile(rb"(?:\xef\xbb\xbf)?LOCATION,(?:[^,\r\n]*,){5,}")
_TMY3 = re.compile(
    rb'(?:\xef\xbb\xbf)?\d{6},"?[^",\r\n]+"?,[^,\r\n]*,\s*-?\d+(?:\.\d+)?,\s*-?\d+\.\d+,\s*-?\d+\.\d+,'
    rb"[^\r\n]*\r?\nDate \(MM/DD/YYYY\),"
)
_MISSING: Mapping[str, tuple[str, float]] = {
    "temperature_c": ("temp_air", 99.9),
    "wind_m_s": ("wind_speed", 999.0),
    "rain_mm": ("liquid_precipitation_depth", 999.0),
    "cloud_oktas": ("total_sky_cover", 99.0),
    "ghi_w_m2": ("ghi", 9999.0),
}
"""Columns of an EPW file, and from which number on nothing was measured."""
_OKTAS = 0.8
"""EPW tells tenths of the sky."""

_TYPICAL = "it is a typical year{}, not the weather of your dates"
_INSTEAD = "Use weather that was measured in the time of the log"


def is_climate(head: bytes) -> bool:
    """Tell from its start whether a file is EPW or TMY3.

    Parameters
    ----------
    head : bytes
        The first lines.
    """
    return bool(_EPW.match(head) or _TMY3.match(head))


def parse_climate(data: bytes, *, name: str, answers: Mapping[str, str] | None = None) -> Parsed:
    """Read an EPW or TMY3 file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name.
    answers : mapping of str to str, optional
        ``weather-year``: ``measured`` or ``typical``.

    Returns
    -------
    Parsed
        WEATHER rows with the place of the station; a question where one year of hours may have
        been measured or may be typical.

    Raises
    ------
    WrongContext
        Where it is a typical year, or damaged.
    """
    if not _EPW.match(data):
        raise WrongContext(_TYPICAL.format(" (TMY3)"), where=name, do=_INSTEAD)
    from pvlib.iotools import read_epw

    try:
        table, told = read_epw(io.StringIO(data.decode("utf-8-sig", errors="replace")))
    except (ValueError, KeyError, IndexError, TypeError) as error:
        raise WrongContext(
            f"the file begins like an EPW file and goes on otherwise ({error})",
            where=name,
            do="Export it again",
        ) from None
    years = sorted({int(year) for year in table["year"]})
    if len(years) > 2:
        from_years = f" put together from {years[0]} to {years[-1]}"
        raise WrongContext(_TYPICAL.format(from_years), where=name, do=_INSTEAD)
    said = (answers or {}).get("weather-year")
    if said == "typical":
        raise WrongContext(_TYPICAL.format(""), where=name, do=_INSTEAD)
    frame = (
        pl.DataFrame(
            {
                "station": [str(told["city"])] * len(table),
                "at": table.index.tz_convert("UTC").tz_localize(None).to_numpy("datetime64[us]"),
                "latitude": [float(told["latitude"])] * len(table),
                "longitude": [float(told["longitude"])] * len(table),
            }
            | {ours: table[theirs].to_numpy(float) for ours, (theirs, _) in _MISSING.items()}
        )
        .with_columns(
            pl.col("at").dt.replace_time_zone("UTC"),
            *(
                pl.when(pl.col(ours) < missing).then(pl.col(ours))
                for ours, (_, missing) in _MISSING.items()
            ),
        )
        .with_columns(pl.col("cloud_oktas") * _OKTAS)
    )
    shaped = conform(frame, WEATHER)
    if said is None:
        shown = " and ".join(str(year) for year in years)
        question = Question(
            "weather-year",
            f"Was this weather measured in {shown}, or is it a typical year?",
            (
                Choice("measured", f"measured in {shown}"),
                Choice("typical", "a typical year; then it is not taken"),
            ),
        )
        return Parsed(empty(WEATHER), _no_problems(), (), (question,))
    return Parsed(shaped, _no_problems(), (f"EPW: measured in {', '.join(map(str, years))}",))


def _no_problems() -> pl.DataFrame:
    return pl.DataFrame(schema={"row": pl.Int64, "raw": pl.String, "problem": pl.String})
