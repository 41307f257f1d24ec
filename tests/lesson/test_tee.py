"""A tee's place comes from a person's words, or from where its foot is seen on the ground."""

from dataclasses import replace
from pathlib import Path

import pytest

from balltrack.camera.solve import solve
from balltrack.lesson import Clip, Lesson, load_lesson, tee_base_m
from tests.lesson.lessons import GOOD, make_lesson

# The camera of the marks in lessons.py: a point (0.3, 0.6, 0) is seen at u = 959.5 + 1600 * 0.3 / 6.6 = 1032.2,
# v = 539.5 + 1600 * 1.5 / 6.6 = 903.1.
TEE = '[[camera.marks]]\npoint = "tee_base"\npixel = [1032.2, 903.1]\n'


def lesson_with(folder: Path, extra: str) -> Lesson:
    return load_lesson(make_lesson(folder, GOOD.replace('[blocks."01-tee"]', extra + '[blocks."01-tee"]')))


def place(lesson: Lesson, clip: Clip | None = None) -> list[float] | None:
    camera = solve(lesson.marks, (1920, 1080), lesson.lens.prior(1920), lesson.readout).camera
    found = tee_base_m(clip or lesson.clips[0], lesson, camera)
    return None if found is None else [float(value) for value in found]


def test_a_foot_marked_without_a_place_is_put_where_it_is_seen_on_the_ground(tmp_path: Path) -> None:
    lesson = lesson_with(tmp_path, TEE)
    assert "tee_base" not in [mark.name for mark in lesson.marks]  # it helps not in solving the camera
    assert place(lesson) == pytest.approx([0.3, 0.6, 0.0], abs=0.02)  # marks are rounded to 0.1 px: about 4 mm here


def test_a_stated_place_is_believed_and_helps_to_solve_the_camera(tmp_path: Path) -> None:
    lesson = lesson_with(tmp_path, TEE + "at_m = [0.3, 0.6, 0.0]\n")
    assert "tee_base" in [mark.name for mark in lesson.marks]
    assert place(lesson) == [0.3, 0.6, 0.0]


@pytest.mark.parametrize("pixel", ["[1032.2, 500.0]", "[1032.2, 600.0]"])
def test_a_foot_in_the_sky_or_far_out_is_no_tee(tmp_path: Path, pixel: str) -> None:
    assert place(lesson_with(tmp_path, TEE.replace("[1032.2, 903.1]", pixel))) is None


def test_clips_without_a_tee_have_no_tee_s_place(tmp_path: Path) -> None:
    lesson = lesson_with(tmp_path, TEE)
    assert place(lesson, replace(lesson.clips[0], delivery="toss")) is None
