"""One swing as the frame viewer shows it: the frames around it, what was found in them, what a person put right."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from balltrack.batch import kept_result
from balltrack.camera.model import apparent_diameter_px, project_parameters
from balltrack.contact import CONTACT_M
from balltrack.desk.frames import Reel, reel_of
from balltrack.errors import RecordError
from balltrack.field import Ball
from balltrack.flight.evidence import Setting
from balltrack.flight.path import fly
from balltrack.lesson import Clip, Lesson, load_lesson
from balltrack.lesson.settings import as_measured
from balltrack.records.basis_file import MEASURE_AGAIN
from balltrack.records.corrections import Fix, corrections_version, read_corrections
from balltrack.records.hand import HandRow
from balltrack.records.refit import Basis, Flight, frame_times_s, with_hand_rows
from balltrack.track.search import AFTER_S
from balltrack.units import Floats

BEFORE_S, LATER_S = 0.6, 0.4  # shown before the swing, and after the last moment in which its ball is sought
READOUT_ROUNDS = 3  # row and time depend on each other; each round leaves a hundredth of the error
REACH_PX = 200.0  # the fitted path is drawn so far beyond the picture


@dataclass(frozen=True, slots=True, eq=False)
class OpenSwing:
    """A swing that can be looked at and put right."""

    clip: Clip
    ball: Ball
    setting: Setting
    basis: Basis
    fix: Fix
    flight: Flight | None
    version: str  # of the clip's corrections
    reel: Reel
    first: int  # of the clip's frames shown, the last one not included
    last: int

    @property
    def times_s(self) -> Floats:
        """(n,) of the frames shown."""
        return self.reel.times_s[self.first : self.last]


def open_swing(folder: Path, swing: str) -> OpenSwing:
    """Look a swing up by its id, which is never taken for a path.

    Raises
    ------
    RecordError
        If there is no such swing, or it was measured with other settings than the lesson's.
    VideoError
        If its clip cannot be read.
    """
    lesson, results = as_measured(load_lesson(folder)), folder / "results"
    for clip in lesson.clips:
        if swing.rpartition("#")[0] == f"{clip.block}/{Path(clip.name).stem}":
            return _opened(lesson, clip, results, swing)
    raise RecordError("there is no such swing; load the page anew")


def _opened(lesson: Lesson, clip: Clip, results: Path, swing: str) -> OpenSwing:
    version = corrections_version(results, clip.name)  # before what it is the version of
    result = kept_result(clip, lesson, results)
    ids = [] if result is None else [basis.label.swing for basis in result.bases]
    if result is None or swing not in ids:
        raise RecordError(
            f"{swing} cannot be looked through: the lesson was changed since, or its clip not measured; {MEASURE_AGAIN}"
        )
    which = ids.index(swing)
    basis = result.bases[which]
    fix = read_corrections(results, clip.name).fixes([each.seen_s for each in result.bases])[which]
    reel = reel_of(clip.path, clip.capture_fps)
    first, last = np.searchsorted(reel.times_s, [basis.seen_s - BEFORE_S, basis.seen_s + AFTER_S + LATER_S])
    setting = Setting(basis.camera, lesson.ball, lesson.air)
    flight = result.settled[which].flight
    return OpenSwing(clip, lesson.ball, setting, basis, fix, flight, version, reel, int(first), int(last))


def viewed(seen: OpenSwing) -> dict[str, Any]:
    """What the viewer's script needs; frames are counted from the first one shown."""
    contact_s = seen.fix.contact_s
    begins_s = seen.flight.fit.contact_s if seen.flight else seen.basis.seen_s
    return {
        "version": seen.version,
        "clip": seen.clip.name,
        "size": list(seen.reel.info.size_px),
        "times": [round(float(time_s), 6) for time_s in seen.times_s],
        "begins": _nearest(seen.times_s, begins_s),
        "contact": {"found": round(begins_s, 4), "hand": contact_s},
        "found": _found(seen),
        "hand": [_hand(seen, row) for row in seen.fix.rows],
        "path": _path(seen),
        "usual": _usual_px(seen),
        "added": seen.basis.added,
        "miss": seen.fix.miss,
        "excluded": seen.fix.excluded,
    }


def _nearest(times_s: Floats, time_s: float) -> int:
    return int(np.argmin(np.abs(times_s - time_s))) if len(times_s) else 0


def _found(seen: OpenSwing) -> list[dict[str, Any]]:
    """What the program found in each frame, and whether the flight is fitted to it."""
    track = with_hand_rows(seen.basis.track, seen.fix.rows, seen.basis.camera, seen.basis.frame_s)
    off = seen.flight.fit.outlier if seen.flight else np.zeros(len(track.time_s), dtype=bool)
    frames_s = frame_times_s(track, seen.basis.camera)
    rows = []
    for k in np.flatnonzero(np.isfinite(track.centre_px).all(axis=1)):
        rows.append(
            {
                "k": _nearest(seen.times_s, float(frames_s[k])),
                "u": round(float(track.centre_px[k, 0]), 2),
                "v": round(float(track.centre_px[k, 1]), 2),
                "d": round(float(np.nan_to_num(track.diameter_px[k], nan=_usual_px(seen))), 2),
                "used": bool(track.used[k] and not off[k]),
                "by": track.source[k],
                "why": "off the flight" if track.used[k] and off[k] else track.reason[k],
            }
        )
    return rows


def _hand(seen: OpenSwing, row: HandRow) -> dict[str, Any]:
    u, v = row.centre_px or (None, None)
    size = None if row.centre_px is None else row.diameter_px
    return {"k": _nearest(seen.times_s, row.time_s), "time": row.time_s, "u": u, "v": v, "d": size}


def _path(seen: OpenSwing) -> list[dict[str, float]]:
    """The fitted flight in each frame from contact on, as long as it is above the ground and near the picture."""
    if seen.flight is None:
        return []
    fit, camera = seen.flight.fit, seen.basis.camera
    width, height = camera.size_px
    frames = np.flatnonzero(seen.times_s >= fit.contact_s - seen.basis.frame_s / 2)
    frames_s = seen.times_s[frames] - fit.contact_s
    if not len(frames):
        return []
    flown = fly(fit.launch, seen.setting.medium, float(frames_s.max()) + camera.readout_s + 0.01, 0.0)
    rows_v = np.full(len(frames), height / 2.0)
    for _ in range(READOUT_ROUNDS):
        since_s = np.maximum(frames_s + camera.readout_s * np.clip(np.nan_to_num(rows_v), 0, height) / height, 0.0)
        places = flown.at(since_s[None])[0]
        pixels = project_parameters(places, fit.camera_parameters)
        rows_v = pixels[:, 1]
    sizes = apparent_diameter_px(places, fit.camera_parameters, seen.ball.diameter_m)
    found = []
    for k, (u, v), d, height_m in zip(frames.tolist(), pixels.tolist(), sizes.tolist(), places[:, 2], strict=True):
        near = -REACH_PX <= u <= width + REACH_PX and -REACH_PX <= v <= height + REACH_PX  # NaN is not
        if not near or height_m < 0:
            break
        found.append({"k": k, "u": round(u, 2), "v": round(v, 2), "d": round(d, 2)})
    return found


def _usual_px(seen: OpenSwing) -> float:
    """How wide the ball looks at the usual contact point: the first guess where nothing else tells."""
    width = apparent_diameter_px(CONTACT_M[None], seen.basis.camera.parameters, seen.ball.diameter_m)[0]
    return round(float(width), 2) if np.isfinite(width) else 12.0
