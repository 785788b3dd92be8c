"""What the fake lab says of what is alive: lanes written down, in the words of the report."""

from datetime import date, datetime, timedelta

import polars as pl

from eventlab.analysis.alive import Walked
from eventlab.lab import AliveView
from eventlab.report import (
    alive_in_words,
    alive_sentence,
    heard_in_words,
    state_of,
    walk_sentence,
)
from eventlab.schema import UTC, Health

FIRST, LAST = datetime.fromisoformat("2025-09-29T03:00"), datetime.fromisoformat("2026-09-27T21:00")
NOW = datetime.fromisoformat("2026-09-28T09:00")
SINCE = datetime.fromisoformat("2026-08-11T10:00")
LANE = {
    **dict.fromkeys(("family", "zone", "within", "path", "witness", "name"), pl.String),
    "life_safety": pl.Boolean,
    **dict.fromkeys(("health", "why", "pattern", "what"), pl.String),
    "since": UTC,
    **dict.fromkeys(("stood_h", "longest_h", "restore_h", "period_h"), pl.Float64),
    "times": pl.Int64,
    "last": UTC,
    **dict.fromkeys(("seen_days", "of_days", "silent_days"), pl.Int64),
    **dict.fromkeys(("age_days", "left_days", "early_days"), pl.Float64),
    **dict.fromkeys(("life_days", "life_low", "life_high"), pl.Float64),
    **dict.fromkeys(("cells", "failed"), pl.Int64),
    "since_wall": pl.Datetime("us"),
    "last_wall": pl.Datetime("us"),
}
POINTS = (("1", "Staff door"), ("4", "Reading room"), ("7", "Glasshouse <b>west</b>"))


def _rows(points):
    no, well, bad = Health.NOT_RECORDED, Health.WELL, Health.NOT_WELL
    stands = {"health": bad, "why": "stands", "since_wall": SINCE, "stood_h": 1144.0, "times": 1}
    yield {"family": "on-test", "what": "on-test", **stands}
    yield {"family": "battery", "zone": "4", "name": "Reading room", "what": "device-battery-low",
           "age_days": 900.0, "left_days": 80.0, "early_days": 12.0,
           "life_days": 950.0, "life_low": 760.0, "life_high": 1150.0, "cells": 210, "failed": 64,
           **stands}  # fmt: skip
    yield {"family": "log", "health": well, "why": "ended", "what": "log-gap", "times": 1,
           "longest_h": 168.0, "restore_h": 168.0, "last_wall": LAST}  # fmt: skip
    yield {"family": "mains", "health": well, "why": "ended", "what": "mains-loss", "times": 2,
           "longest_h": 9.0, "restore_h": 5.0, "last_wall": SINCE}  # fmt: skip
    yield {"family": "reports", "witness": "receiver", "health": well, "why": "ended",
           "what": "report-missed", "times": 1, "longest_h": 72.0, "restore_h": 72.0,
           "period_h": 24.0, "last_wall": LAST}  # fmt: skip
    for family in ("tamper", "masking", "siren"):
        yield {"family": family, "health": no, "why": "never"}
    yield {"family": "centre", "health": Health.NOT_COVERED, "why": "no-log"}
    for zone, name in points:
        yield {"family": "point", "zone": zone, "name": name, "health": well, "why": "seen",
               "last_wall": LAST, "seen_days": 200, "of_days": 250, "silent_days": 1}  # fmt: skip
    yield {"family": "point", "zone": "9", "name": "Smoke", "life_safety": True, "health": no,
           "why": "life"}  # fmt: skip


