"""A pitch's numbers from its pixels, against flights by scipy seen through OpenCV."""

from dataclasses import replace

import numpy as np
import pytest

from balltrack.errors import FlightError
from balltrack.flight.fit import FlightFit
from balltrack.flight.path import Launch
from balltrack.flight.pitch import Known, PitchNumbers, fit_pitch, pitch_numbers
from balltrack.units import M_PER_FT
from tests.flight.pitched import HAND_M, Pitched, arc_velocity, fast_pitch, pitch, slow_pitch

NINE_IN_TEN = 1.645
PITCHES = 4  # of each kind and place


def fitted(made: Pitched) -> tuple[FlightFit, PitchNumbers]:
    """The fit from a first guess that is half a metre and a tenth of the speed off."""
    start = Launch(made.contact_m + np.array([0.3, 0.3, -0.2]), 1.1 * made.velocity_mps, 0.32)
    fit = fit_pitch(made.track, made.end, made.setting, start)
    return fit, pitch_numbers(fit, made.track, made.end, made.setting, 15.24)


def sds_off(known: Known | None, true: float) -> float:
    assert known is not None
    return (known[0] - true) / known[1]


def errors(numbers: PitchNumbers, made: Pitched) -> dict[str, float]:
    """How far each number is off, in its own standard deviations."""
    truth = made.truth
    return {
        "speed": sds_off(numbers.speed_mps, truth.first_speed_mps),
        "descent": sds_off(numbers.descent_deg, truth.descent_deg),
        "x": sds_off(numbers.plate_x_m, truth.plate_m[0]),
        "z": sds_off(numbers.plate_z_m, truth.plate_m[1]),
        "when": sds_off(numbers.plate_s, truth.plate_s),
        "early": sds_off(numbers.early_s, truth.early_s),
    }


@pytest.mark.parametrize("place", ["behind", "45 degrees", "side-on"])
@pytest.mark.parametrize("throw", [slow_pitch, fast_pitch])
def test_nine_in_ten_pitches_lie_within_what_is_stated(place: str, throw: object) -> None:
    assert callable(throw)
    rng = np.random.default_rng(20)
    off: list[float] = []
    for _ in range(PITCHES):
        made = pitch(rng, place, throw(rng), fps=20 if throw is slow_pitch else 40)
        _, numbers = fitted(made)
        off += errors(numbers, made).values()
    # 24 numbers a case, of 4 pitches: were they independent, fewer than 18 of 24 would come about once in 100 cases;
    # six of one pitch hang together. Beyond 4 sd none may lie: one in 16,000.
    assert np.mean(np.abs(off) < NINE_IN_TEN) >= 18 / 24
    assert np.max(np.abs(off)) < 4.0


def test_an_arc_whose_top_was_seen_is_known_to_centimetres() -> None:
    # Source: scipy's DOP853 for the true top. Half a pixel of noise at 8 m is 2.5 mm; marks and lens leave 2 cm.
    made = pitch(np.random.default_rng(3), "behind", arc_velocity(10 * M_PER_FT, 0.8, HAND_M))
    _, numbers = fitted(made)
    assert numbers.apex_m is not None
    assert numbers.apex_m[0] == pytest.approx(made.truth.apex_m, abs=0.06)
    assert numbers.apex_m[1] < 0.05


def test_the_top_of_an_arc_is_told_from_its_fall_but_not_from_its_last_moment() -> None:
    # A lob of 10 ft is at its top 0.7 s before it is hit: 0.4 s of its fall lead back 0.3 s, 0.2 s not 0.5.
    lob = arc_velocity(10 * M_PER_FT, 0.8, HAND_M)
    falling = pitch(np.random.default_rng(4), "behind", lob, seen_s=0.45)
    _, numbers = fitted(falling)
    assert abs(sds_off(numbers.apex_m, falling.truth.apex_m)) < 3.0
    last = pitch(np.random.default_rng(4), "behind", lob, fps=120, seen_s=0.2)
    assert fitted(last)[1].apex_m is None


def test_a_ball_thrown_downward_has_no_top_of_its_own() -> None:
    # Drawn back past the hand, the path rises on to a top behind the pitcher where the ball never was.
    made = pitch(np.random.default_rng(5), "45 degrees", np.array([0.0, -30.0, -0.2]))
    _, numbers = fitted(made)
    assert numbers.apex_m is None
    assert numbers.speed_mps is not None
    assert numbers.speed_mps[0] == pytest.approx(30.0, abs=1.0)  # within 2 mph; its own doubt is tested above


def test_a_contact_off_the_pitch_s_path_is_told() -> None:
    # Source: the contact is moved by hand, 30 cm toward first base, seven times what it is known to.
    made = pitch(np.random.default_rng(6), "behind", slow_pitch(np.random.default_rng(6)))
    beside = replace(made.end, position_m=made.contact_m + np.array([0.3, 0.0, 0.0]))
    fit = fit_pitch(made.track, beside, made.setting, Launch(made.contact_m, made.velocity_mps, 0.32))
    numbers = pitch_numbers(fit, made.track, beside, made.setting, 15.24)
    assert numbers.aside_m is not None
    assert numbers.aside_m[0] == pytest.approx(0.3, abs=3 * numbers.aside_m[1])
    assert numbers.aside_m[0] > 3 * numbers.aside_m[1]


def test_frames_in_which_the_hand_still_holds_the_ball_are_left_out() -> None:
    # Source: a hand that brings the ball to its speed in 0.1 s is, t before it lets go, v t^2 / (2 x 0.1 s) ahead of
    # the flight drawn back: at 60 frames a second 0.1, 0.6 and 1.3 % of a second's way in the three frames before.
    made = pitch(np.random.default_rng(8), "45 degrees", slow_pitch(np.random.default_rng(8)))
    centre, step_s = made.track.centre_px.copy(), 1 / 60
    a_second_px = (centre[4] - centre[3]) / step_s
    for row in range(3):
        centre[row] += a_second_px * ((3 - row) * step_s) ** 2 / (2 * 0.1)
    fit, numbers = fitted(replace(made, track=replace(made.track, centre_px=centre)))
    assert fit.outlier[:2].all()
    assert not fit.outlier[4:].any()
    assert numbers.first_s >= made.track.time_s[2]
    clean = fitted(made)[1]
    assert clean.first_s == made.track.time_s[0]
    # A twentieth of a second of gravity and drag changes the speed by less than 0.5 m/s.
    assert numbers.speed_mps is not None
    assert clean.speed_mps is not None
    assert numbers.speed_mps[0] == pytest.approx(clean.speed_mps[0], abs=0.5 + 2 * clean.speed_mps[1])


def test_three_frames_are_no_pitch() -> None:
    made = pitch(np.random.default_rng(7), "behind", slow_pitch(np.random.default_rng(7)))
    few = replace(made.track, used=np.arange(len(made.track.used)) < 3)
    with pytest.raises(FlightError, match="followed in 3 frames, at least 4"):
        fit_pitch(few, made.end, made.setting, Launch(made.contact_m, made.velocity_mps, 0.32))
