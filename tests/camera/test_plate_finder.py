"""The plate finder on pictures drawn from known cameras: what it finds, how near, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from balltrack.camera.marks import Mark
from balltrack.camera.model import Camera, rotation_matrices
from balltrack.camera.plate_finder import Proposal, propose_marks, refine_mark
from balltrack.camera.solve import solve
from balltrack.units import Floats
from tests.camera.plate_scene import Look, draw
from tests.camera.scene import BEHIND, BOXES, OPEN_SIDE, PLATE, SIDE_ON, SIZE_PX, Truth, View, truth

PLACES = PLATE | BOXES
LOW = View((0.2, -5.0, 0.7), (0.0, 6.0, 0.9), PLACES)
VIEWS = {"behind": BEHIND, "45 degrees behind": OPEN_SIDE, "side-on": SIDE_ON, "low": LOW}
CLICK_PX = 0.8  # a careful click on a chalk edge: common practice, no source
# Over plate and half of what is round it, from the plate's middle to the left. [m]
HALF_PLATE_MAT = ((-0.5, -0.3), (-0.5, 0.9), (0.02, 0.9), (0.02, -0.3))


def errors_px(proposal: Proposal, filmed: Truth) -> Floats:
    """(n,) distance of every proposed mark from its true place, by OpenCV's projection."""
    true = filmed.see(np.array([PLACES[mark.name] for mark in proposal.marks]))
    off = np.array([mark.pixel_px for mark in proposal.marks]) - true
    return np.asarray(np.hypot(off[:, 0], off[:, 1]))


@pytest.mark.parametrize("view", VIEWS.values(), ids=VIEWS.keys())
def test_corners_are_found_nearer_than_a_careful_click(view: View) -> None:
    filmed = truth(view, k1=0.01)
    proposal = propose_marks(draw(filmed, Look()), "softball-12")
    errors = errors_px(proposal, filmed)
    assert len(errors) >= 10  # of 13; from the side a box's far corners are known too loosely
    assert np.median(errors) < CLICK_PX / 2
    assert np.max(errors) < 1.5 * CLICK_PX


def test_the_camera_solved_from_the_proposed_marks_alone_is_within_two_centimetres() -> None:
    # The limits are those that set-up must keep: 2 cm, 0.2 degrees, focal length to 1 %. No lens is stated.
    filmed = truth(BEHIND, k1=0.01)
    proposal = propose_marks(draw(filmed, Look()), "softball-12")
    camera = solve([Mark(mark.name, PLACES[mark.name], mark.pixel_px) for mark in proposal.marks], SIZE_PX).camera
    turn = camera.field_to_camera @ rotation_matrices(filmed.unknowns[:3]).T
    assert np.linalg.norm(camera.position_field_m - filmed.unknowns[3:6]) < 0.02
    assert np.degrees(np.arccos(min(1.0, (np.trace(turn) - 1) / 2))) < 0.2
    assert camera.focal_px == pytest.approx(filmed.unknowns[6], rel=0.01)


LOOKS = {
    "grass in low contrast": Look(ground=0.4, noise=3.0),
    "packed hard": Look(jpeg=50),
    "another tone curve": Look(gamma=1.8),
    "out of focus": Look(blur_px=1.6),
    "chalk kicked away": Look(chalk_share=0.7),
    "half of it in shadow": Look(shadow=True),
}


@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS.keys())
def test_corners_are_found_in_poor_pictures_and_their_sd_says_so(look: Look) -> None:
    filmed = truth(BEHIND, k1=-0.01)
    proposal = propose_marks(draw(filmed, look, seed=1), "softball-12")
    errors = errors_px(proposal, filmed)
    assert len(errors) >= 9  # the plate's five, and one box whole
    assert np.max(errors) < 2.0 * CLICK_PX
    # Errors of equal sd along u and v: 99.9 of 100 lie within sqrt(2 ln 1000) = 3.7 of them.
    assert np.max(errors / [mark.sd_px for mark in proposal.marks]) < 3.7


REFUSED = {
    "bare ground": Look(plate=False, boxes=()),
    "boxes without a plate": Look(plate=False),
    "a white towel": Look(plate=False, boxes=(), white_square=True),
    "a plate half covered, without boxes": Look(boxes=(), hidden=HALF_PLATE_MAT),
}


@pytest.mark.parametrize("look", REFUSED.values(), ids=REFUSED.keys())
def test_where_no_plate_stands_out_nothing_is_proposed_and_words_say_what_to_do(look: Look) -> None:
    proposal = propose_marks(draw(truth(BEHIND), look), "softball-12")
    assert proposal.marks == ()
    assert "click" in proposal.words


def test_covered_corners_are_left_out_and_the_others_are_right() -> None:
    filmed = truth(BEHIND)
    proposal = propose_marks(draw(filmed, Look(hidden=HALF_PLATE_MAT)), "softball-12")
    names = {mark.name for mark in proposal.marks}
    assert not names & {"plate_tip", "plate_left", "plate_front_left"}
    if names:
        assert np.max(errors_px(proposal, filmed)) < 1.5 * CLICK_PX


def test_a_lone_plate_is_proposed_with_its_five_corners() -> None:
    filmed = truth(BEHIND)
    proposal = propose_marks(draw(filmed, Look(boxes=())), "softball-12")
    assert {mark.name for mark in proposal.marks} == set(PLATE)
    assert np.max(errors_px(proposal, filmed)) < CLICK_PX


def camera_of(filmed: Truth) -> Camera:
    parameters = np.append(filmed.unknowns, 0.012)
    return Camera(parameters, np.zeros((11, 11)), SIZE_PX)


@pytest.mark.parametrize("name", ["plate_tip", "plate_front_left", "left_box_outer_back", "right_box_inner_front"])
def test_a_click_is_moved_to_the_corner(name: str) -> None:
    filmed = truth(BEHIND)
    true = filmed.see(np.array([PLACES[name]]))[0]
    click = true + np.array([3.0, -2.0])
    mark = refine_mark(draw(filmed, Look()), name, (click[0], click[1]), camera_of(filmed))
    assert mark is not None
    assert np.hypot(*(np.array(mark.pixel_px) - true)) < CLICK_PX / 2


def test_a_click_is_left_alone_before_there_is_a_camera() -> None:
    filmed = truth(BEHIND)
    true = filmed.see(np.array([PLATE["plate_front_left"]]))[0]
    assert refine_mark(draw(filmed, Look()), "plate_front_left", (true[0] + 2.0, true[1] + 1.0)) is None


def test_a_click_where_there_is_no_corner_is_left_alone() -> None:
    filmed = truth(BEHIND)
    still, camera = draw(filmed, Look()), camera_of(filmed)
    middle = filmed.see(np.array([[0.0, 0.22, 0.0]]))[0]  # of the white plate
    assert refine_mark(still, "plate_tip", (middle[0], middle[1]), camera) is None
    assert refine_mark(still, "plate_tip", (300.0, 900.0), camera) is None  # bare ground
    assert refine_mark(still, "pitchers_plate_front", (middle[0], middle[1]), camera) is None
    assert refine_mark(still, "plate_tip", (-5.0, 900.0), camera) is None


def test_a_click_above_the_horizon_is_left_alone() -> None:
    filmed = truth(replace(BEHIND, looks_at_m=(0.0, 6.0, 1.2)))
    assert refine_mark(draw(filmed, Look()), "plate_tip", (960.0, 20.0), camera_of(filmed)) is None
