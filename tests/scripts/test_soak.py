"""The soak test, small: thousands of clips take too long here, its way of judging does not."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from soak import Sample, growths

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read where Linux tells it")
def test_twenty_clips_some_damaged_and_a_worker_killed_are_all_accounted_for() -> None:
    words = ["--clips", "20", "--hits", "0", "--kills", "1", "--no-network", "--workers", "2"]
    ran = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "soak.py"), *words],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr[-2000:]
    assert "by kind: 19 quiet, 1 empty" in ran.stdout  # 1 in 20
    assert "by what came of them: 19 none, 1 problem" in ran.stdout
    assert "not accounted for: 0" in ran.stdout
    assert "20 clips not measured again, records the same" in ran.stdout


def test_a_leak_of_memory_or_files_is_told_by_the_clip_once_the_process_is_warm() -> None:
    # Source: the samples are made so: 100 kB for each clip of the worker's own (two workers share 1200 clips), and a
    # file that stays open for every 50 clips of the run; before it is warm it grows ten times as fast.
    loading = [Sample(7, done, 1000 * done, 10) for done in range(0, 100, 2)]
    warm = [Sample(7, done, 95_000 + 100 * done / 2, 10 + done // 50) for done in range(100, 1200, 2)]
    short = [Sample(8, done, 1000 * done, 10) for done in range(800, 1000, 2)]  # lives for 100 clips, half of them warm
    (worker,) = growths(loading + warm + short, workers=2)
    assert worker.pid == 7
    assert worker.kb_per_clip == pytest.approx(100)
    assert worker.more_files == pytest.approx(550 / 50, abs=1)  # half of the warm part is 550 clips
