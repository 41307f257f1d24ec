"""All examples of a training run, made side by side and kept: what an interrupted run made is not made again."""

import shutil
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from bench.lessons import BenchLesson, lessons
from render.lesson import make_lesson

from balltrack.training.dataset import write_example, write_index
from detector.composite import compose
from detector.lesson_patches import lesson_patches
from detector.patch import Patch
from detector.stills import Stills, load_stills

CLIPS_A_JOB = 40
EVERY = 20  # of so many jobs of a kind one is kept to choose the best weights by, and one to score them
UNLABELLED = "next ball tossed in"  # lessons whose truth leaves out a ball that flies


@dataclass(frozen=True, slots=True)
class Plan:
    """What is made."""

    folder: Path
    pictures: tuple[Path, ...]
    composites: int  # small clips
    lessons: int
    lines: int  # lessons with larger pictures are left out
    seed: int


@dataclass(frozen=True, slots=True)
class _Job:
    name: str
    split: str
    plan: Plan
    lesson: BenchLesson | None  # else composites


def make_examples(plan: Plan, workers: int) -> Path:
    """Make what is missing; returns the dataset's index. Test patches lie beside it, one file a job."""
    jobs = [job for job in _jobs(plan) if not _done(job).is_file()]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        running = [pool.submit(_run, job) for job in jobs]
        for number, future in enumerate(as_completed(running), 1):
            words = future.result()
            if number % max(len(running) // 20, 1) == 0:
                print(f"examples: {number} of {len(running)} jobs done; {words}", flush=True)
    return write_index(plan.folder)


def test_patches(folder: Path) -> Iterator[Patch]:
    """The patches kept for scoring, which no training saw."""
    for file in sorted((folder / "test").glob("*.npz")):
        with np.load(file) as kept:
            for k in range(len(kept["diameter_px"])):
                box = kept["box_px"][k]
                yield Patch(
                    kept["frames"][k], box[np.isfinite(box[:, 0])], float(kept["diameter_px"][k]),
                    float(kept["streak_px"][k]), float(kept["contrast"][k]), str(kept["scene"][k]),
                )  # fmt: skip


def single_frame_copy(folder: Path, copy: Path, workers: int) -> Path:
    """The same dataset with the middle frame three times: what a detector without motion would see."""
    files = sorted((folder / "images").rglob("*.png"))
    if not (copy / "labels").is_dir():
        shutil.copytree(folder / "labels", copy / "labels", ignore=shutil.ignore_patterns("*.cache"))
    for split in ("train", "val"):
        (copy / "images" / split).mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(_copy_middle, files, [copy / file.relative_to(folder) for file in files], chunksize=500))
    return write_index(copy)


def _copy_middle(source: Path, target: Path) -> None:
    if not target.is_file():
        picture = cv2.imread(str(source), cv2.IMREAD_COLOR)
        assert picture is not None
        cv2.imwrite(str(target), cv2.merge([picture[..., 1]] * 3), [cv2.IMWRITE_PNG_COMPRESSION, 1])


def _jobs(plan: Plan) -> list[_Job]:
    """Lessons first: they take longest."""
    planned = [each for each in lessons(plan.seed, 3 * plan.lessons + 3) if each.spec.lines <= plan.lines]
    planned = [each for each in planned if UNLABELLED not in each.difficulties][: plan.lessons]
    planned.sort(key=lambda each: -each.cost)
    out = [_Job(f"lesson-{each.number:04d}", _split(each.number), plan, each) for each in planned]
    count = -(-plan.composites // CLIPS_A_JOB)
    return out + [_Job(f"composite-{k:05d}", _split(k), plan, None) for k in range(count)]


def _split(number: int) -> str:
    """Always the same for a job, however many there are."""
    return {0: "val", 1: "test"}.get(number % EVERY, "train")


def _done(job: _Job) -> Path:
    return job.plan.folder / "done" / job.name


def _run(job: _Job) -> str:
    cv2.setNumThreads(1)
    if job.lesson is not None:
        with tempfile.TemporaryDirectory(dir=job.plan.folder.parent) as spare:
            folder = Path(spare) / "lesson"
            make_lesson(folder, job.lesson.spec, list(job.lesson.takes))
            patches = lesson_patches(folder, job.plan.seed)
    else:
        rng = np.random.default_rng([job.plan.seed, int(job.name.rsplit("-", 1)[1])])
        stills = _stills(job.plan.pictures)
        patches = [patch for _ in range(CLIPS_A_JOB) for patch in compose(rng, stills)]
    _keep(job, patches)
    _done(job).parent.mkdir(parents=True, exist_ok=True)
    _done(job).touch()
    return f"{job.name}: {len(patches)} patches, {sum(len(patch.box_px) for patch in patches)} balls"


_read: dict[tuple[Path, ...], Stills] = {}  # once a process


def _stills(pictures: tuple[Path, ...]) -> Stills:
    if pictures not in _read:
        _read[pictures] = load_stills(pictures)
    return _read[pictures]


def _keep(job: _Job, patches: list[Patch]) -> None:
    if job.split != "test":
        for number, patch in enumerate(patches):
            write_example(job.plan.folder, job.split, f"{job.name}-{number:04d}", patch.frames, patch.box_px)
        return
    boxes = np.full((len(patches), 2, 4), np.nan)
    for number, patch in enumerate(patches):
        boxes[number, : len(patch.box_px)] = patch.box_px
    file = job.plan.folder / "test" / f"{job.name}.npz"
    file.parent.mkdir(parents=True, exist_ok=True)
    np.savez(
        file, frames=np.stack([patch.frames for patch in patches]), box_px=boxes,
        diameter_px=[patch.diameter_px for patch in patches], streak_px=[patch.streak_px for patch in patches],
        contrast=[patch.contrast for patch in patches], scene=[patch.scene for patch in patches],
    )  # fmt: skip
