"""The page that answers how sure the causes are that the screens tell."""

from typing import TYPE_CHECKING, Any

from dash import dcc, html

from dashboards import ids, words
from dashboards.figures import style
from dashboards.layouts import parts
from dashboards.palette import FAMILY_OF
from dashboards.question import Home, Logs

if TYPE_CHECKING:
    from eventlab.lab import HowSure

NOTES = (
    "Outcomes come from sites that somebody visited; these are no random sample of all alarms.",
    "A possible intrusion is told by a rule beside all this, and no probability takes it away.",
    (
        "How many break-ins are missed is known of simulated sites only, and no better than their "
        "number allows: even none missed in 200 means up to 1.5 in 100."
    ),
)


def draw(sure: "HowSure") -> html.Div:
    """Draw the page.

    Parameters
    ----------
    sure : HowSure
        What the lab tells.

    Returns
    -------
    dash.html.Div
        Sentence, curve, tables; the curve comes by callback.
    """
    return html.Div(
        [
            html.Div(
                [
                    html.P(parts.link("All sites", Home()), className="back"),
                    html.H1("How sure are these causes?", tabIndex=-1),
                    html.P(f"The probabilities of causes are told {sure.basis}.", className="lead"),
                ],
                className="page-head",
            ),
            html.Section([html.H2("As told, so found?"), *_curve(sure)]),
            html.Section([html.H2("How often each cause is expected"), *_causes(sure)]),
            html.Section([html.H2("Recorded outcomes"), *_uses(sure)]),
            html.Section([html.H2("What to bear in mind"), html.Ul([html.Li(n) for n in NOTES])]),
        ],
        className="page",
    )


def says(sure: "HowSure") -> str:
    """Say what the curve shows."""
    if sure.error is None or sure.brier is None or sure.brier_base is None:
        return (
            "There is nothing yet to hold the probabilities to: outcomes of at least two sites are "
            "needed."
        )
    nights = int(sure.curve["nights"].sum())
    better = "better" if sure.brier < sure.brier_base else "no better"
    return (
        f"Over {words.count(nights, 'night')} with a recorded outcome, each told from the other "
        f"sites only, what was told and what was found lie {100 * sure.error:.0f} in 100 apart "
        f"(between {100 * (sure.error_low or 0):.0f} and {100 * (sure.error_high or 0):.0f}, 95 "
        f"%). The Brier score is {sure.brier:.2f}, {better} than the {sure.brier_base:.2f} of "
        "telling every night the usual shares; 0 would be always sure and right, 2 always wrong."
    )


def _curve(sure: "HowSure") -> list[Any]:
    if sure.curve.is_empty():
        # The picture stands there all the same: its callback needs it.
        hidden = html.Div(dcc.Graph(id=ids.SURE_CURVE, figure=style.blank()), hidden=True)
        bring = parts.link("Bring in a file of outcomes", Logs())
        ask = html.P(
            [
                bring,
                ": a table with site, at, outcome, and if known attended, found, suggested.",
            ]
        )
        return [html.P(says(sure)), ask, hidden]
    rows = [
        (
            f"{100 * one['told']:.0f} in 100",
            f"{100 * one['true']:.0f} in 100",
            f"{100 * one['low']:.0f} to {100 * one['high']:.0f}",
            words.number(one["nights"]),
        )
        for one in sure.curve.iter_rows(named=True)
    ]
    return [
        html.P(says(sure)),
        html.Div(
            dcc.Graph(
                id=ids.SURE_CURVE,
                figure=style.blank(),
                config=style.config("how-sure", bar=False),
                responsive=True,
            ),
            role="group",
            className="raster",
            **{"aria-label": "Found right against told, told by the table below too"},
        ),
        parts.more(
            "The same as a table",
            parts.table(
                ("Told", "Found so", "Between (95 %)", "Nights"),
                rows,
                label="Found right against told, in groups of equal number",
                numeric=(0, 1, 2, 3),
            ),
        ),
    ]


def _causes(sure: "HowSure") -> list[Any]:
    rows = [
        (
            parts.named_mark(FAMILY_OF[one["cause"]]),
            one["cause"].replace("-", " "),
            f"{100 * one['table']:.0f}",
            words.number(one["told"]),
            f"{100 * one['share']:.0f}",
        )
        for one in sure.causes.iter_rows(named=True)
    ]
    return [
        html.P("Before anything is known of a night, so many in 100 are expected of each cause."),
        parts.table(
            ("Shown as", "Cause", "By common practice", "Outcomes recorded", "In force"),
            rows,
            label="Share of each cause before anything is known of a night",
            numeric=(2, 3, 4),
            head_column=1,
        ),
    ]


def _uses(sure: "HowSure") -> list[Any]:
    if sure.uses.is_empty():
        return [html.P("None is recorded.")]
    told: list[Any] = [
        parts.table(
            ("Use", "Outcomes"),
            [(use, words.number(many)) for use, many in sure.uses.iter_rows()],
            label="What became of the recorded outcomes",
            numeric=(1,),
        )
    ]
    if sure.unknown.height:
        told += [
            html.P("Words that name no one cause; nothing is guessed from them:"),
            parts.table(
                ("Outcome as recorded", "Rows"),
                [(text, words.number(many)) for text, many in sure.unknown.head(20).iter_rows()],
                label="Outcomes that are not understood",
                numeric=(1,),
            ),
        ]
    return told
