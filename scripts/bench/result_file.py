"""The benchmark as a JSON file: what was run, on what, and all that the report needs. No paths."""

import json
import math
import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from balltrack import __version__
from balltrack.records.atomic import write_atomic
from balltrack.units import Floats
from bench.detection import Sightings
from bench.lessons import ROOT, digest_of, renderer_version
from bench.limit import SwingLimit
from bench.quantity import QUANTITIES
from bench.swing_score import LessonScore, SwingScore

FORMAT = 1
DIGITS = 4  # significant, of every judged number
# What frames are kept in: tenths of a pixel, hundredths of a diameter, codes, hundredths of a pixel.
TENTHS, HUNDREDTHS = 10.0, 100.0


@dataclass(frozen=True, slots=True)
class Run:
    """What was run, on what."""

    seed: int
    planned: int  # lessons
    small: bool
    date: str
    versions: dict[str, str]
    machine: str
    minutes: float

    @property
    def command(self) -> str:
        """What to type to have it again."""
        size = "--small" if self.small else f"--lessons {self.planned}"
        return f"python scripts/bench_accuracy.py --seed {self.seed} {size}"


def cores() -> int:
    """Cores of this machine."""
    return os.cpu_count() or 1


def this_run(seed: int, planned: int, small: bool) -> Run:
    """A run that begins now."""
    versions = {
        "balltrack": f"{__version__}, sources {digest_of(ROOT / 'balltrack', '**/*.py')}",
        "renderer": renderer_version(),
        "python": platform.python_version(),
        **{name: version(name) for name in ("numpy", "scipy", "av")},
        "opencv": cv2.__version__,
    }
    machine = f"{cores()} cores, {platform.machine()}, {platform.system()}"
    return Run(seed, planned, small, datetime.now(UTC).strftime("%Y-%m-%d"), versions, machine, 0.0)


def write_result(path: Path, run: Run, lessons: Sequence[LessonScore]) -> None:
    """Write the file whole, or leave the earlier one."""
    write_atomic(path, as_json(run, lessons))


def as_json(run: Run, lessons: Sequence[LessonScore]) -> str:
    """The text of the file: a swing a line."""
    head = {
        "format": FORMAT, "seed": run.seed, "planned": run.planned, "small": run.small, "date": run.date,
        "versions": run.versions, "machine": run.machine, "minutes": round(run.minutes, 1),
        "quantities": [f"{q.name}, {q.unit}" for q in QUANTITIES],
        "lessons": [_lesson(each) for each in lessons],
    }  # fmt: skip
    swings = ",\n".join(_line(_swing(swing)) for lesson in lessons for swing in lesson.swings)
    return f'{json.dumps(head, indent=0, ensure_ascii=False, allow_nan=False)[:-2]},\n"swings": [\n{swings}\n]\n}}\n'


def read_result(path: Path) -> tuple[Run, list[LessonScore]]:
    """Read the file back.

    Raises
    ------
    ValueError
        If the file was not written by this version of the benchmark.
    """
    try:
        read = json.loads(path.read_text())
        if read["format"] != FORMAT:
            raise ValueError(f"its format is {read['format']}, this benchmark writes {FORMAT}")
        run = Run(
            read["seed"], read["planned"], read["small"], read["date"], read["versions"], read["machine"],
            read["minutes"],
        )  # fmt: skip
        swings = [_swing_of(each) for each in read["swings"]]
        return run, [_lesson_of(each, swings) for each in read["lessons"]]
    except (KeyError, TypeError) as error:
        raise ValueError(f"not a result of this benchmark: {type(error).__name__} {error}") from None


def _lesson(score: LessonScore) -> dict[str, Any]:
    return {
        "number": score.number,
        "title": score.title,
        "tags": score.tags,
        "difficulties": list(score.difficulties),
        "faults": list(score.faults),
        "render_s": round(score.render_s, 1),
        "measure_s": round(score.measure_s, 1),
    }


def _lesson_of(read: dict[str, Any], swings: Sequence[SwingScore]) -> LessonScore:
    return LessonScore(
        number=read["number"],
        title=read["title"],
        tags=read["tags"],
        difficulties=tuple(read["difficulties"]),
        swings=tuple(swing for swing in swings if swing.lesson == read["number"]),
        faults=tuple(read["faults"]),
        render_s=read["render_s"],
        measure_s=read["measure_s"],
    )


def _swing(s: SwingScore) -> dict[str, Any]:
    seen = s.sightings
    return {
        "lesson": s.lesson, "clip": s.clip, "delivery": s.delivery, "true_outcome": s.true_outcome,
        "outcome": s.outcome, "reason": s.reason, "made_up": list(s.made_up),
        "true": _plain(s.true), "error": _plain(s.error), "sd": _plain(s.sd),
        "limit": _plain(s.limit.unbiased), "limit_allowing": _plain(s.limit.allowing), "limit_frames": s.limit.frames,
        "frames": {
            "diameter_tenths": _whole(TENTHS * seen.diameter_px), "blur_hundredths": _whole(HUNDREDTHS * seen.blur),
            "contrast": _whole(seen.contrast), "error_hundredths": _whole(HUNDREDTHS * seen.error_px),
            "sought": "".join("01"[int(each)] for each in seen.sought), "stray": seen.stray,
        },
    }  # fmt: skip


def _swing_of(read: dict[str, Any]) -> SwingScore:
    frames = read["frames"]
    return SwingScore(
        lesson=read["lesson"],
        clip=read["clip"],
        delivery=read["delivery"],
        true_outcome=read["true_outcome"],
        outcome=read["outcome"],
        reason=read["reason"],
        made_up=tuple(read["made_up"]),
        true=_floats(read["true"]),
        error=_floats(read["error"]),
        sd=_floats(read["sd"]),
        limit=SwingLimit(_floats(read["limit"]), _floats(read["limit_allowing"]), read["limit_frames"]),
        sightings=Sightings(
            diameter_px=_floats(frames["diameter_tenths"]) / TENTHS,
            blur=_floats(frames["blur_hundredths"]) / HUNDREDTHS,
            contrast=_floats(frames["contrast"]),
            sought=np.array([each == "1" for each in frames["sought"]], dtype=np.bool_),
            error_px=_floats(frames["error_hundredths"]) / HUNDREDTHS,
            stray=frames["stray"],
        ),
    )


def _line(content: dict[str, Any]) -> str:
    return json.dumps(content, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _plain(values: Floats) -> list[float | None]:
    """Numbers that JSON has: null for what could not be had."""
    return [float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None for value in values]


def _whole(values: Floats) -> list[int | None]:
    return [round(float(value)) if math.isfinite(value) else None for value in values]


def _floats(values: Sequence[float | None]) -> Floats:
    return np.array([np.nan if value is None else value for value in values], dtype=float)
