"""What a lesson is measured with beside its own files: the calibration that this machine keeps of its phone."""

from dataclasses import replace

from balltrack.errors import VideoError
from balltrack.lesson.filmed import first_filmed
from balltrack.lesson.folder import settings_hash
from balltrack.lesson.lens_choice import LensChoice, best_lens
from balltrack.lesson.lens_store import any_kept
from balltrack.lesson.load import Lesson


def with_lens(lesson: Lesson, lens: LensChoice) -> Lesson:
    """The lesson, its settings hash told apart by the kept calibration, where that is the lens it is measured with.

    Only the numbers count that measuring takes from it: a board filmed anew with the same result changes nothing.
    """
    if not lens.kept:
        return lesson
    told = [lesson.settings_hash.encode(), repr(lens.prior).encode()]
    return replace(lesson, settings_hash=settings_hash(told))


def as_measured(lesson: Lesson) -> Lesson:
    """The same for who only asks whether results still hold; a lesson without a readable clip stays as it is.

    Raises
    ------
    LessonError
        If the kept calibration is damaged.
    """
    if lesson.lens.horizontal_fov_deg is not None or not any_kept():
        return lesson  # at once: no clip need be opened
    try:
        size_px, info = first_filmed(lesson)
        return with_lens(lesson, best_lens(lesson.lens, info, size_px))
    except VideoError:
        return lesson
