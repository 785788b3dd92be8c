"""Tables to take away, as files for a spreadsheet: alarms, rates of a chart, use of a place."""

from typing import TYPE_CHECKING, Any

import polars as pl

from dashboards import alive, data, question, rates, usage
from dashboards.palette import BY_KEY
from eventlab.errors import NotFound

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered

_STARTERS = ("=", "+", "-", "@", "\t", "\r")


def harmless(text: pl.Expr) -> pl.Expr:
    """Keep a spreadsheet from reading text as a formula.

    Parameters
    ----------
    text : polars.Expr
        String.

    Returns
    -------
    polars.Expr
        With an apostrophe before whatever a spreadsheet would work out.
    """
    starts = pl.any_horizontal(text.str.starts_with(start) for start in _STARTERS)
    return pl.when(starts).then(pl.lit("'") + text).otherwise(text).name.keep()


def alarms_csv(marks: pl.DataFrame) -> str:
    """Write the alarms of a picture as CSV.

    Parameters
    ----------
    marks : polars.DataFrame
        As ``data.Picture.marks``.

    Returns
    -------
    str
        Wall clock, point, kind, cause family and share; texts made harmless.
    """
    words = {key: family.word for key, family in BY_KEY.items()}
    table = marks.select(
        when=pl.col("local").dt.strftime("%Y-%m-%d %H:%M:%S"),
        night=pl.col("night").dt.strftime("%Y-%m-%d"),
        point="zone",
        point_name="zone_name",
        kind=pl.col("kind").cast(pl.String),
        explained_by=pl.col("family").replace_strict(words, default=None, return_dtype=pl.String),
        share=pl.col("probability").round(3),
        text="text",
    )
    return table.with_columns(harmless(pl.col(pl.String))).write_csv()


def add_routes(app: "Dash", lab: "Remembered") -> None:
    """Add the routes of the files to take away.

    Parameters
    ----------
    app : dash.Dash
        The app.
    lab : Remembered
        The open store.
    """
    from flask import Response, request

    def asked_of(path: str) -> question.Question:
        return question.match(path, request.query_string.decode("utf-8", errors="replace"))

    def csv(text: str, name: str) -> Any:
        # The name says nothing of the site: files travel further than pages.
        return Response(
            text,
            mimetype="text/csv",
            headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
        )

    def alarms(site: str, zone: str | None = None) -> Any:
        asked = asked_of(f"/site/{site}" + (f"/zone/{zone}" if zone else ""))
        if not isinstance(asked, question.Site):
            return Response("There is no such site.\n", 404, mimetype="text/plain")
        try:
            marks = data.picture(lab, asked).marks
        except NotFound as error:
            return Response(f"{error}\n", 404, mimetype="text/plain")
        return csv(alarms_csv(marks), "alarms")

    def of_point(site: str, zone: str, chart: str) -> Any:
        asked = asked_of(f"/site/{site}/zone/{zone}")
        if not isinstance(asked, question.Point) or chart not in rates.CHARTS:
            return Response("There is no such table.\n", 404, mimetype="text/plain")
        try:
            profile = lab.point(asked.site, asked.zone, asked.within).profile
        except NotFound as error:
            return Response(f"{error}\n", 404, mimetype="text/plain")
        if profile is None:
            said = "The calls of a life-safety point are held against nothing.\n"
            return Response(said, 404, mimetype="text/plain")
        table = rates.table(profile, chart)
        return csv(table.with_columns(harmless(pl.col(pl.String))).write_csv(), chart)

    def of_use(site: str, chart: str) -> Any:
        asked = asked_of(f"/site/{site}/people")
        if not isinstance(asked, question.People) or chart not in usage.PARTS:
            return Response("There is no such table.\n", 404, mimetype="text/plain")
        try:
            used = usage.Used(lab.people(asked.site, None), lab.usual_hours(asked.site))
        except NotFound as error:
            return Response(f"{error}\n", 404, mimetype="text/plain")
        table = usage.table(used, chart)
        return csv(table.with_columns(harmless(pl.col(pl.String))).write_csv(), chart)

    def lanes(site: str, table: str) -> Any:
        asked = asked_of(f"/site/{site}/watch")
        if not isinstance(asked, question.Watch) or table not in alive.TABLES:
            return Response("There is no such table.\n", 404, mimetype="text/plain")
        try:
            rows = alive.TABLES[table](lab.alive(asked.site))
        except NotFound as error:
            return Response(f"{error}\n", 404, mimetype="text/plain")
        return csv(rows.with_columns(harmless(pl.col(pl.String))).write_csv(), table)

    point = "/site/<site>/zone/<zone>"
    app.server.add_url_rule("/site/<site>/alarms.csv", "take-alarms", alarms)
    app.server.add_url_rule("/site/<site>/people/<chart>.csv", "take-use", of_use)
    app.server.add_url_rule("/site/<site>/watch/<table>.csv", "take-lanes", lanes)
    app.server.add_url_rule(f"{point}/alarms.csv", "take-alarms-of-point", alarms)
    app.server.add_url_rule(f"{point}/rates/<chart>.csv", "take-rates", of_point)
