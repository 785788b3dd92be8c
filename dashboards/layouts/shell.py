"""What stands around every page."""

from dash import dcc, html

from dashboards import ids
from dashboards.layouts import parts
from dashboards.question import Home, Logs


def draw() -> html.Div:
    """Draw the frame of all pages.

    Returns
    -------
    dash.html.Div
        Skip link, header, main, footer, and the stores of what the browser alone knows.
    """
    return html.Div(
        [
            dcc.Location(id=ids.URL, refresh="callback-nav"),
            dcc.Store(id=ids.THEME),
            dcc.Store(id=ids.WIDTH),
            dcc.Store(id=ids.SEEN),
            html.A("Skip to the content", href="#main", className="skip"),
            _header(),
            html.Main(
                [
                    html.Div(id=ids.NOTICE, role="alert", className="notice"),
                    html.Div(parts.skeleton("The page is being read."), id=ids.PAGE),
                ],
                id="main",
                tabIndex=-1,
            ),
            html.Footer(
                html.P("Served by this machine to this machine. Nothing leaves it by itself.")
            ),
        ],
        className="frame",
    )


def _header() -> html.Header:
    return html.Header(
        html.Div(
            [
                parts.link(
                    [
                        html.Span(className="brand-mark", **{"aria-hidden": "true"}),
                        html.Span("eventlab", className="brand-word"),
                    ],
                    Home(),
                    className="brand",
                ),
                html.Nav(
                    [parts.link("Sites", Home()), parts.link("Logs", Logs())],
                    **{"aria-label": "Pages"},
                ),
                html.Div(
                    [
                        html.Button(text, id=key, type="button", n_clicks=0)
                        for key, text in (
                            (ids.THEME_LIGHT, "Light"),
                            (ids.THEME_DARK, "Dark"),
                            (ids.THEME_AUTO, "Auto"),
                        )
                    ],
                    role="group",
                    className="segments",
                    **{"aria-label": "Light or dark"},
                ),
            ],
            className="header-inner",
        )
    )
