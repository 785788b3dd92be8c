"""What was told against what came out: the curve of how sure causes are."""

import plotly.graph_objects as go
import polars as pl

from dashboards.figures import style
from dashboards.palette import TONES, Theme


def draw(curve: pl.DataFrame, *, theme: Theme) -> go.Figure:
    """Draw the share that came out right over the probability told.

    Parameters
    ----------
    curve : polars.DataFrame
        ``told, true, low, high`` (shares), ``nights``.
    theme : Theme
        Scheme of light.

    Returns
    -------
    plotly.graph_objects.Figure
        A mark per group of nights with its 95 % interval; on the line, as told so found.
    """
    tones = TONES[theme]
    told, true = (100 * curve[name] for name in ("told", "true"))
    says = [
        f"told {t:.0f} in 100, found {f:.0f} in 100, {n} nights"
        for t, f, n in zip(told, true, curve["nights"], strict=True)
    ]
    return go.Figure(
        data=[
            go.Scatter(
                x=[0, 100],
                y=[0, 100],
                mode="lines",
                line={"color": tones.control, "width": 1, "dash": "dash"},
                hoverinfo="skip",
            ),
            go.Scatter(
                x=told,
                y=true,
                mode="lines+markers",
                line={"color": tones.accent, "width": 2},
                marker={"color": tones.accent, "size": 9},
                error_y={
                    "type": "data",
                    "symmetric": False,
                    "array": 100 * curve["high"] - true,
                    "arrayminus": true - 100 * curve["low"],
                    "color": tones.quiet,
                    "thickness": 1,
                    "width": 3,
                },
                hovertext=says,
                hoverinfo="text",
            ),
        ],
        layout=style.layout(
            theme,
            margin={"l": 64, "r": 12, "t": 12, "b": 52},
            dragmode=False,
            xaxis=style.axis(
                theme, range=[0, 102], fixedrange=True,
                title={"text": "told: sure of the likeliest cause, in 100"},
            ),
            yaxis=style.axis(
                theme, range=[0, 102], fixedrange=True, title={"text": "found so, in 100"}
            ),
        ),
    )  # fmt: skip
