"""Events closer together than chance: against scipy, and by simulation."""

import numpy as np
import pytest
from scipy.stats import beta, combine_pvalues

from eventlab.stats import combined, span_chance


@pytest.mark.parametrize("count", [2, 3, 6, 20])
def test_the_range_of_even_draws_is_beta(count):
    x = np.linspace(0, 1, 21)
    np.testing.assert_allclose(span_chance(12 * x, count, 12.0), beta.cdf(x, count - 1, 2))


@pytest.mark.parametrize("count", [2, 3])
def test_the_first_of_twice_as_many_stay_below_the_bound(count):
    random = np.random.default_rng(5)
    drawn = np.sort(random.random((20_000, 2 * count)))
    span = drawn[:, count - 1] - drawn[:, 0]
    for x in (0.01, 0.03, 0.1):
        assert (span <= x).mean() <= span_chance(x, count, 1.0, cut=True) + 0.003


def test_one_event_lies_together_with_itself():
    assert span_chance(0, 1, 5) == 1
    assert span_chance(9, 2, 5) == 1


def test_the_combination_is_fishers():
    random = np.random.default_rng(2)
    p, group = random.random(30), np.repeat([4, 1, 9], 10)
    names, got = combined(p, group)
    assert names.tolist() == [1, 4, 9]
    for name, value in zip(names, got, strict=True):
        assert value == pytest.approx(combine_pvalues(p[group == name]).pvalue)
