"""The coach's words are read as written, refused in one line where they cannot stand, and change no number."""

from datetime import date
from pathlib import Path

import pytest

from balltrack.errors import LessonError
from balltrack.lesson import Drill, load_lesson
from tests.lesson.lessons import GOOD, make_lesson

SAID = """
[lesson]
date = 2026-05-30
notes = "A good day."
[swings."01-tee/001#1"]
notes = '''Eyes stay
on the ball'''
[plan]
words = "Twice a week."
[[plan.drills]]
name = "High tee"
repetitions = 30
caution = "a net behind the tee"
[[plan.drills]]
name = "Soft toss"
repetitions = "3 x 10"
words = "from the side"
"""


def test_words_are_read_as_written(tmp_path: Path) -> None:
    words = load_lesson(make_lesson(tmp_path, GOOD + SAID)).words
    assert (words.date, words.notes, words.plan) == (date(2026, 5, 30), "A good day.", "Twice a week.")
    assert words.swing_notes == {"01-tee/001#1": "Eyes stay\non the ball"}
    assert words.drills == (
        Drill("High tee", "30", "", "a net behind the tee"),
        Drill("Soft toss", "3 x 10", "from the side", ""),
    )


def test_words_and_comments_leave_results_valid_and_settings_do_not(tmp_path: Path) -> None:
    texts = (
        GOOD,
        GOOD + SAID,
        "# mine\n" + GOOD.replace("Tee, middle", "Tee").replace("reps = 10", 'notes = "low"').replace("Robin", "Kim"),
        GOOD.replace('delivery = "tee"\n', ""),
        GOOD.replace('bats = "right"', 'bats = "left"'),
    )
    hashes = [load_lesson(make_lesson(tmp_path / str(k), text)).settings_hash for k, text in enumerate(texts)]
    assert hashes[0] == hashes[1] == hashes[2]
    assert len(set(hashes)) == 3


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ('[lesson]\ndate = "yesterday"', "lesson.date"),
        ("[[plan.drills]]\nrepetitions = 3", "plan.drills[1].name is missing"),
        ('[swings."01-tee/001#1"]\nnotes = 3', "give text in quotes"),
    ],
)
def test_words_that_cannot_stand_are_one_line(tmp_path: Path, wrong: str, words: str) -> None:
    with pytest.raises(LessonError, match=r".+") as error:
        load_lesson(make_lesson(tmp_path, f"{GOOD}{wrong}\n"))
    assert words in str(error.value)
    assert len(str(error.value).splitlines()) == 1
