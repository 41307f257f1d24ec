"""Interlaced pictures: one instant each, nothing moved."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.video.clip import probe
from balltrack.video.fields import first_field
from balltrack.video.frames import read_frames
from tests.video.encode import encode_luma, moving_square

STEP_PX = 2  # by which moving_square moves from one instant to the next


@pytest.mark.parametrize(("scan", "first"), [("tff", 0), ("bff", 1)])
@pytest.mark.parametrize("name", ["camera.mp4", "camera.mts"])
def test_an_interlaced_clip_gives_its_first_field_and_says_so(
    tmp_path: Path, scan: str, first: int, name: str
) -> None:
    instants = moving_square(24)  # 50 instants a second make 25 pictures a second
    woven = ("-vf", f"interlace=scan={scan}:lowpass=off", "-flags", "+ilme+ildct")
    coder = ("-c:v", "libx264", "-qp", "0", "-x264-params", f"{scan}=1")
    path = encode_luma(tmp_path / name, instants, *woven, *coder, fps=50)
    info = probe(path)
    assert any("interlaced" in warning for warning in info.warnings)
    assert info.nominal_fps == pytest.approx(25)
    frames = list(read_frames(path))
    assert len(frames) == 12
    # Every picture starts with the field of an even instant: true lines come back byte for byte, and the others are
    # within a level of the slope's own (it rises by less than a level a line), away from the square's edges.
    for k, frame in enumerate(frames):
        assert np.array_equal(frame.luma[first::2], instants[2 * k, first::2])
        inside = frame.luma[12:24, 4 * k : 4 * k + 16].astype(int)
        assert inside.min() == inside.max() == 230  # no comb: the square is whole and where it was at that instant
    assert np.diff([f.time_s for f in frames]) == pytest.approx(2 / 50, abs=1e-4)


@pytest.mark.parametrize("rows", [2, 3, 4, 95, 96])
@pytest.mark.parametrize("top_first", [True, False])
def test_a_slope_stays_where_it_was(rows: int, top_first: bool) -> None:
    slope = np.repeat((2 * np.arange(rows) + 10).astype(np.uint8)[:, None], 8, axis=1)
    shown = first_field(slope, top_first)
    assert shown.shape == slope.shape
    assert np.array_equal(shown[1:-1] if rows >= 4 else shown[:0], slope[1:-1] if rows >= 4 else slope[:0])
    assert np.abs(shown.astype(int) - slope).max() <= 2  # the outermost line has no neighbour on one side
