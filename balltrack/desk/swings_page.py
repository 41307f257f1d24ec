"""Look through the swings: the table, the frames of each swing with the found track, and a person's corrections."""

import contextlib
import math
import threading
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from balltrack.batch import add_swing, correct_swing, drop_swing, refresh_results, units_in
from balltrack.desk.chart import linked_chart
from balltrack.desk.frames import Pictures
from balltrack.desk.guard import inside
from balltrack.desk.page import parse, read_json, render
from balltrack.desk.swing_view import open_swing, viewed
from balltrack.desk.whole_clip import ListedClip, listed_clips, open_clip, viewed_clip
from balltrack.errors import LessonError, MeasureError
from balltrack.lesson import load_lesson
from balltrack.records import wording
from balltrack.records.corrections import Fix
from balltrack.records.hand import HandRow
from balltrack.records.store import ResultStore
from balltrack.records.swing import Swing
from balltrack.records.table import DISTANCE, SPEED, Units
from balltrack.records.verdict import LONGEST_REASON

PAUSE_S = 1.0

Pixel = Annotated[float, Field(ge=-100_000, le=100_000)]


class Ball(BaseModel):
    """One frame as a person set it; without a place, no ball is in it."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    time: float
    u: Pixel | None = None
    v: Pixel | None = None
    d: Annotated[float, Field(gt=0.5, le=2000)] | None = None


class Correction(BaseModel):
    """All that a person puts right in one swing, and the version of the corrections that was seen."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    swing: str
    version: str
    balls: list[Ball] = Field(max_length=2000)
    contact: float | None = None
    miss: bool = False
    excluded: str = Field(default="", max_length=LONGEST_REASON)


