from dataclasses import replace

import numpy as np
import pytest

from balltrack.camera.model import Camera
from balltrack.errors import FlightError
from balltrack.flight.fit import fit_flight
from balltrack.flight.limit import Filming as Viewing
from balltrack.flight.limit import Limit, accuracy_limit, launch_limit
from balltrack.flight.path import Launch, fly
from balltrack.units import MPS_PER_MPH
from tests.flight.simulated import (
    BOXES,
    HEIGHT,
    PLATE,
    SET_UPS,
    WIDTH,
    Filming,
    camera_covariance,
    swing,
    true_camera,
)


def limit_of(place: str, fps: float = 60.0, lens_sd: float = 0.003) -> Limit:
    made = swing(np.random.default_rng(1), Filming(SET_UPS[place]))
    camera = true_camera(SET_UPS[place])
    covariance = camera_covariance(camera, lens_sd, PLATE + BOXES)
    setting = replace(made.setting, camera=Camera(camera, covariance, (WIDTH, HEIGHT)))
    launch = Launch(np.array([0.0, 0.6, 0.85]), np.array([3.0, 31.0, 11.5]), 0.32, 0.1, 0.0)
    contact = replace(made.contact, time_s=1.0)
    return accuracy_limit(launch, contact, setting, Viewing(np.arange(1.035, 1.7, 1 / fps)))


def test_the_bound_is_that_of_the_fit_on_such_a_swing() -> None:
    made = swing(np.random.default_rng(4), Filming(SET_UPS["behind"]))
    fit = fit_flight(made.track, made.contact, made.setting)
    frames = made.track.time_s - made.setting.camera.readout_s * made.track.centre_px[:, 1] / HEIGHT
    bound = accuracy_limit(fit.launch, replace(made.contact, time_s=fit.contact_s), made.setting, Viewing(frames))
    assert bound.frames == fit.rows_used
    # The fit's sds also scale with the noise that it saw: within the 30 % that this many rows can be off. It takes the
    # errors of the 3 frames in 0.05 s for alike, which the bound of independent noise does not: up to sqrt(3) more.
    for limit, stated in (
        (bound.exit_speed_sd_mps, fit.exit_speed_sd_mps),
        (bound.launch_sd_deg, fit.launch_sd_deg),
        (bound.spray_sd_deg, fit.spray_sd_deg),
    ):
        assert 0.7 * limit < stated < 1.3 * np.sqrt(3) * limit


def test_each_place_can_measure_what_a_coach_asks_for() -> None:
    for place in SET_UPS:
        bound = limit_of(place)
        assert bound.exit_speed_sd_mps < 1.5 * MPS_PER_MPH
        assert bound.launch_sd_deg < 0.4
        assert bound.spray_sd_deg < 1.0


def test_a_loose_lens_or_fewer_frames_never_help() -> None:
    sharp = limit_of("behind")
    for worse in (limit_of("behind", lens_sd=0.03), limit_of("behind", fps=30.0)):
        assert worse.exit_speed_sd_mps >= sharp.exit_speed_sd_mps
        assert worse.launch_sd_deg >= sharp.launch_sd_deg
        assert worse.spray_sd_deg >= sharp.spray_sd_deg


def test_the_limit_of_the_launch_alone_is_the_same() -> None:
    made = swing(np.random.default_rng(1), Filming(SET_UPS["behind"]))
    launch = Launch(np.array([0.0, 0.6, 0.85]), np.array([3.0, 31.0, 11.5]), 0.32, 0.1, 0.0)
    contact, viewing = replace(made.contact, time_s=1.0), Viewing(np.arange(1.035, 1.7, 1 / 60))
    whole = accuracy_limit(launch, contact, made.setting, viewing)
    path = fly(launch, made.setting.medium, 2.0)
    for part in (launch_limit(launch, contact, made.setting, viewing, flown) for flown in (None, path)):
        # The two paths share their knots, so that only rounding can differ.
        assert part.exit_speed_sd_mps == pytest.approx(whole.exit_speed_sd_mps, rel=1e-6)
        assert part.launch_sd_deg == pytest.approx(whole.launch_sd_deg, rel=1e-6)
        assert part.spray_sd_deg == pytest.approx(whole.spray_sd_deg, rel=1e-6)


def test_a_ball_out_of_the_picture_is_refused() -> None:
    made = swing(np.random.default_rng(1), Filming(SET_UPS["side-on"]))
    away = Launch(np.array([0.0, 0.6, 0.85]), np.array([0.0, -30.0, 5.0]), 0.32)
    with pytest.raises(FlightError, match="would be seen in"):
        accuracy_limit(away, replace(made.contact, time_s=1.0), made.setting, Viewing(np.arange(1.2, 1.5, 1 / 60)))
