"""The page that answers whether a site is still listening."""

from typing import TYPE_CHECKING, Any

import plotly.graph_objects as go
import polars as pl
from dash import dcc, html

from dashboards import alive, ids, question, words
from dashboards.figures import style
from dashboards.figures.lanes import lasting
from dashboards.layouts import parts
from dashboards.question import Point, Site, Watch
from eventlab.schema import Health

if TYPE_CHECKING:
    from eventlab.lab import AliveView

LOOKS = {
    Health.NOT_WELL: "missing",
    Health.WELL: "stands",
    Health.NOT_RECORDED: "unknown",
    Health.NOT_COVERED: "unknown",
}
KEY = (
    ("stands", "not well now"),
    ("failed", "failed, and put right"),
    ("service", "in service time"),
    ("beat", "something was heard of it"),
    ("gap", "no log"),
)
KEY_OF_WEEKS = (
    ("came", "came on time"),
    ("service", "came late"),
    ("missed", "did not come"),
    ("class", "what the chosen class asks"),
)
KEY_OF_POINTS = (
    ("stands", "out of service now"),
    ("failed", "bypassed or shut out"),
    ("missed", "a week not seen, though it usually is"),
    ("beat", "movement"),
    ("alarm", "alarm"),
    ("walk", "walk test"),
    ("gap", "no log"),
)


def draw(view: "AliveView", asked: Watch) -> html.Div:
    """Draw the page; the pictures come by callback.

    Parameters
    ----------
    view : AliveView
        What the lab tells of the site.
    asked : question.Watch
        What the address asks.

    Returns
    -------
    dash.html.Div
        What stands now first, then the walk test, then the lanes.
    """
    head: list[Any] = [
        html.P(parts.link(["All of ", view.site_name], Site(asked.site)), className="back"),
        html.H1(["Is ", html.Span(view.site_name, className="name"), " still listening?"],
                tabIndex=-1),
        html.P(view.covers, className="lead"),
    ]  # fmt: skip
    if view.lanes.is_empty():
        nothing = parts.empty(
            "Nothing is known of this site",
            "There is no log of it. Bring one in on the page of logs; silence is never healthy.",
        )
        return html.Div([html.Div(head, className="page-head"), nothing], className="page")
    if not view.known:
        head.append(
            html.Div(
                [
                    parts.tag("unknown", "nothing is known"),
                    html.P("The newest log is too old: what follows is how it stood then."),
                ],
                className="standing",
            )
        )
    head.append(html.P(view.sentence, className="says"))
    return html.Div(
        [
            html.Div(head, className="page-head"),
            html.Section([html.H2("What stands now"), _standing(view, asked)]),
            html.Section([html.H2("The last walk test"), *_walked(view)], className="walk"),
            html.Section(
                [
                    html.H2("What must be alive"),
                    _key(KEY),
                    html.Div(parts.skeleton("The lanes are being drawn."), id=ids.ALIVE_LANES),
                    _table(view, asked, points=False),
                ],
                className="alive",
            ),
            html.Section(
                [html.H2("How much of the time could it be heard?"), *_heard(view, asked)],
                className="alive",
            ),
            html.Section(
                [
                    html.H2("Each point"),
                    _key(KEY_OF_POINTS),
                    html.Div(parts.skeleton("The points are being drawn."), id=ids.ALIVE_POINTS),
                    _table(view, asked, points=True),
                ],
                className="alive",
            ),
        ],
        className="page",
    )


def _standing(view: "AliveView", asked: Watch) -> Any:
    bad = view.lanes.filter(pl.col("health") == Health.NOT_WELL)
    if bad.is_empty():
        said = "This log shows nothing that is out of order now."
        return html.P(said if view.known else f"{said} It is too old to rely on.", className="says")
    return html.Ul(
        [
            html.Li(
                [
                    html.P([parts.tag("missing", one["now"]), " ", _named(one, asked)],
                           className="stands-what"),
                    html.P(one["says"]),
                ]
            )
            for one in bad.to_dicts()
        ],
        className="stands",
    )  # fmt: skip


def _named(one: dict[str, Any], asked: Watch) -> Any:
    if one["zone"] is None or one["family"] in {"module", "siren", "system", "system-battery"}:
        return html.Strong(one["thing"])
    return parts.link(one["thing"], Point(asked.site, zone=one["zone"], within=one["within"]))


def _walked(view: "AliveView") -> list[Any]:
    walked = view.walked
    told: list[Any] = [html.P(view.walk, className="says")]
    if walked.points.is_empty():
        return told
    told.append(
        html.Ul(
            [
                html.Li(
                    [
                        html.Span(className="walk-mark", **{"aria-hidden": "true"}),
                        html.Strong(one["zone"]),
                        html.Span(f" {one['name']}" if one["name"] else "", className="walk-name"),
                        html.Span(
                            " answered" if one["answered"] else " not seen",
                            className="unseen" if one["answered"] else "walk-not",
                        ),
                    ],
                    className="walk-yes" if one["answered"] else "walk-no",
                )
                for one in walked.points.sort("answered", maintain_order=True).to_dicts()
            ],
            className="walked",
        )
    )
    return told


