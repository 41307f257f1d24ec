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
from pathlib import Path

import setup_env

NO_TRAINING = "--no-training"
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # two test processes share the cores
TRAINING_SET = "import onnx, onnxslim, torch, ultralytics"
NOTHING_CHOSEN = 5  # pytest's exit status where its words leave no test


def main(python: Path, words: Sequence[str], training_python: Callable[[], Path] | None) -> int:
    """All checks in turn; a line says which failed. Status 0 if none did.

    ``training_python`` waits for the environment with the training set: it is made while the first checks run.
    """
    tool = setup_env.tool
    checks = {
        "style": [str(tool("ruff")), "check", "."],
        "types": [str(tool("mypy"))],
        "import order": [str(tool("lint-imports"))],
        "tests": [str(python), "-m", "pytest", "-q", "-n", "2", *words],
    }
    failed = [name for name, command in checks.items() if not passes(name, command, words)]
    if training_python is None:
        print(f"Training was left out ({NO_TRAINING}).")
    else:
        training = training_checks(training_python(), words)
        failed += [name for name, command in training.items() if not passes(name, command, words)]
    print(f"Failed: {', '.join(failed)}" if failed else "All checks passed.")
    return 1 if failed else 0


def passes(name: str, command: Sequence[str], words: Sequence[str]) -> bool:
    """Run one check, and say how long it took."""
    print(f"== {name}", flush=True)
    start = time.monotonic()
    status = subprocess.run(command, cwd=setup_env.ROOT, env={**os.environ, **ONE_THREAD}).returncode
    print(f"   {time.monotonic() - start:.0f} s", flush=True)
    return status == 0 or (name == "training" and bool(words) and status == NOTHING_CHOSEN)


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
            extras = frozenset({"dev", "train"})
            ready = aside.submit(setup_env.ready_python, extras, setup_env.TRAINING_VENV) if with_training else None
            return main(python, words, ready.result if ready else None)

    setup_env.run_in_env(run, ["dev"])
