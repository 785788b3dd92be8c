"""Date and time cells of context files to UTC."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import polars as pl

from eventlab.errors import WrongContext
from eventlab.meaning.question import Choice, Question
from eventlab.schema import UTC, WALL, Role, formatted

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


@dataclass(frozen=True)
class Timed:
    """Rows with their moments.

    Parameters
    ----------
    frame : polars.DataFrame
        The rows with ``at`` (UTC, null where it cannot be told).
    trouble : polars.DataFrame
        ``row, problem``: rows whose time cannot be used.
    questions : tuple of Question
        What the times leave open.
    evidence : tuple of str
        How that was decided.
    """

    frame: pl.DataFrame
    trouble: pl.DataFrame
    questions: tuple[Question, ...] = ()
    evidence: tuple[str, ...] = ()


def timed_rows(
    frame: pl.DataFrame,
    said: pl.Series,
    sites: pl.DataFrame,
    answers: Mapping[str, str],
    *,
    where: str,
    in_utc: bool,
    role: Role,
) -> Timed:
    """Give rows of a context file their moments.

    Parameters
    ----------
    frame : polars.DataFrame
        Rows with, where told, ``site`` and ``station``.
    said : polars.Series
        When, as text, row for row.
    sites : polars.DataFrame
        SITE columns, for their time zones.
    answers : mapping of str to str
        ``weather-clock``: ``site``, ``utc`` or ``standard``; ``time-zone``: of rows whose place
        has none.
    where : str
        The file's name.
    in_utc : bool
        Whether the file says that a time without an offset is UTC.
    role : Role
        Weather may be kept by another clock than the site's.

    Returns
    -------
    Timed
        The rows, and what stays open.
    """
    walls = wall_times(said.alias("at"), where=where)
    clock = answers.get("weather-clock") if role is Role.WEATHER else None
    names = _zone_of_rows(frame, sites, answers.get("time-zone"))
    rows = frame.drop("at").with_columns(
        walls["wall"], walls["offset_s"], names.alias("time_zone"), group=_group(frame)
    )
    timed = to_moments(
        _standard(rows) if clock == "standard" else rows, in_utc=in_utc or clock == "utc"
    )
    found = Timed(timed, _trouble(timed, said))
    if role is not Role.WEATHER or clock is not None or in_utc:
        return found
    never = _left_out(rows)
    if never.is_empty():
        return found
    # Weather is often kept by a clock that knows no summer time. That shows where it goes on
    # through the hour that the site's clock leaves out.
    shown = str(never["wall"][0])[:16]
    why = f"{shown} stands in it, which the clock of the place ({never['time_zone'][0]}) left out"
    if _standard(rows)["offset_s"].drop_nulls().unique().to_list() == [0]:
        timed = to_moments(rows, in_utc=True)
        return replace(
            found,
            frame=timed,
            trouble=_trouble(timed, said),
            evidence=(f"times: UTC all year; {why}",),
        )
    choices = (
        Choice("utc", "UTC"),
        Choice("standard", "standard time of the place all year, no summer time"),
        Choice("site", "the clock of the place; leave those rows out"),
    )
    question = Question("weather-clock", "By which clock are these times?", choices, (why,))
    return replace(found, questions=(question,))


def _zone_of_rows(frame: pl.DataFrame, sites: pl.DataFrame, told: str | None) -> pl.Series:
    """Return the time zone of each row: its site's, the one of all sites, or the one told."""
    zones = sites.select("site", "time_zone")
    if "site" in frame.columns:
        joined = frame.select("site").join(zones, on="site", how="left", maintain_order="left")
        names = joined["time_zone"]
    else:
        names = pl.Series([None] * frame.height, dtype=pl.String)
    shared = zones["time_zone"].drop_nulls().unique()
    only = told or (str(shared[0]) if len(shared) == 1 else None)
    return names if only is None else names.fill_null(only)


def _group(frame: pl.DataFrame) -> pl.Expr:
    """Tell rows of one clock: those of one site and station."""
    names = [pl.col(c).fill_null("") for c in ("site", "station") if c in frame.columns]
    return pl.concat_str(names, separator="\t") if names else pl.lit("")


