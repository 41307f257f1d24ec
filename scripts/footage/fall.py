"""Follows a thrown or dropped ball through a real clip with the package's own sub-pixel search; no camera is needed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from balltrack.detect.background import Background, median_background
from balltrack.detect.motion import SizeLimits, find_candidates
from balltrack.track.centre import BallImage, Expected, find_ball
from balltrack.units import Floats
from balltrack.video.frames import Frame, read_frames

FIELD_FRAMES = 25  # of the whole clip, for the picture without the ball
MEMORY = 6  # frames that foretell the next
SEARCH_PX, SEARCH_SHARE = 4.0, 0.25  # how far off the ball may be: at least, and of its step from frame to frame
OPEN_SHARE = 0.5  # of the time between frames that the shutter stays open, until streaks tell
AGAIN_WIDTHS, AGAIN_STEPS = 2.0, 2.0  # how far about a lost ball is looked for: in its widths and in its steps
MOST_TRIED = 4
ALIKE = 1.6  # what is so many times wider or narrower is another thing


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """The ball in the frames in which it was found."""

    time_s: Floats  # (n,) as the file says them
    centre_px: Floats  # (n, 2)
    diameter_px: Floats  # (n,)

    def only(self, rows: NDArray[np.intp]) -> "Seen":
        """Those rows."""
        return Seen(self.time_s[rows], self.centre_px[rows], self.diameter_px[rows])


@dataclass(frozen=True, slots=True)
class Start:
    """Where a person points at the ball, in two frames one after the other, and how far it is then followed."""

    frame: int  # the first of them
    places_px: tuple[tuple[float, float], tuple[float, float]]
    width_px: float
    step: int = 1  # 2: every other frame is looked at
    stop_frame: int | None = None  # None: to the clip's end


def follow_fall(path: Path, start: Start) -> Seen:
    """Find the ball in the frames from ``start`` on, through bounces.

    Raises
    ------
    VideoError
        If the clip cannot be read.
    """
    frames = list(read_frames(path))
    spread = np.linspace(0, len(frames) - 1, FIELD_FRAMES).round().astype(int).tolist()
    background = median_background([frames[k] for k in spread])
    follower = _Follower(background, start)
    for frame in frames[start.frame : start.stop_frame : start.step]:
        follower.add(frame)
    return _seen(follower.found)


class _Follower:
    """The ball so far. Give it each frame once, in order."""

    def __init__(self, background: Background, start: Start) -> None:
        self.found: list[tuple[float, BallImage]] = []
        self._background = background
        self._width_px = start.width_px
        self._pointed = [np.array(place) for place in start.places_px]
        self._recent: list[tuple[float, Floats]] = []  # since the ball was last lost
        self._times_s: list[float] = []
        self._open_s: list[float] = []  # what each streak tells of the shutter

    def add(self, frame: Frame) -> None:
        """Look for the ball in the next frame."""
        self._times_s.append(frame.time_s)
        if self._pointed:
            self._recent.append((frame.time_s, self._pointed.pop(0)))
            return
        gap_s = self._times_s[-1] - self._times_s[-2]
        place, velocity = self._foretold(frame.time_s)
        speed = float(np.linalg.norm(velocity))
        open_s = float(np.median(self._open_s[-20:])) if self._open_s else OPEN_SHARE * gap_s
        near = Expected(place, self._width_px, velocity * open_s, SEARCH_PX + SEARCH_SHARE * speed * gap_s)
        image = self._find(frame, near)
        if image is None:
            since_s = frame.time_s - self._recent[-1][0]
            image = self._find_about(frame, near, AGAIN_WIDTHS * self._width_px + AGAIN_STEPS * speed * since_s)
            self._recent = self._recent[-1:] if image else self._recent
        if image is not None:
            self._keep(frame.time_s, image, speed)

    def _keep(self, time_s: float, image: BallImage, speed_pxps: float) -> None:
        self.found.append((time_s, image))
        self._recent = [*self._recent, (time_s, image.centre_px)][-MEMORY:]
        self._width_px += 0.1 * (image.diameter_px - self._width_px)
        if len(self._recent) == MEMORY and speed_pxps > 0:
            self._open_s.append(image.streak_px / speed_pxps)

    def _foretold(self, time_s: float) -> tuple[Floats, Floats]:
        """Place and velocity as the last few frames have them."""
        times = np.array([when for when, _ in self._recent]) - time_s
        places = np.array([where for _, where in self._recent])
        terms = np.stack([np.ones_like(times), times, times**2], axis=1)[:, : 2 if len(times) < 4 else 3]
        answer = np.linalg.lstsq(terms, places, rcond=None)[0]
        return np.asarray(answer[0]), np.asarray(answer[1])

    def _find(self, frame: Frame, expected: Expected) -> BallImage | None:
        image = find_ball(frame, self._background, expected)
        return image if image is not None and not image.reason else None

    def _find_about(self, frame: Frame, near: Expected, reach_px: float) -> BallImage | None:
        """The ball among all that moves near where it was last seen, as after a bounce."""
        limits = SizeLimits(ALIKE * self._width_px, ALIKE * self._width_px + 2 * float(np.linalg.norm(near.streak_px)))
        moving = find_candidates(frame, self._background, limits)
        away = np.linalg.norm(moving.centre_px - self._recent[-1][1], axis=1)
        alike = np.abs(np.log(moving.width_px / self._width_px)) < np.log(ALIKE)
        for k in np.flatnonzero(alike & (away < reach_px))[:MOST_TRIED].tolist():
            image = self._find(frame, replace(near, centre_px=moving.centre_px[k], search_px=SEARCH_PX))
            if image is not None:
                return image
        return None


def _seen(found: Sequence[tuple[float, BallImage]]) -> Seen:
    images = [image for _, image in found]
    return Seen(
        np.array([time_s for time_s, _ in found]),
        np.array([image.centre_px for image in images]).reshape(-1, 2),
        np.array([image.diameter_px for image in images]),
    )
