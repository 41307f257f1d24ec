"""A lesson of the benchmark's small set, by the public command: whether measuring has become worse by much."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from bench.result_file import read_result, this_run, write_result
from bench.summary import TARGETED, wrong
from bench.swing_score import LessonScore
from bench_accuracy import earlier_lessons

ROOT = Path(__file__).resolve().parents[2]
SEED = 3


def test_the_first_lesson_of_the_small_set_is_measured_within_generous_bounds(tmp_path: Path) -> None:
    out, cache = tmp_path / "result.json", tmp_path / "cache"
    command = [sys.executable, str(ROOT / "scripts" / "bench_accuracy.py"), "--small", "--seed", str(SEED)]
    command += ["--lessons", "1", "--out", str(out), "--cache", str(cache), "--workers", "1"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    ran = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=900, check=False)
    assert ran.returncode == 0, ran.stderr[-2000:]
    assert "# Accuracy on rendered lessons" in ran.stdout
    json.loads(out.read_text())
    _, lessons = read_result(out)
    swings = [swing for lesson in lessons for swing in lesson.swings]
    assert len(swings) == 3
    hits = [swing for swing in swings if swing.hit]
    done = [swing for swing in hits if swing.measured]
    # This seed's hits fly neither out of the picture at once nor into the batter.
    assert len(hits) == 2
    assert done == hits
    assert not [words for swing in swings for words in swing.made_up]
    assert not [swing for swing in done if wrong(swing)]
    off = np.abs([swing.error[:TARGETED] for swing in done])
    # By day, the lens known to 2 % and marks to 1.2 px at worst: a lens off by 2 % at 75 mph is 1.5 mph by itself and
    # two of its sds twice that, so 6 mph; 3 and 4 degrees are what the program refuses to report as too vague.
    assert np.all(off < [6.0, 3.0, 4.5])
    limit = np.array([swing.limit.unbiased for swing in done])
    assert np.all(limit > 0)  # every swing that was measured has a limit too
    # Of a good fit half of the errors are under 0.67 limits and none in a thousand over 3.3; with biased sizes, and
    # two swings, their mean may well be at five.
    assert np.all(np.mean(off / limit[:, :TARGETED], axis=0) < 5.0)


def test_a_run_goes_on_from_what_the_same_run_left_and_from_nothing_else(tmp_path: Path) -> None:
    out, run = tmp_path / "result.json", this_run(SEED, 2, True)
    kept = [_faultless(1), replace(_faultless(2), faults=("it ended badly",))]
    assert earlier_lessons(run, out) == (run, {})
    write_result(out, replace(run, minutes=4.0), kept)
    went_on, done = earlier_lessons(run, out)
    assert (went_on.minutes, list(done)) == (4.0, [1])
    for other in (replace(run, seed=SEED + 1), replace(run, planned=3), replace(run, versions={"renderer": "another"})):
        assert earlier_lessons(other, out) == (other, {})


def _faultless(number: int) -> LessonScore:
    return LessonScore(number, "side-on", {}, (), (), (), 1.0, 2.0)
