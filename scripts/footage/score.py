"""Lays a detector's finds in every frame of a clip beside the labels."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np

from balltrack.detect.network import LEAST_SCORE, Finds, neighbours
from balltrack.units import Floats
from balltrack.video.frames import read_frames
from balltrack.video.orientation import Bytes
from footage.clips import FootageClip
from footage.labels import Label

FAINT_SCORE = 0.05  # finds down to this are kept, to say what another least score would have given


class Finder(Protocol):
    """What is scored: ``balltrack.detect.network.Network``."""

    def find(self, before: Bytes, now: Bytes, after: Bytes, least_score: float) -> Finds:
        """Balls in the middle one of three whole luma planes."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Miss:
    """A ball in flight that was not found."""

    label: Label
    finds: Finds  # all of its frame, faint ones too
    crops: Bytes  # (3, s, s) luma before, now and after, round the label
    corner_px: tuple[int, int]  # u, v of the crops' top-left pixel


@dataclass(frozen=True, slots=True, eq=False)
class ClipScore:
    """How one clip went. All scores are of finds down to ``FAINT_SCORE``."""

    clip: FootageClip
    frames: int
    flight_scores: Floats  # (n,) of each labelled ball in flight: its surest find, 0 where there is none
    off_px: Floats  # (n,) how far that find's middle lies from the label, NaN where there is none
    double_scores: Floats  # further finds on the same ball
    false_scores: Floats  # finds where no ball is
    excused_scores: Floats  # finds on or beside a ball in the hand, at rest or hidden: neither right nor wrong
    misses: tuple[Miss, ...]  # at LEAST_SCORE

    @property
    def flights(self) -> int:
        """Frames with a labelled ball in flight."""
        return len(self.flight_scores)

    def found(self, least_score: float = LEAST_SCORE) -> int:
        """How many of those were found."""
        return int(np.sum(self.flight_scores > least_score))

    def false_per_frame(self, least_score: float = LEAST_SCORE) -> float:
        """False finds per frame of the clip."""
        return float(np.sum(self.false_scores > least_score)) / max(self.frames, 1)


@dataclass(slots=True)
class _Tally:
    """What gathers over a clip's frames."""

    flight: list[float]
    off_px: list[float]
    double: list[float]
    false: list[float]
    excused: list[float]


def score_clip(clip: FootageClip, path: Path, labels: Sequence[Label], finder: Finder) -> ClipScore:
    """Look for the ball in every frame of a clip, whole.

    Raises
    ------
    VideoError
        If the clip cannot be read.
    """
    times_s, lumas = [], []
    for frame in read_frames(path):
        times_s.append(frame.time_s)
        lumas.append(frame.luma)
    by_frame = {label.frame: label for label in labels}
    tally, misses = _Tally([], [], [], [], []), []
    for index, now in enumerate(lumas):
        first, last = neighbours(times_s, index)
        finds = finder.find(lumas[first], now, lumas[last], FAINT_SCORE)
        label = by_frame.get(index)
        seen = _judge(finds, label, tally)
        if label is not None and seen <= LEAST_SCORE:
            misses.append(Miss(label, finds, *_crops((lumas[first], now, lumas[last]), label)))
    return ClipScore(
        clip, len(lumas), np.array(tally.flight), np.array(tally.off_px), np.array(tally.double),
        np.array(tally.false), np.array(tally.excused), tuple(misses),
    )  # fmt: skip


def _judge(finds: Finds, label: Label | None, tally: _Tally) -> float:
    """Sort one frame's finds into ``tally``; the score of the ball's own find, 1 where no ball flies."""
    if label is None or np.isnan(label.u_px):
        tally.false.extend(finds.score)
        return 1.0
    off_px = np.hypot(*(finds.centre_px - label.centre_px).T)
    if label.state != "flight":
        near = off_px <= label.reach_px + label.diameter_px  # the hand moves too
        tally.excused.extend(finds.score[near])
        tally.false.extend(finds.score[~near])
        return 1.0
    on = off_px <= label.reach_px
    surest = int(np.argmax(np.where(on, finds.score, -1.0))) if on.any() else None
    seen = 0.0 if surest is None else float(finds.score[surest])
    tally.flight.append(seen)
    tally.off_px.append(np.nan if surest is None else float(off_px[surest]))
    tally.double.extend(finds.score[on & (np.arange(len(finds)) != surest)])
    tally.false.extend(finds.score[~on])
    return seen


def _crops(planes: tuple[Bytes, Bytes, Bytes], label: Label) -> tuple[Bytes, tuple[int, int]]:
    """Three squares round a label, three streaks wide; beyond the edge the picture goes on as it ends."""
    half = int(max(16.0, 1.5 * label.streak_px))
    u, v = round(label.u_px), round(label.v_px)
    padded = [np.pad(plane, half + 4, mode="edge") for plane in planes]  # 4: a middle may lie just outside
    height, width = planes[0].shape
    left, top = (min(max(at, -4), size + 3) + 4 for at, size in ((u, width), (v, height)))
    side = 2 * half + 1
    squares = [plane[top : top + side, left : left + side] for plane in padded]
    return np.stack(squares), (left - 4 - half, top - 4 - half)
