"""What became of one clip: what a worker does with it, wherever that worker runs, and what is said where it fails."""

import gc
import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from balltrack.batch.limits import one_clip, out_of_memory
from balltrack.errors import CameraMoved, ClipPassing, MeasureError
from balltrack.lesson import Clip
from balltrack.measure import ClipResult
from balltrack.memory import give_back
from balltrack.records.atomic import write_atomic
from balltrack.records.hand import remove

MOST_TRIES = 2  # a clip on which so many processes have died is given up
DIED = "the program died on this clip (damaged file, or no memory left)"
NO_MEMORY = "there is not memory enough for this clip; close other programs, or measure fewer at a time with --workers"


@dataclass(frozen=True, slots=True)
class ClipDone:
    """What became of one clip: its result, or why there is none."""

    clip: Clip
    result: ClipResult | None
    problem: str  # one line; empty where there is a result
    picture_jpeg: bytes = b""  # of the problem, where one shows it
    content: str = ""  # `content_hash` of the file that was measured; empty where to measure it again may end otherwise


MeasureClip = Callable[[Clip], ClipResult]
# Clips, what to do with each, and how many at the same time; each clip is yielded exactly once, in any order.
RunClips = Callable[[Sequence[Clip], MeasureClip, int], Iterator[ClipDone]]


def measured_or_not(clip: Clip, measure: MeasureClip) -> ClipDone:
    """Measure one clip, inside a worker. Never raises: what goes wrong in one clip must not take the others with it."""
    content = content_hash(clip.path)  # before measuring: of a file replaced meanwhile, the next run sees that it was
    try:
        with one_clip(clip.path):
            result = measure(clip)
        return ClipDone(clip, result, "", content=content)
    except CameraMoved as error:
        return ClipDone(clip, None, one_line(error, clip), error.picture_jpeg, content)
    except ClipPassing as error:
        return ClipDone(clip, None, one_line(error, clip))
    except MeasureError as error:
        return ClipDone(clip, None, one_line(error, clip), content=content)
    except Exception as error:
        if out_of_memory(error):
            return ClipDone(clip, None, NO_MEMORY)
        what = " ".join(f"{type(error).__name__}: {error}".split())
        return ClipDone(clip, None, f"a fault of this program, not of the clip; please report it: {what}")
    finally:
        gc.collect()  # errors and what raised them hold each other, and hundreds of MB of frames, until it comes by
        give_back()


def given_up(clip: Clip) -> ClipDone:
    """What is said of a clip on which `MOST_TRIES` processes died."""
    return ClipDone(clip, None, DIED)


def content_hash(path: Path) -> str:
    """SHA-256 of a file; empty where it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def keep_picture(done: ClipDone, results: Path) -> ClipDone:
    """Keep the picture of a clip's problem or doubt, and say where it lies; an earlier run's is taken away.

    Raises RecordError where the results cannot be written.
    """
    _keep_at(results / picture_path("unmatched", done.clip.name), done.result.apart_jpeg if done.result else b"")
    place = picture_path("moved", done.clip.name)
    _keep_at(results / place, done.picture_jpeg)
    if not done.picture_jpeg:
        return done
    return replace(done, problem=f"{done.problem}; results/{place.as_posix()} shows it", picture_jpeg=b"")


def picture_path(kind: str, clip: str) -> Path:
    """``clips/01-tee/001.mp4`` -> ``review/moved/01-tee/001.jpg``, inside the results folder."""
    return Path("review", kind, *Path(clip).with_suffix(".jpg").parts[1:])


def one_line(error: MeasureError, clip: Clip) -> str:
    """The error without the clip's path, which stands beside it anyway."""
    words = " ".join(str(error).split())
    for name in (str(clip.path), clip.name, clip.path.name):
        words = words.removeprefix(f"{name}: ").removeprefix(f"{name} ")
    return words


def _keep_at(path: Path, jpeg: bytes) -> None:
    if jpeg:
        write_atomic(path, jpeg)
    else:
        remove(path)
