"""What a record says of its pitch, and how a swing ended."""

from dataclasses import replace

import numpy as np
import pytest

from balltrack.camera.model import Camera
from balltrack.contact import Cue
from balltrack.field import PLATE_DEPTH_M
from balltrack.flight.fit import FlightFit
from balltrack.flight.landing import Landing
from balltrack.flight.pitch import PitchNumbers
from balltrack.flight.pitch_seen import Pitch, passed_at
from balltrack.records import wording
from balltrack.records.describe import Label
from balltrack.records.pitched import fair_or_foul, with_pitch
from balltrack.records.refit import Basis
from balltrack.records.swing import Swing
from balltrack.records.unhit import TAKEN, TIPPED, timed, too_soon, unhit
from balltrack.track.ball import NO_TRACK
from tests.records.logbooks import full_swing
from tests.records.swings import HIT, MISS

PITCH = PitchNumbers(
    frames=12,
    first_s=0.4,
    speed_mps=(12.0, 0.2),
    apex_m=(2.9, 0.02),
    descent_deg=(33.0, 0.5),
    plate_x_m=(0.1, 0.01),
    plate_z_m=(0.8, 0.03),
    plate_s=(1.0, 0.004),
    early_s=(0.012, 0.003),
    aside_m=(0.02, 0.05),
    above_m=(0.01, 0.1),
)
LABEL = Label("03-live/001#1", "clips/03-live/001.mp4", "03-live", "abc", 1.0)
SWUNG = Cue(0.95, 0.08, False, 0.0, 5.0)
CRACK = Cue(1.0, 0.005, True, 20.0, 5.0)
THUD = Cue(1.1, 0.005, True, 15.0, 0.0)


def flight(velocity_mps: tuple[float, float, float], sd_mps: float = 0.3) -> FlightFit:
    """From the plate's front, known to so much in each direction."""
    parameters = np.array([0.0, PLATE_DEPTH_M, 0.8, *velocity_mps, 1.0, 0.32, 0.0, 0.0])
    spread = np.diag([0.01] * 3 + [sd_mps] * 3 + [0.004] + [0.04, 0.1, 0.1]) ** 2
    return FlightFit(parameters, spread, np.zeros(11), np.zeros((0, 2)), np.zeros(0, dtype=bool), 12, 0.2, 1.0)


def landing(x_m: float, y_m: float, sd_m: float = 1.0) -> Landing:
    carry_m = float(np.hypot(x_m, y_m))
    return Landing(carry_m, 1.0, np.array([x_m, y_m]), sd_m**2 * np.eye(2), 3.0, 0.1, 5.0, 0.1, 0.0, 0.5, None)


def a_pitch(numbers: PitchNumbers = PITCH) -> Pitch:
    fit = flight((0.0, -11.0, -7.0))
    return Pitch(fit, numbers)


def test_a_record_has_what_was_told_of_its_pitch_and_null_for_the_rest() -> None:
    swing = with_pitch(HIT, replace(PITCH, apex_m=None, above_m=None))
    assert (swing.pitch_speed_mps, swing.pitch_speed_sd_mps, swing.pitch_frames) == (12.0, 0.2, 12)
    assert (swing.pitch_plate_m, swing.pitch_plate_sd_m) == ((0.1, 0.8), (0.01, 0.03))
    assert (swing.early_s, swing.early_sd_s) == (0.012, 0.003)
    assert (swing.pitch_apex_m, swing.pitch_apex_sd_m, swing.contact_off_pitch_m) == (None, None, None)
    assert with_pitch(HIT, None) is HIT


@pytest.mark.parametrize(
    ("x_m", "y_m", "sd_m", "ended"),
    [
        # Source: foul lines at 45 degrees, Official Baseball Rules 2.01. On the line itself x = y.
        (10.0, 80.0, 1.0, "fair"),
        (60.0, 50.0, 1.0, "foul"),
        (-60.0, 50.0, 1.0, "foul"),
        (56.0, 55.0, 2.0, None),  # 0.7 m from the line, known to 2 m
        (56.0, 50.0, 0.5, "foul"),  # 4.2 m from it, known to half a metre
    ],
)
def test_a_ball_beyond_the_bases_is_fair_by_where_it_lands(x_m: float, y_m: float, sd_m: float, ended: str) -> None:
    assert fair_or_foul(flight((x_m, y_m, 10.0)), landing(x_m, y_m, sd_m)) == ended


