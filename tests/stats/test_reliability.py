"""How far told probabilities are from what came true; beside scikit-learn."""

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss

from eventlab.stats import bins, brier, calibration_error, calibration_interval


def test_brier_is_that_of_scikit_learn():
    random = np.random.default_rng(1)
    told = random.dirichlet(np.ones(4), 200)
    true = random.integers(0, 4, 200)
    theirs = brier_score_loss(true, told, labels=range(4), scale_by_half=False)
    assert brier(told, true) == pytest.approx(theirs)


def test_brier_of_1950_by_hand():
    # Brier 1950: sum over the classes, mean over the occasions; always sure and wrong is 2
    assert brier(np.array([[1.0, 0.0]]), np.array([1])) == 2
    assert brier(np.array([[0.7, 0.3], [0.0, 1.0]]), np.array([0, 1])) == pytest.approx(0.09)
    assert np.isnan(brier(np.zeros((0, 2)), np.zeros(0, dtype=int)))


def test_bins_are_of_equal_number_and_the_error_is_their_distance():
    told = np.repeat([0.2, 0.8], 50)
    true = np.array([True] * 10 + [False] * 40 + [True] * 30 + [False] * 20)
    part = bins(told, true, 2)
    assert part.told.tolist() == pytest.approx([0.2, 0.8])
    assert part.true.tolist() == pytest.approx([0.2, 0.6])
    assert part.count.tolist() == [50, 50]
    assert calibration_error(told, true, 2) == pytest.approx(0.1)
    assert bins(told[:3], true[:3]).count.sum() == 3
    assert np.isnan(calibration_error(told[:0], true[:0]))


def test_true_probabilities_have_a_small_error_and_groups_widen_its_interval():
    random = np.random.default_rng(2)
    told = random.random(4000)
    true = random.random(4000) < told
    assert calibration_error(told, true) < 0.03
    alone = calibration_interval(told, true, np.arange(4000), redrawn=100)
    # all of a group come true or none: fewer pieces of evidence
    group = np.repeat(np.arange(80), 50)
    shared = random.random(80)[group] < told
    together = calibration_interval(told, shared, group, redrawn=100)
    assert together[1] - together[0] > alone[1] - alone[0]
