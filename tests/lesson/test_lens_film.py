"""From a real video of the printed board to a lens, kept, found again by the phone's next lesson, or refused."""

import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from balltrack.cli import main
from balltrack.errors import CalibrationError, LessonError
from balltrack.lesson import load_lesson
from balltrack.lesson.lens import Lens as StatedLens
from balltrack.lesson.lens_choice import LONGER_SIDE_MM, best_lens
from balltrack.lesson.lens_film import FilmedLens, film_lens
from balltrack.lesson.lens_store import keep, kept_lenses
from balltrack.video.clip import probe
from tests.camera.board_scene import BOARD, Lens, film, poses
from tests.lesson.lessons import GOOD, make_lesson
from tests.video.encode import encode_luma, ffmpeg, moving_square
from tests.video.tags import APPLE, FOCAL_35MM, tagged, with_track_tags

TRUE = Lens(1010.0, -0.04, (634.0, 362.5), (1280, 720))
TODAY = date(2026, 5, 31)
FPS = 5  # each pose rests for 0.8 s
CODEC = ("-c:v", "libx264", "-preset", "veryfast", "-crf", "22", "-pix_fmt", "yuv420p")


@pytest.fixture(scope="module")
def board_film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """16 poses through a known lens, with noise, compressed as a phone would."""
    frames = film(poses(16, seed=1), TRUE, frames_each=4, seed=2)
    return encode_luma(tmp_path_factory.mktemp("film") / "board.mov", frames, *CODEC, *tagged(APPLE), fps=FPS)


@pytest.fixture(scope="module")
def filmed(board_film: Path) -> FilmedLens:
    return film_lens([board_film], BOARD)


@pytest.fixture
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of this test's own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "balltrack" / "lenses"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["lens", *map(str, words)])


def refused(*words: str | Path) -> str:
    result = run(*words)
    assert result.exit_code == 1
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) == 1
    return result.stderr


def test_the_lens_is_found_within_the_stated_uncertainty(filmed: FilmedLens) -> None:
    # Source: the lens through which OpenCV made the film. 2.6 sd hold 99 in 100.
    found = filmed.calibration
    assert abs(found.focal_px - TRUE.focal_px) < 2.6 * found.views_sd_px
    assert abs(found.k1 - TRUE.k1) < 2.6 * found.k1_sd
    assert np.abs(np.subtract(found.centre_px, TRUE.centre_px)).max() < 2.6 * found.centre_sd_px
    assert found.views_sd_px < 0.003 * TRUE.focal_px  # what DESIGN asks of a lens that is known
    assert found.rms_px < 0.3
    assert filmed.seen == filmed.looks == 64


def test_a_phone_held_upright_has_the_same_lens(board_film: Path, filmed: FilmedLens, tmp_path: Path) -> None:
    path = tmp_path / "upright.mov"
    ffmpeg("-display_rotation", "90", "-i", board_film, "-c", "copy", path)
    assert probe(path).size_px == (720, 1280)
    found = film_lens([path], BOARD).calibration
    # The same pictures turned; corners found in a turned picture differ by a few hundredths of a pixel.
    assert found.size_px == (1280, 720)
    assert found.focal_px == pytest.approx(TRUE.focal_px, abs=2.6 * found.views_sd_px)
    assert found.centre_px == pytest.approx(filmed.calibration.centre_px, abs=1.0)


def test_what_was_filmed_is_kept_and_used_by_the_phones_next_lesson(
    board_film: Path, own_data: Path, tmp_path: Path
) -> None:
    result = run("film", board_film)
    assert result.exit_code == 0, result.output
    assert "Kept as example-phone-1_1280x720_5fps" in result.stdout
    (kept,) = kept_lenses()
    assert (own_data / "example-phone-1_1280x720_5fps.toml").is_file()
    assert kept.name in run("list").stdout
    clip = encode_luma(tmp_path / "swing.mov", np.full((10, 720, 1280), 90, np.uint8), *CODEC, *tagged(APPLE), fps=FPS)
    choice = best_lens(StatedLens(), probe(clip), (1280, 720))
    assert "this phone's own calibration" in choice.words
    assert choice.prior.focal_px == kept.table.focal_px
    assert choice.prior.centre_px == tuple(kept.table.centre_px)
    # Held upright, the axis lies elsewhere in the upright picture: turned by a quarter, u becomes 719 - v.
    upright = tmp_path / "upright.mov"
    ffmpeg("-display_rotation", "-90", "-i", clip, "-c", "copy", "-movflags", "use_metadata_tags", upright)
    turned = best_lens(StatedLens(), probe(upright), (720, 1280)).prior
    assert turned.focal_px == kept.table.focal_px
    assert turned.centre_px == pytest.approx((719 - kept.table.centre_px[1], kept.table.centre_px[0]))


