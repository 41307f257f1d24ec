"""The median over time against numpy's sort, and against what proves a sorting network."""

import numpy as np
import pytest

from balltrack.detect.median import median_and_deviation, median_plane


@pytest.mark.parametrize("count", range(1, 14))
def test_the_median_is_right_for_every_order_of_the_values(count: int) -> None:
    # Zero-one principle (Knuth, vol. 3, 5.3.4, theorem Z): steps that compare and exchange, right for all columns of
    # zeros and ones, are right for all values.
    columns = (np.arange(2**count) >> np.arange(count)[:, None]) & 1
    planes = list(columns[:, None].astype(np.uint8))
    assert np.array_equal(median_plane(planes), np.sort(columns, axis=0)[count // 2][None])


@pytest.mark.parametrize("count", [1, 2, 9, 16, 23, 70])
def test_median_and_deviation_are_those_of_sorting_each_pixel(count: int) -> None:
    rng = np.random.default_rng(count)
    wide = rng.integers(0, 256, (count, 301, 1030)).astype(np.uint8)  # several strips, the last one cut short
    planes = [plane[:, :1001] for plane in wide]  # rows with a gap behind them, as decoders give
    before = wide.copy()
    median, deviation = median_and_deviation(planes)
    sorted_values = np.sort(wide[:, :, :1001], axis=0)[count // 2]
    apart = np.abs(wide[:, :, :1001].astype(int) - sorted_values)
    assert np.array_equal(median, sorted_values)
    assert np.array_equal(median_plane(planes), sorted_values)
    assert np.array_equal(deviation, np.sort(apart, axis=0)[count // 2])
    assert np.array_equal(wide, before)
