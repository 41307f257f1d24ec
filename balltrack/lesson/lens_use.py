"""A kept calibration put into a lesson whose clips do not say which phone filmed them."""

from pathlib import Path

from balltrack.errors import LessonError
from balltrack.lesson.edit import with_values
from balltrack.lesson.folder import find_clips
from balltrack.lesson.lens_mode import mode_of
from balltrack.lesson.lens_store import KeptLens, kept_lenses, lens_toml
from balltrack.video.clip import probe

LENS_FILE = "lens.toml"


def use_lens(name: str, folder: Path) -> str:
    """Write lens.toml into a lesson and name it in lesson.toml, where there is one; what was done, in words.

    Raises
    ------
    LessonError
        If no such calibration is kept, the clips were filmed in another mode, or lens.toml is there already.
    VideoError
        If the first clip cannot be read.
    """
    kept = _find(name)
    clips, _ = find_clips(folder, {})
    info = probe(clips[0].path)
    mode = mode_of(info)
    if mode.size_px != tuple(kept.table.size_px) or mode.frames_per_s != kept.table.frames_per_s:
        width, height = kept.table.size_px
        raise LessonError(
            f"{kept.name} holds for {width} x {height} at {kept.table.frames_per_s} frames/s, but {clips[0].name} is "
            f"{mode.words}; film the board in that mode"
        )
    file, lesson_toml = folder / LENS_FILE, folder / "lesson.toml"
    if file.exists():
        raise LessonError(f"{file} is there already; delete it first, if it is no longer wanted")
    entries = {"lens": LENS_FILE, "horizontal_fov_deg": None, "horizontal_fov_sd_pct": None}
    try:
        before = lesson_toml.read_bytes().decode("utf-8-sig") if lesson_toml.exists() else None
        after = None if before is None else with_values(before, ("camera",), entries)
        file.write_text(lens_toml(kept, info.orientation), encoding="utf-8")
        if after is not None:
            lesson_toml.write_bytes(after.encode())
    except (OSError, UnicodeDecodeError) as error:
        raise LessonError(f"{folder}: its lens cannot be written: {error}") from None
    named = f" and is named in {lesson_toml}" if after is not None else f'; give lens = "{LENS_FILE}" under [camera]'
    return f"{file} holds {kept.words}{named}"


def _find(name: str) -> KeptLens:
    kept = {each.name: each for each in kept_lenses()}
    if name not in kept:
        known = f"known: {', '.join(kept)}" if kept else "none is kept yet: balltrack lens film makes one"
        raise LessonError(f"no calibration named {name}; {known}")
    return kept[name]
