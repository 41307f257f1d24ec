"""How far a share of swings may be off, from scipy's score intervals."""

from math import sqrt

from balltrack.review.stat import Share


def lower_end(share: Share, surely: float) -> float:
    """The share that is there at least, with so much surety: the lower end of its score interval (Wilson, 1927)."""
    from scipy.stats import binomtest

    # A two-sided interval leaves out as much above as below.
    return float(binomtest(share.count, share.of).proportion_ci(2 * surely - 1, method="wilson").low)


def difference_of_shares(before: Share, after: Share, level: float) -> tuple[float, float]:
    """Interval of the share ``after`` less that ``before``: two score intervals combined. It holds up where one is 0.

    References
    ----------
    Newcombe, Statistics in Medicine 17 (1998) 873, method 10.
    """
    from scipy.stats import binomtest

    first = binomtest(before.count, before.of).proportion_ci(level, method="wilson")
    last = binomtest(after.count, after.of).proportion_ci(level, method="wilson")
    was, now = before.count / before.of, after.count / after.of
    low = now - was - sqrt((now - last.low) ** 2 + (first.high - was) ** 2)
    high = now - was + sqrt((last.high - now) ** 2 + (was - first.low) ** 2)
    return low, high


def chance_of_shares(before: Share, after: Share) -> float:
    """How often swings dealt out anew differ at least so much (Fisher's exact test, scipy's)."""
    import numpy as np
    from scipy.stats import fisher_exact

    table = np.array([[share.count, share.of - share.count] for share in (before, after)])
    return float(fisher_exact(table).pvalue)
