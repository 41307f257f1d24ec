"""The pitch told from what else moves, before the bat and past it: candidates of balls flown by scipy."""

from dataclasses import replace

import numpy as np
import pytest

from balltrack.air import Air
from balltrack.field import Ball
from balltrack.flight.evidence import Setting
from balltrack.flight.guesses import usual_flight
from balltrack.track.arcs import TIME, Prior, View
from balltrack.track.pitch_link import AFTER, BEFORE, link_pitch
from balltrack.units import Floats
from tests.flight.simulated import BALL_DIAMETER_M, DENSITY, fly_truth
from tests.track.sightings import YELLOW, Filmed, Mover, Place, film, filmed_from

MET_S = 1.9  # clip time when the ball is met
HAND_M = np.array([0.25, 14.6, 0.8])


def reaching_back(name: str) -> Filmed:
    """A set-up whose view flies a ball back over all of a pitch."""
    filmed = filmed_from(name)
    ball = Ball(BALL_DIAMETER_M, 0.0006, 0.1885, 0.004, 0.32, 0.04)
    setting = Setting(filmed.view.camera, ball, Air(DENSITY, 20.0, (0.0, 0.0)))
    return replace(filmed, view=View(filmed.view.camera, BALL_DIAMETER_M, usual_flight(setting, 1.8)))


def lob(met_m: Floats) -> tuple[Place, Floats]:
    """A pitch of 1.2 s that is met at a place: where it is at a clip time, and its velocity there."""
    flight_s = 1.2
    velocity = (met_m - HAND_M) / flight_s + np.array([0.0, 0.0, 9.80665 * flight_s / 2])
    _, path = fly_truth(np.random.default_rng(1), velocity * [1.0, 1.05, 1.02], HAND_M, 0.0)
    let_go = MET_S - flight_s
    return lambda t: path(t - let_go), (path(flight_s) - path(flight_s - 1e-3)) / 1e-3


def known_end(place_m: Floats, sd_m: float = 0.05) -> Prior:
    """A pitch that ends at a place, at the time it is met."""
    mean = np.array([*place_m, 0.0, -20.0, -3.0, MET_S, 0.0, 0.0])
    return Prior(mean, np.array([sd_m] * 3 + [2.5, 10.0, 4.0, 0.004, 0.2, 0.12]))


@pytest.mark.parametrize("name", ["behind", "45 degrees"])
def test_the_pitch_is_found_among_leaves_and_chance(name: str) -> None:
    filmed, (place, velocity) = reaching_back(name), lob(np.array([0.1, 0.5, 0.8]))
    frames = film([Mover(place, BALL_DIAMETER_M, YELLOW, until_s=MET_S)], filmed, 30.0, seed=2)
    found = link_pitch(frames, filmed.view, known_end(place(MET_S)), BEFORE)
    assert found is not None
    # Source: the flight itself. Regions are off by a tenth of a ball: over a second that is 0.3 m/s across the view
    # and, by size alone, a few per cent along it.
    assert found.arc[3:TIME] == pytest.approx(velocity, abs=1.0)
    assert found.seen.time_s.size > 12  # of 36 frames, some missed and some beyond the edge


@pytest.mark.parametrize("seed", [3, 4])
def test_without_a_pitch_none_is_found(seed: int) -> None:
    filmed, (place, _) = reaching_back("behind"), lob(np.array([0.1, 0.5, 0.8]))
    assert link_pitch(film([], filmed, 30.0, seed), filmed.view, known_end(place(MET_S)), BEFORE) is None


def test_a_ball_that_flies_away_from_the_bat_is_no_pitch() -> None:
    filmed = reaching_back("45 degrees")
    met = np.array([0.1, 0.5, 0.8])
    _, hit = fly_truth(np.random.default_rng(5), np.array([2.0, 33.0, 8.0]), met, MET_S)
    batted = Mover(lambda t: hit(t - MET_S), BALL_DIAMETER_M, YELLOW, from_s=MET_S)
    assert link_pitch(film([batted], filmed, 30.0, 6), filmed.view, known_end(met), BEFORE) is None


def test_a_ball_past_the_bat_is_found_on_its_new_way() -> None:
    # Source: a touch that lifts the ball by 3 m/s and takes a fifth of its speed; it is sought about its old velocity.
    filmed = reaching_back("45 degrees")
    met = np.array([0.1, 0.4318, 0.9])
    into, off = np.array([0.0, -12.0, -5.0]), np.array([0.5, -9.5, 1.0])
    _, tipped = fly_truth(np.random.default_rng(8), off, met, MET_S)
    mover = Mover(lambda t: tipped(t - MET_S), BALL_DIAMETER_M, YELLOW, from_s=MET_S)
    frames = film([mover], filmed, 60.0, 9)
    near = Prior(np.array([*met, *into, MET_S, 0, 0]), np.array([0.12, 0.01, 0.15, 4, 4, 4, 0.02, 0.2, 0.15]))
    found = link_pitch(frames, filmed.view, near, AFTER)
    assert found is not None
    assert found.arc[3:TIME] == pytest.approx(off, abs=1.5)
    straight = Prior(near.mean, np.array([0.02, 0.01, 0.02, 0.3, 0.3, 0.3, 0.003, 0.05, 0.05]))
    unbent = link_pitch(frames, filmed.view, straight, AFTER)
    assert unbent is None or unbent.evidence < found.evidence - 6
