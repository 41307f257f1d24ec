"""Mark the field: a still of the first clip, on which a person points at what the field's rules give a place."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from balltrack.desk.clips import first_clip
from balltrack.desk.lesson_file import LessonFile, draft
from balltrack.desk.marking import Click, Marking, Marks, SavedMarks
from balltrack.desk.overlay import points_of
from balltrack.desk.page import parse, read_json, render
from balltrack.desk.still import first_picture
from balltrack.errors import LessonError
from balltrack.field import FREE_POINTS, PLATE_DEPTH_M, PLATE_HALF_M
from balltrack.lesson.edit import MARKS, values_of, version, with_marks

# In the order in which they are best marked: most is known once plate and far corners are.
WORDS = {
    "plate_tip": "plate, rear tip",
    "plate_left": "plate, left side corner",
    "plate_right": "plate, right side corner",
    "plate_front_left": "plate, front left",
    "plate_front_right": "plate, front right",
    "left_box_outer_back": "left box, outer back",
    "left_box_outer_front": "left box, outer front",
    "right_box_outer_back": "right box, outer back",
    "right_box_outer_front": "right box, outer front",
    "left_box_inner_back": "left box, inner back",
    "left_box_inner_front": "left box, inner front",
    "right_box_inner_back": "right box, inner back",
    "right_box_inner_front": "right box, inner front",
    "first_base_back": "first base, back corner",
    "second_base_center": "second base, middle",
    "third_base_back": "third base, back corner",
    "pitchers_plate_front": "pitcher's plate, front edge",
    "left_pole_base": "left pole, foot",
    "right_pole_base": "right pole, foot",
    "tee_base": "tee, foot",
}
NEAR = ("plate_", "left_box_", "right_box_")
PLATE_TIMES, TEE_Y_M, DRAWN_IN = 2.0, 0.98, 0.55  # of the small drawings: looked at, and chosen


@dataclass(frozen=True, slots=True)
class Spot:
    """A named point in one of the two small drawings. Right is the first-base side, up is toward second base.

    The drawings are not to scale: the plate is drawn larger, what is far nearer.
    """

    name: str
    words: str
    x: float
    y: float


def marks_routes(folder: Path) -> list[Route]:
    """The addresses of Mark the field, relative to the token."""
    file = LessonFile(folder)

    def page(request: Request) -> Response:
        text = file.text()
        try:
            info = first_clip(folder)
        except LessonError as error:
            return render(request, "no_marks.html.j2", words=str(error))
        near, far = spots(folder, text)
        return render(request, "marks.html.j2", clip=info.path.name, near=near, far=far, words=WORDS)

    def still(request: Request) -> Response:
        return Response(first_picture(folder).png, media_type="image/png")

    def held(request: Request) -> Response:
        return JSONResponse(_held(folder, file.text()))

    async def solved(request: Request) -> Response:
        sent = parse(Marks, await read_json(request))
        return JSONResponse(await run_in_threadpool(lambda: _marking(folder, file).solved(sent.marks)))

    def proposed(request: Request) -> Response:
        return JSONResponse(_marking(folder, file).proposed())

    async def others(request: Request) -> Response:
        sent = parse(Marks, await read_json(request))
        return JSONResponse(await run_in_threadpool(lambda: _marking(folder, file).others(sent.marks)))

    async def refined(request: Request) -> Response:
        click = parse(Click, await read_json(request))
        return JSONResponse(await run_in_threadpool(lambda: _marking(folder, file).refined(click)))

    async def save(request: Request) -> Response:
        sent = parse(SavedMarks, await read_json(request))
        return JSONResponse(await run_in_threadpool(_save, folder, file, sent))

    return [
        Route("/marks", page),
        Route("/marks", save, methods=["PUT"]),
        Route("/marks/still.png", still),
        Route("/marks/held", held),
        Route("/marks/solve", solved, methods=["POST"]),
        Route("/marks/propose", proposed, methods=["POST"]),
        Route("/marks/others", others, methods=["POST"]),
        Route("/marks/refine", refined, methods=["POST"]),
    ]


def spots(folder: Path, text: str) -> tuple[list[Spot], list[Spot]]:
    """The named points of this lesson's field: about the plate, and further out."""
    points = {**points_of(draft(folder, text, (), (1920, 1080))), FREE_POINTS[0]: (0.0, TEE_Y_M, 0.0)}
    near = [name for name in points if name.startswith(NEAR) or name in FREE_POINTS]
    far = [name for name in points if name not in near]
    return (
        [Spot(name, WORDS[name], *_enlarged(name, *points[name][:2])) for name in near],
        [Spot(name, WORDS[name], *_drawn_in(*points[name][:2])) for name in far],
    )


def _enlarged(name: str, x: float, y: float) -> tuple[float, float]:
    """The plate so large that a finger can tell its corners apart, the boxes as far to the side as that needs."""
    if name.startswith("plate_"):
        return PLATE_TIMES * x, PLATE_TIMES * (y - PLATE_DEPTH_M / 2) + PLATE_DEPTH_M / 2
    return x + (PLATE_TIMES - 1) * PLATE_HALF_M * float(np.sign(x)), y


def _drawn_in(x: float, y: float) -> tuple[float, float]:
    distance = float(np.hypot(x, y))
    return x * distance ** (DRAWN_IN - 1), y * distance ** (DRAWN_IN - 1)


def _marking(folder: Path, file: LessonFile) -> Marking:
    return Marking(folder, file.text(), first_picture(folder))


def _held(folder: Path, text: str) -> dict[str, Any]:
    """The marks in lesson.toml, and the size of the picture on which they were made."""
    camera = values_of(text).get("camera", {})
    size = camera.get("image_size_px")
    return {
        "marks": [
            {name: mark.get(name) for name in ("point", "at_m", "pixel", "sd_px")}
            for mark in camera.get("marks", [])
        ],
        "size": list(first_clip(folder).size_px),
        "other_size": size if size and list(size) != list(first_clip(folder).size_px) else None,
        "version": version(text, MARKS),
    }


def _save(folder: Path, file: LessonFile, sent: SavedMarks) -> dict[str, Any]:
    marks = [mark.edited() for mark in sent.marks]
    size_px = first_clip(folder).size_px
    draft(folder, file.text(), marks, size_px)  # raises what is wrong with a single mark
    text = file.change({MARKS: sent.version}, lambda before: with_marks(before, marks, size_px))
    return {"version": version(text, MARKS)}
