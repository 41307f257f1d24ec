"""How accurate the measuring is: renders lessons that it has never seen, measures them, compares with the truth.

    python scripts/bench_accuracy.py --small                     2 lessons, under a minute
    python scripts/bench_accuracy.py --seed 7 --out result.json  48 lessons, about 230 hits, on all cores
    python scripts/bench_accuracy.py --from result.json --report writes docs/accuracy.md and its pictures

Lessons go evenly round phones behind, beside, above and below the plate; 30 to 240 frames a second; 720 to 2160 lines;
three kinds of ball; tee, toss and live pitching; sun and cloud. Two in five have a difficulty besides: dusk, a cage, a
gym, nets, a phone in the hand, a knocked tripod, a vague lens and more. Each is measured by the public command; each
error is laid beside the least that any fit could have (its statistical limit). Exit status 1: a command failed.

FILE.json is written anew after every lesson, so that a run that is stopped keeps what it has; the same command, with no
line of program or renderer changed, goes on from there. Rendered lessons are kept in bench_cache/ (safe to delete), so
that a seed's second run only measures.
"""

import argparse
import contextlib
import importlib.util
import multiprocessing
import os
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from pathlib import Path
from types import FrameType

if importlib.util.find_spec("balltrack") is None:
    sys.exit("this Python has no balltrack: pip install -e . first, or use the .venv that scripts/test.py makes")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from bench.lessons import CACHE, ROOT, BenchLesson, lessons
from bench.plots import draw_plots
from bench.report import in_short, report
from bench.result_file import Run, cores, read_result, this_run, write_result
from bench.run import run_lesson
from bench.swing_score import LessonScore

LESSONS, SMALL_LESSONS = 48, 2
GRACE_S = 5.0  # for a worker to end what it runs
PAGE, PICTURES = ROOT / "docs" / "accuracy.md", ROOT / "docs" / "accuracy"
README = ROOT / "README.md"
README_BEGIN, README_END = (
    "<!-- accuracy: written by scripts/bench_accuracy.py --report -->", "<!-- end of accuracy -->",
)  # fmt: skip


def parse(arguments: list[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, help="every choice follows from it (default: from the clock, printed)")
    parser.add_argument("--lessons", type=int, help=f"how many (default {LESSONS})")
    parser.add_argument("--small", action="store_true", help=f"{SMALL_LESSONS} ordinary lessons of 3 short clips")
    parser.add_argument("--workers", type=int, default=cores(), help="lessons at a time (default: one for each core)")
    parser.add_argument("--budget-s", type=float, metavar="N", help="start no further lesson after so many seconds")
    parser.add_argument("--cache", type=Path, default=CACHE, metavar="DIR", help="where rendered lessons are kept")
    parser.add_argument("--out", type=Path, metavar="FILE.json", help="write every swing here, after each lesson")
    parser.add_argument("--from", type=Path, dest="read", metavar="FILE.json", help="run nothing; take this result")
    parser.add_argument("--report", action="store_true", help="write docs/accuracy.md and docs/accuracy/")
    said = parser.parse_args(arguments)
    if said.lessons is None:
        said.lessons = SMALL_LESSONS if said.small else LESSONS
    if said.seed is None:
        said.seed = int(time.time()) % 1_000_000
    for name, least in (("lessons", 1), ("workers", 1), ("seed", 0)):
        if getattr(said, name) < least:
            parser.error(f"--{name} {getattr(said, name)}: give {least} or more")
    if said.out and not said.out.parent.is_dir():
        parser.error(f"--out {said.out}: its folder does not exist")
    if said.read and not said.read.is_file():
        parser.error(f"--from {said.read}: there is no such file")
    return said


def run_all(planned: list[BenchLesson], said: argparse.Namespace) -> tuple[Run, list[LessonScore]]:
    """The lessons in their order of number, as many at a time as there are workers; a word as each is done."""
    begun = time.perf_counter()
    run, done = earlier_lessons(this_run(said.seed, len(planned), said.small), said.out)
    before_min = run.minutes
    # The longest first, so that none runs on alone; against the clock as drawn, so that what is done is spread evenly.
    waiting = [lesson for lesson in planned if lesson.number not in done]
    waiting = waiting if said.budget_s else sorted(waiting, key=lambda lesson: -lesson.cost)
    running = set[Future[LessonScore]]()
    workers, context = min(said.workers, len(planned)), multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, initializer=_start_worker) as pool, _none_left_behind():
        while waiting or running:
            if said.budget_s and time.perf_counter() - begun > said.budget_s:
                waiting.clear()
            while waiting and len(running) < workers:
                running.add(pool.submit(run_lesson, waiting.pop(0), said.cache))
            if not running:
                break
            finished, running = wait(running, return_when=FIRST_COMPLETED)
            for future in finished:
                score = future.result()
                done[score.number] = score
                _say(score, len(done), len(planned))
            run = replace(run, minutes=before_min + (time.perf_counter() - begun) / 60)
            if said.out:
                write_result(said.out, run, [done[number] for number in sorted(done)])
    return run, [done[number] for number in sorted(done)]