class NewSwing(BaseModel):
    """A swing that the program did not see, and the version of its clip's corrections that was seen."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    clip: str
    version: str
    contact: float


class TakenAway(BaseModel):
    """A swing that a person added and takes away again."""

    model_config = ConfigDict(extra="forbid")
    swing: str
    version: str


@dataclass(frozen=True, slots=True)
class Row:
    """One swing in the table, ready to print."""

    number: int
    swing: Swing
    exit_speed: str
    launch: str
    direction: str
    carry: str
    outcome: str
    can_open: bool  # number 0 stands for a clip that cannot be read


class _Afterwards:
    """Refreshes results once no correction has come for a moment; not while somebody waits for an answer."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._timer: threading.Timer | None = None
        self._lock, self._one_at_a_time = threading.Lock(), threading.Lock()

    def soon(self) -> None:
        """After the moment, counted from now."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._timer = threading.Timer(PAUSE_S, self._refresh)
            self._timer.daemon = True
            self._timer.start()

    def _refresh(self) -> None:
        """Where it cannot be done, the records are right all the same, and measuring does it in the end."""
        with self._one_at_a_time, contextlib.suppress(MeasureError):
            refresh_results(self._folder)


def swings_routes(folder: Path) -> list[Route]:
    """The addresses of Swings, relative to the token."""
    pictures, afterwards = Pictures(), _Afterwards(folder)

    def page(request: Request) -> Response:  # not async: Starlette runs these in a thread
        units = units_in(folder / "results")
        try:
            return render(request, "swings.html.j2", problem="", **_shown(_swings(folder), units, _clips(folder)))
        except MeasureError as error:
            return render(request, "swings.html.j2", problem=str(error), **_shown((), units, ()))

    def table(request: Request) -> Response:
        shown = _shown(_swings(folder), units_in(folder / "results"), _clips(folder))
        return render(request, "swings_table.html.j2", **shown)

    def chart(request: Request) -> Response:
        svg = linked_chart(load_lesson(folder), _swings(folder), units_in(folder / "results"))
        return JSONResponse({"svg": svg})

    def one(request: Request) -> Response:
        return JSONResponse(_one(folder, request.query_params.get("swing", "")))

    def clip(request: Request) -> Response:
        return JSONResponse(viewed_clip(open_clip(folder, request.query_params.get("clip", ""))))

    def frame(request: Request) -> Response:
        name, number = _asked_frame(folder, request)
        half = request.query_params.get("size") == "half"
        data = pictures.jpeg(inside(folder, name), number, half)
        return Response(data, media_type="image/jpeg", headers={"cache-control": "private, max-age=600"})

    async def correct(request: Request) -> Response:
        wanted = parse(Correction, await read_json(request))
        said = await run_in_threadpool(_correct, folder, wanted)
        afterwards.soon()
        return JSONResponse(said)

    async def add(request: Request) -> Response:
        wanted = parse(NewSwing, await read_json(request))
        said = await run_in_threadpool(_add, folder, wanted)
        afterwards.soon()
        return JSONResponse(said)

    async def remove(request: Request) -> Response:
        wanted = parse(TakenAway, await read_json(request))
        await run_in_threadpool(drop_swing, folder, wanted.swing, wanted.version)
        afterwards.soon()
        return JSONResponse({})

    return [
        Route("/swings", page),
        Route("/swings/table", table),
        Route("/swings/chart", chart),
        Route("/swings/one", one),
        Route("/swings/clip", clip),
        Route("/swings/frame", frame),
        Route("/swings/correct", correct, methods=["PUT"]),
        Route("/swings/add", add, methods=["PUT"]),
        Route("/swings/remove", remove, methods=["PUT"]),
    ]


def _swings(folder: Path) -> tuple[Swing, ...]:
    lesson = load_lesson(folder)
    return ResultStore(folder / "results", [clip.name for clip in lesson.clips]).swings


def _clips(folder: Path) -> tuple[ListedClip, ...]:
    return listed_clips(load_lesson(folder), folder / "results", _swings(folder))


def _asked_frame(folder: Path, request: Request) -> tuple[str, int]:
    """The clip that holds the frame, and its number there: of a swing's frames, or of a whole clip's."""
    asked = request.query_params.get("k", "")
    if "clip" in request.query_params:
        whole = open_clip(folder, request.query_params["clip"])
        name, first, count = whole.clip.name, 0, len(whole.reel.times_s)
    else:
        seen = open_swing(folder, request.query_params.get("swing", ""))
        name, first, count = seen.clip.name, seen.first, seen.last - seen.first
    if not asked.isdecimal() or int(asked) >= count:
        raise LessonError(f"there is no frame {asked!r} here: there are {count}")
    return name, first + int(asked)


def _shown(swings: Sequence[Swing], units: Units, clips: Sequence[ListedClip]) -> dict[str, Any]:
    rows = [_row(number, swing, units) for number, swing in enumerate(swings, start=1)]
    counts = Counter("excluded" if swing.excluded else swing.outcome for swing in swings if swing.ended != "take")
    return {
        "rows": rows,
        "counts": {name: counts[name] for name in ("measured", "no_contact", "not_measured", "excluded")},
        "clips": clips,
        "unit": {"speed": SPEED[units].unit, "far": DISTANCE[units].unit},
        "plus_minus": wording.PLUS_MINUS_MEANS,
    }


def _row(number: int, swing: Swing, units: Units) -> Row:
    return Row(
        number=number,
        swing=swing,
        exit_speed=wording.exit_speed(swing, units),
        launch=wording.launch(swing),
        direction=wording.direction(swing),
        carry=wording.carry(swing, units),
        outcome=wording.outcome(swing),
        can_open=not swing.swing.endswith("#0"),
    )


def _one(folder: Path, name: str) -> dict[str, Any]:
    """A swing for the viewer, with its numbers in words."""
    view = viewed(open_swing(folder, name))
    swings, units = _swings(folder), units_in(folder / "results")
    found = [(number, swing) for number, swing in enumerate(swings, start=1) if swing.swing == name]
    if not found:
        raise LessonError("there is no such swing any more; load the page anew")
    number, swing = found[0]
    return view | {"number": number, "swing": name, "said": _said(swing, units)}


def _said(swing: Swing, units: Units) -> dict[str, Any]:
    speed, far = SPEED[units].unit, DISTANCE[units].unit
    numbers = [
        (f"Exit speed, {speed}", wording.exit_speed(swing, units)),
        ("Launch, °", wording.launch(swing)),
        ("Direction, °", wording.direction(swing)),
        (f"Carry, {far}", wording.carry(swing, units)),
        ("Frames used", str(swing.frames_used or wording.NOTHING)),
        ("Misfit, px", wording.NOTHING if swing.residual_px is None else f"{swing.residual_px:.2f}"),
        ("Quality", swing.quality or wording.outcome(swing)),
    ]
    return {
        "numbers": numbers,
        "outcome": wording.outcome(swing),
        "reason": swing.reason,
        "warnings": swing.warnings,
        "byHand": swing.by_hand,
    }


def _add(folder: Path, wanted: NewSwing) -> dict[str, Any]:
    times_s = open_clip(folder, wanted.clip).reel.times_s
    if not len(times_s) or not times_s[0] <= wanted.contact <= times_s[-1]:
        raise LessonError(f"{wanted.contact:.2f} s is outside the clip; set contact at one of its frames")
    return _one(folder, add_swing(folder, wanted.clip, round(wanted.contact, 6), wanted.version))


def _correct(folder: Path, wanted: Correction) -> dict[str, Any]:
    seen = open_swing(folder, wanted.swing)
    width, height = seen.reel.info.size_px
    rows = []
    for ball in wanted.balls:
        if ball.u is None or ball.v is None or ball.d is None:
            rows.append(HandRow(0, round(ball.time, 6), None, math.nan))
        elif -0.5 <= ball.u <= width - 0.5 and -0.5 <= ball.v <= height - 0.5:
            rows.append(HandRow(0, round(ball.time, 6), (ball.u, ball.v), ball.d))
        else:
            raise LessonError(f"{ball.u:.0f}, {ball.v:.0f} is outside the picture of {width} × {height}; set it inside")
    contact_s = None if wanted.miss else wanted.contact
    fix = Fix(tuple(rows), contact_s, wanted.miss, " ".join(wanted.excluded.split()))
    correct_swing(folder, wanted.swing, fix, wanted.version)
    return _one(folder, wanted.swing)
