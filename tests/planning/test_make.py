"""The command as it is typed."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from balltrack.cli import main
from balltrack.lesson.unmarked import load_unmarked
from tests.lesson.lessons import GOOD

ROOT = Path(__file__).parent.parent.parent


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["plan", *words])


def test_a_plan_from_a_lesson_is_a_picture_beside_it_and_one_line_first(tmp_path: Path) -> None:
    (tmp_path / "lesson.toml").write_text(GOOD)
    result = run("--from", str(tmp_path), "--units", "metric", "--lines", "720")
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[0].startswith("Stand ")
    assert "km/h" in result.stdout
    assert "The field's rules come first." in result.stdout
    assert (tmp_path / "plan.png").read_bytes().startswith(b"\x89PNG")


def test_what_a_lesson_says_is_taken_even_before_anything_is_marked_or_filmed(tmp_path: Path) -> None:
    place = tmp_path / "lesson.toml"
    place.write_text(GOOD.split("[camera]")[0] + '[blocks."01-live"]\ndelivery = "live"\n')
    known = load_unmarked(tmp_path)
    assert known.delivery == "live"
    assert known.bats == "right"
    assert known.lens.horizontal_fov_deg is None
    assert load_unmarked(place).base_path_m == known.base_path_m


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "plan.pdf"), ".png or .svg"),
        (("--from", "nowhere"), "nowhere"),
        (("--stopped-at", "1", "--units", "metric"), "from no safe place"),
    ],
)
def test_what_cannot_be_planned_is_one_line_and_status_1(words: tuple[str, ...], said: str) -> None:
    result = run(*words)
    assert result.exit_code == 1
    assert said in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert result.stdout == ""
