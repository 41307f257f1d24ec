"""The stills on which the coach drew, as the page shows them."""

import base64
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balltrack.camera.solve import SolvedCamera
from balltrack.errors import MeasureError, RecordError
from balltrack.lesson import Lesson
from balltrack.records.drawings import Drawing, DrawnStill, number_of, read_drawings
from balltrack.records.swing import Swing
from balltrack.review.drawing import draw_on
from balltrack.review.filmed import FilmedSwing, filmed_swings
from balltrack.review.language import listed, say
from balltrack.review.reel import Still
from balltrack.review.sheet import Framing, even, jpeg_of, sheet_of, sheet_of_bgr
from balltrack.review.timeline import frames_near
from balltrack.video.colour import bgr_of

LONG_PX = 1280  # of the picture in the page: sharp on paper, 150 kB
SAME_S = 0.002  # a picture's own time, rounded


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A drawn still with the swing that it shows."""

    still: DrawnStill
    filmed: FilmedSwing

    @property
    def since_s(self) -> float:
        """From contact to the picture; negative before it."""
        return self.still.time_s - self.filmed.contact_stamp_s


def drawn_stills(lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera) -> tuple[Still, ...]:
    """All stills that can be shown, by swing and time; `lost_drawings` tells of the others."""
    found = []
    for placed in sorted(_placed(lesson, swings, solved)[0], key=lambda each: (each.filmed.number, each.still.time_s)):
        try:
            jpeg = drawn_jpeg(placed)
        except MeasureError:  # its clip was damaged since; the page is worth having all the same
            continue
        uri = f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}"
        number = placed.filmed.number
        found.append(Still(uri, alt_words(placed), (number,), when_words(placed.since_s)))
    return tuple(found)


def lost_drawings(lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera) -> tuple[str, ...]:
    """What was drawn and cannot be shown, one line each."""
    return _placed(lesson, swings, solved)[1]


def placed_still(lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera, still: DrawnStill) -> Placed:
    """Find the swing that a still shows.

    Raises
    ------
    RecordError
        If there is none any more, or its clip has no such picture.
    VideoError
        If its clip cannot be read.
    """
    number = number_of(still, swings)
    filmed = () if number is None else filmed_swings(lesson, swings, solved, (number,))
    if not filmed:
        raise RecordError(f"what was drawn on {still.swing} at {still.time_s:.2f} s fits no swing of the lesson")
    placed = Placed(still, filmed[0])
    width, height = filmed[0].info.size_px
    left, top, wide, tall = still.view_px
    off_s = float(np.abs(filmed[0].times_s - still.time_s).min())
    if off_s > SAME_S or left + wide > width or top + tall > height:
        raise RecordError(
            f"what was drawn on {still.swing} at {still.time_s:.2f} s is of another film than {still.clip}"
        )
    return placed


def drawn_jpeg(placed: Placed) -> bytes:
    """The part that is shown, with what is drawn on it. Raises VideoError where its clip cannot be read."""
    filmed, still = placed.filmed, placed.still
    framing = framing_of(still.view_px)
    (frame,) = frames_near(filmed.info, [still.time_s])
    sheet = sheet_of_bgr(bgr_of(sheet_of(frame, filmed.info.full_range, framing).planes, filmed.tags))
    marks = [
        Drawing(mark.kind, tuple((float(u), float(v)) for u, v in framing.shown(np.array(mark.points_px))), mark.words)
        for mark in still.marks
    ]
    return draw_on(jpeg_of(sheet, quality=95), marks)


def framing_of(view_px: tuple[int, int, int, int]) -> Framing:
    """A part of a picture, shown as large as the page needs it."""
    _, _, width, height = view_px
    scale = LONG_PX / max(width, height)
    return Framing(view_px, (even(width * scale), even(height * scale)))


def when_words(since_s: float) -> str:
    """``40 ms before contact``."""
    ms = round(1000 * since_s)
    return say("when_at" if ms == 0 else "when_before" if ms < 0 else "when_after", ms=abs(ms))


def alt_words(placed: Placed) -> str:
    """What the still shows, for those who cannot see it."""
    said = [say("quoted", words=" ".join(mark.words.split())) for mark in placed.still.marks if mark.kind == "words"]
    counts = Counter(mark.kind for mark in placed.still.marks if mark.kind != "words")
    drawn = [say(f"drawn_{kind}", count=count) for kind, count in counts.items()]
    words = [say("drawn_still", number=placed.filmed.number, when=when_words(placed.since_s))]
    words += [say("drawn_words", words=", ".join(said))] if said else []
    words += [say("drawn_marks", marks=listed(drawn))] if drawn else []
    return " ".join(words)


def _placed(
    lesson: Lesson, swings: Sequence[Swing], solved: SolvedCamera
) -> tuple[tuple[Placed, ...], tuple[str, ...]]:
    try:
        stills = read_drawings(lesson.folder / "results")
    except RecordError as error:
        return (), (str(error),)
    placed, told = [], []
    for still in stills:
        try:
            placed.append(placed_still(lesson, swings, solved, still))
        except MeasureError as error:
            told.append(str(error))
    return tuple(placed), tuple(told)
