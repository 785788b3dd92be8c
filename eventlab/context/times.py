"""Date and time cells of context files to UTC."""

import polars as pl

from eventlab.errors import WrongContext
from eventlab.schema import UTC, WALL

_ISO = (
    r"^(?P<date>\d{4}-\d{2}-\d{2})"
    r"(?:[T ]\s*(?P<hour>\d{2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d+)?)?"
    r"\s*(?P<zone>[Zz]|[+-]\d{2}:?\d{2})?)?$"
)


def wall_times(cells: pl.Series, *, where: str) -> pl.DataFrame:
    """Read dates with or without a time as the clock shows them.

    Parameters
    ----------
    cells : polars.Series
        Text; null where nothing is said. Written as ISO 8601, or all in one other form that
        the column itself decides.
    where : str
        The file's name, for the message.

    Returns
    -------
    polars.DataFrame
        ``wall`` (no zone; null where unreadable) and ``offset_s`` (Int32, null where the text
        carries none), row for row.

    Raises
    ------
    WrongContext
        Where the column could be read in two ways.
    """
    parts = cells.str.strip_chars().str.extract_groups(_ISO).struct.unnest()
    if parts["date"].null_count() == parts.height and cells.null_count() < len(cells):
        return _other_form(cells, where=where)
    clock = pl.concat_str(
        "date",
        pl.lit(" "),
        pl.col("hour").fill_null("00"),
        pl.lit(":"),
        pl.col("minute").fill_null("00"),
        pl.lit(":"),
        pl.col("second").fill_null("00"),
    )
    zone = pl.col("zone").str.replace(":", "", literal=True).str.to_uppercase()
    seconds = (
        zone.str.slice(1, 2).cast(pl.Int32, strict=False) * 3600
        + zone.str.slice(3, 2).cast(pl.Int32, strict=False) * 60
    )
    offset = (
        pl.when(zone == "Z")
        .then(pl.lit(0, pl.Int32))
        .when(zone.str.starts_with("-"))
        .then(-seconds)
        .otherwise(seconds)
    )
    return parts.select(
        wall=clock.str.strptime(WALL, "%Y-%m-%d %H:%M:%S", strict=False), offset_s=offset
    )


def dates(cell: pl.Expr) -> pl.Expr:
    """Read a calendar date written as ISO 8601; null otherwise."""
    return cell.str.strip_chars().str.slice(0, 10).str.strptime(pl.Date, "%Y-%m-%d", strict=False)


def to_moments(frame: pl.DataFrame, *, in_utc: bool) -> pl.DataFrame:
    """Turn wall times to UTC: by their own offset, as UTC, or by the site's time zone.

    Parameters
    ----------
    frame : polars.DataFrame
        ``wall``, ``offset_s``, ``time_zone`` (null where unknown) and ``group`` (rows of one
        clock, in the order of the file).
    in_utc : bool
        Whether a time without an offset is UTC.

    Returns
    -------
    polars.DataFrame
        The frame with ``at`` (UTC, null where it cannot be told) and ``trouble`` (why not).
    """
    own = pl.col("offset_s").is_not_null()
    if in_utc:
        frame = frame.with_columns(offset_s=pl.col("offset_s").fill_null(0))
    fixed = (pl.col("wall") - pl.duration(seconds="offset_s")).dt.replace_time_zone("UTC")
    frame = frame.with_row_index("_order").with_columns(at=pl.when(own).then(fixed).cast(UTC))
    if in_utc:
        return frame.with_columns(at=fixed.cast(UTC), trouble=pl.lit(None, pl.String)).drop(
            "_order"
        )
    local = frame.filter(~own & pl.col("wall").is_not_null() & pl.col("time_zone").is_not_null())
    if local.height:
        from eventlab.meaning.clock import to_utc

        placed = to_utc(local.drop("at", "offset_s"), group="group")
        frame = (
            frame.join(
                placed.select("_order", _local="at"), on="_order", how="left", maintain_order="left"
            )
            .with_columns(at=pl.coalesce("at", "_local"))
            .drop("_local")
        )
    unread = pl.col("wall").is_not_null() & pl.col("at").is_null()
    return frame.with_columns(
        trouble=pl.when(unread & pl.col("time_zone").is_null())
        .then(pl.lit("the time zone of the site is not known"))
        .when(unread)
        .then(pl.lit("this time does not exist on the site's clock"))
    ).drop("_order")


def _other_form(cells: pl.Series, *, where: str) -> pl.DataFrame:
    from eventlab.meaning.dates import read_dates

    dated = read_dates(cells, None)
    if dated.question is not None:
        raise WrongContext(
            "the dates can be read day first or month first",
            where=where,
            do="Write them as 2025-12-31 14:05",
        )
    offset = dated.offset_s
    return pl.DataFrame(
        {
            "wall": dated.wall,
            "offset_s": pl.Series([None] * len(cells), dtype=pl.Int32)
            if offset is None
            else offset,
        }
    )
