"""The clips of a lesson folder as a person should know them before measuring, and new ones coming in."""

import shutil
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from balltrack.desk.blur import NOT_MEASURED, Shutter, shutters_of
from balltrack.desk.guard import inside
from balltrack.errors import LessonError, VideoError
from balltrack.lesson.folder import CLIP_SUFFIXES
from balltrack.video.clip import ClipInfo, probe

CLIPS = "clips"
MOST_CLIP_BYTES = 8_000_000_000  # an hour of 1080p at 60 frames/s
LEFT_FREE_BYTES = 500_000_000  # of the disk
SLOW_FPS = 45.0  # below: fewer frames of the ball, and more blur in each
SMALL_WIDTH_PX = 1280
MOST_NAME_LETTERS = 100
UNSAFE = set('/\\:*?"<>|')  # letters that one system or another does not take in a name


@dataclass(frozen=True, slots=True)
class ClipRow:
    """One clip, ready to show. Where it cannot be read, ``trouble`` says why and the rest is empty."""

    name: str
    length: str
    rate: str
    picture: str
    size: str
    shutter: str = ""
    warnings: tuple[str, ...] = ()
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class ClipBlock:
    """One folder below clips/."""

    name: str
    rows: tuple[ClipRow, ...]


def blocks_of(folder: Path) -> tuple[ClipBlock, ...]:
    """The folders below clips/ in order, each with its clips. A link out of the lesson folder is left out."""
    names = [path.name for path in _entries(folder, CLIPS) if path.is_dir()]
    found = {name: [path for path in _entries(folder, CLIPS, name) if _is_clip(path)] for name in names}
    usual = _usual_size([path for paths in found.values() for path in paths])
    named = {path: f"{CLIPS}/{name}/{path.name}" for name, paths in found.items() for path in paths}
    shutters = shutters_of(folder, tuple(named.values()))
    return tuple(
        ClipBlock(name, tuple(_row(path, usual, shutters[named[path]]) for path in paths))
        for name, paths in found.items()
    )


def loose_clips(folder: Path) -> tuple[Path, ...]:
    """Clips that lie in the lesson folder or in clips/ itself, and so belong to no block yet."""
    return tuple(path for where in ((), (CLIPS,)) for path in _entries(folder, *where) if _is_clip(path))


def first_clip(folder: Path) -> ClipInfo:
    """What is known of the first clip that can be read: the one on which the field is marked.

    Raises
    ------
    LessonError
        If there is none.
    """
    in_blocks = [
        path for block in _entries(folder, CLIPS) if block.is_dir() for path in _entries(folder, CLIPS, block.name)
    ]
    for path in [*in_blocks, *loose_clips(folder)]:
        if _is_clip(path) and isinstance(info := _looked_at(path), ClipInfo):
            return info
    raise LessonError("no clip can be read yet; drop the lesson's clips into Set up first")


def adopt(folder: Path, block: str) -> int:
    """Move the loose clips into a block; how many. Raises LessonError where names clash; then none is moved."""
    target = inside(folder, CLIPS, checked_name(block))
    loose = loose_clips(folder)
    names = [path.name for path in loose]
    clash = next((name for name in names if names.count(name) > 1 or (target / name).exists()), None)
    if clash:
        raise LessonError(f"{clash} is there twice; rename one of them")
    target.mkdir(parents=True, exist_ok=True)
    for path in loose:
        path.rename(target / path.name)
    return len(loose)


async def receive(folder: Path, block: str, name: str, parts: AsyncIterator[bytes], told_bytes: int) -> ClipRow:
    """Take in a clip as it is sent. It gets its name only when it is whole and can be read.

    Parameters
    ----------
    folder : Path
    block, name : str
        It becomes clips/block/name.
    parts : async iterator of bytes
    told_bytes : int
        How long it is said to be.

    Raises
    ------
    LessonError
        Not a clip's name, one of that name is there, too large, the disk full, or cut off.
    VideoError
        Not a video.
    """
    target = inside(folder, CLIPS, checked_name(block), checked_name(name))
    _check_new(target, told_bytes)
    target.parent.mkdir(parents=True, exist_ok=True)
    _check_room(target.parent, told_bytes)
    partial = target.with_name(f".{target.stem}.part{target.suffix}")
    try:
        with partial.open("xb") as file:
            got_bytes = 0
            async for part in parts:
                got_bytes += len(part)
                if got_bytes > told_bytes:
                    raise LessonError(f"{name} is longer than was said; send it again")
                file.write(part)
        if got_bytes != told_bytes:
            raise LessonError(f"{name} came only in part ({got_bytes} of {told_bytes} bytes); send it again")
        _probe_named(partial, name)
        if target.exists():
            raise LessonError(f"{name} is in {block} already; rename it")
        partial.rename(target)
    except FileExistsError:
        raise LessonError(f"{name} is being sent already; wait for it, or remove {partial.name}") from None
    except BaseException:
        partial.unlink(missing_ok=True)
        raise
    return _row(target, None, NOT_MEASURED)


