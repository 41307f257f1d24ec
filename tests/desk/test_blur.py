"""Exposure blur in words, clip by clip, from what measuring kept."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balltrack.camera.model import Camera
from balltrack.desk.blur import smeared_px
from balltrack.records.camera_file import read_camera
from balltrack.records.store import read_swings
from balltrack.records.swing import to_json
from tests.desk.served import asking

SAMPLE = Path(__file__).parents[2] / "sample_clips"
MPH = 0.44704  # m/s, exactly


@pytest.fixture
def folder(measured_sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured_sample, tmp_path / "lesson"))


def with_exposures(folder: Path, *exposures_s: float | None) -> None:
    """Set what the records say, in their order."""
    path = folder / "results" / "swings.jsonl"
    swings = [replace(each, exposure_s=s) for each, s in zip(read_swings(path), exposures_s, strict=True)]
    path.write_text("".join(to_json(swing) + "\n" for swing in swings))


def shown(folder: Path) -> str:
    with asking(folder) as client:
        return client.get("setup").text


def test_the_smear_is_speed_times_time_as_the_camera_sees_it() -> None:
    # Straight behind: 5 m back of the tip, level at the height of contact (0.55 m ahead of the tip, 0.9 m up). A ball
    # along a foul line, 15 degrees up, moves by v t cos 15 sin 45 across and v t sin 15 upward, seen from 5.55 m; how
    # far along the line of sight hardly matters. f = 1000 px.
    parameters = np.array([np.pi / 2, 0.0, 0.0, 0.0, -5.0, 0.9, 1000.0, 0.0, 639.5, 359.5, 0.0])
    camera = Camera(parameters, np.zeros((11, 11)), (1280, 720))
    moved_m = 90 * MPH / 500
    by_hand = 1000 * moved_m * np.hypot(np.cos(np.radians(15)) * np.sin(np.radians(45)), np.sin(np.radians(15))) / 5.55
    assert smeared_px(1 / 500, camera) == pytest.approx(by_hand, rel=1e-3)


def test_before_measuring_nothing_is_known(measured_sample: Path, tmp_path: Path) -> None:
    lesson = tmp_path / "lesson"
    shutil.copytree(measured_sample, lesson, ignore=shutil.ignore_patterns("results"))
    text = shown(lesson)
    assert text.count("shutter: not known until measured") == 2
    assert "shutter about" not in text


def test_after_measuring_each_clip_says_its_shutter_and_what_that_smears(folder: Path) -> None:
    with_exposures(folder, 1 / 404, None)
    text = shown(folder)
    smear = smeared_px(1 / 404, read_camera(folder / "results" / "camera.json").camera)
    assert f"shutter about 1/400 s: a 90 mph ball is smeared over up to {smear:.0f} px at contact" in text
    assert text.count("shutter: not told, no ball measured shows a clear streak") == 1


def test_blur_that_costs_accuracy_says_how_much_and_what_to_change(folder: Path) -> None:
    # 90 mph for 1/1000 s is 40 mm, four tenths of a softball; for 1/120 s 335 mm, more than three.
    with_exposures(folder, 1 / 1000, 1 / 120)
    text = shown(folder)
    assert text.count("times as unsure as a sharp one") == 1
    assert "film in brighter light with the shutter at 1/1000 s or shorter" in text


def test_records_of_before_and_results_that_cannot_be_read_do_no_harm(folder: Path) -> None:
    path = folder / "results" / "swings.jsonl"
    old = [json.loads(line) for line in path.read_text().splitlines()]
    for each in old:
        del each["exposure_s"]
    path.write_text("".join(json.dumps(each) + "\n" for each in old))
    assert shown(folder).count("shutter: not told, no ball measured shows") == 2
    with_exposures(folder, 1 / 404, 1 / 404)
    (folder / "results" / "camera.json").unlink()
    assert shown(folder).count("shutter about 1/400 s<") == 2
    path.write_text("{")
    assert "shutter: not told, no ball was measured" in shown(folder)
