"""Set up: the player, the ball, the field, the blocks, and the clips."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from balltrack.desk import clips, entries
from balltrack.desk.guard import inside
from balltrack.desk.lesson_file import DEFAULTS, LessonFile, problems_of
from balltrack.desk.page import parse, read_json, render
from balltrack.errors import LessonError
from balltrack.lesson.edit import Section, values_of, version, with_values
from balltrack.lesson.folder import CLIP_SUFFIXES

WORDS = {"player": "Player", "ball": "Ball", "field": "Field", "air": "Air"}
FIRST_BLOCK = "01-swings"  # of an empty folder: its folder is made with its first clip


class Change(BaseModel):
    """One section of the form as it was typed, and the version that was seen."""

    model_config = ConfigDict(extra="forbid", strict=True)
    section: list[str]
    version: str
    texts: dict[str, str]


class Changes(BaseModel):
    """A saved form."""

    model_config = ConfigDict(extra="forbid", strict=True)
    changes: list[Change]


class NewBlock(BaseModel):
    """A block that shall be there, and loose clips to be moved into it."""

    model_config = ConfigDict(extra="forbid", strict=True)
    name: str
    adopt: bool = False


@dataclass(frozen=True, slots=True)
class SectionForm:
    """A section of the form, ready to show."""

    path: Section
    title: str
    version: str
    entries: tuple[entries.Entry, ...]
    texts: dict[str, str]
    saved: bool  # whether the file holds it yet


def setup_routes(folder: Path) -> list[Route]:
    """The addresses of Set up, relative to the token."""
    file = LessonFile(folder)

    def page(request: Request) -> Response:  # not async: Starlette runs it in a thread, clips are looked at
        text = file.text()
        values = values_of(text)
        loose = clips.loose_clips(folder)
        blocks = clips.blocks_of(folder) or (() if loose else (clips.ClipBlock(FIRST_BLOCK, ()),))
        return render(
            request,
            "setup.html.j2",
            folder=folder.resolve().name,
            sections=[_form((name,), words, text, values) for name, words in WORDS.items()],
            blocks=[(block, _form(("blocks", block.name), block.name, text, values)) for block in blocks],
            loose=[path.name for path in loose],
            first_block=FIRST_BLOCK,
            problems=problems_of(folder, text),
            saved=bool(text),
            count=sum(len(block.rows) for block in blocks),
            most_gb=clips.MOST_CLIP_BYTES // 1_000_000_000,
            suffixes=",".join(sorted(CLIP_SUFFIXES)),
        )

    async def save(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(_save, file, parse(Changes, await read_json(request))))

    async def receive(request: Request) -> Response:
        block, name = request.path_params["block"], request.path_params["name"]
        told = request.headers.get("content-length", "")
        if not told.isdecimal():
            raise LessonError(f"{name}: how long it is was not said; send it again")
        row = await clips.receive(folder, block, name, request.stream(), int(told))
        return JSONResponse({"name": row.name})

    async def block(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(_block, folder, parse(NewBlock, await read_json(request))))

    return [
        Route("/setup", page),
        Route("/settings", save, methods=["PUT"]),
        Route("/clips/{block}/{name}", receive, methods=["PUT"]),
        Route("/blocks", block, methods=["POST"]),
    ]


def _form(path: Section, title: str, text: str, values: dict[str, Any]) -> SectionForm:
    held: Any = values
    for name in path:
        held = held.get(name) if isinstance(held, dict) else None
    saved = isinstance(held, dict)
    shown = held if isinstance(held, dict) else DEFAULTS.get(path[0], {})
    if not saved and path == ("player",):
        shown = {**shown, "name": None}  # a name is asked for, not made up
    if not saved and path[0] == "blocks":
        shown = {"delivery": next((each for each in ("tee", "toss", "live") if each in path[1].lower()), None)}
    return SectionForm(path, title, version(text, path), entries.entries_of(path), entries.shown(path, shown), saved)


def _save(file: LessonFile, wanted: Changes) -> dict[str, Any]:
    seen = {tuple(change.section): change.version for change in wanted.changes}
    for section in seen:
        if not entries.entries_of(section):
            raise LessonError(f"{'.'.join(section)} is no part of this form; load the page anew")

    def edit(text: str) -> str:
        for change in wanted.changes:
            section = tuple(change.section)
            text = with_values(text, section, entries.typed(section, change.texts))
        return text

    text = file.change(seen, edit)
    return {"versions": [[list(section), version(text, section)] for section in seen]}


def _block(folder: Path, wanted: NewBlock) -> dict[str, Any]:
    path = inside(folder, clips.CLIPS, clips.checked_name(wanted.name))
    path.mkdir(parents=True, exist_ok=True)
    return {"moved": clips.adopt(folder, wanted.name) if wanted.adopt else 0}
