"""Over how much of a window a place is armed on comparable days, against a count by half hours."""

from datetime import datetime, timedelta

import numpy as np
import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.analysis.habits.compare import armed_over, summed
from eventlab.settings import Settings

FIRST = datetime.fromisoformat("2026-01-05")
DAYS, STEP_MIN = 100, 30
STEPS = 24 * 60 // STEP_MIN
SETTINGS = Settings()
STEP = timedelta(minutes=STEP_MIN)
UNKNOWN, UNARMED, ARMED = -1, 0, 1


@st.composite
def _places(draw: st.DrawFn) -> list[np.ndarray]:
    """Draw the state of two places in each half hour: closed at night, now and then otherwise."""
    seed = draw(st.integers(0, 2**32 - 1))
    random = np.random.default_rng(seed)
    places = []
    for _ in range(2):
        state = np.full((DAYS, STEPS), ARMED)
        for day in state:
            if random.random() < 0.8:
                opened, shut = random.integers(12, 20), random.integers(30, 46)
                day[opened:shut] = UNARMED
            if random.random() < 0.1:
                day[: random.integers(1, STEPS)] = UNKNOWN
        places.append(state.ravel())
    return places


def _state(places: list[np.ndarray]) -> pl.DataFrame:
    rows = []
    for k, state in enumerate(places):
        edges = np.flatnonzero(np.diff(state)) + 1
        for first, last in zip([0, *edges], [*edges, state.size], strict=True):
            if state[first] != UNKNOWN:
                rows.append((k, FIRST + first * STEP, FIRST + last * STEP, state[first] == ARMED))
    schema = {"k": pl.Int64, "since_w": pl.Datetime("us"), "until_w": pl.Datetime("us")}
    return pl.DataFrame(rows, schema={**schema, "armed": pl.Boolean}, orient="row")


def _counted(
    window: dict, places: list[np.ndarray], free: dict, *, days: bool, open_first: bool
) -> list[float]:
    """Measure a window on each comparable day, one half hour after the other."""
    start, stop = ((window[end] - FIRST) // STEP for end in ("start", "stop"))
    own = [(window[end] - FIRST) // STEP for end in ("own_since", "own_until")]
    state, holidays = places[window["k"]], free.get(window["k"], set())
    day = window["start"].date()
    weeks = [7 * n for n in range(1, round(SETTINGS.habit_weeks) + 1)]
    near = [1, 2, 3, 4, 5, 6] if days else weeks
    plain = [sign * step for step in near for sign in (-1, 1)]
    plain = [step for step in plain if day + timedelta(days=step) not in holidays]
    special = [(other - day).days for other in holidays if other != day]

    def measured(steps: list[int]) -> list[float]:
        told = []
        for step in steps:
            low, high = start + step * STEPS, stop + step * STEPS
            apart = high <= own[0] or low >= own[1]
            part = state[max(low, 0) : max(high, 0)]
            known = part.size == stop - start and (part != UNKNOWN).all()
            if apart and known and not (open_first and part[0] == ARMED):
                told.append((part == ARMED).sum() * STEP_MIN / 60)
        return told

    if days or day not in holidays:
        told = measured(plain)
        first = measured([step for step in plain if abs(step) <= 14])
        dull = first and max(first) < window["least_h"]
        return [] if dull and not days else told
    others = measured(special)
    return others if len(others) >= SETTINGS.habit_days_min else measured(plain)


@given(_places(), st.data(), st.booleans(), st.booleans())
@settings(max_examples=40, deadline=None)
def test_comparable_days_are_those_that_a_person_would_count(
    places: list[np.ndarray], data: st.DataObject, days: bool, open_first: bool
) -> None:
    windows = []
    for number in range(12):
        first = data.draw(st.integers(0, DAYS * STEPS - 40))
        long, back = data.draw(st.integers(1, 24)), data.draw(st.integers(0, 20))
        start, stop = FIRST + first * STEP, FIRST + (first + long) * STEP
        k, least = data.draw(st.integers(0, 1)), data.draw(st.sampled_from([0.25, 1.0, 2.5]))
        windows.append((number, k, start, stop, start - back * STEP, stop, least))
    names = ("window", "k", "start", "stop", "own_since", "own_until", "least_h")
    asked = pl.DataFrame(windows, schema=names, orient="row").cast({"window": pl.UInt32})
    many = data.draw(st.sampled_from([0, 3, 12]))
    dates = data.draw(st.lists(st.integers(0, DAYS - 1), min_size=many, max_size=many, unique=True))
    free = {0: {(FIRST + timedelta(days=n)).date() for n in dates}}
    schema = {"k": pl.Int64, "date": pl.Date}
    holidays = pl.DataFrame([(0, day) for day in sorted(free[0])], schema=schema, orient="row")
    got = armed_over(
        asked, summed(_state(places)), holidays, SETTINGS, days=days, open_first=open_first
    )
    want = {}
    for window in asked.to_dicts():
        told = _counted(window, places, free, days=days, open_first=open_first)
        if len(told) >= SETTINGS.habit_days_min:
            low, high = (
                np.quantile(told, 0.25, method="lower"),
                np.quantile(told, 0.75, method="higher"),
            )
            alike = sum(hours < window["least_h"] for hours in told)
            want[window["window"]] = (len(told), low, np.median(told), high, alike)
    assert {row[0]: row[1:] for row in got.rows()} == want


def test_nothing_is_usual_where_nothing_is_known() -> None:
    schema = {"k": pl.Int64, "date": pl.Date}
    asked = pl.DataFrame(
        {
            "window": pl.Series([0], dtype=pl.UInt32),
            "k": [0],
            "start": [FIRST],
            "stop": [FIRST + STEP],
            "own_since": [FIRST],
            "own_until": [FIRST + STEP],
            "least_h": [0.25],
        }
    )
    nothing = pl.DataFrame(schema=schema)
    state = _state([np.full(4, UNKNOWN)])
    assert armed_over(asked, summed(state), nothing, SETTINGS).is_empty()
