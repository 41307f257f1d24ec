"""Truth comes from OpenCV's own warping and projection, which the code under test does not use."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from balltrack.camera.drift import MarkedStill, sway_px, turned
from balltrack.camera.model import Camera

WIDTH, HEIGHT = 960, 540
MIDDLE = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2])


def field(seed: int) -> NDArray[np.uint8]:
    """A picture with form at all scales, as ground and trees have."""
    rng = np.random.default_rng(seed)
    total = np.zeros((HEIGHT, WIDTH), np.float32)
    for grain in (2, 5, 12, 40):
        small = rng.normal(0, 1, (HEIGHT // grain + 2, WIDTH // grain + 2)).astype(np.float32)
        total += grain**0.5 * cv2.resize(small, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    return np.clip(120 + 12 * total, 0, 255).astype(np.uint8)


CAMERA = Camera(
    np.array([1.75, 0.1, -0.05, 0.3, -6.0, 1.5, 900.0, -0.02, MIDDLE[0] + 3, MIDDLE[1] - 2, 0.01]),
    np.zeros((11, 11)),
    (WIDTH, HEIGHT),
)


def seen_after(picture: NDArray[np.uint8], turn: tuple[float, float, float]) -> NDArray[np.uint8]:
    """What the lens shows after the turn: each pixel's ray, by OpenCV's own lens model, looked up before the turn."""
    lens = np.array([[900.0, 0, CAMERA.parameters[8]], [0, 900.0, CAMERA.parameters[9]], [0, 0, 1]])
    bend = np.array([-0.02, 0, 0, 0])
    grid = np.stack(np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT)), axis=-1).reshape(-1, 1, 2).astype(np.float64)
    plane = cv2.undistortPoints(grid, lens, bend).reshape(-1, 2)
    rays = np.concatenate([plane, np.ones((len(plane), 1))], axis=1)
    back = cv2.Rodrigues(-np.array(turn))[0]
    before = cv2.projectPoints(rays @ back.T, np.zeros(3), np.zeros(3), lens, bend)[0].reshape(HEIGHT, WIDTH, 2)
    u, v = before[..., 0].astype(np.float32), before[..., 1].astype(np.float32)
    return np.asarray(cv2.remap(picture, u, v, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT), np.uint8)


@settings(max_examples=12, deadline=None)
@given(st.floats(-0.03, 0.03), st.floats(-0.04, 0.04), st.floats(-0.02, 0.02))
def test_a_turn_of_the_phone_is_found_to_a_tenth_of_a_pixel(nod: float, pan: float, roll: float) -> None:
    picture = field(1)
    found = MarkedStill(picture).drift(seen_after(picture, (nod, pan, roll)), CAMERA)
    assert found is not None
    # A tenth of a pixel in the middle, and for the roll at the picture's rim; one focal length is 900 px.
    assert found.turn_rad[:2] == pytest.approx([nod, pan], abs=0.1 / 900)
    assert found.turn_rad[2] == pytest.approx(roll, abs=0.1 / 480)
    assert found.size_px == pytest.approx(900 * np.hypot(nod, pan), abs=0.8)  # the middle is 3 px off the axis


def test_a_batter_who_moved_and_another_light_do_not_count_as_a_turn() -> None:
    picture = field(2)
    now = picture.copy()
    now[150:500, 300:520] = field(3)[150:500, 300:520]
    found = MarkedStill(picture).drift(np.clip(0.8 * now + 20, 0, 255).astype(np.uint8), CAMERA)
    assert found is not None
    assert found.size_px < 0.1


@pytest.mark.parametrize("pan", [0.0002, -0.0006])
def test_a_turn_by_a_part_of_a_pixel_is_told_whether_few_corners_suffice_or_not(pan: float) -> None:
    picture = field(6)
    found = MarkedStill(picture).drift(seen_after(picture, (0.0, pan, 0.0)), CAMERA)
    assert found is not None
    assert found.size_px == pytest.approx(900 * abs(pan), abs=0.05)  # 0.18 and 0.54 px


def test_another_place_is_not_taken_for_a_turn() -> None:
    assert MarkedStill(field(4)).drift(field(5), CAMERA) is None


def test_a_picture_without_form_is_compared_with_nothing() -> None:
    assert MarkedStill(np.full((HEIGHT, WIDTH), 90, np.uint8)).drift(field(5), CAMERA) is None


def test_the_turned_camera_turns_about_its_own_place() -> None:
    after = turned(CAMERA, np.array([0.01, -0.02, 0.003]))
    assert after.position_field_m == pytest.approx(CAMERA.position_field_m)
    step = after.field_to_camera @ CAMERA.field_to_camera.T
    assert cv2.Rodrigues(step)[0].ravel() == pytest.approx([0.01, -0.02, 0.003], abs=1e-9)


def noisy(picture: NDArray[np.uint8], seed: int) -> NDArray[np.uint8]:
    """With the grain of a phone's picture."""
    grain = np.random.default_rng(seed).normal(0, 3, picture.shape)
    return np.clip(picture + grain, 0, 255).astype(np.uint8)


def test_a_phone_that_sways_is_told_by_how_far() -> None:
    pans = [0.0, 0.001, -0.0015, 0.0005]
    pictures = [noisy(seen_after(field(6), (0.0, pan, 0.0)), k) for k, pan in enumerate(pans)]
    # One focal length is 900 px; a corner is followed to a tenth of a pixel, and many are asked.
    assert sway_px(pictures) == pytest.approx(900 * 0.0025, abs=0.15)


def test_a_batter_who_moves_before_a_phone_that_stands_is_no_sway() -> None:
    pictures = []
    for k, left in enumerate((500, 520, 560, 640)):
        picture = field(7)
        picture[100:540, left : left + 300] = field(8)[100:540, 300:600]
        pictures.append(noisy(picture, k))
    assert sway_px(pictures) == 0.0


def test_an_empty_wall_tells_of_no_sway() -> None:
    assert sway_px([np.full((HEIGHT, WIDTH), 120, np.uint8)] * 3) == 0.0
