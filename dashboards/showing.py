"""The events that prove a finding, or that stand around a mark, in the site's own wall clock."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl

from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Pattern, Phase, Subject

if TYPE_CHECKING:
    from dashboards.remember import Remembered

MOST_ROWS = 200
"""Rows of events shown at once; the file to take away has them all."""

_ALARMS = frozenset({*TRIPS, Kind.CONFIRMED_ALARM})
_LOST = frozenset({Kind.TAMPER, Kind.MASKING, Kind.SENSOR_FAULT, Kind.BYPASS, Kind.SHUTDOWN})

KINDS: dict[str, frozenset[Kind]] = {
    Pattern.CHATTERING: frozenset({*_ALARMS, Kind.ACTIVATION}),
    Pattern.ENTRY_OVERRUN: frozenset({*_ALARMS, Kind.DISARM, Kind.CANCEL}),
    Pattern.EXIT_OVERRUN: frozenset({*_ALARMS, Kind.EXIT_ERROR, Kind.ARM, Kind.CANCEL}),
    Pattern.MAINS_OUT: frozenset({Kind.MAINS_LOSS, Kind.SYSTEM_BATTERY_LOW, Kind.SYSTEM_RESTART}),
    Pattern.BATTERY_WEAK: frozenset({Kind.DEVICE_BATTERY_LOW, Kind.SYSTEM_BATTERY_LOW}),
    Pattern.UNSUPERVISED: frozenset({Kind.SUPERVISION_LOSS, Kind.RADIO_JAM}),
    Pattern.REPORT_MISSED: frozenset({Kind.TEST_REPORT, Kind.COMMS_FAIL}),
    Pattern.LEFT_ON_TEST: frozenset({Kind.ON_TEST, Kind.WALK_TEST, Kind.ON_SITE_WORK}),
    Pattern.ARMED_ON_PEOPLE: frozenset({*_ALARMS, Kind.ARM, Kind.DISARM}),
    Pattern.LAST_DOOR_UNLATCHED: frozenset({*_ALARMS, Kind.ARM, Kind.DISARM}),
    Pattern.OFF_WHEN_CLOSED: frozenset({Kind.MAINS_LOSS, Kind.COMMS_FAIL, Kind.ARM, Kind.DISARM}),
    Pattern.FORCED_ARMING: frozenset({Kind.ARM, Kind.ARM_FAILED, Kind.BYPASS}),
    Pattern.LASTING_BYPASS: frozenset({*_ALARMS, Kind.BYPASS}),
    Pattern.POSSIBLE_INTRUSION: frozenset(
        {*_ALARMS, *_LOST, Kind.ARM, Kind.DISARM, Kind.CANCEL, Kind.COMMS_FAIL, Kind.MAINS_LOSS}
    ),
}
"""What kinds of events a pattern is read from; a pattern not listed takes all of its subject."""

_PLACELESS = frozenset(
    {Kind.DISARM, Kind.ARM, Kind.CANCEL, Kind.EXIT_ERROR, Kind.SYSTEM_RESTART, Kind.MAINS_LOSS}
)
"""Kinds that name no point, yet belong to what a point did."""

_BRIEF = frozenset({*TRIPS, *LIFE_SAFETY, Kind.ACTIVATION})


@dataclass(frozen=True)
class Shown:
    """The events of one finding.

    Parameters
    ----------
    finding : dict
        One row of ``schema.FINDING``.
    events : polars.DataFrame
        Its events, with ``local``, ``night``, ``hour``; by time.
    held : polars.DataFrame
        ``night``, ``start_h``, ``end_h``: while its condition lasted.
    """

    finding: dict[str, Any]
    events: pl.DataFrame
    held: pl.DataFrame


def key(finding: dict[str, Any]) -> str:
    """Name a finding so that an address can hold it."""
    since = finding["since"].strftime("%Y%m%d%H%M") if finding["since"] else ""
    parts = (*(finding[name] for name in ("pattern", "subject_kind", "subject", "area")), since)
    return "~".join(part or "" for part in parts)


def show(finding: dict[str, Any], events: pl.DataFrame, end: date) -> Shown:
    """Find the events that a finding is read from.

    Parameters
    ----------
    finding : dict
        One row of ``schema.FINDING``.
    events : polars.DataFrame
        All events of its site as ``wall_clock`` gives them.
    end : date
        The last night shown; a condition that never ended lasts to it.

    Returns
    -------
    Shown
        Events between the finding's first and last moment, of its subject and its kinds.
    """
    mine = pl.lit(value=True)
    for column, edge in (("since", "ge"), ("until", "le")):
        if finding[column] is not None and not (edge == "le" and finding["standing"]):
            mine &= getattr(pl.col("placed"), edge)(finding[column])
    kinds = KINDS.get(finding["pattern"])
    if kinds is not None:
        mine &= pl.col("kind").cast(pl.String).is_in(sorted(kinds))
    mine &= _about(finding)
    some = events.filter(mine).sort("placed", "row")
    return Shown(finding=finding, events=some, held=_held(some, end))


def _about(finding: dict[str, Any]) -> pl.Expr:
    subject = pl.lit(value=True)
    # Only a pattern that says which kinds it is read from takes in what names no point.
    placeless = pl.lit(value=False)
    if finding["pattern"] in KINDS:
        placeless = pl.col("zone").is_null() & pl.col("kind").cast(pl.String).is_in(
            sorted(_PLACELESS)
        )
    said = finding["subject"]
    if finding["subject_kind"] == Subject.ZONE and said:
        subject = (pl.col("zone") == said) | placeless
    elif finding["subject_kind"] == Subject.PERSON and said:
        subject = (pl.col("person") == said) | pl.col("person").is_null()
    elif finding["subject_kind"] == Subject.AREA and said:
        subject = (pl.col("area") == said) | pl.col("area").is_null()
    if finding["area"]:
        subject &= (pl.col("area") == finding["area"]) | pl.col("area").is_null()
    return subject


def of_site(lab: "Remembered", site: str, time_zone: str) -> pl.DataFrame:
    """Return all events of a site in its own wall clock."""
    return wall_clock(lab.events(site=site), time_zone)


def row_of(events: pl.DataFrame, marks: pl.DataFrame, chosen: int) -> int | None:
    """Find which of some events is the mark that was chosen.

    Parameters
    ----------
    events : polars.DataFrame
        As ``wall_clock`` gives them.
    marks : polars.DataFrame
        The lab's marks: ``id``, ``local``, ``zone``, ``kind``.
    chosen : int
        The mark.

    Returns
    -------
    int or None
        Row of ``events``; None where none is of its second, point and kind.
    """
    one = marks.filter(pl.col("id") == chosen)
    if one.is_empty():
        return None
    same = (
        (pl.col("local") == one["local"][0])
        & pl.col("zone").eq_missing(pl.lit(one["zone"][0], pl.String))
        & (pl.col("kind").cast(pl.String) == one["kind"][0])
    )
    rows = events.with_row_index("_row").filter(same)["_row"]
    return int(rows[0]) if rows.len() else None


def wall_clock(events: pl.DataFrame, time_zone: str | None) -> pl.DataFrame:
    """Add ``local``, ``night`` and ``hour`` to events.

    Parameters
    ----------
    events : polars.DataFrame
        ``placed`` in UTC.
    time_zone : str or None
        The site's IANA zone; UTC where it is not known.

    Returns
    -------
    polars.DataFrame
        With ``local`` (wall clock), ``night`` (the date of its noon), ``hour`` (12 to 36).
    """
    local = pl.col("placed").dt.convert_time_zone(time_zone or "UTC").dt.replace_time_zone(None)
    return events.with_columns(local=local).with_columns(**_night("local"))


def _night(column: str) -> dict[str, pl.Expr]:
    night = pl.col(column).dt.offset_by("-12h").dt.date()
    return {
        "night": night,
        "hour": (pl.col(column) - night.cast(pl.Datetime("us"))).dt.total_seconds() / 3600,
    }


def _held(events: pl.DataFrame, end: date) -> pl.DataFrame:
    what = ["kind", "zone", "area"]
    lasting = events.filter(
        ~pl.col("kind").cast(pl.String).is_in(sorted(_BRIEF))
        & pl.col("phase").cast(pl.String).is_in([Phase.BEGIN, Phase.END])
    )
    ends = pl.col("local").shift(-1).over(what, order_by="local")
    stretches = (
        lasting.with_columns(
            to=ends.fill_null(pl.lit(end).cast(pl.Datetime("us")).dt.offset_by("36h"))
        )
        .filter(pl.col("phase").cast(pl.String) == Phase.BEGIN)
        .select(since="local", until="to")
        .filter(pl.col("until") > pl.col("since"))
    )
    return by_night(stretches)


def by_night(stretches: pl.DataFrame) -> pl.DataFrame:
    """Cut stretches of time at each noon.

    Parameters
    ----------
    stretches : polars.DataFrame
        ``since``, ``until`` wall-clock Datetime; other columns are kept.

    Returns
    -------
    polars.DataFrame
        ``night``, ``start_h``, ``end_h`` (12 to 36) and the other columns.
    """
    start, stop = pl.col("since"), pl.col("until")
    cut = stretches.with_columns(
        night=pl.date_ranges(
            start.dt.offset_by("-12h").dt.date(), stop.dt.offset_by("-12h").dt.date()
        )
    ).explode("night", empty_as_null=True)
    midnight = pl.col("night").cast(pl.Datetime("us"))
    return (
        cut.with_columns(
            start_h=((start - midnight).dt.total_seconds() / 3600).clip(12, 36),
            end_h=((stop - midnight).dt.total_seconds() / 3600).clip(12, 36),
        )
        .filter(pl.col("end_h") > pl.col("start_h"))
        .drop("since", "until")
    )
