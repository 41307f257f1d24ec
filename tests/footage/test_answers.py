"""Real films in which no ball is batted get an answer and no numbers; where they were filmed is repeated nowhere."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from footage.answers import lesson_around

from balltrack.cli import main
from balltrack.contact import StirMeter, find_cues
from balltrack.errors import TrackError
from balltrack.lesson import load_lesson
from balltrack.records.describe import Label
from balltrack.records.unhit import without_ball
from balltrack.setup import prepare
from balltrack.video.frames import read_frames
from tests.footage.clips import real_clip


def measured(files: list[Path], folder: Path) -> tuple[int, str, list[dict[str, object]]]:
    """What the public command says of files of one size, and its records."""
    lesson_around(files[0], folder)
    for file in files[1:]:
        shutil.copy(file, folder / "clips" / "01-tee")
    done = CliRunner().invoke(main, ["measure", str(folder), "--workers", "1"], catch_exceptions=False)
    records = folder / "results" / "swings.jsonl"
    return done.exit_code, done.output, [json.loads(line) for line in records.read_text().splitlines()]


def test_balls_that_can_hardly_be_seen_end_in_no_numbers(tmp_path: Path) -> None:
    files = [real_clip(f"toss/yard_bike_drop_{number}.avi") for number in ("g1", "g2")]
    status, said, swings = measured(files, tmp_path / "lesson")
    assert status in (0, 3, 4)
    assert all(swing["exit_speed_mps"] is None for swing in swings)
    for file in files:  # each is named, as a swing without numbers or in a note
        assert file.stem in said


@pytest.mark.parametrize("name", ["toss/tennis_drop_100fps_rotated.mp4", "fields/vtest_12s.avi"])
def test_what_moves_at_the_plate_for_long_is_no_swing(name: str, tmp_path: Path) -> None:
    # A hand that drops a ball, the ball's bounces, and people who walk by; no file with sound, and nobody has a bat.
    lesson_around(real_clip(name), tmp_path / "lesson")
    lesson = load_lesson(tmp_path / "lesson")
    (clip,) = lesson.clips
    meter = StirMeter(prepare(lesson).solved.camera)
    for frame in read_frames(clip.path):
        meter.add(frame)
    stirred = [cue for cue in find_cues(None, meter.stir(), 0.0, 0.005) if cue.swung]
    assert stirred
    label = Label(clip.name, clip.name, clip.block, "", stirred[0].time_s, "motion")
    assert without_ball("tee", stirred, label, [TrackError("nothing")]) is None


def test_where_a_phone_was_is_repeated_nowhere(tmp_path: Path) -> None:
    # Source: the file's own location tag, read with another program's rule (ISO 6709: +52.1234-000.1234/).
    file = real_clip("containers/exo_video_1.mp4")
    lesson = tmp_path / "lesson"
    _, said, swings = measured([file], lesson)
    raw = file.read_bytes()
    at = raw.index(b"\xa9xyz") + 8
    place = raw[at : at + 18].decode("ascii").split("/")[0]
    assert place[0] in "+-"
    assert all(swing["exit_speed_mps"] is None for swing in swings)
    latitude = place[1:6]
    assert latitude not in said
    for path in (lesson / "results").rglob("*"):
        if path.is_file():
            assert place.encode() not in path.read_bytes(), path.name
