"""How often the rule of a clock is decided, and how often wrongly, on simulated years."""

from collections import Counter
from datetime import date, timedelta

import numpy as np

from eventlab.ground.clocks import clocked
from eventlab.settings import Settings
from tests.ground.clock_years import HOURS, Year, years
from tests.ground.laid import known

ZONES = ("Europe/London", "Europe/Berlin", "America/New_York", "Australia/Sydney")
KINDS = ("steady", "summer closing", "shifting", "half a year")


def drawn(kind: str, rng: np.random.Generator) -> Year:
    """Draw a year of a kind.

    ``shifting``: one to three new timetables a year on any day, one time in three within three
    weeks of a clock change, each end moved by 0, 30, 60 or 90 minutes either way, half of the time
    both alike.
    """
    first = date(2025, 1, 6)
    year = Year(
        zone=str(rng.choice(ZONES)),
        rule=str(rng.choice(["zone", "standard-time"])),
        hours=HOURS[rng.integers(len(HOURS))],
        alarms=0,
        first=first,
    )
    if kind == "summer closing":
        since = date(2025, int(rng.integers(6, 9)), int(rng.integers(1, 29)))
        spring = date(2025, 3, int(rng.integers(10, 31))), date(2025, 4, int(rng.integers(1, 15)))
        year.closed = ((since, since + timedelta(days=int(rng.integers(20, 50)))), spring)
    if kind == "shifting":
        shifts = []
        for _ in range(rng.integers(1, 4)):
            day = first + timedelta(days=int(rng.integers(10, 350)))
            if rng.random() < 1 / 3:
                turn = date(2025, 3, 30) if rng.random() < 0.5 else date(2025, 10, 26)
                day = turn + timedelta(days=int(rng.integers(-21, 22)))
            more = float(rng.choice([-1.5, -1, -0.5, 0, 0.5, 1, 1.5]))
            less = more if rng.random() < 0.5 else float(rng.choice([-1.5, -1, -0.5, 0, 0.5, 1]))
            shifts.append((day, more, less))
        year.shifts = tuple(sorted(shifts))
    if kind == "half a year":
        year.first = first + timedelta(days=int(rng.integers(0, 200)))
        year.days = 150
    return year


def measured(kind: str, sites: int, seed: int) -> Counter:
    """Count right, open and wrong decisions."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    many = {f"S{number:04d}": drawn(kind, rng) for number in range(sites)}
    events, listed = years(many, seed)
    rules = clocked(events.drop("true"), known(sites=listed), Settings()).rules
    told = dict(rules.select("site", "rule").iter_rows())
    return Counter(
        "open" if told.get(site) is None else "right" if told[site] == year.rule else "wrong"
        for site, year in many.items()
    )


if __name__ == "__main__":
    for one in KINDS:
        print(one, dict(measured(one, 300, 7)))
