"""A film that is slower than life and does not say so: what the balls tell by how they fall, end to end."""

from pathlib import Path

from balltrack.lesson import load_lesson
from balltrack.measure import measure_clip
from balltrack.setup import prepare
from tests.conftest import without_words
from tests.video.encode import ffmpeg

SAMPLE = Path(__file__).parents[1] / "sample_clips"


def slowed(folder: Path, times: int) -> Path:
    """A lesson of one sample clip, copied so many times slower, without sound and without a word about it."""
    (folder / "clips" / "01-tee").mkdir(parents=True)
    (folder / "lesson.toml").write_text(without_words((SAMPLE / "lesson.toml").read_text()))
    clip = SAMPLE / "clips" / "01-tee" / "swing-03.mp4"
    ffmpeg("-itsscale", str(times), "-i", clip, "-an", "-c", "copy", folder / "clips" / "01-tee" / "slowed.mp4")
    return folder


def test_a_ball_that_falls_too_slowly_is_told_and_nothing_is_corrected(tmp_path: Path) -> None:
    lesson = load_lesson(slowed(tmp_path / "lesson", 2))
    result = measure_clip(lesson.clips[0], prepare(lesson))
    assert "slowed 2 times" in result.note
    assert "capture_fps = 60" in result.note  # 30 frames a second as stored


def test_where_a_slowed_swing_is_not_seen_as_one_the_note_asks_whether_it_is_slow_motion(tmp_path: Path) -> None:
    lesson = load_lesson(slowed(tmp_path / "lesson", 4))
    result = measure_clip(lesson.clips[0], prepare(lesson))
    assert result.swings == ()
    assert "if this is slow motion, enter capture_fps" in result.note
