"""Which page answers, and in which light."""

from typing import TYPE_CHECKING, Any

from dash import ClientsideFunction, Input, Output, State

from dashboards import data, ids, question
from dashboards.callbacks.logs import stock
from dashboards.layouts import alive, asking, home, how_sure, logs, lost, people, point, proof, site

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered
    from dashboards.upload import Desk


def register(app: "Dash", lab: "Remembered", desk: "Desk") -> None:
    """Register what every page needs."""
    app.clientside_callback(
        ClientsideFunction("screens", "theme"),
        Output(ids.THEME, "data"),
        Output(ids.WIDTH, "data"),
        *(Input(key, "n_clicks") for key in (ids.THEME_LIGHT, ids.THEME_DARK, ids.THEME_AUTO)),
    )
    app.clientside_callback(
        ClientsideFunction("screens", "arrived"),
        Output(ids.PAGE, "data-arrived"),
        Input(ids.PAGE, "children"),
        State(ids.URL, "pathname"),
    )

    @app.callback(
        Output(ids.PAGE, "children"),
        Output(ids.PAGE, "className"),
        Output(ids.NOTICE, "children"),
        Input(ids.URL, "pathname"),
        Input(ids.WIDTH, "data"),
        Input(ids.SEEN, "data"),
        State(ids.URL, "search"),
    )
    def page(path: str, width: str, _seen: Any, search: str) -> Any:
        asked = question.read(path, search)
        return draw(lab, desk, asked, narrow=width == "narrow"), width, None


def draw(lab: "Remembered", desk: "Desk", asked: question.Question, *, narrow: bool) -> Any:
    """Draw the page that answers a question.

    Parameters
    ----------
    lab : Remembered
        The open store.
    desk : Desk
        Knows the answers given so far to files that wait.
    asked : question.Question
        What is asked.
    narrow : bool
        Whether the screen is small.

    Returns
    -------
    dash component
        The content of the page.
    """
    if isinstance(asked, question.Home):
        sites = data.overview(lab)
        return home.draw(sites, data.tally(sites, lab), asked, narrow=narrow)
    if isinstance(asked, question.Site):
        if not data.exists(lab, asked.site):
            return lost.site(asked.site)
        if isinstance(asked, question.Point):
            if not data.has_point(lab, asked):
                return lost.point(asked)
            return point.draw(lab.point(asked.site, asked.zone, asked.within), asked, narrow=narrow)
        waiting = sum(one.site == asked.site for one in lab.waiting())
        return site.draw(lab.site(asked.site), asked, now=lab.now(), waiting=waiting, narrow=narrow)
    if isinstance(asked, question.Proof):
        if not data.exists(lab, asked.site):
            return lost.site(asked.site)
        return proof.draw(lab.site(asked.site), asked)
    if isinstance(asked, question.People):
        if not data.exists(lab, asked.site):
            return lost.site(asked.site)
        return people.draw(lab.people(asked.site, asked.at), asked)
    if isinstance(asked, question.Watch):
        if not data.exists(lab, asked.site):
            return lost.site(asked.site)
        return alive.draw(lab.alive(asked.site), asked)
    if isinstance(asked, question.Logs):
        return logs.draw(
            sites=lab.sites().select("site", "name").sort("name").rows(),
            waiting=asking.waiting(desk.waiting(), desk.answers),
            stock=stock(lab),
            asked=asked,
        )
    if isinstance(asked, question.HowSure):
        return how_sure.draw(lab.how_sure())
    return lost.page()
