"""Scans against brute force, simulation and scipy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, kstest

from eventlab.stats import (
    LEVELS,
    View,
    anchored_scan,
    binomial_tail,
    gain,
    level_p,
    level_scan,
    redrawn,
)


def test_tails_are_those_of_scipy():
    hits, trials = np.meshgrid(np.arange(9), np.arange(8))
    for share in (0.0, 1e-6, 0.03, 0.5, 0.97, 1.0):
        got = binomial_tail(hits, trials, share)
        assert got == pytest.approx(binom.sf(hits - 1, trials, share), abs=1e-14)


def test_the_gain_is_the_likelihood_ratio_of_two_binomials():
    for hits, trials, share in ((5, 8, 0.1), (8, 8, 0.3), (3, 100, 0.01)):
        fitted, given_ = binom.logpmf(hits, trials, [hits / trials, share])
        assert gain(hits, trials, share) == pytest.approx(fitted - given_, rel=1e-9)
    assert gain(1, 10, 0.3) == 0
    assert gain(0, 0, 0.3) == 0


def brute(cells, weights, widths):
    """Look at every window of one group in turn."""
    best = 1.0
    circle = weights.shape[1]
    for i, begin in enumerate(cells):
        if begin < 0:
            continue
        for width in widths:
            window = [(begin + step) % circle for step in range(width)]
            others = [j for j in range(len(cells)) if j != i]
            if not others:
                continue
            mean = np.mean([weights[j, window].sum() for j in others])
            hits = sum(cells[j] in window for j in others)
            best = min(best, binom.sf(hits - 1, len(others), min(mean, 1.0)))
    return best


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 4), st.sampled_from([(1,), (2, 5), (3, 4, 9)]))
def test_the_scan_finds_the_window_that_brute_force_finds(seed, groups, widths):
    draw = np.random.default_rng(seed)
    sizes = draw.integers(1, 7, groups)
    label = np.repeat(np.arange(groups), sizes)
    weights = draw.random((len(label), 12)) * (draw.random((len(label), 12)) < 0.7)
    weights /= np.maximum(weights.sum(axis=1, keepdims=True) * draw.choice([1.0, 1.5]), 1e-9)
    cells = draw.integers(-1, 12, len(label))
    got = anchored_scan(cells, weights, label, widths)
    for group in range(groups):
        here = label == group
        want = brute(cells[here], weights[here], widths)
        assert got.tail[group] == pytest.approx(want, rel=1e-9)


def test_redrawn_chances_are_even_where_nothing_crowds():
    draw = np.random.default_rng(5)
    groups, size, steps = 250, 6, 48
    label = np.repeat(np.arange(groups), size)
    weights = draw.random((groups * size, steps)) ** 3  # uneven, so that no two tails are alike
    weights /= weights.sum(axis=1, keepdims=True)
    cells = np.array([draw.choice(steps, p=row) for row in weights])
    views = [View(np.broadcast_to(np.arange(steps), weights.shape), weights, (2, 6))]
    tails = anchored_scan(cells, weights, label, (2, 6)).tail
    p = redrawn(
        views,
        weights,
        label,
        tails,
        np.ones(groups, dtype=bool),
        np.arange(groups),
        enough=10,
        most=400,
    )
    assert kstest(p, "uniform").pvalue > 1e-3
    assert (p <= np.minimum(1, tails * size * 2) + 0.15).all()


@pytest.mark.parametrize("seed", range(6))
def test_redrawn_chances_are_those_of_scanning_each_draw(seed):
    draw = np.random.default_rng(seed)
    size, steps, circle, most = int(draw.integers(2, 14)), 30, 9, 300
    weights = draw.random((size, steps)) * (draw.random((size, steps)) < 0.6) + 1e-3
    weights /= weights.sum(axis=1, keepdims=True)
    # Two ways to lay the steps: as they are, and on a smaller circle that some lie outside of.
    turned = draw.integers(-1, circle, (size, steps))
    shares = np.zeros((size, circle))
    for row in range(size):
        inside = turned[row] >= 0
        np.add.at(shares[row], turned[row][inside], weights[row][inside])
    plain = np.broadcast_to(np.arange(steps), weights.shape)
    views = [View(plain, weights, (2, 5)), View(turned, shares, (3,))]
    rows, group = np.arange(size), np.zeros(size, dtype=np.int64)

    def tail(step):
        return min(
            anchored_scan(v.cells[rows, step], v.shares, group, v.widths).tail[0] for v in views
        )

    seen = tail(np.full(size, 7) + draw.integers(0, 4, size))
    chance = np.random.Generator(np.random.PCG64(seed)).random((most, size))
    edge = np.cumsum(weights, axis=1)
    hits = done = 0
    while hits < 10 and done < most:
        step = [
            min(np.searchsorted(edge[n], chance[done, n] * edge[n, -1], side="right"), steps - 1)
            for n in range(size)
        ]
        hits, done = hits + (tail(np.array(step)) <= seen * (1 + 1e-9)), done + 1
    want = hits / done if hits >= 10 else (1 + hits) / (1 + done)
    got = redrawn(
        views,
        weights,
        group,
        np.array([seen]),
        np.array([True]),
        np.array([seed]),
        enough=10,
        most=most,
    )
    assert got[0] == want


@pytest.mark.parametrize("number", [4, 9, 30])
def test_levels_are_exact(number):
    draw = np.random.default_rng(number)
    groups = 4000
    got = level_scan(draw.random(groups * number), np.repeat(np.arange(groups), number), groups)
    # The chance of a p so small is the share of groups that show it (simulation).
    for share in (0.01, 0.05, 0.2):
        assert binom.sf((got.p <= share).sum() - 1, groups, share) > 1e-3
    assert kstest(got.p, "uniform", alternative="greater").pvalue > 1e-3
    assert (got.p >= got.tail).all()
    assert (got.p <= len(LEVELS) * got.tail + 1e-12).all()


def test_one_level_would_be_a_plain_binomial():
    # All of n ranks below the lowest level: only the tails of that level and above count, and
    # the chance that any of them is as small is hardly more than its own.
    tail = LEVELS[0] ** 5
    assert level_p([tail], [5])[0] == pytest.approx(tail, rel=0.05)


def test_what_is_not_told_counts_for_nothing():
    got = level_scan([np.nan, np.nan, 0.001, 0.002], [0, 0, 1, 1], 3)
    assert list(got.ranks) == [0, 2, 0]
    assert got.p[0] == got.p[2] == 1
    assert got.p[1] < 0.01
