"""One clip gone through once: which of its frames are at hand afterwards."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.contact import sound_delay_s
from balltrack.lesson import Clip
from balltrack.take import Near, Take, watch
from balltrack.video.clip import probe
from tests.test_contact import SIZE_PX, camera_at
from tests.video.encode import RATE_HZ, encode_luma, moving_square, write_wave

FPS, SECONDS = 30, 6
CRACK_S, SOUND_MPS = 1.5, 343.0
NEAR = Near((-0.35, 1.5), (-0.15, 1.7))


def taken(folder: Path, *sound: str | Path) -> Take:
    luma = moving_square(FPS * SECONDS, *SIZE_PX)
    options = "-c:v libx264 -preset veryfast -crf 34 -bf 2 -c:a aac"
    path = encode_luma(folder / "clip.mp4", luma, *sound, *options.split(" "), fps=FPS)
    return watch(Clip(path, path.name, "01-tee", "tee"), probe(path), camera_at("behind"), SOUND_MPS, NEAR)


def at_hand(take: Take, start_s: float) -> list[float]:
    return [frame.time_s for stretch in take.head.since(start_s) for frame in stretch]


def test_frames_about_a_crack_are_at_hand_and_those_far_from_it_are_not(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    samples = rng.normal(0, 0.001, SECONDS * RATE_HZ)
    at = round(CRACK_S * RATE_HZ)
    samples[at : at + 240] += 0.8 * np.exp(-np.arange(240) / 60) * rng.choice([-1, 1], 240)
    take = taken(tmp_path, "-i", write_wave(tmp_path / "crack.wav", samples))
    contact_s = CRACK_S - sound_delay_s(camera_at("behind"), SOUND_MPS)
    assert [cue.time_s for cue in take.cues if cue.heard] == pytest.approx([contact_s], abs=0.01)
    first, *_, last = at_hand(take, contact_s - 0.3)
    assert first == pytest.approx(contact_s - 0.3, abs=1 / FPS)
    assert last == pytest.approx(contact_s + 1.5, abs=1 / FPS)
    assert at_hand(take, 0.0) == []


def test_of_a_clip_without_sound_no_frames_are_kept_for_its_swing_may_be_anywhere(tmp_path: Path) -> None:
    assert at_hand(taken(tmp_path), 0.0) == []
