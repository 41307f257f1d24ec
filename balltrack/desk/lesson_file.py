"""lesson.toml as the desk page changes it: one change at a time, none on top of what was not seen."""

import contextlib
import os
import re
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from balltrack.desk.guard import inside
from balltrack.errors import EditConflict, LessonError
from balltrack.lesson.checks import Problems, check_together
from balltrack.lesson.edit import MARKS, EditedMark, Section, values_of, version, with_marks, with_values
from balltrack.lesson.lesson_toml import LessonTable, TomlFile
from balltrack.lesson.load import Lesson, lesson_of
from balltrack.records.atomic import write_atomic

NAME = "lesson.toml"
# What a lesson is taken for until a person says more; lesson.toml gets them only when the form is saved.
DEFAULTS: dict[str, dict[str, str | int]] = {
    "player": {"name": "Player", "bats": "right"},
    "ball": {"kind": "softball-12"},
    "field": {"base_path_ft": 65},  # adult slow pitch
}
_PLACEHOLDER = (EditedMark("plate_tip", None, (0.0, 0.0)),)  # lesson.toml without marks is no lesson yet
_WHERE = re.compile(r"^lesson\.toml( line \d+)?: ")
_lock = threading.Lock()


class WrongEntries(LessonError):
    """Entries that lesson.toml may not have, one a line, each beginning with its name: ``player.name = ...``."""


class LessonFile:
    """The lesson.toml of a folder. It may be missing, or not say all that a lesson needs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def text(self) -> str:
        """What it says now; empty where it is missing. Raises LessonError where it cannot be read."""
        path = inside(self.folder, NAME)
        if not path.exists():
            return ""
        return TomlFile(path).data.decode("utf-8-sig")

    def change(self, seen: Mapping[Section, str], edit: Callable[[str], str]) -> str:
        """Read it, change it, check it and write it whole, while nobody else does; give its new text.

        Parameters
        ----------
        seen : mapping
            The version of each section that is changed, as it was when the person read it.
        edit : callable
            From the text now to the text wanted.

        Raises
        ------
        EditConflict
            If one of the sections has another version by now. Nothing is written.
        WrongEntries
            If one of the sections would hold what is not allowed. Nothing is written.
        """
        with _alone(self.folder):
            before = self.text()
            changed = [name for name, known in seen.items() if version(before, name) != known]
            if changed:
                raise EditConflict(
                    f"{_names(changed)} was changed elsewhere since this page was opened; nothing was overwritten: "
                    "load the page anew and change it again"
                )
            after = edit(before)
            heads = {".".join(name) for name in seen}
            wrong = [line for line in problems_of(self.folder, after) if _concerns(line, heads)]
            if wrong:
                raise WrongEntries("\n".join(wrong))
            if after != before:
                write_atomic(inside(self.folder, NAME), after)
            return after


def problems_of(folder: Path, text: str) -> list[str]:
    """What is wrong with a text, in the words of measuring, one line an entry that begins with its name.

    That a table is missing altogether is no problem yet.
    """
    file = TomlFile(folder / NAME, completed(text).encode())
    try:
        table = file.parse(LessonTable)
        problems = Problems(file)
        check_together(table, problems)
        problems.raise_any()
    except LessonError as error:
        return [_WHERE.sub("", line) for line in str(error).splitlines()]
    return []


def draft(folder: Path, text: str, marks: Sequence[EditedMark], size_px: tuple[int, int]) -> Lesson:
    """The lesson by a text and by marks that are not saved yet, without its clips.

    Raises
    ------
    LessonError
        If an entry or a mark is wrong.
    """
    whole = completed(with_marks(text, marks or _PLACEHOLDER, size_px))
    return lesson_of(folder, TomlFile(folder / NAME, whole.encode()), filmed=False)


def completed(text: str) -> str:
    """The text with what a lesson needs and nobody has said yet."""
    values = values_of(text)
    for name, entries in DEFAULTS.items():
        if name not in values:
            text = with_values(text, (name,), entries)
    camera = values.get("camera", {})
    if isinstance(camera, dict) and "marks" not in camera:
        text = with_marks(text, _PLACEHOLDER, tuple(camera.get("image_size_px", (1920, 1080))))
    return text


def versions(text: str, sections: Sequence[Section]) -> dict[Section, str]:
    """The version of each section, to be sent back with a change."""
    return {section: version(text, section) for section in sections}


def _concerns(line: str, heads: set[str]) -> bool:
    return any(line.startswith((f"{head}.", f"{head}[", f"{head} ")) for head in heads)


def _names(sections: Sequence[Section]) -> str:
    return " and ".join("the marks" if each == MARKS else f"[{'.'.join(each)}]" for each in sections)


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """No other thread, and where the system can no other program, changes this folder's lesson.toml meanwhile."""
    with _lock:
        try:
            import fcntl
        except ImportError:  # Windows: one desk page a lesson
            yield
            return
        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)
