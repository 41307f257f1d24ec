"""Flights that a net or a wall cuts short, flown and filmed without the package."""

from dataclasses import replace

import numpy as np
import pytest

from balltrack.air import Air
from balltrack.camera.model import Camera
from balltrack.field import Ball
from balltrack.flight.ended import DOUBTED, STOPPED, until_stopped
from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import fit_flight
from balltrack.flight.path import Launch
from balltrack.track.ball import BallTrack
from balltrack.units import Floats
from tests.flight.simulated import (
    BALL_DIAMETER_M,
    BALL_MASS_KG,
    BOXES,
    DENSITY,
    PLATE,
    SET_UPS,
    WIDTH,
    Filming,
    Position,
    Truth,
    camera_covariance,
    film,
    fly_truth,
    true_camera,
)

HEIGHT = 1080
PLACE_M = np.array([0.0, 0.55, 0.85])
VELOCITY_MPS = np.array([3.0, 31.0, 4.0])


def stopped(path: Position, at_y_m: float, back: float) -> tuple[Position, float]:
    """The same way until a plane across the field; from there back with a share of its speed, and when that is."""
    times = np.linspace(0.0, 1.0, 5001)
    until = float(times[np.argmax([path(t)[1] >= at_y_m for t in times])])
    place, speed = path(until), (path(until) - path(until - 1e-3)) / 1e-3
    after = np.array([back * speed[0], -back * speed[1], 0.3 * back * speed[2]])

    def way(t: float) -> Floats:
        late = max(t - until, 0.0)
        fallen = place + after * late - np.array([0.0, 0.0, 0.5 * 9.80665 * late**2])
        return path(t) if t <= until else np.array([*fallen[:2], max(fallen[2], BALL_DIAMETER_M / 2)])

    return way, until


def filmed(place: str, way: Position, truth: Truth, longest_s: float) -> tuple[BallTrack, Setting]:
    how = Filming(SET_UPS[place], longest_s=longest_s)
    camera = true_camera(how.place)
    believed = Camera(camera, camera_covariance(camera, how.lens_sd, [*PLATE, *BOXES]), (WIDTH, HEIGHT))
    ball = Ball(BALL_DIAMETER_M, 0.0006, BALL_MASS_KG, 0.004, 0.32, 0.04)
    track = film(np.random.default_rng(7), truth, way, camera, believed, how)
    # The package's stated sds are about twice what the flights of rendered lessons miss by: see flight/ended.py.
    return replace(track, centre_sd_px=2 * track.centre_sd_px), Setting(believed, ball, Air(DENSITY, 20.0, (0.0, 0.0)))


def known_of(truth: Truth) -> tuple[ContactPrior, Launch]:
    place, velocity = truth.position_m, truth.velocity_mps
    return ContactPrior(truth.contact_s, 0.004, place, np.full(3, 0.04)), Launch(place, velocity, 0.32, 0.1, 0.0)


@pytest.mark.parametrize(("place", "at_y_m", "back"), [("side-on", 4.2, 0.05), ("45 degrees", 4.2, 0.5)])
def test_a_frame_after_a_net_or_a_wall_is_left_out_of_the_flight(place: str, at_y_m: float, back: float) -> None:
    truth, path = fly_truth(np.random.default_rng(7), VELOCITY_MPS, PLACE_M, 1.0)
    way, until = stopped(path, at_y_m, back)
    track, setting = filmed(place, way, truth, until + 0.025)
    contact, launch = known_of(truth)
    whole = fit_flight(track, contact, setting, launch)
    kept, fit = until_stopped(track, whole, contact, setting)
    after = track.time_s > truth.contact_s + until
    assert after.any()
    assert not (kept.used & after).any()
    assert {kept.reason[k] for k in np.flatnonzero(~kept.used)} == {STOPPED}
    assert abs(fit.exit_speed_mps - truth.numbers[0]) < abs(whole.exit_speed_mps - truth.numbers[0])
    assert abs(fit.exit_speed_mps - truth.numbers[0]) < 3 * fit.exit_speed_sd_mps  # one in 400 by chance


def test_a_flight_that_nothing_stops_is_left_as_it_is() -> None:
    truth, path = fly_truth(np.random.default_rng(8), VELOCITY_MPS, PLACE_M, 1.0)
    track, setting = filmed("45 degrees", path, truth, 0.3)
    contact, launch = known_of(truth)
    fit = fit_flight(track, contact, setting, launch)
    assert until_stopped(track, fit, contact, setting) == (track, fit)


def test_a_flight_that_leaves_its_track_little_by_little_keeps_its_rows() -> None:
    truth, path = fly_truth(np.random.default_rng(9), VELOCITY_MPS, PLACE_M, 1.0)
    track, setting = filmed("45 degrees", path, truth, 0.4)
    contact, launch = known_of(truth)
    # A tripod that turns while the ball flies, faster and faster: by nothing at first, by 20 px in the end.
    since = (track.time_s - track.time_s[0]) / np.ptp(track.time_s)
    turned = replace(track, centre_px=track.centre_px + np.outer(20 * since**4, [0.6, 0.8]))
    fit = fit_flight(turned, contact, setting, launch)
    assert fit.chi2_per_dof > DOUBTED
    kept, _ = until_stopped(turned, fit, contact, setting)
    assert kept.used.all()
