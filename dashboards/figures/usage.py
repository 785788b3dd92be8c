"""How a place is used: seconds at entry, doors, codes, points left out."""

from datetime import datetime
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import usage
from dashboards.figures import style
from dashboards.palette import BY_KEY, TONES, Theme
from dashboards.words import count, moment, number

_ROW, _ROOM = 34, 86
"""Height of a row and of what stands around all of them [px]."""
_LABEL_PX, _NARROW_PX = 210, 118
_MOST_LABEL = {True: 14, False: 28}


def height(many: int) -> int:
    """Give the height of a figure with so many rows [px]."""
    return _ROOM + _ROW * max(many, 2)


def entries(
    told: pl.DataFrame, *, theme: Theme, timed: bool, delay: float | None, narrow: bool = False
) -> go.Figure:
    """Draw how long each entry took, a row for each code.

    Parameters
    ----------
    told : polars.DataFrame
        As ``usage.entries_drawn`` gives it.
    theme : Theme
        Scheme of light.
    timed : bool
        Whether seconds count from the first door; else from the alarm, late entries only.
    delay : float or None
        The entry delay [s], drawn as a line where seconds count from the door.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Late entries are triangles, others circles; they are spread in their row to be told apart.
    """
    tones = TONES[theme]
    # By number, as the table has them: user 4 before user 12.
    codes = sorted(told["who"].unique().to_list(), key=lambda one: (len(one), one))
    place = {code: number_ for number_, code in enumerate(codes)}
    nth = pl.int_range(pl.len()).over("who")
    spread = told.with_columns(dy=((nth * 7 % 11) - 5) / 17)
    data = []
    for late, symbol, colour, name in (
        (False, "circle-open", tones.accent, "no alarm"),
        (True, "triangle-up", BY_KEY["people"].colour[theme], "late: an alarm"),
    ):
        some = spread.filter(pl.col("late") == late)
        data.append(
            go.Scatter(
                x=some["s"].to_list(),
                y=[place[w] + dy for w, dy in some.select("who", "dy").iter_rows()],
                mode="markers",
                marker={"symbol": symbol, "size": 10 if late else 7, "color": colour},
                text=[_entry(one) for one in some.iter_rows(named=True)],
                hovertemplate="%{text}<extra></extra>",
                name=name,
            )
        )
    shapes, notes = [], []
    if timed and delay:
        line = {"color": tones.ink, "width": 1.4, "dash": "dash"}
        shapes.append({"type": "line", "x0": delay, "x1": delay, "yref": "paper", "y0": 0,
                       "y1": 1, "line": line})  # fmt: skip
        notes.append({"text": f"delay {number(delay)} s", "x": delay, "y": 1, "yref": "paper",
                      "xanchor": "left", "yanchor": "bottom", "showarrow": False})  # fmt: skip
    most = max([*told["s"], delay or 0, 10.0])
    return go.Figure(
        data=data,
        layout=laid(
            theme,
            left=_NARROW_PX if narrow else _LABEL_PX,
            shapes=shapes,
            annotations=notes,
            xaxis=style.axis(
                theme, range=[0, most * 1.08], fixedrange=True, ticksuffix=" s",
                title=_unit(
                    f"from the {'first door' if timed else 'alarm'} to the disarm", theme
                ),
                nticks=5 if narrow else 9,
            ),
            yaxis=style.axis(
                theme, tickmode="array", tickvals=list(range(len(codes))),
                ticktext=[_short(code, narrow=narrow) for code in codes], fixedrange=True,
                range=[len(codes) - 0.4, -0.6], showgrid=False,
            ),
        ),
    )  # fmt: skip


def doors(told: pl.DataFrame, *, theme: Theme, narrow: bool = False) -> go.Figure:
    """Draw how often each door comes first, and how often late.

    Parameters
    ----------
    told : polars.DataFrame
        As ``PeopleView.doors``.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Two bars end to end: entries without an alarm, and late ones.
    """
    tones = TONES[theme]
    labels = [_short(one, narrow=narrow) for one in told["label"]]
    says = [
        f"<b>{one['label']}</b><br>{count(one['entries'], 'entry', 'entries')}, "
        f"{number(one['late'])} late<br>half within {usage.seconds(one['half_s'])}"
        for one in told.iter_rows(named=True)
    ]
    shared: dict[str, Any] = {
        "y": labels, "orientation": "h", "width": 0.6, "text": says, "textposition": "none",
        "hovertemplate": "%{text}<extra></extra>",
    }  # fmt: skip
    return go.Figure(
        data=[
            go.Bar(
                x=(told["entries"] - told["late"]).to_list(), name="no alarm",
                marker={"color": tones.accent}, **shared,
            ),
            go.Bar(
                x=told["late"].to_list(), name="late",
                marker={
                    "color": BY_KEY["people"].colour[theme],
                    "pattern": {"shape": "/", "fillmode": "overlay", "fgcolor": tones.ground,
                                "size": 6},
                },
                **shared,
            ),
        ],
        layout=laid(
            theme,
            left=_NARROW_PX if narrow else _LABEL_PX,
            barmode="stack",
            xaxis=style.axis(
                theme, rangemode="tozero", fixedrange=True, nticks=6, tickformat="d",
                title=_unit("entries", theme),
            ),
            yaxis=rows(theme, labels),
        ),
    )  # fmt: skip


