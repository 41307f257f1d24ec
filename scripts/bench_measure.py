"""How accurate the measuring is: renders lessons that it has never seen, measures them, compares with the truth.

    python scripts/bench_measure.py                 12 lessons of 4 or 5 clips, a quarter of an hour on two cores
    python scripts/bench_measure.py --quick         3 lessons
    python scripts/bench_measure.py --seed 7 --out bench.json

The lessons go round 12-inch and 11-inch softball and baseball; the phone behind the plate, at 45 degrees on either
side, and side-on; 30, 60, 120 and 240 frames a second; tee, toss and live, with a swing and miss in each. Marks have
0.7 px of noise, the lens is known to 0.3 %; it is day, and no net stands in the way; colours, sound, codec and all else
are drawn. They are measured by the public command, each error is laid beside that of a fit to the ball's true pixels
with 0.5 px of noise, and the exit status is 1 if a target is missed.

Rendered lessons are kept in bench_cache/ (safe to delete), so that a seed's second run only measures.
"""

import argparse
import contextlib
import importlib.util
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from types import FrameType

if importlib.util.find_spec("balltrack") is None:
    sys.exit("this Python has no balltrack: pip install -e . first, or use the .venv that scripts/test.py makes")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from bench.lessons import BenchLesson, lessons
from bench.report import report
from bench.result_file import as_json, cores, versions
from bench.run import LessonScore, run_lesson
from bench.summary import summarise, verdicts

LESSONS, QUICK_LESSONS = 12, 3
MOST_WORKERS = 2
GRACE_S = 5.0  # for a worker to end what it runs


def parse(arguments: list[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, help="every choice follows from it (default: from the clock, printed)")
    parser.add_argument("--lessons", type=int, help=f"how many (default {LESSONS}; 12 cover the set-ups evenly)")
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_LESSONS} lessons only")
    parser.add_argument("--hard", action="store_true", help="dusk and nets too, for which no target is set")
    parser.add_argument("--out", type=Path, metavar="FILE.json", help="write every swing and table here too")
    said = parser.parse_args(arguments)
    if said.lessons is None:
        said.lessons = QUICK_LESSONS if said.quick else LESSONS
    if said.lessons < 1:
        parser.error(f"--lessons {said.lessons}: at least 1 is needed")
    if said.seed is None:
        said.seed = int(time.time()) % 1_000_000
    if said.seed < 0:
        parser.error(f"--seed {said.seed}: give 0 or more")
    if said.out and not said.out.parent.is_dir():
        parser.error(f"--out {said.out}: its folder does not exist")
    return said


def run_all(planned: list[BenchLesson]) -> list[LessonScore]:
    """All lessons, two at a time, in their order; a word on the error stream as each is done."""
    done: dict[int, LessonScore] = {}
    workers = min(MOST_WORKERS, cores(), len(planned))
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, initializer=_start_worker) as pool, _none_left_behind():
        longest_first = sorted(planned, key=lambda lesson: -lesson.spec.fps)
        for future in as_completed([pool.submit(run_lesson, lesson) for lesson in longest_first]):
            score = future.result()
            done[score.lesson.number] = score
            hits = [swing for swing in score.swings if swing.hit]
            good = sum(swing.outcome == "measured" for swing in hits)
            print(
                f"{len(done)}/{len(planned)} lesson {score.lesson.number} {score.lesson.title}: {good} of {len(hits)} "
                f"hits measured (rendered in {score.render_s:.0f} s, measured in {score.measure_s:.0f} s)",
                file=sys.stderr, flush=True,
            )  # fmt: skip
    return [done[number] for number in sorted(done)]


def _start_worker() -> None:
    signal.signal(signal.SIGINT, lambda number, frame: None)  # Ctrl-C reaches all; the parent ends the workers
    signal.signal(signal.SIGTERM, _leave)


def _leave(number: int, frame: FrameType | None) -> None:
    sys.exit(128 + number)


@contextlib.contextmanager
def _none_left_behind() -> Iterator[None]:
    """End the workers where the body does not run to its end."""
    try:
        yield
    except BaseException:
        workers = multiprocessing.active_children()
        for worker in workers:
            worker.terminate()
        for worker in workers:
            worker.join(GRACE_S)
            worker.kill()
        raise


def main(arguments: list[str] | None = None) -> int:
    """Render, measure, compare; 1 if a target is missed."""
    said = parse(arguments)
    begun = time.perf_counter()
    words = ", ".join(f"{name} {number}" for name, number in versions().items())
    print(f"seed {said.seed}, {said.lessons} lessons; {words}; {cores()} cores", flush=True)
    signal.signal(signal.SIGTERM, _leave)
    scores = run_all(lessons(said.seed, said.lessons, said.hard))
    swings = [swing for score in scores for swing in score.swings]
    marks = verdicts(summarise(swings), sum(len(score.faults) for score in scores))
    print(f"done in {(time.perf_counter() - begun) / 60:.1f} min\n\n{report(scores, marks)}", end="")
    if said.out:
        said.out.write_text(as_json(said.seed, scores, marks))
    return 0 if all(mark.met for mark in marks) else 1


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("stopped")
