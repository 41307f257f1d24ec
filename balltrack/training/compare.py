"""Old weights against new on the same patches: which finds more balls and less of what is none, and how surely."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.network import Network
from balltrack.training.example import Example, judge, look
from balltrack.units import Floats

DRAWS = 2000
SURE = 0.95  # of so many draws the new weights must be better in this share


@dataclass(frozen=True, slots=True, eq=False)
class Tally:
    """What a detector found, one row a patch."""

    balls: NDArray[np.int_]  # (n,) 1 where the patch shows a ball
    found: NDArray[np.int_]  # (n,) 1 where it was found
    false: NDArray[np.int_]  # (n,) finds that are no ball

    @property
    def recall(self) -> float:
        """Share of the balls that were found."""
        return float(self.found.sum() / max(self.balls.sum(), 1))

    @property
    def false_a_patch(self) -> float:
        """Finds that are no ball, for each patch."""
        return float(self.false.sum() / max(len(self.false), 1))

    @property
    def f1(self) -> float:
        """Harmonic mean of recall and precision."""
        return float(_f1(self.balls.sum(), self.found.sum(), self.false.sum()))


def tally(network: Network, examples: Sequence[Example]) -> Tally:
    """Look at every example."""
    finds = look(network, [example.frames for example in examples])
    judged = [judge(example.box_px, each) for example, each in zip(examples, finds, strict=True)]
    return Tally(
        balls=np.array([len(example.box_px) for example in examples], dtype=np.int_),
        found=np.array([np.isfinite(error) for error, _ in judged], dtype=np.int_),
        false=np.array([false for _, false in judged], dtype=np.int_),
    )


def share_better(old: Tally, new: Tally, swing: Sequence[int], seed: int) -> float:
    """In what share of draws the new weights' F1 is higher.

    Each draw takes swings with replacement and then patches of each with replacement: frames of one swing are alike,
    and count as less than as many frames of several.

    Parameters
    ----------
    old, new : Tally
        Of the same patches.
    swing : sequence of int
        (n,) the swing of each patch.
    seed : int
        Of the draws.
    """
    rng = np.random.default_rng(seed)
    rows = np.stack([old.balls, old.found, old.false, new.found, new.false], axis=1)
    names = np.asarray(swing)
    by_swing = [rows[names == name] for name in np.unique(names)]
    better = 0
    for _ in range(DRAWS):
        drawn = [by_swing[k] for k in rng.integers(len(by_swing), size=len(by_swing))]
        total = sum((part[rng.integers(len(part), size=len(part))].sum(axis=0) for part in drawn), np.zeros(5))
        better += bool(_f1(total[0], total[3], total[4]) > _f1(total[0], total[1], total[2]))
    return better / DRAWS


def is_better(share: float) -> bool:
    """Whether new weights are to be taken, by ``share_better``."""
    return share >= SURE


def _f1(balls: float, found: float, false: float) -> Floats:
    return np.asarray(2 * found / max(balls + found + false, 1))
