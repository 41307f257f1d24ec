"""Which of the files that a person names are clips, and why the others are none."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.errors import LessonError
from balltrack.lesson.folder import CLIP_SUFFIXES, STILL_SUFFIXES, in_order, is_film_of, not_a_clip

NOT_FILMS = frozenset({"results", "camera", "truth"})  # a lesson's folders that the program fills


@dataclass(frozen=True, slots=True)
class Files:
    """What was found, in order."""

    clips: tuple[Path, ...]
    ignored: tuple[str, ...]  # one line each: the file, and why


def find_files(given: Sequence[Path]) -> Files:
    """The clips among files and folders; folders are looked into, as far down as a lesson's clips lie.

    Raises
    ------
    LessonError
        If one of them does not exist or cannot be read.
    """
    clips: list[Path] = []
    ignored: list[str] = []
    for path in given:
        if not path.exists():
            raise LessonError(f"{path}: no such file or folder; check the name")
        try:
            found = list(_below(path, 3)) if path.is_dir() else [path]
        except OSError as error:
            raise LessonError(f"{path} cannot be read: {error.strerror or error}") from None
        for each in found:
            if each.suffix.lower() in CLIP_SUFFIXES or (each == path and each.suffix.lower() not in STILL_SUFFIXES):
                clips.append(each)  # what a person names and is no picture is tried, whatever its name
            elif each.name not in ("lesson.toml", "lens.toml", "README.md"):
                ignored.append(f"{each.name}: {not_a_clip(each)}")
    return Files(tuple(dict.fromkeys(clips)), tuple(ignored))


def still_beside(clip: Path) -> Path | None:
    """The picture whose moving part a clip is, by their names."""
    others = (other for other in in_order(clip.parent) if other.suffix.lower() in STILL_SUFFIXES)
    return next((other for other in others if is_film_of(clip, other)), None)


def _below(folder: Path, depth: int) -> Iterator[Path]:
    for entry in in_order(folder):
        if entry.is_symlink():
            continue  # it may lead anywhere, or round in a circle
        if entry.is_dir():
            if depth and entry.name not in NOT_FILMS:
                yield from _below(entry, depth - 1)
        elif entry.is_file():
            yield entry
