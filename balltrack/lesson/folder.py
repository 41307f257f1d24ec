"""A lesson as the program works with it: what lesson.toml says, in SI, and the clips in their order."""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from balltrack import __version__
from balltrack.errors import LessonError

CLIP_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".mkv", ".avi", ".webm", ".3gp", ".mts"})
STILL_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".heic", ".heif", ".png", ".dng", ".webp", ".avif", ".gif", ".tif", ".tiff"}
)
SKIPPED_SILENTLY = frozenset({".ds_store", "thumbs.db", "desktop.ini"})

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
        If there is no clip, two clips share a name, or a link leads out of the folder.
    """
    clips: list[Clip] = []
    notices: list[str] = []
    root = folder / "clips"
    if not root.is_dir():
        raise LessonError(f"{root} is missing; put the clips in one folder a block, such as clips/01-tee/001.mp4")
    for entry in in_order(root):
        _refuse_escape(entry, folder)
        if entry.is_dir():
            clips.extend(_block_clips(entry, folder, deliveries.get(entry.name), notices))
        else:
            notices.append(f"clips/{entry.name} left out: it is not in a block's folder, such as clips/01-tee/")
    if not clips:
        raise LessonError(f"{root} holds no clips; put videos ({_suffix_words()}) in folders such as clips/01-tee/")
    return tuple(clips), tuple(notices)


def _block_clips(block: Path, folder: Path, delivery: Delivery | None, notices: list[str]) -> list[Clip]:
    clips: dict[str, Clip] = {}
    for entry in in_order(block):
        name = f"clips/{block.name}/{entry.name}"
        _refuse_escape(entry, folder)
        if entry.is_dir():
            notices.append(f"{name}/ left out: folders inside a block's folder are not looked into")
        elif entry.suffix.lower() not in CLIP_SUFFIXES:
            notices.append(f"{name} left out: {not_a_clip(entry)}")
        elif entry.stem.endswith(".hand"):
            raise LessonError(f"{name}: its results would be taken for hand corrections; give it a name without .hand")
        elif entry.stem in clips:
            raise LessonError(f"{name} and {clips[entry.stem].name} would have the same results; rename one of them")
        else:
            clips[entry.stem] = Clip(entry, name, block.name, delivery)
    return list(clips.values())


def in_order(folder: Path) -> list[Path]:
    """What a folder shows, by name as a person counts: 2 before 10."""
    shown = (path for path in folder.iterdir() if not path.name.startswith("."))
    return sorted((path for path in shown if path.name.lower() not in SKIPPED_SILENTLY), key=lambda p: _natural(p.name))


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


def _refuse_escape(path: Path, folder: Path) -> None:
    if path.is_symlink() and not path.resolve().is_relative_to(folder.resolve()):
        raise LessonError(f"{path} is a link out of the lesson folder; copy the file in instead")


def _suffix_words() -> str:
    return ", ".join(sorted(CLIP_SUFFIXES))


def settings_hash(settings: Sequence[bytes]) -> str:
    """Changes whenever what a lesson is measured with, the lens file or the program's version does: 16 hex digits."""
    digest = hashlib.sha256(__version__.encode())
    for data in settings:
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()[:16]