def test_the_best_lens_is_the_stated_then_the_kept_then_the_tagged_then_none(
    filmed: FilmedLens, own_data: Path, tmp_path: Path
) -> None:
    def clip(name: str, fps: int, focal: bool) -> Path:
        made = encode_luma(tmp_path / name, moving_square(20), *CODEC, *tagged(APPLE), fps=fps)
        if focal:
            with_track_tags(made, [(FOCAL_35MM, 1, b"26")])
        return made

    size = (128, 96)
    tagged_info, plain_info = probe(clip("tagged.mov", 30, True)), probe(clip("plain.mov", 30, False))
    # Source: 26 mm on film 43.27 mm across; a 4:3 sensor's longer side is 0.8 of its diagonal, so 26 / 34.6 of it.
    by_tag = best_lens(StatedLens(), tagged_info, size)
    assert by_tag.prior.focal_px == pytest.approx(26 / 34.61 * 128, rel=1e-3)
    assert by_tag.prior.focal_sd_px == pytest.approx(0.07 * 26 / LONGER_SIDE_MM * 128)
    assert "26 mm" in by_tag.words
    by_marks = best_lens(StatedLens(), plain_info, size)
    assert by_marks.prior.focal_px is None
    assert "from the marks alone" in by_marks.words
    assert best_lens(StatedLens(), None, size).prior.focal_px is None

    keep(filmed, None, TODAY)
    assert "kept, but not for 128 x 96 at 30" in best_lens(StatedLens(), tagged_info, size).words
    text = (own_data / "example-phone-1_1280x720_5fps.toml").read_text().replace("[1280, 720]", "[128, 96]")
    (own_data / "example-phone-1_128x96_30fps.toml").write_text(text.replace("= 5\n", "= 30\n"))
    assert "own calibration" in best_lens(StatedLens(), tagged_info, size).words
    other_rate = probe(clip("fast.mov", 120, True))
    assert "26 mm" in best_lens(StatedLens(), other_rate, size).words  # another mode may crop otherwise

    stated = best_lens(StatedLens(60.0), tagged_info, size)
    assert stated.words == "lens: as stated"
    assert stated.prior.focal_px == pytest.approx(64 / np.tan(np.radians(30)))


def test_a_lens_of_a_nameless_phone_is_put_into_a_lesson_by_hand(
    board_film: Path, own_data: Path, tmp_path: Path
) -> None:
    nameless = tmp_path / "nameless.mp4"
    ffmpeg("-i", board_film, "-c", "copy", "-map_metadata", "-1", nameless)
    assert "give the phone a name with --name" in refused("film", nameless)
    assert run("film", nameless, "--name", "Old one", "--focus-locked").exit_code == 0
    (kept,) = kept_lenses()
    assert kept.table.focus_locked
    lesson = make_lesson(tmp_path / "lesson", GOOD)
    shutil.copy(nameless, lesson / "clips" / "01-tee" / "001.mp4")
    assert "no calibration named" in refused("use", "none", lesson)
    result = run("use", kept.name, lesson)
    assert result.exit_code == 0, result.output
    text = (lesson / "lesson.toml").read_text()
    assert 'lens = "lens.toml"' in text
    assert "horizontal_fov_deg" not in text
    prior = best_lens(load_lesson(lesson).lens, None, (1280, 720)).prior
    assert prior.focal_px == pytest.approx(kept.table.focal_px, rel=1e-4)
    assert prior.focal_sd_px == pytest.approx(kept.table.focal_sd_px, rel=5e-3)  # files hold two or three digits
    assert (prior.k1, prior.centre_px) == (kept.table.k1, tuple(kept.table.centre_px))
    assert "there already" in refused("use", kept.name, lesson)


def test_a_clip_of_another_mode_does_not_take_the_lens(filmed: FilmedLens, own_data: Path, tmp_path: Path) -> None:
    keep(filmed, None, TODAY)
    assert own_data.is_dir()
    lesson = make_lesson(tmp_path / "lesson", GOOD)
    encode_luma(lesson / "clips" / "01-tee" / "001.mp4", moving_square(20), *CODEC)
    assert "128 x 96 at 30 frames/s" in refused("use", "example-phone-1_1280x720_5fps", lesson)


def test_a_clip_without_a_board_is_refused(tmp_path: Path, own_data: Path) -> None:
    clip = encode_luma(tmp_path / "field.mp4", moving_square(30, 640, 480), *CODEC)
    assert "shows the board" in refused("film", clip, "--name", "x")
    assert not own_data.exists()


def test_a_board_that_never_tilts_is_refused(tmp_path: Path) -> None:
    small = Lens(505.0, 0.0, (319.5, 179.5), (640, 360))
    frames = film(poses(10, 1, tilt_rad=0.05), small, frames_each=4, seed=3)
    clip = encode_luma(tmp_path / "square.mp4", frames, *CODEC, fps=FPS)
    assert "square on" in refused("film", clip, "--name", "x")


def test_films_of_two_modes_are_not_mixed(board_film: Path, tmp_path: Path) -> None:
    other = encode_luma(tmp_path / "other.mov", moving_square(30), *CODEC, *tagged(APPLE))
    with pytest.raises(CalibrationError, match="another mode"):
        film_lens([board_film, other], BOARD)


def test_a_damaged_calibration_is_one_line(board_film: Path, own_data: Path) -> None:
    own_data.mkdir(parents=True)
    (own_data / "example-phone-1_1280x720_5fps.toml").write_text("focal_px = 'wide'\n")
    assert "delete it and calibrate anew" in refused("list")
    with pytest.raises(LessonError, match="delete it and calibrate anew"):
        best_lens(StatedLens(), probe(board_film), (1280, 720))


def test_a_board_is_written_and_other_endings_are_refused(tmp_path: Path) -> None:
    for name in ("board.svg", "board.PDF"):
        assert run("board", tmp_path / name, "--paper", "letter").exit_code == 0
        assert (tmp_path / name).stat().st_size > 1000
    assert run("board", tmp_path / "board.png").exit_code == 2
    assert "cannot be written" in refused("board", tmp_path / "nowhere" / "board.svg")


def test_every_command_has_help() -> None:
    for command in ("board", "film", "list", "use"):
        result = run(command, "--help")
        assert result.exit_code == 0
        assert len(result.stdout.splitlines()) > 4
    assert "lock focus" in " ".join(run("film", "--help").stdout.split())
