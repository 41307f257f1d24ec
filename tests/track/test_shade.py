"""Shade terms that turn with the ball's motion."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from balltrack.track import spectra
from balltrack.track.explained import TERMS
from balltrack.track.shade import any_light, shade_terms, turned
from balltrack.units import Floats

TURNS = st.floats(-7.0, 7.0)


def places(count: int = 50) -> Floats:
    """(2, n) on the disc."""
    rng = np.random.default_rng(0)
    radius, angle = np.sqrt(rng.uniform(0, 0.99, count)), rng.uniform(0, 2 * np.pi, count)
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)])


@settings(deadline=None)
@given(TURNS)
def test_turned_weights_show_the_same_ball(turn: float) -> None:
    x, y = places()
    weights = np.random.default_rng(1).normal(size=TERMS)
    along, beside = np.cos(turn) * x + np.sin(turn) * y, np.cos(turn) * y - np.sin(turn) * x
    shown = (turned(turn) @ weights) @ shade_terms(along, beside)
    np.testing.assert_allclose(shown, weights @ shade_terms(x, y), atol=1e-9)  # rounding alone


@settings(deadline=None)
@given(TURNS)
def test_without_knowledge_every_direction_of_light_is_as_likely(turn: float) -> None:
    mean, precision = any_light().along(turn)
    assert not mean.any()
    # 300 suns stand for all: their unevenness, and the figure's own terms, are what is left.
    np.testing.assert_allclose(np.linalg.inv(precision), np.linalg.inv(any_light().precision), atol=0.006)


def test_what_kernels_of_several_files_must_agree_on_they_do() -> None:
    """Each has its own, for a kernel uses only what stands in its file."""
    assert turned(0.0).shape == (TERMS, TERMS)
    assert spectra.TERMS == TERMS
