"""The page that answers what is happening at a site."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

import polars as pl
from dash import dcc, html

from dashboards import ids, words
from dashboards.layouts import nights, parts
from dashboards.question import Home, People, Point, Proof, Site, Watch

if TYPE_CHECKING:
    from eventlab.lab import SiteView

POWERS: dict[str, tuple[str, dict[str, str]]] = {
    "arming": (
        "Arming and disarming",
        {"all": "all recorded", "after-alarm": "only after an alarm", "none": "not recorded"},
    ),
    "activations": ("Movement while not armed", {"yes": "recorded", "no": "not recorded"}),
    "restores": (
        "Ends of alarms",
        {
            "live": "recorded as they happen",
            "at-disarm": "only at the disarm",
            "none": "not recorded",
        },
    ),
    "bypass-ends": (
        "Ends of bypasses",
        {"yes": "recorded", "no": "not recorded", "none": "no bypass in this log"},
    ),
    "ends": (
        "Ends of what lasts",
        {"yes": "recorded", "no": "not recorded", "none": "too little to tell"},
    ),
    "arm-at": (
        "Arming is written",
        {
            "start": "at the start of the exit time",
            "end": "at the end of the exit time",
            "unknown": "not decided",
        },
    ),
}
"""How the powers of a log are said; one that is not listed here is said in its own words."""


def draw(view: "SiteView", asked: Site, *, now: datetime, waiting: int, narrow: bool) -> html.Div:
    """Draw the page.

    Parameters
    ----------
    view : SiteView
        What the lab tells of the site.
    asked : question.Site
        What the address asks.
    now : datetime
        The present moment.
    waiting : int
        Files of this site that wait for an answer.
    narrow : bool
        Small screen: no row of buttons over the picture.

    Returns
    -------
    dash.html.Div
        The page; picture, events and findings come by callbacks.
    """
    head: list[Any] = [
        html.P(parts.link("All sites", Home()), className="back"),
        html.H1(
            ["What is happening at ", html.Span(view.name, className="name"), "?"], tabIndex=-1
        ),
        html.P(view.sentence, className="lead"),
        html.P(
            [
                parts.link("Did the last work help?", Proof(view.site)),
                " ",
                parts.link("How is the place used?", People(view.site)),
                " ",
                parts.link("Is it still listening?", Watch(view.site)),
            ],
            className="on",
        ),
    ]
    if waiting:
        head.append(parts.waits(waiting))
    return html.Div(
        [
            html.Div([*head, _standing(view, now), _powers(view.powers)], className="page-head"),
            dcc.Store(id=ids.SITE_RASTER_DRAWN),
            dcc.Store(id=ids.SITE_EVENTS_DRAWN),
            nights.section(asked, narrow=narrow, odds_from=view.odds_from),
            html.Section(
                id=ids.SITE_EVENTS, className="events", tabIndex=-1, **{"aria-live": "polite"}
            ),
            html.Section(
                [
                    html.H2("What stands out"),
                    html.Div(parts.skeleton("Findings are being read."), id=ids.SITE_FINDINGS),
                ]
            ),
            html.Section([html.H2("Points"), *_points(view.points, asked)]),
        ],
        className="page",
    )


def _standing(view: "SiteView", now: datetime) -> html.Div:
    row = view.overview
    if not row.get("known"):
        age = words.age(row.get("newest"), now)
        said = f"The newest log is {age} old: nothing is known of this site now."
        return html.Div(
            [parts.tag("unknown", "nothing is known"), html.P(said)], className="standing"
        )
    tags = []
    if row["intrusion"]:
        tags.append(parts.tag("intrusion", "possible intrusion"))
    if row["on_test"]:
        tags.append(parts.tag("test", "left on test"))
    if row["standing_lost"] - int(row["on_test"]) > 0:
        tags.append(parts.tag("missing", "protection missing"))
    return html.Div(
        [
            *tags,
            parts.facts(
                (
                    ("alarms, 26 weeks", words.number(sum(row["trend"] or []))),
                    ("alarms, whole log", words.number(row["alarms"])),
                    ("per 30 armed days", _rate(row["rate_30d"])),
                    ("points", words.number(row["points"])),
                    ("newest log", words.age(row["newest"], now)),
                    ("site", " · ".join(p for p in (row["site"], row.get("trade")) if p)),
                )
            ),
        ],
        className="standing",
    )


def _rate(value: float | None) -> str:
    return "arming not recorded" if value is None else words.rate(value)


def _powers(powers: pl.DataFrame) -> html.Details | None:
    if powers.is_empty():
        return None
    rows = []
    for one in powers.iter_rows(named=True):
        what, said = POWERS.get(one["power"], (one["power"].replace("-", " "), {}))
        value = said.get(one["value"], one["value"])
        if one["power"] == "grain":
            what, value = "The clock steps by", words.count(int(float(one["value"])), "second")
        rows.append((what, value, _figure(one["figure"]), one["witness"]))
    return parts.more(
        "What this log can show, and what it cannot",
        parts.table(
            ("Of", "this log tells", "seen from", "log of the"),
            rows,
            label="What this log can show",
        ),
    )


def _figure(figure: Any) -> str:
    if isinstance(figure, float):
        return words.number(figure, 0 if figure == int(figure) else 2)
    return "" if figure is None else str(figure)


def _points(points: pl.DataFrame, asked: Site) -> list[Any]:
    if points.is_empty():
        return [html.P("This log names no point.", className="hint")]
    rows = []
    for one in points.iter_rows(named=True):
        life = bool(one.get("life_safety"))
        zone = str(one["zone"])
        name = one.get("name") or "not named"
        rows.append(
            (
                parts.link(zone, Point(asked.site, zone=zone, within=one.get("within"))),
                name,
                [parts.named_mark("life-safety")] if life else one.get("use") or "not listed",
                one.get("detector") or "not listed",
                "counted apart" if life else words.number(one.get("alarms")),
                words.number(one.get("hours")) if one.get("hours") is not None else "not known",
                "in no rate" if life else words.rate(one.get("rate_30d")),
                words.moment(one["last"]) if one.get("last") else "none in this log",
            )
        )
    return [
        html.P(
            "A point's number leads to its own page: why this point? Rates count only time in "
            "which the point could alarm. Life-safety alarms are counted apart, in no rate.",
            className="hint",
        ),
        parts.table(
            (
                "Point",
                "Name",
                "Use",
                "Detector",
                "Alarms",
                "Hours at risk",
                "Per 30 armed days",
                "Last alarm",
            ),
            rows,
            label="Points of this site",
            numeric=(4, 5, 6),
        ),
    ]
