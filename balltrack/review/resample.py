"""How far a number of some swings may be off: scipy's bootstrap and permutation test, set up for measured swings."""

from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

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

    Swings are drawn again with replacement, ``RESAMPLES`` times (scipy's bootstrap, percentiles). Honest for three
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
    from scipy.stats import permutation_test

    def difference(first: Floats, second: Floats, axis: int) -> Any:
        return statistic(second, axis=axis) - statistic(first, axis=axis)

    found = permutation_test(
        (before.values, after.values), difference, vectorized=True, n_resamples=RESAMPLES, axis=-1, rng=_generator()
    )
    return float(found.pvalue)


def _generator() -> np.random.Generator:
    return np.random.default_rng(SEED)


def _bootstrap(samples: tuple[Sample, ...], statistic: Statistic, shared: bool, level: float) -> Interval:
    from scipy.stats import bootstrap

    errors = np.random.default_rng(SEED + 1)
    models = [_Swinger(sample, statistic, shared) for sample in samples]

    def told(*rows: Floats, axis: int) -> Any:
        values = [statistic(model.draw(each, errors), axis=axis) for model, each in zip(models, rows, strict=True)]
        return values[-1] - values[0] if len(values) > 1 else values[0]

    found = bootstrap(
        tuple(np.arange(len(sample.values)) for sample in samples),
        told,
        vectorized=True,
        n_resamples=RESAMPLES,
        axis=-1,
        confidence_level=_wider(samples, level),
        method="percentile",
        rng=_generator(),
    )
    low, high = (float(end) for end in found.confidence_interval)
    return Interval(low, high, float(found.standard_error))


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

    def draw(self, rows: Floats, errors: np.random.Generator) -> Floats:
        """Values of the swings ``rows`` (…, n), each with new errors."""
        places = rows.astype(np.int64)
        own = self.own_sds[places] * errors.standard_normal(places.shape)
        return np.asarray(self.values[places] + own + self.shared_sd * errors.standard_normal((*places.shape[:-1], 1)))


def _wider(samples: tuple[Sample, ...], level: float) -> float:
    """The level at which a normal distribution reaches as far as Student's t does at ``level``."""
    from scipy.stats import norm, t

    parts = [float(np.var(sample.values, ddof=1)) / len(sample.values) for sample in samples]
    if sum(parts) == 0:
        freedom: float = min(len(sample.values) for sample in samples) - 1
    else:
        below = sum(part**2 / (len(sample.values) - 1) for part, sample in zip(parts, samples, strict=True))
        freedom = sum(parts) ** 2 / below
    return float(2 * norm.cdf(t.ppf(0.5 + level / 2, freedom)) - 1)
