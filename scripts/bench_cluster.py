"""How many clips a cluster measures, by workers, and what a night of 100,000 clips would take.

    python scripts/bench_cluster.py                        the sample lesson, 1 and 2 workers: some minutes
    python scripts/bench_cluster.py --workers 1 2 4 8
    python scripts/bench_cluster.py --core-hour 0.05 --gb-month 0.02     with your own prices

Measured here: core seconds a clip, what the machine that gives out the work spends on a lesson and on a clip, bytes.
The plan is arithmetic with these; what it takes for granted is printed with it.
"""

import argparse
import importlib
import math
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.batch import Wish
from balltrack.batch.cluster import open_cluster, packed, run_on
from balltrack.batch.done import ClipDone
from balltrack.batch.night import Keep, measure_lessons
from balltrack.detect.network import load_network
from balltrack.lesson import Clip, load_lesson
from balltrack.measure import ClipResult, measure_clip
from balltrack.setup import Setup, prepare

SAMPLE = Path(__file__).parents[1] / "sample_clips"
EMPTY_CLIPS = 500
BUSY = 0.8  # share of the night in which a core works: lessons end, workers start. A guess, no source


@dataclass(frozen=True, slots=True)
class Night:
    """What is to be done, and at what price."""

    clips: int
    hours: float
    clips_a_lesson: int
    clip_mb: float
    core_hour: float
    gb_month: float
    kept_days: float


@dataclass(frozen=True, slots=True)
class Constants:
    """What was measured."""

    core_s_a_clip: float  # of workers
    giver_s_a_lesson: float  # core seconds of the machine that gives out the work
    giver_s_a_clip: float  # the same, with the scheduler, for a clip that takes no time: handing out and taking back
    setup_mb: float  # to each worker, once a lesson
    results_mb_a_lesson: float


@dataclass(frozen=True, slots=True)
class Speed:
    workers: int
    clips: int
    wall_s: float
    core_s: float
    giver_s: float


def measure_nothing(clip: Clip) -> ClipResult:
    """A clip that takes no time: what is left is the cluster's own."""
    return ClipResult(clip, (), (), "")


def tell_nobody(done: int, total: int, last: ClipDone | None) -> None:
    """No progress."""


def speed_of(workers: int, lesson: Path, wish: Wish) -> Speed:
    """Measure a lesson on so many workers of this machine, once they have read the program in."""
    with open_cluster("local", workers) as cluster:
        cluster.client.wait_for_workers(workers)
        cluster.client.run(importlib.import_module, "balltrack.measure")
        before, giver_s, start_s = spent_s(cluster.client), time.process_time(), time.perf_counter()
        (done,) = measure_lessons([str(lesson)], cluster, wish, Keep(), tell_nobody)
        wall_s = time.perf_counter() - start_s
        giver_s = time.process_time() - giver_s
        core_s = spent_s(cluster.client) - before
    if done.outcome is None or done.problem:
        sys.exit(f"the lesson was not measured: {done.problem}")
    return Speed(workers, len(done.outcome.lesson.clips), wall_s, core_s, giver_s)


def spent_s(client: object) -> float:
    """Core seconds that all workers have spent so far."""
    return float(sum(client.run(time.process_time).values()))  # type: ignore[attr-defined]


def handing_out_s() -> tuple[float, float]:
    """Wall and core seconds a clip where measuring takes none; the scheduler is in this process."""
    clips = [Clip(Path(f"{n}.mp4"), f"clips/01-tee/{n}.mp4", "01-tee", "tee") for n in range(EMPTY_CLIPS)]
    with open_cluster("local", 2) as cluster:
        cluster.client.wait_for_workers(2)
        core_s, start_s = time.process_time(), time.perf_counter()
        count = sum(1 for _ in run_on(cluster)(clips, measure_nothing, 2))
        wall_s = time.perf_counter() - start_s
        core_s = time.process_time() - core_s
    return wall_s / count, core_s / count


def plan(night: Night, found: Constants) -> list[tuple[str, str]]:
    """What such a night takes: what, and how much."""
    night_s = 3600 * night.hours
    lessons = math.ceil(night.clips / night.clips_a_lesson)
    cores = math.ceil(night.clips * found.core_s_a_clip / night_s / BUSY)
    giver_s = lessons * found.giver_s_a_lesson + night.clips * found.giver_s_a_clip
    films_gb = night.clips * night.clip_mb / 1000
    results_gb = lessons * found.results_mb_a_lesson / 1000
    setups_gb = lessons * cores * found.setup_mb / 1000
    core_hours = night.clips * found.core_s_a_clip / 3600 / BUSY
    most_clips = night.clips * night_s / giver_s
    return [
        ("lessons", f"{lessons:,} of {night.clips_a_lesson} clips"),
        ("worker cores", f"{cores}, busy {BUSY:.0%} of {night.hours:g} h"),
        ("who gives out the work", f"{giver_s / night_s:.0%} of one core, with the scheduler"),
        ("reading films", f"{films_gb:,.0f} GB, {8 * films_gb / night_s:.2f} Gbit/s over the night"),
        ("set-ups to workers", f"{setups_gb:,.0f} GB at most, {8 * setups_gb / night_s:.2f} Gbit/s"),
        ("films kept", f"{films_gb * night.kept_days / 1000:,.1f} TB for {night.kept_days:g} days"),
        ("results kept", f"{results_gb:,.1f} GB a night"),
        ("computing", f"{core_hours:,.0f} core hours, {core_hours * night.core_hour:,.0f} a night"),
        ("storing films", f"{films_gb * night.kept_days * night.gb_month / 30:,.0f} a night, as kept so long"),
        ("first bottleneck", f"one core that gives out the work, at {most_clips:,.0f} clips a night"),
    ]


