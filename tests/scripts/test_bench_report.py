"""What the pages say of the accuracy must be what the committed result says."""

from pathlib import Path

import pytest
from bench.report import in_short, report
from bench.result_file import read_result

ROOT = Path(__file__).resolve().parents[2]
RESULT = ROOT / "docs" / "accuracy" / "result.json"


def test_the_accuracy_page_is_the_one_that_its_result_gives() -> None:
    run, lessons = read_result(RESULT)
    assert (ROOT / "docs" / "accuracy.md").read_text(encoding="utf-8") == report(run, lessons)


def test_the_readme_quotes_the_result_and_nothing_else() -> None:
    run, lessons = read_result(RESULT)
    assert in_short(run, lessons) in (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_committed_result_judges_enough_swings_and_its_intervals_hold() -> None:
    _, lessons = read_result(RESULT)
    hits = [swing for lesson in lessons for swing in lesson.swings if swing.hit and swing.measured]
    assert len(hits) >= 200
    for k in range(3):  # exit speed, launch, spray: stated 90 % hold 80 to 97 %
        held = sum(abs(swing.error[k]) <= 1.645 * swing.sd[k] for swing in hits) / len(hits)
        assert 0.80 <= held <= 0.97


@pytest.mark.parametrize("picture", ["coverage.svg", "error_against_limit.svg", "error_by_set_up.svg"])
def test_the_pictures_of_the_page_are_there(picture: str) -> None:
    assert (RESULT.parent / picture).read_text(encoding="utf-8").count("<path") > 10
