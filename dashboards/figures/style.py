"""What all figures share: tones, fonts, and what a reader may do with a figure."""

from typing import Any

import plotly.graph_objects as go

from dashboards.palette import TONES, Theme

FONT = (
    'system-ui, -apple-system, "Segoe UI", Roboto, "Helvetica Neue", "Noto Sans", '
    '"Liberation Sans", Arial, sans-serif'
)


def config(name: str, *, bar: bool = True) -> dict[str, Any]:
    """Say what a reader may do with a figure.

    Parameters
    ----------
    name : str
        File name of the picture to take away, without its ending.
    bar : bool
        Whether the row of buttons is shown; small figures and small screens leave it out.

    Returns
    -------
    dict
        The ``config`` of a graph; nothing in it can send a figure anywhere.
    """
    return {
        "displaylogo": False,
        "displayModeBar": bar,
        "showSendToCloud": False,
        "plotlyServerURL": "",
        "responsive": True,
        "scrollZoom": False,
        "modeBarButtons": [
            ["toImage"],
            ["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d"],
            ["resetScale2d"],
        ],
        "toImageButtonOptions": {"format": "png", "filename": name, "scale": 2},
    }


def layout(theme: Theme, **more: Any) -> dict[str, Any]:
    """Return the layout that all figures start from.

    Parameters
    ----------
    theme : Theme
        Plots take no colour from the style sheet, so each scheme has its own figure.
    **more
        Anything of plotly's layout.

    Returns
    -------
    dict
        Transparent ground, one font, no template.
    """
    tones = TONES[theme]
    return {
        "template": "none",
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": FONT, "size": 13, "color": tones.quiet},
        "hoverlabel": {
            "bgcolor": tones.ink,
            "bordercolor": tones.ink,
            "font": {"family": FONT, "size": 13, "color": tones.ground},
            "align": "left",
        },
        "modebar": {
            "bgcolor": "rgba(0,0,0,0)",
            "color": tones.control,
            "activecolor": tones.accent,
        },
        "showlegend": False,
        "separators": ".\u202f",
        **more,
    }


def axis(theme: Theme, **more: Any) -> dict[str, Any]:
    """Return an axis: quiet lines, no zero line."""
    tones = TONES[theme]
    return {
        "gridcolor": tones.line,
        "gridwidth": 1,
        "linecolor": tones.line,
        "zeroline": False,
        "ticks": "",
        "fixedrange": False,
        **more,
    }


def blank() -> go.Figure:
    """Return a figure with nothing in it, in any light, for the time before the first answer."""
    hidden = {"visible": False, "fixedrange": True}
    return go.Figure(layout=layout(Theme.LIGHT, xaxis=hidden, yaxis=hidden))
