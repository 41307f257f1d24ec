"""Which pictures of a clip nobody misses, if no other picture is predicted from them."""

from bisect import bisect_left, insort
from collections.abc import Sequence

REMEMBERED = 64  # pictures: more than any codec stores out of their order


class Sparing:
    """Ask for every picture, in the order in which they are stored."""

    def __init__(self, closely_s: Sequence[tuple[float, float]], apart_s: float) -> None:
        """All pictures count from the first to the second of each of ``closely_s``; elsewhere they may lie ``apart_s``
        from each other. [clip time, s]"""
        self._closely_s, self._apart_s = tuple(closely_s), apart_s
        self._staying_s: list[float] = []  # times of the last pictures that must stay, in order

    def may_go(self, time_s: float) -> bool:
        """Whether the pictures before and after this one, of those stored before it, do without it."""
        if not any(start_s <= time_s < stop_s for start_s, stop_s in self._closely_s):
            after = bisect_left(self._staying_s, time_s)
            between = self._staying_s[max(after - 1, 0) : after + 1]
            if len(between) == 2 and between[1] - between[0] <= self._apart_s:
                return True
        insort(self._staying_s, time_s)
        del self._staying_s[:-REMEMBERED]
        return False
