"""Follow a linked pitch through its frames, pixel by pixel."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from balltrack.detect.background import Background
from balltrack.track.arcs import View, sight, sight_and_spread
from balltrack.track.ball import NO_TRACK, BallTrack
from balltrack.track.centre import BallImage, Expected, find_ball
from balltrack.track.follow import (
    EXPOSURE_S,
    FIRST_EXPOSURE_S,
    MOTION,
    SIZED_MATCH,
    SLACK_PX,
    SLACK_WIDTHS,
    SMALLEST_PX,
    SMALLEST_SIZED_PX,
    WHOLE,
)
from balltrack.track.pitch_link import NEAR_END_S, Incoming
from balltrack.units import Floats
from balltrack.video.frames import Frame

MOST_FRAMES = 11  # spread over the pitch: more tell little, for what pulls at them pulls at their neighbours too
EARLIER_S = 0.1  # before the first candidate the ball may still be there, but is not looked for any further
STEP_S = 0.001  # between the two places that tell how fast the ball moves
MOST_OFF = 3.0  # standard deviations of the arc


def follow_pitch(
    frames: Iterable[Frame], background: Background, ball: Incoming, view: View, exposure_s: float | None
) -> BallTrack:
    """Measure a pitched ball in frames of its flight.

    Parameters
    ----------
    frames : iterable of Frame
        In order of time; gone through twice, for a long stretch of large pictures does not fit in memory.
    background : Background
    ball : Incoming
    view : View
    exposure_s : float or None
        How long the shutter was open, where that is known. [s]
    """
    start_s = float(ball.seen.time_s.min()) - EARLIER_S
    inside = [frame.time_s for frame in frames if start_s < frame.time_s < ball.end_s - NEAR_END_S]
    stamps = inside[:: max(1, -(-len(inside) // MOST_FRAMES))]
    if not stamps:
        return NO_TRACK
    aims = _aims(np.array(stamps), ball, view, exposure_s or FIRST_EXPOSURE_S)
    chosen = (frame for frame in frames if frame.time_s in stamps)
    images = [_image(frame, background, aim, view) for aim, frame in zip(aims, chosen, strict=False)]
    return _as_track([(aim.time_s, image) for aim, image in zip(aims, images, strict=True) if image])


@dataclass(frozen=True, slots=True, eq=False)
class _Aim:
    """Where and how the ball should appear in one frame."""

    time_s: float  # of its row
    doubt_px: float
    in_sight: bool
    expected: Expected


def _aims(stamps_s: Floats, ball: Incoming, view: View, exposure_s: float) -> list[_Aim]:
    """One for each frame of given timestamps."""
    arc, camera = ball.arc[None], view.camera
    height, open_s = camera.size_px[1], float(np.clip(exposure_s, *EXPOSURE_S))
    v = np.nan_to_num(sight(arc, stamps_s, view).centre_px[0, :, 1])
    times = stamps_s + camera.readout_s * np.clip(v, 0, height) / height
    around_s = np.concatenate([times - STEP_S, times, times + STEP_S])
    now, spread = sight_and_spread(arc, ball.covariance[None], around_s, view)
    behind, places, ahead = np.split(now.centre_px[0], 3)
    widths, heights = np.split(now.width_px[0], 3)[1], np.split(now.points_field_m[0, :, 2], 3)[1]
    streaks = (ahead - behind) / (2 * STEP_S) * open_s
    doubts = np.sqrt(np.trace(np.split(spread[0], 3)[1], axis1=1, axis2=2))
    searches = SLACK_PX + SLACK_WIDTHS * widths + np.minimum(2.0 * doubts, 1.5 * widths + 12.0)
    seen = np.isfinite(streaks).all(axis=1) & (widths >= SMALLEST_PX) & (heights > 0)
    return [
        _Aim(
            float(times[k]),
            float(doubts[k]),
            bool(seen[k]),
            Expected(places[k], float(widths[k]), streaks[k], float(searches[k])),
        )
        for k in range(len(times))
    ]


def _image(frame: Frame, background: Background, aim: _Aim, view: View) -> BallImage | None:
    """The ball in a frame; None where it is not to be seen."""
    image = find_ball(frame, background, aim.expected) if aim.in_sight else None
    if image is None or image.reason or _cut_off(image, view):
        return None
    slack = SLACK_PX + SLACK_WIDTHS * aim.expected.width_px + MOST_OFF * aim.doubt_px
    return image if np.linalg.norm(image.centre_px - aim.expected.centre_px) <= slack else None


def _cut_off(image: BallImage, view: View) -> bool:
    width, height = view.camera.size_px
    margin = WHOLE * (0.5 * image.diameter_px + 0.5 * image.streak_px)
    u, v = image.centre_px
    return bool(u < margin or v < margin or u > width - 1 - margin or v > height - 1 - margin)


def _as_track(rows: list[tuple[float, BallImage]]) -> BallTrack:
    images = [image for _, image in rows]
    diameter: Floats = np.array([image.diameter_px for image in images], dtype=float)
    sized = [image.diameter_px >= SMALLEST_SIZED_PX and image.match >= SIZED_MATCH for image in images]
    diameter_sd = [image.diameter_sd_px if large else np.nan for image, large in zip(images, sized, strict=True)]
    return BallTrack(
        time_s=np.array([time_s for time_s, _ in rows], dtype=float),
        centre_px=np.array([image.centre_px for image in images], dtype=float).reshape(-1, 2),
        centre_sd_px=np.array([np.sqrt(np.diag(image.centre_cov_px2)) for image in images]).reshape(-1, 2),
        diameter_px=diameter,
        diameter_sd_px=np.array(diameter_sd, dtype=float),
        used=np.ones(len(rows), dtype=np.bool_),
        source=(MOTION,) * len(rows),
        reason=("",) * len(rows),
    )
