"""How far a share of swings may be off: score intervals, and Fisher's exact test."""

from math import comb, sqrt
from statistics import NormalDist

from balltrack.review.stat import Share


def lower_end(share: Share, surely: float) -> float:
    """The share that is there at least, with so much surety: the lower end of its score interval (Wilson, 1927)."""
    return _wilson(share, 2 * surely - 1)[0]  # a two-sided interval leaves out as much above as below


def difference_of_shares(before: Share, after: Share, level: float) -> tuple[float, float]:
    """Interval of the share ``after`` less that ``before``: two score intervals combined. It holds up where one is 0.

    References
    ----------
    Newcombe, Statistics in Medicine 17 (1998) 873, method 10.
    """
    first_low, first_high = _wilson(before, level)
    last_low, last_high = _wilson(after, level)
    was, now = before.count / before.of, after.count / after.of
    low = now - was - sqrt((now - last_low) ** 2 + (first_high - was) ** 2)
    high = now - was + sqrt((last_high - now) ** 2 + (was - first_low) ** 2)
    return low, high


def chance_of_shares(before: Share, after: Share) -> float:
    """How often swings dealt out anew differ at least so much: Fisher's exact test.

    Of all ways to deal, those in which no more ways lead to the same two counts than to the ones seen.
    """
    counted, ours, theirs = before.count + after.count, before.of, after.of
    counts = range(max(counted - theirs, 0), min(ours, counted) + 1)
    ways = [comb(ours, count) * comb(theirs, counted - count) for count in counts]
    seen = comb(ours, before.count) * comb(theirs, after.count)
    return sum(each for each in ways if each <= seen) / comb(ours + theirs, counted)


def _wilson(share: Share, level: float) -> tuple[float, float]:
    """Score interval of a share: Wilson, Journal of the American Statistical Association 22 (1927) 209."""
    n, z = share.of, NormalDist().inv_cdf(0.5 + 0.5 * level)
    p = share.count / n
    middle = (2 * n * p + z**2) / (2 * (n + z**2))
    reach = z / (2 * (n + z**2)) * sqrt(4 * n * p * (1 - p) + z**2)
    return (0.0 if share.count == 0 else middle - reach, 1.0 if share.count == n else middle + reach)
