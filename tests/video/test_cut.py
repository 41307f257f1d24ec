"""Cuts of real files: the pictures are those of the film, at their times, with its sound and without its place."""

from pathlib import Path

import numpy as np
import pytest

from balltrack.errors import VideoError
from balltrack.onset import find_onsets
from balltrack.video.clip import ClipInfo, probe
from balltrack.video.cut import Cut, cutter, note_of
from balltrack.video.frames import read_frames
from balltrack.video.phone import read_phone
from balltrack.video.sound import read_sound
from balltrack.video.stamps import frame_times_s
from tests.video.encode import RATE_HZ, encode_luma, ffmpeg, moving_square, write_wave
from tests.video.tags import APPLE, FOCAL_35MM, tagged

FPS = 30
CLICK_S = 2.35
LONG_GOP = ("-c:v", "libx264", "-g", "60", "-bf", "2", "-c:a", "aac")


def film(path: Path, *args: str) -> Path:
    """Pictures of which no two are alike, one click, a key frame every 2 s, pictures decoded in another order."""
    frames = np.concatenate([moving_square(30, 128, 96)] * 4)
    frames[:, 80:90, :] = np.arange(len(frames), dtype=np.uint8)[:, None, None] + 40
    samples = np.zeros(4 * RATE_HZ)
    at = round(CLICK_S * RATE_HZ)
    samples[at : at + 24] = 0.8 * np.exp(-np.arange(24) / 6)
    sound = write_wave(path.with_suffix(".wav"), samples)
    return encode_luma(path, frames, "-i", sound, *LONG_GOP, *args, fps=FPS)


def cut_clip(info: ClipInfo, cut: Cut, path: Path) -> None:
    with cutter(info) as source:
        source.cut(cut, path)


@pytest.mark.parametrize("suffix", [".mp4", ".mov"])
def test_a_cut_shows_the_films_own_pictures_at_their_times_from_where_it_was_cut(tmp_path: Path, suffix: str) -> None:
    whole = film(tmp_path / "film.mp4")
    part = tmp_path / f"part{suffix}"
    cut_clip(probe(whole), Cut(1.5, 3.5, "a note"), part)
    wanted = [frame for frame in read_frames(whole) if frame.time_s >= 1.5]
    got = list(read_frames(part))
    # The last may follow a gap: a picture that others are predicted from goes along.
    assert len(got) >= 59
    for ours, theirs in zip(got[:58], wanted[:58], strict=True):
        assert ours.time_s == pytest.approx(theirs.time_s - wanted[0].time_s, abs=1e-6)
        assert np.array_equal(ours.luma, theirs.luma)
    assert note_of(part) == "a note"
    assert frame_times_s(probe(part)) == pytest.approx([frame.time_s for frame in got])


def test_sound_and_picture_of_a_cut_keep_their_places_to_each_other(tmp_path: Path) -> None:
    whole = film(tmp_path / "film.mp4")
    cut_clip(probe(whole), Cut(1.51, 3.5, ""), tmp_path / "part.mp4")
    first_s = next(frame.time_s for frame in read_frames(whole) if frame.time_s >= 1.51)
    sound = read_sound(tmp_path / "part.mp4")
    assert sound is not None
    # 1 ms: the pieces of sound are placed to a sample, and an onset is dated to 0.6 ms.
    (click,) = find_onsets(sound)
    assert click.time_s == pytest.approx(CLICK_S - first_s, abs=0.001)


def test_a_cut_keeps_turn_rate_and_phone_but_not_the_place(tmp_path: Path) -> None:
    place = {"location": "+10.0000+020.0000/", "com.apple.quicktime.location.ISO6709": "+10.0000+020.0000/"}
    tags = APPLE | place | {"com.android.capture.fps": "120", FOCAL_35MM: "26"}
    plain = film(tmp_path / "plain.mp4")
    ffmpeg("-display_rotation", "90", "-i", plain, "-c", "copy", *tagged(tags), tmp_path / "film.mov")
    whole = probe(tmp_path / "film.mov")
    assert whole.time_scale == 0.25
    assert b"+10.0000" in (tmp_path / "film.mov").read_bytes()
    cut_clip(whole, Cut(0.3, 0.8, ""), tmp_path / "part.mov")
    part = probe(tmp_path / "part.mov")
    assert (part.rotation_deg, part.size_px, part.time_scale) == (whole.rotation_deg, whole.size_px, 0.25)
    assert part.duration_s == pytest.approx(0.5, abs=2 / 120)
    phone = read_phone(tmp_path / "part.mov")
    assert (phone.make, phone.model, phone.focal_35mm) == ("Example", "Phone 1", 26)
    assert b"+10.0000" not in (tmp_path / "part.mov").read_bytes()


def test_a_film_whose_rate_a_person_told_is_cut_where_that_puts_it(tmp_path: Path) -> None:
    whole = probe(film(tmp_path / "film.mp4"), capture_fps=120)
    assert whole.time_scale == 0.25
    cut_clip(whole, Cut(0.3, 0.8, ""), tmp_path / "part.mp4")
    part = probe(tmp_path / "part.mp4", capture_fps=120)
    assert part.duration_s == pytest.approx(0.5, abs=2 / 120)
    (click,) = find_onsets(read_sound(tmp_path / "part.mp4", part) or pytest.fail("no sound"))
    # A picture's time at 120/s: the clock begins with the first picture at or after 0.3 s.
    assert click.time_s == pytest.approx(CLICK_S / 4 - 0.3, abs=1 / 120)


def test_a_container_that_would_not_show_the_cut_as_the_film_is_refused(tmp_path: Path) -> None:
    plain = film(tmp_path / "plain.mp4")
    ffmpeg("-i", plain, "-c", "copy", *tagged({"com.android.capture.fps": "120"}), tmp_path / "film.mp4")
    with pytest.raises(VideoError, match="would not say how fast it was filmed"):
        cut_clip(probe(tmp_path / "film.mp4"), Cut(0.0, 0.2, ""), tmp_path / "part.mkv")
    assert not (tmp_path / "part.mkv").exists()


def test_where_a_film_shows_nothing_there_is_nothing_to_cut(tmp_path: Path) -> None:
    whole = film(tmp_path / "film.mp4")
    with pytest.raises(VideoError, match="there is no picture"):
        cut_clip(probe(whole), Cut(10.0, 12.0, ""), tmp_path / "part.mp4")
