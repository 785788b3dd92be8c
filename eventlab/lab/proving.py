"""Did it work? Visits and dates of a site, and the proof for each."""

from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import polars as pl

from eventlab.advice import ASKED, proof
from eventlab.errors import NotFound
from eventlab.lab.standing import Standing
from eventlab.report import proof_in_words
from eventlab.schema import UTC, Kind, conform
from eventlab.settings import Settings


@dataclass(frozen=True)
class Proof:
    """What a date at a site comes to.

    Parameters
    ----------
    rows : polars.DataFrame
        Columns of ``advice.PROOF`` and the words of ``report.proof_in_words``, with ``visit`` (its
        number, from 1 in order of time; null for a date) and ``work``.
    visits : polars.DataFrame
        ``visit``, ``at`` (UTC), ``day`` (the site's own), ``zones``, ``work``: all visits on file.
    nights : polars.DataFrame
        ``night``, ``hours`` at risk, ``alarms``: of the first row.
    """

    rows: pl.DataFrame
    visits: pl.DataFrame
    nights: pl.DataFrame


def visits_of(standing: Standing, site: str) -> pl.DataFrame:
    """List the visits to a site in order of time.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site : str
        Which site.

    Returns
    -------
    polars.DataFrame
        As ``Proof.visits``.
    """
    home = _home(standing, site)
    return (
        standing.context.visits.filter((pl.col("site") == site) & pl.col("at").is_not_null())
        .sort("at")
        .with_columns(
            visit=pl.int_range(1, pl.len() + 1, dtype=pl.Int64),
            day=pl.col("at").dt.convert_time_zone(home).dt.date(),
        )
        .select("visit", "at", "day", "zones", "work")
    )


def prove(
    standing: Standing,
    site: str,
    settings: Settings,
    *,
    at: date | None = None,
    visit: int | None = None,
    zone: str | None = None,
) -> Proof:
    """Compare before and after a date, a visit, or every visit on file.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site : str
        Which site.
    settings : Settings
        The settings in force.
    at : date or datetime, optional
        By the site's own clock; a date is its beginning.
    visit : int, optional
        Number of a visit, from 1 in order of time.
    zone : str, optional
        Only this point. Left out: the points that a visit names; else the whole site, and each
        point that ever alarmed.

    Returns
    -------
    Proof
        Without a date and a visit: all visits.

    Raises
    ------
    NotFound
        Where there is no such visit or point.
    """
    visits = visits_of(standing, site)
    if zone is not None and zone not in standing.ground.points.filter(site=site)["zone"]:
        raise NotFound(f"there is no point {zone!r} at site {site}")
    asked = visits
    if at is not None:
        moment = at if isinstance(at, datetime) else datetime.combine(at, time())
        moment = moment.replace(tzinfo=ZoneInfo(_home(standing, site)))
        asked = pl.DataFrame({"at": [moment]}, schema={"at": UTC}).with_columns(
            visit=pl.lit(None, pl.Int64),
            zones=pl.lit(None, pl.List(pl.String)),
            work=pl.lit(None, pl.String),
        )
    elif visit is not None:
        asked = visits.filter(pl.col("visit") == visit)
        if asked.is_empty():
            many = visits.height
            raise NotFound(
                f"there is no visit {visit} at site {site}",
                do=f"Visits on file: {many}." if many else "No visit to it is on file.",
            )
    wanted = pl.concat([_points(standing, site, one, zone) for one in asked.to_dicts()] or [_NONE])
    proven = proof(standing.ground, conform(wanted, ASKED), settings)
    words = proof_in_words(proven, standing.ground, standing.context)
    rows = words.hstack(wanted.select("visit", "work"))
    return Proof(rows, visits, _nights(standing, site, rows))


_NONE = pl.DataFrame(schema={**ASKED, "visit": pl.Int64(), "work": pl.String()})


def _home(standing: Standing, site: str) -> str:
    zone = standing.ground.sites.filter(site=site)["time_zone"].drop_nulls().to_list()
    return str(zone[0]) if zone else "UTC"


def _points(
    standing: Standing, site: str, one: dict[str, object], zone: str | None
) -> pl.DataFrame:
    """List the rows that a visit or a date asks for."""
    named = one["zones"]
    if zone is not None:
        zones: list[str | None] = [zone]
    elif isinstance(named, list) and named:
        zones = list(named)
    else:
        alarms = standing.ground.occurrences.filter(
            (pl.col("site") == site)
            & pl.col("trip")
            & (pl.col("kind") != Kind.TAMPER_ALARM)
            & pl.col("zone").is_not_null()
        )
        often = alarms.group_by("zone").agg(n=pl.col("night").n_unique())
        zones = [None, *often.sort("n", "zone", descending=[True, False])["zone"].to_list()]
    frame = pl.DataFrame({"zone": zones}, schema={"zone": pl.String})
    return conform(
        frame.with_columns(
            site=pl.lit(site),
            at=pl.lit(one["at"], UTC),
            visit=pl.lit(one["visit"], pl.Int64),
            work=pl.lit(one["work"], pl.String),
        ),
        dict(_NONE.schema),
    )


def _nights(standing: Standing, site: str, rows: pl.DataFrame) -> pl.DataFrame:
    from eventlab.advice import nights_of

    if rows.is_empty():
        return nights_of(standing.ground, site, None).clear()
    return nights_of(standing.ground, site, rows["zone"][0])
