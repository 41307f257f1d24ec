"""The network against pictures painted by another method than those it was trained on (tests/track/painted.py)."""

import pickle
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from balltrack.detect.network import Finds, Network, load_network, neighbours, shipped_weights
from balltrack.errors import DetectorError
from tests.track.painted import OPTIC, WHITE, Ball, Scene, paint

SCENE = Scene()
RED = (0.35, 0.03, 0.03)
STEP_PX = np.array([14.0, -9.0])  # from frame to frame


@pytest.fixture(scope="module")
def network() -> Network:
    return load_network()


def seen(network: Network, ball: Ball, step_px: np.ndarray = STEP_PX, scene: Scene = SCENE, seed: int = 0) -> Finds:
    """What is found in the middle of three frames; the ball moves by ``step_px`` from one to the next."""
    planes = []
    for k in (-1, 0, 1):
        u, v = np.array(ball.centre_px) + k * step_px
        moved = Ball((float(u), float(v)), ball.diameter_px, ball.streak_px, ball.colour)
        planes.append(paint(scene, (moved,), 3 * seed + k + 1).luma)
    before, now, after = planes
    return network.find(before, now, after)


@pytest.mark.parametrize("colour", [OPTIC, WHITE, RED])
@pytest.mark.parametrize("diameter_px", [6.0, 10.0, 20.0, 32.0])
def test_a_flying_ball_is_found_where_it_is_whatever_its_colour(
    network: Network, diameter_px: float, colour: tuple[float, float, float]
) -> None:
    finds = seen(network, Ball((80.3, 79.6), diameter_px, colour=colour))
    assert len(finds) == 1
    # Cells of 4 px, and boxes that are learnt: a tenth of the ball and a pixel.
    assert finds.centre_px[0] == approx([80.3, 79.6], abs=1.0 + 0.1 * diameter_px)
    assert np.mean(finds.box_px[0, 2:] - finds.box_px[0, :2]) == approx(diameter_px, abs=2.0 + 0.15 * diameter_px)


def test_the_box_of_a_streak_is_as_long_as_ball_and_run_together(network: Network) -> None:
    finds = seen(network, Ball((80.0, 80.0), 12.0, streak_px=(18.0, 0.0)), np.array([36.0, 0.0]))
    assert len(finds) == 1
    sides = finds.box_px[0, 2:] - finds.box_px[0, :2]
    assert sides == approx([30.0, 12.0], abs=4.0)  # a cell


@pytest.mark.parametrize("diameter_px", [8.0, 16.0])
def test_a_ball_at_rest_is_not_found(network: Network, diameter_px: float) -> None:
    assert len(seen(network, Ball((80.0, 80.0), diameter_px), np.zeros(2))) == 0


def test_an_empty_field_holds_no_ball(network: Network) -> None:
    planes = [paint(SCENE, (), seed).luma for seed in range(3)]
    assert len(network.find(planes[0], planes[1], planes[2])) == 0


def test_time_may_run_backwards(network: Network) -> None:
    ball = Ball((80.0, 80.0), 14.0)
    forth, back = seen(network, ball), seen(network, ball, -STEP_PX)
    assert forth.centre_px[0] == approx(back.centre_px[0], abs=1.0)


def test_a_picture_of_any_size_will_do(network: Network) -> None:
    finds = seen(network, Ball((100.0, 50.0), 12.0), scene=Scene(size_px=(202, 98)))
    assert len(finds) == 1
    assert finds.centre_px[0] == approx([100.0, 50.0], abs=2.0)


def test_a_network_goes_to_another_process_as_its_file(network: Network) -> None:
    again = pickle.loads(pickle.dumps(network))
    assert again.name == network.name
    assert len(seen(again, Ball((80.0, 80.0), 14.0))) == 1


def test_the_shipped_weights_are_small_and_there() -> None:
    assert shipped_weights().stat().st_size < 2e6  # "a few MB" would do


@pytest.mark.parametrize("content", [b"", b"not a network", None])
def test_weights_that_are_none_are_refused_in_one_line(tmp_path: Path, content: bytes | None) -> None:
    file = tmp_path / "ball.onnx"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(DetectorError) as caught:
        load_network(file)
    assert "ball.onnx" in str(caught.value)
    assert "\n" not in str(caught.value)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(1 / 300, 1 / 20), min_size=2, max_size=40), st.data())
def test_neighbours_lie_on_either_side_and_none_lies_nearer_to_a_sixtieth(
    gaps: list[float], data: st.DataObject
) -> None:
    times = np.cumsum(gaps)
    index = data.draw(st.integers(0, len(times) - 1))
    before, after = neighbours(times, index)
    assert before <= index <= after
    if index > 0:
        assert before < index
        assert abs(times[index] - times[before] - 1 / 60) <= np.abs(times[index] - times[:index] - 1 / 60).min() + 1e-12
    if index < len(times) - 1:
        assert after > index
