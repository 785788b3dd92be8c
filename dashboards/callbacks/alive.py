"""Is it still listening? The pictures, in the light and width of the reader."""

from typing import TYPE_CHECKING, Any

from dash import Input, Output, State, no_update

from dashboards import alive, ids, question
from dashboards.figures import lanes as picture
from dashboards.figures import weeks
from dashboards.layouts import alive as page
from dashboards.palette import Theme
from dashboards.question import Watch

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callback of the lanes."""

    @app.callback(
        Output(ids.ALIVE_LANES, "children"),
        Output(ids.ALIVE_POINTS, "children"),
        Output(ids.ALIVE_WEEKS, "children"),
        Input(ids.THEME, "data"),
        State(ids.URL, "pathname"),
        State(ids.URL, "search"),
        State(ids.WIDTH, "data"),
    )
    def draw(theme: str, path: str, search: str, width: str) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Watch):
            return (no_update,) * 3
        view, narrow = lab.alive(asked.site), width == "narrow"
        light = Theme(theme or Theme.LIGHT)
        drawn: list[Any] = []
        for points in (False, True):
            some, reach = alive.lanes(view, points=points), alive.ends(view)
            if some.is_empty() or reach is None:
                drawn.append(page.nothing(points=points))
                continue
            failed = alive.spells(view, some)
            heard = alive.beats(view, some, beside=failed.height)
            figure = picture.draw(
                some,
                failed,
                heard,
                alive.gaps(view),
                reach,
                theme=light,
                narrow=narrow,
            )
            high = picture.height(some, narrow=narrow)
            said = alive.shows(some, heard, points=points)
            drawn.append(page.picture(figure, said, points=points, narrow=narrow, height=high))
        by_week = None
        if view.weeks.height:
            by_week = page.weeks(
                weeks.draw(view.weeks, view.heard, theme=light, narrow=narrow),
                weeks.height(view.heard.height),
            )
        return (*drawn, by_week)
