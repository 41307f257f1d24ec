"""Guessed flights against OpenCV's projection, differences, and flights by scipy."""

import numpy as np
import pytest
from pytest import approx

from balltrack.track.arcs import Prior, Seen, bend, sight, sight_and_spread
from balltrack.units import Floats
from tests.flight.simulated import BALL_DIAMETER_M, FOCAL_PX, SET_UPS, see
from tests.track.sightings import filmed_from
from tests.track.test_search import batted

PLACES = list(SET_UPS)
PRIOR = Prior(
    np.array([0.0, 0.55, 0.9, 0.0, 20.0, 6.0, 1.0, 0.1, 0.0]),
    np.array([0.2, 0.3, 0.3, 17.0, 18.0, 11.0, 0.006, 0.13, 0.1]),
)
ARC = np.array([0.1, 0.6, 0.9, 4.0, 28.0, 9.0, 1.0, 0.1, 0.0])
TIMES_S = 1.0 + np.array([0.04, 0.06, 0.08, 0.1, 0.12, 0.14])


@pytest.mark.parametrize("name", PLACES)
def test_an_arc_is_seen_where_opencv_projects_its_points_and_as_large_as_a_ball_there(name: str) -> None:
    filmed = filmed_from(name)
    seen = sight(ARC[None], TIMES_S, filmed.view)
    pixels = see(seen.points_field_m[0], filmed.camera)
    visible = np.isfinite(pixels).all(axis=1)
    assert visible.any()
    assert seen.centre_px[0][visible] == approx(pixels[visible], abs=1e-3)
    away = np.linalg.norm(seen.points_field_m[0] - filmed.camera[3:6], axis=1)
    # By distance instead of depth a ball 30 degrees off the axis is drawn 15 % smaller: a pinhole stretches the edge.
    assert seen.width_px[0][visible] == approx(FOCAL_PX * BALL_DIAMETER_M / away[visible], rel=0.2)


def test_at_contact_the_arc_is_at_its_contact_point() -> None:
    seen = sight(ARC[None], np.array([ARC[6]]), filmed_from("behind").view)
    assert seen.points_field_m[0, 0] == approx(ARC[:3], abs=1e-9)


@pytest.mark.parametrize("name", PLACES)
def test_bending_to_exact_sightings_finds_the_flight_from_a_wrong_start(name: str) -> None:
    filmed = filmed_from(name)
    truth = sight(ARC[None], TIMES_S, filmed.view)
    seen = Seen(TIMES_S[None], truth.centre_px, truth.width_px)
    start = ARC + np.array([0.1, -0.1, 0.1, -3.0, -5.0, 2.0, 0.003, 0.0, 0.0])
    arcs, covariance = bend(start[None], seen, filmed.view, PRIOR, rounds=10)
    again = sight(arcs, TIMES_S, filmed.view)
    inside = np.isfinite(truth.centre_px[0]).all(axis=1)
    misses = np.linalg.norm((again.centre_px - truth.centre_px)[0][inside], axis=1)
    assert misses.max() < 1.5  # the prior pulls by a part of the noise that a region's centre has: 2 px and more
    off = np.abs(arcs[0] - ARC) / np.sqrt(np.diag(covariance[0]))
    assert np.all(off < 1.5)


def test_without_sightings_an_arc_goes_to_its_prior() -> None:
    blank = Seen(TIMES_S[None], np.full((1, 6, 2), np.nan), np.full((1, 6), np.nan))
    arcs, covariance = bend(ARC[None], blank, filmed_from("behind").view, PRIOR, rounds=20)
    assert arcs[0] == approx(PRIOR.mean, abs=1e-6)
    assert np.sqrt(np.diag(covariance[0])) == approx(PRIOR.sd)


def test_arcs_bent_together_are_as_when_bent_alone() -> None:
    view = filmed_from("45 degrees").view
    truth = sight(ARC[None], TIMES_S, view)
    centre, width = np.repeat(truth.centre_px, 2, axis=0), np.repeat(truth.width_px, 2, axis=0)
    centre[1, 3:] = np.nan
    width[1, 3:] = np.nan
    seen = Seen(np.tile(TIMES_S, (2, 1)), centre, width)
    starts = np.stack([ARC + 0.05, PRIOR.mean])
    both, _ = bend(starts, seen, view, PRIOR, rounds=4)
    for row in range(2):
        part = slice(row, row + 1)
        alone, _ = bend(
            starts[part], Seen(seen.time_s[part], seen.centre_px[part], seen.width_px[part]), view, PRIOR, rounds=4
        )
        assert both[row] == approx(alone[0], abs=1e-6)


def test_one_wrong_sighting_does_not_drag_the_flight_away() -> None:
    view = filmed_from("behind").view
    truth = sight(ARC[None], TIMES_S, view)
    centre = truth.centre_px.copy()
    centre[0, 2] += 150.0
    arcs, _ = bend(ARC[None], Seen(TIMES_S[None], centre, truth.width_px), view, PRIOR, rounds=8)
    good = [0, 1, 3, 4, 5]
    off = np.linalg.norm((sight(arcs, TIMES_S, view).centre_px - truth.centre_px)[0, good], axis=1)
    assert off.max() < 6.0  # a quarter of the ball's width there


@pytest.mark.parametrize("name", PLACES)
def test_the_predicted_spread_is_that_of_drawn_arcs(name: str) -> None:
    # Two methods: the arc's covariance carried to the picture by slopes, and arcs drawn from it and projected.
    view = filmed_from(name).view
    sd = np.array([0.01, 0.01, 0.01, 0.2, 0.2, 0.2, 0.0005, 0.01, 0.01])
    covariance = np.diag(sd**2)
    times = np.array([1.08, 1.12])
    spread = sight_and_spread(ARC[None], covariance[None], times, view)[1][0]
    drawn = sight(ARC + np.random.default_rng(1).normal(size=(1500, 9)) * sd, times, view).centre_px
    for k in range(2):
        expected = np.cov(drawn[:, k].T)
        assert np.sqrt(np.diag(spread[k])) == approx(np.sqrt(np.diag(expected)), rel=0.1)  # sampling: 2 %; curvature


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_arc_follows_a_ball_that_spins_as_scipy_flies_it(seed: int) -> None:
    filmed = filmed_from("behind")
    truth, place = batted(seed)
    times = truth.contact_s + np.arange(0.05, min(0.6, 0.9 * truth.hang_s), 1 / 60)
    points: Floats = np.array([place(float(t)) for t in times])
    pixels = see(points, filmed.camera)
    width = FOCAL_PX * BALL_DIAMETER_M / np.linalg.norm(points - filmed.camera[3:6], axis=1)
    start = PRIOR.mean.copy()
    start[:6], start[6] = [*truth.position_m, *(truth.velocity_mps * 0.9)], truth.contact_s
    arcs, _ = bend(start[None], Seen(times[None], pixels[None], width[None]), filmed.view, PRIOR, rounds=12)
    misses = np.linalg.norm(sight(arcs, times, filmed.view).centre_px[0] - pixels, axis=1)
    assert np.nanmax(misses) < 3.0  # the sub-pixel search looks further than that around