def _standard(rows: pl.DataFrame) -> pl.DataFrame:
    """Give rows without an offset that of their zone in winter, the smaller one of the year."""
    winter = {
        zone: min((first, *(after for *_, after in found)))
        for zone, (first, found) in _changes(rows).items()
    }
    own = pl.col("time_zone").replace_strict(winter, default=None, return_dtype=pl.Int32)
    return rows.with_columns(offset_s=pl.coalesce("offset_s", own))


def _left_out(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the rows at times that the clock of their zone left out."""
    return _in_change(rows, forward=True)


def _twice(timed: pl.DataFrame) -> pl.DataFrame:
    """Place the two rows of a time that came twice, one of each hour, by their order."""
    key = ["group", "wall"]
    ambiguous = _in_change(timed.filter(pl.col("at").is_null()), forward=False)
    pairs = ambiguous.sort("_order").filter(pl.len().over(key) == 2)
    if pairs.is_empty():
        return timed
    rising = (pl.col("wall").last() >= pl.col("wall").first()).over("group")
    up = timed.select("_order", rising=rising)
    earlier = (pl.int_range(pl.len()).over(key) == 0) == pl.col("rising")
    moved = pl.col("wall") - pl.duration(
        seconds=pl.when(earlier).then(pl.col("before")).otherwise(pl.col("after"))
    )
    found = pairs.join(up, on="_order").select("_order", _pair=moved.dt.replace_time_zone("UTC"))
    joined = timed.join(found, on="_order", how="left", maintain_order="left")
    return joined.with_columns(at=pl.coalesce("at", pl.col("_pair").cast(UTC))).drop("_pair")


def _in_change(rows: pl.DataFrame, *, forward: bool) -> pl.DataFrame:
    """Return the rows at times that a change left out (forward) or repeated."""
    found = [
        (zone, (at + min(before, after)) * 1_000_000, abs(after - before), before, after)
        for zone, (_, found) in _changes(rows).items()
        for at, before, after in found
        if (after > before) is forward
    ]
    names = ("time_zone", "begins", "lasts", "before", "after")
    known = pl.DataFrame(
        found,
        {name: pl.String() if name == "time_zone" else pl.Int64() for name in names},
        orient="row",
    ).with_columns(pl.col("begins").cast(WALL))
    return (
        rows.filter(pl.col("offset_s").is_null() & pl.col("wall").is_not_null())
        .sort("wall")
        .join_asof(
            known.sort("begins"),
            left_on="wall",
            right_on="begins",
            by="time_zone",
            check_sortedness=False,
        )
        .filter(pl.col("wall") < pl.col("begins") + pl.duration(seconds="lasts"))
    )


def _changes(rows: pl.DataFrame) -> dict[str, tuple[int, tuple[tuple[int, int, int], ...]]]:
    """Return the offset at the start and all changes of each zone over the years of the rows."""
    from eventlab.meaning.transitions import changes

    zones = rows["time_zone"].drop_nulls().unique(maintain_order=True).to_list()
    low, high = rows.select(
        low=pl.col("wall").dt.year().min(), high=pl.col("wall").dt.year().max()
    ).row(0)
    return {} if low is None else {zone: changes(zone, low, high) for zone in zones}


def _trouble(timed: pl.DataFrame, said: pl.Series) -> pl.DataFrame:
    unread = (said.is_not_null() & timed["wall"].is_null()).alias("unread")
    return timed.select(
        "row",
        problem=pl.when(unread)
        .then(formatted("'{}' is not a date and time; row not used", said.fill_null("")))
        .otherwise(pl.col("trouble") + "; row not used"),
    ).drop_nulls("problem")


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
        frame = _twice(frame)
    unread = pl.col("wall").is_not_null() & pl.col("at").is_null()
    return frame.with_columns(
        trouble=pl.when(unread & pl.col("time_zone").is_null())
        .then(pl.lit("the time zone of the site is not known"))
        .when(unread)
        .then(pl.lit("this time does not exist, or came twice, on the site's clock"))
    ).drop("_order")


def _other_form(cells: pl.Series, *, where: str) -> pl.DataFrame:
    from eventlab.meaning.dates import read_dates

    dated = read_dates(cells, None)
    if dated.question is not None:
        yearless = dated.question.key != "dates"
        raise WrongContext(
            "the dates tell no year"
            if yearless
            else "the dates can be read day first or month first",
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
