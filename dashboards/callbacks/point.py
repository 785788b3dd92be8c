"""Why this point? Its charts; the rest of its page is shared with that of its site."""

from typing import TYPE_CHECKING, Any

from dash import Input, Output, State, no_update

from dashboards import ids, question, rates
from dashboards.figures import rates as bars
from dashboards.figures import sky
from dashboards.layouts import charts
from dashboards.palette import Theme
from dashboards.question import Point

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered
    from eventlab.lab import Profile


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callback of a point's charts."""

    @app.callback(
        Output(ids.POINT_CHARTS, "children"),
        Input(ids.THEME, "data"),
        State(ids.URL, "pathname"),
        State(ids.URL, "search"),
        State(ids.WIDTH, "data"),
    )
    def draw(theme: str, path: str, search: str, width: str) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Point):
            return no_update
        view = lab.point(asked.site, asked.zone, asked.within)
        if view.profile is None:
            return no_update
        light, narrow = Theme(theme or Theme.LIGHT), width == "narrow"
        drawn = figures(view.profile, light, of_hours=view.of_hours, narrow=narrow)
        return charts.section(view, drawn, asked)


def figures(profile: "Profile", theme: Theme, *, of_hours: str, narrow: bool) -> charts.Drawn:
    """Draw every chart that a profile has something for.

    Parameters
    ----------
    profile : Profile
        Of a point.
    theme : Theme
        Scheme of light.
    of_hours : str
        What the hours at risk are.
    narrow : bool
        Small screen.

    Returns
    -------
    dict of str to plotly.graph_objects.Figure
        By chart.
    """
    overall = 100 * profile.alarms / profile.hours if profile.hours else None
    drawn: charts.Drawn = {}
    for key in profile.bins["driver"].unique(maintain_order=True):
        drawn[key] = bars.draw(
            rates.named(profile, key),
            key,
            theme=theme,
            overall=overall,
            of_hours=of_hours,
            narrow=narrow,
        )
    if profile.sky.height:
        drawn["sun"] = sky.draw(
            rates.named(profile, "sun"),
            theme=theme,
            facing=profile.facing,
            of_hours=of_hours,
            narrow=narrow,
        )
    if profile.gaps.height:
        drawn["gaps"] = bars.gaps(rates.gaps_named(profile), theme=theme, narrow=narrow)
    return drawn
