"""Old against new: counts by hand, and a difference counts only where it is no accident."""

import numpy as np
from pytest import approx

from balltrack.detect.network import Finds, Network
from balltrack.training.compare import Tally, is_better, share_better, tally
from balltrack.training.example import Example

SWINGS = [k // 10 for k in range(60)]  # six swings of ten patches


def of(found: list[int], false: list[int] | None = None) -> Tally:
    """A ball in every patch."""
    return Tally(np.ones(len(found), int), np.array(found), np.array(false or [0] * len(found)))


class Saying(Network):
    """Finds what it was told, patch by patch."""

    def __init__(self, boxes: list[list[tuple[float, float, float, float]]]) -> None:
        self._boxes = iter(boxes)

    def look(self, patches: np.ndarray, least_score: float = 0.25) -> list[Finds]:
        said = [next(self._boxes) for _ in patches]
        return [Finds(np.array(boxes, float).reshape(-1, 4), np.full(len(boxes), 0.9)) for boxes in said]


def test_balls_found_and_false_finds_are_counted() -> None:
    patch = np.zeros((3, 128, 128), np.uint8)
    ball = Example(patch, np.array([[40.5, 40.5, 50.5, 50.5]]))  # edges; its middle is the pixel 45, 45
    none = Example(patch, np.zeros((0, 4)))
    right, beside = (41.0, 41.0, 51.0, 51.0), (60.0, 60.0, 70.0, 70.0)
    found = tally(Saying([[right], [beside], [right, beside], [beside], []]), [ball, ball, ball, none, none])
    assert found.balls.tolist() == [1, 1, 1, 0, 0]
    assert found.found.tolist() == [1, 0, 1, 0, 0]
    assert found.false.tolist() == [0, 1, 1, 1, 0]
    # By hand: 2 of 3 balls, 3 false finds in 5 patches, F1 = 2 * 2 / (3 balls + 5 finds).
    assert found.recall == approx(2 / 3)
    assert found.false_a_patch == approx(3 / 5)
    assert found.f1 == approx(4 / 8)


def test_the_same_finds_are_not_better() -> None:
    both = of([1, 0] * 30)
    assert share_better(both, both, SWINGS, 1) == 0.0
    assert not is_better(0.0)


def test_more_balls_found_in_every_swing_is_better() -> None:
    assert is_better(share_better(of([1, 0] * 30), of([1, 1, 1, 1, 0] * 12), SWINGS, 1))


def test_as_many_balls_with_fewer_false_finds_is_better() -> None:
    assert is_better(share_better(of([1] * 60, [1, 0, 0, 0, 0] * 12), of([1] * 60), SWINGS, 1))


def test_one_ball_more_in_sixty_may_be_an_accident() -> None:
    old = [1, 0] * 30
    assert not is_better(share_better(of(old), of([1, 1, *old[2:]]), SWINGS, 1))


def test_frames_of_one_swing_do_not_count_as_so_many_swings() -> None:
    # Eight balls more in one swing, two fewer in each of two others: sure if frames were independent, not as swings.
    old = of(([1, 0] * 5) * 6)
    gains = np.array(old.found)
    gains[0:10] = 1
    gains[10] = gains[20] = 0
    assert share_better(old, of(gains.tolist()), [0] * 60, 1) > share_better(old, of(gains.tolist()), SWINGS, 1)


def test_fewer_balls_found_is_not_better() -> None:
    assert share_better(of([1] * 60), of([1, 0] * 30), SWINGS, 1) == 0.0
