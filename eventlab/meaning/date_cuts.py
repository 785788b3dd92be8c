"""Cells cut into the text of the date and the text of the time of day.

Three cuts, from cheap to dear: before the hours of the first ``:``; at the places where a sample
of cells of the same length is cut; by patterns.
"""

import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.remembered import Remembered

_CLOCK = r"[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]+)?)?(?:\s*[AaPp]\.?\s?[Mm]\.?)?"
_DOTTED = r"[0-9]{1,2}[.hH][0-9]{2}(?:[.mM][0-9]{2}(?:,[0-9]+)?)?(?:\s*[AaPp]\.?\s?[Mm]\.?)?"
_SHIFT = r"(?:\s*(?:[Zz]|[+-][0-9]{2}:?[0-9]{2}))?"
_PATTERNS = (
    # 20250301221500, 20250301 2215
    r"^(?P<date>(?:19|20)[0-9]{6})[ Tt_-]?(?P<clock>[0-9]{4}(?:[0-9]{2}(?:[.,][0-9]+)?)?"
    + _SHIFT
    + r")$",
    # Sat Mar  1 22:15:00 2025
    rf"^(?P<date>.*\p{{L}}.*?)\s+(?P<clock>{_CLOCK})(?P<rest>\s+[0-9]{{4}})$",
    # 22:15:00 01/03/2025
    rf"^(?P<clock>{_CLOCK})[\s,;@-]+(?P<date>\S.*)$",
    # 01.03.2025 22.15.00, 01/03/2025 22h15
    rf"^(?P<date>.*\S)[\s,;@]+(?P<clock>{_DOTTED})$",
    # 01/03/2025 at 9:05, and what else the cheap cut did not read
    rf"^(?P<date>.*?)[\sTt,;@-]+(?P<clock>{_CLOCK}(?:\s*\S+)?)$",
    # a date alone
    r"^(?P<date>.*)$",
)

_COMPACT_DATE = 8
"""Figures of ``20250301``."""

_COMPACT = 12
"""Figures of ``202503012215``: what is shorter holds a date alone."""

_SAMPLE = 200
"""Cells of one length that are cut by patterns to learn where the others are cut."""

_LENGTHS = 16
"""More lengths than this among cells: they are no stamps of a machine."""


def cut(cells: pl.Series) -> pl.DataFrame:
    """Cut cells before the hours of the first ``:``, or behind eight figures; else all is date.

    Parameters
    ----------
    cells : polars.Series of String
        Cells as they stand.

    Returns
    -------
    polars.DataFrame
        ``date`` and ``clock``, never null; joined they are the cell again.
    """
    return _parts(_CUT(cells.fill_null("")))


def _parts(found: pl.DataFrame) -> pl.DataFrame:
    return pl.DataFrame([found["date"], found["clock"]])


def _cut(cells: pl.Series) -> pl.DataFrame:
    frame = cells.to_frame("cell")
    if (frame["cell"].str.len_chars() == frame["cell"].str.len_bytes()).all():
        colon = frame["cell"].str.find(":", literal=True).cast(pl.Int64)
    else:
        colon = frame["cell"].str.extract(r"^([^:]*):", 1).str.len_chars().cast(pl.Int64)
    place = (colon - 2).clip(lower_bound=0)
    if place.null_count():
        long = pl.col("cell").str.len_bytes() >= _COMPACT
        figures = pl.col("cell").str.slice(0, _COMPACT_DATE).cast(pl.Int32, strict=False)
        compact = pl.when(long & figures.is_not_null()).then(_COMPACT_DATE)
        whole = pl.col("cell").str.len_bytes().cast(pl.Int64)
        place = place.fill_null(frame.select(compact.otherwise(whole)).to_series())
    return frame.select(
        text="cell", date=pl.col("cell").str.slice(0, place), clock=pl.col("cell").str.slice(place)
    )


_CUT = Remembered(_cut)


def cut_with_care(cells: pl.Series) -> pl.DataFrame:
    """Cut cells by patterns: compact, time first, year last, dotted clocks.

    Parameters
    ----------
    cells : polars.Series of String
        Distinct cells, no nulls.

    Returns
    -------
    polars.DataFrame
        ``date`` and ``clock``, never null.
    """
    return _parts(_WITH_CARE(cells))


def _with_care(cells: pl.Series) -> pl.DataFrame:
    plain = cells.str.strip_chars()
    nothing = pl.Series([None], dtype=pl.String).new_from_index(0, len(cells))
    date, clock = nothing, nothing
    for pattern in _PATTERNS:
        found = plain.str.extract_groups(pattern).struct.unnest()
        day = found["date"] + found["rest"] if "rest" in found.columns else found["date"]
        left = date.is_null()
        date = day.zip_with(left, date)
        clock = (found["clock"] if "clock" in found.columns else nothing).zip_with(left, clock)
    parts = {"date": date.fill_null(""), "clock": clock.fill_null("")}
    return pl.DataFrame({"text": cells, **parts})


_WITH_CARE = Remembered(_with_care)


def cut_alike(cells: pl.Series) -> pl.DataFrame:
    """Cut many cells where a sample of the same length is cut by patterns.

    Parameters
    ----------
    cells : polars.Series of String
        No nulls.

    Returns
    -------
    polars.DataFrame
        ``date`` and ``clock``; all is date where the sample is cut at different places.
    """
    length = cells.str.len_bytes()
    if (cells.str.len_chars() != length).any():
        # Places are counted in bytes: letters beyond ASCII are cut one by one.
        texts, code = distinct(cells)
        found = cut_with_care(texts)
        return found.select(pl.all().gather(code))
    frame = pl.DataFrame({"date": cells, "clock": cells, "length": length})
    none = pl.lit(0)
    starts, sizes, clock_starts, clock_sizes = none, pl.col("length"), none, none
    lengths = length.unique()
    for each in lengths.to_list() if len(lengths) <= _LENGTHS else []:
        alike = cells.filter(length == each)
        places = _places(alike.sample(min(len(alike), _SAMPLE), seed=1))
        if places is None:
            continue
        here = pl.col("length") == each
        start, size, clock_start, clock_size = places
        starts = pl.when(here).then(start).otherwise(starts)
        sizes = pl.when(here).then(size).otherwise(sizes)
        clock_starts = pl.when(here).then(clock_start).otherwise(clock_starts)
        clock_sizes = pl.when(here).then(clock_size).otherwise(clock_sizes)
    return frame.select(
        pl.col("date").str.slice(starts, sizes),
        pl.col("clock").str.slice(clock_starts, clock_sizes),
    )


def _places(sample: pl.Series) -> tuple[int, int, int, int] | None:
    found = cut_with_care(sample).with_columns(cell=sample)
    date, clock = pl.col("date"), pl.col("clock")
    places = found.select(
        pl.col("cell").str.find(date, literal=True).alias("start"),
        date.str.len_bytes().alias("size"),
        # The clock is looked for behind the date where it stands there.
        pl.when(pl.col("cell").str.ends_with(clock))
        .then(pl.col("cell").str.len_bytes() - clock.str.len_bytes())
        .otherwise(pl.col("cell").str.find(clock, literal=True))
        .alias("clock_start"),
        clock.str.len_bytes().alias("clock_size"),
    ).unique()
    if places.height != 1 or any(value is None for value in places.row(0)):
        return None
    start, size, clock_start, clock_size = places.row(0)
    return start, size, clock_start, clock_size
