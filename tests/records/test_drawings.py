"""What a coach drew is kept whole, read with care, and finds its swing again when swings are numbered anew."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from balltrack.errors import RecordError
from balltrack.records.drawings import (
    MOST_LETTERS,
    NAME,
    Drawing,
    DrawnStill,
    drawings_version,
    number_of,
    read_drawings,
    write_drawings,
)
from balltrack.records.store import ResultStore
from tests.records.swings import HIT, MISS

CLIP = HIT.clip
MARKS = (
    Drawing("arrow", ((100.5, 200.0), (300.0, 250.0))),
    Drawing("line", ((10.0, 20.0), (30.0, 40.0))),
    Drawing("words", ((50.0, 60.0),), "hands “first” – é"),
)


def still(time_s: float = 1.0, swing: str = "01-tee/001#1", clip: str = CLIP) -> DrawnStill:
    return DrawnStill(swing=swing, clip=clip, time_s=time_s, view_px=(0, 10, 640, 360), marks=MARKS)


def test_stills_are_read_as_written_in_the_order_of_clips_and_times(tmp_path: Path) -> None:
    later, first, other = still(2.0), still(1.0), still(0.5, clip="clips/02-toss/001.mp4")
    write_drawings(tmp_path, [other, later, first])
    assert read_drawings(tmp_path) == (first, later, other)


def test_no_file_is_no_still_and_the_last_still_takes_its_file_along(tmp_path: Path) -> None:
    assert read_drawings(tmp_path) == ()
    empty = drawings_version(tmp_path)
    write_drawings(tmp_path, [still()])
    assert drawings_version(tmp_path) != empty
    write_drawings(tmp_path, [])
    assert not (tmp_path / NAME).exists()
    assert drawings_version(tmp_path) == empty


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"time_s": "soon"}, "time_s: .*clip time of the picture"),
        ({"colour": "red"}, "colour: "),
        ({"marks": []}, "marks: "),
        ({"view_px": [0, 0, 640]}, "view_px 4: "),
        ({"view_px": [-2, 0, 640, 360]}, "view_px 1: "),
        ({"marks": [{"kind": "circle", "points_px": [[1, 2]], "words": ""}]}, "marks 1 kind: "),
        ({"marks": [{"kind": "arrow", "points_px": [[1, 2]], "words": ""}]}, "arrow has 2 to 2 points, not 1"),
        ({"marks": [{"kind": "words", "points_px": [[1, 2]], "words": "a" * (MOST_LETTERS + 1)}]}, "81 letters"),
        ({"marks": [{"kind": "words", "points_px": [[1, 2]], "words": " "}]}, "words belong to"),
    ],
)
def test_a_wrong_line_is_told_with_its_number_and_what_is_wrong(
    tmp_path: Path, change: dict[str, Any], words: str
) -> None:
    write_drawings(tmp_path, [still()])
    good = (tmp_path / NAME).read_text(encoding="utf-8")
    wrong = json.dumps(json.loads(good) | change)
    (tmp_path / NAME).write_text(f"{good}{wrong}\n", encoding="utf-8")
    with pytest.raises(RecordError, match=f"line 2: .*{words}") as told:
        read_drawings(tmp_path)
    assert "\n" not in str(told.value)


def test_what_is_no_text_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(b"\xff\xfe")
    with pytest.raises(RecordError, match="cannot be read"):
        read_drawings(tmp_path)


def test_a_still_stays_with_its_swing_when_swings_are_numbered_anew() -> None:
    # Times tell, ids do not: the program saw an earlier swing too, so that what was #1 is #2 now.
    found = [replace(HIT, swing=f"01-tee/001#{n}", contact_s=at_s) for n, at_s in ((1, 0.4), (2, 5.0), (3, 9.0))]
    assert number_of(still(4.7, "01-tee/001#1"), found) == 2
    assert number_of(still(5.3, "01-tee/001#1"), found) == 2
    assert number_of(still(0.1, "01-tee/001#1"), found) == 1
    assert number_of(still(12.0, "01-tee/001#1"), found) is None  # three seconds after the last contact
    assert number_of(still(4.7, "01-tee/001#1", clip="clips/01-tee/002.mp4"), found) is None


def test_a_miss_without_a_contact_is_told_by_its_id() -> None:
    miss = replace(MISS, swing="01-tee/001#1", clip=CLIP, contact_s=None)
    assert number_of(still(4.7, "01-tee/001#1"), [miss]) == 1
    assert number_of(still(4.7, "01-tee/001#2"), [miss]) is None


def test_measuring_again_leaves_what_was_drawn(tmp_path: Path) -> None:
    write_drawings(tmp_path, [still()])
    before = (tmp_path / NAME).read_bytes()
    store = ResultStore(tmp_path, [CLIP])
    store.write_clip(CLIP, [HIT], [])
    store.write_clip(CLIP, [], [])
    store.write_table("us")
    assert (tmp_path / NAME).read_bytes() == before
