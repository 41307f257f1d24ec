"""Review: the coach's words for the take-home page, and the page made anew with them."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from balltrack.batch import units_in
from balltrack.desk.lesson_file import LessonFile
from balltrack.desk.page import parse, read_json, render
from balltrack.errors import LessonError
from balltrack.lesson.edit import PLAN, Section, Value, values_of, version, with_drills, with_values
from balltrack.lesson.folder import in_order
from balltrack.records import wording
from balltrack.records.store import read_swings
from balltrack.records.swing import Swing
from balltrack.records.table import SPEED, Units
from balltrack.review.make import PDF, Wish, make_review
from balltrack.review.page import PAGE

ABOUT: Section = ("lesson",)
DRILL_ENTRIES = ("name", "repetitions", "words", "caution")


class Change(BaseModel):
    """One section as it was typed, and the version that was seen."""

    model_config = ConfigDict(extra="forbid", strict=True)
    section: list[str]
    version: str
    texts: dict[str, str]
    drills: list[dict[str, str]] | None = None  # of the plan


class Words(BaseModel):
    """A saved page."""

    model_config = ConfigDict(extra="forbid", strict=True)
    changes: list[Change]


class Order(BaseModel):
    """What the review shall hold."""

    model_config = ConfigDict(extra="forbid", strict=True)
    clips: bool


@dataclass(frozen=True, slots=True)
class Notes:
    """What may be said about one block, or one swing."""

    section: Section
    title: str
    under: str
    version: str
    notes: str


def review_routes(folder: Path) -> list[Route]:
    """The addresses of Review, relative to the token."""
    file = LessonFile(folder)

    def page(request: Request) -> Response:  # not async: Starlette runs it in a thread
        text = file.text()
        values = values_of(text)
        results = folder / "results"
        swings = read_swings(results / "swings.jsonl")
        plan = _table(values, PLAN)
        return render(
            request,
            "review.html.j2",
            measured=bool(swings),
            about=_table(values, ABOUT),
            about_version=version(text, ABOUT),
            plan=plan,
            plan_version=version(text, PLAN),
            drills=[{name: str(drill.get(name, "")) for name in DRILL_ENTRIES} for drill in plan.get("drills", [])],
            entries=DRILL_ENTRIES,
            blocks=[_block(text, values, name) for name in _blocks(folder)],
            swings=[_swing(text, values, n, swing, units_in(results)) for n, swing in enumerate(swings, start=1)],
            made=(results / "review" / PAGE).is_file(),
            pdf=PDF if (results / "review" / PDF).is_file() else "",
        )

    async def save(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(_save, file, parse(Words, await read_json(request))))

    async def make(request: Request) -> Response:
        order = parse(Order, await read_json(request))
        made = await run_in_threadpool(make_review, folder, Wish(clips=order.clips))
        return JSONResponse({"notices": made.notices, "pdf": any(path.name == PDF for path in made.files)})

    return [
        Route("/take-home", page),
        Route("/words", save, methods=["PUT"]),
        Route("/take-home/make", make, methods=["POST"]),
    ]


def _save(file: LessonFile, wanted: Words) -> dict[str, Any]:
    seen = {tuple(change.section): change.version for change in wanted.changes}

    def edit(text: str) -> str:
        for change in wanted.changes:
            text = _edited(text, change)
        return text

    text = file.change(seen, edit)
    return {"versions": [[list(section), version(text, section)] for section in seen]}


def _edited(text: str, change: Change) -> str:
    section = tuple(change.section)
    entries = _entries(section)
    if not entries or not set(change.texts) <= set(entries):
        raise LessonError(f"{'.'.join(section)} is no part of this page; load it anew")
    typed: dict[str, Value] = {name: _typed(name, words) for name, words in change.texts.items()}
    if any(value is not None for value in typed.values()) or _table(values_of(text), section):
        text = with_values(text, section, typed)
    if change.drills is not None and section == PLAN:
        filled = [{name: words.strip() for name, words in drill.items() if words.strip()} for drill in change.drills]
        text = with_drills(text, [drill for drill in filled if drill])
    return text


def _entries(section: Section) -> tuple[str, ...]:
    """What this page writes into a section; nothing where it may not write at all."""
    if section == ABOUT:
        return ("date", "notes")
    if section == PLAN:
        return ("words",)
    return ("notes",) if len(section) == 2 and section[0] in ("blocks", "swings") else ()


def _typed(name: str, words: str) -> Value:
    """What was typed, for the file. A day that is none stays text, for the checks to refuse."""
    words = words.strip()
    if name == "date" and words:
        try:
            return datetime.date.fromisoformat(words)
        except ValueError:
            return words
    return words or None


def _blocks(folder: Path) -> list[str]:
    clips = folder / "clips"
    return [path.name for path in in_order(clips) if path.is_dir()] if clips.is_dir() else []


def _block(text: str, values: Mapping[str, Any], name: str) -> Notes:
    section = ("blocks", name)
    table = _table(values, section)
    title = str(table.get("title", name))
    return Notes(section, title, name if title != name else "", version(text, section), str(table.get("notes", "")))


def _swing(text: str, values: Mapping[str, Any], number: int, swing: Swing, units: Units) -> Notes:
    section = ("swings", swing.swing)
    told = f"{wording.exit_speed(swing, units)} {SPEED[units].unit}, {wording.flight(swing)}"
    under = f"{swing.swing}: {told if swing.outcome == 'measured' else wording.outcome(swing)}"
    notes = str(_table(values, section).get("notes", ""))
    return Notes(section, f"Swing {number}", under, version(text, section), notes)


def _table(values: Mapping[str, Any], section: Section) -> dict[str, Any]:
    held: Any = values
    for name in section:
        held = held.get(name) if isinstance(held, dict) else None
    return held if isinstance(held, dict) else {}
