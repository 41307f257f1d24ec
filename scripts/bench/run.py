"""One lesson through the public command, and its records beside the truth."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from balltrack.detect.network import shipped_weights
from balltrack.errors import MeasureError
from balltrack.lesson import load_lesson
from balltrack.records.store import read_swings, track_path
from balltrack.records.swing import Swing
from balltrack.setup import Setup, prepare
from bench.detection import Sightings, no_sightings, read_used, sightings
from bench.lessons import ROOT, BenchLesson, rendered
from bench.limit import NO_LIMIT, SwingLimit, swing_limit
from bench.quantity import errors, nothing, stated_sds, true_values, values
from bench.swing_score import LessonScore, SwingScore
from bench.truth import TruthSwing, read_camera, read_truth

SAME_CONTACT_S = 0.15  # a record further from the true contact is of something else
MEASURE_LIMIT_S = 1800.0
ALL_MEASURED, SOME_FAILED, NONE_MEASURED = 0, 3, 4  # documented exit statuses of a lesson that was measured


def run_lesson(lesson: BenchLesson, cache: Path) -> LessonScore:
    """Render, measure, score. One lesson that fails is a fault of the benchmark, and ends no other."""
    begun = time.perf_counter()
    made = done = begun
    swings: list[SwingScore] = []
    try:
        folder = rendered(lesson, cache)
        made = done = time.perf_counter()
        status, fault = measure(folder)
        done = time.perf_counter()
        found = read_swings(folder / "results" / "swings.jsonl")
        faults = [fault] if fault else status_faults(status, found)
        swings = score(lesson, folder, found)
    except Exception as error:  # a long run must not be lost to one lesson; the line says what it was
        words = str(error).replace(str(cache), "CACHE")
        faults = [f"the benchmark itself failed: {type(error).__name__}: {words}"]
    return LessonScore(
        number=lesson.number,
        title=lesson.title,
        tags=lesson.tags,
        difficulties=lesson.difficulties,
        swings=tuple(swings),
        faults=tuple(faults),
        render_s=made - begun,
        measure_s=done - made,
    )


def measure(folder: Path) -> tuple[int, str]:
    """Run the command as a person would, on one core; its exit status, and a line where that tells of no result."""
    shutil.rmtree(folder / "results", ignore_errors=True)
    env = os.environ | dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    command = [sys.executable, "-m", "balltrack.cli", "measure", str(folder), "--workers", "1"]
    command += ["--weights", str(shipped_weights())]  # not those that a developer has trained for themselves
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL, stderr=pipe, text=True) as running:
        try:
            _, said = running.communicate(timeout=MEASURE_LIMIT_S)
        except BaseException as error:
            running.send_signal(signal.SIGINT)  # so that it ends its own workers too
            if isinstance(error, subprocess.TimeoutExpired):
                return -1, f"the command had not ended after {MEASURE_LIMIT_S:.0f} s"
            raise
    status = running.returncode
    if status in (ALL_MEASURED, SOME_FAILED, NONE_MEASURED):
        return status, ""
    last = (said.strip().splitlines() or ["it said nothing"])[-1].replace(str(folder), "LESSON")
    return status, f"the command ended with status {status}: {last}"


def status_faults(status: int, found: Sequence[Swing]) -> list[str]:
    """A line where the exit status disagrees with the records."""
    known = sum(swing.outcome != "not_measured" for swing in found)
    right = NONE_MEASURED if not known else ALL_MEASURED if known == len(found) else SOME_FAILED
    return [] if status == right else [f"the command ended with status {status} where its records ask for {right}"]


def score(lesson: BenchLesson, folder: Path, found: Sequence[Swing]) -> list[SwingScore]:
    """Lay each true swing beside the records of its clip."""
    setup, camera = _prepared(folder), read_camera(folder)
    heard = lesson.spec.sound != "none" and not lesson.spec.stretched
    out = []
    for truth in read_truth(folder):
        records = [swing for swing in found if swing.clip == truth.clip]
        limit = swing_limit(truth, camera, setup, heard) if truth.hit and setup else NO_LIMIT
        out.append(_score(lesson.number, truth, records, limit, _sightings(truth, folder, lesson.spec.fps)))
    return out


def _prepared(folder: Path) -> Setup | None:
    try:
        return prepare(load_lesson(folder))
    except MeasureError:
        return None  # the command has said so: a fault


def _sightings(truth: TruthSwing, folder: Path, fps: float) -> Sightings:
    camera = folder / "results" / "camera.json"
    if not truth.hit or not camera.is_file():
        return no_sightings()
    solved = json.loads(camera.read_text())
    readout_s, height = solved["parameters"]["readout_s"], solved["size_px"][1]
    used = read_used(folder / "results" / track_path(truth.clip), readout_s, height)
    return sightings(truth.rows, used, 1.0 / fps)


def _score(number: int, truth: TruthSwing, records: Sequence[Swing], limit: SwingLimit, seen: Sightings) -> SwingScore:
    record, made_up = match(truth, records)
    good = truth.hit and record is not None and record.outcome == "measured"
    true = true_values(truth) if truth.hit else nothing()
    return SwingScore(
        lesson=number,
        clip=truth.clip,
        delivery=truth.delivery,
        true_outcome=truth.outcome,
        outcome=record.outcome if record else "no record",
        reason=record.reason if record else "the clip has no record of this swing",
        made_up=tuple(_words(each, truth) for each in made_up),
        true=true,
        error=errors(values(record), true) if good and record else nothing(),
        sd=stated_sds(record) if good and record else nothing(),
        limit=limit,
        sightings=seen,
    )


def match(truth: TruthSwing, records: Sequence[Swing]) -> tuple[Swing | None, list[Swing]]:
    """The record of this swing, and those of its clip that have numbers without a hit.

    A hit is met by the measured record nearest to it in time, else by any record that says why there is none.
    """
    numbers = [record for record in records if record.outcome == "measured"]
    silent = [record for record in records if record.outcome != "measured"]
    if not truth.hit:
        return next(iter(numbers + silent), None), numbers
    near = [each for each in numbers if _apart_s(each, truth) <= SAME_CONTACT_S]
    if near:
        best = min(near, key=lambda each: _apart_s(each, truth))
        return best, [each for each in numbers if each is not best]
    return min(silent, key=lambda each: _apart_s(each, truth), default=None), numbers


def _words(record: Swing, truth: TruthSwing) -> str:
    speed_mph, launch_deg, spray_deg = values(record)[:3]
    return (
        f"{speed_mph:.0f} mph, launch {launch_deg:.0f}, spray {spray_deg:.0f} deg from {record.frames_used} frames at "
        f"{record.contact_s:.2f} s where the bat passed at {truth.contact_s:.2f} s"
    )


def _apart_s(record: Swing, truth: TruthSwing) -> float:
    return float("inf") if record.contact_s is None else abs(record.contact_s - truth.contact_s)