def constants_of(lesson: Path, speeds: Sequence[Speed], wish: Wish) -> Constants:
    """From the runs, and from what the lesson and its results weigh."""
    setup = prepare(load_lesson(lesson), wish.network)
    results_b = sum(path.stat().st_size for path in (lesson / "results").rglob("*") if path.is_file())
    wall_s, core_s = handing_out_s()
    print(
        f"Handing out a clip and taking it back: {1000 * wall_s:.1f} ms, {1000 * core_s:.1f} ms of a core", flush=True
    )
    best = min(speeds, key=lambda each: each.core_s / each.clips)
    return Constants(
        core_s_a_clip=best.core_s / best.clips,
        giver_s_a_lesson=max(0.0, best.giver_s - best.clips * core_s),
        giver_s_a_clip=core_s,
        setup_mb=len(packed(MeasureWith(setup))) / 1e6,
        results_mb_a_lesson=results_b / 1e6,
    )


@dataclass(frozen=True, slots=True, eq=False)
class MeasureWith:
    """What goes to a worker once a lesson."""

    setup: Setup

    def __call__(self, clip: Clip) -> ClipResult:
        return measure_clip(clip, self.setup)


def report(speeds: Sequence[Speed], found: Constants, night: Night) -> str:
    """What was measured and what follows from it, as Markdown."""
    lines = ["| workers | clips | wall s | clips an hour | core s a clip |", "| --- | --- | --- | --- | --- |"]
    lines += [
        f"| {each.workers} | {each.clips} | {each.wall_s:.1f} | {3600 * each.clips / each.wall_s:.0f} "
        f"| {each.core_s / each.clips:.1f} |"
        for each in speeds
    ]
    lines += [
        "",
        f"A lesson costs who gives it out {found.giver_s_a_lesson:.1f} core seconds (prepare, sum up, charts), a clip "
        f"{1000 * found.giver_s_a_clip:.1f} ms. Its set-up is {found.setup_mb:.2f} MB, its results are "
        f"{found.results_mb_a_lesson:.1f} MB.",
        "",
        f"A night of {night.clips:,} clips of {night.clip_mb:g} MB:",
        "",
        "| what | how much |",
        "| --- | --- |",
        *(f"| {what} | {much} |" for what, much in plan(night, found)),
    ]
    return "\n".join(lines)


def parsed() -> tuple[argparse.Namespace, Night]:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--lesson", type=Path, default=SAMPLE, help="a lesson folder; it is copied")
    parser.add_argument("--clips", type=int, default=100_000, help="a night")
    parser.add_argument("--hours", type=float, default=8.0, help="of the night")
    parser.add_argument("--clips-a-lesson", type=int, default=60)
    parser.add_argument("--clip-mb", type=float, default=7.5, help="3 s at 20 Mbit/s")
    parser.add_argument("--core-hour", type=float, default=0.04, help="price; from memory, no source: put your own")
    parser.add_argument("--gb-month", type=float, default=0.023, help="price; from memory, no source: put your own")
    parser.add_argument("--kept-days", type=float, default=30.0, help="how long films are kept")
    given = parser.parse_args()
    night = Night(
        given.clips,
        given.hours,
        given.clips_a_lesson,
        given.clip_mb,
        given.core_hour,
        given.gb_month,
        given.kept_days,
    )
    return given, night


def main() -> None:
    given, night = parsed()
    wish = Wish(network=load_network(), again=True)
    with tempfile.TemporaryDirectory() as made:
        lesson = Path(made) / "lesson"
        shutil.copytree(given.lesson, lesson, ignore=shutil.ignore_patterns("results", "truth"))
        speeds = []
        for workers in given.workers:
            speeds.append(speed_of(workers, lesson, wish))
            print(f"{workers} workers: {speeds[-1].clips} clips in {speeds[-1].wall_s:.1f} s", flush=True)
        found = constants_of(lesson, speeds, wish)
    print(report(speeds, found, night))


if __name__ == "__main__":
    main()
