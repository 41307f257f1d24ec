"""What a lesson's own results teach: where the ball was, and was not, in frames of its clips."""

import csv
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from balltrack.errors import RecordError
from balltrack.lesson import Clip, load_lesson
from balltrack.records.hand import hand_path, read_hand
from balltrack.records.refit import HAND, MOVED, TAKEN_OUT
from balltrack.records.store import read_swings, track_path
from balltrack.records.swing import Swing, swing_id
from balltrack.units import Floats
from balltrack.video.clip import ClipInfo, probe

SAME_FRAME = 0.25  # of the time from frame to frame: what differs by less is about the same frame
NEIGHBOUR_FRAMES = 3.5  # a ball's motion is told by its places at most so many frames off
MEASURE_AGAIN = "measure the lesson again: balltrack measure"


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """What is known of one frame."""

    time_s: float  # the frame's own clip time
    centre_px: Floats | None  # (2,) of the ball; None where a person saw none
    diameter_px: float  # NaN where there is none
    doubted_px: Floats | None = None  # (2,) where the program had seen a ball before a person said otherwise
    hand_line: int | None = None  # of the .hand.csv; None for what the program measured
    velocity_pxps: tuple[float, float] = (0.0, 0.0)  # 0 where no neighbour tells


@dataclass(frozen=True, slots=True, eq=False)
class TaughtSwing:
    """One swing and what is known of its frames, in order of time."""

    name: str  # my_lesson/01-tee/001#1
    info: ClipInfo
    hand: Path  # of its clip, there or not
    places: tuple[Place, ...]

    @property
    def frame_s(self) -> float:
        """Usual time from frame to frame, real seconds."""
        return 1 / (self.info.nominal_fps or 30.0)

    @property
    def positions(self) -> int:
        """In how many frames the ball's place is known."""
        return sum(place.centre_px is not None for place in self.places)


def taught_swings(folder: Path) -> list[TaughtSwing]:
    """All swings of a lesson of which something is known: used rows of measured ones, and what a person set.

    A person's word goes before the program's.

    Raises
    ------
    LessonError, VideoError, RecordError
        If the lesson, a clip of which something is known, its results or its corrections cannot be read.
    """
    lesson = load_lesson(folder)
    results = folder / "results"
    swings = read_swings(results / "swings.jsonl")
    readout_s = _readout_s(results / "camera.json") if swings else 0.0
    out = []
    for clip in lesson.clips:
        own = [swing for swing in swings if swing.clip == clip.name]
        out += _clip_swings(clip, own, results, f"{folder.resolve().name}/", readout_s)
    return out


def _clip_swings(
    clip: Clip, swings: Sequence[Swing], results: Path, prefix: str, readout_s: float
) -> list[TaughtSwing]:
    hand = results / hand_path(clip.name)
    rows = read_hand(hand)
    measured = {swing.swing for swing in swings if swing.outcome == "measured" and not swing.excluded}
    if not rows and not measured:
        return []
    info = probe(clip.path, clip.capture_fps)
    tracks = _used_rows(results / track_path(clip.name), measured, readout_s / info.size_px[1])
    by_swing: dict[str, list[Place]] = {name: list(places) for name, places in tracks.items()}
    for row in rows:
        if row.centre_px and not all(-0.5 <= at <= size for at, size in zip(row.centre_px, info.size_px, strict=True)):
            raise RecordError(
                f"{hand} line {row.line}: {row.centre_px[0]:g}, {row.centre_px[1]:g} is outside the picture of "
                f"{info.size_px[0]} x {info.size_px[1]}; count pixels from its top left corner"
            )
        centre = None if row.centre_px is None else np.array(row.centre_px)
        by_swing.setdefault(_swing_at(row.time_s, clip, swings), []).append(
            Place(row.time_s, centre, row.diameter_px, None, row.line)
        )
    taught = (TaughtSwing(prefix + name, info, hand, tuple(places)) for name, places in by_swing.items() if places)
    return [_in_motion(_settled(each), readout_s) for each in taught]


def _swing_at(time_s: float, clip: Clip, swings: Sequence[Swing]) -> str:
    """The swing of a clip whose contact is nearest in time; number 0, the clip itself, where none is known."""
    known = [(abs(swing.contact_s - time_s), swing.swing) for swing in swings if swing.contact_s is not None]
    return min(known)[1] if known else swing_id(clip.name, 0)


def _settled(swing: TaughtSwing) -> TaughtSwing:
    """One place a frame, a person's where there is one, in order of time."""
    by_hand = [place for place in swing.places if place.hand_line is not None]
    kept: list[Place] = []
    for place in (place for place in swing.places if place.hand_line is None):
        same = [k for k, said in enumerate(by_hand) if abs(said.time_s - place.time_s) < SAME_FRAME * swing.frame_s]
        if not same:
            kept.append(place)
        for k in same:
            by_hand[k] = replace(by_hand[k], doubted_px=place.centre_px)
    return replace(swing, places=tuple(sorted([*kept, *by_hand], key=lambda place: place.time_s)))


def _in_motion(swing: TaughtSwing, readout_s: float) -> TaughtSwing:
    """The ball's velocity in the picture at each place, from the places before and after it.

    A row's own time counts: lower rows are exposed later.
    """
    seen = [place for place in swing.places if place.centre_px is not None]
    centre = np.array([place.centre_px for place in seen]).reshape(-1, 2)
    time = np.array([place.time_s for place in seen]) + readout_s * centre[:, 1] / swing.info.size_px[1]
    reach_s = NEIGHBOUR_FRAMES * swing.frame_s
    moving: dict[float, tuple[float, float]] = {}
    for k, place in enumerate(seen):
        low = k - 1 if k and time[k] - time[k - 1] < reach_s else k
        high = k + 1 if k + 1 < len(seen) and time[k + 1] - time[k] < reach_s else k
        if high > low:
            u, v = ((centre[high] - centre[low]) / (time[high] - time[low])).tolist()
            moving[place.time_s] = (u, v)
    return replace(
        swing, places=tuple(replace(each, velocity_pxps=moving.get(each.time_s, (0.0, 0.0))) for each in swing.places)
    )


def _used_rows(path: Path, swings: set[str], line_s: float) -> dict[str, list[Place]]:
    """What the program found and used of a clip's track, by swing, or would have used but for a person's word.

    ``line_s`` is the time from one picture row to the next.
    """
    out: dict[str, list[Place]] = {name: [] for name in swings}
    if not swings:
        return out
    try:
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                told = row["used"] == "1" or row["reason"] in (MOVED, TAKEN_OUT)
                if row["swing"] in out and told and row["source"] != HAND and row["diameter_px"]:
                    centre = np.array([float(row["u_px"]), float(row["v_px"])])
                    time_s = float(row["time_s"]) - line_s * float(np.clip(centre[1], 0, None))
                    out[row["swing"]].append(Place(time_s, centre, float(row["diameter_px"])))
    except (OSError, ValueError, KeyError, csv.Error) as error:
        raise RecordError(f"{path} cannot be read ({error}); {MEASURE_AGAIN}") from None
    return out


def _readout_s(path: Path) -> float:
    try:
        readout_s = float(json.loads(path.read_text(encoding="utf-8"))["parameters"]["readout_s"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise RecordError(f"{path} cannot be read ({error}); {MEASURE_AGAIN}") from None
    if not math.isfinite(readout_s):
        raise RecordError(f"{path}: readout_s = {readout_s} is no time; {MEASURE_AGAIN}")
    return readout_s
