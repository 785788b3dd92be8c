"""What the fake lab says of before and after: two visits, a date, a point of each sort."""

from datetime import UTC, date, datetime, timedelta

import polars as pl

from eventlab.advice import PROOF
from eventlab.errors import NotFound
from eventlab.lab import Proof
from eventlab.schema import Verdict

VISITS = (
    (1, date(2026, 2, 10), None, "yearly service"),
    (2, date(2026, 6, 3), ["4"], "lens <b>changed</b>"),
)
WORDS = ("day", "subject", "statement", "verdict_told", "settles", "regression")
FIRST, LAST = date(2025, 10, 20), date(2026, 9, 27)
LIFE = "9"


def proof(site, *, at=None, visit=None, zone=None):
    """Answer as the lab does."""
    day = at or next((one[1] for one in VISITS if one[0] == visit), None)
    if visit is not None and day is None:
        raise NotFound(f"there is no visit {visit} at site {site}")
    if zone == "none":
        raise NotFound(f"there is no point {zone!r} at site {site}")
    rows = []
    if day is not None:
        named = next((one[2] for one in VISITS if one[0] == visit), None)
        zones = [zone] if zone else named or [None, "4", "5"]
        rows = [_row(site, one, day, visit) for one in zones]
    types = {**PROOF, **dict.fromkeys(WORDS, pl.String), "visit": pl.Int64, "work": pl.String}
    visits = pl.DataFrame(
        [{"visit": n, "day": day, "zones": z, "work": w} for n, day, z, w in VISITS],
        schema_overrides={"zones": pl.List(pl.String)},
    ).with_columns(at=pl.col("day").cast(pl.Datetime("us", "UTC")))
    nights = [FIRST + timedelta(days=n) for n in range((LAST - FIRST).days + 1)]
    frame = pl.DataFrame({"night": nights}).with_columns(
        hours=pl.lit(14.0),
        alarms=pl.when(pl.col("night") < (day or LAST), pl.int_range(pl.len()) % 11 == 3)
        .then(2)
        .otherwise(0),
    )
    life = zone == LIFE
    return Proof(pl.DataFrame(rows, schema=types), visits, frame.clear() if life else frame)


def _row(site, zone, day, visit):
    before, after = (day - FIRST).days, (LAST - day).days
    verdict = {"4": Verdict.BETTER, "5": Verdict.QUIET, LIFE: Verdict.UNPROVEN}.get(
        zone, Verdict.OPEN
    )
    life = zone == LIFE
    told = {
        "before_hours": before * 14.0, "before_nights": before, "before_days": before // 11,
        "before_alarms": 2 * (before // 11), "after_hours": after * 14.0, "after_nights": after,
        "after_days": 0, "after_alarms": 0, "ratio": 0.0, "ratio_low": 0.0, "ratio_high": 0.4,
        "p_exact": 0.0004, "p_mid": 0.0003,
    }  # fmt: skip
    subject = f"point {zone}" if zone else f"site {site}"
    return {
        "site": site, "zone": zone, "at": datetime(day.year, day.month, day.day, 10, tzinfo=UTC),
        "basis": "armed", "life_safety": life, "verdict": str(verdict),
        **({} if life else told),
        "unproven": [], "caution": "Local codes decide.", "day": str(day), "subject": subject,
        "statement": f"{subject}: alarms before and after.", "verdict_told": "That is how it is.",
        "settles": None if verdict == Verdict.BETTER or life else "12 more quiet armed nights.",
        "regression": None, "visit": visit, "work": None,
    }  # fmt: skip
