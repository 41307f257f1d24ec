"""Run all checks on a machine that has only Python: style, types, import order, tests, training. Words go to pytest.

    python3 scripts/test.py                   all of it; training needs 7 GB of disk for .venv-train
    python3 scripts/test.py --no-training     without what needs the training set
"""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import setup_env

NO_TRAINING = "--no-training"
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # two test processes share the cores
TRAINING_SET = "import onnx, onnxslim, torch, ultralytics"
BY_FILE = ("--dist", "loadfile", "--no-loadscope-reorder")  # what a file's tests share is made by one process only
# What is compiled at first use is kept beside its code: made here once, not by each of the processes that tests start.
COMPILE = """
from pathlib import Path
from balltrack.lesson import load_lesson
from balltrack.measure import measure_clip
from balltrack.setup import prepare
lesson = load_lesson(Path("sample_clips"))
measure_clip(next(clip for clip in lesson.clips if clip.block == "02-toss"), prepare(lesson))
"""
NOTHING_CHOSEN = 5  # pytest's exit status where its words leave no test


@dataclass(frozen=True)
class Check:
    """What came of a check."""

    name: str
    passed: bool
    said: str  # what it printed, where that was kept back


def main(python: Path, words: Sequence[str], training: Callable[[], list[Check]] | None) -> int:
    """All checks in turn; a line says which failed. Status 0 if none did.

    ``training`` waits for what runs beside them: making its environment and its tests take one core.
    """
    tool = setup_env.tool
    checks = {
        "style": [str(tool("ruff")), "check", "."],
        "types": [str(tool("mypy"))],
        "import order": [str(tool("lint-imports"))],
        "compiling": [str(python), "-c", COMPILE],
        "tests": [str(python), "-m", "pytest", "-q", "-n", "2", *BY_FILE, *words],
    }
    done = [check(name, command, words, aside=False) for name, command in checks.items()]
    if training is None:
        print(f"Training was left out ({NO_TRAINING}).")
    else:
        beside = training()
        print("\n".join(each.said for each in beside))
        done += beside
    failed = [each.name for each in done if not each.passed]
    print(f"Failed: {', '.join(failed)}" if failed else "All checks passed.")
    return 1 if failed else 0


def check(name: str, command: Sequence[str], words: Sequence[str], aside: bool) -> Check:
    """Run one check, and say how long it took: at once, or, ``aside``, in what it returns."""
    if not aside:
        print(f"== {name}", flush=True)
    start = time.monotonic()
    output: dict[str, Any] = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT, "text": True} if aside else {}
    ran = subprocess.run(command, cwd=setup_env.ROOT, env={**os.environ, **ONE_THREAD}, **output)
    took = f"   {time.monotonic() - start:.0f} s"
    if not aside:
        print(took, flush=True)
    passed = ran.returncode == 0 or (name == "training" and bool(words) and ran.returncode == NOTHING_CHOSEN)
    return Check(name, passed, f"== {name}\n{ran.stdout}{took}" if aside else "")


def train(words: Sequence[str]) -> list[Check]:
    """Make the environment with the training set, and run what needs it."""
    python = setup_env.ready_python(frozenset({"dev", "train"}), setup_env.TRAINING_VENV)
    return [check(name, command, words, aside=True) for name, command in training_checks(python, words).items()]


def training_checks(python: Path, words: Sequence[str]) -> dict[str, list[str]]:
    """That the training set is there, since the tests that need it are skipped where it is not; and those tests."""
    return {
        "training set": [str(python), "-c", TRAINING_SET],
        "training": [str(python), "-m", "pytest", "-v", "-m", "training", *words],
    }


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != NO_TRAINING]
    with_training = NO_TRAINING not in sys.argv

    def run(python: Path) -> int:
        """Called once .venv is ready."""
        setup_env.ready_browser()
        with ThreadPoolExecutor(1) as aside:
            training = aside.submit(train, words).result if with_training else None
            return main(python, words, training)

    setup_env.run_in_env(run, ["dev"])
