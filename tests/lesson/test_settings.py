"""Results hold as long as what they were measured with: a kept calibration counts for the lessons that use it."""

import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from balltrack.batch import correct_swing, kept_result
from balltrack.camera.calibrate import Calibration
from balltrack.errors import RecordError
from balltrack.lesson import load_lesson
from balltrack.lesson.lens_film import FilmedLens
from balltrack.lesson.lens_mode import mode_of
from balltrack.lesson.lens_store import keep, lens_folder
from balltrack.lesson.settings import as_measured
from balltrack.records.basis_file import basis_path, write_bases
from balltrack.records.corrections import Fix, corrections_version
from balltrack.records.refit import Stood
from balltrack.records.store import read_swings
from balltrack.setup import prepare
from balltrack.video.clip import probe
from tests.lesson.lessons import GOOD
from tests.video.encode import encode_luma, moving_square
from tests.video.tags import APPLE, tagged

CODEC = ("-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p")
STATED = "horizontal_fov_deg = 61.93\n"


@pytest.fixture(autouse=True)
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A data folder of each test's own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def lesson_filmed_by(tmp_path: Path, name: str, *tags: str, stated: bool = False) -> Path:
    folder = tmp_path / name
    (folder / "clips" / "01-tee").mkdir(parents=True)
    (folder / "lesson.toml").write_text(GOOD if stated else GOOD.replace(STATED, ""))
    encode_luma(folder / "clips" / "01-tee" / "001.mov", moving_square(20), *CODEC, *tags, fps=30)
    return folder


def calibrate(clip: Path, focal_px: float, day: int = 1) -> None:
    """Keep a calibration of the phone that filmed a clip, as a film of a board would give it."""
    info = probe(clip)
    width, height = info.stored_size_px
    lens = Calibration(
        size_px=(width, height),
        focal_px=focal_px,
        k1=-0.03,
        centre_px=((width - 1) / 2, (height - 1) / 2),
        focal_sd_px=0.003 * focal_px,
        k1_sd=0.01,
        centre_sd_px=1.0,
        views_sd_px=0.002 * focal_px,
        rms_px=0.2,
        views=15,
        distance_m=0.6,
    )
    keep(FilmedLens(mode_of(info), lens, False, 60, 60), None, date(2026, 5, day))


def hash_of(folder: Path) -> str:
    return as_measured(load_lesson(folder)).settings_hash


def test_calibrating_a_phone_tells_exactly_the_lessons_that_use_it(tmp_path: Path) -> None:
    own = lesson_filmed_by(tmp_path, "own", *tagged(APPLE))
    stated = lesson_filmed_by(tmp_path, "stated", *tagged(APPLE), stated=True)
    nameless = lesson_filmed_by(tmp_path, "nameless")
    other = lesson_filmed_by(tmp_path, "other", *tagged({**APPLE, "com.apple.quicktime.model": "Phone 2"}))
    lessons = (own, stated, nameless, other)
    before = [hash_of(each) for each in lessons]
    assert before == [load_lesson(each).settings_hash for each in lessons]

    clip = own / "clips" / "01-tee" / "001.mov"
    calibrate(clip, 110.0)
    first = [hash_of(each) for each in lessons]
    assert [now != was for now, was in zip(first, before, strict=True)] == [True, False, False, False]
    calibrate(clip, 112.0)
    assert hash_of(own) not in (before[0], first[0])
    assert [hash_of(each) for each in lessons[1:]] == before[1:]
    calibrate(clip, 110.0, day=9)  # the same numbers on another day: nothing to measure again
    assert hash_of(own) == first[0]
    next(lens_folder().glob("*.toml")).unlink()
    assert hash_of(own) == before[0]


def test_what_was_measured_with_another_lens_is_to_be_measured_again(tmp_path: Path) -> None:
    folder = tmp_path / "lesson"
    (folder / "clips" / "01-tee").mkdir(parents=True)
    (folder / "lesson.toml").write_text(GOOD.replace(STATED, ""))
    name = "clips/01-tee/still.mov"
    encode_luma(folder / name, np.full((9, 1080, 1920), 90, np.uint8), *CODEC, *tagged(APPLE), fps=60)
    results = folder / "results"
    calibrate(folder / name, 1600.0)  # as GOOD's marks were made
    setup = prepare(load_lesson(folder))
    settings = setup.lesson.settings_hash
    write_bases(results / basis_path(name), (), (), Stood(setup.solved.camera, 1 / 60, settings, "motion"))
    lesson = as_measured(load_lesson(folder))
    assert settings == lesson.settings_hash != load_lesson(folder).settings_hash
    assert kept_result(lesson.clips[0], lesson, results) is not None
    calibrate(folder / name, 1620.0)
    lesson = as_measured(load_lesson(folder))
    assert kept_result(lesson.clips[0], lesson, results) is None


def test_a_lesson_whose_lens_is_stated_may_still_be_corrected(measured_sample: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(measured_sample, tmp_path / "lesson"))
    swing, clip = "01-tee/swing-03#1", "clips/01-tee/swing-03.mp4"
    phone = lesson_filmed_by(tmp_path, "other", *tagged(APPLE)) / "clips" / "01-tee" / "001.mov"
    calibrate(phone, 110.0)
    correct_swing(folder, swing, Fix(miss=True), corrections_version(folder / "results", clip))
    assert read_swings(folder / "results" / "swings.jsonl")[0].by_hand == ("miss",)
    text = (folder / "lesson.toml").read_text()
    (folder / "lesson.toml").write_text(text.replace("base_path_ft = 65", "base_path_ft = 60"))
    with pytest.raises(RecordError, match="measure the lesson again"):
        correct_swing(folder, swing, Fix(), corrections_version(folder / "results", clip))
