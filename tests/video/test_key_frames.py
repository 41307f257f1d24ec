"""Pictures stored whole, without those between them."""

from pathlib import Path

import numpy as np

from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from balltrack.video.key_frames import key_frames
from tests.video.encode import LOSSLESS, encode_luma, moving_square


def test_the_pictures_stored_whole_are_those_that_reading_all_gives_at_their_times(tmp_path: Path) -> None:
    info = probe(encode_luma(tmp_path / "square.mp4", moving_square(60), *LOSSLESS, "-g", "20", "-bf", "2"))
    whole = key_frames(info, 1.1)
    assert [round(frame.time_s * 30) for frame in whole] == [0, 20]  # one more at 40 lies after 1.1 s
    read = {frame.time_s: frame for frame in read_frames(info.path)}
    assert all(np.array_equal(frame.luma, read[frame.time_s].luma) for frame in whole)
