"""Examples from clips: the ball lies where the truth has it, in its box, and patches without a ball have none."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from balltrack.detect.network import Finds, Network, load_network, neighbours, shipped_weights
from balltrack.errors import RecordError
from balltrack.training.cut import USUAL_EXPOSURE_S, Cut, as_example, cut_swing, exposure_s
from balltrack.training.taught import Place, TaughtSwing, taught_swings
from balltrack.video.frames import read_frames
from tests.training.lessons import HITS, SAMPLE, measured_lesson, true_camera, true_flight

NAME = "01-tee/swing-01"


@pytest.fixture(scope="module")
def swing(tmp_path_factory: pytest.TempPathFactory) -> TaughtSwing:
    (found,) = taught_swings(measured_lesson(tmp_path_factory.mktemp("cut") / "my_lesson", (NAME,)))
    return found


@pytest.fixture(scope="module")
def cuts(swing: TaughtSwing) -> list[Cut]:
    return cut_swing(swing, np.random.default_rng(1))


def test_a_patch_is_the_picture_around_the_true_ball_with_its_neighbours_in_time(cuts: list[Cut]) -> None:
    frames = [(frame.time_s, frame.luma.copy()) for frame in read_frames(SAMPLE / "clips" / f"{NAME}.mp4")]
    times = np.array([time for time, _ in frames])
    balls = [cut for cut in cuts if cut.centre_px is not None]
    truth = true_flight(NAME)
    assert len(balls) == len(truth)
    for cut, ball in list(zip(balls, truth, strict=True))[::6]:
        assert cut.centre_px is not None
        now = int(np.argmin(np.abs(times - ball.frame_s)))
        u, v = np.rint(np.array([ball.u_px, ball.v_px]) - cut.centre_px).astype(int)
        for plane, k in zip(cut.frames, (neighbours(times, now)[0], now, neighbours(times, now)[1]), strict=True):
            np.testing.assert_array_equal(plane, frames[k][1][v : v + 128, u : u + 128])


def test_the_box_holds_the_disc_and_its_motion_while_the_shutter_was_open() -> None:
    # By hand: a disc of 10 px at (40, 50), 300 px/s right and 600 px/s up, 10 ms: 3 px and 6 px drawn out; pixel
    # centres are integers, so edges lie half a pixel further.
    cut = Cut(np.zeros((3, 128, 128), np.uint8), np.array([40.0, 50.0]), 10.0, np.array([300.0, -600.0]))
    box = as_example(cut, 0.01).box_px
    assert box == approx(np.array([[34.0, 42.5, 47.0, 58.5]]))
    edge = replace(cut, centre_px=np.array([2.0, 50.0]))
    assert as_example(edge, 0.01).box_px[0, 0] == 0.0


def test_patches_without_a_ball_keep_away_from_it(cuts: list[Cut], swing: TaughtSwing) -> None:
    empty = [cut for cut in cuts if cut.centre_px is None]
    assert len(empty) > 0.7 * len(swing.places)
    network = load_network(shipped_weights())
    finds = network.look(np.stack([cut.frames for cut in empty]), least_score=0.6)
    # The network that comes with the package sees nearly no ball in them; it sees nearly every ball in the others.
    assert np.mean([len(each) > 0 for each in finds]) < 0.1


def test_a_frame_without_a_ball_gives_patches_where_one_was_taken_for_it(swing: TaughtSwing) -> None:
    doubted = swing.places[4]
    assert doubted.centre_px is not None
    place = Place(doubted.time_s, None, np.nan, doubted.centre_px, 2)
    found = cut_swing(replace(swing, places=(place,)), np.random.default_rng(1))
    assert len(found) == 2
    assert all(len(as_example(cut, 0.001).box_px) == 0 for cut in found)


def test_a_row_without_its_frame_is_one_line_with_its_number(swing: TaughtSwing) -> None:
    stray = Place(99.0, np.array([100.0, 100.0]), 9.0, None, 7)
    with pytest.raises(RecordError, match=r"hand\.csv line 7: swing-01\.mp4 has no frame at 99 s"):
        cut_swing(replace(swing, places=(*swing.places, stray)), np.random.default_rng(1))


def test_a_track_of_another_clip_says_to_measure_again(swing: TaughtSwing) -> None:
    shifted = tuple(replace(place, time_s=place.time_s + 0.5 / 60) for place in swing.places)
    with pytest.raises(RecordError, match=r"does not fit swing-01\.mp4; measure the lesson again"):
        cut_swing(replace(swing, places=shifted), np.random.default_rng(1))


class Drawing(Network):
    """Finds in every patch what a network would that adds 1 px to each side of a streak of 2 ms."""

    def __init__(self, cuts: list[Cut]) -> None:
        self._cuts = iter(cuts)

    def look(self, patches: np.ndarray, least_score: float = 0.25) -> list[Finds]:
        return [self._find(cut) for cut, _ in zip(self._cuts, patches, strict=False)]

    @staticmethod
    def _find(cut: Cut) -> Finds:
        assert cut.centre_px is not None
        half = 0.5 * (cut.diameter_px + 1.0 + 0.002 * np.abs(cut.velocity_pxps))
        return Finds(np.concatenate([cut.centre_px - half, cut.centre_px + half])[None], np.array([0.9]))


def test_the_exposure_is_told_by_streaks_whatever_margin_their_boxes_have(cuts: list[Cut]) -> None:
    balls = [cut for cut in cuts if cut.centre_px is not None]
    assert exposure_s(Drawing(balls), balls) == approx(0.002, abs=1e-6)


def test_the_exposure_of_the_sample_is_found_by_the_network_that_comes_with_the_package(tmp_path: Path) -> None:
    swings = taught_swings(measured_lesson(tmp_path / "my_lesson", HITS[:3]))
    cuts = [cut for swing in swings for cut in cut_swing(swing, np.random.default_rng(1))]
    found = exposure_s(load_network(shipped_weights()), cuts)
    # Source: sample_clips/truth/camera.json. Balls cross up to 3000 px a second there: 0.5 ms is 1.5 px of a box.
    assert found == approx(true_camera()["exposure_s"], abs=0.0005)


def test_too_few_streaks_leave_the_usual_exposure(cuts: list[Cut]) -> None:
    balls = [cut for cut in cuts if cut.centre_px is not None]
    assert exposure_s(Drawing(balls), balls[:3]) == USUAL_EXPOSURE_S
    still = [replace(cut, velocity_pxps=np.array([3.0, 0.0])) for cut in balls]
    assert exposure_s(Drawing(still), still) == USUAL_EXPOSURE_S
    assert exposure_s(Drawing([]), []) == USUAL_EXPOSURE_S
