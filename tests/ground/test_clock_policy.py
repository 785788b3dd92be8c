"""The rule of a clock is decided by evidence, left open where there is none, seldom wrong.

Measured on 300 years of each kind (seed 7, ``python -m tests.ground.policy``).
"""

import pytest
from scipy.stats import binom

from tests.ground.policy import measured

RIGHT_AT_LEAST = {"steady": 0.95, "summer closing": 0.85, "shifting": 0.8, "half a year": 0.4}


@pytest.mark.parametrize("kind", list(RIGHT_AT_LEAST))
def test_what_is_decided_is_right(kind):
    sites = 60
    counts = measured(kind, sites, seed=11)
    # At most one in a hundred is wrong; more than chance would show of that contradicts it.
    assert binom.sf(counts["wrong"] - 1, sites, 0.01) > 1e-3 or counts["wrong"] == 0
    assert binom.cdf(counts["right"], sites, RIGHT_AT_LEAST[kind]) > 1e-3
