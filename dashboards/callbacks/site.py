"""What is happening here, or at this point? Picture, events, findings and address."""

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl
from dash import ClientsideFunction, Input, Output, State, ctx, no_update

from dashboards import data, ids, marks, question, showing
from dashboards.figures import raster as night_raster
from dashboards.figures import spark
from dashboards.layouts import findings, nights
from dashboards.palette import Theme
from dashboards.question import Site
from eventlab.errors import NotFound

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered

MOST_PICTURES = 12
"""Findings after this many stand without a picture; their events can still be shown."""


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callbacks that the pages of a site and of a point share."""
    path, search = State(ids.URL, "pathname"), Input(ids.URL, "search")
    theme = Input(ids.THEME, "data")

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.SITE_SINCE, "value"),
        Input(ids.SITE_UNTIL, "value"),
        Input(ids.SITE_RASTER, "clickData"),
        path,
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def address(
        since: str | None,
        until: str | None,
        clicked: dict[str, Any] | None,
        path: str,
        search: str | None,
    ) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Site):
            return no_update
        if ctx.triggered_id == ids.SITE_RASTER:
            new = click(asked, clicked)
        else:
            new = replace(asked, since=question.day(since), until=question.day(until), page=1)
        told = question.search(new)
        return no_update if told == question.search(asked) else told

    @app.callback(
        Output(ids.SITE_RASTER, "figure"),
        Output(ids.SITE_RASTER_WORDS, "children"),
        Output(ids.SITE_SPAN, "children"),
        Output(ids.SITE_FAMILIES, "children"),
        Output(ids.SITE_SHADES, "children"),
        Output(ids.SITE_SINCE, "value"),
        Output(ids.SITE_UNTIL, "value"),
        Output(ids.SITE_RASTER_TABLE, "children"),
        Output(ids.SITE_RASTER_DRAWN, "data"),
        search,
        theme,
        path,
        State(ids.WIDTH, "data"),
        State(ids.SITE_RASTER_DRAWN, "data"),
    )
    def night_by_night(search: str, theme: str, path: str, width: str, drawn: list[str]) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Site):
            return (no_update,) * 9
        now = [
            question.href(replace(asked, finding=None, page=1)) + str(theme) + str(width),
            question.href(replace(asked, finding=None, around=None)),
        ]
        if drawn == now:
            return (no_update,) * 9
        picture = data.picture(lab, asked)
        table = nights.table(picture, asked)
        if drawn and drawn[0] == now[0]:
            return (no_update,) * 7 + (table, now)
        figure = night_raster.draw(
            picture.drawn,
            picture.spans,
            picture.sun,
            theme=Theme(theme or Theme.LIGHT),
            first=picture.first,
            last=picture.last,
            binned=picture.binned,
            chosen=asked.around,
            narrow=width == "narrow",
        )
        return (
            figure,
            nights.says(picture, asked),
            nights.spans(picture, asked),
            nights.legend(picture, asked),
            nights.shades(picture),
            asked.since.isoformat() if asked.since else "",
            asked.until.isoformat() if asked.until else "",
            table,
            now,
        )

    @app.callback(
        Output(ids.SITE_EVENTS, "children"),
        Output(ids.SITE_EVENTS_DRAWN, "data"),
        search,
        path,
        State(ids.SITE_EVENTS_DRAWN, "data"),
    )
    def events(search: str, path: str, drawn: str | None) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Site):
            return no_update, no_update
        now = f"{asked.around} {asked.finding}"
        if now == drawn:
            return no_update, no_update
        return _events(lab, asked), now

    @app.callback(
        Output(ids.SITE_FINDINGS, "children"),
        theme,
        path,
        State(ids.URL, "search"),
    )
    def cards(theme: str, path: str, search: str) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Site):
            return no_update
        points = lab.site(asked.site).points
        apart = frozenset(points.filter(points["within"].is_not_null())["zone"])
        return findings.cards(_cards(lab, asked, Theme(theme or Theme.LIGHT)), asked, apart)

    app.clientside_callback(
        ClientsideFunction("screens", "showEvents"),
        Output(ids.SITE_EVENTS, "data-shown"),
        Input(ids.SITE_EVENTS_DRAWN, "data"),
        prevent_initial_call=True,
    )


def click(asked: Site, clicked: dict[str, Any] | None) -> Site:
    """Say what is asked after a mark was chosen.

    Parameters
    ----------
    asked : question.Site
        What was asked before.
    clicked : dict or None
        What the picture tells of the click.

    Returns
    -------
    question.Site
        The same where the mark stands for several alarms.
    """
    point = ((clicked or {}).get("points") or [{}])[0]
    chosen = point.get("customdata")
    chosen = chosen[0] if isinstance(chosen, list) and chosen else chosen
    if not isinstance(chosen, int):
        return asked
    return replace(asked, around=chosen, finding=None)


def _events(lab: "Remembered", asked: Site) -> Any:
    back = replace(asked, around=None, finding=None)
    if asked.around is None and asked.finding is None:
        return None
    view = lab.site(asked.site)
    if asked.around is not None:
        try:
            some = showing.wall_clock(lab.around(asked.site, asked.around), view.time_zone)
            marked = showing.row_of(some, lab.raster(asked.site).marks, asked.around)
        except NotFound:
            return findings.events("This alarm is not known any more", marks.no_events(), back)
        return findings.events("What stood around this alarm", some, back, marked=marked)
    for finding in view.findings.to_dicts():
        if showing.key(finding) == asked.finding:
            _, last = data.span(data.raster(lab, asked))
            all_ = showing.of_site(lab, asked.site, view.time_zone)
            shown = showing.show(finding, all_, last)
            return findings.events(f"The events behind: {finding['statement']}", shown.events, back)
    return findings.events("This finding does not stand any more", marks.no_events(), back)


def _cards(lab: "Remembered", asked: Site, theme: Theme) -> list[Any]:
    found = data.findings(lab, asked)
    if found.is_empty():
        return []
    raster = data.raster(lab, asked)
    first, last = data.span(raster)
    events = showing.of_site(lab, asked.site, lab.site(asked.site).time_zone)
    ground = marks.spans(raster)
    ground = ground.filter(ground["what"].is_in(["armed", "part"]))
    told: list[Any] = []
    for finding in found.to_dicts():
        shown = figure = None
        if len(told) < MOST_PICTURES:
            shown = showing.show(finding, events, last)
        if shown is not None and shown.events.height:
            figure = spark.draw(
                shown.events,
                marks.with_held(ground, shown.held),
                theme=theme,
                **_window(shown.events["night"], first, last),
            )
        told.append((finding, shown, figure))
    return told


def _window(nights: pl.Series, first: date, last: date) -> dict[str, date]:
    # What took a few nights is drawn with as many around it as make its place plain.
    low, high = nights.min(), nights.max()
    room = timedelta(days=max(14, (high - low).days))
    return {"first": max(first, low - room), "last": min(last, high + room)}
