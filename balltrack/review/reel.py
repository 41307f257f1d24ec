"""The films and stills of a lesson: written beside the page, and found again for it."""

import base64
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.camera.solve import SolvedCamera
from balltrack.errors import MeasureError
from balltrack.lesson import Lesson
from balltrack.records.atomic import write_atomic
from balltrack.records.swing import Swing, to_json
from balltrack.records.table import Units

CLIPS = "clips"
MADE_FROM = "made_from.txt"  # which records the films show: after a correction they may show other swings


@dataclass(frozen=True, slots=True)
class Film:
    """A film beside the page."""

    file: str  # relative to the page
    numbers: tuple[int, ...]  # of the swings that it shows
    poster: str  # a still beside the page; empty where there is none


@dataclass(frozen=True, slots=True)
class Still:
    """A picture inside the page."""

    uri: str  # the picture itself
    words: str  # what it shows, for who does not see it
    numbers: tuple[int, ...]
    when: str = ""  # of one picture: "40 ms before contact"


@dataclass(frozen=True, slots=True)
class Reel:
    """What there is to look at."""

    films: tuple[Film, ...] = ()
    pair: Film | None = None  # two swings side by side
    strip: Still | None = None  # their stills, at the same times
    contacts: tuple[Still, ...] = ()  # the same two at contact
    drawn: tuple[Still, ...] = ()  # those on which the coach drew


def write_reel(
    folder: Path,
    lesson: Lesson,
    swings: Sequence[Swing],
    solved: SolvedCamera,
    units: Units,
    on_clip: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[str, ...]:
    """Write all films and stills into ``clips`` of the review's folder; what cannot be filmed is told, one line each.

    Raises RecordError where the folder cannot be written.
    """
    from balltrack.review.flight_clip import write_flight_clips
    from balltrack.review.side_by_side import first_and_best, write_side_by_side
    from balltrack.review.stills import write_contact_stills
    from balltrack.review.strip import write_strip

    told: list[str] = []
    write_atomic(folder / CLIPS / MADE_FROM, "")  # until all are written, those that are there count as none
    by_clip: dict[str, list[int]] = {}
    for number, swing in enumerate(swings, start=1):
        if not swing.excluded and not swing.swing.endswith("#0"):
            by_clip.setdefault(swing.clip, []).append(number)
    written: list[Path] = []
    for done, (clip, numbers) in enumerate(by_clip.items()):
        on_clip(done, len(by_clip))
        try:
            written += write_flight_clips(folder, lesson, swings, solved, units, numbers)
            written += write_contact_stills(folder, lesson, swings, solved, units, numbers)
        except MeasureError as error:
            told.append(f"{clip} has no film in the review: {error}")
    pair = first_and_best(swings)
    if pair:
        try:
            written.append(write_side_by_side(folder, lesson, swings, solved, units, pair))
            written.append(write_strip(folder, lesson, swings, solved, units, pair))
        except MeasureError as error:
            told.append(f"swings {pair[0]} and {pair[1]} are not shown side by side: {error}")
    for path in (folder / CLIPS).iterdir():
        if path.suffix in (".mp4", ".jpg") and path not in written:
            path.unlink()  # of swings that are no longer there
    write_atomic(folder / CLIPS / MADE_FROM, _mark(swings))
    on_clip(len(by_clip), len(by_clip))
    return tuple(told)


def find_reel(folder: Path, swings: Sequence[Swing], units: Units) -> Reel:
    """What an earlier `write_reel` left for these very swings; nothing where they have changed since."""
    from balltrack.review.side_by_side import first_and_best
    from balltrack.review.stills import still_words
    from balltrack.review.strip import strip_words

    clips = folder / CLIPS
    made_from = clips / MADE_FROM
    if not made_from.is_file() or made_from.read_text(encoding="utf-8") != _mark(swings):
        return Reel()
    films = tuple(
        Film(f"{CLIPS}/{path.name}", (number,), _beside(clips / f"contact-{number:03d}.jpg"))
        for number in range(1, len(swings) + 1)
        if (path := clips / f"swing-{number:03d}.mp4").is_file()
    )
    pair = first_and_best(swings)
    if pair is None:
        return Reel(films)
    name = f"{pair[0]:03d}-{pair[1]:03d}"
    both = clips / f"side-by-side-{name}.mp4"
    stills = [(clips / f"contact-{number:03d}.jpg", number) for number in pair]
    return Reel(
        films,
        Film(f"{CLIPS}/{both.name}", pair, "") if both.is_file() else None,
        _still(clips / f"strip-{name}.jpg", strip_words(pair), pair),
        tuple(
            still
            for path, number in stills
            if (still := _still(path, still_words(number, swings[number - 1], units), (number,)))
        ),
    )


def _still(path: Path, words: str, numbers: tuple[int, ...]) -> Still | None:
    if not path.is_file():
        return None
    return Still(f"data:image/jpeg;base64,{base64.b64encode(path.read_bytes()).decode()}", words, numbers)


def _beside(path: Path) -> str:
    return f"{CLIPS}/{path.name}" if path.is_file() else ""


def _mark(swings: Sequence[Swing]) -> str:
    return hashlib.sha256("\n".join(map(to_json, swings)).encode()).hexdigest()
