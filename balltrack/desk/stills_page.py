"""Stills: a coach steps to a picture around contact, draws on it, and the take-home page shows it."""

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from balltrack.batch import units_in
from balltrack.camera.solve import SolvedCamera
from balltrack.desk.frames import Pictures
from balltrack.desk.guard import inside
from balltrack.desk.page import parse, read_json, render
from balltrack.errors import EditConflict, LessonError, MeasureError, RecordError
from balltrack.lesson import Lesson, load_lesson
from balltrack.records import drawings, wording
from balltrack.records.camera_file import read_camera
from balltrack.records.drawings import MOST_LETTERS, MOST_MARKS, Drawing, DrawnStill, read_drawings
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED
from balltrack.review.batter import batter_framing
from balltrack.review.drawing import LETTERS, LINE_LETTERS, STROKE
from balltrack.review.drawn_stills import alt_words, drawn_jpeg, placed_still, when_words
from balltrack.review.filmed import FilmedSwing, filmed_swings

BEFORE_S, AFTER_S = 1.0, 0.6  # shown around contact: a stride begins early, a follow-through ends late
ROOM = 1.1  # the part shown at first, as against the batter's surroundings
SAME_S = 0.002

Pixel = Annotated[float, Field(ge=-0.5, le=100_000)]
_lock = threading.Lock()  # one change of the file at a time


class Mark(BaseModel):
    """One mark as the page sends it."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    kind: Literal["line", "arrow", "words"]
    points: list[tuple[Pixel, Pixel]] = Field(min_length=1, max_length=2)
    words: str = Field(default="", max_length=MOST_LETTERS)


class Kept(BaseModel):
    """All marks on one picture, and the version of the file that was seen. Without marks, the still goes."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    version: str
    swing: str
    time: float
    view: tuple[int, int, int, int]
    marks: list[Mark] = Field(max_length=MOST_MARKS)


class Dropped(BaseModel):
    """A still to be taken out, by its place in the file, and the version of the file that was seen."""

    model_config = ConfigDict(extra="forbid")
    version: str
    n: int = Field(ge=0)


@dataclass(frozen=True, slots=True, eq=False)
class _Lesson:
    """What is measured of a lesson."""

    lesson: Lesson
    swings: tuple[Swing, ...]
    solved: SolvedCamera

    def filmed(self, swing: str) -> FilmedSwing:
        """A swing by its id, which is never taken for a path. Raises LessonError where it has no pictures."""
        number = next((n for n, each in enumerate(self.swings, start=1) if each.swing == swing), 0)
        found = filmed_swings(self.lesson, self.swings, self.solved, (number,)) if number else ()
        if not found:
            raise LessonError(f"{swing[:60]!r} is no swing with pictures here; load the page anew")
        inside(self.lesson.folder, found[0].swing.clip)
        return found[0]


def stills_routes(folder: Path) -> list[Route]:
    """The addresses of Stills, relative to the token."""
    pictures = Pictures()
    results = folder / "results"

    def page(request: Request) -> Response:  # not async: Starlette runs it in a thread
        problem, rows = "", []
        try:
            rows = _rows(folder)
        except MeasureError as error:
            problem = str(error)
        look = {"letters": LETTERS, "stroke": STROKE, "line_letters": LINE_LETTERS}
        return render(request, "stills.html.j2", rows=rows, problem=problem, look=look, most_letters=MOST_LETTERS)

    def one(request: Request) -> Response:
        return JSONResponse(_one(folder, request.query_params.get("swing", "")))

    def frame(request: Request) -> Response:
        filmed = _opened(folder).filmed(request.query_params.get("swing", ""))
        shown, asked = _around(filmed), request.query_params.get("k", "")
        if not asked.isdecimal() or int(asked) >= len(shown):
            raise LessonError(f"there is no picture {asked[:20]!r} here: there are {len(shown)}")
        data = pictures.jpeg(filmed.info.path, int(shown[int(asked)]), half=False)
        return Response(data, media_type="image/jpeg", headers={"cache-control": "private, max-age=600"})

    def kept(request: Request) -> Response:
        return JSONResponse({"version": drawings.drawings_version(results), "stills": _kept(folder)})

    def picture(request: Request) -> Response:
        stills, asked = read_drawings(results), request.query_params.get("n", "")
        if not asked.isdecimal() or int(asked) >= len(stills):
            raise LessonError(f"there is no still {asked[:20]!r}; load the page anew")
        at = _opened(folder)
        jpeg = drawn_jpeg(placed_still(at.lesson, at.swings, at.solved, stills[int(asked)]))
        return Response(jpeg, media_type="image/jpeg")

    async def keep(request: Request) -> Response:
        wanted = parse(Kept, await read_json(request))
        return JSONResponse(await run_in_threadpool(_keep, folder, wanted))

    async def drop(request: Request) -> Response:
        wanted = parse(Dropped, await read_json(request))
        return JSONResponse({"version": await run_in_threadpool(_drop, results, wanted)})

    return [
        Route("/stills", page),
        Route("/stills/one", one),
        Route("/stills/frame", frame),
        Route("/stills/kept", kept),
        Route("/stills/picture", picture),
        Route("/stills/keep", keep, methods=["PUT"]),
        Route("/stills/drop", drop, methods=["PUT"]),
    ]


def _opened(folder: Path) -> _Lesson:
    results = folder / "results"
    swings = read_swings(results / "swings.jsonl")
    if not swings:
        raise RecordError("no swing is measured yet; measure the lesson first")
    return _Lesson(load_lesson(folder), swings, read_camera(results / "camera.json"))