def alive(site, name, *, points=POINTS, known=True, each_day=1):
    """Answer as the lab does."""
    blank = {"life_safety": False, "times": 0}
    lanes = alive_in_words(
        pl.DataFrame([blank | one for one in _rows(points)], schema=LANE, orient="row")
    ).with_row_index("lane")
    by = {(one["family"], one["zone"]): one["lane"] for one in lanes.to_dicts()}
    spells = pl.DataFrame(
        [
            (by["on-test", None], "on-test", SINCE, LAST, True, False),
            (by["battery", "4"], "device-battery-low", SINCE, LAST, True, False),
            (by["log", None], "log-gap", FIRST + timedelta(days=60), FIRST + timedelta(days=67),
             False, False),
            (by["mains", None], "mains-loss", FIRST + timedelta(days=20),
             FIRST + timedelta(days=20, hours=9), False, False),
            (by["reports", None], "report-missed", FIRST + timedelta(days=100),
             FIRST + timedelta(days=103), False, False),
            (by["point", points[-1][0]], "unseen", FIRST + timedelta(days=301),
             FIRST + timedelta(days=308), False, False),
            (by["point", points[0][0]], "bypass", FIRST + timedelta(days=200),
             FIRST + timedelta(days=210), False, True),
        ],
        schema={"lane": pl.UInt32, "what": pl.String, "since": pl.Datetime("us"),
                "until": pl.Datetime("us"), "standing": pl.Boolean, "aside": pl.Boolean},
        orient="row",
    ).with_columns(
        state=pl.col("what").map_elements(state_of, return_dtype=pl.String),
        hours=(pl.col("until") - pl.col("since")).dt.total_hours().cast(pl.Float64),
        ended_by=pl.lit("end"),
    )  # fmt: skip
    days = [FIRST.date() + timedelta(days=d) for d in range(364)]
    beats = [(by["reports", None], day, "test-report", 1) for day in days[:100] + days[103:]]
    beats += [(by["point", zone], day, "activation", 5)
              for zone, _ in points for day in days for _ in range(each_day)]  # fmt: skip
    beats.append((by["point", "4"], date(2026, 5, 14), "walk-test", 1))
    weeks = pl.DataFrame(
        [(0, days[0] + timedelta(weeks=w), 7, 6 if w == 30 else 7, int(w == 30), 0)
         if w != 14 else (0, days[0] + timedelta(weeks=w), 7, 4, 0, 3) for w in range(52)],
        schema={"series": pl.UInt32, "week": pl.Date, "due": pl.Int64, "on_time": pl.Int64,
                "late": pl.Int64, "missed": pl.Int64},
        orient="row",
    ).with_columns(share=(7 - pl.col("missed")) / 7, low=pl.lit(0.59), high=pl.lit(1.0),
                   wanted=pl.lit(0.97))  # fmt: skip
    overall = pl.DataFrame(
        [{"site": site, "witness": "receiver", "path": None, "due": 364, "on_time": 360, "late": 1,
          "missed": 3, "share": 0.992, "low": 0.976, "high": 0.998, "wanted": 0.97,
          "below": False}],
        schema_overrides={"path": pl.String},
    )  # fmt: skip
    walked = Walked(
        day=date(2026, 5, 14), since=FIRST, until=FIRST, by="walk-test", told=True, listed=True,
        points=pl.DataFrame(
            {"zone": ["1", "4", "7"], "within": [None] * 3, "name": ["Staff door", "Reading room",
             None], "answered": [True, True, False]}, schema_overrides={"within": pl.String}),
        apart=["9"],
    )  # fmt: skip
    return AliveView(
        site=site,
        site_name=name,
        time_zone="Europe/London",
        covers="This log covers 364 days (4512 armed hours); it records alarms and arming.",
        sentence=alive_sentence(lanes, stale_days=None if known else 83),
        known=known,
        walk=walk_sentence(walked, NOW.date()),
        walked=walked,
        first=FIRST,
        last=LAST,
        covered=LAST,
        now=NOW,
        lanes=lanes,
        spells=spells,
        beats=pl.DataFrame(
            beats,
            schema={"lane": pl.UInt32, "day": pl.Date, "what": pl.String, "many": pl.Int64},
            orient="row",
        ),
        heard=heard_in_words(overall).with_row_index("series"),
        weeks=weeks,
    )
