"""The picture of a proof: alarm nights in 30 armed nights, before and after a date."""

from datetime import date, datetime, timedelta
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import words
from dashboards.figures import style
from dashboards.figures.nights import date_form, date_step
from dashboards.palette import TONES, Theme

DAY_MS = 86_400_000


def draw(
    windows: pl.DataFrame, cut: date, *, theme: Theme, usual: tuple[float | None, float | None]
) -> go.Figure:
    """Draw one bar for each window, the date as a line, and the rate of either side as a level.

    Parameters
    ----------
    windows : polars.DataFrame
        As ``proving.windows`` gives them.
    cut : date
        The date.
    theme : Theme
        Scheme of light.
    usual : tuple of float or None
        Alarm nights in 30 over all the time before, and after.

    Returns
    -------
    plotly.graph_objects.Figure
        Bars before are hollow, bars after are filled: they differ without colour too.
    """
    tones = TONES[theme]
    looks = {
        "before": {"color": tones.armed, "line": {"color": tones.control, "width": 1.5}},
        "after": {"color": tones.accent, "line": {"color": tones.accent, "width": 1.5}},
    }
    traces: list[Any] = []
    for (side, look), level in zip(looks.items(), usual, strict=True):
        some = windows.filter(pl.col("side") == side)
        if some.is_empty():
            continue
        bars = some.filter(pl.col("rate").is_not_null())
        length = (bars["until"] - bars["since"]).dt.total_days() + 1
        middle = [
            datetime.combine(since, datetime.min.time()) + timedelta(days=days / 2)
            for since, days in zip(bars["since"], length, strict=True)
        ]
        traces.append(
            go.Bar(
                x=[one.isoformat() for one in middle],
                y=bars["rate"].to_numpy(),
                width=(length * DAY_MS * 0.86).to_numpy(),
                marker=look,
                name=side,
                customdata=[_say(one) for one in bars.to_dicts()],
                hovertemplate="%{customdata}<extra></extra>",
            )
        )
        if level is not None:
            ends = [some["since"].min(), some["until"].max() + timedelta(days=1)]
            traces.append(
                go.Scatter(
                    x=[end.isoformat() for end in ends],
                    y=[level, level],
                    mode="lines",
                    line={"color": tones.ink, "width": 1.5, "dash": "dot"},
                    hoverinfo="skip",
                    name=f"mean {side}",
                )
            )
    first, last = windows["since"].min(), windows["until"].max()
    nights = (last - first).days + 1
    top = max([1.0, *(windows["rate"].drop_nulls().to_list()), *(u for u in usual if u)])
    return go.Figure(
        data=traces,
        layout=style.layout(
            theme,
            margin={"l": 46, "r": 6, "t": 30, "b": 36},
            barmode="overlay",
            hovermode="closest",
            dragmode=False,
            xaxis=style.axis(
                theme,
                type="date",
                range=[first.isoformat(), (last + timedelta(days=2)).isoformat()],
                showgrid=False,
                tickformat=date_form(nights),
                dtick=date_step(nights, narrow=True),
                ticklabelmode="instant" if nights <= 45 else "period",
                fixedrange=True,
            ),
            yaxis=style.axis(
                theme, range=[0, top * 1.12], nticks=5, rangemode="tozero", fixedrange=True
            ),
            shapes=[
                {
                    "type": "line",
                    "x0": cut.isoformat(),
                    "x1": cut.isoformat(),
                    "yref": "paper",
                    "y0": 0,
                    "y1": 1,
                    "line": {"color": tones.ink, "width": 2},
                }
            ],
            annotations=[
                {
                    "x": cut.isoformat(),
                    "yref": "paper",
                    "y": 1,
                    "yanchor": "bottom",
                    "xanchor": "right" if (cut - first).days > nights * 0.6 else "left",
                    "text": words.day(cut),
                    "showarrow": False,
                    "font": {"color": tones.ink, "size": 13},
                }
            ],
        ),
    )


def _say(one: dict[str, Any]) -> str:
    days = words.count(one["days"], "alarm night")
    nights = words.count(one["nights"], "night")
    return f"<b>{words.day(one['since'])} to {words.day(one['until'])}</b><br>{days} in {nights}"
