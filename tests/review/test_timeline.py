"""Each picture of a clip shows the instant that it should: by the frames' own times, slow around contact."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import VideoError
from balltrack.review.timeline import frames_at, swing_timeline, written_fps
from balltrack.video.clip import probe
from tests.video.encode import LOSSLESS, encode_luma, moving_square


@pytest.mark.parametrize(
    ("filmed_fps", "written"),
    [(30, 30), (60, 60), (50, 50), (120, 60), (240, 60), (100, 50), (25, 25), (60000 / 1001, Fraction(60000, 1001))],
)
def test_a_phone_can_show_the_written_rate_and_it_divides_the_filmed_one(filmed_fps: float, written: Fraction) -> None:
    assert written_fps(filmed_fps) == written


def test_a_swing_is_shown_slow_around_contact_and_else_as_it_was() -> None:
    timeline = swing_timeline(10.0, 0.0, 100.0, 60.0)
    instants_s = timeline.instants_s()
    # By hand: 0.45 s as it was, 0.3 s four times as long, 1.05 s as it was: 2.7 s, 162 pictures at 60 a second.
    assert len(instants_s) == 162
    assert instants_s[0] == pytest.approx(9.4)
    assert instants_s[27] == pytest.approx(9.85)  # 0.45 s later slow motion begins
    assert instants_s[27 + 36] == pytest.approx(10.0)  # another 0.6 s later: contact
    assert instants_s[-1] == pytest.approx(11.2 - 1 / 60)
    assert [timeline.speed_at(at) for at in (9.5, 9.9, 10.1, 10.2)] == [1.0, 0.25, 0.25, 1.0]


def test_where_frames_are_many_slow_motion_is_slower() -> None:
    assert swing_timeline(10.0, 0.0, 100.0, 240.0).speed_at(10.0) == 1 / 8


def test_a_clip_that_begins_late_or_ends_early_is_shown_as_far_as_it_goes() -> None:
    instants_s = swing_timeline(10.0, 9.9, 10.5, 60.0).instants_s()
    assert instants_s[0] == pytest.approx(9.9)
    assert instants_s[-1] <= 10.5


def test_a_contact_outside_the_clip_still_gives_a_picture() -> None:
    assert len(swing_timeline(50.0, 0.0, 1.0, 60.0).instants_s()) == 1


def test_the_nearest_frame_is_shown_though_the_rate_changes(tmp_path: Path) -> None:
    # Frames 5 to 9 come 70 ms late, as when a phone stalls: at 0, 40, 80, 120, 160, then 270, 310, ... ms.
    late = (
        "-vf",
        "settb=1/90000,setpts=PTS+gte(N\\,5)*0.07/TB",
        "-enc_time_base",
        "1/90000",
        "-fps_mode",
        "passthrough",
    )
    path = tmp_path / "late.mp4"
    encode_luma(path, moving_square(10), *late, *LOSSLESS, "-video_track_timescale", "90000", fps=25)
    instants_s = np.array([0.0, 0.019, 0.021, 0.2, 0.22, 0.27, 0.27])
    frames = list(frames_at(probe(path), instants_s))
    # By hand: 0.2 s is nearer to 0.16 s, 0.22 s nearer to 0.27 s.
    assert [round(frame.time_s, 3) for frame in frames] == [0.0, 0.0, 0.04, 0.16, 0.27, 0.27, 0.27]
    assert frames[5] is frames[6]


def test_instants_without_a_picture_are_refused_in_one_line(tmp_path: Path) -> None:
    path = encode_luma(tmp_path / "short.mp4", moving_square(10), *LOSSLESS)
    with pytest.raises(VideoError, match=r"no picture between 99\.80 and 100\.20 s"):
        list(frames_at(probe(path), np.array([100.0])))
