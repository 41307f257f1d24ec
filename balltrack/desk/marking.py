"""What the page of the marks asks for: proposals, clicks refined, and what the camera would be."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from balltrack.camera.marks import FEWEST_MARKS
from balltrack.camera.plate_finder import ProposedMark, propose_marks, refine_mark
from balltrack.camera.solve import SolvedCamera, solve
from balltrack.desk.accuracy import expected_accuracy, hit_words
from balltrack.desk.lesson_file import draft
from balltrack.desk.overlay import field_lines, points_px
from balltrack.desk.still import Picture
from balltrack.errors import CalibrationError
from balltrack.flight.evidence import Setting
from balltrack.lesson.edit import EditedMark
from balltrack.lesson.lens_choice import best_lens
from balltrack.lesson.load import Lesson

NEAR_PLATE = ("plate_", "left_box_", "right_box_")  # what has corners of chalk to be snapped to
LEAST_SD_PX = 0.1  # of a mark that was found
FREE_PLACE_SHARE = 0.01  # of the width: a corner nearer to a mark than this is that mark's


class SentMark(BaseModel):
    """A mark as the page holds it."""

    model_config = ConfigDict(extra="forbid")
    point: str | None
    at_m: tuple[float, float, float] | None = None
    pixel: tuple[float, float]
    sd_px: float | None = Field(default=None, gt=0, le=100)  # of a mark that was measured; null: clicked

    def edited(self) -> EditedMark:
        return EditedMark(self.point, self.at_m, self.pixel, self.sd_px)


class Marks(BaseModel):
    """All marks of the page."""

    model_config = ConfigDict(extra="forbid")
    marks: list[SentMark]


class Click(Marks):
    """A click, and the marks so far."""

    point: str
    pixel: tuple[float, float]


class SavedMarks(Marks):
    """All marks of the page, to be saved, and the version that was seen."""

    version: str


class Marking:
    """The marks of one lesson folder on one picture."""

    def __init__(self, folder: Path, text: str, picture: Picture) -> None:
        self._folder, self._text, self._picture = folder, text, picture

    def lesson(self, marks: Sequence[SentMark]) -> Lesson:
        """The lesson with these marks. Raises LessonError where one is impossible."""
        return draft(self._folder, self._text, [mark.edited() for mark in marks], self._picture.still.size_px)

    def solved(self, marks: Sequence[SentMark]) -> dict[str, Any]:
        """What the marks give: lines to draw, misses, what was left out, the accuracy to be expected; or why nothing.

        Raises
        ------
        LessonError
            If a mark is impossible.
        """
        lesson = self.lesson(marks)
        placed = len(lesson.marks) if marks else 0  # a tee's foot has no place of its own
        if placed < FEWEST_MARKS:
            more = FEWEST_MARKS - placed
            return {"ok": False, "words": f"{more} more mark{'s' if more > 1 else ''}, then the field is drawn."}
        try:
            camera, lens_words = self._camera(lesson)
        except CalibrationError as error:
            return {"ok": False, "words": str(error)}
        misses_px = np.hypot(*camera.residuals_px.T)
        accuracy = expected_accuracy(Setting(camera.camera, lesson.ball, lesson.air), self._picture.info.nominal_fps)
        used = np.array([mark.name not in camera.rejected for mark in lesson.marks])
        return {
            "ok": True,
            "lines": [asdict(line) for line in field_lines(camera.camera, lesson)],
            "points": points_px(camera.camera, lesson),
            "misses": [
                {"name": mark.name, "px": float(miss), "used": bool(good)}
                for mark, miss, good in zip(lesson.marks, misses_px, used, strict=True)
            ],
            "rms_px": float(np.sqrt(np.mean(misses_px[used] ** 2))),
            "warnings": [*camera.warnings],
            "lens": lens_words,
            "accuracy": [asdict(each) for each in accuracy],
            "hit": hit_words(),
            "words": _stands(camera),
        }

    def proposed(self) -> dict[str, Any]:
        """What the plate finder finds by itself, and its words."""
        lesson = self.lesson([])
        size_px = self._picture.still.size_px
        lens = best_lens(lesson.lens, self._picture.info, size_px).prior
        proposal = propose_marks(self._picture.still, lesson.ball.kind, lens)
        marks = [{"point": mark.name, **_measured(mark)} for mark in proposal.marks]
        return {"marks": marks, "words": proposal.words}

    def refined(self, click: Click) -> dict[str, Any]:
        """A click moved to the chalk's corner; no pixel where none is clear."""
        camera = None
        if len(click.marks) >= FEWEST_MARKS:
            try:
                camera = self._camera(self.lesson(click.marks))[0].camera
            except CalibrationError:
                camera = None  # the clicks so far contradict each other: the picture alone must do
        found = refine_mark(self._picture.still, click.point, click.pixel, camera)
        return {"pixel": None, "sd_px": None} if found is None else _measured(found)

    def others(self, marks: Sequence[SentMark]) -> dict[str, Any]:
        """Corners of chalk that were not marked, found where the camera from the marks says they must be."""
        lesson = self.lesson(marks)
        camera = self._camera(lesson)[0].camera
        named = {mark.point for mark in marks}
        found: list[dict[str, Any]] = []
        for name, pixel_px in points_px(camera, lesson).items():
            if name in named or not name.startswith(NEAR_PLATE):
                continue
            corner = refine_mark(self._picture.still, name, pixel_px, camera)
            if corner is not None and self._is_free(corner.pixel_px, marks):
                found.append({"point": name, **_measured(corner)})
        words = f"{len(found)} more found: look whether they lie on the chalk" if found else "no other corner is clear"
        return {"marks": found, "words": words}

    def _is_free(self, pixel_px: tuple[float, float], marks: Sequence[SentMark]) -> bool:
        near_px = FREE_PLACE_SHARE * self._picture.still.size_px[0]
        return all(np.hypot(*np.subtract(mark.pixel, pixel_px)) > near_px for mark in marks)

    def _camera(self, lesson: Lesson) -> tuple[SolvedCamera, str]:
        size_px = self._picture.still.size_px
        choice = best_lens(lesson.lens, self._picture.info, size_px)
        return solve(lesson.marks, size_px, choice.prior, lesson.readout), choice.words


def _stands(solved: SolvedCamera) -> str:
    """Where the phone stood, for a person to check."""
    x, y, z = solved.camera.position_field_m
    ahead = "behind" if y < 0 else "ahead of"
    side = "first" if x > 0 else "third"
    aside = f"{abs(x):.1f} m to the {side}-base side"
    return f"The phone stands {abs(y):.1f} m {ahead} the plate's tip, {aside}, {z:.1f} m up."


def _measured(mark: ProposedMark) -> dict[str, Any]:
    """Where a mark was found, and how well: a tenth of a pixel at best, whatever its edges say."""
    u, v = mark.pixel_px
    return {"pixel": [round(u, 2), round(v, 2)], "sd_px": round(max(mark.sd_px, LEAST_SD_PX), 3)}
