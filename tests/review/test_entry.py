"""A lesson folder as the logbook takes it."""

import datetime
import os
from pathlib import Path

import pytest

from balltrack.errors import RecordError
from balltrack.records.alone import alone
from balltrack.records.swing import to_json
from balltrack.review.entry import entry_of
from balltrack.video.filmed_on import LOCAL_TIME
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT, MISS
from tests.video.encode import LOSSLESS, encode_luma, moving_square
from tests.video.tags import tagged

CLIPS = ("01-tee/001.mp4", "01-tee/002.mp4", "02-live/001.mov")


def measured(folder: Path, text: str = GOOD) -> Path:
    """A lesson of clips that cannot be read, with results."""
    made = make_lesson(folder, text, CLIPS)
    for at, clip in enumerate(CLIPS):
        (made / "clips" / clip).write_bytes(bytes([at]))
        os.utime(made / "clips" / clip, (1_780_000_000 + 86_400 * at,) * 2)  # 2026-05-28, 20:26 UTC, and days after
    (made / "results").mkdir()
    (made / "results" / "swings.jsonl").write_text("".join(to_json(swing) + "\n" for swing in (MISS, HIT)))
    return made


def test_player_blocks_clips_and_swings_are_those_of_the_folder(tmp_path: Path) -> None:
    text = GOOD.replace("Robin Example", "  Robin  Example") + '[lesson]\ndate = 2026-05-30\n'
    made = entry_of(measured(tmp_path, text))
    assert (made.player, made.bats, made.ball) == ("Robin Example", "right", "softball-12")
    assert (made.held_on, made.date_source) == (datetime.date(2026, 5, 30), "stated")
    assert [(block.name, block.title, block.delivery) for block in made.blocks] == [
        ("01-tee", "Tee, middle", "tee"),
        ("02-live", "02-live", None),
    ]
    assert [clip.name for clip in made.clips] == [f"clips/{clip}" for clip in CLIPS]
    assert len({clip.fingerprint for clip in made.clips}) == len(CLIPS)
    assert made.swings == (MISS, HIT)


def test_without_a_date_the_day_is_the_clips_own_else_that_of_their_files(tmp_path: Path) -> None:
    folder = measured(tmp_path)
    made = entry_of(folder)
    assert (made.held_on, made.date_source) == (datetime.date.fromtimestamp(1_780_000_000), "files")
    tags = tagged({LOCAL_TIME: "2026-05-27T18:00:00-0500"})
    encode_luma(folder / "clips" / CLIPS[2], moving_square(3), *LOSSLESS, *tags)
    made = entry_of(folder)
    assert (made.held_on, made.date_source) == (datetime.date(2026, 5, 27), "clips")


def test_a_lesson_not_measured_or_being_measured_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="measure the lesson first"):
        entry_of(make_lesson(tmp_path / "new"))
    folder = measured(tmp_path / "busy")
    with alone(folder / "results"), pytest.raises(RecordError, match="being measured just now"):
        entry_of(folder)
