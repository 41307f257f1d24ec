"""The benchmark as a JSON file: what was run, on what, every swing, every group. No paths."""

import json
import math
import os
import platform
from collections.abc import Sequence
from dataclasses import fields
from importlib.metadata import version
from typing import Any

import numpy as np

from balltrack import __version__
from bench.detection import by_size
from bench.lessons import renderer_version
from bench.quantity import QUANTITIES
from bench.run import LessonScore, SwingScore
from bench.summary import Summary, Verdict, groups


def versions() -> dict[str, str]:
    """Of all that the numbers depend on."""
    return {
        "balltrack": __version__,
        "renderer": renderer_version(),
        "python": platform.python_version(),
        **{name: version(name) for name in ("numpy", "scipy", "opencv-python", "av")},
    }


def cores() -> int:
    """Cores of this machine."""
    return os.cpu_count() or 1


def as_json(seed: int, lessons: Sequence[LessonScore], marks: Sequence[Verdict]) -> str:
    """The text of the file."""
    content = {
        "seed": seed,
        "lessons": len(lessons),
        "versions": versions(),
        "machine": {"cores": cores(), "kind": platform.machine(), "system": platform.system()},
        "quantities": [f"{q.name}, {q.unit}" for q in QUANTITIES],
        "targets": [{"words": mark.words, "met": mark.met} for mark in marks],
        "groups": {name.strip(): _summary(each) for name, each in groups(lessons)},
        "set_ups": [_lesson(each) for each in lessons],
        "swings": [_swing(swing) for lesson in lessons for swing in lesson.swings],
    }
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def _summary(s: Summary) -> dict[str, Any]:
    plain = {each.name: _plain(getattr(s, each.name)) for each in fields(s) if each.name != "detection"}
    d = s.detection
    sizes = [{"size": name, "rows": rows, "median_px": error} for name, rows, error in by_size(d)]
    return plain | {"frames": {"sought": d.sought, "found": d.found, "used": d.used, "right": d.right, "sizes": sizes}}


def _lesson(score: LessonScore) -> dict[str, Any]:
    scene = {each.name: getattr(score.lesson.spec, each.name) for each in fields(score.lesson.spec)}
    return {
        "number": score.lesson.number,
        "scene": scene,
        "faults": list(score.faults),
        "render_s": round(score.render_s, 1),
        "measure_s": round(score.measure_s, 1),
    }


def _swing(s: SwingScore) -> dict[str, Any]:
    return {
        "lesson": s.lesson,
        "clip": s.clip,
        "delivery": s.delivery,
        "hit": s.hit,
        "outcome": s.outcome,
        "reason": s.reason,
        "made_up": list(s.made_up),
        "true": _plain(s.true),
        "error": _plain(s.error),
        "sd": _plain(s.sd),
        "true_pixels_error": _plain(s.floor.error),
        "true_pixels_reason": s.floor.reason,
        "frames": {"sought": s.detection.sought, "found": s.detection.found, "used": s.detection.used,
                   "right": s.detection.right},
    }  # fmt: skip


def _plain(value: object) -> object:
    """Numbers that JSON has: null for what could not be had."""
    if isinstance(value, np.ndarray):
        return [_plain(float(each)) for each in value]
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value
