"""How long the take-home review of a long lesson takes, films left aside, beside that of the lesson it is made from.

    python scripts/bench_review.py MEASURED_LESSON [--swings 150]

The swings of a measured lesson are repeated, each a little different, until there are enough; page, charts and PDF are
made of them.
"""

import argparse
import shutil
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from itertools import cycle, islice
from pathlib import Path

import numpy as np

from balltrack.records.store import read_swings
from balltrack.records.swing import Swing, to_json
from balltrack.review.make import Wish, make_review

KEPT = ("lesson.toml", "results/camera.json", "results/swings.csv")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lesson", type=Path, help="a measured lesson")
    parser.add_argument("--swings", type=int, default=150)
    entered = parser.parse_args()
    swings = read_swings(entered.lesson / "results" / "swings.jsonl")
    make_review_of(entered.lesson, swings)  # what is loaded once is not counted
    short_s = make_review_of(entered.lesson, swings)
    long_s = make_review_of(entered.lesson, repeated(swings, entered.swings))
    print(f"{len(swings)} swings: {short_s:.1f} s")
    print(f"{entered.swings} swings: {long_s:.1f} s, {long_s / short_s:.1f} times as long")


def make_review_of(lesson: Path, swings: Sequence[Swing]) -> float:
    """Seconds for the page, its charts and the PDF of these swings, in a copy of the lesson without its films."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "lesson"
        shutil.copytree(lesson / "clips", copy / "clips")
        (copy / "results").mkdir()
        for name in KEPT:
            shutil.copy(lesson / name, copy / name)
        (copy / "results" / "swings.jsonl").write_text("".join(to_json(swing) + "\n" for swing in swings))
        begin = time.perf_counter()
        make_review(copy, Wish(clips=False))
        return time.perf_counter() - begin


def repeated(swings: Sequence[Swing], count: int) -> list[Swing]:
    """So many swings, in the order of their blocks."""
    rng = np.random.default_rng(1)
    copies = sorted(islice(cycle(swings), count), key=lambda swing: swing.block)
    return [_varied(swing, number, rng) for number, swing in enumerate(copies, start=1)]


def _varied(swing: Swing, number: int, rng: np.random.Generator) -> Swing:
    named = replace(swing, swing=f"{swing.block}/{number:03d}#1")
    if swing.exit_speed_mps is None or swing.launch_deg is None or swing.spray_deg is None:
        return named
    faster, steeper, aside = rng.normal(0, (0.02, 0.3, 0.3))
    return replace(
        named,
        exit_speed_mps=swing.exit_speed_mps * float(1 + faster),
        launch_deg=swing.launch_deg + float(steeper),
        spray_deg=swing.spray_deg + float(aside),
    )


if __name__ == "__main__":
    main()
