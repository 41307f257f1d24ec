"""Shares of few swings: intervals and chances are scipy's."""

from itertools import product

import numpy as np
import pytest
from pytest import approx

from balltrack.review.share_interval import chance_of_shares, difference_of_shares, lower_end
from balltrack.review.stat import Share

SHARES = [Share("misses", tuple(range(count)), of) for count, of in ((0, 1), (0, 9), (3, 9), (7, 7), (12, 40))]


@pytest.mark.parametrize("share", SHARES)
def test_a_share_is_at_least_what_scipys_one_sided_score_interval_says(share: Share) -> None:
    from scipy.stats import binomtest

    expected = binomtest(share.count, share.of, alternative="greater").proportion_ci(0.95, method="wilson").low
    assert lower_end(share, 0.95) == approx(expected, abs=1e-12)  # rounding


def test_chances_are_those_of_scipys_exact_test() -> None:
    from scipy.stats import fisher_exact

    for before, after in product(SHARES, SHARES):
        table = np.array([[share.count, share.of - share.count] for share in (before, after)])
        assert chance_of_shares(before, after) == approx(fisher_exact(table).pvalue, abs=1e-12)  # rounding


def test_a_difference_of_shares_lies_where_newcombe_says() -> None:
    # Source: Newcombe (1998), table II, method 10: 56/70 less 48/80 is 0.0524 to 0.3339 at 0.95 (from memory).
    before, after = Share("misses", tuple(range(48)), 80), Share("misses", tuple(range(56)), 70)
    assert difference_of_shares(before, after, 0.95) == approx((0.0524, 0.3339), abs=5e-5)
