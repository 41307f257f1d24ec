"""What is seen on either side of a ball's outline, against scipy's interpolation and against things put there."""

import numpy as np
import pytest
from pytest import approx
from scipy.ndimage import map_coordinates

from balltrack.track.outline import CHANGED, GOES_ON, POINTS, another_thing
from balltrack.track.patch import Image, Patch, middle
from balltrack.units import Floats

SIDE = 48
CENTRE_PX = (23.0, 24.5)


def patch(rng: np.random.Generator, pitch: int = 1, change: float = 3.0) -> Patch:
    """A field of random light with random change before it, in blocks so that sides of an outline may be alike."""
    half = SIDE // 2 if pitch == 1 else SIDE

    def blocks(*shape: int) -> Image:
        rough = rng.normal(0, 1, (*shape[:-2], shape[-2] // 6, shape[-1] // 6)).repeat(6, -2).repeat(6, -1)
        return np.asarray(rough + rng.normal(0, 0.1, shape), dtype=np.float32)

    sizes = (SIDE, SIDE), (2, half, half)
    pictures = [(change * blocks(*size), 5 * blocks(*size), rng.uniform(0.5, 1.0, size)) for size in sizes]
    (luma, field, sd), (colour, colour_field, colour_sd) = pictures
    return Patch(luma, field, sd.astype(np.float32), colour, colour_field, colour_sd.astype(np.float32), (0, 0), pitch)


def pose(width_px: float, streak_px: float, turn: float = 0.4, blur_px: float = 0.6) -> Floats:
    return np.array([*CENTRE_PX, np.log(width_px), np.log(streak_px), turn, np.log(blur_px), 0.0])


def shares(seen: Patch, at: Floats) -> tuple[float, float]:
    """The same, written out in numpy: a circle whose halves lie a streak apart, or the two straight sides of it."""
    radius, streak, gap = np.exp(at[2]) / 2, np.exp(at[3]), 1 + 2 * np.exp(at[5])
    if streak < 0.7 * radius:
        angle = 2 * np.pi * np.arange(POINTS) / POINTS
        out, run = np.stack([np.cos(angle), np.sin(angle)], axis=1), streak / 2 * np.sign(np.cos(angle))
    else:
        out = np.repeat([[0.0, -1.0], [0.0, 1.0]], POINTS // 2, axis=0)
        run = np.tile(np.linspace(-streak / 2, streak / 2, POINTS // 2), 2)
    axes = np.array([[np.cos(at[4]), np.sin(at[4])], [-np.sin(at[4]), np.cos(at[4])]])  # along, beside
    middles = np.stack([run, np.zeros(POINTS)], axis=1)
    inside, outside = (
        at[:2] + (middles + (radius + way) * out) @ axes for way in (-min(gap, 0.7 * radius), gap + 0.1 * radius)
    )
    field = looked_up(seen, outside, 0.0)
    within, beyond = looked_up(seen, inside, 1.0), looked_up(seen, outside, 1.0)
    change = np.linalg.norm(beyond - field, axis=1)
    other = change > CHANGED
    return other.mean(), (other & (np.linalg.norm(within - beyond, axis=1) < GOES_ON * change)).mean()


def looked_up(seen: Patch, places_px: Floats, change: float) -> Floats:
    """(n, 3) brightness, blue and red over their noise, with so much of what changed."""
    cells = (places_px + 0.5) / seen.pitch - 0.5
    step, shift = (2, (0.25, 0.5)) if seen.pitch == 1 else (1, (-0.25 / seen.pitch, 0.0))
    stored = (cells - shift) / step
    channels = [(seen.luma, seen.luma_field, seen.luma_sd, cells)]
    channels += [(seen.colour[c], seen.colour_field[c], seen.colour_sd[c], stored) for c in range(2)]
    return np.stack([
        map_coordinates((field + change * picture).astype(np.float64), at.T[::-1], order=1, mode="nearest") / middle(sd)
        for picture, field, sd, at in channels
    ], axis=1)  # fmt: skip


@pytest.mark.parametrize("pitch", [1, 2])
@pytest.mark.parametrize("streak_px", [0.4, 3.0, 30.0])
def test_shares_are_those_of_points_looked_up_one_by_one(pitch: int, streak_px: float) -> None:
    found = []
    for seed in range(20):
        seen, at = patch(np.random.default_rng(seed), pitch), pose(14.0 * pitch, streak_px * pitch)
        found.append(another_thing(seen, at))
        assert found[-1] == approx(shares(seen, at))  # whole points of the outline
    assert np.min(np.max(found, axis=0)) > 0.0  # it is told of something


def test_nothing_stands_before_a_ball_in_an_empty_field() -> None:
    seen = patch(np.random.default_rng(1), change=0.0)
    rows, columns = np.mgrid[:SIDE, :SIDE]
    seen.luma[np.hypot(columns - CENTRE_PX[0], rows - CENTRE_PX[1]) < 7.0] = 100.0
    assert another_thing(seen, pose(14.0, 0.4)) == (0.0, 0.0)


def test_somebody_hides_the_part_of_the_outline_that_he_stands_before() -> None:
    seen = patch(np.random.default_rng(2), change=0.0)
    seen.luma_field[:], seen.colour_field[:] = 20.0, 0.0
    seen.luma[:, 23:] = 100.0
    # 12 of 24 points lie right of the middle. Two more, at the top and at the bottom, see his edge on either side.
    beside, hidden = another_thing(seen, pose(14.0, 0.4, turn=0.0))
    assert beside == approx(13 / 24, abs=1 / 24)
    assert hidden == approx(12 / 24, abs=1 / 24)


def test_somebody_right_behind_a_ball_hides_nothing() -> None:
    seen = patch(np.random.default_rng(3), change=0.0)
    seen.luma[:], seen.luma_field[:] = 100.0, 20.0
    rows, columns = np.mgrid[:SIDE, :SIDE]
    seen.luma[np.hypot(columns - CENTRE_PX[0], rows - CENTRE_PX[1]) < 7.0] = -15.0
    assert another_thing(seen, pose(14.0, 0.4)) == (1.0, 0.0)
