"""How long detection takes, against decoding the same clips: both in one run, the steps timed while clips are measured.

    python scripts/bench_detect.py [CLIP ...] [--rounds N]      without a clip: those of sample_clips

A clip lies in its lesson's folder. Two processes, one clip each at a time, one thread each, as measuring uses two
cores. Each clip is decoded and measured in turns; of the rounds the fastest counts, step by step. Only the ratio to
decoding counts, not this machine's rate. A step is told by the name under which the package calls it: what measuring
does not call is not timed, and each frame counts as often as it is looked at.
"""

import argparse
import functools
import importlib
import itertools
import multiprocessing
import os
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import av
import cv2
import numpy as np

from balltrack.detect.network import load_network, shipped_weights
from balltrack.lesson import Lesson, load_lesson
from balltrack.measure import measure_clip
from balltrack.setup import Setup, prepare

SAMPLES = Path(__file__).resolve().parents[1] / "sample_clips"
ROUNDS = 3
WORKERS = 2


@dataclass(frozen=True, slots=True)
class Step:
    """A part of measuring, by the name that its caller looks up."""

    title: str
    module: str
    name: str  # of a function, or of a class and its method
    detects: bool = False  # part of detection


DECODING = "bare decoding"
STEPS = (
    Step("the empty field", "balltrack.track.search", "median_background", detects=True),
    Step("motion candidates", "balltrack.detect.motion", "find_candidates", detects=True),
    Step("the network", "balltrack.detect.network", "Network.look", detects=True),
    Step("watching for a swing", "balltrack.take", "StirMeter.add"),
    Step("search: linking", "balltrack.measure", "find_batted_balls"),
    Step("following: the ball's centre", "balltrack.track.follow", "first_sight"),
)


@dataclass(frozen=True, slots=True)
class Spent:
    """Processor time of a step, and how often it was called."""

    seconds: float = 0.0
    calls: int = 0

    def __add__(self, other: "Spent") -> "Spent":
        return Spent(self.seconds + other.seconds, self.calls + other.calls)


Times = dict[str, Spent]  # by title


@contextmanager
def timed(step: Step, times: Times) -> Iterator[None]:
    """Add to ``times`` what the step takes meanwhile."""
    owner: object = importlib.import_module(step.module)
    *classes, name = step.name.split(".")
    owner = functools.reduce(getattr, classes, owner)
    plain: Callable[..., object] = getattr(owner, name)

    @functools.wraps(plain)
    def timing(*args: object, **named: object) -> object:
        start_s = time.process_time()
        try:
            return plain(*args, **named)
        finally:
            times[step.title] = times.get(step.title, Spent()) + Spent(time.process_time() - start_s, 1)

    setattr(owner, name, timing)
    try:
        yield
    finally:
        setattr(owner, name, plain)


def decode(path: Path) -> Spent:
    """Decode every picture, look at none: the unit."""
    start_s = time.process_time()
    count = 0
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_count = 1
        for picture in container.decode(stream):
            plane = picture.planes[0]
            np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, plane.line_size)
            count += 1
    return Spent(time.process_time() - start_s, count)


@functools.lru_cache(maxsize=1)
def prepared(folder: Path) -> tuple[Lesson, Setup]:
    """The lesson of a folder, and what its clips share."""
    lesson = load_lesson(folder)
    return lesson, prepare(lesson, load_network(shipped_weights()))


def lesson_folder(path: Path) -> Path:
    """The folder of the lesson to which a clip belongs."""
    for folder in path.resolve().parents:
        if (folder / "lesson.toml").is_file():
            return folder
    raise SystemExit(f"{path}: no lesson.toml in the folders above it; name clips of a lesson")


def one_clip(path: Path, rounds: int) -> Times:
    """Fastest time of each step over the rounds."""
    lesson, setup = prepared(lesson_folder(path))
    clip = next((clip for clip in lesson.clips if clip.path.resolve() == path.resolve()), None)
    if clip is None:
        raise SystemExit(f"{path}: not a clip of its lesson; name one from its clips folder")
    fastest: Times = {}
    for _ in range(rounds):
        times = {DECODING: decode(path)}
        with ExitStack() as stack:
            for step in STEPS:
                stack.enter_context(timed(step, times))
            measure_clip(clip, setup)
        for title, spent in times.items():
            fastest[title] = min(fastest.get(title, spent), spent, key=lambda each: each.seconds)
    return fastest


def total(clips: Sequence[Times]) -> Times:
    """Sums over clips; a step that none of them needed counts nothing."""
    titles = (DECODING, *(step.title for step in STEPS))
    return {title: sum((times.get(title, Spent()) for times in clips), Spent()) for title in titles}


def table(times: Times) -> str:
    """One line a step, and detection over decoding as the last."""
    unit_s = times[DECODING].seconds
    lines = [f"{'step':30}{'seconds':>9}{'ratio':>8}{'calls':>8}{'ms each':>9}"]
    for title, spent in times.items():
        each_ms = 1000 * spent.seconds / max(spent.calls, 1)
        lines.append(f"{title:30}{spent.seconds:9.3f}{spent.seconds / unit_s:8.3f}{spent.calls:8d}{each_ms:9.2f}")
    detection_s = sum(times[step.title].seconds for step in STEPS if step.detects)
    return "\n".join([*lines, f"detection / decoding = {detection_s / unit_s:.2f}"])


def _single_thread() -> None:
    cv2.setNumThreads(1)


def measure_all(paths: Sequence[Path], rounds: int) -> Times:
    """Time all clips, two at a time."""
    os.environ["OMP_NUM_THREADS"] = "1"  # for the processes started below
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(WORKERS, context, initializer=_single_thread) as pool:
        return total(list(pool.map(one_clip, paths, itertools.repeat(rounds))))


def main() -> None:
    """Print the table for the clips named, or the sample clips."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("clips", nargs="*", type=Path, help="clips of lessons; without: those of sample_clips")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="of which the fastest counts")
    words = parser.parse_args()
    paths = words.clips or [clip.path for clip in load_lesson(SAMPLES).clips]
    print(table(measure_all(paths, max(words.rounds, 1))))


if __name__ == "__main__":
    main()
