"""Many clips: measured side by side, results kept clip by clip, put right by a person afterwards."""

from balltrack.batch.correction import add_swing, correct_swing, drop_swing, kept_result, refresh_results, units_in
from balltrack.batch.done import ClipDone, RunClips, keep_picture
from balltrack.batch.side_by_side import run_clips
from balltrack.batch.whole import LessonOutcome, Wish, measure_as, measure_lesson

__all__ = [
    "ClipDone",
    "LessonOutcome",
    "RunClips",
    "Wish",
    "add_swing",
    "correct_swing",
    "drop_swing",
    "keep_picture",
    "kept_result",
    "measure_as",
    "measure_lesson",
    "refresh_results",
    "run_clips",
    "units_in",
]
