"""How far a number of some swings may be off: bootstrap and permutation test, set up for measured swings.

Both are written out: to load scipy.stats for them takes longer than all that a review asks of them. They give what
scipy's give, from the same seed.
"""

from dataclasses import dataclass
from itertools import combinations
from math import comb, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from balltrack.review.quantity import Sample, Statistic
from balltrack.units import Floats

LEVEL = 0.9  # nine in ten, as everywhere
RESAMPLES = 4999  # the ends of an interval move by about 2 % of its width from seed to seed
SEED = 20240601  # any fixed number: the same swings give the same interval


@dataclass(frozen=True, slots=True)
class Interval:
    """Where a number is likely to lie, and its standard error."""

    low: float
    high: float
    standard_error: float


def interval_of(sample: Sample, statistic: Statistic, shared: bool = False, level: float = LEVEL) -> Interval:
    """Interval of a statistic of one sample; see `difference_interval`."""
    return _bootstrap((sample,), statistic, shared, level)


def difference_interval(
    before: Sample, after: Sample, statistic: Statistic, shared: bool = False, level: float = LEVEL
) -> Interval:
    """Interval of the statistic of ``after`` less that of ``before``.

    Swings are drawn again with replacement, ``RESAMPLES`` times (bootstrap, percentiles). Honest for three
    reasons:

    - Each value drawn again gets a normal error of its own swing's sd. The values seen hold one such error already,
      so before that they are drawn together about their centre until spread and errors make up the spread that was
      seen, and no error counts twice. Where the swings agree better than their errors allow, the errors stay: five
      vague swings that happen to agree are still vague.
    - Few swings show too little of a player's spread. It is enlarged by sqrt(n / (n - 1)), and the percentiles are
      taken as much further out as Student's t is wider than the normal distribution (Welch's degrees of freedom).
      Bias-corrected intervals (BCa) need a statistic without chance in it, so they cannot carry the errors.
    - With ``shared``, part of the errors strikes all swings of a sample alike, as another day's camera does: it does
      not shrink with more swings. It can be no larger than the smallest sd in the sample, and is taken as that large.

    Parameters
    ----------
    before, after : Sample
        Two or more values each.
    statistic : function
        (values, axis=…), as numpy.median.
    shared : bool
        True between lessons, each with its own camera. Within one lesson what the swings share cancels.
    level : float

    References
    ----------
    Efron & Tibshirani, An Introduction to the Bootstrap, 1993, chapters 6, 8 and 13; Hesterberg, The American
    Statistician 69 (2015) 371, section 3.3, for the wider percentiles (citation from memory).
    """
    return _bootstrap((before, after), statistic, shared, level)


def chance_of(before: Sample, after: Sample, statistic: Statistic) -> float:
    """How often swings dealt out anew to two such groups differ at least so much, either way (permutation test).

    Exact where there are at most ``RESAMPLES`` ways to deal, else from so many dealt at random.
    """
    seen = _difference(before.values, after.values, statistic)
    count, total = len(before.values), len(before.values) + len(after.values)
    exact = comb(total, count) <= RESAMPLES
    dealt = np.concatenate([before.values, after.values])[_all_deals(count, total) if exact else _some_deals(total)]
    differences = _difference(dealt[:, :count], dealt[:, count:], statistic)
    slack = abs(1e2 * np.finfo(np.float64).eps * seen)  # the same swings summed in another order
    as_low, as_high = np.sum(differences <= seen + slack), np.sum(differences >= seen - slack)
    itself = 0 if exact else 1  # the deal that was seen is one more
    return min(2 * float(min(as_low, as_high) + itself) / (len(dealt) + itself), 1.0)


def _difference(first: Floats, second: Floats, statistic: Statistic) -> Any:
    return statistic(second, axis=-1) - statistic(first, axis=-1)


def _all_deals(count: int, total: int) -> NDArray[np.intp]:
    """(ways, total) places of the swings: first those of a group of ``count``, then the others."""
    first = np.array(list(combinations(range(total), count)))
    others = np.ones((len(first), total), dtype=bool)
    np.put_along_axis(others, first, False, axis=1)
    return np.concatenate([first, np.nonzero(others)[1].reshape(len(first), -1)], axis=1)


def _some_deals(total: int) -> NDArray[np.intp]:
    rng = _generator()
    return np.array([rng.permutation(total) for _ in range(RESAMPLES)])


def _generator() -> np.random.Generator:
    return np.random.default_rng(SEED)


def _bootstrap(samples: tuple[Sample, ...], statistic: Statistic, shared: bool, level: float) -> Interval:
    redraw, errors = _generator(), np.random.default_rng(SEED + 1)
    told = []
    for sample in samples:
        count = len(sample.values)
        drawn = _Swinger(sample, statistic, shared).draw(redraw.integers(0, count, (RESAMPLES, count)), errors)
        told.append(statistic(drawn, axis=-1))
    found = told[-1] - told[0] if len(told) > 1 else told[0]
    outside = (1 - _wider(samples, level)) / 2
    low, high = (float(end) for end in np.quantile(found, [outside, 1 - outside]))
    return Interval(low, high, float(np.std(found, ddof=1)))


class _Swinger:
    """A sample as it might have come out, had the same player swung and been measured again."""

    def __init__(self, sample: Sample, statistic: Statistic, shared: bool) -> None:
        count, values = len(sample.values), sample.values
        self.shared_sd = float(sample.sds.min()) if shared else 0.0
        self.own_sds = np.sqrt(sample.sds**2 - self.shared_sd**2)
        seen = float(np.var(values, ddof=1))
        of_player = max(seen - float(np.mean(self.own_sds**2)), 0.0)
        share = sqrt(of_player / seen * count / (count - 1)) if seen > 0 else 0.0
        centre = np.median(values) if statistic is np.median else np.mean(values)
        self.values = centre + share * (values - centre)

    def draw(self, places: NDArray[np.int64], errors: np.random.Generator) -> Floats:
        """Values of the swings at ``places`` (…, n), each with new errors."""
        own = self.own_sds[places] * errors.standard_normal(places.shape)
        return np.asarray(self.values[places] + own + self.shared_sd * errors.standard_normal((*places.shape[:-1], 1)))


def _wider(samples: tuple[Sample, ...], level: float) -> float:
    """The level at which a normal distribution reaches as far as Student's t does at ``level``."""
    from scipy.special import ndtr, stdtrit

    parts = [float(np.var(sample.values, ddof=1)) / len(sample.values) for sample in samples]
    if sum(parts) == 0:
        freedom: float = min(len(sample.values) for sample in samples) - 1
    else:
        below = sum(part**2 / (len(sample.values) - 1) for part, sample in zip(parts, samples, strict=True))
        freedom = sum(parts) ** 2 / below
    return float(2 * ndtr(stdtrit(freedom, 0.5 + level / 2)) - 1)