def _key(items: tuple[tuple[str, str], ...]) -> html.Ul:
    return html.Ul(
        [
            html.Li([html.Span(className=f"lane-{key}", **{"aria-hidden": "true"}), f" {text}"])
            for key, text in items
        ],
        className="legend",
    )


def picture(
    figure: go.Figure, said: str, *, points: bool, narrow: bool, height: int
) -> html.Figure:
    """Draw one picture with the sentence that says what it shows.

    Parameters
    ----------
    figure : plotly.graph_objects.Figure
        As `figures.lanes.draw` makes it.
    said : str
        What it shows, as `alive.shows` says it.
    points : bool
        Whether they are those of the points.
    narrow : bool
        Small screen: no row of buttons over the picture.
    height : int
        Of the picture [px].

    Returns
    -------
    dash.html.Figure
        The table that tells the same stands below it.
    """
    return html.Figure(
        [
            html.Figcaption(said, className="says"),
            html.Div(
                dcc.Graph(
                    figure=figure,
                    config=style.config("points" if points else "lanes", bar=not narrow),
                    responsive=True,
                    style={"height": f"{height}px"},
                ),
                role="group",
                className="alive-picture",
                **{"aria-label": f"{said} The table below tells the same."},
            ),
        ],
        className="alive-figure",
    )


def _heard(view: "AliveView", asked: Watch) -> list[Any]:
    if view.heard.is_empty():
        return [
            html.P(
                "Not recorded: this log tells too few test reports to know when they are due.",
                className="says",
            )
        ]
    told: list[Any] = [html.P(one, className="says") for one in view.heard["says"]]
    table = parts.table(
        ("Week of", "Reports", "Due", "On time", "Late", "Did not come", "Share that came"),
        [
            (
                words.day(one["week"]),
                one["name"],
                *(words.number(one[name]) for name in ("due", "on_time", "late", "missed")),
                f"{words.number(100 * one['share'])} %",
            )
            for one in alive.weeks(view).sort("week", "series", descending=[True, False]).to_dicts()
        ],
        label="Test reports by week, the newest first",
        numeric=(2, 3, 4, 5, 6),
    )
    return [
        *told,
        html.P(
            "Reports sample a path: what is lost between two of them is not seen, and one week of "
            "daily reports proves little either way.",
            className="hint",
        ),
        _key(KEY_OF_WEEKS),
        html.Div(parts.skeleton("The weeks are being drawn."), id=ids.ALIVE_WEEKS),
        parts.more(
            "As a table",
            html.Div([table, _take(asked, "weeks", "Take these weeks away as CSV")]),
        ),
    ]


def weeks(figure: go.Figure, height: int) -> html.Div:
    """Draw the picture of reports week by week; ``height`` of it in px."""
    return html.Div(
        dcc.Graph(
            figure=figure,
            config=style.config("weeks", bar=False),
            responsive=True,
            style={"height": f"{height}px"},
        ),
        role="img",
        className="alive-picture",
        **{"aria-label": "Share of test reports that came, by week. The table tells the same."},
    )


def _take(asked: Watch, name: str, text: str) -> html.P:
    link = html.A(text, href=f"{question.path(asked)}/{name}.csv", download=f"{name}.csv")
    return html.P(link, className="pager")


def nothing(*, points: bool) -> html.P:
    """Say that there is no lane to draw."""
    return html.P(
        "This log names no point." if points else "There is nothing to draw.", className="says"
    )


def _table(view: "AliveView", asked: Watch, *, points: bool) -> html.Details:
    rows = [
        (
            _named(one, asked),
            parts.tag(LOOKS[Health(one["health"])], one["health"]),
            one["says"],
            words.number(one["times"]),
            "–" if one["longest_h"] is None else lasting(one["longest_h"]),
            "–" if one["restore_h"] is None else lasting(one["restore_h"]),
            "never" if one["last_wall"] is None else words.day(one["last_wall"].date()),
        )
        for one in alive.lanes(view, points=points).to_dicts()
    ]
    return parts.more(
        "As a table",
        html.Div(
            [
                parts.table(
                    (
                        "Point" if points else "Thing",
                        "Now",
                        "What this log tells",
                        "Times",
                        "Longest",
                        "Usually over after",
                        "Last told",
                    ),
                    rows,
                    label="Each point" if points else "What must be alive",
                    numeric=(3,),
                ),
                _take(asked, "lanes", "Take all lanes away as CSV"),
                _take(asked, "spells", "Take all that failed away as CSV"),
            ]
        ),
    )
