"""Did it work? Choices, answer and address."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dash import Input, Output, State, no_update

from dashboards import ids, question
from dashboards.figures import proof as picture
from dashboards.layouts import proof as page
from dashboards.palette import Theme
from dashboards.proving import WINDOW, Answer, answer
from dashboards.question import Proof

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callbacks of the page of proof."""
    path, search = State(ids.URL, "pathname"), Input(ids.URL, "search")

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.PROOF_DATE, "value"),
        path,
        State(ids.URL, "search"),
        prevent_initial_call=True,
    )
    def address(at: str | None, path: str, search: str | None) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Proof):
            return no_update
        day = question.day(at)
        if day is None and (at or "").strip():
            return no_update  # a date half typed
        new = replace(asked, at=day, visit=None if day else asked.visit)
        told = question.search(new)
        return no_update if told == question.search(asked) else told

    @app.callback(
        Output(ids.PROOF_CHOICES, "children"),
        Output(ids.PROOF_ANSWER, "children"),
        Output(ids.PROOF_DATE, "value"),
        search,
        Input(ids.THEME, "data"),
        path,
    )
    def told(search: str, theme: str, path: str) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Proof):
            return (no_update,) * 3
        got = answer(lab, asked)
        return (
            page.choices(got, lab.site(asked.site).points),
            page.answered(got, _figure(got, Theme(theme or Theme.LIGHT))),
            got.asked.at.isoformat() if got.asked.at else "",
        )


def _figure(got: Answer, theme: Theme) -> Any:
    row = got.first
    if row is None or row["life_safety"] or got.cut is None or got.windows.is_empty():
        return None
    usual = [
        WINDOW * row[f"{side}_days"] / row[f"{side}_nights"] if row[f"{side}_nights"] else None
        for side in ("before", "after")
    ]
    return picture.draw(got.windows, got.cut, theme=theme, usual=(usual[0], usual[1]))