def checked_name(name: str) -> str:
    """A name for a file or a block's folder. Raises LessonError where it is none."""
    if not name or name != name.strip() or name.startswith(".") or len(name) > MOST_NAME_LETTERS:
        raise LessonError(f"{name!r} is no name for a file here; give 1 to {MOST_NAME_LETTERS} letters, no dot first")
    if UNSAFE & set(name) or any(ord(letter) < 32 for letter in name) or name.endswith("."):
        raise LessonError(f"{name!r} holds a letter that not every computer takes in a name; rename it")
    return name


def _check_new(target: Path, told_bytes: int) -> None:
    if target.suffix.lower() not in CLIP_SUFFIXES:
        raise LessonError(f"{target.name} is not a clip ({', '.join(sorted(CLIP_SUFFIXES))})")
    if target.stem.endswith(".hand"):
        raise LessonError(f"{target.name}: give it a name without .hand, which corrections end in")
    if not 0 < told_bytes <= MOST_CLIP_BYTES:
        raise LessonError(
            f"{target.name} has {told_bytes / 1e9:.1f} GB; a clip may have up to {MOST_CLIP_BYTES / 1e9:.0f} GB. "
            "Copy it into the folder by hand"
        )
    if any(path.stem == target.stem for path in target.parent.glob("*") if _is_clip(path)):
        raise LessonError(f"{target.name} is in {target.parent.name} already; rename it")


def _check_room(where: Path, told_bytes: int) -> None:
    free_bytes = shutil.disk_usage(where).free
    if free_bytes < told_bytes + LEFT_FREE_BYTES:
        raise LessonError(f"only {free_bytes / 1e9:.1f} GB are free on this disk; make room first")


def _probe_named(path: Path, name: str) -> None:
    try:
        probe(path)
    except VideoError as error:
        raise VideoError(str(error).replace(path.name, name)) from None


def _entries(folder: Path, *parts: str) -> list[Path]:
    """What lies in a folder below the lesson's, as a person counts; nothing that leads out of it."""
    from balltrack.lesson.folder import in_order

    root = folder.joinpath(*parts)
    home = folder.resolve()
    if not root.is_dir() or not root.resolve().is_relative_to(home):
        return []
    return [path for path in in_order(root) if path.resolve().is_relative_to(home)]


def _is_clip(path: Path) -> bool:
    return path.suffix.lower() in CLIP_SUFFIXES and path.is_file()


def _looked_at(path: Path) -> ClipInfo | str:
    try:
        stat = path.stat()
    except OSError as error:
        return f"cannot be read: {error.strerror or error}"
    return _probed(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=4096)
def _probed(path: Path, _changed_ns: int, _size: int) -> ClipInfo | str:
    """What `probe` says, or why it says nothing; kept as long as the file is the same."""
    try:
        return probe(path)
    except VideoError as error:
        return str(error).removeprefix(f"{path}: ").removeprefix(f"{path.name}: ")


def _usual_size(paths: Sequence[Path]) -> tuple[int, int] | None:
    return next((info.size_px for path in paths if isinstance(info := _looked_at(path), ClipInfo)), None)


def _row(path: Path, usual_px: tuple[int, int] | None, shutter: Shutter) -> ClipRow:
    info = _looked_at(path)
    size = f"{path.stat().st_size / 1e6:.1f} MB" if path.exists() else ""
    if isinstance(info, str):
        return ClipRow(path.name, "", "", "", size, trouble=info)
    width, height = info.size_px
    return ClipRow(
        path.name,
        _length(info.duration_s),
        f"{info.nominal_fps:.0f} frames/s" + (" (slow motion)" if info.time_scale < 1 else ""),
        f"{width} × {height}",
        size,
        shutter.words,
        (*info.warnings, *_advice(info, usual_px), *([shutter.warning] if shutter.warning else [])),
    )


def _length(seconds: float) -> str:
    if not seconds:
        return "length not told"
    return f"{seconds:.1f} s" if seconds < 60 else f"{int(seconds // 60)} min {seconds % 60:.0f} s"


def _advice(info: ClipInfo, usual_px: tuple[int, int] | None) -> list[str]:
    words: list[str] = []
    if 0 < info.nominal_fps < SLOW_FPS:
        words.append(f"{info.nominal_fps:.0f} frames a second: 60 or more show the ball more often and sharper")
    if max(info.size_px) < SMALL_WIDTH_PX:
        words.append("a small picture: film in 1080p or more, the ball is only a few pixels wide")
    if not info.has_sound:
        words.append("no sound: the moment of contact is told from the picture alone")
    if usual_px is not None and info.size_px != usual_px:
        words.append(
            f"its picture is not {usual_px[0]} × {usual_px[1]} as the first clip's: it cannot share that clip's marks"
        )
    return words
