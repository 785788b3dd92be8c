"""Findings with their sentence, in the shape that screens and files consume."""

import json

import polars as pl

from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.meaning.clock import to_wall
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from eventlab.report.text import user
from eventlab.schema import FINDING, LIFE_SAFETY_USES, Subject, conform

_MOMENT = "%-d %b %Y %H:%M"
_EXAMINE = (
    " It is a life-safety point: have it examined by a licensed person, and treat every call from "
    "it as real until then."
)


def state(found: pl.DataFrame, ground: Ground, context: Context) -> pl.DataFrame:
    """Say each finding in a sentence, with the wall clock of its site.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns, with ``advice`` and ``caution`` where advice was added.
    ground : Ground
        Time zones of the sites, names of points, life-safety points.
    context : Context
        Names of the sites.

    Returns
    -------
    polars.DataFrame
        FINDING columns in the order given. People are told by number only.
    """
    dressed = _dressed(found, ground, context)
    told = [_statement(row) for row in dressed.iter_rows(named=True)]
    return conform(
        found.with_columns(statement=pl.Series("statement", told, dtype=pl.String)), FINDING
    )


def _dressed(found: pl.DataFrame, ground: Ground, context: Context) -> pl.DataFrame:
    """Add names and wall times, one row per finding in its order."""
    numbered = found.with_row_index("finding").with_columns(
        zone=pl.when(pl.col("subject_kind") == Subject.ZONE).then("subject")
    )
    points = ground.points.select("site", "zone", "area", "name", "use", "life_safety")
    same = pl.col("area").eq_missing(pl.col("area_right"))
    named = (
        numbered.join(points.filter(pl.col("zone").is_not_null()), on=["site", "zone"], how="left")
        .sort("finding", ~same)
        .unique("finding", keep="first", maintain_order=True)
    )
    sites = context.sites.select("site", site_name="name").unique("site", keep="first")
    zones = ground.sites.select("site", pl.col("time_zone").fill_null("UTC"))
    full = (
        named.join(sites, on="site", how="left", maintain_order="left")
        .join(zones, on="site", how="left", maintain_order="left")
        .with_columns(pl.col("time_zone").fill_null("UTC"))
    )
    for column in ("since", "until"):
        full = to_wall(full, column, "time_zone", f"{column}_wall")
    listed = pl.col("use").is_in(list(LIFE_SAFETY_USES)).fill_null(value=False)
    return full.with_columns(
        pl.col("since_wall", "until_wall").dt.strftime(_MOMENT).fill_null("a time not known"),
        life_safety=listed | pl.col("life_safety").fill_null(value=False),
    )


def _statement(row: dict[str, object]) -> str:
    figures = json.loads(str(row["figures"])) if row["figures"] else {}
    site = str(row["site_name"] or f"site {row['site']}")
    kind = str(row["subject_kind"])
    subject, name = row["subject"], row["name"]
    words = {
        Subject.ZONE: f"point {subject}" + (f" ({name})" if name else ""),
        Subject.AREA: f"area {subject}",
        Subject.PERSON: user(subject),
    }
    said = Said(
        subject=words.get(Subject(kind), site),
        subject_kind=kind,
        site=site,
        standing=bool(row["standing"]),
        since=str(row["since_wall"]),
        until=str(row["until_wall"]),
        figures=figures,
        ratio=_number(row["ratio"]),
        ratio_low=_number(row["ratio_low"]),
        ratio_high=_number(row["ratio_high"]),
        q_value=_number(row["q_value"]),
    )
    text = sentence(str(row["pattern"]), said)
    if row["life_safety"] or figures.get("life_safety"):
        return text + _EXAMINE
    return text


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
