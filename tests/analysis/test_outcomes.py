"""Recorded outcomes beside their alarms, and what is learned from them."""

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest

from eventlab.analysis import CAUSE_ORDER, Known, base_rates, learn, matched, probabilities, unseen
from eventlab.analysis import outcomes as uses
from eventlab.schema import CALIBRATION, OUTCOME, Cause, conform, empty
from tests.analysis.standing import SETTINGS, context, ground, nights

KNOWN = context("1 entry front door", "2 interior hall", "3 perimeter door", "9 fire smoke")
LOG = (
    "2025-01-10 02:00:00 intrusion-alarm zone=2",
    "2025-01-11 02:00:00 intrusion-alarm zone=2\n2025-01-11 03:00:00 intrusion-alarm zone=3",
    "2025-01-12 02:00:00 fire zone=9",
    "2025-01-14 07:58:00 entry-exit-alarm zone=1\n2025-01-14 07:58:30 disarm person=2",
)


def use(*rows):
    frame = conform(
        pl.DataFrame(
            [
                {"site": "S1", "at": datetime.fromisoformat(at).replace(tzinfo=UTC),
                 "outcome": outcome, **more}
                for at, outcome, more in rows
            ]
        ),
        OUTCOME,
    )  # fmt: skip
    laid = ground(nights(40), *LOG, known=KNOWN)
    return matched(laid.episodes, frame, SETTINGS).select("cause", "use").rows()


def test_an_outcome_is_of_the_alarm_nearest_to_it():
    assert use(("2025-01-10 02:40", "Sun on detector", {})) == [("environment", uses.LEARNED)]
    assert use(("2025-01-10 14:00", "Sun on detector", {}))[0][1] == uses.NO_ALARM
    assert use(("2025-01-10 02:00", "whatever", {}))[0][1] == uses.NOT_KNOWN
    assert use(("2025-01-10 02:00", None, {}))[0][1] == uses.NOT_TOLD
    assert use(("2025-01-12 02:00", "Faulty contact", {}))[0][1] == uses.LIFE


def test_one_outcome_of_each_night_is_learned_from():
    told = use(("2025-01-11 02:03", "Spider", {}), ("2025-01-11 03:01", "Spider", {}))
    assert [one for _, one in told] == [uses.SAME_NIGHT, uses.LEARNED]


def test_what_only_repeats_a_suggestion_teaches_nothing():
    same = {"suggested": "environment"}
    assert use(("2025-01-10 02:00", "spider", same))[0][1] == uses.REPEATS
    assert use(("2025-01-10 02:00", "burglary", same))[0][1] == uses.LEARNED
    seen = {**same, "found": "web in the lens"}
    assert use(("2025-01-10 02:00", "spider", seen))[0][1] == uses.LEARNED
    went = {**same, "attended": True}
    assert use(("2025-01-10 02:00", "spider", went))[0][1] == uses.LEARNED


def test_a_person_came_or_went_as_the_log_tells():
    assert use(("2025-01-14 07:58", "User error", {})) == [("person-entering", uses.LEARNED)]
    assert use(("2025-01-10 02:00", "User error", {})) == [(None, uses.NOT_KNOWN)]


def known(many, *, sites=40, sharp=1.0, seed=3):
    """Draw nights whose evidence is right by a factor: 2 where it tells half of what it could."""
    random = np.random.default_rng(seed)
    shares = base_rates()
    evidence = random.normal(0, 1.5, (many, len(shares)))
    score = np.log(shares) + evidence
    part = np.exp(sharp * score - (sharp * score).max(axis=1, keepdims=True))
    part /= part.sum(axis=1, keepdims=True)
    cause = np.array([random.choice(len(shares), p=row) for row in part])
    return Known(evidence, np.zeros(many, dtype=bool), cause, random.integers(1, sites + 1, many))


def test_few_outcomes_move_base_rates_only():
    some = known(12)
    taught = learn(some, SETTINGS)
    assert taught.columns == list(CALIBRATION)
    told = np.bincount(some.cause, minlength=len(CAUSE_ORDER))
    # mean of a Dirichlet that begins at the table with its weight
    weight = SETTINGS.outcome_weight
    mean = (weight * base_rates() + told) / (weight + 12)
    assert taught["share"].to_list() == pytest.approx(mean.tolist())
    assert set(taught["slope"]) == {1.0}
    assert set(taught["shift"]) == {0.0}
    assert set(taught["outcomes"]) == {12}
    assert learn(some.some(np.zeros(0, dtype=int)), SETTINGS).is_empty()


def test_evidence_that_tells_too_little_is_made_steeper_and_right_evidence_is_left():
    steep = learn(known(180, sharp=2.0), SETTINGS)
    assert steep["slope"].n_unique() == 1
    assert steep["slope"][0] > 1.3
    assert learn(known(180), SETTINGS)["slope"][0] == pytest.approx(1, abs=0.3)


def test_outcomes_of_one_site_only_move_base_rates():
    taught = learn(known(100, sites=1, sharp=2.0), SETTINGS)
    assert set(taught["slope"]) == {1.0}
    told, usual = unseen(known(100, sites=1), SETTINGS)
    assert np.isnan(told).all()
    assert np.isnan(usual).all()


def test_each_night_is_told_from_other_sites():
    some = known(120, sharp=2.0)
    told, usual = unseen(some, SETTINGS)
    assert told.sum(axis=1) == pytest.approx(1)
    assert usual.sum(axis=1) == pytest.approx(1)
    # what one site says of its own nights changes nothing of what is told of them
    first = some.site == some.site[0]
    other = Known(
        some.evidence, some.prompt, np.where(first, (some.cause + 1) % 10, some.cause), some.site
    )
    again, _ = unseen(other, SETTINGS)
    assert again[first] == pytest.approx(told[first])


def test_floors_hold_and_the_ceiling_gives_way_to_outcomes_alone():
    place = CAUSE_ORDER.index(Cause.ENVIRONMENT)
    evidence = np.full((2, len(CAUSE_ORDER)), -20.0)
    evidence[:, place] = 20.0
    prompt = np.array([True, False])
    none = probabilities(evidence, prompt, empty(CALIBRATION), SETTINGS)
    many = probabilities(evidence, prompt, learn(known(300), SETTINGS), SETTINGS)
    weight = SETTINGS.outcome_weight
    for told, floor in ((none, 1), (many, weight / (weight + 300))):
        assert told.sum(axis=1) == pytest.approx(1)
        unexplained = told[:, CAUSE_ORDER.index(Cause.UNEXPLAINED)]
        assert (unexplained >= floor * SETTINGS.unexplained_floor - 1e-12).all()
        assert told[1, CAUSE_ORDER.index(Cause.INTRUSION)] >= SETTINGS.intrusion_floor - 1e-12
    assert none.max() <= SETTINGS.certain_ceiling
