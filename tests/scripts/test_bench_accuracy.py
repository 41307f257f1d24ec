"""The benchmark's small set, through the public command: whether measuring has become worse by much."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
from bench.result_file import cores, read_result
from bench.summary import TARGETED, wrong

ROOT = Path(__file__).resolve().parents[2]
SEED = 3


def test_the_small_set_is_measured_within_generous_bounds(tmp_path: Path) -> None:
    out, cache = tmp_path / "result.json", tmp_path / "cache"
    command = [sys.executable, str(ROOT / "scripts" / "bench_accuracy.py"), "--small", "--seed", str(SEED)]
    command += ["--out", str(out), "--cache", str(cache), "--workers", str(min(2, cores()))]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    ran = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=900, check=False)
    assert ran.returncode == 0, ran.stderr[-2000:]
    assert "# Accuracy on rendered lessons" in ran.stdout
    json.loads(out.read_text())
    _, lessons = read_result(out)
    swings = [swing for lesson in lessons for swing in lesson.swings]
    assert len(swings) == 6
    hits = [swing for swing in swings if swing.hit]
    done = [swing for swing in hits if swing.measured]
    # Three of the four hits: one may fly out of the picture at once, or into the batter.
    assert len(hits) == 4
    assert len(done) >= 3
    assert not [words for swing in swings for words in swing.made_up]
    assert not [swing for swing in done if wrong(swing)]
    off = np.abs([swing.error[:TARGETED] for swing in done])
    # By day, the lens known to 2 % and marks to 1.2 px at worst: a lens off by 2 % at 75 mph is 1.5 mph by itself and
    # two of its sds twice that, so 6 mph; 3 and 4 degrees are what the program refuses to report as too vague.
    assert np.all(off < [6.0, 3.0, 4.5])
    limit = np.array([swing.limit.unbiased for swing in done])
    assert np.all(limit > 0)  # every swing that was measured has a limit too
    # Of a good fit half of the errors are under 0.67 limits and none in a thousand over 3.3; with biased sizes, and
    # few swings, the middle one may well be at five.
    assert np.all(np.median(off / limit[:, :TARGETED], axis=0) < 5.0)
