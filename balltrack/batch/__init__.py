"""Many clips: measured side by side, results kept clip by clip, put right by a person afterwards."""

from balltrack.batch.correction import add_swing, correct_swing, drop_swing, kept_result, refresh_results, units_in
from balltrack.batch.side_by_side import ClipDone, keep_picture, run_clips
from balltrack.batch.whole import LessonOutcome, measure_lesson

__all__ = [
    "ClipDone",
    "LessonOutcome",
    "add_swing",
    "correct_swing",
    "drop_swing",
    "keep_picture",
    "kept_result",
    "measure_lesson",
    "refresh_results",
    "run_clips",
    "units_in",
]