def test_a_ball_that_lands_short_of_the_bases_is_fair_by_where_it_is_bound() -> None:
    # It lands two steps from the plate. Its direction is known to a degree; it starts half a metre ahead of the lines'
    # corner, which at 20 m is another degree.
    for direction_deg, ended in ((40.0, "fair"), (50.0, "foul"), (45.5, None)):
        x, y = np.sin(np.radians(direction_deg)), np.cos(np.radians(direction_deg))
        hit = flight((30 * x, 30 * y, -3.0), sd_mps=0.5)
        assert fair_or_foul(hit, landing(6 * x, PLATE_DEPTH_M + 6 * y)) == ended


def test_a_pitch_without_a_swing_is_a_take_and_counts_as_no_swing() -> None:
    take = unhit(LABEL, a_pitch(), "unseen", [THUD])
    assert take is not None
    assert (take.outcome, take.ended, take.reason, take.counts) == ("no_contact", "take", TAKEN, False)
    assert wording.outcome(take) == "let go"
    for doubtful in (
        replace(PITCH, frames=4),
        replace(PITCH, plate_x_m=(2.0, 0.1)),
        replace(PITCH, plate_x_m=None),
        replace(PITCH, plate_z_m=(0.05, 0.02)),
        replace(PITCH, speed_mps=(2.0, 0.1)),
    ):
        assert unhit(LABEL, a_pitch(doubtful), "unseen", [THUD]) is None


def test_a_ball_that_comes_back_soon_after_a_swing_is_no_pitch_that_was_let_go() -> None:
    # Source: nobody pitches again within 3 s (common practice, no source).
    swung, take = replace(MISS, ended="miss"), replace(MISS, ended="take")
    assert too_soon(basis_at(3.0, take), basis_at(1.0, swung))
    assert not too_soon(basis_at(9.0, take), basis_at(1.0, swung))
    assert not too_soon(basis_at(3.0, swung), basis_at(1.0, swung))


def basis_at(seen_s: float, ballless: Swing) -> Basis:
    end = passed_at(seen_s, 0.1)
    camera = Camera(np.zeros(11), np.zeros((11, 11)), (1920, 1080))
    return Basis(replace(LABEL, contact_s=seen_s), end, camera, 1 / 60, NO_TRACK, None, ballless)


def test_a_ball_that_flies_on_as_it_came_was_missed_unless_the_bat_was_heard_when_it_was_in_reach() -> None:
    missed = unhit(LABEL, a_pitch(), "on", [SWUNG])
    assert missed is not None
    assert (missed.outcome, missed.ended) == ("no_contact", "miss")
    tipped = unhit(LABEL, a_pitch(), "on", [CRACK, SWUNG])
    assert tipped is not None
    assert (tipped.outcome, tipped.ended, tipped.reason) == ("not_measured", "tip", TIPPED)
    # At 11 m/s the ball is 1.1 m behind the plate's front, in the mitt, a tenth of a second later.
    mitt = replace(CRACK, time_s=1.1)
    late = unhit(LABEL, a_pitch(), "on", [mitt, SWUNG])
    assert late is not None
    assert late.ended == "miss"


def test_a_ball_that_was_turned_is_a_tip_and_one_that_was_lost_past_the_bat_is_neither() -> None:
    turned = unhit(LABEL, a_pitch(), "turned", [SWUNG])
    assert turned is not None
    assert turned.ended == "tip"
    assert unhit(LABEL, a_pitch(), "unseen", [SWUNG]) is None


def test_a_miss_says_how_early_the_swing_was() -> None:
    # Source: the ball is over the plate's front at 1.0 s, the swing at its height at 0.95 s, known to 80 ms.
    numbers = timed(a_pitch(), [SWUNG])
    assert numbers.early_s is not None
    assert numbers.early_s[0] == pytest.approx(0.05)
    assert numbers.early_s[1] == pytest.approx(0.0801, abs=1e-4)
    assert timed(a_pitch(), [THUD]).early_s is None


def test_a_coach_reads_a_pitch_in_feet_inches_and_milliseconds() -> None:
    # Source: 2.75 m = 9.02 ft, 0.125 m = 4.9 in, 0.75 m = 29.5 in, 20 m/s = 44.7 mph; 1.645 sd to each side.
    swing = full_swing()
    assert wording.pitch_speed(swing, "us") == "44.7 ±0.9"
    assert wording.pitch_apex(swing, "us") == "9.0 ±0.3"
    assert wording.pitch_descent(swing) == "31.5 ±1.2"
    assert wording.pitch_place(swing, "us") == "5 L, 30 up ±4"
    assert wording.early(swing) == "12 before ±8"
    assert wording.early(replace(swing, early_s=-0.02)) == "20 after ±8"
    assert {wording.pitch_speed(MISS, "us"), wording.pitch_place(MISS, "us"), wording.early(MISS)} == {"-"}
