"""What the clips of a lesson are, by the first that can be read: all are filmed alike."""

from balltrack.errors import MeasureError, VideoError
from balltrack.lesson.load import Lesson
from balltrack.video.clip import ClipInfo, probe


def first_filmed(lesson: Lesson) -> tuple[tuple[int, int], ClipInfo | None]:
    """Size of the marked picture, or else of the first readable clip; and the first readable clip of that size.

    Raises
    ------
    MeasureError
        If no size is stated and no clip can be read.
    """
    size_px = lesson.image_size_px
    trouble: MeasureError | None = None
    for clip in lesson.clips:
        try:
            info = probe(clip.path, clip.capture_fps)
        except VideoError as error:
            trouble = trouble or error
        else:
            if size_px in (None, info.size_px):
                return info.size_px, info
    if size_px is None:
        raise trouble or VideoError("no clip to measure")
    return size_px, None
