"""A clip of another place than the marked one: measured, with a word and a picture by which a person can tell."""

import shutil
from pathlib import Path

import cv2
import numpy as np

from balltrack.camera.apart import GAP_PX, SIDE_PX, STRIP_PX
from balltrack.lesson import load_lesson
from balltrack.measure import measure_clip
from balltrack.setup import UNMATCHED, prepare
from tests.video.encode import encode_luma

SAMPLE = Path(__file__).parents[1] / "sample_clips"


def test_a_clip_of_another_place_is_measured_but_comes_with_both_pictures(tmp_path: Path) -> None:
    block = tmp_path / "clips" / "01-tee"
    block.mkdir(parents=True)
    shutil.copy(SAMPLE / "lesson.toml", tmp_path)
    shutil.copy(SAMPLE / "clips" / "01-tee" / "swing-03.mp4", block / "1.mp4")
    rng = np.random.default_rng(4)
    elsewhere = np.kron(rng.integers(40, 200, (36, 64), np.uint8), np.ones((30, 30), np.uint8))
    encode_luma(block / "2.mp4", np.repeat(elsewhere[None], 20, axis=0), "-pix_fmt", "yuv420p", fps=60)
    setup = prepare(load_lesson(tmp_path))
    result = measure_clip(setup.lesson.clips[1], setup)
    assert UNMATCHED in result.note
    assert setup.still is not None
    picture = cv2.imdecode(np.frombuffer(result.apart_jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    # Of 255 levels, on average: JPEG and the clip's own compression cost a few.
    left = picture[STRIP_PX:-STRIP_PX, :SIDE_PX].astype(int)
    assert np.abs(left - cv2.resize(setup.still.luma, left.shape[::-1], interpolation=cv2.INTER_AREA)).mean() < 4
    right = picture[STRIP_PX:-STRIP_PX, SIDE_PX + GAP_PX :].astype(int)
    assert np.abs(right - cv2.resize(elsewhere, right.shape[::-1], interpolation=cv2.INTER_AREA)).mean() < 6
