"""Sound on the picture's clock."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balltrack.video.clip import probe
from balltrack.video.frames import read_frames
from balltrack.video.sound import Sound, read_sound
from tests.video.encode import (
    FLASH_S,
    LOSSLESS,
    RATE_HZ,
    encode_luma,
    ffmpeg,
    flash_and_click,
    moving_square,
    write_wave,
)


def _click_s(sound: Sound | None) -> float:
    assert sound is not None
    return sound.start_s + int(np.argmax(np.abs(sound.samples))) / sound.rate_hz


def _flash_s(path: Path) -> float:
    return next(f.time_s for f in read_frames(path) if f.luma.mean() > 130)


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("aac.mp4", ("-c:a", "aac")),
        ("aac.mov", ("-c:a", "aac")),
        ("pcm.mov", ("-c:a", "pcm_s16le")),
        ("float.mov", ("-c:a", "pcm_f32le")),
        ("opus.mkv", ("-c:a", "libopus")),
        ("mp3.mp4", ("-c:a", "libmp3lame")),
        ("no_edit_list.mp4", ("-c:a", "aac", "-use_editlist", "0")),
        ("negative.mp4", ("-c:a", "aac", "-avoid_negative_ts", "disabled", "-movflags", "negative_cts_offsets")),
        ("fragments.mp4", ("-c:a", "aac", "-movflags", "frag_keyframe+empty_moov")),
        ("transport.ts", ("-c:a", "aac")),
    ],
)
def test_a_flash_and_a_click_at_one_instant_agree(tmp_path: Path, name: str, args: tuple[str, ...]) -> None:
    path = flash_and_click(tmp_path / name, *args)
    sound, info = read_sound(path), probe(path)
    thorough = read_sound(path, replace(info, container="unknown"))  # opened as who decodes pictures opens it
    assert sound is not None and thorough is not None
    assert np.array_equal(sound.samples, thorough.samples)
    assert (sound.start_s, sound.rate_hz) == (thorough.start_s, thorough.rate_hz)
    # 2 ms: AAC smears a click over part of its window, Matroska keeps time to 1 ms.
    assert _click_s(sound) - _flash_s(path) == pytest.approx(0, abs=0.002)


def test_a_clip_cut_on_the_phone_keeps_sound_and_picture_together(tmp_path: Path) -> None:
    # A cut without re-encoding starts the sound before the picture's time zero, by an edit list.
    whole = flash_and_click(tmp_path / "whole.mp4", "-c:a", "aac", "-g", "10")
    cut = tmp_path / "cut.mp4"
    ffmpeg("-ss", "0.25", "-i", whole, "-c", "copy", cut)
    assert _click_s(read_sound(cut)) - _flash_s(cut) == pytest.approx(0, abs=0.002)


def test_a_late_sound_keeps_its_time(tmp_path: Path) -> None:
    clip = flash_and_click(tmp_path / "clip.mp4", "-c:a", "aac")
    late = tmp_path / "late.mov"
    ffmpeg("-i", clip, "-itsoffset", "0.25", "-i", clip, "-map", "0:v", "-map", "1:a", "-c", "copy", late)
    assert _click_s(read_sound(late)) == pytest.approx(FLASH_S + 0.25, abs=0.002)


def test_slow_motion_slows_the_sound_with_the_picture(tmp_path: Path) -> None:
    tag = ("-metadata", "com.android.capture.fps=240", "-movflags", "use_metadata_tags")
    path = flash_and_click(tmp_path / "slow.mp4", "-c:a", "aac", *tag, fps=60)
    sound = read_sound(path)
    assert sound is not None
    assert sound.rate_hz == 4 * RATE_HZ
    assert _click_s(sound) == pytest.approx(FLASH_S / 4, abs=0.001)
    assert _flash_s(path) == pytest.approx(FLASH_S / 4, abs=0.001)


def test_slow_motion_with_sound_at_real_speed_leaves_the_sound(tmp_path: Path) -> None:
    sound = write_wave(tmp_path / "s.wav", np.random.default_rng(5).normal(0, 0.01, RATE_HZ // 4))
    tag = ("-metadata", "com.android.capture.fps=240", "-movflags", "use_metadata_tags")
    path = encode_luma(tmp_path / "slow.mp4", moving_square(60), "-i", sound, *LOSSLESS, "-c:a", "aac", *tag, fps=60)
    heard = read_sound(path)
    assert heard is not None
    assert heard.rate_hz == RATE_HZ


@pytest.mark.parametrize("codec", ["pcm_u8", "pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_f32le", "pcm_f64le"])
def test_every_sample_type_has_full_scale_one(tmp_path: Path, codec: str) -> None:
    tone = 0.5 * np.sin(2 * np.pi * 440 * np.arange(RATE_HZ // 2) / RATE_HZ)
    wave = write_wave(tmp_path / "tone.wav", tone)
    path = encode_luma(tmp_path / "tone.mkv", moving_square(15), "-i", wave, *LOSSLESS, "-c:a", codec)
    sound = read_sound(path)
    assert sound is not None
    assert sound.samples.dtype == np.float32
    # One step of 8 bits is 1/128.
    assert np.abs(sound.samples[: len(tone)] - tone).max() < 0.01


def test_two_channels_are_averaged(tmp_path: Path) -> None:
    channels = np.repeat(np.array([[0.5, 0.1]]), RATE_HZ // 10, axis=0)
    wave = write_wave(tmp_path / "two.wav", channels)
    path = encode_luma(tmp_path / "two.mov", moving_square(3), "-i", wave, *LOSSLESS, "-c:a", "pcm_s16le")
    sound = read_sound(path)
    assert sound is not None
    assert sound.samples == pytest.approx(0.3, abs=0.001)


def test_a_hole_in_the_sound_is_silence_and_moves_nothing(tmp_path: Path) -> None:
    samples = np.zeros(RATE_HZ)
    samples[round(0.8 * RATE_HZ)] = 0.9
    wave = write_wave(tmp_path / "s.wav", samples)
    # Drop what lies between 0.3 and 0.5 s.
    hole = ("-af", "aselect=not(between(t\\,0.3\\,0.5))", "-c:a", "pcm_s16le")
    path = encode_luma(tmp_path / "hole.mkv", moving_square(30), "-i", wave, *LOSSLESS, *hole)
    assert _click_s(read_sound(path)) == pytest.approx(0.8, abs=0.002)


def test_a_sound_that_is_silent_from_end_to_end_is_none(tmp_path: Path) -> None:
    # As of a phone whose microphone may not be used; AAC leaves it below 80 dB under full scale.
    wave = write_wave(tmp_path / "s.wav", np.zeros(RATE_HZ // 2))
    assert read_sound(encode_luma(tmp_path / "mute.mp4", moving_square(15), "-i", wave, *LOSSLESS)) is None
    # A still room is about 60 dB under full scale: a sound, if a quiet one.
    quiet = write_wave(tmp_path / "q.wav", np.random.default_rng(6).normal(0, 1e-3, RATE_HZ // 2))
    assert read_sound(encode_luma(tmp_path / "quiet.mp4", moving_square(15), "-i", quiet, *LOSSLESS)) is not None


def test_of_two_sounds_the_first_is_heard(tmp_path: Path) -> None:
    clip = flash_and_click(tmp_path / "clip.mp4", "-c:a", "aac")
    hum = write_wave(tmp_path / "hum.wav", 0.5 * np.sin(np.arange(RATE_HZ) / 20))
    both = tmp_path / "both.mov"
    ffmpeg("-i", clip, "-i", hum, "-map", "0", "-map", "1", "-c:v", "copy", "-c:a", "aac", both)
    assert _click_s(read_sound(both)) == pytest.approx(FLASH_S, abs=0.002)


def test_a_second_sound_of_an_unknown_kind_does_no_harm(tmp_path: Path) -> None:
    clip = flash_and_click(tmp_path / "clip.mp4", "-c:a", "aac")
    both = tmp_path / "both.mov"
    ffmpeg("-i", clip, "-i", clip, "-map", "0:v", "-map", "0:a", "-map", "1:a", "-c", "copy", both)
    data = bytearray(both.read_bytes())
    first = data.index(b"mp4a", data.index(b"soun"))
    data[first : first + 4] = b"apax"  # a four-letter code that no decoder claims
    both.write_bytes(data)
    assert _click_s(read_sound(both)) == pytest.approx(FLASH_S, abs=0.002)


def test_no_sound_is_none(tmp_path: Path) -> None:
    assert read_sound(encode_luma(tmp_path / "mute.mp4", moving_square(3), *LOSSLESS)) is None
