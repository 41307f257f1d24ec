"""The timing of detection: what it times is called, and its ratio is that of its own lines."""

import os
import subprocess
import sys
from pathlib import Path

import bench_detect
import pytest
from bench_detect import DECODING, STEPS, Spent, Step, Times, table, timed, total
from pytest import approx

ROOT = Path(__file__).resolve().parents[2]
CLIP = ROOT / "sample_clips" / "clips" / "01-tee" / "swing-01.mp4"


def test_the_ratio_is_detection_over_decoding_of_the_lines_printed() -> None:
    command = [sys.executable, str(ROOT / "scripts" / "bench_detect.py"), str(CLIP), "--rounds", "1"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    ran = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=600, check=False)
    assert ran.returncode == 0, ran.stderr[-2000:]
    head, *lines, last = ran.stdout.splitlines()
    assert head.split() == ["step", "seconds", "ratio", "calls", "ms", "each"]
    seconds, ratios, calls = {}, {}, {}
    for line in lines:
        title, numbers = line[:30].strip(), line[30:].split()
        seconds[title], ratios[title], calls[title] = float(numbers[0]), float(numbers[1]), int(numbers[2])
    assert list(seconds) == [DECODING, *(step.title for step in STEPS)]
    assert all(calls.values())  # else it would time nothing
    assert calls["motion candidates"] <= calls[DECODING]  # one swing: no frame is looked at twice
    detection_s = sum(seconds[step.title] for step in STEPS if step.detects)
    # Printed to 1 ms and 0.01: each of the few parts may be half of that off, against about half a second.
    assert float(last.removeprefix("detection / decoding = ")) == approx(detection_s / seconds[DECODING], abs=0.015)
    for title, ratio in ratios.items():
        assert ratio == approx(seconds[title] / seconds[DECODING], abs=0.01)


def test_what_a_step_takes_is_added_up_and_its_name_left_as_it_was() -> None:
    step = Step("totals", "bench_detect", "total")
    times: Times = {}
    with timed(step, times):
        bench_detect.total([])
        bench_detect.total([])
    assert bench_detect.total is total
    assert times["totals"].calls == 2
    assert times["totals"].seconds >= 0.0


def test_a_step_that_the_package_no_longer_has_is_an_error_not_a_zero() -> None:
    with (
        pytest.raises(AttributeError, match="no_such_step"),
        timed(Step("none", "balltrack.measure", "no_such_step"), {}),
    ):
        pass


def test_only_steps_of_detection_count_in_the_ratio() -> None:
    # By hand: decoding 2 s; the steps 0.5 s each, of which some detect.
    times = {DECODING: Spent(2.0, 100)} | {step.title: Spent(0.5, 10) for step in STEPS}
    share = sum(step.detects for step in STEPS) * 0.5 / 2.0
    assert 0 < share < 0.5 * len(STEPS) / 2.0
    assert table(times).splitlines()[-1] == f"detection / decoding = {share:.2f}"


def test_a_clip_outside_a_lesson_is_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match=r"no lesson\.toml"):
        bench_detect.lesson_folder(tmp_path / "clip.mp4")
