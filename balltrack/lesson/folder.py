"""A lesson as the program works with it: what lesson.toml says, in SI, and the clips in their order."""

import hashlib
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from balltrack import __version__
from balltrack.errors import LessonError
from balltrack.names import hides_letters, shown

CLIP_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".mkv", ".avi", ".webm", ".3gp", ".mts"})
STILL_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".heic", ".heif", ".png", ".dng", ".webp", ".avif", ".gif", ".tif", ".tiff"}
)
SKIPPED_SILENTLY = frozenset({".ds_store", "thumbs.db", "desktop.ini"})

MOST_NAME_BYTES = 200  # a file system takes 255; results put endings behind it

Delivery = Literal["tee", "toss", "live"]


@dataclass(frozen=True, slots=True)
class Clip:
    """One video file of the lesson."""

    path: Path
    name: str  # clips/01-tee/001.mp4
    block: str  # 01-tee
    delivery: Delivery | None  # None where lesson.toml does not say
    capture_fps: float | None = None  # frames per real second as lesson.toml has it; None where it does not


def find_clips(folder: Path, deliveries: dict[str, Delivery | None]) -> tuple[tuple[Clip, ...], tuple[str, ...]]:
    """All clips, by block and then by file name as a person counts (2 before 10), and a word on what was left out.

    Raises
    ------
    LessonError
        If there is no clip, two clips share a name, a link leads out of the folder, or a folder cannot be read.
    """
    clips: list[Clip] = []
    notices: list[str] = []
    root = folder / "clips"
    if not root.is_dir():
        raise LessonError(f"{root} is missing; put the clips in one folder a block, such as clips/01-tee/001.mp4")
    refuse_escape(root, folder)
    for entry in in_order(root):
        refuse_escape(entry, folder)
        if trouble := _trouble_with_name(entry.name):
            notices.append(f"clips/{shown(entry.name)} left out: {trouble}")
        elif entry.is_dir():
            clips.extend(_block_clips(entry, folder, deliveries.get(entry.name), notices))
        else:
            notices.append(f"clips/{entry.name} left out: it is not in a block's folder, such as clips/01-tee/")
    if not clips:
        raise LessonError(f"{root} holds no clips; put videos ({_suffix_words()}) in folders such as clips/01-tee/")
    return tuple(clips), tuple(notices)


def _block_clips(block: Path, folder: Path, delivery: Delivery | None, notices: list[str]) -> list[Clip]:
    clips: dict[str, Clip] = {}
    for entry in in_order(block):
        name = f"clips/{block.name}/{shown(entry.name)}"
        refuse_escape(entry, folder)
        if trouble := _trouble_with_name(entry.name):
            notices.append(f"{name} left out: {trouble}")
        elif entry.is_dir():
            notices.append(f"{name}/ left out: folders inside a block's folder are not looked into")
        elif entry.suffix.lower() not in CLIP_SUFFIXES:
            notices.append(f"{name} left out: {not_a_clip(entry)}")
        elif not entry.is_file():
            notices.append(f"{name} left out: not a plain file")
        elif entry.stem.endswith(".hand"):
            raise LessonError(f"{name}: its results would be taken for hand corrections; give it a name without .hand")
        elif entry.stem in clips:
            raise LessonError(f"{name} and {clips[entry.stem].name} would have the same results; rename one of them")
        else:
            clips[entry.stem] = Clip(entry, name, block.name, delivery)
    return list(clips.values())


def in_order(folder: Path) -> list[Path]:
    """What a folder shows, by name as a person counts: 2 before 10. Raises LessonError where it cannot be read."""
    try:
        seen = [path for path in folder.iterdir() if not path.name.startswith(".")]
    except OSError as error:
        raise LessonError(f"{folder} cannot be read: {error.strerror or error}; unlock the folder") from None
    return sorted((path for path in seen if path.name.lower() not in SKIPPED_SILENTLY), key=lambda p: _natural(p.name))


def not_a_clip(path: Path) -> str:
    """Why a file without a video's name is no clip."""
    if path.suffix.lower() not in STILL_SUFFIXES:
        return f"not a video ({_suffix_words()})"
    film = next((other for other in in_order(path.parent) if is_film_of(other, path)), None)
    return f"a still picture; {film.name} is the film that goes with it" if film else "a still picture"


def is_film_of(film: Path, still: Path) -> bool:
    """Whether a video lies beside a still of the same name, as phones keep a picture that moves when it is touched."""
    return film.suffix.lower() in CLIP_SUFFIXES and film.stem == still.stem and film.parent == still.parent


def _natural(name: str) -> tuple[list[tuple[int, int, str]], str]:
    parts = re.findall(r"\d+|\D+", name.casefold())
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts], name


def refuse_escape(path: Path, folder: Path) -> None:
    """Raise a LessonError for a link that leads out of the lesson folder, or in a circle."""
    try:
        inside = not path.is_symlink() or path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # links in a circle
        inside = False
    if not inside:
        where = f"{shown(path.parent.name)}/{shown(path.name)}"
        raise LessonError(f"{where} is a link out of the lesson folder; copy the file in instead")


def _trouble_with_name(name: str) -> str:
    """Why a file of that name is left out; empty where it is not. Results get names of their own made of it."""
    if hides_letters(name):
        return "its name holds a letter that cannot be shown, such as a line break; rename it"
    length = len(os.fsencode(name))
    return f"its name has {length} bytes; give it one of at most {MOST_NAME_BYTES}" if length > MOST_NAME_BYTES else ""


def _suffix_words() -> str:
    return ", ".join(sorted(CLIP_SUFFIXES))


def settings_hash(settings: Sequence[bytes]) -> str:
    """Changes whenever what a lesson is measured with, the lens file or the program's version does: 16 hex digits."""
    digest = hashlib.sha256(__version__.encode())
    for data in settings:
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()[:16]
