from dataclasses import replace

import numpy as np
import pytest

from balltrack.flight.evidence import ContactPrior, Setting
from balltrack.flight.fit import FlightFit, fit_flight
from balltrack.flight.shared import SharedView, fit_together, hear
from balltrack.units import MPS_PER_MPH, Floats
from tests.flight.simulated import SET_UPS, Filming, film, fly_truth, swing, true_camera

USUAL_CONTACT_M, CONTACT_SD_M = np.array([0.0, 0.6, 0.85]), 0.3
SWINGS = 6


def lesson(seed: int, size_bias: float) -> tuple[list[FlightFit], list[ContactPrior], Setting, Floats]:
    """Swings of one player before one camera, each fitted alone, and their true exit speeds. [m/s]

    The lens is off by about 2 %, every ball looks too large by ``size_bias``, and the player meets the ball early.
    """
    rng = np.random.default_rng(seed)
    how = Filming(SET_UPS["behind"], lens_sd=0.02)
    setting = swing(rng, how).setting
    fits, contacts, speeds = [], [], []
    for _ in range(SWINGS):
        rise, across = np.radians(rng.uniform(5, 30)), np.radians(rng.uniform(-25, 25))
        speed = rng.uniform(28, 36)
        velocity = speed * np.array([np.cos(rise) * np.sin(across), np.cos(rise) * np.cos(across), np.sin(rise)])
        place = USUAL_CONTACT_M + np.array([0.0, 0.2, 0.0]) + rng.normal(0, 0.1, 3)
        truth, path = fly_truth(rng, velocity, place, 1.0 + rng.uniform(0, 1 / how.fps))
        track = film(rng, truth, path, true_camera(how.place), setting.camera, how)
        track = replace(track, diameter_px=track.diameter_px * (1 + size_bias))
        contact = ContactPrior(truth.contact_s + rng.normal(0, 0.004), 0.004, USUAL_CONTACT_M, np.full(3, CONTACT_SD_M))
        fits.append(fit_flight(track, contact, setting))
        contacts.append(contact)
        speeds.append(speed)
    return fits, contacts, setting, np.array(speeds)


def test_swings_together_are_surer_and_nearer_to_the_truth_than_each_alone() -> None:
    alone, together, stated = [], [], []
    for seed in range(8):
        fits, contacts, setting, speeds = lesson(seed, 0.02)
        joint = fit_together(fits, contacts, setting)
        alone += list(np.array([fit.exit_speed_mps for fit in fits]) - speeds)
        together += list(np.array([fit.exit_speed_mps for fit in joint]) - speeds)
        stated += [fit.exit_speed_sd_mps for fit in joint]
    assert np.sqrt(np.mean(np.square(together))) < np.sqrt(np.mean(np.square(alone)))
    # Stated 90 % intervals: errors of one lesson go together, so that 48 swings count as some 8 to 16.
    assert np.mean(np.abs(together) < 1.645 * np.array(stated)) > 0.7


def test_one_swing_alone_stays_as_it_was() -> None:
    fits, contacts, setting, _ = lesson(1, 0.0)
    assert fit_together(fits[:1], contacts[:1], setting) == fits[:1]


def test_a_flight_that_contradicts_the_others_is_left_alone_and_does_not_move_them() -> None:
    fits, contacts, setting, _ = lesson(3, 0.0)
    strange = fits[0].parameters.copy()
    strange[10] += 12 * np.sqrt(fits[0].parameter_covariance[10, 10])  # a ball a quarter too large
    odd = replace(fits[0], parameters=strange)
    found = fit_together([odd, *fits[1:]], contacts, setting)
    assert found[0] is odd
    assert [fit.exit_speed_mps for fit in found[1:]] == [
        pytest.approx(fit.exit_speed_mps, abs=0.02 * MPS_PER_MPH)
        for fit in fit_together(fits[1:], contacts[1:], setting)
    ]


def test_a_flight_of_which_hardly_anything_is_known_is_not_made_sure_by_the_others() -> None:
    fits, contacts, setting, _ = lesson(4, 0.0)
    vague = replace(fits[0], parameter_covariance=fits[0].parameter_covariance * 400)
    found = fit_together([vague, *fits[1:]], contacts, setting)
    assert found[0] is vague
    assert found[1] is not fits[1]


# Source: the eight schools of Rubin (1981) as in Gelman et al., Bayesian Data Analysis, table 5.2, from memory: effects
# y with standard errors s; complete pooling gives 7.7 with standard error 4.1.
def test_complete_pooling_of_the_eight_schools_is_as_published() -> None:
    effects, errors = [28, 8, -3, 7, -1, 1, 18, 12], [15, 10, 16, 11, 9, 11, 10, 18]
    common, own = 1e8, 1e-6
    views = []
    for effect, error in zip(effects, errors, strict=True):
        variance = 1 / (1 / error**2 + 1 / (common + own))
        views.append(
            SharedView(
                which=np.array([0]),
                slots=np.array([0]),
                found=np.array([variance * effect / error**2]),
                covariance=np.array([[variance]]),
                common=np.array([common]),
                own=np.array([own]),
            )
        )
    mean, covariance = hear(views, set(range(8))).foretell(views[0])
    assert mean[0] == pytest.approx(7.7, abs=0.05)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(4.1, abs=0.05)
