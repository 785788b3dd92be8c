"""Test reports week by week: which came, came late, or did not come, against the chosen class."""

from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import words
from dashboards.figures import style
from dashboards.figures.nights import DAY_MS, date_form, date_step
from dashboards.palette import TONES, Theme

STRIP, GAP = 92, 34
"""Height of one series, and what stands between two [px]."""
TOP, BOTTOM = 26, 36


def height(series: int) -> int:
    """Say how high a picture of so many series is [px]."""
    return TOP + BOTTOM + series * STRIP + (series - 1) * GAP


def draw(weeks: pl.DataFrame, heard: pl.DataFrame, *, theme: Theme, narrow: bool) -> go.Figure:
    """Draw a strip of bars for each series, one bar a week.

    Parameters
    ----------
    weeks : polars.DataFrame
        ``series``, ``week``, ``due``, ``on_time``, ``late``, ``missed``, ``wanted``.
    heard : polars.DataFrame
        ``series``, ``name``, ``witness``, in order.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Late is striped and missed is hollow: they differ without colour too.
    """
    tones = TONES[theme]
    looks: tuple[tuple[str, str, dict[str, Any]], ...] = (
        ("on_time", "on time", {"color": tones.accent, "line": {"width": 0}}),
        ("late", "late",
         {"color": tones.aside, "line": {"width": 1, "color": tones.hatch},
          "pattern": {"shape": "/", "fgcolor": tones.hatch, "bgcolor": tones.aside, "size": 6,
                      "solidity": 0.4}}),
        ("missed", "did not come",
         {"color": "rgba(0,0,0,0)", "line": {"width": 1.5, "color": tones.ink}}),
    )  # fmt: skip
    many, full = heard.height, height(heard.height) - TOP - BOTTOM
    traces: list[Any] = []
    shapes, notes, axes = [], [], {}
    first, last = weeks["week"].min(), weeks["week"].max()
    for place, one in enumerate(heard.to_dicts()):
        axis = "y" if place == 0 else f"y{place + 1}"
        top = 1 - place * (STRIP + GAP) / full
        axes["yaxis" + axis[1:]] = style.axis(
            theme,
            domain=[max(0.0, top - STRIP / full), top],
            range=[0, 1.02],
            tickvals=[0, 0.5, 1],
            ticktext=["0", "half", "all"],
            fixedrange=True,
            anchor="x",
        )
        some = weeks.filter(pl.col("series") == one["series"])
        said = [_say(week) for week in some.to_dicts()]
        for column, name, look in looks:
            traces.append(
                go.Bar(
                    x=some["week"].dt.to_string("%Y-%m-%d 12:00").to_list(),
                    y=(some[column] / some["due"]).to_list(),
                    width=DAY_MS * 5.6,
                    offset=DAY_MS * 0.5,
                    yaxis=axis,
                    marker=look,
                    text=said,
                    textposition="none",
                    hovertemplate="%{text}<extra></extra>",
                    name=name,
                )
            )
        if one["witness"] == "receiver" and some.height:
            shapes.append(
                {
                    "type": "line",
                    "xref": "paper",
                    "x0": 0,
                    "x1": 1,
                    "yref": axis,
                    "y0": some["wanted"][0],
                    "y1": some["wanted"][0],
                    "line": {"color": tones.ink, "width": 1.5, "dash": "dot"},
                }
            )
        notes.append(
            {
                "xref": "paper",
                "x": 0,
                "xanchor": "left",
                "yref": "paper",
                "y": top,
                "yanchor": "bottom",
                "text": f"<b>{_plain(one['name'])}</b>",
                "showarrow": False,
                "font": {"color": tones.ink, "size": 13},
            }
        )
    days = (last - first).days + 7  # type: ignore[operator, union-attr]  # of a date column
    return go.Figure(
        data=traces,
        layout=style.layout(
            theme,
            margin={"l": 40, "r": 8, "t": TOP, "b": BOTTOM},
            height=height(many),
            barmode="stack",
            bargap=0,
            hovermode="closest",
            dragmode=False,
            shapes=shapes,
            annotations=notes,
            xaxis=style.axis(
                theme,
                type="date",
                showgrid=False,
                tickformat=date_form(days),
                dtick=date_step(days, narrow=narrow),
                ticklabelmode="instant" if days <= 45 else "period",
                anchor="y" if many == 1 else f"y{many}",
                fixedrange=True,
            ),
            **axes,
        ),
    )


def _say(week: dict[str, Any]) -> str:
    told = [f"{words.number(week['on_time'])} on time"]
    if week["late"]:
        told.append(f"{words.number(week['late'])} late")
    if week["missed"]:
        told.append(f"{words.number(week['missed'])} did not come")
    return (
        f"<b>week of {words.day(week['week'])}</b><br>{words.count(week['due'], 'report')} due: "
        f"{', '.join(told)}"
    )


def _plain(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
