"""How sure are these causes? The curve in its scheme of light."""

from typing import TYPE_CHECKING, Any

from dash import Input, Output, State, no_update

from dashboards import ids, question
from dashboards.figures import reliability
from dashboards.palette import Theme

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callback of the page on causes."""

    @app.callback(
        Output(ids.SURE_CURVE, "figure"),
        Input(ids.THEME, "data"),
        State(ids.URL, "pathname"),
        State(ids.URL, "search"),
    )
    def curve(theme: str | None, path: str, search: str | None) -> Any:
        if not isinstance(question.read(path, search), question.HowSure):
            return no_update
        return reliability.draw(lab.how_sure().curve, theme=Theme(theme or Theme.LIGHT))
