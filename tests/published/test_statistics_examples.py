"""The bootstrap, the permutation test and the share intervals against examples in print.

Data: Efron & Tibshirani, An Introduction to the Bootstrap, 1993, table 2.1 (mouse survival in days); Student,
Biometrika 6 (1908) 1 (hours of sleep gained by the same ten patients with two drugs); Darwin 1876, as in Fisher, The
Design of Experiments (heights of maize in eighths of an inch, crossed less self-fertilised). Typed from memory; the
printed summaries below confirm them.
"""

import numpy as np
import pytest
from pytest import approx
from scipy.stats import permutation_test

from balltrack.review.quantity import Sample
from balltrack.review.resample import chance_of, difference_interval, interval_of
from balltrack.review.share_interval import difference_of_shares, lower_end
from balltrack.review.stat import Share
from balltrack.units import Floats

TREATED = [94, 197, 16, 38, 99, 141, 23]
CONTROL = [52, 104, 146, 10, 50, 31, 40, 27, 46]
FIRST_DRUG = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SECOND_DRUG = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
MAIZE = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]


def sample(values: list[float] | list[int] | Floats) -> Sample:
    """Values without errors of their own, as the examples have them."""
    return Sample(np.array(values, dtype=np.float64), np.zeros(len(values)), tuple(range(1, len(values) + 1)))


def test_the_mice_live_30_days_longer_give_or_take_29() -> None:
    # Efron & Tibshirani, table 2.1: 30.63 days, standard error 28.93. 5 %: that is three times what 4999 resamples
    # leave open (1 % each sd) and a little.
    assert np.mean(TREATED) - np.mean(CONTROL) == approx(30.63, abs=0.005)
    found = difference_interval(sample(CONTROL), sample(TREATED), np.mean)
    assert found.standard_error == approx(28.93, rel=0.05)
    assert found.low < 0 < found.high  # "not significant", section 2.1


def test_the_mice_dealt_out_anew_differ_as_much_in_13_of_100() -> None:
    # Efron & Tibshirani, section 15.2: 132 of 1000 permutations, one-sided (from memory); its own chance error is
    # sqrt(0.132 x 0.868 / 1000) = 0.011. Ours counts both sides.
    assert chance_of(sample(CONTROL), sample(TREATED), np.mean) / 2 == approx(0.132, abs=2 * 0.011)


def test_sleep_gained_lies_where_student_says() -> None:
    # t interval of the ten differences at 95 %: 0.7001 to 2.4599 (R, help page of "sleep"). One patient's 4.6 hours
    # skews the bootstrap upward, as it should: ends within a fifth of the interval's width (0.35 h).
    gained = np.array(SECOND_DRUG) - np.array(FIRST_DRUG)
    assert np.mean(gained) / np.std(gained, ddof=1) * np.sqrt(10) == approx(4.0621, abs=1e-4)
    found = interval_of(sample(gained), np.mean, level=0.95)
    assert (found.low, found.high) == approx((0.7001, 2.4599), abs=0.35)
    assert found.low > 0


def test_two_drugs_as_if_given_to_two_groups_are_not_told_apart() -> None:
    # Welch: p = 0.0794, 95 % from -0.2055 to 3.3655 (R, t.test(extra ~ group, data = sleep), from memory). The
    # permutation test shares no assumption with it but the data: 0.01. Ends: a tenth of the width, 0.36 h.
    assert chance_of(sample(FIRST_DRUG), sample(SECOND_DRUG), np.mean) == approx(0.0794, abs=0.01)
    found = difference_interval(sample(FIRST_DRUG), sample(SECOND_DRUG), np.mean, level=0.95)
    assert (found.low, found.high) == approx((-0.2055, 3.3655), abs=0.36)


def test_darwins_maize_is_at_the_edge_of_95_per_cent() -> None:
    # Sum 314, t = 2.14799, p = 0.0497 two-sided. By hand from the t table (2.1448, 14 degrees of freedom): 20.933 -+
    # 2.1448 x 9.7456 eighths, 0.03 to 41.84. Two plants far below skew the bootstrap; a tenth of the width, 4.2.
    assert (sum(MAIZE), len(MAIZE)) == (314, 15)
    found = interval_of(sample(MAIZE), np.mean, level=0.95)
    assert (found.low, found.high) == approx((0.03, 41.84), abs=4.2)


def test_scipys_permutation_test_counts_darwins_863_of_32768() -> None:
    # Fisher's count: 863 of 32768 one-sided, 1726 two-sided. This checks the library that chance_of calls.
    def mean(values: Floats, axis: int) -> Floats:
        return np.asarray(np.mean(values, axis=axis))

    for side, count in (("greater", 863), ("two-sided", 1726)):
        found = permutation_test(
            (np.array(MAIZE, dtype=np.float64),),
            mean,
            permutation_type="samples",
            vectorized=True,
            n_resamples=np.inf,
            alternative=side,  # type: ignore[call-overload]  # a name of two, in a loop
            axis=-1,
        )
        assert found.pvalue == approx(count / 32768, abs=1e-9)


@pytest.mark.parametrize(
    ("after", "before", "low", "high"),
    [  # Newcombe 1998, table II, method 10, 95 % (from memory)
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
    ],
)
def test_shares_differ_as_newcombe_prints(
    after: tuple[int, int], before: tuple[int, int], low: float, high: float
) -> None:
    shares = [Share("", tuple(range(count)), of) for count, of in (before, after)]
    assert difference_of_shares(shares[0], shares[1], 0.95) == approx((low, high), abs=5e-5)


def test_a_share_is_at_least_what_its_score_interval_says() -> None:
    # Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3: 81 of 263, 95 %: 0.2553 (from memory).
    assert lower_end(Share("", tuple(range(81)), 263), 0.975) == approx(0.2553, abs=5e-5)
