"""What the fake lab tells of one point: numbers written down, none of them computed from a log."""

from datetime import datetime

import polars as pl

from eventlab.lab import PointView, Profile, Tried, WhatIf

_HOURS = 4512.0
_DARK_H = 2900.0


def _rates(rows):
    """Give rows a rate with some interval around it."""
    rate = pl.when(pl.col("hours") >= 1).then(pl.col("alarms") / pl.col("hours") * 100)
    return (
        pl.DataFrame(
            rows,
            schema={
                "driver": pl.String,
                "low": pl.Float64,
                "high": pl.Float64,
                "told": pl.Boolean,
                "alarms": pl.Int64,
                "hours": pl.Float64,
            },
            orient="row",
        )
        .with_columns(rate=rate)
        .with_columns(rate_low=pl.col("rate") * 0.5, rate_high=pl.col("rate") * 1.8 + 0.3)
    )


def _edged(driver, edges, alarms, hours):
    low, high = [None, *edges], [*edges, None]
    return [(driver, a, b, True, n, h) for a, b, n, h in zip(low, high, alarms, hours, strict=True)]


def profile(*, weather=True, alarms=38):
    few = alarms < 4
    at = {17: 2, 18: 9, 19: 14, 20: 8, 21: 5} if not few else {19: alarms}
    rows = [
        ("clock", float(h % 24), float(h % 24 + 1), True, at.get(h % 24, 0), 364.0 if 18 <= h < 31
         else 108.0)
        for h in range(12, 36)
    ]  # fmt: skip
    rows += [("weekday", float(d), float(d), True, alarms // 7, _HOURS / 7) for d in range(1, 8)]
    rows += [("month", float(m), float(m), True, alarms // 12, _HOURS / 12) for m in range(1, 13)]
    told = ("temperature", "wind", "rain")
    if weather:
        rows += _edged(
            "temperature", (0.0, 4.0, 8.0, 12.0, 16.0, 20.0), (0, 1, 2, 4, 9, 12, 10), [640.0] * 7
        )
        rows.append(("temperature", None, None, False, 0, 32.0))
        rows += _edged("wind", (3.0, 6.0, 9.0, 14.0), (9, 9, 10, 9, 1), [900.0] * 4 + [0.4])
        rows += [("rain", 0.0, 0.0, True, 36, 4200.0), ("rain", 0.0, 0.5, True, 1, 200.0)]
        rows += [("rain", 0.5, 2.0, True, 1, 100.0), ("rain", 2.0, None, True, 0, 10.0)]
    edges = (0, 15, 30, 60, 120, 240, 480)
    rows += [
        ("arming", float(a), float(b) if b else None, True, 4, 300.0)
        for a, b in zip(edges, (*edges[1:], None), strict=True)
    ]
    beside = (0, 5, 15, 30, 60)
    rows += [
        ("area", float(a), float(b) if b else None, True, 2, 20.0)
        for a, b in zip(beside, (*beside[1:], None), strict=True)
    ]
    quiet = [("sun", a, h, True, 0, 20.0) for a in range(60, 270, 15) for h in range(0, 50, 10)]
    sky = _rates(
        [
            *quiet,
            ("sun", 270.0, 0.0, True, 22, 60.0),
            ("sun", 285.0, 0.0, True, 9, 80.0),
            ("sun", None, None, True, 7, _DARK_H),
        ]
    )
    return Profile(
        "alarm",
        "armed",
        alarms=alarms,
        hours=_HOURS,
        bins=_rates(rows),
        sky=sky.drop("driver", "told").rename({"low": "azimuth", "high": "height"}),
        gaps=pl.DataFrame(
            {
                "low_s": [0.0, 60.0, 180.0, 86_400.0, 2_592_000.0],
                "high_s": [60.0, 180.0, 86_400.0, 2_592_000.0, None],
                "many": [0, 4, 9, 21, 0],
            }
        ),
        grain_s=60,
        facing=282.5,
        missing={} if weather else dict.fromkeys(told, "weather"),
    )


SAYS = {
    "sun": "31 of 38 alarm days fall when the sun stands low in the north-west; that is 5 % of the "
    "armed hours.",
    "clock": "31 of 38 alarm days fall between 18:00 and 21:00. But the sun tells these days "
    "better.",
    "weekday": "No weekday stands out beyond chance.",
    "month": "No month stands out beyond chance.",
    "temperature": "No difference that chance would not make.",
    "wind": "No difference that chance would not make.",
    "rain": "No difference that chance would not make.",
    "arming": "No difference that chance would not make.",
    "area": "No difference that chance would not make.",
    "gaps": "Of 34 gaps from one alarm or activation to the next, 4 are shorter than 10 minutes.",
}


TRIALS = WhatIf(
    "2102",
    "7",
    None,
    None,
    ("No hold-off and no count is listed.",),
    ("A log shows what would have been quiet, not what would have been missed.",),
    pl.DataFrame(),
)
TRIED = [
    Tried(
        "A hold-off of 10 s (it must stay tripped so long)", None,
        "A hold-off of 10 s: 9 of 165 alarms would not have been raised.",
        "9 of 165", "2 of 31", "29, by 10 s at most", None,
    ),
    Tried(
        "A count of two within 20 s", None,
        "A count of two within 20 s: 31 of 165 alarms would not have been raised.",
        "31 of 165", "none of 31", "12, by 18 s at most", "Of 1 night ...",
    ),
]  # fmt: skip


def point_view(site, site_name, row, findings):
    zone, life = row["zone"], row["life_safety"]
    says = dict(SAYS)
    if zone == "12":
        for one in ("temperature", "wind", "rain"):
            says[one] = "not recorded: the weather here."
    told = None if life else profile(weather=zone != "12", alarms=2 if zone == "3" else 38)
    out = [(datetime.fromisoformat("2026-05-10"), datetime.fromisoformat("2026-05-12"))]
    return PointView(
        site=site,
        site_name=site_name,
        time_zone="Europe/London",
        point={**row, "areas": ["1"], "left_out_h": 0.0},
        sentence=f"Point {zone} is a life-safety point: have it examined by a licensed person."
        if life
        else f"Point {zone} had 38 alarm days that nothing ordinary accounts for.",
        covers="This log covers 364 days (4,512 armed hours).",
        limits=["Movement and opening while not armed are not recorded."],
        findings=findings.filter(pl.col("subject") == zone),
        out=pl.DataFrame(
            [(a, b, "bypass", 35.8) for a, b in out] if zone in {"7", "20"} else [],
            schema={
                "since": pl.Datetime("us"),
                "until": pl.Datetime("us"),
                "reason": pl.String,
                "hours": pl.Float64,
            },
            orient="row",
        ),
        profile=told,
        of_hours="" if life else "armed hours",
        says={} if life else says,
        trials=None if life else TRIALS,
        tried=[] if life else TRIED,
    )
