"""Pictures from which no other is predicted need no decoding where nobody asks for them; others come as they are."""

import av
import numpy as np
import pytest

from balltrack.video.clip import ClipInfo, probe
from balltrack.video.frames import Frame, read_frames, read_sparingly
from balltrack.video.sparing import Sparing
from tests.video.encode import encode_luma, moving_square

FPS, COUNT = 60, 90
APART_S = 1.02 / 30  # every second picture may be missing, and no more
CLOSELY_S = (0.6, 0.9)
KINDS = {
    "H.264, three pictures between": ("libx264", "-x264-params", "bframes=3:b-adapt=0:b-pyramid=normal"),
    "H.264, one picture between": ("libx264", "-x264-params", "bframes=1:b-adapt=0"),
    "H.264, none between": ("libx264", "-x264-params", "bframes=0"),
    "HEVC, three pictures between": ("libx265", "-x265-params", "bframes=3:b-adapt=0:log-level=error"),
    "HEVC, none between": ("libx265", "-x265-params", "bframes=0:log-level=error"),
}


@pytest.fixture(scope="module", params=KINDS)
def info(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> ClipInfo:
    path = tmp_path_factory.mktemp("sparing") / "square.mp4"
    return probe(encode_luma(path, moving_square(COUNT, 320), "-c:v", *KINDS[request.param], "-g", "40", fps=FPS))


def stays(info: ClipInfo) -> bool:
    """Whether others are predicted from all pictures, so that none may go."""
    with av.open(str(info.path)) as container:
        return not container.streams.video[0].codec_context.has_b_frames


def identical(one: Frame, other: Frame) -> bool:
    return one.time_s == other.time_s and np.array_equal(one.luma, other.luma) and np.array_equal(one.cb, other.cb)


def test_no_picture_that_is_asked_for_is_lost_or_changed(info: ClipInfo) -> None:
    whole = {frame.time_s: frame for frame in read_frames(info.path, info=info)}
    assert len(whole) == COUNT
    spared = list(read_sparingly(info, [CLOSELY_S], APART_S))
    assert all(identical(frame, whole[frame.time_s]) for frame in spared)
    asked = [time_s for time_s in whole if CLOSELY_S[0] <= time_s < CLOSELY_S[1]]
    assert len(asked) == 18  # 0.3 s at 60 frames/s
    assert set(asked) <= {frame.time_s for frame in spared}
    assert np.diff([frame.time_s for frame in spared]).max() <= APART_S
    if stays(info):
        assert len(spared) == COUNT
    else:
        # Of those outside, every second or third may go.
        assert len(asked) + 0.4 * (COUNT - len(asked)) <= len(spared) <= len(asked) + 0.8 * (COUNT - len(asked))


def test_a_stretch_begins_with_the_same_pictures_as_the_whole_shows_there(info: ClipInfo) -> None:
    whole = list(read_frames(info.path, info=info))
    for start_s in (0.3, 0.517, 1.1):
        part = list(read_frames(info.path, start_s, 1.3, info=info))
        asked = [frame for frame in whole if start_s <= frame.time_s < 1.3]
        assert len(part) == len(asked)
        assert all(identical(one, other) for one, other in zip(part, asked, strict=True))


def test_a_picture_may_go_if_those_beside_it_are_known_and_near() -> None:
    sparing = Sparing([(1.0, 2.0)], 0.1)
    stored_s = [0.0, 0.2, 0.1, 0.05, 0.15, 1.06, 1.02, 1.04]
    gone_s = [time_s for time_s in stored_s if sparing.may_go(time_s)]
    # 0.1 stays, for 0 and 0.2 are too far apart; the last ones lie in the stretch.
    assert gone_s == [0.05, 0.15]