def earlier_lessons(run: Run, out: Path | None) -> tuple[Run, dict[int, LessonScore]]:
    """The run, and its lessons that an earlier call has left in ``out`` without a fault."""
    if out is None or not out.is_file():
        return run, {}
    try:
        earlier, scores = read_result(out)
    except ValueError:
        return run, {}
    if replace(earlier, date=run.date, minutes=0.0) != run:
        return run, {}
    done = {score.number: score for score in scores if not score.faults}
    print(f"{len(done)} lessons of this run are in {out.name} already", file=sys.stderr, flush=True)
    return replace(run, minutes=earlier.minutes), done


def _say(score: LessonScore, done: int, planned: int) -> None:
    hits = [swing for swing in score.swings if swing.hit]
    good = sum(swing.measured for swing in hits)
    print(
        f"{done}/{planned} lesson {score.number} ({score.title}): {good} of {len(hits)} hits measured "
        f"(rendered in {score.render_s:.0f} s, measured in {score.measure_s:.0f} s)"
        + "".join(f"; {fault}" for fault in score.faults),
        file=sys.stderr, flush=True,
    )  # fmt: skip


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


def write_report(run: Run, scores: list[LessonScore]) -> None:
    """docs/accuracy.md, its pictures, the result that they were made from, and what the README quotes of it.

    Pictures of an earlier run go.
    """
    shutil.rmtree(PICTURES, ignore_errors=True)
    draw_plots(PICTURES, scores)
    write_result(PICTURES / "result.json", run, scores)
    PAGE.write_text(report(run, scores))
    readme = README.read_text()
    before, rest = readme.split(README_BEGIN)
    README.write_text(f"{before}{README_BEGIN}\n{in_short(run, scores)}\n{README_END}{rest.split(README_END)[1]}")


def main(arguments: list[str] | None = None) -> int:
    """Render, measure, compare, report; 1 if a command failed."""
    said = parse(arguments)
    signal.signal(signal.SIGTERM, _leave)
    if said.read:
        try:
            run, scores = read_result(said.read)
        except ValueError as error:
            sys.exit(f"{said.read}: {error}; run the benchmark again")
    else:
        print(f"seed {said.seed}, {said.lessons} lessons, {said.workers} at a time", file=sys.stderr, flush=True)
        try:
            run, scores = run_all(lessons(said.seed, said.lessons, said.small), said)
        except BrokenProcessPool:
            sys.exit("a worker was ended from outside, perhaps for want of memory; try fewer --workers")
    print(report(run, scores), end="")
    if said.report:
        write_report(run, scores)
    return 1 if any(score.faults for score in scores) else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("stopped")
