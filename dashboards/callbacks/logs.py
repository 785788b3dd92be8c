"""What came in, and was it understood? Progress, answers, and what the store holds."""

from typing import TYPE_CHECKING, Any

from dash import ALL, Input, Output, State, ctx, no_update

from dashboards import arrivals, ids, question, teaching
from dashboards.jobs import OVER
from dashboards.layouts import asking, work
from dashboards.layouts import stock as stock_layout
from dashboards.layouts import teaching as teaching_layout
from dashboards.question import Logs

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered
    from dashboards.upload import Desk


def register(app: "Dash", lab: "Remembered", desk: "Desk") -> None:
    """Register the callbacks of the page of logs."""

    @app.callback(
        Output(ids.LOGS_PROGRESS, "children"),
        Output(ids.LOGS_RESULTS, "children"),
        Output(ids.LOGS_TICK, "disabled"),
        Output(ids.LOGS_STOP, "hidden"),
        Output(ids.LOGS_STOP, "disabled"),
        Output(ids.LOGS_WAITING, "children"),
        Output(ids.LOGS_LEDGER, "children"),
        Input(ids.LOGS_TICK, "n_intervals"),
        Input(ids.URL, "search"),
        State(ids.URL, "pathname"),
    )
    def progress(_ticks: int, search: str | None, path: str) -> Any:
        asked = question.read(path, search)
        if not isinstance(asked, Logs):
            return (no_update,) * 7
        if asked.job is None:
            return None, None, True, True, False, no_update, no_update
        job = desk.jobs.ask(asked.job)
        if job.state not in OVER:
            told = work.progress(job)
            # One file alone is read to its end; there is no other to stop before.
            return told, None, False, job.total == 1, job.stopping, no_update, no_update
        return (
            work.progress(job),
            work.results(job),
            True,
            True,
            False,
            asking.waiting(desk.waiting(), desk.answers),
            stock(lab),
        )

    @app.callback(
        Output(ids.LOGS_PROGRESS, "children", allow_duplicate=True),
        Output(ids.LOGS_STOP, "disabled", allow_duplicate=True),
        Input(ids.LOGS_STOP, "n_clicks"),
        State(ids.URL, "search"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def stop(clicks: int, search: str | None, path: str) -> Any:
        asked = question.read(path, search)
        if not (clicks and isinstance(asked, Logs) and asked.job):
            return no_update, no_update
        job = desk.jobs.stop(asked.job)
        return (work.progress(job), True) if job.stopping else (no_update, no_update)

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Output(ids.LOGS_WAITING, "children", allow_duplicate=True),
        Input({"type": ids.LOGS_ANSWER, "file": ALL, "key": ALL, "value": ALL}, "n_clicks"),
        Input({"type": ids.LOGS_ANSWER_TEXT, "file": ALL, "key": ALL}, "value"),
        prevent_initial_call=True,
    )
    def answer(_clicks: list[int], _typed: list[str]) -> Any:
        asked, value = ctx.triggered_id, (ctx.triggered or [{}])[0].get("value")
        if not isinstance(asked, dict) or not value:
            return no_update, no_update
        said = str(asked.get("value", value)).strip()
        if not said and asked["key"]:
            return no_update, no_update
        job = desk.answer(asked["file"], asked["key"], said)
        if job is None:
            return no_update, asking.waiting(desk.waiting(), desk.answers)
        return question.search(Logs(job=job)), no_update


def stock(lab: "Remembered") -> list[Any]:
    """Draw what the store holds."""
    return stock_layout.stock(
        arrivals.ledger(lab),
        arrivals.unread(lab),
        teaching_layout.draw(*teaching.listed(lab), teaching.taught(lab)),
    )
