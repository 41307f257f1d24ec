"""The day of filming, by the tags that phones write."""

import datetime
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from balltrack.errors import VideoError
from balltrack.video.filmed_on import LOCAL_TIME, UTC_TIME, filmed_on
from tests.video.encode import LOSSLESS, encode_luma, moving_square
from tests.video.tags import tagged


@pytest.fixture
def pacific(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """This machine's clock, 8 hours behind UTC the whole year."""
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "XXX8")  # POSIX: a name, and hours to add to get UTC
        time.tzset()
        yield
    time.tzset()


def clip(folder: Path, tags: dict[str, str]) -> Path:
    return encode_luma(folder / "clip.mov", moving_square(3), *LOSSLESS, *tagged(tags))


def test_a_late_lesson_is_of_the_day_at_the_place_of_filming(tmp_path: Path, pacific: None) -> None:
    tags = {LOCAL_TIME: "2026-05-31T20:30:00+0200", UTC_TIME: "2026-05-31T18:30:00.000000Z"}
    assert filmed_on(clip(tmp_path, tags)) == datetime.date(2026, 5, 31)
    assert filmed_on(clip(tmp_path, {LOCAL_TIME: "2026-06-01T00:30:00+0900"})) == datetime.date(2026, 6, 1)


def test_a_time_in_utc_is_of_this_machines_day(tmp_path: Path, pacific: None) -> None:
    # 02:30 UTC on the 1st is 18:30 on the 31st, 8 hours behind.
    assert filmed_on(clip(tmp_path, {UTC_TIME: "2026-06-01T02:30:00.000000Z"})) == datetime.date(2026, 5, 31)


@pytest.mark.parametrize("tags", [{}, {UTC_TIME: "1970-01-01T00:00:00.000000Z"}, {LOCAL_TIME: "yesterday"}])
def test_a_clock_that_was_never_set_tells_no_day(tmp_path: Path, tags: dict[str, str]) -> None:
    assert filmed_on(clip(tmp_path, tags)) is None


def test_what_is_no_clip_is_said(tmp_path: Path) -> None:
    (tmp_path / "clip.mov").write_text("no film")
    with pytest.raises(VideoError):
        filmed_on(tmp_path / "clip.mov")
