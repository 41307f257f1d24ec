"""Gravity from real balls in free flight, followed by the package: is the truth in the interval that is stated?

    python scripts/score_gravity.py FOOTAGE_DIR

Prints a table; exit status 1 where an interval misses standard gravity, 9.80665 m/s², or no clip is there.
"""

import argparse
import importlib.util
import os
import sys
from pathlib import Path

if importlib.util.find_spec("balltrack") is None:
    sys.exit("this Python has no balltrack: pip install -e . first, or use the .venv that scripts/test.py makes")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from footage.falls import FALLS

GRAVITY_MPS2 = 9.80665  # standard gravity, 3rd CGPM, 1901


def main(arguments: list[str] | None = None) -> int:
    """Follow, fit, print; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("footage", type=Path, metavar="FOOTAGE_DIR", help="folder with toss/")
    footage = parser.parse_args(arguments).footage
    print(
        "| clip | flights | frames | gravity, m/s² | 90 in 100 | off the fit, px | known |",
        "| --- " * 7 + "|",
        sep="\n",
    )
    held: list[bool] = []
    for fall in FALLS:
        path = footage / fall.path
        if not path.is_file():
            print(f"{path} is not there and is left out", file=sys.stderr)
            continue
        flights = fall.flights(path)
        pull = fall.pull(flights)
        low, high = pull.interval_mps2
        held.append(low < GRAVITY_MPS2 < high)
        print(
            f"| {path.stem} | {len(flights)} | {pull.frames} | {pull.mps2:.2f} | {low:.2f} to {high:.2f}"
            f"{'' if held[-1] else ' (misses)'} | {pull.residual_px:.1f} | {fall.doubts} |",
            flush=True,
        )
    return 0 if held and all(held) else 1


if __name__ == "__main__":
    sys.exit(main())
