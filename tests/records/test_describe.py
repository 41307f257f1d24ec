"""Names of the trade for a flight's numbers, and what is too vague to report."""

import re
from dataclasses import fields, replace

import numpy as np
import pytest
from pytest import approx

from balltrack.flight.fit import FlightFit
from balltrack.flight.landing import Landing
from balltrack.records.describe import Label, field_side, flight_kind, measured, quality, unmeasured, why_vague
from balltrack.records.swing import Swing, from_json, to_json

LABEL = Label("01-tee/001#1", "clips/01-tee/001.mp4", "01-tee", "abc", 1.25)
LANDING = Landing(
    carry_m=60.0,
    carry_sd_m=2.0,
    landing_m=np.array([-10.0, 59.0]),
    landing_cov_m2=np.array([[1.0, 0.2], [0.2, 3.0]]),
    hang_s=3.1,
    hang_sd_s=0.1,
    apex_m=9.0,
    apex_sd_m=0.3,
    tail_m=1.5,
    tail_sd_m=0.8,
    fence_clear_probability=0.1,
)


def fit(
    speed_mps: float = 30.0, launch_deg: float = 20.0, spray_deg: float = -10.0, velocity_sd: float = 0.3
) -> FlightFit:
    launch, spray = np.radians([launch_deg, spray_deg])
    velocity = speed_mps * np.array([np.cos(launch) * np.sin(spray), np.cos(launch) * np.cos(spray), np.sin(launch)])
    covariance = np.diag([0.02**2, 0.03**2, 0.04**2, *[velocity_sd**2] * 3, 0.001**2, 0.03**2, 0.1**2, 0.1**2])
    return FlightFit(
        parameters=np.array([0.1, 0.6, 0.9, *velocity, 1.26, 0.33, 0.0, 0.0]),
        parameter_covariance=covariance,
        camera_parameters=np.zeros(11),
        predicted_px=np.zeros((20, 2)),
        outlier=np.zeros(20, dtype=np.bool_),
        rows_used=20,
        residual_px=0.4,
        chi2_per_dof=1.0,
    )


# Source: the bands of launch angle that public analysts of the game print (below 10 degrees ground ball, 10 to 25 line
# drive, 25 to 50 fly ball, above 50 pop-up; common practice, no one source).
@pytest.mark.parametrize(
    ("launch_deg", "name"),
    [
        (-30.0, "ground_ball"),
        (0.0, "ground_ball"),
        (9.9, "ground_ball"),
        (10.1, "line_drive"),
        (24.9, "line_drive"),
        (25.1, "fly_ball"),
        (49.9, "fly_ball"),
        (50.1, "pop_up"),
        (85.0, "pop_up"),
    ],
)
def test_launch_angles_have_the_names_of_the_trade(launch_deg: float, name: str) -> None:
    assert flight_kind(launch_deg) == name


# Source: common practice: a right-handed batter pulls to left field (negative spray), a left-handed one to right.
@pytest.mark.parametrize(
    ("spray_deg", "bats", "side"),
    [
        (-40.0, "right", "pull"),
        (-40.0, "left", "opposite"),
        (40.0, "right", "opposite"),
        (40.0, "left", "pull"),
        (0.0, "right", "middle"),
        (14.0, "left", "middle"),
        (-14.0, "right", "middle"),
        (16.0, "left", "pull"),
        (-60.0, "right", "pull"),
    ],
)
def test_sides_of_the_field_are_the_batters(spray_deg: float, bats: str, side: str) -> None:
    assert field_side(spray_deg, bats) == side


@pytest.mark.parametrize("spray_deg", [-33.0, -5.0, 0.0, 5.0, 33.0])
def test_mirroring_field_and_batter_changes_no_side(spray_deg: float) -> None:
    assert field_side(spray_deg, "right") == field_side(-spray_deg, "left")


