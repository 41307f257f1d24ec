"""The sums over a patch's cells against numpy's own, and against what they are to make smallest."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pytest import approx

from balltrack.track.explained import CHANNELS, TERMS, Channels, Each, best_light, next_step, tell
from balltrack.track.explained import _inverse as inverse
from balltrack.track.explained import _middle as middle
from balltrack.track.shade import any_light
from balltrack.units import Floats

LUMA_CELLS, COLOUR_CELLS = 60, 25


def painted(rng: np.random.Generator) -> tuple[Each, Channels]:
    """What the terms of light show in each channel's cells, and cells that differ from the field by more than noise."""
    counts = (LUMA_CELLS, COLOUR_CELLS, COLOUR_CELLS)
    bright, blue, red = (rng.uniform(0, 1, (TERMS, count)) for count in counts)
    cells = [np.stack([rng.normal(20, 5, n), rng.uniform(10, 40, n), rng.uniform(0.1, 1.0, n)]) for n in counts]
    places = [np.stack(np.divmod(np.arange(count), 10), axis=1) for count in counts]
    grid = np.array([[6, 10], [3, 10], [3, 10]])
    return (bright, blue, red), Channels(
        (cells[0], cells[1], cells[2]), (places[0], places[1], places[2]), grid, np.array([1.0, 4.0, 4.0])
    )


def left(light: Floats, shows: Each, channels: Channels, noise: Floats, likely: Floats) -> float:
    """What light (3, 9) leaves over the noise, and how far its shade is off the likely one (8,)."""
    total, mean = 0.0, np.empty(CHANNELS)
    for c, show in enumerate(shows):
        change, field, weight = channels.cells[c]
        whole = change + show[0] * field
        mean[c] = (show[0] * weight * whole).sum() / (show[0] ** 2 * weight).sum()  # of a ball that is lit evenly
        total += float(((whole - light[c] @ show) ** 2 * weight).sum() / noise[c])
    # All channels are shaded alike, but for the colour of sun and sky.
    alike = np.outer(mean, mean) + ((0.1 * mean[0]) ** 2 + 1.0) * np.eye(CHANNELS)
    off = light[:, 1:] - np.outer(mean, likely)
    return total + float(np.einsum("ck,cd,km,dm->", off, np.linalg.inv(alike), any_light().precision, off))


@settings(deadline=None)  # the first call compiles
@given(st.integers(0, 1000))
def test_no_other_light_explains_the_cells_better(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shows, channels = painted(rng)
    noise, likely = rng.uniform(1, 20, CHANNELS), rng.normal(0, 0.1, TERMS - 1)
    light = best_light(shows, channels, noise, likely, any_light().precision).light
    best = left(light, shows, channels, noise, likely)
    for _ in range(20):
        other = light + rng.normal(0, 0.1, light.shape)
        assert left(other, shows, channels, noise, likely) > best


def test_a_step_goes_where_the_pull_and_the_likely_pose_are_in_balance() -> None:
    rng = np.random.default_rng(3)
    shows, channels = painted(rng)
    likely, noise = any_light(), np.array([3.0, 2.0, 1.5])
    lit = best_light(shows, channels, noise, likely.mean, likely.precision)
    bright, blue, red = (rng.normal(0, 3, (7, cells.shape[1])) for cells in channels.cells)
    told = tell(lit, channels, (bright, blue, red), noise, noise)
    off, precision = rng.normal(0, 0.01, 7), rng.uniform(1, 100, 7)
    covariance, step, longest = next_step(told, off, precision, np.full(7, np.inf))
    held = told.information + np.diag(precision)
    assert held @ step == approx(told.pull + precision * off)
    assert covariance == approx(np.linalg.inv(held))
    assert longest == approx(np.max(np.abs(step) / np.sqrt(np.diag(covariance))))
    assert next_step(told, off, precision, np.full(7, 1e-3))[1] == approx(np.clip(step, -1e-3, 1e-3))


@settings(deadline=None)
@given(st.integers(1, 27), st.integers(0, 1000))
def test_the_inverse_of_an_information_is_numpys(size: int, seed: int) -> None:
    root = np.random.default_rng(seed).normal(size=(size, size + 3))
    information = root @ root.T + 0.1 * np.eye(size)
    assert inverse(information) == approx(np.linalg.inv(information), rel=1e-6, abs=1e-9)


@settings(deadline=None)
@given(arrays(np.float64, st.integers(1, 40), elements=st.integers(-5, 5).map(float)))
def test_the_middle_is_the_upper_of_the_middle_two(values: Floats) -> None:
    before = values.copy()
    assert middle(values) == np.sort(values)[len(values) // 2]
    assert np.array_equal(values, before)
    assert middle(values[:0]) == 0.0
