"""How is the place used? Its charts, drawn for the light they are looked at in."""

from typing import TYPE_CHECKING, Any

import polars as pl
from dash import Input, Output, State, no_update

from dashboards import ids, question, usage
from dashboards.figures import hours
from dashboards.figures import usage as bars
from dashboards.layouts import people
from dashboards.palette import Theme
from dashboards.question import People
from dashboards.usage import Used

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callback of the charts."""

    @app.callback(
        Output(ids.PEOPLE_CHARTS, "children"),
        Input(ids.THEME, "data"),
        State(ids.URL, "pathname"),
        State(ids.URL, "search"),
        State(ids.WIDTH, "data"),
    )
    def draw(theme: str, path: str, search: str, width: str) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, People):
            return no_update
        used = Used(lab.people(asked.site, asked.at), lab.usual_hours(asked.site))
        light, narrow = Theme(theme or Theme.LIGHT), width == "narrow"
        return people.sections(used, figures(used, light, narrow=narrow), asked)


def figures(used: Used, theme: Theme, *, narrow: bool) -> people.Drawn:
    """Draw every chart that there is something for.

    Parameters
    ----------
    used : Used
        What is shown.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen.

    Returns
    -------
    dict
        By chart: the figure and its rows.
    """
    view, bands = used.view, used.hours.bands
    drawn: people.Drawn = {}
    if bands.height:
        drawn["hours"] = hours.draw(bands, theme=theme, narrow=narrow), len(hours.hour_rows(bands))
    some, timed = usage.entries_drawn(view.entries)
    if some.height:
        delay = some["delay_s"].max() if timed else None
        figure = bars.entries(some, theme=theme, timed=timed, delay=delay, narrow=narrow)  # type: ignore[arg-type]  # a column of numbers
        drawn["entries"] = figure, some["who"].n_unique()
    if view.doors.height:
        drawn["doors"] = bars.doors(view.doors, theme=theme, narrow=narrow), view.doors.height
    told = view.people.filter(pl.col("expected").is_not_null())
    if told.height and told["alarms"].sum():
        drawn["people"] = bars.people(told, theme=theme, narrow=narrow), told.height
    out = view.bypasses
    if out.height:
        figure = bars.bypasses(out, theme=theme, first=view.first, last=view.last, narrow=narrow)
        drawn["bypasses"] = figure, out["label"].n_unique()
    return drawn
