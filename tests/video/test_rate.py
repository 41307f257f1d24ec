"""Slow motion that is stored stretched: who says so, and what is believed."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from balltrack.video.sound import read_sound
from tests.video.encode import FLASH_S, LOSSLESS, RATE_HZ, encode_luma, flash_and_click, moving_square
from tests.video.tags import tagged

ANDROID = "com.android.capture.fps"
FULL_RATE = "com.apple.quicktime.full-frame-rate-playback-intent"


def test_a_capture_rate_that_a_person_enters_brings_a_stretched_clip_to_real_time(tmp_path: Path) -> None:
    path = flash_and_click(tmp_path / "slow.mp4", "-c:a", "aac", fps=60)
    info = probe(path, capture_fps=240)
    assert info.time_scale == 1 / 4
    assert "lesson.toml" in info.scale_told_by
    assert info.nominal_fps == pytest.approx(240)
    flash_s = next(f.time_s for f in read_frames(path, info=info) if f.luma.mean() > 130)
    sound = read_sound(path, info)
    assert sound is not None
    click_s = sound.start_s + int(np.argmax(np.abs(sound.samples))) / sound.rate_hz
    # A stretched file's click was FLASH_S of file time; 1 ms: AAC smears it.
    assert (flash_s, click_s) == pytest.approx((FLASH_S / 4, FLASH_S / 4), abs=0.001)
    assert sound.rate_hz == 4 * RATE_HZ


@pytest.mark.parametrize(("entered", "scale"), [(240.0, 1 / 8), (30.0, 1.0), (33.0, 1.0), (None, 1 / 4)])
def test_what_a_person_enters_goes_before_the_phones_tag(tmp_path: Path, entered: float | None, scale: float) -> None:
    path = encode_luma(tmp_path / "slow.mp4", moving_square(30), *LOSSLESS, *tagged({ANDROID: "120"}))
    assert probe(path, entered).time_scale == scale


def test_a_capture_rate_far_below_the_clips_own_is_not_used_and_said(tmp_path: Path) -> None:
    path = encode_luma(tmp_path / "fast.mp4", moving_square(30), *LOSSLESS, fps=120)
    info = probe(path, capture_fps=30)
    assert info.time_scale == 1.0
    assert any("holds 120 frames a second" in warning for warning in info.warnings)


def test_the_other_family_of_phones_keeps_real_time_and_warns_only_of_an_export(tmp_path: Path) -> None:
    intent = tagged({FULL_RATE: "0"})
    filmed = probe(encode_luma(tmp_path / "filmed.mov", moving_square(30), *LOSSLESS, *intent, fps=240))
    assert (filmed.time_scale, filmed.warnings) == (1.0, ())
    exported = encode_luma(tmp_path / "exported.mov", moving_square(30), *LOSSLESS, *intent, fps=30)
    assert any("capture_fps" in warning for warning in probe(exported).warnings)
    assert probe(exported, capture_fps=240).time_scale == 1 / 8
    assert probe(exported, capture_fps=240).warnings == ()


def test_a_rate_that_varies_is_told_from_a_steady_one(tmp_path: Path) -> None:
    steady = encode_luma(tmp_path / "steady.mp4", moving_square(40), *LOSSLESS)
    # One interval in four lasts a frame longer, as when a phone waits for light.
    late = ("-vf", "settb=1/90000,setpts=(N+floor(N/4))/30/TB", "-enc_time_base", "1/90000", "-fps_mode", "passthrough")
    uneven = encode_luma(tmp_path / "uneven.mp4", moving_square(40), *late, *LOSSLESS)
    assert (probe(steady).variable_rate, probe(uneven).variable_rate) == (False, True)
    # One frame in 1/30 s and one gap of 2/30 s every four: the file's own times, not the frame number.
    expected = [(n + n // 4) / 30 for n in range(40)]
    assert [f.time_s for f in read_frames(uneven)] == pytest.approx(expected, abs=1 / 90000)
