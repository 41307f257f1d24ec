"""One lesson through the public command, and its records beside the truth."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from balltrack.errors import MeasureError
from balltrack.lesson import load_lesson
from balltrack.measure import Setup, prepare
from balltrack.records.store import read_swings, track_path
from balltrack.records.swing import Swing
from balltrack.units import Floats
from bench.detection import Detection, detection, read_used
from bench.floor import Floor, floor
from bench.lessons import ROOT, BenchLesson, rendered
from bench.quantity import errors, nothing, stated_sds, true_values, values
from bench.truth import TruthSwing, read_truth

SAME_CONTACT_S = 0.15  # a record further from the true contact is of something else
MEASURE_LIMIT_S = 1800.0
ALL_MEASURED, SOME_FAILED, NONE_MEASURED = 0, 3, 4  # documented exit statuses of a lesson that was measured


@dataclass(frozen=True, slots=True, eq=False)
class SwingScore:
    """One true swing, and what was said of it."""

    lesson: int
    clip: str
    delivery: str
    hit: bool
    outcome: str  # that of the record; "no record" where there is none
    reason: str
    made_up: tuple[str, ...]  # each record with numbers for which there was no hit, in words
    error: Floats  # (7,) NaN where not measured
    sd: Floats  # (7,)
    true: Floats  # (7,) NaN for a miss
    floor: Floor
    detection: Detection


@dataclass(frozen=True, slots=True, eq=False)
class LessonScore:
    """One lesson's swings, and what went wrong with the command."""

    lesson: BenchLesson
    swings: tuple[SwingScore, ...]
    faults: tuple[str, ...]
    render_s: float
    measure_s: float


def run_lesson(lesson: BenchLesson) -> LessonScore:
    """Render, measure, score."""
    begun = time.perf_counter()
    folder = rendered(lesson)
    made = time.perf_counter()
    status, fault = measure(folder)
    done = time.perf_counter()
    found = read_swings(folder / "results" / "swings.jsonl")
    faults = [fault] if fault else _status_faults(status, found)
    return LessonScore(lesson, tuple(score(lesson, folder, found)), tuple(faults), made - begun, done - made)


def measure(folder: Path) -> tuple[int, str]:
    """Run the command as a person would, on one core; its exit status, and a line where that tells of no result."""
    shutil.rmtree(folder / "results", ignore_errors=True)
    env = os.environ | dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    command = [sys.executable, "-m", "balltrack.cli", "measure", str(folder), "--workers", "1"]
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


def _status_faults(status: int, found: Sequence[Swing]) -> list[str]:
    known = sum(swing.outcome != "not_measured" for swing in found)
    right = NONE_MEASURED if not known else ALL_MEASURED if known == len(found) else SOME_FAILED
    return [] if status == right else [f"the command ended with status {status} where its records ask for {right}"]


def score(lesson: BenchLesson, folder: Path, found: Sequence[Swing]) -> list[SwingScore]:
    """Lay each true swing beside the records of its clip."""
    setup = _prepared(folder)
    heard = lesson.spec.sound != "none" and not lesson.spec.stretched
    out = []
    for index, truth in enumerate(read_truth(folder)):
        records = [swing for swing in found if swing.clip == truth.clip]
        rng = np.random.default_rng([lesson.spec.seed, 900 + index])
        least = floor(truth, setup, heard, rng) if truth.hit and setup else Floor(nothing(), nothing(), "no camera")
        rows = _detection(truth, folder, lesson.spec.fps)
        out.append(_score(lesson.number, truth, records, least, rows))
    return out


def _prepared(folder: Path) -> Setup | None:
    try:
        return prepare(load_lesson(folder))
    except MeasureError:
        return None  # the command has said so: a fault


def _detection(truth: TruthSwing, folder: Path, fps: float) -> Detection:
    camera = folder / "results" / "camera.json"
    solved = json.loads(camera.read_text()) if camera.is_file() else {}
    readout_s, height = solved.get("parameters", {}).get("readout_s", 0.0), solved.get("size_px", (1, 1))[1]
    used = read_used(folder / "results" / track_path(truth.clip), readout_s, height)
    return detection(truth.rows, used, 1.0 / fps)


def _score(number: int, truth: TruthSwing, records: Sequence[Swing], least: Floor, rows: Detection) -> SwingScore:
    record, made_up = match(truth, records)
    good = truth.hit and record is not None and record.outcome == "measured"
    true = true_values(truth) if truth.hit else nothing()
    return SwingScore(
        lesson=number,
        clip=truth.clip,
        delivery=truth.delivery,
        hit=truth.hit,
        outcome=record.outcome if record else "no record",
        reason=record.reason if record else "the clip has no record of this swing",
        made_up=tuple(_words(each, truth) for each in made_up),
        error=errors(values(record), true) if good and record else nothing(),
        sd=stated_sds(record) if good and record else nothing(),
        true=true,
        floor=least,
        detection=rows,
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
