"""The page that answers what came in, and whether it was understood."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from dash import dcc, html

from dashboards import ids
from dashboards.layouts import parts
from dashboards.question import Logs

if TYPE_CHECKING:
    pass

TICK_MS = 500


def draw(
    *,
    sites: Sequence[tuple[str, str]],
    waiting: Any,
    stock: Any,
    asked: Logs,
) -> html.Div:
    """Draw the page.

    Parameters
    ----------
    sites : sequence of (str, str)
        Number and name of known sites, to choose from.
    waiting, stock : dash components
        As the functions of those names draw them.
    asked : question.Logs
        The work whose progress is shown.

    Returns
    -------
    dash.html.Div
        The page.
    """
    return html.Div(
        [
            html.Div(
                [
                    html.H1("What came in, and was it understood?", tabIndex=-1),
                    html.P(
                        "Every row of every file is read, already stored, or unread with its "
                        "reason. Nothing of a file is taken while a question about it is open.",
                        className="lead",
                    ),
                ],
                className="page-head",
            ),
            html.Div(waiting, id=ids.LOGS_WAITING),
            html.Section([html.H2("Bring in files"), _bring(sites)]),
            html.Div(
                [
                    html.Div(id=ids.LOGS_PROGRESS, role="status"),
                    html.Button(
                        "Stop after this file",
                        id=ids.LOGS_STOP,
                        className="button button-quiet",
                        hidden=True,
                        n_clicks=0,
                    ),
                ],
                className="progress-frame",
            ),
            html.Div(id=ids.LOGS_RESULTS),
            html.Div(
                [
                    html.Div(id=ids.TEACH_DONE, role="status"),
                    html.P("The rows are being read again.", id=ids.TEACH_WAIT, hidden=True),
                ],
                className="progress-frame",
            ),
            html.Div(stock, id=ids.LOGS_LEDGER),
            dcc.Interval(
                id=ids.LOGS_TICK, interval=TICK_MS, disabled=asked.job is None, n_intervals=0
            ),
        ],
        className="page",
    )


def _bring(sites: Sequence[tuple[str, str]]) -> html.Div:
    return html.Div(
        [
            html.Div(id=ids.LOGS_DROP, className="drop"),
            parts.more(
                "Say what the files themselves may not say",
                html.Div(
                    [
                        _said(
                            ids.LOGS_SITE,
                            "The logs are of the site",
                            "only where all of them are of one site",
                            [html.Option(label=name, value=site) for site, name in sites],
                        ),
                        _said(
                            ids.LOGS_ZONE,
                            "Their clocks run in",
                            "a time zone, such as Europe/London",
                            [],
                        ),
                    ],
                    className="filters",
                ),
            ),
        ],
        className="bring",
    )


def _said(key: str, label: str, hint: str, options: list[html.Option]) -> html.Div:
    return html.Div(
        [
            html.Label(label, htmlFor=key),
            dcc.Input(
                id=key,
                type="text",
                placeholder=hint,
                list=f"{key}-list" if options else "",
                autoComplete="off",
                className="field wide",
            ),
            html.Datalist(options, id=f"{key}-list"),
        ],
        className="labelled",
    )