def test_a_measured_swing_carries_the_fit_and_its_landing() -> None:
    swing = measured(LABEL, fit(), LANDING, "right")
    assert (swing.outcome, swing.reason) == ("measured", "")
    assert (swing.exit_speed_mps, swing.launch_deg, swing.spray_deg) == approx((30.0, 20.0, -10.0))
    assert swing.exit_speed_sd_mps == approx(0.3)  # an even velocity error: the same along the velocity
    # An even error s across a speed v turns it by s / v: 0.3 / 30 rad = 0.573 degrees; spray by 1 / cos 20 more.
    assert swing.launch_sd_deg == approx(0.573, abs=0.001)
    assert swing.spray_sd_deg == approx(0.573 / np.cos(np.radians(20)), abs=0.001)
    assert swing.contact_m == approx((0.1, 0.6, 0.9))
    assert swing.contact_depth_m == approx(0.6 - 0.4318)  # 17 in of plate: rule book
    assert (swing.carry_m, swing.carry_sd_m, swing.hang_s, swing.apex_m) == (60.0, 2.0, 3.1, 9.0)
    assert swing.landing_cov_m2 == ((1.0, 0.2), (0.2, 3.0))
    assert (swing.flight, swing.field_side) == ("line_drive", "middle")
    assert swing.contact_s == 1.26  # the fit's own, not the cue's
    assert from_json(to_json(swing)) == swing


def test_no_fence_leaves_its_probability_open() -> None:
    assert (
        measured(LABEL, fit(), replace(LANDING, fence_clear_probability=None), "right").fence_clear_probability is None
    )


def numbers(swing: Swing) -> set[str]:
    told = {
        "swing",
        "clip",
        "block",
        "outcome",
        "balltrack_version",
        "settings_hash",
        "detector",
        "reason",
        "contact_s",
        "warnings",
        "by_hand",
        "excluded",
    }
    return {each.name for each in fields(swing) if each.name not in told and getattr(swing, each.name) is not None}


@pytest.mark.parametrize(("missed", "outcome"), [(True, "no_contact"), (False, "not_measured")])
def test_a_swing_without_a_ball_has_no_numbers_but_a_reason(missed: bool, outcome: str) -> None:
    swing = unmeasured(LABEL, missed, "no ball was seen")
    assert (swing.outcome, swing.reason) == (outcome, "no ball was seen")
    assert numbers(swing) == set()
    assert swing.contact_s == (None if missed else 1.25)


def test_a_flight_known_well_enough_is_not_refused() -> None:
    assert why_vague(fit(velocity_sd=0.3)) == ""


@pytest.mark.parametrize("velocity_sd", [3.5, 8.0])
def test_an_exit_speed_that_is_too_vague_is_refused_in_one_line_with_the_number(velocity_sd: float) -> None:
    # 1 mph = 0.44704 m/s.
    words = why_vague(fit(velocity_sd=velocity_sd))
    assert re.search(rf"exit speed .* {velocity_sd / 0.44704:.0f} mph$", words)
    assert "\n" not in words


def test_angles_that_are_too_vague_are_refused_with_the_number() -> None:
    # Along the velocity (spray 0, launch 0: y) known well, across it not: 2 m/s of 20 is 5.7 degrees.
    vague = fit(speed_mps=20.0, launch_deg=0.0, spray_deg=0.0)
    covariance = vague.covariance.copy()
    covariance[3, 3], covariance[4, 4], covariance[5, 5] = 2.0**2, 0.1**2, 0.1**2
    assert re.search(r"angles .* 6 degrees$", why_vague(replace(vague, parameter_covariance=covariance)))


def test_quality_falls_as_the_numbers_get_vaguer_or_the_frames_fewer() -> None:
    ranks = ["good", "fair", "poor"]
    found = [ranks.index(quality(fit(velocity_sd=sd))) for sd in (0.2, 0.5, 0.8, 2.0)]
    assert found == sorted(found)
    assert (found[0], found[-1]) == (0, 2)
    assert quality(replace(fit(velocity_sd=0.2), rows_used=4)) == "fair"


def test_few_frames_and_many_strays_are_said() -> None:
    outlier = np.zeros(20, dtype=np.bool_)
    outlier[:6] = True
    few = measured(LABEL, replace(fit(), rows_used=4), LANDING, "right")
    many = measured(LABEL, replace(fit(), outlier=outlier, rows_used=14), LANDING, "right", ("the tripod moved",))
    assert few.warnings == ("seen in only 4 frames",)
    assert many.warnings[0] == "the tripod moved"
    assert any(text.startswith("6 frames") for text in many.warnings)
    assert measured(LABEL, fit(), LANDING, "right").warnings == ()