def people(told: pl.DataFrame, *, theme: Theme, narrow: bool = False) -> go.Figure:
    """Draw what alarms are to be expected of each code, with what was counted.

    Parameters
    ----------
    told : polars.DataFrame
        Rows of ``PeopleView.people`` with ``expected``.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        A dot with its interval, and an open mark for the plain count.
    """
    tones = TONES[theme]
    labels = [_short(one, narrow=narrow) for one in told["label"]]
    most = max([*told["expected_high"], *told["rate"], 1.0])
    says = [
        f"<b>{one['label']}</b><br>{number(one['alarms'])} alarms in "
        f"{count(one['acts'], 'entry and closing', 'entries and closings')}<br>to be expected in "
        f"100: {number(one['expected'], 1)} ({number(one['expected_low'], 1)} to "
        f"{number(one['expected_high'], 1)})"
        for one in told.iter_rows(named=True)
    ]
    shared: dict[str, Any] = {
        "y": labels, "mode": "markers", "text": says, "hovertemplate": "%{text}<extra></extra>"
    }  # fmt: skip
    return go.Figure(
        data=[
            go.Scatter(
                x=told["rate"].to_list(), name="counted",
                marker={
                    "symbol": "diamond-open", "size": 10, "color": tones.control,
                    "line": {"width": 2},
                },
                **shared,
            ),
            go.Scatter(
                x=told["expected"].to_list(), name="to be expected",
                marker={"symbol": "circle", "size": 11, "color": tones.accent},
                error_x={
                    "type": "data", "symmetric": False, "color": tones.ink, "thickness": 1.4,
                    "array": (told["expected_high"] - told["expected"]).to_list(),
                    "arrayminus": (told["expected"] - told["expected_low"]).to_list(),
                },
                **shared,
            ),
        ],
        layout=laid(
            theme,
            left=_NARROW_PX if narrow else _LABEL_PX,
            xaxis=style.axis(
                theme, range=[-0.03 * most, 1.05 * most], fixedrange=True,
                nticks=5 if narrow else 8,
                title=_unit("alarms in 100 entries and closings", theme),
            ),
            yaxis=rows(theme, labels),
        ),
    )  # fmt: skip


def bypasses(
    told: pl.DataFrame, *, theme: Theme, first: datetime, last: datetime, narrow: bool = False
) -> go.Figure:
    """Draw when points were left out, a row for each.

    Parameters
    ----------
    told : polars.DataFrame
        As ``PeopleView.bypasses``.
    theme : Theme
        Scheme of light.
    first, last : datetime
        From when to when; the wall clock of the site.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Bars over time; those not shown lifted are hatched. A short one is widened to be seen.
    """
    tones = TONES[theme]
    least = (last - first).total_seconds() * 1000 / 250
    data = []
    for open_, name in ((False, "lifted"), (True, "not shown lifted")):
        some = told.filter(pl.col("open") == open_)
        spans = (some["until"] - some["since"]).dt.total_milliseconds()
        data.append(
            go.Bar(
                y=[_short(one, narrow=narrow) for one in some["label"]],
                x=[max(float(span), least) for span in spans],
                base=[one.isoformat(sep=" ") for one in some["since"]],
                orientation="h",
                width=0.5,
                marker={
                    "color": tones.accent if not open_ else tones.raised,
                    "line": {"width": 1.4, "color": tones.accent},
                    "pattern": {"shape": "/" if open_ else "", "fgcolor": tones.accent},
                },
                text=[_bypass(one) for one in some.iter_rows(named=True)],
                textposition="none",
                hovertemplate="%{text}<extra></extra>",
                name=name,
            )
        )
    labels = [_short(one, narrow=narrow) for one in told["label"].unique(maintain_order=True)]
    return go.Figure(
        data=data,
        layout=laid(
            theme,
            left=_NARROW_PX if narrow else _LABEL_PX,
            barmode="overlay",
            xaxis=style.axis(
                theme, type="date", range=[str(first), str(last)], fixedrange=True,
                nticks=4 if narrow else 9, tickangle=0, tickformat="%b<br>%Y",
            ),
            yaxis=rows(theme, labels),
        ),
    )  # fmt: skip


def laid(theme: Theme, *, left: int, **more: Any) -> dict[str, Any]:
    """Return the layout of a figure with named rows, whose names take so many pixels."""
    tones = TONES[theme]
    return style.layout(
        theme,
        margin={"l": left, "r": 12, "t": 26, "b": 44},
        hovermode="closest",
        dragmode=False,
        font={"family": style.FONT, "size": 12, "color": tones.quiet},
        **more,
    )


def rows(theme: Theme, labels: list[str]) -> dict[str, Any]:
    """Return an axis of named rows, the first on top."""
    return style.axis(
        theme,
        type="category",
        categoryorder="array",
        categoryarray=labels,
        range=[len(labels) - 0.4, -0.6],
        fixedrange=True,
        showgrid=False,
    )


def _unit(text: str, theme: Theme) -> dict[str, Any]:
    font = {"family": style.FONT, "size": 12, "color": TONES[theme].quiet}
    return {"text": text, "standoff": 6, "font": font}


def _short(label: str, *, narrow: bool) -> str:
    most = _MOST_LABEL[narrow]
    return label if len(label) <= most else label[: most - 1].rstrip() + "…"


def _entry(one: dict[str, Any]) -> str:
    way = f"<br>way in: {one['steps']}" if one["steps"] else ""
    return f"<b>{one['who']}</b>, {moment(one['local'])}<br>{number(one['s'])} s{way}"


def _bypass(one: dict[str, Any]) -> str:
    end = "not shown lifted" if one["open"] else f"to {moment(one['until'])}"
    return f"<b>{one['label']}</b><br>from {moment(one['since'])}<br>{end}"
