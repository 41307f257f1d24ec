"""What the command answers to real files that nobody made for it.

    python scripts/answer_footage.py FOOTAGE_DIR

Makes a lesson around each film below FOOTAGE_DIR in a folder that goes away, measures it, and prints a table. In none
of them is a ball batted: numbers for a swing, a traceback, or a crash make the exit status 1.
"""

import argparse
import importlib.util
import os
import sys
import tempfile
from pathlib import Path

if importlib.util.find_spec("balltrack") is None:
    sys.exit("this Python has no balltrack: pip install -e . first, or use the .venv that scripts/test.py makes")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from footage.answers import SOUNDS, STILLS, answer_to

STATUSES = (0, 1, 3, 4)  # as `balltrack measure --help` tells them


def main(arguments: list[str] | None = None) -> int:
    """Ask, print; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("footage", type=Path, metavar="FOOTAGE_DIR", help="folder of folders with films")
    footage = parser.parse_args(arguments).footage
    left_out = {*STILLS, *SOUNDS, ".md"}
    files = sorted((path for path in footage.glob("*/*") if path.suffix.lower() not in left_out), reverse=True)
    print("| file | exit status | swings | what is said |\n| --- | ---: | --- | --- |")
    bad = 0
    for file in files:
        with tempfile.TemporaryDirectory() as folder:
            answer = answer_to(file, Path(folder) / "lesson")
        wrong = "measured" in answer.outcomes or "Traceback" in answer.said or answer.status not in STATUSES
        bad += wrong
        words = answer.words.replace(folder, "…").replace("|", "/")
        print(
            f"| {answer.name} | {answer.status} | {', '.join(answer.outcomes) or 'none'} | {words}"
            f"{' (WRONG)' if wrong else ''} |",
            flush=True,
        )
    return 0 if files and not bad else 1


if __name__ == "__main__":
    sys.exit(main())
