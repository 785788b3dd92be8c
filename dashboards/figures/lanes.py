"""The picture of what is alive: dates across, one row a thing, what failed as bars."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import words
from dashboards.alive import STEPS
from dashboards.figures import style
from dashboards.figures.nights import date_form, date_step
from dashboards.palette import TONES, Theme
from eventlab.schema import Health

WIDE_ROW, NARROW_ROW = 27, 44
"""Height of a row [px]; on a small screen the name stands above its lane."""
TOP, BOTTOM = 30, 34
LEAST = 0.004
"""A bar is at least so wide that it can be seen [share of the picture]."""
ROOM = 0.3
"""A word goes behind the end of its bar unless less than this share of the picture is left."""
UNSEEN = "unseen"
"""A week in which a point was silent against its own rhythm: drawn hollow."""
MOST_LETTERS = 35
BEATS = {
    "test-report": "test report",
    "manual-test": "manual test",
    "carried": "came through",
    "activation": "movement",
    "alarm": "alarm",
    "walk-test": "walk test",
}


def height(lanes: pl.DataFrame, *, narrow: bool) -> int:
    """Say how high a picture of so many lanes is [px]."""
    return TOP + BOTTOM + max(1, lanes.height) * (NARROW_ROW if narrow else WIDE_ROW)


def draw(
    lanes: pl.DataFrame,
    spells: pl.DataFrame,
    beats: pl.DataFrame,
    gaps: Sequence[tuple[datetime, datetime]],
    ends: tuple[datetime, datetime],
    *,
    theme: Theme,
    narrow: bool,
) -> go.Figure:
    """Draw the lanes.

    Parameters
    ----------
    lanes : polars.DataFrame
        ``row``, ``short``, ``health``, ``now``, ``why``.
    spells : polars.DataFrame
        ``row``, ``short``, ``what``, ``state``, ``since``, ``until``, ``standing``, ``aside``,
        ``hours``, ``many``.
    beats : polars.DataFrame
        ``row``, ``short``, ``what``, ``day``, ``many``, ``step``.
    gaps : sequence of tuple of datetime
        What no log covers.
    ends : tuple of datetime
        From when to when.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        Every lane has a mark or a word in it: what is not recorded says so where bars would be.
    """
    tones = TONES[theme]
    first, last = ends
    pad = (last - first) * 0.01
    reach = (first - pad, last + pad)
    # The name of a lane stands above it on a small screen; what is drawn moves down.
    low = 0.2 if narrow else 0.0
    traces: list[Any] = [
        *_gaps(gaps, lanes.height, tones.gap),
        *_beats(beats, low, theme, narrow=narrow),
        *_bars(spells, reach, low, theme),
    ]
    if narrow:
        traces.append(_names(lanes, reach[0], tones.ink))
    names = [_cut(one) for one in lanes["short"]]
    days = (last - first).days + 1
    return go.Figure(
        data=traces,
        layout=style.layout(
            theme,
            margin={"l": 8 if narrow else 256, "r": 8, "t": TOP, "b": BOTTOM},
            height=height(lanes, narrow=narrow),
            barmode="overlay",
            hovermode="closest",
            dragmode=False if narrow else "pan",
            uirevision="alive",
            shapes=_lines(lanes, reach, low, tones.line),
            annotations=_words(lanes, spells, reach, low, theme),
            xaxis=style.axis(
                theme,
                type="date",
                range=[_at(reach[0]), _at(reach[1])],
                tickformat=date_form(days),
                dtick=date_step(days, narrow=narrow),
                ticklabelmode="instant" if days <= 45 else "period",
                side="bottom",
                fixedrange=narrow,
            ),
            yaxis=style.axis(
                theme,
                range=[lanes.height - 0.5, -0.5],
                tickmode="array",
                tickvals=[] if narrow else list(range(lanes.height)),
                ticktext=[] if narrow else names,
                tickfont={"color": tones.ink, "size": 13},
                showgrid=False,
                fixedrange=True,
            ),
        ),
    )


def _lines(lanes: pl.DataFrame, reach: tuple[datetime, datetime], low: float, ink: str) -> Any:
    """Draw a line where a log watches, so that an empty lane is one in which nothing failed."""
    watched = lanes.filter(pl.col("health").is_in([Health.WELL, Health.NOT_WELL]))["row"]
    return [
        {
            "type": "line",
            "layer": "below",
            "x0": _at(reach[0]),
            "x1": _at(reach[1]),
            "y0": row + low,
            "y1": row + low,
            "line": {"color": ink, "width": 2},
        }
        for row in watched
    ]


def _gaps(gaps: Sequence[tuple[datetime, datetime]], rows: int, ink: str) -> list[go.Bar]:
    if not gaps:
        return []
    return [
        go.Bar(
            orientation="h",
            base=[_at(since) for since, _ in gaps],
            x=[_ms(until - since) for since, until in gaps],
            y=[(rows - 1) / 2] * len(gaps),
            width=rows,
            marker={
                "color": "rgba(0,0,0,0)",
                "line": {"width": 0},
                "pattern": {"shape": ".", "fgcolor": ink, "size": 5, "solidity": 0.18},
            },
            text=[f"no log: {words.day(a.date())} to {words.day(b.date())}" for a, b in gaps],
            textposition="none",
            hovertemplate="%{text}<extra></extra>",
            name="gap",
        )
    ]


def _bars(
    spells: pl.DataFrame, reach: tuple[datetime, datetime], low: float, theme: Theme
) -> list[Any]:
    tones = TONES[theme]
    stripes = {"shape": "/", "fgcolor": tones.hatch, "bgcolor": tones.aside, "size": 6,
               "solidity": 0.4}  # fmt: skip
    looks: Sequence[tuple[str, pl.Expr, dict[str, Any], float]] = (
        ("in service", pl.col("aside") & ~pl.col("standing"),
         {"color": tones.aside, "pattern": stripes,
          "line": {"color": tones.hatch, "width": 1}}, 0.4),
        ("silent", pl.col("what") == UNSEEN,
         {"color": "rgba(0,0,0,0)", "line": {"color": tones.ink, "width": 1.5}}, 0.56),
        ("failed", ~pl.any_horizontal("standing", "aside", pl.col("what") == UNSEEN),
         {"color": tones.control}, 0.4),
        ("stands now", pl.col("standing"), {"color": tones.ink}, 0.56),
    )  # fmt: skip
    least = (reach[1] - reach[0]) * LEAST
    drawn: list[Any] = []
    for name, which, look, size in looks:
        some = spells.filter(which)
        if some.is_empty():
            continue
        rows = some.to_dicts()
        drawn.append(
            go.Bar(
                orientation="h",
                base=[_at(one["since"]) for one in rows],
                x=[_ms(max(one["until"] - one["since"], least)) for one in rows],
                y=[one["row"] + low for one in rows],
                width=size if low == 0 else size * 0.66,
                marker={"line": {"width": 0}, **look},
                text=[_say(one) for one in rows],
                textposition="none",
                hovertemplate="%{text}<extra></extra>",
                name=name,
            )
        )
    now = spells.filter("standing")
    if now.height:
        drawn.append(
            go.Scatter(
                x=[_at(one) for one in now["since"]],
                y=(now["row"] + low).to_list(),
                mode="markers",
                marker={"symbol": "triangle-right", "size": 12, "color": tones.ink,
                        "line": {"width": 1, "color": tones.raised}},
                hoverinfo="skip",
                name="began",
            )
        )  # fmt: skip
    return drawn


def _beats(beats: pl.DataFrame, low: float, theme: Theme, *, narrow: bool) -> list[go.Scatter]:
    tones = TONES[theme]
    tick = {"symbol": "line-ns-open", "size": 8 if narrow else 9,
            "line": {"width": 1.4, "color": tones.accent}, "color": tones.accent}  # fmt: skip
    looks = (
        ("heard of", ["test-report", "manual-test", "carried", "activation"], tick),
        ("alarm", ["alarm"],
         {**tick, "line": {"width": 2, "color": tones.ink}, "color": tones.ink}),
        ("walk test", ["walk-test"],
         {"symbol": "diamond", "size": 9, "color": tones.accent,
          "line": {"width": 1, "color": tones.raised}}),
    )  # fmt: skip
    drawn = []
    for name, kinds, look in looks:
        some = beats.filter(pl.col("what").is_in(kinds))
        if some.is_empty():
            continue
        drawn.append(
            go.Scatter(
                x=some["day"].dt.to_string("%Y-%m-%d 12:00").to_list(),
                y=(some["row"] + low).to_list(),
                mode="markers",
                marker=look,
                text=[_beat(one) for one in some.to_dicts()],
                hovertemplate="%{text}<extra></extra>",
                name=name,
            )
        )
    return drawn


def _words(
    lanes: pl.DataFrame,
    spells: pl.DataFrame,
    reach: tuple[datetime, datetime],
    low: float,
    theme: Theme,
) -> list[dict[str, Any]]:
    """Write into the lanes what stands, and what is not recorded or not covered."""
    tones, length = TONES[theme], reach[1] - reach[0]
    edge = reach[0] + length * 0.004
    silent = lanes.filter(pl.col("health").is_in([Health.NOT_RECORDED, Health.NOT_COVERED]))
    written = [
        _word(edge, row + low, now, tones.quiet, tones.ground, "left")
        for row, now in silent.select("row", "now").iter_rows()
    ]
    begun = spells.filter("standing").group_by("row").agg(pl.col("since").min())
    bad = lanes.filter(pl.col("health") == Health.NOT_WELL).select("row", "now")
    for one in bad.join(begun, on="row", how="left").to_dicts():
        since, said = one["since"] or reach[1], f"<b>{one['now']}</b>"
        if (since - reach[0]) / length > ROOM:
            at, y, side = since - length * 0.012, one["row"] + low, "right"
        else:
            at, y, side = since + length * 0.02, one["row"] + low, "left"
        written.append(_word(at, y, said, tones.ink, tones.ground, side))
    return written


def _word(at: datetime, y: float, said: str, ink: str, ground: str, side: str) -> dict[str, Any]:
    # With a ground of its own a word is read over the ticks and bars of its lane.
    return {
        "x": _at(at),
        "y": y,
        "text": said,
        "showarrow": False,
        "xanchor": side,
        "yanchor": "middle",
        "bgcolor": ground,
        "borderpad": 1,
        "font": {"color": ink, "size": 13},
    }


def _names(lanes: pl.DataFrame, at: datetime, ink: str) -> go.Scatter:
    return go.Scatter(
        x=[_at(at)] * lanes.height,
        y=(lanes["row"] - 0.22).to_list(),
        mode="text",
        text=[_cut(one, 44) for one in lanes["short"]],
        textposition="middle right",
        textfont={"color": ink, "size": 13},
        hoverinfo="skip",
        name="names",
    )


def _say(one: dict[str, Any]) -> str:
    until = "and still so" if one["standing"] else f"to {words.moment(one['until'])}"
    if one["hours"] is None:
        until = "no end told"
    times = "" if one["many"] == 1 else f"<br>{words.count(one['many'], 'time')} together"
    service = "<br>in service time" if one["aside"] else ""
    lasted = "" if one["hours"] is None else f"<br>{lasting(one['hours'])}"
    return (
        f"<b>{_plain(one['short'])}</b><br>{one['state']}, {words.moment(one['since'])}<br>"
        f"{until}{lasted}{times}{service}"
    )


def _beat(one: dict[str, Any]) -> str:
    many = f"{BEATS.get(one['what'], one['what'])}: {words.number(one['many'])}"
    if one["step"] != "1d":
        many += f" in {STEPS[one['step']]}"
    return f"<b>{_plain(one['short'])}</b><br>{words.day(one['day'])}<br>{many}"


def lasting(hours: float) -> str:
    """Say how long something lasted, in the one unit that fits."""
    if hours < 1:
        return words.count(max(1, round(hours * 60)), "minute")
    if hours < 48:
        return f"{_short(hours)} h"
    return f"{_short(hours / 24)} days"


def _short(value: float) -> str:
    return words.number(value, 1 if value < 10 and round(value, 1) % 1 else 0)


def _cut(text: str, most: int = MOST_LETTERS) -> str:
    short = text if len(text) <= most else f"{text[: most - 1].rstrip()}…"
    return _plain(short)


def _plain(text: str) -> str:
    # Plots read a few tags in their texts, links too; what a log says is data.
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _at(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M:%S")


def _ms(span: timedelta) -> float:
    return span.total_seconds() * 1000
