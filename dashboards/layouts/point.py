"""The page that answers why one point alarms; of a life-safety point, what it lost."""

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import ids, rates, words
from dashboards.layouts import nights, parts
from dashboards.question import People, Point, Proof, Site
from eventlab.lab import PointView, Tried, WhatIf

REASONS = {"bypass": "bypassed", "shutdown": "shut out after repeated trips"}
MOST_OUT = 20


def draw(view: PointView, asked: Point, *, narrow: bool) -> html.Div:
    """Draw the page.

    Parameters
    ----------
    view : PointView
        What the lab tells of the point.
    asked : question.Point
        What the address asks.
    narrow : bool
        Small screen: no row of buttons over the picture.

    Returns
    -------
    dash.html.Div
        The page; picture, events, findings and charts come by callbacks. A life-safety point has
        no chart of what its calls follow: none of them is explained away.
    """
    point, life = view.point, bool(view.point["life_safety"])
    name = f"point {point['zone']}" + (f", {point['name']}" if point["name"] else "")
    title = ("Can ", " be relied on?") if life else ("Why ", "?")
    head: list[Any] = [
        html.P(parts.link(["All of ", view.site_name], Site(asked.site)), className="back"),
        html.H1([title[0], html.Span(name, className="name"), title[1]], tabIndex=-1),
        html.P(view.sentence, className="lead"),
        html.P(view.covers, className="hint"),
        html.Div(_facts(view), className="standing"),
    ]
    if view.limits:
        head.append(
            parts.more(
                "What this log cannot show of it", html.Ul([html.Li(one) for one in view.limits])
            )
        )
    about = "What was lost of its protection" if life else "What stands out"
    body: list[Any] = [
        html.Div(head, className="page-head"),
        dcc.Store(id=ids.SITE_RASTER_DRAWN),
        dcc.Store(id=ids.SITE_EVENTS_DRAWN),
        nights.section(asked, narrow=narrow),
        html.Section(
            id=ids.SITE_EVENTS, className="events", tabIndex=-1, **{"aria-live": "polite"}
        ),
        html.Section(
            [
                html.H2(about),
                html.Div(parts.skeleton("Findings are being read."), id=ids.SITE_FINDINGS),
                html.P(
                    [
                        parts.link(
                            "Did the last work on it help?", Proof(asked.site, zone=point["zone"])
                        ),
                        " ",
                        parts.link("How is the place used?", People(asked.site)),
                    ],
                    className="on",
                ),
            ]
        ),
    ]
    if not life:
        body.append(
            html.Section(
                [
                    html.H2("What its alarms follow"),
                    html.Div(parts.skeleton("Its alarms are being counted."), id=ids.POINT_CHARTS),
                ]
            )
        )
    if view.trials is not None and view.tried:
        body.append(_tried(view.trials, view.tried))
    if life or view.out.height:
        body.append(html.Section([html.H2("When it was out of service"), *_out(view)]))
    return html.Div(body, className="page")


def _facts(view: PointView) -> html.Dl:
    point = view.point
    facing = view.profile.facing if view.profile else None
    pairs: list[tuple[str, Any]] = [
        ("use", point.get("use") or "not listed"),
        ("detector", point.get("detector") or "not listed"),
    ]
    if point.get("area"):
        pairs.append(("area", point["area"]))
    if facing is not None:
        pairs.append(("faces", f"{rates.wind(facing)} ({facing:g}°)"))
    if point["life_safety"]:
        pairs.append(("kind", parts.named_mark("life-safety")))
    else:
        pairs += [
            ("alarms, all causes", words.number(point.get("alarms"))),
            ("hours at risk", words.number(point.get("hours"))),
            ("per 30 armed days", words.rate(point.get("rate_30d"))),
        ]
    last = point.get("last")
    pairs.append(("last alarm", words.moment(last) if last else "none in this log"))
    return parts.facts(pairs)


def _tried(trials: WhatIf, tried: Sequence[Tried]) -> html.Section:
    real = [one for one in tried if one.suspected]
    return html.Section(
        [
            html.H2("What would have removed these alarms?"),
            html.P(
                "Its past alarms, replayed on this log under other rules. A rule that keeps alarms "
                "back can keep a real one back too: look for the cause first.",
                className="hint",
            ),
            html.H3("In force already: this log holds only what passed it"),
            html.Ul([html.Li(text) for text in trials.in_force], className="hint in-force"),
            html.H3("Under other rules"),
            parts.table(
                ("Rule", "Alarms not raised", "First alarms lost", "First alarms late"),
                [
                    (one.rule, one.removed, one.lost, one.late)
                    if one.why_not is None
                    else (one.rule, f"not replayed: {one.why_not}", "", "")
                    for one in tried
                ],
                label="What other rules would have done; a first alarm is that of an armed period",
            ),
            html.Ul(
                [html.Li([f"{one.rule}: ", html.Strong(one.suspected)]) for one in real],
                className="advice tried",
            )
            if real
            else None,
            html.Div(
                [html.P([html.Strong("Mind: "), text]) for text in trials.cautions],
                className="caution cautions",
            ),
        ]
    )


def _out(view: PointView) -> list[Any]:
    if view.out.is_empty():
        return [html.P("This log holds no bypass and no shutdown of it.", className="says")]
    total = float(view.out["hours"].sum())
    told: list[Any] = [
        html.P(
            f"{words.count(view.out.height, 'time')} in this log, "
            f"{words.number(total, 0 if total >= 10 else 1)} hours together: what happened then "
            "could not have been told.",
            className="says",
        ),
        parts.table(
            ("From", "To", "Why", "Hours"),
            [
                (
                    words.moment(one["since"]),
                    words.moment(one["until"]),
                    REASONS.get(one["reason"], one["reason"]),
                    words.number(one["hours"], 1),
                )
                for one in view.out.head(MOST_OUT).iter_rows(named=True)
            ],
            label="When it was out of service, the newest first",
            numeric=(3,),
        ),
    ]
    left = view.out.height - MOST_OUT
    if left > 0:
        told.append(html.P(f"{words.count(left, 'earlier time')} not shown.", className="hint"))
    return told
