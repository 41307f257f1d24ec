"""The command as it is typed."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from balltrack.cli import main
from balltrack.lesson.lens import Lens
from balltrack.lesson.lens_choice import filmed_by
from balltrack.lesson.unmarked import load_unmarked
from balltrack.planning.make import Entered
from balltrack.planning.make import _lens_words as lens_words
from balltrack.planning.make import _phone as phone_of
from tests.lesson.lessons import GOOD
from tests.lesson.test_settings import CODEC, STATED, calibrate
from tests.video.encode import encode_luma
from tests.video.tags import APPLE, tagged

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


def test_a_kept_calibration_of_the_phone_is_planned_with_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    (tmp_path / "clips" / "01-tee").mkdir(parents=True)
    (tmp_path / "lesson.toml").write_text(GOOD.replace(STATED, ""))
    clip = tmp_path / "clips" / "01-tee" / "001.mov"
    encode_luma(clip, np.full((12, 1080, 1920), 90, np.uint8), *CODEC, *tagged(APPLE), fps=60)
    assert filmed_by(tmp_path, Lens()) is None
    calibrate(clip, 1500.0)
    said = run("--from", str(tmp_path)).stdout
    assert "Planned with the lens: this phone's own calibration of 2026-05-01 (Example Phone 1, 1920 x 1080" in said
    assert "a lens calibrated with a chessboard" not in said  # it is
    entered = Entered(lesson=tmp_path)
    own = filmed_by(tmp_path, Lens())
    assert own is not None
    phone = phone_of(entered, load_unmarked(tmp_path), own)
    # Source: half of 1920 px at a focal length of 1500 px, twice over.
    assert phone.fov_rad == pytest.approx(2 * np.arctan(960 / 1500), rel=1e-3)
    assert phone.lens_share_sd == pytest.approx(0.003, rel=1e-2)
    for other in (replace(entered, frames_per_s=120.0), replace(entered, lines=2160)):
        assert "kept for 1920 x 1080 at 60 frames/s, which is not what is planned: not used" in lens_words(own, other)
        assert phone_of(other, load_unmarked(tmp_path), own).lens_share_sd is None


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
