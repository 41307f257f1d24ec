"""The projection against OpenCV's, against its own inverse, and at its edges."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balltrack.camera.model import (
    Camera,
    apparent_diameter_px,
    depths_m,
    focal_of_fov_px,
    fov_of_focal_rad,
    points_in_camera_m,
    project,
    project_parameters,
    rays_field,
    rotation_matrices,
    row_delay_s,
)
from balltrack.errors import ShapeError
from balltrack.units import Floats
from tests.camera.scene import BEHIND, SIDE_ON, SIZE_PX, truth


def camera(k1: float = 0.0, view: object = BEHIND) -> Camera:
    filmed = truth(BEHIND if view is BEHIND else SIDE_ON, k1=k1, centre_off_px=(7.0, -5.0))
    return Camera(np.append(filmed.unknowns, 0.015), np.zeros((11, 11)), SIZE_PX)


def air_points(count: int = 200) -> Floats:
    return np.random.default_rng(3).uniform([-8.0, 0.5, 0.0], [4.0, 40.0, 8.0], (count, 3))


@given(st.lists(st.floats(-6.2, 6.2), min_size=3, max_size=3))
def test_rotations_are_those_of_opencv(vector: list[float]) -> None:
    # Source: cv2.Rodrigues. 1e-12: rounding.
    expected = cv2.Rodrigues(np.array(vector))[0]
    assert rotation_matrices(np.array(vector)) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("k1", [-0.1, 0.0, 0.08])
@pytest.mark.parametrize("view", [BEHIND, SIDE_ON])
def test_pixels_are_those_of_opencv(k1: float, view: object) -> None:
    # Source: cv2.projectPoints with the same camera. 1e-6 px: rounding.
    filmed = truth(BEHIND if view is BEHIND else SIDE_ON, k1=k1, centre_off_px=(7.0, -5.0))
    pixels = project(air_points(), camera(k1, view))
    seen = np.isfinite(pixels[:, 0])
    assert seen.sum() > 100
    assert pixels[seen] == pytest.approx(filmed.see(air_points())[seen], abs=1e-6)


@pytest.mark.parametrize(
    ("plane", "k1_only_px"),
    # Source: hand calculation of u = f x (1 + k1 (x² + y²)) + cx with OpenCV's published left camera
    # (f 535.91573, cx 342.28315, cy 235.57083, k1 -.26637261): (.1, .2): 1 + k1 * .05 = .98668137.
    [((0.1, 0.2), (395.16097, 341.32639))],
)
def test_first_distortion_term_matches_a_hand_calculation(
    plane: tuple[float, float], k1_only_px: tuple[float, float]
) -> None:
    parameters = np.array([0, 0, 0, 0, 0, 0, 535.91573, -0.26637261, 342.28315, 235.57083, 0.0])
    pixel = project_parameters(np.array([[*plane, 1.0]]), parameters)[0]
    assert pixel == pytest.approx(k1_only_px, abs=1e-3)


def test_many_cameras_at_once_give_what_each_gives_alone() -> None:
    parameters = camera(0.05).parameters + np.random.default_rng(0).normal(0, 1e-3, (25, 11))
    together = project_parameters(air_points(), parameters)
    assert together.shape == (25, 200, 2)
    for i in (0, 11, 24):
        assert together[i] == pytest.approx(project_parameters(air_points(), parameters[i]), abs=1e-9, nan_ok=True)


def test_each_camera_can_have_points_of_its_own() -> None:
    parameters = np.tile(camera().parameters, (5, 1))
    points = air_points().reshape(5, 40, 3)
    assert project_parameters(points, parameters).reshape(-1, 2) == pytest.approx(project(air_points(), camera()))


def test_points_behind_the_lens_have_no_pixel() -> None:
    behind = np.array([[0.3, -6.0, 1.5], [0.0, -30.0, 1.0]])
    assert np.isnan(project(behind, camera())).all()
    assert np.isnan(apparent_diameter_px(behind, camera().parameters, 0.1)).all()
    assert (depths_m(behind, camera().parameters) < 0).all()


def test_points_past_the_turn_of_the_distortion_have_no_pixel() -> None:
    # r (1 + k1 r²) turns back at r = 1/sqrt(-3 k1): 1.054 for k1 = -0.3. At r = 1.6 the bare formula would put the
    # point at r_d = 0.37, well inside the picture.
    parameters = np.array([0, 0, 0, 0, 0, 0, 1600, -0.3, 959.5, 539.5, 0.0])
    points = np.array([[1.04, 0.0, 1.0], [1.07, 0.0, 1.0], [1.6, 0.0, 1.0]])
    assert np.isnan(project_parameters(points, parameters)[:, 0]).tolist() == [False, True, True]
    assert np.isnan(apparent_diameter_px(points, parameters, 0.1)).tolist() == [False, True, True]


@settings(max_examples=60)
@given(st.floats(-0.25, 0.25), st.floats(0, 1919), st.floats(0, 1079))
def test_a_ray_through_a_pixel_comes_back_to_it(k1: float, u: float, v: float) -> None:
    eye = camera(k1)
    ray = rays_field(np.array([[u, v]]), eye)
    assert np.linalg.norm(ray) == pytest.approx(1.0)
    back = project(eye.position_field_m + 12.0 * ray, eye)
    assert back[0] == pytest.approx([u, v], abs=1e-6)  # rounding, magnified by 1600 px


def test_a_pixel_that_the_lens_cannot_reach_has_no_ray() -> None:
    # k1 = -0.5 reaches r_d = 2/3 / sqrt(1.5) = 0.544 at most: 871 px from the centre at 1600 px focal length.
    rays = rays_field(np.array([[959.5 + 7 + 860.0, 534.5], [959.5 + 7 + 880.0, 534.5]]), camera(-0.5))
    assert np.isfinite(rays[0]).all()
    assert np.isnan(rays[1]).all()


@pytest.mark.parametrize("place", [(0.0, 3.0, 1.5), (-2.0, 4.0, 3.0), (1.5, -3.5, 1.0)])
@pytest.mark.parametrize("k1", [-0.05, 0.05])
def test_ball_covers_as_many_pixels_as_its_projected_outline(place: tuple[float, float, float], k1: float) -> None:
    # Source: the outline itself, traced: the cone of rays that touch the sphere, projected by OpenCV; its area by the
    # shoelace formula. 0.1 %: the distortion's stretch is taken at the centre.
    filmed, diameter_m = truth(BEHIND, k1=k1), 0.097
    line = np.subtract(place, BEHIND.position_field_m)
    distance = np.linalg.norm(line)
    a = np.cross(line, [0.0, 0.0, 1.0])
    a /= np.linalg.norm(a)
    b = np.cross(line / distance, a)
    sine = 0.5 * diameter_m / distance
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)[:, None]
    ring = 0.5 * diameter_m * np.sqrt(1 - sine**2) * (np.cos(turn) * a + np.sin(turn) * b)
    touching = np.array(place) - 0.5 * diameter_m * sine * line / distance + ring
    u, v = filmed.see(touching).T
    area = 0.5 * abs(np.sum(u * np.roll(v, -1) - v * np.roll(u, -1)))
    ours = apparent_diameter_px(np.array([place]), np.append(filmed.unknowns, 0.0), diameter_m)[0]
    assert ours == pytest.approx(2 * np.sqrt(area / np.pi), rel=1e-3)


def test_on_the_axis_the_ball_is_as_wide_as_its_cone() -> None:
    # Closed form: 2 f tan(asin(D / 2d)).
    parameters = np.array([0, 0, 0, 0, 0, 0, 1600, 0.03, 959.5, 539.5, 0.0])
    expected = 2 * 1600 * np.tan(np.arcsin(0.05 / 4.0))
    assert apparent_diameter_px(np.array([[0.0, 0.0, 4.0]]), parameters, 0.1)[0] == pytest.approx(expected, rel=1e-12)


def test_field_of_view_and_focal_length_are_inverse() -> None:
    # Source: HFOV = 2 atan(18 / f35) with f35 = 26 mm: 69.39 degrees; 1920 px wide: 26/36 * 1920 px.
    assert focal_of_fov_px(np.radians(69.390), 1920) == pytest.approx(26 / 36 * 1920, abs=0.05)
    assert fov_of_focal_rad(focal_of_fov_px(1.1, 1920), 1920) == pytest.approx(1.1)


def test_rows_are_exposed_one_after_the_other() -> None:
    assert row_delay_s(np.array([0.0, 540.0, 1080.0]), camera()) == pytest.approx([0.0, 0.0075, 0.015])


def test_camera_says_what_it_is() -> None:
    eye = camera()
    assert eye.position_field_m == pytest.approx(BEHIND.position_field_m)
    assert (eye.focal_px, eye.readout_s) == (1600.0, 0.015)
    local = points_in_camera_m(air_points(), eye.parameters)
    assert local == pytest.approx((air_points() - eye.position_field_m) @ eye.field_to_camera.T)


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(ShapeError, match="points"):
        project_parameters(np.zeros((4, 2)), camera().parameters)
    with pytest.raises(ShapeError, match="parameters"):
        project_parameters(np.zeros((4, 3)), np.zeros(10))
    with pytest.raises(ShapeError, match="pixels"):
        rays_field(np.zeros(2), camera())