def _rows(folder: Path) -> list[tuple[str, str]]:
    """The id of each swing that may have pictures, and what it is called."""
    units = units_in(folder / "results")
    found = []
    for number, swing in enumerate(_opened(folder).swings, start=1):
        if not swing.swing.endswith("#0"):  # a clip that could not be measured
            speed = f"{wording.exit_speed(swing, units)} {SPEED[units].unit}"
            told = speed if swing.outcome == "measured" else wording.outcome(swing)
            found.append((swing.swing, f"{number}. {swing.swing}: {told}"))
    return found


def _around(filmed: FilmedSwing) -> np.ndarray[Any, np.dtype[np.intp]]:
    """(n,) the numbers, in their clip, of the pictures around contact."""
    since_s = filmed.times_s - filmed.contact_stamp_s
    return np.flatnonzero((since_s >= -BEFORE_S) & (since_s <= AFTER_S))


def _one(folder: Path, swing: str) -> dict[str, Any]:
    """A swing for the page's script; pictures are counted from the first one shown."""
    filmed = _opened(folder).filmed(swing)
    times_s = filmed.times_s[_around(filmed)]
    if not len(times_s):
        raise LessonError(f"{filmed.swing.clip} has no picture around contact; look through the swing first")
    framing = batter_framing(filmed.camera, filmed.bats, filmed.info.size_px, ROOM)
    return {
        "swing": filmed.swing.swing,
        "clip": filmed.swing.clip,
        "title": f"Swing {filmed.number}, {filmed.block_title}",
        "size": list(filmed.info.size_px),
        "times": [round(float(time_s), 6) for time_s in times_s],
        "when": [when_words(float(time_s) - filmed.contact_stamp_s) for time_s in times_s],
        "begins": int(np.argmin(np.abs(times_s - filmed.contact_stamp_s))),
        "view": list(framing.crop_px),
        "version": drawings.drawings_version(folder / "results"),
        "stills": [
            {"time": still.time_s, "view": still.view_px, "marks": [_sent(mark) for mark in still.marks]}
            for still in read_drawings(folder / "results")
            if still.clip == filmed.swing.clip
        ],
    }


def _sent(mark: Drawing) -> dict[str, Any]:
    return {"kind": mark.kind, "points": mark.points_px, "words": mark.words}


def _kept(folder: Path) -> list[dict[str, Any]]:
    """The stills that were drawn on, in the file's order, with those that fit no swing any more."""
    stills = read_drawings(folder / "results")
    found: list[dict[str, Any]] = []
    if not stills:
        return found
    at = _opened(folder)
    for n, still in enumerate(stills):
        try:
            placed = placed_still(at.lesson, at.swings, at.solved, still)
        except MeasureError as error:
            found.append({"n": n, "trouble": str(error)})
            continue
        filmed = placed.filmed
        found.append(
            {
                "n": n,
                "swing": filmed.swing.swing,
                "clip": still.clip,
                "time": still.time_s,
                "title": f"Swing {filmed.number}, {when_words(placed.since_s)}",
                "words": alt_words(placed),
            }
        )
    return found


def _keep(folder: Path, wanted: Kept) -> dict[str, Any]:
    results = folder / "results"
    filmed = _opened(folder).filmed(wanted.swing)
    off_s = np.abs(filmed.times_s - wanted.time)
    if float(off_s.min()) > SAME_S:
        raise LessonError(f"the clip has no picture at {wanted.time:.3f} s; load the page anew")
    time_s = round(float(filmed.times_s[off_s.argmin()]), 6)
    clip = filmed.swing.clip
    with _lock:
        _check_seen(results, wanted.version)
        others = [s for s in read_drawings(results) if s.clip != clip or abs(s.time_s - time_s) > SAME_S]
        new = [_still(wanted, filmed, time_s)] if wanted.marks else []
        drawings.write_drawings(results, [*others, *new])
        return {"version": drawings.drawings_version(results)}


def _drop(results: Path, wanted: Dropped) -> str:
    """Take one out; give the file's version afterwards."""
    with _lock:
        _check_seen(results, wanted.version)
        stills = read_drawings(results)
        drawings.write_drawings(results, [still for n, still in enumerate(stills) if n != wanted.n])
        return drawings.drawings_version(results)


def _check_seen(results: Path, seen: str) -> None:
    if drawings.drawings_version(results) != seen:
        raise EditConflict("another page drew on stills since this one was opened; nothing was overwritten")


def _still(wanted: Kept, filmed: FilmedSwing, time_s: float) -> DrawnStill:
    """What was sent, for the file. Raises LessonError where it does not fit the picture."""
    width, height = filmed.info.size_px
    left, top, wide, tall = wanted.view
    if min(left, top) < 0 or min(wide, tall) < 8 or left + wide > width or top + tall > height:
        raise LessonError(f"the part shown lies outside the picture of {width} × {height}; load the page anew")
    for mark in wanted.marks:
        if any(u > width - 0.5 or v > height - 0.5 for u, v in mark.points):
            raise LessonError(f"a mark lies outside the picture of {width} × {height}; draw it inside")
    try:
        marks = tuple(
            Drawing(mark.kind, tuple((round(u, 1), round(v, 1)) for u, v in mark.points), " ".join(mark.words.split()))
            for mark in wanted.marks
        )
    except ValueError as error:  # a shape that no mark has
        raise LessonError(f"the page sent what cannot be drawn ({error}); load it anew") from None
    return DrawnStill(swing=filmed.swing.swing, clip=filmed.swing.clip, time_s=time_s, view_px=wanted.view, marks=marks)
