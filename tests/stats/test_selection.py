"""Families selected first, and judged more strictly inside."""

import numpy as np
import pytest

from eventlab.stats import adjusted, selected_bar


def test_worked_by_hand():
    # Ten families; Simes values .001, .004, .2: at 0.05 the second is at 2/10 * .05 = .01: two
    # are selected, and inside each the bar is .05 * 2/10 (Benjamini and Bogomolov 2014).
    assert selected_bar([0.001, 0.004, 0.2], 10, 0.05) == pytest.approx(0.01)
    assert selected_bar([0.02], 1, 0.05) == pytest.approx(0.05)
    assert selected_bar([0.02], 100, 0.05) == 0
    assert selected_bar([], 100, 0.05) == 0


def test_the_smallest_adjusted_value_is_that_of_simes():
    draw = np.random.default_rng(1)
    for _ in range(20):
        p = draw.random(9)
        simes = (np.sort(p) * 9 / np.arange(1, 10)).min()
        assert adjusted(p).min() == pytest.approx(simes)


def test_few_are_selected_where_nothing_is_found():
    draw = np.random.default_rng(2)
    shown = [
        selected_bar(
            adjusted(draw.random((200, 20)).ravel(), np.repeat(np.arange(200), 20))
            .reshape(200, 20)
            .min(axis=1),
            200,
            0.05,
        )
        > 0
        for _ in range(200)
    ]
    assert np.mean(shown) < 0.1
