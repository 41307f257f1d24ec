"""One clip a swing in the lesson folder: what is there already stays, and nothing is cut twice."""

import contextlib
import hashlib
import os
import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from balltrack.errors import RecordError, VideoError
from balltrack.lesson.folder import CLIP_SUFFIXES, in_order
from balltrack.recording.contacts import APART_S, Contact
from balltrack.track.search import AFTER_S
from balltrack.video.cut import Cut, Cutter, note_of

LEAD_S = 2.0  # before contact: a slow pitch takes 1.1 to 1.6 s to the plate (12 ft arc over 50 ft: 1.63 s, closed form)
TAIL_S = AFTER_S + 0.2  # after it: as long as measuring seeks the ball
# Two swings close together share the time between them: none shows in both clips, for it would be measured twice.
LEFT_TO_LAST_S, LEFT_TO_NEXT_S = 0.5, 0.6
_NOTE = re.compile(r"^cut by balltrack from ([0-9a-f]{16}) at ([0-9]+\.[0-9]+) s$")
_READ_BYTES = 1_000_000
_NUMBERED = re.compile(r"^(\d+)")


@dataclass(frozen=True, slots=True)
class KnownCut:
    """A clip in the lesson folder that was cut from a recording, by its contact in clip time of that."""

    path: Path
    contact_s: float


def identity(recording: Path) -> str:
    """Tells a recording from others whatever it is called, by its size and parts of its bytes: 16 hex digits."""
    size = recording.stat().st_size
    digest = hashlib.sha256(str(size).encode())
    with recording.open("rb") as file:
        for at in (0, max(size // 2 - _READ_BYTES // 2, 0), max(size - _READ_BYTES, 0)):
            file.seek(at)
            digest.update(file.read(_READ_BYTES))
    return digest.hexdigest()[:16]


def known_cuts(folder: Path, recording: str) -> list[KnownCut]:
    """The clips that were cut before from the recording of that identity, wherever in clips/ they lie now."""
    root = folder / "clips"
    cuts = []
    for block in in_order(root) if root.is_dir() else []:
        for path in in_order(block) if block.is_dir() else []:
            if path.suffix.lower() in CLIP_SUFFIXES and (told := _NOTE.match(_note(path))) and told[1] == recording:
                cuts.append(KnownCut(path, float(told[2])))
    return cuts


def known(contact: Contact, cuts: Sequence[KnownCut]) -> KnownCut | None:
    """The clip of a swing that was cut before."""
    near = [cut for cut in cuts if abs(cut.contact_s - contact.time_s) < APART_S / 2]
    return min(near, key=lambda cut: abs(cut.contact_s - contact.time_s), default=None)


def windows(contacts: Sequence[Contact], begin_s: float, end_s: float) -> list[tuple[float, float]]:
    """From when to when each swing is cut: LEAD_S and TAIL_S around it, less where another is close."""
    times = [-1e9, *(contact.time_s for contact in contacts), 1e9]
    cut = []
    for last, time, following in zip(times, times[1:], times[2:], strict=False):
        start_s = max(time - LEAD_S, last + min(LEFT_TO_LAST_S, (time - last) / 2), begin_s)
        stop_s = min(time + TAIL_S, following - min(LEFT_TO_NEXT_S, (following - time) / 2), end_s)
        cut.append((start_s, stop_s))
    return cut


@dataclass(frozen=True, slots=True)
class Source:
    """The opened recording from which swings are cut."""

    cutter: Cutter
    suffix: str  # of the recording's own name
    identity: str


def cut_swing(source: Source, contact: Contact, window_s: tuple[float, float], block: Path) -> Path:
    """Cut one swing into the next free number of a block's folder.

    Raises
    ------
    VideoError
        If it can be copied into no container.
    RecordError
        If the folder cannot be written.
    """
    note = f"cut by balltrack from {source.identity} at {contact.time_s:.3f} s"
    cut = Cut(*window_s, note)
    try:
        block.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".cut-", dir=block) as hidden:
            return _placed(_copied(source, cut, Path(hidden)), block)
    except OSError as error:
        raise RecordError(f"{block} cannot be written: {error.strerror or error}; free or unlock the folder") from None


def _copied(source: Source, cut: Cut, folder: Path) -> Path:
    """In the recording's own container, if it has edit lists, else in the next that will do."""
    own = ".mov" if source.suffix.lower() == ".mov" else ".mp4"
    trouble: VideoError | None = None
    for suffix in dict.fromkeys((own, ".mp4", ".mov", ".mkv")):
        made = folder / f"clip{suffix}"
        try:
            source.cutter.cut(cut, made)
        except VideoError as error:
            trouble = trouble or error
        else:
            return made
    raise trouble or VideoError("no container is known")


def _placed(made: Path, block: Path) -> Path:
    """Give a finished file the next free number. It appears whole, and over nothing that is there."""
    for number in _free_numbers(block):
        path = block / f"{number:03d}{made.suffix}"
        try:
            os.link(made, path)
        except FileExistsError:
            continue
        except OSError:  # a file system without links
            if path.exists():
                continue
            made.replace(path)
        return path
    raise AssertionError("numbers do not end")


def _free_numbers(block: Path) -> Iterator[int]:
    taken = [int(told[1]) for path in block.iterdir() if (told := _NUMBERED.match(path.name))]
    number = max(taken, default=0)
    while True:
        number += 1
        yield number


def free_block_numbers(folder: Path) -> Iterator[int]:
    """Numbers for new blocks, after those that are there."""
    root = folder / "clips"
    return _free_numbers(root) if root.is_dir() else iter(range(1, 1_000_000))


def _note(path: Path) -> str:
    with contextlib.suppress(VideoError):
        return note_of(path)
    return ""
